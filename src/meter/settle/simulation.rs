//! Simulated displays, and the judge who knows: what settling is measured against. Shared by tests and the bench.
//!
//! The rule inside: nothing here knows how settling works. Everything is in tolerances and seconds; a display shows
//! `end + to_go(t) + noise`, rounded to its last digit, every quarter of a second from contact on. A reading is wrong if
//! `to_go` is above one tolerance when it is taken; noise does not count.

/// Readings a second.
const RATE: f64 = 4.0;
/// Seconds after which a run is given up.
const RUN_S: f64 = 600.0;
/// What the requirement grants over the informed judge: this many times its time, and so many readings.
const GRANTED_TIMES: f64 = 1.3;
const GRANTED_READINGS: f64 = 10.0;

/// SplitMix64 (constants from memory) with Box and Muller's transform.
pub(super) struct Noise(pub u64);

impl Noise {
    /// Above 0, below 1.
    pub(super) fn uniform(&mut self) -> f64 {
        self.0 = self.0.wrapping_add(0x9E37_79B9_7F4A_7C15);
        let mut z = self.0;
        z = (z ^ (z >> 30)).wrapping_mul(0xBF58_476D_1CE4_E5B9);
        z = (z ^ (z >> 27)).wrapping_mul(0x94D0_49BB_1331_11EB);
        z ^= z >> 31;
        ((z >> 11) as f64 + 0.5) / (1u64 << 53) as f64
    }

    /// Mean 0, standard deviation 1.
    pub(super) fn normal(&mut self) -> f64 {
        (-2.0 * self.uniform().ln()).sqrt() * (std::f64::consts::TAU * self.uniform()).cos()
    }
}

/// A display: standard deviation of its Gaussian noise and weight of its last digit, in tolerances.
#[derive(Debug, Clone, Copy)]
pub(super) struct Display {
    pub sigma: f64,
    pub digit: f64,
}

impl Display {
    /// What is shown of a value.
    pub(super) fn show(&self, value: f64, noise: &mut Noise) -> f64 {
        ((value + self.sigma * noise.normal()) / self.digit).round() * self.digit
    }
}

/// The judge who knows the time constant, the noise and the last digit: what is to go is `a*x` with `x = exp(-t/tau)`
/// and the least-squares `a`; it takes as soon as `(|a| + 3.09*se(a)) * x` is below one tolerance (3.09 standard errors:
/// 0.1 % on one side). Two readings at least, since end and height are unknown to it.
pub(super) struct Informed {
    tau: f64,
    deviation: f64,
    count: f64,
    mean_x: f64,
    mean_y: f64,
    spread: f64,
    along: f64,
}

impl Informed {
    pub(super) fn new(tau: f64, display: Display) -> Informed {
        Informed {
            tau,
            deviation: (display.sigma.powi(2) + display.digit.powi(2) / 12.0).sqrt(),
            count: 0.0,
            mean_x: 0.0,
            mean_y: 0.0,
            spread: 0.0,
            along: 0.0,
        }
    }

    /// Takes one reading; says whether it would take it (Welford's running sums).
    pub(super) fn takes(&mut self, t: f64, y: f64) -> bool {
        let x = (-t / self.tau).exp();
        self.count += 1.0;
        let (from_x, from_y) = (x - self.mean_x, y - self.mean_y);
        self.mean_x += from_x / self.count;
        self.mean_y += from_y / self.count;
        self.spread += from_x * (x - self.mean_x);
        self.along += from_x * (y - self.mean_y);
        let height = self.along / self.spread;
        2.0 <= self.count && (height.abs() + 3.09 * self.deviation / self.spread.sqrt()) * x < 1.0
    }
}

/// The judge who knows where a flat display stands, and that its noise is either half the tolerance or the noise it has: Wald's
/// ratio of the two. It may look as early as the requirement asks of a tail of 0.1 s, after a dozen readings, and is as strict as
/// it can be while half of the displays with noise of half the tolerance are taken at that first look.
pub(super) struct InformedOfNoise {
    level: f64,
    /// Variances of the two.
    quiet: f64,
    noisy: f64,
    count: f64,
    squares: f64,
}

impl InformedOfNoise {
    pub(super) fn new(level: f64, display: Display) -> InformedOfNoise {
        let rounding = display.digit.powi(2) / 12.0;
        InformedOfNoise {
            level,
            quiet: 0.25 + rounding,
            noisy: display.sigma.powi(2) + rounding,
            count: 0.0,
            squares: 0.0,
        }
    }

    /// The median of chi-squared for 12 degrees of freedom (Wilson and Hilferty's 12 * (1 - 2/108)^3, right to 0.1 %).
    const MEDIAN_12: f64 = 11.345;

    /// How much more likely the lesser noise is, as a logarithm.
    fn ratio(&self, count: f64, squares: f64) -> f64 {
        0.5 * (count * (self.noisy / self.quiet).ln() - squares * (1.0 / self.quiet - 1.0 / self.noisy))
    }

