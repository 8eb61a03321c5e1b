//! What a meter shows across two points: resistance with all sources dead, voltage with them alive.
//!
//! Rule: nodal analysis without subtraction. A point is eliminated by turning the star of admittances around it into a
//! mesh between its neighbours (star-mesh transformation): `y_ij += y_ik * y_kj / sum of y_k`. That is Gaussian
//! elimination of the nodal matrix, except that a diagonal is always summed afresh from what is left. A milliohm joint
//! beside a gigohm leakage keeps its accuracy, and a part that floats comes out as exactly zero admittance. The usual
//! LU of the nodal matrix needs a small conductance to earth on every point for that, and rounds it away beside a
//! milliohm (10⁴ S on a diagonal hides 10⁻¹³ S). Here no point needs one; earth is a point like any other.

use std::f64::consts::TAU;

use nalgebra::Complex;

use super::element::{Current, Element, Kind, Supply, checked_ohms};
use super::error::NetworkError;
use super::network::Network;

/// Above this resistance, in ohms, a reading is given as infinite: an open circuit. Our own choice, beyond the span of
/// insulation testers for low voltage.
pub const OPEN_ABOVE_OHMS: f64 = 1e12;

/// Below this admittance, in siemens, an element counts as open. It keeps every sum far from underflow, and lies
/// under the least admittance a resistor can have (10⁻¹⁵ S).
const OPEN_BELOW_SIEMENS: f64 = 1e-18;

impl Network {
    /// What an ohmmeter or an insulation tester settles to between two points, in ohms, with all sources dead.
    ///
    /// The test is a direct-current one: capacitors are open, and a source is its series resistance. From 0 (both
    /// probes on one point) up; [`f64::INFINITY`] above [`OPEN_ABOVE_OHMS`] and where there is no path. Nulled leads.
    ///
    /// # Errors
    /// [`NetworkError::UnknownNode`].
    ///
    /// ```
    /// use coreproof::model::{element::Supply, network::Network};
    /// let mut wiring = Network::new(Supply::Dc)?;
    /// wiring.resistor("first", "a", "b", 20.0)?;
    /// wiring.resistor("second", "a", "b", 30.0)?;
    /// assert!((wiring.resistance("a", "b")? - 12.0).abs() < 1e-9);
    /// # Ok::<(), coreproof::model::error::NetworkError>(())
    /// ```
    pub fn resistance(&self, a: &str, b: &str) -> Result<f64, NetworkError> {
        let (a, b) = (self.index(a)?, self.index(b)?);
        Ok(self.mesh(0.0, None).ohms(a, b))
    }

    /// What a voltmeter for the supply's kind of current shows between two points, in volts rms (for DC the magnitude), with
    /// all sources alive.
    ///
    /// The meter loads the wiring with its input resistance `meter_ohms`, which takes the same range as a resistor:
    /// about 10 MΩ for an ordinary multimeter, a few kΩ in a low-impedance mode. Between parts that no source drives it
    /// shows 0. A prediction of a reading, never a proof that a part is dead.
    ///
    /// # Errors
    /// [`NetworkError::UnknownNode`], [`NetworkError::OutOfRange`] for the meter.
    ///
    /// ```
    /// use coreproof::model::{element::Supply, network::Network};
    /// // A disconnected core beside a live one, 10 m at 100 pF/m: the meter decides what is seen.
    /// let mut wiring = Network::new(Supply::Ac { hz: 50.0 })?;
    /// wiring.source("supply", "l", "n", 230.0, 0.3)?;
    /// wiring.capacitor("coupling", "l", "core", 1e-9)?;
    /// assert!((wiring.voltage("core", "n", 10e6)? - 219.0).abs() < 0.5);
    /// assert!((wiring.voltage("core", "n", 3e3)? - 0.2).abs() < 0.05);
    /// # Ok::<(), coreproof::model::error::NetworkError>(())
    /// ```
    pub fn voltage(&self, a: &str, b: &str, meter_ohms: f64) -> Result<f64, NetworkError> {
        self.voltage_of(self.supply.current(), a, b, meter_ohms)
    }

