//! What an examination says: a remark, what it is about and where.
//!
//! The rule inside: remarks are kept up to a number, so that a hostile file cannot fill the memory with them; how many there were
//! beyond it is said.

/// The most remarks that are kept of one file.
pub const REMARKS_MAX: usize = 50;

/// What a remark is about.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, serde::Serialize)]
#[serde(rename_all = "snake_case")]
pub enum Concern {
    /// The signature is not good, or not of the key that was expected.
    Signature,
    /// The chain of the lines is broken, or a line does not read.
    Chain,
    /// The carried sequence, job, profile or edition cannot be used.
    Text,
    /// Today's proof of order refuses the carried sequence.
    Proof,
    /// The same of a record made before today's rules, when the proof asked for less.
    LaterProof,
    /// An event that the run could not have come to.
    Order,
    /// A reading that its raw bytes or typed line do not give.
    Reading,
    /// A verdict that the evidence does not give.
    Verdict,
    /// The record does not end as a closed run.
    Ending,
    /// A time earlier than the one before it, or steps faster than hands.
    Clock,
    /// Whose key it is, beside whom the record names.
    Who,
    /// A time that cannot be, by the record's own word or by the calendar.
    When,
    /// The lock of an earlier run, on which it rests.
    Lock,
    /// The length of its cable, which was corrected after something had been read against it.
    Length,
    /// The log over all records, or the archive itself.
    Log,
}

impl Concern {
    /// The word in tables.
    pub fn word(self) -> &'static str {
        match self {
            Concern::Signature => "signature",
            Concern::Chain => "chain",
            Concern::Text => "carried files",
            Concern::Proof | Concern::LaterProof => "proof",
            Concern::Order => "order",
            Concern::Reading => "reading",
            Concern::Verdict => "verdict",
            Concern::Ending => "ending",
            Concern::Clock => "clock",
            Concern::Who => "who",
            Concern::When => "when",
            Concern::Lock => "lock",
            Concern::Length => "length",
            Concern::Log => "log",
        }
    }
}

/// One thing that does not agree.
#[derive(Debug, Clone, PartialEq, Eq, serde::Serialize)]
pub struct Remark {
    /// What it is about.
    pub concern: Concern,
    /// Line of the record, counted from 1; 0 for the record as a whole.
    pub line: u64,
    /// What does not agree, in words.
    pub what: String,
}

impl Remark {
    /// A remark on the record as a whole.
    pub fn on_all(concern: Concern, what: impl Into<String>) -> Remark {
        Remark {
            concern,
            line: 0,
            what: what.into(),
        }
    }

    /// Whether it speaks against the record. A clock that stepped back is on the record and in its limitations, and how fast hands are is no
    /// proof; what was walked before the proof asked for more was walked as it was proved then; a length that was corrected late has its
    /// reason and its bound, and both verdicts are in the record.
    pub fn is_against(&self) -> bool {
        !matches!(self.concern, Concern::Clock | Concern::LaterProof | Concern::Length)
    }

    /// The remark with its place in words.
    pub fn words(&self) -> String {
        let place = if self.line == 0 {
            String::new()
        } else {
            format!("line {}: ", self.line)
        };
        format!("{place}{}", self.what)
    }
}

/// Remarks as they are found.
#[derive(Debug, Default)]
pub struct Remarks {
    kept: Vec<Remark>,
    beyond: u64,
}

impl Remarks {
    /// One more; a line is counted from 1.
    pub fn add(&mut self, concern: Concern, line: u64, what: impl Into<String>) {
        if self.kept.len() < REMARKS_MAX {
            let what = what.into();
            self.kept.push(Remark { concern, line, what });
        } else {
            self.beyond += 1;
        }
    }

    /// All that were kept, and how many were not.
    pub fn into_all(mut self) -> Vec<Remark> {
        if 0 < self.beyond {
            let what = format!("{} more findings after these {REMARKS_MAX}", self.beyond);
            self.kept.push(Remark::on_all(Concern::Order, what));
        }
        self.kept
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn remarks_are_counted_beyond_a_number() {
        let mut remarks = Remarks::default();
        for n in 0..60 {
            remarks.add(Concern::Chain, n, "broken");
        }
        let all = remarks.into_all();
        assert_eq!(all.len(), REMARKS_MAX + 1);
        assert_eq!(all[REMARKS_MAX].words(), "10 more findings after these 50");
    }

    #[test]
    fn a_remark_says_its_line() {
        let remark = |line| Remark {
            line,
            ..Remark::on_all(Concern::Chain, "broken")
        };
        assert_eq!(
            (remark(0).words().as_str(), remark(3).words().as_str()),
            ("broken", "line 3: broken")
        );
    }
}
