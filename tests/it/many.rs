//! An archive of very many records is listed and searched in as little memory as one of a few.

use std::process::Stdio;

use coreproof::evidence::archive::Archive;
use rusqlite::Connection;

use crate::world::{World, text};

/// As many as a large firm has after some years; in the debug build a fifth of them shows the same.
const RECORDS: u64 = if cfg!(feature = "long") { 100_000 } else { 20_000 };

/// What a command may write to, in kilobytes (`ulimit -d`): the rows of the smaller archive alone would take more.
const KILOBYTES: u64 = 24_000;

/// An archive whose rows are invented: neither list nor search opens the records themselves.
fn world() -> World {
    let world = World::new();
    drop(Archive::open(&world.path("archive.sqlite")).unwrap());
    let shell = Connection::open(world.path("archive.sqlite")).unwrap();
    let place = "Saltmarsh Sailing Club, boathouse, ".repeat(20);
    shell
        .execute(
            "WITH RECURSIVE n(n) AS (SELECT 0 UNION ALL SELECT n + 1 FROM n WHERE n + 1 < ?1)
             INSERT INTO records SELECT
                 printf('%08x-0000-7000-8000-%012x', n * 31 % 99991, n), printf('2026-11-%02dT08:00:00Z', 1 + n % 28),
                 '2026-11-28T09:40:00Z', ?2 || n, 'thermostat', 'Morgan Teal', 'pass', 'completed', 'first', 'SHA256:invented',
                 printf('%064x', n), 'ssh-ed25519 invented', 'invented', x'00' FROM n",
            (RECORDS, place),
        )
        .unwrap();
    world
}

#[test]
fn many_records_are_listed_and_found_in_little_memory() {
    let world = world();
    let run = |args: &[&str]| {
        let limit = format!("ulimit -d {KILOBYTES} && exec \"$@\"");
        let mut command = world.command_of("/bin/sh", &["-c", &limit, "sh", env!("CARGO_BIN_EXE_coreproof")]);
        let output = command.args(args).stdin(Stdio::null()).output().unwrap();
        assert_eq!(output.status.code(), Some(0), "{args:?}: {}", text(&output.stderr));
        text(&output.stdout)
    };
    let listed = run(&["records", "list"]);
    assert_eq!(listed.matches("pass, completed").count() as u64, RECORDS);
    let json: serde_json::Value = serde_json::from_str(&run(&["records", "list", "--json"])).unwrap();
    assert_eq!(json.as_array().unwrap().len() as u64, RECORDS);
    let csv = run(&["records", "find", "--csv", "--place", "boathouse"]);
    assert_eq!(csv.lines().count() as u64, RECORDS + 1);
    let one = run(&["records", "find", "--place", "boathouse, 777"]);
    assert!(one.contains("records found"), "{one}");
}
