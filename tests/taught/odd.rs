//! Meters of a tired maker: nothing in them is unheard of, and each does one thing that the others do not.

use coreproof::meter::decode::checksum::Rule;
use coreproof::value::quantity::Prefix;
use coreproof::value::reading::Function;

use crate::shows::{Family, Show, bytes, text};

fn plain(s: &Show) -> String {
    format!("{} {} {}", s.dial(), s.or("OL"), s.unit())
}

/// A number with an exponent that is a multiple of three, and the unit without its prefix.
fn in_threes(s: &Show) -> String {
    let power = match s.prefix {
        Prefix::Milli => "-3",
        Prefix::Kilo => "+3",
        Prefix::Mega => "+6",
        _ => "+0",
    };
    if s.over {
        "OVERFLOW".into()
    } else {
        format!("{}E{power}", s.number())
    }
}

fn crc16() -> Rule {
    Rule::Crc16 {
        poly: 0x1021,
        init: 0x1d0f,
        reflected: false,
        xor_out: 0,
    }
}

pub fn families() -> Vec<Family> {
    [lines(), frames()].into_iter().flatten().collect()
}

fn lines() -> Vec<Family> {
    vec![
        text("exponents-of-three", |s, _| {
            format!("{} {} {}\r\n", s.dial(), in_threes(s), s.symbol())
        }),
        text("sign-behind", |s, _| {
            let sign = if s.negative { "-" } else { "" };
            let number = s.or("OL");
            format!("{} {}{sign} {}\r\n", s.dial(), number.trim_start_matches('-'), s.unit())
        }),
        text("led-by-dots", |s, _| {
            format!("{:.<6}{:.>9} {}\r\n", s.dial(), s.or("OL"), s.unit())
        }),
        bytes("comma-greek-and-tabs", |s, _| {
            let mut line = format!("{}\t{}\t{}", s.dial(), s.or("O.L").replace('.', ","), s.letter()).into_bytes();
            line.extend(if s.function == Function::Resistance {
                &b"\xd9"[..]
            } else {
                b"V"
            });
            line.extend(b"\t\r\n");
            line
        }),
        text("three-lines-and-a-counter", |s, n| {
            format!("#{:04}\r\n{}\r\n{} {}\r\n", n % 10_000, s.dial(), s.or("OL"), s.unit())
        }),
        text("now-least-most", |s, n| {
            let beside = |factor: u32| format!("{}.{:02}", (n / 7 * factor) % 90, u32::from(s.count) * factor % 100);
            format!("NOW {}\r\nMIN {}\r\nMAX {}\r\n", plain(s), beside(3), beside(7))
        }),
        text("battery-between", |s, n| {
            let battery = if n % 3 == 0 {
                format!("BAT {} %\r\n", 97 - n % 5)
            } else {
                String::new()
            };
            format!("{battery}{}\r\n", plain(s))
        }),
        text("each-line-twice", |s, _| format!("{0}\r\n{0}\r\n", plain(s))),
        text("day-first", |s, n| {
            format!(
                "{:02}/03/26 {:02}:{:02} {}\r\n",
                1 + n / 5000,
                n / 60 % 24,
                n % 60,
                plain(s)
            )
        }),
        text("range-word", |s, _| {
            format!("{};{};{};R{}\r\n", s.or("OL"), s.dial(), s.unit(), s.range_code())
        }),
        text("hexadecimal", |s, _| {
            let count = if s.over { 0xffff } else { s.count };
            let sign = if s.negative { '-' } else { '+' };
            format!("{} {sign}{count:04X} {:02X}\r\n", s.dial(), s.range_code())
        }),
        Family {
            times: 1,
            midway: false,
            ..text("once-in-two-seconds-with-header", |s, n| {
                format!("*** METER {} ***\r\n{}\r\n", n / 1000, plain(s))
            })
        },
    ]
}

fn frames() -> Vec<Family> {
    vec![
        bytes("long-length", |s, n| {
            let line = format!("{n:05},{}", plain(s));
            let mut frame = vec![0x10, 0x02];
            frame.extend(u16::try_from(line.len()).unwrap().to_be_bytes());
            frame.extend(line.as_bytes());
            let code = crc16().of(&frame);
            frame.extend(code.to_be_bytes());
            frame
        }),
        bytes("each-byte-with-its-opposite", |s, _| {
            let count = if s.over { 0x7fff } else { s.count };
            let [a, b] = count.to_be_bytes();
            let frame = [s.function_code(), s.range_code() << 1 | u8::from(s.negative), a, b];
            let both = frame.into_iter().flat_map(|byte| [byte, !byte]);
            [0x96].into_iter().chain(both).collect()
        }),
        bytes("offset-count", |s, _| {
            let size = i32::from(s.count) * if s.negative { -1 } else { 1 };
            let count = if s.over {
                0xffff
            } else {
                u16::try_from(0x8000 + size).unwrap()
            };
            let [a, b] = count.to_be_bytes();
            let frame = vec![0x3a, s.function_code(), s.range_code(), a, b];
            let sum = Rule::Sum8.of(&frame);
            [frame, vec![sum.to_be_bytes()[1]]].concat()
        }),
        bytes("swapped-nibbles", |s, _| {
            let digits: Vec<u8> = format!("{:04}", s.count)
                .bytes()
                .rev()
                .map(|digit| digit - b'0')
                .collect();
            let packed = |two: &[u8]| if s.over { 0xff } else { two[0] << 4 | two[1] };
            let flags = u8::from(s.negative) | u8::from(s.over) << 1;
            let frame = vec![
                0xe1,
                s.function_code(),
                s.range_code(),
                flags,
                packed(&digits[..2]),
                packed(&digits[2..]),
            ];
            let sum = Rule::Xor8.of(&frame);
            [frame, vec![sum.to_be_bytes()[1]]].concat()
        }),
    ]
}
