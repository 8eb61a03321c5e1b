//! Faults that a rehearsal can put into the wiring, by name.
//!
//! The rule inside: a fault changes the wiring or an instrument and nothing else; which step finds it is for the walk to show.

use super::error::RehearsalError;
use super::wiring::{self, half, middle};
use super::world::World;
use crate::pure::installation::error::NetworkError;
use crate::pure::installation::network::Network;
use crate::pure::job::{End, Job, Purpose};

/// A leak that fails every insulation minimum, in ohms: below the 0.5 MΩ of extra-low voltage. Our own choice.
const LOW_INSULATION_OHMS: f64 = 0.4e6;
/// A core that touches another, in ohms. Our own choice.
const SHORT_OHMS: f64 = 0.02;
/// A joint that has come loose, in ohms. Our own choice.
const BAD_JOINT_OHMS: f64 = 3.0;
/// Series resistance of the second supply, in ohms. Our own choice.
const SECOND_SUPPLY_OHMS: f64 = 0.5;

/// One fault.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub enum Fault {
    /// The switched live core is broken in the middle.
    CoreOpen,
    /// The permanent and the switched live core have changed places at the far end.
    CoresSwapped,
    /// 0.4 MΩ between the switched live core and the earth core.
    InsulationLow,
    /// The valve's end switch never makes.
    EndSwitchOpen,
    /// The valve's end switch has welded shut.
    EndSwitchClosed,
    /// The near end's neutral terminal is not joined to the neutral of the supply; the cable is sound.
    NeutralMissing,
    /// The earth core is broken in the middle.
    EarthCoreOpen,
    /// The switched live core touches the earth core.
    CoreShortedToEarth,
    /// A joint of 3 Ω in the switched live core.
    HighResistanceJoint,
    /// 0.4 MΩ between the permanent and the switched live core.
    InsulationLowBetweenCores,
    /// A second supply feeds the near line terminal though the isolator is off.
    SupplyStillLive,
    /// The two-pole indicator does not light.
    IndicatorDead,
    /// The thermostat never makes.
    ThermostatContactOpen,
    /// The thermostat has welded shut.
    ThermostatContactClosed,
    /// The valve does not move.
    ValveStuck,
}

impl Fault {
    /// Every fault, in the order a list shows them.
    pub const ALL: [Fault; 15] = [
        Fault::CoreOpen,
        Fault::CoresSwapped,
        Fault::InsulationLow,
        Fault::EndSwitchOpen,
        Fault::EndSwitchClosed,
        Fault::NeutralMissing,
        Fault::EarthCoreOpen,
        Fault::CoreShortedToEarth,
        Fault::HighResistanceJoint,
        Fault::InsulationLowBetweenCores,
        Fault::SupplyStillLive,
        Fault::IndicatorDead,
        Fault::ThermostatContactOpen,
        Fault::ThermostatContactClosed,
        Fault::ValveStuck,
    ];

