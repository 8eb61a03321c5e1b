//! An identification as the fold of its events: what is asked next, and what it came to.
//!
//! The rule inside: the same lines and readings always give the same list, so that anyone can tell it again from the file
//! alone. A cable that showed voltage, or that was left alone in a break, is proved dead again before anything else.

use jiff::Timestamp;

use super::asking::CAUTION;
use super::belongs::Belongs;
use super::checking::{Checked, checking};
use super::error::IdentifyError;
use super::event::{CoresTold, Event, Given, Opened, Question, Subject, Told, ZonesTold};
use super::found::{Found, State};
use super::kit::Kit;
use super::measured::Wants;
use super::naming::{self, NamedCore};
use super::plan::plan;
use super::prompt::{back, proved_dead, question};
use super::walk::Walk;
use super::zones::{CAUTION as ZONES_CAUTION, Calling, calls};
use crate::job::{self, Job};
use crate::located::Text;
use crate::run::dialogue::{Choice, Prompt};
use crate::run::event::PROGRAM;
use crate::run::folded::{About, Folded, Refused, fold};
use crate::value::reading::Reading;

/// The cores of one cable being told apart.
#[derive(Debug, Clone)]
pub struct Telling {
    /// The walk between the ends.
    pub walk: Walk,
    /// The cores of the job by their labels; empty where they were left unnamed.
    named: Option<Vec<NamedCore>>,
    /// Voltage was seen, or there was a break: dead is proved again first.
    unproved: bool,
}

/// What is being told apart.
#[derive(Debug, Clone)]
enum Task {
    Cores(Box<Telling>),
    Zones(Calling),
}

/// An identification as far as its events tell.
#[derive(Debug, Clone)]
pub struct Session {
    /// Its first event.
    pub opened: Opened,
    /// When that was written down.
    pub opened_at: Timestamp,
    /// The job that it carries, read.
    pub job: Option<Job>,
    task: Task,
    /// Voltage seen: when, what the display said.
    pub live_seen: Vec<(Timestamp, String)>,
    /// Times at which it went on after a break.
    pub resumptions: Vec<Timestamp>,
    /// What the last answer was understood as.
    understood: Option<Given>,
    /// How many answers and readings were taken.
    pub answers: usize,
    /// What it came to, and when.
    pub closed: Option<(Told, Timestamp)>,
    /// Why nothing more is taken: an event did not fit.
    pub broken: Option<String>,
}

impl Folded for Session {
    type Event = Event;
    type Opened = Opened;
    type Unopened = String;

    fn opening(event: &Event) -> Option<&Opened> {
        match event {
            Event::Opened(opened) => Some(opened),
            _ => None,
        }
    }

    fn open(opened: Opened, at: Timestamp) -> Result<Session, String> {
        Session::open(opened, at)
    }

    fn apply(&mut self, at: Timestamp, event: &Event) -> Result<(), Refused> {
        Session::apply(self, at, event).map_err(|error| Refused {
            about: match error {
                IdentifyError::OtherConclusion | IdentifyError::OtherAnswer { .. } => About::Verdict,
                _ => About::Order,
            },
            what: error.to_string(),
        })
    }

    fn break_off(&mut self, why: &str) {
        self.broken.get_or_insert_with(|| why.to_owned());
    }
}

impl Session {
    /// Opens one.
    ///
    /// # Errors
    /// A newer format, figures or a job that cannot be used, a kit or a number that cannot be.
    pub fn open(opened: Opened, at: Timestamp) -> Result<Session, String> {
        opened.figures.check()?;
        let said = |error: IdentifyError| error.to_string();
        let job = match &opened.job {
            None => None,
            Some(text) => Some(job::read(text).map_err(|problems| format!("`{}`: {}", text.name, problems[0].what))?),
        };
        let task = match &opened.of {
            Subject::Cores {
                cores,
                kit,
                every_core_seen,
                checked,
            } => {
                let kit = Kit::parse(kit).map_err(said)?;
                if let Some(job) = &job {
                    naming::wanted(job, *cores, kit.earth).map_err(said)?;
                }
                let plan = plan(*cores, kit, &opened.figures).map_err(said)?;
                Task::Cores(Box::new(Telling {
                    walk: Walk::new(plan, *every_core_seen).checking(*checked),
                    named: None,
                    unproved: false,
                }))
            }
            Subject::Zones {
                zones,
                actuators,
                checked,
            } => Task::Zones(Calling::new(
                calls(*zones, *actuators, *checked, &opened.figures).map_err(said)?,
            )),
        };
        Ok(Session {
            opened,
            opened_at: at,
            job,
            task,
            live_seen: Vec::new(),
            resumptions: Vec::new(),
            understood: None,
            answers: 0,
            closed: None,
            broken: None,
        })
    }

