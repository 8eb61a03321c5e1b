//! One test world: cleared environment, temporary home, answers typed through a pipe.

use std::io::{BufRead, BufReader, Read, Write};
use std::path::{Path, PathBuf};
use std::process::{Child, ChildStdin, Command, Output, Stdio};
use std::sync::mpsc::{Receiver, RecvTimeoutError, channel};
use std::time::{Duration, Instant};

/// Steps of the demonstration sequence on its job; the test of `plan` counts them.
pub const STEPS: usize = 120;

/// Longer than any step keeps silent; a program that hangs fails its test instead of stopping all of them.
const LINE_WAIT_MAX: Duration = Duration::from_secs(40);

/// How long the valve takes to close in a walk of a test: a wait that is kept, and short.
const CLOSES: Duration = Duration::from_millis(300);

pub const PASSPHRASE: &str = "salt and marsh";

/// A home of its own.
pub struct World {
    pub home: tempfile::TempDir,
}

/// A file of the repository.
pub fn repo(path: &str) -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR")).join(path)
}

impl World {
    pub fn new() -> World {
        World {
            home: tempfile::tempdir().unwrap(),
        }
    }

    /// A world whose engineer has a key.
    pub fn with_key() -> World {
        let world = World::new();
        let output = world.typed(
            &["key", "new", "--name", "Morgan Teal"],
            &format!("{PASSPHRASE}\n{PASSPHRASE}\n"),
        );
        assert_eq!(output.status.code(), Some(0), "{}", text(&output.stderr));
        world
    }

    pub fn path(&self, name: &str) -> PathBuf {
        self.home.path().join(name)
    }

    pub fn command(&self, args: &[&str]) -> Command {
        self.command_of(env!("CARGO_BIN_EXE_coreproof"), args)
    }

    /// Any program in this world.
    pub fn command_of(&self, program: &str, args: &[&str]) -> Command {
        let mut command = Command::new(program);
        command
            .args(args)
            .env_clear()
            .env("COREPROOF_HOME", self.home.path())
            .current_dir(repo(""));
        command
    }

    /// Runs to the end with nothing on its input.
    pub fn run(&self, args: &[&str]) -> Output {
        self.command(args).stdin(Stdio::null()).output().unwrap()
    }

    /// Runs to the end with these lines on its input.
    pub fn typed(&self, args: &[&str], lines: &str) -> Output {
        let mut child = self.piped(args);
        child.stdin.take().unwrap().write_all(lines.as_bytes()).unwrap();
        child.wait_with_output().unwrap()
    }

    fn piped(&self, args: &[&str]) -> Child {
        self.command(args)
            .stdin(Stdio::piped())
            .stdout(Stdio::piped())
            .stderr(Stdio::piped())
            .spawn()
            .unwrap()
    }

    /// The shipped sequence, in which the valve closes sooner than any valve does, and what it opens for may be read at once.
    pub fn sequence(&self) -> String {
        let shipped = std::fs::read_to_string(repo("sequences/stat-cable.ron")).unwrap();
        let closes = "after: (\"satisfy\", ValveCloses)";
        assert_eq!(shipped.matches(closes).count(), 2);
        let soon = format!(
            "Stated(time: \"{} s\", source: \"shortened for a test\")",
            CLOSES.as_secs_f64()
        );
        let path = self.path("stat-cable.ron");
        let opens = "after: (\"call\", ValveOpens)";
        assert_eq!(shipped.matches(opens).count(), 1);
        let shipped = shipped.replace(opens, &opens.replace("after", "within"));
        std::fs::write(&path, shipped.replace(closes, &format!("after: (\"satisfy\", {soon})"))).unwrap();
        path.display().to_string()
    }

    /// The same with the place looked at first: a picture of it, then what the eye finds.
    pub fn looked_at(&self) -> String {
        let path = self.sequence();
        let sequence = std::fs::read_to_string(&path).unwrap();
        let isolates = "Include(\"parts/isolate.ron\"),";
        assert!(sequence.contains(isolates));
        let looked_at = format!("Include(\"parts/as-found.ron\"),\n{isolates}");
        std::fs::write(&path, sequence.replacen(isolates, &looked_at, 1)).unwrap();
        path
    }

    /// Starts a walk of that sequence on the demonstration job.
    pub fn walk(&self, more: &[&str]) -> Walk {
        let sequence = self.sequence();
        let mut args = vec!["run", &sequence, "--job", "fixtures/saltmarsh.ron"];
        args.extend_from_slice(more);
        self.talk(&args)
    }

    /// Starts a command that asks.
    pub fn talk(&self, args: &[&str]) -> Walk {
        Walk::new(self.piped(args))
    }

    /// The journals of unfinished runs.
    pub fn journals(&self) -> Vec<PathBuf> {
        let mut found: Vec<_> = match std::fs::read_dir(self.path("runs")) {
            Ok(entries) => entries.map(|e| e.unwrap().path()).collect(),
            Err(_) => Vec::new(),
        };
        found.sort();
        found
    }
}

pub fn text(bytes: &[u8]) -> String {
    String::from_utf8_lossy(bytes).into_owned()
}

/// A command being answered.
pub struct Walk {
    pub child: Child,
    input: Option<ChildStdin>,
    output: Receiver<String>,
    pub seen: String,
    pub step: String,
}

impl Walk {
    fn new(mut child: Child) -> Walk {
        let (sender, output) = channel();
        let mut lines = BufReader::new(child.stdout.take().unwrap());
        std::thread::spawn(move || {
            let mut line = String::new();
            while lines.read_line(&mut line).is_ok_and(|bytes| 0 < bytes) {
                if sender.send(std::mem::take(&mut line)).is_err() {
                    return;
                }
            }
        });
        Walk {
            input: child.stdin.take(),
            output,
            child,
            seen: String::new(),
            step: String::new(),
        }
    }

