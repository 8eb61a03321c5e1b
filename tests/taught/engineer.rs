//! An engineer at such a meter: shows what is wished for, types what stands there, and tries what was learnt.
//!
//! The rule inside: what the meter cannot show is skipped, as a person would; nothing is known of its bytes.

use coreproof::meter::decode::frame::{Framer, Piece};
use coreproof::meter::decode::{Decoded, Profile, decode};
use coreproof::teach::learner::{DISPLAYS_MAX, Learner};
use coreproof::teach::listen::plain_line;
use coreproof::teach::wish::Wish;
use coreproof::value::quantity::{Prefix, Shown};
use coreproof::value::reading::{Function, Reading};

use crate::shows::{Family, RANGES, Show};

pub enum Outcome {
    Exact { read: usize },
    Part { read: usize, unread: usize },
    Wrong(String),
    Nothing,
    Refused(String),
}

pub struct Taught {
    pub displays: usize,
    pub outcome: Outcome,
    /// Wishes that were made again right after they were met.
    pub again: Vec<String>,
}

/// A generator that gives the same numbers for the same seed (splitmix64, public domain, from memory).
pub struct Dice(u64);

impl Dice {
    pub fn below(&mut self, bound: usize) -> usize {
        self.0 = self.0.wrapping_add(0x9e37_79b9_7f4a_7c15);
        let mut z = self.0;
        z = (z ^ z >> 30).wrapping_mul(0xbf58_476d_1ce4_e5b9);
        z = (z ^ z >> 27).wrapping_mul(0x94d0_49bb_1331_11eb);
        usize::try_from((z ^ z >> 31) % u64::try_from(bound).unwrap()).unwrap()
    }

    fn count(&mut self) -> u16 {
        u16::try_from(1000 + self.below(9000)).unwrap()
    }
}

/// Everything the meter may show next, in an order of chance.
fn possible(dice: &mut Dice) -> Vec<Show> {
    let mut all = Vec::new();
    for (function, ranges) in RANGES {
        for (prefix, decimals) in ranges {
            for negative in [false, true] {
                if negative && function != Function::VoltageDc {
                    continue;
                }
                all.push(Show {
                    function,
                    prefix: *prefix,
                    count: dice.count(),
                    decimals: *decimals,
                    negative,
                    over: false,
                });
            }
        }
    }
    all.push(Show {
        function: Function::Resistance,
        prefix: Prefix::Mega,
        count: 9999,
        decimals: 3,
        negative: false,
        over: true,
    });
    for at in (1..all.len()).rev() {
        all.swap(at, dice.below(at + 1));
    }
    all
}

fn fits(wish: &Wish, show: &Show, before: &[Show]) -> bool {
    let display = show.display();
    let plain = !show.over && !show.negative;
    match wish {
        Wish::Digits => plain,
        Wish::Negative { like, .. } => {
            show.negative
                && display.function == like.function
                && display.prefix == like.prefix
                && decimals(like) == show.decimals
        }
        Wish::OtherQuantity { than, .. } => plain && display.unit != than.unit,
        Wish::OverRange { like } => show.over && display.function == like.function,
        Wish::OtherFunction { than, .. } => {
            plain && display.unit == than.unit && display.function != than.function && display.prefix == than.prefix
        }
        Wish::OtherPrefix { than, .. } => plain && display.function == than.function && display.prefix != than.prefix,
        Wish::OtherPoint { than, .. } => {
            plain
                && display.function == than.function
                && display.prefix == than.prefix
                && decimals(than) != show.decimals
        }
        Wish::OtherDigits { like, .. } => {
            plain
                && display.function == like.function
                && display.prefix == like.prefix
                && decimals(like) == show.decimals
        }
        Wish::Examination { like } => {
            plain && display.function == like.function && before.iter().any(|known| known.is_like(show))
        }
    }
}

fn decimals(display: &coreproof::teach::display::Display) -> usize {
    match &display.shown {
        Shown::Digits(digits) => digits.text().split_once('.').map_or(0, |(_, fraction)| fraction.len()),
        _ => 0,
    }
}

