//! The approach of a display to its end value: every tail that the readings still allow.
//!
//! The rule inside: what is not excluded by the readings is believed possible, and the worst of it counts. A tail is
//! `v = v_inf + a*exp(-t/tau)`. For each time constant of a grid least squares gives the best tail; a tail is believed
//! while its squared residuals exceed the least of all by no more than `REGION` times the variance of the noise (the
//! likelihood-ratio region). The variance is that of the residuals about the best tail, never below what the last
//! digit hides, and it is raised where residuals resemble their neighbours, by von Neumann's ratio (from memory):
//! a staircase of last digits, or an approach that is no single exponential, says less than as many independent readings.

use std::collections::VecDeque;
use std::sync::LazyLock;

/// What a display is doing.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Motion {
    /// Too early to say.
    Moving,
    /// It may still move by this much, in the unit of the values: all that is to come of one tail of up to 300 s, or of
    /// several where the slowest takes no more than 20 s or thrice the time since contact; of a ramp, what is to come
    /// in the next 300 s. Of a display too noisy to be taken, the noise as well.
    Drifting {
        /// The most it may still move, not below zero.
        bound: f64,
    },
    /// It is where it will stay.
    Settled,
}

/// The grid of time constants in seconds. Up to 20 s is what the figures in `settle` cover; beyond that, up to the
/// last, a tail is not taken early either, but nothing is promised about how late.
const TAU_S_MIN: f64 = 0.05;
const TAU_S_MAX: f64 = 300.0;
/// Steps of the grid; neighbours differ by 3 %.
const TAU_STEPS: usize = 295;
/// How much worse than the best, in variances, a tail may fit and still be believed. A single look at 0.1 % asks for
/// 9.5 (chi-square, one degree of freedom, one side); the rest pays for a look at every reading. Chosen on training seeds.
const REGION: f64 = 16.0;
/// Widens the region where few readings leave the variance uncertain: times 1 + this / degrees of freedom.
const REGION_FEW: f64 = 10.0;
/// A tail is settled at this part of the tolerance; the rest pays for the grid and for display steps.
const MARGIN: f64 = 0.85;
/// The least tail that is looked for: this many tolerances high at the beginning, and this many a second steep.
/// Below that, and while no tail at all is believed as well, a display is called flat: no finite watch excludes all
/// slower ones.
const TAIL_TOLERANCES: f64 = 5.0;
const TAIL_TOLERANCES_PER_S: f64 = 0.25;
/// A second, slower tail may hide behind the one that is seen. The bound allows for one of this many seconds, or of
/// this many times the time since contact, that has all of the slope there is now.
const HIDDEN_S_MIN: f64 = 20.0;
const HIDDEN_TIMES: f64 = 3.0;
/// Above this time constant, which no tail of 20 s is taken for, a hidden tail also keeps a reading from being taken:
/// absorption has no time constant and looks like a tail that grows longer.
const SLOW_S: f64 = 40.0;
/// The latest readings may not trend away from the tail: at most so many of them, none of this part of the window
/// at its beginning; so many standard errors and last digits are no trend.
const LATE_COUNT_MAX: usize = 24;
const LATE_SKIPPED: f64 = 1.0 / 3.0;
const LATE_ERRORS: f64 = 3.5;
const LATE_DIGITS: f64 = 1.2;
/// Readings below which no fit is trusted.
const COUNT_MIN: u32 = 12;
/// The most noise at which a reading is taken, in tolerances, and by how much less it is for few readings: where Wald's ratio
/// of noise of 0.5 tolerances to one of 0.6 is even, and 0.24 above it for few.
const NOISE_TOLERANCES: f64 = 0.546;
const NOISE_FEW: f64 = 1.3;
/// A slow part can hide while a quick one is on its way: where the best tail has a time constant of at most so many seconds, so
/// many readings must have come after it was within this many tolerances of its end.
const QUICK_S: f64 = 0.7;
const QUICK_TOLERANCES: f64 = 0.2;
const QUICK_COUNT: usize = 8;
/// Parameters of a tail: end, height, time constant.
const PARAMETERS: f64 = 3.0;
/// The least and greatest belief in how much residuals resemble their neighbours.
const ALIKE_MAX: f64 = 0.98;

