//! One line: bytes to value and back, and its place in the chain.
//!
//! Rule: there is one way to write a line. What is read is written again and must give the same bytes; what is to be
//! written is read first and must give the same bytes, so a line that could not be read is never written.

use jiff::Timestamp;
use serde::de::DeserializeOwned;
use serde::{Deserialize, Serialize};

use super::error::{Damage, Error, plain};
use super::format::LINE_BYTES_MAX;
use super::hash::Hash;

/// Bytes in `2026-11-25T07:16:21.123Z`; a year outside 0000 to 9999 makes it longer.
const TIME_BYTES: usize = 24;

/// One event as it stands in the journal.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Line<E> {
    /// Place in the journal, from 0.
    pub n: u64,
    /// SHA-256 of the line before, [`Hash::ZERO`] for line 0.
    pub prev: Hash,
    /// When the event was written down, to the millisecond. May be earlier than the line before if the clock was set.
    pub at: Timestamp,
    /// What happened.
    pub event: E,
}

#[derive(Serialize)]
struct Written<'a, E> {
    n: u64,
    prev: &'a Hash,
    at: String,
    event: &'a E,
}

#[derive(Deserialize)]
#[serde(deny_unknown_fields, bound = "E: DeserializeOwned")]
struct Read<E> {
    n: u64,
    prev: Hash,
    at: String,
    event: E,
}

/// The bytes of a line, with its line feed. Digits of `at` beyond milliseconds are cut off.
///
/// # Errors
/// [`Error::LineTooLarge`], and [`Error::Unwritable`] where reading the line would not give the same event.
pub(super) fn encode<E>(n: u64, prev: &Hash, at: Timestamp, event: &E) -> Result<Vec<u8>, Error>
where
    E: Serialize + DeserializeOwned,
{
    let unwritable = |reason: String| Error::Unwritable { reason };
    let mut bytes = write(n, prev, at, event).map_err(|error| unwritable(plain(&error.to_string())))?;
    if bytes.len() + 1 > LINE_BYTES_MAX {
        return Err(Error::LineTooLarge { line: n + 1 });
    }
    decode::<E>(&bytes, n, prev).map_err(|damage| unwritable(damage.to_string()))?;
    bytes.push(b'\n');
    Ok(bytes)
}

/// The line in `bytes` (without its line feed), which must be line `n` after a line with digest `prev`.
pub(super) fn decode<E>(bytes: &[u8], n: u64, prev: &Hash) -> Result<Line<E>, Damage>
where
    E: Serialize + DeserializeOwned,
{
    let read: Read<E> = serde_json::from_slice(bytes).map_err(|error| not_a_line(&error))?;
    let not_a_time = || Damage::NotATime { found: plain(&read.at) };
    let at: Timestamp = read.at.parse().map_err(|_| not_a_time())?;
    if read.at.len() != TIME_BYTES || read.at != format!("{at:.3}") {
        return Err(not_a_time());
    }
    if read.n != n {
        return Err(Damage::OutOfOrder {
            found: read.n,
            expected: n,
        });
    }
    if read.prev != *prev {
        return Err(Damage::ChainBroken);
    }
    let again = write(n, prev, at, &read.event).map_err(|error| not_a_line(&error))?;
    if again != bytes {
        let same = again
            .iter()
            .zip(bytes)
            .take_while(|(ours, theirs)| ours == theirs)
            .count();
        return Err(Damage::NotCanonical { byte: same + 1 });
    }
    Ok(Line {
        n,
        prev: read.prev,
        at,
        event: read.event,
    })
}

fn write<E: Serialize>(n: u64, prev: &Hash, at: Timestamp, event: &E) -> Result<Vec<u8>, serde_json::Error> {
    serde_json::to_vec(&Written {
        n,
        prev,
        at: format!("{at:.3}"),
        event,
    })
}

/// Its own text says "at line 1", which is not the number of the line in the journal.
fn not_a_line(error: &serde_json::Error) -> Damage {
    let text = error.to_string();
    let fact = text.rsplit_once(" at line ").map_or(text.as_str(), |(fact, _)| fact);
    Damage::NotALine {
        reason: format!("{} (byte {})", plain(fact), error.column()),
    }
}

#[cfg(test)]
mod tests {
    use super::super::sample::{self, Event};
    use super::*;
    use std::collections::BTreeMap;

