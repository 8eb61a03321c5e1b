//! The field's words: one list, British first, the standard's word beside it.
//!
//! The rule inside: one name for one thing, on the screen, in sequences and on the certificate, is the first of its line; what else is
//! understood where it is typed, and what no text of ours says, stands beside it.

/// A thing with its names.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Word {
    /// The word of the trade in Britain and Ireland, which the program uses.
    pub british: &'static str,
    /// The word of IEC 60050 and IEC 60364.
    pub iec: &'static str,
    /// What is understood as well where it is typed, in any case.
    pub also: &'static [&'static str],
    /// What no text of the program says, because it means something else to somebody.
    pub avoided: &'static [&'static str],
}

macro_rules! words {
    ($($name:ident: $british:literal, $iec:literal, also $also:expr, avoided $avoided:expr;)*) => {
        $(
            #[doc = concat!("The words for ", $british, ".")]
            pub const $name: Word = Word { british: $british, iec: $iec, also: &$also, avoided: &$avoided };
        )*
        /// Every word, those of what a terminal is for first.
        pub const WORDS: &[Word] = &[$($name),*];
    };
}

words! {
    PERMANENT_LIVE: "permanent live", "line conductor", also ["L", "line", "phase"], avoided ["phase", "hot wire"];
    SWITCHED_LIVE: "switched live", "switched line conductor", also ["SL", "switched line", "switched phase"], avoided [];
    NEUTRAL: "neutral", "neutral conductor", also ["N"], avoided [];
    EARTH: "earth", "protective conductor", also ["E", "PE", "cpc"], avoided ["ground wire", "earth wire"];
    END_SWITCH: "end switch", "auxiliary contact", also ["microswitch", "auxiliary switch"], avoided ["limit switch"];
    EXTRA_LOW_VOLTAGE: "extra-low voltage", "extra-low voltage", also ["ELV"], avoided [];
    VOLT_FREE: "volt-free", "potential-free contact", also ["potential-free"], avoided ["dry contact"];
    PROGRAMMED_LIVE: "programmed live", "switched line conductor", also [], avoided [];
    HOT_WATER_SATISFIED: "hot water satisfied", "switched line conductor", also [], avoided [];
    SPARE: "spare", "spare conductor", also ["unused", "not used"], avoided [];
    MAIN_EARTHING_TERMINAL: "main earthing terminal", "main earthing terminal", also [], avoided ["earth bar"];
    WIRING_CENTRE: "wiring centre", "junction box", also [], avoided [];
    FUSED_CONNECTION_UNIT: "fused connection unit", "fused connection unit", also [], avoided ["fused socket"];
    ROOM_THERMOSTAT: "room thermostat", "room thermostat", also [], avoided ["thermostat head"];
    CUT_OUT: "cut-out", "non-self-resetting thermal cut-out", also [], avoided ["safety switch"];
    DEAD: "dead", "de-energized", also [], avoided ["de-energised", "de-energized"];
    PROVING_UNIT: "proving unit", "proving unit", also [], avoided ["reference source"];
    LOCKED_OFF: "locked off", "secured against reconnection", also [], avoided ["tagged out"];
}

impl Word {
    /// Whether what was typed means this thing.
    pub fn is_meant(&self, typed: &str) -> bool {
        let same = |word: &&str| word.eq_ignore_ascii_case(typed.trim());
        [self.british, self.iec].iter().chain(self.also).any(same)
    }

    /// The word, with the standard's beside it where that is another.
    pub fn with_iec(&self) -> String {
        match self.british == self.iec {
            true => self.british.into(),
            false => format!("{} (IEC: {})", self.british, self.iec),
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn no_word_stands_for_two_things() {
        for (i, one) in WORDS.iter().enumerate() {
            for other in &WORDS[i + 1..] {
                assert_ne!(one.british, other.british);
                for typed in one.also.iter().chain([&one.british]) {
                    let as_other = other
                        .also
                        .iter()
                        .chain([&other.british])
                        .any(|word| word.eq_ignore_ascii_case(typed));
                    assert!(!as_other, "`{typed}` is {} and {}", one.british, other.british);
                }
            }
        }
    }

    #[test]
    fn the_shipped_texts_say_no_word_that_is_avoided() {
        use crate::sequence::shipped::{SEQUENCES, job, texts};
        for there in SEQUENCES {
            let texts = texts(there.name).unwrap().into_iter().chain(job(there.job));
            for text in texts {
                let said = text.text.to_lowercase();
                let words: Vec<&str> = said.split(|c: char| !c.is_alphanumeric() && c != '-').collect();
                let said = format!(" {} ", words.join(" "));
                for word in WORDS.iter().flat_map(|word| word.avoided) {
                    assert!(!said.contains(&format!(" {word} ")), "`{word}` in {}", text.name);
                }
            }
        }
    }
}
