//! Where the fault must be, told to a person.
//!
//! The rule inside: a live measurement is named only where no dead one tells the diagnoses apart, and isolation comes before
//! either.

use std::fmt::Write;

use serde::Serialize;

use super::consistency::diagnoses;
use super::entropy::{bits, outcomes};
use super::far::{FarAway, far_away};
use super::measurements::Measurement;
use super::observed::Observed;
use super::replay::each;
use super::theory::Wiring;
use super::tolerance::Range;
use crate::model::error::InstallationError;
use crate::model::fault::Size;
use crate::plan::{Kind, Plan};
use crate::run::fold::Run;
use crate::value::quantity::{Amount, Unit};
use crate::value::reading::Function;

/// The chance that a fault of weight 1 is there, before anything is measured. Our own choice: faults are rare, two at
/// once rarer still.
pub(super) const CHANCE: f64 = 0.001;
/// Diagnoses over which the next measurement is sought: the likeliest.
const WEIGHED_MAX: usize = 24;
/// A measurement that tells less is not worth the walk, in bits.
const BITS_MIN: f64 = 0.05;
/// Diagnoses that a text names before it counts the rest, and the share below which it only counts them.
const NAMED_MAX: usize = 8;
const NAMED_SHARE: f64 = 0.005;

/// One minimal set of faults that agrees with everything that was seen.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Diagnosis {
    /// As `rehearse --fault` takes them.
    pub faults: Vec<String>,
    /// What is wrong, in words.
    pub words: String,
    /// Where to look for each of its faults.
    pub look: Vec<String>,
    /// Its weight among all that were found, from 0 to 1.
    pub share: f64,
}

/// The measurement that tells the diagnoses apart best.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Next {
    /// What is to be measured, in words, isolation first where it asks for it.
    pub words: String,
    /// What it tells on the average, in bits.
    pub bits: f64,
    /// Whether it is made with the supply on.
    pub live: bool,
    /// What it will show, and the diagnoses (by their place) that this would leave.
    pub outcomes: Vec<(String, Vec<usize>)>,
}

/// What follows from what was seen.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Located {
    /// Steps that did not show what a sound installation shows: what was seen and what was expected.
    pub symptoms: Vec<String>,
    /// How many readings and answers were weighed.
    pub observations: usize,
    /// The likeliest first; one empty set where nothing need be wrong; none where nothing in the library explains it.
    pub diagnoses: Vec<Diagnosis>,
    /// The most faults at once that were looked for.
    pub at_most: usize,
    /// What tells the diagnoses apart; `None` where no measurement does.
    pub next: Option<Next>,
    /// How to tell the distance to the likeliest fault that lies somewhere along the cable.
    pub far_away: Option<FarAway>,
    /// Whether the supply is on while this is read.
    pub energised: bool,
}

/// Finds the minimal sets of at most so many faults, and the next measurement.
///
/// # Errors
/// [`InstallationError`] where the job makes no installation.
pub fn locate(observed: &Observed, at_most: usize) -> Result<Located, InstallationError> {
    let mut wiring = Wiring::new(observed)?;
    let mut sets = diagnoses(&mut wiring, at_most);
    let weight = |set: &Vec<usize>| -> f64 { set.iter().map(|mode| wiring.faults[*mode].weight * CHANCE).product() };
    sets.sort_by(|one, other| weight(other).total_cmp(&weight(one)).then(one.cmp(other)));
    let total: f64 = sets.iter().map(weight).sum();
    let named = |set: &Vec<usize>| {
        let faults = || set.iter().map(|mode| &wiring.faults[*mode]);
        Diagnosis {
            faults: faults().map(|fault| fault.name.clone()).collect(),
            words: faults()
                .map(|fault| fault.words.clone())
                .collect::<Vec<_>>()
                .join("; and "),
            look: faults().map(|fault| fault.look.clone()).collect(),
            share: weight(set) / total,
        }
    };
    Ok(Located {
        symptoms: symptoms(observed, &wiring),
        observations: observed.list.len(),
        diagnoses: sets.iter().map(named).collect(),
        at_most,
        far_away: far_away(
            &observed.plan.job,
            likely(&sets, &weight, total).flat_map(|set| set.iter().map(|mode| &wiring.faults[*mode])),
        ),
        next: next(observed, &wiring, &sets, weight),
        energised: observed.energised,
    })
}

