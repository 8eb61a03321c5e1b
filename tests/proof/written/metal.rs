//! Metalwork beside the earth conductor: readings that the pipe passes by itself, a conductor left off, a clamp that nobody read.

use super::case::{Case, act, after, bad, before, good, moved, of_job, only, remove, set};
use super::editor::Edit;

const LEFT: &str = "rule `earthed-as-left`";
const CLEARED: &str = "rule `clear-before-terminals`";
const SOUND: &str = "rule `sound-passes`";
const PLACED: &str = "rule `acts-in-their-stage`";
const FORWARD: &str = "rule `stages-forward`";
const BY_PIPE: &str = "off the terminal that metalwork touches, to the main earthing terminal";
/// Its far end, the boiler, is on copper pipe.
const BOILER: &str = "boiler-call-live";
const CABLE: &str = "stat-cable";
const SPUR: &str = "fused-spur";

/// Metalwork at the near end too, or there alone.
fn pipe_near() -> Edit {
    of_job(
        "        name: \"wiring centre\",",
        "        name: \"wiring centre\", metalwork: \"copper pipe to the pump\",",
    )
}

fn pipe_at_spur() -> Edit {
    of_job(
        "        name: \"fused connection unit\",",
        "        name: \"fused connection unit\", metalwork: \"copper pipe to the sink\",",
    )
}

fn on_terminal(end: &'static str) -> Vec<Edit> {
    match end {
        "far" => vec![
            remove("earth-off-far"),
            remove("earth-back-far"),
            set("earth-alone-far", "off_terminal", "false"),
        ],
        _ => vec![
            pipe_near(),
            remove("earth-off-near"),
            remove("earth-back-near"),
            set("earth-alone-near", "off_terminal", "false"),
        ],
    }
}

fn step(id: &str, end: &str, more: &str) -> String {
    format!("EarthContinuity(id: \"{id}\", end: {end}, {more}say: \"{{first}}, {{second}}.\"),")
}

fn tug(end: &str) -> String {
    format!("Tug(id: \"tug-again\", end: {end}, say: \"Tighten {{terminal}}, tug core {{core}}.\"),")
}

/// The same edits and more.
fn and(mut edits: Vec<Edit>, more: impl IntoIterator<Item = Edit>) -> Vec<Edit> {
    edits.extend(more);
    edits
}

pub fn read_by_the_pipe() -> Vec<Case> {
    vec![
        bad(
            "the far earth read on its terminal, beside pipe",
            BOILER,
            LEFT,
            on_terminal("far"),
        ),
        bad("the same, and what would catch it", BOILER, BY_PIPE, on_terminal("far")),
        bad(
            "the near earth read on its terminal, beside pipe",
            BOILER,
            LEFT,
            on_terminal("near"),
        ),
        bad(
            "the near earth of a thermostat's box, by the pump's pipe",
            CABLE,
            BY_PIPE,
            on_terminal("near"),
        ),
        bad(
            "the core touched on its bare copper, still in its terminal",
            BOILER,
            LEFT,
            vec![remove("earth-off-far"), remove("earth-back-far")],
        ),
        bad(
            "the near conductor touched on its bare copper, still in its terminal",
            CABLE,
            LEFT,
            vec![pipe_near(), remove("earth-off-near"), remove("earth-back-near")],
        ),
        bad(
            "the core read once it is back",
            BOILER,
            LEFT,
            vec![moved("earth-back-far", "earth-alone-far")],
        ),
        bad(
            "read on the terminal while the core is off it",
            BOILER,
            LEFT,
            vec![set("earth-alone-far", "off_terminal", "false")],
        ),
        bad(
            "read before the core was taken off",
            BOILER,
            LEFT,
            vec![moved("earth-alone-far", "earth-off-far")],
        ),
        bad(
            "a loop by the pipe in place of the core",
            SPUR,
            LEFT,
            vec![
                pipe_at_spur(),
                remove("earth-off-far"),
                remove("earth-alone-far"),
                remove("earth-back-far"),
            ],
        ),
        bad(
            "a loop by the pipe, and the core read on its terminal",
            SPUR,
            BY_PIPE,
            and(vec![pipe_at_spur()], on_terminal("far")),
        ),
        bad(
            "volts to earth by the pipe in place of the core",
            BOILER,
            LEFT,
            vec![
                remove("earth-off-far"),
                remove("earth-alone-far"),
                remove("earth-back-far"),
            ],
        ),
        bad(
            "the core read only where there is a control pair",
            BOILER,
            LEFT,
            vec![only("earth-alone-far", "HasControlPair")],
        ),
        bad(
            "the core read before it goes anywhere",
            BOILER,
            SOUND,
            vec![
                remove("earth-off-far"),
                remove("earth-alone-far"),
                remove("earth-back-far"),
                before("connect-near", step("alone-early", "Far", "off_terminal: true, ")),
            ],
        ),
    ]
}

