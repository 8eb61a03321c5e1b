//! Measuring steps: probes, instrument, window and timing of each.

use rust_decimal::Decimal;

use super::as_strict::as_strict;
use super::binder::Binder;
use super::raw::{Continuity, LeadNull, OthersOpen, RawStep, RawTiming, RawWindow, Voltage};
use super::showable::unshown;
use super::windows;
use crate::job::instrument::{Use, choose_fit, choose_low_input, fits_building_wiring};
use crate::job::{Core, End, Purpose};
use crate::judge::window::{Decision, Window};
use crate::limits::{Basis, Table};
use crate::located::{Located, Problem};
use crate::plan::{Act, FedFrom, Kind, Leads, Measure, Point, Probes, Stage, Timing, WindowRule, null_of};
use crate::value::quantity::{Amount, Unit};
use crate::value::reading::Function;

/// Volts to earth of what may be mains (IEC 60038).
const MAINS_VOLTS: Decimal = Decimal::from_parts(230, 0, 0, false, 0);

type InputMax = Option<(Amount, Basis)>;

/// What a measuring step is made from.
pub(super) struct Parts<'a> {
    pub(super) id: String,
    pub(super) at: &'a Located<String>,
    pub(super) say: &'a str,
    pub(super) stage: Stage,
    pub(super) core: Option<&'a Core>,
    pub(super) cores: Vec<String>,
    pub(super) probes: Probes,
    pub(super) function: Function,
    pub(super) window: Judging<'a>,
    pub(super) timing: Timing,
    /// The lowest input there is must read it.
    pub(super) low_impedance: bool,
    /// It reads through the clip on the earth core.
    pub(super) is_join: bool,
}

impl Parts<'_> {
    fn is_named(&self, wanted: fn(&RawWindow) -> bool) -> bool {
        matches!(self.window, Judging::Named(window) if wanted(&window.value))
    }

    /// Whether it reads ohms of the cable itself.
    fn is_of_cable(&self, window: &WindowRule) -> bool {
        let of_cable = self.is_named(|window| matches!(window, RawWindow::Cable | RawWindow::CableOrPair))
            || matches!(window, WindowRule::Solved(_));
        self.function.unit() == Unit::Ohm && self.probes.first != Point::Tip && of_cable
    }
}

/// Where the window of a measuring step comes from.
#[derive(Clone)]
pub(super) enum Judging<'a> {
    /// The sequence names it.
    Named(&'a Located<RawWindow>),
    /// It follows from what the step is.
    Follows(WindowRule),
}

impl<'a> Binder<'a> {
    pub(super) fn lead_null(&mut self, step: &'a LeadNull) {
        let probes = Probes {
            first: Point::Tip,
            second: if step.long { Point::LongTip } else { Point::Tip },
        };
        let id = self.named(&step.id.value);
        self.measure(Parts {
            id,
            at: &step.id,
            say: &step.say,
            stage: Stage::Test,
            core: None,
            cores: Vec::new(),
            probes,
            function: Function::Continuity,
            window: Judging::Named(&step.window),
            timing: Timing::Any,
            low_impedance: false,
            is_join: false,
        });
    }

    pub(super) fn continuity(&mut self, step: &'a Continuity) {
        if step.core.is_none() && !self.around.linked.is_empty() {
            // a reading in its turn tells each core from every other: whichever was touched, it is read again
            let every: Vec<_> = self.job.test_cores().map(|core| core.name.clone()).collect();
            for core in self.around.linked.clone() {
                let id = self.named_in_turn(&step.id.value, core);
                self.against_return_core(&step.id, id.clone(), &step.say, &step.window, core, every.clone());
                self.first_continuity.get_or_insert(id);
            }
            return;
        }
        let name = self.named(&step.id.value);
        let (core, id) = match &step.core {
            Some(core) => {
                let Some(core) = self.core_called(core) else { return };
                (core, format!("{name}/{}", core.name))
            }
            None => (self.around.core.expect("checked: a continuity step has a core"), name),
        };
        let cores = vec![core.name.clone()];
        self.against_return_core(&step.id, id.clone(), &step.say, &step.window, core, cores);
        self.first_continuity.get_or_insert(id);
    }

    pub(super) fn others_open(&mut self, step: &'a OthersOpen) {
        let linked: Vec<_> = self
            .around
            .core
            .into_iter()
            .chain(self.around.linked.iter().copied())
            .collect();
        for other in self.job.test_cores() {
            if linked.iter().any(|core| core.name == other.name) {
                continue;
            }
            let id = format!("{}-linked/{}", self.named(&step.id.value), other.name);
            let cores = linked.iter().chain([&other]).map(|core| core.name.clone()).collect();
            self.against_return_core(&step.id, id, &step.say, &step.window, other, cores);
        }
    }

