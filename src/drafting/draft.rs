//! The job that answers make of a base job, as RON.
//!
//! The rule inside: the base's text is kept and only what was asked is exchanged in it, all at once, so that two terminals may change names
//! with each other; and what an answer leaves out goes out of the text.

use std::ops::Range;

use super::lists::{Entry, Gone, Of, with_more};
use super::piece::{Unfit, core, field_in, literal, unfit, value_in};
use super::question::{Answers, Goes, Question, told};
use crate::job::{End, Job, TOLD_FORMAT, read};
use crate::located::{Edited, Problems, Text, entries, top_field, value_at};

/// Answers as far as they are given.
#[derive(Debug, Clone, PartialEq, Eq, serde::Serialize, serde::Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Draft {
    /// The sequence it is for: a file, or one that is shipped.
    pub sequence: String,
    /// The job it began as.
    pub base: String,
    /// The file to be written.
    pub out: String,
    /// Who works and with what is asked as well.
    #[serde(default)]
    pub tells: bool,
    /// The answers, in the order of the questions.
    pub answers: Vec<String>,
    /// What was answered last to each question, for one that is gone back to.
    #[serde(default)]
    pub earlier: Vec<String>,
}

impl Draft {
    /// Keeps the answer to the next question.
    pub fn answer(&mut self, answer: String) {
        let at = self.answers.len();
        match self.earlier.get_mut(at) {
            Some(earlier) => earlier.clone_from(&answer),
            None => self.earlier.push(answer.clone()),
        }
        self.answers.push(answer);
    }

    /// What was answered to the next question before it was gone back to.
    pub fn as_before(&self) -> Option<&str> {
        self.earlier.get(self.answers.len()).map(String::as_str)
    }
}

/// A file name of a cable's name.
pub fn slug(name: &str) -> String {
    let word = |c: char| {
        if c.is_ascii_alphanumeric() {
            c.to_ascii_lowercase()
        } else {
            '-'
        }
    };
    let text: String = name.chars().map(word).collect();
    let words: Vec<_> = text.split('-').filter(|word| !word.is_empty()).collect();
    if words.is_empty() {
        "job".into()
    } else {
        words.join("-")
    }
}

/// The defaults: what is not asked one by one, in words, each from the base job; with `tells` what the instruments can as well.
pub fn page(base: &Job, tells: bool) -> Vec<(String, String)> {
    let mut all = vec![
        ("edition".to_owned(), base.limits.edition.clone()),
        ("kind of cable".to_owned(), base.cable_kind.clone()),
        ("conductors".to_owned(), format!("{:?}", base.conductors).to_lowercase()),
        (
            "temperature while it is tested".to_owned(),
            base.temperature.to_string(),
        ),
        ("frequency".to_owned(), base.supply.frequency.to_string()),
    ];
    all.extend(
        base.parameters
            .iter()
            .map(|(name, amount)| (name.clone(), amount.to_string())),
    );
    let text = base.text.text.as_ref();
    let mut lists = vec!["equipment"];
    lists.extend(tells.then_some("instruments"));
    for list in lists {
        let of = top_field(text, list).and_then(|(_, list)| entries(text, list));
        for entry in of.map(|(all, _)| all).unwrap_or_default() {
            let whole = &text[entry];
            let named = |field| value_at(whole, &[field]).map(|at| &whole[at]);
            let name = named("name").unwrap_or_default().trim_matches('"');
            let figures = figures(named("is").or(named("can")).unwrap_or_default());
            if figures.contains(|c: char| c.is_ascii_digit()) {
                all.push((name.to_owned(), figures));
            }
        }
    }
    all
}

/// What a text says of a thing's figures, in words: without where it is wired to, quotes and brackets.
fn figures(text: &str) -> String {
    let mut text = text.to_owned();
    for field in ["between", "moved_by"] {
        if let Some(out) = field_in(&text, &(0..text.len()), field) {
            text.replace_range(out, "");
        }
    }
    let plain = text
        .replace("accuracy: (percent: \"", "\u{b1}")
        .replace("\", digits: ", " % + ");
    let plain: String = plain
        .chars()
        .map(|c| if "()[]\"".contains(c) { ' ' } else { c })
        .collect();
    let words: Vec<_> = plain.split_whitespace().collect();
    words.join(" ").replace(" ,", ",").trim_matches([',', ' ']).to_owned()
}

