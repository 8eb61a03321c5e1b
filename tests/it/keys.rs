//! Keys over the years: another passphrase, dates, retirement, a second signature.

use coreproof::evidence::keys::{SigningKey, Trust};
use coreproof::evidence::log::Heads;
use coreproof::evidence::seal::store;

use crate::world::{PASSPHRASE, World, repo, text};

/// A world whose own key sealed one record of before; the run's id.
fn sealed() -> (World, String) {
    let world = World::with_key();
    let journal = world.path("journal.jsonl");
    std::fs::copy(repo("fixtures/records/0.1/stat-cable-passed.jsonl"), &journal).unwrap();
    let key = coreproof::evidence::keys::load(&world.path("keys"))
        .unwrap()
        .unlock(PASSPHRASE)
        .unwrap();
    let heads = Heads::of(world.path("checkpoints"));
    let stored = store(&journal, &world.path("archive.sqlite"), &heads, &key).unwrap();
    (world, stored.summary.run.to_string())
}

#[track_caller]
fn said(world: &World, args: &[&str], lines: &str, code: i32) -> String {
    let output = world.typed(args, lines);
    let seen = text(&output.stdout) + &text(&output.stderr);
    assert_eq!(output.status.code(), Some(code), "{args:?}: {seen}");
    seen
}

#[test]
fn a_new_passphrase_opens_the_key_and_the_old_one_no_longer_does() {
    let world = World::with_key();
    let before = std::fs::read(world.path("keys/engineer.pub")).unwrap();
    let seen = said(&world, &["key", "passphrase"], &format!("{PASSPHRASE}\nx\nx\n"), 0);
    assert!(seen.contains("a passphrase of 1 character is soon guessed"), "{seen}");
    assert_eq!(std::fs::read(world.path("keys/engineer.pub")).unwrap(), before);
    let key = coreproof::evidence::keys::load(&world.path("keys")).unwrap();
    assert!(key.unlock(PASSPHRASE).is_err());
    assert!(key.unlock("x").is_ok());
    let wrong = said(&world, &["key", "passphrase"], "y\n", 2);
    assert!(wrong.contains("error: "), "{wrong}");
    let differ = said(&world, &["key", "passphrase"], "x\none\nother\n", 2);
    assert!(differ.contains("the two passphrases differ"), "{differ}");
    assert!(key.unlock("x").is_ok(), "nothing was changed");
}

#[test]
fn a_retired_key_is_believed_for_what_it_signed_before_and_for_nothing_after() {
    let (world, run) = sealed();
    said(&world, &["audit"], "", 0);
    let seen = said(
        &world,
        &["key", "retire", "--from", "2026-11-25"],
        &format!("{PASSPHRASE}\n"),
        0,
    );
    assert!(
        seen.contains("from 2026-11-25T00:00:00Z on; that is signed and in the log"),
        "{seen}"
    );
    said(&world, &["audit"], "", 0);
    let list = std::fs::read_to_string(world.path("trusted")).unwrap();
    assert!(list.contains("valid-before=\"20261124235959Z\""), "{list}");
    let shown = said(&world, &["key", "show"], "", 0);
    assert!(shown.contains("to 2026-11-24T23:59:59Z"), "{shown}");
    // the record was closed on 2026-11-20; retired before that, it counts no more
    said(&world, &["key", "retire", "Morgan Teal", "--from", "2026-11-20"], "", 0);
    let seen = said(&world, &["audit", "--json"], "", 1);
    assert!(seen.contains(&run) && seen.contains("was not valid"), "{seen}");
    let unknown = said(&world, &["key", "retire", "Robin Sedge", "--from", "2026-11-20"], "", 2);
    assert!(
        unknown.contains("no key is trusted under the name `Robin Sedge`"),
        "{unknown}"
    );
    let no_date = said(&world, &["key", "retire", "Morgan Teal", "--from", "soon"], "", 2);
    assert!(no_date.contains("error: `soon` is no date"), "{no_date}");
}

