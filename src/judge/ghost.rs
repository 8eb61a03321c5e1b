//! Ghost voltages: what a meter shows on a core that only lies beside a live one.
//!
//! The rule inside: a prediction in binary floats that informs and never judges. Arithmetic and the square root only, so every
//! machine shows the same digits.

/// The capacitances of a floating core and the supply beside it.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Coupling {
    /// Volts of the live core to earth.
    pub volts: f64,
    /// Frequency of the supply, in hertz.
    pub hertz: f64,
    /// Farads to the live core.
    pub to_live: f64,
    /// Farads to neutral and earth.
    pub to_earth: f64,
}

impl Coupling {
    /// A length in metres beside a live core at so many picofarads a metre, and nothing else near: the worst case.
    pub fn of_length(volts: f64, hertz: f64, metres: f64, picofarads_per_metre: f64) -> Coupling {
        Coupling {
            volts,
            hertz,
            to_live: metres * picofarads_per_metre * 1e-12,
            to_earth: 0.0,
        }
    }

    /// Volts that an input of so many ohms shows: the textbook divider of a capacitive source and a resistance.
    ///
    /// ```
    /// use coreproof::judge::ghost::Coupling;
    /// // 10 m at 100 pF/m beside 230 V, 50 Hz: 219 V on 10 Mohm, 0.7 V on 10 kohm
    /// let coupling = Coupling::of_length(230.0, 50.0, 10.0, 100.0);
    /// assert_eq!(coupling.shown(10e6).round(), 219.0);
    /// assert_eq!((coupling.shown(10e3) * 10.0).round(), 7.0);
    /// ```
    pub fn shown(&self, input_ohms: f64) -> f64 {
        let farads = self.to_live + self.to_earth;
        let reactance = 1.0 / (2.0 * std::f64::consts::PI * self.hertz * farads);
        let open = self.volts * self.to_live / farads;
        open * input_ohms / (input_ohms * input_ohms + reactance * reactance).sqrt()
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn an_equal_capacitance_to_earth_halves_it() {
        // the usual case in flat cable: 110 V to 115 V on 10 Mohm
        let mut coupling = Coupling::of_length(230.0, 50.0, 10.0, 100.0);
        coupling.to_earth = coupling.to_live;
        let volts = coupling.shown(10e6);
        assert!((110.0..=115.0).contains(&volts), "{volts}");
    }
}
