//! `records`: the archive.

use super::out::say;
use std::io::Write;
use std::path::Path;

use serde_json::json;

use super::error::{FOUND, Failure, PASSED};
use super::home::Home;
use super::seal;
use super::tables::table;
use super::verify;
use crate::evidence::archive::{Append, Archive, Entry};
use crate::evidence::audit::examine;
use crate::evidence::keys::Trust;
use crate::identify::session::said_of;
use crate::job;
use crate::judge::window::Outcome;
use crate::plan::{Kind, Stage};
use crate::run::fold::{Evidence, Run};
use crate::sequence;
use crate::sequence::worked::{self, Measured};
use crate::terminal::plain::clean;

/// Lists.
pub fn list(as_json: bool) -> Result<u8, Failure> {
    let records = Archive::open(&Home::open()?.archive())?.list()?;
    if as_json {
        let rows: Vec<_> = records
            .iter()
            .map(|r| {
                json!({
                    "run": r.run, "opened_at": r.opened_at, "closed_at": r.closed_at, "place": r.place, "cable": r.cable,
                    "engineer": r.engineer, "verdict": r.verdict, "outcome": r.outcome, "edition": r.edition,
                    "fingerprint": r.fingerprint, "sha256": r.sha256,
                })
            })
            .collect();
        say!("{}", serde_json::to_string_pretty(&rows).expect("plain data"));
    } else if records.is_empty() {
        let path = Home::open()?.archive();
        say!("the archive {} holds no records yet", path.display());
    } else {
        let names: Vec<String> = records.iter().map(|r| r.run.to_string()).collect();
        let rows: Vec<_> = records
            .iter()
            .zip(&names)
            .map(|(r, name)| {
                let opened = r.opened_at.get(..16).unwrap_or(&r.opened_at).replace('T', " ");
                let verdict = format!("{}, {}", r.verdict, r.outcome);
                vec![short(name, &names), opened, r.place.clone(), r.cable.clone(), verdict]
            })
            .collect();
        say!(
            "{}",
            table(&["run", "opened (UTC)", "place", "cable", "verdict"], &rows)
        );
    }
    Ok(PASSED)
}

/// As much of an id as tells it from the others, whole groups, two at the least.
fn short(name: &str, all: &[String]) -> String {
    let groups: Vec<_> = name.split('-').collect();
    let prefixes = (2..=groups.len()).map(|n| groups[..n].join("-"));
    prefixes
        .into_iter()
        .find(|prefix| all.iter().filter(|other| other.starts_with(prefix.as_str())).count() == 1)
        .unwrap_or_else(|| name.to_owned())
}

/// The run that a stored record holds; the archive's own index is not believed.
pub fn run_of(entry: &Entry) -> Result<Run, Failure> {
    let examined = examine(&entry.record, &entry.signature, None);
    if examined.signer.is_none() || examined.run.is_none() {
        let what = examined.remarks.first().map_or(String::new(), |r| r.what.clone());
        return Err(Failure::refused(format!("record {}: {what}", entry.summary.run)).hint("run `coreproof audit`"));
    }
    Ok(examined.run.expect("checked above"))
}

/// One line of a record's table.
fn row(run: &Run, step: usize) -> Vec<String> {
    let verdict = run.verdict(step);
    let standing = run.standing(step);
    let read = match standing.map(|a| &a.evidence) {
        Some(Evidence::Reading(reading)) => reading.display(),
        Some(Evidence::Answer(_)) | None => String::new(),
    };
    let at = standing.map_or(String::new(), |a| a.at.to_string().get(11..19).unwrap_or("").to_owned());
    vec![
        (step + 1).to_string(),
        run.plan.steps[step].id.clone(),
        at,
        read,
        verdict.outcome.word().to_owned(),
        verdict.because,
        [verdict.risk, verdict.edge, verdict.mark]
            .into_iter()
            .flatten()
            .collect::<Vec<_>>()
            .join("; "),
    ]
}

/// The cores that a run measured against the cable's window and passed, leads subtracted.
fn measured(run: &Run) -> Vec<Measured> {
    let of_step = |i: usize| {
        let step = &run.plan.steps[i];
        let Kind::Measure(measure) = &step.kind else {
            return None;
        };
        let attempt = run.standing(i)?;
        let (true, Stage::Test, Evidence::Reading(reading)) = (measure.subtract_null, step.stage, &attempt.evidence)
        else {
            return None;
        };
        let amount = reading.amount()?;
        let value = attempt
            .verdict
            .value
            .as_ref()
            .filter(|_| attempt.verdict.outcome == Outcome::Pass)?;
        Some(Measured {
            core: step.cores.first()?.clone(),
            ohms: value.value(),
            uncertainty: measure
                .used
                .known
                .accuracy
                .uncertainty(amount.value(), amount.digits.last_digit() * amount.prefix.factor()),
        })
    };
    (0..run.steps.len()).filter_map(of_step).collect()
}

