//! Figures as people spell them.
//!
//! The rule inside: a spelling is read where it can mean one thing only; where it can mean two, it is refused.

/// A number with its unit as it is spelt elsewhere, where a person spells it otherwise: `0,42`, `.42`, `200R`, `4R7`, `2k2`.
///
/// Errors say what is doubtful about it, as the end of a sentence.
pub(super) fn plain(text: &str) -> Result<String, &'static str> {
    let signed = text.strip_prefix(['+', '-']).unwrap_or(text);
    let sign = &text[..text.len() - signed.len()];
    let digits = |text: &str| text.bytes().take_while(u8::is_ascii_digit).count();
    let (whole, rest) = signed.split_at(digits(signed));
    let mut signs = rest.chars();
    let (first, after) = (signs.next(), signs.as_str());
    let (fraction, end) = after.split_at(digits(after));
    Ok(match first {
        Some(',') if !whole.is_empty() && !fraction.is_empty() => {
            if fraction.len() == 3 && !whole.trim_start_matches('0').is_empty() && whole.len() <= 3 {
                return Err("may be thousands or thousandths: type a point, or no sign between the digits");
            }
            format!("{sign}{whole}.{fraction}{end}")
        }
        Some('.') if whole.is_empty() && !fraction.is_empty() => format!("{sign}0.{fraction}{end}"),
        // in the code of resistors the letter stands for the point (IEC 60062)
        Some('R') if !whole.is_empty() && end.is_empty() => match fraction {
            "" => format!("{sign}{whole} ohm"),
            fraction => format!("{sign}{whole}.{fraction} ohm"),
        },
        Some(letter @ ('k' | 'M')) if !whole.is_empty() && !fraction.is_empty() && end.is_empty() => {
            format!("{sign}{whole}.{fraction} {letter}ohm")
        }
        _ => text.to_owned(),
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn what_can_mean_one_thing_is_read_and_what_can_mean_two_is_not() {
        let doubtful = Err("may be thousands or thousandths: type a point, or no sign between the digits");
        for (text, expected) in [
            ("0,42", Ok("0.42")),
            (".42 ohm", Ok("0.42 ohm")),
            ("-,5", Ok("-,5")),
            ("200R", Ok("200 ohm")),
            ("4R7", Ok("4.7 ohm")),
            ("2k2", Ok("2.2 kohm")),
            ("2M2", Ok("2.2 Mohm")),
            ("2 M", Ok("2 M")),
            ("1 mm\u{b2}", Ok("1 mm\u{b2}")),
            ("12,5 m", Ok("12.5 m")),
            ("0,123", Ok("0.123")),
            ("1,234", doubtful),
            ("12,500 m", doubtful),
        ] {
            assert_eq!(plain(text).as_deref().map_err(|why| *why), expected, "{text}");
        }
    }
}
