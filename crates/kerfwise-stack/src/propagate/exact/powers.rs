//! Sums of rectangular laws (triangles and trapezoids are sums of two) and at most one arcsine law, in closed form.
//!
//! ```text
//! A_k(y; Z) = E (y − Z)₊^k / k!,     A_0 = F,  A_−1 = f
//! A_k(y; U_h + Z) = [A_{k+1}(y + h; Z) − A_{k+1}(y − h; Z)] / (2h)
//! ```
//! The widest rectangle is peeled first. Below the support A is zero, above it a polynomial in the moments, and these two
//! short-circuits remove the cancellation that the plain inclusion and exclusion of 2^m corners (Olds 1952) suffers from.
//! Every answer is taken in the lower half, where all that is left are differences of well-separated terms.

use super::part::signed_sums;
use super::quadrature::Kink;
use super::tail::{Tail, chance};
use crate::Bounded;
use kerfwise_numeric::float;
use kerfwise_numeric::quadrature::gauss_legendre;
use std::f64::consts::FRAC_1_PI;

/// Most rectangles: their corners double with each.
pub(super) const MOST: usize = 16;
/// Moments kept: of order 0, 2, 4, ... up to twice this.
const ORDERS: usize = MOST / 2 + 2;

/// The sum, all about zero.
#[derive(Debug, Clone)]
pub(super) struct Powers {
    centre: f64,
    /// Half-widths, widest first.
    halves: Vec<f64>,
    /// Half-width of the arcsine law, or 0.
    arcsine: f64,
    /// `levels[i]` is what is left after the first i rectangles.
    levels: Vec<Level>,
}

/// What is left after some rectangles were peeled.
#[derive(Debug, Clone)]
struct Level {
    reach: f64,
    /// Even moments over (2j)!.
    moments: [f64; ORDERS],
}

/// A value with the sum of the sizes of what it was made of.
#[derive(Debug, Clone, Copy)]
struct Made {
    value: f64,
    size: f64,
}

impl Powers {
    /// Of at least one rectangle and at most [`MOST`], all half-widths above zero.
    pub(super) fn new(centre: f64, mut halves: Vec<f64>, arcsine: f64) -> Self {
        halves.sort_by(|a, b| b.total_cmp(a));
        let mut moments = arcsine_moments(arcsine);
        let mut reach = arcsine;
        let mut levels = vec![Level { reach, moments }];
        for half in halves.iter().rev() {
            moments = times(&rectangle_moments(*half), &moments);
            reach += half;
            levels.push(Level { reach, moments });
        }
        levels.reverse();
        Self {
            centre,
            halves,
            arcsine,
            levels,
        }
    }

    pub(super) fn tail(&self, tail: Tail, x: f64) -> Bounded<f64> {
        let x = x - self.centre;
        let toward = if tail.is_lower() { x } else { -x };
        let made = self.lower(0, -toward.abs());
        let error = self.error(made) + self.shift_error(made.value, x);
        if toward <= 0.0 {
            chance(made.value, error)
        } else {
            chance(1.0 - made.value, error + f64::EPSILON)
        }
    }

    pub(super) fn density(&self, x: f64) -> Bounded<f64> {
        let x = x - self.centre;
        let made = self.lower(-1, -x.abs());
        Bounded {
            value: made.value.max(0.0),
            error: self.error(made) + 4.0 * f64::EPSILON * self.peak(),
        }
    }

    /// Rounding of the recursion.
    fn error(&self, made: Made) -> f64 {
        2.0 * (self.halves.len() + 4) as f64 * f64::EPSILON * made.size
    }

    /// What a shift by the rounding of places (a few units in the last place of the reach) does to a chance at `x`.
    fn shift_error(&self, value: f64, x: f64) -> f64 {
        let depth = (self.halves.len() + 1) as f64;
        let from_end = (self.reach() - x.abs()).max(f64::MIN_POSITIVE);
        // F^(1/m) is concave for m rectangles (Brunn and Minkowski), hence f ≤ mF/d at a distance d from the end.
        let density = self.peak().min(depth * value / from_end);
        2.0 * f64::EPSILON * self.reach() * density
    }

    /// `A_k` of the whole sum at `y`, for y ≤ 0.
    fn lower(&self, k: i32, y: f64) -> Made {
        self.peel(0, k, y)
    }

