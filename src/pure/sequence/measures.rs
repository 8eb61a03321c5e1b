//! Measuring steps: probes, instrument, window and timing of each.

use super::bind::Binder;
use super::raw::{Between, RawTime, RawWindow};
use super::windows;
use crate::pure::job::instrument::{Use, choose, choose_low_input, fits_building_wiring};
use crate::pure::job::{Core, End};
use crate::pure::limits::{Basis, Table};
use crate::pure::located::{Located, Problem};
use crate::pure::plan::{Kind, Measure, Point, Probes, Stage, Timing, WindowRule};
use crate::pure::quantity::{Amount, Unit};
use crate::pure::reading::Function;
use crate::pure::window::Decision;

type InputMax = Option<(Amount, Basis)>;

/// What a measuring step is made from.
pub(super) struct Parts<'a> {
    pub(super) id: String,
    pub(super) at: &'a Located<String>,
    pub(super) say: &'a str,
    pub(super) stage: Stage,
    pub(super) core: Option<&'a Core>,
    pub(super) cores: Vec<String>,
    pub(super) probes: Probes,
    pub(super) function: Function,
    pub(super) window: &'a Located<RawWindow>,
    pub(super) timing: Timing,
}

impl<'a> Binder<'a> {
    pub(super) fn continuity(
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
            cores: vec![core.name.clone(), self.job.return_core().name.clone()],
            probes: self.core_to_earth(core),
            function: Function::Continuity,
            window,
            timing: Timing::Any,
        });
        self.first_continuity.get_or_insert(id_text);
    }

    pub(super) fn core_to_earth(&self, core: &Core) -> Probes {
        let point = |core: &Core| Point::Core {
            core: core.name.clone(),
            end: End::Near,
        };
        Probes {
            first: point(self.job.return_core()),
            second: point(core),
        }
    }

    pub(super) fn open(
        &mut self,
        at: &'a Located<String>,
        id: String,
        say: &'a str,
        window: &'a Located<RawWindow>,
        core: &'a Core,
        mut cores: Vec<String>,
    ) {
        cores.push(self.job.return_core().name.clone());
        let probes = self.core_to_earth(core);
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
        });
    }

    pub(super) fn insulation(
        &mut self,
        id: &'a Located<String>,
        between: Between,
        window: &'a Located<RawWindow>,
        say: &'a str,
    ) {
        let job = self.job;
        let volts = match windows::insulation_volts(job) {
            Ok((volts, _)) => volts,
            Err(what) => return self.problem(id, what, None),
        };
        let near = |core: &Core| Point::Core {
            core: core.name.clone(),
            end: End::Near,
        };
        let live: Vec<_> = job.test_cores().collect();
        let pairs: Vec<(String, Probes, Vec<String>)> = match between {
            Between::JoinedAndEarth => vec![(
                id.value.clone(),
                Probes {
                    first: near(job.return_core()),
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
            });
        }
    }

    pub(super) fn timing(
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

    pub(super) fn voltage(
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
        });
    }

    pub(super) fn measure(&mut self, parts: Parts<'a>) {
        let unit = parts.function.unit();
        let window = windows::window(
            &parts.window.value,
            unit,
            self.job,
            parts.core,
            self.first_continuity.as_deref(),
        );
        let (mut used, input_max) = match self.instrument(&parts) {
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
        let window = match window {
            // under the guarded rule the uncertainty decides too, so its source stands with the window's
            WindowRule::Fixed(mut fixed) if self.job.decision == Decision::Guarded => {
                fixed.basis.push(used.known.basis.clone());
                WindowRule::Fixed(fixed)
            }
            other => other,
        };
        let nominal = &self.job.supply.nominal;
        let marked = self.job.instruments.iter().find(|i| i.name == used.instrument);
        if let Some(instrument) = marked
            && parts.stage == Stage::Live
            && !self.job.is_extra_low_voltage()
            && !fits_building_wiring(&instrument.category, nominal.value())
        {
            let what = format!(
                "`{}` is marked `{}`, which does not fit a live test at {nominal}",
                instrument.name, instrument.category
            );
            let hint =
                "a building's wiring needs CAT III or CAT IV at its voltage or more (GS38), written `CAT III 300 V`";
            self.problem(parts.at, what, Some(hint.into()));
        }
        let is_null = parts.probes.first == Point::Tip;
        if is_null {
            // measuring one's own leads is no test of the wiring
            used.indicative = None;
        }
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
    }

    pub(super) fn instrument(&self, parts: &Parts<'_>) -> Result<(Use, InputMax), String> {
        let instruments = &self.job.instruments;
        if matches!(parts.window.value, RawWindow::VoltageAbsent) {
            let row = self.job.limits.row(Table::Practice, "input for voltage absent")?;
            let used =
                choose_low_input(instruments, &self.job.limits).ok_or("no instrument in the job measures voltage")?;
            return Ok((used, Some((row.value.clone(), row.basis()))));
        }
        choose(instruments, parts.function, &self.job.limits)
            .map(|used| (used, None))
            .ok_or_else(|| format!("no instrument in the job measures {}", parts.function.dial()))
    }
}
