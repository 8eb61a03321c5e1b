//! `audit`: proves stored records again.

use serde_json::json;

use super::error::{FOUND, Failure, PASSED};
use super::home::Home;
use super::out::say;
use super::tables::table;
use crate::evidence::archive::Archive;
use crate::evidence::audit::Remark;
use crate::evidence::keys::Trust;
use crate::evidence::stored::remarks;

/// Audits every record that the filter lets through.
pub(super) fn audit(filter: Option<&str>, as_json: bool) -> Result<u8, Failure> {
    let home = Home::open()?;
    let archive = Archive::open(&home.archive())?;
    let trust = Trust::read(&home.trusted())?;
    let wanted = filter.map(str::to_lowercase);
    let mut examined = 0_u64;
    let mut found: Vec<(String, Remark)> = Vec::new();
    archive.for_each(|entry| {
        let s = &entry.summary;
        let haystack = format!("{} {} {} {} {}", s.run, s.opened_at, s.place, s.cable, s.engineer).to_lowercase();
        if wanted.as_ref().is_none_or(|w| haystack.contains(w)) {
            examined += 1;
            found.extend(remarks(&entry, &trust).into_iter().map(|r| (s.run.to_string(), r)));
        }
        Ok::<(), Failure>(())
    })?;
    if as_json {
        let rows: Vec<_> = found
            .iter()
            .map(|(run, r)| json!({"run": run, "concern": r.concern, "line": r.line, "what": r.what}))
            .collect();
        say!(
            "{}",
            serde_json::to_string_pretty(&json!({"examined": examined, "findings": rows})).expect("plain data")
        );
    } else {
        say!(
            "{examined} {} examined, {} {}",
            plural(examined, "record"),
            found.len(),
            plural(found.len() as u64, "finding")
        );
        if !found.is_empty() {
            let rows: Vec<_> = found
                .iter()
                .map(|(run, r)| {
                    vec![
                        run.clone(),
                        r.concern.word().to_owned(),
                        r.line.to_string(),
                        r.what.clone(),
                    ]
                })
                .collect();
            say!("{}", table(&["run", "concern", "line", "finding"], &rows));
        }
    }
    // as for `verify`: a clock that stepped back is told and does not speak against a record
    Ok(if found.iter().any(|(_, remark)| remark.is_against()) {
        FOUND
    } else {
        PASSED
    })
}

fn plural(count: u64, word: &str) -> String {
    if count == 1 {
        word.to_owned()
    } else {
        format!("{word}s")
    }
}
