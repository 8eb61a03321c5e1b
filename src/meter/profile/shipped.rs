//! The profiles that come with the program.
//!
//! The rule inside: each proves itself on its own examples, so one that does not read is a fault of the program.

use std::sync::LazyLock;

use crate::explain::Explain;
use crate::meter::decode::Profile;

/// The profiles that come with the program.
pub fn shipped() -> &'static [Profile] {
    static SHIPPED: LazyLock<Vec<Profile>> = LazyLock::new(|| {
        [
            include_str!("shipped/line-stream.ron"),
            include_str!("shipped/query-488.ron"),
            include_str!("shipped/ascii-columns-fixed.ron"),
            include_str!("shipped/ascii-line-checksum.ron"),
            include_str!("shipped/ascii-delimited.ron"),
            include_str!("shipped/segment-14.ron"),
            include_str!("shipped/segment-sync.ron"),
            include_str!("shipped/bcd-sync.ron"),
            include_str!("shipped/binary-scaled-range.ron"),
            include_str!("shipped/float-le-checksum.ron"),
        ]
        .into_iter()
        .map(|text| Profile::read(text).expect("shipped profiles are tested"))
        .collect()
    });
    &SHIPPED
}

/// No shipped profile has this name.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
#[error("no meter profile is called `{name}`")]
pub struct UnknownProfile {
    /// The name asked for.
    pub name: String,
}

impl Explain for UnknownProfile {
    fn hint(&self) -> Option<String> {
        let names: Vec<String> = shipped().iter().map(|profile| format!("`{}`", profile.name)).collect();
        Some(format!(
            "name one that comes with the program ({}), or give the path of a profile file of your own",
            names.join(", ")
        ))
    }
}

/// Finds a shipped profile by its name.
pub fn find(name: &str) -> Result<&'static Profile, UnknownProfile> {
    shipped()
        .iter()
        .find(|profile| profile.name == name)
        .ok_or_else(|| UnknownProfile { name: name.to_owned() })
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::meter::decode::Parity;

    #[test]
    fn shipped_profiles_are_found_by_name() {
        let names: Vec<&str> = shipped().iter().map(|p| p.name.as_str()).collect();
        assert_eq!(names.len(), 10);
        for name in names {
            assert_eq!(find(name).unwrap().name, name);
        }
        let line = &find("line-stream").unwrap().line;
        assert_eq!((line.baud, line.data_bits, line.parity), (9600, 8, Parity::None));
    }

    #[test]
    fn an_unknown_name_lists_the_known_ones() {
        let error = find("lime-stream").unwrap_err();
        assert_eq!(error.to_string(), "no meter profile is called `lime-stream`");
        assert_eq!(
            error.hint().unwrap(),
            "name one that comes with the program (`line-stream`, `query-488`, `ascii-columns-fixed`, \
             `ascii-line-checksum`, `ascii-delimited`, `segment-14`, `segment-sync`, `bcd-sync`, `binary-scaled-range`, \
             `float-le-checksum`), or give the path of a profile file of your own"
        );
    }
}
