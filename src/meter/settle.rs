//! Is the display where it will stay?
//!
//! The rule inside: a quiet window proves nothing about a slow tail, so the end value is predicted. The readings
//! since contact are fitted with `v = v_inf + b*exp(-t/tau)` for every time constant on a grid; all time constants
//! whose residual is not clearly worse than the best are believed at once, and the display is settled only when the
//! farthest end value among them, with its confidence, lies within the tolerance of what is shown now. Binary floats
//! predict here; the reading that is taken keeps its exact digits.

use std::collections::VecDeque;
use std::ops::RangeInclusive;

/// What a display is doing.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Motion {
    /// Too early to say.
    Moving,
    /// It may still move by this much, in the unit of the values.
    Drifting { bound: f64 },
    /// It is where it will stay.
    Settled,
}

/// Time constants that are believed possible, in seconds: cable capacitance to insulation absorption.
const TAU_S: RangeInclusive<f64> = 0.1..=60.0;
/// Steps of the grid; neighbours differ by 5.5 %, which the noise floor hides.
const TAU_STEPS: usize = 120;
/// Over-range frames in a row that are over-range for good.
const OVER_COUNT: u32 = 4;
/// Readings and seconds below which no fit is trusted.
const FIT_COUNT_MIN: u32 = 8;
const FIT_S_MIN: f64 = 1.5;
/// Identical readings since contact that need no fit: 3 s at four readings a second.
const FLAT_COUNT: u32 = 12;
/// The same where the last digit flickers between two neighbours and has come back: a tail does not come back.
const FLICKER_COUNT: u32 = 20;
/// Seconds after which a display that is not settled is called drifting.
const DRIFT_S: f64 = 5.0;
/// Chi-square with one degree of freedom, 99 %: how much worse a time constant may fit and still be believed.
const REGION: f64 = 6.63;
/// Half-width of a confidence interval in standard errors, 99 %.
const CONFIDENCE: f64 = 2.58;
/// A step of this many tolerances between two readings is a probe placed anew.
const JUMP_TOLERANCES: f64 = 10.0;
/// A fit begins anew after this many tolerances of travel: the last approach is what predicts the end.
const TRAVEL_TOLERANCES: f64 = 50.0;
/// A reading this many standard deviations away from its prediction is a probe placed anew.
const JUMP_DEVIATIONS: f64 = 6.0;
/// Readings that are kept to begin anew from after a restless time, 6 s at four a second.
const RECENT_COUNT: usize = 24;

/// Watches one display from contact on.
///
/// ```
/// use coreproof::meter::settle::{Motion, Settling};
/// let mut settling = Settling::new(None);
/// let motions: Vec<Motion> = (0..12).map(|n| settling.push(f64::from(n) * 0.25, Some(0.42), 0.01)).collect();
/// assert_eq!(motions[0], Motion::Moving);
/// assert_eq!(motions[11], Motion::Settled);
/// ```
#[derive(Debug, Clone)]
pub struct Settling {
    tolerance: Option<f64>,
    over_count: u32,
    window: Option<Window>,
    recent: VecDeque<(f64, f64)>,
}

impl Settling {
    /// Begins without readings. `tolerance` is in the unit of the values; without one it is two last digits or 0.5 %
    /// of the reading, whichever is more.
    pub fn new(tolerance: Option<f64>) -> Settling {
        Settling {
            tolerance,
            over_count: 0,
            window: None,
            recent: VecDeque::new(),
        }
    }

    /// Takes one display: `t_seconds` on any clock that does not go back, the value or `None` for over-range, and the
    /// weight of the display's last digit.
    pub fn push(&mut self, t_seconds: f64, value: Option<f64>, last_digit: f64) -> Motion {
        assert!(
            t_seconds.is_finite() && value.unwrap_or(0.0).is_finite(),
            "a display shows finite numbers"
        );
        assert!(0.0 < last_digit && last_digit.is_finite(), "a last digit has a weight");
        let Some(value) = value else {
            self.window = None;
            self.recent.clear();
            self.over_count += 1;
            return if OVER_COUNT <= self.over_count {
                Motion::Settled
            } else {
                Motion::Moving
            };
        };
        self.over_count = 0;
        let tolerance = self
            .tolerance
            .unwrap_or_else(|| (2.0 * last_digit).max(0.005 * value.abs()));
        self.place(t_seconds, value, tolerance, last_digit);
        let window = self.window.as_mut().expect("placed above");
        window.push(t_seconds, value, last_digit);
        self.drop_restless_past(last_digit);
        self.window
            .as_ref()
            .expect("placed above")
            .motion(tolerance, last_digit)
    }

