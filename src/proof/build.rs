//! Building the graph of a plan from the tables of order.
//!
//! The rule inside: a fact that a step shows is tied to one step, the last that shows it before energising. Where the walk goes over a
//! step that still stands, or through a gate that needs it, the fact holds if it is sound; it is unsound where something in the world
//! undid it and the tables left the step standing.

use std::collections::BTreeSet;

use super::claims::{Before, claims};
use super::effects::Shown;
use super::fact::Fact;
use super::facts::Facts;
use super::flow::{Effect, Flow, Part};
use super::graph::{Graph, Label, Numbers};
use super::later::{KINDS, Later, kind, of_kind};
use super::outcome::{
    blocks, can_fail, first_used, may_be_left, may_stand, outcomes, repair, repairs, repairs_due, resumptions,
};
use super::ties::{Ties, Void, Words};
use crate::job::End;
use crate::plan::{
    ISOLATE_FIRST, Kind, Leads, Plan, Reason, Stage, TAKEN_OUT, Then, clipped_by, goes_back_to, join_before,
    joins_after, may_follow, need, needs, null_of, proves_indicator, read_through, tables, tried_since_parted,
};

struct Builder<'a> {
    plan: &'a Plan,
    facts: &'a Facts,
    ties: Ties<'a>,
    shown: Vec<Shown>,
    flow: Flow,
    labels: Vec<Label>,
    nodes: Numbers,
    places: Vec<Before>,
    /// For each step the one that clipped the earth core, where the clip is on.
    clipped: Vec<Option<usize>>,
    /// Steps at which eyes find what is repaired once dead is proved.
    found: BTreeSet<usize>,
}

/// Builds the graph of a plan.
pub fn graph(plan: &Plan) -> Graph {
    let facts = Facts::of(plan);
    let nodes = Numbers {
        steps: plan.steps.len(),
    };
    let (mut all, places, evidence) = claims(plan, &facts);
    let ties = Ties::of(plan, &facts, &all);
    for (i, shown) in all.iter_mut().enumerate() {
        // a parted neutral that is tried once more takes nothing from the proof of the indicator behind its first trial
        if ties.owned_by(i..=i).next().is_none() {
            shown.ends.retain(|fact| !matches!(fact, Fact::ProvedSince(_)));
        }
    }
    let mut builder = Builder {
        plan,
        facts: &facts,
        ties,
        shown: all,
        flow: Flow::new(nodes.count(), facts.count()),
        labels: Vec::new(),
        nodes,
        places,
        clipped: clipped_by(plan),
        found: plan.repaired_once_dead(),
    };
    builder.build();
    let (flow, labels) = (builder.flow, builder.labels);
    Graph::new(facts, flow, labels, nodes, evidence)
}

