//! How much memory and time an archive of very many records takes to be listed, searched, audited, handed over and taken in.
//!
//! `cargo bench --no-default-features --bench archive`, with `-- 5000` for so many records in place of a hundred thousand. The bounds are: each
//! command stays below the same amount of memory over a thousand records and over all of them, and over all of them it takes hardly more than
//! over a thousand. What is read is the most that a process had resident, `VmHWM` of `/proc/PID/status` (proc(5)). The program leaves with 1
//! where a bound is missed.

#[path = "../it/clones.rs"]
mod clones;

use std::path::Path;
use std::process::{Command, ExitCode, Stdio};
use std::time::{Duration, Instant};

/// Records of the smaller archive.
const FEW: u64 = 1_000;
/// Records of the larger one, unless it is asked for another number.
const MANY: u64 = 100_000;
/// Jobs of one archive: more than an audit keeps plans of.
const JOBS: u64 = 100;
/// The most that a command may have resident, in kilobytes.
const RESIDENT_MAX: u64 = 64_000;
/// How much more that may be over all records than over a thousand, in kilobytes: caches that a thousand records do not fill.
const GROWTH_MAX: u64 = 6_000;
/// How often the memory of a running command is looked at.
const LOOKED_EVERY: Duration = Duration::from_millis(2);

/// What is asked, and the exit codes that answer it: of records that failed, of older rules, or not of several cables.
const ASKED: &[(&[&str], i32)] = &[
    (&["records", "list"], 0),
    (&["records", "list", "--json"], 0),
    (&["records", "find", "--place", "Sailing Club 7"], 0),
    (&["records", "find", "--instrument", "tester"], 0),
    (&["records", "instruments", "--due-by", "2036-12-31"], 0),
    (&["records", "places"], 0),
    (&["audit"], 0),
    (&["records", "export", "--all", "-o", "all.sqlite"], 0),
    (&[], 0),
];

/// What a command took.
struct Took {
    time: Duration,
    resident: u64,
}

fn run(home: &Path, args: &[&str], code: i32) -> Took {
    let began = Instant::now();
    let mut child = Command::new(env!("CARGO_BIN_EXE_coreproof"))
        .args(args)
        .env_clear()
        .env("COREPROOF_HOME", home)
        .current_dir(home)
        .stdin(Stdio::null())
        .stdout(Stdio::null())
        .stderr(Stdio::inherit())
        .spawn()
        .unwrap();
    let status = format!("/proc/{}/status", child.id());
    let mut resident = 0;
    let ended = loop {
        // one that has ended and was not waited for has no such line
        let most = std::fs::read_to_string(&status).unwrap_or_default();
        let most = most.lines().find_map(|line| line.strip_prefix("VmHWM:"));
        let most = most.and_then(|most| most.trim().strip_suffix(" kB")?.parse().ok());
        resident = most.unwrap_or(resident).max(resident);
        match child.try_wait().unwrap() {
            Some(ended) => break ended,
            None => std::thread::sleep(LOOKED_EVERY),
        }
    };
    assert_eq!(ended.code(), Some(code), "{args:?}");
    Took {
        time: began.elapsed(),
        resident,
    }
}

fn archive_of(records: u64) -> tempfile::TempDir {
    let home = tempfile::tempdir().unwrap();
    let record = concat!(
        env!("CARGO_MANIFEST_DIR"),
        "/fixtures/records/0.1/boiler-call-volt-free-failed.jsonl"
    );
    let record = std::fs::read_to_string(record).unwrap();
    let began = Instant::now();
    clones::fill(home.path(), &record, records, JOBS);
    let size = std::fs::metadata(home.path().join("archive.sqlite")).unwrap().len();
    println!(
        "{records} records of {} bytes signed, in an archive of {} MB, in {:.0} s",
        record.len(),
        size / 1_000_000,
        began.elapsed().as_secs_f64()
    );
    home
}

fn main() -> ExitCode {
    let many = std::env::args()
        .skip(1)
        .find_map(|arg| arg.parse().ok())
        .unwrap_or(MANY);
    let [few, all] = [FEW, many].map(archive_of);
    println!(
        "{:<48} {:>9} {:>9} {:>9} {:>9}",
        "command",
        format!("{FEW}: s"),
        "MB",
        format!("{many}: s"),
        "MB"
    );
    let mut missed = Vec::new();
    for (args, code) in ASKED {
        let [one, other] = [&few, &all].map(|home| run(home.path(), args, *code));
        let name = format!("coreproof {}", args.join(" "));
        let megabytes = |took: &Took| took.resident as f64 / 1e3;
        println!(
            "{name:<48} {:>9.2} {:>9.1} {:>9.2} {:>9.1}",
            one.time.as_secs_f64(),
            megabytes(&one),
            other.time.as_secs_f64(),
            megabytes(&other)
        );
        if RESIDENT_MAX < one.resident.max(other.resident) {
            missed.push(format!("`{name}` had more than {RESIDENT_MAX} kB resident"));
        }
        if one.resident + GROWTH_MAX < other.resident {
            let more = other.resident - one.resident;
            missed.push(format!(
                "`{name}` had {more} kB more resident over {many} records, not {GROWTH_MAX}"
            ));
        }
    }
    println!(
        "bounds: {RESIDENT_MAX} kB resident, and over {many} records at most {GROWTH_MAX} kB more than over {FEW}"
    );
    missed.iter().for_each(|what| println!("MISSED: {what}"));
    match missed.is_empty() {
        true => ExitCode::SUCCESS,
        false => ExitCode::FAILURE,
    }
}
