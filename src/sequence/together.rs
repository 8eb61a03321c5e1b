//! What one answer may stand for: labels, tugs, looks and calls off, and nothing on which somebody's life hangs.
//!
//! The rule inside: each kind of step that may not be answered together has its reason, and one that nobody has thought of may not.

use super::raw::{Do, RawAct, RawStep};

/// Why a step cannot be answered together with others; `None` where it can.
pub(super) fn refused(step: &RawStep) -> Option<&'static str> {
    match step {
        RawStep::Inspect(_) | RawStep::HandOver(_) | RawStep::Tug(_) => None,
        RawStep::Do(Do { act, .. }) => match act.value {
            RawAct::Satisfy(_) | RawAct::EveryCallOff => None,
            RawAct::SwitchOff | RawAct::LockOff | RawAct::KeepKey | RawAct::PostNotice => {
                Some("each act of isolating is done and said by itself")
            }
            RawAct::Energise => Some("switching on is asked by itself"),
            _ => Some("what hands do to the wiring is done and said act by act: the next step rests on it"),
        },
        RawStep::ProveIndicator(_)
        | RawStep::ProveEarth(_)
        | RawStep::ProveLead(_)
        | RawStep::ProveDead(_)
        | RawStep::ProveParted(_) => Some("dead and the indicator are proved point by point"),
        RawStep::Connect(_) | RawStep::Polarity(_) | RawStep::Classify(_) => {
            Some("what a terminal is for is read at each terminal")
        }
        RawStep::Note(_) | RawStep::LiveReasons(_) => Some("a note is a line of its own"),
        RawStep::Lever(_) | RawStep::Pin(_) | RawStep::Runs(_) | RawStep::Warm(_) | RawStep::ZoneMap(_) => {
            Some("what moves or runs is looked at by itself, in its time")
        }
        RawStep::Gate(_) => Some("a gate asks nothing"),
        _ => Some("each reading is judged by itself"),
    }
}

#[cfg(test)]
mod tests {
    use crate::located::Text;
    use crate::sequence;

    fn check(step: &str, expected: Option<&str>) {
        let steps = format!("Together([{step}])");
        let text = format!("(format: \"1.1\", name: \"x\", title: \"X\", steps: [{steps}])");
        let found = match sequence::read(&[Text::new("x.ron", text)]) {
            Ok(_) => None,
            Err(findings) => findings.iter().next().map(|finding| finding.problem.what.clone()),
        };
        assert_eq!(found.as_deref(), expected, "{step}");
    }

    #[test]
    fn labels_tugs_looks_and_calls_off_are_answered_together_and_nothing_else_is() {
        for step in [
            "HandOver(id: \"x\", thing: \"labels\", say: \"Labels.\")",
            "Tug(id: \"x\", end: Near, say: \"Tug.\")",
            "Inspect(id: \"x\", stage: Survey, end: Far, thing: \"damp\", say: \"Damp?\")",
            "Do(id: \"x\", stage: Live, act: EveryCallOff, say: \"Off.\")",
        ] {
            check(step, None);
        }
        let dead = "`x` cannot be answered together with others: dead and the indicator are proved point by point";
        let lock = "`x` cannot be answered together with others: each act of isolating is done and said by itself";
        let reading = "`x` cannot be answered together with others: each reading is judged by itself";
        let hands = "`x` cannot be answered together with others: what hands do to the wiring is done and said act by act: the next step rests on it";
        let terminal = "`x` cannot be answered together with others: what a terminal is for is read at each terminal";
        for (step, expected) in [
            (
                "ProveDead(id: \"x\", end: Near, reference: OwnEarth, say: \"Dark?\")",
                dead,
            ),
            ("ProveIndicator(id: \"x\", say: \"Lit?\")", dead),
            ("Do(id: \"x\", stage: Isolate, act: LockOff, say: \"Lock.\")", lock),
            ("Do(id: \"x\", stage: Isolate, act: KeepKey, say: \"Key.\")", lock),
            ("Do(id: \"x\", stage: Test, act: RemoveEveryLink, say: \"Off.\")", hands),
            (
                "Do(id: \"x\", stage: Live, act: Energise, say: \"On.\")",
                "`x` cannot be answered together with others: switching on is asked by itself",
            ),
            ("Connect(id: \"x\", end: Near, say: \"In.\")", terminal),
            ("Polarity(id: \"x\", end: Near, say: \"For?\")", terminal),
            ("ClampContact(id: \"x\", end: Near, say: \"Read.\")", reading),
            ("Together([])", "`Together` stands inside `Together`"),
        ] {
            check(step, Some(expected));
        }
    }
}
