//! `meter find`: which port, which profile, which instrument.
//!
//! The rule inside: a port is named before it is opened, and opened only after an answer; one that another program holds is never opened,
//! and no byte is sent but on a port that was named to be asked.

use std::sync::Arc;
use std::time::Duration;

use tokio::sync::mpsc::UnboundedReceiver;
use tokio::task::JoinSet;
use tokio::time::Instant;

use super::args::FindMeter;
use super::asked;
use super::cables::{self, Cable, On};
use super::error::{Failure, INTERRUPTED, PASSED};
use super::home::Home;
use super::out::say;
use super::tables::table;
use super::{files, instruments, profiles};
use crate::explain::Explain;
use crate::job::instrument::Ability;
use crate::job::{Instrument, Told};
use crate::located::{listed, nearest};
use crate::meter::decode::Profile;
use crate::meter::find::listening::{self, Heard, Match};
use crate::meter::port::PortError;
use crate::meter::port::serial::{self, UsbIdentity};
use crate::run::dialogue::Said;
use crate::system::devices;
use crate::terminal::input;
use crate::terminal::plain::clean;

/// A port that may be listened to.
#[derive(Debug, Clone)]
pub(super) struct Place {
    pub path: String,
    pub usb: Option<UsbIdentity>,
    /// Another program that holds it.
    pub holder: Option<String>,
    /// It was named to be asked.
    pub is_asked: bool,
}

/// The ports that are named, or else all that are present.
pub(super) fn places(named: &[String], asked: &[String]) -> Vec<Place> {
    let present = serial::listed();
    let all: Vec<String> = match named.is_empty() && asked.is_empty() {
        true => present.iter().map(|port| port.path.clone()).collect(),
        false => named.to_vec(),
    };
    let further = asked.iter().filter(|path| !named.contains(path));
    let mut paths: Vec<&String> = all.iter().chain(further).collect();
    paths.dedup();
    let place = |path: &String| Place {
        path: path.clone(),
        usb: present
            .iter()
            .find(|port| port.has_name(path))
            .and_then(|port| port.usb.clone()),
        holder: devices::held_by(path),
        is_asked: asked.contains(path),
    };
    paths.into_iter().map(place).collect()
}

/// Finds.
pub(super) async fn find(asked: &FindMeter) -> Result<u8, Failure> {
    let home = Home::open()?;
    let told = files::told(&home).map_err(Failure::findings)?;
    let readers = readers(told.as_ref());
    if let Some(name) = &asked.instrument {
        chosen(name, &readers)
            .map_err(|what| Failure::refused(what).hint("`coreproof instruments` shows those that are told"))?;
    }
    let mut lines = input::lines();
    let places = allowed(places(&asked.port, &asked.ask), asked.seconds, &mut lines).await?;
    let profiles: Arc<[Profile]> = profiles::all(&home)?.into();
    let mut all = listened(&places, &profiles, asked.seconds);
    let mut told_of = Vec::new();
    while let Some(done) = all.join_next().await {
        let (n, heard) = done.expect("listening does not panic");
        let place: &Place = &places[n];
        say!("{}", clean(&words(place, &heard, &profiles)));
        let Heard::Reads(matches) = &heard else {
            told_of.push(heard);
            continue;
        };
        if let Some(found) = confirmed(place, matches, &profiles, &mut lines).await? {
            all.shutdown().await;
            let found = Found {
                place,
                profile: &profiles[found.profile],
                baud: found.baud,
            };
            return found.keep(&home, told.as_ref(), (&readers, asked), &mut lines).await;
        }
        told_of.push(heard);
    }
    Err(not_found(&told_of, asked.seconds))
}

/// Instruments that show readings.
fn readers(told: Option<&Told>) -> Vec<&Instrument> {
    let all = told.map_or(&[][..], |told| &told.instruments);
    let reads = |instrument: &&Instrument| instrument.can.iter().any(|ability| *ability != Ability::ProveDead);
    all.iter().map(|(instrument, _)| instrument).filter(reads).collect()
}

fn chosen<'i>(name: &str, readers: &[&'i Instrument]) -> Result<&'i Instrument, String> {
    let found = readers.iter().find(|there| there.name.eq_ignore_ascii_case(name));
    found.copied().ok_or_else(
        || match nearest(name, readers.iter().map(|there| there.name.as_str())) {
            Some(near) => format!("no instrument that reads is told as `{name}`; did you mean `{near}`?"),
            None => format!("no instrument that reads is told as `{name}`"),
        },
    )
}

