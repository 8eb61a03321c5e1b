//! A reading: what a display said, in which function, and where it came from.
//!
//! The rule inside: a reading is either typed by the engineer or decoded from a meter's bytes, it says which, and a
//! bare number is read in the unit that the step asks for.

use std::fmt;

use rust_decimal::Decimal;
use serde::{Deserialize, Serialize};

use super::in_place::InPlace;
use super::quantity::{Amount, Digits, Prefix, Shown, Unit, parse_prefix, parse_unit, split_number};
use super::raw::Raw;
use super::spelt::plain;

/// What an instrument is set to do: the position of its dial.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum Function {
    /// Continuity to IEC 61557-4: at least 200 mA, 4 V to 24 V open circuit.
    Continuity,
    /// A multimeter's ohms range: a few milliamperes at most, indicative only.
    Resistance,
    /// Insulation resistance to IEC 61557-2 at this d.c. test voltage, in volts.
    Insulation(u32),
    /// Alternating voltage, in volts.
    VoltageAc,
    /// Direct voltage, in volts.
    VoltageDc,
    /// Earth fault loop impedance to IEC 61557-3, live, in ohms.
    Loop,
    /// How long a residual-current device takes to trip, to IEC 61557-6, at this multiple of its rated residual
    /// operating current; over-range is a device that did not trip while the test lasted.
    ResidualTrip(Multiple),
}

/// How many times its rated residual operating current a residual-current device is tested with.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum Multiple {
    /// Half of it, at which no device may trip.
    Half,
    /// The rated current.
    Once,
    /// Five times it, for additional protection.
    FiveTimes,
}

impl Multiple {
    /// Every multiple, the smallest current first.
    pub const ALL: [Multiple; 3] = [Multiple::Half, Multiple::Once, Multiple::FiveTimes];

    /// The factor, exact.
    ///
    /// ```
    /// use coreproof::value::reading::Multiple;
    /// assert_eq!(Multiple::Half.factor().to_string(), "0.5");
    /// ```
    pub fn factor(self) -> Decimal {
        match self {
            Multiple::Half => Decimal::new(5, 1),
            Multiple::Once => Decimal::ONE,
            Multiple::FiveTimes => Decimal::from(5),
        }
    }

    /// The multiple in the words of a sentence: `half its rated current`.
    pub fn words(self) -> &'static str {
        match self {
            Multiple::Half => "half its rated current",
            Multiple::Once => "its rated current",
            Multiple::FiveTimes => "5 times its rated current",
        }
    }
}

impl Function {
    /// The unit of what the function shows.
    pub fn unit(self) -> Unit {
        match self {
            Function::Continuity | Function::Resistance | Function::Insulation(_) | Function::Loop => Unit::Ohm,
            Function::VoltageAc | Function::VoltageDc => Unit::Volt,
            Function::ResidualTrip(_) => Unit::Second,
        }
    }

    /// Whether it drives its own current through wiring that must be dead.
    pub fn is_dead_test(self) -> bool {
        matches!(
            self,
            Function::Continuity | Function::Resistance | Function::Insulation(_)
        )
    }

    /// Whether its reading is one test's result, which stays on the display, and not what stands at the probes now.
    pub fn is_one_shot(self) -> bool {
        matches!(self, Function::Loop | Function::ResidualTrip(_))
    }

    /// The prefix in which a bare typed number is read: insulation in megohms, trip times in milliseconds, everything else
    /// plain.
    pub fn prefix(self) -> Prefix {
        match self {
            Function::Insulation(_) => Prefix::Mega,
            Function::ResidualTrip(_) => Prefix::Milli,
            _ => Prefix::One,
        }
    }

    /// The dial position in the words of a prompt.
    pub fn dial(self) -> String {
        match self {
            Function::Continuity => "low-resistance continuity".into(),
            Function::Resistance => "ohms".into(),
            Function::Insulation(volts) => format!("insulation at {volts} V"),
            Function::VoltageAc => "a.c. volts".into(),
            Function::VoltageDc => "d.c. volts".into(),
            Function::Loop => "earth fault loop impedance".into(),
            Function::ResidualTrip(multiple) => format!("residual-current trip time at {}", multiple.words()),
        }
    }
}

/// A mark on the display that changes what its digits mean.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum Flag {
    /// The display is frozen.
    Hold,
    /// The display shows a difference from a stored value.
    Relative,
    /// The battery is too low for the digits to be believed.
    LowBattery,
}

impl Flag {
    /// Why a reading under this mark is not taken, and the key to press.
    pub fn refusal(self) -> &'static str {
        match self {
            Flag::Hold => "the meter holds an old value: press HOLD so that the mark goes out",
            Flag::Relative => {
                "the meter shows a difference, not the value: press REL or ZERO so that the mark goes out"
            }
            Flag::LowBattery => "the meter's battery is low: change it, then measure again",
        }
    }
}

