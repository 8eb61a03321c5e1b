//! Resistance of cores: what a length should read, at what temperature, and what length a reading means.
//!
//! The rule inside: R1+R2 is derived from the conductor table each time and stored nowhere. Table figures are greatest
//! values at 20 °C (IEC 60228), so the upper edge judges and a reading well below it only asks why.

use rust_decimal::Decimal;

use crate::limits::{Limits, Row, Table};
use crate::value::quantity::Amount;

/// Factor from 20 °C to a temperature, exact: 1 + 0.004 (t - 20); refused outside the range of the coefficient.
///
/// ```
/// use coreproof::{judge::resistance::temperature_factor, limits::{edition, shipped}, value::quantity::Amount};
/// let limits = edition(shipped(), "2018").unwrap();
/// let (factor, _) = temperature_factor(&limits, &Amount::parse("70 degC").unwrap()).unwrap();
/// assert_eq!(factor.normalize().to_string(), "1.2");
/// ```
pub fn temperature_factor<'a>(limits: &'a Limits, temperature: &Amount) -> Result<(Decimal, &'a Row), String> {
    let least = limits.row(Table::CopperTemperature, "least")?;
    let greatest = limits.row(Table::CopperTemperature, "greatest")?;
    let celsius = temperature.value();
    if celsius < least.value.value() || greatest.value.value() < celsius {
        return Err(format!(
            "`{temperature}` is outside {} to {}",
            least.value, greatest.value
        ));
    }
    let row = limits.row(Table::CopperCoefficient, "20 degC base")?;
    let factor = Decimal::ONE + row.value.value() * (celsius - Decimal::from(20));
    if factor <= Decimal::ZERO {
        return Err(format!(
            "the coefficient `{}` makes nothing of a resistance at `{temperature}`",
            row.value
        ));
    }
    Ok((factor, row))
}

