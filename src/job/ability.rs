//! The checks of what an instrument of a job can do.
//!
//! The rule inside: every range has a top in its own unit, and every trip test a time that such a test can last.

use rust_decimal::Decimal;

use super::check::Check;
use super::instrument::Ability;
use crate::limits::Limits;
use crate::located::{Located, Problem};
use crate::value::quantity::{Amount, Unit};
use crate::value::reading::Multiple;

/// Longest time of a trip test, in seconds. Our own choice: the longest, at half the rated current, lasts some 2 s (from memory).
const TEST_SECONDS_MAX: i64 = 5;

/// An amount inside an ability, at the ability's place.
fn at(ability: &Located<Ability>, amount: &Amount) -> Located<Amount> {
    Located {
        value: amount.clone(),
        span: ability.span.clone(),
    }
}

impl Check {
    /// Finds what is wrong with an ability's figures.
    pub(super) fn ability(&mut self, ability: &Located<Ability>) {
        match &ability.value {
            Ability::ProveDead => {}
            Ability::Continuity { ceiling, .. } | Ability::Resistance { ceiling, .. } => {
                self.above_zero(&at(ability, ceiling), Unit::Ohm);
            }
            Ability::Insulation { ceiling, volts, .. } => {
                self.above_zero(&at(ability, ceiling), Unit::Ohm);
                if volts.is_empty() {
                    self.say(
                        Problem::new(&ability.span, "an insulation tester with no test voltage")
                            .hint("write `volts: [250, 500]`"),
                    );
                }
            }
            Ability::Voltage { input, least, .. } => {
                self.above_zero(&at(ability, input), Unit::Ohm);
                if let Some(least) = least {
                    self.above_zero(&at(ability, least), Unit::Volt);
                }
                if input.value() < Decimal::ONE_THOUSAND {
                    let what = format!("`{input}` is no input resistance of a voltmeter");
                    self.say(
                        Problem::new(&ability.span, what).hint(
                            "see the instrument's sheet: some 10 kohm on a low-impedance range, some 10 Mohm else",
                        ),
                    );
                }
            }
            Ability::Loop { current, ceiling, .. } => {
                self.above_zero(&at(ability, current), Unit::Ampere);
                self.above_zero(&at(ability, ceiling), Unit::Ohm);
            }
            Ability::ResidualTrip { tests, .. } => self.trip_tests(ability, tests),
        }
    }

    fn trip_tests(&mut self, ability: &Located<Ability>, tests: &[(Multiple, Amount)]) {
        if tests.is_empty() {
            self.say(
                Problem::new(&ability.span, "a tester of residual-current devices with no test")
                    .hint("write `tests: [(half, \"1999 ms\"), (once, \"300 ms\"), (five_times, \"40 ms\")]`"),
            );
        }
        for (place, (multiple, lasts)) in tests.iter().enumerate() {
            self.above_zero(&at(ability, lasts), Unit::Second);
            if tests[..place].iter().any(|(earlier, _)| earlier == multiple) {
                let what = format!("the test at {} is listed twice", multiple.words());
                self.say(Problem::new(&ability.span, what));
            }
            if lasts.unit == Unit::Second && Decimal::from(TEST_SECONDS_MAX) < lasts.value() {
                let what = format!("`{lasts}` is longer than any trip test lasts");
                self.say(
                    Problem::new(&ability.span, what)
                        .hint("write the time after which the instrument shows over-range, for example `\"300 ms\"`"),
                );
            }
        }
    }

    pub(super) fn accuracy(&mut self, instrument: &str, ability: &Located<Ability>, limits: &Limits) {
        match ability.value.known(instrument, limits) {
            Ok(None) => {}
            Ok(Some(known)) => {
                let (percent, digits) = (known.accuracy.percent.value(), known.accuracy.digits);
                // finer figures would make an uncertainty that is no longer exact
                let nothing = (percent.is_zero() && digits == 0) || 4 < percent.scale() || 999 < digits;
                if percent < Decimal::ZERO || Decimal::ONE_HUNDRED < percent || nothing {
                    let what = format!("an accuracy of {} is none", known.accuracy.words());
                    self.say(Problem::new(&ability.span, what).hint(
                        "write percent of the reading, with at most four decimals, and last digits, at most 999",
                    ));
                }
                if let Some(of) = &known.accuracy.of {
                    self.above_zero(&at(ability, of), ability.value.unit());
                }
            }
            Err(what) => self.say(Problem::new(&ability.span, what).hint(
                "add `accuracy: (percent: \"1\", digits: 3)` with the figures of its data sheet; only testers to \
                 IEC 61557 may leave it out",
            )),
        }
    }
}
