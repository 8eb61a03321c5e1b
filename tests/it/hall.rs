//! One afternoon in a village hall: two zones, nothing labelled, a borrowed neutral, one cable broken; from the survey to the last record.
//!
//! The hall's cable is proved dead first and left locked off; what follows is done behind its lock, and nobody switches on behind the other's
//! back.

use std::sync::OnceLock;

use coreproof::evidence::archive::Archive;

use crate::forged::Forged;
use crate::identified::{by_the_cable, flat};
use crate::world::{PASSPHRASE, Walk, World, text};

const HALL: &str = "fixtures/village-hall.ron";
const CABLE: &str = "hall thermostat cable";

/// Isolation and the dead tests of one cable, and what was taken off put back; the supply stays locked off.
const DEAD: &str = "(format: \"1.1\", name: \"dead-half\", title: \"One cable dead, and left locked off\", steps: [
    Include(\"parts/isolate.ron\"), Include(\"parts/dead-tests.ron\"), Include(\"parts/connect.ron\"),
])";

/// Goes to the end with good answers.
fn to_the_end(walk: &mut Walk) {
    while let Some(step) = walk.question() {
        if step == "switched-off" {
            std::thread::sleep(std::time::Duration::from_millis(350));
        }
        walk.answer(Walk::good(&step));
    }
}

/// Ends a walk; the run that it sealed.
fn sealed(walk: Walk, code: i32) -> String {
    let (came, out, errors) = walk.finish();
    assert_eq!(came, code, "{out}{errors}");
    let run = out.split("Sealed as ").nth(1).expect("it is sealed");
    run.split('.').next().unwrap().to_owned()
}

fn said(world: &World, args: &[&str], code: i32) -> String {
    let output = world.run(args);
    let all = flat(&(text(&output.stdout) + &text(&output.stderr)));
    assert_eq!(output.status.code(), Some(code), "{args:?}: {all}");
    all
}

/// Files of the afternoon.
struct Files {
    dead: String,
    alive: String,
    named: String,
    identified: String,
}

/// The cores of the committee room's cable, of which nobody knows which is which, are told apart.
fn survey(world: &World, files: &Files) {
    let mut told = world.talk(&[
        "identify",
        "--job",
        HALL,
        "--cable",
        "committee",
        "--every-core-seen",
        "--out",
        &files.identified,
        "--job-out",
        &files.named,
    ]);
    while told.question().is_some() {
        let answer = by_the_cable(&told.seen).replace("C=3", "C=5");
        told.answer(&answer);
    }
    told.answer(PASSPHRASE);
    let (code, out, errors) = told.close();
    assert_eq!(code, 0, "{out}{errors}");
}

/// The hall's cable: its neutral is borrowed by another circuit, which is isolated; then it is proved dead, and left locked off.
fn hall_dead(world: &World, files: &Files) -> String {
    let mut walk = world.talk(&["run", &files.dead, "--job", HALL, "--cable", CABLE]);
    assert!(walk.to("parted-near/grey-earth"), "{}", walk.seen);
    let answers = [
        "lit",
        "isolate",
        "hall lights, switch 3 of the board in the porch",
        "done",
        "done",
        "done",
    ];
    for answer in answers {
        walk.answer(answer);
        walk.question();
    }
    walk.answer("done");
    to_the_end(&mut walk);
    sealed(walk, 0)
}

/// What is taken over is not asked for: four prompts fewer, and one of the two earths, since the known source lights them together.
fn planned_and_rehearsed(world: &World, files: &Files, lock: &str) {
    let of = ["plan", &files.dead, "--job", &files.named];
    let behind = [&of[..], &["--rests-on", lock]].concat();
    let prompts = |said: &str| -> usize {
        let (before, _) = said.split_once(" prompts:").expect("it is counted");
        before.rsplit(' ').next().unwrap().parse().unwrap()
    };
    let (own, planned) = (said(world, &of, 0), said(world, &behind, 0));
    assert_eq!(planned.matches("taken over").count(), 4, "{planned}");
    assert!(!own.contains("taken over"), "{own}");
    assert_eq!(prompts(&own), prompts(&planned) + 5, "{planned}");
    let rehearsed = said(world, &[&["rehearse"], &behind[1..]].concat(), 0);
    assert!(rehearsed.contains("pass indicator-first"), "{rehearsed}");
    for step in ["switch-off", "lock-off", "keep-key", "notice"] {
        assert!(!rehearsed.contains(&format!("pass {step}")), "{step}: {rehearsed}");
    }
    let unknown = said(world, &[&of[..], &["--rests-on", "ffff"]].concat(), 2);
    assert!(unknown.contains("ffff"), "{unknown}");
}

/// The committee room's cable behind the hall's lock, up to its broken core.
fn committee(world: &World, files: &Files, lock: &str) -> Walk {
    let mut walk = world.talk(&[
        "run",
        &files.dead,
        "--job",
        &files.named,
        "--identified",
        &files.identified,
        "--rests-on",
        lock,
    ]);
    let mut seen = 0;
    while let Some(step) = walk.question() {
        if step.starts_with("continuity/") {
            seen += 1;
            if seen == 2 {
                break;
            }
            walk.answer("0.31 ohm");
            continue;
        }
        assert!(
            !["switch-off", "lock-off", "keep-key", "notice"].contains(&step.as_str()),
            "{step} is taken over"
        );
        walk.answer(Walk::good(&step));
    }
    walk.answer("OL");
    walk.question();
    walk
}

