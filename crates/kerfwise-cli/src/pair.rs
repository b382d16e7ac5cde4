//! From two lists of widths to which goes where.

use crate::args::PairWords;
use crate::files;
use crate::run::show;
use kerfwise::decide::{Pairing, PairingOptions};
use kerfwise::plan::read_readings;
use kerfwise::prelude::{Length, LengthUnits as _};
use kerfwise::source::Dimension;
use kerfwise_report::PairReport;
use std::path::Path;

pub(crate) fn report(words: &PairWords) -> Result<PairReport, String> {
    let tenons = widths(&words.tenons, words.tenon_column.as_deref())?;
    let mortises = widths(&words.mortises, words.mortise_column.as_deref())?;
    let wanted = words.clearance;
    let least = words.least.unwrap_or(wanted - 5.0.thou());
    let most = words.most.unwrap_or(wanted + 5.0.thou());
    let options = PairingOptions::wanted(wanted).between(least, most);
    let best = Pairing::best(&tenons, &mortises, &options).map_err(|error| error.to_string())?;
    // A hair more than the rounding of decimal numbers.
    let hair = 1e-10.inch();
    let is_fit = |(t, m): (&Length, &Length)| {
        let clearance = *m - *t;
        clearance >= least - hair && clearance <= most + hair
    };
    let as_listed = tenons
        .iter()
        .zip(&mortises)
        .filter(|pair| is_fit(*pair))
        .count();
    Ok(PairReport::new(
        wanted.to_inches(),
        (least.to_inches(), most.to_inches()),
        as_listed,
        &best,
    ))
}

fn widths(path: &Path, column: Option<&str>) -> Result<Vec<Length>, String> {
    let name = path.display().to_string();
    let text = files::text(path)?;
    let readings = read_readings(&name, &text, column).map_err(|faults| show(&faults))?;
    if readings.dimension() != Dimension::LENGTH {
        return Err(format!(
            "{name}: column \"{}\" must hold lengths (got {})",
            readings.column(),
            readings.dimension()
        ));
    }
    Ok(readings.raw().iter().map(|inches| inches.inch()).collect())
}
