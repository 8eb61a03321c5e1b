//! The fold of a journal's events, of a run and of an identification alike.
//!
//! The rule inside: there is one fold. What resumes, audits, verifies, prints or stores a journal takes it from here, so that no
//! two of them can make different things of the same lines. What does not fit is refused with its line, and from there on only
//! making safe and the end are taken.

use jiff::Timestamp;

/// What an event that does not fit is about.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum About {
    /// It cannot come here.
    Order,
    /// It is a verdict, or a conclusion, that the evidence does not give.
    Verdict,
}

/// Why an event is refused; it changed nothing.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
#[error("{what}")]
pub struct Refused {
    /// What it is about.
    pub about: About,
    /// The reason, in words.
    pub what: String,
}

impl From<String> for Refused {
    fn from(what: String) -> Refused {
        Refused {
            about: About::Order,
            what,
        }
    }
}

impl From<&str> for Refused {
    fn from(what: &str) -> Refused {
        Refused::from(what.to_owned())
    }
}

/// What the events of a journal come to.
pub trait Folded: Sized {
    /// One line of the journal.
    type Event;
    /// The first line.
    type Opened;
    /// Why there can be none.
    type Unopened;

    /// The opening in an event, where it is one.
    fn opening(event: &Self::Event) -> Option<&Self::Opened>;

    /// Begins.
    ///
    /// # Errors
    /// A newer format, carried files that cannot be used.
    fn open(opened: Self::Opened, at: Timestamp) -> Result<Self, Self::Unopened>;

    /// Takes one event in.
    ///
    /// # Errors
    /// An event that cannot come here; nothing changes then.
    fn apply(&mut self, at: Timestamp, event: &Self::Event) -> Result<(), Refused>;

    /// From here on only making safe and the end are taken, for this reason.
    fn break_off(&mut self, why: &str);
}

/// Why nothing was folded.
#[derive(Debug)]
pub enum Unfolded<U> {
    /// There is no line, or the first is no opening.
    NoOpening,
    /// The opening cannot be used.
    Unopened(U),
}

/// Folds events in their order. Each is first shown to `look`, together with what came before it and its place counted from 0; each
/// that does not fit goes to `refused`, and the fold goes on with what may still follow.
///
/// # Errors
/// Nothing that opens.
pub fn fold<F>(
    events: impl IntoIterator<Item = (Timestamp, F::Event)>,
    look: impl FnMut(&F, usize, &F::Event),
    refused: impl FnMut(usize, Refused),
) -> Result<F, Unfolded<F::Unopened>>
where
    F: Folded,
    F::Opened: Clone,
{
    fold_opened(F::open, events, look, refused)
}

/// The same where whoever folds opens in a way of its own.
///
/// # Errors
/// As [`fold`].
pub fn fold_opened<F>(
    open: impl FnOnce(F::Opened, Timestamp) -> Result<F, F::Unopened>,
    events: impl IntoIterator<Item = (Timestamp, F::Event)>,
    mut look: impl FnMut(&F, usize, &F::Event),
    mut refused: impl FnMut(usize, Refused),
) -> Result<F, Unfolded<F::Unopened>>
where
    F: Folded,
    F::Opened: Clone,
{
    let mut events = events.into_iter().enumerate();
    let (_, (at, first)) = events.next().ok_or(Unfolded::NoOpening)?;
    let opened = F::opening(&first).ok_or(Unfolded::NoOpening)?.clone();
    let mut folded = open(opened, at).map_err(Unfolded::Unopened)?;
    for (n, (at, event)) in events {
        look(&folded, n, &event);
        if let Err(why) = folded.apply(at, &event) {
            folded.break_off(&why.what);
            refused(n, why);
        }
    }
    Ok(folded)
}
