//! The words of a meter and what each means.
//!
//! The rule inside: a word is found whole or not at all; the first of a profile's words with a meaning is the one that is written.

use crate::value::packed::pack;

/// Words with their meanings, in the order of the profile.
#[derive(Debug, Clone)]
pub struct Lexicon<T> {
    entries: Vec<(String, T)>,
    /// Each word in one number, so that most are told apart without a look at their letters; 0 where it is too long.
    packed: Vec<u64>,
}

impl<T: Copy> Lexicon<T> {
    /// What a word means.
    #[inline]
    pub fn find(&self, word: &str) -> Option<T> {
        let packed = packed(word);
        let mut known = self.packed.iter().zip(&self.entries);
        known
            .find(|(key, (known, _))| **key == packed && known.len() == word.len() && (packed != 0 || known == word))
            .map(|(_, (_, meaning))| *meaning)
    }

    /// The words with their meanings, in the order of the profile.
    pub fn iter(&self) -> impl Iterator<Item = (&str, T)> {
        self.entries.iter().map(|(word, meaning)| (word.as_str(), *meaning))
    }

    /// True where there are no words, and so nothing to look up.
    pub fn is_empty(&self) -> bool {
        self.entries.is_empty()
    }
}

#[inline]
fn packed(word: &str) -> u64 {
    pack(word.as_bytes()).unwrap_or(0)
}

impl<T> Default for Lexicon<T> {
    fn default() -> Lexicon<T> {
        Lexicon {
            entries: Vec::new(),
            packed: Vec::new(),
        }
    }
}

impl<T> FromIterator<(String, T)> for Lexicon<T> {
    fn from_iter<I: IntoIterator<Item = (String, T)>>(entries: I) -> Lexicon<T> {
        let entries: Vec<(String, T)> = entries.into_iter().collect();
        Lexicon {
            packed: entries.iter().map(|(word, _)| packed(word)).collect(),
            entries,
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn words_are_found_whole() {
        let words = [
            "V",
            "VAC",
            "mV",
            "RESISTANCE",
            "RESISTANT",
            "\0",
            "\0\0",
            "A\0",
            "",
            "\u{3a9}",
        ];
        let lexicon: Lexicon<usize> = words.iter().zip(0..).map(|(word, n)| (word.to_string(), n)).collect();
        for (n, word) in words.iter().enumerate() {
            assert_eq!(lexicon.find(word), Some(n), "{word:?}");
        }
        for word in ["VA", "VACX", "A", "\0\0\0", "RESISTANCES", "v", " V"] {
            assert_eq!(lexicon.find(word), None, "{word:?}");
        }
        assert!(!lexicon.is_empty() && Lexicon::<u8>::default().is_empty());
        assert_eq!(lexicon.iter().nth(2), Some(("mV", 2)));
    }
}
