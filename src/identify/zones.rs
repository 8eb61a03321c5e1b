//! Which actuator belongs to which zone, calling several zones at once because every look costs minutes of waiting.
//!
//! The rule inside: an actuator is given to a zone only where what it did is exactly what that zone's calls ask for. In the
//! checked plan every zone is called once with all others and then in the same number of calls, so that an actuator that
//! sticks open, stays shut, lags behind, hangs on two zones or was looked at wrongly once fits no zone instead of a wrong one.
//!
//! Sources: codes of which none contains another find every error that goes one way only, and of k calls at most k over k/2 such
//! can be made (from memory; the tests say whose theorems these are). In the plan of fewest calls an actuator has N + 1
//! outcomes (a zone, or none) and a look has two, so that no fewer than log2(N + 1) calls can do, rounded up.

use serde::Serialize;

use super::belongs::Belongs;
use super::error::IdentifyError;
use super::event::{Given, Question};
use super::figures::Figures;
use super::prompt::{back, question};
use crate::run::dialogue::{Choice, Prompt};

/// The most zones and actuators worked on at once.
pub const ZONES_MAX: usize = 63;
/// See [`ZONES_MAX`].
pub const ACTUATORS_MAX: usize = 99;

/// The plan: which zones call together, one entry a call.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
pub struct Calls {
    /// How many zones, 1 to 63.
    pub zones: usize,
    /// How many actuators, 1 to 99.
    pub actuators: usize,
    /// Whether what went wrong is noticed.
    pub checked: bool,
    /// For each call the zones that call, from 1.
    pub calls: Vec<Vec<usize>>,
    /// Minutes to wait after each change.
    pub wait_minutes: u32,
}

/// Calls needed for so many zones where nothing is checked: log2(zones + 1), rounded up.
pub fn fewest_calls(zones: usize) -> usize {
    (usize::BITS - zones.leading_zeros()) as usize
}

/// The ways to choose `some` of `all`.
fn choices(all: usize, some: usize) -> usize {
    (0..some).fold(1, |made, i| made * (all - i) / (i + 1))
}

/// Calls after the one of all zones, and in how many of them each zone calls, so that no zone's calls contain another's.
fn antichain(zones: usize) -> (usize, usize) {
    let count = (1..=zones)
        .find(|k| zones <= *k || zones <= choices(*k, k / 2))
        .expect("each zone by itself always does");
    (count, if zones <= count { 1 } else { count / 2 })
}

/// For each zone the calls it takes part in: the first sets of `weight` out of `count`, in their order.
fn codes(zones: usize, count: usize, weight: usize) -> Vec<Vec<usize>> {
    let mut code: Vec<usize> = (0..weight).collect();
    let mut all = Vec::new();
    while all.len() < zones {
        all.push(code.clone());
        let Some(place) = (0..weight).rev().find(|i| code[*i] < count - weight + i) else {
            break;
        };
        code[place] += 1;
        for i in place + 1..weight {
            code[i] = code[i - 1] + 1;
        }
    }
    all
}

/// The calls for so many zones and actuators: checked, or as few as can be.
///
/// ```
/// use coreproof::identify::{figures::Figures, zones::calls};
/// let fewest = calls(6, 9, false, &Figures::shipped()).unwrap();
/// assert_eq!(fewest.calls, [vec![1, 3, 5], vec![2, 3, 6], vec![4, 5, 6]]);
/// let checked = calls(6, 9, true, &Figures::shipped()).unwrap();
/// assert_eq!(checked.calls, [vec![1, 2, 3, 4, 5, 6], vec![1, 2, 3], vec![1, 4, 5], vec![2, 4, 6], vec![3, 5, 6]]);
/// ```
///
/// # Errors
/// No zones or more than 63, no actuators or more than 99.
pub fn calls(zones: usize, actuators: usize, checked: bool, figures: &Figures) -> Result<Calls, IdentifyError> {
    if !(1..=ZONES_MAX).contains(&zones) || !(1..=ACTUATORS_MAX).contains(&actuators) {
        return Err(IdentifyError::ZoneCount { zones, actuators });
    }
    let calls = if !checked {
        let bit = |call: usize| (1..=zones).filter(|z| z >> call & 1 == 1).collect();
        (0..fewest_calls(zones)).map(bit).collect()
    } else if zones == 1 {
        // the one zone stops calling, so that what sticks open is seen
        vec![vec![1], Vec::new()]
    } else {
        let (count, weight) = antichain(zones);
        let codes = codes(zones, count, weight);
        let call = |call: usize| (1..=zones).filter(|z| codes[z - 1].contains(&call)).collect();
        std::iter::once((1..=zones).collect())
            .chain((0..count).map(call))
            .collect()
    };
    Ok(Calls {
        zones,
        actuators,
        checked,
        calls,
        wait_minutes: figures.wait_minutes(),
    })
}

