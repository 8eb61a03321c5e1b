//! The shape of a profile file and the checks that turn it into a [`Profile`].
//!
//! The rule inside: checks never stop at the first error; each adds a problem at its place, and only a file without
//! problems becomes a profile. The examples in the file are the proof: each must decode, and what the template writes
//! from it must decode to the same.

use std::fmt;
use std::marker::PhantomData;

use regex::RegexBuilder;
use serde::de::{MapAccess, Visitor};
use serde::{Deserialize, Deserializer};

use crate::pure::located::{self, Located, Problem};
use crate::pure::quantity::{Prefix, Unit, parse_unit};
use crate::pure::reading::{Flag, Function};

use super::pattern::{Dial, Part, Parts, Pattern, Piece, Unread};
use super::profile::{Decode, FORMAT, Framing, Line, Parity, Profile, Talk};

/// Longest text in a profile apart from the expression, in bytes.
const TEXT_BYTES_MAX: usize = 256;
/// Longest regular expression, in bytes.
const PATTERN_BYTES_MAX: usize = 1024;
/// Largest compiled expression, in bytes.
const REGEX_BYTES_MAX: usize = 1 << 20;
/// Most entries of one map or list.
const ENTRIES_MAX: usize = 64;

/// Only the version, so that a newer file is named as one whatever else it holds.
#[derive(Deserialize)]
struct Head {
    format: Located<String>,
}

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct RawProfile {
    format: Located<String>,
    name: Located<String>,
    about: Located<String>,
    line: RawLine,
    talk: RawTalk,
    frame: RawFraming,
    decode: RawDecode,
    quiet_ms_max: Located<u32>,
}

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct RawLine {
    baud: Located<u32>,
    data_bits: Located<u8>,
    parity: Located<Parity>,
    stop_bits: Located<u8>,
    dtr: bool,
    rts: bool,
}

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
enum RawTalk {
    Stream,
    Query {
        #[serde(default)]
        setup: Vec<Located<String>>,
        ask: Located<String>,
        end: Located<String>,
    },
}

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
enum RawFraming {
    Line {
        end: Located<String>,
        bytes_max: Located<usize>,
    },
}

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
enum RawDecode {
    Pattern {
        pattern: Located<String>,
        write: Located<String>,
        examples: Located<Vec<Located<String>>>,
        #[serde(default)]
        functions: Map<RawDial>,
        #[serde(default)]
        units: Map<String>,
        #[serde(default)]
        flags: Map<RawMark>,
        #[serde(default)]
        over: Vec<Located<String>>,
        #[serde(default)]
        above: Option<Located<String>>,
    },
}

#[derive(Deserialize)]
#[serde(deny_unknown_fields, rename = "Dial")]
struct RawDial {
    is: Located<Function>,
    #[serde(default)]
    unit: Option<Located<String>>,
}

#[derive(Clone, Copy, Deserialize)]
#[serde(rename_all = "snake_case", rename = "Mark")]
enum RawMark {
    Nothing,
    Hold,
    Relative,
    LowBattery,
}

/// A map in the order of the file that keeps doubled keys, so that they can be reported.
struct Map<T>(Vec<(Located<String>, Located<T>)>);

impl<T> Default for Map<T> {
    fn default() -> Self {
        Map(Vec::new())
    }
}

impl<'de, T: serde::de::DeserializeOwned> Deserialize<'de> for Map<T> {
    fn deserialize<D: Deserializer<'de>>(deserializer: D) -> Result<Self, D::Error> {
        struct Entries<T>(PhantomData<T>);
        impl<'de, T: serde::de::DeserializeOwned> Visitor<'de> for Entries<T> {
            type Value = Map<T>;
            fn expecting(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
                f.write_str("a map from text to its meaning")
            }
            fn visit_map<A: MapAccess<'de>>(self, mut access: A) -> Result<Map<T>, A::Error> {
                let mut entries = Vec::new();
                while let Some(entry) = access.next_entry()? {
                    entries.push(entry);
                }
                Ok(Map(entries))
            }
        }
        deserializer.deserialize_map(Entries(PhantomData))
    }
}

