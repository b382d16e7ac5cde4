use super::law::{Law, balanced, increasing_root};
use super::{Distribution, check};
use crate::Error;
use kerfwise_numeric::quadrature::gauss_legendre;
use kerfwise_numeric::sum::sum;
use kerfwise_numeric::{float, special};

/// Normal law cut to an interval.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct TruncatedNormal {
    parent_mean: f64,
    parent_sd: f64,
    lower: f64,
    upper: f64,
    /// What is left of the parent.
    whole: Mass,
    mean: f64,
    sd: f64,
}

impl TruncatedNormal {
    /// Mean of the normal before the cut.
    #[inline]
    #[must_use]
    pub fn parent_mean(&self) -> f64 {
        self.parent_mean
    }

    /// Standard deviation of the normal before the cut, above 0.
    #[inline]
    #[must_use]
    pub fn parent_sd(&self) -> f64 {
        self.parent_sd
    }

    /// Lower end, maybe infinite.
    #[inline]
    #[must_use]
    pub fn lower(&self) -> f64 {
        self.lower
    }

    /// Upper end, maybe infinite.
    #[inline]
    #[must_use]
    pub fn upper(&self) -> f64 {
        self.upper
    }
}

impl Distribution {
    /// Normal cut to an interval (either end may be infinite).
    ///
    /// For a setting with a stop, or parts that were sorted. The cut may lie anywhere, however far out in a tail.
    ///
    /// ```text
    /// pdf(x) = φ(z) / (sd (Φ(β) - Φ(α))),    z = (x - mean)/sd, α and β the same of lower and upper
    /// ```
    ///
    /// Mean and variance are integrated numerically, to about 1e-14, because their closed forms cancel in the tails.
    /// The characteristic function is not offered. A cut so narrow that the density does not vary in floating point
    /// gives the rectangular law.
    ///
    /// # Errors
    /// When the mean is not finite, the standard deviation is negative or not finite, the ends are upside down or
    /// not numbers, or the interval lies more than 1e100 standard deviations from the mean.
    ///
    /// # Examples
    /// ```
    /// use kerfwise_source::Distribution;
    ///
    /// // A half normal: the stop lets the fence move one way only.
    /// let stop = Distribution::truncated_normal(0.0, 0.002, 0.0, f64::INFINITY)?;
    /// assert!((stop.mean().unwrap() - 0.002 * 0.797_884_560_802_865_4).abs() < 1e-17);
    /// assert!((stop.sf(0.002) - 0.317_310_507_862_914_1).abs() < 1e-15);
    /// # Ok::<(), kerfwise_source::Error>(())
    /// ```
    pub fn truncated_normal(mean: f64, sd: f64, lower: f64, upper: f64) -> Result<Self, Error> {
        let mean = check::finite(TruncatedNormal::NAME, "mean", mean)?;
        let sd = check::spread(TruncatedNormal::NAME, "standard deviation", sd)?;
        if lower.is_nan()
            || upper.is_nan()
            || lower > upper
            || (lower == upper && lower.is_infinite())
        {
            return Err(check::bad(
                TruncatedNormal::NAME,
                format_args!(
                    "lower end must be a number not above the upper end (got {lower} and {upper}); an end that is not cut is infinite"
                ),
            ));
        }
        if lower == upper {
            return Self::point(lower);
        }
        // How many standard deviations the nearest place that is left lies from the mean.
        let distance = (lower - mean).max(mean - upper).max(0.0);
        if distance > 1e100 * sd {
            return Err(check::bad(
                TruncatedNormal::NAME,
                format_args!(
                    "the interval {lower} to {upper} must not lie more than 1e100 standard deviations from the mean (got mean {mean}, standard deviation {sd}); nothing is left of such a cut"
                ),
            ));
        }
        if sd == 0.0 {
            return Self::point(mean);
        }
        if lower == f64::NEG_INFINITY && upper == f64::INFINITY {
            return Self::normal(mean, sd);
        }
        let width = (upper - lower) / sd;
        let farthest = ((lower - mean) / sd).abs().max(((upper - mean) / sd).abs());
        if width * farthest < 1e-17 && (upper - lower).is_finite() {
            return Self::rectangular(lower, upper);
        }
        Ok(Self::TruncatedNormal(TruncatedNormal::cut(
            mean, sd, lower, upper,
        )))
    }
}

/// The integral of exp(-z²/2) over an interval, as value · exp(-nearest²/2): no interval is too far out.
#[derive(Debug, Clone, Copy, PartialEq)]
struct Mass {
    /// Distance from 0 to the interval.
    nearest: f64,
    value: f64,
}

