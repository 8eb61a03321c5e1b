//! What an engineer tells once: their name and their instruments, which jobs then name.
//!
//! The rule inside: a job is made whole before it is read, so that whatever carries the job carries the instruments in it, and who reads
//! it later needs nothing else.

use std::ops::Range;

use serde::Deserialize;

use super::check::{Check, check_format};
use super::document;
use super::instrument::Instrument;
use super::model::Job;
use super::raw_job::{RawInstrument, read};
use crate::located::{self, Edited, Located, Problem, Problems, Text, entries, listed, nearest, top_field, value_at};

/// The version of the format of the file that this program writes and reads.
pub const TOLD_FORMAT: &str = "1.0";

/// Most instruments that are told; nobody has as many.
const TOLD_MAX: usize = 200;

#[derive(Debug, Deserialize)]
#[serde(deny_unknown_fields, rename = "Told")]
struct RawTold {
    format: Located<String>,
    #[serde(default)]
    engineer: Option<Located<String>>,
    #[serde(default)]
    position: Option<Located<String>>,
    #[serde(default)]
    firm: Option<Located<String>>,
    #[serde(default)]
    instruments: Vec<Located<RawInstrument>>,
}

/// What was told once.
#[derive(Debug, Clone)]
pub struct Told {
    /// The file.
    pub text: Text,
    /// Who works with them.
    pub engineer: Option<String>,
    /// What they are, for documents.
    pub position: Option<String>,
    /// For whom they work, for documents.
    pub firm: Option<String>,
    /// Each with its place in the file.
    pub instruments: Vec<(Instrument, Range<usize>)>,
    /// The place of their name in the file.
    pub engineer_at: Range<usize>,
}

/// Reads the file of what was told once; each ability is judged where a job names its edition.
///
/// # Errors
/// Every problem found.
pub fn read_told(text: &Text) -> Result<Told, Problems> {
    located::read_all(&text.text, |raw: RawTold| {
        let mut check = Check {
            problems: Problems::default(),
        };
        check_format(&raw.format, TOLD_FORMAT, "file", &mut check.problems);
        if let Some(beyond) = raw.instruments.get(TOLD_MAX) {
            let what = format!(
                "{} instruments are told, at most {TOLD_MAX} are read",
                raw.instruments.len()
            );
            return Err(Problem::new(&beyond.span, what)
                .hint("take out those that you no longer have")
                .into());
        }
        if let Some(engineer) = &raw.engineer {
            check.name(engineer, "the engineer");
        }
        let of = [(&raw.position, "the engineer's position"), (&raw.firm, "the firm")];
        for (words, of) in of {
            if let Some(words) = words {
                check.line(words, of, document::NAME_CHARS_MAX);
            }
        }
        check.unique(raw.instruments.iter().map(|told| &told.name), "instruments");
        let told = raw.instruments.iter();
        let instruments = told
            .map(|told| (check.instrument(told, None), told.span.clone()))
            .collect();
        if !check.problems.is_empty() {
            return Err(check.problems);
        }
        Ok(Told {
            text: text.clone(),
            engineer_at: raw.engineer.as_ref().map_or(0..0, |engineer| engineer.span.clone()),
            engineer: raw.engineer.map(|engineer| engineer.value),
            position: raw.position.map(|position| position.value),
            firm: raw.firm.map(|firm| firm.value),
            instruments,
        })
    })
}

/// Whether a job leaves something to what was told once: its engineer, or an instrument that it names.
pub fn asks_for_told(text: &str) -> bool {
    top_field(text, "engineer").is_none() || !named(text).is_empty()
}

/// The instruments that a job names instead of holding them.
fn named(text: &str) -> Vec<Range<usize>> {
    let list = top_field(text, "instruments").and_then(|(_, value)| entries(text, value));
    let (all, _) = list.unwrap_or_default();
    all.into_iter()
        .filter(|entry| text[entry.clone()].starts_with('"'))
        .collect()
}

/// Reads a job as [`read`] does, with what it leaves to `told` put in; its text is the whole one.
///
/// # Errors
/// Every problem found, each in the text as it was written.
pub fn read_with(text: &Text, told: Option<&Told>) -> Result<Job, Problems> {
    let (whole, mut problems) = made_whole(&text.text, told);
    problems.sort_by_key(|problem| problem.span.start);
    if whole.is_unchanged() {
        return read(text);
    }
    let names = named(&text.text);
    match read(&Text::new(text.name.as_str(), whole.text.as_str())) {
        Ok(job) if problems.is_empty() => Ok(job),
        Ok(_) => Err(problems),
        Err(found) => {
            problems.extend(
                found
                    .iter()
                    .filter_map(|problem| {
                        let span = whole.before(&problem.span);
                        // what stands in the place of a name that nobody told was written by nobody
                        let is_told = names.contains(&span);
                        let unknown = is_told && problems.iter().any(|there| there.span == span);
                        (!unknown).then(|| Problem {
                            what: match is_told {
                                true => format!("in what was told of it: {}", problem.what),
                                false => problem.what.clone(),
                            },
                            span,
                            hint: problem.hint.clone(),
                        })
                    })
                    .collect::<Vec<_>>(),
            );
            problems.sort_by_key(|problem| problem.span.start);
            Err(problems)
        }
    }
}

