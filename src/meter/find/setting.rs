//! The settings of a line that are tried one after the other.
//!
//! The rule inside: the setting that a profile names comes before those that are only usual; DTR and RTS are raised for profiles that
//! ask for them, the fewest lines first.

use crate::meter::decode::{Line, Parity, Profile, Talk};

/// The usual speeds in bits a second, the commonest first; the order is common practice, without a source.
pub const SPEEDS: [u32; 8] = [9600, 2400, 19_200, 115_200, 4800, 1200, 38_400, 57_600];

/// How a line is listened to that a profile describes: seven bits with parity are eight bits without it, of which the highest is the
/// parity. One stop bit is enough to hear two.
pub fn heard_as(line: &Line) -> Line {
    let parted = line.data_bits == 7 && line.parity != Parity::None;
    Line {
        data_bits: if parted { 8 } else { line.data_bits },
        parity: if parted { Parity::None } else { line.parity },
        stop_bits: 1,
        ..line.clone()
    }
}

/// Levels of DTR and RTS that profiles of meters that send by themselves ask for, those with the fewest raised lines first.
pub fn levels(profiles: &[Profile]) -> Vec<(bool, bool)> {
    let wanted = |level: &(bool, bool)| streams(profiles).any(|line| (line.dtr, line.rts) == *level);
    let all = [(false, false), (true, false), (false, true), (true, true)];
    all.into_iter().filter(wanted).collect()
}

/// The lines of the profiles of meters that send by themselves.
fn streams(profiles: &[Profile]) -> impl Iterator<Item = &Line> {
    let streams = profiles.iter().filter(|profile| profile.talk == Talk::Stream);
    streams.map(|profile| &profile.line)
}

/// Every setting that is listened at with these levels: those that profiles name, then each kind of them at each usual speed.
pub fn settings(profiles: &[Profile], (dtr, rts): (bool, bool)) -> Vec<Line> {
    let rank = |baud: u32| SPEEDS.iter().position(|usual| *usual == baud);
    // a profile that asks for these levels comes before the others, the commoner speed before the rarer
    let mut own: Vec<&Line> = streams(profiles).collect();
    own.sort_by_key(|line| {
        (
            (line.dtr, line.rts) != (dtr, rts),
            rank(line.baud).unwrap_or(SPEEDS.len()),
        )
    });
    let kinds: Vec<Line> = own.iter().map(|line| heard_as(line)).collect();
    let usual = kinds.iter().flat_map(|kind| {
        SPEEDS.iter().map(|baud| Line {
            baud: *baud,
            ..kind.clone()
        })
    });
    let mut all: Vec<Line> = Vec::new();
    for line in kinds.iter().cloned().chain(usual) {
        let line = Line { dtr, rts, ..line };
        if !all.contains(&line) {
            all.push(line);
        }
    }
    all
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::meter::profile::shipped;

    #[test]
    fn what_shipped_profiles_name_is_tried_before_what_is_only_usual() {
        assert_eq!(levels(shipped()), [(true, false), (true, true)]);
        let words = |line: &Line| format!("{} {}{:?}", line.baud, line.data_bits, line.parity);
        let tried: Vec<String> = settings(shipped(), (true, false)).iter().map(words).collect();
        let own = [
            "9600 8None",
            "2400 8None",
            "19200 8None",
            "115200 8None",
            "4800 8Even",
            "38400 8None",
        ];
        assert_eq!(tried[..6], own);
        assert_eq!(tried.len(), 16, "{tried:?}");
        assert_eq!(settings(shipped(), (true, true))[0].parity, Parity::Even);
        assert!(
            settings(shipped(), (true, true))
                .iter()
                .all(|line| line.dtr && line.rts)
        );
        assert_eq!(levels(&[]), []);
    }
}
