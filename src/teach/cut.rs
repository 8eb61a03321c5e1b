//! Where frames begin and end in bytes that nobody described: terminators, delimiters, or a length that comes again.
//!
//! The rule inside: a way to cut must hold for every capture, and bytes at the ends of a capture that make no whole
//! frame are left out.

use super::bitmap::{Bit, bits_of, is_set};
use super::guard;
use super::lex::{Kind, MANNERS, lex};
use crate::meter::decode::checksum::Checksum;
use crate::meter::decode::text_of;

/// Longest frame of fixed length that is looked for, in bytes.
const BYTES_MAX: usize = 40;
/// Frames that a capture must hold.
const FRAMES_MIN: usize = 3;

/// One way to cut all captures.
#[derive(Debug, Clone)]
pub struct Cut {
    /// What a profile writes as `frame`.
    pub frame: String,
    /// What a profile writes as `check`.
    pub check: Option<String>,
    /// What its frames carry.
    pub form: Form,
    /// What seals each line, within what the form leaves out at its end.
    pub sealed: Option<guard::Sealed>,
    /// The whole frames of each capture, without the ends of lines.
    pub frames: Vec<Vec<Vec<u8>>>,
}

impl Cut {
    /// The text of a frame; what is no UTF-8 is taken byte by byte, as decoding takes it.
    pub(super) fn text_of(&self, frame: &[u8]) -> Option<String> {
        let Form::Text { before, after } = self.form else {
            return None;
        };
        let body = frame.get(before..frame.len().checked_sub(after)?)?;
        Some(text_of(body).into_owned())
    }
}

/// A way to find a checksum in frames.
type Find<'a> = &'a dyn Fn(&[&[u8]]) -> Option<(Checksum, String)>;

/// What a frame carries.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Form {
    /// Text, between so many bytes at the beginning and at the end of a frame.
    Text {
        /// Bytes at the beginning that are no text.
        before: usize,
        /// Bytes at the end that are no text.
        after: usize,
    },
    /// Bits of frames of one length; those listed mark the frame or protect it.
    Bits {
        /// Bits that cannot belong to the display.
        taken: Vec<Bit>,
    },
}

/// The ways to cut these captures, empty where there is none.
pub fn cuts(captures: &[&[u8]]) -> Vec<Cut> {
    match delimited(captures).or_else(|| lines(captures)) {
        Some(cut) => vec![cut],
        None => fixed(captures),
    }
}

fn is_text(byte: u8) -> bool {
    0x20 <= byte && byte != 0x7f || byte == b'\t'
}

/// Bytes that no text has, together between two texts; those at the ends of a capture may be broken off.
fn control_runs(capture: &[u8]) -> Vec<&[u8]> {
    let mut runs: Vec<&[u8]> = capture
        .split(|byte| is_text(*byte))
        .filter(|run| !run.is_empty())
        .collect();
    if capture.first().is_some_and(|byte| !is_text(*byte)) {
        runs.remove(0);
    }
    if 1 < runs.len() && capture.last().is_some_and(|byte| !is_text(*byte)) {
        runs.pop();
    }
    runs
}

/// Most spellings of what stands between texts: an end of records, and an end of lines within them.
const RUNS_MAX: usize = 2;
/// Signs that may end a frame where no control character does, the commonest first; common practice, without a source.
const SIGNS: &[u8] = b";#$!@&|, ";

/// True of bytes that are signs but for a few; bytes of which some happen to be signs are no text.
fn is_textual(capture: &[u8]) -> bool {
    let sign = |byte: &&u8| (0x20..0x7f).contains(*byte) || b"\r\n\t".contains(byte);
    let plain = |text: &str| !text.chars().any(|c| c.is_control() && !"\r\n\t".contains(c));
    let mostly = 3 * capture.len() <= 4 * capture.iter().filter(sign).count();
    !capture.is_empty() && (mostly || std::str::from_utf8(capture).is_ok_and(plain))
}

