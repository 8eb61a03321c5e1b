//! The expression and the template for texts whose value was found.
//!
//! The rule inside: runs of words are accepted as they were seen and no otherwise; function and unit are looked up in one run
//! each.

use super::cut::Cut;
use super::display::Display;
use super::lex::{Kind, Manner, Word, joined};
use crate::value::quantity::Shown;

/// A frame with its value found; words before and after it.
pub(super) struct Line<'a> {
    pub(super) display: &'a Display,
    pub(super) frame: &'a [u8],
    pub(super) before: Vec<Word>,
    pub(super) gap_before: String,
    pub(super) value: String,
    pub(super) after: Vec<Word>,
}

/// Words side by side that are taken as one, or a word that is set aside.
pub(super) struct Segment {
    /// What it says in each line.
    texts: Vec<String>,
    /// What stands before it in each line.
    gaps: Vec<String>,
    /// What is set aside, as an expression.
    class: Option<&'static str>,
}

impl Segment {
    /// The words from one to before another, or to the end.
    pub(super) fn run(columns: &[Vec<Word>], from: usize, to: Option<usize>) -> Segment {
        let words = |all: &Vec<Word>| joined(&all[from.min(all.len())..to.unwrap_or(all.len())]);
        Segment {
            texts: columns.iter().map(words).collect(),
            gaps: columns
                .iter()
                .map(|all| all.get(from).map_or(String::new(), |word| word.gap.clone()))
                .collect(),
            class: None,
        }
    }

    /// One word that is set aside.
    pub(super) fn aside(columns: &[Vec<Word>], at: usize) -> Segment {
        let bars = columns.iter().any(|words| words[at].kind == Kind::Bar);
        Segment {
            class: Some(if bars {
                "[-|=*#_.<>+]*"
            } else {
                "[-+]? *[0-9][-0-9:/.,+eE]*"
            }),
            ..Segment::run(columns, at, Some(at + 1))
        }
    }

    fn body(&self) -> String {
        match self.class {
            None => alternatives(self.texts.iter().map(String::as_str)),
            Some(class) => {
                let fits = regex::Regex::new(&format!(r"\A(?:{class})\z")).expect("it is one");
                let others = self
                    .texts
                    .iter()
                    .map(String::as_str)
                    .filter(|text| !fits.is_match(text));
                let others = alternatives(others);
                if others.is_empty() {
                    class.to_owned()
                } else {
                    format!("{class}|{others}")
                }
            }
        }
    }
}

/// What stands before and after the value.
pub(super) struct Sides {
    pub(super) before: Vec<Segment>,
    pub(super) after: Vec<Segment>,
}

impl Sides {
    /// The runs in which something can be looked up: whether before the value, and which.
    pub(super) fn runs(&self) -> Vec<(bool, usize)> {
        let of = |before: bool, segments: &[Segment]| -> Vec<(bool, usize)> {
            let usable =
                |segment: &Segment| segment.class.is_none() && segment.texts.iter().all(|text| !text.is_empty());
            segments
                .iter()
                .enumerate()
                .filter(|(_, one)| usable(one))
                .map(|(at, _)| (before, at))
                .collect()
        };
        [of(true, &self.before), of(false, &self.after)].concat()
    }

    fn segment(&self, (before, at): (bool, usize)) -> &Segment {
        if before { &self.before[at] } else { &self.after[at] }
    }
}

/// What stands between two words as an expression: as many blanks as you like where there was always one.
fn gap(seen: &[String]) -> String {
    let blank = |text: &&String| text.bytes().all(|b| b == b' ');
    if seen.iter().all(|text| blank(&text)) {
        let none = seen.iter().any(String::is_empty);
        let any = seen.iter().any(|text| !text.is_empty());
        return match (any, none) {
            (false, _) => "",
            (true, false) => " +",
            (true, true) => " *",
        }
        .into();
    }
    // the sign between two words must be the same, blanks around it may vary
    let core: Vec<&str> = seen.iter().map(|text| text.trim_matches(' ')).collect();
    if core.iter().all(|text| *text == core[0]) {
        let side = |of: &dyn Fn(&str) -> usize| {
            if seen.iter().all(|text| of(text) == 0) {
                ""
            } else {
                " *"
            }
        };
        let before = side(&|text| text.len() - text.trim_start_matches(' ').len());
        let after = side(&|text| text.len() - text.trim_end_matches(' ').len());
        return format!("{before}{}{after}", regex::escape(core[0]));
    }
    format!("(?:{})", alternatives(seen.iter().map(String::as_str)))
}

fn alternatives<'a>(words: impl Iterator<Item = &'a str>) -> String {
    let mut all: Vec<String> = words.map(regex::escape).collect();
    all.sort();
    all.dedup();
    // the longest first, so that a word that begins another does not hide it
    all.sort_by_key(|word| std::cmp::Reverse(word.len()));
    all.join("|")
}

/// Text as a profile writes it.
fn quoted(text: &str) -> String {
    format!("{text:?}")
}

fn map<'a>(entries: impl Iterator<Item = (&'a str, String)>) -> Option<String> {
    let mut known: Vec<(&str, String)> = Vec::new();
    for (word, meaning) in entries {
        match known.iter().find(|(earlier, _)| *earlier == word) {
            // one word for two things explains nothing
            Some((_, other)) if *other != meaning => return None,
            Some(_) => {}
            None if word.is_empty() || 32 < word.len() => return None,
            None => known.push((word, meaning)),
        }
    }
    let entries = known
        .into_iter()
        .map(|(word, meaning)| format!("{}: {meaning}", quoted(word)));
    Some(entries.collect::<Vec<_>>().join(", "))
}

