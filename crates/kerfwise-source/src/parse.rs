//! Quantities as a shop writes them.
