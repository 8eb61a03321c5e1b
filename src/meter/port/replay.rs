//! A capture in place of a meter.
//!
//! The rule inside: bytes come as they came, in the same pieces, at the same times or as fast as they are read; the end
//! of the capture is an end, not a fault.

use std::sync::Arc;
use std::time::Duration;

use tokio::time::{Instant, sleep_until};

use super::pipe::Pipe;
use super::recording::Recording;
use super::{Opener, Opening, Port};

/// A capture to be played, from its beginning each time it is opened.
#[derive(Debug, Clone)]
pub struct Replay {
    name: String,
    recording: Arc<Recording>,
    timed: bool,
}

impl Replay {
    /// `timed` keeps the times of the recording.
    pub fn new(name: impl Into<String>, recording: Recording, timed: bool) -> Replay {
        Replay {
            name: name.into(),
            recording: Arc::new(recording),
            timed,
        }
    }
}

impl Opener for Replay {
    fn open(&self) -> Opening {
        let Replay { recording, timed, .. } = self.clone();
        Box::pin(async move {
            let (feed, pipe) = Pipe::new(None);
            tokio::spawn(async move {
                let began = Instant::now();
                for piece in &recording.pieces {
                    if timed {
                        sleep_until(began + Duration::from_millis(piece.ms)).await;
                    }
                    if feed.send(piece.bytes.clone()).await.is_err() {
                        return;
                    }
                }
            });
            Ok(Box::new(pipe) as Box<dyn Port>)
        })
    }

    fn name(&self) -> &str {
        &self.name
    }

    fn is_one_way(&self) -> bool {
        true
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::meter::decode::Decoded;
    use crate::meter::port::event::MeterEvent;
    use crate::meter::port::recording::{head, lines};
    use crate::meter::port::source::Meter;
    use crate::meter::profile::find;

    /// What is heard up to the end, with the milliseconds at which it was heard, to the nearest fifty.
    async fn played(profile: &str, recording: &str, timed: bool) -> Vec<(u128, String)> {
        let recording = Recording::read("a.rec", recording.as_bytes()).unwrap();
        let opener = Replay::new("replay:a.rec", recording, timed);
        let mut meter = Meter::open(Box::new(opener), find(profile).unwrap().clone())
            .await
            .unwrap();
        let began = Instant::now();
        let mut heard = Vec::new();
        loop {
            let event = meter.next().await;
            let ms = (began.elapsed().as_millis() + 25) / 50 * 50;
            if let MeterEvent::Frame(Decoded::Reading(reading)) = &event {
                heard.push((ms, reading.display()));
            } else {
                heard.push((ms, event.message().unwrap()));
            }
            if matches!(event, MeterEvent::Ended { .. }) {
                assert_eq!(meter.next().await, event, "the end stays the end");
                return heard;
            }
        }
    }

    #[tokio::test]
    async fn a_capture_is_played_at_its_times_or_at_once() {
        let text = [
            head(None),
            lines(0, b"VAC;0.1;V;-\r\nVAC;0"),
            lines(150, b".2;V;-\r\n"),
            lines(300, b"VAC;0.3"),
        ]
        .concat();
        let over = "`replay:a.rec` is over, no more readings come from it";
        let expected = |times: [u128; 3]| -> Vec<(u128, String)> {
            let words = ["0.1 V", "0.2 V", over].map(str::to_owned);
            times.into_iter().zip(words).collect()
        };
        assert_eq!(played("line-stream", &text, true).await, expected([0, 150, 300]));
        assert_eq!(played("line-stream", &text, false).await, expected([0, 0, 0]));
    }

    #[tokio::test]
    async fn a_capture_of_an_instrument_that_is_asked_needs_no_questions() {
        let answers = "+1.0;\"RES\"\n+2.0;\"RES\"\n+3.0;\"RES\"\n";
        let text = [head(None), lines(0, answers.as_bytes())].concat();
        let heard = played("query-488", &text, false).await;
        let words: Vec<&str> = heard.iter().map(|(_, words)| words.as_str()).collect();
        assert_eq!(words[..3], ["+1.0 ohm", "+2.0 ohm", "+3.0 ohm"]);
    }
}
