//! `records`: the archive.

use std::path::Path;

use serde_json::json;

use super::error::{FOUND, Failure, PASSED};
use super::home::Home;
use super::out::{self, say};
use super::progress::Progress;
use super::tables::table;
use super::walked::unlock;
use crate::evidence::archive::{Append, Archive, Entry};
use crate::evidence::keys::{PublicKey, Trust};
use crate::evidence::log::Kind as LeafKind;
use crate::evidence::statements;
use crate::evidence::stored::{self, run_of};
use crate::evidence::supersession::Supersession;
use crate::evidence::{FirstOf, KEPT_MAX, Sealed, bytes, sign_head};
use crate::identify::session::said_of;
use crate::job::{self, Job};
use crate::judge::window::Outcome;
use crate::plan::Kind;
use crate::run::event::{RestsOn, Supersedes};
use crate::run::fold::{Evidence, Run};
use crate::sequence;
use crate::sequence::worked;
use crate::terminal::input;
use crate::terminal::plain::clean;

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
            .chain(leads_of(run, step).map(str::to_owned))
            .collect::<Vec<_>>()
            .join("; "),
    ]
}

/// What was done about the leads, at the step that measures them.
fn leads_of(run: &Run, step: usize) -> Option<&'static str> {
    match &run.plan.steps[step].kind {
        Kind::Measure(measure) => measure.leads_words(),
        _ => None,
    }
}

/// Shows one record.
pub(super) fn show(prefix: &str, as_json: bool) -> Result<u8, Failure> {
    let archive = Archive::read(&Home::open()?.archive())?;
    let entry = archive.get(prefix)?;
    let further = further(&archive, &entry)?;
    let superseded = statements::superseded_by(&archive, entry.summary.run, &entry.summary.sha256)?;
    let superseded: Vec<String> = superseded.iter().map(Supersession::words).collect();
    let run = run_of(&entry)?;
    let worked = worked::from_readings(&run.plan.job, &run.measured()).map_err(Failure::refused)?;
    if as_json {
        let steps: Vec<_> = (0..run.steps.len())
            .map(|i| {
                let verdict = run.verdict(i);
                json!({
                    "step": run.plan.steps[i].id, "verdict": verdict.outcome, "because": verdict.because, "value": verdict.value,
                    "mark": verdict.mark, "leads": leads_of(&run, i), "edge": verdict.edge, "risk": verdict.risk, "at": run.standing(i).map(|a| a.at), "attempts": run.steps[i].attempts.len(),
                })
            })
            .collect();
        let value = json!({
            "run": run.opened.run, "place": run.plan.job.place, "cable": run.plan.job.cable, "engineer": run.plan.job.engineer,
            "verdict": run.outcome(), "limits": run.plan.job.limits.caveat, "limitations": run.plan.limitations,
            "sha256": entry.summary.sha256, "fingerprint": entry.summary.fingerprint, "steps": steps,
            "decision": run.plan.job.decision, "found_by_eye": run.found_by_eye_words(), "worked": worked, "identified": identified(&run), "differences": run.differences_words(), "further_signatures": further,
            "superseded": superseded, "supersedes": run.opened.supersedes, "rests_on": run.opened.rests_on,
        });
        out::json(&value);
        return Ok(PASSED);
    }
    let job = &run.plan.job;
    superseded.iter().for_each(|words| say!("{}", clean(words)));
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
    say!("judged by {}", clean(&run.rules_words()));
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
        .chain(&run.opened.supersedes.iter().map(Supersedes::words).collect::<Vec<_>>())
        .chain(&run.opened.rests_on.iter().map(RestsOn::words).collect::<Vec<_>>())
        .chain(&found_by_eye(&run))
        .chain(&run.departures())
        .chain(&run.differences_words())
        .chain(&identified(&run))
        .chain(&further)
    {
        say!("{}", clean(text));
    }
    Ok(PASSED)
}

/// What eyes found before anything was switched, and what became of it.
fn found_by_eye(run: &Run) -> Vec<String> {
    let words = run.found_by_eye_words().into_iter();
    words.map(|words| format!("Found by eye, {words}.")).collect()
}

/// What is to be said of the identification that a record carries.
fn identified(run: &Run) -> Vec<String> {
    run.opened.identified.iter().flat_map(said_of).collect()
}

