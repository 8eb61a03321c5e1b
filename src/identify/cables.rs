//! Simulated cables, sound and with breaks and contacts, walked from seeds.
//!
//! The rule inside: the cable knows the truth as which terminals are one conductor, and nothing of how the walk reasons; every line of the
//! result is held against it.

use std::collections::BTreeMap;

use super::checking::{Checked, checking};
use super::event::Question;
use super::figures::Figures;
use super::found::{Found, State};
use super::kit::Kit;
use super::partition::Partition;
use super::plan::{Method, Plan, plan};
use super::walk::Walk;
use super::words;
use crate::job::End;

/// SplitMix64, for the cases only.
struct Dice(u64);

impl Dice {
    fn below(&mut self, top: usize) -> usize {
        self.0 = self.0.wrapping_add(0x9E37_79B9_7F4A_7C15);
        let mut z = self.0;
        z = (z ^ (z >> 30)).wrapping_mul(0xBF58_476D_1CE4_E5B9);
        z = (z ^ (z >> 27)).wrapping_mul(0x94D0_49BB_1331_11EB);
        usize::try_from((z ^ (z >> 31)) % top as u64).unwrap()
    }
}

struct Cable {
    cores: usize,
    terminals: usize,
    /// The far terminal of each core.
    far: Vec<usize>,
    broken: Vec<bool>,
    /// Near terminals, then far ones.
    inside: Partition,
}

impl Cable {
    fn new(dice: &mut Dice, cores: usize, earth: bool, breaks: usize, contacts: usize) -> Cable {
        let terminals = cores + usize::from(earth);
        let mut far: Vec<usize> = (0..cores).collect();
        for i in (1..cores).rev() {
            far.swap(i, dice.below(i + 1));
        }
        let mut broken = vec![false; cores];
        for _ in 0..breaks {
            broken[dice.below(cores)] = true;
        }
        let mut joints: Vec<Vec<usize>> = Vec::new();
        for core in (0..cores).filter(|c| !broken[*c]) {
            joints.push(vec![core, terminals + far[core]]);
        }
        if earth {
            joints.push(vec![cores, terminals + cores]);
        }
        for _ in 0..contacts {
            // two pieces on the same side of their breaks touch, or a piece and the earth
            let (a, b, side) = (dice.below(terminals), dice.below(terminals), dice.below(2));
            let node = |t: usize| match (side, t == cores) {
                (0, _) => t,
                (_, true) => terminals + cores,
                (_, false) => terminals + far[t],
            };
            joints.push(vec![node(a), node(b)]);
        }
        Cable {
            cores,
            terminals,
            far,
            broken,
            inside: Partition::joined(2 * terminals, &joints),
        }
    }

    fn node(&self, at: End, terminal: usize) -> usize {
        terminal + if at == End::Far { self.terminals } else { 0 }
    }

    /// What conducts at an end with joints at the other.
    fn shown(&self, at: End, joints: &Partition) -> String {
        let there = super::evidence::other(at);
        let outside: Vec<Vec<usize>> = joints
            .groups()
            .iter()
            .map(|g| g.iter().map(|t| self.node(there, *t)).collect())
            .collect();
        let all = self.inside.or(&Partition::joined(2 * self.terminals, &outside));
        let heads: Vec<usize> = (0..self.terminals).map(|t| all.head(self.node(at, t))).collect();
        words::groups(at, &Partition::by_marks(&heads), self.cores)
    }

