//! The flat program of a stack: one output per outcome, one input per variable.

use crate::expr::Expr;
use crate::function::Function;
use crate::graph::{Graph, GraphKind};
use crate::op::Op;
use std::sync::Arc;

/// A flat program in single-assignment form.
///
/// Values are numbered: first the inputs, then the constants, then one per instruction, each of
/// which uses only values with lower numbers.
#[derive(Debug, Clone)]
pub(crate) struct Tape {
    inputs: usize,
    constants: Vec<f64>,
    instructions: Vec<Instruction>,
    /// The arguments of all instructions, one after the other.
    args: Vec<u32>,
    /// For each argument its coefficient: 1 except in sums.
    coefficients: Vec<f64>,
    outputs: Vec<u32>,
    /// Per output the instructions that it needs, ascending.
    needs: Vec<Vec<u32>>,
    inputs_of: Vec<Vec<usize>>,
    /// Per value the column in which a block run keeps it; columns of inputs, constants and outputs are not reused.
    columns: Vec<u32>,
    column_count: usize,
}

#[derive(Debug, Clone)]
struct Instruction {
    code: Code,
    first_arg: u32,
    arg_count: u32,
    /// What it was made from, to be named in messages.
    origin: Expr,
}

/// What an instruction does.
#[derive(Debug, Clone)]
pub(crate) enum Code {
    Op(Op),
    /// The arguments times their coefficients, added from the left: `((c0 x0 + c1 x1) + c2 x2) + …`.
    /// The same bits as the additions and subtractions that it stands for.
    Sum,
    Function(Arc<Function>),
}

/// One instruction as the runners see it.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Step<'a> {
    pub(crate) code: &'a Code,
    /// The number of the value that it makes.
    pub(crate) value: usize,
    pub(crate) args: &'a [u32],
    pub(crate) coefficients: &'a [f64],
    pub(crate) origin: &'a Expr,
}

impl Step<'_> {
    /// The number of the k-th argument; the first one again where there is no second.
    pub(crate) fn arg(&self, k: usize) -> usize {
        self.args[k.min(self.args.len() - 1)] as usize
    }
}

impl Tape {
    /// How many inputs.
    pub(crate) fn inputs(&self) -> usize {
        self.inputs
    }

    /// How many outputs.
    pub(crate) fn outputs(&self) -> usize {
        self.outputs.len()
    }

    /// The inputs that an output depends on, ascending.
    pub(crate) fn inputs_of(&self, output: usize) -> Vec<usize> {
        self.inputs_of[output].clone()
    }

    /// The first Rust function that an output depends on: nothing is known about it but its facts.
    pub(crate) fn opaque_function(&self, output: usize) -> Option<&str> {
        self.steps_of(output).find_map(|step| match step.code {
            Code::Function(function) => Some(function.name.as_str()),
            _ => None,
        })
    }

    /// The first Rust function under an output that is not declared smooth.
    pub(crate) fn rough_function(&self, output: usize) -> Option<&str> {
        self.steps_of(output).find_map(|step| match step.code {
            Code::Function(function) if !function.facts.is_smooth() => Some(function.name.as_str()),
            _ => None,
        })
    }

    /// Whether an output has no operation with a kink in it: min, max, abs, or a function not declared smooth.
    pub(crate) fn is_smooth(&self, output: usize) -> bool {
        let has_kink = |code: &Code| matches!(code, Code::Op(op) if !op.row().is_smooth);
        self.rough_function(output).is_none()
            && !self.steps_of(output).any(|step| has_kink(step.code))
    }

    /// Inputs, constants and instructions together.
    pub(crate) fn values(&self) -> usize {
        self.inputs + self.constants.len() + self.instructions.len()
    }

    /// Each constant with the number of its value.
    pub(crate) fn constants(&self) -> impl Iterator<Item = (usize, f64)> {
        (self.inputs..).zip(self.constants.iter().copied())
    }

    /// The number of the value of an output.
    pub(crate) fn output_value(&self, output: usize) -> usize {
        self.outputs[output] as usize
    }

