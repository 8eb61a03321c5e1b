//! `job`: writes a job by asking.
//!
//! The rule inside: each answer is on the disk before the next question, so that leaving loses nothing; and a job is written only where it can
//! be read.

use std::collections::BTreeSet;
use std::path::{Path, PathBuf};

use tokio::sync::mpsc::UnboundedReceiver;

use super::args::JobArgs;
use super::error::{Failure, INTERRUPTED};
use super::home::Home;
use super::out::say;
use super::tables::table;
use super::{check, files, instruments, plan};
use crate::drafting::{Answers, Draft, Question, page, questions, slug, so_far, told_once, written};
use crate::evidence::write_new;
use crate::job::{Job, Told};
use crate::located::{Text, listed};
use crate::run::dialogue::Said;
use crate::sequence::{self, Sequence, shipped};
use crate::system::{disk, signals};
use crate::terminal::input;
use crate::terminal::plain::clean;

/// Largest draft that is read, in bytes: some fifty answers of at most a line each.
const DRAFT_BYTES_MAX: u64 = 1 << 20;

/// Asks, writes, and says what `check` and `plan` make of it.
pub(super) async fn job(asked: &JobArgs) -> Result<u8, Failure> {
    let home = Home::open()?;
    let told = files::told(&home).map_err(Failure::findings)?;
    let draft = begun(&home, asked, told.as_ref())?;
    let text = files::job_text(Path::new(&draft.base))?;
    let base = files::job(&text, None).map_err(Failure::findings)?;
    let is_own = shipped::job(&draft.base).is_none();
    let mut asking = Asking {
        questions: questions(&base, is_own, draft.tells, &draft.answers),
        sequence: files::sequence_texts(Path::new(&draft.sequence))
            .and_then(|texts| sequence::read(&texts).map_err(Failure::findings))?,
        is_own,
        base,
        draft,
        home,
        lines: input::lines(),
        read: BTreeSet::new(),
    };
    asking.say_how();
    asking.all().await
}

/// The draft to go on with, or a new one.
fn begun(home: &Home, asked: &JobArgs, told: Option<&Told>) -> Result<Draft, Failure> {
    let left = left(home)?;
    match (left, &asked.sequence) {
        (Some(draft), None) if !asked.new => {
            say!(
                "Going on with the job for `{}`, {} answers are kept.",
                clean(&draft.sequence),
                draft.answers.len()
            );
            Ok(draft)
        }
        (Some(draft), Some(_)) if !asked.new && !draft.answers.is_empty() => {
            let what = format!(
                "a job for `{}` was left half-way, with {} answers",
                draft.sequence,
                draft.answers.len()
            );
            Err(Failure::refused(what).hint("go on with `coreproof job`, or drop it with `--new`"))
        }
        (_, None) => {
            let names: Vec<_> = shipped::SEQUENCES.iter().map(|there| there.name).collect();
            Err(Failure::refused("no job was left half-way, and no sequence is named")
                .hint(format!("coreproof job {}", names.join(" | "))))
        }
        (_, Some(sequence)) => {
            let texts = files::sequence_texts(sequence)?;
            let name = sequence.display().to_string();
            let stem = Path::new(&texts[0].name)
                .file_stem()
                .and_then(|stem| stem.to_str())
                .unwrap_or("");
            let with = shipped::SEQUENCES.iter().find(|there| there.name == stem);
            let base = asked.from.as_ref().map(|from| from.display().to_string());
            let base = base.or(with.map(|there| there.job.to_owned())).ok_or_else(|| {
                Failure::refused(format!("`{name}` is not shipped with a job"))
                    .hint("name one to begin from: `--from JOB`")
            })?;
            Ok(Draft {
                sequence: name,
                base,
                out: asked
                    .output
                    .as_ref()
                    .map_or(String::new(), |out| out.display().to_string()),
                tells: tells(told)?,
                answers: Vec::new(),
                earlier: Vec::new(),
            })
        }
    }
}

/// Whether who works and with what is still to be asked.
fn tells(told: Option<&Told>) -> Result<bool, Failure> {
    let Some(told) = told else { return Ok(true) };
    match (told.engineer.is_some(), told.instruments.is_empty()) {
        (true, false) => Ok(false),
        // what somebody began by hand is not written over
        (false, _) => Err(Failure::refused("nobody told yet who works").hint("coreproof instruments engineer NAME")),
        (true, true) => Err(Failure::refused("no instruments are told yet")
            .hint("tell them once, with your own serial numbers and dates: `coreproof instruments add FILE`")),
    }
}

