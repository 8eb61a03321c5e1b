//! What a plan asks of a person: prompts, walks and minutes, so that two sequences can be compared.
//!
//! The rule inside: it is the walk in which everything passes; what is done only after something did not is left out. Each act of hands
//! has a name, under which the limits' table of practice has the least time that it needs (`hands: …`) and the usual one (`usually: …`).

use rust_decimal::Decimal;
use rust_decimal::prelude::ToPrimitive;
use serde::Serialize;

use super::act::Act;
use super::stand::Stand;
use super::step::{Came, Condition, Kind, Plan, Step, Subject, Timing};
use crate::limits::Table;

/// What reading a prompt and answering it takes beside the hands.
const A_PROMPT: &str = "a prompt read and answered";
/// To the far end and back, by one person.
const A_WALK: &str = "a walk to the far end and back";

/// What a plan asks where everything passes.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
pub struct Effort {
    /// Prompts in all; what is answered together is one.
    pub prompts: usize,
    /// Prompts that want a reading.
    pub readings: usize,
    /// Proofs of dead and of the indicator, the lock with its key and notice, and purposes of terminals: never trimmed for a count.
    pub safeguards: usize,
    /// All other answers.
    pub answers: usize,
    /// Walks to the far end and back by one person alone.
    pub walks_alone: usize,
    /// The same with a second person at the far end, who is called to for links, covers and controls.
    pub walks_with_second: usize,
    /// By the usual times of practice, alone, with every wait; `None` where the limits have no such rows.
    pub minutes: Option<u64>,
}

/// The name of what hands do at a step, and how often; `None` where they do nothing.
pub fn hands_of(step: &Step) -> Option<(&'static str, usize)> {
    match &step.kind {
        Kind::Gate => None,
        Kind::Do => Some(("one act", step.acts.len().max(1))),
        Kind::Look(_) => Some(("a look", 1)),
        Kind::Note { .. } => Some(("a line", 1)),
        Kind::Indicator { .. } => Some(("indicator on the next points", 1)),
        Kind::Connect { .. } => Some(("a core into its terminal", 1)),
        Kind::Measure(_) => Some(("probes on the next points", 1)),
    }
}

impl Effort {
    /// What a plan asks.
    pub fn of(plan: &Plan) -> Effort {
        let taken_over = plan.taken_over();
        let steps: Vec<&Step> = (plan.steps.iter().enumerate())
            .filter(|(i, step)| step.kind != Kind::Gate && !taken_over.contains(i) && is_walked(plan, step))
            .map(|(_, step)| step)
            .collect();
        let is_first =
            |i: &usize| steps[*i].together.is_none() || *i == 0 || steps[i - 1].together != steps[*i].together;
        let prompts: Vec<&Step> = (0..steps.len()).filter(is_first).map(|i| steps[i]).collect();
        let count = |is: fn(&Step) -> bool| prompts.iter().filter(|step| is(step)).count();
        let (readings, safeguards) = (count(is_reading), count(is_safeguard));
        let walks_alone = walks(plan, &steps, false);
        Effort {
            prompts: prompts.len(),
            readings,
            safeguards,
            answers: prompts.len() - readings - safeguards,
            walks_alone,
            walks_with_second: walks(plan, &steps, true),
            minutes: minutes(plan, &steps, prompts.len(), walks_alone),
        }
    }

    /// It in words, a line each.
    pub fn words(&self) -> Vec<String> {
        let of = |count: usize, one: &str, more: &str| format!("{count} {}", if count == 1 { one } else { more });
        let mut lines = vec![
            format!(
                "{}: {}, {}, {}",
                of(self.prompts, "prompt", "prompts"),
                of(self.readings, "reading", "readings"),
                of(
                    self.safeguards,
                    "proof of dead, lock or terminal",
                    "proofs of dead, lock and terminals"
                ),
                of(self.answers, "other answer", "other answers"),
            ),
            format!(
                "{} to the far end and back alone, {} with a second person there",
                of(self.walks_alone, "walk", "walks"),
                self.walks_with_second
            ),
        ];
        lines.extend(
            self.minutes
                .map(|minutes| format!("about {minutes} min by the usual times of practice")),
        );
        lines
    }
}

fn is_reading(step: &Step) -> bool {
    matches!(step.kind, Kind::Measure(_))
}