    /// Keeps the window, or begins a new one where this reading does not continue it.
    fn place(&mut self, t: f64, value: f64, tolerance: f64, last_digit: f64) {
        let continues = match &self.window {
            None => Continues::No,
            Some(window) => window.continues(t, value, tolerance, last_digit),
        };
        if continues == Continues::No {
            self.recent.clear();
        }
        let contact_t = match (&self.window, continues) {
            (Some(window), Continues::Travels) => window.contact_t,
            _ => t,
        };
        if continues != Continues::Yes {
            self.window = Some(Window::new(t, value, contact_t));
        }
        if self.recent.len() == RECENT_COUNT {
            self.recent.pop_front();
        }
        self.recent.push_back((t, value));
    }

    /// After a probe that scratched about, the readings since are judged without the ones before.
    fn drop_restless_past(&mut self, last_digit: f64) {
        let window = self.window.as_ref().expect("called with a window");
        if window.count < 2 * RECENT_COUNT as u32 {
            return;
        }
        let now = window.fit.map_or(0.0, |fit| fit.deviation);
        if now <= 3.0 * deviation_about_line(&self.recent).max(floor(last_digit)) {
            return;
        }
        let (t, value) = self.recent[0];
        let mut fresh = Window::new(t, value, window.contact_t);
        for (t, value) in &self.recent {
            fresh.push(*t, *value, last_digit);
        }
        self.window = Some(fresh);
    }
}

#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum Continues {
    Yes,
    /// It travels on, too far from where the window began.
    Travels,
    /// The probe was placed anew.
    No,
}

/// Sums of one fit: least squares on `x = 1 - exp(-t/tau)`.
#[derive(Debug, Clone, Copy, Default)]
struct Sums {
    x: f64,
    xx: f64,
    xy: f64,
}

/// The best fit of a window.
#[derive(Debug, Clone, Copy)]
struct Fit {
    /// Which time constant of the grid.
    step: usize,
    tau: f64,
    begin: f64,
    travel: f64,
    /// Standard deviation about the fit, never below what the last digit hides.
    deviation: f64,
}

/// The readings since a beginning, as sums: memory does not grow with time.
#[derive(Debug, Clone)]
struct Window {
    begin_t: f64,
    begin_value: f64,
    /// When the probe was placed; the window may have begun anew since.
    contact_t: f64,
    count: u32,
    last_t: f64,
    last_value: f64,
    lowest: f64,
    highest: f64,
    /// How often the display changed.
    changes: u32,
    y: f64,
    yy: f64,
    sums: Vec<Sums>,
    fit: Option<Fit>,
    residuals: Vec<f64>,
}

impl Window {
    fn new(t: f64, value: f64, contact_t: f64) -> Window {
        Window {
            begin_t: t,
            begin_value: value,
            contact_t,
            count: 0,
            last_t: t,
            last_value: value,
            lowest: value,
            highest: value,
            changes: 0,
            y: 0.0,
            yy: 0.0,
            sums: vec![Sums::default(); TAU_STEPS],
            fit: None,
            residuals: vec![f64::INFINITY; TAU_STEPS],
        }
    }

    fn continues(&self, t: f64, value: f64, tolerance: f64, last_digit: f64) -> Continues {
        if t < self.last_t || JUMP_TOLERANCES * tolerance < (value - self.last_value).abs() {
            return Continues::No;
        }
        if let Some(fit) = self.fit.filter(|_| FIT_COUNT_MIN <= self.count) {
            let predicted = fit.begin + fit.travel * -(-(t - self.begin_t) / fit.tau).exp_m1();
            let limit = (JUMP_DEVIATIONS * fit.deviation).max(tolerance).max(2.5 * last_digit);
            if limit < (value - predicted).abs() {
                return Continues::No;
            }
        }
        if TRAVEL_TOLERANCES * tolerance < (value - self.begin_value).abs() {
            return Continues::Travels;
        }
        Continues::Yes
    }

    fn push(&mut self, t: f64, value: f64, last_digit: f64) {
        self.changes += u32::from(last_digit / 2.0 < (value - self.last_value).abs());
        (self.last_t, self.last_value) = (t, value);
        (self.lowest, self.highest) = (self.lowest.min(value), self.highest.max(value));
        self.count += 1;
        // about the first value, so that squares keep their precision
        let y = value - self.begin_value;
        self.y += y;
        self.yy += y * y;
        for (sums, tau) in self.sums.iter_mut().zip(taus()) {
            let x = -(-(t - self.begin_t) / tau).exp_m1();
            sums.x += x;
            sums.xx += x * x;
            sums.xy += x * y;
        }
        self.fit_again(last_digit);
    }

