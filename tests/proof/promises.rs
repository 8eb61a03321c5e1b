//! What each shipped sequence promises to find, it finds on its job.

use coreproof::diagnosis::coverage::Coverage;
use coreproof::sequence::shipped::SEQUENCES;

use super::bound;

/// What each lets through; a sequence that gets shorter may let through no more.
const ESCAPES: &str = include_str!("escapes.txt");

/// The short ones in `cargo test`; all of them in `.ci/run` and `.ci/long`.
fn tried() -> impl Iterator<Item = (&'static str, &'static str)> {
    let short = ["extra-low-pair", "boiler-call-volt-free", "hand-over"];
    let all = cfg!(any(feature = "outside", feature = "long"));
    let chosen = SEQUENCES.iter().filter(move |there| all || short.contains(&there.name));
    chosen.map(|there| (there.name, there.job))
}

#[test]
fn no_promised_fault_escapes() {
    for (name, job) in tried() {
        let plan = bound(name, job);
        let coverage = Coverage::of(&plan, false).unwrap();
        let broken: Vec<_> = coverage.broken_promises().map(|row| row.fault.clone()).collect();
        assert!(broken.is_empty(), "{name}: {broken:?}");
        let needless: Vec<_> = coverage.needless_exceptions().map(|row| row.fault.clone()).collect();
        assert!(needless.is_empty(), "{name}: {needless:?}");
        if name != "hand-over" {
            let escaped: Vec<_> = (coverage.rows.iter())
                .filter(|row| row.caught.is_empty())
                .map(|row| row.fault.as_str())
                .collect();
            let through = if escaped.is_empty() {
                "none".to_owned()
            } else {
                escaped.join(", ")
            };
            let now = format!("{name}: {} tried; lets through {through}", coverage.rows.len());
            assert!(ESCAPES.lines().any(|held| held == now), "not in escapes.txt: {now}");
        }
        // what only hands over tests nothing and promises nothing
        assert_eq!(plan.promises.is_empty(), name == "hand-over", "{name}");
    }
}
