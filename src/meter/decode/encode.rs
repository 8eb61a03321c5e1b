//! A simulated meter's voice: readings to frames, and what it hears when it is asked.
//!
//! The rule inside: what is written has been read back by the decoder first, so a simulated meter can
//! only say what a real one could.

use std::borrow::Cow;

use rust_decimal::Decimal;
use rust_decimal::prelude::ToPrimitive;

use super::decoder::read;
use super::frame::{Framer, Piece};
use super::meaning::{Part, Parts, Words, printable};
use super::{Cut, Decode, Framing, Profile, Take, Talk};
use crate::explain::Explain;
use crate::value::quantity::{Digits, Prefix, Shown, Unit};
use crate::value::raw::Raw;
use crate::value::reading::{Flag, Function};

/// Why a profile cannot say this.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
pub enum EncodeError {
    /// The profile has no such position of the dial.
    #[error("profile `{profile}` has no {function}")]
    NoFunction {
        /// The profile, by its name.
        profile: String,
        /// The position that was asked for, in words.
        function: String,
    },
    /// The profile has no such unit there.
    #[error("profile `{profile}` has no unit `{unit}` for this function")]
    NoUnit {
        /// The profile, by its name.
        profile: String,
        /// The unit with its prefix.
        unit: String,
    },
    /// The profile cannot show one of the marks.
    #[error("profile `{profile}` has no mark for one of the flags")]
    NoFlag {
        /// The profile, by its name.
        profile: String,
    },
    /// The profile has no over-range of this kind.
    #[error("profile `{profile}` cannot show over-range this way")]
    NoOverRange {
        /// The profile, by its name.
        profile: String,
    },
    /// No frame has room for these digits.
    #[error("profile `{profile}` has no frame that shows {shown} as {function}")]
    NoFrame {
        /// The profile, by its name.
        profile: String,
        /// What was to be shown.
        shown: String,
        /// As which position of the dial.
        function: String,
    },
    /// A frame was made and does not read as what it was made of.
    #[error("profile `{profile}` would read `{text}` back as something else")]
    NotReadBack {
        /// The profile, by its name.
        profile: String,
        /// What was to be shown.
        text: String,
    },
}

impl Explain for EncodeError {
    fn hint(&self) -> Option<String> {
        let profile = match self {
            EncodeError::NoFunction { profile, .. }
            | EncodeError::NoUnit { profile, .. }
            | EncodeError::NoFlag { profile }
            | EncodeError::NoOverRange { profile }
            | EncodeError::NoFrame { profile, .. }
            | EncodeError::NotReadBack { profile, .. } => profile,
        };
        Some(format!(
            "rehearse with another profile, or add what is missing to `{profile}`"
        ))
    }
}

/// The bytes of one frame with its terminator.
pub fn encode(
    profile: &Profile,
    function: Function,
    shown: &Shown,
    (prefix, unit): (Prefix, Unit),
    flags: &[Flag],
) -> Result<Vec<u8>, EncodeError> {
    let mut flags = flags.to_vec();
    flags.sort_unstable();
    flags.dedup();
    let parts = Parts {
        shown: shown.clone(),
        prefix,
        unit,
        function: Some(function),
        flags,
    };
    let name = || profile.name.clone();
    let mut frame = write(&profile.frame, &profile.decode, &parts).map_err(|unwritten| match unwritten {
        Unwritten::Part(Part::Function) => EncodeError::NoFunction {
            profile: name(),
            function: function.dial(),
        },
        Unwritten::Part(Part::Unit) => EncodeError::NoUnit {
            profile: name(),
            unit: format!("{}{unit}", prefix.letter()),
        },
        Unwritten::Part(Part::Flags) => EncodeError::NoFlag { profile: name() },
        Unwritten::Part(Part::Value) => EncodeError::NoOverRange { profile: name() },
        Unwritten::NoFrame => EncodeError::NoFrame {
            profile: name(),
            shown: in_words(shown, prefix, unit),
            function: function.dial(),
        },
        Unwritten::ReadOtherwise(text) => EncodeError::NotReadBack { profile: name(), text },
    })?;
    if let Cut::Line { end, .. } = &profile.frame.cut {
        frame.extend_from_slice(end);
    }
    Ok(frame)
}

fn in_words(shown: &Shown, prefix: Prefix, unit: Unit) -> String {
    match shown {
        Shown::Digits(digits) => format!("{} {}{unit}", digits.text(), prefix.letter()),
        Shown::Above(digits) => format!(">{} {}{unit}", digits.text(), prefix.letter()),
        Shown::Over => "over-range".into(),
    }
}

