//! From the command line to the command.

use std::path::{Path, PathBuf};

use super::args::{Args, Command, KeyCommand, MeterCommand, RecordsCommand};
use super::cables::Wanted;
#[cfg(not(feature = "certificate"))]
use super::certificate::lid;
use super::error::{Failure, REFUSED};
#[cfg(feature = "certificate")]
use super::lid::lid;
use super::{
    audit, certificates, check, coverage, distance, find, grammar, identify, instruments, job, key, limits, listed,
    locate, meter_find, meter_list, meter_watch, places, plan, profiles, records, rehearse, resume, run, standing,
    teach, teach_port, timestamp, verify, which,
};
use crate::system::private::owner_only;

/// Runs the command that the arguments name and returns the exit code.
pub fn start() -> u8 {
    let args = match grammar::parse() {
        Ok(args) => args,
        Err(error) => {
            // what was typed stands in it
            if error.use_stderr() {
                super::out::complaint(format_args!("{}", error.render().to_string().trim_end()));
                return REFUSED;
            }
            // printing help is no error; a closed pipe while doing so is none either
            let _ = error.print();
            return super::error::PASSED;
        }
    };
    log();
    let result = command(args);
    match result.and_then(|code| super::out::failure().map_or(Ok(code), Err)) {
        Ok(code) => code,
        Err(failure) => {
            tracing::warn!(exit = failure.exit, message = %failure.message, "command failed");
            failure.print();
            failure.exit
        }
    }
}

/// Diagnostics go to a file; without one they go nowhere, and the command works all the same.
fn log() {
    let file = super::home::Home::open().ok().and_then(|home| {
        let mut options = std::fs::OpenOptions::new();
        owner_only(options.create(true).append(true)).open(home.log()).ok()
    });
    if let Some(file) = file {
        let subscriber = tracing_subscriber::fmt()
            .with_ansi(false)
            .with_writer(std::sync::Mutex::new(file))
            .finish();
        let _ = tracing::subscriber::set_global_default(subscriber);
    }
}

fn runtime() -> Result<tokio::runtime::Runtime, Failure> {
    tokio::runtime::Builder::new_current_thread()
        .enable_all()
        .build()
        .map_err(|error| Failure::equipment(format!("no event loop: {error}")))
}

/// The cable of a job that is meant.
fn asked(job: &Path, named: Option<String>) -> Result<Option<String>, Failure> {
    runtime()?.block_on(which::meant(job, named.as_deref(), &mut None))
}

fn checked(files: &[PathBuf], cable: Option<&str>) -> Result<u8, Failure> {
    let (runtime, mut lines) = (runtime()?, None);
    check::check(files, cable, |job| {
        runtime.block_on(which::meant(job, None, &mut lines))
    })
}

