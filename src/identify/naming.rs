//! Which label goes to which terminal of the job, and the job with its cores named by their labels.
//!
//! The rule inside: a core of the job is named only by two labels that were told to be one core. The text of the job is
//! changed at the names of its cores and nowhere else.

use serde::{Deserialize, Serialize};

use super::error::IdentifyError;
use super::found::{Found, Row, State};
use super::words;
use crate::job::{self, Core, End, Job, Purpose};
use crate::located::{self, Located, Problems, Text};

/// A core of the job by its labels.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct NamedCore {
    /// What it is called from now on: the labels that are on it, `A-3`, or its old name where it was known all along.
    pub name: String,
    /// What the job called it.
    pub was: String,
    /// Its label at the near end.
    pub near_label: String,
    /// Its label at the far end.
    pub far_label: String,
    /// Its terminals in the job.
    pub near: String,
    /// See `near`.
    pub far: String,
    /// What it carries, by the job.
    pub carries: Purpose,
    /// How it is known to be one core; absent where it was known all along.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub state: Option<State>,
}

/// Whether the earth of the kit is the job's own earth core: known at both ends, and not among the cores to be told apart.
fn earth_is_known(job: &Job, cores: usize, earth: bool) -> bool {
    earth && cores < job.cores.len()
}

/// How many cores of a job are to be told apart: all, or all but its earth core where the kit has the earth.
pub fn cores_of(job: &Job, earth: bool) -> usize {
    job.cores.len() - usize::from(earth)
}

/// The cores of the job that are to be found among the cable's.
///
/// # Errors
/// A cable with fewer cores than the job needs.
pub fn wanted(job: &Job, cores: usize, earth: bool) -> Result<Vec<&Core>, IdentifyError> {
    let known = earth_is_known(job, cores, earth);
    let wanted: Vec<&Core> = job
        .cores
        .iter()
        .filter(|core| !(known && core.carries == Purpose::Earth))
        .collect();
    if cores < wanted.len() {
        return Err(IdentifyError::TooFewCores {
            cores,
            job: wanted.len(),
        });
    }
    Ok(wanted)
}

/// The lines of the list that name one core from end to end.
fn told(found: &Found) -> impl Iterator<Item = &Row> {
    found.rows.iter().filter(|row| is_told(row))
}

fn is_told(row: &Row) -> bool {
    matches!(row.state, State::Conducts | State::ByElimination) && row.near.len() == 1 && row.far.len() == 1
}

/// Whether enough cores were told from end to end for the job.
pub fn is_enough(found: &Found, job: &Job, earth: bool) -> bool {
    wanted(job, found.cores, earth).is_ok_and(|wanted| wanted.len() <= told(found).count())
}

/// The terminals that wait for a core, a line each.
pub fn terminals(job: &Job, cores: usize, earth: bool) -> Vec<String> {
    let wanted = wanted(job, cores, earth).unwrap_or_default();
    let line = |core: &&Core| {
        let carries = core.carries.words();
        format!(
            "terminal {} at the {}: {carries} (`{}` in the job)",
            core.near, job.near.name, core.name
        )
    };
    wanted.iter().map(line).collect()
}

/// Reads `A=1 B=2 C=3` (a label at the near end, the terminal it goes to), or `in order`.
///
/// # Errors
/// A word that is not of this form; a label that is not there or was not told; a terminal that is not there or takes no core of
/// the job; either of them twice; a terminal left over.
pub fn read(line: &str, found: &Found, job: &Job, earth: bool) -> Result<Vec<NamedCore>, IdentifyError> {
    let wanted = wanted(job, found.cores, earth)?;
    let pairs: Vec<(&Row, &Core)> = if line.trim().eq_ignore_ascii_case("in order") {
        told(found).zip(wanted.iter().copied()).collect()
    } else {
        let tokens = line.split([' ', ',', '\t']).filter(|token| !token.is_empty());
        tokens
            .map(|token| pair(token, found, job, &wanted))
            .collect::<Result<_, _>>()?
    };
    for (i, (row, core)) in pairs.iter().enumerate() {
        let twice = |what: &str| Err(IdentifyError::NamedTwice { what: what.into() });
        if pairs[..i].iter().any(|(earlier, _)| earlier.near == row.near) {
            return twice(&row.near[0]);
        }
        if pairs[..i].iter().any(|(_, earlier)| earlier.near == core.near) {
            return twice(&core.near);
        }
    }
    if let Some(left) = wanted
        .iter()
        .find(|core| pairs.iter().all(|(_, c)| c.name != core.name))
    {
        return Err(IdentifyError::TerminalLeft {
            terminal: left.near.clone(),
        });
    }
    // in the order of the job
    let named = job
        .cores
        .iter()
        .map(|core| match pairs.iter().find(|(_, c)| c.name == core.name) {
            Some((row, core)) => named(core, &row.near[0], &row.far[0], Some(row.state)),
            None => named(core, "earth", "earth", None),
        });
    Ok(named.collect())
}

