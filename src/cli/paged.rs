//! The page beside the terminal: opened with a run, shown the same, told of its end.
//!
//! The rule inside: it is a second face of the same walk; without it everything is as before.

use std::net::{IpAddr, SocketAddr};
use std::path::PathBuf;
use std::str::FromStr;

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

/// Where a page is asked for.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Where {
    /// In browsers of this machine.
    Here,
    /// On the network by which this machine goes out.
    Lan,
    /// On this address of this machine, at any port where it is 0.
    At(SocketAddr),
}

impl FromStr for Where {
    type Err = String;

    fn from_str(text: &str) -> Result<Where, String> {
        let at = || {
            text.parse()
                .or_else(|_| text.parse().map(|ip: IpAddr| SocketAddr::new(ip, 0)))
        };
        match text {
            "here" => Ok(Where::Here),
            "lan" => Ok(Where::Lan),
            _ => at().map(Where::At).map_err(|_| {
                "it is `here`, `lan`, or an address of this machine such as 192.168.43.5; a run's name stands before `--page`"
                    .into()
            }),
        }
    }
}

#[cfg(feature = "page")]
mod with {
    use std::net::IpAddr;
    use std::sync::Arc;

    use tokio::sync::Notify;

    use super::{Engineer, Failure, Job, PathBuf, Profile, Said, UnboundedReceiver, Where, fresh_ms};
    use crate::cli::home::Home;
    use crate::cli::out::{say, square};
    use crate::page::{About, Door, PageFace, Served, Shown, Told};
    use crate::system::browser;
    use crate::terminal::input;

    /// A page that is open.
    pub(in crate::cli) struct Page {
        served: Served,
        face: PageFace,
        paired: Arc<Notify>,
        draws: bool,
    }

    impl Page {
        /// Serves the page of a job where one is asked for, whose pictures are kept in files that begin so; nothing is said of it yet.
        pub(in crate::cli) fn open(
            asked: Option<Where>,
            job: &Job,
            profile: Option<&Profile>,
            (home, plain): (&Home, bool),
            pictures: PathBuf,
        ) -> Result<Option<Page>, Failure> {
            let network = |at| Door::Network {
                at,
                certificate: home.page_certificate(),
            };
            let door = match asked {
                None => return Ok(None),
                Some(Where::Here) => Door::Loopback,
                Some(Where::Lan) => network(None),
                Some(Where::At(at)) => network(Some(at)),
            };
            let about = About {
                title: format!("{}, {}", job.place.name, job.cable),
                near: job.near.name.clone(),
                far: job.far.name.clone(),
                fresh_ms: fresh_ms(profile),
                pictures,
            };
            let paired = Arc::new(Notify::new());
            let (notify, draws) = (paired.clone(), input::is_interactive() && !plain);
            let is_network = door != Door::Loopback;
            let served = Served::begin(about, &door, move |told| match told {
                Told::Paired { from, number } => {
                    notify.notify_one();
                    say_paired(number, is_network.then_some(from));
                }
                Told::Renewed(address) => {
                    say!("The page, for 10 minutes and for one browser: {address}");
                    let _ = draws && is_network && square(&address);
                }
            })?;
            let face = served.face();
            Ok(Some(Page {
                served,
                face,
                paired,
                draws,
            }))
        }

        /// Says how it is opened. On this machine the desktop is asked to, where a person sits at the terminal; on a network the square code
        /// stands there until it was scanned, or a line is ended.
        pub(in crate::cli) async fn invite(&self, said: &mut UnboundedReceiver<Said>) {
            let address = &self.served.address;
            let Some(shown) = &self.served.shown else {
                say!("The page, on this machine alone and for one browser: {address}");
                if input::is_interactive() && browser::open(address) {
                    say!("Your browser is asked to open it. This terminal stays: what is typed here is heard as well.");
                }
                return;
            };
            say_shown(shown);
            say!("The page, on this network for 10 minutes and for one browser: {address}");
            if self.draws && square(address) {
                say!("Scan it with the phone, or press Enter to begin without.");
                tokio::select! {
                    () = self.paired.notified() => {}
                    _ = said.recv() => {}
                }
            }
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

    fn say_paired(number: u32, from: Option<IpAddr>) {
        match from {
            None => say!("The page was opened in a browser."),
            Some(from) => say!(
                "The page was opened by {from}: device {number}. If that is not your phone, break off with Ctrl-C."
            ),
        }
        say!("To open it in another one as well, open the same address there: the next one then stands here.");
    }

    /// What has to be known before a phone is let in.
    fn say_shown(shown: &Shown) {
        if let Some(anew) = shown.anew {
            say!("A certificate was made for the page: {}.", anew.words());
        }
        let (first, second) = shown.fingerprint.split_at(48);
        say!(
            "The phone will warn, since the certificate is this laptop's own. Go on there only where it shows this SHA-256 fingerprint:\n  {first}\n  {second}"
        );
        say!(
            "Somebody between phone and laptop could show the phone what is not so and answer in its name, unless the fingerprint was compared. \
             Use the phone's own hotspot or a cable, not the Wi-Fi of the site."
        );
        say!(
            "What makes a place dead or live is said at this keyboard, never on a phone; the passphrase too. Before hands go to a conductor believe the voltage \
             indicator, and no screen."
        );
    }
}

#[cfg(not(feature = "page"))]
mod with {
    use super::{Engineer, Failure, Job, PathBuf, Profile, Said, UnboundedReceiver, Where, fresh_ms};
    use crate::cli::home::Home;

    /// There is none.
    pub(in crate::cli) enum Page {}

    impl Page {
        pub(in crate::cli) fn open(
            asked: Option<Where>,
            _: &Job,
            profile: Option<&Profile>,
            _: (&Home, bool),
            _: PathBuf,
        ) -> Result<Option<Page>, Failure> {
            let _ = fresh_ms(profile);
            match asked {
                Some(_) => Err(Failure::refused("this coreproof was built without the page")
                    .hint("go on without `--page`, or build it with the feature `page`")),
                None => Ok(None),
            }
        }

        pub(in crate::cli) async fn invite(&self, _: &mut UnboundedReceiver<Said>) {
            match *self {}
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

/// Says how a page is opened, where there is one.
pub(super) async fn invite(page: Option<&Page>, said: &mut UnboundedReceiver<Said>) {
    if let Some(page) = page {
        page.invite(said).await;
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::meter::profile;

    #[test]
    fn a_page_is_here_or_on_one_address() {
        let check = |text: &str, expected: Option<Where>| assert_eq!(text.parse::<Where>().ok(), expected, "{text}");
        let at = |text: &str| Some(Where::At(text.parse().unwrap()));
        check("here", Some(Where::Here));
        check("lan", Some(Where::Lan));
        check("192.168.43.5", at("192.168.43.5:0"));
        check("192.168.43.5:8443", at("192.168.43.5:8443"));
        check("fd00::5", at("[fd00::5]:0"));
        check("[fd00::5]:8443", at("[fd00::5]:8443"));
        for other in [
            "",
            "Hall",
            "LAN",
            "192.168.43",
            "192.168.43.5/24",
            "laptop:8443",
            "8443",
        ] {
            check(other, None);
        }
    }

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
