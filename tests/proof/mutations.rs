//! The shipped plans made bad: every edge of their graphs taken away, every step taken away, steps put out of order.

use std::collections::BTreeSet;

use coreproof::job::Nature;
use coreproof::plan::{Act, Came, Condition, Kind, Plan, Stage, Step, Then, Timing};
use coreproof::proof::{Breach, Label, Node, examine, graph, not_shown, prove};
use coreproof::sequence::shipped;

use super::walks::{framed, twice};
use super::{bound, stat_cable};

/// Every shipped sequence on the job that it is shipped with.
fn every_shipped() -> Vec<(String, Plan)> {
    let all = shipped::SEQUENCES.iter();
    all.map(|there| (there.name.to_owned(), bound(there.name, there.job)))
        .collect()
}

fn rules(plan: &Plan) -> Vec<&'static str> {
    prove(plan).breaches.iter().map(|b| b.rule.name).collect()
}

fn words(breaches: &[Breach], plan: &Plan) -> Vec<String> {
    breaches.iter().map(|b| b.what(plan)).collect()
}

#[test]
fn every_shipped_plan_is_proved() {
    for (name, plan) in every_shipped() {
        let proof = prove(&plan);
        assert!(proof.holds(), "{name}: {:#?}", words(&proof.breaches, &plan));
        assert!(
            proof.steps == plan.steps.len() && proof.steps < proof.outcomes && 20 < proof.facts,
            "{name}"
        );
    }
}

#[test]
fn every_single_edge_taken_away_is_refused_with_a_path() {
    let all = every_shipped();
    let every = cfg!(feature = "long");
    let here: Vec<_> = all
        .iter()
        .filter(|(name, _)| every || EVERY_EDGE.contains(&name.as_str()))
        .collect();
    assert_eq!(here.len(), if every { all.len() } else { EVERY_EDGE.len() });
    for (name, plan) in here {
        let whole = graph(plan);
        for edge in 0..whole.labels.len() {
            let label = whole.labels[edge];
            let breaches = examine(plan, &whole.without(edge)).breaches;
            assert!(
                !breaches.is_empty(),
                "{name}: edge {edge} ({label:?}) can be taken away unseen"
            );
            // without the first edge there is nothing that a path could lead to
            let has_path = breaches.iter().any(|b| 1 < b.path.len());
            assert!(edge == 0 || has_path, "{name}: {label:?}: {breaches:?}");
        }
    }
}

/// `cargo test` takes the edges of three sequences that differ most, `.ci/long` those of all.
const EVERY_EDGE: &[&str] = &["stat-cable", "extra-low-pair", "fused-spur"];

/// What the dead tests, isolation and connecting of a plan must show: taken away one pass edge at a time, energising is refused
/// by a rule about the world, not only because an outcome leads nowhere.
#[test]
fn without_the_step_that_shows_it_no_required_fact_is_taken_for_shown() {
    let plan = stat_cable();
    for (i, step) in plan.steps.iter().enumerate() {
        let mut skipped = plan.clone();
        // the step may turn out not to be needed, and then establishes nothing
        skipped.steps[i].only_if = vec![Condition {
            step: plan.steps[i.saturating_sub(1)].id.clone(),
            came: Came::Passed,
            not: false,
        }];
        let breaches = prove(&skipped).breaches;
        let refused = breaches.iter().any(|b| {
            let steps = b
                .path
                .iter()
                .filter(|s| s.step == Some(i) && s.happened == "not needed");
            b.rule.of_facts && steps.count() == 1
        });
        let spare =
            SPARE.iter().any(|(name, _)| is_called(&step.id, name)) || LINKS.iter().any(|n| is_called(&step.id, n));
        assert_eq!(refused, !spare, "`{}`: {:#?}", step.id, words(&breaches, &skipped));
    }
}

/// Acts whose place in the plan the run makes good by itself before the next measurement.
const LINKS: &[&str] = &[
    "link-first",
    "link/",
    "links-off",
    "clip",
    "join-rest/",
    "part-rest",
    "unclip",
    "terminals-joined",
    "terminals-parted",
    "neutral-parted",
    "neutral-back",
    "discharge",
];

