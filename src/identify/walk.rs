//! The walk as a state machine: answers in, prompts out (`asking`), instruments other than links (`telling`).
//!
//! The rule inside: an answer that is refused changes nothing. A sound cable takes the planned walks; the first look that does not fit the plan's
//! shape, or a contact, turns to walks chosen from everything seen, and the list is always what all looks together prove.

use super::answer;
use super::checking::{CheckLook, Checked};
use super::consistent::{self, Known};
use super::error::IdentifyError;
use super::event::Given;
use super::evidence::{Evidence, Look, other};
use super::found::{self, Found, State, Step};
use super::next;
use super::partition::Partition;
use super::plan::{Method, Plan};
use super::resistors::Read;
use super::structure::recognise;
use super::words;
use crate::job::End;
use crate::value::reading::Reading;

#[derive(Debug, Clone, PartialEq)]
pub(super) enum Stage {
    ProvedDead,
    NearBare,
    /// Arrived; this is joined at the end left behind.
    Look(Partition),
    /// Back at the far end with nothing joined anywhere, to see contacts beyond a break.
    Closing,
    /// Resistors are on at the near end: contacts at the far end first.
    ResistorContacts,
    /// Then readings: from one terminal to another.
    Resistor,
    DiodeNear,
    DiodeFar,
    /// The list is made and looked at again.
    Check(CheckLook),
    Done,
}

#[derive(Debug, Clone, PartialEq)]
pub(super) struct Now {
    pub(super) stage: Stage,
    pub(super) at: End,
    pub(super) walks: usize,
    pub(super) evidence: Evidence,
    pub(super) faulty: bool,
    pub(super) skipped: bool,
    /// Readings with resistors: from, to, what.
    pub(super) reads: Vec<(usize, usize, Read)>,
    /// Whether the meter's polarity runs from B to A.
    pub(super) reversed: bool,
    pub(super) stopped: Option<String>,
    pub(super) known: Option<Known>,
    pub(super) steps: Vec<Step>,
    /// A contact that the meter showed, until it is said between which two.
    pub(super) pending: Option<Reading>,
    /// Contacts of this look: between which two, and what was read.
    pub(super) measured: Vec<(Vec<usize>, Reading)>,
    /// What the checking walk came to.
    pub(super) checked: Option<Checked>,
}

/// A walk between the ends of one cable.
#[derive(Debug, Clone)]
pub struct Walk {
    /// The plan for a sound cable, which it follows while the cable looks sound.
    pub plan: Plan,
    every_core_seen: bool,
    /// A checking walk is asked for.
    pub(super) checks: bool,
    /// From what lists were made that a look of the checking walk contradicted: taking that answer back does not make it unsaid.
    pub(super) contradicted: Vec<Evidence>,
    pub(super) now: Now,
    before: Vec<Now>,
}

impl Walk {
    /// A walk at its beginning; `every_core_seen` asks for a further walk rather than knowing a core by elimination.
    pub fn new(plan: Plan, every_core_seen: bool) -> Walk {
        let earth = plan.kit.earth && plan.method != Method::Diode;
        let now = Now {
            stage: Stage::ProvedDead,
            at: End::Near,
            walks: 0,
            evidence: Evidence::new(plan.cores, earth),
            faulty: false,
            skipped: false,
            reads: Vec::new(),
            reversed: false,
            stopped: None,
            known: None,
            steps: Vec::new(),
            pending: None,
            measured: Vec::new(),
            checked: None,
        };
        Walk {
            plan,
            every_core_seen,
            checks: false,
            contradicted: Vec::new(),
            now,
            before: Vec::new(),
        }
    }

    /// Asks for a checking walk once the list is made.
    pub fn checking(mut self, checks: bool) -> Walk {
        self.checks = checks;
        self
    }

    /// The end where the person stands, and the joints that the prompt asks to have made at the other one.
    pub fn place(&self) -> (End, Partition) {
        let apart = Partition::apart(self.now.evidence.terminals());
        match &self.now.stage {
            Stage::Look(joined) | Stage::Check(CheckLook { joined, .. }) => (self.now.at, joined.clone()),
            _ => (self.now.at, apart),
        }
    }

    /// Takes one answer; `back` takes the last one back.
    ///
    /// # Errors
    /// An answer that cannot be read, or that no cable explains together with the others; nothing changes then.
    pub fn answer(&mut self, line: &str) -> Result<Given, IdentifyError> {
        if line.trim().eq_ignore_ascii_case("back") {
            self.now = self.before.pop().ok_or(IdentifyError::NothingToTakeBack)?;
            return Ok(Given::Back);
        }
        self.or_as_before(|walk| walk.answered(line))
    }

    /// Does something, and undoes it where it is refused.
    pub(super) fn or_as_before<R>(
        &mut self,
        act: impl FnOnce(&mut Walk) -> Result<R, IdentifyError>,
    ) -> Result<R, IdentifyError> {
        let kept = self.now.clone();
        match act(self) {
            Ok(done) => {
                self.before.push(kept);
                Ok(done)
            }
            Err(error) => {
                self.now = kept;
                Err(error)
            }
        }
    }