/// The sets that a text names.
fn likely<'a>(
    sets: &'a [Vec<usize>],
    weight: &'a impl Fn(&Vec<usize>) -> f64,
    total: f64,
) -> impl Iterator<Item = &'a Vec<usize>> {
    let named = sets.iter().take(NAMED_MAX);
    named.filter(move |set| NAMED_SHARE <= weight(set) / total)
}

/// What speaks against a sound installation: a reading beside the model, or a step that did not pass.
fn symptoms(observed: &Observed, wiring: &Wiring<'_>) -> Vec<String> {
    let mut found = Vec::new();
    each(observed, wiring.sound.clone(), |at, world| {
        let (observation, plan) = (&observed.list[at], &observed.plan);
        let step = &plan.steps[observation.step];
        let (where_, expected, agrees) = match &step.kind {
            Kind::Measure(measure) => {
                let (function, probes) = (measure.used.function, &measure.probes);
                let input = measure.used.input.as_ref();
                let input = input.map_or(crate::model::meter::INPUT_OHMS, |input| {
                    crate::model::wiring::float(input.value())
                });
                let range = wiring.expected(&world.installation, probes, function, input, &measure.used.known.accuracy);
                let agrees = super::theory::holds(observation.seen, range);
                (Some(probes), said(range, function), agrees)
            }
            Kind::Indicator { probes, lit } => {
                let expected = if *lit { "lit" } else { "dark" };
                (Some(probes), expected.to_owned(), observation.words == expected)
            }
            Kind::Connect { carries, .. } => {
                let expected = carries.words();
                (None, expected.to_owned(), observation.words == expected)
            }
            Kind::Look(look) => {
                let expected = look.expected.join(", ");
                (None, expected.clone(), observation.words == expected)
            }
            Kind::Do | Kind::Gate | Kind::Note { .. } => return,
        };
        if agrees && observation.passed != Some(false) {
            return;
        }
        let between = where_.map_or(String::new(), |probes| {
            format!(
                ", from {} to {}",
                probes.first.words(&plan.job),
                probes.second.words(&plan.job)
            )
        });
        found.push(format!(
            "`{}`: {} was seen, {expected} was expected{between}",
            step.id, observation.words
        ));
    });
    found
}

/// A measurement with what it tells, and what each diagnosis expects of it.
struct Weighed {
    bits: f64,
    measurement: Measurement,
    ranges: Vec<Range>,
    outcome: Vec<usize>,
}

fn next(
    observed: &Observed,
    wiring: &Wiring<'_>,
    sets: &[Vec<usize>],
    weight: impl Fn(&Vec<usize>) -> f64,
) -> Option<Next> {
    let sets = &sets[..sets.len().min(WEIGHED_MAX)];
    if sets.len() < 2 {
        return None;
    }
    let plan = &observed.plan;
    let best = |live: bool| -> Option<Weighed> {
        let mut best: Option<Weighed> = None;
        for measurement in Measurement::all(plan).into_iter().filter(|m| m.live == live) {
            let ranges: Vec<Range> = sets.iter().map(|set| range(wiring, plan, &measurement, set)).collect();
            let outcome = outcomes(&ranges);
            let candidates: Vec<_> = sets
                .iter()
                .zip(&outcome)
                .map(|(set, outcome)| (weight(set), vec![(*outcome, 1.0)]))
                .collect();
            let bits = bits(&candidates);
            // the first of equals: measurements are listed in the order of their trouble
            if BITS_MIN <= bits && best.as_ref().is_none_or(|most| most.bits + 1e-9 < bits) {
                best = Some(Weighed {
                    bits,
                    measurement,
                    ranges,
                    outcome,
                });
            }
        }
        best
    };
    let Weighed {
        bits,
        measurement,
        ranges,
        outcome,
    } = best(false).or_else(|| best(true))?;
    let count = outcome.iter().max().map_or(0, |most| most + 1);
    let outcomes = (0..count).map(|one| {
        let here: Vec<usize> = (0..sets.len()).filter(|set| outcome[*set] == one).collect();
        let low = here.iter().map(|set| ranges[*set].0).fold(f64::INFINITY, f64::min);
        let high = here.iter().map(|set| ranges[*set].1).fold(0.0, f64::max);
        (shown((low, high), &measurement), here)
    });
    Some(Next {
        words: measurement.words(plan),
        bits,
        live: measurement.live,
        outcomes: outcomes.collect(),
    })
}

