use crate::{Faults, Plan};

/// The text of the demonstration plan: three ash plant stands, 24 rail-to-leg joints. All its data are invented.
pub const DEMO_PLAN: &str = "";

/// The demonstration plan, with its readings, read from inside this program.
///
/// # Errors
///
/// None, as long as the tests pass.
pub fn demo() -> Result<Plan, Faults> {
    todo!()
}