fn pair<'a>(
    token: &str,
    found: &'a Found,
    job: &Job,
    wanted: &[&'a Core],
) -> Result<(&'a Row, &'a Core), IdentifyError> {
    let (label, terminal) = token
        .split_once('=')
        .ok_or_else(|| IdentifyError::NotAPlacing { token: token.into() })?;
    words::terminal(End::Near, label, found.cores, false).ok_or_else(|| IdentifyError::NotALabel {
        token: label.into(),
        end: words::end(End::Near),
        labels: words::labels(End::Near, found.cores, false),
    })?;
    let row = found
        .rows
        .iter()
        .find(|row| row.near.iter().any(|l| l.eq_ignore_ascii_case(label)));
    let row = row
        .filter(|row| is_told(row))
        .ok_or_else(|| IdentifyError::NotOneCore {
            label: label.to_uppercase(),
            state: row.map_or("not in the list", |row| row.state.words()),
        })?;
    let core = wanted.iter().find(|core| core.near == terminal);
    let core = core.ok_or_else(|| IdentifyError::NoSuchTerminal {
        terminal: terminal.into(),
        end: job.near.name.clone(),
        terminals: wanted
            .iter()
            .map(|core| format!("`{}`", core.near))
            .collect::<Vec<_>>()
            .join(", "),
    })?;
    Ok((row, core))
}

fn named(core: &Core, near_label: &str, far_label: &str, state: Option<State>) -> NamedCore {
    let name = match state {
        Some(_) => format!("{near_label}-{far_label}"),
        None => core.name.clone(),
    };
    NamedCore {
        name,
        was: core.name.clone(),
        near_label: near_label.into(),
        far_label: far_label.into(),
        near: core.near.clone(),
        far: core.far.clone(),
        carries: core.carries,
        state,
    }
}

/// The `cores` of the job with their new names, ready for a job.
pub fn block(job: &Job, named: &[NamedCore]) -> String {
    let line = |core: &Core| {
        let name = named
            .iter()
            .find(|n| n.was == core.name)
            .map_or(&core.name, |n| &n.name);
        let sleeve = core
            .sleeve
            .as_ref()
            .map_or(String::new(), |sleeve| format!(" sleeve: {sleeve:?},"));
        format!(
            "    (name: {name:?},{sleeve} size: \"{}\", carries: {:?}, near: {:?}, far: {:?}),\n",
            core.size, core.carries, core.near, core.far
        )
    };
    format!("cores: [\n{}],", job.cores.iter().map(line).collect::<String>())
}

/// Whether the cores of a job are the ones that were named: the same names at the same terminals for the same purpose.
///
/// # Errors
/// What differs first, in words.
pub fn matches(named: &[NamedCore], job: &Job) -> Result<(), String> {
    if named.is_empty() {
        return Err("it names no core of a job".into());
    }
    for core in named {
        let Some(there) = job.core(&core.name) else {
            return Err(format!("the job has no core `{}`", core.name));
        };
        let same = (&there.near, &there.far, there.carries) == (&core.near, &core.far, core.carries);
        if !same {
            return Err(format!(
                "core `{}` is at terminals `{}` and `{}` in the job, at `{}` and `{}` there",
                core.name, there.near, there.far, core.near, core.far
            ));
        }
    }
    match job.cores.iter().find(|core| named.iter().all(|n| n.name != core.name)) {
        Some(core) => Err(format!("core `{}` of the job was not told apart", core.name)),
        None => Ok(()),
    }
}

#[derive(Deserialize)]
#[serde(rename = "Job")]
struct Names {
    cable: CableNames,
}

#[derive(Deserialize)]
#[serde(rename = "Cable")]
struct CableNames {
    cores: Vec<CoreName>,
}

#[derive(Deserialize)]
#[serde(rename = "Core")]
struct CoreName {
    name: Located<String>,
}

/// The text of the job with its cores named by their labels; checked as a job.
///
/// # Errors
/// What the changed job then lacks, at its place.
pub fn renamed(job: &Job, named: &[NamedCore]) -> Result<Text, (Text, Problems)> {
    let mut text = job.text.text.to_string();
    let names: Names = located::read(&text).map_err(|problem| (job.text.clone(), problem.into()))?;
    // from the last to the first, so that the places before stay where they are
    for name in names.cable.cores.iter().rev().map(|core| &core.name) {
        if let Some(core) = named.iter().find(|core| core.was == name.value) {
            text.replace_range(name.span.clone(), &format!("\"{}\"", core.name));
        }
    }
    let text = Text::new(&*job.text.name, text);
    match job::read(&text) {
        Ok(_) => Ok(text),
        Err(problems) => Err((text, problems)),
    }
}
