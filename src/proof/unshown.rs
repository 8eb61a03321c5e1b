//! What a plan does not show of its cable, for the record to say: of one that leaves the supply off each kind of test, of any the mains
//! that stands in the same box as a pair.
//!
//! The rule inside: such a plan is walked as it is written; nobody may take it for more than it shows.

use std::collections::BTreeSet;

use super::asked::{energises, required_tests};
use super::claims::claims;
use super::evidence::Evidence;
use super::fact::Fact;
use super::facts::Facts;
use super::prove::too_much;
use crate::job::End;
use crate::located::listed;
use crate::plan::{Plan, Stage};

/// What no step shows, a sentence for each kind of test; of a plan that energises, for which each test must have passed, only the mains
/// in the same box that the test may not or cannot reach. Nothing where it tests nothing.
pub fn not_shown(plan: &Plan) -> Vec<String> {
    let tests = plan.steps.iter().any(|step| step.stage == Stage::Test);
    let facts = Facts::of(plan);
    let to_mains: Vec<Fact> = End::BOTH.into_iter().flat_map(|end| facts.to_mains(end)).collect();
    if !tests || (energises(plan) && (to_mains.is_empty() || too_much(plan).is_some())) {
        return Vec::new();
    }
    let (shown, _, evidence) = claims(plan, &facts);
    let steps = plan
        .steps
        .iter()
        .zip(&shown)
        .filter(|(step, _)| step.only_if.is_empty());
    let shown: BTreeSet<Fact> = steps.flat_map(|(_, shown)| shown.shows.iter().copied()).collect();
    let against_mains = against_mains(plan, &facts, &shown, &evidence);
    if energises(plan) {
        return against_mains;
    }
    let missing: Vec<Fact> = required_tests(&plan.job, &facts)
        .into_iter()
        .filter(|fact| !shown.contains(fact))
        .collect();
    let of = |what: &str, core: &dyn Fn(Fact) -> Option<String>| {
        let cores: BTreeSet<String> = missing.iter().filter_map(|fact| core(*fact)).collect();
        let cores: Vec<String> = cores.into_iter().collect();
        (!cores.is_empty()).then(|| format!("Not shown by this sequence: {what} {}.", listed(&cores, String::clone)))
    };
    let name = |core: usize| facts.name(core).to_owned();
    let pair = |a: usize, b: usize| format!("{}-{}", facts.name(a), facts.name(b));
    [
        of("continuity of core", &|fact| match fact {
            Fact::Continuous(core) => Some(name(core)),
            _ => None,
        }),
        of("a joint, since the length is not known, in core", &|fact| match fact {
            Fact::Solved => Some(name(facts.back())),
            _ => None,
        }),
        of("which is which of cores", &|fact| match fact {
            Fact::ToldApart(a, b) => Some(pair(a, b)),
            _ => None,
        }),
        of("insulation to earth of core", &|fact| match fact {
            Fact::ToEarth(core) => Some(name(core)),
            _ => None,
        }),
        of("insulation to the earth of the building of core", &|fact| match fact {
            Fact::ToBuilding(core) => Some(name(core)),
            _ => None,
        }),
        of("insulation between cores", &|fact| match fact {
            Fact::Between(a, b) => Some(pair(a, b)),
            _ => None,
        }),
    ]
    .into_iter()
    .flatten()
    .chain(against_mains)
    .collect()
}

/// The cores that are not shown insulated from the mains in the same box, at each end by itself, with the reason.
fn against_mains(plan: &Plan, facts: &Facts, shown: &BTreeSet<Fact>, evidence: &Evidence) -> Vec<String> {
    let claimed = |fact: &Fact| evidence.slips.iter().any(|slip| slip.fact == Some(*fact));
    let at_end = |end| {
        let missing: Vec<Fact> = facts.to_mains(end).filter(|fact| !shown.contains(fact)).collect();
        let cores = plan.job.beside_mains(end).map(|core| core.name.clone());
        let is_missing = |name: &String| {
            let core = facts.core(name);
            core.is_some_and(|core| missing.contains(&Fact::ToMains(core, end)))
        };
        let cores: Vec<String> = cores.filter(is_missing).collect();
        let why = match &plan.job.stays_connected {
            Some(what) => format!("{what} stays connected"),
            None if missing.iter().any(claimed) => "what was joined does not reach it".to_owned(),
            None => "no step measures it".to_owned(),
        };
        let (end, named) = (&plan.job.end(end).name, listed(&cores, String::clone));
        let said = || format!("Not tested against mains in the same box, at the {end}: core {named}, since {why}.");
        (!cores.is_empty()).then(said)
    };
    End::BOTH.into_iter().filter_map(at_end).collect()
}
