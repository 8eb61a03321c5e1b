//! Facts that hold on every path through a graph: a must-analysis to the greatest fixed point, and the shortest path that
//! breaks a fact.
//!
//! The rule inside: every fact has two bits, `holds` and `sound`; sound means that the step which shows the fact does not stand
//! as passed, or that the fact holds. An edge sets a bit, clears it, leaves it, or takes it from the other one of the same fact. All
//! of these distribute over the meeting of paths, so the fixed point is exactly what holds at the end of every path: no alarm of
//! the solver is false, no broken path is missed (Kam and Ullman, Acta Informatica 7, 1977).

use std::collections::BTreeMap;
use std::hash::{DefaultHasher, Hash, Hasher};

/// No node, no edge.
const NONE: u32 = u32::MAX;

/// Parts of an effect, each as wide as the facts: for each bit, where it is set, where it stays, where it takes the other's value.
const PARTS: usize = 6;

/// One edge; `effect` is a number that [`Flow::effect`] gave.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Edge {
    /// The node it leaves.
    pub from: u32,
    /// The node it comes to.
    pub to: u32,
    /// What becomes of the facts on the way.
    pub effect: u32,
}

/// What an edge does to the facts, as sets of their numbers. Setting comes before taking, taking before clearing.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Effect {
    width: usize,
    words: Vec<u64>,
}

/// The places of an effect's sets among its words.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Part {
    /// The fact holds from here on.
    Make,
    /// It does not hold from here on.
    Kill,
    /// It holds where it was sound.
    FromSound,
    /// It is sound: the step that shows it does not stand.
    MakeSound,
    /// It is not sound: the step that shows it may stand, and it does not hold.
    KillSound,
    /// It is sound where it held.
    SoundFromHolds,
}

impl Effect {
    /// An effect that changes nothing, for so many facts.
    pub fn new(facts: usize) -> Effect {
        let width = width(facts);
        Effect {
            width,
            words: vec![0; PARTS * width],
        }
    }

    /// Adds a fact to a part.
    pub fn add(&mut self, part: Part, fact: usize) {
        self.words[part as usize * self.width + fact / 64] |= 1 << (fact % 64);
    }

    /// Adds a set of facts to a part.
    pub fn join(&mut self, part: Part, facts: &[u64]) {
        let at = part as usize * self.width;
        self.words[at..at + self.width]
            .iter_mut()
            .zip(facts)
            .for_each(|(a, b)| *a |= b);
    }

    fn part(&self, part: Part) -> &[u64] {
        &self.words[part as usize * self.width..][..self.width]
    }

    /// What stays: neither cleared nor taken from the other bit.
    fn stay(&self, kill: Part, take: Part) -> impl Iterator<Item = u64> {
        let both = self.part(kill).iter().zip(self.part(take));
        both.map(|(kill, take)| !(kill | take))
    }

    /// The rows that the solver works with: set, stay and take for `holds`, then for `sound`.
    fn rows(&self) -> [Vec<u64>; PARTS] {
        [
            self.part(Part::Make).to_vec(),
            self.stay(Part::Kill, Part::FromSound).collect(),
            self.part(Part::FromSound).to_vec(),
            self.part(Part::MakeSound).to_vec(),
            self.stay(Part::KillSound, Part::SoundFromHolds).collect(),
            self.part(Part::SoundFromHolds).to_vec(),
        ]
    }

    /// Whether these are its rows.
    fn has_rows(&self, [make, stay, take, make_sound, stay_sound, take_sound]: [&[u64]; PARTS]) -> bool {
        let same = |row: &[u64], part: Part| row == self.part(part);
        same(make, Part::Make)
            && same(take, Part::FromSound)
            && same(make_sound, Part::MakeSound)
            && same(take_sound, Part::SoundFromHolds)
            && self.stay(Part::Kill, Part::FromSound).eq(stay.iter().copied())
            && self
                .stay(Part::KillSound, Part::SoundFromHolds)
                .eq(stay_sound.iter().copied())
    }
}

fn hash(words: &[u64]) -> u64 {
    let mut hasher = DefaultHasher::new();
    words.hash(&mut hasher);
    hasher.finish()
}

