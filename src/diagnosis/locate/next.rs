//! The measurement that tells the diagnoses apart best.
//!
//! The rule inside: a diagnosis expects of a measurement no more than the sizes with which it agrees allow; what two may both show tells
//! nothing between them, and what only one may show tells. A live measurement is named only where no dead one tells anything, and a
//! step of the plan before another measurement that tells no more.

use std::collections::BTreeMap;

use serde::Serialize;

use super::entropy::{Expected, information};
use super::measurements::{Before, Measurement, What};
use super::observed::{Observed, listed};
use super::sizes::Span;
use super::theory::Wiring;
use super::told::{Told, told};
use super::tolerance::{Range, Reads, said};
use crate::job::End;
use crate::model::fault::Size;
use crate::model::installation::Installation;
use crate::model::walked::World;
use crate::plan::{Act, Step};
use crate::value::quantity::Unit;
use crate::value::reading::Function;

/// Diagnoses over which the next measurement is sought: the likeliest.
const WEIGHED_MAX: usize = 24;
/// A measurement that tells less is not worth the walk, in bits; nor is another than the plan's for so little more.
const BITS_MIN: f64 = 0.05;
/// Below this share of what a diagnosis may show an outcome is not told of it.
const SHARE_MIN: f64 = 0.01;
/// Below this all readings are alike, in ohms, volts or seconds. Our own choice: the last digit of most displays.
const LEAST: f64 = 0.01;

/// The measurement that tells the diagnoses apart best.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Next {
    /// What is to be measured, in words, isolation first where it asks for it.
    pub words: String,
    /// What it tells on the average, in bits.
    pub bits: f64,
    /// Whether it is made with the supply on.
    pub live: bool,
    /// What it will show, and the diagnoses (by their place) that this would leave.
    pub outcomes: Vec<(String, Vec<usize>)>,
}

/// What a diagnosis expects of a measurement: the range of its readings, or what would be told, of whichever size it is.
#[derive(Debug, Clone, PartialEq)]
enum Shows {
    Reading(Range),
    Told(Vec<String>),
}

/// What may come of a measurement, in words, and what each diagnosis expects of it.
type Outcomes = (Vec<String>, Vec<Expected>);

/// The best measurement for these diagnoses, each with its weight, of which the first `named` are told to a person; `None` where none
/// tells anything.
pub(super) fn next(
    observed: &Observed,
    wiring: &Wiring<'_>,
    sets: &[(Vec<usize>, f64)],
    sizes: &[Vec<Span>],
    named: usize,
) -> Option<Next> {
    let sets = &sets[..sets.len().min(WEIGHED_MAX)];
    if sets.len() < 2 {
        return None;
    }
    let best = |live: bool| {
        let mut all = Measurement::all(observed);
        all.retain(|measurement| measurement.live == live);
        let shown: Vec<Vec<Shows>> = sets
            .iter()
            .zip(sizes)
            .map(|((set, _), sizes)| shows(observed, wiring, &all, set, sizes))
            .collect();
        let mut best: Option<(f64, usize)> = None;
        let of = |at: usize, named: usize| {
            let here: Vec<&Shows> = shown.iter().map(|shown| &shown[at]).collect();
            outcomes(&all[at], &here, named)
        };
        for at in 0..all.len() {
            let outcomes = of(at, sets.len());
            let weighed = sets
                .iter()
                .zip(&outcomes.1)
                .map(|((_, weight), expected)| (*weight, expected.clone()));
            let bits = information(&weighed.collect::<Vec<_>>());
            // the first of equals: measurements are listed in the order of their trouble
            if best.map_or(0.0, |(most, _)| most) + BITS_MIN <= bits {
                best = Some((bits, at));
            }
        }
        // what leaves the same of those that are named is one outcome for a person
        best.map(|(bits, at)| (bits, all[at].clone(), of(at, named)))
    };
    let (bits, measurement, (words, expected)) = best(false).or_else(|| best(true))?;
    let left = |outcome: usize| {
        let here = |expected: &Expected| {
            expected
                .iter()
                .any(|(there, share)| *there == outcome && SHARE_MIN <= *share)
        };
        (0..sets.len()).filter(|set| here(&expected[*set])).collect::<Vec<_>>()
    };
    let outcomes = words.into_iter().enumerate().map(|(at, words)| (words, left(at)));
    Some(Next {
        words: measurement.words(&observed.plan),
        bits,
        live: measurement.live,
        outcomes: outcomes.filter(|(_, left)| !left.is_empty()).collect(),
    })
}

