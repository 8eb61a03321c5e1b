//! The shape of a profile file, before anything in it is believed.
//!
//! The rule inside: unknown fields are errors, every value that can be wrong knows its place, and doubled keys of a
//! map are kept so that they can be reported.

use std::fmt;
use std::marker::PhantomData;

use serde::de::{DeserializeOwned, MapAccess, Visitor};
use serde::{Deserialize, Deserializer};

use crate::located::Located;
use crate::meter::decode::Parity;
use crate::meter::decode::checksum::{Form, Rule};
use crate::meter::decode::segment::Segment;
use crate::value::reading::Function;

/// Only the version, so that a newer file is named as one whatever else it holds.
#[derive(Deserialize)]
pub(super) struct Head {
    pub(super) format: Located<String>,
}

#[derive(Deserialize)]
#[serde(deny_unknown_fields, rename = "Profile")]
pub(super) struct RawProfile {
    pub(super) format: Located<String>,
    pub(super) name: Located<String>,
    pub(super) about: Located<String>,
    pub(super) line: RawLine,
    pub(super) talk: RawTalk,
    pub(super) frame: RawFraming,
    #[serde(default)]
    pub(super) check: Option<RawCheck>,
    #[serde(default)]
    pub(super) agree: Option<Located<u32>>,
    pub(super) decode: RawDecode,
    #[serde(default)]
    pub(super) quiet_ms_max: Option<Located<u32>>,
    #[serde(default)]
    pub(super) period: Option<Located<RawPeriod>>,
}

/// How often it sends; silence follows from it.
#[derive(Deserialize)]
#[serde(deny_unknown_fields, rename = "Period")]
pub(super) enum RawPeriod {
    Ms(u32),
    OnChange,
}

#[derive(Deserialize)]
#[serde(deny_unknown_fields, rename = "Line")]
pub(super) struct RawLine {
    pub(super) baud: Located<u32>,
    pub(super) data_bits: Located<u8>,
    pub(super) parity: Located<Parity>,
    pub(super) stop_bits: Located<u8>,
    pub(super) dtr: bool,
    pub(super) rts: bool,
}

#[derive(Deserialize)]
#[serde(deny_unknown_fields, rename = "Talk")]
pub(super) enum RawTalk {
    Stream,
    Query {
        #[serde(default)]
        setup: Vec<Located<String>>,
        ask: Located<String>,
        end: Located<String>,
    },
}

#[derive(Deserialize)]
#[serde(deny_unknown_fields, rename = "Frame")]
pub(super) enum RawFraming {
    Line {
        end: Located<RawBytes>,
        bytes_max: Located<usize>,
    },
    Fixed {
        bytes: Located<usize>,
        sync: Map<u64>,
    },
    Delimited {
        start: Located<RawBytes>,
        end: Located<RawBytes>,
        #[serde(default)]
        after: Option<Located<usize>>,
        bytes_max: Located<usize>,
    },
}

/// Bytes written as text, `"\r\n"`, or as a byte string, `b"\xff"`.
pub(super) struct RawBytes(pub(super) Vec<u8>);

impl<'de> Deserialize<'de> for RawBytes {
    fn deserialize<D: Deserializer<'de>>(deserializer: D) -> Result<Self, D::Error> {
        struct Either;
        impl Visitor<'_> for Either {
            type Value = RawBytes;
            fn expecting(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
                f.write_str("a text or a byte string")
            }
            fn visit_str<E>(self, text: &str) -> Result<RawBytes, E> {
                Ok(RawBytes(text.as_bytes().to_vec()))
            }
            fn visit_bytes<E>(self, bytes: &[u8]) -> Result<RawBytes, E> {
                Ok(RawBytes(bytes.to_vec()))
            }
        }
        deserializer.deserialize_any(Either)
    }
}

#[derive(Deserialize)]
#[serde(deny_unknown_fields, rename = "Check")]
pub(super) struct RawCheck {
    pub(super) rule: Rule,
    pub(super) first: Located<i32>,
    pub(super) last: Located<i32>,
    pub(super) at: Located<i32>,
    pub(super) form: Form,
}

#[derive(Deserialize)]
#[serde(deny_unknown_fields, rename = "Decode")]
pub(super) enum RawDecode {
    Pattern {
        pattern: Located<String>,
        write: Located<String>,
        examples: Located<Vec<Located<String>>>,
        #[serde(default)]
        functions: Map<RawDial>,
        #[serde(default)]
        units: Map<String>,
        #[serde(default)]
        flags: Map<RawMark>,
        #[serde(default)]
        over: Vec<Located<String>>,
        #[serde(default)]
        above: Option<Located<String>>,
        #[serde(default)]
        point: Option<Located<String>>,
    },
    Fields {
        #[serde(default)]
        bytes: Option<Located<usize>>,
        value: Located<Vec<Located<RawField>>>,
        #[serde(default)]
        function: Vec<Located<RawField>>,
        #[serde(default)]
        unit: Vec<Located<RawField>>,
        /// Where marks stand; what they mean stands in `flags`.
        #[serde(default)]
        marks: Vec<Located<RawField>>,
        #[serde(default)]
        constant: Map<u64>,
        #[serde(default)]
        ignored: Option<Located<String>>,
        #[serde(default)]
        segments: Option<Located<Vec<Segment>>>,
        #[serde(default)]
        glyphs: Map<Vec<Segment>>,
        examples: Located<Vec<Located<String>>>,
        #[serde(default)]
        functions: Map<RawDial>,
        #[serde(default)]
        units: Map<String>,
        #[serde(default)]
        flags: Map<RawMark>,
        #[serde(default)]
        over: Vec<Located<String>>,
        #[serde(default)]
        above: Option<Located<String>>,
    },
}

