//! Answers of one letter.
//!
//! The rule inside: a letter stands for one word in the whole program, so that a finger trained at one question never gives another
//! answer at the next. What energises has none.

/// The words that may be answered by one letter.
pub const LETTERS: [(&str, &str); 3] = [("done", "d"), ("lit", "l"), ("dark", "s")];

/// Whether a line is a word, or the letter that stands for it.
///
/// ```
/// use coreproof::run::dialogue::is_word;
/// assert!(is_word(" Dark", "dark") && is_word("s", "dark"));
/// assert!(!is_word("d", "dark") && !is_word("e", "energise"));
/// ```
pub fn is_word(line: &str, word: &str) -> bool {
    let line = line.trim();
    let letter = LETTERS.iter().find(|(of, _)| *of == word).map(|(_, letter)| *letter);
    line.eq_ignore_ascii_case(word) || letter.is_some_and(|letter| line.eq_ignore_ascii_case(letter))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn no_letter_stands_for_two_words() {
        for (at, (word, letter)) in LETTERS.iter().enumerate() {
            assert_eq!(letter.len(), 1, "{word}");
            assert!(LETTERS[at + 1..].iter().all(|(_, other)| other != letter), "{letter}");
            for (other, _) in LETTERS {
                assert_eq!(is_word(letter, other), other == *word, "`{letter}` at `{other}`");
            }
        }
    }
}
