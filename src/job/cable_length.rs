//! The length of a cable: as the job states it, and as it was corrected while the cable was walked.
//!
//! The rule inside: a length against which nothing was read yet is a slip, and is put right. One against which readings were judged moves
//! only for a reason, and by a quarter in all: otherwise it could be stretched until a bad joint passes.

use std::fmt;

use rust_decimal::Decimal;

use crate::value::quantity::{Amount, Unit};

/// The most corrections of one length. Our own choice: whoever needs more has not measured it.
const CORRECTIONS_MAX: usize = 8;

/// Why a length is not corrected.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
pub enum LengthError {
    /// An amount of something else.
    #[error("`{0}` is {quantity}, a length is needed here: type it as `length 14 m`", quantity = .0.unit.quantity())]
    NotALength(Amount),
    /// No cable is as short or as long.
    #[error("`{0}` is outside 0.5 m to 1000 m: look at the figure again")]
    OutsideRange(Amount),
    /// It changes nothing.
    #[error("the length is {0} already")]
    Unchanged(Amount),
    /// It was corrected too often.
    #[error(
        "the length was corrected {CORRECTIONS_MAX} times, which is the most: abandon, and state it in the job once it is measured"
    )]
    TooOften,
    /// It moves further than it may once something was read against it.
    #[error(transparent)]
    TooFar(#[from] Box<TooFar>),
    /// Something was read against it, and nothing says why it is corrected.
    #[error("something was read against the length of {0}: it is corrected only with a reason")]
    WithoutReason(Amount),
}

/// A length that moves too far once something was read against it.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
#[error(
    "`{to}` moves the length by {moved} in all since something was read against it, at most {most} is allowed, a quarter of {of}: \
     abandon, and state it in the job once it is measured"
)]
pub struct TooFar {
    /// What it was to be corrected to.
    pub to: Amount,
    /// How far that would move it in all.
    pub moved: Amount,
    /// The most that it may move.
    pub most: Amount,
    /// The length of which that is a quarter.
    pub of: Amount,
}

/// One correction.
#[derive(Debug, Clone, PartialEq, Eq)]
struct Correction {
    to: Amount,
    because: Option<String>,
    /// Something had been read against the length before.
    after_reading: bool,
}

/// The length of a cable, 0.5 m to 1000 m.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct CableLength {
    stated: Amount,
    corrections: Vec<Correction>,
}

/// Whether a cable may be so long, in metres.
pub(super) fn is_in_range(metres: Decimal) -> bool {
    Decimal::new(5, 1) <= metres && metres <= Decimal::ONE_THOUSAND
}

impl CableLength {
    /// A length as the job states it, which was checked there.
    pub fn stated(length: Amount) -> CableLength {
        CableLength {
            stated: length,
            corrections: Vec::new(),
        }
    }

    /// The length that counts now.
    pub fn in_force(&self) -> &Amount {
        self.corrections.last().map_or(&self.stated, |last| &last.to)
    }

    /// Whether it was corrected at all.
    pub fn is_corrected(&self) -> bool {
        !self.corrections.is_empty()
    }

    /// Whether it was corrected when something had been read against it.
    pub fn is_corrected_late(&self) -> bool {
        self.corrections.iter().any(|correction| correction.after_reading)
    }

    /// The same length corrected, `because` of this, where something was or was not read against it before.
    ///
    /// # Errors
    /// Anything but another length of a cable; further than a quarter in all, or without a reason, where something was read.
    ///
    /// ```
    /// use coreproof::job::CableLength;
    /// use coreproof::value::quantity::Amount;
    /// let metres = |text| Amount::parse(text).unwrap();
    /// let length = CableLength::stated(metres("12 m"));
    /// let corrected = length.corrected(&metres("14 m"), Some("it goes round the loft"), true).unwrap();
    /// assert_eq!(corrected.in_force(), &metres("14 m"));
    /// assert_eq!(corrected.to_string(), "14 m (stated 12 m, corrected to 14 m because it goes round the loft)");
    /// assert!(corrected.corrected(&metres("16 m"), Some("it goes further"), true).is_err());
    /// ```
    pub fn corrected(
        &self,
        to: &Amount,
        because: Option<&str>,
        after_reading: bool,
    ) -> Result<CableLength, LengthError> {
        if to.unit != Unit::Metre {
            return Err(LengthError::NotALength(to.clone()));
        }
        if !is_in_range(to.value()) {
            return Err(LengthError::OutsideRange(to.clone()));
        }
        if to.value() == self.in_force().value() {
            return Err(LengthError::Unchanged(self.in_force().clone()));
        }
        if CORRECTIONS_MAX <= self.corrections.len() {
            return Err(LengthError::TooOften);
        }
        let because = because.map(str::trim).filter(|text| !text.is_empty());
        let mut next = self.clone();
        next.corrections.push(Correction {
            to: to.clone(),
            because: because.map(str::to_owned),
            after_reading,
        });
        if after_reading {
            next.moves_within_a_quarter()?;
            if because.is_none() {
                return Err(LengthError::WithoutReason(self.in_force().clone()));
            }
        }
        Ok(next)
    }

