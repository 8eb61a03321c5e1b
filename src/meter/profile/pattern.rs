//! The checks that turn an expression and a template into a [`Pattern`].
//!
//! The rule inside: an expression has only groups that mean something here, and is small enough to run in linear time.

use regex::{Regex, RegexBuilder};

use super::check::{Check, TEXT_BYTES_MAX};
use super::meaning::Source;
use super::raw::RawMeaning;
use crate::located::Located;
use crate::meter::decode::meaning::{Meaning, Part};
use crate::meter::decode::pattern::{Pattern, Piece};

/// Longest regular expression, in bytes.
const PATTERN_BYTES_MAX: usize = 1024;
/// Largest compiled expression, in bytes.
const REGEX_BYTES_MAX: usize = 1 << 20;

impl Check {
    pub(super) fn pattern(
        &mut self,
        pattern: &Located<String>,
        write: &Located<String>,
        meaning: RawMeaning,
    ) -> (Option<Pattern>, Meaning) {
        let regex = self.regex(pattern);
        let write = self.template(write);
        let has = |part: Part| match &regex {
            Some(regex) => regex.capture_names().flatten().any(|name| name == part.name()),
            // what the expression would have is not known, so it is not held against the maps
            None => match part {
                Part::Function => !meaning.functions.0.is_empty(),
                Part::Unit => !meaning.units.0.is_empty(),
                Part::Flags => !meaning.flags.0.is_empty(),
                Part::Value => true,
            },
        };
        let groups = Part::ALL.map(has);
        let source = Source {
            span: &pattern.span,
            pattern: true,
            has: &|part| groups[part as usize],
        };
        let meaning = self.meaning(meaning, &source);
        let read = regex.and_then(|regex| Some(Pattern::new(regex, write?)));
        (read, meaning)
    }

