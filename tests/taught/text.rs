//! Meters that send text.

use coreproof::meter::decode::checksum::Rule;
use coreproof::value::quantity::Prefix;
use coreproof::value::reading::Function;

use crate::shows::{Family, Show, bytes, text};

fn hms(n: u32) -> String {
    format!(
        "{:02}:{:02}:{:02}.{}",
        10 + n / 36000,
        n / 600 % 60,
        n / 10 % 60,
        n % 10
    )
}

/// A second figure that has nothing to do with the display but moves with it.
fn other(show: &Show, factor: u32) -> String {
    let count = u32::from(show.count) * factor / 100 % 10_000;
    format!("{}.{:02}", count / 100, count % 100)
}

fn bar(show: &Show, full: char, empty: char) -> String {
    let lit = usize::from(show.count / 500);
    (0..20).map(|n| if n < lit { full } else { empty }).collect()
}

fn base(show: &Show) -> f64 {
    let factor = match show.prefix {
        Prefix::Milli => 1e-3,
        Prefix::Kilo => 1e3,
        Prefix::Mega => 1e6,
        _ => 1.0,
    };
    show.number().parse::<f64>().unwrap() * factor
}

fn exponent(number: f64) -> String {
    let text = format!("{number:+.6E}");
    let (mantissa, power) = text.split_once('E').unwrap();
    let power: i32 = power.parse().unwrap();
    format!("{mantissa}E{power:+03}")
}

fn sealed(line: &str, rule: Rule) -> String {
    let digits = rule.bits() as usize / 4;
    format!("{line}*{:0digits$X}\r\n", rule.of(line.as_bytes()))
}

fn crc8() -> Rule {
    Rule::Crc8 {
        poly: 0x31,
        init: 0xff,
        reflected: false,
        xor_out: 0,
    }
}

fn crc16() -> Rule {
    Rule::Crc16 {
        poly: 0x3d65,
        init: 0,
        reflected: true,
        xor_out: 0xffff,
    }
}

pub fn families() -> Vec<Family> {
    [plain(), crowded(), framed(), mute()].into_iter().flatten().collect()
}

/// Words, signs and number formats.
fn plain() -> Vec<Family> {
    let ohm = |show: &Show, sign: &str| {
        if show.function == Function::Resistance {
            sign.to_owned()
        } else {
            "V".into()
        }
    };
    vec![
        text("words", |s, _| format!("{} {} {}\r\n", s.dial(), s.or("OL"), s.unit())),
        text("commas", |s, _| format!("{},{},{}\n", s.or("OVER"), s.unit(), s.dial())),
        text("semicolons", |s, _| {
            format!("{};{};{};\r", s.dial(), s.or("OL"), s.unit())
        }),
        text("glued-unit", |s, _| {
            format!("{} {}{}\r\n", s.dial(), s.or("O.L"), s.unit())
        }),
        text("all-glued", |s, _| {
            format!("{}{}{}\r\n", s.dial(), s.or("OL"), s.unit())
        }),
        text("decimal-comma", |s, _| {
            format!("{} {} {}\r\n", s.dial(), s.or("OL").replace('.', ","), s.unit())
        }),
        text("comma-in-columns", |s, _| {
            format!(
                "{:<4};{:>7};{:<4}\r\n",
                s.dial(),
                s.or("OL").replace('.', ","),
                s.unit()
            )
        }),
        text("sign-apart", |s, _| {
            let sign = if s.negative { '-' } else { '+' };
            format!(
                "{} {sign} {} {}\n",
                s.dial(),
                s.or("OL").trim_start_matches('-'),
                s.unit()
            )
        }),
        text("padded", |s, _| {
            let sign = if s.negative { '-' } else { '+' };
            let number = if s.over {
                "0L".into()
            } else {
                format!("{sign}00{}", s.number().trim_start_matches('-'))
            };
            format!("{} {number} {}\r\n", s.dial(), s.unit())
        }),
        text("ohm-utf8", move |s, _| {
            format!("{} {} {}{}\r\n", s.dial(), s.or("OL"), s.letter(), ohm(s, "Ω"))
        }),
        bytes("ohm-one-byte", |s, _| {
            let mut line = format!("{} {} {}", s.dial(), s.or("OL"), s.letter()).into_bytes();
            line.extend(if s.function == Function::Resistance {
                &b"\xea"[..]
            } else {
                b"V"
            });
            line.extend(b"\r\n");
            line
        }),
        text("signs-for-dial", |s, _| {
            let dial = match s.function {
                Function::VoltageDc => "=",
                Function::VoltageAc => "~",
                _ => "",
            };
            format!("{} {}{dial}\r\n", s.or("----"), s.unit())
        }),
        text("exponents", |s, _| {
            let number = if s.over {
                "+9.900000E+37".into()
            } else {
                exponent(base(s))
            };
            let dial = match s.function {
                Function::VoltageDc => "VOLT",
                Function::VoltageAc => "VOLT:AC",
                _ => "RES",
            };
            format!("{dial} {number}\n")
        }),
        text("named", |s, _| {
            format!("F={} V={} U={}\r\n", s.dial(), s.or("OL"), s.unit())
        }),
        text("quoted", |s, _| {
            format!("\"{}\",\"{}\",\"{}\"\r\n", s.dial(), s.or("OL"), s.unit())
        }),
        text("objects", |s, _| {
            format!(
                "{{\"f\":\"{}\",\"v\":\"{}\",\"u\":\"{}\"}}\n",
                s.dial(),
                s.or("OL"),
                s.unit()
            )
        }),
        text("long-words", |s, _| {
            let prefix = match s.prefix {
                Prefix::Milli => "milli",
                Prefix::Kilo => "kilo",
                Prefix::Mega => "mega",
                _ => "",
            };
            let unit = if s.function == Function::Resistance {
                "ohms"
            } else {
                "volts"
            };
            format!("{} {} {prefix}{unit}\r\n", s.dial().to_lowercase(), s.or("overload"))
        }),
        text("letter-for-point", |s, _| {
            if s.over || s.function != Function::Resistance {
                return format!("{} {} {}\r\n", s.dial(), s.or("OL"), s.unit());
            }
            let letter = if s.letter().is_empty() { "R" } else { s.letter() };
            format!("{} {}\r\n", s.dial(), s.number().replace('.', letter))
        }),
    ]
}

