//! The page in a real browser: whole runs tapped through, broken off, gone on with, with a failure, a repair and a voltage.
//!
//! The rule inside: what the page shows is compared with what the record then says, and nothing that may be old ever stays up.

use std::collections::BTreeSet;
use std::process::Command;
use std::time::Duration;

use serde_json::Value;

use crate::axe::assert_open_to_all;
use crate::tapped::Tapped;
use crate::webdriver::Browser;
use crate::world::{Walk, World, repo};

const SIZES: [(u32, u32); 6] = [(412, 915), (768, 1024), (1366, 768), (320, 568), (360, 640), (915, 412)];

/// What must be seen without scrolling at every question, and beside it while something is read.
const ALWAYS: [&str; 3] = ["#word-1", "#word-2", "#act"];
const READING: [&str; 5] = [
    "#points li:first-child span",
    "#points li:last-child span",
    "#number",
    "#bar",
    "#window",
];

/// Which of them are off the screen, or under something else. The rectangles are those of the letters, without what their lines have above and
/// below.
const UNCOVERED: &str = "
    scrollTo(0, 0);
    const wrong = [], width = Number(arguments[0]);
    for (const one of arguments[1].split('|')) {
        const at = document.querySelector(one), range = document.createRange();
        if (one === '#word-2' && at.textContent === '') continue;
        range.selectNodeContents(at);
        const boxes = one === '#bar' ? [at.getBoundingClientRect()] : [...range.getClientRects()].filter((box) => box.width > 0);
        if (!boxes.length) wrong.push(one + ' is not there');
        for (const box of boxes) {
            const rise = box.height * .2, top = box.top + rise, bottom = box.bottom - rise;
            if (box.left < 0 || box.right > width + 1 || top < 0 || bottom > innerHeight) wrong.push(one + ' is not on the screen');
            const third = box.height / 3;
            for (const x of [box.left + 2, (box.left + box.right) / 2, box.right - 2]) for (const y of [box.top + third, box.bottom - third]) {
                const there = document.elementFromPoint(x, y);
                if (!there || !at.contains(there)) wrong.push(one + ' is under ' + (there && (there.id || there.tagName)));
            }
        }
    }
    if (document.scrollingElement.scrollWidth > width) wrong.push('it scrolls sideways');
    return [...new Set(wrong)];";

/// Nothing that must be seen is covered or off the screen, at any size.
fn fits(tapped: &Tapped, name: &str) {
    let reads = tapped.browser.js("return state.prompt.typed === 'reading'", &[]) == Value::Bool(true);
    let more = if reads { &READING[..] } else { &[] };
    let seen = [&ALWAYS[..], more].concat().join("|");
    for (width, height) in SIZES {
        tapped.browser.size(width, height);
        // what was covered by age while the browser was slow is not what is tried here
        tapped.browser.until("return document.getElementById('old').hidden");
        let wrong = tapped.browser.js(UNCOVERED, &[&width.to_string(), &seen]);
        tapped.browser.shot(&format!("{name}-{width}x{height}"));
        assert_eq!(wrong, Value::Array(Vec::new()), "{name} at {width}x{height}");
    }
    tapped.browser.size(412, 915);
}

/// Taps what the display shows into the pad.
fn digits(browser: &Browser, shown: &str) {
    for sign in shown.chars() {
        let key = "123456789.0>".find(sign).expect("it is on the pad") + 1;
        browser.click(&format!("#keys button:nth-child({key})"));
    }
}

/// Loads the page anew: it says what it said.
fn reloaded(browser: &Browser, state: &str) {
    let shown = || browser.js("return document.body.innerText", &[]);
    let before = shown();
    browser.reload();
    browser.until("return typeof state !== 'undefined' && state !== null && document.getElementById('old').hidden");
    assert_eq!(shown(), before, "{state}");
}

fn signal(walk: &Walk, name: &str) {
    let sent = Command::new("kill")
        .args([name, &walk.child.id().to_string()])
        .status()
        .unwrap();
    assert!(sent.success());
}

