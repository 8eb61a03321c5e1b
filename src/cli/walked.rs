//! A dialogue walked at this terminal: a run or an identification, begun or gone on with.
//!
//! The rule inside: both are opened again, walked, broken off and signed in one way.

use std::path::Path;

use serde::Serialize;
use serde::de::DeserializeOwned;
use tokio::sync::mpsc::UnboundedReceiver;

use super::error::Failure;
use super::home::Home;
use super::meter::Named;
use super::out::{complain, say};
use super::passphrase;
use crate::evidence::journal::Journal;
use crate::evidence::keys::{self, Own, Signs};
use crate::evidence::{Refusal, Reopened, reopen};
use crate::located::Text;
use crate::meter::port::source::Meter;
use crate::run::dialogue::{Dialogue, Engineer, Said};
use crate::run::folded::Folded;
use crate::terminal::plain::clean;
use crate::walk::{Around, Stop, WallClock, walk};

/// How often a wrong passphrase may be typed before it is left for later.
const PASSPHRASE_TRIES: u32 = 3;

/// Walks until it is closed or broken off; what was broken off is said, with the command that goes on.
pub(super) async fn go<D>(
    dialogue: &mut D,
    journal: &mut Journal<<D::Folded as Folded>::Event>,
    meter: Option<&mut Meter>,
    (said, page): (&mut UnboundedReceiver<Said>, Option<&mut UnboundedReceiver<Said>>),
    engineer: &mut dyn Engineer,
) -> Result<Stop, Failure>
where
    D: Dialogue,
    <D::Folded as Folded>::Event: Serialize + DeserializeOwned,
{
    let around = Around {
        journal,
        meter,
        said,
        page,
        engineer,
        clock: &WallClock::start(),
    };
    Ok(walk(dialogue, around).await?)
}

/// Why a walk stopped before its end, in words.
pub(super) fn stopped(stop: Stop) -> &'static str {
    match stop {
        Stop::Closed => "it is closed",
        Stop::Interrupted => "broken off",
        Stop::InputEnded => "the input ended",
    }
}

/// Opens a journal again and says what was dropped of it and what does not fit in it.
pub(super) fn again<F>(path: &Path, unopened: impl FnOnce(F::Unopened) -> Refusal) -> Result<Reopened<F>, Failure>
where
    F: Folded,
    F::Opened: Clone,
    F::Event: Serialize + DeserializeOwned,
{
    let reopened = reopen::<F>(path, unopened)?;
    if 0 < reopened.torn_bytes {
        say!(
            "{} bytes of an unfinished last line were dropped; nothing in them had been shown.",
            reopened.torn_bytes
        );
    }
    if let Some((line, what)) = reopened.refused.first() {
        say!("line {line} does not fit: {}", clean(what));
    }
    Ok(reopened)
}

/// Whether a meter's profile is carried in a journal that goes on with it.
pub(super) fn carries(profiles: &[Text], named: &Named) -> bool {
    let profile = &named.profile;
    profiles
        .iter()
        .any(|p| p.name == profile.name && p.text == profile.text)
}

/// Opens the engineer's key with the passphrase that is asked for; one that an agent holds is the agent's to open.
pub(super) async fn unlock(home: &Home, said: &mut UnboundedReceiver<Said>) -> Result<Box<dyn Signs>, Failure> {
    let own = keys::own(&home.keys())?;
    say!(
        "Signing with {} ({})",
        clean(own.public().comment()),
        own.public().fingerprint()
    );
    let locked = match own {
        Own::Agent(key) => return Ok(key),
        Own::Locked(locked) => locked,
    };
    let mut tries = 0;
    loop {
        tries += 1;
        let typed = passphrase::ask("Passphrase of the signing key", said).await?;
        match locked.unlock(&typed) {
            Ok(key) => return Ok(Box::new(key)),
            Err(error @ keys::Error::WrongPassphrase { .. }) if tries < PASSPHRASE_TRIES => {
                complain!("{error}");
            }
            Err(error) => return Err(error.into()),
        }
    }
}

/// The same failure, with how to do it later.
pub(super) fn later(mut failure: Failure, later: &str) -> Failure {
    failure.hint = Some(failure.hint.map_or(later.to_owned(), |hint| format!("{hint}; {later}")));
    failure
}