    /// Takes one event in.
    ///
    /// # Errors
    /// An event that cannot come here; nothing changes then.
    pub fn apply(&mut self, at: Timestamp, event: &Event) -> Result<(), IdentifyError> {
        let out_of_place = |what: &str| Err(IdentifyError::OutOfPlace { what: what.into() });
        if self.closed.is_some() {
            return out_of_place("something after the closing");
        }
        if self.broken.is_some() {
            return out_of_place("something after what does not fit");
        }
        match event {
            Event::Opened(_) => return out_of_place("a second opening"),
            Event::Answered { to, line, given } => {
                self.is_asked(to)?;
                let understood = self.answer(line)?;
                if given.as_ref().is_some_and(|given| *given != understood) {
                    return Err(IdentifyError::OtherAnswer { line: line.clone() });
                }
                self.understood = Some(understood);
                self.answers += 1;
            }
            Event::Taken { to, reading } => {
                self.is_asked(to)?;
                match &mut self.task {
                    Task::Cores(cores) if !cores.unproved => cores.walk.take(reading)?,
                    _ => return out_of_place("a reading where none is asked for"),
                }
                self.answers += 1;
            }
            Event::LiveSeen { reading } => match &mut self.task {
                Task::Cores(cores) if cores.walk.is_proved() => {
                    cores.unproved = true;
                    self.live_seen.push((at, reading.display()));
                }
                _ => return out_of_place("voltage where nothing was proved dead"),
            },
            Event::Resumed { .. } => {
                if let Task::Cores(cores) = &mut self.task {
                    cores.unproved = cores.walk.is_proved();
                }
                self.resumptions.push(at);
            }
            Event::Closed { told } => {
                // another version may put its remarks into other words; what is which it may not change, and what is shown is what
                // the events give here
                let again = self.told().ok_or(IdentifyError::OtherConclusion)?;
                let is_same = if self.opened.program == PROGRAM {
                    again == *told
                } else {
                    again.without_words() == told.without_words()
                };
                if !is_same {
                    return Err(IdentifyError::OtherConclusion);
                }
                self.closed = Some((again, at));
            }
        }
        Ok(())
    }

    /// Whether this is what is asked now: another program, or another hand, may have asked something else.
    fn is_asked(&self, to: &Question) -> Result<(), IdentifyError> {
        if self.question().as_ref() == Some(to) {
            return Ok(());
        }
        Err(IdentifyError::OutOfPlace {
            what: "an answer to another question".into(),
        })
    }

    /// What is asked now, as it is written down; `None` at the end.
    pub fn question(&self) -> Option<Question> {
        self.prompt()?;
        match &self.task {
            Task::Zones(calling) => calling.question(),
            Task::Cores(cores) if cores.unproved => Some(Question::ProvedDead),
            Task::Cores(cores) => cores.walk.question().or(Some(Question::Terminals)),
        }
    }

    /// An event that was just taken in, with what its answer was understood as; without it in a journal of format 1.0, which has no
    /// place for that.
    pub fn understood(&self, event: Event) -> Event {
        match event {
            Event::Answered { to, line, .. } if self.opened.format != "1.0" => Event::Answered {
                to,
                line,
                given: self.understood.clone(),
            },
            other => other,
        }
    }

