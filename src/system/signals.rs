//! Being asked to end, from the keyboard or by the system.
//!
//! The rule inside: whoever waits here ends in good order; a system that cannot ask is waited for without end, not taken as asking.

use std::future::{Future, pending};

/// Waits until Ctrl-C is pressed or the system asks the program to end; called inside a Tokio runtime. From the call on, neither
/// ends the program by itself.
#[cfg(unix)]
pub fn asked_to_end() -> impl Future<Output = ()> {
    use tokio::signal::unix::{SignalKind, signal};
    let [pressed, asked] = [SignalKind::interrupt(), SignalKind::terminate()].map(|kind| {
        // listened for now, not when it is first waited for
        let signal = signal(kind);
        async {
            match signal {
                Ok(mut signal) => drop(signal.recv().await),
                Err(_) => pending().await,
            }
        }
    });
    async {
        tokio::select! {
            () = pressed => {}
            () = asked => {}
        }
    }
}

/// Waits until Ctrl-C is pressed; being asked by the system is not supported on this one.
#[cfg(not(unix))]
pub fn asked_to_end() -> impl Future<Output = ()> {
    async {
        if tokio::signal::ctrl_c().await.is_err() {
            pending().await
        }
    }
}