    fn regex(&mut self, pattern: &Located<String>) -> Option<Regex> {
        self.length(pattern, 1, PATTERN_BYTES_MAX);
        if PATTERN_BYTES_MAX < pattern.len() {
            return None;
        }
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

#[cfg(test)]
mod tests {
    use crate::meter::decode::Profile;
    use crate::meter::decode::{Decoded, decode};
    use crate::meter::profile::file::tests::{check, faults};
    use crate::meter::profile::find;

    #[test]
    fn faults_of_the_pattern_are_named() {
        let check_first = |old: &str, new: &str, expected: &str| {
            let faults = faults("line-stream", &[(old, new)]);
            assert!(faults.len() == 1 && faults[0].ends_with(expected), "{faults:?}");
        };
        check_first(
            "(?P<function>",
            "(",
            ": `functions` is given, and the pattern has no group `function` (put `(?P<function>...)` into the pattern, or leave `functions` out)",
        );
        check_first(
            "(?P<function>",
            "(?P<function",
            ": the pattern is no regular expression: invalid capture group character",
        );
        check_first(
            ">[A-Z]+|-)\"",
            ">[A-Z]+|-))(\"",
            ": the pattern is no regular expression: unopened group",
        );
        check_first(
            "[A-Za-z]+",
            "(?:[A-Za-z]{200}){200}",
            ": the pattern compiles to more than 1048576 bytes",
        );
        check_first(
            "(?:\\.",
            "(?P<point>\\.",
            ": the pattern has a group `point` that means nothing here (the groups are `value`, `function`, `unit` and `flags`)",
        );
        check_first(
            "{flags}\"",
            "{marks}\"",
            ": `{` in `write` begins no known blank (the blanks are `{value}`, `{function}`, `{unit}` and `{flags}`)",
        );
        check_first(
            "(?P<value>",
            "(",
            ": the pattern has no group `value` (put `(?P<value>...)` around the number)",
        );
    }

    #[test]
    fn examples_must_be_readings_and_be_written_back() {
        check(
            "\"VAC;231.4;V;-\"",
            "\"VAC;231,4;V;-\"",
            "\"VAC;231,4;V;-\": this example is no reading: `VAC;231,4;V;-` does not fit the profile's pattern",
        );
        check(
            "\"VAC;231.4;V;-\"",
            "\"VAC;231.4;V;-\\r\\n\"",
            "\"VAC;231.4;V;-\\r\\n\": an example holds no line end and at most 96 bytes",
        );
        let all = faults("line-stream", &[("{unit};{flags}", "{flags};{unit}")]);
        assert_eq!(
            all[0],
            "\"LOWOHM;0.42;ohm;-\": `write` makes `LOWOHM;0.42;-;ohm` of this example, which is not read back as the same"
        );
        assert_eq!(all.len(), 7);
        let text = find("query-488").unwrap().text.clone();
        let start = text.find("examples: [").unwrap() + "examples: ".len();
        let end = start + text[start..].find(']').unwrap() + 1;
        let faults = faults("query-488", &[(&text[start..end], "[]")]);
        assert_eq!(
            faults,
            ["[]: 0 examples, 1 to 64 are needed (give at least one frame as the meter sends it, without its end)"]
        );
    }

    #[test]
    fn a_number_needs_a_unit_from_somewhere() {
        let missing = faults(
            "query-488",
            &[(
                "\"FRES\": (is: resistance, unit: \"ohm\")",
                "\"FRES\": (is: resistance)",
            )],
        );
        assert_eq!(
            missing,
            ["\"FRES\": `FRES` has no unit, and the pattern has no group `unit` (write `(is: ..., unit: \"ohm\")`)"]
        );
        let sent = faults("query-488", &[("\"FORM ASC\"", "\"FORM\\nASC\"")]);
        assert_eq!(
            sent,
            ["\"FORM\\nASC\": a line that is sent may not hold the line end itself"]
        );
        let none = "(format: \"1.0\", name: \"n\", about: \"n\", line: (baud: 9600, data_bits: 8, parity: none, \
                    stop_bits: 1, dtr: true, rts: true), talk: Stream, frame: Line(end: \"\\n\", bytes_max: 9), decode: \
                    Pattern(pattern: \"(?P<value>[0-9])(?P<flags>x?)\", write: \"{value}\", examples: [\"1\"]), \
                    quiet_ms_max: 3000)";
        let problems = Profile::read(none).unwrap_err();
        let whats: Vec<&str> = problems.iter().map(|problem| problem.what.as_str()).collect();
        assert_eq!(
            whats,
            [
                "the pattern has a group `flags`, and `flags` is empty",
                "the pattern has neither a group `unit` nor a group `function`, so a number has no unit",
            ]
        );
    }

    #[test]
    fn an_example_that_the_template_has_no_word_for_is_named() {
        let all = faults("query-488", &[("over: [\"+9.90000000E+37\"]", "over: []")]);
        assert_eq!(
            all,
            ["\"+9.90000000E+37;\\\"RES\\\"\": `write` has no text for the value of this example"]
        );
    }

    #[test]
    fn a_profile_may_know_no_functions() {
        let text = "(format: \"1.0\", name: \"plain\", about: \"number and unit\", line: (baud: 2400, data_bits: 7, \
                    parity: odd, stop_bits: 2, dtr: true, rts: false), talk: Stream, frame: Line(end: \"\\n\", bytes_max: \
                    20), decode: Pattern(pattern: \" *(?P<value>[0-9.]+) (?P<unit>[a-zA-Z]+)\", write: \"{value} {unit}\", \
                    examples: [\" 0.42 ohm\"], units: {\"ohm\": \"ohm\", \"ma\": \"mA\"}), quiet_ms_max: 1500)";
        let profile = Profile::read(text).unwrap();
        let Decoded::Reading(reading) = decode(&profile, b"  1.20 ma") else {
            panic!("no reading")
        };
        assert_eq!((reading.display().as_str(), reading.function), ("1.20 mA", None));
    }
}
