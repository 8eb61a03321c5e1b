//! What an instrument in good order shows: the prefix and digits of its display, and the line that an engineer types from it.
//!
//! The rule inside: a display rounds; nothing here settles, flickers or is told what is wanted.

use super::installation::Installation;
use super::wiring::float;
use crate::plan::{Leads, Measure};
use crate::value::quantity::{Amount, Prefix, Unit};
use crate::value::reading::Function;

/// Resistance of both leads together, in ohms. Our own choice: short leads in good order.
const OWN_LEADS_OHMS: f64 = 0.04;
/// Resistance of a long lead and one of the tester's own, in ohms. Our own choice: 25 m of 1.0 mm2 flex have 0.49 ohm (IEC 60228).
const LONG_LEADS_OHMS: f64 = 0.51;
/// Input resistance of a voltmeter that the job does not describe, in ohms. Our own choice: an ordinary multimeter.
pub const INPUT_OHMS: f64 = 10e6;
/// Counts of the display: a range ends at 1999 of its last digit.
const COUNTS: f64 = 1999.5;

/// Resistance of a set of leads, in ohms.
pub fn leads_ohms(leads: Leads) -> f64 {
    match leads {
        Leads::Own => OWN_LEADS_OHMS,
        Leads::Long => LONG_LEADS_OHMS,
    }
}

/// The prefix a meter shows a value in, out of those it can name: insulation in megohms, resistance by size, everything else
/// plain.
pub fn prefix(function: Function, value: f64, prefixes: &[Prefix]) -> Prefix {
    let usual: &[Prefix] = match function {
        Function::Insulation(_) => &[Prefix::Mega, Prefix::One],
        Function::Resistance => &[Prefix::One, Prefix::Kilo, Prefix::Mega],
        Function::ResidualTrip(_) => &[Prefix::Milli, Prefix::One],
        _ => &[Prefix::One],
    };
    let can = || usual.iter().filter(|prefix| prefixes.contains(prefix));
    let fits = can().find(|prefix| value / float(prefix.factor()) < COUNTS);
    let any = fits.or_else(|| can().next_back()).or(prefixes.first());
    any.copied().unwrap_or_default()
}

/// Decimals that the display has for a value in its prefix.
pub fn decimals(function: Function, value: f64) -> i32 {
    match function.unit() {
        Unit::Volt | Unit::Second => 1,
        _ => (0..=2)
            .rev()
            .find(|decimals| value * 10f64.powi(*decimals) < COUNTS)
            .unwrap_or(0),
    }
}

/// Whether over-range shows the top of the range, and not a bare mark: insulation, and trip tests, whose time is up.
pub fn says_top(function: Function) -> bool {
    matches!(function, Function::Insulation(_) | Function::ResidualTrip(_))
}

/// What an instrument shows, before rounding, of what stands at its terminals (ohms without leads, volts, or seconds), given whether it
/// nulls its leads. A long lead is never nulled: it is read and subtracted.
pub fn through_leads(function: Function, leads: Leads, terminals: f64, nulls: bool) -> f64 {
    match function {
        Function::Continuity | Function::Resistance if !nulls || leads == Leads::Long => terminals + leads_ohms(leads),
        _ => terminals,
    }
}

/// The line that is typed from a display at rest, when this stands at the instrument's terminals (ohms without leads, volts,
/// or seconds), its range ends at `ceiling`, and it `nulls` its leads or not.
///
/// ```
/// use coreproof::{model::meter::typed, plan::Leads, value::reading::Function};
/// assert_eq!(typed(Function::Continuity, Leads::Own, 0.617, None, false), "0.66 ohm");
/// assert_eq!(typed(Function::Continuity, Leads::Own, 0.617, None, true), "0.62 ohm");
/// assert_eq!(typed(Function::Continuity, Leads::Own, f64::INFINITY, None, true), "OL");
/// ```
pub fn typed(function: Function, leads: Leads, terminals: f64, ceiling: Option<&Amount>, nulls: bool) -> String {
    let value = through_leads(function, leads, terminals, nulls);
    let top = ceiling.map_or(1e12, |ceiling| float(ceiling.value()));
    if top < value || value.is_infinite() {
        return match ceiling {
            Some(ceiling) if says_top(function) => format!(">{ceiling}"),
            _ => "OL".into(),
        };
    }
    let all = [Prefix::Milli, Prefix::One, Prefix::Kilo, Prefix::Mega, Prefix::Giga];
    let prefix = prefix(function, value, &all);
    let shown = value / float(prefix.factor());
    let decimals = usize::try_from(decimals(function, shown)).unwrap_or(0);
    format!("{shown:.decimals$} {}{}", prefix.letter(), function.unit())
}