    fn line(n: &str, prev: &str, at: &str, event: &str) -> String {
        format!(r#"{{"n":{n},"prev":"{prev}","at":"{at}","event":{event}}}"#)
    }

    fn damage(bytes: &str) -> String {
        decode::<Event>(bytes.as_bytes(), 0, &Hash::ZERO)
            .expect_err(bytes)
            .to_string()
    }

    #[test]
    fn a_line_is_written_as_specified() {
        let event = Event::Reading {
            step: "continuity".to_owned(),
            digits: "0.42".to_owned(),
        };
        let bytes = encode(3, &Hash::of(b"before"), sample::at(1), &event).expect("written");
        assert_eq!(
            String::from_utf8(bytes).expect("UTF-8"),
            format!(
                "{{\"n\":3,\"prev\":\"{}\",\"at\":\"2026-11-25T07:16:22.123Z\",\"event\":\
                 {{\"reading\":{{\"step\":\"continuity\",\"digits\":\"0.42\"}}}}}}\n",
                Hash::of(b"before")
            )
        );
    }

    #[test]
    fn time_beyond_milliseconds_is_cut_off() {
        let at = Timestamp::new(1_700_000_000, 999_999_999).expect("in range");
        let bytes = encode(0, &Hash::ZERO, at, &Event::Sealed).expect("written");
        let line = decode::<Event>(&bytes[..bytes.len() - 1], 0, &Hash::ZERO).expect("read");
        assert_eq!(line.at, Timestamp::new(1_700_000_000, 999_000_000).expect("in range"));
    }

    #[test]
    fn one_way_of_writing_is_accepted_and_others_are_damage() {
        let zero = Hash::ZERO.to_string();
        let time = "2026-11-25T07:16:21.123Z";
        let good = line("0", &zero, time, r#""sealed""#);
        decode::<Event>(good.as_bytes(), 0, &Hash::ZERO).expect("good");
        let check = |bytes: &str, text: &str| assert_eq!(damage(bytes), text, "{bytes}");

        check("", "it is not a journal line: EOF while parsing a value (byte 0)");
        check(
            &format!(" {good}"),
            "it is not written the one way a line is written, from byte 1 on",
        );
        check(
            &format!("{good}\r"),
            "it is not written the one way a line is written, from byte 131 on",
        );
        check(
            &format!("{good}\0"),
            "it is not a journal line: trailing characters (byte 131)",
        );
        check(
            &good.replace("\"n\":0", "\"n\":0,\"n\":0"),
            "it is not a journal line: duplicate field `n` (byte 10)",
        );
        check(
            &good.replace("\"n\":0", "\"n\":0,\"m\":0"),
            "it is not a journal line: unknown field `m`, expected one of `n`, `prev`, `at`, `event` (byte 10)",
        );
        check(&line("1", &zero, time, r#""sealed""#), "`n` is 1 where 0 was due");
        check(
            &line("-0", &zero, time, r#""sealed""#),
            "it is not a journal line: invalid type: floating point `-0.0`, expected u64 (byte 7)",
        );
        check(
            &line("0", &zero.replace('0', "f"), time, r#""sealed""#),
            "`prev` is not the SHA-256 of the line before: one of the two lines was changed",
        );
        check(
            &line("0", &zero[1..], time, r#""sealed""#),
            "it is not a journal line: expected 64 lower-case hex digits (byte 79)",
        );
        check(
            &format!(r#"{{"prev":"{zero}","n":0,"at":"{time}","event":"sealed"}}"#),
            "it is not written the one way a line is written, from byte 3 on",
        );
        check(
            &line("0", &zero, time, r#""s\u0065aled""#),
            "it is not written the one way a line is written, from byte 124 on",
        );
        check(
            &line("0", &zero, time, r#""opne\u001bd""#),
            "it is not a journal line: unknown variant `opne\\u{1b}d`, expected one of `opened`, `reading`, \
             `remark`, `sealed` (byte 134)",
        );
    }

    #[test]
    fn times_have_one_form() {
        let check = |at: &str| {
            let text = line("0", &Hash::ZERO.to_string(), at, r#""sealed""#);
            let expected = format!("`at` is `{at}`, not a time like `2026-11-25T07:16:21.123Z`");
            assert_eq!(damage(&text), expected);
        };
        check("");
        check("yesterday");
        check("2026-11-25T07:16:21Z");
        check("2026-11-25T07:16:21.12Z");
        check("2026-11-25T07:16:21.1234Z");
        check("2026-11-25T07:16:21.123+00:00");
        check("2026-11-25T07:16:21.123z");
        check("2026-11-25 07:16:21.123Z");
        check("2026-11-25T07:16:60.123Z");
        check("2026-02-30T07:16:21.123Z");
        check("-000001-11-25T07:16:21.123Z");
    }

    #[test]
    fn what_would_not_read_back_is_not_written() {
        let year_minus_one = Timestamp::from_second(-62_198_755_200).expect("in range");
        let text = encode(0, &Hash::ZERO, year_minus_one, &Event::Sealed)
            .expect_err("refused")
            .to_string();
        assert!(
            text.starts_with("the event cannot be written as a line that reads back the same: `at` is `-0000"),
            "{text}"
        );
        let not_a_number = encode(0, &Hash::ZERO, sample::at(0), &f64::NAN)
            .expect_err("refused")
            .to_string();
        assert_eq!(
            not_a_number,
            "the event cannot be written as a line that reads back the same: it is not a journal line: \
             invalid type: null, expected f64 (byte 125)"
        );
        let pairs: BTreeMap<(u8, u8), u8> = [((0, 0), 0)].into();
        let not_json = encode(0, &Hash::ZERO, sample::at(0), &pairs)
            .expect_err("refused")
            .to_string();
        assert_eq!(
            not_json,
            "the event cannot be written as a line that reads back the same: key must be a string"
        );
    }

    #[test]
    fn a_line_of_one_mebibyte_is_the_longest() {
        let remark = |bytes: usize| Event::Remark("x".repeat(bytes));
        let spare = LINE_BYTES_MAX
            - encode(0, &Hash::ZERO, sample::at(0), &remark(0))
                .expect("written")
                .len();
        let longest = encode(0, &Hash::ZERO, sample::at(0), &remark(spare)).expect("written");
        assert_eq!(longest.len(), LINE_BYTES_MAX);
        let error = encode(0, &Hash::ZERO, sample::at(0), &remark(spare + 1)).expect_err("refused");
        assert_eq!(error.to_string(), "line 1 is longer than 1048576 bytes");
    }
}
