//! Binding a checked sequence to a checked job: concrete steps with every window worked out.
//!
//! The rule inside: whatever a step refers to and the job lacks is a finding at the step; a plan exists only when there is
//! no finding, and only when its order is sound (see [`crate::proof`]).

use std::collections::BTreeMap;

use super::as_strict;
use super::binder::{Binder, bytes};
use super::check::{self, Sequence};
use super::live::Asked;
use super::moving::Moving;
use super::names::{Around, Names};
use super::raw::{Common, Gate, RawCondition, RawStep, RawThen};
use super::say;
use super::showable;
use crate::job::{End, Job, Purpose};
use crate::limits::Table;
use crate::located::{Finding, Findings, Lines, Located, Problem};
use crate::plan::{Came, Condition, Kind, Lock, Plan, Stage, Step, Then, reads_live_as_found};
use crate::proof;

/// The insulation below which cores are looked into one by one.
const LOOKED_INTO: &str = "insulation looked into below";

/// Binds and proves the order; the error holds every finding, each in the file it is about.
pub fn bind(sequence: &Sequence, job: &Job) -> Result<Plan, Findings> {
    bind_behind(sequence, job, Lock::Own)
}

/// The same for a run that may rest on the lock of an earlier one.
///
/// # Errors
/// As [`bind`]; what asks for the supply to be on where it is locked off before the first step.
pub fn bind_behind(sequence: &Sequence, job: &Job, lock: Lock) -> Result<Plan, Findings> {
    let plan = bind_unproved_behind(sequence, job, lock)?;
    let findings = problems(&plan);
    if findings.is_empty() { Ok(plan) } else { Err(findings) }
}

/// Why a plan that was bound is not walked; nothing where it may be.
pub fn problems(plan: &Plan) -> Findings {
    let live = found_live(plan);
    if !live.is_empty() {
        return live.into_iter().collect();
    }
    let mut findings = say::problems(plan);
    findings.extend(showable::problems(plan));
    findings.extend(as_strict::problems(plan));
    findings.extend(proof::problems(plan));
    findings
}

/// The sequence of a plan bound to another job, without the proof of order.
///
/// # Errors
/// As [`bind_unproved`].
pub fn bound_to(plan: &Plan, job: &Job) -> Result<Plan, Findings> {
    bind_unproved_behind(&check::read(&plan.texts)?, job, plan.lock)
}

/// Binds without the proof of order, to read a record: what was walked is there to be told, whatever is proved of its sequence
/// today. Nothing is walked from it that [`bind`] has not let through.
pub fn bind_unproved(sequence: &Sequence, job: &Job) -> Result<Plan, Findings> {
    bind_unproved_behind(sequence, job, Lock::Own)
}

/// What a run that rests on a lock cannot do: read the place as it was found, with the supply on.
fn found_live(plan: &Plan) -> Vec<Finding> {
    let measures = |step: &Step| step.stage == Stage::Survey && matches!(step.kind, Kind::Measure(_));
    let reads = |step: &Step| measures(step) || reads_live_as_found(step);
    let steps = plan.steps.iter().enumerate();
    let found = steps
        .filter(|(_, step)| plan.lock == Lock::TakenOver && reads(step))
        .map(|(i, step)| {
            let (text, span) = plan.span(i);
            let what = format!(
                "`{}` reads the place as it was found, and the supply is locked off before the first step",
                step.id
            );
            text.finding(
                Problem::new(&span, what).hint("walk this sequence with a lock of its own: leave `--rests-on` out"),
            )
        });
    found.collect()
}