/// What ends a line in all captures.
fn line_end(captures: &[&[u8]]) -> Option<Vec<u8>> {
    if !captures.iter().all(|capture| is_textual(capture)) {
        return None;
    }
    let mut runs: Vec<&[u8]> = captures.iter().flat_map(|capture| control_runs(capture)).collect();
    runs.sort_unstable();
    runs.dedup();
    if let Some(longest) = runs.iter().max_by_key(|run| run.len()) {
        let inside = runs
            .iter()
            .filter(|run| run != &longest)
            .all(|run| run.iter().all(|byte| b"\r\n".contains(byte)));
        return (runs.len() <= RUNS_MAX && longest.len() <= 8 && inside).then(|| longest.to_vec());
    }
    SIGNS.iter().map(|sign| vec![*sign]).find(|end| {
        captures.iter().all(|capture| {
            let frames = split_at(capture, end);
            let kinds = |frame: &Vec<u8>| -> Vec<Kind> {
                let words = lex(&text_of(frame), MANNERS[0]);
                words.iter().map(|word| word.kind).collect()
            };
            let digits = |frame: &Vec<u8>| frame.iter().any(u8::is_ascii_digit);
            FRAMES_MIN <= frames.len()
                && frames
                    .iter()
                    .all(|frame| digits(frame) && kinds(frame) == kinds(&frames[0]))
        })
    })
}

/// The whole lines of a capture. Listening may have begun in the middle of the first, which only counts where it is alone.
fn split_at(capture: &[u8], end: &[u8]) -> Vec<Vec<u8>> {
    let mut lines: Vec<Vec<u8>> = Vec::new();
    let mut start = 0;
    while let Some(at) = capture[start..].windows(end.len()).position(|window| window == end) {
        lines.push(capture[start..start + at].to_vec());
        start += at + end.len();
    }
    let first = usize::from(1 < lines.len());
    lines.into_iter().skip(first).filter(|line| !line.is_empty()).collect()
}

fn lines(captures: &[&[u8]]) -> Option<Cut> {
    let end = line_end(captures)?;
    let mut frames: Vec<Vec<Vec<u8>>> = captures.iter().map(|capture| split_at(capture, &end)).collect();
    if frames.iter().any(Vec::is_empty) {
        return None;
    }
    without_headers(&mut frames);
    let longest = frames.iter().flatten().map(Vec::len).max()?;
    let flat: Vec<&[u8]> = frames.iter().flatten().map(Vec::as_slice).collect();
    let sealed = guard::find_in_lines(&flat);
    let after = sealed
        .as_ref()
        .map_or(0, |sealed| sealed.digits + usize::from(sealed.mark.is_some()));
    Some(Cut {
        frame: format!(
            "Line(end: {:?}, bytes_max: {})",
            text_of(&end),
            (2 * longest).clamp(32, 4096)
        ),
        check: sealed.as_ref().and_then(|sealed| sealed.check.clone()),
        form: Form::Text { before: 0, after },
        sealed,
        frames,
    })
}

/// Leaves out lines that came in every capture beside others: they say nothing about a display.
fn without_headers(frames: &mut [Vec<Vec<u8>>]) {
    let Some((first, others)) = frames.split_first() else {
        return;
    };
    if others.is_empty() {
        return;
    }
    let mut headers: Vec<Vec<u8>> = first.clone();
    headers.retain(|line| others.iter().all(|frames| frames.contains(line)));
    let beside = |frames: &Vec<Vec<u8>>| frames.iter().any(|line| !headers.contains(line));
    if frames.iter().all(beside) {
        for frames in frames {
            frames.retain(|line| !headers.contains(line));
        }
    }
}

fn delimited(captures: &[&[u8]]) -> Option<Cut> {
    if !captures.iter().all(|capture| is_textual(capture)) {
        return None;
    }
    let (start, end) = (0x02, 0x03);
    (0..=2).find_map(|after| {
        let cut = |capture: &&[u8]| -> Option<Vec<Vec<u8>>> {
            let mut rest = &capture[capture.iter().position(|byte| *byte == start)?..];
            let mut frames = Vec::new();
            while let Some(stop) = rest.iter().position(|byte| *byte == end) {
                let text = rest.get(1..stop)?;
                if rest[0] != start || !text.iter().all(|byte| is_text(*byte) || b"\r\n".contains(byte)) {
                    return None;
                }
                let Some(frame) = rest.get(..=stop + after) else { break };
                frames.push(frame.to_vec());
                rest = &rest[stop + 1 + after..];
            }
            (FRAMES_MIN <= frames.len()).then_some(frames)
        };
        let frames: Option<Vec<_>> = captures.iter().map(cut).collect();
        let frames = frames?;
        let flat: Vec<&[u8]> = frames.iter().flatten().map(Vec::as_slice).collect();
        let longest = flat.iter().map(|frame| frame.len()).max()?;
        let check = if after == 0 {
            None
        } else {
            guard::find(&flat).or_else(|| guard::find_any_crc(&flat))
        };
        Some(Cut {
            frame: format!(
                "Delimited(start: \"\\x02\", end: \"\\x03\", after: {after}, bytes_max: {})",
                (2 * longest).clamp(32, 4096)
            ),
            check: check.map(|(_, text)| text),
            form: Form::Text {
                before: 1,
                after: 1 + after,
            },
            sealed: None,
            frames,
        })
    })
}

