use super::super::table::Row;
use super::{Answer, Asker, Got, level, unknown};
use kerfwise_stack::{MonteCarlo, MonteCarloOutcome};

/// What makes a run: trials, digits of the adaptive procedure, level (as bits).
pub(super) type Run = (u64, Option<u32>, u64);

impl Asker<'_> {
    pub(super) fn monte_carlo(&mut self, row: &Row) -> Got {
        let trials = row.trials.ok_or("Monte Carlo needs trials")?;
        let run: Run = (trials, row.adaptive, level(row).to_bits());
        if !self.runs.iter().any(|(of, _)| *of == run) {
            let mut options = MonteCarlo::new().trials(trials).level(level(row));
            if let Some(digits) = row.adaptive {
                options = options.adaptive(digits);
            }
            let joint = self.joint()?;
            let stack = joint.as_ref().unwrap_or(self.plan()?.stack());
            let answer = stack.monte_carlo(options).map_err(|d| d.to_string())?;
            self.runs.push((run, answer));
        }
        let found = self.runs.iter().find(|(of, _)| *of == run);
        let (_, answer) = found.ok_or("the run is lost")?;
        if row.ask == "all outcomes inside" {
            let joint = answer.joint.as_ref().ok_or("no outcome has a band")?;
            return Ok(Answer::from(joint.value));
        }
        let outcome = match row.of.as_deref() {
            Some(name) => answer.outcomes.iter().find(|o| o.name == name),
            None => answer.outcomes.first(),
        };
        one(row, outcome.ok_or("no such outcome")?)
    }
}

fn one(row: &Row, outcome: &MonteCarloOutcome) -> Got {
    let chance = || outcome.chance.ok_or_else(|| "no band".to_owned());
    let value = match row.ask.as_str() {
        "estimate" => outcome.mean.value.raw(),
        "u" => outcome.standard_deviation.value.raw(),
        "lower" => outcome.symmetric.lower.raw(),
        "upper" => outcome.symmetric.upper.raw(),
        "half-width" => 0.5 * (outcome.symmetric.upper.raw() - outcome.symmetric.lower.raw()),
        "shortest lower" => outcome.shortest.lower.raw(),
        "shortest upper" => outcome.shortest.upper.raw(),
        "shortest width" => outcome.shortest.upper.raw() - outcome.shortest.lower.raw(),
        "below" => chance()?.below,
        "inside" => chance()?.inside,
        "above" => chance()?.above,
        _ => return Err(unknown(row)),
    };
    Ok(Answer::from(value))
}
