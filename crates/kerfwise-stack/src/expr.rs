use crate::function::{Facts, Function, OpaqueFunction};
use crate::op::Op;
use crate::{Error, graph, text};
use kerfwise_source::{Angle, Event, Length, MoistureContent, Quantity, Source};
use std::collections::HashMap;
use std::fmt;
use std::hash::{BuildHasherDefault, Hasher};
use std::ops::{Add, Div, Mul, Neg, Sub};
use std::sync::Arc;

/// An expression over sources: a cheap handle, combined with ordinary operators.
///
/// Handles, sources, plain numbers and quantities with units go together. Faults, such as an angle
/// added to a length, are not reported here but when the stack is built, all at once.
///
/// ```
/// use kerfwise_source::{LengthUnits, Source};
/// use kerfwise_stack::Expr;
///
/// let travel = Expr::from(Source::new("travel", 0.5.inch()).build()?);
/// let kerf = Source::new("kerf", 0.125.inch()).build()?;
/// let tenon = &travel - &kerf;
/// assert_eq!((2.0 * &tenon + 1.thou()).to_string(), "2 * (travel - kerf) + 0.001 in");
/// assert_eq!(tenon.evaluate(&|source| source.estimate().raw()), 0.375);
/// # Ok::<(), kerfwise_source::Error>(())
/// ```
///
/// It prints as algebra, and [`parse`](Self::parse) reads that back to an equal expression. Two
/// expressions are equal when they are built alike over the same sources; `a + b` is not `b + a`.
#[derive(Clone)]
pub struct Expr(Arc<Node>);

/// What a handle points to. Nodes are never changed once made.
pub(crate) struct Node {
    pub(crate) kind: Kind,
    pub(crate) args: Vec<Expr>,
}

#[derive(Debug)]
pub(crate) enum Kind {
    Source(Leaf),
    Constant(Quantity),
    Op(Op),
    Function(Arc<Function>),
}

/// A source and which draw of its event is meant.
#[derive(Debug, Clone)]
pub(crate) struct Leaf {
    pub(crate) source: Source,
    pub(crate) instance: u32,
    /// It was redrawn although it had been redrawn before: a fault, reported when the stack is built.
    pub(crate) is_redrawn_twice: bool,
}

impl Leaf {
    /// "travel", or "travel#2" for the second draw.
    pub(crate) fn name(&self) -> String {
        if self.instance == 0 {
            self.source.name().to_owned()
        } else {
            format!("{}#{}", self.source.name(), self.instance)
        }
    }
}

impl Expr {
    pub(crate) fn new(kind: Kind, args: Vec<Self>) -> Self {
        Self(Arc::new(Node { kind, args }))
    }

    pub(crate) fn node(&self) -> &Node {
        &self.0
    }

    pub(crate) fn unary(op: Op, a: &Self) -> Self {
        Self::new(Kind::Op(op), vec![a.clone()])
    }

    pub(crate) fn binary(op: Op, a: Self, b: Self) -> Self {
        Self::new(Kind::Op(op), vec![a, b])
    }

    /// As many arguments as the operation takes.
    pub(crate) fn apply(op: Op, args: Vec<Self>) -> Self {
        Self::new(Kind::Op(op), args)
    }

    pub(crate) fn leaf(source: &Source, instance: u32) -> Self {
        let leaf = Leaf {
            source: source.clone(),
            instance,
            is_redrawn_twice: false,
        };
        Self::new(Kind::Source(leaf), Vec::new())
    }

    /// A source as an expression: its value, which is its estimate plus its error.
    ///
    /// ```
    /// use kerfwise_source::{LengthUnits, Source};
    /// use kerfwise_stack::Expr;
    ///
    /// let kerf = Source::new("kerf", 0.125.inch()).build()?;
    /// assert_eq!(Expr::source(&kerf).to_string(), "kerf");
    /// # Ok::<(), kerfwise_source::Error>(())
    /// ```
    #[must_use]
    pub fn source(source: &Source) -> Self {
        Self::leaf(source, 0)
    }

