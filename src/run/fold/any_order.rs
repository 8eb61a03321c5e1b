//! Live readings of fault-finding that are taken in any order and number.
//!
//! The rule inside: each is chosen before it is read, by the program or by the engineer, and the record says why; one that is not read is
//! not needed, and nothing rests on those that are.

use jiff::Timestamp;

use super::run::{AnyOrder, Run, Status};
use crate::plan::Supply;
use crate::run::event::ChosenBy;

/// What an engineer's choice is said to be: the program's stands before it.
pub const IN_PLACE: &str = "in place of another";

impl AnyOrder {
    /// Nothing is chosen any more.
    pub(super) fn forget_choice(&mut self) {
        self.chosen = None;
    }
}

impl Run {
    /// The set that is being read: its number in the plan.
    pub fn reads_any_order(&self) -> Option<usize> {
        let next = self.steps.iter().position(|state| state.status == Status::Pending)?;
        let set = self.plan.steps[next].any_order?;
        (self.is_needed(next)).then_some(set)
    }

    /// The reading of a set that comes next, where it is chosen.
    pub fn chosen(&self) -> Option<usize> {
        self.any_order.chosen.as_ref().map(|(step, ..)| *step)
    }

    /// Why a reading comes next, in words: who chose it, and why.
    pub fn why_chosen(&self, step: usize) -> Option<String> {
        let (_, by, because) = self.any_order.chosen.as_ref().filter(|(chosen, ..)| *chosen == step)?;
        Some(match by {
            ChosenBy::Program => format!("chosen by the program: {because}"),
            ChosenBy::Engineer => format!("chosen by the engineer: {because}"),
        })
    }

    /// The readings of a set, those that were taken too.
    pub fn in_any_order(&self, set: usize) -> Vec<usize> {
        let all = 0..self.steps.len();
        all.filter(|i| self.plan.steps[*i].any_order == Some(set)).collect()
    }

    /// The readings of a set that were not taken yet.
    pub fn unread(&self, set: usize) -> Vec<usize> {
        let mut all = self.in_any_order(set);
        all.retain(|i| self.steps[*i].status == Status::Pending && self.is_needed(*i));
        all
    }

    /// Whether no more is read of the set to which a step belongs.
    pub(super) fn is_enough(&self, step: usize) -> bool {
        let set = self.plan.steps[step].any_order;
        set.is_some_and(|set| self.any_order.enough.contains(&set)) && self.steps[step].status == Status::Pending
    }

    /// The set of a step, where it is being read and anything may be chosen of it.
    fn open_set(&self, step: usize) -> Result<usize, String> {
        let id = &self.plan.steps[step].id;
        let is_as_found = self.hands.supply == Supply::AsFound;
        let set = self
            .reads_any_order()
            .filter(|set| self.plan.steps[step].any_order == Some(*set));
        match set {
            Some(set) if self.undecided().is_none() && self.blocked_by(step).is_none() && is_as_found => Ok(set),
            _ => Err(format!("`{id}` is none of the readings from which one is chosen now")),
        }
    }

    pub(super) fn choose(&mut self, id: &str, by: ChosenBy, because: &str) -> Result<(), String> {
        let step = self.find(id)?;
        self.open_set(step)?;
        if self.chosen() == Some(step) {
            return Err(format!("`{id}` is chosen already"));
        }
        if by == ChosenBy::Engineer && because != IN_PLACE {
            return Err(format!("`{id}` was chosen by the engineer, of whom no reason is asked"));
        }
        // what was read before is read again, and both stay
        if self.steps[step].status != Status::Pending {
            self.void_one(step);
        }
        self.any_order.chosen = Some((step, by, because.to_owned()));
        Ok(())
    }

    pub(super) fn enough(&mut self, id: &str, because: &str, at: Timestamp) -> Result<(), String> {
        let step = self.find(id)?;
        let set = self.open_set(step)?;
        if self.chosen() != Some(step) {
            return Err(format!("enough was known before `{id}`, which was not the one chosen"));
        }
        let unread = self.unread(set);
        let names: Vec<String> = unread.iter().map(|i| format!("`{}`", self.plan.steps[*i].id)).collect();
        let what = format!("no more was read: {because}; not read: {}", names.join(", "));
        self.told.push((at, id.to_owned(), what));
        self.any_order.enough.insert(set);
        self.any_order.chosen = None;
        Ok(())
    }

    /// Whether a reading or a skip of a step may come, as far as the order of its set goes.
    pub(super) fn comes_in_any_order(&self, step: usize, skips: bool) -> Result<(), String> {
        let is_in_set = self.plan.steps[step].any_order.is_some();
        match is_in_set && !skips && self.chosen() != Some(step) {
            true => Err(format!("`{}` was read, and was not chosen", self.plan.steps[step].id)),
            false => Ok(()),
        }
    }

    /// After a break nothing is chosen, and nothing is enough.
    pub(super) fn read_any_order_anew(&mut self) {
        self.any_order = AnyOrder::default();
    }
}
