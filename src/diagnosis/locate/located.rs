//! Where the fault must be, told to a person.
//!
//! The rule inside: a live measurement is named only where no dead one tells the diagnoses apart, and isolation comes before
//! either.

use std::fmt::Write;

use serde::Serialize;

use super::consistency::diagnoses;
use super::far::{FarAway, far_away};
use super::next::{Next, next};
use super::observed::{Observed, listed as words_of};
use super::replay::each;
use super::sizes::Span;
use super::theory::Wiring;
use super::told::told;
use super::tolerance::{Reads, said};
use crate::model::error::InstallationError;
use crate::model::fault::{Fault, Size};
use crate::plan::{Kind, Measure, Step, WindowRule, reads_live_as_found};
use crate::run::fold::Run;
use crate::value::reading::Function;

/// The chance that a fault of weight 1 is there, before anything is measured. Our own choice: faults are rare, two at
/// once rarer still.
pub(super) const CHANCE: f64 = 0.001;
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
    /// For each of its faults between which sizes it agrees with what was seen; nothing where it has no size.
    pub sizes: Vec<String>,
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
    /// Steps that did not pass and of which the model says nothing, with what was said.
    pub left: Vec<String>,
    /// Steps of the plan that look at something and that nothing was seen at.
    pub not_looked_at: Vec<String>,
    /// Where nothing need be wrong: faults of the library that, of their usual size, would have shown nothing in what was seen.
    pub would_not_show: Vec<String>,
    /// Where no single fault of the library's sizes explains it: those that would, far larger or smaller.
    pub looks_like: Vec<Diagnosis>,
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
    locate_told(observed, at_most, &mut |_, _| {})
}

/// The same, for whoever waits: `told` hears how many are behind and of how many, first of the faults one by one, then of the sets of each size.
///
/// # Errors
/// As [`locate`].
pub fn locate_told(
    observed: &Observed,
    at_most: usize,
    told: &mut dyn FnMut(usize, usize),
) -> Result<Located, InstallationError> {
    let mut wiring = Wiring::new(observed, told)?;
    let sets = weighed(&mut wiring, at_most, told);
    let is_sound = sets.iter().any(|(set, _)| set.is_empty());
    let single = sets.iter().any(|(set, _)| set.len() <= 1);
    let sizes: Vec<_> = sets.iter().map(|(set, _)| wiring.sizes(set)).collect();
    let looks_like = if single {
        Vec::new()
    } else {
        looks_like(observed, told)?
    };
    let diagnoses = diagnosed(&wiring, &sets, &sizes);
    Ok(Located {
        symptoms: symptoms(observed, &wiring),
        observations: observed.list.len(),
        at_most,
        left: left(observed),
        not_looked_at: not_looked_at(observed),
        would_not_show: if is_sound { would_not_show(&wiring) } else { Vec::new() },
        far_away: far_away(
            &observed.plan.job,
            likely(&sets).flat_map(|set| set.iter().map(|mode| &wiring.problem.faults[*mode])),
        ),
        next: next(observed, &wiring, &sets, &sizes, named(&diagnoses)),
        diagnoses,
        looks_like,
        energised: observed.energised,
    })
}

/// A set of faults with its share.
type Weighed = (Vec<usize>, f64);

/// The sets that agree, the likeliest first.
fn weighed(wiring: &mut Wiring<'_>, at_most: usize, told: &mut dyn FnMut(usize, usize)) -> Vec<Weighed> {
    let sets = diagnoses(wiring, at_most, told).into_iter();
    let weight = |set: &[usize]| -> f64 {
        set.iter()
            .map(|mode| wiring.problem.faults[*mode].weight * CHANCE)
            .product()
    };
    let mut sets: Vec<Weighed> = sets
        .map(|set| (weight(&set), set))
        .map(|(weight, set)| (set, weight))
        .collect();
    sets.sort_by(|(one, first), (other, second)| second.total_cmp(first).then(one.cmp(other)));
    let total: f64 = sets.iter().map(|(_, weight)| weight).sum();
    sets.iter_mut().for_each(|(_, weight)| *weight /= total);
    sets
}

fn diagnosed(wiring: &Wiring<'_>, sets: &[Weighed], sizes: &[Vec<Span>]) -> Vec<Diagnosis> {
    let one = |((set, share), sizes): (&Weighed, &Vec<Span>)| {
        let faults = || set.iter().map(|mode| &wiring.problem.faults[*mode]);
        let words: Vec<String> = faults().map(|fault| fault.words.clone()).collect();
        Diagnosis {
            faults: faults().map(|fault| fault.name.clone()).collect(),
            words: words.join("; and "),
            look: faults().map(|fault| fault.look.clone()).collect(),
            share: *share,
            sizes: faults()
                .zip(sizes)
                .filter_map(|(fault, size)| sized(fault, *size))
                .collect(),
        }
    };
    sets.iter().zip(sizes).map(one).collect()
}