    fn answer(&mut self, line: &str) -> Result<Given, IdentifyError> {
        let Some(prompt) = self.prompt() else {
            return Err(IdentifyError::OutOfPlace {
                what: "an answer where nothing is asked".into(),
            });
        };
        match &mut self.task {
            Task::Zones(calling) => calling.answer(line),
            Task::Cores(cores) if cores.unproved => {
                if !line.trim().eq_ignore_ascii_case("dead") {
                    return Err(IdentifyError::NotAnAnswer {
                        line: line.trim().into(),
                        answers: prompt.answers(),
                    });
                }
                cores.unproved = false;
                Ok(Given::Dead)
            }
            Task::Cores(cores) => match (cores.walk.found(), &self.job) {
                (Some(found), Some(job)) if !line.trim().eq_ignore_ascii_case("back") => {
                    let named = if line.trim().eq_ignore_ascii_case("skip") {
                        Vec::new()
                    } else {
                        naming::read(line, &found, job, cores.walk.earth())?
                    };
                    cores.named = Some(named.clone());
                    Ok(Given::Named(named))
                }
                _ => cores.walk.answer(line),
            },
        }
    }

    /// What to do and to answer next; `None` at the end.
    pub fn prompt(&self) -> Option<Prompt> {
        match &self.task {
            Task::Zones(calling) => calling.prompt(),
            Task::Cores(cores) if cores.unproved => Some(prove_again(&cores.walk)),
            Task::Cores(cores) => cores.walk.prompt().or_else(|| {
                let (found, job) = (cores.walk.found()?, self.job.as_ref()?);
                // a list that its own checking walk contradicts names nothing
                let holds = cores.walk.checked() != Some(Checked::Otherwise);
                let open = holds && cores.named.is_none() && naming::is_enough(&found, job, cores.walk.earth());
                open.then(|| name_cores(&found, job, cores.walk.earth()))
            }),
        }
    }

    /// What the question can take from a meter now.
    pub fn wants(&self) -> Wants {
        match &self.task {
            Task::Cores(cores) if !cores.unproved => cores.walk.wants(),
            _ => Wants::Nothing,
        }
    }

    /// The walk between the ends, where cores are told apart.
    pub fn walk(&self) -> Option<&Walk> {
        match &self.task {
            Task::Cores(cores) => Some(&cores.walk),
            Task::Zones(_) => None,
        }
    }

    /// The calls, where actuators are told apart.
    pub fn calling(&self) -> Option<&Calling> {
        match &self.task {
            Task::Cores(_) => None,
            Task::Zones(calling) => Some(calling),
        }
    }

    /// Whether the cable was proved dead and a voltage on it stops everything.
    pub fn is_proved_dead(&self) -> bool {
        matches!(&self.task, Task::Cores(cores) if cores.walk.is_proved() && !cores.unproved)
    }

    /// Whether a reading shows such a voltage.
    pub fn is_live(&self, reading: &Reading) -> bool {
        self.is_proved_dead() && self.opened.figures.is_live(reading)
    }

    /// What is said before anything is touched.
    pub fn caution(&self) -> &'static str {
        match &self.task {
            Task::Cores(_) => CAUTION,
            Task::Zones(_) => ZONES_CAUTION,
        }
    }

    /// What it came to, once nothing more is asked.
    pub fn told(&self) -> Option<Told> {
        if self.prompt().is_some() {
            return None;
        }
        Some(match &self.task {
            Task::Zones(calling) => {
                let actuators = calling.map()?;
                let idle = (1..=calling.calls.zones).filter(|zone| !actuators.contains(&Belongs::Zone(*zone)));
                Told::Zones(ZonesTold {
                    idle: idle.collect(),
                    actuators,
                })
            }
            Task::Cores(cores) => {
                let found = cores.walk.found()?;
                let mut remarks = found.remarks.clone();
                if let Some(job) = &self.job
                    && !naming::is_enough(&found, job, cores.walk.earth())
                {
                    remarks.push("too few cores are known from end to end for the job: none was named".into());
                }
                Told::Cores(CoresTold {
                    walks: found.walks,
                    far_end_seen_parted: found.far_end_seen_parted,
                    rows: found.rows,
                    remarks,
                    named: cores.named.clone().unwrap_or_default(),
                    checked: cores.walk.checked(),
                })
            }
        })
    }

    /// What the cores of one cable turned out to be, once it is known.
    pub fn cores_told(&self) -> Option<CoresTold> {
        match self.told()? {
            Told::Cores(told) => Some(told),
            Told::Zones(_) => None,
        }
    }
}

