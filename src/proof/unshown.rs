//! What a plan that leaves the supply off does not show of its cable, for the record to say.
//!
//! The rule inside: such a plan is walked as it is written; nobody may take it for more than it shows.

use std::collections::BTreeSet;

use super::asked::{energises, required_tests};
use super::build::claims;
use super::facts::{Fact, Facts};
use crate::located::listed;
use crate::plan::{Plan, Stage};

/// What no step shows, a sentence for each kind of test; nothing where the plan energises, since then each test must have passed, or where
/// it tests nothing.
pub fn not_shown(plan: &Plan) -> Vec<String> {
    let tests = plan.steps.iter().any(|step| step.stage == Stage::Test);
    if energises(plan) || !tests {
        return Vec::new();
    }
    let facts = Facts::of(plan);
    let (shown, _, _) = claims(plan, &facts);
    let steps = plan
        .steps
        .iter()
        .zip(&shown)
        .filter(|(step, _)| step.only_if.is_empty());
    let shown: BTreeSet<Fact> = steps.flat_map(|(_, shown)| shown.shows.iter().copied()).collect();
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
    .collect()
}
