//! Readings that come from a meter: contacts found by sweeping the probes, and resistors.
//!
//! The rule inside: a contact is taken first and told afterwards between which two it was; until then nothing else is read.

use rust_decimal::prelude::ToPrimitive;

use super::answer;
use super::error::IdentifyError;
use super::event::Given;
use super::found::Measured;
use super::plan::{Method, Plan};
use super::resistors::{self, Read};
use super::walk::{Stage, Walk};
use super::words;
use crate::job::instrument::{Ability, Instrument};
use crate::value::reading::Reading;

/// What a question can take from a meter.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Wants {
    /// It is answered in words.
    Nothing,
    /// Two cores that conduct to each other.
    Contact,
    /// The ohms between the two that the question names, or that it is open.
    Ohms,
}

impl Walk {
    /// What the question can take from a meter now.
    pub fn wants(&self) -> Wants {
        match &self.now.stage {
            _ if self.now.pending.is_some() => Wants::Nothing,
            Stage::NearBare | Stage::Look(_) | Stage::Closing | Stage::ResistorContacts | Stage::Check(_) => {
                Wants::Contact
            }
            Stage::Resistor => Wants::Ohms,
            Stage::ProvedDead | Stage::DiodeNear | Stage::DiodeFar | Stage::Done => Wants::Nothing,
        }
    }

    /// Takes a reading of a meter.
    ///
    /// # Errors
    /// One that is neither joined nor open; one that is open where a contact is sought; a question that takes none.
    pub fn take(&mut self, reading: &Reading) -> Result<(), IdentifyError> {
        let display = reading.display();
        match self.wants() {
            Wants::Nothing => Err(IdentifyError::TakesNoReading { shown: display }),
            Wants::Contact => match answer::joined(reading, &self.plan.figures)? {
                Some(true) => self.or_as_before(|walk| {
                    walk.now.pending = Some(reading.clone());
                    Ok(())
                }),
                Some(false) => Err(IdentifyError::NoContact { shown: display }),
                None => Err(IdentifyError::BetweenJoinedAndOpen { token: display }),
            },
            Wants::Ohms => self.or_as_before(|walk| {
                let (from, to) = walk.next_pair().expect("a reading is asked for");
                let between = walk.pair_words(from, to);
                walk.resistor(&display, reading)?;
                let step = walk.now.steps.last_mut().expect("the reading was noted");
                step.readings.push(Measured {
                    between,
                    reading: reading.clone(),
                });
                Ok(())
            }),
        }
    }

    /// Takes what was said of the pending contact.
    pub(super) fn placed(&mut self, line: &str) -> Result<Given, IdentifyError> {
        let pair = answer::pair(line, self.now.at, self.plan.cores, self.now.evidence.earth)?;
        let reading = self.now.pending.take().expect("a contact is pending");
        let labels = pair
            .iter()
            .map(|t| words::label(self.now.at, *t, self.plan.cores))
            .collect();
        self.now.measured.push((pair, reading));
        Ok(Given::Between(labels))
    }

    /// Takes the ohms between the next two.
    pub(super) fn resistor(&mut self, line: &str, reading: &Reading) -> Result<(), IdentifyError> {
        let (from, to) = self.next_pair().expect("a reading is asked for");
        let read = answer::ohms(reading, self.reach_ohms())?;
        let words = match read {
            Read::Ohms(ohms) => format!("{ohms} ohm"),
            Read::Open => "open".into(),
        };
        self.note(line, &format!("{} {words}", self.pair_words(from, to)));
        self.now.reads.push((from, to, read));
        if self.next_pair().is_none() {
            self.tell_by_resistors();
            return self.go_on();
        }
        Ok(())
    }

    /// Puts the contacts of this look beside it.
    pub(super) fn note_measured(&mut self) {
        let measured = std::mem::take(&mut self.now.measured);
        let named = measured.into_iter().map(|(pair, reading)| Measured {
            between: words::group(self.now.at, &pair, self.plan.cores),
            reading,
        });
        let readings = named.collect();
        self.now.steps.last_mut().expect("the look was noted").readings = readings;
    }

    /// The contacts of this look so far, in words: `1-4 0.62 ohm`.
    pub fn measured(&self) -> Vec<String> {
        let said = |(pair, reading): &(Vec<usize>, Reading)| {
            let two = words::group(self.now.at, pair, self.plan.cores);
            format!("{two} {}", reading.display())
        };
        self.now.measured.iter().map(said).collect()
    }
}

/// Whether an instrument can show what a walk needs: contacts, and open where resistors are on.
///
/// # Errors
/// An instrument that measures no ohms, or whose range ends before the resistors.
pub fn can_measure(walk: &Walk, instrument: &Instrument) -> Result<(), IdentifyError> {
    let resistors = matches!(
        walk.plan.method,
        Method::ResistorsToEarth(_) | Method::ResistorsFromHub(_)
    );
    let (mut measures, mut top) = (false, 0.0_f64);
    for ability in &instrument.can {
        match ability {
            Ability::Resistance { ceiling, .. } => {
                measures = true;
                top = top.max(ceiling.value().to_f64().expect("every decimal has a nearest float"));
            }
            Ability::Continuity { .. } => measures = true,
            _ => {}
        }
    }
    if !measures {
        return Err(IdentifyError::MeasuresNoOhms {
            instrument: instrument.name.clone(),
        });
    }
    if resistors && top < walk.reach_ohms() {
        return Err(IdentifyError::RangeBelowResistors {
            instrument: instrument.name.clone(),
            ohms: format!("{:.0}", walk.reach_ohms()),
        });
    }
    Ok(())
}