/// What answers made of a base job so far.
///
/// # Errors
/// What is wrong with it, and where an answer does not fit the base.
pub fn so_far(base: &Job, questions: &[Question], answers: &[String]) -> Result<Job, String> {
    // names that are still to be asked are in nobody's way
    let unasked = |(n, question): (usize, &Question)| match question.goes {
        Goes::Core(_) | Goes::Terminal(..) => Some((question.clone(), format!("not asked yet {n}"))),
        Goes::Field(["no_earth"]) => Some((question.clone(), "not asked yet".to_owned())),
        _ => None,
    };
    let asked = questions.iter().cloned().zip(answers.iter().cloned());
    let rest = questions.iter().enumerate().skip(answers.len()).filter_map(unasked);
    let all: Vec<_> = asked.chain(rest).collect();
    let text = written(base, &all, None).map_err(|unfit| unfit.to_string())?;
    read(&Text::new("job", text)).map_err(|problems| first(&problems))
}

fn first(problems: &Problems) -> String {
    let first = problems.iter().next();
    first.map_or_else(String::new, |problem| match &problem.hint {
        Some(hint) => format!("{}: {hint}", problem.what),
        None => problem.what.clone(),
    })
}

/// What was told once, as its file holds it: the engineer, and the base's instruments with the numbers and days of one's own.
///
/// # Errors
/// A base that is laid out otherwise than jobs are.
pub fn told_once(base: &Job, answered: &[(Question, String)]) -> Result<String, Unfit> {
    let text = base.text.text.as_ref();
    let list = value_at(text, &["instruments"]).ok_or_else(|| unfit("instruments"))?;
    let (all, _) = entries(text, list.start).ok_or_else(|| unfit("instruments"))?;
    let (mut engineer, mut instruments) = (String::new(), Vec::new());
    for (question, answer) in answered {
        match question.goes {
            Goes::Engineer => {
                let fields = ["engineer", "position", "firm"].iter();
                let words = super::question::engineer(answer).map_err(|what| Unfit { what })?;
                let lines = fields
                    .zip(words)
                    .map(|(field, word)| format!("    {field}: {},\n", literal(&word)));
                engineer = lines.collect();
            }
            Goes::Instrument(n) => {
                let mut whole = text[all[n].clone()].to_owned();
                let (serial, calibrated, due) = told(answer).map_err(|what| Unfit { what })?;
                for (field, by) in [
                    ("serial", serial),
                    ("calibrated", calibrated.to_string()),
                    ("due", due.to_string()),
                ] {
                    let at = value_at(&whole, &[field]).ok_or_else(|| unfit(field))?;
                    whole.replace_range(at, &literal(&by));
                }
                // which bytes it sends is of somebody else's meter
                if let Some(out) = field_in(&whole, &(0..whole.len()), "profile") {
                    whole.replace_range(out, "");
                }
                instruments.push(format!("        {whole},\n"));
            }
            _ => {}
        }
    }
    Ok(format!(
        "// Who works, and with what. Jobs name the instruments, and records carry them whole.\n(\n    format: \"{TOLD_FORMAT}\",\n\
         {engineer}    instruments: [\n{}    ],\n)\n",
        instruments.concat()
    ))
}

/// What is not there by these answers.
fn gone(base: &Job, answered: &[(Question, String)], lists: &[(&Of, Vec<Entry>)]) -> Gone {
    let mut gone = Gone::default();
    for (question, _) in answered.iter().filter(|(_, answer)| answer == "none") {
        match &question.goes {
            Goes::Terminal(end, name) => drop(gone.terminals.insert((*end, name.clone()))),
            Goes::Core(n) => drop(gone.cores.insert(*n)),
            _ => {}
        }
    }
    for (of, list) in lists {
        match of {
            Of::NotThere(_) => gone.equipment.extend(list.iter().filter_map(|entry| match entry {
                Entry::NotThere(name) => Some(name.clone()),
                _ => None,
            })),
            Of::Supplies => {
                let is_there = |name: &str| {
                    list.iter()
                        .any(|entry| matches!(entry, Entry::Supply { name: there, .. } if there == name))
                };
                let names = base.supply.further.iter().map(|there| there.name.clone());
                gone.supplies.extend(names.filter(|name| !is_there(name)));
            }
            _ => {}
        }
    }
    gone.with_what_hung_on_it(base)
}

