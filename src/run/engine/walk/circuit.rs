//! What is known of the circuit, along whole walks: dead never stays up where it may not be so.

use super::Walk;
use crate::plan::{Act, Stage, Supply};
use crate::run::dialogue::Dialogue;
use crate::run::engine::Engine;
use crate::run::fold::Circuit;

impl Walk {
    fn circuit(&self) -> Circuit {
        self.prompt.as_ref().unwrap().circuit
    }

    fn is_dead(&self) -> bool {
        matches!(self.circuit(), Circuit::ProvedDead { .. })
    }
}

/// A walk that came to a step at which it is proved dead where the person stands.
fn dead_at(step: &str) -> Walk {
    let mut walk = Walk::new();
    walk.to(step);
    assert!(walk.is_dead(), "{step}: {:?}", walk.circuit());
    walk
}

#[test]
fn along_a_sound_walk_each_word_stands_where_it_holds() {
    let mut walk = Walk::new();
    let (mut words, mut last) = (Vec::new(), None);
    for _ in 0..300 {
        let Some(prompt) = walk.prompt.clone().filter(|_| walk.engine.run().ending.is_none()) else {
            break;
        };
        let run = walk.engine.run();
        match prompt.circuit {
            Circuit::ProvedDead { at } => {
                assert!(run.stage_passed(Stage::Isolate), "{}", prompt.step);
                assert_eq!(
                    (run.hands.supply, run.hands.charged),
                    (Supply::SwitchedOff, false),
                    "{}",
                    prompt.step
                );
                assert!(at < walk.now && run.opened_at < at);
            }
            Circuit::TestVoltage => assert_ne!(run.hands.supply, Supply::SwitchedOn),
            Circuit::Live => assert!(run.hands.supply == Supply::SwitchedOn || prompt.acts.contains(&Act::Energise)),
            Circuit::NotProved => {}
        }
        let word = std::mem::discriminant(&prompt.circuit);
        if last != Some(word) {
            last = Some(word);
            words.push((prompt.step.clone(), prompt.circuit));
        }
        if prompt.step.ends_with("-off") && prompt.stage == Some(Stage::Live) {
            walk.wait(11);
        }
        walk.say(&Walk::good_answer(&prompt));
    }
    let is = |(_, circuit): &(String, Circuit)| match circuit {
        Circuit::NotProved => 'n',
        Circuit::ProvedDead { .. } => 'd',
        Circuit::TestVoltage => 't',
        Circuit::Live => 'l',
    };
    let came: String = words.iter().map(is).collect();
    assert!(
        came.starts_with("nd") && came.contains("dtd") && came.ends_with("dl"),
        "{words:?}"
    );
    // from the first insulation prompt, and live from the prompt that asks to switch on
    let first = |letter| {
        words
            .iter()
            .find(|word| is(word) == letter)
            .map(|(step, _)| step.as_str())
            .unwrap()
    };
    assert!(first('t').starts_with("insulation"), "{words:?}");
    assert_eq!(first('l'), "energise");
}

#[test]
fn it_belongs_to_the_end_at_which_it_was_shown() {
    let walk = dead_at("continuity/brown");
    let run = walk.engine.run();
    use crate::plan::Stand::{Far, Isolator, Near};
    assert!(matches!(run.circuit(&[Near], None), Circuit::ProvedDead { .. }));
    assert!(matches!(run.circuit(&[Near, Far], None), Circuit::ProvedDead { .. }));
    for elsewhere in [&[Isolator][..], &[Near, Isolator], &[]] {
        assert_eq!(run.circuit(elsewhere, None), Circuit::NotProved, "{elsewhere:?}");
    }
}

#[test]
fn it_is_gone_after_whatever_may_have_ended_it() {
    let check = |what: &str, expected: Circuit, then: &dyn Fn(&mut Walk)| {
        let mut walk = dead_at("continuity/brown");
        then(&mut walk);
        assert_eq!(walk.circuit(), expected, "{what}, at `{}`", walk.at());
    };
    check("a voltage was typed", Circuit::Live, &|walk| walk.say("230 V"));
    check("a point was lit", Circuit::Live, &|walk| walk.say("was lit"));
    check("a text names a voltage", Circuit::Live, &|walk| {
        walk.say("abandon");
        walk.say("230 V on the clamp");
    });
    check("the work was left", Circuit::NotProved, &|walk| {
        walk.wait(24 * 3600);
        walk.engine.handle_tick(walk.now);
        walk.drain();
    });
    check("a break", Circuit::NotProved, &|walk| {
        let run = walk.engine.run().clone();
        walk.engine = Engine::new(run, None, Some(0));
        walk.drain();
    });
    check("a break that was told of", Circuit::NotProved, &|walk| {
        let run = walk.engine.run().clone();
        walk.engine = Engine::new(run, None, Some(0));
        walk.drain();
        walk.say("none");
    });
    check("a repair", Circuit::NotProved, &|walk| {
        for line in ["OL", "repair", "clamp tightened", "none"] {
            walk.say(line);
        }
    });
}

#[test]
fn a_failure_that_repairs_nothing_leaves_it_as_it_was() {
    let mut walk = dead_at("continuity/brown");
    walk.say("OL");
    assert!(walk.is_dead());
    walk.say("again");
    assert!(walk.is_dead());
}

#[test]
fn after_it_was_live_the_old_proof_says_nothing() {
    let mut walk = Walk::new();
    walk.to("supply");
    assert_eq!(walk.circuit(), Circuit::Live);
    walk.say("abandon");
    walk.say("called away");
    assert_eq!(walk.circuit(), Circuit::Live, "until it is made safe");
    let mut run = walk.engine.run().clone();
    run.hands.supply = Supply::SwitchedOff;
    assert_eq!(run.circuit(&[crate::plan::Stand::Near], None), Circuit::NotProved);
}

#[test]
fn what_was_asked_last_may_be_done_when_the_laptop_dies() {
    let check = |step: &str, expected| {
        let mut walk = Walk::new();
        walk.to(step);
        let mut after = Walk::around(Engine::new(walk.engine.run().clone(), None, Some(0)), walk.now);
        after.drain();
        assert_eq!(after.circuit(), expected, "{step}");
    };
    check("energise", Circuit::Live);
    check("insulation/brown", Circuit::TestVoltage);
    check("switch-off", Circuit::NotProved);
    check("continuity/brown", Circuit::NotProved);
}
