//! Every crash within a bound: all sequences of up to three appends, power cut before and after the write and the sync of
//! the last line, and what the disk may then hold of it - every prefix, every subset of its 512-byte sectors, with
//! the rest absent, NUL, garbage or stale.
//!
//! Rule: acknowledged lines come back exactly, the line in flight comes back only if all of it is there, and nothing
//! else ever comes back. Most crash bugs reported of file systems need three operations or fewer (abstract of
//! "CrashMonkey and ACE"), so the bound is three. All prefixes (missing or
//! NUL) and all subsets of sectors are tried; stale and garbage ends only up to the second append, and a second power cut
//! during recovery at every 41st prefix, to keep the tests quick.

use std::process::{Command, Stdio};

use super::faulty::{Disk, Faults};
use super::sample::{self, Event};
use super::{Damage, Error, Journal, parse};

const SECTOR: usize = 512;

/// A run that lost power: what was acknowledged, and the one line that was not.
struct Crash {
    acknowledged: Vec<Event>,
    durable: Vec<u8>,
    in_flight: Vec<u8>,
    /// What must come back without the line in flight, and with all of it.
    without: Outcome,
    with: Outcome,
}

/// Events that come back, and the record they make with one more line after them.
struct Outcome {
    events: Vec<Event>,
    sealed: Vec<u8>,
}

impl Outcome {
    fn of(events: &[Event]) -> Outcome {
        let sealed = sample::record(&[events, &[Event::Sealed]].concat());
        Outcome {
            events: events.to_vec(),
            sealed,
        }
    }
}

/// Writes `events` down until power goes just before changing call `power_cut_at`.
fn crash(events: &[Event], power_cut_at: u64) -> Crash {
    let disk = Disk::default().with(Faults {
        power_cut_at: Some(power_cut_at),
        ..Faults::default()
    });
    let mut acknowledged = Vec::new();
    if let Ok(mut journal) = Journal::create_in(disk.store(), &events[0], sample::at(0)) {
        acknowledged.push(events[0].clone());
        for (second, event) in (1..).zip(&events[1..]) {
            if journal.append(event, sample::at(second)).is_err() {
                break;
            }
            acknowledged.push(event.clone());
        }
    }
    let durable = disk.durable();
    let in_flight = disk.cached()[durable.len()..].to_vec();
    let without = Outcome::of(&acknowledged);
    let with = Outcome::of(&events[..events.len().min(acknowledged.len() + 1)]);
    Crash {
        acknowledged,
        durable,
        in_flight,
        without,
        with,
    }
}

/// All sequences of up to three appends of short and long lines, opening line first.
fn sequences() -> Vec<Vec<Event>> {
    let mut all = vec![vec![sample::opened()]];
    let mut last = all.clone();
    for n in 1..=3 {
        let longer = |sequence: &Vec<Event>, event| [&sequence[..], &[event]].concat();
        last = last
            .iter()
            .flat_map(|s| [longer(s, sample::short(n)), longer(s, sample::long(n))])
            .collect();
        all.extend(last.clone());
    }
    all
}

/// The state of each sequence with its last line written but not synced.
fn crashes() -> Vec<Crash> {
    sequences()
        .iter()
        .map(|events| crash(events, 2 * events.len() as u64 - 1))
        .collect()
}

/// Recovers `image` and holds it against what was acknowledged. Then writes on, and compares every byte.
fn check(image: &[u8], crash: &Crash) {
    let disk = Disk::holding(image);
    let after = image
        .strip_prefix(&crash.durable[..])
        .expect("the synced lines are there");
    let all_there = !crash.in_flight.is_empty() && after.starts_with(&crash.in_flight);
    let (expected, kept) = match all_there {
        true => (&crash.with, crash.durable.len() + crash.in_flight.len()),
        false => (&crash.without, crash.durable.len()),
    };
    let recovered = Journal::<Event>::recover_in(disk.store());
    if expected.events.is_empty() {
        let error = recovered.expect_err("nothing there");
        assert!(matches!(error, Error::Empty), "{error}");
        assert_eq!(disk.durable(), image);
        return;
    }
    let mut recovered = recovered.expect("recovered");
    assert_eq!(recovered.torn_bytes, (image.len() - kept) as u64);
    let found: Vec<Event> = recovered.lines.into_iter().map(|line| line.event).collect();
    assert_eq!(found, expected.events);
    assert_eq!(disk.durable(), image[..kept]);

    let second = i64::try_from(found.len()).expect("few");
    recovered
        .journal
        .append(&Event::Sealed, sample::at(second))
        .expect("written");
    assert_eq!(disk.durable(), expected.sealed);
}

