//! Everything that is printed, as plain data.
//!
//! The rule inside: the page is a function of the run and its seal alone, so two programs that hold the same record print
//! the same page; the template only sets it in type.

use jiff::Timestamp;
use serde::Serialize;

use super::cores::{self, CoreRow};
use super::head::{self, Checking, Fact, Happening, InstrumentRow, Seal, VerdictBox};
use super::sources::{SourceLine, Sources};
use super::steps::{self, StageRows};
use crate::run::fold::Run;

/// The page.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
pub struct Page {
    /// What was proved.
    pub title: String,
    /// Where it was proved.
    pub subtitle: String,
    /// The words across every page of a rehearsal.
    pub rehearsal: Option<String>,
    /// Each later record that supersedes this one, in words; known when the page was made.
    pub superseded: Vec<String>,
    /// What the whole run came to.
    pub verdict: VerdictBox,
    /// The run's identifier.
    pub run: String,
    /// The last group of the run's identifier.
    pub run_short: String,
    /// When the run was closed; of a run still open, its last event that is known.
    pub stamped: Timestamp,
    /// Who did the work.
    pub engineer: String,
    /// Where the work was and who it was for.
    pub work: Vec<Fact>,
    /// What feeds the cable.
    pub supply: Vec<Fact>,
    /// What the near end is called.
    pub near: String,
    /// What the far end is called.
    pub far: String,
    /// The cable in words: name, kind, length, temperature.
    pub cable: String,
    /// The core that the others were tested against.
    pub back: String,
    /// One row a core.
    pub cores: Vec<CoreRow>,
    /// Every step with all its attempts, by stage.
    pub stages: Vec<StageRows>,
    /// Repairs and breaks, in the order of time.
    pub happenings: Vec<Happening>,
    /// The edition whose figures judged, in words.
    pub edition: String,
    /// Where each figure comes from, numbered as steps name it.
    pub sources: Vec<SourceLine>,
    /// The instruments of the job.
    pub instruments: Vec<InstrumentRow>,
    /// What this page does not show and why.
    pub limitations: Vec<String>,
    /// What the signature states.
    pub statement: String,
    /// The cautions that go with it.
    pub cautions: Vec<String>,
    /// Who signed, and how that is checked.
    pub checking: Checking,
}

