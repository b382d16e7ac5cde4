//! What laws made of single values share.

use kerfwise_numeric::float;
use kerfwise_numeric::sum::CompensatedSum;

/// Mean and standard deviation of ascending values with weights that add to 1, counted from the middle of their range
/// and in halves of it: nothing overflows, and values that differ little keep their digits.
pub(super) fn moments(
    atoms: impl Iterator<Item = (f64, f64)> + Clone,
    least: f64,
    greatest: f64,
) -> (f64, f64) {
    let middle = 0.5 * least + 0.5 * greatest;
    let half = 0.5 * greatest - 0.5 * least;
    let mut mean = CompensatedSum::new();
    for (value, weight) in atoms.clone() {
        mean.add(weight * ((value - middle) / half));
    }
    let mean = mean.value();
    let mut square = CompensatedSum::new();
    for (value, weight) in atoms {
        let off = (value - middle) / half - mean;
        square.add(weight * off * off);
    }
    (middle + half * mean, half * square.value().max(0.0).sqrt())
}

/// The sum of weight·exp(itv).
pub(super) fn characteristic(atoms: impl Iterator<Item = (f64, f64)>, t: f64) -> (f64, f64) {
    let (mut re, mut im) = (CompensatedSum::new(), CompensatedSum::new());
    for (value, weight) in atoms {
        let (sin, cos) = float::sin_cos(t * value);
        re.add(weight * cos);
        im.add(weight * sin);
    }
    (re.value(), im.value())
}

/// The middle, if value and weight of each atom are mirrored exactly by another's.
pub(super) fn centre_of_symmetry(
    atoms: impl DoubleEndedIterator<Item = (f64, f64)> + Clone,
    least: f64,
    greatest: f64,
) -> Option<f64> {
    let middle = 0.5 * least + 0.5 * greatest;
    atoms
        .clone()
        .zip(atoms.rev())
        .all(|((low, one), (high, other))| middle - low == high - middle && one == other)
        .then_some(middle)
}
