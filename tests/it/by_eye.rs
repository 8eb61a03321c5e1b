//! A fault that eyes find before anything is switched: through the shipped binary, in the sealed record, and in the mouth of a forger.

use coreproof::evidence::audit::Concern;

use crate::forged::Forged;
use crate::world::{Walk, World, text};

const FOUND: &str = "found bare copper at terminal 1";

/// The shipped sequence with the place looked at first, on the demonstration job.
fn walk(world: &World) -> Walk {
    let path = world.looked_at();
    let mut walk = world.talk(&["run", &path, "--job", "fixtures/saltmarsh.ron"]);
    // not the same at both ends: one by one
    to(&mut walk, "sound-near");
    walk.answer("no");
    walk
}

/// Gives good answers until a question that is not a look's own is asked at this step; the words of the prompts on the way.
fn to(walk: &mut Walk, step: &str) {
    while let Some(asked) = walk.question() {
        if asked == step {
            return;
        }
        answer(walk, &asked);
    }
    panic!("`{step}` was not asked in\n{}", walk.seen);
}

fn answer(walk: &mut Walk, asked: &str) {
    if asked == "switched-off" {
        std::thread::sleep(std::time::Duration::from_millis(300));
    }
    walk.answer(match asked {
        "sound-near" | "sound-far" => "sound",
        other => Walk::good(other),
    });
}

/// Answers the question that was read, and each that follows it but the last.
fn say(walk: &mut Walk, lines: &[&str]) {
    for (n, line) in lines.iter().enumerate() {
        if 0 < n {
            walk.question();
        }
        walk.answer(line);
    }
}

/// A run with a fault at the near end noted, repaired and looked at again; and the world with its record.
fn repaired() -> (World, String) {
    let world = World::with_key();
    let picture = world.path("clamp.jpg");
    std::fs::write(&picture, b"a picture").unwrap();
    let mut walk = walk(&world);
    to(&mut walk, "sound-near");
    say(&mut walk, &[FOUND, &format!("photograph {}", picture.display())]);
    walk.until("now type `repair`");
    walk.answer("repair");
    to(&mut walk, "sound-near");
    assert!(
        walk.seen
            .contains("`sound-near`, as found: found: bare copper at terminal 1."),
        "{}",
        walk.seen
    );
    let (dead, asked) = (
        walk.seen.rfind("indicator-second"),
        walk.seen.rfind("What was repaired?"),
    );
    assert!(dead.is_some() && dead < asked, "{}", walk.seen);
    say(&mut walk, &["copper cut back, core clamped anew", "brown"]);
    assert_eq!(walk.question().as_deref(), Some("sound-near"));
    assert!(walk.seen.contains("Again, as left. Look into"), "{}", walk.seen);
    answer(&mut walk, "sound-near");
    while let Some(asked) = walk.question() {
        answer(&mut walk, &asked);
    }
    let (code, seen, errors) = walk.finish();
    assert_eq!(code, 0, "{seen}{errors}");
    let flat = seen.split_whitespace().collect::<Vec<_>>().join(" ");
    for told in [
        "found by eye sound-near: found: bare copper at terminal 1 (photograph clamp.jpg, SHA-256 ",
        "; repaired: copper cut back, core clamped anew repaired sound-near",
        "repaired sound-near: copper cut back, core clamped anew; touched: brown",
        "sound-near: FAIL: found: bare copper at terminal 1",
    ] {
        assert!(flat.contains(told), "{told} is not in\n{seen}");
    }
    (world, seen)
}

fn exported(world: &World) -> (String, String) {
    let list = world.run(&["records", "list", "--json"]);
    let records: serde_json::Value = serde_json::from_slice(&list.stdout).unwrap();
    let run = records[0]["run"].as_str().unwrap().to_owned();
    let out = world.path("out").display().to_string();
    let done = world.run(&["records", "export", &run, "-o", &out]);
    assert_eq!(done.status.code(), Some(0), "{}", text(&done.stderr));
    (run, std::fs::read_to_string(format!("{out}/record.jsonl")).unwrap())
}

