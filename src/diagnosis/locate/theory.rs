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
use super::problem::{Problem, Way, holds, value};
use super::replay::{Replayed, beside, states};
use super::sizes::Span;
use super::together::{Replay, Together};
use super::told::Told;
use super::tolerance::Range;
use crate::model::error::InstallationError;
use crate::model::fault::{Fault, Size};
use crate::model::variants::{Difference, Direction, Variants};

#[derive(Debug, Clone)]
struct Check {
    /// Its place among the observations.
    at: usize,
    state: usize,
    /// What is told there with each fault at both ends of its range, where anything is told.
    told: Vec<[Told; 2]>,
    /// The step failed though a sound installation may show as much: with each fault whether it would fail, at either end of its range.
    fails: Option<Vec<bool>>,
    memo: BTreeMap<Vec<usize>, Range>,
}

/// The faults of a job against what was seen.
pub(super) struct Wiring<'a> {
    pub(super) problem: Problem<'a>,
    parts: Vec<usize>,
    states: Vec<Variants>,
    /// Faults of the indicator.
    blind: Vec<bool>,
    checks: Vec<Check>,
}

impl<'a> Wiring<'a> {
    /// Prepares a job's faults for what was seen, each of the sizes that the library takes.
    pub(super) fn new(
        observed: &'a Observed,
        told: &mut dyn FnMut(usize, usize),
    ) -> Result<Wiring<'a>, InstallationError> {
        Wiring::of(Problem::new(observed)?, told)
    }

    /// The same with the faults that have a size, and sizes that lie far outside the library's as well.
    pub(super) fn widened(
        observed: &'a Observed,
        told: &mut dyn FnMut(usize, usize),
    ) -> Result<Wiring<'a>, InstallationError> {
        Wiring::of(Problem::widened(observed)?, told)
    }

    fn of(problem: Problem<'a>, told: &mut dyn FnMut(usize, usize)) -> Result<Wiring<'a>, InstallationError> {
        let (observed, base, faults) = (problem.observed, &problem.base, &problem.faults);
        let mut replays = Vec::with_capacity(2 * faults.len());
        let mut blind = Vec::new();
        for (nth, (fault, (least, greatest))) in faults.iter().zip(&problem.spans).enumerate() {
            told(nth, faults.len());
            let mut works = true;
            for size in [least, greatest] {
                let mut installation = problem.sound.clone();
                installation.put_sized(fault, Size::Step(*size))?;
                works &= installation.indicator_works();
                replays.push(beside(observed, installation, base));
            }
            blind.push(!works);
        }
        let starts = states(base, &replays);
        let state_of = |at: usize| starts.partition_point(|start| *start <= at) - 1;
        let check = |at: usize| check(&problem, at, state_of(at), &replays);
        let checks: Vec<Check> = (0..observed.list.len()).map(check).collect();
        let variants = starts.iter().enumerate().map(|(state, start)| {
            let here = checks.iter().filter(|check| check.state == state);
            let pairs: Vec<[String; 2]> = here
                .filter_map(|check| problem.ways[check.at].pair().cloned())
                .collect();
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
            parts: faults.iter().map(part).collect(),
            problem,
            states: variants,
            blind,
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
            let slow = match &self.problem.ways[check.at] {
                Way::Told | Way::Tips => 0,
                Way::Meter { function, .. } if function.is_dead_test() => 1,
                Way::Meter { .. } => 2,
                Way::Indicator { .. } => 3,
            };
            (agrees, slow)
        });
        checks
    }

    /// Whether a fault of its usual size would have shown nothing in what was seen.
    pub(super) fn hides(&self, mode: usize) -> bool {
        let sieved = self
            .checks
            .iter()
            .all(|check| self.agrees_with(check, &mut None, &[mode]));
        let mut installation = self.problem.sound.clone();
        if !sieved || installation.put(&self.problem.faults[mode]).is_err() {
            return false;
        }
        let mut replay = Replay::of(&self.problem, installation);
        self.checks.iter().all(|check| {
            let range = replay.range(&self.problem, check.at);
            self.problem.holds(check.at, range)
        })
    }

    /// The least and the greatest size of each fault of a set with which it agrees with everything that was seen.
    pub(super) fn sizes(&self, set: &[usize]) -> Vec<Span> {
        self.together(set).sizes()
    }

    fn together<'w>(&'w self, set: &'w [usize]) -> Together<'w, 'a> {
        Together::of(&self.problem, set, self.checks.iter().map(|check| check.at).collect())
    }

    fn agrees_with(&self, check: &Check, memo: &mut Option<&mut BTreeMap<Vec<usize>, Range>>, set: &[usize]) -> bool {
        if check
            .fails
            .as_ref()
            .is_some_and(|fails| !set.iter().any(|mode| fails[*mode]))
        {
            return false;
        }
        let observation = &self.problem.observed.list[check.at];
        match (&self.problem.ways[check.at], &observation.seen) {
            (Way::Tips, _) => true,
            (Way::Told, seen) => {
                let step = &self.problem.observed.plan.steps[observation.step];
                let sound = &self.problem.base.told[&check.at];
                let mut told = set.iter().flat_map(|mode| &check.told[*mode]);
                match set {
                    [] => sound.agrees(seen, step),
                    [_] => told.any(|told| told.agrees(seen, step)),
                    // what several come to together only the replay tells
                    _ => told.any(|told| told != sound) || sound.agrees(seen, step),
                }
            }
            (Way::Indicator { .. }, Seen::Lit { lit, .. }) if set.iter().any(|mode| self.blind[*mode]) => !lit,
            _ => self.in_range(check, memo, set),
        }
    }

    /// Whether what was seen lies in the range that a set gives. A set is left early where a part of it bounds the whole.
    fn in_range(&self, check: &Check, memo: &mut Option<&mut BTreeMap<Vec<usize>, Range>>, set: &[usize]) -> bool {
        let state = &self.states[check.state];
        let (way, seen) = (&self.problem.ways[check.at], &self.problem.observed.list[check.at].seen);
        let acting: Vec<usize> = set
            .iter()
            .copied()
            .filter(|mode| !(state.is_inert(2 * mode) && state.is_inert(2 * mode + 1)))
            .collect();
        if let (Way::Meter { function, .. }, Seen::Between { low, high }) = (way, seen)
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
        holds(seen, self.range(check, memo, &acting))
    }

    /// The range that a set gives, spread by all that is not known exactly.
    fn range(&self, check: &Check, memo: &mut Option<&mut BTreeMap<Vec<usize>, Range>>, set: &[usize]) -> Range {
        if let Some(known) = memo.as_ref().and_then(|memo| memo.get(set)) {
            return *known;
        }
        let (state, way) = (&self.states[check.state], &self.problem.ways[check.at]);
        let one = |size: usize| -> Range {
            let variants: Vec<usize> = set.iter().map(|mode| 2 * mode + size).collect();
            match way {
                Way::Meter { pair, function, .. }
                    if function.is_dead_test() && !variants.iter().any(|variant| state.feeds(*variant)) =>
                {
                    let ohms = state.resistance(&variants, pair);
                    (ohms, ohms)
                }
                way => value(&state.network(&variants), way),
            }
        };
        let (first, second) = if set.iter().any(|mode| self.problem.faults[*mode].has_range()) {
            (one(0), one(1))
        } else {
            let only = one(0);
            (only, only)
        };
        let range = self.problem.spread(way, (first.0.min(second.0), first.1.max(second.1)));
        if set.len() <= 2
            && let Some(memo) = memo
        {
            memo.insert(set.to_vec(), range);
        }
        range
    }
}

