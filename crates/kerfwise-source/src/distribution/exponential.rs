use super::law::{Law, turned};
use super::{Distribution, check};
use crate::Error;
use kerfwise_numeric::float;

/// Exponential law above (or below) an origin.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Exponential {
    origin: f64,
    mean_excess: f64,
}

impl Exponential {
    /// Where the law begins.
    #[inline]
    #[must_use]
    pub fn origin(&self) -> f64 {
        self.origin
    }

    /// Mean of X - origin, not 0; negative when the law lies below the origin.
    #[inline]
    #[must_use]
    pub fn mean_excess(&self) -> f64 {
        self.mean_excess
    }

    /// Distance from the origin, in mean excesses.
    fn excess(&self, x: f64) -> f64 {
        (x - self.origin) / self.mean_excess
    }

    /// The x beyond which, seen from the origin, lies the chance `far`.
    fn beyond(&self, far: f64) -> f64 {
        self.origin - self.mean_excess * float::ln(far)
    }

    /// The x short of which, seen from the origin, lies the chance `near`.
    fn within(&self, near: f64) -> f64 {
        self.origin - self.mean_excess * float::ln_1p(-near)
    }
}

impl Distribution {
    /// Exponential above `origin`, with `mean_excess` over it; negative `mean_excess` lies below
    /// (JCGM 101:2008, 6.4.10).
    ///
    /// For an error that has one sign and is mostly small, such as the gap under a fence stop.
    ///
    /// ```text
    /// sf(x) = exp(-(x - origin)/mean_excess)    standard deviation = |mean_excess|
    /// ```
    ///
    /// # Errors
    /// When either argument is not finite.
    ///
    /// # Examples
    /// ```
    /// use kerfwise_source::Distribution;
    ///
    /// let sawdust = Distribution::exponential(0.0, 0.002)?;
    /// assert!((sawdust.sf(0.002) - (-1.0_f64).exp()).abs() < 1e-15);
    /// let below = Distribution::exponential(0.0, -0.002)?;
    /// assert_eq!(below.mean(), Some(-0.002));
    /// assert_eq!(below.support(), (f64::NEG_INFINITY, 0.0));
    /// # Ok::<(), kerfwise_source::Error>(())
    /// ```
    pub fn exponential(origin: f64, mean_excess: f64) -> Result<Self, Error> {
        let origin = check::finite(Exponential::NAME, "origin", origin)?;
        let mean_excess = check::finite(Exponential::NAME, "mean excess", mean_excess)?;
        if mean_excess == 0.0 {
            return Self::point(origin);
        }
        Ok(Self::Exponential(Exponential {
            origin,
            mean_excess,
        }))
    }
}

impl Law for Exponential {
    const NAME: &'static str = "exponential";

    fn mean(&self) -> Option<f64> {
        Some(self.origin + self.mean_excess)
    }

    fn standard_deviation(&self) -> Option<f64> {
        Some(self.mean_excess.abs())
    }

    fn support(&self) -> (f64, f64) {
        if self.mean_excess > 0.0 {
            (self.origin, f64::INFINITY)
        } else {
            (f64::NEG_INFINITY, self.origin)
        }
    }

    fn centre_of_symmetry(&self) -> Option<f64> {
        None
    }

    fn pdf(&self, x: f64) -> Option<f64> {
        Some(float::exp(-self.excess(x)) / self.mean_excess.abs())
    }

    fn cdf(&self, x: f64) -> f64 {
        if self.mean_excess > 0.0 {
            -float::exp_m1(-self.excess(x))
        } else {
            float::exp(-self.excess(x))
        }
    }

    fn sf(&self, x: f64) -> f64 {
        if self.mean_excess > 0.0 {
            float::exp(-self.excess(x))
        } else {
            -float::exp_m1(-self.excess(x))
        }
    }

    fn quantile(&self, p: f64) -> f64 {
        if self.mean_excess > 0.0 {
            self.within(p)
        } else {
            self.beyond(p)
        }
    }

    fn quantile_upper(&self, q: f64) -> f64 {
        if self.mean_excess > 0.0 {
            self.beyond(q)
        } else {
            self.within(q)
        }
    }

    fn characteristic(&self, t: f64) -> Option<(f64, f64)> {
        // 1/(1 - imt) with the larger part divided out, so that a huge mt does not overflow.
        let z = self.mean_excess * t;
        let (re, im) = if z.abs() <= 1.0 {
            let square = 1.0 + z * z;
            (1.0 / square, z / square)
        } else {
            let inverse = 1.0 / z;
            let square = 1.0 + inverse * inverse;
            (inverse * inverse / square, inverse / square)
        };
        Some(turned(self.origin * t, (re, im)))
    }

    fn affine(&self, factor: f64, shift: f64) -> Result<Distribution, Error> {
        Distribution::exponential(factor * self.origin + shift, factor * self.mean_excess)
    }
}