/// The number that is kept under a hash or, where another has the same, under the next; the error is the place that is free for it.
fn find(known: &BTreeMap<u64, u32>, hash: u64, is_it: impl Fn(u32) -> bool) -> Result<u32, u64> {
    let mut at = hash;
    while let Some(&number) = known.get(&at) {
        if is_it(number) {
            return Ok(number);
        }
        at = at.wrapping_add(1);
    }
    Err(at)
}

/// Rows of one width, each there once: most effects share most of theirs, and a long plan would not fit otherwise.
#[derive(Debug, Clone)]
struct Rows {
    width: usize,
    words: Vec<u64>,
    /// The numbers of rows by their hash.
    known: BTreeMap<u64, u32>,
}

impl Rows {
    fn at(&self, number: u32) -> &[u64] {
        &self.words[number as usize * self.width..][..self.width]
    }

    /// The number of a row, which is put there if it is new.
    fn number(&mut self, row: &[u64]) -> u32 {
        let next = (self.words.len() / self.width) as u32;
        let (width, words) = (self.width, &self.words);
        let is_row = |number: u32| &words[number as usize * width..][..width] == row;
        match find(&self.known, hash(row), is_row) {
            Ok(number) => number,
            Err(free) => {
                self.known.insert(free, next);
                self.words.extend(row);
                next
            }
        }
    }
}

/// Words that so many facts take.
fn width(facts: usize) -> usize {
    facts.div_ceil(64).max(1)
}

/// A graph whose edges change facts. Node 0 is the entry, where no fact holds and every one is sound.
#[derive(Debug, Clone)]
pub struct Flow {
    nodes: usize,
    width: usize,
    edges: Vec<Edge>,
    rows: Rows,
    /// The rows of each effect, as [`Effect::rows`] gives them.
    effects: Vec<[u32; PARTS]>,
    /// The numbers of effects by their hash.
    known: BTreeMap<u64, u32>,
}

/// The solution: which facts hold at each node on every path.
#[derive(Debug, Clone)]
pub struct Reached {
    width: usize,
    /// For each node the words of `holds`, then those of `sound`.
    state: Vec<u64>,
    reached: Vec<bool>,
}

impl Reached {
    /// Whether any path leads to a node.
    pub fn is_reached(&self, node: usize) -> bool {
        self.reached[node]
    }

    /// Whether a fact holds at a node on every path to it; at a node without a path everything holds.
    pub fn holds(&self, node: usize, fact: usize) -> bool {
        !self.reached[node] || self.words(node)[fact / 64] >> (fact % 64) & 1 == 1
    }

    /// Whether a fact is sound at a node on every path to it.
    pub fn is_sound(&self, node: usize, fact: usize) -> bool {
        let at = (2 * node + 1) * self.width + fact / 64;
        !self.reached[node] || self.state[at] >> (fact % 64) & 1 == 1
    }

    /// The facts that hold at a node as words of 64 bits.
    pub fn words(&self, node: usize) -> &[u64] {
        &self.state[2 * node * self.width..(2 * node + 1) * self.width]
    }
}

/// Edges by one of their nodes: where each node's begin, and their numbers.
struct Sorted {
    start: Vec<u32>,
    edges: Vec<u32>,
}

impl Sorted {
    fn at(&self, node: usize) -> &[u32] {
        &self.edges[self.start[node] as usize..self.start[node + 1] as usize]
    }
}

impl Flow {
    /// A graph without edges.
    ///
    /// # Panics
    /// When there is no node, or 2^32 - 1 or more.
    pub fn new(nodes: usize, facts: usize) -> Flow {
        assert!(
            0 < nodes && nodes < NONE as usize,
            "a graph has an entry and fewer than 2^32 - 1 nodes"
        );
        let mut flow = Flow {
            nodes,
            width: width(facts),
            edges: Vec::new(),
            rows: Rows {
                width: width(facts),
                words: Vec::new(),
                known: BTreeMap::new(),
            },
            effects: Vec::new(),
            known: BTreeMap::new(),
        };
        flow.effect(&Effect::new(facts));
        flow
    }

    /// The number of nodes.
    pub fn nodes(&self) -> usize {
        self.nodes
    }

    /// Every edge, in the order they were added.
    pub fn edges(&self) -> &[Edge] {
        &self.edges
    }

