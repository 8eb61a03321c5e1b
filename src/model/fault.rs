//! A fault at its place: what it changes in the wiring, and how it is told to a person.
//!
//! The rule inside: a fault changes the wiring or an instrument and nothing else; which step finds it is for the walk to show.

use serde::Deserialize;

use super::element::{Current, Part};
use super::error::{InstallationError, NetworkError};
use super::installation::Installation;
use super::mover;
use super::residual::Residual;
use super::wiring::{self, float};
use crate::job::{End, Job, Nature};
use crate::plan::Act;
use crate::value::quantity::{Amount, Unit};

/// The size of what a fault brings in.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub enum Size {
    /// What a rehearsal and coverage take.
    Usual,
    /// A place in the range from its least to its greatest value, in steps of even proportion: 0 to [`Size::STEPS`]. Steps beyond either
    /// end go on in the same proportion, outside what the library takes.
    Step(i16),
}

/// Least value with which the steps of a range begin, in ohms: nothing has a logarithm of its own.
const STEPS_FROM: f64 = 0.01;

impl Size {
    /// Steps of a range.
    pub const STEPS: i16 = 48;
    /// The least value of the range: a fault that is only just there.
    pub const LEAST: Size = Size::Step(0);
    /// The greatest value of the range.
    pub const GREATEST: Size = Size::Step(Size::STEPS);

    fn of(self, (least, usual, greatest): (f64, f64, f64)) -> f64 {
        match self {
            Size::Usual => usual,
            Size::LEAST => least,
            Size::GREATEST => greatest,
            Size::Step(step) => {
                let from = least.max(STEPS_FROM);
                from * (greatest / from).powf(f64::from(step) / f64::from(Size::STEPS))
            }
        }
    }
}

type Range = (Amount, Amount, Amount);

/// What a second supply delivers.
#[derive(Debug, Clone, PartialEq, Eq, Deserialize)]
pub enum Delivers {
    /// Mains at the place: the nominal voltage of the job unless that is extra-low.
    Mains,
    /// This voltage, alternating.
    Stated(Amount),
    /// This voltage, direct.
    Direct(Amount),
    /// What the first supply of the equipment's own delivers.
    Own,
}

/// One change. Elements and points go by their names in the wiring.
#[derive(Debug, Clone, PartialEq, Deserialize)]
pub enum Change {
    /// An element is taken out.
    Remove(String),
    /// The same for every core.
    RemoveEach(String),
    /// An element has so much more resistance.
    Ohms(String, Range),
    /// Every core has so many times its resistance.
    Scale((f64, f64, f64)),
    /// A path between two points.
    Bridge(String, String, Range),
    /// A capacitance between two points, in nanofarads.
    Couple(String, String, (f64, f64, f64)),
    /// A path from each terminal of an end to the next.
    Damp(String, Range),
    /// An end of an element leaves a point for another.
    Move(String, String, String),
    /// A supply between two points, with its series resistance.
    Feed(String, String, Delivers, Amount),
    /// A supply delivers another voltage, alternating.
    Volts(String, Amount),
    /// A supply delivers such a share of its voltage.
    Sag(String, (f64, f64, f64)),
    /// A core whose terminal at an end does not grip it.
    Loose(String, String),
    /// A core whose terminal at an end grips it badly, with this resistance in place of a sound clamp's.
    Clamp(String, String, Range),
    /// Two cores that are in each other's terminals at an end.
    Cross(String, String, String),
    /// A motor's valve stays `open` or `shut`.
    Stick(String, String),
    /// The plate at an end says another nature than the job.
    Plate(String, Nature),
    /// How the residual-current device is.
    Residual(Residual),
    /// A thing that is looked at is seen to be this.
    Thing(String, String),
    /// The two-pole indicator never lights.
    IndicatorDead,
    /// Every supply is off.
    SupplyOff,
    /// Metal that touches an end is bonded to nothing; nothing changes where none does.
    Unbonded,
}

