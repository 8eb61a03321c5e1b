//! The learner: displays and bytes in, what is still open and the display that would settle it out, a profile at last.
//!
//! The rule inside: nothing is guessed. A profile is written only where every explanation that is left reads the same;
//! else it is said what they differ in.

use super::bits::Ground;
use super::cut::{Cut, Form, cuts};
use super::display::Display;
use super::hypothesis::{Hypothesis, STREAM, Seen, profile_text};
use super::question::Question;
use super::wish::{Wish, wishes};
use super::{cut, guard, numbers, segments, text};
use crate::explain::Explain;
use crate::meter::decode::meaning::Parts;
use crate::meter::decode::{Cut as Framed, Line, Parity, Profile, encode};
use crate::value::quantity::{Digits, Shown};
use crate::value::raw::Raw;

/// Numbers that must have been shown before a profile is written.
pub const NUMBERS_MIN: usize = 3;
/// Displays after which a meter that is still ambiguous is called so.
pub const DISPLAYS_MAX: usize = 5;

/// What is known after the displays so far.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Progress {
    /// Ways to read the bytes that explain every display.
    pub explanations: usize,
    /// How sure that is, in words.
    pub certainty: String,
    /// What two of the explanations differ in.
    pub differ: Option<String>,
    /// What would be refused for now.
    pub open: Vec<String>,
    /// The displays that would settle most, the best first.
    pub next: Vec<Wish>,
}

/// Why nothing was learnt from a display, or no profile can be written.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
pub enum TeachError {
    /// Nothing in the bytes comes again: the speed is wrong, or this is no stream of frames.
    #[error("in {bytes} bytes no frame comes again")]
    NoFrames {
        /// How many were heard.
        bytes: usize,
    },
    /// What was sent did not stand still while the display was typed.
    #[error("the bytes changed while the display was `{display}`")]
    NotSteady {
        /// The display as typed.
        display: String,
    },
    /// No explanation agrees with every display: one was mistyped, or the family is not known.
    #[error("no family of meters that is known here explains these {displays} displays")]
    NothingFits {
        /// How many were typed.
        displays: usize,
    },
    /// Too few numbers to tell digits from anything else.
    #[error("{numbers} numbers were shown, {NUMBERS_MIN} are needed")]
    TooFew {
        /// How many were shown.
        numbers: usize,
    },
    /// Several explanations are left that would read other frames differently.
    #[error("{explanations} explanations are left after {displays} displays: {differ}")]
    Ambiguous {
        /// How many.
        explanations: usize,
        /// After how many displays.
        displays: usize,
        /// In what they differ.
        differ: String,
        /// What to show next, where one display would tell them apart.
        next: Option<String>,
    },
}

impl Explain for TeachError {
    fn hint(&self) -> Option<String> {
        Some(match self {
            TeachError::NoFrames { .. } => {
                "switch the meter's sending on, check that the display stands still, and listen again".into()
            }
            TeachError::NotSteady { .. } => {
                "hold the probes still, wait until the display stands, and type it again".into()
            }
            TeachError::NothingFits { .. } => {
                "check that each display was typed as it stood, every zero included, and begin again".into()
            }
            TeachError::TooFew { .. } => "make the meter show another number, and type it".into(),
            TeachError::Ambiguous { next: Some(next), .. } => format!("make the meter show {next}"),
            TeachError::Ambiguous { next: None, .. } => {
                "make the meter show other numbers in other ranges, or write the profile by hand".into()
            }
        })
    }
}

/// A profile that was learnt.
#[derive(Debug, Clone)]
pub struct Learnt {
    /// The profile, checked as a file is.
    pub profile: Profile,
    /// How sure it is, and what is refused, as it stands at the top of the profile.
    pub remarks: Vec<String>,
}

/// What was shown and heard so far.
#[derive(Debug, Clone, Default)]
pub struct Learner {
    displays: Vec<Display>,
    captures: Vec<Vec<u8>>,
    found: Vec<Hypothesis>,
    text: bool,
    question: Option<Question>,
}

impl Learner {
    /// Nothing is known yet.
    pub fn new() -> Learner {
        Learner::default()
    }

    /// Nothing is known yet of a meter that answers this question; what is heard are its answers.
    pub fn asking(question: Question) -> Learner {
        Learner {
            question: Some(question),
            ..Learner::default()
        }
    }

    /// Displays that were taken so far.
    pub fn displays(&self) -> &[Display] {
        &self.displays
    }

