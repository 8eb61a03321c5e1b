//! What to join next once a cable has shown a fault.
//!
//! The rule inside: the joints that split the cables still possible into the smallest parts, within the kit; ties go to fewer links. Where no
//! joints split them, no further walk is asked for.

use super::consistent::{Known, Matching};
use super::evidence::Evidence;
use super::kit::Kit;
use super::partition::Partition;
use crate::job::End;

/// Joints to make at this end before walking to the other; `None` where nothing more can be learnt with links.
pub fn splitting(known: &Known, at: End, evidence: &Evidence, kit: Kit) -> Option<Partition> {
    let here = if at == End::Near { &known.near } else { &known.far };
    let there = if at == End::Near {
        known.far.len()
    } else {
        known.near.len()
    };
    let partners: Vec<Vec<Option<usize>>> = known.witnesses.iter().map(|w| partners(w, at, there)).collect();
    let whole = partners.len() * partners.len();
    let best = joints(known, at, here.len())
        .into_iter()
        .map(|groups| Partition::joined(here.len(), &groups))
        .filter(|joints| kit.makes(joints.links()))
        .map(|joints| (spread(&joints, &partners), joints.links(), joints))
        .min()?;
    (best.0 < whole).then(|| {
        let groups: Vec<Vec<usize>> = best
            .2
            .groups()
            .iter()
            .map(|g| g.iter().map(|i| here[*i][0]).collect())
            .collect();
        Partition::joined(evidence.terminals(), &groups)
    })
}

/// For each group at the other end, the group at this end that it conducts to.
fn partners(witness: &Matching, at: End, there: usize) -> Vec<Option<usize>> {
    match at {
        End::Near => witness.clone(),
        End::Far => (0..there)
            .map(|v| witness.iter().position(|near| *near == Some(v)))
            .collect(),
    }
}

/// The sum of the squares of the parts: less is better.
fn spread(joints: &Partition, partners: &[Vec<Option<usize>>]) -> usize {
    let mut parts: Vec<(Partition, usize)> = Vec::new();
    for partner in partners {
        // an unmatched terminal is by itself
        let marks: Vec<(bool, usize)> = partner
            .iter()
            .enumerate()
            .map(|(i, p)| p.map_or((false, i), |p| (true, joints.head(p))))
            .collect();
        let shown = Partition::by_marks(&marks);
        match parts.iter_mut().find(|(p, _)| *p == shown) {
            Some((_, count)) => *count += 1,
            None => parts.push((shown, 1)),
        }
    }
    parts.iter().map(|(_, count)| count * count).sum()
}

/// Joints worth comparing: every pair; neighbours; open groups shared out over the certain ones; groups of growing size.
fn joints(known: &Known, at: End, here: usize) -> Vec<Vec<Vec<usize>>> {
    let pairs: Vec<(usize, Option<usize>)> = (0..known.far.len()).map(|f| (f, known.certain(f))).collect();
    let certain: Vec<usize> = pairs
        .iter()
        .filter_map(|(f, v)| if at == End::Near { *v } else { v.map(|_| *f) })
        .collect();
    let may_conduct = |i: &usize| match at {
        End::Near => !known.far_of(*i).is_empty(),
        End::Far => known.may[*i] != 0,
    };
    let open: Vec<usize> = (0..here).filter(may_conduct).filter(|i| !certain.contains(i)).collect();
    let all: Vec<usize> = certain.iter().chain(&open).copied().collect();
    let mut made: Vec<Vec<Vec<usize>>> = Vec::new();
    for (i, a) in all.iter().enumerate() {
        made.extend(all[i + 1..].iter().map(|b| vec![vec![*a, *b]]));
    }
    for list in [&open, &all] {
        for from in [0, 1] {
            let neighbours = list.get(from..).unwrap_or(&[]).chunks(2);
            made.push(neighbours.filter(|c| c.len() == 2).map(<[usize]>::to_vec).collect());
        }
        made.push(growing(list));
    }
    for bins in 1..=certain.len().min(open.len()) {
        for leave in [0, 1] {
            let mut groups: Vec<Vec<usize>> = certain[..bins].iter().map(|c| vec![*c]).collect();
            for (k, u) in open.iter().enumerate() {
                if let Some(group) = groups.get_mut(k % (bins + leave)) {
                    group.push(*u);
                }
            }
            made.push(groups);
        }
    }
    made
}

fn growing(list: &[usize]) -> Vec<Vec<usize>> {
    let (mut groups, mut from, mut size) = (Vec::new(), 0, 2);
    while from + size <= list.len() {
        groups.push(list[from..from + size].to_vec());
        from += size;
        size += 1;
    }
    groups
}

/// Joints for a walk whose purpose is to make the contacts at the far end certain as well.
pub fn settling(evidence: &Evidence, at: End, kit: Kit) -> Partition {
    let blocks = evidence.contact(at).blocks();
    let heads: Vec<usize> = blocks.iter().map(|b| b[0]).collect();
    let most = kit.links.unwrap_or(heads.len());
    let neighbours = |from: usize| -> Partition {
        let pairs: Vec<Vec<usize>> = heads
            .get(from..)
            .unwrap_or(&[])
            .chunks(2)
            .filter(|c| c.len() == 2)
            .take(most)
            .map(<[usize]>::to_vec)
            .collect();
        Partition::joined(evidence.terminals(), &pairs)
    };
    if at == End::Far || evidence.at(End::Far).next().is_none() {
        return neighbours(0);
    }
    (0..heads.len())
        .map(neighbours)
        .find(|joints| !joints.is_apart() && evidence.settles(std::slice::from_ref(joints)))
        .unwrap_or_else(|| Partition::apart(evidence.terminals()))
}