    pub(super) fn all_open(&mut self, step: &'a super::raw::AllOpen) {
        let mut acts = self.steps.iter().rev().flat_map(|step| step.acts.iter().rev());
        let linked = acts.find_map(|act| match act {
            Act::LinkToEarth(core) => Some(core.clone()),
            _ => None,
        });
        let last = linked.filter(|_| step.last);
        for core in self.job.test_cores() {
            if last.as_ref().is_some_and(|last| *last != core.name) {
                continue;
            }
            let id = format!("{}/{}", self.named(&step.id.value), core.name);
            self.against_return_core(&step.id, id, &step.say, &step.window, core, vec![core.name.clone()]);
        }
    }

    /// Resistance between a core and the return core at the near end.
    fn against_return_core(
        &mut self,
        at: &'a Located<String>,
        id: String,
        say: &'a str,
        window: &'a Located<RawWindow>,
        core: &'a Core,
        mut cores: Vec<String>,
    ) {
        let through = self.job.return_core();
        cores.push(through.name.clone());
        let near = |core: &Core| Point::Core {
            core: core.name.clone(),
            end: End::Near,
        };
        let probes = Probes {
            first: near(through),
            second: near(core),
        };
        self.measure(Parts {
            id,
            at,
            say,
            stage: Stage::Test,
            core: Some(core),
            cores,
            probes,
            function: Function::Continuity,
            window: Judging::Named(window),
            timing: Timing::Any,
            low_impedance: false,
            is_join: false,
        });
    }

    /// When the reading of a step counts, by its `within` or `after`.
    pub(super) fn timing(&mut self, step: &RawStep) -> Timing {
        let [within, after]: [&RawTiming; 2] = step.timings();
        let Some(raw) = within.as_ref().or(after.as_ref()) else {
            return Timing::Any;
        };
        let since = self.earlier(&raw.0);
        let is_there = self.names.contains_key(&since) || self.firsts.contains_key(&since);
        if !is_there && self.findings.is_empty() {
            let what = format!("the step `{since}`, from which the time counts, is not in this plan");
            self.problem(
                &raw.0,
                what,
                Some("the condition around it does not hold for this job".into()),
            );
            return Timing::Any;
        }
        match windows::time(&raw.1, self.job, &|name| self.figure(name)) {
            Ok((limit, basis)) if within.is_some() => Timing::Within { since, limit, basis },
            Ok((wait, basis)) => Timing::After { since, wait, basis },
            Err(what) => {
                self.problem(&raw.0, what, None);
                Timing::Any
            }
        }
    }

    pub(super) fn voltage(&mut self, step: &'a Voltage, timing: Timing) {
        let (live, reference) = (
            self.terminal(&step.between.0, step.end),
            self.terminal(&step.between.1, step.end),
        );
        let (Some(live), Some(reference)) = (live, reference) else {
            return;
        };
        let stage = match &step.stage {
            None => Stage::Live,
            Some(stage) if matches!(stage.value, Stage::FaultFinding | Stage::Live) => stage.value,
            Some(stage) => {
                let what = format!(
                    "a voltage is read in `FaultFinding` or in `Live`, not in `{:?}`",
                    stage.value
                );
                let hint = "on the supply as it was found write `stage: FaultFinding`; else leave `stage` out";
                return self.say(Problem::new(&stage.span, what).hint(hint));
            }
        };
        let id = self.named(&step.id.value);
        // what stands on the control pair is as the job says
        let of_pair = step.between.0.starts_with("{pair") && step.between.1.starts_with("{pair");
        let direct = step.direct || (of_pair && self.job.control_pair.as_ref().is_some_and(|pair| pair.direct));
        let absent = matches!(step.window.value, RawWindow::VoltageAbsent);
        self.measure(Parts {
            id: id.clone(),
            at: &step.id,
            say: &step.say,
            stage,
            core: None,
            cores: Vec::new(),
            probes: Probes {
                first: reference,
                second: live,
            },
            function: if direct {
                Function::VoltageDc
            } else {
                Function::VoltageAc
            },
            window: Judging::Named(&step.window),
            timing,
            low_impedance: absent || step.low_impedance,
            is_join: false,
        });
        // a load is told beside what its supply was in the same stage
        if stage == Stage::Live && step.between.1.value == Purpose::Neutral.words() {
            self.fed(step, id);
        }
    }

