//! Standard input in place of a meter.
//!
//! The rule inside: whoever uses it leaves standard input to it alone; its end is an end, not a fault.

use std::io::Read;

use super::pipe::Pipe;
use super::{Opener, Opening, Port};

const READ_BYTES: usize = 512;

/// Standard input, read by a thread that lives as long as the program.
#[derive(Debug, Clone, Copy)]
pub struct StandardInput;

impl Opener for StandardInput {
    fn open(&self) -> Opening {
        Box::pin(async { Ok(Box::new(fed_from(std::io::stdin())) as Box<dyn Port>) })
    }

    fn name(&self) -> &str {
        "stdin:"
    }

    fn is_one_way(&self) -> bool {
        true
    }
}

fn fed_from(mut input: impl Read + Send + 'static) -> Pipe {
    let (feed, pipe) = Pipe::new(None);
    // a thread of its own, because the runtime would wait at its end for a read that never returns
    std::thread::spawn(move || {
        let mut bytes = [0; READ_BYTES];
        loop {
            match input.read(&mut bytes) {
                Err(error) if error.kind() == std::io::ErrorKind::Interrupted => {}
                Ok(0) | Err(_) => return,
                Ok(count) if feed.blocking_send(bytes[..count].to_vec()).is_err() => return,
                Ok(_) => {}
            }
        }
    });
    pipe
}

#[cfg(test)]
mod tests {
    use super::*;
    use tokio::io::AsyncReadExt;

    #[tokio::test]
    async fn everything_that_is_read_arrives_and_then_the_end() {
        let input: Vec<u8> = (0..20_000u32).map(|n| n.to_le_bytes()[0]).collect();
        let mut pipe = fed_from(std::io::Cursor::new(input.clone()));
        let mut arrived = Vec::new();
        pipe.read_to_end(&mut arrived).await.unwrap();
        assert_eq!(arrived, input);
    }
}
