use crate::{Distribution, Error, ErrorKind};

/// Type B evaluation (JCGM 100:2008, 4.3): distributions of an error from what a document states.
/// Numbers in one raw unit.
///
/// Limits that are likelier near their middle, or not about zero, are
/// [`Distribution::triangular`] and [`Distribution::rectangular`] themselves (4.3.8, 4.3.9).
#[derive(Debug, Clone, Copy)]
pub struct TypeB;

impl TypeB {
    /// Limits ±a with nothing more known: rectangular, u = a/√3 (JCGM 100:2008, 4.3.7).
    ///
    /// # Errors
    ///
    /// When the half-width is not above 0.
    ///
    /// ```
    /// use kerfwise_source::TypeB;
    ///
    /// let feeler = TypeB::limits(0.3)?;
    /// assert!((feeler.standard_deviation().unwrap() - 0.1 * 3.0_f64.sqrt()).abs() < 1e-15);
    /// # Ok::<(), kerfwise_source::Error>(())
    /// ```
    pub fn limits(half_width: f64) -> Result<Distribution, Error> {
        let a = above_zero("half-width of limits", half_width)?;
        Distribution::rectangular(-a, a)
    }

    /// The display shows steps of this size: rectangular of half a step either side, u = 0.29 step
    /// (JCGM 100:2008, F.2.2.1).
    ///
    /// # Errors
    ///
    /// When the step is not above 0.
    ///
    /// ```
    /// use kerfwise_source::TypeB;
    ///
    /// let caliper = TypeB::resolution(0.0005)?;
    /// assert_eq!(caliper.support(), (-0.00025, 0.00025));
    /// # Ok::<(), kerfwise_source::Error>(())
    /// ```
    pub fn resolution(step: f64) -> Result<Distribution, Error> {
        let half = above_zero("step of the display", step)? / 2.0;
        Distribution::rectangular(-half, half)
    }

    /// A certificate states expanded uncertainty U and coverage factor k: normal with U/k
    /// (JCGM 100:2008, 4.3.3).
    ///
    /// # Errors
    ///
    /// When U or k is not above 0.
    ///
    /// ```
    /// use kerfwise_source::TypeB;
    ///
    /// let gauge_block = TypeB::certificate(0.0001, 2.0)?;
    /// assert_eq!(gauge_block.standard_deviation(), Some(0.00005));
    /// # Ok::<(), kerfwise_source::Error>(())
    /// ```
    pub fn certificate(expanded: f64, coverage_factor: f64) -> Result<Distribution, Error> {
        let expanded = above_zero("expanded uncertainty", expanded)?;
        Distribution::normal(
            0.0,
            expanded / above_zero("coverage factor", coverage_factor)?,
        )
    }

    /// A certificate states U at a level of confidence p, and maybe degrees of freedom: normal with
    /// U over the two-sided normal factor (JCGM 100:2008, 4.3.4), or Student t whose scale is U over
    /// the two-sided t factor (JCGM 101:2008, 6.4.9.7).
    ///
    /// "Fifty-fifty chance between these" is the level 0.5 (4.3.5: u = 1.48 U).
    ///
    /// # Errors
    ///
    /// When U is not above 0 and finite, the degrees of freedom are below 0.001, or p is not between 0 and 1.
    ///
    /// ```
    /// use kerfwise_source::TypeB;
    ///
    /// let gauge = TypeB::certificate_at(0.001, 0.95, None)?;
    /// assert!((gauge.standard_deviation().unwrap() - 0.001 / 1.96).abs() < 1e-7);
    /// # Ok::<(), kerfwise_source::Error>(())
    /// ```
    pub fn certificate_at(
        expanded: f64,
        level: f64,
        degrees_of_freedom: Option<f64>,
    ) -> Result<Distribution, Error> {
        let expanded = above_zero("expanded uncertainty", expanded)?;
        let above = 0.5 * (1.0 - level);
        // A level too small to be told from 0 beside 1 has no factor either.
        if !(level < 1.0 && above < 0.5) {
            return Err(parameter(format!(
                "level of confidence must be above 0 and below 1 (got {level}); 95 % is 0.95"
            )));
        }
        let dof = degrees_of_freedom.unwrap_or(f64::INFINITY);
        let factor = Distribution::student_t(0.0, 1.0, dof)?.quantile_upper(above);
        Distribution::student_t(0.0, expanded / factor, dof)
    }
}

fn above_zero(what: &str, value: f64) -> Result<f64, Error> {
    if value > 0.0 && value.is_finite() {
        Ok(value)
    } else {
        Err(parameter(format!(
            "{what} must be above 0 and finite (got {value})"
        )))
    }
}

#[cold]
fn parameter(what: String) -> Error {
    ErrorKind::Parameter { what }.into()
}

#[cfg(test)]
mod tests {
    use super::*;

    fn deviation(distribution: Result<Distribution, Error>) -> f64 {
        distribution.unwrap().standard_deviation().unwrap()
    }

    /// Relative 1e-13, because a quantile of the normal law is good to some units in the last place.
    #[track_caller]
    fn assert_near(value: f64, expected: f64) {
        assert!(
            ((value - expected) / expected).abs() < 1e-13,
            "{value} instead of {expected}"
        );
    }

