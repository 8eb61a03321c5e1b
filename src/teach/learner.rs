//! The learner: displays and bytes in, what is still open and the display that would settle it out, a profile at last.
//!
//! The rule inside: nothing is guessed. A profile is written only where every explanation that is left reads the same;
//! else it is said what they differ in.

use super::cut::cuts;
use super::display::Display;
use super::explanations::explanations;
use super::hypothesis::{Hypothesis, ON_CHANGE, QUIET, STREAM, profile_text, said};
use super::question::Question;
use super::wish::{Wish, wishes};
use super::{examination, guard};
use crate::meter::decode::meaning::Parts;
use crate::meter::decode::{Cut as Framed, Line, Parity, Profile, encode};
use crate::value::quantity::{Digits, Shown};
use crate::value::raw::Raw;

pub use super::error::{EXAMINED_MIN, NUMBERS_MIN, TeachError};

/// Displays after which a meter that is still ambiguous is called so.
pub const DISPLAYS_MAX: usize = 24;

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
    /// What the engineer says this meter does not have.
    lacking: Vec<Wish>,
    /// Displays in a row that were read right before anything was learnt from them.
    examined: usize,
    /// Displays over which nothing was heard for as long as they stood.
    silent: usize,
    /// Nothing explains all displays since the last one.
    doubtful: bool,
    /// Displays that were typed while the bytes changed: nothing is learnt from them, and nothing may contradict them.
    unsteady: Vec<(Display, Vec<u8>)>,
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

    /// The bytes that were heard while a display stood. A display counts from here on, also where nothing explains it; one
    /// that stood over bytes with no frame in them, or over bytes that changed, may be typed again.
    pub fn show(&mut self, display: Display, bytes: &[u8]) -> Result<Progress, TeachError> {
        let mut next = self.clone();
        next.displays.push(display.clone());
        next.captures.push(bytes.to_vec());
        let learnt = next.learn();
        match learnt {
            Err(TeachError::NoFrames { .. }) => {}
            Err(TeachError::NotSteady { .. }) => self.unsteady.push((display, bytes.to_vec())),
            Ok(()) => {
                next.examined = if self.foretold(&display, bytes) {
                    self.examined + 1
                } else {
                    0
                };
                next.doubtful = false;
                *self = next;
            }
            Err(_) => {
                next.doubtful = true;
                *self = next;
            }
        }
        learnt.map(|()| self.progress())
    }

    /// Takes the last display for mistyped: it was this one. Where it was the same, it stands.
    pub fn correct(&mut self, display: Display) -> Result<Progress, TeachError> {
        let mut anew = Learner {
            question: self.question.clone(),
            lacking: self.lacking.clone(),
            unsteady: self.unsteady.clone(),
            ..Learner::default()
        };
        let (Some(_), Some(bytes)) = (self.displays.pop(), self.captures.pop()) else {
            return self.show(display, &[]);
        };
        for (display, bytes) in self.displays.iter().zip(&self.captures) {
            // what was wrong with it was said when it was shown
            let _ = anew.show(display.clone(), bytes);
        }
        let learnt = anew.show(display, &bytes);
        *self = anew;
        learnt
    }

    /// Whether the last display contradicts the others: it was mistyped, or this meter is not learnt.
    pub fn is_doubtful(&self) -> bool {
        self.doubtful
    }

    /// Whether nothing was heard while the last display stood, for longer than any meter pauses: it sends on change.
    pub fn was_silent(&mut self, silent: bool) {
        self.silent += usize::from(silent);
    }

    /// Takes the engineer's word that the meter has no such display.
    pub fn lacks(&mut self, wish: &Wish) {
        self.lacking.push(wish.clone());
    }

    /// The displays that would settle most of what is open, before the first one as well.
    pub fn wishes(&self) -> Vec<Wish> {
        let mut wishes = wishes(&self.displays, self.text, self.examined);
        wishes.retain(|wish| !self.lacking.iter().any(|lacking| wish.is_again(lacking)));
        wishes
    }

    /// Whether every explanation read this display before it was learnt from, and it is one of its own.
    fn foretold(&self, display: &Display, bytes: &[u8]) -> bool {
        let new = display.number().is_some() && self.displays.iter().all(|other| other.number() != display.number());
        new && !self.found.is_empty()
            && self
                .found
                .iter()
                .all(|one| examination::contradiction(one, display, bytes).is_none())
            && self
                .found
                .iter()
                .all(|one| !one.tentative && !one.heard(bytes).is_empty())
    }

    fn learn(&mut self) -> Result<(), TeachError> {
        let before = std::mem::take(&mut self.found);
        let (found, text) = explanations(&self.displays, &self.captures)?;
        self.text = text;
        // before a checksum can be told from a value, nothing is lost yet
        let early = self.displays.len() < guard::FRAMES_MIN && (before.is_empty() || !text);
        if found.is_empty() && (!early || text && examination::missing(&self.displays, &self.captures).is_some()) {
            return Err(self.misfit());
        }
        self.found = found;
        Ok(())
    }

    fn misfit(&self) -> TeachError {
        examination::misfit(&self.displays, &self.captures)
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
        self.is_settled()?;
        self.is_told()?;
        if self.examined < EXAMINED_MIN {
            return Err(TeachError::Unexamined {
                examined: self.examined,
            });
        }
        self.write(name, line, proved)
    }

    /// Whether every explanation that is left reads the same.
    pub(super) fn is_settled(&self) -> Result<(), TeachError> {
        let numbers = self.displays.iter().filter(|one| one.number().is_some()).count();
        if numbers < NUMBERS_MIN {
            return Err(TeachError::TooFew { numbers });
        }
        if self.found.is_empty() {
            return Err(self.misfit());
        }
        if let Some(differ) = self.differ() {
            return Err(TeachError::Ambiguous {
                explanations: self.found.len(),
                displays: self.displays.len(),
                differ,
                next: self.wishes().first().map(Wish::to_string),
            });
        }
        Ok(())
    }

    /// The explanation that claims least, as a profile, after it was held against everything that was heard.
    pub(super) fn write(&self, name: &str, line: &Line, proved: bool) -> Result<Learnt, TeachError> {
        // all read the same: the one that takes the least is the one that claims the least
        let probes = if self.found.len() == 1 {
            Vec::new()
        } else {
            self.probes()
        };
        let takes = |one: &&Hypothesis| probes.iter().filter(|probe| last(one, probe).is_some()).count();
        let one = self.found.iter().min_by_key(takes).expect("there is one");
        let steady = self.displays.iter().zip(&self.captures);
        let against = steady.map(|(display, bytes)| (display, examination::contradiction(one, display, bytes)));
        let unsteady = self.unsteady.iter();
        let of_kind = unsteady.map(|(display, bytes)| (display, examination::other_kind(one, display, bytes)));
        if let Some((display, Some(said))) = against.chain(of_kind).find(|(_, said)| said.is_some()) {
            return Err(TeachError::Odd {
                display: display.to_string(),
                said,
            });
        }
        if all_unread(one, &self.displays, &self.captures) {
            return Err(self.misfit());
        }
        let remarks = self.remarks(one, line, proved);
        let head: String = remarks.iter().map(|remark| format!("// {remark}\n")).collect();
        let talk = self.question.as_ref().map_or(STREAM.into(), Question::talk);
        let text = head
            + &profile_text(
                name,
                "a meter that was learnt from its displays",
                (&settings(line), &talk),
                (
                    &one.body,
                    if self.displays.len() < 2 * self.silent {
                        ON_CHANGE
                    } else {
                        QUIET
                    },
                ),
            );
        match Profile::read(&text) {
            Ok(profile) => Ok(Learnt { profile, remarks }),
            Err(_) => Err(self.misfit()),
        }
    }

    /// Whether everything was shown without which a byte that tells nothing would be taken for one that does.
    fn is_told(&self) -> Result<(), TeachError> {
        let untold = |wish: &Wish| TeachError::Untold {
            what: wish.about(),
            next: wish.to_string(),
        };
        if let Some(wish) = self.wishes().iter().find(|wish| wish.is_needed()) {
            return Err(untold(wish));
        }
        // part the probes, and any meter shows it: that it cannot be shown is no word to rely on
        let over = self.displays.iter().any(|one| one.number().is_none());
        let parted = self
            .lacking
            .iter()
            .find(|wish| matches!(wish, Wish::OverRange { .. }) && wish.is_needed());
        parted.filter(|_| !over).map_or(Ok(()), |wish| Err(untold(wish)))
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
        for lacking in self.lacking.iter().filter(|wish| wish.is_needed()) {
            remarks.push(format!(
                "By the engineer's word this meter has no {}.",
                lacking.lacked()
            ));
        }
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

/// True where nothing is read in any of the captures, or in one whose display was a number.
fn all_unread(one: &Hypothesis, displays: &[Display], captures: &[Vec<u8>]) -> bool {
    let unread = |(display, bytes): (&Display, &Vec<u8>)| {
        let refusable = display.is_negative() && display.unit != crate::value::quantity::Unit::Volt;
        display.number().is_some() && !refusable && one.heard(bytes).is_empty()
    };
    displays.iter().zip(captures).any(unread)
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
    use crate::explain::Explain;
    use crate::meter::profile::find;

    /// What comes of displays and the line that is sent during each.
    fn taught(displays: &[(&str, &str)]) -> Result<Learnt, TeachError> {
        let mut learner = Learner::new();
        for (display, line) in displays {
            learner.show(Display::parse(display).unwrap(), &line.repeat(6).into_bytes())?;
        }
        learner.is_settled()?;
        learner.write("learnt", &find("line-stream").unwrap().line, true)
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
            "no family of meters that is known here explains the 1 displays: the digits of `1.5 ohm` stand nowhere in \
             `9.9 ohm`",
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
