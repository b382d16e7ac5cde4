use super::law::{Half, increasing_root, middle, sinc};
use super::table::Table;
use super::{Distribution, check};
use crate::Error;
use kerfwise_numeric::quadrature::gauss_legendre;
use kerfwise_numeric::{columns, float};
use std::f64::consts::FRAC_PI_2;

/// Rectangular law whose limits are known only to ±d: the support begins `d` below the lower and ends `d` above the upper one.
#[derive(Debug, Clone, PartialEq)]
pub struct CurvilinearTrapezoid {
    pub(super) lower: f64,
    pub(super) upper: f64,
    d: f64,
    /// About the middle.
    table: Table,
}

impl CurvilinearTrapezoid {
    /// How far either limit may be off: above 0, at most half of `upper - lower`.
    #[inline]
    #[must_use]
    pub fn d(&self) -> f64 {
        self.d
    }

    /// Half of the widest width.
    fn reach(&self) -> f64 {
        self.half_width() + self.d
    }

    /// Half of the narrowest width, over which the density is flat.
    fn flat(&self) -> f64 {
        (self.half_width() - self.d).max(0.0)
    }
}

impl Distribution {
    /// Rectangular with limits known to ±d: the two limits move together and oppositely (JCGM 101:2008, 6.4.3).
    ///
    /// ```text
    /// pdf(x) = ln((w + d) / max(|x - m|, w - d)) / (4d),    w = (upper - lower)/2, m the middle
    /// variance = (upper - lower)²/12 + d²/9
    /// characteristic function = e^{imt} (Si((w + d)t) - Si((w - d)t)) / (2dt)
    /// ```
    ///
    /// With `d` = 0 it is the rectangular law. With `d` = w the density is infinite in the middle.
    ///
    /// # Errors
    /// When an end is not finite, the lower one is above the upper one, or `d` is outside [0, (upper - lower)/2].
    ///
    /// # Examples
    /// ```
    /// use kerfwise_source::Distribution;
    ///
    /// // JCGM 101:2008, 6.4.3, example.
    /// let current = Distribution::curvilinear_trapezoid(9.9, 10.1, 0.05)?;
    /// assert!((current.standard_deviation().unwrap() - 0.060).abs() < 0.0005);
    /// let (lowest, highest) = current.support();
    /// assert!((lowest - 9.85).abs() < 1e-14 && (highest - 10.15).abs() < 1e-14);
    /// # Ok::<(), kerfwise_source::Error>(())
    /// ```
    pub fn curvilinear_trapezoid(lower: f64, upper: f64, d: f64) -> Result<Self, Error> {
        let (lower, upper) = check::ends(CurvilinearTrapezoid::NAME, lower, upper)?;
        let d = check::spread(CurvilinearTrapezoid::NAME, "d", d)?;
        let half = 0.5 * (upper - lower);
        if d > half {
            return Err(check::bad(
                CurvilinearTrapezoid::NAME,
                format_args!(
                    "d must not be above half of the distance of the limits, {half} (got {d}); limits that uncertain call for a wider interval"
                ),
            ));
        }
        if d == 0.0 {
            return Self::rectangular(lower, upper);
        }
        check::ends(CurvilinearTrapezoid::NAME, lower - d, upper + d)?;
        Ok(Self::CurvilinearTrapezoid(CurvilinearTrapezoid {
            lower,
            upper,
            d,
            table: Table::default(),
        }))
    }
}

/// (e + (1 - e) ln(1 - e)) / e: the area under the logarithmic flank, over its length.
fn flank_area(e: f64) -> f64 {
    if e > 0.25 {
        return if e < 1.0 {
            (e + (1.0 - e) * float::ln_1p(-e)) / e
        } else {
            1.0
        };
    }
    // The two terms cancel near 0; the series is the sum of e^(n-1)/(n(n-1)).
    let (mut power, mut total, mut n) = (e, 0.5 * e, 2.0);
    while n < 40.0 {
        n += 1.0;
        power *= e;
        let term = power / (n * (n - 1.0));
        total += term;
        if term < 1e-17 * total {
            break;
        }
    }
    total
}

