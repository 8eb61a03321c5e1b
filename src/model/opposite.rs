//! What makes a thing that a step shows false: its opposites, as data, put at the points of one job.
//!
//! The rule inside: a thing is shown only by what would have come out otherwise had it been false. An opposite is a change of named
//! elements and points, as a fault is; how often it is met does not matter, so it has no weight.

use std::sync::LazyLock;

use serde::Deserialize;

use super::fault::{Change, Fault};
use super::wiring;
use crate::job::Job;
use crate::located;

/// The version of the table's format.
const FORMAT: &str = "1.0";

/// One way in which something can be false.
#[derive(Debug, Clone, Deserialize)]
#[serde(deny_unknown_fields, rename = "Opposite")]
pub struct Opposite {
    /// The kind of thing it is the opposite of; several may be opposites of one.
    pub of: String,
    /// What that thing is, for a person.
    pub is: String,
    does: Vec<Change>,
    /// What is wrong then; blanks as in `faults.ron`.
    pub words: String,
    /// What would catch it.
    pub caught: String,
}

#[derive(Debug, Deserialize)]
#[serde(deny_unknown_fields)]
struct Table {
    format: String,
    opposites: Vec<Opposite>,
}

static TABLE: LazyLock<Table> = LazyLock::new(|| {
    let table: Table = located::read(include_str!("opposites.ron")).expect("the shipped table is well formed");
    assert_eq!(table.format, FORMAT, "the shipped table is of this format");
    table
});

/// Every opposite, in the order of the table.
pub fn all() -> &'static [Opposite] {
    &TABLE.opposites
}

/// What the blanks of an opposite stand for.
#[derive(Debug, Clone, Default)]
pub struct About {
    /// Cores.
    pub a: String,
    /// A second one.
    pub b: String,
    /// A point of the wiring, by its name there.
    pub point: String,
    /// A second one.
    pub other: String,
    /// A piece of equipment.
    pub e: String,
    /// A second one.
    pub f: String,
}

/// One way of being false at its place.
#[derive(Debug, Clone)]
pub struct Opposed {
    /// What is put into the wiring.
    pub fault: Fault,
    /// What would catch it.
    pub caught: String,
}

/// Every opposite of a kind of thing at a place of a job; one whose place the job lacks is left out.
///
/// # Panics
/// When the table has no such kind.
pub fn opposites<'a>(of: &'a str, about: &'a About, job: &'a Job) -> impl Iterator<Item = Opposed> + 'a {
    assert!(all().iter().any(|there| there.of == of), "`{of}` has an opposite");
    let of_kind = all().iter().filter(move |there| there.of == of);
    of_kind.filter_map(move |there| {
        let does: Result<Vec<Change>, String> = (there.does.iter())
            .map(|change| change.filled(&|text| Ok(filled(text, about, job))))
            .collect();
        let words = filled(&there.words, about, job);
        Some(Opposed {
            fault: Fault {
                name: words.clone(),
                kind: of.to_owned(),
                part: of.to_owned(),
                weight: 0.0,
                words,
                look: String::new(),
                does: does.ok()?,
            },
            caught: filled(&there.caught, about, job),
        })
    })
}

/// A text with its blanks filled in. Names of a job hold no braces, so what was filled in stays as it is.
fn filled(text: &str, about: &About, job: &Job) -> String {
    let end_of = |name: &str, second: bool| {
        let between = job.equipment_called(name).map(|there| there.is.between());
        between.map_or(String::new(), |(from, to)| {
            wiring::place(if second { to } else { from })
        })
    };
    let mut text = text.to_owned();
    for (blank, value) in [
        ("{a}", about.a.clone()),
        ("{b}", about.b.clone()),
        ("{point}", about.point.clone()),
        ("{other}", about.other.clone()),
        ("{e}", about.e.clone()),
        ("{f}", about.f.clone()),
        ("{from e}", end_of(&about.e, false)),
        ("{to e}", end_of(&about.e, true)),
        ("{from f}", end_of(&about.f, false)),
        ("{to f}", end_of(&about.f, true)),
    ] {
        text = text.replace(blank, &value);
    }
    text
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::model::installation::Installation;

    #[test]
    fn every_opposite_says_what_it_is_and_what_would_catch_it() {
        for there in all() {
            for text in [&there.of, &there.is, &there.words, &there.caught] {
                assert!(!text.trim().is_empty(), "{there:?}");
            }
            assert!(!there.does.is_empty(), "{there:?}");
        }
    }

    #[test]
    fn an_opposite_can_be_put_into_the_wiring_of_the_demonstration() {
        let about = About {
            a: "brown".into(),
            b: "grey".into(),
            point: "terminal L Far".into(),
            other: "terminal N Far".into(),
            e: "thermostat".into(),
            f: "end switch".into(),
        };
        let job = crate::model::sample::with_residual_device();
        for there in all()
            .iter()
            .filter(|there| !there.of.starts_with("pair ") || there.of == "pair held together")
        {
            for opposed in opposites(&there.of, &about, &job) {
                let put = Installation::of(&job).unwrap().put(&opposed.fault);
                assert!(put.is_ok(), "{}: {put:?}", opposed.fault.words);
            }
        }
    }
}
