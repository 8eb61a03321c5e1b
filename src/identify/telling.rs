//! What the values of resistors and the way of a diode tell.
//!
//! The rule inside: a reading that tells nothing for sure makes the walk go on with links; it is never forced to fit.

use super::error::IdentifyError;
use super::event::Given;
use super::evidence::Look;
use super::partition::Partition;
use super::plan::Method;
use super::resistors::{self, Read};
use super::walk::{Stage, Walk};
use super::words;
use crate::job::End;

impl Walk {
    /// The pair of far terminals to read next.
    pub(super) fn next_pair(&self) -> Option<(usize, usize)> {
        let cores = self.plan.cores;
        let done = self.now.reads.len();
        match &self.plan.method {
            Method::ResistorsToEarth(_) => (done < cores).then_some((done, cores)),
            Method::ResistorsFromHub(_) if done < cores - 1 => Some((0, done + 1)),
            Method::ResistorsFromHub(values) => {
                let first: Vec<Read> = self.now.reads[..cores - 1].iter().map(|r| r.2).collect();
                let hub = resistors::hub(&first, values, &self.plan.figures).filter(|h| *h != 0)?;
                let rest = (1..cores).filter(|c| *c != hub).nth(done + 1 - cores)?;
                Some((hub, rest))
            }
            _ => None,
        }
    }

    /// How far the meter must reach to call two terminals open where resistors are on, in ohms.
    pub fn reach_ohms(&self) -> f64 {
        match &self.plan.method {
            Method::ResistorsToEarth(values) | Method::ResistorsFromHub(values) => {
                resistors::greatest(values, &self.plan.figures)
            }
            Method::Links(_) | Method::Diode => self.plan.figures.open_ohms(),
        }
    }

    pub(super) fn tell_by_resistors(&mut self) {
        let cores = self.plan.cores;
        let reads = self.now.reads.clone();
        match &self.plan.method {
            Method::ResistorsToEarth(values) => {
                let list: Vec<Read> = reads.iter().map(|r| r.2).collect();
                let near: Vec<Option<usize>> = list
                    .iter()
                    .map(|r| resistors::which(*r, values, &self.plan.figures))
                    .collect();
                for (far, read) in list.iter().enumerate() {
                    match near[far] {
                        Some(v) if near.iter().filter(|n| **n == Some(v)).count() == 1 => {
                            self.now.evidence.told.push((v, far));
                        }
                        None if *read == Read::Open => self.now.evidence.dead.push(far),
                        _ => self.now.faulty = true,
                    }
                }
            }
            Method::ResistorsFromHub(values) => {
                let first: Vec<Read> = reads[..cores - 1].iter().map(|r| r.2).collect();
                let hub = resistors::hub(&first, values, &self.plan.figures).unwrap_or(0);
                let touches = |c: usize| reads.iter().find(|r| (r.0, r.1) == (hub, c) || (r.0, r.1) == (c, hub));
                let others: Vec<usize> = (0..cores).filter(|c| *c != hub).collect();
                let list: Vec<Read> = others.iter().filter_map(|c| touches(*c).map(|r| r.2)).collect();
                if list.len() != others.len() || !resistors::is_hub(&list, values, &self.plan.figures) {
                    self.now.faulty = true;
                    return;
                }
                self.now.evidence.told.push((0, hub));
                for (far, read) in others.iter().zip(&list) {
                    match resistors::which(*read, values, &self.plan.figures) {
                        Some(i) => self.now.evidence.told.push((i + 1, *far)),
                        None => self.now.evidence.dead.push(*far),
                    }
                }
            }
            _ => unreachable!("resistors were read"),
        }
    }

    pub(super) fn diode(&mut self, line: &str) -> Result<Given, IdentifyError> {
        let near = self.now.stage == Stage::DiodeNear;
        let ways: [&'static str; 4] = if near {
            ["A-B", "B-A", "both", "none"]
        } else {
            ["1-2", "2-1", "both", "none"]
        };
        let way = self.word(line, &ways)?;
        self.note(line, way);
        self.conducted(near, way)?;
        Ok(Given::Diode(way.into()))
    }

    /// What follows from the way that the diode conducts at an end.
    fn conducted(&mut self, near: bool, way: &str) -> Result<(), IdentifyError> {
        match (near, way) {
            (_, "both") => {
                let end = if near { "near" } else { "far" };
                self.stop(&format!(
                    "both ways conduct at the {end} end: the diode is shorted or the two cores touch"
                ))
            }
            (true, "none") => self.stop("the diode conducts neither way: it is open or not gripped"),
            (false, _) if way == "none" => self.stop(
                "one core or both are broken: bring a conductor known at both ends (`--kit earth`) to find which",
            ),
            (true, _) => {
                self.now.reversed = way == "B-A";
                self.cross();
                self.now.stage = Stage::DiodeFar;
                Ok(())
            }
            (false, _) => {
                let straight = (way == "1-2") != self.now.reversed;
                let apart = Partition::apart(2);
                self.now.evidence.looks.push(Look {
                    at: End::Far,
                    joined: apart.clone(),
                    shown: apart,
                });
                self.now.evidence.told = if straight {
                    vec![(0, 0), (1, 1)]
                } else {
                    vec![(0, 1), (1, 0)]
                };
                self.go_on()
            }
        }
    }

    pub(super) fn pair_words(&self, from: usize, to: usize) -> String {
        let label = |t| words::label(End::Far, t, self.plan.cores);
        format!("{} to {}", label(from), label(to))
    }
}
