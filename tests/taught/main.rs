//! Meters that nobody has described, taught by an engineer who answers the learner's wishes.
//!
//! The rule inside: a meter is a function from what it shows to bytes, written without a look at how learning works; what
//! was learnt is then held against what the meter sends for displays that nobody typed. It may refuse, and it never errs.

mod bits;
mod engineer;
mod odd;
mod shows;
mod text;

use engineer::{Outcome, Taught, taught};
use shows::Family;

fn families() -> Vec<Family> {
    [text::families(), bits::families(), odd::families()]
        .into_iter()
        .flatten()
        .collect()
}

fn told(taught: &Taught) -> String {
    match &taught.outcome {
        Outcome::Exact { read } => format!("exact, {read} read"),
        Outcome::Part { read, unread } => format!("{read} read, {unread} refused"),
        Outcome::Wrong(what) => format!("WRONG {what}"),
        Outcome::Nothing => "READS NOTHING".into(),
        Outcome::Refused(why) => format!("refused: {why}"),
    }
}

#[test]
fn none_of_the_families_is_learnt_wrong_and_half_are_learnt_exactly() {
    let families = families();
    assert!(40 <= families.len(), "{}", families.len());
    let (mut exact, mut bad) = (0, Vec::new());
    for family in &families {
        for seed in 1..=2 {
            let taught = taught(family, seed);
            println!(
                "{} {seed}: {} displays, {}",
                family.name,
                taught.displays,
                told(&taught)
            );
            exact += usize::from(seed == 1 && matches!(taught.outcome, Outcome::Exact { .. }));
            if matches!(taught.outcome, Outcome::Wrong(_) | Outcome::Nothing) {
                bad.push(format!("{} {seed}: {}", family.name, told(&taught)));
            }
            assert!(
                taught.again.is_empty(),
                "{}: wished for again: {:?}",
                family.name,
                taught.again
            );
        }
    }
    println!("{exact} of {} exact", families.len());
    assert_eq!(bad, [""; 0]);
    assert!(families.len() <= 2 * exact, "{exact} of {}", families.len());
}

/// What no byte tells is refused, and the refusal names what differs.
#[test]
fn what_no_byte_tells_is_refused_with_what_differs() {
    for (name, words) in [
        ("no-prefix", ["the display was `", "its bytes say `"]),
        ("no-function", ["the display was `", "its bytes say `"]),
        ("over-as-number", ["the display was `OL", "its bytes say"]),
        ("no-point", ["the digits of `", "stand nowhere in `"]),
        ("counts-without-range", ["the display was `", "its bytes say `"]),
        ("packed-no-function", ["the display was `", "its bytes say"]),
    ] {
        let family = families().into_iter().find(|family| family.name == name).unwrap();
        let Outcome::Refused(why) = taught(&family, 1).outcome else {
            panic!("{name} was learnt");
        };
        for word in words {
            assert!(why.contains(word), "{name}: {why}");
        }
    }
}