#[test]
fn what_eyes_found_is_repaired_once_dead_and_the_sealed_record_has_both() {
    let (world, _) = repaired();
    let (run, record) = exported(&world);
    let at = |mark: &str| record.find(mark).unwrap_or_else(|| panic!("no {mark} in {record}"));
    let order = [
        at("{\"found\":\"bare copper at terminal 1\"}"),
        at("\"repair_begins\":{\"step\":\"sound-near\",\"photograph\":{\"file\":\"clamp.jpg\""),
        at("\"answered\":{\"step\":\"indicator-second\""),
        at("\"repaired\":{\"step\":\"sound-near\""),
        record.rfind("\"answered\":{\"step\":\"sound-near\"").unwrap(),
        at("\"answered\":{\"step\":\"off-near\""),
    ];
    assert!(order.is_sorted(), "{order:?}");
    let file = world.path("out/record.jsonl").display().to_string();
    assert_eq!(world.run(&["verify", &file]).status.code(), Some(0));
    assert_eq!(world.run(&["audit"]).status.code(), Some(0));
    let shown = text(&world.run(&["records", "show", &run]).stdout);
    let told = "Found by eye, sound-near: found: bare copper at terminal 1 (photograph clamp.jpg, SHA-256 ";
    assert!(shown.contains(told), "{shown}");
    assert!(
        shown.contains("; repaired: copper cut back, core clamped anew"),
        "{shown}"
    );
    every_lie_is_found(&Forged::of(&record));
}