    fn answered(&mut self, line: &str) -> Result<Given, IdentifyError> {
        if self.now.pending.is_some() {
            return self.placed(line);
        }
        match self.now.stage.clone() {
            Stage::ProvedDead => {
                self.word(line, &["dead"])?;
                self.now.stage = Stage::NearBare;
                Ok(Given::Dead)
            }
            Stage::NearBare => {
                let apart = Partition::apart(self.now.evidence.terminals());
                let seen = self.look(line, apart)?;
                self.leave_first()?;
                Ok(seen)
            }
            Stage::Look(joined) => {
                let seen = self.look(line, joined)?;
                self.go_on()?;
                Ok(seen)
            }
            Stage::Closing => {
                if line.trim().eq_ignore_ascii_case("skip") {
                    self.now.skipped = true;
                    self.finish_unseen()?;
                    return Ok(Given::Skipped);
                }
                let apart = Partition::apart(self.now.evidence.terminals());
                let seen = self.look(line, apart)?;
                self.now.faulty |= !self.now.evidence.contact(End::Far).is_apart();
                self.go_on()?;
                Ok(seen)
            }
            Stage::ResistorContacts => {
                let apart = Partition::apart(self.now.evidence.terminals());
                let seen = self.look(line, apart)?;
                if self.now.evidence.contact(End::Far).is_apart() {
                    self.now.stage = Stage::Resistor;
                } else {
                    self.now.faulty = true;
                    self.go_on()?;
                }
                Ok(seen)
            }
            Stage::Resistor => {
                let reading = answer::typed(line)?;
                self.resistor(line, &reading)?;
                Ok(Given::Ohms(reading.display()))
            }
            Stage::DiodeNear | Stage::DiodeFar => self.diode(line),
            Stage::Check(look) => self.check_answered(line, look),
            Stage::Done => Err(self.not_an_answer(line)),
        }
    }