/// The job's text.
///
/// # Errors
/// An answer that does not fit the base, or a base that is laid out otherwise than jobs are.
pub fn written(base: &Job, answered: &[(Question, String)], instruments: Option<&[String]>) -> Result<String, Unfit> {
    let lists: Vec<(&Of, Vec<Entry>)> = answered
        .iter()
        .filter_map(|(question, answer)| match &question.answers {
            Answers::Several(of) => Some(of.read(answer).map(|list| (of, list)).map_err(|what| Unfit { what })),
            _ => None,
        })
        .collect::<Result<_, _>>()?;
    let gone = gone(base, answered, &lists);
    let text = exchanged(base, answered, (&gone, &lists), instruments)?;
    lists
        .iter()
        .try_fold(text, |text, (of, more)| with_more(text, of, more))
}

/// The base with each answer in the place of what was there, and without what is gone.
fn exchanged(
    base: &Job,
    answered: &[(Question, String)],
    (gone, lists): (&Gone, &[(&Of, Vec<Entry>)]),
    instruments: Option<&[String]>,
) -> Result<String, Unfit> {
    let text = base.text.text.as_ref();
    let mut changes: Vec<(Range<usize>, String)> = Vec::new();
    changes.extend(gone.pieces(base)?.into_iter().map(|at| (at, String::new())));
    for (of, list) in lists {
        if let Of::Supplies = of {
            changes.push(further(text, list)?);
        }
    }
    for (question, answer) in answered {
        match &question.goes {
            Goes::Field(path) => changes.extend(field(text, path, answer)?),
            Goes::Breaks => changes.push(breaks(text, answer)?),
            Goes::Sizes => {
                for at in cores(text)? {
                    let size = value_in(text, &at, "size").ok_or_else(|| unfit("size"))?;
                    changes.push((size, literal(answer)));
                }
            }
            Goes::Core(_) | Goes::Terminal(..) if answer == "none" => {}
            Goes::Core(n) => changes.extend(core_change(text, *n, answer)?),
            Goes::Terminal(end, was) => changes.extend(renamed(text, *end, was, answer)?),
            Goes::Confirms(_) | Goes::List | Goes::Engineer | Goes::Instrument(_) => {}
        }
    }
    changes.extend(of_the_engineer(text, instruments)?);
    changes.sort_by_key(|(at, _)| (at.start, at.end));
    changes.dedup();
    // what goes out whole is not changed inside
    let whole: Vec<Range<usize>> = changes.iter().map(|(at, _)| at.clone()).collect();
    let holds = |one: &Range<usize>, at: &Range<usize>| one != at && one.start <= at.start && at.end <= one.end;
    changes.retain(|(at, _)| at.is_empty() || !whole.iter().any(|one| holds(one, at)));
    let mut edited = Edited::new(text);
    // from behind, so that the places before stay as they are
    for (at, by) in changes.into_iter().rev() {
        edited.exchange(at, &by);
    }
    Ok(without_head_comment(&edited.text))
}

/// What is of the base's engineer and that circuit alone.
fn of_the_engineer(text: &str, instruments: Option<&[String]>) -> Result<Vec<(Range<usize>, String)>, Unfit> {
    let (mut changes, whole) = (Vec::new(), 0..text.len());
    if let Some(names) = instruments {
        let names: Vec<_> = names.iter().map(|name| literal(name)).collect();
        let at = value_at(text, &["instruments"]).ok_or_else(|| unfit("instruments"))?;
        changes.push((at, format!("[{}]", names.join(", "))));
        changes.extend(field_in(text, &whole, "engineer").map(|out| (out, String::new())));
    }
    // reference, firm and next test are of that circuit and that engineer
    changes.extend(field_in(text, &whole, "document").map(|out| (out, String::new())));
    Ok(changes)
}

