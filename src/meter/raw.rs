//! The shape of a profile file, before anything in it is believed.
//!
//! The rule inside: unknown fields are errors, every value that can be wrong knows its place, and doubled keys of a
//! map are kept so that they can be reported.

use std::fmt;
use std::marker::PhantomData;

use serde::de::{MapAccess, Visitor};
use serde::{Deserialize, Deserializer};

use crate::pure::located::Located;
use crate::pure::reading::Function;

use super::profile::Parity;

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
    pub(super) decode: RawDecode,
    pub(super) quiet_ms_max: Located<u32>,
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
        end: Located<String>,
        bytes_max: Located<usize>,
    },
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
    },
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
}

/// A map in the order of the file that keeps doubled keys, so that they can be reported.
pub(super) struct Map<T>(pub(super) Vec<(Located<String>, Located<T>)>);

impl<T> Default for Map<T> {
    fn default() -> Self {
        Map(Vec::new())
    }
}

impl<'de, T: serde::de::DeserializeOwned> Deserialize<'de> for Map<T> {
    fn deserialize<D: Deserializer<'de>>(deserializer: D) -> Result<Self, D::Error> {
        struct Entries<T>(PhantomData<T>);
        impl<'de, T: serde::de::DeserializeOwned> Visitor<'de> for Entries<T> {
            type Value = Map<T>;
            fn expecting(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
                f.write_str("a map from text to its meaning")
            }
            fn visit_map<A: MapAccess<'de>>(self, mut access: A) -> Result<Map<T>, A::Error> {
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
