//! The supply of a job: what feeds the cable, what protects it, and what its loop comes to.
//!
//! The rule inside: a device that the tables of the chosen edition do not have is refused with the nearest that they have.

use serde::Deserialize;

use super::cable::RawCable;
use super::check::Check;
use super::model::{Breaks, FurtherSupply, Separation, Supply, Upstream};
use super::raw_equipment::RawEquipment;
use crate::judge::earth_loop::{Device, Disconnection, device_limit, residual_limit};
use crate::limits::{Limits, Table};
use crate::located::{Located, Problem};
use crate::value::quantity::{Amount, Unit};

#[derive(Debug, Deserialize)]
#[serde(deny_unknown_fields, rename = "Supply")]
pub(super) struct RawSupply {
    from: Located<String>,
    #[serde(default)]
    breaks: Breaks,
    nominal: Located<Amount>,
    frequency: Located<Amount>,
    earthing: String,
    device: String,
    #[serde(default)]
    protection: Option<Located<RawDevice>>,
    #[serde(default)]
    residual: Option<Located<Amount>>,
    #[serde(default)]
    disconnects_within: Option<Located<Amount>>,
    #[serde(default)]
    ze: Option<Located<Amount>>,
    #[serde(default)]
    upstream: Option<Located<RawUpstream>>,
    #[serde(default)]
    separation: Option<Located<Separation>>,
    #[serde(default)]
    pub(super) further: Vec<RawFurther>,
    known_source: Located<String>,
}

/// Another supply with its point of isolation.
#[derive(Debug, Deserialize)]
#[serde(deny_unknown_fields, rename = "Further")]
pub(super) struct RawFurther {
    pub(super) name: Located<String>,
    from: Located<String>,
}

#[derive(Debug, Clone, Deserialize)]
#[serde(deny_unknown_fields, rename = "Protection")]
struct RawDevice {
    device: String,
    rating: Amount,
}

#[derive(Debug, Clone, Deserialize)]
#[serde(deny_unknown_fields, rename = "Upstream")]
struct RawUpstream {
    length: Located<Amount>,
    earth: Located<Amount>,
}

impl RawSupply {
    /// Finds what is wrong; what depends on the limits only where an edition was found.
    pub(super) fn check(&self, check: &mut Check, limits: Option<&Limits>, on: (&RawCable, &[RawEquipment])) {
        check.name(&self.from, "the point of isolation");
        check.name(&self.known_source, "the known source");
        if self.known_source.trim().eq_ignore_ascii_case(self.from.trim()) {
            let what = "the known source is the point of isolation, which is dead once it is switched off";
            check.say(
                Problem::new(&self.known_source.span, what).hint("name a supply that stays live, or a proving unit"),
            );
        }
        self.check_further(check);
        for of in on.1.iter().filter_map(RawEquipment::of) {
            if !self.further.iter().any(|further| further.name.value == of.value) {
                let what = format!("no further supply is called `{}`", of.value);
                check.say(
                    Problem::new(&of.span, what)
                        .hint("list it under `further` in `supply`, with its point of isolation"),
                );
            }
        }
        check.above_zero(&self.nominal, Unit::Volt);
        check.above_zero(&self.frequency, Unit::Hertz);
        if let Some(ze) = &self.ze {
            check.above_zero(ze, Unit::Ohm);
        }
        if let Some(residual) = &self.residual {
            check.above_zero(residual, Unit::Ampere);
        }
        if let Some(within) = &self.disconnects_within {
            check.unit(within, Unit::Second);
        }
        if let Some(upstream) = &self.upstream {
            check.above_zero(&upstream.length, Unit::Metre);
            check.unit(&upstream.earth, Unit::SquareMillimetre);
        }
        let Some(limits) = limits else { return };
        if let Some(upstream) = self
            .upstream
            .as_ref()
            .filter(|there| there.earth.unit == Unit::SquareMillimetre)
            && let Err(what) = limits.row(Table::ConductorClass1And2, &upstream.earth.value.to_string())
        {
            check.say(Problem::new(&upstream.earth.span, what));
        }
        let (within, known) = self.disconnection(limits);
        if let (None, Some(time)) = (within, &self.disconnects_within) {
            let what = format!("no loop impedances for disconnection in `{}`", time.value);
            check.say(Problem::new(&time.span, what).hint(format!("the tables are for {known}")));
        }
        if let (Some(device), Some(within)) = (&self.protection, within) {
            self.check_device(check, device, limits, within);
        }
        if let Some(residual) = self.residual.as_ref().filter(|r| r.unit == Unit::Ampere)
            && let Err(what) = residual_limit(limits, residual)
        {
            check.say(Problem::new(&residual.span, what));
        }
        let elv = limits.row(Table::ExtraLowVoltage, "a.c. upper");
        if let (Some(separation), Ok(elv)) = (&self.separation, elv)
            && elv.value.value() < self.nominal.value.value()
            // a cable without mains may hang on what a mains supply feeds
            && on.0.carries_mains()
        {
            let what = format!(
                "`{}` is above extra-low voltage, {}, and has no separation",
                self.nominal.value, elv.value
            );
            check.say(Problem::new(&separation.span, what).hint("leave `separation` out"));
        }
    }

