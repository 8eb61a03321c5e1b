//! The places of one job where an entry of the fault library can be, and the blanks of an entry filled in at one of them.
//!
//! The rule inside: a place is named by what stands there; one that is there only once needs no name.

use super::entry::{Entry, Only, Over};
use super::fault::{Change, Fault};
use super::wiring;
use crate::job::{At, Contact, Core, End, Job, MovedBy, OwnSupply, Purpose};

/// One place of a job where a fault can be.
#[derive(Debug, Clone, Default)]
pub(super) struct Place {
    a: Option<String>,
    b: Option<String>,
    terminal: Option<String>,
    /// A second terminal of the same end.
    other: Option<String>,
    end: Option<End>,
    /// A piece of equipment, and a second one.
    e: Option<String>,
    f: Option<String>,
    /// It is the only one of its kind in the job.
    lone: bool,
}

impl Place {
    fn core(a: &str) -> Place {
        Place {
            a: Some(a.to_owned()),
            ..Place::default()
        }
    }

    fn equipment(e: &str) -> Place {
        Place {
            e: Some(e.to_owned()),
            ..Place::default()
        }
    }

    fn two(e: &str, f: &str) -> Place {
        Place {
            f: Some(f.to_owned()),
            ..Place::equipment(e)
        }
    }

    fn at_ends(self) -> [Place; 2] {
        End::BOTH.map(|end| Place {
            end: Some(end),
            ..self.clone()
        })
    }
}

/// Every place of the job where an entry can be.
pub(super) fn places(entry: &Entry, job: &Job) -> Vec<Place> {
    let mut found: Vec<Place> = match entry.over {
        Over::Once => vec![Place::default()],
        Over::Core => cores(job),
        Over::LiveCore => {
            let live = job.cores.iter().filter(|core| core.carries != Purpose::Earth);
            live.map(|core| Place::core(&core.name)).collect()
        }
        Over::EarthCore if job.core_for(Purpose::Earth).is_some() => vec![Place::default()],
        Over::EarthCore => Vec::new(),
        Over::CoreBesideMains => beside_mains(job),
        Over::Pair => pairs(job),
        Over::CoreAtEnd => cores(job).into_iter().flat_map(Place::at_ends).collect(),
        Over::PairAtEnd => pairs(job).into_iter().flat_map(Place::at_ends).collect(),
        Over::PlateAtEnd if job.control_pair.is_some() => Place::default().at_ends().into(),
        Over::PlateAtEnd => Vec::new(),
        Over::LiveTerminal => terminals(job, |takes| {
            !matches!(takes, Purpose::Neutral | Purpose::Earth | Purpose::Spare)
        }),
        Over::NeutralTerminal => terminals(job, |takes| takes == Purpose::Neutral),
        Over::PairOfTerminals => terminal_pairs(job),
        Over::EachEnd => Place::default().at_ends().into(),
        _ => equipment(entry, job),
    };
    if let [lone] = found.as_mut_slice() {
        lone.lone = lone.e.is_some();
    }
    found
}

fn cores(job: &Job) -> Vec<Place> {
    job.cores.iter().map(|core| Place::core(&core.name)).collect()
}

fn pairs(job: &Job) -> Vec<Place> {
    let pairs = job.cores.iter().enumerate().flat_map(|(at, a)| {
        let later = job.cores[at + 1..].iter();
        later.map(move |b| Place {
            b: Some(b.name.clone()),
            ..Place::core(&a.name)
        })
    });
    pairs.collect()
}

fn beside_mains(job: &Job) -> Vec<Place> {
    let at_end = |end| {
        let mains = move |core: &Core| {
            let a = core.name.clone();
            job.mains_at(end).map(move |terminal| Place {
                terminal: Some(terminal.name.clone()),
                end: Some(end),
                ..Place::core(&a)
            })
        };
        job.beside_mains(end).flat_map(mains)
    };
    End::BOTH.into_iter().flat_map(at_end).collect()
}

fn terminals(job: &Job, wanted: impl Fn(Purpose) -> bool) -> Vec<Place> {
    let mut found = Vec::new();
    for end in End::BOTH {
        let there = job.end(end).terminals.iter();
        let there = there.filter(|terminal| wanted(terminal.takes));
        found.extend(there.map(|terminal| Place {
            terminal: Some(terminal.name.clone()),
            end: Some(end),
            ..Place::default()
        }));
    }
    found
}

fn terminal_pairs(job: &Job) -> Vec<Place> {
    let supply = |takes| matches!(takes, Purpose::PermanentLive | Purpose::Neutral | Purpose::Earth);
    let mut found = Vec::new();
    for end in End::BOTH {
        // nothing reaches into the connector of a spare core
        let there: Vec<_> = job
            .end(end)
            .terminals
            .iter()
            .filter(|one| one.takes != Purpose::Spare)
            .collect();
        for (at, one) in there.iter().enumerate() {
            let others = there[at + 1..].iter();
            // two volt-free ones are the two sides of a contact
            let others = others.filter(|other| other.takes != one.takes || one.takes == Purpose::VoltFree);
            let others = others.filter(|other| !(supply(one.takes) && supply(other.takes)));
            found.extend(others.map(|other| Place {
                terminal: Some(one.name.clone()),
                other: Some(other.name.clone()),
                end: Some(end),
                ..Place::default()
            }));
        }
    }
    found
}