pub(super) fn read(text: &str) -> Result<Profile, Vec<Problem>> {
    if let Ok(head) = located::read::<Head>(text)
        && let Some(problem) = format_problem(&head.format)
    {
        return Err(vec![problem]);
    }
    let raw: RawProfile = located::read(text).map_err(|problem| vec![problem])?;
    let mut check = Check { problems: Vec::new() };
    check.problems.extend(format_problem(&raw.format));
    check.name(&raw.name);
    check.length(&raw.about, 1, TEXT_BYTES_MAX);
    check.number(&raw.quiet_ms_max, 250, 60_000);
    let line = check.line(raw.line);
    let talk = check.talk(raw.talk);
    let frame = check.framing(raw.frame);
    let decode = check.decode(raw.decode, &frame).map(Decode::Pattern);
    match decode {
        Some(decode) if check.problems.is_empty() => Ok(Profile {
            name: raw.name.value,
            about: raw.about.value,
            line,
            talk,
            frame,
            decode,
            quiet_ms_max: raw.quiet_ms_max.value,
            text: text.to_owned(),
        }),
        _ => {
            assert!(!check.problems.is_empty(), "a profile is refused for a reason");
            check.problems.sort_by_key(|problem| problem.span.start);
            Err(check.problems)
        }
    }
}

fn format_problem(format: &Located<String>) -> Option<Problem> {
    let version = |text: &str| -> Option<(u32, u32)> {
        let (major, minor) = text.split_once('.')?;
        Some((major.parse().ok()?, minor.parse().ok()?))
    };
    let known = version(FORMAT).expect("our own version");
    match version(format) {
        Some(found) if found == known => None,
        Some(found) if known < found => Some(
            Problem::new(
                &format.span,
                format!(
                    "profile format `{}` is newer than `{FORMAT}`, the newest read here",
                    format.value
                ),
            )
            .hint("install a newer coreproof, or ask for the profile in the older format"),
        ),
        _ => Some(
            Problem::new(&format.span, format!("`{}` is not a profile format", format.value))
                .hint(format!("write `format: \"{FORMAT}\"`")),
        ),
    }
}

struct Check {
    problems: Vec<Problem>,
}

impl Check {
    fn add(&mut self, span: &std::ops::Range<usize>, what: impl Into<String>) {
        self.problems.push(Problem::new(span, what));
    }

    fn add_with_hint(&mut self, span: &std::ops::Range<usize>, what: impl Into<String>, hint: impl Into<String>) {
        self.problems.push(Problem::new(span, what).hint(hint));
    }

    fn name(&mut self, name: &Located<String>) {
        let word = |word: &str| !word.is_empty() && word.bytes().all(|b| b.is_ascii_lowercase() || b.is_ascii_digit());
        if name.len() > 64 || !name.split('-').all(word) {
            self.add_with_hint(
                &name.span,
                format!("`{}` is not a profile name", name.value),
                "use lower-case words and digits joined by hyphens, at most 64 characters",
            );
        }
    }

    fn length(&mut self, text: &Located<String>, low: usize, high: usize) {
        if text.len() < low || high < text.len() {
            self.add(
                &text.span,
                format!("this holds {} bytes, {low} to {high} are allowed", text.len()),
            );
        }
    }

    fn number<T: PartialOrd + fmt::Display + Copy>(&mut self, number: &Located<T>, low: T, high: T) {
        if !(low <= number.value && number.value <= high) {
            self.add(&number.span, format!("{} is outside {low} to {high}", number.value));
        }
    }

    fn entries(&mut self, span: &std::ops::Range<usize>, count: usize) {
        if ENTRIES_MAX < count {
            self.add(span, format!("{count} entries, at most {ENTRIES_MAX} are allowed"));
        }
    }

    fn line(&mut self, raw: RawLine) -> Line {
        self.number(&raw.baud, 50, 4_000_000);
        self.number(&raw.data_bits, 5, 8);
        self.number(&raw.stop_bits, 1, 2);
        Line {
            baud: raw.baud.value,
            data_bits: raw.data_bits.value,
            parity: raw.parity.value,
            stop_bits: raw.stop_bits.value,
            dtr: raw.dtr,
            rts: raw.rts,
        }
    }

    fn talk(&mut self, raw: RawTalk) -> Talk {
        match raw {
            RawTalk::Stream => Talk::Stream,
            RawTalk::Query { setup, ask, end } => {
                self.entries(&ask.span, setup.len());
                self.length(&end, 1, 8);
                for line in setup.iter().chain([&ask]) {
                    self.length(line, 1, TEXT_BYTES_MAX);
                    if !end.is_empty() && line.contains(end.as_str()) {
                        self.add(&line.span, "a line that is sent may not hold the line end itself");
                    }
                }
                Talk::Query {
                    setup: setup.into_iter().map(|line| line.value).collect(),
                    ask: ask.value,
                    end: end.value,
                }
            }
        }
    }

