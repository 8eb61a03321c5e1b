//! Records found by what is in them, and all of them handed over as one file.

use coreproof::evidence::keys::SigningKey;

use crate::world::{World, repo, text};

const RECORDS: [&str; 3] = ["stat-cable-passed", "zone-valve-failed", "stat-cable-abandoned"];

/// A world that took in three records of before.
fn world() -> World {
    let world = World::new();
    trust(&world);
    for name in RECORDS {
        let file = format!("fixtures/records/0.1/{name}.jsonl");
        let imported = world.run(&["records", "import", &file]);
        assert!(imported.status.code() < Some(2), "{}", text(&imported.stderr));
    }
    world
}

fn trust(world: &World) {
    let key = repo("fixtures/records/0.1/key.pub");
    let trusted = world.run(&["key", "trust", key.to_str().unwrap(), "--as", "Morgan Teal"]);
    assert_eq!(trusted.status.code(), Some(0), "{}", text(&trusted.stderr));
}

#[track_caller]
fn said(world: &World, args: &[&str], code: i32) -> String {
    let output = world.run(args);
    let seen = text(&output.stdout) + &text(&output.stderr);
    assert_eq!(output.status.code(), Some(code), "{args:?}: {seen}");
    seen
}

#[track_caller]
fn finds(world: &World, args: &[&str], expected: usize) {
    let args = [&["records", "find", "--json"][..], args].concat();
    let found: serde_json::Value = serde_json::from_str(&said(world, &args, i32::from(expected == 0))).unwrap();
    assert_eq!(found.as_array().unwrap().len(), expected, "{args:?}");
}

#[test]
fn records_are_found_by_each_part_and_by_all_of_them() {
    let world = world();
    finds(&world, &[], 3);
    finds(&world, &["--verdict", "pass"], 1);
    finds(&world, &["--verdict", "fail"], 1);
    finds(&world, &["--verdict", "not tested"], 1);
    finds(&world, &["--place", "SALTMARSH"], 3);
    finds(&world, &["--place", "nowhere"], 0);
    finds(&world, &["--engineer", "teal", "--cable", "thermostat"], 2);
    finds(&world, &["--from", "2026-11-01", "--to", "2026-12-31"], 3);
    finds(&world, &["--to", "2026-11-01"], 0);
    finds(&world, &["--from", "2027-01-01"], 0);
    finds(&world, &["--instrument", "tester", "--verdict", "pass"], 1);
    finds(&world, &["--instrument", "no such"], 0);
    let refused = said(&world, &["records", "find", "--verdict", "good"], 2);
    assert!(refused.contains("invalid value 'good'"), "{refused}");
}

#[test]
fn the_json_is_as_its_schema_says_and_the_csv_holds_the_same() {
    let schema = std::fs::read_to_string(repo("fixtures/schema/records.schema.json")).unwrap();
    let schema = jsonschema::validator_for(&serde_json::from_str(&schema).unwrap()).unwrap();
    let world = world();
    let json = said(&world, &["records", "find", "--json"], 0);
    let value: serde_json::Value = serde_json::from_str(&json).unwrap();
    assert!(schema.is_valid(&value), "{json}");
    let listed: serde_json::Value = serde_json::from_str(&said(&world, &["records", "list", "--json"], 0)).unwrap();
    assert_eq!(listed, value);
    let mut other = value.clone();
    other[0]["verdict"] = "good".into();
    assert!(!schema.is_valid(&other), "a schema that nothing fails is none");
    let csv = said(&world, &["records", "find", "--csv"], 0);
    let mut reader = csv::Reader::from_reader(csv.as_bytes());
    let rows: Vec<std::collections::BTreeMap<String, String>> = reader.deserialize().collect::<Result<_, _>>().unwrap();
    assert_eq!(serde_json::to_value(rows).unwrap(), value);
}

#[test]
fn instruments_are_listed_with_what_is_due() {
    let world = world();
    let all: serde_json::Value = serde_json::from_str(&said(&world, &["records", "instruments", "--json"], 0)).unwrap();
    let due = all[0]["due"].as_str().unwrap().to_owned();
    assert!(
        all.as_array().unwrap().iter().any(|seen| seen["name"] == "tester"),
        "{all}"
    );
    let by = said(&world, &["records", "instruments", "--json", "--due-by", &due], 0);
    assert!(by.contains(&due), "{by}");
    let none = said(&world, &["records", "instruments", "--due-by", "2020-01-01"], 0);
    assert_eq!(none, "no instrument to show\n");
}

#[test]
fn all_records_go_over_as_one_file_and_a_second_time_change_nothing() {
    let from = world();
    let file = from.path("all.sqlite");
    let file = file.to_str().unwrap();
    assert!(said(&from, &["records", "export", "--all", "-o", file], 0).starts_with("3 records with their log are in"));
    said(&from, &["records", "export", "--all", "-o", file], 3);
    let to = World::new();
    trust(&to);
    assert!(said(&to, &["records", "import", file], 0).ends_with("3 stored, 0 already there, 0 not taken\n"));
    assert!(said(&to, &["records", "import", file], 0).ends_with("0 stored, 3 already there, 0 not taken\n"));
    assert_eq!(said(&to, &["records", "list"], 0), said(&from, &["records", "list"], 0));
    said(&to, &["audit"], 0);
    // whom nobody trusts is not taken in
    let stranger = World::new();
    let seen = said(&stranger, &["records", "import", file], 1);
    assert!(seen.contains("0 stored, 0 already there, 3 not taken"), "{seen}");
}

#[test]
fn a_record_of_a_known_run_with_another_signature_is_a_conflict_that_is_named() {
    let from = world();
    let file = from.path("all.sqlite");
    said(&from, &["records", "export", "--all", "-o", file.to_str().unwrap()], 0);
    // the same run, signed by another who is trusted as well
    let to = World::new();
    let record = std::fs::read(repo("fixtures/records/0.1/stat-cable-passed.jsonl")).unwrap();
    let other = SigningKey::throw_away();
    let (path, list) = (to.path("record.jsonl"), to.path("trusted"));
    std::fs::write(&path, &record).unwrap();
    std::fs::write(to.path("record.jsonl.sig"), other.sign(&record)).unwrap();
    coreproof::evidence::keys::Trust::add(&list, "Morgan Teal", &other.public()).unwrap();
    said(&to, &["records", "import", path.to_str().unwrap()], 0);
    std::fs::remove_file(&list).unwrap();
    trust(&to);
    let seen = said(&to, &["records", "import", file.to_str().unwrap()], 1);
    assert!(seen.contains("2 stored, 0 already there, 1 not taken"), "{seen}");
    assert!(seen.contains("is already in"), "{seen}");
}
