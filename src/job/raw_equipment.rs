//! The equipment of a job as it is written, and what can be wrong with it.
//!
//! The rule inside: every place exists, whatever moves is moved by something there is, and no contact can short the supply.

use std::collections::BTreeMap;
use std::ops::Range;

use serde::Deserialize;

use super::check::{Answers, Check};
use super::end::{End, EndOfCable};
use super::equipment::{At, Contact, ControlPair, Equipment, Is, Load, Motor, MovedBy, Nature, OwnSupply, Zone};
use super::purpose::Purpose;
use crate::located::{Located, Problem, listed};
use crate::value::quantity::{Amount, Unit};

type Between = (Located<At>, Located<At>);

#[derive(Debug, Deserialize)]
#[serde(deny_unknown_fields, rename = "Contact")]
struct RawContact {
    between: Between,
    moved_by: Located<MovedBy>,
    #[serde(default)]
    opens: bool,
}

#[derive(Debug, Deserialize)]
#[serde(deny_unknown_fields, rename = "Motor")]
struct RawMotor {
    between: Between,
    power: Located<Amount>,
    #[serde(default)]
    volts: Option<Located<Amount>>,
    opens: Located<Amount>,
    closes: Located<Amount>,
    #[serde(default)]
    rests_open: bool,
    #[serde(default)]
    wax: bool,
}

#[derive(Debug, Deserialize)]
#[serde(deny_unknown_fields, rename = "Load")]
struct RawLoad {
    between: Between,
    ohms: Located<Amount>,
    #[serde(default)]
    volts: Option<Located<Amount>>,
}

#[derive(Debug, Deserialize)]
#[serde(deny_unknown_fields, rename = "Supply")]
struct RawOwnSupply {
    between: Between,
    volts: Located<Amount>,
    #[serde(default)]
    direct: bool,
    #[serde(default)]
    ohms: Option<Located<Amount>>,
    #[serde(default)]
    of: Option<Located<String>>,
}

#[derive(Debug, Deserialize)]
#[serde(rename = "Is")]
enum RawIs {
    Contact(RawContact),
    Motor(RawMotor),
    Load(RawLoad),
    Supply(RawOwnSupply),
}

#[derive(Debug, Deserialize)]
#[serde(deny_unknown_fields, rename = "Equipment")]
pub(super) struct RawEquipment {
    name: Located<String>,
    is: RawIs,
}

#[derive(Debug, Deserialize)]
#[serde(deny_unknown_fields, rename = "Zone")]
pub(super) struct RawZone {
    name: Located<String>,
    control: Located<String>,
    actuators: Located<Vec<Located<String>>>,
    #[serde(default)]
    meters: Vec<(Located<String>, Located<String>)>,
}

#[derive(Debug, Deserialize)]
#[serde(deny_unknown_fields, rename = "ControlPair")]
pub(super) struct RawControlPair {
    between: Located<Between>,
    control: Located<String>,
    near: Nature,
    far: Nature,
    volts: Located<Amount>,
    #[serde(default)]
    direct: bool,
}

impl RawEquipment {
    /// Where it stands in the file.
    pub(super) fn place(&self) -> Range<usize> {
        self.name.span.clone()
    }

    /// The further supply that it names as its own.
    pub(super) fn of(&self) -> Option<&Located<String>> {
        match &self.is {
            RawIs::Supply(supply) => supply.of.as_ref(),
            _ => None,
        }
    }
}

impl RawZone {
    /// Where it stands in the file.
    pub(super) fn place(&self) -> Range<usize> {
        self.name.span.clone()
    }

    /// Its actuators.
    pub(super) fn actuators(&self) -> &[Located<String>] {
        &self.actuators
    }

    /// Its flow meters, each with its actuator.
    pub(super) fn meters(&self) -> &[(Located<String>, Located<String>)] {
        &self.meters
    }
}

/// Everything that hangs on the terminals, as it is written.
pub(super) struct RawFittings<'a> {
    pub(super) equipment: &'a [RawEquipment],
    pub(super) zones: &'a [RawZone],
    pub(super) control_pair: Option<&'a RawControlPair>,
    pub(super) near: &'a EndOfCable,
    pub(super) far: &'a EndOfCable,
    /// Each core's terminals, near and far.
    pub(super) cores: Vec<(String, String)>,
}