    /// A constant.
    ///
    /// ```
    /// use kerfwise_source::LengthUnits;
    /// use kerfwise_stack::Expr;
    ///
    /// assert_eq!(Expr::constant(0.375.inch()).to_string(), "0.375 in");
    /// ```
    #[must_use]
    pub fn constant(value: impl Into<Quantity>) -> Self {
        Self::new(Kind::Constant(value.into()), Vec::new())
    }

    /// The square, which an interval knows to be at least 0 (it does not know that of `&x * &x`).
    ///
    /// ```
    /// use kerfwise_stack::Expr;
    /// assert_eq!(Expr::constant(3.0).square().evaluate(&|_| 0.0), 9.0);
    /// ```
    #[must_use]
    pub fn square(&self) -> Self {
        Self::unary(Op::Square, self)
    }

    /// A whole power, from -64 to 64 (others are faults when the stack is built).
    /// Not defined at 0 for a negative power.
    ///
    /// ```
    /// use kerfwise_stack::Expr;
    ///
    /// let eighth = Expr::constant(2.0).powi(-3);
    /// assert_eq!(eighth.to_string(), "2^-3");
    /// assert_eq!(eighth.evaluate(&|_| 0.0), 0.125);
    /// ```
    #[must_use]
    pub fn powi(&self, n: i32) -> Self {
        Self::unary(Op::Powi(n), self)
    }

    /// Square root, of a quantity of even power; not defined below 0.
    ///
    /// ```
    /// use kerfwise_stack::Expr;
    /// assert_eq!(Expr::constant(9.0).sqrt().evaluate(&|_| 0.0), 3.0);
    /// assert!(Expr::constant(-9.0).sqrt().evaluate(&|_| 0.0).is_nan());
    /// ```
    #[must_use]
    pub fn sqrt(&self) -> Self {
        Self::unary(Op::Sqrt, self)
    }

    /// Absolute value; has a kink at 0.
    ///
    /// ```
    /// use kerfwise_stack::Expr;
    /// assert_eq!(Expr::constant(-2.0).abs().evaluate(&|_| 0.0), 2.0);
    /// ```
    #[must_use]
    pub fn abs(&self) -> Self {
        Self::unary(Op::Abs, self)
    }

    /// The lesser of two of one dimension; has a kink where they are equal.
    ///
    /// ```
    /// use kerfwise_stack::Expr;
    /// assert_eq!(Expr::constant(2.0).min(&Expr::constant(3.0)).evaluate(&|_| 0.0), 2.0);
    /// ```
    #[must_use]
    pub fn min(&self, other: &Self) -> Self {
        Self::binary(Op::Min, self.clone(), other.clone())
    }

    /// The greater of two of one dimension; has a kink where they are equal.
    ///
    /// ```
    /// use kerfwise_stack::Expr;
    /// assert_eq!(Expr::constant(2.0).max(&Expr::constant(3.0)).evaluate(&|_| 0.0), 3.0);
    /// ```
    #[must_use]
    pub fn max(&self, other: &Self) -> Self {
        Self::binary(Op::Max, self.clone(), other.clone())
    }

    /// e to the power of a pure number.
    ///
    /// ```
    /// use kerfwise_stack::Expr;
    /// let value = Expr::constant(1.0).exp().evaluate(&|_| 0.0);
    /// assert!((value - std::f64::consts::E).abs() < 1e-15); // a rounding or two
    /// ```
    #[must_use]
    pub fn exp(&self) -> Self {
        Self::unary(Op::Exp, self)
    }

    /// Natural logarithm of a pure number above 0.
    ///
    /// ```
    /// use kerfwise_stack::Expr;
    /// let value = Expr::constant(2.0).ln().evaluate(&|_| 0.0);
    /// assert!((value - std::f64::consts::LN_2).abs() < 1e-15); // a rounding or two
    /// ```
    #[must_use]
    pub fn ln(&self) -> Self {
        Self::unary(Op::Ln, self)
    }

