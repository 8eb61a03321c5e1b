//! What can go wrong with a journal, as facts, each with the next thing to do.
//!
//! Rule: storage that failed ([`Error::is_equipment`]) is told apart from a file that is refused as it stands.

use std::io;

use super::format::{FILE_BYTES_MAX, FORMAT, LINE_BYTES_MAX};
use crate::explain::Explain;
use crate::system::private;

/// What was being done to the file when the storage failed.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Action {
    /// Making the file or its folder's entry.
    Create,
    /// Opening it.
    Open,
    /// Taking it for this process alone.
    Lock,
    /// Reading it.
    Read,
    /// Writing a line.
    Write,
    /// Waiting until the disk holds it.
    Sync,
    /// Cutting a torn line off its end.
    Shorten,
}

impl std::fmt::Display for Action {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        f.write_str(match self {
            Action::Create => "create",
            Action::Open => "open",
            Action::Lock => "lock",
            Action::Read => "read",
            Action::Write => "write to",
            Action::Sync => "sync",
            Action::Shorten => "shorten",
        })
    }
}

/// What is wrong with one complete line.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
pub enum Damage {
    /// Not a JSON object with the four members, or an event this program does not know.
    #[error("it is not a journal line: {reason}")]
    NotALine {
        /// What the reader of JSON says.
        reason: String,
    },
    /// `at` is not RFC 3339 in UTC with milliseconds.
    #[error("`at` is `{found}`, not a time like `2026-11-25T07:16:21.123Z`")]
    NotATime {
        /// What stands there.
        found: String,
    },
    /// A line is missing, doubled or moved.
    #[error("`n` is {found} where {expected} was due")]
    OutOfOrder {
        /// What stands there.
        found: u64,
        /// What was due, from 0.
        expected: u64,
    },
    /// The line before was changed, or this `prev` was.
    #[error("`prev` is not the SHA-256 of the line before: one of the two lines was changed")]
    ChainBroken,
    /// Reads as a line but is not written the one way a line is written; `byte` counts from 1.
    #[error("it is not written the one way a line is written, from byte {byte} on")]
    NotCanonical {
        /// The first byte of the line that differs, from 1.
        byte: usize,
    },
    /// The file ends in the middle of this line.
    #[error("it does not end in a line feed")]
    NoLineFeed,
    /// `format` is not two numbers with a point between.
    #[error("`format` is `{found}`, not a version like `1.0`")]
    NotAVersion {
        /// What stands there.
        found: String,
    },
    /// `format` is a version that no program wrote.
    #[error("there was never a format `{found}`")]
    NoSuchFormat {
        /// What stands there.
        found: String,
    },
}

/// Why a journal was refused or stopped. Lines are counted from 1, as editors and `sed -n 5p` do; `n` counts from 0.
#[derive(Debug, thiserror::Error)]
pub enum Error {
    /// No file is there.
    #[error("there is no journal at `{place}`")]
    NotFound {
        /// The file.
        place: String,
    },
    /// A new journal never takes the place of a file.
    #[error("there is already a file at `{place}`")]
    AlreadyExists {
        /// The file.
        place: String,
    },
    /// Another process holds the lock.
    #[error("the journal `{place}` is in use by another coreproof")]
    InUse {
        /// The file.
        place: String,
    },
    /// What was to be written did not fit; nothing was acknowledged.
    #[error("no room is left on the disk that holds `{place}`")]
    DiskFull {
        /// The file.
        place: String,
    },
    /// The storage failed otherwise.
    #[error("cannot {action} `{place}`: {reason}")]
    Io {
        /// What was being done.
        action: Action,
        /// The file.
        place: String,
        /// What the system says.
        reason: io::Error,
    },
    /// An earlier write or sync failed, so what the disk holds is not known; `first` is the text of that error.
    #[error("the journal takes no more lines since an earlier failure: {first}")]
    Poisoned {
        /// The text of that earlier error.
        first: String,
    },
    /// A complete line is not as it was written.
    #[error("line {line} is damaged: {what}")]
    Damaged {
        /// The line, from 1.
        line: u64,
        /// What is wrong with it.
        what: Damage,
    },
    /// A later coreproof wrote it.
    #[error("the journal is in format `{found}`; this program reads up to `{ours}`", ours = FORMAT)]
    NewerFormat {
        /// The format it has.
        found: String,
    },
    /// The run never began: its first line was not completed.
    #[error("the journal holds no complete line")]
    Empty,
    /// A line longer than any event is.
    #[error("line {line} is longer than {max} bytes", max = LINE_BYTES_MAX)]
    LineTooLarge {
        /// The line, from 1.
        line: u64,
    },
    /// A file longer than any run makes.
    #[error("the journal is longer than {max} bytes", max = FILE_BYTES_MAX)]
    FileTooLarge,
    /// Nothing was written. A fault of this program, not of the engineer.
    #[error("the event cannot be written as a line that reads back the same: {reason}")]
    Unwritable {
        /// What the writer of JSON says.
        reason: String,
    },
}