/// What each measurement shows with a set of faults, of the sizes with which the set agrees.
fn shows(observed: &Observed, wiring: &Wiring<'_>, all: &[Measurement], set: &[usize], sizes: &[Span]) -> Vec<Shows> {
    let mut found: Vec<Option<Shows>> = vec![None; all.len()];
    for sizes in tried(sizes) {
        let mut installation = wiring.problem.sound.clone();
        for (mode, size) in set.iter().zip(&sizes) {
            let put = installation.put_sized(&wiring.problem.faults[*mode], Size::Step(*size));
            put.expect("the set was replayed before");
        }
        let here = at_each(observed, wiring, all, installation);
        for (found, here) in found.iter_mut().zip(here) {
            *found = Some(match (found.take(), here) {
                (Some(Shows::Reading(one)), Shows::Reading(other)) => {
                    Shows::Reading((one.0.min(other.0), one.1.max(other.1)))
                }
                (Some(Shows::Told(mut words)), Shows::Told(more)) => {
                    words.extend(more);
                    Shows::Told(words)
                }
                (_, here) => here,
            });
        }
    }
    found
        .into_iter()
        .map(|shows| shows.expect("every set has a size"))
        .collect()
}

/// The sizes to try: the ends and the middle of a single one, the ends of several.
fn tried(sizes: &[Span]) -> Vec<Vec<i16>> {
    if let [(low, high)] = sizes {
        let mut all = vec![*low, low.midpoint(*high), *high];
        all.dedup();
        return all.into_iter().map(|size| vec![size]).collect();
    }
    let low: Vec<i16> = sizes.iter().map(|(low, _)| *low).collect();
    let high: Vec<i16> = sizes.iter().map(|(_, high)| *high).collect();
    if low == high { vec![low] } else { vec![low, high] }
}

/// What each measurement shows on one installation. The plan is walked once for all of its steps.
fn at_each<'a>(
    observed: &Observed,
    wiring: &Wiring<'_>,
    all: &'a [Measurement],
    installation: Installation,
) -> Vec<Shows> {
    let plan = &observed.plan;
    let mut prepared: BTreeMap<&'a Before, Installation> = BTreeMap::new();
    let mut world = World::new(plan, installation.clone());
    let mut from = 0;
    let one = |measurement: &'a Measurement| {
        if let Before::Walked(step) = measurement.before {
            for at in from..=step {
                if observed.needed[at] || at == step {
                    world.come_to(at);
                }
            }
            from = step + 1;
            return shown(wiring, &world.installation, measurement, Some(&plan.steps[step]));
        }
        let there = prepared
            .entry(&measurement.before)
            .or_insert_with_key(|before| prepare(before, installation.clone()));
        shown(wiring, there, measurement, None)
    };
    all.iter().map(one).collect()
}

fn prepare(before: &Before, mut installation: Installation) -> Installation {
    let apart = [Act::SwitchOff, Act::Disconnect(End::Near), Act::Disconnect(End::Far)];
    match before {
        Before::Connected => installation.apply(&Act::SwitchOff),
        Before::Apart => apart.iter().for_each(|act| installation.apply(act)),
        Before::Linked(core) => {
            apart.iter().for_each(|act| installation.apply(act));
            installation.apply(&Act::LinkToEarth(core.clone()));
        }
        Before::Walked(_) => {}
    }
    installation
}

