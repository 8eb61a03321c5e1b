//! How fast bytes become readings, beside a peer that does the same with Python's `re` and `float`.
//!
//! The rule inside: like is compared with like. Both read the same file in the same run, in turns, and the best round of each
//! counts, in time on a core and without starting up. We make whole readings (exact digits and decimal, function, unit, marks,
//! the name of the profile, a copy of the frame's bytes); the peer keeps what its pattern names (function, value as a float, unit,
//! marks). A peer that keeps the float alone is timed and printed beside it, though it could not tell ohms from volts. The values
//! of both are compared to the last digit. `cargo bench --no-default-features --bench decode` prints it.

use std::fmt::Write as _;
use std::path::Path;
use std::process::Command;
use std::time::Duration;

use coreproof::meter::decode::Profile;
use coreproof::meter::decode::frame::{Framer, Piece};
use coreproof::meter::decode::{Decoded, Decoder};
use coreproof::meter::profile::find;
use coreproof::value::quantity::Shown;
use rustix::time::{ClockId, clock_gettime};

const LINES: usize = 1_000_000;
const FRAMES: usize = 10_000_000;
const ROUNDS: usize = 7;
/// What a port hands over at once, at most.
const CHUNK: usize = 1 << 16;

/// Reads the lines with `re` and `float`, as whole readings and as bare values; prints both times in seconds, then writes every
/// value.
const PEER: &str = r#"
import re, sys, time
source, target, pattern = sys.argv[1:4]
match = re.compile(pattern).fullmatch
def whole():
    readings = []
    with open(source, newline="\r\n", encoding="ascii") as lines:
        for line in lines:
            function, value, unit, flags = match(line[:-2]).groups()
            readings.append((function, float(value), unit, flags))
    return readings
def bare():
    values = []
    with open(source, newline="\r\n", encoding="ascii") as lines:
        for line in lines:
            values.append(float(match(line[:-2])["value"]))
    return values
def timed(work):
    start = time.process_time()
    found = work()
    return time.process_time() - start, found
took, readings = timed(whole)
lean, values = timed(bare)
assert values == [reading[1] for reading in readings]
with open(target, "w") as out:
    out.writelines("%r\n" % value for value in values)
print(took, lean)
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

/// How long this process has run on a core, which other programs cannot lengthen as they do the time of day.
fn busy() -> Duration {
    let time = clock_gettime(ClockId::ProcessCPUTime);
    Duration::new(
        u64::try_from(time.tv_sec).expect("after its start"),
        u32::try_from(time.tv_nsec).expect("below a second"),
    )
}

/// One round of the peer: its time for whole readings and for bare values.
fn peer(source: &Path, target: &Path, pattern: &str) -> [Duration; 2] {
    let out = Command::new("python3")
        .args(["-c", PEER])
        .args([source, target])
        .arg(pattern)
        .output()
        .expect("python3 is installed");
    assert!(out.status.success(), "{}", String::from_utf8_lossy(&out.stderr));
    let text = String::from_utf8(out.stdout).expect("text");
    let (whole, bare) = text.trim().split_once(' ').expect("two times");
    [whole, bare].map(|seconds| Duration::from_secs_f64(seconds.parse().expect("seconds")))
}

fn compare(name: &str, pattern: &str, target: f64, bytes: &[u8]) -> bool {
    let folder = tempfile::tempdir().expect("a temporary folder");
    let (source, values) = (folder.path().join("lines.txt"), folder.path().join("values.txt"));
    std::fs::write(&source, bytes).expect("written");
    let profile = find(name).expect("shipped");
    let mut shown = String::new();
    decode(profile, bytes, |digits| {
        let value: f64 = digits.parse().expect("a number");
        writeln!(shown, "{}", python(value)).expect("to a text");
    });
    let [mut ours, mut whole, mut bare] = [Duration::MAX; 3];
    for _ in 0..ROUNDS {
        let mut count = 0;
        ours = ours.min(decode(profile, bytes, |_| count += 1));
        assert_eq!(count, LINES);
        let theirs = peer(&source, &values, pattern);
        (whole, bare) = (whole.min(theirs[0]), bare.min(theirs[1]));
    }
    let same = std::fs::read_to_string(&values).expect("values") == shown;
    let times = |theirs: Duration| theirs.as_secs_f64() / ours.as_secs_f64();
    println!(
        "{name:<20} {:6.1} ms for {LINES} whole readings, python {:7.1} ms: {:.2} times as fast (target {target}), values {}; \
         python that keeps the float alone {:7.1} ms: {:.2} times",
        ours.as_secs_f64() * 1e3,
        whole.as_secs_f64() * 1e3,
        times(whole),
        if same { "the same" } else { "DIFFERENT" },
        bare.as_secs_f64() * 1e3,
        times(bare),
    );
    same && target <= times(whole)
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
        r"(?P<function>.{4}) *(?P<value>-?[0-9]+(?:\.[0-9]+)?) (?P<unit>.{4})(?P<flags>)",
        5.0,
        &columns,
    );
    if !met {
        eprintln!("a target was missed");
        std::process::exit(1);
    }
}
