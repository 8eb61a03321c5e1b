//! The embedded fonts, and texts made fit for them.
//!
//! The rule inside: a character that the fonts cannot show, or that would not be seen, is printed as its number
//! (`[U+4E2D]`) and never left out; PDF/A-3a refuses a page with a character it cannot name.

use std::sync::LazyLock;

use serde_json::Value;
use typst::text::FontInfo;
use typst_kit::fonts::FontStore;

/// Fonts by family; the template names the same two.
const FAMILIES: [&str; 2] = ["libertinus serif", "dejavu sans mono"];

/// The fonts inside the program; no font of the machine is ever used, so that every machine prints the same page.
pub(super) static FONTS: LazyLock<FontStore> = LazyLock::new(|| {
    let mut store = FontStore::new();
    store.extend(typst_kit::fonts::embedded());
    store
});

/// Makes every text of a page fit for the fonts.
pub(super) fn fit(value: &mut Value) {
    match value {
        Value::String(text) => {
            if !text.chars().all(is_shown) {
                *text = fitted(text);
            }
        }
        Value::Array(items) => items.iter_mut().for_each(fit),
        Value::Object(fields) => fields.values_mut().for_each(fit),
        Value::Null | Value::Bool(_) | Value::Number(_) => {}
    }
}

fn fitted(text: &str) -> String {
    text.chars()
        .map(|c| match is_shown(c) {
            true => c.to_string(),
            false => format!("[U+{:04X}]", u32::from(c)),
        })
        .collect()
}

/// Whether a character is printed as itself: printable ASCII always, anything else where one family has it in every style
/// and it is neither a control, a joiner, a direction mark nor from a private area.
fn is_shown(c: char) -> bool {
    let unseen = c.is_control()
        || matches!(u32::from(c),
            0xad | 0x34f | 0x61c | 0x115f..=0x1160 | 0x17b4..=0x17b5 | 0x180b..=0x180f | 0x200b..=0x200f
            | 0x2028..=0x202e | 0x2060..=0x206f | 0x3164 | 0xfe00..=0xfe0f | 0xfeff | 0xffa0 | 0xfff0..=0xffff
            | 0xe000..=0xf8ff | 0xe0000..=0x10ffff);
    !unseen && (c.is_ascii() || FAMILIES.iter().any(|family| has(family, c)))
}

fn has(family: &str, c: char) -> bool {
    let book = FONTS.book();
    let has = |info: &FontInfo| info.coverage.contains(u32::from(c));
    let mut styles = book
        .select_family(family)
        .filter_map(|index| book.info(index))
        .peekable();
    styles.peek().is_some() && styles.all(has)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn what_the_fonts_lack_is_printed_as_its_number() {
        for (text, expected) in [
            (
                "Saltmarsh caf\u{e9} 5 M\u{3a9} 3 \u{b5}V \u{2265} \u{2013}",
                "Saltmarsh caf\u{e9} 5 M\u{3a9} 3 \u{b5}V \u{2265} \u{2013}",
            ),
            ("\u{4e2d}", "[U+4E2D]"),
            ("\u{1f527} wrench", "[U+1F527] wrench"),
            ("a\u{202e}b\u{200b}c", "a[U+202E]b[U+200B]c"),
            ("line\nbreak\u{0}", "line[U+000A]break[U+0000]"),
            ("\u{e000}\u{feff}", "[U+E000][U+FEFF]"),
        ] {
            assert_eq!(fitted(text), expected, "{text:?}");
        }
    }

    #[test]
    fn both_families_are_there() {
        for family in FAMILIES {
            assert!(has(family, '\u{3a9}') && has(family, '\u{b5}'), "{family}");
        }
        assert!(!has("no such family", 'a'));
    }
}
