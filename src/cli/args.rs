//! What can be typed, and what `--help` says.

use std::path::PathBuf;

use clap::{Parser, Subcommand};

use super::paged::Where;
use crate::evidence::CopyFor;
use crate::system::devices::{ABOUT_NAMES, EXAMPLE};

const CAUTIONS: &str = "\
CAUTIONS
  This program reads a meter and keeps a record. It does not make a circuit dead and it does not see what your hands do.
  Isolate, lock off and prove dead with a two-pole voltage indicator, proved before and after; a multimeter never proves dead.
  Live tests are for competent, licensed persons. Local codes and the edition of the wiring rules in force come first.
  A record is not a certificate under the wiring rules.

EXIT CODES
  0 all passed   1 a test failed or was left, a run was abandoned, an audit found something
  2 refused: a file, an argument, a signature, a signer, a passphrase   3 port, meter, disk, archive in use
  130 interrupted: the run can be resumed   101 a fault of this program

Data lives under $COREPROOF_HOME, else the platform's data folder.";

/// How ports are named, with this system's own example.
fn ports() -> String {
    format!(
        "\
PORTS
  {EXAMPLE:<28} a serial port; {ABOUT_NAMES}
  tcp:HOST:PORT                raw bytes of a networked instrument
  hid:VENDOR:PRODUCT           raw HID reports of a USB cable, where coreproof was built with them; with `:counted` after it,
                               the first byte of a report is the number of bytes that follow. Never tried on a device.
  replay:FILE                  a recording with its timing
  replay-fast:FILE             a recording or any file of bytes, as fast as it is read
  stdin:                       standard input; answers are then typed on the terminal

Live readings here are looked at, not taken: they prove nothing, and they never show that a circuit is dead."
    )
}

/// Proves control wiring core by core with a meter, and leaves a signed record that can be checked years later.
#[derive(Debug, Parser)]
#[command(name = "coreproof", version, after_help = CAUTIONS)]
pub(super) struct Args {
    /// Without one: where things stand, and what to type next.
    #[command(subcommand)]
    pub command: Option<Command>,
    /// Whole lines only, and the number of each question; chosen by itself where input or output is no terminal.
    /// On a pipe a line `12: dark` answers question 12 and no other.
    #[arg(long, global = true)]
    pub plain: bool,
}

