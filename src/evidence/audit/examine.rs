//! A signed journal examined from itself alone: the record of a run, or an identification.
//!
//! The rule inside: whatever it says of itself is made again and compared; every difference is a remark, and the examination goes on
//! as far as it can. What its events come to is the one fold ([`crate::run::folded`]).

use jiff::Timestamp;
use serde::Serialize;
use serde::de::DeserializeOwned;

use super::known::Known;
use super::remark::{Concern, Remark, Remarks};
use super::source::{from_source, is_guarded, profiles_of};
use crate::evidence::journal::{self, Line};
use crate::evidence::keys::{self, PublicKey};
use crate::located::Text;
use crate::run::folded::{About, Folded, Unfolded, fold_opened};
use crate::value::reading::{Function, Reading};

/// What the examination came to.
#[derive(Debug)]
pub struct Examined<F> {
    /// The key that signed, where the signature is good.
    pub signer: Option<PublicKey>,
    /// What the events came to, as far as they could be read.
    pub folded: Option<F>,
    /// Whatever does not agree, and what is to be said all the same.
    pub remarks: Vec<Remark>,
}

impl<F> Examined<F> {
    /// The first remark that speaks against it.
    pub fn against(&self) -> Option<&Remark> {
        self.remarks.iter().find(|remark| remark.is_against())
    }
}

/// What can be examined: what its events come to, and what else it says of itself.
pub trait Examinable: Folded {
    /// The profiles that it carries.
    fn profiles(opened: &Self::Opened) -> &[Text];

    /// Why it could not be opened, in words.
    fn unopened(why: Self::Unopened) -> Vec<String>;

    /// The reading in an event, and the function that a typed one is read for, or why there can be no reading there.
    fn reading<'e>(&self, event: &'e Self::Event) -> Option<(&'e Reading, Result<Option<Function>, String>)>;

    /// Whether an event says that nothing guards the frame that its reading came in.
    fn is_doubted(_: &Self::Event) -> bool {
        false
    }

    /// Whether an event that says what the program itself made of what came before is what it makes of that, or how it differs, in words.
    ///
    /// # Errors
    /// It is not.
    fn made_again(&self, _: &Self::Event, _: &Known) -> Result<(), String> {
        Ok(())
    }

    /// The step that an event is about, to be named before what is said of it.
    fn step(event: &Self::Event) -> Option<&str>;

    /// Begins, as [`Folded::open`] does; what was made of the same texts before is known.
    ///
    /// # Errors
    /// As [`Folded::open`].
    fn open_known(opened: Self::Opened, at: Timestamp, _: &Known) -> Result<Self, Self::Unopened> {
        Self::open(opened, at)
    }

    /// Remarks on the whole: what it carries, how it ended.
    fn on_all(&self, lines: u64, known: &Known, remarks: &mut Remarks);
}

/// Examines a journal and its signature; `expected` pins the key.
pub fn examine<F>(bytes: &[u8], signature: &str, expected: Option<&PublicKey>) -> Examined<F>
where
    F: Examinable,
    F::Opened: Clone,
    F::Event: Serialize + DeserializeOwned,
{
    examine_known(bytes, signature, expected, &Known::default())
}

/// The same, one of many in one audit.
pub fn examine_known<F>(bytes: &[u8], signature: &str, expected: Option<&PublicKey>, known: &Known) -> Examined<F>
where
    F: Examinable,
    F::Opened: Clone,
    F::Event: Serialize + DeserializeOwned,
{
    let mut remarks = Remarks::default();
    let signer = match keys::verify(bytes, signature, expected) {
        Ok(key) => Some(key),
        Err(error) => {
            remarks.add(Concern::Signature, 0, error.to_string());
            None
        }
    };
    let folded = match journal::parse::<F::Event>(bytes) {
        Ok(lines) => {
            for step in journal::clock_steps_back(&lines) {
                let what = format!("the clock stepped back from {} to {}", step.before, step.at);
                remarks.add(Concern::Clock, step.n + 1, what);
            }
            fold_lines(lines, known, &mut remarks)
        }
        Err(error) => {
            remarks.add(Concern::Chain, 0, error.to_string());
            None
        }
    };
    let remarks = remarks.into_all();
    Examined {
        signer,
        folded,
        remarks,
    }
}

fn fold_lines<F>(lines: Vec<Line<F::Event>>, known: &Known, remarks: &mut Remarks) -> Option<F>
where
    F: Examinable,
    F::Opened: Clone,
{
    let profiles = lines.first().and_then(|first| F::opening(&first.event));
    let profiles = profiles.map_or_else(Vec::new, |opened| profiles_of(F::profiles(opened), remarks));
    let mut refused = Vec::new();
    let look = |before: &F, n: usize, event: &F::Event| {
        let about = || F::step(event).map_or_else(String::new, |step| format!("`{step}`: "));
        if let Some((reading, function)) = before.reading(event) {
            let source = function.and_then(|function| from_source(reading, function, &profiles));
            let guarded = F::is_doubted(event) && is_guarded(reading, &profiles);
            let guarded =
                guarded.then(|| "the frame was doubted, and a checksum or a second frame guards it".to_owned());
            for what in source.err().into_iter().chain(guarded) {
                remarks.add(Concern::Reading, n as u64 + 1, format!("{}{what}", about()));
            }
        }
        if let Err(what) = before.made_again(event, known) {
            remarks.add(Concern::Verdict, n as u64 + 1, format!("{}{what}", about()));
        }
    };
    let count = lines.len() as u64;
    let events = lines.into_iter().map(|line| (line.at, line.event));
    let open = |opened, at| F::open_known(opened, at, known);
    let folded = fold_opened::<F>(open, events, look, |n, why| refused.push((n, why)));
    // what comes after a line that does not fit counts for nothing, whatever it says
    if let Some((n, why)) = refused.first() {
        let concern = match why.about {
            About::Order => Concern::Order,
            About::Verdict => Concern::Verdict,
        };
        let further = match refused.len() - 1 {
            0 => String::new(),
            more => format!("; of the lines after it {more} count for nothing"),
        };
        remarks.add(concern, *n as u64 + 1, format!("{}{further}", why.what));
    }
    match folded {
        Ok(folded) => {
            folded.on_all(count, known, remarks);
            Some(folded)
        }
        Err(Unfolded::NoOpening) => {
            remarks.add(Concern::Order, 1, "it does not begin with its opening");
            None
        }
        Err(Unfolded::Unopened(why)) => {
            F::unopened(why)
                .into_iter()
                .for_each(|what| remarks.add(Concern::Text, 1, what));
            None
        }
    }
}
