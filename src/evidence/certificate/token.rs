//! Words and values of a PDF, as slices of its bytes.
//!
//! The rule inside: nothing is copied, nothing calls itself, and a value is passed over in one pass however deep it goes; what the
//! grammar of ISO 32000-1, 7.2 and 7.3, allows and our writer never writes (comments, brackets out of order) is no word here.

/// Brackets inside each other; a certificate has some ten.
const NESTED_MAX: usize = 64;

/// One word.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum Token<'a> {
    /// `<<` or `[`, by the bracket that ends it.
    Open(u8),
    /// `>>` or `]`, by its first byte.
    Close(u8),
    Name(&'a [u8]),
    Text(&'a [u8]),
    /// `<...>`
    Hex,
    Word(&'a [u8]),
}

/// One value.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Value<'a> {
    Dict(Dict<'a>),
    Array(&'a [u8]),
    /// Without its stroke, as it is written.
    Name(&'a [u8]),
    /// What stands between the brackets, as it is written.
    Text(&'a [u8]),
    /// The number of the object that is referred to.
    Ref(u32),
    /// A number or a word.
    Word(&'a [u8]),
    Hex,
}

/// The bytes between `<<` and `>>`.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) struct Dict<'a>(&'a [u8]);

/// A place in some bytes.
#[derive(Debug, Clone)]
pub(super) struct Scan<'a> {
    bytes: &'a [u8],
    at: usize,
    /// How often the name `EF` was met, which stands in front of every attachment.
    pub(super) attachments: usize,
}

impl<'a> Scan<'a> {
    pub(super) fn new(bytes: &'a [u8]) -> Scan<'a> {
        Scan {
            bytes,
            at: 0,
            attachments: 0,
        }
    }

    /// What has not been read.
    pub(super) fn rest(&self) -> &'a [u8] {
        &self.bytes[self.at..]
    }

    /// Passes over so many bytes.
    pub(super) fn skip(&mut self, bytes: usize) -> Option<&'a [u8]> {
        let passed = self.rest().get(..bytes)?;
        self.at += bytes;
        Some(passed)
    }

    fn blank(&mut self) {
        let blanks = self.rest().iter().take_while(|byte| is_blank(**byte)).count();
        self.at += blanks;
    }

    /// Whether nothing but blanks is left.
    pub(super) fn is_at_end(&mut self) -> bool {
        self.blank();
        self.rest().is_empty()
    }

    /// Reads a word that must be this one.
    pub(super) fn word(&mut self, word: &[u8]) -> Option<()> {
        (self.token()? == Token::Word(word)).then_some(())
    }

    /// Reads a whole number of at most ten digits.
    pub(super) fn number(&mut self) -> Option<u64> {
        match self.token()? {
            Token::Word(word) => number(word),
            _ => None,
        }
    }

    fn token(&mut self) -> Option<Token<'a>> {
        self.blank();
        let rest = self.rest();
        let (token, bytes) = match rest {
            [b'<', b'<', ..] => (Token::Open(b'>'), 2),
            [b'>', b'>', ..] => (Token::Close(b'>'), 2),
            [b'[', ..] => (Token::Open(b']'), 1),
            [b']', ..] => (Token::Close(b']'), 1),
            [b'<', ..] => (Token::Hex, hex(rest)?),
            [b'(', ..] => {
                let bytes = text(rest)?;
                (Token::Text(&rest[1..bytes - 1]), bytes)
            }
            [b'/', after @ ..] => {
                let name = plain(after);
                self.attachments += usize::from(is_name(name, b"EF"));
                (Token::Name(name), 1 + name.len())
            }
            _ => {
                let word = plain(rest);
                if word.is_empty() {
                    return None;
                }
                (Token::Word(word), word.len())
            }
        };
        self.at += bytes;
        Some(token)
    }

    /// Reads a value.
    pub(super) fn value(&mut self) -> Option<Value<'a>> {
        match self.token()? {
            Token::Open(end) => {
                let inside = self.inside(end)?;
                Some(if end == b'>' {
                    Value::Dict(Dict(inside))
                } else {
                    Value::Array(inside)
                })
            }
            Token::Close(_) => None,
            Token::Name(name) => Some(Value::Name(name)),
            Token::Text(text) => Some(Value::Text(text)),
            Token::Hex => Some(Value::Hex),
            Token::Word(word) => Some(self.reference(word).unwrap_or(Value::Word(word))),
        }
    }

    /// `12 0 R`, of which `12` was read.
    fn reference(&mut self, word: &[u8]) -> Option<Value<'a>> {
        let number = u32::try_from(number(word)?).ok()?;
        let mut ahead = self.clone();
        (ahead.token()? == Token::Word(b"0") && ahead.token()? == Token::Word(b"R")).then(|| {
            *self = ahead;
            Value::Ref(number)
        })
    }

    /// Passes to the bracket that ends the one that was read; what stands between.
    fn inside(&mut self, end: u8) -> Option<&'a [u8]> {
        let from = self.at;
        let mut open = vec![end];
        while !open.is_empty() {
            match self.token()? {
                Token::Open(end) if open.len() < NESTED_MAX => open.push(end),
                Token::Open(_) => return None,
                Token::Close(end) => (open.pop()? == end).then_some(())?,
                _ => {}
            }
        }
        let to = self.at - if end == b'>' { 2 } else { 1 };
        Some(&self.bytes[from..to])
    }
}

