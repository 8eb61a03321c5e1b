//! The command line as it is read and as help, manual pages and completions show it.
//!
//! The rule inside: all of them are made from one grammar, so none can say what another does not.

use std::path::Path;

use clap::{Command, CommandFactory, FromArgMatches};
use clap_complete::Shell;

use super::args::Args;
use super::error::{Failure, PASSED};
use super::examples::{EXAMPLES, shown};
use super::out::say;

/// Every command with its examples.
pub(super) fn grammar() -> Command {
    with_examples(Args::command(), "")
}

/// A command and those below it, with the examples of each before what else stands at the end of its help.
fn with_examples(command: Command, path: &str) -> Command {
    let own = EXAMPLES.iter().find(|(words, _)| *words == path);
    let rest = command.get_after_help().map(ToString::to_string);
    let examples = own.map(|(_, examples)| shown(examples));
    let help: Vec<String> = examples.into_iter().chain(rest).collect();
    let names: Vec<String> = command
        .get_subcommands()
        .map(|below| below.get_name().to_owned())
        .collect();
    let with_help = match help.is_empty() {
        true => command,
        false => command.after_help(help.join("\n\n")),
    };
    names.into_iter().fold(with_help, |command, name| {
        let below = format!("{path} {name}");
        command.mut_subcommand(name, |command| with_examples(command, below.trim_start()))
    })
}

/// Reads what was typed.
pub(super) fn parse() -> Result<Args, clap::Error> {
    let mut grammar = grammar();
    let matches = grammar.try_get_matches_from_mut(std::env::args_os())?;
    Args::from_arg_matches(&matches).map_err(|error| error.format(&mut grammar))
}

/// Writes a manual page a command into `man1`, and completions for three shells beside it.
pub(super) fn pages(folder: &Path) -> Result<u8, Failure> {
    let failed = |error: std::io::Error| {
        Failure::equipment(format!("`{}` cannot be written: {error}", folder.display()))
            .hint("name a folder that you can write to")
    };
    let manual = folder.join("man1");
    std::fs::create_dir_all(&manual).map_err(failed)?;
    clap_mangen::generate_to(grammar().disable_help_subcommand(true), &manual).map_err(failed)?;
    for shell in [Shell::Bash, Shell::Zsh, Shell::Fish] {
        clap_complete::generate_to(shell, &mut grammar(), "coreproof", folder).map_err(failed)?;
    }
    say!(
        "Written to `{}`: manual pages, completions for bash, zsh and fish.",
        folder.display()
    );
    Ok(PASSED)
}

#[cfg(test)]
mod tests {
    use super::super::examples::typed;
    use super::*;

    /// The words of a line as a shell makes them, up to what only a shell reads.
    fn words(line: &str) -> Vec<String> {
        let line = line.split([';', '&', '<', '>', '|']).next().unwrap_or_default().trim();
        let (mut words, mut word, mut quoted) = (Vec::new(), String::new(), false);
        for c in line.chars() {
            match c {
                '"' => quoted = !quoted,
                ' ' if !quoted => words.push(std::mem::take(&mut word)),
                c => word.push(c),
            }
        }
        words.push(word);
        words.retain(|word| !word.is_empty());
        assert!(!quoted, "{line}");
        words
    }

    /// Every command that help shows, by its words.
    fn paths(command: &Command, path: &str) -> Vec<String> {
        let below = command
            .get_subcommands()
            .filter(|below| !below.is_hide_set() && below.get_name() != "help");
        let below = below.flat_map(|below| paths(below, format!("{path} {}", below.get_name()).trim_start()));
        std::iter::once(path.to_owned()).chain(below).collect()
    }

    #[test]
    fn every_command_has_two_examples_at_least_and_each_is_taken_as_that_command() {
        let known: Vec<&str> = EXAMPLES.iter().map(|(path, _)| *path).collect();
        let mut shown = paths(&Args::command(), "");
        shown.sort();
        let mut sorted = known.clone();
        sorted.sort_unstable();
        assert_eq!(sorted, shown, "give each command its examples in `examples.rs`");
        for (path, examples) in EXAMPLES {
            assert!(2 <= examples.len(), "{path}");
            for (example, what) in *examples {
                let typed = typed(example);
                let words = words(&typed);
                let matches = grammar()
                    .try_get_matches_from(&words)
                    .unwrap_or_else(|error| panic!("{typed}: {error}"));
                Args::from_arg_matches(&matches).unwrap_or_else(|error| panic!("{typed}: {error}"));
                let (mut at, mut reached) = (&matches, Vec::new());
                while let Some((name, below)) = at.subcommand() {
                    reached.push(name);
                    at = below;
                }
                let above = path.split(' ').next().unwrap_or_default();
                assert!(reached.join(" ").starts_with(above), "{typed} stands with `{path}`");
                assert!(!what.is_empty() && typed.len() < 100, "{typed}");
            }
        }
    }

    #[test]
    fn the_way_in_is_two_screens_and_every_command_of_the_readme_is_taken() {
        let readme = include_str!("../../README.md");
        let (way_in, _) = readme.split_once("# Reference").unwrap();
        assert!(way_in.lines().count() <= 70, "{} lines", way_in.lines().count());
        let typed = readme.lines().filter_map(|line| line.strip_prefix("    coreproof"));
        let whole = typed.filter(|line| !line.contains('\u{2026}'));
        let mut count = 0;
        for line in whole {
            let line = format!("coreproof{}", line.split(" #").next().unwrap_or_default());
            let taken = grammar().try_get_matches_from(words(&line));
            taken.unwrap_or_else(|error| panic!("{line}: {error}"));
            count += 1;
        }
        assert!(30 < count, "{count}");
    }

    #[test]
    fn help_shows_the_examples_before_the_cautions() {
        let mut grammar = grammar();
        let run = grammar.find_subcommand_mut("run").unwrap().render_help().to_string();
        let (examples, cautions) = (run.find("EXAMPLES").unwrap(), run.find("CAUTIONS").unwrap());
        assert!(examples < cautions, "{run}");
        grammar.debug_assert();
    }
}
