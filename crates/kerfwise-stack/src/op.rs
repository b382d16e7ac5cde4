//! The closed table of operations. Everything that knows operations is driven by it.
//!
//! To add one: a variant, its place in `ALL`, and a line in each of `row`, `value`, `derivatives` (or
//! `slopes`), `interval` and `interval_slopes`; the tests of the runners then run over it.

use kerfwise_numeric::float;
use kerfwise_numeric::interval::Interval;
use kerfwise_source::Dimension;

/// An operation on one or two numbers.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub(crate) enum Op {
    Add,
    Sub,
    Mul,
    Div,
    Min,
    Max,
    Neg,
    Abs,
    /// Not `Mul` of a thing with itself: an interval knows that a square is at least 0.
    Square,
    Powi(i32),
    Sqrt,
    Exp,
    Ln,
    Sin,
    Cos,
    Tan,
    Asin,
    Acos,
    Atan,
}

/// How an operation is written.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) enum Form {
    /// Between its operands.
    Infix,
    /// Before its operand.
    Prefix,
    /// By name, with arguments in brackets.
    Call,
    /// Base and exponent.
    Power,
}

/// Which dimensions go in, and which comes out.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) enum Rule {
    /// Both of one dimension, which comes out.
    Alike,
    /// Any dimension, which comes out.
    Keep,
    Product,
    Ratio,
    Power(i32),
    Root,
    NumberToNumber,
    AngleToNumber,
    NumberToAngle,
}

/// The plain facts about an operation.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Row {
    /// Its sign or its name.
    pub(crate) name: &'static str,
    pub(crate) arity: usize,
    pub(crate) form: Form,
    pub(crate) rule: Rule,
    /// Whether it has continuous derivatives inside of where it is defined.
    pub(crate) is_smooth: bool,
    /// Where it is not defined, as "the thing, which may be so".
    pub(crate) undefined: Option<&'static str>,
}

/// Why the dimensions of the operands do not fit.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) enum Misfit {
    /// They should be alike.
    NotAlike,
    /// This operand should have the other dimension.
    Wanted(usize, Dimension),
    /// A square root of an odd power.
    OddPower,
    /// An exponent leaves its range.
    TooLarge,
}

impl Op {
    /// Every operation, powers by some examples.
    #[cfg(test)]
    pub(crate) const ALL: [Self; 25] = [
        Self::Add,
        Self::Sub,
        Self::Mul,
        Self::Div,
        Self::Min,
        Self::Max,
        Self::Neg,
        Self::Abs,
        Self::Square,
        Self::Powi(0),
        Self::Powi(1),
        Self::Powi(2),
        Self::Powi(3),
        Self::Powi(6),
        Self::Powi(-1),
        Self::Powi(-4),
        Self::Sqrt,
        Self::Exp,
        Self::Ln,
        Self::Sin,
        Self::Cos,
        Self::Tan,
        Self::Asin,
        Self::Acos,
        Self::Atan,
    ];

    /// The operations that text calls by name.
    pub(crate) const CALLED: [Self; 13] = [
        Self::Min,
        Self::Max,
        Self::Abs,
        Self::Square,
        Self::Sqrt,
        Self::Exp,
        Self::Ln,
        Self::Sin,
        Self::Cos,
        Self::Tan,
        Self::Asin,
        Self::Acos,
        Self::Atan,
    ];

    /// The largest exponent of a whole power, either sign.
    pub(crate) const LARGEST_POWER: i32 = 64;