impl RawFittings<'_> {
    /// Finds everything that is wrong.
    pub(super) fn check(&self, check: &mut Check) {
        check.answerable(
            self.equipment.iter().map(|there| &there.name),
            answers("a piece of equipment", "pieces of equipment"),
        );
        for there in self.equipment {
            let (between, unmoved) = there.is.check(check, self);
            self.places(check, &there.name, between);
            if let Some(problem) = unmoved {
                check.say(problem);
            }
        }
        self.lone_places(check);
        self.shorts(check);
        self.zones(check);
        if let Some(pair) = self.control_pair {
            self.pair(check, pair);
        }
    }

    fn end(&self, end: End) -> &EndOfCable {
        match end {
            End::Near => self.near,
            End::Far => self.far,
        }
    }

    fn words(&self, at: &At) -> String {
        at.words(|end| self.end(end).name.clone())
    }

    fn place(&self, check: &mut Check, at: &Located<At>) {
        let (terminal, end) = match &at.value {
            At::Near(terminal) => (terminal, self.near),
            At::Far(terminal) => (terminal, self.far),
            At::Inside(_) | At::Line | At::Neutral | At::Earth => return,
        };
        if !end.terminals.iter().any(|there| there.name == *terminal) {
            let what = format!("no terminal `{terminal}` at the {}", end.name);
            let known = listed(&end.terminals, |there| format!("`{}`", there.name));
            check.say(Problem::new(&at.span, what).hint(format!("it has {known}")));
        }
    }

    fn places(&self, check: &mut Check, name: &Located<String>, (a, b): &Between) {
        self.place(check, a);
        if a.value == b.value {
            let what = format!("both ends of `{}` are on {}", name.value, self.words(&a.value));
            check.say(Problem::new(&b.span, what).hint("name the two places that it lies between"));
        } else {
            self.place(check, b);
        }
    }

    fn motor_names(&self) -> Vec<&str> {
        let motor = |there: &&RawEquipment| matches!(there.is, RawIs::Motor(_));
        self.equipment
            .iter()
            .filter(motor)
            .map(|there| there.name.as_str())
            .collect()
    }

    fn control_names(&self) -> Vec<&str> {
        let mut found: Vec<&str> = Vec::new();
        for there in self.equipment {
            if let RawIs::Contact(contact) = &there.is
                && let MovedBy::Control(control) = &contact.moved_by.value
                && !found.contains(&control.as_str())
            {
                found.push(control);
            }
        }
        found
    }

    fn control(&self, check: &mut Check, control: &Located<String>, of: &str) {
        let known = self.control_names();
        if !known.contains(&control.as_str()) {
            let what = format!("{of} is called for by `{}`, which moves no contact", control.value);
            check.say(Problem::new(&control.span, what).hint(there_are("the controls are", &known)));
        }
    }

    /// A place inside the equipment joins two things; one that ends a single thing is a slip of the pen.
    fn lone_places(&self, check: &mut Check) {
        let mut seen: BTreeMap<&str, (usize, &RawEquipment, &Located<At>)> = BTreeMap::new();
        for there in self.equipment {
            let (a, b) = there.is.between();
            for at in [a, b] {
                if let At::Inside(place) = &at.value {
                    seen.entry(place).or_insert((0, there, at)).0 += 1;
                }
            }
        }
        for (place, (count, there, at)) in seen {
            if count < 2 {
                let what = format!("nothing but `{}` is wired to `{place}`", there.name.value);
                check.say(Problem::new(&at.span, what).hint("spell the place alike on both pieces that meet there"));
            }
        }
    }

    /// Contacts are followed as if all were closed: what then joins line to neutral or earth shorts the supply.
    fn shorts(&self, check: &mut Check) {
        let mut joined = Joined::default();
        for terminal in &self.near.terminals {
            let feed = match terminal.takes {
                Purpose::PermanentLive => At::Line,
                Purpose::Neutral => At::Neutral,
                Purpose::Earth => At::Earth,
                _ => continue,
            };
            joined.join(&feed, &At::Near(terminal.name.clone()));
        }
        for (near, far) in &self.cores {
            joined.join(&At::Near(near.clone()), &At::Far(far.clone()));
        }
        for there in self.equipment {
            let RawIs::Contact(contact) = &there.is else { continue };
            let (a, b) = &contact.between;
            let before = joined.clone();
            joined.join(&a.value, &b.value);
            for (other, words) in [(At::Neutral, "neutral"), (At::Earth, "earth")] {
                if joined.same(&At::Line, &other) {
                    let what = format!("`{}` joins line and {words} when it is closed", there.name.value);
                    check
                        .say(Problem::new(&there.name.span, what).hint(
                            "look on the drawing for the load that lies between, and wire the contact before it",
                        ));
                    // one contact is told once, and the others are followed without it
                    joined = before.clone();
                    break;
                }
            }
        }
    }

    fn zones(&self, check: &mut Check) {
        check.answerable(self.zones.iter().map(|zone| &zone.name), answers("a zone", "zones"));
        let meters = self.zones.iter().flat_map(|zone| &zone.meters);
        check.answerable(meters.map(|(meter, _)| meter), answers("a flow meter", "flow meters"));
        let motors = self.motor_names();
        let mut taken: Vec<&str> = Vec::new();
        for zone in self.zones {
            self.control(check, &zone.control, &format!("zone `{}`", zone.name.value));
            if zone.actuators.is_empty() {
                let what = format!("zone `{}` has no actuator", zone.name.value);
                check.say(Problem::new(&zone.actuators.span, what));
            }
            for actuator in &zone.actuators.value {
                if !motors.contains(&actuator.as_str()) {
                    let what = format!("no motor is called `{}`", actuator.value);
                    check.say(Problem::new(&actuator.span, what).hint(there_are("the motors are", &motors)));
                } else if taken.contains(&actuator.as_str()) {
                    let what = format!("motor `{}` belongs to two zones", actuator.value);
                    check.say(Problem::new(&actuator.span, what));
                }
                taken.push(actuator);
            }
            for (meter, motor) in &zone.meters {
                if motors.iter().any(|motor| motor.to_lowercase() == meter.to_lowercase()) {
                    let what = format!("flow meter `{}` has the name of a motor", meter.value);
                    check.say(Problem::new(&meter.span, what));
                }
                if !zone.actuators.iter().any(|actuator| actuator.value == motor.value) {
                    let what = format!("`{}` is no actuator of zone `{}`", motor.value, zone.name.value);
                    check.say(Problem::new(&motor.span, what).hint("name the actuator that lets water through it"));
                }
            }
        }
    }

    fn pair(&self, check: &mut Check, pair: &RawControlPair) {
        let (a, b) = &pair.between.value;
        let ends = |one: &At, other: &At| matches!((one, other), (At::Near(_), At::Near(_)) | (At::Far(_), At::Far(_)));
        if ends(&a.value, &b.value) && a.value != b.value {
            self.place(check, a);
            self.place(check, b);
        } else {
            let what = "the control pair is not read between two terminals of one end";
            check.say(Problem::new(&pair.between.span, what));
        }
        self.control(check, &pair.control, "the control pair");
        check.above_zero(&pair.volts, Unit::Volt);
    }
}