    fn fit_again(&mut self, last_digit: f64) {
        let count = f64::from(self.count);
        let syy = self.yy - self.y * self.y / count;
        let mut best: Option<(usize, f64, Line)> = None;
        for (step, (sums, tau)) in self.sums.iter().zip(taus()).enumerate() {
            let line = Line::of(sums, self.y, count);
            let residual = line.map_or(f64::INFINITY, |line| (syy - line.slope * line.sxy).max(0.0));
            self.residuals[step] = residual;
            if let Some(line) = line
                && best.is_none_or(|(least, _, _)| residual < self.residuals[least])
            {
                best = Some((step, tau, line));
            }
        }
        self.fit = best.map(|(step, tau, line)| Fit {
            step,
            tau,
            begin: self.begin_value + self.y / count - line.slope * line.mean_x,
            travel: line.slope,
            deviation: (self.residuals[step] / (count - 3.0).max(1.0))
                .sqrt()
                .max(floor(last_digit)),
        });
    }

    fn motion(&self, tolerance: f64, last_digit: f64) -> Motion {
        if self.contact_t == self.begin_t && self.is_flat(last_digit) {
            return Motion::Settled;
        }
        let span = self.last_t - self.begin_t;
        let Some(fit) = self.fit.filter(|_| FIT_COUNT_MIN <= self.count && FIT_S_MIN <= span) else {
            return Motion::Moving;
        };
        let bound = self.worst_end(&fit);
        if bound < tolerance {
            Motion::Settled
        } else if DRIFT_S <= self.last_t - self.contact_t {
            Motion::Drifting { bound }
        } else {
            Motion::Moving
        }
    }

    fn is_flat(&self, last_digit: f64) -> bool {
        let range = self.highest - self.lowest;
        let identical = self.changes == 0;
        // between two neighbours, a second change is one back
        let flicker = range < last_digit * 1.5 && 2 <= self.changes;
        (identical && FLAT_COUNT <= self.count) || (flicker && FLICKER_COUNT <= self.count)
    }

    /// How far the end value may lie from what is shown now, over every time constant that is believed.
    fn worst_end(&self, fit: &Fit) -> f64 {
        let count = f64::from(self.count);
        let variance = fit.deviation * fit.deviation;
        let least = self.residuals[fit.step];
        let mut worst: f64 = 0.0;
        for (step, (sums, tau)) in self.sums.iter().zip(taus()).enumerate() {
            let Some(line) = Line::of(sums, self.y, count) else {
                continue;
            };
            // the true time constant may lie between the best and its neighbours
            let believed = step.abs_diff(fit.step) <= 1 || self.residuals[step] - least <= REGION * variance;
            if !believed {
                continue;
            }
            let ahead = 1.0 - line.mean_x;
            let end = self.begin_value + self.y / count + line.slope * ahead;
            let error = (variance * (1.0 / count + ahead * ahead / line.sxx)).sqrt();
            // what is shown now may be near the end by luck of its noise, so the fitted value of now counts as well
            let now_x = -(-(self.last_t - self.begin_t) / tau).exp_m1();
            let still_to_go = (line.slope * (1.0 - now_x)).abs();
            worst = worst.max(still_to_go.max((end - self.last_value).abs()) + CONFIDENCE * error);
        }
        worst
    }
}

/// One least-squares line through a window.
#[derive(Debug, Clone, Copy)]
struct Line {
    mean_x: f64,
    sxx: f64,
    sxy: f64,
    slope: f64,
}

impl Line {
    fn of(sums: &Sums, y: f64, count: f64) -> Option<Line> {
        let sxx = sums.xx - sums.x * sums.x / count;
        let sxy = sums.xy - sums.x * y / count;
        // too little spread in x: this time constant says nothing yet
        (1e-12 < sxx).then(|| Line {
            mean_x: sums.x / count,
            sxx,
            sxy,
            slope: sxy / sxx,
        })
    }
}

fn taus() -> impl Iterator<Item = f64> {
    let ratio = (TAU_S.end() / TAU_S.start()).powf(1.0 / (TAU_STEPS - 1) as f64);
    std::iter::successors(Some(*TAU_S.start()), move |tau| Some(tau * ratio)).take(TAU_STEPS)
}

/// The noise that the last digit hides: a rectangle one digit wide.
fn floor(last_digit: f64) -> f64 {
    last_digit / 12.0_f64.sqrt()
}