    /// Remembers a reading of the supply to neutral, and tells a load's beside the last of them.
    fn fed(&mut self, step: &'a Voltage, id: String) {
        match (&step.window.value, &self.supply_read) {
            (RawWindow::SupplyVoltage, _) => self.supply_read = Some(id),
            (RawWindow::LoadVoltage, Some(supply)) => {
                let row = match self.job.limits.row(Table::Practice, "volt drop asks above") {
                    Ok(row) => row,
                    Err(what) => return self.problem(&step.id, what, None),
                };
                let fed_from = FedFrom {
                    step: supply.clone(),
                    asks_above: row.value.clone(),
                    basis: row.basis(),
                };
                if let Some(Kind::Measure(measure)) = self.steps.last_mut().map(|step| &mut step.kind) {
                    measure.fed_from = Some(fed_from);
                }
            }
            _ => {}
        }
    }

    /// No voltage where the indicator was dark: extra-low voltage lights no indicator.
    pub(super) fn absent(&mut self, at: &'a Located<String>, id: &str, probes: &Probes, function: Function) {
        let (word, dial) = match function {
            Function::VoltageDc => ("dc", "direct"),
            _ => ("ac", "alternating"),
        };
        let row = match self.job.limits.row(Table::Practice, "voltage absent") {
            Ok(row) => row,
            Err(what) => return self.problem(at, what, None),
        };
        let window = Window::new(None, Some(row.value.clone()), function.unit(), vec![row.basis()]);
        self.measure(Parts {
            id: format!("{id}/{word}"),
            at,
            say: match dial {
                "direct" => "The indicator shows nothing below 50 V. Meter on direct volts, low-impedance input: first probe on {first}, second on {second}.",
                _ => "The indicator shows nothing below 50 V. Meter on alternating volts, low-impedance input: first probe on {first}, second on {second}.",
            },
            stage: Stage::Isolate,
            core: None,
            cores: Vec::new(),
            probes: probes.clone(),
            function,
            window: Judging::Follows(WindowRule::Fixed(window)),
            timing: Timing::Any,
            low_impedance: true,
            is_join: false,
        });
    }

    pub(super) fn measure(&mut self, parts: Parts<'a>) {
        let window = self.window_of(&parts);
        let (mut used, input_max) = match self.instrument(&parts, window.as_ref().ok()) {
            Ok(found) => found,
            Err(what) => return self.problem(parts.at, what, Some("list one in the job's instruments".into())),
        };
        let mut window = match window {
            Ok(window) => window,
            Err(what) => {
                let span = match parts.window {
                    Judging::Named(window) => &window.span,
                    Judging::Follows(_) => &parts.at.span,
                };
                return self.say(Problem::new(span, what));
            }
        };
        if let WindowRule::Fixed(Window { high: Some(high), .. }) = &window {
            used.judged_up_to(&high.amount);
        }
        // under the guarded rule the uncertainty decides too, so its source stands with the window's
        if let (WindowRule::Fixed(fixed), Decision::Guarded) = (&mut window, self.job.decision) {
            fixed.basis.push(used.known.basis.clone());
        }
        self.category(&parts, &used);
        let long = parts.function == Function::Continuity && parts.probes.leads() == Leads::Long;
        // a tester nulls the leads of its own: nulled anew for the long lead, it would read everything else too low
        used.nulls &= !long;
        let is_null = parts.probes.first == Point::Tip;
        if is_null {
            // measuring one's own leads is no test of the wiring
            used.indicative = None;
            if used.nulls
                && let Err(what) = self.nulled(&mut window)
            {
                return self.problem(parts.at, what, None);
            }
        }
        let of_cable = parts.is_of_cable(&window);
        // a long lead is never left in: it has as much as what is measured, and a clamp has less than the leads
        let of_clamp = parts.function == Function::Continuity && parts.stage == Stage::Connect;
        let has_less = !is_null && (long || of_clamp);
        let rests = of_cable || has_less;
        let (subtract_null, nulled) = (rests && !used.nulls, rests && used.nulls);
        let leads_seen = parts.is_named(|window| matches!(window, RawWindow::OpenCircuit));
        // what one tester has nulled, another must not take off
        let differs = subtract_null && self.null_of(parts.probes.leads()).is_some_and(|null| null.nulls);
        if leads_seen || nulled || differs || has_less {
            self.leads_are_seen(&parts, &used);
        }
        self.limit(&used);
        let measure = Measure {
            probes: parts.probes.clone(),
            used,
            window,
            is_null,
            is_join: parts.is_join,
            subtract_null,
            nulled,
            leads_seen,
            timing: parts.timing.clone(),
            input_max,
            fed_from: None,
        };
        self.put(parts, measure);
    }

