//! `certificate`: the document to hand over, and what `verify` needs of one.

use std::path::{Path, PathBuf};

use super::error::Failure;
use super::home::Home;
use super::out::say;
use super::resting;
use crate::evidence::archive::Archive;
use crate::evidence::keys::{PublicKey, Trust};
use crate::evidence::log::{Proof, head_of};
use crate::evidence::statements;
use crate::evidence::supersession::Supersession;
use crate::evidence::{Beside, CopyFor, Document, Sealed, prove, write_new};
use crate::run::event::PROGRAM;
use crate::run::fold::Run;
use crate::system::disk;
use crate::terminal::plain::clean;

/// Writes the certificate of a stored record, or of a record file, to where its run says; it says what it wrote and opens nothing.
/// The photographs that were chosen go with it.
pub(super) fn certificate(
    record: &str,
    output: impl Fn(&Run) -> PathBuf,
    copy: CopyFor,
    photographs: &[PathBuf],
) -> Result<(), Failure> {
    let path = Path::new(record);
    let trust = Trust::read(&Home::open()?.trusted())?;
    let (sealed, mut beside) = if path.is_file() {
        (Sealed::read(path)?, Beside::default())
    } else {
        let archive = Archive::read(&Home::open()?.archive())?;
        let document = statements::document(&archive, &trust, archive.get(record)?)?;
        (document.sealed, document.beside)
    };
    let mut examined = prove(&sealed, None, &trust, jiff::Timestamp::now());
    if let Some(run) = &examined.folded {
        examined.remarks.extend(resting::at_hand(run)?);
    }
    if let Some(remark) = examined.against() {
        let what = format!("record `{record}`: {}: {}", remark.concern.word(), remark.what);
        return Err(Failure::refused(what)
            .hint("a record with findings gets no certificate; see `coreproof verify` or `audit`"));
    }
    let (signer, run) = (
        examined.signer.expect("no remarks"),
        examined.folded.expect("no remarks"),
    );
    let closed = run.ending.as_ref().map_or(run.opened_at, |(_, at)| *at);
    beside.known_as = trust.name_of(&signer, closed).map(str::to_owned);
    beside.photographs = chosen(&run, read_all(photographs)?)?;
    let output = output(&run);
    write(&output, &run, &sealed, &signer, &beside, copy)?;
    say!(
        "{}, {}, carries the record of run {}",
        clean(&output.display().to_string()),
        copy.words(),
        run.opened.run
    );
    for later in beside.superseded.iter().flat_map(|text| Supersession::all_in(text)) {
        say!("note: {}", clean(&later.words()));
    }
    let proof = beside.proof.and_then(|text| Proof::read(&text).ok());
    match proof.and_then(|proof| head_of(&proof.note).ok()) {
        Some(head) => say!(
            "and the proof that it is in the log {}, as it was with {} leaves",
            clean(&head.origin),
            head.size
        ),
        None => say!("it carries no checkpoint of an archive"),
    }
    Ok(())
}

/// Photographs by their paths.
fn read_all(photographs: &[PathBuf]) -> Result<Vec<(String, Vec<u8>)>, Failure> {
    let read = |path: &PathBuf| {
        let name = path.display().to_string();
        let bytes = disk::read(path, PHOTOGRAPH_BYTES_MAX)
            .map_err(|why| Failure::refused(format!("photograph `{name}`: {why}")).hint(why.hint()))?;
        Ok((name, bytes))
    };
    photographs.iter().map(read).collect()
}

/// Renders and writes; nothing that exists is overwritten.
pub(super) fn write(
    output: &Path,
    run: &Run,
    sealed: &Sealed,
    signer: &PublicKey,
    beside: &Beside,
    copy: CopyFor,
) -> Result<(), Failure> {
    Ok(write_new(output, &of_record(run, sealed, signer, beside, copy)?)?)
}

#[cfg(feature = "certificate")]
pub(super) use crate::evidence::certificate::{PHOTOGRAPH_BYTES_MAX, chosen, held, of_record, record_in};

#[cfg(not(feature = "certificate"))]
mod without {
    //! What is said where the program was built without certificates.

    use super::super::args::Lid;
    use super::Document;
    use super::{Beside, CopyFor, Failure, PublicKey, Run, Sealed};
    use crate::evidence::Refusal;

    fn refused() -> Refusal {
        Refusal::new("this coreproof was built without certificates").then("build it with the feature `certificate`")
    }

