//! What a sound installation would show at each measuring step of a plan.
//!
//! The rule inside: it is foretold from the job alone, as a range; nothing is judged by it, and a reading outside it that passes its
//! window still passes.

use super::located::said;
use super::replay::do_step;
use super::tolerance::{Reads, Tolerance};
use crate::diagnosis::coverage::INPUT_OHMS;
use crate::model::error::InstallationError;
use crate::model::installation::Installation;
use crate::model::wiring::float;
use crate::plan::{Kind, Plan};
use crate::value::quantity::Unit;
use crate::value::reading::Function;

/// For each step of a plan what its instrument would show on sound wiring, in words: from least to greatest by cable, temperature,
/// supply and the instrument's accuracy. `None` where nothing of the wiring is measured, or what is measured lies outside
/// it: the tester's own leads, the supplier's loop, a protective device.
///
/// # Errors
/// [`InstallationError`] where the job's figures make no wiring that can be.
pub fn expected(plan: &Plan) -> Result<Vec<Option<String>>, InstallationError> {
    let mut installation = Installation::of(&plan.job)?;
    let tolerance = Tolerance::of(&plan.job).map_err(|why| InstallationError::Wiring { why })?;
    let one = |step| {
        do_step(&mut installation, step);
        let Kind::Measure(measure) = &step.kind else {
            return None;
        };
        let (used, function) = (&measure.used, measure.used.function);
        let foretold = !measure.is_null && function != Function::Loop && function.unit() != Unit::Second;
        foretold.then(|| {
            let input = used.input.as_ref().map_or(INPUT_OHMS, |input| float(input.value()));
            let value = installation.shows(&measure.probes, function, input);
            let reads = Reads::from(&used.known.accuracy);
            said(
                tolerance.spread((value, value), function.unit(), input, reads),
                function,
            )
        })
    };
    Ok(plan.steps.iter().map(one).collect())
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::diagnosis::coverage::walk;
    use crate::model::sample::{job, plan};

    #[test]
    fn each_measuring_step_has_what_sound_wiring_shows() {
        let (plan, all) = (plan(), expected(&plan()).unwrap());
        let at = |id: &str| all[plan.index(id).unwrap()].as_deref();
        for (id, shows) in [
            ("lead-null", None),
            ("link/brown", None),
            // 18 m of 1.0/1.0 mm2 at 15 degC, 3 % below the tables: 0.619 ohm, and what each share adds or takes
            ("continuity/brown", Some("0.43 ohm to 0.80 ohm")),
            ("others-open/brown-linked/grey", Some("open")),
            ("insulation/brown", Some("more than 2.00 Mohm")),
            ("switched-off", Some("less than 5.08 V")),
        ] {
            let found = at(id);
            match (found, shows) {
                (Some(found), Some(shows)) if id == "insulation/brown" => {
                    assert!(found.starts_with("more than "), "{found} {shows}")
                }
                (Some(found), Some(shows)) if id == "switched-off" => {
                    assert!(found.starts_with("less than "), "{found} {shows}")
                }
                _ => assert_eq!(found, shows, "{id}"),
            }
        }
    }

    #[test]
    fn what_is_foretold_is_what_a_walk_of_sound_wiring_reads() {
        let (plan, all) = (plan(), expected(&plan()).unwrap());
        let walked = walk(&plan, Installation::of(&job()).unwrap());
        let id = plan.index("feed").unwrap();
        assert_eq!(walked.lines[id], "230.0 V");
        let range = all[id].as_deref().unwrap();
        let (low, high) = range.split_once(" to ").unwrap();
        let volts = |text: &str| text.trim_end_matches(" V").parse::<f64>().unwrap();
        assert!(volts(low) < 230.0 && 230.0 < volts(high), "{range}");
    }
}