impl Builder<'_> {
    fn blank(&self) -> Effect {
        Effect::new(self.facts.count())
    }

    fn add(&self, effect: &mut Effect, part: Part, facts: &[Fact]) {
        for fact in facts {
            effect.add(part, self.facts.number(*fact));
        }
    }

    fn edge(&mut self, from: usize, to: usize, label: Label, effect: &Effect) {
        let effect = self.flow.effect(effect);
        self.edge_of(from, to, label, effect);
    }

    fn edge_of(&mut self, from: usize, to: usize, label: Label, effect: u32) {
        self.flow.edge(from, to, effect);
        self.labels.push(label);
    }

    /// The effect of what is void, and the node where the walk goes on from there.
    fn go(&mut self, from: usize, label: Label, void: &Void) {
        let mut effect = self.blank();
        effect.join(Part::Kill, &void.undone);
        effect.join(Part::MakeSound, &void.shown);
        let unsound: Words = void.undone.iter().zip(&void.shown).map(|(u, s)| u & !s).collect();
        effect.join(Part::KillSound, &unsound);
        // what a step of these stages needs has passed for good once it was begun
        let again = self.plan.steps.get(void.first).is_some_and(|step| {
            Stage::Live <= step.stage || self.ties.first_of[Stage::Isolate as usize] == Some(void.first)
        });
        let to = if again {
            self.arrange(void.first, &mut effect);
            self.nodes.doing(void.first)
        } else {
            self.nodes.at(void.first)
        };
        self.edge(from, to, label, &effect);
    }

    fn build(&mut self) {
        let off: Vec<Fact> = self.facts.tested().iter().map(|&c| Fact::LinkOff(c)).collect();
        let mut begin = self.blank();
        let known = [
            Fact::Parted,
            Fact::ClipOff,
            Fact::NeutralBack,
            Fact::EarthsBack,
            Fact::ClipReadAfter,
            Fact::Discharged,
            Fact::ProvedSince(End::Near),
            Fact::ProvedSince(End::Far),
            Fact::ProvedAsLeft,
            Fact::AllPassed,
            Fact::NothingLeftOn,
        ];
        self.add(&mut begin, Part::Make, &known);
        self.add(&mut begin, Part::Make, &off);
        // steps that are taken over stand before the first
        for i in self.plan.taken_over() {
            for part in [Part::Make, Part::MakeSound] {
                self.add(&mut begin, part, &self.shown[i].shows);
            }
        }
        let first = self.nodes.at(0);
        self.edge(0, first, Label::Begin, &begin);
        let later = Later::of(self.plan);
        let due = repairs_due(self.plan, &later, &self.found);
        let mut vouched = vec![self.ties.words(); KINDS];
        for i in 0..self.plan.steps.len() {
            let passed = vouched[kind(&self.plan.steps[i])].clone();
            self.come_to(i, &passed, &later);
            if due.contains(&i) {
                self.repair_due(i, &passed);
            }
            self.done(i);
            if can_fail(&self.plan.steps[i]) {
                self.decide(i, &later);
            }
            self.vouch(i, &mut vouched);
        }
        self.repaired_once_dead(&due);
        self.survey();
        self.breaks();
        self.ends();
    }

    /// Adds what a step shows to what the gates of later steps vouch for.
    fn vouch(&self, i: usize, vouched: &mut [Words]) {
        let there = &self.plan.steps[i];
        for (kind, words) in vouched.iter_mut().enumerate() {
            let (of, rests) = of_kind(kind);
            let row = tables::NEEDS
                .iter()
                .find(|need| need.of == of)
                .expect("every stage has a row");
            if row.earlier.iter().any(|earlier| earlier.holds(there, rests)) {
                for fact in self.ties.owned_by(i..=i) {
                    words[fact / 64] |= 1 << (fact % 64);
                }
            }
        }
    }

    /// Links, joints and charge as the run makes them to be before a step, and cores taken out for a dead test.
    fn arrange(&self, i: usize, effect: &mut Effect) {
        let step = &self.plan.steps[i];
        if step.stage == Stage::Test {
            let taken_out = |end: &End| self.ties.taken_out[*end as usize].is_some_and(|out| out < i);
            let ends: Vec<Fact> = End::BOTH.into_iter().filter(taken_out).map(Fact::Apart).collect();
            self.add(effect, Part::Make, &ends);
            // a break leaves every core as if in a terminal, so all of the disconnecting was done since
            for stage in TAKEN_OUT.iter().filter(|stage| **stage < Stage::Test) {
                for &(owner, fact) in self.ties.owned_in(*stage) {
                    if owner < i && self.plan.steps[owner].only_if.is_empty() {
                        effect.add(Part::Make, fact);
                        effect.add(Part::MakeSound, fact);
                    }
                }
            }
        }
        if !tables::is_arranged(step) {
            return;
        }
        if tables::waits_for_charge(step) {
            self.add(effect, Part::Make, &[Fact::Discharged]);
        }
        self.tried_since_parted(i, effect);
        if tables::takes_off(step) {
            return;
        }
        let before = &self.places[i];
        let mut make = |holds: bool, fact: Fact| {
            self.add(effect, if holds { Part::Make } else { Part::Kill }, &[fact]);
        };
        for &core in self.facts.tested() {
            make(!before.links.contains(&core), Fact::LinkOff(core));
        }
        make(before.parted, Fact::Parted);
        make(!before.earthed, Fact::ClipOff);
        make(!before.neutral_off, Fact::NeutralBack);
        make(before.earths_off.is_empty(), Fact::EarthsBack);
        // the run lets nothing rest on a clip that was not read through
        if join_before(self.plan, &self.clipped, i).is_some() {
            make(true, Fact::ClipRead);
        }
    }

    /// The run lets no hands go on at a neutral that was parted anew and not tried since.
    fn tried_since_parted(&self, i: usize, effect: &mut Effect) {
        let always = |tried: &usize| self.plan.steps[*tried].only_if.is_empty();
        let mut shown = BTreeSet::new();
        for tried in tried_since_parted(self.plan, i).into_iter().filter(always) {
            shown.retain(|fact| !self.shown[tried].ends.contains(fact));
            shown.extend(self.shown[tried].shows.iter().copied());
            for fact in self.ties.owned_by(tried..=tried) {
                effect.add(Part::MakeSound, fact);
            }
        }
        let shown: Vec<Fact> = shown.into_iter().collect();
        self.add(effect, Part::Make, &shown);
    }

    fn come_to(&mut self, i: usize, passed: &Words, later: &Later) {
        let step = &self.plan.steps[i];
        let (at, doing, next) = (self.nodes.at(i), self.nodes.doing(i), self.nodes.at(i + 1));
        let mut let_through = self.blank();
        let_through.join(Part::FromSound, passed);
        if need(step).earlier.contains(&tables::Earlier::Everything) {
            self.add(&mut let_through, Part::Make, &[Fact::AllPassed]);
        }
        self.arrange(i, &mut let_through);
        self.edge(at, doing, Label::LetThrough, &let_through);
        if may_stand(step) {
            let mut stands = self.blank();
            for fact in self.ties.owned_by(i..=i) {
                stands.add(Part::FromSound, fact);
            }
            if step.only_if.is_empty() {
                self.add(&mut stands, Part::Make, &self.shown[i].always);
            }
            self.edge(at, next, Label::Stands, &stands);
            if (may_be_left(step) || self.found.contains(&i)) && !later.binds(i) {
                let mut left = self.blank();
                let always = self.shown[i].always.clone();
                self.add(&mut left, Part::Make, &always);
                self.add(&mut left, Part::Kill, &[Fact::AllPassed]);
                self.edge(at, next, Label::StillLeft, &left);
            }
        }
        self.leave(at);
    }

    /// A break or an end in the middle.
    fn leave(&mut self, node: usize) {
        let (pause, abandoning) = (self.nodes.pause(), self.nodes.abandoning());
        self.edge_of(node, pause, Label::BrokenOff, 0);
        self.edge_of(node, abandoning, Label::Abandoned, 0);
    }

    /// What becomes of soundness where a step ends facts: a step that still waits for this one does not stand.
    fn end_facts(&self, i: usize, effect: &mut Effect) {
        if self.shown[i].ends.is_empty() {
            return;
        }
        let steps = &self.plan.steps;
        let mut void = self.ties.void(i);
        self.ties.void_steps(&mut void, i..=i);
        let void = self.ties.spread(void, i, false);
        let read_again = joins_after(self.plan, &self.clipped, i);
        for fact in &self.shown[i].ends {
            let number = self.facts.number(*fact);
            effect.add(Part::Kill, number);
            let waits = |owner: usize| {
                i < owner && needs(&steps[owner], &steps[i]) && void.shown[number / 64] >> (number % 64) & 1 == 1
            };
            // the run makes the reading through the clip that comes next void, and it stands before every later one
            let is_read_again = *fact == Fact::ClipReadAfter && !read_again.is_empty();
            if self.ties.owner[number].is_some_and(|owner| !waits(owner)) && !is_read_again {
                effect.add(Part::KillSound, number);
            }
        }
    }

    fn done(&mut self, i: usize) {
        let (doing, deciding, next) = (self.nodes.doing(i), self.nodes.deciding(i), self.nodes.at(i + 1));
        let step = &self.plan.steps[i];
        for label in outcomes(self.plan, &self.clipped, i) {
            let mut effect = self.blank();
            match label {
                Label::Pass => {
                    self.end_facts(i, &mut effect);
                    for part in [Part::Make, Part::MakeSound] {
                        self.add(&mut effect, part, &self.shown[i].shows);
                        self.add(&mut effect, part, &self.shown[i].always);
                    }
                    self.edge(doing, next, label, &effect);
                }
                Label::NotNeeded => {
                    for fact in self.ties.owned_by(i..=i) {
                        effect.add(Part::SoundFromHolds, fact);
                    }
                    self.edge(doing, next, label, &effect);
                }
                Label::LiveSeen => self.live_seen(i),
                Label::ClipUnread => {
                    // outcomes lists it only where there is one
                    let join = join_before(self.plan, &self.clipped, i).unwrap_or(i);
                    for fact in self.ties.owned_by(join..=join) {
                        effect.add(Part::MakeSound, fact);
                    }
                    self.edge(doing, self.nodes.at(join), label, &effect);
                }
                Label::LeadsChanged => {
                    self.add(&mut effect, Part::Kill, &[Fact::LeadRead]);
                    self.add(&mut effect, Part::MakeSound, &[Fact::LeadRead]);
                    // every set is measured again, beginning with the one that comes first
                    let before = || self.plan.steps[..i].iter();
                    let nulls = [Leads::Own, Leads::Long]
                        .map(|leads| before().rposition(|there| null_of(there) == Some(leads)));
                    let first = nulls.into_iter().flatten().min().unwrap_or(i);
                    self.edge(doing, self.nodes.at(first), label, &effect);
                }
                _ => {
                    self.end_facts(i, &mut effect);
                    self.failed(i, label, &mut effect);
                    self.edge(doing, deciding, label, &effect);
                }
            }
        }
        if step.kind != Kind::Gate {
            self.leave(doing);
        }
    }

    /// What is no longer shown where a step did not pass; the step itself does not stand.
    fn failed(&self, i: usize, label: Label, effect: &mut Effect) {
        let lit = proves_indicator(&self.plan.steps[i]);
        let mut lost = self.shown[i].fails.clone();
        if lit && label == Label::Fail {
            lost.extend(self.facts.darks().chain(self.facts.neutrals()));
        }
        for fact in &lost {
            let number = self.facts.number(*fact);
            // another step that shows it as well stands or falls by itself
            if self.ties.owner[number] == Some(i) || lit {
                effect.add(Part::Kill, number);
            }
            // a trip where there must be none undoes what an earlier step showed
            if !lit && !self.shown[i].shows.contains(fact) && !fact.is_of_place() {
                effect.add(Part::Kill, number);
                effect.add(Part::KillSound, number);
            }
        }
        let own: Vec<usize> = self.ties.owned_by(i..=i).collect();
        own.into_iter().for_each(|fact| effect.add(Part::MakeSound, fact));
        if lit {
            // no use of the indicator stands
            for fact in &lost {
                effect.add(Part::MakeSound, self.facts.number(*fact));
            }
        }
        // a clip that does not bite: what was measured through it is measured again
        if label == Label::Fail {
            for there in read_through(self.plan, &self.clipped, i) {
                for fact in self.ties.owned_by(there..=there) {
                    effect.add(Part::Kill, fact);
                    effect.add(Part::MakeSound, fact);
                }
            }
        }
        self.add(effect, Part::Make, &self.shown[i].always);
    }

    fn live_seen(&mut self, i: usize) {
        let mut void = self.ties.void(i);
        self.ties.void_stage(&mut void, Stage::Isolate);
        for fact in self.facts.darks().chain(self.facts.quiets()) {
            self.ties.set(&mut void.undone, fact);
        }
        let void = self.ties.spread(void, i, false);
        let doing = self.nodes.doing(i);
        self.go(doing, Label::LiveSeen, &void);
    }

    fn decide(&mut self, i: usize, later: &Later) {
        let step = &self.plan.steps[i];
        let deciding = self.nodes.deciding(i);
        let supply_on = Stage::Live <= step.stage;
        if may_follow(step, &Then::Again) {
            let void = self.ties.spread(self.ties.repeated(i, i), i, supply_on);
            self.go(deciding, Label::Again, &void);
            self.through_clip(i, Label::Again, &void);
        }
        if repair(step).is_some() {
            for (which, label) in repairs(self.facts.cores()).enumerate() {
                let mut void = self.ties.repeated(i, i);
                if let Some(&back) = goes_back_to(step).and_then(|id| self.ties.ids.get(id)) {
                    self.ties.void_steps(&mut void, back.min(i)..=i);
                }
                self.ties.touch(&mut void, which);
                // hands are in what may be live: isolation comes first
                if ISOLATE_FIRST.contains(&step.stage) {
                    self.ties.void_stage(&mut void, Stage::Isolate);
                }
                let void = self.ties.spread(void, i, supply_on);
                self.go(deciding, label, &void);
                self.through_clip(i, label, &void);
            }
        }
        if self.found.contains(&i) {
            let mut noted = self.blank();
            self.add(&mut noted, Part::Kill, &[Fact::AllPassed]);
            self.edge(deciding, self.nodes.at(i + 1), Label::Noted, &noted);
        }
        if may_be_left(step) {
            self.left(i, later);
        }
        self.leave(deciding);
    }

    /// Where a reading through the clip failed, the walk goes on from the first thing that was measured through it.
    fn through_clip(&mut self, i: usize, label: Label, void: &Void) {
        let Some(&first) = read_through(self.plan, &self.clipped, i).first() else {
            return;
        };
        let mut void = void.clone();
        self.ties.void_steps(&mut void, first..=first);
        let deciding = self.nodes.deciding(i);
        self.go(deciding, label, &void);
    }

    fn left(&mut self, i: usize, later: &Later) {
        let deciding = self.nodes.deciding(i);
        if later.binds(i) {
            // nothing goes on before it has passed: it can only be gone back to
            self.edge_of(deciding, deciding, Label::Left, 0);
        } else {
            let mut left = self.blank();
            self.add(&mut left, Part::Kill, &[Fact::AllPassed]);
            let next = self.nodes.at(i + 1);
            self.edge(deciding, next, Label::Left, &left);
            if let Some(at) = blocks(self.plan, later, i) {
                let void = self.ties.spread(self.ties.repeated(i, at), at, false);
                let from = self.nodes.at(at);
                self.go(from, Label::Blocked, &void);
            }
        }
        // an indicator that does not light makes every earlier use of it void
        if let Some(first) = first_used(self.plan, i) {
            let first = self.nodes.at(first);
            self.edge_of(deciding, first, Label::Left, 0);
        }
    }

    /// Dead is proved where the walk has come to: what was found by eye is repaired, which rests on all that let it come here.
    fn repair_due(&mut self, i: usize, passed: &Words) {
        let mut proved = self.blank();
        proved.join(Part::FromSound, passed);
        proved.join(Part::FromSound, &self.ties.stage_owned[Stage::Isolate as usize].clone());
        let (at, repairing) = (self.nodes.at(i), self.nodes.repairing());
        self.edge(at, repairing, Label::RepairDue, &proved);
    }

    /// What was found by eye and repaired is looked at again.
    fn repaired_once_dead(&mut self, due: &BTreeSet<usize>) {
        let repairing = self.nodes.repairing();
        for i in self.found.clone() {
            let at = due.first().copied().unwrap_or(i);
            for (which, label) in repairs(self.facts.cores()).enumerate() {
                let mut void = self.ties.repeated(i, at);
                self.ties.touch(&mut void, which);
                let void = self.ties.spread(void, at, false);
                self.go(repairing, label, &void);
            }
        }
        if !self.found.is_empty() {
            self.leave(repairing);
        }
    }

    /// A step of the survey that is gone back to later leads over a proof of isolation that stands.
    fn survey(&mut self) {
        let (Some(_), Some(first)) = (self.ties.first_as_found(), self.ties.first_of[Stage::Isolate as usize]) else {
            return;
        };
        let whole = self.plan.steps[first..]
            .iter()
            .take_while(|step| step.stage == Stage::Isolate)
            .count();
        let mut stands = self.blank();
        stands.join(Part::FromSound, &self.ties.stage_owned[Stage::Isolate as usize].clone());
        let (from, to) = (self.nodes.at(first), self.nodes.at(first + whole));
        self.edge(from, to, Label::Stands, &stands);
    }

    fn breaks(&mut self) {
        let pause = self.nodes.pause();
        for (which, label) in resumptions(self.facts.cores()).enumerate() {
            let mut void = self.ties.after_break(which);
            // an earth that was shown lit is shown again where the supply was on
            let isolates = self.ties.first_of[Stage::Isolate as usize];
            void.first = self.ties.lit.first().copied().or(isolates).unwrap_or(0);
            self.go(pause, label, &void);
            // a break before anything was switched begins with what is found again
            if let Some(first) = self.ties.first_as_found() {
                self.ties.void_stage(&mut void, Stage::Survey);
                self.ties.void_stage(&mut void, Stage::FaultFinding);
                // whoever comes back says anew why it stays on
                for reason in Reason::ALL {
                    self.ties.set(&mut void.undone, Fact::Reason(reason));
                }
                void.first = first;
                self.go(pause, label, &void);
            }
        }
    }

    fn ends(&mut self) {
        let nodes = self.nodes;
        let (abandoning, making_safe, abandoned) = (nodes.abandoning(), nodes.making_safe(), nodes.abandoned());
        let (last, completed) = (nodes.last(), nodes.completed());
        let mut off = self.blank();
        self.add(&mut off, Part::Make, &[Fact::NothingLeftOn]);
        self.edge(abandoning, abandoned, Label::IsOff, &off);
        self.edge_of(abandoning, making_safe, Label::IsOn, 0);
        self.edge(making_safe, abandoned, Label::MadeSafe, &off);
        let mut closing = self.blank();
        if tables::ends_on(self.plan) == Some(true) {
            // with the supply on everything has passed, what was read live too
            let earthed = End::BOTH.map(Fact::Earthed).into_iter().chain(self.facts.gripped());
            let earthed: Vec<usize> = earthed.map(|fact| self.facts.number(fact)).collect();
            for fact in earthed.into_iter().filter(|fact| self.ties.owner[*fact].is_some()) {
                closing.add(Part::FromSound, fact);
            }
            if tables::CLOSING_LIVE.contains(&tables::Earlier::Everything) {
                self.add(&mut closing, Part::Make, &[Fact::AllPassed]);
            }
        } else {
            // what is left with the supply on is gone back to, and what has all passed ends with the supply off
            self.add(&mut closing, Part::Make, &[Fact::NothingLeftOn]);
            // links, joints and charge that a break may have left are asked about before a complete run is closed
            let clear = super::asked::clear(self.facts);
            self.add(&mut closing, Part::Make, &clear);
        }
        self.edge(last, completed, Label::Closed, &closing);
        self.leave(last);
    }
}
