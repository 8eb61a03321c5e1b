//! Everything that is printed, as plain data.
//!
//! The rule inside: the page is a function of the run and its seal alone, so two programs that hold the same record print
//! the same page; the template only sets it in type.

use jiff::Timestamp;
use serde::Serialize;

use super::drawing::{self, CoreRow, FreeTerminal};
use super::fact::Fact;
use super::head::{self, Checking, InstrumentRow, Seal};
use super::overall::{self, Overall};
use super::photographs::{self, PhotographRow};
use super::results::{self, ResultRow};
use super::sheet;
use super::sources::{SourceLine, Sources};
use super::steps::{self, StageRows, VoidRow};
use super::words::Clock;
use crate::evidence::CopyFor;
use crate::run::fold::Run;

/// The page.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
pub struct Page {
    /// Whom it is for.
    pub copy: CopyFor,
    /// The same in words.
    pub copy_words: String,
    /// What the file is called.
    pub title: String,
    /// The cable and the place.
    pub subtitle: String,
    /// The words across every page of a rehearsal.
    pub rehearsal: Option<String>,
    /// Each later record that supersedes this one, in words; known when the page was made.
    pub superseded: Vec<String>,
    /// What this document is, in one line.
    pub statement: String,
    /// What the whole run came to.
    pub overall: Overall,
    /// The run's identifier.
    pub run: String,
    /// The last group of the run's identifier.
    pub run_short: String,
    /// When the run was closed; of a run still open, its last event that is known.
    pub stamped: Timestamp,
    /// What the times of the page are.
    pub times: String,
    /// Who did the work.
    pub engineer: String,
    /// The same with position and firm.
    pub by: Vec<Fact>,
    /// When the next test is due, and why.
    pub next_test: String,
    /// Where the work was, who it was for, and the cable.
    pub work: Vec<Fact>,
    /// What feeds the cable, and what protects it.
    pub supply: Vec<Fact>,
    /// The results under their headings.
    pub results: Vec<ResultRow>,
    /// What the near end is called.
    pub near: String,
    /// What the far end is called.
    pub far: String,
    /// The core that the others were tested against.
    pub back: String,
    /// One row a core, as it is drawn.
    pub cores: Vec<CoreRow>,
    /// Terminals that no core goes to.
    pub free: Vec<FreeTerminal>,
    /// What was found on the way.
    pub observations: Vec<String>,
    /// Steps that nothing was taken at, with their reasons.
    pub not_tested: Vec<String>,
    /// What this proof cannot show, and why.
    pub limitations: Vec<String>,
    /// The photographs that the record binds in.
    pub photographs: Vec<PhotographRow>,
    /// The figures in the order in which they are copied.
    pub sheet: Vec<Fact>,
    /// Every step with the attempt that counts, by stage.
    pub stages: Vec<StageRows>,
    /// Every attempt that does not count.
    pub void: Vec<VoidRow>,
    /// The edition whose figures judged, in words.
    pub edition: String,
    /// What must be said of that edition.
    pub caveat: String,
    /// Where each figure comes from, numbered as steps name it.
    pub sources: Vec<SourceLine>,
    /// The instruments that were used.
    pub instruments: Vec<InstrumentRow>,
    /// The cautions that go with it.
    pub cautions: Vec<String>,
    /// Who signed, and how that is checked.
    pub checking: Checking,
}

impl Page {
    /// The page of a run.
    pub fn of(run: &Run, seal: &Seal, copy: CopyFor) -> Page {
        let job = &run.plan.job;
        let mut sources = Sources::default();
        let stages = steps::stages(run, &mut sources);
        let id = run.opened.run.to_string();
        let rehearsal = head::rehearsal(run);
        Page {
            copy,
            copy_words: copy.words().into(),
            title: match &rehearsal {
                Some(words) => format!("{words} \u{2013} Record of proof"),
                None => "Record of proof".into(),
            },
            subtitle: format!("{}, {}", job.cable, job.place.name),
            rehearsal,
            superseded: seal.superseded.clone(),
            statement: head::STATEMENT.into(),
            overall: overall::overall(run),
            run_short: id.rsplit('-').next().unwrap_or(&id).to_owned(),
            run: id,
            stamped: head::stamped(run),
            times: Clock::of(run).words(),
            engineer: job.engineer.clone(),
            by: head::engineer(run),
            next_test: head::next_test(job),
            work: head::work(run),
            supply: head::supply(job),
            results: results::rows(run),
            near: job.near.name.clone(),
            far: job.far.name.clone(),
            back: job.return_words().trim_start_matches("the ").to_owned(),
            cores: drawing::rows(run),
            free: drawing::free(job),
            observations: overall::observations(run),
            not_tested: overall::not_tested(run),
            limitations: overall::limitations(run),
            photographs: photographs::rows(run, &seal.photographs),
            sheet: sheet::lines(run),
            stages,
            void: steps::void(run),
            edition: head::edition(run),
            caveat: job.limits.caveat.clone(),
            sources: sources.lines(),
            instruments: head::instruments(run),
            cautions: head::cautions(),
            checking: head::checking(seal),
        }
    }
}

