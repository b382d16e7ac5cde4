//! The beta function's logarithm and the regularised incomplete beta function.

use super::gamma::{LEAST, NORMAL_FROM, gamma_inc, ln_gamma, scaled_gamma, stirling_rest};
use super::normal::{normal_cdf, normal_sf};
use super::tail::{Tail, decaying_integral, log_1p_minus};
use crate::dd::{Dd, two_sum};
use crate::float;
use crate::quadrature::tanh_sinh_from_ends;
use std::cmp::Ordering;

const SQRT_TAU: f64 = 2.506_628_274_631_000_7;
const LN_SQRT_TAU: f64 = 0.918_938_533_204_672_7;

/// Natural logarithm of the beta function, ln(Gamma(a) Gamma(b) / Gamma(a+b)), for finite a, b > 0; NaN otherwise.
///
/// Stirling's formula is used where its parts would cancel. Accuracy: 1e-15 relative to the larger of 1 and the
/// result.
///
/// ```
/// use kerfwise_numeric::special::ln_beta;
/// assert!((ln_beta(2.0, 3.0) - (1.0_f64 / 12.0).ln()).abs() < 1e-15);
/// ```
#[must_use]
pub fn ln_beta(a: f64, b: f64) -> f64 {
    if !(a > 0.0 && b > 0.0 && a.is_finite() && b.is_finite()) {
        return f64::NAN;
    }
    let (small, large) = (a.min(b), a.max(b));
    let total = small + large;
    if large < 10.0 {
        return ln_gamma(small) + (ln_gamma(large) - ln_gamma(total));
    }
    let rest = stirling_rest(large) - stirling_rest(total);
    let share = float::ln_1p(small / large);
    if small < 10.0 {
        return ln_gamma(small) + (rest - (large - 0.5) * share + small - small * float::ln(total));
    }
    rest + stirling_rest(small) + LN_SQRT_TAU - 0.5 * float::ln(large)
        + (small - 0.5) * float::ln(small / total)
        - large * share
}

/// Density of the beta distribution on 0..1.
///
/// ```text
/// f(x) = x^(a-1) (1-x)^(b-1) / B(a, b)
/// ```
/// 0 outside of 0..1; at an end it may be infinite. For a and b above 0, up to 1e20; NaN otherwise. Relative accuracy: 1e-14
/// for a and b from 1e-3 to 1e10. Near 1 the given x itself is coarse: ask for 1 - x with a and b exchanged.
///
/// ```
/// use kerfwise_numeric::special::beta_pdf;
/// assert!((beta_pdf(0.5, 2.0, 3.0) - 1.5).abs() < 1e-15); // 12 x (1-x)^2
/// ```
#[must_use]
pub fn beta_pdf(x: f64, a: f64, b: f64) -> f64 {
    let is_known = |shape: f64| shape > 0.0 && shape <= NORMAL_FROM;
    if !(is_known(a) && is_known(b)) || x.is_nan() {
        return f64::NAN;
    }
    let at_end = |shape: f64, other: f64| match shape.total_cmp(&1.0) {
        Ordering::Less => f64::INFINITY,
        Ordering::Equal => other,
        Ordering::Greater => 0.0,
    };
    if !(0.0..=1.0).contains(&x) {
        0.0
    } else if x <= 0.0 {
        at_end(a, b)
    } else if x >= 1.0 {
        at_end(b, a)
    } else {
        Point::new(x, Shapes::new(a, b)).density()
    }
}

