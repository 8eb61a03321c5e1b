//! Journals that this version goes on with, and that another version, a crash or a forger left as they are.
//!
//! Whatever is gone on with, made safe, abandoned and sealed folds again to what was walked.

use std::path::PathBuf;

use coreproof::evidence::audit::examine;
use coreproof::evidence::keys::SigningKey;
use coreproof::identify::session::Session;
use coreproof::judge::window::Outcome;

use crate::forged::Forged;
use crate::world::{STEPS, World, text};

/// Lays an unfinished journal where `resume` finds it.
fn unfinished(world: &World, journal: &Forged) -> PathBuf {
    let folder = world.path("runs");
    std::fs::create_dir_all(&folder).unwrap();
    let path = folder.join("01a217f4-0f85-79d7-a032-94a05ae48beb.jsonl");
    std::fs::write(&path, journal.bytes()).unwrap();
    path
}

/// The journal of a walk that was made safe, its closing not yet written.
fn made_safe() -> Forged {
    let mut journal = Forged::earlier("stat-cable-abandoned.jsonl");
    let at = journal.find(&["\"made_safe\""]);
    journal.0.truncate(at + 1);
    journal
}

/// A line that fits nowhere there: the voltage of no step.
fn misfit(journal: &Forged) -> (String, String) {
    (
        journal.0.last().unwrap().0.clone(),
        "{\"again\":{\"step\":\"switch-off\"}}".into(),
    )
}

#[test]
fn a_run_that_goes_on_under_newer_rules_does_again_what_no_longer_passes_and_folds_to_what_was_walked() {
    let world = World::with_key();
    let mut walk = world.walk(&[]);
    assert!(walk.to("continuity/grey"));
    for line in ["9.99", "leave", "for a test"] {
        walk.answer(line);
        walk.question();
    }
    walk.kill();
    let path = world.journals().remove(0);
    let failed = Forged::of(&std::fs::read_to_string(&path).unwrap());
    let failed = failed.edited(&["\"opened\""], &crate::forged::today(), "\"rules\":\"1\"");
    let grey = ["\"judged\"", "\"continuity/grey\""];
    // the older rules let it pass, so nothing was left and the walk went on
    let mut journal = failed.edited(&grey, "\"outcome\":\"fail\"", "\"outcome\":\"pass\"");
    let at = failed.find(&grey);
    assert!(journal.0.remove(at + 1).1.contains("\"left\""));
    std::fs::write(&path, journal.bytes()).unwrap();
    let run = path.file_stem().unwrap().to_str().unwrap().to_owned();
    let mut walk = world.talk(&["resume"]);
    let mut again = false;
    while let Some(step) = walk.question() {
        again |= step == "continuity/grey";
        if step == "insulation/brown" {
            break;
        }
        walk.answer(crate::world::Walk::good(&step));
    }
    assert!(again, "{}", walk.seen);
    let seen = walk.seen.split_whitespace().collect::<Vec<_>>().join(" ");
    assert!(
        seen.contains("`continuity/grey` passed by the rules `1`, which are no longer today's: it is done again"),
        "{seen}"
    );
    for line in ["abandon", "flood", "done"] {
        walk.answer(line);
    }
    let (code, seen, errors) = walk.finish();
    assert!(code == 1 && seen.contains("Sealed as"), "{seen}\n{errors}");
    let shown = seen
        .split_once(&format!(" of {STEPS} steps passed"))
        .unwrap()
        .0
        .lines()
        .last()
        .unwrap()
        .to_owned();
    let json = text(&world.run(&["records", "show", &run, "--json"]).stdout);
    assert_eq!(
        shown,
        json.matches("\"verdict\": \"pass\"").count().to_string(),
        "{json}"
    );
    let told = "judged by the rules `1`, which are no longer today's: `continuity/grey`: recorded as pass";
    assert!(json.contains(told), "{json}");
    let shown = text(&world.run(&["records", "show", &run]).stdout);
    assert!(
        shown.contains(told) && shown.contains("judged again as FAIL"),
        "{shown}"
    );
    let audited = world.run(&["audit", "--json"]);
    let seen = text(&audited.stdout);
    assert_eq!(seen.matches("\"concern\": \"verdict\"").count(), 1, "{seen}");
    assert!(audited.status.code() == Some(1) && seen.contains(told), "{seen}");
}

#[test]
fn under_older_rules_a_recorded_value_is_no_reference_for_what_follows() {
    let passed = Forged::earlier("stat-cable-passed.jsonl");
    // without its length the cores are compared with the first
    let compared = passed.edited(&["\"opened\""], "length: \\\"18 m\\\",", "");
    let mut forged = compared.clone();
    let brown = forged.find(&["\"judged\"", "\"continuity/brown\""]);
    let at = forged.0[brown].0.clone();
    forged.0[brown].1 =
        "{\"judged\":{\"step\":\"continuity/brown\",\"verdict\":{\"outcome\":\"fail\",\"because\":\"said so\",\"value\":\"5 ohm\"}}}".into();
    let left = "{\"left\":{\"step\":\"continuity/brown\",\"reason\":\"said so\"}}";
    forged.0.insert(brown + 1, (at, left.into()));
    let (remarks, run) = forged.examined();
    let run = run.unwrap();
    let brown = &run.steps[run.plan.index("continuity/brown").unwrap()].attempts[0];
    assert_eq!(
        (brown.verdict.outcome, brown.verdict.because.as_str()),
        (Outcome::Fail, "said so")
    );
    let (_, honest) = compared.examined();
    let honest = honest.unwrap();
    let index = honest.plan.index("continuity/brown").unwrap();
    assert!(brown.verdict.value.is_some());
    assert_eq!(brown.verdict.value, honest.steps[index].attempts[0].verdict.value);
    assert!(
        remarks.iter().all(|remark| !remark.what.contains("4.95 ohm")),
        "{remarks:?}"
    );
}

