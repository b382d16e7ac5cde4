//! Written by the expression part.