    /// The name on the command line.
    pub fn name(self) -> &'static str {
        match self {
            Fault::CoreOpen => "core-open",
            Fault::CoresSwapped => "cores-swapped",
            Fault::InsulationLow => "insulation-low",
            Fault::EndSwitchOpen => "end-switch-open",
            Fault::EndSwitchClosed => "end-switch-closed",
            Fault::NeutralMissing => "neutral-missing",
            Fault::EarthCoreOpen => "earth-core-open",
            Fault::CoreShortedToEarth => "core-shorted-to-earth",
            Fault::HighResistanceJoint => "high-resistance-joint",
            Fault::InsulationLowBetweenCores => "insulation-low-between-cores",
            Fault::SupplyStillLive => "supply-still-live",
            Fault::IndicatorDead => "indicator-dead",
            Fault::ThermostatContactOpen => "thermostat-contact-open",
            Fault::ThermostatContactClosed => "thermostat-contact-closed",
            Fault::ValveStuck => "valve-stuck",
        }
    }

    /// Reads a name.
    ///
    /// # Errors
    /// [`RehearsalError::UnknownFault`], whose hint lists the names.
    ///
    /// ```
    /// use coreproof::rehearsal::Fault;
    /// assert_eq!(Fault::parse("core-open"), Ok(Fault::CoreOpen));
    /// assert!(Fault::parse("core open").is_err());
    /// ```
    pub fn parse(name: &str) -> Result<Fault, RehearsalError> {
        let found = Fault::ALL.into_iter().find(|fault| fault.name() == name);
        found.ok_or_else(|| RehearsalError::UnknownFault { name: name.to_owned() })
    }

    /// Puts the fault into the world.
    ///
    /// # Errors
    /// [`RehearsalError::FaultDoesNotFit`] where the job has no such core, terminal or load; the world is unchanged.
    pub fn put_into(self, world: &mut World) -> Result<(), RehearsalError> {
        match self {
            Fault::IndicatorDead => world.indicator_works = false,
            Fault::ValveStuck if world.stick_valve() => {}
            Fault::ValveStuck => return Err(self.does_not_fit("a valve")),
            _ => {
                let job = world.job().clone();
                self.rewire(&job, &mut world.network)?;
                world.changed();
            }
        }
        Ok(())
    }

    fn does_not_fit(self, needs: &'static str) -> RehearsalError {
        RehearsalError::FaultDoesNotFit {
            fault: self.name(),
            needs,
        }
    }

    fn rewire(self, job: &Job, network: &mut Network) -> Result<(), RehearsalError> {
        let fit = |needs| self.does_not_fit(needs);
        let core = |purpose, needs| job.core_for(purpose).map(|core| core.name.as_str()).ok_or(fit(needs));
        let live = || core(Purpose::PermanentLive, "a core for the permanent live");
        let switched = || core(Purpose::SwitchedLive, "a core for the switched live");
        let earth = job.earth_core().name.as_str();
        let terminal = |purpose, end, needs| wiring::purpose_point(job, purpose, end).ok_or(fit(needs));
        let mut bridge = |a: &str, b: &str, ohms| network.resistor("fault path", a, b, ohms);
        let done: Result<(), NetworkError> = match self {
            Fault::CoreOpen => network.remove(&half(switched()?, End::Far)),
            Fault::EarthCoreOpen => network.remove(&half(earth, End::Far)),
            Fault::HighResistanceJoint => network.set_ohms(&half(switched()?, End::Far), BAD_JOINT_OHMS),
            Fault::CoresSwapped => swap(network, live()?, switched()?),
            Fault::InsulationLow => bridge(&middle(switched()?), &middle(earth), LOW_INSULATION_OHMS),
            Fault::CoreShortedToEarth => bridge(&middle(switched()?), &middle(earth), SHORT_OHMS),
            Fault::InsulationLowBetweenCores => bridge(&middle(live()?), &middle(switched()?), LOW_INSULATION_OHMS),
            Fault::EndSwitchOpen => network.remove(wiring::END_SWITCH_LEAD),
            Fault::EndSwitchClosed => {
                let from = terminal(Purpose::PermanentLive, End::Near, "a permanent live at the near end")?;
                let to = terminal(Purpose::EndSwitch, End::Near, "an end switch at the near end")?;
                bridge(&from, &to, SHORT_OHMS)
            }
            Fault::NeutralMissing => network.remove(wiring::NEUTRAL_FEED),
            Fault::SupplyStillLive => {
                let to = terminal(Purpose::PermanentLive, End::Near, "a permanent live at the near end")?;
                let volts = wiring::float(job.supply.nominal.value());
                network.source("second supply", &to, wiring::ORIGIN[1], volts, SECOND_SUPPLY_OHMS)
            }
            Fault::ThermostatContactOpen => network.remove(wiring::THERMOSTAT_LEAD),
            Fault::ThermostatContactClosed => {
                let from = terminal(Purpose::PermanentLive, End::Far, "a permanent live at the far end")?;
                let to = terminal(Purpose::SwitchedLive, End::Far, "a switched live at the far end")?;
                bridge(&from, &to, SHORT_OHMS)
            }
            Fault::IndicatorDead | Fault::ValveStuck => unreachable!("these are not in the wiring"),
        };
        // what is not in this wiring cannot break in it
        done.map_err(|_| fit("the load that it befalls"))
    }
}

fn swap(network: &mut Network, one: &str, other: &str) -> Result<(), NetworkError> {
    let [one_end, other_end] = [one, other].map(|core| wiring::core_point(core, End::Far));
    network.move_end(&half(one, End::Far), &one_end, &other_end)?;
    network.move_end(&half(other, End::Far), &other_end, &one_end)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::rehearsal::trial::{job, job_with};

    #[test]
    fn every_name_is_read_back_and_fits_the_demonstration() {
        for fault in Fault::ALL {
            assert_eq!(Fault::parse(fault.name()), Ok(fault));
            let mut world = World::new(&job(), 1).unwrap();
            assert_eq!(fault.put_into(&mut world), Ok(()), "{}", fault.name());
        }
        let unknown = Fault::parse("core_open").unwrap_err();
        assert_eq!(
            unknown,
            RehearsalError::UnknownFault {
                name: "core_open".into()
            }
        );
    }

    #[test]
    fn a_fault_of_what_is_not_there_is_refused() {
        let job = job_with("            (name: \"4\", takes: EndSwitch),\n", "");
        let cases = [
            (Fault::EndSwitchOpen, "the load that it befalls"),
            (Fault::EndSwitchClosed, "an end switch at the near end"),
        ];
        for (fault, needs) in cases {
            let mut world = World::new(&job, 1).unwrap();
            let error = fault.put_into(&mut world).unwrap_err();
            assert_eq!(error, fault.does_not_fit(needs));
        }
    }
}
