//! Names of a plan's steps: one step, one name, whatever cores and zones are called.
//!
//! The rule inside: a name is the sequence's own name for the step, then what each group around it stands at, then what the step
//! itself is about, with a stroke between them, which no name in a job holds. A record knows its steps by these names alone, so a
//! name that once told a step apart stays as it is; only what would read like another is spelled out further.

use std::collections::BTreeMap;

use crate::job::{Core, FurtherSupply, Zone};
use crate::plan::Condition;

/// What the groups around a step give it.
#[derive(Debug, Clone, Default)]
pub(super) struct Around<'a> {
    pub(super) core: Option<&'a Core>,
    pub(super) other: Option<&'a Core>,
    /// The cores of a turn of `EachLink`.
    pub(super) linked: Vec<&'a Core>,
    pub(super) zone: Option<&'a Zone>,
    /// The further supply of an `EachSupply`; none at the supply of the cable.
    pub(super) supply: Option<&'a FurtherSupply>,
    pub(super) only_if: Vec<Condition>,
}

impl<'a> Around<'a> {
    /// What the groups stand at, each with the word for it.
    pub(super) fn about(&self) -> Vec<(&'static str, &'a str)> {
        let zone = self.zone.map(|zone| ("zone", zone.name.as_str()));
        let cores = [self.core, self.other]
            .into_iter()
            .flatten()
            .chain(self.linked.iter().copied());
        let supply = self.supply.map(|supply| ("supply", supply.name.as_str()));
        zone.into_iter()
            .chain(supply)
            .chain(cores.map(|core| ("core", core.name.as_str())))
            .collect()
    }
}

/// The names given so far, each with what the groups stood at.
pub(super) type Names<'a> = BTreeMap<String, Vec<(&'static str, &'a str)>>;

#[cfg(test)]
mod tests {
    use crate::located::Text;
    use crate::{job, sequence};

    /// The names of the steps of the thermostat cable, on its job with cores called otherwise.
    fn names(cores: &[(&str, &str)]) -> Vec<String> {
        let mut text = include_str!("../../fixtures/saltmarsh.ron").to_owned();
        for (from, to) in cores {
            text = text.replace(&format!("(name: \"{from}\", s"), &format!("(name: \"{to}\", s"));
        }
        let job = job::read(&Text::new("job.ron", text)).unwrap();
        let mut texts = sequence::shipped::texts("stat-cable").unwrap();
        let dead = texts
            .iter_mut()
            .find(|text| text.name.ends_with("dead-tests.ron"))
            .unwrap();
        let place = "            ReadJoin(id: \"clip-still-bites\"";
        let pairs = "            Insulation(id: \"insulation-cores\", between: EachPair, window: InsulationMinimum, say: \"{first} to {second}.\"),\n";
        assert!(dead.text.contains(place));
        let without = dead
            .text
            .replace("id: \"insulation-cores\"", "id: \"insulation-others\"");
        dead.text = without.replace(place, &format!("{pairs}{place}")).into();
        let sequence = sequence::read(&texts).unwrap();
        let plan = sequence::bind(&sequence, &job).unwrap();
        plan.steps.into_iter().map(|step| step.id).collect()
    }

    #[test]
    fn names_stay_as_records_know_them_and_only_what_reads_alike_is_spelled_out() {
        let check = |cores: &[(&str, &str)], expected: &[&str]| {
            let names = names(cores);
            for name in expected {
                assert!(names.iter().any(|there| there == name), "{name} is not in {names:#?}");
            }
        };
        let known = [
            "dead-near/earth-line",
            "dead-near/earth-neutral",
            "dead-near/green-yellow-neutral",
            "dead-near/terminal-4-earth",
            "link/grey+black",
            "continuity/brown",
            "continuity/black/with grey",
            "all-open/grey",
            "insulation/brown",
            "insulation-alone/brown/green-yellow",
            "insulation-cores/brown-grey",
            "connect-far/green-yellow",
        ];
        check(&[], &known);
        let earth = ["dead-far/earth-neutral", "dead-far/core/earth-neutral"];
        check(&[("green-yellow", "earth")], &earth);
        // one pair reads so
        check(&[("brown", "1-2"), ("grey", "3")], &["insulation-cores/1-2-3"]);
        // two would
        let hyphens = [("brown", "1-2"), ("grey", "1"), ("black", "2-1")];
        let two = [
            "insulation-cores/1-2/1",
            "insulation-cores/1/2-1",
            "insulation-cores/1-2-2-1",
        ];
        check(&hyphens, &two);
    }
}
