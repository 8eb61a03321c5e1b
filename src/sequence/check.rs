//! From the texts of a sequence and its parts to a checked sequence, with every error of meaning at once.
//!
//! The rule inside: files are walked as they include each other, so a name is one name across all of them; the walk is bounded,
//! whatever includes whatever.

use std::collections::BTreeMap;

use super::any_order;
use super::inside::Inside;
use super::moving::Moving;
use super::raw::{
    Continuity, Identify, OthersOpen, RawAct, RawCondition, RawException, RawNeed, RawSequence, RawStated, RawStep,
    RawThen, RawTime, RawWindow, ResidualTrip, Voltage, ZoneMap,
};
use super::say::{PLACEHOLDERS, unknown_placeholder};
use super::together;
use super::{expression, raw};
use crate::job::Purpose;
use crate::located::{self, Finding, Findings, Located, Problem, Problems, Text};
use crate::model::library;
use crate::proof::STEPS_MAX;
use crate::value::quantity::Unit;

/// The version of the sequence format that this program reads.
pub const FORMAT: &str = "1.1";

/// A sequence whose every step is sound in itself; binding finds what depends on the job.
#[derive(Debug)]
pub struct Sequence {
    /// The sequence's file first, then the parts that it includes.
    pub texts: Vec<Text>,
    /// By which records and messages call it: `stat-cable`.
    pub name: String,
    /// What it proves, as its file says.
    pub title: String,
    /// Kinds of fault that it promises to find.
    pub promises: Vec<String>,
    /// Faults of those kinds that it does not find, with the reason.
    pub exceptions: Vec<(String, String)>,
    /// Figures that the job must give, by file.
    pub(super) needs: Vec<(usize, RawNeed)>,
    /// The steps of each text.
    pub(super) files: Vec<Vec<Located<RawStep>>>,
}

/// Reads and checks a sequence: the first text is the sequence, the others are the parts under the names by which they are
/// included. The error holds every problem found, each in its file.
///
/// # Panics
/// Where there is no text at all.
pub fn read(texts: &[Text]) -> Result<Sequence, Findings> {
    let mut findings = Findings::default();
    let mut raws: Vec<Option<RawSequence>> = Vec::new();
    for text in texts {
        // what a mended text would say of its own steps is not said: a step that cannot be read is missing everywhere else
        let raw = located::read_all(&text.text, |raw: RawSequence| Ok(raw));
        let raw = raw.map_err(|problems| findings.extend(problems.iter().map(|one| text.finding(one.clone()))));
        raws.push(raw.ok());
    }
    let mut check = Check {
        texts,
        raws: &raws,
        findings,
        names: BTreeMap::new(),
        references: Vec::new(),
        stack: vec![0],
        steps: 0,
    };
    for (at, raw) in raws.iter().enumerate() {
        if let Some(raw) = raw {
            check.head(at, raw);
        }
    }
    if let Some(raw) = &raws[0] {
        check.steps(&raw.steps, Inside::default());
    }
    check.references();
    let mut findings = check.findings;
    if !findings.is_empty() {
        let file = |finding: &Finding| texts.iter().position(|text| *text == finding.text);
        findings.sort_by_key(|finding| (file(finding), finding.problem.span.start));
        return Err(findings);
    }
    let mut sequence = Sequence {
        texts: texts.to_vec(),
        name: String::new(),
        title: String::new(),
        promises: Vec::new(),
        exceptions: Vec::new(),
        needs: Vec::new(),
        files: Vec::new(),
    };
    for (at, raw) in raws.into_iter().enumerate() {
        let raw = raw.expect("read without a finding");
        if at == 0 {
            (sequence.name, sequence.title) = (raw.name.value, raw.title.value);
        }
        sequence
            .promises
            .extend(raw.promises.into_iter().map(|kind| kind.value));
        let pair = |exception: RawException| (exception.fault.value, exception.reason.value);
        sequence.exceptions.extend(raw.exceptions.into_iter().map(pair));
        sequence.needs.extend(raw.needs.into_iter().map(|need| (at, need)));
        sequence.files.push(raw.steps);
    }
    sequence.promises.sort();
    sequence.promises.dedup();
    Ok(sequence)
}

