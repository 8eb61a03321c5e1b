//! `audit`: proves stored records again, and the archive as a whole.

use std::path::{Path, PathBuf};

use serde_json::json;

use super::certificate::record_in;
use super::error::{FOUND, Failure, PASSED};
use super::home::Home;
use super::out::{self, say};
use super::progress::Progress;
use super::tables::table;
use crate::evidence::archive::{self, Archive, Entry};
use crate::evidence::audit::{Known, Remark};
use crate::evidence::keys::Trust;
use crate::evidence::log::Proof;
use crate::evidence::statements::{self, superseded_by};
use crate::evidence::stored::remarks;
use crate::evidence::timestamp::Authorities;
use crate::evidence::whole::{self, Whole, Witness};
use crate::evidence::{Document, FirstOf, KEPT_MAX, bytes};
use crate::terminal::plain::clean;

/// What was found, of a run.
type Found = (String, Remark);

/// What is looked at with, and what was found of records so far.
struct Audit<'a> {
    trust: &'a Trust,
    authorities: Authorities,
    known: Known,
    examined: u64,
    unproved_stamps: u64,
    found: FirstOf<Found>,
    /// Whether anything that was found speaks against a record.
    is_against: bool,
    told: FirstOf<String>,
}

impl<'a> Audit<'a> {
    fn of(trust: &'a Trust, authorities: Authorities) -> Audit<'a> {
        Audit {
            trust,
            authorities,
            known: Known::default(),
            examined: 0,
            unproved_stamps: 0,
            found: FirstOf::default(),
            is_against: false,
            told: FirstOf::default(),
        }
    }

    /// Proves one stored record and what stands beside it.
    fn record(&mut self, archive: &Archive, entry: &Entry) -> Result<(), Failure> {
        let run = entry.summary.run;
        self.examined += 1;
        let leaf = whole::leaf_remark(archive, entry)?;
        for later in superseded_by(archive, run, &entry.summary.sha256)? {
            self.told.push(format!("run {run}: {}", later.words()));
        }
        let mut stamped = Vec::new();
        for stamp in archive.stamps(run)? {
            self.unproved_stamps += u64::from(self.authorities.is_empty());
            stamped.extend(statements::stamp_remark(entry, &stamp, &self.authorities));
        }
        let of_record = remarks(archive, entry, self.trust, &self.known)?
            .into_iter()
            .chain(leaf)
            .chain(stamped);
        for remark in of_record {
            self.is_against |= remark.is_against();
            self.found.push((run.to_string(), remark));
        }
        Ok(())
    }

    /// What is to be said of the times in what was examined.
    fn of_times(&mut self) {
        if 0 < self.unproved_stamps {
            self.told.push(format!(
                "{} time {} not proved: name the authority with `--authority`",
                self.unproved_stamps,
                if self.unproved_stamps == 1 {
                    "stamp was"
                } else {
                    "stamps were"
                }
            ));
        }
        if 0 < self.examined {
            let what = "the times in records are the signers' word, unless a time stamp or a checkpoint in other hands bounds them";
            self.told.push(what.to_owned());
        }
    }
}

/// Audits every record that the filter lets through, and the log over all of them.
pub(super) fn audit(
    filter: Option<&str>,
    against: &[PathBuf],
    authorities: &[PathBuf],
    as_json: bool,
) -> Result<u8, Failure> {
    let home = Home::open()?;
    let trust = Trust::read(&home.trusted())?;
    let witnesses = against
        .iter()
        .map(|path| witness(path))
        .collect::<Result<Vec<_>, _>>()?;
    let archive = match Archive::read(&home.archive()) {
        Err(archive::Error::Absent { .. }) => None,
        other => Some(other?),
    };
    let mut audit = Audit::of(&trust, Authorities::read(authorities)?);
    let whole = match &archive {
        Some(archive) => whole::examine_log(archive, &trust, &home.heads(), &witnesses)?,
        None => whole::absent(&home.heads(), &witnesses)?,
    };
    if let Some(archive) = &archive {
        let mut progress = Progress::of("auditing", archive.count()?);
        let wanted = filter.map(str::to_lowercase);
        archive.for_each(|entry| {
            progress.one();
            let s = &entry.summary;
            let haystack = format!("{} {} {} {} {}", s.run, s.opened_at, s.place, s.cable, s.engineer).to_lowercase();
            match wanted.as_ref().is_none_or(|wanted| haystack.contains(wanted)) {
                true => audit.record(archive, &entry),
                false => Ok(()),
            }
        })?;
    }
    audit.of_times();
    let examined = audit.examined;
    if examined == 0 {
        audit.told.push(match (filter, &archive) {
            (Some(filter), Some(_)) => format!("no record fits `{filter}`: nothing was audited"),
            (_, Some(_)) => "the archive holds no records: nothing was audited".to_owned(),
            (_, None) => format!(
                "there is no archive `{}`: nothing was audited",
                home.archive().display()
            ),
        });
    }
    print(&audit, &whole, as_json);
    // as for `verify`: a clock that stepped back is told and does not speak against a record; an audit of nothing is not a clean one
    Ok(if examined == 0 || audit.is_against || whole.remarks.total() != 0 {
        FOUND
    } else {
        PASSED
    })
}

fn print(audit: &Audit<'_>, whole: &Whole, as_json: bool) {
    let examined = audit.examined;
    let of_records = audit.found.first().iter();
    let of_records = of_records.map(|(run, remark)| (Some(run.as_str()), remark));
    let of_archive = whole.remarks.first().iter().map(|remark| (None, remark));
    let found = of_records.chain(of_archive);
    let total = audit.found.total() + whole.remarks.total();
    let told = [&whole.told, &audit.told];
    let beyond = [
        (audit.found.more() + whole.remarks.more(), "finding"),
        (whole.told.more() + audit.told.more(), "note"),
    ];
    let beyond = beyond.into_iter().filter(|(more, _)| 0 < *more).map(|(more, what)| {
        let what = plural(more, what);
        format!("{more} more {what} after the first {KEPT_MAX}: audit a part, by a place, an engineer or a day")
    });
    let told = told.into_iter().flat_map(|told| told.first()).cloned().chain(beyond);
    if as_json {
        let rows: Vec<_> = found
            .map(|(run, r)| json!({"run": run, "concern": r.concern, "line": r.line, "what": r.what}))
            .collect();
        let value = json!({"examined": examined, "findings": rows, "told": told.collect::<Vec<_>>()});
        out::json(&value);
        return;
    }
    say!(
        "{examined} {} examined, {total} {}",
        plural(examined, "record"),
        plural(total, "finding")
    );
    if 0 < total {
        let row = |(run, r): (Option<&str>, &Remark)| {
            let run = run.unwrap_or("the archive").to_owned();
            vec![run, r.concern.word().to_owned(), r.line.to_string(), r.what.clone()]
        };
        let rows: Vec<_> = found.map(row).collect();
        say!("{}", table(&["run", "concern", "line", "finding"], &rows));
    }
    told.for_each(|told| say!("note: {}", clean(&told)));
}

/// What a certificate, or a record with its signature beside it, witnesses.
fn witness(path: &Path) -> Result<Witness, Failure> {
    let content = bytes(path)?;
    let document = match content.starts_with(b"%PDF") {
        true => record_in(&content)?,
        false => Document::read(path)?,
    };
    let named = |error: &dyn std::fmt::Display| Failure::refused(format!("`{}`: {error}", path.display()));
    Ok(Witness {
        name: path.display().to_string(),
        sealed: document.sealed,
        proof: document
            .beside
            .proof
            .map(|text| Proof::read(&text).map_err(|error| named(&error)))
            .transpose()?,
    })
}

fn plural(count: u64, word: &str) -> String {
    if count == 1 {
        word.to_owned()
    } else {
        format!("{word}s")
    }
}
