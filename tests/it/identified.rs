//! Identifications that are kept, signed and gone on with.

use std::path::{Path, PathBuf};

use coreproof::evidence::journal::{Journal, parse};
use coreproof::identify::checking::Checked;
use coreproof::identify::event::{CoresTold, Event, Given, Question, Subject, Told};

use crate::world::{PASSPHRASE, Walk, World, repo, text};

pub const JOB: &str = "fixtures/saltmarsh.ron";
/// A is 2, B is 1, C is 3, D is 4; the last walk sees D conduct.
const ANSWERS: [&str; 8] = [
    "dead",
    "none",
    "1-2",
    "A-C",
    "none",
    "1-4",
    "A=1 B=2 C=3 D=E",
    PASSPHRASE,
];

/// Without line breaks and runs of blanks.
pub fn flat(text: &str) -> String {
    text.split_whitespace().collect::<Vec<_>>().join(" ")
}

/// The demonstration cable, told apart and signed.
pub struct Signed {
    pub world: World,
    pub file: PathBuf,
    pub job: PathBuf,
}

pub fn name(path: &Path) -> &str {
    path.to_str().unwrap()
}

impl Signed {
    pub fn new() -> Signed {
        let world = World::with_key();
        let (file, job) = (world.path("cable.jsonl"), world.path("named.ron"));
        let mut told = world.talk(&[
            "identify",
            "--job",
            JOB,
            "--every-core-seen",
            "--out",
            name(&file),
            "--job-out",
            name(&job),
        ]);
        answer_all(&mut told);
        let (code, out, errors) = told.close();
        assert_eq!(code, 0, "{out}{errors}");
        assert!(out.contains("Signed: ") && out.contains("Wrote "), "{out}");
        Signed { world, file, job }
    }

    /// The events of the file.
    fn lines(&self) -> Vec<Event> {
        let lines = parse::<Event>(&std::fs::read(&self.file).unwrap()).unwrap();
        lines.into_iter().map(|line| line.event).collect()
    }

    /// What comes of having these events signed in `forged.jsonl`: the program signs nothing that does not hold.
    fn signs(&self, events: &[Event]) -> (i32, String) {
        let forged = self.world.path("forged.jsonl");
        for left in [name(&forged).to_owned(), format!("{}.sig", forged.display())] {
            let _ = std::fs::remove_file(left);
        }
        let at = parse::<Event>(&std::fs::read(&self.file).unwrap())
            .unwrap()
            .pop()
            .unwrap()
            .at;
        let mut journal = Journal::create(&forged, &events[0], at).unwrap();
        for event in &events[1..] {
            journal.append(event, at).unwrap();
        }
        drop(journal);
        let resume = ["identify", "--resume", name(&forged)];
        let output = self.world.typed(&resume, &format!("{PASSPHRASE}\n"));
        (output.status.code().unwrap(), text(&output.stderr))
    }

    fn verify(&self) -> (i32, String, String) {
        let output = self.world.run(&["verify", name(&self.file)]);
        (
            output.status.code().unwrap(),
            text(&output.stdout),
            text(&output.stderr),
        )
    }
}

/// Answers what is asked by what the cable is: A is 2, B is 1, C is 3, D is 4.
fn answer_all(walk: &mut Walk) {
    while walk.question().is_some() {
        let answer = by_the_cable(&walk.seen);
        walk.answer(&answer);
    }
    walk.answer(PASSPHRASE);
}

/// The answer to the last question of what was seen.
pub fn by_the_cable(seen: &str) -> String {
    let last = &seen[seen.rfind("\n\n").unwrap_or(0)..];
    let last = flat(last);
    if last.contains("proved dead") {
        return "dead".into();
    }
    if last.contains("goes to which terminal") {
        return "A=1 B=2 C=3 D=E".into();
    }
    let Some(list) = last.split_once(" end join ").map(|(_, rest)| rest) else {
        return "none".into();
    };
    let list = list.split(['.']).next().unwrap().split(", and leave").next().unwrap();
    let other = |label: &str| {
        let pairs = [("A", "2"), ("B", "1"), ("C", "3"), ("D", "4")];
        let found = pairs.iter().find_map(|(near, far)| match label {
            l if l == *near => Some(*far),
            l if l == *far => Some(*near),
            _ => None,
        });
        found.unwrap_or_else(|| panic!("{label} in {last}")).to_owned()
    };
    let groups = list
        .split(", ")
        .map(|group| group.split('-').map(other).collect::<Vec<_>>().join("-"));
    groups.collect::<Vec<_>>().join(" ")
}

