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

/// A parameter that says how wide the law is; 0 makes it a point.
pub(super) fn spread(law: &str, name: &str, value: f64) -> Result<f64, Error> {
    if value.is_finite() && value >= 0.0 {
        Ok(value)
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
        return Err(bad(
            law,
            format_args!(
                "the ends must be less than {:e} apart (got {lower:e} and {upper:e}); use a larger unit",
                f64::MAX
            ),
        ));
    }
    Ok((lower, upper))
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
