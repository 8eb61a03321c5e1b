//! One fact: what is known of the supply, the indicator, a conductor or a dead test, and when it is false.

use crate::job::{End, Purpose};
use crate::plan::{Isolating, Reason};

/// One fact; cores are counted as in the job, pairs with the lower number first.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub enum Fact {
    /// It is written down why work is done live on a supply that is on as found.
    Reason(Reason),
    /// What an end of the control pair is was read from its plate.
    Plate(End),
    /// The control pair was read with its contact open.
    ReadOpen,
    /// The control pair was read with its contact closed.
    ReadClosed,
    /// Switched off in this run and not on since.
    SwitchedOff,
    /// Locked off in this run and not unlocked since.
    LockedOff,
    /// The key of the lock is kept on the person.
    KeyKept,
    /// A notice stands at the point of isolation.
    NoticePosted,
    /// What was done at the point of isolation of a further supply of the job and not undone since.
    Further(usize, Isolating),
    /// The earth terminal of an end was lit to line while the supply was on, so that a voltage to it shows. False with that earth
    /// open (`Remove("earth feed")`), or with no line at the end; the indicator then stays dark, from about 50 V less than mains.
    EarthLit(End),
    /// The free end of the long lead was lit to the near end's line while the supply was on. False with the lead's earth open.
    LeadLit,
    /// The indicator lit on the known source, before it is used at this end and nowhere else since.
    ProvedBefore(End),
    /// It lit again, and nothing was tested with it since.
    ProvedAfter,
    /// A pair of points that must be dark, by its place in the list of them.
    Dark(usize),
    /// A pair of points that was dark since the neutral of the cable or of the supply was parted, by its place in the list of them; a proof of
    /// isolation after a break tries the same points as they are. False where another
    /// circuit's load returns through this neutral (`Feed` through a load), from the 50 V at which an indicator lights.
    NeutralDark(usize),
    /// Since the neutral of the cable, parted at this end, was tried, the indicator lit.
    ProvedSince(End),
    /// The indicator lit on the known source since a core was last connected, before the supply's neutral is tested.
    ProvedAnew,
    /// The supply's neutral was not tested since the indicator last lit.
    ProvedAsLeft,
    /// A meter shows no alternating (`false`) or direct (`true`) voltage between a pair of points that must be dark, one of them a
    /// core, where extra-low voltage may be.
    Quiet(usize, bool),
    /// Every core is off its terminal and apart.
    Apart(End),
    /// What the test voltage could damage is off the cores.
    ElectronicsOut,
    /// Nobody can touch the far end.
    FarEndGuarded,
    /// No link that hands put on is on the core.
    LinkOff(usize),
    /// The live cores are not joined.
    Parted,
    /// No clip joins the earth core to the earth of the building.
    ClipOff,
    /// Covers are on at the far end, as it is left, and nobody is at it.
    FarEndCovered,
    /// The supply's neutral is in its terminal at the near end.
    NeutralBack,
    /// The earth core was read through its clip since it was clipped. False where the clip does not bite.
    ClipRead,
    /// It was read through once more after the last insulation reading. False where the clip has let go.
    ClipReadAfter,
    /// The earth that comes in at the near end is joined to the main earthing terminal. False where it is open; for what insulation is
    /// measured to it, from some kilohms.
    IncomingEarth,
    /// The long lead was read from end to end. False where it is broken, which shows as sound insulation.
    LeadRead,
    /// Nothing has charged the cores since they were discharged.
    Discharged,
    /// The continuity of the core was measured, whatever came of it.
    Measured(usize),
    /// The continuity of the core has passed.
    Continuous(usize),
    /// Each core is solved and the return core is like the others, where the length of the cable is not known and it has three cores or more.
    /// Its opposite: a joint of 3 ohm in one of the two that are linked, or in the return core.
    Solved,
    /// A reading that is closed in a turn of the link where one of the two is not linked, or open where one is. The second may be the return
    /// core: told from it by another core's reading, or by the earth of the far end once both ends are connected. False where the two are
    /// crossed, and, where no insulation is measured between them, where they touch.
    ToldApart(usize, usize),
    /// Insulation to the return core.
    ToEarth(usize),
    /// Insulation to the earth of the building. False where the core touches anything that is earthed otherwise than by the cable (a
    /// nail in a pipe, a back box), from 0 ohm to below the least insulation.
    ToBuilding(usize),
    /// Insulation of a core that is not for mains to the mains in the same box at an end. False where it touches a core or a terminal for
    /// mains there, from 0 ohm to below the least insulation.
    ToMains(usize, End),
    /// Insulation between two cores.
    Between(usize, usize),
    /// The earth terminal of an end was read to the main earthing terminal since anything was last connected; where metal touches it, the
    /// conductor itself. False where a clamp does not grip or the conductor is broken, and from 2 ohm in a joint of it.
    Earthed(End),
    /// The earth conductor of an end that metal touches reads to the terminal that it is in, since it was last put in: the metal is in parallel
    /// with its clamp, so no reading of the terminal shows that. False from some tenths of an ohm.
    EarthGripped(End),
    /// No earth conductor is off its terminal.
    EarthsBack,
    /// The core is in the terminal, whose purpose was read and fits.
    Read(usize, End),
    /// The run has switched the supply on and not off since.
    Energised,
    /// Line stands against neutral or earth at an end where the cable carries the line.
    Fed(End, Purpose),
    /// The voltage of an isolated control pair stands between its poles. False where nothing feeds it, and with mains on it.
    PairFed,
    /// No mains stands between a pole of an isolated control pair, the first or the second, and earth. False from a few kilohms to line.
    PoleClear(usize),
    /// What a control drives follows it and no other, by its place in the job's list of controls.
    Driven(usize),
    /// No test has left the residual-current device tripped.
    DeviceOn,
    /// Nothing before here was left without a pass.
    AllPassed,
    /// The run has not switched on what it has not switched off again.
    NothingLeftOn,
}

impl Fact {
    /// Whether what stands between two steps that show it rests on it, parting the far end or a dead test, so that the first of them
    /// counts: those after it wait for that one.
    pub(super) fn is_shown_before_others(self) -> bool {
        matches!(
            self,
            Fact::NeutralDark(_) | Fact::ProvedSince(_) | Fact::ProvedAnew | Fact::IncomingEarth | Fact::LeadRead
        )
    }

    /// Whether the run itself keeps it, from the acts that were done, and no step vouches for it.
    pub fn is_of_place(self) -> bool {
        matches!(
            self,
            Fact::Apart(_)
                | Fact::LinkOff(_)
                | Fact::Parted
                | Fact::ClipOff
                | Fact::NeutralBack
                | Fact::EarthsBack
                | Fact::ClipRead
                | Fact::Discharged
                | Fact::Energised
                | Fact::AllPassed
                | Fact::NothingLeftOn
        )
    }
}
