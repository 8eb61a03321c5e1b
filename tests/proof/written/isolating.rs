//! Isolation and proving dead with something left out, put elsewhere or done on another thing.

use super::case::{Case, act, after, bad, before, moved, of_job, only, out, parts, remove, set, words};

const LOCKED: &str = "rule `locked-before-proving`";
const EARTH: &str = "rule `earth-before-dead`";
const BEFORE: &str = "rule `indicator-before`";
const AFTER: &str = "rule `indicator-after`";
const DEAD: &str = "rule `dead-before-hands`";
const PARTED: &str = "rule `neutral-dark-once-parted`";
const CABLE: &str = "stat-cable";
const PAIR: &str = "extra-low-pair";
const CYLINDER: &str = "cylinder-thermostat";

pub fn switching_off() -> Vec<Case> {
    vec![
        bad("never switched off", CABLE, LOCKED, vec![remove("switch-off")]),
        bad("never locked off", "underfloor-zones", LOCKED, vec![remove("lock-off")]),
        bad("the key left in", PAIR, LOCKED, vec![remove("keep-key")]),
        bad("no notice", "fused-spur", LOCKED, vec![remove("notice")]),
        bad(
            "locked before it is off",
            CABLE,
            LOCKED,
            vec![moved("lock-off", "switch-off")],
        ),
        bad(
            "key before it is off",
            "zone-valve",
            LOCKED,
            vec![moved("keep-key", "switch-off")],
        ),
        bad(
            "notice before it is off",
            PAIR,
            LOCKED,
            vec![moved("notice", "switch-off")],
        ),
        bad(
            "switched off last",
            "boiler-call-live",
            LOCKED,
            vec![moved("switch-off", "indicator-first")],
        ),
        bad(
            "switched off again with the lock off",
            CABLE,
            LOCKED,
            vec![before("indicator-first", act("off-twice", "Isolate", "SwitchOff"))],
        ),
        bad(
            "dead first, switched off then",
            PAIR,
            LOCKED,
            vec![
                remove("switch-off"),
                after("indicator-second", act("switch-off", "Isolate", "SwitchOff")),
            ],
        ),
        bad(
            "switched off in the survey",
            CABLE,
            "rule `acts-in-their-stage`",
            vec![set("switch-off", "stage", "Survey")],
        ),
        bad(
            "the immersion heater left on",
            CYLINDER,
            "immersion heater",
            vec![words("EachSupply([", "If(HasEarthCore, [")],
        ),
        bad(
            "the immersion heater's lock forgotten",
            CYLINDER,
            "immersion heater",
            vec![
                remove("lock-off"),
                after("switch-off", "]), If(HasEarthCore, ["),
                before("keep-key", act("lock-off", "Isolate", "LockOff")),
                before("keep-key", "]), EachSupply(["),
            ],
        ),
        bad(
            "locked off where a lock may not be needed",
            CABLE,
            LOCKED,
            vec![
                before(
                    "earth-near",
                    "Inspect(id: \"looked\", stage: Survey, thing: \"the box\", say: \"Sound?\"),",
                ),
                only("lock-off", "Failed(\"looked\")"),
            ],
        ),
    ]
}