/// Steps that can be taken away and why nothing dangerous follows.
const SPARE: &[(&str, &str)] = &[
    (
        "lead-null",
        "readings that keep the leads in them can only fail a good core",
    ),
    ("all-open/", "insulation to earth shows the same with a higher bar"),
    ("long-lead-null", "as for the other leads, and binding asks for it"),
    ("discharge", "the run itself lets the cores go before hands are on them"),
    (
        "neutral-parted",
        "what the steps behind it try is then no neutral that is off, which binding asks for",
    ),
    ("covers", "what is left behind, which no fact rests on"),
    ("labels", "as for the covers"),
    ("shown", "as for the covers"),
    ("tug-near/", "a look, which no fact rests on"),
    ("tug-far/", "as for the near end"),
    ("clamp-near/", "a reading of what is left, which no fact rests on"),
    ("clamp-far/", "as for the near end"),
    ("connected", "a reading of what is left, which no fact rests on"),
    ("insulation-alone/", "each core has passed against all others together"),
    (
        "all-dead-tests-passed",
        "the engine's gate before every live step says the same",
    ),
    ("supply", "a live test less"),
    ("call", "a call less: the times that count from it are another rule's"),
    (
        "switched-on",
        "a live test less is no danger: what the end switch shows is driven by the call as well",
    ),
    ("end-switch-on", "a live test less"),
    ("satisfy", "as for the call"),
    ("switched-off", "a live test less"),
    ("end-switch-off", "a live test less"),
];

fn is_called(id: &str, name: &str) -> bool {
    id == name || (name.ends_with('/') && id.starts_with(name))
}

#[test]
fn every_single_step_taken_away_is_refused_unless_it_is_spare() {
    let plan = stat_cable();
    let mut refused = 0;
    for i in 0..plan.steps.len() {
        let mut less = plan.clone();
        let step = less.steps.remove(i);
        let spare = SPARE.iter().any(|(name, _)| is_called(&step.id, name));
        // a time that counts from a step needs it
        let timed = plan
            .steps
            .iter()
            .any(|s| format!("{:?}", s.timing()).contains(&format!("since: \"{}\"", step.id)));
        let breaches = prove(&less).breaches;
        if breaches.is_empty() {
            assert!(spare && !timed, "`{}` can be taken away", step.id);
        } else {
            assert!(!spare || timed, "`{}` cannot be taken away: {breaches:?}", step.id);
            assert!(breaches.iter().all(|b| 1 < b.path.len()), "{breaches:?}");
            refused += 1;
        }
    }
    println!("{refused} of {} steps cannot be taken away", plan.steps.len());
    assert!(50 < refused, "{refused}");
}

fn place(plan: &Plan, id: &str) -> usize {
    plan.index(id).unwrap_or_else(|| panic!("no `{id}`"))
}

/// Moves a step in front of another; with the stage of its new neighbour where that is asked.
fn moved(id: &str, before: &str, restage: bool) -> Plan {
    let mut plan = stat_cable();
    let mut step = plan.steps.remove(place(&plan, id));
    let to = place(&plan, before);
    if restage {
        step.stage = plan.steps[to].stage;
    }
    plan.steps.insert(to, step);
    plan
}

fn edited(edit: impl FnOnce(&mut Plan)) -> Plan {
    let mut plan = stat_cable();
    edit(&mut plan);
    plan
}

