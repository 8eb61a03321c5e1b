//! One prompt at a time, whole lines out, for a terminal, a pipe or a screen reader.
//!
//! The rule inside: live digits are called live and never look like a result; verdicts are words, not colours; whatever a person or
//! a file wrote is cleaned of control characters before it is shown.

use std::io::Write;
use std::time::{Duration, Instant};

use crate::judge::window::Outcome;
use crate::located::is_unseen;
use crate::run::dialogue::{Engineer, Prompt, Show};

/// Live digits are shown at most this often.
const LIVE_EVERY: Duration = Duration::from_millis(300);

/// Plain prompts on a writer.
#[derive(Debug)]
pub struct Plain<W: Write> {
    out: W,
    /// Live digits overwrite one line; only where the output is a terminal.
    in_place: bool,
    /// Characters in a line.
    width: usize,
    live_shown: bool,
    live_last: Option<(Instant, String)>,
    /// What came too soon after that to be shown: a meter that sends on change says it once.
    live_next: Option<String>,
    sources_last: Vec<String>,
}

/// Text from files and persons without control characters and marks that do not show.
pub fn clean(text: &str) -> String {
    text.chars().filter(|c| !is_unseen(*c)).collect()
}

/// The same of a text of several lines, whose breaks and tabulators stay.
pub fn clean_lines(text: &str) -> String {
    text.chars()
        .filter(|c| matches!(c, '\n' | '\t') || !is_unseen(*c))
        .collect()
}

impl<W: Write> Plain<W> {
    /// `in_place` lets live digits overwrite each other.
    pub fn new(out: W, in_place: bool) -> Plain<W> {
        Plain {
            out,
            in_place,
            width: super::input::width(),
            live_shown: false,
            live_last: None,
            live_next: None,
            sources_last: Vec::new(),
        }
    }

    /// One line; an output that is gone is noticed at the next read, not here.
    pub fn line(&mut self, text: &str) {
        self.wipe_live();
        let _ = writeln!(self.out, "{}", clean(text));
        let _ = self.out.flush();
    }

    /// Live digits make room for what is shown next.
    fn wipe_live(&mut self) {
        if self.live_shown {
            self.live_shown = false;
            let _ = write!(self.out, "\r{:78}\r", "");
        }
    }

    fn field(&mut self, name: &str, text: &str) {
        self.wipe_live();
        for (i, line) in wrap(&clean(text), self.width.clamp(40, 100) - 14).iter().enumerate() {
            let name = if i == 0 { name } else { "" };
            let _ = writeln!(self.out, "    {name:<8} {line}");
        }
        let _ = self.out.flush();
    }

    fn prompt(&mut self, prompt: &Prompt) {
        self.line("");
        let (here, all) = prompt.place;
        if !prompt.step.is_empty() {
            self.line(&format!("{here} of {all}  {}", prompt.step));
        } else if !prompt.heading.is_empty() {
            self.line(&prompt.heading);
        }
        for act in &prompt.todo {
            self.field("do", act);
        }
        let is_done = !prompt.step.is_empty();
        self.field(if is_done { "do" } else { "ask" }, &prompt.say);
        for one in &prompt.together {
            self.field("each", &format!("{}: {}", one.step, one.say));
        }
        if let Some(stand) = &prompt.stand {
            self.field("stand", stand);
        }
        if !prompt.hands.is_empty() {
            self.field("hands", &prompt.hands.join("; then "));
        }
        if let Some((first, second)) = &prompt.points {
            let points = match first == second {
                // the two tips on each other, the indicator on a source that is no point of the job
                true => format!("each on {first}"),
                false => format!("first on {first}, second on {second}"),
            };
            self.field("probes", &points);
        }
        for caution in &prompt.cautions {
            self.field("caution", caution);
        }
        if let Some(instrument) = &prompt.instrument {
            self.field("with", instrument);
        }
        if let Some(window) = &prompt.window {
            self.field("passes", &window.words());
        }
        if self.sources_last != prompt.sources {
            self.sources_last = prompt.sources.clone();
            for source in &prompt.sources {
                self.field("source", source);
            }
        }
        self.field("answer", &prompt.answers());
        if !self.in_place {
            // whoever drives a pipe can name the question that a line answers
            self.field("question", &prompt.number.to_string());
        }
        super::input::on_screen(prompt.number);
        self.marker();
    }

