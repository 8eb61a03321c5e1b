//! Faults of earth, neutral and clamps on the shipped jobs: what each changes, and where it shows.
//!
//! Rule: figures here are worked out by hand from the fault's own size, never copied from what the model shows.

use super::fault::Size;
use super::installation::Installation;
use super::jobs::{changed, terminal};
use super::library;
use crate::job::{End, Job, Purpose};
use crate::plan::{Act, Point, Probes};
use crate::value::reading::Function;

/// Near `1` line, `2` neutral, `3` and `4` switched, `E`; far `L`, `N`, `SL`, `E`.
fn job() -> Job {
    changed("saltmarsh", &[])
}

/// The same behind a circuit-breaker that leaves the neutral joined.
fn single_pole() -> Job {
    changed(
        "saltmarsh",
        &[("        nominal:", "        breaks: Line,\n        nominal:")],
    )
}

fn with(job: &Job, fault: &str) -> Installation {
    let mut installation = Installation::of(job).unwrap();
    for fault in library::find(job, fault).unwrap() {
        installation.put(&fault).unwrap();
    }
    installation
}

fn pair(first: Point, second: Point) -> Probes {
    Probes { first, second }
}

fn at(end: End, first: &str, second: &str) -> Probes {
    pair(terminal(first, end), terminal(second, end))
}

fn ohms(installation: &Installation, probes: &Probes) -> f64 {
    installation.shows(probes, Function::Continuity, 1e6)
}

fn off(mut installation: Installation) -> Installation {
    installation.apply(&Act::SwitchOff);
    installation
}

fn disconnected(installation: Installation) -> Installation {
    let mut installation = off(installation);
    for end in End::BOTH {
        installation.apply(&Act::Disconnect(end));
    }
    installation
}

fn assert_near(seen: f64, expected: f64) {
    assert!((seen - expected).abs() < 0.02 * expected, "{seen} is not {expected}");
}

/// From the main earthing terminal by a long lead to an end's earth terminal.
fn to_earth(end: End) -> Probes {
    pair(Point::KnownEarth, terminal("E", end))
}

#[test]
fn a_bad_clamp_comes_back_with_every_reconnection() {
    let clamp = || {
        pair(
            Point::Core {
                core: "green-yellow".into(),
                end: End::Far,
            },
            terminal("E", End::Far),
        )
    };
    let connect = |installation: &mut Installation| {
        installation.apply(&Act::Connect {
            core: "green-yellow".into(),
            end: End::Far,
        });
    };
    let mut there = off(with(&job(), "high-resistance-clamp"));
    assert_near(ohms(&there, &clamp()), 3.0);
    for _ in 0..2 {
        there.apply(&Act::Disconnect(End::Far));
        assert!(1e9 < ohms(&there, &clamp()), "the core itself is sound");
        connect(&mut there);
        assert_near(ohms(&there, &clamp()), 3.0);
    }
    // put in while the core is off, and of its greatest size
    let mut there = disconnected(Installation::of(&job()).unwrap());
    let fault = &library::find(&job(), "high-resistance-clamp").unwrap()[0];
    there.put_sized(fault, Size::GREATEST).unwrap();
    connect(&mut there);
    assert_near(ohms(&there, &clamp()), 20.0);
}

#[test]
fn a_joint_in_the_earth_is_between_the_main_terminal_and_the_near_end() {
    let read = |fault: &str, end| ohms(&off(with(&job(), fault)), &to_earth(end));
    let copper = |end| ohms(&off(Installation::of(&job()).unwrap()), &to_earth(end));
    // 9 m of 1.5 mm2 upstream: 12.1 mohm/m x 9 m x 0.98 at 15 degC = 0.107 ohm at most (IEC 60228), 0.97 of it in the model
    assert_near(copper(End::Near), 0.107 * 0.97);
    for end in End::BOTH {
        assert_near(read("loop-high", end) - copper(end), 5.0);
        assert!((read("earth-through-ground", end) - copper(end)).abs() < 1e-6);
    }
}