impl Calls {
    fn waiting(&self, calls: usize) -> u32 {
        self.wait_minutes * u32::try_from(calls).expect("few calls")
    }

    /// Minutes of waiting in all.
    pub fn minutes(&self) -> u32 {
        self.waiting(self.calls.len())
    }

    /// Minutes of waiting where each zone is called by itself, with the call of all zones where that is part of the plan.
    pub fn minutes_one_by_one(&self) -> u32 {
        self.waiting(self.zones + usize::from(self.checked))
    }

    /// What each actuator is, from the actuators open before any call and after each call.
    pub fn map(&self, before: &[usize], open: &[Vec<usize>]) -> Vec<Belongs> {
        assert_eq!(open.len(), self.calls.len(), "one look a call");
        (1..=self.actuators)
            .map(|actuator| {
                if before.contains(&actuator) {
                    return Belongs::StandsOpen;
                }
                let opened: Vec<bool> = open.iter().map(|o| o.contains(&actuator)).collect();
                if opened.iter().all(|o| !o) {
                    return Belongs::NeverOpens;
                }
                let fits = |zone: &usize| self.calls.iter().zip(&opened).all(|(c, o)| c.contains(zone) == *o);
                (1..=self.zones).find(fits).map_or(Belongs::NoZone, Belongs::Zone)
            })
            .collect()
    }

    /// Reads `none` or the numbers of the actuators that are open.
    ///
    /// # Errors
    /// Anything that is no actuator's number.
    pub fn read(&self, line: &str) -> Result<Vec<usize>, IdentifyError> {
        let text = line.trim();
        if text.eq_ignore_ascii_case("none") {
            return Ok(Vec::new());
        }
        let tokens: Vec<&str> = text.split([' ', ',', '\t']).filter(|t| !t.is_empty()).collect();
        if tokens.is_empty() {
            return Err(self.not_an_answer(text));
        }
        let number = |t: &&str| t.parse().ok().filter(|n| (1..=self.actuators).contains(n));
        tokens
            .iter()
            .map(|t| number(t).ok_or_else(|| self.not_an_answer(t)))
            .collect()
    }

    fn not_an_answer(&self, line: &str) -> IdentifyError {
        IdentifyError::NotAnAnswer {
            line: line.into(),
            answers: format!("the numbers of the open actuators, 1 to {}, or `none`", self.actuators),
        }
    }
}

/// Said before anything is looked at.
pub const CAUTION: &str =
    "Mains may stand on the actuators' terminals: look, do not open. Local codes and licensed practice come first.";

/// The calls being made, look by look.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Calling {
    /// The plan.
    pub calls: Calls,
    /// The actuators that stood open: before any call, then after each.
    pub looks: Vec<Vec<usize>>,
}

impl Calling {
    /// Nothing looked at yet.
    pub fn new(calls: Calls) -> Calling {
        Calling {
            calls,
            looks: Vec::new(),
        }
    }

    /// What to do and to answer next; `None` at the end.
    pub fn prompt(&self) -> Option<Prompt> {
        let (look, of) = (self.looks.len() + 1, self.calls.calls.len() + 1);
        if of < look {
            return None;
        }
        let minutes = self.calls.wait_minutes;
        let wait = format!("Wait {minutes} minutes, and until nothing moves any more.");
        let call = look.checked_sub(2).map(|call| self.calls.calls[call].as_slice());
        let act = match call {
            None => "Call no zone, so that every actuator is shut.".into(),
            Some([]) => "End the call and call no zone.".into(),
            Some(zones) if zones.len() == self.calls.zones && 1 < zones.len() => "Call every zone.".into(),
            Some(zones) => {
                let zones: Vec<_> = zones.iter().map(usize::to_string).collect();
                format!("Call {} and no other.", zones.join(", "))
            }
        };
        Some(question(
            format!("look {look} of {of}"),
            vec![act, wait],
            "Which actuators stand open?",
            vec![Choice::new("none", "when all are shut"), back()],
            Some(format!("their numbers, 1 to {}", self.calls.actuators)),
        ))
    }

    /// What is asked now, as it is written down.
    pub fn question(&self) -> Option<Question> {
        self.prompt()?;
        let called = self
            .looks
            .len()
            .checked_sub(1)
            .map(|call| self.calls.calls[call].clone());
        Some(Question::Open {
            called: called.unwrap_or_default(),
        })
    }

