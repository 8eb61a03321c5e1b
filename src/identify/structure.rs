//! The shape of a plan: which wires are joined on which walk, and how an end recognises them by what it joined and saw.
//!
//! The rule inside: a plan tells the wires apart exactly when its shape has no symmetry; then the end that joined and the end that looked
//! recognise the same wires, and a cable whose looks do not fit the shape is not sound.

use super::partition::Partition;

/// Colours tried before a set of chains is given up.
const STEPS_MAX: usize = 20_000;

/// One partition of the wires for each walk; the earth, where it is used, is the last wire.
pub type Shape = Vec<Partition>;

/// Whether the two sides look the same: every wire's group on every walk has a group of the same wires.
fn alike(a: &[Partition], b: &[Partition], i: (usize, usize), j: (usize, usize)) -> bool {
    a.iter().zip(b).all(|(a, b)| a.same(i.0, j.0) == b.same(i.1, j.1))
}

/// A naming of this end's terminals by wires under which the walks look as the shape says; `None` where there is none.
///
/// `pinned` wires keep their own number.
pub fn recognise(shape: &[Partition], seen: &[Partition], pinned: Option<usize>) -> Option<Vec<usize>> {
    search(shape, seen, pinned, &mut |_| true)
}

/// Whether wires could change places without anyone seeing a difference.
pub fn has_symmetry(shape: &[Partition], pinned: Option<usize>) -> bool {
    search(shape, shape, pinned, &mut |naming| {
        naming.iter().enumerate().any(|(i, t)| i != *t)
    })
    .is_some()
}

fn search(
    shape: &[Partition],
    seen: &[Partition],
    pinned: Option<usize>,
    wanted: &mut dyn FnMut(&[usize]) -> bool,
) -> Option<Vec<usize>> {
    let wires = shape.first().or(seen.first()).map_or(0, Partition::len);
    let sign = |walks: &[Partition], t: usize| walks.iter().map(|w| w.size(t)).collect::<Vec<_>>();
    let may = |wire: usize, terminal: usize| {
        (pinned != Some(wire) || wire == terminal) && sign(shape, wire) == sign(seen, terminal)
    };
    let signs = |walks: &[Partition]| {
        let mut all: Vec<Vec<usize>> = (0..wires).map(|t| sign(walks, t)).collect();
        all.sort_unstable();
        all
    };
    // fewer or more groups of a size than the shape has: no naming fits, and a search would only count pigeonholes
    if signs(shape) != signs(seen) {
        return None;
    }
    let choices: Vec<Vec<usize>> = (0..wires)
        .map(|w| (0..wires).filter(|t| may(w, *t)).collect())
        .collect();
    let order = connected_order(shape, &choices);
    let mut naming: Vec<Option<usize>> = vec![None; wires];
    place(0, &order, &choices, shape, seen, &mut naming, wanted)
}

/// Wires with few choices first, then those joined to wires already in the order.
fn connected_order(shape: &[Partition], choices: &[Vec<usize>]) -> Vec<usize> {
    let mut order: Vec<usize> = Vec::new();
    while order.len() < choices.len() {
        let left = (0..choices.len()).filter(|w| !order.contains(w));
        let joined = |w: &usize| order.iter().any(|o| shape.iter().any(|p| p.same(*o, *w)));
        let next = left
            .min_by_key(|w| (!joined(w), choices[*w].len()))
            .expect("a wire is left");
        order.push(next);
    }
    order
}

fn place(
    at: usize,
    order: &[usize],
    choices: &[Vec<usize>],
    shape: &[Partition],
    seen: &[Partition],
    naming: &mut Vec<Option<usize>>,
    wanted: &mut dyn FnMut(&[usize]) -> bool,
) -> Option<Vec<usize>> {
    let Some(&wire) = order.get(at) else {
        let all: Vec<usize> = naming.iter().map(|t| t.expect("every wire has a place")).collect();
        return wanted(&all).then_some(all);
    };
    for &terminal in &choices[wire] {
        let fits = order[..at].iter().all(|o| {
            let taken = naming[*o].expect("placed before");
            taken != terminal && alike(shape, seen, (wire, terminal), (*o, taken))
        });
        if fits {
            naming[wire] = Some(terminal);
            if let Some(found) = place(at + 1, order, choices, shape, seen, naming, wanted) {
                return Some(found);
            }
            naming[wire] = None;
        }
    }
    None
}

