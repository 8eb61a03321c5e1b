//! Profiles by their names: those that come with the program, and those that were taught and are kept in the home.
//!
//! The rule inside: a taught profile never stands under the name of a shipped one, so that a name in a record means one thing.

use std::path::Path;

use super::error::Failure;
use super::files;
use super::home::Home;
use super::out::{complain, say};
use crate::located::{Edited, value_at};
use crate::meter::decode::Profile;
use crate::meter::profile::{self, shipped};
use crate::system::disk;
use crate::terminal::plain::clean;

/// Every profile, the taught ones first; one that cannot be read is said and left out.
pub(super) fn all(home: &Home) -> Result<Vec<Profile>, Failure> {
    let mut taught = taught(home)?;
    taught.extend(shipped().iter().cloned());
    Ok(taught)
}

/// The taught ones, by name.
pub(super) fn taught(home: &Home) -> Result<Vec<Profile>, Failure> {
    let folder = home.profiles()?;
    let entries = std::fs::read_dir(&folder).into_iter().flatten().flatten();
    let mut paths: Vec<_> = entries.map(|entry| entry.path()).collect();
    paths.retain(|path| path.extension().is_some_and(|extension| extension == "ron"));
    paths.sort();
    let (mut all, failed) = (Vec::new(), "is left out: it is no profile");
    for path in paths {
        match of_file(&path) {
            Ok(profile) => all.push(profile),
            Err(_) => complain!("note: `{}` {failed}", clean(&path.display().to_string())),
        }
    }
    Ok(all)
}

/// A profile by its name, shipped or taught, or from a file.
pub(super) fn profile(name: &str) -> Result<Profile, Failure> {
    match Path::new(name).is_file() {
        true => of_file(Path::new(name)),
        false => called(name),
    }
}

/// A profile from a file.
pub(super) fn of_file(path: &Path) -> Result<Profile, Failure> {
    let text = files::text(path)?;
    Profile::read(&text.text).map_err(|problems| Failure::findings(text.findings(problems)))
}

fn called(name: &str) -> Result<Profile, Failure> {
    let unknown = match profile::find(name) {
        Ok(profile) => return Ok(profile.clone()),
        Err(unknown) => unknown,
    };
    let taught = Home::open().and_then(|home| taught(&home)).unwrap_or_default();
    let found = taught.into_iter().find(|profile| profile.name == name);
    found.ok_or_else(|| unknown.into())
}

/// Keeps a profile in the home under its own name.
pub(super) fn keep(home: &Home, profile: &Profile) -> Result<(), Failure> {
    if profile::find(&profile.name).is_ok() {
        let what = format!("a profile that comes with the program is called `{}`", profile.name);
        return Err(Failure::refused(what).hint("call the taught one otherwise"));
    }
    let path = home.profiles()?.join(format!("{}.ron", profile.name));
    disk::replace(&path, profile.text.as_bytes())
        .map_err(|error| Failure::equipment(format!("`{}` cannot be written: {error}", path.display())))
}

/// Keeps a profile that was just learnt, so that it is known by its name from now on.
pub(super) fn keep_taught(path: &Path) -> Result<(), Failure> {
    let profile = of_file(path)?;
    match keep(&Home::open()?, &profile) {
        Ok(()) => say!("Known as `{}` from now on, beside the file.", profile.name),
        // the file is written, and can be named by its path
        Err(failure) => complain!("note: it is known by its file alone: {}", clean(&failure.message)),
    }
    Ok(())
}

/// The same profile for a meter that is set to another speed, under a name that says so.
pub(super) fn at_speed(profile: &Profile, baud: u32) -> Result<Profile, Failure> {
    let text: &str = &profile.text;
    let places = value_at(text, &["name"]).zip(value_at(text, &["line", "baud"]));
    let (name, speed) = places.ok_or_else(|| {
        let what = format!("`{}` is laid out so that its speed cannot be changed", profile.name);
        Failure::refused(what).hint("write a profile of your own with the speed of the meter")
    })?;
    let mut edited = Edited::new(text);
    // from behind, so that the place before stays as it is
    let mut changes = [
        (name, format!("\"{}-{baud}\"", profile.name)),
        (speed, baud.to_string()),
    ];
    changes.sort_by_key(|(at, _)| std::cmp::Reverse(at.start));
    for (at, by) in changes {
        edited.exchange(at, &by);
    }
    Profile::read(&edited.text).map_err(|_| {
        Failure::refused(format!("`{}` cannot be had at {baud} baud", profile.name))
            .hint("set the meter to the speed of its profile")
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn every_shipped_profile_can_be_had_at_another_speed() {
        for profile in shipped() {
            let other = at_speed(profile, 1200).unwrap();
            assert_eq!((other.name, other.line.baud), (format!("{}-1200", profile.name), 1200));
            assert_eq!(other.frame, profile.frame);
        }
    }
}
