//! By which face answers come.
//!
//! The rule inside: it is told where it changes and nowhere else, before the answer that it is about; it is no answer itself, so it ends no
//! time, and what could be taken back still can.

use jiff::Timestamp;

use super::run::Run;
use crate::run::event::Face;
use crate::run::folded::Refused;

impl Run {
    /// By which face answers come now.
    pub fn face(&self) -> Face {
        self.face
    }

    /// Whether answers may come by this face from here on.
    ///
    /// # Errors
    /// They do already, or nothing is asked now that it could answer.
    pub fn may_turn_to(&self, face: Face) -> Result<(), Refused> {
        let why = if self.ending.is_some() {
            "the run is already closed"
        } else if self.broken.is_some() {
            "it comes after what does not fit"
        } else if self.waits_for_verdict() {
            "the last reading or answer has no verdict yet"
        } else if self.held.is_some() {
            "a frame of voltage is not cleared up"
        } else if self.face == face {
            "answers came by this face already"
        } else {
            return Ok(());
        };
        Err(why.into())
    }

    pub(super) fn turned_to(&mut self, face: Face, at: Timestamp) -> Result<(), Refused> {
        self.may_turn_to(face)?;
        if at < self.last_at {
            self.clock_back.push((self.last_at, at));
        }
        self.come_by(face, at);
        Ok(())
    }

    /// Answers come by this face from here on.
    pub(super) fn come_by(&mut self, face: Face, at: Timestamp) {
        if face == Face::Pipe && self.face != Face::Pipe {
            self.by_pipe.push(at);
        }
        self.face = face;
    }
}
