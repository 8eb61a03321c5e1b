//! What a job has more of than its base, or less: supplies, terminals, cores, equipment, zones.
//!
//! The rule inside: an entry is typed in a line of plain words, and one of equipment is said to be like one that the base has, so that its
//! figures come from somewhere and stand on the page that is accepted.

use std::collections::BTreeSet;
use std::ops::Range;

use super::piece::{Unfit, behind_comma, core, literal, plain, unfit};
use crate::job::{At, End, Is, Job, MovedBy, Purpose};
use crate::located::{end_of_list, entries, listed, nearest, top_field, value_at};

/// Of what there may be more or less.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Of {
    /// Further supplies.
    Supplies,
    /// Terminals of an end.
    Terminals(End),
    /// Cores of the cable.
    Cores,
    /// Equipment like that of these names.
    Equipment(Vec<String>),
    /// Zones.
    Zones,
    /// Equipment of these names that is not there.
    NotThere(Vec<String>),
}

/// One entry, as it was typed.
#[derive(Debug, Clone, PartialEq, Eq)]
pub(super) enum Entry {
    Supply {
        name: String,
        from: String,
    },
    Terminal {
        name: String,
        takes: Purpose,
    },
    Core {
        colour: String,
        sleeve: Option<String>,
        carries: Purpose,
        near: String,
        far: String,
    },
    Equipment {
        name: String,
        like: String,
        between: (At, At),
        moved_by: Option<String>,
    },
    Zone {
        name: String,
        control: String,
        actuators: Vec<String>,
    },
    NotThere(String),
}

impl Of {
    /// How one entry is typed.
    pub fn form(&self) -> &'static str {
        match self {
            Of::Supplies => "name = where it is switched off",
            Of::Terminals(_) => "marking = what it is for",
            Of::Cores => "colour = spare` or `colour = what it carries, near terminal, far terminal",
            Of::Equipment(_) => "name like name: near 4, far N",
            Of::Zones => "name = thermostat: actuator, actuator",
            Of::NotThere(_) => "name",
        }
    }

    /// The entries of a line; `none` is no entry.
    ///
    /// # Errors
    /// Which entry is wrong, and how one is typed.
    pub(super) fn read(&self, line: &str) -> Result<Vec<Entry>, String> {
        if line.trim().eq_ignore_ascii_case("none") {
            return Ok(Vec::new());
        }
        line.split(';').map(|entry| self.entry(entry.trim())).collect()
    }

    fn entry(&self, entry: &str) -> Result<Entry, String> {
        let form = || format!("`{entry}`: write each as `{}`, or `none`", self.form());
        let halves = |by: &str| entry.split_once(by).ok_or_else(form);
        let name = |text: &str| plain(text.trim());
        match self {
            Of::Supplies => {
                let (supply, from) = halves("=")?;
                Ok(Entry::Supply {
                    name: name(supply)?,
                    from: name(from)?,
                })
            }
            Of::Terminals(_) => {
                let (marking, takes) = halves("=")?;
                Ok(Entry::Terminal {
                    name: name(marking)?,
                    takes: purpose(takes)?,
                })
            }
            Of::Cores => {
                let (colours, rest) = halves("=")?;
                core_entry(colours.trim(), rest).ok_or_else(form)?
            }
            Of::Equipment(known) => {
                let (new, rest) = halves(" like ")?;
                let (like, rest) = rest.split_once(':').ok_or_else(form)?;
                let parts: Vec<&str> = rest.split(',').map(str::trim).collect();
                let (one, other, moved_by) = match parts.as_slice() {
                    [one, other] => (one, other, None),
                    [one, other, moved] => {
                        let by = moved.strip_prefix("moved by ").ok_or_else(form)?;
                        (one, other, Some(name(by)?))
                    }
                    _ => return Err(form()),
                };
                Ok(Entry::Equipment {
                    name: name(new)?,
                    like: known_as(like, known)?,
                    between: (at(one)?, at(other)?),
                    moved_by,
                })
            }
            Of::Zones => {
                let (zone, rest) = halves("=")?;
                let (control, actuators) = rest.split_once(':').ok_or_else(form)?;
                Ok(Entry::Zone {
                    name: name(zone)?,
                    control: name(control)?,
                    actuators: actuators.split(',').map(name).collect::<Result<_, _>>()?,
                })
            }
            Of::NotThere(known) => known_as(entry, known).map(Entry::NotThere),
        }
    }
}

