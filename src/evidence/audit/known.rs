//! Plans that were bound and proved before in the same audit, by the texts that they came from.
//!
//! The rule inside: binding and proving are functions of the carried texts alone, so records of the same sequence and job share their plan; the
//! texts are told apart by their digests, names included.

use std::collections::HashMap;
use std::sync::{Arc, Mutex, OnceLock, PoisonError};

use sha2::{Digest as _, Sha256};

use crate::diagnosis::locate::Halving;
use crate::located::Findings;
use crate::plan::Plan;
use crate::proof;
use crate::run::engine::{Choosing as _, Chosen};
use crate::run::event::Opened;
use crate::run::fold::Run;

/// Plans that are kept at once; beyond, all are forgotten. A plan takes some hundreds of kilobytes.
const PLANS_MAX: usize = 64;

/// Plans that are known, each with what today's proof says of it.
#[derive(Debug, Default)]
pub struct Known {
    plans: Mutex<HashMap<[u8; 32], Arc<Kept>>>,
}

#[derive(Debug)]
struct Kept {
    plan: Arc<Plan>,
    proof: OnceLock<Findings>,
    choosing: Mutex<Halving>,
}

impl Known {
    /// The plan that an opening carries.
    ///
    /// # Errors
    /// As [`Run::plan_of`].
    pub(super) fn plan(&self, opened: &Opened) -> Result<Arc<Plan>, Findings> {
        let texts = digest(opened);
        if let Some(kept) = self.kept().get(&texts) {
            return Ok(Arc::clone(&kept.plan));
        }
        let plan = Arc::new(Run::plan_of(opened)?);
        let kept = Kept {
            plan: Arc::clone(&plan),
            proof: OnceLock::new(),
            choosing: Mutex::default(),
        };
        let mut plans = self.kept();
        if PLANS_MAX <= plans.len() {
            plans.clear();
        }
        plans.insert(texts, Arc::new(kept));
        Ok(plan)
    }

    /// What today's proof says of a plan.
    pub(super) fn problems(&self, plan: &Arc<Plan>) -> Findings {
        match self.of_plan(plan) {
            Some(kept) => kept.proof.get_or_init(|| proof::problems(plan)).clone(),
            None => proof::problems(plan),
        }
    }

    /// Which reading of a set the program takes next; what each fault would show there is worked out once for a plan.
    pub(super) fn choose(&self, run: &Run, unread: &[usize]) -> Chosen {
        match self.of_plan(&run.plan) {
            Some(kept) => {
                let choosing = kept.choosing.lock();
                choosing.unwrap_or_else(PoisonError::into_inner).choose(run, unread)
            }
            None => Halving::default().choose(run, unread),
        }
    }

    fn of_plan(&self, plan: &Arc<Plan>) -> Option<Arc<Kept>> {
        self.kept().values().find(|kept| Arc::ptr_eq(&kept.plan, plan)).cloned()
    }

    fn kept(&self) -> std::sync::MutexGuard<'_, HashMap<[u8; 32], Arc<Kept>>> {
        // what a thread that panicked left is whole: a plan goes in at once
        self.plans.lock().unwrap_or_else(PoisonError::into_inner)
    }
}

/// The digest of the texts from which a plan is bound.
fn digest(opened: &Opened) -> [u8; 32] {
    let mut hasher = Sha256::new();
    for text in std::iter::once(&opened.sequence)
        .chain(&opened.parts)
        .chain([&opened.job])
    {
        for part in [text.name.as_str(), &text.text] {
            hasher.update((part.len() as u64).to_be_bytes());
            hasher.update(part);
        }
    }
    hasher.update([u8::from(opened.rests_on.is_some())]);
    // the job is the last, and what is before it has a number of its own
    hasher.update((opened.parts.len() as u64).to_be_bytes());
    hasher.finalize().into()
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::located::Text;

    fn opened(job: &str) -> Opened {
        Opened::new(
            crate::sequence::shipped::carried("stat-cable").unwrap(),
            Text::new("saltmarsh.ron", job),
            "2018+A2:2022",
        )
    }

    #[test]
    fn the_same_texts_share_a_plan_and_others_do_not() {
        let known = Known::default();
        let job = include_str!("../../../fixtures/saltmarsh.ron");
        let first = known.plan(&opened(job)).unwrap();
        assert!(Arc::ptr_eq(&first, &known.plan(&opened(job)).unwrap()));
        assert_eq!(known.problems(&first), proof::problems(&first));
        let other = known.plan(&opened(&format!("{job}\n"))).unwrap();
        assert!(!Arc::ptr_eq(&first, &other));
        let mut renamed = opened(job);
        renamed.job = Text::new("other.ron", job);
        assert!(!Arc::ptr_eq(&first, &known.plan(&renamed).unwrap()));
        assert!(known.plan(&opened("()")).is_err());
    }
}
