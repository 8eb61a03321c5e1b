//! Signed identifications read again: `verify FILE`, and `run --identified FILE`.

use std::path::Path;

use super::error::{FOUND, Failure, PASSED};
use super::home::Home;
use super::identify_told::print_named;
use super::out::say;
use super::verify::{self, Sealed};
use crate::evidence::audit::{self, Concern, Identified, Remark, examine_identification};
use crate::evidence::keys::{PublicKey, Trust};
use crate::identify::event::{Subject, Told};
use crate::identify::session::Session;
use crate::job::Job;
use crate::located::Text;
use crate::terminal::plain::clean;

/// Verifies one.
pub fn verify(file: &Path, sealed: &Sealed, pinned: Option<&PublicKey>) -> Result<u8, Failure> {
    let examined = examine_identification(&sealed.record, &sealed.signature, pinned);
    let signer = signer_of(file, &examined)?;
    say!("signature    good, {}", signer.fingerprint());
    if let Some(session) = &examined.session {
        print(session);
    }
    for remark in &examined.remarks {
        say!("{:<12} {}", remark.concern.word(), clean(&remark.words()));
    }
    match pinned {
        Some(_) => say!("signer       the key given"),
        None => say!("signer       {}", clean(&trusted(signer, examined.session.as_ref())?)),
    }
    if examined.remarks.iter().any(Remark::is_against) {
        return Ok(FOUND);
    }
    say!("file         unchanged since it was signed, every answer and reading told again");
    Ok(PASSED)
}

fn signer_of<'a>(file: &Path, examined: &'a Identified) -> Result<&'a PublicKey, Failure> {
    examined.signer.as_ref().ok_or_else(|| {
        let remark = examined.remarks.iter().find(|r| r.concern == Concern::Signature);
        let what = remark.map_or("", |r| r.what.as_str());
        Failure::refused(format!("`{}`: {what}", file.display()))
            .hint("do not rely on it: ask the engineer for the file again, or tell the cores apart anew")
    })
}

/// Whose key it is here.
fn trusted(signer: &PublicKey, session: Option<&Session>) -> Result<String, Failure> {
    let closed = session.and_then(|session| session.closed.as_ref());
    let at = closed.map_or_else(jiff::Timestamp::now, |(_, at)| *at);
    let trust = Trust::read(&Home::open()?.trusted())?;
    trust.name_of(signer, at).map(str::to_owned).ok_or_else(|| {
        Failure::refused(format!("the signer {} is not trusted here", signer.fingerprint())).hint(
            "compare the fingerprint with the engineer by another way, then `coreproof key trust signer.pub --as NAME`",
        )
    })
}

fn print(session: &Session) {
    let line = |name: &str, text: &str| say!("{name:<12} {}", clean(text));
    let opened = &session.opened;
    line("place", &opened.place);
    line("engineer", &opened.engineer);
    line("opened", &session.opened_at.to_string());
    match &opened.of {
        Subject::Cores { cores, kit, .. } => line("told apart", &format!("{cores} cores with the kit `{kit}`")),
        Subject::Zones { zones, actuators, .. } => {
            line("told apart", &format!("{actuators} actuators of {zones} zones"))
        }
    }
    let readings = match &opened.instrument {
        Some(instrument) => format!(
            "typed, and from `{instrument}` on `{}`",
            opened.port.as_deref().unwrap_or("")
        ),
        None => "typed".to_owned(),
    };
    line("readings", &readings);
    for overdue in &opened.departures {
        line("overdue", overdue);
    }
    for (at, shown) in &session.live_seen {
        line("live seen", &format!("{shown} at {at}"));
    }
    let Some((told, at)) = &session.closed else { return };
    line("closed", &at.to_string());
    match told {
        Told::Cores(told) => {
            for row in &told.rows {
                line("core", &format!("{}: {}", row.name(), row.state.words()));
            }
            told.remarks.iter().for_each(|remark| line("remark", remark));
            if !told.named.is_empty() {
                print_named(&told.named);
            }
        }
        Told::Zones(told) => {
            for (i, belongs) in told.actuators.iter().enumerate() {
                line("actuator", &format!("{}: {}", i + 1, belongs.words()));
            }
        }
    }
}

/// The identification of a job's cores for the opening of a run: signed by somebody trusted, and of this job.
pub fn carried(file: &Path, job: &Job) -> Result<Text, Failure> {
    let sealed = verify::pair(file)?;
    if !audit::is_identification(&sealed.record) {
        return Err(Failure::refused(format!("`{}` is no identification", file.display()))
            .hint("give the file that `coreproof identify --out FILE` wrote"));
    }
    let name = file
        .file_name()
        .map_or_else(String::new, |n| n.to_string_lossy().into_owned());
    let carried = audit::carry(&name, &sealed.record, &sealed.signature)
        .map_err(|what| Failure::refused(format!("`{}`: {what}", file.display())))?;
    let (examined, remarks) = audit::examine_carried(&carried, job);
    let signer = signer_of(file, &examined)?;
    if let Some(remark) = remarks.first() {
        return Err(Failure::refused(remark.what.clone()).hint(
            "give the job that `identify --job-out` wrote, and the file that was signed with it; or tell the cores apart anew",
        ));
    }
    trusted(signer, examined.session.as_ref())?;
    Ok(carried)
}