#[test]
fn what_was_told_is_signed_and_the_job_gets_its_cores_by_their_labels() {
    let signed = Signed::new();
    let (code, out, errors) = signed.verify();
    assert_eq!(code, 0, "{out}{errors}");
    for said in [
        "signature    good, SHA256:",
        "place        Saltmarsh Sailing Club, clubhouse, sail loft heating zone: sail loft thermostat cable",
        "engineer     Morgan Teal",
        "told apart   4 cores with the kit `links`",
        "readings     typed",
        "core         A = 2: seen to conduct",
        "core         D = 4: seen to conduct",
        "checked      its checking walk was as listed at both ends",
        " D-4  | green-yellow | D to E               | 4 to E              | earth",
        "signer       Morgan Teal",
        "file         unchanged since it was signed, every answer and reading told again",
    ] {
        assert!(out.contains(said), "{said}\n{out}");
    }
    // nothing of the job is changed but the names
    let (before, after) = (
        std::fs::read_to_string(repo(JOB)).unwrap(),
        std::fs::read_to_string(&signed.job).unwrap(),
    );
    let undone = [
        ("A-2", "brown"),
        ("B-1", "grey"),
        ("C-3", "black"),
        ("D-4", "green-yellow"),
    ]
    .iter()
    .fold(after, |text, (new, old)| {
        text.replace(&format!("name: \"{new}\""), &format!("name: \"{old}\""))
    });
    assert_eq!(undone, before);
    let check = signed
        .world
        .run(&["check", "sequences/stat-cable.ron", name(&signed.job)]);
    assert_eq!(check.status.code(), Some(0), "{}", text(&check.stdout));
}

#[test]
fn a_changed_byte_anywhere_is_refused() {
    let signed = Signed::new();
    let bytes = std::fs::read(&signed.file).unwrap();
    for at in [80, bytes.len() / 3, bytes.len() / 2, bytes.len() - 20] {
        let mut changed = bytes.clone();
        changed[at] ^= 1;
        std::fs::write(&signed.file, changed).unwrap();
        let (code, out, errors) = signed.verify();
        assert_eq!(code, 2, "{at}: {out}{errors}");
        assert!(errors.contains("error: "), "{errors}");
    }
    // whole lines cut off the end
    let cut = bytes[..bytes.len() - 1].iter().rposition(|b| *b == b'\n').unwrap();
    std::fs::write(&signed.file, &bytes[..=cut]).unwrap();
    assert_eq!(signed.verify().0, 2);
    std::fs::write(&signed.file, &bytes).unwrap();
    assert_eq!(signed.verify().0, 0);
    std::fs::remove_file(signed.world.path("trusted")).unwrap();
    let (code, _, errors) = signed.verify();
    assert!(code == 2 && errors.contains("is not trusted here"), "{errors}");
    std::fs::remove_file(format!("{}.sig", signed.file.display())).unwrap();
    let (code, _, errors) = signed.verify();
    assert!(code == 2 && errors.contains("is not there"), "{errors}");
}

