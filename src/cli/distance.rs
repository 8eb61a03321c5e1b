//! How far away a core broke, or touches another, from readings at both ends.

use serde_json::json;

use super::args::Distance;
use super::error::{Failure, PASSED};
use super::out::{self, say};
use crate::identify::distance::{
    Limited, Place, Shown, amount, break_by_both_ends, break_by_one_end, capacitance, contact,
};
use crate::value::quantity::Unit;

/// Prints the distance from the near end with its uncertainty.
pub(super) fn distance(asked: &Distance) -> Result<u8, Failure> {
    for (what, percent) in [
        ("--meter-percent", asked.meter_percent),
        ("--length-percent", asked.length_percent),
        ("--per-metre-percent", asked.per_metre_percent),
    ] {
        if !(0.0..=100.0).contains(&percent) {
            return Err(Failure::refused(format!("`{what} {percent}` is not within 0 to 100")));
        }
    }
    let length = match &asked.length {
        Some(text) => Some(Limited::percent(amount(text, Unit::Metre)?.value, asked.length_percent)),
        None => None,
    };
    let place = match &asked.whole_loop {
        Some(whole) => by_resistance(asked, whole, length)?,
        None => by_capacitance(asked, length)?,
    };
    show(asked, place);
    Ok(PASSED)
}

fn needed<T>(value: Option<T>, option: &str, why: &str) -> Result<T, Failure> {
    value.ok_or_else(|| Failure::refused(format!("`{option}` is missing: {why}")))
}

fn display(asked: &Distance, shown: Shown) -> Limited {
    Limited::display(shown, asked.meter_percent, asked.meter_digits)
}

fn by_resistance(asked: &Distance, whole: &str, length: Option<Limited>) -> Result<Place, Failure> {
    let ohms = |text: &str| Ok::<_, Failure>(display(asked, amount(text, Unit::Ohm)?));
    let far = needed(
        asked.far.as_deref(),
        "--far",
        "a contact is placed by readings from both ends",
    )?;
    let length = needed(length, "--length", "a contact is placed as a share of the length")?;
    Ok(contact(ohms(&asked.near)?, ohms(far)?, ohms(whole)?, length)?)
}

fn by_capacitance(asked: &Distance, length: Option<Limited>) -> Result<Place, Failure> {
    let farads = |text: &str| Ok::<_, Failure>(display(asked, capacitance(text, false)?));
    let near = farads(&asked.near)?;
    if let Some(far) = &asked.far {
        let length = needed(length, "--length", "a break is placed as a share of the length")?;
        return Ok(break_by_both_ends(near, farads(far)?, length)?);
    }
    let per_metre = needed(
        asked.per_metre.as_deref(),
        "--far",
        "give the reading from the far end, or `--per-metre` measured on a known length",
    )?;
    let per_metre = Limited::percent(capacitance(per_metre, true)?.value, asked.per_metre_percent);
    Ok(break_by_one_end(near, per_metre, length)?)
}

fn show(asked: &Distance, place: Place) {
    if asked.json {
        let value = json!({ "metres_from_near": place.metres, "within_metres": place.within, "coverage_factor": 2,
            "contact_ohms": place.contact_ohms });
        out::json(&value);
        return;
    }
    let what = if place.contact_ohms.is_some() {
        "contact"
    } else {
        "break"
    };
    let metres = (place.metres * 10.0).round() / 10.0;
    // what rounding the place leaves out is within it as well
    let within = ((place.within + (place.metres - metres).abs()) * 10.0 - 1e-6).ceil() / 10.0;
    say!("{what} {metres:.1} m from the near end, within {within:.1} m (coverage factor 2)");
    if let Some(ohms) = place.contact_ohms {
        say!("the contact itself has about {ohms:.2} ohm");
    }
    say!("Look for a fixing, a joint or a bend there. Before opening anything: isolate, lock off, prove dead.");
}
