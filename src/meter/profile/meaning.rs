//! The checks of what words mean: functions, units, flags and the spellings of over-range.
//!
//! The rule inside: a map is given exactly where its word is taken out of the frame, and every number gets a unit.

use std::ops::Range;

use super::check::Check;
use super::raw::{Map, RawDial, RawMark, RawMeaning};
use crate::located::Located;
use crate::meter::decode::meaning::{Dial, Mark, Meaning, Part, printable};
use crate::value::quantity::{Prefix, Unit, parse_unit};
use crate::value::reading::Flag;

/// Where words come from, for the words of a message.
pub(super) struct Source<'a> {
    /// The place that is named where a word has no map.
    pub(super) span: &'a Range<usize>,
    /// True for an expression with groups, false for lists of fields.
    pub(super) pattern: bool,
    /// True where the word is taken out.
    pub(super) has: &'a dyn Fn(Part) -> bool,
}

impl Source<'_> {
    fn word(&self, part: Part) -> String {
        match (self.pattern, part) {
            (true, _) => format!("group `{}`", part.name()),
            (false, Part::Flags) => "list `marks`".into(),
            (false, _) => format!("list `{}`", part.name()),
        }
    }

    fn subject(&self) -> &'static str {
        if self.pattern { "the pattern has" } else { "there is" }
    }

    fn write(&self, part: Part) -> String {
        match (self.pattern, part) {
            (true, _) => format!("`(?P<{}>...)`", part.name()),
            (false, Part::Flags) => "`marks: [...]`".into(),
            (false, _) => format!("`{}: [...]`", part.name()),
        }
    }
}

impl Check {
    pub(super) fn meaning(&mut self, raw: RawMeaning, source: &Source<'_>) -> Meaning {
        for text in raw.over.iter().chain(raw.above.as_ref()) {
            self.length(text, 1, 32);
        }
        if let Some(point) = &raw.point
            && (point.chars().count() != 1 || point.contains(|c: char| c.is_ascii_digit() || "+-eE ".contains(c)))
        {
            self.add_with_hint(
                &point.span,
                format!("`{}` cannot stand for the point", printable(point)),
                "give the one sign that the meter sends in its place, for example `point: \",\"`",
            );
        }
        if let Some(last) = raw.over.last() {
            self.entries(&last.span, raw.over.len());
        }
        self.map_fits("functions", Part::Function, source, &raw.functions);
        self.map_fits("units", Part::Unit, source, &raw.units);
        self.map_fits("flags", Part::Flags, source, &raw.flags);
        let has_unit = (source.has)(Part::Unit);
        if !(source.has)(Part::Function) && !has_unit {
            let subject = if source.pattern { "the pattern has" } else { "there is" };
            self.add_with_hint(
                source.span,
                format!(
                    "{subject} neither a {} nor a {}, so a number has no unit",
                    source.word(Part::Unit),
                    source.word(Part::Function)
                ),
                format!("add {} or {}", source.write(Part::Unit), source.write(Part::Function)),
            );
        }
        let functions = self.functions(raw.functions, has_unit, source);
        let units = self.units(raw.units, &functions);
        let flags = raw.flags.0.into_iter().map(|(k, v)| (k.value, mark_of(v.value)));
        Meaning {
            functions: functions.into_iter().collect(),
            units: units.into_iter().collect(),
            flags: flags.collect(),
            over: raw.over.into_iter().map(|text| text.value).collect(),
            above: raw.above.map(|text| text.value),
            point: raw.point.map(|text| text.value),
        }
    }