#[test]
fn a_run_is_tapped_through_with_a_failure_a_repair_a_voltage_and_a_break() {
    let world = World::with_key();
    let browser = Browser::start();
    browser.size(412, 915);
    let mut tapped = Tapped::open(&browser, world.walk(&["--page"]));
    // one by one with a finger, as far as the leads
    assert!(tapped.to("switch-off", |_, circuit| assert_eq!(circuit, "NOT PROVED")));
    browser.shot("switch-off");
    tapped.tap("#choices [data-word=done]");
    assert!(tapped.to("dead-near/earth-line", |_, _| {}));
    fits(&tapped, "dead-near");
    tapped.tap("#choices [data-word=dark]");
    tapped.tap("#back");
    assert!(tapped.to("lead-null", |step, circuit| {
        let proved =
            step.starts_with("off-") || step.starts_with("parted") || ["guard", "electronics-out"].contains(&step);
        assert!(!proved || circuit == "PROVED DEAD", "{step}: {circuit}");
    }));
    digits(&browser, "0.04");
    tapped.tap("#take");
    assert_eq!(tapped.text("state.last.display"), "0.04 ohm");

    // a failure, its repair, and nothing says dead after it
    assert!(tapped.to("continuity/brown", |_, _| {}));
    assert_eq!(tapped.circuit(), "PROVED DEAD");
    digits(&browser, "0.42");
    fits(&tapped, "continuity");
    tapped.say("5.00 ohm");
    assert!(
        tapped
            .text("document.getElementById('last').textContent")
            .contains("FAIL")
    );
    browser.shot("failed");
    fits(&tapped, "failed");
    reloaded(&browser, "failed");
    assert_open_to_all(&browser, "failed");
    tapped.tap("#choices [data-word=repair]");
    assert_open_to_all(&browser, "what was repaired");
    browser.click("#chips button");
    tapped.tap("#say");
    tapped.say("brown");
    assert!(tapped.to("continuity/brown", |_, circuit| assert_eq!(circuit, "NOT PROVED")));

    // a test voltage, and a voltage that nobody expected
    assert!(tapped.to("insulation/brown", |_, _| {}));
    assert_eq!(tapped.circuit(), "TEST VOLTAGE");
    digits(&browser, ">299");
    fits(&tapped, "insulation");
    tapped.browser.click("#voltage");
    browser.until("return !document.getElementById('danger').hidden");
    browser.shot("danger");
    assert_open_to_all(&browser, "danger");
    assert_eq!(tapped.circuit(), "LIVE");
    browser.reload();
    browser.until("return typeof state !== 'undefined' && state !== null && !document.getElementById('danger').hidden");
    browser.click("#danger-seen");
    browser.until("return document.getElementById('danger').hidden");
    assert_eq!(tapped.circuit(), "LIVE", "until isolation is proved again");
    assert!(tapped.to("insulation/brown", |_, _| {}));

    // a program that hangs, and one that is gone
    signal(&tapped.walk, "-STOP");
    let covered = browser.until("return !document.getElementById('old').hidden");
    assert!(covered < Duration::from_millis(2_000), "{covered:?}");
    browser.shot("old");
    assert_open_to_all(&browser, "old");
    signal(&tapped.walk, "-CONT");
    browser.until("return document.getElementById('old').hidden");
    tapped.walk.kill();
    let covered = browser.until("return !document.getElementById('old').hidden");
    assert!(covered < Duration::from_millis(2_000), "{covered:?}");

    // gone on with: nothing of before is dead
    let mut tapped = Tapped::open(&browser, world.talk(&["resume", "--page"]));
    let (mut proved, mut states, mut kinds) = (false, BTreeSet::new(), BTreeSet::new());
    let mut seen = |step: &str, circuit: &str| {
        assert!(proved || circuit != "PROVED DEAD", "{step}");
        proved |= step == "indicator-second";
        let kind = browser.js(
            "return [state.prompt.typed, ...state.prompt.choices.map((one) => one.word)].join()",
            &[],
        );
        if states.insert(format!("{circuit} {kind}")) {
            reloaded(&browser, step);
        }
        if kinds.insert(kind.to_string()) {
            assert_open_to_all(&browser, step);
        }
    };
    assert!(tapped.to("supply", &mut seen));
    digits(&browser, "231.4");
    fits(&tapped, "supply");
    assert!(!tapped.to("nowhere", &mut seen));
    for circuit in ["NOT PROVED", "PROVED DEAD", "TEST VOLTAGE", "LIVE"] {
        assert!(
            states.iter().any(|state| state.starts_with(circuit)),
            "{circuit} in {states:?}"
        );
    }
    browser
        .until("return document.getElementById('closing').textContent.includes('type the passphrase at the terminal')");
    browser.shot("closing");
    reloaded(&browser, "closing");
    assert_open_to_all(&browser, "closing");
    let complaints = browser.complaints();
    let others: Vec<_> = complaints.iter().filter(|said| !said.contains("ERR_")).collect();
    assert!(others.is_empty(), "{others:?}");
    // to the passphrase, which is read there alone
    while tapped.walk.question().is_some() {}
    let (code, _, errors) = tapped.walk.finish();
    assert_eq!(code, 0, "{errors}");
}

