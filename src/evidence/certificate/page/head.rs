//! What stands around the results: the facts of the job, who did the work with what, cautions and the seal.
//!
//! The rule inside: nothing here says that anything may be touched, and what nobody stated is said to be not stated.

use jiff::Timestamp;
use serde::Serialize;

use super::fact::{Fact, fact};
use super::photographs::Attached;
use super::results::conductors;
use super::sheet::device_lines;
use super::steps::mark;
use super::words::{Clock, amount, shell_word, symbols};
use crate::job::instrument::Ability;
use crate::job::{Job, Separation};
use crate::plan::Kind;
use crate::run::fold::{Evidence, Run};

/// Who sealed the record, and the record's digest.
#[derive(Debug, Clone, Default, PartialEq, Eq)]
pub struct Seal {
    /// The engineer's name on the key.
    pub signed_by: String,
    /// `SHA256:…` as `ssh-keygen -l` prints it.
    pub fingerprint: String,
    /// One line of an OpenSSH public key.
    pub public_key: String,
    /// SHA-256 of `record.jsonl`, lower-case hexadecimal.
    pub record_sha256: String,
    /// The name that the key is trusted as by whoever makes the page; none where it is not known to them.
    pub known_as: Option<String>,
    /// The signed checkpoint of the archive that the record is in; none of a record in no archive.
    pub checkpoint: Option<String>,
    /// Whoever signed after the first: the file of the signature, the name that the key is trusted as, where it is known, and its fingerprint.
    pub further: Vec<(String, Option<String>, String)>,
    /// Each later record that supersedes this one, in words.
    pub superseded: Vec<String>,
    /// The photographs that are attached.
    pub photographs: Vec<Attached>,
    /// The file of each time stamp, and what it states, in words.
    pub stamped: Vec<(String, String)>,
}

/// One instrument.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
pub struct InstrumentRow {
    /// The letter by which steps name it.
    pub mark: String,
    /// Its name in the job.
    pub name: String,
    /// What it is.
    pub kind: String,
    /// Its serial number.
    pub serial: String,
    /// Its overvoltage category as marked on it.
    pub category: String,
    /// The day of its last calibration.
    pub calibrated: String,
    /// The day the next one is due.
    pub due: String,
    /// Its calibration was due before the run began.
    pub overdue: bool,
}

/// Who signed, and the commands that check it.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
pub struct Checking {
    /// Who signed, by the name of the key.
    pub signed_by: String,
    /// Whose key it is, as far as whoever made the page knows.
    pub known_as: String,
    /// Of the key, as OpenSSH shows it.
    pub fingerprint: String,
    /// The key as one line of OpenSSH.
    pub public_key: String,
    /// SHA-256 of the record's bytes, in hexadecimal.
    pub record_sha256: String,
    /// Whoever signed after the first, a line each.
    pub further: Vec<String>,
    /// The names under which their signatures are attached.
    pub further_files: Vec<String>,
    /// What each attached time stamp states.
    pub stamped: Vec<String>,
    /// The names under which they are attached.
    pub stamp_files: Vec<String>,
    /// The signed checkpoint of the archive, line by line; empty of a record in no archive.
    pub checkpoint: Vec<String>,
    /// What the square code holds: the record's digest, the key, and the checkpoint's first three lines.
    pub square: String,
    /// With this program.
    pub verify: String,
    /// The line that goes into `allowed_signers`.
    pub allowed_signer: String,
    /// With OpenSSH alone.
    pub ssh_keygen: String,
}

/// What the paper is, in one line.
pub(super) const STATEMENT: &str = "Record of proof: what was measured and seen on one cable. It is not a certificate under the wiring \
                                    rules and replaces none.";

/// The words across every page of a rehearsal.
pub(super) fn rehearsal(run: &Run) -> Option<String> {
    run.opened
        .rehearsal
        .as_ref()
        .map(|_| "REHEARSAL - nothing was measured".to_owned())
}

/// The closing time; of a run still open, the time of its last attempt or its opening.
pub(super) fn stamped(run: &Run) -> Timestamp {
    match &run.ending {
        Some((_, at)) => *at,
        None => {
            let attempts = run.steps.iter().flat_map(|step| &step.attempts);
            attempts.map(|attempt| attempt.at).max().unwrap_or(run.opened_at)
        }
    }
}

const NOT_STATED: &str = "not stated";

