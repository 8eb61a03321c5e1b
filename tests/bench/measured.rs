//! What the benchmarks of a running program share: the meter's end of a pseudo-terminal, and what a process has used.

use std::fs::File;

use rustix::pty::{OpenptFlags, grantpt, openpt, ptsname, unlockpt};

/// The meter's end of a pseudo-terminal, and the path of the other.
pub fn terminal() -> (File, String) {
    let end = openpt(OpenptFlags::RDWR | OpenptFlags::NOCTTY | OpenptFlags::CLOEXEC).expect("a pseudo-terminal");
    grantpt(&end).expect("it is ours");
    unlockpt(&end).expect("it is ours");
    let path = ptsname(&end, Vec::new()).expect("it has a path");
    (File::from(end), path.into_string().expect("the path is text"))
}

/// User and system time of a process, of all its threads, in seconds.
pub fn cpu_seconds(process: u32) -> f64 {
    let stat = std::fs::read_to_string(format!("/proc/{process}/stat")).expect("the process runs");
    let (_, fields) = stat.rsplit_once(')').expect("the name is in parentheses");
    let fields: Vec<&str> = fields.split_whitespace().collect();
    let ticks = |n: usize| fields[n].parse::<f64>().expect("a count of ticks");
    // fields 14 and 15 of proc(5), which counts the two before the parenthesis; the tick is a hundredth on Linux
    (ticks(11) + ticks(12)) / 100.0
}
