//! Limits through the shipped program: what it lists, what it refuses, and what another edition would say of a record.

use crate::world::{STEPS, World, repo, text};

const JOB: &str = "fixtures/saltmarsh.ron";
const SEQUENCE: &str = "sequences/stat-cable.ron";

fn ok(world: &World, args: &[&str]) -> String {
    let output = world.run(args);
    assert_eq!(output.status.code(), Some(0), "{}", text(&output.stderr));
    text(&output.stdout)
}

fn json(world: &World, args: &[&str]) -> serde_json::Value {
    serde_json::from_str(&ok(world, args)).unwrap()
}

/// The demonstration job with edits, in the world's own folder.
fn job(world: &World, edits: &[(&str, &str)]) -> String {
    let mut content = std::fs::read_to_string(repo(JOB)).unwrap();
    for (from, to) in edits {
        assert!(content.contains(from), "`{from}` is not in {JOB}");
        content = content.replacen(from, to, 1);
    }
    let path = world.path("edited.ron");
    std::fs::write(&path, content).unwrap();
    path.to_str().unwrap().to_owned()
}

/// The lines of a refusal that name what is wrong and the next act, without the source between them.
fn said(errors: &str) -> Vec<String> {
    errors
        .lines()
        .filter(|l| l.starts_with("error: ") || l.trim_start().starts_with("= help: "))
        .map(|l| l.trim().to_owned())
        .collect()
}