/// Ohms a metre of two conductors in series at 20 °C, with the rows they come from.
pub fn pair_per_metre<'a>(
    limits: &'a Limits,
    table: Table,
    sizes: [&Amount; 2],
) -> Result<(Decimal, [&'a Row; 2]), String> {
    let row = |size: &Amount| limits.row(table, &size.to_string());
    let rows = [row(sizes[0])?, row(sizes[1])?];
    Ok((rows[0].value.value() + rows[1].value.value(), rows))
}

/// Ohms that a length reads, exact.
pub fn of_length(per_metre: Decimal, metres: Decimal, factor: Decimal) -> Decimal {
    per_metre * metres * factor
}

/// Metres that a reading means, its leads subtracted; at least this many, since table figures are greatest values.
///
/// ```
/// use coreproof::judge::resistance::length;
/// let metres = length("0.362".parse().unwrap(), "0.0362".parse().unwrap(), "1".parse().unwrap());
/// assert_eq!(metres.normalize().to_string(), "10");
/// ```
pub fn length(ohms: Decimal, per_metre: Decimal, factor: Decimal) -> Decimal {
    assert!(
        Decimal::ZERO < per_metre * factor,
        "a conductor has resistance at every temperature of the coefficient"
    );
    ohms / (per_metre * factor)
}

/// R2 alone from R1+R2 and the two areas: the resistance is shared in the inverse ratio of the areas.
pub fn earth_share(sum: Decimal, line_area: Decimal, earth_area: Decimal) -> Decimal {
    sum * line_area / (line_area + earth_area)
}

/// The resistance of the same length of another area, by the ratio of the areas.
pub fn by_area(ohms: Decimal, area: Decimal, other_area: Decimal) -> Decimal {
    ohms * area / other_area
}

/// R1+R2 at any point of a ring, from its two end-to-end resistances.
pub fn ring(line: Decimal, earth: Decimal) -> Decimal {
    (line + earth) / Decimal::from(4)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::judge::rounding::edge;
    use crate::limits::{edition, shipped};

    fn decimal(text: &str) -> Decimal {
        text.parse().unwrap()
    }

    fn pair(line: &str, earth: &str) -> Decimal {
        let limits = edition(shipped(), "2018+A2:2022").unwrap();
        let size = |text| Amount::parse(text).unwrap();
        pair_per_metre(&limits, Table::ConductorClass1And2, [&size(line), &size(earth)])
            .unwrap()
            .0
    }

    #[test]
    fn w2_1_twenty_two_metres_of_two_and_a_half() {
        // a worked example of inspection and testing courses: R1 0.163, R2 0.266, R1+R2 0.429 ohm
        let limits = edition(shipped(), "2018+A2:2022").unwrap();
        let one = |size| {
            let row = limits.row(Table::ConductorClass1And2, size).unwrap();
            of_length(row.value.value(), decimal("22"), Decimal::ONE)
        };
        assert_eq!(edge(one("2.5 mm2")).to_string(), "0.163 ohm");
        assert_eq!(edge(one("1.5 mm2")).to_string(), "0.266 ohm");
        let both = of_length(pair("2.5 mm2", "1.5 mm2"), decimal("22"), Decimal::ONE);
        assert_eq!(edge(both).to_string(), "0.429 ohm");
    }

    #[test]
    fn w2_2_by_the_ratio_of_the_areas() {
        // the same course: 0.163 x 1.67 = 0.27 ohm, which agrees to two figures
        let r2 = by_area(decimal("0.163"), decimal("2.5"), decimal("1.5"));
        assert_eq!(r2.round_dp(2).to_string(), "0.27");
    }

    #[test]
    fn w2_3_and_w2_4_fifty_metres_of_flat_cable() {
        // a printed guide to the wiring rules, tables of its Appendix 4
        let cases = [
            ("1.5 mm2", "1.0 mm2", "1.51", 2),
            ("2.5 mm2", "1.5 mm2", "0.98", 2),
            ("4 mm2", "1.5 mm2", "0.84", 2),
            ("6 mm2", "2.5 mm2", "0.52", 2),
            ("10 mm2", "4 mm2", "0.32", 2),
        ];
        for (line, earth, printed, decimals) in cases {
            let ohms = of_length(pair(line, earth), decimal("50"), Decimal::ONE);
            assert_eq!(ohms.round_dp(decimals).to_string(), printed, "{line}/{earth}");
        }
        // 4.23 mohm/m x 50 m = 0.2115 ohm: the guide prints 0.211, rounded down at the half
        let ohms = of_length(pair("16 mm2", "6 mm2"), decimal("50"), Decimal::ONE);
        assert_eq!(ohms.normalize().to_string(), "0.2115");
        assert_eq!(edge(ohms).to_string(), "0.212 ohm");
    }

    #[test]
    fn w2_5_the_earth_core_alone() {
        // 0.35 ohm in 2.5/1.5 mm2: 0.35 x 2.5 / 4 = 0.219 ohm; formula and inputs from an electrical reference page
        let r2 = earth_share(decimal("0.35"), decimal("2.5"), decimal("1.5"));
        assert_eq!(r2.normalize().to_string(), "0.21875");
    }

    #[test]
    fn w3_1_a_ring() {
        // r1 0.54, r2 0.54 x 1.67 = 0.90: (0.54 + 0.90) / 4 = 0.36 ohm, a worked example of a trade forum
        assert_eq!(ring(decimal("0.54"), decimal("0.90")).normalize().to_string(), "0.36");
        assert_eq!(
            by_area(decimal("0.54"), decimal("2.5"), decimal("1.5"))
                .round_dp(2)
                .to_string(),
            "0.90"
        );
    }

    #[test]
    fn w3_2_and_w3_3_length_from_resistance() {
        // computed from IEC 60228: 0.362 ohm of 1.0/1.0 is 10.0 m, 0.30 ohm of two 1.5 mm2 cores is 12.4 m
        for (ohms, line, earth, metres) in [
            ("0.362", "1.0 mm2", "1.0 mm2", "10.0"),
            ("0.30", "1.5 mm2", "1.5 mm2", "12.4"),
        ] {
            let found = length(decimal(ohms), pair(line, earth), Decimal::ONE);
            assert_eq!(found.round_dp(1), decimal(metres), "{ohms}");
        }
        // read at 5 degC the same cable is longer than it seems: R20 = Rt / 0.94
        let (cold, metres) = (decimal("0.94"), decimal("18"));
        let read = of_length(pair("1.0 mm2", "1.0 mm2"), metres, cold);
        assert_eq!(length(read, pair("1.0 mm2", "1.0 mm2"), cold), metres);
    }

    #[test]
    fn a_temperature_beyond_the_coefficient_is_refused() {
        let limits = edition(shipped(), "2018+A2:2022").unwrap();
        for (text, expected) in [
            ("90.1 degC", "`90.1 degC` is outside -20 degC to 90 degC"),
            ("-21 degC", "`-21 degC` is outside -20 degC to 90 degC"),
        ] {
            let temperature = Amount::parse(text).unwrap();
            assert_eq!(temperature_factor(&limits, &temperature).unwrap_err(), expected);
        }
        let mut wild = (*limits).clone();
        for row in wild.rows.iter_mut().filter(|r| r.table == Table::CopperCoefficient) {
            row.value = Amount::parse("0.1 /degC").unwrap();
        }
        assert_eq!(
            temperature_factor(&wild, &Amount::parse("10 degC").unwrap()).unwrap_err(),
            "the coefficient `0.1 /degC` makes nothing of a resistance at `10 degC`"
        );
    }
}
