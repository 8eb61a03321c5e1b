//! Pages with the most and the least that a job may have, read back by poppler: nothing is cut off, nothing lies on something else, and the
//! headings of a table stand on each page that it goes on to. `COREPROOF_SHOTS=DIR` keeps them.

use std::path::PathBuf;
use std::process::Command;

use regex::Regex;

use super::page::{Page, sample};
use super::{Attachments, render};
use crate::evidence::CopyFor;
use crate::run::dialogue::Ask;
use crate::run::fold::Run;

const PAIR: &str = include_str!("../../../fixtures/changing-rooms-pair.ron");

/// The margins of a page, in points: 15 mm at the sides; above and below stand head and foot.
const MARGINS: [f64; 2] = [42.5, 14.0];
/// A4, in points (ISO 216).
const PAPER: [f64; 2] = [595.28, 841.89];

/// A word where it stands: left, top, right, bottom, in points.
struct Word {
    text: String,
    place: [f64; 4],
}

impl Word {
    fn area(&self) -> f64 {
        let [left, top, right, bottom] = self.place;
        (right - left).max(0.0) * (bottom - top).max(0.0)
    }

    /// The share of the smaller of two words that lies on the other.
    fn covered(&self, other: &Word) -> f64 {
        let [a, b] = [self.place, other.place];
        let both = |from: usize, to: usize| (a[to].min(b[to]) - a[from].max(b[from])).max(0.0);
        both(0, 2) * both(1, 3) / self.area().min(other.area()).max(f64::MIN_POSITIVE)
    }
}

fn made(run: &Run, name: &str) -> (tempfile::TempDir, PathBuf) {
    let record = sample::record();
    let attachments = Attachments {
        record: &record,
        signature: sample::SIGNATURE_TEXT,
        public_key: sample::PUBLIC_KEY_LINE,
        beside: Vec::new(),
        photographs: Vec::new(),
    };
    let seal = super::page::Seal {
        checkpoint: None,
        ..sample::seal()
    };
    let pdf = render(&Page::of(run, &seal, CopyFor::Engineer), &attachments).unwrap();
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join(format!("{name}.pdf"));
    std::fs::write(&path, pdf).unwrap();
    if let Some(shots) = std::env::var_os("COREPROOF_SHOTS") {
        std::fs::copy(&path, PathBuf::from(shots).join(format!("{name}.pdf"))).unwrap();
    }
    (folder, path)
}

fn printed(args: &[&str], path: &std::path::Path) -> String {
    let out = Command::new("pdftotext").args(args).arg(path).arg("-").output();
    let out = out.unwrap_or_else(|e| panic!("pdftotext is installed by .ci/run: {e}"));
    assert!(out.status.success(), "{}", String::from_utf8_lossy(&out.stderr));
    String::from_utf8(out.stdout).unwrap()
}

/// The words of each page.
fn words(path: &std::path::Path) -> Vec<Vec<Word>> {
    let place = Regex::new(r#"<word xMin="([-\d.]+)" yMin="([-\d.]+)" xMax="([-\d.]+)" yMax="([-\d.]+)">(.*)</word>"#);
    let place = place.unwrap();
    let word = |found: regex::Captures<'_>| Word {
        place: [1, 2, 3, 4].map(|n| found[n].parse().unwrap()),
        text: found[5].to_owned(),
    };
    let pages = printed(&["-bbox"], path);
    let pages = pages.split("<page ").skip(1);
    pages
        .map(|page| place.captures_iter(page).map(word).collect())
        .collect()
}

#[track_caller]
fn nothing_is_cut_off_or_covered(path: &std::path::Path) {
    for (number, page) in (1..).zip(words(path)) {
        for (n, word) in page.iter().enumerate() {
            let [left, top, right, bottom] = word.place;
            let is_within = |from: f64, to: f64, side: usize| {
                MARGINS[side] - 0.6 <= from && to <= PAPER[side] - MARGINS[side] + 0.6
            };
            assert!(
                is_within(left, right, 0) && is_within(top, bottom, 1),
                "page {number}: `{}` leaves the page at {:?}",
                word.text,
                word.place
            );
            let next = page[n + 1..].iter().find(|other| 0.35 < word.covered(other));
            if let Some(other) = next {
                panic!(
                    "page {number}: `{}` at {:?} lies on `{}` at {:?}",
                    word.text, word.place, other.text, other.place
                );
            }
        }
    }
}

