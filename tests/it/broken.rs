//! Runs broken off: killed, torn, out of order, in use.

use std::io::Write;

use crate::world::{World, text};

/// The steps that have a verdict on disk.
fn judged(journal: &[u8]) -> usize {
    text(journal).lines().filter(|line| line.contains("\"judged\"")).count()
}

#[test]
fn killed_at_any_step_the_run_goes_on_with_all_that_was_acknowledged() {
    let world = World::with_key();
    let mut walk = world.walk(&[]);
    assert!(walk.to("continuity/black"));
    walk.kill();
    let before = std::fs::read(&world.journals()[0]).unwrap();

    let mut walk = world.talk(&["resume"]);
    assert!(walk.to("dead-far/earth-line"), "isolation is proved again first");
    walk.kill();
    let after = std::fs::read(&world.journals()[0]).unwrap();
    assert!(after.starts_with(&before), "nothing that was on disk has changed");
    assert!(judged(&before) < judged(&after));

    let mut walk = world.talk(&["resume"]);
    assert!(!walk.to("nowhere"));
    let (code, seen, errors) = walk.finish();
    assert_eq!(code, 0, "{seen}\n{errors}");
    assert!(
        !seen.contains("  continuity/brown\n"),
        "what was proved before the break and not touched stands"
    );
    assert!(
        seen.contains("nothing else is linked"),
        "the link that stood in the break is looked at"
    );
    assert_eq!(world.run(&["audit"]).status.code(), Some(0));
}

#[test]
fn a_torn_last_line_is_dropped_and_said_so() {
    let world = World::with_key();
    let mut walk = world.walk(&[]);
    assert!(walk.to("notice"));
    walk.kill();
    let path = &world.journals()[0];
    let whole = std::fs::read(path).unwrap();
    std::fs::OpenOptions::new()
        .append(true)
        .open(path)
        .unwrap()
        .write_all(b"{\"n\":9,\"prev\":\"00")
        .unwrap();
    let mut walk = world.talk(&["resume"]);
    assert_eq!(walk.question().as_deref(), Some("resumed"));
    assert!(
        walk.seen.contains("17 bytes of an unfinished last line were dropped"),
        "{}",
        walk.seen
    );
    walk.answer("none");
    assert_eq!(walk.question().as_deref(), Some("switch-off"));
    walk.kill();
    let resumed = text(&std::fs::read(path).unwrap());
    assert!(resumed.starts_with(&text(&whole)));
    assert!(resumed.contains("\"torn_bytes\":17"), "{resumed}");
}

#[test]
fn a_damaged_journal_is_refused_and_left_alone() {
    let world = World::with_key();
    let mut walk = world.walk(&[]);
    assert!(walk.to("keep-key"));
    walk.kill();
    let path = &world.journals()[0];
    let whole = text(&std::fs::read(path).unwrap());
    let damaged = whole.replacen("\"step\":\"switch-off\"", "\"step\":\"switch-odd\"", 1);
    std::fs::write(path, &damaged).unwrap();
    let resumed = world.run(&["resume"]);
    assert_eq!(resumed.status.code(), Some(2));
    assert!(text(&resumed.stderr).contains("line 7"), "{}", text(&resumed.stderr));
    assert_eq!(text(&std::fs::read(path).unwrap()), damaged);

    let newer = whole.replacen("\"format\":\"1.1\"", "\"format\":\"2.0\"", 1);
    std::fs::write(path, &newer).unwrap();
    let resumed = world.run(&["resume"]);
    assert_eq!(resumed.status.code(), Some(2));
    assert!(
        text(&resumed.stderr).contains("use a newer coreproof"),
        "{}",
        text(&resumed.stderr)
    );
}

#[test]
fn a_run_held_by_another_process_is_in_use() {
    let world = World::with_key();
    let mut walk = world.walk(&[]);
    walk.question();
    let resumed = world.run(&["resume"]);
    assert_eq!(resumed.status.code(), Some(3), "{}", text(&resumed.stderr));
    assert!(text(&resumed.stderr).contains("in use"), "{}", text(&resumed.stderr));
    walk.kill();
}

