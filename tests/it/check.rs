//! What `check` and `plan` say of good and bad files.

use crate::world::{STEPS, World, repo, text};

/// Writes an edited copy of a shipped file and checks it, alone or with the other shipped file.
fn refused(file: &str, edits: &[(&str, &str)], with: &[&str]) -> (Option<i32>, String) {
    let world = World::new();
    let mut files = vec![(world.path("edited.ron"), repo(file))];
    if file == SEQUENCE {
        std::fs::create_dir(world.path("parts")).unwrap();
        for part in ["isolate.ron", "dead-tests.ron", "connect.ron"] {
            files.push((world.path("parts").join(part), repo("sequences/parts").join(part)));
        }
    }
    let read = |(to, from): (_, _)| (to, std::fs::read_to_string(from).unwrap());
    let mut contents: Vec<(std::path::PathBuf, String)> = files.into_iter().map(read).collect();
    for (from, to) in edits {
        let found = contents.iter_mut().find(|(_, content)| content.contains(from));
        let (_, content) = found.unwrap_or_else(|| panic!("`{from}` is neither in {file} nor in its parts"));
        *content = content.replacen(from, to, 1);
    }
    for (path, content) in &contents {
        std::fs::write(path, content).unwrap();
    }
    let path = world.path("edited.ron");
    let mut args = vec!["check", path.to_str().unwrap()];
    args.extend_from_slice(with);
    let output = world.run(&args);
    let errors = text(&output.stderr).replace(world.home.path().to_str().unwrap(), "");
    (output.status.code(), errors)
}

const JOB: &str = "fixtures/saltmarsh.ron";
const SEQUENCE: &str = "sequences/stat-cable.ron";

/// File, edits, files checked with it, what is said.
type Case<'a> = (&'a str, &'a [(&'a str, &'a str)], &'a [&'a str], &'a str);

#[test]
fn a_dead_test_that_could_not_fail_is_refused() {
    let source = std::fs::read_to_string(repo("sequences/parts/dead-tests.ron")).unwrap();
    let sequence = std::fs::read_to_string(repo(SEQUENCE)).unwrap();
    let steps = source.split_once("steps: [").unwrap().1;
    let steps = &steps[..steps.rfind("],").unwrap()];
    let whole = sequence.replace("Include(\"parts/dead-tests.ron\"),", steps);
    let world = World::new();
    let check = |was: &str, edge: &str| {
        let path = world.path("lax.ron");
        let stated = format!("window: Stated({edge}, source: \"common practice\")");
        std::fs::write(&path, whole.replace(&format!("window: {was}"), &stated)).unwrap();
        let output = world.run(&["check", path.to_str().unwrap(), JOB]);
        (output.status.code(), text(&output.stderr))
    };
    let cases = [
        (
            "InsulationMinimum",
            "low: \"0.5 Mohm\"",
            "the lower edge `0.5 Mohm` is below 1.0 Mohm, the least that shows sound insulation",
        ),
        (
            "OpenCircuit",
            "low: \"0 ohm\"",
            "the lower edge `0 ohm` is below 99.9 ohm, the least that shows an open circuit",
        ),
        (
            "CableOrPair",
            "high: \"2 kohm\"",
            "the upper edge `2 kohm` is above 1 kohm, which counts as open",
        ),
        (
            "LeadResistance",
            "high: \"3 ohm\"",
            "the upper edge `3 ohm` is above 0.5 ohm, the most that leads may have",
        ),
    ];
    for (was, edge, expected) in cases {
        let (code, errors) = check(was, edge);
        assert_eq!(code, Some(2), "{expected}\n{errors}");
        assert!(
            errors.contains(&format!("{expected}: this test could not fail where it must")),
            "{errors}"
        );
    }
    for (was, edge) in [
        ("InsulationMinimum", "low: \"2 Mohm\""),
        ("OpenCircuit", "low: \"200 ohm\""),
    ] {
        assert_eq!(
            check(was, edge).0,
            Some(0),
            "{was}: a stricter window is the sequence's own affair"
        );
    }
}

