//! The rules that look at where a step stands and what it refers to, whatever the outcomes.
//!
//! The rule inside: each is decided from the plan and its job alone, and each names the step.

use std::collections::BTreeMap;

use super::asked::misplaced;
use super::outcome::{since, spoken_of};
use super::rules::{self, Rule};
use crate::job::Nature;
use crate::job::instrument::Ability;
use crate::plan::{
    Act, Came, Condition, Kind, Plan, SetUp, Stage, Step, Timing, charges, done_as_found, ends_on, finds, goes_back_to,
    looks_as_found, needs, reads_live_as_found,
};

/// Each breach with its step and what is wrong there.
pub(super) fn breaches(plan: &Plan) -> Vec<(Rule, Option<usize>, String)> {
    let mut found = Vec::new();
    // a step inside a repetition carries what it is about after a stroke; times refer to the name before it
    let mut names: BTreeMap<&str, usize> = BTreeMap::new();
    let spoken_of = spoken_of(plan);
    let can_prove = plan.job.instruments.iter().any(|i| i.can.contains(&Ability::ProveDead));
    for (i, step) in plan.steps.iter().enumerate() {
        let mut say = |rule: Rule, words: String| found.push((rule, Some(i), words));
        if let Some(before) = i.checked_sub(1).map(|i| &plan.steps[i])
            // what is done as found may alternate
            && step.stage < before.stage
            && !(done_as_found(step) && done_as_found(before))
        {
            let words = format!("({}) stands after `{}` ({})", step.stage, before.id, before.stage);
            say(rules::FORWARD, words);
        }
        if misplaced(step) {
            say(rules::PLACED, format!("it stands in the stage `{}`", step.stage));
        }
        if let Some(how) = out_of_any_order(plan, step) {
            say(rules::PLACED, how.into());
        }
        // once anything is switched what is done as found cannot be done again
        let found = |id: &str| {
            let there = names.get(id).map(|i| &plan.steps[*i]);
            there.is_some_and(done_as_found)
                && (!done_as_found(step) || there.is_some_and(|there| step.stage < there.stage))
        };
        if let Some(since) = since(step) {
            if !names.contains_key(since) {
                say(rules::SINCE, format!("`{since}` does not stand before it"));
            } else if found(since) {
                say(
                    rules::SINCE,
                    format!("`{since}` is done on the place as it was found, which is not done again"),
                );
            }
        }
        if let Some(words) = back(step, &names, found) {
            say(rules::LEADS_ON, words);
        }
        for words in conditions(plan, step, &names) {
            say(rules::REACHED, words);
        }
        for words in instruments(plan, step, can_prove) {
            say(rules::INSTRUMENTS, words);
        }
        if spoken_of.contains(step.id.as_str()) {
            names.insert(step.id.as_str(), i);
        }
        if let Some((name, _)) = step.id.split_once('/').filter(|(name, _)| spoken_of.contains(name)) {
            names.entry(name).or_insert(i);
        }
    }
    found.extend(pair(plan));
    found.extend(leads_off(plan));
    found.extend(left_on(plan));
    found
}

/// Why a repair cannot go back to the step that it names; `found` says which are done on the place as it was found.
fn back(step: &Step, names: &BTreeMap<&str, usize>, found: impl Fn(&str) -> bool) -> Option<String> {
    let back = goes_back_to(step).filter(|back| *back != step.id)?;
    let why = if looks_as_found(step) {
        ": what was found by eye is repaired once it is dead, and only looked at again itself"
    } else if !names.contains_key(back) {
        ", which does not stand before it"
    } else if found(back) {
        ", done on the place as it was found, which cannot be done again"
    } else {
        return None;
    };
    Some(format!("`repaired` goes back to `{back}`{why}"))
}

/// Why a step cannot be one of a set that is taken in any order and number: each must mean the same whichever was taken before it.
fn out_of_any_order(plan: &Plan, step: &Step) -> Option<&'static str> {
    let set = step.any_order?;
    let reads = reads_live_as_found(step) && matches!(step.kind, Kind::Measure(_)) && step.acts.is_empty();
    let in_set = |id: &str| plan.index(id).is_some_and(|i| plan.steps[i].any_order == Some(set));
    let within = matches!(step.timing(), Some(Timing::Within { .. }));
    if !reads {
        Some("it is taken in any order with others, and is no reading of live fault-finding alone")
    } else if step.only_if.iter().any(|condition| in_set(&condition.step)) {
        Some("it is taken in any order with others, and done only where one of them came to something")
    } else if within || since(step).is_some_and(in_set) {
        Some("it is taken in any order with others, and has to come in a time of its own")
    } else {
        None
    }
}

