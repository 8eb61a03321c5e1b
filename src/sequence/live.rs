//! Live tests of what protects the circuit: earth fault loop impedance and the trip of the residual-current device.
//!
//! The rule inside: both go between a line terminal and the earth of one end, both may switch off more than this circuit, and
//! the step says so before the probes are on.

use super::binder::Binder;
use super::live_windows;
use super::measures::{Judging, Parts};
use super::raw::RawWindow;
use crate::job::{End, Purpose};
use crate::judge::window::Window;
use crate::located::Located;
use crate::plan::{Point, Probes, Stage, Timing};
use crate::value::reading::{Function, Multiple};

/// Said with every test that sends a current to earth: what is earthed carries its voltage where the earth is broken.
const EARTHED_METAL: &str = "While the test runs, nobody touches metalwork that this circuit earths.";

/// A live test between a line terminal of an end and its earth, as the sequence asks for it.
pub(super) struct Asked<'a> {
    pub(super) id: &'a Located<String>,
    pub(super) end: End,
    /// What the line terminal is for; the permanent live where the step says nothing.
    pub(super) line: Option<&'a Located<String>>,
    pub(super) window: &'a Located<RawWindow>,
    pub(super) say: &'a str,
    pub(super) timing: Timing,
}

impl<'a> Binder<'a> {
    /// A loop impedance test.
    pub(super) fn loop_impedance(&mut self, asked: Asked<'a>) {
        let caution = match self.loop_caution() {
            Ok(caution) => caution,
            Err(what) => return self.problem(asked.id, what, None),
        };
        self.test_to_earth(asked, Function::Loop, caution);
    }

    /// A trip test of the residual-current device, at a multiple of its rated current.
    pub(super) fn residual_trip(&mut self, asked: Asked<'a>, times: Multiple) {
        let what = match times {
            Multiple::Half => {
                "This test must not trip the residual-current device, and a faulty one trips all the same"
            }
            Multiple::Once | Multiple::FiveTimes => "This test trips the residual-current device",
        };
        let caution = format!(
            "{what}: everything it feeds goes off. Ask the people there first, and switch off what must not lose its supply. Once it \
             has tripped, it is switched on again before any other test, this one too. {EARTHED_METAL}"
        );
        self.test_to_earth(asked, Function::ResidualTrip(times), caution);
    }

    /// The greatest loop that passes at an end, by its device and by what it is made of.
    ///
    /// # Errors
    /// A device, a `ze`, a length or an instrument that the job lacks.
    pub(super) fn loop_expected(&self, parts: &Parts<'_>) -> Result<Window, String> {
        let end = match &parts.probes.second {
            Point::Terminal { end, .. } | Point::Core { end, .. } => *end,
            _ => End::Near,
        };
        let line = self.job.cores.iter().find(
            |core| matches!(&parts.probes.second, Point::Terminal { terminal, .. } if core.terminal(end) == terminal),
        );
        let (used, _) = self.instrument(parts, None)?;
        live_windows::loop_expected(self.job, line.filter(|_| end == End::Far), end, &used.known.accuracy)
    }

    fn test_to_earth(&mut self, asked: Asked<'a>, function: Function, caution: String) {
        let Asked {
            id,
            end,
            line,
            window,
            say,
            timing,
        } = asked;
        let job = self.job;
        if job.is_extra_low_voltage() {
            let what = format!(
                "there is no {} at {}, which is extra-low voltage",
                function.dial(),
                job.supply.nominal
            );
            return self.problem(id, what, Some("leave the step out of sequences for this job".into()));
        }
        let usual = Located {
            value: Purpose::PermanentLive.words().to_owned(),
            span: id.span.clone(),
        };
        let Some(second) = self.terminal(line.unwrap_or(&usual), end) else {
            return;
        };
        let before = self.steps.len();
        self.measure(Parts {
            id: self.named(&id.value),
            at: id,
            say,
            stage: Stage::Live,
            core: None,
            cores: Vec::new(),
            probes: Probes {
                first: self.earth_at(end),
                second,
            },
            function,
            window: Judging::Named(window),
            timing,
            low_impedance: false,
            is_join: false,
        });
        for step in &mut self.steps[before..] {
            step.caution = Some(caution.clone());
        }
    }