    pub(crate) const fn row(self) -> Row {
        const fn infix(name: &'static str, rule: Rule) -> Row {
            Row {
                name,
                arity: 2,
                form: Form::Infix,
                rule,
                is_smooth: true,
                undefined: None,
            }
        }
        const fn call(name: &'static str, rule: Rule) -> Row {
            Row {
                name,
                arity: 1,
                form: Form::Call,
                rule,
                is_smooth: true,
                undefined: None,
            }
        }
        const fn pick(name: &'static str) -> Row {
            Row {
                arity: 2,
                is_smooth: false,
                ..call(name, Rule::Alike)
            }
        }
        const fn partial(row: Row, undefined: &'static str) -> Row {
            Row {
                undefined: Some(undefined),
                ..row
            }
        }
        match self {
            Self::Add => infix("+", Rule::Alike),
            Self::Sub => infix("-", Rule::Alike),
            Self::Mul => infix("*", Rule::Product),
            Self::Div => partial(infix("/", Rule::Ratio), "0"),
            Self::Min => pick("min"),
            Self::Max => pick("max"),
            Self::Neg => Row {
                form: Form::Prefix,
                ..call("-", Rule::Keep)
            },
            Self::Abs => Row {
                is_smooth: false,
                ..call("abs", Rule::Keep)
            },
            Self::Square => call("square", Rule::Power(2)),
            Self::Powi(n) => Row {
                form: Form::Power,
                undefined: if n < 0 { Some("0") } else { None },
                ..call("^", Rule::Power(n))
            },
            Self::Sqrt => partial(call("sqrt", Rule::Root), "negative"),
            Self::Exp => call("exp", Rule::NumberToNumber),
            Self::Ln => partial(call("ln", Rule::NumberToNumber), "0 or negative"),
            Self::Sin => call("sin", Rule::AngleToNumber),
            Self::Cos => call("cos", Rule::AngleToNumber),
            Self::Tan => partial(call("tan", Rule::AngleToNumber), "a quarter turn"),
            Self::Asin => partial(call("asin", Rule::NumberToAngle), "outside -1 to 1"),
            Self::Acos => partial(call("acos", Rule::NumberToAngle), "outside -1 to 1"),
            Self::Atan => call("atan", Rule::NumberToAngle),
        }
    }

    /// The dimension of the result (`b` is not looked at when there is one operand).
    pub(crate) fn dimension(self, a: Dimension, b: Dimension) -> Result<Dimension, Misfit> {
        let only = |wanted: Dimension, result: Dimension| {
            if a == wanted {
                Ok(result)
            } else {
                Err(Misfit::Wanted(0, wanted))
            }
        };
        match self.row().rule {
            Rule::Alike if a == b => Ok(a),
            Rule::Alike => Err(Misfit::NotAlike),
            Rule::Keep => Ok(a),
            Rule::Product => a.times(b).ok_or(Misfit::TooLarge),
            Rule::Ratio => a.per(b).ok_or(Misfit::TooLarge),
            Rule::Power(n) => a.powi(n).ok_or(Misfit::TooLarge),
            Rule::Root => a.sqrt().ok_or(Misfit::OddPower),
            Rule::NumberToNumber => only(Dimension::NUMBER, Dimension::NUMBER),
            Rule::AngleToNumber => only(Dimension::ANGLE, Dimension::NUMBER),
            Rule::NumberToAngle => only(Dimension::NUMBER, Dimension::ANGLE),
        }
    }

    /// The value; NaN where it is not defined (`b` is not looked at when there is one operand).
    ///
    /// Always inlined, so that a loop over columns in which the operation is known becomes plain arithmetic.
    #[inline(always)]
    pub(crate) fn value(self, a: f64, b: f64) -> f64 {
        let where_true = |is_defined: bool, value: f64| if is_defined { value } else { f64::NAN };
        match self {
            Self::Add => a + b,
            Self::Sub => a - b,
            Self::Mul => a * b,
            Self::Div => where_true(b != 0.0, a / b),
            // Unlike `f64::min`, these do not lose a NaN.
            Self::Min => {
                if a < b || a.is_nan() {
                    a
                } else {
                    b
                }
            }
            Self::Max => {
                if a > b || a.is_nan() {
                    a
                } else {
                    b
                }
            }
            Self::Neg => -a,
            Self::Abs => a.abs(),
            Self::Square => a * a,
            // To the power 0 everything is 1, but what is not defined stays so.
            Self::Powi(0) => where_true(!a.is_nan(), 1.0),
            Self::Powi(n) => where_true(n > 0 || a != 0.0, float::powi(a, n)),
            Self::Sqrt => a.sqrt(),
            Self::Exp => float::exp(a),
            Self::Ln => where_true(a > 0.0, float::ln(a)),
            Self::Sin => float::sin(a),
            Self::Cos => float::cos(a),
            Self::Tan => float::tan(a),
            Self::Asin => float::asin(a),
            Self::Acos => float::acos(a),
            Self::Atan => float::atan(a),
        }
    }

