//! A meter: a port, a profile, and what comes out of the two together.
//!
//! The rule inside: all state lives in the [`Meter`], none in the future of [`Meter::next`], so that dropping the
//! future at any moment loses no byte and sends nothing twice. A meter that is asked never has two questions open.

use std::time::Duration;

use tokio::time::Instant;

use super::decode::{Decoded, decode};
use super::event::MeterEvent;
use super::frame::{Framer, Piece};
use super::link::{Link, Traffic};
use super::port::{Opener, PortError};
use super::profile::{Profile, Talk};
use super::serial::SerialPath;

/// Frames in a row that mean nothing before the profile itself is doubted.
const MISFITS_MAX: u32 = 5;

/// Whether a question to the meter is open.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum Asking {
    /// This meter is not asked.
    Never,
    Idle,
    Waiting,
    /// Waiting for an answer that was asked for before [`Meter::discard`], and will be dropped.
    WaitingStale,
}

/// A meter on an open port.
pub struct Meter {
    link: Link,
    profile: Profile,
    framer: Framer,
    asking: Asking,
    /// Since when nothing was heard.
    quiet_since: Instant,
    /// Bytes that arrived since then without ending a frame.
    unframed: usize,
    misfits: u32,
}

impl Meter {
    /// Opens a meter; called inside a Tokio runtime.
    pub async fn open(opener: Box<dyn Opener>, profile: Profile) -> Result<Meter, PortError> {
        let mut meter = Meter::closed(opener, profile);
        meter.link.open().await?;
        meter.begin();
        Ok(meter)
    }

    /// Opens a meter on a serial port at once; called inside a Tokio runtime.
    pub fn open_serial(path: &str, profile: Profile) -> Result<Meter, PortError> {
        let opener = SerialPath::new(path, &profile.line);
        let port = opener.open_now()?;
        let mut meter = Meter::closed(Box::new(opener), profile);
        meter.link.use_port(port);
        meter.begin();
        Ok(meter)
    }

    fn closed(opener: Box<dyn Opener>, profile: Profile) -> Meter {
        Meter {
            link: Link::new(opener),
            framer: Framer::new(&profile.frame, true),
            profile,
            asking: Asking::Never,
            quiet_since: Instant::now(),
            unframed: 0,
            misfits: 0,
        }
    }

    /// Starts on a port that was just opened: what was open or half here is forgotten, the set-up is sent.
    fn begin(&mut self) {
        self.framer.clear(true);
        self.asking = Asking::Never;
        if let Talk::Query { setup, end, .. } = &self.profile.talk
            && !self.link.is_one_way()
        {
            self.asking = Asking::Idle;
            for line in setup {
                self.link.send(&[line.as_bytes(), end.as_bytes()].concat());
            }
        }
        self.misfits = 0;
        self.heard();
    }

    /// The profile that decodes this meter.
    pub fn profile(&self) -> &Profile {
        &self.profile
    }

    /// The port's name.
    pub fn port_name(&self) -> &str {
        self.link.name()
    }

    /// Waits for what the meter does next. A meter that is asked is asked once for each frame; a port that was lost is
    /// opened again when it comes back. A port that is still away, or at its end, says so again after each pause.
    ///
    /// Cancel-safe: dropping the future loses nothing, and the next call goes on where it stood.
    pub async fn next(&mut self) -> MeterEvent {
        loop {
            while let Some(piece) = self.framer.poll() {
                if let Some(event) = self.judge(piece) {
                    return event;
                }
            }
            if !self.link.is_open() {
                return self.come_back().await;
            }
            if self.asking == Asking::Idle {
                self.forget_arrived().await;
                self.ask();
            }
            let patience = self.quiet_since + Duration::from_millis(u64::from(self.profile.quiet_ms_max));
            match self.link.exchange(patience).await {
                Traffic::Sent => {}
                Traffic::Received(bytes) => {
                    self.unframed += bytes.len();
                    self.framer.push(&bytes);
                }
                Traffic::Nothing => return self.silent(),
                Traffic::Gone => return self.gone(),
            }
        }
    }