fn command(args: Args) -> Result<u8, Failure> {
    let Some(command) = args.command else {
        return standing::standing();
    };
    match command {
        Command::Rehearse(asked) => runtime()?.block_on(rehearse::rehearse(&asked)),
        Command::Check { language: true, .. } => check::language(),
        Command::Check { files, cable, .. } => checked(&files, cable.as_deref()),
        Command::Job(asked) => runtime()?.block_on(job::job(&asked)),
        Command::Plan {
            sequence,
            job,
            cable,
            rests_on,
            json,
        } => plan::plan(
            &sequence,
            (&job, asked(&job, cable)?.as_deref()),
            rests_on.as_deref(),
            json,
        ),
        Command::Coverage {
            sequence,
            job,
            cable,
            pairs,
            json,
            svg,
        } => {
            let cable = asked(&job, cable)?;
            coverage::coverage(&sequence, (&job, cable.as_deref()), pairs, json, svg.as_deref())
        }
        Command::Locate(asked) => runtime()?.block_on(locate::locate(&asked)),
        Command::Limits {
            find,
            compare,
            job,
            json,
        } => limits::limits(&find.join(" "), &compare, job.as_deref(), json),
        Command::Run(asked) => runtime()?.block_on(run::run(&asked, args.plain)),
        Command::Resume {
            run,
            meter,
            typed,
            page,
        } => {
            let wanted = Wanted {
                meter: meter.as_deref(),
                typed,
            };
            let faces = resume::Faces::new(args.plain, page);
            runtime()?.block_on(resume::resume(run.as_deref(), wanted, faces))
        }
        Command::Meter { command } => meter_command(command, args.plain),
        Command::Instruments { command } => instruments::instruments(command),
        Command::Key { command } => key_command(command),
        Command::Records { command } => records_command(command),
        Command::Certificate {
            records,
            output,
            copy,
            photographs,
        } => certificates::certificates(&records, &output, copy.copy(), &photographs),
        Command::Lid(asked) => lid(&asked),
        Command::Verify { file, key, authority } => verify::verify(&file, key.as_deref(), &authority),
        Command::Identify(asked) => runtime()?.block_on(identify::identify(&asked, args.plain)),
        Command::Distance(asked) => distance::distance(&asked),
        Command::Pages { folder } => grammar::pages(&folder),
        Command::Audit {
            filter,
            against,
            authority,
            json,
        } => audit::audit(filter.as_deref(), &against, &authority, json),
    }
}

fn meter_command(command: MeterCommand, plain: bool) -> Result<u8, Failure> {
    match command {
        MeterCommand::List { json, listen, port } => {
            runtime()?.block_on(meter_list::list(json, listen.then_some(port)))
        }
        MeterCommand::Find(asked) => runtime()?.block_on(meter_find::find(&asked)),
        MeterCommand::Watch(watching) => runtime()?.block_on(meter_watch::watch(&watching, plain)),
        MeterCommand::Teach { port, out, speed } => {
            let asked = teach_port::Asked {
                port,
                out,
                speeds: speed,
                listen: teach::LISTEN,
            };
            let code = runtime()?.block_on(teach::teach(&asked, &mut crate::terminal::input::lines()))?;
            profiles::keep_taught(&asked.out)?;
            Ok(code)
        }
    }
}

fn key_command(command: KeyCommand) -> Result<u8, Failure> {
    match command {
        KeyCommand::New { name } => runtime()?.block_on(key::new(&name)),
        KeyCommand::Agent { file, name } => key::agent(&file, &name),
        KeyCommand::Show => key::show(),
        KeyCommand::Trust {
            file,
            name,
            from,
            until,
        } => key::trust(&file, &name, from.as_deref(), until.as_deref()),
        KeyCommand::Passphrase => runtime()?.block_on(key::passphrase()),
        KeyCommand::Retire { name, from } => runtime()?.block_on(key::retire(name.as_deref(), &from)),
    }
}

fn records_command(command: RecordsCommand) -> Result<u8, Failure> {
    match command {
        RecordsCommand::List { json } => listed::list(json),
        RecordsCommand::Show { record, edition, json } => match edition {
            Some(edition) => records::other_edition(&record, &edition, json),
            None => records::show(&record, json),
        },
        RecordsCommand::Places => places::places(),
        RecordsCommand::Find(asked) => find::find(&asked),
        RecordsCommand::Instruments { due_by, json } => find::instruments(due_by, json),
        RecordsCommand::Export { record, output, .. } => match record {
            Some(record) => records::export(&record, &output),
            None => records::export_all(&output),
        },
        RecordsCommand::Countersign { record, signature } => {
            runtime()?.block_on(records::countersign(&record, signature.as_deref()))
        }
        RecordsCommand::Timestamp {
            record,
            request,
            token,
            authority,
        } => match (request, token) {
            (Some(file), _) => timestamp::request(&record, &file),
            (None, Some(file)) => timestamp::keep(&record, &file, &authority),
            (None, None) => unreachable!("one of them is required"),
        },
        RecordsCommand::Import { file } => records::import(&file),
    }
}