    /// The earth terminal of an end, or the end of the earth core where it has none.
    fn earth_at(&self, end: End) -> Point {
        match self.job.end(end).terminal_for(Purpose::Earth) {
            Some(terminal) => Point::Terminal {
                terminal: terminal.name.clone(),
                end,
            },
            None => Point::Core {
                core: self.job.return_core().name.clone(),
                end,
            },
        }
    }

    /// What the loop test of the job's instrument may switch off, as a caution.
    ///
    /// # Errors
    /// A row of the guidance that the edition lacks.
    fn loop_caution(&self) -> Result<String, String> {
        let Some((current, device)) = self.job.loop_test_may_trip()? else {
            return Ok(EARTHED_METAL.into());
        };
        Ok(format!(
            "This loop test draws {current} to earth and may trip {device}: everything it feeds goes off. Ask the people there first, \
             or use an instrument whose test does not trip it. {EARTHED_METAL}"
        ))
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::job::Job;
    use crate::located::Text;
    use crate::model::sample::{JOB, job_with};
    use crate::plan::{Kind, Step, WindowRule};
    use crate::sequence::{bind, read};

    /// A loop test alone, the device seen on before it.
    const LOOP: &str = "\
        Do(id: \"reset-loop\", stage: Live, act: ResetDevice, say: \"See that it is on.\"),
        Loop(id: \"loop\", end: Far, window: LoopMaximum, say: \"First probe on {first}, second on {second}.\",
            after: (\"reset-loop\", Stated(time: \"1 s\", source: \"a test\"))),
        Do(id: \"reset-after\", stage: Live, act: ResetDevice, say: \"See that it is on.\"),
        ";

    const STEPS: &str = "\
        Do(id: \"reset-loop\", stage: Live, act: ResetDevice, say: \"See that it is on.\"),
        Loop(id: \"loop\", end: Far, window: LoopMaximum, say: \"First probe on {first}, second on {second}.\",
            after: (\"reset-loop\", Stated(time: \"1 s\", source: \"a test\"))),
        Do(id: \"reset\", stage: Live, act: ResetDevice, say: \"See that it is on.\"),
        ResidualTrip(id: \"half\", end: Far, times: half, window: TripTime, say: \"First probe on {first}.\",
            after: (\"reset\", Stated(time: \"1 s\", source: \"a test\"))),
        Do(id: \"reset-once\", stage: Live, act: ResetDevice, say: \"See that it is on.\"),
        ResidualTrip(id: \"once\", end: Far, times: once, window: TripTime, say: \"First probe on {first}.\",
            after: (\"reset-once\", Stated(time: \"1 s\", source: \"a test\"))),
        Do(id: \"reset-five\", stage: Live, act: ResetDevice, say: \"See that it is on.\"),
        ResidualTrip(id: \"five\", end: Far, times: five_times, window: TripTime, say: \"First probe on {first}.\",
            after: (\"reset-five\", Stated(time: \"1 s\", source: \"a test\"))),
        Do(id: \"reset-again\", stage: Live, act: ResetDevice, say: \"Switch it on again.\"),
        ";

    /// The shipped sequence with these steps once the supply is on, bound; the problems in words where it does not.
    fn bound(job: &Job, steps: &str) -> Result<Vec<Step>, Vec<String>> {
        let place = "Do(id: \"call\", stage: Live";
        let mut texts = crate::sequence::shipped::texts("stat-cable").unwrap();
        assert!(texts[0].text.contains(place));
        texts[0].text = texts[0].text.replace(place, &format!("{steps}{place}")).into();
        let words = |finding: crate::located::Finding| {
            let hint = finding.problem.hint.map_or(String::new(), |hint| format!(" ({hint})"));
            format!("{}{hint}", finding.problem.what)
        };
        let plan = read(&texts).and_then(|sequence| bind(&sequence, job));
        plan.map(|plan| plan.steps)
            .map_err(|findings| findings.into_iter().map(words).collect())
    }

    fn protected() -> Job {
        job_with("ze: \"0.41", "residual: \"30 mA\", ze: \"0.41")
    }

    fn step<'a>(steps: &'a [Step], id: &str) -> (&'a Step, String, String) {
        let step = steps.iter().find(|step| step.id == id).unwrap();
        let Kind::Measure(measure) = &step.kind else {
            panic!("{id} measures")
        };
        let WindowRule::Fixed(window) = &measure.window else {
            panic!("{id} has a fixed window")
        };
        (step, measure.used.function.dial(), window.words())
    }

    #[test]
    fn live_tests_of_protection_become_steps() {
        let steps = bound(&protected(), STEPS).unwrap();
        let (looped, dial, window) = step(&steps, "loop");
        assert_eq!(
            looped.say,
            "First probe on terminal E at the sail loft thermostat, second on terminal L at the sail loft thermostat."
        );
        assert_eq!(looped.stage, Stage::Live);
        assert_eq!(
            (dial.as_str(), window.as_str()),
            ("earth fault loop impedance", "at most 12.48 ohm")
        );
        for (id, dial, window) in [
            (
                "half",
                "residual-current trip time at half its rated current",
                "no trip in at least 200 ms",
            ),
            (
                "once",
                "residual-current trip time at its rated current",
                "at most 300 ms",
            ),
            (
                "five",
                "residual-current trip time at 5 times its rated current",
                "at most 40 ms",
            ),
        ] {
            let (_, is, judges) = step(&steps, id);
            assert_eq!((is.as_str(), judges.as_str()), (dial, window), "{id}");
        }
    }

    #[test]
    fn what_a_test_may_switch_off_is_said_before_it() {
        let caution = |job: &Job| {
            let steps = bound(job, LOOP).unwrap();
            step(&steps, "loop").0.caution.clone().unwrap()
        };
        assert_eq!(
            caution(&protected()),
            "This loop test draws 25 A to earth and may trip the residual-current device of 30 mA: everything it feeds goes off. Ask \
             the people there first, or use an instrument whose test does not trip it. While the test runs, nobody touches metalwork \
             that this circuit earths."
        );
        // trade guidance: the usual test current may trip circuit-breakers of type B below 10 A
        let with = |protection: &str| job_with("protection: (device: \"BS 1362\", rating: \"3 A\")", protection);
        let small = caution(&with("protection: (device: \"type B\", rating: \"6 A\")"));
        assert!(small.contains("may trip the circuit-breaker type B 6 A"), "{small}");
        for protection in [
            "type B\", rating: \"10 A",
            "type C\", rating: \"6 A",
            "BS 1362\", rating: \"3 A",
        ] {
            let job = with(&format!("protection: (device: \"{protection}\")"));
            assert_eq!(caution(&job), EARTHED_METAL);
        }
        // trade guidance: a test of at most 15 mA does not trip devices of 30 mA and more
        let with_current = |current: &str, residual: &str| {
            let text = JOB.replace("current: \"25 A\"", &format!("current: \"{current}\""));
            let text = text.replace("ze: \"0.41", &format!("residual: \"{residual}\", ze: \"0.41"));
            crate::job::read(&Text::new("saltmarsh.ron", text)).unwrap()
        };
        assert_eq!(caution(&with_current("15 mA", "30 mA")), EARTHED_METAL);
        assert!(caution(&with_current("15 mA", "10 mA")).contains("the residual-current device of 10 mA"));
        let steps = bound(&protected(), STEPS).unwrap();
        for (id, begins) in [
            ("half", "This test must not trip the residual-current device"),
            ("once", "This test trips the residual-current device"),
            ("five", "This test trips the residual-current device"),
        ] {
            let said = step(&steps, id).0.caution.clone().unwrap();
            assert!(said.starts_with(begins) && said.ends_with(EARTHED_METAL), "{said}");
        }
    }

    #[test]
    fn a_row_that_the_edition_lacks_is_a_finding_and_no_caution_is_left_out() {
        let check = |mut job: Job, of: &str, steps: &str, expected: &str| {
            let limits = std::sync::Arc::make_mut(&mut job.limits);
            let before = limits.rows.len();
            limits.rows.retain(|row| row.of != of);
            assert!(limits.rows.len() < before, "{of}");
            let found = bound(&job, steps).unwrap_err();
            assert!(found.iter().any(|what| what.contains(expected)), "{found:?}");
        };
        let type_b = || {
            job_with(
                "protection: (device: \"BS 1362\", rating: \"3 A\")",
                "protection: (device: \"type B\", rating: \"6 A\")",
            )
        };
        for of in [
            "loop test may trip type B below",
            "loop test that does not trip, at most",
        ] {
            check(
                type_b(),
                of,
                LOOP,
                &format!("no row `{of}` in the table of test instrument"),
            );
        }
        let tt = JOB.replace("TN-C-S", "TT").replace(
            "protection: (device: \"BS 1362\", rating: \"3 A\")",
            "residual: \"30 mA\"",
        );
        let tt = crate::job::read(&Text::new("saltmarsh.ron", tt)).unwrap();
        let once = "ResidualTrip(id: \"once\", end: Far, times: once, window: TripTime, say: \"First on {first}.\"),";
        check(tt, "TT final", once, "no row `TT final` in the table of ");
    }

    #[test]
    fn what_the_job_or_the_instruments_lack_is_a_finding() {
        let of = |from: &str, to: &str, steps: &str| bound(&job_with(from, to), steps).unwrap_err();
        let loop_only = "Loop(id: \"loop\", end: Far, window: LoopMaximum, say: \"\"),";
        let once = "ResidualTrip(id: \"once\", end: Far, times: once, window: TripTime, say: \"\"),";
        let none = of("protection: (device: \"BS 1362\", rating: \"3 A\"),", "", loop_only);
        assert!(
            none[0].starts_with("the job `saltmarsh.ron` names no device"),
            "{none:?}"
        );
        let none = of("ze: \"0.41", "ze: \"0.41", once);
        assert!(
            none[0].starts_with("the job `saltmarsh.ron` names no residual-current device to test"),
            "{none:?}"
        );
        assert_eq!(
            of("Loop(current: \"25 A\", ceiling: \"1999 ohm\"),", "", loop_only),
            ["no instrument in the job measures earth fault loop impedance (list one in the job's instruments)"]
        );
        let no_once = of("(once, \"300 ms\"), ", "", once);
        assert!(
            no_once.iter().any(|what| what
                == "no instrument in the job measures residual-current trip time at its rated current (list one in the job's \
                    instruments)"),
            "{no_once:?}"
        );
        assert_eq!(
            of("CAT III 300 V", "CAT II 300 V", loop_only)
                .iter()
                .filter(|what| what
                    .starts_with("`tester` is marked `CAT II 300 V`, which does not fit a live test at 230 V"))
                .count(),
            8,
            "the seven voltage steps and the loop"
        );
    }

    #[test]
    fn a_window_judges_only_what_it_is_about() {
        let of = |steps: &str| bound(&protected(), steps).unwrap_err();
        assert_eq!(
            of("Loop(id: \"loop\", end: Far, window: Cable, say: \"\"),"),
            ["this window does not judge earth fault loop impedance"]
        );
        assert_eq!(
            of("Loop(id: \"loop\", end: Far, window: TripTime, say: \"\"),"),
            ["this window does not judge a resistance"]
        );
        assert_eq!(
            of("ResidualTrip(id: \"once\", end: Far, times: once, window: LoopMaximum, say: \"\"),"),
            ["this window does not judge a time"]
        );
        let unknown =
            of("Loop(id: \"loop\", end: Far, line: Some(\"switched lives\"), window: LoopMaximum, say: \"\"),");
        assert!(
            unknown[0].starts_with("`switched lives` is not what a terminal can be for"),
            "{unknown:?}"
        );
    }

    #[test]
    fn a_tripped_device_is_switched_on_before_anything_else_is_measured() {
        let without = |what: &str| {
            assert!(STEPS.contains(what));
            bound(&protected(), &STEPS.replace(what, "")).unwrap_err()
        };
        let refused = |found: Vec<String>, at: &str| {
            let said = format!(
                "rule `device-on-again` at `{at}`: not shown on every path: the residual-current device is on again"
            );
            assert!(found.iter().any(|what| what.starts_with(&said)), "{found:?}");
        };
        let last = STEPS.find("Do(id: \"reset-again\"").unwrap();
        refused(without(STEPS[last..].trim_end()), "switched-on");
        // a trip test that is done again is done from where the device was seen to be on
        refused(
            without(",\n            after: (\"reset-five\", Stated(time: \"1 s\", source: \"a test\"))"),
            "five",
        );
    }
}
