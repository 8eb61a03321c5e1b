//! Earth fault loops: what a device allows, what a circuit comes to, and how long a cable may be.
//!
//! The rule inside: a limit follows from U0, Cmin and the device's operating current; where a table prints it, the printed
//! figure judges and the quotient checks it. A measured, cold value is compared with 0.8 of the limit, a value calculated at
//! operating temperature with the whole of it, never both; residual-current limits take neither.

use rust_decimal::Decimal;

use super::rounding::{edge, printed_against, shown};
use crate::limits::{Basis, Confidence, Limits, Table};
use crate::value::quantity::{Amount, Unit};

/// An overcurrent device as the tables name it.
#[derive(Debug, Clone, PartialEq, Eq, serde::Serialize)]
pub struct Device {
    /// `BS 1362`, `BS 88-3 C`, `type B`.
    pub device: String,
    /// Rated current.
    pub rating: Amount,
}

impl Device {
    /// The name of its rows.
    pub fn row(&self) -> String {
        format!("{} {}", self.device, self.rating)
    }
}

/// How fast a device has to disconnect.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default, serde::Serialize)]
pub enum Disconnection {
    /// 0.4 s, final circuits of a TN system.
    #[default]
    Final,
    /// 5 s, distribution circuits of a TN system.
    Distribution,
}

/// How a loop impedance was come by.
#[derive(Debug, Clone, Copy, PartialEq, Eq, serde::Serialize)]
pub enum Come {
    /// Measured with the conductors at the temperature of the place.
    MeasuredCold,
    /// Calculated with the conductors at the temperature they have under load.
    CalculatedHot,
}

/// The greatest loop impedance for a device.
#[derive(Debug, Clone, PartialEq, Eq, serde::Serialize)]
pub struct LoopLimit {
    /// The figure that judges: as printed, else the quotient to the nearest milliohm.
    pub limit: Amount,
    /// U0 x Cmin / Ia, where the operating current is known.
    pub exact: Option<Decimal>,
    /// Where the printed figure is not the quotient, and what was done.
    pub note: Option<String>,
    /// 0.8 of the limit of an overcurrent device; `None` for a residual-current device.
    pub field: Option<Amount>,
    /// The rows that the limit was made of, for the record.
    pub basis: Vec<Basis>,
}

impl LoopLimit {
    /// The limit that a value has to keep.
    pub fn against(&self, come: Come) -> &Amount {
        match (come, &self.field) {
            (Come::MeasuredCold, Some(field)) => field,
            (Come::MeasuredCold | Come::CalculatedHot, _) => &self.limit,
        }
    }
}

/// The limit of an overcurrent device at a nominal voltage to earth; an untabulated rating is refused with the nearest.
///
/// ```
/// use coreproof::judge::earth_loop::{Device, Disconnection, device_limit};
/// use coreproof::{limits::{edition, shipped}, value::quantity::Amount};
/// let amount = |text| Amount::parse(text).unwrap();
/// let limits = edition(shipped(), "2018+A2:2022").unwrap();
/// let device = Device { device: "type B".into(), rating: amount("32 A") };
/// let found = device_limit(&limits, &amount("230 V"), &device, Disconnection::Final).unwrap();
/// assert_eq!(found.limit.to_string(), "1.37 ohm");
/// assert_eq!(found.field.unwrap().to_string(), "1.096 ohm");
/// ```
pub fn device_limit(
    limits: &Limits,
    nominal: &Amount,
    device: &Device,
    within: Disconnection,
) -> Result<LoopLimit, String> {
    let (row, standard_voltage) = (device.row(), limits.row(Table::LoopFormula, "U0")?);
    let cmin = limits.row(Table::LoopFormula, "Cmin")?;
    let at_standard = standard_voltage.value.value() == nominal.value();
    let table = match within {
        Disconnection::Final => Table::LoopImpedance,
        Disconnection::Distribution => Table::LoopImpedance5s,
    };
    let printed = limits.row(table, &row).ok().filter(|_| at_standard);
    let current = match within {
        Disconnection::Final => limits.row(Table::OperatingCurrent, &row),
        Disconnection::Distribution => Err(String::new()),
    };
    let exact = current
        .as_ref()
        .ok()
        .map(|ia| nominal.value() * cmin.value.value() / ia.value.value());
    let (limit, note, mut basis) = match (printed, exact, &current) {
        (Some(printed), exact, _) => {
            let note = exact.and_then(|exact| printed_against(&printed.value, exact));
            (printed.value.clone(), note, vec![printed.basis()])
        }
        (None, Some(exact), Ok(ia)) => (edge(exact), None, vec![ia.basis(), cmin.basis()]),
        (None, _, _) => return Err(not_tabulated(limits, nominal, &row, table, at_standard)),
    };
    let factor = limits.row(Table::LoopFormula, "field factor")?;
    basis.push(factor.basis());
    if let Some(note) = &note {
        basis.push(Basis {
            what: note.clone(),
            source: "U0 x Cmin / Ia".into(),
            confidence: Confidence::Computed,
        });
    }
    let field = Some(edge(limit.value() * factor.value.value()));
    Ok(LoopLimit {
        limit,
        exact,
        note,
        field,
        basis,
    })
}

