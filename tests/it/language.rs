//! The language of sequences and the shipped library, from the command line.

use sha2::{Digest, Sha256};

use crate::world::{World, repo, text};

/// A sequence of the survey stage, which needs no cable taken apart.
fn written(world: &World, name: &str, steps: &str) -> String {
    let path = world.path(name);
    let text = format!("(format: \"1.1\", name: \"try\", title: \"Try\", steps: [{steps}])");
    std::fs::write(&path, text).unwrap();
    path.to_str().unwrap().to_owned()
}

/// What `check` says of a sequence with these steps on the demonstration job.
fn refused(steps: &str) -> String {
    let world = World::new();
    let path = written(&world, "try.ron", steps);
    let output = world.run(&["check", &path, "fixtures/saltmarsh.ron"]);
    assert_eq!(output.status.code(), Some(2), "{}", text(&output.stdout));
    text(&output.stderr)
}

fn look(id: &str, more: &str) -> String {
    format!("Inspect(id: \"{id}\", stage: Survey, thing: \"{id}\", say: \"Sound?\"{more}),")
}

#[test]
fn every_shipped_sequence_rehearses_by_its_name() {
    for shipped in coreproof::sequence::shipped::SEQUENCES {
        let output = World::new().run(&["rehearse", shipped.name]);
        let seen = text(&output.stdout);
        assert_eq!(output.status.code(), Some(0), "{}: {seen}", shipped.name);
        assert!(
            seen.contains(" 0 failed, 0 not tested.") && seen.contains("pass: completed"),
            "{seen}"
        );
    }
}

#[test]
fn faults_of_the_library_fail_the_step_that_looks_for_them() {
    for (sequence, fault, step) in [
        ("underfloor-zones", "conductor-not-gripped", "tug-near/"),
        ("zone-valve", "valve-held-open", "end-switch-rests"),
        ("cylinder-thermostat", "neutral-missing", "supply"),
        ("programmer-and-thermostat", "feeder-off", "feed"),
        ("boiler-call-volt-free", "pair-mains", "pair/"),
        ("extra-low-pair", "plate-mains", "pair/"),
        ("fused-spur", "residual-device-dead", "rated-current"),
        ("cylinder-cut-out", "thermostat-contact-closed:cut-out", "cut-out-open"),
        ("cylinder-cut-out", "end-switch-closed", "boiler-dead"),
        (
            "cylinder-cut-out-restored",
            "thermostat-contact-open:cut-out",
            "cut-out-closed",
        ),
    ] {
        let world = World::new();
        let output = world.run(&["rehearse", sequence, "--fault", fault]);
        let seen = text(&output.stdout);
        assert_eq!(output.status.code(), Some(1), "{sequence}, {fault}: {seen}");
        let failed = seen.lines().find(|line| line.starts_with("FAIL ")).unwrap_or_default();
        assert!(failed.contains(step), "{sequence}, {fault}: {failed}");
    }
}

#[test]
fn no_heat_is_sought_by_halves_live_and_confirmed_dead() {
    let output = World::new().run(&["rehearse", "no-heat", "--fault", "thermostat-contact-open:thermostat"]);
    let seen = text(&output.stdout);
    assert_eq!(output.status.code(), Some(1), "{seen}");
    let lines: Vec<&str> = seen.lines().collect();
    let place = |begins: &str| lines.iter().position(|line| line.starts_with(begins));
    let at = |begins: &str| place(begins).unwrap_or_else(|| panic!("no `{begins}`: {seen}"));
    let failed = [at("FAIL       found-valve"), at("FAIL       found-thermostat-out")];
    assert!(
        lines[failed[0] + 1]
            .contains("chosen by the program: of 15 faults that are left it would fail with 8 and pass with 7"),
        "{}",
        lines[failed[0] + 1]
    );
    // in the middle first, and dead is proved as ever before it is confirmed
    assert!(at("pass       found-programmer-out") < failed[0] && failed[1] < at("pass       switch-off"));
    assert!(at("pass       dead-far/earth-line") < at("FAIL       thermostat-closed"));
}

