//! Digits of seven segments: which bits they are, in which order, from nothing but what the display showed.
//!
//! The rule inside: all digits have their bits in the same order at equal distances, one bit a segment, and so have the
//! points; an order counts only while it draws every digit of every display, and where two orders do, neither is chosen.

use super::bitmap::{Bit, is_set, place};
use super::bits::{Ground, Over, Value};
use super::hypothesis::Hypothesis;

/// Names of the segments in the order in which the bits of a digit are listed.
const NAMES: &str = "top, upper_left, upper_right, middle, lower_left, lower_right, bottom";
/// Which segments are lit, in that order, the first the highest bit; 7, 6 and 9 have a second shape each.
const SHAPES: [u8; 10] = [
    0b111_0111, 0b001_0010, 0b101_1101, 0b101_1011, 0b011_1010, 0b110_1011, 0b110_1111, 0b101_0010, 0b111_1111,
    0b111_1011,
];
/// Second shapes: the digit, the shape, and the shape as a profile writes it.
const SECOND: [(usize, u8, &str); 3] = [
    (7, 0b111_0010, "\"7\": [top, upper_left, upper_right, lower_right]"),
    (
        6,
        0b010_1111,
        "\"6\": [upper_left, middle, lower_left, lower_right, bottom]",
    ),
    (
        9,
        0b111_1010,
        "\"9\": [top, upper_left, upper_right, middle, lower_right]",
    ),
];
/// The letter that over-range displays have.
const LETTER_L: u8 = 0b010_0101;
const MINUS: u8 = 0b000_1000;
/// Orders that may be left before they are listed: with more, hardly a digit was shown.
const ORDERS_MAX: usize = 6;

/// What one digit shows: `None` where it is dark.
type Row = Vec<Option<usize>>;

pub(super) fn hypotheses(ground: &Ground<'_>) -> Vec<Hypothesis> {
    let digits = ground
        .numbers()
        .map(|one| one.display.figures().len())
        .max()
        .unwrap_or(0);
    if !(2..=8).contains(&digits) {
        return Vec::new();
    }
    let rows: Vec<Row> = ground
        .numbers()
        .map(|one| {
            let figures = one.display.figures();
            let dark = std::iter::repeat_n(None, digits - figures.len());
            dark.chain(figures.bytes().map(|b| Some(usize::from(b - b'0'))))
                .collect()
        })
        .collect();
    let payload = ground.payload();
    let mut found = Vec::new();
    for stride in [8, 7] {
        for base in 0..payload.len() {
            let units: Vec<&[Bit]> = payload[base..].chunks_exact(stride).take(digits).collect();
            if units.len() < digits {
                break;
            }
            // the first digit may be sent last
            let backwards: Vec<&[Bit]> = units.iter().rev().copied().collect();
            for units in [units, backwards] {
                found.extend(layouts(ground, &rows, &units));
            }
        }
    }
    found
}

/// The orders of segments in which these bits draw all digits.
fn layouts(ground: &Ground<'_>, rows: &[Row], units: &[&[Bit]]) -> Vec<Hypothesis> {
    let shown = |digit: usize| rows.iter().flatten().any(|one| *one == Some(digit));
    let mut found = Vec::new();
    for variant in 0..1u8 << SECOND.len() {
        let chosen: Vec<_> = SECOND
            .iter()
            .enumerate()
            .filter(|(n, _)| variant >> n & 1 == 1)
            .map(|(_, one)| one)
            .collect();
        if chosen.iter().any(|(digit, ..)| !shown(*digit)) {
            continue;
        }
        let mut shapes = SHAPES;
        for (digit, shape, _) in &chosen {
            shapes[*digit] = *shape;
        }
        let glyphs: Vec<&str> = chosen.iter().map(|(_, _, text)| *text).collect();
        for order in orders(ground, rows, units, &shapes) {
            let drawing = Drawing {
                digits: units
                    .iter()
                    .map(|unit| order.iter().map(|at| unit[*at]).collect())
                    .collect(),
                units,
                shapes,
                glyphs: glyphs.clone(),
            };
            found.extend(explain(ground, &drawing));
        }
    }
    found
}

/// For each segment the place of its bit in a unit; every choice that fits, or none where too many do.
fn orders(ground: &Ground<'_>, rows: &[Row], units: &[&[Bit]], shapes: &[u8; 10]) -> Vec<[usize; 7]> {
    let frames: Vec<&[u8]> = ground.numbers().map(|one| one.frame).collect();
    let fits = |segment: usize, at: usize| {
        rows.iter().zip(&frames).all(|(row, frame)| {
            row.iter().zip(units).all(|(digit, unit)| {
                let lit = digit.is_some_and(|digit| shapes[digit] >> (6 - segment) & 1 == 1);
                is_set(frame, unit[at]) == lit
            })
        })
    };
    let mut orders: Vec<Vec<usize>> = vec![Vec::new()];
    for segment in 0..7 {
        let places: Vec<usize> = (0..units[0].len()).filter(|at| fits(segment, *at)).collect();
        orders = orders
            .into_iter()
            .flat_map(|order| {
                let free = places
                    .iter()
                    .filter(|at| !order.contains(at))
                    .copied()
                    .collect::<Vec<_>>();
                free.into_iter().map(move |at| [order.clone(), vec![at]].concat())
            })
            .collect();
        if ORDERS_MAX < orders.len() {
            return Vec::new();
        }
    }
    orders.into_iter().filter_map(|order| order.try_into().ok()).collect()
}