    /// Sine of an angle.
    ///
    /// ```
    /// use kerfwise_source::AngleUnits;
    /// use kerfwise_stack::Expr;
    /// let value = Expr::constant(30.degrees()).sin().evaluate(&|_| 0.0);
    /// assert!((value - 0.5).abs() < 1e-15); // a rounding or two
    /// ```
    #[must_use]
    pub fn sin(&self) -> Self {
        Self::unary(Op::Sin, self)
    }

    /// Cosine of an angle.
    ///
    /// ```
    /// use kerfwise_source::AngleUnits;
    /// use kerfwise_stack::Expr;
    /// let value = Expr::constant(60.degrees()).cos().evaluate(&|_| 0.0);
    /// assert!((value - 0.5).abs() < 1e-15); // a rounding or two
    /// ```
    #[must_use]
    pub fn cos(&self) -> Self {
        Self::unary(Op::Cos, self)
    }

    /// Tangent of an angle.
    ///
    /// ```
    /// use kerfwise_source::AngleUnits;
    /// use kerfwise_stack::Expr;
    /// let value = Expr::constant(45.degrees()).tan().evaluate(&|_| 0.0);
    /// assert!((value - 1.0).abs() < 1e-15); // a rounding or two
    /// ```
    #[must_use]
    pub fn tan(&self) -> Self {
        Self::unary(Op::Tan, self)
    }

    /// The angle from -90 to 90 degrees with this sine; not defined outside -1 to 1.
    ///
    /// ```
    /// use kerfwise_stack::Expr;
    /// let value = Expr::constant(0.5).asin().evaluate(&|_| 0.0);
    /// assert!((value - std::f64::consts::FRAC_PI_6).abs() < 1e-15); // a rounding or two
    /// ```
    #[must_use]
    pub fn asin(&self) -> Self {
        Self::unary(Op::Asin, self)
    }

    /// The angle from 0 to 180 degrees with this cosine; not defined outside -1 to 1.
    ///
    /// ```
    /// use kerfwise_stack::Expr;
    /// let value = Expr::constant(0.5).acos().evaluate(&|_| 0.0);
    /// assert!((value - std::f64::consts::FRAC_PI_3).abs() < 1e-15); // a rounding or two
    /// ```
    #[must_use]
    pub fn acos(&self) -> Self {
        Self::unary(Op::Acos, self)
    }

    /// The angle between -90 and 90 degrees with this tangent.
    ///
    /// ```
    /// use kerfwise_stack::Expr;
    /// let value = Expr::constant(1.0).atan().evaluate(&|_| 0.0);
    /// assert!((value - std::f64::consts::FRAC_PI_4).abs() < 1e-15); // a rounding or two
    /// ```
    #[must_use]
    pub fn atan(&self) -> Self {
        Self::unary(Op::Atan, self)
    }

    /// A Rust function of expressions, with what is declared about it. Arguments and value are
    /// plain numbers in raw units (inch, radian); a value that is not finite means "not defined".
    /// It must give the same value for the same arguments.
    ///
    /// Propagations that need to know more than the declared facts decline. Slopes are taken by central differences, with a
    /// step of 6e-6 of the argument, at least 6e-8 raw units; to one side where it is not defined on the other. It prints
    /// as `name(…)`, which cannot be read back.
    ///
    /// ```
    /// use kerfwise_source::Dimension;
    /// use kerfwise_stack::{Expr, Facts, Monotone};
    /// use std::sync::Arc;
    ///
    /// let facts = Facts::giving(Dimension::NUMBER)
    ///     .argument(Dimension::NUMBER, Monotone::Increasing)
    ///     .smooth();
    /// let cube = Expr::function("cube", &[Expr::constant(2.0)], facts, Arc::new(|x| x[0] * x[0] * x[0]));
    /// assert_eq!(cube.to_string(), "cube(2)");
    /// assert_eq!(cube.evaluate(&|_| 0.0), 8.0);
    /// ```
    #[must_use]
    pub fn function(name: &str, args: &[Self], facts: Facts, compute: OpaqueFunction) -> Self {
        let function = Function {
            name: name.to_owned(),
            facts,
            compute,
        };
        Self::new(Kind::Function(Arc::new(function)), args.to_vec())
    }