    /// A number for an effect. Number 0 changes nothing.
    pub fn effect(&mut self, effect: &Effect) -> u32 {
        assert_eq!(effect.width, self.width, "an effect has the width of the facts");
        let same = |number: u32| effect.has_rows(self.effects[number as usize].map(|row| self.rows.at(row)));
        match find(&self.known, hash(&effect.words), same) {
            Ok(number) => number,
            Err(free) => {
                let number = self.effects.len() as u32;
                self.effects.push(effect.rows().map(|row| self.rows.number(&row)));
                self.known.insert(free, number);
                number
            }
        }
    }

    /// Adds an edge.
    pub fn edge(&mut self, from: usize, to: usize, effect: u32) {
        assert!(from < self.nodes && to < self.nodes, "an edge joins nodes of the graph");
        self.edges.push(Edge {
            from: from as u32,
            to: to as u32,
            effect,
        });
    }

    /// The same graph without one edge.
    pub fn without(&self, edge: usize) -> Flow {
        let mut flow = self.clone();
        flow.edges.remove(edge);
        flow
    }

    /// What an edge makes of the two bits of a fact.
    pub fn across(&self, edge: &Edge, fact: usize, (holds, sound): (bool, bool)) -> (bool, bool) {
        let rows = self.effects[edge.effect as usize];
        let bit = |part: usize| self.rows.at(rows[part])[fact / 64] >> (fact % 64) & 1 == 1;
        (
            bit(0) || (holds && bit(1)) || (sound && bit(2)),
            bit(3) || (sound && bit(4)) || (holds && bit(5)),
        )
    }

    fn by(&self, end: impl Fn(&Edge) -> u32) -> Sorted {
        let mut start = vec![0_u32; self.nodes + 1];
        self.edges.iter().for_each(|e| start[end(e) as usize + 1] += 1);
        (0..self.nodes).for_each(|n| start[n + 1] += start[n]);
        let mut next = start.clone();
        let mut edges = vec![0_u32; self.edges.len()];
        for (number, edge) in self.edges.iter().enumerate() {
            let at = &mut next[end(edge) as usize];
            edges[*at as usize] = number as u32;
            *at += 1;
        }
        Sorted { start, edges }
    }

    /// The nodes that are reached, each after what leads to it except around loops.
    fn order(&self, leaving: &Sorted) -> Vec<u32> {
        let mut seen = vec![false; self.nodes];
        let mut next = leaving.start.clone();
        let mut stack = vec![0_u32];
        let mut order = Vec::with_capacity(self.nodes);
        seen[0] = true;
        while let Some(&node) = stack.last() {
            let at = &mut next[node as usize];
            if *at == leaving.start[node as usize + 1] {
                order.push(node);
                stack.pop();
                continue;
            }
            let to = self.edges[leaving.edges[*at as usize] as usize].to;
            *at += 1;
            if !seen[to as usize] {
                seen[to as usize] = true;
                stack.push(to);
            }
        }
        order.reverse();
        order
    }

    /// The greatest fixed point.
    pub fn solve(&self) -> Reached {
        let leaving = self.by(|edge| edge.from);
        let order = self.order(&leaving);
        let mut place = vec![NONE; self.nodes];
        for (i, &node) in order.iter().enumerate() {
            place[node as usize] = i as u32;
        }
        let w = self.width;
        let mut state = vec![u64::MAX; 2 * self.nodes * w];
        state[..w].fill(0);
        let mut dirty = vec![false; self.nodes];
        dirty[0] = true;
        let mut fresh = vec![true; self.nodes];
        let mut from = 0;
        // sweeps in order; a change behind the sweep is taken up by the next one
        loop {
            let mut again = usize::MAX;
            for (at, &node) in order.iter().enumerate().skip(from) {
                if !std::mem::take(&mut dirty[node as usize]) {
                    continue;
                }
                for &number in leaving.at(node as usize) {
                    let edge = self.edges[number as usize];
                    let to = edge.to as usize;
                    let changed = self.meet(&mut state, &edge) | std::mem::take(&mut fresh[to]);
                    if changed {
                        dirty[to] = true;
                        let there = place[to] as usize;
                        if there <= at {
                            again = again.min(there);
                        }
                    }
                }
            }
            if again == usize::MAX {
                break;
            }
            from = again;
        }
        let reached = place.iter().map(|&p| p != NONE).collect();
        Reached {
            width: w,
            state,
            reached,
        }
    }

