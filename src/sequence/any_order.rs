//! What may be taken in any order and number: live readings of fault-finding, and nothing that changes what the next one reads.
//!
//! The rule inside: each of them means the same whichever was taken before it, and nothing rests on it.

use super::raw::{RawStep, Voltage};
use crate::plan::Stage;

/// Why a step cannot stand among readings that are taken in any order; `None` where it can.
pub(super) fn refused(step: &RawStep) -> Option<&'static str> {
    match step {
        RawStep::Voltage(Voltage { within: Some(_), .. }) => {
            Some("what must come within a time of a step cannot wait for its turn")
        }
        RawStep::Voltage(Voltage { stage: Some(stage), .. }) if stage.value == Stage::FaultFinding => None,
        RawStep::Voltage(_) => Some("it holds readings of live fault-finding, with `stage: FaultFinding`"),
        RawStep::Do(_) => Some("what is set or done changes what the next one reads"),
        _ => Some("it holds voltages that are read, and nothing else"),
    }
}

#[cfg(test)]
mod tests {
    use crate::located::Text;
    use crate::sequence;

    fn check(steps: &str, expected: Option<&str>) {
        let text = format!("(format: \"1.1\", name: \"x\", title: \"X\", steps: [{steps}])");
        let found = match sequence::read(&[Text::new("x.ron", text)]) {
            Ok(_) => None,
            Err(findings) => findings.iter().next().map(|finding| finding.problem.what.clone()),
        };
        assert_eq!(found.as_deref(), expected, "{steps}");
    }

    fn volts(more: &str) -> String {
        format!("Voltage(id: \"x\", end: Near, between: (\"1\", \"2\"), window: LoadVoltage, say: \"x\"{more}),")
    }

    #[test]
    fn live_readings_stand_in_any_order_and_nothing_else_does() {
        let in_any = |steps: &str| format!("AnyOrder([{steps}])");
        let found = ", stage: FaultFinding";
        check(&in_any(&volts(found)), None);
        check(&in_any(&format!("If(HasEarthCore, [{}])", volts(found))), None);
        let call = "Do(id: \"call\", stage: FaultFinding, act: Call(\"t\"), say: \"Call.\"),";
        check(
            &format!(
                "{call}{}",
                in_any(&volts(", stage: FaultFinding, after: (\"call\", ValveOpens)"))
            ),
            None,
        );
        check(
            &format!(
                "{call}{}",
                in_any(&volts(", stage: FaultFinding, within: (\"call\", ValveOpens)"))
            ),
            Some("`x` cannot stand in `AnyOrder`: what must come within a time of a step cannot wait for its turn"),
        );
        check(
            &in_any(&volts("")),
            Some("`x` cannot stand in `AnyOrder`: it holds readings of live fault-finding, with `stage: FaultFinding`"),
        );
        check(
            &in_any(call),
            Some("`call` cannot stand in `AnyOrder`: what is set or done changes what the next one reads"),
        );
        let look = "Inspect(id: \"x\", stage: FaultFinding, thing: \"damp\", say: \"Damp?\")";
        check(
            &in_any(look),
            Some("`x` cannot stand in `AnyOrder`: it holds voltages that are read, and nothing else"),
        );
        check(&in_any(""), Some("`AnyOrder` holds no reading"));
        check(
            &in_any(&in_any(&volts(found))),
            Some("`AnyOrder` stands inside `AnyOrder`"),
        );
        check(
            &format!(
                "{look}, {}",
                in_any(&format!(
                    "If(Passed(\"x\"), [{}])",
                    volts(found).replace("\"x\"", "\"y\"")
                ))
            ),
            Some("what stands in `AnyOrder` depends on no other step: it may be read first, or not at all"),
        );
    }
}
