//! Meters on real ports, and everything that goes wrong with them: the step survives, nothing is invented, and the
//! message names the next act.

use std::io::Write;
use std::net::TcpListener;
use std::time::{Duration, Instant};

use crate::cable::Cable;
use crate::world::{Walk, World, repo, text};

const LIFTED: &str = "LOWOHM;OL;ohm;-";
const GOOD: &str = "LOWOHM;0.04;ohm;-";
const TAKEN: &str = "taken    0.04 ohm, from the meter";

/// A walk with a meter on a cable, at the step that nulls the leads.
struct Bench {
    world: World,
    cable: Cable,
    walk: Walk,
}

impl Bench {
    fn at_lead_null() -> Bench {
        let (world, cable) = (World::with_key(), Cable::new());
        let mut walk = world.walk(&["--meter", &cable.spec()]);
        assert!(walk.to("lead-null"));
        Bench { world, cable, walk }
    }

    /// The probes are in the air, which the program has seen.
    fn lift(&mut self) {
        self.cable.shows(LIFTED);
        self.walk.until("live, not taken: OL (ohm)");
    }

    /// The good value is taken, once, and the walk goes on; the journal holds nothing else from the meter.
    fn takes_the_good_value(mut self) {
        self.walk.until(TAKEN);
        assert_eq!(self.walk.question().as_deref(), Some("continuity/brown"));
        assert_eq!(taken(&self.world), ["0.04 from the meter"], "{}", self.walk.seen);
        self.walk.kill();
    }
}

/// The readings in the only journal.
fn taken(world: &World) -> Vec<String> {
    let journal = text(&std::fs::read(&world.journals()[0]).unwrap());
    let readings = journal.lines().filter_map(|line| {
        let line: serde_json::Value = serde_json::from_str(line).unwrap();
        find(&line, "taken").cloned()
    });
    readings
        .map(|taken| {
            let reading = &taken["reading"];
            let digits = find(&reading["shown"], "digits").unwrap().as_str().unwrap();
            let meter = find(&reading["origin"], "meter");
            if let Some(meter) = meter {
                // nobody types `on` here: the probes were seen to lift
                assert_eq!(meter["contact"], "seen", "{reading}");
            }
            format!("{digits} {}", if meter.is_some() { "from the meter" } else { "typed" })
        })
        .collect()
}

/// A member of an object, at any depth.
fn find<'a>(value: &'a serde_json::Value, name: &str) -> Option<&'a serde_json::Value> {
    let members = value.as_object()?;
    members
        .get(name)
        .or_else(|| members.values().find_map(|member| find(member, name)))
}

#[test]
fn a_settled_reading_takes_the_good_value_from_the_meter() {
    let mut bench = Bench::at_lead_null();
    bench.cable.shows(GOOD);
    // whatever the probes sit on when the step begins is not taken
    bench.walk.until("live, not taken: 0.04 ohm (steady");
    bench.lift();
    bench.cable.shows(GOOD);
    bench.takes_the_good_value();
}

#[test]
fn unplugged_and_plugged_in_again_the_step_goes_on() {
    let mut bench = Bench::at_lead_null();
    bench.lift();
    bench.cable.unplug();
    bench.walk.until("vanished: plug the meter's cable in again");
    std::thread::sleep(Duration::from_millis(1200));
    bench.cable.plug();
    bench.walk.until("is back");
    bench.cable.shows(GOOD);
    bench.takes_the_good_value();
}

#[test]
fn while_the_cable_is_away_readings_can_be_typed() {
    let mut bench = Bench::at_lead_null();
    bench.lift();
    bench.cable.unplug();
    bench.walk.until("vanished");
    bench.walk.answer("0.04");
    bench.walk.until("taken    0.04 ohm, typed");
    assert_eq!(bench.walk.question().as_deref(), Some("continuity/brown"));
    assert_eq!(taken(&bench.world), ["0.04 typed"]);
    bench.walk.kill();
}

