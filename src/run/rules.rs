//! The rules of judging by name: which evidence gives which verdict.
//!
//! The rule inside: the list is closed and only grows. A change in what [`super::fold`] makes of the same evidence, be it a word,
//! gets a new name here, so that a record says by what it was judged and a reader knows why two versions differ.

/// One state of the rules.
#[derive(Debug, PartialEq, Eq)]
pub struct Rules {
    /// As a record names them; a record without a name was judged by the first.
    pub name: &'static str,
    /// The versions of the program that judge by them.
    pub written_by: &'static [&'static str],
    /// What they changed, in words.
    pub changed: &'static str,
}

/// All of them, the oldest first; the last are today's.
pub const RULES: &[Rules] = &[
    Rules {
        name: "1",
        written_by: &["coreproof 0.1.0"],
        changed: "the first",
    },
    Rules {
        name: "2",
        written_by: &["coreproof 0.2.0"],
        changed: "a lead resistance that did not pass is not subtracted, and no uncertainty of it is added; a proof of dead or a \
                  connection that its condition leaves out is not needed, as any other step is",
    },
    Rules {
        name: "3",
        written_by: &["coreproof 0.3.0", "coreproof 0.4.0"],
        changed: "over-range that proves less than is asked is said to be not proven by this instrument",
    },
];

/// The rules by which this program judges.
pub fn today() -> &'static Rules {
    RULES.last().expect("the list is not empty")
}

/// The rules that a record names.
///
/// # Errors
/// A name that is not in the list: a newer program wrote it.
pub fn named(name: Option<&str>) -> Result<&'static Rules, String> {
    let Some(name) = name else { return Ok(&RULES[0]) };
    let found = RULES.iter().find(|rules| rules.name == name);
    found.ok_or_else(|| {
        format!(
            "it was judged by the rules `{name}`; this program knows them up to `{}`: install a newer coreproof",
            today().name
        )
    })
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::run::event::PROGRAM;

    #[test]
    fn this_version_writes_by_the_rules_of_today() {
        assert!(
            today().written_by.contains(&PROGRAM),
            "{PROGRAM} stands beside the rules it judges by"
        );
    }

    #[test]
    fn names_are_known_or_refused() {
        for (name, expected) in [
            (None, Ok("1")),
            (Some("1"), Ok("1")),
            (Some("2"), Ok("2")),
            (Some("3"), Ok("3")),
            (
                Some("99"),
                Err("it was judged by the rules `99`; this program knows them up to `3`: install a newer coreproof"),
            ),
        ] {
            let found = named(name);
            assert_eq!(found.as_ref().map(|rules| rules.name).map_err(String::as_str), expected);
        }
    }

    #[test]
    fn no_two_have_one_name_or_one_writer() {
        for (i, rules) in RULES.iter().enumerate() {
            for later in &RULES[i + 1..] {
                assert_ne!(rules.name, later.name);
                assert!(
                    rules
                        .written_by
                        .iter()
                        .all(|version| !later.written_by.contains(version))
                );
            }
        }
    }
}
