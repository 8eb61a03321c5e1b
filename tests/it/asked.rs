//! A job written by asking, at a terminal and on a pipe.

use crate::screen::{Shown, at_a_terminal};
use crate::world::{World, text};

/// Who works and with what, told from the shipped job.
fn world() -> World {
    let world = World::with_key();
    assert_eq!(world.run(&["instruments", "add", "saltmarsh"]).status.code(), Some(0));
    world
}

/// What somebody at a place of their own answers, in the order in which it is asked.
const ANSWERS: &[(&str, &str)] = &[
    ("Where is it?", "Driftwood Boat Shed"),
    ("Which part of it?", "workshop heating zone"),
    ("Who is it done for?", "the boat shed's owner"),
    ("switched off and locked?", "fused connection unit behind the door"),
    ("Which other supplies", "none"),
    ("Which supply stays live", "socket outlet in the office"),
    ("nominal voltage", "230V"),
    ("How is the installation earthed?", "tn-s"),
    ("break line and neutral", "both"),
    ("What protects the circuit?", "3 A fuse to BS 1362"),
    ("call that device?", "BS 1362"),
    ("What is it rated?", "3 amp"),
    ("rated residual current", "none"),
    ("earth loop impedance", "0,35 R"),
    ("How far is the near end", "none"),
    ("earth conductor on that way", "none"),
    ("What is the cable called?", "workshop thermostat cable"),
    ("Which size are its cores?", "1,5 sqmm"),
    ("How long is it?", "12 metres"),
    ("Which core carries permanent live?", "brown"),
    ("Which core carries neutral?", "blue"),
    ("Which core carries switched live?", "black sleeved brown"),
    ("Which core carries earth?", "green-yellow"),
    ("What is on its control cores", "mains"),
    ("What is the near end called?", ""),
    ("which terminal is for permanent live?", "7"),
    ("which terminal is for neutral?", "8"),
    ("which terminal is for switched live?", "1"),
    ("which terminal is for end switch?", "2"),
    ("which terminal is for earth?", "E"),
    ("which metalwork touches", "none"),
    ("What is the far end called?", "workshop thermostat"),
    ("which terminal is for permanent live?", "A"),
    ("which terminal is for neutral?", "B"),
    ("which terminal is for switched live?", "C"),
    ("which terminal is for earth?", "D"),
    ("which metalwork touches", "copper pipe behind the bench"),
    ("Is `thermostat` there", "yes"),
    ("Is `zone valve` there", "yes"),
    ("Is `end switch` there", "yes"),
    ("Is `boiler input` there", "yes"),
];

#[test]
fn a_job_of_ones_own_place_is_written_checked_and_planned_in_at_most_fifty_answers() {
    assert!(ANSWERS.len() < 50);
    let world = world();
    let out = world.path("mine.ron");
    let out = out.to_str().unwrap();
    let mut lines: String = ANSWERS.iter().map(|(_, answer)| format!("{answer}\n")).collect();
    lines.push_str("yes\n");
    let output = world.typed(&["job", "stat-cable", "-o", out], &lines);
    let said = text(&output.stdout);
    assert_eq!(output.status.code(), Some(0), "{said}\n{}", text(&output.stderr));
    let mut rest = said.as_str();
    for (asked, _) in ANSWERS {
        let at = rest
            .find(asked)
            .unwrap_or_else(|| panic!("`{asked}` was not asked in {rest}"));
        rest = &rest[at + asked.len()..];
    }
    let job = std::fs::read_to_string(out).unwrap();
    for words in [
        "name: \"Driftwood Boat Shed\"",
        "length: \"12 m\"",
        "earthing: \"TN-S\"",
        "ze: \"0.35 ohm\"",
        "far: (metalwork: \"copper pipe behind the bench\", ",
        "sleeve: \"brown\", size: \"1.5 mm2\", carries: SwitchedLive, near: \"1\", far: \"C\"",
        "Motor(between: (Near(\"1\"), Near(\"8\"))",
        "instruments: [\"indicator\", \"tester\", \"multimeter\"]",
    ] {
        assert!(job.contains(words), "`{words}` in {job}");
        assert!(said.contains(words), "the job that was written is shown");
    }
    for words in ["Saltmarsh", "Morgan", "SM-", "upstream", "18 m", "Demonstration"] {
        assert!(!job.contains(words), "`{words}` is of another place: {job}");
    }
    assert!(said.contains("order proved"), "{said}");
    assert!(said.contains("worked from the job"), "{said}");
    assert!(
        said.contains(&format!("next: coreproof run stat-cable --job {out}")),
        "{said}"
    );
    // the run's first prompt
    let mut walk = world.talk(&["run", "stat-cable", "--job", out]);
    walk.until("Driftwood Boat Shed");
    assert!(walk.question().is_some());
    walk.kill();
    // and it is not written over
    let output = world.typed(&["job", "stat-cable", "-o", out], &lines);
    assert_eq!(output.status.code(), Some(2));
    assert!(
        text(&output.stderr).contains("is already there"),
        "{}",
        text(&output.stderr)
    );
}

