//! Photographs that are chosen for a certificate: attached whole, shown small, and held against the record.

use std::path::PathBuf;
use std::sync::OnceLock;

use coreproof::evidence::certificate::record_in;
use coreproof::evidence::journal::Hash;

use crate::beside::Shelf;
use crate::bounded::bounded;
use crate::forged::Forged;
use crate::lid::before;
use crate::world::{World, repo, text};

const AS_FOUND: &str = "picture";
const LEFT_OFF: &str = "left-off";

/// A record of a sequence that asks for two photographs, without one, so many days ago.
fn without(days: i64) -> Forged {
    static RECORD: OnceLock<String> = OnceLock::new();
    let record = RECORD.get_or_init(|| {
        let world = World::new();
        let out = world.path("out");
        let rehearsed = world.run(&["rehearse", "cylinder-cut-out", "--out", out.to_str().unwrap()]);
        assert_eq!(rehearsed.status.code(), Some(0), "{}", text(&rehearsed.stderr));
        std::fs::read_to_string(out.join("record.jsonl")).unwrap()
    });
    before(days, &Forged::of(record))
}

/// The same with a photograph bound in at a step.
fn binding(record: &Forged, step: &str, file: &str, bytes: &[u8]) -> Forged {
    let answered = record.find(&["\"answered\"", &format!("\"{step}\""), "\"note\""]);
    let mut record = record.clone();
    let event = &mut record.0[answered].1;
    event.truncate(event.len() - 4);
    let sha256 = Hash::of(bytes);
    event.push_str(&format!(
        ",\"photograph\":{{\"file\":\"{file}\",\"sha256\":\"{sha256}\"}}}}}}}}}}"
    ));
    record.edited(&["\"judged\"", &format!("\"{step}\"")], ", without a photograph", "")
}

/// A shelf with a record that binds these in, each kept under its name in the shelf's home; and its run.
fn shelf(pictures: &[(&str, &str, &[u8])]) -> (Shelf, String) {
    let shelf = Shelf::new();
    let mut record = without(3);
    for (step, file, bytes) in pictures {
        record = binding(&record, step, file, bytes);
        std::fs::write(shelf.world.path(file), bytes).unwrap();
    }
    let run = shelf.seal(&record);
    (shelf, run)
}

fn picture(name: &str) -> Vec<u8> {
    std::fs::read(repo("fixtures/pictures").join(name)).unwrap()
}

/// Bytes that nothing packs any smaller: a linear congruence with the figures of Numerical Recipes.
fn noise(length: usize) -> Vec<u8> {
    let mut state = 7_u32;
    let next = || {
        state = state.wrapping_mul(1_664_525).wrapping_add(1_013_904_223);
        state.to_be_bytes()[0]
    };
    std::iter::repeat_with(next).take(length).collect()
}

/// A certificate with these photographs.
#[track_caller]
fn made(shelf: &Shelf, run: &str, name: &str, photographs: &[&str]) -> PathBuf {
    let pdf = shelf.world.path(name);
    let said = with(shelf, run, &pdf, photographs, 0);
    assert!(said.contains("carries the record of run"), "{said}");
    pdf
}

#[track_caller]
fn with(shelf: &Shelf, run: &str, pdf: &std::path::Path, photographs: &[&str], code: i32) -> String {
    let paths: Vec<String> = photographs
        .iter()
        .map(|file| shelf.world.path(file).display().to_string())
        .collect();
    let pdf = pdf.display().to_string();
    let mut args = vec!["certificate", run, "-o", &pdf];
    args.extend(paths.iter().flat_map(|path| ["--photograph", path.as_str()]));
    shelf.said(&args, code)
}

#[track_caller]
fn verified(shelf: &Shelf, pdf: &std::path::Path, code: i32) -> String {
    shelf.said(&["verify", &pdf.display().to_string()], code)
}

