//! Proving dead: the indicator, the earths that points are tried against, and every pair of points of a position.
//!
//! The rule inside: a position is tried against one earth, and every terminal and core there is a point of it.

use std::collections::BTreeSet;

use super::binder::Binder;
use super::raw::{ProveDead, ProveEarth, ProveIndicator, ProveLead, ProveParted, RawReference};
use crate::job::{End, Job, Purpose};
use crate::located::Located;
use crate::plan::{Act, Kind, Lock, Neutral, Point, Probes, SetUp, Stage, Step};
use crate::value::reading::Function;

impl<'a> Binder<'a> {
    pub(super) fn prove_indicator(&mut self, step: &'a ProveIndicator) {
        let probes = Probes {
            first: Point::KnownSource,
            second: Point::KnownSource,
        };
        let kind = Kind::Indicator { probes, lit: true };
        let id = self.named(&step.id.value);
        let stage = step.stage.unwrap_or(Stage::Isolate);
        self.push(&step.id, id, stage, &step.say, &[], kind);
    }

    pub(super) fn prove_earth(&mut self, step: &'a ProveEarth) {
        if self.lock == Lock::TakenOver {
            return self.lit_at_known_source(&step.id, step.end);
        }
        let earth = self.terminal_taking(&step.id, step.end, Purpose::Earth);
        self.lit_to_line(&step.id, &step.say, step.end, earth);
    }

    pub(super) fn prove_lead(&mut self, step: &'a ProveLead) {
        let lead = Point::long_lead(self.job);
        if self.lock == Lock::TakenOver {
            return self.lead_at_known_source(&step.id, lead);
        }
        self.lit_to_line(&step.id, &step.say, End::Near, Some(lead));
    }

    /// The near end's earth lit to the known source by the long lead, since the cable's own supply is locked off.
    fn lit_at_known_source(&mut self, id: &'a Located<String>, end: End) {
        if end == End::Far {
            let hint = "prove the far end dead against the long lead, or leave `--rests-on` out".to_owned();
            let what = "the far end's own earth is shown lit while the supply is on, which is locked off before the first step";
            return self.problem(id, what, Some(hint));
        }
        if let Some(Point::Terminal { terminal, .. }) = self.terminal_taking(id, End::Near, Purpose::Earth) {
            self.lead_at_known_source(
                id,
                Point::LongLead {
                    clipped: Some(terminal),
                },
            );
        }
    }

    /// The long lead, clipped to an earth, lit to the known source. What one step shows of the near end's earth and of the lead on it no other
    /// shows again.
    fn lead_at_known_source(&mut self, id: &'a Located<String>, first: Point) {
        let earth = match &first {
            Point::LongLead { clipped: None } => "main earthing terminal",
            _ => "earth of the {near}",
        };
        let stays = match first == Point::long_lead(self.job) {
            true => "Leave the clip on: the lead goes to the {far}.",
            false => {
                "Then take the clip off: what is proved dead later is tried with the lead on the main earthing terminal."
            }
        };
        let say = format!(
            "The supply stays locked off. Clip the long lead to the {earth} and take its free end to the {{known source}}. \
             Two-pole indicator: first probe on the free end, second on the line there. Lit? {stays}"
        );
        let second = Point::KnownSource;
        let probes = Probes { first, second };
        let kind = Kind::Indicator { probes, lit: true };
        if self.steps.iter().any(|step| step.kind == kind) {
            return;
        }
        let name = self.named(&id.value);
        self.push(id, name, Stage::Survey, &say, &[], kind);
    }

    /// An earth is lit to the permanent live of an end, while the supply is on.
    fn lit_to_line(&mut self, id: &'a Located<String>, say: &str, end: End, earth: Option<Point>) {
        let line = self.terminal_taking(id, end, Purpose::PermanentLive);
        let (Some(first), Some(second)) = (earth, line) else {
            return;
        };
        let words = [first.words(self.job), second.words(self.job)];
        let at = self.job.end(end).name.as_str();
        let extra = [("first", words[0].as_str()), ("second", words[1].as_str()), ("end", at)];
        let probes = Probes { first, second };
        let name = self.named(&id.value);
        self.push(
            id,
            name,
            Stage::Survey,
            say,
            &extra,
            Kind::Indicator { probes, lit: true },
        );
    }