/// Digits that are known, before the points between them are.
struct Drawing<'a> {
    digits: Vec<Vec<Bit>>,
    /// The bits around each of them.
    units: &'a [&'a [Bit]],
    shapes: [u8; 10],
    glyphs: Vec<&'a str>,
}

/// The explanations of these digits: the points stand in one row, at the distances of the digits.
fn explain(ground: &Ground<'_>, drawing: &Drawing<'_>) -> Vec<Hypothesis> {
    let digits = drawing.digits.len();
    let bits = drawing.digits.concat();
    let points: Vec<Vec<Bit>> = (0..digits - 1).map(|at| points(ground, &bits, digits, at)).collect();
    // a point that was seen and has no bit is no display of this kind
    let seen = |at: usize| {
        ground
            .numbers()
            .any(|one| point_after(one.display.decimals(), digits, at))
    };
    if (0..points.len()).any(|at| seen(at) && points[at].is_empty()) {
        return Vec::new();
    }
    let mut found = Vec::new();
    for at in 0..drawing.units[0].len() {
        for after in 0..=1 {
            let aligned: Option<Vec<Vec<Bit>>> = (0..digits - 1)
                .map(|n| match points[n].as_slice() {
                    [] => Some(Vec::new()),
                    follow => Some(vec![*follow.iter().find(|bit| **bit == drawing.units[n + after][at])?]),
                })
                .collect();
            found.extend(
                aligned
                    .map(|points| ground.explain(&value(ground, drawing, &points)))
                    .into_iter()
                    .flatten(),
            );
        }
    }
    found
}

fn value(ground: &Ground<'_>, drawing: &Drawing<'_>, points: &[Vec<Bit>]) -> Value {
    let Drawing {
        digits, shapes, glyphs, ..
    } = drawing;
    let mut bits = digits.concat();
    let blank = ground.numbers().any(|one| one.display.figures().len() < digits.len());
    let mut pieces = Vec::new();
    for (at, digit) in digits.iter().enumerate() {
        let dark = if blank && at + 1 < digits.len() {
            ", blank: true"
        } else {
            ""
        };
        pieces.push(format!("Digit(bits: \"{}\"{dark})", place(digit)));
        if let Some(point) = points.get(at).filter(|point| !point.is_empty()) {
            let lit = (1u64 << point.len()) - 1;
            pieces.push(format!(
                "Code(bits: \"{}\", words: {{0: \"\", {lit:#x}: \".\"}})",
                place(point)
            ));
            bits.extend(point);
        }
    }
    let character = |frame: &[u8], digit: &[Bit]| {
        let shape = digit
            .iter()
            .fold(0, |shape, bit| shape << 1 | u8::from(is_set(frame, *bit)));
        match (shape, shapes.iter().position(|known| *known == shape)) {
            (0, _) => '_',
            (LETTER_L, _) => 'L',
            (MINUS, _) => '-',
            (_, Some(digit)) => char::from(b'0' + u8::try_from(digit).expect("below ten")),
            (_, None) => '?',
        }
    };
    let word = |frame: &[u8]| {
        let mut word = String::new();
        for (at, digit) in digits.iter().enumerate() {
            match character(frame, digit) {
                '_' if blank && at + 1 < digits.len() && !word.bytes().any(|b| b.is_ascii_digit()) => {}
                character => word.push(character),
            }
            if points
                .get(at)
                .is_some_and(|point| !point.is_empty() && point.iter().all(|bit| is_set(frame, *bit)))
            {
                word.push('.');
            }
        }
        word
    };
    let overs = ground.overs().map(|one| Over::Word(word(one.frame))).collect();
    let glyphs = match glyphs.as_slice() {
        [] => String::new(),
        glyphs => format!("        glyphs: {{{}}},\n", glyphs.join(", ")),
    };
    Value {
        what: format!(
            "{} digits of seven segments, the first in {}",
            digits.len(),
            place(&digits[0])
        ),
        bits,
        pieces: pieces.join(", "),
        signed: false,
        pointed: true,
        more: format!("        segments: [{NAMES}],\n{glyphs}"),
        overs,
    }
}

/// True where so many decimals of so many digits put the point after this digit.
fn point_after(decimals: usize, digits: usize, at: usize) -> bool {
    decimals != 0 && at + 1 + decimals == digits
}

/// The bits that are set exactly while the point stands after this digit; empty where it was never seen there.
fn points(ground: &Ground<'_>, taken: &[Bit], digits: usize, at: usize) -> Vec<Bit> {
    let stands = |decimals: usize| point_after(decimals, digits, at);
    if !ground.numbers().any(|one| stands(one.display.decimals())) {
        return Vec::new();
    }
    let follows = |bit: &Bit| {
        ground
            .numbers()
            .all(|one| is_set(one.frame, *bit) == stands(one.display.decimals()))
    };
    let mut bits = ground.payload();
    bits.retain(|bit| !taken.contains(bit) && follows(bit));
    bits
}
