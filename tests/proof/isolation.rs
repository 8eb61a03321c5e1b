//! Dead where hands go: what is no proof of it is refused, and wiring that lies to the indicator is caught.

use coreproof::diagnosis::coverage::walk;
use coreproof::job::{self, Job, Purpose};
use coreproof::judge::window::Outcome;
use coreproof::located::Text;
use coreproof::model::fault::Size;
use coreproof::model::installation::Installation;
use coreproof::model::library;
use coreproof::model::opposite::{About, opposites};
use coreproof::model::walked::{World, needed_where_sound};
use coreproof::plan::{Act, Kind, Plan, Stage};
use coreproof::sequence::{self, shipped};

use super::bound;

/// Binds a shipped sequence and its parts, some of their text replaced, to a shipped job, some of its replaced.
fn changed(name: &str, of_sequence: &[(&str, &str)], job_name: &str, of_job: &[(&str, &str)]) -> Result<Plan, String> {
    let replaced = |text: &mut String, changes: &[(&str, &str)]| {
        for (from, to) in changes {
            *text = text.replace(from, to);
        }
    };
    let mut texts = shipped::texts(name).unwrap();
    for (from, _) in of_sequence {
        assert!(texts.iter().any(|text| text.text.contains(from)), "{from}");
    }
    for text in &mut texts {
        let mut new = text.text.to_string();
        replaced(&mut new, of_sequence);
        *text = Text::new(text.name.clone(), new);
    }
    let there = shipped::job(job_name).unwrap();
    let mut new = there.text.to_string();
    replaced(&mut new, of_job);
    let job: Job = job::read(&Text::new(there.name, new)).map_err(|problems| format!("{problems:?}"))?;
    let sequence = sequence::read(&texts).map_err(|findings| format!("{findings:?}"))?;
    sequence::bind(&sequence, &job).map_err(|findings| {
        let all: Vec<_> = findings.iter().map(|finding| finding.problem.what.clone()).collect();
        all.join("\n")
    })
}

const OWN: &str = "ProveDead(id: \"dead-near\", end: Near, reference: OwnEarth,";
const LEAD: &str = "ProveDead(id: \"dead-far\", end: Far, reference: LongLead,";
const LOCK: &str = "Do(id: \"lock-off\", stage: Isolate, act: LockOff,";
const SWITCH: &str = "Do(id: \"switch-off\", stage: Isolate, act: SwitchOff,";

#[test]
fn what_is_no_proof_of_dead_is_refused() {
    let check = |change: (&str, &str), rule: &str| {
        let found = changed("stat-cable", &[change], "saltmarsh", &[]).unwrap_err();
        assert!(found.contains(&format!("rule `{rule}`")), "{change:?}: {found}");
    };
    // the far end's own earth was never lit, nor is it while no line is known to come there
    check(
        (LEAD, "ProveDead(id: \"dead-far\", end: Far, reference: OwnEarth,"),
        "earth-before-dead",
    );
    check((LEAD, "ProveDead(id: \"dead-far\", end: Far,"), "earth-before-dead");
    // the lead is lit only where it is clipped to an earth that is
    check(
        (
            "ProveEarth(id: \"earth-near\", end: Near,",
            "ProveLead(id: \"earth-near\",",
        ),
        "earth-before-dead",
    );
    check(
        ("ProveLead(id: \"lead\",", "ProveEarth(id: \"lead\", end: Near,"),
        "earth-before-dead",
    );
    // one bracket a position
    check(
        (
            "ProveIndicator(id: \"indicator-between\"",
            "Note(id: \"indicator-between\", stage: Isolate",
        ),
        "indicator-before",
    );
    check(
        (
            "ProveIndicator(id: \"indicator-second\"",
            "Note(id: \"indicator-second\", stage: Isolate",
        ),
        "indicator-after",
    );
    // a lock before the switch locks nothing
    let swapped = [
        (SWITCH, "Do(id: \"x\", stage: Isolate, act: LockOff,"),
        (LOCK, "Do(id: \"lock-off\", stage: Isolate, act: SwitchOff,"),
    ];
    let found = changed("stat-cable", &swapped, "saltmarsh", &[]).unwrap_err();
    assert!(
        found.contains("rule `locked-before-proving`") && found.contains("the supply is locked off"),
        "{found}"
    );
    // the parted neutral, tried against an earth that is off with it
    check(
        (
            "ProveParted(id: \"parted-far\", end: Far, reference: LongLead,",
            "ProveParted(id: \"parted-far\", end: Far, reference: OwnEarth,",
        ),
        "neutral-dark-once-parted",
    );
    check(
        (
            "ProveParted(id: \"parted-near\", end: Near",
            "ProveParted(id: \"parted-near\", end: Far",
        ),
        "neutral-dark-once-parted",
    );
    // a device is switched on where nobody has switched on the supply
    let reset = (
        "Include(\"parts/leave.ron\"),",
        "Do(id: \"reset\", stage: HandOver, act: ResetDevice, say: \"On again.\"), Include(\"parts/leave.ron\"),",
    );
    let found = changed("fused-spur", &[reset], "workshop-spur", &[]).unwrap_err();
    assert!(found.contains("rule `acts-in-their-stage`"), "{found}");
}