/// What a measurement shows with a set of faults of any size.
fn range(wiring: &Wiring<'_>, plan: &Plan, measurement: &Measurement, set: &[usize]) -> Range {
    let sizes: &[Size] = if set.iter().any(|mode| wiring.faults[*mode].has_range()) {
        &[Size::LEAST, Size::Usual, Size::GREATEST]
    } else {
        &[Size::Usual]
    };
    let mut range = (f64::INFINITY, f64::NEG_INFINITY);
    for size in sizes {
        let mut installation = wiring.sound.clone();
        for mode in set {
            installation
                .put_sized(&wiring.faults[*mode], *size)
                .expect("the set was replayed before");
        }
        let installation = measurement.prepared(plan, installation);
        let input = measurement.input_ohms(plan);
        let (low, high) = wiring.expected(
            &installation,
            &measurement.probes,
            measurement.function,
            input,
            &measurement.accuracy,
        );
        range = (range.0.min(low), range.1.max(high));
    }
    let seen = |edge: f64| {
        if measurement.ceiling < edge {
            f64::INFINITY
        } else {
            edge
        }
    };
    (range.0.min(measurement.ceiling), seen(range.1))
}

/// What a measurement shows, in words.
fn shown(range: Range, measurement: &Measurement) -> String {
    if measurement.ceiling <= range.0 {
        "over-range".into()
    } else {
        said(range, measurement.function)
    }
}

/// A range in words.
pub(super) fn said((low, high): Range, function: Function) -> String {
    let amount = |value: f64| {
        let decimals = if (100.0..1000.0).contains(&value) { 0 } else { 2 };
        let exact = rust_decimal::Decimal::try_from(value.clamp(0.0, 1e12)).unwrap_or_default();
        Amount::readable(exact, function.unit(), decimals).to_string()
    };
    // beyond the ranges of an ohmmeter it is open, whatever it is
    let open = match function {
        Function::Insulation(_) => 1e12,
        _ => 1e6,
    };
    match function.unit() {
        Unit::Volt if low <= 0.0 => format!("less than {}", amount(high)),
        Unit::Volt => format!("{} to {}", amount(low), amount(high)),
        _ if open <= low => "open".into(),
        _ if high.is_infinite() => format!("more than {}", amount(low)),
        _ if low <= 0.0 => format!("less than {}", amount(high)),
        _ => format!("{} to {}", amount(low), amount(high)),
    }
}