    /// The same expression for another instance of an event: every source that `event` redraws is
    /// drawn anew. Instance 0 is the first draw. A source can be redrawn once only; redrawing it
    /// again is a fault, reported when the stack is built.
    ///
    /// ```
    /// use kerfwise_source::{Event, LengthUnits, Source};
    /// use kerfwise_stack::Expr;
    ///
    /// let kerf = Source::new("kerf", 0.125.inch()).event(Event::blade()).build()?;
    /// let seat = Source::new("seat", 0.inch()).event(Event::cut()).build()?;
    /// let cut = Expr::from(&kerf) + &seat;
    /// // A second piece comes off the same saw, but is clamped anew.
    /// assert_eq!(cut.redraw(&Event::piece(), 2).to_string(), "kerf + seat#2");
    /// # Ok::<(), kerfwise_source::Error>(())
    /// ```
    #[must_use]
    pub fn redraw(&self, event: &Event, instance: u32) -> Self {
        self.with_leaves(&|leaf| {
            leaf.source.event().is_redrawn_by(event).then(|| Leaf {
                source: leaf.source.clone(),
                instance,
                is_redrawn_twice: leaf.is_redrawn_twice || leaf.instance != 0,
            })
        })
    }

    /// The same expression with another source in the place of one; unchanged where it does not take `old`.
    ///
    /// ```
    /// use kerfwise_source::{LengthUnits, Source};
    /// use kerfwise_stack::Expr;
    ///
    /// let distance = Source::new("distance", 0.5.inch()).build()?;
    /// let tenon = 2.0 * Expr::source(&distance) - 0.625.inch();
    /// let further = tenon.with_source(&distance, &distance.at_estimate(0.51.inch())?);
    /// assert_eq!(further.evaluate(&|source| source.estimate().raw()), 2.0 * 0.51 - 0.625);
    /// # Ok::<(), kerfwise_source::Error>(())
    /// ```
    #[must_use]
    pub fn with_source(&self, old: &Source, new: &Source) -> Self {
        self.with_leaves(&|leaf| {
            leaf.source.is_same(old).then(|| Leaf {
                source: new.clone(),
                ..leaf.clone()
            })
        })
    }

    /// The same expression with other leaves, where `new` gives one.
    fn with_leaves(&self, new: &dyn Fn(&Leaf) -> Option<Leaf>) -> Self {
        let order = Order::of([self]);
        let mut changed: Vec<Option<Self>> = Vec::with_capacity(order.nodes.len());
        for (expr, args) in order.iter() {
            let node = expr.node();
            let new = match &node.kind {
                Kind::Source(leaf) => {
                    new(leaf).map(|leaf| Self::new(Kind::Source(leaf), Vec::new()))
                }
                Kind::Constant(_) => None,
                Kind::Op(_) | Kind::Function(_) => args
                    .iter()
                    .any(|&arg| changed[arg as usize].is_some())
                    .then(|| {
                        let args = args.iter().zip(&node.args);
                        let args = args.map(|(&new, old)| {
                            changed[new as usize].clone().unwrap_or_else(|| old.clone())
                        });
                        Self::new(node.kind.copy(), args.collect())
                    }),
            };
            changed.push(new);
        }
        changed.pop().flatten().unwrap_or_else(|| self.clone())
    }

