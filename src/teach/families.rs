//! Families whose shipped profile is withheld: an engineer who can make the meter show anything, and a learner.
//!
//! The rule inside: what was learnt reads a frame as the withheld profile does, or refuses it; never otherwise.

use super::display::Display;
use super::learner::{DISPLAYS_MAX, Learner, Learnt, TeachError};
use super::wish::Wish;
use crate::meter::decode::encode::encode;
use crate::meter::decode::frame::{Framer, Piece};
use crate::meter::decode::meaning::Parts;
use crate::meter::decode::{Cut, Decoded, Profile, decode};
use crate::meter::profile::find;
use crate::value::quantity::{Digits, Prefix, Shown, Unit};
use crate::value::reading::Function;

/// A generator that gives the same numbers for the same seed (splitmix64, public domain, from memory).
struct Dice(u64);

impl Dice {
    fn below(&mut self, bound: usize) -> usize {
        self.0 = self.0.wrapping_add(0x9e37_79b9_7f4a_7c15);
        let mut z = self.0;
        z = (z ^ z >> 30).wrapping_mul(0xbf58_476d_1ce4_e5b9);
        z = (z ^ z >> 27).wrapping_mul(0x94d0_49bb_1331_11eb);
        usize::try_from((z ^ z >> 31) % u64::try_from(bound).unwrap()).unwrap()
    }
}

const FUNCTIONS: [Function; 7] = [
    Function::VoltageDc,
    Function::Resistance,
    Function::VoltageAc,
    Function::Continuity,
    Function::Insulation(250),
    Function::Insulation(500),
    Function::Insulation(1000),
];
const PREFIXES: [Prefix; 5] = [Prefix::One, Prefix::Kilo, Prefix::Mega, Prefix::Milli, Prefix::Giga];

fn frame(withheld: &Profile, display: &Display) -> Option<Vec<u8>> {
    let unit = (display.prefix, display.unit);
    encode(withheld, display.function, &display.shown, unit, &[]).ok()
}

fn digits(text: &str) -> Shown {
    Shown::Digits(Digits::parse(text).unwrap())
}

/// The bytes of a display that stands, heard from the middle of a frame; a counter of frames runs on.
fn stream(withheld: &Profile, frame: &[u8], start: usize, dice: &mut Dice) -> Vec<u8> {
    let mut bytes = Vec::new();
    for n in 0..12 {
        let mut frame = frame.to_vec();
        if withheld.name == "binary-scaled-range" {
            frame[6] = (start + n).to_le_bytes()[0];
            assert!(withheld.frame.check.unwrap().seal(&mut frame));
        }
        bytes.extend(frame);
    }
    bytes.split_off(dice.below(frame.len()))
}

/// Numbers of four figures with these first, in all places of the point.
fn numbers(unseen: &str, seed: usize) -> Vec<String> {
    let all: String = format!("{unseen}1234567890");
    let figures: Vec<char> = all.chars().collect();
    let take = |from: usize| figures[from..from + 4].iter().collect::<String>();
    let mut texts = Vec::new();
    for from in 0..figures.len() - 4 {
        let four = take(from);
        for point in [2, 1, 3].map(|point| (point + seed) % 3 + 1) {
            texts.push(format!("{}.{}", &four[..point], &four[point..]));
        }
    }
    texts
}