    /// The same of one kind of current: a direct-current range shows nothing of alternating current, and the other way round.
    ///
    /// # Errors
    /// [`NetworkError::UnknownNode`], [`NetworkError::OutOfRange`] for the meter.
    pub fn voltage_of(&self, current: Current, a: &str, b: &str, meter_ohms: f64) -> Result<f64, NetworkError> {
        let (a, b) = (self.index(a)?, self.index(b)?);
        Ok(self.volts_between(current, a, b, Complex::from(checked_ohms(meter_ohms)?.recip())))
    }

    /// Alternating and direct voltage together, in volts rms: what an indicator lights on and a load runs on.
    ///
    /// # Errors
    /// [`NetworkError::UnknownNode`], [`NetworkError::OutOfRange`] for the meter.
    ///
    /// ```
    /// use coreproof::model::{element::{Current, Supply}, network::Network};
    /// let mut wiring = Network::new(Supply::Ac { hz: 50.0 })?;
    /// wiring.source("mains", "a", "m", 40.0, 1.0)?;
    /// wiring.source_of(Current::Direct, "battery", ["m", "b"], 30.0, 1.0)?;
    /// assert!((wiring.effective_voltage("a", "b", 1e6)? - 50.0).abs() < 0.001);
    /// # Ok::<(), coreproof::model::error::NetworkError>(())
    /// ```
    pub fn effective_voltage(&self, a: &str, b: &str, meter_ohms: f64) -> Result<f64, NetworkError> {
        let alternating = self.voltage_of(Current::Alternating, a, b, meter_ohms)?;
        Ok(alternating.hypot(self.voltage_of(Current::Direct, a, b, meter_ohms)?))
    }

    /// What stands across an element, alternating and direct together, in volts rms, with no meter on it.
    ///
    /// # Errors
    /// [`NetworkError::UnknownElement`].
    ///
    /// ```
    /// use coreproof::model::{element::Supply, network::Network};
    /// let mut wiring = Network::new(Supply::Ac { hz: 50.0 })?;
    /// wiring.source("supply", "l", "n", 230.0, 0.3)?;
    /// wiring.resistor("lead", "l", "m", 100.0)?;
    /// wiring.resistor("motor", "m", "n", 8000.0)?;
    /// assert!((wiring.voltage_across("motor")? - 230.0 * 8000.0 / 8100.3).abs() < 0.001);
    /// # Ok::<(), coreproof::model::error::NetworkError>(())
    /// ```
    pub fn voltage_across(&self, element: &str) -> Result<f64, NetworkError> {
        let unknown = || NetworkError::UnknownElement {
            element: element.to_owned(),
        };
        self.voltages_across(&[element]).pop().flatten().ok_or_else(unknown)
    }

    /// The same across several elements, at little more than the cost of one; `None` for one that is not there.
    pub fn voltages_across(&self, elements: &[&str]) -> Vec<Option<f64>> {
        let ends: Vec<Option<[usize; 2]>> =
            (elements.iter().map(|name| Some(self.elements.get(*name)?.ends))).collect();
        let there: Vec<[usize; 2]> = ends.iter().flatten().copied().collect();
        let [alternating, direct] = [Current::Alternating, Current::Direct]
            .map(|current| self.volts_between_all(current, &there, Complex::from(0.0)));
        let mut volts = alternating.iter().zip(direct).map(|(one, other)| one.hypot(other));
        ends.iter().map(|ends| ends.and_then(|_| volts.next())).collect()
    }

    fn volts_between(&self, current: Current, a: usize, b: usize, meter: Complex<f64>) -> f64 {
        self.volts_between_all(current, &[[a, b]], meter)[0]
    }