impl Theory for Wiring<'_> {
    fn modes(&self) -> usize {
        self.problem.faults.len()
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
        self.together(modes).agrees()
    }
}

fn check(problem: &Problem<'_>, at: usize, state: usize, replays: &[Replayed<Difference>]) -> Check {
    let of_fault = || replays.chunks(2);
    let both = |with: &[Replayed<Difference>]| [&with[0], &with[1]].map(|with| with.told[&at].clone());
    let told = match problem.ways[at] {
        Way::Told => of_fault().map(both).collect(),
        _ => Vec::new(),
    };
    let either_fails = |with: &[Replayed<Difference>]| with.iter().any(|with| with.fails.contains(&at));
    let fails = || of_fault().map(either_fails).collect();
    Check {
        at,
        state,
        told,
        fails: problem.must_fail(at).then(fails),
        memo: BTreeMap::new(),
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::model::sample::plan;

    /// Every set of at most two of these faults: what passes the sieve and the replay against the replay alone.
    fn check(text: &str, kinds: &[&str]) {
        let observed = Observed::typed(plan(), text).unwrap();
        let mut wiring = Wiring::new(&observed, &mut |_, _| {}).unwrap();
        let chosen: Vec<usize> = (0..wiring.modes())
            .filter(|mode| kinds.contains(&wiring.problem.faults[*mode].kind.as_str()))
            .collect();
        let mut agreeing = 0;
        for (at, one) in chosen.iter().enumerate() {
            let pairs = chosen[at + 1..].iter().map(|other| vec![*one, *other]);
            for set in std::iter::once(vec![*one]).chain(pairs) {
                if set.len() == 2 && wiring.parts[set[0]] == wiring.parts[set[1]] {
                    continue;
                }
                let brute = wiring.together(&set).agrees();
                agreeing += usize::from(brute);
                assert_eq!(
                    wiring.agrees(&set),
                    brute,
                    "{:?}",
                    set.iter()
                        .map(|mode| &wiring.problem.faults[*mode].name)
                        .collect::<Vec<_>>()
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