    /// Parses the algebra that `Display` prints, over named sources.
    ///
    /// - `+ - * /`, brackets, whole powers with `^`, and the functions min, max, abs, square, sqrt, exp, ln, sin,
    ///   cos, tan, asin, acos, atan. `-x^2` is -(x²). `·`, `×` and `−` are read as well.
    /// - A number followed by a unit is a quantity: `2 thou`, `9.5 mm`, `0.25 deg`, `8 %MC`. A fraction of whole
    ///   numbers followed by a unit is one too, as on a drawing: `3/8 in` is three eighths of an inch (one over eight
    ///   inches is `1 / (8 in)`), and so is `1 1/2 in`. Anything else that reads as a [`Quantity`], such as
    ///   `1-1/2 in` or a product of units, stands in square brackets: `[1-1/2 in]`, `[0.00274 /%MC]`.
    /// - A source is called by its name, its second draw by `name#2`.
    ///
    /// # Errors
    ///
    /// [`ErrorKind::Text`](crate::ErrorKind::Text) with the place when it is anything else, when it is nested more than
    /// 200 deep or longer than a million characters, or when two of the sources share a name. Dimensions are checked
    /// when the stack is built.
    ///
    /// ```
    /// use kerfwise_source::{LengthUnits, Source};
    /// use kerfwise_stack::Expr;
    ///
    /// let kerf = Source::new("kerf", 0.125.inch()).build()?;
    /// let cut = Expr::parse("2 * (3/8 in - kerf)", &[kerf.clone()])?;
    /// assert_eq!(cut.evaluate(&|source| source.estimate().raw()), 0.5);
    ///
    /// let error = Expr::parse("3/8 in - kerff", &[kerf]).unwrap_err();
    /// assert_eq!(
    ///     error.to_string(),
    ///     r#""3/8 in - kerff", column 10: unknown source "kerff": did you mean "kerf"?"#,
    /// );
    /// # Ok::<(), Box<dyn std::error::Error>>(())
    /// ```
    pub fn parse(text: &str, sources: &[Source]) -> Result<Self, Error> {
        text::parse(text, sources)
    }

    /// Direct evaluation in raw units (inch, radian), without compiling; `value_of` gives the value of each source,
    /// the same for all its instances. NaN where the expression is not defined.
    ///
    /// ```
    /// use kerfwise_source::{LengthUnits, Source};
    /// use kerfwise_stack::Expr;
    ///
    /// let kerf = Source::new("kerf", 0.125.inch()).build()?;
    /// let doubled = 2.0 * Expr::from(&kerf);
    /// assert_eq!(doubled.evaluate(&|source| source.estimate().raw()), 0.25);
    /// # Ok::<(), kerfwise_source::Error>(())
    /// ```
    pub fn evaluate(&self, value_of: &dyn Fn(&Source) -> f64) -> f64 {
        let order = Order::of([self]);
        let mut values: Vec<f64> = Vec::with_capacity(order.nodes.len());
        for (expr, args) in order.iter() {
            let arg = |k: usize| args.get(k).map_or(f64::NAN, |&at| values[at as usize]);
            let value = match &expr.node().kind {
                Kind::Source(leaf) => value_of(&leaf.source),
                Kind::Constant(quantity) => quantity.raw(),
                Kind::Op(op) => op.value(arg(0), arg(1)),
                Kind::Function(function) => {
                    let args: Vec<f64> = (0..args.len()).map(arg).collect();
                    function.value(&args)
                }
            };
            values.push(value);
        }
        values.pop().unwrap_or(f64::NAN)
    }

    /// The sources in it, each once, in the order in which they are met from the left.
    ///
    /// ```
    /// use kerfwise_source::{LengthUnits, Source};
    /// use kerfwise_stack::Expr;
    ///
    /// let travel = Source::new("travel", 0.5.inch()).build()?;
    /// let kerf = Source::new("kerf", 0.125.inch()).build()?;
    /// let tenon = Expr::from(&travel) - &kerf - &kerf;
    /// let names: Vec<_> = tenon.sources().iter().map(|s| s.name().to_owned()).collect();
    /// assert_eq!(names, ["travel", "kerf"]);
    /// # Ok::<(), kerfwise_source::Error>(())
    /// ```
    #[must_use]
    pub fn sources(&self) -> Vec<Source> {
        let mut found: Vec<Source> = Vec::new();
        let mut by_name: HashMap<String, Vec<usize>> = HashMap::new();
        for leaf in Order::of([self]).leaves() {
            let same_name = by_name.entry(leaf.source.name().to_owned()).or_default();
            if !same_name.iter().any(|&at| found[at].is_same(&leaf.source)) {
                same_name.push(found.len());
                found.push(leaf.source.clone());
            }
        }
        found
    }