fn left(home: &Home) -> Result<Option<Draft>, Failure> {
    let path = home.draft();
    if std::fs::symlink_metadata(&path).is_err() {
        return Ok(None);
    }
    let bytes = files::bytes(&path, DRAFT_BYTES_MAX)?;
    serde_json::from_slice(&bytes).map(Some).map_err(|error| {
        Failure::refused(format!("`{}` is no draft of a job: {error}", path.display()))
            .hint("begin anew with `--new`, after moving it away")
    })
}

struct Asking {
    /// By what was answered so far.
    questions: Vec<Question>,
    sequence: Sequence,
    base: Job,
    /// Whether the base is a job of the person's own.
    is_own: bool,
    draft: Draft,
    home: Home,
    lines: UnboundedReceiver<Said>,
    /// What was shown to be looked for, and how entries are typed.
    read: BTreeSet<String>,
}

impl Asking {
    fn say_how(&self) {
        say!(
            "{} questions. `back` goes one back, `why` shows again what to look for; Ctrl-C leaves, `coreproof job` goes on.",
            self.questions.len()
        );
        say!("Look with the covers on, or isolated and proved dead; local codes come first.");
    }

    /// The next line; none where it is left.
    async fn line(&mut self) -> Option<String> {
        tokio::select! {
            biased;
            () = signals::asked_to_end() => None,
            line = self.lines.recv() => line.map(|said| said.into_line().unwrap_or_else(|| "\u{0}".into())),
        }
    }

    fn keep(&self) -> Result<(), Failure> {
        let path = self.home.draft();
        let text = serde_json::to_vec_pretty(&self.draft).expect("a draft is plain data");
        disk::replace(&path, &text)
            .map_err(|error| Failure::equipment(format!("`{}` cannot be written: {error}", path.display())))
    }

    /// Every question, the page of defaults, the file.
    async fn all(&mut self) -> Result<u8, Failure> {
        // answers to other questions than these are none
        self.draft.answers.truncate(self.questions.len());
        loop {
            let at = self.draft.answers.len();
            let accepted = match self.questions.get(at).cloned() {
                Some(question) => self.ask(at, &question).await?,
                None => self.accept().await?,
            };
            if accepted {
                break;
            }
        }
        self.write()
    }

    /// Asks one question, once; never the last word.
    async fn ask(&mut self, at: usize, question: &Question) -> Result<bool, Failure> {
        let before = self.draft.as_before().map(str::to_owned);
        let offered = match (&before, &question.offered) {
            (Some(before), _) => format!(" [as before: {before}]"),
            (None, Some(offered)) => format!(" [{offered}]"),
            (None, None) => String::new(),
        };
        say!(
            "\n{}/{}  {}{}",
            at + 1,
            self.questions.len(),
            clean(&question.ask),
            clean(&offered)
        );
        let look = (!question.look.is_empty()).then(|| format!("look  {}", question.look));
        let answers = match &question.answers {
            Answers::OneOf(words) => Some(format!("answer  {}", words.join(", "))),
            Answers::Several(of) => Some(format!("answer  none, or `{}`; …", of.form())),
            _ => None,
        };
        for line in [look, answers].into_iter().flatten() {
            // what was read once is not read again
            if self.read.insert(line.clone()) {
                say!("    {}", clean(&line));
            }
        }
        let Some(line) = self.line().await else {
            return Err(self.broken_off());
        };
        match (line.trim(), before) {
            ("back", _) => {
                self.draft.answers.pop();
                self.asked_anew();
            }
            ("why", _) => self.read.clear(),
            ("", Some(before)) => self.answer(question, &before),
            (line, _) => self.answer(question, line),
        }
        self.keep()?;
        Ok(false)
    }

    /// Keeps an answer, if the job so far can be read with it.
    fn answer(&mut self, question: &Question, line: &str) {
        let answer = match question.taken(line).and_then(|answer| confirmed(question, answer)) {
            Ok(answer) => answer,
            Err(what) => return say!("    note  {}", clean(&what)),
        };
        let mut with = self.draft.clone();
        with.answer(answer.clone());
        let questions = questions(&self.base, self.is_own, self.draft.tells, &with.answers);
        let job = match so_far(&self.base, &questions, &with.answers) {
            Ok(job) => job,
            Err(what) => return say!("    note  {}", clean(&what)),
        };
        let mut gone = self.so_far().map(|was| was.equipment).unwrap_or_default();
        gone.retain(|was| job.equipment.iter().all(|there| there.name != was.name));
        if let Some(what) = (!gone.is_empty()).then(|| self.does_not_fit(&job)).flatten() {
            say!(
                "    note  `{}` cannot be walked so: {}; `back` takes the answer back",
                clean(&self.draft.sequence),
                clean(&what)
            );
        }
        // what the answer names is known; what hung on it is not
        gone.retain(|was| !question.leaves_out(&answer, &was.name));
        if !gone.is_empty() {
            let names = listed(&gone, |there| format!("`{}`", there.name));
            say!("    note  so these are not there either: {}", clean(&names));
        }
        self.draft = with;
        self.asked_anew();
    }

