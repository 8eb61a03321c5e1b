//! Names that look alike and are not the same.
//!
//! The rule inside: alike are two names that differ in nothing but blanks, case, marks on letters, and letters of other scripts that are drawn
//! the same (Unicode Technical Standard 39, skeletons).

use icu_properties::CodePointMapData;
use icu_properties::props::GeneralCategory;
use unicode_security::confusable_detection::skeleton;

use crate::located::is_unseen;

/// Whether two names look alike.
///
/// ```
/// use coreproof::evidence::keys::alike;
/// assert!(alike("Morgan Teal", "morgan  teal"));
/// assert!(alike("Morgan Teal", "M\u{43e}rgan Teal"), "the o of another script");
/// assert!(!alike("Morgan Teal", "Morgan Tern"));
/// ```
pub fn alike(one: &str, other: &str) -> bool {
    let bare = |text: &str| -> String { skeleton(text).filter(|c| !is_left_out(*c)).collect() };
    // a capital may be drawn like a small letter of another kind, so case is folded after the skeleton in one reading, before it in the other
    let after = |name: &str| bare(name).to_lowercase();
    let before = |name: &str| bare(&name.to_lowercase());
    after(one) == after(other) || before(one) == before(other)
}

fn is_left_out(c: char) -> bool {
    let kind = CodePointMapData::<GeneralCategory>::new().get(c);
    c.is_whitespace()
        || is_unseen(c)
        || matches!(kind, GeneralCategory::NonspacingMark | GeneralCategory::EnclosingMark)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn names_that_look_alike_are_told_from_those_that_do_not() {
        for other in [
            "Morgan  Teal",
            "MorganTeal",
            "MORGAN TEAL",
            "Morgan\u{a0}Teal",
            "M\u{43e}rgan Teal",
            "Morgan Te\u{430}l",
            "Morg\u{e1}n Teal",
            "Morgan Te\u{323}al",
            "Morgan\u{200b} Teal",
            "Morgan Tea\u{406}",
        ] {
            assert!(alike("Morgan Teal", other), "{other}");
        }
        for other in ["Morgan Tern", "Robin Teal", "Morgan", ""] {
            assert!(!alike("Morgan Teal", other), "{other}");
        }
    }
}
