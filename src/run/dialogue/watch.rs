//! When a meter's reading may be taken.
//!
//! The rule inside: a reading counts only from probes that were placed for this step. What bare probes would show as well
//! (over-range on ohms, near zero on volts) counts only when the engineer says that both probes are on the points; anything else
//! counts once the probes were seen to lift since the step began. A reading that must come within a time is taken early only if it
//! passes, and one that must wait is not taken before its time.

use rust_decimal::Decimal;

use crate::value::quantity::Shown;
use crate::value::reading::{Contact, Function, Reading};

/// Volts below which a bare probe reads as well.
const NEAR_ZERO_VOLTS: Decimal = Decimal::ONE;

/// What has been seen since the step began.
#[derive(Debug, Clone, PartialEq, Eq, Default)]
pub struct Watch {
    /// The probes were seen off the points since the step began.
    pub lifted: bool,
    /// The engineer said that both probes are on the points.
    pub said_on: bool,
    /// The last usable reading, and whether it stood still.
    pub last: Option<(Reading, bool)>,
    /// The remark made last, so that it is made once.
    pub remarked: Option<String>,
    /// Nothing counts yet: a time has to pass first.
    pub waits: bool,
    /// That the time is up was told.
    pub time_up: bool,
    /// Something was answered before its time, which was told.
    pub early: bool,
}

impl Watch {
    /// Takes in one reading in the right function; true when it may be taken.
    pub fn hear(&mut self, reading: &Reading, settled: bool) -> bool {
        let bare = is_bare(reading);
        self.lifted |= bare;
        self.last = Some((reading.clone(), settled));
        settled && self.contact(reading).is_some()
    }

    /// How it is known that the probes lay on the points when this was shown; what the meter saw counts before what was said.
    pub fn contact(&self, reading: &Reading) -> Option<Contact> {
        if self.lifted && !is_bare(reading) {
            Some(Contact::Seen)
        } else {
            self.said_on.then_some(Contact::Said)
        }
    }

    /// The last reading if it stands still and its contact is known; used when a time is up.
    pub fn standing(&self) -> Option<&Reading> {
        let (reading, settled) = self.last.as_ref()?;
        (*settled && self.contact(reading).is_some()).then_some(reading)
    }
}

/// Whether bare probes in the air would show the same.
pub(super) fn is_bare(reading: &Reading) -> bool {
    match (&reading.shown, reading.function) {
        (Shown::Over | Shown::Above(_), _) => true,
        (Shown::Digits(digits), Some(Function::VoltageAc | Function::VoltageDc)) => {
            (digits.value() * reading.prefix.factor()).abs() < NEAR_ZERO_VOLTS
        }
        (Shown::Digits(_), _) => false,
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::value::reading::Multiple;

    fn hear(function: Function, readings: &[(&str, bool)], said_on: bool) -> Vec<bool> {
        let mut watch = Watch {
            said_on,
            ..Watch::default()
        };
        readings
            .iter()
            .map(|(text, settled)| {
                let mut reading = Reading::typed(text, function).unwrap();
                reading.function = Some(function);
                watch.hear(&reading, *settled)
            })
            .collect()
    }

    #[test]
    fn a_stale_value_is_not_taken_again() {
        // the probes still sit on the last points: 0.59 must not count until they lifted
        let readings = [
            ("0.59", true),
            ("0.59", true),
            ("OL", true),
            ("0.61", false),
            ("0.61", true),
        ];
        assert_eq!(
            hear(Function::Continuity, &readings, false),
            [false, false, false, false, true]
        );
    }

    #[test]
    fn what_bare_probes_show_needs_the_word() {
        assert_eq!(hear(Function::Continuity, &[("OL", true)], false), [false]);
        assert_eq!(hear(Function::Continuity, &[("OL", true)], true), [true]);
        assert_eq!(hear(Function::VoltageAc, &[("0.4", true)], false), [false]);
        assert_eq!(hear(Function::VoltageAc, &[("0.4", true)], true), [true]);
        assert_eq!(
            hear(Function::VoltageAc, &[("0.0", true), ("231", true)], false),
            [false, true]
        );
    }

    #[test]
    fn the_result_of_an_earlier_test_is_not_taken_again() {
        // loop and trip testers keep the last result on the display until the next one, or until the probes lift
        let trip = Function::ResidualTrip(Multiple::Once);
        let kept = [("24.3", true), ("24.3", true)];
        assert_eq!(hear(trip, &kept, false), [false, false]);
        assert_eq!(hear(trip, &[("OL", true), ("13.5", true)], false), [false, true]);
        assert_eq!(
            hear(Function::Loop, &[("0.84", true), ("OL", true), ("0.97", true)], false),
            [false, false, true]
        );
        // no trip shows what bare probes show, so it takes the word
        let half = Function::ResidualTrip(Multiple::Half);
        assert_eq!(hear(half, &[(">1999", true)], false), [false]);
        assert_eq!(hear(half, &[(">1999", true)], true), [true]);
    }

    #[test]
    fn how_the_contact_was_known_is_said_or_seen() {
        let check = |lifted, said_on, text, expected| {
            let watch = Watch {
                lifted,
                said_on,
                ..Watch::default()
            };
            let reading = Reading::typed(text, Function::Continuity).unwrap();
            assert_eq!(watch.contact(&reading), expected, "{lifted} {said_on} {text}");
        };
        check(false, false, "0.42", None);
        check(true, false, "0.42", Some(Contact::Seen));
        check(true, true, "0.42", Some(Contact::Seen));
        check(false, true, "0.42", Some(Contact::Said));
        check(true, true, "OL", Some(Contact::Said));
        check(true, false, "OL", None);
    }

    #[test]
    fn what_still_moves_is_not_taken() {
        assert_eq!(
            hear(Function::Continuity, &[("OL", true), ("0.7", false)], true),
            [true, false]
        );
    }
}
