//! What stands on the pages, read back by another program and held against the record inside: every figure, of every shipped sequence,
//! sound and with a fault.

use std::process::Command;

use coreproof::evidence::Sealed;
use coreproof::evidence::audit::examine;
use coreproof::plan::{Kind, Measure, Stage, Timing};
use coreproof::run::fold::{Evidence, Run};
use coreproof::sequence::shipped::SEQUENCES;
use coreproof::value::quantity::{Amount, Shown};
use coreproof::value::reading::{Function, Reading};
use regex::Regex;
use rust_decimal::Decimal;

use crate::world::{World, text};

/// Holds a PDF to PDF/A-3a (ISO 19005-3) and PDF/UA-1 (ISO 14289-1) by `page-validation`, which agrees with the corpora of veraPDF and Isartor.
#[track_caller]
pub fn conforms(pdf: &str) {
    // packed bytes that end with a carriage return it takes for one byte fewer; `certificate/plain.rs` accounts for each
    let held = "import sys, page\n\
                odd = b'\\r\\nendstream' in open(sys.argv[1], 'rb').read()\n\
                for profile in ('3a', 'ua1'):\n    \
                    report = page.validate_pdf(sys.argv[1], profile=profile)\n    \
                    assert 100 < report.rules.total\n    \
                    for found in report.failures:\n        \
                        if not (odd and 'STREAM-LENGTH' in found.rule_id): print(profile, found.rule_id, found.message)";
    let held = Command::new("python3").args(["-c", held, pdf]).output().unwrap();
    let found = text(&held.stdout) + &text(&held.stderr);
    assert!(held.status.success() && found.is_empty(), "{pdf}: {found}");
}

/// A rehearsal's record, the text of its certificate with one blank between any two words, and how many pages it has in front and
/// behind.
fn rehearsed(sequence: &str, fault: Option<&str>) -> (Run, String, [usize; 2]) {
    let world = World::new();
    let out = world.path("out");
    let folder = out.to_str().unwrap();
    let mut args = vec!["rehearse", sequence, "--out", folder];
    args.extend(fault.iter().flat_map(|fault| ["--fault", fault]));
    let done = world.run(&args);
    assert_eq!(
        done.status.code(),
        Some(i32::from(fault.is_some())),
        "{sequence}: {}",
        text(&done.stdout)
    );
    let sealed = Sealed::read(&out.join("record.jsonl")).unwrap();
    let run = examine::<Run>(&sealed.record, &sealed.signature, None).folded.unwrap();
    conforms(&format!("{folder}/certificate.pdf"));
    let printed = Command::new("pdftotext")
        .args(["-raw", &format!("{folder}/certificate.pdf"), "-"])
        .output()
        .expect("poppler is installed by .ci/run");
    // places to break are no text, and a page's foot and head may stand between two words
    let words = text(&printed.stdout).replace('\u{200b}', "");
    let pages: Vec<&str> = words.trim_end_matches('\u{c}').split('\u{c}').collect();
    let front = pages
        .iter()
        .position(|page| page.contains("Every step that counts"))
        .unwrap();
    let pages = [front, pages.len() - front];
    (run, words.split_whitespace().collect::<Vec<_>>().join(" "), pages)
}

/// A fault that the job has a place for and that a dead test finds, where there is one.
fn fault_of(sequence: &str) -> String {
    let listed = World::new().run(&["rehearse", sequence, "--fault", "list"]);
    let listed = text(&listed.stdout);
    let names: Vec<&str> = listed
        .lines()
        .filter_map(|line| line.split_whitespace().next())
        .collect();
    let wanted = ["insulation-low:", "core-open:", "supply-still-live", ""];
    let found = wanted
        .iter()
        .find_map(|wanted| names.iter().find(|name| name.starts_with(wanted)));
    (*found.unwrap_or_else(|| panic!("{sequence} has no fault"))).to_owned()
}

