//! How far the voltage at a load lies below the supply that was read before it.
//!
//! The rule inside: it is a remark with both times, since the supply itself moves between two readings; no outcome rests on it.

use jiff::Timestamp;

use super::run::Run;
use crate::judge::window::Verdict;
use crate::plan::FedFrom;
use crate::value::quantity::{Amount, Unit};

impl Run {
    /// Says beside a load's voltage, read `at` this time, how far it is from the supply's; nothing where the supply's was not read.
    pub(super) fn mark_drop(&self, fed_from: &FedFrom, at: Timestamp, verdict: &mut Verdict) {
        let supply = self.plan.index(&fed_from.step).and_then(|step| self.standing(step));
        if let (Some(load), Some(supply)) = (&verdict.value, supply)
            && let Some(volts) = &supply.verdict.value
        {
            verdict.mark = Some(remark(fed_from, (volts, supply.at), (load, at)));
        }
    }
}

fn remark(fed_from: &FedFrom, supply: (&Amount, Timestamp), load: (&Amount, Timestamp)) -> String {
    let lost = supply.0.value() - load.0.value();
    let relation = if lost.is_sign_negative() { "above" } else { "below" };
    let asks = if fed_from.asks_above.value() < lost {
        format!("; more than {}: look for a bad joint on the way", fed_from.asks_above)
    } else {
        String::new()
    };
    format!(
        "read at {}, {} {relation} `{}`, which read {} at {}{asks}",
        clock(load.1),
        Amount::new(lost.abs().normalize(), Unit::Volt),
        fed_from.step,
        supply.0,
        clock(supply.1)
    )
}

/// The time of day, to the second.
fn clock(at: Timestamp) -> String {
    at.strftime("%H:%M:%S UTC").to_string()
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::limits::{Basis, Confidence};

    #[test]
    fn a_drop_is_told_with_both_times_and_a_great_one_asks_for_a_joint() {
        let volts = |text: &str| Amount::parse(text).unwrap();
        let fed_from = FedFrom {
            step: "supply".into(),
            asks_above: volts("5 V"),
            basis: Basis {
                what: "volt drop".into(),
                source: "a test".into(),
                confidence: Confidence::Practice,
            },
        };
        let (first, later) = ("2026-11-25T07:16:21.9Z", "2026-11-25T07:18:02Z");
        for (load, expected) in [
            ("229.1 V", "0.9 V below"),
            ("230 V", "0 V below"),
            // the supply rose between the two
            ("231.5 V", "1.5 V above"),
            ("225 V", "5 V below"),
        ] {
            let said = remark(
                &fed_from,
                (&volts("230.0 V"), first.parse().unwrap()),
                (&volts(load), later.parse().unwrap()),
            );
            let all = format!("read at 07:18:02 UTC, {expected} `supply`, which read 230.0 V at 07:16:21 UTC");
            assert_eq!(said, all, "{load}");
        }
        let bad = remark(
            &fed_from,
            (&volts("230.0 V"), first.parse().unwrap()),
            (&volts("224.9 V"), later.parse().unwrap()),
        );
        assert!(
            bad.ends_with("; more than 5 V: look for a bad joint on the way"),
            "{bad}"
        );
    }
}
