//! `instruments`: the engineer and the instruments, told once.
//!
//! The rule inside: the file is one that people edit as well, so what is changed in it is exchanged in place and the rest of it stays; nothing
//! is written that cannot be read again.

use std::path::Path;

use jiff::Timestamp;
use jiff::civil::Date;

use super::args::InstrumentsCommand;
use super::error::{FOUND, Failure, PASSED};
use super::files;
use super::home::Home;
use super::out::say;
use super::tables::table;
use crate::job::{self, Instrument, TOLD_FORMAT, Told};
use crate::located::{self, Edited, Text, end_of_list, entries, listed, nearest, top_field, value_at};
use crate::system::disk;
use crate::terminal::plain::clean;

/// What a file holds in which nothing is told yet.
fn nothing_yet() -> String {
    format!(
        "// Who works, and with what. Jobs name the instruments, and records carry them whole.\n(\n    format: \"{TOLD_FORMAT}\",\n    instruments: [\n    ],\n)\n"
    )
}

/// Runs the command; without one it lists.
pub(super) fn instruments(command: Option<InstrumentsCommand>) -> Result<u8, Failure> {
    let home = Home::open()?;
    let told = files::told(&home).map_err(Failure::findings)?;
    match command {
        None | Some(InstrumentsCommand::List) => list(&home, told.as_ref()),
        Some(InstrumentsCommand::Check) => check(&home, told.as_ref()),
        Some(InstrumentsCommand::Add { from, names, replace }) => add(&home, told, &from, (&names, replace)),
        Some(InstrumentsCommand::Calibrated { name, on, due }) => calibrated(&home, told, &name, (on, due)),
        Some(InstrumentsCommand::Engineer { name, position, firm }) => {
            engineer(&home, told, &name, [("position", position), ("firm", firm)])
        }
    }
}

fn list(home: &Home, told: Option<&Told>) -> Result<u8, Failure> {
    let Some(told) = told else {
        say!("no instruments are told yet");
        say!("  coreproof instruments add JOB      takes over those of a job, a file or a shipped one");
        say!("  `{}` is the file, to be edited as well", home.instruments().display());
        return Ok(PASSED);
    };
    if told.engineer.is_some() {
        say!("{}", clean(&speaks(told)));
    }
    let row = |(instrument, _): &(Instrument, _)| {
        let i: &Instrument = instrument;
        let profile = i.profile.clone().unwrap_or_else(|| "typed".into());
        vec![
            i.name.clone(),
            i.kind.clone(),
            i.serial.clone(),
            i.calibrated.to_string(),
            i.due.to_string(),
            profile,
            i.category.clone(),
        ]
    };
    let rows: Vec<_> = told.instruments.iter().map(row).collect();
    let head = [
        "name",
        "kind",
        "serial number",
        "calibrated",
        "due",
        "profile",
        "category",
    ];
    say!("{}", table(&head, &rows));
    due(told);
    say!("in `{}`", home.instruments().display());
    Ok(PASSED)
}

/// Says what is due; whether a date is past.
fn due(told: &Told) -> bool {
    let now = Timestamp::now();
    for what in told
        .instruments
        .iter()
        .filter_map(|(instrument, _)| instrument.due_words(now))
    {
        say!("note: {}", clean(&what));
    }
    told.instruments
        .iter()
        .any(|(instrument, _)| instrument.is_overdue(now))
}

fn check(home: &Home, told: Option<&Told>) -> Result<u8, Failure> {
    let Some(told) = told else {
        return list(home, None);
    };
    let is_overdue = due(told);
    say!("{} instruments are told; the file is sound", told.instruments.len());
    Ok(if is_overdue { FOUND } else { PASSED })
}

/// The file as it is, to be changed.
fn text_of(home: &Home, told: Option<Told>) -> Result<Told, Failure> {
    match told {
        Some(told) => Ok(told),
        None => read(home, &nothing_yet()),
    }
}

