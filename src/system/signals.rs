//! Being asked to stop, from the keyboard or by the system.
//!
//! The rule inside: whoever waits here ends in good order; a system that cannot ask is waited for without end, not taken as asking.

/// Returns when Ctrl-C is pressed or the system asks the program to end.
pub async fn asked_to_end() {
    tokio::select! {
        _ = tokio::signal::ctrl_c() => {}
        () = terminated() => {}
    }
}

#[cfg(unix)]
async fn terminated() {
    use tokio::signal::unix::{SignalKind, signal};
    match signal(SignalKind::terminate()) {
        Ok(mut ended) => drop(ended.recv().await),
        Err(_) => std::future::pending().await,
    }
}

/// Not supported on this system: only Ctrl-C is heard.
#[cfg(not(unix))]
async fn terminated() {
    std::future::pending().await
}
