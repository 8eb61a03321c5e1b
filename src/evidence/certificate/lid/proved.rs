//! Whether a core was proved into its terminal.
//!
//! The rule inside: it was seen going in and is in still, and no test of that core before it is open; anything less is not proved, and the
//! reason is the record's own.

use crate::evidence::certificate::page::is_left_out;
use crate::job::{Core, End};
use crate::judge::window::Outcome;
use crate::plan::{Kind, Stage, Step, Subject};
use crate::run::fold::Run;

/// Why a core is not proved to be in its terminal at an end; none where it is.
pub(super) fn why_not(run: &Run, core: &Core, end: End) -> Option<String> {
    let about = |step: &usize| is_about(&run.plan.steps[*step], &core.name, end) && !is_left_out(run, *step);
    let about: Vec<usize> = (0..run.plan.steps.len()).filter(about).collect();
    if !about.iter().any(|step| puts_in(&run.plan.steps[*step], core, end)) {
        return Some("no step of the record puts it in".into());
    }
    let open = about
        .into_iter()
        .find(|step| run.verdict(*step).outcome != Outcome::Pass);
    if let Some(step) = open {
        let verdict = run.verdict(step);
        let word = verdict.outcome.word();
        return Some(format!("{}: {word}, {}", run.plan.steps[step].id, verdict.because));
    }
    let is_in = run.hands.in_terminals.contains(&(core.name.clone(), end));
    (!is_in).then(|| "it was left out of its terminal".into())
}

/// Whether a step shows something of the core that its place in this terminal rests on: the cable's own tests, and what is done, seen and
/// read at this end.
fn is_about(step: &Step, core: &str, end: End) -> bool {
    let of_core = || step.cores.iter().any(|name| name == core);
    match &step.kind {
        Kind::Connect {
            core: name, end: at, ..
        } => name == core && *at == end,
        Kind::Look(look) => match &look.subject {
            Subject::Tug { core: name, end: at } | Subject::Polarity { core: name, end: at } => {
                name == core && *at == end
            }
            Subject::Identity { core: name } => name == core,
            _ => step.stage == Stage::Test && of_core(),
        },
        Kind::Measure(measure) if step.stage == Stage::Connect => {
            let probes = [&measure.probes.first, &measure.probes.second];
            of_core() && probes.iter().any(|point| point.end() == Some(end))
        }
        _ => step.stage == Stage::Test && of_core(),
    }
}

fn puts_in(step: &Step, core: &Core, end: End) -> bool {
    match &step.kind {
        Kind::Connect {
            core: name, end: at, ..
        } => *name == core.name && *at == end,
        _ => false,
    }
}