static TAUS_S: LazyLock<Vec<f64>> = LazyLock::new(|| {
    let ratio = (TAU_S_MAX / TAU_S_MIN).powf(1.0 / (TAU_STEPS - 1) as f64);
    std::iter::successors(Some(TAU_S_MIN), |tau| Some(tau * ratio))
        .take(TAU_STEPS)
        .collect()
});

/// Sums for one time constant: least squares on `x = 1 - exp(-t/tau)`, and on its steps from reading to reading.
#[derive(Debug, Clone, Copy, Default)]
struct Sums {
    x: f64,
    xx: f64,
    xy: f64,
    step_xx: f64,
    step_xy: f64,
    last_x: f64,
}

/// The readings since a beginning, as sums: memory does not grow with time.
#[derive(Debug, Clone)]
pub(super) struct Window {
    begin_t: f64,
    begin_value: f64,
    pub(super) count: u32,
    last_y: f64,
    y: f64,
    yy: f64,
    step_yy: f64,
    sums: Vec<Sums>,
}

/// What the readings of one window allow.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Judgement {
    /// No tail that is believed and looked for is still off by more than the tolerance.
    pub(super) arrived: bool,
    /// The noise is little enough for a reading to be taken.
    pub(super) quiet: bool,
    /// The farthest that any believed tail still has to go.
    pub(super) bound: f64,
    /// Standard deviation about the best tail, never below what the last digit hides.
    pub(super) deviation: f64,
    /// How much the display scatters from reading to reading about the best tail; what bends away from it does not count.
    pub(super) scatter: f64,
    /// Where the best tail is at the last reading.
    pub(super) now: f64,
}

/// The best tail of one time constant.
#[derive(Debug, Clone, Copy)]
struct Tail {
    height: f64,
    residual: f64,
    /// Squares of `x` about its mean.
    spread: f64,
}

impl Window {
    /// Begins with its first reading.
    pub(super) fn new(t: f64, value: f64) -> Window {
        let mut window = Window {
            begin_t: t,
            begin_value: value,
            count: 0,
            last_y: 0.0,
            y: 0.0,
            yy: 0.0,
            step_yy: 0.0,
            sums: vec![Sums::default(); TAU_STEPS],
        };
        window.push(t, value);
        window
    }

    /// How far a value is from where the window began.
    pub(super) fn travel(&self, value: f64) -> f64 {
        (value - self.begin_value).abs()
    }

    pub(super) fn push(&mut self, t: f64, value: f64) {
        // about the first value, so that squares keep their precision
        let y = value - self.begin_value;
        let step_y = y - self.last_y;
        self.count += 1;
        self.last_y = y;
        self.y += y;
        self.yy += y * y;
        self.step_yy += step_y * step_y;
        let elapsed = t - self.begin_t;
        for (sums, tau) in self.sums.iter_mut().zip(TAUS_S.iter()) {
            let x = -(-elapsed / tau).exp_m1();
            let step_x = x - sums.last_x;
            sums.last_x = x;
            sums.x += x;
            sums.xx += x * x;
            sums.xy += x * y;
            sums.step_xx += step_x * step_x;
            sums.step_xy += step_x * step_y;
        }
    }

