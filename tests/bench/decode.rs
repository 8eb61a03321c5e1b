//! How fast bytes become readings, beside a peer that does the same with Python's `re` and `float`.
//!
//! The rule inside: both read the same file in the same run, both report the core time that reading took without starting up, and
//! the values of both are compared to the last digit. `cargo bench --no-default-features --bench decode` prints it.

use std::fmt::Write as _;
use std::path::Path;
use std::process::Command;
use std::time::Duration;

use coreproof::meter::decode::{Decoded, Decoder};
use coreproof::meter::frame::{Framer, Piece};
use coreproof::meter::profile::{Profile, find};
use coreproof::pure::quantity::Shown;

const LINES: usize = 1_000_000;
const FRAMES: usize = 10_000_000;
const RUNS: usize = 5;
/// What a port hands over at once, at most.
const CHUNK: usize = 1 << 16;

/// Reads the lines with `re` and `float`, prints the best time in seconds, then writes every value.
const PEER: &str = r#"
import re, sys, time
source, target, pattern, runs = sys.argv[1], sys.argv[2], sys.argv[3], int(sys.argv[4])
match = re.compile(pattern).fullmatch
best = 1e9
for _ in range(runs):
    start = time.process_time()
    values = []
    with open(source, newline="\r\n", encoding="ascii") as lines:
        for line in lines:
            found = match(line[:-2])
            values.append(float(found["value"]))
    best = min(best, time.process_time() - start)
with open(target, "w") as out:
    out.writelines("%r\n" % value for value in values)
print(best)
"#;

/// A file of lines whose values run through all digits and ranges.
fn lines(line: impl Fn(usize, &str, &str) -> String) -> Vec<u8> {
    let units = [("ohm", 2), ("kohm", 3), ("Mohm", 1), ("ohm", 1)];
    let mut text = String::new();
    let mut state = 1_u32;
    for n in 0..LINES {
        state = state.wrapping_mul(1_664_525).wrapping_add(1_013_904_223);
        let (unit, decimals) = units[n % units.len()];
        let digits = format!("{:05}", state % 60_000);
        let (whole, fraction) = digits.split_at(digits.len() - decimals);
        let value = format!("{}.{fraction}", whole.trim_start_matches('0').parse().unwrap_or(0_u32));
        text.push_str(&line(n, &value, unit));
        text.push_str("\r\n");
    }
    text.into_bytes()
}

/// Decodes a file as it would arrive; the displayed digits of every reading, and how long it took.
fn decode(profile: &Profile, bytes: &[u8], mut each: impl FnMut(&str)) -> Duration {
    let start = busy();
    let mut framer = Framer::new(&profile.frame, false);
    let mut decoder = Decoder::new(profile);
    for chunk in bytes.chunks(CHUNK) {
        framer.push(chunk);
        while let Some(piece) = framer.poll_borrowed() {
            let Piece::Frame { bytes, .. } = piece else {
                panic!("{piece:?} in a file of whole frames");
            };
            match decoder.decode(bytes) {
                Decoded::Reading(reading) => match &reading.shown {
                    Shown::Digits(digits) => each(digits.text()),
                    other => panic!("{other:?} in a file of plain numbers"),
                },
                other => panic!("{other:?} in a file of readings"),
            }
        }
    }
    busy() - start
}

/// The same without what a record needs besides, as the peer does it; how long it took.
fn parts(profile: &Profile, bytes: &[u8]) -> Duration {
    let start = busy();
    let mut framer = Framer::new(&profile.frame, false);
    let mut decoder = Decoder::new(profile);
    let mut count = 0;
    for chunk in bytes.chunks(CHUNK) {
        framer.push(chunk);
        while let Some(piece) = framer.poll_borrowed() {
            if let Piece::Frame { bytes, .. } = piece
                && let Ok(parts) = decoder.parts(bytes)
            {
                std::hint::black_box(&parts);
                count += 1;
            }
        }
    }
    assert_eq!(count, LINES);
    busy() - start
}

/// How long this process has run on a core, which other programs cannot lengthen as they do the time of day.
fn busy() -> Duration {
    let text = std::fs::read_to_string("/proc/self/schedstat").expect("Linux");
    let first = text.split_ascii_whitespace().next().expect("three numbers");
    Duration::from_nanos(first.parse().expect("nanoseconds"))
}

fn peer(source: &Path, target: &Path, pattern: &str) -> Duration {
    let out = Command::new("python3")
        .args(["-c", PEER])
        .args([source, target])
        .args([pattern, &RUNS.to_string()])
        .output()
        .expect("python3 is installed");
    assert!(out.status.success(), "{}", String::from_utf8_lossy(&out.stderr));
    let seconds = String::from_utf8(out.stdout).expect("text");
    Duration::from_secs_f64(seconds.trim().parse().expect("seconds"))
}