#[test]
fn a_rehearsal_among_the_unfinished_runs_is_refused_and_kept() {
    let world = World::with_key();
    let path = unfinished(&world, &Forged::today());
    let resumed = world.typed(&["resume"], "salt and marsh\n");
    let errors = text(&resumed.stderr);
    assert_eq!(resumed.status.code(), Some(2), "{errors}");
    assert!(
        errors.contains("this is a rehearsal, which never enters the archive"),
        "{errors}"
    );
    assert!(path.is_file());
}

#[test]
fn what_was_made_safe_before_a_line_that_does_not_fit_is_made_safe_again() {
    let mut journal = made_safe();
    journal.0.push(misfit(&journal));
    let world = World::with_key();
    let path = unfinished(&world, &journal);
    let everything = "prove dead with the two-pole indicator; discharge the cores";
    for lines in ["", "done\n"] {
        let resumed = world.typed(&["resume"], lines);
        let seen = text(&resumed.stdout).split_whitespace().collect::<Vec<_>>().join(" ");
        assert!(seen.contains(everything), "{seen}");
        // killed between making safe and the closing: somebody may have been there since
        let (_, run) = Forged::of(&text(&std::fs::read(&path).unwrap())).examined();
        assert_eq!(run.unwrap().made_safe.is_some(), !lines.is_empty());
        let mut written = Forged::of(&text(&std::fs::read(&path).unwrap()));
        written.0.retain(|(_, event)| !event.contains("\"closed\""));
        std::fs::write(&path, written.bytes()).unwrap();
    }
    let resumed = world.typed(&["resume"], "done\nsalt and marsh\n");
    let seen = text(&resumed.stdout).split_whitespace().collect::<Vec<_>>().join(" ");
    assert!(seen.contains(everything) && seen.contains("Sealed as"), "{seen}");
    let audited = text(&world.run(&["audit", "--json"]).stdout);
    let said = audited.matches("\"concern\"").count() - audited.matches("\"later_proof\"").count();
    assert_eq!(said, 1, "{audited}");
}

#[test]
fn a_run_that_could_not_go_on_is_not_closed_before_it_was_made_safe() {
    let mut journal = Forged::earlier("stat-cable-abandoned.jsonl");
    journal.0.truncate(2);
    journal.0.push(misfit(&journal));
    let at = journal.0[2].0.clone();
    journal
        .0
        .push((at.clone(), "{\"closed\":{\"ending\":{\"abandoned\":\"done\"}}}".into()));
    assert!(journal.examined().1.unwrap().ending.is_none());
    journal
        .0
        .insert(3, (at, "{\"made_safe\":{\"what\":\"everything\"}}".into()));
    assert!(journal.examined().1.unwrap().ending.is_some());
}

#[test]
fn the_words_of_an_identification_are_those_that_its_events_give() {
    // another version may have worded its remarks otherwise, so they are no lie; they are not believed either
    let mut forged = Forged::earlier("identification-cores.jsonl");
    let last = forged.0.len() - 1;
    let event = &mut forged.0[last].1;
    let from = event.find("\"remarks\":[").unwrap();
    let to = from + event[from..].find(']').unwrap();
    event.replace_range(from..to, "\"remarks\":[\"all of it was proved dead\"");
    let (key, bytes) = (SigningKey::throw_away(), forged.bytes());
    let examined = examine::<Session>(&bytes, &key.sign(&bytes), Some(&key.public()));
    assert_eq!(examined.remarks, []);
    let (told, _) = examined.folded.unwrap().closed.unwrap();
    assert!(!format!("{told:?}").contains("proved dead"), "{told:?}");
}

#[test]
fn an_identification_and_its_job_name_one_place_and_one_engineer() {
    for (from, to, expected) in [
        (
            "\"engineer\":\"",
            "\"engineer\":\"Nobody ",
            "names the engineer `Nobody ",
        ),
        ("\"place\":\"", "\"place\":\"Not ", "names the place `Not "),
        (
            "\"value\":\"50 V\"",
            "\"value\":\"50 ohm\"",
            "`50 ohm` in the table of ",
        ),
    ] {
        let forged = Forged::earlier("identification-cores.jsonl").edited(&["\"opened\""], from, to);
        let (key, bytes) = (SigningKey::throw_away(), forged.bytes());
        let remarks = examine::<Session>(&bytes, &key.sign(&bytes), Some(&key.public())).remarks;
        assert!(
            remarks.iter().any(|remark| remark.what.contains(expected)),
            "{remarks:?}"
        );
    }
}
