//! Identifications carried in a record.

use std::path::Path;

use crate::identified::{JOB, Signed, name};
use crate::world::text;

#[test]
fn the_record_carries_the_identification_and_says_so() {
    let signed = Signed::new();
    let args = [
        "run",
        "sequences/stat-cable.ron",
        "--job",
        name(&signed.job),
        "--identified",
        name(&signed.file),
    ];
    let mut walk = signed.world.talk(&args);
    walk.question();
    walk.answer("abandon");
    walk.question();
    walk.answer("rain");
    let (code, out, errors) = walk.finish();
    assert_eq!(code, 1, "{out}{errors}");
    let run = out
        .split("Sealed as ")
        .nth(1)
        .unwrap()
        .split('.')
        .next()
        .unwrap()
        .to_owned();
    let said = "The cores A-2, B-1, C-3, D-4 were told apart before this run by Morgan Teal (`cable.jsonl`, closed ";
    let shown = text(&signed.world.run(&["records", "show", &run]).stdout);
    assert!(shown.contains(said), "{shown}");
    let checked = "Of that list: its checking walk was as listed at both ends.";
    assert!(
        out.contains(checked) && crate::identified::flat(&shown).contains(checked),
        "{shown}"
    );
    assert_eq!(signed.world.run(&["audit"]).status.code(), Some(0));
    // it is whole inside: exported, it is the file and its signature
    let folder = signed.world.path("out");
    signed.world.run(&["records", "export", &run, "-o", name(&folder)]);
    let record = folder.join("record.jsonl");
    let first = std::fs::read_to_string(&record).unwrap();
    let first: serde_json::Value = serde_json::from_str(first.lines().next().unwrap()).unwrap();
    let carried = first
        .pointer("/event/opened/identified/text")
        .unwrap()
        .as_str()
        .unwrap();
    let file = std::fs::read_to_string(&signed.file).unwrap();
    let signature = std::fs::read_to_string(format!("{}.sig", signed.file.display())).unwrap();
    assert_eq!(carried, format!("{file}{signature}"));
    let verified = signed.world.run(&["verify", name(&record)]);
    assert_eq!(verified.status.code(), Some(0), "{}", text(&verified.stderr));
    // without certificates this command is refused, which `typed` shows
    if cfg!(feature = "certificate") {
        let pdf = signed.world.path("cable.pdf");
        let made = signed.world.run(&["certificate", &run, "-o", name(&pdf)]);
        assert_eq!(made.status.code(), Some(0), "{}", text(&made.stderr));
        let verified = signed.world.run(&["verify", name(&pdf)]);
        assert_eq!(verified.status.code(), Some(0), "{}", text(&verified.stderr));
    }
    what_the_record_carries_is_examined_again(&record);
}

/// A record whose engineer put another identification into it.
fn what_the_record_carries_is_examined_again(record: &Path) {
    use coreproof::evidence::audit::examine;
    use coreproof::evidence::journal::{Journal, parse};
    use coreproof::run::event::Event;
    use coreproof::run::fold::Run;
    let lines = parse::<Event>(&std::fs::read(record).unwrap()).unwrap();
    let remarks = |change: &dyn Fn(&str) -> String| -> Vec<String> {
        let Event::Opened(mut opened) = lines[0].event.clone() else {
            panic!("it begins with its opening");
        };
        let carried = opened.identified.as_mut().unwrap();
        carried.text = change(&carried.text).into();
        let path = record.with_file_name("changed.jsonl");
        let mut journal = Journal::create(&path, &Event::Opened(opened), lines[0].at).unwrap();
        for line in &lines[1..] {
            journal.append(&line.event, line.at).unwrap();
        }
        let bytes = std::fs::read(&path).unwrap();
        std::fs::remove_file(&path).unwrap();
        let examined = examine::<Run>(&bytes, "", None);
        examined.remarks.iter().skip(1).map(|r| r.words()).collect()
    };
    assert_eq!(remarks(&str::to_owned), Vec::<String>::new());
    #[cfg(feature = "certificate")]
    {
        use coreproof::evidence::CopyFor;
        use coreproof::evidence::certificate::page::{Page, Seal};
        let run = examine::<Run>(&std::fs::read(record).unwrap(), "", None)
            .folded
            .unwrap();
        let limitations = Page::of(&run, &Seal::default(), CopyFor::Engineer).limitations;
        let said = "The cores A-2, B-1, C-3, D-4 were told apart before this run by Morgan Teal";
        assert!(limitations.iter().any(|line| line.starts_with(said)), "{limitations:?}");
    }
    let swapped = remarks(&|text| text.replace("\"line\":\"2-1\"", "\"line\":\"2-3\""));
    assert!(
        swapped
            .iter()
            .any(|r| r.contains("identification `cable.jsonl`: line ")),
        "{swapped:?}"
    );
    let unsigned = remarks(&|text| text[..text.find("-----BEGIN").unwrap()].to_owned());
    assert_eq!(unsigned.len(), 1, "{unsigned:?}");
    assert!(
        unsigned[0].starts_with("line 1: identification `cable.jsonl`: "),
        "{unsigned:?}"
    );
}

#[test]
fn an_identification_that_is_not_of_the_job_opens_no_run() {
    let signed = Signed::new();
    let run = |job: &str, file: &str| {
        let args = ["run", "sequences/stat-cable.ron", "--job", job, "--identified", file];
        let output = signed.world.run(&args);
        (output.status.code().unwrap(), text(&output.stderr))
    };
    let (code, errors) = run(JOB, name(&signed.file));
    assert_eq!(
        (code, errors.as_str()),
        (
            2,
            "error: identification `cable.jsonl`: the job has no core `A-2`\n next: give the job that `identify --job-out` wrote, and the file that was signed with it; or tell the cores apart anew\n"
        )
    );
    let job = std::fs::read_to_string(&signed.job).unwrap();
    for (from, to, why) in [
        (
            "sail loft thermostat cable",
            "galley thermostat cable",
            "its cable is `sail loft thermostat cable`, that of the job `galley thermostat cable`",
        ),
        (
            "carries: Neutral, near: \"2\", far: \"N\"",
            "carries: Neutral, near: \"5\", far: \"N\"",
            "core `B-1` is at terminals `5` and `N` in the job, at `2` and `N` there",
        ),
    ] {
        let other = signed.world.path("other.ron");
        let mut text = job.replace(from, to);
        if to.contains("\"5\"") {
            let two = "(name: \"2\", takes: Neutral),";
            text = text.replace(two, &format!("(name: \"5\", takes: Neutral), {two}"));
        }
        std::fs::write(&other, text).unwrap();
        let (code, errors) = run(name(&other), name(&signed.file));
        assert!(code == 2 && errors.contains(why), "{errors}");
    }
    let mut changed = std::fs::read(&signed.file).unwrap();
    // a letter inside a word, so that what is changed is still JSON
    let word = |there: &[u8]| there.iter().all(u8::is_ascii_lowercase);
    let half = changed.len() / 2;
    let middle = half + changed[half..].windows(5).position(word).unwrap() + 2;
    changed[middle] ^= 1;
    std::fs::write(&signed.file, changed).unwrap();
    let (code, errors) = run(name(&signed.job), name(&signed.file));
    assert!(code == 2 && errors.contains("do not rely on it"), "{errors}");
    assert!(signed.world.journals().is_empty(), "no run was opened");
}
