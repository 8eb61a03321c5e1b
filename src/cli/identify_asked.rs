//! What an identification is asked to tell apart, with what it is judged by.
//!
//! The rule inside: whatever cannot be told apart with this kit is refused before anything is labelled.

use std::path::Path;

use super::args::Identify;
use super::error::Failure;
use super::files;
use crate::identify::event::Subject;
use crate::identify::figures::Figures;
use crate::identify::kit::Kit;
use crate::identify::naming;
use crate::job::Job;
use crate::located::Text;

/// What is told apart, with what it is judged by.
pub(super) struct Asked {
    pub subject: Subject,
    pub figures: Figures,
    pub job: Option<Job>,
}

impl Asked {
    /// What these options ask for.
    pub(super) fn of(asked: &Identify) -> Result<Asked, Failure> {
        let job = asked
            .job
            .as_deref()
            .map(|job| read_job(job, asked.cable.as_deref()))
            .transpose()?;
        let figures = match &job {
            Some(job) => Figures::of(&job.limits).map_err(Failure::refused)?,
            None => Figures::shipped(),
        };
        let subject = match asked.zones {
            Some(zones) => Subject::Zones {
                zones,
                actuators: asked.actuators.unwrap_or(zones),
                checked: !asked.fewest,
            },
            None => {
                let kit = Kit::parse(&asked.kit)?;
                let of_job = job.as_ref().map(|job| naming::cores_of(job, kit.earth));
                let cores = asked.cores.or(of_job).ok_or_else(|| {
                    Failure::refused("neither the number of cores nor a job is given")
                        .hint("give `--cores 7` or `--job JOB`")
                })?;
                if let Some(job) = &job {
                    naming::wanted(job, cores, kit.earth)?;
                }
                Subject::Cores {
                    cores,
                    kit: asked.kit.clone(),
                    every_core_seen: asked.every_core_seen,
                    checked: true,
                }
            }
        };
        Ok(Asked { subject, figures, job })
    }

    /// The job as the file carries it.
    pub(super) fn carried_job(&self) -> Option<Text> {
        let text = &self.job.as_ref()?.text;
        let name = Path::new(&text.name).file_name();
        let name = name.map_or_else(|| text.name.clone(), |name| name.to_string_lossy().into_owned());
        Some(Text::new(name, &*text.text))
    }
}

fn read_job(path: &Path, cable: Option<&str>) -> Result<Job, Failure> {
    files::job(&files::job_text(path)?, cable).map_err(Failure::findings)
}
