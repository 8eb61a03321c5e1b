//! What was found wrong with a job, and the checks that every part of one needs.
//!
//! The rule inside: a check never stops at the first problem.

use std::collections::{BTreeMap, BTreeSet};

use rust_decimal::Decimal;

use crate::located::{self, Located, Problem, Problems};
use crate::value::quantity::{Amount, Unit};

/// How names that are typed as answers are spoken of.
#[derive(Clone, Copy)]
pub(super) struct Answers {
    /// One of them.
    pub(super) of: &'static str,
    /// Two of them.
    pub(super) several: &'static str,
    /// How to call one that cannot be called so.
    pub(super) hint: &'static str,
}

/// Everything that was found wrong so far.
pub(super) struct Check {
    pub(super) problems: Problems,
}

impl Check {
    pub(super) fn say(&mut self, problem: Problem) {
        self.problems.push(problem);
    }

    pub(super) fn unit(&mut self, amount: &Located<Amount>, unit: Unit) {
        if amount.unit != unit {
            let what = format!(
                "`{}` is {}, {} is needed here",
                amount.value,
                amount.unit.quantity(),
                unit.quantity()
            );
            self.say(Problem::new(&amount.span, what).hint(format!("write it in `{unit}`")));
        }
    }

    pub(super) fn above_zero(&mut self, amount: &Located<Amount>, unit: Unit) {
        self.unit(amount, unit);
        if amount.value.value() <= Decimal::ZERO {
            self.say(Problem::new(
                &amount.span,
                format!("`{}` is not above zero", amount.value),
            ));
        }
    }

    pub(super) fn name(&mut self, name: &Located<String>, of: &str) {
        if name.trim().is_empty() {
            self.say(Problem::new(&name.span, format!("{of} has no name")));
        } else if name.chars().any(located::is_never_in_a_name)
            || name.contains(['{', '}', '/'])
            || name.trim() != name.value
            || 60 < name.chars().count()
        {
            let what = format!(
                "{of} `{}` is not a plain name of at most 60 characters",
                name.value.escape_debug()
            );
            self.say(
                Problem::new(&name.span, what)
                    .hint("leave out `/`, braces, blanks at either end and characters that do not show"),
            );
        }
    }

    /// A name that is typed as an answer: no answer of its own reads like it, and no other name differs from it in capitals alone.
    pub(super) fn answerable<'a>(&mut self, names: impl Iterator<Item = &'a Located<String>>, words: Answers) {
        let Answers { of, several, hint } = words;
        let mut seen: BTreeMap<String, &str> = BTreeMap::new();
        for name in names {
            self.name(name, of);
            let word = name.to_lowercase();
            let is_answer = ["all", "none", "no", "found", "back", "abandon"].contains(&word.as_str());
            if name.contains(',') || is_answer || word.starts_with("found ") {
                let what = format!("{of} cannot be called `{}`, which is an answer of its own", name.value);
                self.say(Problem::new(&name.span, what).hint(hint));
            }
            match seen.get(&word) {
                Some(there) if *there == name.as_str() => {
                    let what = format!("two {several} are called `{there}`");
                    self.say(Problem::new(&name.span, what));
                }
                Some(there) => {
                    let what = format!("two {several} are called `{there}` and `{}`", name.value);
                    self.say(
                        Problem::new(&name.span, what)
                            .hint("call one otherwise: a typed answer is read whatever its capitals"),
                    );
                }
                None => drop(seen.insert(word, name)),
            }
        }
    }

    pub(super) fn unique<'a>(&mut self, names: impl Iterator<Item = &'a Located<String>>, of: &str) {
        let mut seen: BTreeSet<&str> = BTreeSet::new();
        for name in names {
            if !seen.insert(name) {
                self.say(Problem::new(
                    &name.span,
                    format!("two {of} are called `{}`", name.value),
                ));
            }
        }
    }

    pub(super) fn date(&mut self, text: &Located<String>) -> jiff::civil::Date {
        text.parse().unwrap_or_else(|_| {
            self.say(
                Problem::new(&text.span, format!("`{}` is not a date", text.value)).hint("write it as `2026-11-25`"),
            );
            jiff::civil::Date::default()
        })
    }
}

/// Refuses a file of a newer major format, with the remedy.
pub fn check_format(format: &Located<String>, ours: &str, of: &str, problems: &mut Problems) {
    let major = |text: &str| {
        text.split_once('.').and_then(|(major, minor)| {
            minor.parse::<u32>().ok()?;
            major.parse::<u32>().ok()
        })
    };
    match (major(&format.value), major(ours)) {
        (Some(theirs), Some(here)) if theirs > here => problems.push(
            Problem::new(
                &format.span,
                format!(
                    "this {of} has format `{}`, this program reads up to `{ours}`",
                    format.value
                ),
            )
            .hint("use a newer coreproof, or write the file in the older format"),
        ),
        (Some(_), _) => {}
        (None, _) => problems.push(
            Problem::new(&format.span, format!("`{}` is not a format version", format.value))
                .hint(format!("write `{ours}`")),
        ),
    }
}