/// Names the ports and asks which may be opened; those that may.
pub(super) async fn allowed(
    places: Vec<Place>,
    seconds: u64,
    lines: &mut UnboundedReceiver<Said>,
) -> Result<Vec<Place>, Failure> {
    if places.is_empty() {
        return Err(Failure::equipment("no port is present").hint("plug the meter's cable in"));
    }
    let row = |(n, place): (usize, &Place)| {
        let usb = place.usb.as_ref();
        let id = usb.map_or(String::new(), |usb| format!("{:04x}:{:04x}", usb.vendor, usb.product));
        let note = match (&place.holder, place.is_asked) {
            (Some(holder), _) => format!("in use by {holder}: left alone"),
            (None, true) => "bytes are sent to it".to_owned(),
            (None, false) => String::new(),
        };
        let about = usb.and_then(|usb| usb.about.clone()).unwrap_or_default();
        vec![(n + 1).to_string(), place.path.clone(), id, about, note]
    };
    let rows: Vec<_> = places.iter().enumerate().map(row).collect();
    say!("{}", table(&["", "port", "USB id", "cable", ""], &rows));
    if places.iter().all(|place| place.holder.is_some()) {
        return Err(Failure::equipment("every port is in use by another program").hint("close the other program"));
    }
    say!(
        "Opening a port raises its lines DTR and RTS for a moment, whoever opens it: some control boards start anew at that."
    );
    say!("Nothing is sent to a port that is only listened to.");
    loop {
        say!("May they be opened, for {seconds} s at most? `yes`, the numbers of those that may (`1 3`), or `no`");
        let Some(line) = asked::line(lines).await else {
            return Err(Failure {
                exit: INTERRUPTED,
                ..Failure::refused("no port was opened")
            });
        };
        match picked(&line, places.len()) {
            Some(picked) if picked.is_empty() => return Err(Failure::refused("no port was opened")),
            Some(picked) => {
                let free = |n: &usize| places[*n].holder.is_none();
                return Ok(picked.into_iter().filter(free).map(|n| places[n].clone()).collect());
            }
            None => say!("`{}` is none of these.", clean(&line)),
        }
    }
}

/// Which of so many are meant; none of them by `no`.
fn picked(line: &str, count: usize) -> Option<Vec<usize>> {
    match line.to_lowercase().as_str() {
        "yes" => return Some((0..count).collect()),
        "no" => return Some(Vec::new()),
        "" => return None,
        _ => {}
    }
    let number = |word: &str| {
        word.parse::<usize>()
            .ok()
            .filter(|n| (1..=count).contains(n))
            .map(|n| n - 1)
    };
    let words = line.split([' ', ',']).filter(|word| !word.is_empty());
    let mut all = words.map(number).collect::<Option<Vec<_>>>()?;
    all.sort_unstable();
    all.dedup();
    Some(all)
}

/// Listens on all of them at once.
pub(super) fn listened(places: &[Place], profiles: &Arc<[Profile]>, seconds: u64) -> JoinSet<(usize, Heard)> {
    let until = Instant::now() + Duration::from_secs(seconds);
    let mut all = JoinSet::new();
    for (n, place) in places.iter().cloned().enumerate() {
        let profiles = profiles.clone();
        all.spawn(async move {
            let heard = listening::listen(&place.path, &profiles, until).await;
            match heard {
                Heard::Nothing | Heard::NotUnderstood { .. } if place.is_asked => {
                    match listening::ask(&place.path, &profiles).await {
                        Heard::Nothing => (n, heard),
                        answered => (n, answered),
                    }
                }
                heard => (n, heard),
            }
        });
    }
    all
}

/// What was heard on a port, in a line.
pub(super) fn words(place: &Place, heard: &Heard, profiles: &[Profile]) -> String {
    let port = &place.path;
    match heard {
        Heard::Reads(matches) => {
            let read = listed(matches, |one| {
                format!("{} by `{}` at {} baud", one.shows, profiles[one.profile].name, one.baud)
            });
            format!("{port}: {read}")
        }
        Heard::NotUnderstood { tried, of } => {
            format!("{port}: it sends something that no profile reads, at {tried} of {of} settings")
        }
        Heard::Nothing => format!("{port}: nothing is heard"),
        Heard::Refused(PortError::PortInUse { .. }) => format!("{port}: in use by another program, left alone"),
        Heard::Refused(error) => match error.hint() {
            Some(hint) => format!("{port}: {error}: {hint}"),
            None => format!("{port}: {error}"),
        },
    }
}

