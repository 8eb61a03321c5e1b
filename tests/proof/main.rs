//! The proof of order against what others published, against enumeration, against sound plans made bad, and against the engine
//! that walks.

mod beside_mains;
mod dominators;
mod earth;
mod enumeration;
mod hands;
mod isolation;
mod lengths;
mod metal;
mod mutants;
mod mutations;
mod promises;
mod published;
mod single_pole;
mod walks;
mod written;

use coreproof::plan::Plan;
use coreproof::sequence::shipped;
use coreproof::{job, sequence};

/// A small generator (the constants of Numerical Recipes); quality does not matter, repeatability does.
pub struct Dice(pub u64);

impl Dice {
    /// From 0 to below `n`.
    pub fn below(&mut self, n: usize) -> usize {
        self.0 = self.0.wrapping_mul(1_664_525).wrapping_add(1_013_904_223) & 0xffff_ffff;
        ((self.0 >> 8) % n as u64) as usize
    }

    /// True about once in `n` times.
    pub fn one_in(&mut self, n: usize) -> bool {
        self.below(n) == 0
    }
}

/// A shipped sequence bound to a job.
pub fn bound(sequence: &str, job: &str) -> Plan {
    bound_with(sequence, job, "", "")
}

/// The same with other words in one place of it or of its parts.
pub fn bound_with(sequence: &str, job: &str, from: &str, to: &str) -> Plan {
    let job = job::read(&shipped::job(job).expect("it is shipped")).unwrap();
    let mut texts = shipped::texts(sequence).expect("it is shipped");
    for text in texts.iter_mut().filter(|_| !from.is_empty()) {
        text.text = text.text.replacen(from, to, 1).into();
    }
    sequence::bind(&sequence::read(&texts).unwrap(), &job).unwrap()
}

/// The shipped sequence bound to the demonstration job.
pub fn stat_cable() -> Plan {
    bound("stat-cable", "saltmarsh")
}
