//! The plan: a sequence bound to a job as concrete steps, the tables of their order, and the place as hands leave it.

mod point;
mod act;
mod reason;

mod solved;
mod step;
pub mod tables;
mod hands;
mod linking;
mod stand;
mod touch;
mod effort;

pub use act::{Act, Isolating, Neutral};
pub use effort::{Effort, hands_of};
pub use hands::{Hands, SetUp, Supply};
pub use linking::{has_earth_core_at_far_end, turns};
pub use point::{Leads, Point, Probes};
pub use reason::Reason;
pub use solved::Solved;
pub use stand::{Stand, of_covers};
pub use step::{
    Came, Condition, FedFrom, Kind, Lock, Look, Measure, Plan, Stage, Step, Subject, Then, Timing, WindowRule,
};
pub use tables::{
    CLOSING_LIVE, Class, Earlier, ISOLATE_FIRST, NEEDS, Need, Of, Rests, SPREADS, Spread, TAKEN_OUT, answers_why,
    charges, clipped_by, closing_needs, done_as_found, ends_on, finds, goes_back_to, is_arranged, is_dead_test,
    is_join, is_null, join_before, joins_after, looks_as_found, may_follow, need, needs, null_of, of, proves_earth,
    proves_indicator, read_through, reads_as_left, reads_as_set, reads_live_as_found, shows_dark, shows_parted,
    subtracts, switches, takes_off, touchable, tried_since_parted, waits_for_charge,
};
pub use touch::{dead_measure, touches};
