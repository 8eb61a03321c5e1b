//! The approach of a display to its end value: a least-squares fit of `v = v_inf + b*exp(-t/tau)` on a grid of tau.
//!
//! The rule inside: what is not excluded by the readings is believed possible, and the worst of it counts.

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
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Continues {
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
pub(super) struct Fit {
    /// Which time constant of the grid.
    step: usize,
    tau: f64,
    begin: f64,
    travel: f64,
    /// Standard deviation about the fit, never below what the last digit hides.
    pub(super) deviation: f64,
}

/// The readings since a beginning, as sums: memory does not grow with time.
#[derive(Debug, Clone)]
pub(super) struct Window {
    begin_t: f64,
    begin_value: f64,
    /// When the probe was placed; the window may have begun anew since.
    pub(super) contact_t: f64,
    pub(super) count: u32,
    last_t: f64,
    last_value: f64,
    lowest: f64,
    highest: f64,
    /// How often the display changed.
    changes: u32,
    y: f64,
    yy: f64,
    sums: Box<[Sums; TAU_STEPS]>,
    pub(super) fit: Option<Fit>,
    residuals: Box<[f64; TAU_STEPS]>,
}

impl Window {
    pub(super) fn new(t: f64, value: f64, contact_t: f64) -> Window {
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
            sums: Box::new([Sums::default(); TAU_STEPS]),
            fit: None,
            residuals: Box::new([f64::INFINITY; TAU_STEPS]),
        }
    }

    pub(super) fn continues(&self, t: f64, value: f64, tolerance: f64, last_digit: f64) -> Continues {
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

    pub(super) fn push(&mut self, t: f64, value: f64, last_digit: f64) {
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

    pub(super) fn motion(&self, tolerance: f64, last_digit: f64) -> Motion {
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
pub(super) fn floor(last_digit: f64) -> f64 {
    last_digit / 12.0_f64.sqrt()
}

pub(super) fn deviation_about_line(points: &VecDeque<(f64, f64)>) -> f64 {
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
