//! The terminal as the program leaves it.

use std::fs::{File, OpenOptions};
use std::io::{Read, Write};
use std::process::{Command, Stdio};
use std::time::{Duration, Instant};

use rustix::pty::{OpenptFlags, grantpt, openpt, ptsname, unlockpt};
use rustix::termios::{LocalModes, tcgetattr};

use crate::world::World;

/// A pseudo-terminal: the side of whoever types and reads, and the program's.
fn pseudo_terminal() -> (File, File) {
    let screen = openpt(OpenptFlags::RDWR | OpenptFlags::NOCTTY | OpenptFlags::CLOEXEC).unwrap();
    grantpt(&screen).unwrap();
    unlockpt(&screen).unwrap();
    let path = ptsname(&screen, Vec::new()).unwrap();
    let terminal = OpenOptions::new()
        .read(true)
        .write(true)
        .open(path.to_str().unwrap())
        .unwrap();
    (File::from(screen), terminal)
}

/// Reads on until a text was shown.
fn until(screen: &mut File, seen: &mut String, text: &str) {
    let (from, began) = (seen.len(), Instant::now());
    let mut bytes = [0; 4096];
    while !seen[from..].contains(text) {
        assert!(
            began.elapsed() < Duration::from_secs(20),
            "`{text}` was never shown: {seen}"
        );
        let read = screen.read(&mut bytes).unwrap();
        seen.push_str(&String::from_utf8_lossy(&bytes[..read]));
    }
}

#[test]
fn lines_typed_ahead_at_a_terminal_answer_no_later_question() {
    let world = World::with_key();
    let (mut screen, terminal) = pseudo_terminal();
    let mut run = world
        .command(&["run", "sequences/stat-cable.ron", "--job", "fixtures/saltmarsh.ron"])
        .stdin(terminal.try_clone().unwrap())
        .stdout(terminal.try_clone().unwrap())
        .stderr(Stdio::null())
        .spawn()
        .unwrap();
    drop(terminal);
    let mut seen = String::new();
    until(&mut screen, &mut seen, "1 of 75  switch-off");
    until(&mut screen, &mut seen, "> ");
    // three lines at once, as a paste or a cold finger gives them: the first answers what is on the screen
    screen.write_all(b"done\ndone\ndone\n").unwrap();
    until(&mut screen, &mut seen, "2 of 75");
    until(&mut screen, &mut seen, "that was typed before this question was shown");
    until(&mut screen, &mut seen, "that was typed before this question was shown");
    assert!(!seen.contains("3 of 75"), "{seen}");
    screen.write_all(b"done\n").unwrap();
    until(&mut screen, &mut seen, "3 of 75");
    run.kill().unwrap();
    run.wait().unwrap();
}

#[test]
fn asked_to_end_at_the_passphrase_the_program_gives_the_terminal_its_echo_back() {
    let (_screen, terminal) = pseudo_terminal();
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
