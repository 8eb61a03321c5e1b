//! A choice of the program's, made again.
//!
//! The rule inside: which reading comes next, why, and which faults are left follow from the plan and from what was read before; the version
//! that chose is the one that chooses so again.

use super::known::Known;
use crate::run::event::{ChosenBy, Event, PROGRAM};
use crate::run::fold::Run;

/// How far two shares of a bit that are printed to a hundredth may be apart: logarithms differ in their last places from machine to machine.
const BITS_APART: f64 = 0.011;

/// Compares what the program is said to have chosen, or to have known when no more was read, with what it chooses and knows there.
pub(super) fn chosen_again(run: &Run, event: &Event, known: &Known) -> Result<(), String> {
    let (step, because) = match event {
        Event::Chosen {
            step,
            by: ChosenBy::Program,
            because,
        }
        | Event::Enough { step, because } => (step, because),
        _ => return Ok(()),
    };
    let set = run.plan.index(step).and_then(|step| run.plan.steps[step].any_order);
    let unread = set.map_or_else(Vec::new, |set| run.unread(set));
    if run.opened.program != PROGRAM || run.broken.is_some() || unread.is_empty() {
        return Ok(());
    }
    let again = known.choose(run, &unread);
    if matches!(event, Event::Enough { .. }) {
        return match *because == again.left {
            true => Ok(()),
            false => Err(format!(
                "no more was read because `{because}`, worked out again as `{}`",
                again.left
            )),
        };
    }
    let id = &run.plan.steps[again.step].id;
    match id == step && alike(because, &again.because) {
        true => Ok(()),
        false => Err(format!(
            "recorded as chosen by the program because `{because}`; it chooses `{id}` there because `{}`",
            again.because
        )),
    }
}

/// Whether two reasons are the same, but for the last place of the share of a bit in them.
fn alike(one: &str, other: &str) -> bool {
    let parted = |text: &str| -> Option<(String, f64)> {
        let (words, bits) = text.rsplit_once(" (")?;
        Some((words.to_owned(), bits.strip_suffix(" bit)")?.parse().ok()?))
    };
    match (parted(one), parted(other)) {
        (Some((one, bits)), Some((other, others))) => one == other && (bits - others).abs() < BITS_APART,
        _ => one == other,
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn reasons_are_alike_but_for_a_last_place() {
        for (one, other, expected) in [
            ("of 9 faults (0.97 bit)", "of 9 faults (0.97 bit)", true),
            ("of 9 faults (0.97 bit)", "of 9 faults (0.98 bit)", true),
            ("of 9 faults (0.97 bit)", "of 9 faults (0.99 bit)", false),
            ("of 9 faults (0.97 bit)", "of 8 faults (0.97 bit)", false),
            ("of 9 faults (0.97 bit)", "of 9 faults", false),
            ("of 9 faults (NaN bit)", "of 9 faults (0.97 bit)", false),
            ("none tells", "none tells", true),
        ] {
            assert_eq!(alike(one, other), expected, "{one}, {other}");
        }
    }
}
