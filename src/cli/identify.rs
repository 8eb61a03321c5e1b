//! `identify`: which core is which, walk by walk; and which actuator belongs to which zone, call by call.
//!
//! The rule inside: whatever would stop it at its end (a file that is there, a missing key, a meter that cannot reach) stops it
//! before the first walk.

use serde_json::json;

use super::args::Identify;
use super::error::{Failure, PASSED};
use super::identify_asked::Asked;
use super::identify_told::{method_words, walks_words};
use super::identify_walk;
use super::out::{self, complain, say};
use super::tables::table;
use crate::identify::event::Subject;
use crate::identify::kit::Kit;
use crate::identify::plan::{Method, Plan, fewest, plan};
use crate::identify::zones::{self, Calls, calls};
use crate::identify::{asking, measured, words};
use crate::job::End;
use crate::terminal::plain::clean;

/// Runs the command.
pub(super) async fn identify(asked: &Identify, plain: bool) -> Result<u8, Failure> {
    // before the first walk, not after the last
    let mut files = asked.out.iter().chain(&asked.job_out);
    if let Some(there) = files.find(|file| file.exists()) {
        let failure = Failure::refused(format!("`{}` is there already", there.display()));
        return Err(failure
            .hint("give another name: nothing is written over; `--resume FILE` goes on with one that was broken off"));
    }
    if let Some(file) = &asked.resume {
        return identify_walk::resume(file, asked, plain).await;
    }
    if asked.job_out.is_some() && asked.job.is_none() {
        return Err(
            Failure::refused("`--job-out` needs `--job`: it is that job with its cores named anew")
                .hint("give the job, or leave the other out"),
        );
    }
    let prepared = Asked::of(asked)?;
    match &prepared.subject {
        Subject::Zones {
            zones,
            actuators,
            checked,
        } => {
            let calls = calls(*zones, *actuators, *checked, &prepared.figures)?;
            if asked.plan {
                return Ok(show_calls(&calls, asked.json));
            }
            zones_intro(&calls, asked.json);
        }
        Subject::Cores { cores, kit, .. } => {
            let plan = plan(*cores, Kit::parse(kit)?, &prepared.figures)?;
            if asked.plan {
                return show_plan(&plan, asked.json);
            }
            intro(&plan, asked.json);
        }
    }
    identify_walk::begin(prepared, asked, plain).await
}

/// A line to standard output, or to standard error where that is kept for JSON.
fn line(json: bool, text: &str) {
    if json {
        complain!("{}", clean(text));
    } else {
        say!("{}", clean(text));
    }
}

fn intro(plan: &Plan, json: bool) {
    let cores = plan.cores;
    let (method, walks) = (method_words(plan), walks_words(plan.walks));
    line(json, &format!("{cores} cores, {method}: {walks}."));
    if plan.proved_fewest {
        line(json, &format!("No fewer do: {}.", plan.why));
    } else {
        line(json, &format!("No plan with fewer walks was found; {}.", plan.why));
    }
    if 0 < plan.by_elimination {
        line(
            json,
            "One core will be known by elimination and not seen to conduct; `--every-core-seen` adds the walk that sees it.",
        );
    }
}

fn show_plan(plan: &Plan, as_json: bool) -> Result<u8, Failure> {
    let row = fewest(plan.cores)?;
    if as_json {
        let value = json!({
            "cores": plan.cores, "kit": plan.kit, "method": method_words(plan), "walks": plan.walks,
            "proved_fewest": plan.proved_fewest, "why": plan.why, "by_elimination": plan.by_elimination, "fewest": row,
        });
        out::json(&value);
        return Ok(PASSED);
    }
    intro(plan, false);
    say!("{}\n", asking::CAUTION);
    if let Method::Links(shape) = &plan.method {
        say!(
            "First, at the near end, join {}.",
            words::groups(End::Near, &shape[0], plan.cores)
        );
        say!("What to join later depends on what conducts.\n");
    }
    if let Some(reach) = measured::reach_words(plan) {
        say!("{reach}\n");
    }
    let count = |n: Option<usize>| n.map_or("impossible".to_owned(), |n| n.to_string());
    let rows = [
        ("links", count(row.links)),
        ("one link lead", count(row.one_link)),
        ("links and an earth", row.earth.to_string()),
        ("resistors and an earth", row.resistors_and_earth.to_string()),
        ("resistors", count(row.resistors)),
    ];
    let mut rows: Vec<Vec<String>> = rows.into_iter().map(|(a, b)| vec![a.to_owned(), b]).collect();
    if let Some(walks) = row.diode {
        rows.push(vec!["a diode".into(), walks.to_string()]);
    }
    say!("{}", table(&["with", "walks"], &rows));
    Ok(PASSED)
}

fn zones_intro(calls: &Calls, json: bool) {
    let count = calls.calls.len();
    line(
        json,
        &format!(
            "{} zones, {} actuators: {count} calls, {} minutes of waiting, one by one {}.",
            calls.zones,
            calls.actuators,
            calls.minutes(),
            calls.minutes_one_by_one()
        ),
    );
    line(
        json,
        if calls.checked {
            "All zones call once, then each in as many calls as the others: an actuator that sticks, stays shut, lags, hangs on two \
             zones, or was looked at wrongly once, fits no zone instead of a wrong one. `--fewest` leaves that out."
        } else {
            "No fewer do: an actuator has an outcome more than there are zones, and each look tells two apart. One that sticks or lags, or \
             one wrong look, can name a wrong zone; without `--fewest` that is noticed."
        },
    );
    line(json, zones::CAUTION);
}

fn show_calls(calls: &Calls, as_json: bool) -> u8 {
    if as_json {
        out::json(calls);
        return PASSED;
    }
    zones_intro(calls, false);
    let list = |zones: &Vec<usize>| zones.iter().map(usize::to_string).collect::<Vec<_>>().join(" ");
    let rows: Vec<_> = calls
        .calls
        .iter()
        .enumerate()
        .map(|(i, call)| vec![(i + 1).to_string(), list(call)])
        .collect();
    say!("{}", table(&["call", "zones called together"], &rows));
    PASSED
}
