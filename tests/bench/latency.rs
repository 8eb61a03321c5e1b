//! How long a reading takes from the last byte on the line to the event, and what reading costs.
//!
//! The rule inside: a real pseudo-terminal lies between writer and reader, and a figure that misses its bound fails.

mod measured;

use std::io::Write;
use std::process::{Child, Command, Stdio};
use std::sync::mpsc::channel;
use std::time::{Duration, Instant};

use coreproof::meter::decode::Decoded;
use coreproof::meter::port::event::MeterEvent;
use coreproof::meter::port::source::Meter;
use coreproof::meter::profile::find;
use measured::{cpu_seconds, terminal};

/// The 99th percentile from the last byte to the event.
const LATENCY_MAX: Duration = Duration::from_millis(5);
const FRAMES: usize = 2000;
/// Share of one core at ten readings a second.
const CPU_SHARE_MAX: f64 = 0.01;
const CPU_SECONDS: u64 = 15;
const EVERY: Duration = Duration::from_millis(100);

fn main() {
    let latencies = latencies();
    let at = |share: f64| latencies[((latencies.len() - 1) as f64 * share) as usize];
    println!(
        "last byte to event, {FRAMES} frames: median {:?}, 99th percentile {:?}, longest {:?}",
        at(0.5),
        at(0.99),
        at(1.0)
    );
    let share = cpu_share();
    println!(
        "cpu at ten readings a second for {CPU_SECONDS} s: {:.3} % of one core",
        share * 100.0
    );
    assert!(
        at(0.99) < LATENCY_MAX,
        "the 99th percentile is not below {LATENCY_MAX:?}"
    );
    assert!(
        share < CPU_SHARE_MAX,
        "the share is not below {} %",
        CPU_SHARE_MAX * 100.0
    );
}

/// Frames at uneven distances, each written in two halves; the latencies in order of length.
fn latencies() -> Vec<Duration> {
    let (mut end, path) = terminal();
    let runtime = tokio::runtime::Builder::new_current_thread()
        .enable_all()
        .build()
        .expect("a runtime");
    let (sender, written) = channel();
    let (heard, next) = channel::<()>();
    runtime.block_on(async {
        let profile = find("line-stream").expect("a shipped profile").clone();
        let mut meter = Meter::open_serial(&path, profile).expect("the slave opens");
        let writer = std::thread::spawn(move || {
            for n in 0..FRAMES {
                end.write_all(b"VAC;23").expect("the slave is open");
                std::thread::sleep(Duration::from_micros(500 + (n as u64 * 7919) % 4000));
                let last = Instant::now();
                end.write_all(b"1.4;V;-\r\n").expect("the slave is open");
                sender.send(last).expect("somebody measures");
                next.recv().expect("somebody measures");
            }
            end
        });
        let mut latencies = Vec::new();
        while latencies.len() < FRAMES {
            let event = meter.next().await;
            let now = Instant::now();
            let MeterEvent::Frame(Decoded::Reading(_)) = event else {
                panic!("{event:?} is no reading")
            };
            latencies.push(now.duration_since(written.recv().expect("somebody writes")));
            heard.send(()).expect("somebody writes");
        }
        writer.join().expect("the writer ends");
        latencies.sort();
        latencies
    })
}

/// What `meter watch` uses of a core, settling and printing included, after its first readings.
fn cpu_share() -> f64 {
    let (mut end, path) = terminal();
    let spec = format!("{path},line-stream");
    let home = tempfile::tempdir().expect("a folder");
    let watch = Command::new(env!("CARGO_BIN_EXE_coreproof"))
        .args(["meter", "watch", "--meter", &spec])
        .env("COREPROOF_HOME", home.path())
        .stdin(Stdio::null())
        .stdout(Stdio::null())
        .spawn()
        .expect("the program starts");
    let watch = Watch(watch);
    let mut send = |count: u64| {
        for n in 0..count {
            // a last digit that never rests keeps the settling at work
            let line = format!("VAC;231.{};V;-\r\n", n % 10);
            end.write_all(line.as_bytes()).expect("the slave is open");
            std::thread::sleep(EVERY);
        }
    };
    send(20);
    let (began, before) = (Instant::now(), cpu_seconds(watch.0.id()));
    send(CPU_SECONDS * 10);
    (cpu_seconds(watch.0.id()) - before) / began.elapsed().as_secs_f64()
}

/// Ends with the measurement, also with one that fails.
struct Watch(Child);

impl Drop for Watch {
    fn drop(&mut self) {
        // one that has ended already needs no end
        let _ = self.0.kill();
        let _ = self.0.wait();
    }
}
