//! A PDF in the plain shape in which our writer leaves one: objects one after the other, one table of their places, nothing else.
//!
//! The rule inside: every byte of the file is accounted for, and none is unpacked to find that out. A file that was written by another
//! program, or added to, is refused: what a reader could find in it is more than what is looked at here.

use super::error::Error;
use super::token::{Dict, Scan, Value, is_name};

/// What the file begins with.
const HEAD: &[u8] = b"%PDF-";
/// Most bytes before the first object: two lines.
const HEAD_BYTES_MAX: usize = 64;
/// Bytes of a line of the table.
const PLACE_BYTES: usize = 20;

/// An object: its value, and what it packs where it is a stream.
#[derive(Debug, Clone, Copy)]
pub(super) struct Object<'a> {
    pub(super) value: Value<'a>,
    pub(super) stream: Option<&'a [u8]>,
    /// How often the name `EF` stands in it.
    pub(super) attachments: usize,
}

/// A PDF whose objects are known by their places.
#[derive(Debug)]
pub(super) struct Plain<'a> {
    bytes: &'a [u8],
    /// Where each object begins, from number 1, and where the last one ends.
    places: Vec<usize>,
    pub(super) catalogue: u32,
    /// What the file says of itself, where it says anything.
    pub(super) about: Option<u32>,
}

impl<'a> Plain<'a> {
    /// Reads the table at the end of a file and holds every object to it.
    ///
    /// # Errors
    /// [`Error::NotPdf`], or [`Error::NotOurs`] with what no certificate has.
    pub(super) fn of(bytes: &'a [u8]) -> Result<Plain<'a>, Error> {
        let table = table_at(bytes).ok_or(Error::NotPdf)?;
        let (places, trailer) = places(bytes, table).ok_or_else(|| ours("its table of objects is another"))?;
        let head = &bytes[..places.first().copied().unwrap_or(table)];
        if HEAD_BYTES_MAX < head.len()
            || !head
                .split(|byte| *byte == b'\n')
                .all(|line| line.is_empty() || line[0] == b'%')
        {
            return Err(ours("something else stands before its objects"));
        }
        for key in [b"Encrypt".as_slice(), b"Prev", b"XRefStm"] {
            if trailer.get(key) != Ok(None) {
                return Err(ours("its trailer is another"));
            }
        }
        let Ok(Some(Value::Ref(catalogue))) = trailer.get(b"Root") else {
            return Err(ours("its trailer is another"));
        };
        let about = match trailer.get(b"Info") {
            Ok(None) => None,
            Ok(Some(Value::Ref(about))) => Some(about),
            _ => return Err(ours("its trailer is another")),
        };
        Ok(Plain {
            bytes,
            places,
            catalogue,
            about,
        })
    }

    /// The numbers of all objects.
    pub(super) fn numbers(&self) -> impl Iterator<Item = u32> {
        1..u32::try_from(self.places.len()).unwrap_or(u32::MAX)
    }

    /// An object by its number; everything between its place and the next one's is the object.
    pub(super) fn object(&self, number: u32) -> Result<Object<'a>, Error> {
        let at = (number as usize)
            .checked_sub(1)
            .ok_or_else(|| ours("it refers to an object that is not there"))?;
        let (Some(from), Some(to)) = (self.places.get(at), self.places.get(at + 1)) else {
            return Err(ours("it refers to an object that is not there"));
        };
        object(&self.bytes[*from..*to], number).ok_or_else(|| ours("it has an object of another shape"))
    }

    /// The dictionary of an object.
    pub(super) fn dict(&self, number: u32) -> Result<Dict<'a>, Error> {
        match self.object(number)?.value {
            Value::Dict(dict) => Ok(dict),
            _ => Err(ours("it has an object of another shape")),
        }
    }
}

/// The error that names what no certificate of ours has like this.
pub(super) fn ours(what: &'static str) -> Error {
    Error::NotOurs { what }
}

/// Where the table begins, by the last lines of the file.
fn table_at(bytes: &[u8]) -> Option<usize> {
    if !bytes.starts_with(HEAD) {
        return None;
    }
    let mut last = bytes.trim_ascii_end().strip_suffix(b"%%EOF")?.trim_ascii_end();
    let digits = last.iter().rev().take_while(|byte| byte.is_ascii_digit()).count();
    let at = super::token::number(&last[last.len() - digits..])?;
    last = last[..last.len() - digits].trim_ascii_end();
    let at = usize::try_from(at).ok()?;
    (last.ends_with(b"startxref") && bytes.get(at..)?.starts_with(b"xref")).then_some(at)
}

/// The places of the objects and of the table itself, and the trailer behind it.
fn places(bytes: &[u8], table: usize) -> Option<(Vec<usize>, Dict<'_>)> {
    let mut scan = Scan::new(&bytes[table..]);
    scan.word(b"xref")?;
    (scan.number()? == 0).then_some(())?;
    let count = usize::try_from(scan.number()?).ok()?;
    scan.skip(1)?;
    let lines = scan.skip(count.checked_mul(PLACE_BYTES)?)?;
    let mut lines = lines.chunks_exact(PLACE_BYTES);
    lines.next()?.starts_with(b"0000000000 65535 f").then_some(())?;
    let mut places = Vec::with_capacity(count);
    for line in lines {
        line[10..].starts_with(b" 00000 n").then_some(())?;
        let place = usize::try_from(super::token::number(&line[..10])?).ok()?;
        let before = places.last().copied().unwrap_or(0);
        (before < place && place < table).then_some(())?;
        places.push(place);
    }
    places.push(table);
    scan.word(b"trailer")?;
    let Value::Dict(trailer) = scan.value()? else {
        return None;
    };
    scan.word(b"startxref")?;
    scan.number()?;
    (scan.rest().trim_ascii() == b"%%EOF").then_some((places, trailer))
}

fn object(bytes: &[u8], number: u32) -> Option<Object<'_>> {
    let mut scan = Scan::new(bytes);
    (scan.number()? == u64::from(number)).then_some(())?;
    scan.word(b"0")?;
    scan.word(b"obj")?;
    let value = scan.value()?;
    let stream = match value {
        Value::Dict(dict) if dict.get(b"Length").ok()?.is_some() => Some(stream(&mut scan, dict)?),
        _ => None,
    };
    scan.word(b"endobj")?;
    scan.is_at_end().then_some(Object {
        value,
        stream,
        attachments: scan.attachments,
    })
}

/// The bytes of a stream, as many as its dictionary says in itself; a stream that holds objects of its own is none here.
fn stream<'a>(scan: &mut Scan<'a>, dict: Dict<'a>) -> Option<&'a [u8]> {
    if let Some(Value::Name(kind)) = dict.get(b"Type").ok()? {
        let holds_objects = is_name(kind, b"ObjStm") || is_name(kind, b"XRef");
        (!holds_objects).then_some(())?;
    }
    let Some(Value::Word(length)) = dict.get(b"Length").ok()? else {
        return None;
    };
    let length = usize::try_from(super::token::number(length)?).ok()?;
    scan.word(b"stream")?;
    let line_end = if scan.rest().starts_with(b"\r\n") { 2 } else { 1 };
    scan.skip(line_end)?.ends_with(b"\n").then_some(())?;
    let bytes = scan.skip(length)?;
    scan.word(b"endstream")?;
    Some(bytes)
}