#[cfg(test)]
mod tests {
    use super::super::pick::Cell;
    use super::*;
    use crate::evidence::certificate::page::sample;
    use crate::judge::window::Outcome;

    fn page(run: &Run) -> Page {
        Page::of(run, &sample::seal(), CopyFor::Engineer)
    }

    fn rows(page: &Page) -> impl Iterator<Item = &super::steps::StepRow> {
        page.stages.iter().flat_map(|stage| &stage.steps)
    }

    fn told(cell: Option<&Cell>) -> Option<(&str, &str)> {
        cell.map(|cell| (cell.text.as_str(), cell.verdict.as_str()))
    }

    fn result<'a>(page: &'a Page, name: &str) -> &'a ResultRow {
        let found = page.results.iter().find(|row| row.name == name);
        found.unwrap_or_else(|| panic!("no result is called {name}"))
    }

    #[test]
    fn every_step_is_in_exactly_one_row_in_plan_order() {
        for run in [sample::passed(), sample::failed(), sample::opened(sample::JOB, None)] {
            let page = page(&run);
            let numbers = rows(&page).flat_map(|row| {
                let (from, to) = row.number.split_once('\u{2013}').unwrap_or((&row.number, &row.number));
                from.parse::<usize>().unwrap()..=to.parse().unwrap()
            });
            assert_eq!(
                numbers.collect::<Vec<_>>(),
                (1..=run.plan.steps.len()).collect::<Vec<_>>()
            );
            // a row of several names each of them
            for row in rows(&page).filter(|row| row.number.contains('\u{2013}')) {
                let first: usize = row.number.split_once('\u{2013}').unwrap().0.parse().unwrap();
                for (at, id) in (first..).zip(row.what.split(", ")) {
                    assert_eq!(run.plan.steps[at - 1].id, id);
                }
            }
        }
    }

    #[test]
    fn no_attempt_is_hidden_and_what_does_not_count_stands_last() {
        let run = sample::failed();
        let page = page(&run);
        let counted = (0..run.steps.len())
            .filter(|step| run.standing(*step).is_some())
            .count();
        let shown = rows(&page).filter(|row| row.attempt.is_some()).count();
        let left_out = rows(&page).filter(|row| row.note.as_deref() == Some("not needed here"));
        let left_out: usize = left_out.map(|row| row.what.split(", ").count()).sum();
        assert_eq!(shown + left_out, counted);
        let all: usize = run.steps.iter().map(|step| step.attempts.len()).sum();
        assert_eq!(page.void.len(), all - counted);
        let grey: Vec<_> = page.void.iter().filter(|void| void.id == "continuity/grey").collect();
        let [grey] = grey.as_slice() else {
            panic!("one void attempt: {grey:?}")
        };
        assert_eq!(
            (
                grey.attempt.read.as_str(),
                grey.attempt.net.as_deref(),
                grey.attempt.verdict.as_str(),
                grey.void.as_str()
            ),
            ("1.95 \u{3a9}", Some("1.85 \u{3a9}"), "FAIL", "taken before repair 1")
        );
    }

    #[test]
    fn the_words_over_the_whole_are_no_larger_than_what_was_shown() {
        let untested = sample::opened(sample::JOB, None);
        let steps = untested.plan.steps.len();
        for (run, word, first) in [
            (
                sample::passed(),
                "Every step of this proof passed",
                format!("{steps} of {steps} steps passed."),
            ),
            (sample::failed(), "FAILED, AND ABANDONED", "1 failed".into()),
            (
                untested,
                "NOT CLOSED: nothing was tested",
                format!("0 of {steps} steps passed, {steps} not tested."),
            ),
        ] {
            let overall = page(&run).overall;
            assert_eq!(overall.word, word);
            assert!(overall.lines[0].contains(&first), "{:?}", overall.lines);
            let warns = overall
                .lines
                .iter()
                .any(|line| line.contains("do not put the circuit into use"));
            assert_eq!(warns, run.outcome() != Outcome::Pass);
        }
        let failed = page(&sample::failed());
        // one core against all others was low, and no pair of them was shown to be: neither heading may pass
        for between in ["live to live", "live to earth"] {
            let row = result(&failed, &format!("Insulation resistance, {between}, 500 V d.c."));
            assert_eq!(told(row.left.as_ref()), Some(("0.42 M\u{3a9}", "FAIL")));
        }
        assert!(failed.observations[0].ends_with(
            "FAIL: insulation at 500 V between the joined cores and core brown, at the wiring centre: 420 k\u{3a9} is below 1.0 M\u{3a9}; left: cable is to be replaced on Thursday"
        ), "{:?}", failed.observations);
        assert!(
            failed
                .not_tested
                .last()
                .unwrap()
                .ends_with("the run was abandoned: insulation between brown and grey is too low"),
            "{:?}",
            failed.not_tested
        );
    }

    #[test]
    fn headings_give_the_worst_reading_as_found_beside_as_left() {
        let mut black = 0;
        let run = sample::walk(sample::opened(sample::JOB, None), move |prompt| {
            use crate::run::dialogue::Ask;
            let line = match (prompt.step.as_str(), &prompt.ask) {
                ("continuity/black", Ask::Reading { .. }) if black == 0 => {
                    black += 1;
                    "1.95"
                }
                ("continuity/black", Ask::Decision { .. }) => "repair",
                ("continuity/black", Ask::Text) => "clamp tightened",
                ("continuity/black", Ask::Touched) => "black",
                ("insulation/grey", Ask::Reading { .. }) => ">200",
                _ => return None,
            };
            Some(line.to_owned())
        });
        let page = page(&run);
        for (name, found, left) in [
            ("R1+R2", Some(("1.85 \u{3a9}", "FAIL")), Some(("0.60 \u{3a9}", "pass"))),
            (
                "Insulation resistance, live to live, 500 V d.c.",
                None,
                Some((">200 M\u{3a9}", "pass")),
            ),
            (
                "Insulation resistance, live to earth, 500 V d.c.",
                None,
                Some((">200 M\u{3a9}", "pass")),
            ),
            (
                "Insulation resistance, reconnected, live to earth, 250 V d.c.",
                None,
                Some((">299 M\u{3a9}", "pass")),
            ),
            ("Polarity", None, Some(("right at 8 of 8", "pass"))),
            (
                "Earth fault loop impedance, Zs",
                None,
                Some(("1.01 \u{3a9}", "worked out")),
            ),
            ("Residual-current device, disconnection time", None, None),
            ("switched on", None, Some(("231.4 V", "pass"))),
        ] {
            let row = result(&page, name);
            assert_eq!(
                (told(row.found.as_ref()), told(row.left.as_ref())),
                (found, left),
                "{name}"
            );
        }
        assert!(result(&page, "Insulation resistance, live to live, 500 V d.c.").same);
        // read once, after everything was connected: that is as left and not as found
        assert!(!result(&page, "Insulation resistance, reconnected, live to earth, 250 V d.c.").same);
        assert!(!result(&page, "switched on").same);
        let fact = |name: &str| page.sheet.iter().find(|fact| fact.name == name).unwrap().value.clone();
        assert_eq!(fact("R1+R2"), "0.60 \u{3a9}");
        assert_eq!(fact("Insulation resistance, live to earth"), ">200 M\u{3a9}");
        assert_eq!(
            fact("Zs, maximum of the circuit"),
            "1.01 \u{3a9} worked out, not measured"
        );
        assert_eq!(fact("Distribution board, circuit"), "board 1, way 6");
    }

    #[test]
    fn what_eyes_found_stands_as_found_beside_as_left_with_its_repair() {
        let page = page(&sample::found_by_eye());
        let near = result(&page, "sound near");
        assert_eq!(
            told(near.found.as_ref()),
            Some(("found: bare copper at a clamp", "FAIL"))
        );
        assert_eq!(told(near.left.as_ref()), Some(("sound", "pass")));
        // what was looked at once is as found
        let far = result(&page, "sound far");
        assert_eq!(
            (told(far.found.as_ref()), told(far.left.as_ref())),
            (Some(("sound", "pass")), None)
        );
        for (n, words) in [
            "Found by eye at step 2, found: bare copper at a clamp; to be repaired once it was proved dead",
            "Repair 1, at step 2: copper cut back (no core touched)",
        ]
        .into_iter()
        .enumerate()
        {
            assert!(page.observations[n].ends_with(words), "{:?}", page.observations);
        }
    }

    #[test]
    fn what_the_job_does_not_state_is_said_to_be_not_stated() {
        let (stated, document) = sample::JOB.split_once("    document: (").unwrap();
        let end = document.find("\n    ),\n").unwrap();
        let job = format!("{stated}{}", &document[end + "\n    ),\n".len()..]);
        let page = page(&sample::opened(&job, None));
        let work = page.work.iter().find(|fact| fact.name == "Circuit reference").unwrap();
        assert_eq!(work.value, "not stated");
        assert_eq!(page.next_test, "not stated");
        assert!(
            page.by[1..].iter().all(|fact| fact.value == "not stated"),
            "{:?}",
            page.by
        );
        assert_eq!(page.times, "Times are UTC; the local offset is not stated.");
        let begun = page.work.iter().find(|fact| fact.name == "Begun").unwrap();
        assert_eq!(begun.value, "2026-11-25 07:16:21 UTC");
    }

    #[test]
    fn only_instruments_that_were_used_are_listed() {
        let names = |run: &Run| -> Vec<String> { page(run).instruments.into_iter().map(|i| i.name).collect() };
        assert_eq!(names(&sample::passed()), ["indicator", "tester"]);
        assert_eq!(names(&sample::opened(sample::JOB, None)), Vec::<String>::new());
    }

    #[test]
    fn cores_are_drawn_between_their_terminals_with_what_hangs_there() {
        let page = page(&sample::failed());
        let [brown, grey, _, earth] = page.cores.as_slice() else {
            panic!("four cores")
        };
        assert_eq!(told(brown.continuity.as_ref()), Some(("0.60 \u{3a9}", "pass")));
        assert_eq!(told(brown.insulation.as_ref()).unwrap().1, "FAIL");
        assert_eq!(told(grey.open.as_ref()).unwrap().1, "pass");
        assert_eq!(told(earth.continuity.as_ref()), None);
        assert_eq!((brown.near.as_str(), brown.far.as_str()), ("1", "L"));
        assert_eq!(
            (brown.near_hangs.as_str(), brown.far_hangs.as_str()),
            ("end switch", "thermostat")
        );
        let [free] = page.free.as_slice() else {
            panic!("one free terminal")
        };
        assert_eq!(
            (free.terminal.as_str(), free.hangs.as_str()),
            ("4", "end switch, boiler input")
        );
    }

    #[test]
    fn a_rehearsal_is_marked_and_names_its_fault() {
        let run = sample::opened(sample::JOB, Some(sample::rehearsal(Some("core-open"))));
        let page = page(&run);
        assert_eq!(page.rehearsal.as_deref(), Some("REHEARSAL - nothing was measured"));
        assert!(page.title.starts_with("REHEARSAL - nothing was measured"));
        let fact = page.work.iter().find(|fact| fact.name == "Rehearsal").unwrap();
        assert_eq!(fact.value, "simulated fault: core-open; seed 7");
        assert_eq!(self::page(&sample::opened(sample::JOB, None)).rehearsal, None);
    }

    #[test]
    fn overdue_calibration_is_a_limitation() {
        let job = sample::JOB.replace("due: \"2027-09-14\"", "due: \"2026-11-24\"");
        let mut run = sample::opened(&job, None);
        run.opened.departures =
            vec!["the calibration of `indicator` was due; used all the same: none other at hand".into()];
        let page = page(&run);
        let overdue = |due: &str| -> Vec<bool> {
            let job = sample::JOB.replace("due: \"2027-09-14\"", &format!("due: {due:?}"));
            let walked = sample::walk(sample::opened(&job, None), |_| None);
            self::page(&walked).instruments.iter().map(|i| i.overdue).collect()
        };
        assert_eq!(overdue("2026-11-24"), [true, false]);
        // on the day itself it is not past its date yet
        assert_eq!(overdue("2026-11-25"), [false, false]);
        assert_eq!(
            page.limitations[0],
            "Overdue: the calibration of `indicator` was due; used all the same: none other at hand."
        );
    }

    #[test]
    fn sources_are_numbered_once_and_all_are_listed() {
        let page = page(&sample::passed());
        let used = page
            .stages
            .iter()
            .flat_map(|stage| &stage.steps)
            .flat_map(|step| step.sources.clone());
        let used: std::collections::BTreeSet<_> = used.collect();
        let listed: Vec<_> = page.sources.iter().map(|source| source.number).collect();
        assert_eq!(used.into_iter().collect::<Vec<_>>(), listed);
    }

    #[test]
    fn nothing_is_called_safe_to_touch() {
        for run in [sample::passed(), sample::failed()] {
            let text = serde_json::to_string(&page(&run)).unwrap();
            assert!(!text.to_lowercase().contains(&["safe", "to", "touch"].join(" ")));
        }
    }

    #[test]
    fn the_stock_command_names_the_signer_as_one_word() {
        let checking = page(&sample::opened(sample::JOB, None)).checking;
        assert_eq!(
            checking.ssh_keygen,
            "ssh-keygen -Y verify -f allowed_signers -I 'Morgan Teal' -n record@coreproof -s record.jsonl.sig < record.jsonl"
        );
        assert_eq!(
            checking.allowed_signer,
            "\"Morgan Teal\" namespaces=\"record@coreproof\" KEY"
        );
    }
}
