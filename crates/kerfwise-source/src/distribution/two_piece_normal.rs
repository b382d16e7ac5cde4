use super::law::{Law, increasing_root};
use super::{Distribution, check};
use crate::Error;
use kerfwise_numeric::{columns, float, special};
use multiversion::multiversion;
use std::f64::consts::{FRAC_1_SQRT_2, FRAC_2_PI, FRAC_PI_2};

/// Two half normals joined at the mode.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct TwoPieceNormal {
    mode: f64,
    sd_below: f64,
    sd_above: f64,
}

impl TwoPieceNormal {
    /// Where the halves join, and the density is greatest.
    #[inline]
    #[must_use]
    pub fn mode(&self) -> f64 {
        self.mode
    }

    /// Standard deviation of the normal whose lower half is used; 0 when there is nothing below the mode.
    #[inline]
    #[must_use]
    pub fn sd_below(&self) -> f64 {
        self.sd_below
    }

    /// Standard deviation of the normal whose upper half is used; 0 when there is nothing above the mode.
    #[inline]
    #[must_use]
    pub fn sd_above(&self) -> f64 {
        self.sd_above
    }

    /// The chances below and above the mode.
    fn sides(&self) -> (f64, f64) {
        // Halves, because the sum of two huge standard deviations overflows.
        let total = 0.5 * self.sd_below + 0.5 * self.sd_above;
        (0.5 * self.sd_below / total, 0.5 * self.sd_above / total)
    }

    fn mirrored(&self) -> Self {
        Self {
            mode: -self.mode,
            sd_below: self.sd_above,
            sd_above: self.sd_below,
        }
    }
}

impl Distribution {
    /// Two half normals joined at the mode, for an error that strays farther to one side.
    ///
    /// Each side holds its share of the chance, `sd_below` to `sd_above`, so the density has no step (the split normal;
    /// Wallis 2014, Statistical Science 29, 106). One of the two may be 0.
    ///
    /// ```text
    /// pdf(x) = 2/(√(2π)(s₁ + s₂)) exp(-((x - mode)/s)²/2),    s = s₁ below the mode, s₂ above
    /// mean = mode + √(2/π)(s₂ - s₁)
    /// variance = (1 - 2/π)(s₂ - s₁)² + s₁s₂
    /// ```
    ///
    /// The characteristic function is not offered.
    ///
    /// # Errors
    /// When the mode is not finite, or a standard deviation is negative or not finite.
    ///
    /// # Examples
    /// ```
    /// use kerfwise_source::Distribution;
    ///
    /// let creep = Distribution::two_piece_normal(0.0, 0.001, 0.003)?;
    /// // Three quarters of the chance lie above the mode.
    /// assert!((creep.sf(0.0) - 0.75).abs() < 1e-15);
    /// assert!((creep.mean().unwrap() - 0.002 * 0.797_884_560_802_865_4).abs() < 1e-17);
    /// # Ok::<(), kerfwise_source::Error>(())
    /// ```
    pub fn two_piece_normal(mode: f64, sd_below: f64, sd_above: f64) -> Result<Self, Error> {
        let mode = check::finite(TwoPieceNormal::NAME, "mode", mode)?;
        let sd_below = check::spread(
            TwoPieceNormal::NAME,
            "standard deviation below the mode",
            sd_below,
        )?;
        let sd_above = check::spread(
            TwoPieceNormal::NAME,
            "standard deviation above the mode",
            sd_above,
        )?;
        if sd_below == sd_above {
            return Self::normal(mode, sd_below);
        }
        Ok(Self::TwoPieceNormal(TwoPieceNormal {
            mode,
            sd_below,
            sd_above,
        }))
    }
}

