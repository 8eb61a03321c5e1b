//! The accept loop: who is let in, and for how long without a word.
//!
//! The rule inside: a connection has its time for its first request, TLS and all, and one whose browser is not paired gives its seat up
//! to the next, so that nobody keeps the page shut by being silent.

use std::sync::atomic::{AtomicU64, Ordering};
use std::sync::{Arc, Mutex, PoisonError};
use std::time::Duration;

use hyper::server::conn::http1;
use hyper::service::service_fn;
use hyper_util::rt::{TokioIo, TokioTimer};
use tokio::io::{AsyncRead, AsyncWrite};
use tokio::net::{TcpListener, TcpStream};
use tokio::task::AbortHandle;
use tokio_rustls::TlsAcceptor;

use super::caller::{Caller, TIME};
use super::reply::reply;
use super::seats::{Seating, Sitting, next};
use super::shared::Shared;
use super::told::Told;

/// Most bytes of a request's head.
const HEAD_MAX: usize = 16 * 1024;

/// What every connection is served with.
#[derive(Clone)]
pub(super) struct Serving {
    pub shared: Arc<Shared>,
    pub tls: Option<TlsAcceptor>,
    /// Told of each browser that was paired, and of each new code.
    pub tell: Arc<dyn Fn(Told) + Send + Sync>,
}

struct Seat {
    number: u64,
    caller: Arc<Caller>,
    task: AbortHandle,
}

type Seats = Arc<Mutex<Vec<Seat>>>;

/// Serves connections without end.
pub(super) async fn accept(listener: TcpListener, serving: Serving) {
    let seats = Seats::default();
    let numbers = AtomicU64::new(0);
    loop {
        let (stream, from) = match listener.accept().await {
            Ok((stream, from)) => (stream, from.ip()),
            Err(_) => {
                // no more files can be opened just now
                tokio::time::sleep(Duration::from_millis(50)).await;
                continue;
            }
        };
        let paired = serving.shared.paired_from();
        let mut taken = seats.lock().unwrap_or_else(PoisonError::into_inner);
        let sitting: Vec<_> = taken.iter().map(|seat| seat.sitting(&paired)).collect();
        match next(&sitting, from) {
            Seating::Free => {}
            Seating::Of(stranger) => taken.remove(stranger).task.abort(),
            Seating::Full => continue,
        }
        let number = numbers.fetch_add(1, Ordering::Relaxed);
        let caller = Arc::new(Caller::new(from));
        let (serving, seats, here) = (serving.clone(), seats.clone(), caller.clone());
        let task = tokio::spawn(async move {
            serve(stream, serving, here).await;
            let mut taken = seats.lock().unwrap_or_else(PoisonError::into_inner);
            taken.retain(|seat| seat.number != number);
        });
        taken.push(Seat {
            number,
            caller,
            task: task.abort_handle(),
        });
    }
}

impl Seat {
    fn sitting(&self, paired: &[std::net::IpAddr]) -> Sitting {
        let from = self.caller.from;
        Sitting {
            from,
            known: self.caller.known.load(Ordering::Relaxed),
            asked: self.caller.asked.load(Ordering::Relaxed),
            beside_known: paired.contains(&from),
        }
    }
}

async fn serve(stream: TcpStream, serving: Serving, caller: Arc<Caller>) {
    let _ = stream.set_nodelay(true);
    let silent = async {
        tokio::time::sleep(TIME).await;
        if caller.asked.load(Ordering::Relaxed) {
            std::future::pending::<()>().await;
        }
    };
    let served = async {
        match serving.tls.clone() {
            None => speak(stream, &serving, &caller).await,
            Some(tls) => {
                // what is no TLS, or an older one, goes without an answer
                if let Ok(stream) = tls.accept(stream).await {
                    speak(stream, &serving, &caller).await;
                }
            }
        }
    };
    tokio::select! {
        () = served => {}
        () = silent => {}
    }
}

async fn speak(stream: impl AsyncRead + AsyncWrite + Unpin, serving: &Serving, caller: &Arc<Caller>) {
    let service = service_fn(|request| {
        let Serving { shared, tell, .. } = serving.clone();
        reply(shared, caller.clone(), tell, request)
    });
    // whoever breaks off has no answer to wait for
    let _ = http1::Builder::new()
        .timer(TokioTimer::new())
        .header_read_timeout(TIME)
        .max_buf_size(HEAD_MAX)
        .serve_connection(TokioIo::new(stream), service)
        .await;
}