impl Located {
    /// The whole of it as text, a paragraph an element.
    pub fn text(&self) -> String {
        let mut out = String::new();
        let mut say = |line: std::fmt::Arguments<'_>| {
            out.write_fmt(line).expect("a string takes everything");
            out.push('\n');
        };
        if self.diagnoses.iter().any(|diagnosis| diagnosis.faults.is_empty()) {
            say(format_args!(
                "Nothing that was seen speaks against a sound installation ({} readings and answers).",
                self.observations
            ));
            for symptom in &self.symptoms {
                say(format_args!("  {symptom}"));
            }
            return out;
        }
        say(format_args!("Seen, and not what a sound installation shows:"));
        for symptom in &self.symptoms {
            say(format_args!("  {symptom}"));
        }
        if self.diagnoses.is_empty() {
            say(format_args!(
                "No {} of the library's faults at once explain all that was seen. Check the readings themselves: the probes, the dial, \
                 the leads; then the job: which core, which terminal, the length and size of the cable.",
                self.at_most
            ));
            return out;
        }
        say(format_args!(
            "What explains everything, the likeliest first (weights are estimates, not measurements):"
        ));
        let likely = self.diagnoses.iter().filter(|there| NAMED_SHARE <= there.share).count();
        let named = likely.clamp(1, NAMED_MAX);
        for (at, diagnosis) in self.diagnoses.iter().take(named).enumerate() {
            say(format_args!(
                "  {}. {:.0} % {} (`{}`)",
                at + 1,
                diagnosis.share * 100.0,
                diagnosis.words,
                diagnosis.faults.join("+")
            ));
            for look in &diagnosis.look {
                say(format_args!("       look at {look}"));
            }
        }
        if named < self.diagnoses.len() {
            say(format_args!("  and {} less likely", self.diagnoses.len() - named));
        }
        out + &self.next_text(named) + &self.far_text()
    }

    /// How the distance to a break or a contact is told.
    fn far_text(&self) -> String {
        self.far_away.as_ref().map_or(String::new(), |far| {
            format!(
                "How far away, where it is `{}`: {}; with these readings\n  {}\n",
                far.fault, far.words, far.command
            )
        })
    }

    /// What to measure next, with the diagnoses that were named by their numbers.
    fn next_text(&self, named: usize) -> String {
        let Some(next) = &self.next else {
            return if 1 < self.diagnoses.len() {
                "No measurement here tells these apart: look at them in turn.\n".into()
            } else {
                String::new()
            };
        };
        let mut lines = Vec::new();
        if self.energised {
            lines.push(
                "First switch off, lock off and prove dead with the two-pole indicator: the supply is on now.".into(),
            );
        }
        lines.push(format!("Measure next ({:.2} bit): {}", next.bits, next.words));
        for (shown, left) in &next.outcomes {
            let numbers: Vec<String> = (left.iter().filter(|at| **at < named))
                .map(|at| (at + 1).to_string())
                .collect();
            lines.push(if numbers.is_empty() {
                format!("  {shown}: then one of the less likely")
            } else {
                format!("  {shown}: then {}", numbers.join(", "))
            });
        }
        lines.join("\n") + "\n"
    }
}

