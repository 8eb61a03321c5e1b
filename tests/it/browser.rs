//! The page in a real browser: whole runs tapped through, broken off, gone on with, with a failure, a repair and a voltage.
//!
//! The rule inside: what the page shows is compared with what the record then says, and nothing that may be old ever stays up.

use std::process::Command;
use std::time::Duration;

use serde_json::Value;

use crate::webdriver::Browser;
use crate::world::{Walk, World};

const SIZES: [(u32, u32); 6] = [(412, 915), (768, 1024), (1366, 768), (320, 568), (360, 640), (915, 412)];

/// Everything that must be seen without scrolling while something is read, each where nothing covers it.
const UNCOVERED: &str = "
    scrollTo(0, 0);
    const wrong = [];
    for (const one of ['#word-1', '#word-2', '#act', '#points li:last-child span', '#number', '#bar', '#window']) {
        const at = document.querySelector(one), box = at.getBoundingClientRect();
        const there = document.elementFromPoint(box.left + Math.min(box.width, 60) / 2, box.top + box.height / 2);
        if (!there || !(at.contains(there) || there.contains(at) && there.id !== 'main' && there.tagName !== 'BODY')) wrong.push(one + ' is covered');
        if (box.bottom > innerHeight || box.top < -20 || box.right > Number(arguments[0]) + 1) wrong.push(one + ' is not on the screen');
    }
    if (document.scrollingElement.scrollWidth > Number(arguments[0])) wrong.push('it scrolls sideways');
    return wrong;";

/// A run with its page open.
struct Tapped<'b> {
    browser: &'b Browser,
    walk: Walk,
    address: String,
}