    /// Takes one answer; `back` takes the last one back.
    ///
    /// # Errors
    /// An answer that is no list of actuators; nothing changes then.
    pub fn answer(&mut self, line: &str) -> Result<Given, IdentifyError> {
        if line.trim().eq_ignore_ascii_case("back") {
            return match self.looks.pop() {
                Some(_) => Ok(Given::Back),
                None => Err(IdentifyError::NothingToTakeBack),
            };
        }
        assert!(self.prompt().is_some(), "nothing is asked after the last look");
        let open = self.calls.read(line)?;
        self.looks.push(open.clone());
        Ok(Given::Open(open))
    }

    /// What each actuator is, once every look was taken.
    pub fn map(&self) -> Option<Vec<Belongs>> {
        let (before, open) = self.looks.split_first()?;
        (open.len() == self.calls.calls.len()).then(|| self.calls.map(before, open))
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn of(zones: usize, actuators: usize, checked: bool) -> Calls {
        calls(zones, actuators, checked, &Figures::shipped()).unwrap()
    }

    /// What each actuator does where nothing is wrong, by the zones it hangs on.
    fn look(calls: &Calls, zones_of: &[Vec<usize>]) -> Vec<Vec<usize>> {
        let open = |call: &Vec<usize>| {
            let opens = |zones: &Vec<usize>| zones.iter().any(|z| call.contains(z));
            (1..=zones_of.len()).filter(|a| opens(&zones_of[a - 1])).collect()
        };
        calls.calls.iter().map(open).collect()
    }

    #[test]
    fn every_zone_is_told_in_the_fewest_calls_and_in_the_checked_ones() {
        for zones in 1..=ZONES_MAX {
            for checked in [false, true] {
                let calls = of(zones, zones + 1, checked);
                let count = calls.calls.len();
                if checked && 1 < zones {
                    // E. Sperner, 1928, and J. M. Berger, 1961, from memory: one call less has no room for so many zones
                    let (k, weight) = antichain(zones);
                    assert_eq!(count, k + 1);
                    assert!(
                        zones <= choices(k, weight) && choices(k - 1, (k - 1) / 2) < zones,
                        "{zones}: {k}"
                    );
                } else if !checked {
                    assert!(zones < 1 << count && (1 << count) <= 2 * zones, "{zones}: {count}");
                }
                let mut zones_of: Vec<Vec<usize>> = (1..=zones).map(|z| vec![z]).collect();
                zones_of.push(Vec::new());
                let mut expected: Vec<Belongs> = (1..=zones).map(Belongs::Zone).collect();
                expected.push(Belongs::NeverOpens);
                assert_eq!(calls.map(&[], &look(&calls, &zones_of)), expected, "{zones} {checked}");
            }
        }
    }

    #[test]
    fn the_counts_of_calls_are_the_binomials() {
        // k calls tell k over k/2 zones: 2, 3, 6, 10, 20, 35, 70
        let counts = |zones| antichain(zones).0;
        for (zones, expected) in [
            (2, 2),
            (3, 3),
            (4, 4),
            (5, 4),
            (6, 4),
            (7, 5),
            (10, 5),
            (11, 6),
            (20, 6),
            (21, 7),
            (35, 7),
            (63, 8),
        ] {
            assert_eq!(counts(zones), expected, "{zones}");
        }
        assert_eq!(
            (of(6, 9, true).minutes(), of(6, 9, true).minutes_one_by_one()),
            (40, 56)
        );
        assert_eq!(
            (of(6, 9, false).minutes(), of(6, 9, false).minutes_one_by_one()),
            (24, 48)
        );
    }

    /// What one actuator of a zone did: its true looks, then something that went wrong.
    fn truth(calls: &Calls, zone: usize) -> Vec<bool> {
        calls.calls.iter().map(|c| c.contains(&zone)).collect()
    }

    fn got(calls: &Calls, seen: &[bool]) -> Belongs {
        let open: Vec<Vec<usize>> = seen.iter().map(|o| if *o { vec![1] } else { Vec::new() }).collect();
        calls.map(&[], &open)[0]
    }

    #[test]
    fn in_the_checked_plan_nothing_that_goes_one_way_gives_a_wrong_zone() {
        let mut tried = 0;
        for zones in 1..=20 {
            let calls = of(zones, 1, true);
            for zone in 1..=zones {
                let truth = truth(&calls, zone);
                for mask in 1_u32..1 << truth.len() {
                    let hit = |i: usize| mask >> i & 1 == 1;
                    let sticks: Vec<bool> = truth.iter().enumerate().map(|(i, o)| *o || hit(i)).collect();
                    let stays_shut: Vec<bool> = truth.iter().enumerate().map(|(i, o)| *o && !hit(i)).collect();
                    for seen in [sticks, stays_shut] {
                        let got = got(&calls, &seen);
                        assert!(
                            if seen == truth {
                                got == Belongs::Zone(zone)
                            } else {
                                !matches!(got, Belongs::Zone(_))
                            },
                            "{zones} zones, zone {zone}: {seen:?} is {got:?}"
                        );
                        tried += 1;
                    }
                }
            }
        }
        assert!(30_000 < tried, "{tried}");
    }

    #[test]
    fn in_the_checked_plan_one_wrong_look_a_lag_or_two_zones_give_no_zone() {
        for zones in (1..=24).chain([35, 36, ZONES_MAX]) {
            let calls = of(zones, 1, true);
            for zone in 1..=zones {
                let truth = truth(&calls, zone);
                for flipped in 0..truth.len() {
                    let mut seen = truth.clone();
                    seen[flipped] = !seen[flipped];
                    assert!(
                        !matches!(got(&calls, &seen), Belongs::Zone(_)),
                        "{zones} {zone} {flipped}"
                    );
                }
                for lag in 1..=truth.len() {
                    let late = |i: usize| i.checked_sub(lag).is_some_and(|then| truth[then]);
                    let seen: Vec<bool> = (0..truth.len()).map(late).collect();
                    assert!(
                        !matches!(got(&calls, &seen), Belongs::Zone(_)),
                        "{zones} {zone} late by {lag}"
                    );
                }
                for other in (1..=zones).filter(|other| *other != zone) {
                    let open = look(&calls, &[vec![zone, other]]);
                    assert_eq!(
                        calls.map(&[], &open),
                        [Belongs::NoZone],
                        "{zone} and {other} of {zones}"
                    );
                }
            }
        }
    }

    #[test]
    fn in_the_plan_of_fewest_calls_slips_go_unnoticed_which_is_said() {
        let calls = of(6, 1, false);
        let wrong = (1..=6).filter(|zone| {
            let mut seen = truth(&calls, *zone);
            seen[0] = !seen[0];
            matches!(got(&calls, &seen), Belongs::Zone(_))
        });
        assert!(0 < wrong.count());
    }

    #[test]
    fn several_actuators_a_zone_and_the_faulty_ones_are_named() {
        for checked in [false, true] {
            let calls = of(3, 6, checked);
            let open = look(&calls, &[vec![2], vec![2], vec![1], vec![], vec![3], vec![3]]);
            let expected = [
                Belongs::Zone(2),
                Belongs::Zone(2),
                Belongs::Zone(1),
                Belongs::NeverOpens,
                Belongs::StandsOpen,
                Belongs::Zone(3),
            ];
            assert_eq!(calls.map(&[5], &open), expected);
        }
    }

    #[test]
    fn looks_are_taken_one_by_one_and_taken_back() {
        let mut calling = Calling::new(of(3, 4, true));
        assert_eq!(calling.answer("back").unwrap_err(), IdentifyError::NothingToTakeBack);
        let mut acts = Vec::new();
        for line in ["none", "1 2 3 4", "1", "2", "back", "2 3", "4"] {
            acts.push(calling.prompt().unwrap().todo[0].clone());
            calling.answer(line).unwrap();
        }
        assert_eq!(
            acts,
            [
                "Call no zone, so that every actuator is shut.",
                "Call every zone.",
                "Call 1 and no other.",
                "Call 2 and no other.",
                "Call 3 and no other.",
                "Call 2 and no other.",
                "Call 3 and no other."
            ]
        );
        assert_eq!(calling.prompt(), None);
        let zone = Belongs::Zone;
        assert_eq!(calling.map(), Some(vec![zone(1), zone(2), zone(2), zone(3)]));
        let mut one = Calling::new(of(1, 1, true));
        for line in ["none", "1", "none"] {
            one.answer(line).unwrap();
        }
        assert_eq!(one.map(), Some(vec![zone(1)]));
    }

    #[test]
    fn wrong_requests_and_answers_are_refused() {
        for (zones, actuators) in [(0, 1), (64, 1), (1, 0), (1, 100)] {
            assert_eq!(
                calls(zones, actuators, false, &Figures::shipped())
                    .unwrap_err()
                    .to_string(),
                format!(
                    "`{zones}` zones and `{actuators}` actuators cannot be worked on here, 1 to 63 zones and 1 to 99 actuators can"
                )
            );
        }
        let calls = of(3, 4, false);
        assert_eq!((calls.read("1, 4"), calls.read("NONE")), (Ok(vec![1, 4]), Ok(vec![])));
        for (line, token) in [("5", "5"), ("1 x", "x"), ("", "")] {
            assert_eq!(
                calls.read(line).unwrap_err().to_string(),
                format!(
                    "`{token}` is not an answer to this question, the answers are: the numbers of the open actuators, 1 to 4, or `none`"
                )
            );
        }
    }
}
