//! Reading a typed answer: what conducts to what, by labels or by readings.
//!
//! The rule inside: a reading is joined or open or refused; nothing in between is guessed.

use rust_decimal::prelude::ToPrimitive;

use super::error::IdentifyError;
use super::figures::Figures;
use super::partition::Partition;
use super::resistors::Read;
use super::words;
use crate::job::End;
use crate::value::quantity::{Digits, Shown};
use crate::value::reading::{Function, Reading};

/// Reads `none`, `1-4 2-5`, `1-4-7`, `1-4=0.6 2-5=OL` at an end.
///
/// Conducting is passed on: `1-2 2-3` is one group. What was measured between two is joined as well, and `done` says that
/// nothing else is.
///
/// # Errors
/// A label of the other end or of no core, a core alone, a reading between joined and open, readings that contradict each other,
/// an empty line.
pub fn conducts(
    line: &str,
    at: End,
    cores: usize,
    earth: bool,
    figures: &Figures,
    measured: &[Vec<usize>],
) -> Result<Partition, IdentifyError> {
    let text = line.trim();
    let terminals = cores + usize::from(earth);
    if text.is_empty() {
        return Err(IdentifyError::Empty);
    }
    if text.eq_ignore_ascii_case("none") {
        return if measured.is_empty() {
            Ok(Partition::apart(terminals))
        } else {
            Err(IdentifyError::ContactsTaken)
        };
    }
    if text.eq_ignore_ascii_case("done") && !measured.is_empty() {
        return Ok(Partition::joined(terminals, measured));
    }
    let (mut joined, mut open) = (measured.to_vec(), Vec::new());
    for token in text.split([' ', ',', '\t']).filter(|t| !t.is_empty()) {
        let (names, reading) = match token.split_once('=') {
            Some((names, reading)) => (names, Some(reading)),
            None => (token, None),
        };
        let group = group(names, at, cores, earth)?;
        match reading.map(|r| is_joined(token, r, figures)).transpose()? {
            None | Some(true) => joined.push(group),
            Some(false) => open.push((token, group)),
        }
    }
    let made = Partition::joined(terminals, &joined);
    for (token, group) in open {
        if group.windows(2).any(|pair| made.same(pair[0], pair[1])) {
            return Err(IdentifyError::OpenYetJoined { token: token.into() });
        }
    }
    Ok(made)
}

fn group(names: &str, at: End, cores: usize, earth: bool) -> Result<Vec<usize>, IdentifyError> {
    let mut group = Vec::new();
    for name in names.split('-').map(str::trim) {
        let terminal = words::terminal(at, name, cores, earth).ok_or_else(|| IdentifyError::NotALabel {
            token: name.into(),
            end: words::end(at),
            labels: words::labels(at, cores, earth),
        })?;
        if !group.contains(&terminal) {
            group.push(terminal);
        }
    }
    if group.len() < 2 {
        return Err(IdentifyError::OneCoreAlone { token: names.into() });
    }
    Ok(group)
}

/// Reads two labels: `1-4`.
///
/// # Errors
/// Anything else.
pub fn pair(line: &str, at: End, cores: usize, earth: bool) -> Result<Vec<usize>, IdentifyError> {
    let two = group(line.trim(), at, cores, earth)?;
    if two.len() == 2 {
        return Ok(two);
    }
    Err(IdentifyError::NotAnAnswer {
        line: line.trim().into(),
        answers: "two labels, as the probes stood".into(),
    })
}

fn is_joined(token: &str, reading: &str, figures: &Figures) -> Result<bool, IdentifyError> {
    let reading = typed(reading)?;
    joined(&reading, figures)?.ok_or_else(|| IdentifyError::BetweenJoinedAndOpen { token: token.into() })
}

/// Whether a reading is joined (`true`) or open; `None` where it is neither.
///
/// # Errors
/// A range that ends before what counts as open.
pub fn joined(reading: &Reading, figures: &Figures) -> Result<Option<bool>, IdentifyError> {
    Ok(match ohms(reading, figures.open_ohms())? {
        Read::Open => Some(false),
        Read::Ohms(ohms) if ohms <= figures.joined_ohms() => Some(true),
        Read::Ohms(ohms) if figures.open_ohms() <= ohms => Some(false),
        Read::Ohms(_) => None,
    })
}

