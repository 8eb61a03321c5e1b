//! How `meter watch` shows what comes.
//!
//! The rule inside: readings go to standard output and troubles to standard error, and with `--json` both to standard
//! output, one object a line. Nothing here is taken or judged.

use std::io::{self, Write};

use serde_json::{Value, json};

use crate::terminal::plain::clean;
use crate::value::quantity::Shown;
use crate::value::reading::{Origin, Reading};

/// Columns that a line shown in place takes.
const IN_PLACE_WIDTH: usize = 78;

/// How lines are shown.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Form {
    /// One line that is written over.
    InPlace,
    Lines,
    Json,
}

/// A live reading.
#[derive(Debug, Clone)]
pub(super) struct Live<'a> {
    /// Milliseconds since watching began.
    pub ms: u64,
    pub reading: &'a Reading,
    /// `steady`, `moving` or `drifting` with its bound; unknown where the times mean nothing.
    pub state: Option<String>,
    /// Readings a second; unknown at first, and where the times mean nothing.
    pub rate: Option<f64>,
}

/// Shows on two writers.
#[derive(Debug)]
pub(super) struct View<O: Write, E: Write> {
    form: Form,
    out: O,
    err: E,
    in_place: bool,
    trouble: String,
}

impl<O: Write, E: Write> View<O, E> {
    pub(super) fn new(form: Form, out: O, err: E) -> View<O, E> {
        View {
            form,
            out,
            err,
            in_place: false,
            trouble: String::new(),
        }
    }

    /// A reading. Errors are those of standard output, which ends the watching.
    pub(super) fn reading(&mut self, live: &Live<'_>) -> io::Result<()> {
        self.trouble.clear();
        match self.form {
            Form::Json => self.json(&reading_json(live)),
            Form::Lines => {
                writeln!(self.out, "{}", words(live))?;
                self.out.flush()
            }
            Form::InPlace => {
                let text: String = words(live).chars().take(IN_PLACE_WIDTH).collect();
                write!(self.out, "\r{text:<IN_PLACE_WIDTH$}")?;
                self.in_place = true;
                self.out.flush()
            }
        }
    }

    /// What is wrong and the next act; the same trouble is shown once until a reading comes.
    pub(super) fn trouble(&mut self, ms: u64, message: &str, hint: Option<&str>) -> io::Result<()> {
        if self.form == Form::Json {
            return self.json(&json!({ "ms": ms, "trouble": message, "next": hint }));
        }
        if self.trouble == message {
            return Ok(());
        }
        self.trouble = message.to_owned();
        self.end_in_place()?;
        writeln!(self.err, "{}", clean(message))?;
        if let Some(hint) = hint {
            writeln!(self.err, " next: {}", clean(hint))?;
        }
        Ok(())
    }

    /// Bytes as they were read.
    pub(super) fn raw(&mut self, ms: u64, bytes: &[u8]) -> io::Result<()> {
        if self.form == Form::Json {
            return self.json(&json!({ "ms": ms, "bytes": hex(bytes, "") }));
        }
        self.end_in_place()?;
        for row in bytes.chunks(16) {
            let text: String = row
                .iter()
                .map(|byte| match byte {
                    0x20..0x7F => char::from(*byte),
                    _ => '.',
                })
                .collect();
            writeln!(self.out, "{ms:>8} ms  {:<47}  {text}", hex(row, " "))?;
        }
        self.out.flush()
    }

    /// Leaves the line that is written over.
    pub(super) fn end_in_place(&mut self) -> io::Result<()> {
        if std::mem::take(&mut self.in_place) {
            writeln!(self.out)?;
        }
        self.out.flush()
    }

    fn json(&mut self, value: &Value) -> io::Result<()> {
        writeln!(self.out, "{value}")?;
        self.out.flush()
    }
}

fn words(live: &Live<'_>) -> String {
    let mut parts = vec![live.reading.display()];
    parts.extend(live.reading.function.map(|function| function.dial()));
    parts.extend(live.state.clone());
    parts.extend(live.rate.map(|rate| format!("{rate:.1} readings/s")));
    clean(&parts.join(", "))
}

