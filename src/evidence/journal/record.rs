//! A whole journal at once: strict reading, its format, its last link.
//!
//! Rule: a newer format is named as such before anything else in the file is judged.

use jiff::Timestamp;
use serde::Serialize;
use serde::de::DeserializeOwned;

use super::error::{Damage, Error, plain};
use super::format::{FILE_BYTES_MAX, FORMAT, FORMATS, LINE_BYTES_MAX};
use super::hash::Hash;
use super::line::{self, Line};

/// Reads a complete record: every line whole, in the chain and written the one way a line is written.
///
/// `E` must serialise to the same text every time, or its own lines are refused: no hash maps, no binary floats.
///
/// # Errors
/// [`Error::NewerFormat`], [`Error::Empty`], [`Error::FileTooLarge`], [`Error::LineTooLarge`], and [`Error::Damaged`]
/// with the first line that is wrong. A change of the last line that leaves it well written is not seen here: compare
/// [`chain_head`], or check the signature over the bytes.
pub fn parse<E>(bytes: &[u8]) -> Result<Vec<Line<E>>, Error>
where
    E: Serialize + DeserializeOwned,
{
    if bytes.len() as u64 > FILE_BYTES_MAX {
        return Err(Error::FileTooLarge);
    }
    refuse_newer(bytes)?;
    let mut lines = Vec::new();
    let mut prev = Hash::ZERO;
    for (n, text) in (0..).zip(bytes.split_inclusive(|byte| *byte == b'\n')) {
        let damaged = |what| Error::Damaged { line: n + 1, what };
        if text.len() > LINE_BYTES_MAX {
            return Err(Error::LineTooLarge { line: n + 1 });
        }
        let text = text.strip_suffix(b"\n").ok_or_else(|| damaged(Damage::NoLineFeed))?;
        lines.push(line::decode(text, n, &prev).map_err(damaged)?);
        prev = Hash::of(text);
    }
    if lines.is_empty() { Err(Error::Empty) } else { Ok(lines) }
}

/// SHA-256 of the last complete line without its line feed, which is what `prev` of the next line would be;
/// [`Hash::ZERO`] where there is none. It stands for every byte before it.
#[must_use]
pub fn chain_head(bytes: &[u8]) -> Hash {
    let Some(end) = bytes.iter().rposition(|byte| *byte == b'\n') else {
        return Hash::ZERO;
    };
    let last = bytes[..end].rsplit(|byte| *byte == b'\n').next().unwrap_or_default();
    Hash::of(last)
}

/// `event.opened.format` of the first line, read loosely so that it is found in formats this program does not know.
/// `None` where there is none to be found.
#[must_use]
pub fn format_of(bytes: &[u8]) -> Option<String> {
    let first = bytes.split(|byte| *byte == b'\n').next()?;
    if first.len() >= LINE_BYTES_MAX {
        return None;
    }
    let value: serde_json::Value = serde_json::from_slice(first).ok()?;
    Some(value.pointer("/event/opened/format")?.as_str()?.to_owned())
}

fn refuse_newer(bytes: &[u8]) -> Result<(), Error> {
    let Some(found) = format_of(bytes) else {
        return Ok(());
    };
    match version(&found) {
        None => Err(Error::Damaged {
            line: 1,
            what: Damage::NotAVersion { found: plain(&found) },
        }),
        Some(theirs) if Some(theirs) > version(FORMAT) => Err(Error::NewerFormat { found }),
        Some(_) if !FORMATS.contains(&&*found) => Err(Error::Damaged {
            line: 1,
            what: Damage::NoSuchFormat { found: plain(&found) },
        }),
        Some(_) => Ok(()),
    }
}

fn version(text: &str) -> Option<(u32, u32)> {
    let number = |digits: &str| {
        let only_digits = !digits.is_empty() && digits.bytes().all(|byte| byte.is_ascii_digit());
        only_digits.then(|| digits.parse().ok()).flatten()
    };
    let (major, minor) = text.split_once('.')?;
    Some((number(major)?, number(minor)?))
}

/// A line whose time is earlier than that of the line before: the clock was set back, or not trusted yet.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct StepBack {
    /// `n` of the later line.
    pub n: u64,
    /// Time of the line before.
    pub before: Timestamp,
    /// Earlier time of line `n`.
    pub at: Timestamp,
}

/// Every place where the clock went back. Not an error: clocks are set right in the middle of a job.
#[must_use]
pub fn clock_steps_back<E>(lines: &[Line<E>]) -> Vec<StepBack> {
    let pairs = lines.windows(2).map(|pair| StepBack {
        n: pair[1].n,
        before: pair[0].at,
        at: pair[1].at,
    });
    pairs.filter(|step| step.at < step.before).collect()
}