    /// An answer may bring a question, and taken back it takes that along.
    fn asked_anew(&mut self) {
        self.questions = questions(&self.base, self.is_own, self.draft.tells, &self.draft.answers);
    }

    /// Why the sequence cannot be walked on a job, in words.
    fn does_not_fit(&self, job: &Job) -> Option<String> {
        let findings = sequence::bind(&self.sequence, job).err()?;
        findings.iter().next().map(|finding| finding.problem.what.clone())
    }

    /// The job as the answers make it so far.
    fn so_far(&self) -> Result<Job, String> {
        so_far(&self.base, &self.questions, &self.draft.answers)
    }

    /// Shows what is not asked one by one; one answer accepts it all.
    async fn accept(&mut self) -> Result<bool, Failure> {
        say!(
            "\nTaken from the base job `{}` unless you say otherwise:",
            clean(&self.draft.base)
        );
        let job = self.so_far().map_err(Failure::refused)?;
        let rows: Vec<_> = page(&job, self.draft.tells)
            .into_iter()
            .map(|(name, value)| vec![name, value])
            .collect();
        say!("{}", table(&["what", "as it will stand"], &rows));
        say!("`yes` writes the job, `back` goes back; any of it can be changed in the file afterwards");
        match self.line().await.as_deref().map(str::trim) {
            None => Err(self.broken_off()),
            Some("yes") => Ok(true),
            Some("back") => {
                self.draft.answers.pop();
                self.asked_anew();
                self.keep()?;
                Ok(false)
            }
            Some(other) => {
                say!("    note  `{}` is neither", clean(other));
                Ok(false)
            }
        }
    }

    fn broken_off(&self) -> Failure {
        Failure {
            exit: INTERRUPTED,
            ..Failure::refused(format!(
                "left with {} answers, which are kept",
                self.draft.answers.len()
            ))
        }
        .hint("coreproof job")
    }

    fn write(&self) -> Result<u8, Failure> {
        let answered: Vec<_> = self
            .questions
            .iter()
            .cloned()
            .zip(self.draft.answers.iter().cloned())
            .collect();
        let told = match files::told(&self.home).map_err(Failure::findings)? {
            Some(told) => told,
            None => {
                let text = told_once(&self.base, &answered).map_err(|unfit| Failure::refused(unfit.to_string()))?;
                instruments::write(&self.home, &text)?
            }
        };
        let names: Vec<_> = told
            .instruments
            .iter()
            .map(|(instrument, _)| instrument.name.clone())
            .collect();
        let text = written(&self.base, &answered, Some(&names)).map_err(|unfit| Failure::refused(unfit.to_string()))?;
        let cable = answered
            .iter()
            .find(|(question, _)| question.ask.contains("cable called"));
        let name = match self.draft.out.is_empty() {
            true => format!("{}.ron", slug(cable.map_or("job", |(_, answer)| answer))),
            false => self.draft.out.clone(),
        };
        if let Err(findings) = files::job(&Text::new(name.as_str(), text.as_str()), None) {
            let failure = Failure::findings(findings);
            return Err(failure.hint("the answers are kept: `coreproof job`, then `back` to the one that is wrong"));
        }
        let path = Path::new(&name);
        write_new(path, text.as_bytes())?;
        say!("\n{text}");
        say!("Written to `{}`.\n", clean(&name));
        let _ = std::fs::remove_file(self.home.draft());
        let sequence = PathBuf::from(&self.draft.sequence);
        check::check(&[sequence.clone(), path.to_owned()], None, |_| Ok(None))?;
        plan::effort(&sequence, path)?;
        say!(
            "\nnext: coreproof run {} --job {}",
            clean(&self.draft.sequence),
            clean(&name)
        );
        Ok(super::error::PASSED)
    }
}

/// An answer that must be what the base job is made for.
fn confirmed(question: &Question, answer: String) -> Result<String, String> {
    match question.confirms() {
        Some(word) if word != answer => Err(format!(
            "this sequence is for `{word}`: leave, and choose another one, or begin from another job"
        )),
        _ => Ok(answer),
    }
}
