//! What a meter's display shows of the world: ranges, digits, the time it takes to come to rest, the last digit's flicker.
//!
//! The rule inside: a display knows its dial, its leads and what stands at its terminals, and nothing of what is wanted of it.

use jiff::Timestamp;

use super::world::World;
use crate::job::instrument::{Ability, Instrument};
use crate::model::meter::{decimals, prefix, says_top, through_leads};
use crate::model::noise::Noise;
use crate::model::wiring::float;
use crate::value::quantity::{Amount, Digits, Prefix, Shown, Unit};
use crate::value::reading::Function;

/// Time constants with which a display comes to rest, in seconds: filtering, and charging a cable. Our own choice.
const SETTLE_SECONDS: f64 = 0.3;
const CHARGE_SECONDS: f64 = 0.8;
/// Where a range just found begins, as a share of the value. Our own choice.
const LANDING_SHARE: f64 = 1.3;
/// Volts below which bare probes show as much.
const BARE_VOLTS: f64 = 2.0;

/// What the display says at one moment.
#[derive(Debug, Clone, PartialEq, Eq)]
pub(super) struct Face {
    pub function: Function,
    pub shown: Shown,
    pub prefix: Prefix,
    pub unit: Unit,
}

/// An instrument's display with its dial and leads.
#[derive(Debug, Clone)]
pub(super) struct Display {
    can: Vec<Ability>,
    nulls: bool,
    dial: Option<Function>,
    /// Before rounding; infinite for over-range.
    value: f64,
    touched: bool,
    looked: Option<Timestamp>,
    /// What stands at the terminals, and the state of the world in which it was looked up.
    terminals: Option<(u64, f64)>,
    noise: Noise,
}

impl Display {
    /// The display of an instrument, switched off.
    pub(super) fn new(instrument: &Instrument, seed: u64) -> Display {
        Display {
            can: instrument.can.clone(),
            nulls: instrument.nulls,
            dial: None,
            value: 0.0,
            touched: false,
            looked: None,
            terminals: None,
            noise: Noise::new(seed),
        }
    }

    /// Turns the dial.
    pub(super) fn turn(&mut self, function: Function) {
        if self.dial != Some(function) {
            self.dial = Some(function);
            self.value = 0.0;
            self.touched = false;
            self.terminals = None;
        }
    }

    /// What the dial is on; `None` while it is off.
    pub(super) fn dial(&self) -> Option<Function> {
        self.dial
    }

    /// Every function the instrument has.
    pub(super) fn functions(&self) -> Vec<Function> {
        let of = |ability: &Ability| match ability {
            Ability::ProveDead => Vec::new(),
            Ability::Continuity { .. } => vec![Function::Continuity],
            Ability::Resistance { .. } => vec![Function::Resistance],
            Ability::Insulation { volts, .. } => volts.iter().map(|volts| Function::Insulation(*volts)).collect(),
            Ability::Voltage { .. } => vec![Function::VoltageAc],
            Ability::Loop { .. } => vec![Function::Loop],
            Ability::ResidualTrip { tests, .. } => {
                let tests = tests.iter().map(|(multiple, _)| Function::ResidualTrip(*multiple));
                tests.collect()
            }
        };
        self.can.iter().flat_map(of).collect()
    }

    /// Whether bare probes would show the same as these do once the display has come to rest.
    ///
    /// # Panics
    /// While it is off.
    pub(super) fn like_bare(&mut self, world: &World) -> bool {
        let function = self.dial.expect("a display that is looked at is on");
        let aim = self.aim(world, function);
        match function.unit() {
            Unit::Volt => aim < BARE_VOLTS,
            _ => self.ceiling(function) < aim,
        }
    }

