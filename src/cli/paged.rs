//! The page beside the terminal: opened with a run, shown the same, told of its end.
//!
//! The rule inside: it is a second face of the same walk; without it everything is as before.

use std::path::PathBuf;

use tokio::sync::mpsc::UnboundedReceiver;

use super::error::Failure;
use crate::job::Job;
use crate::meter::decode::{Period, Profile};
use crate::run::dialogue::{Engineer, Said, Show};

/// A reading of a meter whose time is not known is no longer live after this, in milliseconds.
const FRESH_MS: u64 = 1_000;

/// Two faces of one walk.
pub(super) struct Both<'f>(pub &'f mut dyn Engineer, pub &'f mut dyn Engineer);

impl Engineer for Both<'_> {
    fn show(&mut self, show: &Show) {
        // the page first: a terminal may be slow to scroll
        self.1.show(show);
        self.0.show(show);
    }

    fn beat(&mut self) {
        self.0.beat();
        self.1.beat();
    }
}

/// How old a reading may be and still be shown as live: a second, or one and a half periods of a slower meter.
fn fresh_ms(profile: Option<&Profile>) -> u64 {
    match profile.map(|profile| &profile.period) {
        Some(Period::Ms(ms)) => FRESH_MS.max(u64::from(*ms) * 3 / 2),
        _ => FRESH_MS,
    }
}

#[cfg(feature = "page")]
mod with {
    use super::{Engineer, Failure, Job, PathBuf, Profile, Said, UnboundedReceiver, fresh_ms};
    use crate::cli::out::say;
    use crate::page::{About, PageFace, Served};
    use crate::system::browser;
    use crate::terminal::input;

    /// A page that is open.
    pub(in crate::cli) struct Page {
        served: Served,
        face: PageFace,
    }

    impl Page {
        /// Serves the page of a job where one is asked for, whose pictures are kept in files that begin so, and asks the desktop to open it where a person sits at the terminal.
        pub(in crate::cli) fn open(
            asked: bool,
            job: &Job,
            profile: Option<&Profile>,
            pictures: PathBuf,
        ) -> Result<Option<Page>, Failure> {
            if !asked {
                return Ok(None);
            }
            let about = About {
                title: format!("{}, {}", job.place.name, job.cable),
                near: job.near.name.clone(),
                far: job.far.name.clone(),
                fresh_ms: fresh_ms(profile),
                pictures,
            };
            let served = Served::begin(about, |next| {
                say!("The page was opened in a browser. Another one: {next}")
            })
            .map_err(|error| {
                Failure::equipment(format!("the page cannot be served: {error}")).hint("go on without `--page`")
            })?;
            say!(
                "The page, on this machine alone and for one browser: {}",
                served.address
            );
            if input::is_interactive() && browser::open(&served.address) {
                say!("Your browser is asked to open it. This terminal stays: what is typed here is heard as well.");
            }
            let face = served.face();
            Ok(Some(Page { served, face }))
        }

        /// Whom things are shown to, and what is said there.
        pub(in crate::cli) fn parts(&mut self) -> (&mut dyn Engineer, &mut UnboundedReceiver<Said>) {
            (&mut self.face, &mut self.served.said)
        }

        /// What stands there once the walk is over.
        pub(in crate::cli) fn end(&self, lines: Vec<String>) {
            self.served.end(lines);
        }
    }
}

#[cfg(not(feature = "page"))]
mod with {
    use super::{Engineer, Failure, Job, PathBuf, Profile, Said, UnboundedReceiver, fresh_ms};

    /// There is none.
    pub(in crate::cli) enum Page {}

    impl Page {
        pub(in crate::cli) fn open(
            asked: bool,
            _: &Job,
            profile: Option<&Profile>,
            _: PathBuf,
        ) -> Result<Option<Page>, Failure> {
            let _ = fresh_ms(profile);
            match asked {
                true => Err(Failure::refused("this coreproof was built without the page")
                    .hint("go on without `--page`, or build it with the feature `page`")),
                false => Ok(None),
            }
        }

        pub(in crate::cli) fn parts(&mut self) -> (&mut dyn Engineer, &mut UnboundedReceiver<Said>) {
            match *self {}
        }

        pub(in crate::cli) fn end(&self, _: Vec<String>) {
            match *self {}
        }
    }
}

pub(super) use with::Page;

#[cfg(test)]
mod tests {
    use super::*;
    use crate::meter::profile;

    #[test]
    fn what_a_slow_meter_sent_stays_live_for_one_and_a_half_of_its_periods() {
        let mut profile = profile::find("line-stream").unwrap().clone();
        for (period, expected) in [
            (Period::Ms(250), 1_000),
            (Period::Ms(667), 1_000),
            (Period::Ms(2_000), 3_000),
            (Period::OnChange, 1_000),
        ] {
            profile.period = period;
            assert_eq!(fresh_ms(Some(&profile)), expected, "{period:?}");
        }
        assert_eq!(fresh_ms(None), 1_000);
    }
}
