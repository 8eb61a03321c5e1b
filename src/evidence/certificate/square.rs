//! The square code on the page: a few lines of text as a picture that a camera reads (ISO/IEC 18004).
//!
//! The rule inside: the same text gives the same picture, byte for byte; a text too long for a code gives a blank one.

use std::fmt::Write as _;

use qrcodegen::{QrCode, QrCodeEcc};

/// Blank modules around a code, as its standard asks.
const QUIET: i32 = 4;

/// The code as an SVG picture, one unit a module.
pub(super) fn picture(text: &str) -> String {
    let code = QrCode::encode_text(text, QrCodeEcc::Medium).ok();
    let size = code.as_ref().map_or(1, QrCode::size);
    let mut dark = String::new();
    for y in 0..size {
        for x in (0..size).filter(|x| code.as_ref().is_some_and(|code| code.get_module(*x, y))) {
            write!(dark, "M{} {}h1v1h-1z", x + QUIET, y + QUIET).expect("writing to a text cannot fail");
        }
    }
    let side = size + 2 * QUIET;
    format!("<svg xmlns=\"http://www.w3.org/2000/svg\" viewBox=\"0 0 {side} {side}\"><path d=\"{dark}\"/></svg>")
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_code_has_the_finder_patterns_of_its_standard_in_three_corners() {
        let picture = picture("record sha256:00");
        // ISO/IEC 18004, 6.3.3: 7 dark modules along each edge of a finder pattern, from the corner
        for along in 0..7 {
            assert!(picture.contains(&format!("M{} 4h1", along + 4)), "{picture}");
            assert!(picture.contains(&format!("M4 {}h1", along + 4)), "{picture}");
        }
        assert!(!picture.contains("M5 5h1"), "{picture}");
    }

    #[test]
    fn what_is_too_long_for_a_code_is_left_blank() {
        let blank = "<svg xmlns=\"http://www.w3.org/2000/svg\" viewBox=\"0 0 9 9\"><path d=\"\"/></svg>";
        assert_eq!(picture(&"x".repeat(4000)), blank);
    }
}
