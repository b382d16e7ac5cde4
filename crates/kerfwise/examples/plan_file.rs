//! A plan read from a file: `cargo run --example plan_file -- datasets/plant-stands/plan.toml`.

#![expect(clippy::print_stdout, reason = "an example shows what it finds")]

use kerfwise::prelude::*;
use std::path::Path;

fn main() -> Result<(), Box<dyn std::error::Error>> {
    let plan = match std::env::args().nth(1) {
        Some(path) => Plan::from_path(Path::new(&path))?,
        None => kerfwise::plan::demo()?,
    };
    println!("{}", plan.title());
    for outcome in plan.stack().outcomes() {
        println!("{} = {}", outcome.name(), outcome.expr());
        match (outcome.exact(), outcome.band()) {
            (Ok(exact), Some(band)) => {
                let Chance {
                    below,
                    inside,
                    above,
                } = exact.chance(&band).value;
                println!("  below {below:.4}, inside {inside:.4}, above {above:.4}");
            }
            (Err(decline), _) => println!("  {decline}"),
            (Ok(_), None) => println!("  has no band"),
        }
    }
    Ok(())
}