impl<'b> Tapped<'b> {
    fn open(browser: &'b Browser, walk: Walk) -> Tapped<'b> {
        let address = String::new();
        let mut tapped = Tapped { browser, walk, address };
        tapped.address = tapped.next_address();
        browser.open(&tapped.address);
        browser.until("return typeof state !== 'undefined' && state !== null && state.prompt !== null && document.getElementById('old').hidden");
        tapped
    }

    /// The address that the terminal shows next.
    fn next_address(&mut self) -> String {
        loop {
            let line = self.walk.line().expect("it says its address");
            if let Some((_, address)) = line.trim().split_once("for one browser: ") {
                return address.to_owned();
            }
        }
    }

    fn text(&self, script: &str) -> String {
        let value = self.browser.js(&format!("return {script}"), &[]);
        value.as_str().unwrap_or_default().to_owned()
    }

    fn number(&self) -> u64 {
        self.browser
            .js("return state.prompt ? state.prompt.number : 0", &[])
            .as_u64()
            .unwrap()
    }

    fn step(&self) -> String {
        let say = self.text("state.prompt.say");
        match say.as_str() {
            _ if say.starts_with("Before `") => "arrange".into(),
            _ if say.starts_with("Before you leave") => "make-safe".into(),
            _ if say.starts_with("The run goes on after a break") => "resumed".into(),
            _ => self.text("state.prompt.step"),
        }
    }

    /// What stands in large letters, as it is painted.
    fn circuit(&self) -> String {
        self.text("(document.getElementById('old').hidden ? '' : 'OLD over ') + document.querySelector('#circuit h1').textContent.trim().replace(/\\s+/g, ' ')")
    }

    /// Says a line by the page's own way of sending, without the taps; at the keyboard what is for the laptop alone and cannot be tapped here.
    fn say(&mut self, line: &str) {
        let number = self.number();
        if self.elsewhere() == [line] {
            self.walk.answer(line);
            self.browser
                .until(&format!("return !state.prompt || state.prompt.number !== {number}"));
            return;
        }
        self.browser.js(
            "const p = state.prompt, line = arguments[0];
             const at = p.choices.findIndex((c) => c.word === line || c.means === line);
             send(at >= 0 ? { choice: at } : p.typed === 'reading' ? { reading: line } : { text: line });",
            &[line],
        );
        self.browser
            .until(&format!("return !state.prompt || state.prompt.number !== {number}"));
    }

    /// The choices that cannot be tapped here.
    fn elsewhere(&self) -> Vec<String> {
        let words = "return [...document.querySelectorAll('#choices button:disabled')].map((one) => one.dataset.word)";
        let words = self.browser.js(words, &[]);
        words
            .as_array()
            .unwrap()
            .iter()
            .map(|word| word.as_str().unwrap().to_owned())
            .collect()
    }

    /// Taps a button, twice where one tap only asks for the second.
    fn tap(&self, selector: &str) {
        let number = self.number();
        self.browser.click(selector);
        let armed = self.browser.js("return armed !== null", &[]);
        if armed == Value::Bool(true) {
            std::thread::sleep(Duration::from_millis(450));
            assert_eq!(self.number(), number, "one tap says nothing");
            self.browser.click(selector);
        }
        self.browser
            .until(&format!("return !state.prompt || state.prompt.number !== {number}"));
    }

    /// Goes on with good answers until a step is asked; false where the walk ended first. `seen` is told of each question.
    fn to(&mut self, step: &str, mut seen: impl FnMut(&str, &str)) -> bool {
        while self.number() != 0 {
            let asked = self.step();
            seen(&asked, &self.circuit());
            if asked == step {
                return true;
            }
            if asked == "switched-off" {
                std::thread::sleep(Duration::from_millis(300));
            }
            self.say(Walk::good(&asked));
        }
        false
    }

    fn fits(&self, name: &str) {
        for (width, height) in SIZES {
            self.browser.size(width, height);
            // what was covered by age while the browser was slow is not what is tried here
            self.browser.until("return document.getElementById('old').hidden");
            self.browser.shot(&format!("{name}-{width}x{height}"));
            let wrong = self.browser.js(UNCOVERED, &[&width.to_string()]);
            assert_eq!(wrong, Value::Array(Vec::new()), "{name} at {width}x{height}");
        }
        self.browser.size(412, 915);
    }
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
    tapped.tap("#choices [data-word=dark]");
    tapped.tap("#back");
    assert!(tapped.to("lead-null", |step, circuit| {
        let proved =
            step.starts_with("off-") || step.starts_with("parted") || ["guard", "electronics-out"].contains(&step);
        assert!(!proved || circuit == "PROVED DEAD", "{step}: {circuit}");
    }));
    for key in [11, 10, 11, 4] {
        tapped.browser.click(&format!("#keys button:nth-child({key})"));
    }
    tapped.tap("#take");
    assert_eq!(tapped.text("state.last.display"), "0.04 ohm");

    // a failure, its repair, and nothing says dead after it
    assert!(tapped.to("continuity/brown", |_, _| {}));
    assert_eq!(tapped.circuit(), "PROVED DEAD");
    tapped.fits("continuity");
    tapped.say("5.00 ohm");
    assert!(
        tapped
            .text("document.getElementById('last').textContent")
            .contains("FAIL")
    );
    browser.shot("failed");
    tapped.tap("#choices [data-word=repair]");
    browser.click("#chips button");
    tapped.tap("#say");
    tapped.say("brown");
    assert!(tapped.to("continuity/brown", |_, circuit| assert_eq!(circuit, "NOT PROVED")));

    // a test voltage, and a voltage that nobody expected
    assert!(tapped.to("insulation/brown", |_, _| {}));
    assert_eq!(tapped.circuit(), "TEST VOLTAGE");
    tapped.fits("insulation");
    tapped.browser.click("#voltage");
    browser.until("return !document.getElementById('danger').hidden");
    browser.shot("danger");
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
    signal(&tapped.walk, "-CONT");
    browser.until("return document.getElementById('old').hidden");
    tapped.walk.kill();
    let covered = browser.until("return !document.getElementById('old').hidden");
    assert!(covered < Duration::from_millis(2_000), "{covered:?}");

    // gone on with: nothing of before is dead
    let mut tapped = Tapped::open(&browser, world.talk(&["resume", "--page"]));
    let mut proved = false;
    assert!(!tapped.to("nowhere", |step, circuit| {
        assert!(proved || circuit != "PROVED DEAD", "{step}");
        proved |= step == "indicator-second";
    }));
    browser
        .until("return document.getElementById('closing').textContent.includes('type the passphrase at the terminal')");
    browser.shot("closing");
    let complaints = browser.complaints();
    let others: Vec<_> = complaints.iter().filter(|said| !said.contains("ERR_")).collect();
    assert!(others.is_empty(), "{others:?}");
    tapped.walk.until("Signing with");
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
