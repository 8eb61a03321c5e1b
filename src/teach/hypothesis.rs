//! One way in which a meter may talk, written as a profile and proved on every display.
//!
//! The rule inside: a hypothesis is what the profile language can say, and it counts only while it reads every display
//! exactly as it was typed, or refuses it where that is what is still open.

use rust_decimal::Decimal;

use super::cut::{Cut, Form, counter};
use super::display::Display;
use crate::meter::decode::frame::{Framer, Piece};
use crate::meter::decode::meaning::{Parts, Unread};
use crate::meter::decode::{Decoder, Profile};
use crate::value::quantity::{Digits, Prefix, Shown, Unit};

/// A display and the frames that were heard while it stood.
pub(super) struct Seen<'a> {
    pub(super) display: &'a Display,
    pub(super) frame: &'a [u8],
}

/// A profile that explains every number shown so far.
#[derive(Debug, Clone)]
pub(super) struct Hypothesis {
    /// What it takes the bytes for.
    pub(super) what: String,
    /// Where it finds the value: two that find it at different places are never the same.
    pub(super) place: String,
    /// The part of the profile that does not depend on the line: frame, check, decode.
    pub(super) body: String,
    pub(super) profile: Profile,
    /// True while it leaves out what looks like a checksum that is not known yet.
    pub(super) tentative: bool,
    /// What it refuses because it was not seen, or not explained.
    pub(super) open: Vec<String>,
}

/// The line settings are not known while hypotheses are tried; any will do.
const LINE: &str = "line: (baud: 9600, data_bits: 8, parity: none, stop_bits: 1, dtr: true, rts: true),";

/// How a meter talks that sends by itself; what is asked does not matter while hypotheses are tried.
pub(super) const STREAM: &str = "Stream";

/// How long silence is where a meter sends again and again.
pub(super) const QUIET: &str = "quiet_ms_max: 3000";

/// A meter that sends only when its display changes is never silent.
pub(super) const ON_CHANGE: &str = "period: OnChange";

/// A profile text with these line settings, and with what is asked.
pub(super) fn profile_text(name: &str, about: &str, (line, talk): (&str, &str), (body, quiet): (&str, &str)) -> String {
    format!(
        "(\n    format: \"1.0\",\n    name: \"{name}\",\n    about: \"{about}\",\n    {line}\n    talk: {talk},\n{body}    \
         {quiet},\n)\n"
    )
}

/// The part of a profile from `frame` to `decode`; `examples` are written into the gap of `decode`.
fn body(cut: &Cut, decode: &str, examples: &[String]) -> String {
    let check = cut
        .check
        .as_ref()
        .map_or(String::new(), |check| format!("    check: {check},\n"));
    let runs_on = || (0..cut.frames[0][0].len()).any(|byte| !counter(&cut.frames, byte).is_empty());
    let agree = match (&cut.check, &cut.form) {
        // nothing protects the frame, so its neighbours have to, where a counter does not make them differ
        (None, Form::Bits { .. }) if !runs_on() => "    agree: 3,\n",
        _ => "",
    };
    let examples = format!("examples: [{}],", examples.join(", "));
    format!(
        "    frame: {},\n{check}{agree}    decode: {},\n",
        cut.frame,
        decode.replace("EXAMPLES", &examples)
    )
}