    /// Ohms between two far terminals with resistors at the near end, by elimination of every other node.
    fn ohms(&self, plan: &Plan, dice: &mut Dice, from: usize, to: usize) -> String {
        let values = match &plan.method {
            Method::ResistorsToEarth(v) | Method::ResistorsFromHub(v) => v,
            _ => panic!("no resistors in this plan"),
        };
        let mut siemens: BTreeMap<(usize, usize), f64> = BTreeMap::new();
        for (i, ohms) in values.iter().enumerate() {
            let (a, b) = match &plan.method {
                Method::ResistorsToEarth(_) => (i, self.cores),
                _ => (0, i + 1),
            };
            let (a, b) = (self.inside.head(a), self.inside.head(b));
            let real = f64::from(*ohms) * if i % 3 == 0 { 0.955 } else { 1.045 };
            *siemens.entry((a.min(b), a.max(b))).or_default() += 1.0 / real;
        }
        let (from, to) = (
            self.inside.head(self.node(End::Far, from)),
            self.inside.head(self.node(End::Far, to)),
        );
        if from == to {
            return "0.4".into();
        }
        for node in (0..2 * self.terminals).filter(|n| *n != from && *n != to) {
            let touching: Vec<(usize, f64)> = siemens
                .iter()
                .filter(|((a, b), _)| a != b && (*a == node || *b == node))
                .map(|((a, b), g)| (if *a == node { *b } else { *a }, *g))
                .collect();
            siemens.retain(|(a, b), _| *a != node && *b != node);
            let sum: f64 = touching.iter().map(|(_, g)| g).sum();
            for (i, (a, ga)) in touching.iter().enumerate() {
                for (b, gb) in &touching[i + 1..] {
                    *siemens.entry(((*a).min(*b), (*a).max(*b))).or_default() += ga * gb / sum;
                }
            }
        }
        let noise = 0.99 + 0.02 * dice.below(100) as f64 / 100.0;
        match siemens.get(&(from.min(to), from.max(to))) {
            Some(g) => format!("{:.1}", noise / g),
            None => "OL".into(),
        }
    }

    fn answer(&self, walk: &Walk, plan: &Plan, dice: &mut Dice) -> String {
        let prompt = walk.prompt().expect("a question");
        if prompt.choices.iter().any(|choice| choice.word == "dead") {
            return "dead".into();
        }
        let (at, joints) = walk.place();
        if let Some(pair) = prompt.say.strip_prefix("Ohms from ") {
            let (from, to) = pair.split_once('?').unwrap().0.split_once(" to ").unwrap();
            let terminal = |t: &str| words::terminal(End::Far, t, self.cores, self.cores < self.terminals).unwrap();
            return self.ohms(plan, dice, terminal(from), terminal(to));
        }
        self.shown(at, &joints)
    }

    /// Every line of the result against the truth.
    fn holds(&self, found: &Found) -> Result<(), String> {
        let earth = self.cores < self.terminals;
        let mut placed = Vec::new();
        for row in &found.rows {
            let terminals = |at: End, labels: &[String]| -> Vec<usize> {
                let terminal = |l: &String| words::terminal(at, l, self.cores, earth).unwrap();
                labels.iter().map(|l| self.node(at, terminal(l))).collect()
            };
            let (near, far) = (terminals(End::Near, &row.near), terminals(End::Far, &row.far));
            placed.extend(near.iter().chain(&far).copied());
            let all: Vec<usize> = near.iter().chain(&far).copied().collect();
            let one = all.iter().all(|t| self.inside.same(*t, all[0]));
            let whole = self.inside.size(all[0]) == all.len();
            let same_core = || self.far[near[0]] + self.terminals == far[0];
            let held = match row.state {
                State::Conducts => near.len() == 1 && far.len() == 1 && one && whole && same_core(),
                State::ByElimination => near.len() == 1 && far.len() == 1 && same_core(),
                State::InContact => one && whole,
                State::Broken if !near.is_empty() && !far.is_empty() => {
                    same_core() && self.broken[near[0]] && near.len() == 1 && far.len() == 1
                }
                State::Broken => one && whole,
                State::NotTold => true,
            };
            if !held {
                return Err(format!("{} is {:?}, which it is not", row.name(), row.state));
            }
        }
        placed.sort_unstable();
        placed.dedup();
        let cores_placed = placed
            .iter()
            .filter(|t| *t % self.terminals != self.cores || !earth)
            .count();
        if cores_placed != 2 * self.cores {
            return Err(format!("{cores_placed} of {} ends are in the list", 2 * self.cores));
        }
        Ok(())
    }
}

/// The answer with one label in another's place, where it has a label.
fn mistyped(answer: &str, labels: &str, dice: &mut Dice) -> Option<String> {
    let labels: Vec<char> = labels.chars().collect();
    let places: Vec<usize> = (0..answer.len())
        .filter(|i| labels.contains(&char::from(answer.as_bytes()[*i])))
        .collect();
    let place = *places.get(dice.below(places.len().max(1)))?;
    let label = labels[dice.below(labels.len())];
    let mut slip = answer.to_owned();
    slip.replace_range(place..=place, &label.to_string());
    (slip != answer).then_some(slip)
}