pub fn proving() -> Vec<Case> {
    let far_own = || set("dead-far", "reference", "OwnEarth");
    vec![
        bad("far end against its own earth", CABLE, EARTH, vec![far_own()]),
        bad(
            "far end without a reference",
            "boiler-interlock",
            EARTH,
            vec![set("dead-far", "reference", "")],
        ),
        bad(
            "earth of the near end never lit",
            "mid-position-valve",
            EARTH,
            vec![remove("earth-near")],
        ),
        bad("long lead never lit", PAIR, EARTH, vec![remove("lead")]),
        bad(
            "neither earth nor lead lit",
            "zone-valve",
            EARTH,
            vec![remove("earth-near"), remove("lead")],
        ),
        bad(
            "the lead lit, its clip's earth not",
            "boiler-call-live",
            EARTH,
            vec![remove("earth-near"), moved("lead", "switch-off")],
        ),
        bad(
            "earth lit once it is off",
            CABLE,
            "rule `stages-forward`",
            vec![moved("earth-near", "indicator-first")],
        ),
        bad(
            "lead lit once it is off",
            "fused-spur",
            "rule `stages-forward`",
            vec![moved("lead", "dead-far")],
        ),
        bad(
            "near end against a lead that was not lit",
            CABLE,
            EARTH,
            vec![set("dead-near", "reference", "LongLead"), remove("lead")],
        ),
        bad(
            "earth lit where it need not be",
            CABLE,
            EARTH,
            vec![
                before(
                    "earth-near",
                    "Inspect(id: \"looked\", stage: Survey, thing: \"the box\", say: \"Sound?\"),",
                ),
                only("earth-near", "Failed(\"looked\")"),
            ],
        ),
        bad(
            "indicator not proved before",
            CABLE,
            BEFORE,
            vec![remove("indicator-first")],
        ),
        bad(
            "indicator not proved before a pair",
            PAIR,
            BEFORE,
            vec![remove("indicator-first")],
        ),
        bad(
            "one bracket for two positions",
            "zone-valve",
            BEFORE,
            vec![remove("indicator-between")],
        ),
        bad(
            "one bracket for two positions of a pair",
            "boiler-call-volt-free",
            BEFORE,
            vec![remove("indicator-between")],
        ),
        bad(
            "two brackets at one position",
            CABLE,
            BEFORE,
            vec![moved("indicator-between", "dead-near")],
        ),
        bad(
            "indicator not proved after",
            "programmer-and-thermostat",
            AFTER,
            vec![remove("indicator-second")],
        ),
        bad(
            "indicator proved after by a note",
            PAIR,
            AFTER,
            vec![
                remove("indicator-second"),
                after(
                    "dead-far",
                    "Note(id: \"lit\", stage: Isolate, say: \"The indicator lit.\"),",
                ),
            ],
        ),
        bad("near end never proved dead", CABLE, DEAD, vec![remove("dead-near")]),
        bad(
            "far end never proved dead",
            "stat-needs-neutral",
            DEAD,
            vec![remove("dead-far")],
        ),
        bad(
            "near end twice, far end never",
            "fused-spur",
            DEAD,
            vec![set("dead-far", "end", "Near"), set("dead-far", "reference", "OwnEarth")],
        ),
        bad(
            "far end dead only where it looked bad",
            CABLE,
            DEAD,
            vec![only("dead-far", "Failed(\"dead-near\")")],
        ),
        bad(
            "hands before it is proved",
            CABLE,
            "rule `stages-forward`",
            vec![moved("off-near", "indicator-first")],
        ),
        bad(
            "hands before it is proved, in the same stage",
            PAIR,
            DEAD,
            vec![before("indicator-first", act("early", "Isolate", "DisconnectNear"))],
        ),
        bad(
            "a second neutral bar left out",
            CABLE,
            "N2",
            vec![
                of_job(
                    "(name: \"4\", takes: EndSwitch),",
                    "(name: \"4\", takes: EndSwitch), (name: \"N2\", takes: Neutral),",
                ),
                set("dead-near", "reference", ""),
            ],
        ),
        bad(
            "no indicator at hand",
            CABLE,
            "no instrument can prove dead",
            vec![of_job("can: [ProveDead],", "can: [],")],
        ),
        bad("everything but isolation", CABLE, DEAD, vec![out("parts/isolate.ron")]),
        bad(
            "a cable tested that nobody isolated",
            PAIR,
            DEAD,
            vec![parts(&["dead-tests"])],
        ),
        bad(
            "the indicator proved on the supply that is off",
            CABLE,
            "known source",
            vec![of_job(
                "known_source: \"socket outlet in the galley, on another circuit\"",
                "known_source: \"fused connection unit beside the hot-water cylinder\"",
            )],
        ),
        bad(
            "the indicator proved on the immersion heater that is off",
            CYLINDER,
            "known source",
            vec![of_job(
                "known_source: \"socket outlet in the galley, on another circuit\"",
                "known_source: \"20 A double-pole switch beside the cylinder\"",
            )],
        ),
    ]
}

pub fn parting() -> Vec<Case> {
    let indicator = "ProveIndicator(id: \"indicator-parted-too\", stage: Disconnect, say: \"Does it light?\"),";
    vec![
        bad(
            "the parted neutral of the near end not proved",
            CABLE,
            PARTED,
            vec![remove("parted-near")],
        ),
        bad(
            "the parted neutral of the far end not proved",
            "zone-valve",
            PARTED,
            vec![remove("parted-far")],
        ),
        bad(
            "no parted neutral proved",
            "fused-spur",
            PARTED,
            vec![remove("parted-near"), remove("parted-far"), remove("indicator-parted")],
        ),
        bad(
            "the neutral proved before it is parted",
            CABLE,
            PARTED,
            vec![moved("parted-near", "off-near")],
        ),
        bad(
            "the far neutral proved before it is parted",
            "mid-position-valve",
            PARTED,
            vec![moved("parted-far", "off-far")],
        ),
        bad(
            "the parted neutral against an earth that is off with it",
            CABLE,
            PARTED,
            vec![set("parted-far", "reference", "OwnEarth")],
        ),
        bad(
            "the parted neutral at one end twice",
            "boiler-interlock",
            PARTED,
            vec![
                set("parted-near", "end", "Far"),
                set("parted-near", "reference", "LongLead"),
            ],
        ),
        bad(
            "the indicator not proved after parted neutrals",
            CABLE,
            AFTER,
            vec![remove("indicator-parted")],
        ),
        bad(
            "the indicator not proved after the far end's parted neutral",
            CABLE,
            AFTER,
            vec![remove("indicator-far")],
        ),
        bad(
            "the indicator proved before the far end's parted neutral",
            "mid-position-valve",
            AFTER,
            vec![moved("indicator-far", "off-far")],
        ),
        bad(
            "the indicator proved once a link is on the far end's cores",
            "zone-valve",
            AFTER,
            vec![moved("indicator-far", "guard")],
        ),
        bad(
            "the indicator proved behind the near end for both",
            "fused-spur",
            AFTER,
            vec![moved("indicator-far", "parted-near")],
        ),
        bad(
            "the indicator proved between parted neutrals only",
            CABLE,
            AFTER,
            vec![moved("indicator-parted", "parted-far")],
        ),
        bad(
            "parted neutrals proved after the tests",
            CABLE,
            "rule `stages-forward`",
            vec![moved("parted-near", "links-off")],
        ),
        bad(
            "parted neutral proved where a damp box was found",
            "stat-needs-neutral",
            PARTED,
            vec![only("parted-near", "Failed(\"sound-near\")")],
        ),
        bad(
            "parted neutral of a cable without one",
            CYLINDER,
            "no neutral core",
            vec![
                after(
                    "off-near",
                    "ProveParted(id: \"parted-too\", end: Near, reference: OwnEarth, say: \"Lit?\"),",
                ),
                before("electronics-out", indicator),
            ],
        ),
    ]
}