impl RawIs {
    fn between(&self) -> &Between {
        match self {
            RawIs::Contact(contact) => &contact.between,
            RawIs::Motor(motor) => &motor.between,
            RawIs::Load(load) => &load.between,
            RawIs::Supply(supply) => &supply.between,
        }
    }

    /// Checks the figures; gives the places, and what is wrong with what moves it.
    fn check(&self, check: &mut Check, fittings: &RawFittings<'_>) -> (&Between, Option<Problem>) {
        let mut problem = None;
        match self {
            RawIs::Contact(contact) => match &contact.moved_by.value {
                MovedBy::Control(control) => {
                    let name = Located {
                        value: control.clone(),
                        span: contact.moved_by.span.clone(),
                    };
                    check.answerable(std::iter::once(&name), answers("a control", "controls"));
                }
                MovedBy::Motor(motor) => {
                    let motors = fittings.motor_names();
                    if !motors.contains(&motor.as_str()) {
                        let what = format!("no motor is called `{motor}`");
                        let hint = there_are("the motors are", &motors);
                        problem = Some(Problem::new(&contact.moved_by.span, what).hint(hint));
                    }
                }
            },
            RawIs::Motor(motor) => {
                check.above_zero(&motor.power, Unit::Watt);
                check.above_zero(&motor.opens, Unit::Second);
                check.above_zero(&motor.closes, Unit::Second);
                above_zero(check, motor.volts.as_ref(), Unit::Volt);
            }
            RawIs::Load(load) => {
                check.above_zero(&load.ohms, Unit::Ohm);
                above_zero(check, load.volts.as_ref(), Unit::Volt);
            }
            RawIs::Supply(supply) => {
                check.above_zero(&supply.volts, Unit::Volt);
                above_zero(check, supply.ohms.as_ref(), Unit::Ohm);
            }
        }
        (self.between(), problem)
    }