fn known_as(name: &str, known: &[String]) -> Result<String, String> {
    let name = name.trim();
    let found = known.iter().find(|there| there.eq_ignore_ascii_case(name));
    found
        .cloned()
        .ok_or_else(|| match nearest(name, known.iter().map(String::as_str)) {
            Some(near) => format!("type `{near}`, if that is meant"),
            None => format!(
                "there is no `{name}`; there are {}",
                listed(known, |one| format!("`{one}`"))
            ),
        })
}

/// A core with what it carries and its two terminals; a spare one has its cap alone. `None` where it is written otherwise.
fn core_entry(colours: &str, rest: &str) -> Option<Result<Entry, String>> {
    let (colour, sleeve) = core(colours);
    let parts: Vec<&str> = rest.split(',').map(str::trim).collect();
    let (carries, near, far) = match parts.as_slice() {
        [carries, near, far] => (purpose(carries), plain(near), plain(far)),
        [carries] if purpose(carries) == Ok(Purpose::Spare) => {
            let cap = plain(&format!("cap of {colour}"));
            (Ok(Purpose::Spare), cap.clone(), cap)
        }
        _ => return None,
    };
    let entry = || {
        Ok(Entry::Core {
            colour: plain(colour)?,
            sleeve: sleeve.map(plain).transpose()?,
            carries: carries?,
            near: near?,
            far: far?,
        })
    };
    Some(entry())
}

fn purpose(words: &str) -> Result<Purpose, String> {
    Purpose::typed(words).ok_or_else(|| {
        let all = listed(&Purpose::ALL, |purpose| format!("`{}`", purpose.words()));
        format!("`{}` is none of {all}", words.trim())
    })
}

/// Where something is wired to, as it is typed: `near 4`, `far N`, `inside board +`, `line`.
fn at(text: &str) -> Result<At, String> {
    let (end, name) = text.split_once(' ').unwrap_or((text, ""));
    let name = || plain(name.trim());
    Ok(match end.to_lowercase().as_str() {
        "near" => At::Near(name()?),
        "far" => At::Far(name()?),
        "inside" => At::Inside(name()?),
        "line" => At::Line,
        "neutral" => At::Neutral,
        "earth" => At::Earth,
        _ => return Err(format!("`{text}`: write `near`, `far` or `inside` and the name there")),
    })
}

fn ron_at(at: &At) -> String {
    match at {
        At::Near(name) => format!("Near({})", literal(name)),
        At::Far(name) => format!("Far({})", literal(name)),
        At::Inside(name) => format!("Inside({})", literal(name)),
        At::Line => "Line".into(),
        At::Neutral => "Neutral".into(),
        At::Earth => "Earth".into(),
    }
}

/// The job with these entries of one list behind its own.
pub(super) fn with_more(mut text: String, of: &Of, more: &[Entry]) -> Result<String, Unfit> {
    let path: &[&'static str] = match of {
        Of::Supplies | Of::NotThere(_) => return Ok(text),
        Of::Terminals(End::Near) => &["near", "terminals"],
        Of::Terminals(End::Far) => &["far", "terminals"],
        Of::Cores => &["cable", "cores"],
        Of::Equipment(_) => &["equipment"],
        Of::Zones => &["zones"],
    };
    for entry in more {
        if let Entry::Core {
            carries: Purpose::Spare,
            near,
            far,
            ..
        } = entry
        {
            // what caps it hangs on nothing and has no marking: it need not be told as a terminal
            for (end, cap) in [("near", near), ("far", far)] {
                let there = value_at(&text, &[end, "terminals"]).ok_or_else(|| unfit("terminals"))?;
                let cap = literal(cap);
                if !text[there].contains(&format!("name: {cap},")) {
                    text = behind_the_last(text, &[end, "terminals"], &format!("(name: {cap}, takes: Spare)"))?;
                }
            }
        }
        let written = entry.written(&text)?;
        text = behind_the_last(text, path, &written)?;
    }
    Ok(text)
}