/// The path: on the first walk wires 0-1, 2-3, …, on the second 1-2, 3-4, …; one wire stays untouched where the count is even.
pub fn path(wires: usize) -> Shape {
    let odd = wires - usize::from(wires.is_multiple_of(2));
    let pairs = |from: usize| -> Vec<Vec<usize>> {
        (from..odd.saturating_sub(1))
            .step_by(2)
            .map(|i| vec![i, i + 1])
            .collect()
    };
    vec![Partition::joined(wires, &pairs(0)), Partition::joined(wires, &pairs(1))]
}

/// The path with the last wire of an even count, from six, joined as a third to a pair of the second walk, so that every wire is
/// seen to conduct.
pub fn path_with_third(wires: usize) -> Shape {
    let mut shape = path(wires);
    let mut pairs = shape[1].groups();
    pairs[0].push(wires - 1);
    shape[1] = Partition::joined(wires, &pairs);
    shape
}

/// The path of an even count marked by the earth, the last terminal: every wire is seen to conduct.
pub fn path_with_earth(wires: usize) -> Shape {
    let mut first: Vec<Vec<usize>> = vec![vec![0, wires]];
    first.extend((1..wires.saturating_sub(1)).step_by(2).map(|i| vec![i, i + 1]));
    let second: Vec<Vec<usize>> = (0..wires - 1).step_by(2).map(|i| vec![i, i + 1]).collect();
    let mut shape = vec![Partition::joined(wires + 1, &first)];
    if 2 < wires {
        shape.push(Partition::joined(wires + 1, &second));
    }
    shape
}

/// Chains of pairs, each chain with its own order of walks, with at most `links` pairs a walk; `None` where none was found.
pub fn chains(wires: usize, links: usize, walks: usize) -> Option<Shape> {
    let mut steps = 0;
    for untouched in [1, 0] {
        let used = wires - untouched;
        for count in (1..=used / 3).rev() {
            if links * walks < used - count {
                continue;
            }
            for sizes in sizes(used, count, 3) {
                let mut room = vec![links; walks];
                let mut made: Vec<Vec<usize>> = Vec::new();
                if colour(&sizes, &mut made, &mut room, &mut steps) {
                    return Some(shape_of(wires, walks, &made));
                }
            }
        }
    }
    None
}

/// Ways to write a sum as so many sizes, none below the last.
fn sizes(sum: usize, count: usize, least: usize) -> Vec<Vec<usize>> {
    if count == 1 {
        return if least <= sum { vec![vec![sum]] } else { Vec::new() };
    }
    let mut all = Vec::new();
    for first in least..=sum / count {
        for rest in sizes(sum - first, count - 1, first) {
            all.push([vec![first], rest].concat());
        }
    }
    all
}

fn colour(sizes: &[usize], made: &mut Vec<Vec<usize>>, room: &mut [usize], steps: &mut usize) -> bool {
    let Some(&size) = sizes.get(made.len()) else {
        return true;
    };
    let mut chain = Vec::new();
    extend(size - 1, &mut chain, sizes, made, room, steps)
}

fn extend(
    length: usize,
    chain: &mut Vec<usize>,
    sizes: &[usize],
    made: &mut Vec<Vec<usize>>,
    room: &mut [usize],
    steps: &mut usize,
) -> bool {
    *steps += 1;
    if STEPS_MAX < *steps {
        return false;
    }
    if chain.len() == length {
        let back: Vec<usize> = chain.iter().rev().copied().collect();
        if back <= *chain || made.contains(chain) || made.contains(&back) {
            return false;
        }
        made.push(chain.clone());
        if colour(sizes, made, room, steps) {
            return true;
        }
        made.pop();
        return false;
    }
    for walk in 0..room.len() {
        if 0 < room[walk] && chain.last() != Some(&walk) {
            room[walk] -= 1;
            chain.push(walk);
            if extend(length, chain, sizes, made, room, steps) {
                return true;
            }
            chain.pop();
            room[walk] += 1;
        }
    }
    false
}

