use super::law::{Law, increasing_root};
use super::{Distribution, check};
use crate::Error;
use kerfwise_numeric::{float, special};
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
    /// Each side holds its share of the chance, sd_below : sd_above, so the density has no step (the split normal;
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