fn equipment(entry: &Entry, job: &Job) -> Vec<Place> {
    let contacts = |wanted: &dyn Fn(&Contact) -> bool| -> Vec<Place> {
        let found = job.contacts().filter(|(_, contact)| wanted(contact));
        found.map(|(name, _)| Place::equipment(name)).collect()
    };
    let of_control = |contact: &Contact| matches!(contact.moved_by, MovedBy::Control(_));
    let feeds = |contact: &Contact| of_control(contact) && feeds(job, contact);
    let motors = || job.motors().map(|(name, _)| Place::equipment(name)).collect();
    match entry.over {
        Over::Feeder => match contacts(&feeds) {
            none if none.is_empty() && job.near.terminal_for(Purpose::PermanentLive).is_some() => {
                vec![Place::default()]
            }
            found => found,
        },
        Over::ControlContact => contacts(&|contact| of_control(contact) && !feeds(contact)),
        Over::EveryControlContact => contacts(&of_control),
        Over::Contact => contacts(&|_| true),
        Over::EndSwitch => contacts(&|contact| !of_control(contact)),
        Over::Motor => motors(),
        Over::LoneMotor if job.zones.len() < 2 => motors(),
        Over::MotorsOfZones => of_two_zones(job, |zone| {
            job.zones[zone].actuators.iter().map(String::as_str).collect()
        }),
        Over::ContactsOfZones => of_two_zones(job, |zone| {
            let control = &job.zones[zone].control;
            let moved = |contact: &Contact| matches!(&contact.moved_by, MovedBy::Control(by) if by == control);
            let first = job.contacts().find(|(_, contact)| moved(contact));
            first.map(|(name, _)| name).into_iter().collect()
        }),
        Over::OwnSupply => {
            let supplies = job
                .own_supplies()
                // what another circuit delivers is no fault of this one
                .filter(|(_, supply)| supply.of.is_none() && of_voltage(entry.only, job, supply));
            supplies.map(|(name, _)| Place::equipment(name)).collect()
        }
        _ => Vec::new(),
    }
}

/// Whether a contact feeds what is behind a terminal for a programmed live.
fn feeds(job: &Job, contact: &Contact) -> bool {
    [&contact.between.0, &contact.between.1].iter().any(|at| {
        let At::Near(name) = at else { return false };
        let mut terminals = job.near.terminals.iter();
        terminals.any(|there| there.name == *name && there.takes == Purpose::ProgrammedLive)
    })
}

fn of_voltage(only: Only, job: &Job, supply: &OwnSupply) -> bool {
    let extra_low = supply.volts.value() <= job.extra_low_upper().value();
    match only {
        Only::OwnMains => !extra_low,
        Only::OwnExtraLow => extra_low,
        Only::Any | Only::Mains | Only::EarthedMains | Only::ExtraLow => true,
    }
}

/// Two pieces of equipment, one of one zone and one of another.
fn of_two_zones<'a>(job: &'a Job, of: impl Fn(usize) -> Vec<&'a str>) -> Vec<Place> {
    let mut found = Vec::new();
    for one in 0..job.zones.len() {
        for other in one + 1..job.zones.len() {
            for e in of(one) {
                found.extend(of(other).into_iter().filter(|f| *f != e).map(|f| Place::two(e, f)));
            }
        }
    }
    found
}

impl Place {
    /// What stands behind the colon; two may be named in either order. The first is the one that is written.
    pub(super) fn names(&self) -> Vec<String> {
        let at = self.end.map_or(String::new(), |end| format!("@{}", word(end)));
        let one = |name: &str| format!("{name}{at}");
        let two = |one: &str, other: &str| vec![format!("{one}/{other}{at}"), format!("{other}/{one}{at}")];
        match (&self.a, &self.b, &self.terminal, &self.e, &self.f) {
            (Some(a), Some(b), ..) | (Some(a), None, Some(b), ..) => two(a, b),
            (None, _, Some(name), ..) if self.other.is_some() => two(name, self.other.as_deref().unwrap_or_default()),
            (Some(name), None, ..) | (None, _, Some(name), ..) => vec![one(name)],
            (_, _, _, Some(e), Some(f)) => two(e, f),
            (_, _, _, Some(e), None) if self.lone => vec![String::new(), e.clone()],
            (_, _, _, Some(e), None) => vec![e.clone()],
            _ => vec![at.trim_start_matches('@').to_owned()],
        }
    }