#[test]
fn what_a_composition_lacks_is_said_at_its_place() {
    let absent = refused("Include(\"parts/nowhere.ron\")");
    assert!(
        absent.contains("there is no file `parts/nowhere.ron` to include"),
        "{absent}"
    );
    let twice = refused("Include(\"parts/as-found.ron\"), Include(\"parts/as-found.ron\")");
    assert!(
        twice.contains("two steps are called `picture`") && twice.contains("--> parts/as-found.ron:7"),
        "{twice}"
    );

    let world = World::new();
    std::fs::create_dir(world.path("parts")).unwrap();
    let part = |name: &str, steps: &str| {
        let text = format!("(format: \"1.1\", name: \"{name}\", title: \"Part\", steps: [{steps}])");
        std::fs::write(world.path("parts").join(format!("{name}.ron")), text).unwrap();
    };
    part("one", "Include(\"parts/two.ron\")");
    part("two", "Include(\"parts/one.ron\")");
    let path = written(&world, "try.ron", "Include(\"parts/one.ron\")");
    let ring = text(&world.run(&["check", &path]).stderr);
    assert!(
        ring.contains("`parts/one.ron` includes itself: parts/one.ron > parts/two.ron > parts/one.ron"),
        "{ring}"
    );
}

#[test]
fn many_files_that_include_each_other_many_times_are_bounded() {
    let world = World::new();
    std::fs::create_dir(world.path("parts")).unwrap();
    for level in 0..30 {
        let next = format!("Include(\"parts/p{}.ron\"),", level + 1);
        let steps = if level == 29 { look("deep", "") } else { next.repeat(9) };
        let text = format!("(format: \"1.1\", name: \"p{level}\", title: \"Part\", steps: [{steps}])");
        std::fs::write(world.path("parts").join(format!("p{level}.ron")), text).unwrap();
    }
    let path = written(&world, "try.ron", "Include(\"parts/p0.ron\")");
    let output = world.run(&["check", &path]);
    assert_eq!(output.status.code(), Some(2));
    let errors = text(&output.stderr);
    assert!(
        errors.contains("more than 10000 steps with everything it includes"),
        "{errors}"
    );
}

#[test]
fn what_a_sequence_needs_the_job_must_give_in_its_unit() {
    let sequence = std::fs::read_to_string(repo("sequences/boiler-interlock.ron")).unwrap();
    let job = std::fs::read_to_string(repo("fixtures/clubhouse-interlock.ron")).unwrap();
    let world = World::new();
    let (sequence_path, job_path) = (world.path("interlock.ron"), world.path("job.ron"));
    std::fs::write(&sequence_path, sequence).unwrap();
    for (from, to, said) in [
        ("\"run on\": \"180 s\"", "", "the job gives no `run on`"),
        ("180 s", "180 V", "`run on` is `180 V` in the job, a time is needed"),
    ] {
        assert!(job.contains(from));
        std::fs::write(&job_path, job.replace(from, to)).unwrap();
        let output = world.run(&["check", sequence_path.to_str().unwrap(), job_path.to_str().unwrap()]);
        let errors = text(&output.stderr);
        assert!(output.status.code() == Some(2) && errors.contains(said), "{errors}");
    }
}