#[test]
fn steps_out_of_order_break_the_rule_that_is_theirs() {
    let check = |plan: Plan, rule: &str| {
        let found = rules(&plan);
        assert!(found.contains(&rule), "{rule} is not in {found:?}");
    };
    check(moved("lock-off", "indicator-second", false), "locked-before-proving");
    check(moved("indicator-first", "indicator-second", false), "indicator-before");
    check(moved("off-near", "dead-near/earth-line", true), "dead-before-hands");
    check(
        moved("indicator-second", "dead-far/earth-line", false),
        "indicator-after",
    );
    // one bracket a position, an earth that was lit before it was switched off, and a neutral that is tried once it is parted
    check(
        moved("indicator-between", "dead-near/earth-line", false),
        "indicator-before",
    );
    for earth in ["earth-near", "lead"] {
        check(
            edited(|plan| drop(plan.steps.remove(place(plan, earth)))),
            "earth-before-dead",
        );
    }
    check(
        moved("off-near", "parted-far/grey-earth", false),
        "neutral-dark-once-parted",
    );
    check(
        moved("indicator-parted", "parted-far/grey-earth", false),
        "indicator-after",
    );
    check(moved("off-far", "links-off", true), "apart-at-both-ends");
    check(
        moved("insulation/brown", "continuity/brown", false),
        "continuity-before-insulation",
    );
    check(moved("guard", "clip-still-bites", true), "guarded-before-voltage");
    check(moved("part-rest", "connect-far/brown", true), "clear-before-terminals");
    check(
        moved("continuity/grey", "link/grey+black", false),
        "tested-before-energising",
    );
    check(moved("connect-far/black", "feed", true), "read-before-energising");
    check(moved("feed", "energise", false), "on-before-live-tests");
    check(moved("off-near", "links-off", false), "stages-forward");
    check(moved("energise", "all-dead-tests-passed", true), "acts-in-their-stage");
    check(moved("call", "satisfy", false), "time-from-before");
    let unlocked = |plan: &mut Plan| {
        plan.steps
            .retain(|s| s.stage != Stage::Live && !s.acts.contains(&Act::LockOff));
    };
    check(edited(unlocked), "ends-safe");
    let half = |plan: &mut Plan| {
        plan.steps
            .retain(|s| s.stage < Stage::Connect && s.id != "continuity/grey");
    };
    let half = edited(half);
    assert!(rules(&half).contains(&"continuity-before-insulation"));
    // a part of the tests is walked, and what it leaves out is said
    assert!(!rules(&half).contains(&"tested-before-energising"));
    assert_eq!(
        not_shown(&half),
        [
            "Not shown by this sequence: continuity of core grey.",
            // linked in each turn: its earth core is read once it is connected
            "Not shown by this sequence: which is which of cores black-green-yellow.",
        ]
    );
    check(edited(|plan| plan.job.instruments.clear()), "instruments-at-hand");
    check(edited(|plan| plan.steps.clear()), "bounded");
}

#[test]
fn what_a_sequence_says_after_a_failure_and_as_conditions_is_proved_too() {
    let check = |edit: &dyn Fn(&mut Plan), expected: &str| {
        let plan = edited(|plan| edit(plan));
        let found = words(&prove(&plan).breaches, &plan);
        assert!(
            found.iter().any(|what| what.contains(expected)) || (expected.is_empty() && found.is_empty()),
            "`{expected}` is not in {found:#?}"
        );
    };
    let at = |plan: &mut Plan, id: &str| place(plan, id);
    let condition = |step: &str, came: Came| Condition {
        step: step.into(),
        came,
        not: false,
    };
    // back to a named step, only again, only abandoning
    check(
        &|plan| {
            let i = at(plan, "insulation/brown");
            plan.steps[i].after_failure = vec![Then::Repair(Some("link/grey+black".into())), Then::Again];
        },
        "",
    );
    check(
        &|plan| {
            let i = at(plan, "switched-on");
            plan.steps[i].after_failure = vec![Then::Repair(Some("off-near".into()))];
        },
        "",
    );
    check(&|plan| plan.steps.iter_mut().for_each(|s| s.after_failure.clear()), "");
    check(
        &|plan| {
            let i = at(plan, "link/grey+black");
            plan.steps[i].after_failure = vec![Then::Repair(Some("clip".into()))];
        },
        "rule `outcomes-lead-on` at `link/grey+black`: `repaired` goes back to `clip`, which does not stand before it",
    );
    // a step about a failed test is reached; one that can only come about after a block is not
    check(
        &|plan| {
            let i = at(plan, "all-open/grey");
            plan.steps[i].only_if = vec![condition("continuity/brown", Came::Failed)];
        },
        "",
    );
    check(
        &|plan| {
            let i = at(plan, "feed");
            plan.steps[i].only_if = vec![condition("continuity/brown", Came::Failed)];
        },
        "rule `every-step-reached` at `feed`: its condition on `continuity/brown` can never hold there",
    );
    check(
        &|plan| {
            let i = at(plan, "feed");
            plan.steps[i].only_if = vec![condition("satisfy", Came::Passed)];
        },
        "rule `every-step-reached` at `feed`: its condition speaks of `satisfy`, which does not stand before it",
    );
}

