//! Signed identifications shown, and taken into a run: `run --identified FILE`.

use std::path::Path;

use super::error::Failure;
use super::home::Home;
use super::identify_told::print_named;
use super::out::say;
use crate::evidence::keys::Trust;
use crate::evidence::{Sealed, audit, signer_of, trusted_when};
use crate::identify::event::{Subject, Told};
use crate::identify::session::Session;
use crate::job::Job;
use crate::located::Text;
use crate::terminal::plain::clean;

/// Prints what one came to.
pub(super) fn print(session: &Session) {
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
            if let Some(check) = told.check_words() {
                line("checked", check);
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
pub(super) fn carried(file: &Path, job: &Job) -> Result<Text, Failure> {
    let sealed = Sealed::read(file)?;
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
    let signer = signer_of(&examined).map_err(|why| why.of_file(file))?;
    if let Some(remark) = remarks.first() {
        return Err(Failure::refused(remark.what.clone()).hint(
            "give the job that `identify --job-out` wrote, and the file that was signed with it; or tell the cores apart anew",
        ));
    }
    let closed = examined.folded.as_ref().and_then(|session| session.closed.as_ref());
    trusted_when(
        &Trust::read(&Home::open()?.trusted())?,
        signer,
        closed.map(|(_, at)| *at),
    )?;
    Ok(carried)
}
