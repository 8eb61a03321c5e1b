//! A plan walked on the model by an engineer without a mistake and an instrument without an error.
//!
//! The rule inside: up to the first step that does not pass, it is the real engine that walks; beyond it, where the engine
//! rightly goes no further, every step is still done and judged by the same function, to learn what else would show the fault. As far as
//! nothing else comes out than with sound wiring, the engine is where it was there, and is not walked again.

use jiff::{SignedDuration, Timestamp};

use super::trail::{Trail, Visit};
use crate::job::Purpose;
use crate::judge::window::{Outcome, Verdict};
use crate::located::Text;
use crate::model::installation::Installation;
use crate::model::look;
use crate::model::walked::World;
use crate::plan::{Act, Kind, Plan, Step};
use crate::run::dialogue::Dialogue;
use crate::run::engine::{Engine, answer};
use crate::run::event::{Answer, Opened};
use crate::run::fold::{Attempt, Evidence, Run, Status};
use crate::value::reading::Reading;

/// What came of a walk.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Walked {
    /// What was answered at each step; empty at a gate.
    pub lines: Vec<String>,
    /// What each step came to.
    pub verdicts: Vec<Verdict>,
    /// Simulated time from the first step to the last.
    pub took: SignedDuration,
}

impl Walked {
    /// The steps that did not pass, in order. The first is where a run would stop.
    pub fn caught(&self) -> impl Iterator<Item = usize> {
        let verdicts = self.verdicts.iter().enumerate();
        verdicts
            .filter(|(_, verdict)| verdict.outcome != Outcome::Pass)
            .map(|(step, _)| step)
    }
}

/// Walks a plan on an installation.
///
/// # Panics
/// When the plan and the installation are of different jobs.
pub fn walk(plan: &Plan, installation: Installation) -> Walked {
    let mut walker = Walker::new(plan, installation, None);
    let run = walker.gated(Engine::one_by_one(unwalked(plan)), |_, _, _| {});
    walker.walked(run)
}

/// The same, kept for other walks.
pub(super) fn walk_kept(plan: &Plan, installation: Installation) -> (Walked, Trail) {
    let mut walker = Walker::new(plan, installation, None);
    let mut trail = Trail::default();
    let engine = Engine::one_by_one(unwalked(plan));
    let run = walker.gated(engine, |visit, run, installation| trail.keep(visit, run, installation));
    (walker.walked(run), trail)
}

/// The same beside the walk of sound wiring, of which all is taken that does not come out otherwise.
pub(super) fn walk_beside(plan: &Plan, installation: Installation, (sound, trail): (&Walked, &Trail)) -> Walked {
    let mut walker = Walker::new(plan, installation, Some(trail));
    match walker.along(trail) {
        Some(engine) => {
            let run = walker.gated(engine, |_, _, _| {});
            walker.walked(run)
        }
        None => sound.clone(),
    }
}

/// The run that comes of a walk as far as the engine lets it: to the first step that does not pass, or to the end.
///
/// # Panics
/// As [`walk`].
pub fn run_of(plan: &Plan, installation: Installation) -> Run {
    let mut walker = Walker::new(plan, installation, None);
    walker.gated(Engine::one_by_one(unwalked(plan)), |_, _, _| {})
}

/// A run of a plan at which nothing was done yet.
pub fn unwalked(plan: &Plan) -> Run {
    let carried = |text: &Text| Text::new(&*text.name, &*text.text);
    let opened = Opened::new(
        (carried(&plan.texts[0]), plan.texts[1..].iter().map(carried).collect()),
        carried(&plan.job.text),
        &*plan.job.limits.edition,
    );
    Run::with_plan(opened, Timestamp::UNIX_EPOCH, plan.clone())
}

struct Walker<'a> {
    plan: &'a Plan,
    world: World<'a>,
    /// A walk of sound wiring.
    trail: Option<&'a Trail>,
    lines: Vec<String>,
    verdicts: Vec<Verdict>,
}

