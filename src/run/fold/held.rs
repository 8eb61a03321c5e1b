//! A voltage seen where dead is claimed; and one frame of it that no checksum guards: danger at once, and the run is held.
//!
//! The rule inside: a byte that fell over on the wire can look like a voltage, and so can a voltage. Only two further frames without one,
//! within a time, let the run go on; anything else is a voltage that was seen. All three frames stay in the record.

use jiff::Timestamp;

use super::frame::{CLEAR_FRAMES, CLEAR_MS_MAX, Held};
use super::run::Run;
use crate::plan::{Stage, Supply, is_dead_test};
use crate::run::event::Event;
use crate::value::reading::{Origin, Reading};

/// Whether a frame without voltage tells anything: one with a mark on it may show what stood before.
pub fn clears(run: &Run, reading: &Reading) -> bool {
    !run.is_live(reading) && reading.flags.is_empty()
}

impl Run {
    /// The step at which a voltage may be seen now: wherever dead is claimed, hands are where it stands.
    fn may_be_seen_live(&self, id: &str, reading: &Reading) -> Result<usize, String> {
        let step = self.find(id)?;
        let claimed = self.stage_passed(Stage::Isolate) && self.hands.supply == Supply::SwitchedOff;
        if self.cursor() != Some(step) || !(is_dead_test(&self.plan.steps[step]) || claimed) {
            return Err(format!("voltage was seen at `{id}` out of its order"));
        }
        if !self.is_live(reading) {
            return Err(format!("{} at `{id}` is no voltage to stop for", reading.display()));
        }
        Ok(step)
    }

    pub(super) fn live_seen(&mut self, id: &str, reading: &Reading, at: Timestamp) -> Result<(), String> {
        self.may_be_seen_live(id, reading)?;
        self.live_seen.push((at, id.to_owned(), reading.display()));
        self.hands.seen_live = true;
        let set = self.stage_steps(Stage::Isolate);
        self.make_void(set);
        Ok(())
    }

    pub(super) fn frame_doubted(&mut self, id: &str, reading: &Reading, at: Timestamp) -> Result<(), String> {
        let step = self.may_be_seen_live(id, reading)?;
        if matches!(reading.origin, Origin::Typed { .. }) {
            return Err(format!("a voltage that was typed at `{id}` is no doubtful frame"));
        }
        let what = format!(
            "{} in one frame of the meter that no checksum guards; the run was held",
            reading.display()
        );
        self.told.push((at, id.to_owned(), what));
        self.held = Some(Held {
            step,
            at,
            reading: reading.clone(),
            cleared: 0,
        });
        Ok(())
    }

    pub(super) fn frame_cleared(&mut self, id: &str, reading: &Reading, at: Timestamp) -> Result<(), String> {
        let step = self.find(id)?;
        let in_time = |held: &Held| held.step == step && (0..=CLEAR_MS_MAX).contains(&held.ms(at));
        let typed = matches!(reading.origin, Origin::Typed { .. });
        if !self.held.as_ref().is_some_and(in_time) || typed || !clears(self, reading) {
            return Err(format!("{} at `{id}` clears up no frame of voltage", reading.display()));
        }
        let cleared = self.held.as_mut().map(|held| {
            held.cleared += 1;
            held.cleared
        });
        if cleared == Some(CLEAR_FRAMES) {
            self.held = None;
            let what = "the two frames after it showed no voltage, and the run went on".to_owned();
            self.told.push((at, id.to_owned(), what));
        }
        Ok(())
    }

    /// Whether an event may come while a frame of voltage is not cleared up.
    pub(super) fn comes_while_held(&self, event: &Event, ends: bool) -> bool {
        let clears_up = matches!(
            event,
            Event::FrameCleared { .. } | Event::LiveSeen { .. } | Event::Resumed { .. }
        );
        self.held.is_none() || clears_up || ends
    }
}
