//! Streams that were damaged on the way, for every shipped profile and so for each framing: what is sent is known, so what is read
//! can be held against it. Streams are frames of a simulated meter and pieces of the captures in `fixtures`, whose encoder is not
//! ours; one seed makes all of it, and is printed.
//!
//! The rule inside: whatever happens to the bytes, no decoder panics, the pieces do not depend on how the stream was
//! split, every reading decodes again from its bytes, and a frame that is guarded, by a checksum or by agreement, never
//! says what was not sent when one bit of it was turned.

mod files;

use coreproof::meter::decode::encode::{display, encode};
use coreproof::meter::decode::frame::{Framer, Piece};
use coreproof::meter::decode::{Cut, Profile};
use coreproof::meter::decode::{Decoded, Decoder, decode, decode_raw};
use coreproof::meter::profile::shipped;
use coreproof::value::quantity::Shown;
use coreproof::value::reading::{Flag, Function, Multiple, Origin, Reading};
use rust_decimal::Decimal;

/// Bytes of a capture that make one stream, at most.
const PIECE_BYTES_MAX: usize = 200;

/// A generator that gives the same numbers for the same seed (splitmix64, public domain, from memory).
struct Dice(u64);

impl Dice {
    fn next(&mut self) -> u64 {
        self.0 = self.0.wrapping_add(0x9e37_79b9_7f4a_7c15);
        let mut z = self.0;
        z = (z ^ z >> 30).wrapping_mul(0xbf58_476d_1ce4_e5b9);
        z = (z ^ z >> 27).wrapping_mul(0x94d0_49bb_1331_11eb);
        z ^ z >> 31
    }

    fn below(&mut self, bound: usize) -> usize {
        usize::try_from(self.next() % u64::try_from(bound).unwrap()).unwrap()
    }
}

/// Frames as a simulated meter sends them, with their terminators.
fn frames(profile: &Profile) -> Vec<Vec<u8>> {
    let functions = [
        Function::Resistance,
        Function::Continuity,
        Function::Insulation(500),
        Function::VoltageAc,
        Function::VoltageDc,
        Function::Loop,
        Function::ResidualTrip(Multiple::Once),
    ];
    let mut frames = Vec::new();
    for function in functions {
        for value in ["0.42", "1.5", "12.06", "231.4", "1203", "-3.1"] {
            let value: Decimal = value.parse().unwrap();
            let Some((digits, unit)) = display(profile, function, value, 4) else {
                continue;
            };
            for (shown, flags) in [
                (Shown::Digits(digits.clone()), &[][..]),
                (Shown::Over, &[]),
                (Shown::Digits(digits), &[Flag::Hold]),
            ] {
                frames.extend(encode(profile, function, &shown, unit, flags));
            }
        }
    }
    frames.sort();
    frames.dedup();
    assert!(10 < frames.len(), "{} says {} things", profile.name, frames.len());
    frames
}

/// What a meter of this family sent, by an encoder that was written apart from ours.
fn capture(profile: &Profile) -> Vec<u8> {
    let folder = std::path::Path::new(env!("CARGO_MANIFEST_DIR")).join("fixtures/captures");
    let found = ["txt", "bin"].map(|ext| std::fs::read(folder.join(format!("{}.{ext}", profile.name))));
    found
        .into_iter()
        .find_map(Result::ok)
        .expect("each family has a capture")
}

/// Every reading in a stream that arrives in pieces of at most `size_max` bytes, and all pieces in words.
fn heard(profile: &Profile, stream: &[u8], dice: &mut Dice, size_max: usize) -> (Vec<String>, Vec<String>) {
    let mut framer = Framer::new(&profile.frame, false);
    let mut decoder = Decoder::new(profile);
    let (mut readings, mut pieces, mut rest) = (Vec::new(), Vec::new(), stream);
    while !rest.is_empty() {
        let size = (1 + dice.below(size_max)).min(rest.len());
        framer.push(&rest[..size]);
        rest = &rest[size..];
        while let Some(piece) = framer.poll_borrowed() {
            if let Piece::Frame { bytes, .. } = &piece
                && let Decoded::Reading(reading) = decoder.decode(bytes)
            {
                let Origin::Meter { raw, .. } = &reading.origin else {
                    panic!("a meter's reading")
                };
                assert_eq!(decode_raw(profile, raw).as_ref(), Ok(&reading));
                let _ = reading.amount().map(|amount| amount.value());
                readings.push(said(&reading));
            }
            pieces.push(format!("{piece:?}"));
        }
    }
    (readings, pieces)
}

/// What a reading says, whatever the bytes that said it.
fn said(reading: &Reading) -> String {
    format!("{}, {:?}", reading.display(), reading.function)
}

