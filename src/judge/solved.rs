//! Each core of a cable by itself, from readings of pairs.
//!
//! The rule inside: with three cores linked at the far end each pair reads the sum of its two, so three readings give each core, the one
//! that the tests return through too. Pairs alone cannot tell a bad return core: it adds the same to every reading.

use rust_decimal::Decimal;

use super::resistance::by_area;

/// What three pairs of cores linked at the far end read, in ohms, leads taken off.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Pairs {
    /// The two cores against each other.
    pub two: Decimal,
    /// Each of the two against the return core.
    pub with_return: [Decimal; 2],
}

impl Pairs {
    /// The first core, the second and the return core, in ohms: r_a = (R_ab + R_ac - R_bc) / 2.
    ///
    /// ```
    /// use coreproof::judge::solved::Pairs;
    /// let pairs = Pairs { two: "0.6".parse()?, with_return: ["3.6".parse()?, "3.6".parse()?] };
    /// assert_eq!(pairs.cores().map(|ohms| ohms.to_string()), ["0.3", "0.3", "3.3"]);
    /// # Ok::<(), rust_decimal::Error>(())
    /// ```
    pub fn cores(&self) -> [Decimal; 3] {
        let (ab, [ac, bc]) = (self.two, self.with_return);
        [ab + ac - bc, ab + bc - ac, ac + bc - ab].map(|twice| twice / Decimal::TWO)
    }
}

/// Between which readings of the two cores against each other both are like the return core, by size (ohms times area alike) and within so
/// many ohms of it; given each against the return core and the areas of the first, the second and the return core.
pub fn alike(with_return: [Decimal; 2], areas: [Decimal; 3], within: Decimal) -> (Decimal, Decimal) {
    let [ac, bc] = with_return;
    // r_c less r_i by its area is linear in R_ab, and is nought there
    let even = |own: Decimal, other: Decimal, area: Decimal| {
        let share = by_area(Decimal::ONE, area, areas[2]);
        let slope = Decimal::ONE + share;
        (
            (own + other - share * (own - other)) / slope,
            Decimal::TWO * within / slope,
        )
    };
    let [(a, a_either), (b, b_either)] = [even(ac, bc, areas[0]), even(bc, ac, areas[1])];
    ((a - a_either).max(b - b_either), (a + a_either).min(b + b_either))
}

#[cfg(test)]
mod tests {
    use super::*;

    fn decimal(text: &str) -> Decimal {
        text.parse().unwrap()
    }

    /// Whether the readings of three cores (first, second, return; in ohms) of these areas are alike within 0.05 ohm.
    fn check(cores: [&str; 3], areas: [&str; 3], expected: bool) {
        let [a, b, c] = cores.map(decimal);
        let pairs = Pairs {
            two: a + b,
            with_return: [a + c, b + c],
        };
        assert_eq!(pairs.cores(), [a, b, c]);
        let (low, high) = alike(pairs.with_return, areas.map(decimal), decimal("0.05"));
        assert_eq!(
            (low..=high).contains(&pairs.two),
            expected,
            "{cores:?}: {low} to {high}"
        );
    }

    #[test]
    fn a_joint_in_any_core_is_told_from_length() {
        let one = ["1.0", "1.0", "1.0"];
        check(["0.3", "0.3", "0.3"], one, true);
        check(["0.3", "0.34", "0.32"], one, true);
        check(["0.3", "0.3", "3.3"], one, false);
        check(["3.3", "0.3", "0.3"], one, false);
        check(["0.3", "3.3", "0.3"], one, false);
        check(["0.3", "0.3", "0.36"], one, false);
        // all three alike are told from length alone
        check(["3.3", "3.3", "3.3"], one, true);
    }

    #[test]
    fn cores_of_different_size_are_compared_by_it() {
        // 20 m of 1.5 and 1.0 mm2: 12.1 and 18.1 mohm/m (IEC 60228)
        check(["0.242", "0.242", "0.362"], ["1.5", "1.5", "1.0"], true);
        check(["0.242", "0.242", "0.242"], ["1.5", "1.5", "1.0"], false);
        check(["0.242", "0.242", "3.362"], ["1.5", "1.5", "1.0"], false);
    }
}