    fn map_fits<T>(&mut self, name: &str, part: Part, source: &Source<'_>, map: &Map<T>) {
        let has = (source.has)(part);
        match map.0.first() {
            None if has => self.add_with_hint(
                source.span,
                format!("{} a {}, and `{name}` is empty", source.subject(), source.word(part)),
                format!("say what each text means in `{name}: {{...}}`"),
            ),
            Some((key, _)) if !has => self.add_with_hint(
                &key.span,
                format!("`{name}` is given, and {} no {}", source.subject(), source.word(part)),
                if source.pattern {
                    format!("put {} into the pattern, or leave `{name}` out", source.write(part))
                } else {
                    format!("add {}, or leave `{name}` out", source.write(part))
                },
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

    fn functions(&mut self, map: Map<RawDial>, has_unit: bool, source: &Source<'_>) -> Vec<(String, Dial)> {
        let mut functions = Vec::new();
        for (key, dial) in map.0 {
            let function = dial.value.is.value;
            let unit = dial.value.unit.as_ref().and_then(|unit| self.unit(unit));
            match (&dial.value.unit, unit) {
                (None, _) if !has_unit => self.add_with_hint(
                    &key.span,
                    format!(
                        "`{}` has no unit, and {} no {}",
                        key.value,
                        source.subject(),
                        source.word(Part::Unit)
                    ),
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

    fn units(&mut self, map: Map<String>, functions: &[(String, Dial)]) -> Vec<(String, (Prefix, Unit))> {
        let mut units = Vec::new();
        for (key, text) in map.0 {
            let Some((prefix, unit)) = self.unit(&text) else {
                continue;
            };
            let fits = functions.iter().any(|(_, dial)| dial.function.unit() == unit);
            if !functions.is_empty() && !fits {
                self.add_with_hint(
                    &text.span,
                    format!(
                        "`{}` is {}, which no function of this profile shows",
                        text.value,
                        unit.quantity()
                    ),
                    "leave it out: a frame with a unit that is not listed is never taken",
                );
            }
            units.push((key.value, (prefix, unit)));
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
}

fn mark_of(mark: RawMark) -> Mark {
    match mark {
        RawMark::Nothing => Mark::Nothing,
        RawMark::Hold => Mark::Flag(Flag::Hold),
        RawMark::Relative => Mark::Flag(Flag::Relative),
        RawMark::LowBattery => Mark::Flag(Flag::LowBattery),
        RawMark::Over => Mark::Over,
        RawMark::Unknown => Mark::Unknown,
    }
}

#[cfg(test)]
mod tests {
    use crate::meter::profile::file::tests::{check, faults};

    #[test]
    fn a_unit_must_fit_a_function() {
        check(
            "\"mV\": \"mV\"",
            "\"mA\": \"mA\"",
            "\"mA\": `mA` is a current, which no function of this profile shows (leave it out: a frame with a unit that \
             is not listed is never taken)",
        );
    }

    #[test]
    fn the_sign_for_the_point_is_one_sign_that_no_number_has() {
        let point = |sign: &str| ("above: \">\"", format!("above: \">\", point: \"{sign}\""));
        for sign in ["", ",,", "-", "e", "4"] {
            let (old, new) = point(sign);
            assert_eq!(
                faults("line-stream", &[(old, &new)]),
                [format!(
                    "\"{sign}\": `{sign}` cannot stand for the point (give the one sign that the meter sends in its place, for \
                     example `point: \",\"`)"
                )]
            );
        }
        let (old, new) = point(",");
        // the shipped pattern reads points, so its examples are not written back
        assert!(!faults("line-stream", &[(old, &new)])[0].contains("cannot stand"));
    }

    #[test]
    fn words_of_fields_and_their_maps_belong_together() {
        let empty = faults("bcd-sync", &[("flags: {\"H\": hold, ", "flags: {}, //")]);
        assert!(
            empty[0].ends_with(
                ": there is a list `marks`, and `flags` is empty (say what each text means in `flags: {...}`)"
            ),
            "{empty:?}"
        );
        let given = faults("ascii-columns-fixed", &[("over: [\"OL\"]", "flags: {\"H\": hold}")]);
        assert_eq!(
            given,
            ["\"H\": `flags` is given, and there is no list `marks` (add `marks: [...]`, or leave `flags` out)"]
        );
    }
}