    // JCGM 100:2008, 4.3.3 (U of three standard deviations, 240), 4.3.4 (129 at 99 %),
    // 4.3.5 (0.04 mm at 50 %), 4.3.7 and 4.4.5 (rectangular), 4.3.8 (asymmetric bounds),
    // 4.3.9 and 4.4.6 (triangular), F.2.2.1 (resolution), each recomputed to more digits.
    #[test]
    fn gum_4_3_examples() {
        assert_near(deviation(TypeB::certificate(240.0, 3.0)), 80.0);
        let at_99 = TypeB::certificate_at(129.0, 0.99, None);
        assert_near(deviation(at_99), 50.080_958_323_700_9);
        let half_width = (10.15 - 10.07) / 2.0;
        let fifty_fifty = TypeB::certificate_at(half_width, 0.5, None);
        assert_near(deviation(fifty_fifty), 0.059_304_088_740_224_074);
        let copper = TypeB::limits(0.4e-6);
        assert_near(deviation(copper), 2.309_401_076_758_503e-7);
        let asymmetric = Distribution::rectangular(-0.12e-6, 0.40e-6);
        assert_near(deviation(asymmetric), 1.501_110_699_893_027e-7);
        assert_near(deviation(TypeB::limits(4.0)), 2.309_401_076_758_503);
        let near_middle = Distribution::triangular(96.0, 100.0, 104.0);
        assert_near(deviation(near_middle), 1.632_993_161_855_452);
        assert_near(deviation(TypeB::resolution(1.0)), 0.288_675_134_594_812_87);
    }

    // JCGM 100:2008, 4.3.7 eq. 7, 4.3.9 eq. 9a and 9b, H.1.3.4, per unit half-width, at 20 digits.
    #[test]
    fn gum_variances_per_half_width() {
        assert_near(deviation(TypeB::limits(1.0)), 0.577_350_269_189_625_8);
        let arcsine = Distribution::arcsine(-1.0, 1.0);
        assert_near(deviation(arcsine), 0.707_106_781_186_547_5);
        let rows = [
            (0.0, 0.408_248_290_463_863),
            (0.25, 0.420_812_705_765_086_6),
            (0.5, 0.456_435_464_587_638_4),
            (0.75, 0.510_310_363_079_828_8),
            (1.0, 0.577_350_269_189_625_8),
        ];
        for (top_ratio, expected) in rows {
            let trapezoid = Distribution::trapezoidal(-1.0, 1.0, top_ratio);
            assert_near(deviation(trapezoid), expected);
        }
    }

    // NIST TN 1297 (1994), 4.3 to 4.6: factors of the normal law, recomputed at 20 digits.
    #[test]
    fn nist_tn1297_factors() {
        let factor = |level| 1.0 / deviation(TypeB::certificate_at(1.0, level, None));
        assert_near(factor(0.95), 1.959_963_984_540_054_2);
        assert_near(factor(0.99), 2.575_829_303_548_901);
        assert_near(1.0 / factor(0.5), 1.482_602_218_505_601_9);
        let triangular = Distribution::triangular(-1.0, 0.0, 1.0);
        assert_near(deviation(triangular), 0.408_248_290_463_863);
    }

    // t of 4 degrees of freedom at 95 %: 2.776, JCGM 100:2008, table G.2, from memory.
    #[test]
    fn degrees_of_freedom_make_it_a_student_t() {
        let certificate = TypeB::certificate_at(2.776, 0.95, Some(4.0)).unwrap();
        let Distribution::StudentT(t) = certificate else {
            panic!("{certificate:?} is not a Student t");
        };
        assert!((t.scale() - 1.0).abs() < 0.0005, "{}", t.scale());
        assert_near(t.degrees_of_freedom(), 4.0);
        assert_eq!(
            TypeB::certificate_at(1.0, 0.95, Some(f64::INFINITY)),
            TypeB::certificate_at(1.0, 0.95, None)
        );
    }

    #[test]
    fn faults_are_named() {
        let messages = [
            TypeB::limits(0.0),
            TypeB::resolution(f64::NAN),
            TypeB::certificate(1.0, -2.0),
            TypeB::certificate(f64::INFINITY, 2.0),
            TypeB::certificate_at(1.0, 95.0, None),
            TypeB::certificate_at(1.0, 1e-20, None),
            TypeB::certificate_at(1.0, 0.95, Some(0.0)),
        ]
        .map(|result| result.unwrap_err().to_string());
        assert_eq!(
            messages,
            [
                "half-width of limits must be above 0 and finite (got 0)",
                "step of the display must be above 0 and finite (got NaN)",
                "coverage factor must be above 0 and finite (got -2)",
                "expanded uncertainty must be above 0 and finite (got inf)",
                "level of confidence must be above 0 and below 1 (got 95); 95 % is 0.95",
                "level of confidence must be above 0 and below 1 (got 0.00000000000000000001); 95 % is 0.95",
                "Student t distribution: degrees of freedom must be at least 0.001 (got 0); n readings give n - 1",
            ]
        );
    }
}
