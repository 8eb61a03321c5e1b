//! A forger with a good key, whose every lie is signed again: each member of each event, times, ids, editions, carried files.
//!
//! The rule inside: nothing but the content speaks against a lie here, since chain and signature are good and the key is trusted.

use coreproof::evidence::archive::Archive;
use coreproof::evidence::audit::Concern;
use coreproof::evidence::keys::{SigningKey, Trust};
use coreproof::evidence::log::Heads;
use coreproof::evidence::{Sealed, prove, seal, stored};
use jiff::Timestamp;

use crate::forged::Forged;
use crate::world::{World, text};

/// The event in which a lie stands, what it says, and what it is made to say.
type Lie = (&'static [&'static str], &'static str, &'static str);

/// Lies in a record of today.
const OF_TODAY: &[Lie] = &[
    // the opening and what it carries
    (&["\"opened\""], "\"format\":\"1.1\"", "\"format\":\"2.0\""),
    (&["\"opened\""], "\"edition\":\"2018+A2:2022\"", "\"edition\":\"2008\""),
    (&["\"opened\""], "\"caveat\":\"Judged", "\"caveat\":\"Well judged"),
    (&["\"opened\""], "\"rules\":\"", "\"rules\":\"x"),
    (&["\"opened\""], "length: \\\"18 m\\\"", "length: \\\"58 m\\\""),
    (&["\"opened\""], "2018+A2:2022", "2008"),
    (&["\"opened\""], "id: \\\"lead-null\\\"", "id: \\\"lead-nill\\\""),
    (&["\"opened\""], "name: \\\"stat-cable\\\"", "nome: \\\"stat-cable\\\""),
    // answers
    (
        &["\"answered\"", "\"switch-off\""],
        "\"answer\":\"done\"",
        "\"answer\":\"lit\"",
    ),
    (
        &["\"answered\"", "\"indicator-first\""],
        "\"answer\":\"lit\"",
        "\"answer\":\"dark\"",
    ),
    (
        &["\"answered\"", "\"dead-near/earth-line\""],
        "\"answer\":\"dark\"",
        "\"answer\":\"lit\"",
    ),
    (
        &["\"answered\"", "\"lock-off\""],
        "\"step\":\"lock-off\"",
        "\"step\":\"keep-key\"",
    ),
    (
        &["\"answered\"", "\"lock-off\""],
        "\"step\":\"lock-off\"",
        "\"step\":\"no-such\"",
    ),
    (&["\"answered\"", "\"connect-near/brown\""], "PermanentLive", "Neutral"),
    (
        &["\"answered\"", "\"guard\""],
        "\"answer\":\"done\"",
        "\"answer\":\"not_needed\"",
    ),
    // readings
    (&["\"taken\"", "\"lead-null\""], "\"digits\":\"0.", "\"digits\":\"1."),
    (
        &["\"taken\"", "\"continuity/brown\""],
        "\"digits\":\"0.",
        "\"digits\":\"9.",
    ),
    (
        &["\"taken\"", "\"continuity/brown\""],
        "\"unit\":\"ohm\"",
        "\"unit\":\"volt\"",
    ),
    (
        &["\"taken\"", "\"continuity/brown\""],
        "\"prefix\":\"one\"",
        "\"prefix\":\"mega\"",
    ),
    (
        &["\"taken\"", "\"continuity/brown\""],
        "\"step\":\"continuity/brown\"",
        "\"step\":\"continuity/grey\"",
    ),
    (
        &["\"taken\"", "\"continuity/brown\""],
        "\"profile\":\"",
        "\"profile\":\"x",
    ),
    (&["\"taken\"", "\"continuity/brown\""], "\"raw\":\"", "\"raw\":\"30"),
    (
        &["\"taken\"", "\"all-open/grey\""],
        "\"shown\":\"over\"",
        "\"shown\":{\"digits\":\"0.5\"}",
    ),
    (
        &["\"taken\"", "\"insulation/brown\""],
        "\"prefix\":\"mega\"",
        "\"prefix\":\"giga\"",
    ),
    (&["\"taken\"", "\"feed\""], "\"unit\":\"volt\"", "\"unit\":\"ohm\""),
    (&["\"taken\"", "\"switched-off\""], "\"digits\":\"", "\"digits\":\"23"),
    // verdicts
    (
        &["\"judged\"", "\"continuity/brown\""],
        "\"outcome\":\"pass\"",
        "\"outcome\":\"fail\"",
    ),
    (
        &["\"judged\"", "\"continuity/brown\""],
        "\"outcome\":\"pass\"",
        "\"outcome\":\"not_tested\"",
    ),
    (
        &["\"judged\"", "\"continuity/brown\""],
        "\"because\":\"",
        "\"because\":\"surely ",
    ),
    (
        &["\"judged\"", "\"continuity/brown\""],
        "\"value\":\"0.",
        "\"value\":\"1.",
    ),
    (
        &["\"judged\"", "\"continuity/brown\""],
        "\"risk\":\"false",
        "\"risk\":\"true",
    ),
    (
        &["\"judged\"", "\"continuity/brown\""],
        "\"step\":\"continuity/brown\"",
        "\"step\":\"continuity/black\"",
    ),
    (
        &["\"judged\"", "\"switch-off\""],
        "\"because\":\"done\"",
        "\"because\":\"seen\"",
    ),
    (
        &["\"judged\"", "\"all-open/grey\""],
        "over-range: above",
        "over-range: below",
    ),
    (
        &["\"judged\"", "\"feed\""],
        "\"outcome\":\"pass\"",
        "\"outcome\":\"conditional\"",
    ),
    (
        &["\"judged\"", "\"insulation/brown\""],
        "\"because\":\"",
        "\"because\":\"more ",
    ),
    // the ending
    (
        &["\"closed\""],
        "\"ending\":\"completed\"",
        "\"ending\":{\"abandoned\":\"no time\"}",
    ),
];

