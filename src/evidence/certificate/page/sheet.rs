//! The figures of one circuit in the order in which the trade's forms ask for them, to be copied by a person.
//!
//! The rule inside: a figure that this proof does not have is said to be missing and never filled in.

use super::fact::{Fact, fact};
use super::pick::{Cell, When, Worst, figure_of, together};
use super::results::{Headings, test_voltage, worked_loop};
use super::words::{Clock, amount};
use crate::job::{Job, Purpose};
use crate::judge::earth_loop::device_limit;
use crate::judge::window::Outcome;
use crate::plan::{Kind, Subject};
use crate::run::fold::Run;
use crate::value::reading::{Function, Multiple};

const NOT_STATED: &str = "not stated";
const NOT_PART: &str = "not part of this proof";

/// Each figure under the words of the wiring rules.
pub(super) fn lines(run: &Run) -> Vec<Fact> {
    let headings = Headings::of(run);
    let mut lines = head_lines(run);
    lines.extend(device_lines(&run.plan.job));
    lines.extend(test_lines(run, &headings));
    lines.extend(protection_lines(run, &headings));
    let job = &run.plan.job;
    let or_not = |text: &Option<String>| text.clone().unwrap_or_else(|| NOT_STATED.into());
    lines.extend([
        fact("Name", &job.engineer),
        fact("For and on behalf of", or_not(&job.document.firm)),
        fact("Position", or_not(&job.document.position)),
    ]);
    lines
}

fn head_lines(run: &Run) -> Vec<Fact> {
    let job = &run.plan.job;
    let clock = Clock::of(run);
    let closed = run
        .ending
        .as_ref()
        .map_or("not closed".into(), |(_, at)| clock.day(*at));
    vec![
        fact("Description of the work", format!("{}, {}", job.cable, job.place.part)),
        fact("Date completed", closed),
        fact("Departures from the wiring rules", NOT_STATED),
        fact("System earthing", job.supply.earthing.trim()),
        fact(
            "Zdb, earth fault loop impedance where the circuit begins",
            job.supply.ze.as_ref().map_or(NOT_STATED.into(), |ze| {
                format!("{} at the near end, as the job states", amount(ze))
            }),
        ),
        fact("Earthing conductor", NOT_STATED),
        fact("Main protective bonding: water, gas, oil, other", NOT_STATED),
        fact(
            "Distribution board, circuit",
            job.document.circuit.as_deref().unwrap_or(NOT_STATED),
        ),
        fact("Conductors, live and protective", conductors(job)),
    ]
}

fn conductors(job: &Job) -> String {
    let sizes = |earth: bool| {
        let mut sizes: Vec<String> = Vec::new();
        for core in job
            .cores
            .iter()
            .filter(|core| (core.carries == Purpose::Earth) == earth)
        {
            let size = amount(&core.size);
            if !sizes.contains(&size) {
                sizes.push(size);
            }
        }
        if sizes.is_empty() {
            "none".into()
        } else {
            sizes.join(", ")
        }
    };
    format!("{} and {}", sizes(false), sizes(true))
}

/// The overcurrent and the residual-current device.
pub(super) fn device_lines(job: &Job) -> Vec<Fact> {
    let supply = &job.supply;
    let (standard, kind) = match supply.protection.as_ref().map(|device| device.device.as_str()) {
        None => (NOT_STATED, NOT_STATED),
        Some(name) if name.starts_with("type ") => (NOT_STATED, &name["type ".len()..]),
        // a standard's number, and behind it the type where its table has several
        Some(name) => match name.match_indices(' ').nth(1) {
            Some((at, _)) => (&name[..at], &name[at + 1..]),
            None => (name, NOT_STATED),
        },
    };
    let or_not = |stated: Option<&crate::value::quantity::Amount>| stated.map_or(NOT_STATED.into(), amount);
    let rating = supply.protection.as_ref().map(|device| &device.rating);
    vec![
        fact("Overcurrent device, standard", standard),
        fact("Overcurrent device, type", kind),
        fact("Overcurrent device, rated current", or_not(rating)),
        fact(
            "Residual-current device, rated residual operating current",
            or_not(supply.residual.as_ref()),
        ),
    ]
}

