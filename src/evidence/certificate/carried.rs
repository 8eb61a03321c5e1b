//! Taking the record, its signature and the key back out of a certificate.
//!
//! The rule inside: the file comes from anybody. Each of the three names must stand for exactly one attachment, and what
//! comes out must have the length and the check sum that the file itself states; whether it is genuine is for the
//! signature to say.

use std::thread;

use hayro_syntax::object::dict::keys;
use hayro_syntax::object::{Array, Dict, Name};
use hayro_syntax::{LoadPdfError, Pdf};

use super::attached::Attached;
use super::error::{Damage, Error, PUBLIC_KEY, RECORD, SIGNATURE};

/// Largest certificate that is read, in bytes: the largest record unpacked, and room for the pages.
pub const PDF_BYTES_MAX: u64 = 80 << 20;
/// Largest attached record, in bytes.
pub const RECORD_BYTES_MAX: u64 = 64 << 20;
/// Largest attached signature or key, in bytes.
pub(super) const TEXT_BYTES_MAX: u64 = 64 << 10;

/// What a certificate carries.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Carried {
    /// `record.jsonl`, byte for byte.
    pub record: Vec<u8>,
    /// `record.jsonl.sig`
    pub signature: String,
    /// `signer.pub`
    pub public_key: String,
}

/// Takes out what a certificate carries: at most 64 MiB of record, 64 KiB of signature and of key.
///
/// # Errors
/// The file is no PDF or too large, an attachment is missing, there twice, too large or damaged. Nothing is verified here.
pub fn carried(pdf: &[u8]) -> Result<Carried, Error> {
    let bytes = pdf.len() as u64;
    if PDF_BYTES_MAX < bytes {
        return Err(Error::FileTooLarge {
            bytes,
            bytes_max: PDF_BYTES_MAX,
        });
    }
    if !pdf.starts_with(b"%PDF-") {
        return Err(Error::NotPdf);
    }
    let parts = openers(pdf);
    if PARTS_MAX < parts {
        return Err(Error::TooManyParts { parts_max: PARTS_MAX });
    }
    // The PDF reader goes down one call a level of nesting, and asserts here and there what a hostile file need not keep: it
    // gets a stack for the deepest nesting that this file could hold, and a thread whose panic is an answer.
    let stack_bytes = STACK_BYTES_MIN + parts * STACK_BYTES_PER_LEVEL;
    thread::scope(|scope| {
        let reader = thread::Builder::new().stack_size(stack_bytes);
        let reader = reader.spawn_scoped(scope, || read(pdf)).map_err(|_| Error::NoMemory)?;
        reader.join().unwrap_or(Err(Error::NotPdf))
    })
}

/// Most places where an array or a dictionary may begin: a certificate has some ten thousand.
const PARTS_MAX: usize = 200_000;
const STACK_BYTES_MIN: usize = 4 << 20;
/// Enough for a debug build of hayro-syntax 0.7.2: a test goes down as deep as the parts allow.
const STACK_BYTES_PER_LEVEL: usize = 2 << 10;

/// How often an array or a dictionary may begin in these bytes; nesting is never deeper.
fn openers(pdf: &[u8]) -> usize {
    let arrays = pdf.iter().filter(|&&byte| byte == b'[').count();
    arrays + pdf.windows(2).filter(|pair| pair == b"<<").count()
}

fn read(bytes: &[u8]) -> Result<Carried, Error> {
    let pdf = Pdf::new(bytes.to_vec()).map_err(|e| match e {
        LoadPdfError::Decryption(_) => Error::Encrypted,
        LoadPdfError::Invalid => Error::NotPdf,
    })?;
    let attached = Attached::of(&pdf)?;
    Ok(Carried {
        record: attached.bytes(RECORD, RECORD_BYTES_MAX)?,
        signature: attached.text(SIGNATURE)?,
        public_key: attached.text(PUBLIC_KEY)?,
    })
}