struct Check<'a> {
    texts: &'a [Text],
    raws: &'a [Option<RawSequence>],
    findings: Findings,
    /// Names of steps with their places in the order in which they are walked.
    names: BTreeMap<&'a str, usize>,
    /// The file, the place, the step it speaks of and how many steps stand before it.
    references: Vec<(usize, std::ops::Range<usize>, &'a str, usize)>,
    /// The files that are being walked, each inside the one before.
    stack: Vec<usize>,
    steps: usize,
}

impl<'a> Check<'a> {
    fn at(&self) -> usize {
        *self.stack.last().expect("the sequence itself is always there")
    }

    fn say(&mut self, problem: Problem) {
        self.say_at(self.at(), problem);
    }

    fn say_at(&mut self, at: usize, problem: Problem) {
        self.findings.push(self.texts[at].finding(problem));
    }

    fn head(&mut self, at: usize, raw: &RawSequence) {
        let mut problems = Problems::default();
        crate::job::check_format(&raw.format, FORMAT, "sequence", &mut problems);
        if raw.steps.is_empty() {
            let what = format!("the sequence `{}` has no steps", raw.name.value);
            problems.push(Problem::new(&raw.name.span, what));
        }
        self.promises(raw, &mut problems);
        self.findings.append(self.texts[at].findings(problems));
    }

    fn steps(&mut self, steps: &'a [Located<RawStep>], inside: Inside) {
        for step in steps {
            self.steps += 1;
            if self.steps == STEPS_MAX + 1 {
                let what = format!("the sequence has more than {STEPS_MAX} steps with everything it includes");
                self.say(
                    Problem::new(&step.span, what)
                        .hint("nobody walks as many: look for a file that is included again and again"),
                );
            }
            if STEPS_MAX < self.steps {
                return;
            }
            match &step.value {
                RawStep::EachCore(steps) => {
                    self.group(step, "EachCore", inside.cores());
                    self.steps(steps, Inside { core: true, ..inside });
                }
                RawStep::EachLink(steps) => {
                    self.group(step, "EachLink", inside.cores());
                    self.steps(steps, Inside { link: true, ..inside });
                }
                RawStep::EachPair(steps) => {
                    self.group(step, "EachPair", inside.cores());
                    self.steps(steps, Inside { pair: true, ..inside });
                }
                RawStep::EachZone(steps) => {
                    self.group(step, "EachZone", inside.zone);
                    self.steps(steps, Inside { zone: true, ..inside });
                }
                RawStep::EachSupply(steps) => {
                    self.group(step, "EachSupply", inside.supply || inside.zone || inside.cores());
                    self.steps(steps, Inside { supply: true, ..inside });
                }
                RawStep::Together(steps) => {
                    if inside.together {
                        self.say(Problem::new(&step.span, "`Together` stands inside `Together`"));
                    }
                    let together = true;
                    self.steps(steps, Inside { together, ..inside });
                }
                RawStep::AnyOrder(steps) => self.any_order(step, steps, inside),
                RawStep::If(condition, _) if inside.any_order && condition.value.is_of_run() => {
                    let what =
                        "what stands in `AnyOrder` depends on no other step: it may be read first, or not at all";
                    self.say(Problem::new(&condition.span, what).hint("put the condition outside `AnyOrder`"));
                }
                RawStep::If(condition, steps) => {
                    self.condition(condition, &condition.value);
                    self.steps(steps, inside);
                }
                RawStep::Include(name) => self.include(name, inside),
                _ => self.step(step, inside),
            }
        }
    }

    fn any_order(&mut self, step: &'a Located<RawStep>, steps: &'a [Located<RawStep>], inside: Inside) {
        let group = if inside.together { "Together" } else { "AnyOrder" };
        if inside.together || inside.any_order {
            self.say(Problem::new(&step.span, format!("`AnyOrder` stands inside `{group}`")));
        }
        if steps.is_empty() {
            self.say(Problem::new(&step.span, "`AnyOrder` holds no reading"));
        }
        let any_order = true;
        self.steps(steps, Inside { any_order, ..inside });
    }

