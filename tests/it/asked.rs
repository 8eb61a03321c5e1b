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
    ("break line and neutral", "both"),
    ("What protects the circuit?", "3 A fuse to BS 1362"),
    ("call that device?", "BS 1362"),
    ("What is it rated?", "3 amp"),
    ("residual current of", "none"),
    ("How is the installation earthed?", "tn-s"),
    ("earth loop impedance", "0,35 R"),
    ("How far is the main earthing terminal", "none"),
    ("earth conductor there", "none"),
    ("What is the cable called?", "workshop thermostat cable"),
    ("Which size are its cores?", "1,5 sqmm"),
    ("How long is it?", "12 metres"),
    ("Which core carries permanent live?", "brown"),
    ("Which core carries neutral?", "blue"),
    ("Which core carries switched live?", "black sleeved brown"),
    ("Which core carries earth?", "green-yellow"),
    ("What is on its control cores", "mains"),
    ("What is the near end called?", "wiring centre"),
    ("Near end: terminal for permanent live?", "7"),
    ("Near end: terminal for neutral?", "8"),
    ("Near end: terminal for switched live?", "1"),
    ("Near end: terminal for end switch?", "2"),
    ("Near end: terminal for earth?", "E"),
    ("Near end: which more terminals?", "none"),
    ("Near end: which metalwork touches", "none"),
    ("What is the far end called?", "workshop thermostat"),
    ("Far end: terminal for permanent live?", "A"),
    ("Far end: terminal for neutral?", "B"),
    ("Far end: terminal for switched live?", "C"),
    ("Far end: terminal for earth?", "D"),
    ("Far end: which more terminals?", "none"),
    ("Far end: which metalwork touches", "copper pipe behind the bench"),
    ("Which more cores", "none"),
    ("Which of these is not there", "none"),
    ("What else hangs", "frost thermostat like thermostat: near 7, near 1"),
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
        "(name: \"frost thermostat\", is: Contact(between: (Near(\"7\"), Near(\"1\")), moved_by: Control(\"frost thermostat\")))",
        "instruments: [\"indicator\", \"tester\", \"multimeter\"]",
    ] {
        assert!(job.contains(words), "`{words}` in {job}");
        assert!(said.contains(words), "the job that was written is shown");
    }
    for words in ["Saltmarsh", "Morgan", "SM-", "upstream", "18 m", "Demonstration"] {
        assert!(!job.contains(words), "`{words}` is of another place: {job}");
    }
    assert!(said.contains("order proved"), "{said}");
    assert!(said.contains("what it takes, where everything passes"), "{said}");
    assert!(
        said.contains(&format!("coreproof run stat-cable --job {out}\n")),
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
            shown.until(&format!("{}/{}  ", n + 1, ANSWERS.len()));
            answer(&mut shown, asked, bad);
            shown.until("note");
        }
        answer(&mut shown, asked, good);
        shown.until(match ANSWERS.get(n + 1) {
            Some((next, _)) => next,
            None => "Taken from the base job",
        });
        let _ = child.kill();
        let _ = child.wait();
    }
    let (mut child, mut shown) = at_a_terminal(&world, &["job"]);
    shown.until("`yes` writes the job");
    shown.type_line("perhaps");
    shown.until("is neither");
    shown.type_line("back");
    // what is gone back to is answered by an empty line as before
    shown.until("as before: frost thermostat like thermostat: near 7, near 1");
    shown.type_line("");
    shown.until("`yes` writes the job");
    shown.type_line("yes");
    shown.until("coreproof run");
    assert!(child.wait().unwrap().success());
    assert!(!world.path("draft.json").exists());
}

#[test]
fn what_must_be_looked_at_is_never_taken_as_it_was() {
    let world = world();
    let mut walk = world.talk(&["job", "stat-cable", "--from", "fixtures/saltmarsh.ron"]);
    // an earlier job of one's own offers its names
    walk.until("1/42 Where is it? [Saltmarsh Sailing Club]");
    for _ in 0..3 {
        walk.answer("");
    }
    walk.until("4/42");
    walk.answer("");
    walk.until("this is never taken as it was: look, and type what is there");
    walk.answer("back");
    walk.until("3/42");
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
    for n in 0.. {
        let asked = walk.line().unwrap();
        let asks = |word: &str| asked.contains(word);
        let answer = match () {
            () if asks("control cores?") => break,
            () if asks("Which other supplies") => "none",
            () if asks("nominal voltage") => "230 V",
            () if asks("earthed?") => "TT",
            () if asks("break line") => "both",
            () if asks("residual current") => "none",
            () if asks("size are its") => "0.75 mm2",
            () if asks("How long") => "none",
            () if asks("/") && asks("?") => &format!("name {n}"),
            () => continue,
        };
        walk.answer(answer);
    }
    walk.answer("mains");
    walk.until("this sequence is for `extra-low`");
    walk.kill();
}