#[derive(Debug, Subcommand)]
pub(super) enum Command {
    /// Walk a sequence with no hardware: simulated wiring, and a simulated meter on a real pseudo-terminal.
    #[command(after_help = CAUTIONS)]
    Rehearse(RehearseArgs),
    /// Read sequences, jobs and profiles: every error at once; a sequence and a job are bound to each other.
    #[command(after_help = CAUTIONS)]
    Check {
        /// RON files, or sequences and jobs that are shipped, by their names.
        #[arg(required_unless_present = "language")]
        files: Vec<PathBuf>,
        /// The cable meant, where a job holds several: its name or a piece of it; without it, and without a sequence, each is read.
        #[arg(long, value_name = "NAME")]
        cable: Option<String>,
        /// Print the reference of the language of sequences, with the rules, and check nothing.
        #[arg(long)]
        language: bool,
    },
    /// Write a job by being asked, in the order in which one looks at a wiring centre. Can be left and gone on with.
    #[command(after_help = CAUTIONS)]
    Job(JobArgs),
    /// Show the concrete steps with their windows and sources.
    #[command(after_help = CAUTIONS)]
    Plan {
        /// A sequence: a file, or one that is shipped, by its name.
        sequence: PathBuf,
        /// A job: a file, or one that is shipped, by its name.
        #[arg(long)]
        job: PathBuf,
        /// The cable meant, where the job holds several: its name or a piece of it.
        #[arg(long, value_name = "NAME")]
        cable: Option<String>,
        /// As for `run`: behind the lock of this record of the archive.
        #[arg(long, value_name = "RECORD")]
        rests_on: Option<String>,
        /// Print JSON.
        #[arg(long)]
        json: bool,
    },
    /// Try every fault of the library on a sequence: which step catches it, what escapes, which step catches nothing of its own.
    #[command(after_help = CAUTIONS)]
    Coverage {
        /// A sequence: a file, or one that is shipped, by its name.
        sequence: PathBuf,
        /// A job: a file, or one that is shipped, by its name.
        #[arg(long)]
        job: PathBuf,
        /// The cable meant, where the job holds several: its name or a piece of it.
        #[arg(long, value_name = "NAME")]
        cable: Option<String>,
        /// Try every two faults that can stand together.
        #[arg(long)]
        pairs: bool,
        /// Print JSON.
        #[arg(long)]
        json: bool,
        /// Write the matrix as a picture.
        #[arg(long, value_name = "FILE")]
        svg: Option<PathBuf>,
    },
    /// Where a fault must be: the smallest sets of faults that explain what was read, and what to measure next.
    #[command(after_help = CAUTIONS)]
    Locate(Locate),
    /// Walk a sequence for real.
    ///
    /// Answers are words, in any case. `d` is `done`, `l` is `lit`, `s` is `dark` (it stays dark), and no letter is anything else; what
    /// energises has none. `back` takes the last answer back until something else happens: it stays in the record, what passed is done
    /// again, and what did not pass stays with a remark beside it. `was lit` at any later question says that the last point that was
    /// answered dark was lit, `was lit STEP` an earlier one: isolation is void from then on. `length 14 m` corrects the length of the cable
    /// while nothing is live: once something was read against it only for a reason and by a quarter in all, and what was read is judged again.
    #[command(after_help = CAUTIONS)]
    Run(RunArgs),
    /// Go on with a run after a break or a crash, or seal one that is closed.
    #[command(after_help = CAUTIONS)]
    Resume {
        /// A place, a cable, or a run id or its beginning; not needed where only one run is unfinished.
        run: Option<String>,
        /// As for `run`.
        #[arg(long, value_name = "PORT[,PROFILE]")]
        meter: Option<String>,
        /// As for `run`.
        #[arg(long, conflicts_with = "meter")]
        typed: bool,
        /// As for `run`; a run's name stands before it.
        #[arg(long, value_name = "WHERE", num_args = 0..=1, default_missing_value = "here")]
        page: Option<Where>,
    },
    /// Your name and your instruments, told once and taken into jobs by name; without more, what was told and what is due.
    Instruments {
        #[command(subcommand)]
        command: Option<InstrumentsCommand>,
    },
    /// Ports, profiles and live readings.
    Meter {
        #[command(subcommand)]
        command: MeterCommand,
    },
    /// Limit tables with edition, source and how well each figure is known.
    Limits {
        /// A table by its name, a figure (`1.37`, `"0.5 Mohm"`), or words to find; without it, what there is.
        find: Vec<String>,
        /// Two editions row by row.
        #[arg(long, num_args = 2, value_names = ["EDITION", "EDITION"], conflicts_with = "find")]
        compare: Vec<String>,
        /// With the sets that this job brings.
        #[arg(long)]
        job: Option<PathBuf>,
        /// Print JSON.
        #[arg(long)]
        json: bool,
    },
    /// Signing keys, and whom to believe.
    Key {
        #[command(subcommand)]
        command: KeyCommand,
    },
    /// The archive of sealed records.
    Records {
        #[command(subcommand)]
        command: RecordsCommand,
    },
    /// Write the document to hand over: a PDF that shows one record and carries it inside.
    Certificate {
        /// Run id or its beginning, a record file, or a folder of record files and of what `records export` wrote.
        #[arg(required = true, value_name = "RECORD")]
        records: Vec<String>,
        /// The PDF to write; of several records or a folder of them the folder, made where it is missing.
        #[arg(short, long)]
        output: PathBuf,
        /// The client's copy has the front pages, the engineer's every step behind them; each carries the whole record.
        #[arg(long, value_name = "WHOM", value_enum, default_value = "engineer")]
        copy: CopyArg,
        /// Attach this photograph, which the record binds in by its SHA-256, and show it; several by naming the option again.
        #[arg(long = "photograph", value_name = "FILE")]
        photographs: Vec<PathBuf>,
    },
    /// Write the sheet for the inside of a wiring centre's lid, labels to cut out, and a page for the customer.
    ///
    /// A PDF made from each cable's newest record that nothing supersedes, and from nothing else: what was not proved is left blank and marked,
    /// the whole cable where its record failed, was abandoned, or an unfinished run was worked at since. Exit code 1 where something is blank.
    #[command(after_help = CAUTIONS)]
    Lid(Lid),
    /// Check a record or an identification with its signature beside it, or a certificate.
    Verify {
        /// `record.jsonl` or an identification, with its signature beside it under the same name and `.sig`, or a certificate PDF.
        file: PathBuf,
        /// Believe this public key file and no other, instead of the trusted list.
        #[arg(long, value_name = "FILE.pub")]
        key: Option<PathBuf>,
        /// Prove its time stamps against the certificate of this authority, in PEM form.
        #[arg(long, value_name = "CA.pem")]
        authority: Vec<PathBuf>,
    },
    /// Prove stored records again: signature, chain, order, every reading, every verdict, and that none was taken out.
    Audit {
        /// Only records whose place, cable, engineer, date or id contains this.
        filter: Option<String>,
        /// Hold the archive against certificates that were handed out: whether their records, or any before them, were deleted,
        /// rewritten or put back to an earlier time since.
        #[arg(long, value_name = "FILE.pdf", num_args = 1..)]
        against: Vec<PathBuf>,
        /// Prove time stamps against the certificate of this authority, in PEM form.
        #[arg(long, value_name = "CA.pem")]
        authority: Vec<PathBuf>,
        /// Print JSON.
        #[arg(long)]
        json: bool,
    },
    /// Tell which core is which in an unlabelled cable, in the fewest walks between its ends; or which actuator belongs to which zone.
    #[command(after_help = CAUTIONS)]
    Identify(Identify),
    /// How far away a core broke or touches another, from readings at both ends.
    #[command(after_help = CAUTIONS)]
    Distance(Distance),
    /// Write manual pages, and completions for bash, zsh and fish, into a folder.
    #[command(hide = true)]
    Pages {
        /// The folder, made where it is missing.
        folder: PathBuf,
    },
}