    /// Takes one reading; says whether it would take it.
    pub(super) fn takes(&mut self, y: f64) -> bool {
        self.count += 1.0;
        self.squares += (y - self.level).powi(2);
        12.0 <= self.count
            && (self.noisy <= self.quiet
                || self.ratio(12.0, Self::MEDIAN_12 * self.quiet) <= self.ratio(self.count, self.squares))
    }
}

/// What is granted over the time of a judge who knows.
pub(super) fn granted_s(informed_s: f64) -> f64 {
    GRANTED_TIMES * informed_s + GRANTED_READINGS / RATE
}

/// One cell of the table: a tail that is `height` off at contact.
#[derive(Debug, Clone, Copy)]
pub(super) struct Cell {
    pub tau: f64,
    pub height: f64,
    pub display: Display,
}

/// What became of the runs of one cell.
#[derive(Debug, Clone, Copy)]
pub(super) struct Row {
    pub runs: usize,
    pub informed_s: f64,
    pub informed_wrong: usize,
    pub taken_s: f64,
    pub taken_95_s: f64,
    pub wrong: usize,
    pub never: usize,
}

impl Row {
    pub(super) const HEAD: &'static str =
        " tau s  height  sigma  digit | informed s  wrong | taken s    95 %  granted s  wrong  never |  runs";

    /// The longest median that is granted.
    pub(super) fn granted_s(&self) -> f64 {
        granted_s(self.informed_s)
    }

    pub(super) fn line(&self, cell: &Cell) -> String {
        format!(
            "{:6} {:7} {:6} {:6} | {:10.2} {:6} | {:7.2} {:7.2} {:10.2} {:6} {:6} | {:5}",
            cell.tau,
            cell.height,
            cell.display.sigma,
            cell.display.digit,
            self.informed_s,
            self.informed_wrong,
            self.taken_s,
            self.taken_95_s,
            self.granted_s(),
            self.wrong,
            self.never,
            self.runs,
        )
    }
}

/// Walks one display until `takes` says yes; gives the time, or `None` after `run_s`.
pub(super) fn walk(
    run_s: f64,
    mut reading: impl FnMut(f64) -> f64,
    mut takes: impl FnMut(f64, f64) -> bool,
) -> Option<f64> {
    (0..(run_s * RATE) as u32)
        .map(|n| f64::from(n) / RATE)
        .find(|t| takes(*t, reading(*t)))
}

/// Runs one cell, half of the runs from above and half from below. `judge` makes a judge that says whether it takes.
pub(super) fn measure<J: FnMut(f64, f64) -> bool>(cell: &Cell, runs: usize, seed: u64, judge: impl Fn() -> J) -> Row {
    let (mut taken, mut informed) = (Vec::with_capacity(runs), Vec::with_capacity(runs));
    let (mut wrong, mut informed_wrong, mut never) = (0, 0, 0);
    let mut seeds = Noise(seed);
    for run in 0..runs {
        let height = if run % 2 == 0 { cell.height } else { -cell.height };
        let to_go = |t: f64| height * (-t / cell.tau).exp();
        let end = 300.0 + seeds.uniform();
        // both judges see the same readings
        let stream = seeds.0;
        let reading = |noise: &mut Noise, t: f64| cell.display.show(end + to_go(t), noise);
        let mut noise = Noise(stream);
        let took = walk(RUN_S, |t| reading(&mut noise, t), judge());
        never += usize::from(took.is_none());
        wrong += usize::from(took.is_some_and(|t| 1.0 < to_go(t).abs()));
        taken.push(took.unwrap_or(f64::INFINITY));
        let mut noise = Noise(stream);
        let mut knows = Informed::new(cell.tau, cell.display);
        let knew = walk(RUN_S, |t| reading(&mut noise, t), |t, y| knows.takes(t, y)).expect("it is sure in the end");
        informed_wrong += usize::from(1.0 < to_go(knew).abs());
        informed.push(knew);
        seeds = Noise(stream ^ 0x5DEE_CE66_D1CE_4E5B);
        seeds.uniform();
    }
    taken.sort_by(f64::total_cmp);
    informed.sort_by(f64::total_cmp);
    Row {
        runs,
        informed_s: informed[runs / 2],
        informed_wrong,
        taken_s: taken[runs / 2],
        taken_95_s: taken[runs * 95 / 100],
        wrong,
        never,
    }
}

/// A slow approach: what is to go at a time, and how far ahead a bound on it looks.
pub(super) struct Slow {
    pub name: &'static str,
    pub to_go: fn(f64) -> f64,
    /// Whether the slow part stands behind a much higher quick one. Where the time that is granted for the quick one alone is too
    /// short for any judge to exclude a slow one, nothing is asserted of when it is taken; the bench works out where that is.
    pub hides: bool,
}

impl Slow {
    /// What is to come in the next 300 s: for a tail nearly all, and all that can be said of a ramp.
    pub(super) fn ahead(&self, t: f64) -> f64 {
        ((self.to_go)(t) - (self.to_go)(t + 300.0)).abs()
    }
}