/// Lies in a record of a real run: whose it is, and when. The last is what is said of them.
const OF_BEFORE: &[(Lie, Concern, &str)] = &[
    (
        (
            &["\"opened\""],
            "engineer: \\\"Morgan Teal\\\"",
            "engineer: \\\"Robin Sedge\\\"",
        ),
        Concern::Who,
        "its key is trusted as `Morgan Teal`, which is another",
    ),
    (
        (
            &["\"opened\""],
            "engineer: \\\"Morgan Teal\\\"",
            "engineer: \\\"M\u{43e}rgan Teal\\\"",
        ),
        Concern::Who,
        "which looks alike and is another",
    ),
    (
        (&["\"opened\""], "\"run\":\"01a1f7f8", "\"run\":\"01a9f7f8"),
        Concern::When,
        "its own id was made at 2027-12-",
    ),
    (
        (&["\"opened\""], "due: \\\"", "due: \\\"2026-11-19\\\", // \\\""),
        Concern::When,
        "was due on 2026-11-19, before 2026-11-20",
    ),
    (
        (
            &["\"opened\""],
            "calibrated: \\\"",
            "calibrated: \\\"2026-11-21\\\", // \\\"",
        ),
        Concern::When,
        "on 2026-11-21 had not come when the run was opened",
    ),
];

struct Court {
    world: World,
    key: SigningKey,
    trust: Trust,
}

impl Court {
    fn new() -> Court {
        let (world, key) = (World::new(), SigningKey::throw_away());
        let path = world.path("trusted");
        Trust::add(&path, "Morgan Teal", &key.public()).unwrap();
        Court {
            trust: Trust::read(&path).unwrap(),
            world,
            key,
        }
    }

    fn sealed(&self, forged: &Forged) -> Sealed {
        let record = forged.bytes();
        let signature = self.key.sign(&record);
        Sealed { record, signature }
    }

    /// What speaks against a record; the archive refuses exactly those of which something does.
    fn against(&self, forged: &Forged) -> Option<(Concern, String)> {
        let sealed = self.sealed(forged);
        let now: Timestamp = "2026-11-29T12:00:00Z".parse().unwrap();
        let proved = prove(&sealed, None, &self.trust, now);
        let against = proved.against().map(|remark| (remark.concern, remark.words()));
        let mut archive = Archive::open(&self.world.path("archive.sqlite")).unwrap();
        let heads = Heads::of(self.world.path("checkpoints"));
        let imported = stored::import(&mut archive, &heads, &self.trust, &sealed);
        let is_rehearsal = proved.folded.as_ref().is_some_and(|run| run.opened.rehearsal.is_some());
        assert_eq!(imported.is_err(), against.is_some() || is_rehearsal, "{against:?}");
        against
    }

