//! How long a reading takes from the meter's line to the paint of the page, and an answer to the next question; what the run takes of a core.
//!
//! The rule inside: a real browser at a real run, and in the same browser a bare page that is sent the same digits by nothing else, so that
//! what browser and machine take by themselves is seen beside it. It wants Chromium and its driver.

mod measured;
#[path = "../it/tapped.rs"]
#[allow(dead_code, reason = "the tests use more of it")]
mod tapped;
#[path = "../it/webdriver.rs"]
#[allow(dead_code, reason = "the tests use more of it")]
mod webdriver;
#[path = "../it/world.rs"]
#[allow(dead_code, reason = "the tests use more of it")]
mod world;

use std::collections::HashMap;
use std::io::{BufRead, BufReader, Write};
use std::net::{TcpListener, TcpStream};
use std::sync::mpsc::{Receiver, channel};
use std::time::{Duration, Instant, SystemTime, UNIX_EPOCH};

use measured::{cpu_seconds, terminal};
use tapped::Tapped;
use webdriver::Browser;
use world::World;

/// Readings that are sent, and how far apart: twenty a second.
const READINGS: usize = 600;
const EVERY: Duration = Duration::from_millis(50);
/// The 99th percentile from the meter's line to the paint, in milliseconds.
const PAINTED_MS_MAX: f64 = 50.0;
/// The 99th percentile from the tap that says an answer to the paint of the next question, in milliseconds.
const ASKED_MS_MAX: f64 = 150.0;
/// The share of a core that the whole run takes at twenty readings a second: walk, journal and server.
const SHARE_MAX: f64 = 0.02;
/// The files of the page together, in bytes.
const PAGE_BYTES_MAX: u64 = 60_000;

/// Notes when what stands in the digits' place was painted: a frame's callback comes before its paint, a message sent there after it.
const PAINTS: &str = "
    const at = document.getElementById('number');
    window.paints = [];
    new MutationObserver(() => {
        const shown = at.textContent;
        requestAnimationFrame(() => {
            const after = new MessageChannel();
            after.port1.onmessage = () => paints.push(shown + ' ' + (performance.timeOrigin + performance.now()));
            after.port2.postMessage(0);
        });
    }).observe(at, { childList: true, characterData: true, subtree: true });";

/// Notes how long each answer takes until the next question is painted.
const ASKED: &str = "
    const own = window.send;
    window.asked = [];
    window.send = (say) => {
        const number = state.prompt.number, began = performance.now();
        const look = () => {
            if (!state.prompt || state.prompt.number === number) return requestAnimationFrame(look);
            const after = new MessageChannel();
            after.port1.onmessage = () => asked.push(String(performance.now() - began));
            after.port2.postMessage(0);
        };
        requestAnimationFrame(look);
        return own(say);
    };";

fn main() {
    let browser = Browser::start();
    browser.size(412, 915);
    let bytes: u64 = ["html", "css", "js"]
        .map(|kind| {
            world::repo(&format!("src/page/files/page.{kind}"))
                .metadata()
                .expect("a file")
                .len()
        })
        .iter()
        .sum();
    println!("the page: {bytes} bytes in three files");

    let (to_page, listening) = bare_page(&browser);
    let mut to_page = to_page;
    browser.js(PAINTS, &[]);
    let bare = painted(&browser, |digits| {
        write!(to_page, "data: {digits}\n\n").expect("the browser listens");
    });
    drop((to_page, listening));
    told("digits to paint, a bare page", &bare);

    let (paints, share) = readings(&browser);
    told("meter's line to paint", &paints);
    println!(
        "the run at twenty readings a second: {:.2} % of one core",
        share * 100.0
    );

    let asked = answers(&browser);
    told("tap to the next question", &asked);
    assert!(bytes < PAGE_BYTES_MAX, "the page is not below {PAGE_BYTES_MAX} bytes");
    assert!(
        at(&paints, 0.99) < PAINTED_MS_MAX,
        "the 99th percentile is not below {PAINTED_MS_MAX} ms"
    );
    assert!(
        at(&asked, 0.99) < ASKED_MS_MAX,
        "the 99th percentile is not below {ASKED_MS_MAX} ms"
    );
    assert!(share < SHARE_MAX, "the share is not below {} %", SHARE_MAX * 100.0);
}

fn at(sorted: &[f64], share: f64) -> f64 {
    sorted[((sorted.len() - 1) as f64 * share) as usize]
}

fn told(what: &str, sorted: &[f64]) {
    println!(
        "{what}, {}: median {:.1} ms, 99th percentile {:.1} ms, longest {:.1} ms",
        sorted.len(),
        at(sorted, 0.5),
        at(sorted, 0.99),
        at(sorted, 1.0)
    );
}