/// Regularised incomplete beta function: the chances `(lower, upper)` that a beta(a, b) quantity is below and above
/// `x`, each with relative accuracy of its own.
///
/// ```text
/// lower = 1/B(a, b) * integral of t^(a-1) (1-t)^(b-1) from 0 to x
/// ```
/// DLMF 8.17.2. For a, b > 0 (NaN otherwise); x is held to [0, 1]. Continued fraction of `DiDonato` and Morris (1992,
/// ACM TOMS 18, algorithm 708) or, for large a and b, a Gauss–Legendre rule. Relative accuracy: 1e-13 in both tails
/// down to 1e-300, for a and b from 1e-3 to 1e10; beyond, it declines to 1e-9 at 1e20, from where on a gamma or
/// normal law with its next term is taken, to 1e-9.
///
/// ```
/// use kerfwise_numeric::special::beta_inc;
/// let (lower, upper) = beta_inc(0.5, 2.0, 3.0); // 11/16 of the area lies below the middle
/// assert!((lower - 0.6875).abs() < 1e-15 && (upper - 0.3125).abs() < 1e-15);
/// ```
#[must_use]
pub fn beta_inc(x: f64, a: f64, b: f64) -> (f64, f64) {
    if !(a > 0.0 && b > 0.0 && a.is_finite() && b.is_finite()) || x.is_nan() {
        return (f64::NAN, f64::NAN);
    }
    if x <= 0.0 {
        return (0.0, 1.0);
    }
    if x >= 1.0 {
        return (1.0, 0.0);
    }
    if a.max(b) > NORMAL_FROM {
        return limits(x, a, b);
    }
    let point = Point::new(x, Shapes::new(a, b));
    if point.is_left() {
        point.both_from_lower()
    } else {
        let (upper, lower) = point.mirrored().both_from_lower();
        (lower, upper)
    }
}

/// Up to so large a smaller shape -ln(1-x) over the larger one has a gamma law; from here on the normal law is nearer.
const GAMMA_UP_TO: f64 = 1e12;

/// Both tails for shapes of which one is so large that no exponent can be had: by a gamma distribution of -ln x or -ln(1-x), or by
/// a normal one.
///
/// Wise (1950): (b + (a-1)/2) times -ln(1-x) is gamma to (a/b)^2/24 of itself, here 4e-12 standard deviations.
fn limits(x: f64, a: f64, b: f64) -> (f64, f64) {
    let y = 1.0 - x;
    if a.min(b) > GAMMA_UP_TO {
        let z = deviate(x, a, b);
        (normal_cdf(z), normal_sf(z))
    } else if a > b {
        let (lower, upper) = gamma_inc(b.max(LEAST), minus_ln(x, y) * (a + 0.5 * (b - 1.0)));
        (upper, lower)
    } else {
        gamma_inc(a.max(LEAST), minus_ln(y, x) * (b + 0.5 * (a - 1.0)))
    }
}

/// The normal deviate with the same chance below it, to the inverse of the smaller shape.
///
/// ```text
/// r + ln(u/r)/r,   r^2/2 = a ln(a/(n x)) + b ln(b/(n (1-x))),   u = (n x - a) sqrt(n/(a b)),   n = a + b
/// ```
/// Barndorff-Nielsen (1990) for the integral of x^a (1-x)^b over the logarithm of the odds.
fn deviate(x: f64, a: f64, b: f64) -> f64 {
    // 2^-64, so that no product of shapes near 1e308 overflows.
    const DOWN: f64 = 5.421_010_862_427_522e-20;
    // a - n x, exact but for its last place.
    let lambda = (two_sum(1.0, -x) * (a * DOWN) - Dd::new(x) * (b * DOWN)).hi / DOWN;
    let per_shape = (1.0 / a + 1.0 / b).sqrt();
    let u = -lambda * per_shape;
    let fall = -(a * log_1p_minus(-lambda / a) + b * log_1p_minus(lambda / b));
    // Beyond 100 standard deviations nothing is left.
    let r = (2.0 * fall).sqrt().min(100.0) * u.signum();
    if r.abs() >= 100.0 {
        return r;
    }
    // Near the mean ln(u/r) is r times this, and rounding.
    let bend = if r.abs() < 1e-3 {
        (1.0 / a - 1.0 / b) / (3.0 * per_shape)
    } else {
        float::ln(u / r) / r
    };
    r + bend
}

/// -ln x, told by the smaller of x and y = 1 - x.
fn minus_ln(x: f64, y: f64) -> f64 {
    if x < 0.5 {
        -float::ln(x)
    } else {
        -float::ln_1p(-y)
    }
}

