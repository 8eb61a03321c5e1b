//! The texts of a sequence with the job's words put in.
//!
//! The rule inside: a placeholder that is not known is refused when the file is read, never shown in braces.

use crate::located::{Finding, Findings, Problem};
use crate::plan::{Kind, Plan, Step, Subject};

/// What may stand in braces, and what is put in for it.
pub(super) const PLACEHOLDERS: &[(&str, &str)] = &[
    ("near", "the near end's name"),
    ("far", "the far end's name"),
    ("supply", "the point of isolation"),
    ("known source", "the supply that stays live, for proving the indicator"),
    ("core", "the core that the step is about"),
    (
        "linked",
        "the cores that are linked, inside `EachLink`, and where `Link` stands outside it",
    ),
    ("terminal", "the terminal that the step is about"),
    ("end", "the end that the step is about"),
    ("cable", "the cable's name"),
    ("volts", "the insulation test voltage"),
    ("nulling", "how the leads are taken account of, in a `LeadNull`"),
    ("first", "where the first probe goes"),
    ("second", "where the second probe goes"),
    ("return core", "the core that dead tests return through"),
    (
        "building earth",
        "the near end's earth that comes from the building, or the main earthing terminal",
    ),
    ("other", "the other core, inside `EachPair`"),
    ("zone", "the zone, inside `EachZone`"),
    ("control", "the zone's control, inside `EachZone`"),
    ("zone terminal", "the terminal of the zone's actuators, in `between`"),
    ("pair first", "the first terminal of the control pair, in `between`"),
    ("pair second", "the second terminal of the control pair, in `between`"),
];

/// The first placeholder of a text that is not known, braces left out.
pub(super) fn unknown_placeholder(text: &str) -> Option<&str> {
    let mut rest = text;
    while let Some((_, after)) = rest.split_once('{') {
        let (name, tail) = after.split_once('}').unwrap_or((after, ""));
        if !PLACEHOLDERS.iter().any(|(known, _)| *known == name) {
            return Some(name);
        }
        rest = tail;
    }
    None
}

/// Puts words in for placeholders.
pub(super) fn fill(text: &str, words: &[(&str, &str)]) -> String {
    words.iter().fold(text.to_owned(), |text, (name, word)| {
        text.replace(&format!("{{{name}}}"), word)
    })
}

/// Steps that say nothing, or that say a word in braces for which there is nothing where they stand: a core outside `EachCore`, a zone
/// outside `EachZone`. Their cautions and what they look at are read as well.
pub(super) fn problems(plan: &Plan) -> Findings {
    let mut found = Findings::default();
    for (i, step) in plan.steps.iter().enumerate() {
        let Some(what) = problem(step) else { continue };
        let (text, span) = plan.span(i);
        let problem =
            Problem::new(&span, what).hint("name what is meant, or put the step into the group that gives it");
        let finding = Finding {
            text: text.clone(),
            problem,
        };
        if !found
            .iter()
            .any(|there| there.text == finding.text && there.problem.span == finding.problem.span)
        {
            found.push(finding);
        }
    }
    found
}

fn problem(step: &Step) -> Option<String> {
    let id = &step.id;
    let thing = match &step.kind {
        Kind::Look(look) => match &look.subject {
            Subject::Thing(thing) => Some(thing),
            _ => None,
        },
        _ => None,
    };
    let texts = [Some(&step.say), step.caution.as_ref(), thing];
    let blank = |text: Option<&String>| text.is_some_and(|text| text.trim().is_empty());
    match texts.into_iter().flatten().find_map(|text| named_in(text)) {
        _ if blank(texts[0]) => Some(format!("`{id}` says nothing: whoever holds the probes reads it")),
        _ if blank(texts[1]) => Some(format!("the caution of `{id}` says nothing")),
        _ if blank(texts[2]) => Some(format!("`{id}` does not name what is looked at or handed over")),
        Some(name) => Some(format!(
            "there is no {name} where `{id}` stands, so `{{{name}}}` would say nothing"
        )),
        None => None,
    }
}

/// The first placeholder that a text still has.
fn named_in(text: &str) -> Option<&'static str> {
    let there = |(name, _): &&(&'static str, &str)| text.contains(&format!("{{{name}}}"));
    PLACEHOLDERS.iter().find(there).map(|(name, _)| *name)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn placeholders_are_known_or_named() {
        for (text, expected) in [
            ("Link {core} to earth.", None),
            ("Link {cor} to earth.", Some("cor")),
            ("{core} {unclosed", Some("unclosed")),
            ("plain", None),
        ] {
            assert_eq!(unknown_placeholder(text), expected, "{text}");
        }
    }

    #[test]
    fn words_are_put_in() {
        assert_eq!(
            fill("{core} at {end}", &[("core", "brown"), ("end", "loft")]),
            "brown at loft"
        );
    }
}
