//! A journal with its signature, wherever the two came from, and the plain files that they are handed over as.
//!
//! The rule inside: nothing that exists is written over.

use std::io::Write;
use std::path::{Path, PathBuf};

use super::log::{PROOF_BYTES_MAX, Proof};
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

/// What a certificate says beside its record.
#[derive(Debug, Clone, Default, PartialEq)]
pub struct Beside {
    /// The name that the signer's key is trusted as by whoever makes the certificate; none where it is not known to them.
    pub known_as: Option<String>,
    /// The proof that the record is in the log of its archive.
    pub proof: Option<Proof>,
}

/// What a certificate carries.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Document {
    /// The record and its signature.
    pub sealed: Sealed,
    /// The proof that they are in the log of an archive, as it is written there.
    pub proof: Option<String>,
    /// The name beside the carried key: the one that it was trusted as by whoever made the certificate.
    pub known_as: Option<String>,
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

/// The largest proof of inclusion that is read, in bytes.
const PROOF_BYTES: u64 = PROOF_BYTES_MAX as u64;

/// The proof of inclusion that lies beside a record, where there is one: `record.tlog-proof` beside `record.jsonl`.
///
/// # Errors
/// A file that is there and cannot be read, or is no text.
pub fn proof_beside(path: &Path) -> Result<Option<String>, Refusal> {
    let beside = path.with_extension("tlog-proof");
    if !beside.is_file() {
        return Ok(None);
    }
    let text = String::from_utf8(at_most(&beside, PROOF_BYTES)?);
    text.map(Some)
        .map_err(|_| Refusal::new(format!("`{}` is no proof of inclusion", beside.display())))
}

/// Where the signature of a file lies.
pub fn beside(path: &Path) -> PathBuf {
    let mut beside = path.as_os_str().to_owned();
    beside.push(".sig");
    PathBuf::from(beside)
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
