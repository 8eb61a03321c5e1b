//! `lid`: the sheet for the inside of a wiring centre's lid, with labels and a page for the customer.
//!
//! The rule inside: each cable is told from its newest record that nothing supersedes, and a record on which `verify` would not exit with 0
//! is refused; what that record does not prove, and whatever an unfinished run may have changed since, is left blank. A run that opened
//! nothing is named beside the record before it.

use std::collections::BTreeMap;
use std::path::Path;

use jiff::Timestamp;

use super::args::Lid;
use super::error::{FOUND, Failure, PASSED};
use super::home::Home;
use super::out::say;
use super::unfinished::All;
use super::verify::{Verified, read, verified};
use crate::evidence::archive::{self, Archive, Summary, sha256_hex};
use crate::evidence::certificate::lid::{CableSheet, RecordLine, Sheet, opened_nothing};
use crate::evidence::certificate::of_sheet;
use crate::evidence::keys::Trust;
use crate::evidence::supersession::Supersession;
use crate::evidence::timestamp::Authorities;
use crate::evidence::{Document, statements, write_new};
use crate::run::fold::Run;
use crate::terminal::plain::clean;

/// Cables of one sheet: as many as a job may have.
const CABLES_MAX: usize = 200;

/// Records of one cable that are looked at, the newest first: one behind the other opened nothing before the one that did.
const BEHIND_MAX: usize = 10;

/// Writes the sheet; exit code 1 where something of it is left blank.
pub(super) fn lid(asked: &Lid) -> Result<u8, Failure> {
    let home = Home::open()?;
    let archive = match Archive::read(&home.archive()) {
        Err(archive::Error::Absent { .. }) if asked.place.is_none() => None,
        other => Some(other?),
    };
    let given = Given {
        unfinished: All::of(&home)?,
        trust: Trust::read(&home.trusted())?,
        archive,
    };
    let found = match &asked.place {
        Some(place) => given.of_place(place)?,
        None => given.of_records(&asked.records)?,
    };
    let sheet = Sheet::of(found.place, Timestamp::now(), found.cables);
    write_new(&asked.output, &of_sheet(&sheet)?)?;
    say!(
        "{}, for {}: the lid, labels to cut out, and a page for the customer",
        clean(&asked.output.display().to_string()),
        clean(&sheet.place)
    );
    for cable in &sheet.cables {
        let told = match (&cable.blank, &cable.record) {
            (Some(why), _) => format!("left blank: {why}"),
            (None, Some(record)) => {
                let since = cable.since.as_ref().map_or(String::new(), |since| {
                    format!("; run {}, closed {}, opened nothing since", since.run, since.day)
                });
                format!("from the record of run {}, closed {}{since}", record.run, record.day)
            }
            (None, None) => unreachable!("a cable without a record is blank"),
        };
        say!("  {}: {}", clean(&cable.name), clean(&told));
    }
    for run in given.unfinished.runs.iter().filter(|run| run.told.is_err()) {
        say!(
            "note: run {} is unfinished and cannot be looked into: whether it is on one of these cables is not known",
            run.id
        );
    }
    Ok(if sheet.is_whole() { PASSED } else { FOUND })
}

/// What a sheet is made from.
struct Given {
    archive: Option<Archive>,
    unfinished: All,
    trust: Trust,
}

/// The newest records of cables that nothing supersedes, by the cable, the newest first.
type Newest = BTreeMap<String, Vec<Summary>>;

/// A record that was named, and what it came to.
struct Named<'a> {
    record: &'a str,
    run: Run,
    sheet: CableSheet,
}

/// The cables of one place.
#[derive(Default)]
struct Found {
    /// The place and its part.
    place: String,
    cables: Vec<CableSheet>,
    /// The further cables of the place, by the newest of the records.
    beside: Vec<String>,
}

impl Found {
    /// Takes a cable in.
    fn add(&mut self, run: &Run, sheet: CableSheet) {
        self.place = place(run);
        self.cables.push(sheet);
        for name in &run.plan.job.beside {
            if !self.beside.contains(name) {
                self.beside.push(name.clone());
            }
        }
    }

    /// The same with every cable of the place that has no record.
    fn with_others(mut self, why: &str) -> Found {
        self.beside
            .retain(|name| self.cables.iter().all(|cable| cable.name != *name));
        let others = self.beside.iter().map(|name| CableSheet::without_record(name, why));
        self.cables.extend(others);
        self
    }
}

/// The place and its part, as the archive lists them.
fn place(run: &Run) -> String {
    format!("{}, {}", run.plan.job.place.name, run.plan.job.place.part)
}