impl Installation {
    /// What stands at the terminals of the instrument of a measurement, as [`Installation::shows`] gives it.
    pub fn at_terminals(&self, measure: &Measure) -> f64 {
        let input = measure.used.input.as_ref().map(|input| float(input.value()));
        self.shows(&measure.probes, measure.used.function, input.unwrap_or(INPUT_OHMS))
    }

    /// The line that is typed from the display of the instrument of a measurement, at rest.
    pub fn typed(&self, measure: &Measure) -> String {
        let used = &measure.used;
        typed(
            used.function,
            measure.probes.leads(),
            self.at_terminals(measure),
            used.ceiling.as_ref(),
            used.nulls,
        )
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::value::reading::{Multiple, Reading};

    #[test]
    fn ranges_have_their_digits() {
        const ALL: [Prefix; 4] = [Prefix::One, Prefix::Kilo, Prefix::Mega, Prefix::Giga];
        let check = |function, value: f64, expected: (Prefix, i32)| {
            let prefix = prefix(function, value, &ALL);
            let shown = (prefix, decimals(function, value / float(prefix.factor())));
            assert_eq!(shown, expected, "{value}");
        };
        check(Function::Continuity, 0.66, (Prefix::One, 2));
        check(Function::Continuity, 19.99, (Prefix::One, 2));
        check(Function::Continuity, 20.0, (Prefix::One, 1));
        check(Function::Continuity, 200.0, (Prefix::One, 0));
        check(Function::Insulation(500), 0.4e6, (Prefix::Mega, 2));
        check(Function::Insulation(500), 250e6, (Prefix::Mega, 0));
        check(Function::Resistance, 1203.0, (Prefix::One, 0));
        check(Function::Resistance, 12_030.0, (Prefix::Kilo, 2));
        check(Function::VoltageAc, 229.4, (Prefix::One, 1));
        assert_eq!(super::prefix(Function::Resistance, 5e6, &[Prefix::One]), Prefix::One);
    }

    #[test]
    fn what_is_typed_is_read_back() {
        let check = |function, value, ceiling: &str, typed_line: &str| {
            let ceiling = Amount::parse(ceiling).unwrap();
            let line = typed(function, Leads::Own, value, Some(&ceiling), false);
            assert_eq!(line, typed_line);
            assert!(Reading::typed(&line, function).is_ok(), "{line}");
        };
        check(Function::Insulation(500), 11e9, "299 Mohm", ">299 Mohm");
        check(Function::Insulation(500), 0.4e6, "299 Mohm", "0.40 Mohm");
        check(Function::Continuity, 1e9, "1999 ohm", "OL");
        check(Function::Continuity, 2.96, "1999 ohm", "3.00 ohm");
        check(Function::Resistance, 12_030.0, "40 Mohm", "12.03 kohm");
        check(Function::Loop, 0.7312, "1999 ohm", "0.73 ohm");
        check(Function::Loop, f64::INFINITY, "1999 ohm", "OL");
        check(Function::ResidualTrip(Multiple::Once), 0.024_31, "300 ms", "24.3 ms");
        check(Function::ResidualTrip(Multiple::Once), 0.42, "300 ms", ">300 ms");
        check(
            Function::ResidualTrip(Multiple::Half),
            f64::INFINITY,
            "1999 ms",
            ">1999 ms",
        );
    }
}