fn deviation_about_line(points: &VecDeque<(f64, f64)>) -> f64 {
    let count = points.len() as f64;
    let (t0, v0) = points[0];
    let (mut sums, mut y, mut yy) = (Sums::default(), 0.0, 0.0);
    for (t, value) in points {
        let (x, v) = (t - t0, value - v0);
        sums.x += x;
        sums.xx += x * x;
        sums.xy += x * v;
        y += v;
        yy += v * v;
    }
    let explained = Line::of(&sums, y, count).map_or(0.0, |line| line.slope * line.sxy);
    ((yy - y * y / count - explained).max(0.0) / (count - 2.0)).sqrt()
}

#[cfg(test)]
mod tests {
    use super::*;

    /// A linear congruential generator (Numerical Recipes' constants, from memory) with Box and Muller's transform.
    struct Noise(u64);

    impl Noise {
        fn uniform(&mut self) -> f64 {
            self.0 = self
                .0
                .wrapping_mul(6_364_136_223_846_793_005)
                .wrapping_add(1_442_695_040_888_963_407);
            ((self.0 >> 11) as f64 + 0.5) / (1u64 << 53) as f64
        }

        fn normal(&mut self) -> f64 {
            (-2.0 * self.uniform().ln()).sqrt() * (std::f64::consts::TAU * self.uniform()).cos()
        }
    }

    /// What became of many runs: when the median run was taken, and how many were taken too far off.
    struct Row {
        median_s: f64,
        wrong: u32,
    }

    const RUNS: u32 = 400;

    fn simulate(still_to_go: impl Fn(f64) -> f64, sigma: f64, digit: f64, tolerance: Option<f64>) -> Row {
        let mut noise = Noise(20_250_101);
        let mut taken = Vec::new();
        let mut wrong = 0;
        for _ in 0..RUNS {
            let mut settling = Settling::new(tolerance);
            for n in 0..2400u32 {
                let t = f64::from(n) * 0.25;
                let shown = ((1.0 - still_to_go(t) + sigma * noise.normal()) / digit).round() * digit;
                if settling.push(t, Some(shown), digit) == Motion::Settled {
                    taken.push(t);
                    wrong += u32::from(tolerance.unwrap_or(2.0 * digit) < still_to_go(t));
                    break;
                }
            }
        }
        assert_eq!(taken.len() as u32, RUNS, "every run settles in 600 s");
        taken.sort_by(f64::total_cmp);
        Row {
            median_s: taken[taken.len() / 2],
            wrong,
        }
    }

    fn tail(tau: f64) -> impl Fn(f64) -> f64 {
        move |t| if tau == 0.0 { 0.0 } else { (-t / tau).exp() }
    }

    #[test]
    fn slow_tails_are_not_taken_too_early() {
        println!("tau s | last digit | median s | taken while off by more than the tolerance, of {RUNS}");
        // the last column is a bound on patience: the tail itself needs tau * ln(100)
        for (tau, digit, median_s_max) in [
            (0.0, 0.001, 20.0),
            (0.5, 0.001, 5.0),
            (2.0, 0.001, 14.0),
            (8.0, 0.001, 50.0),
            (0.0, 0.01, 3.0),
            (0.5, 0.01, 5.0),
            (2.0, 0.01, 14.0),
            (8.0, 0.01, 50.0),
        ] {
            let row = simulate(tail(tau), 0.002, digit, Some(0.01));
            println!("{tau:5} | {digit:10} | {:8} | {}", row.median_s, row.wrong);
            assert!(row.wrong * 100 <= RUNS, "{} of {RUNS} for tau {tau}", row.wrong);
            assert!(row.median_s <= median_s_max, "{} s for tau {tau}", row.median_s);
        }
    }

    #[test]
    fn a_tail_of_two_time_constants_is_not_taken_too_early() {
        let two = |t: f64| 0.6 * (-t / 1.0).exp() + 0.4 * (-t / 8.0).exp();
        let row = simulate(two, 0.002, 0.01, Some(0.01));
        println!(
            "two time constants: median {} s, {} of {RUNS} wrong",
            row.median_s, row.wrong
        );
        assert!(row.wrong * 100 <= RUNS, "{} of {RUNS}", row.wrong);
    }

    fn motions(values: &[(usize, Option<f64>)], digit: f64) -> Vec<Motion> {
        let mut settling = Settling::new(None);
        let shown = values
            .iter()
            .flat_map(|(count, value)| std::iter::repeat_n(*value, *count));
        shown
            .enumerate()
            .map(|(n, value)| settling.push(n as f64 * 0.25, value, digit))
            .collect()
    }

