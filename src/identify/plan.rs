//! The fewest walks between the ends for a number of cores and a kit.
//!
//! The rule inside: a walk is one way, from one end to the other; what was joined before it is looked at after it. Walks count until every
//! core is known at one end; taking the labels to the other end may cost one more. The lower bounds
//! are by exhaustive search (one walk leaves a symmetry) and by counting (below); the tests name the published ones.

use serde::Serialize;

use super::error::IdentifyError;
use super::figures::Figures;
use super::kit::Kit;
use super::partition::Partition;
use super::resistors;
use super::structure::{self, Shape};

/// Fewest and most cores.
pub const CORES_MIN: usize = 2;
/// See [`CORES_MIN`].
pub const CORES_MAX: usize = 20;

/// How the cores are told apart.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Method {
    /// Joints at one end, looked at from the other.
    Links(Shape),
    /// A resistor of its own value from each core to the earth; values in ohms, for A, B, C, …
    ResistorsToEarth(Vec<u32>),
    /// A resistor from core A to each other core; values in ohms, for B, C, …
    ResistorsFromHub(Vec<u32>),
    /// A diode between the two cores.
    Diode,
}

/// A plan for a sound cable.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Plan {
    /// How many cores, 2 to 20.
    pub cores: usize,
    /// What is at hand.
    pub kit: Kit,
    /// How they are told apart.
    pub method: Method,
    /// Walks until every core of a sound cable is known at one end.
    pub walks: usize,
    /// Whether no plan with this kit has fewer walks.
    pub proved_fewest: bool,
    /// Cores that the plan does not see conduct and knows by elimination.
    pub by_elimination: usize,
    /// Why no fewer walks do.
    pub why: String,
    /// What counts as joined, open and one resistor.
    pub figures: Figures,
}

/// The columns that a person compares before choosing what to carry.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
pub struct Fewest {
    /// How many cores.
    pub cores: usize,
    /// Walks with as many links as wanted; `None` where impossible.
    pub links: Option<usize>,
    /// Two-core links at each end for that.
    pub links_at_each_end: Option<usize>,
    /// Walks with one link lead.
    pub one_link: Option<usize>,
    /// Walks with links and a conductor known at both ends.
    pub earth: usize,
    /// Walks with resistors and the earth.
    pub resistors_and_earth: usize,
    /// Walks with resistors alone; for two cores a diode is needed.
    pub resistors: Option<usize>,
    /// Walks with a diode, for two cores.
    pub diode: Option<usize>,
    /// Two-probe readings in the worst case where nothing is joined cleverly: each against each.
    pub pairs: usize,
}

/// Walks with one link lead: every chain holds at least three wires, and one wire may stay untouched.
fn one_link(cores: usize) -> usize {
    least_links(cores)
}

/// Links over all walks: wires less chains, of at least three wires each, less one untouched wire.
fn least_links(cores: usize) -> usize {
    cores - 1 - (cores - 1) / 3
}

/// The table row for a number of cores, each figure that of the plan the program would make.
pub fn fewest(cores: usize) -> Result<Fewest, IdentifyError> {
    let figures = Figures::shipped();
    let walks = |kit: Kit| plan(cores, kit, &figures).ok().map(|p| p.walks);
    let with = |links, earth, resistors, diode| Kit {
        links,
        earth,
        resistors,
        diode,
    };
    check(cores)?;
    let links = walks(Kit::LINKS);
    Ok(Fewest {
        cores,
        links,
        links_at_each_end: links.map(|_| (cores - 1) / 2),
        one_link: walks(with(Some(1), false, Some(0), false)),
        earth: walks(with(None, true, Some(0), false)).expect("the earth tells any two cores apart"),
        resistors_and_earth: walks(with(None, true, None, false)).expect("the earth tells any two cores apart"),
        resistors: walks(with(None, false, None, false)),
        diode: (cores == 2).then(|| walks(with(None, false, Some(0), true))).flatten(),
        pairs: cores * (cores - 1) / 2,
    })
}

fn check(cores: usize) -> Result<(), IdentifyError> {
    if (CORES_MIN..=CORES_MAX).contains(&cores) {
        Ok(())
    } else {
        Err(IdentifyError::CoreCount { cores })
    }
}