    /// What the program says of it: `verify`'s exit code and words.
    fn verified(&self, forged: &Forged) -> (i32, String) {
        let sealed = self.sealed(forged);
        let path = self.world.path("record.jsonl");
        std::fs::write(&path, &sealed.record).unwrap();
        std::fs::write(self.world.path("record.jsonl.sig"), &sealed.signature).unwrap();
        let output = self.world.run(&["verify", path.to_str().unwrap()]);
        (
            output.status.code().unwrap(),
            text(&output.stdout) + &text(&output.stderr),
        )
    }
}

#[test]
fn a_forger_of_forty_lies_is_found_out_forty_times() {
    let court = Court::new();
    let honest = Forged::today();
    assert_eq!(court.against(&honest), None);
    let mut unfound = Vec::new();
    for (marks, from, to) in OF_TODAY {
        let forged = honest.edited(marks, from, to);
        if court.against(&forged).is_none() {
            unfound.push((marks, from, to));
        }
    }
    assert_eq!(unfound, Vec::new());
    assert!(40 <= OF_TODAY.len() + OF_BEFORE.len());
}

#[test]
fn lines_left_out_told_twice_or_in_another_order_are_found() {
    let court = Court::new();
    let honest = Forged::today();
    for marks in [
        &["\"answered\"", "\"indicator-first\""],
        &["\"judged\"", "\"continuity/brown\""],
        &["\"taken\"", "\"feed\""],
    ] {
        let at = honest.find(marks);
        let mut without = honest.clone();
        without.0.remove(at);
        assert!(court.against(&without).is_some(), "{marks:?} left out");
        let mut twice = honest.clone();
        twice.0.insert(at, honest.0[at].clone());
        assert!(court.against(&twice).is_some(), "{marks:?} twice");
        let mut later = honest.clone();
        later.0.swap(at, at + 2);
        assert!(court.against(&later).is_some(), "{marks:?} later");
    }
}

#[test]
fn lies_about_who_and_when_are_found_alike_by_every_command() {
    let court = Court::new();
    let honest = Forged::earlier("stat-cable-passed.jsonl");
    assert_eq!(court.against(&honest), None);
    assert_eq!(court.verified(&honest).0, 0);
    for ((marks, from, to), concern, said) in OF_BEFORE {
        let forged = honest.edited(marks, from, to);
        let (found, words) = court.against(&forged).unwrap();
        assert_eq!(found, *concern, "{words}");
        assert!(words.contains(said), "{words}");
        let (code, seen) = court.verified(&forged);
        assert_eq!(code, 1, "{seen}");
        assert!(seen.contains(said), "{seen}");
    }
}

#[test]
fn one_lie_gets_one_answer_from_every_command() {
    let court = Court::new();
    let honest = Forged::earlier("stat-cable-passed.jsonl");
    let of_content: Lie = (
        &["\"judged\"", "\"continuity/brown\""],
        "\"because\":\"",
        "\"because\":\"surely ",
    );
    let told = OF_BEFORE.iter().map(|(lie, _, said)| (lie, *said));
    for ((marks, from, to), said) in told.chain([(&of_content, "recorded as pass (surely ")]) {
        let world = World::new();
        std::fs::copy(court.world.path("trusted"), world.path("trusted")).unwrap();
        let sealed = court.sealed(&honest.edited(marks, from, to));
        let (path, pdf) = (world.path("record.jsonl"), world.path("certificate.pdf"));
        let [path, pdf] = [&path, &pdf].map(|path| path.to_str().unwrap());
        std::fs::write(path, &sealed.record).unwrap();
        std::fs::write(world.path("record.jsonl.sig"), &sealed.signature).unwrap();
        // and as a row that something else put into the archive
        let run = prove(&sealed, None, &court.trust, Timestamp::now()).folded.unwrap();
        let mut archive = Archive::open(&world.path("archive.sqlite")).unwrap();
        archive
            .append(&seal::entry(&sealed, &run, &court.key.public()))
            .unwrap();
        let id = run.opened.run.to_string();
        for (args, code) in [
            (&["verify", path][..], 1),
            (&["records", "import", path], 2),
            (&["certificate", path, "-o", pdf], 2),
            (&["audit", "--json"], 1),
            (&["certificate", &id, "-o", pdf], 2),
        ] {
            let output = world.run(args);
            let seen = text(&output.stdout) + &text(&output.stderr);
            assert_eq!(output.status.code(), Some(code), "{args:?} of {to}: {seen}");
            assert!(seen.contains(said), "{args:?} of {to}: {seen}");
        }
    }
}

