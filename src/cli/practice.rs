//! Practice: a fault that the learner is not told, and what is said about it afterwards.
//!
//! The rule inside: whatever is guessed, the explanation is the same and complete.

use std::io::Write;

use super::error::Failure;
use super::out::say;
use super::which::Lines;
use crate::job::Job;
use crate::judge::window::Outcome;
use crate::model::fault::Fault;
use crate::model::library;
use crate::model::noise::Noise;
use crate::run::dialogue::Said;
use crate::run::fold::{Evidence, Run};
use crate::terminal::input;
use crate::terminal::plain::clean;

/// Parts the choice of the fault from the flicker of the display, which has the same seed.
const CHOICE: u64 = 0x5eed_c401_ce00_0001;

/// The fault that a seed hides.
pub(super) fn hidden(job: &Job, seed: u64) -> Result<Fault, Failure> {
    let faults = library::faults(job)?;
    let number = (Noise::new(seed ^ CHOICE).even() + 1.0) / 2.0;
    Ok(library::chosen(&faults, number).clone())
}

/// Asks what it was, and tells.
pub(super) async fn explain(fault: &Fault, run: &Run, lines: Lines) {
    print!("Which fault is it? Type its name, as `rehearse --fault` takes it; an empty line to be told: ");
    // a pipe that is closed wants no prompt
    let _ = std::io::stdout().flush();
    let guess = lines
        .unwrap_or_else(input::lines)
        .recv()
        .await
        .and_then(Said::into_line)
        .unwrap_or_default();
    say!("");
    let guess = guess.trim();
    if !guess.is_empty() {
        say!("{}", clean(&answer(guess, fault, &run.plan.job)));
    }
    say!("The fault was `{}`: {}.", clean(&fault.name), clean(&fault.words));
    let first = (0..run.steps.len()).find(|step| {
        let verdict = run.verdict(*step);
        !run.steps[*step].attempts.is_empty() && verdict.outcome != Outcome::Pass
    });
    match first {
        Some(step) => {
            say!(
                "It showed first at `{}`: {}.",
                clean(&run.plan.steps[step].id),
                clean(&run.verdict(step).because)
            );
            if let Some(Evidence::Reading(reading)) = run.standing(step).map(|attempt| &attempt.evidence) {
                say!("The display said {}.", clean(&reading.display()));
            }
        }
        None => say!("No step of this sequence shows it: see `coreproof coverage`."),
    }
    say!("Where to look: {}.", clean(&fault.look));
}

fn answer(guess: &str, fault: &Fault, job: &Job) -> String {
    match library::find(job, guess) {
        Ok(found) if found.len() == 1 && found[0].name == fault.name => "Right.".into(),
        Ok(found) if found.iter().any(|one| one.part == fault.part) => {
            format!("The part is right, the fault is not `{guess}`.")
        }
        Ok(_) => format!("Not `{guess}`."),
        Err(error) => format!("{error}."),
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::located::Text;

    fn job() -> Job {
        let text = Text {
            name: "saltmarsh.ron".into(),
            text: include_str!("../../fixtures/saltmarsh.ron").into(),
        };
        crate::job::read(&text).unwrap()
    }

    #[test]
    fn a_seed_hides_the_same_fault_each_time_and_others_hide_others() {
        let names: Vec<String> = (1..=20).map(|seed| hidden(&job(), seed).unwrap().name).collect();
        assert_eq!(hidden(&job(), 1).unwrap().name, names[0]);
        let different: std::collections::BTreeSet<_> = names.iter().collect();
        assert!(5 < different.len(), "{names:?}");
    }

    #[test]
    fn a_guess_is_told_right_near_or_wrong() {
        let fault = library::find(&job(), "core-open:grey").unwrap().remove(0);
        let check = |guess: &str, expected: &str| assert_eq!(answer(guess, &fault, &job()), expected);
        check("core-open:grey", "Right.");
        check(
            "high-resistance-joint:grey",
            "The part is right, the fault is not `high-resistance-joint:grey`.",
        );
        check("valve-stuck", "Not `valve-stuck`.");
        check("gremlin", "no fault is called `gremlin`.");
    }
}
