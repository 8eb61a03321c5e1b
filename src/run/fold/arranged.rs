//! Links and joints made to be what the next step has.
//!
//! The rule inside: they are made so only where that is due, and exactly as the plan has them there.

use super::run::Run;
use crate::plan::SetUp;
use crate::run::event::Event;

impl Run {
    /// Takes in that links and joints were made to be so; of any other event nothing.
    pub(super) fn arranged(&mut self, event: &Event) -> Result<(), String> {
        let Event::Arranged {
            step: id,
            links,
            joined,
            rest,
            earthed,
            terminals,
            neutral_off,
            earths_off,
        } = event
        else {
            return Ok(());
        };
        let set_up = SetUp {
            links: links.iter().cloned().collect(),
            joined: *joined,
            rest: rest.clone(),
            earthed: *earthed,
            terminals: *terminals,
            neutral_off: *neutral_off,
            earths_off: earths_off.iter().copied().collect(),
        };
        let step = self.find(id)?;
        let due = self.cursor() == Some(step) && self.blocked_by(step).is_none();
        if !due || self.to_arrange(step).as_ref() != Some(&set_up) {
            return Err(format!(
                "links and joints were arranged for `{id}` where that was not to be done"
            ));
        }
        self.hands.set_up = Some(set_up);
        self.hands.charged = false;
        Ok(())
    }
}
