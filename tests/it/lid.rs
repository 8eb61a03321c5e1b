//! `lid`: the sheet for a wiring centre's lid, from records in an archive and from files.

use std::path::PathBuf;

use jiff::{SignedDuration, Timestamp};

use crate::beside::Shelf;
use crate::forged::Forged;
use crate::several::for_real;
use crate::world::{World, text};

const CABLE: &str = "sail loft thermostat cable";
const PLACE: &str = "Saltmarsh Sailing Club, clubhouse, sail loft heating zone";

/// A rehearsal that found a fault.
fn failed() -> Forged {
    static RECORD: std::sync::OnceLock<String> = std::sync::OnceLock::new();
    let record = RECORD.get_or_init(|| {
        let world = World::new();
        let out = world.path("out");
        let rehearsed = world.run(&["rehearse", "--fault", "core-open:grey", "--out", out.to_str().unwrap()]);
        assert_eq!(rehearsed.status.code(), Some(1), "{}", text(&rehearsed.stderr));
        std::fs::read_to_string(out.join("record.jsonl")).unwrap()
    });
    Forged::of(record)
}

/// A record as if it had been made for real, so many days ago: whole days, since verdicts tell the time of day.
pub fn before(days: i64, record: &Forged) -> Forged {
    let mut record = for_real(record);
    let back = SignedDuration::from_hours(24 * days);
    for (at, _) in &mut record.0 {
        let then = at.parse::<Timestamp>().unwrap() - back;
        *at = then.strftime("%Y-%m-%dT%H:%M:%S%.3fZ").to_string();
    }
    let ms = record.0[0].0.parse::<Timestamp>().unwrap().as_millisecond();
    let opened = &mut record.0[0].1;
    let id = opened.find("\"run\":\"").unwrap() + 7;
    // by its time (RFC 9562), as any run's
    let run = format!("{:08x}-{:04x}-7000-8000-{days:012x}", ms >> 16, ms & 0xffff);
    opened.replace_range(id..id + 36, &run);
    record
}

pub fn passed(days: i64) -> Forged {
    before(days, &Forged::today())
}

/// The same record of another cable.
fn of_cable(record: &Forged, name: &str) -> Forged {
    record.edited(&["\"opened\""], CABLE, name)
}

fn out(shelf: &Shelf, name: &str) -> (PathBuf, String) {
    let path = shelf.world.path(name);
    let name = path.display().to_string();
    (path, name)
}

/// A sheet that is written, and what was said.
#[track_caller]
fn made(shelf: &Shelf, args: &[&str], code: i32) -> String {
    let (path, name) = out(shelf, "lid.pdf");
    let _ = std::fs::remove_file(&path);
    let said = shelf.said(&[&["lid", "-o", &name], args].concat(), code);
    assert!(path.is_file(), "{said}");
    if let Some(folder) = std::env::var_os("COREPROOF_SHOTS") {
        let kept = format!("lid-{}.pdf", args.join("-").replace(['/', ' '], "_"));
        std::fs::copy(&path, PathBuf::from(folder).join(kept)).unwrap();
    }
    said.split_whitespace().collect::<Vec<_>>().join(" ")
}

#[track_caller]
fn refused(shelf: &Shelf, args: &[&str], why: &str) {
    let (path, name) = out(shelf, "refused.pdf");
    let said = shelf.said(&[&["lid", "-o", &name], args].concat(), 2);
    let words: Vec<_> = said.split_whitespace().collect();
    assert!(words.join(" ").contains(why), "`{why}` is not in {said}");
    assert!(!path.exists());
}

#[test]
fn a_place_gets_its_sheet_from_the_newest_record_of_each_cable() {
    let shelf = Shelf::new();
    let older = shelf.seal(&passed(4));
    let galley = shelf.seal(&of_cable(&passed(3), "galley cable"));
    let newer = shelf.seal(&passed(2));
    let said = made(&shelf, &["--place", "sailing club"], 0);
    assert!(
        said.contains(&format!("for {PLACE}: the lid, labels to cut out")),
        "{said}"
    );
    for (cable, run) in [(CABLE, &newer), ("galley cable", &galley)] {
        assert!(
            said.contains(&format!("{cable}: from the record of run {run}, closed ")),
            "{said}"
        );
    }
    assert!(!said.contains(&older), "{said}");
    made(&shelf, &[&newer, &galley], 0);
    refused(
        &shelf,
        &[&older],
        &format!("is older than that of run {newer} of the same cable"),
    );
    refused(
        &shelf,
        &[&newer, &newer],
        "is of `sail loft thermostat cable`, as one before it",
    );
    refused(
        &shelf,
        &["--place", "village hall"],
        "no record is of a place called `village hall`",
    );
    let elsewhere = passed(1).edited(&["\"opened\""], "clubhouse, sail loft heating zone", "boat shed");
    let shed = shelf.seal(&elsewhere);
    refused(&shelf, &["--place", "saltmarsh"], "is a piece of several places");
    refused(
        &shelf,
        &[&newer, &shed],
        "is of `Saltmarsh Sailing Club, boat shed`, those before it of",
    );
    made(&shelf, &["--place", PLACE], 0);
    // nothing is written over
    let (_, there) = out(&shelf, "lid.pdf");
    let said = shelf.said(&["lid", "--place", PLACE, "-o", &there], 2);
    assert!(said.contains("is already there"), "{said}");
}