    /// What stands across each of these pairs of points with a meter on each.
    fn volts_between_all(&self, current: Current, pairs: &[[usize; 2]], meter: Complex<f64>) -> Vec<f64> {
        let angular = match (self.supply, current) {
            (Supply::Ac { hz }, Current::Alternating) => TAU * hz,
            _ => 0.0,
        };
        // Superposition: one source alive at a time, the others left as their series resistance.
        let mut volts = vec![Complex::from(0.0); pairs.len()];
        for (source, volts_rms) in self.driving(current, angular, pairs, meter) {
            let mut mesh = self.mesh(angular, Some(source));
            pairs.iter().for_each(|[a, b]| mesh.join(*a, *b, meter));
            let shares = mesh.shares(source.ends[1]);
            for (volts, [a, b]) in volts.iter_mut().zip(pairs) {
                *volts += (shares[*a] - shares[*b]) * volts_rms;
            }
        }
        volts.into_iter().map(Complex::norm).collect()
    }

    /// The sources of a kind of current that can drive any, with their volts: something other than itself joins the two ends of each. One
    /// that cannot leaves nothing across two points that are joined, and costs no elimination.
    fn driving(
        &self,
        current: Current,
        angular: f64,
        pairs: &[[usize; 2]],
        meter: Complex<f64>,
    ) -> Vec<(&Element, f64)> {
        let mut sources = Vec::new();
        let mut joined = Joined::new(self.nodes.len());
        for element in self.elements.values() {
            if let Kind::Source {
                volts_rms,
                current: delivers,
                ..
            } = element.kind
            {
                sources.push((element, volts_rms, delivers));
            } else if conducts(element.admittance(angular)) {
                joined.join(element.ends);
            }
        }
        if conducts(meter) {
            pairs.iter().for_each(|pair| joined.join(*pair));
        }
        let drives = |at: &usize| {
            let mut joined = joined.clone();
            let others = sources.iter().enumerate().filter(|(other, _)| other != at);
            others.for_each(|(_, (other, ..))| joined.join(other.ends));
            let mut apart = |[a, b]: [usize; 2]| joined.of(a) != joined.of(b);
            !apart(sources[*at].0.ends) || pairs.iter().any(|pair| apart(*pair))
        };
        let driving = (0..sources.len()).filter(|at| sources[*at].2 == current).filter(drives);
        driving.map(|at| (sources[at].0, sources[at].1)).collect()
    }

    /// The admittances at `angular` radians a second. The source that is `live` stands open behind its series
    /// resistance, at the extra point `Mesh::emf`; every other source is its series resistance alone.
    fn mesh(&self, angular: f64, live: Option<&Element>) -> Mesh {
        let emf = self.nodes.len();
        let mut rows: Vec<Star> = vec![Vec::new(); emf + 1];
        for element in self.elements.values() {
            let [a, b] = element.ends;
            let is_live = live.is_some_and(|live| std::ptr::eq(live, element));
            let far = if is_live { emf } else { b };
            let admittance = element.admittance(angular);
            if conducts(admittance) && a != far {
                rows[a].push((far, admittance));
                rows[far].push((a, admittance));
            }
        }
        // what lies side by side between two points is summed in the order of the elements
        for row in &mut rows {
            row.sort_by_key(|(point, _)| *point);
            row.dedup_by(|later, first| {
                let is_beside = later.0 == first.0;
                if is_beside {
                    first.1 += later.1;
                }
                is_beside
            });
        }
        Mesh { rows, emf }
    }
}

/// Whether so much admittance counts. Each is of one kind, real or imaginary, so the sum of the two parts is its size.
fn conducts(admittance: Complex<f64>) -> bool {
    OPEN_BELOW_SIEMENS <= admittance.re + admittance.im
}

impl Element {
    /// At `angular` radians a second, in siemens; a source is its series resistance.
    fn admittance(&self, angular: f64) -> Complex<f64> {
        match self.kind {
            Kind::Resistor { ohms } => Complex::from(ohms.recip()),
            Kind::Capacitor { farads } => Complex::new(0.0, angular * farads),
            Kind::Contact {
                closed_ohms,
                closed: true,
            } => Complex::from(closed_ohms.recip()),
            Kind::Contact { closed: false, .. } => Complex::from(0.0),
            Kind::Source { series_ohms, .. } => Complex::from(series_ohms.recip()),
        }
    }
}

/// Which points hang together.
#[derive(Clone)]
pub(super) struct Joined(Vec<usize>);

