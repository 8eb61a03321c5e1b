//! Words in braces for which there is nothing, names, and nothing said.

use super::case::{Case, bad, set, words};

const CABLE: &str = "stat-cable";
const PAIR: &str = "extra-low-pair";
const VALVE: &str = "zone-valve";
const SPUR: &str = "fused-spur";

pub fn braces() -> Vec<Case> {
    let say = |id, text: &str| vec![set(id, "say", &format!("\"{text}\""))];
    vec![
        bad("nothing said", CABLE, "says nothing", say("feed", "")),
        bad("blanks said", PAIR, "says nothing", say("call", "   ")),
        bad(
            "nothing said where hands act",
            VALVE,
            "says nothing",
            say("switch-off", ""),
        ),
        bad(
            "a word in braces that is none",
            CABLE,
            "is not a placeholder",
            say("feed", "At the {breakfast}."),
        ),
        bad(
            "a brace that stays open",
            CABLE,
            "is not a placeholder",
            say("feed", "At the {far."),
        ),
        bad(
            "a core where there is none",
            CABLE,
            "would say nothing",
            say("switch-off", "Switch off core {core}."),
        ),
        bad(
            "a zone where there is none",
            CABLE,
            "would say nothing",
            say("call", "Call zone {zone}."),
        ),
        bad(
            "another core where there is none",
            VALVE,
            "would say nothing",
            say("link", "Link {core} and {other}."),
        ),
        bad(
            "probes where there are none",
            CABLE,
            "would say nothing",
            say("call", "Probes on {first} and {second}."),
        ),
        bad(
            "an end where there is none",
            SPUR,
            "would say nothing",
            say("guard", "Guard the {end}."),
        ),
        bad(
            "a caution with a word that is none",
            CABLE,
            "is not a placeholder",
            vec![set("feed", "caution", "\"Mind the {gap}.\"")],
        ),
        bad(
            "a caution about a core where there is none",
            CABLE,
            "would say nothing",
            vec![set("switch-off", "caution", "\"Mind core {core}.\"")],
        ),
        bad(
            "a caution that says nothing",
            CABLE,
            "says nothing",
            vec![set("switch-off", "caution", "\" \"")],
        ),
        bad(
            "nothing that is looked at",
            VALVE,
            "does not name what",
            vec![set("lever-free", "thing", "\"\"")],
        ),
        bad(
            "nothing that is handed over",
            VALVE,
            "does not name what",
            vec![set("labels", "thing", "\"\"")],
        ),
        bad(
            "nothing said of the open contact",
            PAIR,
            "says nothing",
            vec![set("pair", "open", "\"\"")],
        ),
        bad(
            "a name in capitals",
            CABLE,
            "is not a step name",
            vec![words("id: \"feed\"", "id: \"Feed\"")],
        ),
        bad(
            "two steps of one name",
            CABLE,
            "two steps are called",
            vec![words("id: \"feed-earth\"", "id: \"feed\"")],
        ),
    ]
}