#[test]
fn expressions_conditions_and_ways_back_are_checked() {
    let voltage = |window: &str| {
        format!(
            "Voltage(id: \"v\", end: Near, between: (\"permanent live\", \"neutral\"), window: {window}, say: \"\")"
        )
    };
    for (steps, said) in [
        (
            voltage("Worked(low: \"supply.nominal + 2 s\", source: \"common practice\")"),
            "a voltage and a time do not add up",
        ),
        (
            voltage("Worked(low: \"cable.length\", source: \"common practice\")"),
            "it comes to a length, a voltage is needed here",
        ),
        (
            voltage("Worked(low: \"(2 V\", source: \"common practice\")"),
            "a bracket is not closed",
        ),
        (
            voltage("Worked(low: \"207 V\", source: \"\")"),
            "a figure without a source cannot judge a reading",
        ),
        (
            format!("If(Passed(\"nothing\"), [{}])", look("a", "")),
            "no step is called `nothing`",
        ),
        (
            format!("If(HasCore(\"bell wire\"), [{}])", look("a", "")),
            "`bell wire` is not what a terminal can be for",
        ),
        (
            look("a", ", after_failure: [RepairFrom(\"b\")]") + &look("b", ""),
            "the step `b` does not come before this one",
        ),
        (
            "ZoneMap(id: \"z\", say: \"\")".into(),
            "`ZoneMap` speaks of one zone, which only `EachZone` gives",
        ),
        (
            "EachZone([ZoneMap(id: \"z\", say: \"\")])".into(),
            "`EachZone` needs zones, and the job has none",
        ),
        (
            "Lever(id: \"l\", motor: \"bilge pump\", expect: \"slack\", say: \"\")".into(),
            "the job has no motor called `bilge pump`",
        ),
        (
            "Lever(id: \"l\", motor: \"zone valve\", expect: \"loose\", say: \"\")".into(),
            "`loose` is none of `slack`, `firm`",
        ),
        (
            "AcrossContact(id: \"x\", contact: \"bilge switch\", say: \"\")".into(),
            "the job has no contact called `bilge switch`",
        ),
        (
            "Classify(id: \"pair\", say: \"\", open: \"\", closed: \"\")".into(),
            "the job has no control pair to classify",
        ),
        (
            "Do(id: \"c\", stage: Live, act: Call(\"dial\"), say: \"\")".into(),
            "the job `fixtures/saltmarsh.ron` has no control called `dial`",
        ),
    ] {
        let errors = refused(&steps);
        assert!(errors.contains(said), "`{said}` is not in\n{errors}");
    }
}

#[test]
fn a_step_is_done_only_where_its_condition_holds_and_a_failure_offers_what_the_sequence_lets() {
    let world = World::with_key();
    let steps = look("first", ", after_failure: [Leave]")
        + &format!("If(Failed(\"first\"), [{}]),", look("why", ""))
        + &format!("If(Not(Failed(\"first\")), [{}])", look("praise", ""));
    let path = written(&world, "try.ron", &steps);
    let run = |lines: &str| {
        let lines = format!("{lines}salt and marsh\n");
        let output = world.typed(&["run", &path, "--job", "fixtures/saltmarsh.ron"], &lines);
        (output.status.code(), text(&output.stdout) + &text(&output.stderr))
    };
    let (code, seen) = run("sound\nsound\n");
    assert_eq!(code, Some(0), "{seen}");
    assert!(
        seen.contains("not needed here") && seen.contains("3 of 3 steps passed"),
        "{seen}"
    );
    let (code, seen) = run("found a wasps' nest\nagain\nrepair\nleave\nnobody may touch it\nsound\n");
    assert_eq!(code, Some(1), "{seen}");
    assert!(
        seen.contains("found: a wasps' nest")
            && seen.contains("`again` is none of `leave`, `abandon`")
            && seen.contains("`repair` is none of `leave`, `abandon`")
            && seen.contains("2 of 3 steps passed, 1 failed, 0 not tested."),
        "{seen}"
    );
}

#[test]
fn a_proof_of_dead_or_a_connection_that_its_condition_leaves_out_is_not_needed() {
    let world = World::new();
    let part = |name: &str| std::fs::read_to_string(repo(&format!("sequences/parts/{name}.ron"))).unwrap();
    let steps = |name: &str| {
        let part = part(name);
        let (_, steps) = part.split_once("steps: [").unwrap();
        steps.rsplit_once("],").unwrap().0.to_owned()
    };
    let again = "ProveIndicator(id: \"indicator-second\",";
    let isolate = steps("isolate").replacen(
        again,
        &format!("If(Failed(\"first\"), [ProveDead(id: \"again\", end: Far, reference: LongLead, say: \"Lit or dark?\")]), {again}"),
        1,
    );
    let sequence = std::fs::read_to_string(repo("sequences/stat-cable.ron")).unwrap();
    let isolated = "Include(\"parts/isolate.ron\"),";
    assert!(sequence.contains(isolated) && isolate.contains("\"again\""));
    let path = world.path("try.ron");
    std::fs::write(&path, sequence.replacen(isolated, &(look("first", "") + &isolate), 1)).unwrap();
    let output = world.run(&["rehearse", path.to_str().unwrap(), "--job", "fixtures/saltmarsh.ron"]);
    let seen = text(&output.stdout);
    assert_eq!(output.status.code(), Some(0), "{seen}{}", text(&output.stderr));
    assert!(
        seen.contains(&format!("pass       {:<32} not needed here", "again/earth-line"))
            && seen.contains("131 of 131 steps passed"),
        "{seen}"
    );
}

