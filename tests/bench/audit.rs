//! How fast records are verified and audited, on real records of the shipped sequences, each figure beside its peer in one run.
//!
//! `cargo bench --no-default-features --bench audit`; `ssh-keygen` and `python3` are the peers from outside. The bounds are: signature and hash
//! alone at least 0.9 times as fast as the bare library (SHA-256 of the bytes, strict Ed25519) and at least 90 times `ssh-keygen -Y verify`, two
//! cores at least 1.8 times one, and the whole audit of a record of the thermostat cable in at most 3 ms on one core. Medians are printed, and
//! each goal is a line with its bound. The program leaves with 1 where one is missed.

use std::hint::black_box;
use std::path::{Path, PathBuf};
use std::process::{Command, ExitCode, Stdio};
use std::time::{Duration, Instant};

use coreproof::evidence::audit::Known;
use coreproof::evidence::keys::{self, PublicKey, SigningKey, Trust};
use coreproof::evidence::{Sealed, prove_known};
use ed25519_dalek::{Signature, VerifyingKey};
use sha2::{Digest as _, Sha256};
use ssh_key::SshSig;

/// Bytes of the records by which signatures are measured: those of the shipped sequences have from 13 to 53 kB.
const RECORD_BYTES: std::ops::RangeInclusive<usize> = 12_000..=54_000;

fn repo(path: &str) -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR")).join(path)
}

/// Medians of two works done in turn, so that what else the machine does falls on both.
fn medians(runs: usize, mut one: impl FnMut(), mut other: impl FnMut()) -> (Duration, Duration) {
    let timed = |work: &mut dyn FnMut()| {
        let began = Instant::now();
        work();
        began.elapsed()
    };
    let (mut ones, mut others) = (Vec::new(), Vec::new());
    for _ in 0..runs {
        ones.push(timed(&mut one));
        others.push(timed(&mut other));
    }
    (median(&mut ones), median(&mut others))
}

fn median(times: &mut [Duration]) -> Duration {
    times.sort();
    times[times.len() / 2]
}

fn microseconds(time: Duration) -> f64 {
    time.as_secs_f64() * 1e6
}

/// A record with a signature of a key that was made for this run.
struct Signed {
    name: String,
    sealed: Sealed,
}

fn signed(key: &SigningKey) -> Vec<Signed> {
    let mut paths: Vec<_> = std::fs::read_dir(repo("fixtures/records/0.1"))
        .unwrap()
        .map(|entry| entry.unwrap().path())
        .filter(|path| path.extension().is_some_and(|end| end == "jsonl"))
        .filter(|path| {
            !path
                .file_name()
                .unwrap()
                .to_string_lossy()
                .starts_with("identification")
        })
        .collect();
    paths.sort();
    let of = |path: &PathBuf| {
        let record = std::fs::read(path).unwrap();
        Signed {
            name: path.file_stem().unwrap().to_string_lossy().into_owned(),
            sealed: Sealed {
                signature: key.sign(&record),
                record,
            },
        }
    };
    paths.iter().map(of).collect()
}

/// The bare library over the same bytes: the digest of the record, and the strict equation over the envelope that holds it.
struct Bare {
    key: VerifyingKey,
    head: Vec<u8>,
    signature: Signature,
}

impl Bare {
    fn of(public: &PublicKey, sealed: &Sealed) -> Bare {
        let parsed = SshSig::from_pem(&sealed.signature).unwrap();
        let envelope = SshSig::signed_data(parsed.namespace(), parsed.hash_alg(), &sealed.record).unwrap();
        Bare {
            key: VerifyingKey::from_bytes(public.bytes()).unwrap(),
            head: envelope[..envelope.len() - 32].to_vec(),
            signature: Signature::from_slice(parsed.signature_bytes()).unwrap(),
        }
    }

    fn verify(&self, record: &[u8]) {
        let mut envelope = self.head.clone();
        envelope.extend(Sha256::digest(record));
        self.key.verify_strict(&envelope, &self.signature).unwrap();
    }
}