    fn is(self) -> Is {
        let between = |(a, b): Between| (a.value, b.value);
        let value = |amount: Option<Located<Amount>>| amount.map(|amount| amount.value);
        match self {
            RawIs::Contact(raw) => Is::Contact(Contact {
                between: between(raw.between),
                moved_by: raw.moved_by.value,
                opens: raw.opens,
            }),
            RawIs::Motor(raw) => Is::Motor(Motor {
                between: between(raw.between),
                power: raw.power.value,
                volts: value(raw.volts),
                opens: raw.opens.value,
                closes: raw.closes.value,
                rests_open: raw.rests_open,
                wax: raw.wax,
            }),
            RawIs::Load(raw) => Is::Load(Load {
                between: between(raw.between),
                ohms: raw.ohms.value,
                volts: value(raw.volts),
            }),
            RawIs::Supply(raw) => Is::Supply(OwnSupply {
                between: between(raw.between),
                volts: raw.volts.value,
                direct: raw.direct,
                ohms: value(raw.ohms),
                of: raw.of.map(|of| of.value),
            }),
        }
    }
}

impl RawEquipment {
    /// The checked piece.
    pub(super) fn equipment(self) -> Equipment {
        Equipment {
            name: self.name.value,
            is: self.is.is(),
        }
    }
}

impl RawZone {
    /// The checked zone.
    pub(super) fn zone(self) -> Zone {
        Zone {
            name: self.name.value,
            control: self.control.value,
            actuators: self.actuators.value.into_iter().map(|name| name.value).collect(),
            meters: self
                .meters
                .into_iter()
                .map(|(meter, motor)| (meter.value, motor.value))
                .collect(),
        }
    }
}

impl RawControlPair {
    /// The checked pair.
    pub(super) fn pair(self) -> ControlPair {
        let (a, b) = self.between.value;
        ControlPair {
            between: (a.value, b.value),
            control: self.control.value,
            near: self.near,
            far: self.far,
            volts: self.volts.value,
            direct: self.direct,
        }
    }
}

fn above_zero(check: &mut Check, amount: Option<&Located<Amount>>, unit: Unit) {
    if let Some(amount) = amount {
        check.above_zero(amount, unit);
    }
}

fn answers(of: &'static str, several: &'static str) -> Answers {
    Answers {
        of,
        several,
        hint: "call it by where it is, without a comma",
    }
}

fn there_are(words: &str, names: &[&str]) -> String {
    if names.is_empty() {
        return "list it in the equipment".into();
    }
    format!("{words} {}", listed(names, |name| format!("`{name}`")))
}

/// Places that are joined, as sets.
#[derive(Debug, Clone, Default)]
struct Joined(Vec<Vec<At>>);

impl Joined {
    fn set(&mut self, at: &At) -> usize {
        let found = self.0.iter().position(|set| set.contains(at));
        found.unwrap_or_else(|| {
            self.0.push(vec![at.clone()]);
            self.0.len() - 1
        })
    }

    fn join(&mut self, a: &At, b: &At) {
        let (a, b) = (self.set(a), self.set(b));
        if a != b {
            let moved = std::mem::take(&mut self.0[b]);
            self.0[a].extend(moved);
        }
    }