#[test]
fn power_cut_between_any_two_calls_keeps_exactly_what_was_acknowledged() {
    for events in sequences() {
        for cut in 0..=2 * events.len() as u64 {
            let crash = crash(&events, cut);
            assert_eq!(crash.acknowledged, events[..usize::try_from(cut / 2).expect("few")]);
            assert_eq!(crash.in_flight.is_empty(), cut % 2 == 0);
            check(&crash.durable, &crash);
            check(&[&crash.durable[..], &crash.in_flight].concat(), &crash);
        }
    }
}

#[test]
fn every_prefix_of_the_line_in_flight_recovers() {
    for crash in crashes() {
        for kept in 0..=crash.in_flight.len() {
            let prefix = [&crash.durable[..], &crash.in_flight[..kept]].concat();
            check(&prefix, &crash);
            let missing = crash.in_flight.len() - kept;
            check(&[&prefix[..], &vec![0; missing]].concat(), &crash);
        }
    }
}

#[test]
fn every_prefix_with_a_stale_or_garbage_end_recovers() {
    for crash in crashes().iter().filter(|crash| crash.acknowledged.len() <= 2) {
        // stale: bytes of a line written earlier, none of them a line feed
        let stale: Vec<u8> = crash
            .in_flight
            .iter()
            .rev()
            .copied()
            .filter(|byte| *byte != b'\n')
            .collect();
        for kept in 0..crash.in_flight.len() {
            let prefix = [&crash.durable[..], &crash.in_flight[..kept]].concat();
            let missing = crash.in_flight.len() - kept;
            check(&[&prefix[..], &stale[..missing - 1]].concat(), crash);
            check(&[&prefix[..], &vec![0xa5; missing]].concat(), crash);
            // the file system made the file longer than the line, up to a block
            check(&[&prefix[..], &vec![0; SECTOR.max(missing)]].concat(), crash);
        }
        let whole = [&crash.durable[..], &crash.in_flight].concat();
        check(&[&whole[..], &[0; SECTOR]].concat(), crash);
    }
}

/// Bounds of the parts of the line in flight that lie in one sector of the file each.
fn sectors(crash: &Crash) -> Vec<(usize, usize)> {
    let (start, end) = (crash.durable.len(), crash.durable.len() + crash.in_flight.len());
    (start / SECTOR..=(end - 1) / SECTOR)
        .map(|n| (start.max(n * SECTOR), end.min((n + 1) * SECTOR)))
        .collect()
}

/// The whole file with the sectors that are not in `subset` filled with `filler`.
fn with_sectors(crash: &Crash, subset: u32, filler: u8) -> Vec<u8> {
    let mut image = [&crash.durable[..], &crash.in_flight].concat();
    for (n, (start, end)) in sectors(crash).into_iter().enumerate() {
        if subset & (1 << n) == 0 {
            image[start..end].fill(filler);
        }
    }
    image
}

#[test]
fn every_subset_of_unfilled_sectors_recovers() {
    let mut sectors_seen = 0;
    for crash in crashes() {
        let count = sectors(&crash).len();
        sectors_seen = count.max(sectors_seen);
        for subset in 0..1 << count {
            check(&with_sectors(&crash, subset, 0), &crash);
        }
    }
    assert!(sectors_seen >= 3, "the long line must cross sectors");
}

/// A line feed behind bytes that are no part of the line cannot be told from an edit: refused, and untouched.
#[test]
fn garbage_sectors_are_cut_off_or_refused_but_never_believed() {
    let (mut cut_off, mut refused) = (0, 0);
    for crash in crashes().iter().filter(|crash| !crash.acknowledged.is_empty()) {
        let count = sectors(crash).len();
        let line_feed_kept = 1 << (count - 1);
        for subset in 0..(1 << count) - 1 {
            let image = with_sectors(crash, subset, 0xa5);
            if subset & line_feed_kept == 0 {
                check(&image, crash);
                cut_off += 1;
                continue;
            }
            let disk = Disk::holding(&image);
            let error = Journal::<Event>::recover_in(disk.store()).expect_err("refused");
            let at = crash.acknowledged.len() as u64 + 1;
            assert!(
                matches!(error, Error::Damaged { line, what: Damage::NotALine { .. } } if line == at),
                "{error}"
            );
            assert_eq!((disk.durable(), disk.calls()), (image, 0));
            refused += 1;
        }
    }
    assert!(cut_off >= 10 && refused >= 10, "{cut_off} cut off, {refused} refused");
}

