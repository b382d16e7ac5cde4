//! Checks of parameters, and the words of their errors.

use crate::{Error, ErrorKind};

/// An error that names the law: `normal distribution: {what}`.
#[cold]
pub(super) fn bad(law: &str, what: impl std::fmt::Display) -> Error {
    ErrorKind::Parameter {
        what: format!("{law} distribution: {what}"),
    }
    .into()
}

/// A parameter that may be any number.
pub(super) fn finite(law: &str, name: &str, value: f64) -> Result<f64, Error> {
    if value.is_finite() {
        Ok(value)
    } else {
        Err(bad(
            law,
            format_args!("{name} must be a finite number (got {value})"),
        ))
    }
}

/// A parameter that says how wide the law is; 0 makes it a point, and so does what is below the smallest normal number,
/// by which nothing can be divided.
pub(super) fn spread(law: &str, name: &str, value: f64) -> Result<f64, Error> {
    if value.is_finite() && value >= 0.0 {
        Ok(if value < f64::MIN_POSITIVE {
            0.0
        } else {
            value
        })
    } else {
        Err(bad(
            law,
            format_args!(
                "{name} must be finite and not below 0 (got {value}); 0 says that the value is known exactly"
            ),
        ))
    }
}

/// Two finite ends in ascending order whose distance is a finite number.
pub(super) fn ends(law: &str, lower: f64, upper: f64) -> Result<(f64, f64), Error> {
    let lower = finite(law, "lower end", lower)?;
    let upper = finite(law, "upper end", upper)?;
    if lower > upper {
        return Err(bad(
            law,
            format_args!(
                "lower end must not be above the upper end (got {lower} and {upper}); swap them"
            ),
        ));
    }
    if !(upper - lower).is_finite() {
        return Err(too_far_apart(law, lower, upper));
    }
    Ok((lower, upper))
}

/// Two places whose distance is not a number.
pub(super) fn too_far_apart(law: &str, one: f64, other: f64) -> Error {
    bad(
        law,
        format_args!(
            "places must be less than {:e} apart (got {one:e} and {other:e}); use a larger unit",
            f64::MAX
        ),
    )
}

/// A number between two bounds, both allowed.
pub(super) fn between(
    law: &str,
    name: &str,
    value: f64,
    low: f64,
    high: f64,
) -> Result<f64, Error> {
    if (low..=high).contains(&value) {
        Ok(value)
    } else {
        Err(bad(
            law,
            format_args!("{name} must be from {low} to {high} (got {value})"),
        ))
    }
}

/// Weights that are not negative and add to 1 within 1e-9; gives their sum, to divide by.
pub(super) fn weights(
    law: &str,
    name: &str,
    weights: impl Iterator<Item = f64>,
) -> Result<f64, Error> {
    let mut total = kerfwise_numeric::sum::CompensatedSum::new();
    for (index, weight) in weights.enumerate() {
        if !(weight.is_finite() && weight >= 0.0) {
            return Err(bad(
                law,
                format_args!(
                    "{name} {} must be finite and not below 0 (got {weight})",
                    index + 1
                ),
            ));
        }
        total.add(weight);
    }
    let total = total.value();
    if (total - 1.0).abs() <= 1e-9 {
        Ok(total)
    } else {
        Err(bad(
            law,
            format_args!(
                "{name} values must add to 1 within 1e-9 (got {total}); divide each of them by their sum"
            ),
        ))
    }
}

#[cfg(test)]
mod tests {
    use super::super::Distribution;

    const NAN: f64 = f64::NAN;
    const INF: f64 = f64::INFINITY;