fn field(text: &str, path: &[&str], answer: &str) -> Result<Option<(Range<usize>, String)>, Unfit> {
    let last = path.last().copied().unwrap_or_default();
    if answer == "none" {
        // a part of a whole that is left out takes the whole with it
        let path = if path.contains(&"upstream") {
            &path[..path.len() - 1]
        } else {
            path
        };
        let inside = value_at(text, &path[..path.len() - 1]).ok_or_else(|| unfit(last))?;
        let name = path.last().copied().unwrap_or_default();
        return Ok(field_in(text, &inside, name).map(|out| (out, String::new())));
    }
    match value_at(text, path) {
        Some(at) => Ok(Some((at, literal(answer)))),
        // one that the base leaves out, of the job itself or of a part of it
        None if path.len() == 1 => {
            let (before, _) = top_field(text, "cable").ok_or_else(|| unfit("cable"))?;
            Ok(Some((before..before, format!("{last}: {},\n    ", literal(answer)))))
        }
        None => {
            let inside = value_at(text, &path[..path.len() - 1]).ok_or_else(|| unfit(last))?;
            let begins = inside.start + 1;
            Ok(Some((begins..begins, format!("{last}: {}, ", literal(answer)))))
        }
    }
}

fn breaks(text: &str, answer: &str) -> Result<(Range<usize>, String), Unfit> {
    let word = if answer == "line" { "Line" } else { "LineAndNeutral" };
    if let Some(at) = value_at(text, &["supply", "breaks"]) {
        return Ok((at, word.to_owned()));
    }
    let supply = value_at(text, &["supply"]).ok_or_else(|| unfit("supply"))?;
    let begins = supply.start + 1;
    Ok((begins..begins, format!("\n        breaks: {word},")))
}

fn further(text: &str, supplies: &[Entry]) -> Result<(Range<usize>, String), Unfit> {
    let all = supplies
        .iter()
        .map(|entry| entry.written(text))
        .collect::<Result<Vec<_>, _>>()?;
    let list = format!("[{}]", all.join(", "));
    if let Some(at) = value_at(text, &["supply", "further"]) {
        return Ok((at, list));
    }
    let supply = value_at(text, &["supply"]).ok_or_else(|| unfit("supply"))?;
    let begins = supply.start + 1;
    let by = if all.is_empty() {
        String::new()
    } else {
        format!("\n        further: {list},")
    };
    Ok((begins..begins, by))
}

fn cores(text: &str) -> Result<Vec<Range<usize>>, Unfit> {
    let list = value_at(text, &["cable", "cores"]).ok_or_else(|| unfit("cores"))?;
    entries(text, list.start)
        .map(|(all, _)| all)
        .ok_or_else(|| unfit("cores"))
}

fn core_change(text: &str, n: usize, answer: &str) -> Result<Vec<(Range<usize>, String)>, Unfit> {
    let at = cores(text)?.get(n).cloned().ok_or_else(|| unfit("cores"))?;
    let name = value_in(text, &at, "name").ok_or_else(|| unfit("name"))?;
    let (colour, sleeve) = core(answer);
    let mut by = literal(colour);
    if let Some(sleeve) = sleeve {
        by.push_str(&format!(", sleeve: {}", literal(sleeve)));
    }
    let was = field_in(text, &at, "sleeve").map(|out| (out, String::new()));
    Ok([(name, by)].into_iter().chain(was).collect())
}

/// A terminal under its new name wherever the job speaks of it: in its end, at the cores, and in `Near("…")` or `Far("…")`.
fn renamed(text: &str, end: End, was: &str, name: &str) -> Result<Vec<(Range<usize>, String)>, Unfit> {
    let (field, word) = match end {
        End::Near => ("near", "Near"),
        End::Far => ("far", "Far"),
    };
    let mut changes = Vec::new();
    let was = literal(was);
    let mut at_field = |at: &Range<usize>, field: &str| {
        let place = value_in(text, at, field).filter(|place| text[place.clone()] == was);
        changes.extend(place.map(|place| (place, literal(name))));
    };
    let list = value_at(text, &[field, "terminals"]).ok_or_else(|| unfit("terminals"))?;
    let (terminals, _) = entries(text, list.start).ok_or_else(|| unfit("terminals"))?;
    terminals.iter().for_each(|at| at_field(at, "name"));
    cores(text)?.iter().for_each(|at| at_field(at, field));
    let spoken = format!("{word}({was})");
    let inside = word.len() + 1;
    changes.extend(
        text.match_indices(&spoken)
            .map(|(at, _)| (at + inside..at + inside + was.len(), literal(name))),
    );
    Ok(changes)
}

/// What a shipped job says of itself is not so of a new one.
fn without_head_comment(text: &str) -> String {
    let mut rest = text;
    while rest.starts_with("//") {
        rest = rest.split_once('\n').map_or("", |(_, rest)| rest);
    }
    rest.to_owned()
}

