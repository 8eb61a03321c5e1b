//! A length corrected in a record: an honest one is told with both verdicts, and a forger with a good key is found out.
//!
//! The rule inside: an honest correction is written by the fold's own verdicts; a lie is put between the lines and the chain made anew.

use coreproof::evidence::audit::{Concern, Remark};
use coreproof::judge::window::Outcome;
use coreproof::run::event::Event;
use coreproof::run::fold::Run;

use crate::forged::Forged;

/// One line that corrects the length.
fn corrected(length: &str, because: Option<&str>) -> String {
    let because = because.map_or_else(String::new, |because| format!(",\"because\":\"{because}\""));
    format!("{{\"length_corrected\":{{\"length\":\"{length}\"{because}}}}}")
}

/// The record with these lines before the first one that holds all the marks.
fn inserted(record: &Forged, marks: &[&str], lines: &[String]) -> Forged {
    let mut forged = record.clone();
    let at = forged.find(marks);
    let time = forged.0[at].0.clone();
    let new = lines.iter().map(|line| (time.clone(), line.clone()));
    forged.0.splice(at..at, new);
    forged
}

/// The same with every verdict as the fold gives it, those that a correction asks for too: what an honest program would have written.
fn honest(record: &Forged) -> Forged {
    let mut lines = record.0.iter();
    let (at, first) = lines.next().unwrap();
    let event = |text: &str| serde_json::from_str::<Event>(text).unwrap();
    let Event::Opened(opened) = event(first) else {
        panic!("the first line opens")
    };
    let mut run = Run::open(*opened, at.parse().unwrap()).unwrap();
    let mut written = vec![(at.clone(), first.clone())];
    for (at, line) in lines {
        let next = event(line);
        if !matches!(next, Event::Judged { .. }) {
            run.apply(at.parse().unwrap(), &next).unwrap();
            written.push((at.clone(), line.clone()));
        }
        while let Some((step, verdict)) = run.due() {
            let step = run.plan.steps[step].id.clone();
            let judged = Event::Judged { step, verdict };
            run.apply(at.parse().unwrap(), &judged).unwrap();
            written.push((at.clone(), serde_json::to_string(&judged).unwrap()));
        }
    }
    Forged(written)
}

const FIRST_READING: &[&str] = &["\"taken\"", "\"continuity/brown\""];
const VERDICT: &[&str] = &["\"judged\"", "\"continuity/brown\""];
const INSULATION: &[&str] = &["\"taken\"", "\"insulation/brown\""];
const FEED: &[&str] = &["\"taken\"", "\"feed\""];
const LATER: &[&str] = &["\"answered\"", "\"link/grey+black\""];

#[test]
fn a_length_put_right_before_its_first_reading_is_no_finding() {
    let record = honest(&inserted(&Forged::today(), FIRST_READING, &[corrected("19 m", None)]));
    let (remarks, run) = record.examined();
    assert_eq!(remarks, []);
    let run = run.unwrap();
    assert_eq!(run.outcome(), Outcome::Pass);
    let told = "the length of the cable was corrected, it is 19 m (stated 18 m, corrected to 19 m) from here on";
    assert!(
        run.departures().iter().any(|line| line.contains(told)),
        "{:?}",
        run.departures()
    );
}

#[test]
fn a_length_corrected_later_is_a_finding_that_speaks_against_nobody_and_both_verdicts_are_told() {
    let record = honest(&inserted(
        &Forged::today(),
        LATER,
        &[corrected("20 m", Some("it goes round the loft"))],
    ));
    let (remarks, run) = record.examined();
    let [remark] = remarks.as_slice() else {
        panic!("{remarks:?}")
    };
    assert_eq!((remark.concern, remark.is_against()), (Concern::Length, false));
    for said in [
        "it is 20 m (stated 18 m, corrected to 20 m because it goes round the loft)",
        "`continuity/brown`, judged again: pass, ",
        "at most 0.76 ohm; with 18 m: pass, ",
        "at most 0.689 ohm",
    ] {
        assert!(remark.what.contains(said), "{said}: {}", remark.what);
    }
    let run = run.unwrap();
    assert_eq!(run.outcome(), Outcome::Pass);
}

