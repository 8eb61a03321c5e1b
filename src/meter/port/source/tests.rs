//! Meters on pseudo-terminals: what is heard, asked, lost and found again.
//!
//! The rule inside: the far end of the port is a real one, and waits are dropped at any moment.

use tokio::io::{AsyncReadExt, AsyncWriteExt};
use tokio::time::{sleep, timeout};
use tokio_serial::{SerialPort, SerialStream};

use super::*;
use crate::meter::profile::find;

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
    assert_eq!(
        hear(&mut meter).await,
        "`\u{ff}\u{fe}\\0` does not fit the profile's pattern"
    );
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

/// An instrument that answers one question after the other.
async fn answer(end: &mut SerialStream, replies: &[&str]) {
    for reply in replies {
        while line_at_the_meter(end).await != "READ?;:FUNC?" {}
        end.write_all(reply.as_bytes()).await.unwrap();
    }
}

fn agreeing_bench() -> (SerialStream, Meter) {
    let (meter_end, slave) = SerialStream::pair().unwrap();
    let path = slave.name().unwrap();
    drop(slave);
    let mut profile = find("query-488").unwrap().clone();
    profile.frame.agree = 2;
    (meter_end, Meter::open_serial(&path, profile).unwrap())
}

#[tokio::test]
async fn answers_in_a_row_that_are_the_same_are_taken() {
    let (mut end, mut meter) = agreeing_bench();
    let replies = [
        "1;\"RES\"\n",
        "2;\"RES\"\n",
        "2;\"RES\"\n",
        "2;\"RES\"\n",
        "3;\"RES\"\n",
    ];
    let reader = async {
        assert_eq!(hear(&mut meter).await, "2 ohm");
        assert_eq!(hear(&mut meter).await, "2 ohm");
        // 3 was said once only
        assert!(timeout(Duration::from_millis(50), meter.next()).await.is_err());
    };
    tokio::join!(answer(&mut end, &replies), reader);
}

#[tokio::test]
async fn an_answer_asked_for_before_a_discard_confirms_nothing() {
    for late in [false, true] {
        let (mut end, mut meter) = agreeing_bench();
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
        // one answer that says the same is not enough
        let heard = async { timeout(Duration::from_millis(80), meter.next()).await.is_err() };
        let ((), nothing) = tokio::join!(answer(&mut end, &["1;\"RES\"\n"]), heard);
        assert!(nothing, "late: {late}");
    }
}
