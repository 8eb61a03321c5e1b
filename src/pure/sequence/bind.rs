//! Binding a checked sequence to a checked job: concrete steps with every window worked out.
//!
//! The rule inside: whatever a step refers to and the job lacks is a finding at the step; a plan exists only when there is
//! no finding, and only when its order is sound (see `order`).

use super::check::Sequence;
use super::order;
use super::raw::{Between, RawAct, RawStep, RawTime, RawWindow};
use super::say::fill;
use super::windows;
use crate::pure::job::instrument::{Use, choose, choose_low_input};
use crate::pure::job::{Core, End, Job, Purpose};
use crate::pure::limits::{Basis, Table};
use crate::pure::located::{Finding, Located, Problem};
use crate::pure::plan::{Act, Kind, Measure, Plan, Point, Probes, Stage, Step, Timing, WindowRule};
use crate::pure::quantity::{Amount, Unit};
use crate::pure::reading::Function;

struct Binder<'a> {
    sequence: &'a Sequence,
    job: &'a Job,
    steps: Vec<Step>,
    problems: Vec<Problem>,
    group: u32,
    first_continuity: Option<String>,
    limitations: Vec<String>,
}

type InputMax = Option<(Amount, Basis)>;

/// What a measuring step is made from.
struct Parts<'a> {
    id: String,
    at: &'a Located<String>,
    say: &'a str,
    stage: Stage,
    core: Option<&'a Core>,
    cores: Vec<String>,
    probes: Probes,
    function: Function,
    window: &'a Located<RawWindow>,
    timing: Timing,
    group: u32,
}

/// Binds; the error holds every finding, each in the file it is about.
pub fn bind(sequence: &Sequence, job: &Job) -> Result<Plan, Vec<Finding>> {
    let mut binder = Binder {
        sequence,
        job,
        steps: Vec::new(),
        problems: Vec::new(),
        group: 0,
        first_continuity: None,
        limitations: Vec::new(),
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
        sequence: sequence.text.clone(),
        job: job.clone(),
        steps: binder.steps,
        limitations: binder.limitations,
    };
    if binder.problems.is_empty() {
        binder.problems = order::problems(&plan);
    }
    if binder.problems.is_empty() {
        Ok(plan)
    } else {
        Err(sequence.text.findings(binder.problems))
    }
}

impl<'a> Binder<'a> {
    fn problem(&mut self, at: &Located<String>, what: impl Into<String>, hint: Option<String>) {
        let mut problem = Problem::new(&at.span, what);
        problem.hint = hint;
        self.problems.push(problem);
    }

    fn line(&self, at: &Located<String>) -> usize {
        self.sequence.text.place(at.span.start).0
    }