#[cfg(test)]
mod tests {
    use super::super::sample::{self, Event};
    use super::*;
    use proptest::prelude::*;

    fn sample_record() -> Vec<u8> {
        sample::record(&[
            sample::opened(),
            sample::short(1),
            Event::Remark("tug \"test\"\n\u{7f}".to_owned()),
            Event::Sealed,
        ])
    }

    fn refusal(bytes: &[u8]) -> String {
        parse::<Event>(bytes).expect_err("refused").to_string()
    }

    #[test]
    fn a_record_reads_back_as_it_was_written() {
        let lines = parse::<Event>(&sample_record()).expect("good");
        let numbers: Vec<u64> = lines.iter().map(|line| line.n).collect();
        assert_eq!(numbers, [0, 1, 2, 3]);
        assert_eq!(lines[1].event, sample::short(1));
        assert_eq!(lines[3].at, sample::at(3));
        assert_eq!(clock_steps_back(&lines), []);
    }

    /// The record is a literal; its digests came from `sha256sum` (GNU coreutils), not from this program.
    #[test]
    fn a_record_chained_by_sha256sum_is_good() {
        let record = concat!(
            r#"{"n":0,"prev":"0000000000000000000000000000000000000000000000000000000000000000","at":"2026-11-25T07:16:21.123Z","event":{"opened":{"format":"1.0","place":"sail loft"}}}"#,
            "\n",
            r#"{"n":1,"prev":"d38e7a40d29e90b02eb38ff512de529c282bf15422750675601e855446865601","at":"2026-11-25T07:16:20.000Z","event":"sealed"}"#,
            "\n"
        );
        let lines = parse::<Event>(record.as_bytes()).expect("good");
        assert_eq!(
            chain_head(record.as_bytes()).to_string(),
            "e4e43ffaa95cfc0edee5c4d2636eb3ccd581328acba6b4c4b26a189423c63a55"
        );
        let step = StepBack {
            n: 1,
            before: lines[0].at,
            at: lines[1].at,
        };
        assert_eq!(clock_steps_back(&lines), [step]);
    }

    #[test]
    fn any_byte_edited_is_noticed() {
        let record = sample_record();
        let head = chain_head(&record);
        let last_line = record[..record.len() - 1]
            .iter()
            .rposition(|byte| *byte == b'\n')
            .expect("lines")
            + 1;
        for place in 0..record.len() {
            let old = record[place];
            for new in [
                old ^ 1,
                old ^ 0x20,
                old.wrapping_add(1),
                b'0',
                b' ',
                b'"',
                b'\n',
                0,
                0xff,
            ] {
                let mut edited = record.clone();
                edited[place] = new;
                let refused = parse::<Event>(&edited).is_err();
                // a value in the last line may be changed and still be well written; then the chain head differs
                let noticed = refused || (place >= last_line && chain_head(&edited) != head);
                assert!(new == old || noticed, "byte {place} from {old} to {new}");
            }
        }
    }

    #[test]
    fn any_byte_taken_out_or_doubled_is_noticed() {
        let record = sample_record();
        for place in 0..record.len() {
            let mut shorter = record.clone();
            let byte = shorter.remove(place);
            let mut longer = record.clone();
            longer.insert(place, byte);
            for edited in [shorter, longer] {
                assert!(
                    parse::<Event>(&edited).is_err() || chain_head(&edited) != chain_head(&record),
                    "byte {place}"
                );
            }
        }
    }

    #[test]
    fn lines_taken_out_swapped_or_doubled_are_damage() {
        let record = sample_record();
        let lines: Vec<&[u8]> = record.split_inclusive(|byte| *byte == b'\n').collect();
        let check = |order: &[usize], text: &str| {
            let bytes: Vec<u8> = order.iter().flat_map(|n| lines[*n].to_vec()).collect();
            assert_eq!(refusal(&bytes), text);
        };
        check(&[1, 2, 3], "line 1 is damaged: `n` is 1 where 0 was due");
        check(&[0, 2, 3], "line 2 is damaged: `n` is 2 where 1 was due");
        check(&[0, 1, 1, 2, 3], "line 3 is damaged: `n` is 1 where 2 was due");
        check(&[0, 2, 1, 3], "line 2 is damaged: `n` is 2 where 1 was due");
    }

    #[test]
    fn a_changed_value_is_named_at_the_link_it_breaks() {
        let record = String::from_utf8(sample_record()).expect("UTF-8");
        let edited = record.replace("0.12 Ω", "0.13 Ω");
        assert_eq!(
            refusal(edited.as_bytes()),
            "line 3 is damaged: `prev` is not the SHA-256 of the line before: one of the two lines was changed"
        );
    }

