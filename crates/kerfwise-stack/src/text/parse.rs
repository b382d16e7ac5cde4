//! Tokens into expressions.

use super::lex::{Fault, Lexer, Token};
use super::{DEEPEST, LONGEST, nearest, shortened};
use crate::expr::Expr;
use crate::op::Op;
use crate::{Error, ErrorKind};
use kerfwise_source::{Quantity, Source};
use std::collections::HashMap;

/// See [`Expr::parse`].
pub(crate) fn parse(text: &str, sources: &[Source]) -> Result<Expr, Error> {
    read(text, sources).map_err(|(at, message)| {
        ErrorKind::Text {
            text: text.to_owned(),
            position: text.char_indices().take_while(|(i, _)| *i < at).count(),
            message,
        }
        .into()
    })
}

fn read(text: &str, sources: &[Source]) -> Result<Expr, Fault> {
    if text.chars().nth(LONGEST).is_some() {
        return Err((
            0,
            format!("an expression is at most {LONGEST} characters long"),
        ));
    }
    let mut by_name: HashMap<&str, &Source> = HashMap::new();
    for source in sources {
        if let Some(other) = by_name.insert(source.name(), source)
            && !other.is_same(source)
        {
            let name = source.name();
            return Err((
                0,
                format!("two different sources are named \"{name}\"; rename one"),
            ));
        }
    }
    let mut parser = Parser {
        lexer: Lexer::new(text),
        token: Token::End,
        at: 0,
        depth: 0,
        sources,
        by_name,
    };
    parser.advance()?;
    if parser.token == Token::End {
        return Err((0, "the expression is empty".to_owned()));
    }
    let expr = parser.sum()?;
    match parser.token {
        Token::End => Ok(expr),
        Token::Close => Err((parser.at, "\")\" without \"(\"".to_owned())),
        _ => Err(parser.expected("an operator")),
    }
}

/// One function per level of binding; recursion is as deep as brackets, signs and calls, which are counted.
struct Parser<'a> {
    lexer: Lexer<'a>,
    /// The token that is looked at, and where it starts.
    token: Token<'a>,
    at: usize,
    depth: usize,
    sources: &'a [Source],
    by_name: HashMap<&'a str, &'a Source>,
}

impl<'a> Parser<'a> {
    fn advance(&mut self) -> Result<(), Fault> {
        match self.lexer.next() {
            Ok((at, token)) => {
                (self.at, self.token) = (at, token);
                Ok(())
            }
            Err(fault) => Err(self.with_product(fault)),
        }
    }

    /// "2 kerf" is read as a number and its unit; if that fails because it is a source, or a function as in "2 sin(x)",
    /// there is a better message.
    fn with_product(&self, (at, message): Fault) -> Fault {
        let word = self.lexer.word_at(at);
        if self.by_name.contains_key(word) || Op::CALLED.iter().any(|op| op.row().name == word) {
            return (
                at,
                format!("write a product with *, as in 2 * {}", shortened(word)),
            );
        }
        (at, message)
    }

    fn deeper<T>(&mut self, f: impl FnOnce(&mut Self) -> Result<T, Fault>) -> Result<T, Fault> {
        if self.depth == DEEPEST {
            return Err((
                self.at,
                format!(
                    "nested more than {DEEPEST} deep; give parts of the expression names of their own"
                ),
            ));
        }
        self.depth += 1;
        let result = f(self);
        self.depth -= 1;
        result
    }

    fn sum(&mut self) -> Result<Expr, Fault> {
        let mut left = self.product()?;
        loop {
            let op = match self.token {
                Token::Plus => Op::Add,
                Token::Minus => Op::Sub,
                _ => return Ok(left),
            };
            self.advance()?;
            left = Expr::binary(op, left, self.product()?);
        }
    }

    fn product(&mut self) -> Result<Expr, Fault> {
        let mut left = self.signed()?;
        loop {
            let op = match self.token {
                Token::Times => Op::Mul,
                Token::Over => Op::Div,
                _ => return Ok(left),
            };
            self.advance()?;
            left = Expr::binary(op, left, self.signed()?);
        }
    }

    /// A minus before a number is part of it, unless the number is raised: -2^2 is -(2^2).
    fn signed(&mut self) -> Result<Expr, Fault> {
        if self.token != Token::Minus {
            return self.power();
        }
        self.advance()?;
        if let Token::Number(value) = self.token {
            self.advance()?;
            if self.token == Token::Power {
                let base = Expr::constant(value);
                return Ok(-self.raised(base)?);
            }
            self.refuse_neighbour()?;
            let negative = Quantity::new(-value.raw(), value.dimension());
            return Ok(Expr::constant(negative));
        }
        let inner = self.deeper(Self::signed)?;
        Ok(-inner)
    }

    fn power(&mut self) -> Result<Expr, Fault> {
        let base = self.atom()?;
        if self.token == Token::Power {
            self.raised(base)
        } else {
            Ok(base)
        }
    }

