//! Stacks that the benches share.