/// What `job` takes.
#[derive(Debug, clap::Args)]
pub(super) struct JobArgs {
    /// The sequence that it is for: a file, or one that is shipped, by its name; not needed to go on.
    pub sequence: Option<PathBuf>,
    /// The job to begin from: a file of an earlier one, or one that is shipped; without it, the one that the sequence is shipped with.
    #[arg(long)]
    pub from: Option<PathBuf>,
    /// The file to write; without it, one named after the cable.
    #[arg(short, long, value_name = "FILE.ron")]
    pub output: Option<PathBuf>,
    /// Begin anew though one was left half-way, which is then dropped.
    #[arg(long)]
    pub new: bool,
}

/// What `rehearse` takes.
#[derive(Debug, clap::Args)]
pub(super) struct RehearseArgs {
    /// A sequence: a file, or one that is shipped, by its name (`zone-valve`, `underfloor-zones`, …); without it, the thermostat cable.
    pub sequence: Option<PathBuf>,
    /// A job: a file, or one that is shipped, by its name; without it, the one that the sequence is shipped with.
    #[arg(long)]
    pub job: Option<PathBuf>,
    /// The cable meant, where the job holds several: its name or a piece of it.
    #[arg(long, value_name = "NAME")]
    pub cable: Option<String>,
    /// Put a fault in: core-open, core-open:grey, insulation-low:brown/grey, valve-stuck, …; two with `+` between them. `list`
    /// shows those that the job has a place for, and ends.
    #[arg(long, value_name = "NAME")]
    pub fault: Option<String>,
    /// Hide a fault that the seed chooses: say which it is, and be told.
    #[arg(long, conflicts_with = "fault")]
    pub practice: bool,
    /// Leave record.jsonl, record.jsonl.sig, signer.pub and certificate.pdf in this folder.
    #[arg(long, value_name = "DIR")]
    pub out: Option<PathBuf>,
    /// Seed of the noise and the small differences between cores.
    #[arg(long, default_value_t = 1)]
    pub seed: u64,
    /// Show every prompt and answer, as a run does.
    #[arg(long)]
    pub steps: bool,
    /// As for `run`: behind the lock of this record of the archive.
    #[arg(long, value_name = "RECORD")]
    pub rests_on: Option<String>,
}

