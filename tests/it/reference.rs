//! The calculations against reference values that `fixtures/reference/make.py` made with pint, scipy, uncertainties and GTC.

use rust_decimal::Decimal;
use serde_json::Value;

use coreproof::judge::ghost::Coupling;
use coreproof::judge::insulation::parallel;
use coreproof::judge::propagate::Inputs;
use coreproof::judge::resistance::{of_length, pair_per_metre, temperature_factor};
use coreproof::judge::risk::outside;
use coreproof::limits::{Limits, Table, edition, shipped};
use coreproof::value::quantity::Amount;

fn reference() -> Value {
    serde_json::from_str(include_str!("../../fixtures/reference/values.json")).unwrap()
}

fn decimal(value: &Value) -> Decimal {
    value.as_str().unwrap().parse().unwrap()
}

fn float(value: &Value) -> f64 {
    value.as_f64().unwrap()
}

fn text(value: &Value) -> &str {
    value.as_str().unwrap()
}

fn list<'a>(value: &'a Value, key: &str) -> &'a [Value] {
    let list = value[key].as_array().unwrap();
    assert!(!list.is_empty(), "{key}");
    list
}

fn limits(of: &str) -> std::sync::Arc<Limits> {
    edition(shipped(), of).unwrap()
}

fn table(kind: &str) -> Table {
    match kind {
        "class 5" => Table::ConductorClass5,
        _ => Table::ConductorClass1And2,
    }
}

#[test]
fn conductors_agree_with_a_second_transcription() {
    let (values, limits) = (reference(), limits("2018+A2:2022"));
    let mut seen = 0;
    for (kind, rows) in values["conductors"].as_object().unwrap() {
        for (size, per_km) in rows.as_object().unwrap() {
            let row = limits.row(table(kind), &format!("{size} mm2")).unwrap();
            assert_eq!(
                row.value.value() * Decimal::ONE_THOUSAND,
                decimal(per_km),
                "{kind} {size}"
            );
            seen += 1;
        }
    }
    assert_eq!(seen, 22);
}

#[test]
fn r1_and_r2_are_summed_to_what_the_guides_print() {
    let (values, limits) = (reference(), limits("2018+A2:2022"));
    for (kind, rows) in values["sums"].as_object().unwrap() {
        for (pair, milliohms) in rows.as_object().unwrap() {
            let (line, earth) = pair.split_once('/').unwrap();
            let size = |s: &str| Amount::parse(&format!("{s} mm2")).unwrap();
            let (sum, _) = pair_per_metre(&limits, table(kind), [&size(line), &size(earth)]).unwrap();
            assert_eq!(sum * Decimal::ONE_THOUSAND, decimal(milliohms), "{kind} {pair}");
        }
    }
}

#[test]
fn resistances_agree_with_pint() {
    let (values, limits) = (reference(), limits("2018+A2:2022"));
    for case in list(&values, "resistances") {
        let size = |key: &str| Amount::parse(&format!("{} mm2", text(&case[key]))).unwrap();
        let (sum, _) = pair_per_metre(&limits, table(text(&case["kind"])), [&size("line"), &size("earth")]).unwrap();
        let celsius = Amount::parse(&format!("{} degC", text(&case["celsius"]))).unwrap();
        let (factor, _) = temperature_factor(&limits, &celsius).unwrap();
        assert_eq!(
            of_length(sum, decimal(&case["metres"]), factor),
            decimal(&case["ohms"]),
            "{case}"
        );
    }
}

#[test]
fn temperature_factors_are_the_printed_ones_to_three_figures() {
    let (values, limits) = (reference(), limits("2018+A2:2022"));
    for (celsius, printed) in values["to_twenty"].as_object().unwrap() {
        let celsius = Amount::parse(&format!("{celsius} degC")).unwrap();
        let (factor, _) = temperature_factor(&limits, &celsius).unwrap();
        // 15 degC is printed 1.020 for 1.0204: half a unit of the third decimal
        let off = (Decimal::ONE / factor - decimal(printed)).abs();
        assert!(off <= Decimal::new(5, 4), "{celsius}: {printed}");
    }
}

