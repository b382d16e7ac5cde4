use super::law::Law;
use super::{Distribution, check};
use crate::Error;
use kerfwise_numeric::{float, special};

/// Beta law stretched over an interval.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Beta {
    lower: f64,
    upper: f64,
    a: f64,
    b: f64,
}

impl Beta {
    /// Lower end.
    #[inline]
    #[must_use]
    pub fn lower(&self) -> f64 {
        self.lower
    }

    /// Upper end.
    #[inline]
    #[must_use]
    pub fn upper(&self) -> f64 {
        self.upper
    }

    /// Shape at the lower end, from 0.001 to 1 000 000.
    #[inline]
    #[must_use]
    pub fn a(&self) -> f64 {
        self.a
    }

    /// Shape at the upper end, from 0.001 to 1 000 000.
    #[inline]
    #[must_use]
    pub fn b(&self) -> f64 {
        self.b
    }

    fn width(&self) -> f64 {
        self.upper - self.lower
    }

    /// Distances from the two ends as shares of the width.
    fn shares(&self, x: f64) -> (f64, f64) {
        (
            ((x - self.lower) / self.width()).clamp(0.0, 1.0),
            ((self.upper - x) / self.width()).clamp(0.0, 1.0),
        )
    }

    /// Chances below and above x, told from the nearer end.
    fn tails(&self, x: f64) -> (f64, f64) {
        let (from_lower, from_upper) = self.shares(x);
        if from_lower <= 0.5 {
            special::beta_inc(from_lower, self.a, self.b)
        } else {
            let (above, below) = special::beta_inc(from_upper, self.b, self.a);
            (below, above)
        }
    }

    fn up_from_lower(&self, p: f64) -> f64 {
        self.lower + self.width() * special::beta_quantile(p, self.a, self.b)
    }

    fn down_from_upper(&self, q: f64) -> f64 {
        self.upper - self.width() * special::beta_quantile(q, self.b, self.a)
    }
}

impl Distribution {
    /// Beta with shapes `a`, `b` stretched over an interval.
    ///
    /// ```text
    /// pdf(x) = y^(a-1) (1-y)^(b-1) / (B(a,b) (upper - lower)),    y = (x - lower)/(upper - lower)
    /// mean = lower + (upper - lower) a/(a + b)
    /// variance = (upper - lower)² ab/((a + b)²(a + b + 1))
    /// ```
    ///
    /// With a shape below 1 the density is infinite at that end. Shapes 1, 1 give the rectangular law, 1/2, 1/2
    /// the arcsine law. The characteristic function is not offered. The density loses a few digits when the shapes
    /// are large (relative 1e-10 at a million); chances and quantiles do not pass through it.
    ///
    /// # Errors
    /// When an end is not finite, the lower one is above the upper one, or a shape is outside 0.001 to 1 000 000.
    ///
    /// # Examples
    /// ```
    /// use kerfwise_source::Distribution;
    ///
    /// let moisture = Distribution::beta(6.0, 12.0, 2.0, 3.0)?;
    /// assert!((moisture.mean().unwrap() - 8.4).abs() < 1e-14);
    /// // P(y <= 1/2) = 11/16 for shapes 2 and 3.
    /// assert!((moisture.cdf(9.0) - 0.6875).abs() < 1e-14);
    /// # Ok::<(), kerfwise_source::Error>(())
    /// ```
    pub fn beta(lower: f64, upper: f64, a: f64, b: f64) -> Result<Self, Error> {
        let (lower, upper) = check::ends(Beta::NAME, lower, upper)?;
        let a = check::between(Beta::NAME, "shape a", a, 1e-3, 1e6)?;
        let b = check::between(Beta::NAME, "shape b", b, 1e-3, 1e6)?;
        if lower == upper {
            return Self::point(lower);
        }
        if a == 1.0 && b == 1.0 {
            return Self::rectangular(lower, upper);
        }
        if a == 0.5 && b == 0.5 {
            return Self::arcsine(lower, upper);
        }
        Ok(Self::Beta(Beta { lower, upper, a, b }))
    }
}

/// (shape - 1) ln(share), where a shape of 1 leaves no trace of the end.
fn log_power(share: f64, shape: f64) -> f64 {
    if shape == 1.0 {
        0.0
    } else {
        (shape - 1.0) * float::ln(share)
    }
}

impl Law for Beta {
    const NAME: &'static str = "beta";

    fn mean(&self) -> Option<f64> {
        let total = self.a + self.b;
        Some(if self.a <= self.b {
            self.lower + self.width() * (self.a / total)
        } else {
            self.upper - self.width() * (self.b / total)
        })
    }

    fn standard_deviation(&self) -> Option<f64> {
        let total = self.a + self.b;
        let square = (self.a / total) * (self.b / total) / (total + 1.0);
        Some(self.width() * square.sqrt())
    }

    fn support(&self) -> (f64, f64) {
        (self.lower, self.upper)
    }

    fn centre_of_symmetry(&self) -> Option<f64> {
        (self.a == self.b).then(|| super::law::middle(self.lower, self.upper))
    }

    fn pdf(&self, x: f64) -> Option<f64> {
        let (from_lower, from_upper) = self.shares(x);
        let log = log_power(from_lower, self.a) + log_power(from_upper, self.b)
            - special::ln_beta(self.a, self.b);
        Some(float::exp(log) / self.width())
    }

    fn cdf(&self, x: f64) -> f64 {
        self.tails(x).0
    }

    fn sf(&self, x: f64) -> f64 {
        self.tails(x).1
    }

    fn quantile(&self, p: f64) -> f64 {
        if p <= 0.5 {
            self.up_from_lower(p)
        } else {
            self.down_from_upper(1.0 - p)
        }
    }

    fn quantile_upper(&self, q: f64) -> f64 {
        if q <= 0.5 {
            self.down_from_upper(q)
        } else {
            self.up_from_lower(1.0 - q)
        }
    }

    fn affine(&self, factor: f64, shift: f64) -> Result<Distribution, Error> {
        let (one, other) = (factor * self.lower + shift, factor * self.upper + shift);
        if factor > 0.0 {
            Distribution::beta(one, other, self.a, self.b)
        } else {
            Distribution::beta(other, one, self.b, self.a)
        }
    }
}