/// The words of the pages, with one blank between any two.
#[cfg(feature = "outside")]
fn words(pdf: &std::path::Path) -> String {
    let printed = std::process::Command::new("pdftotext")
        .arg("-raw")
        .arg(pdf)
        .arg("-")
        .output();
    let printed = text(&printed.expect("poppler is installed by .ci/run").stdout).replace('\u{200b}', "");
    printed.split_whitespace().collect::<Vec<_>>().join(" ")
}

#[test]
fn chosen_photographs_are_attached_whole_in_the_order_of_the_record() {
    let (jpeg, turned) = (picture("halves.jpg"), picture("halves-turned.jpg"));
    let (shelf, run) = shelf(&[(AS_FOUND, "box.jpg", &jpeg), (LEFT_OFF, "off.jpg", &turned)]);
    let one = made(&shelf, &run, "one.pdf", &["box.jpg", "off.jpg"]);
    let other = made(&shelf, &run, "other.pdf", &["off.jpg", "box.jpg"]);
    let bytes = std::fs::read(&one).unwrap();
    assert!(
        bytes == std::fs::read(&other).unwrap(),
        "the order in which they are named changes nothing"
    );
    assert_eq!(
        record_in(&bytes).unwrap().beside.photographs,
        [jpeg.clone(), turned.clone()]
    );
    let said = verified(&shelf, &one, 0);
    assert!(
        said.contains("pages        exactly what this record renders to"),
        "{said}"
    );
    // the client's copy has them too
    let client = shelf.world.path("client.pdf").display().to_string();
    let photograph = shelf.world.path("off.jpg").display().to_string();
    shelf.said(
        &[
            "certificate",
            &run,
            "-o",
            &client,
            "--copy",
            "client",
            "--photograph",
            &photograph,
        ],
        0,
    );
    shelf.said(&["verify", &client], 0);
    #[cfg(feature = "outside")]
    {
        crate::paper::conforms(one.to_str().unwrap());
        let folder = shelf.world.path("detached");
        std::fs::create_dir(&folder).unwrap();
        let detached = std::process::Command::new("pdfdetach")
            .arg("-saveall")
            .arg(&one)
            .current_dir(&folder)
            .status();
        assert!(detached.unwrap().success());
        assert_eq!(std::fs::read(folder.join("photograph-1.jpg")).unwrap(), jpeg);
        assert_eq!(std::fs::read(folder.join("photograph-2.jpg")).unwrap(), turned);
        let seen = words(&one);
        for told in [
            "box.jpg",
            "off.jpg",
            "attached as photograph-1.jpg",
            "attached as photograph-2.jpg",
        ] {
            assert!(seen.contains(told), "{told} is not in {seen}");
        }
        let images = std::process::Command::new("pdfimages")
            .arg("-list")
            .arg(&one)
            .output()
            .unwrap();
        let images = text(&images.stdout);
        let is_of = |line: &&str, width: &str, height: &str| {
            let columns: Vec<_> = line.split_whitespace().collect();
            columns.get(3..5) == Some(&[width, height][..])
        };
        assert!(images.lines().any(|line| is_of(&line, "16", "8")), "{images}");
        assert!(images.lines().any(|line| is_of(&line, "8", "16")), "{images}");
    }
}

#[test]
fn of_a_photograph_that_is_not_chosen_the_page_has_name_and_hash() {
    let jpeg = picture("halves.jpg");
    let (shelf, run) = shelf(&[
        (AS_FOUND, "box.jpg", &jpeg),
        (LEFT_OFF, "off.heic", b"\0\0\0\x18ftypheic and so on"),
    ]);
    let none = made(&shelf, &run, "none.pdf", &[]);
    assert!(
        record_in(&std::fs::read(&none).unwrap())
            .unwrap()
            .beside
            .photographs
            .is_empty()
    );
    verified(&shelf, &none, 0);
    // what is not unpacked here is attached all the same
    let heic = made(&shelf, &run, "heic.pdf", &["off.heic"]);
    verified(&shelf, &heic, 0);
    #[cfg(feature = "outside")]
    {
        let bare = |words: String| words.replace(' ', "");
        let (seen, shown) = (bare(words(&none)), bare(words(&heic)));
        let sha256 = Hash::of(&jpeg).to_string();
        for seen in [&seen, &shown] {
            assert!(seen.contains("box.jpg") && seen.contains(&sha256), "{seen}");
        }
        assert_eq!(seen.matches(";notattached").count(), 2, "{seen}");
        assert_eq!(shown.matches(";notattached").count(), 1, "{shown}");
        assert!(
            shown.contains("Nosmallpicture:itisneitherJPEGnorPNG.") && shown.contains("photograph-1.heic"),
            "{shown}"
        );
    }
    // a record that binds none in says nothing of them
    let (shelf, run) = self::shelf(&[]);
    let pdf = made(&shelf, &run, "none.pdf", &[]);
    verified(&shelf, &pdf, 0);
    #[cfg(feature = "outside")]
    assert!(!words(&pdf).contains("Photographs"));
}