    /// What the display shows now, in one of the prefixes that it can name; `None` while it is off.
    pub(super) fn look(&mut self, world: &World, now: Timestamp, prefixes: &[Prefix]) -> Option<Face> {
        let function = self.dial?;
        let seconds = self.looked.map_or(0.0, |then| now.duration_since(then).as_secs_f64());
        self.looked = Some(now);
        self.come_to_rest(world, function, seconds.max(0.0));
        let ceiling = self.ceiling(function);
        let shown = |shown, prefix| {
            Some(Face {
                function,
                shown,
                prefix,
                unit: function.unit(),
            })
        };
        if ceiling < self.value {
            let prefix = prefix(function, ceiling.min(1e12), prefixes);
            let top = self.ceiling_amount(function).filter(|_| says_top(function));
            let over = top.map_or(Shown::Over, |top| {
                let digits = (top.value() / prefix.factor()).normalize();
                Shown::Above(Digits::from_decimal(digits))
            });
            return shown(over, prefix);
        }
        let prefix = prefix(function, self.value, prefixes);
        let value = self.value / float(prefix.factor());
        let decimals = decimals(function, value);
        // the result of one test stands still, what is at the probes now does not
        let size = if function.is_one_shot() { 0.0 } else { 0.5 };
        let flicker = self.noise.even() * size * 0.1f64.powi(decimals);
        let text = format!("{:.*}", usize::try_from(decimals).unwrap_or(0), (value + flicker).abs());
        let digits = Digits::parse(&text).expect("a finite number in plain digits");
        shown(Shown::Digits(digits), prefix)
    }

    /// What the display will come to rest at.
    fn aim(&mut self, world: &World, function: Function) -> f64 {
        let terminals = match self.terminals {
            Some((revision, terminals)) if revision == world.revision() => terminals,
            _ => world.shows(function, self.input_ohms()),
        };
        self.terminals = Some((world.revision(), terminals));
        through_leads(function, world.leads(), terminals, self.nulls)
    }

    fn come_to_rest(&mut self, world: &World, function: Function, seconds: f64) {
        let aim = self.aim(world, function);
        let ceiling = self.ceiling(function);
        let newly_touched = world.touches() && !self.touched;
        self.touched = world.touches();
        let towards = |from: f64, to: f64, tau: f64| from + (to - from) * -(-seconds / tau).exp_m1();
        self.value = match function {
            Function::Insulation(_) if !self.touched => f64::INFINITY,
            Function::Insulation(_) => {
                // the cable charges from nothing, also on its way past the top of the range
                let from = if newly_touched {
                    0.0
                } else {
                    self.value.min(3.0 * ceiling)
                };
                towards(from, aim.min(3.0 * ceiling), CHARGE_SECONDS)
            }
            _ if ceiling < aim => f64::INFINITY,
            _ if function.is_one_shot() => aim,
            _ => {
                let from = if self.value.is_finite() {
                    self.value
                } else {
                    LANDING_SHARE * aim
                };
                towards(from, aim, SETTLE_SECONDS)
            }
        };
    }

    fn ceiling_amount(&self, function: Function) -> Option<&Amount> {
        let able = self.can.iter().filter(|ability| ability.covers(function));
        able.filter_map(|ability| ability.ceiling(function)).next()
    }

    /// The top of the range in plain units; volts have none here.
    fn ceiling(&self, function: Function) -> f64 {
        self.ceiling_amount(function)
            .map_or(1e12, |ceiling| float(ceiling.value()))
    }

