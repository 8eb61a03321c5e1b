//! Labels to cut out: one for each core at each end, each control, and each thing that was seen to follow one.
//!
//! The rule inside: a label names only what was proved; for the rest there is one that is blank and says so.

use serde::Serialize;

use super::cable::CableSheet;

/// One label.
#[derive(Debug, Clone, Default, PartialEq, Eq, Serialize)]
pub struct Label {
    /// What it is stuck on, in large print; none of a blank one.
    pub name: Option<String>,
    /// What belongs to it.
    pub lines: Vec<String>,
    /// Why it is blank, and where it would have gone.
    pub blank: Option<String>,
    /// The record that it is made from: its day and the end of its run.
    pub from: String,
}

/// The labels of a cable.
pub(super) fn labels(cable: &CableSheet) -> Vec<Label> {
    let from = cable.record.as_ref().map_or_else(String::new, |record| {
        let end = record.run.rsplit('-').next().unwrap_or(&record.run);
        format!("{}, run \u{2026}{end}", record.day)
    });
    let blank = |what: String| Label {
        blank: Some(what),
        from: from.clone(),
        ..Label::default()
    };
    let named = |name: &str, lines: Vec<String>| Label {
        name: Some(name.to_owned()),
        lines,
        from: from.clone(),
        blank: None,
    };
    // of a cable that proves nothing one blank label is enough
    if cable.blank.is_some() {
        return vec![blank(format!("{}: not proved", cable.name))];
    }
    let mut labels = Vec::new();
    for held in &cable.held {
        labels.push(match &held.core {
            None => blank(format!("not proved: terminal {} at the {}", held.terminal, held.at)),
            Some(core) => {
                let to = match &held.to {
                    Some(to) => format!("to {to}"),
                    None => "other end not proved".into(),
                };
                let mut lines = vec![format!("core {core}")];
                lines.extend(held.carries.clone());
                lines.extend([to, format!("{}, at the {}", held.cable, held.at)]);
                named(&held.terminal, lines)
            }
        });
    }
    for control in &cable.controls {
        if !control.is_proved() {
            labels.push(blank(format!("not proved: {}", control.control)));
            continue;
        }
        let zone: Vec<String> = control.zones.iter().map(|zone| format!("zone {zone}")).collect();
        let mut lines = zone.clone();
        lines.push(format!("on the {}", cable.name));
        labels.push(named(&control.control, lines));
        let by = format!("opens for {}", control.control);
        let flows = format!("flows for {}", control.control);
        let moved = control.moves.iter().map(|thing| (thing, &by));
        let things = moved.chain(control.flows.iter().map(|thing| (thing, &flows)));
        labels.extend(things.map(|(thing, by)| named(thing, zone.iter().cloned().chain([by.clone()]).collect())));
    }
    labels
}