fn reading_json(live: &Live<'_>) -> Value {
    let reading = live.reading;
    let (value, above) = match &reading.shown {
        Shown::Digits(digits) => (Some(digits.text()), None),
        Shown::Above(digits) => (None, Some(digits.text())),
        Shown::Over => (None, None),
    };
    let (profile, raw) = match &reading.origin {
        Origin::Meter { profile, raw, .. } => (Some(profile), Some(raw)),
        Origin::Typed { .. } => (None, None),
    };
    json!({
        "ms": live.ms,
        "reading": reading.display(),
        "value": value,
        "above": above,
        "unit": format!("{}{}", reading.prefix.letter(), reading.unit),
        "function": reading.function.map(|function| function.dial()),
        "state": live.state,
        "rate": live.rate.map(|rate| (rate * 100.0).round() / 100.0),
        "profile": profile,
        "raw": raw,
    })
}

fn hex(bytes: &[u8], between: &str) -> String {
    let pairs: Vec<String> = bytes.iter().map(|byte| format!("{byte:02x}")).collect();
    pairs.join(between)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::meter::decode::decode_raw;
    use crate::meter::profile::find;
    use crate::value::raw::Raw;

    fn shown(form: Form) -> (String, String) {
        let frame = |text: &str| decode_raw(find("line-stream").unwrap(), &Raw::new(text.as_bytes())).unwrap();
        let (first, second) = (frame("LOWOHM;0.42;ohm;-"), frame("INS500;>299;Mohm;-"));
        let live = |reading, state: Option<&str>, rate| Live {
            ms: 250,
            reading,
            state: state.map(str::to_owned),
            rate,
        };
        let mut view = View::new(form, Vec::new(), Vec::new());
        view.raw(240, b"LOWOHM;0.42;ohm;-\r\n").unwrap();
        view.reading(&live(&first, Some("steady"), Some(4.0))).unwrap();
        view.reading(&live(&second, None, None)).unwrap();
        for _ in 0..2 {
            view.trouble(300, "nothing heard\u{7}", Some("wake the meter")).unwrap();
        }
        (
            String::from_utf8(view.out).unwrap(),
            String::from_utf8(view.err).unwrap(),
        )
    }

    #[test]
    fn lines_keep_readings_and_troubles_apart() {
        let (out, err) = shown(Form::Lines);
        let expected = "     240 ms  4c 4f 57 4f 48 4d 3b 30 2e 34 32 3b 6f 68 6d 3b  LOWOHM;0.42;ohm;
     240 ms  2d 0d 0a                                         -..
0.42 ohm, low-resistance continuity, steady, 4.0 readings/s
>299 Mohm, insulation at 500 V
";
        assert_eq!(
            (out.as_str(), err.as_str()),
            (expected, "nothing heard\n next: wake the meter\n")
        );
    }

    #[test]
    fn in_place_a_line_is_written_over_and_left_before_a_trouble() {
        let (out, _) = shown(Form::InPlace);
        assert!(
            out.ends_with(&format!("\r{:<78}\n", ">299 Mohm, insulation at 500 V")),
            "{out:?}"
        );
    }

    #[test]
    fn json_is_one_object_a_line() {
        let (out, err) = shown(Form::Json);
        let lines: Vec<Value> = out.lines().map(|line| serde_json::from_str(line).unwrap()).collect();
        let raw = "4c4f574f484d3b302e34323b6f686d3b2d";
        let reading = json!({
            "ms": 250, "reading": "0.42 ohm", "value": "0.42", "above": null, "unit": "ohm",
            "function": "low-resistance continuity", "state": "steady", "rate": 4.0, "profile": "line-stream", "raw": raw,
        });
        assert_eq!(lines[0], json!({ "ms": 240, "bytes": format!("{raw}0d0a") }));
        assert_eq!(lines[1], reading);
        assert_eq!((&lines[2]["value"], &lines[2]["above"]), (&Value::Null, &"299".into()));
        let trouble = json!({ "ms": 300, "trouble": "nothing heard\u{7}", "next": "wake the meter" });
        assert_eq!((&lines[3], lines.len(), err.as_str()), (&trouble, 5, ""));
    }
}
