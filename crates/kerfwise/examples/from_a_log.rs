//! A log of set-ups becomes sources, and a study of the caliper a judgement of it: `cargo run --example from_a_log`.
//!
//! The data are invented; `datasets/set-ups/README.md` tells how.

#![expect(clippy::print_stdout, reason = "an example shows what it finds")]

use kerfwise::gauge::{
    Confidence, GaugeReading, GaugeStudy, Interaction, Log, LogNames, LogReading,
};
use kerfwise::plan::read_log;
use kerfwise::prelude::*;

const TENONS: &str = include_str!("../../../datasets/set-ups/tenons.csv");
const CALIPER: &str = include_str!("../../../datasets/set-ups/caliper-study.csv");

fn main() -> Result<(), Box<dyn std::error::Error>> {
    let file = read_log("tenons.csv", TENONS, &["set-up", "piece"], "tenon (in)")?;
    let rows: Vec<LogReading<'_>> = file
        .rows()
        .iter()
        .map(|row| LogReading {
            set_up: &row.labels[0],
            piece: &row.labels[1],
            reading: row.raw,
        })
        .collect();
    let log = Log::new(&rows)?;
    let spreads = log.spreads(Confidence::default());
    let thou = |x: f64| 1000.0 * x;
    println!("{} set-ups, {} pieces", log.set_ups(), log.pieces());
    println!("mean {:.2} thou", thou(log.mean()));
    let repeat = spreads.repeat.map(|repeat| ("reading again", repeat));
    for (name, spread) in [("set-up", spreads.set_up), ("piece", spreads.piece)]
        .into_iter()
        .chain(repeat)
    {
        let interval = spread.standard_deviation_interval();
        println!(
            "{name}: {:.2} thou, between {:.2} and {:.2}",
            thou(spread.standard_deviation()),
            thou(interval.lower),
            thou(interval.upper)
        );
    }
    println!(
        "{} set-ups would know the first within half of itself",
        log.set_ups_for(1.5, Confidence::default())?
    );

    let sources = log.sources(&LogNames {
        name: "tenon",
        dimension: file.dimension(),
        set_up: Event::tenon_set_up(),
        piece: Event::piece(),
        limits_at_sd: Some(3.0),
        readings: "tenons.csv",
    })?;
    let tenon = [&sources.mean, &sources.set_up, &sources.piece].map(Expr::source);
    let [mean, set_up, piece] = tenon;
    let mortise = Expr::constant(0.3745.inch());
    let fit = mean + set_up + piece - mortise;
    let band = Band::within(5.thou())?;
    let stack = Stack::builder().outcome("fit", &fit, band).build()?;
    let outcome = stack.outcome("fit").ok_or("it was just named")?;
    println!(
        "chance of a fit: {:.4}",
        outcome.exact()?.chance(&band).value.inside
    );

    let file = read_log(
        "caliper-study.csv",
        CALIPER,
        &["part", "person"],
        "thickness (in)",
    )?;
    let rows: Vec<GaugeReading<'_>> = file
        .rows()
        .iter()
        .map(|row| GaugeReading {
            part: &row.labels[0],
            person: &row.labels[1],
            reading: row.raw,
        })
        .collect();
    let found = GaugeStudy::new(&rows)?.components(Interaction::Tested, Confidence::default());
    let (share, interval) = found.share_of_band(0.010)?;
    println!(
        "the caliper uses up {:.0} % of a band of 10 thou (between {:.0} and {:.0} %)",
        100.0 * share,
        100.0 * interval.lower,
        100.0 * interval.upper
    );
    Ok(())
}
