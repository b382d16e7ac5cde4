//! Which error to mend, and which measured tenon goes into which mortise.

use super::super::table::Row;
use super::{Answer, Got, at, unknown};
use kerfwise_decide::{Improve, Offer, Pairing, PairingOptions};
use kerfwise_plan::Plan;
use kerfwise_source::{Length, LengthUnits};
use kerfwise_stack::{Bounded, Chance};

fn text(error: impl std::fmt::Display) -> String {
    error.to_string()
}

fn inside(chance: Bounded<Chance>) -> Answer {
    Answer {
        value: chance.value.inside,
        bound: Some(chance.error),
    }
}

/// What mending a source of the outcome "fit" is worth. Offers: a wanted chance, then factor and price of each source that
/// the row names.
pub(super) fn worth(row: &Row, plan: &Plan) -> Got {
    if let Some(what) = row.ask.strip_prefix("sampled: ") {
        return super::shares::sampled(row, what, plan);
    }
    if let Some(what) = row.ask.strip_prefix("shared out: ") {
        return super::shares::shared_out(row, what, plan);
    }
    let found = Improve::of(plan.stack(), "fit").map_err(text)?;
    let of = row.of.as_deref().unwrap_or_default();
    let worth = || {
        let all = found.sources().map_err(text)?;
        let one = all.into_iter().find(|worth| worth.name == of);
        one.ok_or_else(|| format!("no source {of}"))
    };
    let factor = |found: Option<f64>| {
        found
            .map(Answer::from)
            .ok_or_else(|| "not to be had".to_owned())
    };
    match row.ask.as_str() {
        "inside" => Ok(inside(found.now())),
        "inside, halved" => Ok(inside(worth()?.halved)),
        "inside, removed" => Ok(inside(worth()?.removed)),
        "below, removed" => Ok(worth()?.removed.value.below.into()),
        "above, halved" => Ok(worth()?.halved.value.above.into()),
        "largest factor" => factor(found.largest(of, at(row)?).map_err(text)?),
        "largest factor of all" => factor(found.largest_of_all(at(row)?).map_err(text)?),
        "cheapest: price" | "cheapest: inside" => {
            let (wanted, offers) = row.at.all().split_first().ok_or("at which chance?")?;
            let offers: Vec<Offer> = of
                .split(' ')
                .zip(offers.chunks_exact(2))
                .map(|(source, of)| Offer {
                    source: source.to_owned(),
                    factor: of[0],
                    price: of[1],
                })
                .collect();
            let best = found.cheapest(&offers, *wanted).map_err(text)?;
            let best = best.ok_or("nothing is enough")?;
            Ok(if row.ask.ends_with("price") {
                best.price.into()
            } else {
                inside(best.chance)
            })
        }
        _ => Err(unknown(row)),
    }
}

/// At wanted, least and greatest clearance, the number of tenons, then tenons and mortises, all in inches.
pub(super) fn pairing(row: &Row) -> Got {
    let [wanted, least, most, tenons, widths @ ..] = row.at.all() else {
        return Err("wanted, least, greatest clearance, number of tenons and widths".to_owned());
    };
    let widths: Vec<Length> = widths.iter().map(|x| x.inch()).collect();
    let (tenons, mortises) = widths.split_at(*tenons as usize);
    let options = PairingOptions::wanted(wanted.inch()).between(least.inch(), most.inch());
    let found = Pairing::best(tenons, mortises, &options).map_err(text)?;
    let mortise = |tenon: &str| {
        let tenon: usize = tenon.parse().map_err(text)?;
        let pairs = || found.fits.iter().chain(&found.rework);
        let pair = pairs().find(|pair| pair.tenon == tenon);
        pair.map(|pair| pair.mortise as f64)
            .ok_or_else(|| "it stays over".to_owned())
    };
    let value = match row.ask.as_str() {
        "number that fit" => found.fits.len() as f64,
        "rms deviation" => found.rms_deviation.to_inches(),
        "number to rework" => found.rework.len() as f64,
        "stock to take off" => {
            let off = |clearance: Length| (clearance.to_inches() - wanted).abs();
            found.rework.iter().map(|pair| off(pair.clearance)).sum()
        }
        "tenons left over" => found.spare_tenons.len() as f64,
        "mortises left over" => found.spare_mortises.len() as f64,
        "mortise of tenon" => mortise(row.of.as_deref().unwrap_or_default())?,
        _ => return Err(unknown(row)),
    };
    Ok(Answer::from(value))
}
