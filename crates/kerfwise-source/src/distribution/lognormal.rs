use super::law::Law;
use super::table::Table;
use super::{Distribution, check};
use crate::Error;
use kerfwise_numeric::{float, special};

/// Lognormal law above (or, reflected, below) an origin.
#[derive(Debug, Clone, PartialEq)]
pub struct Lognormal {
    origin: f64,
    log_mean: f64,
    log_sd: f64,
    reflected: bool,
    table: Table,
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
            table: Table::default(),
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

    fn draws(&self, column: &mut [f64]) {
        self.table.draws(self, column);
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

#[cfg(test)]
mod tests {
    use super::super::{Distribution, reference};
    use crate::Error;

    // Reference values: computed independently at 60 digits with mpmath.

    #[rustfmt::skip] // a table: one row a line
    #[test]
    fn standard() -> Result<(), Error> {
        let law = Distribution::lognormal(0.0, 0.0, 1.0)?;
        reference::moments(&law, Some(1.6487212707001282), Some(2.1611974158950877));
        reference::chances(&law, 4e-15, &[
            (1.0e-16, 7.41341244205541e-280, 2.0107732810178387e-297, 1.0),
            (1.0e-5, 6.585615992616802e-25, 5.67797929684101e-31, 1.0),
            (0.5, 0.6274960771159244, 0.24410859578558272, 0.7558914042144173),
            (1.0, 0.3989422804014327, 0.5, 0.5),
            (4.0, 0.038153456511886445, 0.9171714809983015, 0.08282851900169849),
            (1000000.0, 1.4268502377012543e-48, 1.0, 1.0274605390204221e-43),
            (1000000000000000.0, 3.6315088258752055e-275, 1.0, 1.0505503171051618e-261),
        ]);
        reference::quantiles(&law, 4e-15, &[
            (1.0e-300, 8.140489241100185e-17, 1.2284273959249778e16),
            (1.0e-20, 9.493291347224349e-5, 10533.754452741832),
            (0.01, 0.09765173307033596, 10.240473656312135),
            (0.3, 0.5919101006095542, 1.6894457434840044),
        ]);
        Ok(())
    }

    #[rustfmt::skip] // a table: one row a line
    #[test]
    fn narrow() -> Result<(), Error> {
        // Wider than 4e-15, because the logarithm, -6, is told to 1e-15 and divided by 0.125.
        let law = Distribution::lognormal(0.0, -6.0, 0.125)?;
        reference::moments(&law, Some(0.002498193270938647), Some(0.00031349795989414457));
        reference::chances(&law, 2e-14, &[
            (0.0005, 1.5398584934819794e-32, 7.469601412990188e-38, 1.0),
            (0.002, 365.51187113535804, 0.04300194001516541, 0.9569980599848346),
            (0.0025, 1273.6425566524067, 0.5272200697287118, 0.47277993027128823),
            (0.003, 331.623821290975, 0.9366015982306877, 0.0633984017693123),
            (0.05, 2.3556118532211054e-124, 1.0, 6.115141526097936e-128),
        ]);
        reference::quantiles(&law, 4e-15, &[
            (1.0e-300, 2.4158191630737986e-5, 0.25433246193438347),
            (1.0e-20, 0.0007787717871114584, 0.00788961856992496),
            (0.01, 0.0018532888077807082, 0.0033153021415403858),
            (0.3, 0.0023214807000944884, 0.002646678196841408),
        ]);
        Ok(())
    }

    #[rustfmt::skip] // a table: one row a line
    #[test]
    fn mirrored() -> Result<(), Error> {
        let law = Distribution::lognormal(0.0, 0.0, 1.0)?.affine(-1.0, 0.0)?;
        reference::moments(&law, Some(-1.6487212707001282), Some(2.1611974158950877));
        reference::chances(&law, 4e-15, &[
            (-1000000000000000.0, 3.6315088258752055e-275, 1.0505503171051618e-261, 1.0),
            (-4.0, 0.038153456511886445, 0.08282851900169849, 0.9171714809983015),
            (-0.5, 0.6274960771159244, 0.7558914042144173, 0.24410859578558272),
            (-1.0e-5, 6.585615992616802e-25, 1.0, 5.67797929684101e-31),
        ]);
        reference::quantiles(&law, 4e-15, &[
            (1.0e-300, -1.2284273959249778e16, -8.140489241100185e-17),
            (1.0e-20, -10533.754452741832, -9.493291347224349e-5),
            (0.01, -10.240473656312135, -0.09765173307033596),
            (0.3, -1.6894457434840044, -0.5919101006095542),
        ]);
        Ok(())
    }
}
