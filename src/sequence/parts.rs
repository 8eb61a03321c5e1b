//! A sequence gathered with every file that it includes.
//!
//! The rule inside: a name is looked for only where it leads down from the sequence's folder, each file is read once, and no more than
//! [`PARTS_MAX`] are, whatever includes whatever.

use std::path::{Component, Path};

use super::raw::{RawSequence, RawStep};
use crate::located::{self, Findings, Located, Problem, Text};

/// The files that a text includes, as it names them; nothing where it cannot be read.
fn included(text: &Text) -> Vec<Located<String>> {
    fn of(steps: &[Located<RawStep>], names: &mut Vec<Located<String>>) {
        for step in steps {
            match &step.value {
                RawStep::Include(name) => names.push(name.clone()),
                group => of(group.inside(), names),
            }
        }
    }
    let mut names = Vec::new();
    if let Ok(raw) = located::read::<RawSequence>(&text.text) {
        of(&raw.steps, &mut names);
    }
    names
}

/// Files that one sequence may include, one inside the other or not.
const PARTS_MAX: usize = 100;

/// A sequence with every file that it includes, each found once under its name; what is not found is for [`super::read`] to say, at its
/// place. `find` is asked only for names that lead nowhere but into the sequence's own folder.
///
/// # Errors
/// What is wrong with a name, or what `find` says of it.
pub fn with_parts(
    first: Text,
    mut find: impl FnMut(&Located<String>) -> Result<Option<Text>, Problem>,
) -> Result<Vec<Text>, Findings> {
    let mut texts = vec![first];
    let mut findings = Findings::default();
    let mut at = 0;
    while at < texts.len() {
        for name in included(&texts[at]) {
            if PARTS_MAX < texts.len() || texts[1..].iter().any(|text| text.name == *name) {
                continue;
            }
            match inside(&name).and_then(|()| find(&name)) {
                Ok(found) => texts.extend(found),
                Err(problem) => findings.push(texts[at].finding(problem)),
            }
        }
        at += 1;
    }
    if findings.is_empty() { Ok(texts) } else { Err(findings) }
}

/// A name leads down from the sequence's folder, by its words alone.
fn inside(name: &Located<String>) -> Result<(), Problem> {
    let leads_down = |part: Component<'_>| matches!(part, Component::Normal(_) | Component::CurDir);
    if Path::new(&name.value).components().all(leads_down) {
        return Ok(());
    }
    let what = format!("`{}` leads out of the sequence's folder", name.value.escape_debug());
    Err(Problem::new(&name.span, what).hint("put the file beside the sequence, and name it as it lies from there"))
}