    fn words(&self, say: &str, extra: &[(&str, &str)]) -> String {
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
        if core.is_none() {
            self.group += 1;
        }
        match &step.value {
            RawStep::EachCore(steps) => {
                for core in self.job.live_cores() {
                    self.group += 1;
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
            } => self.act(id, *stage, act.value, say, caution.as_ref(), core),
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
                    group: self.group,
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

    fn push(&mut self, at: &Located<String>, id: String, stage: Stage, say: &str, extra: &[(&str, &str)], kind: Kind) {
        let step = Step {
            id,
            line: self.line(at),
            stage,
            say: self.words(say, extra),
            caution: None,
            acts: Vec::new(),
            kind,
            cores: Vec::new(),
            group: self.group,
        };
        self.steps.push(step);
    }

    fn act(
        &mut self,
        id: &Located<String>,
        stage: Stage,
        act: RawAct,
        say: &str,
        caution: Option<&Located<String>>,
        core: Option<&Core>,
    ) {
        let name = || core.expect("checked: only inside `EachCore`").name.clone();
        let acts = vec![match act {
            RawAct::SwitchOff => Act::SwitchOff,
            RawAct::LockOff => Act::LockOff,
            RawAct::KeepKey => Act::KeepKey,
            RawAct::PostNotice => Act::PostNotice,
            RawAct::DisconnectNear => Act::Disconnect(End::Near),
            RawAct::DisconnectFar => Act::Disconnect(End::Far),
            RawAct::TakeOutElectronics => Act::TakeOutElectronics,
            RawAct::GuardFarEnd => Act::GuardFarEnd,
            RawAct::LinkToEarth => Act::LinkToEarth(name()),
            RawAct::RemoveLink => Act::RemoveLink(name()),
            RawAct::RemoveEveryLink => Act::RemoveEveryLink,
            RawAct::JoinLiveCores => Act::JoinLiveCores,
            RawAct::PartLiveCores => Act::PartLiveCores,
            RawAct::Discharge => Act::Discharge,
            RawAct::Energise => Act::Energise,
            RawAct::Call => Act::Call,
            RawAct::Satisfy => Act::Satisfy,
        }];
        let id_text = core.map_or_else(|| id.value.clone(), |core| format!("{}/{}", id.value, core.name));
        let core_word = core.map_or("", |core| core.name.as_str());
        self.push(id, id_text, stage, say, &[("core", core_word)], Kind::Do);
        let caution = caution.map(|c| self.words(c, &[("core", core_word)]));
        let step = self.steps.last_mut().expect("just pushed");
        step.acts = acts;
        step.caution = caution;
        step.cores = match (stage, core) {
            (_, Some(core)) => vec![core.name.clone()],
            // taking cores off and joining them is about every core
            (Stage::Disconnect | Stage::Test, None) => self.job.cores.iter().map(|c| c.name.clone()).collect(),
            _ => Vec::new(),
        };
    }

    /// Earth to line, neutral to line, earth to neutral, then every core to earth and to neutral; earth goes on first.
    fn prove_dead(&mut self, id: &Located<String>, end: End, say: &str) {
        let job = self.job;
        let at = job.end(end);
        let terminal = |purpose: Purpose| at.terminal_for(purpose).map(|t| (purpose, t.name.clone()));
        let Some(earth) = terminal(Purpose::Earth) else {
            let what = format!("the {} has no earth terminal to prove dead against", at.name);
            return self.problem(id, what, Some(format!("add one to the job `{}`", job.text.name)));
        };
        let line = terminal(Purpose::PermanentLive).or_else(|| terminal(Purpose::SwitchedLive));
        let neutral = terminal(Purpose::Neutral);
        let point = |(_, name): &(Purpose, String)| Point::Terminal {
            terminal: name.clone(),
            end,
        };
        let mut pairs: Vec<(String, Point, Point)> = Vec::new();
        if let Some(line) = &line {
            pairs.push(("earth-line".into(), point(&earth), point(line)));
            if let Some(neutral) = &neutral {
                pairs.push(("neutral-line".into(), point(neutral), point(line)));
            }
        }
        if let Some(neutral) = &neutral {
            pairs.push(("earth-neutral".into(), point(&earth), point(neutral)));
        }
        for core in &job.cores {
            let core_point = Point::Core {
                core: core.name.clone(),
                end,
            };
            for (word, reference) in [("earth", Some(&earth)), ("neutral", neutral.as_ref())] {
                if let Some(reference) = reference
                    && core.terminal(end) != reference.1
                {
                    pairs.push((format!("{}-{word}", core.name), point(reference), core_point.clone()));
                }
            }
        }
        for (name, first, second) in pairs {
            let words = [first.words(job), second.words(job)];
            let extra = [
                ("first", words[0].as_str()),
                ("second", words[1].as_str()),
                ("end", at.name.as_str()),
            ];
            let kind = Kind::Indicator {
                probes: Probes { first, second },
                lit: false,
            };
            self.push(id, format!("{}/{name}", id.value), Stage::Isolate, say, &extra, kind);
        }
    }

    fn continuity(
        &mut self,
        id: &'a Located<String>,
        named: Option<&Located<String>>,
        window: &'a Located<RawWindow>,
        say: &'a str,
        core: Option<&'a Core>,
    ) {
        let core = match (core, named) {
            (Some(core), _) => core,
            (None, Some(name)) => {
                let Some(core) = self.core_called(name) else { return };
                core
            }
            (None, None) => unreachable!("checked: a continuity step has a core"),
        };
        let id_text = format!("{}/{}", id.value, core.name);
        self.measure(Parts {
            id: id_text.clone(),
            at: id,
            say,
            stage: Stage::Test,
            core: Some(core),
            cores: vec![core.name.clone(), self.job.earth_core().name.clone()],
            probes: self.core_to_earth(core),
            function: Function::Continuity,
            window,
            timing: Timing::Any,
            group: self.group,
        });
        self.first_continuity.get_or_insert(id_text);
    }

    /// A core by its name or by what it carries.
    fn core_called(&mut self, name: &Located<String>) -> Option<&'a Core> {
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

    fn core_to_earth(&self, core: &Core) -> Probes {
        let point = |core: &Core| Point::Core {
            core: core.name.clone(),
            end: End::Near,
        };
        Probes {
            first: point(self.job.earth_core()),
            second: point(core),
        }
    }

    fn open(
        &mut self,
        at: &'a Located<String>,
        id: String,
        say: &'a str,
        window: &'a Located<RawWindow>,
        core: &'a Core,
        mut cores: Vec<String>,
    ) {
        cores.push(self.job.earth_core().name.clone());
        let (probes, group) = (self.core_to_earth(core), self.group);
        let function = Function::Continuity;
        let timing = Timing::Any;
        self.measure(Parts {
            id,
            at,
            say,
            stage: Stage::Test,
            core: Some(core),
            cores,
            probes,
            function,
            window,
            timing,
            group,
        });
    }

    fn insulation(&mut self, id: &'a Located<String>, between: Between, window: &'a Located<RawWindow>, say: &'a str) {
        let job = self.job;
        let volts = match windows::insulation_volts(job) {
            Ok((volts, _)) => volts,
            Err(what) => return self.problem(id, what, None),
        };
        let near = |core: &Core| Point::Core {
            core: core.name.clone(),
            end: End::Near,
        };
        let live: Vec<_> = job.live_cores().collect();
        let pairs: Vec<(String, Probes, Vec<String>)> = match between {
            Between::JoinedAndEarth => vec![(
                id.value.clone(),
                Probes {
                    first: near(job.earth_core()),
                    second: Point::JoinedCores,
                },
                job.cores.iter().map(|c| c.name.clone()).collect(),
            )],
            // between cores would put the test voltage across what must stay connected
            Between::EachPair if job.stays_connected.is_some() => Vec::new(),
            Between::EachPair => live
                .iter()
                .enumerate()
                .flat_map(|(i, a)| live[i + 1..].iter().map(move |b| (*a, *b)))
                .map(|(a, b)| {
                    let probes = Probes {
                        first: near(a),
                        second: near(b),
                    };
                    (
                        format!("{}/{}-{}", id.value, a.name, b.name),
                        probes,
                        vec![a.name.clone(), b.name.clone()],
                    )
                })
                .collect(),
        };
        for (id_text, probes, cores) in pairs {
            self.measure(Parts {
                id: id_text,
                at: id,
                say,
                stage: Stage::Test,
                core: None,
                cores,
                probes,
                function: Function::Insulation(volts),
                window,
                timing: Timing::Any,
                group: self.group,
            });
        }
    }

    fn connect(&mut self, id: &Located<String>, end: End, say: &str) {
        let job = self.job;
        for core in &job.cores {
            let terminal = core.terminal(end).to_owned();
            let extra = [
                ("core", core.name.as_str()),
                ("terminal", terminal.as_str()),
                ("end", job.end(end).name.as_str()),
            ];
            let kind = Kind::Connect {
                core: core.name.clone(),
                end,
                terminal: terminal.clone(),
                carries: core.carries,
            };
            self.push(
                id,
                format!("{}/{}", id.value, core.name),
                Stage::Connect,
                say,
                &extra,
                kind,
            );
            let step = self.steps.last_mut().expect("just pushed");
            step.acts = vec![Act::Connect {
                core: core.name.clone(),
                end,
            }];
            step.cores = vec![core.name.clone()];
        }
    }

    fn timing(
        &mut self,
        within: Option<&Located<(Located<String>, RawTime)>>,
        after: Option<&Located<(Located<String>, RawTime)>>,
    ) -> Timing {
        let Some(raw) = within.or(after) else {
            return Timing::Any;
        };
        match windows::time(&raw.1, self.job) {
            Ok((limit, basis)) if within.is_some() => Timing::Within {
                since: raw.0.value.clone(),
                limit,
                basis,
            },
            Ok((wait, basis)) => Timing::After {
                since: raw.0.value.clone(),
                wait,
                basis,
            },
            Err(what) => {
                self.problem(&raw.0, what, None);
                Timing::Any
            }
        }
    }

    fn voltage(
        &mut self,
        id: &'a Located<String>,
        end: End,
        between: &(Located<String>, Located<String>),
        window: &'a Located<RawWindow>,
        timing: Timing,
        say: &'a str,
    ) {
        let (Some(live), Some(reference)) = (self.terminal(&between.0, end), self.terminal(&between.1, end)) else {
            return;
        };
        self.measure(Parts {
            id: id.value.clone(),
            at: id,
            say,
            stage: Stage::Live,
            core: None,
            cores: Vec::new(),
            probes: Probes {
                first: reference,
                second: live,
            },
            function: Function::VoltageAc,
            window,
            timing,
            group: self.group,
        });
    }

    fn terminal(&mut self, purpose: &Located<String>, end: End) -> Option<Point> {
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
        found.map(|terminal| Point::Terminal { terminal, end })
    }

    fn measure(&mut self, parts: Parts<'a>) {
        let unit = parts.function.unit();
        let window = windows::window(
            &parts.window.value,
            unit,
            self.job,
            parts.core,
            self.first_continuity.as_deref(),
        );
        let (used, input_max) = match self.instrument(&parts) {
            Ok(found) => found,
            Err(what) => return self.problem(parts.at, what, Some("list one in the job's instruments".into())),
        };
        let window = match window {
            Ok(window) => window,
            Err(what) => {
                self.problems.push(Problem::new(&parts.window.span, what));
                return;
            }
        };
        let is_null = parts.probes.first == Point::Tip;
        let subtract_null = unit == Unit::Ohm && !is_null && matches!(parts.window.value, RawWindow::Cable);
        if let Some(why) = &used.indicative
            && !self.limitations.contains(why)
        {
            self.limitations.push(why.clone());
        }
        let job = self.job;
        let words = [parts.probes.first.words(job), parts.probes.second.words(job)];
        let volts = match parts.function {
            Function::Insulation(volts) => format!("{volts} V"),
            _ => String::new(),
        };
        let extra = [
            ("core", parts.core.map_or("", |c| c.name.as_str())),
            ("first", words[0].as_str()),
            ("second", words[1].as_str()),
            ("volts", volts.as_str()),
        ];
        let window: WindowRule = window;
        let measure = Measure {
            probes: parts.probes,
            used,
            window,
            is_null,
            subtract_null,
            timing: parts.timing,
            input_max,
        };
        self.push(
            parts.at,
            parts.id,
            parts.stage,
            parts.say,
            &extra,
            Kind::Measure(Box::new(measure)),
        );
        let step = self.steps.last_mut().expect("just pushed");
        step.cores = parts.cores;
        step.group = parts.group;
    }

    fn instrument(&self, parts: &Parts<'_>) -> Result<(Use, InputMax), String> {
        let instruments = &self.job.instruments;
        if matches!(parts.window.value, RawWindow::VoltageAbsent) {
            let row = self.job.limits.row(Table::Practice, "input for voltage absent")?;
            let used = choose_low_input(instruments).ok_or("no instrument in the job measures voltage")?;
            return Ok((used, Some((row.value.clone(), row.basis()))));
        }
        choose(instruments, parts.function)
            .map(|used| (used, None))
            .ok_or_else(|| format!("no instrument in the job measures {}", parts.function.dial()))
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
        let sequence = sequence::read(&sequence).unwrap();
        let job = job::read(&job).unwrap();
        let plan = sequence::bind(&sequence, &job).unwrap();
        let ids: Vec<_> = plan.steps.iter().map(|s| s.id.as_str()).collect();
        assert_eq!(ids.len(), 72, "{ids:#?}");
    }
}
