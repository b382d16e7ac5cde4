use super::Moisture;
use crate::{Error, ErrorKind};
use kerfwise_source::{Event, MoistureContent, Source, SourceBuilder};
use kerfwise_stack::Expr;

/// The air that wood comes into balance with.
///
/// Both numbers are pure: temperature in degrees Celsius, relative humidity as a share (0.45 for 45 %).
/// They are expressions, so that what a hygrometer is off by can be added to what it reads.
#[derive(Debug, Clone)]
pub struct Air {
    /// Temperature in degrees Celsius.
    pub temperature: Expr,
    /// Relative humidity, from 0 to 1.
    pub humidity: Expr,
}

impl Air {
    /// A temperature in degrees Celsius, from degrees Fahrenheit.
    ///
    /// ```
    /// use kerfwise_joint::wood::Air;
    /// assert_eq!(Air::celsius_from_fahrenheit(68.0), 20.0);
    /// ```
    #[must_use]
    pub fn celsius_from_fahrenheit(fahrenheit: f64) -> f64 {
        (fahrenheit - 32.0) / 1.8
    }

    /// The error of a household hygrometer, to be added to the humidity: rectangular, ±0.05, one for all
    /// readings with it (makers' claims are ±3 to ±5 %; common practice, no source).
    ///
    /// ```
    /// use kerfwise_joint::wood::{Air, Moisture};
    /// use kerfwise_source::Source;
    /// use kerfwise_stack::Expr;
    ///
    /// let hygrometer = Air::hygrometer("hygrometer").build()?;
    /// let reading = Source::new("humidity", 0.45).build()?;
    /// let temperature = Expr::constant(21.0);
    /// let humidity = Expr::source(&reading) + &hygrometer;
    /// let shop = Air { temperature, humidity }.equilibrium()?;
    /// # let _: Moisture = shop;
    /// # Ok::<(), Box<dyn std::error::Error>>(())
    /// ```
    pub fn hygrometer(name: &str) -> SourceBuilder {
        Source::new(name, 0.0)
            .rectangular(0.05)
            .event(Event::gauge())
            .assumed("common practice, no source: makers claim 3 to 5 % relative humidity")
    }