impl Attached<'_> {
    /// The unpacked bytes of an attachment.
    fn bytes(&self, name: &'static str, bytes_max: u64) -> Result<Vec<u8>, Error> {
        let stream = self.stream(name)?;
        let damaged = |fault| Error::AttachmentDamaged { name, fault };
        let too_large = Error::AttachmentTooLarge { name, bytes_max };
        let stated = stream
            .dict()
            .get::<Dict<'_>>(keys::PARAMS)
            .and_then(|params| params.get::<i32>(keys::SIZE))
            .and_then(|size| u64::try_from(size).ok())
            .ok_or(damaged(Damage::Length))?;
        let packed = stream.raw_data();
        if bytes_max < stated || bytes_max < packed.len() as u64 {
            return Err(too_large);
        }
        let bytes = match packing(stream.dict()) {
            Some(Packing::None) => packed.to_vec(),
            Some(Packing::Flate) => {
                let bytes = stream.decoded().map_err(|_| damaged(Damage::Unpacking))?.into_owned();
                // RFC 1950: a zlib stream ends with the Adler-32 sum of what it packs
                let sum = packed.last_chunk::<4>().ok_or(damaged(Damage::Unpacking))?;
                if bytes.len() as u64 == stated && adler32(&bytes) != u32::from_be_bytes(*sum) {
                    return Err(damaged(Damage::CheckSum));
                }
                bytes
            }
            None => return Err(damaged(Damage::Packing)),
        };
        if bytes.len() as u64 == stated {
            Ok(bytes)
        } else {
            Err(damaged(Damage::Length))
        }
    }

    fn text(&self, name: &'static str) -> Result<String, Error> {
        let bytes = self.bytes(name, TEXT_BYTES_MAX)?;
        String::from_utf8(bytes).map_err(|_| Error::AttachmentNotText { name })
    }
}

enum Packing {
    None,
    Flate,
}

/// How a stream is packed, where it is one of the two ways that certificates use.
fn packing(dict: &Dict<'_>) -> Option<Packing> {
    if dict.contains_key(keys::DECODE_PARMS) {
        return None;
    }
    let names: Vec<_> = match dict.get::<Array<'_>>(keys::FILTER) {
        Some(filters) => filters.iter::<Name<'_>>().collect(),
        None if dict.contains_key(keys::FILTER) => vec![dict.get::<Name<'_>>(keys::FILTER)?],
        None => Vec::new(),
    };
    match names.as_slice() {
        [] => Some(Packing::None),
        [name] if &**name == b"FlateDecode" => Some(Packing::Flate),
        _ => None,
    }
}