/// A repair of a core must make void what was shown of it: a step that does not name its cores is found out.
#[test]
fn a_test_that_a_repair_would_not_make_void_is_refused() {
    let plan = edited(|plan| {
        let i = place(plan, "insulation/grey");
        plan.steps[i].cores.retain(|core| core != "grey");
    });
    let breaches = prove(&plan).breaches;
    assert_eq!(
        words(&breaches, &plan),
        [
            "rule `tested-before-energising` at `energise`: not shown on every path: core `grey` has passed insulation to the \
            earth of the building; cores `brown` and `grey` have passed insulation between them; core `grey` has passed \
            insulation to core `green-yellow`"
        ]
    );
    let repaired = breaches[0].path_words(&plan);
    assert!(
        repaired.iter().any(|stop| stop.contains("core grey touched")),
        "{repaired:#?}"
    );
}

#[test]
fn each_outcome_that_is_missing_is_named() {
    let plan = stat_cable();
    let whole = graph(&plan);
    let step = place(&plan, "continuity/brown");
    let edge = |label: Label| {
        let from = |e: &usize| whole.nodes[whole.flow.edges()[*e].from as usize] == Node::Doing(step);
        (0..whole.labels.len())
            .find(|e| whole.labels[*e] == label && from(e))
            .unwrap()
    };
    let breaches = examine(&plan, &whole.without(edge(Label::Fail))).breaches;
    let expected = "rule `outcomes-lead-on` at `continuity/brown`: `fail` leads nowhere";
    assert_eq!(words(&breaches, &plan), [expected]);
    let breaches = examine(&plan, &whole.without(edge(Label::Pass))).breaches;
    assert!(breaches.iter().any(|b| b.rule.name == "outcomes-lead-on"));
    // whoever abandons while the supply is on must be led to make it safe
    let on = whole.labels.iter().position(|label| *label == Label::IsOn).unwrap();
    let breaches = examine(&plan, &whole.without(on)).breaches;
    assert!(breaches.iter().any(|b| b.rule.name == "outcomes-lead-on"));
}

#[test]
fn the_shortest_path_is_shown_step_by_step_with_its_lines() {
    let mut plan = stat_cable();
    plan.steps.remove(place(&plan, "lock-off"));
    let breaches = prove(&plan).breaches;
    let first = &breaches[0];
    assert_eq!(
        first.what(&plan),
        "rule `locked-before-proving` at `dead-near/earth-line`: not shown on every path: the supply is locked off"
    );
    assert_eq!(
        first.path_words(&plan),
        [
            "begin",
            "parts/isolate.ron line 8 `earth-near`: pass",
            "parts/isolate.ron line 11 `lead`: pass",
            "parts/isolate.ron line 15 `switch-off`: pass",
            "parts/isolate.ron line 19 `keep-key`: pass",
            "parts/isolate.ron line 21 `notice`: pass",
            "parts/isolate.ron line 24 `indicator-first`: pass",
            "parts/isolate.ron line 26 `dead-near/earth-line`: here",
        ]
    );
    let finding = first.finding(&plan);
    assert!(finding.text.text[finding.problem.span].starts_with("ProveDead(id: \"dead-near\""));
    let hint = finding.problem.hint.unwrap();
    let why = "why: whoever comes by could switch on between the proof and the work\nsource: safe-isolation guidance";
    assert!(
        hint.contains(why) && hint.contains("\n   4. parts/isolate.ron line 15 `switch-off`: pass\n"),
        "{hint}"
    );
}

#[test]
fn a_plan_whose_dead_tests_are_made_twice_is_proved() {
    let plan = twice();
    let breaches = prove(&plan).breaches;
    let paths: Vec<_> = breaches.iter().map(|b| b.path_words(&plan)).collect();
    assert!(breaches.is_empty(), "{paths:#?}");
}