    /// The first terminal of an end for a purpose; what the job lacks is a finding.
    fn terminal_taking(&mut self, id: &Located<String>, end: End, purpose: Purpose) -> Option<Point> {
        let at = self.job.end(end);
        let found = at.terminal_for(purpose).map(|terminal| Point::Terminal {
            terminal: terminal.name.clone(),
            end,
        });
        if found.is_none() {
            let what = format!(
                "the {} has no terminal for {} to show an earth lit",
                at.name,
                purpose.words()
            );
            let hint = format!(
                "list every terminal of the box in `{}`, those of other cables too, or take another end",
                self.job.text.name
            );
            self.problem(id, what, Some(hint));
        }
        found
    }

    /// The parted neutral is dark to earth and to line, in the stage that parts it: the cable's as core and as terminal, or the supply's where that
    /// is off, as the terminal that it left.
    pub(super) fn prove_parted(&mut self, step: &'a ProveParted) {
        let (job, end, id) = (self.job, step.end, &step.id);
        let reference = step.reference.value;
        if reference == RawReference::OwnEarth && self.terminal_taking(id, end, Purpose::Earth).is_none() {
            return;
        }
        let position = Position::of(job, end, Some(reference));
        let Some((of, stage)) = self.parted_here(end) else {
            let what = format!("no neutral is off at the {} here", job.end(end).name);
            let hint = "put it after the act that parts one: `DisconnectNear`, `DisconnectFar`, or `PartNeutral` for the supply's";
            return self.problem(id, what, Some(hint.into()));
        };
        let points = match of {
            Neutral::OfCable(_) => cable_neutrals(job, end),
            Neutral::OfSupply => {
                let left = position.neutral.into_iter();
                left.map(|terminal| (None, point(terminal, end), None)).collect()
            }
        };
        if points.is_empty() {
            let (what, only) = match of {
                Neutral::OfCable(_) => (
                    "the cable has no neutral core that could be parted",
                    "HasCore(\"neutral\")",
                ),
                Neutral::OfSupply => (
                    "the near end has no terminal for a neutral that could be parted",
                    "HasTerminal(Near, \"neutral\")",
                ),
            };
            return self.problem(id, what, Some(format!("put it into `If({only}, [...])`")));
        }
        for (name, second, core) in points {
            let mut against = vec![("earth", position.earth.clone())];
            against.extend(of.line_to_try(job).map(|line| ("line", line)));
            for (to, first) in against {
                let probes = Probes {
                    first,
                    second: second.clone(),
                };
                let name = name
                    .as_ref()
                    .map_or_else(|| to.to_owned(), |name: &String| format!("{name}-{to}"));
                self.dark(id, &name, stage, &step.say, probes);
                self.steps.last_mut().expect("just pushed").cores = core.iter().cloned().collect();
            }
        }
    }

    /// The neutral that is off at an end where the next step stands, and the stage in which it was parted; `None` once it is connected again.
    fn parted_here(&self, end: End) -> Option<(Neutral, Stage)> {
        let mut set_up = SetUp::default();
        let acts = self.steps.iter().flat_map(|step| &step.acts);
        acts.for_each(|act| set_up.act(act));
        let of = set_up.neutral_at(end);
        let parts = |step: &Step| step.acts.contains(&of.parting());
        let connects = |act: &Act| matches!(act, Act::Connect { end: at, .. } if *at == end);
        let mut before = self.steps.iter().rev();
        match before.find(|step| parts(step) || step.acts.iter().any(connects)) {
            Some(step) => parts(step).then_some((of, step.stage)),
            // nothing is off yet, which the proof says with its reason
            None => Some((of, Stage::Disconnect)),
        }
    }

