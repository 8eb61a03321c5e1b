//! `identify` and `distance` typed into the shipped binary.

use crate::world::{World, text};

fn said(args: &[&str], lines: &[&str]) -> (i32, String, String) {
    let output = World::new().typed(args, &format!("{}\n", lines.join("\n")));
    (
        output.status.code().unwrap(),
        text(&output.stdout),
        text(&output.stderr),
    )
}

#[test]
fn three_cores_are_told_apart_in_two_walks() {
    // A is 3, B is 2, C is 1
    let lines = ["dead", "none", "2-3", "A-C", "none", "A-B", "1-2"];
    let (code, out, errors) = said(&["identify", "--cores", "3"], &lines);
    assert_eq!(code, 0, "{out}{errors}");
    assert!(
        out.contains("\nits checking walk was as listed at both ends.\n"),
        "{out}"
    );
    assert!(
        out.contains("3 cores, joining cores at one end, looking at the other: 2 walks."),
        "{out}"
    );
    assert!(out.contains("walk 1 of 2, to the far end\n    do       At the near end join A-B, and leave the rest apart.\n    do       Walk to the far end."), "{out}");
    for row in ["B", "A", "C"] {
        assert!(out.contains(&format!("\n {row} ")), "{out}");
    }
    assert!(out.contains("2 walks between the ends."), "{out}");
    assert!(
        flat(&out).contains("prove the cable dead at both ends with a two-pole voltage indicator"),
        "{out}"
    );
}

/// Without line breaks and runs of blanks.
fn flat(text: &str) -> String {
    text.split_whitespace().collect::<Vec<_>>().join(" ")
}

/// Near labels to far labels of a JSON result.
fn pairs(out: &str) -> Vec<String> {
    let value: serde_json::Value = serde_json::from_str(out).unwrap_or_else(|e| panic!("{e}: {out}"));
    let rows = value["rows"].as_array().unwrap().iter();
    rows.map(|r| {
        format!(
            "{}={} {}",
            r["near"][0].as_str().unwrap_or("?"),
            r["far"][0].as_str().unwrap_or("?"),
            r["state"].as_str().unwrap()
        )
    })
    .collect()
}

#[test]
fn the_result_is_json_with_every_look() {
    let world = World::new();
    let args = ["identify", "--cores", "3", "--json"];
    // at the far end 2 and 3 conduct; 2 and 1 are joined next, so that A and C conduct back at the near end
    let output = world.typed(&args, "dead\nnone\n2-3=0.7 1-2=OL\nA-C\nnone\nskip\n");
    assert_eq!(output.status.code(), Some(0), "{}", text(&output.stderr));
    let found = pairs(&text(&output.stdout));
    let joined = text(&output.stderr);
    let linked_second = if joined.contains("At the far end join 1-2") {
        ["A=2", "B=3"]
    } else {
        ["A=3", "B=2"]
    };
    assert_eq!(
        found,
        [
            format!("{} conducts", linked_second[0]),
            format!("{} conducts", linked_second[1]),
            "C=1 conducts".to_owned()
        ]
    );
    let value: serde_json::Value = serde_json::from_slice(&output.stdout).unwrap();
    assert_eq!(value["checked"], "left_out");
    let look = &value["steps"][1];
    assert_eq!(
        (&look["typed"], &look["read_as"]),
        (&"2-3=0.7 1-2=OL".into(), &"2-3".into())
    );
}