/// Shows one record.
pub fn show(prefix: &str, as_json: bool) -> Result<u8, Failure> {
    let entry = Archive::open(&Home::open()?.archive())?.get(prefix)?;
    let run = run_of(&entry)?;
    let worked = worked::from_readings(&run.plan.job, &measured(&run)).map_err(Failure::refused)?;
    if as_json {
        let steps: Vec<_> = (0..run.steps.len())
            .map(|i| {
                let verdict = run.verdict(i);
                json!({
                    "step": run.plan.steps[i].id, "verdict": verdict.outcome, "because": verdict.because, "value": verdict.value,
                    "mark": verdict.mark, "edge": verdict.edge, "risk": verdict.risk, "at": run.standing(i).map(|a| a.at), "attempts": run.steps[i].attempts.len(),
                })
            })
            .collect();
        let value = json!({
            "run": run.opened.run, "place": run.plan.job.place, "cable": run.plan.job.cable, "engineer": run.plan.job.engineer,
            "verdict": run.outcome(), "limits": run.plan.job.limits.caveat, "limitations": run.plan.limitations,
            "sha256": entry.summary.sha256, "fingerprint": entry.summary.fingerprint, "steps": steps,
            "decision": run.plan.job.decision, "worked": worked, "identified": identified(&run),
        });
        say!("{}", serde_json::to_string_pretty(&value).expect("plain data"));
        return Ok(PASSED);
    }
    let job = &run.plan.job;
    say!("{}", clean(&run.plan.title));
    say!(
        "{}",
        clean(&format!("{}, {}: {}", job.place.name, job.place.part, job.cable))
    );
    say!(
        "run {}, engineer {}, verdict {}",
        run.opened.run,
        clean(&job.engineer),
        run.outcome().word()
    );
    let rows: Vec<_> = (0..run.steps.len()).map(|i| row(&run, i)).collect();
    say!(
        "{}",
        table(
            &["no", "step", "at", "read", "verdict", "because", "risk and marks"],
            &rows
        )
    );
    for line in &worked {
        say!("{}: {} ({})", clean(&line.what), line.comes_to, clean(&line.how));
    }
    say!("{}", job.decision.words());
    for text in std::iter::once(&job.limits.caveat)
        .chain(&run.plan.limitations)
        .chain(&run.departures())
        .chain(&identified(&run))
    {
        say!("{}", clean(text));
    }
    Ok(PASSED)
}

/// What is to be said of the identification that a record carries.
fn identified(run: &Run) -> Vec<String> {
    run.opened.identified.iter().flat_map(said_of).collect()
}

/// What another edition would say of a record: every step whose verdict differs, both ways.
pub fn other_edition(prefix: &str, edition: &str, as_json: bool) -> Result<u8, Failure> {
    let entry = Archive::open(&Home::open()?.archive())?.get(prefix)?;
    let run = run_of(&entry)?;
    let other_job = job::read_by(&run.plan.job.text, Some(edition)).map_err(|p| refused_by(edition, &p[0].what))?;
    let read = sequence::read(&run.plan.texts).map_err(|f| refused_by(edition, &f[0].problem.what))?;
    let plan = sequence::bind(&read, &other_job).map_err(|f| refused_by(edition, &f[0].problem.what))?;
    let other = run.judged_by(plan);
    let differing: Vec<usize> = (0..run.steps.len())
        .filter(|&i| run.verdict(i) != other.verdict(i))
        .collect();
    let (ours, theirs) = (&run.plan.job.limits, &other.plan.job.limits);
    if as_json {
        let steps: Vec<_> = differing
            .iter()
            .map(|&i| json!({ "step": run.plan.steps[i].id, "recorded": run.verdict(i), "other": other.verdict(i) }))
            .collect();
        let value = json!({
            "run": run.opened.run, "recorded": { "edition": ours.edition, "caveat": ours.caveat, "verdict": run.outcome() },
            "other": { "edition": theirs.edition, "caveat": theirs.caveat, "verdict": other.outcome() }, "steps": steps,
        });
        say!("{}", serde_json::to_string_pretty(&value).expect("plain data"));
        return Ok(PASSED);
    }
    let said = |run: &Run, i: usize| {
        let verdict = run.verdict(i);
        format!("{}: {}", verdict.outcome.word(), verdict.because)
    };
    say!(
        "run {}, verdict by {}: {}, by {}: {}",
        run.opened.run,
        ours.edition,
        run.outcome().word(),
        theirs.edition,
        other.outcome().word()
    );
    if differing.is_empty() {
        say!("no verdict differs");
    } else {
        let rows: Vec<_> = differing
            .iter()
            .map(|&i| vec![run.plan.steps[i].id.clone(), said(&run, i), said(&other, i)])
            .collect();
        say!("{}", table(&["step", &ours.edition, &theirs.edition], &rows));
    }
    say!("{}\n{}", clean(&ours.caveat), clean(&theirs.caveat));
    say!("The record stays as it was sealed; nothing was measured again.");
    Ok(PASSED)
}