#[test]
fn one_photograph_of_two_steps_is_attached_once() {
    let jpeg = picture("halves.jpg");
    let (shelf, run) = shelf(&[(AS_FOUND, "box.jpg", &jpeg), (LEFT_OFF, "same.jpg", &jpeg)]);
    let pdf = made(&shelf, &run, "one.pdf", &["same.jpg"]);
    assert_eq!(
        record_in(&std::fs::read(&pdf).unwrap()).unwrap().beside.photographs,
        [jpeg]
    );
    verified(&shelf, &pdf, 0);
    let said = with(&shelf, &run, &shelf.world.path("two.pdf"), &["same.jpg", "box.jpg"], 2);
    assert!(said.contains("is the same photograph as one before it"), "{said}");
}

#[test]
fn a_file_that_is_none_of_the_records_photographs_is_refused() {
    let jpeg = picture("halves.jpg");
    let (shelf, run) = shelf(&[(AS_FOUND, "box.jpg", &jpeg)]);
    let refused = |run: &str, photographs: &[&str], expected: &[&str]| {
        let pdf = shelf.world.path("refused.pdf");
        let said = with(&shelf, run, &pdf, photographs, 2)
            .split_whitespace()
            .collect::<Vec<_>>()
            .join(" ");
        for expected in expected {
            assert!(said.contains(expected), "`{expected}` is not in {said}");
        }
        assert!(!pdf.exists());
    };
    // edited since, under its own name
    std::fs::create_dir(shelf.world.path("later")).unwrap();
    std::fs::write(shelf.world.path("later/box.jpg"), [&jpeg[..], b"\n"].concat()).unwrap();
    refused(
        &run,
        &["later/box.jpg"],
        &[
            "later/box.jpg` is not the photograph that step `picture` binds in under this name: its SHA-256 is ",
            &format!("in the record stands {}", Hash::of(&jpeg)),
            "one that was cropped, turned, or sent by a messenger is another file",
        ],
    );
    std::fs::write(shelf.world.path("boat.jpg"), b"\xff\xd8\xff a boat").unwrap();
    refused(
        &run,
        &["box.jpg", "boat.jpg"],
        &[
            "boat.jpg` is none of the photographs that the record binds in",
            "the record binds in `box.jpg` of step `picture`",
        ],
    );
    refused(&run, &["box.jpg"; 9], &["a certificate takes at most 8 photographs"]);
    refused(&run, &["no-such.jpg"], &["no-such.jpg`: ", "check the path"]);
    refused(&run, &["later"], &["it is a folder, not a file"]);
    let large = std::fs::File::create(shelf.world.path("large.jpg")).unwrap();
    large.set_len((16 << 20) + 1).unwrap();
    refused(&run, &["large.jpg"], &["it holds more than 16777216 bytes"]);
    // a record without photographs, and several records
    let bare = shelf.seal(&without(9));
    refused(
        &bare,
        &["box.jpg"],
        &["is no photograph of the record, which binds none in"],
    );
    let photograph = shelf.world.path("box.jpg").display().to_string();
    let out = shelf.world.path("several").display().to_string();
    let said = shelf.said(
        &["certificate", &run, &bare, "-o", &out, "--photograph", &photograph],
        2,
    );
    assert!(
        said.contains("a photograph is chosen for one record, and several were named"),
        "{said}"
    );
}