/// Why a frame cannot be written.
#[derive(Debug, Clone, PartialEq, Eq)]
pub(crate) enum Unwritten {
    /// The profile has no word for this part.
    Part(Part),
    /// The words do not fit into the places of a frame.
    NoFrame,
    /// A frame was written that would be read as something else.
    ReadOtherwise(String),
}

/// Writes a frame without its terminator, and reads it back.
pub(crate) fn write(framing: &Framing, decode: &Decode, parts: &Parts) -> Result<Vec<u8>, Unwritten> {
    let words = decode.meaning.write(parts).map_err(Unwritten::Part)?;
    let (mut frame, text) = match &decode.take {
        Take::Pattern(pattern) => {
            let text = pattern.write(&words);
            (around(framing, text.as_bytes()), printable(&text))
        }
        Take::Fields(fields) => {
            let free = parts.shown == Shown::Over && decode.meaning.over_is_a_mark();
            // under a mark of over-range the digits mean nothing, so any that fit will do
            let zeros = ["0", "0.0", "0.00", "0.000", "0000", "000.0", "00.00"];
            let values = if free { &zeros[..] } else { &[words.value.as_ref()] };
            let frame = values.iter().find_map(|value| {
                let words = Words {
                    value: Cow::Borrowed(value),
                    ..words.clone()
                };
                fields.write(&words)
            });
            let frame = frame.ok_or(Unwritten::NoFrame)?;
            let text = Raw::new(&frame).to_string();
            (frame, text)
        }
    };
    let sealed = framing.check.is_none_or(|check| check.seal(&mut frame));
    let whole = match &framing.cut {
        Cut::Line { end, .. } => !frame.windows(end.len()).any(|window| window == end),
        Cut::Fixed { .. } | Cut::Delimited { .. } => true,
    };
    let fits = frame.len() <= framing.bytes_max();
    if sealed && whole && fits && read(framing, decode, &frame).as_ref() == Ok(parts) {
        Ok(frame)
    } else {
        Err(Unwritten::ReadOtherwise(text))
    }
}

/// A text with the delimiters of its frame, and room for what follows them.
fn around(framing: &Framing, text: &[u8]) -> Vec<u8> {
    match &framing.cut {
        Cut::Delimited { start, end, after, .. } => [start, text, end, &vec![0; *after]].concat(),
        Cut::Line { .. } | Cut::Fixed { .. } => text.to_vec(),
    }
}

/// The units in which a profile can show a function, in the order of the profile.
pub fn units(profile: &Profile, function: Function) -> Vec<(Prefix, Unit)> {
    let meaning = &profile.decode.meaning;
    let mut dials = meaning.functions.iter().map(|(_, dial)| dial);
    let Some(dial) = dials.find(|dial| dial.function == function) else {
        return Vec::new();
    };
    let known = meaning.units.iter().map(|(_, unit)| unit);
    let mut units: Vec<(Prefix, Unit)> = Vec::new();
    for unit in dial
        .unit
        .into_iter()
        .chain(known.filter(|(_, unit)| *unit == function.unit()))
    {
        if !units.contains(&unit) {
            units.push(unit);
        }
    }
    units
}

/// What a display of so many digits would show of an exact value in the plain unit, in the range of finest resolution
/// that the profile can say; `None` where it is over every range.
///
/// ```
/// use coreproof::meter::{decode::encode::display, profile::find};
/// use coreproof::value::{quantity::Shown, reading::Function};
/// let segments = find("segment-14").unwrap();
/// let (digits, _) = display(segments, Function::VoltageAc, "239.84".parse().unwrap(), 4).unwrap();
/// assert_eq!(digits.text(), "239.8");
/// ```
pub fn display(
    profile: &Profile,
    function: Function,
    value: Decimal,
    digits_max: usize,
) -> Option<(Digits, (Prefix, Unit))> {
    let mut best: Option<(Decimal, Digits, (Prefix, Unit))> = None;
    for (prefix, unit) in units(profile, function) {
        for decimals in 0..=9 {
            let resolution = Decimal::new(1, decimals) * prefix.factor();
            if best.as_ref().is_some_and(|(known, ..)| *known <= resolution) {
                continue;
            }
            let found = widths(value / prefix.factor(), decimals, digits_max)
                .into_iter()
                .find(|digits| {
                    let shown = Shown::Digits(digits.clone());
                    encode(profile, function, &shown, (prefix, unit), &[]).is_ok()
                });
            if let Some(digits) = found {
                best = Some((resolution, digits, (prefix, unit)));
            }
        }
    }
    best.map(|(_, digits, unit)| (digits, unit))
        .or_else(|| scientific(profile, function, value, digits_max))
}

