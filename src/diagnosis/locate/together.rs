//! Faults together, each of one size all the time, against everything that was seen.
//!
//! The rule inside: what all corners of a cell of sizes span, the cell may show. What is looked at first is what refuted the cell before, and
//! nothing is worked out of a network that it does not ask for: of the many sets that a sieve lets through most are refuted by one reading.

use std::collections::BTreeMap;

use super::problem::{AGREES, DISAGREES, Problem, Way, value};
use super::replay::{Replayed, beside};
use super::sizes::{COARSE, Span, cells, corners};
use super::tolerance::Range;
use crate::model::fault::Size;
use crate::model::installation::Installation;
use crate::model::variants::Difference;

/// A plan done again with a set of faults, each of one size.
pub(super) struct Replay {
    with: Replayed<Difference>,
    indicator_works: bool,
    /// What each observation would have been, as far as it was asked for.
    ranges: Vec<Option<Range>>,
}

impl Replay {
    pub(super) fn of(problem: &Problem<'_>, installation: Installation) -> Replay {
        Replay {
            indicator_works: installation.indicator_works(),
            with: beside(problem.observed, installation, &problem.base),
            ranges: vec![None; problem.ways.len()],
        }
    }

    /// What an observation would have been.
    pub(super) fn range(&mut self, problem: &Problem<'_>, at: usize) -> Range {
        if let Some(known) = self.ranges[at] {
            return known;
        }
        let observation = &problem.observed.list[at];
        let step = &problem.observed.plan.steps[observation.step];
        let range = match &problem.ways[at] {
            Way::Told if self.with.told[&at].agrees(&observation.seen, step) => AGREES,
            Way::Told => DISAGREES,
            Way::Indicator { .. } if !self.indicator_works => (0.0, 0.0),
            way => value(&self.with.state(at).on(problem.base.state(at)), way),
        };
        self.ranges[at] = Some(range);
        range
    }
}

/// A set of faults, and its replays by their sizes; none where the set cannot be.
pub(super) struct Together<'w, 'a> {
    problem: &'w Problem<'a>,
    set: &'w [usize],
    spans: Vec<Span>,
    replays: BTreeMap<Vec<i16>, Option<Replay>>,
    order: Vec<usize>,
}

impl<'w, 'a> Together<'w, 'a> {
    /// `order` says which observation is looked at first.
    pub(super) fn of(problem: &'w Problem<'a>, set: &'w [usize], order: Vec<usize>) -> Together<'w, 'a> {
        Together {
            problem,
            set,
            spans: set.iter().map(|mode| problem.spans[*mode]).collect(),
            replays: BTreeMap::new(),
            order,
        }
    }

    /// Whether some sizes agree with everything that was seen.
    pub(super) fn agrees(&mut self) -> bool {
        cells(&self.spans, COARSE).iter().any(|cell| self.allows(cell, COARSE))
    }

    /// The least and the greatest size of each fault with which it agrees with everything that was seen.
    pub(super) fn sizes(&mut self) -> Vec<Span> {
        // one alone is looked at step by step; several at once only coarsely
        let steps = if self.set.len() == 1 { 1 } else { COARSE };
        let mut coarse = cells(&self.spans, COARSE);
        coarse.retain(|cell| self.allows(cell, COARSE));
        let inside = |cell: &Vec<i16>| {
            let spans = cell.iter().zip(&self.spans);
            let inside = spans.map(|(low, (_, most))| (*low, (low + COARSE).min(*most)));
            cells(&inside.collect::<Vec<_>>(), steps)
        };
        let mut fine: Vec<_> = coarse.iter().flat_map(inside).collect();
        fine.retain(|cell| self.allows(cell, steps));
        let (found, steps) = if fine.is_empty() {
            (coarse, COARSE)
        } else {
            (fine, steps)
        };
        let of = |(at, (least, most)): (usize, &Span)| {
            let low = found.iter().map(|cell| cell[at]).min();
            let high = found.iter().map(|cell| (cell[at] + steps).min(*most)).max();
            (low.unwrap_or(*least), high.unwrap_or(*most))
        };
        self.spans.iter().enumerate().map(of).collect()
    }

    /// Whether everything that was seen lies in what the corners of a cell of sizes span.
    fn allows(&mut self, cell: &[i16], steps: i16) -> bool {
        let corners = corners(cell, &self.spans, steps);
        if !corners.iter().all(|corner| self.is_replayed(corner)) {
            return false;
        }
        let refuting = (0..self.order.len()).find(|nth| !self.spans_what_was_seen(self.order[*nth], &corners));
        if let Some(nth) = refuting {
            self.order[..=nth].rotate_right(1);
        }
        refuting.is_none()
    }

    /// Whether the set can be of these sizes; it is replayed where it was not before.
    fn is_replayed(&mut self, sizes: &[i16]) -> bool {
        if let Some(there) = self.replays.get(sizes) {
            return there.is_some();
        }
        let mut installation = self.problem.sound.clone();
        let can_be = self.set.iter().zip(sizes).all(|(mode, size)| {
            let put = installation.put_sized(&self.problem.faults[*mode], Size::Step(*size));
            put.is_ok()
        });
        let replay = can_be.then(|| Replay::of(self.problem, installation));
        self.replays.insert(sizes.to_vec(), replay);
        can_be
    }

    fn spans_what_was_seen(&mut self, at: usize, corners: &[Vec<i16>]) -> bool {
        let mut hull: Option<Range> = None;
        let mut fails = false;
        for corner in corners {
            let replay = self.replays.get_mut(corner).and_then(Option::as_mut);
            let replay = replay.expect("it was replayed before");
            let (low, high) = replay.range(self.problem, at);
            hull = Some(hull.map_or((low, high), |(least, most)| (least.min(low), most.max(high))));
            fails |= replay.with.fails.contains(&at);
        }
        hull.is_some_and(|range| self.problem.holds(at, range)) && (fails || !self.problem.must_fail(at))
    }
}
