//! From what a page sends to what is said.
//!
//! The rule inside: a page sends a choice by its number, a reading, or a text where a text is asked; never a line that a terminal would
//! take for something else, and never the name of a file.

use std::path::Path;

use hyper::StatusCode;
use serde::Deserialize;

use crate::plan::Subject;
use crate::run::dialogue::{Ask, Prompt, Said, To, Weight};
use crate::run::event::Face;

/// Most characters of a text, as the record keeps them.
pub(super) const TEXT_MAX: usize = 500;

/// Most characters of a typed reading.
const READING_MAX: usize = 24;

/// An answer as it is sent.
#[derive(Debug, Clone, PartialEq, Eq, Deserialize)]
#[serde(deny_unknown_fields)]
pub(super) struct Sent {
    /// The prompt that was on the screen.
    pub prompt: u64,
    /// What was said.
    pub say: Say,
}

/// What was said.
#[derive(Debug, Clone, PartialEq, Eq, Deserialize)]
#[serde(rename_all = "snake_case")]
pub(super) enum Say {
    /// A choice by its place.
    Choice(usize),
    /// What has moved, by the places of its choices.
    Choices(Vec<usize>),
    /// What the display shows.
    Reading(String),
    /// A text, where one is asked.
    Text(String),
    /// The last answer is taken back.
    Back,
    /// The last point that was answered dark was lit.
    WasLit,
    /// The length of the cable is not as stated: it is asked for next.
    Length,
    /// A voltage is there now.
    Voltage,
}

/// How an answer beside the choices is given.
#[derive(Debug, Clone, Copy, PartialEq, Eq, serde::Serialize)]
#[serde(rename_all = "snake_case")]
pub(super) enum Typed {
    /// Digits with a unit.
    Reading,
    /// One line of text.
    Text,
    /// What was found and has no word.
    Found,
}

/// How a prompt is answered beside its choices.
pub(super) fn typed(prompt: &Prompt) -> Option<Typed> {
    match &prompt.ask {
        Ask::Reading { .. } => Some(Typed::Reading),
        Ask::Look { .. } if prompt.together.is_empty() => Some(Typed::Found),
        Ask::Note { .. } | Ask::Text | Ask::Touched => Some(Typed::Text),
        _ => None,
    }
}

/// Whether several choices can be one answer.
pub(super) fn takes_several(prompt: &Prompt) -> bool {
    matches!(&prompt.ask, Ask::Look { look } if look.subject == Subject::Moved) && prompt.together.is_empty()
}

/// The line that an answer to a prompt stands for.
///
/// # Errors
/// 409 where another prompt is asked, 422 where this one has no such answer, 403 where it is for the laptop and comes from elsewhere.
pub(super) fn said(sent: &Sent, prompt: Option<&Prompt>, face: Face) -> Result<Said, StatusCode> {
    let prompt = prompt
        .filter(|prompt| prompt.number == sent.prompt)
        .ok_or(StatusCode::CONFLICT)?;
    let word = |at: &usize| prompt.choices.get(*at).map(|choice| choice.word.clone());
    let line = match &sent.say {
        Say::Choice(at) => word(at),
        Say::Choices(all) if takes_several(prompt) && !all.is_empty() => {
            let words: Option<Vec<_>> = all.iter().map(word).collect();
            words.map(|words| words.join(", "))
        }
        Say::Reading(text) if typed(prompt) == Some(Typed::Reading) => reading(text),
        Say::Text(text) => match typed(prompt) {
            Some(Typed::Text) => self::text(text, prompt),
            Some(Typed::Found) => self::text(text, prompt).map(|text| format!("found {text}")),
            _ => None,
        },
        Say::Back => Some("back".to_owned()),
        Say::WasLit => Some("was lit".to_owned()),
        Say::Length if typed(prompt) != Some(Typed::Text) => Some("length".to_owned()),
        // where a text is asked the word would be one
        Say::Voltage if typed(prompt) != Some(Typed::Text) => Some("live".to_owned()),
        Say::Choices(_) | Say::Reading(_) | Say::Length | Say::Voltage => None,
    };
    let line = line.ok_or(StatusCode::UNPROCESSABLE_ENTITY)?;
    if face != Face::Page && prompt.weight(&line) == Weight::LaptopOnly {
        return Err(StatusCode::FORBIDDEN);
    }
    Ok(Said::line(To::OnScreen(prompt.number), &line).by(face))
}

