use super::law::{Law, turned};
use super::table::Table;
use super::{Distribution, check};
use crate::Error;
use kerfwise_numeric::{columns, float, special};
use std::f64::consts::PI;

/// Scaled and shifted Student t law.
#[derive(Debug, Clone, PartialEq)]
pub struct StudentT {
    location: f64,
    scale: f64,
    degrees_of_freedom: f64,
    /// Of the lower half, with unit scale.
    table: Table,
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
            table: Table::default(),
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

    const STAYS_INSIDE: bool = true;

    fn draws(&self, column: &mut [f64]) {
        let half = |p: f64| lower_quantile(p, self.degrees_of_freedom);
        self.table.symmetric_draws(half, column);
        columns::scale_and_shift_finite(column, self.scale, self.location);
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

#[cfg(test)]
mod tests {
    use super::super::{Distribution, reference};
    use crate::Error;

    // Reference values: computed independently at 60 digits with mpmath.

    #[rustfmt::skip] // a table: one row a line
    #[test]
    fn with_1_degree_of_freedom() -> Result<(), Error> {
        let law = Distribution::student_t(0.0, 1.0, 1.0)?;
        reference::moments(&law, None, None);
        reference::chances(&law, 4e-15, &[
            (-1.0e300, 0.0, 3.1830988618379065e-301, 1.0),
            (-1000000000.0, 3.1830988618379065e-19, 3.1830988618379065e-10, 0.9999999996816901),
            (-2.0, 0.06366197723675814, 0.14758361765043326, 0.8524163823495667),
            (0.001, 0.3183095678742228, 0.5003183097800805, 0.4996816902199194),
            (0.5, 0.25464790894703254, 0.6475836176504333, 0.35241638234956674),
            (3.0, 0.03183098861837907, 0.8975836176504333, 0.10241638234956672),
            (1.0e20, 3.1830988618379067e-41, 1.0, 3.1830988618379067e-21),
        ]);
        reference::quantiles(&law, 4e-15, &[
            (1.0e-300, -3.1830988618379066e299, 3.1830988618379066e299),
            (1.0e-20, -3.1830988618379067e19, 3.1830988618379067e19),
            (0.01, -31.820515953773956, 31.820515953773956),
            (0.3, -0.7265425280053609, 0.7265425280053609),
            (0.499, -0.003141602989056159, 0.003141602989056159),
        ]);
        reference::characteristic(&law, &[
            (0.001, 0.999000499833375, 0.0),
            (1.0, 0.36787944117144233, 0.0),
            (30.0, 9.357622968840175e-14, 0.0),
        ]);
        Ok(())
    }

    #[rustfmt::skip] // a table: one row a line
    #[test]
    fn with_2_degrees_of_freedom() -> Result<(), Error> {
        let law = Distribution::student_t(0.0, 1.0, 2.0)?;
        reference::moments(&law, Some(0.0), None);
        reference::chances(&law, 4e-15, &[
            (-1.0e140, 0.0, 4.999999999999999e-281, 1.0),
            (-1000000000.0, 1.0e-27, 5.0e-19, 1.0),
            (-2.0, 0.06804138174397717, 0.09175170953613698, 0.908248290463863),
            (0.001, 0.35355312542839656, 0.500353553302205, 0.49964644669779507),
            (0.5, 0.2962962962962963, 0.6666666666666666, 0.3333333333333333),
            (3.0, 0.02741012223434215, 0.9522670168666454, 0.04773298313335456),
            (1.0e20, 1.0e-60, 1.0, 5.0e-41),
        ]);
        reference::quantiles(&law, 4e-15, &[
            (1.0e-280, -7.071067811865475e139, 7.071067811865475e139),
            (1.0e-20, -7071067811.865476, 7071067811.865476),
            (0.01, -6.964556734283274, 6.964556734283274),
            (0.3, -0.6172133998483676, 0.6172133998483676),
            (0.499, -0.002828432781617413, 0.002828432781617413),
        ]);
        reference::characteristic(&law, &[
            (0.001, 0.9999928228848138, 0.0),
            (1.0, 0.44434252363223603, 0.0),
            (9.0, 1.364887069401965e-5, 0.0),
        ]);
        Ok(())
    }

    #[rustfmt::skip] // a table: one row a line
    #[test]
    fn with_4_degrees_of_freedom() -> Result<(), Error> {
        let law = Distribution::student_t(0.0, 1.0, 4.0)?;
        reference::moments(&law, Some(0.0), Some(std::f64::consts::SQRT_2));
        reference::chances(&law, 4e-15, &[
            (-1.0e70, 0.0, 2.999999999999999e-280, 1.0),
            (-1000000000.0, 1.2e-44, 2.9999999999999998e-36, 1.0),
            (-2.0, 0.06629126073623882, 0.058058261758407795, 0.9419417382415922),
            (0.001, 0.37499976562510257, 0.5003749999218751, 0.499625000078125),
            (0.5, 0.3222618685603871, 0.6783350184090684, 0.32166498159093165),
            (3.0, 0.019693498090836536, 0.9800290159641406, 0.019970984035859413),
            (1.0e20, 1.2e-99, 1.0, 3.0e-80),
        ]);
        reference::quantiles(&law, 4e-15, &[
            (1.0e-280, -1.3160740129524924e70, 1.3160740129524924e70),
            (1.0e-20, -131607.4012825853, 131607.4012825853),
            (0.01, -3.746947387979197, 3.746947387979197),
            (0.3, -0.5686490630497055, 0.5686490630497055),
            (0.499, -0.0026666706172941367, 0.0026666706172941367),
        ]);
        reference::characteristic(&law, &[
            (0.001, 0.9999990000070805, 0.0),
            (1.0, 0.5075195091321117, 0.0),
            (9.0, 8.065805339434444e-7, 0.0),
        ]);
        Ok(())
    }

    #[rustfmt::skip] // a table: one row a line
    #[test]
    fn shifted_and_scaled() -> Result<(), Error> {
        let law = Distribution::student_t(2.0, 0.5, 7.0)?;
        reference::moments(&law, Some(2.0), Some(0.5916079783099616));
        reference::chances(&law, 4e-15, &[
            (-40.0, 7.42876151307077e-13, 4.461187115082835e-12, 0.9999999999955388),
            (-1.0, 0.0005407535995504119, 0.00027112917100140504, 0.9997288708289986),
            (1.5, 0.451349840550915, 0.17530833141010377, 0.8246916685898963),
            (2.25, 0.6691465067003302, 0.6837964321553579, 0.3162035678446421),
            (6.0, 7.275114727343491e-5, 0.9999544253941456, 4.5574605854376814e-5),
            (30.0, 1.8945048318858543e-11, 0.9999999999240695, 7.59305203066174e-11),
        ]);
        reference::quantiles(&law, 4e-15, &[
            (1.0e-100, -193931292024767.94, 193931292024771.94),
            (1.0e-20, -720.8959904057184, 724.8959904057184),
            (0.01, 0.5010242165657358, 3.4989757834342643),
            (0.3, 1.7254451710263574, 2.2745548289736424),
        ]);
        reference::characteristic(&law, &[
            (0.001, 0.9999978250010422, 0.001999998316667218),
            (1.0, -0.352188424640501, 0.7695457472187701),
            (9.0, 0.0008117888808416103, -0.000923258625704428),
        ]);
        Ok(())
    }

    #[rustfmt::skip] // a table: one row a line
    #[test]
    fn half_a_degree_of_freedom() -> Result<(), Error> {
        // Wider than 4e-15, because far quantiles are solved for through the logarithm of the chance, -230, over 0.5.
        let law = Distribution::student_t(0.0, 1.0, 0.5)?;
        reference::moments(&law, None, None);
        reference::chances(&law, 4e-15, &[
            (-1.0e200, 1.6035048770711147e-301, 3.207009754142229e-101, 1.0),
            (-5.0, 0.0141307479465662, 0.1429957015794294, 0.8570042984205706),
            (0.25, 0.24687572597970286, 0.5654401151575745, 0.43455988484242547),
            (10.0, 0.005051795234152221, 0.8986613236143344, 0.10133867638566557),
            (1.0e100, 1.6035048770711145e-151, 1.0, 3.207009754142229e-51),
        ]);
        reference::quantiles(&law, 1e-13, &[
            (1.0e-100, -1.02849115631634e199, 1.02849115631634e199),
            (1.0e-20, -1.0284911563163402e39, 1.0284911563163402e39),
            (0.01, -1028.4910104716218, 1028.4910104716218),
            (0.3, -1.0095258786071661, 1.0095258786071661),
        ]);
        reference::characteristic(&law, &[
            (1.0, 0.2861822103415481, 0.0),
        ]);
        Ok(())
    }

    #[rustfmt::skip] // a table: one row a line
    #[test]
    fn many_degrees_of_freedom() -> Result<(), Error> {
        let law = Distribution::student_t(0.0, 1.0, 300.0)?;
        reference::moments(&law, Some(0.0), Some(1.0033500931359767));
        reference::chances(&law, 4e-15, &[
            (-30.0, 9.784067935723366e-92, 1.3031072100489278e-92, 1.0),
            (-5.0, 2.3380358302469407e-6, 4.884577365123886e-7, 0.9999995115422635),
            (0.25, 0.3863070474332644, 0.5986207725843985, 0.4013792274156015),
            (3.0, 0.004661716260766242, 0.998536890067967, 0.001463109932033053),
            (25.0, 1.0068533340488942e-74, 1.0, 1.2398213559738395e-75),
        ]);
        reference::quantiles(&law, 4e-15, &[
            (1.0e-100, -32.542604433373846, 32.542604433373846),
            (1.0e-20, -9.975051370335501, 9.975051370335501),
            (0.01, -2.3388419237869926, 2.3388419237869926),
            (0.3, -0.524958158097533, 0.524958158097533),
        ]);
        reference::characteristic(&law, &[
            (1.0, 0.6050140378355338, 0.0),
        ]);
        Ok(())
    }
}
