//! One pair of live cores linked at the far end, with which each core is solved where the length of the cable is not known.
//!
//! The rule inside: what the return core has is in every reading against it, so only a reading that does not go through it tells
//! a joint in it.

use super::binder::Binder;
use super::measures::{Judging, Parts};
use super::raw::SolveCores;
use super::windows::pair_of_cores;
use crate::job::{Core, End};
use crate::limits::Table;
use crate::plan::{Kind, Point, Probes, Solved, Stage, Timing, WindowRule};
use crate::value::reading::Function;

/// Said where two cores are all that there are.
const TWO_ALONE: &str = "The length of the cable is not known and it has two cores alone: a joint in one of them cannot be told from length.";

impl<'a> Binder<'a> {
    pub(super) fn solve_cores(&mut self, step: &'a SolveCores) {
        let job = self.job;
        let Some(pair) = job.linked_pair() else {
            if job.length.is_none() && !self.limitations.iter().any(|there| there == TWO_ALONE) {
                self.limitations.push(TWO_ALONE.into());
            }
            return;
        };
        let back = job.return_core();
        let read = pair.map(|core| self.read_against_return(core).ok_or(core.name.as_str()));
        let with_return = match read {
            [Ok(a), Ok(b)] => [a, b],
            [Err(core), _] | [_, Err(core)] => {
                let what = format!("no step before it reads core `{core}` against core `{}`", back.name);
                let hint = "put a `Continuity` with the window `CableOrPair` before it, in `EachCore`";
                return self.problem(&step.id, what, Some(hint.into()));
            }
        };
        let rows = job.limits.row(Table::Practice, "cores of one cable alike");
        let (alike, (most, mut basis)) = match rows.and_then(|row| Ok((row, pair_of_cores(job)?))) {
            Ok(rows) => rows,
            Err(what) => return self.problem(&step.id, what, None),
        };
        basis.insert(0, alike.basis());
        let cores = [pair[0], pair[1], back];
        let names = cores.map(|core| core.name.clone());
        let solved = Solved {
            cores: names.clone(),
            with_return,
            areas: cores.map(|core| core.size.clone()),
            within: alike.value.clone(),
            most,
            basis,
        };
        let id = self.named(&step.id.value);
        self.measure(Parts {
            id,
            at: &step.id,
            say: &step.say,
            stage: Stage::Test,
            core: None,
            cores: names.to_vec(),
            probes: Probes {
                first: near(pair[0]),
                second: near(pair[1]),
            },
            function: Function::Continuity,
            window: Judging::Follows(WindowRule::Solved(Box::new(solved))),
            timing: Timing::Any,
            low_impedance: false,
            is_join: false,
        });
    }

    /// The step that reads a core against the return core through a link at the far end.
    fn read_against_return(&self, core: &Core) -> Option<String> {
        let probes = Probes {
            first: near(self.job.return_core()),
            second: near(core),
        };
        let reads =
            |kind: &Kind| matches!(kind, Kind::Measure(measure) if measure.is_of_cable() && measure.probes == probes);
        let step = self.steps.iter().find(|step| reads(&step.kind))?;
        Some(step.id.clone())
    }
}

fn near(core: &Core) -> Point {
    Point::Core {
        core: core.name.clone(),
        end: End::Near,
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::model::sample::{job, job_with, plan_with, unproved};
    use crate::sequence::{bind, read, shipped};

    const LENGTH: &str = "length: \"18 m\",";

    #[test]
    fn a_pair_of_unknown_length_has_at_most_what_the_longest_of_the_smallest_has() {
        // 100 m of 0.5 mm2 and back: 36.0 mohm/m x 200 m (IEC 60228), and 0.05 ohm of contacts
        let plan = plan_with(&job_with(LENGTH, ""), "format", "format");
        let of = |id: &str| match &plan.steps[plan.index(id).unwrap()].kind {
            Kind::Measure(measure) => measure.window.clone(),
            kind => panic!("{kind:?}"),
        };
        let WindowRule::Fixed(first) = of("continuity/brown") else {
            panic!("the first core has a window of its own")
        };
        assert_eq!(first.words(), "at most 7.25 ohm");
        let WindowRule::Solved(solved) = of("solve") else {
            panic!("each core is solved")
        };
        let window = |ohms: &str| solved.window([ohms.parse().unwrap(), ohms.parse().unwrap()]).words();
        assert_eq!(window("0.6"), "0.55 ohm to 0.65 ohm");
        assert_eq!(window("7.24"), "7.19 ohm to 7.25 ohm");
        assert_eq!(solved.cores, ["brown", "grey", "green-yellow"]);
    }

    #[test]
    fn nothing_is_solved_where_the_length_is_known() {
        let plan = plan_with(&job(), "format", "format");
        assert_eq!((plan.index("link-pair"), plan.index("solve")), (None, None));
    }

    #[test]
    fn of_two_cores_alone_the_record_says_that_a_joint_cannot_be_told() {
        let job = shipped::job("changing-rooms-pair")
            .unwrap()
            .text
            .replacen("length:", "// length:", 1);
        let job = crate::job::read(&crate::located::Text::new("pair", job)).unwrap();
        let plan = bind(&read(&shipped::texts("extra-low-pair").unwrap()).unwrap(), &job).unwrap();
        assert!(plan.index("solve").is_none());
        assert!(
            plan.limitations.iter().any(|there| there == TWO_ALONE),
            "{:?}",
            plan.limitations
        );
    }

    /// What is wrong with the shipped sequence on a cable of unknown length, with a piece of it replaced.
    fn check(from: &str, to: &str, expected: &str) {
        let job = job_with(LENGTH, "");
        let mut texts = shipped::texts("stat-cable").unwrap();
        assert!(texts.iter().any(|text| text.text.contains(from)), "{from}");
        (texts.iter_mut()).for_each(|text| text.text = text.text.replace(from, to).into());
        let found = bind(&read(&texts).unwrap(), &job).unwrap_err();
        let first = found.into_iter().next().unwrap().problem.what;
        assert_eq!(first, expected, "{to}");
    }

    #[test]
    fn without_it_continuity_of_unknown_length_shows_too_little() {
        let missing = "rule `tested-before-energising` at `energise`: not shown on every path: each core is solved by a reading that core \
                       `green-yellow` has no part in, since the length is not known";
        check("If(Not(HasLength), [", "If(HasLength, [", missing);
        // without the link it reads nothing
        let link = "act: LinkPair,\n                say: \"At the {far}, take every other link off and link core {core}, core {other} and";
        check(link, "act: RemoveEveryLink, say: \"Not", missing);
        // a record of it is read all the same
        unproved(&job_with(LENGTH, ""), "If(Not(HasLength), [", "If(HasLength, [");
    }

    #[test]
    fn the_two_cores_are_read_against_the_return_core_first() {
        check(
            "window: CableOrPair",
            "window: OpenCore",
            "no step before it reads core `brown` against core `green-yellow`",
        );
    }
}