    fn framing(&mut self, raw: RawFraming) -> Framing {
        match raw {
            RawFraming::Line { end, bytes_max } => {
                self.length(&end, 1, 8);
                self.number(&bytes_max, 2, 4096);
                Framing::Line {
                    end: end.value.into_bytes(),
                    bytes_max: bytes_max.value,
                }
            }
        }
    }

    fn decode(&mut self, raw: RawDecode, frame: &Framing) -> Option<Pattern> {
        let RawDecode::Pattern {
            pattern,
            write,
            examples,
            functions,
            units,
            flags,
            over,
            above,
        } = raw;
        let regex = self.regex(&pattern);
        for text in over.iter().chain(above.as_ref()) {
            self.length(text, 1, 32);
        }
        if let Some(last) = over.last() {
            self.entries(&last.span, over.len());
        }
        let write = self.template(&write);
        let groups = |part: Part| match &regex {
            Some(regex) => regex.capture_names().flatten().any(|name| name == part.name()),
            None => true,
        };
        self.map_fits(&pattern, "functions", groups(Part::Function), &functions);
        self.map_fits(&pattern, "units", groups(Part::Unit), &units);
        self.map_fits(&pattern, "flags", groups(Part::Flags), &flags);
        if regex.is_some() && !groups(Part::Function) && !groups(Part::Unit) {
            self.add_with_hint(
                &pattern.span,
                "the pattern has neither a group `unit` nor a group `function`, so a number has no unit",
                "add `(?P<unit>...)` or `(?P<function>...)`",
            );
        }
        let functions = self.functions(functions, groups(Part::Unit));
        let read = Pattern {
            regex: regex?,
            functions,
            units: self.units(units),
            flags: flags.0.into_iter().map(|(k, v)| (k.value, flag_of(v.value))).collect(),
            over: over.into_iter().map(|text| text.value).collect(),
            above: above.map(|text| text.value),
            write: write?,
        };
        if self.problems.is_empty() {
            self.examples(&read, &examples, frame);
        }
        Some(read)
    }

    fn regex(&mut self, pattern: &Located<String>) -> Option<regex::Regex> {
        self.length(pattern, 1, PATTERN_BYTES_MAX);
        // alone first, so that brackets which only close against the anchors are caught
        let compile = |text: &str| RegexBuilder::new(text).size_limit(REGEX_BYTES_MAX).build();
        let regex = match compile(pattern).and_then(|_| compile(&format!(r"\A(?:{})\z", pattern.value))) {
            Ok(regex) => regex,
            Err(error) => {
                self.add(&pattern.span, regex_fault(&error));
                return None;
            }
        };
        for name in regex.capture_names().flatten() {
            if !Part::ALL.iter().any(|part| part.name() == name) {
                self.add_with_hint(
                    &pattern.span,
                    format!("the pattern has a group `{name}` that means nothing here"),
                    "the groups are `value`, `function`, `unit` and `flags`",
                );
            }
        }
        if !regex.capture_names().flatten().any(|name| name == Part::Value.name()) {
            self.add_with_hint(
                &pattern.span,
                "the pattern has no group `value`",
                "put `(?P<value>...)` around the number",
            );
        }
        Some(regex)
    }

    fn template(&mut self, write: &Located<String>) -> Option<Vec<Piece>> {
        self.length(write, 1, TEXT_BYTES_MAX);
        let mut pieces = Vec::new();
        let mut rest = write.as_str();
        while let Some((text, after)) = rest.split_once('{') {
            let blank = after.split_once('}').and_then(|(name, after)| {
                let part = Part::ALL.into_iter().find(|part| part.name() == name)?;
                Some((part, after))
            });
            let Some((part, after)) = blank else {
                self.add_with_hint(
                    &write.span,
                    "`{` in `write` begins no known blank",
                    "the blanks are `{value}`, `{function}`, `{unit}` and `{flags}`",
                );
                return None;
            };
            pieces.extend([Piece::Text(text.to_owned()), Piece::Blank(part)]);
            rest = after;
        }
        pieces.push(Piece::Text(rest.to_owned()));
        pieces.retain(|piece| *piece != Piece::Text(String::new()));
        Some(pieces)
    }