/// Why there is no limit, with the nearest choices of the table that would have had it.
fn not_tabulated(limits: &Limits, nominal: &Amount, row: &str, table: Table, at_standard: bool) -> String {
    let lacking = match table {
        Table::LoopImpedance => limits.row(Table::OperatingCurrent, row),
        _ if at_standard => limits.row(table, row),
        _ => Err(format!(
            "no limit of `{row}` for a nominal `{nominal}`: the 5 s table is for 230 V, and operating currents for 5 s are not known"
        )),
    };
    lacking.err().unwrap_or_else(|| format!("no limit of `{row}`"))
}

/// The limit of a residual-current device: 50 V over its operating current, as printed where it is.
pub fn residual_limit(limits: &Limits, operating: &Amount) -> Result<LoopLimit, String> {
    let printed = limits.row(Table::ResidualLoop, &operating.to_string())?;
    let touch = limits.row(Table::ResidualLoop, "touch voltage")?;
    let exact = touch.value.value() / operating.value();
    Ok(LoopLimit {
        limit: printed.value.clone(),
        exact: Some(exact),
        note: printed_against(&printed.value, exact),
        field: None,
        basis: vec![printed.basis()],
    })
}

/// Zs = Ze + (R1+R2), in ohms.
///
/// ```
/// use coreproof::judge::earth_loop::zs;
/// let ohms = |text: &str| text.parse().unwrap();
/// assert_eq!(zs(ohms("0.35"), ohms("0.429")).to_string(), "0.779");
/// ```
pub fn zs(external: Decimal, line_and_earth: Decimal) -> Decimal {
    external + line_and_earth
}

/// Prospective fault current of a nominal voltage over an impedance, to the nearest ampere.
pub fn fault_current(nominal: Decimal, impedance: Decimal) -> Option<Amount> {
    let current = nominal.checked_div(impedance)?;
    Some(shown(current, Unit::Ampere, 0))
}