impl Page {
    /// The page of a run.
    pub fn of(run: &Run, seal: &Seal) -> Page {
        let job = &run.plan.job;
        let mut sources = Sources::default();
        let stages = steps::stages(run, &mut sources);
        let id = run.opened.run.to_string();
        let rehearsal = head::rehearsal(run);
        Page {
            title: match &rehearsal {
                Some(words) => format!("{words} \u{2013} Record of proof"),
                None => "Record of proof".into(),
            },
            subtitle: format!("{}: {}", run.plan.title, job.cable),
            rehearsal,
            superseded: seal.superseded.clone(),
            verdict: head::verdict(run),
            run_short: id.rsplit('-').next().unwrap_or(&id).to_owned(),
            run: id,
            stamped: head::stamped(run),
            engineer: job.engineer.clone(),
            work: head::work(run),
            supply: head::supply(job),
            near: job.near.name.clone(),
            far: job.far.name.clone(),
            cable: head::cable(job),
            back: job.return_words().trim_start_matches("the ").to_owned(),
            cores: cores::rows(run),
            stages,
            happenings: head::happenings(run),
            edition: head::edition(run),
            sources: sources.lines(),
            instruments: head::instruments(run),
            limitations: head::limitations(run),
            statement: head::STATEMENT.into(),
            cautions: head::cautions(run),
            checking: head::checking(seal),
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::evidence::certificate::page::sample;

    fn page(run: &Run) -> Page {
        Page::of(run, &sample::seal())
    }

    fn ids(page: &Page) -> Vec<String> {
        let steps = page.stages.iter().flat_map(|stage| &stage.steps);
        steps.map(|step| step.id.clone()).collect()
    }

    #[test]
    fn every_step_is_there_exactly_once_in_plan_order() {
        for run in [sample::passed(), sample::failed(), sample::opened(sample::JOB, None)] {
            let planned: Vec<_> = run.plan.steps.iter().map(|step| step.id.clone()).collect();
            assert_eq!(ids(&page(&run)), planned);
        }
    }

    #[test]
    fn no_attempt_is_hidden() {
        let run = sample::failed();
        let page = page(&run);
        let rows = page.stages.iter().flat_map(|stage| &stage.steps);
        for (row, state) in rows.clone().zip(&run.steps) {
            assert_eq!(row.attempts.len(), state.attempts.len(), "{}", row.id);
        }
        let grey = rows.clone().find(|row| row.id == "continuity/grey").unwrap();
        let told: Vec<_> = grey
            .attempts
            .iter()
            .map(|a| (a.read.as_str(), a.net.as_deref(), a.verdict.as_str(), a.void.as_deref()))
            .collect();
        let expected = [
            (
                "1.95 \u{3a9}",
                Some("1.85 \u{3a9}"),
                "FAIL",
                Some("taken before repair 1"),
            ),
            ("0.70 \u{3a9}", Some("0.60 \u{3a9}"), "pass", None),
        ];
        assert_eq!(told, expected);
        assert_eq!(grey.verdict, "pass");
    }

    #[test]
    fn the_word_is_that_of_the_run() {
        let untested = sample::opened(sample::JOB, None);
        for (run, word, first) in [
            (sample::passed(), "PASS", "125 of 125 steps passed."),
            (
                sample::failed(),
                "FAIL",
                "91 of 125 steps passed, 1 failed, 33 not tested.",
            ),
            (untested, "NOT TESTED", "0 of 125 steps passed, 125 not tested."),
        ] {
            let page = page(&run);
            assert_eq!(
                (page.verdict.word.as_str(), page.verdict.summary[0].as_str()),
                (word, first)
            );
            assert_eq!(
                page.cautions[0].contains("do not put the circuit into use"),
                word != "PASS"
            );
        }
        let failed = page(&sample::failed()).verdict;
        assert_eq!(
            failed.open,
            [
                "Step 68, FAIL: insulation at 500 V between the joined cores and core brown, at the wiring centre: 420 k\u{3a9} is below 1.0 M\u{3a9}; left: cable is to be replaced on Thursday"
            ]
        );
        assert_eq!(
            failed.summary[2],
            "On the way: 1 repair, 1 break, 45 attempts made void."
        );
    }

    #[test]
    fn cores_sum_up_their_dead_tests() {
        let page = page(&sample::failed());
        let cell =
            |cell: &Option<super::super::cores::Cell>| cell.as_ref().map(|c| (c.text.clone(), c.verdict.clone()));
        let told = |text: &str, verdict: &str| Some((text.to_owned(), verdict.to_owned()));
        let [brown, _, black, earth] = page.cores.as_slice() else {
            panic!("four cores")
        };
        assert_eq!(cell(&brown.continuity), told("0.60 \u{3a9}", "pass"));
        assert_eq!(cell(&brown.insulation), told("0.42 M\u{3a9}, lowest of 4", "FAIL"));
        assert_eq!(cell(&black.insulation), told(">299 M\u{3a9}, lowest of 2", "pass"));
        assert_eq!(cell(&black.open), told("5 of 5 open", "pass"));
        assert_eq!(cell(&earth.continuity), None);
        assert_eq!((brown.near.as_str(), brown.far.as_str()), ("1", "L"));
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
        assert_eq!(
            page.instruments.iter().map(|i| i.overdue).collect::<Vec<_>>(),
            [true, false, false]
        );
        // on the day itself it is not past its date yet
        let job = sample::JOB.replace("due: \"2027-09-14\"", "due: \"2026-11-25\"");
        let today = self::page(&sample::opened(&job, None));
        assert!(today.instruments.iter().all(|instrument| !instrument.overdue));
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