/// A typed resistance: `0.6`, `4.7k`, `OL`, `>40M`.
///
/// # Errors
/// Anything else, with what was expected.
pub fn typed(line: &str) -> Result<Reading, IdentifyError> {
    Reading::typed(line, Function::Resistance).map_err(|what| IdentifyError::Reading { what })
}

/// What a reading says: so many ohms, or open. Over-range is open; a figure behind `>` only from `reach` on, in ohms.
///
/// # Errors
/// A range that ends below that.
pub fn ohms(reading: &Reading, reach: f64) -> Result<Read, IdentifyError> {
    // a prediction is compared, not a window: a float will do
    let plain = |digits: &Digits| {
        (digits.value() * reading.prefix.factor())
            .to_f64()
            .expect("a decimal is near some float")
    };
    match &reading.shown {
        Shown::Over => Ok(Read::Open),
        Shown::Above(top) if plain(top) < reach => Err(IdentifyError::RangeEndsBefore {
            shown: reading.display(),
            ohms: format!("{reach:.0}"),
        }),
        Shown::Above(_) => Ok(Read::Open),
        Shown::Digits(digits) => Ok(Read::Ohms(plain(digits))),
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::explain::Explain;

    fn read(line: &str) -> Result<String, String> {
        match conducts(line, End::Far, 7, true, &Figures::shipped(), &[]) {
            Ok(p) => Ok(words::groups(End::Far, &p, 7)),
            Err(error) => Err(error.to_string()),
        }
    }

    #[test]
    fn groups_and_readings_are_read() {
        for (line, expected) in [
            ("none", "none"),
            ("1-4 2-5", "1-4, 2-5"),
            ("1-4, 4-2", "1-2-4"),
            ("7-EARTH", "7-earth"),
            ("1-4=0.62 2-5=OL 3-6=12ohm", "1-4, 3-6"),
            ("1-4=1.2k 2-5=>40M", "none"),
        ] {
            assert_eq!(read(line).as_deref(), Ok(expected), "{line}");
        }
    }

    #[test]
    fn wrong_answers_say_what_is_wrong() {
        for (line, expected) in [
            ("", "the answer is empty"),
            (
                "A-B",
                "`A` is no label at the far end, the labels there are 1 to 7 and earth",
            ),
            (
                "1-8",
                "`8` is no label at the far end, the labels there are 1 to 7 and earth",
            ),
            ("3", "`3` names one core alone"),
            ("3-3", "`3-3` names one core alone"),
            ("1-4=300", "`1-4=300` is neither joined nor open"),
            (
                "1-4=>199",
                "`>199 ohm` does not say that it is open: the range ends before 1000 ohm",
            ),
            (
                "1-2 2-3 1-3=OL",
                "`1-3=OL` reads open, but the other readings of this line join the two",
            ),
            (
                "1-2=5V",
                "`5V` is a voltage, this step needs a resistance; type what the display shows, in ohm, for example `0.42`",
            ),
        ] {
            assert_eq!(read(line), Err(expected.to_owned()), "{line}");
        }
        let hint = |line: &str| {
            conducts(line, End::Near, 4, false, &Figures::shipped(), &[])
                .unwrap_err()
                .hint()
        };
        let type_labels = "type the labels that conduct to each other, as `1-4 2-5`, or `none`";
        assert_eq!(hint("").as_deref(), Some(type_labels));
        assert_eq!(hint("1-2").as_deref(), Some(type_labels));
        assert_eq!(
            hint("A-B=300").as_deref(),
            Some("clean the ends, hold the probes still and measure again")
        );
        assert_eq!(hint("A-B B-C A-C=OL").as_deref(), Some("measure those two again"));
        assert_eq!(
            hint("A-B=>199").as_deref(),
            Some("turn the dial to a range that goes higher and measure again")
        );
    }
}