/// The plan with the fewest walks; among those, one that sees every core conduct.
///
/// ```
/// use coreproof::identify::{figures::Figures, kit::Kit, plan::plan};
/// assert_eq!(plan(11, Kit::LINKS, &Figures::shipped()).unwrap().walks, 2);
/// assert!(plan(2, Kit::LINKS, &Figures::shipped()).is_err());
/// ```
///
/// # Errors
/// Fewer than 2 or more than 20 cores; two cores with links alone.
pub fn plan(cores: usize, kit: Kit, figures: &Figures) -> Result<Plan, IdentifyError> {
    check(cores)?;
    let made = |method, walks, proved_fewest, by_elimination, why: &str| Plan {
        cores,
        kit,
        method,
        walks,
        proved_fewest,
        by_elimination,
        why: why.into(),
        figures: figures.clone(),
    };
    let enough = |count: usize| resistors::values(count, figures).len() == count;
    let at_least_one = "nothing is known at the other end before the first walk";
    if kit.earth && kit.has_resistors(cores) && enough(cores) {
        let method = Method::ResistorsToEarth(resistors::values(cores, figures));
        return Ok(made(method, 1, true, 0, at_least_one));
    }
    if 2 < cores && kit.has_resistors(cores - 1) && enough(cores - 1) {
        let method = Method::ResistorsFromHub(resistors::values(cores - 1, figures));
        return Ok(made(method, 1, true, 0, at_least_one));
    }
    if cores == 2 {
        return match (kit.earth, kit.diode) {
            (_, true) => Ok(made(Method::Diode, 1, true, 0, at_least_one)),
            (true, false) => Ok(made(
                Method::Links(structure::path_with_earth(2)),
                1,
                true,
                1,
                at_least_one,
            )),
            (false, false) => Err(IdentifyError::TwoCores),
        };
    }
    let (shape, proved, why) = by_links(cores, kit);
    let untouched = (0..cores).filter(|w| shape.iter().all(|p| p.size(*w) == 1)).count();
    let walks = shape.len();
    Ok(made(Method::Links(shape), walks, proved, untouched, &why))
}

fn by_links(cores: usize, kit: Kit) -> (Shape, bool, String) {
    let two = "after one walk two cores of one group, or two single ones, could still change places";
    let even = cores.is_multiple_of(2);
    if even && kit.earth && kit.makes(cores / 2) {
        return (structure::path_with_earth(cores), true, two.into());
    }
    if even && 6 <= cores && kit.makes(cores / 2) {
        return (
            with_earth_apart(structure::path_with_third(cores), kit),
            true,
            two.into(),
        );
    }
    if kit.makes((cores - 1) / 2) {
        return (with_earth_apart(structure::path(cores), kit), true, two.into());
    }
    let links = kit.links.expect("a kit without a limit makes every path");
    let bound = least_links(cores).div_ceil(links).max(2);
    let (walks, shape) = (bound..=one_link(cores))
        .find_map(|walks| structure::chains(cores, links, walks).map(|shape| (walks, shape)))
        .expect("one link a walk always does");
    let why = format!(
        "{cores} cores need {} links in all (every chain holds at least three cores, one core may stay untouched), {links} a walk",
        least_links(cores)
    );
    let why = if walks == 2 { two.into() } else { why };
    (with_earth_apart(shape, kit), walks == bound, why)
}