/// The first display that fulfils a wish and that the meter can show.
fn fulfil(
    withheld: &Profile,
    wish: &Wish,
    shown: usize,
    before: &[Display],
    dice: &mut Dice,
) -> Option<(Display, Vec<u8>)> {
    let mut all = Vec::new();
    for function in FUNCTIONS {
        for prefix in PREFIXES {
            let unseen = match wish {
                Wish::Digits | Wish::OverRange { .. } | Wish::Examination { .. } => "",
                Wish::Negative { unseen, .. }
                | Wish::OtherQuantity { unseen, .. }
                | Wish::OtherFunction { unseen, .. }
                | Wish::OtherPrefix { unseen, .. }
                | Wish::OtherPoint { unseen, .. }
                | Wish::OtherDigits { unseen, .. } => unseen,
            };
            for text in numbers(unseen, shown) {
                let sign = if matches!(wish, Wish::Negative { .. }) { "-" } else { "" };
                all.push(Display {
                    shown: match wish {
                        Wish::OverRange { .. } => Shown::Over,
                        _ => digits(&format!("{sign}{text}")),
                    },
                    prefix,
                    unit: function.unit(),
                    function,
                });
            }
        }
    }
    let fits = |one: &Display| match wish {
        Wish::Digits => one.figures() != "0000" && one.decimals() == 2,
        Wish::Negative { like, .. } | Wish::OtherDigits { like, .. } => {
            one.function == like.function && one.prefix == like.prefix && one.decimals() == like.decimals()
        }
        Wish::OtherQuantity { than, .. } => one.unit != than.unit,
        Wish::OtherFunction { than, .. } => {
            one.unit_text() == than.unit_text() && one.function != than.function && one.decimals() == than.decimals()
        }
        Wish::OtherPrefix { than, .. } => one.function == than.function && one.prefix != than.prefix,
        Wish::OtherPoint { than, .. } => {
            one.function == than.function && one.prefix == than.prefix && one.decimals() != than.decimals()
        }
        Wish::OverRange { like } => one.function == like.function,
        Wish::Examination { like } => {
            before.iter().any(|known| {
                known.function == like.function
                    && known.function == one.function
                    && known.prefix == one.prefix
                    && known.decimals() == one.decimals()
                    && known.number().is_some()
            }) && before.iter().all(|known| known.number() != one.number())
        }
    };
    let unseen = match wish {
        Wish::Digits | Wish::OverRange { .. } | Wish::Examination { .. } => "0123456789",
        Wish::Negative { unseen, .. }
        | Wish::OtherQuantity { unseen, .. }
        | Wish::OtherFunction { unseen, .. }
        | Wish::OtherPrefix { unseen, .. }
        | Wish::OtherPoint { unseen, .. }
        | Wish::OtherDigits { unseen, .. } => unseen,
    };
    let new = |one: &Display| unseen.chars().filter(|digit| one.figures().contains(*digit)).count();
    let fitting = all.into_iter().filter(fits);
    let mut known: Vec<_> = fitting
        .filter_map(|one| frame(withheld, &one).map(|bytes| (one, bytes)))
        .collect();
    // with as many new digits as fit; which of those, the seed says, so that no two engineers show the same
    let most = known.iter().map(|(one, _)| new(one)).max()?;
    known.retain(|(one, _)| new(one) == most);
    Some(known.swap_remove(dice.below(known.len())))
}

/// Teaches a family by the learner's own wishes; what was shown, and what came of it.
fn taught(name: &str, seed: u64) -> (Vec<Display>, Result<Learnt, TeachError>) {
    let withheld = find(name).unwrap();
    let (mut learner, mut dice) = (Learner::new(), Dice(seed));
    while learner.displays().len() < DISPLAYS_MAX {
        let shown = learner.displays().len();
        let wishes = learner.wishes();
        let Some(wish) = wishes.first() else { break };
        let Some((display, frame)) = fulfil(withheld, wish, shown, learner.displays(), &mut dice) else {
            learner.lacks(wish);
            continue;
        };
        let bytes = stream(withheld, &frame, 53 * shown, &mut dice);
        learner
            .show(display.clone(), &bytes)
            .unwrap_or_else(|error| panic!("{name}, {display}: {error}"));
    }
    (
        learner.displays().to_vec(),
        learner.finish("learnt", &withheld.line, true),
    )
}

/// What is read in a frame that is sent again and again.
fn heard(profile: &Profile, frame: &[u8]) -> Option<Parts> {
    let mut framer = Framer::new(&profile.frame, true);
    framer.push(&frame.repeat(5));
    let mut last = None;
    while let Some(piece) = framer.poll() {
        if let Piece::Frame { bytes, .. } = piece {
            last = match decode(profile, &bytes) {
                Decoded::Reading(reading) => Some(Parts {
                    shown: reading.shown,
                    prefix: reading.prefix,
                    unit: reading.unit,
                    function: reading.function,
                    flags: reading.flags,
                }),
                _ => None,
            };
        }
    }
    last
}

/// Frames that the withheld profile can send: any function, unit, number, over-range, and marks.
fn any_frame(withheld: &Profile, dice: &mut Dice) -> Vec<u8> {
    loop {
        let function = FUNCTIONS[dice.below(7)];
        let figures = format!("{:04}", dice.below(10_000));
        let point = dice.below(4);
        let sign = if dice.below(4) == 0 { "-" } else { "" };
        let (whole, fraction) = figures.split_at(point);
        let text = if point == 0 {
            figures.clone()
        } else {
            format!("{sign}{whole}.{fraction}")
        };
        let shown = if dice.below(10) == 0 {
            Shown::Over
        } else {
            digits(&text)
        };
        let marks = withheld.decode.meaning.flags.iter().filter_map(|(_, mark)| match mark {
            crate::meter::decode::meaning::Mark::Flag(flag) => Some(*flag),
            _ => None,
        });
        let marks: Vec<_> = marks.filter(|_| dice.below(12) == 0).collect();
        let unit = (PREFIXES[dice.below(5)], function.unit());
        if let Ok(frame) = encode(withheld, function, &shown, unit, &marks) {
            return frame;
        }
    }
}