/// Whom a copy is for, as it is typed.
#[derive(Debug, Clone, Copy, clap::ValueEnum)]
pub(super) enum CopyArg {
    Client,
    Engineer,
}

impl CopyArg {
    pub(super) fn copy(self) -> CopyFor {
        match self {
            CopyArg::Client => CopyFor::Client,
            CopyArg::Engineer => CopyFor::Engineer,
        }
    }
}

/// What `run` takes.
#[derive(Debug, clap::Args)]
pub(super) struct RunArgs {
    /// A sequence: a file, or one that is shipped, by its name.
    pub sequence: PathBuf,
    /// A job: a file, or one that is shipped, by its name.
    #[arg(long)]
    pub job: PathBuf,
    /// The cable meant, where the job holds several: its name or a piece of it.
    #[arg(long, value_name = "NAME")]
    pub cable: Option<String>,
    /// Port of the meter and, after a comma, its profile: `/dev/ttyUSB0,line-stream`; other ports: see `meter watch`.
    /// Without it the cable that `meter find` kept for an instrument of the job, where it is plugged in; else every reading is typed.
    #[arg(long, value_name = "PORT[,PROFILE]")]
    pub meter: Option<String>,
    /// Every reading is typed, whatever is plugged in.
    #[arg(long, conflicts_with = "meter")]
    pub typed: bool,
    /// A page beside the terminal, to be read from two metres and answered with a thumb: in a browser of this machine, or with `lan`, or
    /// an address of this machine, on a phone in the same network. The passphrase is typed at the terminal alone.
    #[arg(long, value_name = "WHERE", num_args = 0..=1, default_missing_value = "here")]
    pub page: Option<Where>,
    /// Begin a new run though one on the same cable is unfinished; without it that is asked, and refused where nobody can be asked.
    #[arg(long)]
    pub new: bool,
    /// Why the run begins with an instrument past its calibration date; goes into the record.
    #[arg(long, value_name = "REASON")]
    pub overdue: Option<String>,
    /// The signed identification of the cable's cores, which the record then carries.
    #[arg(long, value_name = "FILE")]
    pub identified: Option<PathBuf>,
    /// The record that this run corrects: its run id or beginning, a record file or a certificate. It stays as it is, and is shown as
    /// superseded wherever both are at hand.
    #[arg(long, value_name = "RECORD", requires = "because")]
    pub supersedes: Option<String>,
    /// The record of another cable on whose lock this run rests, by its run id or beginning: it left the same supply switched off and locked
    /// off. Switch, lock, key and notice are taken over; the indicator and every point are proved again.
    #[arg(long, value_name = "RECORD")]
    pub rests_on: Option<String>,
    /// Why that record is superseded; goes into the record.
    #[arg(long, value_name = "REASON", requires = "supersedes")]
    pub because: Option<String>,
}