#[test]
fn at_a_wrong_speed_the_baud_rate_is_named() {
    let mut bench = Bench::at_lead_null();
    bench.lift();
    // a pseudo-terminal carries any speed: these are the bytes that a receiver at twice the speed makes of a line
    let doubled: &[u8] =
        b"\xf0\x3c\xcc\x0c\x00\xfc\x30\xc0\xf3\x3f\x0c\x00\x9e\xe0\x80\x78\xe6\x18\x86\x66\xf8\x1e\xfe";
    bench.cable.sends(&[doubled]);
    bench
        .walk
        .until("what arrives does not fit profile `line-stream`: set the meter to 9600 baud");
    bench.cable.sends(&[b"\r\n", format!("{GOOD}\r\n").as_bytes()]);
    bench.takes_the_good_value();
}

#[test]
fn half_frames_are_no_readings() {
    let mut bench = Bench::at_lead_null();
    bench.lift();
    // frames that lose their end run into the next; one of the halves looks like a number
    bench
        .cable
        .sends(&[b"LOWOHM;0.0", b"LOWOHM;0.04\r\n", b"0.04;ohm;-\r\n", b"LOWOHM;9"]);
    bench.walk.until("what arrives does not fit profile `line-stream`");
    // and frames that come in halves are whole
    bench.cable.sends(&[b"\r\n"]);
    std::thread::sleep(Duration::from_millis(300));
    bench.cable.sends(&[b"LOWOHM;0.0", b"4;ohm;-\r\n"]);
    bench.takes_the_good_value();
}

#[test]
fn noise_between_good_lines_is_passed_over() {
    let mut bench = Bench::at_lead_null();
    bench.lift();
    let good = format!("{GOOD}\r\n");
    let noise = b"\x00\xff\x7f;9.99;ohm;-\xfe\r\n";
    bench
        .cable
        .sends(&[good.as_bytes(), noise, good.as_bytes(), &[0x55; 120], b"\r\n"]);
    bench.takes_the_good_value();
}

#[test]
fn a_meter_that_fell_asleep_is_woken() {
    let mut bench = Bench::at_lead_null();
    bench.lift();
    bench.cable.sleeps();
    bench
        .walk
        .until("nothing heard from the meter for 3 s: switch the meter on or wake it");
    bench.cable.shows(GOOD);
    bench.takes_the_good_value();
}

#[test]
fn a_held_display_is_not_read() {
    let mut bench = Bench::at_lead_null();
    bench.lift();
    bench.cable.shows("LOWOHM;0.31;ohm;H");
    bench.walk.until("press HOLD");
    std::thread::sleep(Duration::from_secs(2));
    bench.cable.shows(LIFTED);
    std::thread::sleep(Duration::from_millis(500));
    bench.cable.shows(GOOD);
    bench.takes_the_good_value();
}

#[test]
fn a_wrong_dial_is_named_with_the_right_one() {
    let mut bench = Bench::at_lead_null();
    bench.lift();
    bench.cable.shows("OHMS;0.04;ohm;-");
    bench
        .walk
        .until("the meter is on ohms: turn the dial to low-resistance continuity");
    std::thread::sleep(Duration::from_secs(2));
    bench.cable.shows(GOOD);
    bench.takes_the_good_value();
}

#[test]
fn a_port_has_one_reader() {
    let bench = Bench::at_lead_null();
    let spec = bench.cable.spec();
    let path = spec.split_once(',').unwrap().0;
    let expected = format!(
        "error: the port `{path}` is in use by another program\n next: close the other program that talks to the meter\n"
    );
    let other = World::with_key();
    let run = ["run", "sequences/stat-cable.ron", "--job", "fixtures/saltmarsh.ron"];
    for args in [&["meter", "watch"][..], &run[..]] {
        let output = other.run(&[args, &["--meter", &spec]].concat());
        assert_eq!(
            (output.status.code(), text(&output.stderr)),
            (Some(3), expected.clone())
        );
    }
    assert!(other.journals().is_empty());
    // and the first reader never noticed
    let mut bench = bench;
    bench.lift();
    bench.cable.shows(GOOD);
    bench.takes_the_good_value();
}