impl Change {
    /// The same with the blanks of every name filled in.
    pub(super) fn filled(&self, fill: &impl Fn(&str) -> Result<String, String>) -> Result<Change, String> {
        Ok(match self {
            Change::Remove(element) => Change::Remove(fill(element)?),
            Change::Ohms(element, range) => Change::Ohms(fill(element)?, range.clone()),
            Change::Bridge(a, b, range) => Change::Bridge(fill(a)?, fill(b)?, range.clone()),
            Change::Couple(a, b, range) => Change::Couple(fill(a)?, fill(b)?, *range),
            Change::Damp(end, range) => Change::Damp(fill(end)?, range.clone()),
            Change::Sag(source, shares) => Change::Sag(fill(source)?, *shares),
            Change::Move(element, from, to) => Change::Move(fill(element)?, fill(from)?, fill(to)?),
            Change::Feed(a, b, volts, ohms) => Change::Feed(fill(a)?, fill(b)?, volts.clone(), ohms.clone()),
            Change::Loose(core, end) => Change::Loose(fill(core)?, fill(end)?),
            Change::Clamp(core, end, range) => Change::Clamp(fill(core)?, fill(end)?, range.clone()),
            Change::Cross(a, b, end) => Change::Cross(fill(a)?, fill(b)?, fill(end)?),
            Change::Volts(source, volts) => Change::Volts(fill(source)?, volts.clone()),
            Change::Stick(motor, position) => Change::Stick(fill(motor)?, position.clone()),
            Change::Plate(end, nature) => Change::Plate(fill(end)?, *nature),
            Change::RemoveEach(_)
            | Change::Scale(_)
            | Change::Residual(_)
            | Change::Thing(..)
            | Change::IndicatorDead
            | Change::SupplyOff
            | Change::Unbonded => self.clone(),
        })
    }
}

/// One fault at one place of one job.
#[derive(Debug, Clone, PartialEq)]
pub struct Fault {
    /// `core-open:grey`.
    pub name: String,
    /// `core-open`.
    pub kind: String,
    /// The part that it befalls; a part has one fault at a time.
    pub part: String,
    /// How often it is met beside the others; only the proportion counts.
    pub weight: f64,
    /// What is wrong, for a person.
    pub words: String,
    /// Where to look.
    pub look: String,
    pub(super) does: Vec<Change>,
}

impl Fault {
    /// Whether what it brings in has a size that can be more or less.
    pub fn has_range(&self) -> bool {
        let ranged = |change: &Change| {
            matches!(
                change,
                Change::Ohms(..)
                    | Change::Bridge(..)
                    | Change::Clamp(..)
                    | Change::Damp(..)
                    | Change::Couple(..)
                    | Change::Scale(_)
                    | Change::Sag(..)
            )
        };
        self.does.iter().any(ranged)
    }

    /// What it brings in at a size, in ohms; `None` where it brings in no resistance of its own.
    pub fn ohms(&self, size: Size) -> Option<f64> {
        self.does.iter().find_map(|change| match change {
            Change::Ohms(_, range)
            | Change::Bridge(_, _, range)
            | Change::Clamp(_, _, range)
            | Change::Damp(_, range) => {
                let (least, usual, greatest) = range;
                let [least, usual, greatest] = [least, usual, greatest].map(|amount| float(amount.value()));
                Some(size.of((least, usual, greatest)))
            }
            _ => None,
        })
    }
}

impl Installation {
    /// Puts a fault in, of its usual size.
    ///
    /// # Errors
    /// [`InstallationError::FaultDoesNotFit`]: it belongs to another job, or stands against a fault that is in already.
    pub fn put(&mut self, fault: &Fault) -> Result<(), InstallationError> {
        self.put_sized(fault, Size::Usual)
    }

    /// Puts a fault in, of a chosen size.
    ///
    /// # Errors
    /// As [`Installation::put`]; the installation is then of no more use.
    pub fn put_sized(&mut self, fault: &Fault, size: Size) -> Result<(), InstallationError> {
        for change in &fault.does {
            self.change(fault, change, size)
                .map_err(|why| InstallationError::FaultDoesNotFit {
                    fault: fault.name.clone(),
                    why,
                })?;
        }
        self.changed();
        Ok(())
    }

    /// A plate that says what the job says of it is no fault.
    fn replate(&mut self, end: End, nature: Nature) -> Result<(), String> {
        match &self.job.control_pair {
            Some(pair) if pair.nature(end) != nature => {
                self.plates.insert(end, nature);
                Ok(())
            }
            Some(_) => Err(format!("the plate says {} as it is", nature.words())),
            None => Err("it has no control pair".into()),
        }
    }