#[test]
fn an_archive_held_by_another_process_is_in_use_and_the_run_is_kept() {
    let world = World::with_key();
    assert_eq!(world.run(&["records", "list"]).status.code(), Some(0));
    let lock = rusqlite::Connection::open(world.path("archive.sqlite")).unwrap();
    lock.execute_batch("BEGIN EXCLUSIVE").unwrap();
    let mut walk = world.walk(&[]);
    walk.question();
    walk.answer("abandon");
    walk.question();
    walk.answer("flood");
    let (code, _, errors) = walk.finish();
    assert_eq!(code, 3, "{errors}");
    assert!(errors.contains("is in use by another process"), "{errors}");
    assert_eq!(world.journals().len(), 1);
    lock.execute_batch("ROLLBACK").unwrap();
    let resumed = world.typed(&["resume"], &format!("{}\n", crate::world::PASSPHRASE));
    assert_eq!(resumed.status.code(), Some(1), "{}", text(&resumed.stderr));
}

#[test]
fn the_end_of_the_input_interrupts() {
    let world = World::with_key();
    let output = world.typed(
        &["run", "sequences/stat-cable.ron", "--job", "fixtures/saltmarsh.ron"],
        "done\n",
    );
    assert_eq!(output.status.code(), Some(130));
    assert!(
        text(&output.stderr).contains("next: coreproof resume"),
        "{}",
        text(&output.stderr)
    );
}

#[test]
fn a_key_that_others_can_read_is_refused() {
    use std::os::unix::fs::PermissionsExt;
    let world = World::with_key();
    std::fs::set_permissions(world.path("keys/engineer"), std::fs::Permissions::from_mode(0o644)).unwrap();
    let output = world.run(&["run", "sequences/stat-cable.ron", "--job", "fixtures/saltmarsh.ron"]);
    assert_eq!(output.status.code(), Some(2));
    assert!(text(&output.stderr).contains("chmod 600"), "{}", text(&output.stderr));
}

#[test]
fn a_port_that_is_not_there_is_equipment() {
    let world = World::with_key();
    let args = [
        "run",
        "sequences/stat-cable.ron",
        "--job",
        "fixtures/saltmarsh.ron",
        "--meter",
    ];
    let with = |meter: &str| world.run(&[&args[..], &[meter]].concat());
    let output = with("/dev/ttyNONE,line-stream");
    assert_eq!(output.status.code(), Some(3), "{}", text(&output.stderr));
    assert!(
        text(&output.stderr).contains("there is no port `/dev/ttyNONE`"),
        "{}",
        text(&output.stderr)
    );
    let output = with("/dev/ttyNONE,carrier-pigeon");
    assert_eq!(output.status.code(), Some(2));
    assert!(text(&output.stderr).contains("line-stream"), "{}", text(&output.stderr));
    let output = with("/dev/ttyNONE");
    assert_eq!(output.status.code(), Some(2));
    assert!(
        text(&output.stderr).contains("names no profile"),
        "{}",
        text(&output.stderr)
    );
    assert!(world.journals().is_empty(), "a run that could not begin leaves nothing");
}

#[test]
fn a_file_in_which_nothing_was_recorded_is_no_unfinished_run() {
    let world = World::with_key();
    let runs = world.path("runs");
    let put = |name: &str, content: &[u8]| {
        std::fs::create_dir_all(&runs).unwrap();
        std::fs::write(runs.join(format!("{name}.jsonl")), content).unwrap();
    };
    let said = |args: &[&str]| {
        let output = world.run(args);
        assert_eq!(output.status.code(), Some(2), "{args:?}");
        text(&output.stderr).replace(world.home.path().to_str().unwrap(), "")
    };
    put("empty", b"");
    put("filled", &[0; 300]);
    put("torn", b"{\"n\":0,\"prev\":\"000");
    let files = "delete `/runs/empty.jsonl`, `/runs/filled.jsonl`, `/runs/torn.jsonl`, in which nothing was recorded: no run began there\n";
    assert_eq!(
        said(&["resume"]),
        format!("error: no run is unfinished\n next: begin one with `coreproof run`; {files}")
    );
    assert_eq!(
        said(&["resume", "torn"]),
        format!("error: no unfinished run is called `torn`\n next: {files}")
    );
    // one that was begun is found beside them
    let begin = || {
        let mut walk = world.walk(&["--new"]);
        assert!(walk.question().is_some());
        walk.kill();
    };
    begin();
    let mut walk = world.talk(&["resume"]);
    assert_eq!(walk.question().as_deref(), Some("resumed"));
    walk.kill();
    begin();
    let several = said(&["resume"]);
    assert!(
        several.contains("error: 2 runs are unfinished\n next: name one: coreproof resume "),
        "{several}"
    );
    assert!(several.ends_with(&format!("; {files}")), "{several}");
}
