//! A reading made again from what it says it came from.
//!
//! The rule inside: what the record says was shown is what its raw bytes, or its typed line, give by the carried profile.

use super::remark::{Concern, Remarks};
use crate::located::Text;
use crate::meter::decode::{Profile, decode_raw};
use crate::value::reading::{Function, Origin, Reading};
use crate::value::sighting::seen_in;

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

/// Compares a reading with what its raw bytes, or its typed line, give: read for this function, or without one as a voltage that was seen,
/// which is heard in any spelling.
pub(super) fn from_source(reading: &Reading, function: Option<Function>, profiles: &[Profile]) -> Result<(), String> {
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
        Origin::Typed { text } => match function {
            Some(function) => Reading::typed(text, function)?,
            None if seen_in(text).any(|seen| seen == *reading) => return Ok(()),
            None => Reading::typed(text, Function::VoltageAc)?,
        },
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

/// Whether a byte that fell over in the frame of a reading would have been noticed.
pub(super) fn is_guarded(reading: &Reading, profiles: &[Profile]) -> bool {
    let Origin::Meter { profile, .. } = &reading.origin else {
        return false;
    };
    let carried = profiles.iter().find(|carried| carried.name == profile.as_str());
    carried.is_some_and(|profile| profile.frame.is_guarded())
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::value::quantity::Shown;
    use crate::value::sighting::{bare, mention, sighting};

    #[test]
    fn a_voltage_that_was_typed_in_any_spelling_is_what_its_line_gives() {
        for seen in [
            sighting("live"),
            sighting("230vac"),
            sighting("it is hot!"),
            mention("there were 230 V on the clamp"),
            Some(bare("230")),
        ] {
            let seen = seen.unwrap();
            assert_eq!(from_source(&seen, None, &[]), Ok(()), "{seen:?}");
            // and no reading that a step asks for
            let other = Reading {
                shown: Shown::Over,
                unit: crate::value::quantity::Unit::Ohm,
                ..seen
            };
            assert!(from_source(&other, None, &[]).is_err(), "{other:?}");
        }
        let live = sighting("live").unwrap();
        assert!(from_source(&live, Some(Function::VoltageAc), &[]).is_err());
        let small = mention("no 230 V, only 5 V").map(|seen| Reading {
            shown: Shown::Over,
            ..seen
        });
        assert!(from_source(&small.unwrap(), None, &[]).is_err());
    }
}