/// The parameters, and what depends on nothing else.
#[derive(Debug, Clone, Copy)]
pub(super) struct Shapes {
    pub(super) a: f64,
    pub(super) b: f64,
    /// (a + b)/a and (a + b)/b.
    pub(super) per_a: Dd,
    pub(super) per_b: Dd,
    /// 1/B(a, b) over `per_a^a per_b^b`, by Stirling's formula: near sqrt(ab / (2 pi (a + b))).
    factor: f64,
}

impl Shapes {
    /// Of shapes above 0 and up to `NORMAL_FROM`.
    pub(super) fn new(a: f64, b: f64) -> Self {
        let (a, b) = (a.max(LEAST), b.max(LEAST));
        let total = two_sum(a, b);
        let factor = a.sqrt() * (b / total.hi).sqrt() / SQRT_TAU * scaled_gamma(total.hi)
            / (scaled_gamma(a) * scaled_gamma(b));
        Self {
            a,
            b,
            per_a: total / a,
            per_b: total / b,
            factor,
        }
    }

    pub(super) fn mirrored(self) -> Self {
        Self {
            a: self.b,
            b: self.a,
            per_a: self.per_b,
            per_b: self.per_a,
            factor: self.factor,
        }
    }

    /// ln(a B(a, b)), for a start only.
    pub(super) fn ln_a_beta(self) -> f64 {
        let Self {
            a,
            b,
            per_a,
            per_b,
            factor,
        } = self;
        float::ln(a / factor) - a * float::ln(per_a.hi) - b * float::ln(per_b.hi)
    }
}

/// A place between 0 and 1; y = 1 - x is kept apart because it may be tiny.
#[derive(Debug, Clone, Copy)]
pub(super) struct Point {
    x: Dd,
    y: Dd,
    shapes: Shapes,
}

impl Point {
    fn new(x: f64, shapes: Shapes) -> Self {
        Self {
            x: Dd::new(x),
            y: two_sum(1.0, -x),
            shapes,
        }
    }

    /// Where x/y is `odds`.
    pub(super) fn at_odds(odds: f64, shapes: Shapes) -> Self {
        if odds <= 1.0 {
            Self::new(odds / (1.0 + odds), shapes)
        } else {
            Self::new(1.0 / (1.0 + odds), shapes.mirrored()).mirrored()
        }
    }

    pub(super) fn mirrored(self) -> Self {
        Self {
            x: self.y,
            y: self.x,
            shapes: self.shapes.mirrored(),
        }
    }

    /// Whether the lower tail is the one that the fraction gives.
    fn is_left(self) -> bool {
        let Shapes { a, b, .. } = self.shapes;
        self.lambda() >= (a - b) / (a + b + 2.0)
    }

    /// a - (a+b) x = a y - b x, without cancellation: how far left of the mean.
    pub(super) fn lambda(self) -> f64 {
        (self.y * self.shapes.a - self.x * self.shapes.b).hi
    }

    /// x^(a-less) y^(b-less) / B(a, b).
    fn power(self, less: f64) -> Tail {
        let Shapes {
            a,
            b,
            per_a,
            per_b,
            factor,
        } = self.shapes;
        let exponent = (self.x * per_a).ln() * (Dd::new(a) - less)
            + (self.y * per_b).ln() * (Dd::new(b) - less);
        Tail { exponent, factor }
    }

    fn density(self) -> f64 {
        // With one power less of x per_a and of y per_b, one factor of each is left.
        self.power(1.0)
            .times(self.shapes.per_a.hi)
            .times(self.shapes.per_b.hi)
            .value()
    }

    /// x^a y^b / B(a, b).
    fn front(self) -> Tail {
        self.power(0.0)
    }

    /// The lower tail over its front, for a point left of the mean.
    fn lower_over_front(self) -> f64 {
        let Self {
            x,
            y,
            shapes: Shapes { a, b, .. },
        } = self;
        if a.min(b) < LARGE {
            return fraction(x.hi, self.lambda(), a, b);
        }
        // t = x (1 - v): the integrand's logarithm over its value at x, its linear part taken together.
        let ratio = (x / y).hi;
        let slope = (self.lambda() - y.hi + x.hi) / y.hi;
        let fall =
            |v: f64| (a - 1.0) * log_1p_minus(-v) + (b - 1.0) * log_1p_minus(ratio * v) - slope * v;
        let curvature = a + b * ratio * ratio;
        decaying_integral(fall, slope, curvature, 1.0) / y.hi
    }

