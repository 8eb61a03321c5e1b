//! A plan walked on the model by an engineer without a mistake and an instrument without an error.
//!
//! The rule inside: up to the first step that does not pass, it is the real engine that walks; beyond it, where the engine
//! rightly goes no further, every step is still done and judged by the same function, to learn what else would show the fault.

use jiff::{SignedDuration, Timestamp};

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
    let mut walker = Walker::new(plan, installation);
    let mut run = walker.gated(Engine::one_by_one(unwalked(plan)));
    walker.ungated(&mut run);
    let took = walker.now().duration_since(Timestamp::UNIX_EPOCH);
    Walked {
        lines: walker.lines,
        verdicts: walker.verdicts,
        took,
    }
}

/// The run that comes of a walk as far as the engine lets it: to the first step that does not pass, or to the end.
///
/// # Panics
/// As [`walk`].
pub fn run_of(plan: &Plan, installation: Installation) -> Run {
    let mut walker = Walker::new(plan, installation);
    walker.gated(Engine::one_by_one(unwalked(plan)))
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
    world: World<'a>,
    lines: Vec<String>,
    verdicts: Vec<Verdict>,
}

impl Walker<'_> {
    fn new(plan: &Plan, installation: Installation) -> Walker<'_> {
        Walker {
            world: World::new(plan, installation),
            lines: vec![String::new(); plan.steps.len()],
            verdicts: Vec::with_capacity(plan.steps.len()),
        }
    }

    fn now(&self) -> Timestamp {
        Timestamp::UNIX_EPOCH + SignedDuration::from_millis(self.world.milliseconds())
    }

    /// Walks with the engine until a step does not pass, or to the end.
    fn gated(&mut self, mut engine: Engine) -> Run {
        loop {
            engine.drain(|| self.now(), |_, _| {}, |_| {});
            let run = engine.run();
            let stopped = run.undecided();
            let next = run.cursor();
            if stopped.is_some() || next.is_none() {
                let reached = stopped.map_or(run.steps.len(), |step| step + 1);
                self.verdicts = (0..reached).map(|step| run.verdict(step)).collect();
                return run.clone();
            }
            let step = next.expect("looked at above");
            self.do_step(run, step);
            let line = self.lines[step].clone();
            engine.handle_answer(&line, self.now());
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
            self.do_step(run, step);
            let evidence = evidence(&run.plan.steps[step], &self.lines[step]);
            let verdict = run.judged(step, &evidence, self.now());
            self.verdicts.push(verdict.clone());
            run.steps[step]
                .attempts
                .push(Attempt::new(self.now(), evidence, verdict));
        }
    }

    /// Does what a step asks and keeps what is answered.
    fn do_step(&mut self, run: &Run, index: usize) {
        self.world.come_to(index);
        self.lines[index] = answer(&self.world.installation, &run.plan.steps[index]);
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
