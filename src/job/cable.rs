//! The cable of a job: its cores, the terminals that they belong to, and the one that the others are tested against.
//!
//! The rule inside: a core goes only to terminals that are for what it carries.

use serde::Deserialize;

use super::check::{Answers, Check};
use super::end::EndOfCable;
use super::model::Conductors;
use super::purpose::Purpose;
use crate::located::{Located, Problem, listed};
use crate::value::quantity::{Amount, Unit};

#[derive(Debug, Deserialize)]
#[serde(deny_unknown_fields, rename = "Cable")]
pub(super) struct RawCable {
    pub(super) name: Located<String>,
    pub(super) kind: String,
    pub(super) conductors: Conductors,
    #[serde(default)]
    pub(super) length: Option<Located<Amount>>,
    pub(super) temperature: Located<Amount>,
    pub(super) cores: Located<Vec<RawCore>>,
}

impl RawCable {
    /// Whether a core of it carries mains.
    pub(super) fn carries_mains(&self) -> bool {
        self.cores.iter().any(|core| core.carries.value.is_mains())
    }
}

#[derive(Debug, Deserialize)]
#[serde(deny_unknown_fields, rename = "Core")]
pub(super) struct RawCore {
    pub(super) name: Located<String>,
    #[serde(default)]
    pub(super) sleeve: Option<String>,
    pub(super) size: Located<Amount>,
    pub(super) carries: Located<Purpose>,
    pub(super) near: Located<String>,
    pub(super) far: Located<String>,
}

impl RawCore {
    /// Its terminals, near and far.
    pub(super) fn terminals(&self) -> (String, String) {
        (self.near.value.clone(), self.far.value.clone())
    }
}

impl Check {
    pub(super) fn cores(&mut self, raw: &RawCable, near: &EndOfCable, far: &EndOfCable) {
        self.unit(&raw.temperature, Unit::Celsius);
        let words = Answers {
            of: "a core",
            several: "cores",
            hint: "call it by its colour or number, without a comma",
        };
        self.answerable(raw.cores.iter().map(|core| &core.name), words);
        for core in &raw.cores.value {
            self.above_zero(&core.size, Unit::SquareMillimetre);
            for (terminal, end) in [(&core.near, near), (&core.far, far)] {
                match end.terminals.iter().find(|t| t.name == terminal.value) {
                    None => {
                        let known = listed(&end.terminals, |there| format!("`{}`", there.name));
                        let what = format!("no terminal `{}` at the {}", terminal.value, end.name);
                        self.say(Problem::new(&terminal.span, what).hint(format!("it has {known}")));
                    }
                    Some(found) if found.takes != core.carries.value => {
                        let what = format!(
                            "core `{}` carries {} but terminal `{}` at the {} is for {}",
                            core.name.value,
                            core.carries.words(),
                            found.name,
                            end.name,
                            found.takes.words()
                        );
                        self.say(Problem::new(&terminal.span, what).hint(
                            "read the terminal's marking again; mains on the wrong terminal destroys what is behind it",
                        ));
                    }
                    Some(_) => {}
                }
            }
        }
        if raw.cores.len() < 2 {
            self.say(Problem::new(&raw.cores.span, "the cable has fewer than two cores"));
        }
    }

    /// At most one core carries earth; a cable with mains on it that has none says why.
    pub(super) fn earth(&mut self, raw: &RawCable, no_earth: Option<&Located<String>>) {
        let mut earths = raw.cores.iter().filter(|core| core.carries.value == Purpose::Earth);
        let (first, second) = (earths.next(), earths.next());
        if let Some(second) = second {
            let what = format!("core `{}` carries earth as well, one core can", second.name.value);
            self.say(Problem::new(&second.carries.span, what));
        }
        let mains = raw.cores.iter().find(|core| core.carries.is_mains());
        match (first, mains, no_earth) {
            (None, Some(mains), None) => {
                let what = format!("core `{}` carries mains and no core carries earth", mains.name.value);
                self.say(
                    Problem::new(&raw.cores.span, what)
                        .hint("list the earth core, or say why there is none: `no_earth: \"…\"`"),
                );
            }
            (Some(earth), _, Some(reason)) => {
                let what = format!("`no_earth` is given and core `{}` carries earth", earth.name.value);
                self.say(Problem::new(&reason.span, what));
            }
            (None, _, Some(reason)) if reason.trim().is_empty() => {
                self.say(Problem::new(&reason.span, "`no_earth` gives no reason"));
            }
            _ => {}
        }
    }
}

#[cfg(test)]
mod tests {
    use crate::job::read;
    use crate::located::Text;

    const JOB: &str = include_str!("../../fixtures/saltmarsh.ron");
    const EARTH: &str = r#"            (name: "green-yellow", size: "1.0 mm2", carries: Earth, near: "E", far: "E"),
"#;

    fn text(changes: &[(&str, &str)]) -> Text {
        let mut text = JOB.to_owned();
        for (from, to) in changes {
            assert!(text.contains(from), "{from}");
            text = text.replace(from, to);
        }
        Text::new("job", text)
    }

    #[test]
    fn a_cable_says_why_it_has_no_earth() {
        let check = |changes: &[(&str, &str)], expected: &[&str]| {
            let problems = read(&text(changes)).unwrap_err();
            let said: Vec<&str> = problems.iter().map(|problem| problem.what.as_str()).collect();
            assert_eq!(said, expected);
        };
        check(
            &[(EARTH, "")],
            &["core `brown` carries mains and no core carries earth"],
        );
        check(
            &[(
                EARTH,
                &EARTH
                    .replace("green-yellow", "bare")
                    .repeat(2)
                    .replacen("bare", "green-yellow", 1),
            )],
            &["core `bare` carries earth as well, one core can"],
        );
        let reason = |why: &str| format!("engineer: \"Morgan Teal\",\n    no_earth: \"{why}\",");
        check(
            &[("engineer: \"Morgan Teal\",", &reason("class II throughout"))],
            &["`no_earth` is given and core `green-yellow` carries earth"],
        );
        check(
            &[(EARTH, ""), ("engineer: \"Morgan Teal\",", &reason(" "))],
            &["`no_earth` gives no reason"],
        );
        let job = read(&text(&[
            (EARTH, ""),
            ("engineer: \"Morgan Teal\",", &reason("class II throughout")),
        ]))
        .unwrap();
        assert_eq!(job.no_earth.as_deref(), Some("class II throughout"));
        assert_eq!(job.return_words(), "core brown");
        assert_eq!(job.test_cores().count(), 2);
    }

    #[test]
    fn the_earth_core_is_what_the_others_are_tested_against() {
        let job = read(&text(&[])).unwrap();
        assert_eq!(
            (job.return_core().name.as_str(), job.return_words().as_str()),
            ("green-yellow", "the earth core")
        );
        let others: Vec<_> = job.test_cores().map(|core| core.name.as_str()).collect();
        assert_eq!(others, ["brown", "grey", "black"]);
    }
}
