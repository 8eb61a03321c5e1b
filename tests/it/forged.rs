//! A forger with a good key: a record is changed, its chain computed anew and signed again, and every kind of lie is found all the same.
//!
//! The forger's key is trusted, so that nothing but the content speaks against what is forged.

use coreproof::evidence::audit::{Concern, Remark, examine};
use coreproof::evidence::journal::Hash;
use coreproof::evidence::keys::SigningKey;
use coreproof::judge::window::Outcome;
use coreproof::run::fold::Run;

use crate::world::{World, repo, text};

/// A record as its lines: time and event of each, as they are written.
#[derive(Clone)]
pub struct Forged(pub Vec<(String, String)>);

impl Forged {
    /// A record of this version, judged by today's rules: a rehearsal, which is folded as any other.
    pub fn today() -> Forged {
        static RECORD: std::sync::OnceLock<String> = std::sync::OnceLock::new();
        let record = RECORD.get_or_init(|| {
            let world = World::new();
            let out = world.path("out");
            let rehearsed = world.run(&["rehearse", "--seed", "7", "--out", out.to_str().unwrap()]);
            assert_eq!(rehearsed.status.code(), Some(0), "{}", text(&rehearsed.stderr));
            std::fs::read_to_string(out.join("record.jsonl")).unwrap()
        });
        Forged::of(record)
    }

    /// A record that version 0.1 sealed.
    pub fn earlier(name: &str) -> Forged {
        let path = repo("fixtures/records/0.1").join(name);
        Forged::of(&std::fs::read_to_string(path).unwrap())
    }

    pub fn of(record: &str) -> Forged {
        let line = |line: &str| {
            let at = line.find("\"at\":\"").unwrap() + 6;
            let event = line.find("\"event\":").unwrap() + 8;
            (line[at..at + 24].to_owned(), line[event..line.len() - 1].to_owned())
        };
        Forged(record.lines().map(line).collect())
    }

    /// The lines whose event holds all of this.
    pub fn find(&self, marks: &[&str]) -> usize {
        let found = self
            .0
            .iter()
            .position(|(_, event)| marks.iter().all(|mark| event.contains(mark)));
        found.unwrap_or_else(|| panic!("no line holds {marks:?}"))
    }

    /// The same with one text replaced in the first line that holds all the marks.
    pub fn edited(&self, marks: &[&str], from: &str, to: &str) -> Forged {
        let mut forged = self.clone();
        let event = &mut forged.0[self.find(marks)].1;
        assert!(event.contains(from), "{event} holds no {from}");
        *event = event.replacen(from, to, 1);
        forged
    }

    /// Its bytes, with the chain computed anew.
    pub fn bytes(&self) -> Vec<u8> {
        let mut record = String::new();
        let mut head = "0".repeat(64);
        for (n, (at, event)) in self.0.iter().enumerate() {
            let line = format!("{{\"n\":{n},\"prev\":\"{head}\",\"at\":\"{at}\",\"event\":{event}}}");
            head = Hash::of(line.as_bytes()).to_string();
            record.push_str(&line);
            record.push('\n');
        }
        record.into_bytes()
    }

    /// What an auditor finds, and what the run came to, signed by a good key.
    pub fn examined(&self) -> (Vec<Remark>, Option<Run>) {
        let key = SigningKey::throw_away();
        let bytes = self.bytes();
        let examined = examine::<Run>(&bytes, &key.sign(&bytes), Some(&key.public()));
        (examined.remarks, examined.folded)
    }

    /// The first thing found.
    pub fn found(&self) -> (Concern, String) {
        let (remarks, _) = self.examined();
        let first = remarks.first().expect("a lie is found");
        (first.concern, first.words())
    }
}

/// The member that names the rules of today.
pub fn today() -> String {
    format!("\"rules\":\"{}\"", coreproof::run::rules::today().name)
}