    fn map_fits<T>(&mut self, pattern: &Located<String>, name: &str, has_group: bool, map: &Map<T>) {
        let group = name.strip_suffix('s').filter(|_| name != "flags").unwrap_or(name);
        match map.0.first() {
            None if has_group => self.add_with_hint(
                &pattern.span,
                format!("the pattern has a group `{group}`, and `{name}` is empty"),
                format!("say what each text means in `{name}: {{...}}`"),
            ),
            Some((key, _)) if !has_group => self.add_with_hint(
                &key.span,
                format!("`{name}` is given, and the pattern has no group `{group}`"),
                format!("put `(?P<{group}>...)` into the pattern, or leave `{name}` out"),
            ),
            Some((key, _)) => self.entries(&key.span, map.0.len()),
            None => {}
        }
        for (at, (key, _)) in map.0.iter().enumerate() {
            self.length(key, 1, 32);
            if map.0[..at].iter().any(|(earlier, _)| earlier.value == key.value) {
                self.add(&key.span, format!("`{}` stands twice in `{name}`", key.value));
            }
        }
    }

    fn functions(&mut self, map: Map<RawDial>, has_unit: bool) -> Vec<(String, Dial)> {
        let mut functions = Vec::new();
        for (key, dial) in map.0 {
            let function = dial.value.is.value;
            let unit = dial.value.unit.as_ref().and_then(|unit| self.unit(unit));
            match (&dial.value.unit, unit) {
                (None, _) if !has_unit => self.add_with_hint(
                    &key.span,
                    format!("`{}` has no unit, and the pattern has no group `unit`", key.value),
                    format!("write `(is: ..., unit: \"{}\")`", function.unit()),
                ),
                (Some(text), Some((_, unit))) if unit != function.unit() => self.add(
                    &text.span,
                    format!(
                        "`{}` is {}, {} shows {}",
                        text.value,
                        unit.quantity(),
                        function.dial(),
                        function.unit().quantity()
                    ),
                ),
                _ => {}
            }
            functions.push((key.value, Dial { function, unit }));
        }
        functions
    }

    fn units(&mut self, map: Map<String>) -> Vec<(String, (Prefix, Unit))> {
        let mut units = Vec::new();
        for (key, text) in map.0 {
            units.extend(self.unit(&text).map(|unit| (key.value, unit)));
        }
        units
    }

    fn unit(&mut self, text: &Located<String>) -> Option<(Prefix, Unit)> {
        let unit = parse_unit(text);
        if unit.is_none() {
            self.add_with_hint(
                &text.span,
                format!("`{}` is not a unit known here", text.value),
                "for example `ohm`, `kohm`, `Mohm`, `V`, `mV`",
            );
        }
        unit
    }

    fn examples(&mut self, pattern: &Pattern, examples: &Located<Vec<Located<String>>>, frame: &Framing) {
        if examples.is_empty() || ENTRIES_MAX < examples.len() {
            self.add_with_hint(
                &examples.span,
                format!("{} examples, 1 to {ENTRIES_MAX} are needed", examples.len()),
                "give at least one frame as the meter sends it, without its end",
            );
        }
        let Framing::Line { end, bytes_max } = frame;
        for example in &examples.value {
            let holds_end = example.as_bytes().windows(end.len()).any(|window| window == end);
            if holds_end || *bytes_max < example.len() {
                self.add(
                    &example.span,
                    format!("an example holds no line end and at most {bytes_max} bytes"),
                );
                continue;
            }
            match pattern.read(example) {
                Err(Unread::Refused(why) | Unread::NotUnderstood(why)) => {
                    self.add(&example.span, format!("this example is no reading: {why}"));
                }
                Ok(parts) => {
                    if let Some(what) = not_written_back(pattern, &parts) {
                        self.add(&example.span, what);
                    }
                }
            }
        }
    }
}

fn not_written_back(pattern: &Pattern, parts: &Parts) -> Option<String> {
    match pattern.write(parts) {
        Err(part) => Some(format!("`write` has no text for the {} of this example", part.name())),
        Ok(text) if pattern.read(&text).as_ref() == Ok(parts) => None,
        Ok(text) => Some(format!(
            "`write` makes `{text}` of this example, which is not read back as the same"
        )),
    }
}

fn flag_of(mark: RawMark) -> Option<Flag> {
    match mark {
        RawMark::Nothing => None,
        RawMark::Hold => Some(Flag::Hold),
        RawMark::Relative => Some(Flag::Relative),
        RawMark::LowBattery => Some(Flag::LowBattery),
    }
}

/// The last line of a regex error says what is wrong; the lines before it draw the pattern again.
fn regex_fault(error: &regex::Error) -> String {
    match error {
        regex::Error::CompiledTooBig(_) => format!("the pattern compiles to more than {REGEX_BYTES_MAX} bytes"),
        other => {
            let text = other.to_string();
            let last = text.lines().last().unwrap_or("").trim();
            format!(
                "the pattern is no regular expression: {}",
                last.strip_prefix("error: ").unwrap_or(last)
            )
        }
    }
}