/// A value in the NR3 form of IEEE 488.2, for profiles that send nothing else.
fn scientific(
    profile: &Profile,
    function: Function,
    value: Decimal,
    digits_max: usize,
) -> Option<(Digits, (Prefix, Unit))> {
    units(profile, function).into_iter().find_map(|(prefix, unit)| {
        let float = (value / prefix.factor()).to_f64()?;
        let text = format!("{float:+.decimals$e}", decimals = digits_max.max(1) - 1);
        let (mantissa, exponent) = text.split_once('e')?;
        let digits = Digits::parse(&format!("{mantissa}E{:+03}", exponent.parse::<i32>().ok()?))?;
        let shown = Shown::Digits(digits.clone());
        encode(profile, function, &shown, (prefix, unit), &[])
            .is_ok()
            .then_some((digits, (prefix, unit)))
    })
}

/// The spellings of a value with so many decimals: plain, and with leading zeros up to the width of the display.
fn widths(value: Decimal, decimals: u32, digits_max: usize) -> Vec<Digits> {
    let mut rounded = value.round_dp(decimals);
    rounded.rescale(decimals);
    let text = rounded.abs().to_string();
    let sign = if rounded.is_sign_negative() && !rounded.is_zero() {
        "-"
    } else {
        ""
    };
    let figures = text.bytes().filter(u8::is_ascii_digit).count();
    let spellings = (figures..=digits_max).map(|width| format!("{sign}{}{text}", "0".repeat(width - figures)));
    spellings.filter_map(|text| Digits::parse(&text)).collect()
}

/// What a simulated meter was sent.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Heard {
    /// One of the profile's lines of set-up, which is not answered.
    Setup(String),
    /// It is asked for a reading: answer with [`encode`].
    Ask,
    /// A line that the profile does not send.
    Unknown(String),
}

/// The ear of a simulated meter; a meter that only streams hears nothing.
#[derive(Debug, Clone)]
pub struct Ear {
    lines: Option<Framer>,
    setup: Vec<String>,
    ask: String,
}

impl Ear {
    /// An ear for the lines that this profile sends.
    pub fn new(profile: &Profile) -> Ear {
        match &profile.talk {
            Talk::Stream => Ear {
                lines: None,
                setup: Vec::new(),
                ask: String::new(),
            },
            Talk::Query { setup, ask, end } => {
                let framing = Framing::line(end.as_bytes(), 4096);
                Ear {
                    lines: Some(Framer::new(&framing, false)),
                    setup: setup.clone(),
                    ask: ask.clone(),
                }
            }
        }
    }

    /// Takes bytes as they come.
    pub fn push(&mut self, bytes: &[u8]) {
        if let Some(lines) = &mut self.lines {
            lines.push(bytes);
        }
    }

