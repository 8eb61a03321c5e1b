//! What a meter does, as its reader sees it, with the words for the engineer.
//!
//! The rule inside: silence, garbage and a lost port are values with a next physical act, never errors that end a run.

use super::PortError;
use crate::explain::Explain;
use crate::meter::decode::Decoded;

/// What a meter did.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum MeterEvent {
    /// A frame arrived.
    Frame(Decoded),
    /// Nothing arrived for so many milliseconds of listening.
    Silent {
        /// That time, in milliseconds.
        quiet_ms: u32,
    },
    /// So many frames or floods of bytes in a row meant nothing.
    Garbage {
        /// How many.
        count: u32,
        /// The profile they were read with.
        profile: String,
        /// Its speed in bits a second, which the meter may not have.
        baud: u32,
    },
    /// The port is gone, or could not be opened again.
    Lost(PortError),
    /// The port is there again and was opened.
    Back {
        /// The port, by the name it is open under.
        port: String,
    },
    /// A capture or an input has come to its end.
    Ended {
        /// The capture or input as it is written.
        port: String,
    },
}

impl MeterEvent {
    /// What to tell the engineer; `None` for a reading.
    pub fn message(&self) -> Option<String> {
        match self {
            MeterEvent::Frame(Decoded::Reading(_)) => None,
            MeterEvent::Frame(Decoded::Refused(why)) => Some(why.clone()),
            MeterEvent::Frame(Decoded::NotUnderstood(what)) => Some(what.clone()),
            MeterEvent::Silent { quiet_ms } => Some(format!("nothing heard from the meter for {}", seconds(*quiet_ms))),
            MeterEvent::Garbage { profile, .. } => Some(format!("what arrives does not fit profile `{profile}`")),
            MeterEvent::Lost(error) => Some(error.to_string()),
            MeterEvent::Back { port } => Some(format!("the meter's port `{port}` is back")),
            MeterEvent::Ended { port } => Some(format!("`{port}` is over, no more readings come from it")),
        }
    }

    /// The next physical act.
    pub fn hint(&self) -> Option<String> {
        match self {
            MeterEvent::Frame(_) | MeterEvent::Back { .. } => None,
            MeterEvent::Ended { .. } => Some("type the readings that are still needed".into()),
            MeterEvent::Silent { .. } => Some(
                "switch the meter on or wake it, switch its data output on, and check the cable at both ends".into(),
            ),
            MeterEvent::Garbage { baud, .. } => Some(format!(
                "set the meter to {baud} baud, or name the profile that fits this meter"
            )),
            MeterEvent::Lost(error) => error.hint(),
        }
    }
}

fn seconds(ms: u32) -> String {
    if ms.is_multiple_of(1000) {
        format!("{} s", ms / 1000)
    } else {
        format!("{} s", f64::from(ms) / 1000.0)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn every_event_has_words_and_the_next_act() {
        let garbage = MeterEvent::Garbage {
            count: 5,
            profile: "line-stream".into(),
            baud: 9600,
        };
        let lost = MeterEvent::Lost(PortError::Lost { path: "/dev/x".into() });
        let silent_act = "switch the meter on or wake it, switch its data output on, and check the cable at both ends";
        let cases = [
            (
                MeterEvent::Silent { quiet_ms: 3000 },
                "nothing heard from the meter for 3 s",
                Some(silent_act),
            ),
            (
                MeterEvent::Silent { quiet_ms: 2500 },
                "nothing heard from the meter for 2.5 s",
                Some(silent_act),
            ),
            (
                garbage,
                "what arrives does not fit profile `line-stream`",
                Some("set the meter to 9600 baud, or name the profile that fits this meter"),
            ),
            (
                lost,
                "the meter's port `/dev/x` vanished",
                Some("plug the meter's cable in again"),
            ),
            (
                MeterEvent::Back { port: "/dev/x".into() },
                "the meter's port `/dev/x` is back",
                None,
            ),
            (
                MeterEvent::Ended {
                    port: "replay:x".into(),
                },
                "`replay:x` is over, no more readings come from it",
                Some("type the readings that are still needed"),
            ),
            (
                MeterEvent::Frame(Decoded::Refused("press HOLD".into())),
                "press HOLD",
                None,
            ),
            (MeterEvent::Frame(Decoded::NotUnderstood("`x`".into())), "`x`", None),
        ];
        for (event, message, hint) in cases {
            assert_eq!(
                (event.message().as_deref(), event.hint().as_deref()),
                (Some(message), hint)
            );
        }
    }
}