/// Where, for whom, when.
pub(super) fn work(run: &Run) -> Vec<Fact> {
    let job = &run.plan.job;
    let clock = Clock::of(run);
    let mut facts = vec![
        fact("Place", &job.place.name),
        fact("Part", &job.place.part),
        fact("Client", &job.place.client),
        fact(
            "Circuit reference",
            job.document.circuit.as_deref().unwrap_or(NOT_STATED),
        ),
        fact("Cable", cable(job)),
        fact(
            "Walked by",
            format!("the sequence {}: {}", run.plan.name, run.plan.title),
        ),
        fact("Begun", clock.moment(run.opened_at)),
        match &run.ending {
            Some((_, at)) => fact("Closed", clock.moment(*at)),
            None => fact("Closed", "not yet"),
        },
        fact("Run", run.opened.run.to_string()),
    ];
    if let Some(earlier) = &run.opened.supersedes {
        let because = earlier.because.trim_end_matches('.');
        facts.push(fact(
            "Supersedes",
            format!("the record of run {}: {because}", earlier.run),
        ));
    }
    if let Some(rest) = &run.opened.rests_on {
        facts.push(fact(
            "Lock",
            format!(
                "taken over from the record of run {}, SHA-256 {}",
                rest.run, rest.sha256
            ),
        ));
    }
    facts.push(fact("Made with", &run.opened.program));
    if let Some(rehearsal) = &run.opened.rehearsal {
        let fault = rehearsal.fault.as_deref().unwrap_or("none");
        facts.push(fact(
            "Rehearsal",
            format!("simulated fault: {fault}; seed {}", rehearsal.seed),
        ));
    }
    facts
}

/// What feeds the cable and what protects it, as the job states.
pub(super) fn supply(job: &Job) -> Vec<Fact> {
    let supply = &job.supply;
    let separation = supply.separation.map(|separation| match separation {
        Separation::Selv => "; the cable is SELV",
        Separation::Pelv => "; the cable is PELV",
        Separation::Felv => "; the cable is FELV",
    });
    let nominal = format!("{}, {}", amount(&supply.nominal), amount(&supply.frequency));
    let mut facts = vec![
        fact("Supply", nominal + separation.unwrap_or_default()),
        fact("System earthing", supply.earthing.trim()),
        fact(
            "Loop impedance up to the near end",
            supply.ze.as_ref().map_or(NOT_STATED.into(), amount),
        ),
        fact("Isolated at", &supply.from),
        fact("Protective device", &supply.device),
    ];
    facts.extend(device_lines(job));
    facts.push(fact(
        "Stays connected",
        job.stays_connected
            .as_deref()
            .unwrap_or("nothing during the dead tests"),
    ));
    facts
}

/// The cable in one line.
fn cable(job: &Job) -> String {
    let length = match &job.length {
        Some(length) => format!("length {}", symbols(&length.to_string())),
        None => "length not known".into(),
    };
    format!(
        "{}, {}, {} cores, {}, {length}, at {}",
        job.cable,
        job.cable_kind,
        job.cores.len(),
        conductors(job),
        amount(&job.temperature)
    )
}

/// Who did the work, as the job states.
pub(super) fn engineer(run: &Run) -> Vec<Fact> {
    let job = &run.plan.job;
    let or_not = |text: &Option<String>| text.clone().unwrap_or_else(|| NOT_STATED.into());
    vec![
        fact("Name", &job.engineer),
        fact("Position", or_not(&job.document.position)),
        fact("Firm", or_not(&job.document.firm)),
    ]
}

/// When the next test is due and why, as the job states; nothing is worked out for it.
pub(super) fn next_test(job: &Job) -> String {
    match &job.document.next_test {
        Some(next) => format!("{}: {}", next.on, next.because),
        None => NOT_STATED.into(),
    }
}

/// Which limits judged.
pub(super) fn edition(run: &Run) -> String {
    let limits = &run.plan.job.limits;
    format!(
        "{}, {}, edition {}. Decision rule: {}.",
        limits.set,
        limits.standard,
        limits.edition,
        run.plan.job.decision.words()
    )
}

/// The instruments that something was taken with, in the job's order.
pub(super) fn instruments(run: &Run) -> Vec<InstrumentRow> {
    let rows = run.plan.job.instruments.iter().enumerate();
    rows.filter(|(_, instrument)| is_used(run, &instrument.name))
        .map(|(index, i)| InstrumentRow {
            mark: mark(index),
            name: i.name.clone(),
            kind: i.kind.clone(),
            serial: i.serial.clone(),
            category: i.category.clone(),
            calibrated: i.calibrated.to_string(),
            due: i.due.to_string(),
            overdue: i.is_overdue(run.opened_at),
        })
        .collect()
}

