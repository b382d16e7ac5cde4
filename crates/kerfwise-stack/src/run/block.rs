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
    /// Columns of inputs that are 0 throughout: sums leave them out, which changes nothing.
    are_zero: Vec<bool>,
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
            are_zero: vec![false; columns.len()],
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
        self.are_zero[index] = false;
        &mut self.columns[index]
    }

    /// Fills the column of an input with one value.
    pub(crate) fn hold(&mut self, index: usize, value: f64) {
        self.input(index).fill(value);
        self.are_zero[index] = value == 0.0;
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

    /// A few terms in one pass: the running sum then stays in a register for longer. The order of additions is that of
    /// the point runner.
    fn sum(&mut self, tape: &Tape, step: &Step<'_>) {
        let terms = step.args.iter().zip(step.coefficients);
        let mut terms = terms
            .map(|(&arg, &coefficient)| (coefficient, tape.column(arg as usize)))
            .filter(|(_, column)| !self.are_zero[*column])
            .map(|(coefficient, column)| (coefficient, &*self.columns[column]));
        let out = &mut self.spare;
        let mut is_first = true;
        loop {
            let next = [(); 4].map(|()| terms.next());
            match next {
                [Some(a), Some(b), Some(c), Some(d)] => sum_four(is_first, [a, b, c, d], out),
                [Some(a), Some(b), Some(c), _] => sum_three(is_first, [a, b, c], out),
                [Some(a), Some(b), ..] => sum_two(is_first, [a, b], out),
                [Some(a), ..] => sum_one(is_first, [a], out),
                _ if is_first => out.fill(0.0),
                _ => {}
            }
            is_first = false;
            if next[3].is_none() {
                return;
            }
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

/// out = out + c x.
#[multiversion(targets("x86_64+avx512f+avx512bw+avx512cd+avx512dq+avx512vl", "x86_64+avx2"))]
pub(crate) fn add(c: f64, x: &Column, out: &mut Column) {
    for (out, x) in out.iter_mut().zip(x) {
        *out += c * x;
    }
}

macro_rules! sums {
    ($($name:ident: $terms:literal),+) => {$(
        #[multiversion(targets("x86_64+avx512f+avx512bw+avx512cd+avx512dq+avx512vl", "x86_64+avx2"))]
        fn $name(is_first: bool, terms: [(f64, &Column); $terms], out: &mut Column) {
            sum(is_first, terms, out);
        }
    )+};
}
sums!(sum_one: 1, sum_two: 2, sum_three: 3, sum_four: 4);

/// out = c0 x0 + c1 x1 + ..., or the same added to it.
#[inline(always)]
fn sum<const N: usize>(is_first: bool, terms: [(f64, &Column); N], out: &mut Column) {
    let (c0, x0) = terms[0];
    for i in 0..BLOCK {
        let mut sum = c0 * x0[i];
        if !is_first {
            sum += out[i];
        }
        for (c, x) in &terms[1..] {
            sum += c * x[i];
        }
        out[i] = sum;
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
