//! Somebody new, at a terminal, from an empty home to the sealed record of a two-wire thermostat at a place of their own; no editor.

use serde_json::Value;

use crate::screen::{Shown, at_a_terminal};
use crate::world::{PASSPHRASE, World, text};

/// Most answers before the run's first prompt.
const ANSWERS_MAX: usize = 50;

/// Most words that are shown until then: five minutes at a reading pace of 200 words a minute.
const WORDS_MAX: usize = 5 * 200;

/// What is asked, told by a piece of it, and what is answered.
const ANSWERS: &[(&str, &str)] = &[
    ("Who works?", "Robin Sand, electrician, Sand and Daughter"),
    ("Your two-pole voltage indicator", "V 77, 2026-05-04, 2036-05-04"),
    ("Your multifunction installation tester", "T 12, 2026-05-04, 2036-05-04"),
    ("Your digital multimeter", "M 3, 2026-05-04, 2036-05-04"),
    ("Where is it?", "Driftwood Boat Shed"),
    ("Which part of it?", "workshop heating zone"),
    ("Who is it done for?", "the boat shed's owner"),
    ("switched off and locked?", "fused connection unit behind the door"),
    ("Which other supplies", "none"),
    ("Which supply stays live", "socket outlet in the office"),
    ("nominal voltage", "230 V"),
    ("break line and neutral", "both"),
    ("What protects the circuit?", "3 A fuse to BS 1362"),
    ("call that device?", "BS 1362"),
    ("What is it rated?", "3 A"),
    ("residual current of", "none"),
    ("How is the installation earthed?", "TN-C-S"),
    ("earth loop impedance", "none"),
    ("How far is the main earthing terminal", "8 m"),
    ("earth conductor there", "1.5 mm2"),
    ("What is the cable called?", "workshop thermostat cable"),
    ("Which size are its cores?", "1.0 mm2"),
    ("How long is it?", "12 m"),
    ("core carries permanent live?", "brown"),
    ("core carries switched live?", "blue sleeved brown"),
    ("core carries earth?", "green-yellow"),
    ("What is on its control cores", "mains"),
    ("What is the near end called?", ""),
    ("Near end: terminal for permanent live?", "7"),
    ("Near end: terminal for neutral?", "8"),
    ("Near end: terminal for switched live?", "5"),
    ("Near end: terminal for end switch?", "6"),
    ("Near end: terminal for earth?", "E"),
    ("Near end: which more terminals?", "none"),
    ("Near end: which metalwork touches", "none"),
    ("What is the far end called?", "workshop thermostat"),
    ("Far end: terminal for permanent live?", "A"),
    ("Far end: terminal for switched live?", "B"),
    ("Far end: terminal for earth?", "E"),
    ("Far end: which more terminals?", "none"),
    ("Far end: which metalwork touches", "none"),
    ("Which more cores", "none"),
    ("Which of these is not there", "none"),
    ("What else hangs", "none"),
];

/// Counts what is read and typed.
#[derive(Default)]
struct Counted {
    words: usize,
    typed: usize,
    answers: usize,
}

impl Counted {
    fn read(&mut self, shown: &Shown) {
        self.words += words(&shown.text);
    }

    /// Types an answer that the screen shows too; who typed it does not read it.
    fn type_line(&mut self, shown: &mut Shown, line: &str) {
        shown.type_line(line);
        self.answers += 1;
        self.typed += words(line);
    }
}

/// Words on the screen; what steers it is none.
fn words(text: &str) -> usize {
    let steering = regex::Regex::new(r"\x1b\[[0-9;?]*[A-Za-z]").unwrap();
    let read = steering.replace_all(text, "");
    read.split_whitespace()
        .filter(|word| word.contains(char::is_alphanumeric))
        .count()
}

/// What a sound installation shows at a step of the plan.
fn good(step: &Value, expected: &Value) -> String {
    let kind = &step["kind"];
    let id = step["id"].as_str().unwrap();
    if let Some(lit) = kind["Indicator"]["lit"].as_bool() {
        return if lit { "lit" } else { "dark" }.into();
    }
    if let Some(carries) = kind["Connect"]["carries"].as_str() {
        let apart = carries.chars().flat_map(|c| {
            let blank = c.is_uppercase().then_some(' ');
            blank.into_iter().chain([c.to_ascii_lowercase()])
        });
        return apart.collect::<String>().trim().into();
    }
    if kind["Note"].is_object() {
        return "terminals 5 to 8 and E, all marked".into();
    }
    if let Some(words) = kind["Look"]["expected"].as_array() {
        let words: Vec<_> = words.iter().filter_map(Value::as_str).collect();
        return if words.is_empty() {
            "none".into()
        } else {
            words.join(", ")
        };
    }
    if kind["Measure"].is_object() {
        let shows = expected["shows"].as_str().unwrap_or("0.01 ohm");
        return match shows {
            "open" => "OL".into(),
            "no voltage" => "0.0 V".into(),
            "216 V to 253 V" => "231.4 V".into(),
            shows if shows.starts_with("more than") => ">299 Mohm".into(),
            // the larger of the two, with the leads that are subtracted
            shows => shows.rsplit(" to ").next().unwrap().into(),
        };
    }
    match step["acts"].to_string().contains("Energise") {
        true => "energise".into(),
        false => {
            assert!(kind == "Do" || kind == "Gate", "{id}: {kind}");
            "done".into()
        }
    }
}

