//! An outcome turned so that the wanted end of its range is a maximum.

use super::limits::Limits;
use crate::Outcome;
use crate::run::interval::{gradient, interval};
use crate::run::point;
use crate::tape::Tape;
use kerfwise_numeric::interval::Interval;

/// Which end of the range.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) enum End {
    Lower,
    Upper,
}

impl End {
    /// The outcome from the objective, or the objective from the outcome.
    pub(super) fn turn(self, x: f64) -> f64 {
        match self {
            Self::Lower => -x,
            Self::Upper => x,
        }
    }

    fn turn_interval(self, x: Interval) -> Interval {
        match self {
            Self::Lower => -x,
            Self::Upper => x,
        }
    }
}

/// Somewhere within the limits the outcome is not defined, or cannot be shown to be.
#[derive(Debug)]
pub(super) struct Undefined {
    pub(super) reason: String,
    /// Values of all inputs at which it is not defined, where one was found.
    pub(super) at: Option<Vec<f64>>,
}

/// What is made as large as possible, as a function of the inputs that are not yet fixed ("free").
pub(super) struct Objective<'a> {
    tape: &'a Tape,
    output: usize,
    pub(super) end: End,
    /// All inputs; the free ones are overwritten at every evaluation.
    inputs: Vec<Interval>,
    /// The whole sides of the free inputs.
    pub(super) sides: Vec<Interval>,
    free: Vec<usize>,
    point_inputs: Vec<f64>,
    point_values: Vec<f64>,
    interval_scratch: Vec<Interval>,
}

impl<'a> Objective<'a> {
    pub(super) fn new(outcome: Outcome<'a>, limits: &Limits, end: End) -> Self {
        let inputs = limits.inputs.clone();
        let free: Vec<usize> = limits
            .used
            .iter()
            .copied()
            .filter(|&i| !is_point(inputs[i]))
            .collect();
        Self {
            tape: &outcome.stack.problem.tape,
            output: outcome.index,
            end,
            sides: free.iter().map(|&i| inputs[i]).collect(),
            free,
            point_inputs: inputs.iter().map(|side| side.lo()).collect(),
            inputs,
            point_values: Vec::new(),
            interval_scratch: Vec::new(),
        }
    }

    /// Fixes every input in which the objective is monotone over the whole box at its better end. Fixing some narrows
    /// the derivatives of others, so it is repeated until nothing is fixed.
    pub(super) fn fix_monotone(&mut self) {
        let mut sides = self.sides.clone();
        while let Ok((_, slopes)) = self.slopes(&sides) {
            if !climb_monotone(&mut sides, &slopes) {
                break;
            }
            let kept: Vec<usize> = (0..sides.len()).filter(|&k| !is_point(sides[k])).collect();
            for (k, side) in sides.iter().enumerate() {
                self.inputs[self.free[k]] = *side;
                self.point_inputs[self.free[k]] = side.lo();
            }
            self.free = kept.iter().map(|&k| self.free[k]).collect();
            sides = kept.iter().map(|&k| sides[k]).collect();
        }
        self.sides = sides;
    }

    /// The objective at a point.
    pub(super) fn value(&mut self, x: &[f64]) -> Result<f64, Undefined> {
        self.place(x);
        let steps = self.tape.steps_of(self.output);
        point::fill(self.tape, &self.point_inputs, &mut self.point_values, steps);
        let value = self.point_values[self.tape.output_value(self.output)];
        if value.is_finite() {
            return Ok(self.end.turn(value));
        }
        if value.is_infinite() {
            return Err(Undefined {
                reason: "the outcome is too large to be held".to_owned(),
                at: None,
            });
        }
        let here: Option<Vec<Interval>> = x.iter().map(|&v| Interval::point(v)).collect();
        let reason = here.and_then(|sides| self.enclosure(&sides).err());
        Err(Undefined {
            reason: reason.unwrap_or_else(|| "it is not a number there".to_owned()),
            at: Some(self.point_inputs.clone()),
        })
    }

    /// How many operations an evaluation takes.
    pub(super) fn operations(&self) -> usize {
        self.tape.steps_of(self.output).count()
    }

    /// All inputs at a point.
    pub(super) fn all_inputs(&mut self, x: &[f64]) -> Vec<f64> {
        self.place(x);
        self.point_inputs.clone()
    }

    /// Guaranteed range of the objective over a box.
    pub(super) fn enclosure(&mut self, sides: &[Interval]) -> Result<Interval, String> {
        self.place_sides(sides);
        let range = interval(
            self.tape,
            self.output,
            &self.inputs,
            &mut self.interval_scratch,
        )?;
        Ok(self.end.turn_interval(range))
    }

    /// Guaranteed ranges of the objective and of its derivatives by the free inputs over a box.
    pub(super) fn slopes(
        &mut self,
        sides: &[Interval],
    ) -> Result<(Interval, Vec<Option<Interval>>), String> {
        self.place_sides(sides);
        let (range, by_input) = gradient(self.tape, self.output, &self.inputs)?;
        let end = self.end;
        let slopes = self
            .free
            .iter()
            .map(|&i| by_input[i].map(|slope| end.turn_interval(slope)))
            .collect();
        Ok((end.turn_interval(range), slopes))
    }

    fn place(&mut self, x: &[f64]) {
        for (&i, &v) in self.free.iter().zip(x) {
            self.point_inputs[i] = v;
        }
    }

    fn place_sides(&mut self, sides: &[Interval]) {
        for (&i, &side) in self.free.iter().zip(sides) {
            self.inputs[i] = side;
        }
    }
}

/// Moves every side along which the objective only rises, or only falls, to its better end; whether any moved.
pub(super) fn climb_monotone(sides: &mut [Interval], slopes: &[Option<Interval>]) -> bool {
    let mut has_moved = false;
    for (side, slope) in sides.iter_mut().zip(slopes) {
        let Some(slope) = slope else { continue };
        let better = if slope.lo() >= 0.0 {
            side.hi()
        } else if slope.hi() <= 0.0 {
            side.lo()
        } else {
            continue;
        };
        if let (false, Some(end)) = (is_point(*side), Interval::point(better)) {
            *side = end;
            has_moved = true;
        }
    }
    has_moved
}

#[expect(
    clippy::float_cmp,
    reason = "a side is a point when its ends are the same number"
)]
pub(super) fn is_point(side: Interval) -> bool {
    side.lo() == side.hi()
}