    /// Where the answer goes, for a person at a terminal.
    fn marker(&mut self) {
        if self.in_place {
            let _ = write!(self.out, "> ");
            let _ = self.out.flush();
        }
    }

    /// For eyes that are on the probes: one tone for a reading taken, three for a step that did not pass.
    fn tone(&mut self, times: usize) {
        if self.in_place {
            let _ = write!(self.out, "{}", "\u{7}".repeat(times));
            let _ = self.out.flush();
        }
    }

    fn live(&mut self, digits: &str, state: &str) {
        self.live_next = Some(format!("live, not taken: {digits} ({state})"));
        self.live_in_time();
    }

    /// Shows the newest live digits once the last were there long enough to be read.
    fn live_in_time(&mut self) {
        let wait = if self.in_place { LIVE_EVERY } else { LIVE_EVERY * 10 };
        if self.live_last.as_ref().is_none_or(|(then, _)| wait <= then.elapsed()) {
            self.live_newest();
        }
    }

    /// Live digits that wait come before what is said of them; anything else is about something later.
    fn make_way(&mut self, show: &Show) {
        match show {
            Show::Live { .. } => {}
            Show::Notice(_) => self.live_newest(),
            _ => self.live_next = None,
        }
    }

    /// Shows the newest live digits where they are others than the last.
    fn live_newest(&mut self) {
        let is_shown = |text: &String| self.live_last.as_ref().is_some_and(|(_, last)| last == text);
        let Some(text) = self.live_next.take().filter(|text| !is_shown(text)) else {
            return;
        };
        self.live_last = Some((Instant::now(), text.clone()));
        if self.in_place {
            let _ = write!(self.out, "\r    {:<74.74}", clean(&text));
            let _ = self.out.flush();
            self.live_shown = true;
        } else {
            self.line(&format!("    {text}"));
        }
    }
}

/// Breaks at blanks; a longer word stands alone.
fn wrap(text: &str, width: usize) -> Vec<String> {
    let mut lines = vec![String::new()];
    for word in text.split_whitespace() {
        let line = lines.last_mut().expect("there is always a line");
        if line.is_empty() {
            line.push_str(word);
        } else if line.chars().count() + 1 + word.chars().count() <= width {
            line.push(' ');
            line.push_str(word);
        } else {
            lines.push(word.to_owned());
        }
    }
    lines
}

/// The verdict word at the head of a line.
pub fn headed(outcome: Outcome) -> &'static str {
    match outcome {
        Outcome::Pass => "pass",
        Outcome::Fail => "FAIL",
        Outcome::NotTested => "NOT TESTED",
        Outcome::Conditional => "CONDITIONAL",
    }
}

impl<W: Write> Engineer for Plain<W> {
    fn show(&mut self, show: &Show) {
        self.make_way(show);
        match show {
            Show::Stage(stage) => {
                self.line("");
                self.line(&format!("---- {} ----", stage.words()));
                self.field("caution", stage.caution());
            }
            Show::Prompt(prompt) => self.prompt(prompt),
            Show::Notice(text) => {
                self.field("note", text);
                self.marker();
            }
            Show::Refused { what, next } => {
                self.field("note", what);
                if let Some(next) = next {
                    self.field("next", next);
                }
                self.marker();
            }
            Show::Now(text) => {
                self.field("now", text);
                self.tone(2);
                self.marker();
            }
            Show::Fault(text) => {
                self.field("FAULT", text);
                self.tone(3);
            }
            Show::Danger(text) => {
                self.line("");
                for line in wrap(&clean(text), 76) {
                    self.line(&format!("!! {line}"));
                }
                self.tone(5);
            }
            Show::Live { digits, state, .. } => self.live(digits, state),
            Show::Taken { display, typed, .. } => {
                self.field(
                    "taken",
                    &format!("{display}, {}", if *typed { "typed" } else { "from the meter" }),
                );
                if !typed {
                    self.tone(1);
                }
            }
            Show::Verdict { verdict, .. } => {
                self.field(headed(verdict.outcome), &verdict.because);
                if let Some(mark) = &verdict.mark {
                    self.field("mark", mark);
                }
                if let Some(edge) = &verdict.edge {
                    self.field("close", edge);
                }
                if let Some(risk) = &verdict.risk {
                    self.field("risk", &format!("{risk} (JCGM 106)"));
                }
                if verdict.outcome != Outcome::Pass {
                    self.tone(3);
                }
            }
            Show::Finished { outcome, ending } => {
                self.line("");
                self.line(&format!("{}: {ending}", headed(*outcome)));
            }
        }
    }

