use super::super::table::{By, Row};
use super::{Answer, Got, at, unknown};
use kerfwise_source::Source;

/// What a source is, or what its law of error says.
pub(super) fn answer(row: &Row, source: &Source) -> Got {
    let law = source.error();
    let none = || format!("{} has no {}", source.name(), row.ask);
    if row.by == By::Source {
        return match row.ask.as_str() {
            "estimate" => Ok(Answer::from(source.estimate().raw())),
            "u" => source
                .standard_uncertainty()
                .map(|u| Answer::from(u.raw()))
                .ok_or_else(none),
            "degrees of freedom" => Ok(Answer::from(source.degrees_of_freedom())),
            "lower" => source
                .bounds()
                .map(|(l, _)| Answer::from(l))
                .ok_or_else(none),
            "upper" => source
                .bounds()
                .map(|(_, u)| Answer::from(u))
                .ok_or_else(none),
            _ => Err(unknown(row)),
        };
    }
    let value = match row.ask.as_str() {
        "mean" => law.mean().ok_or_else(none)?,
        "variance" => law.variance().ok_or_else(none)?,
        "sd" => law.standard_deviation().ok_or_else(none)?,
        "density" => law.pdf(at(row)?).ok_or_else(none)?,
        "cdf" => law.cdf(at(row)?),
        "upper tail" => law.sf(at(row)?),
        "quantile" => law.quantile(at(row)?),
        "upper quantile" => law.quantile_upper(at(row)?),
        "characteristic function, real part" => law.characteristic(at(row)?).ok_or_else(none)?.0,
        "characteristic function, imaginary part" => {
            law.characteristic(at(row)?).ok_or_else(none)?.1
        }
        _ => return Err(unknown(row)),
    };
    Ok(Answer::from(value))
}
