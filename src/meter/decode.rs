//! A frame to a reading, now and again years later from the bytes in a record.
//!
//! The rule inside: the same bytes and the same profile always give the same reading, and the reading carries both.

use crate::pure::reading::{Origin, Reading};

use super::pattern::{Unread, printable};
use super::profile::{Decode, Profile};

/// What a frame turned out to be.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Decoded {
    Reading(Reading),
    /// The meter was understood, and what it shows cannot be taken: why, and which key to press.
    Refused(String),
    /// The frame means nothing in this profile: what does not fit.
    NotUnderstood(String),
}

/// Decodes one frame without its terminator.
pub fn decode(profile: &Profile, frame: &[u8]) -> Decoded {
    let Decode::Pattern(pattern) = &profile.decode;
    let Ok(text) = std::str::from_utf8(frame) else {
        return Decoded::NotUnderstood(format!("`{}` is no text", printable(&String::from_utf8_lossy(frame))));
    };
    match pattern.read(text) {
        Err(Unread::NotUnderstood(what)) => Decoded::NotUnderstood(what),
        Err(Unread::Refused(why)) => Decoded::Refused(why),
        // every mark known so far changes what the digits mean
        Ok(parts) => match parts.flags.first() {
            Some(flag) => Decoded::Refused(flag.refusal().to_owned()),
            None => Decoded::Reading(Reading {
                shown: parts.shown,
                prefix: parts.prefix,
                unit: parts.unit,
                function: parts.function,
                flags: parts.flags,
                origin: Origin::Meter {
                    profile: profile.name.clone(),
                    raw: hex(frame),
                },
            }),
        },
    }
}

/// Why the bytes in a record are no reading.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
pub enum RawError {
    #[error("`{text}` is not bytes in lower-case hexadecimal")]
    NotHexadecimal { text: String },
    #[error("the recorded bytes are no reading: {why}")]
    NoReading { why: String },
}

impl RawError {
    /// What to do next.
    pub fn hint(&self) -> Option<String> {
        Some("the record was changed or was decoded with another profile: get the record again from its source".into())
    }
}

/// Decodes recorded bytes again.
///
/// ```
/// use coreproof::meter::{decode::decode_raw, profile::find};
/// let reading = decode_raw(find("line-stream").unwrap(), "5641433b3233312e343b563b2d").unwrap();
/// assert_eq!(reading.display(), "231.4 V");
/// ```
pub fn decode_raw(profile: &Profile, raw: &str) -> Result<Reading, RawError> {
    let bytes = unhex(raw).ok_or_else(|| RawError::NotHexadecimal { text: printable(raw) })?;
    match decode(profile, &bytes) {
        Decoded::Reading(reading) => Ok(reading),
        Decoded::Refused(why) | Decoded::NotUnderstood(why) => Err(RawError::NoReading { why }),
    }
}

fn hex(bytes: &[u8]) -> String {
    bytes.iter().map(|byte| format!("{byte:02x}")).collect()
}

