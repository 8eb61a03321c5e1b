//! Bits at fixed places: what is left beside the value tells function, unit and range, sign and over-range.
//!
//! The rule inside: bits beside the value that changed are taken together, and only the combinations that were seen are
//! accepted; a bit that never changed has to stay as it was, so that a mark that was never seen refuses the reading.

use super::bitmap::{Bit, bits_of, code, is_set, place};
use super::cut::{Cut, Form, counter};
use super::hypothesis::{Hypothesis, Seen};

/// Most bits that function, unit and range may be told by.
const KEY_BITS_MAX: usize = 16;
/// Different values that a byte must have had before it is set aside.
const ASIDE_MIN: usize = 3;

/// Frames of one length with their displays, and the bits that nobody has explained.
pub(super) struct Ground<'a> {
    pub(super) cut: &'a Cut,
    pub(super) seen: &'a [Seen<'a>],
    pub(super) bytes: usize,
    /// Marks of the frame and its checksum.
    taken: Vec<Bit>,
    /// A counter of frames.
    ignored: Vec<Bit>,
}

/// A value at its place, before the bits around it are explained.
pub(super) struct Value {
    pub(super) what: String,
    /// Every bit of it.
    pub(super) bits: Vec<Bit>,
    /// Its pieces as a profile writes them, with `STEP` where a step goes.
    pub(super) pieces: String,
    /// True where the sign is part of it.
    pub(super) signed: bool,
    /// True where the point is part of it, so that no step is needed.
    pub(super) pointed: bool,
    /// Further fields of the decoder.
    pub(super) more: String,
    /// For each display of over-range the word that its value makes.
    pub(super) overs: Vec<Over>,
}

/// How a value looks under over-range.
pub(super) enum Over {
    /// It is a word of its own, which no number is.
    Word(String),
    /// It looks like a number with these digits: a mark beside it must say more.
    Digits(String),
}

impl<'a> Ground<'a> {
    pub(super) fn new(cut: &'a Cut, seen: &'a [Seen<'a>]) -> Option<Ground<'a>> {
        let Form::Bits { taken } = &cut.form else { return None };
        let bytes = seen.first()?.frame.len();
        let free = (0..bytes).filter(|byte| bits_of([*byte]).iter().all(|bit| !taken.contains(bit)));
        Some(Ground {
            ignored: free.flat_map(|byte| counter(&cut.frames, byte)).collect(),
            taken: taken.clone(),
            cut,
            seen,
            bytes,
        })
    }

    /// Bits that neither mark the frame nor count frames, in the order of the frame.
    pub(super) fn payload(&self) -> Vec<Bit> {
        let mut bits = bits_of(0..self.bytes);
        bits.retain(|bit| !self.taken.contains(bit) && !self.ignored.contains(bit));
        bits
    }

    /// The displays that are numbers.
    pub(super) fn numbers(&self) -> impl Iterator<Item = &Seen<'a>> {
        self.seen.iter().filter(|one| one.display.number().is_some())
    }

    /// Those that are over-range.
    pub(super) fn overs(&self) -> impl Iterator<Item = &Seen<'a>> {
        self.seen.iter().filter(|one| one.display.is_over())
    }

    /// Explains the bits around a value, in every way that does not contradict it: where more than one bit may be the
    /// minus sign, each of them is one.
    pub(super) fn explain(&self, value: &Value) -> Vec<Hypothesis> {
        let changed = |bit: &Bit| {
            self.seen
                .iter()
                .any(|one| is_set(one.frame, *bit) != is_set(self.seen[0].frame, *bit))
        };
        let mut rest = self.payload();
        rest.retain(|bit| !value.bits.contains(bit));
        let changing: Vec<Bit> = rest.iter().copied().filter(changed).collect();
        let outside = !value.signed && self.numbers().any(|one| one.display.is_negative());
        let minus: Vec<Option<Bit>> = if outside {
            let follows = |bit: &Bit| {
                self.seen
                    .iter()
                    .all(|one| is_set(one.frame, *bit) == one.display.is_negative())
            };
            changing.iter().copied().filter(follows).map(Some).collect()
        } else {
            vec![None]
        };
        minus
            .into_iter()
            .filter_map(|minus| self.explain_with(value, &rest, &changing, minus))
            .collect()
    }