fn is_safeguard(step: &Step) -> bool {
    let locks = |act: &Act| {
        matches!(
            act,
            Act::SwitchOff | Act::LockOff | Act::KeepKey | Act::PostNotice | Act::Further { .. }
        )
    };
    match &step.kind {
        Kind::Indicator { .. } | Kind::Connect { .. } => true,
        Kind::Look(look) => matches!(look.subject, Subject::Polarity { .. }),
        Kind::Do => step.acts.iter().any(locks),
        Kind::Note { .. } | Kind::Measure(_) | Kind::Gate => false,
    }
}

/// Whether a step is done where everything passes.
fn is_walked(plan: &Plan, step: &Step) -> bool {
    let holds = |condition: &Condition| came(plan, condition) != condition.not;
    step.only_if.iter().all(holds)
}

fn came(plan: &Plan, condition: &Condition) -> bool {
    let Some(earlier) = plan.index(&condition.step).map(|i| &plan.steps[i]) else {
        return false;
    };
    match &condition.came {
        Came::Passed => is_walked(plan, earlier),
        Came::Saw(word) => {
            let expected = |word: &String| matches!(&earlier.kind, Kind::Look(look) if look.expected.contains(word));
            is_walked(plan, earlier) && expected(word)
        }
        Came::Failed | Came::Below(_) => false,
    }
}

/// Times that one person comes to the far end.
fn walks(plan: &Plan, steps: &[&Step], has_second: bool) -> usize {
    let by_oneself = |step: &&&Step| !(has_second && step.can_be_called_out(&plan.job));
    let stands = steps.iter().filter(by_oneself).filter_map(|step| step.stand(&plan.job));
    let mut last = Stand::Near;
    stands
        .filter(|stand| std::mem::replace(&mut last, *stand) != Stand::Far && *stand == Stand::Far)
        .count()
}

fn minutes(plan: &Plan, steps: &[&Step], prompts: usize, walks: usize) -> Option<u64> {
    let usually = |what: &str| {
        let row = plan.job.limits.row(Table::Practice, &format!("usually: {what}"));
        Some(row.ok()?.value.value())
    };
    let times = |count: usize, what: &str| Some(Decimal::from(count) * usually(what)?);
    let mut seconds = times(prompts, A_PROMPT)? + times(walks, A_WALK)?;
    let mut waited: Vec<&str> = Vec::new();
    for step in steps {
        if let Some((what, often)) = hands_of(step) {
            seconds += times(often, what)?;
        }
        // what waits for the same step is waited for once
        if let Some(Timing::After { since, wait, .. }) = step.timing()
            && !waited.contains(&since.as_str())
        {
            waited.push(since);
            seconds += wait.value();
        }
    }
    (seconds / Decimal::from(60)).round().to_u64()
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::model::sample::{job, plan, unproved};

    #[test]
    fn what_follows_only_a_failure_is_not_counted() {
        let plan = plan();
        let effort = Effort::of(&plan);
        let conditional = plan.steps.iter().filter(|step| !step.only_if.is_empty()).count();
        assert!(0 < conditional);
        assert!(
            effort.prompts < plan.steps.len() - conditional,
            "and the gate asks nothing"
        );
        assert_eq!(effort.prompts, effort.readings + effort.safeguards + effort.answers);
    }

    #[test]
    fn a_second_person_saves_the_walks_of_links() {
        let effort = Effort::of(&plan());
        assert!(effort.walks_with_second + 3 <= effort.walks_alone, "{effort:?}");
    }

    #[test]
    fn a_shorter_sequence_asks_less() {
        let shorter = Effort::of(&unproved(&job(), "        Include(\"parts/as-left.ron\"),\n", ""));
        let whole = Effort::of(&plan());
        assert!(shorter.prompts < whole.prompts && shorter.minutes < whole.minutes);
    }

    #[test]
    fn every_act_of_hands_has_its_least_and_its_usual_time() {
        let plan = plan();
        let row = |of: String| plan.job.limits.row(Table::Practice, &of).map(|row| row.value.value());
        for step in &plan.steps {
            let Some((what, _)) = hands_of(step) else { continue };
            let (least, usually) = (row(format!("hands: {what}")), row(format!("usually: {what}")));
            assert!(least.unwrap() < usually.unwrap(), "{what}");
        }
        assert!(row(format!("usually: {A_PROMPT}")).is_ok() && row(format!("usually: {A_WALK}")).is_ok());
    }
}
