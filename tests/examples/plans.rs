//! Writes every case of the record of outside checks as a plan file, for the second route in `tests/python`:
//! `cargo run -p kerfwise-tests --example plans -- FOLDER`.
#![expect(clippy::print_stdout, reason = "this is a command")]

use kerfwise_tests::checks::{cases, plan_text};
use std::error::Error;
use std::path::PathBuf;

fn main() -> Result<(), Box<dyn Error>> {
    let folder = std::env::args().nth(1).ok_or("name a folder")?;
    let mut plans = 0;
    for case in cases()? {
        // A row of a table of functions has no plan.
        if case.inputs.is_empty() {
            continue;
        }
        let place = PathBuf::from(&folder).join(&case.id);
        std::fs::create_dir_all(&place)?;
        let (text, files) = plan_text(&case)?;
        std::fs::write(place.join("plan.toml"), text)?;
        for (path, text) in files {
            std::fs::write(place.join(path), text)?;
        }
        plans += 1;
    }
    println!("{plans} plans in {folder}");
    Ok(())
}