/// Slow charging and what else is no single quick exponential, in tolerances.
pub(super) const SLOW: [Slow; 9] = [
    Slow {
        name: "tail of 30 s, 300 high",
        to_go: |t| 300.0 * (-t / 30.0).exp(),
        hides: false,
    },
    Slow {
        name: "tail of 60 s, 100 high",
        to_go: |t| -100.0 * (-t / 60.0).exp(),
        hides: false,
    },
    Slow {
        name: "tail of 200 s, 1000 high",
        to_go: |t| 1000.0 * (-t / 200.0).exp(),
        hides: false,
    },
    Slow {
        name: "tails of 1 s and 8 s, 60 and 40 high",
        to_go: |t| 60.0 * (-t).exp() + 40.0 * (-t / 8.0).exp(),
        hides: false,
    },
    Slow {
        name: "tails of 2 s and 30 s, 700 and 300 high",
        to_go: |t| -700.0 * (-t / 2.0).exp() - 300.0 * (-t / 30.0).exp(),
        hides: false,
    },
    Slow {
        name: "tails of 0.2 s and 20 s, 990 and 10 high",
        to_go: |t| 990.0 * (-t / 0.2).exp() + 10.0 * (-t / 20.0).exp(),
        hides: true,
    },
    Slow {
        name: "ramp of 1 a second without end",
        to_go: |t| 10_000.0 - t,
        hides: false,
    },
    Slow {
        name: "ramp of 5 a second that ends at 60 s",
        to_go: |t| 5.0 * (60.0 - t).max(0.0),
        hides: false,
    },
    Slow {
        name: "absorption, 300 high, falling as 1/(1 + t/10 s)",
        to_go: |t| -300.0 / (1.0 + t / 10.0),
        hides: false,
    },
];

/// What became of the bounds along slow approaches.
#[derive(Debug, Clone, Copy, Default)]
pub(super) struct Bounds {
    pub runs: usize,
    pub drifting: usize,
    pub covered: usize,
    /// Runs taken while more than one tolerance was to come in the next 300 s.
    pub wrong: usize,
    pub never: usize,
    pub last_taken_s: f64,
    /// Sum of bound over what was to come, to see how wide the bounds are.
    pub times: f64,
}

/// What a judge of slow approaches says of one reading.
pub(super) enum Said {
    Nothing,
    ToGo(f64),
    Takes,
}

/// Runs one slow approach until it is taken.
pub(super) fn bounds<J: FnMut(f64, f64) -> Said>(
    slow: &Slow,
    display: Display,
    runs: usize,
    run_s: f64,
    seed: u64,
    judge: impl Fn() -> J,
) -> Bounds {
    let mut found = Bounds {
        runs,
        ..Bounds::default()
    };
    let mut noise = Noise(seed);
    for _ in 0..runs {
        let end = 300.0 + noise.uniform();
        let mut says = judge();
        let took = walk(
            run_s,
            |t| display.show(end + (slow.to_go)(t), &mut noise),
            |t, y| match says(t, y) {
                Said::Nothing => false,
                Said::ToGo(bound) => {
                    found.drifting += 1;
                    found.covered += usize::from(slow.ahead(t) <= bound);
                    found.times += bound / slow.ahead(t).max(1e-3);
                    false
                }
                Said::Takes => true,
            },
        );
        found.never += usize::from(took.is_none());
        found.wrong += usize::from(took.is_some_and(|t| 1.0 < slow.ahead(t)));
        found.last_taken_s = found.last_taken_s.max(took.unwrap_or(f64::INFINITY));
    }
    found
}

/// Of so many runs of a flat display, how many were taken within `run_s`, and the median time.
pub(super) fn flat<J: FnMut(f64, f64) -> bool>(
    display: Display,
    runs: usize,
    run_s: f64,
    seed: u64,
    judge: impl Fn() -> J,
) -> (usize, f64) {
    let mut levels = Noise(seed ^ 0x5DEE_CE66_D1CE_4E5B);
    flat_of(|| 300.0 + levels.uniform(), display, runs, run_s, seed, judge)
}

/// The same where all displays stand at one level.
pub(super) fn flat_at<J: FnMut(f64, f64) -> bool>(
    level: f64,
    display: Display,
    runs: usize,
    run_s: f64,
    seed: u64,
    judge: impl Fn() -> J,
) -> (usize, f64) {
    flat_of(|| level, display, runs, run_s, seed, judge)
}

fn flat_of<J: FnMut(f64, f64) -> bool>(
    mut level: impl FnMut() -> f64,
    display: Display,
    runs: usize,
    run_s: f64,
    seed: u64,
    judge: impl Fn() -> J,
) -> (usize, f64) {
    let mut noise = Noise(seed);
    let mut taken = Vec::new();
    for _ in 0..runs {
        let end = level();
        taken.push(walk(run_s, |_| display.show(end, &mut noise), judge()).unwrap_or(f64::INFINITY));
    }
    taken.sort_by(f64::total_cmp);
    (taken.iter().filter(|t| t.is_finite()).count(), taken[runs / 2])
}
