//! What a crash may leave at the end of a journal, told apart from damage.
//!
//! A line is acknowledged only after a sync, and the next is not begun before that. So after a crash all that was
//! acknowledged is there, and beyond it lies at most one line, as much of it as the disk happened to keep:
//!
//! - nothing, or its first bytes: an end with no line feed;
//! - room the file system had already made the file longer by, never filled: NUL bytes up to the end;
//! - its later sectors without its earlier ones, which writes may reach the disk as: a last line with NUL bytes inside,
//!   line feed and all. A line never holds a NUL byte otherwise, JSON text writes it `\u0000`;
//! - all of it, when the crash came between the sync and its acknowledgement: a good line, which is kept.
//!
//! Rule: the first three are dropped and counted. Whoever may cut the file short could take that line away just as
//! well, so refusing would protect nothing. Everything else is damage and left untouched: a complete line that does
//! not fit, NUL bytes in any line but the last, and stale bytes with a line feed among them, which some file systems
//! can show after a power cut and which nothing tells apart from an edit.

use super::error::Error;
use super::format::LINE_BYTES_MAX;

/// How many bytes of the journal, from its start, are complete lines to be judged; the rest is what a crash tore.
///
/// # Errors
/// [`Error::LineTooLarge`] where what follows the last line feed is more than one line can be.
pub fn whole_len(bytes: &[u8]) -> Result<usize, Error> {
    let whole = end_of_last_line(bytes);
    let filled = bytes.iter().rposition(|byte| *byte != 0).map_or(0, |last| last + 1);
    if filled > whole {
        if filled - whole > LINE_BYTES_MAX {
            let line = bytes[..whole].iter().filter(|byte| **byte == b'\n').count() as u64 + 1;
            return Err(Error::LineTooLarge { line });
        }
        return Ok(whole);
    }
    let before = end_of_last_line(&bytes[..whole.saturating_sub(1)]);
    let last_has_hole = bytes[before..whole].contains(&0);
    Ok(if last_has_hole { before } else { whole })
}

/// Just after the last line feed; 0 where there is none.
pub(super) fn end_of_last_line(bytes: &[u8]) -> usize {
    bytes.iter().rposition(|byte| *byte == b'\n').map_or(0, |last| last + 1)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_torn_end_is_told_from_whole_lines() {
        let check = |bytes: &str, whole: &str| {
            assert_eq!(whole_len(bytes.as_bytes()).expect("judged"), whole.len(), "{bytes:?}");
            assert!(bytes.starts_with(whole));
        };
        check("", "");
        check("a\n", "a\n");
        check("a\nb\n", "a\nb\n");
        check("a\nb", "a\n");
        check("a\n\0\0", "a\n");
        check("a\nb\0\0", "a\n");
        check("a\n\0\0b", "a\n");
        check("a\n\0\0b\n", "a\n");
        check("a\nb\0\n\0", "a\n");
        check("a\nb\n\0\0", "a\nb\n");
        check("\0\0", "");
        check("b\0\n", "");
        check("\n", "\n");
        check("a\n\n", "a\n\n");
    }

    #[test]
    fn nul_bytes_before_the_last_line_are_left_to_be_judged() {
        let check = |bytes: &str, whole: &str| assert_eq!(whole_len(bytes.as_bytes()).expect("judged"), whole.len());
        check("a\0\nb\n", "a\0\nb\n");
        // a torn end after it: no single write leaves both
        check("a\0\nb", "a\0\n");
    }

    #[test]
    fn an_end_longer_than_a_line_is_refused() {
        let mut bytes = b"a\n".to_vec();
        bytes.extend(vec![b'x'; LINE_BYTES_MAX]);
        assert_eq!(whole_len(&bytes).expect("judged"), 2);
        bytes.extend(vec![0; LINE_BYTES_MAX]);
        assert_eq!(whole_len(&bytes).expect("judged"), 2);
        *bytes.last_mut().expect("filled") = b'x';
        assert_eq!(
            whole_len(&bytes).expect_err("refused").to_string(),
            "line 2 is longer than 1048576 bytes"
        );
    }
}