#[test]
fn a_forger_who_bends_the_length_is_found() {
    let record = Forged::today();
    let loft = Some("it goes round the loft");
    let one = |length: &str, because| vec![corrected(length, because)];
    let fair = honest(&inserted(&record, LATER, &one("20 m", loft)));
    let nine = (2..11).map(|n| corrected(&format!("{n} m"), None)).collect();
    let mut unfound = Vec::new();
    let mut check = |what: &str, forged: &Forged, said: &str| {
        let (remarks, _) = forged.examined();
        let is_found = |remark: &Remark| remark.is_against() && remark.what.contains(said);
        if !remarks.iter().any(is_found) {
            unfound.push(format!("{what}: {remarks:?}"));
        }
    };
    let put_in: Vec<(&str, &[&str], Vec<String>, &str)> = vec![
        ("by 26 %", LATER, one("22.7 m", loft), "at most 4.5 m is allowed"),
        ("down by 26 %", LATER, one("13.3 m", loft), "at most 4.5 m is allowed"),
        ("without a reason", LATER, one("20 m", None), "only with a reason"),
        ("for a blank", LATER, one("20 m", Some("  ")), "one line of words"),
        ("to the same", LATER, one("18.0 m", loft), "the length is 18 m already"),
        ("to nothing", FIRST_READING, one("0 m", loft), "outside 0.5 m to 1000 m"),
        (
            "to less than nothing",
            FIRST_READING,
            one("-18 m", loft),
            "outside 0.5 m",
        ),
        ("to a mile", FIRST_READING, one("1609 m", loft), "outside 0.5 m"),
        (
            "to a voltage",
            FIRST_READING,
            one("18 V", loft),
            "a length is needed here",
        ),
        (
            "with the verdicts untouched",
            LATER,
            one("20 m", loft),
            "has no verdict yet",
        ),
        (
            "between a reading and its verdict",
            VERDICT,
            one("20 m", loft),
            "has no verdict yet",
        ),
        (
            "at a test voltage",
            INSULATION,
            one("20 m", loft),
            "a test voltage is or may be",
        ),
        ("while the supply is on", FEED, one("20 m", loft), "the supply is on"),
        ("at the end", &["\"closed\""], one("20 m", loft), "the supply is on"),
        ("nine times", FIRST_READING, nine, "corrected 8 times"),
    ];
    for (what, marks, lines, said) in put_in {
        check(what, &inserted(&record, marks, &lines), said);
    }
    let first = honest(&inserted(&record, LATER, &one("20.7 m", loft)));
    let second = |length| inserted(&first, &["\"answered\"", "\"links-off\""], &one(length, loft));
    check("twice by 15 %", &second("23.4 m"), "by 5.4 m in all");
    check("there and back", &second("18 m"), "by 5.4 m in all");
    // where the verdicts are those that the length would give
    let verdicts = |forged: &Forged| -> Vec<String> {
        let from = forged.find(&["\"length_corrected\""]) + 1;
        let judged = forged.0[from..]
            .iter()
            .take_while(|(_, line)| line.contains("\"judged\""));
        judged.map(|(_, line)| line.clone()).collect()
    };
    let again = verdicts(&fair);
    assert_eq!(again.len(), 2, "brown and black were read: {again:?}");
    let both = [one("20 m", loft), one("21 m", loft)].concat();
    check("twice at once", &inserted(&record, LATER, &both), "has no verdict yet");
    let swapped = [one("20 m", loft), vec![again[1].clone(), again[0].clone()]].concat();
    check(
        "its verdicts in another order",
        &inserted(&record, LATER, &swapped),
        "a verdict without",
    );
    let short = [one("20 m", loft), vec![again[0].clone()]].concat();
    check(
        "a verdict left out",
        &inserted(&record, LATER, &short),
        "has no verdict yet",
    );
    // in a record whose correction is fair
    let length = &["\"length_corrected\""];
    for (what, from, to, said) in [
        ("another length than its verdicts", "20 m", "21 m", "judged again as"),
        (
            "no reason",
            ",\"because\":\"it goes round the loft\"",
            "",
            "only with a reason",
        ),
        ("a member of its own", "\"because\"", "\"reason\"", "reason"),
    ] {
        check(what, &fair.edited(length, from, to), said);
    }
    let stated = fair.edited(&["\"opened\""], "length: \\\"18 m\\\"", "length: \\\"20 m\\\"");
    check("the job as if it had stated it", &stated, "judged again as");
    let at = fair.find(&["\"length_corrected\""]);
    let mut without = fair.clone();
    without.0.remove(at);
    check("its verdicts without it", &without, "a verdict without");
    let mut other = fair.clone();
    other.0[at + 1].1 = other.0[at + 1]
        .1
        .replacen("\"outcome\":\"pass\"", "\"outcome\":\"fail\"", 1);
    check("another verdict", &other, "recorded as FAIL");
    assert_eq!(unfound, Vec::<String>::new());
}
