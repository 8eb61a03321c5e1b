//! A pair that shares a box with mains: measured to it, or spoken of.

use coreproof::plan::Stage;
use coreproof::proof::not_shown;
use coreproof::sequence::shipped;
use coreproof::{job, sequence};

use super::bound;

/// A pair that shares a box with mains is tried against it, or the record says where it was not, and why.
#[test]
fn mains_beside_a_pair_is_measured_to_or_spoken_of() {
    let call = || bound("boiler-call-volt-free", "boiler-room-pair");
    // the mains at the boiler hangs on the supply whose terminals are joined at the wiring centre
    assert_eq!(not_shown(&call()), [""; 0]);
    let mut half = call();
    half.steps
        .retain(|step| step.stage < Stage::Connect && !step.id.starts_with("insulation-mains"));
    let said = |end: &str, why: &str| {
        format!("Not tested against mains in the same box, at the {end}: core white, red, since {why}.")
    };
    let none = "no step measures it";
    assert_eq!(not_shown(&half), [said("wiring centre", none), said("boiler", none)]);
    // a boiler whose line hangs on a supply of its own, which is isolated as well
    let mut text = shipped::job("boiler-room-pair").unwrap();
    for (from, to) in [
        (
            "Load(between: (Line, Far(\"L\")), ohms: \"0.2 ohm\")",
            "Supply(between: (Far(\"L\"), Far(\"N\")), volts: \"230 V\", ohms: \"0.5 ohm\", of: \"boiler supply\")",
        ),
        (
            "        separation: Pelv,",
            "        separation: Pelv,\n        further: [(name: \"boiler supply\", from: \"fused connection unit in the loft\")],",
        ),
    ] {
        assert!(text.text.contains(from), "{from}");
        text.text = text.text.replacen(from, to, 1).into();
    }
    let sequence = sequence::read(&shipped::texts("boiler-call-volt-free").unwrap()).unwrap();
    let plan = sequence::bind(&sequence, &job::read(&text).unwrap()).unwrap();
    let unreached = said("boiler", "what was joined does not reach it");
    assert_eq!(plan.limitations, [unreached]);
}
