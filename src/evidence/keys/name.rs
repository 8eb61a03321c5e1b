//! Signers' names. A name stands in a key's comment and in the trust list, where stock OpenSSH reads it as a list of
//! patterns; so a name may hold nothing that would make it two names, a pattern, or look like another name on a screen.

use crate::located::{is_never_in_a_name, is_unseen};

/// Longest name, in characters (our own choice: it must fit one line of a table and of a certificate).
const CHARACTERS_MAX: usize = 100;

/// Why a text cannot be a signer's name.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
pub enum NameFault {
    /// There is no text at all.
    #[error("it is empty")]
    Empty,
    /// The name is longer than the cap.
    #[error("it has {characters} characters and {CHARACTERS_MAX} is the most")]
    TooLong {
        /// Characters found.
        characters: usize,
    },
    /// A blank at either end would not be seen.
    #[error("it begins or ends with a blank")]
    BlankAtEnd,
    /// A control character, an invisible one, or one that OpenSSH gives a meaning (`,` `*` `?` `!` `"`).
    #[error("it holds the character `{0}`")]
    Holds(String),
}

/// Checks that `name` can be a signer's name: 1 to 100 characters, no blank at either end, no control or invisible
/// character, none of `,` `*` `?` `!` `"`.
///
/// # Errors
/// The first fault found.
///
/// ```
/// assert!(coreproof::evidence::keys::check_name("Morgan Teal").is_ok());
/// assert_eq!(coreproof::evidence::keys::check_name("*").unwrap_err().to_string(), "it holds the character `*`");
/// ```
pub fn check_name(name: &str) -> Result<(), NameFault> {
    check_with(name, is_unseen)
}

/// The same of a name that stands in a list already: what was let in before is let in still.
pub(super) fn check_listed(name: &str) -> Result<(), NameFault> {
    let refused = |c| is_never_in_a_name(c) || matches!(c, '\u{ad}' | '\u{61c}' | '\u{2028}' | '\u{2029}');
    check_with(name, refused)
}

fn check_with(name: &str, unseen: impl Fn(char) -> bool) -> Result<(), NameFault> {
    let characters = name.chars().count();
    if characters == 0 {
        return Err(NameFault::Empty);
    }
    if characters > CHARACTERS_MAX {
        return Err(NameFault::TooLong { characters });
    }
    if let Some(found) = name.chars().find(|&c| unseen(c) || has_a_meaning(c)) {
        return Err(NameFault::Holds(found.escape_debug().to_string()));
    }
    if name.trim() != name {
        return Err(NameFault::BlankAtEnd);
    }
    Ok(())
}

/// The name as it may be shown in a message: control and invisible characters escaped, all else as it is.
pub(super) fn shown(text: &str) -> String {
    text.chars()
        .flat_map(|c| {
            if is_unseen(c) {
                c.escape_unicode().collect()
            } else {
                vec![c]
            }
        })
        .collect()
}

/// What stock OpenSSH reads as a list of names or a pattern.
fn has_a_meaning(c: char) -> bool {
    matches!(c, ',' | '*' | '?' | '!' | '"')
}

#[cfg(test)]
mod tests {
    use super::*;

    fn check(name: &str, expected: Result<(), &str>) {
        let found = check_name(name).map_err(|fault| fault.to_string());
        assert_eq!(found, expected.map_err(String::from), "{name:?}");
    }

    #[test]
    fn names_of_people_pass() {
        for name in [
            "Morgan Teal",
            "Mørgan Ó Teal",
            "M. O'Teal (sail loft)",
            "x",
            &"n".repeat(100),
        ] {
            check(name, Ok(()));
        }
    }

    #[test]
    fn each_fault_has_its_text() {
        check("", Err("it is empty"));
        check(&"n".repeat(101), Err("it has 101 characters and 100 is the most"));
        check(" Morgan", Err("it begins or ends with a blank"));
        check("Morgan ", Err("it begins or ends with a blank"));
        check("Morgan\nTeal", Err(r"it holds the character `\n`"));
        check("Morgan\u{1b}[2J", Err(r"it holds the character `\u{1b}`"));
        check("Morgan\u{202e}Q", Err(r"it holds the character `\u{202e}`"));
        check("Morgan, Apprentice", Err("it holds the character `,`"));
        check("*", Err("it holds the character `*`"));
        check("M?", Err("it holds the character `?`"));
        check("!M", Err("it holds the character `!`"));
        check("a\"b", Err("it holds the character `\\\"`"));
    }

    #[test]
    fn shown_text_cannot_move_the_cursor() {
        assert_eq!(shown("a\u{1b}[2J\nb'c"), r"a\u{1b}[2J\u{a}b'c");
    }
}
