//! Why work is done live on a supply that is on as it was found.
//!
//! The rule inside: the law asks three things and wants each of them answered; one answer never stands for another.

use serde::Serialize;

/// What has to be so before anybody works on or near a conductor that is live (Electricity at Work Regulations 1989, regulation 14,
/// paraphrased from memory). Where other law applies it comes first.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Serialize)]
#[serde(rename_all = "snake_case")]
pub enum Reason {
    /// It is unreasonable in all the circumstances for it to be dead.
    NotDead,
    /// It is reasonable in all the circumstances to be at work on or near it while it is live.
    AtWork,
    /// Suitable precautions are taken to prevent injury.
    Precautions,
}

impl Reason {
    /// All three, in the order of the regulation.
    pub const ALL: [Reason; 3] = [Reason::NotDead, Reason::AtWork, Reason::Precautions];

    /// The word that names its step.
    pub fn word(self) -> &'static str {
        match self {
            Reason::NotDead => "not-dead",
            Reason::AtWork => "at-work",
            Reason::Precautions => "precautions",
        }
    }

    /// What is asked.
    pub fn question(self) -> &'static str {
        match self {
            Reason::NotDead => {
                "Why is it unreasonable, in all the circumstances, for it to be dead while the fault is sought?"
            }
            Reason::AtWork => "Why is it reasonable, in all the circumstances, to be at work near it while it is live?",
            Reason::Precautions => {
                "Which precautions are taken against injury: who is kept away, what stays covered, which probes, who is near to help?"
            }
        }
    }

    /// What an answer to it shows.
    pub fn words(self) -> &'static str {
        match self {
            Reason::NotDead => "it is written down why it is unreasonable for it to be dead",
            Reason::AtWork => "it is written down why it is reasonable to be at work near it live",
            Reason::Precautions => "it is written down which precautions are taken",
        }
    }
}
