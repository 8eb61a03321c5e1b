//! Insulation and earth: which points each such reading is made between, and what the earth conductor may have.
//!
//! The rule inside: a core is insulated from the building only where it was measured to the earth of the building, so the earth core
//! is clipped to that earth and the clip is read through; an end is earthed only where it reads to the main earthing terminal.

use super::binder::Binder;
use super::measures::{Judging, Parts};
use super::raw::{Between, ClampContact, EarthContinuity, Insulation, InsulationConnected, RawWindow, ReadJoin};
use super::windows;
use crate::job::{Core, End, Purpose};
use crate::judge::rounding;
use crate::judge::window::Window;
use crate::limits::{Basis, Confidence, Table};
use crate::plan::{Point, Probes, Stage, Timing, WindowRule};
use crate::value::quantity::{Amount, Unit};
use crate::value::reading::Function;

/// What an insulation step measures: the name of each step of the plan, where its probes go, and the cores that it is about.
type Measured = (String, Probes, Vec<String>);

/// Each core at the near end against one point.
fn each_against<'c>(id: &str, point: &Point, cores: impl Iterator<Item = &'c Core>) -> Vec<Measured> {
    let against = |core: &Core| {
        let probes = Probes {
            first: point.clone(),
            second: near(core),
        };
        (format!("{id}/{}", core.name), probes, vec![core.name.clone()])
    };
    cores.map(against).collect()
}

fn near(core: &Core) -> Point {
    Point::Core {
        core: core.name.clone(),
        end: End::Near,
    }
}

impl<'a> Binder<'a> {
    pub(super) fn insulation(&mut self, step: &'a Insulation) {
        let job = self.job;
        let named = Judging::Named(&step.window);
        let found = match step.between {
            Between::EachAndMains => windows::against_mains(job).map(|(volts, window)| match step.window.value {
                RawWindow::InsulationMinimum => (volts, Judging::Follows(WindowRule::Fixed(window))),
                _ => (volts, named),
            }),
            _ => windows::insulation_volts(job).map(|(volts, _)| (volts, named)),
        };
        let (volts, window) = match found {
            Ok(found) => found,
            Err(what) => return self.problem(&step.id, what, None),
        };
        let id = self.named(&step.id.value);
        for (id, probes, cores) in self.insulated(step.between, id) {
            self.measure(Parts {
                id,
                at: &step.id,
                say: &step.say,
                stage: Stage::Test,
                core: None,
                cores,
                probes,
                function: Function::Insulation(volts),
                window: window.clone(),
                timing: Timing::Any,
                low_impedance: false,
                is_join: false,
            });
        }
    }

    fn insulated(&self, between: Between, id: String) -> Vec<Measured> {
        let job = self.job;
        let pair = |id: String, a: &Core, b: &Core| {
            let probes = Probes {
                first: near(a),
                second: near(b),
            };
            (id, probes, vec![a.name.clone(), b.name.clone()])
        };
        let live: Vec<_> = job.test_cores().collect();
        let all: Vec<String> = job.cores.iter().map(|core| core.name.clone()).collect();
        let back = job.return_core();
        let this = || self.around.core.expect("checked: only inside `EachCore`");
        match between {
            // without an earth core the return core is one of those that stay connected
            Between::JoinedAndEarth if job.stays_connected.is_some() && back.carries != Purpose::Earth => Vec::new(),
            Between::JoinedAndEarth => {
                let probes = Probes {
                    first: near(back),
                    second: Point::JoinedCores,
                };
                vec![(id, probes, all)]
            }
            Between::EachAndBuilding => {
                let cores = job.cores.iter().filter(|core| core.carries != Purpose::Earth);
                each_against(&id, &Point::building_earth(job), cores)
            }
            // between cores, or at the voltage of the mains, the test voltage would stand across what must stay connected
            _ if job.stays_connected.is_some() => Vec::new(),
            Between::EachAndMains => each_against(&id, &Point::JoinedTerminals, job.beside_mains(End::Near)),
            Between::ThisAndRest => {
                let probes = Probes {
                    first: Point::JoinedCores,
                    second: near(this()),
                };
                vec![(id, probes, all)]
            }
            Between::ThisAndEach => {
                let this = this();
                // a pair that is low shows in both of its groups, and is measured with the first of them
                let after = live.iter().skip_while(|other| other.name != this.name).skip(1);
                let others = std::iter::once(back).chain(after.copied());
                let each = |other: &Core| pair(format!("{id}/{}", other.name), other, this);
                others.map(each).collect()
            }
            Between::EachPair => live
                .iter()
                .enumerate()
                .flat_map(|(i, a)| live[i + 1..].iter().map(move |b| (*a, *b)))
                .map(|(a, b)| pair(format!("{id}/{}", self.pair(a, b)), a, b))
                .collect(),
            Between::ThisPair => {
                let both = self.around.core.zip(self.around.other);
                let (a, b) = both.expect("checked: only inside `EachPair`");
                vec![pair(id, a, b)]
            }
        }
    }