    fn beat(&mut self) {
        self.live_in_time();
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::judge::window::Verdict;
    use crate::run::dialogue::Needle;

    fn shown(shows: &[Show]) -> String {
        let mut plain = Plain::new(Vec::new(), false);
        for show in shows {
            plain.show(show);
        }
        String::from_utf8(plain.out).unwrap()
    }

    #[test]
    fn live_digits_are_called_live() {
        let live = Show::Live {
            digits: "0.42 ohm".into(),
            state: "moving".into(),
            needle: Needle::Over,
        };
        assert_eq!(shown(&[live.clone(), live]), "    live, not taken: 0.42 ohm (moving)\n");
    }

    #[test]
    fn the_last_of_many_live_digits_is_shown_before_what_is_said_of_them_and_not_after_another_question() {
        let live = |digits: &str| Show::Live {
            digits: digits.into(),
            state: "moving".into(),
            needle: Needle::Over,
        };
        let changes = [live("OL"), live("0.91 ohm"), live("0.63 ohm")];
        let note = Show::Notice("vanished".into());
        assert_eq!(
            shown(&[&changes[..], &[note.clone(), note]].concat()),
            "    live, not taken: OL (moving)\n    live, not taken: 0.63 ohm (moving)\n    note     vanished\n    note     vanished\n"
        );
        let taken = Show::Taken {
            step: String::new(),
            display: "0.63 ohm".into(),
            typed: true,
        };
        let note = Show::Notice("so".into());
        assert_eq!(
            shown(&[&changes[..], &[taken, note]].concat()),
            "    live, not taken: OL (moving)\n    taken    0.63 ohm, typed\n    note     so\n"
        );
        // and time alone brings it out
        let mut plain = Plain::new(Vec::new(), false);
        changes.iter().for_each(|show| plain.show(show));
        plain.beat();
        assert!(plain.live_next.is_some());
        plain.live_last.as_mut().unwrap().0 -= LIVE_EVERY * 10;
        plain.beat();
        assert!(String::from_utf8(plain.out).unwrap().ends_with("0.63 ohm (moving)\n"));
    }

    #[test]
    fn verdicts_are_words() {
        let verdict = |outcome| Show::Verdict {
            step: "x".into(),
            verdict: Verdict::plain(outcome, "so"),
        };
        assert_eq!(
            shown(&[
                verdict(Outcome::Pass),
                verdict(Outcome::Fail),
                verdict(Outcome::NotTested)
            ]),
            "    pass     so\n    FAIL     so\n    NOT TESTED so\n"
        );
    }

    #[test]
    fn control_characters_do_not_reach_the_terminal() {
        assert_eq!(
            shown(&[Show::Notice("a\u{1b}[2Jb\u{7}".into())]),
            "    note     a[2Jb\n"
        );
    }

    #[test]
    fn long_text_wraps_at_blanks() {
        assert_eq!(wrap("aa bb cc", 5), ["aa bb", "cc"]);
        assert_eq!(wrap("aaaaaaaa b", 5), ["aaaaaaaa", "b"]);
    }
}
