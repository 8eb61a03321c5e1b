//! Classifying a control pair as it was found: mains, extra-low voltage, or a contact that switches what the other end supplies.
//!
//! The rule inside: plates alone prove nothing and readings alone prove nothing. Both plates are read, then what stands across
//! the pair with its contact open and closed, and what stands between the pair and earth. All of it passes or the pair is
//! unproved, and nothing is connected to an unproved pair.

use rust_decimal::Decimal;

use super::binder::Binder;
use super::measures::{Judging, Parts};
use super::raw::{Classify, RawTime};
use super::windows;
use crate::job::{At, ControlPair, End, MovedBy, Nature};
use crate::judge::window::Window;
use crate::limits::{Basis, Confidence, Table};
use crate::located::Located;
use crate::plan::{Act, Kind, Look, Point, Probes, Stage, Subject, Timing, WindowRule};
use crate::value::quantity::{Amount, Unit};
use crate::value::reading::Function;

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
        let id = &self.named(&step.id.value);
        self.set(step, &format!("{id}/not-calling"), Act::Satisfy(pair.control.clone()));
        let (opens, closes) = match self.travels(id, pair) {
            Ok(times) => times,
            Err(what) => return self.problem(&step.id, what, None),
        };
        self.reads(
            step,
            "open",
            &step.open,
            probes.clone(),
            (function, open, closes.clone()),
        );
        if pair.near != Nature::Mains && pair.far != Nature::Mains {
            // mains may stand on both poles at once, where a reading across the pair shows nothing
            for (word, point) in [("first", &probes.first), ("second", &probes.second)] {
                let probes = Probes {
                    first: Point::KnownEarth,
                    second: point.clone(),
                };
                let name = format!("{word}-to-earth");
                self.reads(
                    step,
                    &name,
                    &step.open,
                    probes,
                    (Function::VoltageAc, to_earth.clone(), closes.clone()),
                );
            }
        }
        self.set(step, &format!("{id}/calling"), Act::Call(pair.control.clone()));
        self.reads(step, "closed", &step.closed, probes, (function, closed, opens));
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
        let id = format!("{}/{word}-plate", self.named(&step.id.value));
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

    /// How long after its control the contact of the pair has moved: at once, or with the motor that moves it.
    fn travels(&self, id: &str, pair: &ControlPair) -> Result<(Timing, Timing), String> {
        let ends = |at: &At| match at {
            At::Near(name) => self
                .across(Some([at, at]), End::Far)
                .map(|far| [At::Near(name.clone()), At::Far(far)]),
            At::Far(name) => self
                .across(Some([at, at]), End::Near)
                .map(|near| [At::Near(near), At::Far(name.clone())]),
            _ => None,
        };
        let (first, second) = (ends(&pair.between.0), ends(&pair.between.1));
        let is_of = |at: &At, of: &Option<[At; 2]>| of.as_ref().is_some_and(|of| of.contains(at));
        let by_motor = self.job.contacts().any(|(_, contact)| {
            let (a, b) = &contact.between;
            let lies_across = (is_of(a, &first) && is_of(b, &second)) || (is_of(a, &second) && is_of(b, &first));
            lies_across && matches!(contact.moved_by, MovedBy::Motor(_))
        });
        if !by_motor {
            return Ok((Timing::Any, Timing::Any));
        }
        let time = |raw: &RawTime| windows::time(raw, self.job, &|name| self.figure(name));
        let (opens, closes) = (time(&RawTime::ValveOpens)?, time(&RawTime::ValveCloses)?);
        let after = |name: &str, (wait, basis)| Timing::After {
            since: format!("{id}/{name}"),
            wait,
            basis,
        };
        Ok((after("calling", opens), after("not-calling", closes)))
    }

    /// A reading of the pair: function, window and when it counts.
    fn reads(
        &mut self,
        step: &'a Classify,
        name: &str,
        say: &'a Located<String>,
        probes: Probes,
        (function, window, timing): (Function, Window, Timing),
    ) {
        self.measure(Parts {
            id: format!("{}/{name}", self.named(&step.id.value)),
            at: &step.id,
            say,
            stage: Stage::Survey,
            core: None,
            cores: Vec::new(),
            probes,
            function,
            window: Judging::Follows(WindowRule::Fixed(window)),
            timing,
            low_impedance: true,
            is_join: false,
        });
    }
}

fn probes(pair: &ControlPair) -> Option<Probes> {
    let point = |at: &At| {
        let (terminal, end) = match at {
            At::Near(terminal) => (terminal, End::Near),
            At::Far(terminal) => (terminal, End::Far),
            _ => return None,
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
