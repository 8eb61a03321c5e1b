//! Text: a value among other words, in a line or between delimiters, with blanks or columns between.
//!
//! The rule inside: only words that were seen are accepted around the value, each exactly as it was seen; a word that
//! stands where nothing varied must stand there again. Set aside are only numbers and bars that vary while the dial
//! stands: a time, a counter, a minimum, a bar. A number with an exponent is in plain units and may carry more digits
//! than the display; it is the display's if it rounds to it.

use std::collections::BTreeSet;

use super::cut::Cut;
use super::display::Display;
use super::hypothesis::{Hypothesis, Seen, near, same_digits};
use super::lex::{Kind, MANNERS, Manner, Word, joined, lex};
use super::template::{Line, Reading, Segment, Sides};
use crate::value::quantity::{Digits, Shown};

pub(super) fn hypotheses(cut: &Cut, displays: &[Display]) -> Vec<Hypothesis> {
    let mut found: Vec<Hypothesis> = Vec::new();
    let mut tried: Vec<Vec<Vec<Word>>> = Vec::new();
    for manner in MANNERS {
        let lexed: Option<Vec<Lexed<'_>>> = frames(cut, displays)
            .map(|(display, frame)| Some((display, frame, lex(&cut.text_of(frame)?, manner))))
            .collect();
        let Some(lexed) = lexed else { return found };
        let words: Vec<Vec<Word>> = lexed.iter().map(|(_, _, words)| words.clone()).collect();
        if tried.contains(&words) {
            continue;
        }
        tried.push(words);
        for place in places(&lexed, manner) {
            found.extend(at_place(cut, &lexed, place, manner));
        }
    }
    found
}

/// Every frame with the display that stood meanwhile; what comes again in a capture once.
fn frames<'a>(cut: &'a Cut, displays: &'a [Display]) -> impl Iterator<Item = (&'a Display, &'a [u8])> {
    displays.iter().zip(&cut.frames).flat_map(|(display, frames)| {
        let different: BTreeSet<&[u8]> = frames.iter().map(Vec::as_slice).collect();
        different.into_iter().map(move |frame| (display, frame))
    })
}

/// True where a word of the text shows the display.
fn has(display: &Display, text: &str) -> bool {
    let word = |manner: Manner| lex(text, manner).iter().any(|word| shows(&word.text, display, manner));
    MANNERS.into_iter().any(word)
}

/// A display of which a frame that stood meanwhile has the number, and another of the same words has another number.
pub(super) fn unsteady<'a>(cut: &Cut, displays: &'a [Display]) -> Option<&'a Display> {
    let shape = |text: &str| {
        lex(text, MANNERS[0])
            .into_iter()
            .map(|word| word.kind)
            .collect::<Vec<Kind>>()
    };
    let numbers = displays
        .iter()
        .zip(&cut.frames)
        .filter(|(display, _)| display.number().is_some());
    numbers
        .filter(|(display, frames)| {
            let texts: Vec<String> = frames.iter().filter_map(|frame| cut.text_of(frame)).collect();
            let (showing, others): (Vec<&String>, Vec<&String>) = texts.iter().partition(|text| has(display, text));
            others
                .iter()
                .any(|other| showing.iter().any(|text| shape(text) == shape(other)))
        })
        .map(|(display, _)| display)
        .next()
}

/// Two lines of different words that were sent while one display stood.
pub(super) fn turns(cut: &Cut) -> Option<String> {
    let texts = cut
        .frames
        .iter()
        .map(|frames| frames.iter().filter_map(|frame| cut.text_of(frame)).collect::<Vec<_>>());
    texts.into_iter().find_map(|texts| {
        let shape = |text: &String| {
            lex(text, MANNERS[0])
                .into_iter()
                .map(|word| word.kind)
                .collect::<Vec<Kind>>()
        };
        let first = texts.first()?;
        let other = texts.iter().find(|text| shape(text) != shape(first))?;
        Some(format!(
            "lines of different kinds take turns, as `{}` and `{}`",
            first.escape_debug(),
            other.escape_debug()
        ))
    })
}

/// Why no text shows a number that was typed, if none does.
pub(super) fn missing(cut: &Cut, displays: &[Display]) -> Option<String> {
    displays
        .iter()
        .zip(&cut.frames)
        .filter(|(display, _)| !display.is_over())
        .find_map(|(display, frames)| {
            let texts: Vec<String> = frames.iter().filter_map(|frame| cut.text_of(frame)).collect();
            let last = texts.last().filter(|_| !texts.iter().any(|text| has(display, text)))?;
            Some(format!(
                "the digits of `{display}` stand nowhere in `{}`",
                last.escape_debug()
            ))
        })
}