#[test]
fn what_is_not_in_a_table_is_refused_with_the_nearest_choices() {
    let protection = "protection: (device: \"BS 1362\", rating: \"3 A\")";
    let editions = "`2001` (BS 7671), `2008` (BS 7671), `2008+A3:2015` (BS 7671), `2018` (BS 7671), `2018+A2:2022` (BS 7671), `2018+A4:2026` (BS 7671), `IEC 60364-6:2016` (IEC 60364), `AS/NZS 3000:2018` (AS/NZS 3000), `ANSI/NETA MTS-2019` (ANSI/NETA MTS)";
    let trips = "tests: [(half, \"1999 ms\"), (once, \"300 ms\"), (five_times, \"40 ms\")]";
    let accuracy = "= help: add `accuracy: (percent: \"1\", digits: 3)` with the figures of its data sheet; only testers to IEC 61557 may leave it out";
    let devices = "= help: `coreproof limits` shows the devices there are";
    let cases: Vec<(&str, &str, Vec<String>)> = vec![
        ("2018+A2:2022", "2019", vec![format!("error: no limits of the edition `2019`; there is {editions}")]),
        ("size: \"1.0 mm2\", carries: PermanentLive", "size: \"1.2 mm2\", carries: PermanentLive", vec![
            "error: no row `1.2 mm2` in the table of conductor resistance, class 1 and 2; nearest are `1.0 mm2` and `1.5 mm2`".into(),
        ]),
        ("size: \"1.0 mm2\", carries: PermanentLive", "size: \"50 mm2\", carries: PermanentLive", vec![
            "error: no row `50 mm2` in the table of conductor resistance, class 1 and 2; nearest is `35 mm2`".into(),
        ]),
        ("\"18 m\"", "\"0 m\"", vec!["error: `0 m` is not above zero".into()]),
        ("\"18 m\"", "\"-18 m\"", vec!["error: `-18 m` is not above zero".into()]),
        ("\"15 degC\"", "\"91 degC\"", vec![
            "error: `91 degC` is outside -20 degC to 90 degC".into(),
            "= help: give the temperature of the cable while it is tested".into(),
        ]),
        (protection, "protection: (device: \"BS 1362\", rating: \"5 A\")", vec![
            "error: no row `BS 1362 5 A` in the table of operating current; nearest are `BS 1362 3 A` and `BS 1362 13 A`".into(),
            devices.into(),
        ]),
        (protection, "protection: (device: \"type B\", rating: \"13 A\")", vec![
            "error: no row `type B 13 A` in the table of operating current; nearest are `type B 10 A` and `type B 16 A`".into(),
            devices.into(),
        ]),
        (protection, "protection: (device: \"BS 1362\", rating: \"3 V\")", vec![
            "error: `3 V` is a voltage, a current is needed here".into(),
            "= help: write the rated current in `A`".into(),
        ]),
        (protection, "disconnects_within: \"1 s\"", vec![
            "error: no loop impedances for disconnection in `1 s`".into(),
            "= help: the tables are for `0.4 s` and `5 s`".into(),
        ]),
        ("earthing: \"TN-C-S\"", "earthing: \"TT\"", vec![
            "error: no limit of `BS 1362 3 A` for the 0.2 s that a TT supply needs".into(),
            "= help: give the residual-current device as `residual: \"30 mA\"`".into(),
        ]),
        (protection, "residual: \"40 mA\"", vec![
            "error: no row `40 mA` in the table of loop impedance, residual current; nearest are `30 mA` and `100 mA`".into(),
        ]),
        (protection, "separation: Selv", vec![
            "error: `230 V` is above extra-low voltage, 50 V, and has no separation".into(),
            "= help: leave `separation` out".into(),
        ]),
        ("Loop(current: \"25 A\",", "Loop(current: \"25 V\",", vec![
            "error: `25 V` is a voltage, a current is needed here".into(),
            "= help: write it in `A`".into(),
        ]),
        ("Loop(current: \"25 A\", ceiling: \"1999 ohm\")", "Loop(current: \"25 A\", ceiling: \"0 ohm\")", vec![
            "error: `0 ohm` is not above zero".into(),
        ]),
        (trips, "tests: []", vec![
            "error: a tester of residual-current devices with no test".into(),
            "= help: write `tests: [(half, \"1999 ms\"), (once, \"300 ms\"), (five_times, \"40 ms\")]`".into(),
        ]),
        (trips, "tests: [(once, \"300 ms\"), (once, \"40 ms\")]", vec![
            "error: the test at its rated current is listed twice".into(),
        ]),
        (trips, "tests: [(once, \"300 s\")]", vec![
            "error: `300 s` is longer than any trip test lasts".into(),
            "= help: write the time after which the instrument shows over-range, for example `\"300 ms\"`".into(),
        ]),
        (trips, "tests: [(once, \"300 V\")]", vec![
            "error: `300 V` is a voltage, a time is needed here".into(),
            "= help: write it in `s`".into(),
        ]),
        (trips, "tests: [(once, \"300 ms\")], accuracy: (percent: \"10\", of: \"300 V\")", vec![
            "error: `300 V` is a voltage, a time is needed here".into(),
            "= help: write it in `s`".into(),
        ]),
        ("ze: \"0.41 ohm\"", "ze: \"0 ohm\"", vec!["error: `0 ohm` is not above zero".into()]),
        ("input: \"10 Mohm\", accuracy: (percent: \"1\", digits: 3)", "input: \"10 Mohm\"", vec![
            "error: `multimeter` has no accuracy figure for volts".into(), accuracy.into(),
        ]),
        ("ceiling: \"40 Mohm\", accuracy: (percent: \"0.8\", digits: 2)", "ceiling: \"40 Mohm\"", vec![
            "error: `multimeter` has no accuracy figure for ohms".into(), accuracy.into(),
        ]),
        ("(percent: \"0.8\", digits: 2)", "(percent: \"0\")", vec![
            "error: an accuracy of \u{b1}0 % is none".into(),
            "= help: write percent of the reading, with at most four decimals, and last digits, at most 999".into(),
        ]),
        ("(percent: \"0.8\", digits: 2)", "(percent: \"0.80001\", digits: 2)", vec![
            "error: an accuracy of \u{b1}(0.80001 % + 2 digits) is none".into(),
            "= help: write percent of the reading, with at most four decimals, and last digits, at most 999".into(),
        ]),
        ("(percent: \"0.8\", digits: 2)", "(percent: \"-1\", digits: 1)", vec![
            "error: an accuracy of \u{b1}(-1 % + 1 digit) is none".into(),
            "= help: write percent of the reading, with at most four decimals, and last digits, at most 999".into(),
        ]),
    ];
    for (from, to, mut expected) in cases {
        let world = World::new();
        let edited = job(&world, &[(from, to)]);
        expected.push("error: 1 error found; nothing was run".into());
        for args in [vec!["check", &edited], vec!["plan", SEQUENCE, "--job", &edited]] {
            let output = world.run(&args);
            assert_eq!(output.status.code(), Some(2), "{to}");
            assert_eq!(said(&text(&output.stderr)), expected, "{to}");
        }
    }
}

