//! From the text of a sequence to a checked sequence, with every error of meaning at once.

use super::raw::{RawAct, RawSequence, RawStated, RawStep, RawTime, RawWindow};
use super::say::{PLACEHOLDERS, unknown_placeholder};
use crate::pure::installation::library;
use crate::pure::job::Purpose;
use crate::pure::located::{self, Finding, Located, Problem, Text};
use crate::pure::quantity::Unit;

/// The version of the sequence format that this program reads.
pub const FORMAT: &str = "1.0";

/// A sequence whose every step is sound in itself; binding finds what depends on the job.
#[derive(Debug)]
pub struct Sequence {
    /// The sequence's file first, then the parts that it includes.
    pub texts: Vec<Text>,
    pub name: String,
    pub title: String,
    /// Kinds of fault that it promises to find.
    pub promises: Vec<String>,
    /// Faults of those kinds that it does not find, with the reason.
    pub exceptions: Vec<(String, String)>,
    pub(super) steps: Vec<Located<RawStep>>,
}

/// Reads and checks a sequence; the error holds every problem found.
pub fn read(texts: &[Text]) -> Result<Sequence, Vec<Finding>> {
    let text = &texts[0];
    let raw: RawSequence = located::read(&text.text).map_err(|problem| text.findings(vec![problem]))?;
    let mut problems = Vec::new();
    crate::pure::job::check_format(&raw.format, FORMAT, "sequence", &mut problems);
    if raw.steps.is_empty() {
        problems.push(Problem::new(
            &raw.name.span,
            format!("the sequence `{}` has no steps", raw.name.value),
        ));
    }
    let mut names = Vec::new();
    for step in &raw.steps {
        check_step(step, false, &mut names, &mut problems);
    }
    check_since(&raw.steps, &names, &mut problems);
    check_promises(&raw, &mut problems);
    if problems.is_empty() {
        Ok(Sequence {
            texts: texts.to_vec(),
            name: raw.name.value,
            title: raw.title.value,
            promises: raw.promises.into_iter().map(|kind| kind.value).collect(),
            exceptions: (raw.exceptions.into_iter())
                .map(|exception| (exception.fault.value, exception.reason.value))
                .collect(),
            steps: raw.steps,
        })
    } else {
        problems.sort_by_key(|p| p.span.start);
        Err(text.findings(problems))
    }
}

fn check_step<'a>(step: &'a Located<RawStep>, inside: bool, names: &mut Vec<&'a str>, problems: &mut Vec<Problem>) {
    if let Some(id) = step.id() {
        if names.contains(&id.as_str()) {
            problems.push(Problem::new(&id.span, format!("two steps are called `{}`", id.value)));
        }
        let plain = |c: char| c.is_ascii_lowercase() || c.is_ascii_digit() || c == '-';
        if id.is_empty() || !id.chars().all(plain) {
            let what = format!("`{}` is not a step name", id.value.escape_debug());
            problems.push(Problem::new(&id.span, what).hint("use lower-case letters, digits and hyphens"));
        }
        names.push(id);
    }
    if let Some(say) = step.say()
        && let Some(name) = unknown_placeholder(say)
    {
        let known: Vec<_> = PLACEHOLDERS.iter().map(|p| format!("{{{p}}}")).collect();
        problems.push(
            Problem::new(&say.span, format!("`{{{name}}}` is not a placeholder"))
                .hint(format!("known are {}", known.join(" "))),
        );
    }
    if let Some((window, unit)) = step.window() {
        check_window(window, unit, problems);
    }
    match &step.value {
        RawStep::EachCore(steps) => {
            if inside {
                problems.push(Problem::new(&step.span, "`EachCore` stands inside `EachCore`"));
            }
            for step in steps {
                check_step(step, true, names, problems);
            }
        }
        RawStep::Do { act, .. } if matches!(act.value, RawAct::LinkToEarth | RawAct::RemoveLink) && !inside => {
            problems.push(Problem::new(
                &act.span,
                format!("`{:?}` speaks of one core, which only `EachCore` gives", act.value),
            ));
        }
        RawStep::OthersOpen { id, .. } if !inside => {
            problems.push(Problem::new(
                &id.span,
                "`OthersOpen` speaks of one core, which only `EachCore` gives",
            ));
        }
        RawStep::Continuity { id, core: None, .. } if !inside => problems.push(
            Problem::new(&id.span, "this continuity step names no core")
                .hint("add `core: \"switched live\"` or put it in `EachCore`"),
        ),
        RawStep::Continuity { core: Some(core), .. } if inside => {
            problems.push(Problem::new(
                &core.span,
                "the core is given twice, here and by `EachCore`",
            ));
        }
        RawStep::Loop { line: Some(line), .. } | RawStep::ResidualTrip { line: Some(line), .. } => {
            check_purpose(line, problems);
        }
        RawStep::Voltage {
            between, within, after, ..
        } => {
            for purpose in [&between.0, &between.1] {
                check_purpose(purpose, problems);
            }
            for timing in [within, after].into_iter().flatten() {
                check_time(&timing.1, problems);
            }
            if let (Some(_), Some(after)) = (within, after) {
                problems.push(Problem::new(&after.span, "a step has `within` or `after`, not both"));
            }
        }
        _ => {}
    }
}

