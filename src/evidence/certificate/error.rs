//! Why a certificate could not be made or read. Each kind states one fact; each hint names the next act.

use crate::evidence::sealed::{FURTHER_MAX, STAMPS_MAX};
use crate::explain::Explain;

/// Name of the attached record.
pub const RECORD: &str = "record.jsonl";
/// Name of the attached signature.
pub const SIGNATURE: &str = "record.jsonl.sig";
/// Name of the attached public key.
pub const PUBLIC_KEY: &str = "signer.pub";

/// Name of the attached proof that the record is in the log of its archive.
pub const PROOF: &str = "record.tlog-proof";
/// Names of the attached further signatures, in their order.
pub const FURTHER: [&str; FURTHER_MAX] = [
    "record.jsonl.2.sig",
    "record.jsonl.3.sig",
    "record.jsonl.4.sig",
    "record.jsonl.5.sig",
    "record.jsonl.6.sig",
    "record.jsonl.7.sig",
    "record.jsonl.8.sig",
    "record.jsonl.9.sig",
];
/// Name of the attached keys of the further signatures, a line each.
pub const FURTHER_KEYS: &str = "further.pub";
/// Name of the attached statements that a later record supersedes this one.
pub const SUPERSEDED: &str = "record.superseded";

/// Names of the attached time stamps, in their order.
pub const STAMPS: [&str; STAMPS_MAX] = [
    "record.jsonl.tsr",
    "record.jsonl.2.tsr",
    "record.jsonl.3.tsr",
    "record.jsonl.4.tsr",
];

/// The four names that an attached photograph may have, by what it is.
macro_rules! photograph {
    ($number:literal) => {
        [
            concat!("photograph-", $number, ".jpg"),
            concat!("photograph-", $number, ".png"),
            concat!("photograph-", $number, ".heic"),
            concat!("photograph-", $number, ".bin"),
        ]
    };
}

/// Names of the attached photographs, in their order: as JPEG, PNG, HEIC, and as anything else.
pub(super) const PHOTOGRAPHS: [[&str; 4]; 8] = [
    photograph!(1),
    photograph!(2),
    photograph!(3),
    photograph!(4),
    photograph!(5),
    photograph!(6),
    photograph!(7),
    photograph!(8),
];

