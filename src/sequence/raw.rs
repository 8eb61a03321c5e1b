//! The shape of a sequence file, before anything in it is believed.
//!
//! The rule inside: every kind of step stands once, in the list of `steps!`, with its fields, what each is for and a short example;
//! the types, the reading of a file and the reference of the language are all made from that one list.

use serde::Deserialize;

use crate::job::End;
use crate::located::Located;
use crate::plan::Stage;
use crate::value::quantity::{Amount, Unit};
use crate::value::reading::Multiple;

/// A sequence, or a part that sequences include.
#[derive(Debug, Deserialize)]
#[serde(deny_unknown_fields, rename = "Sequence")]
pub(super) struct RawSequence {
    pub format: Located<String>,
    pub name: Located<String>,
    pub title: Located<String>,
    /// Figures that the job must give.
    #[serde(default)]
    pub needs: Vec<RawNeed>,
    /// Kinds of fault of which the sequence lets none through.
    #[serde(default)]
    pub promises: Vec<Located<String>>,
    /// Promised faults that it lets through all the same.
    #[serde(default)]
    pub exceptions: Vec<RawException>,
    pub steps: Vec<Located<RawStep>>,
}

/// A figure that the job must give under `parameters`.
#[derive(Debug, Deserialize)]
#[serde(deny_unknown_fields, rename = "Need")]
pub(super) struct RawNeed {
    pub name: Located<String>,
    pub unit: Located<Unit>,
}

/// A fault of a promised kind that no step can show, and why.
#[derive(Debug, Deserialize)]
#[serde(deny_unknown_fields, rename = "Exception")]
pub(super) struct RawException {
    /// As `rehearse --fault` takes it; cores and terminals by what they carry, in braces.
    pub fault: Located<String>,
    pub reason: Located<String>,
}