#[test]
fn a_conclusion_that_the_answers_do_not_give_is_found_though_it_is_signed() {
    let signed = Signed::new();
    let lines = signed.lines();
    let (answers, closing) = lines.split_at(lines.len() - 1);
    let refused = |events: Vec<Event>| {
        let (code, errors) = signed.signs(&events);
        assert_eq!(code, 2, "{errors}");
        errors
    };
    let closes = |change: &dyn Fn(&mut CoresTold)| -> Event {
        let mut closing = closing[0].clone();
        let Event::Closed {
            told: Told::Cores(told),
        } = &mut closing
        else {
            panic!("it ends with its closing");
        };
        change(told);
        closing
    };
    let with = |events: &[Event], closing: Event| [events, &[closing]].concat();
    // what is which, a check that is kept back, and one that came to something else
    let not_given = "the conclusion is not what the answers give";
    let lies: [&dyn Fn(&mut CoresTold); 4] = [
        &|told| {
            let (first, second) = (told.rows[0].far.clone(), told.rows[1].far.clone());
            (told.rows[0].far, told.rows[1].far) = (second, first);
        },
        &|told| told.checked = None,
        &|told| told.checked = Some(Checked::LeftOut),
        &|told| told.checked = Some(Checked::Otherwise),
    ];
    for change in lies {
        assert!(refused(with(answers, closes(change))).contains(&format!("line 11: {not_given}")));
    }
    // a check that was never answered: its looks left out, left out but said to be made, or never asked for
    let is_check = |event: &Event| {
        matches!(
            event,
            Event::Answered {
                to: Question::Checks { .. },
                ..
            }
        )
    };
    let unanswered: Vec<Event> = answers.iter().filter(|event| !is_check(event)).cloned().collect();
    assert_eq!(unanswered.len() + 2, answers.len());
    let errors = refused(with(&unanswered, closes(&|_| {})));
    assert!(errors.contains("an answer to another question"), "{errors}");
    let mut skipped = unanswered.clone();
    let asked = answers.iter().position(is_check).unwrap();
    let mut skips = answers[asked].clone();
    if let Event::Answered { line, given, .. } = &mut skips {
        (*line, *given) = ("skip".into(), Some(Given::Skipped));
    }
    skipped.insert(asked, skips);
    assert!(refused(with(&skipped, closes(&|_| {}))).contains(not_given));
    let mut unasked = unanswered;
    if let Event::Opened(opened) = &mut unasked[0]
        && let Subject::Cores { checked, .. } = &mut opened.of
    {
        *checked = false;
    }
    assert!(refused(with(&unasked, closes(&|_| {}))).contains(not_given));
    // one of before, in which none was asked for, is what it was; and one that left it out says so
    for (events, checked) in [(&unasked, None), (&skipped, Some(Checked::LeftOut))] {
        let (code, errors) = signed.signs(&with(events, closes(&|told| told.checked = checked)));
        assert_eq!(code, 0, "{errors}");
        let out = text(
            &signed
                .world
                .run(&["verify", name(&signed.world.path("forged.jsonl"))])
                .stdout,
        );
        assert!(
            out.contains("checked      no checking walk was made: one label mistyped would not show"),
            "{out}"
        );
    }
    // an answer that contradicts the list, under a conclusion that it does not
    let mut contradicted = answers.to_vec();
    if let Event::Answered { line, given, .. } = &mut contradicted[asked] {
        (*line, *given) = ("1-4".into(), Some(Given::Conducts(vec![vec!["1".into(), "4".into()]])));
    }
    let errors = refused(with(&contradicted, closes(&|_| {})));
    assert!(errors.contains("an answer to another question"), "{errors}");
}

#[test]
fn a_mistyped_label_is_found_by_the_checking_walk_and_opens_no_run() {
    let world = World::with_key();
    let (file, job) = (world.path("cable.jsonl"), world.path("named.ron"));
    let mut walk = world.talk(&["identify", "--job", JOB, "--out", name(&file), "--job-out", name(&job)]);
    // at the near end it was A that conducted to C
    for line in ["dead", "none", "1-2", "B-C", "none"] {
        walk.question();
        walk.answer(line);
    }
    walk.question();
    assert!(
        flat(&walk.seen).contains("the checking walk, to the near end"),
        "{}",
        walk.seen
    );
    let truth = by_the_cable(&walk.seen);
    walk.answer(&truth);
    walk.question();
    let last = walk.seen[walk.seen.rfind("the checking walk").unwrap()..].to_owned();
    assert!(last.starts_with("the checking walk, to the far end"), "{last}");
    assert!(
        !last.contains("2-3"),
        "what must conduct is not named before it is answered\n{last}"
    );
    let truth = by_the_cable(&walk.seen);
    walk.answer(&truth);
    walk.until("That is not what the list gives.");
    walk.question();
    // once it was seen otherwise it cannot be left out, nor by taking it back first
    for line in ["skip", "back", "skip"] {
        walk.answer(line);
        if line == "back" {
            walk.question();
        } else {
            walk.until("note `skip` is no label at the far end");
        }
    }
    for _ in 0..2 {
        walk.answer(&truth);
    }
    walk.until("ITS CHECKING WALK CONTRADICTS THE LIST");
    walk.answer(PASSPHRASE);
    let (code, out, errors) = walk.close();
    assert_eq!(code, 1, "{out}{errors}");
    assert!(out.contains("No job was written: no core of it was named."), "{out}");
    let verified = text(&world.run(&["verify", name(&file)]).stdout);
    assert!(
        verified.contains("checked      ITS CHECKING WALK CONTRADICTS THE LIST"),
        "{verified}"
    );
    let run = world.run(&[
        "run",
        "sequences/stat-cable.ron",
        "--job",
        JOB,
        "--identified",
        name(&file),
    ]);
    assert_eq!(run.status.code(), Some(2));
    let errors = text(&run.stderr);
    assert!(
        errors.contains(
            "error: identification `cable.jsonl`: its checking walk contradicts its list: tell the cores apart anew"
        ),
        "{errors}"
    );
}