/// A job in which everything that no sequence speaks of has a name of 60 characters, filled up with these.
fn named(job: &str, filling: &str) -> String {
    let declared = Regex::new(r#"(?:name|part|client|engineer): ("[^"]+")"#).unwrap();
    let (before, rest) = job.split_once("    equipment: [").unwrap();
    let (equipment, after) = rest.split_once("\n    ],").unwrap();
    let mut names: Vec<&str> = [before, after]
        .iter()
        .flat_map(|part| declared.captures_iter(part))
        .map(|found| found.get(1).unwrap().as_str())
        .collect();
    // a terminal is called by a mark of one letter or two, which may be a figure elsewhere
    names.retain(|name| 4 < name.len() && !equipment.contains(name));
    names.sort_unstable();
    names.dedup();
    assert!(8 < names.len(), "{names:?}");
    let mut job = job.to_owned();
    for name in names {
        let bare = name.trim_matches('"').chars().chain(" ".chars());
        let long: String = bare.chain(filling.chars().cycle()).take(60).collect();
        job = job.replace(name, &format!("\"{}\"", long.trim_end()));
    }
    job
}

/// Walks to the end, or as far as failures let it.
fn walked(run: Run) -> Run {
    sample::walk(run, |prompt| {
        let line = match &prompt.ask {
            Ask::Decision { .. } => "leave",
            Ask::Note { .. } => "as it is",
            _ => return None,
        };
        Some(line.to_owned())
    })
}

/// Han, which the fonts have not: each of its characters is printed as its number.
const HAN: &str = "\u{6e7e}\u{5c4b}";

#[test]
fn a_pair_without_earth_or_length_says_so() {
    let job = PAIR.replace("        length: \"24 m\",\n", "");
    assert_ne!(job, PAIR);
    for (name, job) in [("pair", job.clone()), ("pair-han", named(&job, HAN))] {
        let run = walked(sample::opened_by("extra-low-pair", &job, None));
        let (_folder, path) = made(&run, name);
        nothing_is_cut_off_or_covered(&path);
        let words = printed(&["-raw"], &path);
        assert!(words.contains("length not known"), "{words}");
    }
}

#[test]
fn twenty_cores_and_63_zones_break_over_pages_with_their_headings() {
    let run = sample::extreme();
    let (_folder, path) = made(&run, "extreme");
    nothing_is_cut_off_or_covered(&path);
    let text = printed(&["-raw"], &path);
    let flat = |page: &str| {
        page.replace('\u{200b}', "")
            .split_whitespace()
            .collect::<Vec<_>>()
            .join(" ")
    };
    let pages: Vec<String> = text.trim_end_matches('\u{c}').split('\u{c}').map(flat).collect();
    let bare: String = text.replace('\u{200b}', "").split_whitespace().collect();
    for core in &run.plan.job.cores {
        assert!(bare.contains(&core.name.replace(' ', "")), "{}", core.name);
    }
    for zone in &run.plan.job.zones {
        let name: String = zone.name.chars().filter(|c| *c != ' ').collect();
        assert!(bare.contains(&name), "{}", zone.name);
    }
    assert!(bare.contains("lengthnotknown"));
    // each page that a table goes on to has its headings
    let of = |words: &str| pages.iter().filter(|page| page.contains(words)).count();
    for (heading, least) in [
        ("As left, in its window", 3),
        ("Continuity in its window", 2),
        ("No Step Result", 2),
    ] {
        assert!(
            least <= of(heading),
            "`{heading}` stands on {} pages of {}",
            of(heading),
            pages.len()
        );
    }
}