/// Makes an enum whose every word is told in the reference of the language.
macro_rules! words {
    ($(#[$meta:meta])* $name:ident, $serde:literal {
        $($(#[doc = $doc:literal])+ $word:ident $(($($part:ty),+))? $({ $($field:ident : $type:ty),+ $(,)? })?,)+
    }) => {
        $(#[$meta])*
        #[derive(Debug, Deserialize)]
        #[serde(rename = $serde)]
        pub(super) enum $name {
            $($(#[doc = $doc])+ $word $(($($part),+))? $({ $($field: $type),+ })?,)+
        }

        impl $name {
            /// Every word, what it takes, and what it says.
            pub(super) const WORDS: &[(&'static str, &'static str, &'static str)] = &[$((
                stringify!($word),
                concat!("" $(, "(", $(stringify!($part), ", ",)+ ")")? $(, "(", $(stringify!($field), ": ", stringify!($type), ", ",)+ ")")?),
                concat!($($doc),+),
            )),+];
        }
    };
}

words! {
    /// What a step tells hands to do.
    #[derive(Clone, PartialEq, Eq)]
    RawAct, "Act" {
        /// The supply is switched off at its point of isolation.
        SwitchOff,
        /// It is locked off, or the fuse is taken out and kept.
        LockOff,
        /// The only key, or the fuse, is in the worker's pocket.
        KeepKey,
        /// A notice is posted at the point of isolation.
        PostNotice,
        /// Every core is taken off at the near end.
        DisconnectNear,
        /// Every core is taken off at the far end.
        DisconnectFar,
        /// Whatever is electronic is taken off the cable.
        TakeOutElectronics,
        /// Nobody can touch the cores at the far end.
        GuardFarEnd,
        /// The core of the enclosing `EachCore` is linked to the return core at the far end.
        LinkToEarth,
        /// The cores of this turn of the enclosing `EachLink` are linked to the return core at the far end, and no others; outside it those
        /// of the first turn, for whoever is at the far end already. A step that would change nothing is left out, and so is one that would
        /// link a neutral outside `EachLink`.
        Link,
        /// The first two of those cores are linked to the return core together, and no others, for `SolveCores`. Nothing where there is but one.
        LinkPair,
        /// That link is taken off.
        RemoveLink,
        /// No link is left anywhere.
        RemoveEveryLink,
        /// All cores but the return core are joined at the near end.
        JoinLiveCores,
        /// They are discharged and parted.
        PartLiveCores,
        /// The earth core is clipped to the earth of the building at the near end: to the earth terminal there, or to the main
        /// earthing terminal by a long lead. Without it a core that touches a pipe passes insulation.
        JoinEarth,
        /// That clip is taken off.
        PartEarth,
        /// All cores but the one of the enclosing `EachCore` are joined at the near end, the earth core too; what was joined so before is
        /// discharged and parted first.
        JoinRest,
        /// They are discharged and parted.
        PartRest,
        /// Covers are on at the far end and nobody is at it, once it is connected and before a test voltage reaches it.
        CoverFarEnd,
        /// The supply's neutral is taken off its terminal at the near end and insulated, so that the neutral of what is connected hangs on
        /// nothing that is earthed.
        PartNeutral,
        /// It is back, tightened and tugged; line to neutral live shows it.
        RestoreNeutral,
        /// Where metalwork touches the near end, the earth conductor that comes in is taken off its terminal, and no other: the main bonding
        /// stays. It is read by itself.
        EarthOffNear,
        /// Where metalwork touches the far end, the earth core is taken off its terminal there, to be read by itself.
        EarthOffFar,
        /// The earth conductor that comes in is back in its terminal, tightened and tugged; `ClampContact` reads its clamp.
        EarthBackNear,
        /// The earth core is back in its terminal at the far end, tightened and tugged; `ClampContact` reads its clamp.
        EarthBackFar,
        /// Every live terminal for mains at the near end is joined to the others, the cores in them, so that no test voltage stands across
        /// anything that hangs on them.
        JoinTerminals,
        /// They are discharged and parted.
        PartTerminals,
        /// The tester discharges every core.
        Discharge,
        /// The supply is switched on.
        Energise,
        /// A control of the job, by its name, is set so that it calls.
        Call(String),
        /// A control of the job is set so that it does not call.
        Satisfy(String),
        /// No control calls.
        EveryCallOff,
        /// The residual-current device is seen to be on, or switched on again.
        ResetDevice,
    }
}

words! {
    /// Where a window comes from.
    RawWindow, "Window" {
        /// From the cable's size, length, class and temperature; cores are compared where the length is not known.
        Cable,
        /// As `Cable`; where the length is not known the first core with the return core has at most what 100 m of the smallest size and back have,
        /// and the contacts.
        CableOrPair,
        /// Open: more than the shortest of the common continuity ranges shows. It counts once the leads were seen closed by a `LeadNull`
        /// since they were changed last, since an open lead shows the same.
        OpenCircuit,
        /// Open by the older figure of 1 kohm, which many continuity ranges cannot show: better `OpenCircuit`.
        OpenCore,
        /// The greatest resistance of the leads, the tester's own or a long one.
        LeadResistance,
        /// The least insulation resistance at the job's test voltage.
        InsulationMinimum,
        /// What the supply may be at its own terminals.
        SupplyVoltage,
        /// What may arrive at a load behind them: down to the supply's lower limit less the drop that the wiring may have. Beside the
        /// reading stands how far it is below the last reading of the supply to neutral, with both times.
        LoadVoltage,
        /// What counts as no voltage, on a low-impedance input.
        VoltageAbsent,
        /// The greatest earth fault loop impedance, measured cold, that the job's protective device allows.
        LoopMaximum,
        /// The same, and besides no more than the `ze` of the supply, the copper of the cable up to there, 0.5 ohm and the instrument's
        /// error: a joint of 5 ohm passes the device's limit alone. The job gives `ze` and the length of the cable.
        LoopExpected,
        /// How soon the job's residual-current device has to trip; at half its rated current, that it does not.
        TripTime,
        /// Figures of the sequence's own, with their source.
        Stated(RawStated),
        /// Edges worked out from the job by expressions, with the source of the rule.
        Worked(RawWorked),
    }
}

#[derive(Debug, Deserialize)]
#[serde(deny_unknown_fields, rename = "Stated")]
pub(super) struct RawStated {
    #[serde(default)]
    pub low: Option<Located<Amount>>,
    #[serde(default)]
    pub high: Option<Located<Amount>>,
    pub source: Located<String>,
}

#[derive(Debug, Deserialize)]
#[serde(deny_unknown_fields, rename = "Worked")]
pub(super) struct RawWorked {
    #[serde(default)]
    pub low: Option<Located<String>>,
    #[serde(default)]
    pub high: Option<Located<String>>,
    pub source: Located<String>,
}

words! {
    /// A time and where it comes from.
    RawTime, "Time" {
        /// A valve's motor opens, by common practice or the job's slower motor.
        ValveOpens,
        /// A valve's motor closes.
        ValveCloses,
        /// The wax of an actuator opens it, which takes minutes.
        ActuatorOpens,
        /// The wax of an actuator lets it close.
        ActuatorCloses,
        /// A time of the sequence's own, with its source.
        Stated { time: Located<Amount>, source: Located<String> },
        /// Worked out from the job by an expression, with the source of the rule.
        Worked { time: Located<String>, source: Located<String> },
    }
}

/// The step from which a time counts, and the time.
pub(super) type RawTiming = Option<Located<(Located<String>, RawTime)>>;

words! {
    /// Which cores insulation is measured between.
    #[derive(Clone, Copy, PartialEq, Eq)]
    Between, "Between" {
        /// All cores but the return core joined, against the return core.
        JoinedAndEarth,
        /// Every pair of cores but the return core.
        EachPair,
        /// The core of the enclosing `EachCore` against all others joined, the earth core too, after `JoinRest`.
        ThisAndRest,
        /// The core of the enclosing `EachCore` against the return core, and against each core after it, one after the other: a pair
        /// that is low shows in the groups of both its cores.
        ThisAndEach,
        /// Each live core against the earth of the building: the earth terminal at the near end, or the main earthing terminal by a
        /// long lead. For a cable without an earth core.
        EachAndBuilding,
        /// Each core that is not for mains against the mains that stands in the same box at the near end: its terminals, joined by
        /// `JoinTerminals`, at the test voltage of the mains and by its least.
        EachAndMains,
        /// The pair of the enclosing `EachPair`.
        ThisPair,
    }
}

words! {
    /// The earth that a position is proved dead against.
    #[derive(Clone, Copy, PartialEq, Eq)]
    RawReference, "Reference" {
        /// The end's own earth terminal, shown lit by `ProveEarth`.
        OwnEarth,
        /// The long lead's free end, shown lit by `ProveLead`.
        LongLead,
    }
}

words! {
    /// What may follow a step that did not pass; abandoning is always open.
    #[derive(Clone, PartialEq, Eq)]
    RawThen, "Then" {
        /// It is done again, from the step its time counts from.
        Again,
        /// A repair is recorded, then it is done again.
        Repair,
        /// A repair is recorded, then the walk goes back to an earlier step.
        RepairFrom(String),
        /// It stays as it is, with a reason.
        Leave,
        /// Where the fault must be is shown.
        Locate,
    }
}

words! {
    /// When the steps inside `If` are there, by the job, or done, by what earlier steps came to.
    #[derive(Clone, PartialEq, Eq)]
    RawCondition, "Condition" {
        /// The cable has a core that carries this.
        HasCore(String),
        /// An end has a terminal for this.
        HasTerminal(End, String),
        /// The cable has an earth core.
        HasEarthCore,
        /// The job has zones.
        HasZones,
        /// The job has a control pair.
        HasControlPair,
        /// The supply has a residual-current device.
        HasResidualDevice,
        /// Metalwork touches the earth terminal of an end, in parallel with the earth conductor there, as the job's `metalwork` says.
        HasMetalwork(End),
        /// The length of the cable is known.
        HasLength,
        /// Something stays connected to the cable, as the job says.
        StaysConnected,
        /// A core that is not for mains shares the near end's box with mains.
        MainsBeside,
        /// The supply is extra-low voltage.
        IsExtraLow,
        /// That earlier step passed.
        Passed(String),
        /// That earlier step failed.
        Failed(String),
        /// The insulation read at that earlier step is below what is looked into core by core: 2 Mohm, by common practice.
        Low(String),
        /// This word was answered at that earlier step.
        Saw(String, String),
        /// The condition inside does not hold.
        Not(Box<RawCondition>),
    }
}

impl RawCondition {
    /// Whether only the run can tell, by what an earlier step came to.
    pub(super) fn is_of_run(&self) -> bool {
        match self {
            RawCondition::Not(inner) => inner.is_of_run(),
            RawCondition::Passed(_) | RawCondition::Failed(_) | RawCondition::Low(_) | RawCondition::Saw(..) => true,
            _ => false,
        }
    }

    /// Whether it asks for a low insulation reading.
    pub(super) fn speaks_of_low(&self) -> bool {
        match self {
            RawCondition::Not(inner) => inner.speaks_of_low(),
            RawCondition::Low(_) => true,
            _ => false,
        }
    }
}

/// A kind of step in the reference of the language.
#[derive(Debug, Clone, Copy)]
pub(super) struct KindWords {
    pub kind: &'static str,
    pub what: &'static [&'static str],
    /// Name, type and purpose of each field; those that may be left out come last.
    pub needs: &'static [(&'static str, &'static str, &'static str)],
    pub may: &'static [(&'static str, &'static str, &'static str)],
    pub example: &'static str,
}