#[test]
fn an_honest_record_has_no_findings() {
    assert_eq!(Forged::today().examined().0, []);
    // of a record of older rules it is said that today's proof asks for more, and nothing speaks against it
    let earlier = Forged::earlier("zone-valve-failed.jsonl").examined().0;
    let concerns: Vec<Concern> = earlier.iter().map(|remark| remark.concern).collect();
    assert_eq!(concerns, [Concern::LaterProof], "{earlier:?}");
    assert!(!earlier[0].is_against());
}

#[test]
fn a_signature_of_another_key_or_over_other_bytes_is_found() {
    let (key, bytes) = (SigningKey::throw_away(), Forged::today().bytes());
    let other = SigningKey::throw_away();
    let remarks = examine::<Run>(&bytes, &key.sign(&bytes), Some(&other.public())).remarks;
    assert_eq!(remarks[0].concern, Concern::Signature);
    let mut changed = bytes.clone();
    *changed.last_mut().unwrap() = b' ';
    let remarks = examine::<Run>(&changed, &key.sign(&bytes), Some(&key.public())).remarks;
    assert_eq!(remarks[0].concern, Concern::Signature);
}

#[test]
fn a_broken_chain_is_found() {
    let bytes = text(&Forged::today().bytes()).replacen("\"digits\":\"0.", "\"digits\":\"1.", 1);
    let key = SigningKey::throw_away();
    let remarks = examine::<Run>(bytes.as_bytes(), &key.sign(bytes.as_bytes()), Some(&key.public())).remarks;
    assert_eq!(remarks[0].concern, Concern::Chain);
    assert!(
        remarks[0].what.contains("is not the SHA-256 of the line before"),
        "{remarks:?}"
    );
}

#[test]
fn every_member_of_a_verdict_is_held_to_its_evidence() {
    let record = Forged::today();
    let judged = ["\"judged\"", "\"continuity/brown\""];
    for (from, to, expected) in [
        ("\"outcome\":\"pass\"", "\"outcome\":\"fail\"", "recorded as FAIL"),
        (
            "\"outcome\":\"pass\"",
            "\"outcome\":\"conditional\"",
            "recorded as conditional",
        ),
        (
            "is within the window",
            "is well within the window",
            "is well within the window",
        ),
        ("\"value\":\"0.", "\"value\":\"0.0", "its value is recorded as `0.0"),
        (
            ",\"risk\"",
            ",\"mark\":\"well done\",\"risk\"",
            "its mark is recorded as `well done`, judged again as none",
        ),
        (
            ",\"risk\"",
            ",\"edge\":\"far from it\",\"risk\"",
            "its edge is recorded as `far from it`",
        ),
        (
            "\"risk\":\"false acceptance",
            "\"risk\":\"no acceptance",
            "its risk is recorded as `no acceptance",
        ),
    ] {
        let forged = record.edited(&judged, from, to);
        let (concern, words) = forged.found();
        assert_eq!(concern, Concern::Verdict, "{to}: {words}");
        assert!(words.contains(expected), "{to}: {words}");
        assert_ne!(forged.examined().1.unwrap().outcome(), Outcome::Pass, "{to}");
    }
}

