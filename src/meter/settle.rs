//! Is the display where it will stay?
//!
//! The rule inside: a quiet window proves nothing about a slow tail, so the end value is predicted. The readings
//! since contact are fitted with `v = v_inf + b*exp(-t/tau)` for every time constant on a grid; all time constants
//! whose residual is not clearly worse than the best are believed at once, and the display is settled only when the
//! farthest end value among them, with its confidence, lies within the tolerance of what is shown now. Binary floats
//! predict here; the reading that is taken keeps its exact digits.

use std::collections::VecDeque;

use rust_decimal::Decimal;
use rust_decimal::prelude::ToPrimitive;

use crate::pure::quantity::Shown;
use crate::pure::reading::Reading;

pub use super::approach::Motion;
use super::approach::{Continues, Window, deviation_about_line, floor};

/// Over-range frames in a row that are over-range for good.
const OVER_COUNT: u32 = 4;
/// The least weight of a last digit; an exponent may write a smaller one, which no display resolves.
const LAST_DIGIT_MIN: f64 = 1e-30;
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

    /// Takes one reading in its plain unit, so that a change of range is no jump.
    pub fn push_reading(&mut self, t_seconds: f64, reading: &Reading) -> Motion {
        let plain = |amount: Decimal| {
            (amount * reading.prefix.factor())
                .to_f64()
                .expect("a decimal has a size")
        };
        match &reading.shown {
            Shown::Digits(digits) => {
                let last_digit = plain(digits.last_digit()).max(LAST_DIGIT_MIN);
                self.push(t_seconds, Some(plain(digits.value())), last_digit)
            }
            Shown::Above(_) | Shown::Over => self.push(t_seconds, None, 1.0),
        }
    }

    /// Takes one display: `t_seconds` on any clock, the value or `None` for over-range, and the weight of the display's
    /// last digit, above zero. A clock that goes back begins a new window.
    pub fn push(&mut self, t_seconds: f64, value: Option<f64>, last_digit: f64) -> Motion {
        assert!(t_seconds.is_finite(), "a clock shows finite seconds");
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
        assert!(value.is_finite(), "a display shows finite numbers");
        assert!(0.0 < last_digit && last_digit.is_finite(), "a last digit has a weight");
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

#[cfg(test)]
mod tests {
    use super::*;
    use crate::pure::reading::Function;

    /// A linear congruential generator (constants of Knuth's MMIX, from memory) with Box and Muller's transform.
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

    #[test]
    fn a_probe_placed_anew_in_mid_tail_is_not_taken_too_early() {
        // contact is lost at 6 s for two readings; the charge that was there stays
        let mut noise = Noise(3);
        let mut wrong = 0;
        for _ in 0..100 {
            let mut settling = Settling::new(Some(0.01));
            let taken = (0..2400).find(|n| {
                let t = f64::from(*n) * 0.25;
                let shown = ((1.0 - tail(8.0)(t) + 0.002 * noise.normal()) * 100.0).round() / 100.0;
                let value = (*n != 24 && *n != 25).then_some(shown);
                settling.push(t, value, 0.01) == Motion::Settled
            });
            wrong += u32::from(0.01 < tail(8.0)(f64::from(taken.expect("it settles")) * 0.25));
        }
        assert!(wrong <= 1, "{wrong} of 100");
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
    fn readings_are_watched_in_their_plain_unit() {
        let motions = |texts: [&str; 2]| -> Vec<Motion> {
            let mut settling = Settling::new(None);
            let reading = |n: usize| Reading::typed(texts[n % 2], Function::Resistance).unwrap();
            (0..24)
                .map(|n| settling.push_reading(n as f64 * 0.25, &reading(n)))
                .collect()
        };
        // the range changes to and fro
        assert_eq!(motions(["999 ohm", "0.999 kohm"])[11], Motion::Settled);
        assert_eq!(motions(["OL", ">299"])[3], Motion::Settled);
        assert_eq!(motions(["0E-30", "0E-30"])[11], Motion::Settled);
    }

    #[test]
    fn memory_stays_bounded() {
        let mut settling = Settling::new(Some(1e-9));
        for n in 0..20_000 {
            settling.push(f64::from(n), Some(f64::from(n % 7)), 0.01);
        }
        // the fit itself is a fixed number of sums
        assert!(settling.recent.len() <= RECENT_COUNT && settling.recent.capacity() <= 2 * RECENT_COUNT);
    }
}
