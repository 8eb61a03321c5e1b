//! Probability of conformity and of a wrong decision, JCGM 106:2012 7.2 to 7.4.
//!
//! The rule inside: probabilities inform, they never decide under simple acceptance. Only `+ - * /` and the square root are used, which
//! IEEE 754 rounds the same everywhere, so that a risk written into a record is found again by any machine.

/// e to the power of minus `x`, for `x` at or above zero.
fn exp_minus(x: f64) -> f64 {
    if 745.0 < x {
        return 0.0;
    }
    let mut halvings = 0;
    let mut small = x;
    while 0.5 < small {
        small /= 2.0;
        halvings += 1;
    }
    let (mut term, mut sum) = (1.0, 1.0);
    for n in 1..=18 {
        term *= -small / f64::from(n);
        sum += term;
    }
    for _ in 0..halvings {
        sum *= sum;
    }
    sum
}

/// The complementary error function, for `x` at or above zero; series below 2, continued fraction above (DLMF 7.6.2, 7.9.2).
fn erfc(x: f64) -> f64 {
    let root_pi = std::f64::consts::PI.sqrt();
    if x < 2.0 {
        let (mut term, mut sum) = (x, x);
        for n in 1..=100 {
            term *= 2.0 * x * x / f64::from(2 * n + 1);
            sum += term;
        }
        return 1.0 - 2.0 / root_pi * exp_minus(x * x) * sum;
    }
    let mut fraction = x;
    for n in (1..=150).rev() {
        fraction = x + f64::from(n) / 2.0 / fraction;
    }
    exp_minus(x * x) / root_pi / fraction
}

/// The standard normal distribution function, accurate in its lower tail.
///
/// ```
/// use coreproof::judge::risk::normal;
/// assert_eq!(normal(0.0), 0.5);
/// assert!((normal(1.5) - 0.933_192_798_731_142).abs() < 1e-12);
/// ```
pub fn normal(z: f64) -> f64 {
    let tail = erfc(z.abs() / std::f64::consts::SQRT_2) / 2.0;
    if z <= 0.0 { tail } else { 1.0 - tail }
}

/// Probability that the true value lies outside, given what was read and its standard uncertainty, in one unit.
pub fn outside(read: f64, standard_uncertainty: f64, low: Option<f64>, high: Option<f64>) -> f64 {
    let below = low.map_or(0.0, |low| tail(low - read, standard_uncertainty));
    let above = high.map_or(0.0, |high| tail(read - high, standard_uncertainty));
    (below + above).min(1.0)
}

fn tail(distance: f64, standard_uncertainty: f64) -> f64 {
    if 0.0 < standard_uncertainty {
        normal(distance / standard_uncertainty)
    } else if distance <= 0.0 {
        0.0
    } else {
        1.0
    }
}

/// Probability that the true value lies inside.
pub fn inside(read: f64, standard_uncertainty: f64, low: Option<f64>, high: Option<f64>) -> f64 {
    1.0 - outside(read, standard_uncertainty, low, high)
}

/// Below this a risk is not told apart from none.
pub const SHOWN_MIN: f64 = 0.0001;

/// A probability in words, with two significant digits.
///
/// ```
/// use coreproof::judge::risk::words;
/// assert_eq!(words(0.133_26), "0.13");
/// assert_eq!(words(0.008_2), "0.0082");
/// assert_eq!(words(1e-9), "below 0.0001");
/// ```
pub fn words(probability: f64) -> String {
    if probability < SHOWN_MIN {
        return format!("below {SHOWN_MIN}");
    }
    let mut decimals = 2;
    let mut scale = 0.1;
    while probability < scale && decimals < 6 {
        scale /= 10.0;
        decimals += 1;
    }
    format!("{probability:.decimals$}")
}

#[cfg(test)]
mod tests {
    use super::*;

    fn near(found: f64, expected: f64) {
        assert!((found - expected).abs() < 5e-7, "{found} is not {expected}");
    }

    #[test]
    fn w9_1_two_sided() {
        // JCGM 106:2012 7.4: y 13.6, u 1.8, 12.5 to 16.3; inputs seen, 0.66 recalled, six digits computed with scipy
        near(inside(13.6, 1.8, Some(12.5), Some(16.3)), 0.662_630);
    }

    #[test]
    fn w9_2_upper_limit() {
        // JCGM 106:2012 7.3.3 example 1, inputs recalled: 0.92
        near(inside(-5.47, 0.05, None, Some(-5.4)), 0.919_243);
    }

    #[test]
    fn w9_3_lower_limit() {
        // JCGM 106:2012 7.3.3 example 2, inputs recalled: 0.99
        near(inside(509.7, 8.6, Some(490.0), None), 0.989_010);
    }

    #[test]
    fn the_guard_band_of_one_uncertainty_leaves_two_and_a_quarter_percent() {
        // at the acceptance limit of a guard band r U the risk is 1 - Phi(2 r); computed with scipy
        for (r, risk) in [
            (0.0, 0.5),
            (0.5, 0.158_66),
            (0.82, 0.050_50),
            (0.83, 0.048_46),
            (1.0, 0.022_75),
            (1.5, 0.001_35),
        ] {
            let found = outside(-r, 0.5, None, Some(0.0));
            assert!((found - risk).abs() < 6e-6, "{r}: {found}");
        }
    }

    #[test]
    fn without_uncertainty_a_value_is_inside_or_it_is_not() {
        assert_eq!(outside(1.0, 0.0, Some(1.0), None), 0.0);
        assert_eq!(outside(0.9, 0.0, Some(1.0), None), 1.0);
    }
}