#[test]
fn a_photograph_is_bound_in_by_its_hash() {
    let world = World::with_key();
    let picture = world.path("ends.jpg");
    std::fs::write(&picture, b"not really a picture").unwrap();
    let hash: String = Sha256::digest(b"not really a picture")
        .iter()
        .map(|byte| format!("{byte:02x}"))
        .collect();
    let steps = "Note(id: \"ends\", stage: Survey, photograph: true, say: \"Both ends.\"), Note(id: \"none\", stage: Survey, say: \"More?\")";
    let path = written(&world, "try.ron", steps);
    // nobody ever writes to it
    let pipe = world.path("pipe.jpg");
    assert!(
        std::process::Command::new("mkfifo")
            .arg(&pipe)
            .status()
            .unwrap()
            .success()
    );
    let lines = format!(
        "photograph {}\nphotograph {}\nphotograph {}\nboth ends as found\nno\nsalt and marsh\n",
        world.path("nowhere.jpg").display(),
        pipe.display(),
        picture.display()
    );
    let output = world.typed(&["run", &path, "--job", "fixtures/saltmarsh.ron"], &lines);
    let seen = text(&output.stdout) + &text(&output.stderr);
    assert_eq!(output.status.code(), Some(0), "{seen}");
    assert!(seen.contains("nowhere.jpg` cannot be read"), "{seen}");
    assert!(seen.contains("it is a pipe, not a file"), "{seen}");
    let list = world.run(&["records", "list", "--json"]);
    let records: serde_json::Value = serde_json::from_slice(&list.stdout).unwrap();
    let out = world.path("out");
    let out = out.to_str().unwrap();
    let run = records[0]["run"].as_str().unwrap();
    assert_eq!(world.run(&["records", "export", run, "-o", out]).status.code(), Some(0));
    let record = std::fs::read_to_string(format!("{out}/record.jsonl")).unwrap();
    assert!(
        record.contains(&hash) && record.contains("\"file\":\"ends.jpg\""),
        "{record}"
    );
    assert_eq!(
        world.run(&["verify", &format!("{out}/record.jsonl")]).status.code(),
        Some(0)
    );
}

#[test]
fn the_reference_is_printed() {
    let output = World::new().run(&["check", "--language"]);
    let written = std::fs::read_to_string(repo("sequences/LANGUAGE.md")).unwrap();
    assert_eq!(text(&output.stdout), written);
}

