//! Which cores are linked to the return core at once, so that with few changes of the link every crossing shows.
//!
//! The rule inside: each core is linked in turns of its own choice, no two cores in the same ones. One that is linked in every turn cannot be
//! told from the return core by the link: there is one only where the return core itself is read at the far end afterwards.

use std::collections::BTreeMap;

use crate::job::{Core, End, Job, Purpose};

/// The turns of the link at the far end, each with the cores that are linked to the return core in it and no others.
///
/// Read through the return core, each linked core is closed in its turns. Whatever cores are crossed on the way, one that should read closed
/// is then open, as long as none touch: the cores of a turn and the return core are the only ones that are joined, so those that read closed
/// are they, and no two are in the same turns. Of n cores it takes as few turns as 2^turns - 2 is n or more (two for two, three for up to six);
/// where an earth core is read at the far end once it is connected, 2^turns - 1 (two for three, three for up to seven). A single core has
/// nothing to be told apart from but the return core, and with a link the two always look the same. `is_back_read` says whether it is read.
pub fn turns(job: &Job, is_back_read: bool) -> Vec<Vec<&Core>> {
    let mut choosing: Vec<&Core> = job.test_cores().collect();
    // a neutral is linked to earth only once it is parted at both ends, which is after the first link is put on; and one that is crossed with
    // the earth core may read through to earth by the supply
    let is_late = |core: &Core| core.carries == Purpose::Neutral;
    choosing.sort_by_key(|core| !is_late(core));
    let mut codes = codes(choosing.len(), is_back_read);
    let mut chosen: BTreeMap<&str, u32> = BTreeMap::new();
    for core in choosing {
        let fits = |code: &u32| !is_late(core) || code & 1 == 0;
        let at = codes.iter().position(fits).unwrap_or(0);
        chosen.insert(&core.name, codes.remove(at));
    }
    let all = chosen.values().fold(0, |all, code| all | code);
    let is_linked = |core: &&Core, turn: u32| chosen[core.name.as_str()] & (1 << turn) != 0;
    (0..all.count_ones())
        .map(|turn| job.test_cores().filter(|core| is_linked(core, turn)).collect())
        .collect()
}

/// Whether the return core is the earth core and ends at a terminal of the far end, where it can be read to the main earthing terminal before
/// anything is energised: crossed with any other core it is open there.
pub fn has_earth_core_at_far_end(job: &Job) -> bool {
    job.core_for(Purpose::Earth).is_some() && job.end(End::Far).terminal_for(Purpose::Earth).is_some()
}

/// The turns of each of so many cores as bits, those with the fewest turns first; one may be in all of them where the return core is read by
/// itself.
fn codes(cores: usize, is_back_read: bool) -> Vec<u32> {
    let may_be_in_all = is_back_read || cores <= 1;
    let every = (1..u32::BITS)
        .map(|turns| (1_u32 << turns) - 1)
        .find(|every| cores + usize::from(!may_be_in_all) <= *every as usize)
        .expect("a cable has fewer cores than numbers of this size");
    let mut codes: Vec<u32> = (1..=every).collect();
    codes.sort_by_key(|code| (code.count_ones(), *code));
    codes.truncate(cores);
    codes
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::model::sample::job;

    #[test]
    fn the_demonstration_cable_takes_two_turns_its_neutral_not_in_the_first_and_three_where_its_earth_core_is_not_read()
    {
        let job = job();
        let named = |is_back_read| -> Vec<Vec<&str>> {
            (turns(&job, is_back_read).iter())
                .map(|turn| turn.iter().map(|core| core.name.as_str()).collect())
                .collect()
        };
        assert_eq!(named(true), [["brown", "black"], ["grey", "black"]]);
        assert_eq!(named(false), [["brown"], ["grey"], ["black"]]);
    }

    /// Whether every way in which so many cores and the return core can be crossed opens a reading that should be closed; where the return
    /// core is read by itself, every way that leaves it where it is.
    fn tells_all(codes: &[u32], is_back_read: bool) -> bool {
        let back = codes.len();
        // the return core is in every turn
        let in_turn = |end: usize, turn: u32| codes.get(end).is_none_or(|code| code & turn != 0);
        let opens = |crossed: &[usize]| {
            let is_open = |core: usize, turn: u32| ![core, back].iter().all(|near| in_turn(crossed[*near], turn));
            let turns = |core: usize| (0..32).map(|bit| 1 << bit).filter(move |turn| codes[core] & turn != 0);
            (0..back).any(|core| turns(core).any(|turn| is_open(core, turn)))
        };
        orders(back + 1)
            .iter()
            .filter(|crossed| !is_back_read || crossed[back] == back)
            .all(|crossed| crossed.iter().enumerate().all(|(near, far)| near == *far) || opens(crossed))
    }

    fn orders(of: usize) -> Vec<Vec<usize>> {
        if of == 0 {
            return vec![Vec::new()];
        }
        let shorter = orders(of - 1);
        let into = |order: &Vec<usize>| {
            (0..of)
                .map(|at| {
                    let mut longer = order.clone();
                    longer.insert(at, of - 1);
                    longer
                })
                .collect::<Vec<_>>()
        };
        shorter.iter().flat_map(into).collect()
    }

    #[test]
    fn every_way_to_cross_up_to_seven_cores_and_the_return_core_shows() {
        for cores in 2..=7 {
            assert!(tells_all(&codes(cores, false), false), "{cores}");
            assert!(tells_all(&codes(cores, true), true), "{cores}");
        }
        assert!(
            !tells_all(&codes(1, false), false),
            "the one core and the return core look the same"
        );
        assert!(
            !tells_all(&codes(3, true), false),
            "nor does a link tell one that is always linked"
        );
    }

    #[test]
    fn no_fewer_turns_tell_every_crossing() {
        let any = |turns: u32, cores: usize, is_back_read: bool| {
            let choices = (1_u32 << turns).pow(u32::try_from(cores).unwrap());
            let code = |choice: u32, core: usize| (choice >> (turns as usize * core)) & ((1 << turns) - 1);
            // one that is never linked is never shown continuous
            (0..choices)
                .map(|choice| (0..cores).map(|core| code(choice, core)).collect::<Vec<_>>())
                .any(|codes| !codes.contains(&0) && tells_all(&codes, is_back_read))
        };
        assert!(any(2, 2, false) && any(3, 3, false) && any(2, 3, true));
        assert!(!any(1, 2, false) && !any(2, 3, false) && !any(1, 2, true) && !any(2, 4, true));
    }

    #[test]
    fn of_more_cores_the_turns_grow_by_one_where_the_cores_double() {
        let turns = |cores, is_read| {
            codes(cores, is_read)
                .iter()
                .fold(0, |all, code| all | code)
                .count_ones()
        };
        assert_eq!(
            [1, 2, 3, 6, 7, 14, 15, 35].map(|n| turns(n, false)),
            [1, 2, 3, 3, 4, 4, 5, 6]
        );
        assert_eq!(
            [1, 2, 3, 4, 7, 8, 15, 35].map(|n| turns(n, true)),
            [1, 2, 2, 3, 3, 4, 4, 6]
        );
    }
}