#[cfg(test)]
mod tests {
    use super::super::questions;
    use super::*;
    use crate::job::{Is, MovedBy};
    use crate::located::Text;
    use crate::sequence::shipped;

    /// An answer that differs from what the base has, wherever one may.
    fn other(base: &Job, question: &Question, n: usize) -> String {
        match (&question.goes, &question.answers) {
            (Goes::Confirms(word), _) => word.clone(),
            (Goes::Field(path), _) if path.contains(&"protection") && path.contains(&"device") => "BS 1362".into(),
            (Goes::Field(path), _) if path.contains(&"protection") => "3 A".into(),
            (Goes::Sizes, _) => "1.5 sqmm".into(),
            (Goes::Core(n), _) => format!("number {n} sleeved white"),
            (Goes::Terminal(..), _) => format!("T{n}"),
            (_, Answers::Amount { or_none: true, .. }) => "none".into(),
            (Goes::Field(path), Answers::Amount { .. }) if path.contains(&"nominal") => "230 V".into(),
            (_, Answers::Several(Of::Supplies)) if !base.supply.further.is_empty() => {
                let all = base
                    .supply
                    .further
                    .iter()
                    .map(|there| format!("{} = switch {n}", there.name));
                all.collect::<Vec<_>>().join(";")
            }
            (_, Answers::Several(_)) => "none".into(),
            (_, Answers::OneOf(words)) => words[0].clone(),
            (_, Answers::Name | Answers::NameOrNone) => format!("place {n}"),
            (_, answers) => panic!("{answers:?}"),
        }
    }

    #[test]
    fn every_shipped_job_becomes_another_place_that_is_read_again() {
        for there in shipped::SEQUENCES {
            let text = shipped::job(there.job).unwrap();
            let base = read(&text).unwrap();
            let questions = questions(&base, false, false, &[]);
            let answered: Vec<_> = questions
                .into_iter()
                .enumerate()
                .map(|(n, question)| {
                    let answer = question.taken(&other(&base, &question, n)).unwrap();
                    (question, answer)
                })
                .collect();
            let text = written(&base, &answered, None).unwrap();
            let job = read(&Text::new("new.ron", text.as_str()))
                .unwrap_or_else(|problems| panic!("{}: {:?}\n{text}", there.job, problems.iter().collect::<Vec<_>>()));
            assert_eq!(job.place.name, "place 0");
            assert_eq!(job.length, None);
            assert!(
                job.cores.iter().all(|core| core.sleeve.as_deref() == Some("white")),
                "{text}"
            );
            assert!(
                job.near.terminals.iter().all(|terminal| terminal.name.starts_with('T')),
                "{text}"
            );
            assert_eq!(job.equipment.len(), base.equipment.len());
        }
    }

    #[test]
    fn two_terminals_may_change_names_with_each_other() {
        let base = read(&shipped::job("saltmarsh").unwrap()).unwrap();
        let swapped: Vec<_> = questions(&base, false, false, &[])
            .into_iter()
            .filter_map(|question| match &question.goes {
                Goes::Terminal(End::Near, was) if was == "1" => Some((question, "3".to_owned())),
                Goes::Terminal(End::Near, was) if was == "3" => Some((question, "1".to_owned())),
                _ => None,
            })
            .collect();
        let job = read(&Text::new("new.ron", written(&base, &swapped, None).unwrap())).unwrap();
        let near: Vec<_> = job.cores.iter().map(|core| core.near.as_str()).collect();
        assert_eq!(near, ["3", "2", "1", "E"]);
        let between = |name: &str| job.equipment_called(name).unwrap().is.between().clone();
        assert_eq!(between("zone valve").0, crate::job::At::Near("1".into()));
    }

    /// The shipped job with answers to some of its questions, each told by a piece of what is asked.
    fn with(name: &str, answers: &[(&str, &str)]) -> Result<Job, String> {
        let base = read(&shipped::job(name).unwrap()).unwrap();
        let questions = questions(&base, false, false, &[]);
        let answered: Vec<_> = answers
            .iter()
            .map(|(asked, answer)| {
                let question = questions.iter().find(|question| question.ask.contains(asked));
                let question = question.unwrap_or_else(|| panic!("`{asked}` is not asked"));
                question.taken(answer).map(|answer| (question.clone(), answer))
            })
            .collect::<Result<_, _>>()?;
        let text = written(&base, &answered, None).map_err(|unfit| unfit.to_string())?;
        read(&Text::new("new.ron", text)).map_err(|problems| first(&problems))
    }

