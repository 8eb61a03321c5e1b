//! Small wordings of the page: unit symbols, times, acts and shell quoting.
//!
//! The rule inside: digits are printed as they were displayed; only the spelling of a unit changes (`Mohm` to `MΩ`), and
//! only in texts of this program, never in a person's.

use jiff::Timestamp;
use jiff::tz::Offset;

use crate::job::Job;
use crate::plan::{Act, Isolating, Kind, Point, Probes, Step, Subject, proves_indicator};
use crate::run::fold::Run;
use crate::value::quantity::{Amount, Unit, parse_unit};

/// An amount with typographic unit symbols: `0.42 Ω`, `1.0 mm²`, `15 °C`.
pub(super) fn amount(amount: &Amount) -> String {
    symbols(&amount.to_string())
}

/// Puts typographic symbols for the units that follow a number in a text of this program.
pub(in crate::evidence::certificate) fn symbols(text: &str) -> String {
    let mut out = String::with_capacity(text.len());
    let mut after_number = false;
    for piece in text.split_inclusive([' ', ';', ',', ':', ')', '(']) {
        let (word, tail) = match piece.char_indices().last() {
            Some((at, c)) if " ;,:)(".contains(c) => piece.split_at(at),
            _ => (piece, ""),
        };
        match parse_unit(word).filter(|_| after_number) {
            Some(_) => out.push_str(&typographic(word)),
            None => out.push_str(word),
        }
        out.push_str(tail);
        let digits = word.trim_start_matches(['>', '-', '+']);
        after_number = digits.starts_with(|c: char| c.is_ascii_digit())
            || (word.is_empty() && after_number)
            // the unit of a bare over-range mark: `OL (ohm)`
            || word == "OL";
    }
    out
}

fn typographic(unit: &str) -> String {
    let spelt = unit
        .replace("ohm", "\u{3a9}")
        .replace("Ohm", "\u{3a9}")
        .replace("mm2", "mm\u{b2}")
        .replace("degC", "\u{b0}C");
    match spelt.strip_prefix('u') {
        Some(rest) => format!("\u{b5}{rest}"),
        None => spelt,
    }
}

/// A computed value with as many decimals as the display it came from had, in the prefix that reads best.
pub(super) fn net(value: rust_decimal::Decimal, unit: Unit, last_digit: rust_decimal::Decimal) -> String {
    let mut readable = Amount::readable(value, unit, 12);
    let mut digits = readable.digits.value();
    digits.rescale((last_digit / readable.prefix.factor()).normalize().scale());
    readable.digits = crate::value::quantity::Digits::from_decimal(digits);
    amount(&readable)
}

/// Times as the page tells them: local where the job states how far that is from UTC, else UTC.
#[derive(Debug, Clone, Copy)]
pub(in crate::evidence::certificate) struct Clock {
    stated: Option<Offset>,
    start: Timestamp,
}

impl Clock {
    pub(in crate::evidence::certificate) fn of(run: &Run) -> Clock {
        Clock {
            stated: run.plan.job.document.local_offset,
            start: run.opened_at,
        }
    }

    fn local(self, at: Timestamp) -> jiff::civil::DateTime {
        self.stated.unwrap_or(Offset::UTC).to_datetime(at)
    }

    /// A time of day, with the day where it is not the day on which the run began.
    pub(super) fn time(self, at: Timestamp) -> String {
        let (at, start) = (self.local(at), self.local(self.start));
        if at.date() == start.date() {
            at.strftime("%H:%M:%S").to_string()
        } else {
            at.strftime("%m-%d %H:%M:%S").to_string()
        }
    }

    /// A day.
    pub(in crate::evidence::certificate) fn day(self, at: Timestamp) -> String {
        self.local(at).date().to_string()
    }

    /// A day and time with its offset.
    pub(super) fn moment(self, at: Timestamp) -> String {
        format!("{} {}", self.local(at).strftime("%Y-%m-%d %H:%M:%S"), self.offset())
    }

    /// The offset as it stands behind a time: `+01:00`, `UTC`.
    pub(super) fn offset(self) -> String {
        match self.stated {
            None => "UTC".into(),
            Some(offset) => {
                let minutes = offset.seconds() / 60;
                let sign = if minutes < 0 { '-' } else { '+' };
                format!("{sign}{:02}:{:02}", minutes.abs() / 60, minutes.abs() % 60)
            }
        }
    }

    /// What the times of the page are.
    pub(super) fn words(self) -> String {
        match self.stated {
            None => "Times are UTC; the local offset is not stated.".into(),
            Some(_) => format!("Times are local, {} from UTC, as the job states.", self.offset()),
        }
    }
}