#[test]
fn a_newcomer_comes_from_an_empty_home_to_a_sealed_record() {
    let world = World::new();
    let job = world.path("workshop.ron");
    let job = job.to_str().unwrap();
    let mut counted = Counted::default();

    let (mut child, mut shown) = at_a_terminal(&world, &["key", "new", "--name", "Robin Sand"]);
    for asked in ["New passphrase:", "The same again:"] {
        shown.until(asked);
        shown.type_line(PASSPHRASE);
        counted.answers += 1;
    }
    assert!(child.wait().unwrap().success(), "{}", shown.text);
    shown.until("SHA256:");
    counted.read(&shown);

    let (mut child, mut shown) = at_a_terminal(&world, &["job", "stat-switched-live", "-o", job]);
    for (n, (asked, answer)) in ANSWERS.iter().enumerate() {
        shown.until(&format!("{}/{}  ", n + 1, ANSWERS.len()));
        shown.until(asked);
        counted.type_line(&mut shown, answer);
    }
    shown.until("`yes` writes the job");
    counted.type_line(&mut shown, "yes");
    shown.until("coreproof run stat-switched-live");
    assert!(child.wait().unwrap().success(), "{}", shown.text);
    // the file that was written repeats the answers, for whoever will edit it
    let file = std::fs::read_to_string(job).unwrap();
    shown.text = shown.text.replace("\r\n", "\n").replacen(&file, "", 1);
    assert!(!shown.text.contains("supply: ("), "{}", shown.text);
    counted.read(&shown);

    let plan = world.run(&["plan", "stat-switched-live", "--job", job, "--json"]);
    let plan: Value = serde_json::from_str(&text(&plan.stdout)).unwrap();
    let (mut child, mut shown) = at_a_terminal(&world, &["run", "stat-switched-live", "--job", job]);
    shown.until("    answer");
    counted.read(&shown);
    assert!(counted.answers <= ANSWERS_MAX, "{} answers", counted.answers);
    let read = counted.words - counted.typed;
    assert!(read <= WORDS_MAX, "{read} words");

    walk_through(&mut shown, &plan);
    shown.type_line(PASSPHRASE);
    shown.until("Sealed as");
    assert!(child.wait().unwrap().success(), "{}", shown.text);
    let list = text(&world.run(&["records", "list"]).stdout);
    assert!(list.contains("Driftwood Boat Shed") && list.contains("pass"), "{list}");
    let audit = world.run(&["audit"]);
    assert_eq!(audit.status.code(), Some(0), "{}", text(&audit.stdout));
    let list: Value = serde_json::from_slice(&world.run(&["records", "list", "--json"]).stdout).unwrap();
    let run = list[0]["run"].as_str().unwrap();
    let out = world.path("out");
    let out = out.to_str().unwrap();
    assert!(world.run(&["records", "export", run, "-o", out]).status.success());
    let record = std::fs::read_to_string(format!("{out}/record.jsonl")).unwrap();
    for words in ["Robin Sand", "Sand and Daughter", "T 12", "M 3", "V 77"] {
        assert!(record.contains(words), "`{words}` in {record}");
    }
}

/// Answers each prompt wrongly in two to four ways, and then as a sound installation would, until the passphrase is asked for.
fn walk_through(shown: &mut Shown, plan: &Value) {
    let header = regex::Regex::new(r"(?m)^ *\d+ of \d+  (.+?)\r?$").unwrap();
    let huge = "9".repeat(3000);
    let empty = Vec::new();
    let steps = plan["steps"].as_array().unwrap_or(&empty);
    let mut last = String::new();
    loop {
        let id = header.captures_iter(&shown.text).last().unwrap()[1].trim().to_owned();
        let at = steps.iter().position(|step| step["id"] == *id);
        let at = at.unwrap_or_else(|| panic!("no step `{id}`: {}", shown.text));
        let kind = &steps[at]["kind"];
        // what is seen, and a line to be written down, may be in any words
        let in_any_words = kind["Note"].is_object() || kind["Look"].is_object();
        let mut bad = vec!["", "\u{7}\u{7}"];
        if !in_any_words {
            bad.extend(["a/b{c}\"", huge.as_str()]);
        }
        for bad in bad.into_iter().filter(|_| last != id) {
            shown.type_line(bad);
            shown.until("    note ");
        }
        let good = good(&steps[at], &plan["expected"][at]);
        shown.type_line(&good);
        last = id;
        let ends = ["    answer", "Passphrase of the signing key:", "too early"];
        let mut came = shown.until_any(&ends);
        if came == 2 {
            shown.until("the wait is over");
            shown.type_line(&good);
            came = shown.until_any(&ends);
        }
        if came == 1 {
            return;
        }
    }
}