impl<'a> Walker<'a> {
    fn new(plan: &'a Plan, installation: Installation, trail: Option<&'a Trail>) -> Walker<'a> {
        Walker {
            plan,
            world: World::new(plan, installation),
            trail,
            lines: vec![String::new(); plan.steps.len()],
            verdicts: Vec::with_capacity(plan.steps.len()),
        }
    }

    fn now(&self) -> Timestamp {
        Timestamp::UNIX_EPOCH + SignedDuration::from_millis(self.world.milliseconds())
    }

    /// Follows the walk of sound wiring until something else comes out; the engine that was just answered so. `None` where nothing does.
    fn along(&mut self, trail: &Trail) -> Option<Engine> {
        for (nth, visit) in trail.visits.iter().enumerate() {
            self.do_step(visit.step);
            if self.lines[visit.step] == visit.line && self.now() == visit.at {
                continue;
            }
            // what was asked twice is asked twice again
            let before = &trail.visits[..nth];
            let other = before.iter().rposition(|before| before.step != visit.step);
            let first = other.map_or(0, |other| other + 1);
            let mut engine = Engine::one_by_one(trail.run_before(first));
            engine.drain(|| visit.at, |_, _| {}, |_| {});
            for before in &before[first..] {
                engine.handle_answer(before.line.as_str(), before.at);
                engine.drain(|| before.at, |_, _| {}, |_| {});
            }
            engine.handle_answer(self.lines[visit.step].as_str(), self.now());
            return Some(engine);
        }
        None
    }

    /// Walks with the engine until a step does not pass, or to the end; `visited` is told of each answer, with the run before it.
    fn gated(&mut self, mut engine: Engine, mut visited: impl FnMut(Visit, &Run, &Installation)) -> Run {
        loop {
            let mut events = Vec::new();
            engine.drain(|| self.now(), |event, at| events.push((at, event.clone())), |_| {});
            let run = engine.run();
            let stopped = run.undecided();
            let next = run.cursor();
            if stopped.is_some() || next.is_none() {
                let reached = stopped.map_or(run.steps.len(), |step| step + 1);
                self.verdicts = (0..reached).map(|step| run.verdict(step)).collect();
                return run.clone();
            }
            let step = next.expect("looked at above");
            self.do_step(step);
            let line = self.lines[step].clone();
            visited(
                Visit::new(step, self.now(), &line, events),
                run,
                &self.world.installation,
            );
            engine.handle_answer(line.as_str(), self.now());
        }
    }

    /// What came of it, with the steps beyond the last that was reached.
    fn walked(mut self, mut run: Run) -> Walked {
        self.ungated(&mut run);
        let took = self.now().duration_since(Timestamp::UNIX_EPOCH);
        Walked {
            lines: self.lines,
            verdicts: self.verdicts,
            took,
        }
    }

    /// Does and judges every step that is left, whatever stands before it.
    fn ungated(&mut self, run: &mut Run) {
        for step in self.verdicts.len()..run.steps.len() {
            run.steps[step - 1].status = Status::Passed;
            if !run.is_needed(step) {
                let verdict = run.judged(step, &Evidence::Answer(Answer::NotNeeded), self.now());
                self.verdicts.push(verdict);
                continue;
            }
            self.do_step(step);
            let evidence = evidence(&run.plan.steps[step], &self.lines[step]);
            let verdict = run.judged(step, &evidence, self.now());
            self.verdicts.push(verdict.clone());
            run.steps[step]
                .attempts
                .push(Attempt::new(self.now(), evidence, verdict));
        }
    }

    /// Does what a step asks and keeps what is answered.
    fn do_step(&mut self, index: usize) {
        self.world.come_to(index);
        let here = &self.world.installation;
        let known = self.trail.and_then(|trail| trail.line(index, here));
        self.lines[index] = known.map_or_else(|| answer(here, &self.plan.steps[index]), str::to_owned);
    }
}

/// What is typed at a step whose acts are done.
fn answer(installation: &Installation, step: &Step) -> String {
    match &step.kind {
        Kind::Gate => String::new(),
        Kind::Do if step.acts.contains(&Act::Energise) => "energise".into(),
        Kind::Do => "done".into(),
        Kind::Look(look) => look::typed(look, &installation.sees(look)),
        Kind::Note { .. } => "nothing to note".into(),
        Kind::Indicator { probes, lit } if installation.answers_lit(probes, *lit) => "lit".into(),
        Kind::Indicator { .. } => "dark".into(),
        Kind::Connect { core, end, .. } => {
            let into = installation.terminal_of(core, *end);
            let terminals = &installation.job().end(*end).terminals;
            let marked = terminals.iter().find(|terminal| terminal.name == into);
            marked.map_or("no", |terminal| terminal.takes.words()).into()
        }
        Kind::Measure(measure) => installation.typed(measure),
    }
}

