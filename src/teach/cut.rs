//! Where frames begin and end in bytes that nobody described: terminators, delimiters, or a length that comes again.
//!
//! The rule inside: a way to cut must hold for every capture, and bytes at the ends of a capture that make no whole
//! frame are left out.

use super::bitmap::{Bit, bits_of, is_set};
use super::guard;

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
    (0x20..0x7f).contains(&byte) || byte == b'\t'
}

fn lines(captures: &[&[u8]]) -> Option<Cut> {
    let ends: [(&[u8], &str); 3] = [(b"\r\n", "\\r\\n"), (b"\n", "\\n"), (b"\r", "\\r")];
    let cut_with = |end: &[u8], capture: &[u8]| -> Option<Vec<Vec<u8>>> {
        let mut lines: Vec<Vec<u8>> = Vec::new();
        let mut start = 0;
        while let Some(at) = capture[start..].windows(end.len()).position(|window| window == end) {
            lines.push(capture[start..start + at].to_vec());
            start += at + end.len();
        }
        // listening may have begun in the middle of the first
        let lines: Vec<_> = lines.into_iter().skip(1).filter(|line| !line.is_empty()).collect();
        let plain = lines.iter().all(|line| line.iter().all(|byte| is_text(*byte)));
        (plain && FRAMES_MIN <= lines.len()).then_some(lines)
    };
    ends.iter().find_map(|(end, name)| {
        let frames: Option<Vec<_>> = captures.iter().map(|capture| cut_with(end, capture)).collect();
        let frames = frames?;
        let longest = frames.iter().flatten().map(Vec::len).max()?;
        let flat: Vec<&[u8]> = frames.iter().flatten().map(Vec::as_slice).collect();
        let sealed = guard::find_in_lines(&flat);
        let after = sealed
            .as_ref()
            .map_or(0, |sealed| sealed.digits + usize::from(sealed.mark.is_some()));
        Some(Cut {
            frame: format!("Line(end: \"{name}\", bytes_max: {})", (2 * longest).clamp(32, 4096)),
            check: sealed.as_ref().map(|sealed| sealed.check.clone()),
            form: Form::Text { before: 0, after },
            sealed,
            frames,
        })
    })
}

fn delimited(captures: &[&[u8]]) -> Option<Cut> {
    let (start, end) = (0x02, 0x03);
    (0..=2).find_map(|after| {
        let cut = |capture: &&[u8]| -> Option<Vec<Vec<u8>>> {
            let mut rest = &capture[capture.iter().position(|byte| *byte == start)?..];
            let mut frames = Vec::new();
            while let Some(stop) = rest.iter().position(|byte| *byte == end) {
                let text = rest.get(1..stop)?;
                if rest[0] != start || !text.iter().all(|byte| is_text(*byte)) {
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
        let check = if after == 0 { None } else { guard::find(&flat) };
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
    let mut marked: Vec<(usize, Cut)> = aligned
        .into_iter()
        .filter_map(|frames| by_mark(frames, bytes))
        .collect();
    let guarded = marked.iter().any(|(_, cut)| cut.check.is_some());
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
fn by_mark(frames: Vec<Vec<Vec<u8>>>, bytes: usize) -> Option<(usize, Cut)> {
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
    let check = guard::find(&flat);
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
