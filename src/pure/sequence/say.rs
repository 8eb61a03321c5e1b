//! The texts of a sequence with the job's words put in.
//!
//! The rule inside: a placeholder that is not known is refused when the file is read, never shown in braces.

/// What may stand in braces.
pub const PLACEHOLDERS: &[&str] = &[
    "near",
    "far",
    "supply",
    "known source",
    "core",
    "terminal",
    "end",
    "cable",
    "volts",
    "first",
    "second",
    "return core",
    "other",
    "zone",
    "control",
    "zone terminal",
    "pair first",
    "pair second",
];

/// The first placeholder of a text that is not known, braces left out.
pub fn unknown_placeholder(text: &str) -> Option<&str> {
    let mut rest = text;
    while let Some((_, after)) = rest.split_once('{') {
        let (name, tail) = after.split_once('}').unwrap_or((after, ""));
        if !PLACEHOLDERS.contains(&name) {
            return Some(name);
        }
        rest = tail;
    }
    None
}

/// Puts words in for placeholders.
pub fn fill(text: &str, words: &[(&str, &str)]) -> String {
    words.iter().fold(text.to_owned(), |text, (name, word)| {
        text.replace(&format!("{{{name}}}"), word)
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn placeholders_are_known_or_named() {
        for (text, expected) in [
            ("Link {core} to earth.", None),
            ("Link {cor} to earth.", Some("cor")),
            ("{core} {unclosed", Some("unclosed")),
            ("plain", None),
        ] {
            assert_eq!(unknown_placeholder(text), expected, "{text}");
        }
    }

    #[test]
    fn words_are_put_in() {
        assert_eq!(
            fill("{core} at {end}", &[("core", "brown"), ("end", "loft")]),
            "brown at loft"
        );
    }
}