    #[test]
    fn incomplete_and_empty_records_are_refused() {
        let record = sample_record();
        assert_eq!(
            refusal(&record[..record.len() - 1]),
            "line 4 is damaged: it does not end in a line feed"
        );
        assert_eq!(refusal(b""), "the journal holds no complete line");
        assert_eq!(
            refusal(b"\n"),
            "line 1 is damaged: it is not a journal line: EOF while parsing a value (byte 0)"
        );
        let blank = [&record[..], b"\n"].concat();
        assert_eq!(
            refusal(&blank),
            "line 5 is damaged: it is not a journal line: EOF while parsing a value (byte 0)"
        );
    }

    #[test]
    fn caps_hold() {
        assert_eq!(
            refusal(&vec![b' '; LINE_BYTES_MAX + 1]),
            "line 1 is longer than 1048576 bytes"
        );
        // compared by length alone, so the text does not matter
        let over = vec![0; usize::try_from(FILE_BYTES_MAX).expect("fits") + 1];
        assert_eq!(refusal(&over), "the journal is longer than 67108864 bytes");
    }

    #[test]
    fn a_newer_format_is_refused_before_its_contents_are_judged() {
        let opened = |format: &str| format!(r#"{{"m":[],"event":{{"opened":{{"format":"{format}"}}}}}}{}"#, "\n");
        let check = |format: &str, text: &str| assert_eq!(refusal(opened(format).as_bytes()), text);
        check("2.0", "the journal is in format `2.0`; this program reads up to `1.1`");
        check("1.2", "the journal is in format `1.2`; this program reads up to `1.1`");
        check(
            "10.0",
            "the journal is in format `10.0`; this program reads up to `1.1`",
        );
        check("2", "line 1 is damaged: `format` is `2`, not a version like `1.0`");
        check(
            "+1.0",
            "line 1 is damaged: `format` is `+1.0`, not a version like `1.0`",
        );
        let known = "line 1 is damaged: it is not a journal line: unknown field `m`, expected one of `n`, `prev`, `at`, \
            `event` (byte 4)";
        check("1.1", known);
        check("1.0", known);
        for never in ["0.9", "1.00", "01.1"] {
            check(never, &format!("line 1 is damaged: there was never a format `{never}`"));
        }
    }

    #[test]
    fn the_format_is_dug_out_of_the_first_line_only() {
        let check = |bytes: &[u8], format: Option<&str>| assert_eq!(format_of(bytes).as_deref(), format);
        check(&sample_record(), Some("1.0"));
        check(br#"{"event":{"opened":{"format":"7.3"}}}"#, Some("7.3"));
        check(br#"{"event":{"opened":{"format":7}}}"#, None);
        check(b"{}\n{\"event\":{\"opened\":{\"format\":\"7.3\"}}}\n", None);
        check(b"", None);
        check(b"\xff\n", None);
    }

    #[test]
    fn the_chain_head_is_the_digest_of_the_last_complete_line() {
        let check = |bytes: &[u8], head: Hash| assert_eq!(chain_head(bytes), head);
        check(b"", Hash::ZERO);
        check(b"torn", Hash::ZERO);
        check(b"abc\n", Hash::of(b"abc"));
        check(b"first\nabc\ntorn", Hash::of(b"abc"));
        check(b"\n", Hash::of(b""));
    }

    proptest! {
        #![proptest_config(ProptestConfig { failure_persistence: None, ..ProptestConfig::default() })]

        #[test]
        fn no_bytes_make_reading_panic(bytes in prop::collection::vec(any::<u8>(), 0..400)) {
            prop_assert!(parse::<Event>(&bytes).is_err());
        }

        #[test]
        fn what_is_read_from_a_mutated_record_is_exactly_its_bytes(
            edits in prop::collection::vec((any::<prop::sample::Index>(), 0..3_u8, any::<u8>()), 1..5),
        ) {
            let mut bytes = sample_record();
            for (index, kind, byte) in edits {
                let place = index.index(bytes.len());
                match kind {
                    0 => bytes[place] = byte,
                    1 => bytes.insert(place, byte),
                    _ => drop(bytes.remove(place)),
                }
            }
            if let Ok(lines) = parse::<Event>(&bytes) {
                let mut again = Vec::new();
                for line in &lines {
                    again.extend(line::encode(line.n, &line.prev, line.at, &line.event).expect("written"));
                }
                prop_assert_eq!(again, bytes);
            }
        }

        #[test]
        fn any_text_comes_back(texts in prop::collection::vec(any::<String>(), 0..6)) {
            let events: Vec<Event> = std::iter::once(sample::opened()).chain(texts.into_iter().map(Event::Remark)).collect();
            let lines = parse::<Event>(&sample::record(&events)).expect("good");
            let read: Vec<Event> = lines.into_iter().map(|line| line.event).collect();
            prop_assert_eq!(read, events);
        }
    }
}