    /// The earth core to the earth that it is clipped to.
    pub(super) fn read_join(&mut self, step: &'a ReadJoin) {
        let job = self.job;
        let Some(earth) = job.core_for(Purpose::Earth) else {
            let what = format!("the cable `{}` has no earth core to read", job.cable);
            return self.problem(
                &step.id,
                what,
                Some("put the step into `If(HasEarthCore, [...])`".into()),
            );
        };
        let row = match job.limits.row(Table::Practice, "earth clip") {
            Ok(row) => row,
            Err(what) => return self.problem(&step.id, what, None),
        };
        let window = Window::new(None, Some(row.value.clone()), Unit::Ohm, vec![row.basis()]);
        self.measure(Parts {
            id: self.named(&step.id.value),
            at: &step.id,
            say: &step.say,
            stage: Stage::Test,
            core: Some(earth),
            cores: job.cores.iter().map(|core| core.name.clone()).collect(),
            probes: Probes {
                first: Point::building_earth(job),
                second: Point::Core {
                    core: earth.name.clone(),
                    end: End::Near,
                },
            },
            function: Function::Continuity,
            window: Judging::Follows(WindowRule::Fixed(window)),
            timing: Timing::Any,
            low_impedance: false,
            is_join: true,
        });
    }

    /// Each live core of an end to the terminal that holds it, and where metal touches the end its earth conductor: whatever its clamp has,
    /// the metal is in parallel with.
    pub(super) fn clamp_contact(&mut self, step: &'a ClampContact) {
        let (job, end) = (self.job, step.end);
        let row = match job.limits.row(Table::Practice, "clamp contact") {
            Ok(row) => row,
            Err(what) => return self.problem(&step.id, what, None),
        };
        let window = Window::new(None, Some(row.value.clone()), Unit::Ohm, vec![row.basis()]);
        let beside_metal = job.metal_beside_earth(end).is_some();
        let read = |core: &&Core| match core.carries {
            Purpose::Earth => beside_metal && end == End::Far,
            // it carries nothing
            Purpose::Spare => false,
            _ => true,
        };
        let of_core = |core: &'a Core| {
            let (terminal, bare) = (core.terminal(end).to_owned(), core.name.clone());
            let probes = Probes {
                first: Point::Terminal { terminal, end },
                second: Point::Core { core: bare, end },
            };
            (core.name.as_str(), Some(core), probes)
        };
        let comes_in = (beside_metal && end == End::Near).then(|| {
            let probes = Probes {
                first: Point::earth_at(job, end),
                second: Point::earth_conductor(job, end),
            };
            ("earth", job.core_for(Purpose::Earth), probes)
        });
        for (name, core, probes) in job.cores.iter().filter(read).map(of_core).chain(comes_in) {
            self.measure(Parts {
                id: format!("{}/{name}", self.named(&step.id.value)),
                at: &step.id,
                say: &step.say,
                stage: Stage::Connect,
                core,
                cores: core.map(|core| core.name.clone()).into_iter().collect(),
                probes,
                function: Function::Continuity,
                window: Judging::Follows(WindowRule::Fixed(window.clone())),
                timing: Timing::Any,
                low_impedance: false,
                is_join: false,
            });
        }
    }

    /// Everything that is connected, its live terminals joined, to the earth of the building.
    pub(super) fn insulation_connected(&mut self, step: &'a InsulationConnected) {
        let job = self.job;
        let (volts, window) = match windows::insulation_connected(job) {
            Ok(found) => found,
            Err(what) => return self.problem(&step.id, what, None),
        };
        self.measure(Parts {
            id: self.named(&step.id.value),
            at: &step.id,
            say: &step.say,
            stage: Stage::Connect,
            core: None,
            cores: job.cores.iter().map(|core| core.name.clone()).collect(),
            probes: Probes {
                first: Point::building_earth(job),
                second: Point::JoinedTerminals,
            },
            function: Function::Insulation(volts),
            window: Judging::Follows(WindowRule::Fixed(window)),
            timing: Timing::Any,
            low_impedance: false,
            is_join: false,
        });
    }

    /// The earth of an end to the main earthing terminal: its terminal, or the conductor that was taken off it.
    pub(super) fn earth_continuity(&mut self, step: &'a EarthContinuity) {
        let (job, end) = (self.job, step.end);
        let Point::Terminal { terminal, .. } = Point::earth_at(job, end) else {
            let what = format!("the {} has no earth terminal", job.end(end).name);
            let hint = "put the step into `If(HasTerminal(Near, \"earth\"), [...])` with its end";
            return self.problem(&step.id, what, Some(hint.into()));
        };
        if step.incoming && step.off_terminal {
            let what = "the earth that comes in is off no terminal while the cable is tested".to_owned();
            return self.problem(&step.id, what, Some("leave `incoming` out, or `off_terminal`".into()));
        }
        let first = Point::KnownEarth;
        let probes = match (step.off_terminal, job.metal_beside_earth(end)) {
            (false, _) => Probes {
                first,
                second: Point::Terminal { terminal, end },
            },
            (true, Some(_)) => Probes {
                first,
                second: Point::earth_conductor(job, end),
            },
            (true, None) => {
                let what = format!(
                    "no metalwork touches the earth terminal at the {}: it is read in its terminal",
                    job.end(end).name
                );
                let hint = format!("put the step into `If(HasMetalwork({end:?}), [...])`");
                return self.problem(&step.id, what, Some(hint));
            }
        };
        let window = match self.earth_conductor(end, step.incoming) {
            Ok(window) => window,
            Err(what) => return self.problem(&step.id, what, None),
        };
        let earth = job.core_for(Purpose::Earth).filter(|_| !step.incoming);
        // at the far end it tells the earth core from each other: whichever was touched, it is read again
        let cores = match (earth, end) {
            (Some(_), End::Far) => job.cores.iter().map(|core| core.name.clone()).collect(),
            (earth, _) => earth.map(|core| core.name.clone()).into_iter().collect(),
        };
        self.measure(Parts {
            id: self.named(&step.id.value),
            at: &step.id,
            say: &step.say,
            stage: if step.incoming { Stage::Test } else { Stage::Connect },
            core: earth,
            cores,
            probes,
            function: Function::Continuity,
            window: Judging::Follows(WindowRule::Fixed(window)),
            timing: Timing::Any,
            low_impedance: false,
            is_join: false,
        });
    }

    /// The most that the earth conductor from the main earthing terminal to an end may have: its copper and the joints, or where its
    /// length is not known what common practice allows in all.
    fn earth_conductor(&self, end: End, incoming: bool) -> Result<Window, String> {
        let job = self.job;
        let practice = |of| job.limits.row(Table::Practice, of);
        let of_cable = end == End::Far && !incoming;
        // without an earth core the earth of the far end comes by a way that the job does not tell
        let is_known = !of_cable || (job.length.is_some() && job.core_for(Purpose::Earth).is_some());
        let (Some(upstream), true) = (&job.supply.upstream, is_known) else {
            let row = practice("earth conductor of unknown length")?;
            return Ok(Window::new(None, Some(row.value.clone()), Unit::Ohm, vec![row.basis()]));
        };
        let (factor, _) = job.temperature_factor()?;
        let row = job
            .limits
            .row(Table::ConductorClass1And2, &upstream.earth.to_string())?;
        let mut ohms = row.value.value() * upstream.length.value() * factor;
        let mut basis = vec![row.basis()];
        let mut lengths = format!("{} up to the {}", upstream.length, job.near.name);
        if let (true, Some(core), Some(length)) = (of_cable, job.core_for(Purpose::Earth), &job.length) {
            let row = job.conductor_row(core)?;
            ohms += row.value.value() * length.in_force().value() * factor;
            basis.extend((!basis.contains(&row.basis())).then(|| row.basis()));
            lengths = format!("{lengths}, {} of the cable", length.in_force());
        }
        let joints = practice("joints of an earth conductor")?;
        basis.push(Basis {
            what: format!("copper of the earth conductor, {lengths}, at {}", job.temperature),
            source: format!("the job `{}`", job.text.name),
            confidence: Confidence::Printed,
        });
        basis.push(joints.basis());
        let most = rounding::edge(ohms).value() + joints.value.value();
        let most = Amount::new(most.normalize(), Unit::Ohm);
        Ok(Window::new(None, Some(most), Unit::Ohm, basis))
    }
}
