//! What the walk and the server share: the view, who may answer, and when the walk last gave a sign of life.
//!
//! The rule inside: the walk's own thread alone says that it lives, so that a server which outlives a walk that hangs cannot keep its last
//! word up; an answer is taken once, from the one page that answers, and only while nothing calls for hands off.

use std::net::IpAddr;
use std::path::Path;
use std::sync::atomic::{AtomicBool, AtomicU64, Ordering};
use std::sync::{Mutex, MutexGuard, PoisonError};

use hyper::StatusCode;
use tokio::sync::mpsc::UnboundedSender;
use tokio::sync::watch;

use super::about::About;
use super::chosen::{Say, Sent, pictured, said, takes_picture};
use super::guard::Address;
use super::secret::Secret;
use super::state::{Beside, Moving, State};
use crate::run::dialogue::{Said, Show, View};
use crate::run::event::Face;
use crate::system::clock;

/// How long a walk may be silent before nothing of it is taken for new, in milliseconds.
const SILENT_MS: u64 = 1_000;

/// How long an answer may be on its way before another to the same prompt is taken, in milliseconds.
const ON_ITS_WAY_MS: u64 = 2_000;

/// How long a code opens a browser, in milliseconds.
const CODE_MS: u64 = 10 * 60 * 1_000;

/// How long another code is not made, in milliseconds: whoever scans twice means the one.
const NEXT_CODE_MS: u64 = 5_000;

/// Most browsers that are paired; the one that is paired first goes first.
const SESSIONS_MAX: usize = 8;

struct Inner {
    view: View,
    version: u64,
    /// When the newest live reading came.
    read: u64,
    closing: Option<Vec<String>>,
    answers: UnboundedSender<Said>,
    /// The prompt that was answered, and when.
    on_its_way: Option<(u64, u64)>,
    /// The code that pairs the next browser, and when it was made.
    code: Option<(Secret, u64)>,
    /// The last code that paired one, or ran out.
    spent: Option<Secret>,
    sessions: Vec<Session>,
    /// How many were paired in all.
    devices: u32,
    answering: Option<Secret>,
    /// The page that answers has done so: whoever holds it stands where it is asked.
    has_answered: bool,
}

/// A browser that is paired.
struct Session {
    secret: Secret,
    /// From where it was.
    from: IpAddr,
    /// Its number, counted from 1 as they are paired.
    number: u32,
}

impl Inner {
    fn new_code(&mut self, at: u64) -> String {
        let (secret, text) = Secret::new();
        self.code = Some((secret, at));
        text
    }

    fn pair(&mut self, code: &Secret, from: IpAddr, at: u64) -> Pairing {
        let age = self.code.as_ref().map(|(_, made)| at.saturating_sub(*made));
        if self.code.as_ref().is_some_and(|(newest, _)| newest == code) {
            self.code = None;
            self.spent = Some(code.clone());
            if age.is_some_and(|age| CODE_MS <= age) {
                return Pairing::Spent(Some(self.new_code(at)));
            }
        } else if self.spent.as_ref() == Some(code) {
            let is_time = age.is_none_or(|age| NEXT_CODE_MS <= age);
            return Pairing::Spent(is_time.then(|| self.new_code(at)));
        } else {
            return Pairing::Unknown;
        }
        let (secret, text) = Secret::new();
        if self.sessions.len() == SESSIONS_MAX {
            self.sessions.remove(0);
        }
        self.answers_at(secret.clone());
        self.devices += 1;
        let number = self.devices;
        self.sessions.push(Session { secret, from, number });
        Pairing::Paired(text, number)
    }

    fn number_of(&self, session: &Secret) -> Option<u32> {
        let mut known = self.sessions.iter();
        known.find(|known| known.secret == *session).map(|known| known.number)
    }

    fn answers_at(&mut self, session: Secret) {
        self.has_answered &= self.answering.as_ref() == Some(&session);
        self.answering = Some(session);
        self.version += 1;
    }

    /// Hands what was said to a prompt on to the walk.
    fn take(&mut self, prompt: u64, said: Said) -> Result<(), StatusCode> {
        self.on_its_way = Some((prompt, now()));
        self.answers.send(said).map_err(|_| StatusCode::GONE)
    }
}