    /// The algebra, cut short for a message.
    pub(crate) fn brief(&self) -> String {
        const LONGEST: usize = 48;
        text::print(self, LONGEST)
    }
}

impl Kind {
    /// A copy for a node with other arguments.
    fn copy(&self) -> Self {
        match self {
            Self::Source(leaf) => Self::Source(leaf.clone()),
            Self::Constant(quantity) => Self::Constant(*quantity),
            Self::Op(op) => Self::Op(*op),
            Self::Function(function) => Self::Function(Arc::clone(function)),
        }
    }
}

/// The children are taken out one by one: dropping them where they are would recurse as deep as the expression.
impl Drop for Node {
    fn drop(&mut self) {
        let mut pending = std::mem::take(&mut self.args);
        while let Some(Expr(node)) = pending.pop() {
            if let Some(mut node) = Arc::into_inner(node) {
                pending.append(&mut node.args);
            }
        }
    }
}

/// Every node below some roots once, arguments before what uses them.
pub(crate) struct Order<'a> {
    pub(crate) nodes: Vec<&'a Expr>,
    /// Where the arguments of each node stand in `nodes`, one after the other.
    args: Vec<u32>,
    place: HashMap<*const Node, u32, BuildHasherDefault<AddressHasher>>,
}

/// Spreads the addresses of nodes over a table, in a tenth of the time of the standard hasher: nobody chooses them.
#[derive(Debug, Default)]
pub(crate) struct AddressHasher(u64);

impl Hasher for AddressHasher {
    fn write(&mut self, bytes: &[u8]) {
        for byte in bytes {
            self.write_usize(usize::from(*byte));
        }
    }

    fn write_usize(&mut self, number: usize) {
        // Fibonacci hashing (Knuth, The Art of Computer Programming, vol. 3, 6.4).
        self.0 = (self.0 ^ number as u64).wrapping_mul(0x9e37_79b9_7f4a_7c15);
    }

    fn finish(&self) -> u64 {
        // The upper bits depend on all bits of the address; a table takes the lower ones.
        self.0.rotate_left(32)
    }
}

impl<'a> Order<'a> {
    pub(crate) fn of(roots: impl IntoIterator<Item = &'a Expr>) -> Self {
        let mut order = Self {
            nodes: Vec::new(),
            args: Vec::new(),
            place: HashMap::default(),
        };
        for root in roots {
            order.walk(root);
        }
        order
    }

    fn walk(&mut self, root: &'a Expr) {
        // An expression, and whether its arguments are already placed.
        let mut pending = vec![(root, false)];
        while let Some((expr, is_ready)) = pending.pop() {
            let key = Arc::as_ptr(&expr.0);
            if self.place.contains_key(&key) {
                continue;
            }
            let args = &expr.node().args;
            if is_ready || args.is_empty() {
                self.args
                    .extend(args.iter().map(|arg| self.place[&Arc::as_ptr(&arg.0)]));
                // More than u32::MAX nodes do not fit in memory: each takes above 64 bytes.
                self.place.insert(key, self.nodes.len() as u32);
                self.nodes.push(expr);
            } else {
                pending.push((expr, true));
                pending.extend(args.iter().rev().map(|arg| (arg, false)));
            }
        }
    }

    /// Each node with the places of its arguments.
    pub(crate) fn iter(&self) -> impl Iterator<Item = (&'a Expr, &[u32])> {
        let mut rest = &self.args[..];
        self.nodes.iter().map(move |expr| {
            let (args, after) = rest.split_at(expr.node().args.len());
            rest = after;
            (*expr, args)
        })
    }

