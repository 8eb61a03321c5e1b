//! What a sound installation would show at each measuring step of a plan, and how often the instrument would fail it all the same.
//!
//! The rule inside: it is foretold from the job alone; nothing is judged by it. What is sound varies by itself (copper as it is
//! drawn, contacts, the supply), evenly between two figures of the tables, and lies inside the window; what the instrument adds to that
//! is told apart, as the chance that a sound one fails.

use serde::Serialize;

use super::tolerance::{Range, Reads, said};
use crate::job::Job;
use crate::judge::risk;
use crate::judge::window::Window;
use crate::limits::Table;
use crate::model::error::InstallationError;
use crate::model::installation::Installation;
use crate::model::meter::INPUT_OHMS;
use crate::model::walked::World;
use crate::model::wiring::{CORE_SPREAD, SHARE_OF_MAXIMUM, float};
use crate::plan::{Kind, Measure, Plan, WindowRule};
use crate::value::quantity::{Amount, Unit};
use crate::value::reading::Function;

/// Below this a reading is of copper, in ohms; no core of this trade has as much, and no load as little. Our own choice.
const COPPER_OHMS_MAX: f64 = 100.0;
/// Sound insulation has no value of its own; it is taken to have at least this, in ohms. Our own choice, above the least values of
/// BS 7671 and IEC 60364-6 (1 Mohm).
const SOUND_OHMS_MIN: f64 = 2e6;
/// What is predicted below this is nothing, in volts. Our own choice.
const NOTHING_VOLTS: f64 = 0.5;
/// What leads have that are subtracted, in ohms; it sets the uncertainty of what is subtracted. Our own choice.
const LEADS_OHMS: f64 = 0.05;
/// How many values of each part are tried, evenly over its range. Our own choice.
const TRIED: u32 = 48;

/// What a step would find on sound wiring.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Sound {
    /// What sound wiring shows, from least to greatest, without the instrument's error.
    pub shows: String,
    /// Whether all of that passes.
    pub passes: bool,
    /// The chance that sound wiring fails by the instrument's error alone, from 0 to 1.
    pub fails: f64,
}

impl Sound {
    /// Both in words, for a line of the plan; a chance below what risks are told to is left out.
    pub fn words(&self) -> String {
        let shows = format!("sound wiring shows {}", self.shows);
        if self.fails < risk::SHOWN_MIN {
            return shows;
        }
        format!("{shows}, chance of failing it {}", risk::words(self.fails))
    }
}

/// What varies in one sound value: `share` times the prediction, and `added` to that, each evenly between two figures.
#[derive(Debug, Clone, Copy)]
struct Varies {
    share: Range,
    added: Range,
}

impl Varies {
    fn range(&self, value: f64) -> Range {
        (value * self.share.0 + self.added.0, value * self.share.1 + self.added.1)
    }

    /// The mean of something over all that the value may be.
    fn mean(&self, value: f64, of: impl Fn(f64) -> f64) -> f64 {
        let tried =
            |(from, to): Range| (0..TRIED).map(move |n| from + (to - from) * (f64::from(n) + 0.5) / f64::from(TRIED));
        let all = tried(self.share).flat_map(|share| tried(self.added).map(move |added| value * share + added));
        all.map(of).sum::<f64>() / f64::from(TRIED * TRIED)
    }
}

/// The shares of one job.
struct Shares {
    copper: Range,
    contacts: f64,
    load: f64,
    supply: Range,
}

impl Shares {
    fn of(job: &Job) -> Result<Shares, String> {
        let practice = |of: &str| job.limits.row(Table::Practice, of).map(|row| float(row.value.value()));
        let about = practice("supply about its voltage")? / 100.0;
        let nominal = Amount::new(job.supply.nominal.value().normalize(), Unit::Volt);
        let factor = |which: &str| {
            let row = job
                .limits
                .row(Table::SupplyVoltage, &format!("{nominal}, {which}"))
                .ok()?;
            Some(float(row.value.value()) / float(nominal.value()))
        };
        let least = practice("cable as made, least")? / 100.0;
        Ok(Shares {
            // the model's cores stand a little about their share of the table; the greatest is the table's
            copper: (least / SHARE_OF_MAXIMUM, 1.0 / (SHARE_OF_MAXIMUM * (1.0 + CORE_SPREAD))),
            contacts: practice("link and clamps, sound")?,
            load: practice("load as stated")? / 100.0,
            supply: (
                factor("lower").unwrap_or(1.0 - about),
                factor("upper").unwrap_or(1.0 + about),
            ),
        })
    }

