//! A simulated meter's voice: readings to frames, and what it hears when it is asked.
//!
//! The rule inside: what is written has been read back by the decoder's own pattern first, so a simulated meter can
//! only say what a real one could.

use crate::pure::quantity::{Prefix, Shown, Unit};
use crate::pure::reading::{Flag, Function};

use super::frame::{Framer, Piece};
use super::pattern::{Part, Parts};
use super::profile::{Decode, Framing, Profile, Talk};

/// Why a profile cannot say this.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
pub enum EncodeError {
    #[error("profile `{profile}` has no {function}")]
    NoFunction { profile: String, function: String },
    #[error("profile `{profile}` has no unit `{unit}` for this function")]
    NoUnit { profile: String, unit: String },
    #[error("profile `{profile}` has no mark for one of the flags")]
    NoFlag { profile: String },
    #[error("profile `{profile}` cannot show over-range this way")]
    NoOverRange { profile: String },
    #[error("profile `{profile}` would read `{text}` back as something else")]
    NotReadBack { profile: String, text: String },
}

impl EncodeError {
    /// What to do next.
    pub fn hint(&self) -> Option<String> {
        let profile = match self {
            EncodeError::NoFunction { profile, .. }
            | EncodeError::NoUnit { profile, .. }
            | EncodeError::NoFlag { profile }
            | EncodeError::NoOverRange { profile }
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
    let Decode::Pattern(pattern) = &profile.decode;
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
    let text = pattern.write(&parts).map_err(|part| match part {
        Part::Function => EncodeError::NoFunction {
            profile: name(),
            function: function.dial(),
        },
        Part::Unit => EncodeError::NoUnit {
            profile: name(),
            unit: format!("{}{unit}", prefix.letter()),
        },
        Part::Flags => EncodeError::NoFlag { profile: name() },
        Part::Value => EncodeError::NoOverRange { profile: name() },
    })?;
    let Framing::Line { end, bytes_max } = &profile.frame;
    let holds_end = text.as_bytes().windows(end.len()).any(|window| window == end);
    if pattern.read(&text).as_ref() != Ok(&parts) || holds_end || *bytes_max < text.len() {
        return Err(EncodeError::NotReadBack { profile: name(), text });
    }
    Ok([text.as_bytes(), end].concat())
}

/// The units in which a profile can show a function, in the order of the profile.
pub fn units(profile: &Profile, function: Function) -> Vec<(Prefix, Unit)> {
    let Decode::Pattern(pattern) = &profile.decode;
    let dial = pattern
        .functions
        .iter()
        .map(|(_, dial)| *dial)
        .find(|dial| dial.function == function);
    let fixed = dial.and_then(|dial| dial.unit);
    let fitting = pattern
        .units
        .iter()
        .map(|(_, unit)| *unit)
        .filter(|(_, unit)| *unit == function.unit());
    dial.iter()
        .flat_map(|_| fixed.into_iter().chain(fitting.clone()))
        .collect()
}

/// What a simulated meter was sent.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Heard {
    Setup(String),
    /// It is asked for a reading: answer with [`encode`].
    Ask,
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
                let framing = Framing::Line {
                    end: end.clone().into_bytes(),
                    bytes_max: 4096,
                };
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
            Piece::Dropped(count) => Some(Heard::Unknown(format!("{count} bytes without a line end"))),
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::meter::profile::find;
    use crate::pure::quantity::Digits;

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
