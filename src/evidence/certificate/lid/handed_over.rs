//! Whether a run left every terminal as it found it.
//!
//! The rule inside: only a whole run that asked, looked and wrote down, with nothing opened, measured or repaired, says nothing of the
//! terminals; of any other it is not known what a hand moved.

use crate::judge::window::Outcome;
use crate::plan::{Kind, Stage, Step};
use crate::run::event::Ending;
use crate::run::fold::Run;

/// Whether nothing was opened in a run, so that the record before it is still the word on the terminals.
pub fn opened_nothing(run: &Run) -> bool {
    let is_whole = matches!(run.ending, Some((Ending::Completed, _))) && run.outcome() != Outcome::Fail;
    let is_untouched = run.repairs.is_empty() && run.by_eye.is_empty();
    is_whole && is_untouched && run.plan.steps.iter().all(only_looks)
}

fn only_looks(step: &Step) -> bool {
    let is_outside = matches!(step.stage, Stage::Survey | Stage::HandOver);
    is_outside && step.acts.is_empty() && matches!(step.kind, Kind::Look(_) | Kind::Note { .. })
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::evidence::certificate::page::sample;
    use crate::run::dialogue::Ask;

    /// The last visit, in which a step is answered with this.
    fn handed_over(at: &'static str, lines: &'static [&'static str]) -> Run {
        let mut lines = lines.iter();
        sample::walk(sample::opened_by("hand-over", sample::JOB, None), move |prompt| {
            let is_there = !at.is_empty() && (prompt.step == at || prompt.step.is_empty());
            let line = is_there.then(|| lines.next().copied()).flatten();
            let noted = matches!(prompt.ask, Ask::Note { .. }).then_some("nothing is left to be done");
            line.or(noted).map(str::to_owned)
        })
    }

    #[test]
    fn a_whole_visit_in_which_nothing_was_opened_leaves_the_terminals_as_they_were() {
        assert!(opened_nothing(&handed_over("", &[])));
    }

    #[test]
    fn a_visit_that_found_something_or_was_given_up_does_not() {
        let found = handed_over("covers", &["found a clamp hangs loose", "leave", "no time"]);
        assert_eq!(found.outcome(), Outcome::Fail);
        assert!(!opened_nothing(&found));
        let given_up = handed_over("covers", &["found a clamp hangs loose", "abandon", "no time"]);
        assert!(!opened_nothing(&given_up));
    }

    #[test]
    fn a_run_that_opened_a_box_does_not() {
        assert!(!opened_nothing(&sample::passed()));
        assert!(!opened_nothing(&sample::opened(sample::JOB, None)));
    }
}
