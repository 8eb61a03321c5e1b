//! Words that stand nowhere.
//!
//! The rule inside: nobody is ever told that a wire may be handled.

use std::path::Path;

#[test]
fn nobody_is_told_that_anything_is_safe_to_touch() {
    let forbidden = ["safe", "to", "touch"].join(" ");
    let root = Path::new(env!("CARGO_MANIFEST_DIR"));
    let sources = &crate::tree::Tree::real().sources;
    let mut texts: Vec<(String, String)> = sources
        .iter()
        .map(|source| (source.file.clone(), source.text.clone()))
        .collect();
    for name in [
        "README.md",
        "DEVELOPERS.md",
        "sequences/stat-cable.ron",
        "fixtures/saltmarsh.ron",
    ] {
        texts.push((name.into(), std::fs::read_to_string(root.join(name)).unwrap()));
    }
    let found: Vec<_> = texts
        .iter()
        .filter(|(_, text)| text.to_lowercase().contains(&forbidden))
        .map(|(file, _)| format!("{file} says that something is {forbidden}: say what was measured"))
        .collect();
    crate::holds(found);
}
