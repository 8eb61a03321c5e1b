//! What an identification came to, on paper: the list of cores or actuators, and the cores for the job.

use serde_json::json;

use super::out::{self, say};
use super::tables::table;
use crate::identify::checking::{Checked, Checking, checking};
use crate::identify::event::{CoresTold, Told, ZonesTold};
use crate::identify::found::{self, State};
use crate::identify::naming::{self, NamedCore};
use crate::identify::plan::{Method, Plan};
use crate::identify::session::Session;
use crate::terminal::plain::clean;

/// How cores are told apart, in words.
pub(super) fn method_words(plan: &Plan) -> String {
    match &plan.method {
        Method::Links(_) => "joining cores at one end, looking at the other".into(),
        Method::ResistorsToEarth(v) => format!("{} resistors of different values to the earth", v.len()),
        Method::ResistorsFromHub(v) => format!("{} resistors of different values from one core to the others", v.len()),
        Method::Diode => "a diode between the two cores".into(),
    }
}

/// `1 walk`, `2 walks`.
pub(super) fn walks_words(walks: usize) -> String {
    format!("{walks} {}", if walks == 1 { "walk" } else { "walks" })
}

/// Prints what it came to.
pub(super) fn print(session: &Session, told: &Told) {
    say!("");
    match told {
        Told::Cores(told) => cores(session, told),
        Told::Zones(told) => zones(told),
    }
}

fn cores(session: &Session, told: &CoresTold) {
    let row = |row: &found::Row| {
        let remark = row.remark.as_ref().map_or(String::new(), |r| format!("; {r}"));
        vec![
            row.near.join(" "),
            row.far.join(" "),
            format!("{}{remark}", row.state.words()),
        ]
    };
    let rows: Vec<Vec<String>> = told.rows.iter().map(row).collect();
    if !rows.is_empty() {
        say!("{}", table(&["near", "far", "how it is known"], &rows));
    }
    say!("{} between the ends.", walks_words(told.walks));
    for remark in &told.remarks {
        say!("{}", clean(remark));
    }
    match told.checked {
        Some(checked @ (Checked::AsListed | Checked::Otherwise)) => say!("{}.", checked.words()),
        Some(Checked::LeftOut) | None => {
            for line in checking(&told.rows).iter().flat_map(Checking::words) {
                say!("{line}");
            }
        }
    }
    match &session.job {
        Some(job) if !told.named.is_empty() => {
            print_named(&told.named);
            say!(
                "\nthe cores of the job as they are labelled:\n{}",
                clean_lines(&naming::block(job, &told.named))
            );
        }
        _ if told
            .rows
            .iter()
            .any(|r| matches!(r.state, State::Conducts | State::ByElimination)) =>
        {
            say!(
                "\nfor the job (what is `?` is for you to fill in, and `coreproof check` points at it; with `--job` it is filled in):"
            );
            say!("{}", found::job_cores(&told.rows).trim_end());
        }
        _ => {}
    }
}

fn clean_lines(text: &str) -> String {
    text.lines().map(clean).collect::<Vec<_>>().join("\n")
}

/// The table of the cores of a job by their labels.
pub(super) fn print_named(named: &[NamedCore]) {
    let row = |core: &NamedCore| {
        vec![
            core.name.clone(),
            clean(&core.was),
            format!("{} to {}", core.near_label, clean(&core.near)),
            format!("{} to {}", core.far_label, clean(&core.far)),
            core.carries.words().to_owned(),
        ]
    };
    let rows: Vec<_> = named.iter().map(row).collect();
    say!(
        "\n{}",
        table(
            &["core", "was", "near label, terminal", "far label, terminal", "carries"],
            &rows
        )
    );
}

fn zones(told: &ZonesTold) {
    let actuators = told.actuators.iter().enumerate();
    let rows: Vec<_> = actuators
        .map(|(i, belongs)| vec![(i + 1).to_string(), belongs.words()])
        .collect();
    say!("{}", table(&["actuator", "belongs to"], &rows));
    if !told.idle.is_empty() {
        let idle: Vec<_> = told.idle.iter().map(usize::to_string).collect();
        say!("zones without an actuator: {}", idle.join(", "));
    }
}

/// The same as JSON, with every look.
pub(super) fn print_json(session: &Session, told: &Told) {
    let value = match told {
        Told::Cores(told) => {
            let steps = session.walk().and_then(|walk| walk.found()).map(|found| found.steps);
            let mut value = serde_json::to_value(told).expect("a result is plain data");
            value["steps"] = json!(steps);
            value["checking"] = json!(checking(&told.rows));
            value
        }
        Told::Zones(told) => {
            let calling = session.calling().expect("actuators were told apart");
            let (before, open) = calling.looks.split_first().expect("a look was taken");
            json!({ "plan": calling.calls, "open_before": before, "open": open, "actuators": told.actuators, "idle": told.idle })
        }
    };
    out::json(&value);
}
