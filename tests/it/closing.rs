//! The page to read before a run is sealed: whatever speaks against it stands there before the passphrase is asked.

use crate::world::{Walk, World};

/// What is said from the end of the walk to the passphrase, on one line.
fn page(walk: &Walk) -> String {
    let (_, page) = walk
        .seen
        .rsplit_once("steps passed,")
        .expect("the totals head the page");
    let (page, _) = page
        .split_once("Signing with")
        .expect("the passphrase comes behind the page");
    page.split_whitespace().collect::<Vec<_>>().join(" ")
}

fn stands_in_order(page: &str, pieces: &[&str]) {
    let mut rest = page;
    for piece in pieces {
        let at = rest
            .find(piece)
            .unwrap_or_else(|| panic!("`{piece}` is not there, or before the one above it, in {page}"));
        rest = &rest[at + piece.len()..];
    }
}

/// Gives these answers to the questions that come next.
fn answers(walk: &mut Walk, lines: &[&str]) {
    for line in lines {
        walk.answer(line);
        assert!(walk.question().is_some(), "{}", walk.seen);
    }
}

#[test]
fn what_was_repaired_taken_back_and_done_again_is_read_before_the_passphrase() {
    let world = World::with_key();
    let mut walk = world.walk(&[]);
    assert!(walk.to("continuity/brown"));
    answers(&mut walk, &["OL", "repair", "clamp remade at the far end", "brown"]);
    walk.answer("0.63 ohm");
    assert!(walk.to("join-rest/grey"));
    walk.answer("back");
    assert!(walk.to("labels"));
    answers(&mut walk, &["no", "no", "no tape left", "again"]);
    walk.answer("done");
    assert!(!walk.to("nowhere"), "{}", walk.seen);
    stands_in_order(
        &page(&walk),
        &[
            "0 failed, 0 not tested.",
            "repaired continuity/brown: clamp remade at the far end; touched: brown",
            "taken back or done again",
            "continuity/brown: OL (ohm), FAIL",
            "insulation/brown: >299 Mohm, pass",
            "labels: not tested: not done: no tape left",
            "By signing it Morgan Teal states:",
            "What is listed above as failed, left, not tested or not shown is not proved by this record.",
        ],
    );
    let (code, seen, _) = walk.finish();
    assert_eq!(code, 0, "{seen}");
    assert!(seen.contains("Sealed as"), "{seen}");
}

#[test]
fn a_run_given_up_after_a_voltage_was_seen_says_both_before_the_passphrase() {
    let world = World::with_key();
    let mut walk = world.walk(&[]);
    assert!(walk.to("clip"));
    answers(&mut walk, &["228 volts"]);
    walk.answer("abandon");
    // why, and that the place is safe
    let mut asked = 0;
    while walk.question().is_some() {
        walk.answer(if asked == 0 {
            "somebody switched on behind my back"
        } else {
            "done"
        });
        asked += 1;
        assert!(asked < 10, "{}", walk.seen);
    }
    stands_in_order(
        &page(&walk),
        &[
            "not tested",
            "voltage seen where all was proved dead clip: 228 V",
            "By signing it Morgan Teal states:",
            "and gave the run up where it says so",
        ],
    );
    let (code, seen, _) = walk.finish();
    assert_eq!(code, 1, "{seen}");
}
