//! The order and the points of safe isolation, and the order of dead tests, as published.
//!
//! Sources: single-phase guides to safe isolation give three pairs (line and neutral, line and earth, neutral and earth), the earth
//! terminal touched first, at the point of work too; the minimum-steps guide's order is earth and line, neutral and line, earth and
//! neutral; the order of acts is isolate, lock off with the key kept and a notice, prove the indicator, test every pair, prove the
//! indicator again. BS 7671:2018 643.2 to 643.6 (clause numbers from published summaries) give continuity, insulation, polarity, then live
//! tests. That each core of the cable is tried as well, against earth and against neutral, is common practice.

use coreproof::job::{End, Purpose};
use coreproof::plan::{Act, Kind, Plan, Point, Stage};
use coreproof::proof::prove;

use super::stat_cable;

fn rules(plan: &Plan) -> Vec<&'static str> {
    prove(plan).breaches.iter().map(|b| b.rule.name).collect()
}

/// The first step that a thing is done at.
fn first(plan: &Plan, wanted: impl Fn(&coreproof::plan::Step) -> bool) -> usize {
    plan.steps.iter().position(wanted).unwrap()
}

fn has(act: Act) -> impl Fn(&coreproof::plan::Step) -> bool {
    move |step| step.acts.contains(&act)
}

#[test]
fn the_shipped_plan_isolates_in_the_published_order() {
    let plan = stat_cable();
    let lit = coreproof::plan::proves_indicator;
    let dark =
        |s: &coreproof::plan::Step| s.stage == Stage::Isolate && matches!(s.kind, Kind::Indicator { lit: false, .. });
    let last_dark = plan.steps.iter().rposition(dark).unwrap();
    let again = last_dark + 1;
    assert!(lit(&plan.steps[again]));
    let order = [
        // line to earth, while it is on
        first(&plan, coreproof::plan::proves_earth),
        first(&plan, has(Act::SwitchOff)),
        first(&plan, has(Act::LockOff)),
        first(&plan, has(Act::KeepKey)),
        first(&plan, has(Act::PostNotice)),
        first(&plan, lit),
        first(&plan, dark),
        last_dark,
        again,
        first(&plan, has(Act::Disconnect(End::Near))),
    ];
    assert!(order.is_sorted_by(|a, b| a < b), "{order:?}");
}

#[test]
fn every_published_pair_of_points_is_asked_for_at_both_ends() {
    let plan = stat_cable();
    for end in End::BOTH {
        let terminal = |purpose| Point::Terminal {
            terminal: plan.job.end(end).terminal_for(purpose).unwrap().name.clone(),
            end,
        };
        let (line, neutral) = (terminal(Purpose::PermanentLive), terminal(Purpose::Neutral));
        // where its own earth is not proved, a position is tried against the long lead
        let earth = match end {
            End::Near => terminal(Purpose::Earth),
            End::Far => Point::long_lead(&plan.job),
        };
        let mut places = Vec::new();
        for (one, other) in [(&earth, &line), (&neutral, &line), (&earth, &neutral)] {
            let between = |s: &coreproof::plan::Step| match &s.kind {
                Kind::Indicator { probes, lit: false } => probes.first == *one && probes.second == *other,
                _ => false,
            };
            let at = first(&plan, between);
            places.push(at);
            // without the pair nothing is touched
            let mut less = plan.clone();
            less.steps.remove(at);
            assert!(rules(&less).contains(&"dead-before-hands"), "{one:?} {other:?}");
        }
        // in the order of the minimum-steps guide
        assert!(places.is_sorted(), "{places:?}");
        // and, by common practice, each core against earth and against neutral
        for core in &plan.job.cores {
            for reference in [&earth, &neutral] {
                let point = Point::Core {
                    core: core.name.clone(),
                    end,
                };
                let itself = matches!(reference, Point::Terminal { terminal, .. } if terminal == core.terminal(end));
                let mut less = plan.clone();
                less.steps.retain(|s| match &s.kind {
                    Kind::Indicator { probes, lit: false } => probes.first != *reference || probes.second != point,
                    _ => true,
                });
                assert_eq!(
                    rules(&less).contains(&"dead-before-hands"),
                    !itself,
                    "{} {reference:?}",
                    core.name
                );
            }
        }
    }
}

/// Continuity, insulation, polarity, live: each pair of these exchanged is refused.
#[test]
fn dead_tests_out_of_their_published_order_are_refused() {
    let plan = stat_cable();
    let of = |id: &str| match id.split('/').next().unwrap() {
        "link" | "continuity" | "others-open" | "unlink" | "links-off" | "all-open" => Some(0),
        "clip" | "clip-bites" | "join-rest" | "insulation" | "part-rest" | "insulation-alone" | "discharge"
        | "clip-still-bites" | "unclip" => Some(1),
        // what each terminal is for is read as the core goes into it
        "connect-near" | "connect-far" => Some(2),
        "energise" | "supply" | "feed" | "feed-earth" | "call" | "switched-on" | "end-switch-on" | "satisfy"
        | "switched-off" | "end-switch-off" => Some(3),
        _ => None,
    };
    let groups: Vec<usize> = plan.steps.iter().filter_map(|s| of(&s.id)).collect();
    assert!(groups.is_sorted(), "the shipped order is the published one");
    for (earlier, later) in [(0, 1), (0, 2), (0, 3), (1, 2), (1, 3), (2, 3)] {
        let mut swapped = plan.clone();
        let rank = |id: &str| match of(id) {
            Some(group) if group == earlier => later,
            Some(group) if group == later => earlier,
            Some(group) => group,
            None => 0,
        };
        let begin = first(&swapped, |s| s.stage == Stage::Test);
        swapped.steps[begin..].sort_by_key(|s| rank(&s.id));
        // the stage goes with the place, so that it is not the stage alone that is refused
        let stages: Vec<Stage> = plan.steps[begin..].iter().map(|s| s.stage).collect();
        for (step, stage) in swapped.steps[begin..].iter_mut().zip(stages) {
            step.stage = stage;
        }
        let proof = prove(&swapped);
        let of_facts = proof.breaches.iter().any(|b| b.rule.of_facts && 1 < b.path.len());
        assert!(of_facts, "{earlier} and {later}: {:?}", rules(&swapped));
    }
}
