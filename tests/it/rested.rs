//! A forger with a good key who says of the lock that a record rests on what was not so; each lie is signed again.
//!
//! The records are those of the afternoon in the village hall: two that rest on a third.

use coreproof::evidence::archive::{Archive, Entry, Summary, sha256_hex};
use coreproof::evidence::audit::{Concern, Remark};
use coreproof::evidence::journal::parse;
use coreproof::evidence::keys::SigningKey;
use coreproof::evidence::supersession::Supersession;
use coreproof::evidence::{Sealed, resting, seal};
use coreproof::run::event::Event;
use coreproof::run::fold::Run;
use coreproof::run::folded::fold;
use jiff::{SignedDuration, Timestamp};

use crate::forged::Forged;
use crate::hall::Afternoon;

/// Records of a forger, and what is said of the last.
struct Forger {
    key: SigningKey,
    dead: Forged,
    broken: Forged,
    alive: Forged,
}

fn folded(record: &Forged) -> Run {
    let lines = parse::<Event>(&record.bytes()).unwrap();
    fold::<Run>(
        lines.into_iter().map(|line| (line.at, line.event)),
        |_, _, _| {},
        |_, _| {},
    )
    .unwrap()
}

fn run_id(record: &Forged) -> String {
    let opened = &record.0[0].1;
    let at = opened.find("\"run\":\"").unwrap() + 7;
    opened[at..at + 36].to_owned()
}

impl Forger {
    fn new() -> Forger {
        let afternoon = Afternoon::shared();
        Forger {
            key: SigningKey::throw_away(),
            dead: afternoon.record(&afternoon.dead),
            broken: afternoon.record(&afternoon.broken),
            alive: afternoon.record(&afternoon.alive),
        }
    }

    /// What is said of a record, where these are in the archive.
    fn said(&self, there: &[&Forged], of: &Forged) -> Vec<Remark> {
        let folder = tempfile::tempdir().unwrap();
        let mut archive = Archive::open(&folder.path().join("archive.sqlite")).unwrap();
        for record in there {
            let bytes = record.bytes();
            let sealed = Sealed {
                signature: self.key.sign(&bytes),
                record: bytes,
            };
            let (run, public) = (folded(record), self.key.public());
            let entry = match run.ending {
                Some(_) => seal::entry(&sealed, &run, &public),
                // the forger says that it is closed
                None => Entry {
                    summary: Summary {
                        sha256: sha256_hex(&sealed.record),
                        ..seal::entry(&sealed, &folded(&self.dead), &public).summary
                    },
                    public_key: public.openssh_line(),
                    record: sealed.record.clone(),
                    signature: sealed.signature.clone(),
                },
            };
            let supersedes = Supersession::of(&run, &sealed).map(|stated| stated.statement(&sealed, &public));
            archive.append_with(&entry, supersedes.as_ref()).unwrap();
        }
        resting::remarks(Some(&archive), &folded(of)).unwrap()
    }

    /// The honest second record, resting on this first one by its hash.
    fn on(&self, first: &Forged) -> Forged {
        let of = |record: &Forged| {
            format!(
                "\"rests_on\":{{\"run\":\"{}\",\"sha256\":\"{}\"}}",
                run_id(record),
                sha256_hex(&record.bytes())
            )
        };
        self.broken.edited(&["\"opened\""], &of(&self.dead), &of(first))
    }

    #[track_caller]
    fn found(&self, there: &[&Forged], of: &Forged, expected: &str) {
        let remarks = self.said(there, of);
        let words: Vec<String> = remarks.iter().map(|remark| remark.what.clone()).collect();
        assert!(
            words.iter().any(|what| what.contains(expected)),
            "`{expected}` in {words:#?}"
        );
        assert!(
            remarks
                .iter()
                .all(|remark| remark.concern == Concern::Lock && remark.is_against())
        );
    }

