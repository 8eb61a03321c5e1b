//! Plans whose cores, zones and groups are called so that names of steps could be mistaken for each other.
//!
//! The rule inside: what `bind` accepts has one name a step and can be walked to its end, with failures, breaks and power cuts;
//! what it refuses says what to rename. Nothing in between: a plan that is accepted and then stops in mid-walk is the defect.

use std::collections::BTreeSet;

use coreproof::located::Text;
use proptest::prelude::*;

use super::{Subject, Walk, number};

/// What the cores of the underfloor job are called there.
const CORES: [&str; 5] = ["1", "2", "3", "4", "green-yellow"];
const ZONES: [&str; 3] = ["workshop", "rope store", "gallery"];

/// The underfloor job with its cores and zones called otherwise.
fn job(cores: &[&str; 5], zones: &[&str; 3]) -> Text {
    let mut text = include_str!("../../fixtures/loft-underfloor.ron").to_owned();
    let put = |text: &str, from: String, to: String| {
        assert!(text.contains(&from), "{from}");
        text.replace(&from, &to)
    };
    // in two turns, so that no new name is taken for an old one
    for (at, core) in CORES.iter().enumerate() {
        text = put(&text, format!("(name: \"{core}\", s"), format!("(name: \"?{at}\", s"));
    }
    for (at, zone) in ZONES.iter().enumerate() {
        text = put(&text, format!("name: \"{zone}\","), format!("name: \"!{at}\","));
    }
    for (at, core) in cores.iter().enumerate() {
        text = put(&text, format!("\"?{at}\""), format!("\"{core}\""));
    }
    for (at, zone) in zones.iter().enumerate() {
        text = put(&text, format!("\"!{at}\""), format!("\"{zone}\""));
    }
    Text::new("hostile.ron", text)
}

/// The shipped underfloor sequence with more steps before one of its own.
fn sequence(before: &str, more: &str) -> (Text, Vec<Text>) {
    let (mut first, mut parts) = coreproof::sequence::shipped::carried("underfloor-zones").unwrap();
    let all = std::iter::once(&mut first).chain(&mut parts);
    let changed = all.filter(|text| text.text.contains(before)).map(|text| {
        text.text = text.text.replacen(before, &format!("{more}\n{before}"), 1).into();
    });
    assert_eq!(changed.count(), 1, "{before}");
    (first, parts)
}

const DEAD: &str = "ProveIndicator(id: \"indicator-second\"";
const TESTS: &str = "ReadJoin(id: \"clip-still-bites\"";
const LINKED: &str = "Continuity(id: \"continuity\"";
const CONNECTED: &str = "Gate(id: \"all-dead-tests-passed\"";

/// Steps in groups that once gave one name to several, each with the place where it may stand.
const GROUPS: &[(&str, &str)] = &[
    (TESTS, ""),
    (
        TESTS,
        "EachPair([Insulation(id: \"pair\", between: ThisPair, window: InsulationMinimum, say: \"{first}, {second}\")]),",
    ),
    (
        TESTS,
        "EachZone([Insulation(id: \"pairs\", between: EachPair, window: InsulationMinimum, say: \"{zone}\")]),",
    ),
    (
        TESTS,
        "EachZone([EachPair([Note(id: \"seen\", stage: Test, say: \"{zone}: {core}, {other}\")])]),",
    ),
    (
        TESTS,
        "EachPair([EachZone([Note(id: \"seen\", stage: Test, say: \"{zone}: {core}, {other}\")])]),",
    ),
    (
        TESTS,
        "EachCore([EachZone([Inspect(id: \"look\", stage: Test, thing: \"{core}\", say: \"{zone}\")])]),",
    ),
    (
        TESTS,
        "EachZone([AllOpen(id: \"open\", window: OpenCore, say: \"{zone}: {first}, {second}\")]),",
    ),
    (
        TESTS,
        "EachCore([AllOpen(id: \"open\", window: OpenCore, say: \"{first}, {second}\")]),",
    ),
    (
        LINKED,
        "EachZone([Continuity(id: \"again\", window: Cable, say: \"{zone}: {first}, {second}\")]),",
    ),
    (
        LINKED,
        "EachZone([OthersOpen(id: \"others\", window: OpenCore, say: \"{zone}: {first}, {second}\")]),",
    ),
    (
        DEAD,
        "EachZone([ProveDead(id: \"dead\", end: Far, say: \"{zone}: {first}, {second}\")]),",
    ),
    (
        DEAD,
        "EachPair([ProveDead(id: \"dead\", end: Near, say: \"{core}, {other}: {first}, {second}\")]),",
    ),
    (
        CONNECTED,
        "EachZone([Tug(id: \"pull\", end: Near, say: \"{zone}: {core} in {terminal}\")]),",
    ),
    (
        CONNECTED,
        "EachCore([Polarity(id: \"marked\", end: Far, say: \"{core} in {terminal}\")]),",
    ),
];

