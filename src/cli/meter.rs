//! The meter named on the command line, and which instrument of the job it is.

use tokio::sync::mpsc::UnboundedReceiver;

use super::error::Failure;
use super::profiles;
use crate::job::Job;
use crate::located::Text;
use crate::meter::decode::Period;
use crate::meter::decode::Profile;
use crate::meter::port::source::Meter;
use crate::meter::port::spec::PortSpec;
use crate::run::dialogue::Said;
use crate::run::engine::PortInstrument;
use crate::run::event::AnsweredBy;
use crate::terminal::input;

/// A port and profile as named: `/dev/ttyUSB0,line-stream`.
#[derive(Debug, Clone)]
pub(super) struct Named {
    pub port: PortSpec,
    pub profile: Profile,
    pub instrument: PortInstrument,
}

/// The port and, after the last comma, the profile.
pub(super) fn split(given: &str) -> (&str, Option<&str>) {
    given
        .rsplit_once(',')
        .map_or((given, None), |(port, profile)| (port, Some(profile)))
}

/// Finds the profile and the instrument that talks it.
pub(super) fn named(given: &str, job: &Job) -> Result<Named, Failure> {
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
    let (port, profile) = split(given);
    let port = PortSpec::read(port)?;
    if !port.keeps_time() {
        let what = format!("`{given}` is played without its timing, which does not show what stands still");
        return Err(Failure::refused(what).hint("use a recording with its timing, `replay:FILE`"));
    }
    let profile = match profile.or(port.profile()) {
        Some(profile) => profiles::profile(profile)?,
        None => match talking.as_slice() {
            [(_, only)] => profiles::profile(only)?,
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
        port,
        instrument: PortInstrument {
            instrument: instrument.0.name.clone(),
            on_change: profile.period == Period::OnChange,
            guarded: profile.frame.is_guarded(),
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
    /// Opens the port.
    pub(super) async fn open(&self) -> Result<Meter, Failure> {
        let opener = self.port.clone().opener(&self.profile.line);
        Ok(Meter::open(opener, self.profile.clone()).await?)
    }
}

/// Opens the meter where one is named.
pub(super) async fn open(named: Option<&Named>) -> Result<Option<Meter>, Failure> {
    match named {
        None => Ok(None),
        Some(named) => Ok(Some(named.open().await?)),
    }
}

/// Where the answers are typed: on standard input, or on the terminal where that carries the meter.
pub(super) fn answers(given: Option<&str>) -> Result<UnboundedReceiver<Said>, Failure> {
    if given.is_some_and(|given| split(given).0 == "stdin:") {
        return input::terminal_lines().map_err(|error| {
            Failure::refused(format!(
                "standard input carries the meter, and there is no terminal to answer on: {error}"
            ))
            .hint("start it from a terminal, or give the meter another port")
        });
    }
    Ok(input::lines())
}

/// By which way answers come, where it is not by a person at a terminal.
pub(super) fn answered_by(given: Option<&str>) -> Option<AnsweredBy> {
    let terminal = given.is_some_and(|given| split(given).0 == "stdin:") || input::is_typed();
    (!terminal).then_some(AnsweredBy::Pipe)
}

/// The profiles that a record carries: those of the job's instruments, and the one named.
pub(super) fn carried(job: &Job, named: Option<&Named>) -> Vec<Text> {
    let mut carried: Vec<Text> = named
        .iter()
        .map(|n| Text {
            name: n.profile.name.clone(),
            text: n.profile.text.clone(),
        })
        .collect();
    for name in job.instruments.iter().filter_map(|i| i.profile.as_deref()) {
        if carried.iter().all(|c| c.name != name)
            && let Ok(profile) = profiles::profile(name)
        {
            carried.push(Text {
                name: profile.name.clone(),
                text: profile.text.clone(),
            });
        }
    }
    carried
}
