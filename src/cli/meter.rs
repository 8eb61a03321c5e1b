//! The meter named on the command line, and which instrument of the job it is.

use super::error::Failure;
use super::files;
use crate::meter::profile::Profile;
use crate::meter::source::Meter;
use crate::pure::engine::PortInstrument;
use crate::pure::event::Carried;
use crate::pure::job::Job;

/// A port and profile as named: `/dev/ttyUSB0,line-stream`.
#[derive(Debug, Clone)]
pub struct Named {
    pub port: String,
    pub profile: Profile,
    pub instrument: PortInstrument,
}

/// Finds the profile and the instrument that talks it.
pub fn named(given: &str, job: &Job) -> Result<Named, Failure> {
    let talking: Vec<_> = job
        .instruments
        .iter()
        .filter_map(|i| i.profile.as_ref().map(|p| (i, p)))
        .collect();
    let listed = || {
        talking
            .iter()
            .map(|(i, p)| format!("`{}` ({p})", i.name))
            .collect::<Vec<_>>()
            .join(", ")
    };
    let (port, profile) = match given.split_once(',') {
        Some((port, profile)) => (port, files::profile(profile)?),
        None => match talking.as_slice() {
            [(_, only)] => (given, files::profile(only)?),
            [] => return Err(no_instrument(job, None)),
            _ => {
                return Err(Failure::refused(format!(
                    "`{given}` names no profile, and the job lists several: {}",
                    listed()
                ))
                .hint(format!("write `{given},PROFILE`")));
            }
        },
    };
    let instrument = talking
        .iter()
        .find(|(_, p)| **p == profile.name)
        .ok_or_else(|| no_instrument(job, Some(&profile.name)))?;
    Ok(Named {
        port: port.into(),
        instrument: PortInstrument {
            instrument: instrument.0.name.clone(),
        },
        profile,
    })
}

fn no_instrument(job: &Job, profile: Option<&str>) -> Failure {
    let what = profile.map_or("a profile".to_owned(), |p| format!("the profile `{p}`"));
    Failure::refused(format!("no instrument in the job `{}` talks {what}", job.text.name))
        .hint("add `profile: \"…\"` to the instrument on the cable")
}

impl Named {
    /// Opens the port; called inside the runtime.
    pub fn open(&self) -> Result<Meter, Failure> {
        Ok(Meter::open_serial(&self.port, self.profile.clone())?)
    }
}

/// The profiles that a record carries: those of the job's instruments, and the one named.
pub fn carried(job: &Job, named: Option<&Named>) -> Vec<Carried> {
    let mut carried: Vec<Carried> = named
        .iter()
        .map(|n| Carried {
            name: n.profile.name.clone(),
            text: n.profile.text.clone(),
        })
        .collect();
    for name in job.instruments.iter().filter_map(|i| i.profile.as_deref()) {
        if carried.iter().all(|c| c.name != name)
            && let Ok(profile) = crate::meter::profile::find(name)
        {
            carried.push(Carried {
                name: profile.name.clone(),
                text: profile.text.clone(),
            });
        }
    }
    carried
}
