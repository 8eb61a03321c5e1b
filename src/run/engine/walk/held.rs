//! One frame of voltage that no checksum guards, and what comes after it.

use super::*;

/// A meter whose frames nothing guards, at a step in the dead tests.
fn unguarded(step: &str) -> Walk {
    let mut walk = metered(step, false);
    walk.engine.port.as_mut().unwrap().guarded = false;
    walk
}

fn volts() -> Heard {
    shown("231", Function::VoltageAc)
}

fn ohms(text: &str) -> Heard {
    shown(text, Function::Continuity)
}

fn after(walk: &mut Walk, ms: i64, what: Heard) {
    walk.now += SignedDuration::from_millis(ms);
    heard(walk, what);
}

/// How many frames were doubted, cleared, and seen as a voltage.
fn counted(walk: &Walk) -> [usize; 3] {
    let count = |of: fn(&Event) -> bool| walk.events.iter().filter(|(_, event)| of(event)).count();
    [
        count(|event| matches!(event, Event::FrameDoubted { .. })),
        count(|event| matches!(event, Event::FrameCleared { .. })),
        count(|event| matches!(event, Event::LiveSeen { .. })),
    ]
}

#[test]
fn a_frame_that_a_checksum_guards_is_a_voltage_at_once() {
    let mut walk = metered("continuity/brown", false);
    heard(&mut walk, volts());
    assert_eq!(
        (counted(&walk), walk.status("switch-off")),
        ([0, 0, 1], Status::Pending)
    );
}

#[test]
fn two_frames_without_voltage_let_the_run_go_on_at_any_rate_and_it_stays_in_the_record() {
    for each_ms in [20, 100, 250, 1_000] {
        let mut walk = unguarded("continuity/brown");
        heard(&mut walk, volts());
        assert_eq!(walk.prompt.as_ref().unwrap().ask, Ask::Held);
        // nothing is taken in meanwhile; what says that something is or was live is a voltage
        for line in ["0.63", "done", "back", "abandon", "12 V"] {
            walk.engine.handle_answer(line, walk.now);
            walk.drain();
        }
        after(&mut walk, each_ms, ohms("0.63"));
        assert_eq!(counted(&walk), [1, 1, 0]);
        after(&mut walk, each_ms, ohms("0.63"));
        assert_eq!(
            (counted(&walk), walk.at()),
            ([1, 2, 0], "continuity/brown"),
            "{each_ms}"
        );
        assert!(matches!(walk.prompt.as_ref().unwrap().ask, Ask::Reading { .. }));
        assert_eq!(walk.status("switch-off"), Status::Passed);
        let told: Vec<_> = walk.engine.run().told.iter().map(|(.., what)| what.as_str()).collect();
        assert_eq!(
            told,
            [
                "231 V in one frame of the meter that no checksum guards; the run was held",
                "the two frames after it showed no voltage, and the run went on"
            ]
        );
        walk.to("nowhere");
        assert_eq!(walk.engine.run().outcome(), Outcome::Pass);
    }
}

#[test]
fn silence_trouble_the_same_again_or_frames_too_late_void_isolation() {
    let tick = |walk: &mut Walk, ms: i64| {
        walk.now += SignedDuration::from_millis(ms);
        walk.engine.handle_tick(walk.now);
        walk.drain();
    };
    type Comes<'a> = &'a dyn Fn(&mut Walk);
    let cases: [(&str, Comes<'_>); 7] = [
        ("silence", &|walk| tick(walk, 3_000)),
        ("the same", &|walk| after(walk, 250, volts())),
        ("the same after one without", &|walk| {
            after(walk, 250, ohms("OL"));
            after(walk, 250, volts());
        }),
        ("unplugged", &|walk| {
            after(walk, 250, Heard::Trouble("the port vanished".into()))
        }),
        ("one alone", &|walk| {
            after(walk, 250, ohms("0.63"));
            tick(walk, 3_000);
        }),
        ("too late", &|walk| after(walk, 3_001, ohms("0.63"))),
        ("typed", &|walk| {
            walk.engine.handle_answer("live", walk.now);
            walk.drain();
        }),
    ];
    for (what, comes) in cases {
        let mut walk = unguarded("continuity/brown");
        heard(&mut walk, volts());
        comes(&mut walk);
        assert_eq!(counted(&walk)[2], 1, "{what}");
        assert_eq!(walk.status("switch-off"), Status::Pending, "{what}");
        let mut again = Run::open(opened(), walk.events[0].0).unwrap();
        for (at, event) in &walk.events {
            again.apply(*at, event).unwrap();
        }
        assert_eq!(again.steps, walk.engine.run().steps, "{what}");
    }
}

#[test]
fn a_record_in_which_anything_else_follows_is_refused() {
    let mut walk = unguarded("continuity/brown");
    heard(&mut walk, volts());
    let Heard::Reading { reading, .. } = ohms("0.63") else {
        unreachable!()
    };
    let step = "continuity/brown".to_owned();
    let mut run = walk.engine.run().clone();
    let taken = Event::Taken {
        step: step.clone(),
        reading: reading.clone(),
    };
    assert_eq!(
        run.apply(walk.now, &taken).unwrap_err().what,
        "a frame of voltage is not cleared up"
    );
    let late = walk.now + SignedDuration::from_millis(3_001);
    let cleared = Event::FrameCleared {
        step: step.clone(),
        reading,
    };
    assert_eq!(
        run.apply(late, &cleared).unwrap_err().what,
        "0.63 ohm at `continuity/brown` clears up no frame of voltage"
    );
    let typed = Event::FrameCleared {
        step,
        reading: Reading::typed("0.63", Function::Continuity).unwrap(),
    };
    assert!(run.apply(walk.now, &typed).is_err());
    // and a break in the middle of it proves everything again
    let mut resumed = Walk::around(Engine::new(walk.engine.run().clone(), None, Some(0)), walk.now);
    resumed.drain();
    resumed.say("none");
    assert_eq!((resumed.at(), resumed.engine.run().held.clone()), ("switch-off", None));
}