#[test]
fn a_broken_core_is_named_and_the_rest_is_told_by_extra_walks() {
    // five cores, letters and numbers alike; C (= 3) is broken
    let joins = |out: &str| -> Vec<Vec<String>> {
        let last = out.rfind("end join ").unwrap();
        let list = out[last + 9..].split(['\n', '.']).next().unwrap();
        let list = list.split(", and leave").next().unwrap();
        list.split(", ")
            .map(|g| g.split('-').map(str::to_owned).collect())
            .collect()
    };
    let world = World::new();
    let mut walk = world.talk(&["identify", "--cores", "5"]);
    for line in ["dead", "none"] {
        walk.question();
        walk.answer(line);
    }
    while walk.question().is_some() {
        if walk.seen.contains("end join nothing")
            && walk.seen.rfind("end join nothing")
                > walk
                    .seen
                    .rfind("end join ")
                    .filter(|i| !walk.seen[*i..].starts_with("end join nothing"))
        {
            walk.answer("none");
            continue;
        }
        let to_far = walk.seen.rfind("to the far end\n") > walk.seen.rfind("to the near end\n");
        let other = |label: &str| match (to_far, label) {
            (true, letter) => (letter.as_bytes()[0] - b'A' + 1).to_string(),
            (false, number) => char::from(b'A' + number.parse::<u8>().unwrap() - 1).to_string(),
        };
        let conducting: Vec<String> = joins(&walk.seen)
            .iter()
            .map(|g| {
                g.iter()
                    .map(|l| other(l))
                    .filter(|l| l != "C" && l != "3")
                    .collect::<Vec<_>>()
            })
            .filter(|g| 1 < g.len())
            .map(|g| g.join("-"))
            .collect();
        walk.answer(&if conducting.is_empty() {
            "none".into()
        } else {
            conducting.join(" ")
        });
    }
    let (code, seen, errors) = walk.close();
    assert_eq!(code, 1, "{seen}{errors}");
    assert!(seen.contains("FAULT    No sound cable looks like this"), "{seen}");
    assert!(
        seen.contains("BROKEN: conducts to nothing at the other end; the two ends of one core, by"),
        "{seen}"
    );
    for pair in [
        "(name: \"A-1\", size: \"?\"",
        "(name: \"B-2\"",
        "(name: \"D-4\"",
        "(name: \"E-5\"",
        "// C = 3: BROKEN",
    ] {
        assert!(seen.contains(pair), "{pair}\n{seen}");
    }
}

#[test]
fn resistors_tell_four_cores_in_one_walk() {
    // hub A is 2; B (1.2 kohm) is 4, C (1.5 kohm) is 1, D (1.8 kohm) is 3
    let lines = [
        "dead", "none", "none", "1.52k", "3.33k", "2.71k", "1.79k", "1.21k", "skip",
    ];
    let (code, out, errors) = said(&["identify", "--cores", "4", "--kit", "resistors", "--json"], &lines);
    assert_eq!(code, 0, "{out}{errors}");
    assert!(
        errors.contains("At the near end connect A to C by 1.5 kohm."),
        "{errors}"
    );
    assert_eq!(
        pairs(&out),
        ["A=2 conducts", "B=4 conducts", "C=1 conducts", "D=3 conducts"]
    );
}

#[test]
fn a_diode_tells_two_cores_and_links_do_not() {
    let (code, out, _) = said(
        &["identify", "--cores", "2", "--kit", "diode", "--json"],
        &["dead", "none", "A-B", "2-1"],
    );
    assert_eq!(
        (code, pairs(&out)),
        (0, vec!["A=2 conducts".to_owned(), "B=1 conducts".to_owned()])
    );
    let (code, _, errors) = said(&["identify", "--cores", "2"], &[]);
    assert_eq!(code, 2);
    assert_eq!(
        errors,
        "error: two cores cannot be told apart with links: joined or apart, both look the same from the other end, whichever is which\n \
         next: bring a diode (`--kit diode`), a conductor known at both ends (`--kit earth`), or a third core of the same cable (`--cores 3`)\n"
    );
    for (answers, why) in [
        (
            ["dead", "none", "A-B", "both"],
            "both ways conduct at the far end: the diode is shorted or the two cores touch",
        ),
        (["dead", "none", "A-B", "none"], "one core or both are broken"),
        (
            ["dead", "none", "none", ""],
            "the diode conducts neither way: it is open or not gripped",
        ),
        (["dead", "A-B", "", ""], "the two cores touch inside the cable"),
    ] {
        let (code, out, _) = said(&["identify", "--cores", "2", "--kit", "diode"], &answers);
        assert!(code == 1 && out.contains(why), "{out}");
    }
}

#[test]
fn wrong_answers_are_asked_again_and_the_last_one_can_be_taken_back() {
    let lines = [
        "back", "yes", "dead", "1-2", "A-B", "back", "none", "2-3", "A-C", "none", "skip",
    ];
    let (code, out, _) = said(&["identify", "--cores", "3"], &lines);
    assert_eq!(code, 0, "{out}");
    for note in [
        "note     there is no earlier answer to take back",
        "note     `yes` is not an answer to this question, the answers are: `dead`",
        "note     `1` is no label at the near end, the labels there are A to C",
        "next     type the labels that conduct to each other, as `1-4 2-5`, or `none`",
    ] {
        assert!(out.contains(note), "{note}\n{out}");
    }
    let (code, _, errors) = said(&["identify", "--cores", "3"], &["dead", "none"]);
    assert_eq!(code, 1);
    assert!(
        errors.contains("error: the input ended after 2 answers, before everything was known"),
        "{errors}"
    );
}