    /// Where an expression stands; it must be one of the roots or below one.
    pub(crate) fn place(&self, expr: &Expr) -> usize {
        self.place[&Arc::as_ptr(&expr.0)] as usize
    }

    pub(crate) fn leaves(&self) -> impl Iterator<Item = &'a Leaf> {
        self.nodes
            .iter()
            .filter_map(|expr| match &expr.node().kind {
                Kind::Source(leaf) => Some(leaf),
                _ => None,
            })
    }
}

/// The algebra, as a class can check it by hand: `travel - kerf - mortise + clearance`.
///
/// [`Expr::parse`] reads it back, up to its caps. A text above a million characters is cut short
/// with an ellipsis, because a few nested sums of an expression with itself are longer than any memory.
impl fmt::Display for Expr {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(&text::print(self, text::LONGEST))
    }
}

impl fmt::Debug for Expr {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.debug_tuple("Expr").field(&self.brief()).finish()
    }
}

impl PartialEq for Expr {
    fn eq(&self, other: &Self) -> bool {
        graph::are_alike(self, other)
    }
}

macro_rules! into_expr {
    ($($type:ty => |$value:ident| $expr:expr;)+) => {$(
        impl From<$type> for Expr {
            fn from($value: $type) -> Self {
                $expr
            }
        }
    )+};
}

into_expr! {
    &Expr => |expr| expr.clone();
    &Source => |source| Self::source(source);
    Source => |source| Self::source(&source);
    Quantity => |value| Self::constant(value);
    Length => |value| Self::constant(value);
    Angle => |value| Self::constant(value);
    MoistureContent => |value| Self::constant(value);
    f64 => |value| Self::constant(value);
}

macro_rules! operator {
    ($trait:ident, $method:ident, $op:expr; $($left:ty, $right:ty;)+) => {$(
        impl $trait<$right> for $left {
            type Output = Expr;

            fn $method(self, right: $right) -> Expr {
                Expr::binary($op, self.into(), right.into())
            }
        }
    )+};
}

macro_rules! operators {
    ($($trait:ident $method:ident $op:ident;)+) => {$(
        operator! {
            $trait, $method, Op::$op;
            Expr, Expr;
            Expr, &Expr;
            &Expr, Expr;
            &Expr, &Expr;
            Expr, &Source;
            &Expr, &Source;
            &Source, Expr;
            &Source, &Expr;
            Expr, Source;
            &Expr, Source;
            Source, Expr;
            Source, &Expr;
            Expr, Quantity;
            &Expr, Quantity;
            Quantity, Expr;
            Quantity, &Expr;
            Expr, Length;
            &Expr, Length;
            Length, Expr;
            Length, &Expr;
            Expr, Angle;
            &Expr, Angle;
            Angle, Expr;
            Angle, &Expr;
            Expr, MoistureContent;
            &Expr, MoistureContent;
            MoistureContent, Expr;
            MoistureContent, &Expr;
            Expr, f64;
            &Expr, f64;
            f64, Expr;
            f64, &Expr;
        }
    )+};
}

operators! {
    Add add Add;
    Sub sub Sub;
    Mul mul Mul;
    Div div Div;
}

impl Neg for Expr {
    type Output = Self;

    fn neg(self) -> Self {
        Self::unary(Op::Neg, &self)
    }
}

impl Neg for &Expr {
    type Output = Expr;

    fn neg(self) -> Expr {
        Expr::unary(Op::Neg, self)
    }
}

#[cfg(test)]
#[expect(clippy::float_cmp, reason = "what is exact is compared exactly")]
mod tests {
    use super::*;
    use crate::testing;
    use kerfwise_source::LengthUnits;

    const DEEP: usize = 250_000;

    /// Built one upon the other, on the left, on the right, or by one operand.
    fn chains() -> [Expr; 3] {
        let kerf = Expr::from(&testing::length("kerf"));
        let mut left = kerf.clone();
        let mut right = kerf.clone();
        let mut sign = kerf.clone();
        for _ in 0..DEEP {
            left = left + &kerf;
            right = &kerf - right;
            sign = -sign;
        }
        [left, right, sign]
    }

