//! The whole sheet: each box with its terminals, the labels, and which thermostat heats what.
//!
//! The rule inside: it is a function of what the cables prove and of the moment it is made, so the same records make the same sheet.

use jiff::Timestamp;
use jiff::tz::Offset;
use serde::Serialize;

use super::cable::{CableSheet, Held};
use super::label::{Label, labels};
use crate::evidence::certificate::page::cautions;
use crate::job::End;

/// A terminal of a box with every core of the sheet's cables that belongs in it.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
pub struct TerminalRow {
    /// The terminal, by its marking.
    pub terminal: String,
    /// Its cores, a cable each; empty where no cable of the sheet has one there.
    pub cores: Vec<Held>,
}

/// A box where cables begin.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
pub struct LidBox {
    /// What it is called.
    pub name: String,
    /// Its terminals, in the order in which jobs list them.
    pub terminals: Vec<TerminalRow>,
    /// The cables that begin in it, by their places among the sheet's.
    pub cables: Vec<usize>,
}

/// The sheet.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
pub struct Sheet {
    /// The place and its part.
    pub place: String,
    /// When it was made.
    #[serde(skip)]
    pub made: Timestamp,
    /// The day on which it was made.
    pub day: String,
    /// Every cable of the place.
    pub cables: Vec<CableSheet>,
    /// Every box in which one of them begins.
    pub boxes: Vec<LidBox>,
    /// Labels to cut out.
    pub labels: Vec<Label>,
    /// What the reader must bear in mind.
    pub cautions: Vec<String>,
}

impl Sheet {
    /// Of the cables of a place, made at a moment.
    pub fn of(place: String, made: Timestamp, cables: Vec<CableSheet>) -> Sheet {
        Sheet {
            place,
            made,
            day: format!("{} (UTC)", Offset::UTC.to_datetime(made).date()),
            boxes: boxes(&cables),
            labels: cables.iter().flat_map(labels).collect(),
            // how a record is checked belongs to its certificate
            cautions: cautions().into_iter().take(3).collect(),
            cables,
        }
    }

    /// Whether nothing of it is left blank.
    pub fn is_whole(&self) -> bool {
        self.cables.iter().all(CableSheet::is_whole)
    }
}

