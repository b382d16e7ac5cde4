//! Small readers of the tape, each with its own scratch.

pub(crate) mod affine;
pub(crate) mod again;
pub(crate) mod block;
pub(crate) mod interval;
pub(crate) mod point;
pub(crate) mod taylor;

#[cfg(test)]
#[expect(clippy::float_cmp, reason = "what is exact is compared exactly")]
mod tests;
