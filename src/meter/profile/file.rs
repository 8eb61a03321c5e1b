//! From the text of a profile file to a [`Profile`].
//!
//! The rule inside: only a file without problems becomes a profile, and every problem is told at once.

use super::check::{Check, TEXT_BYTES_MAX};
use super::meaning::Source;
use super::raw::{Head, RawDecode, RawLine, RawPeriod, RawProfile, RawTake, RawTalk};
use crate::located::{self, Located, Problem, Problems};
use crate::meter::decode::meaning::Part;
use crate::meter::decode::{Decode, Framing, Line, Period, Profile, Take, Talk};
use std::ops::Range;

/// The version of the profile language that is read here.
pub const FORMAT: &str = "1.0";

impl Profile {
    /// Reads a profile file; every error of meaning is reported at once, each with its place in the text.
    ///
    /// ```
    /// use coreproof::meter::{decode::Profile, profile::find};
    /// let shipped = find("line-stream").unwrap();
    /// assert_eq!(Profile::read(&shipped.text).unwrap().name, "line-stream");
    /// assert_eq!(
    ///     Profile::read("(format: \"2.0\")").unwrap_err()[0].what,
    ///     "profile format `2.0` is newer than `1.0`, the newest read here"
    /// );
    /// ```
    pub fn read(text: &str) -> Result<Profile, Problems> {
        read(text)
    }
}

fn read(text: &str) -> Result<Profile, Problems> {
    if let Ok(head) = located::read::<Head>(text)
        && let Some(problem) = format_problem(&head.format)
    {
        return Err(problem.into());
    }
    located::read_all(text, |raw| checked(raw, text))
}