    /// Every metre counts by which it moved since something was read against it, there and back. It is a quarter of what was stated first, or
    /// of what stood at the first reading where that is less: neither a slip in the job nor its correction makes room.
    fn moves_within_a_quarter(&self) -> Result<(), Box<TooFar>> {
        let before = std::iter::once(&self.stated).chain(self.corrections.iter().map(|correction| &correction.to));
        let late = || before.clone().zip(&self.corrections).filter(|(_, to)| to.after_reading);
        let at_first_reading = late().next().map_or(&self.stated, |(before, _)| before);
        let moved: Decimal = late()
            .map(|(before, next)| (next.to.value() - before.value()).abs())
            .sum();
        let of = self.stated.value().min(at_first_reading.value());
        let most = of / Decimal::from(4);
        let metres = |value: Decimal| Amount::new(value.normalize(), Unit::Metre);
        match moved <= most {
            true => Ok(()),
            false => Err(Box::new(TooFar {
                to: self.in_force().clone(),
                moved: metres(moved),
                most: metres(most),
                of: metres(of),
            })),
        }
    }
}

impl fmt::Display for CableLength {
    /// The length in force; where it was corrected, what was stated and every correction with its reason beside it.
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "{}", self.in_force())?;
        if !self.is_corrected() {
            return Ok(());
        }
        write!(f, " (stated {}", self.stated)?;
        for Correction { to, because, .. } in &self.corrections {
            write!(f, ", corrected to {to}")?;
            if let Some(because) = because {
                write!(f, " because {because}")?;
            }
        }
        f.write_str(")")
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn metres(text: &str) -> Amount {
        Amount::parse(text).unwrap()
    }

    /// Corrects a length stated so: `!` before one marks that something was read before; the outcome of the last in words.
    fn check(stated: &str, corrections: &[&str], expected: &str) {
        let mut length = CableLength::stated(metres(stated));
        let mut told = String::new();
        for correction in corrections {
            let (late, text) = correction
                .strip_prefix('!')
                .map_or((false, *correction), |text| (true, text));
            let (to, because) = text
                .split_once(" because")
                .map_or((text, None), |(to, why)| (to, Some(why)));
            match length.corrected(&metres(to), because, late) {
                Ok(next) => {
                    length = next;
                    told = length.to_string();
                }
                Err(why) => told = why.to_string(),
            }
        }
        assert_eq!(told, expected, "{stated} {corrections:?}");
    }

    #[test]
    fn before_its_first_reading_it_is_put_right_and_later_moved_by_a_quarter_in_all_for_a_reason() {
        check("12 m", &["120 m"], "120 m (stated 12 m, corrected to 120 m)");
        check(
            "12 m",
            &["14 m because paced"],
            "14 m (stated 12 m, corrected to 14 m because paced)",
        );
        check(
            "12 m",
            &["!15 m because loft"],
            "15 m (stated 12 m, corrected to 15 m because loft)",
        );
        check(
            "12 m",
            &["!9 m because loft"],
            "9 m (stated 12 m, corrected to 9 m because loft)",
        );
        check(
            "12 m",
            &["!13 m because a", "!14 m because b", "!15 m because c"],
            "15 m (stated 12 m, corrected to 13 m because a, corrected to 14 m because b, corrected to 15 m because c)",
        );
    }

    #[test]
    fn every_refusal_says_what_is_wrong_and_what_to_do() {
        let further = |to: &str, moved: &str, most: &str, of: &str| {
            format!(
                "`{to}` moves the length by {moved} in all since something was read against it, at most {most} is allowed, a quarter of {of}: \
                 abandon, and state it in the job once it is measured"
            )
        };
        check(
            "12 m",
            &["!15.1 m because a"],
            &further("15.1 m", "3.1 m", "3 m", "12 m"),
        );
        check("12 m", &["!8.9 m because a"], &further("8.9 m", "3.1 m", "3 m", "12 m"));
        // 15 % twice, in one direction or there and back
        check(
            "20 m",
            &["!23 m because a", "!26 m because b"],
            &further("26 m", "6 m", "5 m", "20 m"),
        );
        check(
            "20 m",
            &["!23 m because a", "!20 m because b"],
            &further("20 m", "6 m", "5 m", "20 m"),
        );
        // neither a slip in the job nor its correction makes room
        check(
            "120 m",
            &["12 m", "!16 m because a"],
            &further("16 m", "4 m", "3 m", "12 m"),
        );
        check(
            "12 m",
            &["120 m", "!124 m because a"],
            &further("124 m", "4 m", "3 m", "12 m"),
        );
        let reason = "something was read against the length of 12 m: it is corrected only with a reason";
        check("12 m", &["!14 m"], reason);
        check("12 m", &["!14 m because   "], reason);
        check("12 m", &["12.0 m"], "the length is 12 m already");
        check("12 m", &["14 m", "14 m"], "the length is 14 m already");
        for (to, said) in [
            ("0 m", "0 m"),
            ("-14 m", "-14 m"),
            ("0.4 m", "0.4 m"),
            ("1001 m", "1001 m"),
        ] {
            let told = format!("`{said}` is outside 0.5 m to 1000 m: look at the figure again");
            check("12 m", &[to], &told);
        }
        check(
            "12 m",
            &["14 V"],
            "`14 V` is a voltage, a length is needed here: type it as `length 14 m`",
        );
        check(
            "12 m",
            &["1 m", "2 m", "3 m", "4 m", "5 m", "6 m", "7 m", "8 m", "9 m"],
            "the length was corrected 8 times, which is the most: abandon, and state it in the job once it is measured",
        );
    }
}
