//! Sequences, parts and jobs that were damaged: cut, doubled, nested, joined with pieces of others.
//!
//! The rule inside: a damaged file is read or refused, never survived by luck: no panic, a place inside its text for every
//! problem, and no plan that the proof has not passed.

use std::time::{Duration, Instant};

use coreproof::located::{Finding, Text};
use coreproof::model::installation::Installation;
use coreproof::proof::prove;
use coreproof::sequence::shipped;
use coreproof::{job, sequence};

use super::Dice;

/// The longest that one damaged file may take, unoptimised and on a busy machine.
const CASE_MAX: Duration = Duration::from_secs(20);

/// Pieces that mean something to the language.
const PIECES: &[&str] = &[
    "EachCore([",
    "EachZone([",
    "EachPair([",
    "If(HasEarthCore, [",
    "]),",
    "Include(\"parts/isolate.ron\"),",
    "Include(\"parts/dead-tests.ron\"),",
    "after_failure: [RepairFrom(\"switch-off\")],",
    "Not(Not(",
    "((((((((((((((((",
    "[[[[[[[[[[[[",
    "\"1e400 V\"",
    "\"0 ohm\"",
    "{core}",
    "{",
    "}",
    "stage: Live,",
    "stage: Survey,",
    "act: Energise,",
    "act: LockOff,",
    "\u{202e}",
    "\\u{0}",
    "99999999999999999999",
    "-1",
    "Some(",
    "None",
    "near: \"E\"",
    "carries: Earth",
    "carries: SwitchedLive",
    "volts: \"0 V\"",
    "//",
    "/*",
    "r#\"",
    "'",
    "\"",
];

fn damage(whole: &mut Text, others: &[Text], dice: &mut Dice) {
    let mut text = whole.text.to_string();
    for _ in 0..=dice.below(3) {
        let places: Vec<usize> = text.char_indices().map(|(at, _)| at).chain([text.len()]).collect();
        let mut place = || places[dice.below(places.len())];
        let (a, b) = (place(), place());
        let (from, to) = (a.min(b), a.max(b).min(a.min(b) + 400));
        let to = (to..=text.len()).find(|at| text.is_char_boundary(*at)).unwrap();
        match dice.below(6) {
            0 => text.replace_range(from..to, ""),
            1 => {
                let again = text[from..to].to_owned();
                text.insert_str(a, &again);
            }
            2 | 3 => text.insert_str(a, PIECES[dice.below(PIECES.len())]),
            4 => {
                let other = &others[dice.below(others.len())].text;
                let lines: Vec<&str> = other.lines().collect();
                text.insert_str(a, lines[dice.below(lines.len())]);
            }
            _ => {
                let deep = PIECES[dice.below(12)].repeat(1 + dice.below(300));
                text.insert_str(a, &deep);
            }
        }
    }
    whole.text = text.into();
}

fn inside(findings: &[Finding]) {
    assert!(!findings.is_empty(), "refused without a word");
    for finding in findings {
        let (span, text) = (&finding.problem.span, &finding.text.text);
        assert!(span.start <= span.end && span.end <= text.len(), "{finding:?}");
    }
}

/// Reads damaged files from this seed; how many were read, bound, and refused.
pub fn run(seed: u64, cases: usize) -> [usize; 3] {
    let mut dice = Dice(seed);
    let (mut read, mut bound) = (0, 0);
    for case in 0..cases {
        let there = shipped::SEQUENCES[dice.below(shipped::SEQUENCES.len())];
        let mut texts = shipped::texts(there.name).unwrap();
        let mut job_text = shipped::job(there.job).unwrap();
        let others = texts.clone();
        match dice.below(3) {
            0 => damage(&mut job_text, &others, &mut dice),
            _ => {
                let at = dice.below(texts.len());
                damage(&mut texts[at], &others, &mut dice);
            }
        }
        let began = Instant::now();
        let sequence = sequence::read(&texts).map_err(|findings| inside(&findings));
        let job = job::read(&job_text).map_err(|problems| inside(&job_text.findings(problems)));
        if let (Ok(sequence), Ok(job)) = (sequence, job) {
            read += 1;
            match sequence::bind(&sequence, &job) {
                Ok(plan) => {
                    bound += 1;
                    assert!(prove(&plan).holds(), "seed {seed}, case {case}: bound and not proved");
                    // a job that is sound by itself may still draw wiring that cannot be: said, not survived
                    if let Err(error) = Installation::of(&job) {
                        assert!(!error.to_string().is_empty());
                    }
                }
                Err(findings) => inside(&findings),
            }
        }
        assert!(
            began.elapsed() < CASE_MAX,
            "seed {seed}, case {case}: {:?}",
            began.elapsed()
        );
    }
    [read, bound, cases - bound]
}

#[test]
fn damaged_files_are_read_or_refused_at_a_place() {
    let seed = 0x5eed;
    let [read, bound, refused] = run(seed, 600);
    println!("seed {seed:#x}: 600 damaged files, {read} read, {bound} bound, {refused} refused");
    assert!(
        20 < bound && 200 < refused,
        "{bound} bound, {refused} refused: the damage is too small or too large"
    );
}

#[cfg(feature = "long")]
#[test]
fn damaged_files_are_read_or_refused_for_long() {
    let seed = 0xf11e;
    let cases = super::number("COREPROOF_CASES").and_then(|cases| usize::try_from(cases).ok());
    let cases = cases.unwrap_or(100_000);
    let [read, bound, refused] = run(seed, cases);
    println!("seed {seed:#x}: {cases} damaged files, {read} read, {bound} bound, {refused} refused");
}
