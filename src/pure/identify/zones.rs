//! Which actuator belongs to which zone, calling several zones at once because every look costs minutes of waiting.
//!
//! The rule inside: each zone has a code of its own that is not all zeros, so an actuator that opens on no call is named and never mapped; a look
//! before the first call names those that stand open. With a check call every code has an even number of ones, so one wrong look
//! at an actuator gives no zone instead of a wrong one.
//!
//! Each actuator is taken to belong to one zone. With N zones there are N + 1 outcomes for an actuator (one zone, or none), and a look
//! has two, so that no fewer than log2(N + 1) calls can do, rounded up.

use serde::Serialize;

use super::error::IdentifyError;

/// Minutes to wait after a change of call until a wax actuator stands open or shut. Common practice: three to five minutes from cold to
/// open, up to eight to shut; a slower one is waited for.
pub const WAIT_MINUTES: u32 = 6;
/// The most zones and actuators worked on at once.
pub const ZONES_MAX: usize = 63;
/// See [`ZONES_MAX`].
pub const ACTUATORS_MAX: usize = 99;

/// The plan: which zones call together, one entry a call.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
pub struct Calls {
    pub zones: usize,
    pub actuators: usize,
    /// Whether the last call is the check call.
    pub check_call: bool,
    /// For each call the zones that call, from 1.
    pub calls: Vec<Vec<usize>>,
}

/// What an actuator turned out to be.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize)]
#[serde(rename_all = "snake_case")]
pub enum Belongs {
    Zone(usize),
    NeverOpens,
    StandsOpen,
    /// The looks fit no zone.
    NoZone,
}

impl Belongs {
    /// The words of the list.
    pub fn words(self) -> String {
        match self {
            Belongs::Zone(zone) => format!("zone {zone}"),
            Belongs::NeverOpens => {
                "NEVER OPENED: held shut, not wired, or a zone whose call does not come through".into()
            }
            Belongs::StandsOpen => "OPEN BEFORE ANY CALL: held open, wired to a permanent feed, or still warm".into(),
            Belongs::NoZone => "FITS NO ZONE: slow, wired to two zones, or mistyped; look at it again".into(),
        }
    }
}

/// Calls needed for so many zones, without a check call: log2(zones + 1), rounded up.
pub fn fewest_calls(zones: usize) -> usize {
    (usize::BITS - zones.leading_zeros()) as usize
}

/// The calls for so many zones and actuators.
///
/// ```
/// use coreproof::pure::identify::zones::calls;
/// let calls = calls(6, 9, false).unwrap();
/// assert_eq!(calls.calls, [vec![1, 3, 5], vec![2, 3, 6], vec![4, 5, 6]]);
/// ```
///
/// # Errors
/// No zones or more than 63, no actuators or more than 99.
pub fn calls(zones: usize, actuators: usize, check_call: bool) -> Result<Calls, IdentifyError> {
    if !(1..=ZONES_MAX).contains(&zones) || !(1..=ACTUATORS_MAX).contains(&actuators) {
        return Err(IdentifyError::ZoneCount { zones, actuators });
    }
    let bit = |call: usize| (1..=zones).filter(|z| z >> call & 1 == 1).collect();
    let mut calls: Vec<Vec<usize>> = (0..fewest_calls(zones)).map(bit).collect();
    if check_call {
        calls.push((1..=zones).filter(|z| z.count_ones() % 2 == 1).collect());
    }
    Ok(Calls {
        zones,
        actuators,
        check_call,
        calls,
    })
}

impl Calls {
    /// Minutes of waiting in all.
    pub fn minutes(&self) -> u32 {
        WAIT_MINUTES * u32::try_from(self.calls.len()).expect("few calls")
    }

    /// Minutes of waiting where each zone is called by itself.
    pub fn minutes_one_by_one(&self) -> u32 {
        WAIT_MINUTES * u32::try_from(self.zones).expect("few zones")
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

#[cfg(test)]
mod tests {
    use super::*;

    fn look(calls: &Calls, zone_of: &[Option<usize>]) -> Vec<Vec<usize>> {
        let open = |call: &Vec<usize>| {
            let opens = |z: &Option<usize>| z.is_some_and(|z| call.contains(&z));
            (1..=zone_of.len()).filter(|a| opens(&zone_of[a - 1])).collect()
        };
        calls.calls.iter().map(open).collect()
    }

    #[test]
    fn every_zone_has_its_code_in_the_fewest_calls() {
        for zones in 1..=ZONES_MAX {
            let calls = calls(zones, zones + 1, false).unwrap();
            let count = calls.calls.len();
            assert!(zones < 1 << count && (1 << count) <= 2 * zones, "{zones}: {count}");
            let mut zone_of: Vec<Option<usize>> = (1..=zones).map(Some).collect();
            zone_of.push(None);
            let mut expected: Vec<Belongs> = (1..=zones).map(Belongs::Zone).collect();
            expected.push(Belongs::NeverOpens);
            assert_eq!(calls.map(&[], &look(&calls, &zone_of)), expected);
        }
    }

    #[test]
    fn several_actuators_a_zone_and_the_faulty_ones_are_named() {
        let calls = calls(3, 6, false).unwrap();
        let open = look(&calls, &[Some(2), Some(2), Some(1), None, Some(3), Some(3)]);
        assert_eq!(
            calls.map(&[5], &open),
            [
                Belongs::Zone(2),
                Belongs::Zone(2),
                Belongs::Zone(1),
                Belongs::NeverOpens,
                Belongs::StandsOpen,
                Belongs::Zone(3)
            ]
        );
        assert_eq!((calls.minutes(), calls.minutes_one_by_one()), (12, 18));
    }

    #[test]
    fn with_the_check_call_one_wrong_look_gives_no_zone_and_without_it_a_wrong_one() {
        let mut wrong = 0;
        for check in [false, true] {
            for zones in 1..=20 {
                let calls = calls(zones, 1, check).unwrap();
                for zone in 1..=zones {
                    let open = look(&calls, &[Some(zone)]);
                    for flipped in 0..open.len() {
                        let mut open = open.clone();
                        open[flipped] = if open[flipped].is_empty() { vec![1] } else { Vec::new() };
                        let got = calls.map(&[], &open)[0];
                        assert_ne!(got, Belongs::Zone(zone));
                        if let Belongs::Zone(_) = got {
                            assert!(!check, "{zones} zones, zone {zone}, look {flipped}");
                            wrong += 1;
                        }
                        assert!(!check || got == Belongs::NoZone, "{got:?}");
                    }
                }
            }
        }
        assert!(100 < wrong, "without the check call slips go unnoticed");
    }

    #[test]
    fn wrong_requests_and_answers_are_refused() {
        for (zones, actuators) in [(0, 1), (64, 1), (1, 0), (1, 100)] {
            assert_eq!(
                calls(zones, actuators, false).unwrap_err().to_string(),
                format!(
                    "`{zones}` zones and `{actuators}` actuators cannot be worked on here, 1 to 63 zones and 1 to 99 actuators can"
                )
            );
        }
        let calls = calls(3, 4, false).unwrap();
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