    /// Equilibrium moisture content of wood in this air.
    ///
    /// ```text
    /// M  = 1800/W · (K·h / (1 − K·h) + (K₁·K·h + 2·K₁·K₂·K²·h²) / (1 + K₁·K·h + K₁·K₂·K²·h²))
    /// W  = 349 + 1.29·T + 0.0135·T²         K  = 0.805 + 0.000736·T − 0.00000273·T²
    /// K₁ = 6.27 − 0.00938·T − 0.000303·T²   K₂ = 1.91 + 0.0407·T − 0.000293·T²
    /// ```
    ///
    /// Wood Handbook (FPL-GTR-282), chapter 4, eq. 4-5, in degrees Celsius. It gives table 4-2 to within
    /// 0.06 % moisture content from 30 to 200 °F and from 5 to 95 % humidity. Real wood lies above it while
    /// drying and below it while wetting, 1 to 4 % apart at middling humidity; add a source for that
    /// ([`Moisture::with`]) where it matters.
    ///
    /// # Errors
    ///
    /// [`ErrorKind::OutOfRange`] when the estimates lie outside 30 to 200 °F (−1.2 to 93.4 °C) or outside 5 to
    /// 95 % humidity. What the gauges may be off by is not looked at: the formula does not break off there.
    ///
    /// ```
    /// use kerfwise_joint::wood::Air;
    /// use kerfwise_stack::{Expr, Stack};
    ///
    /// let temperature = Expr::constant(Air::celsius_from_fahrenheit(70.0));
    /// let air = Air { temperature, humidity: Expr::constant(0.5) };
    /// let moisture = air.equilibrium()?;
    /// let stack = Stack::builder().outcome_without_band("moisture", moisture.expr()).build()?;
    /// let moisture = stack.outcome("moisture").unwrap().evaluate(&[])?;
    /// assert_eq!(format!("{moisture:.1}"), "9.2 %MC"); // Wood Handbook, table 4-2
    /// # Ok::<(), Box<dyn std::error::Error>>(())
    /// ```
    pub fn equilibrium(&self) -> Result<Moisture, Error> {
        let estimate = |expr: &Expr| expr.evaluate(&|source| source.estimate().raw());
        let (temperature, humidity) = (estimate(&self.temperature), estimate(&self.humidity));
        if !(-1.2..=93.4).contains(&temperature) {
            return Err(ErrorKind::OutOfRange(format!(
                "air: temperature must lie from -1.2 to 93.4 degrees Celsius for the equilibrium \
                 moisture content (got {temperature}); degrees Fahrenheit have to be converted"
            ))
            .into());
        }
        if !(0.05..=0.95).contains(&humidity) {
            return Err(ErrorKind::OutOfRange(format!(
                "air: relative humidity must lie from 0.05 to 0.95 for the equilibrium moisture \
                 content (got {humidity}); write 45 % as 0.45"
            ))
            .into());
        }
        let t = &self.temperature;
        let polynomial = |a: f64, b: f64, c: f64| a + b * t + c * t.square();
        let w = polynomial(349.0, 1.29, 0.0135);
        let kh = polynomial(0.805, 0.000_736, -0.000_002_73) * &self.humidity;
        let k1 = polynomial(6.27, -0.009_38, -0.000_303);
        let k2 = polynomial(1.91, 0.0407, -0.000_293);
        let one = &k1 * &kh;
        let two = k1 * k2 * kh.square();
        let solution = &kh / (1.0 - &kh);
        let hydrates = (&one + 2.0 * &two) / (1.0 + &one + &two);
        let percent = Expr::constant(MoistureContent::from_percent(1.0));
        Ok(Moisture(1800.0 * percent / w * (solution + hydrates)))
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn at(fahrenheit: f64, percent: f64) -> f64 {
        let air = Air {
            temperature: Expr::constant(Air::celsius_from_fahrenheit(fahrenheit)),
            humidity: Expr::constant(percent / 100.0),
        };
        air.equilibrium().unwrap().expr().evaluate(&|_| 0.0)
    }

    /// Wood Handbook (FPL-GTR-190), table 4-2, read in the document.
    const TABLE_4_2: [(f64, f64, f64); 24] = [
        (30.0, 50.0, 9.5),
        (30.0, 95.0, 24.3),
        (50.0, 30.0, 6.3),
        (60.0, 40.0, 7.8),
        (60.0, 65.0, 12.1),
        (70.0, 5.0, 1.3),
        (70.0, 20.0, 4.5),
        (70.0, 25.0, 5.4),
        (70.0, 30.0, 6.2),
        (70.0, 35.0, 6.9),
        (70.0, 40.0, 7.7),
        (70.0, 45.0, 8.5),
        (70.0, 50.0, 9.2),
        (70.0, 55.0, 10.1),
        (70.0, 60.0, 11.0),
        (70.0, 65.0, 12.0),
        (70.0, 75.0, 14.4),
        (70.0, 85.0, 17.9),
        (70.0, 95.0, 23.9),
        (80.0, 50.0, 9.1),
        (80.0, 70.0, 12.9),
        (90.0, 80.0, 15.4),
        (100.0, 50.0, 8.7),
        (200.0, 50.0, 5.8),
    ];

    #[test]
    fn the_table_to_its_printed_digits() {
        let mut to_the_digit = 0;
        for (fahrenheit, percent, printed) in TABLE_4_2 {
            let computed = at(fahrenheit, percent);
            // The table was printed from the Fahrenheit form, whose constants are rounded apart from
            // those of the Celsius form: up to 0.013 % between the two, on top of half a printed digit.
            assert!(
                (computed - printed).abs() < 0.05 + 0.013,
                "{fahrenheit} {percent}: {computed}"
            );
            to_the_digit += u32::from(format!("{computed:.1}") == format!("{printed:.1}"));
        }
        // 17.952 at 70 °F and 85 % is printed as 17.9: the one cell that is a digit off.
        assert_eq!(to_the_digit, 23);
    }

    /// Computed independently from the same formula, to five significant digits.
    #[test]
    fn the_formula_against_values_computed_apart() {
        for (fahrenheit, percent, value) in [
            (30.0, 95.0, 24.332),
            (70.0, 50.0, 9.242),
            (70.0, 85.0, 17.952),
            (200.0, 50.0, 5.800),
        ] {
            // Half of the last digit given.
            assert!((at(fahrenheit, percent) - value).abs() <= 0.0005);
        }
    }

    #[test]
    fn outside_its_range_it_is_refused() {
        let refused = |temperature: f64, humidity: f64| {
            let air = Air {
                temperature: Expr::constant(temperature),
                humidity: Expr::constant(humidity),
            };
            air.equilibrium().unwrap_err().to_string()
        };
        assert!(refused(212.0, 0.5).contains("from -1.2 to 93.4 degrees Celsius"));
        assert!(refused(20.0, 45.0).contains("write 45 % as 0.45"));
        assert!(refused(f64::NAN, 0.5).contains("got NaN"));
        assert!(refused(20.0, f64::NAN).contains("got NaN"));
    }
}
