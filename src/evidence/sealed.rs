//! A journal with its signature, wherever the two came from, and the plain files that they are handed over as.
//!
//! The rule inside: nothing that exists is written over.

use std::io::Write;
use std::path::{Path, PathBuf};

use super::log::PROOF_BYTES_MAX;
use super::refusal::Refusal;
use crate::system::disk;

/// The largest file that is read, in bytes: a record at its cap, and its certificate around it.
const FILE_BYTES_MAX: u64 = 160 << 20;

/// The largest signature, in bytes: one takes some three hundred.
const SIGNATURE_BYTES_MAX: u64 = 64 << 10;

/// A record or an identification, and its signature.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Sealed {
    /// The journal, byte for byte.
    pub record: Vec<u8>,
    /// The signature over it, armoured.
    pub signature: String,
}

/// What stands beside a record and its signature, each as it is written: in a certificate, or in a folder under the record's own name.
#[derive(Debug, Clone, Default, PartialEq, Eq)]
pub struct Beside {
    /// The name that the signer's key is trusted as by whoever made the certificate; none where it is not known to them.
    pub known_as: Option<String>,
    /// The proof that the record is in the log of its archive.
    pub proof: Option<String>,
    /// Further signatures over the record, in the order in which they came.
    pub further: Vec<Further>,
    /// The statements that a later record supersedes this one.
    pub superseded: Option<String>,
    /// Time stamps over the record (RFC 3161).
    pub stamps: Vec<Vec<u8>>,
    /// The photographs that were chosen for a certificate, in the order in which the record binds them in; a folder has none of them.
    pub photographs: Vec<Vec<u8>>,
}

/// A further signature.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Further {
    /// It, armoured.
    pub signature: String,
    /// The name that its key is trusted as by whoever made the certificate.
    pub known_as: Option<String>,
}

/// A record with all that stands beside it.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Document {
    /// The record and its signature.
    pub sealed: Sealed,
    /// What stands beside them.
    pub beside: Beside,
    /// The program that wrote the certificate, by its own word.
    pub made_by: Option<String>,
}

impl Sealed {
    /// A file with its signature beside it.
    ///
    /// # Errors
    /// Files that are not there, not regular or too large; a signature that is no text.
    pub fn read(path: &Path) -> Result<Sealed, Refusal> {
        let record = bytes(path)?;
        let beside = beside(path);
        if !beside.is_file() {
            let what = format!("the signature `{}` is not there", beside.display());
            return Err(Refusal::new(what).then("put the signature beside the record under that name"));
        }
        let signature = String::from_utf8(at_most(&beside, SIGNATURE_BYTES_MAX)?)
            .map_err(|_| Refusal::new(format!("`{}` is not a signature", beside.display())))?;
        Ok(Sealed { record, signature })
    }

    /// Writes record, signature and public key into a folder as plain files.
    ///
    /// # Errors
    /// A folder that cannot be made, files that are there or cannot be written.
    pub fn write_into(&self, folder: &Path, public_key: &str) -> Result<(), Refusal> {
        std::fs::create_dir_all(folder).map_err(|error| {
            Refusal::equipment(format!("the folder `{}` cannot be made: {error}", folder.display()))
        })?;
        write_new(&folder.join("record.jsonl"), &self.record)?;
        self.write_beside(folder, public_key)
    }

    /// Writes signature and public key beside a record that is there.
    ///
    /// # Errors
    /// Files that are there or cannot be written.
    pub fn write_beside(&self, folder: &Path, public_key: &str) -> Result<(), Refusal> {
        write_new(&folder.join("record.jsonl.sig"), self.signature.as_bytes())?;
        let line = format!("{}\n", public_key.trim_end());
        write_new(&folder.join("signer.pub"), line.as_bytes())
    }
}

impl Document {
    /// A record file with its signature and whatever else lies beside it under its name.
    ///
    /// # Errors
    /// As [`Sealed::read`]; a file beside it that cannot be read, or is no text.
    pub fn read(path: &Path) -> Result<Document, Refusal> {
        let mut beside = Beside {
            proof: text_beside(&path.with_extension("tlog-proof"), PROOF_BYTES)?,
            superseded: text_beside(&path.with_extension("superseded"), TEXT_BYTES_MAX)?,
            ..Beside::default()
        };
        for number in 0..FURTHER_MAX {
            let signature = text_beside(&with_end(path, &further_end(number)), SIGNATURE_BYTES_MAX)?;
            beside.further.extend(signature.map(|signature| Further {
                signature,
                known_as: None,
            }));
        }
        for number in 0..STAMPS_MAX {
            let stamp = with_end(path, &stamp_end(number));
            if stamp.is_file() {
                beside.stamps.push(at_most(&stamp, TEXT_BYTES_MAX)?);
            }
        }
        Ok(Document {
            sealed: Sealed::read(path)?,
            beside,
            made_by: None,
        })
    }
}