/// What a code came to.
#[derive(Debug, PartialEq, Eq)]
pub(super) enum Pairing {
    /// The browser is paired: its cookie and its number.
    Paired(String, u32),
    /// It was the last one, and was used or has run out: whoever has it saw it on this machine. The next one, where it is time for one.
    Spent(Option<String>),
    /// It is none.
    Unknown,
}

/// See the file's rule.
pub(super) struct Shared {
    pub address: Address,
    about: About,
    inner: Mutex<Inner>,
    /// Held while a picture is on its way, so that they fill no memory.
    pub picture: tokio::sync::Mutex<()>,
    changed: watch::Sender<()>,
    beat: AtomicU64,
    ended: AtomicBool,
}

/// What of the view a page has.
#[derive(Debug, Default)]
pub(super) struct Had {
    version: Option<u64>,
    read: u64,
    beat: u64,
}

fn now() -> u64 {
    u64::try_from(clock::since_start().as_millis()).unwrap_or(u64::MAX)
}

impl Shared {
    pub(super) fn new(address: Address, about: About, answers: UnboundedSender<Said>) -> Shared {
        let inner = Inner {
            view: View::default(),
            version: 0,
            read: 0,
            closing: None,
            answers,
            on_its_way: None,
            code: None,
            spent: None,
            sessions: Vec::new(),
            devices: 0,
            answering: None,
            has_answered: false,
        };
        Shared {
            address,
            about,
            inner: Mutex::new(inner),
            picture: tokio::sync::Mutex::default(),
            changed: watch::Sender::new(()),
            beat: AtomicU64::new(now()),
            ended: AtomicBool::new(false),
        }
    }

