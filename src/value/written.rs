//! Units as people write them: `47 k`, `0.5 M`, `1.5 sqmm`, `15 C`.
//!
//! The rule inside: whatever is taken is written in one way from there on.

use super::unit::{Prefix, Unit, parse_prefix};
use crate::located::nearest;

/// Other words for a unit, in the order in which they are looked for; a prefix may stand before those of one letter.
const WORDS: &[(&str, Unit)] = &[
    ("ohms", Unit::Ohm),
    ("Ohms", Unit::Ohm),
    ("R", Unit::Ohm),
    ("mm^2", Unit::SquareMillimetre),
    ("sqmm", Unit::SquareMillimetre),
    ("sq mm", Unit::SquareMillimetre),
    ("\u{b0}C", Unit::Celsius),
    ("\u{2103}", Unit::Celsius),
    ("C", Unit::Celsius),
    ("volts", Unit::Volt),
    ("volt", Unit::Volt),
    ("amps", Unit::Ampere),
    ("amp", Unit::Ampere),
    ("watts", Unit::Watt),
    ("watt", Unit::Watt),
    ("metres", Unit::Metre),
    ("metre", Unit::Metre),
    ("seconds", Unit::Second),
    ("second", Unit::Second),
    ("sec", Unit::Second),
];

/// The units that a job's amounts have, as they are best written.
const USUAL: [Unit; 9] = [
    Unit::Ohm,
    Unit::Volt,
    Unit::Ampere,
    Unit::Watt,
    Unit::Hertz,
    Unit::Second,
    Unit::Metre,
    Unit::SquareMillimetre,
    Unit::Celsius,
];

/// A unit by another word, or the bare prefix that people leave of a resistance.
pub(super) fn unit(written: &str) -> Option<(Prefix, Unit)> {
    let word = WORDS.iter().find_map(|(word, unit)| {
        let letters = written.strip_suffix(word)?;
        let prefix = parse_prefix(letters)?;
        (prefix == Prefix::One || word.len() == 1 && *unit == Unit::Ohm).then_some((prefix, *unit))
    });
    let bare = || match parse_prefix(written)? {
        // `m` is metres, and `u` nobody writes of a resistance
        prefix @ (Prefix::Kilo | Prefix::Mega | Prefix::Giga) => Some((prefix, Unit::Ohm)),
        _ => None,
    };
    word.or_else(bare)
}

/// What is wrong with what stands behind the number, and what to write.
pub(super) fn unknown(text: &str, written: &str) -> String {
    if written.is_empty() {
        return format!("`{text}` has no unit: write it behind the number, as in `5 ohm`, `5 V` or `5 m`");
    }
    let words = WORDS.iter().map(|(word, _)| *word).filter(|word| 2 < word.len());
    let near = nearest(written, words.chain(["ohm", "mm2", "degC"]));
    let symbol = |word: &str| {
        let found = WORDS.iter().find(|(known, _)| *known == word)?;
        Some(found.1.symbol())
    };
    match near {
        Some(near) => match symbol(near).filter(|symbol| *symbol != near) {
            Some(symbol) => format!("`{written}` is not a unit known here: write `{near}` or `{symbol}`"),
            None => format!("`{written}` is not a unit known here: write `{near}`"),
        },
        None => {
            let usual: Vec<_> = USUAL.iter().map(|unit| format!("`{unit}`")).collect();
            let usual = usual.join(", ");
            format!(
                "`{written}` is not a unit known here: write one of {usual}, with `k`, `M` or `m` before it where it is needed"
            )
        }
    }
}