    fn peel(&self, level: usize, k: i32, y: f64) -> Made {
        let Level { reach, moments } = &self.levels[level];
        if y <= -reach {
            return Made {
                value: 0.0,
                size: 0.0,
            };
        }
        if y >= *reach && k >= 0 {
            return polynomial(k, y, moments);
        }
        let Some(half) = self.halves.get(level) else {
            return arcsine_power(k, y, self.arcsine);
        };
        let high = self.peel(level + 1, k + 1, y + half);
        let low = self.peel(level + 1, k + 1, y - half);
        let by = 0.5 / half;
        Made {
            value: by * (high.value - low.value),
            size: by * (high.size + low.size),
        }
    }

    /// Half of the width of the support.
    fn reach(&self) -> f64 {
        self.levels[0].reach
    }

    pub(super) fn extent(&self) -> (f64, f64, f64) {
        (self.centre - self.reach(), self.centre + self.reach(), 0.0)
    }

    pub(super) fn peak(&self) -> f64 {
        0.5 / self.halves[0]
    }

    /// Kinks; those of high order, which a quadrature hardly sees, are left out.
    pub(super) fn kinks(&self) -> Vec<Kink> {
        let mut kinks = vec![
            Kink::corner(self.centre - self.reach()),
            Kink::corner(self.centre),
            Kink::corner(self.centre + self.reach()),
        ];
        if self.halves.len() <= 4 {
            for at in signed_sums(&self.halves) {
                if self.arcsine > 0.0 {
                    kinks.push(Kink::root(self.centre + at - self.arcsine, 2));
                    kinks.push(Kink::root(self.centre + at + self.arcsine, 2));
                } else {
                    kinks.push(Kink::corner(self.centre + at));
                }
            }
        }
        kinks
    }

    /// About how many corners one value visits.
    pub(super) fn cost(&self) -> f64 {
        float::powf(1.8, self.halves.len() as f64) * if self.arcsine > 0.0 { 8.0 } else { 1.0 }
    }
}

/// Σ y^(k−2j)/(k−2j)! · `m_2j`/(2j)!, all of it positive.
fn polynomial(k: i32, y: f64, moments: &[f64; ORDERS]) -> Made {
    // Powers over factorials by one multiplication each.
    let k = k as usize;
    let mut power = 1.0;
    let mut value = if k.is_multiple_of(2) {
        moments[k / 2]
    } else {
        0.0
    };
    for i in 1..=k {
        power *= y / i as f64;
        if (k - i).is_multiple_of(2) {
            value += power * moments[(k - i) / 2];
        }
    }
    Made { value, size: value }
}

/// E (y − A cos Θ)₊^k / k! for −A < y < A: (A^k / (π k!)) ∫₀^ψ (cos s − cos ψ)^k ds with cos ψ = −y/A.
fn arcsine_power(k: i32, y: f64, half: f64) -> Made {
    if k < 0 {
        // Only a single arcsine law would ask; it is answered by the law itself.
        let square = (half - y) * (half + y);
        let value = FRAC_1_PI / square.sqrt();
        return Made { value, size: value };
    }
    let c = -y / half;
    let psi = float::acos(c.clamp(-1.0, 1.0));
    if k == 0 {
        let value = FRAC_1_PI * psi;
        return Made { value, size: value };
    }
    let scale: f64 = (1..=k).map(|i| half / f64::from(i)).product();
    let integral = if c <= 0.0 {
        // k I_k = −(2k − 1) c I_{k−1} + (k − 1)(1 − c²) I_{k−2}: only positive terms for c ≤ 0.
        let sine = ((1.0 - c) * (1.0 + c)).max(0.0).sqrt();
        let (mut before, mut now) = (psi, sine - c * psi);
        for i in 2..=k {
            let i = f64::from(i);
            let next = (-(2.0 * i - 1.0) * c * now + (i - 1.0) * sine * sine * before) / i;
            (before, now) = (now, next);
        }
        now
    } else {
        // Here that recurrence cancels; the integrand is a product of sines without cancellation.
        gauss_legendre(24).integrate(0.0, psi, |s| {
            let u = 2.0 * float::sin(0.5 * (psi + s)) * float::sin(0.5 * (psi - s));
            float::powi(u, k)
        })
    };
    let value = scale * FRAC_1_PI * integral;
    Made { value, size: value }
}

/// h^2j/(2j + 1) over (2j)!.
fn rectangle_moments(half: f64) -> [f64; ORDERS] {
    let mut moments = [0.0; ORDERS];
    let mut over = 1.0;
    for (j, moment) in moments.iter_mut().enumerate() {
        if j > 0 {
            let n = 2.0 * j as f64;
            over *= half * half / (n * (n - 1.0));
        }
        *moment = over / (2.0 * j as f64 + 1.0);
    }
    moments
}

