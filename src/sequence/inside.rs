//! The groups around a step, and what they give it.

/// The groups around a step.
#[derive(Debug, Clone, Copy, Default)]
pub(super) struct Inside {
    pub(super) core: bool,
    pub(super) link: bool,
    pub(super) pair: bool,
    pub(super) zone: bool,
    pub(super) supply: bool,
    pub(super) together: bool,
    pub(super) any_order: bool,
}

impl Inside {
    /// Whether a group gives cores that are linked, or the one that may be.
    pub(super) fn linked(self) -> bool {
        self.core || self.link
    }

    /// Whether a group gives cores.
    pub(super) fn cores(self) -> bool {
        self.linked() || self.pair
    }
}
