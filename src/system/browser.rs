//! The browser of whoever sits here.
//!
//! The rule inside: it is asked for and never forced; where there is none, that is no error.

use std::process::{Command, Stdio};

/// The program by which a desktop opens an address; where there is none, nobody is asked.
const OPENER: &str = "xdg-open";

/// Asks the desktop to open an address; true where somebody was there to ask.
pub fn open(address: &str) -> bool {
    let mut opener = Command::new(OPENER);
    let opener = opener
        .arg(address)
        .stdin(Stdio::null())
        .stdout(Stdio::null())
        .stderr(Stdio::null());
    let Ok(mut asked) = opener.spawn() else { return false };
    // it is waited for, so that nothing of it is left behind
    std::thread::spawn(move || asked.wait());
    true
}