fn unhex(text: &str) -> Option<Vec<u8>> {
    let digit = |byte: u8| match byte {
        b'0'..=b'9' => Some(byte - b'0'),
        b'a'..=b'f' => Some(byte - b'a' + 10),
        _ => None,
    };
    let (pairs, rest) = text.as_bytes().as_chunks::<2>();
    if !rest.is_empty() {
        return None;
    }
    pairs
        .iter()
        .map(|[high, low]| Some(digit(*high)? << 4 | digit(*low)?))
        .collect()
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::meter::encode::{encode, units};
    use crate::meter::frame::{Framer, Piece};
    use crate::meter::profile::{find, shipped};
    use crate::pure::quantity::{Digits, Shown};
    use crate::pure::reading::Function;
    use proptest::prelude::*;

    fn words(profile: &str, frame: &[u8]) -> String {
        match decode(find(profile).unwrap(), frame) {
            Decoded::Reading(reading) => {
                let function = reading.function.map_or("no function".into(), Function::dial);
                format!("{}, {function}", reading.display())
            }
            Decoded::Refused(why) => format!("refused: {why}"),
            Decoded::NotUnderstood(what) => format!("not understood: {what}"),
        }
    }

    #[test]
    fn frames_are_decoded() {
        let cases: [(&str, &[u8], &str); 15] = [
            (
                "line-stream",
                b"LOWOHM;0.42;ohm;-",
                "0.42 ohm, low-resistance continuity",
            ),
            ("line-stream", b"INS500;>299;Mohm;-", ">299 Mohm, insulation at 500 V"),
            ("line-stream", b"OHMS;OL;Mohm;A", "OL (Mohm), ohms"),
            (
                "line-stream",
                b"OHMS;1.203;kohm;H",
                "refused: the meter holds an old value: press HOLD so that the mark goes out",
            ),
            (
                "line-stream",
                b"OHMS;1.203;kohm;AR",
                "refused: the meter shows a difference, not the value: press REL or ZERO so that the mark goes out",
            ),
            (
                "line-stream",
                b"VAC;231.4;V;B",
                "refused: the meter's battery is low: change it, then measure again",
            ),
            (
                "line-stream",
                b"VAC;231.4;V;X",
                "not understood: `X` is not a mark of this profile",
            ),
            (
                "line-stream",
                b"VAC;231.4;W;-",
                "not understood: `W` is not a unit of this profile",
            ),
            (
                "line-stream",
                b"VAC;231.4;ohm;-",
                "not understood: a.c. volts in ohm, which does not fit",
            ),
            (
                "line-stream",
                b"DIODE;0.6;V;-",
                "refused: the meter is set to `DIODE`, which is not used here: turn the dial to the function that is \
                 asked for",
            ),
            (
                "line-stream",
                b"LOWOHM;-0.02;ohm;-",
                "refused: the meter shows `-0.02 ohm`, below zero, which no resistance is: null the leads again",
            ),
            (
                "line-stream",
                b"OHMS;99999999999999999999999;Gohm;-",
                "not understood: `99999999999999999999999` is not a number that can be held exactly",
            ),
            (
                "line-stream",
                b"LOWOHM;-0.00;ohm;-",
                "-0.00 ohm, low-resistance continuity",
            ),
            ("query-488", b"-1.20000E+01;\"VOLT\"\r", "-1.20000E+01 V, d.c. volts"),
            ("line-stream", b"\xb5V", "not understood: `\u{fffd}V` is no text"),
        ];
        for (profile, frame, expected) in cases {
            assert_eq!(words(profile, frame), expected);
        }
    }

    /// Captures were written by hand from the description of the language, with what a person reads in them beside.
    #[test]
    fn captures_decode_as_expected() {
        let pairs = [
            (
                "line-stream",
                &include_bytes!("../../fixtures/captures/line-stream.txt")[..],
                include_str!("../../fixtures/captures/line-stream.expected"),
            ),
            (
                "query-488",
                include_bytes!("../../fixtures/captures/query-488.txt"),
                include_str!("../../fixtures/captures/query-488.expected"),
            ),
        ];
        for (name, capture, expected) in pairs {
            let mut framer = Framer::new(&find(name).unwrap().frame, false);
            framer.push(capture);
            let mut found = Vec::new();
            while let Some(piece) = framer.poll() {
                found.push(match piece {
                    Piece::Frame { bytes, .. } => words(name, &bytes),
                    Piece::Dropped(count) => format!("dropped {count}"),
                });
            }
            let expected: Vec<&str> = expected.lines().collect();
            assert_eq!(found, expected, "{name}");
        }
    }

    #[test]
    fn a_reading_carries_its_bytes_and_decodes_again_from_them() {
        let profile = find("line-stream").unwrap();
        let Decoded::Reading(reading) = decode(profile, b"VAC;231.4;V;-") else {
            panic!("no reading")
        };
        let raw = "5641433b3233312e343b563b2d";
        assert_eq!(
            reading.origin,
            Origin::Meter {
                profile: "line-stream".into(),
                raw: raw.into()
            }
        );
        assert_eq!(decode_raw(profile, raw), Ok(reading));
    }

    #[test]
    fn recorded_bytes_that_are_no_reading_are_named() {
        let cases = [
            ("5641G3", "`5641G3` is not bytes in lower-case hexadecimal"),
            ("5641433B", "`5641433B` is not bytes in lower-case hexadecimal"),
            ("564", "`564` is not bytes in lower-case hexadecimal"),
            (
                "564143",
                "the recorded bytes are no reading: `VAC` does not fit the profile's pattern",
            ),
        ];
        for (raw, expected) in cases {
            let error = decode_raw(find("line-stream").unwrap(), raw).unwrap_err();
            assert_eq!(error.to_string(), expected);
            assert_eq!(
                error.hint().as_deref(),
                Some(
                    "the record was changed or was decoded with another profile: get the record again from its source"
                )
            );
        }
    }

    const FUNCTIONS: [Function; 7] = [
        Function::Continuity,
        Function::Resistance,
        Function::Insulation(250),
        Function::Insulation(500),
        Function::Insulation(1000),
        Function::VoltageAc,
        Function::VoltageDc,
    ];

    proptest! {
        #[test]
        fn any_bytes_are_survived(bytes in prop::collection::vec(any::<u8>(), 0..600), cut in 1usize..40) {
            for profile in shipped() {
                let mut framer = Framer::new(&profile.frame, true);
                for chunk in bytes.chunks(cut) {
                    framer.push(chunk);
                    while let Some(piece) = framer.poll() {
                        if let Piece::Frame { bytes, .. } = piece {
                            decode(profile, &bytes);
                        }
                    }
                }
                decode(profile, &bytes);
            }
        }

        #[test]
        fn almost_frames_are_survived(text in "[A-Z0-9;.\\->EOLohmVkM\"+:-]{0,40}") {
            for profile in shipped() {
                if let Decoded::Reading(reading) = decode(profile, text.as_bytes()) {
                    // a reading can be used: its value in the plain unit exists, and it decodes again
                    let _ = reading.amount().map(|amount| amount.value());
                    let Origin::Meter { raw, .. } = &reading.origin else { panic!("not from a meter") };
                    prop_assert_eq!(decode_raw(profile, raw), Ok(reading.clone()));
                }
            }
        }

        #[test]
        fn what_a_simulated_meter_says_is_read_back(
            function in prop::sample::select(&FUNCTIONS[..]),
            digits in "[0-9]{1,6}(\\.[0-9]{1,4})?",
            kind in 0..3,
            choice in 0usize..8,
        ) {
            for profile in shipped() {
                let units = units(profile, function);
                if units.is_empty() {
                    continue;
                }
                let (prefix, unit) = units[choice % units.len()];
                let digits = Digits::parse(&digits).unwrap();
                let shown = match kind {
                    0 => Shown::Over,
                    1 if profile.name == "line-stream" => Shown::Above(digits),
                    _ => Shown::Digits(digits),
                };
                let bytes = encode(profile, function, &shown, (prefix, unit), &[]).unwrap();
                let mut framer = Framer::new(&profile.frame, false);
                framer.push(&bytes);
                let Some(Piece::Frame { bytes, .. }) = framer.poll() else { panic!("no frame") };
                let Decoded::Reading(reading) = decode(profile, &bytes) else { panic!("no reading") };
                prop_assert_eq!(
                    (reading.shown, reading.prefix, reading.unit, reading.function),
                    (shown, prefix, unit, Some(function))
                );
            }
        }
    }
}
