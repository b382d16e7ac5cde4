//! The record of outside checks: what published documents and independent computations say, and what
//! Kerfwise says.
//!
//! The values stand in `tests/checks/*.toml`, each with its source, its clause and its status. A case
//! gives its inputs as a plan file does, so the record also checks that plans are read rightly, and the
//! second route in `tests/python` computes the same plans with other libraries. [`Row`] is one value;
//! its tolerance comes from the digits that are printed, or from the stated error of the independent
//! computation, never from what Kerfwise says.

mod ask;
mod decimal;
mod page;
mod plan;
mod table;
mod verdict;
mod whole;

pub use ask::Asker;
pub use decimal::Decimal;
pub use page::{counts, page};
pub use plan::plan_text;
pub use table::{Arguments, By, Case, Data, Row, Status, cases};
pub use verdict::{Verdict, judge};
pub use whole::lacks;