/// The job with what it leaves to `told` put in, and the names that nobody told.
fn made_whole(text: &str, told: Option<&Told>) -> (Edited, Problems) {
    let (mut whole, mut problems) = (Edited::new(text), Problems::default());
    let names = named(text);
    // from behind, so that the places before stay as they are
    for (n, at) in names.iter().enumerate().rev() {
        let name = text[at.clone()].trim_matches('"');
        let known = told.map_or(&[][..], |told| &told.instruments);
        let found = known.iter().find(|(instrument, _)| instrument.name == name);
        let by = match (found, told) {
            (Some((_, place)), Some(told)) => format!("{}\n", &told.text.text[place.clone()]),
            _ => {
                problems.push(untold(name, at, told));
                format!(
                    "(name: \"untold {n}\", kind: \"\", serial: \"{n}\", calibrated: \"2026-01-01\", due: \"2026-01-01\", category: \"\", \
                     can: [ProveDead])"
                )
            }
        };
        whole.exchange(at.clone(), &by);
    }
    let engineer = told.filter(|told| told.engineer.is_some());
    if let (None, Some((at, _)), Some(told)) = (top_field(text, "engineer"), top_field(text, "instruments"), engineer) {
        let literal = &told.text.text[told.engineer_at.clone()];
        whole.exchange(at..at, &format!("engineer: {literal},\n    "));
    }
    if let Some(told) = told {
        speaks_for(&mut whole, told);
    }
    (whole, problems)
}

/// Puts what the engineer is and for whom into what the job says for its document, where the job leaves it out and does not name another
/// engineer.
fn speaks_for(whole: &mut Edited, told: &Told) {
    let engineer = value_at(&whole.text, &["engineer"]).map(|at| whole.text[at].to_owned());
    let is_theirs = |name: &String| engineer == Some(format!("{name:?}"));
    if !told.engineer.as_ref().is_some_and(is_theirs) {
        return;
    }
    for (field, words) in [("firm", &told.firm), ("position", &told.position)] {
        let Some(words) = words else { continue };
        let document = value_at(&whole.text, &["document"]);
        match document {
            Some(at) if value_at(&whole.text, &["document", field]).is_none() => {
                let inside = at.start + 1;
                whole.exchange(inside..inside, &format!("{field}: {words:?}, "));
            }
            Some(_) => {}
            None => {
                let Some((at, _)) = top_field(&whole.text, "instruments") else {
                    continue;
                };
                whole.exchange(at..at, &format!("document: ({field}: {words:?}),\n    "));
            }
        }
    }
}