impl Joined {
    pub(super) fn new(points: usize) -> Joined {
        Joined((0..points).collect())
    }

    pub(super) fn of(&mut self, mut point: usize) -> usize {
        while self.0[point] != point {
            self.0[point] = self.0[self.0[point]];
            point = self.0[point];
        }
        point
    }

    pub(super) fn join(&mut self, [a, b]: [usize; 2]) {
        let (a, b) = (self.of(a), self.of(b));
        self.0[a] = b;
    }
}

/// The neighbours of a point, in their order, with the admittance to each.
type Star = Vec<(usize, Complex<f64>)>;

/// The admittance straight from each point to its neighbours, in siemens: symmetric, and wiring is sparse.
#[derive(Debug, Clone)]
pub(super) struct Mesh {
    rows: Vec<Star>,
    /// The terminal of the live source behind its series resistance.
    emf: usize,
}

impl Mesh {
    /// Points with nothing between them.
    pub(super) fn bare(points: usize) -> Mesh {
        Mesh {
            rows: vec![Vec::new(); points + 1],
            emf: points,
        }
    }

    /// The resistance between two points, in ohms, as [`Network::resistance`] gives it.
    pub(super) fn ohms(mut self, a: usize, b: usize) -> f64 {
        if a == b {
            return 0.0;
        }
        self.reduce_to(&[a, b], a);
        let ohms = self.between(a, b).re.recip();
        if ohms <= OPEN_ABOVE_OHMS { ohms } else { f64::INFINITY }
    }

    fn place(&self, a: usize, b: usize) -> Result<usize, usize> {
        self.rows[a].binary_search_by_key(&b, |(point, _)| *point)
    }

    fn between(&self, a: usize, b: usize) -> Complex<f64> {
        self.place(a, b)
            .map_or_else(|_| Complex::default(), |at| self.rows[a][at].1)
    }

    /// Adds an admittance between two points; one from a point to itself changes nothing.
    pub(super) fn join(&mut self, a: usize, b: usize, admittance: Complex<f64>) {
        if conducts(admittance) && a != b {
            self.add(a, b, admittance);
        }
    }

    fn add(&mut self, a: usize, b: usize, admittance: Complex<f64>) {
        for (from, to) in [(a, b), (b, a)] {
            match self.place(from, to) {
                Ok(at) => self.rows[from][at].1 += admittance,
                Err(at) => self.rows[from].insert(at, (to, admittance)),
            }
        }
    }

    /// Every point that a path leads to, in their order.
    fn hangs_on(&self, from: usize) -> Vec<usize> {
        let mut is_met = vec![false; self.rows.len()];
        is_met[from] = true;
        let mut met = vec![from];
        let mut at = 0;
        while let Some(&point) = met.get(at) {
            for &(next, _) in &self.rows[point] {
                if !std::mem::replace(&mut is_met[next], true) {
                    met.push(next);
                }
            }
            at += 1;
        }
        met.sort_unstable();
        met
    }

    /// Eliminates every point but those in `keep`; the admittances between those then stand for the whole network. Given back are the
    /// points that went, in their order, each with what it then hung on. What does not hang together with `from`, which is one of those kept,
    /// bears on nothing that does, and stays as it is.
    fn reduce_to(&mut self, keep: &[usize], from: usize) -> Vec<(usize, Star)> {
        let mut left = self.hangs_on(from);
        left.retain(|point| !keep.contains(point));
        self.eliminate(left)
    }

    /// Eliminates these points.
    pub(super) fn eliminate(&mut self, mut left: Vec<usize>) -> Vec<(usize, Star)> {
        // the one with the fewest neighbours next: a strip with thirty cores on it would join each core end to each other; two are as
        // few as any, since what replaces them is no more than they were
        let next = |rows: &[Star], left: &[usize]| {
            let of = |place: &usize| rows[left[*place]].len();
            let few = (0..left.len()).find(|place| of(place) <= 2);
            few.or_else(|| (0..left.len()).min_by_key(of))
        };
        let mut gone = Vec::with_capacity(left.len());
        while let Some(place) = next(&self.rows, &left) {
            let middle = left.swap_remove(place);
            let star = std::mem::take(&mut self.rows[middle]);
            let sum = sum(&star);
            let shares: Vec<Complex<f64>> = star.iter().map(|(_, admittance)| admittance / sum).collect();
            for (place, &(a, to_a)) in star.iter().enumerate() {
                if let Ok(at) = self.place(a, middle) {
                    self.rows[a].remove(at);
                }
                for (&(b, _), share) in star.iter().zip(&shares).skip(place + 1) {
                    self.add(a, b, to_a * share);
                }
            }
            gone.push((middle, star));
        }
        gone
    }