/// [`bind_unproved`] for a run that may rest on the lock of an earlier one.
///
/// # Errors
/// As [`bind_unproved`].
pub fn bind_unproved_behind(sequence: &Sequence, job: &Job, lock: Lock) -> Result<Plan, Findings> {
    // steps grow with the square of the cores: this is found before they do
    if proof::CORES_MAX < job.cores.len() {
        let (cores, most) = (job.cores.len(), proof::CORES_MAX);
        let what = format!("the cable has {cores} cores, at most {most} are proved at once");
        let problem = Problem::new(&(0..0), what).hint("write one job for each group of cores");
        return Err(job.text.finding(problem).into());
    }
    let mut binder = Binder {
        sequence,
        job,
        lock,
        steps: Vec::new(),
        findings: Findings::default(),
        names: Names::new(),
        firsts: BTreeMap::new(),
        lines: sequence.texts.iter().map(Lines::new).collect(),
        most: proof::steps_max(job),
        bytes: 0,
        first_continuity: None,
        supply_read: None,
        limitations: Vec::new(),
        groups: 0,
        at: 0,
        around: Around::default(),
    };
    if job.length.is_none() {
        binder.limitations.push(
            "The length of the cable is not known. Cores were compared with each other; no absolute resistance was judged.".into(),
        );
    }
    if let Some(what) = &job.stays_connected {
        binder.limitations.push(format!(
            "{what} stayed connected: insulation was tested at 250 V, live cores joined, to earth only. Insulation between cores is not shown."
        ));
    }
    binder.needs();
    binder.group(&sequence.files[0]);
    let mut plan = Plan {
        name: sequence.name.clone(),
        title: sequence.title.clone(),
        texts: sequence.texts.clone(),
        job: job.clone(),
        steps: binder.steps,
        limitations: binder.limitations,
        promises: sequence.promises.clone(),
        exceptions: sequence.exceptions.clone(),
        lock,
    };
    let findings = binder.findings;
    if !findings.is_empty() {
        return Err(findings);
    }
    if plan.steps.iter().any(reads_live_as_found) {
        let what = "What was read live, to find a fault, is as found: it shows nothing of how the place is left.";
        plan.limitations.push(what.into());
    }
    let as_left = |step: &Step| Stage::Connect <= step.stage && matches!(step.kind, Kind::Measure(_));
    if plan.steps.iter().any(as_left) {
        let beside = End::BOTH.into_iter().filter_map(|end| beside_metal(job, end));
        plan.limitations.extend(beside);
    }
    let not_shown = proof::not_shown(&plan);
    plan.limitations.extend(not_shown);
    Ok(plan)
}

/// What no reading on the earth terminal of an end shows, where metal touches it.
fn beside_metal(job: &Job, end: End) -> Option<String> {
    let metal = job.metal_beside_earth(end)?;
    Some(format!(
        "At the {} metal touches the earth terminal ({metal}). A loop impedance or a voltage to earth there goes through it as well and shows no joint of the earth conductor.",
        job.end(end).name
    ))
}

impl<'a> Binder<'a> {
    /// Every figure that the sequence needs is given by the job, in its unit.
    fn needs(&mut self) {
        for (at, need) in &self.sequence.needs {
            self.at = *at;
            let job = &self.job.text.name;
            let (name, unit) = (&need.name.value, need.unit.value);
            match self.job.parameters.get(name) {
                None => {
                    let hint = format!(
                        "add `parameters: {{\"{name}\": \"...\"}}` with {} to `{job}`",
                        unit.quantity()
                    );
                    self.problem(&need.name, format!("the job gives no `{name}`"), Some(hint));
                }
                Some(given) if given.unit != unit => {
                    let what = format!("`{name}` is `{given}` in the job, {} is needed", unit.quantity());
                    self.problem(&need.name, what, Some(format!("write it in `{unit}` in `{job}`")));
                }
                Some(_) => {}
            }
        }
        self.at = 0;
    }

    fn group(&mut self, steps: &'a [Located<RawStep>]) {
        for step in steps {
            let most = self.most;
            if most <= self.steps.len() {
                let cores = self.job.cores.len();
                let what = format!("the plan has more than {most} steps, the most that are walked with {cores} cores");
                return self.say(
                    Problem::new(&step.span, what).hint("take a group of steps out, or write a job for each part"),
                );
            }
            self.step(step);
        }
    }

