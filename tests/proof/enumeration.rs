//! The fixed point against every path that visits no node more than twice (three times where a fact may be taken from whether it is
//! sound), fact by fact, on random small graphs.
//!
//! Twice is enough for facts that are only made and killed: a fact is broken by one kill that nothing after it mends, and a path to
//! the kill and a path on from it can each be taken without repeating a node. Where the two bits of a fact are taken from each
//! other, the path on may pass a node once with each of them. That no false alarm is given and no broken path missed is one
//! assertion: a fact holds at a node by the solver if and only if it holds at the end of every path.

use coreproof::proof::{Effect, Flow, Part};

use super::Dice;

const PARTS: [Part; 6] = [
    Part::Make,
    Part::Kill,
    Part::FromSound,
    Part::MakeSound,
    Part::KillSound,
    Part::SoundFromHolds,
];

/// From, to, and the facts of each part.
type Edge = (usize, usize, [u8; 6]);

struct Small {
    nodes: usize,
    facts: usize,
    edges: Vec<Edge>,
}

/// The state at the end of a path: facts that hold, facts that are sound.
type State = (u8, u8);

/// What an edge makes of a state; written another way than the solver does it, one fact at a time.
fn across(parts: &[u8; 6], (holds, sound): State) -> State {
    let mut out = (0, 0);
    for fact in 0..8 {
        let on = |mask: u8| mask >> fact & 1 == 1;
        let [make, kill, from_sound, make_sound, kill_sound, from_holds] = parts.map(on);
        let now_holds = match (make, from_sound, kill) {
            (true, _, _) => true,
            (_, true, _) => on(sound),
            (_, _, true) => false,
            _ => on(holds),
        };
        let now_sound = match (make_sound, from_holds, kill_sound) {
            (true, _, _) => true,
            (_, true, _) => on(holds),
            (_, _, true) => false,
            _ => on(sound),
        };
        out.0 |= u8::from(now_holds) << fact;
        out.1 |= u8::from(now_sound) << fact;
    }
    out
}

fn random(dice: &mut Dice, two_bits: bool) -> Small {
    let nodes = 2 + dice.below(if two_bits { 3 } else { 5 });
    let facts = 1 + dice.below(4);
    let most = if two_bits { 3 + nodes } else { 2 * nodes };
    let mask = |dice: &mut Dice| (dice.below(1 << facts) & dice.below(1 << facts)) as u8;
    let edges = (0..1 + dice.below(most))
        .map(|_| {
            let parts = std::array::from_fn(|part| if two_bits || part < 2 { mask(dice) } else { 0 });
            (dice.below(nodes), dice.below(nodes), parts)
        })
        .collect();
    Small { nodes, facts, edges }
}

/// The facts that hold, and that are sound, on every path, by walking every path.
fn enumerated(small: &Small, visits_max: u8) -> Vec<Option<State>> {
    fn go(small: &Small, max: u8, node: usize, held: State, visits: &mut [u8], met: &mut [Option<State>]) {
        met[node] = Some(met[node].map_or(held, |before| (before.0 & held.0, before.1 & held.1)));
        for (from, to, parts) in &small.edges {
            if *from == node && visits[*to] < max {
                visits[*to] += 1;
                go(small, max, *to, across(parts, held), visits, met);
                visits[*to] -= 1;
            }
        }
    }
    let mut met = vec![None; small.nodes];
    let mut visits = vec![0; small.nodes];
    visits[0] = 1;
    go(small, visits_max, 0, (0, u8::MAX), &mut visits, &mut met);
    met
}

fn check(small: &Small, visits_max: u8, seed: u64) -> usize {
    let mut flow = Flow::new(small.nodes, small.facts);
    for (from, to, parts) in &small.edges {
        let mut effect = Effect::new(small.facts);
        for (part, mask) in PARTS.into_iter().zip(parts) {
            (0..small.facts)
                .filter(|f| mask >> f & 1 == 1)
                .for_each(|f| effect.add(part, f));
        }
        let effect = flow.effect(&effect);
        flow.edge(*from, *to, effect);
    }
    let reached = flow.solve();
    let met = enumerated(small, visits_max);
    for (node, met) in met.iter().enumerate() {
        assert_eq!(reached.is_reached(node), met.is_some(), "seed {seed}, node {node}");
        for fact in 0..small.facts {
            let all = |of: fn(State) -> u8| met.is_none_or(|met| of(met) >> fact & 1 == 1);
            let (holds, sound) = (all(|s| s.0), all(|s| s.1));
            let at = format!("seed {seed}, node {node}, fact {fact}");
            assert_eq!(reached.holds(node, fact), holds, "{at}");
            assert_eq!(reached.is_sound(node, fact), sound, "{at}");
            let path = flow.shortest(node, fact, |_| 1);
            assert_eq!(path.is_none(), holds, "{at}");
            // the path is a path, and the fact does not hold at its end
            let (mut here, mut state) = (0, (0, u8::MAX));
            for (from, to, parts) in path.unwrap_or_default().into_iter().map(|e| small.edges[e]) {
                assert_eq!(from, here, "{at}");
                here = to;
                state = across(&parts, state);
            }
            assert!(holds || (here == node && state.0 >> fact & 1 == 0), "{at}");
        }
    }
    small.nodes * small.facts
}

fn many(graphs: u64, two_bits: bool) {
    let visits_max = if two_bits { 3 } else { 2 };
    let one = |seed| check(&random(&mut Dice(seed), two_bits), visits_max, seed);
    let checked: usize = (0..graphs).map(one).sum();
    println!("{graphs} random graphs, {checked} pairs of a node and a fact, all as enumerated");
    assert!(graphs as usize <= checked);
}

/// `cargo test` walks twenty thousand, `.ci/long` a million.
const GRAPHS: u64 = if cfg!(feature = "long") { 1_000_000 } else { 20_000 };

#[test]
fn random_graphs_agree_with_every_path() {
    many(GRAPHS, false);
}

#[test]
fn random_graphs_with_two_bits_a_fact_agree_with_every_path() {
    many(GRAPHS / 10, true);
}
