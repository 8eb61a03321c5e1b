//! Binding a checked sequence to a checked job: concrete steps with every window worked out.
//!
//! The rule inside: whatever a step refers to and the job lacks is a finding at the step; a plan exists only when there is
//! no finding, and only when its order is sound (see [`crate::pure::proof`]).

use super::check::Sequence;
use super::measures::Parts;
use super::raw::RawStep;
use super::say::fill;
use crate::pure::job::{Core, End, Job, Purpose};
use crate::pure::located::{Finding, Located, Problem};
use crate::pure::plan::{Kind, Plan, Point, Probes, Stage, Step, Then, Timing};
use crate::pure::proof;
use crate::pure::reading::Function;

pub(super) struct Binder<'a> {
    pub(super) sequence: &'a Sequence,
    pub(super) job: &'a Job,
    pub(super) steps: Vec<Step>,
    pub(super) problems: Vec<Problem>,
    pub(super) first_continuity: Option<String>,
    pub(super) limitations: Vec<String>,
    /// The text that is being bound, by its place among the sequence's texts.
    pub(super) at: usize,
}

/// Binds; the error holds every finding, each in the file it is about.
pub fn bind(sequence: &Sequence, job: &Job) -> Result<Plan, Vec<Finding>> {
    // steps grow with the square of the cores: this is found before they do
    if proof::CORES_MAX < job.cores.len() {
        let (cores, most) = (job.cores.len(), proof::CORES_MAX);
        let what = format!("the cable has {cores} cores, at most {most} are proved at once");
        let problem = Problem::new(&(0..0), what).hint("write one job for each group of cores");
        return Err(job.text.findings(vec![problem]));
    }
    let mut binder = Binder {
        sequence,
        job,
        steps: Vec::new(),
        problems: Vec::new(),
        first_continuity: None,
        limitations: Vec::new(),
        at: 0,
    };
    if job.length.is_none() {
        binder.limitations.push(
            "The length of the cable is not known. Cores were compared with each other; no absolute resistance was judged.".into(),
        );
    }
    if let Some(what) = &job.stays_connected {
        binder.limitations.push(format!(
            "{what} stayed connected: insulation was tested at 250 V, live cores joined, to earth only. Insulation between cores is not shown."
        ));
    }
    for step in &sequence.steps {
        binder.step(step, None);
    }
    let plan = Plan {
        name: sequence.name.clone(),
        title: sequence.title.clone(),
        texts: sequence.texts.clone(),
        job: job.clone(),
        steps: binder.steps,
        limitations: binder.limitations,
        promises: sequence.promises.clone(),
        exceptions: sequence.exceptions.clone(),
    };
    if !binder.problems.is_empty() {
        return Err(sequence.texts[0].findings(binder.problems));
    }
    let breaches = proof::problems(&plan);
    if breaches.is_empty() { Ok(plan) } else { Err(breaches) }
}

impl<'a> Binder<'a> {
    pub(super) fn problem(&mut self, at: &Located<String>, what: impl Into<String>, hint: Option<String>) {
        let mut problem = Problem::new(&at.span, what);
        problem.hint = hint;
        self.problems.push(problem);
    }

    pub(super) fn line(&self, at: &Located<String>) -> usize {
        self.sequence.texts[self.at].place(at.span.start).0
    }

    pub(super) fn words(&self, say: &str, extra: &[(&str, &str)]) -> String {
        let job = self.job;
        let mut words = vec![
            ("near", job.near.name.as_str()),
            ("far", job.far.name.as_str()),
            ("supply", job.supply.from.as_str()),
            ("known source", job.supply.known_source.as_str()),
            ("cable", job.cable.as_str()),
        ];
        words.extend_from_slice(extra);
        fill(say, &words)
    }

