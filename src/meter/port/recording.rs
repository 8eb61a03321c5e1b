//! A capture of what a meter sent, with its timing, as a text file; `recording-format.md` specifies it.
//!
//! The rule inside: a recording is what was read, byte for byte, before any profile looked at it; a last line that was
//! torn while it was written is left out, and any other fault refuses the file.

use std::path::Path;

use crate::explain::Explain;
use crate::system::disk::{self, Unread};
use crate::value::raw::Raw;

/// The version of the format that is written, and the newest that is read.
pub const FORMAT: &str = "1.0";

/// The most that is read of a file, in bytes: a day of four readings a second.
pub const FILE_BYTES_MAX: u64 = 64 * 1024 * 1024;
/// The most bytes in a line of a recording.
pub const PIECE_BYTES_MAX: usize = 4096;

const WORD: &str = "coreproof-recording";

/// What one read from a port gave.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Piece {
    /// Milliseconds since the recording began.
    pub ms: u64,
    /// 1 to 4096 bytes.
    pub bytes: Vec<u8>,
}

/// A capture.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Recording {
    /// The profile that the meter was read with, where the recording says so.
    pub profile: Option<String>,
    /// In order of time.
    pub pieces: Vec<Piece>,
}

/// Why a file cannot be played.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
pub enum RecordingError {
    /// The file cannot be opened or read.
    #[error("the capture `{path}` cannot be read: {why}")]
    CannotRead {
        /// The file.
        path: String,
        /// What the system says.
        why: String,
        /// What to do next.
        next: &'static str,
    },
    /// The file is longer than is read.
    #[error("the capture `{path}` holds more than {FILE_BYTES_MAX} bytes")]
    TooLong {
        /// The file.
        path: String,
    },
    /// Its first line is not that of a recording.
    #[error("`{path}` is not a recording of a meter")]
    NoRecording {
        /// The file.
        path: String,
    },
    /// A later coreproof made it.
    #[error("`{path}` is a recording of format `{format}`, newer than `{FORMAT}`, the newest read here")]
    Newer {
        /// The file.
        path: String,
        /// The format it has.
        format: String,
    },
    /// A line that is not as the format has it.
    #[error("line {line} of the recording `{path}`: {what}")]
    BadLine {
        /// The file.
        path: String,
        /// The line, from 1.
        line: usize,
        /// What is wrong with it.
        what: String,
    },
}

impl Explain for RecordingError {
    fn hint(&self) -> Option<String> {
        Some(match self {
            RecordingError::CannotRead { next, .. } => (*next).into(),
            RecordingError::TooLong { .. } => "cut it into shorter captures".into(),
            RecordingError::NoRecording { path } => format!(
                "record one with `coreproof meter watch --record FILE`, or play the bytes of the file without timing: \
                 `replay-fast:{path},PROFILE`"
            ),
            RecordingError::Newer { .. } => "install a newer coreproof".into(),
            RecordingError::BadLine { .. } => "the file was changed: get the recording again from its source".into(),
        })
    }
}

/// The first line of a recording, with its line end.
pub fn head(profile: Option<&str>) -> String {
    format!("{WORD} {FORMAT} {}\n", profile.unwrap_or("-"))
}

/// The lines of what one read gave, with their line ends.
///
/// ```
/// use coreproof::meter::port::recording::lines;
/// assert_eq!(lines(250, b"VAC;\r\n"), "+250 5641433b0d0a\n");
/// ```
pub fn lines(ms: u64, bytes: &[u8]) -> String {
    let line = |piece: &[u8]| {
        let hex: String = piece.iter().map(|byte| format!("{byte:02x}")).collect();
        format!("+{ms} {hex}\n")
    };
    bytes.chunks(PIECE_BYTES_MAX).map(line).collect()
}

impl Recording {
    /// Reads a recording from a file.
    pub fn open(path: &Path) -> Result<Recording, RecordingError> {
        Recording::read(&path.display().to_string(), &file(path)?)
    }

