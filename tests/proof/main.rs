//! The proof of order against what others published, against enumeration, against sound plans made bad, and against the engine
//! that walks.

mod documents;
mod dominators;
mod enumeration;
mod hands;
mod mutants;
mod mutations;
mod published;
mod walks;

use std::path::Path;

use coreproof::pure::located::Text;
use coreproof::pure::plan::Plan;
use coreproof::pure::{job, sequence};

/// A small generator (the constants of Numerical Recipes); quality does not matter, repeatability does.
pub struct Dice(pub u64);

impl Dice {
    pub fn below(&mut self, n: usize) -> usize {
        self.0 = self.0.wrapping_mul(1_664_525).wrapping_add(1_013_904_223) & 0xffff_ffff;
        ((self.0 >> 8) % n as u64) as usize
    }

    pub fn one_in(&mut self, n: usize) -> bool {
        self.below(n) == 0
    }
}

fn text(path: &str) -> Text {
    let file = Path::new(env!("CARGO_MANIFEST_DIR")).join(path);
    Text {
        name: path.into(),
        text: std::fs::read_to_string(&file).unwrap_or_else(|e| panic!("{path}: {e}")),
    }
}

/// A shipped sequence bound to a job.
pub fn bound(sequence: &str, job: &str) -> Plan {
    let job = job::read(&text(job)).unwrap();
    sequence::bind(&sequence::read(&[text(sequence)]).unwrap(), &job).unwrap()
}

/// The shipped sequence bound to the demonstration job.
pub fn shipped() -> Plan {
    bound("sequences/stat-cable.ron", "fixtures/saltmarsh.ron")
}
