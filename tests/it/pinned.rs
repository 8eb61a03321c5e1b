//! Whole outputs, as a person sees them, against files in `tests/it/outputs`.
//!
//! The rule inside: an output is compared whole. Only what differs from one run to the next is replaced, by something of the same
//! length, so that tables keep their shape. `COREPROOF_BLESS=1 cargo test --test it` writes the files anew, for their difference
//! to be read; `.ci/run` never does.

use std::process::Output;
use std::sync::LazyLock;

use regex::Regex;

use crate::world::{World, repo, text};

/// What differs from one run to the next, and what stands in its place.
static DIFFERENT: LazyLock<Vec<(Regex, &str)>> = LazyLock::new(|| {
    [
        (
            r"[0-9a-f]{8}-[0-9a-f]{4}-7[0-9a-f]{3}-[0-9a-f]{4}-[0-9a-f]{12}",
            "00000000-0000-7000-0000-000000000000",
        ),
        // the random name of an archive's log
        (
            r"[0-9a-f]{8}-[0-9a-f]{4}-4[0-9a-f]{3}-[0-9a-f]{4}-[0-9a-f]{12}",
            "00000000-0000-4000-0000-000000000000",
        ),
        (
            r"\b[0-9a-f]{64}\b",
            "0000000000000000000000000000000000000000000000000000000000000000",
        ),
        (
            r"SHA256:[A-Za-z0-9+/]{43}",
            "SHA256:0000000000000000000000000000000000000000000",
        ),
        (
            r"ssh-ed25519 [A-Za-z0-9+/]{68}",
            "ssh-ed25519 00000000000000000000000000000000000000000000000000000000000000000000",
        ),
        (r"\d{4}-\d\d-\d\d([T ])\d\d:\d\d", "0000-00-00${1}00:00"),
        (r"(0000-00-00[T ]00:00):\d\d", "${1}:00"),
        // zeros at the end of a second's digits are not shown
        (r"(0000-00-00T00:00:00)(?:\.\d+)?Z", "${1}.000Z"),
        // in tables: the beginning of a run's identifier, and a time of day
        (r"\b[0-9a-f]{8}-[0-9a-f]{4}\b", "00000000-0000"),
        (r"\b\d\d:\d\d:\d\d\b", "00:00:00"),
        (concat!("coreproof ", env!("CARGO_PKG_VERSION")), "coreproof 0.0.0"),
        // told or not, as the clock ticks before the answer or behind it
        (r"(?m)^    now +the wait is over: look now, and answer\n", ""),
    ]
    .map(|(found, instead)| (Regex::new(found).unwrap(), instead))
    .into()
});

impl World {
    /// Runs a command with nothing on its input and compares all that it says with the file of this name.
    pub fn pinned(&self, name: &str, args: &[&str]) {
        self.pinned_output(name, args, &self.run(args));
    }

    /// Compares what a command said with the file of this name.
    pub fn pinned_output(&self, name: &str, args: &[&str], output: &Output) {
        let code = output.status.code().unwrap_or(-1);
        self.pinned_said(name, args, (code, &text(&output.stdout), &text(&output.stderr)));
    }

    /// The same of an exit code, standard output and standard error.
    pub fn pinned_said(&self, name: &str, args: &[&str], (code, out, errors): (i32, &str, &str)) {
        let parts = [
            format!("$ coreproof {}\n", args.join(" ")),
            out.to_owned(),
            said("standard error", errors),
            format!("--- exit code {code}\n"),
        ];
        let shown = self.without_what_differs(&parts.concat());
        let path = repo(&format!("tests/it/outputs/{name}.txt"));
        if std::env::var_os("COREPROOF_BLESS").is_some_and(|set| set == "1") {
            std::fs::write(&path, shown).unwrap();
            return;
        }
        let pinned = std::fs::read_to_string(&path).unwrap_or_default();
        let at = pinned
            .lines()
            .zip(shown.lines())
            .take_while(|(was, is)| was == is)
            .count();
        assert!(
            pinned == shown,
            "{} differs from line {} on; COREPROOF_BLESS=1 writes it anew. What was said:\n{shown}",
            path.display(),
            at + 1
        );
    }

    fn without_what_differs(&self, said: &str) -> String {
        let said = said.replace(self.home.path().to_str().unwrap(), "HOME");
        let replaced = |said: String, (found, instead): &(Regex, &str)| found.replace_all(&said, *instead).into_owned();
        DIFFERENT.iter().fold(said, replaced)
    }
}

fn said(where_to: &str, text: &str) -> String {
    if text.is_empty() {
        String::new()
    } else {
        format!("--- {where_to}\n{text}")
    }
}

#[test]
fn every_file_of_outputs_is_compared_by_a_test() {
    let here = |folder: &str| {
        std::fs::read_dir(repo(folder))
            .unwrap()
            .map(|entry| entry.unwrap().path())
    };
    let sources = here("tests/it").filter(|path| path.extension().is_some_and(|end| end == "rs"));
    let tests: String = sources.map(|path| std::fs::read_to_string(path).unwrap()).collect();
    let names = here("tests/it/outputs").map(|path| path.file_stem().unwrap().to_str().unwrap().to_owned());
    let stale: Vec<String> = names.filter(|name| !tests.contains(&format!("\"{name}\""))).collect();
    assert!(stale.is_empty(), "no test compares {stale:?}");
}

#[test]
fn what_differs_from_run_to_run_keeps_its_length() {
    let world = World::new();
    let home = world.home.path().display().to_string();
    for (said, expected) in [
        (
            "run 01a2125a-fd75-7170-876e-b6324f65dc79.",
            "run 00000000-0000-7000-0000-000000000000.",
        ),
        (
            "at 2026-11-25T07:16:21.123Z, due 2027-06-02",
            "at 0000-00-00T00:00:00.000Z, due 2027-06-02",
        ),
        ("2026-11-25T07:16:21.5Z", "0000-00-00T00:00:00.000Z"),
        ("2026-11-25 07:16 UTC", "0000-00-00 00:00 UTC"),
        (" 01a2125a-fd75 | 07:16:21 |", " 00000000-0000 | 00:00:00 |"),
        (&format!("{home}/edited.ron"), "HOME/edited.ron"),
    ] {
        assert_eq!(world.without_what_differs(said), expected);
    }
}
