use super::law::{Law, turned};
use super::{Distribution, check};
use crate::Error;
use kerfwise_numeric::{float, special};
use std::f64::consts::PI;

/// Scaled and shifted Student t law.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct StudentT {
    location: f64,
    scale: f64,
    degrees_of_freedom: f64,
}

impl StudentT {
    /// Centre of symmetry; the mean where there is one.
    #[inline]
    #[must_use]
    pub fn location(&self) -> f64 {
        self.location
    }

    /// Scale (not the standard deviation), above 0.
    #[inline]
    #[must_use]
    pub fn scale(&self) -> f64 {
        self.scale
    }

    /// Degrees of freedom, at least 0.001.
    #[inline]
    #[must_use]
    pub fn degrees_of_freedom(&self) -> f64 {
        self.degrees_of_freedom
    }
}

impl Distribution {
    /// Scaled and shifted Student t: location + scale·t (JCGM 101:2008, 6.4.9).
    ///
    /// What n readings with mean x̄ and standard deviation s say about their expectation is location x̄,
    /// scale s/√n and n - 1 degrees of freedom. Infinite degrees of freedom give the normal law.
    ///
    /// ```text
    /// mean = location                     above 1 degree of freedom ν, none otherwise
    /// variance = scale² ν/(ν - 2)         above 2 degrees of freedom, none otherwise
    /// ```
    ///
    /// # Errors
    /// When the location is not finite, the scale is negative or not finite, or the degrees of freedom are below 0.001.
    ///
    /// # Examples
    /// ```
    /// use kerfwise_source::Distribution;
    ///
    /// let five_readings = Distribution::student_t(0.375, 0.0002, 4.0)?;
    /// // t for 95 % and 4 degrees of freedom is 2.776 (JCGM 100:2008, table G.2: 2.78).
    /// let upper = five_readings.quantile(0.975);
    /// assert!(((upper - 0.375) / 0.0002 - 2.776_445_105_198).abs() < 1e-9);
    /// assert!((five_readings.variance().unwrap() - 2.0 * 0.0002 * 0.0002).abs() < 1e-22);
    /// # Ok::<(), kerfwise_source::Error>(())
    /// ```
    pub fn student_t(location: f64, scale: f64, degrees_of_freedom: f64) -> Result<Self, Error> {
        let location = check::finite(StudentT::NAME, "location", location)?;
        let scale = check::spread(StudentT::NAME, "scale", scale)?;
        if degrees_of_freedom.is_nan() || degrees_of_freedom < 1e-3 {
            return Err(check::bad(
                StudentT::NAME,
                format_args!(
                    "degrees of freedom must be at least 0.001 (got {degrees_of_freedom}); n readings give n - 1"
                ),
            ));
        }
        if scale == 0.0 {
            return Self::point(location);
        }
        if degrees_of_freedom == f64::INFINITY {
            return Self::normal(location, scale);
        }
        Ok(Self::StudentT(StudentT {
            location,
            scale,
            degrees_of_freedom,
        }))
    }
}

/// The t that holds the chance `p`, at most 1/2, below it; 0 or less.
///
/// Closed forms for 1, 2 and 4 degrees of freedom, none of which cancels at either end.
fn lower_quantile(p: f64, degrees_of_freedom: f64) -> f64 {
    let below_half = 1.0 - 2.0 * p;
    if degrees_of_freedom == 1.0 {
        return if p > 0.25 {
            -float::tan(0.5 * PI * below_half)
        } else {
            -1.0 / float::tan(PI * p)
        };
    }
    if degrees_of_freedom == 2.0 {
        return -below_half / (2.0 * p * (1.0 - p)).sqrt();
    }
    if degrees_of_freedom == 4.0 {
        // cos a = 2√(p(1-p)) solves the cubic for t² (Shaw 2006); a from its tangent, so that t keeps its digits at 0.
        let cos = 2.0 * (p.sqrt() * (1.0 - p).sqrt());
        let third = float::atan2(below_half, cos) / 3.0;
        return -4.0 * float::sin(third) * (float::cos(third) / cos).sqrt();
    }
    special::student_t_quantile(p, degrees_of_freedom)
}

impl Law for StudentT {
    const NAME: &'static str = "Student t";

    fn mean(&self) -> Option<f64> {
        (self.degrees_of_freedom > 1.0).then_some(self.location)
    }

    fn standard_deviation(&self) -> Option<f64> {
        let nu = self.degrees_of_freedom;
        (nu > 2.0).then(|| self.scale * (nu / (nu - 2.0)).sqrt())
    }

    fn support(&self) -> (f64, f64) {
        (f64::NEG_INFINITY, f64::INFINITY)
    }

    fn centre_of_symmetry(&self) -> Option<f64> {
        Some(self.location)
    }

    fn pdf(&self, x: f64) -> Option<f64> {
        let t = (x - self.location) / self.scale;
        Some(special::student_t_pdf(t, self.degrees_of_freedom) / self.scale)
    }

    fn cdf(&self, x: f64) -> f64 {
        special::student_t_cdf((x - self.location) / self.scale, self.degrees_of_freedom)
    }

    fn sf(&self, x: f64) -> f64 {
        special::student_t_sf((x - self.location) / self.scale, self.degrees_of_freedom)
    }

    fn quantile(&self, p: f64) -> f64 {
        let t = if p <= 0.5 {
            lower_quantile(p, self.degrees_of_freedom)
        } else {
            -lower_quantile(1.0 - p, self.degrees_of_freedom)
        };
        self.location + self.scale * t
    }

    fn quantile_upper(&self, q: f64) -> f64 {
        let t = if q <= 0.5 {
            -lower_quantile(q, self.degrees_of_freedom)
        } else {
            lower_quantile(1.0 - q, self.degrees_of_freedom)
        };
        self.location + self.scale * t
    }

    fn characteristic(&self, t: f64) -> Option<(f64, f64)> {
        let re = special::student_t_cf(self.scale * t, self.degrees_of_freedom);
        Some(turned(self.location * t, (re, 0.0)))
    }

    fn affine(&self, factor: f64, shift: f64) -> Result<Distribution, Error> {
        Distribution::student_t(
            factor * self.location + shift,
            factor.abs() * self.scale,
            self.degrees_of_freedom,
        )
    }
}
