//! Rust text as tokens, without comments.
//!
//! The rule inside: what stands in a comment or in a string is never taken for code.

/// What a token is.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Kind {
    /// A name or a word of the language.
    Word,
    /// A string, without its quotes.
    Text,
    /// A number, a character or a lifetime.
    Other,
    /// `::`, or one sign.
    Sign,
}

/// One token, with the lines where it begins and ends, from 1.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Token {
    pub kind: Kind,
    pub text: String,
    pub line: usize,
    pub end: usize,
}

impl Token {
    pub fn is(&self, sign: &str) -> bool {
        self.kind == Kind::Sign && self.text == sign
    }

    pub fn is_word(&self, word: &str) -> bool {
        self.kind == Kind::Word && self.text == word
    }
}

/// The tokens of a text.
pub fn tokens(text: &str) -> Vec<Token> {
    let mut reader = Reader {
        chars: text.chars().collect(),
        at: 0,
        line: 1,
    };
    let mut tokens = Vec::new();
    while let Some(token) = reader.next_token() {
        tokens.push(token);
    }
    tokens
}

struct Reader {
    chars: Vec<char>,
    at: usize,
    line: usize,
}

impl Reader {
    fn peek(&self, ahead: usize) -> char {
        self.chars.get(self.at + ahead).copied().unwrap_or('\0')
    }

    fn starts_with(&self, text: &str) -> bool {
        text.chars().enumerate().all(|(ahead, c)| self.peek(ahead) == c)
    }

    fn step(&mut self, count: usize) {
        for _ in 0..count {
            self.line += usize::from(self.peek(0) == '\n');
            self.at += 1;
        }
    }

    fn skip_blanks(&mut self) {
        while self.at < self.chars.len() {
            if self.starts_with("//") {
                while self.at < self.chars.len() && self.peek(0) != '\n' {
                    self.step(1);
                }
            } else if self.starts_with("/*") {
                let mut depth = 0;
                loop {
                    let (opens, closes) = (self.starts_with("/*"), self.starts_with("*/"));
                    depth += i32::from(opens) - i32::from(closes);
                    self.step(if opens || closes { 2 } else { 1 });
                    if depth == 0 || self.chars.len() <= self.at {
                        break;
                    }
                }
            } else if self.peek(0).is_whitespace() {
                self.step(1);
            } else {
                return;
            }
        }
    }

    fn next_token(&mut self) -> Option<Token> {
        self.skip_blanks();
        let line = self.line;
        let (kind, text) = match self.peek(0) {
            _ if self.chars.len() <= self.at => return None,
            _ if self.quote().is_some() => (Kind::Text, self.string()),
            'r' if self.peek(1) == '#' && is_name(self.peek(2)) => {
                self.step(2);
                (Kind::Word, self.taken_while(is_name))
            }
            '\'' => (Kind::Other, self.character()),
            c if c.is_ascii_digit() => (Kind::Other, self.number()),
            c if is_name(c) => (Kind::Word, self.taken_while(is_name)),
            ':' if self.peek(1) == ':' => (Kind::Sign, self.taken(2)),
            _ => (Kind::Sign, self.taken(1)),
        };
        let end = self.line;
        Some(Token { kind, text, line, end })
    }

    fn taken(&mut self, count: usize) -> String {
        let from = self.at;
        self.step(count);
        self.chars[from..self.at.min(self.chars.len())].iter().collect()
    }

    fn taken_while(&mut self, wanted: fn(char) -> bool) -> String {
        let count = self.chars[self.at..].iter().take_while(|c| wanted(**c)).count();
        self.taken(count)
    }

    fn number(&mut self) -> String {
        let mut text = self.taken_while(is_name);
        if self.peek(0) == '.' && self.peek(1).is_ascii_digit() {
            text += &self.taken(1);
            text += &self.taken_while(is_name);
        }
        text
    }

    /// The length of a string's beginning, and the `#` after it where it is a raw one.
    fn quote(&self) -> Option<(usize, Option<usize>)> {
        let mut at = 0;
        if matches!(self.peek(at), 'b' | 'c') {
            at += 1;
        }
        let raw = self.peek(at) == 'r';
        let marks = if raw {
            (at + 1..).take_while(|ahead| self.peek(*ahead) == '#').count()
        } else {
            0
        };
        at += usize::from(raw) + marks;
        (self.peek(at) == '"').then_some((at + 1, raw.then_some(marks)))
    }

    fn string(&mut self) -> String {
        let (opening, raw) = self.quote().expect("asked before");
        self.step(opening);
        let from = self.at;
        let end = format!("\"{}", "#".repeat(raw.unwrap_or(0)));
        while self.at < self.chars.len() && !self.starts_with(&end) {
            let escaped = raw.is_none() && self.peek(0) == '\\';
            self.step(1 + usize::from(escaped));
        }
        let text = self.chars[from..self.at.min(self.chars.len())].iter().collect();
        self.step(end.chars().count());
        text
    }

    /// A character in quotes, or a lifetime.
    fn character(&mut self) -> String {
        if self.peek(1) == '\\' {
            let end = (3..)
                .find(|ahead| matches!(self.peek(*ahead), '\'' | '\0'))
                .unwrap_or(3);
            self.taken(end + 1)
        } else if self.peek(2) == '\'' {
            self.taken(3)
        } else {
            self.step(1);
            format!("'{}", self.taken_while(is_name))
        }
    }
}

fn is_name(c: char) -> bool {
    c.is_alphanumeric() || c == '_'
}

#[test]
fn comments_and_strings_are_no_code() {
    let check = |text: &str, expected: &[(Kind, &str)]| {
        let found = tokens(text);
        let found: Vec<_> = found.iter().map(|token| (token.kind, token.text.as_str())).collect();
        assert_eq!(found, expected, "{text}");
    };
    use Kind::{Other, Sign, Text, Word};
    check(
        "a::b // use x\n/* use /* y */ */ c",
        &[(Word, "a"), (Sign, "::"), (Word, "b"), (Word, "c")],
    );
    check(
        r#""use \" a" b"c" r"\""#,
        &[(Text, r#"use \" a"#), (Text, "c"), (Text, r"\")],
    );
    check("r#\"a \" b\"# br##\"\"#\"##", &[(Text, "a \" b"), (Text, "\"#")]);
    check(
        r"'a' '\'' '\u{1b}' 'static '_",
        &[
            (Other, "'a'"),
            (Other, r"'\''"),
            (Other, r"'\u{1b}'"),
            (Other, "'static"),
            (Other, "'_"),
        ],
    );
    check(
        "0..5 1.5e3_f64 r#fn x.0",
        &[
            (Other, "0"),
            (Sign, "."),
            (Sign, "."),
            (Other, "5"),
            (Other, "1.5e3_f64"),
            (Word, "fn"),
            (Word, "x"),
            (Sign, "."),
            (Other, "0"),
        ],
    );
    let lines: Vec<_> = tokens("a \"b\nc\"\nd").iter().map(|t| (t.line, t.end)).collect();
    assert_eq!(lines, [(1, 1), (1, 2), (3, 3)]);
}
