//! Bracketed roots and minima with capped iterations.

use std::error::Error;
use std::fmt;

/// How narrow the bracket must be: `absolute + relative * |x|`.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct RootTolerance {
    /// Absolute part, in the unit of x.
    pub absolute: f64,
    /// Relative part.
    pub relative: f64,
}

/// A root found.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Root {
    /// The best estimate.
    pub x: f64,
    /// Evaluations of the function after the two ends.
    pub iterations: u32,
    /// Width of the last bracket.
    pub width: f64,
}

/// A minimum found.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Minimum {
    /// Where.
    pub x: f64,
    /// The function's value there.
    pub value: f64,
    /// Evaluations of the function.
    pub iterations: u32,
    /// Width of the last bracket.
    pub width: f64,
}

/// Why no root or minimum was found.
#[derive(Debug, Clone, Copy, PartialEq)]
#[non_exhaustive]
pub enum RootError {
    /// The bracket is empty or an end is not finite.
    Bracket {
        /// Lower end as given.
        lo: f64,
        /// Upper end as given.
        hi: f64,
    },
    /// The function has the same sign at both ends.
    NoSignChange {
        /// Value at the lower end.
        at_lo: f64,
        /// Value at the upper end.
        at_hi: f64,
    },
    /// The function gave NaN.
    NotANumber {
        /// Where it did.
        x: f64,
    },
}

impl fmt::Display for RootError {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::Bracket { lo, hi } => write!(
                f,
                "bracket must be finite with lower end below upper end (got {lo} to {hi})"
            ),
            Self::NoSignChange { at_lo, at_hi } => {
                write!(
                    f,
                    "function must change sign over the bracket (got {at_lo} and {at_hi} at its ends)"
                )
            }
            Self::NotANumber { x } => write!(
                f,
                "function must be a number all over the bracket (got NaN at {x})"
            ),
        }
    }
}

impl Error for RootError {}

/// Root of a continuous function that changes sign between `lo` and `hi`.
///
/// # Errors
/// When the bracket is bad, the signs are equal, or the function gives NaN.
pub fn find_root(
    mut f: impl FnMut(f64) -> f64,
    lo: f64,
    hi: f64,
    tolerance: RootTolerance,
) -> Result<Root, RootError> {
    if !(lo.is_finite() && hi.is_finite() && lo <= hi) {
        return Err(RootError::Bracket { lo, hi });
    }
    let (at_lo, at_hi) = (f(lo), f(hi));
    if at_lo.is_nan() || at_hi.is_nan() {
        return Err(RootError::NotANumber {
            x: if at_lo.is_nan() { lo } else { hi },
        });
    }
    if at_lo == 0.0 || at_hi == 0.0 {
        return Ok(Root {
            x: if at_lo == 0.0 { lo } else { hi },
            iterations: 0,
            width: 0.0,
        });
    }
    if (at_lo < 0.0) == (at_hi < 0.0) {
        return Err(RootError::NoSignChange { at_lo, at_hi });
    }
    let (mut a, mut b) = (lo, hi);
    let mut iterations = 0;
    while iterations < 200 {
        let x = a + 0.5 * (b - a);
        if b - a <= tolerance.absolute + tolerance.relative * x.abs() || x <= a || x >= b {
            break;
        }
        let at_x = f(x);
        iterations += 1;
        if at_x.is_nan() {
            return Err(RootError::NotANumber { x });
        }
        if (at_x < 0.0) == (at_lo < 0.0) {
            a = x;
        } else {
            b = x;
        }
    }
    Ok(Root {
        x: a + 0.5 * (b - a),
        iterations,
        width: b - a,
    })
}

/// Minimum of a function with one valley between `lo` and `hi`.
///
/// # Errors
/// When the bracket is bad or the function gives NaN.
pub fn minimize(
    mut f: impl FnMut(f64) -> f64,
    lo: f64,
    hi: f64,
    tolerance: RootTolerance,
) -> Result<Minimum, RootError> {
    if !(lo.is_finite() && hi.is_finite() && lo <= hi) {
        return Err(RootError::Bracket { lo, hi });
    }
    let golden = 0.5 * (5.0_f64.sqrt() - 1.0);
    let (mut a, mut b) = (lo, hi);
    let (mut c, mut d) = (b - golden * (b - a), a + golden * (b - a));
    let (mut fc, mut fd) = (f(c), f(d));
    let mut iterations = 2;
    while iterations < 200 && b - a > tolerance.absolute + tolerance.relative * c.abs() {
        if fc.is_nan() || fd.is_nan() {
            return Err(RootError::NotANumber {
                x: if fc.is_nan() { c } else { d },
            });
        }
        if fc < fd {
            (b, d, fd) = (d, c, fc);
            c = b - golden * (b - a);
            fc = f(c);
        } else {
            (a, c, fc) = (c, d, fd);
            d = a + golden * (b - a);
            fd = f(d);
        }
        iterations += 1;
    }
    let (x, value) = if fc < fd { (c, fc) } else { (d, fd) };
    Ok(Minimum {
        x,
        value,
        iterations,
        width: b - a,
    })
}
