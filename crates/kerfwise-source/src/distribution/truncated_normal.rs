use super::law::{Law, balanced, increasing_root, middle};
use super::table::Table;
use super::{Distribution, check};
use crate::Error;
use kerfwise_numeric::quadrature::gauss_legendre;
use kerfwise_numeric::sum::sum;
use kerfwise_numeric::{float, special};

/// Normal law cut to an interval.
#[derive(Debug, Clone, PartialEq)]
pub struct TruncatedNormal {
    cut: Cut,
    table: Table,
}

impl TruncatedNormal {
    /// Mean of the normal before the cut.
    #[inline]
    #[must_use]
    pub fn parent_mean(&self) -> f64 {
        self.cut.parent_mean
    }

    /// Standard deviation of the normal before the cut, above 0.
    #[inline]
    #[must_use]
    pub fn parent_sd(&self) -> f64 {
        self.cut.parent_sd
    }

    /// Lower end, maybe infinite.
    #[inline]
    #[must_use]
    pub fn lower(&self) -> f64 {
        self.cut.lower
    }

    /// Upper end, maybe infinite.
    #[inline]
    #[must_use]
    pub fn upper(&self) -> f64 {
        self.cut.upper
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
    /// not numbers, two of mean and ends are too far apart for a number, or the interval lies more than 1e100 standard
    /// deviations from the mean.
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
        for (one, other) in [(mean, lower), (mean, upper), (lower, upper)] {
            if one.is_finite() && other.is_finite() && !(other - one).is_finite() {
                return Err(check::too_far_apart(TruncatedNormal::NAME, one, other));
            }
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
        Ok(Self::TruncatedNormal(TruncatedNormal {
            cut: Cut::new(mean, sd, lower, upper),
            table: Table::default(),
        }))
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

/// The law without its table: small, and mirrored for nothing.
#[derive(Debug, Clone, Copy, PartialEq)]
struct Cut {
    parent_mean: f64,
    parent_sd: f64,
    lower: f64,
    upper: f64,
    /// What is left of the parent.
    whole: Mass,
    mean: f64,
    sd: f64,
}

impl Cut {
    fn new(parent_mean: f64, parent_sd: f64, lower: f64, upper: f64) -> Self {
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

    /// P(X <= x), for x inside.
    fn below(&self, x: f64) -> f64 {
        let z = self.standard(x);
        let mass = Mass::over(self.alpha(), z, (x - self.lower) / self.parent_sd);
        let beyond = if z > 0.0 || self.alpha() >= 0.0 {
            0.0
        } else {
            self.beyond_nearest(x)
        };
        mass.value / self.whole.value * self.fall(beyond)
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
        if alpha < 0.0 && beta > -5.0 {
            // What lies below is told by Φ without underflow; the sum has no negative term.
            let left = self.whole.value * special::normal_pdf(self.whole.nearest);
            let z = special::normal_quantile(special::normal_cdf(alpha) + p * left);
            // Near the lower end, though, only the distance from there is accurate.
            if z > 0.5 * alpha && z - alpha > 0.25 {
                return self.parent_mean + self.parent_sd * z;
            }
        }
        // Count from the end that is nearer to the quantile.
        let open = self.width().is_infinite();
        if beta <= -5.0 && (open || p >= self.below(middle(self.lower, self.upper))) {
            self.upper - self.parent_sd * self.depth_below_upper(p)
        } else {
            self.lower + self.parent_sd * self.height_above_lower(p)
        }
    }

    /// How far below the upper end (in standard deviations, the parent's mean lying above it) lies the quantile of p,
    /// when it is nearer to this end.
    fn depth_below_upper(&self, p: f64) -> f64 {
        let nearest = self.whole.nearest;
        let log = -float::ln(p);
        // Where the density has fallen to p; the chance below falls a little faster.
        let fallen = 2.0 * log / (nearest + float::hypot(nearest, (2.0 * log).sqrt()));
        let highest = fallen.min(0.5 * self.width());
        let f = |s: f64| {
            let below = outward(nearest + s, self.width() - s);
            let fall = s * (nearest + 0.5 * s) - float::ln(below / self.whole.value);
            (fall - log, 1.0 / below)
        };
        increasing_root(f, 0.0, highest, highest)
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
        Some(self.cut.mean)
    }

    fn standard_deviation(&self) -> Option<f64> {
        Some(self.cut.sd)
    }

    fn support(&self) -> (f64, f64) {
        (self.cut.lower, self.cut.upper)
    }

    fn centre_of_symmetry(&self) -> Option<f64> {
        let (lower, upper, mean) = (self.cut.lower, self.cut.upper, self.cut.parent_mean);
        let bounded = lower.is_finite() && upper.is_finite();
        (bounded && balanced(lower, mean, upper)).then_some(mean)
    }

    fn pdf(&self, x: f64) -> Option<f64> {
        let cut = &self.cut;
        Some(cut.fall(cut.beyond_nearest(x)) / cut.whole.value / cut.parent_sd)
    }

    fn cdf(&self, x: f64) -> f64 {
        self.cut.below(x)
    }

    fn sf(&self, x: f64) -> f64 {
        self.cut.mirrored().below(-x)
    }

    fn quantile(&self, p: f64) -> f64 {
        if p <= 0.5 {
            self.cut.lower_quantile(p)
        } else {
            -self.cut.mirrored().lower_quantile(1.0 - p)
        }
    }

    fn quantile_upper(&self, q: f64) -> f64 {
        if q <= 0.5 {
            -self.cut.mirrored().lower_quantile(q)
        } else {
            self.cut.lower_quantile(1.0 - q)
        }
    }

    fn draws(&self, column: &mut [f64]) {
        self.table.draws(self, column);
    }

    fn affine(&self, factor: f64, shift: f64) -> Result<Distribution, Error> {
        let at = |x: f64| factor * x + shift;
        let (one, other) = (at(self.cut.lower), at(self.cut.upper));
        Distribution::truncated_normal(
            at(self.cut.parent_mean),
            factor.abs() * self.cut.parent_sd,
            one.min(other),
            one.max(other),
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
    fn across_the_mean() -> Result<(), Error> {
        let law = Distribution::truncated_normal(0.0, 1.0, -1.0, 2.0)?;
        reference::moments(&law, Some(0.22963717909132897), Some(0.7209455868590458));
        reference::chances(&law, 4e-15, &[
            (-0.9999999999990905, 0.29559286165030246, 2.6884014155272605e-13, 0.9999999999997312),
            (-0.5, 0.4300850759232247, 0.18309708152134457, 0.8169029184786554),
            (0.0, 0.48735023846953063, 0.41698875142898584, 0.5830112485710142),
            (0.5, 0.4300850759232247, 0.6508804213366272, 0.34911957866337284),
            (1.5, 0.15821945738681326, 0.94617962473645, 0.05382037526354997),
            (1.9999999999990905, 0.06595568255882464, 0.99999999999994, 5.998634383901358e-14),
        ]);
        reference::quantiles(&law, 4e-15, &[
            (1.0e-14, -0.9999999999999661, 1.9999999999998483),
            (0.01, -0.9667232518503338, 1.8672107987812514),
            (0.3, -0.24240381788922682, 0.6178760730114088),
            (0.5, 0.17116391801782477, 0.17116391801782477),
        ]);
        Ok(())
    }

    #[rustfmt::skip] // a table: one row a line
    #[test]
    fn half_normal() -> Result<(), Error> {
        let law = Distribution::truncated_normal(0.0, 1.0, 0.0, f64::INFINITY)?;
        reference::moments(&law, Some(0.7978845608028654), Some(0.602810274989087));
        reference::chances(&law, 4e-15, &[
            (1.0e-300, 0.7978845608028654, 7.978845608028653e-301, 1.0),
            (1.0e-9, 0.7978845608028654, 7.978845608028654e-10, 0.9999999992021155),
            (0.5, 0.7041306535285989, 0.3829249225480262, 0.6170750774519738),
            (3.0, 0.008863696823876015, 0.9973002039367398, 0.002699796063260189),
            (37.0, 4.240013103049211e-298, 1.0, 1.1451142445049154e-299),
        ]);
        reference::quantiles(&law, 4e-15, &[
            (1.0e-300, 1.2533141373155002e-300, 37.06578788077213),
            (1.0e-20, 1.2533141373155002e-20, 9.33604484923406),
            (0.01, 0.012533469508069264, 2.575829303548901),
            (0.3, 0.3853204664075676, 1.0364333894937896),
        ]);
        Ok(())
    }

    #[rustfmt::skip] // a table: one row a line
    #[test]
    fn a_stop_below() -> Result<(), Error> {
        let law = Distribution::truncated_normal(1.0, 2.0, -5.0, f64::INFINITY)?;
        reference::moments(&law, Some(1.0088756780842514), Some(1.9866220460452553));
        reference::chances(&law, 4e-15, &[
            (-4.999999999068677, 0.0022189195241626267, 2.0665298426642356e-12, 0.9999999999979334),
            (-4.0, 0.008775996947789681, 0.004866336352008867, 0.9951336636479912),
            (1.0, 0.19974076987280392, 0.4993241386402658, 0.5006758613597342),
            (9.0, 6.700556356080166e-5, 0.9999682859474297, 3.171405257025953e-5),
            (70.0, 6.933670139362776e-260, 1.0, 4.0161503600430147e-261),
        ]);
        reference::quantiles(&law, 4e-15, &[
            (1.0e-300, -5.0, 75.09426546960161),
            (1.0e-14, -4.999999999995493, 16.30160355854476),
            (0.01, -3.557807142120088, 5.653709320629929),
            (0.3, -0.04336946293226332, 2.051131205638704),
        ]);
        Ok(())
    }

    #[rustfmt::skip] // a table: one row a line
    #[test]
    fn far_above() -> Result<(), Error> {
        let law = Distribution::truncated_normal(0.0, 1.0, 30.0, 31.0)?;
        reference::moments(&law, Some(30.033259667433622), Some(0.03322305693092197));
        reference::chances(&law, 4e-15, &[
            (30.00000000000091, 30.033259666615873, 2.7315090544130362e-11, 0.999999999972685),
            (30.03125, 11.755452104777799, 0.6089919407348922, 0.3910080592651078),
            (30.5, 8.107714218412784e-6, 0.9999997344582009, 2.6554179905295914e-7),
            (30.99999999999909, 1.7045932838709262e-12, 1.0, 1.5503185603364694e-24),
        ]);
        reference::quantiles(&law, 4e-15, &[
            (1.0e-14, 30.0, 30.994609949416933),
            (0.01, 30.00033463833214, 30.15294665858197),
            (0.3, 30.011873653870605, 30.040061293677947),
            (0.5, 30.02307046782731, 30.02307046782731),
        ]);
        Ok(())
    }

    #[rustfmt::skip] // a table: one row a line
    #[test]
    fn far_below() -> Result<(), Error> {
        let law = Distribution::truncated_normal(0.0, 1.0, f64::NEG_INFINITY, -8.0)?;
        reference::moments(&law, Some(-8.121368112236112), Some(0.119686605112439));
        reference::chances(&law, 4e-15, &[
            (-38.0, 1.7637486026601798e-299, 4.6382360499150855e-301, 1.0),
            (-20.0, 8.874752212693514e-73, 4.42636484467444e-74, 1.0),
            (-9.0, 0.001652441523931736, 0.0001814170645320239, 0.999818582935468),
            (-8.0625, 4.916247330211473, 0.6007894209409141, 0.3992105790590859),
            (-8.00000000000091, 8.121368112177022, 0.9999999999926137, 7.386341269199482e-12),
        ]);
        reference::quantiles(&law, 4e-15, &[
            (1.0e-300, -37.979791475189366, -8.0),
            (1.0e-20, -12.459325012375604, -8.0),
            (0.01, -8.548758805535499, -8.001237424664287),
            (0.3, -8.146937123182049, -8.043801652928055),
        ]);
        Ok(())
    }

    #[rustfmt::skip] // a table: one row a line
    #[test]
    fn beyond_underflow() -> Result<(), Error> {
        let law = Distribution::truncated_normal(0.0, 1.0, 50.0, f64::INFINITY)?;
        reference::moments(&law, Some(50.019984031905636), Some(0.01997606534840882));
        reference::chances(&law, 4e-15, &[
            (50.00000000093132, 50.01998170266868, 4.658473922618399e-8, 0.9999999534152608),
            (50.0625, 2.1934364762629124, 0.9562034988959691, 0.043796501104030876),
            (51.0, 5.8515674123453944e-21, 1.0, 1.1469255420894874e-22),
            (55.0, 4.9755609326811614e-113, 1.0, 9.043486813963121e-115),
        ]);
        reference::quantiles(&law, 4e-15, &[
            (1.0e-100, 50.0, 54.409081288272624),
            (1.0e-14, 50.0, 50.64036878380043),
            (0.01, 50.00020092600728, 50.09198206698267),
            (0.3, 50.00713014091326, 50.02406404967695),
        ]);
        Ok(())
    }

    #[rustfmt::skip] // a table: one row a line
    #[test]
    fn narrow() -> Result<(), Error> {
        let law = Distribution::truncated_normal(0.0, 1.0, 1.0, 1.000_976_562_5)?;
        reference::moments(&law, Some(1.000488201738339), Some(0.00028190929991911277));
        reference::chances(&law, 4e-15, &[
            (1.0000000000009095, 1024.5002441794259, 9.317775440466828e-10, 0.9999999990682225),
            (1.00048828125, 1023.9999999602549, 0.5001221299122894, 0.4998778700877106),
            (1.0009765624990905, 1023.499755979551, 0.9999999990691324, 9.308676053288628e-10),
        ]);
        reference::quantiles(&law, 4e-15, &[
            (1.0e-14, 1.0, 1.0009765625),
            (0.01, 1.0000097609042669, 1.000966792149746),
            (0.3, 1.0002928685848786, 1.0006834935457376),
        ]);
        Ok(())
    }

    #[rustfmt::skip] // a table: one row a line
    #[test]
    fn narrow_about_the_mean() -> Result<(), Error> {
        let law = Distribution::truncated_normal(0.0, 1.0, -1.0 / 1_048_576.0, 1.0 / 262_144.0)?;
        reference::quantiles(&law, 4e-15, &[
            (1e-14, -9.536743164062024e-7, 3.814697265624952e-6),
            (0.01, -9.059906005860108e-7, 3.7670135498044386e-6),
            (0.25, 2.3841857909936021e-7, 2.622604370113291e-6),
            (0.3, 4.7683715820046865e-7, 2.384185791011451e-6),
            (0.5, 1.4305114746053092e-6, 1.4305114746053092e-6),
        ]);
        Ok(())
    }

    #[rustfmt::skip] // a table: one row a line
    #[test]
    fn a_slope_up_to_0() -> Result<(), Error> {
        let law = Distribution::truncated_normal(10.0, 1.0, -30.0, 0.0)?;
        reference::moments(&law, Some(-0.09809323396251196), Some(0.09718733366882878));
        reference::chances(&law, 4e-15, &[
            (-20.0, 1.9339561146468413e-173, 6.439381326109969e-175, 1.0),
            (-2.0, 2.8168308874954002e-9, 2.331386322603503e-10, 0.9999999997668614),
            (-0.125, 2.8706374620126534, 0.28083135815541266, 0.7191686418445873),
            (-1.0e-9, 10.09809313298158, 0.9999999899019069, 1.0098093183472047e-8),
            (-1.0e-300, 10.098093233962512, 1.0, 1.0098093233962512e-299),
        ]);
        reference::quantiles(&law, 4e-15, &[
            (1.0e-200, -21.917557229768178, -9.902859647173191e-202),
            (1.0e-14, -2.8056738793843703, -9.90285964717324e-16),
            (0.01, -0.44627289868961495, -0.0009952220745582249),
            (0.3, -0.11853851565709905, -0.03526003959879007),
        ]);
        Ok(())
    }
}
