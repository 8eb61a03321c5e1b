//! The line settings of an unknown meter: which of the captures at the usual speeds has the most structure.
//!
//! The rule inside: a speed is proved only where it alone gives text or numbered bytes; a port that gives the same bytes
//! at every speed has no real line, and then the commonest speed is chosen and said to be unproved.

use super::cut::{Form, cuts};
use crate::meter::decode::{Line, Parity};

/// Structure of text or of numbered bytes, which noise does not have.
const PLAIN: u32 = 1000;

/// What was chosen.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Choice {
    /// The setting of the line that was chosen.
    pub line: Line,
    /// True where no other speed gives anything alike.
    pub proved: bool,
    /// Why, for a person.
    pub why: String,
}

/// A line of eight data bits without parity, as every speed is listened to first; seven bits with parity look like
/// eight bits of even or odd weight.
pub fn plain_line(baud: u32, dtr: bool, rts: bool) -> Line {
    Line {
        baud,
        data_bits: 8,
        parity: Parity::None,
        stop_bits: 1,
        dtr,
        rts,
    }
}

/// The parity that the highest bit of each byte is, where the other seven are text.
fn parity_of(bytes: &[u8]) -> Option<Parity> {
    let marked = bytes.iter().any(|byte| byte & 0x80 != 0);
    let weight = |odd: u32| bytes.iter().all(|byte| byte.count_ones() % 2 == odd);
    match (marked, weight(0), weight(1)) {
        (true, true, _) => Some(Parity::Even),
        (true, _, true) => Some(Parity::Odd),
        _ => None,
    }
}

/// The seven data bits of bytes that carry a parity bit.
pub fn without_parity(bytes: &[u8]) -> Vec<u8> {
    bytes.iter().map(|byte| byte & 0x7f).collect()
}

/// How much structure there is, 0 to 1000, and the parity that must be taken for it.
pub fn structure(bytes: &[u8]) -> (u32, Parity) {
    let of = |bytes: &[u8]| {
        let ways = cuts(&[bytes]);
        let plain = ways
            .iter()
            .any(|way| matches!(way.form, Form::Text { .. }) || way.frame.contains(".7-4"));
        match (plain, ways.is_empty()) {
            (true, _) => PLAIN,
            // a broken-up stream is full of dark bytes, a frame is not
            (false, false) => 500 - u32::try_from(500 * dark(bytes) / bytes.len().max(1)).expect("at most 500"),
            (false, true) => 0,
        }
    };
    let eight = of(bytes);
    match parity_of(bytes) {
        Some(parity) if eight < PLAIN && of(&without_parity(bytes)) == PLAIN => (PLAIN, parity),
        _ => (eight, Parity::None),
    }
}

fn dark(bytes: &[u8]) -> usize {
    bytes.iter().filter(|byte| **byte == 0).count()
}

/// Chooses among captures at several speeds, given the commonest first; `None` where none has any structure.
///
/// ```
/// use coreproof::teach::listen::{choose, plain_line};
/// let text = b"VAC;231.4;V;-\r\n".repeat(6);
/// let heard = [(plain_line(9600, true, false), vec![0; 90]), (plain_line(2400, true, false), text)];
/// let choice = choose(&heard).unwrap();
/// assert_eq!((choice.line.baud, choice.proved), (2400, true));
/// ```
pub fn choose(heard: &[(Line, Vec<u8>)]) -> Option<Choice> {
    let scored: Vec<(&Line, u32, Parity)> = heard
        .iter()
        .map(|(line, bytes)| (line, structure(bytes)))
        .map(|(line, (score, parity))| (line, score, parity))
        .collect();
    let best = scored
        .iter()
        .map(|(_, score, _)| *score)
        .max()
        .filter(|best| 0 < *best)?;
    // the commonest of the best
    let (line, _, parity) = scored.iter().find(|(_, score, _)| *score == best)?;
    let alike: Vec<u32> = scored
        .iter()
        .filter(|(_, score, _)| *score == best)
        .map(|(line, ..)| line.baud)
        .collect();
    let proved = alike.len() == 1 && best == PLAIN && 1 < heard.len();
    let line = Line {
        data_bits: if *parity == Parity::None { 8 } else { 7 },
        parity: *parity,
        ..(*line).clone()
    };
    let why = match (proved, alike.len()) {
        (true, _) => format!("only {} bits a second gives frames that can be read", line.baud),
        (false, 1) => format!(
            "{} bits a second gives the most regular bytes, which proves little",
            line.baud
        ),
        (false, count) => format!(
            "{count} speeds give bytes of the same kind, as a port without a real line does; {} is the commonest, and \
             nothing proves it",
            line.baud
        ),
    };
    Some(Choice { line, proved, why })
}

#[cfg(test)]
mod tests {
    use super::*;

    fn check(heard: &[(u32, Vec<u8>)], expected: &str) {
        let heard: Vec<_> = heard
            .iter()
            .map(|(baud, bytes)| (plain_line(*baud, true, false), bytes.clone()))
            .collect();
        let found = choose(&heard).map_or("nothing".into(), |choice| {
            let Line {
                baud,
                data_bits,
                parity,
                ..
            } = choice.line;
            format!("{baud} {data_bits} {parity:?} {}: {}", choice.proved, choice.why)
        });
        assert_eq!(found, expected);
    }

    #[test]
    fn the_speed_with_structure_is_chosen_and_said_to_be_proved_or_not() {
        let text = b"VAC;231.4;V;-\r\n".repeat(6);
        let noise: Vec<u8> = (0..90u32)
            .map(|n| (n * n * 31 + n / 3).to_le_bytes()[0] | 0x80)
            .collect();
        check(
            &[(9600, noise.clone()), (2400, text.clone())],
            "2400 8 None true: only 2400 bits a second gives frames that can be read",
        );
        check(
            &[(9600, text.clone()), (2400, text.clone())],
            "9600 8 None false: 2 speeds give bytes of the same kind, as a port without a real line does; 9600 is the \
             commonest, and nothing proves it",
        );
        let frames = b"\xab\x01\x11\x04\xd2\x00\x07\x66".repeat(8);
        check(
            &[(9600, noise.clone()), (19_200, frames)],
            "19200 8 None false: 19200 bits a second gives the most regular bytes, which proves little",
        );
        check(&[(9600, Vec::new())], "nothing");
        for (odd, expected) in [(1, "Odd"), (0, "Even")] {
            let with_parity = text.iter().map(|byte| match byte.count_ones() % 2 == odd {
                true => *byte,
                false => byte | 0x80,
            });
            let heard = [(9600, noise.clone()), (2400, with_parity.collect())];
            check(
                &heard,
                &format!("2400 7 {expected} true: only 2400 bits a second gives frames that can be read"),
            );
        }
    }
}
