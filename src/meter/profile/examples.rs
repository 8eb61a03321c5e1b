//! The checks of examples: the frames in the file that prove its profile.
//!
//! The rule inside: each example must decode, and what is written from it must decode to the same.

use super::check::{Check, ENTRIES_MAX};
use crate::located::Located;
use crate::meter::decode::decoder::read;
use crate::meter::decode::encode::{Unwritten, write};
use crate::meter::decode::meaning::Unread;
use crate::meter::decode::{Cut, Decode, Framing, Take};
use crate::value::raw::Raw;

impl Check {
    /// Tries the examples, unless something is wrong already.
    pub(super) fn examples(&mut self, decode: &Decode, examples: &Located<Vec<Located<String>>>, frame: &Framing) {
        if !self.problems.is_empty() {
            return;
        }
        if examples.is_empty() || ENTRIES_MAX < examples.len() {
            self.add_with_hint(
                &examples.span,
                format!("{} examples, 1 to {ENTRIES_MAX} are needed", examples.len()),
                "give at least one frame as the meter sends it, without its end",
            );
        }
        for example in &examples.value {
            if let Err(what) = prove(decode, example, frame) {
                self.add(&example.span, what);
            }
        }
    }
}

fn prove(decode: &Decode, example: &str, frame: &Framing) -> Result<(), String> {
    let lines = matches!(frame.cut, Cut::Line { .. });
    let bytes = if lines || matches!(decode.take, Take::Pattern(_)) {
        example.as_bytes().to_vec()
    } else {
        let pairs: String = example.split_ascii_whitespace().collect();
        let raw = Raw::parse(&pairs)
            .map_err(|_| "an example is bytes in lower-case hexadecimal, with blanks between as you like")?;
        raw.bytes().to_vec()
    };
    if let Cut::Line { end, bytes_max } = &frame.cut {
        let holds_end = bytes.windows(end.len()).any(|window| window == end);
        if holds_end || *bytes_max < bytes.len() {
            return Err(format!("an example holds no line end and at most {bytes_max} bytes"));
        }
    }
    let parts = read(frame, decode, &bytes).map_err(|unread| match unread {
        Unread::Refused(why) | Unread::NotUnderstood(why) => format!("this example is no reading: {why}"),
    })?;
    match write(frame, decode, &parts) {
        Ok(_) => Ok(()),
        Err(Unwritten::Part(part)) => Err(format!("`write` has no text for the {} of this example", part.name())),
        Err(Unwritten::NoFrame) => Err("no frame can be put together that says the same as this example".into()),
        Err(Unwritten::ReadOtherwise(text)) => Err(format!(
            "`write` makes `{text}` of this example, which is not read back as the same"
        )),
    }
}
