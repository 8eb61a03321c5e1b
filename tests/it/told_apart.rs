//! How large a fault is and what to measure next, asked of the shipped program: the opposite of each claim is looked for.

use coreproof::diagnosis::coverage::walk;
use coreproof::job;
use coreproof::located::Text;
use coreproof::model::fault::Size;
use coreproof::model::installation::Installation;
use coreproof::model::library;
use coreproof::plan::Plan;
use coreproof::sequence::{self, shipped};
use serde_json::Value;

use crate::world::{World, repo, text};

/// Names of the demonstration's instruments that read ohms.
const IN_HAND: [&str; 2] = ["(tester)", "(multimeter)"];

/// The demonstration's job, changed so.
fn job_text(changes: &[(&str, &str)]) -> String {
    let mut text = std::fs::read_to_string(repo("fixtures/saltmarsh.ron")).unwrap();
    for (from, to) in changes {
        assert!(text.contains(from), "{from}");
        text = text.replace(from, to);
    }
    text
}

fn plan(changes: &[(&str, &str)]) -> Plan {
    let job = job::read(&Text::new("saltmarsh.ron", job_text(changes))).unwrap();
    let sequence = sequence::read(&shipped::texts("stat-cable").unwrap()).unwrap();
    sequence::bind(&sequence, &job).unwrap()
}

/// What the program makes of these readings, as JSON.
fn located(changes: &[(&str, &str)], readings: &str, at_most: &str) -> Value {
    let world = World::new();
    let (job, seen) = (world.path("job.ron"), world.path("readings.txt"));
    std::fs::write(&job, job_text(changes)).unwrap();
    std::fs::write(&seen, readings).unwrap();
    let (job, seen) = (job.to_str().unwrap(), seen.to_str().unwrap());
    let args = [
        "locate",
        "--job",
        job,
        "--readings",
        seen,
        "--json",
        "--at-most",
        at_most,
    ];
    let output = world.run(&args);
    let said = text(&output.stdout);
    serde_json::from_str(&said).unwrap_or_else(|_| panic!("{said}{}", text(&output.stderr)))
}

fn names(diagnoses: &Value) -> Vec<String> {
    let joined = |there: &Value| {
        let faults = there["faults"].as_array().unwrap().iter();
        faults.map(|name| name.as_str().unwrap()).collect::<Vec<_>>().join("+")
    };
    diagnoses.as_array().unwrap().iter().map(joined).collect()
}

/// Ohms of `3.40 ohm`, `1.2 kohm`.
fn ohms(text: &str) -> f64 {
    let (figure, unit) = text.trim().split_once(' ').unwrap();
    let factor = match unit {
        "ohm" => 1.0,
        "kohm" => 1e3,
        "Mohm" => 1e6,
        other => panic!("{other}"),
    };
    figure.parse::<f64>().unwrap() * factor
}

/// The sizes with which a fault explains what was read, of whichever list it stands in.
#[track_caller]
fn sizes(located: &Value, list: &str, fault: &str) -> Vec<(f64, f64)> {
    let all = located[list].as_array().unwrap().iter();
    let at = names(&located[list]).iter().position(|there| there == fault);
    let at = at.unwrap_or_else(|| panic!("{fault}: {located:#}"));
    let sizes = all.clone().nth(at).unwrap()["sizes"].as_array().unwrap();
    let span = |words: &str| match words.split_once(" to ") {
        Some((low, high)) => (ohms(low), ohms(high)),
        None => (0.0, ohms(words.strip_prefix("less than ").unwrap())),
    };
    sizes.iter().map(|words| span(words.as_str().unwrap())).collect()
}

#[track_caller]
fn holds((low, high): (f64, f64), ohms: f64) {
    assert!(low <= ohms && ohms <= high, "{low} to {high}, and not {ohms}");
}

/// 200 m of 0.5 mm2: at most 7.2 ohm a core (IEC 60228, class 1).
const LONG_AND_THIN: [(&str, &str); 2] = [("18 m", "200 m"), ("size: \"1.0 mm2\"", "size: \"0.5 mm2\"")];

/// What each step of a plan would show with one fault of a size, or with none.
fn shown(plan: &Plan, fault: Option<(&str, Size)>) -> Vec<String> {
    let mut installation = Installation::of(&plan.job).unwrap();
    if let Some((name, size)) = fault {
        for fault in library::find(&plan.job, name).unwrap() {
            installation.put_sized(&fault, size).unwrap();
        }
    }
    walk(plan, installation).lines
}