#[test]
fn a_retirement_put_into_the_log_by_another_key_is_found() {
    let (world, _) = sealed();
    said(
        &world,
        &["key", "retire", "--from", "2026-11-25"],
        &format!("{PASSPHRASE}\n"),
        0,
    );
    let shell = rusqlite::Connection::open(world.path("archive.sqlite")).unwrap();
    let signature = SigningKey::throw_away().sign(b"coreproof retirement 1\n");
    shell
        .execute_batch(&format!(
            "DROP TRIGGER leaves_are_not_changed; UPDATE leaves SET signature = '{signature}' WHERE kind = 'retirement'"
        ))
        .unwrap();
    let seen = said(&world, &["audit", "--json"], "", 1);
    assert!(
        seen.contains("leaf 1 is not that of the retirement beside it"),
        "{seen}"
    );
}

#[test]
fn a_key_is_trusted_between_two_days_and_look_alikes_are_warned_of() {
    let world = World::new();
    let key = SigningKey::throw_away();
    let file = world.path("signer.pub");
    std::fs::write(&file, key.public().openssh_line()).unwrap();
    let file = file.to_str().unwrap();
    let trust = ["key", "trust", file, "--as", "Morgan Teal"];
    said(
        &world,
        &[&trust[..], &["--from", "2026-11-01", "--until", "2026-12-01"]].concat(),
        "",
        0,
    );
    let list = Trust::read(&world.path("trusted")).unwrap();
    let name = |at: &str| list.name_of(&key.public(), at.parse().unwrap());
    assert_eq!(name("2026-10-31T23:59:59Z"), None);
    assert_eq!(name("2026-11-01T00:00:00Z"), Some("Morgan Teal"));
    assert_eq!(name("2026-11-30T23:59:59Z"), Some("Morgan Teal"));
    assert_eq!(name("2026-12-01T00:00:00Z"), None);
    let other = world.path("other.pub");
    std::fs::write(&other, SigningKey::throw_away().public().openssh_line()).unwrap();
    let alike = ["key", "trust", other.to_str().unwrap(), "--as", "M\u{43e}rgan Teal"];
    let seen = said(&world, &alike, "", 0);
    assert!(
        seen.contains("looks like `Morgan Teal`, which is another in the trusted list"),
        "{seen}"
    );
    let never = [&trust[..], &["--from", "2026-12-01", "--until", "2026-11-01"]].concat();
    assert!(said(&world, &never, "", 2).contains("the key would be believed at no time"));
}

#[test]
fn a_second_signature_stands_beside_the_first_and_changes_nothing() {
    let (world, run) = sealed();
    let own = said(&world, &["records", "countersign", &run], &format!("{PASSPHRASE}\n"), 2);
    assert!(own.contains("is already signed by SHA256:"), "{own}");
    let out = world.path("out");
    said(&world, &["records", "export", &run, "-o", out.to_str().unwrap()], "", 0);
    let record = std::fs::read(out.join("record.jsonl")).unwrap();
    let client = SigningKey::throw_away();
    let signature = world.path("client.sig");
    std::fs::write(&signature, client.sign(&record)).unwrap();
    let countersign = [
        "records",
        "countersign",
        &run,
        "--signature",
        signature.to_str().unwrap(),
    ];
    let seen = said(&world, &countersign, "", 0);
    assert!(
        seen.contains(&format!("is signed by {} as well", client.public().fingerprint())),
        "{seen}"
    );
    assert!(said(&world, &countersign, "", 2).contains("is already signed by"));
    said(&world, &["audit"], "", 0);
    let shown = said(&world, &["records", "show", &run], "", 0);
    assert!(
        shown.contains("Signed as well by somebody who is not trusted here, SHA256:"),
        "{shown}"
    );
    // over another record it is none
    std::fs::write(&signature, SigningKey::throw_away().sign(b"another")).unwrap();
    assert!(said(&world, &countersign, "", 2).contains("the signature does not fit these bytes"));
    let again = world.path("again");
    said(
        &world,
        &["records", "export", &run, "-o", again.to_str().unwrap()],
        "",
        0,
    );
    assert_eq!(std::fs::read(again.join("record.jsonl")).unwrap(), record);
}