    /// All instructions in order.
    pub(crate) fn steps(&self) -> impl Iterator<Item = Step<'_>> {
        (0..self.instructions.len()).map(|at| self.step(at))
    }

    /// The instructions that an output needs, in order.
    pub(crate) fn steps_of(&self, output: usize) -> impl DoubleEndedIterator<Item = Step<'_>> {
        self.needs[output].iter().map(|&at| self.step(at as usize))
    }

    /// The column of a value.
    pub(crate) fn column(&self, value: usize) -> usize {
        self.columns[value] as usize
    }

    /// How many columns a block run needs.
    pub(crate) fn column_count(&self) -> usize {
        self.column_count
    }

    fn step(&self, at: usize) -> Step<'_> {
        let instruction = &self.instructions[at];
        let first = instruction.first_arg as usize;
        let args = first..first + instruction.arg_count as usize;
        Step {
            code: &instruction.code,
            value: self.inputs + self.constants.len() + at,
            args: &self.args[args.clone()],
            coefficients: &self.coefficients[args],
            origin: &instruction.origin,
        }
    }

    /// Compiles a graph without faults.
    pub(crate) fn compile(graph: &Graph, inputs: usize) -> Self {
        let mut tape = Self {
            inputs,
            constants: Vec::new(),
            instructions: Vec::new(),
            args: Vec::new(),
            coefficients: Vec::new(),
            outputs: Vec::new(),
            needs: Vec::new(),
            inputs_of: Vec::new(),
            columns: Vec::new(),
            column_count: 0,
        };
        let plan = Plan::of(graph);
        let value_of = tape.number(graph, &plan);
        for (id, node) in graph.nodes.iter().enumerate() {
            if !plan.is_emitted[id] {
                continue;
            }
            let (code, terms) = match &node.kind {
                GraphKind::Input(_) | GraphKind::Constant(_) => continue,
                GraphKind::Function(function) => {
                    (Code::Function(Arc::clone(function)), plain(&node.args))
                }
                GraphKind::Op(op) => {
                    let terms = plan.terms(graph, id as u32);
                    // With a sign or a factor folded in, the terms are no longer the node's own operands.
                    if terms
                        .iter()
                        .map(|&(_, arg)| arg)
                        .eq(node.args.iter().copied())
                    {
                        (Code::Op(*op), plain(&node.args))
                    } else {
                        (Code::Sum, terms)
                    }
                }
            };
            tape.push(code, &terms, &value_of, &node.origin);
        }
        tape.outputs = graph
            .outputs
            .iter()
            .map(|&id| value_of[id as usize])
            .collect();
        tape.find_needs();
        tape.assign_columns();
        tape
    }

    /// Numbers the values that graph nodes become, and collects the constants.
    fn number(&mut self, graph: &Graph, plan: &Plan) -> Vec<u32> {
        let mut value_of = vec![u32::MAX; graph.nodes.len()];
        for (id, node) in graph.nodes.iter().enumerate() {
            match node.kind {
                GraphKind::Input(input) => value_of[id] = input as u32,
                GraphKind::Constant(value) if plan.is_emitted[id] => {
                    value_of[id] = (self.inputs + self.constants.len()) as u32;
                    self.constants.push(value);
                }
                _ => {}
            }
        }
        let mut next = (self.inputs + self.constants.len()) as u32;
        for (id, node) in graph.nodes.iter().enumerate() {
            if plan.is_emitted[id] && matches!(node.kind, GraphKind::Op(_) | GraphKind::Function(_))
            {
                value_of[id] = next;
                next += 1;
            }
        }
        value_of
    }

    fn push(&mut self, code: Code, terms: &[(f64, u32)], value_of: &[u32], origin: &Expr) {
        self.instructions.push(Instruction {
            code,
            first_arg: self.args.len() as u32,
            arg_count: terms.len() as u32,
            origin: origin.clone(),
        });
        for &(coefficient, id) in terms {
            self.coefficients.push(coefficient);
            self.args.push(value_of[id as usize]);
        }
    }

    fn find_needs(&mut self) {
        let first_instruction = self.inputs + self.constants.len();
        for output in 0..self.outputs.len() {
            let mut is_needed = vec![false; self.values()];
            is_needed[self.outputs[output] as usize] = true;
            let mut needs = Vec::new();
            for at in (0..self.instructions.len()).rev() {
                if is_needed[first_instruction + at] {
                    needs.push(at as u32);
                    for &arg in self.step(at).args {
                        is_needed[arg as usize] = true;
                    }
                }
            }
            needs.reverse();
            self.needs.push(needs);
            let inputs = (0..self.inputs).filter(|&input| is_needed[input]);
            self.inputs_of.push(inputs.collect());
        }
    }

    /// A column is free again after the last instruction that reads it.
    fn assign_columns(&mut self) {
        const NEVER: usize = usize::MAX;
        let fixed = self.inputs + self.constants.len();
        let mut last_use = vec![0; self.values()];
        for step in self.steps() {
            for &arg in step.args {
                last_use[arg as usize] = step.value;
            }
        }
        for &output in &self.outputs {
            last_use[output as usize] = NEVER;
        }
        last_use[..fixed].fill(NEVER);
        let mut columns: Vec<u32> = (0..fixed as u32).collect();
        let mut count = fixed as u32;
        let mut free: Vec<u32> = Vec::new();
        for step in self.steps() {
            // The result never shares the column of an argument: a runner reads one while it writes the other.
            columns.push(free.pop().unwrap_or_else(|| {
                count += 1;
                count - 1
            }));
            for (k, &arg) in step.args.iter().enumerate() {
                let is_first_mention = !step.args[..k.min(2)].contains(&arg);
                if last_use[arg as usize] == step.value && is_first_mention {
                    // A sum may name a value more than twice; once freed it is not looked at again.
                    last_use[arg as usize] = NEVER;
                    free.push(columns[arg as usize]);
                }
            }
        }
        self.columns = columns;
        self.column_count = count as usize;
    }
}