#[test]
fn bad_files_say_what_is_wrong() {
    let stated = |window: &str| format!("LeadNull(id: \"lead-null\", window: {window},");
    let null = "LeadNull(id: \"lead-null\", window: LeadResistance,";
    let cases: &[Case<'_>] = &[
        (
            JOB,
            &[("place:", "plaice:")],
            &[],
            "unexpected field named `plaice` in `Job`",
        ),
        (
            JOB,
            &[("size: \"1.0 mm2\"", "size: \"1.2 mm2\"")],
            &[],
            "no row `1.2 mm2` in the table of conductor resistance, class 1 and 2",
        ),
        (
            JOB,
            &[("\"18 m\"", "\"18 furlong\"")],
            &[],
            "`furlong` is not a unit known here",
        ),
        (JOB, &[("\"18 m\"", "\"0 m\"")], &[], "`0 m` is not above zero"),
        (
            JOB,
            &[("\"15 degC\"", "\"150 degC\"")],
            &[],
            "`150 degC` is outside -20 degC to 90 degC",
        ),
        (
            JOB,
            &[("can: [ProveDead]", "can: []")],
            &[],
            "no instrument can prove dead",
        ),
        (
            JOB,
            &[("format: \"1.1\"", "format: \"2.0\"")],
            &[],
            "this job has format `2.0`, this program reads up to `1.1`",
        ),
        (
            JOB,
            &[("carries: SwitchedLive", "carries: VoltFree")],
            &[],
            "core `black` carries volt-free but terminal `3` at the wiring centre is for switched live",
        ),
        (
            JOB,
            &[("name: \"grey\"", "name: \"brown\"")],
            &[],
            "two cores are called `brown`",
        ),
        (
            SEQUENCE,
            &[("act: LockOff", "act: LockOf")],
            &[],
            "unexpected variant named `LockOf` in enum `Act`",
        ),
        (
            SEQUENCE,
            &[(
                null,
                &stated("Stated(low: \"0.5 ohm\", high: \"0.1 ohm\", source: \"common practice\")"),
            )],
            &[],
            "the lower edge `0.5 ohm` is above the upper edge `0.1 ohm`",
        ),
        (
            SEQUENCE,
            &[(null, &stated("Stated(high: \"5 V\", source: \"common practice\")"))],
            &[],
            "`5 V` is a voltage, this step measures a resistance",
        ),
        (
            SEQUENCE,
            &[(null, &stated("Stated(high: \"0.5 ohm\", source: \"\")"))],
            &[],
            "a figure without a source cannot judge a reading",
        ),
        (
            SEQUENCE,
            &[(null, &stated("SupplyVoltage"))],
            &[],
            "this window does not judge a resistance",
        ),
        (
            SEQUENCE,
            &[("{known source}", "{known sauce}")],
            &[],
            "`{known sauce}` is not a placeholder",
        ),
        (
            SEQUENCE,
            &[("id: \"lock-off\"", "id: \"switch-off\"")],
            &[],
            "two steps are called `switch-off`",
        ),
        (
            SEQUENCE,
            &[("after: (\"call\"", "after: (\"cull\"")],
            &[],
            "no step is called `cull`",
        ),
        (
            SEQUENCE,
            &[("(\"end switch\", \"neutral\")", "(\"bell\", \"neutral\")")],
            &[JOB],
            "the wiring centre has no terminal for `bell`",
        ),
        (
            SEQUENCE,
            &[("(\"end switch\", \"neutral\")", "(\"volt-free\", \"neutral\")")],
            &[JOB],
            "the wiring centre has no terminal for `volt-free`",
        ),
        (
            SEQUENCE,
            &[(
                "EachCore([",
                "Continuity(id: \"one\", core: \"pink\", window: Cable, say: \"x\"),\n        EachCore([",
            )],
            &[JOB],
            "the job has no core `pink`",
        ),
        (
            SEQUENCE,
            &[("stage: Test, act: RemoveEveryLink", "stage: Test, act: Discharge")],
            &[JOB],
            "rule `sound-passes` at `all-open/grey`",
        ),
        (
            SEQUENCE,
            &[("act: LockOff", "act: KeepKey")],
            &[JOB],
            "rule `locked-before-proving` at `dead-near/earth-line`: not shown on every path: the supply is locked off",
        ),
    ];
    for (file, edits, with, expected) in cases {
        let (code, errors) = refused(file, edits, with);
        assert_eq!(code, Some(2), "{expected}\n{errors}");
        assert!(errors.contains(expected), "`{expected}` is not in\n{errors}");
        assert!(
            errors.contains("--> /edited.ron:") || errors.contains("--> parts/"),
            "{errors}"
        );
    }
}

