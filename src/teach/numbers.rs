//! Numbers in bits: packed decimal digits, integers and floats at every place where they fit all displays.
//!
//! The rule inside: a wider number counts only where its highest byte was ever used, and the codes at the ends of an
//! integer are no numbers, because meters keep them for what is none.

use super::bitmap::{Bit, bits_of, code, place};
use super::bits::{Ground, Over, Value};
use super::display::Display;
use super::hypothesis::Hypothesis;

pub(super) fn hypotheses(ground: &Ground<'_>) -> Vec<Hypothesis> {
    let free = ground.payload();
    let values = decimals(ground)
        .into_iter()
        .chain(integers(ground))
        .chain(floats(ground));
    let mine = values.filter(|value| value.bits.iter().all(|bit| free.contains(bit)));
    mine.flat_map(|value| ground.explain(&value)).collect()
}

/// Bytes of a number, the highest first, in both orders.
fn orders(at: usize, bytes: usize) -> Vec<(Vec<usize>, &'static str)> {
    let forward: Vec<usize> = (at..at + bytes).collect();
    match bytes {
        1 => vec![(forward, "")],
        _ => vec![
            (forward.clone(), ", high byte first"),
            (forward.into_iter().rev().collect(), ", low byte first"),
        ],
    }
}

fn decimals(ground: &Ground<'_>) -> Vec<Value> {
    let widths: Vec<usize> = ground.numbers().map(|one| one.display.figures().len()).collect();
    let Some(digits) = widths
        .first()
        .copied()
        .filter(|first| widths.iter().all(|width| width == first))
    else {
        return Vec::new();
    };
    let nibbles = |bytes: &[usize]| -> Vec<Bit> { bits_of(bytes.iter().copied()) };
    let mut places: Vec<(Vec<Bit>, &str)> = Vec::new();
    for at in 0..ground.bytes {
        let bytes = digits.div_ceil(2);
        if ground.bytes < at + bytes {
            continue;
        }
        for (order, name) in orders(at, bytes) {
            let bits = nibbles(&order);
            let spare = bits.len() - 4 * digits;
            places.push((bits[spare..].to_vec(), name));
            if spare != 0 {
                places.push((bits[..4 * digits].to_vec(), name));
            } else if at + bytes < ground.bytes && name != ", low byte first" {
                // across half bytes
                let wider = nibbles(&(at..=at + bytes).collect::<Vec<_>>());
                places.push((wider[4..4 + 4 * digits].to_vec(), name));
            }
        }
    }
    let text = |frame: &[u8], bits: &[Bit]| format!("{:0digits$x}", code(frame, bits));
    let fits = |bits: &[Bit]| {
        ground
            .numbers()
            .all(|one| text(one.frame, bits) == one.display.figures())
    };
    places.retain(|(bits, _)| bits.len() <= 64 && fits(bits));
    places
        .into_iter()
        .map(|(bits, order)| {
            let read = ground
                .overs()
                .map(|one| (code(one.frame, &bits), text(one.frame, &bits)));
            let (overs, special) = overs(read, |_, text| text.bytes().any(|b| !b.is_ascii_digit()));
            Value {
                what: format!("{digits} packed decimal digits in {}{order}", place(&bits)),
                pieces: format!("Bcd(bits: \"{}\"STEP, special: {{{special}}})", place(&bits)),
                bits,
                signed: false,
                pointed: false,
                more: String::new(),

                overs,
            }
        })
        .collect()
}

/// What over-range looks like, and the codes that stand for it.
fn overs(read: impl Iterator<Item = (u64, String)>, is_none: impl Fn(u64, &str) -> bool) -> (Vec<Over>, String) {
    let (mut overs, mut special) = (Vec::new(), Vec::new());
    for (code, text) in read {
        if is_none(code, &text) {
            let entry = format!("{code:#x}: \"OL\"");
            if !special.contains(&entry) {
                special.push(entry);
            }
            overs.push(Over::Word("OL".into()));
        } else {
            overs.push(Over::Digits(text));
        }
    }
    (overs, special.join(", "))
}

/// How an integer tells what is below zero.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum Below {
    /// A bit elsewhere, or nothing.
    Outside,
    TwosComplement,
    HighestBit,
}

fn integers(ground: &Ground<'_>) -> Vec<Value> {
    let negative = ground.numbers().any(|one| one.display.is_negative());
    let signs = match negative {
        true => &[Below::Outside, Below::TwosComplement, Below::HighestBit][..],
        false => &[Below::Outside],
    };
    let mut values = Vec::new();
    for bytes in 1..=4 {
        for at in 0..(ground.bytes + 1).saturating_sub(bytes) {
            for (order, name) in orders(at, bytes) {
                let used = bytes == 1 || ground.numbers().any(|one| one.frame[order[0]] != 0);
                for sign in signs.iter().filter(|_| used) {
                    values.extend(integer(ground, bits_of(order.iter().copied()), *sign, negative, name));
                }
            }
        }
    }
    values
}

