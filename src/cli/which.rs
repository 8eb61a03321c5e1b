//! Which cable of a job file is meant, where it holds several: the one named, or the one that is answered at a terminal.
//!
//! The rule inside: one is never guessed; where nobody can be asked the reading of the job refuses it and lists them.

use std::path::Path;

use tokio::sync::mpsc::UnboundedReceiver;

use super::error::{Failure, INTERRUPTED};
use super::files;
use super::out::say;
use crate::job;
use crate::run::dialogue::Said;
use crate::system::signals;
use crate::terminal::input;
use crate::terminal::plain::clean;

/// What is typed, once something has been asked: there is one reader of it.
pub(super) type Lines = Option<UnboundedReceiver<Said>>;

/// The name to read the job with; asked for where the file holds several, none is named and a person is there.
pub(super) async fn meant(job: &Path, named: Option<&str>, lines: &mut Lines) -> Result<Option<String>, Failure> {
    let names = match named {
        Some(named) => return Ok(Some(named.to_owned())),
        None if !input::is_interactive() => return Ok(None),
        None => job::cables(&files::job_text(job)?.text),
    };
    if names.len() < 2 {
        return Ok(None);
    }
    say!("{} holds {} cables:", clean(&job.display().to_string()), names.len());
    for (n, name) in names.iter().enumerate() {
        say!("  {}  {}", n + 1, clean(name));
    }
    let lines = lines.get_or_insert_with(input::lines);
    let mut asked_to_end = std::pin::pin!(signals::asked_to_end());
    loop {
        say!("\nWhich is meant? Its number, its name or a piece of it");
        let line = tokio::select! {
            biased;
            () = &mut asked_to_end => None,
            line = lines.recv() => line,
        };
        let Some(line) = line else {
            return Err(Failure {
                exit: INTERRUPTED,
                ..Failure::refused("no cable was chosen, and nothing was begun")
            });
        };
        let line = line.into_line().unwrap_or_default();
        match chosen(&line, &names) {
            Some(name) => return Ok(Some(name.to_owned())),
            None => say!("`{}` is none of them, or may be several.", clean(line.trim())),
        }
    }
}

fn chosen<'a>(line: &str, names: &'a [String]) -> Option<&'a str> {
    let line = line.trim();
    let numbered = line.parse::<usize>().ok().and_then(|n| names.get(n.checked_sub(1)?));
    numbered.or_else(|| job::meant(names, line)).map(String::as_str)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_number_a_name_or_the_only_one_with_a_piece_of_it_chooses() {
        let names = ["hall thermostat", "stage thermostat", "boiler", "boiler pump"].map(str::to_owned);
        let check = |line: &str, expected: Option<&str>| assert_eq!(chosen(line, &names), expected, "{line}");
        check("2", Some("stage thermostat"));
        check(" Hall ", Some("hall thermostat"));
        check("boiler", Some("boiler"));
        check("boil", None);
        check("thermostat", None);
        check("0", None);
        check("5", None);
        check("", None);
    }
}