fn measures(run: &Run) -> impl Iterator<Item = (usize, &Measure)> {
    run.plan
        .steps
        .iter()
        .enumerate()
        .filter_map(|(step, planned)| match &planned.kind {
            Kind::Measure(measure) => Some((step, measure.as_ref())),
            _ => None,
        })
}

fn reading(run: &Run, step: usize) -> Option<&Reading> {
    match &run.standing(step)?.evidence {
        Evidence::Reading(reading) => Some(reading),
        Evidence::Answer(_) => None,
    }
}

fn as_printed(words: &str) -> String {
    words.replace("ohm", "\u{3a9}")
}

/// Each figure with a unit in a text, in the plain unit.
fn figures(words: &str) -> Vec<Decimal> {
    let figure = Regex::new(r"(\d+(?:\.\d+)?) ([Mkm]?(?:\u{3a9}|V|s))(?:$|[^\w])").unwrap();
    let spelt = |unit: &str| unit.replace('\u{3a9}', "ohm");
    let amount = |found: regex::Captures<'_>| {
        Amount::parse(&format!("{} {}", &found[1], spelt(&found[2])))
            .unwrap()
            .value()
    };
    figure.captures_iter(words).map(amount).collect()
}

/// Every figure that the record gives for the results: readings, what was judged, windows, times, test voltages, the supply's loop.
fn known(run: &Run) -> Vec<Decimal> {
    let mut known = Vec::new();
    for (step, m) in measures(run) {
        for attempt in &run.steps[step].attempts {
            known.extend(attempt.verdict.value.as_ref().map(Amount::value));
            if let Evidence::Reading(reading) = &attempt.evidence {
                known.extend(figures(&as_printed(&reading.display())));
            }
        }
        known.extend(
            run.window(m)
                .into_iter()
                .flat_map(|window| figures(&as_printed(&window.words()))),
        );
        known.extend(m.input_max.as_ref().map(|(most, _)| most.value()));
        if let Function::Insulation(volts) = m.used.function {
            known.push(volts.into());
        }
        match &m.timing {
            Timing::Any => {}
            Timing::Within { limit: time, .. } | Timing::After { wait: time, .. } => known.push(time.value()),
        }
    }
    let ze = run.plan.job.supply.ze.as_ref().map(Amount::value);
    let sums: Vec<Decimal> = known.iter().filter_map(|figure| Some(ze? + figure)).collect();
    known.extend(ze);
    known.extend(sums);
    known
}

fn between<'a>(words: &'a str, from: &str, to: &str) -> &'a str {
    let after = words
        .split_once(from)
        .unwrap_or_else(|| panic!("`{from}` is not in {words}"))
        .1;
    after
        .split_once(to)
        .unwrap_or_else(|| panic!("`{to}` is not in {after}"))
        .0
}

/// Each reading that counts stands behind its step and before its time.
fn steps_are_those_of_the_record(run: &Run, words: &str) {
    let offset = run.plan.job.document.local_offset.unwrap_or(jiff::tz::Offset::UTC);
    let mut rest = between(words, "Every step that counts", "Where the figures come from");
    for (step, m) in measures(run) {
        let Some(reading) = reading(run, step) else { continue };
        let attempt = run.standing(step).unwrap();
        let time = offset.to_datetime(attempt.at).strftime("%H:%M:%S").to_string();
        // a remark may give the same time; the attempt's own stands behind where its reading came from
        let origins = ["meter", "typed"].map(|origin| format!("{origin} {time}"));
        let found = origins.iter().filter_map(|own| rest.split_once(own.as_str())).next();
        let (row, after) = found.unwrap_or_else(|| panic!("step {step} at {time} is not in {rest}"));
        let shown = as_printed(&reading.display());
        assert!(row.contains(&shown), "step {step}: `{shown}` is not in `{row}`");
        assert!(
            row.contains(&format!(" {} ", step + 1)),
            "step {step} has its number: `{row}`"
        );
        if let (true, Shown::Digits(_), Some(value)) = (m.subtract_null, &reading.shown, &attempt.verdict.value) {
            let net = row
                .rsplit_once(", net ")
                .unwrap_or_else(|| panic!("no net in `{row}`"))
                .1;
            assert_eq!(figures(net).first(), Some(&value.value()), "step {step}: `{row}`");
        }
        rest = after;
    }
}