#[test]
fn an_identification_that_another_signed_is_said_to_be_of_another() {
    let mut court = Court::new();
    let carried = Forged::earlier("identified-stat-cable-passed.jsonl");
    let signed_by = |key: &SigningKey| {
        let opened: serde_json::Value = serde_json::from_str(&carried.0[0].1).unwrap();
        let text = opened["opened"]["identified"]["text"].as_str().unwrap();
        let (told, signature) = text.split_at(text.find("-----BEGIN SSH SIGNATURE-----").unwrap());
        let [from, to] = [signature, &key.sign(told.as_bytes())].map(|armor| armor.replace('\n', "\\n"));
        carried.edited(&["\"opened\""], &from, &to)
    };
    assert_eq!(court.against(&signed_by(&court.key)), None);
    let other = SigningKey::throw_away();
    let forged = signed_by(&other);
    let fingerprint = other.public().fingerprint();
    let what = format!("the identification that it carries is signed by {fingerprint}, who is not trusted here");
    assert_eq!(court.against(&forged), Some((Concern::Who, what)));
    let path = court.world.path("trusted");
    Trust::add(&path, "Robin Sedge", &other.public()).unwrap();
    court.trust = Trust::read(&path).unwrap();
    let what = "the identification that it carries names the engineer `Morgan Teal`, its key is trusted as `Robin Sedge`, which is another";
    assert_eq!(court.against(&forged), Some((Concern::Who, what.to_owned())));
}

#[test]
fn times_that_have_not_come_and_steps_faster_than_hands_are_told() {
    let court = Court::new();
    let honest = Forged::earlier("stat-cable-passed.jsonl");
    let mut ahead = honest.clone();
    ahead.0.last_mut().unwrap().0 = "2126-11-20T08:22:15.838Z".into();
    let (concern, words) = court.against(&ahead).unwrap();
    assert_eq!(concern, Concern::When);
    assert!(
        words.contains("it gives the time 2126-11-20T08:22:15.838Z, which has not come yet"),
        "{words}"
    );
    // nobody proves a cable in a second
    let mut fast = honest.clone();
    for (n, (at, _)) in fast.0.iter_mut().enumerate() {
        *at = format!("2026-11-20T08:00:{:02}.{:03}Z", n / 100, n % 100 * 10);
    }
    let (_, seen) = court.verified(&fast);
    assert!(seen.contains("faster than hands: "), "{seen}");
    assert!(!court.verified(&honest).1.contains("faster than hands"));
}

#[test]
fn a_key_outside_its_dates_is_found() {
    let court = Court::new();
    let honest = Forged::earlier("stat-cable-passed.jsonl");
    let line = court.key.public().openssh_line();
    let key = line.split_whitespace().take(2).collect::<Vec<_>>().join(" ");
    let list = format!("\"Morgan Teal\" namespaces=\"record@coreproof\",valid-after=\"20261121Z\" {key}\n");
    let path = court.world.path("trusted");
    std::fs::write(&path, list).unwrap();
    let court = Court {
        trust: Trust::read(&path).unwrap(),
        ..court
    };
    let sealed = court.sealed(&honest);
    let remarks = prove(&sealed, None, &court.trust, "2026-11-29T12:00:00Z".parse().unwrap()).remarks;
    let of_time = remarks.iter().filter(|remark| remark.concern == Concern::When);
    let words: Vec<String> = of_time.map(|remark| remark.words()).collect();
    assert_eq!(
        words,
        [
            "it was opened at 2026-11-20T08:00:00Z, when the key of `Morgan Teal` was not valid",
            "it was closed at 2026-11-20T08:22:15.838Z, when the key of `Morgan Teal` was not valid",
        ]
    );
    assert_eq!(court.verified(&honest).0, 2);
}

#[cfg(unix)]
#[test]
fn a_list_of_keys_that_others_can_write_is_refused() {
    use std::os::unix::fs::PermissionsExt as _;
    let court = Court::new();
    let path = court.world.path("trusted");
    std::fs::set_permissions(&path, std::fs::Permissions::from_mode(0o664)).unwrap();
    let (code, seen) = court.verified(&Forged::earlier("stat-cable-passed.jsonl"));
    assert_eq!(code, 2, "{seen}");
    let name = path.display();
    assert!(
        seen.contains(&format!(
            "error: trust list `{name}` can be written by other users (mode 0664)"
        )),
        "{seen}"
    );
    assert!(
        seen.contains(&format!("next: look at every line of it, then chmod 600 {name}")),
        "{seen}"
    );
}
