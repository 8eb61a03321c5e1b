//! What parting shows: a neutral that another circuit borrows, and an earth that is open.
//!
//! Rule: where the switch parts the line alone, everything is dark until the neutral is parted; what is lit then says who is in danger.

use super::fault::{Change, Fault};
use super::installation::Installation;
use super::jobs::{changed, terminal};
use crate::job::End;
use crate::plan::{Act, Point, Probes};
use crate::value::quantity::{Amount, Unit};

fn fault(name: &str, does: Change) -> Fault {
    Fault {
        name: name.into(),
        kind: String::new(),
        part: String::new(),
        weight: 0.0,
        words: String::new(),
        look: String::new(),
        does: vec![does],
    }
}

fn bridge(a: &str, b: &str, ohms: i64) -> Change {
    let ohms = Amount::new(ohms.into(), Unit::Ohm);
    Change::Bridge(a.into(), b.into(), (ohms.clone(), ohms.clone(), ohms))
}

/// The demonstration job, its isolator parting the line alone where that is asked, with 100 W of another circuit on a neutral terminal.
fn borrowed(at: &str, single_pole: bool) -> Installation {
    let mut there = Installation::of(&changed("saltmarsh", &[])).unwrap();
    there
        .put(&fault("another circuit", bridge("known line", at, 530)))
        .unwrap();
    if single_pole {
        let joined = bridge("origin neutral", "behind isolator neutral", 0);
        there.put(&fault("a single pole", joined)).unwrap();
    }
    there.apply(&Act::SwitchOff);
    there
}

fn lit(there: &Installation, first: &Point, second: Point) -> bool {
    there.indicator_lit(&Probes {
        first: first.clone(),
        second,
    })
}

fn core(end: End) -> Point {
    Point::Core {
        core: "grey".into(),
        end,
    }
}

#[test]
fn a_borrowed_neutral_behind_a_single_pole_is_live_only_once_it_is_parted() {
    let lead = Point::LongLead {
        clipped: Some("E".into()),
    };
    let mut there = borrowed("terminal N Far", true);
    for (first, second) in [
        (&terminal("E", End::Near), terminal("2", End::Near)),
        (&terminal("1", End::Near), terminal("2", End::Near)),
        (&lead, terminal("N", End::Far)),
    ] {
        assert!(!lit(&there, first, second), "dark while the neutral is whole");
    }
    there.apply(&Act::Disconnect(End::Near));
    let earth = terminal("E", End::Near);
    assert!(lit(&there, &earth, core(End::Near)), "the parted core, to earth");
    assert!(
        !lit(&there, &earth, terminal("2", End::Near)),
        "its terminal is still at the origin's neutral"
    );
    there.apply(&Act::Disconnect(End::Far));
    assert!(!lit(&there, &earth, core(End::Near)));
    assert!(
        lit(&there, &lead, terminal("N", End::Far)),
        "what stays at the far terminal"
    );
}

#[test]
fn borrowed_in_the_near_box_it_is_live_only_once_the_supply_s_own_is_parted() {
    let mut there = borrowed("terminal 2 Near", true);
    let (earth, line) = (terminal("E", End::Near), terminal("1", End::Near));
    for act in [
        Act::Disconnect(End::Far),
        Act::Disconnect(End::Near),
        Act::Connect {
            core: "grey".into(),
            end: End::Near,
        },
    ] {
        there.apply(&act);
        assert!(!lit(&there, &earth, terminal("2", End::Near)), "{act:?}");
    }
    there.apply(&Act::PartNeutral);
    assert!(lit(&there, &earth, terminal("2", End::Near)));
    assert!(lit(&there, &earth, core(End::Near)), "and what is connected to it");
    // the line behind an open switch floats with what hangs between the two
    assert!(!lit(&there, &line, terminal("2", End::Near)));
    there.apply(&Act::RestoreNeutral);
    assert!(!lit(&there, &earth, terminal("2", End::Near)));
}

#[test]
fn behind_both_poles_it_is_live_at_once_and_shows_to_earth_alone() {
    let there = borrowed("terminal 2 Near", false);
    assert!(lit(&there, &terminal("E", End::Near), terminal("2", End::Near)));
    // the line behind an open isolator floats: a pair of a position's own line and neutral proves nothing
    assert!(!lit(&there, &terminal("1", End::Near), terminal("2", End::Near)));
}

#[test]
fn to_an_open_earth_a_second_supply_is_dark() {
    let mut there = Installation::of(&changed("saltmarsh", &[])).unwrap();
    let feed = Change::Feed(
        "terminal 3 Near".into(),
        "origin neutral".into(),
        super::fault::Delivers::Mains,
        Amount::new(1.into(), Unit::Ohm),
    );
    there
        .put(&fault("an open earth", Change::Remove("earth feed".into())))
        .unwrap();
    there.put(&fault("a second supply", feed)).unwrap();
    let earth = terminal("E", End::Near);
    assert!(
        !lit(&there, &earth, terminal("1", End::Near)),
        "the earth is not lit to line before it is switched off"
    );
    there.apply(&Act::SwitchOff);
    assert!(
        !lit(&there, &earth, terminal("3", End::Near)),
        "and shows the live core dark"
    );
    assert!(lit(&there, &Point::KnownEarth, terminal("3", End::Near)));
}

#[test]
fn a_further_supply_is_switched_off_with_its_own_point_of_isolation() {
    let mut there = Installation::of(&changed("galley-cylinder", &[])).unwrap();
    let lead = Point::LongLead {
        clipped: Some("E".into()),
    };
    let heater = || terminal("H", End::Far);
    there.apply(&Act::SwitchOff);
    assert!(lit(&there, &lead, heater()));
    there.apply(&Act::Further {
        supply: "immersion heater".into(),
        act: crate::plan::Isolating::SwitchOff,
    });
    assert!(!lit(&there, &lead, heater()));
}