impl Mass {
    /// Over `a` to `b`, whose distance is told apart because subtracting them would lose it.
    fn over(a: f64, b: f64, width: f64) -> Self {
        if a >= 0.0 {
            Self {
                nearest: a,
                value: outward(a, width),
            }
        } else if b <= 0.0 {
            Self {
                nearest: -b,
                value: outward(-b, width),
            }
        } else {
            Self {
                nearest: 0.0,
                value: outward(0.0, -a) + outward(0.0, b),
            }
        }
    }
}

/// The integral of exp(-as - s²/2) over s from 0 to `width`, for a >= 0.
fn outward(a: f64, width: f64) -> f64 {
    let drop = width * (a + 0.5 * width);
    if drop < 1.0 {
        // The closed form cancels here, and the integrand hardly bends.
        gauss_legendre(16).integrate(0.0, width, |s| float::exp(-s * (a + 0.5 * s)))
    } else {
        mills(a) - mills(a + width) * float::exp(-drop)
    }
}

/// Mills' ratio: the upper tail of the standard normal over its density, for x >= 0.
fn mills(x: f64) -> f64 {
    if x < 3.0 {
        return special::normal_sf(x) / special::normal_pdf(x);
    }
    // Laplace's continued fraction 1/(x + 1/(x + 2/(x + ...))) (DLMF 7.9.3); 45 levels are enough at 3.
    let mut below = x;
    for k in (1..45).rev() {
        below = x + f64::from(k) / below;
    }
    1.0 / below
}

impl TruncatedNormal {
    fn cut(parent_mean: f64, parent_sd: f64, lower: f64, upper: f64) -> Self {
        let mut law = Self {
            parent_mean,
            parent_sd,
            lower,
            upper,
            whole: Mass {
                nearest: 0.0,
                value: 1.0,
            },
            mean: parent_mean,
            sd: parent_sd,
        };
        law.whole = Mass::over(law.alpha(), law.beta(), law.width());
        (law.mean, law.sd) = law.moments();
        law
    }

    fn mirrored(&self) -> Self {
        Self {
            parent_mean: -self.parent_mean,
            lower: -self.upper,
            upper: -self.lower,
            mean: -self.mean,
            ..*self
        }
    }

    fn standard(&self, x: f64) -> f64 {
        (x - self.parent_mean) / self.parent_sd
    }

    /// Width of what is left, in standard deviations of the parent.
    fn width(&self) -> f64 {
        (self.upper - self.lower) / self.parent_sd
    }

    fn alpha(&self) -> f64 {
        self.standard(self.lower)
    }

    fn beta(&self) -> f64 {
        self.standard(self.upper)
    }

    /// How much farther from the parent's mean x lies than the nearest place that is left, in standard deviations;
    /// 0 when x lies on the far side of the mean.
    fn beyond_nearest(&self, x: f64) -> f64 {
        if self.alpha() > 0.0 {
            (x - self.lower) / self.parent_sd
        } else if self.beta() < 0.0 {
            (self.upper - x) / self.parent_sd
        } else {
            self.standard(x).abs()
        }
    }

    /// exp(-(z² - nearest²)/2) at a place that lies so much beyond the nearest.
    fn fall(&self, beyond: f64) -> f64 {
        float::exp(-beyond * (self.whole.nearest + 0.5 * beyond))
    }

    /// Mean and standard deviation: sums of positive terms, counted from the nearest place that is left.
    fn moments(&self) -> (f64, f64) {
        let (alpha, beta) = (self.alpha(), self.beta());
        if beta < 0.0 {
            let (mean, sd) = self.mirrored().moments();
            return (-mean, sd);
        }
        let nearest = self.whole.nearest;
        let (base, from, to) = if alpha > 0.0 {
            (self.lower, 0.0, self.width())
        } else {
            (self.parent_mean, alpha, beta)
        };
        // Where the density has fallen to e^-40 of its greatest, far below the last bit.
        let reach = 80.0 / (nearest + float::hypot(nearest, 80.0_f64.sqrt()));
        let (from, to) = (from.max(-reach), to.min(reach));
        let length = to - from;
        let rule = gauss_legendre(24);
        let panels = 8;
        let mut nodes = Vec::with_capacity(panels * rule.nodes().len());
        for panel in 0..panels {
            for (node, weight) in rule.nodes().iter().zip(rule.weights()) {
                let share = (panel as f64 + 0.5 + 0.5 * node) / panels as f64;
                let s = (from + length * share).abs();
                nodes.push((share, weight * float::exp(-s * (nearest + 0.5 * s))));
            }
        }
        let total = sum(nodes.iter().map(|(_, weight)| *weight));
        let centre = sum(nodes.iter().map(|(share, weight)| weight * share)) / total;
        let square = sum(nodes.iter().map(|(share, weight)| {
            let off = share - centre;
            weight * off * off
        })) / total;
        (
            base + self.parent_sd * (from + length * centre),
            self.parent_sd * length * square.sqrt(),
        )
    }