/// A recording: each line is sent so many times, ten times a second.
fn recording(world: &World, name: &str, profile: &str, lines: &[(&str, u32)]) -> String {
    let mut text = format!("coreproof-recording 1.0 {profile}\n");
    let mut ms = 0;
    for (line, times) in lines {
        for _ in 0..*times {
            let hex: String = format!("{line}\r\n").bytes().map(|b| format!("{b:02x}")).collect();
            text.push_str(&format!("+{ms} {hex}\n"));
            ms += 100;
        }
    }
    let path = world.path(name);
    std::fs::write(&path, text).unwrap();
    path.display().to_string()
}

#[test]
fn a_replayed_capture_drives_a_run_and_its_end_is_said() {
    let world = World::with_key();
    let path = recording(&world, "null.rec", "line-stream", &[(LIFTED, 100), (GOOD, 60)]);
    let mut walk = world.walk(&["--meter", &format!("replay:{path}")]);
    assert!(walk.to("lead-null"));
    walk.until(TAKEN);
    assert!(walk.to("continuity/brown"));
    walk.until("is over, no more readings come from it: type the readings that are");
    walk.answer("0.63");
    walk.until("taken    0.63 ohm, typed");
    assert_eq!(taken(&world), ["0.04 from the meter", "0.63 typed"]);
    walk.kill();
}

#[test]
fn a_capture_without_its_timing_does_not_drive_a_run() {
    let world = World::with_key();
    let path = recording(&world, "null.rec", "line-stream", &[(GOOD, 3)]);
    let spec = format!("replay-fast:{path}");
    let args = ["run", "sequences/stat-cable.ron", "--job", "fixtures/saltmarsh.ron"];
    let output = world.run(&[&args[..], &["--meter", &spec]].concat());
    let expected = format!(
        "error: `{spec}` is played without its timing, which does not show what stands still\n next: use a recording with \
         its timing, `replay:FILE`\n"
    );
    assert_eq!((output.status.code(), text(&output.stderr)), (Some(2), expected));
    assert!(world.journals().is_empty());
}

#[test]
fn standard_input_needs_another_place_for_the_answers() {
    let world = World::with_key();
    let args = ["run", "sequences/stat-cable.ron", "--job", "fixtures/saltmarsh.ron"];
    // a session of its own has no terminal
    let program = env!("CARGO_BIN_EXE_coreproof");
    let output = world
        .command_of(
            "setsid",
            &[&["-w", program][..], &args, &["--meter", "stdin:,line-stream"]].concat(),
        )
        .output()
        .unwrap();
    assert_eq!(output.status.code(), Some(2), "{}", text(&output.stderr));
    assert_eq!(
        text(&output.stderr),
        "error: standard input carries the meter, and there is no terminal to answer on: No such device or address (os \
         error 6)\n next: start it from a terminal, or give the meter another port\n"
    );
    assert!(world.journals().is_empty());
}

#[test]
fn what_was_recorded_is_replayed_reading_by_reading() {
    let (world, cable) = (World::new(), Cable::new());
    let path = world.path("a.rec").display().to_string();
    let spec = cable.spec();
    cable.sends(&[b"VAC;231.4;V;-\r\n", b"VAC;231", b".5;V;-\r\n", b"noise\r\n"]);
    let watch = |args: &[&str]| world.run(&[&["meter", "watch", "--json", "--meter"], args].concat());
    let live = watch(&[&spec, "--count", "12", "--record", &path]);
    assert_eq!(live.status.code(), Some(0), "{}", text(&live.stderr));
    let readings = |output: &[u8]| -> Vec<String> {
        text(output)
            .lines()
            .map(|line| serde_json::from_str::<serde_json::Value>(line).unwrap())
            .filter_map(|line| Some(format!("{} {}", line["reading"].as_str()?, line["raw"].as_str()?)))
            .collect()
    };
    assert_eq!(readings(&live.stdout).len(), 12, "{}", text(&live.stdout));
    let fast = watch(&[&format!("replay-fast:{path}")]);
    let began = Instant::now();
    let timed = watch(&[&format!("replay:{path}")]);
    assert!(
        Duration::from_secs(2) < began.elapsed(),
        "twelve readings took two seconds"
    );
    for played in [fast, timed] {
        assert_eq!(played.status.code(), Some(0));
        assert_eq!(readings(&played.stdout), readings(&live.stdout));
    }
    // an existing recording is never written over
    let again = watch(&[&spec, "--record", &path]);
    assert_eq!(
        (again.status.code(), text(&again.stderr)),
        (
            Some(2),
            format!(
                "error: the recording `{path}` cannot be written: File exists (os error 17)\n next: name a file that is \
                 not there yet\n"
            )
        )
    );
}