#[test]
fn a_cable_whose_newest_record_failed_or_that_has_none_is_left_blank() {
    let shelf = Shelf::new();
    let beside = "beside: [\\\"boiler cable\\\"], cable: (";
    shelf.seal(&passed(3).edited(&["\"opened\""], "cable: (", beside));
    let said = made(&shelf, &["--place", "sailing"], 1);
    assert!(said.contains("boiler cable: left blank: it has no record"), "{said}");
    assert!(said.contains(&format!("{CABLE}: from the record of run")), "{said}");
    shelf.seal(&before(1, &failed()));
    let said = made(&shelf, &["--place", "sailing"], 1);
    assert!(said.contains(&format!("{CABLE}: left blank: its ")), "{said}");
    assert!(!said.contains("from the record of run"), "{said}");
}

#[test]
fn an_unfinished_run_that_was_worked_at_since_leaves_its_cable_blank() {
    let shelf = Shelf::new();
    let record = passed(2);
    let run = shelf.seal(&record);
    std::fs::create_dir_all(shelf.world.path("runs")).unwrap();
    let begun = |days: i64| {
        let mut begun = passed(days);
        begun.0.truncate(1);
        let opened = &begun.0[0].1;
        let id = opened.find("\"run\":\"").unwrap() + 7;
        let id = opened[id..id + 36].to_owned();
        std::fs::write(shelf.world.path("runs").join(format!("{id}.jsonl")), begun.bytes()).unwrap();
        id
    };
    begun(3);
    made(&shelf, &[&run], 0);
    let later = begun(1);
    let said = made(&shelf, &[&run], 1);
    assert!(
        said.contains(&format!("left blank: run {later} on it is unfinished, last worked at")),
        "{said}"
    );
}

#[test]
fn what_verify_would_not_exit_with_0_on_is_refused() {
    let shelf = Shelf::new();
    let run = shelf.seal(&passed(2));
    let file = shelf.handed_out(&run, "good");
    made(&shelf, &[&file], 0);
    // a rehearsal, signed by a key that is trusted here
    let rehearsed = Forged::today().bytes();
    let sealed = |name: &str, bytes: &[u8]| {
        let path = shelf.world.path(name);
        std::fs::write(&path, bytes).unwrap();
        std::fs::write(shelf.world.path(&format!("{name}.sig")), shelf.key.sign(bytes)).unwrap();
        path.display().to_string()
    };
    refused(
        &shelf,
        &[&sealed("rehearsed.jsonl", &rehearsed)],
        "nothing was measured",
    );
    // a forger with a good key: the verdict is no longer that of the reading
    let forged = passed(9).edited(
        &["\"judged\"", "\"continuity/brown\""],
        "\"outcome\":\"pass\"",
        "\"outcome\":\"fail\"",
    );
    refused(&shelf, &[&sealed("forged.jsonl", &forged.bytes())], "recorded as FAIL");
    // bytes that nobody signed
    let good = passed(8).bytes();
    let changed = sealed("changed.jsonl", &good);
    let mut bytes = good.clone();
    *bytes.last_mut().unwrap() = b' ';
    std::fs::write(&changed, bytes).unwrap();
    refused(&shelf, &[&changed], "signature");
    // pages that say other than the record inside
    let mut pdf = std::fs::read(&file).unwrap();
    let at = pdf.windows(6).rposition(|word| word == b"Length").unwrap();
    pdf[at + 7] = b' ';
    let pages = shelf.world.path("pages.pdf");
    std::fs::write(&pages, pdf).unwrap();
    let said = shelf
        .world
        .run(&["lid", pages.to_str().unwrap(), "-o", &out(&shelf, "no.pdf").1]);
    assert_eq!(said.status.code(), Some(2), "{}", text(&said.stderr));
    // somebody who is not trusted here
    let stranger = World::new();
    let said = stranger.run(&["lid", &file, "-o", &stranger.path("lid.pdf").display().to_string()]);
    assert_eq!(said.status.code(), Some(2), "{}", text(&said.stderr));
    assert!(
        text(&said.stderr).contains("is not trusted here"),
        "{}",
        text(&said.stderr)
    );
    assert!(!stranger.path("lid.pdf").exists());
}

#[test]
fn a_superseded_record_is_refused_and_passed_over() {
    let shelf = Shelf::new();
    let record = passed(2);
    let earlier = shelf.seal(&record);
    let digest = coreproof::evidence::archive::sha256_hex(&record.bytes());
    let later = shelf.seal(&crate::beside::superseding(
        &record,
        &digest,
        "the wrong thermostat was named",
    ));
    refused(&shelf, &[&earlier], &format!("SUPERSEDED by the record of run {later}"));
    let said = made(&shelf, &["--place", "sailing"], 0);
    assert!(said.contains(&format!("from the record of run {later}")), "{said}");
}

