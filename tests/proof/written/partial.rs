//! Sequences that prove one thing alone, and say so: sane, and accepted.

use super::case::{Case, after, before, good, out, parts, remove, words};
use super::editor::Edit;

const CABLE: &str = "stat-cable";
const PAIR: &str = "extra-low-pair";
const VALVE: &str = "zone-valve";
const SPUR: &str = "fused-spur";
const FLOOR: &str = "underfloor-zones";

/// Dead only, and of the dead tests no more than is kept.
fn dead(without: &[&'static str]) -> Vec<Edit> {
    let mut edits = vec![parts(&["as-found", "isolate", "dead-tests"])];
    edits.extend(without.iter().map(|id| remove(id)));
    if without.contains(&"insulation") {
        edits.push(words("If(Low(\"insulation\"), [", "If(HasEarthCore, ["));
    }
    edits
}

const INSULATION: &[&str] = &[
    "long-lead-null",
    "clip",
    "clip-bites",
    "join-rest",
    "insulation",
    "part-rest",
    "insulation-alone",
    "join",
    "insulation-earth",
    "part",
    "clip-still-bites",
    "unclip",
    "join-pair",
    "insulation-return",
    "part-pair",
    "insulation-cores",
    "insulation-building",
    "discharge",
];
const CONTINUITY: &[&str] = &[
    "lead-null",
    "link",
    "continuity",
    "others-open",
    "link-first",
    "links-off",
    "all-open",
];

pub fn only_this() -> Vec<Case> {
    let with = |first: Vec<Edit>, more: Vec<Edit>| [first, more].concat();
    vec![
        good(
            "continuity only",
            CABLE,
            dead(&[INSULATION, &["others-open", "all-open"]].concat()),
        ),
        good(
            "continuity only, of a pair",
            PAIR,
            dead(&[INSULATION, &["all-open"]].concat()),
        ),
        good("continuity and other cores open", VALVE, dead(INSULATION)),
        good("insulation only", CABLE, dead(CONTINUITY)),
        good("insulation only, of a pair", PAIR, dead(CONTINUITY)),
        good(
            "insulation only, to earth",
            SPUR,
            dead(&[CONTINUITY, &["insulation-cores"]].concat()),
        ),
        good(
            "identification only",
            "mid-position-valve",
            with(
                dead(&[INSULATION, &["others-open", "all-open", "lead-null"]].concat()),
                vec![
                    before(
                        "links-off",
                        "EachCore([Do(id: \"on\", stage: Test, act: LinkToEarth, say: \"Link it.\"), Identify(id: \"which\", say: \"Which core reads through?\"), Do(id: \"off\", stage: Test, act: RemoveLink, say: \"Off again.\")]),",
                    ),
                    remove("link-first"),
                    remove("link"),
                    remove("continuity"),
                ],
            ),
        ),
        good("all dead tests, nothing connected", FLOOR, dead(&[])),
        good("all dead tests of a boiler's pair", "boiler-call-volt-free", dead(&[])),
        good("isolated, proved dead and left so", CABLE, vec![parts(&["isolate"])]),
        good(
            "isolated with a further supply and left so",
            "cylinder-thermostat",
            vec![parts(&["isolate"])],
        ),
        good("a survey", VALVE, vec![parts(&["as-found"])]),
        good(
            "a survey with readings of the earths",
            "mid-position-valve",
            vec![
                parts(&["as-found"]),
                after(
                    "picture",
                    "ProveEarth(id: \"earth\", end: Near, say: \"{first}, {second}. Lit?\"), ProveLead(id: \"lead\", say: \"{first}, {second}. Lit?\"),",
                ),
            ],
        ),
        good(
            "a survey of a pair, classified",
            PAIR,
            vec![
                words("Include(\"parts/isolate.ron\"),", ""),
                words("Include(\"parts/dead-tests.ron\"),", ""),
                out("parts/connect.ron"),
                out("parts/as-left.ron"),
                out("parts/filled.ron"),
                out("parts/energise.ron"),
                remove("mains-neutral"),
                remove("mains"),
                remove("first-clear"),
                remove("second-clear"),
                remove("open-volts"),
                remove("call"),
                remove("closed-volts"),
                remove("called-runs"),
                remove("satisfy"),
                remove("open-again"),
                remove("called-still"),
                out("parts/leave.ron"),
            ],
        ),
        good(
            "hand-over only",
            "hand-over",
            vec![remove("drawing"), remove("warning")],
        ),
    ]
}
