//! Metalwork in parallel with an earth conductor: what a reading on the terminal lets through, and what every shipped sequence makes of it.
//!
//! The rule inside: the pipe is put into a shipped job's own text; each fault of the earth is put into the model and the whole sequence walked.

use coreproof::diagnosis::coverage::{Coverage, walk};
use coreproof::job::{self, End, Job, Purpose};
use coreproof::located::Text;
use coreproof::model::fault::Size;
use coreproof::model::installation::Installation;
use coreproof::model::library;
use coreproof::model::opposite::{About, opposites};
use coreproof::plan::{Act, Plan, Point, Probes, Stage};
use coreproof::sequence;
use coreproof::sequence::shipped::{self, SEQUENCES};

/// A shipped job with metalwork at these ends and at no others.
fn piped(name: &str, ends: &[End]) -> Job {
    let text = shipped::job(name)
        .unwrap()
        .text
        .replace("        metalwork: \"copper pipe to the boiler\",\n", "");
    let with = |text: String, end: &End| {
        let field = format!("    {}: (\n", format!("{end:?}").to_lowercase());
        assert_eq!(text.matches(&field).count(), 1, "{name} {end:?}");
        text.replace(&field, &format!("{field}        metalwork: \"copper pipe\",\n"))
    };
    let text = ends.iter().fold(text, with);
    job::read(&Text::new(name, text)).unwrap()
}

/// The shipped sequence on a job, its parts changed.
fn read(name: &str, change: impl Fn(&str) -> String) -> sequence::Sequence {
    let mut texts = shipped::texts(name).unwrap();
    for text in &mut texts {
        text.text = change(&text.text).into();
    }
    sequence::read(&texts).unwrap()
}

/// Steps that do not pass with a fault, before anything is energised.
fn caught(plan: &Plan, fault: &str, size: Size) -> Vec<String> {
    let mut installation = Installation::of(&plan.job).unwrap();
    for fault in library::find(&plan.job, fault).unwrap() {
        installation.put_sized(&fault, size).unwrap();
    }
    let walked = walk(plan, installation);
    let before = walked.caught().filter(|step| plan.steps[*step].stage < Stage::Live);
    before.map(|step| plan.steps[step].id.clone()).collect()
}

/// Every shipped sequence whose cable earths both ends.
fn earthed() -> Vec<(&'static str, &'static str)> {
    let brings = |job: &str| {
        let job = job::read(&shipped::job(job).unwrap()).unwrap();
        job.core_for(Purpose::Earth).is_some() && job.has_earth_conductor(End::Far)
    };
    let all = SEQUENCES
        .iter()
        .filter(|there| there.name != "hand-over" && brings(there.job));
    let found: Vec<_> = all.map(|there| (there.name, there.job)).collect();
    assert_eq!(found.len(), 15, "all but the three on a pair without earth");
    found
}

#[test]
fn every_shipped_sequence_catches_the_faults_of_an_earth_core_that_pipe_is_in_parallel_with() {
    for (name, job) in earthed() {
        let plan = sequence::bind(&read(name, str::to_owned), &piped(job, &End::BOTH)).unwrap_or_else(|findings| {
            let what: Vec<_> = findings.iter().map(|finding| finding.problem.what.clone()).collect();
            panic!("{name}: {what:#?}")
        });
        let core = plan.job.core_for(Purpose::Earth).unwrap().name.clone();
        // each by the step that reads that part of the way by itself
        for (fault, by) in [
            ("loop-high".to_owned(), "earth-alone-near".to_owned()),
            ("earth-missing".to_owned(), "earth-alone-near".to_owned()),
            (
                format!("conductor-not-gripped:{core}@near"),
                "earth-alone-far".to_owned(),
            ),
            (
                format!("high-resistance-clamp:{core}@near"),
                "earth-alone-far".to_owned(),
            ),
            (format!("conductor-not-gripped:{core}@far"), format!("clamp-far/{core}")),
            (format!("high-resistance-clamp:{core}@far"), format!("clamp-far/{core}")),
            (format!("core-open:{core}"), "earth-alone-far".to_owned()),
        ] {
            // a clamp of 0.1 ohm is less than what the copper of an unknown length may have
            let least = (fault != format!("high-resistance-clamp:{core}@near")).then_some(Size::LEAST);
            for size in least.into_iter().chain([Size::Usual]) {
                let found = caught(&plan, &fault, size);
                assert!(found.contains(&by), "{name}: {fault} {size:?}: {found:?}");
            }
        }
    }
}

