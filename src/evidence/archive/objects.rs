//! What an archive consists of: its tables and the triggers that refuse whatever would change or remove a row, `INSERT OR REPLACE`
//! included.
//!
//! The rule inside: SQLite keeps each text as it was written, so a text here is never touched again; what a later format adds is added.

/// The newest format known (`PRAGMA user_version`).
pub(super) const FORMAT: i64 = 4;
/// The oldest format that is read.
pub(super) const FORMAT_FIRST: i64 = 1;
/// The one that brought the log.
const FORMAT_LOG: i64 = 2;
/// The one that brought time stamps.
const FORMAT_TIMESTAMPS: i64 = 3;

/// A table, index or trigger by its name, and the text that makes it.
pub(super) type Object = (String, String);

const RECORDS: &str = "CREATE TABLE records (
    run TEXT PRIMARY KEY NOT NULL,
    opened_at TEXT NOT NULL,
    closed_at TEXT NOT NULL,
    place TEXT NOT NULL,
    cable TEXT NOT NULL,
    engineer TEXT NOT NULL,
    verdict TEXT NOT NULL CHECK (verdict IN ('pass', 'fail', 'not tested', 'conditional')),
    outcome TEXT NOT NULL CHECK (outcome IN ('completed', 'abandoned')),
    edition TEXT NOT NULL,
    fingerprint TEXT NOT NULL,
    sha256 TEXT NOT NULL UNIQUE,
    public_key TEXT NOT NULL,
    signature TEXT NOT NULL,
    record BLOB NOT NULL
) STRICT, WITHOUT ROWID";

/// The name of the log, one row.
const LOG: &str = "CREATE TABLE log (
    one INTEGER PRIMARY KEY NOT NULL CHECK (one = 1),
    origin TEXT NOT NULL
) STRICT";

/// The leaves in their order; what a record's leaf speaks of stands in `records`, every other statement beside its leaf.
const LEAVES: &str = "CREATE TABLE leaves (
    position INTEGER PRIMARY KEY NOT NULL CHECK (0 <= position),
    kind TEXT NOT NULL CHECK (kind IN ('record', 'signature', 'supersession', 'retirement')),
    about TEXT NOT NULL,
    text TEXT NOT NULL,
    body TEXT NOT NULL,
    signature TEXT NOT NULL,
    public_key TEXT NOT NULL,
    UNIQUE (kind, about, text)
) STRICT";

/// The hashes of the tree's whole subtrees, in the order in which they come to be.
const HASHES: &str = "CREATE TABLE hashes (
    position INTEGER PRIMARY KEY NOT NULL CHECK (0 <= position),
    hash BLOB NOT NULL CHECK (length(hash) = 32)
) STRICT";

const CHECKPOINTS: &str = "CREATE TABLE checkpoints (
    size INTEGER PRIMARY KEY NOT NULL CHECK (0 < size),
    note TEXT NOT NULL
) STRICT";

/// Time stamps over records. They are no leaves: each proves itself, and one that is gone bounds a time no more.
const TIMESTAMPS: &str = "CREATE TABLE timestamps (
    position INTEGER PRIMARY KEY NOT NULL,
    run TEXT NOT NULL,
    token BLOB NOT NULL,
    UNIQUE (run, token)
) STRICT";

/// What format 4 adds. Whether a lock held is asked of the other records of its place, for each record that rests on one: each time a walk
/// through all of them would make an audit grow with their square.
const BY_PLACE: &str = "CREATE INDEX records_by_place ON records (place)";

/// Everything that an archive of a format holds.
pub(super) fn of_format(format: i64) -> Vec<Object> {
    let mut all = vec![("records".to_owned(), RECORDS.to_owned())];
    all.extend(guards("records", "run = NEW.run OR sha256 = NEW.sha256"));
    if FORMAT_FIRST < format {
        all.extend(of_log());
    }
    if FORMAT_LOG < format {
        all.extend(of_timestamps());
    }
    if FORMAT_TIMESTAMPS < format {
        all.push(("records_by_place".to_owned(), BY_PLACE.to_owned()));
    }
    all
}

/// What is missing in an archive of an earlier format.
pub(super) fn since(format: i64) -> Vec<Object> {
    let known: Vec<String> = of_format(format).into_iter().map(|(name, _)| name).collect();
    let all = of_format(FORMAT).into_iter();
    all.filter(|(name, _)| !known.contains(name)).collect()
}

/// What format 3 adds.
fn of_timestamps() -> Vec<Object> {
    let mut all = vec![("timestamps".to_owned(), TIMESTAMPS.to_owned())];
    all.extend(guards(
        "timestamps",
        "position = NEW.position OR (run = NEW.run AND token = NEW.token)",
    ));
    all
}

/// What format 2 adds.
fn of_log() -> Vec<Object> {
    let mut all = Vec::new();
    for (name, text, same) in [
        ("log", LOG, "one = NEW.one"),
        (
            "leaves",
            LEAVES,
            "position = NEW.position OR (kind = NEW.kind AND about = NEW.about AND text = NEW.text)",
        ),
        ("hashes", HASHES, "position = NEW.position"),
        ("checkpoints", CHECKPOINTS, "size = NEW.size"),
    ] {
        all.push((name.to_owned(), text.to_owned()));
        all.extend(guards(name, same));
    }
    all
}

/// The triggers that make a table one to which rows are only added. A replacing insert removes the old row without asking the second, so the
/// third refuses it.
fn guards(table: &str, same: &str) -> [Object; 3] {
    let abort = format!("BEGIN SELECT RAISE(ABORT, '{table} are append-only'); END");
    let trigger = |what: &str, on: &str| {
        let name = format!("{table}_are_not_{what}");
        let text = format!("CREATE TRIGGER {name} BEFORE {on}\n{abort}");
        (name, text)
    };
    [
        trigger("changed", &format!("UPDATE ON {table}")),
        trigger("removed", &format!("DELETE ON {table}")),
        trigger(
            "replaced",
            &format!("INSERT ON {table}\nWHEN EXISTS (SELECT 1 FROM {table} WHERE {same})"),
        ),
    ]
}
