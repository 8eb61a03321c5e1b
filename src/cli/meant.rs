//! Which run is meant, where one on the same cable is unfinished: that one, or a new one.
//!
//! The rule inside: a new run never begins unasked beside one in which voltage was seen.

use std::path::PathBuf;

use jiff::Timestamp;
use tokio::sync::mpsc::UnboundedReceiver;

use super::asked;
use super::error::{Failure, INTERRUPTED};
use super::out::say;
use super::tables::table;
use super::unfinished::Unfinished;
use crate::run::dialogue::Said;
use crate::terminal::plain::clean;

/// What was chosen.
#[derive(Debug, PartialEq, Eq)]
pub(super) enum Meant {
    New,
    /// To go on with the run of this journal.
    GoOn(PathBuf),
}

/// Refuses, where nobody can be asked.
pub(super) fn refused(unfinished: &[&Unfinished]) -> Failure {
    let newest = unfinished.last().expect("asked only where there is one");
    let what = match newest.told.as_ref().ok().and_then(|told| told.voltage.as_deref()) {
        Some(voltage) => format!("a run on this cable is unfinished: {voltage}"),
        None => "a run on this cable is unfinished".to_owned(),
    };
    Failure::refused(what).hint(format!(
        "go on with `coreproof resume {}`, or begin a new one with `--new`",
        newest.id
    ))
}

/// Asks until the answer is one.
pub(super) async fn ask(unfinished: &[&Unfinished], lines: &mut UnboundedReceiver<Said>) -> Result<Meant, Failure> {
    let now = Timestamp::now();
    let rows: Vec<_> = unfinished.iter().map(|run| run.row(now)).collect();
    say!("Unfinished on this cable:\n{}", table(&Unfinished::HEAD, &rows));
    for run in unfinished {
        if let Some(voltage) = run.told.as_ref().ok().and_then(|told| told.voltage.as_deref()) {
            say!("\n!! VOLTAGE in run {}: {}.", run.id, clean(voltage));
            say!("!! Treat every conductor as live until it is proved dead again.\u{7}");
        }
    }
    let answers = match unfinished.len() {
        1 => "`resume` to go on with it, `new` for a new run".to_owned(),
        _ => "the beginning of a run's id to go on with it, `new` for a new run".to_owned(),
    };
    loop {
        say!("\nWhich is meant? {answers}");
        let Some(line) = asked::line(lines).await else {
            return Err(Failure {
                exit: INTERRUPTED,
                ..Failure::refused("no run was begun and none gone on with")
            });
        };
        match chosen(&line, unfinished) {
            Some(meant) => return Ok(meant),
            None => say!("`{}` is neither.", clean(line.trim())),
        }
    }
}

fn chosen(line: &str, unfinished: &[&Unfinished]) -> Option<Meant> {
    let word = line.trim().to_lowercase();
    if word == "new" {
        return Some(Meant::New);
    }
    let named: Vec<_> = match (word.as_str(), unfinished) {
        ("", _) => Vec::new(),
        ("resume", [only]) => vec![only],
        _ => unfinished.iter().filter(|run| run.id.starts_with(&word)).collect(),
    };
    match named.as_slice() {
        [only] => Some(Meant::GoOn(only.path.clone())),
        _ => None,
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn only_a_clear_answer_chooses() {
        let run = |id: &str| Unfinished {
            id: id.into(),
            path: id.into(),
            told: Err("damaged".into()),
        };
        let (one, two) = (run("0193aa"), run("0193ab"));
        let check = |line: &str, runs: &[&Unfinished], expected: Option<Meant>| {
            assert_eq!(chosen(line, runs), expected, "{line}");
        };
        let go_on = |id: &str| Some(Meant::GoOn(id.into()));
        check(" NEW ", &[&one], Some(Meant::New));
        check("resume", &[&one], go_on("0193aa"));
        check("resume", &[&one, &two], None);
        check("0193ab", &[&one, &two], go_on("0193ab"));
        check("0193a", &[&one, &two], None);
        check("", &[&one], None);
        check("yes", &[&one], None);
    }
}
