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
use super::observed::{Observed, Seen};
use super::replay::{Replayed, replay, states};
use super::sizes::{cells, corners};
use super::tolerance::{Range, Reads, Tolerance};
use crate::job::Purpose;
use crate::judge::accuracy::Accuracy;
use crate::model::error::InstallationError;
use crate::model::fault::{Fault, Size};
use crate::model::installation::Installation;
use crate::model::library;
use crate::model::meter::INPUT_OHMS;
use crate::model::network::Network;
use crate::model::probes::{INDICATOR_VOLTS, indicator_volts, meter_value, points};
use crate::model::variants::{Difference, Direction, Variants};
use crate::model::wiring::float;
use crate::plan::Kind;
use crate::value::reading::Function;

/// How much the loop outside the installation may have more or less than the model's, in ohms: suppliers declare up to 0.8 ohm on
/// TN-S (distribution practice, from memory), and a TT electrode is good up to 200 ohm (seen in trade guidance).
const LOOP_OUTSIDE_OHMS: f64 = 1.0;
const LOOP_OUTSIDE_TT_OHMS: f64 = 200.0;
/// The ends of a fault's range, between which resistances lie.
const SIZES: [Size; 2] = [Size::LEAST, Size::GREATEST];

/// A marking that agrees, or does not, put as a range.
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
    /// What is marked at the terminal that a core goes into: sound, and with each fault.
    Marking {
        sound: Option<Purpose>,
        faulty: Vec<Option<Purpose>>,
    },
}

#[derive(Debug, Clone)]
struct Check {
    seen: Seen,
    state: usize,
    way: Way,
    memo: BTreeMap<Vec<usize>, Range>,
}

/// The faults of a job against what was seen.
pub(super) struct Wiring<'a> {
    observed: &'a Observed,
    tolerance: Tolerance,
    pub(super) sound: Installation,
    pub(super) faults: Vec<Fault>,
    parts: Vec<usize>,
    states: Vec<Variants>,
    /// Faults of the indicator.
    blind: Vec<bool>,
    checks: Vec<Check>,
    /// How each observation is predicted, in their order.
    ways: Vec<Way>,
}