/// Where a reading came from.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum Origin {
    /// Typed by the engineer, with the line as typed.
    Typed {
        /// The line as it was typed.
        text: String,
    },
    /// Sent by a meter: the profile that decoded it and the bytes of its frame.
    Meter {
        /// The profile that decoded it.
        profile: ProfileName,
        /// The bytes of the frame, a line without its end.
        raw: Raw,
        /// How it was known that the probes lay on the points; only where the reading was taken for a step.
        #[serde(default, skip_serializing_if = "Option::is_none")]
        contact: Option<Contact>,
        /// How far the display could still move when it was taken, in its own unit; only where it did not stand still.
        #[serde(default, skip_serializing_if = "Option::is_none")]
        to_go: Option<Box<Digits>>,
    },
}

/// The name of a profile as readings carry it.
#[derive(Clone, PartialEq, Eq, Serialize, Deserialize)]
#[serde(from = "String", into = "String")]
pub struct ProfileName(InPlace<22>);

impl ProfileName {
    /// The name as its profile has it.
    pub fn as_str(&self) -> &str {
        std::str::from_utf8(self.0.bytes()).expect("it was text")
    }
}

impl From<&str> for ProfileName {
    fn from(name: &str) -> ProfileName {
        ProfileName(InPlace::new(name.as_bytes()))
    }
}

impl From<String> for ProfileName {
    fn from(name: String) -> ProfileName {
        name.as_str().into()
    }
}

impl From<ProfileName> for String {
    fn from(name: ProfileName) -> String {
        name.as_str().to_owned()
    }
}

impl fmt::Debug for ProfileName {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "{:?}", self.as_str())
    }
}

/// How it was known that both probes lay on the points when a meter's reading was taken.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum Contact {
    /// The engineer said so: bare probes would have shown the same.
    Said,
    /// The meter saw the probes lift since the step began, and then something that bare probes do not show.
    Seen,
}

/// One reading.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
pub struct Reading {
    /// Digits as displayed, or over-range.
    pub shown: Shown,
    /// What the digits count.
    pub prefix: Prefix,
    /// The unit without its prefix.
    pub unit: Unit,
    /// What the meter said it was set to; a typed reading does not know.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub function: Option<Function>,
    /// Marks on the display that change what its digits mean.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub flags: Vec<Flag>,
    /// Typed, or sent by a meter.
    pub origin: Origin,
}

impl Reading {
    /// The displayed number with its unit; `None` for over-range.
    pub fn amount(&self) -> Option<Amount> {
        match &self.shown {
            Shown::Digits(digits) => Some(Amount {
                digits: digits.clone(),
                prefix: self.prefix,
                unit: self.unit,
            }),
            Shown::Above(_) | Shown::Over => None,
        }
    }

    /// The same reading with how its contact was known; a typed reading has none.
    pub fn with_contact(mut self, known: Option<Contact>) -> Reading {
        if let Origin::Meter { contact, .. } = &mut self.origin {
            *contact = known;
        }
        self
    }

    /// The same reading, taken while its display could still move by this much.
    pub fn with_to_go(mut self, still: Option<Box<Digits>>) -> Reading {
        if let Origin::Meter { to_go, .. } = &mut self.origin {
            *to_go = still;
        }
        self
    }

    /// How far the display could still move when it was taken; `None` where it stood still or was typed.
    pub fn to_go(&self) -> Option<Amount> {
        match &self.origin {
            Origin::Meter { to_go: Some(to_go), .. } => Some(Amount {
                digits: (**to_go).clone(),
                prefix: self.prefix,
                unit: self.unit,
            }),
            Origin::Meter { .. } | Origin::Typed { .. } => None,
        }
    }

    /// What the display said, for a person: `0.42 ohm`, `>299 Mohm`, `OL`.
    pub fn display(&self) -> String {
        let unit = format!("{}{}", self.prefix.letter(), self.unit);
        match &self.shown {
            Shown::Digits(digits) => format!("{} {unit}", digits.text()),
            Shown::Above(digits) => format!(">{} {unit}", digits.text()),
            Shown::Over => format!("OL ({unit})"),
        }
    }

