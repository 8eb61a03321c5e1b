//! Finding the attachments of a certificate.
//!
//! The rule inside: what readers show is the catalogue's list, so the list decides; an attachment anywhere else in the file, however it
//! is spelled or hidden, makes the file none of ours.

use std::collections::BTreeMap;

use super::error::{
    Error, FURTHER, FURTHER_KEYS, PHOTOGRAPHS, PROOF, PUBLIC_KEY, RECORD, SIGNATURE, STAMPS, SUPERSEDED,
};
use super::plain::{Object, Plain, ours};
use super::token::{Dict, Value, values};

/// What a certificate carries beside further signatures, time stamps and photographs, and nothing else.
const NAMES: [&str; 6] = [RECORD, SIGNATURE, PUBLIC_KEY, PROOF, FURTHER_KEYS, SUPERSEDED];

/// The streams that the catalogue's list names.
pub(super) struct Attached<'a> {
    listed: BTreeMap<&'static str, Object<'a>>,
}

impl<'a> Attached<'a> {
    /// Every attachment of the list; there is no other.
    pub(super) fn of(pdf: &Plain<'a>) -> Result<Attached<'a>, Error> {
        let mut mentions = 0;
        for number in pdf.numbers() {
            mentions += pdf.object(number)?.attachments;
        }
        let list = list(pdf)?;
        if mentions != list.len() {
            return Err(ours("it has an attachment that its list does not name"));
        }
        let mut listed = BTreeMap::new();
        for (name, spec) in list {
            let is_name = |known: &&&str| known.as_bytes() == name;
            let known = NAMES
                .iter()
                .chain(&FURTHER)
                .chain(&STAMPS)
                .chain(PHOTOGRAPHS.iter().flatten())
                .find(is_name)
                .ok_or_else(|| ours("it has an attachment of another name"))?;
            let object = pdf.object(stream_of(name, pdf.dict(spec)?)?)?;
            if listed.insert(*known, object).is_some() {
                return Err(Error::AttachmentTwice { name: known });
            }
        }
        Ok(Attached { listed })
    }

    /// Whether there is an attachment of this name.
    pub(super) fn has(&self, name: &'static str) -> bool {
        self.listed.contains_key(name)
    }

    /// The stream that a name stands for.
    pub(super) fn stream(&self, name: &'static str) -> Result<(Dict<'a>, &'a [u8]), Error> {
        match self.listed.get(name) {
            None => Err(Error::AttachmentMissing { name }),
            Some(Object {
                value: Value::Dict(dict),
                stream: Some(stream),
                ..
            }) => Ok((*dict, stream)),
            Some(_) => Err(ours("it has an attachment that is no stream")),
        }
    }
}

/// The catalogue's list: names, each with the number of its file specification.
fn list<'a>(pdf: &Plain<'a>) -> Result<Vec<(&'a [u8], u32)>, Error> {
    let shape = || ours("its list of attachments is another");
    let inner = |dict: Dict<'a>, key: &[u8]| match dict.get(key) {
        Ok(Some(Value::Dict(inner))) => Ok(Some(inner)),
        Ok(None) => Ok(None),
        _ => Err(shape()),
    };
    let Some(names) = inner(pdf.dict(pdf.catalogue)?, b"Names")? else {
        return Ok(Vec::new());
    };
    let Some(files) = inner(names, b"EmbeddedFiles")? else {
        return Ok(Vec::new());
    };
    let Ok(Some(Value::Array(pairs))) = files.get(b"Names") else {
        return Err(shape());
    };
    let pairs = values(pairs).ok_or_else(shape)?;
    let pair = |pair: &[Value<'a>]| match pair {
        [Value::Text(name), Value::Ref(number)] => Ok((*name, *number)),
        _ => Err(shape()),
    };
    pairs.chunks(2).map(pair).collect()
}

/// The number of the stream of a file specification, which goes by one name and has one version.
fn stream_of(name: &[u8], spec: Dict<'_>) -> Result<u32, Error> {
    let is_name = |key: &[u8]| spec.get(key) == Ok(Some(Value::Text(name)));
    if let (true, true, Ok(Some(Value::Dict(files)))) = (is_name(b"F"), is_name(b"UF"), spec.get(b"EF"))
        && let (Ok(Some(Value::Ref(one))), Ok(Some(Value::Ref(other)))) = (files.get(b"F"), files.get(b"UF"))
        && one == other
    {
        return Ok(one);
    }
    Err(ours("it has a file specification of another shape"))
}