/// The results have no figure that is not the record's, and have the worst of those that they stand for.
fn results_are_those_of_the_record(run: &Run, words: &str) {
    let results = between(words, "As left, in its window", "The cable and its two ends");
    let known = known(run);
    for figure in figures(results) {
        assert!(known.contains(&figure), "{figure} is not of the record: {results}");
    }
    let sizes = |wanted: &dyn Fn(usize, &Measure) -> bool| -> Vec<Decimal> {
        let of = |(step, _): (usize, &Measure)| {
            let value = run.standing(step)?.verdict.value.as_ref().map(Amount::value);
            value.or_else(|| figures(&as_printed(&reading(run, step)?.display())).first().copied())
        };
        measures(run)
            .filter(|(step, m)| wanted(*step, m))
            .filter_map(of)
            .collect()
    };
    let earthed = sizes(&|step, _| run.plan.steps[step].id.starts_with("earthed-"));
    if let Some(highest) = earthed.iter().max() {
        let row = between(results, "R2 protective conductor", "Insulation resistance");
        assert!(figures(row).contains(highest), "{highest}: {row}");
    }
    let insulation = sizes(&|_, m| matches!(m.used.function, Function::Insulation(_)));
    if let Some(lowest) = insulation.iter().min() {
        let rows = between(results, "Insulation resistance, live to live", "Polarity");
        assert!(figures(rows).contains(lowest), "{lowest}: {rows}");
    }
    for (step, _) in measures(run).filter(|(step, _)| run.plan.steps[*step].stage == Stage::Live) {
        let volts = reading(run, step).filter(|reading| reading.unit == coreproof::value::quantity::Unit::Volt);
        let Some(volts) = volts else { continue };
        let name = run.plan.steps[step].id.replace('-', " ").replace('/', ", ");
        let shown = as_printed(&volts.display());
        let row = results
            .split_once(&format!("{name} "))
            .unwrap_or_else(|| panic!("`{name}` is not in {results}"))
            .1;
        assert!(row.contains(&shown), "{name}: `{shown}` is not in {row}");
    }
}

fn check(sequence: &str, fault: Option<&str>) {
    let (run, words, pages) = rehearsed(sequence, fault);
    // a fault that is sought on a supply as found is told reading by reading; a manifold and two valves have a row for each call
    let most = match sequence {
        "no-heat" => [3, 2],
        "two-zone-valves" | "underfloor-zones" => [3, 3],
        _ => [2, 2],
    };
    assert!(
        fault.is_some() || pages[0] <= most[0] && pages[1] <= most[1],
        "{sequence}: {pages:?} pages in front and behind"
    );
    steps_are_those_of_the_record(&run, &words);
    results_are_those_of_the_record(&run, &words);
    assert_eq!(
        words.contains("Every step of this proof passed"),
        fault.is_none(),
        "{sequence} {fault:?}"
    );
}

#[test]
fn each_figure_on_the_pages_of_sound_wiring_is_the_figure_of_the_record() {
    for sequence in SEQUENCES {
        check(sequence.name, None);
    }
}

#[test]
fn each_figure_on_the_pages_of_faulty_wiring_is_the_figure_of_the_record() {
    // handing over measures nothing, so it finds no fault
    for sequence in SEQUENCES.iter().filter(|sequence| sequence.name != "hand-over") {
        check(sequence.name, Some(&fault_of(sequence.name)));
    }
}

#[test]
fn what_is_no_figure_of_the_record_is_found() {
    let (run, words, _) = rehearsed("stat-cable", None);
    let (results, rest) = words.split_once("The cable and its two ends").unwrap();
    let forged = format!("{results} 7.77 \u{3a9} The cable and its two ends{rest}");
    let found = std::panic::catch_unwind(|| results_are_those_of_the_record(&run, &forged));
    assert!(found.is_err());
}
