//! The world of a rehearsal: a job's installation, a little uneven as real ones are, and where the probes are.
//!
//! The rule inside: the world never learns which step is being walked, what window applies or what was judged.

use std::ops::{Deref, DerefMut};

use super::error::RehearsalError;
use crate::job::Job;
use crate::model::installation::Installation;
use crate::model::noise::Noise;
use crate::plan::{Leads, Probes};
use crate::value::quantity::Unit;
use crate::value::reading::Function;

/// The simulated installation with two probes.
#[derive(Debug, Clone)]
pub struct World {
    installation: Installation,
    probes: Option<Probes>,
    placed: u64,
}

impl World {
    /// The installation of a job as it was found: connected, switched on, no call, sound. The seed moves core
    /// resistances by up to 0.3 % and the supply by up to 2 %.
    ///
    /// # Errors
    /// [`RehearsalError::Installation`] where the job's figures make no wiring that can be solved.
    pub fn new(job: &Job, seed: u64) -> Result<World, RehearsalError> {
        let mut noise = Noise::new(seed);
        Ok(World {
            installation: Installation::uneven(job, || noise.even())?,
            probes: None,
            placed: 0,
        })
    }

    /// Grows whenever what a meter would see may have changed.
    pub fn revision(&self) -> u64 {
        self.installation.revision() + self.placed
    }

    /// Whether the probes are on points.
    pub fn touches(&self) -> bool {
        self.probes.is_some()
    }

    /// The leads that reach where the probes are.
    pub fn leads(&self) -> Leads {
        self.probes.as_ref().map_or(Leads::Own, Probes::leads)
    }

    /// Puts both probes on points, or lifts them.
    pub fn place(&mut self, probes: Option<Probes>) {
        self.probes = probes;
        self.placed += 1;
    }

    /// What stands at a meter's terminals now. Bare probes are open, and 0 V.
    pub fn shows(&self, function: Function, input_ohms: f64) -> f64 {
        match (&self.probes, function.unit()) {
            (None, Unit::Volt) => 0.0,
            (None, _) => f64::INFINITY,
            (Some(probes), _) => self.installation.shows(probes, function, input_ohms),
        }
    }
}

impl Deref for World {
    type Target = Installation;
    fn deref(&self) -> &Installation {
        &self.installation
    }
}

impl DerefMut for World {
    fn deref_mut(&mut self) -> &mut Installation {
        &mut self.installation
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::plan::Point;
    use crate::rehearsal::trial::job;

    #[test]
    fn bare_probes_are_open_and_at_no_volts() {
        let mut world = World::new(&job(), 1).unwrap();
        assert_eq!(world.shows(Function::Continuity, 1e6), f64::INFINITY);
        assert_eq!(world.shows(Function::VoltageAc, 10e3), 0.0);
        let before = world.revision();
        world.place(Some(Probes {
            first: Point::Tip,
            second: Point::Tip,
        }));
        assert_eq!(world.shows(Function::Continuity, 1e6), 0.0);
        assert!(before < world.revision());
    }
}
