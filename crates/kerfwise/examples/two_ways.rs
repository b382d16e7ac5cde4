//! Two ways to cut the same tenon, for a class: shifted off one face it is blind to stock thickness, turned over at one
//! setting it is not. At which spread of the stock do they break even? All numbers are invented.

#![expect(clippy::print_stdout, reason = "an example shows what it finds")]

use kerfwise::joint::{TenonFit, TurnedTenon};
use kerfwise::prelude::*;
use kerfwise::stack::Outcome;

/// Standard uncertainties, in thou.
const TRAVEL: f64 = 1.0;
const KERF: f64 = 1.25;
const DISTANCE: f64 = 0.5;
const SEATING: f64 = 0.6;

fn main() -> Result<(), Box<dyn std::error::Error>> {
    let mortise = Mortise::at_feel(&known("mortise", 0.375, 0.3)?);
    let seating = Cuts::alike("seating", |s| s.normal(SEATING.thou()))?;

    let travel = Travel::of(0.5.inch())?.with(&known("dial", 0.0, TRAVEL)?);
    let kerf = Kerf::from_source(&known("kerf", 0.125, KERF)?);
    let shifted = ShiftedTenon::new(travel, kerf, mortise.clone())
        .seating(seating.clone())
        .stack()?;
    let distance = known("distance", 0.5625, DISTANCE)?;

    println!("shifted: {}", fit(&shifted)?.expr());
    let blind = inside(&shifted)?;
    println!(
        "{:.2} % inside the band, whatever the stock\n",
        100.0 * blind
    );
    for stock_sd in [0.5, 1.0, 1.25, 1.5, 2.0, 3.0] {
        let stock = known("stock", 0.75, stock_sd)?;
        let tenon = TurnedTenon::new(&distance, &stock)
            .seating(seating.clone())
            .tenon();
        let turned = TenonFit::new(tenon, mortise.clone()).stack()?;
        if stock_sd < 1.0 {
            println!("turned: {}", fit(&turned)?.expr());
        }
        let chance = inside(&turned)?;
        // Alike to nine digits is alike.
        let verdict = match chance - blind {
            better if better > 1e-9 => "turn it over",
            worse if worse < -1e-9 => "shift it",
            _ => "break even",
        };
        println!(
            "stock sd {stock_sd:.2} thou: {:.2} % inside: {verdict}",
            100.0 * chance
        );
    }
    let even = TRAVEL * TRAVEL + KERF * KERF - 4.0 * DISTANCE * DISTANCE;
    println!(
        "\nby hand: stock² = travel² + kerf² − (2 · distance)² = {even}, so {} thou",
        even.sqrt()
    );
    Ok(())
}

fn known(name: &str, inches: f64, sd_thou: f64) -> Result<Source, Box<dyn std::error::Error>> {
    let source = Source::new(name, inches.inch()).normal(sd_thou.thou());
    Ok(source.assumed("invented").build()?)
}

fn fit(stack: &Stack) -> Result<Outcome<'_>, Box<dyn std::error::Error>> {
    Ok(stack
        .outcome(ShiftedTenon::FIT)
        .ok_or("no outcome \"fit\"")?)
}

fn inside(stack: &Stack) -> Result<f64, Box<dyn std::error::Error>> {
    let fit = fit(stack)?;
    let band = fit.band().ok_or("no band")?;
    Ok(fit.exact()?.chance(&band).value.inside)
}