/// Between which resistances a fault agrees; nothing where it brings in none.
fn sized(fault: &Fault, (low, high): Span) -> Option<String> {
    let ohms = |step| fault.ohms(Size::Step(step));
    fault.has_range().then_some(())?;
    Some(said((ohms(low)?, ohms(high)?), Function::Insulation(0)))
}

/// Single faults that would explain everything were they far larger or smaller than the library has them.
fn looks_like(observed: &Observed, told: &mut dyn FnMut(usize, usize)) -> Result<Vec<Diagnosis>, InstallationError> {
    let mut wiring = Wiring::widened(observed, told)?;
    let sets = weighed(&mut wiring, 1, told);
    let sizes: Vec<_> = sets.iter().map(|(set, _)| wiring.sizes(set)).collect();
    Ok(diagnosed(&wiring, &sets, &sizes))
}

fn left(observed: &Observed) -> Vec<String> {
    let words = |(step, why): &(usize, String)| format!("`{}`: {why}", observed.plan.steps[*step].id);
    observed.left.iter().map(words).collect()
}

/// The steps at which something of the wiring is to be seen and nothing was.
fn not_looked_at(observed: &Observed) -> Vec<String> {
    let steps = observed.plan.steps.iter().enumerate();
    let looks = |step: &Step| match &step.kind {
        // how it was found says nothing of how it is left
        _ if reads_live_as_found(step) => false,
        Kind::Measure(measure) => !measure.is_null,
        Kind::Indicator { .. } | Kind::Look(_) | Kind::Connect { .. } => true,
        Kind::Do | Kind::Gate | Kind::Note { .. } => false,
    };
    let without = |at: usize| observed.needed[at] && observed.list.iter().all(|there| there.step != at);
    let found = steps.filter(|(at, step)| looks(step) && without(*at));
    found.map(|(_, step)| step.id.clone()).collect()
}

fn would_not_show(wiring: &Wiring<'_>) -> Vec<String> {
    let hidden = (0..wiring.problem.faults.len()).filter(|mode| wiring.hides(*mode));
    hidden.map(|mode| wiring.problem.faults[mode].name.clone()).collect()
}

/// The sets that a text names.
fn likely(sets: &[Weighed]) -> impl Iterator<Item = &Vec<usize>> {
    let named = sets.iter().take(NAMED_MAX);
    named.filter(|(_, share)| NAMED_SHARE <= *share).map(|(set, _)| set)
}

