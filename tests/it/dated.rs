//! What a date or a version's name may change, and what it may not.

use crate::forged::Forged;
use crate::world::{World, repo, text};

#[test]
fn resume_warns_of_calibration_and_lets_the_run_be_made_safe_abandoned_and_sealed() {
    let world = World::with_key();
    let job = std::fs::read_to_string(repo("fixtures/saltmarsh.ron")).unwrap();
    let path = world.path("overdue.ron");
    std::fs::write(&path, job.replace("due: \"2027-06-02\"", "due: \"2026-06-03\"")).unwrap();
    let reason = "no other tester this side of the estuary";
    let args = [
        "run",
        "sequences/stat-cable.ron",
        "--job",
        path.to_str().unwrap(),
        "--overdue",
        reason,
    ];
    assert_eq!(world.run(&args).status.code(), Some(130));
    // the same as of a run that began before the date: no reason is in it
    let journal = &world.journals()[0];
    let mut begun = Forged::of(&std::fs::read_to_string(journal).unwrap());
    let opened = &mut begun.0[0].1;
    let (from, to) = (opened.find(",\"departures\":[").unwrap(), opened.rfind("]}}").unwrap());
    opened.replace_range(from..=to, "");
    std::fs::write(journal, begun.bytes()).unwrap();
    let mut walk = world.talk(&["resume"]);
    walk.until("note: the calibration of `tester` (serial SM-2290) was due on 2026-06-03");
    walk.question();
    walk.answer("abandon");
    walk.question();
    walk.answer("checked");
    let (code, seen, errors) = walk.finish();
    assert_eq!(code, 1, "{errors}");
    assert!(seen.contains("Sealed as "), "{seen}");
    assert!(world.journals().is_empty());
    let audit = world.run(&["audit", "--json"]);
    assert_eq!(audit.status.code(), Some(1));
    assert!(
        text(&audit.stdout).contains("and the record gives no reason"),
        "{}",
        text(&audit.stdout)
    );
}

#[cfg(feature = "certificate")]
#[test]
fn changed_pages_are_not_excused_by_the_name_of_another_version() {
    let world = World::new();
    let out = world.path("out");
    let rehearsed = world.run(&["rehearse", "--out", out.to_str().unwrap()]);
    assert_eq!(rehearsed.status.code(), Some(0));
    let pdf = std::fs::read(out.join("certificate.pdf")).unwrap();
    let key = out.join("signer.pub");
    let ours = concat!("coreproof ", env!("CARGO_PKG_VERSION"));
    for (theirs, code, what) in [
        (ours, 1, "exactly what this record renders to"),
        ("coreproof 0.1.0", 2, "they were changed"),
        ("coreproof x.y.z", 2, "they were changed"),
        // what a later version makes of it nobody can know here; it is no proof either
        (
            "coreproof 9.9.9",
            1,
            "pages not proved by this version: check them with coreproof 9.9.9",
        ),
    ] {
        assert_eq!(theirs.len(), ours.len(), "no place in the file moves");
        let mut changed = pdf.clone();
        for at in 0..changed.len() - ours.len() {
            if changed[at..].starts_with(ours.as_bytes()) {
                changed[at..at + ours.len()].copy_from_slice(theirs.as_bytes());
            }
        }
        assert_eq!(changed == pdf, theirs == ours);
        let file = world.path("certificate.pdf");
        std::fs::write(&file, changed).unwrap();
        let verified = world.run(&["verify", file.to_str().unwrap(), "--key", key.to_str().unwrap()]);
        let seen = text(&verified.stdout) + &text(&verified.stderr);
        assert_eq!(verified.status.code(), Some(code), "{theirs}: {seen}");
        assert!(seen.contains(what), "{theirs}: {seen}");
    }
}