    /// The exponent is read by itself, because it is a whole number and not an expression.
    fn raised(&mut self, base: Expr) -> Result<Expr, Fault> {
        let n = self.lexer.exponent()?;
        self.advance()?;
        if self.token == Token::Power {
            return Err((self.at, "write brackets: (x^2)^3".to_owned()));
        }
        Ok(base.powi(n))
    }

    fn atom(&mut self) -> Result<Expr, Fault> {
        let at = self.at;
        match self.token {
            Token::Number(value) => {
                self.advance()?;
                self.refuse_neighbour()?;
                Ok(Expr::constant(value))
            }
            Token::Bracketed(value) => {
                self.advance()?;
                Ok(Expr::constant(value))
            }
            Token::Open => {
                self.advance()?;
                let inner = self.deeper(Self::sum)?;
                self.close(at)?;
                Ok(inner)
            }
            Token::Name(name) => {
                self.advance()?;
                if self.token == Token::Open {
                    self.call(at, name)
                } else {
                    self.source(at, name)
                }
            }
            _ => Err(self.expected("a number, a source, a function or \"(\"")),
        }
    }

    /// "2 3", which is a slip, and "2 (…)", which is one to this reader.
    fn refuse_neighbour(&self) -> Result<(), Fault> {
        match self.token {
            Token::Number(_) => Err((
                self.at,
                "two numbers side by side; a mixed number needs a unit, as in 1 1/2 in".to_owned(),
            )),
            Token::Open => Err((self.at, "write a product with *".to_owned())),
            _ => Ok(()),
        }
    }

    fn close(&mut self, opened: usize) -> Result<(), Fault> {
        match self.token {
            Token::Close => self.advance(),
            Token::End => Err((opened, "\"(\" without \")\"".to_owned())),
            _ => Err(self.expected("an operator or \")\"")),
        }
    }

    fn call(&mut self, at: usize, name: &str) -> Result<Expr, Fault> {
        let opened = self.at;
        let op = Op::CALLED.into_iter().find(|op| op.row().name == name);
        let Some(op) = op else {
            return Err((at, self.unknown_function(name)));
        };
        self.advance()?;
        let arity = op.row().arity;
        let first = self.deeper(Self::sum)?;
        let mut args = vec![first];
        while self.token == Token::Comma {
            if args.len() == arity {
                return Err((self.at, takes(name, arity)));
            }
            self.advance()?;
            args.push(self.deeper(Self::sum)?);
        }
        if args.len() < arity {
            return Err((self.at, takes(name, arity)));
        }
        self.close(opened)?;
        Ok(Expr::apply(op, args))
    }

    fn source(&mut self, at: usize, name: &str) -> Result<Expr, Fault> {
        let Some(&source) = self.by_name.get(name) else {
            return Err((at, self.unknown_source(name)));
        };
        if self.token != Token::Hash {
            return Ok(Expr::source(source));
        }
        let instance = self.lexer.instance()?;
        self.advance()?;
        Ok(Expr::leaf(source, instance))
    }

    fn unknown_source(&self, name: &str) -> String {
        let known = self.sources.iter().map(Source::name);
        let shown = shortened(name);
        match nearest(name, known.clone()) {
            Some(near) => format!("unknown source \"{shown}\": did you mean \"{near}\"?"),
            None if self.sources.is_empty() => {
                format!("unknown source \"{shown}\": there are no sources")
            }
            None => {
                const MOST: usize = 8;
                let mut names: Vec<&str> = known.take(MOST).collect();
                if self.sources.len() > MOST {
                    names.push("…");
                }
                format!("unknown source \"{shown}\": known are {}", names.join(", "))
            }
        }
    }

    fn unknown_function(&self, name: &str) -> String {
        let shown = shortened(name);
        if self.by_name.contains_key(name) {
            return format!("\"{shown}\" is a source; write a product with *");
        }
        let known = || Op::CALLED.iter().map(|op| op.row().name);
        match nearest(name, known()) {
            Some(near) => format!("unknown function \"{shown}\": did you mean \"{near}\"?"),
            None => {
                let names: Vec<&str> = known().collect();
                format!(
                    "unknown function \"{shown}\": known are {}",
                    names.join(", ")
                )
            }
        }
    }

    #[cold]
    fn expected(&self, what: &str) -> Fault {
        let found = match self.token {
            Token::End => "the end".to_owned(),
            Token::Number(value) | Token::Bracketed(value) => format!("\"{value}\""),
            Token::Name(name) => format!("\"{}\"", shortened(name)),
            Token::Plus => "\"+\"".to_owned(),
            Token::Minus => "\"-\"".to_owned(),
            Token::Times => "\"*\"".to_owned(),
            Token::Over => "\"/\"".to_owned(),
            Token::Power => "\"^\"".to_owned(),
            Token::Open => "\"(\"".to_owned(),
            Token::Close => "\")\"".to_owned(),
            Token::Comma => "\",\"".to_owned(),
            Token::Hash => "\"#\"".to_owned(),
        };
        (self.at, format!("expected {what}, found {found}"))
    }
}

fn takes(name: &str, arity: usize) -> String {
    let row_says = if arity == 1 {
        "one argument"
    } else {
        "two arguments"
    };
    format!("{name} takes {row_says}")
}
