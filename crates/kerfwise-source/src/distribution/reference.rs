//! Comparison with values computed independently at 40 digits or more with mpmath, each argument being the exact
//! binary number. Differences are relative: that is the promise in both tails.

use super::Distribution;
use kerfwise_numeric::float;

#[track_caller]
fn close(what: std::fmt::Arguments<'_>, got: f64, want: f64, relative: f64) {
    let off = (got - want).abs();
    assert!(
        off <= relative * want.abs() || got == want,
        "{what}: got {got:e}, want {want:e}, relative difference {:e}",
        off / want.abs()
    );
}

/// Mean and standard deviation, to a few units in the last place.
#[track_caller]
pub(super) fn moments(law: &Distribution, mean: Option<f64>, sd: Option<f64>) {
    assert_eq!(law.mean().is_some(), mean.is_some(), "mean of {law:?}");
    assert_eq!(
        law.variance().is_some(),
        sd.is_some(),
        "variance of {law:?}"
    );
    if let (Some(got), Some(want)) = (law.mean(), mean) {
        // A mean near 0 may come from terms the size of the standard deviation.
        let scale = want.abs().max(1e-2 * sd.unwrap_or(0.0));
        assert!(
            (got - want).abs() <= 4e-15 * scale,
            "mean of {law:?}: got {got:e}, want {want:e}"
        );
    }
    if let (Some(got), Some(want)) = (law.standard_deviation(), sd) {
        close(
            format_args!("standard deviation of {law:?}"),
            got,
            want,
            4e-15,
        );
    }
}

/// Rows of x, pdf, cdf, sf.
///
/// A chance e^-L is told through an argument that was rounded, and changes by about L of that rounding: hence the
/// second term, beside what the law itself is given.
#[track_caller]
pub(super) fn chances(law: &Distribution, relative: f64, rows: &[(f64, f64, f64, f64)]) {
    for &(x, pdf, cdf, sf) in rows {
        let pairs = [
            ("pdf", law.pdf(x).unwrap_or(f64::NAN), pdf),
            ("cdf", law.cdf(x), cdf),
            ("sf", law.sf(x), sf),
        ];
        for (name, got, want) in pairs {
            let magnified = 2.0 * f64::EPSILON * float::ln(want).abs();
            close(
                format_args!("{name}({x:e}) of {law:?}"),
                got,
                want,
                relative + magnified,
            );
        }
    }
}

/// Rows of p, the quantile and the upper quantile there.
#[track_caller]
pub(super) fn quantiles(law: &Distribution, relative: f64, rows: &[(f64, f64, f64)]) {
    for &(p, lower, upper) in rows {
        close(
            format_args!("quantile({p:e}) of {law:?}"),
            law.quantile(p),
            lower,
            relative,
        );
        close(
            format_args!("quantile_upper({p:e}) of {law:?}"),
            law.quantile_upper(p),
            upper,
            relative,
        );
    }
}

/// Rows of t, real part, imaginary part; both to within 2e-15 of 1, the phase to a rounding of t times the values.
#[track_caller]
pub(super) fn characteristic(law: &Distribution, rows: &[(f64, f64, f64)]) {
    for &(t, re, im) in rows {
        let got = law.characteristic(t);
        let phase = 2e-16 * t.abs() * law.quantile(0.01).abs().max(law.quantile(0.99).abs());
        let near = got.is_some_and(|got| {
            (got.0 - re).abs().max((got.1 - im).abs()) <= 2e-15 + phase.min(1e-3)
                // Near 0 the imaginary part is small, and yet it has all its digits.
                && (t.abs() > 1e-3 || (got.1 - im).abs() <= 1e-14 * im.abs())
        });
        assert!(
            near,
            "characteristic({t}) of {law:?}: got {got:?}, want ({re:e}, {im:e})"
        );
    }
}