#[cfg(feature = "outside")]
#[test]
fn the_sheet_names_what_was_proved_and_the_digest_of_its_record() {
    let shelf = Shelf::new();
    let record = passed(2);
    shelf.seal(&record);
    made(&shelf, &["--place", "sailing"], 0);
    let (_, pdf) = out(&shelf, "lid.pdf");
    let printed = std::process::Command::new("pdftotext")
        .args(["-raw", &pdf, "-"])
        .output()
        .unwrap();
    let words = text(&printed.stdout).replace('\u{200b}', "");
    let pages: Vec<String> = words
        .trim_end_matches('\u{c}')
        .split('\u{c}')
        .map(|page| page.split_whitespace().collect::<Vec<_>>().join(" "))
        .collect();
    let [lid, labels, customer] = pages.as_slice() else {
        panic!("three pages: {pages:?}")
    };
    let digest = coreproof::evidence::archive::sha256_hex(&record.bytes());
    let bare = |page: &str| page.replace(' ', "");
    assert!(bare(lid).contains(&digest) && bare(customer).contains(&digest), "{lid}");
    for words in [
        "For the inside of the lid",
        "1 brown permanent live L at the sail loft thermostat",
        "3 black, sleeve brown switched live SL at the sail loft thermostat",
        "4 no core of these cables",
        "thermostat \u{2013} feeds boiler input, zone valve",
        "This is not a certificate under the wiring rules",
    ] {
        assert!(lid.contains(words), "`{words}` is not in {lid}");
    }
    assert!(
        labels.contains("SL core black, sleeve brown switched live to 3 at the wiring centre"),
        "{labels}"
    );
    assert!(
        customer.contains("thermostat") && customer.contains("feeds boiler input, zone valve"),
        "{customer}"
    );
    assert!(!pages.concat().contains("NOT PROVED \u{2013}"), "{pages:?}");
    crate::paper::conforms(&pdf);
    let checked = std::process::Command::new("qpdf")
        .args(["--check", &pdf])
        .output()
        .unwrap();
    assert!(checked.status.success(), "{}", text(&checked.stdout));
}

/// A record of the last visit: nothing is opened in it.
fn handed_over(days: i64) -> Forged {
    static RECORD: std::sync::OnceLock<String> = std::sync::OnceLock::new();
    let record = RECORD.get_or_init(|| {
        let world = World::new();
        let out = world.path("out");
        let rehearsed = world.run(&[
            "rehearse",
            "hand-over",
            "--job",
            "fixtures/saltmarsh.ron",
            "--out",
            out.to_str().unwrap(),
        ]);
        assert_eq!(rehearsed.status.code(), Some(0), "{}", text(&rehearsed.stderr));
        std::fs::read_to_string(out.join("record.jsonl")).unwrap()
    });
    before(days, &Forged::of(record))
}

#[test]
fn a_later_hand_over_opened_nothing_and_is_named_beside_the_record_before_it() {
    let shelf = Shelf::new();
    let proved = shelf.seal(&passed(4));
    let first = shelf.seal(&handed_over(3));
    let last = shelf.seal(&handed_over(2));
    let told = format!("{CABLE}: from the record of run {proved}, closed ");
    let since = format!("; run {last}, closed ");
    for args in [
        &["--place", "sailing"][..],
        &[&proved],
        &[&proved, &first],
        &[&last, &proved],
    ] {
        let said = made(&shelf, args, 0);
        assert!(
            said.contains(&told) && said.contains(&since) && said.contains("opened nothing since"),
            "{said}"
        );
    }
    #[cfg(feature = "outside")]
    {
        let (_, pdf) = out(&shelf, "lid.pdf");
        let printed = std::process::Command::new("pdftotext")
            .args(["-raw", &pdf, "-"])
            .output()
            .unwrap();
        let words: String = text(&printed.stdout)
            .replace('\u{200b}', "")
            .split_whitespace()
            .collect();
        assert!(
            words.contains("sincethenhand-over,whichopenednothing:closed"),
            "{words}"
        );
        assert!(words.contains(&last), "{words}");
    }
    refused(
        &shelf,
        &[&last],
        &format!("record `{last}` is of a run that opened nothing, so it proves no terminal"),
    );
    // without one before it the terminals are left blank
    let alone = Shelf::new();
    let run = alone.seal(&handed_over(2));
    for args in [&["--place", "sailing"][..], &[&run]] {
        let said = made(&alone, args, 1);
        assert!(said.contains(&format!("from the record of run {run}")), "{said}");
    }
    // what was opened since is the last word again, and what failed since leaves the cable blank
    let newer = shelf.seal(&passed(1));
    let said = made(&shelf, &["--place", "sailing"], 0);
    assert!(
        said.contains(&format!("from the record of run {newer}")) && !said.contains("since"),
        "{said}"
    );
    refused(&shelf, &[&proved], &format!("is older than that of run {newer}"));
    refused(&shelf, &[&newer, &proved], "as one before it");
}