/// Links, joints and charge that the steps of a plan themselves leave on the cores.
fn left_on(plan: &Plan) -> Option<(Rule, Option<usize>, String)> {
    let (mut set_up, mut charged, mut last) = (SetUp::default(), false, None);
    for (i, step) in plan.steps.iter().enumerate() {
        let before = (set_up.clone(), charged);
        step.acts.iter().for_each(|act| set_up.act(act));
        charged = charges(step) || (charged && !step.acts.iter().any(Act::lets_go));
        if before != (set_up.clone(), charged) {
            last = Some(i);
        }
    }
    let left = charged || set_up != SetUp::default();
    left.then(|| {
        (
            rules::CLEAR,
            last,
            "the steps leave a link, a joint or a charge on the cores".into(),
        )
    })
}

/// A conductor that hands took off is on again before a run ends with the supply on.
fn leads_off(plan: &Plan) -> Vec<(Rule, Option<usize>, String)> {
    let mut off: BTreeMap<&str, usize> = BTreeMap::new();
    for (i, step) in plan.steps.iter().enumerate() {
        for act in &step.acts {
            match act {
                Act::TakeLeadOff(contact) => drop(off.insert(contact, i)),
                // what may not be needed brings nothing back
                Act::PutLeadOn(contact) if step.only_if.is_empty() => drop(off.remove(contact.as_str())),
                _ => {}
            }
        }
    }
    if ends_on(plan) != Some(true) {
        return Vec::new();
    }
    let words = |(contact, i)| {
        let words = format!(
            "the live conductor of `{contact}` is off and the supply stays on: switch off and lock off at the end"
        );
        (rules::ENDS, Some(i), words)
    };
    off.into_iter().map(words).collect()
}

fn instruments(plan: &Plan, step: &Step, can_prove: bool) -> Vec<String> {
    match &step.kind {
        Kind::Indicator { .. } if !can_prove => vec!["no instrument in the job can prove dead".into()],
        Kind::Measure(m) if !plan.job.instruments.iter().any(|i| i.name == m.used.instrument) => {
            vec![format!("the job has no instrument `{}`", m.used.instrument)]
        }
        _ => Vec::new(),
    }
}

/// Conditions that can never hold.
fn conditions(plan: &Plan, step: &Step, names: &BTreeMap<&str, usize>) -> Vec<String> {
    let one = |condition: &Condition| {
        let id = &condition.step;
        let Some(there) = names.get(id.as_str()).map(|i| &plan.steps[*i]) else {
            return Some(format!(
                "its condition speaks of `{id}`, which does not stand before it"
            ));
        };
        let contradicted = step
            .only_if
            .iter()
            .any(|other| other.step == condition.step && other.came == condition.came && other.not != condition.not);
        if contradicted && !condition.not {
            return Some(format!("its conditions on `{id}` exclude each other"));
        }
        // what it needs has passed when it is reached
        let passed = needs(step, there);
        // a look of the survey may be done again later, and what hangs on it would be too
        let reads = step.stage == Stage::FaultFinding || (finds(step) && looks_as_found(there));
        if reads && there.stage == Stage::Survey {
            return Some(format!(
                "its condition speaks of `{id}` of the survey, which may be done again once it is off"
            ));
        }
        let never = match (&condition.came, condition.not) {
            (Came::Failed, false) | (Came::Passed, true) => passed,
            (Came::Below(_), false) => !matches!(there.kind, Kind::Measure(_)),
            (Came::Saw(word), false) => match &there.kind {
                Kind::Look(look) if !look.words.contains(word) => true,
                Kind::Look(look) => passed && !look.expected.contains(word),
                _ => true,
            },
            _ => false,
        };
        never.then(|| format!("its condition on `{id}` can never hold there"))
    };
    step.only_if.iter().filter_map(one).collect()
}

/// A pair that is mains at one end and extra-low voltage at the other.
fn pair(plan: &Plan) -> Option<(Rule, Option<usize>, String)> {
    let pair = plan.job.control_pair.as_ref()?;
    let ends = [pair.near, pair.far];
    let mixed = ends.contains(&Nature::Mains) && ends.contains(&Nature::ExtraLowVoltage);
    let connects = plan
        .steps
        .iter()
        .position(|step| matches!(step.kind, Kind::Connect { .. }))?;
    mixed.then(|| {
        let words = format!(
            "the control pair is {} at the {} and {} at the {}",
            pair.near.words(),
            plan.job.near.name,
            pair.far.words(),
            plan.job.far.name
        );
        (rules::MATCHED, Some(connects), words)
    })
}