/// The z with P(|Z| <= z) = p for a standard normal Z.
fn half_normal_quantile(p: f64) -> f64 {
    if p > 0.25 {
        return special::normal_quantile_upper(0.5 * (1.0 - p));
    }
    // p is lost in 1 - p near 0: solve erf(z/√2) = p, whose slope is √(2/π) exp(-z²/2), from below.
    let start = p * FRAC_PI_2.sqrt();
    let slope = FRAC_2_PI.sqrt();
    let f = |z: f64| {
        (
            special::erf(z * FRAC_1_SQRT_2) - p,
            slope * float::exp(-0.5 * z * z),
        )
    };
    // At p = 1/4, z is 0.319 and 1.02 times the start.
    increasing_root(f, 0.99 * start, 1.05 * start, start)
}

/// Chances up to 1/2 of a half normal, and by what to multiply its quantile: the share of the lower piece decides.
#[multiversion(targets("x86_64+avx512f+avx512bw+avx512cd+avx512dq+avx512vl", "x86_64+avx2"))]
fn split(column: &mut [f64], factors: &mut [f64], law: &TwoPieceNormal) {
    let (share, rest) = law.sides();
    let (below, above) = (0.5 / share, 0.5 / rest);
    for (u, factor) in column.iter_mut().zip(factors) {
        let is_below = *u < share;
        *factor = columns::choose(is_below, law.sd_below, -law.sd_above);
        let p = columns::choose(is_below, *u * below, (1.0 - *u) * above);
        *u = columns::choose(p > 0.5, 0.5, p);
    }
}

#[multiversion(targets("x86_64+avx512f+avx512bw+avx512cd+avx512dq+avx512vl", "x86_64+avx2"))]
fn unite(column: &mut [f64], factors: &[f64], mode: f64) {
    for (z, factor) in column.iter_mut().zip(factors) {
        *z = mode + factor * *z;
    }
}

impl Law for TwoPieceNormal {
    const NAME: &'static str = "two-piece normal";

    fn mean(&self) -> Option<f64> {
        Some(self.mode + FRAC_2_PI.sqrt() * (self.sd_above - self.sd_below))
    }

    fn standard_deviation(&self) -> Option<f64> {
        let largest = self.sd_below.max(self.sd_above);
        let (below, above) = (self.sd_below / largest, self.sd_above / largest);
        let difference = above - below;
        let square = (1.0 - FRAC_2_PI) * difference * difference + below * above;
        Some(largest * square.sqrt())
    }

    fn support(&self) -> (f64, f64) {
        (
            if self.sd_below > 0.0 {
                f64::NEG_INFINITY
            } else {
                self.mode
            },
            if self.sd_above > 0.0 {
                f64::INFINITY
            } else {
                self.mode
            },
        )
    }

    fn centre_of_symmetry(&self) -> Option<f64> {
        None
    }

    fn pdf(&self, x: f64) -> Option<f64> {
        let sd = if x < self.mode || self.sd_above == 0.0 {
            self.sd_below
        } else {
            self.sd_above
        };
        let density = special::normal_pdf((x - self.mode) / sd);
        Some(density / (0.5 * self.sd_below + 0.5 * self.sd_above))
    }

    fn cdf(&self, x: f64) -> f64 {
        let (below, above) = self.sides();
        if x < self.mode {
            2.0 * below * special::normal_cdf((x - self.mode) / self.sd_below)
        } else if above > 0.0 {
            let z = (x - self.mode) / self.sd_above;
            below + above * special::erf(z * FRAC_1_SQRT_2)
        } else {
            1.0
        }
    }

    fn sf(&self, x: f64) -> f64 {
        self.mirrored().cdf(-x)
    }

    fn quantile(&self, p: f64) -> f64 {
        let (below, above) = self.sides();
        if p <= below {
            self.mode + self.sd_below * special::normal_quantile(0.5 * (p / below))
        } else if p <= 0.5 {
            self.mode + self.sd_above * half_normal_quantile((p - below) / above)
        } else {
            let far = ((1.0 - p) / above).min(1.0);
            self.mode + self.sd_above * special::normal_quantile_upper(0.5 * far)
        }
    }