#[test]
fn on_a_network_two_browsers_see_the_same_and_one_answers() {
    let world = World::with_key();
    let trusts_it = ["--ignore-certificate-errors"];
    let (first, second) = (Browser::start_with(&trusts_it), Browser::start_with(&trusts_it));
    first.size(412, 915);
    second.size(412, 915);
    let mut tapped = Tapped::open(&first, world.walk(&["--page", "127.0.0.1"]));
    assert_eq!(tapped.text("location.protocol + location.hash"), "https:");
    assert_eq!(first.js("return isSecureContext", &[]), Value::Bool(true));

    // what makes dead cannot be tapped here, and is said at the keyboard
    assert!(tapped.to("switch-off", |_, _| {}));
    first.shot("network-switch-off");
    assert_eq!(tapped.elsewhere(), ["done"]);
    assert!(
        tapped
            .text("document.querySelector('#choices [data-word=done]').textContent")
            .contains("say it at the laptop")
    );
    assert!(tapped.to("off-far", |_, _| {}));
    assert_eq!(tapped.circuit(), "PROVED DEAD");
    first.shot("network-dead");

    // a second one: the address of the first opens nothing, and brings the next to the terminal
    let spent = tapped.address.clone();
    second.open(&spent);
    second.until("return !document.getElementById('old').hidden && document.getElementById('old-text').textContent.includes('shows a new one now')");
    second.shot("network-spent");
    second.open("about:blank");
    second.open(&tapped.next_address());
    let is_open = "return typeof state !== 'undefined' && state !== null && state.prompt !== null && document.getElementById('old').hidden";
    second.until(is_open);
    let circuit = |browser: &Browser| {
        let words = browser.js(
            "return document.querySelector('#circuit h1').textContent.trim().replace(/\\s+/g, ' ')",
            &[],
        );
        words.as_str().unwrap().to_owned()
    };
    // who holds it stands nobody knows where, and the first is not asked any more
    assert_eq!(circuit(&second), "NOT PROVED");
    first.until("return !document.getElementById('here').hidden");
    assert_eq!(circuit(&first), "NOT PROVED");
    assert_eq!(
        first.js(
            "return document.querySelectorAll('#answers button:enabled:not(#take)').length",
            &[]
        ),
        0
    );
    first.shot("network-other-answers");
    first.click("#here-button");
    first.until("return document.getElementById('here').hidden");
    second.until("return !document.getElementById('here').hidden");
    tapped.tap("#choices [data-word=done]");
    assert_eq!(tapped.circuit(), "PROVED DEAD");
    assert_eq!(circuit(&second), "NOT PROVED");

    // a voltage stands on both
    first.click("#voltage");
    for browser in [&first, &second] {
        browser.until("return !document.getElementById('danger').hidden");
        assert_eq!(circuit(browser), "LIVE");
    }
    first.click("#danger-seen");
    second.until("return document.getElementById('danger').hidden");
    for browser in [&first, &second] {
        // the spent address and the browser that is not known are refused, and said so
        let others = browser
            .complaints()
            .into_iter()
            .filter(|said| !said.contains("status of 4"));
        let others: Vec<_> = others.collect();
        assert!(others.is_empty(), "{others:?}");
    }
}

#[test]
fn a_picture_is_taken_by_the_camera_and_another_of_what_the_eye_finds() {
    let world = World::with_key();
    let browser = Browser::start();
    browser.size(412, 915);
    let path = world.looked_at();
    let walk = world.talk(&["run", &path, "--job", "fixtures/saltmarsh.ron", "--page"]);
    let tapped = Tapped::open(&browser, walk);
    assert_eq!(tapped.step(), "picture");
    fits(&tapped, "picture");
    assert_open_to_all(&browser, "picture");
    let none = world.path("none.jpg");
    std::fs::write(&none, "no picture").unwrap();
    browser.enter("#file", &none.display().to_string());
    browser.until("return document.getElementById('picture-said').textContent.includes('only a JPEG or PNG')");
    let large = world.path("large.jpg");
    std::fs::File::create(&large).unwrap().set_len(17 << 20).unwrap();
    browser.enter("#file", &large.display().to_string());
    browser.until("return document.getElementById('picture-said').textContent.includes('larger than 16 MB')");
    let own = repo("pictures/certificate.png").display().to_string();
    browser.enter("#file", &own);
    browser.until("return document.getElementById('notes').textContent.includes('bound in: ')");
    browser.shot("picture");
    reloaded(&browser, "picture bound in");
    browser.enter("#line", "terminals 1 to 4 are used");
    tapped.tap("#say");

    // a fault that the eye finds, with its own picture
    tapped.tap("#apart [data-word=no]");
    browser.enter("#line", "bare copper at terminal 1");
    tapped.tap("#say");
    browser.enter("#file", &own);
    browser.until("return document.getElementById('notes').textContent.includes('bound in: ')");
    assert_open_to_all(&browser, "found by eye");
    tapped.tap("#choices [data-word=repair]");
    let journal = std::fs::read_to_string(&world.journals()[0]).unwrap();
    for (name, event) in [
        ("-1.png", "{\"note\":{"),
        ("-2.png", "\"repair_begins\":{\"step\":\"sound-near\""),
    ] {
        let line = journal.lines().find(|line| line.contains(name)).expect(name);
        assert!(line.contains(event), "{line}");
    }
    let kept = std::fs::read_dir(world.path("photographs")).unwrap();
    let kept: Vec<_> = kept
        .map(|entry| std::fs::read(entry.unwrap().path()).unwrap())
        .collect();
    let shown = std::fs::read(&own).unwrap();
    assert_eq!(kept, [shown.clone(), shown]);
    tapped.walk.kill();
}
