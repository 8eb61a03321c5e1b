//! `certificate`: the document to hand over, and what `verify` needs of one.

use super::out::say;
use std::path::Path;

use super::error::{Failure, PASSED};
use super::home::Home;
use super::verify::Sealed;
use super::{records, verify};
use crate::evidence::archive::Archive;
use crate::evidence::audit::examine;
use crate::evidence::keys::PublicKey;
use crate::run::fold::Run;

/// Writes the certificate of a stored record, or of a record file.
pub fn certificate(record: &str, output: &Path) -> Result<u8, Failure> {
    let path = Path::new(record);
    let sealed = if path.is_file() {
        verify::pair(path)?
    } else {
        let entry = Archive::open(&Home::open()?.archive())?.get(record)?;
        Sealed {
            record: entry.record,
            signature: entry.signature,
        }
    };
    let examined = examine(&sealed.record, &sealed.signature, None);
    if let Some(remark) = examined.remarks.iter().find(|r| r.is_against()) {
        let what = format!("record `{record}`: {}: {}", remark.concern.word(), remark.what);
        return Err(Failure::refused(what)
            .hint("a record with findings gets no certificate; see `coreproof verify` or `audit`"));
    }
    let (signer, run) = (examined.signer.expect("no remarks"), examined.run.expect("no remarks"));
    write(output, &run, &sealed, &signer)?;
    say!("{} carries the record of run {}", output.display(), run.opened.run);
    Ok(PASSED)
}

/// Renders and writes; nothing that exists is overwritten.
pub fn write(output: &Path, run: &Run, sealed: &Sealed, signer: &PublicKey) -> Result<(), Failure> {
    records::write_new(output, &render(run, sealed, signer)?)
}

#[cfg(feature = "certificate")]
mod rendered {
    use super::{Failure, PublicKey, Run, Sealed};
    use crate::evidence::archive::sha256_hex;
    use crate::evidence::certificate::page::{Page, Seal};
    use crate::evidence::certificate::{self, Attachments};

    impl From<certificate::Error> for Failure {
        fn from(error: certificate::Error) -> Failure {
            let failure = Failure::refused(error.to_string());
            match error.hint() {
                Some(hint) => failure.hint(hint),
                None => failure,
            }
        }
    }

    /// The PDF of a record, the same bytes each time. What is printed of the key is the key itself: a comment beside it
    /// is nobody's word.
    pub fn render(run: &Run, sealed: &Sealed, signer: &PublicKey) -> Result<Vec<u8>, Failure> {
        let bare = signer
            .openssh_line()
            .split_whitespace()
            .take(2)
            .collect::<Vec<_>>()
            .join(" ");
        let signed_by = match &run.opened.rehearsal {
            Some(_) => "throw-away key of a rehearsal".to_owned(),
            None => run.plan.job.engineer.clone(),
        };
        let seal = Seal {
            signed_by,
            fingerprint: signer.fingerprint(),
            public_key: bare.clone(),
            record_sha256: sha256_hex(&sealed.record),
        };
        let attachments = Attachments {
            record: &sealed.record,
            signature: &sealed.signature,
            public_key: &format!("{bare}\n"),
        };
        Ok(certificate::render(&Page::of(run, &seal), &attachments)?)
    }

    /// The record that a certificate carries.
    pub fn carried(content: &[u8]) -> Result<Sealed, Failure> {
        let carried = certificate::carried(content)?;
        Ok(Sealed {
            record: carried.record,
            signature: carried.signature,
        })
    }
}

#[cfg(not(feature = "certificate"))]
mod rendered {
    use super::{Failure, PublicKey, Run, Sealed};

    fn without() -> Failure {
        Failure::refused("this coreproof was built without certificates")
            .hint("build it with the feature `certificate`")
    }

    pub fn render(_: &Run, _: &Sealed, _: &PublicKey) -> Result<Vec<u8>, Failure> {
        Err(without())
    }

    pub fn carried(_: &[u8]) -> Result<Sealed, Failure> {
        Err(without())
    }
}

pub use rendered::{carried, render};

/// What comparing the pages with the record came to.
pub enum Pages {
    Same,
    /// Another version rendered them; its pages cannot be made again here.
    OtherVersion,
}

/// Compares the pages with what the carried record renders to.
pub fn compare_pages(content: &[u8], sealed: &Sealed, run: &Run, signer: &PublicKey) -> Result<Pages, Failure> {
    if render(run, sealed, signer)? == content {
        Ok(Pages::Same)
    } else if run.opened.program == crate::run::event::PROGRAM {
        Err(
            Failure::refused("the record inside is good, but the pages are not what it renders to: they were changed")
                .hint("do not rely on the pages: export the record and make the certificate anew"),
        )
    } else {
        Ok(Pages::OtherVersion)
    }
}