    /// First, second and third derivative of an operation on one number, whose value there is `v`.
    /// At the kink of `abs` those of the right side: the mean of both would make its operand vanish.
    pub(crate) fn derivatives(self, a: f64, v: f64) -> [f64; 3] {
        match self {
            Self::Neg => [-1.0, 0.0, 0.0],
            Self::Abs => [if a < 0.0 { -1.0 } else { 1.0 }, 0.0, 0.0],
            Self::Square => [2.0 * a, 2.0, 0.0],
            Self::Powi(n) => power_derivatives(a, n),
            Self::Sqrt => {
                let first = 0.5 / v;
                let second = -0.5 * first / a;
                [first, second, -1.5 * second / a]
            }
            Self::Exp => [v, v, v],
            Self::Ln => {
                let first = 1.0 / a;
                [first, -first * first, 2.0 * first * first * first]
            }
            Self::Sin => {
                let cos = float::cos(a);
                [cos, -v, -cos]
            }
            Self::Cos => {
                let sin = float::sin(a);
                [-sin, -v, sin]
            }
            Self::Tan => {
                let first = 1.0 + v * v;
                [first, 2.0 * v * first, 2.0 * first * (1.0 + 3.0 * v * v)]
            }
            Self::Asin => asin_derivatives(a),
            Self::Acos => asin_derivatives(a).map(|x| -x),
            Self::Atan => {
                let first = 1.0 / (1.0 + a * a);
                let second = -2.0 * a * first * first;
                // (6 a² - 2) / (1 + a²)³, in a form whose squares of a do not overflow.
                [first, second, 2.0 * first * first * (3.0 - 4.0 * first)]
            }
            Self::Add | Self::Sub | Self::Mul | Self::Div | Self::Min | Self::Max => [f64::NAN; 3],
        }
    }

    /// First derivatives with respect to both operands. At the kink of `min` and `max` the mean of both sides.
    pub(crate) fn slopes(self, a: f64, b: f64, v: f64) -> [f64; 2] {
        match self {
            Self::Add => [1.0, 1.0],
            Self::Sub => [1.0, -1.0],
            Self::Mul => [b, a],
            Self::Div => [1.0 / b, -v / b],
            Self::Min => {
                let of_a = 0.5 - 0.5 * sign(a - b);
                [of_a, 1.0 - of_a]
            }
            Self::Max => {
                let of_a = 0.5 + 0.5 * sign(a - b);
                [of_a, 1.0 - of_a]
            }
            _ => [self.derivatives(a, v)[0], 0.0],
        }
    }

    /// Whether there is no derivative at this point: a kink, or an infinite slope at the end of
    /// where the operation is defined.
    #[expect(clippy::float_cmp, reason = "a kink is a single point")]
    pub(crate) fn is_kink(self, a: f64, b: f64) -> bool {
        match self {
            Self::Min | Self::Max => a == b,
            Self::Abs | Self::Sqrt => a == 0.0,
            Self::Asin | Self::Acos => a.abs() == 1.0,
            _ => false,
        }
    }

    /// All values over a box; `None` when it is not defined all over it.
    pub(crate) fn interval(self, a: Interval, b: Interval) -> Option<Interval> {
        match self {
            Self::Add => Some(a + b),
            Self::Sub => Some(a - b),
            Self::Mul => Some(a * b),
            Self::Div => a / b,
            Self::Min => Some(a.min(b)),
            Self::Max => Some(a.max(b)),
            Self::Neg => Some(-a),
            Self::Abs => Some(a.abs()),
            Self::Square => Some(a.square()),
            Self::Powi(n) => a.powi(n),
            Self::Sqrt => a.sqrt(),
            Self::Exp => Some(a.exp()),
            Self::Ln => a.ln(),
            Self::Sin => Some(a.sin()),
            Self::Cos => Some(a.cos()),
            Self::Tan => a.tan(),
            Self::Asin => a.asin(),
            Self::Acos => a.acos(),
            Self::Atan => Some(a.atan()),
        }
    }