fn evidence(step: &Step, line: &str) -> Evidence {
    Evidence::Answer(match &step.kind {
        Kind::Do | Kind::Gate => Answer::Done,
        Kind::Look(look) => answer::look(line, look).expect("what is seen is a word of the step or found"),
        Kind::Note { .. } => Answer::Note {
            text: line.to_owned(),
            photograph: None,
        },
        Kind::Indicator { .. } if line == "lit" => Answer::Lit,
        Kind::Indicator { .. } => Answer::Dark,
        Kind::Connect { .. } => Purpose::parse(line).map_or_else(|| Answer::NotDone(line.into()), Answer::For),
        Kind::Measure(measure) => {
            let reading = Reading::typed(line, measure.used.function);
            return Evidence::Reading(reading.expect("a display's line is understood"));
        }
    })
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::limits::{Basis, Confidence};
    use crate::located::Text;
    use crate::model::fault::Fault;
    use crate::model::library;
    use crate::model::opposite::{About, opposites};
    use crate::model::sample::{JOB, job, plan, plan_with};
    use crate::plan::{Look, Subject, Timing};
    use crate::value::quantity::Amount;

    #[test]
    fn a_sound_installation_passes_every_step() {
        let walked = walk(&plan(), Installation::of(&job()).unwrap());
        assert_eq!(walked.caught().count(), 0, "{walked:#?}");
        let at = |id: &str| walked.lines[plan().index(id).unwrap()].clone();
        // 18 m of 1.0/1.0 mm2 at 15 degC, 3 % below the tables, and the leads
        assert_eq!(at("continuity/brown"), "0.66 ohm");
        assert_eq!(at("insulation/brown"), ">299 Mohm");
        assert_eq!(at("feed"), "230.0 V");
        assert_eq!(at("connect-near/black"), "switched live");
    }

    #[test]
    fn the_steps_beyond_the_first_are_judged_as_well() {
        let mut installation = Installation::of(&job()).unwrap();
        installation
            .put(&library::find(&job(), "core-open:grey").unwrap()[0])
            .unwrap();
        let (walked, plan) = (walk(&plan(), installation), plan());
        let ids: Vec<_> = walked.caught().map(|step| plan.steps[step].id.as_str()).collect();
        assert_eq!(ids, ["continuity/grey", "feed"]);
        assert_eq!(walked.lines[plan.index("continuity/grey").unwrap()], "OL");
    }

    /// Of so many faults of a job one is taken.
    const ONE_OF: usize = 47;

    #[test]
    fn what_is_taken_from_the_walk_of_sound_wiring_is_what_a_walk_by_itself_comes_to() {
        for (nth, shipped) in crate::sequence::shipped::SEQUENCES.iter().enumerate() {
            let sequence = crate::sequence::read(&crate::sequence::shipped::texts(shipped.name).unwrap()).unwrap();
            let job = crate::job::read(&crate::sequence::shipped::job(shipped.job).unwrap()).unwrap();
            let plan = crate::sequence::bind(&sequence, &job).unwrap();
            let sound = Installation::of(&plan.job).unwrap();
            let (healthy, trail) = walk_kept(&plan, sound.clone());
            assert_eq!(healthy, walk(&plan, sound.clone()));
            for fault in library::faults(&plan.job).unwrap().iter().skip(nth).step_by(ONE_OF) {
                let mut with = sound.clone();
                with.put(fault).unwrap();
                let beside = walk_beside(&plan, with.clone(), (&healthy, &trail));
                assert_eq!(beside, walk(&plan, with), "{}: {}", shipped.name, fault.name);
            }
        }
    }

    /// The shipped sequence on the demonstration job of unknown length, its live cores of this size, walked with a fault; the steps that did
    /// not pass.
    fn without_length(size: &str, fault: Option<&Fault>) -> Vec<String> {
        let text = JOB.replacen("length: \"18 m\",", "", 1);
        let text = ["PermanentLive", "Neutral", "SwitchedLive"]
            .iter()
            .fold(text, |text, carries| {
                let of = |size: &str| format!("size: \"{size}\", carries: {carries}");
                text.replace(&of("1.0 mm2"), &of(size))
            });
        let job = crate::job::read(&Text::new("saltmarsh.ron", text)).unwrap();
        let plan = plan_with(&job, "format", "format");
        let mut installation = Installation::of(&job).unwrap();
        fault.into_iter().for_each(|fault| installation.put(fault).unwrap());
        let walked = walk(&plan, installation);
        walked.caught().map(|step| plan.steps[step].id.clone()).collect()
    }

    #[test]
    fn a_joint_in_the_return_core_of_a_cable_of_unknown_length_is_caught() {
        assert!(without_length("1.0 mm2", None).is_empty());
        let about = About {
            a: "brown".into(),
            b: "green-yellow".into(),
            ..About::default()
        };
        let joints: Vec<_> = opposites("solved", &about, &job()).map(|joint| joint.fault).collect();
        let caught = |joint| without_length("1.0 mm2", Some(joint));
        // and, once it is connected, on the way to the main earthing terminal
        assert_eq!(caught(&joints[0]), ["solve", "earthed-far"]);
        assert_eq!(caught(&joints[1])[..2], ["continuity/black", "continuity/grey"]);
        // compared by size: 1.5 mm2 beside an earth core of 1.0 mm2
        assert!(without_length("1.5 mm2", None).is_empty());
        assert_eq!(without_length("1.5 mm2", Some(&joints[0])), ["solve", "earthed-far"]);
    }

    /// A plan of the demonstration whose last step looks.
    fn looking(subject: Subject, words: &[&str], expected: &[&str], timing: Timing) -> Plan {
        let mut plan = plan();
        let list = |words: &[&str]| words.iter().map(|word| (*word).to_owned()).collect();
        let mut step = plan.steps[plan.index("end-switch-on").unwrap()].clone();
        step.id = "look".into();
        step.kind = Kind::Look(Box::new(Look {
            subject,
            words: list(words),
            expected: list(expected),
            timing,
        }));
        let after = plan.index("end-switch-on").unwrap() + 1;
        plan.steps.insert(after, step);
        plan
    }

    /// The same with the look behind another step.
    fn placed(mut plan: Plan, behind: &str) -> Plan {
        let look = plan.steps.remove(plan.index("look").unwrap());
        plan.steps.insert(plan.index(behind).unwrap() + 1, look);
        plan
    }

    fn looked(plan: &Plan, fault: Option<&str>) -> (String, Outcome) {
        let mut installation = Installation::of(&plan.job).unwrap();
        if let Some(fault) = fault {
            installation.put(&library::find(&plan.job, fault).unwrap()[0]).unwrap();
        }
        let walked = walk(plan, installation);
        let at = plan.index("look").unwrap();
        (walked.lines[at].clone(), walked.verdicts[at].outcome)
    }

    #[test]
    fn what_is_looked_at_is_answered_by_the_model() {
        let lever = || Subject::Lever("zone valve".into());
        let words = ["slack", "firm"];
        let plan = looking(lever(), &words, &["slack"], Timing::Any);
        assert_eq!(looked(&plan, None), ("slack".into(), Outcome::Pass));
        assert_eq!(looked(&plan, Some("valve-stuck")), ("firm".into(), Outcome::Fail));
        let plan = looking(Subject::Moved, &["zone valve"], &["zone valve"], Timing::Any);
        assert_eq!(looked(&plan, None), ("zone valve".into(), Outcome::Pass));
        assert_eq!(looked(&plan, Some("valve-stuck")), ("none".into(), Outcome::Fail));
        let core = "grey".to_owned();
        let cores = ["brown", "grey", "black"];
        let mut plan = placed(
            looking(Subject::Identity { core }, &cores, &["grey"], Timing::Any),
            "link/grey+black",
        );
        // one core alone, so that only it reads through
        let link = plan.index("link/grey+black").unwrap();
        plan.steps[link].acts = vec![Act::RemoveEveryLink, Act::LinkToEarth("grey".into())];
        assert_eq!(looked(&plan, None), ("grey".into(), Outcome::Pass));
        assert_eq!(
            looked(&plan, Some("cores-swapped:grey/black")),
            ("black".into(), Outcome::Fail)
        );
        assert_eq!(
            looked(&plan, Some("core-open:grey")),
            ("found nothing".into(), Outcome::Fail)
        );
    }

    #[test]
    fn what_is_looked_at_is_waited_for() {
        let basis = Basis {
            what: "a test".into(),
            source: "a test".into(),
            confidence: Confidence::Practice,
        };
        let within = |seconds: &str| Timing::Within {
            since: "call".into(),
            limit: Amount::parse(seconds).unwrap(),
            basis: basis.clone(),
        };
        let lever = |timing| {
            looking(
                Subject::Lever("zone valve".into()),
                &["slack", "firm"],
                &["slack"],
                timing,
            )
        };
        // before anything else waits for the valve
        let moved_before = |plan: Plan| placed(plan, "call");
        // the job: the valve opens in 15 s
        assert_eq!(
            looked(&moved_before(lever(within("30 s"))), None),
            ("slack".into(), Outcome::Pass)
        );
        assert_eq!(
            looked(&moved_before(lever(within("5 s"))), None),
            ("firm".into(), Outcome::Fail)
        );
        assert_eq!(
            looked(&moved_before(lever(Timing::Any)), None),
            ("firm".into(), Outcome::Fail)
        );
    }
}