#[test]
fn a_nominal_voltage_without_a_supply_window_is_refused_where_the_sequence_asks_for_one() {
    let world = World::new();
    let edited = job(
        &world,
        &[
            ("nominal: \"230 V\"", "nominal: \"110 V\""),
            ("protection: (device: \"BS 1362\", rating: \"3 A\"),", ""),
        ],
    );
    let output = world.run(&["check", SEQUENCE, &edited]);
    assert_eq!(output.status.code(), Some(2));
    let errors = said(&text(&output.stderr));
    assert!(
        errors[0].starts_with("error: no row `110 V, lower` in the table of supply voltage; it has `230 V, lower`"),
        "{errors:?}"
    );
}

#[test]
fn limits_lists_sets_and_tables() {
    let world = World::new();
    let all = json(&world, &["limits", "--json"]);
    assert_eq!(all["sets"].as_array().unwrap().len(), 5);
    assert!(30 < all["tables"].as_array().unwrap().len());
}

#[test]
fn limits_finds_a_table_a_figure_and_words() {
    let world = World::new();
    let table = json(&world, &["limits", "insulation", "minimum", "--json"]);
    for row in table.as_array().unwrap() {
        assert_eq!(row["table"], "insulation minimum");
        assert!(!row["source"].as_str().unwrap().is_empty());
    }
    let figure = json(&world, &["limits", "1.37", "--json"]);
    let of: Vec<_> = figure
        .as_array()
        .unwrap()
        .iter()
        .map(|r| r["of"].as_str().unwrap())
        .collect();
    assert_eq!(of, ["type B 32 A", "type C 16 A", "type B 32 A", "type C 16 A"]);
    assert_eq!(figure[0]["confidence"], "Computed");
}

#[test]
fn limits_compares_two_editions() {
    let world = World::new();
    let rows = json(&world, &["limits", "--compare", "2008", "2018+A2:2022", "--json"]);
    let row = |of: &str, table: &str| {
        let rows = rows["rows"].as_array().unwrap();
        rows.iter()
            .find(|r| r["of"] == of && r["table"] == table)
            .unwrap()
            .clone()
    };
    let changed = row("type B 32 A", "loop impedance, 0.4 s");
    assert_eq!(
        (
            changed["first"].as_str(),
            changed["second"].as_str(),
            changed["is"].as_str()
        ),
        (Some("1.44 ohm"), Some("1.37 ohm"), Some("changed"))
    );
    assert_eq!(row("up to 500 V", "insulation minimum")["is"], "same");
}

/// The invented country of `fixtures/limits`, brought by the job itself.
fn with_country() -> (String, &'static str) {
    let set = std::fs::read_to_string(repo("fixtures/limits/examplia.ron")).unwrap();
    (
        format!("edition: \"EX 1:2020\",\n    limits: [{set}],"),
        "edition: \"2018+A2:2022\",",
    )
}

#[test]
fn a_job_brings_a_country_as_data_and_is_judged_by_it() {
    let world = World::new();
    let (country, edition) = with_country();
    let edited = job(
        &world,
        &[
            (edition, &country),
            ("protection: (device: \"BS 1362\", rating: \"3 A\"),", ""),
        ],
    );
    let plan = json(&world, &["plan", SEQUENCE, "--job", &edited, "--json"]);
    assert_eq!(plan["edition"], "EX 1:2020");
    assert!(
        plan["caveat"]
            .as_str()
            .unwrap()
            .starts_with("Limits of the job's own, not of this program. ")
    );
    let step = |id: &str| {
        plan["steps"]
            .as_array()
            .unwrap()
            .iter()
            .find(|s| s["id"] == id)
            .unwrap()
            .clone()
    };
    let window = &step("insulation/brown")["kind"]["Measure"]["window"]["Fixed"];
    assert_eq!(window["low"]["amount"], "2.0 Mohm");
    assert_eq!(window["basis"][0]["source"], "Examplian rules, 7");
    assert_eq!(
        step("continuity/brown")["kind"]["Measure"]["window"]["Fixed"]["basis"][0]["source"],
        "IEC 60228, class 1 and 2, plain copper, 20 degC, maximum"
    );
    world.pinned("limits-of-the-job", &["limits", "Examplian", "--job", &edited]);
}