    fn names(job: &Job) -> Vec<&str> {
        job.equipment.iter().map(|there| there.name.as_str()).collect()
    }

    #[test]
    fn a_zone_more_brings_its_terminals_core_and_equipment() {
        let more = [
            ("Near end: which more terminals", "Z4 = switched live"),
            ("Far end: which more terminals", "Z4 = SL"),
            ("more cores", "5 sleeved brown = switched live, Z4, Z4"),
            (
                "What else hangs",
                "kitchen thermostat like gallery thermostat: near L, near Z4; actuator 5 like actuator 4: far Z4, far N; pump relay 4 like \
                 pump relay 1: near Z4, near N; pump contact 4 like pump contact 1: near L, near P, moved by pump relay 4",
            ),
            ("more zones", "kitchen = kitchen thermostat: actuator 5"),
        ];
        let job = with("loft-underfloor", &more).unwrap();
        let core = job.cores.last().unwrap();
        assert_eq!((core.name.as_str(), core.sleeve.as_deref()), ("5", Some("brown")));
        assert_eq!(
            (core.near.as_str(), core.far.as_str(), &core.size),
            ("Z4", "Z4", &job.cores[0].size)
        );
        let thermostat = job.equipment_called("kitchen thermostat").unwrap();
        let Is::Contact(contact) = &thermostat.is else { panic!() };
        assert_eq!(contact.moved_by, MovedBy::Control("kitchen thermostat".into()));
        let Is::Contact(contact) = &job.equipment_called("pump contact 4").unwrap().is else {
            panic!()
        };
        assert_eq!(contact.moved_by, MovedBy::Motor("pump relay 4".into()));
        let zone = job.zones.last().unwrap();
        assert_eq!(
            (zone.name.as_str(), zone.actuators.as_slice()),
            ("kitchen", &["actuator 5".to_owned()][..])
        );
        // each of them is needed by the next
        for without in 0..4 {
            let mut fewer = more.to_vec();
            fewer.remove(without);
            // a core goes into a terminal without hanging anything on it
            let expected = without == 2;
            assert_eq!(with("loft-underfloor", &fewer).is_ok(), expected, "{without}");
        }
    }

    #[test]
    fn what_hung_on_what_is_not_there_goes_with_it() {
        let fewer = [
            ("Which core carries switched live", "none"),
            ("Near end: terminal for switched live", "none"),
            ("Far end: terminal for switched live", "none"),
        ];
        let job = with("loft-underfloor", &fewer).unwrap();
        assert_eq!(job.cores.len(), 4);
        let left = names(&job);
        for gone in [
            "workshop thermostat",
            "actuator 1",
            "actuator 2",
            "pump relay 1",
            "pump contact 1",
        ] {
            assert!(!left.contains(&gone), "{gone}");
        }
        assert!(left.contains(&"pump contact 2"));
        let zones: Vec<_> = job.zones.iter().map(|zone| zone.name.as_str()).collect();
        assert_eq!(zones, ["rope store", "gallery"]);
        // a core that is there goes into a terminal that is there
        let told = with("loft-underfloor", &fewer[1..]).unwrap_err();
        assert!(told.contains("Z1"), "{told}");
        let job = with("loft-underfloor", &[("is not there", "actuator 2; PUMP CONTACT 3")]).unwrap();
        assert_eq!(job.zones[0].actuators, ["actuator 1"]);
        assert_eq!(job.zones[0].meters, [("flow 1".to_owned(), "actuator 1".to_owned())]);
        assert!(!names(&job).contains(&"pump contact 3"));
    }

