//! A voltage as a tired person types it: `230v`, `230 VAC`, `230V~`, `240 volts`, `0.23 kV`, `229,6 V`, `live`.
//!
//! The rule inside: what may be a voltage is heard as one; where hands are on what was proved dead, a spelling too many costs a
//! question and one too few a life.

use super::quantity::{Digits, Prefix, Shown, Unit};
use super::reading::{Origin, Reading};

/// A voltage that a line begins with, or `live`; `None` where it says none.
///
/// ```
/// use coreproof::value::sighting::sighting;
/// assert_eq!(sighting("229,6 vac").unwrap().display(), "229.6 V");
/// assert!(sighting("live").is_some());
/// assert!(sighting("0.42 ohm").is_none());
/// ```
pub fn sighting(line: &str) -> Option<Reading> {
    let text = line.trim();
    let lower = text.to_lowercase();
    let (shown, prefix) = match says_live(&lower) {
        true => (Shown::Over, Prefix::One),
        false => volts(&lower)?,
    };
    Some(reading(text, shown, prefix))
}

/// The highest voltage that is named anywhere in a text, or that something in it is live.
pub fn mention(text: &str) -> Option<Reading> {
    let lower = text.to_lowercase();
    let begins = |at: usize| !lower[..at].ends_with(|c: char| c.is_alphanumeric() || ".,".contains(c));
    let words = lower.char_indices().map(|(at, _)| at).filter(|at| begins(*at));
    let named = words.filter_map(|at| volts(&lower[at..]));
    let highest = named.max_by_key(|(shown, prefix)| match shown {
        Shown::Digits(digits) | Shown::Above(digits) => digits.value().abs() * prefix.factor(),
        Shown::Over => rust_decimal::Decimal::MAX,
    });
    let is_live = || {
        lower
            .split(|c: char| !c.is_alphanumeric())
            .any(|word| LIVE.contains(&word))
    };
    match highest {
        Some((shown, prefix)) => Some(reading(text.trim(), shown, prefix)),
        None if is_live() => Some(reading(text.trim(), Shown::Over, Prefix::One)),
        None => None,
    }
}

/// Whole figures that are the mains and no insulation in megohms that anybody waits for: read on a display of volts, typed
/// without a unit. Practice, without a source.
pub fn may_be_mains(line: &str) -> bool {
    let number = line.trim().replace(',', ".");
    Digits::parse(&number).is_some_and(|digits| {
        let value = digits.value();
        rust_decimal::Decimal::from(200) <= value && value <= rust_decimal::Decimal::from(260)
    })
}

/// A figure without its unit, as volts.
pub fn bare(line: &str) -> Reading {
    let text = line.trim();
    let (shown, prefix) = volts(&format!("{} v", text.to_lowercase())).unwrap_or((Shown::Over, Prefix::One));
    reading(text, shown, prefix)
}

/// Every voltage as which a line may have been recorded: what it begins with, what it names, and its figure without a unit where that may be
/// the mains.
pub fn seen_in(line: &str) -> impl Iterator<Item = Reading> {
    let bare = may_be_mains(line).then(|| bare(line));
    sighting(line).into_iter().chain(mention(line)).chain(bare)
}

/// Words that say so without a figure.
const LIVE: [&str; 4] = ["live", "alive", "lit", "hot"];

fn says_live(lower: &str) -> bool {
    let word = lower.trim_end_matches(['!', '.', ' ']);
    let word = ["it is ", "it's ", "its ", "still "]
        .iter()
        .fold(word, |word, start| word.strip_prefix(start).unwrap_or(word));
    LIVE.contains(&word)
}

fn reading(text: &str, shown: Shown, prefix: Prefix) -> Reading {
    Reading {
        shown,
        prefix,
        unit: Unit::Volt,
        function: None,
        flags: Vec::new(),
        origin: Origin::Typed { text: text.to_owned() },
    }
}

/// The voltage that a text in small letters begins with.
fn volts(lower: &str) -> Option<(Shown, Prefix)> {
    let kinds = ["a.c.", "d.c.", "ac", "dc", "about", "approx", "~", "="];
    let mut rest = lower.trim_start();
    while let Some(after) = kinds.iter().find_map(|kind| rest.strip_prefix(kind)) {
        rest = after.trim_start_matches(['.', ':']).trim_start();
    }
    let (above, rest) = match rest.strip_prefix('>') {
        Some(rest) => (true, rest.trim_start()),
        None => (false, rest),
    };
    let sign = rest.strip_prefix(['+', '-']).map_or("", |_| &rest[..1]);
    let rest = rest[sign.len()..].trim_start();
    let length = rest
        .bytes()
        .take_while(|b| b.is_ascii_digit() || b".,".contains(b))
        .count();
    let (number, rest) = rest.split_at(length);
    let digits = digits_of(sign, number.trim_end_matches(['.', ',']))?;
    let (prefix, rest) = unit(rest.trim_start())?;
    // `230 vase` names no volts
    (!rest.starts_with(|c: char| c.is_alphanumeric())).then_some(())?;
    Some((
        if above {
            Shown::Above(digits)
        } else {
            Shown::Digits(digits)
        },
        prefix,
    ))
}