#[test]
fn loop_impedances_of_2008_agree_with_a_second_transcription() {
    let (values, limits) = (reference(), limits("2008"));
    let printed = values["printed_2008"].as_object().unwrap();
    for (of, ohms) in printed {
        let row = limits.row(Table::LoopImpedance, of).unwrap();
        assert_eq!(row.value.digits.text(), text(ohms), "{of}");
    }
    // and nothing but one row of an amendment stands beside them
    let mine = limits.rows.iter().filter(|r| r.table == Table::LoopImpedance).count();
    assert_eq!((printed.len(), mine), (53, 54));
}

#[test]
fn breaker_quotients_agree_with_pint() {
    let values = reference();
    for case in list(&values, "quotients") {
        let limits = limits(text(&case["edition"]));
        let row = |table, of: &str| limits.row(table, of).unwrap().value.value();
        let exact = row(Table::LoopFormula, "U0") * row(Table::LoopFormula, "Cmin")
            / row(Table::OperatingCurrent, text(&case["of"]));
        assert!((exact - decimal(&case["ohms"])).abs() < Decimal::new(1, 8), "{case}");
    }
}

#[test]
fn risks_agree_with_scipy() {
    for case in list(&reference(), "risks") {
        let edge = |key: &str| case[key].as_f64();
        let found = outside(float(&case["y"]), float(&case["u"]), edge("low"), edge("high"));
        let expected = float(&case["outside"]);
        let off = (found - expected).abs();
        assert!(off <= 1e-9 * expected + 1e-15, "{case}: {found}");
    }
}

#[test]
fn parallel_insulation_agrees_with_pint() {
    for case in list(&reference(), "parallels") {
        let members: Vec<Decimal> = list(case, "megohms")
            .iter()
            .map(|m| m.as_i64().unwrap().into())
            .collect();
        let found = parallel(&members).unwrap();
        assert!(
            (found - decimal(&case["together"])).abs() < Decimal::new(1, 11),
            "{case}"
        );
    }
}

#[test]
fn ghosts_agree_with_complex_arithmetic() {
    for case in list(&reference(), "ghosts") {
        let mut coupling = Coupling::of_length(230.0, 50.0, float(&case["metres"]), 100.0);
        coupling.to_earth = float(&case["to_earth"]);
        let (found, expected) = (coupling.shown(float(&case["ohms"])), float(&case["volts"]));
        assert!((found - expected).abs() < 1e-6, "{case}: {found}");
    }
}

#[test]
fn propagation_agrees_with_gtc_and_uncertainties() {
    let values = reference();
    let gum = &values["gum_h2"];
    let (v, i, phi) = (4.999_f64, 0.019_661_f64, 1.044_46_f64);
    let inputs = Inputs {
        standard_uncertainty: vec![3.2e-3, 9.5e-6, 7.5e-4],
        correlation: vec![(0, 1, -0.36), (0, 2, 0.86), (1, 2, -0.65)],
    };
    let derivatives = [
        ("R", [phi.cos() / i, -v * phi.cos() / (i * i), -v * phi.sin() / i]),
        ("X", [phi.sin() / i, -v * phi.sin() / (i * i), v * phi.cos() / i]),
        ("Z", [1.0 / i, -v / (i * i), 0.0]),
    ];
    for (name, by) in &derivatives {
        assert!((inputs.combined(by) - float(&gum["u"][*name])).abs() < 1e-9, "{name}");
    }
    for (a, b) in [(0, 1), (0, 2), (1, 2)] {
        let ((first, x), (second, y)) = (&derivatives[a], &derivatives[b]);
        let found = inputs.covariance(x, y) / inputs.combined(x) / inputs.combined(y);
        assert!(
            (found - float(&gum["r"][format!("{first}{second}")])).abs() < 1e-9,
            "{first}{second}"
        );
    }
    let both = Inputs::independent(&[0.02, 0.01]);
    assert!((both.combined(&[1.0, 1.0]) - float(&values["loop"]["zs"][1])).abs() < 1e-12);
    let slope = -230.0 / (0.779 * 0.779);
    assert!((both.combined(&[slope, slope]) - float(&values["loop"]["current"][1])).abs() < 1e-9);
}
