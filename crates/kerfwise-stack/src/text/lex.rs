//! Text into tokens.

use super::shortened;
use crate::op::Op;
use kerfwise_source::Quantity;

/// A piece of text that means something.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) enum Token<'a> {
    /// `0.375`, `2 thou`, `3/8 in`, never with a sign.
    Number(Quantity),
    /// `[-1-1/2 in]`.
    Bracketed(Quantity),
    Name(&'a str),
    Plus,
    Minus,
    Times,
    Over,
    Power,
    Open,
    Close,
    Comma,
    Hash,
    End,
}

/// What is wrong, and where, in bytes.
pub(super) type Fault = (usize, String);

/// Reads one token after the other.
pub(super) struct Lexer<'a> {
    text: &'a str,
    at: usize,
}

impl<'a> Lexer<'a> {
    pub(super) fn new(text: &'a str) -> Self {
        Self { text, at: 0 }
    }

    /// The next token with the place where it starts.
    pub(super) fn next(&mut self) -> Result<(usize, Token<'a>), Fault> {
        self.skip_spaces();
        let start = self.at;
        let Some(first) = self.rest().chars().next() else {
            return Ok((start, Token::End));
        };
        if first.is_ascii_digit() || first == '.' {
            return self.number().map(|token| (start, token));
        }
        if first.is_ascii_alphabetic() {
            let is_inside = |c: char| c.is_ascii_alphanumeric() || matches!(c, '_' | '.');
            return Ok((start, Token::Name(self.take_while(is_inside))));
        }
        if first == '[' {
            return self.bracketed().map(|token| (start, token));
        }
        self.at += first.len_utf8();
        let token = match first {
            '+' => Token::Plus,
            // The typographic minus is what word processors make of a hyphen.
            '-' | '\u{2212}' => Token::Minus,
            '*' | '·' | '×' => Token::Times,
            '/' => Token::Over,
            '^' => Token::Power,
            '(' => Token::Open,
            ')' => Token::Close,
            ',' => Token::Comma,
            '#' => Token::Hash,
            _ => return Err((start, unexpected(first))),
        };
        Ok((start, token))
    }

    /// After "^": a whole number, maybe negative, with nothing that would make it another number.
    pub(super) fn exponent(&mut self) -> Result<i32, Fault> {
        self.skip_spaces();
        let start = self.at;
        let rest = self.rest();
        let is_negative = rest.starts_with(['-', '\u{2212}']);
        if is_negative {
            self.at += rest.chars().next().map_or(0, char::len_utf8);
        }
        let digits = self.take_while(|c| c.is_ascii_digit());
        let goes_on = self
            .rest()
            .starts_with(|c: char| c == '.' || c.is_ascii_alphanumeric());
        if digits.is_empty() || goes_on {
            return Err((
                start,
                "an exponent is a whole number, as in x^2 or x^-1; for other powers use sqrt, or exp and ln".to_owned(),
            ));
        }
        let most = Op::LARGEST_POWER;
        match digits.parse::<i32>() {
            Ok(n) if n <= most => Ok(if is_negative { -n } else { n }),
            _ => {
                let written = &self.text[start..self.at];
                Err((
                    start,
                    format!(
                        "an exponent lies from -{most} to {most} (got {})",
                        shortened(written)
                    ),
                ))
            }
        }
    }

    /// After "#": which draw.
    pub(super) fn instance(&mut self) -> Result<u32, Fault> {
        let start = self.at;
        self.take_while(|c| c.is_ascii_digit())
            .parse()
            .map_err(|_| {
                (
                    start,
                    "after \"#\" comes the number of a draw, as in seat#2".to_owned(),
                )
            })
    }

