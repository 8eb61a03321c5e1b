//! Meters that send frames of bytes.

use coreproof::meter::decode::checksum::Rule;
use coreproof::value::quantity::Prefix;
use coreproof::value::reading::Function;

use crate::shows::{Family, Show, bytes};

fn digits(show: &Show) -> [u8; 2] {
    let packed = format!("{:04}", show.count);
    let code = u16::from_str_radix(&packed, 16).unwrap();
    if show.over { [0xff, 0xff] } else { code.to_be_bytes() }
}

fn signed(show: &Show) -> i16 {
    let size = i16::try_from(show.count).unwrap();
    match (show.over, show.negative) {
        (true, _) => i16::MAX,
        (false, true) => -size,
        (false, false) => size,
    }
}

fn with(mut frame: Vec<u8>, rule: Rule, little: bool) -> Vec<u8> {
    let code = rule.of(&frame);
    match (rule.bits(), little) {
        (8, _) => frame.push(code.to_be_bytes()[1]),
        (_, true) => frame.extend(code.to_le_bytes()),
        (_, false) => frame.extend(code.to_be_bytes()),
    }
    frame
}

fn flags(show: &Show) -> u8 {
    u8::from(show.negative) << 7 | u8::from(show.over) << 6
}

/// Segments lit for 0 to 9, bit 0 the top, then clockwise, the middle last.
const LIT: [u8; 10] = [0x3f, 0x06, 0x5b, 0x4f, 0x66, 0x6d, 0x7d, 0x07, 0x7f, 0x6f];

fn segments(show: &Show) -> Vec<u8> {
    if show.over {
        return vec![0, 0x3f, 0x38, 0];
    }
    let text = format!("{:04}", show.count);
    let point = 4 - show.decimals;
    text.bytes()
        .enumerate()
        .map(|(at, digit)| LIT[usize::from(digit - b'0')] | if at == point && at != 0 { 0x80 } else { 0 })
        .collect()
}

fn icons(show: &Show) -> [u8; 2] {
    let dial = match show.function {
        Function::VoltageDc => 0x11,
        Function::VoltageAc => 0x12,
        _ => 0x20,
    };
    let prefix = match show.prefix {
        Prefix::Milli => 1,
        Prefix::Kilo => 2,
        Prefix::Mega => 4,
        _ => 0,
    };
    [dial, prefix | u8::from(show.negative) << 7]
}

fn float(show: &Show) -> f32 {
    if show.over {
        f32::INFINITY
    } else {
        show.number().parse().unwrap()
    }
}

pub fn families() -> Vec<Family> {
    [packed(), counted(), drawn(), mute()].into_iter().flatten().collect()
}

fn packed() -> Vec<Family> {
    let crc = |poly, init, reflected, xor_out| Rule::Crc16 {
        poly,
        init,
        reflected,
        xor_out,
    };
    vec![
        bytes("packed-sum", |s, _| {
            let [a, b] = digits(s);
            with(
                vec![0xa5, s.function_code() << 4 | flags(s) >> 6, s.range_code(), a, b],
                Rule::Sum8,
                false,
            )
        }),
        bytes("packed-check-8", |s, _| {
            let [a, b] = digits(s);
            let rule = Rule::Crc8 {
                poly: 0x2f,
                init: 0xff,
                reflected: false,
                xor_out: 0xff,
            };
            with(
                vec![0x7e, 0x21, s.function_code(), s.range_code(), flags(s), a, b],
                rule,
                false,
            )
        }),
        bytes("packed-check-16", move |s, _| {
            let [a, b] = digits(s);
            with(
                vec![0xd5, s.function_code(), s.range_code(), flags(s), a, b],
                crc(0xc867, 0xffff, false, 0),
                false,
            )
        }),
        bytes("packed-bar", |s, _| {
            let [a, b] = digits(s);
            let bar = u8::try_from(s.count / 40).unwrap();
            with(
                vec![0xa5, 0x5a, s.function_code(), s.range_code(), flags(s), a, b, bar],
                Rule::Sum8,
                false,
            )
        }),
        bytes("packed-length", |s, _| {
            let [a, b] = digits(s);
            with(
                vec![0xaa, 0x55, 6, s.function_code(), s.range_code(), flags(s), a, b, 0x0d],
                Rule::Sum16,
                false,
            )
        }),
    ]
}

