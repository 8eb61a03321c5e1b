//! One pair of live cores linked at the far end, with which each core is solved where the length of the cable is not known.
//!
//! The rule inside: what the return core has is in every reading against it, so only a reading that does not go through it tells
//! a joint in it.

use super::binder::Binder;
use super::measures::{Judging, Parts};
use super::raw::SolveCores;
use super::windows::pair_of_cores;
use crate::job::{Core, End};
use crate::limits::Table;
use crate::plan::{Kind, Point, Probes, Solved, Stage, Timing, WindowRule};
use crate::value::reading::Function;

/// Said where two cores are all that there are.
const TWO_ALONE: &str = "The length of the cable is not known and it has two cores alone: a joint in one of them cannot be told from length.";

impl<'a> Binder<'a> {
    pub(super) fn solve_cores(&mut self, step: &'a SolveCores) {
        let job = self.job;
        let Some(pair) = job.linked_pair() else {
            if job.length.is_none() && !self.limitations.iter().any(|there| there == TWO_ALONE) {
                self.limitations.push(TWO_ALONE.into());
            }
            return;
        };
        let back = job.return_core();
        let read = pair.map(|core| self.read_against_return(core).ok_or(core.name.as_str()));
        let with_return = match read {
            [Ok(a), Ok(b)] => [a, b],
            [Err(core), _] | [_, Err(core)] => {
                let what = format!("no step before it reads core `{core}` against core `{}`", back.name);
                let hint = "put a `Continuity` with the window `CableOrPair` before it, in `EachCore`";
                return self.problem(&step.id, what, Some(hint.into()));
            }
        };
        let rows = job.limits.row(Table::Practice, "cores of one cable alike");
        let (alike, (most, mut basis)) = match rows.and_then(|row| Ok((row, pair_of_cores(job)?))) {
            Ok(rows) => rows,
            Err(what) => return self.problem(&step.id, what, None),
        };
        basis.insert(0, alike.basis());
        let cores = [pair[0], pair[1], back];
        let names = cores.map(|core| core.name.clone());
        let solved = Solved {
            cores: names.clone(),
            with_return,
            areas: cores.map(|core| core.size.clone()),
            within: alike.value.clone(),
            most,
            basis,
        };
        let id = self.named(&step.id.value);
        self.measure(Parts {
            id,
            at: &step.id,
            say: &step.say,
            stage: Stage::Test,
            core: None,
            cores: names.to_vec(),
            probes: Probes {
                first: near(pair[0]),
                second: near(pair[1]),
            },
            function: Function::Continuity,
            window: Judging::Follows(WindowRule::Solved(Box::new(solved))),
            timing: Timing::Any,
            low_impedance: false,
        });
    }

    /// The step that reads a core against the return core through a link at the far end.
    fn read_against_return(&self, core: &Core) -> Option<String> {
        let probes = Probes {
            first: near(self.job.return_core()),
            second: near(core),
        };
        let reads =
            |kind: &Kind| matches!(kind, Kind::Measure(measure) if measure.is_of_cable() && measure.probes == probes);
        let step = self.steps.iter().find(|step| reads(&step.kind))?;
        Some(step.id.clone())
    }
}

fn near(core: &Core) -> Point {
    Point::Core {
        core: core.name.clone(),
        end: End::Near,
    }
}