#[test]
fn a_joint_adds_to_what_the_core_has_however_long_and_thin_it_is() {
    for changes in [&LONG_AND_THIN[..], &[("18 m", "2 m")], &[("18 m", "60 m")]] {
        let plan = plan(changes);
        let at = plan.index("continuity/grey").unwrap();
        let read = |fault| ohms(&shown(&plan, fault)[at]);
        for (size, adds) in [(Size::LEAST, 0.3), (Size::Usual, 3.0)] {
            let more = read(Some(("high-resistance-joint:grey", size))) - read(None);
            // the display has hundredths below ten ohm and tenths above, each rounded
            assert!((more - adds).abs() <= 0.1, "{changes:?} {size:?}: {more}");
        }
    }
}

#[test]
fn a_joint_on_a_long_thin_cable_is_located_from_its_record() {
    let world = World::new();
    let (job, out) = (world.path("job.ron"), world.path("out"));
    std::fs::write(&job, job_text(&LONG_AND_THIN)).unwrap();
    let (job, out) = (job.to_str().unwrap(), out.to_str().unwrap());
    // 200 m vary by more than the usual joint has: one of 20 ohm and more is seen
    let fault = "high-resistance-joint:black+high-resistance-joint:green-yellow";
    let walked = world.run(&["rehearse", "stat-cable", "--job", job, "--fault", fault, "--out", out]);
    assert_eq!(walked.status.code(), Some(1), "{}", text(&walked.stdout));
    let found = world.run(&["locate", &format!("{out}/record.jsonl"), "--json", "--at-most", "1"]);
    let found: Value = serde_json::from_str(&text(&found.stdout)).unwrap();
    let names = names(&found["diagnoses"]);
    let one_of_them = ["high-resistance-joint:black", "high-resistance-joint:green-yellow"];
    assert!(
        one_of_them.iter().any(|one| names.iter().any(|name| name == one)),
        "{found:#}"
    );
}

#[test]
fn what_a_joint_was_read_to_have_bounds_what_the_next_reading_shows_of_it() {
    let found = located(
        &[],
        "lead-null: 0.05\ncontinuity/brown: 0.66\ncontinuity/grey: 3.66\n",
        "1",
    );
    let (low, high) = sizes(&found, "diagnoses", "high-resistance-joint:grey")[0];
    holds((low, high), 3.0);
    assert!(
        high < 2.0 * low,
        "{low} to {high}: the library has it from 0.3 ohm to 1 kohm"
    );
    // whatever is read next, a diagnosis of so much shows no more than it has with the copper
    let place = names(&found["diagnoses"])
        .iter()
        .position(|name| name == "high-resistance-joint:grey");
    for outcome in found["next"]["outcomes"].as_array().into_iter().flatten() {
        let left = outcome[1].as_array().unwrap().iter();
        if left.map(|at| at.as_u64().unwrap() as usize).any(|at| Some(at) == place) {
            let words = outcome[0].as_str().unwrap();
            let most = words.rsplit(" to ").next().unwrap();
            assert!(
                words != "over-range" && ohms(most.trim_start_matches("less than ")) < 10.0,
                "{words}"
            );
        }
    }
}

#[test]
fn two_joints_at_once_have_each_its_own_size() {
    let readings = "lead-null: 0.05\ncontinuity/brown: 2.66\ncontinuity/grey: 9.66\ncontinuity/black: 0.66\n";
    let found = located(&[], readings, "2");
    let sizes = sizes(
        &found,
        "diagnoses",
        "high-resistance-joint:brown+high-resistance-joint:grey",
    );
    holds(sizes[0], 2.0);
    holds(sizes[1], 9.0);
    assert!(sizes[0].1 < 9.0 && 2.0 < sizes[1].0, "{sizes:?}");
    // what one alone would explain is not told as two
    let one = located(
        &[],
        "lead-null: 0.05\ncontinuity/brown: 0.66\ncontinuity/grey: 9.66\ncontinuity/black: 0.66\n",
        "2",
    );
    assert!(names(&one["diagnoses"]).contains(&"high-resistance-joint:grey".to_owned()));
    let holds_it = |name: &String| name.contains('+') && name.contains("high-resistance-joint:grey");
    assert!(!names(&one["diagnoses"]).iter().any(holds_it), "{one:#}");
}