/// Where bytes stand in others.
fn found(bytes: &[u8], wanted: &[u8]) -> usize {
    bytes
        .windows(wanted.len())
        .position(|there| there == wanted)
        .expect("they stand there as they are")
}

#[test]
fn a_changed_or_swapped_photograph_is_found() {
    let (one, two) = (noise(3000), noise(2500));
    let two: Vec<u8> = two.iter().rev().copied().collect();
    let (shelf, run) = shelf(&[(AS_FOUND, "box.raw", &one), (LEFT_OFF, "off.raw", &two)]);
    let honest = std::fs::read(made(&shelf, &run, "honest.pdf", &["box.raw", "off.raw"])).unwrap();
    let pdf = shelf.world.path("forged.pdf");
    let said = |forged: &[u8]| {
        std::fs::write(&pdf, forged).unwrap();
        verified(&shelf, &pdf, 2)
    };
    // one byte of a picture, which is attached as it is, since nothing packs it any smaller
    let at = found(&honest, &one);
    let mut forged = honest.clone();
    forged[at + 1500] ^= 1;
    let seen = said(&forged);
    assert!(
        seen.contains("the record inside is good, but the attached `photograph-1.bin` is none of the photographs"),
        "{seen}"
    );
    // each under the other's name
    let swap = |from: &[u8], to: &[u8], bytes: &[u8]| {
        let mut bytes = bytes.to_vec();
        while let Some(at) = bytes.windows(from.len()).position(|there| there == from) {
            bytes[at..at + from.len()].copy_from_slice(to);
        }
        bytes
    };
    let aside = swap(b"photograph-1.bin", b"photograph-X.bin", &honest);
    let aside = swap(b"photograph-2.bin", b"photograph-1.bin", &aside);
    let seen = said(&swap(b"photograph-X.bin", b"photograph-2.bin", &aside));
    assert!(
        seen.contains("but the pages are not what it renders to") || seen.contains("is not as this program writes one"),
        "{seen}"
    );
    // one under a name that no certificate has
    let seen = said(&swap(b"photograph-1.bin", b"photograph-9.bin", &honest));
    assert!(seen.contains("it has an attachment of another name"), "{seen}");
    // what was attached to a certificate of another record
    let (other, run) = self::shelf(&[(AS_FOUND, "box.raw", &two), (LEFT_OFF, "off.raw", &one)]);
    let other = std::fs::read(made(&other, &run, "other.pdf", &["box.raw"])).unwrap();
    std::fs::write(&pdf, other).unwrap();
    assert_eq!(
        shelf.world.run(&["verify", pdf.to_str().unwrap()]).status.code(),
        Some(2)
    );
}

#[test]
fn a_picture_that_would_fill_the_memory_is_attached_and_not_shown() {
    let sized = |name: &str, mark: u8, width: u16, height: u16| {
        let mut bytes = picture(name);
        let frame = found(&bytes, &[0xff, mark]);
        bytes[frame + 5..frame + 7].copy_from_slice(&height.to_be_bytes());
        bytes[frame + 7..frame + 9].copy_from_slice(&width.to_be_bytes());
        bytes
    };
    let huge = sized("halves.jpg", 0xc0, 65_500, 65_500);
    // as large as one of several passes may be
    let kept = sized("halves-turned.jpg", 0xc2, 2828, 2828);
    let (shelf, run) = shelf(&[(AS_FOUND, "huge.jpg", &huge), (LEFT_OFF, "kept.jpg", &kept)]);
    let pdf = made(&shelf, &run, "huge.pdf", &["huge.jpg", "kept.jpg"]);
    let path = pdf.display().to_string();
    let verified = bounded(&shelf.world, &["verify", &path], std::slice::from_ref(&pdf));
    assert_eq!(verified.status.code(), Some(0), "{}", text(&verified.stderr));
    #[cfg(feature = "outside")]
    assert!(
        words(&pdf).contains("No small picture: it has more than 16 million pixels."),
        "{}",
        words(&pdf)
    );
}