/// Digits with a comma or a point, or a point alone before them.
fn digits_of(sign: &str, number: &str) -> Option<Digits> {
    let number = number.replace(',', ".");
    let number = if number.starts_with('.') {
        format!("0{number}")
    } else {
        number
    };
    Digits::parse(&format!("{sign}{number}"))
}

/// The prefix of a unit of volts that a text begins with, and what follows it.
fn unit(text: &str) -> Option<(Prefix, &str)> {
    let prefixes = [
        ("milli", Prefix::Milli),
        ("kilo", Prefix::Kilo),
        ("m", Prefix::Milli),
        ("k", Prefix::Kilo),
        ("", Prefix::One),
    ];
    let endings = [
        "volts", "volt", "v a.c.", "v d.c.", "va.c.", "vd.c.", "vrms", "vac", "vdc", "v~", "v=", "v",
    ];
    prefixes.iter().find_map(|(letters, prefix)| {
        let rest = text.strip_prefix(letters)?.trim_start();
        endings
            .iter()
            .find_map(|ending| Some((*prefix, rest.strip_prefix(ending)?)))
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_voltage_is_heard_in_any_spelling() {
        for (line, expected) in [
            ("230v", "230 V"),
            ("230V", "230 V"),
            ("230 V", "230 V"),
            ("230 VAC", "230 V"),
            ("230Vac", "230 V"),
            ("230V~", "230 V"),
            ("230 v ~", "230 V"),
            ("230 v ac", "230 V"),
            ("230 V a.c.", "230 V"),
            ("ac 230 v", "230 V"),
            ("~230V", "230 V"),
            ("240 volts", "240 V"),
            ("240volt", "240 V"),
            ("0.23 kV", "0.23 kV"),
            ("0,23kv", "0.23 kV"),
            ("229,6 V", "229.6 V"),
            ("229.6v.", "229.6 V"),
            (" -118 V dc ", "-118 V"),
            ("325 VDC", "325 V"),
            (".23 kV", "0.23 kV"),
            (">600 V", ">600 V"),
            ("60 V", "60 V"),
            ("230 V on brown", "230 V"),
            ("230 Vrms", "230 V"),
            ("12 mV", "12 mV"),
            ("live", "OL (V)"),
            ("LIVE!", "OL (V)"),
            ("it's live", "OL (V)"),
            ("still live", "OL (V)"),
            ("lit", "OL (V)"),
        ] {
            assert_eq!(
                sighting(line).map(|reading| reading.display()).as_deref(),
                Some(expected),
                "{line}"
            );
        }
        for line in [
            "0.42",
            "0.42 ohm",
            "230",
            ">299",
            "OL",
            "done",
            "lit lamp",
            "again",
            "230 vase",
            "2 M",
            "2k2",
            "",
            "v",
            "volts",
            "none",
            "brown, grey",
            "1 mm²",
            "deliver",
        ] {
            assert_eq!(sighting(line), None, "{line}");
        }
    }

    #[test]
    fn a_voltage_inside_a_text_is_heard_and_the_highest_counts() {
        for (text, expected) in [
            ("new clamp, 12 V before and 230 v now", Some("230 V")),
            ("the grey core was live", Some("OL (V)")),
            ("brown at 229,6V~ still", Some("229.6 V")),
            ("relief valve of unit 4 v2 delivered", None),
            ("tightened the clamp of core 3", None),
        ] {
            assert_eq!(
                mention(text).map(|reading| reading.display()).as_deref(),
                expected,
                "{text}"
            );
        }
    }

    #[test]
    fn a_bare_figure_of_the_mains_is_doubted() {
        for (line, expected) in [
            ("230", true),
            ("229,6", true),
            ("200", true),
            ("260", true),
            ("199", false),
            (">299", false),
            ("230 M", false),
        ] {
            assert_eq!(may_be_mains(line), expected, "{line}");
        }
    }
}
