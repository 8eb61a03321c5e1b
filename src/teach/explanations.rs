//! Every explanation of the displays that were typed, from every way to cut their bytes.
//!
//! The rule inside: bytes of frames stand still while a display stands, but for counters and checks; words of texts are told apart
//! by what they do.

use super::bits::Ground;
use super::cut::{Cut, Form, counter, cuts};
use super::display::Display;
use super::error::TeachError;
use super::hypothesis::{Hypothesis, Seen};
use super::{numbers, segments, text};

/// Every explanation of these displays, and whether their bytes are text.
pub(super) fn explanations(displays: &[Display], captures: &[Vec<u8>]) -> Result<(Vec<Hypothesis>, bool), TeachError> {
    let slices: Vec<&[u8]> = captures.iter().map(Vec::as_slice).collect();
    let bytes = slices.last().map_or(0, |last| last.len());
    let ways = cuts(&slices);
    if ways.is_empty() {
        return Err(TeachError::NoFrames { bytes });
    }
    let text = matches!(ways[0].form, Form::Text { .. });
    let mut unsteady = None;
    let mut found = Vec::new();
    for way in &ways {
        if text {
            found.extend(text::hypotheses(way, displays));
            unsteady = unsteady.or(text::unsteady(way, displays));
        } else {
            match steady(way, displays) {
                Ok(seen) => found.extend(explain(way, &seen)),
                Err(display) => unsteady = Some(display),
            }
        }
    }
    if let (true, Some(display)) = (found.is_empty(), unsteady) {
        return Err(TeachError::NotSteady {
            display: display.to_string(),
        });
    }
    // one explanation may be reached in two ways
    found.sort_by(|a, b| a.body.cmp(&b.body));
    found.dedup_by(|a, b| a.body == b.body);
    Ok((found, text))
}

fn explain(way: &Cut, seen: &[Seen<'_>]) -> Vec<Hypothesis> {
    let Some(ground) = Ground::new(way, seen) else {
        return Vec::new();
    };
    let mut found = numbers::hypotheses(&ground);
    found.extend(segments::hypotheses(&ground));
    found
}

/// The frames of a cut with their displays, or the display whose frames are not all the same.
fn steady<'a>(way: &'a Cut, displays: &'a [Display]) -> Result<Vec<Seen<'a>>, &'a Display> {
    let counters: Vec<usize> = match &way.form {
        Form::Text { .. } => Vec::new(),
        Form::Bits { .. } => {
            let bytes = way.frames[0][0].len();
            (0..bytes)
                .filter(|byte| !counter(&way.frames, *byte).is_empty())
                .collect()
        }
    };
    let protects = |byte: usize| match &way.form {
        Form::Text { .. } => false,
        Form::Bits { taken } => taken.contains(&(byte, 0)),
    };
    let same = |a: &[u8], b: &[u8]| {
        let differs = |at: usize| a[at] != b[at] && !counters.contains(&at) && !protects(at);
        a.len() == b.len() && !(0..a.len()).any(differs)
    };
    let pairs = way.frames.iter().zip(displays);
    pairs
        .map(|(frames, display)| {
            let alike = frames.iter().all(|frame| same(frame, &frames[0]));
            alike
                .then_some(Seen {
                    display,
                    frame: &frames[0],
                })
                .ok_or(display)
        })
        .collect()
}
