//! Small readers of the tape.
pub(crate) mod affine;
pub(crate) mod block;
pub(crate) mod interval;
pub(crate) mod point;
pub(crate) mod taylor;