    /// The next whole line that was heard.
    pub fn poll(&mut self) -> Option<Heard> {
        match self.lines.as_mut()?.poll()? {
            Piece::Frame { bytes, .. } => {
                let line = String::from_utf8_lossy(&bytes).into_owned();
                Some(if line == self.ask {
                    Heard::Ask
                } else if self.setup.contains(&line) {
                    Heard::Setup(line)
                } else {
                    Heard::Unknown(line)
                })
            }
            Piece::Unconfirmed => None,
            Piece::Dropped(count) => Some(Heard::Unknown(format!("{count} bytes without a line end"))),
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::meter::profile::find;
    use crate::value::quantity::Digits;
    use crate::value::reading::Multiple;

    fn said(profile: &str, function: Function, shown: Shown, unit: (Prefix, Unit), flags: &[Flag]) -> String {
        match encode(find(profile).unwrap(), function, &shown, unit, flags) {
            Ok(bytes) => String::from_utf8(bytes).unwrap().escape_debug().to_string(),
            Err(error) => {
                assert_eq!(
                    error.hint().unwrap(),
                    format!("rehearse with another profile, or add what is missing to `{profile}`")
                );
                error.to_string()
            }
        }
    }

    const OHM: (Prefix, Unit) = (Prefix::One, Unit::Ohm);
    const MOHM: (Prefix, Unit) = (Prefix::Mega, Unit::Ohm);
    const VOLT: (Prefix, Unit) = (Prefix::One, Unit::Volt);

    fn digits(text: &str) -> Shown {
        Shown::Digits(Digits::parse(text).unwrap())
    }

    fn above(text: &str) -> Shown {
        Shown::Above(Digits::parse(text).unwrap())
    }

    #[test]
    fn a_simulated_meter_speaks_the_line_stream() {
        let check = |function, shown, unit, flags: &[Flag], expected: &str| {
            assert_eq!(said("line-stream", function, shown, unit, flags), expected);
        };
        check(
            Function::Continuity,
            digits("0.42"),
            OHM,
            &[],
            "LOWOHM;0.42;ohm;-\\r\\n",
        );
        check(
            Function::Insulation(500),
            above("299"),
            MOHM,
            &[],
            "INS500;>299;Mohm;-\\r\\n",
        );
        check(Function::Resistance, Shown::Over, MOHM, &[], "OHMS;OL;Mohm;-\\r\\n");
        check(Function::Loop, digits("0.84"), OHM, &[], "LOOP;0.84;ohm;-\\r\\n");
        let half = Function::ResidualTrip(Multiple::Half);
        check(
            half,
            above("1999"),
            (Prefix::Milli, Unit::Second),
            &[],
            "TRIP05;>1999;ms;-\\r\\n",
        );
        let both = [Flag::LowBattery, Flag::Hold];
        check(
            Function::VoltageAc,
            digits("231.4"),
            VOLT,
            &both,
            "VAC;231.4;V;HB\\r\\n",
        );
        let misread = "profile `line-stream` would read `LOWOHM;1E3;ohm;-` back as something else";
        check(Function::Continuity, digits("1E3"), OHM, &[], misread);
    }

    #[test]
    fn a_simulated_meter_answers_a_query() {
        let check = |function, shown, unit, flags: &[Flag], expected: &str| {
            let said = said("query-488", function, shown, unit, flags).replace('\\', "");
            assert_eq!(said, expected);
        };
        let ohms = Function::Resistance;
        check(ohms, digits("+4.20000000E-01"), OHM, &[], "+4.20000000E-01;\"RES\"n");
        check(
            Function::VoltageAc,
            Shown::Over,
            VOLT,
            &[],
            "+9.90000000E+37;\"VOLT:AC\"n",
        );
        let no_function = "profile `query-488` has no low-resistance continuity";
        check(Function::Continuity, digits("1"), OHM, &[], no_function);
        let no_unit = "profile `query-488` has no unit `Mohm` for this function";
        check(ohms, digits("1"), MOHM, &[], no_unit);
        let no_flag = "profile `query-488` has no mark for one of the flags";
        check(ohms, digits("1"), OHM, &[Flag::Hold], no_flag);
        check(
            ohms,
            above("1"),
            OHM,
            &[],
            "profile `query-488` cannot show over-range this way",
        );
    }

    #[test]
    fn what_no_frame_shows_is_named_and_a_display_rounds_to_what_one_does() {
        let unit = |prefix| (prefix, Unit::Ohm);
        assert_eq!(
            said(
                "segment-14",
                Function::Resistance,
                digits("0.36"),
                unit(Prefix::One),
                &[]
            ),
            "profile `segment-14` has no frame that shows 0.36 ohm as ohms"
        );
        let check = |profile, value: &str, expected: &str| {
            let shown = display(find(profile).unwrap(), Function::Resistance, value.parse().unwrap(), 4);
            let words = shown.map_or("over".into(), |(digits, (prefix, unit))| {
                format!("{} {}{unit}", digits.text(), prefix.letter())
            });
            assert_eq!(words, expected, "{profile}");
        };
        check("segment-14", "0.3649", "0.365 ohm");
        check("segment-14", "123456", "123.5 kohm");
        check("bcd-sync", "0.3649", "00.36 ohm");
        check("binary-scaled-range", "1203.4", "1.203 kohm");
        check("ascii-line-checksum", "0.42", "+4.200E-01 ohm");
        check("segment-sync", "99000000000", "over");
    }

    #[test]
    fn the_units_of_a_function_are_known() {
        let of = |profile, function| {
            let units = units(find(profile).unwrap(), function);
            let words: Vec<String> = units.iter().map(|(p, u)| format!("{}{u}", p.letter())).collect();
            words.join(" ")
        };
        assert_eq!(of("line-stream", Function::VoltageDc), "mV V kV");
        assert_eq!(of("query-488", Function::Resistance), "ohm");
        assert_eq!(of("query-488", Function::Continuity), "");
    }

    #[test]
    fn an_ear_tells_questions_from_the_rest() {
        let mut ear = Ear::new(find("query-488").unwrap());
        ear.push(b"*CLS\nREAD?;:FU");
        assert_eq!(ear.poll(), Some(Heard::Setup("*CLS".into())));
        assert_eq!(ear.poll(), None);
        ear.push(b"NC?\n*IDN?\n");
        assert_eq!(ear.poll(), Some(Heard::Ask));
        assert_eq!(ear.poll(), Some(Heard::Unknown("*IDN?".into())));
        ear.push(&[b'x'; 5000]);
        assert_eq!(ear.poll(), Some(Heard::Unknown("4097 bytes without a line end".into())));
        let mut deaf = Ear::new(find("line-stream").unwrap());
        deaf.push(b"READ?\n");
        assert_eq!(deaf.poll(), None);
    }
}