    /// What an instrument may not show is said once in the record.
    fn limit(&mut self, used: &Use) {
        let said = |why: &&String| !self.limitations.contains(why);
        let why = used.indicative.as_ref().filter(said).cloned();
        self.limitations.extend(why);
    }

    /// Leads that the tester has nulled show about nothing, so their window ends there, or where the sequence is stricter.
    fn nulled(&self, window: &mut WindowRule) -> Result<(), String> {
        let row = self.job.limits.row(Table::Practice, "leads as nulled")?;
        if let WindowRule::Fixed(window) = window
            && window
                .high
                .as_ref()
                .is_none_or(|high| row.value.value() < high.amount.value())
        {
            *window = Window::new(None, Some(row.value.clone()), Unit::Ohm, vec![row.basis()]);
        }
        Ok(())
    }

    fn window_of(&self, parts: &Parts<'a>) -> Result<WindowRule, String> {
        match &parts.window {
            Judging::Follows(window) => Ok(window.clone()),
            Judging::Named(window) => {
                let first = self.first_continuity.as_deref();
                let figure = |name: &str| self.figure(name);
                if let RawWindow::LoopExpected = window.value {
                    return self.loop_expected(parts).map(WindowRule::Fixed);
                }
                let (is_null, leads) = (parts.probes.first == Point::Tip, parts.probes.leads());
                if let (true, Leads::Long, RawWindow::LeadResistance) = (is_null, leads, &window.value) {
                    let row = self.job.limits.row(Table::Practice, "long lead resistance")?;
                    let most = Window::new(None, Some(row.value.clone()), Unit::Ohm, vec![row.basis()]);
                    return Ok(WindowRule::Fixed(most));
                }
                windows::window(&window.value, parts.function, self.job, parts.core, first, &figure)
                    .and_then(|window| as_strict(window, parts.function, is_null.then_some(leads), self.job))
            }
        }
    }

    /// The instrument of the last measurement of these leads.
    fn null_of(&self, leads: Leads) -> Option<&Use> {
        let null = self.steps.iter().rev().find(|step| null_of(step) == Some(leads));
        match null.map(|step| &step.kind) {
            Some(Kind::Measure(null)) => Some(&null.used),
            _ => None,
        }
    }

    /// An open circuit, or ohms of the cable by a tester that nulls, are shown only through leads that the same instrument was seen to read closed before.
    fn leads_are_seen(&mut self, parts: &Parts<'a>, used: &Use) {
        let seen = (self.null_of(parts.probes.leads())).is_some_and(|null| null.instrument == used.instrument);
        if !seen {
            let of = &used.instrument;
            let (what, hint) = match parts.probes.leads() {
                Leads::Own => (
                    format!("nothing before it sees the leads of `{of}` closed: an open lead shows the same"),
                    "put a `LeadNull` before it, in `Test`, that the same instrument reads",
                ),
                Leads::Long => (
                    format!("nothing before it reads the long lead of `{of}`, which has as much as what is measured"),
                    "put a `LeadNull` with `long: true` before it, in `Test`, that the same instrument reads",
                ),
            };
            self.problem(parts.at, what, Some(hint.into()));
        }
    }

    /// A live test needs an instrument whose category fits the place.
    fn category(&mut self, parts: &Parts<'a>, used: &Use) {
        let (job, stage) = (self.job, parts.stage);
        let marked = job.instruments.iter().find(|i| i.name == used.instrument);
        let Some(instrument) = marked else { return };
        let nominal = &job.supply.nominal;
        // what nobody has classified yet is taken for mains
        let volts = match stage {
            Stage::Survey | Stage::FaultFinding => nominal.value().max(MAINS_VOLTS),
            Stage::Live if !job.supply_is_extra_low() => nominal.value(),
            _ => return,
        };
        if fits_building_wiring(&instrument.category, volts) {
            return;
        }
        let (name, category) = (&instrument.name, &instrument.category);
        let what = match stage {
            Stage::Survey | Stage::FaultFinding => {
                format!("`{name}` is marked `{category}`, which does not fit what may be mains")
            }
            _ => format!("`{name}` is marked `{category}`, which does not fit a live test at {nominal}"),
        };
        let hint = "a building's wiring needs CAT III or CAT IV at its voltage or more (GS38), written `CAT III 300 V`";
        self.problem(parts.at, what, Some(hint.into()));
    }

