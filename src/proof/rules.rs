//! The rules that every path through a plan must keep, each with its reason and source.
//!
//! The rule inside: a rule speaks of the world (supply, indicator, cores), never of the engine's gates; the gates are what the
//! proof may rely on, the rules are what it must show.

/// A rule with its name.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub struct Rule {
    /// Its place in the table, from 1: breaches at one step are told in this order. It is not shown, because `R1` and `R2`
    /// are resistances in this trade.
    pub number: u8,
    /// Words joined by hyphens, by which people and messages speak of it.
    pub name: &'static str,
    /// What must hold.
    pub says: &'static str,
    /// What it keeps away.
    pub why: &'static str,
    /// The standard, the public guidance or the practice that asks for it.
    pub source: &'static str,
    /// Whether it asks for facts that must hold on every path; the others look at where a step stands.
    pub of_facts: bool,
}

const ISOLATION: &str = "safe-isolation guidance: isolate, lock off, keep the key, post a notice, prove, test every pair, prove again; Electricity at Work Regulations 1989, regulations 13 and 14";
const EARTH: &str = "the order of reading line to earth before switching off and proving dead against it after: reasoned from the circuit; common practice";
const DEAD_TESTS: &str =
    "BS 7671:2018 643.1 to 643.6, the order of dead tests (clause numbers from published summaries)";
const MAINS: &str = "BS 7671:2018 part 414 and 528.1, separation of extra-low voltage (clause numbers from memory)";
const EARTHED_TESTS: &str = "BS 7671:2018 643.3.1, between live conductors and the protective conductor connected to the earthing arrangement (wording from published training notes)";
const EARTH_CONTINUITY: &str =
    "BS 7671:2018 643.2.1, continuity of protective conductors by a measurement of resistance (wording from memory)";
const PRACTICE: &str = "common practice";
const HOUSE: &str = "a property of the walk itself; no published source";

macro_rules! rules {
    ($($id:ident = $number:literal, $name:literal, $of_facts:literal, $says:literal, $why:literal, $source:expr;)*) => {
        $(pub(super) const $id: Rule = Rule {
            number: $number, name: $name, says: $says, why: $why, source: $source, of_facts: $of_facts,
        };)*
        /// Every rule, in the order of their numbers.
        pub const RULES: &[Rule] = &[$($id),*];
    };
}

