use super::law::Half;
use super::{Distribution, check};
use crate::Error;
use kerfwise_numeric::columns::choose;
use kerfwise_numeric::{float, special};
use multiversion::multiversion;
use std::f64::consts::{FRAC_1_SQRT_2, FRAC_2_PI, FRAC_PI_2, PI};

/// Arcsine (U-shaped) law on an interval.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Arcsine {
    pub(super) lower: f64,
    pub(super) upper: f64,
}

impl Distribution {
    /// Arcsine (U-shaped) on an interval: a swing caught at an unknown moment, such as run-out (JCGM 101:2008, 6.4.6).
    ///
    /// ```text
    /// cdf(x) = (2/π) asin √((x - lower)/(upper - lower))    variance = (upper - lower)²/8
    /// ```
    ///
    /// The density is infinite at both ends.
    ///
    /// # Errors
    /// When an end is not finite, or the lower one is above the upper one.
    ///
    /// # Examples
    /// ```
    /// use kerfwise_source::Distribution;
    ///
    /// let run_out = Distribution::arcsine(-0.002, 0.002)?;
    /// assert!((run_out.standard_deviation().unwrap() - 0.002 / 2.0_f64.sqrt()).abs() < 1e-18);
    /// assert!((run_out.cdf(-0.001) - 1.0 / 3.0).abs() < 1e-15);
    /// assert_eq!(run_out.pdf(0.002), Some(f64::INFINITY));
    /// # Ok::<(), kerfwise_source::Error>(())
    /// ```
    pub fn arcsine(lower: f64, upper: f64) -> Result<Self, Error> {
        let (lower, upper) = check::ends(Arcsine::NAME, lower, upper)?;
        if lower == upper {
            return Self::point(lower);
        }
        Ok(Self::Arcsine(Arcsine { lower, upper }))
    }
}

impl Half for Arcsine {
    const NAME: &'static str = "arcsine";

    fn limits(&self) -> (f64, f64) {
        (self.lower, self.upper)
    }

    fn sd(&self) -> f64 {
        self.half_width() * FRAC_1_SQRT_2
    }

    fn density(&self, y: f64) -> f64 {
        1.0 / (PI * (y.sqrt() * (self.upper - self.lower - y).sqrt()))
    }

    fn tail(&self, y: f64) -> f64 {
        FRAC_2_PI * float::asin((y / (self.upper - self.lower)).min(1.0).sqrt())
    }

    fn depth(&self, p: f64) -> f64 {
        let sin = float::sin(FRAC_PI_2 * p);
        (self.upper - self.lower) * sin * sin
    }

    // sin² is neither negative nor above ½ by more than a rounding.
    const HALF_STAYS_INSIDE: bool = true;

    fn half_draws(&self, column: &mut [f64]) {
        each_depth(self, column);
    }

    fn characteristic_about_middle(&self, t: f64) -> f64 {
        special::bessel_j0(self.half_width() * t)
    }

    fn between(&self, lower: f64, upper: f64, _factor: f64) -> Result<Distribution, Error> {
        Distribution::arcsine(lower, upper)
    }
}

/// Draws: sin² of πp/2 of the width from the nearer end.
#[multiversion(targets("x86_64+avx512f+avx512bw+avx512cd+avx512dq+avx512vl", "x86_64+avx2"))]
fn each_depth(law: &Arcsine, column: &mut [f64]) {
    // sin(πp/2)/p in powers of p², fitted at the Chebyshev points of 0 to ¼ with mpmath at 60 digits: within 4e-17 of it.
    const FITTED: [f64; 7] = [
        FRAC_PI_2,
        -0.645_964_097_506_244_3,
        0.079_692_626_246_043_01,
        -0.004_681_754_132_340_976,
        0.000_160_441_150_742_190_9,
        -3.598_643_352_982_31e-6,
        5.633_933_781_537_854e-8,
    ];
    let width = law.upper - law.lower;
    for u in column {
        let is_low = *u <= 0.5;
        let p = choose(is_low, *u, 1.0 - *u);
        let square = p * p;
        let mut sum = FITTED[6];
        for term in FITTED[..6].iter().rev() {
            sum = sum * square + term;
        }
        let sin = p * sum;
        let end = choose(is_low, law.lower, law.upper);
        *u = end + choose(is_low, width, -width) * sin * sin;
    }
}

#[cfg(test)]
mod tests {
    use super::super::{Distribution, reference};
    use crate::Error;

    // Reference values: computed independently at 60 digits with mpmath.

    #[rustfmt::skip] // a table: one row a line
    #[test]
    fn lower_end_at_0() -> Result<(), Error> {
        let law = Distribution::arcsine(0.0, 2.0)?;
        reference::moments(&law, Some(1.0), Some(std::f64::consts::FRAC_1_SQRT_2));
        reference::chances(&law, 4e-15, &[
            (1.0e-300, 2.250790790392765e149, 4.50158158078553e-151, 1.0),
            (1.0e-9, 7117.625435951177, 1.4235250869529813e-5, 0.9999857647491305),
            (0.25, 0.48123931354033417, 0.23005345616261588, 0.7699465438373841),
            (1.0, std::f64::consts::FRAC_1_PI, 0.5, 0.5),
            (1.9, 0.730252961371093, 0.8564337068712936, 0.14356629312870633),
            (1.9999999999990905, 236012.52038274208, 0.9999995706957263, 4.2930427368029324e-7),
        ]);
        reference::quantiles(&law, 4e-15, &[
            (1.0e-300, 0.0, 2.0),
            (1.0e-20, 4.934802200544679e-40, 2.0),
            (0.01, 0.000493439634268443, 1.9995065603657316),
            (0.3, 0.41221474770752686, 1.5877852522924731),
        ]);
        reference::characteristic(&law, &[
            (1.0e-9, 1.0, 1.0e-9),
            (1.0, 0.41343807449223535, 0.6438916508806563),
            (2.404825557695773, 4.524424026600402e-17, -4.1044610152963284e-17),
            (40.0, -0.004913259726655517, 0.005489167126126603),
        ]);
        Ok(())
    }

    #[rustfmt::skip] // a table: one row a line
    #[test]
    fn upper_end_at_0() -> Result<(), Error> {
        let law = Distribution::arcsine(-2.0, 0.0)?;
        reference::moments(&law, Some(-1.0), Some(std::f64::consts::FRAC_1_SQRT_2));
        reference::chances(&law, 4e-15, &[
            (-1.5, 0.36755259694786135, 0.3333333333333333, 0.6666666666666666),
            (-1.0e-9, 7117.625435951177, 0.9999857647491305, 1.4235250869529813e-5),
            (-1.0e-300, 2.250790790392765e149, 1.0, 4.50158158078553e-151),
        ]);
        reference::quantiles(&law, 4e-15, &[
            (1.0e-300, -2.0, -0.0),
            (1.0e-20, -2.0, -4.934802200544679e-40),
            (0.01, -1.9995065603657316, -0.000493439634268443),
            (0.3, -1.5877852522924731, -0.41221474770752686),
        ]);
        reference::characteristic(&law, &[
            (0.5, 0.8235847376951568, -0.4499263928002093),
        ]);
        Ok(())
    }
}