    pub(super) fn word(&self, line: &str, words: &[&'static str]) -> Result<&'static str, IdentifyError> {
        let found = words.iter().find(|w| w.eq_ignore_ascii_case(line.trim()));
        found.copied().ok_or_else(|| self.not_an_answer(line))
    }

    pub(super) fn not_an_answer(&self, line: &str) -> IdentifyError {
        let answers = self.prompt().map_or("none, the walk has ended".into(), |p| p.answers());
        IdentifyError::NotAnAnswer {
            line: line.trim().into(),
            answers,
        }
    }

    pub(super) fn note(&mut self, line: &str, read_as: &str) {
        let joined = match &self.now.stage {
            Stage::Look(joined) | Stage::Check(CheckLook { joined, .. }) => {
                words::groups(other(self.now.at), joined, self.plan.cores)
            }
            Stage::ResistorContacts | Stage::Resistor => "resistors".into(),
            Stage::DiodeNear | Stage::DiodeFar => "diode".into(),
            _ => "none".into(),
        };
        self.now.steps.push(Step {
            walks: self.now.walks,
            at: words::end(self.now.at),
            joined,
            typed: line.trim().into(),
            read_as: read_as.into(),
            readings: Vec::new(),
        });
    }

    fn look(&mut self, line: &str, joined: Partition) -> Result<Given, IdentifyError> {
        let (shown, given) = self.seen(line)?;
        let at = self.now.at;
        self.now.evidence.looks.push(Look { at, joined, shown });
        Ok(given)
    }

    /// What conducts where one stands, noted as it was typed and measured.
    pub(super) fn seen(&mut self, line: &str) -> Result<(Partition, Given), IdentifyError> {
        let (evidence, cores) = (&self.now.evidence, self.plan.cores);
        let measured: Vec<Vec<usize>> = self.now.measured.iter().map(|(pair, _)| pair.clone()).collect();
        let shown = answer::conducts(line, self.now.at, cores, evidence.earth, &self.plan.figures, &measured)?;
        self.note(line, &words::groups(self.now.at, &shown, cores));
        self.note_measured();
        let given = Given::Conducts(words::group_labels(self.now.at, &shown, cores));
        Ok((shown, given))
    }

    /// Leaves the near end for the first time.
    fn leave_first(&mut self) -> Result<(), IdentifyError> {
        if !self.now.evidence.contact(End::Near).is_apart() {
            self.now.faulty = true;
            if self.plan.method == Method::Diode {
                return self.stop("the two cores touch inside the cable, and a touching pair cannot be told apart");
            }
            return self.go_on();
        }
        match self.plan.method {
            Method::Links(_) => return self.go_on(),
            Method::Diode => self.now.stage = Stage::DiodeNear,
            Method::ResistorsToEarth(_) | Method::ResistorsFromHub(_) => {
                self.cross();
                self.now.stage = Stage::ResistorContacts;
            }
        }
        Ok(())
    }

    pub(super) fn cross(&mut self) {
        self.now.at = other(self.now.at);
        self.now.walks += 1;
    }

    /// What an end joined and saw, walk by walk.
    fn side(&self, end: End) -> Vec<Partition> {
        let walked = self.now.evidence.looks.iter().skip(1);
        walked
            .map(|look| {
                if look.at == end {
                    look.shown.clone()
                } else {
                    look.joined.clone()
                }
            })
            .collect()
    }

    /// The joints of the next planned walk, where the plan has one and the cable still looks sound.
    fn planned(&mut self) -> Option<Partition> {
        let Method::Links(shape) = &self.plan.method else {
            return None;
        };
        let done = self.now.walks;
        if self.now.faulty || shape.len() < done {
            return None;
        }
        let pinned = self.now.evidence.earth.then_some(self.plan.cores);
        let terminals = self.now.evidence.terminals();
        let naming = match done {
            0 => Some((0..terminals).collect::<Vec<_>>()),
            _ => recognise(&shape[..done], &self.side(self.now.at), pinned),
        };
        let Some(naming) = naming else {
            self.now.faulty = true;
            return None;
        };
        let groups = shape.get(done)?.groups();
        let named: Vec<Vec<usize>> = groups.iter().map(|g| g.iter().map(|w| naming[*w]).collect()).collect();
        Some(Partition::joined(terminals, &named))
    }

    pub(super) fn go_on(&mut self) -> Result<(), IdentifyError> {
        if self.now.stage != Stage::Closing
            && let Some(joints) = self.planned()
        {
            return self.walk_with(joints);
        }
        if !self.now.evidence.is_settled() {
            if !self.now.faulty {
                self.now.stage = Stage::Closing;
                self.now.at = End::Far;
                return Ok(());
            }
            let joints = next::settling(&self.now.evidence, self.now.at, self.plan.kit);
            return self.walk_with(joints);
        }
        let known = consistent::known(&self.now.evidence).ok_or(IdentifyError::Contradiction)?;
        let elimination_will_do = !self.every_core_seen && !self.now.faulty;
        let open = known.is_open(elimination_will_do);
        let joints = next::splitting(&known, self.now.at, &self.now.evidence, self.plan.kit);
        self.now.known = Some(known);
        match joints {
            Some(joints) if open => self.walk_with(joints),
            _ => {
                self.list_is_made();
                Ok(())
            }
        }
    }

    fn walk_with(&mut self, joints: Partition) -> Result<(), IdentifyError> {
        self.cross();
        self.now.stage = Stage::Look(joints);
        Ok(())
    }

    /// The list on the assumption that nothing touches at the far end.
    fn finish_unseen(&mut self) -> Result<(), IdentifyError> {
        let mut assumed = self.now.evidence.clone();
        let apart = Partition::apart(assumed.terminals());
        assumed.looks.push(Look {
            at: End::Far,
            joined: apart.clone(),
            shown: apart,
        });
        self.now.known = Some(consistent::known(&assumed).ok_or(IdentifyError::Contradiction)?);
        self.list_is_made();
        Ok(())
    }

    pub(super) fn stop(&mut self, why: &str) -> Result<(), IdentifyError> {
        self.now.stopped = Some(why.into());
        self.now.stage = Stage::Done;
        Ok(())
    }

    /// The result, once there is one.
    pub fn found(&self) -> Option<Found> {
        (self.now.stage == Stage::Done).then(|| self.result())
    }

    /// Whether the cable was said to be proved dead.
    pub fn is_proved(&self) -> bool {
        self.now.stage != Stage::ProvedDead
    }

    /// Whether the kit has the earth.
    pub fn earth(&self) -> bool {
        self.plan.kit.earth
    }

    /// Whether the cable has shown a fault.
    pub fn is_faulty(&self) -> bool {
        self.now.faulty
    }

    fn result(&self) -> Found {
        let mut remarks: Vec<String> = self.now.stopped.clone().into_iter().collect();
        let rows = match &self.now.known {
            Some(known) => found::rows(&self.now.evidence, known),
            None => Vec::new(),
        };
        if self.now.skipped {
            remarks.push(
                "the far end was not seen with everything parted: a core that is broken and touches another beyond the break would look sound"
                    .into(),
            );
        }
        if rows.iter().any(|r| r.state == State::NotTold) {
            remarks.push(
                "links cannot tell these apart: bring a conductor known at both ends (`--kit earth`), resistors, or a sound third core"
                    .into(),
            );
        }
        if rows.iter().any(|r| r.state == State::ByElimination) {
            remarks.push("to see the last core conduct, go on with `--every-core-seen`".into());
        }
        Found {
            cores: self.plan.cores,
            walks: self.now.walks,
            rows,
            far_end_seen_parted: !self.now.skipped && self.now.stopped.is_none(),
            remarks,
            steps: self.now.steps.clone(),
        }
    }
}
