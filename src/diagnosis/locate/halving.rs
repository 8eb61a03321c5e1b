//! Which of the live readings that may be taken in any order comes next: the one that tells the faults that are left apart best.
//!
//! The rule inside: what is complained of counts, so a fault with which every reading of the set would pass is none of those sought; a
//! fault is left while each reading that was taken came out as it would with it, of its usual size.

use std::cell::RefCell;
use std::collections::BTreeMap;

use super::entropy::information;
use crate::judge::window::Outcome;
use crate::model::installation::Installation;
use crate::model::library;
use crate::model::walked::World;
use crate::plan::Plan;
use crate::run::engine::{Choosing, Chosen};
use crate::run::fold::Run;

/// A reading that tells less tells nothing, in bits.
const BITS_MIN: f64 = 0.05;
/// Faults that are named before they are only counted.
const NAMED_MAX: usize = 3;

/// A fault with which some reading of the set would fail.
#[derive(Debug, Clone, PartialEq)]
struct Sought {
    words: String,
    weight: f64,
    /// Whether each reading of the set would pass, by its place in the plan.
    passes: BTreeMap<usize, bool>,
}

/// Chooses by halving; what each fault would show is worked out once for a set.
#[derive(Debug, Default)]
pub struct Halving {
    sought: RefCell<BTreeMap<Vec<usize>, Vec<Sought>>>,
}

impl Choosing for Halving {
    fn choose(&self, run: &Run, unread: &[usize]) -> Chosen {
        let set = run.plan.steps[unread[0]]
            .any_order
            .map_or_else(Vec::new, |set| run.in_any_order(set));
        let mut all = self.sought.borrow_mut();
        let sought = all.entry(set.clone()).or_insert_with(|| sought(&run.plan, &set));
        let agrees = |there: &&Sought| {
            set.iter().all(
                |step| match run.standing(*step).map(|attempt| attempt.verdict.outcome) {
                    Some(Outcome::Pass) => there.passes[step],
                    Some(Outcome::Fail) => !there.passes[step],
                    _ => true,
                },
            )
        };
        let left: Vec<&Sought> = sought.iter().filter(agrees).collect();
        let (step, bits) = best(&left, unread);
        let failing = left.iter().filter(|there| !there.passes[&step]).count();
        let because = match bits {
            bits if bits < BITS_MIN => "none of those not read tells the faults that are left apart".to_owned(),
            bits => format!(
                "of {} faults that are left it would fail with {failing} and pass with {} ({bits:.2} bit)",
                left.len(),
                left.len() - failing
            ),
        };
        Chosen {
            step,
            because,
            left: words(&left),
        }
    }
}

/// The reading that tells most, the first of equals, and how much.
fn best(left: &[&Sought], unread: &[usize]) -> (usize, f64) {
    let tells = |step: usize| {
        let one = |there: &&Sought| (there.weight, vec![(usize::from(there.passes[&step]), 1.0)]);
        information(&left.iter().map(one).collect::<Vec<_>>())
    };
    let all = unread.iter().map(|step| (*step, tells(*step)));
    let first = (unread[0], 0.0);
    all.fold(first, |best, next| if best.1 + 1e-9 < next.1 { next } else { best })
}

fn words(left: &[&Sought]) -> String {
    let named = left
        .iter()
        .map(|there| there.words.as_str())
        .collect::<Vec<_>>()
        .join("; ");
    match left.len() {
        0 => "no single fault of the library agrees with what was read".into(),
        1 => format!("one fault is left: {named}"),
        few if few <= NAMED_MAX => format!("{few} faults are left: {named}"),
        many => format!("{many} faults are left"),
    }
}

