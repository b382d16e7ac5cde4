use crate::Error;
use kerfwise_stack::Chance;

/// What a joint costs that does not fit: minutes, or any other unit, one for both.
///
/// ```
/// use kerfwise_decide::Costs;
/// use kerfwise_stack::Chance;
///
/// // Four minutes to plane a tight tenon, twenty to cut a loose one again.
/// let costs = Costs { tight: 4.0, loose: 20.0 };
/// let chance = Chance { below: 0.05, inside: 0.85, above: 0.1 };
/// assert!((costs.expected(&chance) - 1.4).abs() < 1e-12);
/// ```
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Costs {
    /// Of a joint that is too tight: to plane it.
    pub tight: f64,
    /// Of a joint that is too loose: to shim it, or to cut it again.
    pub loose: f64,
}

impl Costs {
    /// What a joint costs on average: P(too loose) · loose + P(too tight) · tight, for fits that are tight above the band.
    #[must_use]
    pub fn expected(&self, chance: &Chance) -> f64 {
        self.loose * chance.below + self.tight * chance.above
    }

    /// The dearer of the two.
    pub(crate) fn dearer(&self) -> f64 {
        self.tight.max(self.loose)
    }

    pub(crate) fn check(&self) -> Result<(), Error> {
        for (what, cost) in [("tight", self.tight), ("loose", self.loose)] {
            cost_is_sound(&format!("a {what} joint"), cost)?;
        }
        Ok(())
    }

    /// The same for costs by which one setting is chosen before another.
    pub(crate) fn check_that_they_choose(&self) -> Result<(), Error> {
        self.check()?;
        if self.dearer() <= 0.0 {
            return Err(Error::question(
                "the costs of a tight and of a loose joint are both 0, so no setting is better than another; give at least one \
                 above 0, or none for the greatest chance",
            ));
        }
        Ok(())
    }
}

/// The dearest: sums of such costs still have all their digits.
pub(crate) const MOST: f64 = 1e12;

/// Refuses a cost that is none.
pub(crate) fn cost_is_sound(what: &str, cost: f64) -> Result<(), Error> {
    if (0.0..=MOST).contains(&cost) {
        return Ok(());
    }
    Err(Error::question(format!(
        "the cost of {what} must be a number of at least 0 and at most {MOST} (got {cost})"
    )))
}