    /// What the readings allow `since_contact` seconds after contact, or `None` while there are too few. `latest` are
    /// the latest readings of this window or more.
    pub(super) fn judge(
        &self,
        tolerance: f64,
        last_digit: f64,
        since_contact: f64,
        latest: &VecDeque<(f64, f64)>,
    ) -> Option<Judgement> {
        if self.count < COUNT_MIN {
            return None;
        }
        let tails: Vec<Option<Tail>> = self.sums.iter().map(|sums| self.tail(sums)).collect();
        let (best, tail) = tails
            .iter()
            .enumerate()
            .filter_map(|(step, tail)| tail.map(|tail| (step, tail)))
            .min_by(|(_, a), (_, b)| a.residual.total_cmp(&b.residual))?;
        let free = f64::from(self.count) - PARAMETERS;
        let variance = tail.residual / free;
        let least = floor(last_digit).powi(2);
        let alike = self.alike(&self.sums[best], tail);
        let believed = (variance * (1.0 + alike) / (1.0 - alike)).max(least) * REGION * (1.0 + REGION_FEW / free);
        let hidden_s = (HIDDEN_TIMES * since_contact).clamp(HIDDEN_S_MIN, TAU_S_MAX);
        let trend = self.trend(best, tail, tolerance, last_digit, latest);
        let (mut arrived, mut bound) = (trend.is_none(), trend.unwrap_or(0.0) * hidden_s);
        arrived &= self.stood_after(best, tail, tolerance, latest);
        for (step, ((sums, tau), other)) in self.sums.iter().zip(TAUS_S.iter()).zip(&tails).enumerate() {
            let Some(other) = other else { continue };
            let spare = believed - (other.residual - tail.residual);
            // the true time constant may lie between the best and its neighbours
            if spare < 0.0 && 1 < step.abs_diff(best) {
                continue;
            }
            let either_way = (spare.max(0.0) / other.spread).sqrt();
            let mut height = other.height.abs() + either_way;
            if self.yy == 0.0 {
                // no display differed from the first: since then it travelled one last digit at most
                height = height.min(last_digit / sums.last_x);
            }
            let to_go = height * (1.0 - sums.last_x);
            let hidden = to_go * (hidden_s / tau).max(1.0);
            bound = bound.max(hidden);
            let is_seen = either_way < other.height.abs();
            let looked_for = is_seen || TAIL_TOLERANCES.max(TAIL_TOLERANCES_PER_S * tau) * tolerance <= height;
            let counts = if *tau <= SLOW_S { to_go } else { hidden };
            arrived &= !(looked_for && MARGIN * tolerance <= counts);
        }
        Some(Judgement {
            arrived,
            // what rounding to the last digit adds is no noise (Sheppard's correction)
            quiet: (variance - least).max(0.0).sqrt() < noise_max(free) * tolerance,
            bound: bound / MARGIN,
            deviation: variance.max(least).sqrt(),
            scatter: (self.steps(&self.sums[best], tail) / (2.0 * f64::from(self.count - 1))).sqrt(),
            now: self.at(best, tail, self.sums[best].last_x),
        })
    }

    /// Where a tail is at `x`.
    fn at(&self, step: usize, tail: Tail, x: f64) -> f64 {
        let count = f64::from(self.count);
        self.begin_value + self.y / count + tail.height * (x - self.sums[step].x / count)
    }

    /// How steeply at most the latest readings leave the tail, if they do so for an end more than the tolerance away.
    fn trend(
        &self,
        step: usize,
        tail: Tail,
        tolerance: f64,
        last_digit: f64,
        latest: &VecDeque<(f64, f64)>,
    ) -> Option<f64> {
        let late = (f64::from(self.count) * (1.0 - LATE_SKIPPED)) as usize;
        let count = late.min(LATE_COUNT_MAX).min(latest.len());
        let rest: Vec<(f64, f64)> = latest
            .iter()
            .skip(latest.len() - count)
            .map(|(t, value)| {
                let x = -(-(t - self.begin_t) / TAUS_S[step]).exp_m1();
                (*t, value - self.at(step, tail, x))
            })
            .collect();
        let line = Line::of(rest.iter())?;
        let span = rest[count - 1].0 - rest[0].0;
        let error = line.deviation.max(floor(last_digit)) / line.spread.sqrt();
        let no_trend = (LATE_ERRORS * error).max(LATE_DIGITS * last_digit / span);
        (no_trend.max(tolerance / HIDDEN_S_MIN) < line.slope.abs()).then(|| line.slope.abs() + no_trend)
    }