/// Cores and zones called to be mistaken.
const NAMES: &[([&str; 5], [&str; 3])] = &[
    (CORES, ZONES),
    (["1", "2-3", "1-2", "3", "green-yellow"], ZONES),
    (["3", "1-2", "2-3", "1", "1-2-3"], ["1", "2", "1-2"]),
    (["-", "--", "---", "----", "-----"], ["-", "--", "---"]),
    (
        ["earth", "neutral", "line", "terminal-L", "green-yellow"],
        ["earth", "earth-line", "core"],
    ),
    (["1", "2", "1-2", "2-1", "earth"], ["first", "second", "near-plate"]),
    (
        ["core", "cores", "terminal", "terminal-P", "earth"],
        ["core-earth", "ac", "dc"],
    ),
    (
        ["a", "a-linked", "linked", "a-linked-linked", "b"],
        ["a", "linked", "a-linked"],
    ),
    (
        ["others-open", "insulation", "link", "continuity", "dead-near"],
        ["zone-map", "link", "2"],
    ),
    (["a b", "a-b c", "a b-a", "b c", "e\u{e9}"], ["a b", "a.b", "a:b"]),
];

/// Walks with failures, breaks and power cuts, then to the end.
fn walked(subject: &Subject, seeds: std::ops::Range<u64>) {
    for seed in seeds {
        let mut walk = Walk::new(seed, subject);
        let steps = subject.plan.steps.len() as u64;
        let lines = walk.dice.below(steps);
        walk.warm_up(lines);
        walk.at_random(60);
        walk.finish();
        walk.folds_to_the_same();
        let told: BTreeSet<_> = walk.breaches.into_iter().collect();
        assert!(told.is_empty(), "seed {seed}: {told:#?}");
    }
}

fn have_a_name_each(subject: &Subject) {
    let names: BTreeSet<_> = subject.plan.steps.iter().map(|step| &step.id).collect();
    assert_eq!(names.len(), subject.plan.steps.len());
}

#[test]
fn every_accepted_plan_of_names_to_be_mistaken_is_walked_to_its_end() {
    let seeds = number("COREPROOF_WALKS", 150) / 150;
    let mut accepted = 0;
    for (cores, zones) in NAMES {
        for (at, group) in GROUPS {
            let said = |findings: coreproof::located::Findings| {
                let each = findings.iter().map(|finding| finding.problem.what.clone());
                panic!("{cores:?} {zones:?} {group}: {:#?}", each.collect::<Vec<_>>())
            };
            let subject = Subject::of(sequence(at, group), job(cores, zones)).unwrap_or_else(said);
            have_a_name_each(&subject);
            walked(&subject, 1..1 + seeds);
            accepted += 1;
        }
    }
    assert_eq!(accepted, NAMES.len() * GROUPS.len());
}

/// Names of any kind that a job may have, mostly of the few signs that step names are made of.
fn name() -> impl Strategy<Value = String> {
    let piece = prop::sample::select(vec![
        "1", "2", "-", "earth", "core", "linked", "terminal", "ac", "line", " ", "\u{e9}",
    ]);
    let made = prop::collection::vec(piece, 1..5).prop_map(|pieces| pieces.concat().trim().to_owned());
    made.prop_filter("a name says something", |name| !name.is_empty())
}

/// As many different names, in any order.
fn names(of: usize) -> impl Strategy<Value = Vec<String>> {
    let names = prop::collection::btree_set(name(), of).prop_map(|names| names.into_iter().collect::<Vec<_>>());
    names.prop_shuffle()
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(64))]

    #[test]
    fn steps_have_a_name_each_whatever_cores_and_zones_are_called(
        cores in names(5),
        zones in names(3),
        group in prop::sample::select(GROUPS),
    ) {
        let cores: Vec<&str> = cores.iter().map(String::as_str).collect();
        let zones: Vec<&str> = zones.iter().map(String::as_str).collect();
        let job = job(cores[..].try_into().unwrap(), zones[..].try_into().unwrap());
        match Subject::of(sequence(group.0, group.1), job) {
            Ok(subject) => have_a_name_each(&subject),
            Err(findings) => {
                let what = &findings[0].problem.what;
                prop_assert!(what.starts_with("two steps of the plan are called `"), "{what}");
            }
        }
    }
}
