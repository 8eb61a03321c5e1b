//! What stands around the tables: the verdict on the whole, the facts of the job, limitations, cautions and the seal.
//!
//! The rule inside: nothing here says that anything may be touched, and what was not shown is said as loudly as what was.

use jiff::Timestamp;
use serde::Serialize;

use super::steps::mark;
use super::words::{amount, moment, shell_word, symbols, time, what};
use crate::identify::session::said_of;
use crate::job::{Conductors, Job};
use crate::judge::window::Outcome;
use crate::run::event::{Ending, Touched};
use crate::run::fold::{Evidence, Run, Status};

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
    /// The file of each time stamp, and what it states, in words.
    pub stamped: Vec<(String, String)>,
}

/// A named fact.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
pub struct Fact {
    /// What it is: `frequency`.
    pub name: String,
    /// As it is printed, with its unit.
    pub value: String,
}

/// What the whole run came to.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
pub struct VerdictBox {
    /// `PASS`, `FAIL` or `NOT TESTED`.
    pub word: String,
    /// The outcome behind that word, for its colour and sign.
    pub outcome: Outcome,
    /// How many steps came to what, and how the run ended.
    pub summary: Vec<String>,
    /// Every step that did not pass although it was tried, with the reason.
    pub open: Vec<String>,
}

/// A repair or a break.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
pub struct Happening {
    /// `repair 1`, `break 1`.
    pub name: String,
    /// When, in UTC to the second; with the day where it is not that of the beginning.
    pub time: String,
    /// What was done and touched, in words.
    pub text: String,
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
    /// With this program.
    pub verify: String,
    /// The line that goes into `allowed_signers`.
    pub allowed_signer: String,
    /// With OpenSSH alone.
    pub ssh_keygen: String,
}

/// What the paper is not.
pub(super) const STATEMENT: &str =
    "This is not a certificate under the wiring rules. It does not replace one where one is required.";

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

/// The verdict on the whole run.
pub(super) fn verdict(run: &Run) -> VerdictBox {
    let outcome = run.outcome();
    let total = run.plan.steps.len();
    let verdicts: Vec<_> = (0..total).map(|i| run.verdict(i)).collect();
    let count = |outcome| verdicts.iter().filter(|v| v.outcome == outcome).count();
    let (failed, untested) = (count(Outcome::Fail), count(Outcome::NotTested));
    let mut counts = format!("{} of {total} steps passed", count(Outcome::Pass));
    for (number, word) in [(failed, "failed"), (untested, "not tested")] {
        if number > 0 {
            counts.push_str(&format!(", {number} {word}"));
        }
    }
    let mut summary = vec![counts + "."];
    summary.push(match &run.ending {
        Some((Ending::Completed, _)) => "The run was walked to its end.".into(),
        Some((Ending::Abandoned(reason), _)) => format!("The run was abandoned: {reason}"),
        None => "The run is not closed: this page shows it so far.".into(),
    });
    if let Some(what) = &run.made_safe {
        summary.push(format!("Before the run was closed: {what}."));
    }
    summary.extend(on_the_way(run));
    VerdictBox {
        word: outcome.word().to_uppercase(),
        outcome,
        summary,
        open: open(run),
    }
}

/// How many repairs, breaks and void attempts there were; absent for a straight walk.
fn on_the_way(run: &Run) -> Option<String> {
    let attempts = run.steps.iter().flat_map(|step| &step.attempts);
    let counts = [
        (run.repairs.len(), "repair", "repairs"),
        (run.resumptions.len(), "break", "breaks"),
        (
            attempts.filter(|attempt| attempt.void).count(),
            "attempt made void",
            "attempts made void",
        ),
    ];
    let words: Vec<_> = counts
        .iter()
        .filter(|(number, ..)| *number > 0)
        .map(|(number, one, many)| format!("{number} {}", if *number == 1 { one } else { many }))
        .collect();
    (!words.is_empty()).then(|| format!("On the way: {}.", words.join(", ")))
}

/// Every step that was tried and whose standing result is no pass.
fn open(run: &Run) -> Vec<String> {
    let told = |index: usize| {
        let step = &run.plan.steps[index];
        let attempt = run.standing(index)?;
        let outcome = attempt.verdict.outcome;
        let because = match &attempt.evidence {
            Evidence::Reading(_) => symbols(&attempt.verdict.because),
            // a person's words stay as they are
            Evidence::Answer(_) => attempt.verdict.because.clone(),
        };
        let left = match &run.steps[index].status {
            Status::Left(reason) => format!("; left: {reason}"),
            _ => String::new(),
        };
        let what = what(step, &run.plan.job);
        (outcome != Outcome::Pass).then(|| format!("Step {}, {}: {what}: {because}{left}", index + 1, outcome.word()))
    };
    (0..run.plan.steps.len()).filter_map(told).collect()
}

fn fact(name: &str, value: impl Into<String>) -> Fact {
    Fact {
        name: name.into(),
        value: value.into(),
    }
}