fn check_purpose(text: &Located<String>, problems: &mut Vec<Problem>) {
    if Purpose::parse(text).is_none() {
        let known: Vec<_> = Purpose::ALL.iter().map(|p| format!("`{}`", p.words())).collect();
        problems.push(
            Problem::new(
                &text.span,
                format!("`{}` is not what a terminal can be for", text.value),
            )
            .hint(format!("known are {}", known.join(", "))),
        );
    }
}

fn check_time(time: &RawTime, problems: &mut Vec<Problem>) {
    if let RawTime::Stated { time, source } = time {
        if time.unit != Unit::Second {
            problems.push(Problem::new(
                &time.span,
                format!("`{}` is {}, a time is needed here", time.value, time.unit.quantity()),
            ));
        }
        check_source(source, problems);
    }
}

fn check_source(source: &Located<String>, problems: &mut Vec<Problem>) {
    if source.trim().is_empty() {
        problems.push(
            Problem::new(&source.span, "a figure without a source cannot judge a reading")
                .hint("name the standard and clause, or write `common practice`"),
        );
    }
}

fn check_window(window: &Located<RawWindow>, unit: Unit, problems: &mut Vec<Problem>) {
    let fits = match &window.value {
        RawWindow::Cable
        | RawWindow::OpenCore
        | RawWindow::LeadResistance
        | RawWindow::InsulationMinimum
        | RawWindow::LoopMaximum => unit == Unit::Ohm,
        RawWindow::TripTime => unit == Unit::Second,
        RawWindow::SupplyVoltage | RawWindow::VoltageAbsent => unit == Unit::Volt,
        RawWindow::Stated(stated) => {
            check_stated(window, stated, unit, problems);
            true
        }
    };
    if !fits {
        problems.push(Problem::new(
            &window.span,
            format!("this window does not judge {}", unit.quantity()),
        ));
    }
}

fn check_stated(window: &Located<RawWindow>, stated: &RawStated, unit: Unit, problems: &mut Vec<Problem>) {
    let edges: Vec<_> = [&stated.low, &stated.high].into_iter().flatten().collect();
    for edge in &edges {
        if edge.unit != unit {
            let what = format!(
                "`{}` is {}, this step measures {}",
                edge.value,
                edge.unit.quantity(),
                unit.quantity()
            );
            problems.push(Problem::new(&edge.span, what).hint(format!("write the edge in `{unit}`")));
        }
    }
    if edges.is_empty() {
        problems.push(Problem::new(&window.span, "the window has no edges").hint("give `low`, `high` or both"));
    }
    if let (Some(low), Some(high)) = (&stated.low, &stated.high)
        && low.unit == high.unit
        && high.value.value() < low.value.value()
    {
        let what = format!(
            "the lower edge `{}` is above the upper edge `{}`",
            low.value, high.value
        );
        problems.push(Problem::new(&window.span, what).hint("swap `low` and `high`"));
    }
    check_source(&stated.source, problems);
}

/// A promise is about a kind of fault that is known, an exception about a promise, and it has a reason.
fn check_promises(raw: &RawSequence, problems: &mut Vec<Problem>) {
    for kind in &raw.promises {
        if !library::kinds().any(|known| known == kind.as_str()) {
            let known: Vec<_> = library::kinds().map(|kind| format!("`{kind}`")).collect();
            problems.push(
                Problem::new(&kind.span, format!("no kind of fault is called `{}`", kind.value))
                    .hint(format!("known are {}", known.join(", "))),
            );
        }
    }
    for exception in &raw.exceptions {
        let (fault, reason) = (&exception.fault, &exception.reason);
        let kind = fault.split(':').next().unwrap_or_default();
        if !raw.promises.iter().any(|promised| promised.as_str() == kind) {
            let what = format!("`{}` is excepted from a promise that is not made", fault.value);
            problems.push(Problem::new(&fault.span, what).hint("promise its kind, or leave the exception out"));
        }
        if reason.trim().is_empty() {
            problems.push(Problem::new(
                &reason.span,
                format!("`{}` is excepted without a reason", fault.value),
            ));
        }
    }
}

/// Every `within` and `after` speaks of a step that stands before it.
fn check_since(steps: &[Located<RawStep>], names: &[&str], problems: &mut Vec<Problem>) {
    for step in steps {
        let RawStep::Voltage { id, within, after, .. } = &step.value else {
            continue;
        };
        for timing in [within, after].into_iter().flatten() {
            let since = &timing.0;
            let place = |name: &str| names.iter().position(|n| *n == name);
            match (place(since), place(id)) {
                (Some(there), Some(here)) if there < here => {}
                (Some(_), _) => problems.push(Problem::new(
                    &since.span,
                    format!("the step `{}` does not come before this one", since.value),
                )),
                (None, _) => problems.push(Problem::new(
                    &since.span,
                    format!("no step is called `{}`", since.value),
                )),
            }
        }
    }
}
