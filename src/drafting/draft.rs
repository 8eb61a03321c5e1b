//! The job that answers make of a base job, as RON.
//!
//! The rule inside: the base's text is kept and only what was asked is exchanged in it, all at once, so that two terminals may change names
//! with each other; and what an answer leaves out goes out of the text.

use std::ops::Range;

use super::question::{Goes, Question, core};
use crate::job::{End, Job};
use crate::located::{Edited, entries, top_field, value_at};

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
    /// The answers, in the order of the questions.
    pub answers: Vec<String>,
}

/// A base job whose text is not laid out so that answers can be put into it.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
#[error("the base job has no `{what}` where an answer goes")]
pub struct Unfit {
    /// The field that was looked for.
    pub what: String,
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

/// The defaults: what is not asked one by one, in words, each from the base job.
pub fn page(base: &Job) -> Vec<(String, String)> {
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
    let equipment = base.text.text.as_ref();
    if let Some((_, list)) = top_field(equipment, "equipment")
        && let Some((all_of, _)) = entries(equipment, list)
    {
        let lines = base.equipment.iter().zip(all_of);
        all.extend(lines.map(|(there, at)| (there.name.clone(), equipment[at].to_owned())));
    }
    all
}

/// The job's text.
///
/// # Errors
/// A base that is laid out otherwise than jobs are.
pub fn written(base: &Job, answered: &[(Question, String)], instruments: Option<&[String]>) -> Result<String, Unfit> {
    let text = base.text.text.as_ref();
    let mut changes: Vec<(Range<usize>, String)> = Vec::new();
    for (question, answer) in answered {
        match &question.goes {
            Goes::Field(path) => changes.extend(field(text, path, answer)?),
            Goes::Breaks => changes.push(breaks(text, answer)?),
            Goes::Further => changes.push(further(text, answer)?),
            Goes::Sizes => {
                for at in cores(text)? {
                    let (_, value) = top_field(&text[at.clone()], "size").ok_or_else(|| unfit("size"))?;
                    changes.push((quoted(text, at.start + value), literal(answer)));
                }
            }
            Goes::Core(n) => changes.extend(core_change(text, *n, answer)?),
            Goes::Terminal(end, was) => changes.extend(renamed(text, *end, was, answer)?),
            Goes::Confirms(_) => {}
        }
    }
    if let Some(names) = instruments {
        let names: Vec<_> = names.iter().map(|name| literal(name)).collect();
        let at = value_at(text, &["instruments"]).ok_or_else(|| unfit("instruments"))?;
        changes.push((at, format!("[{}]", names.join(", "))));
        if let Some((name, _)) = top_field(text, "engineer") {
            let value = value_at(text, &["engineer"]).ok_or_else(|| unfit("engineer"))?;
            changes.push((name..behind_comma(text, value.end), String::new()));
        }
    }
    // reference, firm and next test are of that circuit and that engineer
    if let (Some((name, _)), Some(value)) = (top_field(text, "document"), value_at(text, &["document"])) {
        changes.push((name..behind_comma(text, value.end), String::new()));
    }
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

fn unfit(what: &str) -> Unfit {
    Unfit { what: what.to_owned() }
}

fn literal(text: &str) -> String {
    format!("{text:?}")
}

/// A string that begins here, with its quotes; answers hold neither quotes nor backslashes, and base jobs are checked ones.
fn quoted(text: &str, from: usize) -> Range<usize> {
    let length = text[from + 1..].find('"').map_or(1, |at| at + 2);
    from..from + length
}

/// To behind the comma and the blanks before the next field, where a field is taken out.
fn behind_comma(text: &str, from: usize) -> usize {
    let rest = &text[from..];
    let comma = rest.strip_prefix(',').unwrap_or(rest);
    text.len() - comma.trim_start().len()
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
        let out = top_field(&text[inside.clone()], name).zip(value_at(text, path));
        return Ok(out.map(|((begins, _), value)| {
            let whole = inside.start + begins..behind_comma(text, value.end);
            (whole, String::new())
        }));
    }
    match value_at(text, path) {
        Some(at) => Ok(Some((at, literal(answer)))),
        // one that the base leaves out
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

fn further(text: &str, answer: &str) -> Result<(Range<usize>, String), Unfit> {
    let supplies = answer.split(';').filter_map(|one| one.split_once('='));
    let supplies =
        supplies.map(|(name, from)| format!("(name: {}, from: {})", literal(name.trim()), literal(from.trim())));
    let list = format!("[{}]", supplies.collect::<Vec<_>>().join(", "));
    if let Some(at) = value_at(text, &["supply", "further"]) {
        return Ok((at, list));
    }
    let supply = value_at(text, &["supply"]).ok_or_else(|| unfit("supply"))?;
    let begins = supply.start + 1;
    let by = if answer == "none" {
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
    let whole = &text[at.clone()];
    let (_, name) = top_field(whole, "name").ok_or_else(|| unfit("name"))?;
    let (colour, sleeve) = core(answer);
    let mut by = literal(colour);
    if let Some(sleeve) = sleeve {
        by.push_str(&format!(", sleeve: {}", literal(sleeve)));
    }
    let mut changes = vec![(quoted(text, at.start + name), by)];
    if let Some((begins, value)) = top_field(whole, "sleeve") {
        let end = quoted(text, at.start + value).end;
        changes.push((at.start + begins..behind_comma(text, end), String::new()));
    }
    Ok(changes)
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
        if let Some((_, value)) = top_field(&text[at.clone()], field) {
            let place = quoted(text, at.start + value);
            if text[place.clone()] == was {
                changes.push((place, literal(name)));
            }
        }
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
    use crate::job::read;
    use crate::located::Text;
    use crate::sequence::shipped;

    /// An answer that differs from what the base has, wherever one may.
    fn other(base: &Job, question: &Question, n: usize) -> String {
        use super::super::Answers;
        match (&question.goes, &question.answers) {
            (Goes::Confirms(word), _) => word.clone(),
            (Goes::Field(path), _) if path.contains(&"protection") && path.contains(&"device") => "BS 1362".into(),
            (Goes::Field(path), _) if path.contains(&"protection") => "3 A".into(),
            (Goes::Sizes, _) => "1.5 sqmm".into(),
            (Goes::Core(n), _) => format!("number {n} sleeved white"),
            (Goes::Terminal(..), _) => format!("T{n}"),
            (_, Answers::Amount { or_none: true, .. }) => "none".into(),
            (Goes::Field(path), Answers::Amount { .. }) if path.contains(&"nominal") => "230 V".into(),
            (Goes::Further, _) if base.supply.further.is_empty() => "none".into(),
            (Goes::Further, _) => {
                let all = base
                    .supply
                    .further
                    .iter()
                    .map(|there| format!("{} = switch {n}", there.name));
                all.collect::<Vec<_>>().join(";")
            }
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
            let questions = questions(&base, false);
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
        let swapped: Vec<_> = questions(&base, false)
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