    /// The entry at this place; the error says what the job lacks.
    pub(super) fn fault(&self, entry: &Entry, job: &Job) -> Result<Fault, String> {
        let place = &self.names()[0];
        let name = if place.is_empty() {
            entry.name.clone()
        } else {
            format!("{}:{place}", entry.name)
        };
        let fill = |text: &str| filled(text, job, Some(self));
        let does: Result<Vec<Change>, String> = entry.does.iter().map(|change| change.filled(&fill)).collect();
        let said = |text: &str| said(text, job, self);
        Ok(Fault {
            name,
            kind: entry.name.clone(),
            part: said(&entry.part)?,
            weight: f64::from(entry.weight),
            words: said(&entry.words)?,
            look: said(&entry.look)?,
            does: does?,
        })
    }
}

/// `near` or `far`.
pub(super) fn word(end: End) -> &'static str {
    match end {
        End::Near => "near",
        End::Far => "far",
    }
}

/// A text for a person: ends by their names.
fn said(text: &str, job: &Job, place: &Place) -> Result<String, String> {
    let end = place.end.map_or("", |end| job.end(end).name.as_str());
    let text = text
        .replace("{end}", end)
        .replace("{near}", &job.near.name)
        .replace("{far}", &job.far.name);
    filled(&text, job, Some(place))
}

/// A name of the wiring with its blanks filled in. Names of a job hold no braces, so what was filled in stays as it is.
pub(super) fn filled(text: &str, job: &Job, place: Option<&Place>) -> Result<String, String> {
    let mut out = String::new();
    let mut rest = text;
    while let Some((before, from)) = rest.split_once('{') {
        let (blank, after) = from.split_once('}').ok_or("a blank does not end")?;
        out.push_str(before);
        out.push_str(&blank_of(blank, job, place)?);
        rest = after;
    }
    Ok(out + rest)
}

fn blank_of(blank: &str, job: &Job, place: Option<&Place>) -> Result<String, String> {
    let of_place = |part: fn(&Place) -> Option<String>| {
        place
            .and_then(part)
            // the core is filled in where each core is meant
            .map_or_else(|| Ok(format!("{{{blank}}}")), Ok)
    };
    match blank {
        "a" => return of_place(|place| place.a.clone()),
        "b" => return of_place(|place| place.b.clone()),
        "t" => return of_place(|place| place.terminal.clone()),
        "u" => return of_place(|place| place.other.clone()),
        "end" => return of_place(|place| place.end.map(|end| format!("{end:?}"))),
        "e" => return of_place(|place| place.e.clone()),
        "f" => return of_place(|place| place.f.clone()),
        "feeder" | "feeder part" | "feeder name" => {
            let feeder = place.and_then(|place| place.e.as_deref());
            return Ok(match (blank, feeder) {
                ("feeder", Some(name)) => wiring::lead_of(name),
                ("feeder", None) => wiring::LINE_FEED.into(),
                ("feeder part", Some(name)) => format!("contact of {name}"),
                ("feeder part", None) => "line of the supply".into(),
                (_, Some(name)) => name.into(),
                (_, None) => "another controller, a programmer or a second thermostat".into(),
            });
        }
        "from e" => return end_of(job, place.and_then(|place| place.e.as_deref()), false),
        "to e" => return end_of(job, place.and_then(|place| place.e.as_deref()), true),
        "from f" => return end_of(job, place.and_then(|place| place.f.as_deref()), false),
        "to f" => return end_of(job, place.and_then(|place| place.f.as_deref()), true),
        _ => {}
    }
    let (of, purpose) = blank.split_once(' ').ok_or_else(|| format!("`{blank}` is no blank"))?;
    let purpose = Purpose::parse(purpose).ok_or_else(|| format!("`{purpose}` is no purpose"))?;
    let lacks = |what: &str| format!("it has no {what} for {}", purpose.words());
    match of {
        "core" => job
            .core_for(purpose)
            .map(|core| core.name.clone())
            .ok_or_else(|| lacks("core")),
        "terminal" => job
            .near
            .terminal_for(purpose)
            .map(|terminal| terminal.name.clone())
            .ok_or_else(|| lacks("terminal")),
        "end" => {
            let end = place.and_then(|place| place.end).ok_or("no end is meant")?;
            wiring::purpose_point(job, purpose, end)
                .ok_or_else(|| format!("the {} has no terminal for {}", job.end(end).name, purpose.words()))
        }
        "near" => wiring::purpose_point(job, purpose, End::Near).ok_or_else(|| lacks("near terminal")),
        "far" => wiring::purpose_point(job, purpose, End::Far).ok_or_else(|| lacks("far terminal")),
        _ => Err(format!("`{blank}` is no blank")),
    }
}

/// The point at the first or the second end of a piece of equipment.
fn end_of(job: &Job, equipment: Option<&str>, second: bool) -> Result<String, String> {
    let there = equipment.and_then(|name| job.equipment_called(name));
    let (from, to) = there.ok_or("it has no such equipment")?.is.between();
    Ok(wiring::place(if second { to } else { from }))
}