/// What the afternoon left: the hall's dead half, the committee room, the hall alive.
pub struct Afternoon {
    world: World,
    pub dead: String,
    pub broken: String,
    pub alive: String,
}

impl Afternoon {
    /// The one afternoon of all tests.
    pub fn shared() -> &'static Afternoon {
        static AFTERNOON: OnceLock<Afternoon> = OnceLock::new();
        AFTERNOON.get_or_init(Afternoon::walked)
    }

    /// Walks it all, and looks at what is said on the way.
    fn walked() -> Afternoon {
        let world = World::with_key();
        let path = |name: &str| world.path(name).display().to_string();
        let files = Files {
            dead: path("dead-half.ron"),
            alive: world.sequence(),
            named: path("committee.ron"),
            identified: path("committee.jsonl"),
        };
        std::fs::write(&files.dead, DEAD).unwrap();
        survey(&world, &files);
        let dead = hall_dead(&world, &files);
        planned_and_rehearsed(&world, &files, &dead);
        let mut committee = committee(&world, &files, &dead);
        let by_name = "on the committee room thermostat cable";
        // while one rests on the lock, nobody isolates anew and nobody switches on
        let hall = ["run", &files.alive, "--job", HALL, "--cable", CABLE];
        let refused = said(&world, &hall, 2);
        let locked = "error: the fused connection unit in the boiler cupboard is locked off: run ";
        assert!(refused.starts_with(locked) && refused.contains(by_name), "{refused}");
        let mut walk = world.talk(&[&hall[..], &["--rests-on", &dead]].concat());
        assert!(walk.to("energise"), "{}", walk.seen);
        let words = flat(&walk.seen);
        assert!(
            words.contains("nothing is switched on at the fused connection unit") && words.contains(by_name),
            "{words}"
        );
        walk.answer("energise");
        walk.until("`energise` is neither `again` nor `abandon`");
        walk.answer("again");
        walk.until("The lock stays on");
        walk.question();
        // the broken cable is given up and made safe; then the lock may come off
        for answer in ["abandon", "a core of it is broken: a new cable is needed", "done"] {
            committee.answer(answer);
            committee.question();
        }
        let broken = sealed(committee, 1);
        walk.answer("again");
        assert_eq!(walk.question().as_deref(), Some("energise"));
        walk.answer("energise");
        walk.question();
        // and once it is off, nothing rests on it any more
        let late = ["run", &files.dead, "--job", &files.named, "--rests-on", &dead, "--new"];
        let refused = said(&world, &late, 2);
        assert!(
            refused.contains("on the hall thermostat cable has switched the fused connection unit"),
            "{refused}"
        );
        let plan = ["plan", &files.dead, "--job", &files.named, "--rests-on", &dead];
        let refused = said(&world, &plan, 2);
        assert!(refused.contains("has switched the fused connection unit"), "{refused}");
        walk.answer(Walk::good("supply"));
        to_the_end(&mut walk);
        let alive = sealed(walk, 0);
        let refused = said(&world, &late, 2);
        assert!(
            refused.contains(&format!("run {alive} switched the supply on at")),
            "{refused}"
        );
        Afternoon {
            world,
            dead,
            broken,
            alive,
        }
    }

    pub fn record(&self, run: &str) -> Forged {
        let entry = Archive::read(&self.world.path("archive.sqlite"))
            .unwrap()
            .get(run)
            .unwrap();
        Forged::of(std::str::from_utf8(&entry.record).unwrap())
    }
}

#[test]
fn an_afternoon_from_the_survey_to_the_last_record() {
    let afternoon = Afternoon::shared();
    let world = &afternoon.world;
    let places = said(world, &["records", "places"], 0);
    let place = "Saltmarsh village hall, heating of the hall and the committee room: 1 of 2 proved, 1 failed";
    assert!(places.starts_with(place), "{places}");
    assert!(said(world, &[], 0).contains(place));
    let audited = said(world, &["audit"], 0);
    assert!(audited.starts_with("3 records examined, 0 findings"), "{audited}");
    let shown = said(world, &["records", "show", &afternoon.broken], 0);
    assert!(
        shown.contains(&format!(
            "in the record of run {}, on which this one rests",
            afternoon.dead
        )),
        "{shown}"
    );
    if cfg!(feature = "certificate") {
        let pdf = world.path("hall.pdf").display().to_string();
        said(world, &["certificate", &afternoon.alive, "-o", &pdf], 0);
        said(world, &["verify", &pdf], 0);
        // elsewhere nobody knows of the lock until its record is there as well
        let elsewhere = World::new();
        std::fs::copy(world.path("trusted"), elsewhere.path("trusted")).unwrap();
        let seen = said(&elsewhere, &["verify", &pdf], 1);
        assert!(
            seen.contains("which is not at hand here: import that one first"),
            "{seen}"
        );
    }
}
