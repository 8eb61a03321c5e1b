//! What each fact is tied to, and what becomes void with what.
//!
//! The rule inside: a fact is tied to one step, the last that shows it before energising; what is void is worked out from the same
//! rows that the run reads.

use std::collections::BTreeMap;

use super::effects::Shown;
use super::fact::Fact;
use super::facts::Facts;
use super::outcome::{since, spoken_of};
use crate::job::End;
use crate::plan::{
    Act, Class, Earlier, Plan, Rests, SPREADS, Stage, TAKEN_OUT, proves_earth, reads_as_set, shows_parted, touchable,
};

/// A set of facts as words.
pub(super) type Words = Vec<u64>;

/// What becomes void at a decision, a break or a block, and what the world has undone.
#[derive(Debug, Clone, Default)]
pub(super) struct Void {
    /// The first step that is void, as far as the walk has come.
    pub(super) first: usize,
    pub(super) stages: [bool; Stage::ALL.len()],
    /// Facts whose step is void.
    pub(super) shown: Words,
    /// Facts that do not hold any more.
    pub(super) undone: Words,
}

/// What a touch of nothing, one core or everything means.
#[derive(Debug, Clone, Default)]
struct Touch {
    stages: [bool; Stage::ALL.len()],
    first: Option<usize>,
    shown: Words,
    undone: Words,
}

/// A plan with what its facts are tied to.
pub(super) struct Ties<'a> {
    plan: &'a Plan,
    facts: &'a Facts,
    /// The step that each fact is tied to.
    pub(super) owner: Vec<Option<usize>>,
    /// Facts by the step they are tied to, in the order of steps.
    owned: Vec<(usize, usize)>,
    /// Facts tied to steps of each stage.
    pub(super) stage_owned: [Words; Stage::ALL.len()],
    pub(super) first_of: [Option<usize>; Stage::ALL.len()],
    /// How many steps of each stage stand before a step.
    before: Vec<[u32; Stage::ALL.len()]>,
    touch: Vec<Touch>,
    /// The last step before each that sets a control for a reading of the place as found, where the step is such a reading.
    set_by: Vec<Option<usize>>,
    /// The readings of an end's earth once it is connected.
    read: Vec<usize>,
    /// The places of the steps that others speak of.
    pub(super) ids: BTreeMap<&'a str, usize>,
    /// The first step of the disconnecting that takes every core off at each end.
    pub(super) taken_out: [Option<usize>; 2],
    /// Steps that show an earth lit to line before switching off.
    pub(super) lit: Vec<usize>,
    /// Steps that show something of parted neutrals.
    parted: Vec<usize>,
}