macro_rules! steps {
    ($(
        $(#[doc = $doc:literal])+
        $kind:ident { $($need:ident : $need_type:ty = $need_words:literal,)* } may { $($may:ident : $may_type:ty = $may_words:literal,)* }
        example $example:literal
    )*) => {
        $(
            $(#[doc = $doc])+
            #[derive(Debug, Deserialize)]
            #[serde(deny_unknown_fields)]
            pub(super) struct $kind {
                pub id: Located<String>,
                pub say: Located<String>,
                #[serde(default)]
                pub caution: Option<Located<String>>,
                #[serde(default)]
                pub after_failure: Option<Vec<Located<RawThen>>>,
                $(#[doc = $need_words] pub $need: $need_type,)*
                $(#[doc = $may_words] #[serde(default)] pub $may: $may_type,)*
            }
        )*

        /// One step, or a group of steps.
        #[derive(Debug, Deserialize)]
        #[allow(clippy::large_enum_variant)] // a few dozen steps a file, read once
        #[serde(rename = "Step")]
        pub(super) enum RawStep {
            $($(#[doc = $doc])+ $kind($kind),)*
            /// The steps once for every core of the cable but the one that the tests return through.
            EachCore(Vec<Located<RawStep>>),
            /// The steps once for every turn of the link at the far end: as few turns as tell every crossing of the cores.
            EachLink(Vec<Located<RawStep>>),
            /// The steps once for every pair of those cores.
            EachPair(Vec<Located<RawStep>>),
            /// The steps once for every zone of the job.
            EachZone(Vec<Located<RawStep>>),
            /// The steps once for the supply of the cable and once for every further supply of the job.
            EachSupply(Vec<Located<RawStep>>),
            /// Labels, tugs, looks and calls off that one answer may stand for.
            Together(Vec<Located<RawStep>>),
            /// Live readings of fault-finding that are taken in any order and number.
            AnyOrder(Vec<Located<RawStep>>),
            /// The steps only where the condition holds.
            If(Located<RawCondition>, Vec<Located<RawStep>>),
            /// The steps of another file, named as it lies from the sequence's folder.
            Include(Located<String>),
        }

        /// Every kind of step, in the order of a job.
        pub(super) const KINDS: &[KindWords] = &[$(KindWords {
            kind: stringify!($kind),
            what: &[$($doc),+],
            needs: &[$((stringify!($need), stringify!($need_type), $need_words)),*],
            may: &[$((stringify!($may), stringify!($may_type), $may_words)),*],
            example: $example,
        }),*];

        impl RawStep {
            /// What every single step has; `None` for a group.
            pub(super) fn common(&self) -> Option<Common<'_>> {
                match self {
                    $(RawStep::$kind(step) => Some(Common {
                        id: &step.id,
                        say: &step.say,
                        caution: step.caution.as_ref(),
                        after_failure: step.after_failure.as_deref(),
                    }),)*
                    RawStep::EachCore(_) | RawStep::EachLink(_) | RawStep::EachPair(_) | RawStep::EachZone(_)
                    | RawStep::EachSupply(_) | RawStep::Together(_) | RawStep::AnyOrder(_) | RawStep::If(..)
                    | RawStep::Include(_) => None,
                }
            }
        }
    };
}

/// What every single step has.
#[derive(Debug, Clone, Copy)]
pub(super) struct Common<'a> {
    pub id: &'a Located<String>,
    pub say: &'a Located<String>,
    pub caution: Option<&'a Located<String>>,
    pub after_failure: Option<&'a [Located<RawThen>]>,
}

steps! {
    /// Hands do something and say so. `Energise` wants the word `energise`, everything else `done`.
    Do { stage: Stage = "the stage it belongs to", act: Located<RawAct> = "what is done", } may {}
    example r#"Do(id: "lock-off", stage: Isolate, act: LockOff, say: "Lock it off.")"#

    /// Something is looked at as it is found; anything that is not sound is typed as `found` and a text. What is found so in `Survey` may be
    /// noted by `repair`, with a picture: the run goes on as found, nothing is touched, and once everything is proved dead it is repaired and
    /// looked at again; as found and as left both stay. Without `end` nothing is opened for it but at the two ends, where dead is proved.
    Inspect { stage: Stage = "the stage it belongs to", thing: Located<String> = "what is looked at, in a few words", } may {
        end: Option<End> = "the end at which it is looked at, where it is at one",
    }
    example r#"Inspect(id: "damp", stage: Survey, thing: "damp and heat damage", say: "Look for damp and heat damage. Sound?")"#

    /// The control pair of the job is classified as it was found: both makers' plates, then readings with its contact open and
    /// closed. Nothing is connected before all of it has passed.
    Classify { open: Located<String> = "said for the reading with the contact open", closed: Located<String> = "said for the reading with the contact closed", } may {}
    example r#"Classify(id: "pair", say: "Read the plate at the {end}.", open: "Contact open: {first}, {second}.", closed: "Contact closed: {first}, {second}.")"#

    /// Why the supply stays on, as it was found, while a fault is sought: the three answers that the law wants (why it may not be dead, why it is
    /// reasonable to be near, which precautions), each a line in the record, none passed over. Whoever has no answer works dead. Before the
    /// readings of live fault-finding.
    LiveReasons {} may {}
    example r#"LiveReasons(id: "why-live", say: "The supply is on as found. Before anything is opened:")"#

    /// The two-pole indicator is proved on the known source: before and after the points of each position.
    ProveIndicator {} may { stage: Option<Stage> = "`Disconnect` or `Connect` where parted neutrals are tested, else `Isolate`", }
    example r#"ProveIndicator(id: "indicator-first", say: "Prove the indicator on the {known source}.")"#

    /// The earth terminal of an end is shown lit to the permanent live beside it, before anything is switched off: only then does what is
    /// dark to it show anything.
    ProveEarth { end: End = "which end", } may {}
    example r#"ProveEarth(id: "earth-near", end: Near, say: "Indicator on {first} and {second}.")"#

    /// The free end of a long lead, clipped to the near end's earth, or to the main earthing terminal where metalwork touches an earth, is shown lit to the near end's permanent live, before anything is
    /// switched off: a position whose own earth is not proved is proved dead against it.
    ProveLead {} may {}
    example r#"ProveLead(id: "lead", say: "Indicator on {first} and {second}.")"#

    /// Every pair of points at one end is shown dark, earth first; extra-low voltage also with a meter, since an indicator does not
    /// show it. Without a reference the end's own earth is taken, and the terminals for earth and neutral beyond the first are left out. Once cores are
    /// taken off it is a further proof by the indicator alone, beside the one that isolation rests on.
    ProveDead { end: End = "which end", } may { reference: Option<Located<RawReference>> = "the earth that every point is tried against", }
    example r#"ProveDead(id: "dead-near", end: Near, say: "Indicator on {first} and {second}.")"#

    /// Once an end is disconnected, its parted neutral, core and terminal, is shown dark to earth and to line: a neutral that another
    /// circuit borrows is live only then. Where metalwork touches the far end it is `LongLead` for both ends. After `PartNeutral` it is the terminal that the supply's neutral has left, with the indicator proved before and
    /// after it in the stage `Connect`, and no hands go to that terminal before.
    ProveParted { end: End = "which end", reference: Located<RawReference> = "the earth it is tried against, which must not come through this cable", } may {}
    example r#"ProveParted(id: "parted-near", end: Near, reference: OwnEarth, say: "Indicator on {first} and {second}.")"#

    /// The leads are measured tip to tip; what follows has them subtracted. Where the job says that the tester nulls them (`nulls: true`) it must show about nothing, and nothing is subtracted. What is read to the main earthing terminal goes through a long lead, which is measured by itself.
    LeadNull { window: Located<RawWindow> = "what the leads may have", } may { long: bool = "the long lead to the main earthing terminal and one of the tester's own", }
    example r#"LeadNull(id: "lead-null", window: LeadResistance, say: "Tips together.")"#

    /// Which core of the near end is the one linked at the far end: inside `EachCore`, after its link.
    Identify {} may {}
    example r#"EachCore([Identify(id: "which", say: "Which core reads through?")])"#

    /// Resistance of a core and the return core in series, linked at the far end: in `EachLink` of each core that is linked in its turn.
    Continuity { window: Located<RawWindow> = "what it may have", } may { core: Option<Located<String>> = "the core, by name or purpose, where no group gives it", }
    example r#"Continuity(id: "continuity", core: "switched live", window: Cable, say: "{first} to {second}.")"#

    /// Resistance between the two cores of `LinkPair`, through a way that the return core is not on: each core is solved, the return core too, and
    /// they are compared by size. Where the length is not known only this tells a joint in the return core. Of two cores alone it
    /// reads nothing, and the record says that a joint cannot be told from length.
    SolveCores {} may {}
    example r#"SolveCores(id: "solve", say: "{first} to {second}.")"#

    /// With one core linked, every other core is open to the return core: inside `EachCore` or `EachLink`. Where insulation of every pair is
    /// measured with no link on, that shows the same of cores that touch, and a crossing opens a reading of its own.
    OthersOpen { window: Located<RawWindow> = "what counts as open", } may {}
    example r#"EachCore([OthersOpen(id: "others-open", window: OpenCircuit, say: "{first} to {second}: open.")])"#

    /// With every link off, every core is open to the return core.
    AllOpen { window: Located<RawWindow> = "what counts as open", } may {
        last: bool = "the core alone that was linked last: what was read came through the link. The others are shown by insulation",
    }
    example r#"AllOpen(id: "all-open", window: OpenCircuit, say: "{first} to {second}: open.")"#

    /// Resistance across a contact of the job, at the terminals where it is wired, with every core of the cable off at both ends: closed; or with `lead_off` open, its live conductor taken off and made safe, where it stays. It shows the path through the contact, not when it trips.
    AcrossContact { contact: Located<String> = "the contact, by its name in the job", } may { lead_off: bool = "its live conductor is taken off first", }
    example r#"AcrossContact(id: "cut-out-closed", contact: "cut-out", say: "{first}, {second}: closed.")"#

    /// The earth core reads through the clip that joins it to the earth of the building: after `JoinEarth` before insulation is measured,
    /// and once more after the last insulation reading. Where it does not, what was read before is the cable alone and is read again.
    ReadJoin {} may {}
    example r#"ReadJoin(id: "clip-bites", say: "{first} to {second}.")"#

    /// Each live core of an end to the terminal it is in, dead and connected: at most 0.05 ohm. A clamp on insulation, on a nicked core or with a crossed
    /// thread holds a tug and shows in no voltage. Where metalwork touches the end, its earth conductor as well: that clamp shows in no reading of the
    /// terminal.
    ClampContact { end: End = "which end", } may {}
    example r#"ClampContact(id: "clamp-near", end: Near, say: "{first} to {second}.")"#

    /// Insulation of everything that is connected, dead: the live terminals joined, to the earth of the building, at the lower voltage that the edition
    /// gives for equipment that stays connected. After `PartNeutral` and `JoinTerminals`. It shows what leaks to earth in an accessory, which no test of
    /// the cable alone reaches.
    InsulationConnected {} may {}
    example r#"InsulationConnected(id: "as-left", say: "{first} to {second} at {volts}.")"#

    /// Resistance from the earth terminal of an end to the main earthing terminal, by a long lead, dead: at most the copper up to there
    /// and 0.05 ohm, where the job gives `upstream` and lengths, else 1 ohm. Where metalwork touches the end, a reading on the terminal is one of the pipe
    /// as well and shows nothing of the conductor: that is read with `off_terminal`, between `EarthOffFar` and `EarthBackFar`, or those of the near end.
    EarthContinuity { end: End = "which end", } may {
        incoming: bool = "the earth that comes in at the near end, with every core of the cable off",
        off_terminal: bool = "the earth conductor itself, off its terminal",
    }
    example r#"EarthContinuity(id: "earthed-far", end: Far, say: "{first} to {second}.")"#

    /// Insulation at the test voltage of the job.
    Insulation { between: Between = "which cores", window: Located<RawWindow> = "the least it may have", } may {}
    example r#"Insulation(id: "insulation", between: EachPair, window: InsulationMinimum, say: "At {volts}: {first} to {second}.")"#

    /// Every core goes into its terminal at one end, and the terminal's purpose is read from its marking.
    Connect { end: End = "which end", } may {}
    example r#"Connect(id: "connect-near", end: Near, say: "Core {core} into {terminal}. What is it for?")"#

    /// Every core at one end is tugged in its clamp after the screw was tightened: `holds` or `moves`.
    Tug { end: End = "which end", } may {}
    example r#"Tug(id: "tug-near", end: Near, say: "Tighten {terminal}, tug core {core}.")"#

    /// What the terminal is for into which each core goes, read once more when all are in.
    Polarity { end: End = "which end", } may {}
    example r#"Polarity(id: "polarity", end: Far, say: "Core {core}: what is its terminal for?")"#

    /// Everything before it has passed in this run.
    Gate {} may {}
    example r#"Gate(id: "all-passed", say: "Everything before this has passed.")"#

    /// A voltage between two terminals of one end, by what they are for or by name. In `FaultFinding` it is read on the supply as it was found on:
    /// it may fail, which is what is looked for, and nothing is proved by it.
    Voltage { end: End = "which end", between: (Located<String>, Located<String>) = "the two terminals", window: Located<RawWindow> = "what it may be", } may {
        within: RawTiming = "it must come within a time of a step",
        after: RawTiming = "it counts only after a time since a step",
        stage: Option<Located<Stage>> = "`FaultFinding` where the supply is on as it was found, else `Live`",
        low_impedance: bool = "read on the lowest input there is, as absence always is",
        direct: bool = "a direct voltage",
    }
    example r#"Voltage(id: "feed", end: Far, between: ("permanent live", "neutral"), window: LoadVoltage, say: "{first}, {second}.")"#

    /// Earth fault loop impedance at one end.
    Loop { end: End = "which end", window: Located<RawWindow> = "the greatest it may be", } may { after: RawTiming = "it counts only after a time since a step, with which it is done again", line: Option<Located<String>> = "what the line terminal is for, where it is not the permanent live", }
    example r#"Loop(id: "loop", end: Far, window: LoopMaximum, say: "Loop tester: {first}, {second}.")"#

    /// Time in which the residual-current device trips, at a multiple of its rated current: `half` must not trip it.
    ResidualTrip { end: End = "which end", times: Multiple = "`half`, `once` or `five_times` the rated current", window: Located<RawWindow> = "the longest it may take", } may { after: RawTiming = "it counts only after a time since a step, with which it is done again", line: Option<Located<String>> = "what the line terminal is for, where it is not the permanent live", }
    example r#"ResidualTrip(id: "trip", end: Far, times: once, window: TripTime, say: "Trip test: {first}, {second}.")"#

    /// The manual lever of a motor's actuator: `slack` when the motor has taken the valve there, `firm` when it has not. It shows the motor alone and says nothing of the end switch: by hand some heads make it and others do not (makers' sheets differ), so read the switch's own terminal.
    Lever { motor: Located<String> = "the motor, by its name in the job", expect: Located<String> = "`slack` or `firm`", } may {
        within: RawTiming = "it must come within a time of a step", after: RawTiming = "it counts only after a time since a step",
    }
    example r#"Lever(id: "lever", motor: "zone valve", expect: "firm", say: "Move the lever: firm or slack?")"#

    /// The pin or cap of an actuator: `up` when it is open, `down` when it is shut.
    Pin { motor: Located<String> = "the actuator, by its name in the job", expect: Located<String> = "`up` or `down`", } may {
        within: RawTiming = "it must come within a time of a step", after: RawTiming = "it counts only after a time since a step",
    }
    example r#"Pin(id: "pin", motor: "actuator 1", expect: "down", say: "Up or down?")"#

    /// Whether a load runs: `runs` or `still`. A boiler, a pump, and how long it runs on.
    Runs { load: Located<String> = "the load, by its name in the job", expect: Located<String> = "`runs` or `still`", } may {
        within: RawTiming = "it must come within a time of a step", after: RawTiming = "it counts only after a time since a step",
    }
    example r#"Runs(id: "boiler", load: "boiler input", expect: "runs", say: "Does the boiler run?")"#

    /// Whether warmth arrives behind a valve: `warm` or `cold`.
    Warm { motor: Located<String> = "the valve, by its motor's name in the job", expect: Located<String> = "`warm` or `cold`", } may {
        within: RawTiming = "it must come within a time of a step", after: RawTiming = "it counts only after a time since a step",
    }
    example r#"Warm(id: "warm", motor: "zone valve", expect: "warm", say: "Feel the pipe. Warm?")"#

    /// Which actuators and flow meters have moved, while one zone alone calls: inside `EachZone`.
    ZoneMap {} may { nothing: bool = "no zone calls, and none may have moved", within: RawTiming = "they must have moved within a time of a step", after: RawTiming = "it counts only after a time since a step", }
    example r#"EachZone([ZoneMap(id: "map", say: "Which have moved?")])"#

    /// A line of text, with a photograph's file bound in by its hash.
    Note { stage: Stage = "the stage it belongs to", } may { photograph: bool = "a photograph is asked for", }
    example r#"Note(id: "as-found", stage: Survey, photograph: true, say: "Photograph it as found.")"#

    /// Something that is left behind or shown: labels made, user shown.
    HandOver { thing: Located<String> = "what is handed over, in a few words", } may {}
    example r#"HandOver(id: "labels", thing: "labels at both ends", say: "Label both ends.")"#
}

impl RawStep {
    /// The window of a measurement with the unit it must have.
    pub(super) fn window(&self) -> Option<(&Located<RawWindow>, Unit)> {
        match self {
            RawStep::LeadNull(LeadNull { window, .. })
            | RawStep::Continuity(Continuity { window, .. })
            | RawStep::OthersOpen(OthersOpen { window, .. })
            | RawStep::AllOpen(AllOpen { window, .. })
            | RawStep::Insulation(Insulation { window, .. })
            | RawStep::Loop(Loop { window, .. }) => Some((window, Unit::Ohm)),
            RawStep::Voltage(Voltage { window, .. }) => Some((window, Unit::Volt)),
            RawStep::ResidualTrip(ResidualTrip { window, .. }) => Some((window, Unit::Second)),
            _ => None,
        }
    }

    /// The times that a step names.
    pub(super) fn timings(&self) -> [&RawTiming; 2] {
        match self {
            RawStep::Voltage(Voltage { within, after, .. })
            | RawStep::Lever(Lever { within, after, .. })
            | RawStep::Pin(Pin { within, after, .. })
            | RawStep::Runs(Runs { within, after, .. })
            | RawStep::Warm(Warm { within, after, .. })
            | RawStep::ZoneMap(ZoneMap { within, after, .. }) => [within, after],
            RawStep::ResidualTrip(ResidualTrip { after, .. }) | RawStep::Loop(Loop { after, .. }) => [&None, after],
            _ => [&None, &None],
        }
    }

    /// The steps inside a group that stands in the same file.
    pub(super) fn inside(&self) -> &[Located<RawStep>] {
        match self {
            RawStep::EachCore(steps)
            | RawStep::EachLink(steps)
            | RawStep::EachPair(steps)
            | RawStep::EachZone(steps)
            | RawStep::EachSupply(steps)
            | RawStep::Together(steps)
            | RawStep::AnyOrder(steps)
            | RawStep::If(_, steps) => steps,
            _ => &[],
        }
    }
}