fn boxes(cables: &[CableSheet]) -> Vec<LidBox> {
    let mut boxes: Vec<LidBox> = Vec::new();
    for (number, cable) in cables.iter().enumerate() {
        let Some(near) = &cable.near else { continue };
        let at = boxes.iter().position(|there| there.name == *near).unwrap_or_else(|| {
            boxes.push(LidBox {
                name: near.clone(),
                terminals: Vec::new(),
                cables: Vec::new(),
            });
            boxes.len() - 1
        });
        let there = &mut boxes[at];
        there.cables.push(number);
        for terminal in &cable.terminals {
            if !there.terminals.iter().any(|row| row.terminal == *terminal) {
                there.terminals.push(TerminalRow {
                    terminal: terminal.clone(),
                    cores: Vec::new(),
                });
            }
        }
        let held = cable.held.iter().filter(|held| held.end == End::Near);
        for held in held {
            let row = there.terminals.iter_mut().find(|row| row.terminal == held.terminal);
            row.expect("a core's terminal is one of its end's")
                .cores
                .push(held.clone());
        }
    }
    boxes
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::evidence::certificate::lid::ControlRow;
    use crate::evidence::certificate::of_sheet;
    use crate::evidence::certificate::page::sample;
    use crate::judge::window::{Outcome, Verdict};
    use crate::run::dialogue::Ask;
    use crate::run::fold::Run;

    const SHA: &str = "5f0c6a1d2e3b4c5d6e7f8091a2b3c4d5e6f708192a3b4c5d6e7f8091a2b3c4d5";

    fn sheet(run: &Run, overtaken: Option<&str>) -> Sheet {
        let cable = CableSheet::of(run, SHA, overtaken.map(str::to_owned));
        let made = "2026-11-30T12:00:00Z".parse().unwrap();
        Sheet::of("Saltmarsh Sailing Club, clubhouse".into(), made, vec![cable])
    }

    fn control<'a>(sheet: &'a Sheet, name: &str) -> &'a ControlRow {
        let found = sheet.cables[0].controls.iter().find(|row| row.control == name);
        found.unwrap_or_else(|| panic!("{name} is no control"))
    }

    /// The walk of an underfloor manifold; the first map of the workshop is answered with this.
    fn underfloor(first: Option<&'static str>) -> Run {
        let mut asked = 0;
        let opened = sample::opened_by("underfloor-zones", sample::UNDERFLOOR, None);
        sample::walk(opened, move |prompt| {
            let line = match (prompt.step.as_str(), &prompt.ask) {
                (_, Ask::Note { .. }) => "as it is",
                // 9 m of 0.75 mm2 and the leads
                (step, Ask::Reading { .. }) if step.starts_with("continuity/") => "0.57",
                ("zone-map/workshop", Ask::Look { .. }) if asked == 0 => {
                    asked = 1;
                    first?
                }
                ("zone-map/workshop", Ask::Decision { .. }) => "again",
                _ => return None,
            };
            Some(line.to_owned())
        })
    }

    /// The demonstration run as if this step had not been tested.
    fn untested(step: &str) -> Run {
        let mut run = sample::passed();
        let step = run.plan.index(step).unwrap();
        let attempt = run.steps[step].attempts.last_mut().unwrap();
        attempt.verdict = Verdict::plain(Outcome::NotTested, "the battery of the tester is flat");
        run
    }

    #[test]
    fn each_core_that_was_proved_stands_at_its_terminal_with_its_other_end() {
        let sheet = sheet(&sample::passed(), None);
        assert!(sheet.is_whole());
        let rows: Vec<(&str, Option<&str>, Option<&str>)> = sheet.boxes[0]
            .terminals
            .iter()
            .map(|row| {
                let held = row.cores.first();
                let core = held.and_then(|held| held.core.as_deref());
                (row.terminal.as_str(), core, held.and_then(|held| held.to.as_deref()))
            })
            .collect();
        assert_eq!(
            rows,
            [
                ("1", Some("brown"), Some("L at the sail loft thermostat")),
                ("2", Some("grey, sleeve blue"), Some("N at the sail loft thermostat")),
                ("3", Some("black, sleeve brown"), Some("SL at the sail loft thermostat")),
                ("4", None, None),
                ("E", Some("green-yellow"), Some("E at the sail loft thermostat")),
            ]
        );
        let record = sheet.cables[0].record.as_ref().unwrap();
        assert_eq!((record.day.as_str(), record.sha256.as_str()), ("2026-11-25", SHA));
    }

    #[test]
    fn what_follows_a_control_is_what_came_and_went_with_its_call() {
        let one = sheet(&sample::passed(), None);
        let row = control(&one, "thermostat");
        assert_eq!(row.feeds, ["boiler input", "zone valve"]);
        // nobody looked at the valve: that it has its voltage does not show that it opens
        assert!(row.moves.is_empty() && row.runs.is_empty(), "{row:?}");
        assert!(row.not_proved.is_empty() && row.found.is_empty(), "{row:?}");

        let zones = sheet(&underfloor(None), None);
        assert!(zones.is_whole());
        let row = control(&zones, "workshop thermostat");
        assert_eq!(row.zones, ["workshop"]);
        assert_eq!(row.moves, ["actuator 1", "actuator 2"]);
        assert_eq!(row.flows, ["flow 1", "flow 2"]);
        assert_eq!(row.runs, ["underfloor pump"]);
        assert_eq!(row.feeds, ["actuator 1", "actuator 2"]);
        assert_eq!(control(&zones, "gallery thermostat").moves, ["actuator 4"]);
        let named: Vec<_> = zones.labels.iter().filter_map(|label| label.name.as_deref()).collect();
        for name in ["Z1", "workshop thermostat", "actuator 3", "flow 4"] {
            assert!(named.contains(&name), "{name}: {named:?}");
        }
    }

    #[test]
    fn what_was_seen_first_stands_as_found() {
        let sheet = sheet(&underfloor(Some("actuator 1")), None);
        let row = control(&sheet, "workshop thermostat");
        assert_eq!(row.moves, ["actuator 1", "actuator 2"]);
        assert_eq!(row.found.len(), 1, "{:?}", row.found);
        assert!(row.found[0].ends_with(": actuator 1"), "{:?}", row.found);
        assert!(control(&sheet, "gallery thermostat").found.is_empty());
    }

    #[test]
    fn a_step_that_was_not_tested_leaves_blank_what_rests_on_it_alone() {
        let flat = "not tested, the battery of the tester is flat";
        let unread = sheet(&untested("end-switch-off"), None);
        assert!(!unread.is_whole());
        let row = control(&unread, "thermostat");
        assert_eq!(row.feeds, ["zone valve"], "{row:?}");
        assert_eq!(row.not_proved, [format!("boiler input: {flat}")]);
        assert!(unread.cables[0].held.iter().all(|held| held.core.is_some()));

        // a reading in its turn of the link tells each core from every other
        let unread = sheet(&untested("continuity/grey"), None);
        assert_eq!(unread.cables[0].held.len(), 8);
        for held in &unread.cables[0].held {
            assert_eq!(held.core, None, "{held:?}");
            assert_eq!(held.not_proved, Some(format!("continuity/grey: {flat}")), "{held:?}");
        }
        let blank = unread.labels.iter().filter_map(|label| label.blank.as_deref());
        let terminals = ["1", "2", "3", "E"].map(|name| format!("not proved: terminal {name} at the wiring centre"));
        assert!(terminals.iter().all(|name| blank.clone().any(|there| there == name)));
        assert_eq!(control(&unread, "thermostat").feeds, ["boiler input", "zone valve"]);

        // in at one end, and not shown to hold at the other
        for step in ["tug-far/black", "clamp-far/black"] {
            let unread = sheet(&untested(step), None);
            let at = |terminal: &str| unread.cables[0].held.iter().find(|held| held.terminal == terminal);
            let (near, far) = (at("3").unwrap(), at("SL").unwrap());
            assert_eq!(
                (near.core.is_some(), &near.to, &far.core),
                (true, &None, &None),
                "{step}"
            );
            assert_eq!(near.not_proved, Some(format!("{step}: {flat}")));
        }
    }

    #[test]
    fn a_record_that_failed_or_is_not_the_last_word_leaves_everything_blank() {
        let abandoned = "its run was abandoned: insulation between brown and grey is too low";
        let unfinished = "run 0193 on it is unfinished";
        for (run, overtaken, why) in [
            (sample::failed(), None, abandoned),
            (sample::opened(sample::JOB, None), None, "its run is not closed"),
            (sample::passed(), Some(unfinished), unfinished),
        ] {
            let sheet = sheet(&run, overtaken);
            assert!(!sheet.is_whole());
            assert_eq!(sheet.cables[0].blank.as_deref(), Some(why));
            for held in &sheet.cables[0].held {
                assert_eq!((&held.core, &held.carries, &held.to), (&None, &None, &None));
            }
            for row in &sheet.cables[0].controls {
                assert!(!row.is_proved() && row.not_proved == [why], "{row:?}");
            }
            let [label] = sheet.labels.as_slice() else {
                panic!("one blank label: {:?}", sheet.labels)
            };
            assert_eq!(label.name, None);
        }
    }

    #[test]
    fn the_same_sheet_gives_the_same_bytes_and_whatever_a_job_may_hold_is_set_in_type() {
        let one = sheet(&sample::passed(), None);
        assert_eq!(of_sheet(&one).unwrap(), of_sheet(&one).unwrap());
        for run in [sample::hostile(), sample::extreme()] {
            of_sheet(&sheet(&run, None)).unwrap();
        }
        let without = CableSheet::without_record("boiler cable", "it has no record");
        let made = "2026-11-30T12:00:00Z".parse().unwrap();
        of_sheet(&Sheet::of("Saltmarsh".into(), made, vec![without])).unwrap();
    }
}