impl<'a> Ties<'a> {
    pub(super) fn of(plan: &'a Plan, facts: &'a Facts, shown: &[Shown]) -> Ties<'a> {
        let words = vec![0; facts.count().div_ceil(64).max(1)];
        let mut before = Vec::with_capacity(plan.steps.len() + 1);
        let mut owner = vec![None; facts.count()];
        let mut first_of = [None; Stage::ALL.len()];
        let mut taken_out = [None; 2];
        let mut count = [0; Stage::ALL.len()];
        let (mut set, mut set_by) = (None, Vec::with_capacity(plan.steps.len()));
        for (i, (step, shown)) in plan.steps.iter().zip(shown).enumerate() {
            let shows = shown.shows.iter().chain(&shown.always);
            for fact in shows.filter(|fact| !fact.is_of_place()) {
                let slot: &mut Option<usize> = &mut owner[facts.number(*fact)];
                // what a live step shows, or one that may not be needed, is tied to the one that showed it before
                let lasting = step.stage < Stage::Live && step.only_if.is_empty() && !fact.is_shown_before_others();
                if lasting || slot.is_none() {
                    *slot = Some(i);
                }
            }
            for end in End::BOTH {
                let always = TAKEN_OUT.contains(&step.stage) && step.only_if.is_empty();
                if always && step.acts.contains(&Act::Disconnect(end)) {
                    taken_out[end as usize].get_or_insert(i);
                }
            }
            set_by.push(set.filter(|_| reads_as_set(step)));
            if Earlier::Set.holds(step, Rests::default()) {
                set = Some(i);
            }
            first_of[step.stage as usize].get_or_insert(i);
            before.push(count);
            count[step.stage as usize] += 1;
        }
        before.push(count);
        let tied = owner.iter().enumerate();
        let mut owned: Vec<_> = tied.filter_map(|(f, i)| Some(((*i)?, f))).collect();
        owned.sort_unstable();
        let mut stage_owned: [Words; Stage::ALL.len()] = std::array::from_fn(|_| words.clone());
        for &(i, fact) in &owned {
            stage_owned[plan.steps[i].stage as usize][fact / 64] |= 1 << (fact % 64);
        }
        let mut ties = Ties {
            plan,
            facts,
            owner,
            owned,
            stage_owned,
            first_of,
            before,
            touch: Vec::new(),
            set_by,
            read: (0..plan.steps.len())
                .filter(|&i| Class::ReadAsLeft.holds(&plan.steps[i]))
                .collect(),
            ids: places(plan),
            taken_out,
            parted: (0..plan.steps.len())
                .filter(|i| shows_parted(&plan.steps[*i]))
                .collect(),
            lit: (0..plan.steps.len())
                .filter(|i| proves_earth(&plan.steps[*i]))
                .collect(),
        };
        ties.touch = ties.touches();
        ties
    }

    /// The first step that is done on the place as it was found.
    pub(super) fn first_as_found(&self) -> Option<usize> {
        let first = |stage: Stage| self.first_of[stage as usize];
        let both = [first(Stage::Survey), first(Stage::FaultFinding)];
        both.into_iter().flatten().min()
    }

    pub(super) fn words(&self) -> Words {
        vec![0; self.facts.count().div_ceil(64).max(1)]
    }

    pub(super) fn set(&self, words: &mut Words, fact: Fact) {
        let number = self.facts.number(fact);
        words[number / 64] |= 1 << (number % 64);
    }

    /// The facts tied to one of these steps.
    pub(super) fn owned_by(&self, steps: std::ops::RangeInclusive<usize>) -> impl Iterator<Item = usize> + '_ {
        let from = self.owned.partition_point(|(i, _)| i < steps.start());
        let end = *steps.end();
        self.owned[from..]
            .iter()
            .take_while(move |(i, _)| *i <= end)
            .map(|(_, fact)| *fact)
    }

    /// The facts tied to steps of a stage, each with its step.
    pub(super) fn owned_in(&self, stage: Stage) -> impl Iterator<Item = &(usize, usize)> {
        let of_stage = move |(owner, _): &&(usize, usize)| self.plan.steps[*owner].stage == stage;
        self.owned.iter().filter(of_stage)
    }

    /// What a touch of nothing, each core, and everything makes void and undoes.
    fn touches(&self) -> Vec<Touch> {
        let facts = self.facts;
        let cores = facts.cores();
        let blank = Touch {
            shown: self.words(),
            undone: self.words(),
            ..Touch::default()
        };
        let mut all = vec![blank; cores + 2];
        for (i, step) in self.plan.steps.iter().enumerate().filter(|(_, step)| touchable(step)) {
            let named = step.cores.iter().filter_map(|name| facts.core(name));
            for which in named.map(|core| core + 1).chain([cores + 1]) {
                let touch = &mut all[which];
                touch.first.get_or_insert(i);
                touch.stages[step.stage as usize] = true;
                for fact in self.owned_by(i..=i) {
                    touch.shown[fact / 64] |= 1 << (fact % 64);
                }
            }
        }
        for core in 0..cores {
            for fact in facts.about(core) {
                for which in [core + 1, cores + 1] {
                    let mut undone = std::mem::take(&mut all[which].undone);
                    self.set(&mut undone, fact);
                    all[which].undone = undone;
                }
            }
        }
        all
    }

    /// Nothing void yet, with the walk at a step.
    pub(super) fn void(&self, at: usize) -> Void {
        Void {
            first: at,
            shown: self.words(),
            undone: self.words(),
            ..Void::default()
        }
    }

    pub(super) fn void_steps(&self, void: &mut Void, steps: std::ops::RangeInclusive<usize>) {
        for fact in self.owned_by(steps.clone()) {
            void.shown[fact / 64] |= 1 << (fact % 64);
        }
        for stage in 0..Stage::ALL.len() {
            void.stages[stage] |= self.before[*steps.start()][stage] < self.before[steps.end() + 1][stage];
        }
        void.first = void.first.min(*steps.start());
    }

    pub(super) fn void_stage(&self, void: &mut Void, stage: Stage) {
        void.stages[stage as usize] = true;
        join(&mut void.shown, &self.stage_owned[stage as usize]);
        if let Some(first) = self.first_of[stage as usize] {
            void.first = void.first.min(first);
        }
    }

    /// The readings of an end's earth, which are steps of the stage that they are void with.
    fn void_as_left(&self, void: &mut Void) {
        for &i in &self.read {
            for fact in self.owned_by(i..=i) {
                void.shown[fact / 64] |= 1 << (fact % 64);
            }
            void.first = void.first.min(i);
        }
    }

    pub(super) fn touch(&self, void: &mut Void, which: usize) {
        let touch = &self.touch[which];
        join(&mut void.shown, &touch.shown);
        join(&mut void.undone, &touch.undone);
        void.first = void.first.min(touch.first.unwrap_or(usize::MAX));
        for (mine, theirs) in void.stages.iter_mut().zip(touch.stages) {
            *mine |= theirs;
        }
    }

    /// Spreads what is void by the tables; `at` is where the walk was.
    pub(super) fn spread(&self, mut void: Void, at: usize, supply_on: bool) -> Void {
        loop {
            let before = void.stages;
            for row in SPREADS.iter().filter(|row| supply_on || !row.supply_on) {
                if row.hit.iter().any(|stage| before[*stage as usize]) {
                    for class in row.also {
                        match class {
                            Class::Stage(stage) => self.void_stage(&mut void, *stage),
                            Class::ReadAsLeft => self.void_as_left(&mut void),
                            Class::EarthsLit => self.lit.iter().for_each(|&i| self.void_steps(&mut void, i..=i)),
                            Class::Parted => self.parted.iter().for_each(|&i| self.void_steps(&mut void, i..=i)),
                            // gates show nothing of their own and stand after what they wait for
                            Class::Gates => {}
                        }
                    }
                }
            }
            if void.stages == before {
                break;
            }
        }
        // with cores in terminals a dead test waits until they are out
        let connecting = self.first_of[Stage::Connect as usize].is_some_and(|first| first <= at);
        let next = self.plan.steps.get(void.first).map(|step| step.stage);
        let tests = void.stages[Stage::Test as usize] && !void.stages[Stage::Disconnect as usize];
        if connecting && tests && matches!(next, Some(Stage::Isolate | Stage::Test)) {
            TAKEN_OUT.iter().for_each(|stage| self.void_stage(&mut void, *stage));
        }
        void
    }

    /// What is done again with a step: itself, and the steps since the one its time counts from or that set a control for it.
    pub(super) fn repeated(&self, i: usize, at: usize) -> Void {
        let mut void = self.void(at);
        let since = since(&self.plan.steps[i]).and_then(|id| self.ids.get(id)).copied();
        let first = since.map_or(i, |since| since.min(i));
        let first = self.set_by[i].map_or(first, |set| set.min(first));
        self.void_steps(&mut void, first..=i);
        if shows_parted(&self.plan.steps[i]) {
            self.void_stage(&mut void, Stage::Isolate);
        }
        void
    }

    /// What a break leaves unknown, and what it makes void.
    pub(super) fn after_break(&self, which: usize) -> Void {
        let at = self.plan.steps.len();
        let mut void = self.void(at);
        self.touch(&mut void, which);
        self.void_stage(&mut void, Stage::Isolate);
        let facts = self.facts;
        let mut unknown = vec![
            Fact::SwitchedOff,
            Fact::LockedOff,
            Fact::KeyKept,
            Fact::NoticePosted,
            Fact::ProvedBefore(End::Near),
            Fact::ProvedBefore(End::Far),
            Fact::ProvedAfter,
            Fact::ElectronicsOut,
            Fact::FarEndGuarded,
            Fact::Parted,
            Fact::ClipOff,
            Fact::NeutralBack,
            Fact::EarthsBack,
            Fact::LeadRead,
        ];
        // other leads may be in use: they are measured again
        self.set(&mut void.shown, Fact::LeadRead);
        unknown.extend(End::BOTH.map(Fact::Apart));
        unknown.extend(facts.darks());
        unknown.extend(facts.further());
        unknown.extend(facts.quiets());
        unknown.extend(facts.tested().iter().map(|&core| Fact::LinkOff(core)));
        for fact in unknown {
            self.set(&mut void.undone, fact);
        }
        self.spread(void, at, true)
    }
}

/// The places of the steps that others speak of: a map of every name would be most of the work.
fn places(plan: &Plan) -> BTreeMap<&str, usize> {
    let names = spoken_of(plan);
    let all = plan.steps.iter().enumerate().map(|(i, step)| (step.id.as_str(), i));
    all.filter(|(id, _)| names.contains(id)).collect()
}

/// Adds a set of facts to another.
fn join(into: &mut Words, from: &Words) {
    into.iter_mut().zip(from).for_each(|(a, b)| *a |= b);
}