    /// Reads a recording without regard to its timing, or any other file as one long piece of bytes.
    pub fn open_raw(path: &Path) -> Result<Recording, RecordingError> {
        let bytes = file(path)?;
        match Recording::read(&path.display().to_string(), &bytes) {
            Err(RecordingError::NoRecording { .. }) => Ok(Recording {
                profile: None,
                pieces: bytes
                    .chunks(PIECE_BYTES_MAX)
                    .map(|piece| Piece {
                        ms: 0,
                        bytes: piece.to_vec(),
                    })
                    .collect(),
            }),
            read => read,
        }
    }

    /// Reads the bytes of the file called `path`.
    pub fn read(path: &str, bytes: &[u8]) -> Result<Recording, RecordingError> {
        let path = || path.to_owned();
        let mut rows = bytes.split_inclusive(|byte| *byte == b'\n');
        let head = rows.next().and_then(text).unwrap_or_default();
        let Some([WORD, format, profile]) = words(head) else {
            return Err(RecordingError::NoRecording { path: path() });
        };
        if format != FORMAT {
            let format = format.to_owned();
            return Err(RecordingError::Newer { path: path(), format });
        }
        let mut pieces: Vec<Piece> = Vec::new();
        for (n, row) in rows.enumerate() {
            // torn while it was written
            if !row.ends_with(b"\n") {
                break;
            }
            let bad = |what: String| RecordingError::BadLine {
                path: path(),
                line: n + 2,
                what,
            };
            let text = text(row).ok_or_else(|| bad("it is no text".into()))?;
            if text.is_empty() || text.starts_with('#') {
                continue;
            }
            let piece = piece(text).ok_or_else(|| bad(format!("`{text}` is not a time and bytes, `+MS HEX`")))?;
            if let Some(before) = pieces.last().map(|p| p.ms).filter(|before| piece.ms < *before) {
                return Err(bad(format!("time runs back from {before} ms to {} ms", piece.ms)));
            }
            pieces.push(piece);
        }
        let profile = (profile != "-").then(|| profile.to_owned());
        Ok(Recording { profile, pieces })
    }
}

fn file(path: &Path) -> Result<Vec<u8>, RecordingError> {
    disk::read(path, FILE_BYTES_MAX).map_err(|unread| {
        let path = path.display().to_string();
        match unread {
            Unread::TooLarge { .. } => RecordingError::TooLong { path },
            other => RecordingError::CannotRead {
                path,
                why: other.to_string(),
                next: other.hint(),
            },
        }
    })
}

/// The text of a line without its end.
fn text(row: &[u8]) -> Option<&str> {
    let text = std::str::from_utf8(row).ok()?;
    Some(text.trim_end_matches(['\n', '\r']))
}

fn words<const COUNT: usize>(text: &str) -> Option<[&str; COUNT]> {
    text.split(' ').collect::<Vec<_>>().try_into().ok()
}

fn piece(text: &str) -> Option<Piece> {
    let [ms, hex] = words(text)?;
    let digits = ms.strip_prefix('+')?;
    let ms = digits
        .bytes()
        .all(|b| b.is_ascii_digit())
        .then(|| digits.parse().ok())??;
    let bytes = Raw::parse(hex).ok()?.bytes().to_vec();
    (1..=PIECE_BYTES_MAX)
        .contains(&bytes.len())
        .then_some(Piece { ms, bytes })
}

#[cfg(test)]
mod tests {
    use super::*;

    fn read(text: &[u8]) -> Result<Recording, RecordingError> {
        Recording::read("a.rec", text)
    }

    #[test]
    fn what_is_written_is_read_back() {
        let long = vec![0x55; PIECE_BYTES_MAX + 1];
        let text = [
            head(Some("line-stream")),
            lines(0, b"V\xff"),
            "# a note\n\n".into(),
            lines(17, &long),
        ];
        let recording = read(text.concat().as_bytes()).unwrap();
        assert_eq!(recording.profile.as_deref(), Some("line-stream"));
        let pieces: Vec<_> = recording.pieces.iter().map(|p| (p.ms, p.bytes.len())).collect();
        assert_eq!(pieces, [(0, 2), (17, PIECE_BYTES_MAX), (17, 1)]);
        assert_eq!(recording.pieces[0].bytes, b"V\xff");
        assert_eq!(read(head(None).as_bytes()).unwrap().profile, None);
    }