/// Whether an attempt was made with it. The record does not say which of several indicators was used, so each counts.
fn is_used(run: &Run, name: &str) -> bool {
    let job = &run.plan.job;
    let proves = |ability: &Ability| *ability == Ability::ProveDead;
    let is_indicator = job
        .instruments
        .iter()
        .any(|i| i.name == name && i.can.iter().any(proves));
    run.plan
        .steps
        .iter()
        .zip(&run.steps)
        .any(|(step, state)| match &step.kind {
            Kind::Measure(m) => {
                let is_read = |attempt: &crate::run::fold::Attempt| matches!(attempt.evidence, Evidence::Reading(_));
                m.used.instrument == name && state.attempts.iter().any(is_read)
            }
            Kind::Indicator { .. } => is_indicator && !state.attempts.is_empty(),
            _ => false,
        })
}

/// What the reader must bear in mind.
pub(in crate::evidence::certificate) fn cautions() -> Vec<String> {
    vec![
        "This shows what was found at the points and times listed. It says nothing about the wiring now: treat every \
         conductor as live until you have proved it dead yourself, with a two-pole voltage indicator."
            .to_owned(),
        "Work on mains wiring is for competent and, where the law asks for it, licensed persons. Local codes and the \
         makers' instructions come before anything printed here."
            .to_owned(),
        "Whatever is altered or disconnected after the time of closing is no longer shown by this record.".to_owned(),
        "Its times are the signer's word, unless a time stamp or a checkpoint in other hands bounds them.".to_owned(),
        "This file alone cannot show whether a later record supersedes it: ask the engineer, or hold it against the archive."
            .to_owned(),
    ]
}

/// How the seal is checked.
pub(super) fn checking(seal: &Seal) -> Checking {
    let name = shell_word(&seal.signed_by);
    Checking {
        signed_by: seal.signed_by.clone(),
        known_as: match &seal.known_as {
            Some(name) => format!("trusted as {name} by whoever made this page"),
            None => "not known to whoever made this page".into(),
        },
        further: seal
            .further
            .iter()
            .map(|(_, name, fingerprint)| match name {
                Some(name) => format!("trusted as {name}, {fingerprint}"),
                None => format!("not known to whoever made this page, {fingerprint}"),
            })
            .collect(),
        further_files: seal.further.iter().map(|(file, ..)| file.clone()).collect(),
        stamped: seal.stamped.iter().map(|(_, words)| words.clone()).collect(),
        stamp_files: seal.stamped.iter().map(|(file, _)| file.clone()).collect(),
        fingerprint: seal.fingerprint.clone(),
        public_key: seal.public_key.trim().to_owned(),
        record_sha256: seal.record_sha256.clone(),
        checkpoint: seal
            .checkpoint
            .iter()
            .flat_map(|note| note.lines().filter(|line| !line.is_empty()).map(str::to_owned))
            .collect(),
        square: square(seal),
        verify: "coreproof verify FILE.pdf".into(),
        allowed_signer: format!(
            "{} namespaces=\"record@coreproof\" KEY",
            quoted_principal(&seal.signed_by)
        ),
        ssh_keygen: format!(
            "ssh-keygen -Y verify -f allowed_signers -I {name} -n record@coreproof -s record.jsonl.sig < record.jsonl"
        ),
    }
}

/// What a reader with a camera compares: the digest of the record, the key, and the state of the archive (origin, size, root).
fn square(seal: &Seal) -> String {
    let note = seal.checkpoint.as_deref().unwrap_or_default();
    let state: Vec<_> = note.lines().take(3).collect();
    let mut lines = vec![
        format!("record sha256:{}", seal.record_sha256),
        format!("key {}", seal.fingerprint),
    ];
    if !state.is_empty() {
        lines.push(format!("checkpoint {}", state.join(" ")));
    }
    lines.join("\n")
}

/// A principal of an allowed_signers line; one with blanks stands in double quotes (ssh-keygen(1), ALLOWED SIGNERS).
fn quoted_principal(name: &str) -> String {
    if name.contains(char::is_whitespace) {
        format!("\"{name}\"")
    } else {
        name.to_owned()
    }
}