    /// All slopes over a box, for each operand; `v` holds the values over the box. Where there is a
    /// kink, all slopes between those of both sides (what the mean value theorem needs); `None`
    /// where there is no bound on either side.
    pub(crate) fn interval_slopes(
        self,
        a: Interval,
        b: Interval,
        v: Interval,
    ) -> [Option<Interval>; 2] {
        let one = number(1.0);
        match self {
            Self::Add => [one, one],
            Self::Sub => [one, number(-1.0)],
            Self::Mul => [Some(b), Some(a)],
            Self::Div => [one.and_then(|one| one / b), -v / b],
            Self::Min => choice(a.lo() >= b.hi(), a.hi() <= b.lo()),
            Self::Max => choice(a.hi() <= b.lo(), a.lo() >= b.hi()),
            _ => [self.interval_slope(a, v), None],
        }
    }

    fn interval_slope(self, a: Interval, v: Interval) -> Option<Interval> {
        match self {
            Self::Neg => number(-1.0),
            Self::Abs if a.lo() >= 0.0 => number(1.0),
            Self::Abs if a.hi() <= 0.0 => number(-1.0),
            Self::Abs => Interval::new(-1.0, 1.0),
            Self::Square => Some(number(2.0)? * a),
            Self::Powi(0) => number(0.0),
            Self::Powi(n) => Some(number(f64::from(n))? * a.powi(n.checked_sub(1)?)?),
            Self::Sqrt => over(0.5, v),
            Self::Exp => Some(v),
            Self::Ln => over(1.0, a),
            Self::Sin => Some(a.cos()),
            Self::Cos => Some(-a.sin()),
            Self::Tan => Some(number(1.0)? + v.square()),
            Self::Asin => asin_slope(a),
            Self::Acos => asin_slope(a).map(|slope| -slope),
            Self::Atan => over(1.0, number(1.0)? + a.square()),
            Self::Add | Self::Sub | Self::Mul | Self::Div | Self::Min | Self::Max => None,
        }
    }
}

fn sign(x: f64) -> f64 {
    if x > 0.0 {
        1.0
    } else if x < 0.0 {
        -1.0
    } else {
        0.0
    }
}

/// n aⁿ⁻¹ and so on; a factor of 0 wins over a negative power of 0, which would be infinite.
fn power_derivatives(a: f64, n: i32) -> [f64; 3] {
    let mut factor = 1.0;
    let mut out = [0.0; 3];
    for (k, slot) in (0..).zip(&mut out) {
        factor *= f64::from(n) - f64::from(k);
        if factor == 0.0 {
            break;
        }
        *slot = factor * float::powi(a, n.saturating_sub(k + 1));
    }
    out
}

fn asin_derivatives(a: f64) -> [f64; 3] {
    let inside = (1.0 - a) * (1.0 + a);
    let first = 1.0 / inside.sqrt();
    let second = a * first / inside;
    [
        first,
        second,
        (1.0 + 2.0 * a * a) * first / (inside * inside),
    ]
}

fn number(x: f64) -> Option<Interval> {
    Interval::point(x)
}

/// Slopes of a choice between two: the first is never taken, always taken, or neither is known.
fn choice(never_first: bool, always_first: bool) -> [Option<Interval>; 2] {
    let of_first = if never_first {
        number(0.0)
    } else if always_first {
        number(1.0)
    } else {
        Interval::new(0.0, 1.0)
    };
    let of_second = if never_first {
        number(1.0)
    } else if always_first {
        number(0.0)
    } else {
        Interval::new(0.0, 1.0)
    };
    [of_first, of_second]
}

/// above / x for positive x; without an upper bound where x reaches 0.
fn over(above: f64, x: Interval) -> Option<Interval> {
    let above = number(above)?;
    match above / x {
        Some(quotient) => Some(quotient),
        None if x.hi() > 0.0 => {
            let least = (above / number(x.hi())?)?.lo();
            Interval::new(least.max(0.0), f64::INFINITY)
        }
        None => None,
    }
}

/// 1 / sqrt(1 - a²) over [-1, 1].
fn asin_slope(a: Interval) -> Option<Interval> {
    let inside = number(1.0)? - a.square();
    // Rounding outward may leave the range by one unit in the last place.
    let inside = Interval::new(inside.lo().max(0.0), inside.hi().max(0.0))?;
    over(1.0, inside.sqrt()?)
}