    #[test]
    fn a_torn_last_line_is_left_out() {
        let text = b"coreproof-recording 1.0 -\n+0 41\n+5 424";
        assert_eq!(read(text).unwrap().pieces.len(), 1);
        assert_eq!(read(b"coreproof-recording 1.0 -").unwrap().pieces, []);
    }

    #[test]
    fn every_fault_is_named_with_the_next_act() {
        let changed = "the file was changed: get the recording again from its source";
        let no_recording = "record one with `coreproof meter watch --record FILE`, or play the bytes of the file without \
                            timing: `replay-fast:a.rec,PROFILE`";
        let newer = "`a.rec` is a recording of format `1.1`, newer than `1.0`, the newest read here";
        let cases: [(&str, &str, &str); 9] = [
            ("", "`a.rec` is not a recording of a meter", no_recording),
            ("VAC;0.1;V;-\r\n", "`a.rec` is not a recording of a meter", no_recording),
            ("coreproof-recording 1.1 -\n", newer, "install a newer coreproof"),
            ("?\n", "`?` is not a time and bytes, `+MS HEX`", changed),
            ("+5 4G\n", "`+5 4G` is not a time and bytes, `+MS HEX`", changed),
            ("+5 \n", "`+5 ` is not a time and bytes, `+MS HEX`", changed),
            ("++5 41\n", "`++5 41` is not a time and bytes, `+MS HEX`", changed),
            ("+5 41 42\n", "`+5 41 42` is not a time and bytes, `+MS HEX`", changed),
            ("+5 41\n+4 41\n", "time runs back from 5 ms to 4 ms", changed),
        ];
        for (text, expected, hint) in cases {
            let (text, expected) = match text.as_bytes() {
                [b'?' | b'+', ..] => {
                    let line = text.lines().count() + 1;
                    let place = format!("line {line} of the recording `a.rec`: {expected}");
                    (format!("{}{text}", head(None)), place)
                }
                _ => (text.to_owned(), expected.to_owned()),
            };
            let error = read(text.as_bytes()).unwrap_err();
            assert_eq!((error.to_string(), error.hint().as_deref()), (expected, Some(hint)));
        }
        let error = read(b"coreproof-recording 1.0 -\n\xff\n").unwrap_err();
        assert_eq!(error.to_string(), "line 2 of the recording `a.rec`: it is no text");
        let long = format!("{}+0 {}\n", head(None), "41".repeat(PIECE_BYTES_MAX + 1));
        assert!(matches!(
            read(long.as_bytes()),
            Err(RecordingError::BadLine { line: 2, .. })
        ));
        let too_long = RecordingError::TooLong { path: "a.rec".into() };
        assert_eq!(
            too_long.to_string(),
            "the capture `a.rec` holds more than 67108864 bytes"
        );
        assert_eq!(too_long.hint().as_deref(), Some("cut it into shorter captures"));
    }

    #[test]
    fn files_that_cannot_be_read_say_why() {
        let error = Recording::open(Path::new("no-such.rec")).unwrap_err();
        assert_eq!(
            error.to_string(),
            "the capture `no-such.rec` cannot be read: No such file or directory (os error 2)"
        );
        assert_eq!(error.hint().as_deref(), Some("check the path"));
        let error = Recording::open_raw(Path::new("/dev/zero")).unwrap_err();
        assert_eq!(
            error.to_string(),
            "the capture `/dev/zero` cannot be read: it is a device, not a file"
        );
        assert_eq!(error.hint().as_deref(), Some("give the path of the file itself"));
    }

    #[test]
    fn any_file_is_raw_bytes() {
        let file = tempfile::NamedTempFile::new().unwrap();
        std::fs::write(file.path(), b"VAC;0.1;V;-\r\n").unwrap();
        assert!(Recording::open(file.path()).is_err());
        let raw = Recording::open_raw(file.path()).unwrap();
        assert_eq!(raw.pieces[0].bytes, b"VAC;0.1;V;-\r\n");
        std::fs::write(file.path(), b"coreproof-recording 9.0 -\n").unwrap();
        assert!(
            Recording::open_raw(file.path()).is_err(),
            "a recording is not taken for bytes"
        );
    }
}
