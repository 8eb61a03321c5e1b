//! Readings that are likely slips, and what is asked about them.

use super::*;

fn doubted(walk: &Walk) -> Vec<&str> {
    let lines = walk.events.iter().filter_map(|(_, event)| match event {
        Event::Doubted { line, .. } => Some(line.as_str()),
        _ => None,
    });
    lines.collect()
}

fn asked(walk: &Walk) -> (String, Vec<String>) {
    let prompt = walk.prompt.as_ref().unwrap();
    let words = prompt.choices.iter().map(|choice| choice.word.clone());
    (prompt.say.clone(), words.collect())
}

#[test]
fn a_slip_is_written_down_as_typed_then_asked_and_nothing_expected_is_named() {
    let look = "Look again at the digits, at the point and at each letter of the unit: what stands on the display?";
    for (step, line, what, may_be_so) in [
        ("insulation/brown", ">200 mohm", "was typed.", true),
        ("continuity/brown", "420 Mohm", "was typed.", true),
        ("continuity/grey", "6.3", "was typed.", true),
        ("continuity/grey", "0.063 ohm", "was typed.", true),
        ("continuity/brown", "24 ms", "is a time.", false),
        ("continuity/brown", "1 mm\u{b2}", "is a cross-section.", false),
        ("switched-on", "231 ohm", "is a resistance.", false),
    ] {
        let mut walk = Walk::new();
        walk.to(step);
        walk.say(line);
        assert_eq!(doubted(&walk), [line], "{step}");
        let (say, choices) = asked(&walk);
        assert_eq!(say, format!("`{line}` {what} {look}"));
        assert_eq!(choices, if may_be_so { vec!["yes"] } else { vec![] }, "{line}");
        let prompt = walk.prompt.clone().unwrap();
        assert_eq!((prompt.window, prompt.scale, prompt.instrument), (None, None, None));
        walk.say(if step.starts_with("insulation") {
            ">299"
        } else if step == "switched-on" {
            "231.4"
        } else {
            "0.63"
        });
        assert_eq!(walk.verdict(step).0, Outcome::Pass, "{line}");
        walk.to("nowhere");
        let run = walk.engine.run();
        assert_eq!(run.outcome(), Outcome::Pass);
        assert!(
            run.told
                .iter()
                .any(|(.., what)| *what == format!("`{line}` was typed, and asked about"))
        );
    }
}

#[test]
fn what_stands_there_so_is_taken_as_it_was_typed() {
    for (step, line, function, outcome) in [
        ("continuity/grey", "6.3", Function::Continuity, Outcome::Fail),
        (
            "insulation/brown",
            ">200 mohm",
            Function::Insulation(500),
            Outcome::NotTested,
        ),
    ] {
        for answer in ["yes", line] {
            let mut walk = Walk::new();
            walk.to(step);
            walk.say(line);
            walk.say(answer);
            assert_eq!(walk.verdict(step).0, outcome, "{step} {answer}");
            let taken = walk.events.iter().rev().find_map(|(_, event)| match event {
                Event::Taken { reading, .. } => Some(reading.clone()),
                _ => None,
            });
            assert_eq!(taken, Reading::typed(line, function).ok());
        }
    }
}

#[test]
fn what_is_no_slip_is_not_asked_about() {
    for (step, line) in [
        ("continuity/brown", "6.3"),
        ("continuity/grey", "0.9"),
        ("continuity/grey", "OL"),
        ("continuity/grey", "0,63"),
        ("continuity/grey", ".63"),
        ("continuity/grey", "0R63"),
        ("continuity/grey", "630 mohm"),
        ("insulation/grey", "2 M"),
        ("insulation/grey", "250"),
    ] {
        let mut walk = Walk::new();
        walk.to(step);
        walk.say(line);
        if line == "250" {
            walk.say("megohm");
        }
        assert_eq!(doubted(&walk), Vec::<&str>::new(), "{line}");
        assert_ne!(walk.status(step), Status::Pending, "{line}");
    }
}

#[test]
fn a_doubt_is_gone_back_from_and_a_voltage_is_heard_in_it() {
    let mut walk = Walk::new();
    walk.to("continuity/grey");
    walk.say("6.3");
    walk.say("back");
    assert!(walk.prompt.as_ref().unwrap().window.is_some());
    walk.say("24 ms");
    walk.say("yes");
    assert_eq!(
        walk.notices.last().unwrap(),
        "that cannot be read here: look at the dial and at the letters of the unit, and type what stands there"
    );
    walk.say("230v");
    assert_eq!(
        (walk.engine.run().live_seen.len(), walk.status("switch-off")),
        (1, Status::Pending)
    );
}