/// A frame with its words and the display that stood meanwhile.
type Lexed<'a> = (&'a Display, &'a [u8], Vec<Word>);

/// Where the value stands, counted from the beginning or from the end of the words.
#[derive(Debug, Clone, Copy)]
struct Place {
    from_end: bool,
    at: usize,
}

impl Place {
    fn of(self, words: &[Word]) -> usize {
        if self.from_end {
            words.len() - 1 - self.at
        } else {
            self.at
        }
    }
}

fn places(lexed: &[Lexed<'_>], manner: Manner) -> Vec<Place> {
    let numbers = || lexed.iter().filter(|(display, ..)| !display.is_over());
    let counts: BTreeSet<usize> = numbers().map(|(_, _, words)| words.len()).collect();
    let shortest = counts.first().copied().unwrap_or(0);
    // a name with a separator in it, as `VOLT:AC` beside `VOLT`, moves the value, but not from both ends
    let ends: &[bool] = if counts.len() == 1 { &[false] } else { &[false, true] };
    let all = ends.iter().flat_map(|from_end| {
        (0..shortest).map(|at| Place {
            from_end: *from_end,
            at,
        })
    });
    all.filter(|place| numbers().all(|(display, _, words)| shows(&words[place.of(words)].text, display, manner)))
        .collect()
}

/// A number as it is written, with a point and without blanks.
fn plain(word: &str, manner: Manner) -> String {
    let word = if manner.comma {
        word.replace(',', ".")
    } else {
        word.to_owned()
    };
    word.replace(' ', "")
}

/// True where a word can be what the display shows; zeros before the digits and a plus say nothing.
fn shows(word: &str, display: &Display, manner: Manner) -> bool {
    let number = plain(word, manner);
    match &display.shown {
        Shown::Digits(digits) => {
            Digits::parse(&number).is_some_and(|sent| same_digits(&sent, digits) || near(&sent, display))
        }
        Shown::Above(digits) => number
            .strip_prefix('>')
            .and_then(Digits::parse)
            .is_some_and(|sent| same_digits(&sent, digits)),
        Shown::Over => false,
    }
}

/// True where a text can stand for over-range: no number, or infinity as IEEE 488.2 instruments send it.
fn is_over(text: &str) -> bool {
    match text.parse::<f64>() {
        Ok(size) if size.is_finite() => 9.9e37 <= size,
        _ => !text.trim().is_empty() && text.len() <= 30,
    }
}

/// The explanations with the value at a place.
fn at_place(cut: &Cut, lexed: &[Lexed<'_>], place: Place, manner: Manner) -> Vec<Hypothesis> {
    let numbers = || lexed.iter().filter(|(display, ..)| !display.is_over());
    let befores: BTreeSet<usize> = numbers().map(|(_, _, words)| place.of(words)).collect();
    let afters: BTreeSet<usize> = numbers()
        .map(|(_, _, words)| words.len() - 1 - place.of(words))
        .collect();
    let fixed = |counts: &BTreeSet<usize>| counts.first().copied().filter(|_| counts.len() == 1);
    let (before, after) = (fixed(&befores), fixed(&afters));
    let mut lines: Vec<Line<'_>> = Vec::new();
    let glued = Glued::of(lexed, place);
    for (display, frame, words) in lexed {
        let apart = if display.is_over() {
            glued.split(display, words)
        } else {
            words.clone()
        };
        let words = &apart;
        let (from, to) = if display.is_over() {
            // over-range may be spelt in more words or in fewer than a number
            let ends = (before, after.map(|after| words.len().checked_sub(after)));
            match ends {
                (Some(from), Some(Some(to))) if from < to => (from, to),
                (Some(from), None) if from < words.len() => (from, from + 1),
                (None, Some(Some(to))) if 0 < to => (to - 1, to),
                _ => return Vec::new(),
            }
        } else {
            (place.of(words), place.of(words) + 1)
        };
        let value = joined(&words[from..to]);
        if display.is_over() && !is_over(&plain(&value, manner)) {
            return Vec::new();
        }
        lines.push(Line {
            display,
            frame,
            before: words[..from].to_vec(),
            gap_before: words[from].gap.clone(),
            value,
            after: words[to..].to_vec(),
        });
    }
    let Some(sides) = sides(&lines) else { return Vec::new() };
    let name = format!(
        "word {}{}",
        place.at + 1,
        if place.from_end { " from the end" } else { "" }
    );
    let mut found = Vec::new();
    for function in sides.runs() {
        for unit in sides.runs() {
            found.extend(one(cut, &lines, &sides, &name, (function, unit), manner));
        }
    }
    found
}

/// Words that stand beside the value without a blank between, of which letters for over-range are told apart.
struct Glued {
    before: BTreeSet<String>,
    /// Words after the value without the letter of the prefix, and the unit that they name.
    after: Vec<(crate::value::quantity::Unit, String)>,
}

impl Glued {
    fn of(lexed: &[Lexed<'_>], place: Place) -> Glued {
        let mut glued = Glued {
            before: BTreeSet::new(),
            after: Vec::new(),
        };
        for (display, _, words) in lexed.iter().filter(|(display, ..)| !display.is_over()) {
            let at = place.of(words);
            if words[at].gap.is_empty() && 0 < at {
                glued.before.insert(words[at - 1].text.clone());
            }
            let next = words.get(at + 1).filter(|word| word.gap.is_empty());
            if let Some(stem) = next.and_then(|word| word.text.strip_prefix(display.prefix.letter())) {
                glued.after.push((display.unit, stem.to_owned()));
            }
        }
        glued
    }

    /// The words of an over-range with its letters apart from what is glued to them.
    fn split(&self, display: &Display, words: &[Word]) -> Vec<Word> {
        let mut apart = Vec::new();
        for word in words {
            let mut word = word.clone();
            let longer = |part: &str| !part.is_empty() && part.len() < word.text.len();
            let before = self
                .before
                .iter()
                .filter(|part| longer(part))
                .find(|part| word.text.starts_with(part.as_str()));
            if let (Kind::Other, Some(before)) = (word.kind, before) {
                let rest = word.text[before.len()..].to_owned();
                apart.push(Word {
                    text: before.clone(),
                    ..word.clone()
                });
                word = Word {
                    gap: String::new(),
                    text: rest,
                    kind: Kind::Other,
                };
            }
            let of_unit = self.after.iter().filter(|(unit, _)| *unit == display.unit);
            let after = of_unit
                .map(|(_, stem)| format!("{}{stem}", display.prefix.letter()))
                .find(|after| {
                    !after.is_empty() && after.len() < word.text.len() && word.text.ends_with(after.as_str())
                });
            match after {
                Some(after) if word.kind == Kind::Other => {
                    let value = word.text[..word.text.len() - after.len()].to_owned();
                    apart.push(Word { text: value, ..word });
                    apart.push(Word {
                        gap: String::new(),
                        text: after,
                        kind: Kind::Other,
                    });
                }
                _ => apart.push(word),
            }
        }
        apart
    }
}

/// What stands before and after the value as runs of words and as what is set aside; `None` where something varies that
/// may not.
fn sides(lines: &[Line<'_>]) -> Option<Sides> {
    let of = |words: &dyn Fn(&Line<'_>) -> Vec<Word>| -> Option<Vec<Segment>> {
        let columns: Vec<Vec<Word>> = lines.iter().map(words).collect();
        let counts: BTreeSet<usize> = columns.iter().map(Vec::len).collect();
        let count = *counts.last()?;
        if counts.len() != 1 {
            // nothing can be set aside where words cannot be counted
            return Some(vec![Segment::run(&columns, 0, None)]);
        }
        let aside: Vec<bool> = (0..count)
            .map(|at| is_aside(lines, &columns, at))
            .collect::<Option<_>>()?;
        let mut segments = Vec::new();
        let mut from = 0;
        for at in (0..count).filter(|at| aside[*at]) {
            segments.extend((from < at).then(|| Segment::run(&columns, from, Some(at))));
            segments.push(Segment::aside(&columns, at));
            from = at + 1;
        }
        segments.extend((from < count).then(|| Segment::run(&columns, from, Some(count))));
        Some(segments)
    };
    Some(Sides {
        before: of(&|line| line.before.clone())?,
        after: of(&|line| line.after.clone())?,
    })
}

/// Different texts that a word must have had before it is set aside without running on while a display stands.
const ASIDE_MIN: usize = 3;

/// Whether a word is set aside: it is always a number, a time or a bar, and it varies while the dial stands. `None` where
/// it varies while the very display stands and is none of these.
fn is_aside(lines: &[Line<'_>], columns: &[Vec<Word>], at: usize) -> Option<bool> {
    // a date stands still while a meter is taught, and no dial is named by one
    if columns.iter().all(|words| words[at].kind == Kind::Stamp) {
        return Some(true);
    }
    let texts: BTreeSet<&str> = columns.iter().map(|words| words[at].text.as_str()).collect();
    let varies = |alike: &dyn Fn(&Display, &Display) -> bool| {
        lines.iter().zip(columns).any(|(a, x)| {
            lines
                .iter()
                .zip(columns)
                .any(|(b, y)| alike(a.display, b.display) && x[at].text != y[at].text)
        })
    };
    // what is above range may be named in a minimum as well
    let loose = lines
        .iter()
        .zip(columns)
        .all(|(line, words)| line.display.is_over() || words[at].kind != Kind::Other);
    let runs_on = varies(&|a, b| std::ptr::eq(a, b));
    let in_kind =
        varies(&|a, b| a.function == b.function && a.unit_text() == b.unit_text() && !a.is_over() && !b.is_over());
    match (runs_on, loose) {
        (true, false) => None,
        (true, true) => Some(true),
        (false, loose) => Some(loose && in_kind && ASIDE_MIN <= texts.len()),
    }
}

fn one(
    cut: &Cut,
    lines: &[Line<'_>],
    sides: &Sides,
    word: &str,
    (function, unit): ((bool, usize), (bool, usize)),
    manner: Manner,
) -> Option<Hypothesis> {
    let scaled = lines
        .iter()
        .any(|line| !line.display.is_over() && line.value.contains(['e', 'E']));
    let reading = Reading {
        cut,
        lines,
        sides,
        function,
        unit,
        manner,
        scaled,
    };
    let decode = reading.decode()?;
    let seen: Vec<Seen<'_>> = lines
        .iter()
        .map(|line| Seen {
            display: line.display,
            frame: line.frame,
        })
        .collect();
    let mut examples: Vec<String> = Vec::new();
    for line in lines {
        let text = crate::meter::decode::text_of(line.frame);
        if lines
            .iter()
            .find(|first| std::ptr::eq(first.display, line.display))
            .is_some_and(|first| std::ptr::eq(first, line))
        {
            examples.push(format!("{text:?}"));
        }
    }
    let name = |(before, _): (bool, usize)| if before { "before" } else { "after" };
    let what = format!(
        "text, the value {}in {word}, the function {} it, the unit {} it",
        if scaled { "with an exponent " } else { "" },
        name(function),
        name(unit)
    );
    Hypothesis::prove((what, word.to_owned()), cut, &decode, &seen, &examples)
}

#[cfg(test)]
mod tests {
    use crate::meter::decode::{Decoded, decode};
    use crate::meter::profile::find;
    use crate::teach::display::Display;
    use crate::teach::learner::Learner;

    /// Teaches the displays with their lines, then reads another line.
    fn check(shown: &[(&str, &str)], readings: &[(&str, &str)]) {
        let mut learner = Learner::new();
        for (display, line) in shown {
            let bytes = format!("{line}\r\n").repeat(6).into_bytes();
            learner.show(Display::parse(display).unwrap(), &bytes).unwrap();
        }
        learner.is_settled().unwrap();
        let learnt = learner
            .write("learnt", &find("line-stream").unwrap().line, true)
            .unwrap();
        for (line, expected) in readings {
            let said = match decode(&learnt.profile, line.as_bytes()) {
                Decoded::Reading(reading) => format!("{}, {}", reading.display(), reading.function.unwrap().dial()),
                _ => "refused".into(),
            };
            assert_eq!(said, *expected, "{line}");
        }
    }

    #[test]
    fn a_separator_in_a_name_moves_the_value_on_one_side_only() {
        let displays = ["12.34 V dc", "-56.78 V dc", "9.012 ohm", "230.1 V ac"];
        let before = ["VOLT;12.34", "VOLT;-56.78", "RES;9.012", "VOLT:AC;230.1"];
        let shown: Vec<_> = displays.into_iter().zip(before).collect();
        check(
            &shown,
            &[
                ("VOLT:AC;99.5", "99.5 V, a.c. volts"),
                ("VOLT;99.5", "99.5 V, d.c. volts"),
                ("VOLT:DC;99.5", "refused"),
                ("AC;99.5", "refused"),
            ],
        );
        let after = ["12.34;VOLT", "-56.78;VOLT", "9.012;RES", "230.1;VOLT:AC"];
        let shown: Vec<_> = displays.into_iter().zip(after).collect();
        check(
            &shown,
            &[
                ("99.5;VOLT:AC", "99.5 V, a.c. volts"),
                ("99.5;RES", "99.5 ohm, ohms"),
                ("99.5;VOLT:DC", "refused"),
            ],
        );
    }
}
