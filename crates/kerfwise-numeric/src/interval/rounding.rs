//! Directed rounding from the exact rounding error.

use crate::dd::{Dd, two_prod};

/// The lower bound of a rounded result with its rounding error; a NaN for "not known" moves it too.
#[inline]
pub(super) fn down(rounded: Dd) -> f64 {
    if rounded.lo >= 0.0 {
        rounded.hi
    } else {
        rounded.hi.next_down()
    }
}

/// The upper bound, likewise.
#[inline]
pub(super) fn up(rounded: Dd) -> f64 {
    if rounded.lo <= 0.0 {
        rounded.hi
    } else {
        rounded.hi.next_up()
    }
}

/// Whether products with this result have an exact rounding error: no part of it under- or overflows.
fn is_tame(x: f64) -> bool {
    x == 0.0 || (1e-270..1e290).contains(&x.abs())
}

/// The rounded result where its error cannot be had.
fn unknown(result: f64) -> Dd {
    Dd {
        hi: result,
        lo: f64::NAN,
    }
}

/// Product with its rounding error; 0 times anything is 0, an infinite end included, because no point is infinite.
#[inline]
pub(super) fn product(a: f64, b: f64) -> Dd {
    if a == 0.0 || b == 0.0 {
        return Dd::new(0.0);
    }
    let product = a * b;
    if is_tame(product) && is_tame(a) && is_tame(b) && product != 0.0 {
        two_prod(a, b)
    } else {
        unknown(product)
    }
}

/// Quotient with the sign of its rounding error, for b not 0.
#[inline]
pub(super) fn quotient(a: f64, b: f64) -> Dd {
    if a == 0.0 || (b.is_infinite() && a.is_finite()) {
        // a/b is 0 or, towards an infinite end, comes as near to 0 as one likes.
        return Dd::new(0.0);
    }
    let quotient = a / b;
    if !(is_tame(quotient) && is_tame(a) && is_tame(b) && quotient != 0.0) {
        return unknown(quotient);
    }
    // What is left of a has the sign of the error times the sign of b.
    let back = two_prod(quotient, b);
    let rest = (a - back.hi) - back.lo;
    Dd {
        hi: quotient,
        lo: if b > 0.0 { rest } else { -rest },
    }
}

/// Square root with the sign of its rounding error, for x >= 0.
#[inline]
pub(super) fn square_root(x: f64) -> Dd {
    let root = x.sqrt();
    if x == 0.0 {
        return Dd::new(0.0);
    }
    if !is_tame(x) {
        return unknown(root);
    }
    let back = two_prod(root, root);
    Dd {
        hi: root,
        lo: (x - back.hi) - back.lo,
    }
}