    /// Each further supply has a name and a point of isolation of its own, and none stays live for the indicator.
    fn check_further(&self, check: &mut Check) {
        let same = |one: &Located<String>, other: &Located<String>| one.trim().eq_ignore_ascii_case(other.trim());
        for (i, further) in self.further.iter().enumerate() {
            check.name(&further.name, "a further supply");
            check.name(&further.from, "its point of isolation");
            if self.further[..i].iter().any(|before| same(&before.name, &further.name)) {
                let what = format!("two further supplies are called `{}`", further.name.value);
                check.say(Problem::new(&further.name.span, what).hint("give each a name of its own"));
            }
            if same(&further.from, &self.from) {
                let what = format!("`{}` is switched off with the supply of the cable", further.name.value);
                check.say(Problem::new(&further.from.span, what).hint("leave it out of `further`"));
            }
            if same(&further.from, &self.known_source) {
                let what = "a further supply is switched off where the known source is";
                check.say(
                    Problem::new(&further.from.span, what)
                        .hint("name a known source that stays live, or a proving unit"),
                );
            }
        }
    }

    fn check_device(&self, check: &mut Check, device: &Located<RawDevice>, limits: &Limits, within: Disconnection) {
        if device.rating.unit != Unit::Ampere {
            let what = format!(
                "`{}` is {}, a current is needed here",
                device.rating,
                device.rating.unit.quantity()
            );
            check.say(Problem::new(&device.span, what).hint("write the rated current in `A`"));
        } else if self.earthing.trim().starts_with("TT") && limits.row(Table::BreakerMultiple, &device.device).is_err()
        {
            let what = format!(
                "no limit of `{}` for the 0.2 s that a TT supply needs",
                device.value.resolved().row()
            );
            check.say(
                Problem::new(&device.span, what).hint("give the residual-current device as `residual: \"30 mA\"`"),
            );
        } else if let Err(what) = device_limit(limits, &self.nominal, &device.value.resolved(), within) {
            check.say(Problem::new(&device.span, what).hint("`coreproof limits` shows the devices there are"));
        }
    }

    /// The table to use, and the times there are tables for.
    fn disconnection(&self, limits: &Limits) -> (Option<Disconnection>, String) {
        let times: Vec<_> = [
            ("TN final", Disconnection::Final),
            ("TN distribution", Disconnection::Distribution),
        ]
        .into_iter()
        .filter_map(|(of, which)| Some((limits.row(Table::DisconnectionTime, of).ok()?, which)))
        .collect();
        let known: Vec<_> = times.iter().map(|(row, _)| format!("`{}`", row.value)).collect();
        let found = match &self.disconnects_within {
            None => Some(Disconnection::Final),
            Some(time) => times
                .iter()
                .find(|(row, _)| row.value.value() == time.value.value())
                .map(|(_, which)| *which),
        };
        (found, known.join(" and "))
    }

    /// The checked supply.
    pub(super) fn supply(self) -> Supply {
        // the check has let 0.4 s and 5 s through
        let distribution = self
            .disconnects_within
            .as_ref()
            .is_some_and(|time| time.value.value() > rust_decimal::Decimal::ONE);
        Supply {
            from: self.from.value,
            breaks: self.breaks,
            nominal: self.nominal.value,
            frequency: self.frequency.value,
            earthing: self.earthing,
            device: self.device,
            protection: self.protection.map(|d| d.value.resolved()),
            residual: self.residual.map(|r| r.value),
            disconnection: if distribution {
                Disconnection::Distribution
            } else {
                Disconnection::Final
            },
            ze: self.ze.map(|z| z.value),
            upstream: self.upstream.map(|there| Upstream {
                length: there.value.length.value,
                earth: there.value.earth.value,
            }),
            separation: self.separation.map(|s| s.value),
            further: self.further.into_iter().map(RawFurther::further).collect(),
            known_source: self.known_source.value,
        }
    }
}

impl RawFurther {
    fn further(self) -> FurtherSupply {
        FurtherSupply {
            name: self.name.value,
            from: self.from.value,
        }
    }
}

impl RawDevice {
    fn resolved(&self) -> Device {
        Device {
            device: self.device.clone(),
            rating: self.rating.clone(),
        }
    }
}
