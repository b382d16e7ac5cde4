use crate::{Faults, Plan};
use std::io;

/// The text of the demonstration plan: three ash plant stands, 24 rail-to-leg joints. All its data are
/// invented.
pub const DEMO_PLAN: &str = include_str!("../demo/plan.toml");

const KERF: &str = include_str!("../demo/kerf.csv");
const MORTISE: &str = include_str!("../demo/mortise.csv");

/// The demonstration plan with its readings, read from inside of this program.
///
/// # Errors
///
/// None, as long as the tests of this crate pass.
///
/// ```
/// let plan = kerfwise_plan::demo()?;
/// assert_eq!(plan.pieces(), Some(24));
/// assert_eq!(plan.joint().unwrap().dialled().to_inches(), 0.5005);
/// # Ok::<(), kerfwise_plan::Faults>(())
/// ```
pub fn demo() -> Result<Plan, Faults> {
    Plan::parse("plant-stands/plan.toml", DEMO_PLAN, &|path| match path {
        "readings/kerf.csv" => Ok(KERF.to_owned()),
        "readings/mortise.csv" => Ok(MORTISE.to_owned()),
        _ => Err(io::ErrorKind::NotFound.into()),
    })
}
