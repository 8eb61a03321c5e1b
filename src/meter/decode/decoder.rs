//! A frame to a reading, now and again years later from the bytes in a record.
//!
//! The rule inside: the same bytes and the same profile always give the same reading, and the reading carries both.

use std::borrow::Cow;

use regex::CaptureLocations;

use super::meaning::{Parts, Unread};
use super::{Decode, Framing, Profile, Take};
use crate::explain::Explain;
use crate::value::raw::Raw;
use crate::value::reading::{Origin, ProfileName, Reading};

/// What a frame turned out to be.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Decoded {
    /// What the meter shows, to be judged.
    Reading(Reading),
    /// The meter was understood, and what it shows cannot be taken: why, and which key to press.
    Refused(String),
    /// The frame means nothing in this profile: what does not fit.
    NotUnderstood(String),
}

/// Decodes one frame without its terminator.
pub fn decode(profile: &Profile, frame: &[u8]) -> Decoded {
    Decoder::new(profile).decode(frame)
}

/// A decoder that keeps its scratch space from one frame to the next.
#[derive(Debug, Clone)]
pub struct Decoder<'p> {
    profile: &'p Profile,
    /// The profile's name, shared by all readings.
    name: ProfileName,
    slots: Option<CaptureLocations>,
}

impl<'p> Decoder<'p> {
    /// A decoder for the frames of this profile.
    pub fn new(profile: &'p Profile) -> Decoder<'p> {
        Decoder {
            profile,
            name: profile.name.as_str().into(),
            slots: slots(&profile.decode),
        }
    }

    /// What one frame without its terminator says, marks included, without what a record needs besides.
    ///
    /// ```
    /// use coreproof::meter::{decode::Decoder, profile::find};
    /// let mut decoder = Decoder::new(find("line-stream").unwrap());
    /// assert_eq!(decoder.parts(b"VAC;231.4;V;H").unwrap().flags.len(), 1);
    /// ```
    #[inline(always)]
    pub fn parts(&mut self, frame: &[u8]) -> Result<Parts, Unread> {
        read_with(&self.profile.frame, &self.profile.decode, frame, self.slots.as_mut())
    }

    /// Decodes one frame without its terminator.
    ///
    /// ```
    /// use coreproof::meter::{decode::{Decoded, Decoder}, profile::find};
    /// let mut decoder = Decoder::new(find("line-stream").unwrap());
    /// let Decoded::Reading(reading) = decoder.decode(b"VAC;231.4;V;-") else { panic!("no reading") };
    /// assert_eq!(reading.display(), "231.4 V");
    /// ```
    pub fn decode(&mut self, frame: &[u8]) -> Decoded {
        match self.parts(frame) {
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
                        profile: self.name.clone(),
                        raw: Raw::new(frame),
                        contact: None,
                        to_go: None,
                    },
                }),
            },
        }
    }
}

fn slots(decode: &Decode) -> Option<CaptureLocations> {
    match &decode.take {
        Take::Pattern(pattern) => Some(pattern.regex.capture_locations()),
        Take::Fields(_) => None,
    }
}

/// What a frame says, before it is accepted as a reading.
pub(crate) fn read(framing: &Framing, decode: &Decode, frame: &[u8]) -> Result<Parts, Unread> {
    read_with(framing, decode, frame, slots(decode).as_mut())
}

#[inline(always)]
fn read_with(
    framing: &Framing,
    decode: &Decode,
    frame: &[u8],
    slots: Option<&mut CaptureLocations>,
) -> Result<Parts, Unread> {
    framing.verify(frame).map_err(Unread::NotUnderstood)?;
    match &decode.take {
        Take::Fields(fields) => decode.meaning.read(&fields.read(frame)?),
        Take::Pattern(pattern) => {
            let text = framing.body(frame);
            match std::str::from_utf8(text) {
                Ok(text) => decode
                    .meaning
                    .read(&pattern.read(text, slots.expect("a pattern has slots"))?),
                Err(_) => {
                    let text = text_of(text);
                    decode
                        .meaning
                        .read(&pattern.read(&text, slots.expect("a pattern has slots"))?)
                }
            }
        }
    }
}

/// The text of some bytes: UTF-8 where they are that, else one character a byte as in Latin-1, so that a sign for ohm or
/// micro from any code page is a character that a profile can name.
pub fn text_of(bytes: &[u8]) -> Cow<'_, str> {
    match std::str::from_utf8(bytes) {
        Ok(text) => Cow::Borrowed(text),
        Err(_) => Cow::Owned(bytes.iter().map(|byte| char::from(*byte)).collect()),
    }
}

/// The bytes in a record are no reading.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
#[error("the recorded bytes are no reading: {why}")]
pub struct NoReading {
    /// What does not fit.
    pub why: String,
}

impl Explain for NoReading {
    fn hint(&self) -> Option<String> {
        Some("the record was changed or was decoded with another profile: get the record again from its source".into())
    }
}