impl<'a> Dict<'a> {
    /// The value of a key: the error stands for a dictionary that is none, or has a key twice, since readers differ in which they take.
    pub(super) fn get(self, key: &[u8]) -> Result<Option<Value<'a>>, ()> {
        let mut scan = Scan::new(self.0);
        let mut found = None;
        while !scan.is_at_end() {
            let Some(Token::Name(name)) = scan.token() else {
                return Err(());
            };
            let value = scan.value().ok_or(())?;
            if is_name(name, key) && found.replace(value).is_some() {
                return Err(());
            }
        }
        Ok(found)
    }
}

/// The values of an array.
pub(super) fn values(inside: &[u8]) -> Option<Vec<Value<'_>>> {
    let mut scan = Scan::new(inside);
    let mut all = Vec::new();
    while !scan.is_at_end() {
        all.push(scan.value()?);
    }
    Some(all)
}

/// A whole number.
pub(super) fn number(word: &[u8]) -> Option<u64> {
    let digits = (1..=10).contains(&word.len()) && word.iter().all(u8::is_ascii_digit);
    digits.then(|| {
        word.iter()
            .fold(0, |number, digit| number * 10 + u64::from(digit - b'0'))
    })
}

/// Whether a name as it is written, with `#46` for a letter where it likes, is this one.
pub(super) fn is_name(written: &[u8], name: &[u8]) -> bool {
    let mut rest = written;
    let spelled = std::iter::from_fn(|| {
        let (byte, after) = match rest {
            [b'#', high, low, after @ ..] => {
                let digit = |digit: u8| char::from(digit).to_digit(16);
                match digit(*high).zip(digit(*low)) {
                    Some((high, low)) => (u8::try_from(16 * high + low).ok()?, after),
                    None => (b'#', &rest[1..]),
                }
            }
            [byte, after @ ..] => (*byte, after),
            [] => return None,
        };
        rest = after;
        Some(byte)
    });
    spelled.eq(name.iter().copied())
}

fn is_blank(byte: u8) -> bool {
    matches!(byte, b'\0' | b'\t' | b'\n' | b'\x0c' | b'\r' | b' ')
}

/// The bytes up to a blank, a bracket, a stroke or a comment.
fn plain(bytes: &[u8]) -> &[u8] {
    let ends = |byte: &u8| is_blank(*byte) || b"()<>[]{}/%".contains(byte);
    &bytes[..bytes.iter().position(ends).unwrap_or(bytes.len())]
}

/// The length of a text with its brackets, which may stand inside it in pairs.
fn text(bytes: &[u8]) -> Option<usize> {
    let (mut at, mut open) = (0, 0_usize);
    loop {
        match bytes.get(at)? {
            b'\\' => at += 1,
            b'(' => open += 1,
            b')' => open -= 1,
            _ => {}
        }
        at += 1;
        if open == 0 {
            return Some(at);
        }
    }
}

/// The length of a text in hexadecimal digits with its brackets.
fn hex(bytes: &[u8]) -> Option<usize> {
    let end = 1 + bytes[1..].iter().position(|byte| *byte == b'>')?;
    let digits = |byte: &u8| byte.is_ascii_hexdigit() || is_blank(*byte);
    bytes[1..end].iter().all(digits).then_some(end + 1)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn values_are_read_as_they_are_written() {
        let check = |bytes: &'static [u8], expected: Option<Value<'static>>, rest: &[u8]| {
            let mut scan = Scan::new(bytes);
            assert_eq!(scan.value(), expected);
            if expected.is_some() {
                assert_eq!(scan.rest(), rest);
            }
        };
        check(b" /Name(x)", Some(Value::Name(b"Name")), b"(x)");
        check(b"(a(b)\\)c) 1", Some(Value::Text(b"a(b)\\)c")), b" 1");
        check(b"<48 65>", Some(Value::Hex), b"");
        check(b"12 0 R/", Some(Value::Ref(12)), b"/");
        check(b"12 0 obj", Some(Value::Word(b"12")), b" 0 obj");
        check(b"[1[2](])<<>>]x", Some(Value::Array(b"1[2](])<<>>")), b"x");
        check(b"<</A[1]/B<<>>>>", Some(Value::Dict(Dict(b"/A[1]/B<<>>"))), b"");
        check(b"true", Some(Value::Word(b"true")), b"");
        for none in [
            b"".as_slice(),
            b"%x\n1",
            b"[>>",
            b"<<]",
            b"[1",
            b"(1",
            b"<4",
            b"<g>",
            b">>",
            b"}",
            b")",
        ] {
            check(none.to_vec().leak(), None, b"");
        }
        let deep = |levels: usize| [b"[".repeat(levels), b"]".repeat(levels)].concat().leak() as &[u8];
        assert!(Scan::new(deep(NESTED_MAX)).value().is_some());
        assert!(Scan::new(deep(NESTED_MAX + 1)).value().is_none());
    }

    #[test]
    fn a_key_of_a_dictionary_is_found_however_it_is_spelled_and_only_once() {
        let get = |inside: &'static [u8], key: &[u8]| Dict(inside).get(key);
        assert_eq!(get(b"/A 1/B 2", b"B"), Ok(Some(Value::Word(b"2"))));
        assert_eq!(get(b"/A 1/#42 2", b"B"), Ok(Some(Value::Word(b"2"))));
        assert_eq!(get(b"/A<</B 2>>", b"B"), Ok(None));
        assert_eq!(get(b"/B 1/B 2", b"B"), Err(()));
        assert_eq!(get(b"/A 1 2", b"A"), Err(()));
        assert_eq!(get(b"/A", b"A"), Err(()));
    }

    #[test]
    fn every_mention_of_an_attachment_is_counted() {
        let mut scan = Scan::new(b"<</EF<</F 1 0 R>>/X[<</E#46 2>>](/EF)/#45#46 1>>");
        assert!(scan.value().is_some());
        assert_eq!(scan.attachments, 3);
    }
}