#[test]
fn what_an_answer_says_is_not_there_is_not_told_back_and_what_hung_on_it_is() {
    let world = world();
    let from = ["job", "stat-cable", "--from", "fixtures/saltmarsh.ron"];
    let asked = |answer: &str| ANSWERS.iter().position(|(asked, _)| asked.contains(answer)).unwrap();
    let at = asked("Which of these is not there");
    let before: String = ANSWERS[..at].iter().map(|(_, answer)| format!("{answer}\n")).collect();
    let said = |answers: &str| {
        let lines = format!("{before}{answers}\n");
        let output = world.typed(&[&from[..], &["--new"]].concat(), &lines);
        let said = text(&output.stdout);
        assert!(said.contains("What else hangs on the terminals?"), "{said}");
        said[said.find("Which of these is not there").unwrap()..].to_owned()
    };
    // the end switch is moved by the valve, and nothing hangs on the end switch
    assert!(!said("End Switch").contains("not there either"));
    assert!(!said("zone valve; end switch").contains("not there either"));
    assert!(!said("none").contains("not there either"));
    assert!(said("zone valve").contains("note  so these are not there either: `end switch`\n"));
    // what an answer to another question leaves out is told
    let fewer: Vec<&str> = ANSWERS[..at].iter().map(|(_, answer)| *answer).collect();
    let mut fewer = fewer;
    fewer[asked("terminal for end switch")] = "none";
    let output = world.typed(&[&from[..], &["--new"]].concat(), &format!("{}\n", fewer.join("\n")));
    let told = text(&output.stdout);
    assert!(
        told.contains("so these are not there either: `end switch`, `boiler input`"),
        "{told}"
    );
}

#[test]
fn what_somebody_began_to_tell_by_hand_is_not_written_over() {
    let world = World::new();
    std::fs::write(
        world.path("instruments.ron"),
        "(format: \"1.0\", engineer: \"Robin Sand\", instruments: [])",
    )
    .unwrap();
    let output = world.run(&["job", "stat-cable"]);
    assert_eq!(output.status.code(), Some(2));
    let expected = "error: no instruments are told yet\n next: tell them once, with your own serial numbers and dates: `coreproof instruments \
                    add FILE`\n";
    assert_eq!(text(&output.stderr), expected);
}

/// A job that is written with some answers changed; what was said, and the file.
fn written(changed: &[(&str, &[&str])]) -> (World, String, String) {
    let world = world();
    let out = world.path("mine.ron");
    let mut lines = String::new();
    for (asked, answer) in ANSWERS {
        let other = changed.iter().find(|(of, _)| asked.contains(of));
        for line in other.map_or(&[*answer][..], |(_, lines)| lines) {
            lines.push_str(line);
            lines.push('\n');
        }
    }
    lines.push_str("yes\n");
    let output = world.typed(&["job", "stat-cable", "-o", out.to_str().unwrap()], &lines);
    let said = text(&output.stdout) + &text(&output.stderr);
    let job = std::fs::read_to_string(&out).unwrap_or_default();
    (world, said, job)
}

#[test]
fn a_cable_without_an_earth_core_is_asked_why_and_taken_back_it_is_not() {
    let earth = "Which core carries earth?";
    let why = "Why has the cable no earth core?";
    let (_, said, job) = written(&[
        (earth, &["none", "", "class II throughout"]),
        ("Far end: terminal for earth", &["none"]),
        ("Far end: which metalwork", &["none"]),
    ]);
    assert!(
        said.contains(why) && said.contains("note  this is never taken as it was"),
        "{said}"
    );
    assert!(job.contains("no_earth: \"class II throughout\""), "{said}");
    assert!(!job.contains("green-yellow"), "{job}");
    let (_, said, job) = written(&[(earth, &["none", "back", "green-yellow"])]);
    assert_eq!(said.matches(why).count(), 1, "{said}");
    assert!(job.contains("green-yellow") && !job.contains("no_earth"), "{said}");
}

#[test]
fn a_spare_core_is_told_in_two_words_and_proved_like_the_others() {
    let (world, said, job) = written(&[("Which more cores", &["white = spare"])]);
    let core = "(name: \"white\", size: \"1.5 mm2\", carries: Spare, near: \"cap of white\", far: \"cap of white\")";
    assert!(job.contains(core), "{said}\n{job}");
    assert_eq!(
        job.matches("(name: \"cap of white\", takes: Spare)").count(),
        2,
        "{job}"
    );
    let job = world.path("mine.ron");
    let job = job.to_str().unwrap();
    let sound = world.run(&["rehearse", "stat-cable", "--job", job]);
    let said = text(&sound.stdout);
    assert_eq!(sound.status.code(), Some(0), "{said}\n{}", text(&sound.stderr));
    for step in [
        "continuity/white",
        "insulation/white",
        "dead-near/white-earth",
        "connect-near/white",
        "tug-far/white",
    ] {
        assert!(said.contains(&format!("pass       {step} ")), "`{step}` in {said}");
    }
    assert!(!said.contains("clamp-near/white"), "nothing flows in it: {said}");
    for (fault, failed) in [
        ("core-open:white", "continuity/white"),
        ("insulation-low-to-building:white", "insulation/white"),
        ("cores-swapped:black/white", "continuity/"),
    ] {
        let output = world.run(&["rehearse", "stat-cable", "--job", job, "--fault", fault]);
        let said = text(&output.stdout);
        assert_eq!(
            output.status.code(),
            Some(1),
            "{fault}: {said}\n{}",
            text(&output.stderr)
        );
        assert!(said.contains(&format!("FAIL       {failed}")), "{fault}: {said}");
    }
}

#[test]
fn what_the_sequence_needs_and_is_not_there_is_told_at_once() {
    let (_, said, job) = written(&[
        ("Which of these is not there", &["zone valve", "back", "none"]),
        ("Which more cores", &["none"]),
    ]);
    assert!(
        said.contains("`stat-cable` cannot be walked so") && said.contains("`back` takes the answer back"),
        "{said}"
    );
    assert!(job.contains("zone valve"), "{said}");
}
