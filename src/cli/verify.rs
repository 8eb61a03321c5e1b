//! `verify`: a record with its signature, or a certificate that carries both.

use super::out::say;
use std::path::{Path, PathBuf};

use super::certificate::Pages;
use super::error::{FOUND, Failure, PASSED};
use super::home::Home;
use super::identified;
use crate::evidence::audit::{Concern, examine, is_identification};
use crate::evidence::keys::{PublicKey, Trust};
use crate::run::event::PROGRAM;
use crate::run::fold::Run;
use crate::terminal::plain::clean;

/// The largest file that is read, in bytes: a record at its cap, and its certificate around it.
const FILE_BYTES_MAX: u64 = 160 << 20;

/// A record and its signature, wherever they came from.
pub struct Sealed {
    pub record: Vec<u8>,
    pub signature: String,
}

/// Reads a file with a cap.
pub fn bytes(path: &Path) -> Result<Vec<u8>, Failure> {
    let failed =
        |error: &dyn std::fmt::Display| Failure::refused(format!("`{}` cannot be read: {error}", path.display()));
    let size = std::fs::metadata(path)
        .map_err(|e| failed(&e).hint("check the path"))?
        .len();
    if FILE_BYTES_MAX < size {
        return Err(failed(&format!("it holds {size} bytes, more than any record")));
    }
    std::fs::read(path).map_err(|e| failed(&e))
}

/// Where the signature of a file lies.
pub fn beside(path: &Path) -> PathBuf {
    let mut beside = path.as_os_str().to_owned();
    beside.push(".sig");
    PathBuf::from(beside)
}

/// A record file with its signature beside it.
pub fn pair(path: &Path) -> Result<Sealed, Failure> {
    let record = bytes(path)?;
    let beside = beside(path);
    if !beside.is_file() {
        return Err(
            Failure::refused(format!("the signature `{}` is not there", beside.display()))
                .hint("put the signature beside the record under that name"),
        );
    }
    let signature = String::from_utf8(bytes(&beside)?)
        .map_err(|_| Failure::refused(format!("`{}` is not a signature", beside.display())))?;
    Ok(Sealed { record, signature })
}

/// Verifies a file.
pub fn verify(file: &Path, key: Option<&Path>) -> Result<u8, Failure> {
    let content = bytes(file)?;
    let is_pdf = content.starts_with(b"%PDF");
    let sealed = if is_pdf {
        super::certificate::carried(&content)?
    } else {
        pair(file)?
    };
    let pinned = key.map(PublicKey::read).transpose()?;
    if is_identification(&sealed.record) {
        return identified::verify(file, &sealed, pinned.as_ref());
    }
    let examined = examine(&sealed.record, &sealed.signature, pinned.as_ref());
    let Some(signer) = &examined.signer else {
        let what = examined
            .remarks
            .iter()
            .find(|r| r.concern == Concern::Signature)
            .map_or("", |r| r.what.as_str());
        return Err(Failure::refused(format!("`{}`: {what}", file.display()))
            .hint("do not rely on it: ask the engineer for the record again"));
    };
    say!("signature    good, {}", signer.fingerprint());
    if let Some(run) = &examined.run {
        print_run(run);
    }
    for remark in &examined.remarks {
        say!("{:<12} {}", remark.concern.word(), clean(&remark.words()));
    }
    // a rehearsal runs in simulated time, ahead of the clock
    if let Some((_, at)) = examined
        .run
        .as_ref()
        .filter(|r| r.opened.rehearsal.is_none())
        .and_then(|r| r.ending.as_ref())
        && jiff::Timestamp::now() < *at
    {
        say!("clock        the record was closed at {at}, which has not come yet: a clock was wrong");
    }
    match (&pinned, &examined.run) {
        (Some(_), _) => say!("signer       the key given"),
        (None, run) => {
            let at = run
                .as_ref()
                .and_then(|r| r.ending.as_ref())
                .map_or_else(jiff::Timestamp::now, |(_, at)| *at);
            let trust = Trust::read(&Home::open()?.trusted())?;
            match trust.name_of(signer, at) {
                Some(name) => say!("signer       {}", clean(name)),
                None => return Err(not_trusted(signer, run.as_ref())),
            }
        }
    }
    if examined.remarks.iter().any(crate::evidence::audit::Remark::is_against) {
        return Ok(FOUND);
    }
    if is_pdf && let Some(run) = &examined.run {
        let said = match super::certificate::compare_pages(&content, &sealed, run, signer)? {
            Pages::Same => "exactly what this record renders to".to_owned(),
            Pages::OtherVersion => format!(
                "not compared: {} or its pages are of another version than {}; rely on the record",
                run.opened.program, PROGRAM
            ),
        };
        say!("pages        {}", clean(&said));
    }
    say!("record       unchanged since it was sealed, every verdict judged again");
    // a script must not take a rehearsal for a proof
    Ok(if examined.run.is_some_and(|r| r.opened.rehearsal.is_some()) {
        FOUND
    } else {
        PASSED
    })
}

fn not_trusted(signer: &PublicKey, run: Option<&Run>) -> Failure {
    let failure = Failure::refused(format!("the signer {} is not trusted here", signer.fingerprint()));
    if run.is_some_and(|r| r.opened.rehearsal.is_some()) {
        return failure
            .hint("this is a rehearsal, signed with a throw-away key: nothing was measured, nobody is to believe it");
    }
    failure.hint(
        "compare the fingerprint with the engineer by another way, then `coreproof key trust signer.pub --as NAME`",
    )
}

fn print_run(run: &Run) {
    let job = &run.plan.job;
    let line = |name: &str, text: &str| say!("{name:<12} {}", clean(text));
    if run.opened.rehearsal.is_some() {
        line("REHEARSAL", "nothing was measured");
    }
    line("run", &run.opened.run.to_string());
    line("place", &format!("{}, {}", job.place.name, job.place.part));
    line("cable", &job.cable);
    line("engineer", &job.engineer);
    line("opened", &run.opened_at.to_string());
    line("verdict", run.outcome().word());
    line("limits", &job.limits.caveat);
}
