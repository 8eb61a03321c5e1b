//! Every cable that explains what was seen, as far as it matters: which core may be which.
//!
//! The rule inside: a core is called known only where no cable with any number of breaks and contacts explains the looks otherwise. Once the
//! contacts at each end are known, a cable is a partial matching between groups of terminals, and each look says for two matched
//! pairs whether both their near and their far terminals go together. The search for a matching is bounded; beyond the bound a
//! pair stays possible, which costs a trip and never a wrong label.

use super::evidence::Evidence;
use super::partition::Partition;
use crate::job::End;

/// Steps of one search; beyond them the answer is "possible".
const STEPS_MAX: usize = 400;

/// One cable: for each far group its near group, or none where it is broken.
pub type Matching = Vec<Option<usize>>;

/// What may be which.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Known {
    /// Near terminals in contact with each other.
    pub near: Vec<Vec<usize>>,
    /// Far terminals in contact with each other.
    pub far: Vec<Vec<usize>>,
    /// For each far group: the near groups it may be, as bits.
    pub may: Vec<u32>,
    /// For each far group: whether it may be broken off.
    pub may_be_broken: Vec<bool>,
    /// Cables that explain everything, all different.
    pub witnesses: Vec<Matching>,
}

impl Known {
    /// The near group that this far group certainly is, seen to conduct.
    pub fn certain(&self, far: usize) -> Option<usize> {
        let sure = self.may[far].count_ones() == 1 && !self.may_be_broken[far];
        sure.then(|| self.may[far].trailing_zeros() as usize)
    }

    /// The near group that this far group is if both conduct at all, where nothing else is left for either.
    pub fn by_elimination(&self, far: usize) -> Option<usize> {
        let near = self.may[far].trailing_zeros() as usize;
        let only = self.may[far].count_ones() == 1 && self.far_of(near) == [far];
        (only && self.may_be_broken[far]).then_some(near)
    }

    /// The far groups that a near group may be.
    pub fn far_of(&self, near: usize) -> Vec<usize> {
        (0..self.far.len())
            .filter(|f| self.may[*f] & (1 << near) != 0)
            .collect()
    }

    /// Whether more trips could say more; elimination counts as known where it is accepted.
    pub fn is_open(&self, elimination_will_do: bool) -> bool {
        (0..self.far.len()).any(|f| {
            let known = self.certain(f).is_some() || self.may[f] == 0;
            !(known || elimination_will_do && self.by_elimination(f).is_some())
        })
    }
}

struct Problem {
    far: usize,
    near: usize,
    /// `fits[f][v][g]`: the near groups that far group `g` may be when `f` is `v`.
    fits: Vec<Vec<Vec<u32>>>,
    domain: Vec<u32>,
    far_must: Vec<bool>,
    near_must: u32,
}

fn group_marks(groups: &[Vec<usize>], of: &Partition) -> Vec<usize> {
    groups.iter().map(|g| of.head(g[0])).collect()
}

fn must(groups: &[Vec<usize>], marks: &[usize]) -> Vec<bool> {
    (0..groups.len())
        .map(|i| 1 < marks.iter().filter(|m| **m == marks[i]).count())
        .collect()
}

