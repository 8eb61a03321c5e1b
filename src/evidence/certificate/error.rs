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
