//! The plan: a sequence bound to a job as concrete steps, the tables of their order, and the place as hands leave it.

mod act;

mod solved;
mod step;
pub mod tables;
mod hands;

pub use act::{Act, Isolating};
pub use hands::{Hands, SetUp, Supply};
pub use solved::Solved;
pub use step::{
    Came, Condition, FedFrom, Kind, Look, Measure, Plan, Point, Probes, Stage, Step, Subject, Then, Timing, WindowRule,
};
pub use tables::{
    CLOSING_LIVE, Class, Earlier, ISOLATE_FIRST, NEEDS, Need, Of, SPREADS, Spread, TAKEN_OUT, charges, closing_needs,
    ends_on, finds, goes_back_to, is_arranged, is_null, may_follow, need, needs, of, proves_earth, proves_indicator,
    reads_as_set, shows_dark, shows_parted, subtracts, switches, takes_off, touchable, waits_for_charge,
};
