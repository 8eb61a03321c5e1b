//! A page read by axe-core, the checker of accessibility that the Web Content Accessibility Guidelines' own test rules are tried with.
//!
//! The rule inside: nothing serious or critical is let through, and a checker that is not there is a failure.

use serde_json::Value;

use crate::webdriver::Browser;
use crate::world::repo;

/// Where `.ci/run` puts it; it is no part of the tree.
const AXE: &str = "target/axe/node_modules/axe-core/axe.min.js";

/// What is found on the page as it stands, the grave alone.
const RUN: &str = "
    return axe.run(document, { resultTypes: ['violations'] }).then((found) => found.violations
        .filter((one) => ['serious', 'critical'].includes(one.impact))
        .map((one) => one.id + ': ' + one.help + ' at ' + one.nodes.map((node) => node.target.join(' ') + ' ' + node.failureSummary).join('; ')));";

/// Fails where the page keeps somebody out; `state` names what it shows.
pub fn assert_open_to_all(browser: &Browser, state: &str) {
    if browser.js("return typeof axe === 'undefined'", &[]) == Value::Bool(true) {
        let path = repo(AXE);
        let axe = std::fs::read_to_string(&path)
            .unwrap_or_else(|error| panic!("`{}` cannot be read ({error}): `.ci/run` fetches it", path.display()));
        browser.js(&axe, &[]);
    }
    let found = browser.js(RUN, &[]);
    assert_eq!(found, Value::Array(Vec::new()), "{state}");
}
