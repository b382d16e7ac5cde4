//! Student's t distribution with unit scale, for any real number of degrees of freedom.

use super::beta::fraction;
use super::gamma::half_step_ratio;
use super::normal::{FRAC_1_SQRT_TAU, normal_pdf, normal_quantile_upper, normal_sf};
use super::tail::Tail;
use crate::dd::{Dd, two_prod};
use crate::float;

/// From here on t and normal agree to the last bit: they differ by t^4/(4 nu).
pub(super) const NORMAL_FROM: f64 = 1e24;

/// Density of Student's t with `nu` degrees of freedom and unit scale.
///
/// ```text
/// f(t) = Gamma((nu+1)/2) / (sqrt(nu pi) Gamma(nu/2)) * (1 + t^2/nu)^(-(nu+1)/2)
/// ```
/// For real nu > 0, infinity included; NaN otherwise. Relative accuracy: 2e-15 until it underflows.
///
/// ```
/// use kerfwise_numeric::special::student_t_pdf;
/// assert!((student_t_pdf(0.0, 4.0) - 0.375).abs() < 1e-15);
/// ```
#[must_use]
pub fn student_t_pdf(t: f64, nu: f64) -> f64 {
    match Student::new(nu) {
        None => f64::NAN,
        Some(_) if nu >= NORMAL_FROM => normal_pdf(t),
        Some(law) if t.is_finite() => law.at(t.abs()).pdf.value(),
        Some(_) => {
            if t.is_nan() {
                t
            } else {
                0.0
            }
        }
    }
}

/// Chance that Student's t is at most `t`.
///
/// Domain and accuracy as for [`student_t_sf`].
///
/// ```
/// use kerfwise_numeric::special::student_t_cdf;
/// assert_eq!(student_t_cdf(0.0, 4.0), 0.5);
/// assert!((student_t_cdf(1.0, 1.0) - 0.75).abs() < 1e-15);
/// ```
#[must_use]
pub fn student_t_cdf(t: f64, nu: f64) -> f64 {
    student_t_sf(-t, nu)
}

/// Chance that Student's t is above `t`, with full relative accuracy in the right tail.
///
/// For real nu > 0, infinity (the normal) included; NaN otherwise. Near the middle a series of positive terms, further out
/// the continued fraction of the incomplete beta function, DLMF 8.17. Relative accuracy: 1e-14 for nu from 1e-3 to infinity,
/// down to 1e-300.
///
/// ```
/// use kerfwise_numeric::special::student_t_sf;
/// // Two degrees of freedom: 1/2 - t / (2 sqrt(2 + t^2)).
/// assert!((student_t_sf(1.0, 2.0) - (0.5 - 0.5 / 3.0_f64.sqrt())).abs() < 1e-15);
/// ```
#[must_use]
pub fn student_t_sf(t: f64, nu: f64) -> f64 {
    let Some(law) = Student::new(nu) else {
        return f64::NAN;
    };
    if nu >= NORMAL_FROM {
        return normal_sf(t);
    }
    if t.is_nan() {
        return t;
    }
    if t.is_infinite() {
        return if t > 0.0 { 0.0 } else { 1.0 };
    }
    let place = law.at(t.abs());
    if place.is_central() {
        let half = place.central();
        if t > 0.0 { 0.5 - half } else { 0.5 + half }
    } else {
        let tail = place.tail().value();
        if t > 0.0 { tail } else { 1.0 - tail }
    }
}

/// The `t` with `student_t_cdf(t, nu) = p`: minus infinity at 0, infinity at 1; NaN for p outside [0, 1] or nu not
/// above 0.
///
/// Accuracy as for [`student_t_quantile_upper`], which is to be used for p near 1.
///
/// ```
/// use kerfwise_numeric::special::student_t_quantile;
/// assert!((student_t_quantile(0.975, 4.0) - 2.776_445_105_197_793).abs() < 1e-14); // JCGM 100:2008, table G.2: 2.78
/// ```
#[must_use]
pub fn student_t_quantile(p: f64, nu: f64) -> f64 {
    0.0 - student_t_quantile_upper(p, nu) // not a negation: the median is +0
}

/// The `t` with `student_t_sf(t, nu) = q`: infinity at 0, minus infinity at 1; NaN for q outside [0, 1] or nu not
/// above 0. Infinite where t itself would be above the largest `f64` (nu below 1, far tail).
///
/// Newton's method on functions that are concave, so that it converges from the start given. Relative accuracy: 1e-14
/// divided by the smaller of 1 and t f(t)/q, for nu from 1e-2 up, q down to 1e-300 and the neighbourhood of 1/2 included.
///
/// ```
/// use kerfwise_numeric::special::student_t_quantile_upper;
/// assert!((student_t_quantile_upper(0.25, 1.0) - 1.0).abs() < 1e-15); // tan(pi/4)
/// ```
#[must_use]
pub fn student_t_quantile_upper(q: f64, nu: f64) -> f64 {
    let Some(law) = Student::new(nu) else {
        return f64::NAN;
    };
    if !(0.0..=1.0).contains(&q) {
        f64::NAN
    } else if nu >= NORMAL_FROM {
        normal_quantile_upper(q)
    } else if q > 0.5 {
        -law.upper_half(1.0 - q) // exact: no rounding for q in [1/2, 1]
    } else {
        law.upper_half(q)
    }
}