impl Problem {
    fn new(evidence: &Evidence, near: &Partition, far: &Partition) -> Problem {
        let (near_groups, far_groups) = (near.blocks(), far.blocks());
        let (n, f) = (near_groups.len(), far_groups.len());
        let mut pairs: Vec<(Vec<usize>, Vec<usize>)> = Vec::new();
        let (mut far_must, mut near_must) = (vec![false; f], 0);
        for look in &evidence.looks {
            if look.at == End::Far {
                let shown = group_marks(&far_groups, &look.shown);
                for (all, now) in far_must.iter_mut().zip(must(&far_groups, &shown)) {
                    *all |= now;
                }
                pairs.push((group_marks(&near_groups, &look.joined.or(near)), shown));
            } else {
                let shown = group_marks(&near_groups, &look.shown);
                for (i, now) in must(&near_groups, &shown).into_iter().enumerate() {
                    near_must |= u32::from(now) << i;
                }
                pairs.push((shown, group_marks(&far_groups, &look.joined.or(far))));
            }
        }
        let fit = |f1: usize, v1: usize, f2: usize, v2: usize| {
            v1 != v2
                && pairs
                    .iter()
                    .all(|(near, far)| (near[v1] == near[v2]) == (far[f1] == far[f2]))
        };
        let bits = |f1, v1, f2| (0..n).map(|v2| u32::from(fit(f1, v1, f2, v2)) << v2).sum();
        let fits = (0..f)
            .map(|f1| (0..n).map(|v1| (0..f).map(|f2| bits(f1, v1, f2)).collect()).collect())
            .collect();
        let mut problem = Problem {
            far: f,
            near: n,
            fits,
            domain: vec![(1 << n) - 1; f],
            far_must,
            near_must,
        };
        let earth = evidence.earth.then_some((evidence.cores, evidence.cores));
        for (a, b) in evidence.told.iter().copied().chain(earth) {
            let v = near_groups
                .iter()
                .position(|g| g.contains(&a))
                .expect("a known terminal");
            let g = far_groups
                .iter()
                .position(|g| g.contains(&b))
                .expect("a known terminal");
            problem.far_must[g] = true;
            problem.near_must |= 1 << v;
            for (i, domain) in problem.domain.iter_mut().enumerate() {
                *domain &= if i == g { 1 << v } else { !(1 << v) };
            }
        }
        for b in &evidence.dead {
            let g = far_groups.iter().position(|g| g.contains(b)).expect("a known terminal");
            problem.domain[g] = 0;
        }
        problem.prune();
        problem
    }

    /// Drops every choice that leaves something that must conduct without a partner.
    fn prune(&mut self) {
        loop {
            let mut dropped = false;
            for f in 0..self.far {
                for v in bits_of(self.domain[f]) {
                    let left = |g: usize| self.fits[f][v][g] & self.domain[g];
                    let others = || (0..self.far).filter(|g| *g != f);
                    let reached = others().fold(1 << v, |bits, g| bits | left(g));
                    let stuck = others().any(|g| self.far_must[g] && left(g) == 0) || self.near_must & !reached != 0;
                    if stuck {
                        self.domain[f] &= !(1 << v);
                        dropped = true;
                    }
                }
            }
            if !dropped {
                return;
            }
        }
    }

    /// Narrows the others' choices after `far` became `near`.
    fn assign(&self, domain: &mut [u32], far: usize, near: usize) {
        for (g, bits) in domain.iter_mut().enumerate() {
            *bits &= if g == far { 1 << near } else { self.fits[far][near][g] };
        }
    }

    /// Whether every group that must conduct can still get a partner of its own (Hall's condition on each side).
    fn can_cover(&self, domain: &[u32]) -> bool {
        let by_near = |v: usize| (0..self.far).map(|f| (domain[f] >> v & 1) << f).sum::<u32>();
        let far: Vec<u32> = (0..self.far).filter(|f| self.far_must[*f]).map(|f| domain[f]).collect();
        let near: Vec<u32> = (0..self.near)
            .filter(|v| self.near_must >> v & 1 == 1)
            .map(by_near)
            .collect();
        all_get_one(&far) && all_get_one(&near)
    }

    /// A cable with these choices; `Err` where the search was cut short.
    fn solve(&self, domain: &[u32], chosen: &[bool], steps: &mut usize) -> Result<Option<Matching>, ()> {
        *steps += 1;
        if STEPS_MAX < *steps {
            return Err(());
        }
        if !self.can_cover(domain) {
            return Ok(None);
        }
        let open = |f: &usize| !chosen[*f];
        let tightest = (0..self.far)
            .filter(open)
            .filter(|f| self.far_must[*f])
            .min_by_key(|f| domain[*f].count_ones());
        let covered: u32 = (0..self.far).filter(|f| chosen[*f]).fold(0, |c, f| c | domain[f]);
        let choices: Vec<(usize, usize)> = if let Some(f) = tightest {
            bits_of(domain[f]).map(|v| (f, v)).collect()
        } else if let Some(v) = bits_of(self.near_must & !covered).next() {
            (0..self.far)
                .filter(open)
                .filter(|f| domain[*f] >> v & 1 == 1)
                .map(|f| (f, v))
                .collect()
        } else {
            return Ok(Some(self.filled(domain, chosen)));
        };
        for (f, v) in choices {
            let (mut next, mut done) = (domain.to_vec(), chosen.to_vec());
            self.assign(&mut next, f, v);
            done[f] = true;
            if let Some(found) = self.solve(&next, &done, steps)? {
                return Ok(Some(found));
            }
        }
        Ok(None)
    }