    /// Binds steps with something more around them.
    fn within(&mut self, steps: &'a [Located<RawStep>], around: Around<'a>) {
        let before = std::mem::replace(&mut self.around, around);
        self.group(steps);
        self.around = before;
    }

    fn each_link(&mut self, steps: &'a [Located<RawStep>], around: &Around<'a>) {
        for linked in self.turns() {
            let around = around.clone();
            self.within(steps, Around { linked, ..around });
        }
    }

    /// Binds steps once for every pair of the tested cores.
    fn each_pair(&mut self, steps: &'a [Located<RawStep>], around: &Around<'a>) {
        let job = self.job;
        let cores: Vec<_> = job.test_cores().collect();
        for (i, core) in cores.iter().enumerate() {
            for other in &cores[i + 1..] {
                let (core, other) = (Some(*core), Some(*other));
                self.within(
                    steps,
                    Around {
                        core,
                        other,
                        ..around.clone()
                    },
                );
            }
        }
    }

    fn step(&mut self, step: &'a Located<RawStep>) {
        let job = self.job;
        let around = self.around.clone();
        match &step.value {
            RawStep::EachCore(steps) => {
                for core in job.test_cores() {
                    let core = Some(core);
                    self.within(steps, Around { core, ..around.clone() });
                }
            }
            RawStep::EachLink(steps) => self.each_link(steps, &around),
            RawStep::EachPair(steps) => self.each_pair(steps, &around),
            RawStep::EachZone(_) if job.zones.is_empty() => {
                let hint = format!("add `zones: [...]` to `{}`", job.text.name);
                let what = "`EachZone` needs zones, and the job has none";
                self.say(Problem::new(&step.span, what).hint(hint));
            }
            RawStep::EachZone(steps) => {
                for zone in &job.zones {
                    let zone = Some(zone);
                    self.within(steps, Around { zone, ..around.clone() });
                }
            }
            RawStep::If(condition, _)
                if condition.value.speaks_of_low() && job.limits.row(Table::Practice, LOOKED_INTO).is_err() =>
            {
                let what = format!("these limits have no row `{LOOKED_INTO}`, which the condition asks for");
                self.say(Problem::new(&condition.span, what).hint("add it to the limits, or leave the condition out"));
            }
            RawStep::EachSupply(steps) => {
                let further = job.supply.further.iter().map(Some);
                for supply in std::iter::once(None).chain(further) {
                    self.within(
                        steps,
                        Around {
                            supply,
                            ..around.clone()
                        },
                    );
                }
            }
            RawStep::Together(_) | RawStep::AnyOrder(_) => self.joined(&step.value),
            RawStep::If(condition, steps) => match self.condition(&condition.value, false) {
                Ok(true) => self.group(steps),
                Ok(false) => {}
                Err(wanted) => {
                    let mut inner = around;
                    inner.only_if.push(wanted);
                    self.within(steps, inner);
                }
            },
            RawStep::Include(name) => {
                let part = self.sequence.texts[1..].iter().position(|text| text.name == name.value);
                let part = 1 + part.expect("checked: every included file is there");
                let before = std::mem::replace(&mut self.at, part);
                self.group(&self.sequence.files[part]);
                self.at = before;
            }
            _ => {
                let common = step.common().expect("groups were taken before");
                let from = self.steps.len();
                self.one(step);
                self.finish(from, common);
            }
        }
    }

    /// Binds neighbours that are answered together, or taken in any order.
    fn joined(&mut self, step: &'a RawStep) {
        let from = self.steps.len();
        self.group(step.inside());
        match step {
            RawStep::AnyOrder(_) => self.join_any_order(from),
            _ => self.join(from),
        }
    }