    async fn come_back(&mut self) -> MeterEvent {
        self.link.pause().await;
        if self.link.is_one_way() {
            return self.gone();
        }
        match self.link.open().await {
            Ok(()) => {
                self.begin();
                MeterEvent::Back {
                    port: self.link.name().to_owned(),
                }
            }
            // it is still away, which was said
            Err(PortError::NoSuchPort { path, .. }) => MeterEvent::Lost(PortError::Lost { path }),
            Err(error) => MeterEvent::Lost(error),
        }
    }

    fn gone(&self) -> MeterEvent {
        let port = self.link.name().to_owned();
        if self.link.is_one_way() {
            MeterEvent::Ended { port }
        } else {
            MeterEvent::Lost(PortError::Lost { path: port })
        }
    }

    /// Forgets what has arrived so far, so that the next frame is one that was sent from now on. Call it whenever
    /// listening begins after a pause: a port keeps what a meter sent while nobody listened.
    pub async fn discard(&mut self) {
        self.forget_arrived().await;
        self.heard();
    }

    async fn forget_arrived(&mut self) {
        let arrived = self.link.drain().await;
        self.framer.push(&arrived);
        while let Some(piece) = self.framer.poll() {
            if matches!(piece, Piece::Frame { .. } | Piece::Unconfirmed) {
                self.answered();
            }
        }
        match self.asking {
            // what a stream sends next may begin in mid-frame
            Asking::Never => self.framer.clear(true),
            Asking::Idle => self.framer.clear(false),
            // an answer on its way, perhaps half here, was asked for too early
            Asking::Waiting | Asking::WaitingStale => self.asking = Asking::WaitingStale,
        }
    }

    fn ask(&mut self) {
        if let Talk::Query { ask, end, .. } = &self.profile.talk {
            self.link.send(&[ask.as_bytes(), end.as_bytes()].concat());
            self.asking = Asking::Waiting;
            self.heard();
        }
    }

    fn answered(&mut self) {
        if self.asking != Asking::Never {
            self.asking = Asking::Idle;
        }
    }

    fn heard(&mut self) {
        self.quiet_since = Instant::now();
        self.unframed = 0;
    }

    fn judge(&mut self, piece: Piece) -> Option<MeterEvent> {
        self.heard();
        let decoded = match piece {
            Piece::Dropped(_) => None,
            // the next frame has to say the same first
            Piece::Unconfirmed => {
                self.answered();
                return None;
            }
            Piece::Frame { bytes, partial } => {
                let stale = self.asking == Asking::WaitingStale;
                self.answered();
                if stale {
                    return None;
                }
                match decode(&self.profile, &bytes) {
                    Decoded::NotUnderstood(_) if partial => return None,
                    decoded => Some(decoded),
                }
            }
        };
        match decoded {
            Some(decoded @ (Decoded::Reading(_) | Decoded::Refused(_))) => {
                self.misfits = 0;
                Some(MeterEvent::Frame(decoded))
            }
            misfit => {
                self.misfits += 1;
                if self.misfits < MISFITS_MAX {
                    misfit.map(MeterEvent::Frame)
                } else {
                    Some(self.garbage())
                }
            }
        }
    }

    fn garbage(&mut self) -> MeterEvent {
        MeterEvent::Garbage {
            count: std::mem::take(&mut self.misfits),
            profile: self.profile.name.clone(),
            baud: self.profile.line.baud,
        }
    }