#[test]
fn every_list_of_what_was_seen_passes_its_checking_walk() {
    let mut made = 0;
    for seed in 0..600 {
        let mut dice = Dice(seed);
        let cores = 3 + dice.below(8);
        let kit = kits()[dice.below(kits().len())];
        let Ok(plan) = plan(cores, kit, &Figures::shipped()) else {
            continue;
        };
        let (breaks, contacts) = (dice.below(2), dice.below(2));
        let cable = Cable::new(&mut dice, cores, kit.earth, breaks, contacts);
        let mut walk = Walk::new(plan.clone(), false).checking(true);
        while walk.found().is_none() {
            let answer = cable.answer(&walk, &plan, &mut dice);
            walk.answer(&answer).unwrap_or_else(|e| panic!("{seed}: {answer}: {e}"));
        }
        let found = walk.found().unwrap();
        let joints = checking(&found.rows).map(|list| list.from_far.joined.len().max(list.from_near.joined.len()));
        let expected = joints.is_some_and(|joints| kit.links.is_none_or(|links| joints <= links));
        // a core that is known by elimination alone may be broken, and then the check shows it
        let broken = found.rows.iter().any(|row| {
            let near = || words::terminal(End::Near, &row.near[0], cores, kit.earth).unwrap();
            row.state == State::ByElimination && cable.broken[near()]
        });
        let comes_to = if broken { Checked::Otherwise } else { Checked::AsListed };
        assert_eq!(walk.checked(), expected.then_some(comes_to), "seed {seed} {found:?}");
        made += usize::from(expected);
        // and it counts among no walks of the list
        assert_eq!(found.walks, walked(&cable, &plan, false, &mut Dice(seed)).0.walks);
    }
    assert!(300 < made, "{made}");
}

#[test]
fn a_list_with_one_mistyped_label_never_passes_its_checking_walk() {
    let (mut wrong, mut refused) = (0, 0);
    for seed in 0..6_000 {
        let mut dice = Dice(seed);
        let cores = 3 + dice.below(6);
        let plan = plan(cores, Kit::LINKS, &Figures::shipped()).unwrap();
        let cable = Cable::new(&mut dice, cores, false, 0, 0);
        let mut walk = Walk::new(plan.clone(), dice.below(2) == 0).checking(true);
        let slips_at = 2 + dice.below(3);
        let mut looks = 0;
        while walk.found().is_none() && looks < 40 {
            let answer = cable.answer(&walk, &plan, &mut dice);
            let labels = match walk.place().0 {
                End::Near => &"ABCDEFGH"[..cores],
                End::Far => &"12345678"[..cores],
            };
            let is_check = matches!(walk.question(), Some(Question::Checks { .. }));
            let slip = (looks == slips_at && !is_check)
                .then(|| mistyped(&answer, labels, &mut dice))
                .flatten();
            looks += 1;
            if let Some(slip) = slip
                && walk.answer(&slip).is_ok()
            {
                continue;
            }
            // what no cable explains is refused, and the walk goes no further
            if walk.answer(&answer).is_err() {
                refused += 1;
                break;
            }
        }
        let Some(found) = walk.found() else { continue };
        if checking(&found.rows).is_none() {
            continue;
        }
        let told = found
            .rows
            .iter()
            .filter(|row| matches!(row.state, State::Conducts | State::ByElimination));
        let is_wrong = told.clone().any(|row| {
            let terminal = |at: End, label: &String| words::terminal(at, label, cores, false).unwrap();
            cable.far[terminal(End::Near, &row.near[0])] != terminal(End::Far, &row.far[0])
        });
        wrong += usize::from(is_wrong);
        let checked = walk.checked().expect("it was asked for");
        // a sound core that a slip made broken or in contact may contradict the list as well
        let sound = told.count() == cores;
        assert!(
            (checked == Checked::Otherwise) == is_wrong || (!is_wrong && !sound),
            "seed {seed}: {checked:?} {found:?}"
        );
    }
    println!("{wrong} wrong lists, {refused} refused");
    assert!(100 < wrong, "{wrong} wrong lists, {refused} refused");
}

fn walked(cable: &Cable, plan: &Plan, every_core_seen: bool, dice: &mut Dice) -> (Found, usize) {
    let mut walk = Walk::new(plan.clone(), every_core_seen);
    let mut questions = 0;
    while walk.found().is_none() {
        let answer = cable.answer(&walk, plan, dice);
        walk.answer(&answer).unwrap_or_else(|e| panic!("{answer}: {e}"));
        questions += 1;
        assert!(questions < 200, "the walk ends");
    }
    (walk.found().unwrap(), questions)
}

