//! One sequence as somebody wrote it, and what is said of it; the words that cases are written in.
//!
//! The rule inside: a case is bound once, and all that is said of it is kept together.

use std::panic::catch_unwind;
use std::sync::Mutex;
use std::sync::atomic::{AtomicUsize, Ordering};
use std::thread;

use coreproof::located::Findings;
use coreproof::sequence::shipped;
use coreproof::{job, sequence};

use super::editor::{Edit, Editor};

/// A shipped sequence, edited.
#[derive(Debug, Clone)]
pub struct Case {
    pub name: &'static str,
    sequence: &'static str,
    job: &'static str,
    edits: Vec<Edit>,
    /// A rule or words of its refusal; none where it must be accepted.
    pub expected: &'static str,
}

/// A sequence that must be refused, with words of the refusal.
pub fn bad(name: &'static str, sequence: &'static str, expected: &'static str, edits: Vec<Edit>) -> Case {
    assert!(!expected.is_empty(), "`{name}` does not say why it is refused");
    Case {
        expected,
        ..good(name, sequence, edits)
    }
}

/// A sequence that must be accepted.
pub fn good(name: &'static str, sequence: &'static str, edits: Vec<Edit>) -> Case {
    let job = shipped::SEQUENCES.iter().find(|there| there.name == sequence);
    let job = job.expect("it is shipped").job;
    Case {
        name,
        sequence,
        job,
        edits,
        expected: "",
    }
}

impl Case {
    /// What is said of it, a line for each finding; nothing where it is accepted.
    fn said(&self) -> String {
        let mut editor = Editor::new(self.sequence, self.job);
        self.edits.iter().for_each(|edit| editor.apply(edit));
        let words = |findings: Findings| {
            let all: Vec<String> = findings.into_iter().map(|finding| finding.problem.what).collect();
            all.join("\n")
        };
        let job = match job::read(&editor.job) {
            Ok(job) => job,
            Err(findings) => return format!("the job: {findings:?}"),
        };
        let bound = sequence::read(&editor.texts()).and_then(|sequence| sequence::bind(&sequence, &job));
        bound.err().map_or_else(String::new, words)
    }
}

/// What is said of each case, in their order.
pub fn said(cases: &[Case]) -> Vec<String> {
    let next = AtomicUsize::new(0);
    let all = Mutex::new(vec![String::new(); cases.len()]);
    let work = || {
        while let Some((at, case)) = {
            let at = next.fetch_add(1, Ordering::Relaxed);
            cases.get(at).map(|case| (at, case))
        } {
            let said = catch_unwind(|| case.said()).unwrap_or_else(|_| "it panics".into());
            all.lock().expect("nobody panics with it")[at] = said;
        }
    };
    let threads = thread::available_parallelism().map_or(1, |there| there.get().min(4));
    thread::scope(|scope| (0..threads).for_each(|_| drop(scope.spawn(work))));
    all.into_inner().expect("nobody panics with it")
}

pub fn remove(id: &'static str) -> Edit {
    Edit::Remove(id)
}

/// The step that reads each core against all others is gone, and what rests on its being low.
pub fn no_insulation() -> Vec<Edit> {
    vec![
        remove("insulation"),
        remove("insulation-alone"),
        words("If(Low(\"insulation\"), [", "If(HasEarthCore, ["),
    ]
}

pub fn set(id: &'static str, field: &'static str, value: &str) -> Edit {
    Edit::Set(id, field, value.to_owned())
}

/// The window of a step with figures of its own: `low: "1 ohm"`.
pub fn stated(id: &'static str, edges: &str) -> Edit {
    Edit::Set(id, "window", format!("Stated({edges}, source: \"my own figures\")"))
}

pub fn before(id: &'static str, steps: impl Into<String>) -> Edit {
    Edit::Before(id, steps.into())
}

pub fn after(id: &'static str, steps: impl Into<String>) -> Edit {
    Edit::After(id, steps.into())
}

pub fn moved(id: &'static str, to: &'static str) -> Edit {
    Edit::Move(id, to)
}

pub fn only(id: &'static str, condition: &'static str) -> Edit {
    Edit::Only(id, condition)
}

pub fn out(part: &'static str) -> Edit {
    Edit::Out(part)
}

pub fn words(from: &'static str, to: &'static str) -> Edit {
    Edit::Words(from, to)
}

pub fn of_job(from: &'static str, to: &'static str) -> Edit {
    Edit::Job(from, to)
}

/// Nothing but these parts, by their names.
pub fn parts(names: &[&str]) -> Edit {
    Edit::Steps(
        names
            .iter()
            .map(|name| format!("Include(\"parts/{name}.ron\"),"))
            .collect(),
    )
}

/// Something that hands do.
pub fn act(id: &str, stage: &str, act: &str) -> String {
    format!("Do(id: \"{id}\", stage: {stage}, act: {act}, say: \"Do it at the {{near}}.\"),")
}

/// A voltage between two terminals of an end; more fields may follow the window.
pub fn volts(id: &str, end: &str, between: [&str; 2], window: &str) -> String {
    let [first, second] = between;
    format!(
        "Voltage(id: \"{id}\", end: {end}, between: (\"{first}\", \"{second}\"), window: {window}, say: \"At the {end}: {{first}}, {{second}}.\"),"
    )
}
