//! Simulated shops: the advice of a test cut does what it forecasts, and beats the two habits that it competes with.

mod shop;

use shop::{Shop, Tally};

const SHOPS: u64 = 20_000;
/// Luck between shops outweighs luck between pieces by far, so few pieces do.
const PIECES: usize = 6;

/// How often a joint fits, and how often a move helps, is what was forecast, within four standard errors: one honest run in
/// sixteen thousand lies outside.
#[track_caller]
fn keeps_its_word(tally: &Tally) {
    let off = tally.advised.fits - tally.forecast;
    assert!(off.abs() < 4.0 * tally.forecast_error, "{tally:?}");
    // The forecast of a move's help is good to a percent or so by itself (a dozen places for each part).
    let off = tally.raised.0 - tally.raised.1;
    assert!(off.abs() < 4.0 * tally.raised_error + 0.01, "{tally:?}");
}

/// Better than leaving the jig always, and than always moving it by the last reading, by more than luck.
#[track_caller]
fn beats_both_habits(tally: &Tally) {
    for habit in [tally.never, tally.always] {
        // The same pieces for all ways, so the errors of a difference are less than this.
        let luck = 3.0 * tally.advised.error.max(habit.error);
        assert!(tally.advised.fits > habit.fits + luck, "{tally:?}");
    }
}

#[test]
fn the_advice_keeps_its_word_and_beats_both_habits() {
    let tally = Shop::new(2.5, 1, PIECES).run(SHOPS, 11);
    keeps_its_word(&tally);
    assert!(
        tally.moves > 0.1 && tally.moves < 0.9,
        "both actions are taken: {tally:?}"
    );
    beats_both_habits(&tally);
}

#[test]
fn with_wrong_beliefs_it_promises_too_much_but_still_beats_both_habits() {
    let loose = Shop::new(2.5, 1, PIECES).really_locks(5.0).run(SHOPS, 12);
    beats_both_habits(&loose);
    assert!(loose.forecast > loose.advised.fits, "{loose:?}");
    let wide = Shop::new(2.5, 1, PIECES).really_saws(2.0).run(SHOPS, 13);
    beats_both_habits(&wide);
}
