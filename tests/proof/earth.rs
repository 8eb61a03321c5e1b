//! The earth of the building: what insulation is measured to, and what an accessory is left joined to.
//!
//! The rule inside: each fault is put into the model and the shipped sequence walked; whether the step in question could have failed
//! is shown by taking away what lets it.

use coreproof::diagnosis::coverage::walk;
use coreproof::job::{End, Job, Purpose};
use coreproof::model::fault::Size;
use coreproof::model::installation::Installation;
use coreproof::model::library;
use coreproof::plan::{Act, Plan, Stage};
use coreproof::proof::prove;
use coreproof::sequence::shipped::SEQUENCES;

use super::{bound, stat_cable};

/// The steps that do not pass with a fault of this size.
fn caught(plan: &Plan, fault: &str, size: Size) -> Vec<String> {
    let mut installation = Installation::of(&plan.job).unwrap();
    for fault in library::find(&plan.job, fault).unwrap() {
        installation.put_sized(&fault, size).unwrap();
    }
    let walked = walk(plan, installation);
    walked.caught().map(|step| plan.steps[step].id.clone()).collect()
}

fn has_earth(job: &Job, end: End) -> bool {
    job.core_for(Purpose::Earth).is_some() && job.end(end).terminal_for(Purpose::Earth).is_some()
}

/// Every shipped plan with an earth core and an earth at both ends.
fn earthed() -> Vec<Plan> {
    let all = SEQUENCES.iter().filter(|there| there.name != "hand-over");
    let plans = all.map(|there| bound(there.name, there.job));
    let found: Vec<Plan> = plans
        .filter(|plan| End::BOTH.into_iter().all(|end| has_earth(&plan.job, end)))
        .collect();
    assert_eq!(found.len(), 15, "all but the three on a pair without earth");
    found
}

#[test]
fn a_bad_joint_in_the_earth_is_caught_by_every_shipped_sequence_before_anything_is_energised() {
    for plan in earthed() {
        // 2 ohm and 45 ohm: every size between them reads between them
        for size in [Size::LEAST, Size::Step(3)] {
            let found = caught(&plan, "loop-high", size);
            let steps = match plan.job.metal_beside_earth(End::Far) {
                Some(_) => &["earth-alone-far"][..],
                None => &["earthed-near", "earthed-far"],
            };
            for step in steps {
                assert!(
                    found.iter().any(|there| there == step),
                    "{} {size:?}: {found:?}",
                    plan.name
                );
            }
        }
    }
}

#[test]
fn an_earth_core_that_a_clamp_does_not_grip_is_caught_by_every_shipped_sequence_before_anything_is_energised() {
    for plan in earthed() {
        let core = &plan.job.core_for(Purpose::Earth).unwrap().name;
        for end in ["near", "far"] {
            let found = caught(&plan, &format!("conductor-not-gripped:{core}@{end}"), Size::Usual);
            let step = plan.index(&found[0]).map(|i| &plan.steps[i]).unwrap();
            assert_eq!(step.stage, Stage::Connect, "{} {end}: {found:?}", plan.name);
            let beside_metal = plan.job.metal_beside_earth(End::Far).is_some();
            let by = match (beside_metal, end) {
                (false, _) => "earthed-far".to_owned(),
                (true, "near") => "earth-alone-far".to_owned(),
                (true, _) => format!("clamp-far/{core}"),
            };
            assert!(found.contains(&by), "{} {end}: {found:?}", plan.name);
        }
    }
}

/// The same plan as if nobody clipped the earth core to the earth of the building.
fn afloat(plan: &Plan) -> Plan {
    let mut afloat = plan.clone();
    for step in &mut afloat.steps {
        step.acts.retain(|act| *act != Act::JoinEarth);
    }
    afloat
}

#[test]
fn a_core_that_touches_the_building_passes_with_the_earth_core_afloat_and_is_caught_with_it_clipped() {
    let plan = stat_cable();
    for kind in ["core-touches-building", "insulation-low-to-building"] {
        for core in ["brown", "grey", "black"] {
            for size in [Size::LEAST, Size::Usual, Size::GREATEST] {
                let fault = format!("{kind}:{core}");
                let of_insulation = |found: Vec<String>| -> Vec<String> {
                    found.into_iter().filter(|id| id.starts_with("insulation")).collect()
                };
                let with = of_insulation(caught(&plan, &fault, size));
                assert!(
                    with.contains(&format!("insulation/{core}")),
                    "{fault} {size:?}: {with:?}"
                );
                let without = of_insulation(caught(&afloat(&plan), &fault, size));
                assert!(without.is_empty(), "{fault} {size:?}: {without:?}");
            }
        }
    }
}

#[test]
fn a_clip_that_does_not_bite_is_caught_before_insulation_is_measured() {
    for plan in earthed() {
        let found = caught(&plan, "earth-clip-loose", Size::Usual);
        assert_eq!(found, ["clip-bites", "clip-still-bites"], "{}", plan.name);
    }
}

#[test]
fn a_pair_without_an_earth_core_is_measured_to_the_building() {
    for (sequence, job) in [
        ("extra-low-pair", "changing-rooms-pair"),
        ("boiler-call-volt-free", "boiler-room-pair"),
    ] {
        let plan = bound(sequence, job);
        for core in ["white", "red"] {
            let found = caught(&plan, &format!("insulation-low-to-building:{core}"), Size::LEAST);
            assert!(
                found.contains(&format!("insulation-building/{core}")),
                "{sequence} {core}: {found:?}"
            );
        }
    }
}

/// The rules that a plan without some of its steps breaks.
fn broken(plan: &Plan, less: &[&str]) -> Vec<&'static str> {
    let mut plan = plan.clone();
    plan.steps.retain(|step| !less.contains(&step.id.as_str()));
    prove(&plan).breaches.iter().map(|breach| breach.rule.name).collect()
}

#[test]
fn each_reading_of_the_earth_is_asked_for() {
    let plan = stat_cable();
    for (less, rule) in [
        (&["earth-near"][..], "to-the-building"),
        (&["clip-bites"], "to-the-building"),
        (&["clip-still-bites"], "clip-read-again"),
        (&["unclip"], "clear-before-terminals"),
        (&["earthed-near"], "earthed-as-left"),
        (&["earthed-far"], "earthed-as-left"),
        (
            &["clip", "clip-bites", "clip-still-bites", "unclip"],
            "tested-before-energising",
        ),
    ] {
        let found = broken(&plan, less);
        assert!(found.contains(&rule), "{less:?}: {found:?}");
    }
    let pair = bound("extra-low-pair", "changing-rooms-pair");
    for (less, rule) in [
        ("earth-near", "to-the-building"),
        ("insulation-building/white", "tested-before-energising"),
        ("insulation-building/red", "tested-before-energising"),
    ] {
        let found = broken(&pair, &[less]);
        assert!(found.contains(&rule), "{less}: {found:?}");
    }
}

#[test]
fn a_loop_shows_the_earth_where_its_window_has_no_room_for_a_bad_joint() {
    let plan = bound("fused-spur", "workshop-spur");
    // the loop at the far end stands for the reading there, none stands for the one at the near end
    assert_eq!(broken(&plan, &["earthed-far"]), [""; 0]);
    assert_eq!(broken(&plan, &["earthed-near"]), ["earthed-as-left"]);
    assert_eq!(
        broken(&plan, &["earthed-far", "loop-behind-device"]),
        ["earthed-as-left"]
    );
    let found = caught(&plan, "loop-high", Size::LEAST);
    assert!(found.contains(&"loop-behind-device".to_owned()), "{found:?}");
}
