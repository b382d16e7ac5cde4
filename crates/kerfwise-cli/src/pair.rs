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
    let first = widths(&words.tenons, words.tenon_column.as_deref())?;
    let second = widths(&words.mortises, words.mortise_column.as_deref())?;
    // A column that was named is what it was named for.
    let is_told = words.tenon_column.is_some() || words.mortise_column.is_some();
    let is_swapped = !is_told && are_swapped(&first.head, &second.head);
    let note = if is_swapped {
        Some(format!(
            "The files are given the other way round: {} holds \"{}\" and {} holds \"{}\". They are taken as these headings say.",
            first.name, first.head, second.name, second.head
        ))
    } else {
        wider(&first, &second)
    };
    let told = |error| format!("{} and {}: {error}", first.name, second.name);
    let (tenons, mortises) = if is_swapped {
        (&second.widths, &first.widths)
    } else {
        (&first.widths, &second.widths)
    };
    let wanted = words.clearance;
    let least = words.least.unwrap_or(wanted - 5.0.thou());
    let most = words.most.unwrap_or(wanted + 5.0.thou());
    let options = PairingOptions::wanted(wanted).between(least, most);
    let best = Pairing::best(tenons, mortises, &options).map_err(told)?;
    // A hair more than the rounding of decimal numbers.
    let hair = 1e-10.inch();
    let is_fit = |(t, m): (&Length, &Length)| {
        let clearance = *m - *t;
        clearance >= least - hair && clearance <= most + hair
    };
    let as_listed = tenons
        .iter()
        .zip(mortises)
        .filter(|pair| is_fit(*pair))
        .count();
    Ok(PairReport::new(
        wanted.to_inches(),
        (least.to_inches(), most.to_inches()),
        as_listed,
        &best,
    )
    .noted(note))
}

/// A column of a file.
struct Widths {
    name: String,
    head: String,
    widths: Vec<Length>,
}

/// Whether the headings say that mortises come first.
fn are_swapped(first: &str, second: &str) -> bool {
    let has = |head: &str, word: &str| head.to_lowercase().contains(word);
    let says = |head: &str, word: &str, other: &str| has(head, word) && !has(head, other);
    let first_is_mortise = says(first, "mortise", "tenon");
    let second_is_tenon = says(second, "tenon", "mortise");
    // One heading is enough, if the other does not gainsay it.
    (first_is_mortise && !has(second, "mortise")) || (second_is_tenon && !has(first, "tenon"))
}

/// Tenons of which none goes into any mortise are likely to be mortises.
fn wider(tenons: &Widths, mortises: &Widths) -> Option<String> {
    let least = tenons
        .widths
        .iter()
        .copied()
        .reduce(|a, b| if b < a { b } else { a })?;
    let most = mortises
        .widths
        .iter()
        .copied()
        .reduce(|a, b| if b > a { b } else { a })?;
    (least > most).then(|| {
        format!(
            "Every piece of {} (tenons) is wider than every piece of {} (mortises): are the files swapped? The tenons come first.",
            tenons.name, mortises.name
        )
    })
}

fn widths(path: &Path, column: Option<&str>) -> Result<Widths, String> {
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
    Ok(Widths {
        widths: readings.raw().iter().map(|inches| inches.inch()).collect(),
        head: readings.column().to_owned(),
        name,
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn headings_say_which_file_is_which() {
        assert!(are_swapped("mortise (in)", "tenon (in)"));
        assert!(
            are_swapped("Mortise (in)", "width (in)") && are_swapped("width (in)", "tenon (mm)")
        );
        for (first, second) in [
            ("tenon (in)", "mortise (in)"),
            ("width (in)", "width (in)"),
            ("tenon (in)", "tenon (in)"),
            ("tenon for mortise (in)", "width (in)"),
        ] {
            assert!(!are_swapped(first, second), "{first} {second}");
        }
    }
}
