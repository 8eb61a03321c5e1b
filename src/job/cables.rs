//! The cables of a file that holds several, beside the supply, the instruments and the terminals that they share.
//!
//! The rule inside: a job is of one cable. The one that is meant is cut out of the file before the file is read, so that a record carries the
//! job of its cable with the names of those beside it, and nothing that reads a job knows of files with several.

use std::ops::Range;

use super::model::Job;
use super::told::{Told, read_with};
use crate::located::{
    Edited, Problem, Problems, Text, entries, field, last_sign, listed, nearest, top_field, value_at,
};

/// The list of cables in a file.
const CABLES: &str = "cables";

/// What a cable may have of its own in place of what all share.
const OWN: [&str; 10] = [
    "supply",
    "near",
    "far",
    "stays_connected",
    "no_earth",
    "equipment",
    "zones",
    "control_pair",
    "parameters",
    "document",
];

/// Most cables of one file; no place has more.
const CABLES_MAX: usize = 200;

/// The cables of a file that holds a list of them, by their names; none where the file is of one cable.
pub fn cables(text: &str) -> Vec<String> {
    let list = top_field(text, CABLES).and_then(|(_, value)| entries(text, value));
    let (all, _) = list.unwrap_or_default();
    all.iter().map(|entry| name_of(&text[entry.clone()])).collect()
}

/// The name of the cable of a job, or of an entry of the list, as it is written there; nothing where there is none.
fn name_of(text: &str) -> String {
    let literal = value_at(text, &["cable", "name"]).map_or("", |value| &text[value]);
    ron::from_str(literal).unwrap_or_else(|_| literal.to_owned())
}

/// Reads the job of one cable as [`read_with`] does; `named` says which, where the file holds several.
///
/// # Errors
/// Every problem found, each in the text as it was written; none named of several, or one that is not there.
pub fn read_cable(text: &Text, named: Option<&str>, told: Option<&Told>) -> Result<Job, Problems> {
    let cut = cut(&text.text, named)?;
    if cut.is_unchanged() {
        return read_with(text, told);
    }
    read_with(&Text::new(text.name.as_str(), cut.text.as_str()), told).map_err(|found| {
        let mut problems = Problems::default();
        problems.extend(found.iter().map(|problem| Problem {
            span: cut.before(&problem.span),
            ..problem.clone()
        }));
        problems.sort_by_key(|problem| problem.span.start);
        problems
    })
}

/// Which of several names is meant: the one that is so called, else the only one of which it is a piece.
pub fn meant<'a>(names: &'a [String], wanted: &str) -> Option<&'a String> {
    let lower = |text: &str| text.trim().to_lowercase();
    let exact = names.iter().find(|name| *name == wanted);
    exact.or_else(|| {
        let mut pieces = names.iter().filter(|name| lower(name).contains(&lower(wanted)));
        pieces
            .next()
            .filter(|_| pieces.next().is_none() && !wanted.trim().is_empty())
    })
}