    /// The lowest input resistance of the instrument's volts, in ohms.
    fn input_ohms(&self) -> f64 {
        let inputs = self.can.iter().filter_map(|ability| match ability {
            Ability::Voltage { input, .. } => Some(float(input.value())),
            _ => None,
        });
        inputs.fold(f64::INFINITY, f64::min).min(10e6)
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::job::End;
    use crate::plan::{Act, Point, Probes};
    use crate::rehearsal::trial::job;
    use crate::value::reading::Multiple;
    use jiff::SignedDuration;

    const ALL: [Prefix; 5] = [Prefix::Milli, Prefix::One, Prefix::Kilo, Prefix::Mega, Prefix::Giga];

    /// What the tester shows, frame after frame, once its probes are on these points.
    fn shown(function: Function, acts: &[Act], probes: Option<Probes>, frames: i64) -> Vec<String> {
        let job = job();
        let mut world = World::new(&job, 1).unwrap();
        acts.iter().for_each(|act| world.apply(act));
        world.place(probes);
        let mut display = Display::new(&job.instruments[1], 1);
        assert_eq!(display.look(&world, Timestamp::UNIX_EPOCH, &ALL), None);
        display.turn(function);
        let look = |frame| {
            let now = Timestamp::UNIX_EPOCH + SignedDuration::from_millis(frame * 250);
            match display.look(&world, now, &ALL).unwrap().shown {
                Shown::Digits(digits) => digits.text().to_owned(),
                Shown::Above(digits) => format!(">{}", digits.text()),
                Shown::Over => "OL".into(),
            }
        };
        (1..=frames).map(look).collect()
    }

    fn known() -> Option<Probes> {
        Some(Probes {
            first: Point::KnownSource,
            second: Point::KnownSource,
        })
    }

    #[test]
    fn bare_probes_show_over_range_or_no_volts() {
        assert_eq!(shown(Function::Continuity, &[], None, 2), ["OL", "OL"]);
        assert_eq!(shown(Function::Insulation(250), &[], None, 2), [">299", ">299"]);
        let volts = shown(Function::VoltageAc, &[], None, 8);
        assert!(
            volts.iter().all(|digits| digits == "0.0" || digits == "0.1"),
            "{volts:?}"
        );
    }

    #[test]
    fn tips_together_show_the_leads() {
        let tips = Probes {
            first: Point::Tip,
            second: Point::Tip,
        };
        assert_eq!(shown(Function::Continuity, &[], Some(tips), 12)[11], "0.04");
    }

    #[test]
    fn volts_rise_to_their_value() {
        let digits = shown(Function::VoltageAc, &[], known(), 20);
        let value = |at: usize| digits[at].parse::<f64>().unwrap();
        assert!(value(0) < value(2) && value(2) < value(6), "{digits:?}");
        assert!(
            (225.0..235.0).contains(&value(19)) && (value(18) - value(19)).abs() < 0.25,
            "{digits:?}"
        );
    }

    #[test]
    fn insulation_charges_past_the_top_of_its_range() {
        let acts = [Act::SwitchOff, Act::Disconnect(End::Near), Act::Disconnect(End::Far)];
        let point = |core: &str| Point::Core {
            core: core.into(),
            end: End::Near,
        };
        let probes = Probes {
            first: point("brown"),
            second: point("black"),
        };
        let digits = shown(Function::Insulation(500), &acts, Some(probes), 8);
        assert!(digits[0].parse::<f64>().is_ok(), "{digits:?}");
        assert_eq!(digits[7], ">299");
    }
    #[test]
    fn results_of_loop_and_trip_tests_stand_still() {
        let earth = Point::Terminal {
            terminal: "E".into(),
            end: End::Far,
        };
        let line = Point::Terminal {
            terminal: "L".into(),
            end: End::Far,
        };
        let probes = || {
            Some(Probes {
                first: earth.clone(),
                second: line.clone(),
            })
        };
        let loops = shown(Function::Loop, &[], probes(), 4);
        // 0.30 ohm of supply, 0.65 ohm out and back, 0.11 ohm of the earth conductor that comes in, and the display's error
        let ohms: f64 = loops[0].parse().unwrap();
        assert!((0.9..1.2).contains(&ohms), "{loops:?}");
        assert!(loops.iter().all(|digits| *digits == loops[0]), "{loops:?}");
        assert_eq!(shown(Function::Loop, &[], None, 1), ["OL"]);
        // the demonstration job has no residual-current device, so nothing trips while the test lasts
        for (multiple, lasts) in [
            (Multiple::Half, ">1999"),
            (Multiple::Once, ">300"),
            (Multiple::FiveTimes, ">40"),
        ] {
            assert_eq!(shown(Function::ResidualTrip(multiple), &[], probes(), 1), [lasts]);
        }
    }
}
