//! The page as a face of the walk: what is shown goes there, what is said there comes back.
//!
//! The rule inside: the server has a thread of its own, so that neither waits for the other's disk, browser or meter.

use std::sync::Arc;

use tokio::sync::mpsc::{UnboundedReceiver, unbounded_channel};

use super::about::About;
use super::door::{Door, Open, Shown};
use super::error::Error;
use super::serve::{Serving, accept};
use super::shared::Shared;
use super::told::Told;
use crate::run::dialogue::{Engineer, Said, Show};

/// A page that is served.
pub struct Served {
    shared: Arc<Shared>,
    /// The address that opens it in one browser, once.
    pub address: String,
    /// What is compared before a device is let in; none on the loopback.
    pub shown: Option<Shown>,
    /// What is said on it.
    pub said: UnboundedReceiver<Said>,
}

/// Whom things are shown to.
pub struct PageFace(Arc<Shared>);

impl Served {
    /// Serves a page until the program ends; `tell` is told of each browser that opened it, and of each new address.
    ///
    /// # Errors
    /// The address is none to be served, no port or no thread is to be had, or the certificate cannot be kept.
    pub fn begin(about: About, door: &Door, tell: impl Fn(Told) + Send + Sync + 'static) -> Result<Served, Error> {
        let Open { listener, address, tls } = door.open()?;
        let (answers, said) = unbounded_channel();
        let shared = Arc::new(Shared::new(address, about, answers));
        let first = shared.address.opens(&shared.new_code());
        let runtime = tokio::runtime::Builder::new_current_thread().enable_all().build()?;
        let (tls, shown) = tls.unzip();
        let serving = Serving {
            shared: shared.clone(),
            tls,
            tell: Arc::new(tell),
        };
        std::thread::Builder::new().name("page".into()).spawn(move || {
            runtime.block_on(async {
                match tokio::net::TcpListener::from_std(listener) {
                    Ok(listener) => accept(listener, serving).await,
                    Err(error) => tracing::warn!(%error, "the page is not served"),
                }
            });
        })?;
        Ok(Served {
            shared,
            address: first,
            shown,
            said,
        })
    }

    /// Whom things are shown to.
    pub fn face(&self) -> PageFace {
        PageFace(self.shared.clone())
    }

    /// The walk is over: these lines stand there from now on.
    pub fn end(&self, lines: Vec<String>) {
        self.shared.end(lines);
    }
}

impl Engineer for PageFace {
    fn show(&mut self, show: &Show) {
        self.0.show(show);
    }

    fn beat(&mut self) {
        self.0.beat();
    }
}
