//! The demonstration job and the shipped sequence, for the tests of the rooms that work on the model.

use crate::job::{self, End, Job};
use crate::located::Text;
use crate::plan::{Plan, Point, Probes};
use crate::sequence;
use crate::sequence::shipped;

pub(crate) const JOB: &str = include_str!("../../fixtures/saltmarsh.ron");

/// The demonstration job with a piece of its text replaced.
pub(crate) fn job_with(from: &str, to: &str) -> Job {
    assert!(JOB.contains(from), "{from}");
    let text = Text {
        name: "saltmarsh.ron".into(),
        text: JOB.replace(from, to).into(),
    };
    job::read(&text).unwrap()
}

/// The demonstration job.
pub(crate) fn job() -> Job {
    job_with("18 m", "18 m")
}

/// A plan of this job and the shipped sequence with a piece of its text replaced.
pub(crate) fn plan_with(job: &Job, from: &str, to: &str) -> Plan {
    let mut texts = shipped::texts("stat-cable").unwrap();
    assert!(texts.iter().any(|text| text.text.contains(from)), "{from}");
    texts
        .iter_mut()
        .for_each(|text| text.text = text.text.replace(from, to).into());
    sequence::bind(&sequence::read(&texts).unwrap(), job).unwrap()
}

/// The same without the proof of order, for a plan that it refuses.
pub(crate) fn unproved(job: &Job, from: &str, to: &str) -> Plan {
    let mut texts = shipped::texts("stat-cable").unwrap();
    assert!(texts.iter().any(|text| text.text.contains(from)), "{from}");
    (texts.iter_mut()).for_each(|text| text.text = text.text.replace(from, to).into());
    sequence::bind_unproved(&sequence::read(&texts).unwrap(), job).unwrap()
}

/// The shipped sequence on the demonstration job.
pub(crate) fn plan() -> Plan {
    plan_with(&job(), "format", "format")
}

/// The shipped job with a residual-current device.
pub(crate) fn with_residual_device() -> Job {
    job_with("ze: \"0.41", "residual: \"30 mA\", ze: \"0.41")
}

/// Probes on two terminals of an end.
pub(crate) fn probes(first: &str, second: &str, end: End) -> Probes {
    let [first, second] = [first, second].map(|terminal| Point::Terminal {
        terminal: terminal.into(),
        end,
    });
    Probes { first, second }
}

/// Probes between earth and the permanent live of the thermostat.
pub(crate) fn at_thermostat() -> Probes {
    probes("E", "L", End::Far)
}