/// What speaks against a sound installation: a reading beside the model, or a step that did not pass.
fn symptoms(observed: &Observed, wiring: &Wiring<'_>) -> Vec<String> {
    let mut found = Vec::new();
    each(observed, wiring.problem.sound.clone(), |at, world| {
        let (observation, plan) = (&observed.list[at], &observed.plan);
        let step = &plan.steps[observation.step];
        let (where_, expected, agrees) = match &step.kind {
            Kind::Measure(measure) if matches!(measure.used.function, Function::ResidualTrip(_)) => {
                let told = told(&world.installation, step);
                let agrees = told.is_none_or(|told| told.agrees(&observation.seen, step));
                (Some(&measure.probes), window_words(measure), agrees)
            }
            Kind::Measure(measure) => {
                let (function, probes) = (measure.used.function, &measure.probes);
                let input = measure.used.input.as_ref();
                let input = input.map_or(crate::model::meter::INPUT_OHMS, |input| {
                    crate::model::wiring::float(input.value())
                });
                let range = wiring.problem.expected(
                    &world.installation,
                    probes,
                    function,
                    input,
                    Reads::from(&measure.used.known.accuracy).on(observation.seen.last_digit()),
                );
                let agrees = super::problem::holds(&observation.seen, range);
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
                let agrees = told(&world.installation, step).is_some_and(|told| told.agrees(&observation.seen, step));
                (None, words_of(&look.expected), agrees)
            }
            Kind::Do | Kind::Gate | Kind::Note { .. } => return,
        };
        if agrees && !observation.failed() {
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

fn window_words(measure: &Measure) -> String {
    match &measure.window {
        WindowRule::Fixed(window) => window.words(),
        WindowRule::Like { .. } | WindowRule::Solved(_) => "what the readings before it give".into(),
    }
}

impl Located {
    /// Whether nothing need be wrong: no step failed, and none that did not pass was left unexplained.
    pub fn is_sound(&self) -> bool {
        self.left.is_empty() && self.diagnoses.iter().any(|diagnosis| diagnosis.faults.is_empty())
    }

    /// The whole of it as text, a paragraph an element.
    pub fn text(&self) -> String {
        let mut out = String::new();
        let mut say = |line: std::fmt::Arguments<'_>| {
            out.write_fmt(line).expect("a string takes everything");
            out.push('\n');
        };
        if !self.left.is_empty() {
            say(format_args!("Did not pass, and says nothing of the wiring by itself:"));
            self.left.iter().for_each(|left| say(format_args!("  {left}")));
        }
        if self.diagnoses.iter().any(|diagnosis| diagnosis.faults.is_empty()) {
            return out + &self.sound_text();
        }
        say(format_args!("Seen, and not what a sound installation shows:"));
        for symptom in &self.symptoms {
            say(format_args!("  {symptom}"));
        }
        if self.diagnoses.is_empty() && self.looks_like.is_empty() {
            say(format_args!(
                "No {} of the library's faults at once explain all that was seen. Check the readings themselves: the probes, the dial, \
                 the leads; then the job: which core, which terminal, the length and size of the cable.",
                self.at_most
            ));
            return out;
        }
        if !self.looks_like.is_empty() {
            say(format_args!(
                "No single fault of the sizes that the library takes explains everything. It looks like, the likeliest first:"
            ));
            out += &listed(&self.looks_like);
        }
        if !self.diagnoses.is_empty() {
            out += "What explains everything, the likeliest first (weights are estimates, not measurements):\n";
            out += &listed(&self.diagnoses);
        }
        out + &self.next_text(named(&self.diagnoses)) + &self.far_text()
    }

    /// That no step speaks against sound wiring, and what that does not say.
    fn sound_text(&self) -> String {
        let mut out = format!(
            "No step speaks against a sound installation ({} readings and answers).\n",
            self.observations
        );
        for symptom in &self.symptoms {
            out += &format!("  {symptom}\n");
        }
        if !self.not_looked_at.is_empty() {
            let count = self.not_looked_at.len();
            out += &format!(
                "Not looked at: {} ({count} of the plan's steps).\n",
                some_of(&self.not_looked_at)
            );
        }
        if !self.would_not_show.is_empty() {
            out += &format!(
                "Of the library's faults at their usual size {} would have shown nothing in it: {}.\n",
                self.would_not_show.len(),
                kinds_of(&self.would_not_show)
            );
        }
        out
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
            return if 1 < named && 1 < self.diagnoses.len() {
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

/// The first few names, and how many more there are.
fn some_of(names: &[String]) -> String {
    let named: Vec<String> = names.iter().take(NAMED_MAX).map(|name| format!("`{name}`")).collect();
    match names.len() - named.len() {
        0 => named.join(", "),
        more => format!("{} and {more} more", named.join(", ")),
    }
}

/// Faults by their kinds, with how many there are of each.
fn kinds_of(faults: &[String]) -> String {
    let mut kinds: Vec<(&str, usize)> = Vec::new();
    for fault in faults {
        let kind = fault.split(':').next().unwrap_or(fault);
        match kinds.last_mut() {
            Some((last, count)) if *last == kind => *count += 1,
            _ => kinds.push((kind, 1)),
        }
    }
    let words = |(kind, count): (&str, usize)| {
        if count == 1 {
            format!("`{kind}`")
        } else {
            format!("`{kind}` ({count})")
        }
    };
    kinds.into_iter().map(words).collect::<Vec<_>>().join(", ")
}

/// How many of these a text names.
fn named(diagnoses: &[Diagnosis]) -> usize {
    let likely = diagnoses.iter().filter(|there| NAMED_SHARE <= there.share).count();
    likely.clamp(1, NAMED_MAX)
}

/// Diagnoses, a line each, with their sizes and where to look.
fn listed(diagnoses: &[Diagnosis]) -> String {
    let mut out = String::new();
    for (at, diagnosis) in diagnoses.iter().take(named(diagnoses)).enumerate() {
        let sizes = if diagnosis.sizes.is_empty() {
            String::new()
        } else {
            format!(": {}", diagnosis.sizes.join("; and "))
        };
        out += &format!(
            "  {}. {:.0} % {}{sizes} (`{}`)\n",
            at + 1,
            diagnosis.share * 100.0,
            diagnosis.words,
            diagnosis.faults.join("+")
        );
        for look in &diagnosis.look {
            out += &format!("       look at {look}\n");
        }
    }
    let more = diagnoses.len().saturating_sub(named(diagnoses));
    if 0 < more {
        out += &format!("  and {more} less likely\n");
    }
    out
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
    use crate::diagnosis::coverage::{run_of, walk};
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
        let is_read = |step: &usize| !matches!(plan.steps[*step].kind, Kind::Look(_));
        let last = walked.caught().find(is_read).unwrap_or(plan.steps.len() - 1);
        let lines: Vec<String> = (0..=last)
            .filter(|step| !matches!(plan.steps[*step].kind, Kind::Do | Kind::Gate | Kind::Look(_)))
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
            .filter(|step| !matches!(plan.steps[*step].kind, Kind::Do | Kind::Gate | Kind::Look(_)))
            .filter(|step| !walked.lines[*step].is_empty())
            .map(|step| format!("{}: {}", plan.steps[step].id, walked.lines[step]))
            .collect();
        let located = locate(&Observed::typed(plan, &lines.join("\n")).unwrap(), 2).unwrap();
        assert_eq!(names(&located), [""]);
        assert!(
            located
                .text()
                .starts_with("No step speaks against a sound installation"),
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
            let best_dead = located.next.as_ref().is_none_or(|next| !next.live);
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

    /// What is located of a run on the demonstration with this fault, of this size, up to the first step that does not pass.
    fn located_with(fault: &str, size: Size) -> (Located, Option<String>) {
        let plan = plan();
        let mut installation = Installation::of(&job()).unwrap();
        for fault in library::find(&job(), fault).unwrap() {
            installation.put_sized(&fault, size).unwrap();
        }
        let run = run_of(&plan, installation);
        let failed = run.undecided().map(|step| run.plan.steps[step].id.clone());
        (locate(&Observed::of(&run), 1).unwrap(), failed)
    }

    #[test]
    fn the_size_already_seen_narrows_the_rest() {
        let (located, _) = located_with("high-resistance-joint:grey", Size::Usual);
        assert_eq!(names(&located), ["high-resistance-joint:grey"]);
        // 3 ohm; the library has them from 0.3 ohm to 1 kohm
        let size = &located.diagnoses[0].sizes[0];
        let (low, high) = size.trim_end_matches(" ohm").split_once(" ohm to ").unwrap();
        let (low, high): (f64, f64) = (low.parse().unwrap(), high.parse().unwrap());
        assert!(1.5 < low && low < 3.0 && 3.0 < high && high < 6.0, "{size}");
    }

    #[test]
    fn something_tells_apart_what_a_joint_may_be() {
        let mut told = 0;
        for core in ["brown", "grey", "black", "green-yellow"] {
            for size in [12, 24, 40] {
                let fault = format!("high-resistance-joint:{core}");
                let (located, failed) = located_with(&fault, Size::Step(size));
                assert!(
                    names(&located).contains(&fault),
                    "{fault} {size} {failed:?}: {:?}",
                    names(&located)
                );
                let text = located.text();
                assert!(!text.contains("No measurement here tells these apart"), "{text}");
                told += usize::from(located.next.is_some());
            }
        }
        assert!(3 <= told, "{told}");
    }

    #[test]
    fn a_fault_outside_the_library_is_named_as_what_it_looks_like() {
        // 1 kohm is the most that the library has
        let fault = "high-resistance-joint:grey";
        let (located, failed) = located_with(fault, Size::Step(Size::STEPS + 2));
        assert_eq!(failed.as_deref(), Some("continuity/grey"));
        assert_eq!(located.diagnoses, []);
        let found: Vec<_> = located.looks_like.iter().flat_map(|there| &there.faults).collect();
        assert!(found.contains(&&fault.to_owned()), "{found:?}");
        assert!(
            !located.is_sound() && located.text().contains("It looks like, the likeliest first"),
            "{}",
            located.text()
        );
    }

    #[test]
    fn a_step_that_failed_is_never_sound() {
        for (fault, step) in [
            ("valve-stuck", "end-switch-on"),
            ("conductor-not-gripped:grey@far", "tug-far/grey"),
        ] {
            let (located, failed) = located_with(fault, Size::Usual);
            assert!(
                failed.is_some() && !located.is_sound(),
                "{fault} at {failed:?}, not {step}"
            );
            assert!(
                names(&located).contains(&fault.to_owned()),
                "{fault}: {:?}",
                names(&located)
            );
        }
    }

    #[test]
    fn where_all_passes_what_was_not_looked_at_is_said() {
        let text = locate(&Observed::typed(plan(), "continuity/brown: 0.66\n").unwrap(), 1)
            .unwrap()
            .text();
        assert!(
            text.starts_with(
                "No step speaks against a sound installation (1 readings and answers).\nNot looked at: `earth-near`"
            ),
            "{text}"
        );
        assert!(
            text.contains("would have shown nothing in it: `conductor-not-gripped` (8)"),
            "{text}"
        );
    }
}