/// Whether a prompt of this number takes a picture.
///
/// # Errors
/// 409 where another prompt is asked, 422 where this one takes none.
pub(super) fn takes_picture(number: u64, prompt: Option<&Prompt>) -> Result<(), StatusCode> {
    let prompt = prompt
        .filter(|prompt| prompt.number == number)
        .ok_or(StatusCode::CONFLICT)?;
    prompt.photograph.then_some(()).ok_or(StatusCode::UNPROCESSABLE_ENTITY)
}

/// The line that binds in a picture which is kept in this file.
///
/// # Errors
/// As [`takes_picture`], and 507 where a line cannot name the file.
pub(super) fn pictured(number: u64, prompt: Option<&Prompt>, file: &Path, face: Face) -> Result<Said, StatusCode> {
    takes_picture(number, prompt)?;
    let line = file.to_str().map(|file| format!("photograph {file}"));
    let line = line.filter(|line| line.chars().count() <= TEXT_MAX && !line.chars().any(char::is_control));
    let line = line.ok_or(StatusCode::INSUFFICIENT_STORAGE)?;
    Ok(Said::line(To::OnScreen(number), &line).by(face))
}

/// What a display can show and nothing else.
fn reading(text: &str) -> Option<String> {
    let text = text.trim();
    let shown = |c: char| c.is_ascii_digit() || " .,-<>".contains(c) || "OLkMmohVsn".contains(c);
    (!text.is_empty() && text.len() <= READING_MAX && text.chars().all(shown)).then(|| text.to_owned())
}