#[test]
fn a_watch_shows_rate_motion_and_bytes() {
    let (world, cable) = (World::new(), Cable::new());
    cable.shows("VAC;231.4;V;-");
    let spec = cable.spec();
    let output = world.run(&["meter", "watch", "--meter", &spec, "--count", "30", "--raw"]);
    let out = text(&output.stdout);
    assert_eq!(output.status.code(), Some(0), "{}", text(&output.stderr));
    assert!(out.contains("231.4 V, a.c. volts, moving"), "{out}");
    let last = out
        .lines()
        .rev()
        .find_map(|line| line.strip_prefix("231.4 V, a.c. volts, steady, "))
        .unwrap();
    let rate: f64 = last.strip_suffix(" readings/s").unwrap().parse().unwrap();
    assert!((9.0..=10.1).contains(&rate), "{rate}");
    assert!(
        out.contains(" ms  56 41 43 3b 32 33 31 2e 34 3b 56 3b 2d 0d 0a     VAC;231.4;V;-.."),
        "{out}"
    );
}

#[test]
fn a_watch_waits_and_a_count_gives_up() {
    let (world, cable) = (World::new(), Cable::new());
    let spec = cable.spec();
    // a meter that is never silent for a second
    let shipped = std::fs::read_to_string(repo("src/meter/profile/shipped/line-stream.ron")).unwrap();
    let hasty = world.path("hasty.ron");
    std::fs::write(&hasty, shipped.replace("quiet_ms_max: 3000", "quiet_ms_max: 1000")).unwrap();
    let of_hasty = spec.replace("line-stream", hasty.to_str().unwrap());
    let silent = world.run(&["meter", "watch", "--meter", &of_hasty, "--count", "1"]);
    let act = "switch the meter on or wake it, switch its data output on, and check the cable at both ends";
    assert_eq!(silent.status.code(), Some(3));
    assert_eq!(
        text(&silent.stderr),
        format!(
            "nothing heard from the meter for 1 s\n next: {act}\nerror: no reading came for 3 s: nothing heard from the \
             meter for 1 s\n next: {act}\n"
        )
    );
    let mut walk = world.talk(&["meter", "watch", "--json", "--meter", &spec]);
    cable.shows(GOOD);
    walk.until("0.04 ohm");
    cable.unplug();
    walk.until("vanished");
    cable.plug();
    walk.until("is back");
    walk.until("0.04 ohm");
    let interrupt = std::process::Command::new("kill")
        .args(["-INT", &walk.child.id().to_string()])
        .status();
    assert!(interrupt.unwrap().success());
    assert_eq!(walk.close().0, 0, "Ctrl-C ends a watch in peace");
}