fn compare(name: &str, pattern: &str, target: f64, bytes: &[u8]) -> bool {
    let folder = std::env::temp_dir().join(format!("coreproof-bench-{}", std::process::id()));
    std::fs::create_dir_all(&folder).expect("a temporary folder");
    let (source, values) = (folder.join("lines.txt"), folder.join("values.txt"));
    std::fs::write(&source, bytes).expect("written");
    let profile = find(name).expect("shipped");
    let mut shown = String::new();
    let mut count = 0;
    decode(profile, bytes, |digits| {
        let value: f64 = digits.parse().expect("a number");
        writeln!(shown, "{}", python(value)).expect("to a text");
    });
    let readings = (0..RUNS)
        .map(|_| decode(profile, bytes, |_| count += 1))
        .min()
        .expect("runs");
    let ours = (0..RUNS).map(|_| parts(profile, bytes)).min().expect("runs");
    assert_eq!(count, RUNS * LINES);
    let theirs = peer(&source, &values, pattern);
    let same = std::fs::read_to_string(&values).expect("values") == shown;
    std::fs::remove_dir_all(&folder).expect("removed");
    let ratio = theirs.as_secs_f64() / ours.as_secs_f64();
    println!(
        "{name:<20} {:.2} times as fast as the peer with the record of every reading: its bytes in hexadecimal and its \
         profile",
        theirs.as_secs_f64() / readings.as_secs_f64()
    );
    println!(
        "{name:<20} {:6.1} ms for {LINES} lines ({:3.0} ns each), python {:7.1} ms: {ratio:.2} times (target {target}), \
         values {}",
        ours.as_secs_f64() * 1e3,
        ours.as_secs_f64() * 1e9 / LINES as f64,
        theirs.as_secs_f64() * 1e3,
        if same { "the same" } else { "DIFFERENT" }
    );
    same && target <= ratio
}

/// A float as Python's `repr` writes it, for the sizes that occur here.
fn python(value: f64) -> String {
    format!("{value:?}")
}

/// The peak of this process's memory, in KiB, as Linux counts it.
fn peak_kib() -> u64 {
    let status = std::fs::read_to_string("/proc/self/status").expect("Linux");
    let line = status.lines().find(|line| line.starts_with("VmHWM:")).expect("VmHWM");
    line.split_ascii_whitespace()
        .nth(1)
        .and_then(|n| n.parse().ok())
        .expect("a number")
}

/// Ten million frames through one framer and decoder; memory must not grow on the way.
fn flat(name: &str) -> bool {
    let profile = find(name).expect("shipped");
    let frame: &[u8] = match name {
        "line-stream" => b"OHMS;12.34;kohm;-\r\n",
        "segment-14" => b"\x1b\x25\x3b\x41\x5f\x63\x7f\x8f\x9f\xa0\xb0\xc0\xd4\xe0",
        _ => b"OHM   12.34 kohm\r\n",
    };
    let mut framer = Framer::new(&profile.frame, false);
    let mut decoder = Decoder::new(profile);
    let chunk = frame.repeat(1000);
    let (mut readings, mut early) = (0, 0);
    let start = busy();
    for round in 0..FRAMES / 1000 {
        framer.push(&chunk);
        while let Some(piece) = framer.poll_borrowed() {
            if let Piece::Frame { bytes, .. } = piece {
                readings += usize::from(matches!(decoder.decode(bytes), Decoded::Reading(_)));
            }
        }
        if round == 10 {
            early = peak_kib();
        }
    }
    let (seconds, late) = ((busy() - start).as_secs_f64(), peak_kib());
    let wanted = FRAMES + 1 - profile.frame.agree as usize;
    println!(
        "{name:<20} {readings} readings from {FRAMES} frames in {seconds:.1} s, peak memory {early} KiB after 11 000 \
         frames, {late} KiB at the end"
    );
    readings == wanted && late <= early + 256
}

fn main() {
    println!("ten million frames first, so that nothing else has grown the memory");
    let mut met = true;
    for name in ["line-stream", "ascii-columns-fixed", "segment-14"] {
        met &= flat(name);
    }
    let stream = lines(|_, value, unit| format!("OHMS;{value};{unit};-"));
    met &= compare(
        "line-stream",
        r"(?P<function>[A-Z]+[0-9]*);(?P<value>-?[0-9]+(?:\.[0-9]+)?);(?P<unit>[A-Za-z]+);(?P<flags>[A-Z]+|-)",
        2.5,
        &stream,
    );
    let columns = lines(|_, value, unit| format!("OHM {value:>7} {unit:<4}"));
    met &= compare(
        "ascii-columns-fixed",
        r"(?P<function>.{4}) *(?P<value>-?[0-9]+(?:\.[0-9]+)?) (?P<unit>.{4})",
        5.0,
        &columns,
    );
    if !met {
        eprintln!("a target was missed");
        std::process::exit(1);
    }
}
