//! The pairs of points that must be dark before hands go near, and those of a neutral once it is parted.
//!
//! The rule inside: which pairs there are follows from the job and from the earth that an end is proved against, never from the sequence.

use crate::job::{End, Job, Purpose};
use crate::plan::{Neutral, Point};

/// The pairs that must be dark at one end: line, neutral and earth against each other, every core and every terminal without a
/// core against earth and neutral, except where the reference itself is meant. Proved dead against the long lead, the earth terminal is a
/// terminal like the others. Where an end has neither earth nor neutral of its own, a voltage between the cores shows in no other pair,
/// so each is tested against the core that it is measured through; and so does the voltage of a control pair, pole to pole, which earth
/// need not bind.
pub(super) fn dark_pairs(job: &Job, end: End, through: Option<&str>, by_lead: bool) -> Vec<(Point, Point)> {
    let at = job.end(end);
    let terminal = |purpose| at.terminal_for(purpose).map(|t| t.name.clone());
    let point = |terminal: &String| Point::Terminal {
        terminal: terminal.clone(),
        end,
    };
    let line = terminal(Purpose::PermanentLive).or_else(|| terminal(Purpose::SwitchedLive));
    let (own_earth, neutral) = (terminal(Purpose::Earth), terminal(Purpose::Neutral));
    let earth = own_earth.clone().filter(|_| !by_lead);
    let earth_point = earth.as_ref().map_or(Point::long_lead(job), point);
    let mut references = vec![(earth, earth_point)];
    references.extend(neutral.as_ref().map(|n| (neutral.clone(), point(n))));
    let mut pairs = Vec::new();
    for (_, reference) in &references {
        pairs.extend(line.as_ref().map(|line| (reference.clone(), point(line))));
    }
    if let [(_, earth), (_, neutral)] = references.as_slice() {
        pairs.push((earth.clone(), neutral.clone()));
    }
    let takes = |name: &str| {
        at.terminals
            .iter()
            .find(|there| there.name == name)
            .map(|there| there.takes)
    };
    let mut against = |name: &String, there: Point| {
        for (reference, reference_point) in &references {
            // terminals of one purpose are one strip: nothing shows between two of them
            let is_strip = reference
                .as_ref()
                .is_some_and(|reference| takes(reference) == takes(name));
            if !is_strip {
                pairs.push((reference_point.clone(), there.clone()));
            }
        }
    };
    let core = |core: &str| Point::Core {
        core: core.to_owned(),
        end,
    };
    for there in &job.cores {
        against(&there.terminal(end).to_owned(), core(&there.name));
    }
    for terminal in &at.terminals {
        let is_reference = references.iter().any(|(name, _)| name.as_ref() == Some(&terminal.name));
        let has_core = job.cores.iter().any(|core| core.terminal(end) == terminal.name);
        if !is_reference && !has_core && line.as_ref() != Some(&terminal.name) {
            against(&terminal.name, point(&terminal.name));
        }
    }
    if let (None, None, Some(through)) = (&own_earth, &neutral, through) {
        let others = job.cores.iter().filter(|other| other.name != through);
        pairs.extend(others.map(|other| (core(through), core(&other.name))));
    }
    let poles = job.control_poles().map(|poles| poles.map(core)).filter(|[a, b]| {
        let is = |(c, d): &(Point, Point)| (c, d) == (a, b) || (d, c) == (a, b);
        !pairs.iter().any(is)
    });
    pairs.extend(poles.map(<(Point, Point)>::from));
    pairs
}

/// The pairs that must be dark once a neutral is off its terminal: against earth and line, of the cable the core and its terminal, of the supply the
/// terminal that it leaves. An earth that comes through the cable, to the far end or from metal there, is off with it, so there the long lead is taken.
pub(super) fn parted_pairs(job: &Job, of: Neutral, by_lead: bool) -> Vec<(Neutral, Point, Point)> {
    let end = of.end();
    let at = job.end(end);
    let point = |name: &str| Point::Terminal {
        terminal: name.to_owned(),
        end,
    };
    let through_cable = match of {
        Neutral::OfCable(End::Far) => job.core_for(Purpose::Earth).is_some(),
        Neutral::OfCable(End::Near) => job.metal_beside_earth(End::Far).is_some(),
        Neutral::OfSupply => false,
    };
    let own = at.terminal_for(Purpose::Earth).filter(|_| !by_lead && !through_cable);
    let earth = own.map_or(Point::long_lead(job), |earth| point(&earth.name));
    let references: Vec<Point> = std::iter::once(earth).chain(of.line_to_try(job)).collect();
    let neutrals = job.cores.iter().filter(|core| core.carries == Purpose::Neutral);
    let points: Vec<Point> = match of {
        Neutral::OfCable(_) => neutrals
            .flat_map(|core| {
                let bare = Point::Core {
                    core: core.name.clone(),
                    end,
                };
                [bare, point(core.terminal(end))]
            })
            .collect(),
        Neutral::OfSupply => {
            let left = at.terminal_for(Purpose::Neutral);
            left.map(|left| point(&left.name)).into_iter().collect()
        }
    };
    let pairs = points.into_iter().flat_map(|there| {
        let against = references.iter();
        against
            .map(|reference| (of, reference.clone(), there.clone()))
            .collect::<Vec<_>>()
    });
    pairs.collect()
}
