//! A column of numbers per value, for Monte Carlo.
//!
//! Plain loops over columns of one fixed length, which the compiler turns into vector instructions: those of AVX-512 or
//! AVX2 where the processor has them. Each loop does the same arithmetic in the same order as the point runner, so the
//! bits are the same.

use crate::function::Function;
use crate::op::Op;
use crate::tape::{Code, Step, Tape};
use multiversion::multiversion;

/// Trials in a block.
pub(crate) const BLOCK: usize = 1024;

pub(crate) type Column = [f64; BLOCK];

/// Scratch of a block run, reused between blocks of one tape.
#[derive(Debug)]
pub(crate) struct BlockScratch {
    columns: Vec<Box<Column>>,
    /// Swapped with the column of a result while it is computed.
    spare: Box<Column>,
    outputs: Vec<usize>,
}

impl BlockScratch {
    pub(crate) fn new(tape: &Tape) -> Self {
        let mut columns: Vec<_> = (0..tape.column_count())
            .map(|_| Box::new([0.0; BLOCK]))
            .collect();
        for (value, constant) in tape.constants() {
            columns[tape.column(value)].fill(constant);
        }
        Self {
            columns,
            spare: Box::new([0.0; BLOCK]),
            outputs: (0..tape.outputs())
                .map(|output| tape.column(tape.output_value(output)))
                .collect(),
        }
    }

    /// Column of an input, to be filled before [`run`](Self::run), which does not change it.
    pub(crate) fn input(&mut self, index: usize) -> &mut [f64; BLOCK] {
        // Inputs are the first values, and values have the first columns in their order.
        &mut self.columns[index]
    }

    /// Runs the tape, of which this is the scratch, over the columns.
    pub(crate) fn run(&mut self, tape: &Tape) {
        for step in tape.steps() {
            let result = tape.column(step.value);
            match step.code {
                Code::Op(op) => {
                    let a = &self.columns[tape.column(step.arg(0))];
                    let b = &self.columns[tape.column(step.arg(1))];
                    operate(*op, a, b, &mut self.spare);
                }
                Code::Sum => self.sum(tape, &step),
                Code::Function(function) => self.call(tape, &step, function),
            }
            std::mem::swap(&mut self.spare, &mut self.columns[result]);
        }
    }

    /// Column of an output after a run (NaN where the stack is not defined).
    pub(crate) fn output(&self, index: usize) -> &[f64; BLOCK] {
        &self.columns[self.outputs[index]]
    }

    /// Four terms in one pass: the running sum then stays in a register for longer. The order of additions is that of
    /// the point runner.
    fn sum(&mut self, tape: &Tape, step: &Step<'_>) {
        let term = |k: usize| {
            let column = tape.column(step.args[k] as usize);
            (step.coefficients[k], &*self.columns[column])
        };
        let out = &mut self.spare;
        let (c, x) = term(0);
        multiply(c, x, out);
        let mut k = 1;
        while k + 4 <= step.args.len() {
            add_four([0, 1, 2, 3].map(|i| term(k + i)), out);
            k += 4;
        }
        while k < step.args.len() {
            let (c, x) = term(k);
            add(c, x, out);
            k += 1;
        }
    }

    fn call(&mut self, tape: &Tape, step: &Step<'_>, function: &Function) {
        let columns = step.args.iter().map(|&arg| tape.column(arg as usize));
        let columns: Vec<&Column> = columns.map(|column| &*self.columns[column]).collect();
        let mut args = vec![0.0; columns.len()];
        for (i, out) in self.spare.iter_mut().enumerate() {
            for (arg, column) in args.iter_mut().zip(&columns) {
                *arg = column[i];
            }
            *out = function.value(&args);
        }
    }
}

/// out = c x.
#[multiversion(targets("x86_64+avx512f+avx512bw+avx512cd+avx512dq+avx512vl", "x86_64+avx2"))]
fn multiply(c: f64, x: &Column, out: &mut Column) {
    for (out, x) in out.iter_mut().zip(x) {
        *out = c * x;
    }
}

/// out = out + c x.
#[multiversion(targets("x86_64+avx512f+avx512bw+avx512cd+avx512dq+avx512vl", "x86_64+avx2"))]
pub(crate) fn add(c: f64, x: &Column, out: &mut Column) {
    for (out, x) in out.iter_mut().zip(x) {
        *out += c * x;
    }
}

#[multiversion(targets("x86_64+avx512f+avx512bw+avx512cd+avx512dq+avx512vl", "x86_64+avx2"))]
fn add_four([(c0, x0), (c1, x1), (c2, x2), (c3, x3)]: [(f64, &Column); 4], out: &mut Column) {
    for i in 0..BLOCK {
        out[i] = (((out[i] + c0 * x0[i]) + c1 * x1[i]) + c2 * x2[i]) + c3 * x3[i];
    }
}

/// One loop per operation: inside of each the operation is known, and `Op::value` becomes plain arithmetic.
#[multiversion(targets("x86_64+avx512f+avx512bw+avx512cd+avx512dq+avx512vl", "x86_64+avx2"))]
fn operate(op: Op, a: &Column, b: &Column, out: &mut Column) {
    macro_rules! each {
        ($($known:pat => $op:expr;)+) => {
            match op {
                $($known => {
                    for ((out, &a), &b) in out.iter_mut().zip(a).zip(b) {
                        *out = $op.value(a, b);
                    }
                })+
            }
        };
    }
    each! {
        Op::Add => Op::Add;
        Op::Sub => Op::Sub;
        Op::Mul => Op::Mul;
        Op::Div => Op::Div;
        Op::Min => Op::Min;
        Op::Max => Op::Max;
        Op::Neg => Op::Neg;
        Op::Abs => Op::Abs;
        Op::Square => Op::Square;
        Op::Powi(2) => Op::Powi(2);
        Op::Powi(3) => Op::Powi(3);
        Op::Powi(n) => Op::Powi(n);
        Op::Sqrt => Op::Sqrt;
        Op::Exp => Op::Exp;
        Op::Ln => Op::Ln;
        Op::Sin => Op::Sin;
        Op::Cos => Op::Cos;
        Op::Tan => Op::Tan;
        Op::Asin => Op::Asin;
        Op::Acos => Op::Acos;
        Op::Atan => Op::Atan;
    }
}