#[test]
fn what_the_proof_of_today_says_of_a_sequence_is_found() {
    use coreproof::job;
    use coreproof::located::Text;
    use coreproof::run::dialogue::{Dialogue, Show};
    use coreproof::run::engine::Engine;
    use coreproof::run::event::{Event, Opened};
    use coreproof::sequence;

    // cores are joined for a dead test, and nothing was isolated before
    let steps = "Do(id: \"link\", stage: Test, act: JoinLiveCores, say: \"Join them.\")";
    let text = format!("(format: \"1.1\", name: \"bold\", title: \"Bold\", steps: [{steps}])");
    let sequence = sequence::read(&[Text::new("bold.ron", text)]).unwrap();
    let job = Text::new(
        "saltmarsh.ron",
        std::fs::read_to_string(repo("fixtures/saltmarsh.ron")).unwrap(),
    );
    let job = job::read(&job).unwrap();
    assert!(sequence::bind(&sequence, &job).is_err(), "nobody is let to walk it");
    let plan = sequence::bind_unproved(&sequence, &job).unwrap();
    let opened = Opened::of_plan(&plan, uuid::Uuid::nil());
    let at: jiff::Timestamp = "2026-11-25T08:00:00Z".parse().unwrap();
    let mut events = vec![Event::Opened(Box::new(opened.clone()))];
    let mut engine = Engine::new(Run::open(opened, at).unwrap(), None, None);
    let mut asked = true;
    while std::mem::take(&mut asked) {
        engine.drain(
            || at,
            |event, _| events.push(event.clone()),
            |show| asked |= matches!(show, Show::Prompt(_)),
        );
        engine.handle_answer("done", at);
    }
    let line = |event: &Event| {
        let event = serde_json::to_string(event).unwrap();
        ("2026-11-25T08:00:00.000Z".to_owned(), event)
    };
    let (remarks, _) = Forged(events.iter().map(line).collect()).examined();
    let told = remarks.iter().find(|remark| remark.concern == Concern::Proof);
    assert!(
        told.is_some_and(|remark| remark.what.starts_with("today's proof of order refuses its sequence: ")),
        "{remarks:?}"
    );
}

#[test]
fn a_reading_that_its_source_does_not_give_is_found() {
    let record = Forged::today();
    let taken = ["\"taken\"", "\"continuity/brown\""];
    let event = &record.0[record.find(&taken)].1;
    let digits = event.find("\"digits\":\"").unwrap() + 10;
    let shown = event[digits..digits + event[digits..].find('"').unwrap()].to_owned();
    let (remarks, _) = record
        .edited(&taken, &format!("\"digits\":\"{shown}\""), "\"digits\":\"0.11\"")
        .examined();
    let concerns: Vec<_> = remarks.iter().map(|remark| remark.concern).collect();
    assert_eq!(concerns[..2], [Concern::Reading, Concern::Verdict], "{remarks:?}");
}

#[test]
fn an_event_out_of_its_order_is_found_and_nothing_after_it_counts() {
    let mut record = Forged::today();
    let (first, second) = (
        record.find(&["\"answered\"", "\"switch-off\""]),
        record.find(&["\"answered\"", "\"lock-off\""]),
    );
    record.0.swap(first, second);
    record.0.swap(first + 1, second + 1);
    let (remarks, run) = record.examined();
    let order = remarks.iter().find(|remark| remark.concern == Concern::Order).unwrap();
    assert_eq!(order.line, first as u64 + 1);
    assert!(order.what.contains("count for nothing"), "{order:?}");
    let run = run.unwrap();
    assert!(run.broken.is_some() && run.outcome() == Outcome::NotTested);
}

#[test]
fn the_face_of_an_answer_is_told_once_and_at_its_place() {
    let told = |before: &[&str], faces: &[&str]| {
        let mut record = Forged::today();
        let at = record.find(before);
        for face in faces {
            let event = format!("{{\"turned_to\":{{\"face\":\"{face}\"}}}}");
            record.0.insert(at, (record.0[at].0.clone(), event));
        }
        record
    };
    let answer = ["\"answered\"", "\"dead-near/earth-line\""];
    assert_eq!(told(&answer, &["page"]).examined().0, Forged::today().examined().0);
    let verdict = ["\"judged\"", "\"dead-near/earth-line\""];
    for (before, faces, concern, why) in [
        (
            &answer[..],
            &["terminal"][..],
            Concern::Order,
            "answers came by this face already",
        ),
        (
            &answer,
            &["page", "page"],
            Concern::Order,
            "answers came by this face already",
        ),
        (&verdict, &["page"], Concern::Order, "has no verdict yet"),
        (&answer, &["glass"], Concern::Chain, "glass"),
    ] {
        let (remarks, _) = told(before, faces).examined();
        let against = remarks.iter().find(|remark| remark.is_against()).unwrap();
        assert_eq!(against.concern, concern, "{against:?}");
        assert!(against.what.contains(why), "{against:?}");
    }
}