    fn explain_with(&self, value: &Value, rest: &[Bit], changing: &[Bit], minus: Option<Bit>) -> Option<Hypothesis> {
        let mut key = changing.to_vec();
        key.retain(|bit| Some(*bit) != minus);
        let (over_bits, over_words) = self.over(value, &key);
        key.retain(|bit| !over_bits.contains(bit));
        let aside = self.aside(&key);
        key.retain(|bit| !aside.contains(bit));
        if KEY_BITS_MAX < key.len() {
            return None;
        }
        let ignored = [self.ignored.as_slice(), &aside].concat();
        let decode = self.decode(value, rest, (&key, &ignored), (minus, &over_bits, &over_words))?;
        let examples: Vec<String> = self.numbers().map(|one| format!("\"{}\"", spaced(one.frame))).collect();
        let mut what = value.what.clone();
        let mut of_value = value.bits.clone();
        if let Some(minus) = minus {
            what.push_str(&format!(", below zero by {}", place(&[minus])));
            of_value.push(minus);
        }
        let mut found = Hypothesis::prove((what, place(&of_value)), self.cut, &decode, self.seen, &examples)?;
        if !self.ignored.is_empty() && !self.ignored.len().is_multiple_of(8) {
            found
                .open
                .push(format!("the bits beside {}, which count frames", place(&self.ignored)));
        }
        if over_bits.len() > 1 {
            found
                .open
                .push(format!("which of the bits {} means over-range", place(&over_bits)));
        }
        if let Some((a, b)) = self.unexplained(&key) {
            found
                .open
                .push(format!("why the bits {} differ between `{a}` and `{b}`", place(&key)));
        }
        Some(found)
    }

    /// Changing bits of bytes that move while the dial stands, as a bar, a minimum or a second figure does. Bits that never
    /// changed stay what they were.
    fn aside(&self, key: &[Bit]) -> Vec<Bit> {
        let kind = |one: &Seen<'_>| (one.display.function, one.display.prefix, one.display.decimals());
        let numbers: Vec<&Seen<'_>> = self.numbers().collect();
        let moves = |byte: usize| {
            let bits: Vec<Bit> = key.iter().copied().filter(|bit| bit.0 == byte).collect();
            let mut codes: Vec<u64> = numbers.iter().map(|one| code(one.frame, &bits)).collect();
            let in_kind = numbers.iter().enumerate().any(|(n, a)| {
                let other = |b: &&Seen<'_>| kind(a) == kind(b) && code(a.frame, &bits) != code(b.frame, &bits);
                numbers[n + 1..].iter().any(other)
            });
            codes.sort_unstable();
            codes.dedup();
            in_kind && ASIDE_MIN <= codes.len()
        };
        key.iter().copied().filter(|bit| moves(bit.0)).collect()
    }

    /// The bits that are set exactly under over-range, where the value alone does not say it, and the words that are
    /// made of them and the digits; a display without a number in the same range is left out.
    fn over(&self, value: &Value, key: &[Bit]) -> (Vec<Bit>, Vec<String>) {
        let words: Vec<String> = value
            .overs
            .iter()
            .filter_map(|over| match over {
                Over::Word(word) => Some(word.clone()),
                Over::Digits(_) => None,
            })
            .collect();
        let marked: Vec<(&Seen<'_>, &String)> = self
            .overs()
            .zip(&value.overs)
            .filter_map(|(one, over)| match over {
                Over::Digits(digits) => Some((one, digits)),
                Over::Word(_) => None,
            })
            .collect();
        if marked.is_empty() {
            return (Vec::new(), words);
        }
        let follows = |bit: &Bit| {
            marked.iter().all(|(one, _)| is_set(one.frame, *bit)) && self.numbers().all(|one| !is_set(one.frame, *bit))
        };
        let bits: Vec<Bit> = key.iter().copied().filter(follows).collect();
        let others: Vec<Bit> = key.iter().copied().filter(|bit| !bits.contains(bit)).collect();
        let mut words = words;
        for (one, digits) in marked {
            let kind = |one: &Seen<'_>| (one.display.function, one.display.prefix, code(one.frame, &others));
            let like = self.numbers().find(|number| kind(number) == kind(one));
            if let Some(like) = like.filter(|_| !bits.is_empty()) {
                words.push(format!("OL{}", pointed(digits, like.display.decimals())));
            }
        }
        (bits, words)
    }

    /// Two displays in one function, unit and place of the point whose other bits differ.
    fn unexplained(&self, key: &[Bit]) -> Option<(String, String)> {
        let numbers: Vec<&Seen<'_>> = self.numbers().collect();
        numbers.iter().enumerate().find_map(|(n, a)| {
            let like = |b: &&&Seen<'_>| {
                let kind = |one: &Seen<'_>| (one.display.function, one.display.prefix, one.display.decimals());
                kind(a) == kind(b) && code(a.frame, key) != code(b.frame, key)
            };
            let b = numbers[n + 1..].iter().find(like)?;
            Some((a.display.to_string(), b.display.to_string()))
        })
    }

    /// What each combination of the key's bits means; `None` where one means two things.
    fn entries(&self, value: &Value, key: &[Bit], of: &dyn Fn(&Seen<'_>) -> String) -> Option<Vec<(u64, String)>> {
        // over-range that looks like a number explains nothing about the combination that it stands in
        let known = |one: &&Seen<'_>| {
            let at = self.overs().position(|over| std::ptr::eq(over, *one));
            at.is_none_or(|at| matches!(value.overs.get(at), Some(Over::Word(_))))
        };
        let entries = self.seen.iter().filter(known);
        one_meaning(entries.map(|one| (code(one.frame, key), of(one))))
    }

