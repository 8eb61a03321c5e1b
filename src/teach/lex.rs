//! A text as words: numbers, time stamps, bars and other words, each with what separates it from the one before.
//!
//! The rule inside: nothing is lost; what separates words and the words themselves, joined, are the text again but for
//! blanks at its end.

/// What a word looks like.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Kind {
    /// Digits with sign, point and exponent.
    Number,
    /// Digits joined as dates and times are.
    Stamp,
    /// Three or more of the signs that bars are drawn with.
    Bar,
    /// Anything else.
    Other,
}

/// A word of a text.
#[derive(Debug, Clone, PartialEq, Eq)]
pub(super) struct Word {
    /// What stands between the word before and this one.
    pub(super) gap: String,
    pub(super) text: String,
    pub(super) kind: Kind,
}

/// How numbers are written.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) struct Manner {
    /// A comma stands for the point.
    pub(super) comma: bool,
    /// Blanks may stand between the sign and the digits.
    pub(super) apart: bool,
}

/// Every manner, the plainest first.
pub(super) const MANNERS: [Manner; 4] = [
    Manner {
        comma: false,
        apart: false,
    },
    Manner {
        comma: true,
        apart: false,
    },
    Manner {
        comma: false,
        apart: true,
    },
    Manner {
        comma: true,
        apart: true,
    },
];

const SEPARATORS: &str = " ;,:\t*=|/\r\n\"'()[]<";
const BARS: &str = "|=*#-_.<>+";

/// The words of a text; blanks at its end say nothing.
pub(super) fn lex(text: &str, manner: Manner) -> Vec<Word> {
    let text = text.trim_end_matches(' ');
    let (mut words, mut gap, mut at) = (Vec::<Word>::new(), String::new(), 0);
    while at < text.len() {
        let rest = &text[at..];
        let glued = gap.is_empty() && words.last().is_some_and(|last| last.kind == Kind::Number);
        let (length, kind) = match () {
            () if bar(rest) != 0 => (bar(rest), Kind::Bar),
            () if stamp(rest) != 0 => (stamp(rest), Kind::Stamp),
            () if number(rest, manner, glued) != 0 => (number(rest, manner, glued), Kind::Number),
            () => (0, Kind::Other),
        };
        if length == 0 {
            let c = rest.chars().next().expect("there is more");
            let separates = SEPARATORS.contains(c);
            match words.last_mut() {
                _ if separates => gap.push(c),
                Some(last) if gap.is_empty() && last.kind == Kind::Other => last.text.push(c),
                _ => words.push(Word {
                    gap: std::mem::take(&mut gap),
                    text: c.into(),
                    kind,
                }),
            }
            at += c.len_utf8();
        } else {
            let text = rest[..length].to_owned();
            words.push(Word {
                gap: std::mem::take(&mut gap),
                text,
                kind,
            });
            at += length;
        }
    }
    // a separator at the end is of the wording
    if !gap.is_empty() {
        words.push(Word {
            gap,
            text: String::new(),
            kind: Kind::Other,
        });
    }
    words
}

fn run(bytes: &[u8], of: impl Fn(u8) -> bool) -> usize {
    bytes.iter().take_while(|byte| of(**byte)).count()
}

/// Length of the bar that a text begins with, 0 for none.
fn bar(text: &str) -> usize {
    let length = run(text.as_bytes(), |byte| BARS.contains(char::from(byte)));
    if 3 <= length { length } else { 0 }
}

/// Length of the time or date that a text begins with, 0 for none.
fn stamp(text: &str) -> usize {
    let bytes = text.as_bytes();
    let length = run(bytes, |byte| byte.is_ascii_digit() || b":-/.".contains(&byte));
    let whole = text[..length].trim_end_matches(|c: char| !c.is_ascii_digit());
    let parts: Vec<&str> = whole.split([':', '-', '/']).collect();
    let joined = parts
        .iter()
        .rev()
        .skip(1)
        .all(|part| (1..=4).contains(&part.len()) && part.bytes().all(|b| b.is_ascii_digit()));
    let two = parts.len() == 2 && parts.iter().all(|part| part.len() == 2) && whole.contains(':');
    if joined && (3 <= parts.len() || two) {
        whole.len()
    } else {
        0
    }
}

/// Length of the number that a text begins with, 0 for none.
fn number(text: &str, manner: Manner, glued: bool) -> usize {
    let bytes = text.as_bytes();
    let digits = |at: usize| bytes.get(at..).map_or(0, |rest| run(rest, |b| b.is_ascii_digit()));
    let mut at = usize::from(bytes.first() == Some(&b'>'));
    // a sign that follows a number directly joins the two, it is not of the second
    if bytes.get(at).is_some_and(|b| b"+-".contains(b)) && !glued {
        at += 1;
        if manner.apart {
            at += run(&bytes[at..], |b| b == b' ');
        }
    }
    let whole = digits(at);
    if whole == 0 {
        return 0;
    }
    at += whole;
    let point = if manner.comma { b',' } else { b'.' };
    if bytes.get(at) == Some(&point) && digits(at + 1) != 0 {
        at += 1 + digits(at + 1);
    }
    if bytes.get(at).is_some_and(|b| b"eE".contains(b)) {
        let sign = usize::from(bytes.get(at + 1).is_some_and(|b| b"+-".contains(b)));
        let exponent = digits(at + 1 + sign);
        let ends = !bytes.get(at + 1 + sign + exponent).is_some_and(u8::is_ascii_digit);
        if exponent != 0 && ends {
            at += 1 + sign + exponent;
        }
    }
    at
}

/// Words with what separates them from each other; what stands before the first is left out.
pub(super) fn joined(words: &[Word]) -> String {
    let mut text = String::new();
    for (n, word) in words.iter().enumerate() {
        if n != 0 {
            text.push_str(&word.gap);
        }
        text.push_str(&word.text);
    }
    text
}

#[cfg(test)]
mod tests {
    use super::*;

    fn check(text: &str, manner: Manner, expected: &str) {
        let shown: Vec<String> = lex(text, manner)
            .iter()
            .map(|word| {
                let kind = match word.kind {
                    Kind::Number => "n",
                    Kind::Stamp => "t",
                    Kind::Bar => "b",
                    Kind::Other => "w",
                };
                format!("{kind}{}", word.text)
            })
            .collect();
        assert_eq!(shown.join("|"), expected, "{text}");
    }

    #[test]
    fn words_numbers_stamps_and_bars_are_told_apart() {
        let plain = MANNERS[0];
        check("DC-12.34V", plain, "wDC|n-12.34|wV");
        check("10:15:22.3 VAC;230.1;V", plain, "t10:15:22.3|wVAC|n230.1|wV");
        check(
            "2026-03-01T10:15:22Z 4.7kOhm",
            plain,
            "t2026-03-01|wT|t10:15:22|wZ|n4.7|wkOhm",
        );
        check("R ||||||..... 12.3", plain, "wR|b||||||.....|n12.3");
        check("+1.5E+01V >299 INS500", plain, "n+1.5E+01|wV|n>299|wINS|n500");
        check("1,5;2", MANNERS[1], "n1,5|n2");
        check("1,5;2", plain, "n1|n5|n2");
        check("- 12.3 V", MANNERS[2], "n- 12.3|wV");
        check("- 12.3 V", plain, "w-|n12.3|wV");
        check("O.L MOhm", plain, "wO.L|wMOhm");
    }
}
