//! Power that goes at every write and sync of a whole identification: recovered and walked on, it comes to the same list.

use std::cell::Cell;

use coreproof::evidence::journal::faulty::{Disk, Faults};
use coreproof::evidence::journal::{Journal, parse};
use coreproof::identify::event::{Event, Opened, Subject, Told};
use coreproof::identify::figures::Figures;
use coreproof::identify::identifying::Identifying;
use coreproof::identify::session::Session;
use coreproof::run::dialogue::{Clock, Engineer, Said, Show};

use coreproof::walk::{Around, walk};
use jiff::Timestamp;
use tokio::sync::mpsc::{UnboundedSender, unbounded_channel};

struct Steps(Cell<i64>);

impl Clock for Steps {
    fn now(&self) -> Timestamp {
        self.0.set(self.0.get() + 7);
        Timestamp::from_millisecond(self.0.get()).unwrap()
    }
}

/// Answers as the cable is, and counts what it was asked.
struct Hands(UnboundedSender<Said>, usize);

impl Engineer for Hands {
    fn show(&mut self, show: &Show) {
        if let Show::Prompt(prompt) = show {
            self.1 += 1;
            let seen = format!("\n\n{}\n{}\n{}", prompt.heading, prompt.todo.join("\n"), prompt.say);
            self.0
                .send(Said::from(&crate::identified::by_the_cable(&seen)))
                .unwrap();
        }
    }
}

fn opened() -> Opened {
    Opened {
        format: "1.0".into(),
        program: "coreproof test".into(),
        identification: uuid::Uuid::nil(),
        place: "Saltmarsh Sailing Club".into(),
        engineer: "Morgan Teal".into(),
        of: Subject::Cores {
            cores: 4,
            kit: "links".into(),
            every_core_seen: true,
            checked: true,
        },
        figures: Figures::shipped(),
        job: None,
        profiles: Vec::new(),
        instrument: None,
        port: None,
        departures: Vec::new(),
    }
}

/// Walks until the end or until the power goes.
fn go(identifying: &mut Identifying, journal: &mut Journal<Event>) -> bool {
    let runtime = tokio::runtime::Builder::new_current_thread()
        .enable_all()
        .build()
        .unwrap();
    let (sender, mut lines) = unbounded_channel();
    let mut hands = Hands(sender, 0);
    let around = Around {
        journal,
        meter: None,
        said: &mut lines,
        page: None,
        engineer: &mut hands,
        clock: &Steps(Cell::new(1_795_600_000_000)),
    };
    runtime.block_on(walk(identifying, around)).is_ok()
}

fn folded(bytes: &[u8]) -> Session {
    let lines = parse::<Event>(bytes).unwrap();
    let mut session = Session::open(opened(), lines[0].at).unwrap();
    for line in &lines[1..] {
        session.apply(line.at, &line.event).unwrap();
    }
    session
}

#[test]
fn at_every_write_and_sync_the_list_comes_to_the_same() {
    let first = Event::Opened(Box::new(opened()));
    let begin = |disk: &Disk| Journal::create_in(disk.store(), &first, Timestamp::UNIX_EPOCH).unwrap();
    let new = || Identifying::new(Session::open(opened(), Timestamp::UNIX_EPOCH).unwrap(), false, None);
    let whole = Disk::default();
    assert!(go(&mut new(), &mut begin(&whole)));
    let expected = folded(&whole.durable()).closed.unwrap().0;
    let Told::Cores(told) = &expected else {
        panic!("cores were told apart")
    };
    assert!(expected.is_sound() && told.rows[0].name() == "A = 2", "{told:?}");
    let calls = whole.calls();
    assert!(12 < calls, "{calls}");
    for cut in 2..calls {
        let disk = Disk::default().with(Faults {
            power_cut_at: Some(cut),
            ..Faults::default()
        });
        let mut identifying = new();
        assert!(!go(&mut identifying, &mut begin(&disk)), "cut at {cut}");
        // what was shown as counting is on the disk
        let shown = identifying.session().answers;
        let left = Disk::holding(&disk.durable());
        let mut recovered = Journal::<Event>::recover_in(left.store()).unwrap();
        let session = folded(&left.cached());
        assert!(shown <= session.answers && session.answers <= shown + 1, "cut at {cut}");
        if session.closed.is_none() {
            let mut again = Identifying::new(session, false, Some(recovered.torn_bytes));
            assert!(go(&mut again, &mut recovered.journal), "cut at {cut}");
        }
        assert_eq!(folded(&left.durable()).closed.unwrap().0, expected, "cut at {cut}");
    }
}