    fn group(&mut self, step: &Located<RawStep>, word: &str, within_its_like: bool) {
        if within_its_like {
            let like = match word {
                "EachZone" => word,
                "EachSupply" => "another group",
                _ => "EachCore`, `EachLink` or `EachPair",
            };
            self.say(Problem::new(&step.span, format!("`{word}` stands inside `{like}`")));
        }
    }

    fn include(&mut self, name: &'a Located<String>, inside: Inside) {
        let found = (1..self.texts.len()).find(|&at| self.texts[at].name == name.value);
        let Some(found) = found else {
            let what = format!("there is no file `{}` to include", name.value.escape_debug());
            let hint = "name it as it lies from the sequence's folder, for example `parts/isolate.ron`";
            return self.say(Problem::new(&name.span, what).hint(hint));
        };
        if let Some(from) = self.stack.iter().position(|&there| there == found) {
            let mut ring: Vec<_> = self.stack[from..]
                .iter()
                .map(|&at| self.texts[at].name.as_str())
                .collect();
            ring.push(&name.value);
            let what = format!("`{}` includes itself: {}", name.value, ring.join(" > "));
            return self.say(Problem::new(&name.span, what));
        }
        if let Some(raw) = &self.raws[found] {
            self.stack.push(found);
            self.steps(&raw.steps, inside);
            self.stack.pop();
        }
    }

    fn condition(&mut self, at: &Located<RawCondition>, condition: &'a RawCondition) {
        match condition {
            RawCondition::Not(inner) => self.condition(at, inner),
            RawCondition::HasCore(purpose) | RawCondition::HasTerminal(_, purpose) => self.purpose(&at.span, purpose),
            RawCondition::Passed(step)
            | RawCondition::Failed(step)
            | RawCondition::Low(step)
            | RawCondition::Saw(step, _) => {
                self.refers(&at.span, step);
            }
            _ => {}
        }
    }

    fn refers(&mut self, span: &std::ops::Range<usize>, step: &'a str) {
        self.references.push((self.at(), span.clone(), step, self.names.len()));
    }

    fn step(&mut self, step: &'a Located<RawStep>, inside: Inside) {
        let common = step.common().expect("groups were taken before");
        let id = common.id;
        if self.names.contains_key(id.as_str()) {
            self.say(Problem::new(&id.span, format!("two steps are called `{}`", id.value)));
        }
        let plain = |c: char| c.is_ascii_lowercase() || c.is_ascii_digit() || c == '-';
        if id.is_empty() || !id.chars().all(plain) {
            let what = format!("`{}` is not a step name", id.value.escape_debug());
            self.say(Problem::new(&id.span, what).hint("use lower-case letters, digits and hyphens"));
        }
        self.text(common.say);
        if let Some(caution) = common.caution {
            self.text(caution);
        }
        for then in common.after_failure.into_iter().flatten() {
            if let RawThen::RepairFrom(step) = &then.value {
                self.refers(&then.span, step);
            }
        }
        if let Some((window, unit)) = step.window() {
            self.window(window, unit);
        }
        if let Some(why) = together::refused(&step.value).filter(|_| inside.together) {
            let what = format!("`{}` cannot be answered together with others: {why}", id.value);
            self.say(Problem::new(&id.span, what).hint("put it outside `Together`"));
        }
        if let Some(why) = any_order::refused(&step.value).filter(|_| inside.any_order) {
            let what = format!("`{}` cannot stand in `AnyOrder`: {why}", id.value);
            self.say(Problem::new(&id.span, what).hint("put it outside `AnyOrder`"));
        }
        self.timings(step);
        let place = self.names.len();
        self.names.entry(id).or_insert(place);
        self.meaning(&step.value, inside);
    }

    fn text(&mut self, text: &Located<String>) {
        if let Some(name) = unknown_placeholder(text) {
            let known: Vec<_> = PLACEHOLDERS.iter().map(|(p, _)| format!("{{{p}}}")).collect();
            let what = format!("`{{{name}}}` is not a placeholder");
            self.say(Problem::new(&text.span, what).hint(format!("known are {}", known.join(" "))));
        }
    }