    fn gate(&mut self, step: &'a Gate) {
        let id = self.named(&step.id.value);
        self.push(&step.id, id, Stage::Connect, &step.say, &[], Kind::Gate);
    }

    /// Binds one step, which may make several of the plan.
    fn one(&mut self, step: &'a RawStep) {
        let timing = self.timing(step);
        match step {
            RawStep::Do(step) => self.act(step),
            RawStep::Inspect(step) => self.inspect(step),
            RawStep::Classify(step) => self.classify(step),
            RawStep::LiveReasons(step) => self.live_reasons(step),
            RawStep::ProveIndicator(step) => self.prove_indicator(step),
            RawStep::ProveEarth(step) => self.prove_earth(step),
            RawStep::ProveLead(step) => self.prove_lead(step),
            RawStep::ProveDead(step) => self.prove_dead(step),
            RawStep::ProveParted(step) => self.prove_parted(step),
            RawStep::LeadNull(step) => self.lead_null(step),
            RawStep::Identify(step) => self.identity(step),
            RawStep::Continuity(step) => self.continuity(step),
            RawStep::SolveCores(step) => self.solve_cores(step),
            RawStep::OthersOpen(step) => self.others_open(step),
            RawStep::AllOpen(step) => self.all_open(step),
            RawStep::ReadJoin(step) => self.read_join(step),
            RawStep::EarthContinuity(step) => self.earth_continuity(step),
            RawStep::ClampContact(step) => self.clamp_contact(step),
            RawStep::InsulationConnected(step) => self.insulation_connected(step),
            RawStep::AcrossContact(step) => self.across_contact(step),
            RawStep::Insulation(step) => self.insulation(step),
            RawStep::Connect(step) => self.connect(&step.id, step.end, &step.say),
            RawStep::Tug(step) => self.tug(step),
            RawStep::Polarity(step) => self.polarity(step),
            RawStep::Gate(step) => self.gate(step),
            RawStep::Voltage(step) => self.voltage(step, timing),
            RawStep::Loop(step) => self.loop_impedance(Asked {
                id: &step.id,
                end: step.end,
                line: step.line.as_ref(),
                window: &step.window,
                say: &step.say,
                timing,
            }),
            RawStep::ResidualTrip(step) => {
                let asked = Asked {
                    id: &step.id,
                    end: step.end,
                    line: step.line.as_ref(),
                    window: &step.window,
                    say: &step.say,
                    timing,
                };
                self.residual_trip(asked, step.times);
            }
            RawStep::Lever(step) => self.moving(&step.id, &step.say, &step.motor, &step.expect, Moving::Lever, timing),
            RawStep::Pin(step) => self.moving(&step.id, &step.say, &step.motor, &step.expect, Moving::Pin, timing),
            RawStep::Runs(step) => self.moving(&step.id, &step.say, &step.load, &step.expect, Moving::Load, timing),
            RawStep::Warm(step) => self.moving(&step.id, &step.say, &step.motor, &step.expect, Moving::Warmth, timing),
            RawStep::ZoneMap(step) => self.zone_map(step, timing),
            RawStep::Note(step) => self.note(step),
            RawStep::HandOver(step) => self.hand_over(step),
            RawStep::EachCore(_)
            | RawStep::EachLink(_)
            | RawStep::EachPair(_)
            | RawStep::EachZone(_)
            | RawStep::EachSupply(_)
            | RawStep::Together(_)
            | RawStep::AnyOrder(_)
            | RawStep::If(..)
            | RawStep::Include(_) => {
                unreachable!("groups were taken before")
            }
        }
    }