/// Turns one bit, a mark that nobody has seen perhaps, and makes the checksum right again.
fn turn_a_bit(withheld: &Profile, frame: &mut [u8], dice: &mut Dice) {
    let Cut::Fixed { bytes, .. } = withheld.frame.cut else {
        return;
    };
    frame[dice.below(bytes)] ^= 1 << dice.below(8);
    assert!(withheld.frame.check.is_none_or(|check| check.seal(frame)));
}

/// Another number in a function, unit and place of the point that was shown.
fn like(withheld: &Profile, shown: &[Display], dice: &mut Dice) -> Option<(Display, Vec<u8>)> {
    let one = &shown[dice.below(shown.len())];
    let figures = one.figures().len();
    let text = format!("{:0figures$}", dice.below(10usize.pow(u32::try_from(figures).unwrap())));
    let (whole, fraction) = text.split_at(figures - one.decimals());
    let below_zero =
        |other: &Display| other.is_negative() && other.function == one.function && other.prefix == one.prefix;
    let sign = if shown.iter().any(below_zero) && dice.below(3) == 0 {
        "-"
    } else {
        ""
    };
    let display = Display {
        shown: digits(&format!("{sign}{whole}.{fraction}")),
        ..one.clone()
    };
    frame(withheld, &display).map(|bytes| (display, bytes))
}

fn check(name: &str) {
    let withheld = find(name).unwrap();
    for seed in 1..=5 {
        let (shown, learnt) = taught(name, seed);
        assert!(shown.len() <= DISPLAYS_MAX);
        let learnt = learnt.unwrap_or_else(|error| panic!("{name}: {error}")).profile;
        let mut dice = Dice(seed + 6);
        let (mut read, mut valid) = (0, 0);
        for _ in 0..200 {
            let mut frame = any_frame(withheld, &mut dice);
            if dice.below(3) == 0 {
                turn_a_bit(withheld, &mut frame, &mut dice);
            }
            let (truth, found) = (heard(withheld, &frame), heard(&learnt, &frame));
            valid += usize::from(truth.is_some());
            read += usize::from(found.is_some());
            if found.is_some() {
                assert_eq!(found, truth, "{name}, seed {seed}: {frame:02x?}");
            }
        }
        // what is like a number that was shown has to be read, not only refused
        let numbers: Vec<Display> = shown.into_iter().filter(|one| one.number().is_some()).collect();
        let mut owed = 0;
        while owed < 50 {
            if let Some((display, frame)) = like(withheld, &numbers, &mut dice) {
                let truth = heard(withheld, &frame);
                assert!(truth.is_some());
                assert_eq!(heard(&learnt, &frame), truth, "{name}, seed {seed}: {display}");
                owed += 1;
            }
        }
        println!("{name}, seed {seed}: {read} of {valid} readings of any kind are read, the others refused");
    }
}

#[test]
fn text_is_learnt() {
    for name in ["line-stream", "ascii-columns-fixed", "ascii-delimited"] {
        check(name);
    }
}

#[test]
fn segments_are_learnt() {
    check("segment-14");
    check("segment-sync");
}

#[test]
fn packed_digits_are_learnt() {
    check("bcd-sync");
}

#[test]
fn scaled_counts_and_floats_are_learnt() {
    check("binary-scaled-range");
    check("float-le-checksum");
}

#[test]
fn numbers_with_an_exponent_are_learnt_in_plain_units() {
    let mut learner = Learner::new();
    for (display, line) in [
        ("12.34 V dc", "VOLT +1.23412E+01"),
        ("-5.678 V dc", "VOLT -5.67790E+00"),
        ("9.012 kohm", "RES +9.01199E+03"),
        ("OL Mohm", "RES +9.90000E+37"),
        ("230.1 V ac", "VAC +2.30052E+02"),
    ] {
        let display = Display::parse(display).unwrap();
        learner
            .show(display, format!("{line}\r\n").repeat(6).as_bytes())
            .unwrap();
    }
    let line = &find("line-stream").unwrap().line;
    let learnt = learner.write("learnt", line, true).unwrap().profile;
    for (line, expected) in [
        ("RES +4.20000E-01", Some("+4.20000E-01 ohm")),
        ("RES +9.90000E+37", Some("OL (ohm)")),
        ("VAC +1.15000E+02", Some("+1.15000E+02 V")),
        ("CURR +1.00000E+00", None),
    ] {
        let found = match decode(&learnt, line.as_bytes()) {
            Decoded::Reading(reading) => Some(reading.display()),
            _ => None,
        };
        assert_eq!(found.as_deref(), expected, "{line}");
    }
}

