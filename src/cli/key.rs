//! `key`: signing keys and whom to believe.

use std::path::Path;

use jiff::Timestamp;
use tokio::sync::mpsc::UnboundedReceiver;

use super::error::{Failure, PASSED};
use super::home::Home;
use super::out::say;
use super::passphrase;
use super::tables::table;
use super::walked::unlock;
use crate::evidence::keys::{self, Own, PublicKey, Trust};
use crate::evidence::statements;
use crate::run::dialogue::Said;
use crate::terminal::input;
use crate::terminal::plain::clean;

/// A passphrase shorter than this is warned of, in characters (practice: what a machine tries through in days).
const PASSPHRASE_CHARACTERS_GOOD: usize = 8;

/// Makes a key and trusts it here.
pub(super) async fn new(name: &str) -> Result<u8, Failure> {
    let home = Home::open()?;
    let mut lines = input::lines();
    let first = new_passphrase(&mut lines, "coreproof key new").await?;
    let public = keys::make(&home.keys(), name, &first)?;
    say_alike(&home, name)?;
    Trust::add(&home.trusted(), name, &public)?;
    say!("Made the signing key of {}.", clean(name));
    say!("fingerprint {}", public.fingerprint());
    say!("Give the fingerprint to whoever will check your records, by another way than the records.");
    say_short(&first);
    Ok(PASSED)
}

/// Makes a key that an SSH agent holds the own one, and trusts it here.
pub(super) fn agent(file: &Path, name: &str) -> Result<u8, Failure> {
    let home = Home::open()?;
    let public = keys::adopt(&home.keys(), name, &PublicKey::read(file)?)?;
    say_alike(&home, name)?;
    Trust::add(&home.trusted(), name, &public)?;
    say!("Records are signed by the SSH agent, as {}.", clean(name));
    say!("fingerprint {}", public.fingerprint());
    say!("Give the fingerprint to whoever will check your records, by another way than the records.");
    Ok(PASSED)
}

/// Shows the key and the trusted list.
pub(super) fn show() -> Result<u8, Failure> {
    let home = Home::open()?;
    match keys::own(&home.keys()) {
        Ok(key) => {
            if matches!(key, Own::Agent(_)) {
                say!("held by an SSH agent");
            }
            say!(
                "{}\n{}",
                clean(&key.public().openssh_line()),
                key.public().fingerprint()
            );
        }
        Err(keys::Error::KeyAbsent { .. }) => say!("no signing key yet: coreproof key new --name \"…\""),
        Err(error) => return Err(error.into()),
    }
    let trust = Trust::read(&home.trusted())?;
    let rows: Vec<_> = trust
        .signers()
        .iter()
        .map(|s| {
            let from = s.valid_after.map(|at| format!("from {at}"));
            let to = s.valid_before.map(|at| format!("to {at}"));
            let when: Vec<String> = from.into_iter().chain(to).collect();
            vec![s.names.join(", "), s.key.fingerprint(), when.join(" ")]
        })
        .collect();
    say!("{}", table(&["trusted", "fingerprint", "believed"], &rows));
    Ok(PASSED)
}

/// Trusts a key.
pub(super) fn trust(file: &Path, name: &str, from: Option<&str>, until: Option<&str>) -> Result<u8, Failure> {
    let home = Home::open()?;
    let key = PublicKey::read(file)?;
    let from = from.map(moment).transpose()?;
    // the list has the last second that counts, the option the first that does not
    let until = until
        .map(moment)
        .transpose()?
        .map(|at| at - jiff::SignedDuration::from_secs(1));
    if until.is_some_and(|until| from.is_some_and(|from| until <= from)) {
        return Err(Failure::refused(
            "the key would be believed at no time: `--until` comes before `--from`",
        ));
    }
    say_alike(&home, name)?;
    match Trust::add_within(&home.trusted(), name, &key, (from, until))? {
        keys::Added::Stored => say!(
            "Records signed by {} are now believed to be of {}.",
            key.fingerprint(),
            clean(name)
        ),
        keys::Added::AlreadyThere => say!("{} was already trusted as {}.", key.fingerprint(), clean(name)),
    }
    Ok(PASSED)
}

