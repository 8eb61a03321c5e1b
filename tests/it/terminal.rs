//! The terminal as the program leaves it.

use std::io::Write;
use std::process::{Command, Stdio};
use std::time::{Duration, Instant};

use rustix::termios::{LocalModes, tcgetattr};

use crate::screen::{Shown, pseudo_terminal};
use crate::world::{STEPS, World};

#[test]
fn lines_typed_ahead_at_a_terminal_answer_no_later_question() {
    let world = World::with_key();
    let (screen, terminal) = pseudo_terminal();
    let mut run = world
        .command(&["run", "sequences/stat-cable.ron", "--job", "fixtures/saltmarsh.ron"])
        .stdin(terminal.try_clone().unwrap())
        .stdout(terminal.try_clone().unwrap())
        .stderr(Stdio::null())
        .spawn()
        .unwrap();
    drop(terminal);
    let mut shown = Shown::on(screen);
    shown.until(&format!("1 of {STEPS}  earth-near"));
    shown.until("> ");
    // three lines at once, as a paste or a cold finger gives them: the first answers what is on the screen
    shown.screen.write_all(b"lit\nlit\nlit\n").unwrap();
    shown.until(&format!("2 of {STEPS}"));
    shown.until("that was typed before this question was shown");
    shown.until("that was typed before this question was shown");
    assert!(!shown.text.contains(&format!("3 of {STEPS}")), "{}", shown.text);
    shown.screen.write_all(b"lit\n").unwrap();
    shown.until(&format!("3 of {STEPS}"));
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
