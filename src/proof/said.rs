//! What facts about earths and about what is live say, to follow "not shown: ".

use super::fact::Fact;
use crate::job::{End, Job};
use crate::plan::Point;

/// What a fact about an earth and its conductor says.
pub(super) fn earth_words(fact: Fact, job: &Job) -> String {
    let conductor = |end: End| Point::earth_conductor(job, end).words(job);
    match fact {
        Fact::IncomingEarth => format!("the earth that comes in at the {} is proved", job.near.name),
        Fact::EarthsBack => "each earth conductor is in its terminal".into(),
        Fact::EarthGripped(end) => format!(
            "{} reads to the terminal that it is in, which metalwork touches",
            conductor(end)
        ),
        Fact::Earthed(end) if job.metal_beside_earth(end).is_some() => format!(
            "{}, read by itself off the terminal that metalwork touches, is joined to the main earthing terminal as it is left",
            conductor(end)
        ),
        Fact::Earthed(end) => format!(
            "the earth terminal at the {} is joined to the main earthing terminal as it is left",
            job.end(end).name
        ),
        other => unreachable!("{other:?} is told elsewhere"),
    }
}

/// What a fact of the live stage says.
pub(super) fn live_words(fact: Fact, job: &Job) -> String {
    match fact {
        Fact::Fed(end, purpose) => format!("line stands against {} at the {}", purpose.words(), job.end(end).name),
        Fact::PairFed => "the pair's own voltage stands between its poles".into(),
        Fact::PoleClear(pole) => {
            let which = ["first", "second"][pole];
            format!("no mains stands between the {which} pole of the pair and earth")
        }
        Fact::Driven(control) => {
            let controls = job.controls();
            format!("what `{}` drives follows it and no other", controls[control])
        }
        Fact::Energised => "the supply is switched on".into(),
        other => unreachable!("{other:?} is no fact of the live stage"),
    }
}