    fn timings(&mut self, step: &'a RawStep) {
        let [within, after] = step.timings();
        for timing in [within, after].into_iter().flatten() {
            self.refers(&timing.0.span, &timing.0.value);
            match &timing.1 {
                RawTime::Stated { time, source } => {
                    if time.unit != Unit::Second {
                        let what = format!("`{}` is {}, a time is needed here", time.value, time.unit.quantity());
                        self.say(Problem::new(&time.span, what));
                    }
                    self.source(source);
                }
                RawTime::Worked { time, source } => {
                    self.expression(time);
                    self.source(source);
                }
                RawTime::ValveOpens | RawTime::ValveCloses | RawTime::ActuatorOpens | RawTime::ActuatorCloses => {}
            }
        }
        if let (Some(_), Some(after)) = (within, after) {
            self.say(Problem::new(&after.span, "a step has `within` or `after`, not both"));
        }
    }

    fn meaning(&mut self, step: &'a RawStep, inside: Inside) {
        let only_in = |check: &mut Check<'_>, at: &Located<String>, what: &str, group: &str| {
            let what = format!(
                "`{what}` speaks of one {}, which only `{group}` gives",
                group[4..].to_lowercase()
            );
            check.say(Problem::new(&at.span, what));
        };
        match step {
            RawStep::Do(raw::Do { act, .. })
                if matches!(act.value, RawAct::LinkToEarth | RawAct::RemoveLink | RawAct::JoinRest) && !inside.core =>
            {
                let what = format!("`{:?}` speaks of one core, which only `EachCore` gives", act.value);
                self.say(Problem::new(&act.span, what));
            }
            RawStep::OthersOpen(OthersOpen { id, .. }) if !inside.linked() => {
                only_in(self, id, "OthersOpen", "EachCore")
            }
            RawStep::Identify(Identify { id, .. }) if !inside.core => only_in(self, id, "Identify", "EachCore"),
            RawStep::ZoneMap(ZoneMap { id, .. }) if !inside.zone => only_in(self, id, "ZoneMap", "EachZone"),
            RawStep::Insulation(raw::Insulation {
                id,
                between: raw::Between::ThisPair,
                ..
            }) if !inside.pair => {
                only_in(self, id, "ThisPair", "EachPair");
            }
            RawStep::Insulation(raw::Insulation { id, between, .. })
                if matches!(between, raw::Between::ThisAndRest | raw::Between::ThisAndEach) && !inside.core =>
            {
                only_in(self, id, &format!("{between:?}"), "EachCore");
            }
            RawStep::EarthContinuity(raw::EarthContinuity {
                id,
                end: crate::job::End::Far,
                incoming: true,
                ..
            }) => {
                let what = "the earth of the building comes in at the near end";
                self.say(Problem::new(&id.span, what).hint("write `end: Near`, or leave `incoming` out"));
            }
            RawStep::Continuity(Continuity { id, core: None, .. }) if !inside.linked() => {
                let hint = "add `core: \"switched live\"` or put it in `EachCore`";
                self.say(Problem::new(&id.span, "this continuity step names no core").hint(hint));
            }
            RawStep::Continuity(Continuity { core: Some(core), .. }) if inside.linked() => {
                let what = "the core is given twice, here and by its group";
                self.say(Problem::new(&core.span, what));
            }
            RawStep::Voltage(Voltage { between, .. }) => {
                for one in [&between.0, &between.1] {
                    self.text(one);
                }
            }
            RawStep::Lever(raw::Lever { expect, .. }) => self.one_of(expect, Moving::Lever.words()),
            RawStep::Pin(raw::Pin { expect, .. }) => self.one_of(expect, Moving::Pin.words()),
            RawStep::Runs(raw::Runs { expect, .. }) => self.one_of(expect, Moving::Load.words()),
            RawStep::Warm(raw::Warm { expect, .. }) => self.one_of(expect, Moving::Warmth.words()),
            RawStep::Loop(raw::Loop { line: Some(line), .. })
            | RawStep::ResidualTrip(ResidualTrip { line: Some(line), .. }) => {
                self.purpose(&line.span, line);
            }
            RawStep::Classify(raw::Classify { open, closed, .. }) => {
                self.text(open);
                self.text(closed);
            }
            _ => {}
        }
    }

    fn one_of(&mut self, word: &Located<String>, known: [&str; 2]) {
        if !known.contains(&word.as_str()) {
            let known: Vec<_> = known.iter().map(|word| format!("`{word}`")).collect();
            let what = format!("`{}` is none of {}", word.value.escape_debug(), known.join(", "));
            self.say(Problem::new(&word.span, what));
        }
    }

    fn purpose(&mut self, span: &std::ops::Range<usize>, text: &str) {
        if Purpose::parse(text).is_none() {
            let known: Vec<_> = Purpose::ALL.iter().map(|p| format!("`{}`", p.words())).collect();
            let what = format!("`{text}` is not what a terminal can be for");
            self.say(Problem::new(span, what).hint(format!("known are {}", known.join(", "))));
        }
    }

    fn source(&mut self, source: &Located<String>) {
        if source.trim().is_empty() {
            self.say(
                Problem::new(&source.span, "a figure without a source cannot judge a reading")
                    .hint("name the standard and clause, or write `common practice`"),
            );
        }
    }

    fn expression(&mut self, text: &Located<String>) {
        if let Err(what) = expression::parse(text) {
            self.say(Problem::new(&text.span, what).hint(expression::HINT));
        }
    }

    fn window(&mut self, window: &Located<RawWindow>, unit: Unit) {
        let fits = match &window.value {
            RawWindow::Cable
            | RawWindow::CableOrPair
            | RawWindow::OpenCircuit
            | RawWindow::OpenCore
            | RawWindow::LeadResistance
            | RawWindow::InsulationMinimum
            | RawWindow::LoopMaximum
            | RawWindow::LoopExpected => unit == Unit::Ohm,
            RawWindow::TripTime => unit == Unit::Second,
            RawWindow::SupplyVoltage | RawWindow::LoadVoltage | RawWindow::VoltageAbsent => unit == Unit::Volt,
            RawWindow::Stated(stated) => {
                self.stated(window, stated, unit);
                true
            }
            RawWindow::Worked(worked) => {
                let edges: Vec<_> = [&worked.low, &worked.high].into_iter().flatten().collect();
                if edges.is_empty() {
                    self.say(Problem::new(&window.span, "the window has no edges").hint("give `low`, `high` or both"));
                }
                edges.into_iter().for_each(|edge| self.expression(edge));
                self.source(&worked.source);
                true
            }
        };
        if !fits {
            let what = format!("this window does not judge {}", unit.quantity());
            self.say(Problem::new(&window.span, what));
        }
    }

    fn stated(&mut self, window: &Located<RawWindow>, stated: &RawStated, unit: Unit) {
        let edges: Vec<_> = [&stated.low, &stated.high].into_iter().flatten().collect();
        for edge in &edges {
            if edge.unit != unit {
                let what = format!(
                    "`{}` is {}, this step measures {}",
                    edge.value,
                    edge.unit.quantity(),
                    unit.quantity()
                );
                self.say(Problem::new(&edge.span, what).hint(format!("write the edge in `{unit}`")));
            }
        }
        if edges.is_empty() {
            self.say(Problem::new(&window.span, "the window has no edges").hint("give `low`, `high` or both"));
        }
        if let (Some(low), Some(high)) = (&stated.low, &stated.high)
            && low.unit == high.unit
            && high.value.value() < low.value.value()
        {
            let what = format!(
                "the lower edge `{}` is above the upper edge `{}`",
                low.value, high.value
            );
            self.say(Problem::new(&window.span, what).hint("swap `low` and `high`"));
        }
        self.source(&stated.source);
    }

    /// Every time, condition and way back speaks of a step that stands before it.
    fn references(&mut self) {
        for (at, span, step, before) in std::mem::take(&mut self.references) {
            let problem = match self.names.get(step) {
                Some(&there) if there < before => continue,
                Some(_) => format!("the step `{step}` does not come before this one"),
                None => format!("no step is called `{}`", step.escape_debug()),
            };
            self.say_at(at, Problem::new(&span, problem));
        }
    }
}

impl Check<'_> {
    /// A promise is about a kind of fault that is known, an exception about a promise, and it has a reason.
    fn promises(&self, raw: &RawSequence, problems: &mut Problems) {
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
            let all = self.raws.iter().flatten().flat_map(|raw| &raw.promises);
            if !all.into_iter().any(|promised| promised.as_str() == kind) {
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
}
