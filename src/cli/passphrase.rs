//! Asking for a passphrase: from the terminal with the echo off, or as a line from a pipe.

use tokio::sync::mpsc::UnboundedReceiver;

use super::error::Failure;
use super::out::say;
use crate::run::dialogue::Said;
use crate::system::signals;
use crate::terminal::input;

/// Asks once.
pub(super) async fn ask(prompt: &str, lines: &mut UnboundedReceiver<Said>) -> Result<String, Failure> {
    // listened for before the echo is off, so that whoever ends the program never leaves the terminal without it
    let asked_to_end = signals::asked_to_end();
    let _echo_off = input::echo_off();
    super::out::part(format_args!("{prompt}: "));
    tokio::select! {
        line = lines.recv() => {
            if !input::is_interactive() {
                say!("");
            }
            line.and_then(Said::into_line).ok_or_else(|| {
                Failure::refused("no passphrase was given: the input ended").hint("type the passphrase, or give it as the next line of the input")
            })
        }
        () = asked_to_end => {
            say!("");
            Err(Failure { exit: super::error::INTERRUPTED, ..Failure::refused("interrupted at the passphrase") })
        }
    }
}
