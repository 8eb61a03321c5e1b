//! The spelling that was probably meant.
//!
//! The rule inside: a guess is only said where it is near; a far one would mislead more than none.

/// Longest word that is compared, in bytes; no name in a file of ours is as long, and the comparison grows with its square.
const WORD_BYTES_MAX: usize = 80;

/// The nearest of these to what was written: at most a third of its letters away, whatever its capitals.
///
/// ```
/// use coreproof::located::nearest;
/// assert_eq!(nearest("sise", ["size", "sleeve"]), Some("size"));
/// assert_eq!(nearest("colour", ["size", "sleeve"]), None);
/// ```
pub fn nearest<'a>(written: &str, known: impl IntoIterator<Item = &'a str>) -> Option<&'a str> {
    if WORD_BYTES_MAX < written.len() {
        return None;
    }
    let lower = written.to_lowercase();
    let most = (lower.chars().count() / 3).max(1);
    let far = |word: &str| strsim::damerau_levenshtein(&lower, &word.to_lowercase());
    let known = known.into_iter().filter(|word| word.len() <= WORD_BYTES_MAX);
    let (distance, word) = known
        .map(|word| (far(word), word))
        .min_by_key(|(distance, _)| *distance)?;
    (distance <= most).then_some(word)
}