    /// Whether enough readings came after a quick tail was at its end.
    fn stood_after(&self, step: usize, tail: Tail, tolerance: f64, latest: &VecDeque<(f64, f64)>) -> bool {
        let tau = TAUS_S[step];
        let end_t = self.begin_t + tau * (tail.height.abs() / (QUICK_TOLERANCES * tolerance)).ln();
        QUICK_S < tau || QUICK_COUNT <= latest.iter().filter(|(t, _)| end_t <= *t).count()
    }

    fn tail(&self, sums: &Sums) -> Option<Tail> {
        let count = f64::from(self.count);
        let spread = sums.xx - sums.x * sums.x / count;
        let along = sums.xy - sums.x * self.y / count;
        // too little spread in x, where all readings came at one moment: nothing is said
        (1e-12 < spread).then(|| Tail {
            height: along / spread,
            residual: (self.yy - self.y * self.y / count - along * along / spread).max(0.0),
            spread,
        })
    }

    /// The squares of the steps from each residual to the next.
    fn steps(&self, sums: &Sums, tail: Tail) -> f64 {
        let steps = self.step_yy - 2.0 * tail.height * sums.step_xy + tail.height.powi(2) * sums.step_xx;
        steps.max(0.0)
    }

    /// The correlation of a residual with the next one, from von Neumann's ratio, not below zero.
    fn alike(&self, sums: &Sums, tail: Tail) -> f64 {
        let count = f64::from(self.count);
        let ratio = self.steps(sums, tail) / tail.residual * count / (count - 1.0);
        if ratio.is_finite() {
            (1.0 - ratio / 2.0).clamp(0.0, ALIKE_MAX)
        } else {
            0.0
        }
    }
}

/// The most noise in tolerances, for the degrees of freedom that are left.
///
/// With few readings a noisy display looks quiet by luck, so less noise is asked for then.
fn noise_max(free: f64) -> f64 {
    let free_min = f64::from(COUNT_MIN) - PARAMETERS;
    NOISE_TOLERANCES * (1.0 - NOISE_FEW / free.max(free_min)).sqrt()
}

/// The noise that the last digit hides: a rectangle one digit wide.
pub(super) fn floor(last_digit: f64) -> f64 {
    last_digit / 12.0_f64.sqrt()
}

/// A least-squares line through points.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Line {
    slope: f64,
    /// Standard deviation about the line.
    pub(super) deviation: f64,
    /// Squares of the times about their mean.
    spread: f64,
}

