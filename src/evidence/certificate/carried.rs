//! Taking the record, its signature and the key back out of a certificate.
//!
//! The rule inside: the file comes from anybody, so nothing is unpacked but the attachments, each to the length that it states
//! and no further, all together to no more than one record; what comes out must have that length and the check sum that the packing carries. Whether it is genuine is for the
//! signature to say.

use std::io::Read;

use flate2::bufread::ZlibDecoder;

use super::attached::Attached;
use super::error::{
    Damage, Error, FURTHER, FURTHER_KEYS, PHOTOGRAPHS, PROOF, PUBLIC_KEY, RECORD, SIGNATURE, STAMPS, SUPERSEDED,
};
use super::photographs::PHOTOGRAPH_BYTES_MAX;
use super::plain::Plain;
use super::token::{Dict, Value, is_name, number, values};

/// Largest certificate that is read, in bytes: the largest record unpacked, and room for the pages.
pub const PDF_BYTES_MAX: u64 = 80 << 20;
/// Largest attached record, in bytes.
pub const RECORD_BYTES_MAX: u64 = 64 << 20;
/// Largest attached signature or key, in bytes.
pub(super) const TEXT_BYTES_MAX: u64 = 64 << 10;
/// The most that all attachments unpack to, in bytes.
const TOGETHER_BYTES_MAX: u64 = 64 << 20;
/// How many times its packed length an attachment may have: a record holds a hash a line, and packs to a quarter.
const UNPACKED_TIMES_MAX: u64 = 20;
/// What an attachment may have however short it is packed, in bytes.
const UNPACKED_BYTES_ALWAYS: u64 = 1 << 20;

/// What a certificate carries.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Carried {
    /// `record.jsonl`, byte for byte.
    pub record: Vec<u8>,
    /// `record.jsonl.sig`
    pub signature: String,
    /// `signer.pub`
    pub public_key: String,
    /// `record.tlog-proof`, where it carries one.
    pub proof: Option<String>,
    /// `record.jsonl.2.sig` and those after it.
    pub further: Vec<String>,
    /// `further.pub`, the keys of those, where it carries one.
    pub further_keys: Option<String>,
    /// `record.superseded`, where it carries one.
    pub superseded: Option<String>,
    /// `record.jsonl.tsr` and those after it.
    pub stamps: Vec<Vec<u8>>,
    /// `photograph-1` and those after it, as they are.
    pub photographs: Vec<Vec<u8>>,
    /// The program that wrote the file, by its own word: `coreproof 0.2.0`, of earlier versions without the number.
    pub made_by: Option<String>,
}

/// Takes out what a certificate carries: at most 64 MiB of record, 16 MiB of each photograph, 64 KiB of each other file, 64 MiB of all together.
///
/// # Errors
/// The file is no PDF, too large or not as this program writes one; an attachment is missing, there twice, too large or damaged.
/// Nothing is verified here.
pub fn carried(pdf: &[u8]) -> Result<Carried, Error> {
    let bytes = pdf.len() as u64;
    if PDF_BYTES_MAX < bytes {
        return Err(Error::FileTooLarge {
            bytes,
            bytes_max: PDF_BYTES_MAX,
        });
    }
    let plain = Plain::of(pdf)?;
    let attached = Attached::of(&plain)?;
    let mut left = TOGETHER_BYTES_MAX;
    Ok(Carried {
        record: attached.bytes(RECORD, RECORD_BYTES_MAX, &mut left)?,
        signature: attached.text(SIGNATURE, &mut left)?,
        public_key: attached.text(PUBLIC_KEY, &mut left)?,
        proof: attached.optional(PROOF, &mut left)?,
        further: FURTHER
            .into_iter()
            .filter_map(|name| attached.optional(name, &mut left).transpose())
            .collect::<Result<_, _>>()?,
        further_keys: attached.optional(FURTHER_KEYS, &mut left)?,
        superseded: attached.optional(SUPERSEDED, &mut left)?,
        stamps: STAMPS
            .into_iter()
            .filter(|name| attached.has(name))
            .map(|name| attached.bytes(name, TEXT_BYTES_MAX, &mut left))
            .collect::<Result<_, _>>()?,
        photographs: PHOTOGRAPHS
            .iter()
            .flatten()
            .filter(|name| attached.has(name))
            .map(|name| attached.bytes(name, PHOTOGRAPH_BYTES_MAX, &mut left))
            .collect::<Result<_, _>>()?,
        made_by: made_by(&plain),
    })
}

