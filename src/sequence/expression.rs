//! Figures worked out from the job by an expression, with units: `"supply.nominal * 0.9 - 2 V"`.
//!
//! The rule inside: exact decimals only, and a sum of two different quantities is refused where it stands. A grammar of four
//! operators, brackets, amounts and names; whatever else a figure needs belongs into the limits.

use std::collections::BTreeMap;

use rust_decimal::Decimal;

use crate::value::quantity::{Amount, Unit};

/// What may be written.
pub(super) const HINT: &str =
    "write amounts with units, names such as `supply.nominal`, `cable.length`, `parameter.run on`, and + - * / ( )";

/// How deep brackets may stand in each other.
const DEPTH_MAX: usize = 16;
/// The longest expression in characters.
const LENGTH_MAX: usize = 200;

/// A parsed expression.
#[derive(Debug, Clone, PartialEq, Eq)]
pub(super) enum Expression {
    Amount(Amount),
    Number(Decimal),
    Name(String),
    Two(Box<Expression>, Operator, Box<Expression>),
}

/// What joins two parts.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Operator {
    Plus,
    Minus,
    Times,
    Over,
}

/// A value with the exponents of its units.
#[derive(Debug, Clone, PartialEq, Eq)]
struct Value {
    value: Decimal,
    units: BTreeMap<Unit, i32>,
}

/// Reads an expression; the error says what was not understood.
pub(super) fn parse(text: &str) -> Result<Expression, String> {
    if LENGTH_MAX < text.chars().count() {
        return Err(format!("the expression has more than {LENGTH_MAX} characters"));
    }
    let mut parser = Parser {
        rest: text.trim_start(),
        depth: 0,
    };
    let found = parser.sum()?;
    if parser.rest.is_empty() {
        Ok(found)
    } else {
        Err(format!("`{}` is not understood at its end", parser.rest.escape_debug()))
    }
}

impl Expression {
    /// Works it out with what the names stand for, as an amount of this unit.
    ///
    /// Errors: a name that stands for nothing, quantities that do not go together, a division by nothing, another unit.
    pub(super) fn work_out(&self, unit: Unit, name: &impl Fn(&str) -> Option<Amount>) -> Result<Amount, String> {
        let found = self.value(name)?;
        if found.units != units_of(unit) {
            return Err(format!(
                "it comes to {}, {} is needed here",
                words(&found.units),
                unit.quantity()
            ));
        }
        Ok(Amount::new(found.value.normalize(), unit))
    }

    fn value(&self, name: &impl Fn(&str) -> Option<Amount>) -> Result<Value, String> {
        let of_amount = |amount: &Amount| Value {
            value: amount.value(),
            units: units_of(amount.unit),
        };
        match self {
            Expression::Amount(amount) => Ok(of_amount(amount)),
            Expression::Number(value) => Ok(Value {
                value: *value,
                units: BTreeMap::new(),
            }),
            Expression::Name(text) => {
                let found = name(text).ok_or_else(|| format!("the job gives no `{text}`"))?;
                Ok(of_amount(&found))
            }
            Expression::Two(a, operator, b) => joined(a.value(name)?, *operator, b.value(name)?),
        }
    }
}

fn joined(a: Value, operator: Operator, b: Value) -> Result<Value, String> {
    let too_large = || "the figure is larger than any that is reckoned with".to_owned();
    let sum = |value: Option<Decimal>| {
        if a.units != b.units {
            return Err(format!("{} and {} do not add up", words(&a.units), words(&b.units)));
        }
        Ok(Value {
            value: value.ok_or_else(too_large)?,
            units: a.units.clone(),
        })
    };
    let product = |value: Option<Decimal>, sign: i32| {
        let mut units = a.units.clone();
        for (unit, exponent) in &b.units {
            *units.entry(*unit).or_default() += sign * exponent;
        }
        units.retain(|_, exponent| *exponent != 0);
        Ok(Value {
            value: value.ok_or_else(too_large)?,
            units,
        })
    };
    match operator {
        Operator::Plus => sum(a.value.checked_add(b.value)),
        Operator::Minus => sum(a.value.checked_sub(b.value)),
        Operator::Times => product(a.value.checked_mul(b.value), 1),
        Operator::Over if b.value.is_zero() => Err("it divides by nothing".into()),
        Operator::Over => product(a.value.checked_div(b.value), -1),
    }
}

/// A unit as exponents of those that it is made of; factors and percentages have none.
fn units_of(unit: Unit) -> BTreeMap<Unit, i32> {
    match unit {
        Unit::Times | Unit::Percent => BTreeMap::new(),
        Unit::OhmPerMetre => BTreeMap::from([(Unit::Ohm, 1), (Unit::Metre, -1)]),
        Unit::PerCelsius => BTreeMap::from([(Unit::Celsius, -1)]),
        unit => BTreeMap::from([(unit, 1)]),
    }
}

fn words(units: &BTreeMap<Unit, i32>) -> String {
    match units.iter().next() {
        None => "a plain number".into(),
        Some((unit, 1)) if units.len() == 1 => unit.quantity().into(),
        _ => {
            let all: Vec<_> = units
                .iter()
                .map(|(unit, exponent)| format!("{unit}^{exponent}"))
                .collect();
            format!("`{}`", all.join(" "))
        }
    }
}

struct Parser<'a> {
    rest: &'a str,
    depth: usize,
}