/// What earths the near terminal through the cable alone, from metal at its far end, earths nothing once the cores are off.
pub fn by_the_cable() -> Vec<Case> {
    const PARTED: &str = "rule `neutral-dark-once-parted`";
    const BUILDING: &str = "rule `to-the-building`";
    vec![
        bad(
            "the near neutral tried against the near earth, pipe at the far end",
            BOILER,
            PARTED,
            vec![set("parted-near-by-lead", "reference", "OwnEarth")],
        ),
        bad(
            "insulation to an earth that was lit by the far end's pipe alone",
            BOILER,
            BUILDING,
            vec![remove("earth-comes-in")],
        ),
        bad(
            "the earth that comes in read before the cores are off",
            BOILER,
            BUILDING,
            vec![set("earth-comes-in", "incoming", "false")],
        ),
        bad(
            "the lead never shown lit where the pipe touches",
            BOILER,
            "the long lead clipped to the main earthing terminal is lit to line",
            vec![remove("lead")],
        ),
        good(
            "the near neutral tried against both",
            BOILER,
            vec![before(
                "parted-near-by-lead",
                "ProveParted(id: \"parted-too\", end: Near, reference: OwnEarth, say: \"{first}, {second}. Lit?\"),",
            )],
        ),
        good(
            "the earth that comes in read once more",
            BOILER,
            vec![after(
                "earth-comes-in",
                step("comes-in-again", "Near", "incoming: true, "),
            )],
        ),
    ]
}

