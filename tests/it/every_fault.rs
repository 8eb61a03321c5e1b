//! Every fault of the library put into every shipped job, walked until a step does not pass, and looked for from what was seen.
//!
//! `cargo test` takes some of them; `COREPROOF_FAULTS=all` takes them all.

use coreproof::diagnosis::coverage::run_of;
use coreproof::diagnosis::locate::{Observed, locate};
use coreproof::job;
use coreproof::judge::window::Outcome;
use coreproof::model::fault::Fault;
use coreproof::model::installation::Installation;
use coreproof::model::library;
use coreproof::plan::Plan;
use coreproof::sequence::{self, shipped};

/// Of so many faults of a job one is taken.
const ONE_OF: usize = 31;

fn plan(there: &shipped::Shipped) -> Plan {
    let job = job::read(&shipped::job(there.job).unwrap()).unwrap();
    let sequence = sequence::read(&shipped::texts(there.name).unwrap()).unwrap();
    sequence::bind(&sequence, &job).unwrap()
}

/// Why a fault is not found from what it showed; nothing where it is, or where every step passed.
fn missed(plan: &Plan, fault: &Fault) -> Option<String> {
    let mut installation = Installation::of(&plan.job).unwrap();
    installation.put(fault).unwrap();
    let run = run_of(plan, installation);
    let failed = (0..run.steps.len())
        .find(|step| !run.steps[*step].attempts.is_empty() && run.verdict(*step).outcome != Outcome::Pass)?;
    let located = locate(&Observed::of(&run), 1).unwrap();
    let found = located
        .diagnoses
        .iter()
        .any(|diagnosis| diagnosis.faults == [fault.name.clone()]);
    let sound = located.is_sound();
    (!found || sound).then(|| {
        let step = &run.plan.steps[failed];
        format!(
            "{} at `{}` ({}): sound {sound}\n{}",
            fault.name,
            step.id,
            run.verdict(failed).because,
            located.text()
        )
    })
}

#[test]
fn a_fault_at_which_a_step_did_not_pass_is_among_the_answers() {
    let one_of = if std::env::var("COREPROOF_FAULTS").is_ok_and(|which| which == "all") {
        1
    } else {
        ONE_OF
    };
    let mut wrong = Vec::new();
    let mut tried = 0;
    for (nth, there) in shipped::SEQUENCES.iter().enumerate() {
        let plan = plan(there);
        let faults = library::faults(&plan.job).unwrap();
        for fault in faults.iter().skip(nth % one_of).step_by(one_of) {
            tried += 1;
            wrong.extend(missed(&plan, fault).map(|why| format!("{}: {why}", there.name)));
        }
    }
    assert!(wrong.is_empty(), "{} of {tried}:\n{}", wrong.len(), wrong.join("\n"));
    assert!(40 < tried, "{tried}");
}