#[test]
fn answers_that_no_cable_explains_are_refused() {
    // A and B are joined and nothing conducts; then A and B conduct through 1 and 2, so both are sound
    let lines = ["dead", "none", "none", "A-B", "none"];
    let (_, out, errors) = said(&["identify", "--cores", "3"], &lines);
    assert!(
        out.contains("note     no cable explains these answers"),
        "{out}{errors}"
    );
    assert!(
        out.contains("next     a joint was loose, or an answer was mistyped: `back` takes the last answer back"),
        "{out}"
    );
}

#[test]
fn the_far_end_left_unseen_is_said() {
    let lines = ["dead", "none", "2-3", "A-C", "skip", "skip"];
    let (code, out, _) = said(&["identify", "--cores", "3"], &lines);
    assert_eq!(code, 1);
    assert!(out.contains("the far end was not seen with everything parted"), "{out}");
}

#[test]
fn plans_and_requests() {
    let world = World::new();
    let out = text(&world.run(&["identify", "--cores", "4", "--plan"]).stdout);
    assert!(
        out.contains("One core will be known by elimination") && out.contains("join A-B."),
        "{out}"
    );
    let out = text(
        &world
            .run(&[
                "identify",
                "--job",
                "fixtures/saltmarsh.ron",
                "--kit",
                "links=1",
                "--plan",
                "--json",
            ])
            .stdout,
    );
    let value: serde_json::Value = serde_json::from_str(&out).unwrap();
    assert_eq!(
        (&value["cores"], &value["walks"], &value["fewest"]["pairs"]),
        (&4.into(), &2.into(), &6.into())
    );
    let nothing = world.run(&["identify"]);
    assert_eq!(nothing.status.code(), Some(2));
    assert!(text(&nothing.stderr).contains("neither the number of cores nor a job is given"));
}

#[test]
fn actuators_are_mapped_by_calls_of_several_zones() {
    let args = ["identify", "--zones", "3", "--actuators", "4"];
    let lines = ["none", "1 2 3 4", "1 2 9", "1 2", "back", "1", "3 4", "2"];
    let (code, out, errors) = said(&args, &lines);
    assert_eq!(code, 0, "{out}{errors}");
    for said in [
        "3 zones, 4 actuators: 4 calls, 32 minutes of waiting, one by one 32.",
        "do Call every zone. do Wait 8 minutes, and until nothing moves any more.",
        "do Call 1 and no other.",
        "note `9` is not an answer to this question",
    ] {
        assert!(flat(&out).contains(said), "{said}\n{out}");
    }
    for (actuator, zone) in [(1, 1), (2, 3), (3, 2), (4, 2)] {
        assert!(out.contains(&format!(" {actuator}        | zone {zone}")), "{out}");
    }
    // 1 lags by a look, 2 sticks open, 3 never opens, 4 stood open before
    let (code, out, _) = said(&args, &["4", "2", "1 2", "2", "2"]);
    assert_eq!(code, 1);
    for said in [
        " 1        | FITS NO ZONE",
        " 2        | FITS NO ZONE",
        " 3        | NEVER OPENED",
        " 4        | OPEN BEFORE ANY CALL",
        "zones without an actuator: 1, 2, 3",
    ] {
        assert!(out.contains(said), "{said}\n{out}");
    }
}

#[test]
fn the_fewest_calls_say_what_they_do_not_notice() {
    let args = ["identify", "--zones", "3", "--fewest"];
    let (code, out, errors) = said(&args, &["none", "1 2", "2 3"]);
    assert_eq!(code, 0, "{out}{errors}");
    assert!(
        flat(&out).contains("3 zones, 3 actuators: 2 calls, 16 minutes of waiting, one by one 24."),
        "{out}"
    );
    assert!(
        flat(&out).contains("can name a wrong zone; without `--fewest` that is noticed"),
        "{out}"
    );
    let plan = said(&["identify", "--zones", "6", "--plan"], &[]).1;
    assert!(
        plan.contains(" 1    | 1 2 3 4 5 6") && plan.contains(" 2    | 1 2 3"),
        "{plan}"
    );
    let json = said(
        &["identify", "--zones", "3", "--json"],
        &["none", "1 2 3", "1", "2", "3"],
    )
    .1;
    let value: serde_json::Value = serde_json::from_str(&json).unwrap();
    assert_eq!(value["actuators"][2]["zone"], 3);
}