fn answer(shown: &mut Shown, asked: &str, answer: &str) {
    shown.until(asked);
    shown.until("look");
    shown.type_line(answer);
}

#[test]
fn every_question_takes_wrong_empty_huge_and_hostile_answers_and_can_be_left_and_gone_on_with() {
    let world = world();
    let out = world.path("mine.ron");
    let begin = ["job", "stat-cable", "-o", out.to_str().unwrap()];
    let huge = "9".repeat(3000);
    for (n, (asked, good)) in ANSWERS.iter().enumerate() {
        // each question is met by a program that was begun anew
        let args: &[&str] = if n == 0 { &begin } else { &["job"] };
        let (mut child, mut shown) = at_a_terminal(&world, args);
        let mut bad = vec!["\u{7}\u{7}", "a/b{c}\"", huge.as_str()];
        // an empty line takes what is offered, which the ends' names alone are
        bad.extend((!asked.contains("end called?")).then_some(""));
        for bad in bad {
            shown.until(&format!("{} of {}", n + 1, ANSWERS.len()));
            shown.until(asked);
            shown.until("look");
            shown.type_line(bad);
            shown.until("note");
        }
        let _ = child.kill();
        let _ = child.wait();
        let (mut child, mut shown) = at_a_terminal(&world, args);
        answer(&mut shown, asked, good);
        shown.until(if n + 1 == ANSWERS.len() {
            "Taken from the base job"
        } else {
            "look"
        });
        let _ = child.kill();
        let _ = child.wait();
    }
    let (mut child, mut shown) = at_a_terminal(&world, &["job"]);
    shown.until("`yes` writes the job");
    shown.type_line("perhaps");
    shown.until("is neither");
    shown.type_line("back");
    answer(&mut shown, "Is `boiler input` there", "yes");
    shown.until("`yes` writes the job");
    shown.type_line("yes");
    shown.until("next: coreproof run");
    assert!(child.wait().unwrap().success());
    assert!(!world.path("draft.json").exists());
}

#[test]
fn what_must_be_looked_at_is_never_taken_as_it_was() {
    let world = world();
    let mut walk = world.talk(&["job", "stat-cable", "--from", "fixtures/saltmarsh.ron"]);
    // an earlier job of one's own offers its names
    walk.until("1 of 41 Where is it? [Saltmarsh Sailing Club]");
    for _ in 0..3 {
        walk.answer("");
    }
    walk.until("4 of 41");
    walk.answer("");
    walk.until("this is never taken as it was: look, and type what is there");
    walk.answer("back");
    walk.until("3 of 41");
    let (code, _, errors) = walk.close();
    assert_eq!(code, 130);
    assert_eq!(
        errors,
        "error: left with 2 answers, which are kept\n next: coreproof job\n"
    );
    let output = world.run(&["job", "zone-valve"]);
    assert_eq!(output.status.code(), Some(2));
    let expected = "error: a job for `stat-cable` was left half-way, with 2 answers\n next: go on with `coreproof job`, or drop it with `--new`\n";
    assert_eq!(text(&output.stderr), expected);
}

#[test]
fn a_sequence_for_mains_is_not_taken_for_another_pair() {
    let world = world();
    let mut walk = world.talk(&["job", "extra-low-pair"]);
    while !walk.seen.contains("control cores") {
        walk.line().unwrap();
        if walk
            .seen
            .ends_with("control cores: mains, extra-low voltage, or a volt-free contact?\n")
        {
            break;
        }
        let asks = |word: &str| walk.seen.lines().last().is_some_and(|line| line.contains(word));
        let answer = match () {
            () if asks("Which other supplies") => "none",
            () if asks("nominal voltage") => "230 V",
            () if asks("earthed?") => "TT",
            () if asks("break line") => "both",
            () if asks("residual current") => "none",
            () if asks("size are its") => "0.75 mm2",
            () if asks("How long") => "none",
            () if asks(" of ") && asks("?") => "red",
            () => continue,
        };
        walk.answer(answer);
    }
    walk.answer("mains");
    walk.until("this sequence is for `extra-low`");
    walk.kill();
}

#[test]
fn without_an_engineer_and_instruments_nothing_is_asked() {
    let output = World::new().run(&["job", "stat-cable"]);
    assert_eq!(output.status.code(), Some(2));
    let expected = "error: nobody told yet who works and with which instruments\n next: tell it once: `coreproof instruments add \
                    FILE` with your own serial numbers and dates, `coreproof instruments engineer NAME`\n";
    assert_eq!(text(&output.stderr), expected);
}
