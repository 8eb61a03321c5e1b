//! What is to be explained: what was seen and how each of it is predicted, on sound wiring and with the faults of the job.
//!
//! The rule inside: a prediction is spread by all that is not known exactly before it speaks against anything.

use super::observed::{Observation, Observed, Seen};
use super::replay::{Replayed, replay};
use super::sizes::{Span, beyond, within};
use super::tolerance::{Range, Reads, Tolerance};
use crate::model::error::InstallationError;
use crate::model::fault::Fault;
use crate::model::installation::Installation;
use crate::model::library;
use crate::model::meter::INPUT_OHMS;
use crate::model::network::Network;
use crate::model::probes::{indicator_volts, meter_value, points};
use crate::model::wiring::float;
use crate::plan::{Kind, Probes};
use crate::value::reading::Function;

/// How much the loop outside the installation may have more or less than the model's, in ohms: suppliers declare up to 0.8 ohm on
/// TN-S (distribution practice, from memory), and a TT electrode is good up to 200 ohm (seen in trade guidance).
const LOOP_OUTSIDE_OHMS: f64 = 1.0;
const LOOP_OUTSIDE_TT_OHMS: f64 = 200.0;
/// What was told that agrees, or does not, put as a range.
pub(super) const AGREES: Range = (1.0, 1.0);
pub(super) const DISAGREES: Range = (0.0, 0.0);

/// How an observation is predicted.
#[derive(Debug, Clone)]
pub(super) enum Way {
    /// Between two points of a state's network.
    Meter {
        pair: [String; 2],
        function: Function,
        input: f64,
        reads: Reads,
    },
    /// Both tips together or one in the air.
    Tips,
    /// Lit where there is voltage, as long as the indicator works.
    Indicator { pair: [String; 2] },
    /// Not read between two points: told in words, or a time.
    Told,
}

/// The faults of a job, and what was seen.
pub(super) struct Problem<'a> {
    pub(super) observed: &'a Observed,
    tolerance: Tolerance,
    pub(super) sound: Installation,
    /// What sound wiring leaves at each observation.
    pub(super) base: Replayed<Network>,
    pub(super) faults: Vec<Fault>,
    /// The sizes that are taken of each fault.
    pub(super) spans: Vec<Span>,
    /// How each observation is predicted, in their order.
    pub(super) ways: Vec<Way>,
}

impl<'a> Problem<'a> {
    /// A job's faults, each of the sizes that the library takes.
    pub(super) fn new(observed: &'a Observed) -> Result<Problem<'a>, InstallationError> {
        let faults = library::faults(&observed.plan.job)?;
        let spans = faults.iter().map(within).collect();
        Problem::with(observed, faults, spans)
    }

    /// Those that have a size, and sizes that lie far outside the library's as well.
    pub(super) fn widened(observed: &'a Observed) -> Result<Problem<'a>, InstallationError> {
        let mut faults = library::faults(&observed.plan.job)?;
        faults.retain(Fault::has_range);
        let spans = faults.iter().map(beyond).collect();
        Problem::with(observed, faults, spans)
    }

    fn with(observed: &'a Observed, faults: Vec<Fault>, spans: Vec<Span>) -> Result<Problem<'a>, InstallationError> {
        let sound = Installation::of(&observed.plan.job)?;
        let base = replay(observed, sound.clone());
        let tolerance = Tolerance::of(&observed.plan.job).map_err(|why| InstallationError::Wiring { why })?;
        let way = |(at, observation)| match base.told.contains_key(&at) {
            true => Way::Told,
            false => Way::of(observed, observation),
        };
        Ok(Problem {
            ways: observed.list.iter().enumerate().map(way).collect(),
            observed,
            tolerance,
            sound,
            base,
            faults,
            spans,
        })
    }

    /// The range that a meter or the indicator may show where between these two is predicted.
    pub(super) fn spread(&self, way: &Way, range: Range) -> Range {
        match way {
            Way::Meter {
                function, input, reads, ..
            } => {
                let (low, high) = self.tolerance.spread(range, function.unit(), *input, *reads);
                if *function != Function::Loop {
                    return (low, high);
                }
                // the loop outside is the supplier's, from almost nothing up to what such a supply may have
                let is_tt = self.observed.plan.job.supply.earthing.trim().starts_with("TT");
                let more = if is_tt { LOOP_OUTSIDE_TT_OHMS } else { LOOP_OUTSIDE_OHMS };
                (low - LOOP_OUTSIDE_OHMS, high + more)
            }
            _ => range,
        }
    }

    /// What a meter may show with some faults in, between the points where it is laid.
    pub(super) fn expected(
        &self,
        at: &Installation,
        probes: &Probes,
        function: Function,
        input: f64,
        reads: Reads,
    ) -> Range {
        let value = at.shows(probes, function, input);
        self.tolerance.spread((value, value), function.unit(), input, reads)
    }

    /// Whether what was seen at an observation lies in a range.
    pub(super) fn holds(&self, at: usize, range: Range) -> bool {
        match &self.ways[at] {
            Way::Told => range.1 == AGREES.1,
            way => holds(&self.observed.list[at].seen, self.spread(way, range)),
        }
    }

    /// Whether only what would fail the step as well explains an observation. Of what is told the words themselves say so.
    pub(super) fn must_fail(&self, at: usize) -> bool {
        self.observed.list[at].failed() && matches!(self.ways[at], Way::Meter { .. } | Way::Tips)
    }
}

impl Way {
    fn of(observed: &Observed, observation: &Observation) -> Way {
        match &observed.plan.steps[observation.step].kind {
            Kind::Measure(measure) => match points(&measure.probes) {
                Some(pair) => Way::Meter {
                    pair,
                    function: measure.used.function,
                    input: measure
                        .used
                        .input
                        .as_ref()
                        .map_or(INPUT_OHMS, |input| float(input.value())),
                    reads: Reads::from(&measure.used.known.accuracy).on(observation.seen.last_digit()),
                },
                None => Way::Tips,
            },
            Kind::Indicator { probes, .. } => points(probes).map_or(Way::Tips, |pair| Way::Indicator { pair }),
            _ => Way::Tips,
        }
    }

    pub(super) fn pair(&self) -> Option<&[String; 2]> {
        match self {
            Way::Meter { pair, .. } | Way::Indicator { pair } => Some(pair),
            Way::Tips | Way::Told => None,
        }
    }
}

/// What stands at an instrument in a network, as least and greatest value.
pub(super) fn value(network: &Network, way: &Way) -> Range {
    let value = match way {
        Way::Meter {
            pair, function, input, ..
        } => meter_value(network, pair, *function, *input),
        Way::Indicator { pair } => indicator_volts(network, pair),
        Way::Tips | Way::Told => 0.0,
    };
    (value, value)
}

/// Whether what a meter or the indicator showed lies in a range.
pub(super) fn holds(seen: &Seen, (least, greatest): Range) -> bool {
    match seen {
        Seen::Between { low, high } => least <= *high && *low <= greatest,
        Seen::Lit { lit: true, from } => *from <= greatest,
        Seen::Lit { lit: false, from } => least < *from,
        Seen::Marked(_) | Seen::Words(_) | Seen::Found => false,
    }
}