/// What the file says of the program that wrote it, as far as that is plain text.
fn made_by(pdf: &Plain<'_>) -> Option<String> {
    let Ok(Some(Value::Text(by))) = pdf.dict(pdf.about?).ok()?.get(b"Creator") else {
        return None;
    };
    let plain = by.len() < 64 && by.iter().all(|byte| byte.is_ascii_graphic() || *byte == b' ');
    plain.then(|| String::from_utf8_lossy(by).into_owned())
}

impl Attached<'_> {
    /// The unpacked bytes of an attachment; they count against what is left for all.
    fn bytes(&self, name: &'static str, bytes_max: u64, left: &mut u64) -> Result<Vec<u8>, Error> {
        let (dict, packed) = self.stream(name)?;
        let damaged = |fault| Error::AttachmentDamaged { name, fault };
        let stated = stated(dict).ok_or(damaged(Damage::Length))?;
        let packed_bytes = packed.len() as u64;
        let of_packed = packed_bytes
            .saturating_mul(UNPACKED_TIMES_MAX)
            .max(UNPACKED_BYTES_ALWAYS);
        if bytes_max < stated || bytes_max < packed_bytes || of_packed < stated {
            return Err(Error::AttachmentTooLarge { name, bytes_max });
        }
        let bytes_max = TOGETHER_BYTES_MAX;
        *left = left.checked_sub(stated).ok_or(Error::TogetherTooLarge { bytes_max })?;
        let bytes = match packing(dict) {
            Some(Packing::None) => packed.to_vec(),
            Some(Packing::Flate) => unpacked(packed, stated).ok_or(damaged(Damage::Unpacking))?,
            None => return Err(damaged(Damage::Packing)),
        };
        if bytes.len() as u64 == stated {
            Ok(bytes)
        } else {
            Err(damaged(Damage::Length))
        }
    }

    fn optional(&self, name: &'static str, left: &mut u64) -> Result<Option<String>, Error> {
        self.has(name).then(|| self.text(name, left)).transpose()
    }

    fn text(&self, name: &'static str, left: &mut u64) -> Result<String, Error> {
        let bytes = self.bytes(name, TEXT_BYTES_MAX, left)?;
        String::from_utf8(bytes).map_err(|_| Error::AttachmentNotText { name })
    }
}

enum Packing {
    None,
    Flate,
}

/// The length of an attachment by its own word.
fn stated(dict: Dict<'_>) -> Option<u64> {
    let Ok(Some(Value::Dict(params))) = dict.get(b"Params") else {
        return None;
    };
    match params.get(b"Size") {
        Ok(Some(Value::Word(size))) => number(size),
        _ => None,
    }
}

/// What a zlib stream packs, with its check sum looked at (RFC 1950); no more than one byte beyond the stated length.
fn unpacked(packed: &[u8], stated: u64) -> Option<Vec<u8>> {
    let mut bytes = Vec::with_capacity(usize::try_from(stated).ok()? + 1);
    let mut decoder = ZlibDecoder::new(packed);
    (&mut decoder).take(stated + 1).read_to_end(&mut bytes).ok()?;
    (bytes.len() as u64 != stated || decoder.into_inner().is_empty()).then_some(bytes)
}