    fn silent(&mut self) -> MeterEvent {
        // a question that could not be sent stays open; one that was not answered is given up
        if !self.link.has_unsent() {
            self.answered();
        }
        // bytes that never end a frame are not silence
        let babble = 0 < self.unframed;
        self.framer.clear(self.asking == Asking::Never);
        self.heard();
        if babble {
            self.misfits += 1;
            self.garbage()
        } else {
            MeterEvent::Silent {
                quiet_ms: self.profile.quiet_ms_max,
            }
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::meter::profile::find;
    use tokio::io::{AsyncReadExt, AsyncWriteExt};
    use tokio::time::{sleep, timeout};
    use tokio_serial::{SerialPort, SerialStream};

    /// The meter's end of a pseudo-terminal, and the meter behind the other end, opened by its path.
    fn bench(profile: &str) -> (SerialStream, Meter) {
        impatient_bench(profile, 3000)
    }

    fn impatient_bench(profile: &str, quiet_ms_max: u32) -> (SerialStream, Meter) {
        let (meter_end, slave) = SerialStream::pair().unwrap();
        let path = slave.name().unwrap();
        drop(slave);
        let mut profile = find(profile).unwrap().clone();
        profile.quiet_ms_max = quiet_ms_max;
        (meter_end, Meter::open_serial(&path, profile).unwrap())
    }

    fn words(event: &MeterEvent) -> String {
        match event {
            MeterEvent::Frame(Decoded::Reading(reading)) => reading.display(),
            other => other.message().expect("all but a reading have words"),
        }
    }

    async fn hear(meter: &mut Meter) -> String {
        words(&meter.next().await)
    }

    async fn line_at_the_meter(end: &mut SerialStream) -> String {
        let mut line = Vec::new();
        loop {
            match end.read_u8().await {
                Ok(b'\n') => return String::from_utf8(line).unwrap(),
                Ok(byte) => line.push(byte),
                // the far side is not open yet
                Err(_) => sleep(Duration::from_millis(1)).await,
            }
        }
    }

    #[tokio::test]
    async fn a_stream_arrives_whole_though_next_is_dropped_in_mid_line() {
        let (mut end, mut meter) = bench("line-stream");
        let writer = async move {
            for n in 0..40 {
                for byte in format!("LOWOHM;{n}.42;ohm;-\r\n").bytes() {
                    end.write_all(&[byte]).await.unwrap();
                    sleep(Duration::from_micros(200)).await;
                }
            }
            end
        };
        let reader = async {
            let (mut heard, mut dropped) = (Vec::new(), 0);
            while heard.len() < 40 {
                tokio::select! {
                    event = meter.next() => heard.push(words(&event)),
                    () = sleep(Duration::from_micros(300)) => dropped += 1,
                }
            }
            (heard, dropped)
        };
        let (_end, (heard, dropped)) = tokio::join!(writer, reader);
        let expected: Vec<String> = (0..40).map(|n| format!("{n}.42 ohm")).collect();
        assert_eq!(heard, expected);
        assert!(100 < dropped, "next() was dropped {dropped} times");
    }

    #[tokio::test]
    async fn a_beginning_in_mid_line_is_left_out_and_garbage_does_not_stop_what_follows() {
        let (mut end, mut meter) = bench("line-stream");
        end.write_all(b"31.4;V;-\r\nVAC;231.4;V;-\r\n\xff\xfe\x00\r\nVAC;231.5;V;-\r\n")
            .await
            .unwrap();
        assert_eq!(hear(&mut meter).await, "231.4 V");
        assert_eq!(hear(&mut meter).await, "`\u{fffd}\u{fffd}\\0` is no text");
        assert_eq!(hear(&mut meter).await, "231.5 V");
    }

    #[tokio::test]
    async fn five_misfits_in_a_row_doubt_the_profile() {
        let (mut end, mut meter) = bench("line-stream");
        end.write_all(&b"230,1 VOLT\r\n".repeat(6)).await.unwrap();
        for _ in 0..4 {
            assert_eq!(
                hear(&mut meter).await,
                "`230,1 VOLT` does not fit the profile's pattern"
            );
        }
        assert_eq!(
            hear(&mut meter).await,
            "what arrives does not fit profile `line-stream`"
        );
        end.write_all(b"VAC;231.4;V;-\r\n").await.unwrap();
        assert_eq!(hear(&mut meter).await, "231.4 V");
    }

    #[tokio::test]
    async fn a_flood_without_line_ends_doubts_the_profile() {
        let (mut end, mut meter) = bench("line-stream");
        end.write_all(&[0x55; 600]).await.unwrap();
        assert_eq!(
            hear(&mut meter).await,
            "what arrives does not fit profile `line-stream`"
        );
        // and so does a trickle
        let (mut end, mut meter) = impatient_bench("line-stream", 250);
        end.write_all(&[0x55; 6]).await.unwrap();
        assert_eq!(
            hear(&mut meter).await,
            "what arrives does not fit profile `line-stream`"
        );
    }

    #[tokio::test]
    async fn a_silent_meter_is_named_again_and_again_until_it_speaks() {
        let (mut end, mut meter) = impatient_bench("line-stream", 250);
        for _ in 0..2 {
            assert_eq!(hear(&mut meter).await, "nothing heard from the meter for 0.25 s");
        }
        end.write_all(b"VDC;12.0;V;-\r\n").await.unwrap();
        assert_eq!(hear(&mut meter).await, "12.0 V");
    }

    #[tokio::test]
    async fn silence_is_noticed_between_ticks() {
        let (_end, mut meter) = impatient_bench("line-stream", 250);
        for _ in 0..40 {
            if let Ok(event) = timeout(Duration::from_millis(25), meter.next()).await {
                return assert_eq!(event, MeterEvent::Silent { quiet_ms: 250 });
            }
        }
        panic!("a second of silence went unnoticed");
    }

    #[tokio::test]
    async fn a_port_that_vanishes_is_lost_and_stays_lost() {
        // by a name of its own: the system gives the number of a closed pseudo-terminal to the next one
        let folder = tempfile::tempdir().unwrap();
        let path = folder.path().join("meter");
        let (mut end, slave) = SerialStream::pair().unwrap();
        std::os::unix::fs::symlink(slave.name().unwrap(), &path).unwrap();
        drop(slave);
        let mut meter = Meter::open_serial(path.to_str().unwrap(), find("line-stream").unwrap().clone()).unwrap();
        end.write_all(b"VAC;231.4;V;-\r\n").await.unwrap();
        assert_eq!(hear(&mut meter).await, "231.4 V");
        std::fs::remove_file(&path).unwrap();
        drop(end);
        let lost = meter.gone();
        meter.discard().await;
        assert_eq!(meter.next().await, lost);
        let again = std::time::Instant::now();
        assert_eq!(meter.next().await, lost);
        assert!(
            Duration::from_millis(400) < again.elapsed(),
            "a caller who does not wait cannot spin"
        );
    }

    #[tokio::test]
    async fn a_port_that_comes_back_is_opened_again_though_next_is_dropped_all_the_time() {
        let folder = tempfile::tempdir().unwrap();
        let path = folder.path().join("meter");
        let plug = || {
            let (end, slave) = SerialStream::pair().unwrap();
            std::os::unix::fs::symlink(slave.name().unwrap(), &path).unwrap();
            end
        };
        let end = plug();
        let mut meter = Meter::open_serial(&path.display().to_string(), find("line-stream").unwrap().clone()).unwrap();
        drop(end);
        let lost = meter.gone();
        assert_eq!(meter.next().await, lost);
        std::fs::remove_file(&path).unwrap();
        assert_eq!(meter.next().await, lost);
        let mut end = plug();
        let back = loop {
            if let Ok(event) = timeout(Duration::from_millis(30), meter.next()).await {
                break event;
            }
        };
        let port = path.display().to_string();
        assert_eq!(back, MeterEvent::Back { port });
        end.write_all(b"VAC;231.4;V;-\r\n").await.unwrap();
        assert_eq!(hear(&mut meter).await, "231.4 V");
    }

    #[tokio::test]
    async fn a_port_that_comes_back_in_use_says_so() {
        let (end, mut meter) = bench("line-stream");
        let path = meter.port_name().to_owned();
        meter.link = Link::new(Box::new(SerialPath::new(&path, &meter.profile.line)));
        let other = SerialPath::new(&path, &meter.profile.line).open_now().unwrap();
        assert_eq!(meter.next().await, MeterEvent::Lost(PortError::PortInUse { path }));
        drop((other, end));
    }

    #[tokio::test]
    async fn what_was_sent_while_nobody_listened_can_be_discarded() {
        let (mut end, mut meter) = bench("line-stream");
        end.write_all(b"VAC;0.1;V;-\r\nVAC;0.2;V;-\r\nVAC;0.").await.unwrap();
        sleep(Duration::from_millis(20)).await;
        meter.discard().await;
        end.write_all(b"3;V;-\r\nVAC;231.4;V;-\r\n").await.unwrap();
        assert_eq!(hear(&mut meter).await, "231.4 V");
    }

    #[tokio::test]
    async fn a_query_sets_up_once_and_asks_once_for_each_frame() {
        let (mut end, mut meter) = bench("query-488");
        let instrument = async {
            let mut heard = Vec::new();
            for reply in [
                "+4.20000000E-01;\"RES\"\n",
                "42;\"RES\"\r\n",
                "+9.90000000E+37;\"RES\"\n",
            ] {
                loop {
                    let line = line_at_the_meter(&mut end).await;
                    heard.push(line.clone());
                    if line == "READ?;:FUNC?" {
                        break;
                    }
                }
                // slow enough that the reader gives up several times in between
                sleep(Duration::from_millis(30)).await;
                end.write_all(reply.as_bytes()).await.unwrap();
            }
            // no further question comes until the next call
            assert!(timeout(Duration::from_millis(50), end.read_u8()).await.is_err());
            heard
        };
        let reader = async {
            let mut readings = Vec::new();
            while readings.len() < 3 {
                tokio::select! {
                    event = meter.next() => readings.push(words(&event)),
                    () = sleep(Duration::from_millis(7)) => {}
                }
            }
            readings
        };
        let (heard, readings) = tokio::join!(instrument, reader);
        assert_eq!(
            heard,
            ["*CLS", "FORM ASC", "READ?;:FUNC?", "READ?;:FUNC?", "READ?;:FUNC?"]
        );
        assert_eq!(readings, ["+4.20000000E-01 ohm", "42 ohm", "OL (ohm)"]);
    }

    #[tokio::test]
    async fn an_unanswered_question_is_silence_and_is_asked_again() {
        let (mut end, mut meter) = impatient_bench("query-488", 400);
        let instrument = async {
            let mut asked = 0;
            while asked < 2 {
                asked += u32::from(line_at_the_meter(&mut end).await == "READ?;:FUNC?");
            }
            end.write_all(b"0.5;\"VOLT:AC\"\n").await.unwrap();
        };
        let reader = async { [hear(&mut meter).await, hear(&mut meter).await] };
        let ((), heard) = tokio::join!(instrument, reader);
        assert_eq!(heard, ["nothing heard from the meter for 0.4 s", "0.5 V"]);
    }

    #[tokio::test]
    async fn an_answer_asked_for_before_a_discard_is_not_taken() {
        for late in [false, true] {
            let (mut end, mut meter) = bench("query-488");
            // ask, and give up waiting
            assert!(timeout(Duration::from_millis(20), meter.next()).await.is_err());
            while line_at_the_meter(&mut end).await != "READ?;:FUNC?" {}
            if late {
                meter.discard().await;
                end.write_all(b"1;\"RES\"\n").await.unwrap();
            } else {
                end.write_all(b"1;\"RES\"\n").await.unwrap();
                sleep(Duration::from_millis(20)).await;
                meter.discard().await;
            }
            let instrument = async {
                assert_eq!(line_at_the_meter(&mut end).await, "READ?;:FUNC?");
                end.write_all(b"2;\"RES\"\n").await.unwrap();
            };
            let ((), heard) = tokio::join!(instrument, async { hear(&mut meter).await });
            assert_eq!(heard, "2 ohm", "late: {late}");
        }
    }
}