/// Signature and hash alone; the shares of the bare library's speed.
fn alone(records: &[Signed], public: &PublicKey) -> Vec<f64> {
    println!(
        "{:<34} {:>7} {:>10} {:>10} {:>10}",
        "signature and hash", "bytes", "us", "bare us", "bare/ours"
    );
    let mut shares = Vec::new();
    for record in records.iter().filter(|r| RECORD_BYTES.contains(&r.sealed.record.len())) {
        let Signed { name, sealed } = record;
        let bare = Bare::of(public, sealed);
        let ours = || {
            drop(black_box(
                keys::verify(&sealed.record, &sealed.signature, Some(public)).unwrap(),
            ))
        };
        let (ours, bare) = medians(2000, ours, || bare.verify(black_box(&sealed.record)));
        let share = bare.as_secs_f64() / ours.as_secs_f64();
        let (ours, bare) = (microseconds(ours), microseconds(bare));
        println!(
            "{name:<34} {:>7} {ours:>10.1} {bare:>10.1} {share:>10.3}",
            sealed.record.len()
        );
        shares.push(share);
    }
    shares
}

/// One `ssh-keygen -Y verify` process; none where the program is not there.
fn ssh_keygen(sealed: &Sealed, public: &PublicKey) -> Option<Duration> {
    let folder = tempfile::tempdir().unwrap();
    let at = |name: &str| folder.path().join(name);
    std::fs::write(at("record.jsonl"), &sealed.record).unwrap();
    std::fs::write(at("record.jsonl.sig"), &sealed.signature).unwrap();
    std::fs::write(at("signers"), format!("morgan {}\n", public.openssh_line())).unwrap();
    let one = || {
        let began = Instant::now();
        let status = Command::new("ssh-keygen")
            .args([
                "-Y",
                "verify",
                "-f",
                "signers",
                "-I",
                "morgan",
                "-n",
                "record@coreproof",
                "-s",
                "record.jsonl.sig",
            ])
            .current_dir(folder.path())
            .stdin(std::fs::File::open(at("record.jsonl")).unwrap())
            .stdout(Stdio::null())
            .stderr(Stdio::null())
            .status()
            .ok()?;
        assert!(status.success(), "ssh-keygen refuses what is good");
        Some(began.elapsed())
    };
    let mut times = (0..41).map(|_| one()).collect::<Option<Vec<_>>>()?;
    Some(median(&mut times))
}

/// How much faster two cores verify the same records than one.
struct Cores {
    /// By the clock on the wall.
    wall: f64,
    /// Without the time in which a thread was ready and something else had its core; a lock or any other wait of its own counts.
    own: f64,
}

/// For how long this thread was ready and did not run: the second figure of `schedstat`, in nanoseconds (Linux, sched-stats.rst). Nothing where
/// the system does not tell.
fn kept_waiting() -> Duration {
    let told = std::fs::read_to_string("/proc/thread-self/schedstat").unwrap_or_default();
    let waited = told.split_whitespace().nth(1).and_then(|waited| waited.parse().ok());
    Duration::from_nanos(waited.unwrap_or(0))
}

fn two_cores(records: &[Signed], public: &PublicKey) -> Cores {
    let all = || {
        let (began, waited) = (Instant::now(), kept_waiting());
        for _ in 0..20 {
            for Signed { sealed, .. } in records {
                black_box(keys::verify(&sealed.record, &sealed.signature, Some(public)).unwrap());
            }
        }
        let took = began.elapsed();
        (took, took.saturating_sub(kept_waiting() - waited))
    };
    let both = || {
        std::thread::scope(|scope| {
            let other = scope.spawn(all);
            let (ours, theirs) = (all(), other.join().unwrap());
            (ours.0.max(theirs.0), ours.1.max(theirs.1))
        })
    };
    let (mut ones, mut twos) = (Vec::new(), Vec::new());
    for _ in 0..15 {
        ones.push(all());
        twos.push(both());
    }
    let times = |of: fn(&(Duration, Duration)) -> Duration| {
        let [one, two] = [&ones, &twos].map(|all| median(&mut all.iter().map(of).collect::<Vec<_>>()));
        2.0 * one.as_secs_f64() / two.as_secs_f64()
    };
    Cores {
        wall: times(|took| took.0),
        own: times(|took| took.1),
    }
}

/// Python's own reading of the same lines, which looks at nothing in them.
fn json_loads(record: &[u8]) -> Option<Duration> {
    const PROGRAM: &str = "
import json, statistics, sys, time
lines = open(sys.argv[1], 'rb').read().splitlines()
def one():
    began = time.perf_counter()
    for line in lines: json.loads(line)
    return time.perf_counter() - began
print(statistics.median(one() for _ in range(301)))
";
    let folder = tempfile::tempdir().unwrap();
    let file = folder.path().join("record.jsonl");
    std::fs::write(&file, record).unwrap();
    let output = Command::new("python3").args(["-c", PROGRAM]).arg(&file).output().ok()?;
    let seconds: f64 = String::from_utf8(output.stdout).ok()?.trim().parse().ok()?;
    Some(Duration::from_secs_f64(seconds))
}

