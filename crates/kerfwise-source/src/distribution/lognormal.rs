use super::law::Law;
use super::{Distribution, check};
use crate::Error;
use kerfwise_numeric::{float, special};

/// Lognormal law above (or, reflected, below) an origin.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Lognormal {
    origin: f64,
    log_mean: f64,
    log_sd: f64,
    reflected: bool,
}

impl Lognormal {
    /// Where the law begins.
    #[inline]
    #[must_use]
    pub fn origin(&self) -> f64 {
        self.origin
    }

    /// Mean of the logarithm of the distance from the origin.
    #[inline]
    #[must_use]
    pub fn log_mean(&self) -> f64 {
        self.log_mean
    }

    /// Standard deviation of that logarithm, above 0.
    #[inline]
    #[must_use]
    pub fn log_sd(&self) -> f64 {
        self.log_sd
    }

    /// Whether the law lies below the origin, as the mirror image of the usual one.
    #[inline]
    #[must_use]
    pub fn is_reflected(&self) -> bool {
        self.reflected
    }

    /// Sign of the distance from the origin.
    fn side(&self) -> f64 {
        if self.reflected { -1.0 } else { 1.0 }
    }

    /// Logarithm of the distance from the origin, in standard units.
    fn score(&self, x: f64) -> f64 {
        (float::ln(self.side() * (x - self.origin)) - self.log_mean) / self.log_sd
    }

    fn at_score(&self, z: f64) -> f64 {
        self.origin + self.side() * float::exp(self.log_mean + self.log_sd * z)
    }

    fn checked(
        origin: f64,
        log_mean: f64,
        log_sd: f64,
        reflected: bool,
    ) -> Result<Distribution, Error> {
        let origin = check::finite(Self::NAME, "origin", origin)?;
        let log_mean = check::finite(Self::NAME, "mean of the logarithm", log_mean)?;
        let log_sd = check::spread(Self::NAME, "standard deviation of the logarithm", log_sd)?;
        // No draw lies more than 8.3 standard deviations out, and e^709 is the largest number there is.
        let farthest = log_mean + 9.0 * log_sd;
        if farthest > 709.0 {
            return Err(check::bad(
                Self::NAME,
                format_args!(
                    "mean of the logarithm plus 9 standard deviations of it must not be above 709 (got {farthest}); both are natural logarithms, so a length of 1 has the logarithm 0"
                ),
            ));
        }
        let law = Self {
            origin,
            log_mean,
            log_sd,
            reflected,
        };
        if log_sd == 0.0 {
            return Distribution::point(law.at_score(0.0));
        }
        Ok(Distribution::Lognormal(law))
    }
}

impl Distribution {
    /// Lognormal: `origin` + exp(Y), where Y is normal with mean `log_mean` and standard deviation `log_sd`.
    ///
    /// ```text
    /// mean = origin + exp(log_mean + log_sd²/2)
    /// variance = (exp(log_sd²) - 1) exp(2 log_mean + log_sd²)
    /// ```
    ///
    /// It has no characteristic function in closed form.
    ///
    /// # Errors
    /// When an argument is not finite, `log_sd` is negative, or `log_mean + 9 log_sd` is above 709, where draws
    /// would overflow.
    ///
    /// # Examples
    /// ```
    /// use kerfwise_source::Distribution;
    ///
    /// let gap = Distribution::lognormal(0.0, (0.002_f64).ln(), 0.5)?;
    /// assert!((gap.quantile(0.5) - 0.002).abs() < 1e-17);
    /// assert!((gap.mean().unwrap() - 0.002 * (0.125_f64).exp()).abs() < 1e-17);
    /// # Ok::<(), kerfwise_source::Error>(())
    /// ```
    pub fn lognormal(origin: f64, log_mean: f64, log_sd: f64) -> Result<Self, Error> {
        Lognormal::checked(origin, log_mean, log_sd, false)
    }
}

impl Law for Lognormal {
    const NAME: &'static str = "lognormal";

    fn mean(&self) -> Option<f64> {
        let excess = float::exp(self.log_mean + 0.5 * self.log_sd * self.log_sd);
        Some(self.origin + self.side() * excess)
    }

    fn standard_deviation(&self) -> Option<f64> {
        let square = self.log_sd * self.log_sd;
        Some(float::exp(self.log_mean + square) * (-float::exp_m1(-square)).sqrt())
    }

    fn support(&self) -> (f64, f64) {
        if self.reflected {
            (f64::NEG_INFINITY, self.origin)
        } else {
            (self.origin, f64::INFINITY)
        }
    }

    fn centre_of_symmetry(&self) -> Option<f64> {
        None
    }

    fn pdf(&self, x: f64) -> Option<f64> {
        let distance = self.side() * (x - self.origin);
        Some(if distance > 0.0 {
            special::normal_pdf(self.score(x)) / self.log_sd / distance
        } else {
            0.0
        })
    }

    fn cdf(&self, x: f64) -> f64 {
        special::normal_cdf(self.side() * self.score(x))
    }

    fn sf(&self, x: f64) -> f64 {
        special::normal_sf(self.side() * self.score(x))
    }

    fn quantile(&self, p: f64) -> f64 {
        self.at_score(self.side() * special::normal_quantile(p))
    }

    fn quantile_upper(&self, q: f64) -> f64 {
        self.at_score(self.side() * special::normal_quantile_upper(q))
    }

    fn affine(&self, factor: f64, shift: f64) -> Result<Distribution, Error> {
        Self::checked(
            factor * self.origin + shift,
            self.log_mean + float::ln(factor.abs()),
            self.log_sd,
            self.reflected != (factor < 0.0),
        )
    }
}
