//! One line of the trust list: names, options, key. Where stock OpenSSH would read the line otherwise than it is read
//! here, or would not use it, it is refused.

use jiff::{Timestamp, civil::DateTime, tz::TimeZone};

use super::{LineFault, NAMESPACE, PublicKey, name::check_listed, name::shown, public::is_key_kind};

/// One line of the list: a key and what it is believed for.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Signer {
    /// The names on the line, one at least.
    pub names: Vec<String>,
    /// The key; its comment is the first name.
    pub key: PublicKey,
    /// Patterns of the purposes the key is believed for; without them, any purpose.
    pub namespaces: Option<String>,
    /// The key is believed from this moment on, itself included.
    pub valid_after: Option<Timestamp>,
    /// The key is believed up to this moment, itself included.
    pub valid_before: Option<Timestamp>,
    /// Line number in the file, from 1.
    pub line: usize,
}

/// From when and until when a key is believed, both included; nothing is no bound.
pub type Span = (Option<Timestamp>, Option<Timestamp>);

impl Signer {
    /// Whether the key is believed for `namespace` at the moment `at`.
    pub(super) fn covers(&self, namespace: &str, at: Timestamp) -> bool {
        self.namespaces
            .as_ref()
            .is_none_or(|list| list_matches(list, namespace))
            && self.valid_after.is_none_or(|after| after <= at)
            && self.valid_before.is_none_or(|before| at <= before)
    }

    /// `names [options] ssh-ed25519 base64 [comment]`; nothing for an empty line or a comment.
    pub(super) fn parse(text: &str, line: usize) -> Result<Option<Self>, LineFault> {
        let text = text.trim_matches([' ', '\t', '\r']);
        if text.is_empty() || text.starts_with('#') {
            return Ok(None);
        }
        let (field, rest) = match text.strip_prefix('"') {
            Some(quoted) => quoted.split_once('"').ok_or(LineFault::QuoteOpen)?,
            None => text.split_once(BLANK).ok_or(LineFault::NoKey)?,
        };
        let names: Vec<String> = field.split(',').map(String::from).collect();
        for name in &names {
            check_listed(name).map_err(|fault| LineFault::Name {
                name: shown(name),
                fault,
            })?;
        }
        let rest = rest.trim_start_matches(BLANK);
        let (options, key) = if is_key_kind(rest) {
            ("", rest)
        } else {
            split_options(rest)?
        };
        let key = key.trim_start_matches(BLANK);
        if key.is_empty() {
            return Err(LineFault::NoKey);
        }
        let words: Vec<&str> = key.split(BLANK).filter(|word| !word.is_empty()).take(2).collect();
        let key = PublicKey::parse(&words.join(" ")).map_err(|error| LineFault::Key(error.to_string()))?;
        let mut signer = Self {
            key: key.with_comment(&names[0]),
            names,
            namespaces: None,
            valid_after: None,
            valid_before: None,
            line,
        };
        apply_options(&mut signer, options)?;
        Ok(Some(signer))
    }

    /// Believes a key for records, and only for them, between two moments, both included.
    pub(super) fn of(name: &str, key: &PublicKey, (valid_after, valid_before): Span) -> Self {
        Self {
            names: vec![name.to_owned()],
            key: key.with_comment(name),
            namespaces: Some(NAMESPACE.to_owned()),
            valid_after,
            valid_before,
            line: 0,
        }
    }

    /// The line as it is written, with its line feed.
    pub(super) fn text(&self) -> String {
        let time = |at: Timestamp| TimeZone::UTC.to_datetime(at).strftime("%Y%m%d%H%M%SZ").to_string();
        let options = [
            self.namespaces
                .as_ref()
                .map(|purposes| format!("namespaces=\"{purposes}\"")),
            self.valid_after.map(|at| format!("valid-after=\"{}\"", time(at))),
            self.valid_before.map(|at| format!("valid-before=\"{}\"", time(at))),
        ];
        let options: Vec<String> = options.into_iter().flatten().collect();
        let key = self.key.with_comment("").openssh_line();
        let options = match options.is_empty() {
            true => String::new(),
            false => options.join(",") + " ",
        };
        format!("\"{}\" {options}{}\n", self.names.join(","), key.trim_end())
    }
}

const BLANK: [char; 2] = [' ', '\t'];

/// Splits at the first blank outside quotation marks.
fn split_options(text: &str) -> Result<(&str, &str), LineFault> {
    let mut quoted = false;
    let end = text.find(|c| {
        quoted ^= c == '"';
        !quoted && BLANK.contains(&c)
    });
    match end {
        Some(end) => Ok(text.split_at(end)),
        None if quoted => Err(LineFault::QuoteOpen),
        None => Err(LineFault::NoKey),
    }
}

