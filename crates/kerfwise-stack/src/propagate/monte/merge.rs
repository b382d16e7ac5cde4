//! Normals that reach the outcomes only as one and the same sum, drawn as one.

use crate::op::Op;
use crate::problem::Problem;
use crate::tape::Code;
use kerfwise_numeric::float;
use kerfwise_numeric::stream::name_key;
use kerfwise_source::Distribution;
use std::collections::BTreeMap;

/// One draw for several normals, put in the place of the first of them.
pub(super) struct Merged {
    pub(super) input: usize,
    pub(super) name: String,
    pub(super) key: u64,
    pub(super) mean: f64,
    pub(super) sd: f64,
}

/// Inputs, each with a coefficient or a value.
type Terms = Vec<(usize, f64)>;

/// In what a value is seen, and with what coefficients: the outputs, and whatever else than a sum is made of it. Sums in
/// between are not seen, but what is made of them.
type Uses = BTreeMap<usize, f64>;

/// Sets of at least two of these inputs, each with the values at which all but the first are held: 0, for the merged draw
/// has their means too.
///
/// Normals X and Y may be merged when they are only ever added, and whatever sum is seen that has one in it has the
/// other too, in the same proportion λ: then all that is ever seen of them is X + λY, which is normal with mean μ + λν and
/// variance σ² + λ²τ². Two outcomes that share them in different proportions keep both apart.
pub(super) fn normals(problem: &Problem, inputs: &[usize]) -> Vec<(Merged, Terms)> {
    let uses = uses(problem);
    let mut sets: BTreeMap<Vec<(usize, u64)>, Terms> = BTreeMap::new();
    for &input in inputs {
        let is_normal = matches!(
            problem.variables[input].source.error(),
            Distribution::Normal(_)
        );
        let uses = &uses[input];
        if is_normal
            && let Some((_, &first)) = uses.first_key_value()
            && first != 0.0
            && !uses.contains_key(&input)
        {
            let shape = uses.iter().map(|(step, c)| (*step, (c / first).to_bits()));
            sets.entry(shape.collect())
                .or_default()
                .push((input, first));
        }
    }
    let mut sets: Vec<_> = sets.into_values().filter(|set| set.len() > 1).collect();
    sets.sort_by_key(|set| set[0].0);
    (0..)
        .zip(sets)
        .filter_map(|(number, set)| merged(problem, number, &set))
        .collect()
}

/// Of inputs with their coefficients in one sum; `None` where numbers overflow.
fn merged(problem: &Problem, number: usize, set: &[(usize, f64)]) -> Option<(Merged, Terms)> {
    let (first, unit) = *set.first()?;
    let (mut sd, mut settled) = (0.0, Vec::new());
    let mut centre = 0.0;
    for &(input, coefficient) in set {
        let variable = &problem.variables[input];
        let Distribution::Normal(error) = variable.source.error() else {
            return None;
        };
        let mean = variable.source.estimate().raw() + error.mean();
        let proportion = coefficient / unit;
        sd = float::hypot(sd, proportion * error.sd());
        centre += proportion * mean;
        if input != first {
            settled.push((input, 0.0));
        }
    }
    // No source name begins with a "#".
    let name = format!("#normals {number}");
    (sd.is_finite() && centre.is_finite()).then(|| {
        let set = Merged {
            input: first,
            key: name_key(&name),
            name,
            mean: centre,
            sd,
        };
        (set, settled)
    })
}

/// In what each value is seen, itself among it where anything but a sum reads it or it is an output.
fn uses(problem: &Problem) -> Vec<Uses> {
    let tape = &problem.tape;
    let mut uses = vec![Uses::new(); tape.values()];
    for output in 0..tape.outputs() {
        let value = tape.output_value(output);
        uses[value].insert(value, 1.0);
    }
    // The last first: what is made of a value is then known.
    let mut steps: Vec<_> = tape.steps().collect();
    while let Some(step) = steps.pop() {
        let of_sum = std::mem::take(&mut uses[step.value]);
        for (k, &arg) in step.args.iter().enumerate() {
            let coefficient = match step.code {
                Code::Sum => Some(step.coefficients[k]),
                Code::Op(Op::Add) => Some(1.0),
                Code::Op(Op::Sub) => Some(if k == 0 { 1.0 } else { -1.0 }),
                _ => None,
            };
            let arg = arg as usize;
            if let Some(coefficient) = coefficient {
                for (place, factor) in &of_sum {
                    *uses[arg].entry(*place).or_insert(0.0) += coefficient * factor;
                }
            } else {
                uses[arg].insert(arg, 1.0);
            }
        }
    }
    uses
}