fn refused_by(edition: &str, why: &str) -> Failure {
    Failure::refused(format!("the record cannot be judged by `{edition}`: {why}"))
        .hint("`coreproof limits` lists the editions; `--compare` shows two side by side")
}

/// Exports a record.
pub fn export(prefix: &str, folder: &Path) -> Result<u8, Failure> {
    let entry = Archive::open(&Home::open()?.archive())?.get(prefix)?;
    write_files(folder, &entry.record, &entry.signature, &entry.public_key)?;
    say!(
        "record.jsonl, record.jsonl.sig and signer.pub are in {}",
        folder.display()
    );
    Ok(PASSED)
}

/// Writes the three plain files; nothing that exists is overwritten.
pub fn write_files(folder: &Path, record: &[u8], signature: &str, public_key: &str) -> Result<(), Failure> {
    std::fs::create_dir_all(folder)
        .map_err(|error| Failure::equipment(format!("the folder `{}` cannot be made: {error}", folder.display())))?;
    write_new(&folder.join("record.jsonl"), record)?;
    write_beside(folder, signature, public_key)
}

/// Writes the signature and the public key beside a record.
pub fn write_beside(folder: &Path, signature: &str, public_key: &str) -> Result<(), Failure> {
    write_new(&folder.join("record.jsonl.sig"), signature.as_bytes())?;
    write_new(
        &folder.join("signer.pub"),
        format!("{}\n", public_key.trim_end()).as_bytes(),
    )
}

/// Writes and syncs a file that is not there yet.
pub fn write_new(path: &Path, bytes: &[u8]) -> Result<(), Failure> {
    let failed = |error: std::io::Error| {
        if error.kind() == std::io::ErrorKind::AlreadyExists {
            Failure::refused(format!("`{}` is already there", path.display()))
                .hint("give another name or an empty folder")
        } else {
            Failure::equipment(format!("`{}` cannot be written: {error}", path.display()))
        }
    };
    let mut file = std::fs::File::create_new(path).map_err(failed)?;
    file.write_all(bytes).and_then(|()| file.sync_all()).map_err(failed)
}

/// Takes in a record signed by a trusted key.
pub fn import(file: &Path) -> Result<u8, Failure> {
    let home = Home::open()?;
    let sealed = verify::pair(file)?;
    let examined = examine(&sealed.record, &sealed.signature, None);
    if let Some(remark) = examined.remarks.iter().find(|r| r.is_against()) {
        let failure = Failure::refused(format!(
            "`{}`: {}: {}",
            file.display(),
            remark.concern.word(),
            remark.what
        ));
        return Err(failure.hint("only records without findings are taken in; see `coreproof verify`"));
    }
    let (signer, run) = (examined.signer.expect("no remarks"), examined.run.expect("no remarks"));
    if run.opened.rehearsal.is_some() {
        return Err(Failure::refused("this is a rehearsal, which never enters the archive"));
    }
    let (_, closed_at) = run.ending.as_ref().expect("no remarks");
    if Trust::read(&home.trusted())?.name_of(&signer, *closed_at).is_none() {
        return Err(
            Failure::refused(format!("the signer {} is not trusted here", signer.fingerprint()))
                .hint("compare the fingerprint with the engineer by another way, then `coreproof key trust`"),
        );
    }
    let entry = seal::stored(&sealed.record, sealed.signature, &run, &signer);
    match Archive::open(&home.archive())?.append(&entry)? {
        Append::Stored => say!("Stored {}.", entry.summary.run),
        Append::AlreadyThere => say!("{} was already there.", entry.summary.run),
    }
    Ok(if run.outcome() == Outcome::Pass { PASSED } else { FOUND })
}
