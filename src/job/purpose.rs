//! What a core carries or a terminal is for.
//!
//! The rule inside: each purpose has one spelling, in prompts and in answers.

use serde::{Deserialize, Serialize};

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
}

impl Purpose {
    /// Every purpose, in the order prompts list them.
    pub const ALL: [Purpose; 9] = [
        Purpose::PermanentLive,
        Purpose::SwitchedLive,
        Purpose::Neutral,
        Purpose::Earth,
        Purpose::EndSwitch,
        Purpose::ExtraLowVoltage,
        Purpose::VoltFree,
        Purpose::ProgrammedLive,
        Purpose::HotWaterSatisfied,
    ];

    /// The words of prompts and typed answers.
    pub fn words(self) -> &'static str {
        match self {
            Purpose::PermanentLive => "permanent live",
            Purpose::SwitchedLive => "switched live",
            Purpose::Neutral => "neutral",
            Purpose::Earth => "earth",
            Purpose::EndSwitch => "end switch",
            Purpose::ExtraLowVoltage => "extra-low voltage",
            Purpose::VoltFree => "volt-free",
            Purpose::ProgrammedLive => "programmed live",
            Purpose::HotWaterSatisfied => "hot water satisfied",
        }
    }

    /// Reads the words; spelling and case as in [`Purpose::words`].
    pub fn parse(text: &str) -> Option<Purpose> {
        Purpose::ALL
            .into_iter()
            .find(|p| p.words().eq_ignore_ascii_case(text.trim()))
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