    /// Gives the rest a partner where one fits: a sound cable is likelier than a broken one.
    fn filled(&self, domain: &[u32], chosen: &[bool]) -> Matching {
        let mut domain = domain.to_vec();
        let mut chosen = chosen.to_vec();
        for f in 0..self.far {
            if !chosen[f]
                && let Some(v) = bits_of(domain[f]).next()
            {
                self.assign(&mut domain, f, v);
                chosen[f] = true;
            }
        }
        (0..self.far)
            .map(|f| chosen[f].then(|| bits_of(domain[f]).next()).flatten())
            .collect()
    }
}

fn bits_of(bits: u32) -> impl Iterator<Item = usize> {
    (0..32).filter(move |i| bits >> i & 1 == 1)
}

/// Whether each can have one bit of its own.
fn all_get_one(wants: &[u32]) -> bool {
    fn place(i: usize, wants: &[u32], owner: &mut [Option<usize>; 32], tried: &mut u32) -> bool {
        for v in bits_of(wants[i]) {
            if *tried >> v & 1 == 1 {
                continue;
            }
            *tried |= 1 << v;
            if owner[v].is_none_or(|o| place(o, wants, owner, tried)) {
                owner[v] = Some(i);
                return true;
            }
        }
        false
    }
    let mut owner = [None; 32];
    (0..wants.len()).all(|i| place(i, wants, &mut owner, &mut 0))
}