/// What the places of a profile's words are made of.
pub(super) struct RawFields {
    pub(super) bytes: Option<Located<usize>>,
    pub(super) value: Located<Vec<Located<RawField>>>,
    pub(super) function: Vec<Located<RawField>>,
    pub(super) unit: Vec<Located<RawField>>,
    pub(super) marks: Vec<Located<RawField>>,
    pub(super) constant: Map<u64>,
    pub(super) ignored: Option<Located<String>>,
    pub(super) segments: Option<Located<Vec<Segment>>>,
    pub(super) glyphs: Map<Vec<Segment>>,
}

/// How the words are taken out of a frame, apart from what they mean.
pub(super) enum RawTake {
    Pattern {
        pattern: Located<String>,
        write: Located<String>,
    },
    Fields(Box<RawFields>),
}

impl RawDecode {
    /// How words are taken out, what they mean, and the examples.
    pub(super) fn split(self) -> (RawTake, RawMeaning, Located<Vec<Located<String>>>) {
        match self {
            RawDecode::Pattern {
                pattern,
                write,
                examples,
                functions,
                units,
                flags,
                over,
                above,
                point,
            } => {
                let meaning = RawMeaning {
                    functions,
                    units,
                    flags,
                    over,
                    above,
                    point,
                };
                (RawTake::Pattern { pattern, write }, meaning, examples)
            }
            RawDecode::Fields {
                bytes,
                value,
                function,
                unit,
                marks,
                constant,
                ignored,
                segments,
                glyphs,
                examples,
                functions,
                units,
                flags,
                over,
                above,
            } => {
                let fields = RawFields {
                    bytes,
                    value,
                    function,
                    unit,
                    marks,
                    constant,
                    ignored,
                    segments,
                    glyphs,
                };
                let meaning = RawMeaning {
                    functions,
                    units,
                    flags,
                    over,
                    above,
                    point: None,
                };
                (RawTake::Fields(Box::new(fields)), meaning, examples)
            }
        }
    }
}

/// What gives the words of a frame their meaning, however they were taken out.
pub(super) struct RawMeaning {
    pub(super) functions: Map<RawDial>,
    pub(super) units: Map<String>,
    pub(super) flags: Map<RawMark>,
    pub(super) over: Vec<Located<String>>,
    pub(super) above: Option<Located<String>>,
    pub(super) point: Option<Located<String>>,
}

/// A piece of a word.
#[derive(Deserialize)]
#[serde(deny_unknown_fields, rename = "Field")]
pub(super) enum RawField {
    Word(String),
    Text {
        at: Located<usize>,
        bytes: Located<usize>,
    },
    Code {
        bits: Located<String>,
        words: Map<String, u64>,
    },
    Sign {
        bit: Located<String>,
        word: Located<String>,
    },
    Digit {
        bits: Located<String>,
        #[serde(default)]
        blank: bool,
    },
    Bcd {
        bits: Located<String>,
        #[serde(default)]
        step: Option<RawStep>,
        #[serde(default)]
        special: Map<String, u64>,
    },
    Integer {
        bits: Located<String>,
        #[serde(default)]
        sign: RawSign,
        #[serde(default)]
        step: Option<RawStep>,
        #[serde(default)]
        special: Map<String, u64>,
    },
    Float {
        bits: Located<String>,
        #[serde(default)]
        step: Option<RawStep>,
        #[serde(default)]
        special: Map<String, u64>,
    },
}

/// The weight of one count, or of the last digit shown.
#[derive(Deserialize)]
#[serde(deny_unknown_fields, rename = "Step")]
pub(super) enum RawStep {
    Always(Located<String>),
    By {
        bits: Located<String>,
        steps: Map<String, u64>,
    },
}

#[derive(Clone, Copy, Default, Deserialize)]
#[serde(rename_all = "snake_case", rename = "NumberSign")]
pub(super) enum RawSign {
    #[default]
    Unsigned,
    TwosComplement,
    SignBit,
}

#[derive(Deserialize)]
#[serde(deny_unknown_fields, rename = "Dial")]
pub(super) struct RawDial {
    pub(super) is: Located<Function>,
    #[serde(default)]
    pub(super) unit: Option<Located<String>>,
}

#[derive(Clone, Copy, Deserialize)]
#[serde(rename_all = "snake_case", rename = "Mark")]
pub(super) enum RawMark {
    Nothing,
    Hold,
    Relative,
    LowBattery,
    Over,
    Unknown,
}

/// A map in the order of the file that keeps doubled keys, so that they can be reported.
pub(super) struct Map<T, K = String>(pub(super) Vec<(Located<K>, Located<T>)>);

impl<T, K> Default for Map<T, K> {
    fn default() -> Self {
        Map(Vec::new())
    }
}

impl<'de, T: DeserializeOwned, K: DeserializeOwned> Deserialize<'de> for Map<T, K> {
    fn deserialize<D: Deserializer<'de>>(deserializer: D) -> Result<Self, D::Error> {
        struct Entries<T, K>(PhantomData<(T, K)>);
        impl<'de, T: DeserializeOwned, K: DeserializeOwned> Visitor<'de> for Entries<T, K> {
            type Value = Map<T, K>;
            fn expecting(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
                f.write_str("a map to a meaning")
            }
            fn visit_map<A: MapAccess<'de>>(self, mut access: A) -> Result<Map<T, K>, A::Error> {
                let mut entries = Vec::new();
                while let Some(entry) = access.next_entry()? {
                    entries.push(entry);
                }
                Ok(Map(entries))
            }
        }
        deserializer.deserialize_map(Entries(PhantomData))
    }
}