/// The count of a display; leading zeros are not of an integer.
fn count(display: &Display) -> Option<i64> {
    let text = display.number()?;
    let whole = text.trim_start_matches(['-', '+']);
    if whole.len() > 1 && whole.starts_with('0') && !whole.starts_with("0.") {
        return None;
    }
    let size: i64 = display.figures().parse().ok()?;
    Some(if display.is_negative() { -size } else { size })
}

fn integer(ground: &Ground<'_>, mut bits: Vec<Bit>, sign: Below, negative: bool, order: &str) -> Option<Value> {
    let width = bits.len();
    let top = 1i64 << (width - 1);
    let read = |frame: &[u8], bits: &[Bit]| -> i64 {
        let raw = i64::try_from(code(frame, bits)).expect("at most 32 bits");
        match sign {
            Below::TwosComplement if raw & top != 0 => raw - 2 * top,
            Below::HighestBit if raw & top != 0 => -(raw - top),
            _ => raw,
        }
    };
    let fits = ground.numbers().all(|one| {
        let found = read(one.frame, &bits);
        match (count(one.display), sign) {
            (Some(count), Below::Outside) => found == count.abs(),
            (Some(count), _) => found == count,
            (None, _) => false,
        }
    });
    if !fits {
        return None;
    }
    // nothing below zero was shown, so nobody knows what the highest bit means: it has to stay dark
    if !negative && ground.numbers().all(|one| code(one.frame, &bits[..1]) == 0) {
        let over_uses_it = ground.overs().any(|one| code(one.frame, &bits[..1]) != 0);
        if !over_uses_it {
            bits.remove(0);
        }
    }
    let ones = (1u64 << bits.len()) - 1;
    let ends = [ones, ones >> 1, (ones >> 1) + 1];
    let read_overs = ground
        .overs()
        .map(|one| (code(one.frame, &bits), read(one.frame, &bits).to_string()));
    let (overs, mut special) = overs(read_overs, |code, _| ends.contains(&code));
    // a bit elsewhere and no code at the end is a number as any other
    for end in ends {
        let entry = format!("{end:#x}: ");
        let shown = ground.numbers().any(|one| code(one.frame, &bits) == end);
        let inside = sign != Below::Outside && end == ones && sign == Below::TwosComplement;
        if !special.contains(&entry) && !shown && !inside {
            let comma = if special.is_empty() { "" } else { ", " };
            special.push_str(&format!("{comma}{entry}\"not seen\""));
        }
    }
    let (name, written) = match sign {
        Below::Outside => ("a count", ""),
        Below::TwosComplement => ("a count in two's complement", ", sign: twos_complement"),
        Below::HighestBit => ("a count with a sign bit", ", sign: sign_bit"),
    };
    Some(Value {
        what: format!("{name} of {} bits in {}{order}", bits.len(), place(&bits)),
        pieces: format!(
            "Integer(bits: \"{}\"{written}STEP, special: {{{special}}})",
            place(&bits)
        ),
        bits,
        signed: sign != Below::Outside,
        pointed: false,
        more: String::new(),

        overs,
    })
}

fn floats(ground: &Ground<'_>) -> Vec<Value> {
    let mut values = Vec::new();
    for bytes in [4, 8] {
        for at in 0..(ground.bytes + 1).saturating_sub(bytes) {
            for (order, name) in orders(at, bytes) {
                let bits = bits_of(order);
                let float = |frame: &[u8]| match bytes {
                    4 => f64::from(f32::from_bits(u32::try_from(code(frame, &bits)).expect("32 bits"))),
                    _ => f64::from_bits(code(frame, &bits)),
                };
                let fits = ground.numbers().all(|one| {
                    let text = format!("{:.*}", one.display.decimals(), float(one.frame));
                    one.display
                        .number()
                        .is_some_and(|typed| typed.trim_start_matches('+') == text)
                });
                let numbers = ground.numbers().any(|one| float(one.frame) != 0.0);
                if !fits || !numbers {
                    continue;
                }
                let read = ground.overs().map(|one| (code(one.frame, &bits), float(one.frame)));
                let read: Vec<(u64, f64)> = read.collect();
                let none = |float: f64| !float.is_finite() || 9.9e37 <= float.abs();
                let (overs, special) = overs(
                    read.iter().map(|(code, float)| (*code, float.to_string())),
                    |code, _| read.iter().any(|(known, float)| *known == code && none(*float)),
                );
                values.push(Value {
                    what: format!("a float of {} bits in {}{name}", 8 * bytes, place(&bits)),
                    pieces: format!("Float(bits: \"{}\"STEP, special: {{{special}}})", place(&bits)),
                    bits,
                    signed: true,
                    pointed: false,
                    more: String::new(),

                    overs,
                });
            }
        }
    }
    values
}