#[test]
fn a_clamp_of_sixty_ohms_is_told_as_a_clamp_though_the_library_has_none() {
    let cores = "lead-null: 0.05\ncontinuity/brown: 0.66\ncontinuity/grey: 0.66\ncontinuity/black: 0.66\n";
    // up to 20 ohm
    for (read, list) in [(15.0, "diagnoses"), (60.0, "looks_like")] {
        let found = located(&[], &format!("{cores}clamp-near/black: {read}\n"), "1");
        holds(sizes(&found, list, "high-resistance-clamp:black@near")[0], read);
        let is_within = list == "diagnoses";
        assert_eq!(
            found["looks_like"].as_array().unwrap().is_empty(),
            is_within,
            "{found:#}"
        );
    }
}

#[test]
fn what_is_far_below_the_library_looks_like_what_it_is() {
    // supplies sag to one half in the library; a third of 230 V stands at both ends of the cable
    let found = located(&[], "supply: 77\nfeed: 77\nfeed-earth: 77\n", "1");
    assert_eq!(names(&found["diagnoses"]), Vec::<String>::new());
    assert!(
        names(&found["looks_like"]).contains(&"supply-low".to_owned()),
        "{found:#}"
    );
}

/// Single readings that did not pass, of every kind of instrument.
const SEEN: [&str; 9] = [
    "continuity/grey: OL",
    "continuity/grey: 0.10",
    "insulation/brown: 0.30 Mohm",
    "insulation-alone/grey/black: 0.00 Mohm",
    "clamp-far/grey: 2.00",
    "connected: 0.20 Mohm",
    "earthed-far: OL",
    "feed: 0.0",
    "end-switch-on: 0.0",
];

#[test]
fn what_to_measure_next_is_a_step_that_was_not_read_or_of_an_instrument_in_hand() {
    let (plan, all) = (plan(&[]), job_text(&[]));
    let at = all.find("        (\n            name: \"multimeter\"").unwrap();
    let end = at + all[at..].find("\n        ),\n").unwrap() + "\n        ),\n".len();
    let mut steps = 0;
    for seen in SEEN {
        let (read, _) = seen.split_once(':').unwrap();
        for (changes, in_hand) in [(vec![], &IN_HAND[..]), (vec![(&all[at..end], "")], &IN_HAND[..1])] {
            let found = located(&changes, &format!("{seen}\n"), "1");
            let Some(words) = found["next"]["words"].as_str() else {
                continue;
            };
            if let Some((_, rest)) = words.split_once("step `") {
                let step = rest.split('`').next().unwrap();
                assert!(plan.index(step).is_some() && step != read, "{words}");
                steps += 1;
            } else {
                assert!(in_hand.iter().any(|name| words.contains(name)), "{words}");
                assert!(words.starts_with("Switched off, locked off, proved dead"), "{words}");
            }
            let others = IN_HAND.iter().filter(|name| !in_hand.contains(name));
            others.for_each(|name| assert!(!words.contains(name), "{words}"));
        }
    }
    assert!(3 < steps, "{steps}");
}

#[test]
fn leakage_that_a_second_reading_shows_again_is_of_that_pair_and_of_that_size() {
    let cores = "insulation/brown: 0.30 Mohm\n";
    let one = located(&[], cores, "1");
    let pairs = |found: &Value| {
        let mut found = names(&found["diagnoses"]);
        found.retain(|name| name.starts_with("insulation-low:"));
        found
    };
    assert_eq!(pairs(&one).len(), 3, "{one:#}");
    let two = located(&[], &format!("{cores}insulation-alone/brown/black: 0.30 Mohm\n"), "1");
    assert_eq!(pairs(&two), ["insulation-low:brown/black"], "{two:#}");
    holds(sizes(&two, "diagnoses", "insulation-low:brown/black")[0], 0.3e6);
    // and one that does not show it there leaves the two others
    let two = located(&[], &format!("{cores}insulation-alone/brown/black: >299 Mohm\n"), "1");
    assert!(
        pairs(&two).len() == 2 && !pairs(&two).contains(&"insulation-low:brown/black".to_owned()),
        "{two:#}"
    );
}