#[test]
fn a_plan_works_out_what_the_job_gives() {
    let world = World::new();
    let plan = json(&world, &["plan", SEQUENCE, "--job", JOB, "--json"]);
    let worked: Vec<(String, String)> = plan["worked"]
        .as_array()
        .unwrap()
        .iter()
        .map(|w| {
            (
                w["what"].as_str().unwrap().into(),
                w["comes_to"].as_str().unwrap().into(),
            )
        })
        .collect();
    let expected = [
        // 36.2 mohm/m x 18 m x 0.98
        (
            "each 1.0 mm2 core with the earth core, linked at the far end",
            "at most 0.639 ohm",
        ),
        (
            "length of each 1.0 mm2 core with the earth core, linked at the far end",
            "28.2 m for each ohm read",
        ),
        (
            "loop impedance that BS 1362 3 A allows",
            "at most 15.6 ohm; 12.48 ohm measured cold with an instrument",
        ),
        // 0.41 + 0.638568, and 0.41 + 0.0362 x 18 x 1.20
        (
            "loop impedance at the sail loft thermostat",
            "1.049 ohm cold, 1.192 ohm at operating temperature",
        ),
        ("prospective earth fault current at the wiring centre", "561 A"),
        ("prospective earth fault current at the sail loft thermostat", "219 A"),
        // (15.6 - 0.41) / (0.0362 x 1.20) = 349.68
        ("longest cable that BS 1362 3 A allows", "349.6 m"),
        ("ghost on a core joined to nothing, read with `tester`", "up to 1.3 V"),
        (
            "ghost on a core joined to nothing, read with `multimeter`",
            "up to 226.5 V",
        ),
        (
            "3 live cores joined, to earth",
            "at least 1.0 Mohm shows each of them good; less shows one bad for sure only below 333.333 kohm",
        ),
    ];
    let found: Vec<(&str, &str)> = worked.iter().map(|(a, b)| (a.as_str(), b.as_str())).collect();
    assert_eq!(found, expected);
}

#[test]
fn an_edition_whose_tables_were_not_seen_says_so_in_words() {
    let world = World::new();
    let edited = job(&world, &[("edition: \"2018+A2:2022\"", "edition: \"2018+A4:2026\"")]);
    let plan = json(&world, &["plan", SEQUENCE, "--job", &edited, "--json"]);
    assert_eq!(plan["edition"], "2018+A4:2026");
    assert_eq!(plan["judged_by"], "2018+A2:2022");
    let seen = json(&world, &["plan", SEQUENCE, "--job", JOB, "--json"]);
    for (a, b) in plan["steps"]
        .as_array()
        .unwrap()
        .iter()
        .zip(seen["steps"].as_array().unwrap())
    {
        let edges = |step: &serde_json::Value| {
            let window = &step["kind"]["Measure"]["window"]["Fixed"];
            (window["low"].clone(), window["high"].clone())
        };
        assert_eq!(edges(a), edges(b));
    }
    let shown = ok(&world, &["plan", SEQUENCE, "--job", &edited]);
    assert!(
        shown.contains("Judged by 2018+A2 values; A4 tables not seen."),
        "{shown}"
    );
}

#[test]
fn under_the_guarded_rule_the_uncertainty_is_named_with_the_window() {
    let world = World::new();
    let edition = "edition: \"2018+A2:2022\",";
    let accuracy = ", accuracy: (percent: \"2\", digits: 2)";
    let guarded = format!("{edition}\n    decision: Guarded,");
    let edited = job(&world, &[(edition, &guarded), (accuracy, "")]);
    let plan = json(&world, &["plan", SEQUENCE, "--job", &edited, "--json"]);
    let steps = plan["steps"].as_array().unwrap();
    let step = steps.iter().find(|s| s["id"] == "continuity/brown").unwrap();
    let basis = step["kind"]["Measure"]["window"]["Fixed"]["basis"]
        .as_array()
        .unwrap()
        .last()
        .unwrap();
    assert_eq!(basis["what"], "operating uncertainty, continuity: 30 %");
    assert_eq!(basis["confidence"], "Memory");
}