/// The match whose display is what the meter shows, where the person says so of one.
async fn confirmed(
    place: &Place,
    matches: &[Match],
    profiles: &[Profile],
    lines: &mut UnboundedReceiver<Said>,
) -> Result<Option<Match>, Failure> {
    let mut asked_of: Vec<&str> = Vec::new();
    for one in matches {
        // profiles that read the same cannot be told apart by a display: the first, a taught one before a shipped one, is taken
        if asked_of.contains(&one.shows.as_str()) {
            continue;
        }
        asked_of.push(&one.shows);
        loop {
            let by = &profiles[one.profile].name;
            say!(
                "{} shows {} (read by `{by}`): is that what your meter shows, or did a moment ago? `yes` or `no`",
                clean(&place.path),
                clean(&one.shows)
            );
            match asked::line(lines).await.as_deref().map(str::to_lowercase).as_deref() {
                None => return Err(left()),
                Some("yes") => return Ok(Some(one.clone())),
                Some("no") => break,
                Some(other) => say!("`{}` is neither.", clean(other)),
            }
        }
    }
    Ok(None)
}

fn left() -> Failure {
    Failure {
        exit: INTERRUPTED,
        ..Failure::refused("nothing was kept")
    }
}

/// A meter that was found.
struct Found<'a> {
    place: &'a Place,
    profile: &'a Profile,
    /// The speed at which it was heard, in bits a second.
    baud: u32,
}

impl Found<'_> {
    /// Keeps it with its instrument.
    async fn keep(
        &self,
        home: &Home,
        told: Option<&Told>,
        (readers, asked): (&[&Instrument], &FindMeter),
        lines: &mut UnboundedReceiver<Said>,
    ) -> Result<u8, Failure> {
        let profile = match self.baud == self.profile.line.baud {
            true => self.profile.clone(),
            false => {
                let other = profiles::at_speed(self.profile, self.baud)?;
                profiles::keep(home, &other)?;
                say!(
                    "The meter is set to {} baud and not to {}: kept as the profile `{}`.",
                    self.baud,
                    self.profile.line.baud,
                    other.name
                );
                other
            }
        };
        let instrument = match (&asked.instrument, told) {
            (_, None) => None,
            (Some(name), _) => chosen(name, readers).ok(),
            (None, Some(_)) => which(readers, lines).await?,
        };
        let (Some(instrument), Some(told)) = (instrument, told) else {
            say!("Kept with no instrument. Tell yours by `coreproof instruments add`, or name it each time:");
            say!(
                "next: coreproof run SEQUENCE --job JOB --meter {},{}",
                clean(&self.place.path),
                profile.name
            );
            return Ok(PASSED);
        };
        instruments::talks(home, told, &instrument.name, &profile.name)?;
        let on = On::of(&self.place.path, self.place.usb.as_ref());
        let words = on.words();
        cables::keep(
            home,
            Cable {
                serial: instrument.serial.clone(),
                profile: profile.name.clone(),
                on,
            },
        )?;
        say!(
            "Kept: `{}` (serial {}) is read by `{}` on {}. `coreproof run` needs no `--meter` for it.",
            clean(&instrument.name),
            clean(&instrument.serial),
            profile.name,
            clean(&words)
        );
        Ok(PASSED)
    }
}

/// Which instrument it is; none where the person says so.
async fn which<'i>(
    readers: &[&'i Instrument],
    lines: &mut UnboundedReceiver<Said>,
) -> Result<Option<&'i Instrument>, Failure> {
    loop {
        say!(
            "Which instrument is it? {}, or `none`",
            clean(&listed(readers, |there| format!("`{}`", there.name)))
        );
        match asked::line(lines).await.as_deref() {
            None => return Err(left()),
            Some(none) if none.eq_ignore_ascii_case("none") => return Ok(None),
            Some(name) => match chosen(name, readers) {
                Ok(instrument) => return Ok(Some(instrument)),
                Err(what) => say!("{}.", clean(&what)),
            },
        }
    }
}

fn not_found(heard: &[Heard], seconds: u64) -> Failure {
    let failure = Failure::equipment("no meter was found");
    let sends = heard.iter().any(|heard| matches!(heard, Heard::NotUnderstood { .. }));
    let half = heard
        .iter()
        .any(|heard| matches!(heard, Heard::NotUnderstood { tried, of } if tried < of));
    failure.hint(match (sends, half) {
        (_, true) => format!("listen longer, `--for {}`; a meter that no profile reads is learnt by `coreproof meter teach PORT`", seconds * 4),
        (true, false) => "a meter that no profile reads is learnt by `coreproof meter teach PORT --out FILE`".into(),
        (false, _) => "switch the meter on and its sending, often a key that is held while switching on, and check the cable; one that \
                       answers only when it is asked is found by `--ask PORT`"
            .into(),
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn only_a_clear_answer_opens_ports() {
        for (line, expected) in [
            ("yes", Some(vec![0, 1, 2])),
            ("NO", Some(vec![])),
            ("3 1", Some(vec![0, 2])),
            ("1,1", Some(vec![0])),
            ("4", None),
            ("0", None),
            ("", None),
            ("y", None),
            ("1 all", None),
            ("99999999999999999999999", None),
        ] {
            assert_eq!(picked(line, 3), expected, "{line}");
        }
    }
}
