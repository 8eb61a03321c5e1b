//! A small editor of sequences, by the names of their steps.
//!
//! The rule inside: an edit that changes nothing is a mistake of the case that asks for it, and panics.

use std::ops::Range;

use coreproof::located::Text;
use coreproof::sequence::shipped;

/// One change of a sequence, of its parts or of the job.
#[derive(Debug, Clone)]
pub enum Edit {
    /// The step is taken out.
    Remove(&'static str),
    /// A field of the step is given, or given anew; with an empty value it is left out.
    Set(&'static str, &'static str, String),
    /// Steps stand before the step.
    Before(&'static str, String),
    /// Steps stand after the step.
    After(&'static str, String),
    /// The first step goes before the second one.
    Move(&'static str, &'static str),
    /// The step stands under a condition.
    Only(&'static str, &'static str),
    /// An included part is taken out of the sequence.
    Out(&'static str),
    /// All the steps of the sequence, its parts apart.
    Steps(String),
    /// Every place with the first words in the sequence and its parts has the second instead.
    Words(&'static str, &'static str),
    /// The same in the job.
    Job(&'static str, &'static str),
}

/// The texts of a sequence, its own first.
pub struct Editor {
    texts: Vec<(String, String)>,
    pub job: Text,
}

impl Editor {
    pub fn new(sequence: &str, job: &str) -> Editor {
        let texts = shipped::texts(sequence).expect("it is shipped").into_iter();
        Editor {
            texts: texts.map(|text| (text.name.clone(), text.text.to_string())).collect(),
            job: shipped::job(job).expect("it is shipped"),
        }
    }

    /// The sequence with every part that it includes now.
    pub fn texts(&self) -> Vec<Text> {
        self.texts
            .iter()
            .map(|(name, text)| Text::new(name.clone(), text.clone()))
            .collect()
    }

    pub fn apply(&mut self, edit: &Edit) {
        let before = (self.texts.clone(), self.job.text.clone());
        match edit {
            Edit::Remove(id) => drop(self.take(id)),
            Edit::Set(id, field, value) => self.set(id, field, value),
            Edit::Before(id, steps) => self.insert(id, steps, true),
            Edit::After(id, steps) => self.insert(id, steps, false),
            Edit::Move(id, to) => {
                let step = self.take(id);
                self.insert(to, &step, true);
            }
            Edit::Only(id, condition) => {
                let (at, span) = self.step(id);
                let text = &mut self.texts[at].1;
                let step = format!("If({condition}, [{}]),", &text[span.clone()]);
                text.replace_range(span, &step);
            }
            Edit::Out(part) => self.words(&format!("Include(\"{part}\"),"), ""),
            Edit::Steps(steps) => {
                let text = &mut self.texts[0].1;
                let from = text.find("steps: [").expect("a sequence has steps") + "steps: [".len();
                let to = text.rfind(']').expect("a sequence has steps");
                text.replace_range(from..to, steps);
            }
            Edit::Words(from, to) => self.words(from, to),
            Edit::Job(from, to) => self.job = Text::new(self.job.name.clone(), self.job.text.replace(from, to)),
        }
        self.include();
        assert!(
            before != (self.texts.clone(), self.job.text.clone()),
            "{edit:?} changes nothing"
        );
    }

    fn words(&mut self, from: &str, to: &str) {
        for (_, text) in &mut self.texts {
            *text = text.replace(from, to);
        }
    }

    /// Shipped parts that the sequence names now are there.
    fn include(&mut self) {
        let mut named: Vec<String> = Vec::new();
        for (_, text) in &self.texts {
            let parts = text
                .split("Include(\"")
                .skip(1)
                .filter_map(|rest| rest.split('"').next());
            named.extend(parts.map(str::to_owned));
        }
        for name in named {
            if let Some(part) = shipped::part(&name).filter(|_| self.texts.iter().all(|(there, _)| *there != name)) {
                self.texts.push((name, part.text.to_string()));
            }
        }
    }

    /// The text that holds a step, and where it stands there, with the comma after it.
    fn step(&self, id: &str) -> (usize, Range<usize>) {
        let name = format!("(id: \"{id}\"");
        let mut all = self.texts.iter().enumerate();
        let (at, open) = all
            .find_map(|(at, (_, text))| Some((at, text.find(&name)?)))
            .unwrap_or_else(|| panic!("no step is called `{id}`"));
        let text = &self.texts[at].1;
        let kind = text[..open]
            .rfind(|c: char| !c.is_alphanumeric())
            .map_or(0, |there| there + 1);
        let close = top(text, open + 1).find(|(_, c)| *c == ')').expect("it is closed").0;
        let comma = usize::from(text[close + 1..].starts_with(','));
        (at, kind..close + 1 + comma)
    }

    fn take(&mut self, id: &str) -> String {
        let (at, span) = self.step(id);
        let step = self.texts[at].1[span.clone()].to_owned();
        self.texts[at].1.replace_range(span, "");
        step
    }

    fn insert(&mut self, id: &str, steps: &str, before: bool) {
        let (at, span) = self.step(id);
        let there = if before { span.start } else { span.end };
        self.texts[at].1.insert_str(there, &format!(" {} ", steps));
    }

    fn set(&mut self, id: &str, field: &str, value: &str) {
        let (at, span) = self.step(id);
        let text = &mut self.texts[at].1;
        let open = span.start + text[span.clone()].find('(').expect("a step has fields");
        let mut from = open + 1;
        let mut found = None;
        for (end, c) in top(text, open + 1) {
            if c == ',' || c == ')' {
                if text[from..end].trim_start().starts_with(&format!("{field}:")) {
                    found = Some(from..end);
                }
                from = end + 1;
            }
            if c == ')' {
                break;
            }
        }
        let given = if value.is_empty() {
            String::new()
        } else {
            format!(" {field}: {value}")
        };
        match found {
            Some(span) if value.is_empty() => text.replace_range(span.start..span.end + 1, ""),
            Some(span) => text.replace_range(span, &given),
            None => {
                let first = open + text[open..].find(',').expect("a step has more than a name");
                text.insert_str(first + 1, &format!("{given},"));
            }
        }
    }
}

/// The commas and closing brackets of the innermost bracket around a place, what strings, comments and inner brackets hold left out.
fn top(text: &str, from: usize) -> impl Iterator<Item = (usize, char)> + use<> {
    let (mut depth, mut quoted, mut comment) = (0, false, false);
    let mut found = Vec::new();
    let mut last = ' ';
    for (at, c) in text[from..].char_indices() {
        match c {
            '\n' => comment = false,
            _ if comment => {}
            '"' if last != '\\' => quoted = !quoted,
            _ if quoted => {}
            '/' if last == '/' => comment = true,
            '(' | '[' => depth += 1,
            ')' | ']' if depth == 0 => {
                found.push((from + at, c));
                break;
            }
            ')' | ']' => depth -= 1,
            ',' if depth == 0 => found.push((from + at, c)),
            _ => {}
        }
        last = c;
    }
    found.into_iter()
}