impl Parser<'_> {
    fn take(&mut self, operators: &[(char, Operator)]) -> Option<Operator> {
        let first = self.rest.chars().next()?;
        let (_, operator) = operators.iter().find(|(sign, _)| *sign == first)?;
        self.rest = self.rest[1..].trim_start();
        Some(*operator)
    }

    fn sum(&mut self) -> Result<Expression, String> {
        let mut left = self.product()?;
        while let Some(operator) = self.take(&[('+', Operator::Plus), ('-', Operator::Minus)]) {
            left = Expression::Two(Box::new(left), operator, Box::new(self.product()?));
        }
        Ok(left)
    }

    fn product(&mut self) -> Result<Expression, String> {
        let mut left = self.one()?;
        while let Some(operator) = self.take(&[('*', Operator::Times), ('/', Operator::Over)]) {
            left = Expression::Two(Box::new(left), operator, Box::new(self.one()?));
        }
        Ok(left)
    }

    fn one(&mut self) -> Result<Expression, String> {
        if let Some(inner) = self.rest.strip_prefix('(') {
            self.depth += 1;
            if DEPTH_MAX < self.depth {
                return Err(format!("brackets stand more than {DEPTH_MAX} deep"));
            }
            self.rest = inner.trim_start();
            let found = self.sum()?;
            self.rest = self
                .rest
                .strip_prefix(')')
                .ok_or("a bracket is not closed")?
                .trim_start();
            self.depth -= 1;
            return Ok(found);
        }
        // a unit may hold a stroke (`ohm/m`), so an amount with one is written in brackets of its own by nobody: `0.0195 ohm/m`
        let end = self.rest.find(['+', '-', '*', '(', ')']).unwrap_or(self.rest.len());
        let whole = self.rest[..end].trim_end();
        let is_amount = whole.starts_with(|c: char| c.is_ascii_digit());
        if is_amount && let Ok(amount) = Amount::parse(whole) {
            self.rest = self.rest[end..].trim_start();
            return Ok(Expression::Amount(amount));
        }
        let end = self.rest[..end].find('/').unwrap_or(end);
        let word = self.rest[..end].trim_end();
        self.rest = &self.rest[end..];
        if word.is_empty() {
            return Err("an amount or a name is missing".into());
        }
        if !word.starts_with(|c: char| c.is_ascii_digit()) {
            return Ok(Expression::Name(word.to_owned()));
        }
        match word.parse::<Decimal>() {
            Ok(number) => Ok(Expression::Number(number)),
            Err(_) => Amount::parse(word).map(Expression::Amount),
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn names(name: &str) -> Option<Amount> {
        let text = match name {
            "supply.nominal" => "230 V",
            "cable.length" => "18 m",
            "parameter.run on" => "3 s",
            _ => return None,
        };
        Some(Amount::parse(text).unwrap())
    }

    fn check(text: &str, unit: Unit, expected: Result<&str, &str>) {
        let found = parse(text).and_then(|expression| expression.work_out(unit, &names));
        let found = found.map(|amount| amount.to_string());
        assert_eq!(found.as_deref().map_err(String::as_str), expected, "{text}");
    }

    #[test]
    fn figures_are_worked_out_with_their_units() {
        for (text, unit, expected) in [
            ("supply.nominal * 0.9", Unit::Volt, Ok("207 V")),
            ("supply.nominal - 2 V * 3", Unit::Volt, Ok("224 V")),
            ("(supply.nominal - 2 V) * 3", Unit::Volt, Ok("684 V")),
            ("2 * 0.0195 ohm/m * cable.length", Unit::Ohm, Ok("0.702 ohm")),
            ("parameter.run on + 1 s", Unit::Second, Ok("4 s")),
            ("supply.nominal / 2", Unit::Volt, Ok("115 V")),
            ("supply.nominal / 0", Unit::Volt, Err("it divides by nothing")),
            (
                "supply.nominal + 2 s",
                Unit::Volt,
                Err("a voltage and a time do not add up"),
            ),
            (
                "cable.length",
                Unit::Volt,
                Err("it comes to a length, a voltage is needed here"),
            ),
            (
                "supply.nominal * cable.length",
                Unit::Volt,
                Err("it comes to `V^1 m^1`, a voltage is needed here"),
            ),
            ("supply.colour", Unit::Volt, Err("the job gives no `supply.colour`")),
            (
                "230",
                Unit::Volt,
                Err("it comes to a plain number, a voltage is needed here"),
            ),
            ("2 V +", Unit::Volt, Err("an amount or a name is missing")),
            ("(2 V", Unit::Volt, Err("a bracket is not closed")),
            ("2 V)", Unit::Volt, Err("`)` is not understood at its end")),
            (
                "2 furlongs",
                Unit::Volt,
                Err(
                    "`furlongs` is not a unit known here: write one of `ohm`, `V`, `A`, `W`, `Hz`, `s`, `m`, `mm2`, `degC`, with `k`, `M` or `m` before it where it is needed",
                ),
            ),
        ] {
            check(text, unit, expected);
        }
    }

    #[test]
    fn depth_length_and_size_have_bounds() {
        let deep = format!("{}2 V{}", "(".repeat(20), ")".repeat(20));
        check(&deep, Unit::Volt, Err("brackets stand more than 16 deep"));
        check(
            &"9".repeat(201),
            Unit::Volt,
            Err("the expression has more than 200 characters"),
        );
        let large = "999999999999999 V * 999999999999999 * 999999999999999";
        check(
            large,
            Unit::Volt,
            Err("the figure is larger than any that is reckoned with"),
        );
    }
}