    /// The bytes that were heard while a display stood. After an error the display does not count, and nothing else is
    /// lost.
    pub fn show(&mut self, display: Display, bytes: &[u8]) -> Result<Progress, TeachError> {
        let mut next = self.clone();
        next.displays.push(display);
        next.captures.push(bytes.to_vec());
        next.learn()?;
        *self = next;
        Ok(self.progress())
    }

    /// The displays that would settle most of what is open, before the first one as well.
    pub fn wishes(&self) -> Vec<Wish> {
        wishes(&self.displays, self.text)
    }

    fn learn(&mut self) -> Result<(), TeachError> {
        let captures: Vec<&[u8]> = self.captures.iter().map(Vec::as_slice).collect();
        let bytes = captures.last().map_or(0, |last| last.len());
        let ways = cuts(&captures);
        if ways.is_empty() {
            return Err(TeachError::NoFrames { bytes });
        }
        self.text = matches!(ways[0].form, Form::Text { .. });
        let mut unsteady = None;
        let mut found = Vec::new();
        for way in &ways {
            match steady(way, &self.displays) {
                Ok(seen) => found.extend(explain(way, &seen)),
                Err(display) => unsteady = Some(display),
            }
        }
        if let (true, Some(display)) = (found.is_empty(), unsteady) {
            return Err(TeachError::NotSteady {
                display: display.to_string(),
            });
        }
        // before a checksum can be told from a value, nothing is lost yet
        if found.is_empty() && guard::FRAMES_MIN <= self.displays.len() {
            return Err(TeachError::NothingFits {
                displays: self.displays.len(),
            });
        }
        // one explanation may be reached in two ways
        found.sort_by(|a, b| a.body.cmp(&b.body));
        found.dedup_by(|a, b| a.body == b.body);
        self.found = found;
        Ok(())
    }

    /// What is known by now.
    pub fn progress(&self) -> Progress {
        let figures: usize = self.displays.iter().map(|one| one.figures().len()).sum();
        Progress {
            explanations: self.found.len(),
            certainty: match self.found.len() {
                0 => "no explanation yet: more digits are needed".into(),
                1 => {
                    format!("one explanation fits all {figures} figures shown; by chance about 1 in 10^{figures} would")
                }
                many => format!("{many} explanations fit all {figures} figures shown"),
            },
            differ: self.differ(),
            open: self.found.first().map_or(Vec::new(), |one| one.open.clone()),
            next: self.wishes(),
        }
    }

    /// What two explanations differ in, if any two do.
    fn differ(&self) -> Option<String> {
        let (first, others) = self.found.split_first()?;
        if let Some(other) = others.iter().find(|other| other.place != first.place) {
            return Some(format!("the value may be {}, or {}", first.what, other.what));
        }
        let probes = self.probes();
        self.found.iter().enumerate().find_map(|(n, a)| {
            self.found[n + 1..].iter().find_map(|b| {
                probes.iter().find_map(|probe| {
                    let (x, y) = (last(a, probe)?, last(b, probe)?);
                    (x != y).then(|| {
                        format!(
                            "as {} the frame {} says `{}`, as {} it says `{}`",
                            a.what,
                            Raw::new(probe),
                            said(&x),
                            b.what,
                            said(&y)
                        )
                    })
                })
            })
        })
    }

    /// Frames that were not heard and might be: what was shown in other units and functions, and bytes of one display in
    /// the frame of another.
    fn probes(&self) -> Vec<Vec<u8>> {
        let mut probes = Vec::new();
        for one in &self.found {
            for (a, b) in self
                .displays
                .iter()
                .flat_map(|a| self.displays.iter().map(move |b| (a, b)))
            {
                for text in ["1.234", "123.4", "-12.34", "5"] {
                    let parts = Parts {
                        shown: Shown::Digits(Digits::parse(text).expect("a number")),
                        prefix: b.prefix,
                        unit: b.unit,
                        function: Some(a.function),
                        flags: Vec::new(),
                    };
                    let written = encode::write(&one.profile.frame, &one.profile.decode, &parts);
                    probes.extend(written.ok().map(|frame| ended(one, frame)));
                }
            }
            probes.extend(self.mixed(one));
        }
        probes.sort();
        probes.dedup();
        probes
    }

