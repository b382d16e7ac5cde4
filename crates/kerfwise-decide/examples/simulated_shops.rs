//! Simulated shops: what the advice of a test cut is worth, also with wrong beliefs. All numbers are invented.
//!
//! ```console
//! cargo run --release -p kerfwise-decide --example simulated_shops
//! ```

#[path = "../tests/shop/mod.rs"]
#[expect(dead_code, reason = "the tests read the standard errors as well")]
mod shop;

use shop::Shop;

const SHOPS: u64 = 20_000;

#[expect(clippy::print_stdout, reason = "an example prints what it found")]
fn main() {
    println!(
        "lock tests   what is true            never  always  advised  forecast   moves  raised  (forecast)"
    );
    for lock in [0.7, 2.5] {
        for tests in [1, 2] {
            let rows = [
                ("as believed", Shop::new(lock, tests, 24)),
                (
                    "lock twice as large",
                    Shop::new(lock, tests, 24).really_locks(2.0 * lock),
                ),
                (
                    "kerf 2 thou wider",
                    Shop::new(lock, tests, 24).really_saws(2.0),
                ),
            ];
            for (what, shop) in rows {
                let t = shop.run(SHOPS, 7);
                println!(
                    "{lock:4} {tests:5}   {what:20} {:7.2} {:7.2} {:8.2} {:9.2} {:7.1} {:7.1} {:7.1}",
                    100.0 * t.never.fits,
                    100.0 * t.always.fits,
                    100.0 * t.advised.fits,
                    100.0 * t.forecast,
                    100.0 * t.moves,
                    100.0 * t.raised.0,
                    100.0 * t.raised.1,
                );
            }
        }
    }
}
