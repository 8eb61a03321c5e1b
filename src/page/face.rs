//! The page as a face of the walk: what is shown goes there, what is said there comes back.
//!
//! The rule inside: the server has a thread of its own, so that neither waits for the other's disk, browser or meter.

use std::io;
use std::net::{Ipv4Addr, TcpListener};
use std::sync::Arc;

use tokio::sync::mpsc::{UnboundedReceiver, unbounded_channel};

use super::about::About;
use super::guard::Address;
use super::serve::accept;
use super::shared::Shared;
use crate::run::dialogue::{Engineer, Said, Show};

/// A page that is served.
pub struct Served {
    shared: Arc<Shared>,
    /// The address that opens it in one browser, once.
    pub address: String,
    /// What is said on it.
    pub said: UnboundedReceiver<Said>,
}

/// Whom things are shown to.
pub struct PageFace(Arc<Shared>);

impl Served {
    /// Serves a page on the loopback until the program ends. `paired` is told of each browser that opened it, with the address for the next.
    ///
    /// # Errors
    /// No port or no thread is to be had.
    pub fn begin(about: About, paired: impl Fn(&str) + Send + Sync + 'static) -> io::Result<Served> {
        let listener = TcpListener::bind((Ipv4Addr::LOCALHOST, 0))?;
        listener.set_nonblocking(true)?;
        let address = Address {
            port: listener.local_addr()?.port(),
        };
        let (answers, said) = unbounded_channel();
        let shared = Arc::new(Shared::new(address, about, answers));
        let first = opens(&shared);
        let runtime = tokio::runtime::Builder::new_current_thread().enable_all().build()?;
        let serving = shared.clone();
        std::thread::Builder::new().name("page".into()).spawn(move || {
            let told = serving.clone();
            let next: Arc<dyn Fn() + Send + Sync> = Arc::new(move || paired(&opens(&told)));
            runtime.block_on(async {
                match tokio::net::TcpListener::from_std(listener) {
                    Ok(listener) => accept(listener, serving, next).await,
                    Err(error) => tracing::warn!(%error, "the page is not served"),
                }
            });
        })?;
        Ok(Served {
            shared,
            address: first,
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

/// The address with a new code, behind the sign that no browser sends on.
fn opens(shared: &Shared) -> String {
    format!("{}/#{}", shared.address.origin(), shared.new_code())
}

impl Engineer for PageFace {
    fn show(&mut self, show: &Show) {
        self.0.show(show);
    }

    fn beat(&mut self) {
        self.0.beat();
    }
}
