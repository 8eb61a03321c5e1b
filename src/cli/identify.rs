//! `identify`: which core is which, walk by walk; and which actuator belongs to which zone, call by call.

use std::path::Path;

use serde_json::json;
use tokio::sync::mpsc::UnboundedReceiver;

use super::args::Identify;
use super::error::{FOUND, Failure, PASSED};
use super::files;
use super::out::say;
use super::tables::table;
use crate::pure::identify::asking::{CAUTION, Prompt};
use crate::pure::identify::error::IdentifyError;
use crate::pure::identify::figures::Figures;
use crate::pure::identify::found::{self, Found, State};
use crate::pure::identify::kit::Kit;
use crate::pure::identify::plan::{Method, Plan, fewest, plan};
use crate::pure::identify::walk::Walk;
use crate::pure::identify::words;
use crate::pure::identify::zones::{Belongs, Calls, WAIT_MINUTES, calls};
use crate::pure::job::End;
use crate::pure::job::Job;
use crate::terminal::input;
use crate::terminal::plain::clean;

impl From<IdentifyError> for Failure {
    fn from(error: IdentifyError) -> Failure {
        let failure = Failure::refused(error.to_string());
        match error.hint() {
            Some(hint) => failure.hint(hint),
            None => failure,
        }
    }
}

/// Prompts go to standard output, or to standard error where that is kept for JSON.
struct Voice {
    json: bool,
}

impl Voice {
    fn line(&self, text: &str) {
        if self.json {
            eprintln!("{}", clean(text));
        } else {
            say!("{}", clean(text));
        }
    }

    fn field(&self, name: &str, text: &str) {
        self.line(&format!("    {name:<8} {text}"));
    }
}

/// Runs the command.
pub fn identify(asked: &Identify) -> Result<u8, Failure> {
    if let Some(out) = asked.out.as_ref().filter(|out| out.exists()) {
        // before the first walk, not after the last
        let failure = Failure::refused(format!("`{}` is there already", out.display()));
        return Err(failure.hint("give another name: nothing is written over"));
    }
    if let Some(zones) = asked.zones {
        let actuators = asked.actuators.unwrap_or(zones);
        let calls = calls(zones, actuators, asked.check_call)?;
        return identify_zones(asked, &calls);
    }
    let job = asked.job.as_deref().map(read_job).transpose()?;
    let cores = asked.cores.or(job.as_ref().map(|j| j.cores.len())).ok_or_else(|| {
        Failure::refused("neither the number of cores nor a job is given").hint("give `--cores 7` or `--job JOB`")
    })?;
    let plan = plan(cores, Kit::parse(&asked.kit)?, &Figures::shipped())?;
    if asked.plan {
        return show_plan(asked, &plan);
    }
    let voice = Voice { json: asked.json };
    intro(&voice, &plan);
    let found = walk(&voice, &plan, asked.every_core_seen)?;
    if asked.json {
        say!(
            "{}",
            serde_json::to_string_pretty(&found).expect("a result is plain data")
        );
    } else {
        print_found(&found, job.as_ref());
    }
    if let Some(out) = &asked.out {
        write(out, &found::ron(&found))?;
    }
    Ok(if found.is_sound() { PASSED } else { FOUND })
}

fn read_job(path: &Path) -> Result<Job, Failure> {
    files::job(&files::text(path)?).map_err(Failure::findings)
}

/// A new file; one that is there is kept.
fn write(path: &Path, text: &str) -> Result<(), Failure> {
    use std::io::Write;
    let name = path.display();
    let failed = |error: std::io::Error| Failure::equipment(format!("`{name}` cannot be written: {error}"));
    let mut file = std::fs::File::create_new(path).map_err(failed)?;
    file.write_all(text.as_bytes())
        .and_then(|()| file.sync_all())
        .map_err(failed)
}

fn method_words(plan: &Plan) -> String {
    match &plan.method {
        Method::Links(_) => "joining cores at one end, looking at the other".into(),
        Method::ResistorsToEarth(v) => format!("{} resistors of different values to the earth", v.len()),
        Method::ResistorsFromHub(v) => format!("{} resistors of different values from one core to the others", v.len()),
        Method::Diode => "a diode between the two cores".into(),
    }
}

fn walks_words(walks: usize) -> String {
    format!("{walks} {}", if walks == 1 { "walk" } else { "walks" })
}

