//! `key`: signing keys and whom to believe.

use std::path::Path;

use super::error::{Failure, PASSED};
use super::home::Home;
use super::out::say;
use super::passphrase;
use super::tables::table;
use crate::evidence::keys::{self, PublicKey, Trust};
use crate::terminal::input;
use crate::terminal::plain::clean;

/// Makes a key and trusts it here.
pub(super) async fn new(name: &str) -> Result<u8, Failure> {
    let home = Home::open()?;
    let mut lines = input::lines();
    let first = passphrase::ask("New passphrase", &mut lines).await?;
    let second = passphrase::ask("The same again", &mut lines).await?;
    if first != second {
        return Err(Failure::refused("the two passphrases differ").hint("run `coreproof key new` again"));
    }
    let public = keys::make(&home.keys(), name, &first)?;
    Trust::add(&home.trusted(), name, &public)?;
    say!("Made the signing key of {}.", clean(name));
    say!("fingerprint {}", public.fingerprint());
    say!("Give the fingerprint to whoever will check your records, by another way than the records.");
    Ok(PASSED)
}

/// Shows the key and the trusted list.
pub(super) fn show() -> Result<u8, Failure> {
    let home = Home::open()?;
    match keys::load(&home.keys()) {
        Ok(key) => {
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
        .map(|s| vec![s.names.join(", "), s.key.fingerprint()])
        .collect();
    say!("{}", table(&["trusted", "fingerprint"], &rows));
    Ok(PASSED)
}

/// Trusts a key.
pub(super) fn trust(file: &Path, name: &str) -> Result<u8, Failure> {
    let home = Home::open()?;
    let key = PublicKey::read(file)?;
    match Trust::add(&home.trusted(), name, &key)? {
        keys::Added::Stored => say!(
            "Records signed by {} are now believed to be of {}.",
            key.fingerprint(),
            clean(name)
        ),
        keys::Added::AlreadyThere => say!("{} was already trusted as {}.", key.fingerprint(), clean(name)),
    }
    Ok(PASSED)
}