#[test]
fn metal_pipe_is_in_parallel_with_the_earth_core_and_with_its_clamp() {
    let job = changed("boiler-room-call", &[]);
    assert!(job.metal_beside_earth(End::Far).is_some());
    let bare = Point::earth_conductor(&job, End::Far);
    let alone = pair(Point::KnownEarth, bare.clone());
    let clamp = pair(terminal("E", End::Far), bare);
    let there =
        |fault: Option<&str>| off(fault.map_or_else(|| Installation::of(&job).unwrap(), |fault| with(&job, fault)));
    // IEC 60228: 7 m of 1.5 mm2 at 12.1 mohm/m, 11 m of 1.0 mm2 flexible at 19.5 mohm/m, at 20 degC; 0.97 of it in the model
    let core = (7.0 * 12.1e-3 + 11.0 * 19.5e-3) * 0.97;
    let pipe = 0.1;
    assert_near(ohms(&there(None), &to_earth(End::Far)), core * pipe / (core + pipe));
    // nothing comes in, and the terminal reads as if all were well
    assert_near(ohms(&there(Some("earth-missing")), &to_earth(End::Far)), pipe);
    assert!(
        1e9 < {
            let mut there = there(Some("earth-missing"));
            there.apply(&Act::EarthOff(End::Far));
            ohms(&there, &alone)
        }
    );
    let mut high = there(Some("high-resistance-clamp:green-yellow@near"));
    assert_near(
        ohms(&high, &to_earth(End::Far)),
        pipe * (core + 3.0) / (pipe + core + 3.0),
    );
    high.apply(&Act::EarthOff(End::Far));
    assert_near(ohms(&high, &alone), core + 3.0);
    high.apply(&Act::EarthBack(End::Far));
    assert_near(
        ohms(&high, &to_earth(End::Far)),
        pipe * (core + 3.0) / (pipe + core + 3.0),
    );
    // the clamp beside the pipe: off and on again it is as bad as before, and the way round by the pipe makes it look better
    let mut bad = there(Some("high-resistance-clamp:green-yellow@far"));
    let round = 3.0 * (core + pipe) / (3.0 + core + pipe);
    for _ in 0..2 {
        assert_near(ohms(&bad, &clamp), round);
        bad.apply(&Act::EarthOff(End::Far));
        assert_near(ohms(&bad, &alone), core);
        bad.apply(&Act::EarthBack(End::Far));
    }
}

#[test]
fn the_earth_that_comes_in_goes_off_its_terminal_and_back() {
    let change = (
        "        name: \"wiring centre\",",
        "        name: \"wiring centre\", metalwork: \"pump\",",
    );
    let job = changed("saltmarsh", &[change]);
    let alone = pair(Point::KnownEarth, Point::EarthComingIn);
    let copper = 0.107 * 0.97;
    let mut there = off(with(&job, "loop-high"));
    assert_near(
        ohms(&there, &to_earth(End::Near)),
        0.1 * (copper + 5.0) / (0.1 + copper + 5.0),
    );
    there.apply(&Act::EarthOff(End::Near));
    assert_near(ohms(&there, &to_earth(End::Near)), 0.1);
    assert_near(ohms(&there, &alone), copper + 5.0);
    there.apply(&Act::EarthBack(End::Near));
    assert!(ohms(&there, &alone) < 0.11);
}

#[test]
fn an_earth_through_the_ground_shows_in_the_loop_alone() {
    let read = |installation: &Installation, end| {
        let line = if end == End::Near { "1" } else { "L" };
        installation.shows(&at(end, "E", line), Function::Loop, 1e6)
    };
    let (sound, faulty) = (Installation::of(&job()).unwrap(), with(&job(), "earth-through-ground"));
    for end in End::BOTH {
        assert_near(read(&faulty, end) - read(&sound, end), 30.0);
    }
    let no_limit = "        protection: (device: \"BS 1362\", rating: \"3 A\"),\n";
    let residual = "        residual: \"30 mA\",\n";
    let electrode = changed("saltmarsh", &[("TN-C-S", "TT"), (no_limit, residual)]);
    let error = library::find(&electrode, "earth-through-ground").unwrap_err();
    assert_eq!(
        error.to_string(),
        "the fault `earth-through-ground` does not fit the job: its supply is of the other kind"
    );
}

/// Whether an end's neutral lights the indicator to earth: connected and off, and with the cores off both ends as well.
fn borrowed(job: &Job, at_end: &str, probes: &Probes) -> [bool; 3] {
    let fault = format!("borrowed-neutral:{at_end}");
    let on = with(job, &fault);
    let off = off(on.clone());
    let parted = disconnected(on.clone());
    [on, off, parted].map(|installation| installation.indicator_lit(probes))
}

#[test]
fn a_borrowed_neutral_floats_up_behind_a_switch_that_breaks_it() {
    let near = at(End::Near, "E", "2");
    let far = pair(Point::KnownEarth, terminal("N", End::Far));
    assert_eq!(borrowed(&job(), "2@near", &near), [false, true, true]);
    assert_eq!(borrowed(&job(), "N@far", &far), [false, true, true]);
}

