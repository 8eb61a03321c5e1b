//! What each shipped sequence promises to find, it finds on its job.

use coreproof::diagnosis::coverage::Coverage;
use coreproof::sequence::shipped::SEQUENCES;

use super::bound;

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
        // what only hands over tests nothing and promises nothing
        assert_eq!(plan.promises.is_empty(), name == "hand-over", "{name}");
    }
}