/// The same shape over one more terminal, the earth, joined to nothing.
fn with_earth_apart(shape: Shape, kit: Kit) -> Shape {
    if !kit.earth {
        return shape;
    }
    shape
        .iter()
        .map(|p| Partition::joined(p.len() + 1, &p.groups()))
        .collect()
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::explain::Explain;
    use crate::identify::structure::has_symmetry;

    #[test]
    fn the_wire_table_for_two_to_twenty_cores() {
        // cores, walks with links, links at each end, walks with one link, with earth, resistors with and without earth, pairs.
        // Two walks for 3 and more and none for 2: M. Gardner, "The Efficient Electrician", and the wire identification problem
        // of D. Knuth, TAOCP 7.2.1.5; the other columns were computed by exhaustive search and the argument of `least_links`.
        let table = [
            (2, None, None, None, 1, 1, None, 1),
            (3, Some(2), Some(1), Some(2), 2, 1, Some(1), 3),
            (4, Some(2), Some(1), Some(2), 2, 1, Some(1), 6),
            (5, Some(2), Some(2), Some(3), 2, 1, Some(1), 10),
            (6, Some(2), Some(2), Some(4), 2, 1, Some(1), 15),
            (7, Some(2), Some(3), Some(4), 2, 1, Some(1), 21),
            (8, Some(2), Some(3), Some(5), 2, 1, Some(1), 28),
            (9, Some(2), Some(4), Some(6), 2, 1, Some(1), 36),
            (10, Some(2), Some(4), Some(6), 2, 1, Some(1), 45),
            (11, Some(2), Some(5), Some(7), 2, 1, Some(1), 55),
            (12, Some(2), Some(5), Some(8), 2, 1, Some(1), 66),
            (13, Some(2), Some(6), Some(8), 2, 1, Some(1), 78),
            (14, Some(2), Some(6), Some(9), 2, 1, Some(1), 91),
            (15, Some(2), Some(7), Some(10), 2, 1, Some(1), 105),
            (16, Some(2), Some(7), Some(10), 2, 1, Some(1), 120),
            (17, Some(2), Some(8), Some(11), 2, 1, Some(1), 136),
            (18, Some(2), Some(8), Some(12), 2, 1, Some(1), 153),
            (19, Some(2), Some(9), Some(12), 2, 1, Some(1), 171),
            (20, Some(2), Some(9), Some(13), 2, 1, Some(1), 190),
        ];
        for (cores, links, each, one, earth, both, hub, pairs) in table {
            let row = fewest(cores).unwrap();
            assert_eq!(
                (row.links, row.links_at_each_end, row.one_link, row.earth),
                (links, each, one, earth),
                "{cores}"
            );
            assert_eq!(
                (row.resistors_and_earth, row.resistors, row.pairs),
                (both, hub, pairs),
                "{cores}"
            );
            assert_eq!(row.diode, (cores == 2).then_some(1));
            if let Some(each) = each {
                let kit = Kit {
                    links: Some(each),
                    ..Kit::LINKS
                };
                assert_eq!(
                    plan(cores, kit, &Figures::shipped()).unwrap().walks,
                    2,
                    "{cores} cores with {each} links"
                );
            }
        }
    }

    #[test]
    fn every_plan_by_links_has_no_symmetry_and_keeps_to_the_kit() {
        for cores in 2..=20 {
            for links in (1..=10).map(Some).chain([None]) {
                for earth in [false, true] {
                    let kit = Kit {
                        links,
                        earth,
                        ..Kit::LINKS
                    };
                    let Ok(plan) = plan(cores, kit, &Figures::shipped()) else {
                        assert!(cores == 2 && !earth);
                        continue;
                    };
                    let Method::Links(shape) = &plan.method else {
                        panic!("a plan by links")
                    };
                    assert!(!has_symmetry(shape, earth.then_some(cores)), "{cores} {kit:?}");
                    assert!(shape.iter().all(|p| kit.makes(p.links())), "{cores} {kit:?}");
                    assert_eq!(plan.walks, shape.len());
                    assert!(plan.by_elimination <= 1);
                }
            }
        }
    }

    /// Whether some shape of so many walks with so many links a walk has no symmetry, by trying all of them.
    fn possible(cores: usize, links: usize, walks: usize) -> bool {
        fn all(cores: usize, links: usize) -> Vec<Partition> {
            fn grow(marks: &mut Vec<usize>, cores: usize, made: &mut Vec<Partition>) {
                if marks.len() == cores {
                    made.push(Partition::by_marks(marks));
                    return;
                }
                for mark in 0..=marks.iter().max().map_or(0, |m| m + 1) {
                    marks.push(mark);
                    grow(marks, cores, made);
                    marks.pop();
                }
            }
            let mut made = Vec::new();
            grow(&mut Vec::new(), cores, &mut made);
            made.retain(|p| p.links() <= links);
            made
        }
        fn deeper(shape: &mut Shape, walks: usize, all: &[Partition]) -> bool {
            if shape.len() == walks {
                return !has_symmetry(shape, None);
            }
            all.iter().any(|p| {
                shape.push(p.clone());
                let found = deeper(shape, walks, all);
                shape.pop();
                found
            })
        }
        let all = all(cores, links);
        // the first walk up to naming: one partition for each list of group sizes
        let mut kinds: Vec<Vec<usize>> = Vec::new();
        all.iter().any(|first| {
            let mut sizes: Vec<usize> = first.blocks().iter().map(Vec::len).collect();
            sizes.sort_unstable();
            if kinds.contains(&sizes) {
                return false;
            }
            kinds.push(sizes);
            deeper(&mut vec![first.clone()], walks, &all)
        })
    }

    #[test]
    fn no_fewer_walks_do_by_trying_every_shape() {
        for cores in 3..=6 {
            for links in 1..=3 {
                let walks = plan(
                    cores,
                    Kit {
                        links: Some(links),
                        ..Kit::LINKS
                    },
                    &Figures::shipped(),
                )
                .unwrap()
                .walks;
                assert!(possible(cores, links, walks), "{cores} {links}");
                assert!(
                    !possible(cores, links, walks - 1),
                    "{cores} cores, {links} links, {walks} walks"
                );
            }
        }
        assert!(
            !possible(7, 2, 2)
                && plan(
                    7,
                    Kit {
                        links: Some(2),
                        ..Kit::LINKS
                    },
                    &Figures::shipped()
                )
                .unwrap()
                .walks
                    == 3
        );
    }

    #[test]
    fn refusals_say_why_and_what_to_bring() {
        let refused = |cores, kit| plan(cores, kit, &Figures::shipped()).map(|p| p.walks).unwrap_err();
        let two = refused(2, Kit::LINKS);
        assert_eq!(
            two.to_string(),
            "two cores cannot be told apart with links: joined or apart, both look the same from the other end, whichever is which"
        );
        assert_eq!(
            two.hint().unwrap(),
            "bring a diode (`--kit diode`), a conductor known at both ends (`--kit earth`), or a third core of the same cable (`--cores 3`)"
        );
        for cores in [0, 1, 21] {
            let error = refused(cores, Kit::LINKS);
            assert_eq!(
                error.to_string(),
                format!("`{cores}` cores cannot be told apart here, 2 to 20 can")
            );
            assert_eq!(error.hint().unwrap(), "identify the cores of one sheath at a time");
        }
    }
}