    /// A first record that is otherwise, and a second that rests on it by its hash.
    #[track_caller]
    fn first_is(&self, marks: &[&str], from: &str, to: &str, expected: &str) {
        let first = self.dead.edited(marks, from, to);
        self.found(&[&first], &self.on(&first), expected);
    }
}

/// A record whose times from this line on are otherwise by so much.
fn shifted(record: &Forged, from: usize, by: SignedDuration) -> Forged {
    let mut record = record.clone();
    for (at, _) in &mut record.0[from..] {
        let moved = at.parse::<Timestamp>().unwrap() + by;
        *at = moved.strftime("%Y-%m-%dT%H:%M:%S.%3fZ").to_string();
    }
    record
}

#[test]
fn an_honest_record_rests_on_an_honest_one() {
    let forger = Forger::new();
    let all = [&forger.dead, &forger.broken, &forger.alive];
    for record in all {
        assert_eq!(forger.said(&all, record), []);
    }
    assert_eq!(forger.on(&forger.dead).0, forger.broken.0);
}

#[test]
fn lies_about_the_record_that_is_rested_on_are_found() {
    let forger = Forger::new();
    let (dead, broken) = (&forger.dead, &forger.broken);
    // none, another, of another hash, itself
    forger.found(&[], broken, "which is not at hand here");
    let other = "01a1f7f8-0000-7000-8000-000000000001";
    let of_another = broken.edited(
        &["\"opened\""],
        &format!("\"run\":\"{}\",\"sha256\"", run_id(dead)),
        &format!("\"run\":\"{other}\",\"sha256\""),
    );
    forger.found(&[dead], &of_another, &format!("{other}, which is not at hand"));
    let hash = sha256_hex(&dead.bytes());
    let of_another = broken.edited(&["\"opened\""], &hash, &sha256_hex(b"another record"));
    forger.found(&[dead], &of_another, "what it rests on is not the record of run");
    // what was switched on, abandoned, or elsewhere
    let alive = &forger.alive;
    forger.found(
        &[dead, alive],
        &forger.on(alive),
        "it did not leave the supply switched off",
    );
    let completed = "\"ending\":\"completed\"";
    forger.first_is(
        &["\"closed\""],
        completed,
        "\"ending\":{\"abandoned\":\"rain\"}",
        "it did not go through to its end",
    );
    forger.first_is(
        &["\"opened\""],
        "Saltmarsh village hall",
        "Saltmarsh chapel",
        "it is of another place",
    );
    forger.first_is(
        &["\"opened\""],
        "part: \\\"heating",
        "part: \\\"cooling",
        "it is of another place",
    );
    let from = "fused connection unit in the boiler cupboard";
    forger.first_is(&["\"opened\""], from, "board in the porch", "it is of another supply");
    forger.first_is(
        &["\"opened\""],
        "engineer: \\\"Morgan Teal\\\"",
        "engineer: \\\"Robin Sedge\\\"",
        "its key is with another engineer",
    );
    // its isolation was never whole: an act said to be done was not
    let lock = &["\"answered\"", "\"lock-off\""];
    forger.first_is(
        lock,
        "\"answer\":\"done\"",
        "\"answer\":{\"not_done\":\"no lock\"}",
        "it could not go on",
    );
    forger.first_is(
        &["\"answered\"", "\"dead-near/earth-line\""],
        "dark",
        "lit",
        "its proof of dead does not stand",
    );
    // itself superseded
    let hash = sha256_hex(&dead.bytes());
    let mut later = dead.edited(&["\"opened\""], &run_id(dead), "01ffffff-0000-7000-8000-000000000002");
    let opened = &mut later.0[0].1;
    opened.truncate(opened.len() - 2);
    let member = format!(
        ",\"supersedes\":{{\"run\":\"{}\",\"sha256\":\"{hash}\",\"because\":\"a slip\"}}}}}}",
        run_id(dead)
    );
    opened.push_str(&member);
    forger.found(
        &[dead, &later],
        broken,
        "01ffffff-0000-7000-8000-000000000002 supersedes it",
    );
    let further = "known_source: \\\"socket outlet in the kitchen, on another circuit\\\", further: [(name: \\\"heater\\\", from: \\\"its own switch\\\")]";
    let second = broken.edited(
        &["\"opened\""],
        "known_source: \\\"socket outlet in the kitchen, on another circuit\\\"",
        further,
    );
    forger.found(&[dead], &second, "it did not lock off every further supply");
}