/// Lies that a forger with a good key tells about what was found by eye.
fn every_lie_is_found(honest: &Forged) {
    assert_eq!(
        honest.examined().0.iter().filter(|remark| remark.is_against()).count(),
        0
    );
    let begins = honest.find(&["\"repair_begins\""]);
    let mended = honest.find(&["\"repaired\""]);
    let found = honest.find(&["\"answered\"", "\"found\""]);
    let left = mended + 1;
    assert!(
        honest.0[left].1.contains("\"answered\":{\"step\":\"sound-near\""),
        "{:?}",
        honest.0[left]
    );
    let without = |lines: &[usize]| {
        let kept = honest.0.iter().enumerate().filter(|(n, _)| !lines.contains(n));
        Forged(kept.map(|(_, line)| line.clone()).collect())
    };
    let moved = |from: usize, to: usize| {
        let mut forged = honest.clone();
        let (line, time) = (forged.0.remove(from), honest.0[to].0.clone());
        forged.0.insert(to, (time, line.1));
        forged
    };
    let twice = |at: usize| {
        let mut forged = honest.clone();
        forged.0.insert(at, honest.0[at].clone());
        forged
    };
    let sounds = |forged: Forged| {
        let forged = forged.edited(
            &["\"answered\"", "\"found\""],
            "{\"found\":\"bare copper at terminal 1\"}",
            "{\"saw\":[\"sound\"]}",
        );
        let pass = honest.0[left + 1].1.clone();
        let mut forged = forged;
        forged.0[found + 1].1 = pass;
        forged
    };
    let lies = [
        (
            "repaired before it was switched off",
            moved(mended, honest.find(&["\"answered\"", "\"switch-off\""])),
        ),
        (
            "repaired before the lock",
            moved(mended, honest.find(&["\"answered\"", "\"lock-off\""])),
        ),
        (
            "repaired before dead was shown there",
            moved(mended, honest.find(&["\"answered\"", "\"dead-near/"])),
        ),
        (
            "repaired before the indicator was proved again",
            moved(mended, honest.find(&["\"answered\"", "\"indicator-second\""])),
        ),
        ("repaired as soon as it was found", moved(mended, begins + 1)),
        ("what was found is dropped", without(&[found, found + 1])),
        ("what was found was sound", sounds(honest.clone())),
        (
            "what was found was sound, and is noted no more",
            sounds(without(&[begins])),
        ),
        ("it was never noted", without(&[begins])),
        ("it was never repaired", without(&[mended])),
        ("neither noted nor repaired", without(&[begins, mended])),
        ("it was not looked at as left", without(&[left, left + 1])),
        (
            "neither repaired nor looked at as left",
            without(&[mended, left, left + 1]).edited(&["\"repair_begins\""], "sound-near", "sound-far"),
        ),
        ("noted twice", twice(begins)),
        ("repaired twice", twice(mended)),
        (
            "noted at another place",
            honest.edited(&["\"repair_begins\""], "sound-near", "sound-far"),
        ),
        (
            "repaired at another place",
            honest.edited(&["\"repaired\""], "sound-near", "sound-far"),
        ),
        (
            "a core that is not there was touched",
            honest.edited(&["\"repaired\""], "brown", "violet"),
        ),
        ("left, and repaired all the same", {
            let mut forged = honest.clone();
            forged.0[begins].1 = "{\"left\":{\"step\":\"sound-near\",\"reason\":\"as it is\"}}".into();
            forged
        }),
        ("looked at again in place of a repair", {
            let mut forged = honest.clone();
            forged.0[mended].1 = "{\"again\":{\"step\":\"sound-near\"}}".into();
            forged
        }),
        ("a failure as left told as a pass", {
            let mut forged = honest.clone();
            let scorched = "{\"found\":\"a scorch\"}";
            forged.0[left].1 = honest.0[left].1.replace("{\"saw\":[\"sound\"]}", scorched);
            assert!(forged.0[left].1.contains(scorched));
            forged
        }),
        ("a picture where nothing was found by eye", {
            let mut forged = honest.clone();
            forged.0.insert(
                left + 2,
                (
                    honest.0[left + 2].0.clone(),
                    honest.0[begins].1.replace("sound-near", "off-near"),
                ),
            );
            forged
        }),
    ];

    for (lie, forged) in lies {
        let against: Vec<_> = forged
            .examined()
            .0
            .into_iter()
            .filter(|remark| remark.is_against())
            .collect();
        let first = against.first().unwrap_or_else(|| panic!("`{lie}` is not found"));
        assert!(
            matches!(first.concern, Concern::Order | Concern::Verdict | Concern::Chain),
            "{lie}: {first:?}"
        );
    }
    // what a record of old may hold is told, wherever its limitations stand
    let mut told = honest.clone();
    told.0[begins].1 = "{\"left\":{\"step\":\"sound-near\",\"reason\":\"as it is\"}}".into();
    told.0[mended].1 = "{\"again\":{\"step\":\"sound-near\"}}".into();
    let run = told.examined().1.expect("it folds");
    let said = "at `sound-near`: it failed as it was found, and passed when it was looked at again; no repair of it is recorded.";
    assert!(
        run.departures().iter().any(|line| line.ends_with(said)),
        "{:?}",
        run.departures()
    );
}

#[test]
fn a_repair_left_undone_fails_the_run_and_a_break_changes_nothing() {
    let world = World::with_key();
    let mut first = walk(&world);
    to(&mut first, "sound-far");
    say(&mut first, &["found the cover off", "repair"]);
    to(&mut first, "indicator-first");
    first.kill();
    let mut walk = world.talk(&["resume"]);
    to(&mut walk, "sound-far");
    assert!(
        walk.seen.contains("`sound-far`, as found: found: the cover off."),
        "{}",
        walk.seen
    );
    say(&mut walk, &["leave", "no cover at hand"]);
    // the dead tests go on; connecting waits for it
    to(&mut walk, "sound-far");
    assert!(
        walk.seen.contains("The walk cannot go on: `sound-far` has not passed"),
        "{}",
        walk.seen
    );
    walk.answer("again");
    walk.until("`again` is neither `repair` nor `abandon`");
    say(&mut walk, &["abandon", "a part is missing", "done"]);
    let (code, seen, errors) = walk.finish();
    assert_eq!(code, 1, "{seen}{errors}");
    assert!(seen.contains("no cover at hand"), "{seen}");
    let (_, record) = exported(&world);
    assert!(record.contains("{\"found\":\"the cover off\"}") && !record.contains("\"repaired\""));
}