/// What `records find` takes; every part that is given must fit.
#[derive(Debug, clap::Args)]
pub(super) struct Find {
    /// A part of the place or of its part.
    #[arg(long)]
    pub place: Option<String>,
    /// A part of the circuit's or cable's name.
    #[arg(long)]
    pub cable: Option<String>,
    /// A part of the engineer's name.
    #[arg(long)]
    pub engineer: Option<String>,
    /// A part of the name or serial number of an instrument whose reading stands in it.
    #[arg(long)]
    pub instrument: Option<String>,
    /// What it came to.
    #[arg(long, value_parser = ["pass", "fail", "not tested", "conditional"])]
    pub verdict: Option<String>,
    /// Closed on this day or later, in UTC: `2026-11-30`.
    #[arg(long, value_name = "DATE")]
    pub from: Option<jiff::civil::Date>,
    /// Closed on this day or before.
    #[arg(long, value_name = "DATE")]
    pub to: Option<jiff::civil::Date>,
    /// Print JSON, as `fixtures/schema/records.schema.json` has it.
    #[arg(long, conflicts_with = "csv")]
    pub json: bool,
    /// Print CSV.
    #[arg(long)]
    pub csv: bool,
}

/// What `locate` takes.
#[derive(Debug, clap::Args)]
pub(super) struct Locate {
    /// Run id or its beginning, a record file or a journal. Without it readings are typed.
    #[arg(conflicts_with_all = ["readings", "sequence", "job"])]
    pub record: Option<String>,
    /// A text file of readings, `continuity/grey: OL` a line.
    #[arg(long, value_name = "FILE")]
    pub readings: Option<PathBuf>,
    /// The sequence that the readings are of; without it, the shipped thermostat cable.
    #[arg(long)]
    pub sequence: Option<PathBuf>,
    /// The job that they are of; without it, the demonstration job.
    #[arg(long)]
    pub job: Option<PathBuf>,
    /// The cable meant, where the job holds several: its name or a piece of it.
    #[arg(long, value_name = "NAME")]
    pub cable: Option<String>,
    /// The most faults at once that are looked for.
    #[arg(long, default_value_t = 2, value_parser = clap::value_parser!(u8).range(1..=3))]
    pub at_most: u8,
    /// Print JSON.
    #[arg(long)]
    pub json: bool,
}

/// What `lid` takes.
#[derive(Debug, clap::Args)]
#[cfg_attr(not(feature = "certificate"), allow(dead_code))] // it is refused there, whatever was asked
pub(super) struct Lid {
    /// The newest record of each cable of one place: run ids or their beginnings, record files or certificates.
    #[arg(required_unless_present = "place", conflicts_with = "place")]
    pub records: Vec<String>,
    /// Every cable of this place in the archive: its name or a piece of it.
    #[arg(long, value_name = "NAME")]
    pub place: Option<String>,
    /// The PDF to write.
    #[arg(short, long, value_name = "FILE.pdf")]
    pub output: PathBuf,
}