    fn lock(&self) -> MutexGuard<'_, Inner> {
        // nothing that is done under it can leave it half done
        self.inner.lock().unwrap_or_else(PoisonError::into_inner)
    }

    /// Told whenever something is to be sent.
    pub(super) fn changes(&self) -> watch::Receiver<()> {
        self.changed.subscribe()
    }

    /// The walk lives.
    pub(super) fn beat(&self) {
        self.beat.store(now(), Ordering::Release);
    }

    /// When there was the last sign of life; after the end nothing is waited for.
    fn last_beat(&self) -> u64 {
        match self.ended.load(Ordering::Acquire) {
            true => now(),
            false => self.beat.load(Ordering::Acquire),
        }
    }

    /// Something is shown.
    pub(super) fn show(&self, show: &Show) {
        self.beat();
        let mut inner = self.lock();
        inner.view.take(show);
        if matches!(show, Show::Live { .. }) {
            inner.read = now();
        } else {
            inner.version += 1;
        }
        // what was taken and judged is still on its way to the next question
        if matches!(show, Show::Prompt(_) | Show::Notice(_) | Show::Refused { .. }) {
            inner.on_its_way = None;
        }
        drop(inner);
        self.changed.send_replace(());
    }

    /// The walk is over: these lines stand there from now on.
    pub(super) fn end(&self, lines: Vec<String>) {
        let mut inner = self.lock();
        inner.closing = Some(lines);
        inner.version += 1;
        drop(inner);
        self.ended.store(true, Ordering::Release);
        self.changed.send_replace(());
    }

    /// A new code, which pairs one browser; the one before it pairs none any more.
    pub(super) fn new_code(&self) -> String {
        self.lock().new_code(now())
    }

    /// Pairs a browser that has the code. It answers from now on.
    pub(super) fn pair(&self, code: &str, from: IpAddr) -> Pairing {
        let pairing = self.lock().pair(&Secret::of(code), from, now());
        if matches!(pairing, Pairing::Paired(..)) {
            self.changed.send_replace(());
        }
        pairing
    }

    /// Whether a browser is paired.
    pub(super) fn knows(&self, session: &Secret) -> bool {
        self.lock().number_of(session).is_some()
    }

    /// From where browsers were paired.
    pub(super) fn paired_from(&self) -> Vec<IpAddr> {
        self.lock().sessions.iter().map(|known| known.from).collect()
    }

    /// This page answers from now on.
    pub(super) fn answers_here(&self, session: &Secret) {
        self.lock().answers_at(session.clone());
        self.changed.send_replace(());
    }

    /// Takes an answer to the walk.
    ///
    /// # Errors
    /// 423 from a page that does not answer, 503 while the walk gives no sign of life, 410 after its end, 409 to another prompt, one that is
    /// answered, or while danger is not acknowledged; 422 where it is none, 403 where it is for the laptop alone.
    pub(super) fn answer(&self, session: &Secret, sent: &Sent) -> Result<(), StatusCode> {
        // a voltage is heard whatever stands in front
        let (mut inner, face) = self.open_to(session, sent.prompt, sent.say == Say::Voltage)?;
        let said = said(sent, inner.view.prompt.as_ref(), face)?;
        inner.has_answered = true;
        inner.take(sent.prompt, said)
    }

    /// Whether a picture would be taken now, before it is read.
    ///
    /// # Errors
    /// As of [`Self::answer`].
    pub(super) fn awaits_picture(&self, session: &Secret, prompt: u64) -> Result<(), StatusCode> {
        let (inner, _) = self.open_to(session, prompt, false)?;
        takes_picture(prompt, inner.view.prompt.as_ref())
    }

    /// Takes a picture to the walk, which is kept in this file. It may be an old one, so whoever sends it need not stand there.
    ///
    /// # Errors
    /// As of [`Self::answer`], and 507 where a line cannot name the file.
    pub(super) fn picture(&self, session: &Secret, prompt: u64, file: &Path) -> Result<(), StatusCode> {
        let (mut inner, face) = self.open_to(session, prompt, false)?;
        let said = pictured(prompt, inner.view.prompt.as_ref(), file, face)?;
        inner.take(prompt, said)
    }

    /// Where the pictures are kept, with what their names begin with.
    pub(super) fn pictures(&self) -> &Path {
        &self.about.pictures
    }

    /// What an answer from this page to a prompt goes to, where one is heard now, and by which face it comes.
    fn open_to(
        &self,
        session: &Secret,
        prompt: u64,
        anyway: bool,
    ) -> Result<(MutexGuard<'_, Inner>, Face), StatusCode> {
        if self.ended.load(Ordering::Acquire) {
            return Err(StatusCode::GONE);
        }
        let at = now();
        if SILENT_MS < at.saturating_sub(self.last_beat()) {
            return Err(StatusCode::SERVICE_UNAVAILABLE);
        }
        let inner = self.lock();
        if inner.answering.as_ref() != Some(session) {
            return Err(StatusCode::LOCKED);
        }
        let same = |(number, since): (u64, u64)| number == prompt && at.saturating_sub(since) < ON_ITS_WAY_MS;
        if !anyway && (inner.view.danger.is_some() || inner.on_its_way.is_some_and(same)) {
            return Err(StatusCode::CONFLICT);
        }
        let face = match self.address.is_at_laptop() {
            true => Face::Page,
            false => Face::Device(inner.number_of(session).ok_or(StatusCode::LOCKED)?),
        };
        Ok((inner, face))
    }

    /// Danger was seen by the page that answers.
    ///
    /// # Errors
    /// 423 from a page that does not answer, 409 where other danger is shown.
    pub(super) fn acknowledge(&self, session: &Secret, number: u64) -> Result<(), StatusCode> {
        let mut inner = self.lock();
        if inner.answering.as_ref() != Some(session) {
            return Err(StatusCode::LOCKED);
        }
        if !inner.view.acknowledge(number) {
            return Err(StatusCode::CONFLICT);
        }
        inner.version += 1;
        drop(inner);
        self.changed.send_replace(());
        Ok(())
    }

    /// The next event for a page that has this; none where there is nothing new, be it because the walk hangs.
    pub(super) fn event(&self, session: &Secret, had: &mut Had) -> Option<String> {
        let beat = self.last_beat();
        let inner = self.lock();
        let mut text = String::new();
        if had.version != Some(inner.version) {
            let answers = inner.answering.as_ref() == Some(session);
            let beside = Beside {
                now: beat,
                version: inner.version,
                about: &self.about,
                closing: inner.closing.as_deref(),
                answers,
                device: inner.number_of(session),
                answering: inner.answering.as_ref().and_then(|session| inner.number_of(session)),
                stands_there: answers && inner.has_answered,
                at_laptop: self.address.is_at_laptop(),
            };
            let json = State::of(&inner.view, beside).json();
            text = format!("id: {}\nevent: state\ndata: {json}\n\n", inner.version);
            had.version = Some(inner.version);
            had.read = 0;
        }
        if had.read != inner.read
            && let Some(moving) = Moving::of(&inner.view, beat, inner.read)
        {
            text += &format!("event: live\ndata: {}\n\n", moving.json());
            had.read = inner.read;
        }
        if text.is_empty() && had.beat != beat {
            text = format!("event: beat\ndata: {{\"now\":{beat}}}\n\n");
        }
        had.beat = beat;
        (!text.is_empty()).then_some(text)
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::run::dialogue::{Ask, Prompt};
    use tokio::sync::mpsc::{UnboundedReceiver, unbounded_channel};

    const HERE: IpAddr = IpAddr::V4(std::net::Ipv4Addr::LOCALHOST);

    fn paired(shared: &Shared, code: &str) -> Secret {
        match shared.pair(code, HERE) {
            Pairing::Paired(cookie, _) => Secret::of(&cookie),
            other => panic!("{other:?}"),
        }
    }

    fn shared() -> (Shared, UnboundedReceiver<Said>, Secret) {
        let (answers, said) = unbounded_channel();
        let about = About {
            title: String::new(),
            near: String::new(),
            far: String::new(),
            fresh_ms: 1_000,
            pictures: "run".into(),
        };
        let address = Address {
            at: (HERE, 1).into(),
            tls: false,
        };
        let shared = Shared::new(address, about, answers);
        let session = paired(&shared, &shared.new_code());
        (shared, said, session)
    }

    fn ask(shared: &Shared, number: u64) {
        let prompt = Prompt {
            number,
            ..Prompt::default()
        };
        shared.show(&Show::Prompt(Box::new(prompt.asking(Ask::Indicator))));
    }

    fn dark(prompt: u64) -> Sent {
        Sent {
            prompt,
            say: Say::Choice(1),
        }
    }

    #[test]
    fn a_code_pairs_once_and_within_its_time() {
        let (shared, _said, _) = shared();
        let mut inner = shared.lock();
        let first = inner.new_code(0);
        let mut pair = |code: &str, at| inner.pair(&Secret::of(code), HERE, at);
        assert_eq!(pair("0123", 0), Pairing::Unknown);
        assert!(matches!(pair(&first, CODE_MS - 1), Pairing::Paired(..)));
        // whoever has it saw this machine's terminal, and is shown the next one there
        let spent = |pairing| match pairing {
            Pairing::Spent(next) => next,
            other => panic!("{other:?}"),
        };
        let made = CODE_MS;
        let second = spent(pair(&first, made)).unwrap();
        assert_eq!(spent(pair(&first, made + 1)), None, "the next one stands there already");
        let third = spent(pair(&first, made + NEXT_CODE_MS)).unwrap();
        assert_eq!(
            pair(&second, made + NEXT_CODE_MS),
            Pairing::Unknown,
            "a newer one took its place"
        );
        let fourth = spent(pair(&third, made + NEXT_CODE_MS + CODE_MS)).expect("it has run out");
        assert!(matches!(
            pair(&fourth, made + NEXT_CODE_MS + CODE_MS),
            Pairing::Paired(..)
        ));
        assert_eq!(pair(&first, u64::MAX), Pairing::Unknown, "only the last is remembered");
    }

    #[test]
    fn wrong_codes_lock_nobody_out() {
        let (shared, _said, _) = shared();
        let code = shared.new_code();
        for n in 0..10_000 {
            assert_eq!(shared.pair(&format!("{n:032x}"), HERE), Pairing::Unknown);
        }
        paired(&shared, &code);
        assert_eq!(shared.paired_from(), [HERE, HERE]);
    }

    #[test]
    fn a_prompt_is_answered_once_and_by_one_page() {
        let (shared, mut said, first) = shared();
        ask(&shared, 1);
        assert_eq!(shared.answer(&first, &dark(2)), Err(StatusCode::CONFLICT));
        assert_eq!(shared.answer(&first, &dark(1)), Ok(()));
        assert_eq!(shared.answer(&first, &dark(1)), Err(StatusCode::CONFLICT));
        ask(&shared, 2);
        let second = paired(&shared, &shared.new_code());
        assert_eq!(shared.answer(&first, &dark(2)), Err(StatusCode::LOCKED));
        shared.answers_here(&first);
        assert_eq!(shared.answer(&second, &dark(2)), Err(StatusCode::LOCKED));
        assert_eq!(shared.answer(&first, &dark(2)), Ok(()));
        let mut came = 0;
        while said.try_recv().is_ok() {
            came += 1;
        }
        assert_eq!(came, 2);
    }

    #[test]
    fn danger_stands_before_every_answer_but_a_voltage() {
        let (shared, _said, session) = shared();
        ask(&shared, 1);
        shared.show(&Show::Danger("230 V".into()));
        assert_eq!(shared.answer(&session, &dark(1)), Err(StatusCode::CONFLICT));
        let voltage = Sent {
            prompt: 1,
            say: Say::Voltage,
        };
        assert_eq!(shared.answer(&session, &voltage), Ok(()));
        assert_eq!(shared.acknowledge(&session, 9), Err(StatusCode::CONFLICT));
        assert_eq!(shared.acknowledge(&session, 1), Ok(()));
        ask(&shared, 2);
        assert_eq!(shared.answer(&session, &dark(2)), Ok(()));
    }

    #[test]
    fn a_picture_is_heard_as_an_answer_is() {
        let (shared, mut said, session) = shared();
        let note = |number, photograph| {
            let prompt = Prompt {
                number,
                ..Prompt::default()
            };
            shared.show(&Show::Prompt(Box::new(prompt.asking(Ask::Note { photograph }))));
        };
        let file = Path::new("run-1.png");
        let both = |session: &Secret, number, expected: Result<(), StatusCode>| {
            assert_eq!(shared.awaits_picture(session, number), expected);
            assert_eq!(shared.picture(session, number, file), expected);
        };
        both(&session, 1, Err(StatusCode::CONFLICT));
        note(1, false);
        both(&session, 1, Err(StatusCode::UNPROCESSABLE_ENTITY));
        note(2, true);
        both(&Secret::new().0, 2, Err(StatusCode::LOCKED));
        both(&session, 1, Err(StatusCode::CONFLICT));
        both(&session, 2, Ok(()));
        // one is on its way until the walk says that it is bound in
        both(&session, 2, Err(StatusCode::CONFLICT));
        shared.show(&Show::Notice("bound in".into()));
        shared.show(&Show::Danger("230 V".into()));
        both(&session, 2, Err(StatusCode::CONFLICT));
        assert_eq!(shared.acknowledge(&session, 1), Ok(()));
        both(&session, 2, Ok(()));
        let mut lines = Vec::new();
        while let Ok(said) = said.try_recv() {
            lines.extend(said.into_line());
        }
        assert_eq!(lines, ["photograph run-1.png"; 2]);
        assert!(
            !shared.lock().has_answered,
            "whoever sends a picture need not stand there"
        );
    }

    #[test]
    fn a_walk_that_hangs_is_not_kept_alive_by_its_server() {
        let (shared, _said, session) = shared();
        ask(&shared, 1);
        let mut had = Had::default();
        shared.beat.store(now().saturating_sub(1), Ordering::Release);
        assert!(shared.event(&session, &mut had).unwrap().starts_with("id: "));
        // no sign of life since: nothing is sent, and nothing is taken
        assert_eq!(shared.event(&session, &mut had), None);
        shared
            .beat
            .store(now().saturating_sub(SILENT_MS + 1), Ordering::Release);
        assert_eq!(shared.answer(&session, &dark(1)), Err(StatusCode::SERVICE_UNAVAILABLE));
        shared.beat();
        assert!(shared.event(&session, &mut had).unwrap().starts_with("event: beat"));
        assert_eq!(shared.answer(&session, &dark(1)), Ok(()));
        shared.end(vec!["it is closed".into()]);
        assert!(shared.event(&session, &mut had).unwrap().contains("it is closed"));
        assert_eq!(shared.answer(&session, &dark(1)), Err(StatusCode::GONE));
    }
}