#[test]
fn distances_to_a_break_and_a_contact() {
    let world = World::new();
    let out = world.run(&["distance", "--near", "1.2 nF", "--far", "0.8 nF", "--length", "20 m"]);
    assert_eq!(
        text(&out.stdout).lines().next().unwrap(),
        "break 12.0 m from the near end, within 0.7 m (coverage factor 2)"
    );
    let out = world.run(&[
        "distance",
        "--near",
        "1.02 nF",
        "--per-metre",
        "85 pF/m",
        "--length",
        "20 m",
    ]);
    assert!(
        text(&out.stdout).starts_with("break 12.0 m from the near end, within 1.6 m"),
        "{}",
        text(&out.stdout)
    );
    let args = [
        "distance",
        "--near",
        "0.434 ohm",
        "--far",
        "0.29 ohm",
        "--loop",
        "0.724 ohm",
        "--length",
        "20 m",
    ];
    let out = text(&world.run(&args).stdout);
    assert!(
        out.starts_with("contact 12.0 m from the near end, within 0.4 m") && out.contains("about 0.00 ohm"),
        "{out}"
    );
    for (args, error) in [
        (
            &["--near", "1 nF", "--far", "1 nF"][..],
            "error: `--length` is missing: a break is placed as a share of the length\n",
        ),
        (
            &["--near", "1 nF"],
            "error: `--far` is missing: give the reading from the far end, or `--per-metre` measured on a known length\n",
        ),
        (
            &["--near", "1 ohm", "--loop", "1 ohm", "--length", "9 m"],
            "error: `--far` is missing: a contact is placed by readings from both ends\n",
        ),
        (
            &["--near", "1 ohm", "--far", "1 ohm", "--loop", "1 ohm"],
            "error: `--length` is missing: a contact is placed as a share of the length\n",
        ),
        (
            &["--near", "1 F", "--far", "1 nF", "--length", "9 m"],
            "error: `1 F` is not a capacitance\n next: write it as `2.1 nF`\n",
        ),
        (
            &["--near", "1 nF", "--meter-percent", "101"],
            "error: `--meter-percent 101` is not within 0 to 100\n",
        ),
    ] {
        let refused = world.run(&[&["distance"], args].concat());
        assert_eq!(
            (refused.status.code(), text(&refused.stderr).as_str()),
            (Some(2), error)
        );
    }
}

#[test]
fn a_broken_core_that_was_located_comes_with_the_command_for_its_distance() {
    let world = World::new();
    let path = world.path("readings.txt");
    std::fs::write(&path, "continuity/brown: 0.66\ncontinuity/grey: OL\n").unwrap();
    let args = ["locate", "--readings", path.to_str().unwrap()];
    let shown = text(&world.run(&args).stdout);
    assert!(
        shown.contains("How far away, where it is `core-open:grey`: Switched off, locked off, proved dead"),
        "{shown}"
    );
    let command = shown.lines().last().unwrap().trim();
    assert_eq!(
        command,
        "coreproof distance --near \"NEAR nF\" --far \"FAR nF\" --length \"18 m\""
    );
    // as a person would type it
    let filled = command.replace("NEAR", "1.2").replace("FAR", "0.6");
    let mut words: Vec<&str> = filled.split('"').collect();
    words.retain(|word| !word.trim().is_empty());
    let args: Vec<&str> = words.iter().map(|word| word.trim()).collect();
    let args: Vec<&str> = args
        .iter()
        .flat_map(|word| {
            word.strip_prefix("coreproof ")
                .map_or(vec![*word], |rest| rest.split(' ').collect())
        })
        .collect();
    let out = text(&world.run(&args).stdout);
    assert!(out.starts_with("break 12.0 m from the near end"), "{args:?}: {out}");
    let json = [&["locate", "--readings", path.to_str().unwrap()][..], &["--json"]].concat();
    let located: serde_json::Value = serde_json::from_slice(&world.run(&json).stdout).unwrap();
    assert_eq!(located["far_away"]["fault"], "core-open:grey");
}