impl Given {
    /// The newest record of each cable of the one place whose name has this in it.
    fn of_place(&self, name: &str) -> Result<Found, Failure> {
        let wanted = name.trim().to_lowercase();
        let mut places: BTreeMap<String, Newest> = BTreeMap::new();
        self.for_each_standing(|summary| {
            if !summary.place.to_lowercase().contains(&wanted) {
                return Ok(());
            }
            let there = places.entry(summary.place.clone()).or_default();
            keep(there, summary);
            match CABLES_MAX < there.len() || CABLES_MAX < places.len() {
                true => Err(
                    Failure::refused(format!("more than {CABLES_MAX} cables are at `{name}`"))
                        .hint("name the records that are meant"),
                ),
                false => Ok(()),
            }
        })?;
        // a whole name is meant before a piece of others
        let whole = places.keys().find(|place| place.to_lowercase() == wanted).cloned();
        let newest = match (whole, places.len()) {
            (Some(whole), _) => places.remove(&whole),
            (None, 1) => places.pop_first().map(|(_, newest)| newest),
            _ => None,
        };
        let Some(newest) = newest else {
            let names: Vec<_> = places.keys().take(10).map(|place| format!("`{place}`")).collect();
            return Err(match names.is_empty() {
                true => Failure::refused(format!("no record is of a place called `{name}`"))
                    .hint("see `coreproof records list` for the places that there are"),
                false => Failure::refused(format!("`{name}` is a piece of several places: {}", names.join(", ")))
                    .hint("name the one that is meant, with its part"),
            });
        };
        let mut found = Found::default();
        for records in newest.values() {
            let (run, sheet) = self.newest_of(records)?;
            found.add(&run, sheet);
        }
        Ok(found.with_others("it has no record"))
    }

    /// A cable from its records, the newest first: from the first of them that opened anything, and where none did from the newest.
    fn newest_of(&self, records: &[Summary]) -> Result<(Run, CableSheet), Failure> {
        let mut newest: Option<(Run, CableSheet)> = None;
        for summary in records {
            let id = summary.run.to_string();
            let (run, sheet) = self.proved(&id, &self.stored(&id)?, None)?;
            if !opened_nothing(&run) {
                let since = newest.and_then(|(_, sheet)| sheet.record);
                return Ok((run, sheet.with_since(since)));
            }
            newest.get_or_insert((run, sheet));
        }
        newest.ok_or_else(|| Failure::refused("a cable of the archive has no record"))
    }

