use super::law::Law;
use super::table::Table;
use super::{Distribution, check};
use crate::Error;
use kerfwise_numeric::{float, special};

/// Beta law stretched over an interval.
#[derive(Debug, Clone, PartialEq)]
pub struct Beta {
    pub(super) lower: f64,
    pub(super) upper: f64,
    a: f64,
    b: f64,
    table: Table,
}

impl Beta {
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
        if is_one(self.b) {
            return power_law(from_lower, from_upper, self.a);
        }
        if is_one(self.a) {
            let (above, below) = power_law(from_upper, from_lower, self.b);
            return (below, above);
        }
        if from_lower <= 0.5 {
            special::beta_inc(from_lower, self.a, self.b)
        } else {
            let (above, below) = special::beta_inc(from_upper, self.b, self.a);
            (below, above)
        }
    }

    /// How far from the end with the first shape, and from the other one, in shares of the width, the chance `near` reaches.
    fn reach(near: f64, shape: f64, other: f64) -> (f64, f64) {
        if is_one(other) {
            let log = float::ln(near) / shape;
            (float::exp(log), -float::exp_m1(log))
        } else if is_one(shape) {
            let log = float::ln_1p(-near) / other;
            (-float::exp_m1(log), float::exp(log))
        } else {
            special::beta_quantile_pair(near, shape, other)
        }
    }

    /// The place at these shares of the width from its ends, told from the nearer one.
    fn at(&self, from_lower: f64, from_upper: f64) -> f64 {
        if from_lower <= from_upper {
            self.lower + self.width() * from_lower
        } else {
            self.upper - self.width() * from_upper
        }
    }
}

/// A shape of exactly 1 makes a power law, which needs no incomplete beta function.
#[expect(
    clippy::float_cmp,
    reason = "the closed form holds at 1 only, and only saves time there"
)]
fn is_one(shape: f64) -> bool {
    shape == 1.0
}