/// What `identify` takes.
#[derive(Debug, clap::Args)]
pub(super) struct Identify {
    /// Number of cores, 2 to 20.
    #[arg(long, conflicts_with = "zones")]
    pub cores: Option<usize>,
    /// Job file: whose cores they are, at which place, with which instruments. Its cores are named at the end.
    #[arg(long)]
    pub job: Option<PathBuf>,
    /// The cable meant, where the job holds several: its name or a piece of it.
    #[arg(long, value_name = "NAME", requires = "job")]
    pub cable: Option<String>,
    /// What is at hand, by commas: links, links=2 (joints an end), earth, resistors, resistors=5, diode.
    #[arg(long, default_value = "links", value_name = "LIST", conflicts_with = "zones")]
    pub kit: String,
    /// Walk once more rather than know the last core by elimination.
    #[arg(long, conflicts_with = "zones")]
    pub every_core_seen: bool,
    /// As for `run`; needs the job.
    #[arg(long, value_name = "PORT[,PROFILE]", conflicts_with = "zones")]
    pub meter: Option<String>,
    /// Number of zones, 1 to 63: tell actuators apart instead of cores.
    #[arg(long)]
    pub zones: Option<usize>,
    /// Number of actuators; without it, as many as zones.
    #[arg(long, requires = "zones")]
    pub actuators: Option<usize>,
    /// As few calls as can be, which do not notice an actuator that sticks, lags or was looked at wrongly.
    #[arg(long, requires = "zones")]
    pub fewest: bool,
    /// Show the plan and ask nothing.
    #[arg(long)]
    pub plan: bool,
    /// Keep every answer and reading in this new file as it goes, and sign it at the end; the signature is FILE.sig.
    #[arg(long, value_name = "FILE")]
    pub out: Option<PathBuf>,
    /// Where it is, for a signed file without a job.
    #[arg(long, value_name = "TEXT", conflicts_with = "job")]
    pub place: Option<String>,
    /// Why it begins with an instrument past its calibration date; goes into the file.
    #[arg(long, value_name = "REASON", requires = "out")]
    pub overdue: Option<String>,
    /// Write the job with its cores named by their labels to this new file.
    #[arg(long, value_name = "FILE", conflicts_with = "zones")]
    pub job_out: Option<PathBuf>,
    /// Go on with a file that was broken off, or sign one that is closed.
    #[arg(long, value_name = "FILE", conflicts_with_all = ["cores", "job", "kit", "every_core_seen", "zones", "plan", "out", "place", "overdue", "json"])]
    pub resume: Option<PathBuf>,
    /// Print JSON; prompts go to standard error.
    #[arg(long, conflicts_with_all = ["out", "job_out"])]
    pub json: bool,
}

/// What `distance` takes. Capacitances mean a break, resistances a contact.
#[derive(Debug, clap::Args)]
pub(super) struct Distance {
    /// Reading at the near end: `1.2 nF` of a broken core, or `0.43 ohm` of two that touch.
    #[arg(long)]
    pub near: String,
    /// The same at the far end.
    #[arg(long)]
    pub far: Option<String>,
    /// Length of the cable: `20 m`.
    #[arg(long)]
    pub length: Option<String>,
    /// Capacitance a metre, measured on a known length: `85 pF/m`.
    #[arg(long, conflicts_with = "far")]
    pub per_metre: Option<String>,
    /// Loop of a sound pair of the same size, linked at the far end: `0.72 ohm`. For a contact.
    #[arg(long = "loop", value_name = "OHM")]
    pub whole_loop: Option<String>,
    /// Limit of error of the meter, in percent.
    #[arg(long, default_value_t = 2.0)]
    pub meter_percent: f64,
    /// Digits of the display that its limit of error adds to that; half a digit is always counted, since a display rounds.
    #[arg(long, default_value_t = 0)]
    pub meter_digits: u32,
    /// Limit of error of the length, in percent.
    #[arg(long, default_value_t = 2.0)]
    pub length_percent: f64,
    /// Limit of error of the capacitance a metre, in percent.
    #[arg(long, default_value_t = 10.0)]
    pub per_metre_percent: f64,
    /// Print JSON.
    #[arg(long)]
    pub json: bool,
}

#[derive(Debug, Subcommand)]
pub(super) enum InstrumentsCommand {
    /// Show what was told, and what is due.
    List,
    /// Take instruments over from a job, or from another file of told ones.
    Add {
        /// A file, or a job that is shipped, by its name.
        from: PathBuf,
        /// Only these, by their names.
        names: Vec<String>,
        /// Take them in place of those that are told under the same names.
        #[arg(long)]
        replace: bool,
    },
    /// An instrument came back from its calibration.
    Calibrated {
        /// By its name.
        name: String,
        /// The day of the calibration: `2026-11-25`.
        #[arg(long, value_name = "DATE")]
        on: jiff::civil::Date,
        /// The day by which the next one is due.
        #[arg(long, value_name = "DATE")]
        due: jiff::civil::Date,
    },
    /// Say who works with them, as records name them.
    Engineer {
        /// The name.
        name: String,
        /// What they are, for documents: `electrician`.
        #[arg(long)]
        position: Option<String>,
        /// For whom they work, for documents.
        #[arg(long)]
        firm: Option<String>,
    },
    /// Read the file again: every error at once. Exit code 1 where a calibration is past its date.
    Check,
}