fn kits() -> Vec<Kit> {
    [
        "links",
        "links=1",
        "links=2",
        "links=3",
        "earth",
        "earth,links=1",
        "resistors",
        "resistors,earth",
        "resistors=4",
        "resistors=4,earth",
        "resistors=2,earth,links=2",
    ]
    .iter()
    .map(|k| Kit::parse(k).unwrap())
    .collect()
}

#[test]
fn a_sound_cable_takes_the_planned_walks_and_every_core_is_right() {
    let mut dice = Dice(11);
    for cores in 2..=20 {
        for kit in kits() {
            let Ok(plan) = plan(cores, kit, &Figures::shipped()) else {
                continue;
            };
            for _ in 0..3 {
                let cable = Cable::new(&mut dice, cores, kit.earth, 0, 0);
                let (found, _) = walked(&cable, &plan, false, &mut dice);
                cable.holds(&found).unwrap();
                assert_eq!(found.walks, plan.walks, "{cores} {kit:?}");
                let seen = found.rows.iter().filter(|r| r.state == State::Conducts).count();
                assert_eq!(seen, cores - plan.by_elimination, "{cores} {kit:?} {found:?}");
                assert_eq!(found.is_sound(), plan.by_elimination == 0);
            }
        }
    }
}

#[test]
fn one_more_walk_sees_the_core_known_by_elimination() {
    let mut dice = Dice(12);
    for (cores, kit) in [(4, "links"), (8, "links=3"), (10, "links=1"), (2, "earth")] {
        let plan = plan(cores, Kit::parse(kit).unwrap(), &Figures::shipped()).unwrap();
        assert_eq!(plan.by_elimination, 1);
        let cable = Cable::new(&mut dice, cores, plan.kit.earth, 0, 0);
        let (found, _) = walked(&cable, &plan, true, &mut dice);
        cable.holds(&found).unwrap();
        assert!(found.is_sound(), "{cores} {kit} {found:?}");
        assert_eq!(found.walks, plan.walks + 1, "{cores} {kit}");
    }
}

#[test]
fn breaks_and_contacts_never_give_a_wrong_label() {
    let (mut faulty, mut told, mut extra) = (0, 0, 0);
    for seed in 0..2_000 {
        let mut dice = Dice(seed);
        let cores = 2 + dice.below(if seed % 16 == 0 { 19 } else { 9 });
        let kit = kits()[dice.below(kits().len())];
        let Ok(plan) = plan(cores, kit, &Figures::shipped()) else {
            continue;
        };
        let (breaks, contacts) = (dice.below(3), dice.below(3));
        let cable = Cable::new(&mut dice, cores, kit.earth, breaks, contacts);
        let (found, _) = walked(&cable, &plan, false, &mut dice);
        cable
            .holds(&found)
            .unwrap_or_else(|e| panic!("seed {seed}: {e}\n{kit:?}\n{found:#?}"));
        let is_sound = cable.inside.blocks().iter().all(|b| b.len() == 2);
        if !is_sound {
            assert!(!found.is_sound(), "seed {seed}");
            faulty += 1;
            told += usize::from(found.rows.iter().all(|r| r.state != State::NotTold));
            extra += found.walks.saturating_sub(plan.walks);
        }
    }
    assert!(1_500 < faulty, "{faulty}");
    // the rest have a contact inside, or fewer than three sound cores and nothing but links
    assert!(faulty * 8 < told * 10, "{told} of {faulty}");
    assert!(extra < faulty * 2, "{extra} extra walks for {faulty} faulty cables");
}

#[test]
fn a_break_behind_which_a_core_touches_its_joined_partner_is_found_at_the_parted_far_end() {
    // A is broken and its far piece touches C: two looks of the plan are those of a sound cable
    let plan = plan(3, Kit::LINKS, &Figures::shipped()).unwrap();
    let inside = Partition::joined(6, &[vec![1, 3, 4], vec![2, 5]]);
    let cable = Cable {
        cores: 3,
        terminals: 3,
        far: vec![0, 1, 2],
        broken: vec![true, false, false],
        inside,
    };
    let (found, _) = walked(&cable, &plan, false, &mut Dice(1));
    cable.holds(&found).unwrap();
    assert!(!found.is_sound());
    assert!(
        found.rows.iter().any(|r| r.state == State::Broken && r.near == ["A"]),
        "{found:?}"
    );
}
