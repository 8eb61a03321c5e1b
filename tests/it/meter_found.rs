//! A meter found among ports on pseudo-terminals, which know the speed they are set to.

use std::fs::File;
use std::io::Write;
use std::process::{Child, Command, Stdio};
use std::sync::Arc;
use std::sync::atomic::{AtomicBool, AtomicUsize, Ordering};
use std::thread::JoinHandle;
use std::time::{Duration, Instant};

use rustix::termios::{OptionalActions, tcgetattr, tcsetattr};

use crate::screen::pseudo_terminal;
use crate::world::{Walk, World, text};

/// What is at the other end of a port.
#[derive(Clone, Copy)]
enum End {
    /// Sends a line twice a second, which is nonsense at any speed but its own.
    Meter { baud: u32, line: &'static str },
    /// Sends bytes without sense as fast as a slow line carries them.
    Noise(u64),
    /// Sends nothing.
    Silent,
}

/// A port with something at its end; whatever is sent to it is counted.
struct Port {
    path: String,
    stopped: Arc<AtomicBool>,
    received: Arc<AtomicUsize>,
    end: Option<JoinHandle<()>>,
}

impl Port {
    fn with(end: End) -> Port {
        let (ours, theirs) = pseudo_terminal();
        let path = std::fs::read_link(format!("/proc/self/fd/{}", std::os::fd::AsRawFd::as_raw_fd(&theirs))).unwrap();
        // nobody has the line open until the program does, and nothing is sent back by the line itself
        drop(theirs);
        let mut raw = tcgetattr(&ours).unwrap();
        raw.make_raw();
        tcsetattr(&ours, OptionalActions::Now, &raw).unwrap();
        rustix::io::ioctl_fionbio(&ours, true).unwrap();
        let (stopped, received) = (Arc::new(AtomicBool::new(false)), Arc::new(AtomicUsize::new(0)));
        let thread = {
            let (stopped, received) = (stopped.clone(), received.clone());
            std::thread::spawn(move || play(ours, end, &stopped, &received))
        };
        Port {
            path: path.display().to_string(),
            stopped,
            received,
            end: Some(thread),
        }
    }

    fn received(&self) -> usize {
        self.received.load(Ordering::Relaxed)
    }
}

impl Drop for Port {
    fn drop(&mut self) {
        self.stopped.store(true, Ordering::Relaxed);
        let _ = self.end.take().unwrap().join();
    }
}

fn play(mut ours: File, end: End, stopped: &AtomicBool, received: &AtomicUsize) {
    let mut state = 1u64;
    let mut noise = |state_of: u64, count: usize| -> Vec<u8> {
        let next = |_| {
            state = state.wrapping_mul(6_364_136_223_846_793_005).wrapping_add(state_of | 1);
            state.to_be_bytes()[1]
        };
        (0..count).map(next).collect()
    };
    while !stopped.load(Ordering::Relaxed) {
        let (bytes, pause) = match end {
            End::Meter { baud, line } => match tcgetattr(&ours).unwrap().input_speed() == baud {
                true => (format!("{line}\r\n").into_bytes(), 500),
                false => (noise(3, 12), 500),
            },
            End::Noise(seed) => (noise(seed, 48), 40),
            End::Silent => (Vec::new(), 100),
        };
        let _ = ours.write_all(&bytes);
        let mut sent = [0; 256];
        if let Ok(count) = std::io::Read::read(&mut ours, &mut sent) {
            received.fetch_add(count, Ordering::Relaxed);
        }
        std::thread::sleep(Duration::from_millis(pause));
    }
}

/// Another program that has a port open.
fn holder(port: &Port) -> Child {
    let held = File::options().read(true).write(true).open(&port.path).unwrap();
    Command::new("sleep")
        .arg("60")
        .stdin(Stdio::from(held))
        .spawn()
        .unwrap()
}

fn world() -> World {
    let world = World::with_key();
    assert_eq!(world.run(&["instruments", "add", "saltmarsh"]).status.code(), Some(0));
    world
}

fn finding<'p>(world: &World, ports: impl IntoIterator<Item = &'p Port>, more: &[&str]) -> Walk {
    let mut args = vec!["meter", "find"];
    for port in ports {
        args.extend(["--port", &port.path]);
    }
    args.extend(more);
    world.talk(&args)
}

