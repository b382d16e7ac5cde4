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

/// Where an input is used, and with what coefficients; `None` where anything but a sum reads it.
type Uses = Option<BTreeMap<usize, f64>>;

/// Sets of at least two of these inputs, each with the values at which all but the first are held.
///
/// Normals X and Y may be merged when every sum that reads one reads the other, in the same proportion λ: then all that
/// is ever seen of them is X + λY, which is normal with variance σ² + λ²τ². Two outcomes that share them in different
/// proportions keep both apart.
pub(super) fn normals(problem: &Problem, inputs: &[usize]) -> Vec<(Merged, Terms)> {
    let uses = uses(problem);
    let mut sets: BTreeMap<Vec<(usize, u64)>, Terms> = BTreeMap::new();
    for &input in inputs {
        let is_normal = matches!(
            problem.variables[input].source.error(),
            Distribution::Normal(_)
        );
        if let Some(uses) = uses[input].as_ref().filter(|_| is_normal)
            && let Some((_, &first)) = uses.first_key_value()
            && first != 0.0
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
        sd = float::hypot(sd, coefficient / unit * error.sd());
        if input == first {
            centre = mean;
        } else {
            settled.push((input, mean));
        }
    }
    // No source name begins with a "#".
    let name = format!("#normals {number}");
    sd.is_finite().then(|| {
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

/// How each input is used.
fn uses(problem: &Problem) -> Vec<Uses> {
    let tape = &problem.tape;
    let mut uses: Vec<Uses> = vec![Some(BTreeMap::new()); tape.inputs()];
    for step in tape.steps() {
        for (k, &arg) in step.args.iter().enumerate() {
            let coefficient = match step.code {
                Code::Sum => Some(step.coefficients[k]),
                Code::Op(Op::Add) => Some(1.0),
                Code::Op(Op::Sub) => Some(if k == 0 { 1.0 } else { -1.0 }),
                _ => None,
            };
            if let Some(uses) = uses.get_mut(arg as usize) {
                match (coefficient, &mut *uses) {
                    (Some(c), Some(uses)) => *uses.entry(step.value).or_insert(0.0) += c,
                    _ => *uses = None,
                }
            }
        }
    }
    for output in 0..tape.outputs() {
        if let Some(uses) = uses.get_mut(tape.output_value(output)) {
            *uses = None;
        }
    }
    uses
}