fn plain(args: &[u32]) -> Vec<(f64, u32)> {
    args.iter().map(|&arg| (1.0, arg)).collect()
}

/// Which graph nodes become values of their own; the others are folded into sums.
struct Plan {
    is_emitted: Vec<bool>,
    /// How many nodes and outputs use each node.
    uses: Vec<u32>,
}

impl Plan {
    fn of(graph: &Graph) -> Self {
        let count = graph.nodes.len();
        let mut uses = vec![0_u32; count];
        for node in &graph.nodes {
            for &arg in &node.args {
                uses[arg as usize] = uses[arg as usize].saturating_add(1);
            }
        }
        for &output in &graph.outputs {
            uses[output as usize] = uses[output as usize].saturating_add(1);
        }
        let mut plan = Self {
            is_emitted: vec![false; count],
            uses,
        };
        for &output in &graph.outputs {
            plan.is_emitted[output as usize] = true;
        }
        for id in (0..count).rev() {
            if plan.is_emitted[id] {
                for (_, arg) in plan.terms(graph, id as u32) {
                    plan.is_emitted[arg as usize] = true;
                }
            }
        }
        plan
    }

    /// What an emitted node reads, with coefficients: for a sum the terms of the whole chain of additions on its left.
    fn terms(&self, graph: &Graph, id: u32) -> Vec<(f64, u32)> {
        let mut terms = Vec::new();
        let mut at = id;
        while let GraphKind::Op(op @ (Op::Add | Op::Sub)) = graph.nodes[at as usize].kind {
            if at != id && self.uses[at as usize] != 1 {
                break;
            }
            let args = &graph.nodes[at as usize].args;
            let sign = if op == Op::Sub { -1.0 } else { 1.0 };
            let (coefficient, term) = self.scaled(graph, args[1]);
            terms.push((sign * coefficient, term));
            at = args[0];
        }
        if at == id {
            return plain(&graph.nodes[id as usize].args);
        }
        terms.push(self.scaled(graph, at));
        terms.reverse();
        terms
    }

    /// A term as coefficient times a value, where that gives the same bits: c·x, x·c, -x, used only here.
    fn scaled(&self, graph: &Graph, id: u32) -> (f64, u32) {
        let node = &graph.nodes[id as usize];
        if self.uses[id as usize] != 1 {
            return (1.0, id);
        }
        let constant = |id: u32| match graph.nodes[id as usize].kind {
            GraphKind::Constant(value) => Some(value),
            _ => None,
        };
        match (&node.kind, &node.args[..]) {
            (GraphKind::Op(Op::Neg), &[a]) => (-1.0, a),
            (GraphKind::Op(Op::Mul), &[a, b]) => match (constant(a), constant(b)) {
                (Some(c), None) => (c, b),
                (None, Some(c)) => (c, a),
                _ => (1.0, id),
            },
            _ => (1.0, id),
        }
    }
}
