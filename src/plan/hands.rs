//! The place as the hands left it, from the acts that were said to be done.
//!
//! The rule inside: what stands in the wiring (supply, links, joined cores, cores in terminals) is known from acts, not from which
//! steps have passed; after a break the links are unknown until somebody has looked. Every step that needs a set-up gets exactly
//! the set-up that the plan has at that place, so going back and forth can never leave a link or a joint behind.

use std::collections::BTreeSet;

use super::{Act, Neutral, Plan};
use crate::job::{End, Job};

/// The supply of the cable, as far as this run has had to do with it.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Supply {
    /// As it was found.
    AsFound,
    /// This run has switched it off.
    SwitchedOff,
    /// This run has switched it on.
    SwitchedOn,
}

/// Links at the far end and joined cores at the near end.
#[derive(Debug, Clone, PartialEq, Eq, Default)]
pub struct SetUp {
    /// Cores linked to the earth core.
    pub links: BTreeSet<String>,
    /// The live cores are joined together.
    pub joined: bool,
    /// All cores but this one are joined together, the earth core too.
    pub rest: Option<String>,
    /// The earth core is clipped to the earth of the building.
    pub earthed: bool,
    /// The live terminals at the near end are joined together.
    pub terminals: bool,
    /// The supply's neutral is off its terminal at the near end.
    pub neutral_off: bool,
    /// The ends whose earth conductor is off its terminal.
    pub earths_off: BTreeSet<End>,
}

impl SetUp {
    /// An act was done.
    pub fn act(&mut self, act: &Act) {
        match act {
            Act::LinkToEarth(core) => drop(self.links.insert(core.clone())),
            Act::RemoveLink(core) => drop(self.links.remove(core)),
            Act::RemoveEveryLink => self.links.clear(),
            Act::JoinLiveCores => self.joined = true,
            Act::PartLiveCores => self.joined = false,
            Act::JoinRest(core) => self.rest = Some(core.clone()),
            Act::PartRest => self.rest = None,
            Act::JoinEarth => self.earthed = true,
            Act::PartEarth => self.earthed = false,
            Act::JoinTerminals => self.terminals = true,
            Act::PartTerminals => self.terminals = false,
            Act::PartNeutral => self.neutral_off = true,
            Act::RestoreNeutral => self.neutral_off = false,
            Act::EarthOff(end) => drop(self.earths_off.insert(*end)),
            Act::EarthBack(end) => drop(self.earths_off.remove(end)),
            _ => {}
        }
    }

    /// Whether there is nothing here that the other does not have.
    pub fn is_within(&self, other: &SetUp) -> bool {
        let rest = self.rest.is_none() || self.rest == other.rest;
        let flags = |set_up: &SetUp| [set_up.joined, set_up.earthed, set_up.terminals, set_up.neutral_off];
        let within = flags(self)
            .into_iter()
            .zip(flags(other))
            .all(|(here, there)| here <= there);
        self.links.is_subset(&other.links) && self.earths_off.is_subset(&other.earths_off) && within && rest
    }

    /// Whether no cores and no terminals are joined, whatever is linked or clipped to earth.
    pub fn is_parted(&self) -> bool {
        !self.joined && self.rest.is_none() && !self.terminals
    }

    /// The neutral that an indicator at an end tries in this set-up.
    pub fn neutral_at(&self, end: End) -> Neutral {
        match end {
            End::Near if self.neutral_off => Neutral::OfSupply,
            _ => Neutral::OfCable(end),
        }
    }

    /// What the plan has at a place: the acts of all steps before it.
    pub fn before(plan: &Plan, step: usize) -> SetUp {
        let mut set_up = SetUp::default();
        for act in plan.steps[..step].iter().flat_map(|s| &s.acts) {
            set_up.act(act);
        }
        set_up
    }
}

/// The place.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Hands {
    /// The supply of the cable.
    pub supply: Supply,
    /// `None` since a break, until somebody has looked.
    pub set_up: Option<SetUp>,
    /// Cores that may be in a terminal.
    pub in_terminals: BTreeSet<(String, End)>,
    /// Contacts whose live conductor is off.
    pub leads_off: BTreeSet<String>,
    /// The insulation test has charged the cores and nothing has discharged them since.
    pub charged: bool,
    /// A point that should be dead was live, and isolation has not been proved since.
    pub seen_live: bool,
}

impl Hands {
    /// The place as it was found: live, connected, nothing linked.
    pub fn as_found(job: &Job) -> Hands {
        let mut hands = Hands {
            supply: Supply::AsFound,
            set_up: Some(SetUp::default()),
            in_terminals: BTreeSet::new(),
            leads_off: BTreeSet::new(),
            charged: false,
            seen_live: false,
        };
        hands.all_may_be_connected(job);
        hands
    }

    /// A place of which nothing is known: it may be live, linked, charged and loose.
    pub fn unknown(job: &Job) -> Hands {
        Hands {
            supply: Supply::SwitchedOn,
            set_up: None,
            in_terminals: BTreeSet::new(),
            charged: true,
            ..Hands::as_found(job)
        }
    }

    /// From now on any core may be in a terminal.
    pub fn all_may_be_connected(&mut self, job: &Job) {
        for core in &job.cores {
            self.in_terminals.extend(End::BOTH.map(|end| (core.name.clone(), end)));
        }
    }

    /// An act was done.
    pub fn act(&mut self, act: &Act) {
        match act {
            Act::SwitchOff => self.supply = Supply::SwitchedOff,
            Act::Energise => self.supply = Supply::SwitchedOn,
            Act::TakeLeadOff(contact) => drop(self.leads_off.insert(contact.clone())),
            Act::PutLeadOn(contact) => drop(self.leads_off.remove(contact)),
            Act::Disconnect(end) => self.in_terminals.retain(|(_, at)| at != end),
            Act::Connect { core, end } => drop(self.in_terminals.insert((core.clone(), *end))),
            other => {
                // the cores are parted only after the tester has let go of their charge
                if other.lets_go() {
                    self.charged = false;
                }
                if let Some(set_up) = &mut self.set_up {
                    set_up.act(other);
                }
            }
        }
    }

    /// Whether the earth core is known to be clipped to the earth of the building.
    pub fn is_earthed(&self) -> bool {
        self.set_up.as_ref().is_some_and(|set_up| set_up.earthed)
    }

    /// Whether the supply's neutral is known to be off its terminal.
    pub fn is_neutral_off(&self) -> bool {
        self.set_up.as_ref().is_some_and(|set_up| set_up.neutral_off)
    }

    /// What must be done before the place may be left, in words; nothing where it is as it was found or proved dead and whole.
    pub fn to_make_safe(&self, job: &Job) -> Vec<&'static str> {
        let mut todo = Vec::new();
        if self.supply == Supply::SwitchedOn {
            todo.push("switch off, lock off, prove dead with the two-pole indicator");
        } else if self.seen_live {
            todo.push(
                "a point was live that should be dead: keep everybody away from it, leave the lock and the notice on",
            );
        }
        if self.charged || self.set_up.as_ref() != Some(&SetUp::default()) {
            todo.push(
                "discharge the cores, take off every link and clip, part what is joined, put the supply's neutral and each earth conductor back",
            );
        }
        if self.in_terminals.len() < 2 * job.cores.len() {
            todo.push("cover every loose core end; it stays locked off until each is back in its terminal");
        }
        if !self.leads_off.is_empty() {
            todo.push(
                "see that the conductor that was taken off is capped and clear; it stays locked off until it is back",
            );
        }
        if !todo.is_empty() {
            todo.push("cover what was uncovered");
        }
        todo
    }
}