    /// Two points are dark; gives back the step's name.
    fn dark(&mut self, id: &'a Located<String>, name: &str, stage: Stage, say: &str, probes: Probes) -> String {
        let words = [probes.first.words(self.job), probes.second.words(self.job)];
        let at = probes.second.end().map_or("", |end| self.job.end(end).name.as_str());
        let extra = [("first", words[0].as_str()), ("second", words[1].as_str()), ("end", at)];
        let name = format!("{}/{name}", self.named(id));
        self.push(
            id,
            name.clone(),
            stage,
            say,
            &extra,
            Kind::Indicator { probes, lit: false },
        );
        name
    }

    /// Every pair of [`Position::pairs`] is shown dark, and where extra-low voltage may be, without a voltage on a meter.
    pub(super) fn prove_dead(&mut self, step: &'a ProveDead) {
        let (job, id, end) = (self.job, &step.id, step.end);
        let reference = step.reference.as_ref().map(|reference| reference.value);
        if reference == Some(RawReference::OwnEarth) && self.terminal_taking(id, end, Purpose::Earth).is_none() {
            return;
        }
        // once cores are taken off it is a further proof, which isolation does not rest on
        let is_taken_off = |step: &Step| step.acts.iter().any(|act| matches!(act, Act::Disconnect(_)));
        let stage = if self.steps.iter().any(is_taken_off) {
            Stage::Disconnect
        } else {
            Stage::Isolate
        };
        let extra_low = job.may_carry_extra_low_voltage() && stage == Stage::Isolate;
        for (name, first, second) in Position::of(job, end, reference).pairs() {
            let probes = Probes { first, second };
            let name = self.dark(id, &name, stage, &step.say, probes.clone());
            // what lights no indicator may stand there all the same
            if extra_low && matches!(probes.second, Point::Core { .. }) {
                for function in [Function::VoltageAc, Function::VoltageDc] {
                    self.absent(id, &name, &probes, function);
                }
            }
        }
    }
}

/// A pair of points, what its name says first where another reads the same, and its name.
type Named = (&'static str, String, Point, Point);

/// One end with the earth that its points are tried against.
struct Position<'a> {
    job: &'a Job,
    end: End,
    line: Option<&'a str>,
    neutral: Option<&'a str>,
    /// The end's own earth terminal, where it is the reference.
    own_earth: Option<&'a str>,
    earth: Point,
    reference: Option<RawReference>,
}