fn apply_options(signer: &mut Signer, options: &str) -> Result<(), LineFault> {
    let mut quoted = false;
    let parts = options.split(|c| {
        quoted ^= c == '"';
        !quoted && c == ','
    });
    for part in parts.filter(|_| !options.is_empty()) {
        let (keyword, value) = part
            .split_once('=')
            .map_or((part, None), |(keyword, value)| (keyword, Some(value)));
        let keyword = keyword.to_ascii_lowercase();
        let unquoted = || {
            value
                .and_then(|value| value.strip_prefix('"')?.strip_suffix('"'))
                .filter(|value| !value.contains(['"', '\\']))
                .ok_or_else(|| LineFault::OptionUnquoted(keyword.clone()))
        };
        let twice = match keyword.as_str() {
            "namespaces" => signer.namespaces.replace(unquoted()?.into()).is_some(),
            "valid-after" => signer.valid_after.replace(parse_time(unquoted()?)?).is_some(),
            "valid-before" => signer.valid_before.replace(parse_time(unquoted()?)?).is_some(),
            _ => return Err(LineFault::OptionUnknown(shown(&keyword))),
        };
        if twice {
            return Err(LineFault::OptionTwice(keyword));
        }
    }
    match (signer.valid_after, signer.valid_before) {
        (Some(after), Some(before)) if before <= after => Err(LineFault::TimesReversed),
        _ => Ok(()),
    }
}

/// `YYYYMMDDZ`, `YYYYMMDDHHMMZ` or `YYYYMMDDHHMMSSZ`. Stock OpenSSH reads a time without `Z` in the zone of the
/// computer it runs on; a record must mean the same everywhere, so that is refused here.
fn parse_time(text: &str) -> Result<Timestamp, LineFault> {
    let unreadable = || LineFault::TimeUnreadable(shown(text));
    let digits = text.strip_suffix('Z').unwrap_or(text);
    if !matches!(digits.len(), 8 | 12 | 14) || !digits.bytes().all(|byte| byte.is_ascii_digit()) {
        return Err(unreadable());
    }
    let number = |from: usize, to: usize| {
        digits
            .get(from..to)
            .map_or(0, |part| part.parse().expect("digits only"))
    };
    let two = |from| i8::try_from(number(from, from + 2)).expect("two digits");
    let year = number(0, 4);
    let moment = DateTime::new(year, two(4), two(6), two(8), two(10), two(12), 0)
        .and_then(|moment| TimeZone::UTC.to_timestamp(moment))
        .map_err(|_| unreadable())?;
    if text.ends_with('Z') {
        Ok(moment)
    } else {
        Err(LineFault::TimeWithoutZone(text.into()))
    }
}

/// Whether one of the comma-separated patterns fits `text` and none that begins with `!` does.
fn list_matches(list: &str, text: &str) -> bool {
    let mut fits = false;
    for pattern in list.split(',') {
        match pattern.strip_prefix('!') {
            Some(pattern) if pattern_matches(pattern.as_bytes(), text.as_bytes()) => return false,
            Some(_) => {}
            None => fits |= pattern_matches(pattern.as_bytes(), text.as_bytes()),
        }
    }
    fits
}

/// `*` stands for any run of characters, `?` for one. Works from left to right, returning to the last `*` where what
/// follows it does not fit, so that its time is bounded by the product of the two lengths.
fn pattern_matches(pattern: &[u8], text: &[u8]) -> bool {
    let (mut p, mut t) = (0, 0);
    let mut star: Option<(usize, usize)> = None;
    while t < text.len() {
        match pattern.get(p) {
            Some(b'*') => {
                star = Some((p, t));
                p += 1;
            }
            Some(&c) if c == b'?' || c == text[t] => {
                p += 1;
                t += 1;
            }
            _ => match star {
                Some((at, taken)) => {
                    star = Some((at, taken + 1));
                    p = at + 1;
                    t = taken + 1;
                }
                None => return false,
            },
        }
    }
    pattern[p..].iter().all(|&c| c == b'*')
}

#[cfg(test)]
mod tests {
    use super::*;

    /// The public key of RFC 8032 section 7.1, test 2.
    const ONE: &str = "ssh-ed25519 AAAAC3NzaC1lZDI1NTE5AAAAID1AF8PoQ4lakrcKp00bfrycmCzPLsSWjMDNVfEq9GYM";

    fn noon() -> Timestamp {
        "2026-11-25T12:00:00Z".parse().unwrap()
    }

    /// Under which name the line's key is believed for records at noon on 25 November 2026.
    fn named(text: &str, expected: Option<&str>) {
        let signer = Signer::parse(text, 1).unwrap();
        let name = signer
            .filter(|signer| signer.covers(NAMESPACE, noon()))
            .map(|signer| signer.names[0].clone());
        assert_eq!(name.as_deref(), expected, "{text}");
    }

