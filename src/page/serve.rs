//! The accept loop: who gets a seat, and for how long without a word.
//!
//! The rule inside: a connection has its time for its first request, and one whose browser is not paired gives its seat up to the next, so
//! that nobody keeps the page shut by being silent.

use std::sync::atomic::{AtomicU64, Ordering};
use std::sync::{Arc, Mutex, PoisonError};
use std::time::Duration;

use hyper::server::conn::http1;
use hyper::service::service_fn;
use hyper_util::rt::{TokioIo, TokioTimer};
use tokio::net::{TcpListener, TcpStream};
use tokio::task::AbortHandle;

use super::caller::{Caller, TIME};
use super::reply::reply;
use super::shared::Shared;

/// Most connections at once.
const SEATS: usize = 16;

/// Most bytes of a request's head.
const HEAD_MAX: usize = 16 * 1024;

struct Seat {
    number: u64,
    caller: Arc<Caller>,
    task: AbortHandle,
}

type Seats = Arc<Mutex<Vec<Seat>>>;

/// Serves connections without end; `next` is told of each browser that was paired.
pub(super) async fn accept(listener: TcpListener, shared: Arc<Shared>, next: Arc<dyn Fn() + Send + Sync>) {
    let seats = Seats::default();
    let numbers = AtomicU64::new(0);
    loop {
        let stream = match listener.accept().await {
            Ok((stream, _)) => stream,
            Err(_) => {
                // no more files can be opened just now
                tokio::time::sleep(Duration::from_millis(50)).await;
                continue;
            }
        };
        let mut taken = seats.lock().unwrap_or_else(PoisonError::into_inner);
        if SEATS <= taken.len() {
            let Some(stranger) = taken.iter().position(|seat| !seat.caller.known.load(Ordering::Relaxed)) else {
                continue;
            };
            taken.remove(stranger).task.abort();
        }
        let number = numbers.fetch_add(1, Ordering::Relaxed);
        let caller = Arc::new(Caller::default());
        let (shared, seats, here, next) = (shared.clone(), seats.clone(), caller.clone(), next.clone());
        let task = tokio::spawn(async move {
            serve(stream, shared, here, next).await;
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

async fn serve(stream: TcpStream, shared: Arc<Shared>, caller: Arc<Caller>, next: Arc<dyn Fn() + Send + Sync>) {
    let _ = stream.set_nodelay(true);
    let here = caller.clone();
    let service = service_fn(move |request| reply(shared.clone(), here.clone(), next.clone(), request));
    let connection = http1::Builder::new()
        .timer(TokioTimer::new())
        .header_read_timeout(TIME)
        .max_buf_size(HEAD_MAX)
        .serve_connection(TokioIo::new(stream), service);
    let silent = async {
        tokio::time::sleep(TIME).await;
        if caller.asked.load(Ordering::Relaxed) {
            std::future::pending::<()>().await;
        }
    };
    tokio::select! {
        _ = connection => {}
        () = silent => {}
    }
}
