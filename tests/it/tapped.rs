//! A run answered on its page.
//!
//! The rule inside: the page alone says what is asked and hears what is said; the terminal gives its address, and takes what is for the laptop alone.

use std::time::Duration;

use serde_json::Value;

use crate::webdriver::Browser;
use crate::world::Walk;

/// A run with its page open.
pub struct Tapped<'b> {
    pub browser: &'b Browser,
    pub walk: Walk,
    /// The one that was opened.
    pub address: String,
}

impl<'b> Tapped<'b> {
    pub fn open(browser: &'b Browser, walk: Walk) -> Tapped<'b> {
        let address = String::new();
        let mut tapped = Tapped { browser, walk, address };
        tapped.address = tapped.next_address();
        browser.open(&tapped.address);
        browser.until("return typeof state !== 'undefined' && state !== null && state.prompt !== null && document.getElementById('old').hidden");
        tapped
    }

    /// The address that the terminal shows next.
    pub fn next_address(&mut self) -> String {
        loop {
            let line = self.walk.line().expect("it says its address");
            if let Some((_, address)) = line.trim().split_once("for one browser: ") {
                return address.to_owned();
            }
        }
    }

    pub fn text(&self, script: &str) -> String {
        let value = self.browser.js(&format!("return {script}"), &[]);
        value.as_str().unwrap_or_default().to_owned()
    }

    pub fn number(&self) -> u64 {
        self.browser
            .js("return state.prompt ? state.prompt.number : 0", &[])
            .as_u64()
            .unwrap()
    }

    pub fn step(&self) -> String {
        let say = self.text("state.prompt.say");
        match say.as_str() {
            _ if say.starts_with("Before `") => "arrange".into(),
            _ if say.starts_with("Before you leave") => "make-safe".into(),
            _ if say.starts_with("The run goes on after a break") => "resumed".into(),
            _ => self.text("state.prompt.step"),
        }
    }

    /// What stands in large letters, as it is painted.
    pub fn circuit(&self) -> String {
        self.text("(document.getElementById('old').hidden ? '' : 'OLD over ') + document.querySelector('#circuit h1').textContent.trim().replace(/\\s+/g, ' ')")
    }

    /// Says a line by the page's own way of sending, without the taps; at the keyboard what is for the laptop alone and cannot be tapped here.
    pub fn say(&mut self, line: &str) {
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
    pub fn elsewhere(&self) -> Vec<String> {
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
    pub fn tap(&self, selector: &str) {
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
    pub fn to(&mut self, step: &str, mut seen: impl FnMut(&str, &str)) -> bool {
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
}