/// What went wrong with a certificate.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
pub enum Error {
    /// The page could not be set in type.
    #[error("the certificate could not be typeset: {detail}")]
    Typesetting {
        /// What the typesetter says.
        detail: String,
    },
    /// The typeset page could not be written as PDF/A-3a.
    #[error("the certificate could not be written as PDF/A-3a: {detail}")]
    Export {
        /// What the typesetter says.
        detail: String,
    },
    /// What was to be attached is larger than a certificate may carry.
    #[error("`{name}` has {bytes} bytes, a certificate carries at most {bytes_max}")]
    TooLargeToAttach {
        /// The file, by the name it is attached under.
        name: &'static str,
        /// Its length in bytes.
        bytes: u64,
        /// The most that is carried, in bytes.
        bytes_max: u64,
    },
    /// More photographs were chosen than a certificate takes.
    #[error("a certificate takes at most {most} photographs")]
    PhotographsTooMany {
        /// The most that it takes.
        most: usize,
    },
    /// A photograph was chosen, and the record binds none in.
    #[error("`{file}` is no photograph of the record, which binds none in")]
    NoPhotographs {
        /// The file that was chosen.
        file: String,
    },
    /// The record binds in a photograph of that name with other bytes.
    #[error(
        "`{file}` is not the photograph that step `{step}` binds in under this name: its SHA-256 is {sha256}, in the record stands {recorded}"
    )]
    PhotographOther {
        /// The file that was chosen.
        file: String,
        /// The step that binds in one of its name.
        step: String,
        /// SHA-256 of the file.
        sha256: String,
        /// SHA-256 in the record.
        recorded: String,
    },
    /// The record binds in other photographs alone.
    #[error("`{file}` is none of the photographs that the record binds in: its SHA-256 {sha256} is not in the record")]
    PhotographUnknown {
        /// The file that was chosen.
        file: String,
        /// SHA-256 of the file.
        sha256: String,
        /// Those that it binds in.
        known: String,
    },
    /// One photograph was chosen twice.
    #[error("`{file}` is the same photograph as one before it")]
    PhotographTwice {
        /// The file that was chosen.
        file: String,
    },
    /// What was chosen makes a certificate that could not be read again.
    #[error("with these photographs the certificate could not be read again: {because}")]
    NotReadAgain {
        /// What would be wrong with it.
        because: String,
    },
    /// The file is larger than any certificate.
    #[error("the file has {bytes} bytes, a certificate has at most {bytes_max}")]
    FileTooLarge {
        /// Its length in bytes.
        bytes: u64,
        /// The most that is read, in bytes.
        bytes_max: u64,
    },
    /// The file is no PDF, or one too damaged to find anything in.
    #[error("the file is not a whole PDF")]
    NotPdf,
    /// The PDF is not in the shape in which this program writes one.
    #[error("the PDF is not as this program writes one: {what}")]
    NotOurs {
        /// What is otherwise.
        what: &'static str,
    },
    /// The PDF does not carry one of the three files.
    #[error("the PDF carries no `{name}`")]
    AttachmentMissing {
        /// Which of them.
        name: &'static str,
    },
    /// Two attachments, or two versions of one, share a name.
    #[error("the PDF carries `{name}` more than once")]
    AttachmentTwice {
        /// Which of the three.
        name: &'static str,
    },
    /// The attachment is larger than it may be.
    #[error("the attached `{name}` is larger than {bytes_max} bytes")]
    AttachmentTooLarge {
        /// Which of the three.
        name: &'static str,
        /// The most that it may be, in bytes.
        bytes_max: u64,
    },
    /// The attachment does not unpack to what its own length and check sum say.
    #[error("the attached `{name}` is damaged: {fault}")]
    AttachmentDamaged {
        /// Which of the three.
        name: &'static str,
        /// What is wrong with it.
        fault: Damage,
    },
    /// All that is attached unpacks to more than one certificate may.
    #[error("what the PDF carries unpacks to more than {bytes_max} bytes")]
    TogetherTooLarge {
        /// The most that all of it may be, in bytes.
        bytes_max: u64,
    },
    /// The attachment must be text and is not.
    #[error("the attached `{name}` is not text")]
    AttachmentNotText {
        /// Which of the three.
        name: &'static str,
    },
}

/// How an attachment is damaged.
#[derive(Debug, Clone, Copy, PartialEq, Eq, thiserror::Error)]
pub enum Damage {
    /// It is packed in a way that certificates do not use.
    #[error("it is packed in an unknown way")]
    Packing,
    /// The packed bytes cannot be unpacked, or come to another check sum than stated.
    #[error("it does not unpack to what its check sum says")]
    Unpacking,
    /// The unpacked bytes have another length than stated.
    #[error("its length is not the stated one")]
    Length,
}

impl Explain for Error {
    fn hint(&self) -> Option<String> {
        let hint = match self {
            Error::Typesetting { .. } | Error::Export { .. } => {
                "the record is whole: hand over `record.jsonl`, `record.jsonl.sig` and `signer.pub` from `coreproof records export`, and report this fault"
            }
            Error::TooLargeToAttach { .. } => {
                "hand over the plain files instead: `coreproof records export RECORD -o DIR`"
            }
            Error::PhotographsTooMany { .. } | Error::NotReadAgain { .. } => {
                "choose fewer or smaller ones; of all others the page has name and SHA-256, so their files can be handed over beside it"
            }
            Error::NoPhotographs { .. } => {
                "leave it out: a photograph is bound in where the sequence asks for one or a fault is found by eye"
            }
            Error::PhotographOther { .. } => {
                "give the file as it was when it was bound in: one that was cropped, turned, or sent by a messenger is another file"
            }
            Error::PhotographUnknown { known, .. } => {
                return Some(format!(
                    "the record binds in {known}: give one of these files as it was then"
                ));
            }
            Error::PhotographTwice { .. } => "name each photograph once",
            Error::FileTooLarge { .. } => "give the certificate itself, as it was handed over",
            Error::NotPdf | Error::AttachmentDamaged { .. } | Error::AttachmentNotText { .. } => {
                "the file was damaged or altered on its way: ask the engineer to send the certificate again"
            }
            Error::NotOurs { .. } => {
                "another program saved it anew: ask the engineer for the file as `coreproof certificate` wrote it"
            }
            Error::AttachmentMissing { .. } => {
                "printing to PDF and some mail programs drop attachments: ask the engineer for the file as `coreproof certificate` wrote it"
            }
            Error::AttachmentTwice { .. } | Error::AttachmentTooLarge { .. } | Error::TogetherTooLarge { .. } => {
                "somebody altered the file: trust none of it, and ask the engineer for the certificate again"
            }
        };
        Some(hint.to_owned())
    }