fn checked(raw: RawProfile, text: &str) -> Result<Profile, Problems> {
    let mut check = Check {
        problems: Problems::default(),
    };
    check.problems.extend(format_problem(&raw.format));
    check.name(&raw.name);
    check.length(&raw.about, 1, TEXT_BYTES_MAX);
    let (period, quiet_ms_max) = check.period(raw.quiet_ms_max, raw.period, &raw.about.span);
    let line = check.line(raw.line);
    let talk = check.talk(raw.talk);
    let frame = check.framing(raw.frame, raw.check, raw.agree, &raw.decode);
    // without a framing the decoder is still looked at, as far as it stands by itself
    let decode = check.decode(raw.decode, frame.as_ref());
    match (frame, decode) {
        (Some(frame), Some(decode)) if check.problems.is_empty() => Ok(Profile {
            name: raw.name.value,
            about: raw.about.value,
            line,
            talk,
            frame,
            decode,
            period,
            quiet_ms_max,
            text: text.into(),
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

/// Silence that can be told, in milliseconds.
const QUIET_MS_MIN: u32 = 250;
const QUIET_MS_MAX: u32 = 60_000;

impl Check {
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

    /// How often it sends, and the silence that follows: one of the two is given, and the other is known from it.
    fn period(
        &mut self,
        quiet: Option<Located<u32>>,
        period: Option<Located<RawPeriod>>,
        span: &Range<usize>,
    ) -> (Period, u32) {
        match (quiet, period) {
            (Some(quiet), None) => {
                self.number(&quiet, QUIET_MS_MIN, QUIET_MS_MAX);
                (Period::Unnamed, quiet.value)
            }
            (
                None,
                Some(Located {
                    value: RawPeriod::OnChange,
                    ..
                }),
            ) => (Period::OnChange, QUIET_MS_MAX),
            (
                None,
                Some(Located {
                    value: RawPeriod::Ms(ms),
                    span,
                }),
            ) => {
                self.number(&Located { value: ms, span }, 1, QUIET_MS_MAX / 3);
                (Period::Ms(ms), ms.saturating_mul(3).clamp(QUIET_MS_MIN, QUIET_MS_MAX))
            }
            (Some(_), Some(period)) => {
                let hint = "leave `quiet_ms_max` out: silence is three periods";
                self.add_with_hint(&period.span, "both `quiet_ms_max` and `period` are given", hint);
                (Period::Unnamed, QUIET_MS_MAX)
            }
            (None, None) => {
                let hint = "add `period: Ms(...)` with the milliseconds between two sendings, or `period: OnChange`";
                self.add_with_hint(span, "neither `period` nor `quiet_ms_max` is given", hint);
                (Period::Unnamed, QUIET_MS_MAX)
            }
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

    fn decode(&mut self, raw: RawDecode, frame: Option<&Framing>) -> Option<Decode> {
        let (take, meaning, examples) = raw.split();
        let (take, meaning) = match take {
            RawTake::Pattern { pattern, write } => {
                let (pattern, meaning) = self.pattern(&pattern, &write, meaning);
                (Take::Pattern(pattern?), meaning)
            }
            RawTake::Fields(fields) => {
                let has = |part: Part| match part {
                    Part::Value => true,
                    Part::Function => !fields.function.is_empty(),
                    Part::Unit => !fields.unit.is_empty(),
                    Part::Flags => !fields.marks.is_empty(),
                };
                let source = Source {
                    span: &fields.value.span,
                    pattern: false,
                    has: &has,
                };
                let meaning = self.meaning(meaning, &source);
                (Take::Fields(self.fields(*fields, frame?)?), meaning)
            }
        };
        let decode = Decode { take, meaning };
        self.examples(&decode, &examples, frame?);
        Some(decode)
    }
}

#[cfg(test)]
pub(super) mod tests {
    use super::*;
    use crate::meter::profile::find;

    /// A shipped profile with one text replaced; what is wrong with it, as `place: what (hint)`.
    pub(in crate::meter) fn faults(profile: &str, edits: &[(&str, &str)]) -> Vec<String> {
        let mut text = find(profile).unwrap().text.to_string();
        for (old, new) in edits {
            assert!(text.contains(old), "{old}");
            text = text.replacen(old, new, 1);
        }
        let problems = Profile::read(&text)
            .map(|profile| profile.name)
            .expect_err("it is faulty");
        let line = |problem: Problem| match problem.hint {
            Some(hint) => format!("{}: {} ({hint})", &text[problem.span], problem.what),
            None => format!("{}: {}", &text[problem.span], problem.what),
        };
        problems.into_iter().map(line).collect()
    }

    pub(in crate::meter) fn check(old: &str, new: &str, expected: &str) {
        assert_eq!(faults("line-stream", &[(old, new)]), [expected], "{new}");
    }

    #[test]
    fn silence_is_three_periods() {
        let read = |period: &str| {
            let text = find("line-stream").unwrap().text.replace("quiet_ms_max: 3000", period);
            let profile = Profile::read(&text).unwrap();
            (profile.period, profile.quiet_ms_max)
        };
        assert_eq!(read("quiet_ms_max: 1500"), (Period::Unnamed, 1500));
        assert_eq!(read("period: Ms(400)"), (Period::Ms(400), 1200));
        assert_eq!(read("period: Ms(20)"), (Period::Ms(20), 250));
        assert_eq!(read("period: OnChange").0, Period::OnChange);
    }

    #[test]
    fn each_fault_is_named_at_its_place() {
        check(
            "\"1.0\"",
            "\"1.1\"",
            "\"1.1\": profile format `1.1` is newer than `1.0`, the newest read here (install a newer coreproof, or ask \
             for the profile in the older format)",
        );
        check(
            "\"1.0\"",
            "\"one\"",
            "\"one\": `one` is not a profile format (write `format: \"1.0\"`)",
        );
        check(
            "\"line-stream\"",
            "\"Line stream\"",
            "\"Line stream\": `Line stream` is not a profile name (use lower-case words and digits joined by hyphens, at \
             most 64 characters)",
        );
        check("quiet_ms_max: 3000", "quiet_ms_max: 3", "3: 3 is outside 250 to 60000");
        check("quiet_ms_max: 3000", "period: Ms(0)", "Ms(0): 0 is outside 1 to 20000");
        check(
            "quiet_ms_max: 3000",
            "quiet_ms_max: 3000, period: OnChange",
            "OnChange: both `quiet_ms_max` and `period` are given (leave `quiet_ms_max` out: silence is three periods)",
        );
        check("baud: 9600", "baud: 0", "0: 0 is outside 50 to 4000000");
        check("data_bits: 8", "data_bits: 9", "9: 9 is outside 5 to 8");
        check("stop_bits: 1", "stop_bits: 3", "3: 3 is outside 1 to 2");
        check("bytes_max: 96", "bytes_max: 5000", "5000: 5000 is outside 2 to 4096");
        check(
            "end: \"\\r\\n\"",
            "end: \"\"",
            "\"\": this holds 0 bytes, 1 to 8 are allowed",
        );
        check(
            "above: \">\"",
            "above: \"\"",
            "\"\": this holds 0 bytes, 1 to 32 are allowed",
        );
        check("\"H\": hold", "\"A\": hold", "\"A\": `A` stands twice in `flags`");
        check(
            "\"mV\": \"mV\"",
            "\"mV\": \"mv\"",
            "\"mv\": `mv` is not a unit known here (for example `ohm`, `kohm`, `Mohm`, `V`, `mV`)",
        );
        check(
            "(is: voltage_ac)",
            "(is: voltage_ac, unit: \"ohm\")",
            "\"ohm\": `ohm` is a resistance, a.c. volts shows a voltage",
        );
        check(
            "parity: none",
            "parity: mark",
            "mark: unexpected variant named `mark` in enum `Parity`, expected one of `none`, `odd`, or `even` instead",
        );
        check(
            "talk: Stream",
            "tolk: Stream",
            "tolk: unexpected field named `tolk` in `Profile`, expected one of `format`, `name`, `about`, `line`, `talk`, `frame`, `check`, `agree`, `decode`, `quiet_ms_max`, or `period` instead (write `talk`)",
        );
    }

    #[test]
    fn every_fault_is_reported_at_once_in_the_order_of_the_file() {
        let all = faults(
            "line-stream",
            &[
                ("quiet_ms_max: 3000", "quiet_ms_max: 0"),
                ("\"line-stream\"", "\"\""),
                ("baud: 9600", "baud: 1"),
                ("\"kV\": \"kV\"", "\"kV\": \"kv\""),
                ("above: \">\"", "above: \"\""),
            ],
        );
        let places: Vec<&str> = all.iter().map(|fault| fault.split(':').next().unwrap()).collect();
        assert_eq!(places, ["\"\"", "1", "\"kv\"", "\"\"", "0"]);
    }

    #[test]
    fn too_many_entries_are_refused() {
        let many: String = (0..70).map(|n| format!("\"u{n}\": \"V\", ")).collect();
        let all = faults("line-stream", &[("\"mV\": \"mV\",", &many)]);
        assert_eq!(all, ["\"ohm\": 77 entries, at most 64 are allowed"]);
    }
}
