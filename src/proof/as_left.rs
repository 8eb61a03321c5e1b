//! What the readings of a place as it is left show, tried on the model: clamps, and insulation with everything connected.
//!
//! The rule inside: such a reading gives no fact that energising waits for, so one that could not have failed is refused by itself.

use super::evidence::{Trial, passes_with};
use crate::job::End;
use crate::model::opposite::{About, opposites};
use crate::model::probes::points;
use crate::model::walked::World;
use crate::plan::{Kind, Point, Probes, reads_as_left};
use crate::value::reading::Function;

impl Trial<'_> {
    /// Whether a reading of the place as it is left would have failed where the opposite of what it shows is in the wiring.
    pub(super) fn try_as_left(&mut self, i: usize, here: &World<'_>) {
        let step = &self.plan.steps[i];
        let Kind::Measure(measure) = &step.kind else { return };
        if !reads_as_left(step) {
            return;
        }
        let (of, places) = match measure.used.function {
            Function::Insulation(_) => ("insulated as left", self.live_terminals(&measure.probes)),
            _ => match clamp(&measure.probes) {
                Some((End::Near, about)) => ("clamped at the near end", vec![about]),
                Some((End::Far, about)) => ("clamped at the far end", vec![about]),
                // an earth is a fact, and tried as one
                None => return,
            },
        };
        for about in places {
            for opposed in opposites(of, &about, &self.plan.job) {
                if let Some(reads) = passes_with(here, step, &opposed) {
                    self.slipped(i, None, &opposed, reads);
                    // one tells it: a box of many terminals would say the same of each
                    return;
                }
            }
        }
    }

    /// Each live terminal for mains at the near end, with the earth that the reading is made to.
    fn live_terminals(&self, probes: &Probes) -> Vec<About> {
        let earth = |terminal: &str| {
            let probes = Probes {
                first: probes.first.clone(),
                second: Point::Terminal {
                    terminal: terminal.to_owned(),
                    end: End::Near,
                },
            };
            let [other, point] = points(&probes)?;
            Some(About {
                point,
                other,
                ..About::default()
            })
        };
        let terminals = self.plan.job.mains_at(End::Near);
        terminals.filter_map(|there| earth(&there.name)).collect()
    }
}

/// The core and the end of a clamp, where a reading goes across one.
fn clamp(probes: &Probes) -> Option<(End, About)> {
    match (&probes.first, &probes.second) {
        (Point::Terminal { end: at, .. }, Point::Core { core, end })
        | (Point::Core { core, end }, Point::Terminal { end: at, .. })
            if at == end =>
        {
            let about = About {
                a: core.clone(),
                ..About::default()
            };
            Some((*end, about))
        }
        _ => None,
    }
}