#[test]
fn every_terminal_of_the_box_is_a_point_and_a_further_supply_is_isolated_first() {
    let without = |change: &str, by: &str, words: &str| {
        let found = changed("cylinder-thermostat", &[(change, by)], "galley-cylinder", &[]).unwrap_err();
        assert!(found.contains(words), "{found}");
    };
    without(
        "EachSupply([",
        "If(HasTerminal(Near, \"earth\"), [",
        "for immersion heater: switch off: 20 A double-pole switch",
    );
    // a second neutral bar of another circuit in the same box
    let bar = [(
        "(name: \"4\", takes: EndSwitch),",
        "(name: \"4\", takes: EndSwitch), (name: \"N2\", takes: Neutral),",
    )];
    let whole = changed("stat-cable", &[], "saltmarsh", &bar).unwrap();
    assert!(whole.index("dead-near/terminal-N2-earth").is_some());
    let found = changed(
        "stat-cable",
        &[(OWN, "ProveDead(id: \"dead-near\", end: Near,")],
        "saltmarsh",
        &bar,
    )
    .unwrap_err();
    assert!(
        found.contains("between terminal E at the wiring centre and terminal N2 at the wiring centre"),
        "{found}"
    );
    // the mains beside an extra-low pair, at both of its ends
    for (name, job, points) in [
        (
            "extra-low-pair",
            "changing-rooms-pair",
            &["dead-near/earth-line", "dead-near/white-neutral", "dead-far/white-red"][..],
        ),
        (
            "boiler-call-volt-free",
            "boiler-room-pair",
            &[
                "dead-near/terminal-3-earth",
                "dead-far/earth-line",
                "dead-far/terminal-E-earth",
            ],
        ),
    ] {
        let plan = bound(name, job);
        for point in points {
            assert!(plan.index(point).is_some(), "{name}: {point}");
        }
    }
}

/// The first step that does not pass with faults in.
fn caught(plan: &Plan, faults: &[coreproof::model::fault::Fault]) -> Option<usize> {
    let mut installation = Installation::of(&plan.job).unwrap();
    faults.iter().for_each(|fault| installation.put(fault).unwrap());
    walk(plan, installation).caught().next()
}

#[test]
fn an_open_earth_a_borrowed_neutral_and_a_second_supply_are_caught_before_hands_go_near() {
    let (mut earths, mut neutrals, mut supplies) = (0, 0, 0);
    for there in shipped::SEQUENCES.iter().filter(|there| there.name != "hand-over") {
        let plan = bound(there.name, there.job);
        let (name, job) = (there.name, &plan.job);
        let hands = plan
            .steps
            .iter()
            .position(|step| step.stage == Stage::Disconnect)
            .unwrap();
        let at = |faults: &[_], what: &str| {
            let step = caught(&plan, faults).unwrap_or_else(|| panic!("{name}: {what} is not caught"));
            assert!(step < hands, "{name}: {what} is caught at `{}`", plan.steps[step].id);
            &plan.steps[step]
        };
        let found = library::find(job, "earth-missing").unwrap();
        if job::End::BOTH.iter().any(|end| job.metal_beside_earth(*end).is_some()) {
            // the pipe is an earth as well: what dead is proved against is one, and the conductor is read by itself later
            assert!(caught(&plan, &found).is_some(), "{name}: an open earth is not caught");
        } else {
            assert_eq!(at(&found, "an open earth").id, "earth-near");
        }
        earths += 1;
        for end in job::End::BOTH {
            let terminals = job.end(end).terminals.iter();
            for neutral in terminals.filter(|terminal| terminal.takes == Purpose::Neutral) {
                let about = About {
                    point: format!("terminal {} {end:?}", neutral.name),
                    ..About::default()
                };
                let faults: Vec<_> = opposites("neutral dark", &about, job)
                    .map(|opposed| opposed.fault)
                    .collect();
                let dark = matches!(at(&faults, &about.point).kind, Kind::Indicator { lit: false, .. });
                assert!(dark, "{name}: {}", about.point);
                neutrals += 1;
            }
            for core in job
                .end(end)
                .terminals
                .iter()
                .filter(|terminal| terminal.takes == Purpose::SwitchedLive)
            {
                let fault = format!(
                    "supply-still-live:{}@{}",
                    core.name,
                    if end == job::End::Near { "near" } else { "far" }
                );
                let found = library::find(job, &fault).unwrap();
                // before hands: dark it is not, or as found it makes a call
                at(&found, &fault);
                supplies += 1;
            }
        }
    }
    assert!(
        earths + 1 == shipped::SEQUENCES.len() && 15 < neutrals && 15 < supplies,
        "{earths} {neutrals} {supplies}"
    );
}

#[test]
fn a_neutral_that_is_borrowed_once_everything_is_connected_is_caught_before_its_terminal_is_joined() {
    let mut tried = 0;
    for there in shipped::SEQUENCES {
        let plan = bound(there.name, there.job);
        let does = |act: Act, from: usize| (from..plan.steps.len()).find(|i| plan.steps[*i].acts.contains(&act));
        let Some(parted) = does(Act::PartNeutral, 0) else {
            continue;
        };
        let joined = does(Act::JoinTerminals, parted).expect("it is joined next");
        let needed = needed_where_sound(&plan);
        let neutral = plan.job.near.terminal_for(Purpose::Neutral).unwrap();
        let faults = library::find(&plan.job, &format!("borrowed-neutral:{}@near", neutral.name)).unwrap();
        for size in [Size::LEAST, Size::Usual, Size::GREATEST] {
            let mut world = World::new(&plan, Installation::of(&plan.job).unwrap());
            (0..parted).filter(|i| needed[*i]).for_each(|i| world.come_to(i));
            for fault in &faults {
                world.installation.put_sized(fault, size).unwrap();
            }
            let seen = (parted..joined).find(|&i| {
                world.come_to(i);
                world.seen(&plan.steps[i]).outcome == Some(Outcome::Fail)
            });
            let seen = seen.unwrap_or_else(|| panic!("{}: {size:?} is not caught", there.name));
            assert!(
                plan.steps[seen].id.starts_with("parted-supply/"),
                "{}",
                plan.steps[seen].id
            );
            tried += 1;
        }
    }
    assert!(30 <= tried, "{tried}");
}
