//! Rehearsals from the shipped binary: each fault fails one step, and what is left behind holds.

use crate::world::{World, text};

/// Each fault and the one step that must fail.
const FAULTS: &[(&str, &str)] = &[
    ("core-open", "continuity/black"),
    ("cores-swapped", "continuity/black/with"),
    ("insulation-low", "insulation/black"),
    ("end-switch-open", "end-switch-on"),
    ("end-switch-closed", "end-switch-off"),
    ("neutral-missing", "supply"),
    ("supply-still-live", "dead-near/earth-line"),
    ("high-resistance-joint", "continuity/black"),
    ("insulation-low-between-cores", "insulation/brown"),
    ("indicator-dead", "earth-near"),
];

#[test]
fn each_fault_fails_its_step_and_no_other() {
    for (fault, step) in FAULTS {
        let output = World::new().run(&["rehearse", "--fault", fault]);
        assert_eq!(output.status.code(), Some(1), "{fault}: {}", text(&output.stderr));
        let failed: Vec<_> = text(&output.stdout)
            .lines()
            .filter_map(|line| line.strip_prefix("FAIL       "))
            .map(|rest| rest.split_whitespace().next().unwrap().to_owned())
            .collect();
        assert_eq!(failed, [*step], "{fault}");
    }
}

#[test]
fn an_unknown_fault_leads_to_the_list_of_those_that_fit_the_job() {
    let world = World::new();
    let unknown = world.run(&["rehearse", "--fault", "gremlin"]);
    assert_eq!(unknown.status.code(), Some(2));
    assert_eq!(
        text(&unknown.stderr),
        "error: no fault is called `gremlin`\n next: name one that `coreproof rehearse --fault list` shows; two at once with `+` \
         between them\n"
    );
    let listed = |sequence| {
        let output = world.run(&["rehearse", sequence, "--fault", "list"]);
        assert_eq!((output.status.code(), text(&output.stderr)), (Some(0), String::new()));
        let names = text(&output.stdout);
        let names = names.lines().map(|line| line.split("  ").next().unwrap().to_owned());
        names.collect::<Vec<String>>()
    };
    let (cable, floor) = (listed("stat-cable"), listed("underfloor-zones"));
    for (name, expected) in [
        ("neutral-missing", (true, true)),
        ("actuators-crossed", (false, true)),
        ("list", (false, false)),
    ] {
        let there = |names: &[String]| {
            names
                .iter()
                .any(|one| one == name || one.starts_with(&format!("{name}:")))
        };
        assert_eq!((there(&cable), there(&floor)), expected, "{name}");
    }
    // what is listed is what can be put in
    let last = cable.last().unwrap();
    assert_eq!(
        world.run(&["rehearse", "--fault", last]).status.code(),
        Some(1),
        "{last}"
    );
}

#[test]
fn a_healthy_rehearsal_passes_and_is_marked_as_one() {
    let world = World::new();
    let out = world.path("out");
    let out = out.to_str().unwrap();
    let output = world.run(&["rehearse", "--out", out]);
    assert_eq!(
        output.status.code(),
        Some(0),
        "{}{}",
        text(&output.stdout),
        text(&output.stderr)
    );
    let record = std::fs::read_to_string(format!("{out}/record.jsonl")).unwrap();
    assert!(record.lines().next().unwrap().contains("\"rehearsal\":{\"seed\":1}"));
    assert!(
        !world.path("archive.sqlite").exists(),
        "a rehearsal never comes near the archive"
    );

    // nobody trusts its key; with the key given, it verifies
    let record = format!("{out}/record.jsonl");
    world.pinned("verify-rehearsal-untrusted", &["verify", &record]);
    let key = format!("{out}/signer.pub");
    // a rehearsal is never taken for a proof
    world.pinned("verify-rehearsal", &["verify", &record, "--key", &key]);
    assert_eq!(
        world.run(&["key", "trust", &key, "--as", "Nobody"]).status.code(),
        Some(0)
    );
    world.pinned("records-import-rehearsal", &["records", "import", &record]);
    // a second rehearsal into the same folder overwrites nothing
    let again = world.run(&["rehearse", "--out", out]);
    assert_eq!(again.status.code(), Some(2), "{}", text(&again.stderr));
}

#[test]
fn the_same_seed_gives_the_same_readings() {
    let readings = |seed: &str| {
        let output = World::new().run(&["rehearse", "--seed", seed]);
        assert_eq!(output.status.code(), Some(0));
        // beside each load's voltage stands when it was read
        let times = regex::Regex::new(r"\d\d:\d\d:\d\d UTC").unwrap();
        times.replace_all(&text(&output.stdout), "then").into_owned()
    };
    assert_eq!(readings("7"), readings("7"));
    assert_ne!(readings("7"), readings("8"));
}

#[cfg(feature = "certificate")]
#[test]
fn a_changed_certificate_is_refused() {
    let world = World::new();
    let out = world.path("out");
    let out = out.to_str().unwrap();
    assert_eq!(
        world
            .run(&["rehearse", "--fault", "insulation-low", "--out", out])
            .status
            .code(),
        Some(1)
    );
    let (pdf, key) = (format!("{out}/certificate.pdf"), format!("{out}/signer.pub"));
    let verify = || world.run(&["verify", &pdf, "--key", &key]);
    world.pinned("verify-certificate-of-a-rehearsal", &["verify", &pdf, "--key", &key]);

    let whole = std::fs::read(&pdf).unwrap();
    for part in 1..6 {
        let mut edited = whole.clone();
        let at = whole.len() * part / 6;
        edited[at] = edited[at].wrapping_add(1);
        std::fs::write(&pdf, &edited).unwrap();
        let refused = verify();
        assert_eq!(refused.status.code(), Some(2), "byte {at}: {}", text(&refused.stdout));
        assert!(text(&refused.stderr).contains("next: "), "{}", text(&refused.stderr));
    }
    // the attachment goes by another name
    let renamed: Vec<u8> = replaced(&whole, b"record.jsonl", b"rec0rd.jsonl");
    std::fs::write(&pdf, &renamed).unwrap();
    let refused = verify();
    assert_eq!(refused.status.code(), Some(2));
    assert!(
        text(&refused.stderr).contains("it has an attachment of another name"),
        "{}",
        text(&refused.stderr)
    );
    std::fs::write(&pdf, b"%PDF-1.7\nnothing\n").unwrap();
    assert_eq!(verify().status.code(), Some(2));
}

#[cfg(feature = "certificate")]
fn replaced(bytes: &[u8], from: &[u8], to: &[u8]) -> Vec<u8> {
    let mut out = Vec::with_capacity(bytes.len());
    let mut rest = bytes;
    while let Some(at) = rest.windows(from.len()).position(|w| w == from) {
        out.extend_from_slice(&rest[..at]);
        out.extend_from_slice(to);
        rest = &rest[at + from.len()..];
    }
    out.extend_from_slice(rest);
    out
}