    fn step(&mut self, step: &'a Located<RawStep>, core: Option<&'a Core>) {
        // the proof refuses a longer plan; this keeps it from filling the memory first
        if proof::STEPS_MAX < self.steps.len() {
            return;
        }
        match &step.value {
            RawStep::EachCore(steps) => {
                for core in self.job.live_cores() {
                    for step in steps {
                        self.step(step, Some(core));
                    }
                }
            }
            RawStep::Do {
                id,
                stage,
                act,
                say,
                caution,
            } => self.act(id, *stage, &act.value, say, caution.as_ref(), core),
            RawStep::ProveIndicator { id, say } => {
                let probes = Probes {
                    first: Point::KnownSource,
                    second: Point::KnownSource,
                };
                self.push(
                    id,
                    id.value.clone(),
                    Stage::Isolate,
                    say,
                    &[],
                    Kind::Indicator { probes, lit: true },
                );
            }
            RawStep::ProveDead { id, end, say } => self.prove_dead(id, *end, say),
            RawStep::LeadNull { id, window, say } => {
                let probes = Probes {
                    first: Point::Tip,
                    second: Point::Tip,
                };
                self.measure(Parts {
                    id: id.value.clone(),
                    at: id,
                    say,
                    stage: Stage::Test,
                    core: None,
                    cores: Vec::new(),
                    probes,
                    function: Function::Continuity,
                    window,
                    timing: Timing::Any,
                });
            }
            RawStep::Continuity {
                id,
                core: named,
                window,
                say,
            } => self.continuity(id, named.as_ref(), window, say, core),
            RawStep::OthersOpen { id, window, say } => {
                let linked = core.expect("checked: only inside `EachCore`");
                for other in self.job.live_cores().filter(|other| other.name != linked.name) {
                    let id_text = format!("{}/{}-linked/{}", id.value, linked.name, other.name);
                    self.open(
                        id,
                        id_text,
                        say,
                        window,
                        other,
                        vec![linked.name.clone(), other.name.clone()],
                    );
                }
            }
            RawStep::AllOpen { id, window, say } => {
                for core in self.job.live_cores() {
                    self.open(
                        id,
                        format!("{}/{}", id.value, core.name),
                        say,
                        window,
                        core,
                        vec![core.name.clone()],
                    );
                }
            }
            RawStep::Insulation {
                id,
                between,
                window,
                say,
            } => self.insulation(id, *between, window, say),
            RawStep::Connect { id, end, say } => self.connect(id, *end, say),
            RawStep::Gate { id, say } => self.push(id, id.value.clone(), Stage::Connect, say, &[], Kind::Gate),
            RawStep::Voltage {
                id,
                end,
                between,
                window,
                within,
                after,
                say,
            } => {
                let timing = self.timing(within.as_ref(), after.as_ref());
                self.voltage(id, *end, between, window, timing, say);
            }
        }
    }

    pub(super) fn push(
        &mut self,
        at: &Located<String>,
        id: String,
        stage: Stage,
        say: &str,
        extra: &[(&str, &str)],
        kind: Kind,
    ) {
        let step = Step {
            id,
            text: self.at,
            line: self.line(at),
            stage,
            say: self.words(say, extra),
            caution: None,
            acts: Vec::new(),
            kind,
            cores: Vec::new(),
            only_if: Vec::new(),
            after_failure: Then::usual(),
        };
        self.steps.push(step);
    }

    /// A core by its name or by what it carries.
    pub(super) fn core_called(&mut self, name: &Located<String>) -> Option<&'a Core> {
        let job = self.job;
        let found = job
            .core(name)
            .or_else(|| Purpose::parse(name).and_then(|purpose| job.core_for(purpose)));
        if found.is_none() {
            let known: Vec<_> = job
                .cores
                .iter()
                .map(|c| format!("`{}` ({})", c.name, c.carries.words()))
                .collect();
            let what = format!("the job has no core `{}`", name.value);
            self.problem(
                name,
                what,
                Some(format!("the cable in `{}` has {}", job.text.name, known.join(", "))),
            );
        }
        found
    }

    pub(super) fn terminal(&mut self, purpose: &Located<String>, end: End) -> Option<Point> {
        let at = self.job.end(end);
        let found = Purpose::parse(purpose)
            .and_then(|p| at.terminal_for(p))
            .map(|t| t.name.clone());
        if found.is_none() {
            let known: Vec<_> = at
                .terminals
                .iter()
                .map(|t| format!("`{}` ({})", t.name, t.takes.words()))
                .collect();
            let what = format!("the {} has no terminal for `{}`", at.name, purpose.value);
            self.problem(
                purpose,
                what,
                Some(format!("the job `{}` lists {}", self.job.text.name, known.join(", "))),
            );
        }
        // what no core of the cable goes to cannot be measured through it; the end switch is the wiring centre's own
        if let Some(terminal) = &found
            && Purpose::parse(purpose) != Some(Purpose::EndSwitch)
            && !self.job.cores.iter().any(|core| core.terminal(end) == terminal)
        {
            let what = format!("no core of the cable goes to terminal `{terminal}` at the {}", at.name);
            self.problem(
                purpose,
                what,
                Some(format!(
                    "give a core that carries `{}` in the job `{}`",
                    purpose.value, self.job.text.name
                )),
            );
        }
        found.map(|terminal| Point::Terminal { terminal, end })
    }
}

#[cfg(test)]
mod tests {
    use crate::pure::located::Text;
    use crate::pure::{job, sequence};

    #[test]
    fn the_shipped_sequence_binds_to_the_demonstration_job() {
        let text = |name: &str, text: &str| Text {
            name: name.into(),
            text: text.into(),
        };
        let sequence = text("stat-cable.ron", include_str!("../../../sequences/stat-cable.ron"));
        let job = text("saltmarsh.ron", include_str!("../../../fixtures/saltmarsh.ron"));
        let sequence = sequence::read(&[sequence]).unwrap();
        let job = job::read(&job).unwrap();
        let plan = sequence::bind(&sequence, &job).unwrap();
        let ids: Vec<_> = plan.steps.iter().map(|s| s.id.as_str()).collect();
        assert_eq!(ids.len(), 75, "{ids:#?}");
    }
}
