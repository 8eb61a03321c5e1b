//! The document of the rules is the rules.

use coreproof::pure::proof::RULES;

#[test]
fn the_document_lists_every_rule_with_its_reason_and_source() {
    let text = std::fs::read_to_string(concat!(env!("CARGO_MANIFEST_DIR"), "/DEVELOPERS.md")).unwrap();
    for rule in RULES {
        let row = format!("| {} | {} | {} | {} |", rule.title(), rule.says, rule.why, rule.source);
        assert!(text.contains(&row), "DEVELOPERS.md lacks\n{row}");
    }
    let rows = text.lines().filter(|line| {
        let name = line.strip_prefix("| R").and_then(|rest| rest.split(' ').next());
        name.is_some_and(|number| number.parse::<u8>().is_ok())
    });
    assert_eq!(rows.count(), RULES.len());
}