/// A record of today's sequence, as a rehearsal leaves it.
fn of_today(key: &SigningKey) -> Signed {
    let folder = tempfile::tempdir().unwrap();
    let out = folder.path().join("out");
    let status = Command::new(env!("CARGO_BIN_EXE_coreproof"))
        .args(["rehearse", "--out"])
        .arg(&out)
        .env("COREPROOF_HOME", folder.path())
        .stdout(Stdio::null())
        .status()
        .unwrap();
    assert!(status.success(), "the rehearsal passes");
    let record = std::fs::read(out.join("record.jsonl")).unwrap();
    Signed {
        name: "stat-cable, of this version".into(),
        sealed: Sealed {
            signature: key.sign(&record),
            record,
        },
    }
}

/// The whole audit of each record, the first of its kind and those after it; the medians of those after it.
fn whole(records: &[Signed], public: &PublicKey) -> Vec<(String, Duration)> {
    let words = |time: Option<Duration>| time.map_or("-".into(), |time| format!("{:.2}", microseconds(time) / 1e3));
    println!(
        "{:<34} {:>7} {:>10} {:>10} {:>16}",
        "the whole audit", "bytes", "first ms", "ms", "json.loads ms"
    );
    let trust = Trust::default();
    let now = jiff::Timestamp::now();
    let mut medians_of = Vec::new();
    for Signed { name, sealed } in records {
        let known = Known::default();
        let fresh = || {
            drop(black_box(prove_known(
                sealed,
                Some(public),
                &trust,
                now,
                &Known::default(),
            )))
        };
        let again = || drop(black_box(prove_known(sealed, Some(public), &trust, now, &known)));
        let (first, after) = medians(101, fresh, again);
        let theirs = json_loads(&sealed.record);
        println!(
            "{name:<34} {:>7} {:>10} {:>10} {:>16}",
            sealed.record.len(),
            words(Some(first)),
            words(Some(after)),
            words(theirs)
        );
        medians_of.push((name.clone(), after));
    }
    medians_of
}

/// The goals, each a line with its bound.
#[derive(Default)]
struct Goals {
    missed: bool,
}

impl Goals {
    fn hold(&mut self, holds: bool, what: &str, comes_to: String, bound: &str) {
        let word = if holds { "met" } else { "MISSED" };
        println!("goal: {what}: {comes_to}, {bound}: {word}");
        self.missed |= !holds;
    }
}

fn main() -> ExitCode {
    let key = SigningKey::throw_away();
    let public = key.public();
    let mut records = signed(&key);
    let least = alone(&records, &public).into_iter().fold(f64::INFINITY, f64::min);
    let cable = records
        .iter()
        .find(|record| record.name == "stat-cable-passed")
        .unwrap();
    let ours = || {
        drop(black_box(
            keys::verify(&cable.sealed.record, &cable.sealed.signature, Some(&public)).unwrap(),
        ))
    };
    let (ours, _) = medians(2000, ours, || ());
    let theirs = ssh_keygen(&cable.sealed, &public);
    let cores = two_cores(&records, &public);
    records.push(of_today(&key));
    let audits = whole(&records, &public);
    let mut goals = Goals::default();
    let share = format!("{least:.3} of the bare library's speed at worst");
    goals.hold(0.9 <= least, "signature and hash alone", share, "at least 0.9");
    match theirs {
        Some(theirs) => {
            let times = theirs.as_secs_f64() / ours.as_secs_f64();
            let comes_to = format!("{times:.0} times as fast ({:.2} ms)", microseconds(theirs) / 1e3);
            goals.hold(90.0 <= times, "against `ssh-keygen -Y verify`", comes_to, "at least 90");
        }
        None => println!("ssh-keygen is not there: not compared"),
    }
    let comes_to = format!(
        "{:.2} times as many as one where nothing else runs, {:.2} by the clock on the wall",
        cores.own, cores.wall
    );
    goals.hold(1.8 <= cores.own, "two cores", comes_to, "at least 1.8");
    for (name, time) in audits.iter().filter(|(name, _)| name.starts_with("stat-cable")) {
        let comes_to = format!("{:.2} ms on one core", microseconds(*time) / 1e3);
        let holds = *time <= Duration::from_millis(3);
        goals.hold(holds, &format!("the whole audit of {name}"), comes_to, "at most 3 ms");
    }
    match goals.missed {
        false => ExitCode::SUCCESS,
        true => ExitCode::FAILURE,
    }
}
