//! The order that a plan must have before anyone picks up a probe.
//!
//! The rule inside: these rules come from safe-isolation guidance (prove, test at every point of work, prove again) and from
//! the order of dead tests before live ones in BS 7671 part 6; a plan that breaks one runs nothing.

use crate::pure::job::{End, Purpose};
use crate::pure::located::{Finding, Problem};
use crate::pure::plan::{Act, Kind, Plan, Point, Stage, Step};
use crate::pure::reading::Function;

/// Every breach of the order, each at the line of the step it is about.
pub fn problems(plan: &Plan) -> Vec<Finding> {
    let mut found = Vec::new();
    let mut say = |at: Option<&Step>, what: String| {
        let (file, line) = at.map_or((0, 1), |step| (step.text, step.line));
        let text = &plan.texts[file].text;
        let start = text.split_inclusive('\n').take(line - 1).map(str::len).sum::<usize>();
        let end = start + text[start..].lines().next().map_or(0, str::len);
        let indent = text[start..end].len() - text[start..end].trim_start().len();
        found.extend(plan.texts[file].findings(vec![Problem::new(&(start + indent..end), what)]));
    };
    stages(plan, &mut say);
    isolation(plan, &mut say);
    tests(plan, &mut say);
    live(plan, &mut say);
    found
}

fn stages(plan: &Plan, say: &mut impl FnMut(Option<&Step>, String)) {
    for pair in plan.steps.windows(2) {
        if pair[1].stage < pair[0].stage {
            let what = format!(
                "`{}` ({}) stands after `{}` ({})",
                pair[1].id, pair[1].stage, pair[0].id, pair[0].stage
            );
            say(Some(&pair[1]), what);
        }
    }
}

fn isolation(plan: &Plan, say: &mut impl FnMut(Option<&Step>, String)) {
    let place = |wanted: &dyn Fn(&Step) -> bool| plan.steps.iter().position(wanted);
    let is_dark = |s: &Step| matches!(s.kind, Kind::Indicator { lit: false, .. });
    let is_lit = |s: &Step| matches!(s.kind, Kind::Indicator { lit: true, .. });
    let first_dark = place(&is_dark);
    let last_dark = plan.steps.iter().rposition(is_dark);
    let (Some(first_dark), Some(last_dark)) = (first_dark, last_dark) else {
        return say(None, "nothing is proved dead".into());
    };
    for (act, words) in [(Act::SwitchOff, "switched off"), (Act::LockOff, "locked off")] {
        if !plan.steps[..first_dark].iter().any(|s| s.acts.contains(&act)) {
            say(
                Some(&plan.steps[first_dark]),
                format!("the supply is not {words} before it is proved dead"),
            );
        }
    }
    if !plan.steps[..first_dark].iter().any(is_lit) {
        say(
            Some(&plan.steps[first_dark]),
            "the indicator is not proved on a known source before it is used".into(),
        );
    }
    let after = &plan.steps[last_dark + 1..];
    if !after.iter().take_while(|s| s.stage == Stage::Isolate).any(is_lit) {
        say(
            Some(&plan.steps[last_dark]),
            "the indicator is not proved again after it was used".into(),
        );
    }
    for end in End::BOTH {
        for core in &plan.job.cores {
            let tested = plan.steps.iter().any(|s| match &s.kind {
                Kind::Indicator { probes, lit: false } => {
                    probes.second
                        == Point::Core {
                            core: core.name.clone(),
                            end,
                        }
                }
                _ => false,
            });
            // the earth core is the reference itself where nothing else gives one
            if !tested && core.carries != Purpose::Earth {
                say(
                    None,
                    format!(
                        "core `{}` is not proved dead at the {}",
                        core.name,
                        plan.job.end(end).name
                    ),
                );
            }
        }
    }
}

fn tests(plan: &Plan, say: &mut impl FnMut(Option<&Step>, String)) {
    let Some(first) = plan.steps.iter().find(|s| s.stage == Stage::Test) else {
        return say(None, "there are no dead tests".into());
    };
    for end in End::BOTH {
        if !plan
            .steps
            .iter()
            .any(|s| s.acts.contains(&Act::Disconnect(end)) && s.stage == Stage::Disconnect)
        {
            say(
                Some(first),
                format!(
                    "the cores are not off their terminals at the {}",
                    plan.job.end(end).name
                ),
            );
        }
    }
    let measures = |function: &dyn Fn(Function) -> bool, core: &str| {
        plan.steps.iter().any(|s| match &s.kind {
            Kind::Measure(m) => {
                s.stage == Stage::Test && function(m.used.function) && s.cores.iter().any(|c| c == core)
            }
            _ => false,
        })
    };
    for core in plan.job.test_cores() {
        // ohms stand in for either test where the job has nothing better; the verdict then is `not tested`
        if !measures(
            &|f| matches!(f, Function::Continuity | Function::Resistance),
            &core.name,
        ) {
            say(None, format!("core `{}` has no continuity test", core.name));
        }
        if !measures(
            &|f| matches!(f, Function::Insulation(_) | Function::Resistance),
            &core.name,
        ) {
            say(None, format!("core `{}` has no insulation test", core.name));
        }
    }
    let mut linked: Vec<(&str, &Step)> = Vec::new();
    for step in &plan.steps {
        for act in &step.acts {
            match act {
                Act::LinkToEarth(core) => linked.push((core, step)),
                Act::RemoveLink(core) => linked.retain(|(name, _)| name != core),
                Act::RemoveEveryLink => linked.clear(),
                _ => {}
            }
        }
    }
    for (core, step) in linked {
        say(Some(step), format!("the link on core `{core}` never comes off"));
    }
}

fn live(plan: &Plan, say: &mut impl FnMut(Option<&Step>, String)) {
    let energise = plan.steps.iter().position(|s| s.acts.contains(&Act::Energise));
    let gate = plan.steps.iter().position(|s| s.kind == Kind::Gate);
    let first_live = plan
        .steps
        .iter()
        .position(|s| s.stage == Stage::Live && matches!(s.kind, Kind::Measure(_)));
    if let Some(energise) = energise {
        if plan.steps[energise].stage != Stage::Live {
            say(Some(&plan.steps[energise]), "energising is not a live step".into());
        }
        if gate.is_none_or(|gate| energise < gate) {
            say(Some(&plan.steps[energise]), "no gate stands before energising".into());
        }
    }
    if let Some(first) = first_live
        && energise.is_none_or(|energise| first < energise)
    {
        say(Some(&plan.steps[first]), "a live test stands before energising".into());
    }
}