#[test]
fn lies_about_when_a_lock_held_are_found() {
    let forger = Forger::new();
    let (dead, broken, alive) = (&forger.dead, &forger.broken, &forger.alive);
    let minutes = SignedDuration::from_mins;
    let last = dead.0.len() - 1;
    let later = shifted(dead, last, minutes(20));
    forger.found(&[&later], &forger.on(&later), "it was closed later");
    let long_ago = shifted(dead, 0, minutes(-40));
    forger.found(
        &[&long_ago],
        &forger.on(&long_ago),
        "longer before than work may be left",
    );
    // the lock came off while it was rested on: before the run began, or before it ended
    let ends_later = shifted(broken, broken.0.len() - 1, minutes(10));
    forger.found(&[dead, alive], &ends_later, "switched the supply on at");
    let begins_later = shifted(broken, 0, minutes(10));
    forger.found(&[dead, alive], &begins_later, "switched the supply on at");
    // a voltage was seen behind it before the run began
    let sighted = dead.edited(&["\"opened\""], &run_id(dead), "01a1f7f8-0000-7000-8000-000000000003");
    let begins_later = shifted(broken, 0, minutes(10));
    forger.found(
        &[dead, &shifted(&sighted, 0, minutes(5))],
        &begins_later,
        "saw a voltage behind its lock at",
    );
    // somebody began anew on the same supply meanwhile
    let anew = shifted(
        &dead.edited(&["\"opened\""], &run_id(dead), "01a1f7f8-0000-7000-8000-000000000002"),
        0,
        minutes(1),
    );
    let ends_later = shifted(broken, broken.0.len() - 1, minutes(5));
    forger.found(&[dead, &anew], &ends_later, "with the supply as it found it");
}

#[test]
fn lies_that_a_record_tells_of_itself_are_found() {
    let forger = Forger::new();
    let (dead, broken) = (&forger.dead, &forger.broken);
    let found = |record: &Forged, expected: &str| {
        let (remarks, _) = record.examined();
        let words: Vec<String> = remarks.iter().map(Remark::words).collect();
        assert!(
            words.iter().any(|what| what.contains(expected)),
            "`{expected}` in {words:#?}"
        );
    };
    let rests = format!("\"rests_on\":{{\"run\":\"{}\"", run_id(dead));
    let edited = |to: &str| broken.edited(&["\"opened\""], &rests, &format!("\"rests_on\":{{\"run\":\"{to}\""));
    found(&edited(&run_id(broken)), "it says that it rests on itself");
    found(
        &edited("ffffffff-0000-7000-8000-000000000001"),
        "it rests on a run that was begun after it",
    );
    let hash = sha256_hex(&dead.bytes());
    found(
        &broken.edited(&["\"opened\""], &hash, "as read to me"),
        "the record that it rests on is none",
    );
    // nothing is taken over where it rests on nothing, and nobody can say in a line that it was
    let alone = broken.edited(&["\"opened\""], &format!(",{rests},\"sha256\":\"{hash}\"}}"), "");
    found(&alone, "was done");
    let answered = &["\"answered\"", "\"indicator-first\""];
    found(
        &broken.edited(answered, "\"answer\":\"lit\"", "\"answer\":\"taken_over\""),
        "taken_over",
    );
    // what is taken over is not done once more
    let at = broken.find(answered);
    let mut twice = broken.clone();
    let event = broken.0[at]
        .1
        .replacen("indicator-first", "lock-off", 1)
        .replacen("\"lit\"", "\"done\"", 1);
    twice.0.insert(at, (broken.0[at].0.clone(), event));
    found(&twice, "`lock-off` was done out of its order");
}
