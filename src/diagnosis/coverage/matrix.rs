//! Faults against steps: which step shows which fault first, and which others would.
//!
//! The rule inside: a fault is caught by a step that does not pass. A mark on a step that passes is no catch.

use serde::Serialize;

use super::error::CoverageError;
use super::trail::Trail;
use super::walk::{Walked, walk_beside, walk_kept};
use crate::model::error::InstallationError;
use crate::model::fault::Fault;
use crate::model::installation::Installation;
use crate::model::library;
use crate::plan::{Effort, Kind, Plan};

/// What became of one fault, or of a pair.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
pub struct Row {
    /// `core-open:grey`, or two with `+` between them.
    pub fault: String,
    /// Its kinds, of which a sequence promises some.
    pub kinds: Vec<String>,
    /// What is wrong, in words.
    pub words: String,
    /// Steps that do not pass with this fault, by their place; the first is where the run stops.
    pub caught: Vec<usize>,
    /// The first one's verdict in words, or why nothing catches it.
    pub because: String,
    /// The reason why the sequence excepts it, where it does.
    pub excepted: Option<String>,
}

/// A plan against faults.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
pub struct Coverage {
    /// What the sequence proves, as its file says.
    pub title: String,
    /// The site of the job.
    pub place: String,
    /// The steps' names.
    pub steps: Vec<String>,
    /// Places of the steps that look at something and so can catch a fault.
    pub looking: Vec<usize>,
    /// One for each fault, or for each pair where pairs were asked for, in the order of the library.
    pub rows: Vec<Row>,
    /// Kinds that the sequence promises to find.
    pub promises: Vec<String>,
    /// What the plan asks of a person.
    pub effort: Effort,
}

/// A plan to be tried on faults: each is tried by itself, so they may be tried in any order, or at once.
#[derive(Debug)]
pub struct Trials<'a> {
    plan: &'a Plan,
    sound: Installation,
    healthy: Walked,
    trail: Trail,
    faults: Vec<Fault>,
    /// The faults of each trial.
    sets: Vec<Vec<usize>>,
    excepted: Vec<(String, String)>,
}

impl<'a> Trials<'a> {
    /// A trial for every single fault, or for every two that can stand together.
    ///
    /// # Errors
    /// [`CoverageError`] where the job makes no installation, or where the sequence fails without a fault.
    pub fn of(plan: &'a Plan, pairs: bool) -> Result<Trials<'a>, CoverageError> {
        let sound = Installation::of(&plan.job)?;
        let (healthy, trail) = walk_kept(plan, sound.clone());
        if let Some(step) = healthy.caught().next() {
            return Err(CoverageError::SoundFails {
                step: plan.steps[step].id.clone(),
                because: healthy.verdicts[step].because.clone(),
            });
        }
        let faults = library::faults(&plan.job)?;
        let sets = if pairs {
            two_by_two(&faults)
        } else {
            (0..faults.len()).map(|fault| vec![fault]).collect()
        };
        Ok(Trials {
            plan,
            sound,
            healthy,
            trail,
            faults,
            sets,
            excepted: excepted(plan)?,
        })
    }

    /// How many there are.
    pub fn count(&self) -> usize {
        self.sets.len()
    }

    /// What became of one of them; `None` for two faults that cannot stand together.
    ///
    /// # Panics
    /// When there are no more than so many.
    pub fn row(&self, nth: usize) -> Option<Row> {
        let set: Vec<&Fault> = self.sets[nth].iter().map(|fault| &self.faults[*fault]).collect();
        let mut installation = self.sound.clone();
        set.iter().try_for_each(|fault| installation.put(fault)).ok()?;
        let walked = walk_beside(self.plan, installation, (&self.healthy, &self.trail));
        Some(row(self.plan, &set, &self.healthy, &walked, &self.excepted))
    }

    /// What came of all of them, in their order.
    pub fn coverage(&self, rows: Vec<Row>) -> Coverage {
        let plan = self.plan;
        Coverage {
            title: plan.title.clone(),
            place: plan.job.place.name.clone(),
            steps: plan.steps.iter().map(|step| step.id.clone()).collect(),
            looking: (0..plan.steps.len())
                .filter(|step| !matches!(plan.steps[*step].kind, Kind::Do | Kind::Gate))
                .collect(),
            rows,
            promises: plan.promises.clone(),
            effort: Effort::of(plan),
        }
    }
}

impl Coverage {
    /// Tries every single fault, or every two that can stand together.
    ///
    /// # Errors
    /// As [`Trials::of`].
    pub fn of(plan: &Plan, pairs: bool) -> Result<Coverage, CoverageError> {
        let trials = Trials::of(plan, pairs)?;
        let rows = (0..trials.count()).filter_map(|nth| trials.row(nth)).collect();
        Ok(trials.coverage(rows))
    }