/// Damage of any kind: bits, bytes lost, doubled or put in, and whole pieces of the stream moved.
fn damage(stream: &mut Vec<u8>, dice: &mut Dice) {
    for _ in 0..=dice.below(4) {
        let at = dice.below(stream.len());
        match dice.below(6) {
            0 => stream[at] ^= 1 << dice.below(8),
            1 => stream[at] = dice.next().to_le_bytes()[0],
            2 => {
                stream.remove(at);
            }
            3 => stream.insert(at, dice.next().to_le_bytes()[0]),
            4 => stream.truncate(at),
            _ => {
                let end = (at + dice.below(40)).min(stream.len());
                let piece = stream[at..end].to_vec();
                let to = dice.below(stream.len());
                stream.splice(to..to, piece);
            }
        }
        if stream.is_empty() {
            stream.push(b'\n');
        }
    }
}

/// Any damage to a stream: no panic, and the same pieces however it is split.
fn any_damage(profile: &Profile, frames: &[Vec<u8>], capture: &[u8], dice: &mut Dice) {
    let mut stream: Vec<u8> = if dice.below(3) == 0 {
        let from = dice.below(capture.len());
        capture[from..]
            .iter()
            .take(1 + dice.below(PIECE_BYTES_MAX))
            .copied()
            .collect()
    } else {
        (0..1 + dice.below(6))
            .flat_map(|_| frames[dice.below(frames.len())].clone())
            .collect()
    };
    damage(&mut stream, dice);
    let by_bytes = heard(profile, &stream, dice, 1);
    let by_pieces = heard(profile, &stream, dice, 64);
    assert_eq!(by_bytes, by_pieces, "{}: {stream:02x?}", profile.name);
}

/// One bit of one frame is turned: a guarded frame is then not read, or read as what was sent.
fn one_bit(profile: &Profile, frames: &[Vec<u8>], dice: &mut Dice) {
    let agree = profile.frame.agree as usize;
    let (before, hit, after) = (
        &frames[dice.below(frames.len())],
        &frames[dice.below(frames.len())],
        &frames[dice.below(frames.len())],
    );
    let mut turned = hit.clone();
    // the end of a line is not part of its frame: without it two lines run together, which is no frame that was sent
    turned[dice.below(hit.len())] ^= 1 << dice.below(8);
    let mut stream = before.repeat(agree);
    stream.extend(hit.repeat(agree - 1));
    stream.extend(turned);
    stream.extend(after.repeat(agree));
    let end = match &profile.frame.cut {
        Cut::Line { end, .. } => end.len(),
        Cut::Fixed { .. } | Cut::Delimited { .. } => 0,
    };
    let sent = [before, hit, after].map(|frame| match decode(profile, &frame[..frame.len() - end]) {
        Decoded::Reading(reading) => said(&reading),
        Decoded::Refused(_) | Decoded::NotUnderstood(_) => String::new(),
    });
    for reading in heard(profile, &stream, dice, 64).0 {
        assert!(sent.contains(&reading), "{}: `{reading}` was never sent", profile.name);
    }
}

/// Executions of each framing: lines, frames of one length, delimiters.
#[derive(Debug, Default)]
struct Executions {
    line: u64,
    fixed: u64,
    delimited: u64,
}

/// Runs so many cases over every shipped profile, that is over each framing and decoding.
fn run(seed: u64, cases: usize) -> Executions {
    let mut dice = Dice(seed);
    let mut executions = Executions::default();
    for profile in shipped() {
        let (frames, capture) = (frames(profile), capture(profile));
        let guarded = profile.frame.check.is_some() || 1 < profile.frame.agree;
        let count = match &profile.frame.cut {
            Cut::Line { .. } => &mut executions.line,
            Cut::Fixed { .. } => &mut executions.fixed,
            Cut::Delimited { .. } => &mut executions.delimited,
        };
        for _ in 0..cases {
            any_damage(profile, &frames, &capture, &mut dice);
            *count += 2;
            if guarded {
                one_bit(profile, &frames, &mut dice);
                *count += 1;
            }
        }
    }
    executions
}

#[test]
fn damaged_streams_are_survived_and_guarded_frames_say_nothing_wrong() {
    let executions = run(1, 250);
    println!("{executions:?}");
    let least = executions.line.min(executions.fixed).min(executions.delimited);
    assert!(500 <= least, "{executions:?}");
}

/// A number that the environment gives.
#[cfg(feature = "long")]
fn number(name: &str) -> Option<u64> {
    std::env::var(name).ok().and_then(|number| number.parse().ok())
}

/// The long run; its seed is printed, and another can be given, so that a failure can be run again.
#[cfg(feature = "long")]
#[test]
fn damaged_streams_are_survived_for_long() {
    let seed = number("COREPROOF_SEED").unwrap_or(2);
    println!("COREPROOF_SEED={seed}");
    let cases = number("COREPROOF_CASES").and_then(|cases| usize::try_from(cases).ok());
    println!("{:?}", run(seed, cases.unwrap_or(150_000)));
}