#[test]
fn where_pipe_touches_the_lead_that_counts_is_on_the_main_earthing_terminal() {
    let clip =
        |ends: &[End]| Point::long_lead(&piped("boiler-room-call", ends)).words(&piped("boiler-room-call", ends));
    assert_eq!(clip(&[]), "the long lead clipped to terminal E at the wiring centre");
    for ends in [&[End::Near][..], &[End::Far], &End::BOTH] {
        assert_eq!(clip(ends), "the long lead clipped to the main earthing terminal");
    }
    // earthed by the far end's pipe alone, the near earth lights and is at earth no more once the cable is off it
    let plan = sequence::bind(
        &read("boiler-call-live", str::to_owned),
        &piped("boiler-room-call", &[End::Far]),
    )
    .unwrap();
    let found = caught(&plan, "earth-missing", Size::Usual);
    assert!(!found.contains(&"earth-near".to_owned()), "{found:?}");
    assert_eq!(found.first().map(String::as_str), Some("earth-comes-in"), "{found:?}");
    let lit = |first: Point| {
        let mut there = Installation::of(&plan.job).unwrap();
        let about = About {
            point: "core blue Near".into(),
            ..About::default()
        };
        let borrowed = opposites("neutral dark", &about, &plan.job).map(|opposed| opposed.fault);
        let open = library::find(&plan.job, "earth-missing").unwrap();
        open.into_iter()
            .chain(borrowed)
            .for_each(|fault| there.put(&fault).unwrap());
        [Act::SwitchOff, Act::Disconnect(End::Far), Act::Disconnect(End::Near)]
            .iter()
            .for_each(|act| there.apply(act));
        let second = Point::Core {
            core: "blue".into(),
            end: End::Near,
        };
        there.indicator_lit(&Probes { first, second })
    };
    assert!(!lit(Point::building_earth(&plan.job)));
    assert!(lit(Point::long_lead(&plan.job)));
}

/// What a sequence does that reads every earth on its terminal, whatever touches it.
fn on_the_terminal(text: &str) -> String {
    text.replace("HasMetalwork(Near)", "HasControlPair")
        .replace("HasMetalwork(Far)", "HasControlPair")
}

#[test]
fn read_on_the_terminal_the_same_faults_escape_and_the_sequence_is_refused() {
    // nothing known of the way up to the near end: 1 ohm in all is what common practice allows
    let text = piped("boiler-room-call", &[End::Far]).text.text.to_string();
    let text = text.replace("        upstream: (length: \"7 m\", earth: \"1.5 mm2\"),\n", "");
    let job = job::read(&Text::new("boiler-room-call", text)).unwrap();
    let sequence = read("boiler-call-live", on_the_terminal);
    let mut before = sequence::bind_unproved(&sequence, &job).unwrap();
    before.steps.retain(|step| step.id != "clamp-far/green-yellow");
    let after = sequence::bind(&read("boiler-call-live", str::to_owned), &job).unwrap();
    for fault in [
        "loop-high",
        "earth-missing",
        "conductor-not-gripped:green-yellow@near",
        "high-resistance-clamp:green-yellow@near",
        "high-resistance-clamp:green-yellow@far",
    ] {
        let of_earth = |found: Vec<String>| -> Vec<String> {
            let reads = |id: &String| {
                id.starts_with("earthed-") || id.starts_with("earth-alone-") || id.contains("/green-yellow")
            };
            // who tugs feels what is not gripped at all
            found
                .into_iter()
                .filter(|id| reads(id) && !id.starts_with("tug-"))
                .collect()
        };
        let escapes = of_earth(caught(&before, fault, Size::Usual));
        assert!(escapes.is_empty(), "{fault}: {escapes:?}");
        let found = of_earth(caught(&after, fault, Size::Usual));
        assert!(!found.is_empty(), "{fault}");
    }
    let refused = sequence::bind(&sequence, &job).unwrap_err();
    let refused: Vec<_> = refused.iter().map(|finding| finding.problem.what.clone()).collect();
    assert!(
        refused
            .iter()
            .any(|what| what.contains("earthed-as-left") && what.contains("metalwork in parallel")),
        "{refused:#?}"
    );
}

/// A boiler's call with metalwork at the boiler and at the wiring centre.
pub fn at_both_ends() -> Plan {
    let job = piped("boiler-room-call", &End::BOTH);
    sequence::bind(&read("boiler-call-live", str::to_owned), &job).unwrap()
}

#[test]
fn what_pipe_hides_breaks_no_promise() {
    let plan = at_both_ends();
    let coverage = Coverage::of(&plan, false).unwrap();
    let broken: Vec<_> = coverage.broken_promises().map(|row| row.fault.clone()).collect();
    assert!(broken.is_empty(), "{broken:?}");
}

#[test]
fn the_record_says_what_a_loop_beside_pipe_does_not_show() {
    let limitations = |ends: &[End]| {
        let job = piped("workshop-spur", ends);
        let plan = sequence::bind(&read("fused-spur", str::to_owned), &job).unwrap();
        plan.limitations
            .into_iter()
            .filter(|what| what.contains("metal"))
            .collect::<Vec<_>>()
    };
    assert_eq!(limitations(&[]), [""; 0]);
    assert_eq!(
        limitations(&[End::Far]),
        [
            "At the fused connection unit metal touches the earth terminal (copper pipe). A loop impedance or a voltage to earth there goes through it as well and shows no joint of the earth conductor."
        ]
    );
    // a hand-over measures nothing
    let plan = sequence::bind(&read("hand-over", str::to_owned), &piped("saltmarsh", &[End::Far]));
    assert!(plan.unwrap().limitations.iter().all(|what| !what.contains("metal")));
}