/// The length after which the bytes come again.
fn period(captures: &[&[u8]]) -> Option<usize> {
    let shortest = captures.iter().map(|capture| capture.len()).min()?;
    let score = |bytes: usize| {
        let (mut same, mut all) = (0usize, 0usize);
        for capture in captures {
            let pairs = capture.iter().zip(&capture[bytes..]);
            same += pairs.clone().filter(|(a, b)| a == b).count();
            all += pairs.count();
        }
        same * 1000 / all.max(1)
    };
    let scores: Vec<(usize, usize)> = (4..=BYTES_MAX)
        .filter(|bytes| (FRAMES_MIN + 1) * bytes <= shortest)
        .map(|bytes| (bytes, score(bytes)))
        .collect();
    let best = scores.iter().map(|(_, score)| *score).max()?;
    let found = scores.iter().find(|(_, score)| best <= score + 20);
    found.filter(|_| 600 <= best).map(|(bytes, _)| *bytes)
}

fn fixed(captures: &[&[u8]]) -> Vec<Cut> {
    let Some(bytes) = period(captures) else {
        return Vec::new();
    };
    let starts = aligned_starts(captures, bytes);
    let cut_at = |phase: usize| -> Vec<Vec<Vec<u8>>> {
        let chunks = |(capture, start): (&&[u8], &usize)| {
            let from = (start + phase) % bytes;
            capture[from..].chunks_exact(bytes).map(<[u8]>::to_vec).collect()
        };
        captures.iter().zip(&starts).map(chunks).collect()
    };
    let aligned: Vec<Vec<Vec<Vec<u8>>>> = (0..bytes).map(cut_at).collect();
    let indexed = aligned.iter().find(|frames| {
        frames.iter().flatten().all(|frame| {
            frame
                .iter()
                .enumerate()
                .all(|(at, byte)| usize::from(byte >> 4) == (at + 1) % 16)
        })
    });
    if let Some(frames) = indexed {
        return vec![by_index(frames.clone(), bytes)];
    }
    let by_marks = |find: Find<'_>| -> Vec<(usize, Cut)> {
        let cuts = aligned.iter().filter_map(|frames| by_mark(frames.clone(), bytes, find));
        cuts.collect()
    };
    let guarded = |marked: &[(usize, Cut)]| marked.iter().any(|(_, cut)| cut.check.is_some());
    let mut marked = by_marks(&guard::find);
    if !guarded(&marked) {
        marked = by_marks(&guard::find_any_crc);
    }
    let guarded = guarded(&marked);
    marked.retain(|(_, cut)| cut.check.is_some() == guarded);
    let longest = marked.iter().map(|(length, _)| *length).max().unwrap_or(0);
    marked.retain(|(length, _)| *length == longest);
    marked.into_iter().map(|(_, cut)| cut).collect()
}

/// Where each capture has to begin so that its frames lie like those of the captures before it: what is the same in all
/// of them counts, a byte that is not dark most.
fn aligned_starts(captures: &[&[u8]], bytes: usize) -> Vec<usize> {
    // a counter and its checksum run on while the display stands
    let runs_on = |capture: &[u8], at: usize| capture[at..].iter().step_by(bytes).any(|byte| *byte != capture[at]);
    let mut starts: Vec<usize> = Vec::new();
    for capture in captures {
        let score = |start: usize| -> u32 {
            (0..bytes)
                .map(|at| {
                    let byte = capture[start + at];
                    let mut before = captures.iter().zip(&starts);
                    let running = runs_on(capture, start + at);
                    if before.any(|(other, from)| runs_on(other, from + at) != running) {
                        return 0;
                    }
                    let mut others = captures.iter().zip(&starts).map(|(other, from)| other[from + at]);
                    let bits = others.clone().map(|other| (other ^ byte).count_zeros()).sum::<u32>();
                    // what never changed is worth more than what is the same by chance
                    match others.all(|other| other == byte) {
                        true if byte != 0 => bits + 150,
                        true => bits + 70,
                        false => bits + 50,
                    }
                })
                .sum()
        };
        // the first of the best, so that a first capture stays as it is
        let best = (0..bytes).rev().max_by_key(|start| score(*start)).unwrap_or(0);
        starts.push(best);
    }
    starts
}