/// The file with the fields of the one cable in place of the list.
fn cut(text: &str, named: Option<&str>) -> Result<Edited, Problem> {
    let mut edited = Edited::new(text);
    let Some((start, value)) = top_field(text, CABLES) else {
        let own = name_of(text);
        return match named {
            Some(named) if meant(std::slice::from_ref(&own), named).is_none() => {
                let place = value_at(text, &["cable", "name"]).unwrap_or(0..0);
                let what = format!("the job is of the cable `{own}`, not of `{named}`");
                Err(Problem::new(&place, what).hint("leave `--cable` out, or give the job of that cable"))
            }
            _ => Ok(edited),
        };
    };
    let place = start..start + CABLES.len();
    let problem = |what: String| Problem::new(&place, what);
    let Some((all, end)) = entries(text, value).filter(|(all, _)| !all.is_empty()) else {
        return Err(problem("`cables` is no list of cables".into())
            .hint("write `cables: [(cable: (...), far: (...), equipment: [...]), ...]`, or `cable: (...)` for one"));
    };
    if CABLES_MAX < all.len() {
        let what = format!("the job lists {} cables, at most {CABLES_MAX} are read", all.len());
        return Err(problem(what).hint("write a job for each part of the place"));
    }
    let names = cables(text);
    if let Some(second) = (1..names.len()).find(|&n| names[..n].contains(&names[n])) {
        return Err(Problem::new(
            &all[second],
            format!("two cables are called `{}`", names[second]),
        ));
    }
    let every = || listed(&names, |name| format!("`{name}`"));
    let one = match (named, names.as_slice()) {
        (None, [only]) => only,
        (None, _) => {
            return Err(
                problem(format!("the job holds {} cables, and none is named", names.len()))
                    .hint(format!("name the one meant with `--cable`: {}", every())),
            );
        }
        (Some(named), _) => meant(&names, named).ok_or_else(|| {
            let near = nearest(named, names.iter().map(String::as_str));
            let hint = near.map_or_else(|| format!("it holds {}", every()), |near| format!("write `{near}`"));
            problem(format!(
                "`{named}` is none of the {} cables, or may be several",
                names.len()
            ))
            .hint(hint)
        })?,
    };
    let entry = all[names.iter().position(|name| name == one).expect("it is one of them")].clone();
    let beside: Vec<_> = names.iter().filter(|name| *name != one).collect();
    for (range, by) in cuts(text, start..end + 1, entry, &beside)? {
        edited.exchange(range, &by);
    }
    Ok(edited)
}