#[test]
fn a_plan_that_only_hands_over_is_proved_and_one_that_energises_needs_the_whole_proof() {
    let note = |plan: &Plan, stage: Stage| {
        let mut step = plan.steps[0].clone();
        step.id = format!("note-{stage:?}");
        step.stage = stage;
        step.acts.clear();
        step.kind = Kind::Note {
            photograph: true,
            reason: None,
        };
        step
    };
    let only = edited(|plan| plan.steps = vec![note(plan, Stage::HandOver)]);
    assert_eq!(words(&prove(&only).breaches, &only), Vec::<String>::new());
    let framed = edited(|plan| {
        plan.steps.insert(0, note(plan, Stage::Survey));
        plan.steps.push(note(plan, Stage::HandOver));
    });
    assert_eq!(words(&prove(&framed).breaches, &framed), Vec::<String>::new());
    let live = edited(|plan| plan.steps.retain(|s| s.stage == Stage::Live));
    let found: BTreeSet<&str> = rules(&live).into_iter().collect();
    for rule in ["tested-before-energising", "read-before-energising"] {
        assert!(found.contains(rule), "{found:?}");
    }
}

#[test]
fn switching_off_and_on_again_live_is_proved() {
    let plan = edited(|plan| {
        let act = |plan: &Plan, id: &str, act: Act| {
            let mut step = plan.steps[place(plan, "energise")].clone();
            step.id = id.into();
            step.acts = vec![act];
            step
        };
        let (off, on) = (
            act(plan, "off-again", Act::SwitchOff),
            act(plan, "on-again", Act::Energise),
        );
        let at = place(plan, "satisfy");
        plan.steps.insert(at, on);
        plan.steps.insert(at, off);
    });
    assert_eq!(words(&prove(&plan).breaches, &plan), Vec::<String>::new());
}

#[test]
fn a_plan_that_is_too_long_is_refused_at_once() {
    let mut plan = stat_cable();
    let step = plan.steps[0].clone();
    plan.steps = vec![step; 1_000_000];
    let found = words(&prove(&plan).breaches, &plan);
    assert_eq!(
        found,
        ["rule `bounded` at the end: the plan has 1000000 steps, 1 to 10000 are walked"]
    );
}

#[test]
fn a_control_pair_is_classified_before_anything_is_put_on_it() {
    let plan = framed();
    assert_eq!(words(&prove(&plan).breaches, &plan), Vec::<String>::new());
    let classify = [
        "pair/near-plate",
        "pair/far-plate",
        "pair/not-calling",
        "pair/open",
        "pair/calling",
        "pair/closed",
    ];
    for id in classify {
        let mut less = plan.clone();
        less.steps.remove(place(&less, id));
        let found = rules(&less);
        assert!(found.contains(&"classified-before-connecting"), "{id}: {found:?}");
        // and where the step may turn out not to be needed
        let mut skipped = plan.clone();
        let at = place(&skipped, id);
        skipped.steps[at].only_if = vec![Condition {
            step: "sound-near".into(),
            came: Came::Passed,
            not: false,
        }];
        let found = rules(&skipped);
        assert!(found.contains(&"classified-before-connecting"), "{id}: {found:?}");
    }
    let mut mixed = plan.clone();
    let pair = mixed.job.control_pair.as_mut().unwrap();
    pair.far = Nature::Mains;
    let expected = "rule `pair-ends-match` at `connect-near/white`: the control pair is extra-low voltage at the wiring centre and \
        mains at the changing rooms thermostat";
    assert!(words(&prove(&mixed).breaches, &mixed).contains(&expected.to_owned()));
}

#[test]
fn nothing_leads_back_into_the_survey() {
    let mut plan = framed();
    let at = place(&plan, "dead-near/white-earth");
    plan.steps[at].after_failure = vec![Then::Repair(Some("sound-near".into()))];
    assert_eq!(
        words(&prove(&plan).breaches, &plan),
        [
            "rule `outcomes-lead-on` at `dead-near/white-earth`: `repaired` goes back to `sound-near`, done on the \
            place as it was found, which cannot be done again"
        ]
    );
}

