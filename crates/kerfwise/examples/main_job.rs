//! The main job in library calls: what to dial, how likely a joint and the whole batch fits, which
//! error eats the band. All numbers are invented.

#![expect(clippy::print_stdout, reason = "an example shows what it finds")]

use kerfwise::prelude::*;

fn main() -> Result<(), Box<dyn std::error::Error>> {
    // Readings of three test cuts and of six mortises at the wanted feel, in inches.
    let cuts = TypeA::from_readings(&[0.1258, 0.1262, 0.1259])?;
    let slots = TypeA::from_readings(&[0.3752, 0.3745, 0.3756, 0.3749, 0.3761, 0.3750])?;

    let kerf = Source::new("kerf", cuts.mean().inch())
        .error(cuts.error_of_mean())
        .event(Event::blade())
        .measured("three test cuts")
        .build()?;
    let caliper = Source::new("caliper", 0.0.inch())
        .rectangular(0.8.thou())
        .event(Event::gauge())
        .stated("DIN 862 limit of error of 20 µm, as quoted by a maker")
        .build()?;
    let mortise = Source::new("mortise", slots.mean().inch())
        .error(slots.error_of_mean())
        .event(Event::mortise_set_up())
        .measured("six mortises, opposed wedges at the wanted feel")
        .build()?;
    let spread = Source::new("mortise_spread", 0.0.inch())
        .error(slots.spread())
        .event(Event::piece())
        .measured("the same six mortises")
        .build()?;
    let trade = "common practice, no source";
    let residual = Source::new("lock_residual", 0.0.inch())
        .normal(0.5.thou())
        .event(Event::jig_move())
        .assumed(trade)
        .build()?;
    let seating = Cuts::alike("seating", |s| s.normal(0.6.thou()).assumed(trade))?;

    let lock_down = LockDown::ReadAfter { residual };

    let at = |travel: Length| {
        ShiftedTenon::new(
            Travel::of(travel)?,
            Kerf::from_test_cut(&kerf, &caliper),
            Mortise::at_feel(&mortise).with(&spread),
        )
        .lock_down(lock_down.clone())
        .seating(seating.clone())
        .stack()
    };

    let setting = Setting::best(&SettingOptions::around(0.5.inch()), "fit", at)?;
    println!("dial {:.4} in", setting.best.to_inches());

    let stack = at(setting.best)?;
    let fit = stack.outcome("fit").ok_or("no outcome \"fit\"")?;
    println!("fit = {}", fit.expr());
    println!("one joint fits: {:.2} %", setting.chance.inside * 100.0);
    let batch = fit.batch(Batch::of(24))?;
    println!("all 24 fit: {:.1} %", batch.all.value * 100.0);
    let budget = fit.root_sum_of_squares(RootSumOfSquares::new())?.budget;
    for line in budget.iter().take(3) {
        let percent = line.share * 100.0;
        println!("{} makes {percent:.0} % of the variance", line.name);
    }
    Ok(())
}