fn shown(wiring: &Wiring<'_>, there: &Installation, measurement: &Measurement, step: Option<&Step>) -> Shows {
    match &measurement.what {
        What::Reading {
            probes,
            function,
            ceiling,
            accuracy,
            input_ohms,
        } => {
            let reads = Reads::from(accuracy);
            let (low, high) = wiring.problem.expected(there, probes, *function, *input_ohms, reads);
            let over = |edge: f64| if *ceiling < edge { f64::INFINITY } else { edge };
            Shows::Reading((low.max(0.0).min(*ceiling), over(high)))
        }
        What::Told => Shows::Told(match step.and_then(|step| told(there, step)) {
            Some(Told::Words(words)) => vec![listed(&words.into_iter().collect::<Vec<_>>())],
            Some(Told::Trips(seconds)) if seconds.is_infinite() => vec!["it does not trip".into()],
            Some(Told::Trips(seconds)) => vec![format!("it trips after about {:.0} ms", seconds * 1000.0)],
            _ => Vec::new(),
        }),
    }
}

/// What may come of a measurement, by what each diagnosis shows. Of readings what leaves the same of the first `apart` diagnoses is one.
fn outcomes(measurement: &Measurement, shows: &[&Shows], apart: usize) -> Outcomes {
    match &measurement.what {
        What::Reading { function, ceiling, .. } => {
            let range = |shows: &&Shows| match shows {
                Shows::Reading(range) => *range,
                Shows::Told(_) => (0.0, f64::INFINITY),
            };
            let ranges: Vec<Range> = shows.iter().map(range).collect();
            of_ranges(&ranges, *function, *ceiling, apart)
        }
        What::Told => {
            let words = |shows: &&Shows| match shows {
                Shows::Told(words) => words.clone(),
                Shows::Reading(_) => Vec::new(),
            };
            of_words(&shows.iter().map(words).collect::<Vec<_>>())
        }
    }
}

fn of_words(all: &[Vec<String>]) -> Outcomes {
    let mut labels: Vec<String> = all.iter().flatten().cloned().collect();
    labels.sort();
    labels.dedup();
    let place = |word: &String| labels.iter().position(|label| label == word).expect("collected above");
    let expected = |words: &Vec<String>| -> Expected {
        let share = 1.0 / words.len() as f64;
        words.iter().map(|word| (place(word), share)).collect()
    };
    let expected = all.iter().map(expected).collect();
    (labels, expected)
}

/// Cuts what may be read where the range of any diagnosis begins or ends; neighbours that leave the same of the first `apart` diagnoses, or
/// none of those but some other, are one outcome.
fn of_ranges(ranges: &[Range], function: Function, ceiling: f64, apart: usize) -> Outcomes {
    // what is over the range of the instrument is told by that word, so below it nothing is called open
    let function = match function.unit() {
        Unit::Ohm => Function::Insulation(0),
        _ => function,
    };
    let mut edges: Vec<f64> = ranges
        .iter()
        .flat_map(|(low, high)| [*low, *high])
        .filter(|edge| edge.is_finite())
        .collect();
    edges.sort_by(f64::total_cmp);
    edges.dedup();
    let mut pieces: Vec<Range> = edges.windows(2).map(|pair| (pair[0], pair[1])).collect();
    let top = edges.last().copied().unwrap_or(0.0);
    pieces.push((top, f64::INFINITY));
    let shares: Vec<Vec<f64>> = ranges.iter().map(|range| share(*range, &pieces)).collect();
    let left = |piece: usize| {
        let here: Vec<bool> = shares.iter().map(|shares| 0.0 < shares[piece]).collect();
        (here.iter().any(|here| *here), here[..apart.min(here.len())].to_vec())
    };
    let (mut words, mut outcome_of, mut from) = (Vec::new(), Vec::new(), 0);
    for piece in 0..pieces.len() {
        outcome_of.push(words.len());
        if pieces.get(piece + 1).is_none() || left(piece) != left(piece + 1) {
            let range = (pieces[from].0, pieces[piece].1);
            words.push(if ceiling <= range.0 {
                "over-range".into()
            } else {
                said(range, function)
            });
            from = piece + 1;
        }
    }
    let expected = |shares: Vec<f64>| -> Expected {
        let there = shares.into_iter().enumerate().filter(|(_, share)| 0.0 < *share);
        there.map(|(piece, share)| (outcome_of[piece], share)).collect()
    };
    (words, shares.into_iter().map(expected).collect())
}