fn sorted(mut all: Vec<f64>) -> Vec<f64> {
    all.sort_by(f64::total_cmp);
    all
}

/// Sends digits that never rest; how long each took to its paint, in milliseconds, in order of length.
fn painted(browser: &Browser, mut send: impl FnMut(&str)) -> Vec<f64> {
    let mut sent = Vec::new();
    for n in 0..READINGS {
        // each once, and never two that are near each other in a row
        let digits = format!("{:.2}", 1.0 + ((n * 7919) % READINGS) as f64 / 100.0);
        let now = SystemTime::now().duration_since(UNIX_EPOCH).expect("a time of today");
        send(&digits);
        sent.push((digits, now.as_secs_f64() * 1000.0));
        std::thread::sleep(EVERY);
    }
    let paints = browser.js("return paints", &[]);
    let mut first = HashMap::new();
    for paint in paints.as_array().expect("a list") {
        let (digits, at) = paint
            .as_str()
            .and_then(|paint| paint.split_once(' '))
            .expect("digits and a time");
        first
            .entry(digits.to_owned())
            .or_insert(at.parse::<f64>().expect("milliseconds"));
    }
    let all: Vec<f64> = sent
        .iter()
        .filter_map(|(digits, at)| Some(first.get(digits)? - at))
        .collect();
    assert!(
        READINGS * 99 / 100 <= all.len(),
        "only {} of {READINGS} were painted",
        all.len()
    );
    sorted(all)
}

/// The page of a run with a meter on a pseudo-terminal: the times to the paint, and the share of a core.
fn readings(browser: &Browser) -> (Vec<f64>, f64) {
    let world = World::with_key();
    let (mut meter, port) = terminal();
    let walk = world.walk(&["--meter", &format!("{port},line-stream"), "--page"]);
    let mut tapped = Tapped::open(browser, walk);
    assert!(tapped.to("lead-null", |_, _| {}), "the leads are nulled");
    browser.js(PAINTS, &[]);
    let process = tapped.walk.child.id();
    let (began, before) = (Instant::now(), cpu_seconds(process));
    let paints = painted(browser, |digits| {
        let line = format!("LOWOHM;{digits};ohm;-\r\n");
        meter.write_all(line.as_bytes()).expect("the program listens");
    });
    let share = (cpu_seconds(process) - before) / began.elapsed().as_secs_f64();
    tapped.walk.kill();
    (paints, share)
}

/// Two whole runs: how long each answer took to the next question, in milliseconds, in order of length.
fn answers(browser: &Browser) -> Vec<f64> {
    let mut all = Vec::new();
    for _ in 0..2 {
        let world = World::with_key();
        let mut tapped = Tapped::open(browser, world.walk(&["--page"]));
        browser.js(ASKED, &[]);
        assert!(!tapped.to("nowhere", |_, _| {}), "it walks to its end");
        let asked = browser.js("return asked", &[]);
        let asked = asked.as_array().expect("a list").iter();
        all.extend(asked.map(|ms| ms.as_str().and_then(|ms| ms.parse::<f64>().ok()).expect("milliseconds")));
        tapped.walk.kill();
    }
    sorted(all)
}

/// A page that shows what it is sent and does nothing else; what is written to it is sent.
fn bare_page(browser: &Browser) -> (TcpStream, Receiver<TcpStream>) {
    let listener = TcpListener::bind("127.0.0.1:0").expect("a port");
    let port = listener.local_addr().expect("it has an address").port();
    let (listens, listening) = channel();
    std::thread::spawn(move || {
        for stream in listener.incoming() {
            let mut stream = stream.expect("a connection");
            let mut line = String::new();
            let mut lines = BufReader::new(stream.try_clone().expect("a second handle"));
            let _ = lines.read_line(&mut line);
            if line.starts_with("GET /events") {
                let _ = stream.set_nodelay(true);
                let _ = write!(stream, "HTTP/1.1 200 OK\r\nContent-Type: text/event-stream\r\n\r\n");
                if listens.send(stream).is_err() {
                    return;
                }
                continue;
            }
            let page = "<!doctype html><p id=number>-</p><script>new EventSource('/events').onmessage = (event) => { \
                        document.getElementById('number').textContent = event.data; };</script>";
            let length = page.len();
            let _ = write!(
                stream,
                "HTTP/1.1 200 OK\r\nContent-Type: text/html\r\nContent-Length: {length}\r\nConnection: close\r\n\r\n{page}"
            );
        }
    });
    browser.open(&format!("http://127.0.0.1:{port}/"));
    let stream = listening.recv().expect("the browser listens");
    (stream, listening)
}