/// The longest cable, in metres rounded down to 0.1 m, whose loop at operating temperature keeps the limit; nothing where the
/// outside loop alone is at or above it. `factor` leads from 20 °C to operating temperature.
///
/// ```
/// use coreproof::judge::earth_loop::longest;
/// let d = |text: &str| text.parse().unwrap();
/// // (1.37 - 0.35) / (0.01951 x 1.2) = 43.57 m of 2.5/1.5 mm2 on a 32 A type B circuit-breaker
/// assert_eq!(longest(d("1.37"), d("0.35"), d("0.01951"), d("1.20")).unwrap().to_string(), "43.5 m");
/// assert_eq!(longest(d("0.3"), d("0.35"), d("0.01951"), d("1.20")), None);
/// ```
pub fn longest(limit: Decimal, external: Decimal, per_metre: Decimal, factor: Decimal) -> Option<Amount> {
    let left = limit - external;
    if left <= Decimal::ZERO {
        return None;
    }
    let metres = left.checked_div(per_metre * factor)?;
    let floor = metres.round_dp_with_strategy(1, rust_decimal::RoundingStrategy::ToZero);
    Some(Amount::new(floor.normalize(), Unit::Metre))
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::judge::resistance::{of_length, pair_per_metre};
    use crate::limits::{edition, shipped};

    fn decimal(text: &str) -> Decimal {
        text.parse().unwrap()
    }

    fn amount(text: &str) -> Amount {
        Amount::parse(text).unwrap()
    }

    fn limit(
        of_edition: &str,
        volts: &str,
        device: &str,
        rating: &str,
        within: Disconnection,
    ) -> Result<LoopLimit, String> {
        let device = Device {
            device: device.into(),
            rating: amount(rating),
        };
        device_limit(
            &edition(shipped(), of_edition).unwrap(),
            &amount(volts),
            &device,
            within,
        )
    }

    #[test]
    fn w4_1_thirty_two_ampere_type_b() {
        // 230 V x 0.95 / 160 A = 1.3656, printed 1.37; x 0.8 = 1.0925 exactly, 1.096 from the printed figure
        let found = limit("2018+A2:2022", "230 V", "type B", "32 A", Disconnection::Final).unwrap();
        let exact = found.exact.unwrap();
        assert_eq!(exact, decimal("1.365625"));
        assert_eq!((exact * decimal("0.8")).normalize().to_string(), "1.0925");
        assert_eq!(found.limit.to_string(), "1.37 ohm");
        let field = found.field.clone().unwrap();
        assert_eq!(field.to_string(), "1.096 ohm");
        assert_eq!(field.value().round_dp(2).to_string(), "1.10");
        assert_eq!(field.value().trunc_with_scale(2).to_string(), "1.09");
        assert_eq!(
            found.note.as_deref(),
            Some("printed 1.37 ohm, rounded up past the exact quotient 1.365625 ohm; the printed value is kept")
        );
        assert_eq!(found.against(Come::CalculatedHot).to_string(), "1.37 ohm");
        assert_eq!(found.against(Come::MeasuredCold).to_string(), "1.096 ohm");
    }

    #[test]
    fn w4_2_twenty_ampere_fuse_before_cmin() {
        // 20 A BS 88-3 with 113 A and no Cmin: 2.04 ohm, a worked example of trade guidance on A1:2011
        let found = limit("2008", "230 V", "BS 88-3 C", "20 A", Disconnection::Final).unwrap();
        assert_eq!(found.limit.to_string(), "2.04 ohm");
        assert_eq!(found.exact.unwrap().round_dp(2).to_string(), "2.04");
    }

    #[test]
    fn w4_3_field_limit_of_a_thirty_two_ampere_fuse() {
        // trade guidance prints 0.72 ohm, 0.8 of 0.91 rounded down
        let found = limit("2018+A2:2022", "230 V", "BS 88-3 C", "32 A", Disconnection::Final).unwrap();
        let field = found.field.unwrap();
        assert_eq!(field.to_string(), "0.728 ohm");
        assert_eq!(field.value().trunc_with_scale(2).to_string(), "0.72");
    }

    #[test]
    fn w4_4_zs_from_ze_and_the_cable() {
        // Ze 0.35 + 22 m of 2.5/1.5: 0.779 ohm at 20 degC, 0.865 ohm with the factor 1.20 on the cable
        let limits = edition(shipped(), "2018+A2:2022").unwrap();
        let sizes = [&amount("2.5 mm2"), &amount("1.5 mm2")];
        let (pair, _) = pair_per_metre(&limits, Table::ConductorClass1And2, sizes).unwrap();
        let cable = of_length(pair, decimal("22"), Decimal::ONE);
        assert_eq!(edge(zs(decimal("0.35"), cable)).to_string(), "0.779 ohm");
        let hot = limits.row(Table::OperatingTemperature, "70 degC, in a cable").unwrap();
        assert_eq!(
            edge(zs(decimal("0.35"), cable * hot.value.value())).to_string(),
            "0.865 ohm"
        );
    }

    #[test]
    fn w4_5_prospective_fault_current() {
        for (ohms, amperes) in [("0.35", "657 A"), ("0.28", "821 A"), ("0.20", "1150 A")] {
            let current = fault_current(decimal("230"), decimal(ohms)).unwrap();
            assert_eq!(current.to_string(), amperes);
        }
        assert_eq!(fault_current(decimal("230"), Decimal::ZERO), None);
    }

    #[test]
    fn w4_6_the_greater_of_earth_and_neutral_fault_is_the_prospective_one() {
        // a page on the wiring rules: single phase, the greater of line-earth and line-neutral; three phases, twice line-neutral as
        // a rule of thumb that covers the square root of three
        let earth = fault_current(decimal("230"), decimal("0.35")).unwrap();
        let neutral = fault_current(decimal("230"), decimal("0.20")).unwrap();
        assert_eq!(earth.value().max(neutral.value()), decimal("1150"));
        let line_to_line = fault_current(decimal("230") * decimal("1.7320508"), decimal("0.20")).unwrap();
        assert_eq!(line_to_line.to_string(), "1992 A");
        assert!(line_to_line.value() <= neutral.value() * Decimal::TWO);
    }

    #[test]
    fn residual_limits_take_no_field_factor() {
        let limits = edition(shipped(), "2018+A2:2022").unwrap();
        for (operating, ohms, note) in [
            (
                "30 mA",
                "1667 ohm",
                Some("printed 1667 ohm, rounded up past the exact quotient 1666.666667 ohm; the printed value is kept"),
            ),
            ("100 mA", "500 ohm", None),
            ("500 mA", "100 ohm", None),
        ] {
            let found = residual_limit(&limits, &amount(operating)).unwrap();
            assert_eq!(found.against(Come::MeasuredCold).to_string(), ohms);
            assert_eq!(found.field, None);
            assert_eq!(found.note.as_deref(), note);
        }
    }

    #[test]
    fn what_is_not_tabulated_is_refused_with_the_nearest() {
        let of = "2018+A2:2022";
        let cases = [
            (
                limit(of, "230 V", "BS 1362", "5 A", Disconnection::Final).unwrap_err(),
                "no row `BS 1362 5 A` in the table of operating current; nearest are `BS 1362 3 A` and `BS 1362 13 A`",
            ),
            (
                limit(of, "230 V", "type B", "200 A", Disconnection::Final).unwrap_err(),
                "no row `type B 200 A` in the table of operating current; nearest is `type B 125 A`",
            ),
            (
                limit(of, "230 V", "type Q", "6 A", Disconnection::Final).unwrap_err(),
                "no row `type Q 6 A` in the table of operating current; it has `BS 1362 \u{2026}`, `BS 3036 \u{2026}`, `BS 88-3 C \u{2026}`, `BS 88-2 gG \u{2026}`, `type B \u{2026}`, `type C \u{2026}`, `type D \u{2026}`",
            ),
            (
                limit(of, "230 V", "BS 1362", "5 A", Disconnection::Distribution).unwrap_err(),
                "no row `BS 1362 5 A` in the table of loop impedance, 5 s; nearest are `BS 1362 3 A` and `BS 1362 13 A`",
            ),
            (
                limit(of, "120 V", "BS 1362", "3 A", Disconnection::Distribution).unwrap_err(),
                "no limit of `BS 1362 3 A` for a nominal `120 V`: the 5 s table is for 230 V, and operating currents for 5 s are not known",
            ),
        ];
        for (found, expected) in cases {
            assert_eq!(found, expected);
        }
        let limits = edition(shipped(), of).unwrap();
        assert_eq!(
            residual_limit(&limits, &amount("50 mA")).unwrap_err(),
            "no row `50 mA` in the table of loop impedance, residual current; nearest are `30 mA` and `100 mA`"
        );
    }

    #[test]
    fn another_nominal_voltage_takes_the_formula_not_the_table() {
        // 240 V x 0.95 / 14 A = 16.2857
        let found = limit("2018+A2:2022", "240 V", "BS 1362", "3 A", Disconnection::Final).unwrap();
        assert_eq!(found.limit.to_string(), "16.286 ohm");
    }
}