fn counted() -> Vec<Family> {
    vec![
        bytes("count-low-first", |s, _| {
            let [a, b] = signed(s).to_le_bytes();
            with(vec![0xab, s.function_code(), s.range_code(), a, b], Rule::Xor8, false)
        }),
        bytes("count-high-first", |s, _| {
            let [a, b] = signed(s).to_be_bytes();
            let rule = Rule::Crc16 {
                poly: 0x8bb7,
                init: 0,
                reflected: false,
                xor_out: 0,
            };
            with(
                vec![0x5c, 0xc5, s.function_code(), s.range_code(), a, b, 0x01],
                rule,
                true,
            )
        }),
        bytes("count-numbered", |s, n| {
            let [a, b] = signed(s).to_be_bytes();
            with(
                vec![0xab, n.to_le_bytes()[0], s.function_code(), s.range_code(), a, b],
                Rule::Sum8,
                false,
            )
        }),
        bytes("count-two", |s, n| {
            let [a, b] = signed(s).to_be_bytes();
            let [c, d] = u16::try_from(4990 + n % 20).unwrap().to_be_bytes();
            with(
                vec![0xab, 0x01, s.function_code(), s.range_code(), a, b, c, d],
                Rule::Sum8,
                false,
            )
        }),
        bytes("float-low-first", |s, _| {
            let mut frame = vec![0x24, s.function_code(), s.range_code()];
            frame.extend(float(s).to_le_bytes());
            with(frame, Rule::Sum8, false)
        }),
        bytes("float-unguarded", |s, _| {
            let mut frame = vec![0x55, 0xaa, s.function_code(), s.range_code()];
            frame.extend(float(s).to_be_bytes());
            frame.push(0x0a);
            frame
        }),
    ]
}

fn drawn() -> Vec<Family> {
    vec![
        bytes("drawn", |s, _| {
            [vec![0xf1, 0xe7], segments(s), icons(s).to_vec(), vec![0]].concat()
        }),
        bytes("drawn-sealed", |s, _| {
            let frame = [vec![0xf1], segments(s), icons(s).to_vec()].concat();
            with(frame, Rule::TwosComplement8, false)
        }),
        bytes("drawn-backwards", |s, _| {
            let mut lit = segments(s);
            lit.reverse();
            with([vec![0x9c, 0x33], icons(s).to_vec(), lit].concat(), Rule::Sum8, false)
        }),
        bytes("text-of-any-length", |s, _| {
            let text = format!("{} {} {}", s.dial(), s.or("OL"), s.unit());
            let mut frame = vec![0x01, u8::try_from(text.len()).unwrap()];
            frame.extend(text.as_bytes());
            with(frame, Rule::Sum8, false)
        }),
    ]
}

fn mute() -> Vec<Family> {
    vec![
        bytes("counts-without-range", |s, _| {
            let [a, b] = signed(s).to_be_bytes();
            with(vec![0xab, s.function_code(), a, b, 0x02], Rule::Sum8, false)
        }),
        bytes("packed-no-function", |s, _| {
            let [a, b] = digits(s);
            let unit = u8::from(s.function == Function::Resistance);
            with(vec![0xa5, unit, s.range_code(), flags(s), a, b], Rule::Sum8, false)
        }),
        bytes("over-as-full-scale", |s, _| {
            let code = u16::from_str_radix(&format!("{:04}", s.count), 16)
                .unwrap()
                .to_be_bytes();
            with(
                vec![
                    0xa5,
                    0x10,
                    s.function_code(),
                    s.range_code(),
                    u8::from(s.negative),
                    code[0],
                    code[1],
                ],
                Rule::Sum8,
                false,
            )
        }),
    ]
}