impl<'a> Wiring<'a> {
    /// Prepares a job's faults for what was seen.
    pub(super) fn new(observed: &'a Observed) -> Result<Wiring<'a>, InstallationError> {
        let plan = &observed.plan;
        let sound = Installation::of(&plan.job)?;
        let faults = library::faults(&plan.job)?;
        let base = replay(observed, sound.clone());
        let mut replays = Vec::with_capacity(faults.len());
        let mut blind = Vec::new();
        for fault in &faults {
            for size in SIZES {
                let mut installation = sound.clone();
                installation.put_sized(fault, size)?;
                if size == Size::LEAST {
                    blind.push(!installation.indicator_works());
                }
                replays.push(replay(observed, installation));
            }
        }
        let starts = states(std::iter::once(&base).chain(&replays));
        let marked: Vec<_> = replays.iter().step_by(SIZES.len()).map(|with| &with.markings).collect();
        let state_of = |at: usize| starts.partition_point(|start| *start <= at) - 1;
        let check = |at: usize| check(observed, at, state_of(at), &base, &marked);
        let checks: Vec<Check> = (0..observed.list.len()).map(check).collect();
        let variants = starts.iter().enumerate().map(|(state, start)| {
            let here = checks.iter().filter(|check| check.state == state);
            let pairs: Vec<[String; 2]> = here.filter_map(|check| check.way.pair().cloned()).collect();
            let sound = base.network(*start);
            let changes = replays.iter().map(|with| Difference::between(sound, with.network(*start)));
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
            faults,
            blind,
            ways: checks.iter().map(|check| check.way.clone()).collect(),
            checks: Vec::new(),
        };
        wiring.checks = wiring.in_order(checks);
        Ok(wiring)
    }

    /// What speaks against a sound installation first, then what is quick to work out.
    fn in_order(&self, mut checks: Vec<Check>) -> Vec<Check> {
        checks.sort_by_cached_key(|check| {
            let agrees = self.agrees_with(check, &mut None, &[]);
            let slow = match &check.way {
                Way::Marking { .. } | Way::Tips => 0,
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
        let steps: Vec<u8> = set
            .iter()
            .map(|mode| if self.faults[*mode].has_range() { Size::STEPS } else { 0 })
            .collect();
        let mut replays: BTreeMap<Vec<u8>, Option<Vec<Range>>> = BTreeMap::new();
        let mut agrees = |cell: &[u8]| {
            let mut ranges: Option<Vec<Range>> = None;
            for corner in corners(cell, &steps) {
                let replay = replays
                    .entry(corner)
                    .or_insert_with_key(|sizes| self.replayed(set, sizes));
                let Some(replay) = replay else { return false };
                ranges = Some(match ranges {
                    None => replay.clone(),
                    Some(ranges) => hull(&ranges, replay),
                });
            }
            let list = self.observed.list.iter().zip(ranges.unwrap_or_default());
            let mut holding = list
                .enumerate()
                .map(|(at, (observation, range))| match observation.seen {
                    Seen::Marked(_) => range == AGREES,
                    seen => holds(seen, self.spread(&self.ways[at], range)),
                });
            holding.all(|holds| holds)
        };
        cells(&steps).iter().any(|cell| agrees(cell))
    }

    /// What each observation would have been with a set of these sizes; `None` where the set cannot be.
    fn replayed(&self, set: &[usize], sizes: &[u8]) -> Option<Vec<Range>> {
        let mut installation = self.sound.clone();
        for (mode, size) in set.iter().zip(sizes) {
            installation.put_sized(&self.faults[*mode], Size::Step(*size)).ok()?;
        }
        let works = installation.indicator_works();
        let with = replay(self.observed, installation);
        let range = |at: usize| match (&self.ways[at], self.observed.list[at].seen) {
            (Way::Marking { .. }, Seen::Marked(seen)) if with.markings[&at] == Some(seen) => AGREES,
            (Way::Marking { .. }, _) => DISAGREES,
            (Way::Indicator { .. }, _) if !works => (0.0, 0.0),
            (way, _) => value(with.network(at), way),
        };
        Some((0..self.ways.len()).map(range).collect())
    }

    fn agrees_with(&self, check: &Check, memo: &mut Option<&mut BTreeMap<Vec<usize>, Range>>, set: &[usize]) -> bool {
        match (&check.way, check.seen) {
            (Way::Tips, _) => true,
            (Way::Marking { sound, faulty }, Seen::Marked(seen)) => {
                let changed = set.iter().map(|mode| faulty[*mode]).find(|marking| marking != sound);
                changed.unwrap_or(*sound) == Some(seen)
            }
            (Way::Marking { .. }, _) => false,
            (Way::Indicator { .. }, Seen::Lit(lit)) if set.iter().any(|mode| self.blind[*mode]) => !lit,
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
        if let (Way::Meter { function, .. }, Seen::Between { low, high }) = (&check.way, check.seen)
            && function.is_dead_test()
            && !acting.iter().any(|mode| state.feeds(2 * mode))
        {
            let without = |direction: Direction| -> Vec<usize> {
                let other = |mode: &usize| (0..2).any(|size| state.direction(2 * mode + size) != direction);
                acting.iter().copied().filter(other).collect()
            };
            let most = without(Direction::Lowering);
            if most.len() < acting.len() && self.range(check, memo, &most).1 < low {
                return false;
            }
            let least = without(Direction::Raising);
            if least.len() < acting.len() && high < self.range(check, memo, &least).0 {
                return false;
            }
        }
        holds(check.seen, self.range(check, memo, &acting))
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
        accuracy: &Accuracy,
    ) -> Range {
        let value = at.shows(probes, function, input);
        self.tolerance
            .spread((value, value), function.unit(), input, Reads::from(accuracy))
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
            Way::Tips | Way::Marking { .. } => None,
        }
    }
}

fn hull(one: &[Range], other: &[Range]) -> Vec<Range> {
    let both = one.iter().zip(other);
    both.map(|(a, b)| (a.0.min(b.0), a.1.max(b.1))).collect()
}

fn check(
    observed: &Observed,
    at: usize,
    state: usize,
    base: &Replayed,
    marked: &[&BTreeMap<usize, Option<Purpose>>],
) -> Check {
    let way = match &observed.plan.steps[observed.list[at].step].kind {
        Kind::Measure(measure) => match points(&measure.probes) {
            Some(pair) => Way::Meter {
                pair,
                function: measure.used.function,
                input: measure
                    .used
                    .input
                    .as_ref()
                    .map_or(INPUT_OHMS, |input| float(input.value())),
                reads: Reads::from(&measure.used.known.accuracy),
            },
            None => Way::Tips,
        },
        Kind::Indicator { probes, .. } => points(probes).map_or(Way::Tips, |pair| Way::Indicator { pair }),
        _ => Way::Marking {
            sound: base.markings.get(&at).copied().flatten(),
            faulty: marked.iter().map(|marked| marked.get(&at).copied().flatten()).collect(),
        },
    };
    Check {
        seen: observed.list[at].seen,
        state,
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
        Way::Tips | Way::Marking { .. } => 0.0,
    };
    (value, value)
}

pub(super) fn holds(seen: Seen, (least, greatest): Range) -> bool {
    match seen {
        Seen::Between { low, high } => least <= high && low <= greatest,
        Seen::Lit(true) => INDICATOR_VOLTS <= greatest,
        Seen::Lit(false) => least < INDICATOR_VOLTS,
        Seen::Marked(_) => false,
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
            "continuity/brown: 0.66\ncontinuity/grey: OL\nothers-open/grey-linked/black: OL\n",
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
