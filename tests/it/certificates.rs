//! `certificate`: copies for the client and for the engineer, and a whole folder at once.

use coreproof::evidence::certificate::record_in;

use crate::beside::Shelf;
use crate::lid::passed;

/// A shelf with records of this many cables; their runs.
fn shelf(count: i64) -> (Shelf, Vec<String>) {
    let shelf = Shelf::new();
    let cable = |n: i64| passed(10 + n).edited(&["\"opened\""], "sail loft thermostat cable", &format!("cable {n}"));
    let runs = (1..=count).map(|n| shelf.seal(&cable(n))).collect();
    (shelf, runs)
}

fn path(shelf: &Shelf, name: &str) -> String {
    shelf.world.path(name).display().to_string()
}

/// The PDFs of a folder, by their names.
fn pdfs(folder: &str) -> Vec<String> {
    let entries = std::fs::read_dir(folder).unwrap().map(|entry| entry.unwrap().path());
    let mut found: Vec<_> = entries.map(|path| path.display().to_string()).collect();
    found.sort();
    found
}

#[test]
fn the_clients_copy_has_the_front_pages_alone_and_the_whole_record() {
    let (shelf, runs) = shelf(1);
    let (client, engineer) = (path(&shelf, "client.pdf"), path(&shelf, "engineer.pdf"));
    let said = shelf.said(&["certificate", &runs[0], "-o", &client, "--copy", "client"], 0);
    assert!(
        said.contains("client.pdf, the client's copy, carries the record of run"),
        "{said}"
    );
    shelf.said(&["certificate", &runs[0], "-o", &engineer], 0);
    for pdf in [&client, &engineer] {
        let said = shelf.said(&["verify", pdf], 0);
        assert!(
            said.contains("pages        exactly what this record renders to"),
            "{said}"
        );
    }
    let carried = |pdf: &str| record_in(&std::fs::read(pdf).unwrap()).unwrap();
    assert_eq!(carried(&client), carried(&engineer));
    #[cfg(feature = "outside")]
    {
        let words = |pdf: &str| {
            let printed = std::process::Command::new("pdftotext")
                .args(["-raw", pdf, "-"])
                .output()
                .unwrap();
            crate::world::text(&printed.stdout)
        };
        let (client, engineer) = (words(&client), words(&engineer));
        let pages = |words: &str| words.trim_end_matches('\u{c}').split('\u{c}').count();
        assert_eq!((pages(&client), pages(&engineer)), (2, 4));
        for behind in ["Every step that counts", "Where the figures come from"] {
            assert!(engineer.contains(behind) && !client.contains(behind), "{client}");
        }
        for front in ["Results", "Figures to copy", "Instruments used"] {
            assert!(client.contains(front), "{front}: {client}");
        }
    }
}

#[test]
fn a_folder_of_records_becomes_a_folder_of_certificates_and_one_that_fails_stops_none() {
    let (shelf, runs) = shelf(3);
    for run in &runs {
        shelf.said(
            &[
                "records",
                "export",
                run,
                "-o",
                &path(&shelf, &format!("exported/{run}")),
            ],
            0,
        );
    }
    let (from, to) = (path(&shelf, "exported"), path(&shelf, "certificates"));
    let said = shelf.said(&["certificate", &from, "-o", &to], 0);
    assert!(said.contains("3 of 3 certificates are in"), "{said}");
    let made = pdfs(&to);
    assert_eq!(made.len(), 3);
    for (pdf, n) in made.iter().zip(1..) {
        assert!(pdf.contains(&format!("/cable-{n}-")), "{made:?}");
        shelf.said(&["verify", pdf], 0);
    }
    // one that somebody changed
    let changed = path(&shelf, &format!("exported/{}/record.jsonl", runs[1]));
    let mut record = std::fs::read(&changed).unwrap();
    *record.last_mut().unwrap() = b' ';
    std::fs::write(&changed, record).unwrap();
    let to = path(&shelf, "again");
    let said = shelf.said(&["certificate", &from, "-o", &to], 1);
    assert!(said.contains(&format!("error: `{changed}`: ")), "{said}");
    assert!(said.contains("2 of 3 certificates are in"), "{said}");
    assert_eq!(pdfs(&to).len(), 2);
    // what is there is not written over
    let said = shelf.said(&["certificate", &runs[0], &runs[2], "-o", &to], 1);
    assert!(
        said.contains("0 of 2 certificates") && said.contains("is already there"),
        "{said}"
    );
}

#[test]
fn a_folder_without_records_and_a_file_in_the_place_of_a_folder_are_refused() {
    let (shelf, runs) = shelf(1);
    let empty = path(&shelf, "empty");
    std::fs::create_dir(&empty).unwrap();
    let said = shelf.said(&["certificate", &empty, "-o", &path(&shelf, "out")], 2);
    assert!(said.contains("no record with its signature is in"), "{said}");
    let file = path(&shelf, "file.pdf");
    std::fs::write(&file, "").unwrap();
    let said = shelf.said(&["certificate", &runs[0], &runs[0], "-o", &file], 2);
    assert!(said.contains("cannot be made"), "{said}");
    // one record goes into a folder that is there, by its name
    shelf.said(&["certificate", &runs[0], "-o", &empty], 0);
    assert!(pdfs(&empty)[0].contains("/cable-1-"));
}
