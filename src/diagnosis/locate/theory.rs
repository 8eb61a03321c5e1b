//! The wiring as a theory: which faults agree with which observations.
//!
//! The rule inside: a fault of a range (a joint of 0.3 ohm to 1 kohm) agrees with the readings when some size in the range could
//! give them all.
//!
//! Each fault is replayed alone, through every act up to the last observation, and leaves behind what it changed in the
//! network at each state that was measured. Several faults at once are their changes together, each reading by itself: a
//! quick sieve. What passes it is then replayed together, size by size, because a valve that gets no voltage also leaves its
//! end switch where it is.

use std::collections::BTreeMap;

use super::consistency::Theory;
use super::observed::{Observation, Observed, Seen};
use super::replay::{Replayed, beside, replay, states};
use super::sizes::{COARSE, Span, beyond, cells, corners, within};
use super::told::Told;
use super::tolerance::{Range, Reads, Tolerance};
use crate::model::error::InstallationError;
use crate::model::fault::{Fault, Size};
use crate::model::installation::Installation;
use crate::model::library;
use crate::model::meter::INPUT_OHMS;
use crate::model::network::Network;
use crate::model::probes::{indicator_volts, meter_value, points};
use crate::model::variants::{Difference, Direction, Variants};
use crate::model::wiring::float;
use crate::plan::Kind;
use crate::value::reading::Function;

/// How much the loop outside the installation may have more or less than the model's, in ohms: suppliers declare up to 0.8 ohm on
/// TN-S (distribution practice, from memory), and a TT electrode is good up to 200 ohm (seen in trade guidance).
const LOOP_OUTSIDE_OHMS: f64 = 1.0;
const LOOP_OUTSIDE_TT_OHMS: f64 = 200.0;
/// What was told that agrees, or does not, put as a range.
const AGREES: Range = (1.0, 1.0);
const DISAGREES: Range = (0.0, 0.0);

/// How an observation is predicted.
#[derive(Debug, Clone)]
enum Way {
    /// Between two points of a state's network.
    Meter {
        pair: [String; 2],
        function: Function,
        input: f64,
        reads: Reads,
    },
    /// Both tips together or one in the air.
    Tips,
    /// Lit where there is voltage, as long as the indicator works.
    Indicator { pair: [String; 2] },
    /// Not read between two points: told when sound, and with each fault at both ends of its range.
    Told { sound: Told, faulty: Vec<[Told; 2]> },
}

#[derive(Debug, Clone)]
struct Check {
    /// Its place among the observations.
    at: usize,
    seen: Seen,
    state: usize,
    way: Way,
    /// The step failed though a sound installation may show as much: with each fault whether it would fail, at either end of its range.
    fails: Option<Vec<bool>>,
    memo: BTreeMap<Vec<usize>, Range>,
}

/// The faults of a job against what was seen.
pub(super) struct Wiring<'a> {
    observed: &'a Observed,
    tolerance: Tolerance,
    pub(super) sound: Installation,
    pub(super) faults: Vec<Fault>,
    spans: Vec<Span>,
    parts: Vec<usize>,
    states: Vec<Variants>,
    /// Faults of the indicator.
    blind: Vec<bool>,
    checks: Vec<Check>,
    /// How each observation is predicted, in their order.
    ways: Vec<Way>,
}