impl CoresTold {
    /// What is to be said of the checking walk; nothing of a list that no such walk could check.
    pub fn check_words(&self) -> Option<&'static str> {
        let could_be = checking(&self.rows).is_some();
        let checked = self.checked.or(could_be.then_some(Checked::LeftOut));
        checked.map(Checked::words)
    }
}

impl Told {
    /// The same without remarks.
    fn without_words(&self) -> Told {
        let mut bare = self.clone();
        if let Told::Cores(told) = &mut bare {
            told.remarks.clear();
            told.rows.iter_mut().for_each(|row| row.remark = None);
        }
        bare
    }

    /// Whether everything is known and nothing is wrong.
    pub fn is_sound(&self) -> bool {
        match self {
            Told::Cores(told) => {
                let holds = told.checked != Some(Checked::Otherwise);
                holds && told.far_end_seen_parted && told.rows.iter().all(|row| row.state == State::Conducts)
            }
            Told::Zones(told) => {
                told.idle.is_empty() && told.actuators.iter().all(|belongs| matches!(belongs, Belongs::Zone(_)))
            }
        }
    }
}

fn prove_again(walk: &Walk) -> Prompt {
    question(
        "before it goes on",
        vec![CAUTION.into(), format!("{} See to that.", walk.left_as())],
        "Is the cable proved dead again and as it was left?",
        vec![proved_dead()],
        None,
    )
}

fn name_cores(found: &Found, job: &Job, earth: bool) -> Prompt {
    question(
        "the cores of the job",
        naming::terminals(job, found.cores, earth),
        format!("Which label at the {} goes to which terminal?", job.near.name),
        vec![
            Choice::new("in order", "where they go as listed"),
            Choice::new("skip", "to leave them unnamed"),
            back(),
        ],
        Some("as `A=1 B=2`, every terminal once".into()),
    )
}

/// What a record says of the identification that it carries, a line each; what cannot be read is said as that.
pub fn said_of(carried: &Text) -> Vec<String> {
    let Some(session) = read_loosely(&carried.text) else {
        return vec![format!(
            "The identification of the cores `{}` cannot be read.",
            carried.name
        )];
    };
    let (Some(told), Some((_, at))) = (session.cores_told(), &session.closed) else {
        return vec![format!(
            "The identification of the cores `{}` did not come to an end.",
            carried.name
        )];
    };
    let names: Vec<&str> = told.named.iter().map(|core| core.name.as_str()).collect();
    let mut said = vec![format!(
        "The cores {} were told apart before this run by {} (`{}`, closed {at}): {} walks, {} answers and readings.",
        names.join(", "),
        session.opened.engineer,
        carried.name,
        told.walks,
        session.answers
    )];
    let unseen = told
        .named
        .iter()
        .filter(|core| core.state == Some(State::ByElimination));
    said.extend(unseen.map(|core| {
        format!(
            "Core {} was known by elimination and not seen to conduct then.",
            core.name
        )
    }));
    let check = told.check_words();
    said.extend(check.map(|check| format!("Of that list: {check}.")));
    said.extend(told.rows.iter().filter_map(|row| {
        let faulty = !matches!(row.state, State::Conducts | State::ByElimination);
        faulty.then(|| format!("Of that cable, {}: {}.", row.name(), row.state.words()))
    }));
    said
}