/// The constants of one number of degrees of freedom.
#[derive(Debug, Clone, Copy)]
struct Student {
    nu: f64,
    /// Density at 0.
    top: f64,
}

/// Student's t at one t >= 0.
#[derive(Debug, Clone, Copy)]
struct Place {
    t: f64,
    nu: f64,
    pdf: Tail,
    /// nu/(nu + t^2) and its complement.
    x: f64,
    y: f64,
}

impl Student {
    fn new(nu: f64) -> Option<Self> {
        (nu > 0.0).then(|| Self {
            nu,
            top: FRAC_1_SQRT_TAU * half_step_ratio(0.5 * nu),
        })
    }

    fn at(self, t: f64) -> Place {
        let nu = self.nu;
        let ratio = if t > 1e140 || t < 1e-140 {
            Dd::new((t / nu.sqrt()) * (t / nu.sqrt()))
        } else {
            two_prod(t, t) / nu
        };
        // Beyond 1e200 the 1 of 1 + t^2/nu does not count, and the square may not exist.
        let log = if ratio.hi < 1e200 {
            ratio.ln_1p()
        } else {
            Dd::new(t).ln() * 2.0 - Dd::new(nu).ln()
        };
        let exponent = log * ((Dd::new(nu) + 1.0) * -0.5);
        let whole = 1.0 + ratio.hi;
        let (x, y) = if ratio.hi < 1e200 {
            (1.0 / whole, ratio.hi / whole)
        } else {
            (nu / t / t, 1.0)
        };
        Place {
            t,
            nu,
            pdf: Tail {
                exponent,
                factor: self.top,
            },
            x,
            y,
        }
    }

    /// The t with upper tail q, for q in [0, 1/2].
    fn upper_half(self, q: f64) -> f64 {
        if q == 0.0 {
            return f64::INFINITY;
        }
        let d = 0.5 - q; // exact for q in [1/4, 1/2]
        let border = self.at(self.nu.min(2.0).sqrt());
        if d < border.central() {
            self.central_quantile(d)
        } else {
            self.tail_quantile(q, border.t)
        }
    }

    /// The t with d of the chance between 0 and t: Newton from the left, where the concave curve keeps it.
    fn central_quantile(self, d: f64) -> f64 {
        let mut t = d / self.top;
        for _ in 0..60 {
            let place = self.at(t);
            let step = (d - place.central()) / place.pdf.value();
            t += step;
            if step.abs() <= 1e-15 * t {
                break;
            }
        }
        t
    }

    /// The t with upper tail q beyond `border`: Newton on ln sf over ln t, which is concave.
    fn tail_quantile(self, q: f64, border: f64) -> f64 {
        let ln_q = float::ln(q);
        let mut t = self.tail_start(q, ln_q).clamp(border, f64::MAX);
        for _ in 0..100 {
            let place = self.at(t);
            let tail = place.tail().ln();
            let slope = t * float::exp(place.pdf.ln() - tail);
            let step = (tail - ln_q) / slope;
            let next = t * float::exp(step);
            if next > f64::MAX {
                return f64::INFINITY;
            }
            t = next.max(border);
            if step.abs() <= 4e-16 {
                break;
            }
        }
        t
    }

    /// The normal quantile stretched after Wallace (1959), or the power law of the far tail where that is better.
    fn tail_start(self, q: f64, ln_q: f64) -> f64 {
        let nu = self.nu;
        let z = normal_quantile_upper(q) * (8.0 * nu + 3.0) / (8.0 * nu + 1.0);
        let stretched = (nu * float::exp_m1(z * z / nu)).sqrt();
        // sf(t) is below top nu^((nu-1)/2) t^-nu, and near it in the far tail.
        let power = (float::ln(self.top) + 0.5 * (nu - 1.0) * float::ln(nu) - ln_q) / nu;
        stretched.min(float::exp(power))
    }
}

impl Place {
    /// Whether the series of `central` is short and the tail not small.
    fn is_central(&self) -> bool {
        self.y <= 0.5 && self.t * self.t <= 2.0
    }

    /// The chance between 0 and t: t f(t) (1 + y (nu+1)/3 + y^2 (nu+1)(nu+3)/15 + ...), y = t^2/(nu + t^2),
    /// from DLMF 15.8.1 applied to the integral of the density.
    fn central(&self) -> f64 {
        let mut term = 1.0;
        let mut total = 1.0;
        let mut k = 0.0;
        while term > 1e-17 * total {
            // y (nu + 1 + 2k)/(3 + 2k), with y nu kept below t^2 for the largest nu
            term *= self.y * (self.nu + 1.0 + 2.0 * k) / (3.0 + 2.0 * k);
            total += term;
            k += 1.0;
        }
        self.t * self.pdf.value() * total
    }

    /// The chance above t: half the incomplete beta function of nu/2, 1/2 at x, whose front is t f(t).
    fn tail(&self) -> Tail {
        let a = 0.5 * self.nu;
        let lambda = a * self.y - 0.5 * self.x;
        self.pdf
            .times(0.5 * self.t * fraction(self.x, lambda, a, 0.5))
    }
}
