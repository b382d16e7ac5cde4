use super::{Integral, gauss_legendre};

/// Adaptive integral of `f` from `a` to `b`.
pub fn integrate_adaptive(
    mut f: impl FnMut(f64) -> f64,
    a: f64,
    b: f64,
    absolute: f64,
    relative: f64,
) -> Integral {
    let (coarse, fine) = (gauss_legendre(16), gauss_legendre(24));
    let mut panels = vec![(a, b)];
    let (mut value, mut error) = (0.0, 0.0);
    let mut evaluations = 0;
    while let Some((a, b)) = panels.pop() {
        let one = coarse.integrate(a, b, &mut f);
        let two = fine.integrate(a, b, &mut f);
        evaluations += 40;
        let off = (one - two).abs();
        if off > absolute.max(relative * two.abs()) && evaluations < 20_000 {
            let middle = 0.5 * (a + b);
            panels.push((a, middle));
            panels.push((middle, b));
        } else {
            value += two;
            error += off;
        }
    }
    Integral {
        value,
        error,
        evaluations,
    }
}