/// The identification in a text, read without its chain or signature.
fn read_loosely(text: &str) -> Option<Session> {
    #[derive(serde::Deserialize)]
    struct Line {
        at: Timestamp,
        event: Event,
    }
    let lines = text.lines().take_while(|line| line.starts_with('{'));
    let lines: Option<Vec<Line>> = lines.map(|line| serde_json::from_str(line).ok()).collect();
    let events = lines?.into_iter().map(|line| (line.at, line.event));
    let session = fold::<Session>(events, |_, _, _| {}, |_, _| {}).ok()?;
    session.broken.is_none().then_some(session)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::identify::figures::Figures;
    use crate::value::reading::Function;

    const JOB: &str = include_str!("../../fixtures/saltmarsh.ron");

    fn opened(of: Subject) -> Opened {
        Opened {
            format: crate::run::event::FORMAT.into(),
            program: "coreproof test".into(),
            identification: uuid::Uuid::nil(),
            place: "Saltmarsh Sailing Club".into(),
            engineer: "Morgan Teal".into(),
            of,
            figures: Figures::shipped(),
            job: Some(Text::new("saltmarsh.ron", JOB)),
            profiles: Vec::new(),
            instrument: None,
            port: None,
            departures: Vec::new(),
        }
    }

    fn cores(cores: usize, kit: &str) -> Subject {
        Subject::Cores {
            cores,
            kit: kit.into(),
            every_core_seen: false,
            checked: false,
        }
    }

    fn reading(text: &str, function: Function) -> Reading {
        Reading::typed(text, function).unwrap()
    }

    /// What is typed, or shown by a meter.
    #[derive(Debug, Clone)]
    enum Said {
        Typed(&'static str),
        Shown(&'static str),
    }

    /// The event that this makes of the question that is asked.
    fn event(session: &Session, said: &Said) -> Event {
        let to = session.question().unwrap_or(Question::Between);
        match said {
            Said::Typed(line) => Event::Answered {
                to,
                line: (*line).into(),
                given: None,
            },
            Said::Shown(text) => Event::Taken {
                to,
                reading: reading(text, Function::Resistance),
            },
        }
    }

    fn say(session: &mut Session, said: &Said) -> Result<(), IdentifyError> {
        let event = event(session, said);
        session.apply(Timestamp::UNIX_EPOCH, &event)
    }

    fn folded(all: &[Said]) -> Session {
        let mut session = Session::open(opened(cores(4, "links")), Timestamp::UNIX_EPOCH).unwrap();
        for said in all {
            say(&mut session, said).unwrap_or_else(|error| panic!("{said:?}: {error}"));
        }
        session
    }

    /// A whole identification: contacts from a meter, typed answers, a name for every core.
    const WHOLE: [Said; 12] = [
        Said::Typed("dead"),
        Said::Typed("none"),
        Said::Shown("0.66"),
        Said::Typed("1-2"),
        Said::Typed("done"),
        Said::Shown("0.71"),
        Said::Typed("A-B"),
        Said::Typed("back"),
        Said::Typed("A-C"),
        Said::Typed("done"),
        Said::Typed("none"),
        Said::Typed("D=1 C=2 B=3 A=E"),
    ];

    #[test]
    fn a_break_after_any_event_comes_to_the_same_list() {
        let told = folded(&WHOLE).told().expect("it has come to its end");
        for at in 0..=WHOLE.len() {
            let mut session = folded(&WHOLE[..at]);
            let resumed = Event::Resumed { torn_bytes: 0 };
            session.apply(Timestamp::UNIX_EPOCH, &resumed).unwrap();
            if 0 < at {
                assert_eq!(session.prompt().unwrap().choices[0].word, "dead", "after {at}");
                let goes_on = WHOLE.get(at).map(|said| say(&mut session, said));
                assert!(
                    goes_on.is_none_or(|went| went.is_err()),
                    "nothing goes on before the cable is proved dead"
                );
                say(&mut session, &Said::Typed("dead")).unwrap();
            }
            for said in &WHOLE[at..] {
                say(&mut session, said).unwrap();
            }
            assert_eq!(session.told().as_ref(), Some(&told), "broken off after {at}");
        }
        let Told::Cores(told) = told else {
            panic!("cores were told apart")
        };
        let names: Vec<&str> = told.named.iter().map(|core| core.name.as_str()).collect();
        assert_eq!(names, ["D-4", "C-3", "B-1", "A-2"], "in the order of the job");
    }

    #[test]
    fn what_cannot_come_here_is_refused_and_changes_nothing() {
        let live = Event::LiveSeen {
            reading: reading("231", Function::VoltageAc),
        };
        let first = Event::Opened(Box::new(opened(cores(4, "links"))));
        let closed = |session: &Session| Event::Closed {
            told: session.told().unwrap(),
        };
        let mut ended = folded(&WHOLE);
        let end = closed(&ended);
        let mut session = folded(&[]);
        for (event, error) in [
            (&first, "a second opening cannot come here"),
            (
                &event(&session, &Said::Shown("0.66")),
                "`0.66 ohm` is not asked for here",
            ),
            (
                &event(&folded(&WHOLE[..1]), &Said::Typed("none")),
                "an answer to another question cannot come here",
            ),
            (&live, "voltage where nothing was proved dead cannot come here"),
            (&end, "the conclusion is not what the answers give"),
        ] {
            let refused = session.apply(Timestamp::UNIX_EPOCH, event).unwrap_err();
            assert_eq!((refused.to_string().as_str(), session.answers), (error, 0));
        }
        // of another version: its remarks may be worded otherwise, what is which may not
        let Event::Closed {
            told: Told::Cores(mut told),
        } = end.clone()
        else {
            panic!("cores were told apart")
        };
        told.remarks = vec!["one core was not seen to conduct".into()];
        let reworded = Event::Closed {
            told: Told::Cores(told.clone()),
        };
        ended.clone().apply(Timestamp::UNIX_EPOCH, &reworded).unwrap();
        let mut same_version = ended.clone();
        same_version.opened.program = PROGRAM.into();
        assert!(same_version.apply(Timestamp::UNIX_EPOCH, &reworded).is_err());
        told.rows[0].far = vec!["4".into()];
        let other = Event::Closed {
            told: Told::Cores(told),
        };
        assert!(ended.clone().apply(Timestamp::UNIX_EPOCH, &other).is_err());
        ended.apply(Timestamp::UNIX_EPOCH, &end).unwrap();
        let refused = say(&mut ended, &Said::Typed("dead")).unwrap_err();
        assert_eq!(refused.to_string(), "something after the closing cannot come here");
        let mut seen = folded(&WHOLE[..2]);
        seen.apply(Timestamp::UNIX_EPOCH, &live).unwrap();
        let refused = say(&mut seen, &Said::Shown("0.66")).unwrap_err();
        assert_eq!(
            refused.to_string(),
            "a reading where none is asked for cannot come here"
        );
        say(&mut seen, &Said::Typed("dead")).unwrap();
        say(&mut seen, &Said::Shown("0.66")).unwrap();
    }

    #[test]
    fn an_earth_in_the_kit_is_the_earth_core_of_the_job() {
        let mut session = Session::open(opened(cores(3, "earth,resistors")), Timestamp::UNIX_EPOCH).unwrap();
        for line in ["dead", "none", "none", "1.5k", "1.2k", "1.8k", "in order"] {
            let applied = say(&mut session, &Said::Typed(line));
            applied.unwrap_or_else(|error| panic!("{line}: {error}; {:?}", session.prompt()));
        }
        let told = session.cores_told().unwrap();
        let names: Vec<&str> = told.named.iter().map(|core| core.name.as_str()).collect();
        assert_eq!(names, ["A-2", "B-1", "C-3", "green-yellow"]);
        assert_eq!(told.named[3].state, None);
    }

    #[test]
    fn a_job_that_needs_more_cores_than_the_cable_has_is_refused() {
        let text = |of: Subject| Session::open(opened(of), Timestamp::UNIX_EPOCH).unwrap_err();
        assert_eq!(
            text(cores(3, "links")),
            "the job has `4` cores to be found, the cable `3`"
        );
        assert_eq!(
            text(cores(4, "lamp")),
            "`lamp` is not in the kit list: links, links=2, earth, resistors, resistors=5, diode"
        );
    }
}
