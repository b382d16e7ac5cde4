use super::law::{Law, turned};
use super::{Distribution, check};
use crate::Error;
use kerfwise_numeric::columns::{self, QuantileTable};
use kerfwise_numeric::float;
use std::sync::OnceLock;

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

    fn draws(&self, column: &mut [f64]) {
        /// Of the law above 0 with mean excess 1.
        static UNIT: OnceLock<QuantileTable> = OnceLock::new();
        let (lower, upper) = (|p: f64| -float::ln_1p(-p), |q: f64| -float::ln(q));
        if self.mean_excess < 0.0 {
            columns::scale_and_shift(column, -1.0, 1.0);
        }
        UNIT.get_or_init(|| QuantileTable::two_sided(lower, upper))
            .map(column, |u| if u <= 0.5 { lower(u) } else { upper(1.0 - u) });
        columns::scale_and_shift(column, self.mean_excess, self.origin);
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

#[cfg(test)]
mod tests {
    use super::super::{Distribution, reference};
    use crate::Error;

    // Reference values: computed independently at 60 digits with mpmath.

    #[rustfmt::skip] // a table: one row a line
    #[test]
    fn above() -> Result<(), Error> {
        let law = Distribution::exponential(0.0, 2.0)?;
        reference::moments(&law, Some(2.0), Some(2.0));
        reference::chances(&law, 4e-15, &[
            (1.0e-300, 0.5, 5.0e-301, 1.0),
            (1.0e-9, 0.49999999975, 4.99999999875e-10, 0.9999999995),
            (0.5, 0.38940039153570244, 0.22119921692859512, 0.7788007830714049),
            (3.0, 0.11156508007421491, 0.7768698398515702, 0.22313016014842982),
            (100.0, 9.643749239819589e-23, 1.0, 1.9287498479639178e-22),
            (1380.0, 1.0858691406949136e-300, 1.0, 2.171738281389827e-300),
        ]);
        reference::quantiles(&law, 4e-15, &[
            (1.0e-300, 2.0e-300, 1381.5510557964274),
            (1.0e-20, 2.0e-20, 92.10340371976183),
            (0.01, 0.020100671707002884, 9.210340371976182),
            (0.3, 0.7133498878774647, 2.4079456086518722),
        ]);
        reference::characteristic(&law, &[
            (1.0e-9, 1.0, 2.0e-9),
            (0.5, 0.5, 0.5),
            (30.0, 0.00027770063871146905, 0.01666203832268814),
        ]);
        Ok(())
    }

    #[rustfmt::skip] // a table: one row a line
    #[test]
    fn below() -> Result<(), Error> {
        let law = Distribution::exponential(1.0, -0.25)?;
        reference::moments(&law, Some(0.75), Some(0.25));
        reference::chances(&law, 4e-15, &[
            (-170.0, 3.504567018572336e-297, 8.76141754643084e-298, 1.0),
            (-20.0, 1.3222802507042937e-36, 3.3057006267607343e-37, 1.0),
            (0.5, 0.5413411329464508, 0.1353352832366127, 0.8646647167633873),
            (0.75, 1.4715177646857693, 0.36787944117144233, 0.6321205588285577),
            (0.9999999999990905, 3.999999999985448, 0.999999999996362, 3.6379788070850955e-12),
        ]);
        reference::quantiles(&law, 4e-15, &[
            (1.0e-300, -171.69388197455342, 1.0),
            (1.0e-20, -10.512925464970229, 1.0),
            (0.01, -0.15129254649702284, 0.9974874160366246),
            (0.3, 0.699006798918516, 0.9108312640153169),
        ]);
        reference::characteristic(&law, &[
            (1.0, 0.7065129901836366, 0.6648427372619874),
            (50.0, -0.014719997728502363, -0.07837488209764926),
        ]);
        Ok(())
    }
}