#[test]
fn after_a_power_cut_it_goes_on_where_it_was_written_down() {
    let world = World::with_key();
    let file = world.path("cable.jsonl");
    let mut walk = world.talk(&["identify", "--job", JOB, "--every-core-seen", "--out", name(&file)]);
    for line in &ANSWERS[..3] {
        walk.question();
        walk.answer(line);
    }
    walk.question();
    walk.kill();
    let unsigned = world.run(&["verify", name(&file)]);
    assert_eq!(unsigned.status.code(), Some(2));
    // a line that the power cut tore
    let mut bytes = std::fs::read(&file).unwrap();
    bytes.extend(b"{\"n\":4,\"prev\":\"00");
    std::fs::write(&file, bytes).unwrap();
    let again = world.run(&["identify", "--job", JOB, "--out", name(&file)]);
    assert!(text(&again.stderr).contains("`--resume FILE` goes on with one that was broken off"));
    let mut walk = world.talk(&["identify", "--resume", name(&file)]);
    walk.question();
    let seen = flat(&walk.seen);
    assert!(
        seen.contains("17 bytes of an unfinished last line were dropped"),
        "{seen}"
    );
    // nobody knows what was done meanwhile
    assert!(
        seen.contains("Is the cable proved dead again and as it was left?"),
        "{seen}"
    );
    assert!(
        seen.contains("At the far end 2-3 are to be joined, and the rest apart"),
        "{seen}"
    );
    walk.answer("A-C");
    walk.until("note `A-C` is not an answer to this question, the answers are: `dead`");
    walk.answer("dead");
    answer_all(&mut walk);
    let (code, out, errors) = walk.close();
    assert_eq!(code, 0, "{out}{errors}");
    assert_eq!(world.run(&["verify", name(&file)]).status.code(), Some(0));
    let again = world.run(&["identify", "--resume", name(&file)]);
    assert!(
        text(&again.stderr).contains("is signed already"),
        "{}",
        text(&again.stderr)
    );
}

#[test]
fn input_that_ends_leaves_a_file_to_go_on_with_and_a_wrong_passphrase_one_to_sign() {
    let world = World::with_key();
    let file = world.path("cable.jsonl");
    let args = ["identify", "--job", JOB, "--out", name(&file)];
    let output = world.typed(&args, "dead\nnone\n");
    assert_eq!(output.status.code(), Some(130));
    assert!(
        text(&output.stderr).contains(&format!(" next: coreproof identify --resume {}", file.display())),
        "{}",
        text(&output.stderr)
    );
    let output = world.typed(
        &["identify", "--resume", name(&file)],
        "dead\n1-2\nA-C\nnone\nskip\nskip\nwrong\nwrong\nwrong\n",
    );
    assert_eq!(output.status.code(), Some(2), "{}", text(&output.stderr));
    assert!(
        text(&output.stderr).contains("it is closed and kept; sign it with `coreproof identify --resume "),
        "{}",
        text(&output.stderr)
    );
    let output = world.typed(&["identify", "--resume", name(&file)], &format!("{PASSPHRASE}\n"));
    // one core is known by elimination only
    assert_eq!(output.status.code(), Some(1), "{}", text(&output.stderr));
    assert_eq!(world.run(&["verify", name(&file)]).status.code(), Some(0));
}

#[test]
fn actuators_are_signed_too() {
    let world = World::with_key();
    let file = world.path("zones.jsonl");
    let refused = world.run(&["identify", "--zones", "3", "--out", name(&file)]);
    assert!(
        text(&refused.stderr).contains("a signed file says where it was: neither `--job` nor `--place` is given"),
        "{}",
        text(&refused.stderr)
    );
    let args = [
        "identify",
        "--zones",
        "3",
        "--actuators",
        "4",
        "--place",
        "Saltmarsh Sailing Club, clubhouse",
        "--out",
        name(&file),
    ];
    let mut walk = world.talk(&args);
    for line in ["none", "1 2 3 4"] {
        walk.question();
        walk.answer(line);
    }
    walk.question();
    walk.kill();
    let lines = format!("1\n2\nback\n3 4\n2\n{PASSPHRASE}\n");
    let output = world.typed(&["identify", "--resume", name(&file)], &lines);
    assert_eq!(
        output.status.code(),
        Some(0),
        "{}{}",
        text(&output.stdout),
        text(&output.stderr)
    );
    let verified = world.run(&["verify", name(&file)]);
    assert_eq!(verified.status.code(), Some(0), "{}", text(&verified.stderr));
    for said in [
        "told apart   4 actuators of 3 zones",
        "engineer     Morgan Teal",
        "actuator     3: zone 2",
        "actuator     2: zone 3",
    ] {
        assert!(
            text(&verified.stdout).contains(said),
            "{said}\n{}",
            text(&verified.stdout)
        );
    }
    // of no use to a run
    let run = [
        "run",
        "sequences/stat-cable.ron",
        "--job",
        JOB,
        "--identified",
        name(&file),
    ];
    let output = world.run(&run);
    assert!(
        text(&output.stderr).contains("it is of actuators, not of the cores of a cable"),
        "{}",
        text(&output.stderr)
    );
}

