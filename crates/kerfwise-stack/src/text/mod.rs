//! The algebra in text: read by `parse`, written by `print`.

mod lex;
mod near;
mod parse;
mod print;

pub(crate) use near::nearest;
pub(crate) use parse::parse;
pub(crate) use print::print;

/// The longest text that is written or read, in characters.
pub(crate) const LONGEST: usize = 1_000_000;

/// The deepest nesting that is read: brackets, signs and calls.
pub(crate) const DEEPEST: usize = 200;