impl Line {
    /// `None` for fewer than three points or points of one moment.
    pub(super) fn of<'a>(points: impl ExactSizeIterator<Item = &'a (f64, f64)> + Clone) -> Option<Line> {
        let count = points.len() as f64;
        let (t, v) = points
            .clone()
            .fold((0.0, 0.0), |(t, v), point| (t + point.0, v + point.1));
        let (mean_t, mean_v) = (t / count, v / count);
        let (mut tt, mut tv, mut vv) = (0.0, 0.0, 0.0);
        for (t, v) in points {
            tt += (t - mean_t) * (t - mean_t);
            tv += (t - mean_t) * (v - mean_v);
            vv += (v - mean_v) * (v - mean_v);
        }
        (2.0 < count && 0.0 < tt).then(|| Line {
            slope: tv / tt,
            deviation: ((vv - tv * tv / tt).max(0.0) / (count - 2.0)).sqrt(),
            spread: tt,
        })
    }

    /// How far a tail of the longest time constant goes that is now as steep as this line, with its error.
    pub(super) fn bound(&self) -> f64 {
        TAU_S_MAX * (self.slope.abs() + LATE_ERRORS * self.deviation / self.spread.sqrt())
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn window(count: u32, value: impl Fn(f64) -> f64) -> Window {
        let mut window = Window::new(0.0, value(0.0));
        for n in 1..count {
            let t = f64::from(n) * 0.25;
            window.push(t, value(t));
        }
        window
    }

    #[test]
    fn the_grid_spans_its_range_in_steps_of_three_percent() {
        assert_eq!(TAUS_S.len(), TAU_STEPS);
        assert!((TAUS_S[TAU_STEPS - 1] / TAU_S_MAX - 1.0).abs() < 1e-9);
        assert!((TAUS_S[1] / TAUS_S[0] - 1.03).abs() < 0.001);
    }

    fn judge(count: u32, value: impl Fn(f64) -> f64, last_digit: f64) -> Option<Judgement> {
        let points = (0..count).map(|n| f64::from(n) * 0.25).map(|t| (t, value(t)));
        let latest = points.skip((count as usize).saturating_sub(24)).collect();
        window(count, &value).judge(1.0, last_digit, f64::from(count - 1) * 0.25, &latest)
    }

    #[test]
    fn a_tail_without_noise_is_found_and_bounded() {
        for (tau, at_s) in [(0.5, 4.0), (2.0, 8.0), (8.0, 30.0), (30.0, 50.0), (60.0, 90.0)] {
            let judgement = judge((at_s * 4.0) as u32 + 1, |t| 40.0 + 10.0 * (-t / tau).exp(), 0.001).unwrap();
            let to_go = 10.0 * (-at_s / tau).exp();
            assert!((judgement.now - 40.0 - to_go).abs() < 0.02, "{judgement:?}");
            assert!(to_go <= judgement.bound, "{to_go}: {judgement:?}");
            // a second tail of thrice the time since contact may hide
            let hidden = 1.0_f64.max((3.0 * at_s).clamp(20.0, 300.0) / tau);
            assert!(judgement.bound < to_go * hidden * 1.3 + 0.3, "{to_go}: {judgement:?}");
            assert_eq!(judgement.arrived, to_go < 0.8, "{to_go}: {judgement:?}");
        }
    }

    #[test]
    fn a_second_tail_behind_a_quick_one_is_seen_as_a_trend() {
        let both = |t: f64| 20.0 * (-t / 0.1).exp() + 9.0 * (-t / 20.0).exp();
        assert!(!judge(12, both, 0.1).unwrap().arrived);
        assert!(judge(12, |t| 20.0 * (-t / 0.1).exp(), 0.1).unwrap().arrived);
        assert_eq!(judge(11, both, 0.1), None);
    }

    #[test]
    fn residuals_that_resemble_their_neighbours_are_seen() {
        let alike = |value: fn(f64) -> f64| {
            let window = window(200, value);
            let tail = window.tail(&window.sums[100]).unwrap();
            window.alike(&window.sums[100], tail)
        };
        assert!(0.9 < alike(|t| (t / 4.0).sin()));
        assert_eq!(alike(|t| if (t * 4.0) as i32 % 2 == 0 { 0.0 } else { 1.0 }), 0.0);
        assert_eq!(alike(|_| 1.0), 0.0);
    }

    #[test]
    fn less_noise_is_asked_of_few_readings() {
        for (count, expected) in [(12.0, 0.505), (33.0, 0.534), (250.0, 0.545)] {
            assert!((noise_max(count - PARAMETERS) - expected).abs() < 0.001, "{count}");
        }
    }

    #[test]
    fn readings_at_one_moment_say_nothing() {
        let mut window = Window::new(5.0, 1.0);
        for _ in 0..20 {
            window.push(5.0, 1.0);
        }
        assert_eq!(window.judge(1.0, 0.1, 0.0, &VecDeque::from([(5.0, 1.0); 21])), None);
    }

    #[test]
    fn deviation_about_a_line_is_that_of_the_rest() {
        assert_eq!(Line::of([(0.0, 0.0), (1.0, 1.0)].iter()), None);
        assert_eq!(Line::of([(5.0, 1.0); 4].iter()), None);
        let points: Vec<(f64, f64)> = (0..4)
            .map(|n| (f64::from(n), [0.0, 3.0, 3.0, 6.0][n as usize]))
            .collect();
        let line = Line::of(points.iter()).unwrap();
        // the line 0.3 + 1.8 t leaves -0.3, 0.9, -0.9, 0.3
        assert!((line.deviation - 0.9_f64.sqrt()).abs() < 1e-12 && (line.slope - 1.8).abs() < 1e-12);
    }
}