/// The family of `ascii-line-checksum`, which is withheld; the sums were worked out apart from this program, by `sum(line) % 256`.
#[test]
fn a_checksum_inside_a_line_is_learnt_and_then_guards_it() {
    let sealed = |line: &str| format!("{line}*{:02X}", line.bytes().fold(0u8, u8::wrapping_add));
    assert_eq!(sealed("RES,+4.2000E-01,OHM,"), "RES,+4.2000E-01,OHM,*74");
    let mut learner = Learner::new();
    for (display, line) in [
        ("12.34 V dc", "VDC,+1.2341E+01,V,"),
        ("-5.678 V dc", "VDC,-5.6779E+00,V,"),
        ("901.2 ohm", "RES,+9.0119E+02,OHM,"),
        ("34.56 ohm", "RES,+3.4560E+01,OHM,"),
        ("230.1 V ac", "VAC,+2.3005E+02,V,"),
    ] {
        let display = Display::parse(display).unwrap();
        let stream = format!("{}\r", sealed(line)).repeat(6);
        learner.show(display, stream.as_bytes()).unwrap();
    }
    let line = &find("ascii-line-checksum").unwrap().line;
    let learnt = learner.write("learnt", line, true).unwrap().profile;
    assert!(learnt.frame.check.is_some());
    for (line, expected) in [
        (sealed("RES,+4.2000E-01,OHM,"), Some("+4.2000E-01 ohm")),
        (sealed("VAC,+1.1500E+02,V,"), Some("+1.1500E+02 V")),
        ("RES,+4.2000E-01,OHM,*75".into(), None),
        ("RES,+4.2001E-01,OHM,*74".into(), None),
        // a mark that was never seen
        (sealed("RES,+4.2000E-01,OHM,H"), None),
    ] {
        let found = match decode(&learnt, line.as_bytes()) {
            Decoded::Reading(reading) => Some(reading.display()),
            _ => None,
        };
        assert_eq!(found.as_deref(), expected, "{line}");
    }
}

#[test]
fn a_number_with_an_exponent_that_rounds_otherwise_is_not_the_display() {
    let mut learner = Learner::new();
    for (display, line) in [
        ("12.34 V dc", "VOLT +1.23412E+01"),
        ("-5.678 V dc", "VOLT -5.67790E+00"),
        ("90.12 V dc", "VOLT +9.01260E+01"),
    ] {
        let display = Display::parse(display).unwrap();
        // the last rounds to 90.13
        let _ = learner.show(display, format!("{line}\r\n").repeat(6).as_bytes());
    }
    assert!(learner.is_settled().is_err());
}

#[test]
fn a_value_that_stands_twice_is_ambiguous() {
    let mut learner = Learner::new();
    for (text, word) in [
        ("12.34", "V"),
        ("-56.78", "V"),
        ("90.12", "V"),
        ("34.56", "V"),
        ("78.91", "V"),
    ] {
        let display = Display {
            shown: digits(text),
            prefix: Prefix::One,
            unit: Unit::Volt,
            function: Function::VoltageDc,
        };
        learner
            .show(display, format!("{text};{text};{word}\r\n").repeat(6).as_bytes())
            .unwrap();
    }
    let error = learner.is_settled().unwrap_err();
    assert_eq!(
        error.to_string(),
        "2 explanations are left after 5 displays: the value may be text, the value in word 2, the function after it, \
         the unit after it, or text, the value in word 1, the function after it, the unit after it"
    );
}

#[test]
fn digits_that_stand_twice_in_bits_are_ambiguous() {
    let mut learner = Learner::new();
    for (text, high, low) in [
        ("12.34 V dc", 0x12, 0x34),
        ("56.78 V dc", 0x56, 0x78),
        ("90.12 V dc", 0x90, 0x12),
        ("34.56 V dc", 0x34, 0x56),
        ("78.91 V dc", 0x78, 0x91),
    ] {
        let frame = [0xa5, 0x5a, high, low, high, low, 0];
        learner.show(Display::parse(text).unwrap(), &frame.repeat(8)).unwrap();
    }
    let error = learner.is_settled().unwrap_err();
    assert_eq!(
        error.to_string(),
        "3 explanations are left after 5 displays: the value may be 4 packed decimal digits in 2 3, high byte first, or 4 \
         packed decimal digits in 4 3, low byte first"
    );
}
