//! Questions to a meter that does not send by itself, and what its answers are worth.
//!
//! The rule inside: an answer that does not name what was measured is not learnt from, for nobody could tell later where
//! the dial stood.

/// Questions that show on which line a meter listens: the identity, which IEEE 488.2 makes every instrument answer, then
/// a reading for those that know nothing else.
pub const OPENERS: [&str; 2] = ["*IDN?", "READ?"];

/// Questions for a reading, those that ask for the function as well first: the measurement instructions of SCPI, from
/// memory; that these three are the usual ones is common practice, without a source.
pub const READINGS: [&str; 6] = [
    "READ?;:FUNC?",
    "MEAS?;:FUNC?",
    "FETC?;:FUNC?",
    "READ?",
    "MEAS?",
    "FETC?",
];

/// What ends a question on a serial line, the commonest first; the order is common practice, without a source.
pub const ENDS: [&str; 3] = ["\n", "\r\n", "\r"];

/// A question with what ends it.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Question {
    /// The line that is sent.
    pub ask: String,
    /// What ends it: a line feed, a carriage return, or both.
    pub end: String,
}

/// What came back.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Answer {
    /// Nothing that could be a reading.
    Nothing,
    /// A number alone, which names no function.
    Bare(String),
    /// A number beside words.
    Named(String),
}

impl Question {
    /// A question of these words.
    pub fn new(ask: &str, end: &str) -> Question {
        Question {
            ask: ask.into(),
            end: end.into(),
        }
    }

    /// The bytes that are sent.
    pub fn bytes(&self) -> Vec<u8> {
        [self.ask.as_bytes(), self.end.as_bytes()].concat()
    }

    /// What a profile writes as `talk`.
    pub(super) fn talk(&self) -> String {
        format!("Query(setup: [], ask: {:?}, end: {:?})", self.ask, self.end)
    }

    /// The first whole line of text among the bytes that came back; `None` where there is none yet, or where it is the
    /// question itself, which a port that echoes sends back.
    pub fn reply(&self, bytes: &[u8]) -> Option<String> {
        let stop = bytes
            .iter()
            .enumerate()
            .position(|(at, byte)| b"\r\n".contains(byte) && !bytes[..at].trim_ascii().is_empty())?;
        let line = std::str::from_utf8(bytes[..stop].trim_ascii()).ok()?;
        (line.bytes().all(|byte| (0x20..0x7f).contains(&byte)) && line != self.ask).then(|| line.to_owned())
    }
}

/// What an answer to a question for a reading is worth.
///
/// ```
/// use coreproof::teach::question::{Answer, judge};
/// let answer = "+4.2E-01;\"RES\"";
/// assert_eq!(judge(answer), Answer::Named(answer.into()));
/// assert_eq!(judge("+4.2E-01"), Answer::Bare("+4.2E-01".into()));
/// assert_eq!(judge("ERR 12"), Answer::Nothing);
/// ```
pub fn judge(line: &str) -> Answer {
    let part = |c: char| !(c.is_ascii_alphanumeric() || "+-.".contains(c));
    let words: Vec<&str> = line.split(part).filter(|word| !word.is_empty()).collect();
    let number = |word: &&str| word.bytes().any(|byte| byte.is_ascii_digit()) && word.parse::<f64>().is_ok();
    let name = |word: &&str| !number(word) && word.bytes().any(|byte| byte.is_ascii_alphabetic());
    let refused = words.iter().any(|word| word.to_ascii_uppercase().starts_with("ERR"));
    match (words.iter().any(number), words.iter().any(name)) {
        _ if refused => Answer::Nothing,
        (true, true) => Answer::Named(line.into()),
        (true, false) => Answer::Bare(line.into()),
        (false, _) => Answer::Nothing,
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_reply_is_a_whole_line_of_text_that_is_no_echo() {
        let check = |bytes: &[u8], expected: Option<&str>| {
            assert_eq!(Question::new("READ?", "\n").reply(bytes).as_deref(), expected);
        };
        check(b"12.3 V\r\n", Some("12.3 V"));
        check(b"\r\n12.3 V\r", Some("12.3 V"));
        check(b"12.3", None);
        check(b"\r\n", None);
        check(b"READ?\n12.3\n", None);
        check(b"\xff\x81\n", None);
        check(b"1\x002\n", None);
    }

    #[test]
    fn an_answer_counts_where_it_names_what_was_measured() {
        let check = |line: &str, expected: fn(String) -> Answer| assert_eq!(judge(line), expected(line.into()));
        check("DC 12.3 V", Answer::Named);
        check("+9.90000000E+37;\"RES\"", Answer::Named);
        check("12.3", Answer::Bare);
        check("-1.5e-3", Answer::Bare);
        check("Error -113", |_| Answer::Nothing);
        check("OL", |_| Answer::Nothing);
        check("?>", |_| Answer::Nothing);
    }
}