pub fn taken_off() -> Vec<Case> {
    let off = || act("off-again", "Connect", "EarthOffFar");
    let back = || act("back-again", "Connect", "EarthBackFar");
    vec![
        bad(
            "the core never put back",
            BOILER,
            CLEARED,
            vec![remove("earth-back-far")],
        ),
        bad(
            "the near conductor never put back",
            CABLE,
            CLEARED,
            vec![pipe_near(), remove("earth-back-near")],
        ),
        bad(
            "put back once the supply is on",
            BOILER,
            FORWARD,
            vec![moved("earth-back-far", "feed")],
        ),
        bad(
            "taken off once more and left so",
            BOILER,
            CLEARED,
            vec![after("neutral-back", off())],
        ),
        bad(
            "taken off once more, its clamp not read since",
            BOILER,
            LEFT,
            vec![after("neutral-back", off() + &back())],
        ),
        bad(
            "taken off live",
            BOILER,
            PLACED,
            vec![after("feed", act("off-live", "Live", "EarthOffFar"))],
        ),
        bad(
            "taken off as found",
            BOILER,
            PLACED,
            vec![before("earth-near", act("off-found", "Survey", "EarthOffFar"))],
        ),
        bad(
            "taken off before anything is proved dead",
            BOILER,
            PLACED,
            vec![before("indicator-first", act("off-undead", "Isolate", "EarthOffFar"))],
        ),
        bad("its clamp never read", BOILER, LEFT, vec![remove("clamp-far")]),
        bad(
            "the near clamp never read",
            CABLE,
            LEFT,
            vec![pipe_near(), remove("clamp-near")],
        ),
        bad(
            "its clamp read before it was off",
            BOILER,
            LEFT,
            vec![moved("clamp-far", "earth-off-far")],
        ),
        bad(
            "its clamp read while it is off",
            BOILER,
            SOUND,
            vec![moved("clamp-far", "earth-back-far")],
        ),
        bad(
            "its clamp read where there is a control pair",
            BOILER,
            LEFT,
            vec![only("clamp-far", "HasControlPair")],
        ),
        bad(
            "tugged after its clamp was read",
            BOILER,
            LEFT,
            vec![after("neutral-back", tug("Far"))],
        ),
        bad(
            "the near end tugged after the core was read through it",
            BOILER,
            LEFT,
            vec![after("neutral-back", tug("Near"))],
        ),
        bad(
            "connected once more at the far end",
            BOILER,
            LEFT,
            vec![after(
                "neutral-back",
                "Connect(id: \"connect-again\", end: Far, say: \"Core {core} into {terminal}.\"),",
            )],
        ),
        bad(
            "a conductor taken off where no pipe touches",
            CABLE,
            "has no metalwork beside an earth conductor at the sail loft thermostat",
            vec![before("earthed-far", act("off-bare", "Connect", "EarthOffFar"))],
        ),
        bad(
            "a conductor read by itself where no pipe touches",
            CABLE,
            "no metalwork touches the earth terminal at the sail loft thermostat",
            vec![set("earthed-far", "off_terminal", "true")],
        ),
        bad(
            "what comes in, off its terminal, among the dead tests",
            CABLE,
            "is off no terminal while the cable is tested",
            vec![after(
                "clip",
                step("odd", "Near", "incoming: true, off_terminal: true, "),
            )],
        ),
        bad(
            "pipe on an end without an earth terminal",
            "extra-low-pair",
            "has `metalwork` and no earth terminal that it could touch",
            vec![of_job(
                "        name: \"changing rooms thermostat\",",
                "        name: \"changing rooms thermostat\", metalwork: \"copper pipe\",",
            )],
        ),
        bad(
            "pipe with a name that no prompt can say",
            BOILER,
            "is not a plain name",
            vec![of_job("copper pipe to the boiler", "{near} pipe")],
        ),
    ]
}

pub fn sane() -> Vec<Case> {
    let near_too = || vec![pipe_near()];
    vec![
        good("pipe at both ends", BOILER, near_too()),
        good("pipe at the near end alone", CABLE, near_too()),
        good("pipe at a fused connection unit", SPUR, vec![pipe_at_spur()]),
        good(
            "no pipe at the boiler after all",
            BOILER,
            vec![of_job("        metalwork: \"copper pipe to the boiler\",\n", "")],
        ),
        good(
            "read by itself, and on its terminal for the record",
            BOILER,
            vec![after("earth-back-far", step("on-terminal", "Far", ""))],
        ),
        good(
            "the near terminal read as well",
            BOILER,
            vec![after("earth-back-far", step("near-too", "Near", ""))],
        ),
        good(
            "tugged once more when it is back",
            BOILER,
            vec![after("earth-back-far", tug("Far"))],
        ),
        good(
            "its clamp read at once and again at the end",
            BOILER,
            vec![after(
                "earth-back-far",
                "ClampContact(id: \"clamp-at-once\", end: Far, say: \"{first}, {second}.\"),",
            )],
        ),
        good(
            "the near end before the far end, pipe at both",
            BOILER,
            and(
                near_too(),
                ["earth-off-near", "earth-alone-near", "earth-back-near"].map(|id| moved(id, "earth-off-far")),
            ),
        ),
        good(
            "an upstream conductor of unknown length, beside pipe",
            BOILER,
            vec![of_job("        upstream: (length: \"7 m\", earth: \"1.5 mm2\"),\n", "")],
        ),
        good(
            "a cable of unknown length, beside pipe",
            BOILER,
            vec![of_job("        length: \"11 m\",\n", "")],
        ),
    ]
}