    /// Each faulty law with the message it must give.
    #[test]
    fn messages_name_the_law_the_parameter_the_value_and_the_bound() {
        for (law, message) in [
            (
                Distribution::point(NAN),
                "point distribution: value must be a finite number (got NaN)",
            ),
            (
                Distribution::normal(0.0, -0.1),
                "normal distribution: standard deviation must be finite and not below 0 (got -0.1); 0 says that the value is known exactly",
            ),
            (
                Distribution::rectangular(0.2, 0.1),
                "rectangular distribution: lower end must not be above the upper end (got 0.2 and 0.1); swap them",
            ),
            (
                Distribution::rectangular(-1.5e308, 1.5e308),
                "rectangular distribution: places must be less than 1.7976931348623157e308 apart (got -1.5e308 and 1.5e308); use a larger unit",
            ),
            (
                Distribution::triangular(0.0, 2.0, 1.0),
                "triangular distribution: peak must be from 0 to 1 (got 2)",
            ),
            (
                Distribution::trapezoidal(0.0, 1.0, 1.5),
                "trapezoidal distribution: top ratio must be from 0 to 1 (got 1.5)",
            ),
            (
                Distribution::curvilinear_trapezoid(0.0, 1.0, 0.75),
                "curvilinear trapezoidal distribution: d must not be above half of the distance of the limits, 0.5 (got 0.75); limits that uncertain call for a wider interval",
            ),
            (
                Distribution::arcsine(0.0, INF),
                "arcsine distribution: upper end must be a finite number (got inf)",
            ),
            (
                Distribution::student_t(0.0, 1.0, 0.0),
                "Student t distribution: degrees of freedom must be at least 0.001 (got 0); n readings give n - 1",
            ),
            (
                Distribution::exponential(0.0, INF),
                "exponential distribution: mean excess must be a finite number (got inf)",
            ),
            (
                Distribution::lognormal(0.0, 700.0, 2.0),
                "lognormal distribution: mean of the logarithm plus 9 standard deviations of it must not be above 709 (got 718); both are natural logarithms, so a length of 1 has the logarithm 0",
            ),
            (
                Distribution::beta(0.0, 1.0, 0.0, 1.0),
                "beta distribution: shape a must be from 0.001 to 1000000 (got 0)",
            ),
            (
                Distribution::truncated_normal(0.0, 1.0, 2.0, 1.0),
                "truncated normal distribution: lower end must be a number not above the upper end (got 2 and 1); an end that is not cut is infinite",
            ),
            (
                Distribution::truncated_normal(0.0, 0.0, 1.0, 2.0),
                "truncated normal distribution: the interval 1 to 2 must not lie more than 1e100 standard deviations from the mean (got mean 0, standard deviation 0); nothing is left of such a cut",
            ),
            (
                Distribution::truncated_normal(-1.7e308, 1e308, 0.0, 1.7e308),
                "truncated normal distribution: places must be less than 1.7976931348623157e308 apart (got -1.7e308 and 1.7e308); use a larger unit",
            ),
            (
                Distribution::two_piece_normal(0.0, 1.0, -1.0),
                "two-piece normal distribution: standard deviation above the mode must be finite and not below 0 (got -1); 0 says that the value is known exactly",
            ),
            (
                Distribution::discrete(&[]),
                "discrete distribution: there must be at least one value with its probability (got none)",
            ),
            (
                Distribution::discrete(&[(1.0, 0.5), (2.0, 0.25)]),
                "discrete distribution: probability values must add to 1 within 1e-9 (got 0.75); divide each of them by their sum",
            ),
            (
                Distribution::discrete(&[(1.0, 1.5), (2.0, -0.5)]),
                "discrete distribution: probability 2 must be finite and not below 0 (got -0.5)",
            ),
            (
                Distribution::mixture(vec![]),
                "mixture distribution: there must be at least one part with its weight (got none)",
            ),
            (
                Distribution::empirical(&[]),
                "empirical distribution: there must be at least one reading (got none)",
            ),
            (
                Distribution::empirical(&[1.0, NAN]),
                "empirical distribution: reading 2 must be a finite number (got NaN)",
            ),
        ] {
            assert_eq!(
                law.map_err(|error| error.to_string()),
                Err(message.to_owned())
            );
        }
    }

    #[test]
    fn scaling_past_the_largest_number_is_an_error() {
        let law = Distribution::normal(0.0, 1e300);
        let scaled = law.and_then(|law| law.affine(1e10, 0.0));
        assert!(scaled.is_err_and(|error| error.to_string().contains("(got inf)")));
    }
}