#[test]
fn labels_and_terminals_that_do_not_fit_are_asked_again() {
    let world = World::new();
    let mut walk = world.talk(&["identify", "--job", JOB, "--cores", "5"]);
    // five cores, letters and numbers alike; C is broken
    let five = |seen: &str| -> String {
        let last = flat(&seen[seen.rfind("\n\n").unwrap_or(0)..]);
        let Some((head, list)) = last.split_once(" end join ") else {
            return "none".into();
        };
        if list.starts_with("nothing") {
            return "none".into();
        }
        let to_near = head.ends_with("far");
        let list = list.split('.').next().unwrap().split(", and leave").next().unwrap();
        let other = |label: &str| match to_near {
            true => char::from(b'A' + label.parse::<u8>().unwrap() - 1).to_string(),
            false => (label.as_bytes()[0] - b'A' + 1).to_string(),
        };
        let groups = list.split(", ").map(|group| {
            let ends = group.split('-').map(other).filter(|l| l != "C" && l != "3");
            ends.collect::<Vec<_>>()
        });
        let groups: Vec<String> = groups.filter(|g| 1 < g.len()).map(|g| g.join("-")).collect();
        if groups.is_empty() {
            "none".into()
        } else {
            groups.join(" ")
        }
    };
    walk.question();
    walk.answer("dead");
    loop {
        walk.question().unwrap();
        if walk.seen.contains("goes to which terminal") {
            break;
        }
        let answer = five(&walk.seen);
        walk.answer(&answer);
    }
    for (line, note) in [
        ("A1", "`A1` is not a label and a terminal, as `A=1`"),
        ("F=1", "`F` is no label at the near end, the labels there are A to E"),
        (
            "C=1",
            "`C` is not known from end to end: BROKEN: conducts to nothing at the other end",
        ),
        (
            "A=4",
            "no core of the job goes to a terminal `4` at the wiring centre, the terminals are `1`, `2`, `3`, `E`",
        ),
        ("A=1 A=2", "`A` is given twice"),
        ("A=1 B=1", "`1` is given twice"),
        ("A=1 B=2 D=3", "no core is given to terminal `E`"),
    ] {
        walk.answer(line);
        walk.until(&format!("note {note}"));
    }
    walk.answer("A=2 B=1 D=3 E=E");
    let (code, out, errors) = walk.close();
    assert_eq!(code, 1, "a core is broken\n{out}{errors}");
    assert!(
        out.contains(
            "(name: \"A-1\", sleeve: \"blue\", size: \"1.0 mm2\", carries: Neutral, near: \"2\", far: \"N\"),"
        ),
        "{out}"
    );
}

#[test]
fn what_would_stop_it_at_the_end_stops_it_at_the_start() {
    let world = World::new();
    let refused = |args: &[&str], errors: &str| {
        let output = world.run(&[&["identify"], args].concat());
        assert_eq!(output.status.code(), Some(2), "{}", text(&output.stdout));
        assert!(text(&output.stderr).contains(errors), "{}", text(&output.stderr));
    };
    let file = world.path("cable.jsonl");
    refused(&["--job", JOB, "--out", name(&file)], "error: there is no signing key");
    refused(
        &["--cores", "4", "--meter", "/dev/ttyUSB0,line-stream"],
        "error: `--meter` needs `--job`: the job says which instrument it is",
    );
    refused(
        &["--cores", "4", "--job-out", name(&file)],
        "error: `--job-out` needs `--job`: it is that job with its cores named anew",
    );
    refused(
        &["--resume", name(&file), "--job-out", "README.md"],
        "error: `README.md` is there already",
    );
    refused(
        &["--job", JOB, "--cores", "3"],
        "error: the job has `4` cores to be found, the cable `3`\n next: count the cores at both ends, and the `cores` of the job",
    );
    refused(&["--resume", name(&file)], "error: there is no signing key");
    assert!(!file.exists());
    let world = World::with_key();
    let output = world.run(&["identify", "--resume", name(&file)]);
    assert!(
        text(&output.stderr).contains("there is no journal at"),
        "{}",
        text(&output.stderr)
    );
}
