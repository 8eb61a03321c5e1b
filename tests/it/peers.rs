//! Independent programs on the other end of the cable: socat makes the pseudo-terminals, pyserial is the meter.

use std::path::{Path, PathBuf};
use std::process::{Child, Command, Stdio};
use std::time::Duration;

use crate::world::{World, text};

/// Writes readings at ten a second through pyserial, with the line settings of the profile, until it is stopped.
const METER: &str = r#"
import sys, time, serial
with serial.Serial(sys.argv[1], 9600, bytesize=8, parity='N', stopbits=1, write_timeout=1) as port:
    for n in range(100000):
        for part in sys.argv[2:]:
            try:
                port.write(part.encode('ascii').replace(b'#', b'%d' % (n % 10)))
            except serial.SerialTimeoutException:
                pass
            time.sleep(0.1)
"#;

/// A program that ends with its test.
struct Peer(Child);

impl Peer {
    fn start(command: &mut Command) -> Peer {
        let command = command.stdin(Stdio::null()).stdout(Stdio::null()).stderr(Stdio::null());
        Peer(
            command
                .spawn()
                .expect("the peers are installed where this feature is on"),
        )
    }

    /// Two pseudo-terminals joined to each other.
    fn cable(one: &Path, other: &Path) -> Peer {
        let end = |path: &Path| format!("pty,raw,echo=0,link={}", path.display());
        let peer = Peer::start(Command::new("socat").args([end(one), end(other)]));
        for _ in 0..200 {
            if one.exists() && other.exists() {
                return peer;
            }
            std::thread::sleep(Duration::from_millis(25));
        }
        panic!("socat made no terminals");
    }

    fn meter(port: &Path, parts: &[&str]) -> Peer {
        Peer::start(Command::new("python3").arg("-c").arg(METER).arg(port).args(parts))
    }
}

impl Drop for Peer {
    fn drop(&mut self) {
        // one that has ended already needs no end
        let _ = self.0.kill();
        let _ = self.0.wait();
    }
}

fn ends(world: &World) -> (PathBuf, PathBuf) {
    (world.path("meter-end"), world.path("our-end"))
}

#[test]
fn what_pyserial_writes_is_what_is_read() {
    let world = World::new();
    let (meter_end, our_end) = ends(&world);
    let _cable = Peer::cable(&meter_end, &our_end);
    let _meter = Peer::meter(&meter_end, &["VAC;23#.4;V;-\r\n", "VAC;2", "3#.5;V;-\r\n"]);
    let spec = format!("{},line-stream", our_end.display());
    let output = world.run(&["meter", "watch", "--json", "--meter", &spec, "--count", "40"]);
    assert_eq!(output.status.code(), Some(0), "{}", text(&output.stderr));
    let values: Vec<String> = text(&output.stdout)
        .lines()
        .filter_map(|line| {
            let line: serde_json::Value = serde_json::from_str(line).unwrap();
            Some(line["value"].as_str()?.to_owned())
        })
        .collect();
    let all: Vec<String> = (0..10)
        .flat_map(|n| [format!("23{n}.4"), format!("23{n}.5")])
        .cycle()
        .take(80)
        .collect();
    let from = all
        .iter()
        .position(|v| *v == values[0])
        .expect("the first is one of them");
    assert_eq!(values, all[from..from + 40], "none is lost, none is invented");
}

#[test]
fn a_cable_pulled_and_put_back_in_mid_step_costs_nothing() {
    let world = World::with_key();
    let (meter_end, our_end) = ends(&world);
    let cable = Peer::cable(&meter_end, &our_end);
    let meter = Peer::meter(&meter_end, &["LOWOHM;OL;ohm;-\r\n"]);
    let mut walk = world.walk(&["--meter", &format!("{},line-stream", our_end.display())]);
    assert!(walk.to("lead-null"));
    walk.until("live, not taken: OL (ohm)");
    drop((cable, meter));
    walk.until("vanished: plug the meter's cable in again");
    let _cable = Peer::cable(&meter_end, &our_end);
    walk.until("is back");
    let _meter = Peer::meter(&meter_end, &["LOWOHM;0.04;ohm;-\r\n"]);
    walk.until("taken 0.04 ohm, from the meter");
    let journal = text(&std::fs::read(&world.journals()[0]).unwrap());
    assert_eq!(
        journal.matches("\"taken\"").count(),
        1,
        "one reading, and no other:\n{journal}"
    );
    walk.kill();
}

#[test]
fn standard_input_carries_the_meter_and_the_terminal_the_answers() {
    let world = World::with_key();
    let program = env!("CARGO_BIN_EXE_coreproof");
    let meter = "while :; do printf 'LOWOHM;0.04;ohm;-\\r\\n'; sleep 0.1; done";
    let walk = format!(
        "{meter} | {program} run sequences/stat-cable.ron --job fixtures/saltmarsh.ron --meter stdin:,line-stream"
    );
    // `script` gives the walk a terminal of its own; what is piped into it is typed there
    let mut command = world.command_of("script", &["-qec", &walk, "/dev/null"]);
    command.env("PATH", "/usr/bin:/bin").env("SHELL", "/bin/sh");
    let mut typing = command
        .stdin(Stdio::piped())
        .stdout(Stdio::piped())
        .stderr(Stdio::null())
        .spawn()
        .unwrap();
    let mut keyboard = typing.stdin.take().unwrap();
    std::thread::sleep(Duration::from_secs(1));
    std::io::Write::write_all(&mut keyboard, b"lit\nabandon\n").unwrap();
    std::thread::sleep(Duration::from_secs(2));
    // the end of the keyboard hangs up the terminal
    std::io::Write::write_all(&mut keyboard, b"\x03").unwrap();
    drop(keyboard);
    let output = typing.wait_with_output().unwrap();
    let journal = text(&std::fs::read(&world.journals()[0]).unwrap());
    assert!(
        journal.contains("\"step\":\"earth-near\",\"answer\":\"lit\""),
        "{journal}\n{}",
        text(&output.stdout)
    );
}