    #[test]
    fn depth_costs_no_stack() {
        // Half a byte of stack for each level: what recursed anywhere would overflow it at once.
        let small = std::thread::Builder::new().stack_size(128 * 1024);
        let work = small.spawn(|| {
            for (chain, at_one) in chains().iter().zip([250_001.0, 1.0, 1.0]) {
                assert_eq!(chain.evaluate(&|_| 1.0), at_one);
                assert_eq!(chain.clone(), *chain);
                let text_of_chain = chain.to_string();
                assert!((DEEP..=text::LONGEST).contains(&text_of_chain.chars().count()));
                assert_eq!(chain.sources().len(), 1);
                assert!(format!("{chain:?}").len() < 200);
                let again = chain.redraw(&Event::batch(), 2);
                assert_ne!(again, *chain);
                let stack = crate::Stack::builder()
                    .outcome_without_band("chain", chain)
                    .build()
                    .unwrap();
                let value = stack.outcome("chain").unwrap().evaluate(&[]).unwrap();
                assert_eq!(value, at_one.inch().into());
            }
        });
        work.unwrap().join().unwrap();
    }

    #[test]
    fn every_pair_of_operands_makes_an_expression() {
        let kerf = testing::length("kerf");
        let x = Expr::from(&kerf);
        let rows = [
            (&x + &x, "kerf + kerf"),
            (x.clone() - x.clone(), "kerf - kerf"),
            (&x * 2.0, "kerf * 2"),
            (2.0 / &x, "2 / kerf"),
            (&x + &kerf, "kerf + kerf"),
            (&kerf - &x, "kerf - kerf"),
            (kerf.clone() * x.clone(), "kerf * kerf"),
            (1.thou() + &x, "0.001 in + kerf"),
            (&x - Quantity::from(1.inch()), "kerf - 1 in"),
            (&x / MoistureContent::from_percent(8.0), "kerf / (8 %MC)"),
            (Angle::from_radians(0.5) * &x, "0.5 rad * kerf"),
            (-&x, "-kerf"),
        ];
        for (expr, text) in rows {
            assert_eq!(expr.to_string(), text);
        }
    }

    #[test]
    fn equal_means_built_alike_over_the_same_sources() {
        let (a, b) = (testing::length("a"), testing::length("b"));
        let sum = || Expr::from(&a) + &b;
        assert_eq!(sum(), sum());
        assert_ne!(sum(), Expr::from(&b) + &a);
        assert_ne!(Expr::from(&a), Expr::from(&testing::length("a")));
        assert_ne!(Expr::constant(0.0), Expr::constant(-0.0));
        assert_ne!(Expr::constant(1.0), Expr::constant(1.inch()));
        assert_ne!(Expr::from(&a).powi(2), Expr::from(&a).square());
        assert_ne!(Expr::from(&a).powi(2), Expr::from(&a).powi(3));
        // Shared or written twice, it is the same.
        let shared = sum();
        assert_eq!(&shared * &shared, sum() * sum());
    }

    #[test]
    fn redrawing_touches_what_the_event_redraws_and_nothing_else() {
        let make = |name: &str, event| Source::new(name, 1.inch()).event(event).build().unwrap();
        let kerf = make("kerf", Event::blade());
        let stock = make("stock", Event::piece());
        let seat = make("seat", Event::cut());
        let cut = Expr::from(&stock) - &kerf + (Expr::from(&seat) - &kerf).abs();
        let piece = cut.redraw(&Event::piece(), 2);
        assert_eq!(piece.to_string(), "stock#2 - kerf + abs(seat#2 - kerf)");
        let end = cut.redraw(&Event::cut(), 1).redraw(&Event::blade(), 3);
        assert_eq!(end.to_string(), "stock - kerf#3 + abs(seat#1 - kerf#3)");
        assert_eq!(cut.redraw(&Event::gauge(), 2), cut);
    }
}