fn read(home: &Home, text: &str) -> Result<Told, Failure> {
    let text = Text::new(home.instruments().display().to_string(), text);
    job::read_told(&text).map_err(|problems| Failure::findings(text.findings(problems)))
}

/// Writes the changed file, if it can be read again.
pub(super) fn write(home: &Home, text: &str) -> Result<Told, Failure> {
    let told = read(home, text)?;
    let path = home.instruments();
    disk::replace(&path, text.as_bytes())
        .map_err(|error| Failure::equipment(format!("`{}` cannot be written: {error}", path.display())))?;
    Ok(told)
}

fn add(home: &Home, told: Option<Told>, from: &Path, (names, replace): (&[String], bool)) -> Result<u8, Failure> {
    let theirs = theirs(from)?;
    let known = listed(&theirs.instruments, |(instrument, _)| format!("`{}`", instrument.name));
    for name in names {
        if !theirs.instruments.iter().any(|(there, _)| there.name == *name) {
            let what = format!("`{}` holds no instrument `{name}`", from.display());
            return Err(Failure::refused(what).hint(format!("it has {known}")));
        }
    }
    let had_engineer = told.as_ref().is_some_and(|told| told.engineer.is_some());
    let mut told = text_of(home, told)?;
    let wanted = |name: &str| names.is_empty() || names.iter().any(|there| there == name);
    for (instrument, place) in theirs.instruments.iter().filter(|(there, _)| wanted(&there.name)) {
        let whole = &theirs.text.text[place.clone()];
        let mut edited = Edited::new(&told.text.text);
        match told.instruments.iter().find(|(there, _)| there.name == instrument.name) {
            Some((there, _)) if there == instrument => continue,
            Some(_) if !replace => {
                let what = format!("another instrument is told as `{}`", instrument.name);
                return Err(Failure::refused(what).hint("give `--replace`, or call one of them otherwise"));
            }
            Some((_, at)) => edited.exchange(at.clone(), whole),
            None => {
                let list = top_field(&told.text.text, "instruments");
                let at = list
                    .and_then(|(_, value)| end_of_list(&told.text.text, value))
                    .ok_or_else(|| {
                        Failure::refused(format!("`{}` holds no list `instruments`", told.text.name))
                            .hint("add `instruments: [],` to it")
                    })?;
                edited.exchange(at.0..at.0, &format!("{}        {whole},\n    ", at.1));
            }
        }
        told = read(home, &edited.text)?;
        say!("{} (serial {})", clean(&instrument.name), clean(&instrument.serial));
    }
    if let (false, Some(name)) = (had_engineer, &theirs.engineer) {
        told = read(home, &with_field(&told.text.text, "engineer", name))?;
        say!("engineer {}", clean(name));
    }
    told = write(home, &told.text.text)?;
    due(&told);
    let names = listed(&told.instruments, |(instrument, _)| format!("\"{}\"", instrument.name));
    say!("A job takes them by name: `instruments: [{}]`", clean(&names));
    Ok(PASSED)
}

/// What another file holds: told ones, or a job's.
fn theirs(from: &Path) -> Result<Told, Failure> {
    let text = files::job_text(from)?;
    let refused = |what: &str| Failure::refused(format!("`{}` {what}", from.display()));
    let (_, value) = top_field(&text.text, "instruments").ok_or_else(|| refused("holds no instruments"))?;
    if files::holds(&text.text) == files::Holds::Told {
        return job::read_told(&text).map_err(|problems| Failure::findings(text.findings(problems)));
    }
    let job = files::shared(&text).map_err(Failure::findings)?;
    let text = &job.text.text;
    let value = top_field(text, "instruments").map_or(value, |(_, value)| value);
    let (_, end) = entries(text, value).ok_or_else(|| refused("holds no list of instruments"))?;
    let engineer = format!("{:?}", job.engineer);
    let told = format!(
        "(format: \"{TOLD_FORMAT}\", engineer: {engineer}, instruments: {})",
        &text[value..=end]
    );
    let told = Text::new(from.display().to_string(), told);
    job::read_told(&told).map_err(|problems| Failure::findings(told.findings(problems)))
}