/// Where, for whom, by whom, when.
pub(super) fn work(run: &Run) -> Vec<Fact> {
    let job = &run.plan.job;
    let mut facts = vec![
        fact("Place", &job.place.name),
        fact("Part", &job.place.part),
        fact("Client", &job.place.client),
        fact("Engineer", &job.engineer),
        fact("Begun", moment(run.opened_at)),
    ];
    facts.push(match &run.ending {
        Some((_, at)) => fact("Closed", moment(*at)),
        None => fact("Closed", "not yet"),
    });
    facts.push(fact("Run", run.opened.run.to_string()));
    if let Some(earlier) = &run.opened.supersedes {
        let because = earlier.because.trim_end_matches('.');
        facts.push(fact(
            "Supersedes",
            format!("the record of run {}: {because}", earlier.run),
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
    vec![
        fact("Isolated at", &supply.from),
        fact("Protective device", &supply.device),
        fact(
            "Nominal",
            format!("{}, {}", amount(&supply.nominal), amount(&supply.frequency)),
        ),
        fact("Earthing", &supply.earthing),
        fact("Known source", &supply.known_source),
        fact(
            "Stays connected",
            job.stays_connected
                .as_deref()
                .unwrap_or("nothing during the dead tests"),
        ),
    ]
}

/// The cable in one line.
pub(super) fn cable(job: &Job) -> String {
    let conductors = match job.conductors {
        Conductors::Solid => "solid conductors (class 1)",
        Conductors::Stranded => "stranded conductors (class 2)",
        Conductors::Flexible => "flexible conductors (class 5)",
    };
    let length = match &job.length {
        Some(length) => format!("length {}", amount(length)),
        None => "length not known".into(),
    };
    format!(
        "{}, {}, {conductors}, {length}, at {}",
        job.cable,
        job.cable_kind,
        amount(&job.temperature)
    )
}

/// Repairs and breaks, in order of time.
pub(super) fn happenings(run: &Run) -> Vec<Happening> {
    let repairs = (1..).zip(&run.repairs).map(|(number, repair)| {
        let touched = match &repair.touched {
            Touched::Nothing => "no core touched".into(),
            Touched::Everything => "every core may have been touched".into(),
            Touched::Cores(cores) => format!("touched: {}", cores.join(", ")),
        };
        let at = run.plan.index(&repair.step).map_or(0, |i| i + 1);
        let text = format!("at step {at}: {} ({touched})", repair.what);
        (repair.at, format!("repair {number}"), text)
    });
    let breaks = (1..).zip(&run.resumptions).map(|(number, at)| {
        let text = "the run went on after a break; isolation was to be proved again".to_owned();
        (*at, format!("break {number}"), text)
    });
    let live = run.live_seen.iter().map(|(at, step, display)| {
        let at_step = run.plan.index(step).map_or(0, |i| i + 1);
        let text = format!("at step {at_step}, in a dead test: {display}; isolation was to be proved again");
        (*at, "VOLTAGE SEEN".to_owned(), text)
    });
    let further = run.further.iter().map(|(at, step, supply)| {
        let at_step = run.plan.index(step).map_or(0, |i| i + 1);
        let text = format!(
            "lit at step {at_step}; switched off, locked off, key kept, notice posted: {supply}; isolation was to be proved again"
        );
        (*at, "FURTHER SUPPLY".to_owned(), text)
    });
    let mut all: Vec<_> = repairs.chain(breaks).chain(live).chain(further).collect();
    all.sort_by_key(|(at, ..)| *at);
    all.into_iter()
        .map(|(at, name, text)| Happening {
            name,
            time: time(at, run.opened_at),
            text,
        })
        .collect()
}

/// Which limits judged.
pub(super) fn edition(run: &Run) -> String {
    let limits = &run.plan.job.limits;
    format!(
        "{}, {}, edition {}. {}",
        limits.set,
        limits.standard,
        limits.edition,
        run.plan.job.decision.words()
    )
}

/// Instruments in the job's order.
pub(super) fn instruments(run: &Run) -> Vec<InstrumentRow> {
    let rows = run.plan.job.instruments.iter().enumerate();
    rows.map(|(index, i)| InstrumentRow {
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

/// What the run could not show.
pub(super) fn limitations(run: &Run) -> Vec<String> {
    let mut all = run.plan.limitations.clone();
    all.extend(run.departures());
    all.push("Its times are the signer's word, unless a time stamp or a checkpoint in other hands bounds them.".into());
    all.push(
        "This file alone cannot show whether a later record supersedes it: ask the engineer, or hold it against the archive.".into(),
    );
    all.extend(run.opened.identified.iter().flat_map(said_of));
    all.push(run.plan.job.limits.caveat.clone());
    all.push("Only what is listed step by step below was tested; nothing else of the installation was.".into());
    all
}

/// What the reader must bear in mind.
pub(super) fn cautions(run: &Run) -> Vec<String> {
    let mut all = vec![
        "This shows what was found at the points and times listed. It says nothing about the wiring now: treat every \
         conductor as live until you have proved it dead yourself, with a two-pole voltage indicator."
            .to_owned(),
        "Work on mains wiring is for competent and, where the law asks for it, licensed persons. Local codes and the \
         makers' instructions come before anything printed here."
            .to_owned(),
        "Whatever is altered or disconnected after the time of closing is no longer shown by this record.".to_owned(),
    ];
    if run.outcome() != Outcome::Pass {
        let first = "The proof is not complete: do not put the circuit into use on the strength of this record.";
        all.insert(0, first.to_owned());
    }
    all
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

/// A principal of an allowed_signers line; one with blanks stands in double quotes (ssh-keygen(1), ALLOWED SIGNERS).
fn quoted_principal(name: &str) -> String {
    if name.contains(char::is_whitespace) {
        format!("\"{name}\"")
    } else {
        name.to_owned()
    }
}