/// A text that is one: no word of its own, and no name of a file.
fn text(text: &str, prompt: &Prompt) -> Option<String> {
    let text = text.trim();
    let low = text.to_lowercase();
    let is_word = ["back", "abandon", "no", "found"].contains(&low.as_str())
        || low == "was lit"
        || low.starts_with("was lit ")
        || prompt.choices.iter().any(|choice| choice.word.to_lowercase() == low);
    let names_a_file = low.split_whitespace().next() == Some("photograph");
    let fits = !text.is_empty() && text.chars().count() <= TEXT_MAX && !text.chars().any(char::is_control);
    (fits && !is_word && !names_a_file).then(|| text.to_owned())
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::run::dialogue::What;
    use crate::value::reading::Function;

    fn check(ask: Ask, say: Say, expected: Result<&str, u16>) {
        let shown = format!("{ask:?} {say:?}");
        let prompt = Prompt {
            number: 7,
            ..Prompt::default()
        }
        .asking(ask);
        let found = said(&Sent { prompt: 7, say }, Some(&prompt), Face::Page);
        let line = found.map_err(|status| status.as_u16()).map(|said| {
            assert_eq!((said.to, said.face), (To::OnScreen(7), Some(Face::Page)), "{shown}");
            match said.what {
                What::Line(line) => line,
                What::TooLong => panic!("too long"),
            }
        });
        assert_eq!(line.as_deref().map_err(|status| *status), expected, "{shown}");
    }

    #[test]
    fn an_answer_is_one_of_the_prompts_own() {
        let reading = || Ask::Reading {
            function: Function::Continuity,
            from_meter: true,
        };
        let text = |text: &str| Say::Text(text.into());
        check(Ask::Indicator, Say::Choice(1), Ok("dark"));
        check(Ask::Indicator, Say::Choice(9), Err(422));
        check(Ask::Indicator, text("dark"), Err(422));
        check(Ask::Indicator, Say::Reading("0.42".into()), Err(422));
        check(Ask::Indicator, Say::Choices(vec![0, 1]), Err(422));
        check(Ask::Indicator, Say::Voltage, Ok("live"));
        check(reading(), Say::Reading(" 0.42 Mohm ".into()), Ok("0.42 Mohm"));
        check(reading(), Say::Reading(">299".into()), Ok(">299"));
        for other in ["", "photograph x", "/etc/passwd", "0000000000000000000000000"] {
            check(reading(), Say::Reading(other.into()), Err(422));
        }
        check(reading(), text("0.42"), Err(422));
        check(Ask::Text, text("called away"), Ok("called away"));
        check(Ask::Text, Say::Back, Ok("back"));
        check(reading(), Say::Length, Ok("length"));
        check(Ask::Text, Say::Length, Err(422));
        check(Ask::Text, text("14 m"), Ok("14 m"));
        check(Ask::Text, Say::Voltage, Err(422));
        for other in [
            "",
            "  ",
            "a\nb",
            "a\u{1b}[2J",
            "abandon",
            "Back",
            "was lit",
            "no",
            &"x".repeat(501),
        ] {
            check(Ask::Text, text(other), Err(422));
        }
    }

    #[test]
    fn a_page_names_no_file_of_the_laptop() {
        for other in [
            "photograph /etc/shadow",
            "  PHOTOGRAPH  x",
            "photograph\u{a0}x",
            "photograph",
        ] {
            check(Ask::Note { photograph: true }, Say::Text(other.into()), Err(422));
        }
        check(
            Ask::Note { photograph: true },
            Say::Text("a label, photograph later".into()),
            Ok("a label, photograph later"),
        );
    }

    #[test]
    fn a_picture_is_bound_in_only_where_one_is_asked_for() {
        let check = |ask: Ask, number: u64, file: &str, expected: Result<&str, u16>| {
            let shown = format!("{ask:?} {number} {file}");
            let prompt = Prompt {
                number: 7,
                ..Prompt::default()
            }
            .asking(ask);
            for face in [Face::Page, Face::Device(2)] {
                let found = pictured(number, Some(&prompt), Path::new(file), face).map(|said| {
                    assert_eq!((said.to, said.face), (To::OnScreen(7), Some(face)), "{shown}");
                    said.into_line().unwrap()
                });
                assert_eq!(found.as_deref().map_err(hyper::StatusCode::as_u16), expected, "{shown}");
            }
        };
        let note = |photograph| Ask::Note { photograph };
        check(note(true), 7, "/home/run-1.jpg", Ok("photograph /home/run-1.jpg"));
        check(note(true), 8, "/home/run-1.jpg", Err(409));
        check(note(false), 7, "/home/run-1.jpg", Err(422));
        for ask in [Ask::Text, Ask::Indicator, Ask::Decision { offers: Vec::new() }] {
            check(ask, 7, "/home/run-1.jpg", Err(422));
        }
        // what a line cannot carry whole
        check(note(true), 7, "/ho\nme/run-1.jpg", Err(507));
        check(note(true), 7, &"/home".repeat(100), Err(507));
        assert_eq!(
            pictured(7, None, Path::new("x"), Face::Page).unwrap_err(),
            StatusCode::CONFLICT
        );
    }

    #[test]
    fn an_answer_to_another_prompt_is_none() {
        let prompt = Prompt {
            number: 7,
            ..Prompt::default()
        }
        .asking(Ask::Indicator);
        for (number, prompt) in [(6, Some(&prompt)), (8, Some(&prompt)), (7, None)] {
            let sent = Sent {
                prompt: number,
                say: Say::Choice(0),
            };
            assert_eq!(said(&sent, prompt, Face::Page), Err(StatusCode::CONFLICT));
        }
    }

    #[test]
    fn what_makes_dead_or_live_is_said_at_the_laptop() {
        for (word, grave) in [("done", true), ("energise", true), ("done", false)] {
            let prompt = Prompt {
                at_laptop: grave,
                ..Prompt::default()
            };
            let prompt = prompt.asking(Ask::Done { word });
            for (at, choice) in prompt.choices.iter().enumerate() {
                let say = Say::Choice(at);
                let sent = Sent { prompt: 0, say };
                let refused = said(&sent, Some(&prompt), Face::Device(1)).err();
                let expected = (grave && choice.word == word).then_some(StatusCode::FORBIDDEN);
                assert_eq!(refused, expected, "{word} {}", choice.word);
                assert!(said(&sent, Some(&prompt), Face::Page).is_ok());
            }
            for say in [Say::Text(word.into()), Say::Reading(word.into()), Say::Choices(vec![0])] {
                let sent = Sent { prompt: 0, say };
                assert_eq!(
                    said(&sent, Some(&prompt), Face::Device(1)).err(),
                    Some(StatusCode::UNPROCESSABLE_ENTITY)
                );
            }
        }
    }

    #[test]
    fn what_is_sent_reads_in_one_way() {
        let read = |text: &str| serde_json::from_str::<Sent>(text).ok().map(|sent| sent.say);
        assert_eq!(read(r#"{"prompt":1,"say":{"choice":0}}"#), Some(Say::Choice(0)));
        assert_eq!(read(r#"{"prompt":1,"say":"back"}"#), Some(Say::Back));
        assert_eq!(read(r#"{"prompt":1,"say":"back","line":"done"}"#), None);
        assert_eq!(read(r#"{"prompt":1,"line":"done"}"#), None);
        assert_eq!(read(r#"{"prompt":-1,"say":"back"}"#), None);
    }
}
