//! What is at hand for telling cores apart.
//!
//! The rule inside: cores can always be twisted together; `links=K` says that only K link leads can be used at one end at a time.

use serde::Serialize;

use super::error::IdentifyError;

/// What is at hand.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize)]
pub struct Kit {
    /// Joints that can be made at one end at a time; `None` for as many as wanted.
    pub links: Option<usize>,
    /// A conductor known at both ends: the earth, a pipe, a screen, a core already known.
    pub earth: bool,
    /// Resistors of different values; `None` for as many as wanted.
    pub resistors: Option<usize>,
    /// A diode, and a meter with a diode range.
    pub diode: bool,
}

impl Kit {
    /// Links without a limit and nothing else.
    pub const LINKS: Kit = Kit {
        links: None,
        earth: false,
        resistors: Some(0),
        diode: false,
    };

    /// Reads `links=2,earth,resistors,diode`.
    ///
    /// ```
    /// use coreproof::identify::kit::Kit;
    /// let kit = Kit::parse("links=2,earth").unwrap();
    /// assert_eq!((kit.links, kit.earth, kit.diode), (Some(2), true, false));
    /// ```
    ///
    /// # Errors
    /// A word that is none of these, a word twice, a count that is not 1 to 99.
    pub fn parse(text: &str) -> Result<Kit, IdentifyError> {
        let mut kit = Kit::LINKS;
        let mut seen: Vec<&str> = Vec::new();
        for item in text.split(',').map(str::trim) {
            let (word, count) = match item.split_once('=') {
                Some((word, count)) => (word, Some(count)),
                None => (item, None),
            };
            if seen.contains(&word) {
                return Err(IdentifyError::KitTwice { word: word.into() });
            }
            seen.push(word);
            let number = |count: Option<&str>| match count.map(str::parse::<usize>) {
                None => Ok(None),
                Some(Ok(n)) if (1..=99).contains(&n) => Ok(Some(n)),
                Some(_) => Err(IdentifyError::KitCount { item: item.into() }),
            };
            match (word, count) {
                ("links", count) => kit.links = number(count)?,
                ("resistors", count) => kit.resistors = number(count)?,
                ("earth", None) => kit.earth = true,
                ("diode", None) => kit.diode = true,
                _ => return Err(IdentifyError::KitWord { item: item.into() }),
            }
        }
        Ok(kit)
    }

    /// Whether a joint count can be made at one end.
    pub fn makes(&self, links: usize) -> bool {
        self.links.is_none_or(|most| links <= most)
    }

    /// Whether this many resistors of different values are there.
    pub fn has_resistors(&self, count: usize) -> bool {
        self.resistors.is_none_or(|most| count <= most)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn kits_are_read() {
        let all = Kit {
            links: None,
            earth: true,
            resistors: None,
            diode: true,
        };
        for (text, expected) in [
            ("links", Kit::LINKS),
            ("links, earth, resistors, diode", all),
            (
                "resistors=19",
                Kit {
                    resistors: Some(19),
                    ..Kit::LINKS
                },
            ),
            (
                "links=1",
                Kit {
                    links: Some(1),
                    ..Kit::LINKS
                },
            ),
        ] {
            assert_eq!(Kit::parse(text), Ok(expected), "{text}");
        }
    }

    #[test]
    fn wrong_kits_say_what_is_wrong() {
        for (text, expected) in [
            (
                "lamp",
                "`lamp` is not in the kit list: links, links=2, earth, resistors, resistors=5, diode",
            ),
            (
                "",
                "`` is not in the kit list: links, links=2, earth, resistors, resistors=5, diode",
            ),
            (
                "diode=2",
                "`diode=2` is not in the kit list: links, links=2, earth, resistors, resistors=5, diode",
            ),
            ("links=0", "`links=0` is not a count of 1 to 99"),
            ("links=two", "`links=two` is not a count of 1 to 99"),
            ("links,links=2", "`links` is in the kit twice"),
        ] {
            assert_eq!(Kit::parse(text).unwrap_err().to_string(), expected, "{text}");
        }
    }
}