/// What another edition would say of a record: every step whose verdict differs, both ways.
pub(super) fn other_edition(prefix: &str, edition: &str, as_json: bool) -> Result<u8, Failure> {
    let entry = Archive::read(&Home::open()?.archive())?.get(prefix)?;
    let run = run_of(&entry)?;
    let read = job::read_by(&run.plan.job.text, Some(edition)).map_err(|p| refused_by(edition, &p[0].what))?;
    let other_job = Job {
        length: run.plan.job.length.clone(),
        ..read
    };
    let plan = sequence::bound_to(&run.plan, &other_job).map_err(|f| refused_by(edition, &f[0].problem.what))?;
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
        out::json(&value);
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

/// Whether a file begins as an SQLite file does.
fn is_archive(file: &Path) -> bool {
    let mut head = [0; 16];
    let read = std::fs::File::open(file).and_then(|mut file| std::io::Read::read_exact(&mut file, &mut head));
    file.is_file() && read.is_ok() && head == *b"SQLite format 3\0"
}

/// Exports a record.
pub(super) fn export(prefix: &str, folder: &Path) -> Result<u8, Failure> {
    let archive = Archive::read(&Home::open()?.archive())?;
    let entry = archive.get(prefix)?;
    let trust = Trust::read(&Home::open()?.trusted())?;
    let public_key = entry.public_key.clone();
    let document = statements::document(&archive, &trust, entry)?;
    document.sealed.write_into(folder, &public_key)?;
    let more: String = document
        .beside
        .write_into(folder)?
        .iter()
        .map(|name| format!(", {name}"))
        .collect();
    say!(
        "record.jsonl, record.jsonl.sig{more} and signer.pub are in {}",
        clean(&folder.display().to_string())
    );
    Ok(PASSED)
}

/// Signs a record a second time, or takes in such a signature.
pub(super) async fn countersign(prefix: &str, signature: Option<&Path>) -> Result<u8, Failure> {
    let home = Home::open()?;
    let entry = Archive::read(&home.archive())?.get(prefix)?;
    // nobody signs what does not hold
    run_of(&entry)?;
    let (key, armored) = match signature {
        Some(file) => {
            let text = String::from_utf8(bytes(file)?);
            let text = text.map_err(|_| Failure::refused(format!("`{}` is not a signature", file.display())))?;
            (None, text)
        }
        None => {
            let key = unlock(&home, &mut input::lines()).await?;
            let armored = key.sign_record(&entry.record)?;
            (Some(key), armored)
        }
    };
    let mut archive = Archive::open(&home.archive())?;
    let by = statements::countersign(&mut archive, &entry, &armored)?;
    if let Some(key) = key {
        let told = sign_head(&mut archive, &home.heads(), &*key)?;
        told.iter().for_each(|told| say!("note: {}", clean(told)));
    }
    say!(
        "Record {} is signed by {} as well.",
        entry.summary.run,
        by.fingerprint()
    );
    Ok(PASSED)
}

/// Whoever signed a record after the first, in words.
fn further(archive: &Archive, entry: &Entry) -> Result<Vec<String>, Failure> {
    let trust = Trust::read(&Home::open()?.trusted())?;
    let name = |key: &PublicKey| {
        trust
            .listed(key)
            .map_or("somebody who is not trusted here", |signer| signer.names[0].as_str())
    };
    let words = statements::further_signers(archive, entry)?
        .into_iter()
        .map(|signer| match signer {
            Ok(key) => format!("Signed as well by {}, {}.", name(&key), key.fingerprint()),
            Err(error) => format!("A further signature does not hold: {error}."),
        });
    Ok(words.collect())
}

/// Exports all records as one file.
pub(super) fn export_all(file: &Path) -> Result<u8, Failure> {
    let archive = Archive::read(&Home::open()?.archive())?;
    let records = archive.count()?;
    let mut progress = Progress::of("exporting, pages", 0);
    archive.copy_to(file, |done, total| progress.so_far(done, total))?;
    drop(progress);
    say!(
        "{records} records with their log are in {}",
        clean(&file.display().to_string())
    );
    Ok(PASSED)
}

/// Takes in every record of another archive that holds; one that is there already changes nothing, one that is not taken is named.
fn import_all(file: &Path) -> Result<u8, Failure> {
    let home = Home::open()?;
    let trust = Trust::read(&home.trusted())?;
    let other = Archive::read(file)?;
    let mut archive = Archive::open(&home.archive())?;
    let (mut stored, mut there) = (0_u64, 0_u64);
    let mut refused = FirstOf::default();
    let mut progress = Progress::of("importing", other.count()?);
    other.for_each(|entry| {
        progress.one();
        let sealed = Sealed {
            record: entry.record.clone(),
            signature: entry.signature.clone(),
        };
        match stored::import(&mut archive, &home.heads(), &trust, &sealed) {
            Ok((_, Append::Stored, _)) => stored += 1,
            Ok((_, Append::AlreadyThere, _)) => there += 1,
            Err(why) => {
                refused.push(vec![entry.summary.run.to_string(), why.to_string()]);
                return Ok(());
            }
        }
        for row in other.statements(LeafKind::Signature, &entry.summary.run.to_string())? {
            // one that is there already, or does not hold, is not taken in again; nor is such a time stamp
            let _ = statements::countersign(&mut archive, &entry, &row.signature);
        }
        for token in other.stamps(entry.summary.run)? {
            let _ = statements::stamp(&mut archive, &entry, &token);
        }
        Ok::<(), Failure>(())
    })?;
    drop(progress);
    say!("{stored} stored, {there} already there, {} not taken", refused.total());
    if refused.total() == 0 {
        return Ok(PASSED);
    }
    say!("{}", table(&["run", "why it was not taken"], refused.first()));
    if 0 < refused.more() {
        say!("{} more after the first {KEPT_MAX}", refused.more());
    }
    Ok(FOUND)
}

/// Takes in a record signed by a trusted key, or all of an archive.
pub(super) fn import(file: &Path) -> Result<u8, Failure> {
    if is_archive(file) {
        return import_all(file);
    }
    let home = Home::open()?;
    let sealed = Sealed::read(file)?;
    let trust = Trust::read(&home.trusted())?;
    let mut archive = Archive::open(&home.archive())?;
    let (run, appended, told) =
        stored::import(&mut archive, &home.heads(), &trust, &sealed).map_err(|why| why.of_file(file))?;
    told.iter().for_each(|told| say!("note: {}", clean(told)));
    match appended {
        Append::Stored => say!("Stored {}.", run.opened.run),
        Append::AlreadyThere => say!("{} was already there.", run.opened.run),
    }
    Ok(if run.outcome() == Outcome::Pass { PASSED } else { FOUND })
}
