//! Without kills the analysis gives dominators: seven graphs with published answers.
//!
//! Source: the graphs and immediate dominators as collected in the test `dominator_tree_test.cpp` of the Boost Graph Library,
//! which names Lengauer and Tarjan 1979, Appel 1998 figures 19.4 and 19.8, Muchnick 1997 figures 8.18 and 8.21, and Cytron and
//! others 1991 figure 9; one graph there has no name. The second opinion is petgraph's `simple_fast`.

use coreproof::proof::{Effect, Flow, Part};

const NONE: usize = usize::MAX;

/// Immediate dominators by the analysis: the fact of a node is made true on each edge that leaves it, so the facts of a node
/// are its strict dominators; the immediate one is dominated by all others.
pub fn immediate(nodes: usize, edges: &[(usize, usize)]) -> Vec<usize> {
    let mut flow = Flow::new(nodes, nodes);
    for &(from, to) in edges {
        let mut passed = Effect::new(nodes);
        passed.add(Part::Make, from);
        let passed = flow.effect(&passed);
        flow.edge(from, to, passed);
    }
    let reached = flow.solve();
    let strict = |n: usize| (0..nodes).filter(move |&d| d != n);
    let count = |n: usize| strict(n).filter(|&d| reached.holds(n, d)).count();
    (0..nodes)
        .map(|n| {
            if n == 0 || !reached.is_reached(n) {
                return NONE;
            }
            strict(n)
                .filter(|&d| reached.holds(n, d))
                .max_by_key(|&d| count(d))
                .unwrap()
        })
        .collect()
}

fn second_opinion(nodes: usize, edges: &[(usize, usize)]) -> Vec<usize> {
    let mut graph = petgraph::graph::DiGraph::<(), ()>::new();
    let all: Vec<_> = (0..nodes).map(|_| graph.add_node(())).collect();
    edges.iter().for_each(|&(from, to)| {
        graph.add_edge(all[from], all[to], ());
    });
    let dominators = petgraph::algo::dominators::simple_fast(&graph, all[0]);
    let one = |n: &petgraph::graph::NodeIndex| dominators.immediate_dominator(*n).map_or(NONE, |d| d.index());
    all.iter().map(one).collect()
}

/// Edges as `0-1 0-2`, answers as `- 0 0`.
fn check(name: &str, edges: &str, answer: &str) {
    let edges: Vec<(usize, usize)> = edges
        .split_whitespace()
        .map(|edge| {
            let (from, to) = edge.split_once('-').unwrap();
            (from.parse().unwrap(), to.parse().unwrap())
        })
        .collect();
    let answer: Vec<usize> = answer.split_whitespace().map(|d| d.parse().unwrap_or(NONE)).collect();
    assert_eq!(immediate(answer.len(), &edges), answer, "{name}");
    assert_eq!(second_opinion(answer.len(), &edges), answer, "{name}, second opinion");
}

#[test]
fn seven_published_graphs_have_their_published_dominators() {
    check(
        "Lengauer and Tarjan",
        "0-1 0-2 0-3 1-4 2-1 2-4 2-5 3-6 3-7 4-12 5-8 6-9 7-9 7-10 8-5 8-11 9-11 10-9 11-0 11-9 12-8",
        "- 0 0 0 0 0 3 3 0 0 7 0 4",
    );
    check("Appel 19.4", "0-1 1-2 1-3 2-4 2-5 4-6 5-6 6-1", "- 0 1 1 2 2 2");
    check(
        "Appel 19.8",
        "0-1 0-2 1-3 1-6 2-4 2-7 3-5 3-6 4-7 4-2 5-8 5-10 6-9 7-12 8-11 9-8 10-11 11-1 11-12",
        "- 0 0 1 2 3 1 2 1 6 5 1 0",
    );
    check(
        "without a name",
        "0-1 1-2 1-3 2-7 3-4 4-5 4-6 5-7 6-4",
        "- 0 1 1 3 4 4 1",
    );
    check(
        "Muchnick 8.21",
        "0-1 1-2 2-3 2-4 3-2 4-5 4-6 5-7 6-7",
        "- 0 1 2 2 4 4 4",
    );
    check("Muchnick 8.18", "0-1 0-2 1-6 2-3 2-4 3-7 5-7 6-7", "- 0 0 2 2 - 1 0");
    check(
        "Cytron and others, figure 9",
        "0-1 0-13 1-2 2-3 2-7 3-4 3-5 4-6 5-6 6-8 7-8 8-9 9-10 9-11 10-11 11-9 11-12 12-2 12-13",
        "- 0 1 2 3 3 3 2 2 8 9 9 11 0",
    );
}

#[test]
fn random_graphs_have_the_dominators_of_the_second_opinion() {
    let mut dice = super::Dice(7);
    for round in 0..2_000 {
        let nodes = 2 + dice.below(14);
        let edges: Vec<_> = (0..dice.below(3 * nodes))
            .map(|_| (dice.below(nodes), dice.below(nodes)))
            .collect();
        assert_eq!(
            immediate(nodes, &edges),
            second_opinion(nodes, &edges),
            "{round}: {edges:?}"
        );
    }
}
