//! What is made of a few readings that somebody typed: which faults explain them, of which size, what is measured next and by what.

use coreproof::diagnosis::locate::{Diagnosis, Located, Observed, locate};
use coreproof::job;
use coreproof::located::Text;
use coreproof::sequence::{self, shipped};

use crate::world::repo;

/// Sound cores of 18 m of 1.0 mm2, as the demonstration has them.
const CORES: &str = "lead-null: 0.05\ncontinuity/brown: 0.66\ncontinuity/grey: 0.66\ncontinuity/black: 0.66\n";

/// What is located of these readings on the demonstration, its job changed so.
fn located_on(changes: &[(&str, &str)], readings: &str) -> Located {
    let mut text = std::fs::read_to_string(repo("fixtures/saltmarsh.ron")).unwrap();
    for (from, to) in changes {
        assert!(text.contains(from), "{from}");
        text = text.replace(from, to);
    }
    let job = job::read(&Text::new("saltmarsh.ron", text)).unwrap();
    let sequence = sequence::read(&shipped::texts("stat-cable").unwrap()).unwrap();
    let plan = sequence::bind(&sequence, &job).unwrap();
    let located = locate(&Observed::typed(plan, readings).unwrap(), 1).unwrap();
    // whatever it is: no two outcomes of the next measurement are told by the same words
    if let Some(next) = &located.next {
        let mut words: Vec<&String> = next.outcomes.iter().map(|(words, _)| words).collect();
        words.sort();
        words.dedup();
        assert_eq!(words.len(), next.outcomes.len(), "{:?}", next.outcomes);
    }
    assert!(!located.is_sound(), "{}", located.text());
    located
}

fn located(readings: &str) -> Located {
    located_on(&[], &format!("{CORES}{readings}"))
}

fn names(of: &[Diagnosis]) -> Vec<&str> {
    of.iter().map(|there| there.faults[0].as_str()).collect()
}

fn of<'a>(located: &'a Located, fault: &str) -> &'a Diagnosis {
    let all = located.diagnoses.iter().chain(&located.looks_like);
    let mut found = all.filter(|there| there.faults == [fault]);
    found.next().unwrap_or_else(|| panic!("{fault}: {}", located.text()))
}

/// The least and the greatest size with which a fault explains what was read, in ohms.
fn size(located: &Located, fault: &str) -> (f64, f64) {
    let words = &of(located, fault).sizes[0];
    let ohms = |text: &str| {
        let (figure, unit) = text.split_once(' ').unwrap();
        let factor = match unit {
            "ohm" => 1.0,
            "kohm" => 1e3,
            "Mohm" => 1e6,
            other => panic!("{other}"),
        };
        figure.parse::<f64>().unwrap() * factor
    };
    match words.split_once(" to ") {
        Some((low, high)) => (ohms(low), ohms(high)),
        None => (0.0, ohms(words.strip_prefix("less than ").unwrap())),
    }
}

fn holds(located: &Located, fault: &str, ohms: f64) {
    let (low, high) = size(located, fault);
    assert!(low <= ohms && ohms <= high, "{fault}: {low} to {high}, and not {ohms}");
}

/// 30 m of 0.5 mm2 have 1 ohm a core.
const THIN: [(&str, &str); 2] = [("18 m", "30 m"), ("size: \"1.0 mm2\"", "size: \"0.5 mm2\"")];

#[test]
fn a_joint_on_a_long_thin_core_adds_to_what_the_core_has() {
    let located = located_on(
        &THIN,
        "lead-null: 0.05\ncontinuity/brown: 2.20\ncontinuity/grey: 4.20\n",
    );
    // 2.15 ohm of copper and a joint of 2 ohm
    assert_eq!(names(&located.diagnoses), ["high-resistance-joint:grey"]);
    holds(&located, "high-resistance-joint:grey", 2.0);
    assert!(1.0 < size(&located, "high-resistance-joint:grey").0);
}

#[test]
fn a_second_reading_narrows_the_size_of_a_joint_that_both_go_through() {
    let of = |readings: &str| {
        let located = located_on(&THIN, readings);
        size(&located, "high-resistance-joint:green-yellow").1
    };
    let (one, two) = (
        of("lead-null: 0.05\ncontinuity/grey: 3.20\n"),
        of("lead-null: 0.05\ncontinuity/brown: 2.20\ncontinuity/grey: 3.20\n"),
    );
    assert!(2.0 * two < one, "{two} beside {one}");
}