/// What is heard while a display stands.
fn capture(family: &Family, show: &Show, tick: u32, dice: &mut Dice) -> Vec<u8> {
    let mut heard: Vec<u8> = (0..family.times).flat_map(|n| (family.send)(show, tick + n)).collect();
    if family.midway {
        let one = (family.send)(show, tick).len();
        heard.drain(..dice.below(one));
    }
    heard
}

pub fn taught(family: &Family, seed: u64) -> Taught {
    let mut dice = Dice(seed);
    let (mut learner, mut shown, mut again) = (Learner::new(), Vec::<Show>::new(), Vec::new());
    let mut refused = None;
    let mut tick = 0;
    while learner.displays().len() < DISPLAYS_MAX {
        let Some(wish) = learner.wishes().into_iter().next() else {
            break;
        };
        let Some(show) = possible(&mut dice).into_iter().find(|show| fits(&wish, show, &shown)) else {
            learner.lacks(&wish);
            continue;
        };
        tick += 100;
        let heard = capture(family, &show, tick, &mut dice);
        match learner.show(show.display(), &heard) {
            Ok(_) if !matches!(wish, Wish::Examination { .. } | Wish::OtherDigits { .. }) => {
                again.extend(
                    learner
                        .wishes()
                        .into_iter()
                        .filter(|next| *next == wish)
                        .map(|next| next.to_string()),
                );
            }
            Ok(_) => {}
            // what was typed was right, so it stands
            Err(error) => {
                refused = Some(error.to_string());
                break;
            }
        }
        shown.push(show);
    }
    let line = plain_line(9600, true, false);
    let outcome = match learner.finish("learnt", &line, true) {
        Err(error) => Outcome::Refused(refused.unwrap_or_else(|| error.to_string())),
        Ok(learnt) => examined(family, &learnt.profile, &shown, &mut dice),
    };
    Taught {
        displays: shown.len(),
        outcome,
        again,
    }
}

/// Holds what was learnt against displays that nobody typed.
fn examined(family: &Family, profile: &Profile, shown: &[Show], dice: &mut Dice) -> Outcome {
    let (mut read, mut unread) = (0, 0);
    let mut tick = 5000;
    for _ in 0..12 {
        for show in possible(dice) {
            tick += 100;
            let heard: Vec<u8> = (0..6).flat_map(|n| (family.send)(&show, tick + n)).collect();
            let readings = readings(profile, &heard);
            if let Some(wrong) = readings.iter().find(|reading| !is(reading, &show)) {
                let display = show.display();
                return Outcome::Wrong(format!(
                    "`{display}` is read as `{}` in {:?}",
                    wrong.display(),
                    wrong.function
                ));
            }
            // below zero was shown in one range only
            let like = |known: &Show| known.is_like(&show) && (known.negative || !show.negative);
            if shown.iter().any(like) && !show.over {
                read += usize::from(!readings.is_empty());
                unread += usize::from(readings.is_empty());
            }
        }
    }
    match (read, unread) {
        (0, _) => Outcome::Nothing,
        (read, 0) => Outcome::Exact { read },
        (read, unread) => Outcome::Part { read, unread },
    }
}

fn readings(profile: &Profile, bytes: &[u8]) -> Vec<Reading> {
    let mut framer = Framer::new(&profile.frame, false);
    framer.push(bytes);
    let mut readings = Vec::new();
    while let Some(piece) = framer.poll() {
        if let Piece::Frame { bytes, .. } = piece
            && let Decoded::Reading(reading) = decode(profile, &bytes)
        {
            readings.push(reading);
        }
    }
    readings
}

/// The reading is what the display shows, in value, unit and function.
fn is(reading: &Reading, show: &Show) -> bool {
    let display = show.display();
    if reading.function != Some(display.function) || reading.unit != display.unit {
        return false;
    }
    match (&reading.shown, &display.shown) {
        (Shown::Over, Shown::Over) => true,
        (Shown::Digits(sent), Shown::Digits(typed)) => {
            sent.value() * reading.prefix.factor() == typed.value() * display.prefix.factor()
        }
        _ => false,
    }
}