    /// Quantile for p up to 1/2.
    fn lower_quantile(&self, p: f64) -> f64 {
        let (alpha, beta) = (self.alpha(), self.beta());
        let nearest = self.whole.nearest;
        if alpha < 0.0 && beta > -5.0 {
            // What lies below is told by Φ without underflow; the sum has no negative term.
            let left = self.whole.value * special::normal_pdf(nearest);
            let z = special::normal_quantile(special::normal_cdf(alpha) + p * left);
            // Near the lower end, though, only the distance from there is accurate.
            if z > 0.5 * alpha {
                return self.parent_mean + self.parent_sd * z;
            }
        }
        // So far below the upper end, the parent holds less than 1e-320 of what is left.
        let open = 0.5 * (-alpha - nearest) * (-alpha + nearest) > 760.0;
        if beta <= -5.0 && open {
            self.upper - self.parent_sd * self.depth_below_upper(p)
        } else {
            self.lower + self.parent_sd * self.height_above_lower(p)
        }
    }

    /// How far below the upper end (in standard deviations, the parent's mean lying above it) lies the quantile of p,
    /// when the lower end is out of sight.
    fn depth_below_upper(&self, p: f64) -> f64 {
        let nearest = self.whole.nearest;
        let log = -float::ln(p);
        // Where the density has fallen to p; the tail falls a little faster.
        let farthest = 2.0 * log / (nearest + float::hypot(nearest, (2.0 * log).sqrt()));
        let f = |s: f64| {
            let ratio = mills(nearest + s);
            let fallen = s * (nearest + 0.5 * s) - float::ln(ratio / self.whole.value);
            (fallen - log, 1.0 / ratio)
        };
        increasing_root(f, 0.0, farthest, farthest)
    }

    /// How far above the lower end (in standard deviations) lies the quantile of p, at most 1/2.
    fn height_above_lower(&self, p: f64) -> f64 {
        let (alpha, beta) = (self.alpha(), self.beta());
        // No density is above 1 in the unit of the mass, so p needs at least this height; and where the parent's
        // mean is not above the interval, half of the chance lies below alpha + 1 or below 1.
        let lowest = p * self.whole.value;
        let highest = if beta <= 0.0 {
            self.width()
        } else {
            self.width().min(1.0 + (-alpha).max(0.0))
        };
        let log = float::ln(lowest);
        let f = |y: f64| {
            let z = alpha + y;
            let mass = Mass::over(alpha, z, y);
            let density = if alpha >= 0.0 {
                float::exp(-y * (alpha + 0.5 * y))
            } else if z <= 0.0 {
                1.0
            } else {
                float::exp(-0.5 * z * z)
            };
            let beyond = if beta < 0.0 {
                (self.width() - y).max(0.0)
            } else {
                mass.nearest - self.whole.nearest
            };
            let ln = float::ln(mass.value) - beyond * (self.whole.nearest + 0.5 * beyond);
            (ln - log, density / mass.value)
        };
        // The logarithm of the chance is concave: Newton climbs to the root from below.
        increasing_root(f, lowest, highest, lowest)
    }
}

impl Law for TruncatedNormal {
    const NAME: &'static str = "truncated normal";

    fn mean(&self) -> Option<f64> {
        Some(self.mean)
    }

    fn standard_deviation(&self) -> Option<f64> {
        Some(self.sd)
    }

    fn support(&self) -> (f64, f64) {
        (self.lower, self.upper)
    }

    fn centre_of_symmetry(&self) -> Option<f64> {
        ((self.upper - self.lower).is_finite()
            && balanced(self.lower, self.parent_mean, self.upper))
        .then_some(self.parent_mean)
    }

    fn pdf(&self, x: f64) -> Option<f64> {
        Some(self.fall(self.beyond_nearest(x)) / self.whole.value / self.parent_sd)
    }

    fn cdf(&self, x: f64) -> f64 {
        let z = self.standard(x);
        let mass = Mass::over(self.alpha(), z, (x - self.lower) / self.parent_sd);
        let beyond = if z > 0.0 || self.alpha() >= 0.0 {
            0.0
        } else {
            self.beyond_nearest(x)
        };
        mass.value / self.whole.value * self.fall(beyond)
    }

    fn sf(&self, x: f64) -> f64 {
        self.mirrored().cdf(-x)
    }

    fn quantile(&self, p: f64) -> f64 {
        if p <= 0.5 {
            self.lower_quantile(p)
        } else {
            -self.mirrored().lower_quantile(1.0 - p)
        }
    }

    fn quantile_upper(&self, q: f64) -> f64 {
        -self.mirrored().quantile(q)
    }

    fn affine(&self, factor: f64, shift: f64) -> Result<Distribution, Error> {
        let at = |x: f64| factor * x + shift;
        let (one, other) = (at(self.lower), at(self.upper));
        Distribution::truncated_normal(
            at(self.parent_mean),
            factor.abs() * self.parent_sd,
            one.min(other),
            one.max(other),
        )
    }
}