#[test]
fn which_of_two_joints_it_is_a_long_lead_tells() {
    let located = located_on(
        &THIN,
        "lead-null: 0.05\ncontinuity/brown: 2.20\ncontinuity/grey: 3.20\n",
    );
    assert_eq!(
        names(&located.diagnoses),
        ["high-resistance-joint:grey", "high-resistance-joint:green-yellow"]
    );
    let next = located.next.as_ref().unwrap();
    assert!(
        !next.live
            && next
                .words
                .ends_with("with a long lead that is read first and subtracted"),
        "{next:?}"
    );
}

#[test]
fn a_joint_of_fifty_kilohms_is_named_as_what_it_looks_like() {
    // the library has joints up to 1 kohm
    let located = located_on(
        &[],
        "lead-null: 0.05\ncontinuity/brown: 0.66\ncontinuity/grey: 50.0 kohm\n",
    );
    assert_eq!(located.diagnoses, []);
    holds(&located, "high-resistance-joint:grey", 50e3);
}

#[test]
fn an_earth_that_hardly_leads_is_named_as_what_it_looks_like() {
    // 60 V of 230 V on 10 kohm: (230 / 60 - 1) x 10 kohm = 28 kohm; the library has such joints up to 1 kohm
    let located = located("feed: 230\nfeed-earth: 60\n");
    assert_eq!(located.diagnoses, []);
    holds(&located, "loop-high", 28e3);
}

#[test]
fn the_greatest_joint_of_the_library_is_in_it() {
    let located = located_on(&[], "lead-null: 0.05\ncontinuity/brown: 0.66\ncontinuity/grey: 1000\n");
    holds(&located, "high-resistance-joint:grey", 999.0);
}

#[test]
fn a_clamp_is_told_from_a_joint() {
    let located = located("clamp-near/black: 1.00\n");
    assert_eq!(names(&located.diagnoses), ["high-resistance-clamp:black@near"]);
    holds(&located, "high-resistance-clamp:black@near", 1.0);
}

#[test]
fn where_earth_is_bad_the_next_reading_parts_the_near_clamp_from_the_others() {
    let located = located("earthed-far: 5.00\n");
    for fault in [
        "high-resistance-clamp:green-yellow@near",
        "high-resistance-clamp:green-yellow@far",
        "loop-high",
    ] {
        holds(&located, fault, 4.6);
    }
    let next = located.next.as_ref().unwrap();
    assert!(!next.live && next.words.contains("(tester)"), "{next:?}");
    // two outcomes, and no diagnosis is left by both
    assert_eq!(next.outcomes.len(), 2, "{next:?}");
    assert!(
        next.outcomes[0].1.iter().all(|at| !next.outcomes[1].1.contains(at)),
        "{next:?}"
    );
}

#[test]
fn leakage_is_sought_with_the_instrument_in_hand() {
    let text = std::fs::read_to_string(repo("fixtures/saltmarsh.ron")).unwrap();
    let at = text.find("        (\n            name: \"multimeter\"").unwrap();
    let end = at + text[at..].find("\n        ),\n").unwrap() + "\n        ),\n".len();
    for multimeter in [true, false] {
        let changes = if multimeter { vec![] } else { vec![(&text[at..end], "")] };
        let located = located_on(&changes, &format!("{CORES}connected: 0.30 Mohm\n"));
        assert!(6 <= located.diagnoses.len(), "{}", located.text());
        let next = located.next.as_ref().unwrap();
        assert!(multimeter || next.words.contains("(tester)"), "{next:?}");
    }
}

#[test]
fn a_low_supply_seen_at_both_ends_is_no_fault_of_the_cable() {
    let far = located("feed: 100\n");
    assert!(1 < far.diagnoses.len());
    let both = located("supply: 100\nfeed: 100\n");
    assert!(names(&both.diagnoses).contains(&"supply-low"), "{}", both.text());
    assert!(both.diagnoses.len() < far.diagnoses.len(), "{}", both.text());
}

#[test]
fn an_end_switch_without_voltage_has_three_usual_causes() {
    let located = located("feed: 230\nswitched-on: 229\nend-switch-on: 0.0\n");
    let first = &names(&located.diagnoses)[..3];
    for fault in ["lead-not-gripped", "end-switch-open", "valve-stuck"] {
        assert!(first.contains(&fault), "{}", located.text());
    }
    assert!(
        located.next.as_ref().is_some_and(|next| !next.live),
        "{}",
        located.text()
    );
}