#[test]
fn a_record_without_its_end_is_found() {
    let mut record = Forged::today();
    record.0.pop();
    assert_eq!(record.found().0, Concern::Ending);
}

#[test]
fn a_clock_set_back_is_told_and_does_not_speak_against_the_record() {
    let mut record = Forged::today();
    let last = record.0.len() - 1;
    record.0[last].0 = record.0[0].0.clone();
    let (remarks, _) = record.examined();
    assert_eq!(remarks[0].concern, Concern::Clock);
    assert!(remarks.iter().all(|remark| !remark.is_against()), "{remarks:?}");
}

#[test]
fn carried_files_that_cannot_be_or_that_say_otherwise_are_found() {
    let record = Forged::today();
    for (from, to, expected) in [
        (
            "\"edition\":\"2018+A2:2022\"",
            "\"edition\":\"2018\"",
            "the record names the edition `2018`",
        ),
        ("takes: Neutral", "takes: Nuetral", "saltmarsh.ron"),
        (&today(), "\"rules\":\"99\"", "install a newer coreproof"),
        ("baud: 9600", "baud: -1", "profile `line-stream`"),
    ] {
        let (remarks, _) = record.edited(&["\"opened\""], from, to).examined();
        let found = remarks
            .iter()
            .find(|remark| remark.concern == Concern::Text && remark.what.contains(expected));
        assert!(found.is_some(), "{to}: {remarks:?}");
    }
}

#[test]
fn rules_of_another_time_make_no_lie_pass() {
    // today's record cannot be told as one of older rules to have its verdicts believed
    let record = Forged::today().edited(&["\"opened\""], &today(), "\"rules\":\"1\"");
    let judged = ["\"judged\"", "\"insulation/brown\""];
    let forged = record.edited(&judged, "\"outcome\":\"pass\"", "\"outcome\":\"not_tested\"");
    let (remarks, run) = forged.examined();
    assert!(
        remarks.iter().any(|remark| remark.concern == Concern::Verdict),
        "{remarks:?}"
    );
    assert_ne!(run.unwrap().outcome(), Outcome::Pass);
}

#[test]
fn under_older_rules_both_verdicts_are_told_and_the_worse_is_the_word() {
    let failed = Forged::earlier("stat-cable-failed.jsonl");
    let line = failed.find(&["\"judged\"", "\"outcome\":\"fail\""]);
    let event = failed.0[line].1.clone();
    let from = event.find("\"step\":\"").unwrap() + 8;
    let step = event[from..from + event[from..].find('"').unwrap()].to_owned();
    let mut forged = failed.clone();
    forged.0[line].1 = event.replacen("\"outcome\":\"fail\"", "\"outcome\":\"pass\"", 1);
    // without the failure nothing that followed it fits; what counts is that the failure stays the word
    let (remarks, run) = forged.examined();
    let run = run.unwrap();
    let told = remarks
        .iter()
        .find(|remark| remark.concern == Concern::Verdict)
        .unwrap();
    assert!(
        told.what.starts_with(&format!(
            "judged by the rules `1`, which are no longer today's: `{step}`: recorded as pass"
        )) && told.what.contains("judged again as FAIL"),
        "{told:?}"
    );
    let index = run.plan.index(&step).unwrap();
    let attempt = &run.steps[index].attempts[0];
    assert_eq!(
        (attempt.verdict.outcome, attempt.walked_on().outcome),
        (Outcome::Fail, Outcome::Pass)
    );
    assert_eq!(run.outcome(), Outcome::Fail);
    // the other way round the recorded one is the worse
    let passed = Forged::earlier("stat-cable-passed.jsonl");
    let last = passed.find(
        &["\"judged\"", "\"call-ended\"", "pass"]
            .map(|mark| if mark == "\"call-ended\"" { "\"satisfy\"" } else { mark }),
    );
    let mut forged = passed.clone();
    forged.0[last].1 = forged.0[last]
        .1
        .replacen("\"outcome\":\"pass\"", "\"outcome\":\"fail\"", 1);
    let (_, run) = forged.examined();
    let run = run.unwrap();
    let attempt = run.steps[run.plan.index("satisfy").unwrap()].attempts.last().unwrap();
    assert_eq!(attempt.verdict.outcome, Outcome::Fail);
}

