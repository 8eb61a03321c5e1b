//! Whether an instrument can show what a step asks: a reading that runs off the end of its range must still pass or fail.
//!
//! The rule inside: over-range proves no more than the top of the range. Where that is less than the window asks, no reading of this
//! instrument decides the step, and a plan with such a step is refused before anybody has walked it.

use crate::job::instrument::Use;
use crate::judge::window::Window;
use crate::located::{Finding, Problem};
use crate::plan::{Kind, Plan, WindowRule};

/// Why the instrument cannot show what the window asks; `None` where it can.
pub(super) fn unshown(window: &Window, used: &Use) -> Option<String> {
    let dial = || format!("`{}` on {}", used.instrument, used.function.dial());
    if let (Some(least), Some(high)) = (&used.least, &window.high)
        && high.amount.value() < least.value()
    {
        return Some(format!(
            "{} shows nothing below {least}: it cannot show {}",
            dial(),
            window.words()
        ));
    }
    let top = used.ceiling.as_ref()?;
    match (&window.low, &window.high) {
        (_, Some(high)) if top.value() < high.amount.value() => Some(format!(
            "{} ends at {top}, below the window's end at {}: what is over its range is neither shown good nor bad",
            dial(),
            high.amount
        )),
        (Some(low), None) if top.value() < low.amount.value() => {
            Some(format!("{} ends at {top}: it cannot show {}", dial(), window.words()))
        }
        _ => None,
    }
}

/// Every step of a plan that none of the job's instruments can show. Reading a record does not ask this: what was walked is told.
pub(super) fn problems(plan: &Plan) -> Vec<Finding> {
    let of_step = |(i, step): (usize, &crate::plan::Step)| {
        let Kind::Measure(measure) = &step.kind else {
            return None;
        };
        let WindowRule::Fixed(window) = &measure.window else {
            return None;
        };
        let why = unshown(window, &measure.used)?;
        let (text, span) = plan.span(i);
        let hint = "list an instrument in the job whose range goes as far, with its `ceiling` from its data sheet";
        Some(text.finding(Problem::new(&span, why).hint(hint)))
    };
    plan.steps.iter().enumerate().filter_map(of_step).collect()
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::job;
    use crate::located::Text;
    use crate::sequence;

    /// The findings of the shipped sequence on the demonstration job with another instrument.
    fn check(from: &str, to: &str, expected: Option<&str>) {
        let text = crate::model::sample::JOB.replacen(from, to, 1);
        assert_ne!(text, crate::model::sample::JOB, "{from}");
        let job = job::read(&Text::new("saltmarsh.ron", text)).unwrap();
        let sequence = sequence::read(&sequence::shipped::texts("stat-cable").unwrap()).unwrap();
        let bound = sequence::bind(&sequence, &job);
        // a record of it is read all the same
        assert!(sequence::bind_unproved(&sequence, &job).is_ok());
        let first = bound
            .err()
            .and_then(|findings| findings.into_iter().next())
            .map(|finding| finding.problem.what);
        assert_eq!(first.as_deref(), expected, "{to}");
    }

    #[test]
    fn an_instrument_whose_range_ends_before_the_window_is_refused() {
        let continuity = "Continuity(ceiling: \"1999 ohm\"";
        for (to, expected) in [
            ("Continuity(ceiling: \"99.9 ohm\"", None),
            (
                "Continuity(ceiling: \"20 ohm\"",
                Some("`tester` on low-resistance continuity ends at 20 ohm: it cannot show more than 99.9 ohm"),
            ),
        ] {
            check(continuity, to, expected);
        }
        check(
            "ceiling: \"299 Mohm\"",
            "ceiling: \"0.5 Mohm\"",
            Some("`tester` on insulation at 500 V ends at 0.5 Mohm: it cannot show at least 1.0 Mohm"),
        );
        check(
            "Voltage(input: \"10 kohm\"",
            "Voltage(least: \"10 V\", input: \"10 kohm\"",
            Some("`tester` on a.c. volts shows nothing below 10 V: it cannot show at most 5 V"),
        );
    }

    #[test]
    fn what_is_over_a_range_below_the_upper_edge_would_be_neither_good_nor_bad() {
        let window = |high: &str| {
            let high = crate::value::quantity::Amount::parse(high).unwrap();
            Window::new(None, Some(high.clone()), high.unit, Vec::new())
        };
        let limits = crate::limits::edition(crate::limits::shipped(), "2018+A2:2022").unwrap();
        let job = crate::model::sample::job();
        let used = job::instrument::choose(&job.instruments, crate::value::reading::Function::Loop, &limits).unwrap();
        assert_eq!(unshown(&window("12.48 ohm"), &used), None);
        assert_eq!(
            unshown(&window("20 kohm"), &used).as_deref(),
            Some(
                "`tester` on earth fault loop impedance ends at 1999 ohm, below the window's end at 20 kohm: what is over its range is \
                 neither shown good nor bad"
            )
        );
    }
}