    /// The part of the live source's voltage that stands at each point, seen from the source's other terminal `back`.
    /// Zero for a part that floats; then both ends of the meter, which joins them, float together.
    ///
    /// One elimination serves every point: what stands at one that went is the mean of what stands at those that it then hung on, each
    /// weighed by its admittance, so they are found from the last that went to the first.
    fn shares(mut self, back: usize) -> Vec<Complex<f64>> {
        let mut shares = vec![Complex::from(0.0); self.rows.len()];
        shares[self.emf] = Complex::from(1.0);
        for (point, star) in self.reduce_to(&[back, self.emf], self.emf).into_iter().rev() {
            if !star.is_empty() {
                let pull: Complex<f64> = star.iter().map(|(to, admittance)| admittance * shares[*to]).sum();
                let share = pull / sum(&star);
                assert!(share.is_finite(), "admittances were checked on the way in");
                shares[point] = share;
            }
        }
        shares
    }
}

fn sum(star: &Star) -> Complex<f64> {
    star.iter().map(|(_, admittance)| admittance).sum()
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::model::element::{CONTACT_OHMS, LINK_LEAD_OHMS, RESISTANCE_FLOOR_OHMS};

    const MAINS: Supply = Supply::Ac { hz: 50.0 };

    /// A network of resistors `(a, b, ohms)`.
    fn resistors(branches: &[(&str, &str, f64)]) -> Network {
        let mut network = Network::new(Supply::Dc).unwrap();
        for (number, (a, b, ohms)) in branches.iter().enumerate() {
            network.resistor(&format!("r{number}"), a, b, *ohms).unwrap();
        }
        network
    }

    fn assert_close(actual: f64, expected: f64, relative: f64) {
        assert!(
            (actual - expected).abs() <= relative * expected.abs(),
            "{actual} is not {expected} within {relative}"
        );
    }

    fn check_ohms(branches: &[(&str, &str, f64)], a: &str, b: &str, expected: f64) {
        assert_close(resistors(branches).resistance(a, b).unwrap(), expected, 1e-12);
    }

    #[test]
    fn series_and_parallel_combine() {
        // Hand arithmetic: 20 + 30; 20 * 30 / 50; 10 + 20 * 30 / 50.
        check_ohms(&[("a", "m", 20.0), ("m", "b", 30.0)], "a", "b", 50.0);
        check_ohms(&[("a", "b", 20.0), ("a", "b", 30.0)], "a", "b", 12.0);
        let mixed = [("a", "m", 10.0), ("m", "b", 20.0), ("b", "m", 30.0)];
        check_ohms(&mixed, "a", "b", 22.0);
        // A branch that leads nowhere, and one from a point to itself, change nothing.
        let spurs = [("a", "b", 5.0), ("b", "c", 1.0), ("b", "b", 1.0)];
        check_ohms(&spurs, "a", "b", 5.0);
    }

    #[test]
    fn insulation_of_circuits_in_parallel() {
        // Handbook worked example of insulation resistances in parallel: 5, 20, 10, 20, 2 MΩ give 1/0.9 MΩ.
        let circuits = [5e6, 20e6, 10e6, 20e6, 2e6].map(|ohms| ("l", "e", ohms));
        check_ohms(&circuits, "l", "e", 1e6 / 0.9);
        // Arithmetic: two circuits that each just pass 1 MΩ read 0.5 MΩ together.
        check_ohms(&[("l", "e", 1e6), ("l", "e", 1e6)], "l", "e", 0.5e6);
    }

    #[test]
    fn linked_cable_reads_its_loop() {
        // Published worked example: 22 m of 2.5/1.5 mm², 7.41 and 12.10 mΩ/m (IEC 60228): 0.163 + 0.266 = 0.429 Ω.
        let (line, cpc) = (22.0 * 7.41e-3, 22.0 * 12.10e-3);
        let mut cable = resistors(&[("board.l", "spur.l", line), ("board.e", "spur.e", cpc)]);
        let read = |cable: &Network| cable.resistance("board.l", "board.e").unwrap();
        assert_eq!(read(&cable), f64::INFINITY);
        cable.link("link", "spur.l", "spur.e", 0.0).unwrap();
        assert!((read(&cable) - 0.429).abs() < 0.0005);
        assert_close(read(&cable), 22.0 * 19.51e-3 + RESISTANCE_FLOOR_OHMS, 1e-12);
        cable.set_ohms("link", LINK_LEAD_OHMS).unwrap();
        assert_close(read(&cable), 22.0 * 19.51e-3 + LINK_LEAD_OHMS, 1e-12);
        cable.remove("link").unwrap();
        assert_eq!(read(&cable), f64::INFINITY);
    }

    #[test]
    fn cube_of_equal_resistors() {
        // Standard textbook result for a cube of 1 Ω edges: edge 7/12, face diagonal 3/4, body diagonal 5/6 Ω.
        let corners = ["000", "001", "010", "011", "100", "101", "110", "111"];
        let differ = |a: &str, b: &str| a.bytes().zip(b.bytes()).filter(|(a, b)| a != b).count();
        let edges: Vec<_> = corners
            .iter()
            .flat_map(|a| corners.iter().map(move |b| (*a, *b, 1.0)))
            .filter(|(a, b, _)| a < b && differ(a, b) == 1)
            .collect();
        assert_eq!(edges.len(), 12);
        check_ohms(&edges, "000", "001", 7.0 / 12.0);
        check_ohms(&edges, "000", "011", 3.0 / 4.0);
        check_ohms(&edges, "000", "111", 5.0 / 6.0);
    }

    /// A Wheatstone bridge: 10 V across `top` and `bottom`, ratio arms 100/200 Ω left, 150 Ω over `lower_right` right.
    fn bridge(lower_right: f64) -> Network {
        let mut bridge = resistors(&[
            ("top", "left", 100.0),
            ("left", "bottom", 200.0),
            ("top", "right", 150.0),
            ("right", "bottom", lower_right),
        ]);
        bridge.source("battery", "top", "bottom", 10.0, 0.0).unwrap();
        bridge
    }

    #[test]
    fn wheatstone_bridge() {
        // Standard textbook circuit, computed by hand. Balanced at 100/200 = 150/300.
        assert!(bridge(300.0).voltage("left", "right", 1e6).unwrap() < 1e-12);
        // Unbalanced: open-circuit voltage E (R2/(R1+R2) - R4/(R3+R4)) behind R1∥R2 + R3∥R4, loaded by the meter.
        let (open, behind) = (10.0 * (200.0 / 300.0 - 0.5), 200.0 / 3.0 + 75.0);
        for meter in [1e3, 10e6] {
            let shown = bridge(150.0).voltage("left", "right", meter).unwrap();
            assert_close(shown, open * meter / (meter + behind), 1e-5);
        }
        // With the battery dead (its floor of 0.1 mΩ left in its place) the same two pairs are what an ohmmeter sees.
        assert_close(bridge(150.0).resistance("left", "right").unwrap(), behind, 1e-5);
    }

    #[test]
    fn voltage_divider() {
        // Hand arithmetic: 9 V over 1 kΩ and 2 kΩ gives 6 V; a 2 kΩ meter across the 2 kΩ makes it 4.5 V.
        let mut divider = resistors(&[("top", "mid", 1e3), ("mid", "bottom", 2e3)]);
        divider.source("battery", "top", "bottom", 9.0, 0.0).unwrap();
        let read = |meter| divider.voltage("mid", "bottom", meter).unwrap();
        assert_close(read(1e12), 6.0, 1e-6);
        assert_close(read(2e3), 4.5, 1e-6);
        // The probes the other way round show the same magnitude, one point against itself nothing.
        assert_close(divider.voltage("bottom", "mid", 2e3).unwrap(), 4.5, 1e-6);
        assert_eq!(divider.voltage("mid", "mid", 1e7).unwrap(), 0.0);
    }

    #[test]
    fn sources_add_when_they_aid_and_cancel_when_they_oppose() {
        let mut pair = Network::new(Supply::Dc).unwrap();
        pair.source("lower", "mid", "bottom", 3.0, 0.1).unwrap();
        pair.source("upper", "top", "mid", 2.0, 0.1).unwrap();
        let read = |pair: &Network| pair.voltage("top", "bottom", 10e6).unwrap();
        assert_close(read(&pair), 5.0, 1e-6);
        pair.remove("upper").unwrap();
        pair.source("upper", "mid", "top", 2.0, 0.1).unwrap();
        assert_close(read(&pair), 1.0, 1e-6);
    }

    /// A disconnected core beside a live one over so many metres at 100 pF/m; `to_earth` adds as much to earth.
    fn ghost(metres: f64, to_earth: bool) -> Network {
        let mut network = Network::new(MAINS).unwrap();
        network.source("supply", "l", "e", 230.0, 0.3).unwrap();
        let farads = metres * 100e-12;
        network.capacitor("coupling", "l", "core", farads).unwrap();
        if to_earth {
            network.capacitor("to earth", "core", "e", farads).unwrap();
        }
        network
    }

    #[test]
    fn ghost_voltage_falls_with_the_meter_resistance() {
        // The phenomenon: NEMA Bulletin 88 (stray voltage read on an open conductor, growing with length, gone under a
        // low-impedance meter). The figures: computed from V = 230 Z/√(Z² + Xc²), 50 Hz, rounded as printed; 100 pF/m
        // is the upper end of what flat cable has (from memory).
        const METERS: [f64; 6] = [10e6, 1e6, 500e3, 300e3, 10e3, 3e3];
        let rows = [
            (5.0, [194.0, 36.0, 18.0, 11.0, 0.4, 0.1]),
            (10.0, [219.0, 69.0, 36.0, 22.0, 0.7, 0.2]),
            (20.0, [227.0, 122.0, 69.0, 43.0, 1.4, 0.4]),
        ];
        for (metres, row) in rows {
            for (meter, printed) in METERS.into_iter().zip(row) {
                let shown = ghost(metres, false).voltage("core", "e", meter).unwrap();
                let half_digit = if printed < 10.0 { 0.05 } else { 0.5 };
                assert!((shown - printed).abs() <= half_digit, "{metres} m {meter} Ω: {shown}");
                let reactance = (TAU * 50.0 * metres * 100e-12).recip();
                assert_close(shown, 230.0 * meter / meter.hypot(reactance), 1e-6);
            }
        }
    }

    #[test]
    fn ghost_voltage_with_as_much_capacitance_to_earth_is_about_half_the_supply() {
        for metres in [10.0, 20.0] {
            let shown = ghost(metres, true).voltage("core", "e", 10e6).unwrap();
            assert!((110.0..=115.0).contains(&shown), "{metres} m: {shown}");
        }
    }

    #[test]
    fn capacitors_are_open_to_direct_current() {
        let mut network = Network::new(Supply::Dc).unwrap();
        network.source("battery", "l", "e", 12.0, 0.3).unwrap();
        network.capacitor("coupling", "l", "core", 1e-6).unwrap();
        assert_eq!(network.voltage("core", "e", 10e6).unwrap(), 0.0);
        // An ohmmeter tests with direct current whatever the supply is: the branch through the capacitor is not seen.
        let mut network = ghost(10.0, true);
        network.resistor("leakage", "core", "e", 2e6).unwrap();
        network.resistor("filter", "core", "rc", 100.0).unwrap();
        network.capacitor("snubber", "rc", "e", 100e-9).unwrap();
        assert_close(network.resistance("core", "e").unwrap(), 2e6, 1e-12);
        assert_eq!(ghost(10.0, true).resistance("core", "e").unwrap(), f64::INFINITY);
    }

    #[test]
    fn a_contact_makes_and_breaks_the_path() {
        let mut network = Network::new(MAINS).unwrap();
        network.source("supply", "l", "n", 230.0, 0.3).unwrap();
        network.contact("thermostat", "l", "call").unwrap();
        network.resistor("coil", "call", "n", 10e3).unwrap();
        let volts = |network: &Network| network.voltage("call", "n", 10e6).unwrap();
        assert_eq!(volts(&network), 0.0);
        network.set_contact("thermostat", true).unwrap();
        assert_close(volts(&network), 230.0, 1e-4);
        network.set_contact("thermostat", false).unwrap();
        assert_eq!(volts(&network), 0.0);
        // Dead, the source is a wire: l to call goes through 0.3 Ω and the coil; closed, mostly through the contact.
        let ohms = |network: &Network| network.resistance("l", "call").unwrap();
        assert_close(ohms(&network), 10e3 + 0.3, 1e-12);
        network.set_contact("thermostat", true).unwrap();
        assert_close(ohms(&network), CONTACT_OHMS, 1e-5);
    }

    #[test]
    fn parts_that_float_solve_exactly() {
        // Two islands of the lowest resistance there is, 60 points each, and 1 GΩ between them.
        let names: Vec<String> = (0..120).map(|number| number.to_string()).collect();
        let joints: Vec<_> = names
            .windows(2)
            .filter(|pair| pair[1] != "60")
            .map(|pair| (pair[0].as_str(), pair[1].as_str(), 0.0))
            .collect();
        let mut network = resistors(&joints);
        assert_eq!(network.resistance("0", "119").unwrap(), f64::INFINITY);
        assert_close(network.resistance("60", "119").unwrap(), 59e-4, 1e-12);
        network.source("supply", "l", "n", 230.0, 0.3).unwrap();
        assert_eq!(network.voltage("0", "119", 10e6).unwrap(), 0.0);
        assert_eq!(network.voltage("l", "0", 10e6).unwrap(), 0.0);
        network.resistor("leakage", "30", "90", 1e9).unwrap();
        assert_close(network.resistance("0", "119").unwrap(), 1e9, 1e-10);
    }

    #[test]
    fn the_ends_of_the_range_solve() {
        // A capacitance too small for arithmetic is open; above 1 TΩ the reading is infinite; all stays a number.
        let mut network = ghost(0.0, false);
        network.capacitor("speck", "l", "core", f64::MIN_POSITIVE).unwrap();
        assert_eq!(network.voltage("core", "e", 10e6).unwrap(), 0.0);
        check_ohms(&[("a", "b", 1e12)], "a", "b", 1e12);
        check_ohms(&[("a", "c", 1e12), ("a", "b", 1.0)], "a", "b", 1.0);
        let open = resistors(&[("a", "b", 1.001e12)]).resistance("a", "b");
        assert_eq!(open, Ok(f64::INFINITY));
        let mut weakest = resistors(&[("a", "b", 1e15), ("b", "c", 1e15)]);
        weakest.source("supply", "a", "c", 1e6, 0.0).unwrap();
        assert_close(weakest.voltage("b", "c", 1e15).unwrap(), 1e6 / 3.0, 1e-12);
    }

    #[test]
    fn probes_are_checked() {
        let network = ghost(10.0, false);
        let text = |outcome: Result<f64, NetworkError>| outcome.unwrap_err().to_string();
        let unknown = "no point `p` in the installation";
        assert_eq!(text(network.resistance("p", "l")), unknown);
        assert_eq!(text(network.resistance("l", "p")), unknown);
        assert_eq!(text(network.voltage("p", "l", 1e6)), unknown);
        assert_eq!(text(network.voltage("l", "p", 1e6)), unknown);
        assert_eq!(
            text(network.voltage("l", "e", f64::NAN)),
            "resistance `NaN` Ω is outside 0.0 to 1000000000000000.0 Ω"
        );
    }
}
