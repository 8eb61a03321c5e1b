//! `certificate`: the document to hand over, and what `verify` needs of one.

use std::path::Path;

use super::error::{Failure, PASSED};
use super::home::Home;
use super::out::say;
use crate::evidence::archive::Archive;
use crate::evidence::audit::examine;
use crate::evidence::keys::PublicKey;
use crate::evidence::{Sealed, write_new};
use crate::run::fold::Run;

/// Writes the certificate of a stored record, or of a record file.
pub(super) fn certificate(record: &str, output: &Path) -> Result<u8, Failure> {
    let path = Path::new(record);
    let sealed = if path.is_file() {
        Sealed::read(path)?
    } else {
        let entry = Archive::open(&Home::open()?.archive())?.get(record)?;
        Sealed {
            record: entry.record,
            signature: entry.signature,
        }
    };
    let examined = examine::<Run>(&sealed.record, &sealed.signature, None);
    if let Some(remark) = examined.against() {
        let what = format!("record `{record}`: {}: {}", remark.concern.word(), remark.what);
        return Err(Failure::refused(what)
            .hint("a record with findings gets no certificate; see `coreproof verify` or `audit`"));
    }
    let (signer, run) = (
        examined.signer.expect("no remarks"),
        examined.folded.expect("no remarks"),
    );
    write(output, &run, &sealed, &signer)?;
    say!("{} carries the record of run {}", output.display(), run.opened.run);
    Ok(PASSED)
}

/// Renders and writes; nothing that exists is overwritten.
pub(super) fn write(output: &Path, run: &Run, sealed: &Sealed, signer: &PublicKey) -> Result<(), Failure> {
    Ok(write_new(output, &of_record(run, sealed, signer)?)?)
}

#[cfg(feature = "certificate")]
pub(super) use crate::evidence::certificate::{of_record, record_in};

#[cfg(not(feature = "certificate"))]
mod without {
    //! What is said where the program was built without certificates.

    use super::{PublicKey, Run, Sealed};
    use crate::evidence::Refusal;

    fn refused() -> Refusal {
        Refusal::new("this coreproof was built without certificates").then("build it with the feature `certificate`")
    }

    pub(crate) fn of_record(_: &Run, _: &Sealed, _: &PublicKey) -> Result<Vec<u8>, Refusal> {
        Err(refused())
    }

    pub(crate) fn record_in(_: &[u8]) -> Result<Sealed, Refusal> {
        Err(refused())
    }
}

#[cfg(not(feature = "certificate"))]
pub(super) use without::{of_record, record_in};

/// What comparing the pages with the record came to.
pub(super) enum Pages {
    Same,
    /// Another version rendered them; its pages cannot be made again here.
    OtherVersion,
}

/// Compares the pages with what the carried record renders to.
pub(super) fn compare_pages(content: &[u8], sealed: &Sealed, run: &Run, signer: &PublicKey) -> Result<Pages, Failure> {
    if of_record(run, sealed, signer)? == content {
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