    /// Reads a typed line for a step that uses this function.
    ///
    /// Errors say what was expected; the caller asks again and nothing is recorded.
    ///
    /// ```
    /// use coreproof::value::reading::{Function, Reading};
    /// let reading = Reading::typed(">299 Mohm", Function::Insulation(500)).unwrap();
    /// assert_eq!(reading.display(), ">299 Mohm");
    /// assert!(Reading::typed("230 V", Function::Continuity).is_err());
    /// ```
    pub fn typed(line: &str, function: Function) -> Result<Reading, String> {
        let expected = format!(
            "type what the display shows, in {}{}, for example `{}`",
            function.prefix().letter(),
            function.unit(),
            example(function)
        );
        let text = line.trim();
        let reading = |shown, prefix| Reading {
            shown,
            prefix,
            unit: function.unit(),
            function: None,
            flags: Vec::new(),
            origin: Origin::Typed { text: text.to_owned() },
        };
        if text.eq_ignore_ascii_case("ol") || text.eq_ignore_ascii_case("o.l") {
            return Ok(reading(Shown::Over, function.prefix()));
        }
        let (above, number) = match text.strip_prefix('>') {
            Some(rest) => (true, rest.trim_start()),
            None => (false, text),
        };
        let spelt = plain(number).map_err(|why| format!("`{text}` {why}; {expected}"))?;
        let (number, rest) = split_number(&spelt);
        let digits = Digits::parse(number).ok_or_else(|| format!("`{text}` is not a reading; {expected}"))?;
        let rest = rest.trim();
        let prefix = if rest.is_empty() {
            function.prefix()
        } else if let Some((prefix, unit)) = parse_unit(rest) {
            if unit != function.unit() {
                return Err(format!(
                    "`{text}` is {}, this step needs {}; {expected}",
                    unit.quantity(),
                    function.unit().quantity()
                ));
            }
            prefix
        } else if let Some(prefix) = parse_prefix(rest) {
            prefix
        } else {
            return Err(format!("`{rest}` is not a unit known here; {expected}"));
        };
        let value = digits.value() * prefix.factor();
        // a display that stands at zero may show either sign
        let below_zero = digits.text().starts_with('-') && !value.is_zero();
        if let Some(why) = implausible(function, value, below_zero) {
            return Err(format!("`{text}` is {why} {expected}"));
        }
        Ok(reading(
            if above {
                Shown::Above(digits)
            } else {
                Shown::Digits(digits)
            },
            prefix,
        ))
    }
}

/// Greatest loop impedance that is taken, in ohms: twelve times the greatest that a residual-current device of 30 mA allows.
/// Our own choice.
const LOOP_OHMS_MAX: i64 = 20_000;
/// Longest trip time that is taken, in seconds: the longest test, at half the rated current, lasts some 2 s (from memory).
/// Our own choice.
const TRIP_SECONDS_MAX: i64 = 5;
/// Shortest trip time that is taken, in milliseconds: a contact moves for longer. Our own choice; it catches seconds typed as
/// milliseconds.
const TRIP_MILLISECONDS_MIN: i64 = 1;

/// Why no instrument in order shows this value in plain units, as the end of a sentence; `None` where it can be.
fn implausible(function: Function, value: Decimal, below_zero: bool) -> Option<&'static str> {
    match function {
        Function::Continuity | Function::Resistance | Function::Insulation(_) if below_zero => {
            Some("below zero, which no resistance is; null the leads again, then")
        }
        Function::Loop if below_zero => Some("below zero, which no loop impedance is;"),
        Function::VoltageAc if below_zero => Some("below zero, which no a.c. voltage is;"),
        Function::VoltageAc | Function::VoltageDc if Decimal::from(1500) < value.abs() => {
            Some("more than any low-voltage circuit carries;")
        }
        Function::Loop if Decimal::from(LOOP_OHMS_MAX) < value => Some("more than any loop tester shows;"),
        Function::ResidualTrip(_) if value < Decimal::new(TRIP_MILLISECONDS_MIN, 3) => {
            Some("shorter than any device takes;")
        }
        Function::ResidualTrip(_) if Decimal::from(TRIP_SECONDS_MAX) < value => {
            Some("longer than any trip test lasts;")
        }
        _ => None,
    }
}