#[derive(Debug, Subcommand)]
pub(super) enum MeterCommand {
    /// The ports that are present, with their USB identity and whoever holds them, and the profiles, taught and shipped, with their speeds.
    List {
        /// Listen on each port as well, and say what it sends; asks before it opens one.
        #[arg(long)]
        listen: bool,
        /// With this port, and no others; may be given again.
        #[arg(long, value_name = "PORT", requires = "listen")]
        port: Vec<String>,
        /// Print JSON.
        #[arg(long)]
        json: bool,
    },
    /// Find the meter: listen on the ports at the usual speeds by every profile, and keep the answer with the instrument, so that `run` needs
    /// no `--meter`. Ports are named first and opened after one answer; nothing is sent on any.
    Find(FindMeter),
    /// Live readings, their rate, and whether they stand still. Ctrl-C ends it.
    #[command(after_help = ports())]
    Watch(Watch),
    /// Learn a meter that no profile describes: make it show a few values and type what its display says.
    Teach {
        /// Serial port that the meter sends to.
        port: String,
        /// The profile file to write.
        #[arg(long, value_name = "FILE")]
        out: PathBuf,
        /// Listen at this speed only; may be given again.
        #[arg(long, value_name = "BAUD")]
        speed: Vec<u32>,
    },
}

/// What `meter find` takes.
#[derive(Debug, clap::Args)]
pub(super) struct FindMeter {
    /// Listen on this port, and on no others that are present; may be given again.
    #[arg(long, value_name = "PORT")]
    pub port: Vec<String>,
    /// Ask on this port as well: bytes are sent to it, by the profiles of meters that answer only when they are asked. May be given again.
    #[arg(long, value_name = "PORT")]
    pub ask: Vec<String>,
    /// How long to listen, in seconds: ten are enough for a meter that sends twice a second.
    #[arg(long = "for", value_name = "SECONDS", default_value_t = 10, value_parser = clap::value_parser!(u64).range(1..=600))]
    pub seconds: u64,
    /// The instrument that it is, by the name that it was told under; without it, that is asked.
    #[arg(long, value_name = "NAME")]
    pub instrument: Option<String>,
}

/// What `meter watch` takes.
#[derive(Debug, clap::Args)]
pub(super) struct Watch {
    /// Port of the meter and, after a comma, its profile: a shipped one, or a file.
    #[arg(long, value_name = "PORT[,PROFILE]")]
    pub meter: String,
    /// Write what the meter sends to a new file, to be played with `replay:FILE`.
    #[arg(long, value_name = "FILE")]
    pub record: Option<PathBuf>,
    /// Show the bytes as they are read.
    #[arg(long)]
    pub raw: bool,
    /// End after so many readings; exit code 3 if none comes for three times the silence that the profile allows, 9 s with a
    /// shipped one.
    #[arg(long, value_name = "N", value_parser = clap::value_parser!(u32).range(1..))]
    pub count: Option<u32>,
    /// Print JSON, one object a line.
    #[arg(long)]
    pub json: bool,
}