    /// Takes what comes over an edge into its end; whether that changed anything there.
    fn meet(&self, state: &mut [u64], edge: &Edge) -> bool {
        let w = self.width;
        let (from, to) = (2 * edge.from as usize * w, 2 * edge.to as usize * w);
        let rows = self.effects[edge.effect as usize];
        let [make, stay, take, make_sound, stay_sound, take_sound] = rows.map(|row| self.rows.at(row));
        let mut changed = 0;
        for i in 0..w {
            let (holds, sound) = (state[from + i], state[from + w + i]);
            let out_holds = make[i] | (holds & stay[i]) | (sound & take[i]);
            let out_sound = make_sound[i] | (sound & stay_sound[i]) | (holds & take_sound[i]);
            let (there_holds, there_sound) = (state[to + i], state[to + w + i]);
            changed |= (there_holds & !out_holds) | (there_sound & !out_sound);
            state[to + i] = there_holds & out_holds;
            state[to + w + i] = there_sound & out_sound;
        }
        changed != 0
    }

    /// The shortest path to a node at whose end a fact does not hold, as numbers of edges; `None` where it always holds.
    ///
    /// A search over nodes together with the two bits of the fact there; `cost` gives an edge 0 to 3.
    pub fn shortest(&self, node: usize, fact: usize, cost: impl Fn(usize) -> usize) -> Option<Vec<usize>> {
        self.search(
            |edge, bits| self.across(edge, fact, bits),
            |n, (holds, _)| n == node && !holds,
            cost,
        )
    }

    /// The shortest path to a node, whatever holds there.
    pub fn way_to(&self, node: usize, cost: impl Fn(usize) -> usize) -> Option<Vec<usize>> {
        self.search(|_, bits| bits, |n, _| n == node, cost)
    }

    fn search(
        &self,
        across: impl Fn(&Edge, (bool, bool)) -> (bool, bool),
        wanted: impl Fn(usize, (bool, bool)) -> bool,
        cost: impl Fn(usize) -> usize,
    ) -> Option<Vec<usize>> {
        let leaving = self.by(|edge| edge.from);
        let bits = |state: usize| (state & 1 == 1, state & 2 == 2);
        let number = |node: usize, (holds, sound): (bool, bool)| 4 * node + usize::from(holds) + 2 * usize::from(sound);
        let first = number(0, (false, true));
        let mut far = vec![NONE; 4 * self.nodes];
        // the edge by which a state was come to, and the state before it
        let mut came = vec![(NONE, NONE); 4 * self.nodes];
        far[first] = 0;
        // costs are at most 3, so four heaps taken in turn are enough
        let mut heaps: [Vec<usize>; 4] = Default::default();
        heaps[0].push(first);
        let (mut now, mut empty, mut found) = (0_u32, 0, None);
        while empty < 4 && found.is_none() {
            let Some(state) = heaps[now as usize % 4].pop() else {
                now += 1;
                empty += 1;
                continue;
            };
            empty = 0;
            if far[state] != now {
                continue;
            }
            if wanted(state / 4, bits(state)) {
                found = Some(state);
                break;
            }
            for &edge in leaving.at(state / 4) {
                let along = &self.edges[edge as usize];
                let to = number(along.to as usize, across(along, bits(state)));
                let there = now + cost(edge as usize) as u32;
                if there < far[to] {
                    far[to] = there;
                    came[to] = (edge, state as u32);
                    heaps[there as usize % 4].push(to);
                }
            }
        }
        let mut state = found?;
        let mut path = Vec::new();
        while state != first {
            let (edge, before) = came[state];
            path.push(edge as usize);
            state = before as usize;
        }
        path.reverse();
        Some(path)
    }

    /// Nodes from which none of `ends` is reached.
    pub fn without_way_out(&self, ends: &[usize]) -> Vec<usize> {
        let coming = self.by(|edge| edge.to);
        let mut seen = vec![false; self.nodes];
        let mut stack = ends.to_vec();
        ends.iter().for_each(|&n| seen[n] = true);
        while let Some(node) = stack.pop() {
            for &number in coming.at(node) {
                let from = self.edges[number as usize].from as usize;
                if !std::mem::replace(&mut seen[from], true) {
                    stack.push(from);
                }
            }
        }
        (0..self.nodes).filter(|&n| !seen[n]).collect()
    }
}