impl Error {
    /// Sorts a failure of the storage by what the engineer has to do about it.
    pub(super) fn from_io(action: Action, place: String, reason: io::Error) -> Error {
        match (action, reason.kind()) {
            (_, io::ErrorKind::StorageFull | io::ErrorKind::QuotaExceeded) => Error::DiskFull { place },
            (Action::Open, io::ErrorKind::NotFound) => Error::NotFound { place },
            (Action::Create, io::ErrorKind::AlreadyExists) => Error::AlreadyExists { place },
            _ => Error::Io { action, place, reason },
        }
    }
}

impl Explain for Error {
    fn hint(&self) -> Option<String> {
        let hint = match self {
            Error::NotFound { .. } => "check the path and its spelling".to_owned(),
            Error::AlreadyExists { .. } => {
                "go on with that run by `coreproof resume`, or choose another name".to_owned()
            }
            Error::InUse { .. } => "close the other coreproof that has this run open, then try again".to_owned(),
            Error::DiskFull { .. } => "free some space on that disk, then go on with `coreproof resume`: every \
                line acknowledged before this one is kept"
                .to_owned(),
            Error::Io { reason, .. } if reason.kind() == io::ErrorKind::PermissionDenied => {
                private::WHO_OWNS.to_owned()
            }
            Error::Io {
                action: Action::Create, ..
            } => "check that the folder is there and its disk is connected".to_owned(),
            Error::Io { .. } => "check that the disk is connected and healthy, then go on with `coreproof resume`: \
                every line acknowledged before this one is kept"
                .to_owned(),
            Error::Poisoned { .. } => {
                "leave the program, put that failure right, then go on with `coreproof resume`".to_owned()
            }
            Error::Damaged { line, .. } => keep_aside(*line),
            Error::NewerFormat { .. } => "use a newer coreproof to read it".to_owned(),
            Error::Empty => "nothing was recorded in it: delete the file and start the run again".to_owned(),
            Error::LineTooLarge { .. } | Error::FileTooLarge => {
                "check that this is a coreproof journal and that the sequence and job files are not overgrown"
                    .to_owned()
            }
            Error::Unwritable { .. } => return None,
        };
        Some(hint)
    }

    fn is_equipment(&self) -> bool {
        match self {
            Error::InUse { .. } | Error::DiskFull { .. } | Error::Io { .. } | Error::Poisoned { .. } => true,
            Error::NotFound { .. }
            | Error::AlreadyExists { .. }
            | Error::Damaged { .. }
            | Error::NewerFormat { .. }
            | Error::Empty
            | Error::LineTooLarge { .. }
            | Error::FileTooLarge
            | Error::Unwritable { .. } => false,
        }
    }
}

/// What the chain still vouches for: the link in each line holds the line before it, so the one just before the damaged
/// line is not held any more.
fn keep_aside(line: u64) -> String {
    let act = "the file was changed after it was written: keep it aside as it is and start the run again";
    match line.saturating_sub(2) {
        0 => act.to_owned(),
        1 => format!("{act}; the chain still holds line 1"),
        held => format!("{act}; the chain still holds lines 1 to {held}"),
    }
}

/// Text from a file made fit to stand in a message: no control characters, at most 160 characters.
pub(super) fn plain(text: &str) -> String {
    let mut plain = String::new();
    for (count, character) in text.chars().enumerate() {
        if count == 160 {
            plain.push('…');
            break;
        }
        if character.is_control() {
            plain.extend(character.escape_unicode());
        } else {
            plain.push(character);
        }
    }
    plain
}

#[cfg(test)]
mod tests {
    use super::*;

    fn io(action: Action, kind: io::ErrorKind) -> Error {
        Error::from_io(
            action,
            "loft.jsonl".to_owned(),
            io::Error::new(kind, "what the system said"),
        )
    }

    fn damaged(line: u64, what: Damage) -> Error {
        Error::Damaged { line, what }
    }

    const RESUME: &str = "go on with `coreproof resume`: every line acknowledged before this one is kept";