/// What the meter must be able to show for a plan with resistors.
pub fn reach_words(plan: &Plan) -> Option<String> {
    let (Method::ResistorsToEarth(values) | Method::ResistorsFromHub(values)) = &plan.method else {
        return None;
    };
    let list: Vec<String> = values.iter().map(|value| resistors::words(*value)).collect();
    let reach = resistors::greatest(values, &plan.figures) / 1000.0;
    Some(format!(
        "Resistors of {}, and a range of the meter that reaches {reach:.1} kohm.",
        list.join(", ")
    ))
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::explain::Explain;
    use crate::identify::figures::Figures;
    use crate::identify::kit::Kit;
    use crate::identify::plan::plan;
    use crate::value::reading::Function;

    fn walk(cores: usize, kit: &str, lines: &[&str]) -> Walk {
        let plan = plan(cores, Kit::parse(kit).unwrap(), &Figures::shipped()).unwrap();
        let mut walk = Walk::new(plan, false);
        for line in lines {
            walk.answer(line).unwrap();
        }
        walk
    }

    fn reading(text: &str) -> Reading {
        Reading::typed(text, Function::Resistance).unwrap()
    }

    #[test]
    fn a_contact_is_taken_first_and_placed_afterwards() {
        let mut walk = walk(3, "links", &["dead", "none"]);
        assert_eq!(walk.wants(), Wants::Contact);
        walk.take(&reading("0.62")).unwrap();
        assert_eq!(walk.wants(), Wants::Nothing);
        let refused = walk.take(&reading("0.62")).unwrap_err();
        assert_eq!(refused.to_string(), "`0.62 ohm` is not asked for here");
        for (line, error) in [
            ("4-5", "`4` is no label at the far end, the labels there are 1 to 3"),
            ("2", "`2` names one core alone"),
            (
                "1-2-3",
                "`1-2-3` is not an answer to this question, the answers are: two labels, as the probes stood",
            ),
        ] {
            assert_eq!(walk.answer(line).unwrap_err().to_string(), error);
        }
        walk.answer("2-3").unwrap();
        assert_eq!(walk.measured(), ["2-3 0.62 ohm"]);
        let none = walk.answer("none").unwrap_err();
        assert_eq!(none.to_string(), "`none` cannot be: contacts were taken at this look");
        assert_eq!(
            none.hint().unwrap(),
            "`done` when every pair was tried, `back` where a contact was nothing"
        );
        walk.answer("done").unwrap();
        let found = {
            for line in ["A-C", "none"] {
                walk.answer(line).unwrap();
            }
            walk.found().unwrap()
        };
        assert!(found.is_sound(), "{found:?}");
        assert_eq!(found.steps[1].read_as, "2-3");
        assert_eq!(found.steps[1].readings[0].between, "2-3");
    }

    #[test]
    fn a_contact_that_was_nothing_is_taken_back() {
        let mut walk = walk(3, "links", &["dead", "none"]);
        walk.take(&reading("0.62")).unwrap();
        walk.answer("back").unwrap();
        assert_eq!((walk.wants(), walk.measured().len()), (Wants::Contact, 0));
    }

    #[test]
    fn what_is_no_contact_is_refused() {
        let mut walk = walk(3, "links", &["dead", "none"]);
        let mut text = |shown: &str| walk.take(&reading(shown)).unwrap_err();
        assert_eq!(text("OL").to_string(), "`OL (ohm)` is no contact");
        assert_eq!(
            text("OL").hint().unwrap(),
            "what conducts to nothing is left out: go on to the next two"
        );
        assert_eq!(text("300").to_string(), "`300 ohm` is neither joined nor open");
    }

    #[test]
    fn resistors_are_taken_pair_by_pair_and_need_the_range() {
        let mut walk = walk(2, "resistors,earth", &["dead", "none", "none"]);
        assert_eq!(walk.wants(), Wants::Ohms);
        let refused = walk.take(&reading(">1999")).unwrap_err();
        assert_eq!(
            refused.to_string(),
            "`>1999 ohm` does not say that it is open: the range ends before 3210 ohm"
        );
        walk.take(&reading("1.52k")).unwrap();
        walk.take(&reading("1.19k")).unwrap();
        let found = walk.found().unwrap();
        let names: Vec<String> = found.rows.iter().map(super::super::found::Row::name).collect();
        assert_eq!(names, ["A = 2", "B = 1"]);
        assert_eq!(found.steps[2].readings[0].between, "1 to earth");
    }

    #[test]
    fn an_instrument_that_cannot_show_what_is_needed_is_named() {
        use crate::job;
        use crate::located::Text;
        let text = Text {
            name: "saltmarsh.ron".into(),
            text: include_str!("../../fixtures/saltmarsh.ron").into(),
        };
        let instruments = job::read(&text).unwrap().instruments;
        let error = |kit: &str, i: usize| can_measure(&walk(4, kit, &[]), &instruments[i]).map_err(|e| e.to_string());
        assert_eq!(error("links", 0), Err("`indicator` measures no ohms".into()));
        assert_eq!(error("links", 1), Ok(()));
        assert_eq!(
            error("resistors", 1),
            Err("the ohms range of `tester` ends before the 3852 ohm that the resistors need".into())
        );
        assert_eq!(error("resistors", 2), Ok(()));
    }
}
