//! Readings that no piece of a plan would give.

use crate::Error;

/// A reading (in inches) so far from what is expected that it is taken for a mistake. Where another unit or the point one
/// place on would make it `likely`, that is asked.
#[cold]
pub(crate) fn far_off(
    reading: f64,
    expected: f64,
    how_rare: &str,
    is_likely: &dyn Fn(f64) -> bool,
) -> Error {
    let shift = [0.1, 10.0].map(|by| by * reading);
    let hint = if is_likely(reading / 25.4) {
        "is it in millimetres?".to_owned()
    } else if is_likely(reading * 25.4) {
        "is it in inches?".to_owned()
    } else if let Some(mended) = shift.into_iter().find(|r| is_likely(*r)) {
        format!("is the point in its place ({mended:.4} in)?")
    } else {
        "a mistaken reading, the wrong unit, or another plan?".to_owned()
    };
    Error::observation(format!(
        "a reading of {reading:.4} in ({:.3} mm) lies {:.4} in from the {expected:.4} in that the plan expects, {how_rare}; \
         {hint}",
        25.4 * reading,
        (reading - expected).abs()
    ))
}

/// Rarer than this is taken for a mistake by exact laws: one reading in ten million.
pub(crate) const IMPLAUSIBLE: f64 = 1e-7;

/// The same in words.
pub(crate) const TOO_RARE: &str = "which fewer than one in ten million would";