#[test]
fn ways_past_making_safe_and_walks_without_an_end_are_found() {
    let plan = stat_cable();
    let whole = graph(&plan);
    let node = |wanted: Node| whole.nodes.iter().position(|n| *n == wanted).unwrap();
    let named = |graph: &coreproof::proof::Graph, rule: &str| {
        let breaches = examine(&plan, graph).breaches;
        let found = breaches.iter().find(|b| b.rule.name == rule);
        assert!(found.is_some_and(|b| 1 < b.path.len()), "{rule}: {breaches:?}");
    };
    let mut unsafe_end = whole.clone();
    let (abandoning, abandoned) = (node(Node::Abandoning), node(Node::AbandonedClosed));
    unsafe_end.flow.edge(abandoning, abandoned, 0);
    unsafe_end.labels.push(Label::IsOff);
    named(&unsafe_end, "abandons-safe");
    let mut endless = whole.clone();
    let ends = [node(Node::Completed), abandoned];
    while let Some(edge) = endless
        .flow
        .edges()
        .iter()
        .position(|e| ends.contains(&(e.to as usize)))
    {
        endless = endless.without(edge);
    }
    named(&endless, "way-out");
    let step = node(Node::At(place(&plan, "feed")));
    let edges = whole.flow.edges();
    let gate = (0..edges.len()).find(|e| edges[*e].from as usize == step && whole.labels[*e] == Label::LetThrough);
    named(&whole.without(gate.unwrap()), "every-step-reached");
}

#[test]
fn a_cable_with_too_many_cores_is_refused_before_its_facts_are_made() {
    let plan = edited(|plan| plan.job.cores = vec![plan.job.cores[0].clone(); 10_000]);
    let found = words(&prove(&plan).breaches, &plan);
    assert_eq!(
        found,
        ["rule `bounded` at the end: the cable has 10000 cores, at most 36 are looked at"]
    );
    let plan = edited(|plan| {
        plan.job.cores = vec![plan.job.cores[0].clone(); 36];
        plan.steps = vec![plan.steps[0].clone(); 9_000];
    });
    let found = words(&prove(&plan).breaches, &plan);
    assert!(
        found[0].starts_with("rule `bounded` at the end: the plan has 9000 steps, at most "),
        "{found:?}"
    );
}

/// A device that trips where it must not is off, and a trip test that is done again is done from where it was seen to be on.
#[test]
fn a_trip_test_is_made_again_only_with_the_device_on() {
    let whole = bound("fused-spur", "workshop-spur");
    for id in ["half-current", "rated-current"] {
        let mut plan = whole.clone();
        let at = place(&plan, id);
        let Kind::Measure(measure) = &mut plan.steps[at].kind else {
            unreachable!("`{id}` is a measurement")
        };
        measure.timing = Timing::Any;
        let expected = format!(
            "rule `device-on-again` at `{id}`: not shown on every path: the residual-current device is on again"
        );
        assert_eq!(words(&prove(&plan).breaches, &plan), [expected]);
    }
    let mut plan = whole;
    plan.steps.remove(place(&plan, "device-on-again"));
    assert!(rules(&plan).contains(&"device-on-again"));
}

/// Extra-low voltage may stand on both cores against earth, or between them and float: each pair is shown quiet, both ways.
#[test]
fn no_meter_that_shows_extra_low_voltage_absent_can_be_left_out() {
    let plan = bound("extra-low-pair", "changing-rooms-pair");
    let of = |step: &Step, kind: fn(&Kind) -> bool| step.stage == Stage::Isolate && kind(&step.kind);
    let mut left_out = [0, 0];
    for (i, step) in plan.steps.iter().enumerate() {
        let (meter, dark) = (
            of(step, |kind| matches!(kind, Kind::Measure(_))),
            of(step, |kind| matches!(kind, Kind::Indicator { lit: false, .. })),
        );
        let rule = match (meter, dark) {
            (true, _) => "extra-low-shown-absent",
            (_, true) => "dead-before-hands",
            _ => continue,
        };
        let mut less = plan.clone();
        less.steps.remove(i);
        assert!(rules(&less).contains(&rule), "`{}`: {:?}", step.id, rules(&less));
        left_out[usize::from(dark)] += 1;
    }
    // each core to earth and neutral at the near end, to the long lead at the far end, and pole to pole at both; with line, neutral and
    // earth of the mains beside the pair
    assert_eq!(left_out, [16, 11]);
}