    /// Both tails, for a point left of the mean.
    fn both_from_lower(self) -> (f64, f64) {
        let lower = self.front().times(self.lower_over_front()).value();
        // With a small a almost everything lies below x: the small part above it needs a way of its own.
        let upper = if lower < 0.9 {
            1.0 - lower
        } else {
            self.upper_integral()
        };
        (lower, upper)
    }

    /// The logarithm of the lower tail, and its slope over the logarithm of the odds: front over tail.
    pub(super) fn ln_lower(self) -> (Dd, f64) {
        if self.is_left() {
            let share = self.lower_over_front();
            (self.front().times(share).ln(), 1.0 / share)
        } else {
            let (_, lower) = self.mirrored().both_from_lower();
            (Dd::new(float::ln(lower)), self.front().value() / lower)
        }
    }

    /// The upper tail for a small a: t = e^-s turns it into a positive integrand over 0..-ln x, which for b < 1 is made regular at
    /// s = 0 by integrating over w = s^b.
    fn upper_integral(self) -> f64 {
        let Self { x, y, shapes } = self;
        let Shapes {
            a,
            b,
            per_a,
            per_b,
            factor,
        } = shapes;
        let end = minus_ln(x.hi, y.hi);
        let integral = if b >= 1.0 {
            let integrand = |s: f64, _| {
                // ln(1 - e^-s), which a large b must not find rounded beside 1.
                let log = minus_ln(-float::exp_m1(-s), float::exp(-s));
                float::exp(-a * s - (b - 1.0) * log)
            };
            tanh_sinh_from_ends(integrand, end, 0.0, 1e-14).value
        } else {
            let integrand = |w: f64, _| {
                let s = float::powf(w, 1.0 / b).max(f64::MIN_POSITIVE);
                float::exp(-a * s) * float::powf(-float::exp_m1(-s) / s, b - 1.0)
            };
            tanh_sinh_from_ends(integrand, float::powf(end, b), 0.0, 1e-14).value / b
        };
        let per_beta = Tail {
            exponent: per_a.ln() * a + per_b.ln() * b,
            factor,
        };
        per_beta.times(integral).value()
    }
}

/// From here on the fraction needs many terms near the mean, and a fixed rule few.
const LARGE: f64 = 200.0;

/// Lower tail over x^a y^b / B(a, b), by the continued fraction of `DiDonato` and Morris (1992), eq. 9, with
/// lambda = a - (a+b) x > -1.
pub(super) fn fraction(x: f64, lambda: f64, a: f64, b: f64) -> f64 {
    let mut value = a * (lambda + 1.0) / (a + 1.0);
    let mut c = value;
    let mut d = 0.0;
    for n in 1..5000 {
        let n = f64::from(n);
        let (before, after) = (a + 2.0 * n - 1.0, a + 2.0 * n + 1.0);
        let share = x * (n / before);
        let numerator = ((a + (n - 1.0)) / before) * (a + b + (n - 1.0)) * x * share * (b - n);
        let denominator = n + share * (b - n) + (a + n) / after * (lambda + 1.0 + n * (2.0 - x));
        d = 1.0 / (denominator + numerator * d);
        c = denominator + numerator / c;
        value *= c * d;
        if (c * d - 1.0).abs() < 1e-16 {
            break;
        }
    }
    1.0 / value
}

#[cfg(test)]
mod tests {
    use super::super::testing::assert_close;
    use super::*;
    use proptest::prelude::*;