/// Sine integral Si(x) for x >= 0: its power series up to 4, beyond that the continued fraction of the exponential
/// integral E1(ix) (DLMF 6.6.5 and 6.9.1).
fn sine_integral(x: f64) -> f64 {
    if x <= 4.0 {
        let (mut power, mut total) = (x, x);
        for k in 1..25 {
            let n = 2.0 * f64::from(k);
            power *= -x * x / (n * (n + 1.0));
            total += power / (n + 1.0);
        }
        return total;
    }
    // Backward evaluation of 1/(1+ix - 1/(3+ix - 4/(5+ix - ...))); 80 levels leave nothing at x = 4.
    let (mut re, mut im) = (0.0, 0.0);
    for k in (0..80).rev() {
        let k = f64::from(k);
        let (below_re, below_im) = (2.0 * k + 1.0 - re, x - im);
        let size = below_re * below_re + below_im * below_im;
        let numerator = if k > 0.0 { k * k } else { 1.0 };
        (re, im) = (numerator * below_re / size, -numerator * below_im / size);
    }
    // Si(x) = π/2 + Im(E1(ix)), E1(ix) = e^{-ix} (re + i im).
    let (sin, cos) = float::sin_cos(x);
    FRAC_PI_2 + (im * cos - re * sin)
}

impl Half for CurvilinearTrapezoid {
    const NAME: &'static str = "curvilinear trapezoidal";

    fn limits(&self) -> (f64, f64) {
        (self.lower, self.upper)
    }

    fn ends(&self) -> (f64, f64) {
        (self.lower - self.d, self.upper + self.d)
    }

    fn sd(&self) -> f64 {
        let half = self.half_width();
        let ratio = self.d / half;
        half * (1.0 / 3.0 + ratio * ratio / 9.0).sqrt()
    }

    fn density(&self, y: f64) -> f64 {
        let log = if y < 2.0 * self.d {
            -float::ln_1p(-(y / self.reach()).min(1.0))
        } else {
            float::ln_1p(2.0 * self.d / self.flat())
        };
        log / (4.0 * self.d)
    }

    fn tail(&self, y: f64) -> f64 {
        let (reach, flat) = (self.reach(), self.flat());
        let flank = |y: f64| y / (4.0 * self.d) * flank_area((y / reach).min(1.0));
        let beyond = y - 2.0 * self.d;
        if beyond <= 0.0 {
            flank(y)
        } else {
            flank(2.0 * self.d) + beyond * float::ln_1p(2.0 * self.d / flat) / (4.0 * self.d)
        }
    }

    fn depth(&self, p: f64) -> f64 {
        let reach = self.reach();
        let flank = 2.0 * self.d;
        let at_flank = self.tail(flank);
        if p >= at_flank {
            let density = float::ln_1p(flank / self.flat()) / (2.0 * flank);
            return flank + (p - at_flank) / density;
        }
        // e flank_area(e) lies between e²/2 and e, so its root lies between the target and √(2 target).
        let target = p * (2.0 * flank / reach);
        let highest = (2.0 * p.sqrt() * (flank / reach).sqrt()).min(flank / reach);
        let f = |e: f64| (e * flank_area(e) - target, -float::ln_1p(-e));
        // Newton comes down to the root of a convex function, but not from 1, where the slope is infinite.
        let start = if highest < 0.9 {
            highest
        } else {
            middle(target, highest)
        };
        reach * increasing_root(f, target, highest, start)
    }

    fn half_draws(&self, column: &mut [f64]) {
        let half = 0.5 * (self.ends().1 - self.ends().0);
        self.table.symmetric_draws(|p| self.depth(p) - half, column);
        columns::shift(column, self.midpoint());
    }

    fn characteristic_about_middle(&self, t: f64) -> f64 {
        let (flat, reach) = (self.flat() * t.abs(), self.reach() * t.abs());
        if reach - flat <= 8.0 {
            // The mean of sinc over the half-widths; the closed form cancels here.
            0.5 * gauss_legendre(24).integrate(-1.0, 1.0, |v| {
                sinc(0.5 * (flat + reach) + 0.5 * (reach - flat) * v)
            })
        } else {
            (sine_integral(reach) - sine_integral(flat)) / (reach - flat)
        }
    }

