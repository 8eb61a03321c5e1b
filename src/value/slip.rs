//! What is likely a slip of the fingers in a typed reading.
//!
//! The rule inside: a slip is asked about and never mended; what was meant is not guessed at, and the question does not name it.

use rust_decimal::Decimal;

use super::quantity::{Prefix, Unit, parse_unit, split_number};
use super::reading::{Function, Reading};
use super::spelt::plain;

/// How near to a whole power of ten two readings are called a power of ten apart: 0.7 to 1.4 of it. Our own choice.
const NEAR: [Decimal; 2] = [
    Decimal::from_parts(7, 0, 0, false, 1),
    Decimal::from_parts(14, 0, 0, false, 1),
];
/// The greatest power of ten that is looked for: from milliohms to megohms; among volts a point too far, since a voltage that is absent
/// is a thousand times less than one that is there.
const POWERS_MAX: u32 = 9;
const POWERS_OF_VOLTS_MAX: u32 = 2;

/// The unit in a line that is of another quantity than what is read; `None` where it is of the same, or is no figure with a unit.
///
/// ```
/// use coreproof::value::reading::Function;
/// use coreproof::value::slip::other_quantity;
/// assert!(other_quantity("24 ms", Function::Loop).is_some());
/// assert!(other_quantity("0.42 ohm", Function::Loop).is_none());
/// ```
pub fn other_quantity(line: &str, function: Function) -> Option<Unit> {
    let text = line.trim();
    let spelt = plain(text.strip_prefix('>').unwrap_or(text).trim_start()).ok()?;
    let (number, rest) = split_number(&spelt);
    let (_, unit) = parse_unit(rest.trim()).filter(|_| !number.is_empty())?;
    (unit != function.unit()).then_some(unit)
}

/// Whether the prefix of a typed reading is likely one in the wrong case: no display of that function shows it.
pub fn prefix_slipped(reading: &Reading, function: Function) -> bool {
    match function {
        Function::Insulation(_) => reading.prefix <= Prefix::Milli,
        Function::Continuity | Function::Loop | Function::VoltageAc | Function::VoltageDc => {
            Prefix::Mega <= reading.prefix
        }
        Function::Resistance | Function::ResidualTrip(_) => false,
    }
}

/// Whether a value is a power of ten away from each of the others, all on one side of it; never without others.
pub fn power_of_ten_away(value: Decimal, others: &[Decimal], unit: Unit) -> bool {
    let powers = match unit {
        Unit::Volt => 1..=POWERS_OF_VOLTS_MAX,
        _ => 1..=POWERS_MAX,
    };
    let far = |great: Decimal, small: Decimal| {
        let ratio = great.checked_div(small);
        powers.clone().any(|power| {
            let whole = Decimal::from(10u64.pow(power));
            ratio.is_some_and(|ratio| NEAR[0] * whole <= ratio && ratio <= NEAR[1] * whole)
        })
    };
    let value = value.abs();
    let others: Vec<Decimal> = others
        .iter()
        .map(Decimal::abs)
        .filter(|other| !other.is_zero())
        .collect();
    let all = |apart: &dyn Fn(Decimal) -> bool| others.iter().all(|other| apart(*other));
    !value.is_zero() && !others.is_empty() && (all(&|other| far(value, other)) || all(&|other| far(other, value)))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_power_of_ten_away_is_so_from_every_reading() {
        let value = |text: &str| text.parse::<Decimal>().unwrap();
        for (text, others, expected) in [
            ("6.3", &["0.63"][..], true),
            ("0.063", &["0.63", "0.61"], true),
            ("63", &["0.63"], true),
            ("6.3", &["0.63", "6.1"], false),
            ("0.3", &["0.63"], false),
            ("2.5", &["0.63"], false),
            ("6.3", &[], false),
            ("0", &["0.63"], false),
            ("6.3", &["0"], false),
            // one is ten times less and one ten times more
            ("1", &["0.1", "10"], false),
        ] {
            let others: Vec<Decimal> = others.iter().map(|text| value(text)).collect();
            assert_eq!(
                power_of_ten_away(value(text), &others, Unit::Ohm),
                expected,
                "{text} {others:?}"
            );
        }
    }

    #[test]
    fn a_voltage_that_is_absent_is_no_slip() {
        let away = |volts: &str| power_of_ten_away(volts.parse().unwrap(), &[Decimal::from(231)], Unit::Volt);
        assert_eq!(
            ["23.1", "2310", "2.3", "0.23", "0.0"].map(away),
            [true, true, true, false, false]
        );
    }

    #[test]
    fn a_prefix_that_no_display_shows_there_has_slipped() {
        for (line, function, expected) in [
            (">200 mohm", Function::Insulation(500), true),
            ("200 Mohm", Function::Insulation(500), false),
            ("200 kohm", Function::Insulation(500), false),
            ("420 Mohm", Function::Continuity, true),
            ("420 mohm", Function::Continuity, false),
            ("2 Mohm", Function::Resistance, false),
        ] {
            let reading = Reading::typed(line, function).unwrap();
            assert_eq!(prefix_slipped(&reading, function), expected, "{line}");
        }
    }

    #[test]
    fn a_unit_of_another_quantity_is_told_from_no_unit_at_all() {
        for (line, function, expected) in [
            ("24 ms", Function::Loop, Some(Unit::Second)),
            ("230 V", Function::Continuity, Some(Unit::Volt)),
            ("2k2", Function::VoltageAc, Some(Unit::Ohm)),
            ("1 mm\u{b2}", Function::Continuity, Some(Unit::SquareMillimetre)),
            (">0,5 m", Function::Continuity, Some(Unit::Metre)),
            ("0.42", Function::Continuity, None),
            ("ohm", Function::VoltageAc, None),
            ("fine", Function::VoltageAc, None),
        ] {
            assert_eq!(other_quantity(line, function), expected, "{line}");
        }
    }
}
