//! What each command ordinarily says, whole.

use crate::world::{World, repo, text};

const JOB: &str = "fixtures/saltmarsh.ron";
const SEQUENCE: &str = "sequences/stat-cable.ron";

/// A shipped file with edits, in the world's own folder; its path.
fn edited(world: &World, file: &str, edits: &[(&str, &str)]) -> String {
    let mut content = std::fs::read_to_string(repo(file)).unwrap();
    for (from, to) in edits {
        assert!(content.contains(from), "`{from}` is not in {file}");
        content = content.replacen(from, to, 1);
    }
    let path = world.path("edited.ron");
    std::fs::write(&path, content).unwrap();
    path.display().to_string()
}

#[test]
fn help() {
    World::new().pinned("help", &["--help"]);
}

#[test]
fn check() {
    let world = World::new();
    world.pinned("check", &["check", SEQUENCE, JOB]);
    world.pinned("check-no-file", &["check", "no-such.ron"]);
    let wrong = [
        ("\"18 m\"", "\"18 V\""),
        ("near: \"2\"", "near: \"9\""),
        ("2018+A2:2022", "2031"),
    ];
    world.pinned("check-wrong-job", &["check", &edited(&world, JOB, &wrong)]);
    // what is locked off by nobody, and a core that goes into a terminal while it is linked
    let isolate = std::fs::read_to_string(repo("sequences/parts/isolate.ron")).unwrap();
    std::fs::create_dir(world.path("parts")).unwrap();
    let path = world.path("parts/isolate.ron");
    std::fs::write(path, isolate.replacen("act: LockOff", "act: KeepKey", 1)).unwrap();
    world.pinned("check-out-of-order", &["check", &edited(&world, SEQUENCE, &[]), JOB]);
}

#[test]
fn plan() {
    World::new().pinned("plan", &["plan", SEQUENCE, "--job", JOB]);
}

#[test]
fn limits() {
    let world = World::new();
    world.pinned("limits", &["limits"]);
    world.pinned("limits-of-a-table", &["limits", "insulation", "minimum"]);
    world.pinned("limits-of-a-figure", &["limits", "1.37"]);
    world.pinned("limits-of-a-device", &["limits", "BS 1362 3 A"]);
    world.pinned("limits-in-words", &["limits", "core colours"]);
    world.pinned("limits-compared", &["limits", "--compare", "2018", "2018+A2:2022"]);
    let unseen = ["limits", "--compare", "2018+A2:2022", "2018+A4:2026"];
    world.pinned("limits-compared-unseen", &unseen);
    world.pinned("limits-compared-unknown", &["limits", "--compare", "2008", "1066"]);
    world.pinned("limits-unknown", &["limits", "purple elephants"]);
}

#[test]
fn coverage() {
    let args = ["coverage", "extra-low-pair", "--job", "changing-rooms-pair"];
    World::new().pinned("coverage", &args);
}

#[test]
fn locate() {
    let world = World::new();
    let path = world.path("readings.txt");
    let args = ["locate", "--readings", path.to_str().unwrap()];
    std::fs::write(&path, "continuity/brown: 0.66\ncontinuity/grey: OL\n").unwrap();
    world.pinned("locate", &args);
    std::fs::write(&path, "continuity/brown: 0.66\n").unwrap();
    world.pinned("locate-nothing-wrong", &args);
    std::fs::write(&path, "continuity/pink: OL\n").unwrap();
    world.pinned("locate-unknown-step", &args);
}

#[test]
fn distance() {
    let world = World::new();
    let broken = ["distance", "--near", "1.2 nF", "--far", "0.8 nF", "--length", "20 m"];
    world.pinned("distance-of-a-break", &broken);
    let touching = [
        "distance", "--near", "0.43 ohm", "--far", "0.29 ohm", "--loop", "0.72 ohm",
    ];
    world.pinned("distance-of-a-contact", &touching);
}

#[test]
fn meter_list() {
    let world = World::new();
    let args = ["meter", "list"];
    let mut output = world.run(&args);
    let said = text(&output.stdout);
    let (_, profiles) = said.split_once("\n\n").unwrap();
    output.stdout = format!("(the ports of this computer)\n\n{profiles}").into_bytes();
    world.pinned_output("meter-list", &args, &output);
}

#[test]
fn keys() {
    let world = World::new();
    world.pinned("key-show-none", &["key", "show"]);
    let new = ["key", "new", "--name", "Morgan Teal"];
    world.pinned_output("key-new", &new, &world.typed(&new, "salt and marsh\nsalt and marsh\n"));
    world.pinned("key-show", &["key", "show"]);
    let public = world.path("keys/engineer.pub");
    world.pinned(
        "key-trust",
        &["key", "trust", public.to_str().unwrap(), "--as", "Morgan Teal"],
    );
}

#[test]
fn rehearse() {
    let world = World::new();
    world.pinned("rehearse", &["rehearse"]);
    world.pinned("rehearse-fault", &["rehearse", "--fault", "neutral-missing"]);
    world.pinned("rehearse-fault-list", &["rehearse", "--fault", "list"]);
}

#[test]
fn identify_plans() {
    let world = World::new();
    world.pinned("identify-plan", &["identify", "--cores", "7", "--plan"]);
    let zones = ["identify", "--zones", "6", "--actuators", "9", "--plan"];
    world.pinned("identify-zones-plan", &zones);
}