    fn between(&self, lower: f64, upper: f64, factor: f64) -> Result<Distribution, Error> {
        // Rounding of the limits must not push d past the half-width that it was within.
        let d = (factor * self.d).min(0.5 * (upper - lower));
        Distribution::curvilinear_trapezoid(lower, upper, d)
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
        let law = Distribution::curvilinear_trapezoid(0.25, 2.25, 0.25)?;
        reference::moments(&law, Some(1.25), Some(0.5833333333333334));
        reference::chances(&law, 4e-15, &[
            (1.0e-140, 8.0e-141, 4.0e-281, 1.0),
            (1.0e-9, 8.0000000032e-10, 4.000000001066667e-19, 1.0),
            (0.1, 0.08338160893905107, 0.004111149720091283, 0.9958888502799087),
            (0.49, 0.49758039701597, 0.11183889826786277, 0.8881611017321372),
            (0.75, 0.5108256237659907, 0.24458718811700467, 0.7554128118829954),
            (1.25, 0.5108256237659907, 0.5, 0.5),
            (2.2, 0.2744368457017601, 0.9607150034166724, 0.039284996583327673),
            (2.4999999990686774, 7.450580599699386e-10, 1.0, 3.4694469528152605e-19),
        ]);
        reference::quantiles(&law, 4e-15, &[
            (1.0e-300, 1.5811388300841898e-150, 2.5),
            (1.0e-20, 1.5811388300508562e-10, 2.499999999841886),
            (0.01, 0.15474417115782685, 2.345255828842173),
            (0.3, 0.8584769622057564, 1.6415230377942436),
        ]);
        reference::characteristic(&law, &[
            (1.0e-9, 1.0, 1.25e-9),
            (0.5, 0.7769412170676243, 0.5605509996788278),
            (7.0, -0.03235220165832384, 0.02588372550042255),
            (15.0, -0.005012518381578319, 0.000500681127958283),
            (40.0, -0.0007304535934909799, 0.000198610779106066),
            (300.0, -7.368697361532579e-6, -1.648629587067975e-5),
        ]);
        Ok(())
    }

    #[rustfmt::skip] // a table: one row a line
    #[test]
    fn no_flat_top() -> Result<(), Error> {
        let law = Distribution::curvilinear_trapezoid(-3.0, -1.0, 1.0)?;
        reference::moments(&law, Some(-2.0), Some(0.6666666666666666));
        reference::chances(&law, 4e-15, &[
            (-3.9999999990686774, 1.1641532185403987e-10, 5.421010863268974e-20, 1.0),
            (-3.0, 0.17328679513998632, 0.07671320486001368, 0.9232867951399863),
            (-2.125, std::f64::consts::LN_2, 0.3821066024300068, 0.6178933975699932),
            (-1.5, 0.34657359027997264, 0.7982867951399863, 0.20171320486001368),
            (-0.5, 0.07192051811294523, 0.9828807771694178, 0.01711922283058215),
            (-1.0e-9, 1.2500000003125e-10, 1.0, 6.250000001041667e-20),
            (-1.0e-140, 1.25e-141, 1.0, 6.25e-282),
        ]);
        reference::quantiles(&law, 4e-15, &[
            (1.0e-300, -4.0, -4.0e-150),
            (1.0e-20, -3.9999999996, -3.9999999998666664e-10),
            (0.01, -3.6135683380806314, -0.3864316619193685),
            (0.3, -2.2646979101976124, -1.7353020898023876),
        ]);
        reference::characteristic(&law, &[
            (0.25, 0.8654849424267629, -0.47281657897005025),
            (3.0, 0.227990442416702, 0.06634663031980842),
            (9.0, 0.056369333354476595, 0.06410961577938037),
        ]);
        Ok(())
    }

    #[rustfmt::skip] // a table: one row a line
    #[test]
    fn limits_almost_certain() -> Result<(), Error> {
        let law = Distribution::curvilinear_trapezoid(0.000_976_562_5, 1.0, 0.000_976_562_5)?;
        reference::moments(&law, Some(0.50048828125), Some(0.2883934089977427));
        reference::chances(&law, 4e-15, &[
            (1.0e-140, 5.1150048780487804e-138, 2.5575024390243903e-278, 1.0),
            (1.0e-9, 5.115004883158795e-7, 2.5575024407277286e-16, 0.9999999999999998),
            (0.001, 0.5120121709600263, 0.00025592074809533435, 0.9997440792519047),
            (0.01, 1.0009787924078073, 0.009031632544194033, 0.990968367455806),
            (0.5, 1.0009787924078073, 0.4995112408240196, 0.5004887591759803),
            (1.0, 0.5000001589458104, 0.9997559387702949, 0.00024406122970508368),
        ]);
        reference::quantiles(&law, 4e-15, &[
            (1.0e-300, 6.253051013118016e-152, 1.0009765625),
            (1.0e-20, 6.2530510131049955e-12, 1.000976562493747),
            (0.01, 0.010967420551914598, 0.9900091419480854),
            (0.3, 0.30068384831200595, 0.7002927141879941),
        ]);
        reference::characteristic(&law, &[
            (1.0, 0.8413159770835661, 0.4601465556398647),
            (3000.0, 6.688112985428952e-7, -1.4706441522157863e-7),
            (10000.0, -6.375722053556783e-8, -2.1533650191870354e-8),
        ]);
        Ok(())
    }
}