/// The Adler-32 sum (RFC 1950, section 8.2).
fn adler32(bytes: &[u8]) -> u32 {
    const BASE: u32 = 65_521;
    // the longest run for which neither sum can overflow 32 bits, by the same section
    const RUN: usize = 5552;
    let (mut a, mut b) = (1_u32, 0_u32);
    for run in bytes.chunks(RUN) {
        for &byte in run {
            a += u32::from(byte);
            b += a;
        }
        a %= BASE;
        b %= BASE;
    }
    (b << 16) | a
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::evidence::certificate::page::Page;
    use crate::evidence::certificate::page::sample;
    use crate::evidence::certificate::{Attachments, render};
    use proptest::prelude::*;
    use std::sync::LazyLock;

    /// The cheapest certificate: a run just opened.
    static CERTIFICATE: LazyLock<Vec<u8>> = LazyLock::new(|| {
        let page = Page::of(&sample::opened(sample::JOB, None), &sample::seal());
        let record = sample::record();
        let attachments = Attachments {
            record: &record,
            signature: sample::SIGNATURE_TEXT,
            public_key: sample::PUBLIC_KEY_LINE,
        };
        render(&page, &attachments).unwrap()
    });

    /// A PDF of these objects, numbered from 1; the first is the catalogue.
    fn pdf(objects: &[String]) -> Vec<u8> {
        let mut bytes = b"%PDF-1.7\n".to_vec();
        let mut table = String::new();
        for (number, object) in (1..).zip(objects) {
            table.push_str(&format!("{:010} 00000 n \n", bytes.len()));
            bytes.extend(format!("{number} 0 obj\n{object}\nendobj\n").bytes());
        }
        let start = bytes.len();
        let size = objects.len() + 1;
        bytes.extend(
            format!(
                "xref\n0 {size}\n0000000000 65535 f \n{table}trailer\n<</Size {size}/Root 1 0 R>>\nstartxref\n{start}\n%%EOF"
            )
            .bytes(),
        );
        bytes
    }

    /// A PDF with three attachments; `spec` and `stream` are those of the record.
    fn small(names: &str, spec: &str, stream: &str, more: &str) -> Vec<u8> {
        let text = |body: &str| {
            format!(
                "<</Params<</Size {0}>>/Length {0}>>\nstream\n{body}\nendstream",
                body.len()
            )
        };
        pdf(&[
            format!("<</Type/Catalog/Pages 2 0 R/Names<</EmbeddedFiles<</Names[{names}]>>>>>>"),
            "<</Type/Pages/Count 1/Kids[3 0 R]>>".into(),
            "<</Type/Page/Parent 2 0 R/MediaBox[0 0 9 9]>>".into(),
            spec.into(),
            stream.into(),
            "<</Type/Filespec/F(record.jsonl.sig)/EF<</F 7 0 R>>>>".into(),
            text("signed"),
            "<</Type/Filespec/F(signer.pub)/EF<</F 9 0 R>>>>".into(),
            text("key"),
            more.into(),
        ])
    }

    const NAMES: &str = "(record.jsonl) 4 0 R (record.jsonl.sig) 6 0 R (signer.pub) 8 0 R";
    const SPEC: &str = "<</Type/Filespec/F(record.jsonl)/EF<</F 5 0 R>>>>";
    const STREAM: &str = "<</Params<</Size 3>>/Length 3>>\nstream\nabc\nendstream";
    const NOTHING: &str = "<<>>";

    fn check(pdf: &[u8], expected: Error) {
        assert_eq!(carried(pdf), Err(expected));
    }

    #[test]
    fn a_small_pdf_gives_its_three_files() {
        let taken = carried(&small(NAMES, SPEC, STREAM, NOTHING)).unwrap();
        assert_eq!(taken.record, b"abc");
        assert_eq!((taken.signature.as_str(), taken.public_key.as_str()), ("signed", "key"));
    }

    #[test]
    fn what_is_no_pdf_is_said_to_be_none() {
        check(b"", Error::NotPdf);
        check(b"{\"n\":0}\n", Error::NotPdf);
        check(b"%PDF-1.7\n", Error::NotPdf);
        check(&CERTIFICATE[..200], Error::NotPdf);
    }

    #[test]
    fn a_missing_attachment_is_named() {
        let names = "(record.jsonl) 4 0 R (signer.pub) 8 0 R";
        check(
            &small(names, SPEC, STREAM, NOTHING),
            Error::AttachmentMissing { name: SIGNATURE },
        );
        check(
            &small("", SPEC, STREAM, NOTHING),
            Error::AttachmentMissing { name: RECORD },
        );
        let spec = "<</Type/Filespec/F(record.jsonl)>>";
        check(
            &small(NAMES, spec, STREAM, NOTHING),
            Error::AttachmentMissing { name: RECORD },
        );
    }

    #[test]
    fn a_name_that_stands_for_two_attachments_is_refused() {
        let twice = Error::AttachmentTwice { name: RECORD };
        let other = "<</Type/Filespec/UF(record.jsonl)/EF<</F 7 0 R>>>>";
        // listed twice, and once in the list and once somewhere else
        let listed = format!("{NAMES} (z) 10 0 R");
        check(&small(&listed, SPEC, STREAM, other), twice.clone());
        check(&small(NAMES, SPEC, STREAM, other), twice.clone());
        let utf16 = "<</Type/Filespec/UF<FEFF007200650063006F00720064002E006A0073006F006E006C>/EF<</F 7 0 R>>>>";
        check(&small(NAMES, SPEC, STREAM, utf16), twice.clone());
        let on_a_page = "<</Type/Annot/Subtype/FileAttachment/FS<</F(record.jsonl)/EF<</F 7 0 R>>>>>>";
        check(&small(NAMES, SPEC, STREAM, on_a_page), twice.clone());
        // two versions behind one specification
        let spec = "<</Type/Filespec/F(record.jsonl)/EF<</F 5 0 R/UF 7 0 R>>>>";
        check(&small(NAMES, spec, STREAM, NOTHING), twice);
    }

    #[test]
    fn an_attachment_that_is_too_large_is_refused() {
        let stream = "<</Params<</Size 67108865>>/Length 3>>\nstream\nabc\nendstream";
        let error = Error::AttachmentTooLarge {
            name: RECORD,
            bytes_max: 67_108_864,
        };
        check(&small(NAMES, SPEC, stream, NOTHING), error);
        let bytes = PDF_BYTES_MAX + 1;
        let mut large = b"%PDF-1.7\n".to_vec();
        large.resize(bytes as usize, b' ');
        check(
            &large,
            Error::FileTooLarge {
                bytes,
                bytes_max: PDF_BYTES_MAX,
            },
        );
    }

    #[test]
    fn a_damaged_attachment_names_its_damage() {
        // zlib of `abc` is 789c 4b4c4a0600 024d0127 (RFC 1950 and 1951; made with zlib)
        let flate = |hex: &str, size: usize| {
            format!(
                "<</Params<</Size {size}>>/Filter[/ASCIIHexDecode]/Length {}>>\nstream\n{hex}\nendstream",
                hex.len()
            )
        };
        let damaged = |fault| Error::AttachmentDamaged { name: RECORD, fault };
        check(
            &small(NAMES, SPEC, &flate("616263>", 3), NOTHING),
            damaged(Damage::Packing),
        );
        let length = "<</Params<</Size 4>>/Length 3>>\nstream\nabc\nendstream";
        check(&small(NAMES, SPEC, length, NOTHING), damaged(Damage::Length));
        let unstated = "<</Length 3>>\nstream\nabc\nendstream";
        check(&small(NAMES, SPEC, unstated, NOTHING), damaged(Damage::Length));
        let short = "<</Params<</Size 3>>/Filter/FlateDecode/Length 2>>\nstream\nxx\nendstream";
        check(&small(NAMES, SPEC, short, NOTHING), damaged(Damage::Unpacking));
        let flate = "<</Params<</Size 3>>/Filter/FlateDecode/Length 11>>\nstream\n@@@@@@@@@@@\nendstream";
        let packed = |zlib: &[u8; 11]| {
            let mut bytes = small(NAMES, SPEC, flate, NOTHING);
            let at = bytes.windows(11).position(|found| found == b"@@@@@@@@@@@").unwrap();
            bytes[at..at + 11].copy_from_slice(zlib);
            bytes
        };
        // `abc` packed by zlib, then with another sum behind it
        let zlib = b"\x78\x9c\x4b\x4c\x4a\x06\x00\x02\x4d\x01\x27";
        assert_eq!(carried(&packed(zlib)).unwrap().record, b"abc");
        check(
            &packed(b"\x78\x9c\x4b\x4c\x4a\x06\x00\x02\x4d\x01\x28"),
            damaged(Damage::CheckSum),
        );
    }

    #[test]
    fn a_page_tree_that_bites_its_tail_does_no_harm() {
        let mut bytes = small(NAMES, SPEC, STREAM, NOTHING);
        let at = bytes.windows(9).position(|found| found == b"/Kids[3 0").unwrap();
        bytes[at + 6] = b'2';
        assert!(carried(&bytes).is_ok());
    }

    #[test]
    fn deep_nesting_does_no_harm() {
        let nested = |levels: usize| small(NAMES, SPEC, STREAM, &"[".repeat(levels));
        assert!(carried(&nested(PARTS_MAX - 100)).is_ok());
        let dictionaries = small(NAMES, SPEC, STREAM, &"<</A".repeat(PARTS_MAX - 100));
        assert!(carried(&dictionaries).is_ok());
        check(&nested(PARTS_MAX), Error::TooManyParts { parts_max: 200_000 });
    }

    #[test]
    fn text_that_is_none_is_refused() {
        let mut bytes = small(NAMES, SPEC, STREAM, NOTHING);
        let at = bytes.windows(6).position(|found| found == b"signed").unwrap();
        bytes[at] = 0xff;
        check(&bytes, Error::AttachmentNotText { name: SIGNATURE });
    }

    #[test]
    fn adler_sums_are_those_of_the_definition() {
        // made with zlib; the empty text is 1 by RFC 1950
        for (text, sum) in [("", 1), ("abc", 0x024d_0127), ("coreproof", 0x1301_03d0)] {
            assert_eq!(adler32(text.as_bytes()), sum, "{text}");
        }
        let long = vec![0xff; 1 << 20];
        let plain = long.iter().fold((1_u64, 0_u64), |(a, b), &byte| {
            let a = (a + u64::from(byte)) % 65_521;
            (a, (b + a) % 65_521)
        });
        assert_eq!(u64::from(adler32(&long)), plain.1 << 16 | plain.0);
    }

    proptest! {
        #![proptest_config(ProptestConfig { cases: 48, failure_persistence: None, ..ProptestConfig::default() })]

        #[test]
        fn a_changed_certificate_gives_the_same_files_or_an_error(
            changes in prop::collection::vec((any::<prop::sample::Index>(), any::<u8>()), 1..6),
            cut in prop::option::weighted(0.2, any::<prop::sample::Index>()),
        ) {
            let mut bytes = CERTIFICATE.clone();
            for (at, byte) in changes {
                let at = at.index(bytes.len());
                bytes[at] = byte;
            }
            if let Some(cut) = cut {
                bytes.truncate(cut.index(bytes.len()));
            }
            // whatever comes out, nothing panics; damage inside the packed record never goes unseen
            if let Ok(taken) = carried(&bytes) {
                prop_assert!(taken.record == sample::record());
            }
        }

        #[test]
        fn garbage_behind_a_pdf_mark_is_an_error(garbage in prop::collection::vec(any::<u8>(), 0..600)) {
            let bytes = [b"%PDF-1.7\n".as_slice(), &garbage].concat();
            prop_assert!(carried(&bytes).is_err());
        }
    }
}
