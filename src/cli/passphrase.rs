//! Asking for a passphrase: from the terminal with the echo off, or as a line from a pipe.

use tokio::sync::mpsc::UnboundedReceiver;

use super::error::Failure;
use crate::terminal::input::EchoOff;

/// Asks once.
pub async fn ask(prompt: &str, lines: &mut UnboundedReceiver<String>) -> Result<String, Failure> {
    use std::io::Write;
    let _echo_off = EchoOff::new();
    print!("{prompt}: ");
    // a prompt that cannot be written is no reason not to read the answer
    let _ = std::io::stdout().flush();
    tokio::select! {
        line = lines.recv() => {
            if !crate::terminal::input::is_interactive() {
                println!();
            }
            line.ok_or_else(|| {
                Failure::refused("no passphrase was given: the input ended").hint("type the passphrase, or give it as the next line of the input")
            })
        }
        _ = tokio::signal::ctrl_c() => {
            println!();
            Err(Failure { exit: super::error::INTERRUPTED, ..Failure::refused("interrupted at the passphrase") })
        }
    }
}