fn worded(cell: Option<Cell>) -> String {
    match cell {
        None => NOT_PART.into(),
        Some(cell) if cell.outcome == Outcome::Pass => cell.text,
        Some(cell) => format!("{} ({})", cell.text, cell.verdict),
    }
}

fn test_lines(run: &Run, headings: &Headings) -> Vec<Fact> {
    let figure = |steps: &[usize], which| worded(figure_of(run, steps, which, When::Left));
    let insulation = [&headings.live_to_live, &headings.live_to_earth];
    let volts = insulation
        .into_iter()
        .flatten()
        .find_map(|step| test_voltage(super::pick::measure(run, *step)?));
    let polarity = match together(run, &headings.polarity, When::Left) {
        _ if headings.polarity.is_empty() => NOT_PART.into(),
        Outcome::Pass => "confirmed".into(),
        other => other.word().to_owned(),
    };
    let mut lines = vec![
        fact("R1+R2", figure(&headings.line_and_earth, Worst::Highest)),
        fact("R2", figure(&headings.earth, Worst::Highest)),
        fact(
            "Ring final circuit: line to line, neutral to neutral, cpc to cpc",
            NOT_PART,
        ),
        fact(
            "Insulation resistance, test voltage",
            volts.unwrap_or_else(|| NOT_PART.into()),
        ),
        fact(
            "Insulation resistance, live to live",
            figure(&headings.live_to_live, Worst::Lowest),
        ),
        fact(
            "Insulation resistance, live to earth",
            figure(&headings.live_to_earth, Worst::Lowest),
        ),
    ];
    // at another voltage than the lines before it
    if let Some(volts) = headings
        .to_mains
        .first()
        .and_then(|step| test_voltage(super::pick::measure(run, *step)?))
    {
        lines.push(fact(
            "Insulation resistance, extra-low voltage to mains in the same box",
            format!("{} at {volts}", figure(&headings.to_mains, Worst::Lowest)),
        ));
    }
    lines.push(fact("Polarity", polarity));
    lines
}

fn protection_lines(run: &Run, headings: &Headings) -> Vec<Fact> {
    let job = &run.plan.job;
    let measured = figure_of(run, &headings.earth_loop, Worst::Highest, When::Left);
    let zs = match (measured, worked_loop(run, headings)) {
        (Some(cell), _) => format!("{} measured", worded(Some(cell))),
        (None, Some((sum, _))) => format!("{} worked out, not measured", amount(&sum)),
        (None, None) => NOT_PART.into(),
    };
    let limit = job
        .supply
        .protection
        .as_ref()
        .and_then(|device| device_limit(&job.limits, &job.supply.nominal, device, job.supply.disconnection).ok());
    let trip = |wanted: Multiple| {
        let of = |step: &&usize| {
            super::pick::measure(run, **step).is_some_and(|m| m.used.function == Function::ResidualTrip(wanted))
        };
        let steps: Vec<usize> = headings.trips.iter().filter(of).copied().collect();
        worded(figure_of(run, &steps, Worst::Highest, When::Left))
    };
    vec![
        fact("Zs, maximum of the circuit", zs),
        fact(
            "Zs, greatest permitted for the device",
            limit.map_or(NOT_STATED.into(), |limit| amount(&limit.limit)),
        ),
        fact(
            "Residual-current device, disconnection time at rated current",
            trip(Multiple::Once),
        ),
        fact(
            "Residual-current device, at five times rated current",
            trip(Multiple::FiveTimes),
        ),
        fact("Residual-current device, test button", button(run)),
        fact("Arc fault detection device, test button", NOT_PART),
        fact("Surge protective device, functionality", NOT_PART),
    ]
}

/// What pressing the device's own test button came to.
fn button(run: &Run) -> String {
    let is_button = |step: &usize| match &run.plan.steps[*step].kind {
        Kind::Look(look) => matches!(&look.subject, Subject::Thing(thing) if thing.contains("test button")),
        _ => false,
    };
    let mut steps = (0..run.plan.steps.len()).filter(is_button);
    match steps.next().map(|step| run.verdict(step).outcome) {
        None => NOT_PART.into(),
        Some(Outcome::Pass) => "operates".into(),
        Some(other) => other.word().into(),
    }
}