/// Where the fault must be by everything that stands in the run: single faults, and two at once where no single one does.
pub fn in_words(run: &Run) -> String {
    let observed = Observed::of(run);
    let at_most = |count| locate(&observed, count);
    let found = at_most(1).and_then(|found| {
        if found.diagnoses.is_empty() {
            at_most(2)
        } else {
            Ok(found)
        }
    });
    match found {
        Ok(found) => found.text(),
        Err(error) => error.to_string(),
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::diagnosis::coverage::walk;
    use crate::model::installation::Installation;
    use crate::model::library;
    use crate::model::sample::{job, plan};

    /// What is seen with a fault up to the first step that does not pass.
    fn seen_with(fault: &str) -> Observed {
        let plan = plan();
        let mut installation = Installation::of(&job()).unwrap();
        for fault in library::find(&job(), fault).unwrap() {
            installation.put(&fault).unwrap();
        }
        let walked = walk(&plan, installation);
        let last = walked.caught().next().unwrap_or(plan.steps.len() - 1);
        let lines: Vec<String> = (0..=last)
            .filter(|step| !matches!(plan.steps[*step].kind, Kind::Do | Kind::Gate))
            .filter(|step| !walked.lines[*step].is_empty())
            .map(|step| format!("{}: {}", plan.steps[step].id, walked.lines[step]))
            .collect();
        Observed::typed(plan, &lines.join("\n")).unwrap()
    }

    fn names(located: &Located) -> Vec<String> {
        located
            .diagnoses
            .iter()
            .map(|diagnosis| diagnosis.faults.join("+"))
            .collect()
    }

    #[test]
    fn a_sound_installation_has_nothing_wrong() {
        let plan = plan();
        let walked = walk(&plan, Installation::of(&job()).unwrap());
        let lines: Vec<String> = (0..plan.steps.len())
            .filter(|step| !matches!(plan.steps[*step].kind, Kind::Do | Kind::Gate))
            .filter(|step| !walked.lines[*step].is_empty())
            .map(|step| format!("{}: {}", plan.steps[step].id, walked.lines[step]))
            .collect();
        let located = locate(&Observed::typed(plan, &lines.join("\n")).unwrap(), 2).unwrap();
        assert_eq!(names(&located), [""]);
        assert!(
            located
                .text()
                .starts_with("Nothing that was seen speaks against a sound installation"),
            "{}",
            located.text()
        );
        assert!(located.symptoms.is_empty(), "{:?}", located.symptoms);
    }

    #[test]
    fn every_fault_is_among_the_diagnoses_of_what_it_shows() {
        for fault in library::faults(&job()).unwrap() {
            let located = locate(&seen_with(&fault.name), 1).unwrap();
            let mut installation = Installation::of(&job()).unwrap();
            installation.put(&fault).unwrap();
            // no step of this plan looks where it would show
            let is_hidden = walk(&plan(), installation).caught().next().is_none() && names(&located) == [""];
            assert!(
                is_hidden || names(&located).contains(&fault.name),
                "{}: {:?}",
                fault.name,
                names(&located)
            );
            if let Some(next) = &located.next {
                assert!(0.0 < next.bits && 1 < next.outcomes.len(), "{}", fault.name);
            }
        }
    }

    #[test]
    fn an_open_core_is_told_in_words() {
        let located = locate(&seen_with("core-open:grey"), 2).unwrap();
        let text = located.text();
        assert!(
            text.contains(
                "`continuity/grey`: OL (ohm) was seen, 0.43 ohm to 0.80 ohm was expected, from core green-yellow at the wiring centre to core grey at the wiring centre"
            ),
            "{text}"
        );
        assert_eq!(names(&located)[0], "core-open:grey", "{text}");
        assert!(text.contains("core grey is broken between its ends"), "{text}");
        assert!(
            text.ends_with("  coreproof distance --near \"NEAR nF\" --far \"FAR nF\" --length \"18 m\"\n"),
            "{text}"
        );
    }

    #[test]
    fn a_live_measurement_is_not_named_where_a_dead_one_serves() {
        for fault in [
            "end-switch-open",
            "neutral-missing",
            "thermostat-contact-open",
            "conductor-not-gripped:grey@far",
        ] {
            let located = locate(&seen_with(fault), 1).unwrap();
            let best_dead = located.next.as_ref().is_some_and(|next| !next.live);
            // the feed and the end switch cannot be told dead by the points of this model
            let expected = fault == "conductor-not-gripped:grey@far" || fault == "thermostat-contact-open";
            assert!(best_dead || !expected, "{fault}: {:?}", located.next);
        }
    }

    #[test]
    fn two_faults_are_found_together() {
        let text = "continuity/brown: OL\ncontinuity/grey: 0.66\ncontinuity/black: 0.66\ninsulation-alone/grey/black: 0.4 Mohm\n";
        let located = locate(&Observed::typed(plan(), text).unwrap(), 2).unwrap();
        let found = names(&located);
        assert!(
            found
                .iter()
                .any(|names| names == "core-open:brown+insulation-low:grey/black"),
            "{found:?}"
        );
        assert!(
            found.iter().all(|names| names.contains('+')),
            "no single fault does both: {found:?}"
        );
    }

    #[test]
    fn what_nothing_explains_is_said() {
        // a cable cannot be open core by core and short between all of them
        let text = "continuity/brown: 90 ohm\ncontinuity/grey: 0.66\ncontinuity/black: 17 ohm\ninsulation/black: >299\ninsulation/brown: 0.01\ninsulation-alone/brown/black: 0.2\nfeed: 120\n";
        let located = locate(&Observed::typed(plan(), text).unwrap(), 2).unwrap();
        assert!(located.diagnoses.is_empty(), "{:?}", names(&located));
        assert!(
            located.text().contains("Check the readings themselves"),
            "{}",
            located.text()
        );
    }
}