/// Frames whose bytes carry their number in the upper half.
fn by_index(frames: Vec<Vec<Vec<u8>>>, bytes: usize) -> Cut {
    let sync = (0..bytes).map(|at| format!("\"{at}.7-4\": {:#x}", (at + 1) % 16));
    Cut {
        sealed: None,
        frame: format!(
            "Fixed(bytes: {bytes}, sync: {{{}}})",
            sync.collect::<Vec<_>>().join(", ")
        ),
        check: None,
        form: Form::Bits {
            taken: (0..bytes).flat_map(|at| [7, 6, 5, 4].map(|bit| (at, bit))).collect(),
        },
        frames,
    }
}

/// Frames that begin with bytes that never change; how many these are, and the cut.
fn by_mark(frames: Vec<Vec<Vec<u8>>>, bytes: usize, find: Find<'_>) -> Option<(usize, Cut)> {
    let flat: Vec<&[u8]> = frames.iter().flatten().map(Vec::as_slice).collect();
    let first = *flat.first()?;
    let constant = |at: usize| flat.iter().all(|frame| frame[at] == first[at]);
    let length = (0..bytes).take_while(|at| constant(*at) && first[*at] != 0).count();
    let last_is_mark = constant(bytes - 1) && first[bytes - 1] != 0;
    // where nothing changed yet, nobody knows where a frame begins
    let length = if length == bytes { 1 } else { length };
    // a mark that goes on around the end would begin one byte earlier
    if length == 0 || (last_is_mark && !flat.iter().all(|frame| frame == &first)) {
        return None;
    }
    let check = find(&flat);
    let mut taken = bits_of(0..length);
    if let Some((check, _)) = &check {
        taken.extend(bits_of(bytes - check.width()..bytes));
    }
    let sync = (0..length).map(|at| format!("\"{at}\": {:#x}", first[at]));
    let frame = format!(
        "Fixed(bytes: {bytes}, sync: {{{}}})",
        sync.collect::<Vec<_>>().join(", ")
    );
    Some((
        length,
        Cut {
            sealed: None,
            frame,
            check: check.map(|(_, text)| text),
            form: Form::Bits { taken },
            frames,
        },
    ))
}

/// Bits of a counter: the byte goes up by one from frame to frame of one display. Only those that were seen to change.
pub fn counter(frames: &[Vec<Vec<u8>>], byte: usize) -> Vec<Bit> {
    let counts = frames.iter().all(|frames| {
        frames
            .windows(2)
            .all(|pair| pair[1][byte] == pair[0][byte].wrapping_add(1))
    });
    if !counts {
        return Vec::new();
    }
    let first = &frames[0][0];
    let changed = |bit: &Bit| {
        frames
            .iter()
            .flatten()
            .any(|frame| is_set(frame, *bit) != is_set(first, *bit))
    };
    bits_of([byte]).into_iter().filter(changed).collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn lines_delimiters_and_lengths_are_found() {
        for (frame, expected) in [
            (&b"VAC;231.4;V;-\r\n"[..], "Line(end: \"\\r\\n\", bytes_max: 32)"),
            (b"231.4 V\r", "Line(end: \"\\r\", bytes_max: 32)"),
            (
                b"\x02UAC 231.4 V;\x03\x13",
                "Delimited(start: \"\\x02\", end: \"\\x03\", after: 1, bytes_max: 32)",
            ),
            (
                b"\xc3\x06\xbf\x4f\x7d\x00",
                "Fixed(bytes: 6, sync: {\"0\": 0xc3, \"1\": 0x6, \"2\": 0xbf, \"3\": 0x4f, \"4\": 0x7d})",
            ),
        ] {
            let stream = frame.repeat(6);
            let found = cuts(&[&stream]);
            assert_eq!(found[0].frame, expected);
        }
    }

    #[test]
    fn noise_is_cut_nowhere() {
        let mut state = 7u32;
        let noise: Vec<u8> = (0..400)
            .map(|_| {
                state = state.wrapping_mul(1_664_525).wrapping_add(1_013_904_223);
                state.to_be_bytes()[0]
            })
            .collect();
        assert!(cuts(&[&noise]).is_empty());
    }
}