    /// A supply between two points that the wiring has, with its series resistance.
    fn feed(&mut self, fault: &Fault, [a, b]: [&str; 2], delivers: &Delivers, series: &Amount) -> Result<(), String> {
        let (volts, current) = match delivers {
            Delivers::Mains => (wiring::mains(&self.job), Current::Alternating),
            Delivers::Stated(volts) => (plain(volts, Unit::Volt)?, Current::Alternating),
            Delivers::Direct(volts) => (plain(volts, Unit::Volt)?, Current::Direct),
            Delivers::Own => own(&self.job)?,
        };
        if !self.network.has_node(a) || !self.network.has_node(b) {
            return Err(format!("no point `{a}` or `{b}`"));
        }
        let (name, series) = (format!("supply of {}", fault.name), plain(series, Unit::Ohm)?);
        let fed = self.network.source_of(current, &name, [a, b], volts, series);
        fed.map_err(|error| error.to_string())
    }

    /// A capacitance between two points that the wiring has, in farads.
    fn couple(&mut self, fault: &Fault, [a, b]: [&str; 2], farads: f64) -> Result<(), String> {
        if !self.network.has_node(a) || !self.network.has_node(b) {
            return Err(format!("no point `{a}` or `{b}`"));
        }
        let coupled = self.network.capacitor(&format!("path of {}", fault.name), a, b, farads);
        coupled.map_err(|error| error.to_string())
    }

    /// Whatever metal touches an end is bonded to nothing.
    fn unbond(&mut self) -> Result<(), String> {
        for metalwork in End::BOTH.map(wiring::metalwork) {
            if self.network.ohms(&metalwork).is_some() {
                let removed = self.network.remove(&metalwork);
                removed.map_err(|error| error.to_string())?;
            }
        }
        Ok(())
    }

    /// Every core has so many times its resistance.
    fn scale(&mut self, factor: f64) -> Result<(), String> {
        for core in &self.job.cores {
            for half in End::BOTH.map(|end| wiring::half(&core.name, end)) {
                let was = self.network.ohms(&half);
                let was = was.ok_or_else(|| format!("`{half}` is not there"))?;
                let set = self.network.set_ohms(&half, was * factor);
                set.map_err(|error| error.to_string())?;
            }
        }
        Ok(())
    }

    /// A source delivers such a share of what it did.
    fn sag(&mut self, source: &str, share: f64) -> Result<(), String> {
        let was = self.network.elements().find_map(|(name, _, part)| match part {
            Part::Source { volts, .. } if name == source => Some(volts),
            _ => None,
        });
        let was = was.ok_or_else(|| format!("`{source}` is not there"))?;
        let set = self.network.set_volts(source, was * share);
        set.map_err(|error| error.to_string())
    }

    /// A path from each terminal of an end to the next.
    fn damp(&mut self, fault: &Fault, end: End, ohms: f64) -> Result<(), String> {
        let points: Vec<String> = (self.job.end(end).terminals.iter())
            .map(|terminal| wiring::terminal_point(&terminal.name, end))
            .collect();
        if points.len() < 2 {
            return Err("it has one terminal".into());
        }
        for (at, pair) in points.windows(2).enumerate() {
            let name = format!("path {at} of {}", fault.name);
            let added = self.network.link(&name, &pair[0], &pair[1], ohms);
            added.map_err(|error| error.to_string())?;
        }
        Ok(())
    }