    // x, a, b, lower, upper, computed with mpmath at 80 digits.
    const TABLE: [(f64, f64, f64, f64, f64); 16] = [
        (
            0.3,
            0.5,
            0.5,
            0.369_010_119_565_545_36,
            0.630_989_880_434_454_6,
        ),
        (
            0.01,
            2.0,
            30.0,
            0.038_389_514_595_235_45,
            0.961_610_485_404_764_6,
        ),
        (
            0.9,
            0.01,
            0.02,
            0.680_915_205_857_081_2,
            0.319_084_794_142_918_8,
        ),
        (
            0.2,
            0.001,
            3.0,
            0.999_510_374_902_940_7,
            0.000_489_625_097_059_324_5,
        ),
        (
            1.0e-12,
            0.1,
            5.0,
            0.077_187_378_040_275_76,
            0.922_812_621_959_724_2,
        ),
        (
            0.7,
            20.0,
            4.0,
            0.053_843_821_297_628_53,
            0.946_156_178_702_371_5,
        ),
        (0.5, 150.0, 150.0, 0.5, 0.5),
        (
            0.4,
            150.0,
            190.0,
            0.062_202_161_864_831_17,
            0.937_797_838_135_168_8,
        ),
        (
            0.5,
            201.0,
            250.0,
            0.989_604_099_876_196_1,
            0.010_395_900_123_803_845,
        ),
        (0.3, 1_000.0, 1_500.0, 1.174_569_341_506_016_7e-26, 1.0),
        (
            0.51,
            1_000_000.0,
            1_000_000.0,
            1.0,
            2.490_453_657_610_394_3e-176,
        ),
        (
            0.001,
            2.5,
            10_000.0,
            0.998_756_468_114_986_4,
            0.001_243_531_885_013_611,
        ),
        (
            0.999,
            100_000.0,
            50.0,
            1.133_717_892_521_786_7e-8,
            0.999_999_988_662_821,
        ),
        (
            0.499_9,
            100_000_000.0,
            100_000_000.0,
            0.002_338_867_309_689_789,
            0.997_661_132_690_310_2,
        ),
        (
            5.75e-13,
            0.001,
            444_322.0,
            0.985_502_407_636_509_9,
            0.014_497_592_363_490_1,
        ),
        (
            1.0e-6,
            0.02,
            1_000_000.0,
            0.995_522_952_465_492_5,
            0.004_477_047_534_507_492,
        ),
    ];
    // x, a, b, density, computed with mpmath at 60 digits.
    const DENSITIES: [(f64, f64, f64, f64); 10] = [
        (1e-300, 0.05, 3.0, 5.381_249_999_999_99e+283),
        (1e-09, 0.5, 1_000_000.0, 17_823_406.627_902_497),
        (0.3, 2.0, 3.0, 1.764),
        (0.999, 0.001, 0.002, 0.658_179_336_999_617_4),
        (0.4, 200.0, 300.0, 18.199_532_673_567_944),
        (0.05, 200.0, 300.0, 1.649_251_704_522_945_6e-119),
        (0.500_1, 1_000_000.0, 1_000_000.0, 1_084.134_694_086_112_9),
        (1e-06, 0.5, 1_000_000.0, 207_553.826_543_002_33),
        (0.2, 1_000_000.0, 4_000_000.0, 2_230.154_950_052_397),
        (
            0.200_000_1,
            10_000_000_000.0,
            40_000_000_000.0,
            222_667.241_456_587,
        ),
    ];
    // a, b, ln B, computed with mpmath at 40 digits.
    const LN_BETA: [(f64, f64, f64); 9] = [
        (0.001, 0.002, 7.313_217_104_417_236),
        (0.5, 0.5, 1.144_729_885_849_400_2),
        (0.5, 1_000_000.0, -6.335_390_211_057_437),
        (3.0, 7.0, -5.529_429_087_511_423),
        (9.5, 10.5, -13.709_925_546_998_463),
        (0.01, 1_000_000_000_000.0, 4.323_169_666_882_741),
        (100_000.0, 200_000.0, -190_958.885_279_116_86),
        (10_000_000_000.0, 0.5, -10.940_560_522_033_028),
        (12.0, 1.0e-5, 11.512_895_266_274_68),
    ];

    #[test]
    fn both_tails() {
        for (x, a, b, lower, upper) in TABLE {
            let got = beta_inc(x, a, b);
            // because: measured 6e-15 at worst over 680 random places
            assert_close(got.0, lower, 8e-15, (x, a, b));
            assert_close(got.1, upper, 8e-15, (x, a, b));
        }
    }