impl<'a> Position<'a> {
    fn of(job: &'a Job, end: End, reference: Option<RawReference>) -> Position<'a> {
        let at = job.end(end);
        let terminal = |purpose: Purpose| at.terminal_for(purpose).map(|there| there.name.as_str());
        let own_earth = terminal(Purpose::Earth).filter(|_| reference != Some(RawReference::LongLead));
        let earth = match (own_earth, reference) {
            (Some(earth), _) => point(earth, end),
            (None, Some(_)) => Point::long_lead(job),
            // a record made before references were proved
            (None, None) => Point::KnownEarth,
        };
        Position {
            job,
            end,
            line: terminal(Purpose::PermanentLive).or_else(|| terminal(Purpose::SwitchedLive)),
            neutral: terminal(Purpose::Neutral),
            own_earth,
            earth,
            reference,
        }
    }

    /// The pairs that must be dark, each with its name, earth first: earth to line, neutral to line, earth to neutral, then every core and
    /// every terminal without one to earth and to neutral, then what earth does not bind, pole to pole.
    fn pairs(&self) -> Vec<(String, Point, Point)> {
        let (job, end) = (self.job, self.end);
        let mut pairs: Vec<Named> = Vec::new();
        let neutral = self.neutral.map(|neutral| point(neutral, end));
        if let Some(line) = self.line.map(|line| point(line, end)) {
            pairs.push(("end", "earth-line".into(), self.earth.clone(), line.clone()));
            pairs.extend(
                neutral
                    .clone()
                    .map(|neutral| ("end", "neutral-line".into(), neutral, line)),
            );
        }
        pairs.extend(neutral.map(|neutral| ("end", "earth-neutral".into(), self.earth.clone(), neutral)));
        for core in &job.cores {
            self.against(
                &mut pairs,
                ("core", &core.name),
                core.terminal(end),
                core_point(&core.name, end),
            );
        }
        // a terminal without a core of this cable can be fed from elsewhere as well
        for terminal in &job.end(end).terminals {
            let has_core = job.cores.iter().any(|core| core.terminal(end) == terminal.name);
            if !self.is_reference(terminal) && !has_core && self.line != Some(terminal.name.as_str()) {
                let name = format!("terminal-{}", terminal.name);
                self.against(
                    &mut pairs,
                    ("terminal", &name),
                    &terminal.name,
                    point(&terminal.name, end),
                );
            }
        }
        self.poles(&mut pairs);
        told_apart(pairs)
    }

    /// A point against earth and neutral; a reference is not shown dark against itself.
    fn against(&self, pairs: &mut Vec<Named>, (of, name): (&'static str, &str), own: &str, there: Point) {
        // terminals of one purpose are one strip, which shows nothing against itself; records were made with less
        let takes = |name: &str| {
            let mut terminals = self.job.end(self.end).terminals.iter();
            terminals.find(|there| there.name == name).map(|there| there.takes)
        };
        let is_strip = |reference: &str| match self.reference {
            None => reference == own,
            Some(_) => takes(reference) == takes(own),
        };
        if !self.own_earth.is_some_and(is_strip) {
            pairs.push((of, format!("{name}-earth"), self.earth.clone(), there.clone()));
        }
        if let Some(neutral) = self.neutral.filter(|neutral| !is_strip(neutral)) {
            pairs.push((of, format!("{name}-neutral"), point(neutral, self.end), there));
        }
    }

    /// Whether a terminal is what the others are tried against. Where a sequence names no reference none of its kind is a point, as
    /// records were made.
    fn is_reference(&self, terminal: &crate::job::Terminal) -> bool {
        match self.reference {
            None => matches!(terminal.takes, Purpose::Earth | Purpose::Neutral),
            Some(_) => [self.own_earth, self.neutral].contains(&Some(terminal.name.as_str())),
        }
    }

    /// Where neither earth nor neutral is near, a voltage between the cores shows in no other pair; nor does that of a control pair which
    /// earth does not bind.
    fn poles(&self, pairs: &mut Vec<Named>) {
        let (job, end) = (self.job, self.end);
        let has_earth = job.end(end).terminal_for(Purpose::Earth).is_some();
        let mut between = |one: &str, other: &str| {
            let (first, second) = (core_point(one, end), core_point(other, end));
            let same = |(_, _, a, b): &Named| (a, b) == (&first, &second) || (b, a) == (&first, &second);
            if !pairs.iter().any(same) {
                pairs.push(("cores", format!("{one}-{other}"), first, second));
            }
        };
        if !has_earth && self.neutral.is_none() {
            let back = &job.return_core().name;
            job.test_cores().for_each(|one| between(back, &one.name));
        }
        if let (Some(_), Some([one, other])) = (self.reference, job.control_poles()) {
            between(one, other);
        }
    }
}

/// Each neutral core of the cable at an end, as core and as terminal, with its name in steps and the core that it is about.
fn cable_neutrals(job: &Job, end: End) -> Vec<(Option<String>, Point, Option<String>)> {
    let neutrals = job.cores.iter().filter(|core| core.carries == Purpose::Neutral);
    let points = neutrals.flat_map(|core| {
        let (name, terminal) = (&core.name, core.terminal(end));
        [
            (Some(name.clone()), core_point(name, end), Some(name.clone())),
            (
                Some(format!("terminal-{terminal}")),
                point(terminal, end),
                Some(name.clone()),
            ),
        ]
    });
    points.collect()
}

fn point(terminal: &str, end: End) -> Point {
    Point::Terminal {
        terminal: terminal.to_owned(),
        end,
    }
}

fn core_point(core: &str, end: End) -> Point {
    Point::Core {
        core: core.to_owned(),
        end,
    }
}

/// A core called `earth` has pairs that read like the earth's own: the name of the later one says first what it is of.
fn told_apart(pairs: Vec<Named>) -> Vec<(String, Point, Point)> {
    let mut taken = BTreeSet::new();
    let named = |(of, name, first, second): Named| {
        let name = if taken.insert(name.clone()) {
            name
        } else {
            format!("{of}/{name}")
        };
        (name, first, second)
    };
    pairs.into_iter().map(named).collect()
}