    /// The next line of the output; `None` at its end.
    pub fn line(&mut self) -> Option<String> {
        match self.output.recv_timeout(LINE_WAIT_MAX) {
            Ok(line) => {
                self.seen.push_str(&line);
                Some(line)
            }
            Err(RecvTimeoutError::Disconnected) => None,
            Err(RecvTimeoutError::Timeout) => {
                self.child.kill().unwrap();
                panic!("nothing was said for {LINE_WAIT_MAX:?} after\n{}", self.seen);
            }
        }
    }

    /// Reads on until a text was said, whatever line breaks and blanks are in it.
    pub fn until(&mut self, text: &str) {
        let flat = |text: &str| text.split_whitespace().collect::<Vec<_>>().join(" ");
        let (began, from) = (Instant::now(), self.seen.len());
        while !flat(&self.seen[from..]).contains(&flat(text)) {
            if self.line().is_none() {
                panic!("`{text}` was never said in\n{}", self.seen);
            }
            if LINE_WAIT_MAX < began.elapsed() {
                self.child.kill().unwrap();
                panic!("`{text}` was not said in time in\n{}", self.seen);
            }
        }
    }

    /// Reads on to the next question; returns the step it is about, or `None` at the end of the output.
    pub fn question(&mut self) -> Option<String> {
        let mut asked = false;
        loop {
            let line = self.line()?;
            if let Some(step) = asked_at(&line) {
                self.step = step;
            }
            if line.contains("ask      The run goes on after a break") {
                self.step = "resumed".into();
            }
            if line.contains("ask      Before `") {
                self.step = "arrange".into();
            }
            if line.contains("ask      Before you leave") {
                self.step = "make-safe".into();
            }
            asked |= line.starts_with("    answer");
            if asked {
                return Some(self.step.clone());
            }
            if line.starts_with("Signing with") {
                return None;
            }
        }
    }

    pub fn answer(&mut self, line: &str) {
        writeln!(self.input.as_mut().unwrap(), "{line}").unwrap();
    }

    /// What a sound installation would answer at a step.
    pub fn good(step: &str) -> &'static str {
        let (name, about) = step.split_once('/').unwrap_or((step, ""));
        match name {
            "resumed" => "none",
            "earth-near" | "lead" => "lit",
            "indicator-first" | "indicator-between" | "indicator-second" | "indicator-far" | "indicator-parted"
            | "indicator-third" | "indicator-fourth" => "lit",
            "dead-near" | "dead-far" | "parted-near" | "parted-near-by-lead" | "parted-far" | "parted-supply" => "dark",
            "lead-null" => "0.04",
            "continuity" => "0.63 ohm",
            "others-open" | "all-open" => "OL",
            "tug-near" | "tug-far" => "holds",
            "clamp-near" | "clamp-far" => "0.06 ohm",
            "connected" => ">299 Mohm",
            "long-lead-null" => "0.51",
            "earthed-near" => "0.61 ohm",
            "clip-bites" | "clip-still-bites" => "0.10 ohm",
            "earthed-far" => "0.90 ohm",
            "insulation" | "insulation-alone" | "insulation-earth" => ">299 Mohm",
            "connect-near" | "connect-far" => match about {
                "brown" => "permanent live",
                "grey" => "neutral",
                "black" => "2",
                _ => "earth",
            },
            "energise" => "energise",
            "supply" | "feed" | "feed-earth" | "switched-on" | "end-switch-on" => "231.4 V",
            "switched-off" | "end-switch-off" => "0.3",
            _ => "done",
        }
    }

    /// Gives good answers until a step is asked for; false when the walk ended first.
    pub fn to(&mut self, step: &str) -> bool {
        while let Some(asked) = self.question() {
            if asked == step {
                return true;
            }
            if asked == "switched-off" {
                std::thread::sleep(CLOSES);
            }
            self.answer(Walk::good(&asked));
        }
        false
    }

    /// Gives the passphrase, closes the input and waits; the exit code and the rest of the output.
    pub fn finish(mut self) -> (i32, String, String) {
        // a program that has already gone closes the pipe; its exit code tells the rest
        let _ = writeln!(self.input.as_mut().unwrap(), "{PASSPHRASE}");
        self.close()
    }

    /// Closes the input and waits.
    pub fn close(mut self) -> (i32, String, String) {
        drop(self.input.take());
        while self.line().is_some() {}
        let mut errors = String::new();
        self.child.stderr.take().unwrap().read_to_string(&mut errors).unwrap();
        let code = self.child.wait().unwrap().code().unwrap_or(-1);
        (code, std::mem::take(&mut self.seen), errors)
    }

    /// Kills the program as a power cut would.
    pub fn kill(mut self) {
        self.child.kill().unwrap();
        self.child.wait().unwrap();
    }
}

impl Drop for Walk {
    /// A test that fails leaves no program behind.
    fn drop(&mut self) {
        // one that has ended already needs no end
        let _ = self.child.kill();
        let _ = self.child.wait();
    }
}

/// The step of a line that heads a question: `5 of 75  indicator-first`.
fn asked_at(line: &str) -> Option<String> {
    let (number, rest) = line.trim_start().split_once(" of ")?;
    let (count, step) = rest.split_once("  ")?;
    let is_number = |text: &str| text.parse::<usize>().is_ok();
    (is_number(number) && is_number(count)).then(|| step.trim().to_owned())
}