    fn quantile_upper(&self, q: f64) -> f64 {
        -self.mirrored().quantile(q)
    }

    fn draws(&self, column: &mut [f64]) {
        let mut factors = [0.0; 512];
        for part in column.chunks_mut(factors.len()) {
            split(part, &mut factors, self);
            columns::normal_quantiles(part);
            unite(part, &factors, self.mode);
        }
    }

    fn affine(&self, factor: f64, shift: f64) -> Result<Distribution, Error> {
        let mode = factor * self.mode + shift;
        let (below, above) = (factor.abs() * self.sd_below, factor.abs() * self.sd_above);
        if factor > 0.0 {
            Distribution::two_piece_normal(mode, below, above)
        } else {
            Distribution::two_piece_normal(mode, above, below)
        }
    }
}

#[cfg(test)]
mod tests {
    use super::super::{Distribution, reference};
    use crate::Error;

    // Reference values: computed independently at 60 digits with mpmath.

    #[rustfmt::skip] // a table: one row a line
    #[test]
    fn with_1_below_3_above() -> Result<(), Error> {
        let law = Distribution::two_piece_normal(0.0, 1.0, 3.0)?;
        reference::moments(&law, Some(1.5957691216057308), Some(2.110336681795034));
        reference::chances(&law, 4e-15, &[
            (-37.0, 1.0600032757623028e-298, 2.8627856112622886e-300, 1.0),
            (-3.0, 0.0022159242059690038, 0.0006749490158150473, 0.999325050984185),
            (-0.5, 0.17603266338214973, 0.15426876936299344, 0.8457312306370065),
            (0.0, 0.19947114020071635, 0.25, 0.75),
            (0.5, 0.19671985805096995, 0.3492757489163555, 0.6507242510836445),
            (9.0, 0.0022159242059690038, 0.9979751529525549, 0.0020248470474451418),
            (110.0, 2.2776046788485455e-293, 1.0, 1.862111748215542e-294),
        ]);
        reference::quantiles(&law, 4e-15, &[
            (1.0e-300, -37.02839529632546, 111.17409394905171),
            (1.0e-20, -9.188057249502078, 27.91657177762967),
            (0.01, -2.053748910631823, 7.424218947658453),
            (0.24, -0.05015358346473366, 2.9833736496292595),
            (0.3, 0.25095520172138724, 2.524863700718743),
            (0.5, 1.2921818978863724, 1.2921818978863724),
        ]);
        Ok(())
    }

    #[rustfmt::skip] // a table: one row a line
    #[test]
    fn nothing_below() -> Result<(), Error> {
        let law = Distribution::two_piece_normal(0.0, 0.0, 1.0)?;
        reference::moments(&law, Some(0.7978845608028654), Some(0.602810274989087));
        reference::chances(&law, 4e-15, &[
            (1.0e-300, 0.7978845608028654, 7.978845608028653e-301, 1.0),
            (1.0e-9, 0.7978845608028654, 7.978845608028654e-10, 0.9999999992021155),
            (0.25, 0.7733362336056984, 0.19741265136584746, 0.8025873486341526),
            (0.5, 0.7041306535285989, 0.3829249225480262, 0.6170750774519738),
            (3.0, 0.008863696823876015, 0.9973002039367398, 0.002699796063260189),
            (37.0, 4.240013103049211e-298, 1.0, 1.1451142445049154e-299),
        ]);
        reference::quantiles(&law, 4e-15, &[
            (1.0e-300, 1.2533141373155002e-300, 37.06578788077213),
            (1.0e-20, 1.2533141373155002e-20, 9.33604484923406),
            (0.01, 0.012533469508069264, 2.575829303548901),
            (0.24, 0.3054807880993973, 1.1749867920660901),
            (0.26, 0.3318533464368166, 1.1263911290388007),
            (0.3, 0.3853204664075676, 1.0364333894937896),
            (0.5, 0.6744897501960817, 0.6744897501960817),
        ]);
        Ok(())
    }
}
