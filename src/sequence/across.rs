//! Resistance across a contact of the job while it is dead: closed, then open with its live conductor off.
//!
//! The rule inside: the conductor is a part of the step's own acts, so doing the step again never reads the other state.

use super::binder::Binder;
use super::measures::{Judging, Parts};
use super::raw::AcrossContact;
use crate::job::At;
use crate::job::End;
use crate::judge::window::Window;
use crate::limits::Table;
use crate::located::listed;
use crate::plan::{Act, Point, Probes, Stage, Timing, WindowRule};
use crate::value::quantity::Unit;
use crate::value::reading::Function;

impl<'a> Binder<'a> {
    pub(super) fn across_contact(&mut self, step: &'a AcrossContact) {
        let Some(probes) = self.sides_of(step) else { return };
        let which = if step.lead_off { "open core" } else { "closed contact" };
        let row = match self.job.limits.row(Table::Practice, which) {
            Ok(row) => row,
            Err(what) => return self.problem(&step.id, what, None),
        };
        let edge = Some(row.value.clone());
        let (low, high) = if step.lead_off { (edge, None) } else { (None, edge) };
        let window = Window::new(low, high, Unit::Ohm, vec![row.basis()]);
        let (id, from) = (self.named(&step.id.value), self.steps.len());
        self.measure(Parts {
            id,
            at: &step.id,
            say: &step.say,
            stage: Stage::Test,
            core: None,
            cores: Vec::new(),
            probes,
            function: Function::Continuity,
            window: Judging::Follows(WindowRule::Fixed(window)),
            timing: Timing::Any,
            low_impedance: false,
            is_join: false,
        });
        let contact = step.contact.value.clone();
        let trips = |(name, there): &(&str, &crate::job::Contact)| *name == contact && there.opens;
        let not_shown = format!("{contact}: the path through it was shown; its trip temperature was not tested.");
        // a thermostat or a programmer has no temperature at which it trips
        if self.job.contacts().any(|there| trips(&there)) && !self.limitations.contains(&not_shown) {
            self.limitations.push(not_shown);
        }
        for made in &mut self.steps[from..] {
            made.acts = vec![if step.lead_off {
                Act::TakeLeadOff(contact.clone())
            } else {
                Act::PutLeadOn(contact.clone())
            }];
        }
    }

    /// The two terminals of a contact.
    fn sides_of(&mut self, step: &AcrossContact) -> Option<Probes> {
        let name = &step.contact;
        let job = self.job;
        let known: Vec<_> = job.contacts().map(|(name, _)| format!("`{name}`")).collect();
        let Some((_, contact)) = job.contacts().find(|(there, _)| *there == name.value) else {
            let hint = match known.as_slice() {
                [] => format!("add one to the equipment of the job `{}`", job.text.name),
                known => format!("the job `{}` has {}", job.text.name, listed(known, String::clone)),
            };
            self.problem(
                name,
                format!("the job has no contact called `{}`", name.value),
                Some(hint),
            );
            return None;
        };
        let point = |at: &At| match at {
            At::Near(terminal) => Some((terminal.clone(), End::Near)),
            At::Far(terminal) => Some((terminal.clone(), End::Far)),
            _ => None,
        };
        let (Some((first, one)), Some((second, other))) = (point(&contact.between.0), point(&contact.between.1)) else {
            let what = format!("no probe reaches both sides of `{}`", name.value);
            let hint = format!("wire it between two terminals in the job `{}`", job.text.name);
            self.problem(name, what, Some(hint));
            return None;
        };
        let terminal = |terminal, end| Point::Terminal { terminal, end };
        Some(Probes {
            first: terminal(first, one),
            second: terminal(second, other),
        })
    }
}

#[cfg(test)]
mod tests {
    use crate::job;
    use crate::located::Text;
    use crate::plan::{Act, Hands, Plan};
    use crate::sequence::{self, shipped};

    /// A shipped sequence with a piece of its text replaced, on a shipped job: the plan, or what is said of it.
    fn bound(name: &str, from: &str, to: &str, job: &str) -> Result<Plan, String> {
        let mut texts = shipped::texts(name).unwrap();
        assert!(texts[0].text.contains(from), "{from}");
        texts[0].text = texts[0].text.replace(from, to).into();
        let job = job::read(&shipped::job(job).unwrap()).unwrap();
        let said = |text: &Text, what: &str| format!("{}: {what}", text.name);
        sequence::bind(&sequence::read(&texts).unwrap(), &job).map_err(|findings| {
            let found = findings.iter();
            found
                .map(|finding| said(&finding.text, &format!("{:?}", finding.problem)))
                .collect::<Vec<_>>()
                .join("\n")
        })
    }

    const RUN: &str = "cylinder-cut-out";

    #[test]
    fn the_conductor_is_a_part_of_the_step_itself() {
        let plan = bound(RUN, "format", "format", "shower-cylinder").unwrap();
        let acts = |id: &str| plan.steps[plan.index(id).unwrap()].acts.clone();
        assert_eq!(acts("cut-out-closed"), [Act::PutLeadOn("cut-out".into())]);
        assert_eq!(acts("cut-out-open"), [Act::TakeLeadOff("cut-out".into())]);
        assert_eq!(
            plan.limitations,
            ["cut-out: the path through it was shown; its trip temperature was not tested."]
        );
    }

    #[test]
    fn a_place_left_with_a_conductor_off_says_so() {
        let plan = bound(RUN, "format", "format", "shower-cylinder").unwrap();
        let mut hands = Hands::as_found(&plan.job);
        hands.act(&Act::TakeLeadOff("cut-out".into()));
        assert_eq!(
            hands.to_make_safe(&plan.job),
            [
                "see that the conductor that was taken off is capped and clear; it stays locked off until it is back",
                "cover what was uncovered"
            ]
        );
        hands.act(&Act::PutLeadOn("cut-out".into()));
        assert!(hands.to_make_safe(&plan.job).is_empty());
    }

    #[test]
    fn a_run_with_a_conductor_off_does_not_end_with_the_supply_on() {
        let whole = shipped::texts(RUN).unwrap()[0].text.to_string();
        let from = whole.find("        // isolated again").unwrap();
        let to = whole.find("        Note(id: \"left-off\"").unwrap();
        let refused = bound(RUN, &whole[from..to], "", "shower-cylinder").unwrap_err();
        assert!(refused.contains("ends-safe"), "{refused}");
        assert!(
            refused.contains(
                "the live conductor of `cut-out` is off and the supply stays on: switch off and lock off at the end"
            ),
            "{refused}"
        );
    }

    #[test]
    fn a_contact_that_no_probe_reaches_is_refused() {
        let inside = bound(
            "cylinder-thermostat",
            "        Include(\"parts/connect.ron\"),",
            "        AcrossContact(id: \"across\", contact: \"safety thermostat\", say: \"{first}, {second}.\"),\n        Include(\"parts/connect.ron\"),",
            "galley-cylinder",
        );
        let inside = inside.unwrap_err();
        assert!(
            inside.contains("no probe reaches both sides of `safety thermostat`")
                && inside.contains("wire it between two terminals in the job `fixtures/galley-cylinder.ron`"),
            "{inside}"
        );
    }
}
