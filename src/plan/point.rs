//! Where probes go, and by which leads.
//!
//! The rule inside: a point is named once, and said in the words of the job.

use serde::{Deserialize, Serialize};

use crate::job::{End, Job, Purpose};

/// Where a probe goes.
#[derive(Debug, Clone, PartialEq, Eq, PartialOrd, Ord, Serialize)]
pub enum Point {
    /// The bare end of a core.
    Core {
        /// The core, by its name.
        core: String,
        /// At which end.
        end: End,
    },
    /// A terminal, whatever is in it.
    Terminal {
        /// The terminal, by its name.
        terminal: String,
        /// At which end.
        end: End,
    },
    /// The earth conductor that comes in at the near end, itself and not the terminal that it is in.
    EarthComingIn,
    /// All live cores, joined together at the near end.
    JoinedCores,
    /// The live terminals for mains, joined together at the near end.
    JoinedTerminals,
    /// The supply that stays live, for proving the indicator.
    KnownSource,
    /// One tip of the instrument's own leads, for measuring the leads.
    Tip,
    /// The main earthing terminal, by a long lead: what an earth is measured to, and where an end has no earth of its own.
    KnownEarth,
    /// The free end of the long lead, for measuring it.
    LongTip,
    /// The free end of a long lead that is clipped to an earth, for a position whose own earth is not proved.
    LongLead {
        /// The near end's earth terminal under the clip; `None` where the clip is on the main earthing terminal.
        clipped: Option<String>,
    },
}

/// A set of leads; each is measured by itself, and what is measured through it has its own resistance taken off.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, Serialize, Deserialize)]
pub enum Leads {
    /// The tester's own.
    Own,
    /// One of the tester's own and a long one, which reaches the main earthing terminal.
    Long,
}

impl Point {
    /// The free end of the long lead of a job. Where metal touches an earth terminal, the near end's may be earthed by the metal alone, and through
    /// the cable by that of the far end: once cores are off it would be at earth no more, so there the clip is on the main earthing terminal.
    pub fn long_lead(job: &Job) -> Point {
        let by_metal = End::BOTH.iter().any(|end| job.metal_beside_earth(*end).is_some());
        let earth = job.near.terminal_for(Purpose::Earth).filter(|_| !by_metal);
        Point::LongLead {
            clipped: earth.map(|earth| earth.name.clone()),
        }
    }

    /// The end of the cable that the point is at; `None` where a lead brings it there, and for what is at neither.
    pub fn end(&self) -> Option<End> {
        match self {
            Point::Core { end, .. } | Point::Terminal { end, .. } => Some(*end),
            Point::EarthComingIn | Point::JoinedCores | Point::JoinedTerminals => Some(End::Near),
            Point::KnownSource | Point::Tip | Point::LongTip | Point::KnownEarth | Point::LongLead { .. } => None,
        }
    }

    /// The point in the words of a prompt.
    pub fn words(&self, job: &Job) -> String {
        match self {
            Point::Core { core, end } => format!("core {core} at the {}", job.end(*end).name),
            Point::Terminal { terminal, end } => format!("terminal {terminal} at the {}", job.end(*end).name),
            Point::EarthComingIn => format!("the earth conductor that comes in at the {}", job.near.name),
            Point::JoinedCores => format!("the joined cores at the {}", job.near.name),
            Point::JoinedTerminals => format!("the joined terminals at the {}", job.near.name),
            Point::KnownSource => job.supply.known_source.clone(),
            Point::Tip => "the tip of the other lead".into(),
            Point::KnownEarth => "the main earthing terminal, by a long lead".into(),
            Point::LongTip => "the free end of the long lead".into(),
            Point::LongLead { clipped: Some(earth) } => {
                format!("the long lead clipped to terminal {earth} at the {}", job.near.name)
            }
            Point::LongLead { clipped: None } => "the long lead clipped to the main earthing terminal".into(),
        }
    }

    /// The earth of an end that comes from the building: its earth terminal, or the main earthing terminal where it has none.
    pub fn earth_at(job: &Job, end: End) -> Point {
        match job.end(end).terminal_for(Purpose::Earth) {
            Some(terminal) => Point::Terminal {
                terminal: terminal.name.clone(),
                end,
            },
            None => Point::KnownEarth,
        }
    }

    /// The conductor by which an end is earthed, itself: at the near end the one that comes in, at the far end the earth core of the cable,
    /// which is the return core of dead tests.
    pub fn earth_conductor(job: &Job, end: End) -> Point {
        match end {
            End::Near => Point::EarthComingIn,
            End::Far => Point::Core {
                core: job.return_core().name.clone(),
                end,
            },
        }
    }

    /// The earth of the building at the near end, where it comes in.
    pub fn building_earth(job: &Job) -> Point {
        Point::earth_at(job, End::Near)
    }
}

/// A pair of probes; the first goes on first.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
pub struct Probes {
    /// Where the first probe goes.
    pub first: Point,
    /// Where the other probe goes.
    pub second: Point,
}

impl Probes {
    /// The leads that reach both points.
    pub fn leads(&self) -> Leads {
        let long = |point: &Point| matches!(point, Point::KnownEarth | Point::LongTip);
        if long(&self.first) || long(&self.second) {
            Leads::Long
        } else {
            Leads::Own
        }
    }

    /// Whether they are on these two points, either way round.
    pub fn are_on(&self, one: &Point, other: &Point) -> bool {
        (self.first == *one && self.second == *other) || (self.first == *other && self.second == *one)
    }
}