impl<'a> Wiring<'a> {
    /// Prepares a job's faults for what was seen, each of the sizes that the library takes.
    pub(super) fn new(observed: &'a Observed) -> Result<Wiring<'a>, InstallationError> {
        let faults = library::faults(&observed.plan.job)?;
        let spans = faults.iter().map(within).collect();
        Wiring::with(observed, faults, spans)
    }

    /// The same with the faults that have a size, and sizes that lie far outside the library's as well.
    pub(super) fn widened(observed: &'a Observed) -> Result<Wiring<'a>, InstallationError> {
        let mut faults = library::faults(&observed.plan.job)?;
        faults.retain(Fault::has_range);
        let spans = faults.iter().map(beyond).collect();
        Wiring::with(observed, faults, spans)
    }

    fn with(observed: &'a Observed, faults: Vec<Fault>, spans: Vec<Span>) -> Result<Wiring<'a>, InstallationError> {
        let plan = &observed.plan;
        let sound = Installation::of(&plan.job)?;
        let base = replay(observed, sound.clone());
        let mut replays = Vec::with_capacity(2 * faults.len());
        let mut blind = Vec::new();
        for (fault, (least, greatest)) in faults.iter().zip(&spans) {
            let mut works = true;
            for size in [least, greatest] {
                let mut installation = sound.clone();
                installation.put_sized(fault, Size::Step(*size))?;
                works &= installation.indicator_works();
                replays.push(beside(observed, installation, &base));
            }
            blind.push(!works);
        }
        let starts = states(&base, &replays);
        let state_of = |at: usize| starts.partition_point(|start| *start <= at) - 1;
        let check = |at: usize| check(observed, at, state_of(at), &base, &replays);
        let checks: Vec<Check> = (0..observed.list.len()).map(check).collect();
        let variants = starts.iter().enumerate().map(|(state, start)| {
            let here = checks.iter().filter(|check| check.state == state);
            let pairs: Vec<[String; 2]> = here.filter_map(|check| check.way.pair().cloned()).collect();
            let sound = base.state(*start);
            let changes = replays.iter().map(|with| with.state(*start).clone());
            Variants::new(sound, changes.collect(), &pairs)
        });
        let variants: Vec<Variants> = variants.collect();
        let mut parts: Vec<&str> = faults.iter().map(|fault| fault.part.as_str()).collect();
        parts.sort_unstable();
        parts.dedup();
        let part = |fault: &Fault| {
            parts
                .iter()
                .position(|part| *part == fault.part)
                .expect("collected above")
        };
        let mut wiring = Wiring {
            observed,
            tolerance: Tolerance::of(&plan.job).map_err(|why| InstallationError::Wiring { why })?,
            sound,
            parts: faults.iter().map(part).collect(),
            states: variants,
            spans,
            faults,
            blind,
            ways: checks.iter().map(|check| check.way.clone()).collect(),
            checks: Vec::new(),
        };
        wiring.checks = wiring.in_order(checks.into_iter().map(|check| wiring.told_by_readings(check)).collect());
        Ok(wiring)
    }

    /// Where the reading itself speaks against a sound installation, that the step failed tells no more.
    fn told_by_readings(&self, check: Check) -> Check {
        let alone = Check {
            fails: None,
            ..check.clone()
        };
        if self.agrees_with(&alone, &mut None, &[]) {
            check
        } else {
            alone
        }
    }

    /// What speaks against a sound installation first, then what is quick to work out.
    fn in_order(&self, mut checks: Vec<Check>) -> Vec<Check> {
        checks.sort_by_cached_key(|check| {
            let agrees = self.agrees_with(check, &mut None, &[]);
            let slow = match &check.way {
                Way::Told { .. } | Way::Tips => 0,
                Way::Meter { function, .. } if function.is_dead_test() => 1,
                Way::Meter { .. } => 2,
                Way::Indicator { .. } => 3,
            };
            (agrees, slow)
        });
        checks
    }

    /// Whether the set, replayed as one, agrees with everything that was seen, each fault being of one size all the time.
    fn replayed_agrees(&self, set: &[usize]) -> bool {
        let spans: Vec<Span> = set.iter().map(|mode| self.spans[*mode]).collect();
        let mut replays = Replays::new();
        let mut cells = cells(&spans, COARSE).into_iter();
        cells.any(|cell| self.cell_agrees(set, &spans, &cell, COARSE, &mut replays))
    }

    /// The least and the greatest size of each fault of a set with which it agrees with everything that was seen.
    pub(super) fn sizes(&self, set: &[usize]) -> Vec<Span> {
        let spans: Vec<Span> = set.iter().map(|mode| self.spans[*mode]).collect();
        let mut replays = Replays::new();
        // one alone is looked at step by step; several at once only coarsely
        let steps = if set.len() == 1 { 1 } else { COARSE };
        let coarse = cells(&spans, COARSE).into_iter();
        let coarse: Vec<_> = coarse
            .filter(|cell| self.cell_agrees(set, &spans, cell, COARSE, &mut replays))
            .collect();
        let fine = coarse.iter().flat_map(|cell| {
            let inside = cell
                .iter()
                .zip(&spans)
                .map(|(low, (_, most))| (*low, (low + COARSE).min(*most)));
            cells(&inside.collect::<Vec<_>>(), steps)
        });
        let fine: Vec<_> = fine
            .filter(|cell| self.cell_agrees(set, &spans, cell, steps, &mut replays))
            .collect();
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
        spans.iter().enumerate().map(of).collect()
    }

    /// Whether what was seen lies in what the corners of a cell of sizes span.
    fn cell_agrees(&self, set: &[usize], spans: &[Span], cell: &[i16], steps: i16, replays: &mut Replays) -> bool {
        let mut hull: Option<Vec<(Range, bool)>> = None;
        for corner in corners(cell, spans, steps) {
            let replay = replays
                .entry(corner)
                .or_insert_with_key(|sizes| self.replayed(set, sizes));
            let Some(replay) = replay else { return false };
            hull = Some(match hull {
                None => replay.clone(),
                Some(hull) => hull
                    .iter()
                    .zip(replay)
                    .map(|(one, other)| joined(*one, *other))
                    .collect(),
            });
        }
        let list = self.observed.list.iter().zip(hull.unwrap_or_default());
        let mut holding = list
            .enumerate()
            .map(|(at, (observation, (range, fails)))| match &self.ways[at] {
                Way::Told { .. } => range.1 == AGREES.1,
                way => holds(&observation.seen, self.spread(way, range)) && (fails || !must_fail(observation, way)),
            });
        holding.all(|holds| holds)
    }

    /// Whether a fault of its usual size would have shown nothing in what was seen.
    pub(super) fn hides(&self, mode: usize) -> bool {
        let sieved = self
            .checks
            .iter()
            .all(|check| self.agrees_with(check, &mut None, &[mode]));
        let mut installation = self.sound.clone();
        if !sieved || installation.put(&self.faults[mode]).is_err() {
            return false;
        }
        let found = self.of(installation);
        let list = self.observed.list.iter().zip(found);
        list.enumerate()
            .all(|(at, (observation, (range, _)))| match &self.ways[at] {
                Way::Told { .. } => range == AGREES,
                way => holds(&observation.seen, self.spread(way, range)),
            })
    }

    /// What each observation would have been with a set of these sizes, and whether its step would fail; `None` where the set cannot be.
    fn replayed(&self, set: &[usize], sizes: &[i16]) -> Option<Vec<(Range, bool)>> {
        let mut installation = self.sound.clone();
        for (mode, size) in set.iter().zip(sizes) {
            installation.put_sized(&self.faults[*mode], Size::Step(*size)).ok()?;
        }
        Some(self.of(installation))
    }

    /// What each observation would have been on an installation, and whether its step would fail.
    fn of(&self, installation: Installation) -> Vec<(Range, bool)> {
        let works = installation.indicator_works();
        let with = replay(self.observed, installation);
        let range = |at: usize| {
            let observation = &self.observed.list[at];
            let step = &self.observed.plan.steps[observation.step];
            match &self.ways[at] {
                Way::Told { .. } if with.told[&at].agrees(&observation.seen, step) => AGREES,
                Way::Told { .. } => DISAGREES,
                Way::Indicator { .. } if !works => (0.0, 0.0),
                way => value(with.state(at), way),
            }
        };
        (0..self.ways.len())
            .map(|at| (range(at), with.fails.contains(&at)))
            .collect()
    }

    fn agrees_with(&self, check: &Check, memo: &mut Option<&mut BTreeMap<Vec<usize>, Range>>, set: &[usize]) -> bool {
        if check
            .fails
            .as_ref()
            .is_some_and(|fails| !set.iter().any(|mode| fails[*mode]))
        {
            return false;
        }
        match (&check.way, &check.seen) {
            (Way::Tips, _) => true,
            (Way::Told { sound, faulty }, seen) => {
                let step = &self.observed.plan.steps[self.observed.list[check.at].step];
                let mut changed = set
                    .iter()
                    .flat_map(|mode| &faulty[*mode])
                    .filter(|told| *told != sound)
                    .peekable();
                match set {
                    [] => sound.agrees(seen, step),
                    [mode] => faulty[*mode].iter().any(|told| told.agrees(seen, step)),
                    // what several come to together only the replay tells
                    _ => changed.peek().is_some() || sound.agrees(seen, step),
                }
            }
            (Way::Indicator { .. }, Seen::Lit { lit, .. }) if set.iter().any(|mode| self.blind[*mode]) => !lit,
            _ => self.in_range(check, memo, set),
        }
    }

    /// Whether what was seen lies in the range that a set gives. A set is left early where a part of it bounds the whole.
    fn in_range(&self, check: &Check, memo: &mut Option<&mut BTreeMap<Vec<usize>, Range>>, set: &[usize]) -> bool {
        let state = &self.states[check.state];
        let acting: Vec<usize> = set
            .iter()
            .copied()
            .filter(|mode| !(state.is_inert(2 * mode) && state.is_inert(2 * mode + 1)))
            .collect();
        if let (Way::Meter { function, .. }, Seen::Between { low, high }) = (&check.way, &check.seen)
            && function.is_dead_test()
            && !acting.iter().any(|mode| state.feeds(2 * mode))
        {
            let without = |direction: Direction| -> Vec<usize> {
                let other = |mode: &usize| (0..2).any(|size| state.direction(2 * mode + size) != direction);
                acting.iter().copied().filter(other).collect()
            };
            let most = without(Direction::Lowering);
            if most.len() < acting.len() && self.range(check, memo, &most).1 < *low {
                return false;
            }
            let least = without(Direction::Raising);
            if least.len() < acting.len() && *high < self.range(check, memo, &least).0 {
                return false;
            }
        }
        holds(&check.seen, self.range(check, memo, &acting))
    }

    /// The range that a set gives, spread by all that is not known exactly.
    fn range(&self, check: &Check, memo: &mut Option<&mut BTreeMap<Vec<usize>, Range>>, set: &[usize]) -> Range {
        if let Some(known) = memo.as_ref().and_then(|memo| memo.get(set)) {
            return *known;
        }
        let state = &self.states[check.state];
        let one = |size: usize| -> Range {
            let variants: Vec<usize> = set.iter().map(|mode| 2 * mode + size).collect();
            match &check.way {
                Way::Meter { pair, function, .. }
                    if function.is_dead_test() && !variants.iter().any(|variant| state.feeds(*variant)) =>
                {
                    let ohms = state.resistance(&variants, pair);
                    (ohms, ohms)
                }
                way => value(&state.network(&variants), way),
            }
        };
        let (first, second) = if set.iter().any(|mode| self.faults[*mode].has_range()) {
            (one(0), one(1))
        } else {
            let only = one(0);
            (only, only)
        };
        let range = self.spread(&check.way, (first.0.min(second.0), first.1.max(second.1)));
        if set.len() <= 2
            && let Some(memo) = memo
        {
            memo.insert(set.to_vec(), range);
        }
        range
    }

    fn spread(&self, way: &Way, range: Range) -> Range {
        match way {
            Way::Meter {
                function, input, reads, ..
            } => {
                let (low, high) = self.tolerance.spread(range, function.unit(), *input, *reads);
                if *function != Function::Loop {
                    return (low, high);
                }
                // the loop outside is the supplier's, from almost nothing up to what such a supply may have
                let is_tt = self.observed.plan.job.supply.earthing.trim().starts_with("TT");
                let more = if is_tt { LOOP_OUTSIDE_TT_OHMS } else { LOOP_OUTSIDE_OHMS };
                (low - LOOP_OUTSIDE_OHMS, high + more)
            }
            _ => range,
        }
    }

    /// What a meter may show with some faults in, between the points where it is laid.
    pub(super) fn expected(
        &self,
        at: &Installation,
        probes: &crate::plan::Probes,
        function: Function,
        input: f64,
        reads: Reads,
    ) -> Range {
        let value = at.shows(probes, function, input);
        self.tolerance.spread((value, value), function.unit(), input, reads)
    }
}

impl Theory for Wiring<'_> {
    fn modes(&self) -> usize {
        self.faults.len()
    }

    fn part(&self, mode: usize) -> usize {
        self.parts[mode]
    }

    fn agrees(&mut self, modes: &[usize]) -> bool {
        for at in 0..self.checks.len() {
            let mut memo = std::mem::take(&mut self.checks[at].memo);
            let agrees = self.agrees_with(&self.checks[at], &mut Some(&mut memo), modes);
            self.checks[at].memo = memo;
            if !agrees {
                return false;
            }
        }
        // the last word: every fault of one size all the time, and what one does to the other
        self.replayed_agrees(modes)
    }
}

impl Way {
    fn pair(&self) -> Option<&[String; 2]> {
        match self {
            Way::Meter { pair, .. } | Way::Indicator { pair } => Some(pair),
            Way::Tips | Way::Told { .. } => None,
        }
    }
}

/// Replays of a set, by the sizes of its faults.
type Replays = BTreeMap<Vec<i16>, Option<Vec<(Range, bool)>>>;

fn joined((one, fails): (Range, bool), (other, also): (Range, bool)) -> (Range, bool) {
    ((one.0.min(other.0), one.1.max(other.1)), fails || also)
}

/// Whether only what would fail the step as well explains an observation. Of what is told the words themselves say so.
fn must_fail(observation: &Observation, way: &Way) -> bool {
    observation.failed() && matches!(way, Way::Meter { .. } | Way::Tips)
}

fn check(
    observed: &Observed,
    at: usize,
    state: usize,
    base: &Replayed<Network>,
    replays: &[Replayed<Difference>],
) -> Check {
    let observation = &observed.list[at];
    let way = match (&observed.plan.steps[observation.step].kind, base.told.get(&at)) {
        (_, Some(sound)) => {
            let both = |with: &[Replayed<Difference>]| [&with[0], &with[1]].map(|with| with.told[&at].clone());
            Way::Told {
                sound: sound.clone(),
                faulty: replays.chunks(2).map(both).collect(),
            }
        }
        (Kind::Measure(measure), None) => match points(&measure.probes) {
            Some(pair) => Way::Meter {
                pair,
                function: measure.used.function,
                input: measure
                    .used
                    .input
                    .as_ref()
                    .map_or(INPUT_OHMS, |input| float(input.value())),
                reads: Reads::from(&measure.used.known.accuracy).on(observation.seen.last_digit()),
            },
            None => Way::Tips,
        },
        (Kind::Indicator { probes, .. }, None) => points(probes).map_or(Way::Tips, |pair| Way::Indicator { pair }),
        _ => Way::Tips,
    };
    let fails = || {
        replays
            .chunks(2)
            .map(|with| with.iter().any(|with| with.fails.contains(&at)))
            .collect()
    };
    Check {
        at,
        seen: observation.seen.clone(),
        state,
        fails: must_fail(observation, &way).then(fails),
        way,
        memo: BTreeMap::new(),
    }
}

/// What stands at an instrument in a network, as least and greatest value.
fn value(network: &Network, way: &Way) -> Range {
    let value = match way {
        Way::Meter {
            pair, function, input, ..
        } => meter_value(network, pair, *function, *input),
        Way::Indicator { pair } => indicator_volts(network, pair),
        Way::Tips | Way::Told { .. } => 0.0,
    };
    (value, value)
}

/// Whether what a meter or the indicator showed lies in a range.
pub(super) fn holds(seen: &Seen, (least, greatest): Range) -> bool {
    match seen {
        Seen::Between { low, high } => least <= *high && *low <= greatest,
        Seen::Lit { lit: true, from } => *from <= greatest,
        Seen::Lit { lit: false, from } => least < *from,
        Seen::Marked(_) | Seen::Words(_) | Seen::Found => false,
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::model::sample::plan;

    /// Every set of at most two of these faults: what passes the sieve and the replay against the replay alone.
    fn check(text: &str, kinds: &[&str]) {
        let observed = Observed::typed(plan(), text).unwrap();
        let mut wiring = Wiring::new(&observed).unwrap();
        let chosen: Vec<usize> = (0..wiring.modes())
            .filter(|mode| kinds.contains(&wiring.faults[*mode].kind.as_str()))
            .collect();
        let mut agreeing = 0;
        for (at, one) in chosen.iter().enumerate() {
            let pairs = chosen[at + 1..].iter().map(|other| vec![*one, *other]);
            for set in std::iter::once(vec![*one]).chain(pairs) {
                if set.len() == 2 && wiring.parts[set[0]] == wiring.parts[set[1]] {
                    continue;
                }
                let brute = wiring.replayed_agrees(&set);
                agreeing += usize::from(brute);
                assert_eq!(
                    wiring.agrees(&set),
                    brute,
                    "{:?}",
                    set.iter().map(|mode| &wiring.faults[*mode].name).collect::<Vec<_>>()
                );
            }
        }
        assert!(0 < agreeing, "something explains it");
    }

    #[test]
    fn the_sieve_loses_nothing_that_brute_force_finds() {
        check(
            "continuity/brown: 0.66\ncontinuity/grey: OL\nall-open/grey: OL\n",
            &["core-open", "cores-swapped", "cores-touching"],
        );
        check(
            "continuity/brown: 0.66\ninsulation/brown: 0.4 Mohm\ninsulation-alone/grey/black: 0.8 Mohm\n",
            &["insulation-low", "core-open"],
        );
        check(
            "feed: 230\nswitched-on: 230\nend-switch-on: 0.1\n",
            &[
                "end-switch-open",
                "valve-stuck",
                "zones-crossed",
                "neutral-missing",
                "conductor-not-gripped",
            ],
        );
    }
}