    fn change(&mut self, fault: &Fault, change: &Change, size: Size) -> Result<(), String> {
        let words = |error: NetworkError| error.to_string();
        let ohms = |(least, usual, greatest): &Range| -> Result<f64, String> {
            let plain = |amount| plain(amount, Unit::Ohm);
            Ok(size.of((plain(least)?, plain(usual)?, plain(greatest)?)))
        };
        let network = &mut self.network;
        match change {
            Change::Remove(element) => network.remove(element).map_err(words),
            Change::RemoveEach(element) => {
                let names: Vec<String> = (self.job.cores.iter())
                    .map(|core| element.replace("{a}", &core.name))
                    .collect();
                names.iter().try_for_each(|name| network.remove(name).map_err(words))
            }
            Change::Ohms(element, range) => {
                let was = network
                    .ohms(element)
                    .ok_or_else(|| format!("`{element}` is not there"))?;
                network.set_ohms(element, was + ohms(range)?).map_err(words)
            }
            Change::Scale(factors) => self.scale(size.of(*factors)),
            Change::Bridge(a, b, range) => {
                let name = format!("path of {}", fault.name);
                network.link(&name, a, b, ohms(range)?).map_err(words)
            }
            Change::Couple(a, b, nanofarads) => self.couple(fault, [a, b], size.of(*nanofarads) * 1e-9),
            Change::Damp(end, range) => self.damp(fault, named(end)?, ohms(range)?),
            Change::Sag(source, shares) => self.sag(source, size.of(*shares)),
            Change::Move(element, from, to) => network.move_end(element, from, to).map_err(words),
            Change::Feed(a, b, delivers, series) => self.feed(fault, [a, b], delivers, series),
            Change::Volts(source, volts) => {
                network.set_volts(source, plain(volts, Unit::Volt)?).map_err(words)?;
                network.set_current(source, Current::Alternating).map_err(words)
            }
            Change::Loose(core, end) => self.loosen(core, named(end)?),
            Change::Clamp(core, end, range) => self.grip_badly(core, named(end)?, ohms(range)?),
            Change::Cross(a, b, end) => self.cross(a, b, named(end)?),
            Change::Stick(motor, position) => self.stick(motor, position == mover::OPEN),
            Change::Plate(end, nature) => self.replate(named(end)?, *nature),
            Change::Residual(_) if self.job.supply.residual.is_none() => {
                Err("it has no residual-current device".into())
            }
            Change::Residual(state) => {
                self.set_residual_device(*state);
                Ok(())
            }
            Change::Thing(thing, word) => {
                self.things.insert(thing.clone(), word.clone());
                Ok(())
            }
            Change::IndicatorDead => {
                self.indicator_works = false;
                Ok(())
            }
            Change::SupplyOff => {
                self.apply(&Act::SwitchOff);
                Ok(())
            }
            Change::Unbonded => self.unbond(),
        }
    }
}

/// What the first supply of the equipment's own delivers.
fn own(job: &Job) -> Result<(f64, Current), String> {
    let (_, supply) = job
        .own_supplies()
        .next()
        .ok_or("it has no supply of the equipment's own")?;
    let current = if supply.direct {
        Current::Direct
    } else {
        Current::Alternating
    };
    Ok((float(supply.volts.value()), current))
}

fn plain(amount: &Amount, unit: Unit) -> Result<f64, String> {
    if amount.unit == unit {
        Ok(float(amount.value()))
    } else {
        Err(format!("`{amount}` is {}", amount.unit.quantity()))
    }
}

fn named(end: &str) -> Result<End, String> {
    let found = End::BOTH.into_iter().find(|there| format!("{there:?}") == end);
    found.ok_or_else(|| format!("`{end}` is no end"))
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::model::library;
    use crate::model::sample::job_with;
    use crate::plan::{Point, Probes};
    use crate::value::reading::Function;

    #[test]
    fn a_joint_adds_to_what_a_core_has_however_long_it_is() {
        let job = job_with("18 m", "200 m");
        let read = |installation: &Installation| {
            let core = |end| Point::Core {
                core: "grey".into(),
                end,
            };
            let probes = Probes {
                first: core(End::Near),
                second: core(End::Far),
            };
            installation.shows(&probes, Function::Continuity, 1e6)
        };
        let mut installation = Installation::of(&job).unwrap();
        [Act::SwitchOff, Act::Disconnect(End::Near), Act::Disconnect(End::Far)]
            .iter()
            .for_each(|act| installation.apply(act));
        let sound = read(&installation);
        // 200 m of 1.0 mm2 have more than the joint brings in
        assert!(3.0 < sound, "{sound}");
        let joint = &library::find(&job, "high-resistance-joint:grey").unwrap()[0];
        for (size, adds) in [(Size::LEAST, 0.3), (Size::Usual, 3.0), (Size::GREATEST, 1000.0)] {
            let mut with = installation.clone();
            with.put_sized(joint, size).unwrap();
            assert!((read(&with) - sound - adds).abs() < 1e-6, "{size:?}: {}", read(&with));
        }
    }

    #[test]
    fn sizes_go_on_beyond_a_range_in_the_same_proportion() {
        let job = job_with("18 m", "18 m");
        let joint = &library::find(&job, "high-resistance-joint:grey").unwrap()[0];
        let at = |step| joint.ohms(Size::Step(step)).unwrap();
        // 0.3 ohm to 1 kohm, and as far again either way
        for (step, ohms) in [
            (0, 0.3),
            (48, 1000.0),
            (96, 1000.0 / 0.3 * 1000.0),
            (-48, 0.3 / 1000.0 * 0.3),
        ] {
            assert!((at(step) / ohms - 1.0).abs() < 1e-9, "{step}: {}", at(step));
        }
    }
}