    fn refused(text: &str, expected: &str) {
        let fault = Signer::parse(text, 1).unwrap_err();
        assert_eq!(fault.to_string(), expected, "{text}");
    }

    #[test]
    fn names_quoted_or_not_are_read() {
        named(&format!("morgan {ONE}"), Some("morgan"));
        named(&format!("\"Morgan Teal\" {ONE} comment\tand more"), Some("Morgan Teal"));
        named(&format!("morgan,apprentice\t{ONE}"), Some("morgan"));
        named(&format!("  Mørgan\t\t{ONE}\r"), Some("Mørgan"));
        for text in ["", " \t", "# note", "\t # note"] {
            named(text, None);
        }
        let signer = Signer::parse(&format!("morgan,apprentice {ONE}"), 7).unwrap().unwrap();
        assert_eq!(signer.names, ["morgan", "apprentice"]);
        assert_eq!((signer.key.comment(), signer.line), ("morgan", 7));
    }

    #[test]
    fn namespace_patterns_are_honoured() {
        for (list, fits) in [
            ("record@coreproof", true),
            ("file,record@coreproof", true),
            ("*", true),
            ("record@*", true),
            ("*@coreproo?", true),
            ("*e*o*f", true),
            ("file", false),
            ("", false),
            ("record@coreproo", false),
            ("record@coreproof?", false),
            ("*x", false),
            ("*,!record@coreproof", false),
            ("!file", false),
            ("*,!file", true),
        ] {
            named(&format!("morgan namespaces=\"{list}\" {ONE}"), fits.then_some("morgan"));
        }
        named(
            &format!("morgan NameSpaces=\"file\",valid-after=\"20200101Z\" {ONE}"),
            None,
        );
    }

    #[test]
    fn validity_includes_both_its_ends() {
        for (options, fits) in [
            ("valid-after=\"20261125Z\"", true),
            ("valid-after=\"20261126Z\"", false),
            ("valid-after=\"202611251200Z\"", true),
            ("valid-after=\"202611251201Z\"", false),
            ("valid-after=\"20261125120000Z\"", true),
            ("valid-after=\"20261125120001Z\"", false),
            ("valid-before=\"20261125120000Z\"", true),
            ("valid-before=\"20261125115959Z\"", false),
            ("valid-before=\"20261125Z\"", false),
            (
                "Valid-After=\"20261101Z\",valid-before=\"20261201Z\",namespaces=\"*\"",
                true,
            ),
        ] {
            named(&format!("morgan {options} {ONE}"), fits.then_some("morgan"));
        }
    }

    #[test]
    fn each_bad_line_is_named_by_its_fault() {
        refused("apprentice", "there is no key after the name");
        refused("apprentice namespaces=\"*\"", "there is no key after the name");
        refused("apprentice namespaces=\"*\" ", "there is no key after the name");
        refused("\"apprentice", "a quotation mark is not closed");
        refused(
            &format!("apprentice namespaces=\"* {ONE}"),
            "a quotation mark is not closed",
        );
        refused(
            &format!("* {ONE}"),
            "`*` cannot be a signer's name: it holds the character `*`",
        );
        refused(&format!("a,,b {ONE}"), "`` cannot be a signer's name: it is empty");
        refused("apprentice ssh-ed25519 AAAA", "this is not an OpenSSH public key line");
        refused(
            &format!("apprentice cert-authority {ONE}"),
            "the option `cert-authority` is not known",
        );
        refused(
            &format!("apprentice namespaces=\"*\",, {ONE}"),
            "the option `` is not known",
        );
        refused(
            &format!("apprentice namespaces=* {ONE}"),
            "the option `namespaces` needs a value in quotation marks",
        );
        refused(
            &format!("apprentice namespaces {ONE}"),
            "the option `namespaces` needs a value in quotation marks",
        );
        refused(
            &format!("apprentice namespaces=\"a\",Namespaces=\"b\" {ONE}"),
            "the option `namespaces` stands twice",
        );
        refused(
            &format!("apprentice valid-after=\"20260102Z\",valid-before=\"20260102Z\" {ONE}"),
            "valid-after is not before valid-before",
        );
        refused(
            &format!("apprentice valid-after=\"20260102\" {ONE}"),
            "the time `20260102` has no `Z`, so it means a different moment on each computer",
        );
        for time in [
            "",
            "Z",
            "2026",
            "20261301Z",
            "20260230Z",
            "2026010224Z",
            "202601022400Z",
            "20260102030460Z",
            "2026-01-02Z",
            "20260102ZZ",
        ] {
            refused(
                &format!("apprentice valid-before=\"{time}\" {ONE}"),
                &format!("`{time}` is not a time of the form YYYYMMDDZ, YYYYMMDDHHMMZ or YYYYMMDDHHMMSSZ"),
            );
        }
    }