/// Warns of names in the list that look like this one.
fn say_alike(home: &Home, name: &str) -> Result<(), Failure> {
    for other in Trust::read(&home.trusted())?.alike(name) {
        say!(
            "note: `{}` looks like `{}`, which is another in the trusted list: compare the fingerprints with both",
            clean(name),
            clean(other)
        );
    }
    Ok(())
}

/// Warns of a passphrase that a machine guesses at once.
fn say_short(passphrase: &str) {
    let characters = passphrase.chars().count();
    if characters < PASSPHRASE_CHARACTERS_GOOD {
        say!(
            "note: a passphrase of {characters} {} is soon guessed by whoever has the file; give a longer one with `coreproof key passphrase`",
            if characters == 1 { "character" } else { "characters" }
        );
    }
}

/// A day, from its beginning in UTC, or a time.
fn moment(text: &str) -> Result<Timestamp, Failure> {
    let day = || {
        let midnight = text.parse::<jiff::civil::Date>().ok()?.at(0, 0, 0, 0);
        jiff::tz::TimeZone::UTC.to_timestamp(midnight).ok()
    };
    day().or_else(|| text.parse().ok()).ok_or_else(|| {
        Failure::refused(format!("`{text}` is no date"))
            .hint("write it as `2026-11-30`, or with its time as `2026-11-30T14:00:00Z`")
    })
}

/// Asks twice for a new passphrase.
async fn new_passphrase(lines: &mut UnboundedReceiver<Said>, again: &str) -> Result<String, Failure> {
    let first = passphrase::ask("New passphrase", lines).await?;
    let second = passphrase::ask("The same again", lines).await?;
    match first == second {
        true => Ok(first),
        false => Err(Failure::refused("the two passphrases differ").hint(format!("run `{again}` again"))),
    }
}

/// Puts the key under another passphrase.
pub(super) async fn passphrase() -> Result<u8, Failure> {
    let home = Home::open()?;
    if let Own::Agent(_) = keys::own(&home.keys())? {
        return Err(
            Failure::refused("the signing key is held by an SSH agent, which keeps its passphrase")
                .hint("change it where the key's file is: `ssh-keygen -p`"),
        );
    }
    let mut lines = input::lines();
    let old = passphrase::ask("Passphrase of the signing key", &mut lines).await?;
    keys::load(&home.keys())?.unlock(&old)?;
    let new = new_passphrase(&mut lines, "coreproof key passphrase").await?;
    keys::change_passphrase(&home.keys(), &old, &new)?;
    say!("The signing key is under the new passphrase. Copies of the file are still under the old one.");
    say_short(&new);
    Ok(PASSED)
}

/// Takes a key out of belief from a day on.
pub(super) async fn retire(name: Option<&str>, from: &str) -> Result<u8, Failure> {
    let home = Home::open()?;
    let from = moment(from)?;
    if let Some(name) = name {
        let key = Trust::retire(&home.trusted(), name, from)?;
        say!(
            "{} of {} is believed for nothing closed from {from} on.",
            key.fingerprint(),
            clean(name)
        );
        return Ok(PASSED);
    }
    let own = keys::own(&home.keys())?.public().clone();
    let trust = Trust::read(&home.trusted())?;
    let name = trust
        .listed(&own)
        .map(|signer| signer.names[0].clone())
        .ok_or_else(|| {
            Failure::refused("the own key is not in the trusted list")
                .hint("trust it again, then retire it: `coreproof key trust`")
        })?;
    let key = unlock(&home, &mut input::lines()).await?;
    let told = statements::retire(&home.archive(), &home.heads(), &*key, from)?;
    Trust::retire(&home.trusted(), &name, from)?;
    told.iter().for_each(|told| say!("note: {}", clean(told)));
    say!(
        "{} of {} is believed for nothing closed from {from} on; that is signed and in the log.",
        own.fingerprint(),
        clean(&name)
    );
    say!(
        "Tell whoever trusts it. For a new key, move the folder {} away first.",
        clean(&home.keys().display().to_string())
    );
    Ok(PASSED)
}
