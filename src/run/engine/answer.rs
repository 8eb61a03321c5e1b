//! Reading a typed line as an answer to what was asked.

use crate::job::{Job, Purpose};
use crate::plan::{Look, Subject};
use crate::run::dialogue::is_word;
use crate::run::event::{Answer, Touched};
use crate::run::fold::WORDS_CHARS_MAX;

/// A decision after a step that did not pass.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Decision {
    /// The supply that lit a point is isolated.
    Isolate,
    /// The step is done again.
    Again,
    /// Something is repaired, and what rests on it becomes void.
    Repair,
    /// The step stays as it is, with a reason.
    Leave,
    /// Where the fault must be: shown, not recorded.
    Locate,
    /// The run is given up, with a reason.
    Abandon,
}

/// Reads `isolate`, `again`, `repair`, `leave`, `locate` or `abandon`.
pub fn decision(line: &str) -> Option<Decision> {
    match line.trim().to_lowercase().as_str() {
        "isolate" => Some(Decision::Isolate),
        "again" => Some(Decision::Again),
        "repair" => Some(Decision::Repair),
        "leave" => Some(Decision::Leave),
        "locate" => Some(Decision::Locate),
        "abandon" => Some(Decision::Abandon),
        _ => None,
    }
}

/// Reads `lit` or `dark`.
pub fn indicator(line: &str) -> Option<Answer> {
    let answers = [("lit", Answer::Lit), ("dark", Answer::Dark)];
    let said = answers.into_iter().find(|(word, _)| is_word(line, word));
    said.map(|(_, answer)| answer)
}

/// Reads what was seen: a word of the step, several for what moved, or `found` and a text.
pub fn look(line: &str, look: &Look) -> Result<Answer, String> {
    let line = line.trim();
    if line.eq_ignore_ascii_case("found") {
        return Err("say what was found on the same line, for example `found a burnt clamp`".into());
    }
    if let Some(found) = line.strip_prefix("found ").and_then(text) {
        return Ok(Answer::Found(found));
    }
    let polarity = matches!(look.subject, Subject::Polarity { .. });
    let known = |said: &str| {
        let purpose = Purpose::typed(said).filter(|_| polarity).map(Purpose::words);
        let said = purpose.unwrap_or(said.trim());
        look.words.iter().find(|word| word.eq_ignore_ascii_case(said))
    };
    let unknown = |said: &str| format!("`{}` is none of {}", said.trim(), look.words.join(", "));
    if look.subject != Subject::Moved {
        let word = known(line).ok_or_else(|| unknown(line))?;
        return Ok(Answer::Saw(vec![word.clone()]));
    }
    if line.eq_ignore_ascii_case("none") {
        return Ok(Answer::Saw(Vec::new()));
    }
    let mut seen = Vec::new();
    for said in line.split(',') {
        let word = known(said).ok_or_else(|| unknown(said))?;
        if !seen.contains(word) {
            seen.push(word.clone());
        }
    }
    Ok(Answer::Saw(seen))
}

/// Reads `photograph FILE`.
pub fn photograph(line: &str) -> Option<String> {
    text(line)?.strip_prefix("photograph ").and_then(text)
}

/// Reads a purpose by its words, what else is understood for them, or its number in the list.
pub fn purpose(line: &str) -> Option<Purpose> {
    let number = line
        .trim()
        .parse::<usize>()
        .ok()
        .and_then(|n| Purpose::ALL.get(n.checked_sub(1)?).copied());
    number.or_else(|| Purpose::typed(line))
}

/// Reads `all`, `none` or core names with commas; the error names the cores there are.
pub fn touched(line: &str, job: &Job) -> Result<Touched, String> {
    let known = || {
        job.cores
            .iter()
            .map(|c| format!("`{}`", c.name))
            .collect::<Vec<_>>()
            .join(", ")
    };
    match line.trim() {
        "all" => return Ok(Touched::Everything),
        "none" => return Ok(Touched::Nothing),
        "" => return Err(format!("type `all`, `none`, or cores from {}", known())),
        _ => {}
    }
    let names: Vec<String> = line.split(',').map(|name| name.trim().to_owned()).collect();
    match names.iter().find(|name| job.core(name).is_none()) {
        Some(unknown) => Err(format!("the cable has no core `{unknown}`; it has {}", known())),
        None => Ok(Touched::Cores(names)),
    }
}

/// A line of free text fit for the record: trimmed, no control characters, at most [`WORDS_CHARS_MAX`] characters.
pub fn text(line: &str) -> Option<String> {
    let clean = line.trim().chars().filter(|c| !c.is_control());
    let clean: String = clean.take(WORDS_CHARS_MAX).collect();
    (!clean.trim().is_empty()).then_some(clean)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn purposes_have_words_and_numbers() {
        for (line, expected) in [
            ("2", Some(Purpose::SwitchedLive)),
            (" Switched Live ", Some(Purpose::SwitchedLive)),
            ("0", None),
            ("10", Some(Purpose::Spare)),
            ("11", None),
            ("phase", Some(Purpose::PermanentLive)),
            ("L", Some(Purpose::PermanentLive)),
            ("live", None),
        ] {
            assert_eq!(purpose(line), expected, "{line}");
        }
    }

    #[test]
    fn what_is_seen_is_a_word_of_the_step_or_what_was_found() {
        let look = |subject| Look {
            subject,
            words: vec!["flow 1".into(), "flow 2".into()],
            expected: Vec::new(),
            timing: crate::plan::Timing::Any,
        };
        let saw = |words: &[&str]| Ok(Answer::Saw(words.iter().map(|word| (*word).to_owned()).collect()));
        for (line, moved, expected) in [
            ("flow 1", false, saw(&["flow 1"])),
            (" FLOW 2 ", false, saw(&["flow 2"])),
            ("flow 2, flow 1, flow 2", true, saw(&["flow 2", "flow 1"])),
            ("none", true, saw(&[])),
            ("found a mouse", false, Ok(Answer::Found("a mouse".into()))),
            (
                "found",
                true,
                Err("say what was found on the same line, for example `found a burnt clamp`".to_owned()),
            ),
            ("flow 3", true, Err("`flow 3` is none of flow 1, flow 2".to_owned())),
            (
                "flow 1, flow 2",
                false,
                Err("`flow 1, flow 2` is none of flow 1, flow 2".to_owned()),
            ),
        ] {
            let subject = if moved {
                Subject::Moved
            } else {
                Subject::Thing("it".into())
            };
            assert_eq!(super::look(line, &look(subject)), expected, "{line}");
        }
    }

    #[test]
    fn free_text_is_cleaned() {
        assert_eq!(
            text("  new clamp\u{1b}[2J screw \n").as_deref(),
            Some("new clamp[2J screw")
        );
        assert_eq!(text(" \u{7} "), None);
    }
}