/// What a step was about, in a few words.
pub(in crate::evidence::certificate) fn what(step: &Step, job: &Job) -> String {
    let between = |probes: &Probes| between(probes, job);
    match &step.kind {
        Kind::Do => {
            let acts: Vec<_> = step.acts.iter().map(|act| done(act, job)).collect();
            if acts.is_empty() {
                step.say.clone()
            } else {
                acts.join("; ")
            }
        }
        Kind::Indicator { .. } if proves_indicator(step) => {
            format!("indicator proved on the {}", job.supply.known_source)
        }
        Kind::Indicator { probes, .. } => format!("indicator between {}", between(probes)),
        Kind::Connect {
            core, end, terminal, ..
        } => format!("core {core} into terminal {terminal} at the {}", job.end(*end).name),
        Kind::Measure(m) if m.is_null && m.used.nulls => format!(
            "{}, the leads alone, tip to tip, {}",
            m.used.function.dial(),
            m.leads_words().expect("it measures the leads")
        ),
        Kind::Measure(m) if m.is_null => format!("{}, the leads alone, tip to tip", m.used.function.dial()),
        Kind::Measure(m) => format!("{} between {}", m.used.function.dial(), between(&m.probes)),
        Kind::Gate => "every step before this one has passed in this run".into(),
        Kind::Look(look) => looked_at(&look.subject, job),
        Kind::Note {
            reason: Some(reason), ..
        } => reason.words().into(),
        Kind::Note { photograph: true, .. } => "note with a photograph".into(),
        Kind::Note { .. } => "note".into(),
    }
}

/// A probe pair; the end is named once where both probes are at the same one.
pub(in crate::evidence::certificate) fn between(probes: &Probes, job: &Job) -> String {
    let (first, second) = (probes.first.words(job), probes.second.words(job));
    match (probes.first.end(), probes.second.end()) {
        (Some(one), Some(other)) if one == other => {
            let place = format!(" at the {}", job.end(one).name);
            let bare = |words: &str| words.strip_suffix(place.as_str()).unwrap_or(words).to_owned();
            format!("{} and {},{place}", bare(&first), bare(&second))
        }
        _ => format!("{first} and {second}"),
    }
}

fn looked_at(subject: &Subject, job: &Job) -> String {
    match subject {
        Subject::Tug { core, end } => format!("core {core} tugged at the {}", job.end(*end).name),
        Subject::Identity { core } => format!("which core at the {} is {core}", job.near.name),
        Subject::Polarity { core, end } => format!("what core {core} goes to at the {}", job.end(*end).name),
        Subject::Plate(end) => format!("the maker's plate at the {}", job.end(*end).name),
        Subject::Lever(motor) => format!("the lever of {motor}"),
        Subject::Pin(motor) => format!("the pin of {motor}"),
        Subject::Load(load) => format!("whether {load} runs"),
        Subject::Warmth(motor) => format!("whether warmth arrives behind {motor}"),
        Subject::Moved => "which actuators and flow meters have moved".into(),
        Subject::Thing(thing) => thing.clone(),
    }
}

fn done(act: &Act, job: &Job) -> String {
    let far = &job.far.name;
    let near = &job.near.name;
    let conductor = |end| Point::earth_conductor(job, end).words(job);
    match act {
        Act::SwitchOff => format!("switched off at the {}", job.supply.from),
        Act::LockOff => "locked off, or the fuse taken out and kept".into(),
        Act::KeepKey => "the only key, or the fuse, kept by the engineer".into(),
        Act::PostNotice => "notice posted at the point of isolation".into(),
        Act::Disconnect(end) => format!("every core off its terminal at the {}", job.end(*end).name),
        Act::TakeLeadOff(contact) => format!("live conductor of {contact} off and made safe"),
        Act::PutLeadOn(contact) => format!("every conductor on {contact}"),
        Act::TakeOutElectronics => "electronics out of the circuit".into(),
        Act::GuardFarEnd => format!("the {far} guarded while the cores carry test voltage"),
        Act::LinkToEarth(core) => format!("core {core} linked to {} at the {far}", job.return_words()),
        Act::RemoveLink(core) => format!("link taken off core {core} at the {far}"),
        Act::RemoveEveryLink => format!("no link left anywhere at the {far}"),
        Act::JoinLiveCores => format!(
            "all live cores joined together at the {near}, {} apart",
            job.return_words()
        ),
        Act::PartLiveCores => "cores discharged by the tester, then parted".into(),
        Act::JoinEarth => format!(
            "{} clipped to {}",
            job.return_words(),
            Point::building_earth(job).words(job)
        ),
        Act::PartEarth => format!("the clip taken off {}", job.return_words()),
        Act::JoinRest(core) => format!("every core but {core} joined together at the {near}"),
        Act::PartRest => "cores discharged by the tester, then parted".into(),
        Act::CoverFarEnd => format!("covers on at the {}, nobody at it", job.far.name),
        Act::PartNeutral => format!("the supply's neutral off its terminal at the {near}, insulated"),
        Act::RestoreNeutral => format!("the supply's neutral back in its terminal at the {near}, tightened and tugged"),
        Act::EarthOff(end) => format!("{} off its terminal, no other conductor", conductor(*end)),
        Act::EarthBack(end) => format!("{} back in its terminal, tightened and tugged", conductor(*end)),
        Act::JoinTerminals => format!("every live terminal for mains at the {near} joined to the others"),
        Act::PartTerminals => "terminals discharged by the tester, then parted".into(),
        Act::Discharge => "every core discharged to earth by the tester".into(),
        Act::Connect { core, end } => format!("core {core} connected at the {}", job.end(*end).name),
        Act::Energise => "covers on, nobody at open terminals, switched on".into(),
        Act::Call(control) => format!("{control} set until it called"),
        Act::Satisfy(control) => format!("{control} set until it no longer called"),
        Act::EveryCallOff => "every call off".into(),
        Act::ResetDevice => "the residual-current device switched on again".into(),
        Act::Further { supply, act } => match act {
            Isolating::SwitchOff => format!("{supply} switched off at its own point of isolation"),
            Isolating::LockOff => format!("{supply} locked off, or its fuse taken out and kept"),
            Isolating::KeepKey => format!("the only key of {supply}, or its fuse, kept by the engineer"),
            Isolating::PostNotice => format!("notice posted at the point of isolation of {supply}"),
        },
        Act::MakeSafe => "made safe".into(),
    }
}