/// A text with an entry behind those of a list.
fn behind_the_last(mut text: String, path: &[&'static str], entry: &str) -> Result<String, Unfit> {
    let name = || unfit(path[path.len() - 1]);
    let list = value_at(&text, path).ok_or_else(name)?;
    let (at, comma) = end_of_list(&text, list.start).ok_or_else(name)?;
    text.insert_str(at, &format!("{comma}    {entry},\n    "));
    Ok(text)
}

impl Entry {
    pub(super) fn written(&self, text: &str) -> Result<String, Unfit> {
        Ok(match self {
            Entry::Supply { name, from } => format!("(name: {}, from: {})", literal(name), literal(from)),
            Entry::Terminal { name, takes } => format!("(name: {}, takes: {takes:?})", literal(name)),
            Entry::Core {
                colour,
                sleeve,
                carries,
                near,
                far,
            } => {
                let sleeve = sleeve
                    .as_ref()
                    .map_or(String::new(), |sleeve| format!("sleeve: {}, ", literal(sleeve)));
                let size = size(text).ok_or_else(|| unfit("size"))?;
                format!(
                    "(name: {}, {sleeve}size: {size}, carries: {carries:?}, near: {}, far: {})",
                    literal(colour),
                    literal(near),
                    literal(far)
                )
            }
            Entry::Equipment {
                name,
                like,
                between,
                moved_by,
            } => like_another(text, like, name, between, moved_by.as_deref())?,
            Entry::Zone {
                name,
                control,
                actuators,
            } => {
                let actuators: Vec<_> = actuators.iter().map(|name| literal(name)).collect();
                format!(
                    "(name: {}, control: {}, actuators: [{}])",
                    literal(name),
                    literal(control),
                    actuators.join(", ")
                )
            }
            Entry::NotThere(name) => unreachable!("nothing is written of `{name}`, which is not there"),
        })
    }
}

/// The size of the cores that are there; all have the one that was asked for.
fn size(text: &str) -> Option<&str> {
    let list = value_at(text, &["cable", "cores"])?;
    let (all, _) = entries(text, list.start)?;
    let first = &text[all.first()?.clone()];
    value_at(first, &["size"]).map(|at| &first[at])
}

fn like_another(
    text: &str,
    like: &str,
    name: &str,
    between: &(At, At),
    moved_by: Option<&str>,
) -> Result<String, Unfit> {
    let of = value_at(text, &["equipment"])
        .and_then(|list| entries(text, list.start))
        .and_then(|(all, _)| all.into_iter().find(|at| is_named(&text[at.clone()], like)))
        .ok_or_else(|| unfit(like))?;
    let mut whole = text[of].to_owned();
    // from behind, so that the places before stay as they are
    if let Some(at) = value_at(&whole, &["is", "moved_by"]) {
        let (word, was) = whole[at.clone()].split_once('(').ok_or_else(|| unfit("moved_by"))?;
        let by = match (moved_by, word) {
            (Some(by), _) => by,
            // a control is called as its contact is
            (None, "Control") => name,
            (None, _) => {
                let was = was.trim_end_matches(')');
                return Err(Unfit {
                    what: format!(
                        "`{like}` is moved by {was}: say what moves `{name}`, `, moved by NAME` behind the second place"
                    ),
                });
            }
        };
        let by = format!("{word}({})", literal(by));
        whole.replace_range(at, &by);
    } else if moved_by.is_some() {
        return Err(Unfit {
            what: format!("`{like}` is moved by nothing: leave out `moved by` at `{name}`"),
        });
    }
    let at = value_at(&whole, &["is", "between"]).ok_or_else(|| unfit("between"))?;
    whole.replace_range(at, &format!("({}, {})", ron_at(&between.0), ron_at(&between.1)));
    let at = value_at(&whole, &["name"]).ok_or_else(|| unfit("name"))?;
    whole.replace_range(at, &literal(name));
    Ok(whole)
}

fn is_named(entry: &str, name: &str) -> bool {
    value_at(entry, &["name"]).is_some_and(|at| entry[at] == literal(name))
}

/// What is not there: what an answer says, and what hung on that.
#[derive(Debug, Default)]
pub(super) struct Gone {
    /// Terminals, by their names in the base.
    pub(super) terminals: BTreeSet<(End, String)>,
    /// Cores, by their place in the list.
    pub(super) cores: BTreeSet<usize>,
    /// Further supplies of the base.
    pub(super) supplies: BTreeSet<String>,
    /// Equipment.
    pub(super) equipment: BTreeSet<String>,
}

impl Gone {
    /// Takes with it what is wired to a terminal that is gone, fed by a supply that is gone, or moved by a motor that is gone.
    pub(super) fn with_what_hung_on_it(mut self, base: &Job) -> Gone {
        loop {
            let hangs = |is: &Is| {
                let (one, other) = is.between();
                let at_gone = |at: &At| match at {
                    At::Near(name) => self.terminals.contains(&(End::Near, name.clone())),
                    At::Far(name) => self.terminals.contains(&(End::Far, name.clone())),
                    _ => false,
                };
                let by_gone = match is {
                    Is::Contact(contact) => {
                        matches!(&contact.moved_by, MovedBy::Motor(by) if self.equipment.contains(by))
                    }
                    Is::Supply(supply) => supply.of.as_ref().is_some_and(|of| self.supplies.contains(of)),
                    Is::Motor(_) | Is::Load(_) => false,
                };
                at_gone(one) || at_gone(other) || by_gone
            };
            let more: Vec<String> = base
                .equipment
                .iter()
                .filter(|there| !self.equipment.contains(&there.name) && hangs(&there.is))
                .map(|there| there.name.clone())
                .collect();
            if more.is_empty() {
                return self;
            }
            self.equipment.extend(more);
        }
    }

    /// The pieces of the base's text that go with it.
    pub(super) fn pieces(&self, base: &Job) -> Result<Vec<Range<usize>>, Unfit> {
        let text = base.text.text.as_ref();
        let mut out = Vec::new();
        let mut of_list = |path: &[&str], is_gone: &dyn Fn(usize, &str) -> bool| {
            if let Some((all, _)) = value_at(text, path).and_then(|list| entries(text, list.start)) {
                let gone = all.into_iter().enumerate();
                let gone = gone.filter(|(n, at)| is_gone(*n, &text[at.clone()]));
                out.extend(gone.map(|(_, at)| at.start..behind_comma(text, at.end)));
            }
        };
        for end in End::BOTH {
            let path = match end {
                End::Near => ["near", "terminals"],
                End::Far => ["far", "terminals"],
            };
            let names = &base.end(end).terminals;
            of_list(&path, &|n, _| self.terminals.contains(&(end, names[n].name.clone())));
        }
        of_list(&["cable", "cores"], &|n, _| self.cores.contains(&n));
        of_list(&["equipment"], &|n, _| self.equipment.contains(&base.equipment[n].name));
        let is_called = |control: &str| {
            base.equipment.iter().any(|there| {
                let moved =
                    matches!(&there.is, Is::Contact(contact) if contact.moved_by == MovedBy::Control(control.into()));
                moved && !self.equipment.contains(&there.name)
            })
        };
        let is_gone = |name: &str| self.equipment.contains(name);
        let zone_gone = |n: usize| {
            let zone = &base.zones[n];
            !is_called(&zone.control) || zone.actuators.iter().all(|name| is_gone(name))
        };
        of_list(&["zones"], &|n, _| zone_gone(n));
        let zones = value_at(text, &["zones"]).and_then(|list| entries(text, list.start));
        for (n, at) in zones.map(|(all, _)| all).unwrap_or_default().into_iter().enumerate() {
            if zone_gone(n) {
                continue;
            }
            let zone = &base.zones[n];
            let lists: [(&str, Vec<bool>); 2] = [
                ("actuators", zone.actuators.iter().map(|name| is_gone(name)).collect()),
                ("meters", zone.meters.iter().map(|(_, of)| is_gone(of)).collect()),
            ];
            for (field, gone) in lists {
                let whole = &text[at.clone()];
                let Some((_, value)) = top_field(whole, field) else {
                    continue;
                };
                let (all, _) = entries(whole, value).ok_or_else(|| unfit(field))?;
                let gone = all.into_iter().zip(gone).filter(|(_, is_gone)| *is_gone);
                out.extend(gone.map(|(piece, _)| {
                    let behind = behind_comma(whole, piece.end);
                    at.start + piece.start..at.start + behind
                }));
            }
        }
        Ok(out)
    }
}
