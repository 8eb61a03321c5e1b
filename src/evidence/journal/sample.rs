//! A small vocabulary of events and records made of it, for the tests of this room.

use jiff::{SignedDuration, Timestamp};
use serde::{Deserialize, Serialize};

use super::{Hash, line};

#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub(super) enum Event {
    Opened { format: String, place: String },
    Reading { step: String, digits: String },
    Remark(String),
    Sealed,
}

pub(super) fn opened() -> Event {
    Event::Opened {
        format: "1.0".to_owned(),
        place: "Saltmarsh Sailing Club, sail loft".to_owned(),
    }
}

/// Short, with a character of several bytes; a crash mostly tears one sector of it.
pub(super) fn short(n: usize) -> Event {
    Event::Reading {
        step: "continuity of brown".to_owned(),
        digits: format!("0.{n}2 Ω"),
    }
}

/// Crosses several 512-byte sectors.
pub(super) fn long(n: usize) -> Event {
    Event::Remark(format!("galley {n} ").repeat(58))
}

/// `seconds` after the start of the sample run.
pub(super) fn at(seconds: i64) -> Timestamp {
    let start: Timestamp = "2026-11-25T07:16:21.123Z".parse().expect("a time");
    start + SignedDuration::from_secs(seconds)
}

/// The bytes of a record of these events, one a second.
pub(super) fn record(events: &[Event]) -> Vec<u8> {
    let mut bytes = Vec::new();
    let mut prev = Hash::ZERO;
    for (n, event) in (0..).zip(events) {
        let line = line::encode(n, &prev, at(n.cast_signed()), event).expect("written");
        prev = Hash::of(&line[..line.len() - 1]);
        bytes.extend(line);
    }
    bytes
}