#[test]
fn among_five_ports_a_meter_at_an_odd_speed_is_found_within_ten_seconds_and_kept_with_its_instrument() {
    let world = world();
    let meter = End::Meter {
        baud: 1200,
        line: "LOWOHM;0.42;ohm;-",
    };
    let ports = [End::Noise(5), End::Silent, End::Silent, meter, End::Noise(77)].map(Port::with);
    let mut other = holder(&ports[2]);
    let mut walk = finding(&world, &ports, &["--instrument", "tester"]);
    walk.until("May they be opened, for 10 s at most?");
    assert!(
        walk.seen
            .contains(&format!("in use by sleep ({}): left alone", other.id())),
        "{}",
        walk.seen
    );
    walk.answer("perhaps");
    walk.until("`perhaps` is none of these");
    let began = Instant::now();
    walk.answer("yes");
    walk.until("shows 0.42 ohm, low-resistance continuity (read by `line-stream`): is that what your meter shows");
    assert!(began.elapsed() < Duration::from_secs(10), "{:?}", began.elapsed());
    assert!(walk.seen.contains(&format!("{} shows", ports[3].path)), "{}", walk.seen);
    walk.answer("maybe");
    walk.until("`maybe` is neither");
    walk.answer("yes");
    walk.until("The meter is set to 1200 baud and not to 9600: kept as the profile `line-stream-1200`.");
    walk.until("Kept: `tester` (serial SM-2290) is read by `line-stream-1200` on the port /dev/pts/");
    let (code, seen, errors) = walk.close();
    assert_eq!((code, errors.as_str()), (0, ""), "{seen}");
    let _ = other.kill();
    let _ = other.wait();
    assert_eq!(
        ports.each_ref().map(Port::received),
        [0; 5],
        "nothing is sent to any port"
    );
    // the run reads it without being told
    let job = crate::told_once::naming(&world, "\"indicator\", \"tester\"");
    let mut run = world.talk(&["run", &world.sequence(), "--job", &job]);
    run.until(&format!(
        "`tester` is read on {} by `line-stream-1200`, as it was found",
        ports[3].path
    ));
    assert!(run.to("lead-null"));
    run.until("live, not taken: 0.42 ohm");
    run.kill();
    let list = text(&world.run(&["meter", "list"]).stdout);
    assert!(list.contains("line-stream-1200") && list.contains("taught: "), "{list}");
    let mut typed = world.talk(&["run", &world.sequence(), "--job", &job, "--typed", "--new"]);
    typed.until("Ctrl-C breaks off");
    assert!(!typed.seen.contains("as it was found"), "{}", typed.seen);
    typed.kill();
}

#[test]
fn what_is_not_found_leads_to_the_next_act_and_without_an_answer_nothing_is_opened() {
    let world = World::new();
    let ports = [Port::with(End::Noise(9)), Port::with(End::Silent)];
    let (code, _, errors) = finding(&world, &ports, &[]).close();
    assert_eq!((code, errors.as_str()), (130, "error: no port was opened\n"));
    let mut walk = finding(&world, &ports, &[]);
    walk.answer("no");
    let (code, _, errors) = walk.close();
    assert_eq!((code, errors.as_str()), (2, "error: no port was opened\n"));
    // noise opened for a moment is left as it is
    let mut walk = finding(&world, &ports, &["--for", "1"]);
    walk.answer("1 2");
    let (code, seen, errors) = walk.close();
    assert_eq!(code, 3, "{seen}");
    assert!(seen.contains("it sends something that no profile reads, at "), "{seen}");
    assert!(seen.contains(": nothing is heard"), "{seen}");
    let hint =
        " next: listen longer, `--for 4`; a meter that no profile reads is learnt by `coreproof meter teach PORT`\n";
    assert_eq!(errors, format!("error: no meter was found\n{hint}"));
    let output = world.run(&["meter", "find", "--instrument", "sextant"]);
    let expected = "error: no instrument that reads is told as `sextant`\n next: `coreproof instruments` shows those that are told\n";
    assert_eq!(text(&output.stderr), expected);
}

#[test]
fn a_meter_that_must_be_asked_is_asked_only_on_a_port_that_was_named_for_it() {
    let world = World::new();
    let (asked, left) = (Port::with(End::Silent), Port::with(End::Silent));
    let mut walk = finding(&world, [&left], &["--ask", &asked.path, "--for", "1"]);
    walk.until("bytes are sent to it");
    walk.answer("yes");
    let (code, _, _) = walk.close();
    assert_eq!(code, 3);
    assert!(0 < asked.received());
    assert_eq!(left.received(), 0);
}