/// Decodes recorded bytes again.
///
/// ```
/// use coreproof::meter::{decode::decode_raw, profile::find};
/// use coreproof::value::raw::Raw;
/// let reading = decode_raw(find("line-stream").unwrap(), &Raw::new(b"VAC;231.4;V;-")).unwrap();
/// assert_eq!(reading.display(), "231.4 V");
/// ```
pub fn decode_raw(profile: &Profile, raw: &Raw) -> Result<Reading, NoReading> {
    match decode(profile, raw.bytes()) {
        Decoded::Reading(reading) => Ok(reading),
        Decoded::Refused(why) | Decoded::NotUnderstood(why) => Err(NoReading { why }),
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::meter::decode::Cut;
    use crate::meter::decode::encode::{display, encode};
    use crate::meter::decode::frame::{Framer, Piece};
    use crate::meter::decode::meaning::Mark;
    use crate::meter::profile::{find, shipped};
    use crate::value::quantity::{Prefix, Shown, Unit};
    use crate::value::reading::{Function, Multiple};
    use proptest::prelude::*;
    use rust_decimal::Decimal;

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
        let cases: [(&str, &[u8], &str); 21] = [
            (
                "line-stream",
                b"LOWOHM;0.42;ohm;-",
                "0.42 ohm, low-resistance continuity",
            ),
            ("line-stream", b"INS500;>299;Mohm;-", ">299 Mohm, insulation at 500 V"),
            ("line-stream", b"OHMS;OL;Mohm;A", "OL (Mohm), ohms"),
            (
                "line-stream",
                b"LOOP;0.84;ohm;-",
                "0.84 ohm, earth fault loop impedance",
            ),
            (
                "line-stream",
                b"TRIP05;>1999;ms;-",
                ">1999 ms, residual-current trip time at half its rated current",
            ),
            (
                "line-stream",
                b"TRIP1;24.3;ms;-",
                "24.3 ms, residual-current trip time at its rated current",
            ),
            (
                "line-stream",
                b"TRIP5;0.84;ohm;-",
                "not understood: residual-current trip time at 5 times its rated current in ohm, which does not fit",
            ),
            (
                "line-stream",
                b"TRIP1;-24.3;ms;-",
                "refused: the meter shows `-24.3 ms`, below zero, which no trip time is: make the test again",
            ),
            (
                "line-stream",
                b"LOOP;-0.1;ohm;-",
                "refused: the meter shows `-0.1 ohm`, below zero, which no loop impedance is: make the test again",
            ),
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
            (
                "line-stream",
                b"\xb5V",
                "not understood: `\u{b5}V` does not fit the profile's pattern",
            ),
        ];
        for (profile, frame, expected) in cases {
            assert_eq!(words(profile, frame), expected);
        }
    }

    /// The captures come from an encoder of their own, `fixtures/captures/make.py`, written from the description of each
    /// family; however a capture is split, the same is read in it.
    #[test]
    fn captures_decode_as_expected() {
        macro_rules! captures {
            ($($name:literal . $kind:literal),*) => {
                [$((
                    $name,
                    &include_bytes!(concat!("../../../fixtures/captures/", $name, ".", $kind))[..],
                    include_str!(concat!("../../../fixtures/captures/", $name, ".expected")),
                )),*]
            };
        }
        let captures = captures![
            "line-stream"."txt",
            "query-488"."txt",
            "ascii-columns-fixed"."txt",
            "ascii-line-checksum"."txt",
            "ascii-delimited"."bin",
            "segment-14"."bin",
            "segment-sync"."bin",
            "bcd-sync"."bin",
            "binary-scaled-range"."bin",
            "float-le-checksum"."bin"
        ];
        assert_eq!(
            captures.map(|(name, ..)| name).to_vec(),
            shipped().iter().map(|p| p.name.as_str()).collect::<Vec<_>>()
        );
        for (name, capture, expected) in captures {
            let expected: Vec<&str> = expected.lines().collect();
            for seed in 0..50 {
                assert_eq!(heard(name, capture, seed), expected, "{name}, split by seed {seed}");
            }
        }
    }

    /// What is heard in a capture that arrives in pieces: byte by byte for seed 0, else of sizes that the seed chooses.
    fn heard(name: &str, capture: &[u8], seed: u64) -> Vec<String> {
        // captures of frames without line ends begin in the middle of one
        let mid_stream = !matches!(find(name).unwrap().frame.cut, Cut::Line { .. });
        let mut framer = Framer::new(&find(name).unwrap().frame, mid_stream);
        let (mut found, mut rest, mut state) = (Vec::new(), capture, seed);
        while !rest.is_empty() {
            state = state.wrapping_mul(6_364_136_223_846_793_005).wrapping_add(seed);
            let size = (1 + (state >> 40) as usize % 40).min(rest.len());
            framer.push(&rest[..size]);
            rest = &rest[size..];
            while let Some(piece) = framer.poll() {
                match piece {
                    Piece::Frame { bytes, partial } => match words(name, &bytes) {
                        what if partial && what.starts_with("not understood") => {}
                        what => found.push(what),
                    },
                    Piece::Unconfirmed => found.push("unconfirmed".into()),
                    Piece::Dropped(count) => found.push(format!("dropped {count}")),
                }
            }
        }
        found
    }

    /// Frames put together by hand from a published list of the segments' places; none was seen on hardware.
    #[test]
    fn frames_of_segments_show_their_display() {
        let cases = [
            ("1b253b415f637f8f9fa0b0c0d4e0", "239.8 V, a.c. volts"),
            ("13273d475d697f879ea0b0c4d0e0", "00.36 ohm, ohms"),
            ("1320354d5b617f8297a0b2c4d0e0", "1.234 Mohm, ohms"),
            ("152835455b697f8297a0b8c0d4e0", "-12.34 mV, d.c. volts"),
            ("132030475d6e788090a0b2c4d0e0", "OL (Mohm), ohms"),
        ];
        for (raw, expected) in cases {
            assert_eq!(words("segment-14", Raw::parse(raw).unwrap().bytes()), expected);
        }
    }

    #[test]
    fn a_reading_carries_its_bytes_and_decodes_again_from_them() {
        let profile = find("line-stream").unwrap();
        let Decoded::Reading(reading) = decode(profile, b"VAC;231.4;V;-") else {
            panic!("no reading")
        };
        let raw = Raw::parse("5641433b3233312e343b563b2d").unwrap();
        assert_eq!(
            reading.origin,
            Origin::Meter {
                profile: "line-stream".into(),
                raw: raw.clone(),
                contact: None,
                to_go: None,
            }
        );
        assert_eq!(decode_raw(profile, &raw), Ok(reading));
    }

    #[test]
    fn recorded_bytes_that_are_no_reading_are_named() {
        let error = decode_raw(find("line-stream").unwrap(), &Raw::new(b"VAC")).unwrap_err();
        assert_eq!(
            error.to_string(),
            "the recorded bytes are no reading: `VAC` does not fit the profile's pattern"
        );
        assert_eq!(
            error.hint().as_deref(),
            Some("the record was changed or was decoded with another profile: get the record again from its source")
        );
    }

    const FUNCTIONS: [Function; 11] = [
        Function::Continuity,
        Function::Resistance,
        Function::Insulation(250),
        Function::Insulation(500),
        Function::Insulation(1000),
        Function::VoltageAc,
        Function::VoltageDc,
        Function::Loop,
        Function::ResidualTrip(Multiple::Half),
        Function::ResidualTrip(Multiple::Once),
        Function::ResidualTrip(Multiple::FiveTimes),
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
            value in 0i64..4_000_000,
            scale in 0u32..6,
            over in prop::bool::weighted(0.1),
        ) {
            let value = Decimal::new(value, scale);
            for profile in shipped() {
                let Some((shown, unit)) = display(profile, function, value, 4) else {
                    continue;
                };
                let shown = if over { Shown::Over } else { Shown::Digits(shown) };
                let bytes = encode(profile, function, &shown, unit, &[]).unwrap();
                let heard = said(profile, &bytes);
                prop_assert_eq!(heard, (shown, unit.0, unit.1, Some(function)), "{}", profile.name);
            }
        }
    }

    /// What is heard of a frame that is sent as often as it has to be.
    fn said(profile: &Profile, bytes: &[u8]) -> (Shown, Prefix, Unit, Option<Function>) {
        let mut framer = Framer::new(&profile.frame, false);
        for _ in 1..profile.frame.agree {
            framer.push(bytes);
            assert_eq!(framer.poll(), Some(Piece::Unconfirmed));
        }
        framer.push(bytes);
        let Some(Piece::Frame { bytes, .. }) = framer.poll() else {
            panic!("no frame")
        };
        let Decoded::Reading(reading) = decode(profile, &bytes) else {
            panic!("no reading")
        };
        (reading.shown, reading.prefix, reading.unit, reading.function)
    }

    #[test]
    fn every_profile_can_show_ordinary_values_and_its_marks() {
        for profile in shipped() {
            let mut shown = 0;
            for function in FUNCTIONS {
                for value in ["0.42", "1.5", "231.4", "1000"] {
                    shown += usize::from(display(profile, function, value.parse().unwrap(), 4).is_some());
                }
            }
            assert!(6 <= shown, "{} shows {shown} of {}", profile.name, 4 * FUNCTIONS.len());
            let marked = profile.decode.meaning.flags.iter().filter_map(|(_, mark)| match mark {
                Mark::Flag(flag) => Some(*flag),
                _ => None,
            });
            for flag in marked {
                let (digits, unit) = display(profile, Function::VoltageDc, "12.5".parse().unwrap(), 4).unwrap();
                let bytes = encode(profile, Function::VoltageDc, &Shown::Digits(digits), unit, &[flag]).unwrap();
                let end = match &profile.frame.cut {
                    Cut::Line { end, .. } => end.len(),
                    _ => 0,
                };
                let heard = decode(profile, &bytes[..bytes.len() - end]);
                assert_eq!(heard, Decoded::Refused(flag.refusal().into()), "{}", profile.name);
            }
        }
    }
}