/// The file with one of its own fields said anew.
fn with_field(text: &str, field: &str, words: &str) -> String {
    let line = format!("{field}: {words:?},");
    let mut text = text.to_owned();
    match (located::field(&text, field), top_field(&text, "instruments")) {
        (Some(at), _) => text.replace_range(at, &line),
        (None, Some((at, _))) => text.insert_str(at, &format!("{line}\n    ")),
        (None, None) => {}
    }
    text
}

fn engineer(
    home: &Home,
    told: Option<Told>,
    name: &str,
    more: [(&'static str, Option<String>); 2],
) -> Result<u8, Failure> {
    let told = text_of(home, told)?;
    let mut text = with_field(&told.text.text, "engineer", name);
    // what somebody else is, and for whom, is not theirs
    let is_another = told.engineer.as_deref().is_some_and(|was| was != name);
    for (field, words) in more {
        match (words, located::field(&text, field)) {
            (Some(words), _) => text = with_field(&text, field, &words),
            (None, Some(at)) if is_another => text.replace_range(at, ""),
            (None, _) => {}
        }
    }
    let told = write(home, &text)?;
    say!("{}", clean(&speaks(&told)));
    Ok(PASSED)
}

/// Who works, what they are, and for whom.
fn speaks(told: &Told) -> String {
    let words = [&told.engineer, &told.position, &told.firm];
    let words: Vec<_> = words.into_iter().flatten().map(String::as_str).collect();
    format!("engineer {}", words.join(", "))
}

/// Says by which profile an instrument is read.
pub(super) fn talks(home: &Home, told: &Told, name: &str, profile: &str) -> Result<(), Failure> {
    let there = told.instruments.iter().find(|(there, _)| there.name == name);
    let (instrument, place) = there.expect("chosen among those that are told");
    if instrument.profile.as_deref() == Some(profile) {
        return Ok(());
    }
    let mut edited = Edited::new(&told.text.text);
    let whole = &told.text.text[place.clone()];
    let literal = format!("{profile:?}");
    match value_at(whole, &["profile"]) {
        Some(at) => edited.exchange(place.start + at.start..place.start + at.end, &literal),
        None => {
            let (first, _) = top_field(whole, "name").expect("an instrument that was read has a name");
            let at = place.start + first;
            edited.exchange(at..at, &format!("profile: {literal}, "));
        }
    }
    write(home, &edited.text).map(drop)
}

fn calibrated(home: &Home, told: Option<Told>, name: &str, (on, due_by): (Date, Date)) -> Result<u8, Failure> {
    let told = text_of(home, told)?;
    let Some((_, place)) = told.instruments.iter().find(|(there, _)| there.name == name) else {
        let failure = Failure::refused(format!("no instrument is told as `{name}`"));
        let near = nearest(name, told.instruments.iter().map(|(there, _)| there.name.as_str()));
        return Err(failure.hint(match near {
            Some(near) => format!("write `{near}`"),
            None => "`coreproof instruments` shows those that are".into(),
        }));
    };
    let mut edited = Edited::new(&told.text.text);
    for (field, date) in [("calibrated", on), ("due", due_by)] {
        let whole = &edited.text[place.start..];
        let (_, value) = top_field(whole, field).expect("an instrument that was read has both");
        let begins = place.start + value;
        let length = edited.text[begins + 1..].find('"').expect("a date stands in quotes") + 2;
        edited.exchange(begins..begins + length, &format!("\"{date}\""));
    }
    let told = write(home, &edited.text)?;
    say!("`{}` was calibrated on {on}, due on {due_by}", clean(name));
    due(&told);
    Ok(PASSED)
}