/// A name as one word of a shell command.
pub(super) fn shell_word(name: &str) -> String {
    let plain = |c: char| c.is_ascii_alphanumeric() || "._@+-".contains(c);
    if !name.is_empty() && name.chars().all(plain) && !name.starts_with('-') {
        name.to_owned()
    } else {
        format!("'{}'", name.replace('\'', r"'\''"))
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn units_after_numbers_get_their_symbols() {
        for (text, expected) in [
            ("0.42 ohm", "0.42 \u{3a9}"),
            (">299 Mohm", ">299 M\u{3a9}"),
            ("OL (ohm)", "OL (\u{3a9})"),
            ("18.1 mohm/m", "18.1 m\u{3a9}/m"),
            ("3 uV", "3 \u{b5}V"),
            ("1.0 mm2, class 1", "1.0 mm\u{b2}, class 1"),
            ("0.004 /degC", "0.004 /\u{b0}C"),
            ("0.42 ohm is above 0.40 ohm", "0.42 \u{3a9} is above 0.40 \u{3a9}"),
            ("the ohm range of the meter", "the ohm range of the meter"),
            ("216.2 V to 253.0 V", "216.2 V to 253.0 V"),
        ] {
            assert_eq!(symbols(text), expected);
        }
    }

    #[test]
    fn net_values_keep_the_decimals_of_the_display() {
        for (value, last, expected) in [
            ("0.6", "0.01", "0.60 \u{3a9}"),
            ("1250", "10", "1.25 k\u{3a9}"),
            ("300000000", "1000000", "300 M\u{3a9}"),
            ("0", "0.001", "0.000 \u{3a9}"),
        ] {
            assert_eq!(net(value.parse().unwrap(), Unit::Ohm, last.parse().unwrap()), expected);
        }
    }

    #[test]
    fn times_are_local_where_the_job_says_so_and_name_the_day_only_where_it_is_another() {
        let start: Timestamp = "2026-11-25T07:16:21.123Z".parse().unwrap();
        let clock = |minutes: Option<i32>| Clock {
            stated: minutes.map(|minutes| Offset::from_seconds(minutes * 60).unwrap()),
            start,
        };
        for (stated, at, time, moment) in [
            (None, "2026-11-25T23:59:59Z", "23:59:59", "2026-11-25 23:59:59 UTC"),
            (
                None,
                "2026-11-26T00:00:01Z",
                "11-26 00:00:01",
                "2026-11-26 00:00:01 UTC",
            ),
            (
                Some(60),
                "2026-11-25T23:30:00Z",
                "11-26 00:30:00",
                "2026-11-26 00:30:00 +01:00",
            ),
            (
                Some(-210),
                "2026-11-25T07:16:21Z",
                "03:46:21",
                "2026-11-25 03:46:21 -03:30",
            ),
            (
                Some(0),
                "2026-11-25T07:16:21Z",
                "07:16:21",
                "2026-11-25 07:16:21 +00:00",
            ),
        ] {
            let at = at.parse().unwrap();
            assert_eq!(
                (clock(stated).time(at).as_str(), clock(stated).moment(at).as_str()),
                (time, moment)
            );
        }
    }

    #[test]
    fn names_become_one_word_of_a_command() {
        for (name, expected) in [
            ("morgan@saltmarsh.example", "morgan@saltmarsh.example"),
            ("Morgan Teal", "'Morgan Teal'"),
            ("O'Teal $(x)", r"'O'\''Teal $(x)'"),
            ("-f", "'-f'"),
            ("", "''"),
        ] {
            assert_eq!(shell_word(name), expected);
        }
    }
}