impl Hypothesis {
    /// Proves a decoder on what was seen; `None` where it reads a display otherwise than it was typed, or cannot be
    /// written as a profile.
    pub(super) fn prove(
        (what, place): (String, String),
        cut: &Cut,
        decode: &str,
        seen: &[Seen<'_>],
        examples: &[String],
    ) -> Option<Self> {
        let read = |examples: &[String]| {
            let body = body(cut, decode, examples);
            Profile::read(&profile_text("learnt", "learnt", (LINE, STREAM), (&body, QUIET)))
                .map(|profile| (body, profile))
        };
        // an example must also be written back, which not every frame that is read can be
        let good = || -> Vec<String> {
            let alone = |one: &&String| read(std::slice::from_ref(*one)).is_ok();
            examples.iter().filter(alone).cloned().collect()
        };
        let (body, profile) = read(examples).or_else(|_| read(&good())).ok()?;
        let mut open = Vec::new();
        let mut numbers = 0;
        for one in seen {
            match Decoder::new(&profile).parts(one.frame) {
                Ok(parts) if says(&parts, one.display) => numbers += usize::from(!one.display.is_over()),
                Ok(_) => return None,
                Err(_) if one.display.is_over() => open.push(format!("`{}` is refused", one.display)),
                // it was understood and refused for what it is: a resistance or a trip time below zero
                Err(Unread::Refused(_)) if one.display.is_negative() && one.display.unit != Unit::Volt => {}
                Err(_) => return None,
            }
        }
        (numbers != 0).then_some(Hypothesis {
            what,
            place,
            body,
            profile,
            tentative: cut.sealed.as_ref().is_some_and(|sealed| sealed.check.is_none()),
            open,
        })
    }

    /// What is read in a frame, if anything.
    pub(super) fn read(&self, frame: &[u8]) -> Option<Parts> {
        Decoder::new(&self.profile).parts(frame).ok()
    }

    /// Why the first frame of a stream that is refused is, if any is.
    pub(super) fn why(&self, stream: &[u8]) -> Option<String> {
        let mut decoder = Decoder::new(&self.profile);
        self.frames(stream).iter().find_map(|frame| match decoder.parts(frame) {
            Err(Unread::Refused(why) | Unread::NotUnderstood(why)) => Some(format!("nothing ({why})")),
            Ok(_) => None,
        })
    }

    /// What is read in a stream of bytes, frame by frame.
    pub(super) fn heard(&self, stream: &[u8]) -> Vec<Parts> {
        self.frames(stream)
            .iter()
            .filter_map(|frame| self.read(frame))
            .collect()
    }

    /// The frames of a stream. Half a line may look like a whole one, so the first only counts where it is alone.
    fn frames(&self, stream: &[u8]) -> Vec<Vec<u8>> {
        let whole = |framer: &mut Framer| {
            let mut frames = Vec::new();
            while let Some(piece) = framer.poll() {
                match piece {
                    Piece::Frame { bytes, partial } if !partial || !self.is_line() => frames.push(bytes),
                    _ => {}
                }
            }
            frames
        };
        let mut framer = Framer::new(&self.profile.frame, true);
        framer.push(stream);
        let mut frames = whole(&mut framer);
        if frames.is_empty() && self.is_line() {
            framer = Framer::new(&self.profile.frame, false);
            framer.push(stream);
            frames = whole(&mut framer);
        }
        frames
    }

    fn is_line(&self) -> bool {
        matches!(self.profile.frame.cut, crate::meter::decode::Cut::Line { .. })
    }
}

/// True where a number that was sent with an exponent, in the plain unit, rounds to what the display shows.
pub(super) fn near(sent: &Digits, display: &Display) -> bool {
    let Shown::Digits(shown) = &display.shown else {
        return false;
    };
    let factor = display.prefix.factor();
    let off = (sent.value() - shown.value() * factor).abs();
    sent.text().contains(['e', 'E']) && off * Decimal::TWO <= shown.last_digit() * factor
}

/// True where the parts are the display, to the last digit; what was sent with an exponent rounds to it.
pub(super) fn says(parts: &Parts, display: &Display) -> bool {
    let plain = (parts.prefix, parts.unit) == (Prefix::One, display.unit);
    let of_function = parts.function == Some(display.function) && parts.flags.is_empty();
    if plain
        && of_function
        && let Shown::Digits(sent) = &parts.shown
        && near(sent, display)
    {
        return true;
    }
    let same = match (&parts.shown, &display.shown) {
        (Shown::Digits(read), Shown::Digits(typed)) | (Shown::Above(read), Shown::Above(typed)) => {
            same_digits(read, typed)
        }
        (Shown::Over, Shown::Over) => true,
        _ => false,
    };
    let unit = (parts.prefix, parts.unit) == (display.prefix, display.unit);
    // a bare over-range is the same in every prefix
    let over = plain && parts.shown == Shown::Over;
    same && (unit || over) && of_function
}

/// The same number with the same decimals.
pub(super) fn same_digits(sent: &Digits, typed: &Digits) -> bool {
    let bare = |digits: &Digits| digits.text().trim_start_matches(['+', '-', '0']).to_owned();
    sent.value() == typed.value()
        && sent.last_digit() == typed.last_digit()
        && bare(sent) == bare(typed)
        && sent.text().starts_with('-') == typed.text().starts_with('-')
}

/// What was read, for a person.
pub(super) fn said(parts: &Parts) -> String {
    let unit = format!("{}{}", parts.prefix.letter(), parts.unit);
    let function = parts
        .function
        .map_or(String::new(), |function| format!(", {}", function.dial()));
    match &parts.shown {
        Shown::Digits(digits) => format!("{} {unit}{function}", digits.text()),
        Shown::Above(digits) => format!(">{} {unit}{function}", digits.text()),
        Shown::Over => format!("OL {unit}{function}"),
    }
}