/// What is exchanged, the last first: all of the list but the fields of one entry, and whatever that entry has of its own among what is shared.
fn cuts(
    text: &str,
    list: Range<usize>,
    entry: Range<usize>,
    beside: &[&String],
) -> Result<Vec<(Range<usize>, String)>, Problem> {
    let one = &text[entry.clone()];
    let Some(open) = one.find('(').filter(|_| one.ends_with(')')) else {
        return Err(Problem::new(&entry, "a cable of the list is fields in round brackets")
            .hint("write `(cable: (...), far: (...), equipment: [...])`"));
    };
    let inner = entry.start + open + 1..entry.end - 1;
    let names: Vec<_> = beside.iter().map(|name| format!("{name:?}")).collect();
    let before = match names.as_slice() {
        [] => String::new(),
        names => format!("beside: [{}], ", names.join(", ")),
    };
    let comma = if last_sign(&text[inner.clone()]).is_none_or(|sign| sign == b',') {
        ""
    } else {
        ","
    };
    let whole = field(text, CABLES).map_or(list.end, |whole| whole.end);
    let mut cuts = vec![(list.start..inner.start, before), (inner.end..whole, comma.to_owned())];
    let own = OWN.iter().filter(|name| top_field(one, name).is_some());
    cuts.extend(
        own.filter_map(|name| field(text, name))
            .map(|shared| (shared, String::new())),
    );
    cuts.sort_by_key(|(range, _)| std::cmp::Reverse(range.start));
    Ok(cuts)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::job::Purpose;

    const HALL: &str = include_str!("../../fixtures/village-hall.ron");

    fn read_as(text: &str, cable: Option<&str>) -> Result<Job, Problems> {
        read_cable(&Text::new("village-hall.ron", text), cable, None)
    }

    #[test]
    fn a_cable_of_several_is_a_job_of_its_own_that_names_the_others() {
        let hall = read_as(HALL, Some("hall thermostat cable")).unwrap();
        assert_eq!(hall.cable, "hall thermostat cable");
        assert_eq!(hall.beside, ["committee room thermostat cable"]);
        let committee = read_as(HALL, Some("Committee")).unwrap();
        assert_eq!(committee.far.name, "committee room thermostat");
        assert_eq!(
            (&hall.near.name, &hall.instruments),
            (&committee.near.name, &committee.instruments)
        );
        let switched = |job: &Job| {
            job.near
                .terminal_for(Purpose::SwitchedLive)
                .map(|terminal| terminal.name.clone())
        };
        assert_eq!(
            [switched(&hall), switched(&committee)],
            [Some("3".into()), Some("5".into())]
        );
        // what a record carries is read again from itself alone
        for job in [hall, committee] {
            assert_eq!(read_with(&job.text, None).unwrap(), job);
            assert_eq!(cables(&job.text.text), Vec::<String>::new());
        }
        // a file of one cable in a list has none beside it
        let (_, value) = top_field(HALL, "cables").unwrap();
        let second = entries(HALL, value).unwrap().0[1].clone();
        let one = format!("{}{}", &HALL[..second.start], &HALL[second.end..]);
        assert_eq!(read_as(&one, None).unwrap().beside, Vec::<String>::new());
    }

    #[test]
    fn what_a_cable_has_of_its_own_stands_in_place_of_what_is_shared() {
        let own = "(\n            near: (name: \"junction box\", terminals: [(name: \"1\", takes: PermanentLive), (name: \"2\", takes: Neutral), \
                   (name: \"3\", takes: SwitchedLive), (name: \"4\", takes: EndSwitch), (name: \"E\", takes: Earth)]),\n            cable: (";
        let text = HALL.replacen("(\n            cable: (", own, 1);
        assert_eq!(
            read_as(&text, Some("thermostat")).unwrap_err().iter().count(),
            1,
            "it may be either"
        );
        assert_eq!(
            read_as(&text, Some("hall thermostat cable")).unwrap().near.name,
            "junction box"
        );
        assert_eq!(read_as(&text, Some("committee")).unwrap().near.name, "wiring centre");
    }

    #[test]
    fn what_is_wrong_is_told_in_the_text_as_it_was_written() {
        let check = |(from, to): (&str, &str), cable: Option<&str>, expected: (&str, &str, &str)| {
            assert!(HALL.contains(from), "{from}");
            let text = HALL.replacen(from, to, 1);
            let problems = read_as(&text, cable).unwrap_err();
            let told: Vec<_> = problems
                .iter()
                .map(|p| (&text[p.span.clone()], p.what.as_str(), p.hint.as_deref().unwrap_or("")))
                .collect();
            assert_eq!(told, [expected]);
        };
        let both = "`hall thermostat cable`, `committee room thermostat cable`";
        let named = format!("name the one meant with `--cable`: {both}");
        let none = "the job holds 2 cables, and none is named";
        check(("", ""), None, ("cables", none, &named));
        let what = "`hal termostat cable` is none of the 2 cables, or may be several";
        check(
            ("", ""),
            Some("hal termostat cable"),
            ("cables", what, "write `hall thermostat cable`"),
        );
        let held = format!("it holds {both}");
        let what = "`boiler` is none of the 2 cables, or may be several";
        check(("", ""), Some("boiler"), ("cables", what, &held));
        let metres = "`9 V` is a voltage, a length is needed here";
        check(
            ("\"9 m\"", "\"9 V\""),
            Some("committee"),
            ("\"9 V\"", metres, "write it in `m`"),
        );
        let twice = "two cables are called `hall thermostat cable`";
        let text = HALL.replacen("committee room thermostat cable", "hall thermostat cable", 1);
        assert_eq!(
            read_as(&text, Some("hall")).unwrap_err().iter().next().unwrap().what,
            twice
        );
        let list = "write `cables: [(cable: (...), far: (...), equipment: [...]), ...]`, or `cable: (...)` for one";
        check(
            ("cables: [\n", "cables: (\n"),
            None,
            ("cables", "`cables` is no list of cables", list),
        );
    }

    #[test]
    fn a_job_of_one_cable_is_no_job_of_another() {
        let job = include_str!("../../fixtures/saltmarsh.ron");
        assert_eq!(read_as(job, Some("sail loft")).unwrap(), read_as(job, None).unwrap());
        let problems = read_as(job, Some("galley")).unwrap_err();
        let what = "the job is of the cable `sail loft thermostat cable`, not of `galley`";
        assert_eq!(problems.iter().next().unwrap().what, what);
    }
}