#[test]
fn a_row_from_memory_shows_its_mark_wherever_it_judges() {
    let world = World::new();
    let edited = job(
        &world,
        &[(
            "equipment: [",
            "stays_connected: \"the frost thermostat\",\n    equipment: [",
        )],
    );
    let shown = ok(&world, &["plan", SEQUENCE, "--job", &edited]);
    assert!(shown.contains("insulation minimum, equipment connected: 1.0 Mohm; BS 7671:2018, value seen, clause from memory, note to Table 64 [from memory: check your own copy]"), "{shown}");
}

#[test]
fn functional_extra_low_voltage_is_tested_as_the_mains_it_hangs_on() {
    let world = World::new();
    let text = std::fs::read_to_string(repo("fixtures/changing-rooms-pair.ron")).unwrap();
    let volts = |separation: &str| {
        let edited = world.path("job.ron");
        std::fs::write(&edited, text.replace("separation: Selv,", separation)).unwrap();
        let edited = edited.display().to_string();
        let plan = json(&world, &["plan", "extra-low-pair", "--job", &edited, "--json"]);
        let steps = plan["steps"].as_array().unwrap();
        let measure = steps.iter().find(|s| s["id"] == "insulation-return").unwrap()["kind"]["Measure"].clone();
        let basis = measure["window"]["Fixed"]["basis"].to_string();
        assert!(!basis.contains("taken as SELV or PELV"), "{basis}");
        measure["used"]["function"]["insulation"].as_u64().unwrap()
    };
    assert_eq!(volts("separation: Selv,"), 250);
    assert_eq!(volts("separation: Pelv,"), 250);
    assert_eq!(volts("separation: Felv,"), 500);
    // a cable of which nobody says that it is separated from the mains supply is tested as mains
    assert_eq!(volts(""), 500);
}

/// Walks the whole sequence with good answers, but for one step.
fn walked(world: &World, job: &str, step: &str, answer: &str) -> i32 {
    let mut walk = world.talk(&["run", &world.sequence(), "--job", job]);
    assert!(walk.to(step), "{}", walk.seen);
    walk.answer(answer);
    walk.to("nowhere");
    let (code, _, errors) = walk.finish();
    assert!(errors.is_empty(), "{errors}");
    code
}

#[test]
fn a_record_is_asked_what_another_edition_would_say() {
    let world = World::with_key();
    // 0.7 Mohm was good by the edition of 2001 and is not by those since 2008
    let edited = job(&world, &[("edition: \"2018+A2:2022\"", "edition: \"2001\"")]);
    assert_eq!(walked(&world, &edited, "insulation/brown", "0.7"), 0);
    let list = json(&world, &["records", "list", "--json"]);
    let run = list[0]["run"].as_str().unwrap();
    let other = json(&world, &["records", "show", run, "--edition", "2018+A4:2026", "--json"]);
    assert_eq!(
        (
            other["recorded"]["verdict"].as_str(),
            other["other"]["verdict"].as_str()
        ),
        (Some("pass"), Some("fail"))
    );
    let steps = other["steps"].as_array().unwrap();
    let step = steps.iter().find(|s| s["step"] == "insulation/brown").unwrap();
    assert_eq!(
        step["recorded"]["because"],
        "700 kohm is within the window: at least 0.5 Mohm"
    );
    assert_eq!(step["other"]["because"], "700 kohm is below 1.0 Mohm");
    assert!(
        other["other"]["caveat"]
            .as_str()
            .unwrap()
            .contains("A4 tables not seen")
    );
    let shown = ok(&world, &["records", "show", run, "--edition", "2008"]);
    assert!(
        shown.contains("verdict by 2001: pass, by 2008: FAIL") && shown.contains("FAIL: 700 kohm is below 1.0"),
        "{shown}"
    );
    let same = ok(&world, &["records", "show", run, "--edition", "2001"]);
    assert!(same.contains("no verdict differs"), "{same}");
    let output = world.run(&["records", "show", run, "--edition", "1066"]);
    assert_eq!(output.status.code(), Some(2));
    assert!(
        text(&output.stderr).starts_with(
            "error: the record cannot be judged by `1066`: no limits of the edition `1066`; there is `2001`"
        )
    );
    // the record's own page works out lengths and the loop from what was read
    let record = json(&world, &["records", "show", run, "--json"]);
    let worked = record["worked"].to_string();
    assert!(
        worked.contains("length by core brown") && worked.contains("loop impedance at the sail loft thermostat"),
        "{worked}"
    );
    let brown = record["steps"]
        .as_array()
        .unwrap()
        .iter()
        .find(|s| s["step"] == "continuity/brown")
        .unwrap();
    assert!(
        brown["risk"].as_str().unwrap().starts_with("false acceptance "),
        "{brown}"
    );
    assert_eq!(world.run(&["audit"]).status.code(), Some(0));
}