impl Beside {
    /// Writes it into a folder beside `record.jsonl`; the names of the files.
    ///
    /// # Errors
    /// Files that are there or cannot be written.
    pub fn write_into(&self, folder: &Path) -> Result<Vec<String>, Refusal> {
        let record = Path::new("record.jsonl");
        let further = self.further.iter().enumerate().map(|(number, further)| {
            let name = with_end(record, &further_end(number));
            (name, further.signature.as_bytes())
        });
        let proof = self
            .proof
            .iter()
            .map(|text| (record.with_extension("tlog-proof"), text.as_bytes()));
        let superseded = self
            .superseded
            .iter()
            .map(|text| (record.with_extension("superseded"), text.as_bytes()));
        let stamps = self.stamps.iter().enumerate();
        let stamps = stamps.map(|(number, stamp)| (with_end(record, &stamp_end(number)), stamp.as_slice()));
        let mut names = Vec::new();
        for (name, bytes) in proof.chain(further).chain(superseded).chain(stamps) {
            write_new(&folder.join(&name), bytes)?;
            names.push(name.display().to_string());
        }
        Ok(names)
    }
}

/// The most further signatures that a record takes.
pub const FURTHER_MAX: usize = 8;

/// The most time stamps that a record takes.
pub const STAMPS_MAX: usize = 4;

/// The end of the name of a time stamp, counted from 0.
fn stamp_end(number: usize) -> String {
    match number {
        0 => ".tsr".into(),
        _ => format!(".{}.tsr", number + 1),
    }
}

/// The largest proof of inclusion that is read, in bytes.
const PROOF_BYTES: u64 = PROOF_BYTES_MAX as u64;

/// The largest of the other files beside a record, in bytes.
const TEXT_BYTES_MAX: u64 = 64 << 10;

/// The end of the name of a further signature, counted from 0: the first signature is `.sig`, the second `.2.sig`.
fn further_end(number: usize) -> String {
    format!(".{}.sig", number + 2)
}

/// A text that may lie beside a record.
fn text_beside(path: &Path, bytes_max: u64) -> Result<Option<String>, Refusal> {
    if !path.is_file() {
        return Ok(None);
    }
    let text = String::from_utf8(at_most(path, bytes_max)?);
    text.map(Some)
        .map_err(|_| Refusal::new(format!("`{}` is not text", path.display())))
}

fn with_end(path: &Path, end: &str) -> PathBuf {
    let mut name = path.as_os_str().to_owned();
    name.push(end);
    PathBuf::from(name)
}

/// Where the signature of a file lies.
pub fn beside(path: &Path) -> PathBuf {
    with_end(path, ".sig")
}

/// Reads a file with a cap.
///
/// # Errors
/// A file that is not there, no regular one, larger than any record, or that cannot be read.
pub fn bytes(path: &Path) -> Result<Vec<u8>, Refusal> {
    at_most(path, FILE_BYTES_MAX)
}

fn at_most(path: &Path, bytes_max: u64) -> Result<Vec<u8>, Refusal> {
    disk::read(path, bytes_max)
        .map_err(|why| Refusal::new(format!("`{}` cannot be read: {why}", path.display())).then(why.hint()))
}

/// Writes and syncs a file that is not there yet.
///
/// # Errors
/// A file that is there; a disk that fails.
pub fn write_new(path: &Path, bytes: &[u8]) -> Result<(), Refusal> {
    let failed = |error: std::io::Error| {
        if error.kind() == std::io::ErrorKind::AlreadyExists {
            Refusal::new(format!("`{}` is already there", path.display())).then("give another name or an empty folder")
        } else {
            Refusal::equipment(format!("`{}` cannot be written: {error}", path.display()))
        }
    };
    let mut file = std::fs::File::create_new(path).map_err(failed)?;
    file.write_all(bytes).and_then(|()| file.sync_all()).map_err(failed)
}