    pub(crate) fn of_record(_: &Run, _: &Sealed, _: &PublicKey, _: &Beside, _: CopyFor) -> Result<Vec<u8>, Refusal> {
        Err(refused())
    }

    pub(in crate::cli) const PHOTOGRAPH_BYTES_MAX: u64 = 0;

    pub(crate) fn chosen(_: &Run, _: Vec<(String, Vec<u8>)>) -> Result<Vec<Vec<u8>>, Refusal> {
        Err(refused())
    }

    pub(crate) fn held(_: &Run, _: &[Vec<u8>]) -> Result<(), Refusal> {
        Err(refused())
    }

    pub(crate) fn record_in(_: &[u8]) -> Result<Document, Refusal> {
        Err(refused())
    }

    pub(in crate::cli) fn lid(_: &Lid) -> Result<u8, Failure> {
        Err(refused().into())
    }
}

#[cfg(not(feature = "certificate"))]
pub(super) use without::{PHOTOGRAPH_BYTES_MAX, chosen, held, lid, of_record, record_in};

/// What comparing the pages with the record came to.
pub(super) enum Pages {
    Same,
    /// Another version rendered them, by its name; its pages cannot be made again here.
    OtherVersion(String),
}

/// Compares the pages with what the carried record renders to.
pub(super) fn compare_pages(
    content: &[u8],
    document: &Document,
    run: &Run,
    signer: &PublicKey,
) -> Result<Pages, Failure> {
    let made_by = document.made_by.as_deref();
    held(run, &document.beside.photographs).map_err(|error| {
        Failure::refused(format!("the record inside is good, but the attached {error}"))
            .hint("do not rely on the pictures: ask the engineer for the certificate again")
    })?;
    // nothing in the file says which copy it is, since nothing there would be believed
    for copy in CopyFor::ALL {
        if of_record(run, &document.sealed, signer, &document.beside, copy)? == content {
            return Ok(Pages::Same);
        }
    }
    // a word in the file names who made its pages, and a forger writes there what helps him
    let Some(by) = another_maker(made_by, &run.opened.program) else {
        return Err(Failure::refused(
            "the record inside is good, but the pages are not what it renders to: they were changed",
        )
        .hint("do not rely on the pages: export the record and make the certificate anew"));
    };
    Ok(Pages::OtherVersion(by))
}

/// The version other than this one that can have made the pages, by their own word: none that is older than the one that walked the run, and
/// the earliest versions alone did not say which they are.
fn another_maker(made_by: Option<&str>, walked_by: &str) -> Option<String> {
    let (walked, ours) = (version(walked_by), version(PROGRAM)?);
    match made_by.and_then(version) {
        Some(made) if made == ours || walked.is_some_and(|walked| made < walked) => None,
        Some(_) => made_by.map(str::to_owned),
        None if walked.is_some_and(|walked| VERSION_SAID <= walked) => None,
        None => Some(format!("{walked_by} or a later one")),
    }
}

/// The first version that says in a certificate which it is.
const VERSION_SAID: [u64; 3] = [0, 2, 0];

/// The numbers of `coreproof 0.3.0`.
fn version(program: &str) -> Option<[u64; 3]> {
    let mut numbers = program
        .strip_prefix("coreproof ")?
        .split('.')
        .map(|part| part.parse().ok());
    let version = [numbers.next()??, numbers.next()??, numbers.next()??];
    numbers.next().is_none().then_some(version)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn pages_that_differ_are_another_versions_only_where_that_can_be() {
        for (made_by, walked_by, expected) in [
            (Some(PROGRAM), "coreproof 0.1.0", None),
            (Some("coreproof 0.2.0"), "coreproof 0.1.0", Some("coreproof 0.2.0")),
            (Some("coreproof 0.2.0"), PROGRAM, None),
            (Some("coreproof 99.0.0"), PROGRAM, Some("coreproof 99.0.0")),
            (
                Some("coreproof"),
                "coreproof 0.1.0",
                Some("coreproof 0.1.0 or a later one"),
            ),
            (None, "coreproof 0.1.0", Some("coreproof 0.1.0 or a later one")),
            (None, PROGRAM, None),
            (Some("coreproof 0.2"), PROGRAM, None),
            (Some("another program"), "coreproof 0.2.0", None),
        ] {
            assert_eq!(
                another_maker(made_by, walked_by).as_deref(),
                expected,
                "{made_by:?} {walked_by}"
            );
        }
    }
}
