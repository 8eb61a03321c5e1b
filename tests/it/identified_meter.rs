//! Identifications read from a meter on a real pseudo-terminal.

use std::path::PathBuf;
use std::time::Duration;

use crate::cable::Cable;
use crate::identified::{JOB, flat, name};
use crate::world::{World, repo, text};

/// Long enough for some frames to be read.
const SEEN: Duration = Duration::from_millis(700);

/// The demonstration job with the multimeter, and not the tester, on the line-stream port.
fn job_with_ohms(world: &World) -> PathBuf {
    let text = std::fs::read_to_string(repo(JOB)).unwrap();
    let text = text
        .replace("\"line-stream\"", "\"?\"")
        .replace("\"query-488\"", "\"line-stream\"")
        .replace("\"?\"", "\"query-488\"");
    let path = world.path("ohms.ron");
    std::fs::write(&path, text).unwrap();
    path
}

#[test]
fn contacts_are_taken_from_the_meter_and_placed_by_their_labels() {
    let (world, cable) = (World::with_key(), Cable::new());
    let file = world.path("cable.jsonl");
    let mut walk = world.talk(&[
        "identify",
        "--job",
        JOB,
        "--meter",
        &cable.spec(),
        "--out",
        name(&file),
        "--cores",
        "4",
    ]);
    let lift = || {
        cable.shows("LOWOHM;OL;ohm;-");
        std::thread::sleep(SEEN);
    };
    lift();
    for line in ["dead", "none"] {
        walk.question();
        walk.answer(line);
    }
    walk.question();
    assert!(
        flat(&walk.seen).contains("the meter is read: a contact that stands still is taken with a tone; or typed:"),
        "{}",
        walk.seen
    );
    lift();
    cable.shows("LOWOHM;300;ohm;-");
    walk.until("`300 ohm` is neither joined nor open: clean the ends, hold the probes still and measure again");
    lift();
    cable.shows("INS500;>299;Mohm;-");
    walk.until("the meter is on insulation at 500 V: turn the dial to ohms");
    lift();
    // a slip, taken back, and then the contact
    for (shown, line) in [("0.91", "back"), ("0.66", "1-2")] {
        cable.shows(&format!("LOWOHM;{shown};ohm;-"));
        walk.until(&format!("taken    {shown} ohm, from the meter"));
        walk.until(&format!("{shown} ohm was taken. Between which two?"));
        walk.question();
        walk.answer(line);
        walk.question();
        lift();
    }
    assert!(
        flat(&walk.seen).contains("do Taken so far: 1-2 0.66 ohm."),
        "{}",
        walk.seen
    );
    walk.answer("none");
    walk.until("note `none` cannot be: contacts were taken at this look");
    walk.answer("done");
    walk.question();
    // typed beside the meter
    walk.answer("A-C=0.7");
    walk.question();
    // the supply comes back
    cable.shows("VAC;231.4;V;-");
    walk.until("!! 231.4 V on a cable that was proved dead. Stop.");
    lift();
    walk.question();
    assert!(
        flat(&walk.seen).contains("Is the cable proved dead again"),
        "{}",
        walk.seen
    );
    for line in ["dead", "none", "skip"] {
        walk.answer(line);
        walk.question();
    }
    walk.answer("in order");
    walk.until("Signing with");
    let (code, out, errors) = walk.finish();
    assert_eq!(code, 1, "one core by elimination\n{out}{errors}");
    let verified = text(&world.run(&["verify", name(&file)]).stdout);
    for said in ["readings     typed, and from `tester` on `", "live seen    231.4 V at "] {
        assert!(verified.contains(said), "{said}\n{verified}");
    }
    let kept = std::fs::read_to_string(&file).unwrap();
    assert!(
        kept.contains("\"origin\":{\"meter\":{\"profile\":\"line-stream\",\"raw\":\""),
        "{kept}"
    );
}

#[test]
fn resistors_are_read_pair_by_pair_and_need_an_ohms_range() {
    let (world, cable) = (World::new(), Cable::new());
    let refused = world.run(&["identify", "--job", JOB, "--kit", "resistors", "--meter", &cable.spec()]);
    assert_eq!(refused.status.code(), Some(2));
    assert_eq!(
        text(&refused.stderr),
        "error: the ohms range of `tester` ends before the 3852 ohm that the resistors need\n next: leave the resistors out of the kit, or use another meter\n"
    );
    let job = job_with_ohms(&world);
    let mut walk = world.talk(&[
        "identify",
        "--job",
        name(&job),
        "--kit",
        "resistors",
        "--meter",
        &cable.spec(),
    ]);
    let lift = || {
        cable.shows("OHMS;OL;Mohm;-");
        std::thread::sleep(SEEN);
    };
    lift();
    for line in ["dead", "none", "none"] {
        walk.question();
        walk.answer(line);
    }
    // hub A is 2; B (1.2 kohm) is 4, C (1.5 kohm) is 1, D (1.8 kohm) is 3
    for (n, kohm) in ["1.52", "3.33", "2.71", "1.79", "1.21"].iter().enumerate() {
        walk.question();
        lift();
        if n == 0 {
            // a continuity range ends below the resistors
            cable.shows("LOWOHM;OL;ohm;-");
            walk.until("the meter is on low-resistance continuity: turn the dial to ohms");
            lift();
        }
        cable.shows(&format!("OHMS;{kohm};kohm;-"));
        walk.until(&format!("taken    {kohm} kohm, from the meter"));
    }
    for _ in ["the checking walk", "the terminals"] {
        walk.question();
        walk.answer("skip");
    }
    let (code, out, errors) = walk.close();
    assert_eq!(code, 0, "{out}{errors}");
    for row in [" A    | 2", " B    | 4", " C    | 1", " D    | 3"] {
        assert!(out.contains(row), "{row}\n{out}");
    }
}
