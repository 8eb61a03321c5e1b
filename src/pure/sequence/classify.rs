//! Classifying a control pair as it was found: mains, extra-low voltage, or a contact that switches what the other end supplies.
//!
//! The rule inside: plates alone prove nothing and readings alone prove nothing. Both plates are read, then what stands across
//! the pair with its contact open and closed, and what stands between the pair and earth. All of it passes or the pair is
//! unproved, and nothing is connected to an unproved pair.

use super::bind::Binder;
use super::measures::{Judging, Parts};
use super::raw::Classify;
use crate::pure::job::{At, ControlPair, End, Nature};
use crate::pure::limits::{Basis, Confidence, Table};
use crate::pure::located::Located;
use crate::pure::plan::{Act, Kind, Look, Point, Probes, Stage, Subject, Timing};
use crate::pure::quantity::{Amount, Unit};
use crate::pure::reading::Function;
use crate::pure::window::Window;
use rust_decimal::Decimal;

impl<'a> Binder<'a> {
    pub(super) fn classify(&mut self, step: &'a Classify) {
        let job = self.job;
        let Some(pair) = &job.control_pair else {
            let hint = format!("add `control_pair: (...)` to `{}`", job.text.name);
            return self.problem(&step.id, "the job has no control pair to classify", Some(hint));
        };
        for (end, nature) in [(End::Near, pair.near), (End::Far, pair.far)] {
            self.plate(step, end, nature);
        }
        let Some(probes) = probes(pair) else {
            return self.problem(
                &step.id,
                "the control pair is inside the equipment, where no probe reaches",
                None,
            );
        };
        let function = if pair.direct {
            Function::VoltageDc
        } else {
            Function::VoltageAc
        };
        let windows = open_window(self, pair).and_then(|open| Ok((open, absent(self)?, below_mains(self)?)));
        let (open, closed, to_earth) = match windows {
            Ok(windows) => windows,
            Err(what) => return self.problem(&step.id, what, None),
        };
        let id = &step.id.value;
        self.set(step, &format!("{id}/not-calling"), Act::Satisfy(pair.control.clone()));
        self.reads(step, format!("{id}/open"), &step.open, probes.clone(), function, open);
        if pair.near != Nature::Mains && pair.far != Nature::Mains {
            // mains may stand on both poles at once, where a reading across the pair shows nothing
            for (word, point) in [("first", &probes.first), ("second", &probes.second)] {
                let probes = Probes {
                    first: Point::KnownEarth,
                    second: point.clone(),
                };
                let id = format!("{id}/{word}-to-earth");
                self.reads(step, id, &step.open, probes, Function::VoltageAc, to_earth.clone());
            }
        }
        self.set(step, &format!("{id}/calling"), Act::Call(pair.control.clone()));
        self.reads(step, format!("{id}/closed"), &step.closed, probes, function, closed);
        self.set(
            step,
            &format!("{id}/left-not-calling"),
            Act::Satisfy(pair.control.clone()),
        );
    }

    fn plate(&mut self, step: &'a Classify, end: End, nature: Nature) {
        let (word, name) = match end {
            End::Near => ("near", self.job.near.name.as_str()),
            End::Far => ("far", self.job.far.name.as_str()),
        };
        let look = Look {
            subject: Subject::Plate(end),
            words: Nature::ALL.iter().map(|nature| nature.words().to_owned()).collect(),
            expected: vec![nature.words().into()],
            timing: Timing::Any,
        };
        let id = format!("{}/{word}-plate", step.id.value);
        self.push(
            &step.id,
            id,
            Stage::Survey,
            &step.say,
            &[("end", name)],
            Kind::Look(Box::new(look)),
        );
    }

    fn set(&mut self, step: &'a Classify, id: &str, act: Act) {
        let say = match &act {
            Act::Call(control) => format!("Set {control} so that it calls."),
            Act::Satisfy(control) => format!("Set {control} so that it does not call."),
            _ => unreachable!("only controls are set here"),
        };
        self.push(&step.id, id.to_owned(), Stage::Survey, &say, &[], Kind::Do);
        self.steps.last_mut().expect("just pushed").acts = vec![act];
    }

    fn reads(
        &mut self,
        step: &'a Classify,
        id: String,
        say: &'a Located<String>,
        probes: Probes,
        function: Function,
        window: Window,
    ) {
        self.measure(Parts {
            id,
            at: &step.id,
            say,
            stage: Stage::Survey,
            core: None,
            cores: Vec::new(),
            probes,
            function,
            window: Judging::Follows(window),
            timing: Timing::Any,
            low_impedance: true,
        });
    }
}

fn probes(pair: &ControlPair) -> Option<Probes> {
    let point = |at: &At| {
        let (terminal, end) = match at {
            At::Near(terminal) => (terminal, End::Near),
            At::Far(terminal) => (terminal, End::Far),
            At::Inside(_) | At::Line | At::Neutral | At::Earth => return None,
        };
        Some(Point::Terminal {
            terminal: terminal.clone(),
            end,
        })
    };
    Some(Probes {
        first: point(&pair.between.0)?,
        second: point(&pair.between.1)?,
    })
}

/// What stands across the pair while its contact is open: what its plate says, so far above and below that nothing else passes.
fn open_window(binder: &Binder<'_>, pair: &ControlPair) -> Result<Window, String> {
    let volts = pair.volts.value();
    if volts.is_zero() {
        return absent(binder);
    }
    let share = |of| binder.job.limits.row(Table::Practice, of);
    let (low, high) = (
        share("control pair reads at least")?,
        share("control pair reads at most")?,
    );
    let edge = |share: &Amount| {
        Some(Amount::new(
            (volts * share.value() / Decimal::ONE_HUNDRED).normalize(),
            Unit::Volt,
        ))
    };
    let plate = Basis {
        what: format!("{} on the plate of the equipment that supplies the pair", pair.volts),
        source: format!("the job `{}`", binder.job.text.name),
        confidence: Confidence::Printed,
    };
    Ok(Window::new(
        edge(&low.value),
        edge(&high.value),
        Unit::Volt,
        vec![plate, low.basis(), high.basis()],
    ))
}

fn absent(binder: &Binder<'_>) -> Result<Window, String> {
    let row = binder.job.limits.row(Table::Practice, "voltage absent")?;
    Ok(Window::new(
        None,
        Some(row.value.clone()),
        Unit::Volt,
        vec![row.basis()],
    ))
}

/// No more than extra-low voltage to earth.
fn below_mains(binder: &Binder<'_>) -> Result<Window, String> {
    let row = binder.job.limits.row(Table::ExtraLowVoltage, "a.c. upper")?;
    Ok(Window::new(
        None,
        Some(row.value.clone()),
        Unit::Volt,
        vec![row.basis()],
    ))
}