#[test]
fn an_unfinished_journal_with_an_edited_verdict_is_made_safe_abandoned_and_sealed() {
    let world = World::with_key();
    let mut walk = world.walk(&[]);
    assert!(walk.to("continuity/grey"));
    walk.answer("0.99");
    walk.question();
    walk.kill();
    let path = &world.journals()[0];
    let journal = Forged::of(&std::fs::read_to_string(path).unwrap());
    let judged = ["\"judged\"", "\"continuity/grey\""];
    let forged = journal.edited(&judged, "\"outcome\":\"fail\"", "\"outcome\":\"pass\"");
    std::fs::write(path, forged.bytes()).unwrap();
    let resumed = world.typed(&["resume"], "done\nsalt and marsh\n");
    let seen = text(&resumed.stdout) + &text(&resumed.stderr);
    assert!(seen.contains("`continuity/grey`: recorded as pass"), "{seen}");
    assert!(seen.contains("the run cannot go on"), "{seen}");
    assert!(
        seen.contains("prove dead with the two-pole indicator"),
        "everything is made safe: {seen}"
    );
    assert!(seen.contains("Sealed as"), "{seen}");
    assert_eq!(resumed.status.code(), Some(1), "{seen}");
    assert_eq!(world.journals(), Vec::<std::path::PathBuf>::new());
    let audited = world.run(&["audit"]);
    assert_eq!(audited.status.code(), Some(1));
    assert!(
        text(&audited.stdout).contains("recorded as pass"),
        "{}",
        text(&audited.stdout)
    );
}

#[test]
fn no_order_of_events_stops_the_fold() {
    // a forger, a torn copy, another version: lines left out, told twice, out of order, of another run
    let names: Vec<String> = std::fs::read_dir(repo("fixtures/records/0.1"))
        .unwrap()
        .map(|entry| entry.unwrap().file_name().into_string().unwrap())
        .filter(|name| {
            name.ends_with(".jsonl") && ["failed", "meter", "guarded"].iter().any(|mark| name.contains(mark))
        })
        .collect();
    let records: Vec<Forged> = names.iter().map(|name| Forged::earlier(name)).collect();
    let mut dice = 20_261_129_u64;
    let mut below = move |n: usize| {
        dice = dice
            .wrapping_mul(6_364_136_223_846_793_005)
            .wrapping_add(1_442_695_040_888_963_407);
        usize::try_from(dice >> 33).unwrap() % n
    };
    let mut closed = 0;
    for round in 0..40 {
        let mut forged = records[round % records.len()].clone();
        for _ in 0..1 + below(6) {
            let (i, j) = (1 + below(forged.0.len() - 1), 1 + below(forged.0.len() - 1));
            match below(4) {
                0 => forged.0.swap(i, j),
                1 => drop(forged.0.remove(i)),
                2 => {
                    let again = forged.0[i].clone();
                    forged.0.insert(j, again);
                }
                _ => {
                    let other = &records[below(records.len())];
                    let line = other.0[1 + below(other.0.len() - 1)].clone();
                    forged.0.insert(j, line);
                }
            }
        }
        let (remarks, run) = forged.examined();
        let run = run.expect("the opening was left alone");
        closed += usize::from(run.ending.is_some());
        if run.broken.is_some() {
            assert!(
                remarks.iter().any(coreproof::evidence::audit::Remark::is_against),
                "{remarks:?}"
            );
            assert_ne!(run.outcome(), Outcome::Pass);
        }
        // what anybody asks of a run is answered, whatever it came to
        (0..run.steps.len()).for_each(|step| drop((run.verdict(step), run.is_needed(step))));
        drop((
            run.to_make_safe(),
            run.departures(),
            run.null(coreproof::plan::Leads::Own),
        ));
    }
    assert!(0 < closed, "some still come to an end");
}
