//! Every case, bound once: what is refused, and why; what is accepted.
//!
//! The rule inside: a case is refused for the reason that it names, or not at all.

use std::collections::BTreeSet;

use super::case::{Case, said};
use super::{
    acts, as_found, braces, by_eye, conditions, dead_tests, earth, isolating, live, metal, neutral, order, partial,
    sane, volts,
};

fn every() -> Vec<Case> {
    [
        dead_tests::insulation(),
        dead_tests::against_mains(),
        dead_tests::open_cores(),
        dead_tests::leads_and_continuity(),
        earth::to_the_building(),
        earth::as_left(),
        metal::read_by_the_pipe(),
        metal::taken_off(),
        metal::by_the_cable(),
        metal::sane(),
        neutral::hands_too_early(),
        neutral::shows_nothing(),
        neutral::sane(),
        isolating::switching_off(),
        isolating::proving(),
        isolating::parting(),
        acts::acts(),
        as_found::done_there(),
        as_found::without_reasons(),
        as_found::order(),
        as_found::rests_on_it(),
        as_found::readings(),
        as_found::sane(),
        as_found::in_any_order(),
        by_eye::sane(),
        by_eye::bad_ones(),
        volts::presence(),
        volts::absence(),
        live::protection(),
        live::places_and_controls(),
        order::connecting(),
        conditions::conditions(),
        conditions::times(),
        order::order_and_groups(),
        braces::braces(),
        conditions::two_slips(),
        partial::only_this(),
        sane::more_than_is_asked(),
        sane::stricter_and_otherwise(),
        sane::other_jobs(),
    ]
    .concat()
}

#[test]
fn what_is_unsafe_is_refused_for_its_reason_and_what_is_sane_is_accepted() {
    let cases = every();
    let names: BTreeSet<&str> = cases.iter().map(|case| case.name).collect();
    assert_eq!(names.len(), cases.len(), "two cases of one name");
    let unsafe_ones = cases.iter().filter(|case| !case.expected.is_empty()).count();
    assert!(
        150 <= unsafe_ones && 40 <= cases.len() - unsafe_ones,
        "{unsafe_ones} of {}",
        cases.len()
    );
    let mut found = Vec::new();
    for (case, said) in cases.iter().zip(said(&cases)) {
        let right = match case.expected {
            "" => said.is_empty(),
            words => said.contains(words),
        };
        if !right {
            found.push(format!("`{}`: expected `{}`, said `{said}`", case.name, case.expected));
        }
    }
    assert!(found.is_empty(), "{}", found.join("\n"));
}
