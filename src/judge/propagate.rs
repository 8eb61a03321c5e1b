//! The law of propagation of uncertainty to first order, JCGM 100:2008 (GUM) 5.1.2 and 5.2.2.
//!
//! The rule inside: floats that inform and never judge.

/// Inputs of a measurement: a standard uncertainty each, and how they hang together.
#[derive(Debug, Clone, PartialEq)]
pub struct Inputs {
    /// One each, in the unit of its input; not below zero.
    pub standard_uncertainty: Vec<f64>,
    /// Correlation of inputs `i < j`; pairs not listed are independent.
    pub correlation: Vec<(usize, usize, f64)>,
}

impl Inputs {
    /// Inputs that have nothing to do with each other.
    pub fn independent(standard_uncertainty: &[f64]) -> Inputs {
        Inputs {
            standard_uncertainty: standard_uncertainty.to_vec(),
            correlation: Vec::new(),
        }
    }

    /// Covariance of two results with these partial derivatives by each input; the variance where both are the same.
    pub fn covariance(&self, first: &[f64], second: &[f64]) -> f64 {
        let u = &self.standard_uncertainty;
        assert!(
            first.len() == u.len() && second.len() == u.len(),
            "one derivative for each input"
        );
        let own: f64 = (0..u.len()).map(|i| first[i] * second[i] * u[i] * u[i]).sum();
        let shared: f64 = self
            .correlation
            .iter()
            .map(|&(i, j, r)| (first[i] * second[j] + first[j] * second[i]) * u[i] * u[j] * r)
            .sum();
        own + shared
    }

    /// Combined standard uncertainty of a result.
    ///
    /// ```
    /// use coreproof::judge::propagate::Inputs;
    /// // Zs = Ze + (R1+R2) with 0.02 and 0.01 ohm: 0.022 ohm
    /// let zs = Inputs::independent(&[0.02, 0.01]).combined(&[1.0, 1.0]);
    /// assert!((zs - 0.022_360_68).abs() < 1e-8);
    /// ```
    pub fn combined(&self, derivatives: &[f64]) -> f64 {
        // rounding may leave a variance of nothing slightly below zero
        self.covariance(derivatives, derivatives).max(0.0).sqrt()
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn w9_9_gum_h_2() {
        // GUM H.2: R, X and Z from V, I and phi, correlated; figures also run with the GUM Tree Calculator
        let (v, i, phi) = (4.999_f64, 0.019_661_f64, 1.044_46_f64);
        let inputs = Inputs {
            standard_uncertainty: vec![3.2e-3, 9.5e-6, 7.5e-4],
            correlation: vec![(0, 1, -0.36), (0, 2, 0.86), (1, 2, -0.65)],
        };
        let r = [phi.cos() / i, -v * phi.cos() / (i * i), -v * phi.sin() / i];
        let x = [phi.sin() / i, -v * phi.sin() / (i * i), v * phi.cos() / i];
        let z = [1.0 / i, -v / (i * i), 0.0];
        let values = [v * phi.cos() / i, v * phi.sin() / i, v / i];
        let results = [
            (&r, 127.732_170, 0.069_979),
            (&x, 219.846_512, 0.295_717),
            (&z, 254.259_702, 0.236_603),
        ];
        for ((derivatives, value, u), found) in results.iter().zip(values) {
            assert!((found - value).abs() < 1e-6, "{found}");
            assert!((inputs.combined(*derivatives) - u).abs() < 1e-6);
        }
        for (a, b, expected) in [(&r, &x, -0.591_485), (&r, &z, -0.490_624), (&x, &z, 0.992_797)] {
            let correlation = inputs.covariance(a, b) / inputs.combined(a) / inputs.combined(b);
            assert!((correlation - expected).abs() < 1e-6, "{correlation}");
        }
    }

    #[test]
    fn w9_12_loop_and_fault_current() {
        // Zs = 0.35(0.02) + 0.429(0.01) = 0.779 +- 0.022 ohm; 230 / Zs = 295 +- 8 A; computed with `uncertainties`
        let inputs = Inputs::independent(&[0.02, 0.01]);
        let zs = 0.35 + 0.429;
        assert!((inputs.combined(&[1.0, 1.0]) - 0.022_36).abs() < 1e-5);
        let slope = -230.0 / (zs * zs);
        let current = inputs.combined(&[slope, slope]);
        assert_eq!(((230.0_f64 / zs).round(), current.round()), (295.0, 8.0));
    }
}