    #[test]
    fn an_entry_that_is_typed_wrongly_is_told_and_says_how_one_is_typed() {
        for (asked, answer, says) in [
            (
                "Near end: which more terminals",
                "Z4",
                "write each as `marking = what it is for`",
            ),
            (
                "Near end: which more terminals",
                "Z4 = live",
                "`live` is none of `permanent live`",
            ),
            ("Near end: which more terminals", "Z1 = neutral", "Z1"),
            ("Near end: which more terminals", "Z4 = neutral;", "write each as"),
            ("Near end: which more terminals", "a/b = neutral", "leave out `/`"),
            (
                "more cores",
                "5 = switched live, Z1",
                "colour = what it carries, near terminal, far terminal",
            ),
            ("more cores", "5 = switched live, Z9, Z1", "Z9"),
            ("more cores", "1 = switched live, Z1, Z1", "1"),
            ("more cores", "5 = neutral, Z1, Z1", "Z1"),
            (
                "What else hangs",
                "x like y: near L, near N",
                "there is no `y`; there are",
            ),
            (
                "What else hangs",
                "x like acuator 1: near L, near N",
                "type `actuator 1`, if that is meant",
            ),
            (
                "What else hangs",
                "x like actuator 1, near L, near N",
                "name like name: near 4, far N",
            ),
            (
                "What else hangs",
                "x like actuator 1: L, near N",
                "write `near`, `far` or `inside`",
            ),
            ("What else hangs", "x like actuator 1: near Q, near N", "Q"),
            (
                "What else hangs",
                "x like pump contact 1: near L, near P",
                "say what moves `x`",
            ),
            (
                "What else hangs",
                "x like actuator 1: far Z1, far N, moved by y",
                "is moved by nothing",
            ),
            (
                "What else hangs",
                "x like pump contact 1: near L, near P, moved by y",
                "y",
            ),
            (
                "What else hangs",
                "actuator 1 like actuator 1: far Z1, far N",
                "actuator 1",
            ),
            ("What else hangs", "x like actuator 1: far Z1, far Z1", "Z1"),
            ("more zones", "kitchen", "name = thermostat: actuator, actuator"),
            ("more zones", "kitchen = nobody: actuator 1", "nobody"),
            ("more zones", "gallery = gallery thermostat: actuator 4", "gallery"),
            ("is not there", "boiler", "there is no `boiler`"),
            ("Which other supplies", "immersion", "name = where it is switched off"),
        ] {
            let told = with("loft-underfloor", &[(asked, answer)]).unwrap_err();
            assert!(told.contains(says), "{asked} {answer}: {told}");
        }
    }

    #[test]
    fn who_works_and_with_what_is_told_once_with_ones_own_numbers() {
        let base = read(&shipped::job("saltmarsh").unwrap()).unwrap();
        let asked: Vec<_> = questions(&base, false, true, &[])
            .into_iter()
            .take(1 + base.instruments.len())
            .collect();
        let told = |answer: &str| {
            let answers = asked.iter().map(|question| match question.goes {
                Goes::Engineer => Ok((question.clone(), "Robin Sand, electrician".to_owned())),
                _ => question.taken(answer).map(|answer| (question.clone(), answer)),
            });
            let answered = answers.collect::<Result<Vec<_>, _>>()?;
            let text = told_once(&base, &answered).map_err(|unfit| unfit.to_string())?;
            crate::job::read_told(&Text::new("instruments.ron", text)).map_err(|problems| first(&problems))
        };
        for (answer, says) in [
            ("A1234", "write `serial number, calibrated, due`"),
            ("A1234, 2026-09-14", "write `serial number, calibrated, due`"),
            ("A1234, 14.9.2026, 2027-09-14", "`14.9.2026` is no day"),
            ("A1234, 2026-09-14, 2026-09-14", "is not behind"),
            (", 2026-09-14, 2027-09-14", "a name has 1 to 60 characters"),
        ] {
            let problem = told(answer).unwrap_err();
            assert!(problem.contains(says), "{answer}: {problem}");
        }
        let told = told("A 1234, 2026-09-14, 2027-09-14");
        let told = told.unwrap_or_else(|problem| panic!("{problem}"));
        assert_eq!(told.engineer.as_deref(), Some("Robin Sand"));
        assert_eq!(
            (told.position.as_deref(), told.firm.as_deref()),
            (Some("electrician"), None)
        );
        assert_eq!(told.instruments.len(), base.instruments.len());
        for ((own, _), theirs) in told.instruments.iter().zip(&base.instruments) {
            assert_eq!((own.serial.as_str(), own.profile.as_deref()), ("A 1234", None));
            assert_eq!((&own.name, &own.can), (&theirs.name, &theirs.can));
        }
    }

    #[test]
    fn a_cable_gives_a_file_its_name() {
        for (cable, expected) in [
            ("Sail loft, cable 2", "sail-loft-cable-2"),
            ("../..", "job"),
            ("\u{e9}t\u{e9}", "t"),
        ] {
            assert_eq!(slug(cable), expected);
        }
    }
}