#[test]
fn a_plan_shows_every_window_with_its_source() {
    let output = World::new().run(&["plan", SEQUENCE, "--job", JOB, "--json"]);
    let plan: serde_json::Value = serde_json::from_slice(&output.stdout).unwrap();
    let steps = plan["steps"].as_array().unwrap();
    assert_eq!(steps.len(), STEPS);
    let measures: Vec<_> = steps.iter().filter_map(|s| s["kind"].get("Measure")).collect();
    assert_eq!(measures.len(), 34);
    for measure in measures {
        let basis = measure["window"]["Fixed"]["basis"].as_array().unwrap();
        assert!(
            !basis.is_empty() && basis.iter().all(|b| !b["source"].as_str().unwrap().is_empty()),
            "{measure}"
        );
    }
}

#[test]
fn a_tester_not_fit_for_building_wiring_is_refused_for_live_tests() {
    let world = World::new();
    let job = std::fs::read_to_string(repo(JOB)).unwrap();
    for (marked, fits) in [
        ("CAT III 300 V", true),
        ("CAT IV 600 V", true),
        ("CAT II 300 V", false),
        ("CAT III 150 V", false),
        ("III", false),
    ] {
        let path = world.path("category.ron");
        std::fs::write(&path, job.replace("CAT III 300 V", marked)).unwrap();
        let output = world.run(&["check", SEQUENCE, path.to_str().unwrap()]);
        assert_eq!(output.status.code(), Some(if fits { 0 } else { 2 }), "{marked}");
        let said = format!("`tester` is marked `{marked}`, which does not fit a live test at 230 V");
        assert_eq!(text(&output.stderr).contains(&said), !fits, "{}", text(&output.stderr));
    }
}

#[test]
fn two_steps_of_one_name_are_refused_with_what_to_rename() {
    let world = World::new();
    let put = |name: &str, from: &str, edits: &[(&str, &str)]| {
        let mut content = std::fs::read_to_string(repo(from)).unwrap();
        for (from, to) in edits {
            assert!(content.contains(from), "{from}");
            content = content.replace(from, to);
        }
        std::fs::write(world.path(name), content).unwrap();
        world.path(name).to_str().unwrap().to_owned()
    };
    let cores = [
        ("(name: \"2\", s", "(name: \"1-core\", s"),
        ("(name: \"3\", s", "(name: \"core\", s"),
        ("(name: \"4\", s", "(name: \"core-core\", s"),
        ("green-yellow", "earth"),
    ];
    let job = put("job.ron", "fixtures/loft-underfloor.ron", &cores);
    let isolated = "Include(\"parts/isolate.ron\"),";
    let step = "EachPair([ProveDead(id: \"dead\", end: Far, say: \"{first}, {second}\")]),";
    let edits = [(isolated, &*format!("{isolated}\n        {step}"))];
    let sequence = put("sequence.ron", "sequences/underfloor-zones.ron", &edits);
    let output = world.run(&["check", &sequence, &job]);
    assert_eq!(output.status.code(), Some(2));
    let errors = text(&output.stderr).replace(world.home.path().to_str().unwrap(), "");
    let expected = "error: two steps of the plan are called `dead/1-core/core/earth-neutral`, one about core `1` and core `core`, the other \
                    about core `1-core` and core `core`
  --> /sequence.ron:27:33
   |
27 |         EachPair([ProveDead(id: \"dead\", end: Far, say: \"{first}, {second}\")]),
   |                                 ^^^^^^
   |
   = help: rename core `1-core` in the job `/job.ron`

error: 1 error found; nothing was run
";
    assert_eq!(errors, expected);
}

#[test]
fn names_that_an_answer_does_not_tell_apart_are_refused() {
    let check = |name: &str, expected: &str| {
        let (code, errors) = refused(JOB, &[("(name: \"grey\"", &format!("(name: \"{name}\""))], &[]);
        assert_eq!(code, Some(2), "{name}");
        assert!(errors.contains(expected), "{errors}");
    };
    check(
        "Brown",
        "error: two cores are called `brown` and `Brown`\n  --> /edited.ron:30:20",
    );
    check(
        "Brown",
        "help: call one otherwise: a typed answer is read whatever its capitals",
    );
    check("brown", "error: two cores are called `brown`\n");
    for word in ["No", "found", "found it", "all", "a, b"] {
        check(
            word,
            &format!("error: a core cannot be called `{word}`, which is an answer of its own\n"),
        );
    }
    check("no", "help: call it by its colour or number, without a comma");
}