    /// The bits that are always set and that nothing describes.
    fn constant(&self, rest: &[Bit], described: &[Bit]) -> String {
        let set = rest
            .iter()
            .filter(|bit| !described.contains(bit) && is_set(self.seen[0].frame, **bit));
        let places: Vec<String> = set.map(|(byte, bit)| format!("\"{byte}.{bit}\": 1")).collect();
        places.join(", ")
    }

    fn decode(
        &self,
        value: &Value,
        rest: &[Bit],
        (key, ignored): (&[Bit], &[Bit]),
        (minus, over_bits, over_words): (Option<Bit>, &[Bit], &[String]),
    ) -> Option<String> {
        let entry = |of: &dyn Fn(&Seen<'_>) -> String| self.entries(value, key, of);
        let functions = entry(&|one| one.display.function_text())?;
        let units = entry(&|one| one.display.unit_text())?;
        let steps = if value.pointed {
            Vec::new()
        } else {
            one_meaning(
                self.numbers()
                    .map(|one| (code(one.frame, key), step(one.display.decimals()))),
            )?
        };
        let lookup = |entries: &[(u64, String)]| match key {
            [] => format!("Word({:?})", entries[0].1),
            key => format!("Code(bits: \"{}\", words: {{{}}})", place(key), listed(entries)),
        };
        let step = match (key, steps.as_slice()) {
            (_, []) => String::new(),
            ([], [(_, step), ..]) => format!(", step: Always({step:?})"),
            (key, steps) => format!(", step: By(bits: \"{}\", steps: {{{}}})", place(key), listed(steps)),
        };
        let marked = |bits: &[Bit], word: &str| match bits {
            [] => String::new(),
            bits => format!(
                "Code(bits: \"{}\", words: {{0: \"\", {:#x}: \"{word}\"}}), ",
                place(bits),
                (1u32 << bits.len()) - 1
            ),
        };
        let constant = self.constant(rest, &[&value.bits, key, ignored, minus.as_slice(), over_bits].concat());
        let mut names: Vec<&String> = functions.iter().map(|(_, name)| name).collect();
        names.sort();
        names.dedup();
        let mut symbols: Vec<&String> = units.iter().map(|(_, name)| name).collect();
        symbols.sort();
        symbols.dedup();
        let ignored = match ignored {
            [] => String::new(),
            bits => format!("        ignored: \"{}\",\n", place(bits)),
        };
        let over: Vec<String> = over_words.iter().map(|word| format!("{word:?}")).collect();
        Some(format!(
            "Fields(\n{}        function: [{}],\n        unit: [{}],\n        value: [{}{}{}],\n        constant: \
             {{{}}},\n{ignored}        EXAMPLES\n        functions: {{{}}},\n        units: {{{}}},\n        over: [{}],\n    )",
            value.more,
            lookup(&functions),
            lookup(&units),
            marked(over_bits, "OL"),
            marked(minus.as_slice(), "-"),
            value.pieces.replace("STEP", &step),
            constant,
            names
                .iter()
                .map(|name| format!("{name:?}: (is: {name})"))
                .collect::<Vec<_>>()
                .join(", "),
            symbols
                .iter()
                .map(|name| format!("{name:?}: {name:?}"))
                .collect::<Vec<_>>()
                .join(", "),
            over.join(", "),
        ))
    }
}

/// Bytes in hexadecimal with blanks between.
fn spaced(frame: &[u8]) -> String {
    frame
        .iter()
        .map(|byte| format!("{byte:02x}"))
        .collect::<Vec<_>>()
        .join(" ")
}

fn listed(entries: &[(u64, String)]) -> String {
    let entries = entries.iter().map(|(code, word)| format!("{code:#x}: {word:?}"));
    entries.collect::<Vec<_>>().join(", ")
}

/// Codes with their meanings, each once; `None` where one code means two things.
fn one_meaning(entries: impl Iterator<Item = (u64, String)>) -> Option<Vec<(u64, String)>> {
    let mut known: Vec<(u64, String)> = Vec::new();
    for (code, meaning) in entries {
        match known.iter().find(|(earlier, _)| *earlier == code) {
            Some((_, other)) if *other != meaning => return None,
            Some(_) => {}
            None => known.push((code, meaning)),
        }
    }
    Some(known)
}

/// The weight of the last of so many decimals.
fn step(decimals: usize) -> String {
    match decimals {
        0 => "1".into(),
        decimals => format!("0.{}1", "0".repeat(decimals - 1)),
    }
}

/// Digits with a point before so many decimals.
fn pointed(digits: &str, decimals: usize) -> String {
    let digits = format!("{digits:0>width$}", width = decimals + 1);
    let (whole, fraction) = digits.split_at(digits.len() - decimals);
    match fraction {
        "" => whole.to_owned(),
        fraction => format!("{whole}.{fraction}"),
    }
}