/// Every fault of the library with which a reading of the set would fail; none where the job makes no wiring.
fn sought(plan: &Plan, set: &[usize]) -> Vec<Sought> {
    let (Ok(sound), Ok(faults)) = (Installation::of(&plan.job), library::faults(&plan.job)) else {
        return Vec::new();
    };
    let one = |fault: crate::model::fault::Fault| {
        let mut installation = sound.clone();
        installation.put(&fault).ok()?;
        let passes = passes(plan, set, installation);
        let shows = passes.values().any(|passes| !passes);
        shows.then_some(Sought {
            words: fault.words,
            weight: fault.weight,
            passes,
        })
    };
    faults.into_iter().filter_map(one).collect()
}

/// Whether each reading of a set would pass on an installation.
fn passes(plan: &Plan, set: &[usize], installation: Installation) -> BTreeMap<usize, bool> {
    let mut world = World::new(plan, installation);
    let last = set.iter().max().copied().unwrap_or_default();
    let mut passes = BTreeMap::new();
    for (i, step) in plan.steps.iter().enumerate().take(last + 1) {
        let reads = set.contains(&i);
        if reads || world.is_needed(step) {
            world.come_to(i);
        }
        if reads {
            passes.insert(i, world.seen(step).passes());
        }
    }
    passes
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::job;
    use crate::model::fault::Fault;
    use crate::sequence::{self, shipped};

    fn plan() -> Plan {
        let job = job::read(&shipped::job("race-office-heating").unwrap()).unwrap();
        let sequence = sequence::read(&shipped::texts("no-heat").unwrap()).unwrap();
        sequence::bind_unproved(&sequence, &job).unwrap()
    }

    fn set(plan: &Plan) -> Vec<usize> {
        (0..plan.steps.len())
            .filter(|i| plan.steps[*i].any_order.is_some())
            .collect()
    }

    /// The readings by which a fault is sought until none tells more, and what is left then.
    fn halved<'a>(plan: &Plan, all: &'a [Sought], fault: &Fault) -> (Vec<usize>, Vec<&'a Sought>) {
        let mut installation = Installation::of(&plan.job).unwrap();
        installation.put(fault).unwrap();
        let mut unread = set(plan);
        let truth = passes(plan, &unread, installation);
        let (mut read, mut left) = (Vec::new(), all.iter().collect::<Vec<_>>());
        loop {
            let (step, bits) = best(&left, &unread);
            if bits < BITS_MIN {
                return (read, left);
            }
            left.retain(|there| there.passes[&step] == truth[&step]);
            unread.retain(|there| *there != step);
            read.push(step);
            if unread.is_empty() {
                return (read, left);
            }
        }
    }

    #[test]
    fn live_readings_halve_what_is_left_and_keep_the_fault_that_is_there() {
        let plan = plan();
        let set = set(&plan);
        let all = sought(&plan, &set);
        assert!(40 < all.len() && set.len() == 6, "{} by {}", all.len(), set.len());
        // with none of them would every reading of the set pass: there is no heat
        assert!(all.iter().all(|there| there.passes.values().any(|passes| !passes)));
        let (mut readings, mut faults) = (0, 0);
        for fault in crate::model::library::faults(&plan.job).unwrap() {
            if !all.iter().any(|there| there.words == fault.words) {
                continue;
            }
            let (read, left) = halved(&plan, &all, &fault);
            assert!(left.iter().any(|there| there.words == fault.words), "{}", fault.name);
            assert!(2 * left.len() < all.len(), "{}: {} left", fault.name, left.len());
            readings += read.len();
            faults += 1;
        }
        assert!(readings < 4 * faults, "{readings} readings for {faults} faults");
    }

    #[test]
    fn what_is_left_is_told_in_words() {
        let plan = plan();
        let all = sought(&plan, &set(&plan));
        let some = |count: usize| words(&all.iter().take(count).collect::<Vec<_>>());
        assert_eq!(some(0), "no single fault of the library agrees with what was read");
        assert_eq!(some(1), format!("one fault is left: {}", all[0].words));
        assert_eq!(
            some(2),
            format!("2 faults are left: {}; {}", all[0].words, all[1].words)
        );
        assert_eq!(some(9), "9 faults are left");
    }
}