/// Chances below and above a place at share `near` from the end with this shape, the other shape being 1: near^shape
/// and the rest, `far` being 1 - near.
fn power_law(near: f64, far: f64, shape: f64) -> (f64, f64) {
    let log = if near <= 0.5 {
        float::ln(near)
    } else {
        float::ln_1p(-far)
    };
    (float::exp(shape * log), -float::exp_m1(shape * log))
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
    /// the arcsine law. The characteristic function is not offered. Density and chances are good to 1e-13 of themselves,
    /// and so is the distance of a quantile from the nearer end; to 1e-15 over the shape there, if that is below 0.01.
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
        Ok(Self::Beta(Beta {
            lower,
            upper,
            a,
            b,
            table: Table::default(),
        }))
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
        let density = if from_lower <= 0.5 {
            special::beta_pdf(from_lower, self.a, self.b)
        } else {
            special::beta_pdf(from_upper, self.b, self.a)
        };
        Some(density / self.width())
    }

    fn cdf(&self, x: f64) -> f64 {
        self.tails(x).0
    }

    fn sf(&self, x: f64) -> f64 {
        self.tails(x).1
    }

    fn quantile(&self, p: f64) -> f64 {
        let (from_lower, from_upper) = Self::reach(p, self.a, self.b);
        self.at(from_lower, from_upper)
    }

    fn quantile_upper(&self, q: f64) -> f64 {
        let (from_upper, from_lower) = Self::reach(q, self.b, self.a);
        self.at(from_lower, from_upper)
    }

    fn draws(&self, column: &mut [f64]) {
        self.table.draws(self, column);
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

#[cfg(test)]
mod tests {
    use super::super::{Distribution, reference};
    use crate::Error;

    // Reference values: computed independently at 60 digits with mpmath.

    #[rustfmt::skip] // a table: one row a line
    #[test]
    fn nearly_all_at_one_end() -> Result<(), Error> {
        // The distance from the lower end is a millionth of the width, and yet has all its digits.
        let law = Distribution::beta(0.0, 1.0, 0.5, 1e6)?;
        for (p, x) in [(0.3, 7.423594671976963e-8), (0.99, 3.3174436271442766e-6), (0.999999, 1.1963994910295056e-5)] {
            // The logarithm of the chance is told to 1e-15, over a slope of 0.1 or more.
            assert!((law.quantile(p) / x - 1.0).abs() < 1e-14, "{p}: {:e}", law.quantile(p));
        }
        assert!((law.pdf(1e-6).unwrap_or_default() / 207_553.826_543_002_33 - 1.0).abs() < 4e-15);
        Ok(())
    }

    #[rustfmt::skip] // a table: one row a line
    #[test]
    fn shapes_2_and_3() -> Result<(), Error> {
        // Wider than 4e-15, because small quantiles are solved for through their logarithm, here -323.
        let law = Distribution::beta(0.0, 1.0, 2.0, 3.0)?;
        reference::moments(&law, Some(0.4), Some(0.2));
        reference::chances(&law, 4e-15, &[
            (1.0e-140, 1.1999999999999999e-139, 6.0e-280, 1.0),
            (1.0e-9, 1.1999999976000001e-8, 5.999999992000001e-18, 1.0),
            (0.2, 1.536, 0.18080000000000002, 0.8191999999999999),
            (0.5, 1.5, 0.6875, 0.3125),
            (0.9, 0.10799999999999996, 0.9963, 0.0036999999999999976),
            (0.9999999990686774, 1.040834084616732e-17, 1.0, 3.2311742655283152e-27),
        ]);
        reference::quantiles(&law, 1e-13, &[
            (1.0e-280, 4.08248290463863e-141, 1.0),
            (1.0e-20, 4.082482904749741e-11, 0.9999998642791146),
            (0.01, 0.04199863562170071, 0.8591324573054541),
            (0.3, 0.27238394207510536, 0.5084047548725844),
        ]);
        Ok(())
    }

    #[rustfmt::skip] // a table: one row a line
    #[test]
    fn infinite_density_at_the_lower_end() -> Result<(), Error> {
        // Wider than 4e-15, because small quantiles are solved for through their logarithm, here -645.
        let law = Distribution::beta(0.0, 1.0, 0.5, 3.0)?;
        reference::moments(&law, Some(0.14285714285714285), Some(0.1649572197684645));
        reference::chances(&law, 4e-15, &[
            (1.0e-300, 9.375e149, 1.875e-150, 1.0),
            (1.0e-9, 29646.353004785848, 5.929270608862864e-5, 0.9999407072939114),
            (0.2, 1.3416407864998738, 0.7334302966199311, 0.26656970338006897),
            (0.5, 0.33145630368119416, 0.9501747372194232, 0.049825262780576765),
            (0.9, 0.00988211768802618, 0.9996750253207289, 0.00032497467927108346),
            (0.9999999990686774, 8.131516297427816e-19, 1.0, 2.5243548975888585e-28),
        ]);
        reference::quantiles(&law, 1e-13, &[
            (1.0e-140, 2.8444444444444444e-281, 1.0),
            (1.0e-20, 2.844444444444444e-41, 0.9999996825198022),
            (0.01, 2.8445523288735246e-5, 0.6961259482039219),
            (0.3, 0.026522285810497318, 0.17653813800341486),
        ]);
        Ok(())
    }

    #[rustfmt::skip] // a table: one row a line
    #[test]
    fn most_of_the_chance_at_the_lower_end() -> Result<(), Error> {
        // Wider than 4e-15, because small quantiles are solved for through their logarithm, here -664.
        let law = Distribution::beta(0.0, 1.0, 0.0625, 2.0)?;
        reference::moments(&law, Some(0.030303030303030304), Some(0.0979541861383962));
        reference::chances(&law, 4e-15, &[
            (1.0e-300, 1.1808886707289722e280, 1.8894218731663556e-19, 1.0),
            (1.0e-9, 18184817.865601957, 0.29095708612347326, 0.7090429138765267),
            (0.2, 0.24020570734126553, 0.9495190313725321, 0.05048096862746789),
            (0.9, 0.007330044369323544, 0.9996455803435123, 0.00035441965648773117),
        ]);
        reference::quantiles(&law, 1e-13, &[
            (1.0e-18, 3.7908533191793654e-289, 0.9999999945120452),
            (1.0e-10, 3.790853319179363e-161, 0.999945121393928),
            (0.01, 3.7908533191793624e-33, 0.54213357632674),
            (0.3, 1.6318380543326327e-9, 0.0012613081346138308),
            (0.7, 0.0012613081346138292, 1.6318380543326374e-9),
        ]);
        Ok(())
    }

    #[rustfmt::skip] // a table: one row a line
    #[test]
    fn large_shapes() -> Result<(), Error> {
        let law = Distribution::beta(0.0, 1.0, 200.0, 300.0)?;
        reference::moments(&law, Some(0.4), Some(0.021887026206583313));
        reference::chances(&law, 4e-15, &[
            (0.05, 1.6492517045229456e-119, 4.473094421204644e-123, 1.0),
            (0.25, 4.133115836920186e-11, 1.0169531065276603e-13, 0.9999999999998983),
            (0.4, 18.199532673567944, 0.502428616319932, 0.497571383680068),
            (0.5, 0.0007412424053872765, 0.9999964565197356, 3.543480264392538e-6),
            (0.8, 3.204602833063015e-82, 1.0, 2.5586004390127892e-85),
        ]);
        reference::quantiles(&law, 4e-15, &[
            (1.0e-100, 0.06636403140332693, 0.8260226764801164),
            (1.0e-20, 0.21599805656531187, 0.6055173442613647),
            (0.01, 0.3497330112455415, 0.45144230539131713),
            (0.3, 0.388410831537717, 0.411395804215644),
        ]);
        Ok(())
    }
}