/// What may be which, by everything that was seen; `None` where no cable explains it.
///
/// The evidence must be settled ([`Evidence::is_settled`]).
pub fn known(evidence: &Evidence) -> Option<Known> {
    assert!(evidence.is_settled(), "contacts at both ends are known");
    let (near, far) = (evidence.contact(End::Near), evidence.contact(End::Far));
    let problem = Problem::new(evidence, &near, &far);
    let mut witnesses: Vec<Matching> = Vec::new();
    let mut may = vec![0; problem.far];
    let mut may_be_broken = vec![false; problem.far];
    let mut keep = |found: Matching, may: &mut [u32], broken: &mut [bool]| {
        for (f, near) in found.iter().enumerate() {
            match near {
                Some(v) => may[f] |= 1 << v,
                None => broken[f] = true,
            }
        }
        if !witnesses.contains(&found) {
            witnesses.push(found);
        }
    };
    match problem.solve(&problem.domain, &vec![false; problem.far], &mut 0) {
        Ok(Some(found)) => keep(found, &mut may, &mut may_be_broken),
        Ok(None) => return None,
        Err(()) => {}
    }
    for f in 0..problem.far {
        for v in bits_of(problem.domain[f]) {
            if may[f] >> v & 1 == 1 {
                continue;
            }
            let mut domain = problem.domain.clone();
            problem.assign(&mut domain, f, v);
            let mut chosen = vec![false; problem.far];
            chosen[f] = true;
            match problem.solve(&domain, &chosen, &mut 0) {
                Ok(Some(found)) => keep(found, &mut may, &mut may_be_broken),
                Ok(None) => {}
                Err(()) => may[f] |= 1 << v,
            }
        }
        if !may_be_broken[f] && !problem.far_must[f] {
            let mut domain = problem.domain.clone();
            domain[f] = 0;
            match problem.solve(&domain, &vec![false; problem.far], &mut 0) {
                Ok(Some(found)) => keep(found, &mut may, &mut may_be_broken),
                Ok(None) => {}
                Err(()) => may_be_broken[f] = true,
            }
        }
    }
    Some(Known {
        near: near.blocks(),
        far: far.blocks(),
        may,
        may_be_broken,
        witnesses,
    })
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::identify::evidence::Look;

    /// Every partial matching of so many far and near groups.
    fn matchings(far: usize, near: usize) -> Vec<Matching> {
        let mut all: Vec<Matching> = vec![Vec::new()];
        for _ in 0..far {
            let longer = |m: &Matching| -> Vec<Matching> {
                let choices = std::iter::once(None).chain((0..near).map(Some));
                let free = choices.filter(|c| c.is_none() || !m.contains(c));
                free.map(|c| [m.clone(), vec![c]].concat()).collect()
            };
            all = all.iter().flat_map(longer).collect();
        }
        all
    }

    /// What an end shows for a matching, from the terminals up.
    fn shown(near: &Partition, far: &Partition, matching: &Matching, at: End, joined: &Partition) -> Partition {
        let n = near.len();
        let shift = |p: &Partition| -> Vec<Vec<usize>> {
            p.groups().iter().map(|g| g.iter().map(|t| t + n).collect()).collect()
        };
        let mut joints = [near.groups(), shift(far)].concat();
        for (f, v) in matching.iter().enumerate() {
            if let Some(v) = v {
                joints.push(vec![near.blocks()[*v][0], n + far.blocks()[f][0]]);
            }
        }
        joints.extend(if at == End::Far { joined.groups() } else { shift(joined) });
        let all = Partition::joined(2 * n, &joints);
        let offset = if at == End::Far { n } else { 0 };
        let marks: Vec<usize> = (0..n).map(|t| all.head(t + offset)).collect();
        Partition::by_marks(&marks)
    }

    #[test]
    fn what_may_be_which_is_what_trying_every_cable_says() {
        let mut seed: usize = 5;
        let mut dice = |top: usize| {
            seed = seed
                .wrapping_mul(6_364_136_223_846_793_005)
                .wrapping_add(1_442_695_040_888_963_407);
            (seed >> 33) % top
        };
        for _ in 0..400 {
            let n = 2 + dice(3);
            let mut random = |often: usize| -> Partition {
                let marks: Vec<usize> = (0..n).map(|i| if dice(often) == 0 { dice(n) } else { n + i }).collect();
                Partition::by_marks(&marks)
            };
            let (near, far, apart) = (random(5), random(5), Partition::apart(n));
            let joints: Vec<Partition> = (0..3).map(|_| random(1)).collect();
            let all = matchings(far.blocks().len(), near.blocks().len());
            let truth = &all[dice(all.len())];
            let mut evidence = Evidence::new(n, false);
            let looks = [
                (End::Near, &apart),
                (End::Far, &apart),
                (End::Near, &joints[0]),
                (End::Far, &joints[1]),
                (End::Near, &joints[2]),
            ];
            for (at, joined) in looks {
                let shown = shown(&near, &far, truth, at, joined);
                evidence.looks.push(Look {
                    at,
                    joined: joined.clone(),
                    shown,
                });
            }
            let explains = |m: &&Matching| {
                evidence
                    .looks
                    .iter()
                    .all(|l| shown(&near, &far, m, l.at, &l.joined) == l.shown)
            };
            let left: Vec<&Matching> = all.iter().filter(explains).collect();
            let known = known(&evidence).expect("the truth explains it");
            for f in 0..far.blocks().len() {
                let may = left.iter().filter_map(|m| m[f]).fold(0, |bits, v| bits | 1 << v);
                let broken = left.iter().any(|m| m[f].is_none());
                assert_eq!((known.may[f], known.may_be_broken[f]), (may, broken), "{evidence:?}");
            }
            assert!(known.witnesses.iter().all(|w| left.contains(&w)));
        }
    }

    #[test]
    fn looks_that_no_cable_explains_are_noticed() {
        let mut evidence = Evidence::new(2, false);
        let look = |at, joined: &[Vec<usize>], shown: &[Vec<usize>]| Look {
            at,
            joined: Partition::joined(2, joined),
            shown: Partition::joined(2, shown),
        };
        evidence.looks = vec![look(End::Near, &[], &[]), look(End::Far, &[], &[])];
        evidence.looks.push(look(End::Far, &[vec![0, 1]], &[vec![0, 1]]));
        assert!(known(&evidence).is_some());
        evidence.looks.push(look(End::Near, &[vec![0, 1]], &[]));
        assert_eq!(known(&evidence), None);
    }
}
