//! A stack that is no joint of the library: a drawer in its opening, written as algebra in text and
//! propagated in all four ways. All numbers are invented.

#![expect(clippy::print_stdout, reason = "an example shows what it finds")]

use kerfwise::prelude::*;

fn main() -> Result<(), Box<dyn std::error::Error>> {
    let opening = Source::new("opening", 12.0.inch())
        .normal(0.01.inch())
        .build()?;
    let drawer = Source::new("drawer", 11.92.inch())
        .rectangular(0.015.inch())
        .build()?;
    let shim = Source::new("shim", 0.01.inch())
        .triangular(2.0.thou())
        .build()?;

    let gap = Expr::parse("opening - drawer - 2 * shim", &[opening, drawer, shim])?;
    let band = Band::between(0.03.inch(), 0.09.inch())?;
    let stack = Stack::builder().outcome("gap", &gap, band).build()?;
    let gap = stack.outcome("gap").ok_or("no outcome \"gap\"")?;

    let worst = gap.worst_case(WorstCase::new().unbounded_at_sd(3.0))?;
    println!(
        "worst case: {} to {}",
        round(worst.lower.bound),
        round(worst.upper.bound)
    );
    let rss = gap.root_sum_of_squares(RootSumOfSquares::new())?;
    println!(
        "root sum of squares: {} ± {}",
        round(rss.estimate),
        round(rss.expanded_uncertainty)
    );
    let exact = gap.exact()?.chance(&band);
    println!("exact: {:.3} % inside the band", exact.value.inside * 100.0);
    let trials = stack.monte_carlo(100_000)?;
    if let Some(chance) = trials.outcomes[0].chance {
        println!(
            "Monte Carlo: {:.1} % inside the band",
            chance.inside * 100.0
        );
    }
    Ok(())
}

fn round(length: Quantity) -> String {
    format!("{:.4} in", length.raw())
}