    fn mixed(&self, one: &Hypothesis) -> Vec<Vec<u8>> {
        let Framed::Fixed { bytes, .. } = one.profile.frame.cut else {
            return Vec::new();
        };
        let captures: Vec<&[u8]> = self.captures.iter().map(Vec::as_slice).collect();
        let ways = cuts(&captures);
        let frames: Vec<&Vec<u8>> = ways
            .iter()
            .flat_map(|way| way.frames.iter().filter_map(|of| of.first()))
            .collect();
        let mut mixed = Vec::new();
        for frame in &frames {
            for other in &frames {
                for at in 0..bytes {
                    for byte in [other[at], 0x7f, 0x80, 0xff, 0x12] {
                        let mut probe = (*frame).clone();
                        probe[at] = byte;
                        if one.profile.frame.check.is_none_or(|check| check.seal(&mut probe)) {
                            mixed.push(probe);
                        }
                    }
                }
            }
        }
        mixed
    }

    /// The profile, where every explanation that is left reads the same. `proved` says that the line settings were heard
    /// to be right, which a port without a real line cannot tell.
    pub fn finish(&self, name: &str, line: &Line, proved: bool) -> Result<Learnt, TeachError> {
        let numbers = self.displays.iter().filter(|one| one.number().is_some()).count();
        if numbers < NUMBERS_MIN {
            return Err(TeachError::TooFew { numbers });
        }
        let nothing = TeachError::NothingFits {
            displays: self.displays.len(),
        };
        if let Some(differ) = self.differ() {
            return Err(TeachError::Ambiguous {
                explanations: self.found.len(),
                displays: self.displays.len(),
                differ,
                next: self.wishes().first().map(Wish::to_string),
            });
        }
        // all read the same: the one that takes the least is the one that claims the least
        let probes = if self.found.len() == 1 {
            Vec::new()
        } else {
            self.probes()
        };
        let takes = |one: &&Hypothesis| probes.iter().filter(|probe| last(one, probe).is_some()).count();
        let one = self.found.iter().min_by_key(takes).ok_or(nothing.clone())?;
        let remarks = self.remarks(one, line, proved);
        let head: String = remarks.iter().map(|remark| format!("// {remark}\n")).collect();
        let talk = self.question.as_ref().map_or(STREAM.into(), Question::talk);
        let text = head
            + &profile_text(
                name,
                "a meter that was learnt from its displays",
                (&settings(line), &talk),
                &one.body,
            );
        match Profile::read(&text) {
            Ok(profile) => Ok(Learnt { profile, remarks }),
            Err(_) => Err(nothing),
        }
    }

    fn remarks(&self, one: &Hypothesis, line: &Line, proved: bool) -> Vec<String> {
        let shown: Vec<String> = self.displays.iter().map(|one| format!("`{one}`")).collect();
        let mut remarks = vec![
            format!("Learnt from {} displays: {}.", shown.len(), shown.join(", ")),
            format!("Taken for: {}.", one.what),
            format!("Certainty: {}.", self.progress().certainty),
            "Only functions, units and ranges that were shown are read; a bit that was never seen to change refuses the \
             reading while it is otherwise."
                .into(),
        ];
        if let Some(question) = &self.question {
            remarks.push(format!("Read by asking `{}`.", question.ask));
        }
        if one.profile.frame.check.is_none() {
            remarks.push("No checksum was found.".into());
        }
        if !proved {
            remarks.push(format!("The speed of {} bits a second is not proved.", line.baud));
        }
        remarks.extend(one.open.iter().map(|open| format!("Open: {open}.")));
        remarks
            .into_iter()
            .map(|remark| remark.replace(['\n', '\r'], " "))
            .collect()
    }
}

/// The frames of a cut with their displays, or the display whose frames are not all the same.
fn steady<'a>(way: &'a Cut, displays: &'a [Display]) -> Result<Vec<Seen<'a>>, &'a Display> {
    let counters: Vec<usize> = match &way.form {
        Form::Text { .. } => Vec::new(),
        Form::Bits { .. } => {
            let bytes = way.frames[0][0].len();
            (0..bytes)
                .filter(|byte| !cut::counter(&way.frames, *byte).is_empty())
                .collect()
        }
    };
    let protects = |byte: usize| match &way.form {
        Form::Text { .. } => false,
        Form::Bits { taken } => taken.contains(&(byte, 0)),
    };
    let same = |a: &[u8], b: &[u8]| {
        let differs = |at: usize| a[at] != b[at] && !counters.contains(&at) && !protects(at);
        a.len() == b.len() && !(0..a.len()).any(differs)
    };
    let pairs = way.frames.iter().zip(displays);
    pairs
        .map(|(frames, display)| {
            let alike = frames.iter().all(|frame| same(frame, &frames[0]));
            alike
                .then_some(Seen {
                    display,
                    frame: &frames[0],
                })
                .ok_or(display)
        })
        .collect()
}

