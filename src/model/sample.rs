//! The demonstration job and the shipped sequence, for the tests of the rooms that work on the model.

use crate::job::{self, Job};
use crate::located::Text;
use crate::plan::Plan;
use crate::sequence;
use crate::sequence::shipped;

pub const JOB: &str = include_str!("../../fixtures/saltmarsh.ron");

/// The demonstration job with a piece of its text replaced.
pub fn job_with(from: &str, to: &str) -> Job {
    assert!(JOB.contains(from), "{from}");
    let text = Text {
        name: "saltmarsh.ron".into(),
        text: JOB.replace(from, to),
    };
    job::read(&text).unwrap()
}

/// The demonstration job.
pub fn job() -> Job {
    job_with("18 m", "18 m")
}

/// A plan of this job and the shipped sequence with a piece of its text replaced.
pub fn plan_with(job: &Job, from: &str, to: &str) -> Plan {
    let mut texts = shipped::texts("stat-cable").unwrap();
    assert!(texts.iter().any(|text| text.text.contains(from)), "{from}");
    texts
        .iter_mut()
        .for_each(|text| text.text = text.text.replace(from, to));
    sequence::bind(&sequence::read(&texts).unwrap(), job).unwrap()
}

/// The shipped sequence on the demonstration job.
pub fn plan() -> Plan {
    plan_with(&job(), "format", "format")
}