    /// The step of a measurement, its words filled in.
    fn put(&mut self, parts: Parts<'a>, measure: Measure) {
        let job = self.job;
        let words = [parts.probes.first.words(job), parts.probes.second.words(job)];
        let volts = match parts.function {
            Function::Insulation(volts) => format!("{volts} V"),
            _ => String::new(),
        };
        let end = match &parts.probes.second {
            Point::Core { end, .. } | Point::Terminal { end, .. } => job.end(*end).name.as_str(),
            _ => job.near.name.as_str(),
        };
        let mut extra = vec![
            ("first", words[0].as_str()),
            ("second", words[1].as_str()),
            ("volts", volts.as_str()),
            ("end", end),
        ];
        extra.extend(parts.core.map(|core| ("core", core.name.as_str())));
        let mut say = parts.say.to_owned();
        if measure.is_null {
            let nulling = nulling(measure.used.nulls);
            extra.push(("nulling", nulling));
            // a sequence that does not ask for the words was written for readings that are subtracted
            if measure.used.nulls && !say.contains("{nulling}") {
                say = format!("{say} {nulling}");
            }
        }
        let kind = Kind::Measure(Box::new(measure));
        self.push(parts.at, parts.id, parts.stage, &say, &extra, kind);
        self.steps.last_mut().expect("just pushed").cores = parts.cores;
    }

    pub(super) fn instrument(&self, parts: &Parts<'_>, window: Option<&WindowRule>) -> Result<(Use, InputMax), String> {
        let instruments = &self.job.instruments;
        if parts.low_impedance {
            let row = self.job.limits.row(Table::Practice, "input for voltage absent")?;
            let used = choose_low_input(instruments, parts.function, &self.job.limits)
                .ok_or("no instrument in the job measures voltage")?;
            return Ok((used, Some((row.value.clone(), row.basis()))));
        }
        choose_fit(
            instruments,
            parts.function,
            &self.job.limits,
            |used| matches!(window, Some(WindowRule::Fixed(window)) if unshown(window, used).is_some()),
        )
        .map(|used| (used, None))
        .ok_or_else(|| format!("no instrument in the job measures {}", parts.function.dial()))
    }
}

/// What is done about the leads, for the one who holds them.
fn nulling(nulls: bool) -> &'static str {
    if nulls {
        "Null the tester so, then take the reading. Nothing is subtracted from what follows."
    } else {
        "The reading is subtracted from what follows."
    }
}

#[cfg(test)]
mod tests {
    use crate::model::sample::JOB;
    use crate::sequence::{bind, read, shipped};
    use crate::{job, located::Text};

    const KIND: &str = "kind: \"multifunction installation tester\",";

    /// What is wrong with the demonstration job or the shipped sequence on it, with pieces of the job replaced.
    fn check(changes: &[(&str, &str)], expected: Option<&str>) {
        let text = changes.iter().fold(JOB.to_owned(), |text, (from, to)| {
            assert!(text.contains(from), "{from}");
            text.replacen(from, to, 1)
        });
        let sequence = read(&shipped::texts("stat-cable").unwrap()).unwrap();
        let first = match job::read(&Text::new("saltmarsh.ron", text)) {
            Err(problems) => problems.into_iter().next(),
            Ok(job) => bind(&sequence, &job)
                .err()
                .and_then(|findings| findings.into_iter().next())
                .map(|finding| finding.problem),
        };
        assert_eq!(first.map(|problem| problem.what).as_deref(), expected, "{changes:?}");
    }

    #[test]
    fn leads_are_nulled_or_subtracted_by_the_instrument_that_reads_the_cable() {
        let nulls = format!("{KIND} nulls: true,");
        let second = "name: \"multimeter\",\n            kind: \"digital multimeter\",";
        let of_second = "Resistance(ceiling: \"40 Mohm\",";
        check(&[(KIND, &nulls)], None);
        check(&[(KIND, &format!("{KIND} nulls: false,"))], None);
        // the first ends below what the cable has, so another reads it, which has not nulled
        check(
            &[
                (KIND, &nulls),
                ("Continuity(ceiling: \"1999 ohm\"", "Continuity(ceiling: \"0.6 ohm\""),
                (of_second, "Continuity(ceiling: \"40 kohm\","),
                (second, second),
            ],
            Some("nothing before it sees the leads of `multimeter` closed: an open lead shows the same"),
        );
        check(
            &[(
                "category: \"CAT IV 600 V\",",
                "category: \"CAT IV 600 V\", nulls: true,",
            )],
            Some("`indicator` reads neither continuity nor ohms, so it has no leads to null"),
        );
    }
}