    /// Whether the job meets a condition; the error is one that only the run can tell.
    fn condition(&self, condition: &RawCondition, not: bool) -> Result<bool, Condition> {
        let job = self.job;
        let earlier = |step: &str, came: Came| {
            Err(Condition {
                step: self.earlier(step),
                came,
                not,
            })
        };
        let has = |purpose: &str| Purpose::parse(purpose);
        let holds = match condition {
            RawCondition::Not(inner) => return self.condition(inner, !not),
            RawCondition::Passed(step) => return earlier(step, Came::Passed),
            RawCondition::Failed(step) => return earlier(step, Came::Failed),
            RawCondition::Low(step) => {
                let row = job.limits.row(Table::Practice, LOOKED_INTO).expect("looked up before");
                return earlier(step, Came::Below(row.value.clone()));
            }
            RawCondition::Saw(step, word) => return earlier(step, Came::Saw(word.clone())),
            RawCondition::HasCore(purpose) => has(purpose).is_some_and(|purpose| job.core_for(purpose).is_some()),
            RawCondition::HasTerminal(end, purpose) => {
                has(purpose).is_some_and(|purpose| job.end(*end).terminal_for(purpose).is_some())
            }
            RawCondition::HasEarthCore => job.core_for(Purpose::Earth).is_some(),
            RawCondition::HasZones => !job.zones.is_empty(),
            RawCondition::HasControlPair => job.control_pair.is_some(),
            RawCondition::HasResidualDevice => job.supply.residual.is_some(),
            RawCondition::HasMetalwork(end) => job.metal_beside_earth(*end).is_some(),
            RawCondition::HasLength => job.length.is_some(),
            RawCondition::StaysConnected => job.stays_connected.is_some(),
            RawCondition::MainsBeside => job.beside_mains(End::Near).next().is_some(),
            RawCondition::IsExtraLow => job.is_extra_low_voltage(),
        };
        Ok(holds != not)
    }

    /// Gives what is common to all steps to those made since a place in the plan.
    fn finish(&mut self, from: usize, common: Common<'a>) {
        let caution = common.caution.map(|caution| self.words(caution, &[]));
        let more = caution.as_ref().map_or(0, String::len) + bytes(&self.around.only_if);
        if !self.has_room(common.id, more * (self.steps.len() - from)) {
            return;
        }
        let after_failure = match common.after_failure {
            None => Then::usual(),
            Some(list) => list.iter().map(|then| self.then(&then.value)).collect(),
        };
        for step in &mut self.steps[from..] {
            step.caution = match (caution.clone(), step.caution.take()) {
                (Some(written), Some(own)) => Some(format!("{written} {own}")),
                (written, own) => written.or(own),
            };
            step.after_failure.clone_from(&after_failure);
            step.only_if.clone_from(&self.around.only_if);
        }
    }

    fn then(&self, then: &RawThen) -> Then {
        match then {
            RawThen::Again => Then::Again,
            RawThen::Repair => Then::Repair(None),
            RawThen::RepairFrom(step) => {
                let id = self.earlier(step);
                // a step of several, such as `dead-near`, is gone back to at its first
                let first = || self.firsts.get(step).map(|first| self.steps[*first].id.clone());
                let there = self.names.contains_key(&id).then_some(id);
                Then::Repair(there.or_else(first))
            }
            RawThen::Leave => Then::Leave,
            RawThen::Locate => Then::Locate,
        }
    }
}

#[cfg(test)]
mod tests {
    use crate::located::Text;
    use crate::{job, sequence};

    #[test]
    fn the_shipped_sequence_binds_to_the_demonstration_job() {
        let text = |name: &str, text: &str| Text {
            name: name.into(),
            text: text.into(),
        };
        let job = text("saltmarsh.ron", include_str!("../../fixtures/saltmarsh.ron"));
        let sequence = sequence::read(&crate::sequence::shipped::texts("stat-cable").unwrap()).unwrap();
        let job = job::read(&job).unwrap();
        let plan = sequence::bind(&sequence, &job).unwrap();
        let ids: Vec<_> = plan.steps.iter().map(|s| s.id.as_str()).collect();
        assert_eq!(ids.len(), 120, "{ids:#?}");
    }
}