    fn is_equipment(&self) -> bool {
        false
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn check(error: &Error, text: &str, hint: &str) {
        assert_eq!(error.to_string(), text);
        let said = error.hint().expect("every kind has a next act");
        assert!(said.contains(hint), "{said}");
        assert!(!error.is_equipment());
    }

    #[test]
    fn every_kind_has_its_words_and_its_next_act() {
        let detail = || "no such key".to_owned();
        check(
            &Error::Typesetting { detail: detail() },
            "the certificate could not be typeset: no such key",
            "report this fault",
        );
        check(
            &Error::Export { detail: detail() },
            "the certificate could not be written as PDF/A-3a: no such key",
            "report this fault",
        );
        check(
            &Error::TooLargeToAttach {
                name: RECORD,
                bytes: 9,
                bytes_max: 8,
            },
            "`record.jsonl` has 9 bytes, a certificate carries at most 8",
            "records export",
        );
        let file = || "clamp.jpg".to_owned();
        check(
            &Error::PhotographsTooMany { most: 8 },
            "a certificate takes at most 8 photographs",
            "choose fewer or smaller ones",
        );
        check(
            &Error::NoPhotographs { file: file() },
            "`clamp.jpg` is no photograph of the record, which binds none in",
            "leave it out",
        );
        check(
            &Error::PhotographOther {
                file: file(),
                step: "as-found".into(),
                sha256: "00".into(),
                recorded: "11".into(),
            },
            "`clamp.jpg` is not the photograph that step `as-found` binds in under this name: its SHA-256 is 00, in the record stands 11",
            "give the file as it was when it was bound in",
        );
        check(
            &Error::PhotographUnknown {
                file: file(),
                sha256: "00".into(),
                known: "`lid.jpg` of step `as-found`".into(),
            },
            "`clamp.jpg` is none of the photographs that the record binds in: its SHA-256 00 is not in the record",
            "the record binds in `lid.jpg` of step `as-found`: give one of these files",
        );
        check(
            &Error::PhotographTwice { file: file() },
            "`clamp.jpg` is the same photograph as one before it",
            "name each photograph once",
        );
        check(
            &Error::NotReadAgain {
                because: "it is too large".into(),
            },
            "with these photographs the certificate could not be read again: it is too large",
            "choose fewer or smaller ones",
        );
        check(
            &Error::FileTooLarge { bytes: 9, bytes_max: 8 },
            "the file has 9 bytes, a certificate has at most 8",
            "as it was handed over",
        );
        check(
            &Error::NotPdf,
            "the file is not a whole PDF",
            "send the certificate again",
        );
        check(
            &Error::NotOurs {
                what: "its trailer is another",
            },
            "the PDF is not as this program writes one: its trailer is another",
            "as `coreproof certificate` wrote it",
        );
        check(
            &Error::AttachmentMissing { name: SIGNATURE },
            "the PDF carries no `record.jsonl.sig`",
            "drop attachments",
        );
        check(
            &Error::AttachmentTwice { name: RECORD },
            "the PDF carries `record.jsonl` more than once",
            "trust none of it",
        );
        check(
            &Error::AttachmentTooLarge {
                name: RECORD,
                bytes_max: 8,
            },
            "the attached `record.jsonl` is larger than 8 bytes",
            "trust none of it",
        );
        check(
            &Error::AttachmentNotText { name: PUBLIC_KEY },
            "the attached `signer.pub` is not text",
            "send the certificate again",
        );
        for (fault, words) in [
            (Damage::Packing, "it is packed in an unknown way"),
            (Damage::Unpacking, "it does not unpack to what its check sum says"),
            (Damage::Length, "its length is not the stated one"),
        ] {
            let text = format!("the attached `record.jsonl` is damaged: {words}");
            check(
                &Error::AttachmentDamaged { name: RECORD, fault },
                &text,
                "send the certificate again",
            );
        }
    }
}