/// A^2j C(2j, j)/4^j over (2j)! = (A/2)^2j / (j!)².
fn arcsine_moments(half: f64) -> [f64; ORDERS] {
    let mut moments = [0.0; ORDERS];
    let mut over = 1.0;
    for (j, moment) in moments.iter_mut().enumerate() {
        if j > 0 {
            over *= 0.25 * half * half / (j as f64 * j as f64);
        }
        *moment = over;
    }
    moments
}

/// Moments of a sum: a product of series in powers of the square.
fn times(a: &[f64; ORDERS], b: &[f64; ORDERS]) -> [f64; ORDERS] {
    let mut product = [0.0; ORDERS];
    for i in 0..ORDERS {
        for j in 0..ORDERS - i {
            product[i + j] += a[i] * b[j];
        }
    }
    product
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Sum of n rectangles on (0, 1), at x.
    fn irwin_hall(n: usize, x: f64) -> Bounded<f64> {
        let centre = 0.5 * n as f64;
        Powers::new(centre, vec![0.5; n], 0.0).tail(Tail::AtMost, x)
    }

    #[test]
    fn sums_of_equal_rectangles() {
        // Exact rational values, reference file section 7.1.
        for (n, x, want) in [
            (1, 0.25, 0.25),
            (2, 0.5, 0.125),
            (2, 1.75, 31.0 / 32.0),
            (3, 0.5, 1.0 / 48.0),
            (3, 1.5, 0.5),
            (3, 2.5, 47.0 / 48.0),
            (4, 0.5, 1.0 / 384.0),
            (4, 1.5, 77.0 / 384.0),
            (4, 2.0, 0.5),
            (4, 3.2, 1843.0 / 1875.0),
            (5, 1.0, 1.0 / 120.0),
            (5, 1.8, 53_929.0 / 375_000.0),
            (5, 4.0, 119.0 / 120.0),
            (6, 1.0, 1.0 / 720.0),
            (6, 2.5, 5633.0 / 23_040.0),
            (6, 4.5, 15_119.0 / 15_360.0),
            (8, 2.0, 31.0 / 5040.0),
            (8, 3.75, 1_009_066_589.0 / 2_642_411_520.0),
            (12, 3.0, 397.0 / 394_240.0),
            (12, 6.0, 0.5),
            (12, 8.5, 650_347_959_671.0 / 653_996_851_200.0),
        ] {
            let got = irwin_hall(n, x);
            assert!(
                (got.value - want).abs() <= got.error,
                "n {n} x {x}: {got:?} {want}"
            );
            // A dozen levels of differences, each with a few roundings.
            assert!(got.error < 1e-13, "n {n} x {x}: {got:?}");
        }
    }

    #[test]
    fn far_tails_keep_their_digits() {
        // Twelve rectangles: x^12/12! below 1.
        let got = irwin_hall(12, 0.01);
        let want = 1e-24 / 479_001_600.0;
        // x − centre loses digits: 0.01 against 6.
        assert!((got.value / want - 1.0).abs() < 1e-11, "{got:?}");
    }

    #[test]
    fn arcsine_and_rectangle() {
        // Closed form, own oracle, reference file section 7.4.
        for (a, r, y, want) in [
            (1.0, 1.0, 0.5, 0.695_501_109_477_885_3),
            (1.0, 0.2, 0.95, 0.904_994_731_120_164_3),
            (0.002, 0.003, 0.004, 0.963_667_406_318_590_2),
            (1.0, 5.0, 3.0, 0.8),
            (1.0, 0.2, 1.15, 0.991_590_656_986_592_8),
        ] {
            let got = Powers::new(0.0, vec![r], a).tail(Tail::AtMost, y);
            assert!(
                (got.value - want).abs() <= got.error,
                "{a} {r} {y}: {got:?}"
            );
            assert!(got.error < 1e-14, "{got:?}");
        }
    }

    #[test]
    fn both_tails_and_the_density_belong_together() {
        let sum = Powers::new(0.3, vec![1.0, 0.01, 0.4, 0.2], 0.7);
        for i in 0..60 {
            let x = -2.1 + 0.08 * f64::from(i);
            let (below, above) = (sum.tail(Tail::AtMost, x), sum.tail(Tail::MoreThan, x));
            assert!((below.value + above.value - 1.0).abs() <= below.error + above.error);
            let h = 1e-5;
            let slope = (sum.tail(Tail::AtMost, x + h).value - sum.tail(Tail::AtMost, x - h).value)
                / (2.0 * h);
            // The second difference of a law whose slope is at most about 2, over h = 1e-5.
            assert!((sum.density(x).value - slope).abs() < 1e-4, "{x}");
        }
    }
}
