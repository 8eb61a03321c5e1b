//! The checking walk as a part of the walk: asked for once the list is made, answered or left out, and kept with what it came to.
//!
//! The rule inside: what must conduct is never named before it is answered. A look that is other than the list says is looked at once more;
//! the same twice contradicts the list, and after one of them the checking walk can no longer be left out.

use super::checking::{Check, CheckLook, Checked, checking};
use super::error::IdentifyError;
use super::event::Given;
use super::evidence::other;
use super::partition::Partition;
use super::walk::{Stage, Walk};
use super::words;
use crate::job::End;

impl Walk {
    /// The list is made: the checking walk begins where one is asked for, and where the links at hand are enough for it.
    pub(super) fn list_is_made(&mut self) {
        self.now.stage = Stage::Done;
        let list = self.found().and_then(|found| checking(&found.rows));
        let Some(list) = list.filter(|_| self.checks) else {
            return;
        };
        let (first, then) = match self.now.at {
            End::Far => (&list.from_far, &list.from_near),
            End::Near => (&list.from_near, &list.from_far),
        };
        let joints = first.joined.len().max(then.joined.len());
        if self.plan.kit.links.is_some_and(|links| links < joints) {
            return;
        }
        let second = self.check_look(then, other(self.now.at), None);
        let first = self.check_look(first, self.now.at, Some(Box::new(second)));
        self.now.at = other(self.now.at);
        self.now.stage = Stage::Check(first);
    }

    /// A look from the other end, with what touches inside the cable among what conducts there.
    fn check_look(&self, check: &Check, joined_at: End, next: Option<Box<CheckLook>>) -> CheckLook {
        let evidence = &self.now.evidence;
        let over = |pairs: &[[String; 2]], at: End| {
            let terminal = |label: &String| {
                words::terminal(at, label, evidence.cores, evidence.earth).expect("a label of the list")
            };
            let pairs: Vec<Vec<usize>> = pairs.iter().map(|pair| pair.iter().map(terminal).collect()).collect();
            Partition::joined(evidence.terminals(), &pairs)
        };
        let at = other(joined_at);
        CheckLook {
            joined: over(&check.joined, joined_at),
            conducts: over(&check.conducts, at).or(&evidence.contact(at)),
            next,
            otherwise: None,
        }
    }

    /// What the checking walk came to; `None` where none was asked for, or before its end.
    pub fn checked(&self) -> Option<Checked> {
        self.now.checked
    }

    /// Whether the checking walk may still be left out: not after a look that was other than its list says.
    pub(super) fn may_leave_check(&self) -> bool {
        !self.contradicted.contains(&self.now.evidence)
    }

    /// One answer to a look of the checking walk.
    pub(super) fn check_answered(&mut self, line: &str, mut look: CheckLook) -> Result<Given, IdentifyError> {
        if line.trim().eq_ignore_ascii_case("skip") && self.may_leave_check() {
            self.check_ends(Checked::LeftOut);
            return Ok(Given::Skipped);
        }
        let (shown, given) = self.seen(line)?;
        if shown == look.conducts {
            match look.next {
                Some(next) => {
                    self.now.at = other(self.now.at);
                    self.now.stage = Stage::Check(*next);
                }
                None => self.check_ends(Checked::AsListed),
            }
        } else if look.otherwise.as_ref() == Some(&shown) {
            self.check_ends(Checked::Otherwise);
        } else {
            if self.may_leave_check() {
                self.contradicted.push(self.now.evidence.clone());
            }
            look.otherwise = Some(shown);
            self.now.stage = Stage::Check(look);
        }
        Ok(given)
    }

    fn check_ends(&mut self, checked: Checked) {
        self.now.checked = Some(checked);
        self.now.stage = Stage::Done;
    }
}
