//! What a meter can show.
//!
//! The rule inside: a handheld of four digits with the usual functions and ranges; families differ in their bytes alone.

use coreproof::teach::display::Display;
use coreproof::value::quantity::{Digits, Prefix, Shown};
use coreproof::value::reading::Function;

/// One display, in the parts that bytes are made of.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Show {
    pub function: Function,
    pub prefix: Prefix,
    /// Four digits without their point.
    pub count: u16,
    pub decimals: usize,
    pub negative: bool,
    pub over: bool,
}

impl Show {
    /// Digits with a point and a sign below zero.
    pub fn number(&self) -> String {
        let digits = format!("{:04}", self.count);
        let (whole, fraction) = digits.split_at(4 - self.decimals);
        let sign = if self.negative { "-" } else { "" };
        if fraction.is_empty() {
            format!("{sign}{whole}")
        } else {
            format!("{sign}{whole}.{fraction}")
        }
    }

    /// The number, or a word for over-range.
    pub fn or(&self, over: &str) -> String {
        if self.over { over.into() } else { self.number() }
    }

    /// A name of the function.
    pub fn dial(&self) -> &'static str {
        match self.function {
            Function::VoltageDc => "DC",
            Function::VoltageAc => "AC",
            _ => "RES",
        }
    }

    pub fn letter(&self) -> &'static str {
        match self.prefix {
            Prefix::Milli => "m",
            Prefix::Kilo => "k",
            Prefix::Mega => "M",
            _ => "",
        }
    }

    /// The unit with its prefix, as most meters write it.
    pub fn unit(&self) -> String {
        format!("{}{}", self.letter(), self.symbol())
    }

    pub fn symbol(&self) -> &'static str {
        if self.function == Function::Resistance {
            "Ohm"
        } else {
            "V"
        }
    }

    /// A number for the function: 0, 1, 2.
    pub fn function_code(&self) -> u8 {
        match self.function {
            Function::VoltageDc => 1,
            Function::VoltageAc => 2,
            _ => 3,
        }
    }

    /// A number for prefix and place of the point.
    pub fn range_code(&self) -> u8 {
        let prefix = match self.prefix {
            Prefix::Milli => 0,
            Prefix::Kilo => 2,
            Prefix::Mega => 3,
            _ => 1,
        };
        prefix << 2 | u8::try_from(self.decimals).unwrap()
    }

    /// What the engineer reads off.
    pub fn display(&self) -> Display {
        Display {
            shown: if self.over {
                Shown::Over
            } else {
                Shown::Digits(Digits::parse(&self.number()).unwrap())
            },
            prefix: self.prefix,
            unit: self.function.unit(),
            function: self.function,
        }
    }

    /// The same kind of display: function, prefix, point and whether over-range.
    pub fn is_like(&self, other: &Show) -> bool {
        let kind = |one: &Show| {
            (
                one.function,
                one.prefix,
                if one.over { 0 } else { one.decimals },
                one.over,
            )
        };
        kind(self) == kind(other)
    }
}

/// Functions with their ranges: prefix and decimals.
pub const RANGES: [(Function, &[(Prefix, usize)]); 3] = [
    (
        Function::VoltageDc,
        &[
            (Prefix::One, 2),
            (Prefix::One, 3),
            (Prefix::One, 1),
            (Prefix::Milli, 1),
            (Prefix::Milli, 2),
        ],
    ),
    (
        Function::Resistance,
        &[
            (Prefix::Kilo, 3),
            (Prefix::One, 1),
            (Prefix::One, 2),
            (Prefix::Kilo, 2),
            (Prefix::Mega, 3),
        ],
    ),
    (
        Function::VoltageAc,
        &[(Prefix::One, 1), (Prefix::One, 2), (Prefix::One, 3), (Prefix::Milli, 1)],
    ),
];

/// The bytes of one sending while a display stands; the number counts them.
type Send = Box<dyn Fn(&Show, u32) -> Vec<u8>>;

/// A meter nobody described.
pub struct Family {
    pub name: &'static str,
    pub send: Send,
    /// How often it sends while a display is typed.
    pub times: u32,
    /// Whether listening begins in the middle of a sending.
    pub midway: bool,
}

pub fn text(name: &'static str, line: impl Fn(&Show, u32) -> String + 'static) -> Family {
    bytes(name, move |show, n| line(show, n).into_bytes())
}

pub fn bytes(name: &'static str, send: impl Fn(&Show, u32) -> Vec<u8> + 'static) -> Family {
    Family {
        name,
        send: Box::new(send),
        times: 12,
        midway: true,
    }
}