    /// The name that starts at this place, if any.
    pub(super) fn word_at(&self, at: usize) -> &'a str {
        let rest = &self.text[at..];
        let is_inside = |c: char| c.is_ascii_alphanumeric() || matches!(c, '_' | '.');
        &rest[..rest.find(|c| !is_inside(c)).unwrap_or(rest.len())]
    }

    fn rest(&self) -> &'a str {
        &self.text[self.at..]
    }

    fn skip_spaces(&mut self) {
        self.at = self.text.len() - self.rest().trim_start().len();
    }

    fn take_while(&mut self, is_wanted: impl Fn(char) -> bool) -> &'a str {
        let rest = self.rest();
        let length = rest.find(|c| !is_wanted(c)).unwrap_or(rest.len());
        self.at += length;
        &rest[..length]
    }

    /// A decimal, or a fraction or mixed number with a unit; then maybe a unit.
    fn number(&mut self) -> Result<Token<'a>, Fault> {
        let start = self.at;
        let is_whole = self.decimal()?;
        let after_decimal = self.at;
        let is_fraction = is_whole && self.fraction() && self.unit();
        if !is_fraction {
            self.at = after_decimal;
        }
        if is_fraction || self.unit() {
            self.refuse_compound(start)?;
        }
        self.quantity(start).map(Token::Number)
    }

    /// Passes over digits, a point, digits, an exponent; tells whether it was only digits.
    fn decimal(&mut self) -> Result<bool, Fault> {
        let start = self.at;
        let digits = |c: char| c.is_ascii_digit();
        let before = self.take_while(digits).len();
        let has_point = self.rest().starts_with('.');
        let mut after = 0;
        if has_point {
            self.at += 1;
            after = self.take_while(digits).len();
        }
        if before + after == 0 {
            return Err((start, "expected digits beside the decimal point".to_owned()));
        }
        let end = self.at;
        let mut has_exponent = false;
        if self.rest().starts_with(['e', 'E']) {
            self.at += 1;
            if self.rest().starts_with(['-', '+']) {
                self.at += 1;
            }
            has_exponent = !self.take_while(digits).is_empty();
        }
        if !has_exponent {
            self.at = end;
        }
        Ok(!has_point && !has_exponent)
    }

    /// After a whole number: "/8", or " 1/2"; tells whether it is there.
    fn fraction(&mut self) -> bool {
        let digits = |c: char| c.is_ascii_digit();
        let before = self.at;
        self.skip_spaces();
        // "1 1/2": a second whole number, which could be nothing else.
        let is_apart = self.at > before;
        let second = self.take_while(digits);
        if !second.is_empty() && !is_apart {
            return false;
        }
        self.skip_spaces();
        if !self.rest().starts_with('/') {
            return false;
        }
        self.at += 1;
        self.skip_spaces();
        let has_denominator = !self.take_while(digits).is_empty();
        // "3/8.5" and "3/8e2" are quotients of decimals.
        let mut after = self.rest().chars();
        let goes_on = match after.next() {
            Some('.') => true,
            Some('e' | 'E') => after
                .next()
                .is_some_and(|c| c.is_ascii_digit() || "+-".contains(c)),
            _ => false,
        };
        has_denominator && !goes_on
    }

    /// A word or sign directly after a number can only be meant as its unit; tells whether it is there.
    fn unit(&mut self) -> bool {
        let before = self.at;
        self.skip_spaces();
        let rest = self.rest();
        if rest.starts_with('%') {
            self.at += 1;
            self.skip_spaces();
            if self.rest().starts_with("MC") {
                self.at += 2;
            }
            return true;
        }
        // Not the letters of our alphabet only: "5 µm".
        let word = self.take_while(|c| c.is_alphabetic() || matches!(c, 'µ' | '_'));
        if !word.is_empty() {
            self.take_while(|c| c.is_ascii_alphanumeric() || matches!(c, '_' | '.'));
            return true;
        }
        if rest.starts_with(['"', '°', '\'', '″', '′', '”', '’']) {
            self.at += rest.chars().next().map_or(0, char::len_utf8);
            return true;
        }
        self.at = before;
        false
    }

    /// "8 in^2" would be 64 square inches to one reader and 8 to another.
    fn refuse_compound(&self, start: usize) -> Result<(), Fault> {
        let rest = self.rest();
        if rest.trim_start().starts_with('^') || rest.starts_with(['²', '³']) {
            let text = &self.text[start..self.at];
            return Err((
                self.at,
                format!(
                    "write ({text})^2 for the square of the quantity, or [{text}^2] for square units"
                ),
            ));
        }
        Ok(())
    }

    fn bracketed(&mut self) -> Result<Token<'a>, Fault> {
        let start = self.at;
        let Some(length) = self.rest().find(']') else {
            return Err((start, "\"[\" without \"]\"".to_owned()));
        };
        self.at = start + length;
        let value = self.quantity(start + 1)?;
        self.at += 1;
        Ok(Token::Bracketed(value))
    }

    /// The text from `from` to here as a quantity.
    fn quantity(&self, from: usize) -> Result<Quantity, Fault> {
        let text = &self.text[from..self.at];
        text.parse().map_err(|error: kerfwise_source::Error| {
            let at = from + error.position().unwrap_or(0);
            let message = match error.kind() {
                kerfwise_source::ErrorKind::Text { message, .. } => message.clone(),
                _ => error.to_string(),
            };
            (at, message)
        })
    }
}

fn unexpected(c: char) -> String {
    match c {
        '²' | '³' => "write a power as ^2".to_owned(),
        '%' => "\"%MC\" goes after a number; a product of units stands in square brackets, as in [0.00274 /%MC]".to_owned(),
        ']' => "\"]\" without \"[\"".to_owned(),
        '÷' | ':' => "write a quotient with /".to_owned(),
        _ => format!("{c:?} means nothing here"),
    }
}
