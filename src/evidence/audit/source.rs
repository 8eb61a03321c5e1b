//! A reading made again from what it says it came from.
//!
//! The rule inside: what the record says was shown is what its raw bytes, or its typed line, give by the carried profile.

use super::remark::{Concern, Remarks};
use crate::located::Text;
use crate::meter::decode::{Profile, decode_raw};
use crate::value::reading::{Function, Origin, Reading};

/// The carried profiles that read; those that do not are remarked on.
pub(super) fn profiles_of(profiles: &[Text], remarks: &mut Remarks) -> Vec<Profile> {
    let mut read = Vec::new();
    for carried in profiles {
        match Profile::read(&carried.text) {
            Ok(profile) => read.push(profile),
            Err(problems) => problems.into_iter().for_each(|problem| {
                remarks.add(
                    Concern::Text,
                    1,
                    format!("profile `{}`: {}", carried.name, problem.what),
                );
            }),
        }
    }
    read
}

/// Compares a reading with what its raw bytes, or its typed line read for this function, give.
pub(super) fn from_source(reading: &Reading, function: Function, profiles: &[Profile]) -> Result<(), String> {
    let again = match &reading.origin {
        Origin::Meter {
            profile,
            raw,
            contact,
            to_go,
        } => {
            let profile = profiles
                .iter()
                .find(|p| p.name == profile.as_str())
                .ok_or_else(|| format!("the profile `{}` is not carried in the record", profile.as_str()))?;
            // how the contact was known and how the display moved is not in the meter's bytes
            decode_raw(profile, raw)
                .map_err(|error| error.to_string())?
                .with_contact(*contact)
                .with_to_go(to_go.clone())
        }
        Origin::Typed { text } => Reading::typed(text, function)?,
    };
    if again == *reading {
        Ok(())
    } else {
        Err(format!(
            "recorded as {}, its source gives {}",
            reading.display(),
            again.display()
        ))
    }
}
