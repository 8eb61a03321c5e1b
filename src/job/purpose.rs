//! What a core carries or a terminal is for.
//!
//! The rule inside: each purpose has one spelling in prompts and in files; what else a person types for it is in the list of words.

use serde::{Deserialize, Serialize};

use super::words;

/// What a core carries or a terminal is for.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Serialize, Deserialize)]
pub enum Purpose {
    /// Line, live whenever the supply is on.
    PermanentLive,
    /// Line behind the control, live while it calls.
    SwitchedLive,
    /// Neutral.
    Neutral,
    /// Protective conductor.
    Earth,
    /// Output of the valve's end switch, live when the valve is open.
    EndSwitch,
    /// At most 50 V alternating or 120 V direct.
    ExtraLowVoltage,
    /// A contact that switches whatever the other end puts on it.
    VoltFree,
    /// Live while another control lets it be: behind a programmer or a thermostat.
    ProgrammedLive,
    /// Live while the hot water needs no heat.
    HotWaterSatisfied,
    /// A spare core: capped, in a connector of its own in which nothing else is.
    Spare,
}

impl Purpose {
    /// Every purpose, in the order prompts list them.
    pub const ALL: [Purpose; 10] = [
        Purpose::PermanentLive,
        Purpose::SwitchedLive,
        Purpose::Neutral,
        Purpose::Earth,
        Purpose::EndSwitch,
        Purpose::ExtraLowVoltage,
        Purpose::VoltFree,
        Purpose::ProgrammedLive,
        Purpose::HotWaterSatisfied,
        Purpose::Spare,
    ];

    /// Its line in the list of the field's words.
    pub const fn word(self) -> words::Word {
        match self {
            Purpose::PermanentLive => words::PERMANENT_LIVE,
            Purpose::SwitchedLive => words::SWITCHED_LIVE,
            Purpose::Neutral => words::NEUTRAL,
            Purpose::Earth => words::EARTH,
            Purpose::EndSwitch => words::END_SWITCH,
            Purpose::ExtraLowVoltage => words::EXTRA_LOW_VOLTAGE,
            Purpose::VoltFree => words::VOLT_FREE,
            Purpose::ProgrammedLive => words::PROGRAMMED_LIVE,
            Purpose::HotWaterSatisfied => words::HOT_WATER_SATISFIED,
            Purpose::Spare => words::SPARE,
        }
    }

    /// The words of prompts and answers.
    pub fn words(self) -> &'static str {
        self.word().british
    }

    /// Reads the words of a file; spelling as in [`Purpose::words`], in any case.
    pub fn parse(text: &str) -> Option<Purpose> {
        Purpose::ALL
            .into_iter()
            .find(|p| p.words().eq_ignore_ascii_case(text.trim()))
    }

    /// Reads what a person typed: the same, or what else is understood, such as `L` and `phase`.
    pub fn typed(text: &str) -> Option<Purpose> {
        let understood = || Purpose::ALL.into_iter().find(|p| p.word().is_meant(text));
        Purpose::parse(text).or_else(understood)
    }

    /// Whether mains voltage stands on it in service.
    pub fn is_mains(self) -> bool {
        matches!(
            self,
            Purpose::PermanentLive
                | Purpose::SwitchedLive
                | Purpose::Neutral
                | Purpose::EndSwitch
                | Purpose::ProgrammedLive
                | Purpose::HotWaterSatisfied
        )
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn what_is_typed_is_understood_in_the_words_of_the_trade_and_of_the_standard() {
        for (typed, expected) in [
            ("permanent live", Some(Purpose::PermanentLive)),
            ("L", Some(Purpose::PermanentLive)),
            ("phase", Some(Purpose::PermanentLive)),
            (" Line conductor ", Some(Purpose::PermanentLive)),
            ("sl", Some(Purpose::SwitchedLive)),
            ("N", Some(Purpose::Neutral)),
            ("cpc", Some(Purpose::Earth)),
            ("protective conductor", Some(Purpose::Earth)),
            ("potential-free", Some(Purpose::VoltFree)),
            ("live", None),
            ("brown", None),
            ("", None),
        ] {
            assert_eq!(Purpose::typed(typed), expected, "{typed}");
        }
        assert_eq!(Purpose::parse("phase"), None, "a file says it in one way");
    }
}