    fn first_settled(values: &[(usize, Option<f64>)], digit: f64) -> Option<usize> {
        motions(values, digit)
            .iter()
            .position(|motion| *motion == Motion::Settled)
    }

    #[test]
    fn identical_displays_are_taken_after_twelve() {
        for (value, digit) in [(0.42, 0.01), (231.4, 0.1), (0.0, 0.1), (299.0, 1.0), (1.0e6, 1000.0)] {
            let first = first_settled(&[(40, Some(value))], digit).expect("it settles");
            assert!(first < 12, "{value} taken at {first}");
        }
    }

    #[test]
    fn a_flickering_last_digit_is_taken_and_a_creeping_one_is_not() {
        let flicker: Vec<_> = (0..40)
            .map(|n| (1, Some(if n % 3 == 0 { 0.43 } else { 0.42 })))
            .collect();
        assert!(first_settled(&flicker, 0.01).is_some_and(|first| first < 20));
        let creep: Vec<_> = (0..40).map(|n| (4, Some(1.0 + 0.01 * f64::from(n)))).collect();
        assert_eq!(first_settled(&creep, 0.01), None);
    }

    #[test]
    fn what_still_moves_is_drifting_with_a_bound() {
        let mut settling = Settling::new(Some(0.01));
        let motions: Vec<Motion> = (0..40)
            .map(|n| settling.push(f64::from(n) * 0.25, Some(1.0 - (-f64::from(n) / 32.0).exp()), 0.001))
            .collect();
        assert!(motions[..20].iter().all(|motion| *motion == Motion::Moving));
        let Motion::Drifting { bound } = motions[39] else {
            panic!("{:?}", motions[39])
        };
        // at 9.75 s of a tail of 8 s, 0.296 is still to go
        assert!(0.27 < bound && bound < 0.40, "{bound}");
    }

    #[test]
    fn over_range_is_settled_after_four_in_a_row() {
        let first = |values| first_settled(values, 0.01);
        assert_eq!(first(&[(10, None)]), Some(3));
        assert_eq!(first(&[(3, None), (1, Some(2.0)), (3, None)]), None);
        assert_eq!(first(&[(3, None), (1, Some(2.0)), (4, None)]), Some(7));
        // contact begins with the first number
        assert_eq!(
            first(&[(3, None), (12, Some(0.42))]),
            first(&[(12, Some(0.42))]).map(|n| n + 3)
        );
    }

    #[test]
    fn a_probe_placed_anew_begins_a_new_window() {
        let motions = motions(&[(20, Some(0.42)), (12, Some(0.47))], 0.01);
        assert_eq!(motions[19], Motion::Settled);
        assert_eq!(motions[20], Motion::Moving);
        assert_eq!(motions[31], Motion::Settled);
        // also far away, and also back in time after the caller's clock was set anew
        assert_eq!(
            first_settled(&[(5, Some(0.42)), (12, Some(55.0))], 0.01).map(|n| n >= 5 + 7),
            Some(true)
        );
        let mut settling = Settling::new(None);
        for n in 0..20 {
            settling.push(100.0 + f64::from(n), Some(0.42), 0.01);
        }
        assert_eq!(settling.push(1.0, Some(0.42), 0.01), Motion::Moving);
    }

    #[test]
    fn after_scratching_probes_a_steady_display_is_taken_soon() {
        let mut noise = Noise(7);
        let mut settling = Settling::new(None);
        let mut settled_s = None;
        for n in 0..400u32 {
            let t = f64::from(n) * 0.25;
            let wild = if t < 20.0 {
                0.5 + 0.02 * noise.normal()
            } else {
                0.42 + 0.002 * noise.normal()
            };
            let motion = settling.push(t, Some((wild / 0.01).round() * 0.01), 0.01);
            assert!(
                20.0 <= t || motion != Motion::Settled,
                "taken while it was scratching, at {t} s"
            );
            if motion == Motion::Settled && settled_s.is_none() {
                settled_s = Some(t);
            }
        }
        assert!(settled_s.is_some_and(|t| t < 45.0), "{settled_s:?}");
    }

    #[test]
    fn memory_stays_bounded() {
        let mut settling = Settling::new(Some(1e-9));
        for n in 0..20_000 {
            settling.push(f64::from(n), Some(f64::from(n % 7)), 0.01);
        }
        let window = settling.window.unwrap();
        assert!(settling.recent.len() <= RECENT_COUNT && window.sums.len() == TAU_STEPS);
    }
}