/// How a stream is packed, where it is one of the two ways that certificates use.
fn packing(dict: Dict<'_>) -> Option<Packing> {
    let flate = |name: &[u8]| is_name(name, b"FlateDecode").then_some(Packing::Flate);
    match (dict.get(b"DecodeParms"), dict.get(b"Filter")) {
        (Ok(None), Ok(None)) => Some(Packing::None),
        (Ok(None), Ok(Some(Value::Name(name)))) => flate(name),
        (Ok(None), Ok(Some(Value::Array(names)))) => match values(names)?.as_slice() {
            [Value::Name(name)] => flate(name),
            _ => None,
        },
        _ => None,
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::evidence::certificate::page::Page;
    use crate::evidence::certificate::page::sample;
    use crate::evidence::certificate::{Attachments, render};
    use proptest::prelude::*;
    use std::io::Write;
    use std::sync::LazyLock;

    /// The cheapest certificate: a run just opened.
    static CERTIFICATE: LazyLock<Vec<u8>> = LazyLock::new(|| {
        let page = Page::of(
            &sample::opened(sample::JOB, None),
            &sample::seal(),
            crate::evidence::CopyFor::Engineer,
        );
        let record = sample::record();
        let attachments = Attachments {
            record: &record,
            signature: sample::SIGNATURE_TEXT,
            public_key: sample::PUBLIC_KEY_LINE,
            beside: vec![(PROOF, b"proved")],
            photographs: Vec::new(),
        };
        render(&page, &attachments).unwrap()
    });

    /// A PDF of these objects, numbered from 1; the first is the catalogue.
    fn pdf(objects: &[String]) -> Vec<u8> {
        behind(b"%PDF-1.7\n", objects)
    }

    /// The same behind other bytes.
    fn behind(head: &[u8], objects: &[String]) -> Vec<u8> {
        let mut bytes = head.to_vec();
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

    /// The file specification of a name, with the number of its stream.
    fn spec(name: &str, stream: u32) -> String {
        format!("<</Type/Filespec/F({name})/UF({name})/EF<</F {stream} 0 R/UF {stream} 0 R>>>>")
    }

    /// A PDF with three attachments; `spec` and `stream` are those of the record.
    fn small(names: &str, record: &str, stream: &str, more: &str) -> Vec<u8> {
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
            record.into(),
            stream.into(),
            spec("record.jsonl.sig", 7),
            text("signed"),
            spec("signer.pub", 9),
            text("key"),
            more.into(),
        ])
    }

    const NAMES: &str = "(record.jsonl) 4 0 R (record.jsonl.sig) 6 0 R (signer.pub) 8 0 R";
    const SPEC: &str = "<</Type/Filespec/F(record.jsonl)/UF(record.jsonl)/EF<</F 5 0 R/UF 5 0 R>>>>";
    const STREAM: &str = "<</Params<</Size 3>>/Length 3>>\nstream\nabc\nendstream";
    const NOTHING: &str = "<<>>";

    #[track_caller]
    fn check(pdf: &[u8], expected: Error) {
        assert_eq!(carried(pdf), Err(expected));
    }

    #[track_caller]
    fn not_ours(pdf: &[u8], what: &'static str) {
        check(pdf, Error::NotOurs { what });
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
        let list = "<</Names<</EmbeddedFiles<</Names[(record.jsonl)2 0 R]>>>>>>";
        let one = pdf(&[list.into(), spec("record.jsonl", 3), STREAM.into()]);
        check(&one, Error::AttachmentMissing { name: SIGNATURE });
        let none = pdf(&["<</Type/Catalog>>".into()]);
        check(&none, Error::AttachmentMissing { name: RECORD });
        let none = pdf(&["<</Type/Catalog/Names<<>>>>".into()]);
        check(&none, Error::AttachmentMissing { name: RECORD });
    }

    #[test]
    fn an_attachment_that_is_not_listed_or_listed_twice_is_refused() {
        let unlisted = "it has an attachment that its list does not name";
        let two = "(record.jsonl) 4 0 R (signer.pub) 8 0 R";
        not_ours(&small(two, SPEC, STREAM, NOTHING), unlisted);
        not_ours(&small("", SPEC, STREAM, NOTHING), unlisted);
        for more in [
            &*spec("record.jsonl", 7),
            "<</Type/Annot/Subtype/FileAttachment/FS<</F(record.jsonl)/EF<</F 7 0 R>>>>>>",
            "<</A[<</#45#46<</F 7 0 R>>>>]>>",
        ] {
            not_ours(&small(NAMES, SPEC, STREAM, more), unlisted);
        }
        let other = format!("{NAMES} (z) 10 0 R");
        not_ours(
            &small(&other, SPEC, STREAM, &spec("z", 7)),
            "it has an attachment of another name",
        );
        let twice = format!("{NAMES} (record.jsonl) 10 0 R");
        let again = small(&twice, SPEC, STREAM, &spec("record.jsonl", 7));
        check(&again, Error::AttachmentTwice { name: RECORD });
        let kids = small(NAMES, SPEC, STREAM, NOTHING);
        let kids = String::from_utf8(kids).unwrap().replace("<</Names[(", "<</Kidss[(");
        not_ours(kids.as_bytes(), "its list of attachments is another");
    }

    #[test]
    fn a_file_specification_has_one_name_and_one_version() {
        let other = "it has a file specification of another shape";
        for spec in [
            "<</Type/Filespec/F(record.jsonl)/EF<</F 5 0 R/UF 5 0 R>>>>",
            "<</Type/Filespec/F(record.jsonl)/UF(other)/EF<</F 5 0 R/UF 5 0 R>>>>",
            "<</F(record.jsonl)/UF<FEFF007200650063006F00720064>/EF<</F 5 0 R/UF 5 0 R>>>>",
            "<</F(record.jsonl)/UF(record.jsonl)/EF<</F 5 0 R/UF 7 0 R>>>>",
            "<</F(record.jsonl)/UF(record.jsonl)/EF<</F 5 0 R>>>>",
            "<</F(record.jsonl)/F(x)/UF(record.jsonl)/EF<</F 5 0 R/UF 5 0 R>>>>",
        ] {
            not_ours(&small(NAMES, spec, STREAM, NOTHING), other);
        }
        let spec = SPEC.replace("5 0 R", "3 0 R");
        not_ours(
            &small(NAMES, &spec, STREAM, NOTHING),
            "it has an attachment that is no stream",
        );
        let spec = SPEC.replace("5 0 R", "77 0 R");
        not_ours(
            &small(NAMES, &spec, STREAM, NOTHING),
            "it refers to an object that is not there",
        );
    }

    #[test]
    fn what_could_hold_more_than_is_looked_at_is_refused() {
        let object = "it has an object of another shape";
        for more in [
            // objects in a stream of their own, and a table in one
            "<</Type/ObjStm/N 1/First 4/Length 3>>\nstream\nabc\nendstream",
            "<</Type/#4fbjStm/Length 3>>\nstream\nabc\nendstream",
            "<</Type/XRef/Length 3>>\nstream\nabc\nendstream",
            // a length somewhere else, one that is too short, and none
            "<</Length 9 0 R>>\nstream\nabc\nendstream",
            "<</Length 2>>\nstream\nabc\nendstream",
            "<<>>\nstream\nabc\nendstream",
            "<</Length 99999>>\nstream\nabc\nendstream",
            // something behind the object, and something that does not end
            "<<>>\nendobj\n11 0 obj\n<<>>",
            "<<>> % a comment",
            "<</A(>>",
            "[[>>",
        ] {
            not_ours(&small(NAMES, SPEC, STREAM, more), object);
        }
        let whole = String::from_utf8(small(NAMES, SPEC, STREAM, NOTHING)).unwrap();
        let trailer = "its trailer is another";
        for more in ["/Encrypt 3 0 R", "/Prev 9", "/XRefStm 9"] {
            not_ours(whole.replace("/Root", &format!("{more}/Root")).as_bytes(), trailer);
        }
        not_ours(whole.replace("/Root 1 0 R", "").as_bytes(), trailer);
        // written on to, as an editor does: the catalogue once more behind the end, and a table of all
        let update = behind(whole.as_bytes(), &["<</Type/Catalog>>".into()]);
        not_ours(&update, "something else stands before its objects");
        let table = "its table of objects is another";
        not_ours(whole.replacen(" 00000 n", " 00001 n", 1).as_bytes(), table);
        not_ours(whole.replacen("xref\n0 ", "xref\n1 ", 1).as_bytes(), table);
        not_ours(
            format!("{whole}\n{}", &whole[whole.find("trailer").unwrap()..]).as_bytes(),
            table,
        );
        let objects = ["<</Type/Catalog>>".to_owned()];
        let before = "something else stands before its objects";
        not_ours(&behind(b"%PDF-1.7\nhello\n", &objects), before);
        not_ours(
            &behind(&[b"%PDF-1.7".as_slice(), &[b'%'; 99]].concat(), &objects),
            before,
        );
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
        let sum = packed(b"\x78\x9c\x4b\x4c\x4a\x06\x00\x02\x4d\x01\x28");
        check(&sum, damaged(Damage::Unpacking));
        // another stream behind the one that is shown
        let behind = flate
            .replace("/Length 11", "/Length 13")
            .replace("@@@@@@@@@@@", "@@@@@@@@@@@xy");
        let mut bytes = small(NAMES, SPEC, &behind, NOTHING);
        let at = bytes.windows(11).position(|found| found == b"@@@@@@@@@@@").unwrap();
        bytes[at..at + 11].copy_from_slice(zlib);
        check(&bytes, damaged(Damage::Unpacking));
        for way in [
            "/Filter/LZWDecode",
            "/Filter[/FlateDecode/FlateDecode]",
            "/Filter/FlateDecode/DecodeParms<</Predictor 12/Columns 4>>",
            "/Filter/FlateDecode/Filter/FlateDecode",
        ] {
            let stream = flate.replace("/Filter/FlateDecode", way);
            check(&small(NAMES, SPEC, &stream, NOTHING), damaged(Damage::Packing));
        }
    }

    /// Zlib of so many zeros.
    fn zeros(bytes: usize) -> Vec<u8> {
        let mut encoder = flate2::write::ZlibEncoder::new(Vec::new(), flate2::Compression::best());
        encoder.write_all(&vec![0; bytes]).unwrap();
        encoder.finish().unwrap()
    }

    /// A small PDF whose record is this stream.
    fn with_record(dict: &str, packed: &[u8]) -> Vec<u8> {
        let dict = format!("<<{dict}/Length {}>>", packed.len());
        let filler = "@".repeat(packed.len());
        let mut bytes = small(NAMES, SPEC, &format!("{dict}\nstream\n{filler}\nendstream"), NOTHING);
        let at = bytes.windows(7).position(|found| found == b"stream\n").unwrap() + 7;
        bytes[at..at + packed.len()].copy_from_slice(packed);
        bytes
    }

    #[test]
    fn nothing_unpacks_to_more_than_a_record_can() {
        let bomb = zeros(20 << 20);
        let flate = |size: usize| with_record(&format!("/Filter/FlateDecode/Params<</Size {size}>>"), &bomb);
        let too_large = Error::AttachmentTooLarge {
            name: RECORD,
            bytes_max: RECORD_BYTES_MAX,
        };
        check(&flate(20 << 20), too_large);
        // and no further than it says
        let length = Error::AttachmentDamaged {
            name: RECORD,
            fault: Damage::Length,
        };
        check(&flate(20 * bomb.len()), length);
        // a short file may pack better than that
        let small = zeros(1 << 20);
        let small = with_record("/Filter/FlateDecode/Params<</Size 1048576>>", &small);
        assert_eq!(carried(&small).unwrap().record.len(), 1 << 20);
        // and all of them together are no more than one record
        let whole = with_record("/Params<</Size 67108864>>", &vec![b'a'; 64 << 20]);
        check(&whole, Error::TogetherTooLarge { bytes_max: 67_108_864 });
    }

    #[test]
    fn text_that_is_none_is_refused() {
        let mut bytes = small(NAMES, SPEC, STREAM, NOTHING);
        let at = bytes.windows(6).position(|found| found == b"signed").unwrap();
        bytes[at] = 0xff;
        check(&bytes, Error::AttachmentNotText { name: SIGNATURE });
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
