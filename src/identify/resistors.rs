//! Telling cores apart by the values of resistors, one walk.
//!
//! The rule inside: a reading counts only where exactly one value explains it within the tolerance of the resistor and of the meter; a set of
//! readings counts only where no other place of the hub explains it.

use super::figures::Figures;

/// The E12 series of IEC 60063, two digits.
const E12: [u32; 12] = [10, 12, 15, 18, 22, 27, 33, 39, 47, 56, 68, 82];
/// Decades in which values are sought, from 10 ohm to 10 Mohm.
const DECADES: u32 = 6;

/// So many different values, in ohms: the lowest of the series that read above what counts as open, where a cable's own
/// resistance no longer matters, and that stay apart from each other as read. Fewer where the series has no more.
pub fn values(count: usize, figures: &Figures) -> Vec<u32> {
    let share = figures.resistor_share();
    let mut above = figures.open_ohms();
    let all = (0..DECADES).flat_map(|decade| E12.map(|digits| digits * 10_u32.pow(decade)));
    let mut apart = Vec::new();
    for value in all {
        if above < f64::from(value) * (1.0 - share) {
            apart.push(value);
            above = f64::from(value) * (1.0 + share);
        }
    }
    apart.truncate(count);
    apart
}

/// The most that a meter must be able to show to tell these values, in ohms: two of them in a row, as read.
pub fn greatest(values: &[u32], figures: &Figures) -> f64 {
    let most = values.iter().max().map_or(0.0, |v| f64::from(*v));
    2.0 * most * (1.0 + figures.resistor_share())
}

/// A value as it is printed on a prompt.
pub fn words(ohms: u32) -> String {
    if ohms.is_multiple_of(1000) {
        format!("{} kohm", ohms / 1000)
    } else {
        format!("{}.{} kohm", ohms / 1000, ohms % 1000 / 100)
    }
}

/// What one pair read: ohms, or nothing.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Read {
    /// This resistance, in ohms.
    Ohms(f64),
    /// Open.
    Open,
}

fn fits(ohms: f64, nominal: f64, share: f64) -> bool {
    nominal * (1.0 - share) <= ohms && ohms <= nominal * (1.0 + share)
}

/// The one value that a reading is, by place in the list.
pub fn which(read: Read, values: &[u32], figures: &Figures) -> Option<usize> {
    let Read::Ohms(ohms) = read else { return None };
    let share = figures.resistor_share();
    values.iter().position(|v| fits(ohms, f64::from(*v), share))
}

/// For each reading the value it is: `None` for open, and nothing at all where a reading is no value or two are the same.
pub fn all_told(reads: &[Read], values: &[u32], figures: &Figures) -> Option<Vec<Option<usize>>> {
    let told: Vec<Option<usize>> = reads.iter().map(|r| which(*r, values, figures)).collect();
    let strange = reads.iter().zip(&told).any(|(r, t)| *r != Read::Open && t.is_none());
    let twice = told
        .iter()
        .enumerate()
        .any(|(i, t)| t.is_some() && told[..i].contains(t));
    (!strange && !twice).then_some(told)
}

/// Where core 1's readings say that the hub is: core 1 itself, or the core it reads lowest to; counted from 0.
pub fn hub(from_first: &[Read], values: &[u32], figures: &Figures) -> Option<usize> {
    if is_hub(from_first, values, figures) {
        return Some(0);
    }
    let ohms = from_first.iter().enumerate().filter_map(|(i, r)| match r {
        Read::Ohms(ohms) => Some((i + 1, *ohms)),
        Read::Open => None,
    });
    ohms.min_by(|a, b| a.1.total_cmp(&b.1)).map(|(core, _)| core)
}

/// Whether readings from one core to all others are those of the hub and of no other core.
///
/// Another core, with the resistor `a`, would read `a` to the hub and `a` plus each other value to the rest.
pub fn is_hub(reads: &[Read], values: &[u32], figures: &Figures) -> bool {
    let Some(told) = all_told(reads, values, figures) else {
        return false;
    };
    if told.iter().flatten().count() < 2 {
        return false;
    }
    let share = figures.resistor_share();
    let explained_by = |a: usize| {
        reads.iter().all(|read| match read {
            Read::Open => true,
            Read::Ohms(ohms) => (0..values.len()).any(|k| {
                let sum = f64::from(values[a]) + if k == a { 0.0 } else { f64::from(values[k]) };
                fits(*ohms, sum, share)
            }),
        })
    };
    !(0..values.len()).any(explained_by)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn neighbours_in_the_series_stay_apart_and_twenty_span_two_decades() {
        let (figures, share) = (Figures::shipped(), Figures::shipped().resistor_share());
        let values = values(20, &figures);
        for (a, b) in values.iter().zip(&values[1..]) {
            assert!(f64::from(*a) * (1.0 + share) < f64::from(*b) * (1.0 - share), "{a} {b}");
        }
        assert!(values[19] < values[0] * 100);
        assert_eq!((values[0], values[19]), (1200, 47_000));
        assert_eq!((words(3900), words(12_000)), ("3.9 kohm".into(), "12 kohm".into()));
    }

    #[test]
    fn only_the_hub_reads_as_the_hub() {
        for cores in 3..=20 {
            let (values, figures) = (values(cores - 1, &Figures::shipped()), Figures::shipped());
            for (low, high) in [(0.95, 0.95), (1.05, 1.05), (0.95, 1.05)] {
                let real = |i: usize| f64::from(values[i]) * if i.is_multiple_of(2) { low } else { high };
                let spoke = |a: usize| -> Vec<Read> {
                    let rest = (0..values.len())
                        .filter(|k| *k != a)
                        .map(|k| Read::Ohms(real(a) + real(k)));
                    std::iter::once(Read::Ohms(real(a))).chain(rest).collect()
                };
                let from_hub: Vec<Read> = (0..values.len()).map(|i| Read::Ohms(real(i))).collect();
                assert!(is_hub(&from_hub, &values, &figures), "{cores}");
                for a in 0..values.len() {
                    assert!(!is_hub(&spoke(a), &values, &figures), "{cores} {a}");
                    assert_eq!(hub(&spoke(a), &values, &figures), Some(1), "the lowest is to the hub");
                }
            }
        }
    }

    #[test]
    fn a_strange_or_repeated_value_tells_nothing() {
        let (values, figures) = (values(3, &Figures::shipped()), Figures::shipped());
        for (reads, expected) in [
            (
                vec![Read::Ohms(1210.0), Read::Open, Read::Ohms(1790.0)],
                Some(vec![Some(0), None, Some(2)]),
            ),
            (vec![Read::Ohms(1210.0), Read::Ohms(1190.0), Read::Open], None),
            (vec![Read::Ohms(545.0), Read::Open, Read::Open], None),
        ] {
            assert_eq!(all_told(&reads, &values, &figures), expected);
        }
        assert!(
            !is_hub(&[Read::Ohms(1200.0), Read::Open], &values, &figures),
            "one value could be any core's"
        );
    }
}