fn example(function: Function) -> &'static str {
    match function {
        Function::Continuity | Function::Resistance => "0.42",
        Function::Insulation(_) => ">299",
        Function::VoltageAc | Function::VoltageDc => "230.4",
        Function::Loop => "0.84",
        Function::ResidualTrip(Multiple::Half) => ">1999",
        Function::ResidualTrip(Multiple::Once | Multiple::FiveTimes) => "24.3",
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    const ONCE: Function = Function::ResidualTrip(Multiple::Once);

    fn shown(line: &str, function: Function) -> Result<String, String> {
        Reading::typed(line, function).map(|r| r.display())
    }

    #[test]
    fn typed_forms_are_read() {
        let cases = [
            ("0.42 ohm", Function::Continuity, "0.42 ohm"),
            ("0.42", Function::Continuity, "0.42 ohm"),
            ("0.30\u{3a9}", Function::Continuity, "0.30 ohm"),
            ("1.2k", Function::Continuity, "1.2 kohm"),
            (">299 Mohm", Function::Insulation(500), ">299 Mohm"),
            ("> 299", Function::Insulation(500), ">299 Mohm"),
            ("250", Function::Insulation(500), "250 Mohm"),
            ("0,42", Function::Continuity, "0.42 ohm"),
            (".42 ohm", Function::Continuity, "0.42 ohm"),
            ("200R", Function::Continuity, "200 ohm"),
            ("4R7", Function::Continuity, "4.7 ohm"),
            ("2k2", Function::Continuity, "2.2 kohm"),
            ("2M2", Function::Insulation(500), "2.2 Mohm"),
            ("2 M", Function::Insulation(500), "2 Mohm"),
            (">200 mohm", Function::Insulation(500), ">200 mohm"),
            ("> 0,5 Gohm", Function::Insulation(500), ">0.5 Gohm"),
            ("-0,2", Function::VoltageDc, "-0.2 V"),
            ("0,123", Function::Continuity, "0.123 ohm"),
            ("OL", Function::Continuity, "OL (ohm)"),
            ("230 V", Function::VoltageAc, "230 V"),
            ("-0.2", Function::VoltageDc, "-0.2 V"),
            ("0.84", Function::Loop, "0.84 ohm"),
            ("1.2 kohm", Function::Loop, "1.2 kohm"),
            ("OL", Function::Loop, "OL (ohm)"),
            ("24.3", ONCE, "24.3 ms"),
            ("24 ms", ONCE, "24 ms"),
            ("0.024 s", ONCE, "0.024 s"),
            (">300 ms", ONCE, ">300 ms"),
            ("OL", ONCE, "OL (ms)"),
            ("> 1999", Function::ResidualTrip(Multiple::Half), ">1999 ms"),
        ];
        for (line, function, expected) in cases {
            assert_eq!(shown(line, function).as_deref(), Ok(expected), "{line}");
        }
    }

    #[test]
    fn wrong_typed_forms_say_what_was_expected() {
        let cases = [
            (
                "230 V",
                Function::Continuity,
                "`230 V` is a voltage, this step needs a resistance; type what the display shows, in ohm, for example `0.42`",
            ),
            (
                "",
                Function::Continuity,
                "`` is not a reading; type what the display shows, in ohm, for example `0.42`",
            ),
            (
                "1,234",
                Function::Continuity,
                "`1,234` may be thousands or thousandths: type a point, or no sign between the digits; type what the display \
                 shows, in ohm, for example `0.42`",
            ),
            (
                "fine",
                Function::VoltageAc,
                "`fine` is not a reading; type what the display shows, in V, for example `230.4`",
            ),
            (
                "-230",
                Function::VoltageAc,
                "`-230` is below zero, which no a.c. voltage is; type what the display shows, in V, for example `230.4`",
            ),
            (
                "1e9 V",
                Function::VoltageAc,
                "`1e9 V` is more than any low-voltage circuit carries; type what the display shows, in V, for example `230.4`",
            ),
            (
                "5 parsec",
                Function::VoltageAc,
                "`parsec` is not a unit known here; type what the display shows, in V, for example `230.4`",
            ),
            (
                "-1",
                Function::Continuity,
                "`-1` is below zero, which no resistance is; null the leads again, then type what the display shows, in ohm, for example `0.42`",
            ),
            (
                "-0.5",
                Function::Loop,
                "`-0.5` is below zero, which no loop impedance is; type what the display shows, in ohm, for example `0.84`",
            ),
            (
                "21 kohm",
                Function::Loop,
                "`21 kohm` is more than any loop tester shows; type what the display shows, in ohm, for example `0.84`",
            ),
            (
                "24 ms",
                Function::Loop,
                "`24 ms` is a time, this step needs a resistance; type what the display shows, in ohm, for example `0.84`",
            ),
            (
                "0.024",
                ONCE,
                "`0.024` is shorter than any device takes; type what the display shows, in ms, for example `24.3`",
            ),
            (
                "24 s",
                ONCE,
                "`24 s` is longer than any trip test lasts; type what the display shows, in ms, for example `24.3`",
            ),
            (
                "fine",
                Function::ResidualTrip(Multiple::Half),
                "`fine` is not a reading; type what the display shows, in ms, for example `>1999`",
            ),
        ];
        for (line, function, expected) in cases {
            assert_eq!(shown(line, function), Err(expected.to_owned()), "{line}");
        }
    }

    #[test]
    fn functions_have_one_spelling_in_files() {
        let spelt = [
            (Function::Loop, "loop"),
            (ONCE, "residual_trip(once)"),
            (Function::ResidualTrip(Multiple::Half), "residual_trip(half)"),
            (Function::ResidualTrip(Multiple::FiveTimes), "residual_trip(five_times)"),
        ];
        for (function, text) in spelt {
            assert_eq!(ron::to_string(&function).as_deref(), Ok(text));
            assert_eq!(ron::from_str(text), Ok(function));
        }
    }
}