    /// How a predicted value varies while all is sound.
    fn varies(&self, value: f64, unit: Unit) -> Varies {
        let exact = (0.0, 0.0);
        let (share, added) = match unit {
            Unit::Volt => (self.supply, exact),
            _ if value < COPPER_OHMS_MAX => (self.copper, (0.0, self.contacts)),
            _ => ((1.0 - self.load, 1.0 + self.load), exact),
        };
        Varies { share, added }
    }
}

/// For each step of a plan what sound wiring shows there. `None` where nothing of the wiring is measured, what is measured lies
/// outside it (the tester's own leads, the supplier's loop, a protective device), or the step is not needed on sound wiring.
///
/// # Errors
/// [`InstallationError`] where the job's figures make no wiring that can be.
pub fn expected(plan: &Plan) -> Result<Vec<Option<Sound>>, InstallationError> {
    let mut world = World::new(plan, Installation::of(&plan.job)?);
    let shares = Shares::of(&plan.job).map_err(|why| InstallationError::Wiring { why })?;
    let one = |(at, step)| {
        if !world.is_needed(step) {
            return None;
        }
        world.come_to(at);
        let Kind::Measure(measure) = &step.kind else {
            return None;
        };
        let function = measure.used.function;
        let foretold = !measure.is_null && function != Function::Loop && function.unit() != Unit::Second;
        foretold.then(|| {
            let input = measure
                .used
                .input
                .as_ref()
                .map_or(INPUT_OHMS, |input| float(input.value()));
            let value = world.installation.shows(&measure.probes, function, input);
            match &measure.window {
                WindowRule::Fixed(window) => sound(&shares, value, measure, window),
                WindowRule::Solved(solved) => alike(
                    &shares,
                    value,
                    measure,
                    &solved.with_return[0],
                    float(solved.within.value()),
                ),
                WindowRule::Like { first, within, .. } => alike(&shares, value, measure, first, float(within.value())),
            }
        })
    };
    Ok(plan.steps.iter().enumerate().map(one).collect())
}

fn sound(shares: &Shares, value: f64, measure: &Measure, window: &Window) -> Sound {
    let function = measure.used.function;
    let edge = |edge: &Option<crate::judge::window::Edge>| edge.as_ref().map(|edge| float(edge.amount.value()));
    let (low, high) = (edge(&window.low), edge(&window.high));
    let fails = |value: f64| risk::outside(value, standard_uncertainty(measure, value), low, high);
    if function.unit() == Unit::Ohm && SOUND_OHMS_MIN <= value {
        return Sound {
            shows: said((SOUND_OHMS_MIN, f64::INFINITY), function),
            passes: high.is_none() && low.is_none_or(|low| low <= SOUND_OHMS_MIN),
            fails: fails(SOUND_OHMS_MIN),
        };
    }
    // a volt is foretold as a display of tenths shows it: what the model's own supply line loses is in the supply's window already
    let value = if function.unit() == Unit::Volt {
        (value * 10.0).round() / 10.0
    } else {
        value
    };
    let varies = shares.varies(value, function.unit());
    let range = varies.range(value);
    let nothing = function.unit() == Unit::Volt && range.1 < NOTHING_VOLTS;
    Sound {
        shows: if nothing {
            "no voltage".into()
        } else {
            said(range, function)
        },
        // as exact as a figure of the tables is printed
        passes: low.is_none_or(|low| low <= range.0 + 1e-9) && high.is_none_or(|high| range.1 <= high + 1e-9),
        fails: varies.mean(value, fails),
    }
}

/// A core that is compared with the first of its cable: both have contacts of their own, and both were read.
fn alike(shares: &Shares, value: f64, measure: &Measure, first: &str, within: f64) -> Sound {
    let u = standard_uncertainty(measure, value) * std::f64::consts::SQRT_2;
    let apart = Varies {
        share: (-shares.contacts, 0.0),
        added: (0.0, shares.contacts),
    };
    Sound {
        shows: format!("what `{first}` shows, as near as contacts are alike"),
        passes: shares.contacts <= within,
        fails: apart.mean(1.0, |difference| {
            risk::outside(difference, u, Some(-within), Some(within))
        }),
    }
}

