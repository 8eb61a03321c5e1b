//! What speaks against an explanation: its reading of what was heard, beside the display that stood meanwhile.
//!
//! The rule inside: a display that contradicts all others is found by leaving each out in turn, and what differs is said.

use super::cut::{Form, cuts};
use super::display::Display;
use super::error::TeachError;
use super::explanations::explanations;
use super::hypothesis::{Hypothesis, said, says};
use super::text;
use crate::meter::decode::meaning::Parts;
use crate::value::quantity::Prefix;
use crate::value::raw::Raw;

/// What an explanation reads in these bytes that the display did not say; `None` where nothing is.
pub(super) fn contradiction(one: &Hypothesis, display: &Display, bytes: &[u8]) -> Option<String> {
    let other = one.heard(bytes).into_iter().find(|parts| !says(parts, display))?;
    Some(format!("`{}`", said(&other)))
}

/// What an explanation reads in bytes that changed, where it is of another kind than the display: another function, unit
/// or prefix. Digits may have moved meanwhile.
pub(super) fn other_kind(one: &Hypothesis, display: &Display, bytes: &[u8]) -> Option<String> {
    let alike = |parts: &Parts| {
        let plain = parts.prefix == Prefix::One && parts.unit == display.unit;
        let unit = (parts.prefix, parts.unit) == (display.prefix, display.unit);
        parts.function == Some(display.function) && (plain || unit)
    };
    let other = one.heard(bytes).into_iter().find(|parts| !alike(parts))?;
    Some(format!("`{}`", said(&other)))
}

/// Why nothing explains the displays: the one that contradicts all others, else what stands in the way.
pub(super) fn misfit(displays: &[Display], captures: &[Vec<u8>]) -> TeachError {
    for at in (0..displays.len()).rev().filter(|_| 2 < displays.len()) {
        let (mut others, mut heard) = (displays.to_vec(), captures.to_vec());
        let (display, bytes) = (others.remove(at), heard.remove(at));
        let Ok((found, _)) = explanations(&others, &heard) else {
            continue;
        };
        let Some(one) = found.first() else { continue };
        let said = contradiction(one, &display, &bytes).or_else(|| one.why(&bytes));
        return TeachError::Odd {
            display: display.to_string(),
            said: said.unwrap_or_else(|| "nothing".into()),
        };
    }
    TeachError::NothingFits {
        displays: displays.len(),
        why: why(displays, captures),
    }
}

/// The display whose digits stand in no word of its text.
pub(super) fn missing(displays: &[Display], captures: &[Vec<u8>]) -> Option<String> {
    let slices: Vec<&[u8]> = captures.iter().map(Vec::as_slice).collect();
    cuts(&slices).first().and_then(|way| text::missing(way, displays))
}

fn why(displays: &[Display], captures: &[Vec<u8>]) -> String {
    let slices: Vec<&[u8]> = captures.iter().map(Vec::as_slice).collect();
    let Some(way) = cuts(&slices).into_iter().next() else {
        return "no frame comes again".into();
    };
    if let Form::Text { .. } = way.form {
        return text::missing(&way, displays)
            .or_else(|| text::turns(&way))
            .unwrap_or_else(|| "no word beside the digits tells function and unit of every display".into());
    }
    let last = displays.last().map_or(String::new(), Display::to_string);
    let frame = way.frames.last().and_then(|frames| frames.first());
    format!(
        "digits are looked for as segments, packed decimals, counts and floats, and none of these is `{last}` in the frame {}",
        frame.map_or(String::new(), |frame| Raw::new(frame).to_string())
    )
}
