//! Small seeded unevenness, so that a display flickers and a rehearsal can be repeated exactly.
//!
//! The rule inside: the same seed gives the same numbers for ever.

/// The generator SplitMix64 (Steele, Lea and Flood, Fast Splittable Pseudorandom Number Generators, 2014): good enough
/// for flicker, of no use for secrets.
#[derive(Debug, Clone)]
pub struct Noise(u64);

impl Noise {
    /// Begins at a seed.
    pub fn new(seed: u64) -> Noise {
        Noise(seed)
    }

    fn next(&mut self) -> u64 {
        self.0 = self.0.wrapping_add(0x9e37_79b9_7f4a_7c15);
        let mut mixed = self.0;
        mixed = (mixed ^ (mixed >> 30)).wrapping_mul(0xbf58_476d_1ce4_e5b9);
        mixed = (mixed ^ (mixed >> 27)).wrapping_mul(0x94d0_49bb_1331_11eb);
        mixed ^ (mixed >> 31)
    }

    /// The next number from -1 up to but not including 1, each as likely as any other.
    pub fn even(&mut self) -> f64 {
        // the upper 53 bits fit a float exactly
        let unit = (self.next() >> 11) as f64 / (1u64 << 53) as f64;
        2.0 * unit - 1.0
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_published_sequence_comes_out() {
        // the usual test values of splitmix64 for seed 1234567; figures from memory
        let mut noise = Noise::new(1_234_567);
        let expected = [
            6_457_827_717_110_365_317,
            3_203_168_211_198_807_973,
            9_817_491_932_198_370_423,
            4_593_380_528_125_082_431,
            16_408_922_859_458_223_821,
        ];
        assert_eq!(expected, std::array::from_fn(|_| noise.next()));
    }

    #[test]
    fn it_is_even_about_zero() {
        let mut noise = Noise::new(1);
        let numbers: Vec<f64> = (0..10_000).map(|_| noise.even()).collect();
        assert!(numbers.iter().all(|n| -1.0 <= *n && *n < 1.0));
        // the mean of so many has a standard deviation of 0.006
        assert!((numbers.iter().sum::<f64>() / 1e4).abs() < 0.03);
    }
}