fn shape_of(wires: usize, walks: usize, chains: &[Vec<usize>]) -> Shape {
    let mut pairs: Vec<Vec<Vec<usize>>> = vec![Vec::new(); walks];
    let mut wire = 0;
    for chain in chains {
        for walk in chain {
            pairs[*walk].push(vec![wire, wire + 1]);
            wire += 1;
        }
        wire += 1;
    }
    pairs.iter().map(|p| Partition::joined(wires, p)).collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Every partition of so many wires.
    fn partitions(wires: usize) -> Vec<Partition> {
        fn grow(marks: &mut Vec<usize>, wires: usize, all: &mut Vec<Partition>) {
            if marks.len() == wires {
                all.push(Partition::by_marks(marks));
                return;
            }
            for mark in 0..=marks.iter().max().map_or(0, |m| m + 1) {
                marks.push(mark);
                grow(marks, wires, all);
                marks.pop();
            }
        }
        let mut all = Vec::new();
        grow(&mut Vec::new(), wires, &mut all);
        all
    }

    /// An oracle that knows nothing of the search: tries every permutation.
    fn symmetry_by_permutations(shape: &[Partition]) -> bool {
        fn permute(taken: &mut Vec<usize>, n: usize, shape: &[Partition]) -> bool {
            if taken.len() == n {
                let moved = taken.iter().enumerate().any(|(i, t)| i != *t);
                let same = |p: &Partition| (0..n).all(|i| (0..n).all(|j| p.same(i, j) == p.same(taken[i], taken[j])));
                return moved && shape.iter().all(same);
            }
            (0..n).any(|t| {
                if taken.contains(&t) {
                    return false;
                }
                taken.push(t);
                let found = permute(taken, n, shape);
                taken.pop();
                found
            })
        }
        permute(&mut Vec::new(), shape[0].len(), shape)
    }

    #[test]
    fn one_walk_never_tells_two_or_more_wires_apart() {
        for wires in 2..=7 {
            assert!(
                partitions(wires)
                    .iter()
                    .all(|p| has_symmetry(std::slice::from_ref(p), None))
            );
        }
    }

    #[test]
    fn with_the_earth_one_walk_tells_two_wires_apart_and_no_more() {
        for (wires, possible) in [(2, true), (3, false), (4, false), (5, false)] {
            let all = partitions(wires + 1);
            let found = all.iter().any(|p| !has_symmetry(std::slice::from_ref(p), Some(wires)));
            assert_eq!(found, possible, "{wires}");
        }
    }

    #[test]
    fn two_wires_stay_alike_after_any_two_walks_and_three_to_five_do_not() {
        for (wires, possible) in [(2, false), (3, true), (4, true), (5, true)] {
            let all = partitions(wires);
            let found = all
                .iter()
                .any(|p| all.iter().any(|q| !symmetry_by_permutations(&[p.clone(), q.clone()])));
            assert_eq!(found, possible, "{wires}");
        }
    }

    #[test]
    fn the_path_has_no_symmetry_from_three_to_twenty() {
        assert!(has_symmetry(&path(2), None));
        for wires in 3..=20 {
            assert!(!has_symmetry(&path(wires), None), "{wires}");
            if wires <= 7 {
                assert!(!symmetry_by_permutations(&path(wires)), "{wires}");
            }
            assert_eq!(path(wires).iter().map(Partition::links).max(), Some((wires - 1) / 2));
        }
    }

    #[test]
    fn the_third_and_the_earth_let_every_wire_conduct() {
        for wires in (6..=20).step_by(2) {
            let shape = path_with_third(wires);
            assert!(!has_symmetry(&shape, None), "{wires}");
            assert!((0..wires).all(|w| shape.iter().any(|p| 1 < p.size(w))));
            assert_eq!(shape.iter().map(Partition::links).max(), Some(wires / 2));
        }
        for wires in (2..=20).step_by(2) {
            let shape = path_with_earth(wires);
            assert!(!has_symmetry(&shape, Some(wires)), "{wires}");
            let seen = (0..wires).filter(|w| shape.iter().any(|p| 1 < p.size(*w))).count();
            assert_eq!(seen, if wires == 2 { 1 } else { wires });
        }
    }

    #[test]
    fn a_shape_is_recognised_under_any_naming_and_no_other_is() {
        for wires in [3, 6, 11, 20] {
            let shape = path(wires);
            let turned = |t: usize| (t * 7 + 3) % wires;
            let seen: Vec<_> = shape
                .iter()
                .map(|p| {
                    let groups: Vec<Vec<usize>> = p
                        .groups()
                        .iter()
                        .map(|g| g.iter().map(|t| turned(*t)).collect())
                        .collect();
                    Partition::joined(wires, &groups)
                })
                .collect();
            let naming = recognise(&shape, &seen, None);
            if wires % 7 != 0 {
                assert_eq!(naming, Some((0..wires).map(turned).collect()));
            }
            let broken = [seen[0].clone(), Partition::apart(wires)];
            assert_eq!(recognise(&shape, &broken, None), None);
        }
    }
}