    fn same(&self, a: &At, b: &At) -> bool {
        self.0.iter().any(|set| set.contains(a) && set.contains(b))
    }
}

#[cfg(test)]
mod tests {
    use crate::job::{Job, read};
    use crate::located::{Problems, Text};

    const JOB: &str = include_str!("../../fixtures/saltmarsh.ron");
    const THERMOSTAT: &str =
        r#"(name: "thermostat", is: Contact(between: (Far("L"), Far("SL")), moved_by: Control("thermostat"))),"#;
    const INSTRUMENTS: &str = "    instruments: [";

    fn read_with(changes: &[(&str, &str)]) -> (String, Result<Job, Problems>) {
        let mut text = JOB.to_owned();
        for (from, to) in changes {
            assert!(text.contains(from), "{from}");
            text = text.replace(from, to);
        }
        let read = read(&Text::new("job", &*text));
        (text, read)
    }

    /// Each finding as the text it points at, and what is wrong there.
    #[track_caller]
    fn check(changes: &[(&str, &str)], expected: &[(&str, &str)]) {
        let (text, read) = read_with(changes);
        let problems = read.unwrap_err();
        let found: Vec<(&str, &str)> = problems
            .iter()
            .map(|problem| (&text[problem.span.clone()], problem.what.as_str()))
            .collect();
        assert_eq!(found, expected);
    }

    /// Equipment put before the thermostat of the demonstration job.
    #[track_caller]
    fn with(equipment: &str, expected: &[(&str, &str)]) {
        check(&[(THERMOSTAT, &format!("{equipment}\n{THERMOSTAT}"))], expected);
    }