fn intro(voice: &Voice, plan: &Plan) {
    let cores = plan.cores;
    voice.line(&format!(
        "{cores} cores, {}: {}.",
        method_words(plan),
        walks_words(plan.walks)
    ));
    if plan.proved_fewest {
        voice.line(&format!("No fewer do: {}.", plan.why));
    } else {
        voice.line(&format!("No plan with fewer walks was found; {}.", plan.why));
    }
    if 0 < plan.by_elimination {
        voice.line("One core will be known by elimination and not seen to conduct; `--every-core-seen` adds the walk that sees it.");
    }
}

fn show_plan(asked: &Identify, plan: &Plan) -> Result<u8, Failure> {
    let row = fewest(plan.cores)?;
    if asked.json {
        let value = json!({
            "cores": plan.cores, "kit": plan.kit, "method": method_words(plan), "walks": plan.walks,
            "proved_fewest": plan.proved_fewest, "why": plan.why, "by_elimination": plan.by_elimination, "fewest": row,
        });
        say!(
            "{}",
            serde_json::to_string_pretty(&value).expect("a plan is plain data")
        );
        return Ok(PASSED);
    }
    intro(&Voice { json: false }, plan);
    say!("{CAUTION}\n");
    if let Method::Links(shape) = &plan.method {
        say!(
            "First, at the near end, join {}.",
            words::groups(End::Near, &shape[0], plan.cores)
        );
        say!("What to join later depends on what conducts.\n");
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

/// The next line, or what is lost by stopping here.
fn next_line(lines: &mut UnboundedReceiver<String>, done: usize) -> Result<String, Failure> {
    lines.blocking_recv().ok_or_else(|| Failure {
        exit: FOUND,
        ..Failure::refused(format!(
            "the input ended after {done} answers, before everything was known"
        ))
        .hint("start again and type the same answers; the labels on the cores still hold")
    })
}

fn walk(voice: &Voice, plan: &Plan, every_core_seen: bool) -> Result<Found, Failure> {
    let mut walk = Walk::new(plan.clone(), every_core_seen);
    let mut lines = input::lines();
    let mut done = 0;
    let mut shown = None;
    loop {
        if let Some(found) = walk.found() {
            return Ok(found);
        }
        let prompt = walk.prompt().expect("a walk that has not ended asks");
        if shown.as_ref() != Some(&prompt) {
            show(voice, &prompt);
            shown = Some(prompt);
        }
        let line = next_line(&mut lines, done)?;
        let was_faulty = walk.is_faulty();
        match walk.answer(&line) {
            Ok(()) => {
                done += 1;
                shown = None;
                if walk.is_faulty() && !was_faulty {
                    voice.field(
                        "FAULT",
                        "No sound cable looks like this: a core is broken or two touch. Extra walks will say which.",
                    );
                }
            }
            Err(error) => {
                voice.field("note", &error.to_string());
                if let Some(hint) = error.hint() {
                    voice.field("next", &hint);
                }
            }
        }
    }
}

fn show(voice: &Voice, prompt: &Prompt) {
    voice.line("");
    voice.line(&prompt.heading);
    for act in &prompt.acts {
        voice.field("do", act);
    }
    voice.field("ask", &prompt.ask);
    voice.field("answer", &prompt.answers);
}

fn print_found(found: &Found, job: Option<&Job>) {
    let rows: Vec<Vec<String>> = found
        .rows
        .iter()
        .map(|r| {
            let remark = r.remark.as_ref().map_or(String::new(), |r| format!("; {r}"));
            vec![
                r.near.join(" "),
                r.far.join(" "),
                format!("{}{remark}", r.state.words()),
            ]
        })
        .collect();
    say!("");
    if !rows.is_empty() {
        say!("{}", table(&["near", "far", "how it is known"], &rows));
    }
    say!("{} between the ends.", walks_words(found.walks));
    for remark in &found.remarks {
        say!("{}", clean(remark));
    }
    if found
        .rows
        .iter()
        .any(|r| matches!(r.state, State::Conducts | State::ByElimination))
    {
        say!("\nfor the cores of the job (what is `?` is for you to fill in, and `coreproof check` points at it):");
        let size = job.and_then(|job| {
            let size = job.cores[0].size.to_string();
            job.cores.iter().all(|c| c.size.to_string() == size).then_some(size)
        });
        print!("{}", found::job_cores(found, size.as_deref()));
    }
}

fn identify_zones(asked: &Identify, calls: &Calls) -> Result<u8, Failure> {
    let voice = Voice {
        json: asked.json && !asked.plan,
    };
    let count = calls.calls.len();
    if asked.plan && asked.json {
        say!("{}", serde_json::to_string_pretty(calls).expect("a plan is plain data"));
        return Ok(PASSED);
    }
    zones_intro(&voice, calls);
    if asked.plan {
        let list = |zones: &Vec<usize>| zones.iter().map(usize::to_string).collect::<Vec<_>>().join(" ");
        let rows: Vec<_> = calls
            .calls
            .iter()
            .enumerate()
            .map(|(i, c)| vec![(i + 1).to_string(), list(c)])
            .collect();
        say!("{}", table(&["call", "zones called together"], &rows));
        return Ok(PASSED);
    }
    let mut lines = input::lines();
    let mut looks: Vec<Vec<usize>> = Vec::new();
    while looks.len() <= count {
        voice.line("");
        voice.line(&format!("look {} of {}", looks.len() + 1, count + 1));
        match looks.len().checked_sub(1) {
            None => voice.field(
                "do",
                &format!("Call no zone and wait {WAIT_MINUTES} minutes, so that every actuator is shut."),
            ),
            Some(call) => {
                let zones: Vec<_> = calls.calls[call].iter().map(usize::to_string).collect();
                voice.field(
                    "do",
                    &format!("Call {} and no other; wait {WAIT_MINUTES} minutes.", zones.join(", ")),
                );
            }
        }
        voice.field("ask", "Which actuators stand open?");
        voice.field(
            "answer",
            &format!("numbers, 1 to {}, `none`, or `back`", calls.actuators),
        );
        loop {
            let line = next_line(&mut lines, looks.len())?;
            if line.trim().eq_ignore_ascii_case("back") && looks.pop().is_some() {
                break;
            }
            match calls.read(&line) {
                Ok(open) => {
                    looks.push(open);
                    break;
                }
                Err(error) => voice.field("note", &error.to_string()),
            }
        }
    }
    let map = calls.map(&looks[0], &looks[1..]);
    finish_zones(asked, calls, &looks, &map)
}

fn zones_intro(voice: &Voice, calls: &Calls) {
    let count = calls.calls.len();
    voice.line(&format!(
        "{} zones, {} actuators: {count} calls, {} minutes of waiting instead of {}.",
        calls.zones,
        calls.actuators,
        calls.minutes(),
        calls.minutes_one_by_one()
    ));
    let least = count - usize::from(calls.check_call);
    voice.line(&format!(
        "No fewer than {least} do: an actuator has {} outcomes (a zone, or none) and each look tells two apart.",
        calls.zones + 1
    ));
    voice.line(if calls.check_call {
        "The check call makes every code even: one wrong look at an actuator then fits no zone instead of a wrong one."
    } else {
        "One wrong look can name a wrong zone; `--check-call` adds a call that notices."
    });
    voice.line(
        "Mains may stand on the actuators' terminals: look, do not open. Local codes and licensed practice come first.",
    );
}

fn finish_zones(asked: &Identify, calls: &Calls, looks: &[Vec<usize>], map: &[Belongs]) -> Result<u8, Failure> {
    let value = json!({ "plan": calls, "open_before": looks[0], "open": &looks[1..], "actuators": map });
    let text = serde_json::to_string_pretty(&value).expect("a result is plain data");
    if asked.json {
        say!("{text}");
    } else {
        let rows: Vec<_> = map
            .iter()
            .enumerate()
            .map(|(i, b)| vec![(i + 1).to_string(), b.words()])
            .collect();
        say!("\n{}", table(&["actuator", "belongs to"], &rows));
    }
    let idle = (1..=calls.zones)
        .filter(|z| !map.contains(&Belongs::Zone(*z)))
        .collect::<Vec<_>>();
    if !idle.is_empty() && !asked.json {
        let idle: Vec<_> = idle.iter().map(usize::to_string).collect();
        say!("zones without an actuator: {}", idle.join(", "));
    }
    if let Some(out) = &asked.out {
        write(out, &format!("{text}\n"))?;
    }
    let sound = idle.is_empty() && map.iter().all(|b| matches!(b, Belongs::Zone(_)));
    Ok(if sound { PASSED } else { FOUND })
}