    /// The records that were named, all of one place.
    fn of_records(&self, records: &[String]) -> Result<Found, Failure> {
        let mut named = Vec::new();
        for record in records {
            let (run, sheet) = self.cable(record)?;
            named.push(Named { record, run, sheet });
        }
        let first = named.first().map(|named: &Named<'_>| place(&named.run));
        if let Some(other) = named.iter().find(|named| Some(place(&named.run)) != first) {
            return Err(Failure::refused(format!(
                "record `{}` is of `{}`, those before it of `{}`",
                other.record,
                place(&other.run),
                first.unwrap_or_default()
            ))
            .hint("make a sheet for each place"));
        }
        let newest = self.newest_there(&named)?;
        // what opened something first: what opened nothing is named beside it
        named.sort_by_key(|named| opened_nothing(&named.run));
        let mut found = Found::default();
        for Named { record, run, sheet } in named {
            let cable = &run.plan.job.cable;
            if let Some(known) = found.cables.iter_mut().find(|known| known.name == *cable) {
                if !opened_nothing(&run) {
                    return Err(
                        Failure::refused(format!("record `{record}` is of `{cable}`, as one before it"))
                            .hint("name the newest record of each cable alone"),
                    );
                }
                known.since = later_of(known.since.take(), sheet.record);
                continue;
            }
            let stored = newest.get(cable).map_or(&[][..], Vec::as_slice);
            let before = stored.iter().find(|known| time(&known.closed_at) < closed(&run));
            if let Some(before) = before.filter(|_| opened_nothing(&run)) {
                return Err(Failure::refused(format!(
                    "record `{record}` is of a run that opened nothing, so it proves no terminal"
                ))
                .hint(format!(
                    "name the record before it as well, of run {}, or the whole place with `--place`",
                    before.run
                )));
            }
            let since = self.since(record, &run, stored)?;
            found.add(&run, sheet.with_since(since));
        }
        Ok(found.with_others("no record of it was given"))
    }

    /// Every record of the archive that nothing supersedes.
    fn for_each_standing(&self, mut visit: impl FnMut(Summary) -> Result<(), Failure>) -> Result<(), Failure> {
        let Some(archive) = &self.archive else { return Ok(()) };
        archive.for_each_summary(|summary| match archive.superseded(summary.run)? {
            Some(_) => Ok(()),
            None => visit(summary),
        })
    }

    /// The newest records of the cables that were named, in one pass.
    fn newest_there(&self, named: &[Named<'_>]) -> Result<Newest, Failure> {
        let mut newest = Newest::new();
        self.for_each_standing(|summary| {
            let is_of =
                |named: &Named<'_>| summary.place == place(&named.run) && summary.cable == named.run.plan.job.cable;
            if named.iter().any(is_of) {
                keep(&mut newest, summary);
            }
            Ok(())
        })?;
        Ok(newest)
    }

    /// The newest of the records of a cable since one of them, each of which must have opened nothing.
    fn since(&self, record: &str, run: &Run, records: &[Summary]) -> Result<Option<RecordLine>, Failure> {
        let mut since = None;
        for newer in records.iter().filter(|newer| closed(run) < time(&newer.closed_at)) {
            let id = newer.run.to_string();
            let (later, sheet) = self.proved(&id, &self.stored(&id)?, None)?;
            if !opened_nothing(&later) {
                return Err(Failure::refused(format!(
                    "record `{record}` is older than that of run {} of the same cable, closed {}",
                    newer.run, newer.closed_at
                ))
                .hint("name that one, or the whole place with `--place`"));
            }
            since = since.or(sheet.record);
        }
        Ok(since)
    }

    /// A cable from one record: a run id or its beginning, a record file or a certificate.
    fn cable(&self, record: &str) -> Result<(Run, CableSheet), Failure> {
        let path = Path::new(record);
        match path.is_file() {
            true => {
                let (document, pages) = read(path)?;
                self.proved(record, &document, pages.as_deref())
            }
            false => self.proved(record, &self.stored(record)?, None),
        }
    }

    /// A cable from a record that is proved.
    fn proved(&self, record: &str, document: &Document, pages: Option<&[u8]>) -> Result<(Run, CableSheet), Failure> {
        let sealed = &document.sealed;
        let sha256 = sha256_hex(&sealed.record);
        let Verified { run, because } = verified(
            Path::new(record),
            document,
            pages,
            None,
            &Authorities::default(),
            &mut |_| {},
        )?;
        let run = match (run, because) {
            (Some(run), None) => run,
            (_, because) => {
                let why = because.unwrap_or_else(|| "it is not the record of a run".into());
                return Err(Failure::refused(format!("record `{record}`: {why}"))
                    .hint("only a record on which `coreproof verify` exits with 0 is put on a lid"));
            }
        };
        if let Some(later) = self.superseded(document, &run, &sha256)? {
            return Err(Failure::refused(format!("record `{record}`: {later}")).hint("name the later record"));
        }
        let overtaken = self.overtaken(&run);
        let sheet = CableSheet::of(&run, &sha256, overtaken);
        Ok((run, sheet))
    }

    fn stored(&self, record: &str) -> Result<Document, Failure> {
        let Some(archive) = &self.archive else {
            return Err(Failure::refused(format!("there is no file `{record}`, and no archive")));
        };
        Ok(statements::document(archive, &self.trust, archive.get(record)?)?)
    }

    /// The later record that supersedes one, in words, as far as its file or the archive here can tell.
    fn superseded(&self, document: &Document, run: &Run, sha256: &str) -> Result<Option<String>, Failure> {
        let is_of_this = |later: &Supersession| later.run == run.opened.run && later.sha256 == sha256;
        let carried = document.beside.superseded.as_deref().map(Supersession::all_in);
        let mut later: Vec<_> = carried.unwrap_or_default().into_iter().filter(is_of_this).collect();
        if let Some(archive) = &self.archive {
            later.extend(statements::superseded_by(archive, run.opened.run, sha256)?);
        }
        Ok(later.first().map(Supersession::words))
    }

    /// The unfinished run that was worked at on the same cable after its record was closed.
    fn overtaken(&self, run: &Run) -> Option<String> {
        let there = place(run);
        let runs = self.unfinished.runs.iter();
        let later = runs.filter_map(|unfinished| {
            let told = unfinished.told.as_ref().ok()?;
            (told.is_of(&there, &run.plan.job.cable) && closed(run) < told.at).then_some((unfinished, told))
        });
        let (unfinished, told) = later.max_by_key(|(_, told)| told.at)?;
        Some(format!(
            "run {} on it is unfinished, last worked at {}",
            unfinished.id, told.at
        ))
    }
}

fn closed(run: &Run) -> Timestamp {
    run.ending.as_ref().map_or(run.opened_at, |(_, at)| *at)
}

/// A time of the archive; it takes no other text.
fn time(text: &str) -> Timestamp {
    text.parse().unwrap_or(Timestamp::MAX)
}

/// Keeps a record among the newest of its cable.
fn keep(newest: &mut Newest, summary: Summary) {
    let there = newest.entry(summary.cable.clone()).or_default();
    let at = there.partition_point(|known| time(&summary.closed_at) < time(&known.closed_at));
    there.insert(at, summary);
    there.truncate(BEHIND_MAX);
}

/// The later of two records by the day on which they were closed.
fn later_of(one: Option<RecordLine>, other: Option<RecordLine>) -> Option<RecordLine> {
    let later = [one, other].into_iter().flatten();
    later.max_by(|one, other| (&one.day, &one.run).cmp(&(&other.day, &other.run)))
}