rules! {
    LOCKED = 1, "locked-before-proving", true,
        "the supply is switched off, and after that locked off, the key kept and a notice posted, before anything is proved dead",
        "whoever comes by could switch on between the proof and the work", ISOLATION;
    INDICATOR_FIRST = 2, "indicator-before", true,
        "the indicator is proved on a known source before it is used, anew for each position",
        "an indicator that does not light shows everything dead", ISOLATION;
    DEAD = 3, "dead-before-hands", true,
        "no conductor is touched or dead-tested before every pair at both ends is shown dark, with the supply locked off",
        "a second supply, a borrowed neutral or a crossed cable leaves parts live that the switch does not reach", ISOLATION;
    INDICATOR_AFTER = 4, "indicator-after", true,
        "the indicator is proved again after the last pair and before hands go near",
        "an indicator that failed meanwhile showed nothing", ISOLATION;
    APART = 5, "apart-at-both-ends", true,
        "a core is dead-tested only while every core is off its terminals at both ends",
        "what hangs on the cores is measured along with them, and the test voltage would reach it", DEAD_TESTS;
    CONTINUITY_FIRST = 6, "continuity-before-insulation", true,
        "insulation is measured after the continuity of every core was",
        "insulation of a broken core says nothing about what lies beyond the break", DEAD_TESTS;
    GUARDED = 7, "guarded-before-voltage", true,
        "the test voltage goes on only with the far end guarded and nothing electronic on the cores",
        "up to 500 V d.c. stands at both ends of the cable", "BS 7671:2018 643.3; common practice for the guard";
    CLEAR = 8, "clear-before-terminals", true,
        "links and joints are off and the cores discharged before a core goes into a terminal, before energising and at the end",
        "a forgotten link is a short circuit, a charged cable bites", PRACTICE;
    TESTED = 9, "tested-before-energising", true,
        "on every path to energising each core has passed each of its dead tests, and nothing since has made it void",
        "a fault is found by the test or by the supply", DEAD_TESTS;
    READ = 10, "read-before-energising", true,
        "every core is in a terminal whose purpose was read and fits, at both ends, before energising",
        "mains on a terminal that is not for mains destroys it and puts mains where nobody expects it", "BS 7671:2018 643.6; common practice for reading the marking";
    CLASSIFIED = 11, "classified-before-connecting", true,
        "a control pair is classified by both plates and by readings with its contact open and closed, as found, before anything is put on it",
        "mains on a pair that is not for mains puts mains where nobody expects it", MAINS;
    LIVE = 12, "on-before-live-tests", true,
        "a live test stands, and a residual-current device is switched on, only where the run has the supply on",
        "no voltage without a supply shows nothing, and a device that is switched on energises", "BS 7671:2018 643.1";
    METERED = 13, "extra-low-shown-absent", true,
        "where extra-low voltage may be, a meter shows neither alternating nor direct voltage on any core before hands are on it",
        "an indicator that lights from 50 V shows 24 V as dead", PRACTICE;
    DEVICE = 14, "device-on-again", true,
        "after a test that trips the residual-current device it is switched on again before anything else is measured or handed over",
        "what is measured on a circuit that is off shows nothing", PRACTICE;
    ENDS = 15, "ends-safe", true,
        "a run ends isolated and locked off, or energised with every step passed",
        "nobody leaves behind what is on and not proved", HOUSE;
    ABANDONS = 16, "abandons-safe", true,
        "a run that is abandoned while the supply is on is made safe first",
        "the next person must not find it on", HOUSE;
    MATCHED = 17, "pair-ends-match", false,
        "the two ends of a control pair are not mains at one and extra-low voltage at the other",
        "mains would stand on what is built for extra-low voltage", MAINS;
    INSTRUMENTS = 18, "instruments-at-hand", false,
        "the job lists the instrument of every step, and an indicator wherever something is proved dead",
        "a test without its instrument is left out or made with the wrong one", PRACTICE;
    FORWARD = 19, "stages-forward", false,
        "stages follow one another and never go back; looking and live fault-finding, both as found, may alternate",
        "the gates are tied to the stages", HOUSE;
    PLACED = 20, "acts-in-their-stage", false,
        "energising and live tests are steps of the live stage, live fault-finding reads volts and sets controls and does nothing else, hands are on cores only between isolation and energising, the leads are measured among the dead tests, the survey switches nothing",
        "the gates look at the stage", HOUSE;
    REACHED = 21, "every-step-reached", false,
        "some path leads to every step, and its conditions can come about",
        "a step that nobody can reach proves nothing", HOUSE;
    WAY_OUT = 22, "way-out", false,
        "from every step some path leads to an end; a loop that a person decides to leave has one",
        "a walk that cannot end is left by its worker in the middle", HOUSE;
    LEADS_ON = 23, "outcomes-lead-on", false,
        "every outcome of every step leads somewhere: pass, fail, untested, not needed, repaired, left, a break, abandoned",
        "a worker whose answer has no place goes on without the program", HOUSE;
    SINCE = 24, "time-from-before", false,
        "a time counts from a step that stands earlier",
        "a time from nowhere is never up", HOUSE;
    BOUNDED = 25, "bounded", false,
        "a plan has at least one step and at most 10000, fewer with many cores, and a cable at most 36 cores",
        "nobody walks more, and a file must not be able to fill the memory", HOUSE;
    COULD_FAIL = 26, "could-have-failed", false,
        "a live reading does not pass where the opposite of what it shows is in the wiring",
        "a test that cannot fail proves nothing", "a property of evidence; tried on a model of the job's wiring";
    SOUND = 27, "sound-passes", false,
        "sound wiring passes every step",
        "a step that sound wiring fails sends the worker looking for a fault that is not there", "tried on a model of the job's wiring";
    PRESENCE = 28, "presence-before-absence", false,
        "no voltage counts once a voltage was read before with the same instrument and range, on the same points or on the source that it would come from",
        "an instrument on the wrong range, or a probe that does not touch, shows no voltage as well", PRACTICE;
    PLACES = 29, "line-at-each-place", true,
        "a run that ends energised has shown line to neutral and line to earth at each end where the cable carries the line, each where that end has one",
        "a missing neutral, a missing earth and a reversed polarity are each seen by one of the two alone", "BS 7671:2018 643.6 and 643.10 (clause numbers from published summaries)";
    DRIVEN = 30, "driven-by-its-control", true,
        "each control that is made to call has been shown to drive something that no other control drives",
        "a crossed zone follows a call as well, another one's", "BS 7671:2018 643.10, functional testing (clause number from memory)";
    MODELLED = 31, "modelled", false,
        "the wiring of the job makes a model on which the steps can be tried",
        "what cannot be tried cannot be shown to be worth doing", HOUSE;
    EARTH_FIRST = 32, "earth-before-dead", true,
        "the earth against which a position is proved dead is shown lit to line before switching off: its own, or a long lead's clipped to one that is",
        "to an earth that is open every live point is dark, and a closed contact or a coil is dark between two live points", EARTH;
    PARTED = 33, "neutral-dark-once-parted", true,
        "a neutral that was parted is shown dark to earth and to line before any other conductor is touched",
        "a neutral that another circuit borrows is at earth while it is whole and live once it is parted",
        "AS/NZS 4836:2011 3.5, as quoted; BS 7671:2018 314.4 (clause number from a published summary)";
    BUILDING = 34, "to-the-building", true,
        "insulation to earth is measured with the earth core clipped to the earth of the building, that earth proved and the clip read through before",
        "an earth core that floats shows the cable alone: a core that touches a pipe, a back box or a boiler's frame passes", EARTHED_TESTS;
    CLIP_AFTER = 35, "clip-read-again", true,
        "the earth core is read through its clip once more after the last insulation reading",
        "a clip that has let go leaves the earth core afloat, and what was read meanwhile is the cable alone", PRACTICE;
    EARTHED = 36, "earthed-as-left", true,
        "before a plan that energises ends, each end whose earth terminal has a core of the cable in it is shown joined to the main earthing terminal, after anything was last connected",
        "a clamp that does not grip the earth core, or a bad joint in the earth that comes in, leaves what it should protect dangerous to touch", EARTH_CONTINUITY;
    REASONS = 37, "reasons-before-live", true,
        "before anything is read, to find a fault, on a supply that is on as it was found, it is written down why it is unreasonable for it to be dead, why it is reasonable to be at work near it, and which precautions are taken",
        "most faults are found dead; who reads live as found stands at parts that somebody else left", "Electricity at Work Regulations 1989, regulation 14 (paraphrased from memory)";
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn rules_are_numbered_in_order_and_say_why_and_by_whom() {
        for (i, rule) in RULES.iter().enumerate() {
            assert_eq!(usize::from(rule.number), i + 1);
            assert!(!rule.says.is_empty() && !rule.why.is_empty() && !rule.source.is_empty());
            assert!(RULES.iter().filter(|other| other.name == rule.name).count() == 1);
        }
    }
}