/// How much of a range lies in each piece, by proportion; an open end counts for half.
fn share((low, high): Range, pieces: &[Range]) -> Vec<f64> {
    let place = |value: f64| value.max(LEAST).ln();
    let last = pieces.len() - 1;
    let (top, open) = (pieces[last].0, high.is_infinite());
    let beyond = if !open {
        0.0
    } else if top <= low {
        1.0
    } else {
        0.5
    };
    let end = if open { top } else { high };
    let whole = place(end) - place(low);
    let one = |(at, (from, to)): (usize, &Range)| {
        if at == last {
            return beyond;
        }
        let inside = low <= *from && *to <= end;
        match whole {
            whole if !inside => whole * 0.0,
            // all of it below what displays tell apart
            whole if whole <= 0.0 => (1.0 - beyond) * f64::from(u8::from(*from == low)),
            whole => (1.0 - beyond) * (place(*to) - place(*from)) / whole,
        }
    };
    pieces.iter().enumerate().map(one).collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    fn check(ranges: &[Range], ceiling: f64, expected: &[(&str, &[usize])]) {
        let (words, shares) = of_ranges(ranges, Function::Continuity, ceiling, ranges.len());
        let left = |outcome: usize| {
            let here = |expected: &Expected| expected.iter().any(|(at, share)| *at == outcome && 0.0 < *share);
            (0..ranges.len()).filter(|at| here(&shares[*at])).collect::<Vec<_>>()
        };
        let found: Vec<_> = words
            .iter()
            .enumerate()
            .map(|(at, words)| (words.as_str(), left(at)))
            .collect();
        let found: Vec<_> = found.into_iter().filter(|(_, left)| !left.is_empty()).collect();
        let expected: Vec<_> = expected.iter().map(|(words, left)| (*words, left.to_vec())).collect();
        assert_eq!(found, expected);
        for shares in shares {
            let whole: f64 = shares.iter().map(|(_, share)| share).sum();
            assert!((whole - 1.0).abs() < 1e-9, "{whole}");
        }
    }

    #[test]
    fn readings_are_cut_where_a_range_begins_or_ends() {
        check(
            &[(0.5, 0.7), (2.0, 3.0)],
            1999.0,
            &[("0.50 ohm to 0.70 ohm", &[0]), ("2.00 ohm to 3.00 ohm", &[1])],
        );
        check(
            &[(0.5, 1.0), (0.8, 3.0)],
            1999.0,
            &[
                ("0.50 ohm to 0.80 ohm", &[0]),
                ("0.80 ohm to 1.00 ohm", &[0, 1]),
                ("1.00 ohm to 3.00 ohm", &[1]),
            ],
        );
        check(
            &[(0.5, 1.0), (1999.0, f64::INFINITY)],
            1999.0,
            &[("0.50 ohm to 1.00 ohm", &[0]), ("over-range", &[1])],
        );
        // two that are the same tell nothing
        check(&[(0.5, 1.0), (0.5, 1.0)], 1999.0, &[("0.50 ohm to 1.00 ohm", &[0, 1])]);
    }

    #[test]
    fn what_leaves_the_same_of_those_that_are_named_is_one_outcome() {
        // two are named and differ; the third, less likely, ends between them and far above the others
        let ranges = [(100e3, 300e3), (30e6, 40e6), (200e3, 5e6)];
        let (words, shares) = of_ranges(&ranges, Function::Resistance, 40e6, 2);
        assert_eq!(
            words[..3],
            [
                "100.00 kohm to 300.00 kohm",
                "300.00 kohm to 5.00 Mohm",
                "5.00 Mohm to 30.00 Mohm"
            ]
        );
        assert_eq!(words[3], "30.00 Mohm to 40.00 Mohm");
        for shares in shares {
            let whole: f64 = shares.iter().map(|(_, share)| share).sum();
            assert!((whole - 1.0).abs() < 1e-9, "{whole}");
        }
    }

    #[test]
    fn what_is_told_is_its_words() {
        let words = |words: &[&str]| words.iter().map(|word| (*word).to_owned()).collect::<Vec<_>>();
        let (labels, expected) = of_words(&[words(&["holds"]), words(&["moves", "holds"])]);
        assert_eq!(labels, ["holds", "moves"]);
        assert_eq!(expected, [vec![(0, 1.0)], vec![(1, 0.5), (0, 0.5)]]);
    }
}