fn explain(way: &Cut, seen: &[Seen<'_>]) -> Vec<Hypothesis> {
    match &way.form {
        Form::Text { .. } => text::hypotheses(way, seen),
        Form::Bits { .. } => {
            let Some(ground) = Ground::new(way, seen) else {
                return Vec::new();
            };
            let mut found = numbers::hypotheses(&ground);
            found.extend(segments::hypotheses(&ground));
            found
        }
    }
}

/// A frame with the end of its line.
fn ended(one: &Hypothesis, mut frame: Vec<u8>) -> Vec<u8> {
    if let Framed::Line { end, .. } = &one.profile.frame.cut {
        frame.extend_from_slice(end);
    }
    frame
}

/// What is read at last in a frame that is sent again and again.
fn last(one: &Hypothesis, frame: &[u8]) -> Option<Parts> {
    one.heard(&frame.repeat(4)).pop()
}

fn said(parts: &Parts) -> String {
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

fn settings(line: &Line) -> String {
    let parity = match line.parity {
        Parity::None => "none",
        Parity::Odd => "odd",
        Parity::Even => "even",
    };
    format!(
        "line: (baud: {}, data_bits: {}, parity: {parity}, stop_bits: {}, dtr: {}, rts: {}),",
        line.baud, line.data_bits, line.stop_bits, line.dtr, line.rts
    )
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::meter::profile::find;

    /// What comes of displays and the line that is sent during each.
    fn taught(displays: &[(&str, &str)]) -> Result<Learnt, TeachError> {
        let mut learner = Learner::new();
        for (display, line) in displays {
            learner.show(Display::parse(display).unwrap(), &line.repeat(6).into_bytes())?;
        }
        learner.finish("learnt", &find("line-stream").unwrap().line, true)
    }

    fn check(displays: &[(&str, &str)], text: &str, hint: &str) {
        let error = taught(displays).unwrap_err();
        assert_eq!(
            (error.to_string().as_str(), error.hint().as_deref()),
            (text, Some(hint))
        );
    }

    #[test]
    fn what_cannot_be_learnt_is_said_with_the_next_act() {
        check(
            &[("1.5 ohm", "")],
            "in 0 bytes no frame comes again",
            "switch the meter's sending on, check that the display stands still, and listen again",
        );
        check(
            &[("1.5 ohm", "1.5 ohm\r\n1.6 ohm\r\n")],
            "the bytes changed while the display was `1.5 ohm`",
            "hold the probes still, wait until the display stands, and type it again",
        );
        check(
            &[("1.5 ohm", "1.5 ohm\n"), ("2.5 ohm", "2.5 ohm\n")],
            "2 numbers were shown, 3 are needed",
            "make the meter show another number, and type it",
        );
        let wrong = ["1.5 ohm", "2.5 ohm", "3.5 ohm", "4.5 ohm"].map(|display| (display, "9.9 ohm\n"));
        check(
            &wrong,
            "no family of meters that is known here explains these 4 displays",
            "check that each display was typed as it stood, every zero included, and begin again",
        );
        let of = |next: Option<&str>| TeachError::Ambiguous {
            explanations: 2,
            displays: 5,
            differ: "a or b".into(),
            next: next.map(str::to_owned),
        };
        assert_eq!(of(None).to_string(), "2 explanations are left after 5 displays: a or b");
        assert_eq!(of(Some("`1 V dc`")).hint().unwrap(), "make the meter show `1 V dc`");
        assert_eq!(
            of(None).hint().unwrap(),
            "make the meter show other numbers in other ranges, or write the profile by hand"
        );
    }

    #[test]
    fn a_mark_that_was_never_seen_refuses_the_reading() {
        let learnt = taught(&[
            ("1.5 V dc", "DC 1.5 V -\n"),
            ("2.75 ohm", "R 2.75 Ohm -\n"),
            ("38.1 V ac", "AC 38.1 V -\n"),
            ("OL kohm", "R OF kOhm -\n"),
        ])
        .unwrap();
        let heard = |frame: &str| crate::meter::decode::decode(&learnt.profile, frame.as_bytes());
        assert!(matches!(
            heard("DC 9.99 V -"),
            crate::meter::decode::Decoded::Reading(_)
        ));
        assert!(!matches!(
            heard("DC 9.99 V H"),
            crate::meter::decode::Decoded::Reading(_)
        ));
    }
}