/// Times, counters, bars and other figures beside the reading.
fn crowded() -> Vec<Family> {
    vec![
        text("time-first", |s, n| {
            format!("{} {} {} {}\r\n", hms(n), s.dial(), s.or("OL"), s.unit())
        }),
        text("date-and-time", |s, n| {
            format!(
                "2026-03-{:02}T{}Z,{},{},{}\r\n",
                1 + n / 9000,
                hms(n),
                s.dial(),
                s.or("OL"),
                s.unit()
            )
        }),
        text("counter-first", |s, n| {
            format!("{n:06} {} {} {}\r\n", s.dial(), s.or("OL"), s.unit())
        }),
        text("counter-last", |s, n| {
            format!("{} {} {} #{}\r\n", s.dial(), s.or("OL"), s.unit(), n % 1000)
        }),
        text("bar", |s, _| {
            format!("{} {} {} {}\r\n", s.dial(), s.or("OL"), s.unit(), bar(s, '|', '.'))
        }),
        text("minimum-maximum", |s, _| {
            format!(
                "{} {} {} MIN {} MAX {}\r\n",
                s.dial(),
                s.or("OL"),
                s.unit(),
                other(s, 31),
                other(s, 77)
            )
        }),
        text("three-readings", |s, n| {
            format!(
                "{} {} {};T {}.{} C;B {} %\r\n",
                s.dial(),
                s.or("OL"),
                s.unit(),
                20 + n / 500,
                n % 10,
                60 + n % 7
            )
        }),
        text("second-first", |s, _| {
            format!("{} Hz {} {} {}\r\n", other(s, 13), s.dial(), s.or("OL"), s.unit())
        }),
        text("header", |s, n| {
            let head = if n % 4 == 0 { "# BENCH METER 4 1/2\r\n" } else { "" };
            format!("{head}{} {} {}\r\n", s.dial(), s.or("OL"), s.unit())
        }),
        text("two-lines", |s, _| {
            format!("{}\r\n{} {}\r\n", s.dial(), s.or("OL"), s.unit())
        }),
        text("blank-line-between", |s, _| {
            format!("MODE {}\r\nVAL {} {}\r\n\r\n", s.dial(), s.or("OL"), s.unit())
        }),
        Family {
            times: 2,
            ..text("slow", |s, _| format!("{} {} {}\r\n", s.dial(), s.or("OL"), s.unit()))
        },
        Family {
            times: 1,
            midway: false,
            ..text("on-change", |s, _| {
                format!("{} {} {}\r\n", s.dial(), s.or("OL"), s.unit())
            })
        },
    ]
}

/// Ends of lines, delimiters and checksums.
fn framed() -> Vec<Family> {
    vec![
        text("end-reversed", |s, _| {
            format!("{} {} {}\n\r", s.dial(), s.or("OL"), s.unit())
        }),
        text("end-record", |s, _| {
            format!("{} {} {}\x1e", s.dial(), s.or("OL"), s.unit())
        }),
        text("end-zero", |s, _| format!("{} {} {}\0", s.dial(), s.or("OL"), s.unit())),
        text("end-semicolon", |s, _| {
            format!("{} {} {};", s.dial(), s.or("0.L"), s.unit())
        }),
        text("sum", |s, _| {
            sealed(&format!("{},{},{}", s.dial(), s.or("OL"), s.unit()), Rule::Sum8)
        }),
        text("check-of-8", |s, _| {
            sealed(&format!("{},{},{}", s.dial(), s.or("OL"), s.unit()), crc8())
        }),
        text("check-of-16", |s, _| {
            sealed(&format!("{},{:>7},{:<4}", s.dial(), s.or("OL"), s.unit()), crc16())
        }),
        text("delimited", |s, _| {
            format!("\x02{} {} {}\x03", s.dial(), s.or("OL"), s.unit())
        }),
        bytes("delimited-sealed", |s, _| {
            let mut frame = format!("\x02{} {} {}\x03", s.dial(), s.or("OL"), s.unit()).into_bytes();
            frame.push(frame[1..].iter().fold(0, |sum, byte| sum ^ byte));
            frame
        }),
    ]
}

/// Meters whose bytes do not tell everything.
fn mute() -> Vec<Family> {
    vec![
        text("no-prefix", |s, _| {
            format!("{} {} {}\r\n", s.dial(), s.or("OL"), s.symbol())
        }),
        text("no-function", |s, _| format!("{} {}\r\n", s.or("OL"), s.unit())),
        text("no-point", |s, _| {
            format!(
                "{} {} {}\r\n",
                s.dial(),
                if s.over {
                    "OL".into()
                } else {
                    s.number().replace('.', "")
                },
                s.unit()
            )
        }),
        text("over-as-number", |s, _| {
            format!("{} {} {}\r\n", s.dial(), s.number(), s.unit())
        }),
        text("number-alone", |s, _| format!("{}\r\n", s.or("OL"))),
    ]
}
