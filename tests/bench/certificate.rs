//! How fast a record becomes its certificate, beside WeasyPrint that sets the same words and figures in type.
//!
//! The rule inside: like is compared with like. Whole processes are timed in turns in one run and the best of each counts: ours reads the
//! record, proves it, sets it in type as PDF/A-3a and attaches what it carries; the peer sets tables and paragraphs of the same texts and
//! proves nothing. `cargo bench --bench certificate` prints it; `COREPROOF_PYTHON` names a Python that has weasyprint, else the one of
//! `.ci/long` is taken.

use std::fmt::Write as _;
use std::path::{Path, PathBuf};
use std::process::Command;
use std::time::{Duration, Instant};

use coreproof::evidence::audit::examine;
use coreproof::evidence::certificate::of_record;
use coreproof::evidence::certificate::page::{Page, Seal};
use coreproof::evidence::{Beside, CopyFor, Sealed};
use coreproof::run::fold::Run;
use serde_json::Value;

const RENDERED: u32 = 20;
const ROUNDS: usize = 5;
/// A record after the first, in one process.
const RECORD_MOST: Duration = Duration::from_millis(100);
/// The whole process takes at most this share of the peer's.
const SHARE: u32 = 5;

fn main() {
    let folder = tempfile::tempdir().expect("a folder");
    let out = folder.path().join("out");
    run(Command::new(env!("CARGO_BIN_EXE_coreproof"))
        .env("COREPROOF_HOME", folder.path())
        .args(["rehearse", "stat-cable", "--seed", "7", "--out"])
        .arg(&out));
    let record = out.join("record.jsonl");
    let sealed = Sealed::read(&record).expect("a record");
    let examined = examine::<Run>(&sealed.record, &sealed.signature, None);
    let (walked, signer) = (
        examined.folded.expect("it folds"),
        examined.signer.expect("it is signed"),
    );

    let render =
        || of_record(&walked, &sealed, &signer, &Beside::default(), CopyFor::Engineer).expect("it is set in type");
    let (first, pdf) = timed(render);
    let (all, _) = timed(|| (0..RENDERED).for_each(|_| drop(render())));
    let after = all / RENDERED;
    println!(
        "a record of {} kB to a certificate of {} kB",
        sealed.record.len() / 1000,
        pdf.len() / 1000
    );
    println!("in one process: the first {first:.1?}, each after it {after:.1?}, at most {RECORD_MOST:?}");

    let page = Page::of(&walked, &Seal::default(), CopyFor::Engineer);
    let html = folder.path().join("page.html");
    std::fs::write(&html, as_html(&serde_json::to_value(&page).expect("plain data"))).expect("it is written");
    let (mut ours, mut peers) = (Duration::MAX, Duration::MAX);
    for round in 0..ROUNDS {
        let certificate = folder.path().join(format!("{round}.pdf"));
        let whole = || {
            run(Command::new(env!("CARGO_BIN_EXE_coreproof"))
                .env("COREPROOF_HOME", folder.path())
                .arg("certificate")
                .arg(&record)
                .arg("-o")
                .arg(&certificate));
        };
        ours = ours.min(timed(whole).0);
        let peer = || {
            run(Command::new(python())
                .args(["-m", "weasyprint"])
                .arg(&html)
                .arg(folder.path().join("peer.pdf")))
        };
        peers = peers.min(timed(peer).0);
    }
    println!("whole processes: ours {ours:.1?}, WeasyPrint {peers:.1?}, at most a share of one in {SHARE}");
    assert!(after <= RECORD_MOST, "a record takes {after:?}");
    assert!(
        ours * SHARE <= peers,
        "{ours:?} is more than one in {SHARE} of {peers:?}"
    );
}

fn timed<T>(work: impl FnOnce() -> T) -> (Duration, T) {
    let start = Instant::now();
    let done = work();
    (start.elapsed(), done)
}

fn run(command: &mut Command) {
    let output = command.output().unwrap_or_else(|error| panic!("{command:?}: {error}"));
    assert!(
        output.status.success(),
        "{command:?}: {}",
        String::from_utf8_lossy(&output.stderr)
    );
}

fn python() -> PathBuf {
    let own = Path::new(env!("CARGO_MANIFEST_DIR")).join("target/outside-venv/bin/python");
    std::env::var_os("COREPROOF_PYTHON").map_or(own, PathBuf::from)
}

/// The texts of a page as headings, paragraphs, lists and tables: an array of objects is a table.
fn as_html(page: &Value) -> String {
    let mut html = String::from(
        "<!doctype html><meta charset=utf-8><style>@page{size:A4;margin:15mm}body{font:9pt serif}table{border-collapse:collapse}\
         td,th{border-bottom:0.4pt solid;padding:2pt;text-align:left;vertical-align:top}</style>",
    );
    for (name, value) in page.as_object().expect("a page has members") {
        write!(html, "<h2>{}</h2>", escaped(name)).expect("a text");
        put(&mut html, value);
    }
    html
}

fn put(html: &mut String, value: &Value) {
    let written = match value {
        Value::Array(rows) if rows.first().is_some_and(Value::is_object) => return table(html, rows),
        Value::Array(items) => return items.iter().for_each(|item| put(html, item)),
        Value::Object(members) => return members.values().for_each(|member| put(html, member)),
        Value::Null => Ok(()),
        Value::String(text) => write!(html, "<p>{}</p>", escaped(text)),
        other => write!(html, "<p>{other}</p>"),
    };
    written.expect("a text");
}

fn table(html: &mut String, rows: &[Value]) {
    html.push_str("<table><tr>");
    let names = rows[0].as_object().expect("a row has members").keys();
    names.for_each(|name| html.push_str(&format!("<th>{}</th>", escaped(name))));
    html.push_str("</tr>");
    for row in rows {
        html.push_str("<tr>");
        for member in row.as_object().expect("a row has members").values() {
            html.push_str("<td>");
            put(html, member);
            html.push_str("</td>");
        }
        html.push_str("</tr>");
    }
    html.push_str("</table>");
}

fn escaped(text: &str) -> String {
    text.replace('&', "&amp;").replace('<', "&lt;")
}