/// Kinds and groups that no shipped sequence has, put into copies of shipped parts and walked.
#[test]
fn what_no_shipped_sequence_uses_is_walked_as_well() {
    let world = World::new();
    std::fs::create_dir(world.path("parts")).unwrap();
    let mut dead = std::fs::read_to_string(repo("sequences/parts/dead-tests.ron")).unwrap();
    let mut put = |from: &str, to: &str| {
        assert!(dead.contains(from), "{from}");
        dead = dead.replacen(from, to, 1);
    };
    put(
        "        EachLink([",
        "        Do(id: \"none\", stage: Test, act: RemoveEveryLink, say: \"Take it off.\"),\n        EachCore([Do(id: \"on\", stage: Test, act: LinkToEarth, say: \"Link core {core}.\"), Identify(id: \"which\", say: \"Which core reads through to {return core}?\"), Do(id: \"off\", stage: Test, act: RemoveLink, say: \"Off again.\")]),\n        EachLink([",
    );
    put(
        "                    If(Low(\"insulation\"), [",
        "                    If(Not(StaysConnected), [",
    );
    put(
        "            ReadJoin(id: \"clip-still-bites\"",
        "            EachPair([Insulation(id: \"in-pairs\", between: ThisPair, window: InsulationMinimum, say: \"{first}, {second}.\")]),\n            ReadJoin(id: \"clip-still-bites\"",
    );
    std::fs::write(world.path("parts/dead-tests.ron"), dead).unwrap();
    let mut sequence = std::fs::read_to_string(repo("sequences/zone-valve.ron")).unwrap();
    let place = "        Do(id: \"satisfy\"";
    assert!(sequence.contains(place));
    let more = "        Warm(id: \"warmth\", motor: \"zone valve\", expect: \"warm\", within: (\"call\", Stated(time: \"600 s\", source: \"common practice\")), say: \"Feel the pipe behind the valve. Warm?\"),
        Pin(id: \"pin\", motor: \"zone valve\", expect: \"up\", say: \"Up or down?\"),
        Voltage(id: \"worked\", end: Near, between: (\"permanent live\", \"neutral\"), window: Worked(low: \"supply.nominal * 0.94\", high: \"supply.nominal * 1.1\", source: \"SI 1994/3021\"), say: \"{first}, {second}.\"),
        If(HasLength, [Note(id: \"length-known\", stage: Live, say: \"Anything?\")]),
        If(Not(HasLength), [Note(id: \"length-unknown\", stage: Live, say: \"Anything?\")]),
        If(Saw(\"warmth\", \"warm\"), [Note(id: \"felt\", stage: Live, say: \"How warm?\")]),\n";
    sequence = sequence.replacen(place, &format!("{more}{place}"), 1);
    let survey = "        Include(\"parts/isolate.ron\"),";
    let asked = "        If(Failed(\"sound-near\"), [Note(id: \"why-unsound\", stage: Survey, say: \"What is wrong there?\")]),\n";
    sequence = sequence.replacen(survey, &format!("{asked}{survey}"), 1);
    let path = world.path("zone-valve.ron");
    std::fs::write(&path, sequence).unwrap();
    let path = path.to_str().unwrap();
    let checked = world.run(&["check", path, "fixtures/boathouse-valve.ron"]);
    assert_eq!(checked.status.code(), Some(0), "{}", text(&checked.stderr));
    let rehearse = |fault: &[&str]| {
        let args = [&["rehearse", path, "--job", "fixtures/boathouse-valve.ron"], fault].concat();
        let output = world.run(&args);
        (output.status.code(), text(&output.stdout))
    };
    let (code, seen) = rehearse(&[]);
    assert_eq!(code, Some(0), "{seen}");
    for line in [
        "which/grey                       grey",
        "in-pairs/grey-blue",
        "warmth                           warm",
        "pin                              up",
        "worked                           ",
        "length-known                     written down",
        "felt                             written down",
        "why-unsound                      not needed here",
    ] {
        assert!(seen.contains(line), "`{line}` is not in\n{seen}");
    }
    assert!(!seen.contains("length-unknown"), "{seen}");
    let (code, seen) = rehearse(&["--fault", "cores-swapped:grey/blue"]);
    let failed = seen.lines().find(|line| line.starts_with("FAIL ")).unwrap_or_default();
    assert!(code == Some(1) && failed.contains("which/"), "{failed}\n{seen}");
}

#[test]
fn a_step_that_says_nothing_or_speaks_of_what_is_not_there_is_refused() {
    let check = |steps: &str, expected: &str| {
        let errors = refused(steps);
        assert!(errors.contains(expected), "{errors}");
    };
    check(
        "Note(id: \"ends\", stage: Survey, say: \"  \")",
        "error: `ends` says nothing: whoever holds the probes reads it\n --> ",
    );
    check(
        "Note(id: \"ends\", stage: Survey, say: \"Look at {core}.\")",
        "error: there is no core where `ends` stands, so `{core}` would say nothing\n --> ",
    );
    check(
        "EachCore([Note(id: \"ends\", stage: Survey, say: \"Look at {core} and {other} of {zone}.\")])",
        "error: there is no other where `ends/brown` stands, so `{other}` would say nothing\n --> ",
    );
    check(
        "Note(id: \"ends\", stage: Survey, say: \"Turn {control} up.\")",
        "help: name what is meant, or put the step into the group that gives it",
    );
}