#[test]
fn a_low_reading_over_joined_cores_says_what_it_proves() {
    let world = World::with_key();
    // what cannot be taken off leaves the live cores joined
    let stays = "stays_connected: \"the frost thermostat\",\n    equipment: [";
    let edited = job(&world, &[("equipment: [", stays)]);
    let mut walk = world.talk(&["run", &world.sequence(), "--job", &edited]);
    assert!(walk.to("insulation-earth"));
    for (typed, said) in [
        (
            "0.5",
            "mark     3 cores were joined, each may be good by itself: test every core alone",
        ),
        (
            "0.3",
            "mark     3 cores were joined, at least one is bad: test every core alone to find it",
        ),
    ] {
        walk.answer(typed);
        walk.question();
        assert!(walk.seen.contains(said), "{said}\n{}", walk.seen);
        walk.answer("again");
        assert!(walk.to("insulation-earth"));
    }
    walk.kill();
}

#[test]
fn a_guarded_run_with_a_conditional_step_says_so_and_exits_one() {
    let world = World::with_key();
    let edition = "edition: \"2018+A2:2022\",";
    let accuracy = "ceiling: \"1999 ohm\", accuracy: (percent: \"2\", digits: 2)";
    let edited = job(
        &world,
        &[
            (edition, &format!("{edition}\n    decision: Guarded,")),
            (accuracy, "ceiling: \"1999 ohm\", accuracy: (percent: \"1\")"),
        ],
    );
    let mut walk = world.talk(&["run", &world.sequence(), "--job", &edited]);
    assert!(walk.to("continuity/brown"));
    // 0.72 - 0.04 = 0.68 ohm of at most 0.689: inside by less than 1 % of 0.72 and half a last digit of the leads
    walk.answer("0.72");
    walk.question();
    let said = "CONDITIONAL conditional pass: 0.68 ohm is within the window, at most 0.689 ohm, but";
    assert!(walk.seen.contains(said), "{}", walk.seen);
    assert!(
        walk.seen.contains("risk     false acceptance 0.070 (JCGM 106)"),
        "{}",
        walk.seen
    );
    walk.answer("again");
    // the last step: 4.9 V of at most 5 V, left with a reason
    assert!(walk.to("end-switch-off"));
    walk.answer("4.9");
    walk.question();
    walk.answer("leave");
    walk.question();
    walk.answer("no better instrument today");
    // left with the supply on: the run ends by going back or by being made safe
    walk.question();
    walk.answer("abandon");
    walk.question();
    walk.answer("no better instrument today");
    walk.question();
    walk.answer("done");
    walk.question();
    let (code, seen, errors) = walk.finish();
    assert!(errors.is_empty(), "{errors}");
    assert_eq!(code, 1, "{seen}");
    assert!(
        seen.contains(&format!(
            "{} of {STEPS} steps passed, 0 failed, 1 conditional, 3 not tested.",
            STEPS - 4
        )),
        "{seen}"
    );
    let list = json(&world, &["records", "list", "--json"]);
    assert_eq!(
        list[0]["verdict"], "not tested",
        "an abandoned run is no conditional pass"
    );
    let again = world.run(&["audit"]);
    assert_eq!(again.status.code(), Some(0), "the same verdicts come out again");
}

#[test]
fn limits_without_what_every_walk_needs_judge_no_job() {
    let world = World::new();
    let (country, edition) = with_country();
    let alone = country.replace("builds_on: [\"IEC\", \"practice\"],", "");
    let edited = job(&world, &[(edition, &alone)]);
    let output = world.run(&["check", &edited]);
    assert_eq!(output.status.code(), Some(2));
    let errors = text(&output.stderr);
    for of in ["a.c. upper", "work left for"] {
        let line = format!("error: no row `{of}` in the table of ");
        assert!(errors.contains(&line), "{line}\nis not in\n{errors}");
    }
    let next = "help: let its set build on one that has it: `builds_on: [\"IEC\", \"practice\"]`\n";
    assert!(errors.contains(next), "{errors}");
}
