//! What each shipped sequence asks of a person on its own job, held in one table.
//!
//! The rule inside: a change of a count is meant. `COREPROOF_BLESS=1 cargo test --test it counts` writes the table anew.

use coreproof::plan::Effort;
use coreproof::sequence::shipped::{SEQUENCES, job, texts};
use coreproof::{job, sequence};

use crate::world::repo;

/// One line a sequence.
fn table() -> String {
    let head = "sequence | prompts | readings | proofs, locks, terminals | other answers | walks alone | with a second person | minutes\n";
    let rows = SEQUENCES.iter().map(|there| {
        let job = job::read(&job(there.job).unwrap()).unwrap();
        let plan = sequence::bind(&sequence::read(&texts(there.name).unwrap()).unwrap(), &job).unwrap();
        let effort = Effort::of(&plan);
        format!(
            "{} | {} | {} | {} | {} | {} | {} | {}\n",
            there.name,
            effort.prompts,
            effort.readings,
            effort.safeguards,
            effort.answers,
            effort.walks_alone,
            effort.walks_with_second,
            effort.minutes.unwrap()
        )
    });
    std::iter::once(head.to_owned()).chain(rows).collect()
}

#[test]
fn what_each_shipped_sequence_asks_is_held() {
    let name = "counts";
    let path = repo(&format!("tests/it/outputs/{name}.txt"));
    let now = table();
    if std::env::var_os("COREPROOF_BLESS").is_some_and(|set| set == "1") {
        return std::fs::write(&path, now).unwrap();
    }
    let held = std::fs::read_to_string(&path).unwrap_or_default();
    let gone = held
        .lines()
        .filter(|line| !now.lines().any(|new| new == *line))
        .map(|line| format!("was {line}"));
    let come = now
        .lines()
        .filter(|line| !held.lines().any(|old| old == *line))
        .map(|line| format!("is  {line}"));
    let changed: Vec<String> = gone.chain(come).collect();
    assert!(changed.is_empty(), "{name} changed:\n{}", changed.join("\n"));
}