fn untold(name: &str, at: &Range<usize>, told: Option<&Told>) -> Problem {
    let problem = Problem::new(at, format!("no instrument is told as `{name}`"));
    let all = told.map_or(&[][..], |told| &told.instruments);
    if all.is_empty() {
        return problem
            .hint("tell your instruments once: `coreproof instruments add FILE`, or write the whole instrument here");
    }
    let near = nearest(name, all.iter().map(|(instrument, _)| instrument.name.as_str()));
    problem.hint(match near {
        Some(near) => format!("write `\"{near}\"`"),
        None => format!(
            "told are {}",
            listed(all, |(instrument, _)| format!("`{}`", instrument.name))
        ),
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    const JOB: &str = include_str!("../../fixtures/saltmarsh.ron");

    /// The shipped job cut in two: what it holds of its own, and what is told once.
    fn halves() -> (String, String) {
        let (_, list) = top_field(JOB, "instruments").unwrap();
        let (_, end) = entries(JOB, list).unwrap();
        let told = format!(
            "(format: \"1.0\", engineer: \"Robin Sand\", instruments: {})",
            &JOB[list..=end]
        );
        let job = format!("{}[\"indicator\", \"tester\"]{}", &JOB[..list], &JOB[end + 1..]);
        (job, told)
    }

    fn text(name: &str, text: impl Into<String>) -> Text {
        Text::new(name, text.into())
    }

    #[test]
    fn a_job_that_names_instruments_carries_them_whole() {
        let (job, told) = halves();
        let told = read_told(&text("instruments.ron", told)).unwrap();
        let read_job = read_with(&text("job.ron", job.as_str()), Some(&told)).unwrap();
        let names: Vec<_> = read_job.instruments.iter().map(|i| i.name.as_str()).collect();
        assert_eq!(names, ["indicator", "tester"]);
        assert_eq!(read_job.engineer, "Morgan Teal");
        // nothing else is needed to read what it carries
        let again = read(&read_job.text).unwrap();
        assert_eq!(again, read_job);
        let anonymous = job.replace("    engineer: \"Morgan Teal\",\n", "");
        assert!(asks_for_told(&anonymous));
        let read_job = read_with(&text("job.ron", anonymous), Some(&told)).unwrap();
        assert_eq!(read_job.engineer, "Robin Sand");
        assert_eq!(read(&read_job.text).unwrap(), read_job);
        assert!(!asks_for_told(JOB));
    }

    #[test]
    fn what_the_engineer_is_and_for_whom_goes_with_their_name_alone() {
        let (job, told) = halves();
        let speaks = "engineer: \"Robin Sand\", position: \"electrician\", firm: \"Sand and Daughter\"";
        let told = told.replace("engineer: \"Robin Sand\"", speaks);
        let told = read_told(&text("instruments.ron", told)).unwrap();
        let document = |job: &str| {
            let job = read_with(&text("job.ron", job), Some(&told)).unwrap();
            assert_eq!(read(&job.text).unwrap(), job);
            (job.document.position, job.document.firm)
        };
        let own = (Some("electrician".to_owned()), Some("Sand and Daughter".to_owned()));
        let at = located::field(&job, "document").unwrap();
        let job = [&job[..at.start], &job[at.end..]].concat();
        let anonymous = job.replace("    engineer: \"Morgan Teal\",\n", "");
        assert!(!anonymous.contains("document"));
        assert_eq!(document(&anonymous), own);
        assert_eq!(document(&job.replace("Morgan Teal", "Robin Sand")), own);
        assert_eq!(document(&job), (None, None), "another engineer speaks for another firm");
        let stated = anonymous.replace(
            "    instruments:",
            "    document: (firm: \"the club\"),\n    instruments:",
        );
        assert_eq!(document(&stated), (own.0, Some("the club".to_owned())));
    }

    #[test]
    fn every_mistake_of_a_job_that_names_instruments_is_told_in_its_own_text() {
        let (job, told) = halves();
        let told = read_told(&text("instruments.ron", told)).unwrap();
        let check = |edits: &[(&str, &str)], told: Option<&Told>, expected: &[(&str, &str, &str)]| {
            let mut job = job.clone();
            for (from, to) in edits {
                assert!(job.contains(from), "{from}");
                job = job.replacen(from, to, 1);
            }
            let problems = read_with(&text("job.ron", job.as_str()), told).unwrap_err();
            let told = problems.iter();
            let told: Vec<_> = told
                .map(|p| (&job[p.span.clone()], p.what.as_str(), p.hint.as_deref().unwrap_or("")))
                .collect();
            assert_eq!(told, expected);
        };
        check(
            &[("\"18 m\"", "\"18 V\""), ("\"tester\"", "\"testr\"")],
            Some(&told),
            &[
                (
                    "\"18 V\"",
                    "`18 V` is a voltage, a length is needed here",
                    "write it in `m`",
                ),
                ("\"testr\"", "no instrument is told as `testr`", "write `\"tester\"`"),
            ],
        );
        check(
            &[("\"tester\"", "\"sextant\"")],
            Some(&told),
            &[(
                "\"sextant\"",
                "no instrument is told as `sextant`",
                "told are `indicator`, `tester`, `multimeter`",
            )],
        );
        check(
            &[("[\"indicator\", ", "[")],
            Some(&told),
            &[(
                "[\"tester\"]",
                "no instrument can prove dead",
                "list a two-pole voltage indicator with `ProveDead`; a multimeter never proves dead",
            )],
        );
        let tell = "tell your instruments once: `coreproof instruments add FILE`, or write the whole instrument here";
        check(
            &[],
            None,
            &[
                ("\"indicator\"", "no instrument is told as `indicator`", tell),
                ("\"tester\"", "no instrument is told as `tester`", tell),
            ],
        );
    }

    #[test]
    fn what_is_told_is_checked() {
        let (_, told) = halves();
        let wrong = told
            .replacen("2027-09-14", "soon", 1)
            .replacen("\"tester\"", "\"indicator\"", 1);
        let problems = read_told(&text("instruments.ron", wrong)).unwrap_err();
        let told: Vec<_> = problems.iter().map(|problem| problem.what.as_str()).collect();
        assert_eq!(told, ["two instruments are called `indicator`", "`soon` is not a date"]);
    }
}