#[test]
fn a_watch_of_a_short_capture_or_of_nothing_known_says_so() {
    let world = World::new();
    let path = recording(&world, "short.rec", "-", &[(GOOD, 3)]);
    let port = format!("replay-fast:{path}");
    let spec = format!("{port},line-stream");
    let cases = [
        (
            vec!["--meter", &spec, "--count", "5"],
            3,
            format!("`{port}` is over after 3 of 5 readings"),
            "play a longer capture, or ask for fewer readings".to_owned(),
        ),
        (
            vec!["--meter", &port],
            2,
            format!("`{port}` names no profile"),
            format!("write `{port},PROFILE`; `coreproof meter list` shows the profiles"),
        ),
        (
            vec!["--meter", "tpc:meter:1,line-stream"],
            2,
            "`tpc:` is no kind of port".into(),
            "write a serial port such as /dev/ttyUSB0, or tcp:HOST:PORT, hid:VENDOR:PRODUCT, replay:FILE, \
             replay-fast:FILE or stdin:"
                .into(),
        ),
    ];
    for (args, code, message, next) in cases {
        let output = world.run(&[&["meter", "watch"], &args[..]].concat());
        let expected = format!("error: {message}\n next: {next}\n");
        assert_eq!((output.status.code(), text(&output.stderr)), (Some(code), expected));
    }
    let readings = world.run(&["meter", "watch", "--meter", &spec]);
    assert_eq!(
        (readings.status.code(), text(&readings.stdout)),
        (Some(0), "0.04 ohm, low-resistance continuity\n".repeat(3))
    );
}

#[test]
fn any_file_of_bytes_and_standard_input_are_watched() {
    let world = World::new();
    let capture = "fixtures/captures/line-stream.txt";
    let file = world.run(&[
        "meter",
        "watch",
        "--meter",
        &format!("replay-fast:{capture},line-stream"),
    ]);
    let bytes = std::fs::read_to_string(crate::world::repo(capture));
    let bytes = bytes.unwrap_or_else(|_| text(&std::fs::read(crate::world::repo(capture)).unwrap()));
    let input = world.typed(&["meter", "watch", "--json", "--meter", "stdin:,line-stream"], &bytes);
    assert_eq!((file.status.code(), input.status.code()), (Some(0), Some(0)));
    let (file, input) = (text(&file.stdout), text(&input.stdout));
    assert!(2 < file.lines().count(), "{file}");
    let input: Vec<String> = input
        .lines()
        .map(|line| serde_json::from_str::<serde_json::Value>(line).unwrap())
        .filter_map(|line| Some(line["reading"].as_str()?.to_owned()))
        .collect();
    let file: Vec<String> = file.lines().map(|l| l.split(", ").next().unwrap().to_owned()).collect();
    assert_eq!(file, input);
}

#[test]
fn a_networked_instrument_is_watched_and_one_that_is_off_is_named() {
    let world = World::new();
    let listener = TcpListener::bind("127.0.0.1:0").unwrap();
    let port = listener.local_addr().unwrap().port();
    let spec = format!("tcp:127.0.0.1:{port},line-stream");
    let instrument = std::thread::spawn(move || {
        let (mut stream, _) = listener.accept().unwrap();
        for _ in 0..5 {
            stream.write_all(b"VAC;231.4;V;-\r\n").unwrap();
            std::thread::sleep(Duration::from_millis(20));
        }
    });
    let output = world.run(&["meter", "watch", "--meter", &spec, "--count", "5"]);
    assert_eq!(output.status.code(), Some(0), "{}", text(&output.stderr));
    assert_eq!(text(&output.stdout).lines().count(), 5);
    instrument.join().unwrap();
    let output = world.run(&["meter", "watch", "--meter", &spec]);
    assert_eq!(output.status.code(), Some(3));
    assert_eq!(
        text(&output.stderr),
        format!(
            "error: nothing answers at `tcp:127.0.0.1:{port}`: connection refused\n next: switch the instrument on, check \
             its network cable, and compare the address with the one it shows\n"
        )
    );
}

#[test]
fn ports_and_profiles_are_listed() {
    let world = World::new();
    let output = world.run(&["meter", "list", "--json"]);
    let listed: serde_json::Value = serde_json::from_slice(&output.stdout).unwrap();
    assert!(listed["ports"].is_array());
    let names: Vec<&str> = listed["profiles"]
        .as_array()
        .unwrap()
        .iter()
        .map(|profile| profile["name"].as_str().unwrap())
        .collect();
    assert!(
        names.contains(&"line-stream") && names.contains(&"query-488"),
        "{names:?}"
    );
    let words = text(&world.run(&["meter", "list"]).stdout);
    assert!(words.contains("one line of text a reading"), "{words}");
}