    /// Faults that no step catches.
    pub fn escapes(&self) -> impl Iterator<Item = &Row> {
        self.rows.iter().filter(|row| row.caught.is_empty())
    }

    /// Escapes that the sequence promises to find and does not except.
    pub fn broken_promises(&self) -> impl Iterator<Item = &Row> {
        let promised = |kind: &String| self.promises.contains(kind);
        self.escapes()
            .filter(move |row| row.excepted.is_none() && row.kinds.iter().all(promised))
    }

    /// Exceptions that are none: a step catches the fault.
    pub fn needless_exceptions(&self) -> impl Iterator<Item = &Row> {
        let excepted = |row: &&Row| row.excepted.is_some() && !row.caught.is_empty();
        self.rows.iter().filter(excepted)
    }

    /// How many faults a step is the only one to catch, and how many it catches at all.
    pub fn worth(&self, step: usize) -> (usize, usize) {
        let caught = || self.rows.iter().filter(|row| row.caught.contains(&step));
        (caught().filter(|row| row.caught.len() == 1).count(), caught().count())
    }

    /// Steps that look at something and catch nothing that another step does not.
    pub fn without_a_catch_of_their_own(&self) -> Vec<usize> {
        let without = |step: &usize| self.worth(*step).0 == 0;
        self.looking.iter().copied().filter(without).collect()
    }
}

fn two_by_two(faults: &[Fault]) -> Vec<Vec<usize>> {
    let each = 0..faults.len();
    each.flat_map(|one| {
        let later = one + 1..faults.len();
        let later = later.filter(move |other| faults[*other].part != faults[one].part);
        later.map(move |other| vec![one, other])
    })
    .collect()
}

/// The excepted faults by their full names, with the reasons; those that the job has no place for are left out.
fn excepted(plan: &Plan) -> Result<Vec<(String, String)>, CoverageError> {
    let mut found = Vec::new();
    for (name, reason) in &plan.exceptions {
        match library::find(&plan.job, name) {
            Ok(faults) => found.extend(faults.into_iter().map(|fault| (fault.name, reason.clone()))),
            Err(InstallationError::FaultDoesNotFit { .. }) => {}
            Err(error) => return Err(error.into()),
        }
    }
    Ok(found)
}

fn row(plan: &Plan, set: &[&Fault], healthy: &Walked, walked: &Walked, excepted: &[(String, String)]) -> Row {
    let join = |part: fn(&Fault) -> &str, between: &str| -> String {
        set.iter().map(|fault| part(fault)).collect::<Vec<_>>().join(between)
    };
    let caught: Vec<usize> = walked.caught().collect();
    let because = match caught.first() {
        Some(step) => walked.verdicts[*step].because.clone(),
        None => why_not(plan, healthy, walked),
    };
    let reason = |fault: &&Fault| excepted.iter().find(|(name, _)| *name == fault.name);
    Row {
        fault: join(|fault| &fault.name, "+"),
        kinds: set.iter().map(|fault| fault.kind.clone()).collect(),
        words: join(|fault| &fault.words, "; and "),
        caught,
        because,
        excepted: set.iter().find_map(reason).map(|(_, reason)| reason.clone()),
    }
}

/// Why no step catches a fault: what it changes that is still in its window, or that it changes nothing.
fn why_not(plan: &Plan, healthy: &Walked, walked: &Walked) -> String {
    let steps = plan.steps.iter().enumerate();
    let changed: Vec<String> = steps
        .filter(|(step, _)| healthy.lines[*step] != walked.lines[*step])
        .map(|(step, at)| {
            format!(
                "`{}` shows {} instead of {}, and passes",
                at.id, walked.lines[step], healthy.lines[step]
            )
        })
        .collect();
    match changed.as_slice() {
        [] => "no step looks across it: every one shows what it shows on a sound installation".into(),
        [one] => one.clone(),
        [one, rest @ ..] => format!("{one}; {} more the like", rest.len()),
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::model::sample::{job, job_with, plan, plan_with, unproved};

    #[test]
    fn the_shipped_sequence_keeps_its_promises() {
        let coverage = Coverage::of(&plan(), false).unwrap();
        let broken: Vec<_> = coverage.broken_promises().collect();
        assert!(broken.is_empty(), "{broken:#?}");
        assert!(coverage.needless_exceptions().next().is_none());
        // every kind of the library that this job can have is caught, but for what a loop test alone shows
        let mut escapes: Vec<_> = coverage.escapes().map(|row| row.kinds[0].as_str()).collect();
        escapes.sort_unstable();
        escapes.dedup();
        assert_eq!(escapes, ["earth-through-ground"]);
        assert!(coverage.escapes().all(|row| row.excepted.is_some()), "it is said why");
        assert!(60 < coverage.rows.len(), "{}", coverage.rows.len());
    }

    /// Where the run stops with a fault.
    fn first(coverage: &Coverage, fault: &str) -> String {
        let row = coverage.rows.iter().find(|row| row.fault == fault).unwrap();
        row.caught
            .first()
            .map_or(row.because.clone(), |step| coverage.steps[*step].clone())
    }

    #[test]
    fn each_fault_is_caught_where_it_shows_first() {
        let coverage = Coverage::of(&plan(), false).unwrap();
        let check = |fault: &str, step: &str| assert_eq!(first(&coverage, fault), step, "{fault}");
        check("core-open:grey", "continuity/grey");
        check("core-open:green-yellow", "continuity/brown");
        check("insulation-low:brown/grey", "insulation/brown");
        // with the earth core afloat these would pass
        check("insulation-low-to-building:grey", "insulation/grey");
        check("core-touches-building:grey", "insulation/grey");
        check("earth-clip-loose", "clip-bites");
        check("loop-high", "earthed-far");
        check("conductor-not-gripped:green-yellow@far", "tug-far/green-yellow");
        check("high-resistance-clamp:green-yellow@far", "earthed-far");
        check("high-resistance-clamp:black@near", "clamp-near/black");
        check("neutral-leaking:N@far", "connected");
        check("line-leaking:SL@far", "connected");
        check("terminals-swapped:grey/green-yellow@near", "connect-near/grey");
        check("polarity-reversed", "earth-near");
        check("earth-missing", "earth-near");
        // fed back through the boiler input, which hangs on the neutral that the isolator has parted
        check("supply-still-live:4@near", "dead-near/earth-neutral");
        check("zones-crossed", "end-switch-on");
        // past its end switch the open valve would hold its own call
        check("terminals-bridged:3/4@near", "switched-off");
        check("valve-held-open", "end-switch-off");
        check("supply-extra-low", "earth-near");
    }

    #[test]
    fn a_step_left_out_lets_its_fault_through() {
        let shorter = unproved(&job(), "\"earth\"), [", "\"hot water satisfied\"), [");
        let coverage = Coverage::of(&shorter, false).unwrap();
        let broken: Vec<_> = coverage.broken_promises().map(|row| row.fault.as_str()).collect();
        let of_earth = [
            "high-resistance-clamp:green-yellow@near",
            "high-resistance-clamp:green-yellow@far",
            "loop-high",
            "neutral-earth-changed-over",
        ];
        assert_eq!(broken, of_earth);
        assert_eq!(
            first(&coverage, "loop-high"),
            "`feed-earth` shows 229.9 V instead of 230.0 V, and passes"
        );
    }

    #[test]
    fn an_exception_needs_an_escape() {
        let excepted = |fault: &str| {
            let list = "exceptions: [";
            let one = format!("{list}(fault: \"{fault}\", reason: \"for a test\"),");
            Coverage::of(&plan_with(&job(), list, &one), false).unwrap()
        };
        let coverage = excepted("core-open:{core neutral}");
        let needless: Vec<_> = coverage.needless_exceptions().map(|row| row.fault.as_str()).collect();
        assert_eq!(needless, ["core-open:grey"]);
    }

    #[test]
    fn steps_are_told_by_what_only_they_catch() {
        let coverage = Coverage::of(&plan(), false).unwrap();
        let place = |id: &str| coverage.steps.iter().position(|step| step == id).unwrap();
        assert_eq!(coverage.worth(place("indicator-first")).0, 0);
        let without = coverage.without_a_catch_of_their_own();
        assert!(
            without.contains(&place("indicator-second")),
            "a dead indicator shows before"
        );
        assert!(!without.contains(&place("end-switch-off")));
        assert!(!without.contains(&place("link/grey+black")), "hands catch nothing");
    }

    #[test]
    fn a_sequence_that_fails_on_a_sound_installation_is_refused() {
        // a motor that no thermostat cable carries: the switched core sags
        let job = job_with("power: \"6 W\"", "power: \"11000 W\"");
        let plan = unproved(&job, "format", "format");
        let error = Coverage::of(&plan, false).unwrap_err();
        assert!(
            matches!(&error, CoverageError::SoundFails { step, .. } if step == "switched-on"),
            "{error}"
        );
    }
}