    #[test]
    fn densities() {
        for (x, a, b, want) in DENSITIES {
            // because: a handful of roundings, the exponent being a double-double
            assert_close(beta_pdf(x, a, b), want, 4e-15, (x, a, b));
        }
        assert_eq!(
            (
                beta_pdf(0.0, 0.5, 2.0),
                beta_pdf(0.0, 1.0, 3.0),
                beta_pdf(1.0, 3.0, 2.0)
            ),
            (f64::INFINITY, 3.0, 0.0)
        );
        assert_eq!(
            (beta_pdf(-0.1, 2.0, 2.0), beta_pdf(1.1, 0.5, 0.5)),
            (0.0, 0.0)
        );
        assert!(beta_pdf(0.5, 0.0, 1.0).is_nan() && beta_pdf(f64::NAN, 1.0, 1.0).is_nan());
        assert!(beta_pdf(0.5, 1.0, 1e21).is_nan());
    }

    #[test]
    fn logarithms() {
        for (a, b, want) in LN_BETA {
            // because: a handful of roundings of numbers not above the larger of 1 and the result, but for one cancelling pair
            assert!(
                (ln_beta(a, b) - want).abs() <= 2e-15 * want.abs().max(1.0),
                "{a} {b}: {}",
                ln_beta(a, b)
            );
            assert!((ln_beta(b, a) - want).abs() <= 2e-15 * want.abs().max(1.0));
        }
        assert!(ln_beta(0.0, 1.0).is_nan() && ln_beta(1.0, f64::NAN).is_nan());
    }

    #[test]
    fn ends_and_faults() {
        assert_eq!(beta_inc(0.0, 2.0, 3.0), (0.0, 1.0));
        assert_eq!(beta_inc(1.5, 2.0, 3.0), (1.0, 0.0));
        assert!(beta_inc(0.5, 0.0, 1.0).0.is_nan() && beta_inc(f64::NAN, 1.0, 1.0).1.is_nan());
    }

    // Upper quantiles of F, computed independently at 40 digits and rounded to 13: both degrees of freedom, upper 0.05, upper 1e-6.
    #[test]
    fn f_quantiles() {
        let table = [
            (1.0, 4.0, 7.708_647_422_177, 2_446.156_749_854),
            (2.7, 16.8, 3.299_508_124_004, 29.343_289_608_87),
            (18.0, 60.0, 1.778_446_085_328, 5.042_851_447_432),
            (60.0, 1.0, 252.195_739_094, 631_336_894_666.2),
            (1000.0, 9.0, 2.711_639_637_129, 39.540_465_700_26),
        ];
        for (one, two, near, far) in table {
            for (f, q) in [(near, 0.05), (far, 1e-6)] {
                let y: f64 = two / (two + one * f);
                // because: an F of 13 digits moves the chance by 5e-13 times the smaller of its degrees and 60, over 2
                assert_close(beta_inc(y, 0.5 * two, 0.5 * one).0, q, 3e-11, (one, two, f));
            }
        }
    }

    proptest! {
        #[test]
        fn tails_add_to_one_and_mirror(x in 0.0..1.0, ln_a in -5.0..12.0, ln_b in -5.0..12.0) {
            let (a, b) = (float::exp(ln_a), float::exp(ln_b));
            let (lower, upper) = beta_inc(x, a, b);
            prop_assert!((lower + upper - 1.0).abs() < 1e-13);
            prop_assert!((0.0..=1.0 + 1e-13).contains(&lower) && (0.0..=1.0 + 1e-13).contains(&upper));
            let y = 1.0 - x;
            let mirrored = beta_inc(1.0 - y, b, a);
            let same = beta_inc(y, a, b); // 1 - y is exact or x itself is near 0
            // because: places that differ by a rounding of 1, where the density is below 1e3
            prop_assert!((mirrored.0 - same.1).abs() < 1e-12 && (mirrored.1 - same.0).abs() < 1e-12);
        }
    }
}
