//! Helpers that the outside checks share.