    /// Stock `ssh-keygen -Y verify` on a record, its signature and a list of the text given.
    #[cfg(feature = "outside")]
    fn stock_accepts(folder: &std::path::Path, list: &str, name: &str, record: &[u8], armored: &str, at: &str) -> bool {
        use std::{
            fs,
            process::{Command, Stdio},
        };
        fs::write(folder.join("trusted"), list).unwrap();
        fs::write(folder.join("record.jsonl"), record).unwrap();
        fs::write(folder.join("record.jsonl.sig"), armored).unwrap();
        Command::new("ssh-keygen")
            .args([
                "-Y",
                "verify",
                "-f",
                "trusted",
                "-I",
                name,
                "-n",
                NAMESPACE,
                "-s",
                "record.jsonl.sig",
                "-O",
            ])
            .arg(format!("verify-time={at}"))
            .current_dir(folder)
            .stdin(fs::File::open(folder.join("record.jsonl")).unwrap())
            .stdout(Stdio::null())
            .stderr(Stdio::null())
            .status()
            .unwrap()
            .success()
    }

    #[cfg(feature = "outside")]
    #[test]
    fn stock_ssh_keygen_verifies_by_the_line_written_here() {
        let folder = tempfile::tempdir().unwrap();
        let signing = crate::evidence::keys::SigningKey::throw_away();
        let record = b"{\"event\":\"opened\"}\n";
        let armored = signing.sign(record);
        let list = Signer::of("Mørgan O'Teal", &signing.public(), (None, None)).text();
        let accepts = |list: &str, name: &str, record: &[u8], armored: &str| {
            stock_accepts(folder.path(), list, name, record, armored, "20261125120000Z")
        };
        assert!(accepts(&list, "Mørgan O'Teal", record, &armored));
        assert!(!accepts(&list, "Apprentice", record, &armored));
        assert!(!accepts(
            &list.replace("record@", "file@"),
            "Mørgan O'Teal",
            record,
            &armored
        ));
        for at in 0..record.len() {
            let mut flipped = record.to_vec();
            flipped[at] ^= 1;
            assert!(!accepts(&list, "Mørgan O'Teal", &flipped, &armored));
            assert!(crate::evidence::keys::verify(&flipped, &armored, None).is_err());
        }
        // the same signature at the width that PROTOCOL.sshsig suggests
        let body: String = armored.lines().filter(|line| !line.starts_with('-')).collect();
        let wide = format!(
            "-----BEGIN SSH SIGNATURE-----\n{}\n{}\n{}\n{}\n-----END SSH SIGNATURE-----\n",
            &body[..76],
            &body[76..152],
            &body[152..228],
            &body[228..]
        );
        assert!(accepts(&list, "Mørgan O'Teal", record, &wide));
        crate::evidence::keys::verify(record, &wide, Some(&signing.public())).unwrap();
    }

    /// The reading of each option here is that of stock OpenSSH, line by line.
    #[cfg(feature = "outside")]
    #[test]
    fn options_mean_what_stock_ssh_keygen_takes_them_for() {
        let folder = tempfile::tempdir().unwrap();
        let signing = crate::evidence::keys::SigningKey::throw_away();
        let (armored, key) = (signing.sign(b"x"), signing.public().openssh_line());
        for (options, expected) in [
            ("", true),
            ("namespaces=\"record@coreproof\"", true),
            ("Namespaces=\"a,*@core?roof\"", true),
            ("namespaces=\"*,!record@coreproof\"", false),
            ("namespaces=\"!file\"", false),
            ("namespaces=record@coreproof", false),
            ("valid-after=\"20261125Z\"", true),
            ("valid-after=\"20261125120000Z\"", true),
            ("valid-after=\"20261125120001Z\"", false),
            ("valid-before=\"202611251200Z\"", true),
            ("valid-before=\"20261125115959Z\"", false),
            ("valid-before=\"20261301Z\"", false),
            ("valid-after=\"20260101Z\",valid-before=\"20270101Z\"", true),
            ("valid-after=\"20270101Z\",valid-before=\"20260101Z\"", false),
            ("unheard-of", false),
        ] {
            let list = format!("\"Morgan Teal\" {options} {key}");
            let ours = Signer::parse(&list, 1)
                .ok()
                .flatten()
                .is_some_and(|signer| signer.covers(NAMESPACE, noon()));
            assert_eq!(ours, expected, "{options}");
            let stock = stock_accepts(folder.path(), &list, "Morgan Teal", b"x", &armored, "20261125120000Z");
            assert_eq!(stock, expected, "{options}");
        }
    }
}
