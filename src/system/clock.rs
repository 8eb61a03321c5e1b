//! A clock that nobody sets.
//!
//! The rule inside: it never goes back, and on Linux it goes on while the machine sleeps.

use std::time::Duration;

/// Time since the machine was started, sleep included.
#[cfg(target_os = "linux")]
pub fn since_start() -> Duration {
    let time = rustix::time::clock_gettime(rustix::time::ClockId::Boottime);
    Duration::new(
        u64::try_from(time.tv_sec).unwrap_or(0),
        u32::try_from(time.tv_nsec).unwrap_or(0),
    )
}

/// Time since the first call; whether it counts sleep is for the system to say.
#[cfg(not(target_os = "linux"))]
pub fn since_start() -> Duration {
    static FIRST: std::sync::OnceLock<std::time::Instant> = std::sync::OnceLock::new();
    FIRST.get_or_init(std::time::Instant::now).elapsed()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_clock_goes_on_and_never_back() {
        let before = since_start();
        std::thread::sleep(Duration::from_millis(2));
        let after = since_start();
        assert!(before + Duration::from_millis(2) <= after, "{before:?} {after:?}");
    }
}
