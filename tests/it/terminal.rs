//! The terminal as the program leaves it.

use std::fs::File;
use std::process::{Command, Stdio};
use std::time::{Duration, Instant};

use rustix::pty::{OpenptFlags, grantpt, openpt, ptsname, unlockpt};
use rustix::termios::{LocalModes, tcgetattr};

use crate::world::World;

#[test]
fn asked_to_end_at_the_passphrase_the_program_gives_the_terminal_its_echo_back() {
    let screen = openpt(OpenptFlags::RDWR | OpenptFlags::NOCTTY | OpenptFlags::CLOEXEC).unwrap();
    grantpt(&screen).unwrap();
    unlockpt(&screen).unwrap();
    let path = ptsname(&screen, Vec::new()).unwrap();
    let terminal = File::open(path.to_str().unwrap()).unwrap();
    let has_echo = || tcgetattr(&terminal).unwrap().local_modes.contains(LocalModes::ECHO);
    assert!(has_echo());
    let world = World::new();
    let mut asking = world.command(&["key", "new", "--name", "Morgan Teal"]);
    let mut asking = asking
        .stdin(terminal.try_clone().unwrap())
        .stdout(Stdio::null())
        .stderr(Stdio::null())
        .spawn()
        .unwrap();
    let began = Instant::now();
    while has_echo() {
        assert!(
            began.elapsed() < Duration::from_secs(20),
            "the passphrase was never asked for"
        );
        std::thread::sleep(Duration::from_millis(10));
    }
    let end = format!("kill -TERM {}", asking.id());
    assert!(Command::new("/bin/sh").args(["-c", &end]).status().unwrap().success());
    assert_eq!(asking.wait().unwrap().code(), Some(130));
    assert!(has_echo());
}