/// Half the expanded uncertainty of the reading, with that of the leads where they are subtracted, independent of each other.
fn standard_uncertainty(measure: &Measure, value: f64) -> f64 {
    let reads = Reads::from(&measure.used.known.accuracy);
    let leads = if measure.subtract_null {
        reads.uncertainty(LEADS_OHMS)
    } else {
        0.0
    };
    reads.uncertainty(value).hypot(leads) / 2.0
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::diagnosis::coverage::walk;
    use crate::model::sample::{job, job_with, plan, plan_with};

    /// Below this lies the chance of each line of each shipped sequence that sound wiring fails by the instrument's error: one in ten. The
    /// greatest are those of voltages, where the supply may stand anywhere within its window with the same chance.
    const FAILS_MAX: f64 = 0.1;

    #[test]
    fn each_measuring_step_has_what_sound_wiring_shows() {
        let (plan, all) = (plan(), expected(&plan()).unwrap());
        for (id, shows) in [
            ("lead-null", None),
            ("link/grey+black", None),
            // 18 m of 1.0/1.0 mm2 at 15 degC: 0.639 ohm by IEC 60228 at most; 90 % of that by the model, and all of it with 0.03 ohm of contacts
            ("continuity/brown", Some("0.58 ohm to 0.67 ohm")),
            ("all-open/grey", Some("open")),
            ("insulation/brown", Some("more than 2.00 Mohm")),
            ("supply", Some("216 V to 253 V")),
            ("switched-off", Some("no voltage")),
        ] {
            let found = all[plan.index(id).unwrap()].as_ref().map(|sound| sound.shows.as_str());
            assert_eq!(found, shows, "{id}");
        }
    }

    #[test]
    fn what_is_foretold_is_what_a_walk_of_sound_wiring_reads() {
        let (plan, all) = (plan(), expected(&plan()).unwrap());
        let walked = walk(&plan, Installation::of(&job()).unwrap());
        let id = plan.index("feed").unwrap();
        assert_eq!(walked.lines[id], "230.0 V");
        let range = all[id].as_ref().unwrap().shows.clone();
        let (low, high) = range.split_once(" to ").unwrap();
        let volts = |text: &str| text.trim_end_matches(" V").parse::<f64>().unwrap();
        assert!(volts(low) < 230.0 && 230.0 < volts(high), "{range}");
    }

    #[test]
    fn sound_wiring_lies_inside_every_window_of_every_shipped_sequence_and_seldom_fails() {
        let (mut lines, mut wrong) = (0, Vec::new());
        for shipped in crate::sequence::shipped::SEQUENCES {
            let sequence = crate::sequence::read(&crate::sequence::shipped::texts(shipped.name).unwrap()).unwrap();
            let job = crate::job::read(&crate::sequence::shipped::job(shipped.job).unwrap()).unwrap();
            let plan = crate::sequence::bind(&sequence, &job).unwrap();
            for (step, sound) in plan.steps.iter().zip(expected(&plan).unwrap()) {
                let Some(sound) = sound else { continue };
                lines += 1;
                let place = format!("{}, {}: {}", shipped.name, step.id, sound.words());
                if !sound.passes || FAILS_MAX <= sound.fails {
                    wrong.push(place);
                }
            }
        }
        assert_eq!(wrong, Vec::<String>::new());
        assert!(250 < lines, "{lines}");
    }

    #[test]
    fn sound_cores_of_unknown_length_seldom_fail() {
        let job = job_with("length: \"18 m\",", "");
        let plan = plan_with(&job, "format", "format");
        let all = expected(&plan).unwrap();
        for id in ["continuity/brown", "continuity/grey", "solve"] {
            let sound = all[plan.index(id).unwrap()].as_ref().unwrap();
            assert!(sound.passes && sound.fails < FAILS_MAX, "{id}: {}", sound.words());
        }
    }

    #[test]
    fn the_chance_is_the_mean_over_what_is_sound() {
        // evenly from 216.2 to 253.0 V, read with a standard uncertainty u of 1 V: at each edge the mean of the tail is u / root(2 pi),
        // so 2 x 0.39894 / 36.8 = 0.02168
        let supply = Varies {
            share: (0.94, 1.1),
            added: (0.0, 0.0),
        };
        let found = supply.mean(230.0, |volts| risk::outside(volts, 1.0, Some(216.2), Some(253.0)));
        assert!((found - 0.02168).abs() < 1e-3, "{found}");
        // two that vary by themselves: the chance that both are in the upper tenth of their range is a hundredth
        let both = Varies {
            share: (0.0, 1.0),
            added: (0.0, 1.0),
        };
        let above = both.mean(1.0, |sum| f64::from(u8::from(1.8 < sum)));
        assert!((above - 0.02).abs() < 2e-3, "{above}");
    }
}