#[test]
fn behind_a_switch_that_breaks_line_alone_it_shows_only_after_parting() {
    let near = at(End::Near, "E", "2");
    let far = pair(Point::KnownEarth, terminal("N", End::Far));
    // at the near end the neutral comes from the supply: to part the cable's core there parts nothing
    assert_eq!(borrowed(&single_pole(), "2@near", &near), [false, false, false]);
    assert_eq!(borrowed(&single_pole(), "N@far", &far), [false, false, true]);
    // sound, neither switch leaves anything lit
    for job in [job(), single_pole()] {
        let off = off(Installation::of(&job).unwrap());
        assert!(!off.indicator_lit(&near) && !off.indicator_lit(&at(End::Near, "2", "1")));
        assert!(!off.indicator_lit(&at(End::Near, "E", "1")));
    }
}

#[test]
fn a_single_pole_switch_leaves_neutral_joined_to_earth_at_the_source() {
    let read = |job: &Job| ohms(&off(Installation::of(job).unwrap()), &at(End::Near, "E", "2"));
    assert!(1e6 < read(&job()));
    // 0.05 ohm at the origin, 0.107 x 0.97 ohm of earth conductor upstream, and a contact and clamps
    assert!((0.15..0.2).contains(&read(&single_pole())), "{}", read(&single_pole()));
}

#[test]
fn neutral_and_line_leak_to_earth_where_the_fault_is() {
    let check = |fault: &str, probes: &Probes, expected: f64| {
        let there = off(with(&job(), fault));
        assert_near(ohms(&there, probes), expected);
    };
    check("neutral-earth-joined:2@near", &at(End::Near, "E", "2"), 0.5);
    check("neutral-leaking:2@near", &at(End::Near, "E", "2"), 20e3);
    check("line-leaking:1@near", &at(End::Near, "E", "1"), 0.2e6);
    // at the far end once the cable is off: nothing else hangs there
    let there = disconnected(with(&job(), "neutral-leaking:N@far"));
    assert_near(ohms(&there, &at(End::Far, "E", "N")), 20e3);
    let there = disconnected(with(&job(), "line-leaking:SL@far"));
    assert_near(ohms(&there, &at(End::Far, "E", "SL")), 0.2e6);
}

#[test]
fn an_end_without_earth_leaks_to_none() {
    let galley = changed("galley-cylinder", &[]);
    let names: Vec<_> = library::faults(&galley)
        .unwrap()
        .into_iter()
        .map(|fault| fault.name)
        .filter(|name| name.starts_with("neutral-leaking") || name.starts_with("borrowed"))
        .collect();
    assert_eq!(names, ["borrowed-neutral:2@near", "neutral-leaking:2@near"]);
    // the pair's far end is a thermostat that has no earth terminal
    let pair = changed("changing-rooms-pair", &[]);
    assert!(pair.far.terminal_for(Purpose::Earth).is_none());
    for kind in ["line-leaking", "neutral-leaking"] {
        let there = library::faults(&pair)
            .unwrap()
            .into_iter()
            .filter(|fault| fault.kind == kind);
        assert!(there.clone().all(|fault| !fault.name.ends_with("@far")), "{kind}");
    }
}

#[test]
fn conductors_of_the_feed_change_over() {
    let lit = |fault: &str, first: &str, second: &str| with(&job(), fault).indicator_lit(&at(End::Near, first, second));
    // line to neutral, line to earth, neutral to earth
    let lights = |fault: &str| [lit(fault, "2", "1"), lit(fault, "E", "1"), lit(fault, "E", "2")];
    assert_eq!(lights("neutral-earth-changed-over"), [true, true, false]);
    assert_eq!(lights("line-earth-changed-over"), [false, true, true]);
    // dead, the long lead no longer ends at the earth terminal
    for fault in ["neutral-earth-changed-over", "line-earth-changed-over"] {
        assert!(1e6 < ohms(&off(with(&job(), fault)), &to_earth(End::Near)), "{fault}");
    }
    let names = |name: &str| library::find(&job(), name).unwrap()[0].name.clone();
    assert_eq!(
        names("neutral-earth-changed-over-far"),
        "terminals-swapped:grey/green-yellow@far"
    );
    assert_eq!(
        names("line-earth-changed-over-far"),
        "terminals-swapped:brown/green-yellow@far"
    );
}

#[test]
fn a_contact_of_high_resistance_carries_too_little() {
    // 3 kohm before a motor of 230^2 / 6 W = 8.8 kohm beside the tester's 10 kohm: 230 V x 4.68 / 7.68
    let mut there = with(&job(), "high-resistance-contact:thermostat");
    there.apply(&Act::Call("thermostat".into()));
    let volts = there.shows(&at(End::Near, "2", "3"), Function::VoltageAc, 10e3);
    assert_near(volts, 230.0 * 4.684 / 7.684);
}