/// One way to read the texts: the value in its place, the words for function and unit in one run each.
pub(super) struct Reading<'a> {
    pub(super) cut: &'a Cut,
    pub(super) lines: &'a [Line<'a>],
    pub(super) sides: &'a Sides,
    pub(super) function: (bool, usize),
    pub(super) unit: (bool, usize),
    pub(super) manner: Manner,
    /// Numbers are sent with an exponent in plain units, whatever prefix is on the display.
    pub(super) scaled: bool,
}

impl Reading<'_> {
    fn words(&self, which: (bool, usize), of: &dyn Fn(&Display) -> String) -> Option<String> {
        let texts = self.sides.segment(which).texts.iter().map(String::as_str);
        map(texts.zip(self.lines.iter().map(|line| of(line.display))))
    }

    /// How over-range was spelt; a number that stands for it needs no spelling.
    fn overs(&self) -> Vec<&str> {
        let overs = self
            .lines
            .iter()
            .filter(|line| line.display.is_over())
            .map(|line| line.value.as_str());
        let mut overs: Vec<&str> = overs.filter(|text| text.parse::<f64>().is_err()).collect();
        overs.sort_unstable();
        overs.dedup();
        overs
    }

    pub(super) fn decode(&self) -> Option<String> {
        let unit = |display: &Display| match self.scaled {
            true => quoted(display.unit.symbol()),
            false => quoted(&display.unit_text()),
        };
        let functions = self.words(self.function, &|display| format!("(is: {})", display.function_text()))?;
        let units = self.words(self.unit, &unit)?;
        let over: Vec<String> = self.overs().into_iter().map(quoted).collect();
        let over = match over.as_slice() {
            [] => String::new(),
            words => format!(" over: [{}],", words.join(", ")),
        };
        let above = if self.has_above() { " above: \">\"," } else { "" };
        let point = if self.manner.comma { " point: \",\"," } else { "" };
        Some(format!(
            "Pattern(\n        pattern: {},\n        write: {},\n        EXAMPLES\n        functions: {{{functions}}},\n        \
             units: {{{units}}},\n       {over}{above}{point}\n    )",
            quoted(&self.pattern()),
            quoted(&(self.write() + &self.seal()))
        ))
    }

    /// What stands for the checksum in the template, before it is put in.
    fn seal(&self) -> String {
        self.cut.sealed.as_ref().map_or(String::new(), |sealed| {
            let mark = sealed.mark.map_or(String::new(), String::from);
            mark + &"0".repeat(sealed.digits)
        })
    }

    fn has_above(&self) -> bool {
        self.lines
            .iter()
            .any(|line| matches!(line.display.shown, Shown::Above(_)))
    }

    /// The expression over the whole text.
    fn pattern(&self) -> String {
        let side = |before: bool, segments: &[Segment]| -> String {
            let mut text = String::new();
            for (at, segment) in segments.iter().enumerate() {
                let mut group = format!("(?:{})", segment.body());
                for (name, of) in [("unit", self.unit), ("function", self.function)] {
                    if of == (before, at) {
                        group = format!("(?P<{name}>{group})");
                    }
                }
                text += &gap(&segment.gaps);
                text += &group;
            }
            text
        };
        let gaps: Vec<String> = self.lines.iter().map(|line| line.gap_before.clone()).collect();
        let padded = self
            .lines
            .iter()
            .any(|line| self.cut.text_of(line.frame).is_some_and(|text| text.ends_with(' ')));
        format!(
            "{}{}(?P<value>{}){}{}{}",
            side(true, &self.sides.before),
            gap(&gaps),
            self.value(),
            side(false, &self.sides.after),
            if padded { " *" } else { "" },
            self.cut.sealed.as_ref().map_or(String::new(), |sealed| {
                let mark = sealed
                    .mark
                    .map_or(String::new(), |mark| regex::escape(&mark.to_string()));
                format!("{mark}[0-9A-Fa-f]{{{}}}", sealed.digits)
            })
        )
    }

    /// The expression for the value.
    fn value(&self) -> String {
        let number = format!(
            "{}[+-]?{}[0-9]+(?:{}[0-9]+)?{}",
            if self.has_above() { ">?" } else { "" },
            if self.manner.apart { " *" } else { "" },
            if self.manner.comma { "," } else { "\\." },
            if self.scaled { "(?:[eE][+-]?[0-9]+)?" } else { "" }
        );
        match self.overs().as_slice() {
            [] => number,
            overs => format!("(?:{number}|{})", alternatives(overs.iter().copied())),
        }
    }

    /// The template: what stands around the value in the first line, with a blank where it is looked up.
    fn write(&self) -> String {
        let side = |before: bool, segments: &[Segment]| -> String {
            let mut text = String::new();
            for (at, segment) in segments.iter().enumerate() {
                text += &segment.gaps[0];
                text += match (self.function == (before, at), self.unit == (before, at)) {
                    (true, _) => "{function}",
                    (false, true) => "{unit}",
                    (false, false) => &segment.texts[0],
                };
            }
            text
        };
        format!(
            "{}{}{{value}}{}",
            side(true, &self.sides.before),
            self.lines[0].gap_before,
            side(false, &self.sides.after)
        )
    }
}