#[test]
fn power_cut_during_recovery_changes_nothing() {
    for crash in crashes().iter().filter(|crash| !crash.acknowledged.is_empty()) {
        for kept in (0..=crash.in_flight.len()).step_by(41) {
            let image = [&crash.durable[..], &crash.in_flight[..kept], &[0; 9]].concat();
            for cut in 0..3 {
                let disk = Disk::holding(&image).with(Faults {
                    power_cut_at: Some(cut),
                    ..Faults::default()
                });
                Journal::<Event>::recover_in(disk.store()).expect_err("power is off");
                check(&disk.durable(), crash);
                check(&disk.cached(), crash);
            }
        }
    }
}

/// The kernel marks pages clean after a failed sync: the line is seen in memory, so it is kept, so it must be written anew.
#[test]
fn a_line_seen_after_a_failed_sync_is_put_on_the_disk_again() {
    let disk = Disk::default().with(Faults {
        fails_at: Some(3),
        ..Faults::default()
    });
    let mut journal = Journal::create_in(disk.store(), &sample::opened(), sample::at(0)).expect("created");
    journal
        .append(&sample::short(1), sample::at(1))
        .expect_err("sync fails");
    drop(journal);
    let mut recovered = Journal::<Event>::recover_in(disk.store()).expect("recovered");
    assert_eq!(recovered.lines.len(), 2);
    recovered
        .journal
        .append(&Event::Sealed, sample::at(2))
        .expect("written");
    assert_eq!(
        disk.durable(),
        sample::record(&[sample::opened(), sample::short(1), Event::Sealed])
    );
}

/// Plays both parts: started anew with the path in its environment, this test is the writer that gets killed.
#[test]
fn a_killed_writer_loses_nothing_acknowledged() {
    const PATH: &str = "COREPROOF_TEST_JOURNAL";
    const NAME: &str = "evidence::journal::crash::a_killed_writer_loses_nothing_acknowledged";
    if let Some(path) = std::env::var_os(PATH) {
        let mut journal = Journal::create(path.as_ref(), &sample::opened(), sample::at(0)).expect("created");
        for n in 1..100_000 {
            println!("acknowledged {}", journal.line_count());
            journal.append(&sample::short(n), sample::at(0)).expect("written");
        }
        panic!("the writer was not killed");
    }
    let home = tempfile::tempdir().expect("folder");
    for wanted in [1, 2, 3, 10, 40] {
        let path = home.path().join(format!("{wanted}.jsonl"));
        let mut writer = Command::new(std::env::current_exe().expect("own path"))
            .args(["--exact", NAME, "--nocapture"])
            .env(PATH, &path)
            .stdout(Stdio::piped())
            .stderr(Stdio::null())
            .spawn()
            .expect("started");
        let mut said = std::io::BufReader::new(writer.stdout.take().expect("piped"));
        let mut acknowledged = 0;
        while acknowledged < wanted {
            acknowledged = acknowledged.max(next_count(&mut said).expect("the writer goes on"));
        }
        let in_use = Journal::<Event>::recover(&path).expect_err("locked by the writer");
        writer.kill().expect("killed");
        writer.wait().expect("gone");
        assert!(matches!(in_use, Error::InUse { .. }), "{in_use}");
        while let Some(count) = next_count(&mut said) {
            acknowledged = acknowledged.max(count);
        }

        let mut recovered = Journal::<Event>::recover(&path).expect("recovered");
        let found = recovered.lines.len();
        // one line may have been synced but not said, and one more be whole but not synced
        assert!(
            acknowledged <= found && found <= acknowledged + 2,
            "{acknowledged} acknowledged, {found} found"
        );
        for (n, line) in recovered.lines.iter().enumerate().skip(1) {
            assert_eq!(line.event, sample::short(n));
        }
        recovered
            .journal
            .append(&Event::Sealed, sample::at(1))
            .expect("written");
        let lines = parse::<Event>(&std::fs::read(&path).expect("read")).expect("good");
        assert_eq!(lines.len(), found + 1);
    }
}

/// The count in the writer's next whole line that says one; `None` at its end.
fn next_count(said: &mut impl std::io::BufRead) -> Option<usize> {
    loop {
        let mut text = String::new();
        if said.read_line(&mut text).expect("readable") == 0 {
            return None;
        }
        // the test harness may have put its own words before ours, and a kill may have cut a line short
        let count = text
            .strip_suffix('\n')
            .and_then(|text| text.rsplit_once("acknowledged "));
        if let Some(count) = count.and_then(|(_, count)| count.parse().ok()) {
            return Some(count);
        }
    }
}
