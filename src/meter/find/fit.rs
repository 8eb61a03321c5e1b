//! What a profile makes of bytes that were heard.
//!
//! The rule inside: two frames at least are understood and they are a good part of what was heard, so that noise, in which any frame
//! without a long checksum turns up now and then, is nobody's meter.

use crate::meter::decode::frame::{Framer, Piece};
use crate::meter::decode::{Decoded, Decoder, Framing, Profile, Talk};
use crate::value::reading::Reading;

/// Frames that must be understood.
const FRAMES: usize = 2;
/// One byte in so many, at least, belongs to a frame that was understood. Noise of 8-byte frames with a mark and a sum of eight bits each
/// comes to one in ten thousand.
const SHARE: usize = 4;

/// What a profile makes of some bytes.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Fit {
    /// Frames that were understood.
    frames: usize,
    /// Bytes in them, of all.
    bytes: (usize, usize),
    /// What the display shows, by the last frame.
    pub shows: String,
}

impl Fit {
    /// Whether it cannot be chance.
    pub fn is_sure(&self) -> bool {
        FRAMES <= self.frames && self.bytes.1 <= self.bytes.0 * SHARE
    }
}

/// What a profile of a meter that sends by itself reads in these bytes, heard as [`super::setting::heard_as`] says; nothing where no frame
/// is understood.
pub fn fit(profile: &Profile, heard: &[u8]) -> Option<Fit> {
    if profile.talk != Talk::Stream {
        return None;
    }
    let bytes: Vec<u8> = match profile.line.data_bits {
        8 => heard.to_vec(),
        bits => heard.iter().map(|byte| byte & (0xff >> (8 - bits))).collect(),
    };
    // how often frames must agree is for readings that are taken
    let framing = Framing {
        agree: 1,
        ..profile.frame.clone()
    };
    let mut framer = Framer::new(&framing, true);
    let mut decoder = Decoder::new(profile);
    let mut fit = Fit {
        frames: 0,
        bytes: (0, bytes.len()),
        shows: String::new(),
    };
    framer.push(&bytes);
    while let Some(piece) = framer.poll() {
        let Piece::Frame { bytes, .. } = piece else { continue };
        if let Some(shows) = words(decoder.decode(&bytes)) {
            fit.frames += 1;
            fit.bytes.0 += bytes.len();
            fit.shows = shows;
        }
    }
    (0 < fit.frames).then_some(fit)
}

/// What a frame shows, in words; nothing where it is not understood.
pub fn words(decoded: Decoded) -> Option<String> {
    match decoded {
        Decoded::Reading(reading) => Some(shows(&reading)),
        Decoded::Refused(why) => Some(format!("a display that is not taken ({why})")),
        Decoded::NotUnderstood(_) => None,
    }
}

fn shows(reading: &Reading) -> String {
    match reading.function {
        Some(function) => format!("{}, {}", reading.display(), function.dial()),
        None => reading.display(),
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::meter::profile::{find, shipped};

    const CAPTURES: [(&str, &[u8]); 3] = [
        (
            "line-stream",
            include_bytes!("../../../fixtures/captures/line-stream.txt"),
        ),
        ("bcd-sync", include_bytes!("../../../fixtures/captures/bcd-sync.bin")),
        (
            "segment-14",
            include_bytes!("../../../fixtures/captures/segment-14.bin"),
        ),
    ];

    #[test]
    fn each_capture_is_read_by_its_own_profile_alone() {
        for (name, capture) in CAPTURES {
            let sure = |profile: &&Profile| fit(profile, capture).is_some_and(|fit| fit.is_sure());
            let names: Vec<_> = shipped()
                .iter()
                .filter(sure)
                .map(|profile| profile.name.as_str())
                .collect();
            assert_eq!(names, [name]);
        }
    }

    #[test]
    fn two_frames_are_sure_and_one_is_not() {
        let profile = find("line-stream").unwrap();
        let of = |bytes: &[u8]| fit(profile, bytes).map(|fit| (fit.is_sure(), fit.shows));
        let shows = "231.4 V, a.c. volts".to_owned();
        assert_eq!(of(b"1.4;V;-\r\nVAC;231.4;V;-\r\n"), Some((false, shows.clone())));
        assert_eq!(
            of(b"1.4;V;-\r\nVAC;231.4;V;-\r\nVAC;231.4;V;-\r\n"),
            Some((true, shows))
        );
        assert_eq!(of(b"the kettle is on\r\n"), None);
        assert_eq!(
            fit(
                find("query-488").unwrap(),
                b"+2.30E+02;\"VOLT:AC\"\n+2.30E+02;\"VOLT:AC\"\n"
            ),
            None
        );
    }

    #[test]
    fn seven_bits_are_read_with_their_parity_taken_off() {
        let capture: &[u8] = include_bytes!("../../../fixtures/captures/ascii-columns-fixed.txt");
        let odd = |byte: &u8| byte | if byte.count_ones().is_multiple_of(2) { 0x80 } else { 0 };
        let heard: Vec<u8> = capture.iter().map(odd).collect();
        assert!(fit(find("ascii-columns-fixed").unwrap(), &heard).unwrap().is_sure());
    }

    #[test]
    fn noise_is_nobodys_meter() {
        let mut state = 7u64;
        let noise: Vec<u8> = (0..60_000)
            .map(|_| {
                state = state
                    .wrapping_mul(6_364_136_223_846_793_005)
                    .wrapping_add(1_442_695_040_888_963_407);
                state.to_be_bytes()[1]
            })
            .collect();
        for profile in shipped() {
            for chunk in noise.chunks(2000) {
                assert!(
                    !fit(profile, chunk).is_some_and(|fit| fit.is_sure()),
                    "{}",
                    profile.name
                );
            }
        }
    }
}