    #[test]
    fn places_exist_and_differ() {
        with(
            r#"(name: "pump", is: Load(between: (Near("9"), Far("X")), ohms: "1 kohm")),"#,
            &[
                (r#"Near("9")"#, "no terminal `9` at the wiring centre"),
                (r#"Far("X")"#, "no terminal `X` at the sail loft thermostat"),
            ],
        );
        with(
            r#"(name: "pump", is: Load(between: (Near("4"), Near("4")), ohms: "1 kohm")),"#,
            &[(
                r#"Near("4")"#,
                "both ends of `pump` are on terminal `4` at the wiring centre",
            )],
        );
        with(
            r#"(name: "pump", is: Load(between: (Line, Line), ohms: "1 kohm")),"#,
            &[("Line", "both ends of `pump` are on the line of the supply")],
        );
        with(
            r#"(name: "pump", is: Load(between: (Inside("relay"), Near("2")), ohms: "1 kohm")),"#,
            &[(r#"Inside("relay")"#, "nothing but `pump` is wired to `relay`")],
        );
    }

    #[test]
    fn names_are_plain_and_there_once() {
        with(
            r#"(name: "zone valve", is: Load(between: (Near("4"), Near("2")), ohms: "1 kohm")),"#,
            &[("\"zone valve\"", "two pieces of equipment are called `zone valve`")],
        );
        with(
            r#"(name: "none", is: Contact(between: (Near("4"), Near("3")), moved_by: Control("a, b"))),"#,
            &[
                (
                    "\"none\"",
                    "a piece of equipment cannot be called `none`, which is an answer of its own",
                ),
                (
                    "Control(\"a, b\")",
                    "a control cannot be called `a, b`, which is an answer of its own",
                ),
            ],
        );
    }

    #[test]
    fn what_moves_a_contact_is_there() {
        with(
            r#"(name: "relay", is: Contact(between: (Near("4"), Near("3")), moved_by: Motor("valve"))),"#,
            &[("Motor(\"valve\")", "no motor is called `valve`")],
        );
    }

    #[test]
    fn figures_have_their_unit_and_are_above_zero() {
        with(
            concat!(
                r#"(name: "a", is: Motor(between: (Near("3"), Near("2")), power: "0 W", volts: "24 V", opens: "2 ohm", closes: "1 s")),"#,
                r#"(name: "b", is: Load(between: (Near("3"), Near("2")), ohms: "47 V")),"#,
                r#"(name: "c", is: Supply(between: (Near("3"), Near("2")), volts: "24 V", ohms: "0 ohm")),"#,
            ),
            &[
                ("\"0 W\"", "`0 W` is not above zero"),
                ("\"2 ohm\"", "`2 ohm` is a resistance, a time is needed here"),
                ("\"47 V\"", "`47 V` is a voltage, a resistance is needed here"),
                ("\"0 ohm\"", "`0 ohm` is not above zero"),
            ],
        );
    }

    #[test]
    fn no_contact_shorts_the_supply_as_it_is_drawn() {
        with(
            r#"(name: "relay", is: Contact(between: (Near("1"), Near("2")), moved_by: Control("relay"))),"#,
            &[("\"relay\"", "`relay` joins line and neutral when it is closed")],
        );
        // through the thermostat, which lies at the other end of the cable
        check(
            &[(
                THERMOSTAT,
                &format!(
                    "{THERMOSTAT}\n{}",
                    r#"(name: "relay", is: Contact(between: (Near("3"), Earth), moved_by: Control("relay"))),"#
                ),
            )],
            &[("\"relay\"", "`relay` joins line and earth when it is closed")],
        );
    }

    #[test]
    fn zones_name_what_is_there() {
        let zones = r#"    zones: [
        (name: "loft", control: "thermostat", actuators: ["zone valve"], meters: [("loft flow", "zone valve")]),
        (name: "loft", control: "dial", actuators: ["zone valve", "pin"], meters: [("loft flow", "pin 2"), ("zone valve", "pin")]),
        (name: "bar", control: "thermostat", actuators: []),
    ],
    instruments: ["#;
        check(
            &[(INSTRUMENTS, zones)],
            &[
                ("\"loft\"", "two zones are called `loft`"),
                (
                    "\"dial\"",
                    "zone `loft` is called for by `dial`, which moves no contact",
                ),
                ("\"zone valve\"", "motor `zone valve` belongs to two zones"),
                ("\"pin\"", "no motor is called `pin`"),
                ("\"loft flow\"", "two flow meters are called `loft flow`"),
                ("\"pin 2\"", "`pin 2` is no actuator of zone `loft`"),
                ("\"zone valve\"", "flow meter `zone valve` has the name of a motor"),
                ("[]", "zone `bar` has no actuator"),
            ],
        );
    }

    #[test]
    fn a_control_pair_is_read_at_one_end() {
        let pair = |between: &str, control: &str, volts: &str| {
            format!(
                "    control_pair: (between: {between}, control: \"{control}\", near: Mains, far: VoltFree, volts: \"{volts}\"),\n{INSTRUMENTS}"
            )
        };
        let whole = "the control pair is not read between two terminals of one end";
        let across = r#"(Near("1"), Far("L"))"#;
        check(
            &[(INSTRUMENTS, &pair(across, "dial", "24 ohm"))],
            &[
                (across, whole),
                (
                    "\"dial\"",
                    "the control pair is called for by `dial`, which moves no contact",
                ),
                ("\"24 ohm\"", "`24 ohm` is a resistance, a voltage is needed here"),
            ],
        );
        check(
            &[(INSTRUMENTS, &pair(r#"(Near("1"), Near("9"))"#, "thermostat", "230 V"))],
            &[(r#"Near("9")"#, "no terminal `9` at the wiring centre")],
        );
    }

    #[test]
    fn parameters_have_plain_names() {
        check(
            &[(
                INSTRUMENTS,
                "    parameters: {\"run/on\": \"30 s\"},\n    instruments: [",
            )],
            &[(
                "\"30 s\"",
                "a parameter `run/on` is not a plain name of at most 60 characters",
            )],
        );
        let parameters = "    parameters: {\"run on\": \"30 s\"},\n    instruments: [";
        let job = read_with(&[(INSTRUMENTS, parameters)]).1.unwrap();
        assert_eq!(job.parameters["run on"].to_string(), "30 s");
    }

    #[test]
    fn the_equipment_of_the_demonstration_is_found_by_name() {
        let job = read_with(&[]).1.unwrap();
        assert_eq!(job.controls(), ["thermostat"]);
        assert_eq!(job.motors().map(|(name, _)| name).collect::<Vec<_>>(), ["zone valve"]);
        assert!(job.equipment_called("boiler input").is_some() && job.equipment_called("pump").is_none());
    }
}