    #[test]
    fn failing_storage_is_equipment() {
        let check = |error: Error, text: &str, hint: &str| {
            assert_eq!(error.to_string(), text);
            assert_eq!(error.hint().as_deref(), Some(hint));
            assert!(error.is_equipment(), "{text}");
        };
        check(
            Error::InUse {
                place: "loft.jsonl".to_owned(),
            },
            "the journal `loft.jsonl` is in use by another coreproof",
            "close the other coreproof that has this run open, then try again",
        );
        let full = "no room is left on the disk that holds `loft.jsonl`";
        let make_room = format!("free some space on that disk, then {RESUME}");
        check(io(Action::Write, io::ErrorKind::StorageFull), full, &make_room);
        check(io(Action::Sync, io::ErrorKind::QuotaExceeded), full, &make_room);
        let look = format!("check that the disk is connected and healthy, then {RESUME}");
        let other = |action, text: &str| check(io(action, io::ErrorKind::Other), text, &look);
        other(Action::Open, "cannot open `loft.jsonl`: what the system said");
        other(Action::Lock, "cannot lock `loft.jsonl`: what the system said");
        other(Action::Read, "cannot read `loft.jsonl`: what the system said");
        other(Action::Write, "cannot write to `loft.jsonl`: what the system said");
        other(Action::Sync, "cannot sync `loft.jsonl`: what the system said");
        other(Action::Shorten, "cannot shorten `loft.jsonl`: what the system said");
        check(
            io(Action::Create, io::ErrorKind::NotFound),
            "cannot create `loft.jsonl`: what the system said",
            "check that the folder is there and its disk is connected",
        );
        check(
            io(Action::Open, io::ErrorKind::PermissionDenied),
            "cannot open `loft.jsonl`: what the system said",
            "check who owns the file and its folder, with `ls -ld`",
        );
        check(
            Error::Poisoned { first: full.to_owned() },
            "the journal takes no more lines since an earlier failure: no room is left on the disk that holds `loft.jsonl`",
            "leave the program, put that failure right, then go on with `coreproof resume`",
        );
    }

    #[test]
    fn a_refused_file_is_not_equipment() {
        let check = |error: Error, text: &str, hint: Option<&str>| {
            assert_eq!(error.to_string(), text);
            assert_eq!(error.hint().as_deref(), hint);
            assert!(!error.is_equipment(), "{text}");
        };
        check(
            io(Action::Open, io::ErrorKind::NotFound),
            "there is no journal at `loft.jsonl`",
            Some("check the path and its spelling"),
        );
        check(
            io(Action::Create, io::ErrorKind::AlreadyExists),
            "there is already a file at `loft.jsonl`",
            Some("go on with that run by `coreproof resume`, or choose another name"),
        );
        check(
            Error::NewerFormat {
                found: "2.0".to_owned(),
            },
            "the journal is in format `2.0`; this program reads up to `1.1`",
            Some("use a newer coreproof to read it"),
        );
        check(
            Error::Empty,
            "the journal holds no complete line",
            Some("nothing was recorded in it: delete the file and start the run again"),
        );
        let overgrown = "check that this is a coreproof journal and that the sequence and job files are not overgrown";
        check(
            Error::LineTooLarge { line: 7 },
            "line 7 is longer than 1048576 bytes",
            Some(overgrown),
        );
        check(
            Error::FileTooLarge,
            "the journal is longer than 67108864 bytes",
            Some(overgrown),
        );
        check(
            Error::Unwritable {
                reason: "key must be a string".to_owned(),
            },
            "the event cannot be written as a line that reads back the same: key must be a string",
            None,
        );
    }

    #[test]
    fn damage_names_the_line_and_what_still_holds() {
        let act = "the file was changed after it was written: keep it aside as it is and start the run again";
        let check = |error: Error, text: &str, held: &str| {
            assert_eq!(error.to_string(), text);
            assert_eq!(error.hint(), Some(format!("{act}{held}")));
            assert!(!error.is_equipment(), "{text}");
        };
        check(
            damaged(
                1,
                Damage::NotALine {
                    reason: "expected value (byte 1)".to_owned(),
                },
            ),
            "line 1 is damaged: it is not a journal line: expected value (byte 1)",
            "",
        );
        check(
            damaged(1, Damage::NotAVersion { found: "2".to_owned() }),
            "line 1 is damaged: `format` is `2`, not a version like `1.0`",
            "",
        );
        check(
            damaged(
                1,
                Damage::NoSuchFormat {
                    found: "0.9".to_owned(),
                },
            ),
            "line 1 is damaged: there was never a format `0.9`",
            "",
        );
        check(
            damaged(
                2,
                Damage::NotATime {
                    found: "noon".to_owned(),
                },
            ),
            "line 2 is damaged: `at` is `noon`, not a time like `2026-11-25T07:16:21.123Z`",
            "",
        );
        check(
            damaged(3, Damage::OutOfOrder { found: 4, expected: 2 }),
            "line 3 is damaged: `n` is 4 where 2 was due",
            "; the chain still holds line 1",
        );
        check(
            damaged(9, Damage::ChainBroken),
            "line 9 is damaged: `prev` is not the SHA-256 of the line before: one of the two lines was changed",
            "; the chain still holds lines 1 to 7",
        );
        check(
            damaged(4, Damage::NotCanonical { byte: 12 }),
            "line 4 is damaged: it is not written the one way a line is written, from byte 12 on",
            "; the chain still holds lines 1 to 2",
        );
        check(
            damaged(2, Damage::NoLineFeed),
            "line 2 is damaged: it does not end in a line feed",
            "",
        );
    }

    #[test]
    fn text_from_a_file_cannot_command_a_terminal() {
        assert_eq!(plain("a\u{1b}[2Jb\nΩ"), "a\\u{1b}[2Jb\\u{a}Ω");
        assert_eq!(plain(&"x".repeat(161)), format!("{}…", "x".repeat(160)));
    }
}
