//! A browser driven by the W3C's WebDriver protocol: JSON over HTTP to the driver that the browser's makers ship.
//!
//! The rule inside: nine of its commands are all that is used, so that nothing but the driver itself has to be there.

use std::io::{BufRead, BufReader, Read, Write};
use std::net::TcpStream;
use std::path::Path;
use std::process::{Child, Command, Stdio};
use std::time::{Duration, Instant};

use serde_json::{Value, json};

/// A browser with one page.
pub struct Browser {
    driver: Child,
    port: u16,
    session: String,
}

impl Browser {
    /// Starts the driver and a browser without a screen.
    pub fn start() -> Browser {
        Browser::start_with(&[])
    }

    /// The same with more arguments for the browser.
    pub fn start_with(more: &[&str]) -> Browser {
        let mut driver = Command::new("chromedriver")
            .arg("--port=0")
            .stdin(Stdio::null())
            .stdout(Stdio::piped())
            .stderr(Stdio::null())
            .spawn()
            .expect("chromedriver is there");
        let mut said = BufReader::new(driver.stdout.take().unwrap());
        let port = loop {
            let mut line = String::new();
            assert_ne!(said.read_line(&mut line).unwrap(), 0, "the driver ended");
            let named = line
                .split("successfully on port ")
                .nth(1)
                .and_then(|rest| rest.trim().trim_end_matches('.').parse().ok());
            if let Some(port) = named {
                break port;
            }
        };
        let mut browser = Browser {
            driver,
            port,
            session: String::new(),
        };
        let mut args = vec![
            "--headless=new",
            "--no-sandbox",
            "--disable-dev-shm-usage",
            "--hide-scrollbars",
        ];
        args.extend_from_slice(more);
        let options = json!({"args": args});
        let wanted = json!({"capabilities": {"alwaysMatch": {
            "browserName": "chrome", "goog:chromeOptions": options, "goog:loggingPrefs": {"browser": "ALL"}}}});
        let made = browser.call("POST", "/session", &wanted);
        browser.session = made["sessionId"].as_str().unwrap().to_owned();
        browser
    }

    fn call(&self, method: &str, path: &str, body: &Value) -> Value {
        let mut stream = TcpStream::connect(("127.0.0.1", self.port)).unwrap();
        stream.set_read_timeout(Some(Duration::from_secs(60))).unwrap();
        let body = if method == "POST" {
            body.to_string()
        } else {
            String::new()
        };
        write!(
            stream,
            "{method} {path} HTTP/1.1\r\nHost: 127.0.0.1:{}\r\nContent-Type: application/json\r\nContent-Length: {}\r\nConnection: close\r\n\r\n{body}",
            self.port,
            body.len()
        )
        .unwrap();
        // the driver keeps its connections open
        let mut answer = BufReader::new(stream);
        let mut length = 0;
        loop {
            let mut line = String::new();
            assert_ne!(answer.read_line(&mut line).unwrap(), 0, "the driver closed");
            let line = line.trim().to_lowercase();
            match line.strip_prefix("content-length:") {
                Some(said) => length = said.trim().parse().unwrap(),
                None if line.is_empty() => break,
                None => {}
            }
        }
        let mut whole = vec![0; length];
        answer.read_exact(&mut whole).unwrap();
        let answer: Value = serde_json::from_slice(&whole).unwrap();
        let value = answer["value"].clone();
        assert!(value.get("error").is_none(), "{method} {path}: {}", value["message"]);
        value
    }

    fn post(&self, path: &str, body: &Value) -> Value {
        self.call("POST", &format!("/session/{}{path}", self.session), body)
    }

    pub fn open(&self, address: &str) {
        self.post("/url", &json!({"url": address}));
    }

    pub fn reload(&self) {
        self.post("/refresh", &json!({}));
    }

    /// What a script returns.
    pub fn js(&self, script: &str, args: &[&str]) -> Value {
        self.post("/execute/sync", &json!({"script": script, "args": args}))
    }

    /// The path of an element.
    fn element(&self, selector: &str) -> String {
        let found = self.post("/element", &json!({"using": "css selector", "value": selector}));
        let id = found
            .as_object()
            .unwrap()
            .values()
            .next()
            .unwrap()
            .as_str()
            .unwrap()
            .to_owned();
        format!("/element/{id}")
    }

    /// Clicks as a finger does: where something else lies over it, that is an error.
    pub fn click(&self, selector: &str) {
        self.post(&format!("{}/click", self.element(selector)), &json!({}));
    }

    /// Types into a field; into one for a file, its path.
    pub fn enter(&self, selector: &str, text: &str) {
        self.post(&format!("{}/value", self.element(selector)), &json!({"text": text}));
    }

    /// The size of the page in CSS pixels.
    pub fn size(&self, width: u32, height: u32) {
        let params = json!({"width": width, "height": height, "deviceScaleFactor": 1, "mobile": width < 700});
        self.post(
            "/goog/cdp/execute",
            &json!({"cmd": "Emulation.setDeviceMetricsOverride", "params": params}),
        );
    }

    /// Keeps a picture of the page in the folder that `COREPROOF_SHOTS` names, where it names one.
    pub fn shot(&self, name: &str) {
        let Some(folder) = std::env::var_os("COREPROOF_SHOTS") else {
            return;
        };
        let picture = self.call("GET", &format!("/session/{}/screenshot", self.session), &Value::Null);
        let bytes = <base64ct::Base64 as base64ct::Encoding>::decode_vec(picture.as_str().unwrap()).unwrap();
        std::fs::write(Path::new(&folder).join(format!("{name}.png")), bytes).unwrap();
    }

    /// Waits until a script returns true; how long that took.
    pub fn until(&self, script: &str) -> Duration {
        let began = Instant::now();
        while self.js(script, &[]) != Value::Bool(true) {
            assert!(began.elapsed() < Duration::from_secs(20), "never: {script}");
            std::thread::sleep(Duration::from_millis(15));
        }
        began.elapsed()
    }

    /// What the browser complained of.
    pub fn complaints(&self) -> Vec<String> {
        let log = self.post("/se/log", &json!({"type": "browser"}));
        let all = log.as_array().unwrap().iter();
        all.map(|entry| entry["message"].as_str().unwrap().to_owned()).collect()
    }
}

impl Drop for Browser {
    fn drop(&mut self) {
        if !self.session.is_empty() && !std::thread::panicking() {
            self.call("DELETE", &format!("/session/{}", self.session), &Value::Null);
        }
        let _ = self.driver.kill();
        let _ = self.driver.wait();
    }
}