#[derive(Debug, Subcommand)]
pub(super) enum KeyCommand {
    /// Make the engineer's signing key, encrypted with a passphrase.
    New {
        /// The engineer's name as records show it.
        #[arg(long)]
        name: String,
    },
    /// Sign with an Ed25519 key that an SSH agent holds (`SSH_AUTH_SOCK`), instead of one made here.
    Agent {
        /// Its public key file; the agent must hold the key now.
        file: PathBuf,
        /// The engineer's name as records show it.
        #[arg(long)]
        name: String,
    },
    /// Show the public key, its fingerprint and the trusted list.
    Show,
    /// Believe records signed by this key.
    Trust {
        /// Public key file, `signer.pub`.
        file: PathBuf,
        /// Whose key it is.
        #[arg(long = "as", value_name = "NAME")]
        name: String,
        /// Believe it for what was closed on this day or later: `2026-11-30`, or a time, `2026-11-30T14:00:00Z`.
        #[arg(long, value_name = "DATE")]
        from: Option<String>,
        /// Believe it for what was closed before this day or time.
        #[arg(long, value_name = "DATE")]
        until: Option<String>,
    },
    /// Put the signing key under another passphrase.
    Passphrase,
    /// Believe a key for nothing that is closed on this day or later; what it signed before stays believed.
    Retire {
        /// Whose key, by the name that it is trusted as; without it, the own one, whose retirement is signed and goes into the log.
        name: Option<String>,
        /// The first day or time at which it counts no more: `2026-11-30`, or `2026-11-30T14:00:00Z`.
        #[arg(long, value_name = "DATE")]
        from: String,
    },
}

#[derive(Debug, Subcommand)]
pub(super) enum RecordsCommand {
    /// A line a record, oldest first.
    List {
        /// Print JSON.
        #[arg(long)]
        json: bool,
    },
    /// Places with several cables: which are proved, which failed, which have no record yet.
    Places,
    /// Records by what is in them.
    Find(Find),
    /// Every instrument that judged a record, and when its calibration is due.
    Instruments {
        /// Only those due on this day or before: `2026-12-31`.
        #[arg(long, value_name = "DATE")]
        due_by: Option<jiff::civil::Date>,
        /// Print JSON.
        #[arg(long)]
        json: bool,
    },
    /// Every step of one record.
    Show {
        /// Run id or its beginning.
        record: String,
        /// What this other edition would say, step by step where it differs.
        #[arg(long)]
        edition: Option<String>,
        /// Print JSON.
        #[arg(long)]
        json: bool,
    },
    /// Write a record, its signature and the public key as plain files, or all records as one file.
    Export {
        /// Run id or its beginning.
        #[arg(required_unless_present = "all", conflicts_with = "all")]
        record: Option<String>,
        /// All records with their log and checkpoints, as one new archive file.
        #[arg(long)]
        all: bool,
        /// Folder to write to, made where it is missing; with `--all` the file.
        #[arg(short, long)]
        output: PathBuf,
    },
    /// Sign a record a second time, as its supervisor or client; the record and its first signature stay as they are.
    Countersign {
        /// Run id or its beginning.
        record: String,
        /// Take in this signature, made elsewhere with `ssh-keygen -Y sign -n record@coreproof`, instead of signing with the own key.
        #[arg(long, value_name = "FILE.sig")]
        signature: Option<PathBuf>,
    },
    /// Have an authority state when a record was there at the latest (RFC 3161): write the request, or keep its answer beside the record.
    Timestamp {
        /// Run id or its beginning.
        record: String,
        /// The request to write, to be sent to an authority; the digest of the record is all that it holds.
        #[arg(
            long,
            value_name = "FILE.tsq",
            required_unless_present = "token",
            conflicts_with = "token"
        )]
        request: Option<PathBuf>,
        /// The authority's response, or the token alone, to be kept.
        #[arg(long, value_name = "FILE.tsr")]
        token: Option<PathBuf>,
        /// Prove it against the certificate of this authority first, in PEM form.
        #[arg(long, value_name = "CA.pem", requires = "token")]
        authority: Vec<PathBuf>,
    },
    /// Take in a record file with its signature beside it, signed by a trusted key.
    Import {
        /// `record.jsonl`, or an archive file with all its records.
        file: PathBuf,
    },
}
