//! The sources that are held fixed, and the nodes at which.

use super::super::measure::Measure;
use super::super::part::{Part, Shape};
use super::super::quadrature::Kink;
use super::super::sum::Sum;
use super::Sought;
use crate::Outcome;
use crate::op::Op;
use crate::run::affine::affine;
use crate::run::point;
use crate::tape::{Code, Tape};
use kerfwise_numeric::root::{RootTolerance, find_root};

/// Values of the held sources, and their weight.
pub(super) type Node = (Vec<f64>, f64);

/// Sources that are held fixed.
pub(super) struct Held<'a> {
    tape: &'a Tape,
    output: usize,
    /// Inputs, and where the error of each is counted from.
    sources: Vec<(usize, f64, Part)>,
    /// Values of all inputs, estimates where nothing is held.
    at: Vec<f64>,
    /// Values of the inputs that are known.
    known: Vec<Option<f64>>,
    pub(super) names: Vec<String>,
}

impl<'a> Held<'a> {
    /// Whether the outcome is affine once these inputs are fixed.
    pub(super) fn is_enough(outcome: Outcome<'_>, inputs: &[usize]) -> bool {
        let problem = &outcome.stack.problem;
        let mut known: Vec<Option<f64>> = problem
            .variables
            .iter()
            .map(|variable| variable.known_value())
            .collect();
        // At an odd place: a factor that happens to be 0 at the estimates would hide what it multiplies.
        for &input in inputs {
            let source = &problem.variables[input].source;
            known[input] = Some(source.estimate().raw() + source.error().quantile(0.3819));
        }
        affine(&problem.tape, outcome.index, &known).is_ok()
    }

    pub(super) fn of(outcome: Outcome<'a>, inputs: &[usize]) -> Result<Self, String> {
        let problem = &outcome.stack.problem;
        let variables = &problem.variables;
        let mut sources = Vec::with_capacity(inputs.len());
        for &input in inputs {
            let source = &variables[input].source;
            let (reference, part) = Part::new(source.error(), 1.0)?;
            // A law that collapses to a point bends nothing.
            let part = part.ok_or_else(|| format!("source \"{}\" is a point", source.name()))?;
            sources.push((input, source.estimate().raw() + reference, part));
        }
        let known: Vec<Option<f64>> = variables.iter().map(|v| v.known_value()).collect();
        let at = variables
            .iter()
            .map(|v| v.known_value().unwrap_or(v.source.estimate().raw()))
            .collect();
        Ok(Self {
            tape: &problem.tape,
            output: outcome.index,
            sources,
            at,
            known,
            names: inputs.iter().map(|&i| variables[i].name.clone()).collect(),
        })
    }

    pub(super) fn answer(self, sum: Sum, off: f64) -> Sought {
        Sought {
            sum,
            off,
            held: self.names,
        }
    }

    /// Whether the sources have single values only, so that the nodes are all there is.
    pub(super) fn is_countable(&self) -> bool {
        let is_atoms = |part: &Part| matches!(part.shape, Shape::Atoms(_));
        self.sources.iter().all(|(_, _, part)| is_atoms(part))
    }

    pub(super) fn inputs(&self) -> impl Iterator<Item = usize> {
        self.sources.iter().map(|(input, _, _)| *input)
    }

    /// What is known of each input, whatever the held ones are.
    pub(super) fn known(&self) -> &[Option<f64>] {
        &self.known
    }

    /// All combinations of the nodes of each, their weights adding to 1.
    pub(super) fn nodes(&self, order: usize, pieces: u32) -> Vec<Node> {
        let mut nodes: Vec<Node> = vec![(Vec::new(), 1.0)];
        let mut at = self.at.clone();
        for (input, from, part) in &self.sources {
            let mut more = Vec::new();
            for (values, weight) in nodes {
                for (held, value) in self.inputs().zip(&values) {
                    at[held] = *value;
                }
                let kinks = self.kinks(&mut at, *input, *from, part);
                for (x, share) in rule(part, order, pieces, &kinks) {
                    let mut values = values.clone();
                    values.push(from + x);
                    more.push((values, weight * share));
                }
            }
            nodes = more;
        }
        let total: f64 = nodes.iter().map(|(_, weight)| weight).sum();
        for (_, weight) in &mut nodes {
            *weight /= total;
        }
        nodes
    }

    /// Where the outcome has kinks along one input, from its reference point.
    fn kinks(&self, at: &mut [f64], input: usize, from: f64, part: &Part) -> Vec<Kink> {
        let steps = || {
            self.tape.steps_of(self.output).filter(|step| {
                matches!(
                    step.code,
                    Code::Op(Op::Abs | Op::Min | Op::Max | Op::Sqrt | Op::Asin | Op::Acos)
                )
            })
        };
        if steps().next().is_none() {
            return Vec::new();
        }
        let mut values = Vec::new();
        let mut run = |at: &mut [f64], x: f64| {
            at[input] = from + x;
            point::fill(self.tape, at, &mut values, self.tape.steps_of(self.output));
            let sides = steps().map(|step| {
                let (a, b) = (values[step.arg(0)], values[step.arg(1)]);
                match step.code {
                    Code::Op(Op::Min | Op::Max) => (a - b, false),
                    Code::Op(Op::Abs) => (a, false),
                    Code::Op(op) => (1.0, op.is_kink(a, b)),
                    _ => (1.0, false),
                }
            });
            sides.collect::<Vec<(f64, bool)>>()
        };
        let (least, most) = part.law.support();
        let mut places: Vec<f64> = rule(part, 24, 4, &[]).iter().map(|node| node.0).collect();
        places.extend([least, most].into_iter().filter(|x| x.is_finite()));
        places.sort_by(f64::total_cmp);
        let sides: Vec<Vec<(f64, bool)>> = places.iter().map(|&x| run(at, x)).collect();
        let mut kinks = Vec::new();
        for (pair, x) in sides.windows(2).zip(places.windows(2)) {
            for (k, (one, other)) in pair[0].iter().zip(&pair[1]).enumerate() {
                if (one.0 < 0.0) != (other.0 < 0.0) {
                    let side = |x: f64| run(at, x)[k].0;
                    let fine = RootTolerance {
                        absolute: 0.0,
                        relative: 1e-15,
                    };
                    kinks.extend(find_root(side, x[0], x[1], fine).map(|at| Kink::corner(at.x)));
                }
            }
        }
        // A slope without bound stands at the end of where something is defined.
        for (sides, x) in sides.iter().zip(&places) {
            if sides.iter().any(|(_, is_root)| *is_root) {
                kinks.push(Kink::root(*x, 2));
            }
        }
        kinks
    }
}

/// Nodes of a law, from its reference point.
fn rule(part: &Part, order: usize, pieces: u32, kinks: &[Kink]) -> Vec<(f64, f64)> {
    match &part.shape {
        Shape::Atoms(atoms) => atoms.iter().map(|(x, w)| (part.centre + x, *w)).collect(),
        Shape::Mixture(components) => {
            let mut nodes = Vec::new();
            for component in components {
                let moved = |kink: &Kink| Kink {
                    at: kink.at - component.place,
                    power: kink.power,
                };
                let kinks: Vec<Kink> = kinks.iter().map(moved).collect();
                let own = component.part.as_ref().map_or_else(
                    || vec![(0.0, 1.0)],
                    |part| rule(part, order, pieces, &kinks),
                );
                nodes.extend(
                    own.iter()
                        .map(|(x, w)| (component.place + x, component.weight * w)),
                );
            }
            nodes
        }
        _ => Measure::new(part).rule(order, pieces, kinks),
    }
}
