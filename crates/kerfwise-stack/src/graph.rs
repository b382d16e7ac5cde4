//! The checked graph: equal nodes stored once, constants folded, dimensions known.

use crate::expr::{Expr, Kind, Leaf, Order};
use crate::function::Function;
use crate::op::{Misfit, Op};
use kerfwise_source::{Dimension, Quantity, Source};
use std::collections::HashMap;
use std::collections::hash_map::Entry;
use std::sync::Arc;

/// A graph in which arguments stand before what uses them.
#[derive(Debug)]
pub(crate) struct Graph {
    pub(crate) nodes: Vec<GraphNode>,
    /// The node of each outcome.
    pub(crate) outputs: Vec<u32>,
}

#[derive(Debug)]
pub(crate) struct GraphNode {
    pub(crate) kind: GraphKind,
    pub(crate) args: Vec<u32>,
    /// `None` when its dimensions are at fault, which has been reported.
    pub(crate) dimension: Option<Dimension>,
    /// What it was made from, to be named in messages.
    pub(crate) origin: Expr,
}

#[derive(Debug, Clone)]
pub(crate) enum GraphKind {
    /// The value of a variable.
    Input(usize),
    Constant(f64),
    Op(Op),
    Function(Arc<Function>),
}

/// What makes two nodes equal.
#[derive(PartialEq, Eq, Hash)]
enum Key {
    Leaf(usize, u32),
    Constant(u64, Dimension),
    Op(Op, u32, u32),
    Function(*const Function, Vec<u32>),
}

impl Key {
    fn op(op: Op, args: &[u32]) -> Self {
        let arg = |k: usize| args.get(k).copied().unwrap_or(u32::MAX);
        Self::Op(op, arg(0), arg(1))
    }

    fn constant(value: Quantity) -> Self {
        Self::Constant(value.raw().to_bits(), value.dimension())
    }
}

/// Whether two expressions are built alike over the same sources.
pub(crate) fn are_alike(a: &Expr, b: &Expr) -> bool {
    let order = Order::of([a, b]);
    let mut sources: HashMap<&str, Vec<(&Source, usize)>> = HashMap::new();
    let mut ids: HashMap<Key, u32> = HashMap::new();
    let mut id_of: Vec<u32> = Vec::with_capacity(order.nodes.len());
    for (expr, args) in order.iter() {
        let args: Vec<u32> = args.iter().map(|&arg| id_of[arg as usize]).collect();
        let key = match &expr.node().kind {
            Kind::Source(leaf) => {
                let same_name = sources.entry(leaf.source.name()).or_default();
                let known = same_name.iter().find(|(s, _)| s.is_same(&leaf.source));
                let place = known.map_or(id_of.len(), |(_, place)| *place);
                if known.is_none() {
                    same_name.push((&leaf.source, place));
                }
                Key::Leaf(place, leaf.instance)
            }
            Kind::Constant(value) => Key::constant(*value),
            Kind::Op(op) => Key::op(*op, &args),
            Kind::Function(function) => Key::Function(Arc::as_ptr(function), args),
        };
        let next = ids.len() as u32;
        id_of.push(*ids.entry(key).or_insert(next));
    }
    id_of[order.place(a)] == id_of[order.place(b)]
}

/// Builds the graph of some named outcomes, which stand in this order and whose sources are already numbered, and reports
/// every fault.
pub(crate) fn build(
    outcomes: &[(&str, &Expr)],
    order: &Order<'_>,
    input_of: &dyn Fn(&Leaf) -> usize,
    faults: &mut Vec<String>,
) -> Graph {
    let mut builder = Builder {
        nodes: Vec::new(),
        ids: HashMap::new(),
    };
    // A node that two outcomes share is placed, and its faults are named, with the first one.
    let mut outcome = 0;
    let last_of: Vec<usize> = outcomes.iter().map(|(_, expr)| order.place(expr)).collect();
    let mut id_of: Vec<u32> = Vec::with_capacity(order.nodes.len());
    for (expr, args) in order.iter() {
        while last_of[outcome] < id_of.len() {
            outcome += 1;
        }
        let args: Vec<u32> = args.iter().map(|&arg| id_of[arg as usize]).collect();
        let id = builder.add(expr, args, input_of, &mut |message| {
            faults.push(format!("outcome {:?}: {message}", outcomes[outcome].0));
        });
        id_of.push(id);
    }
    Graph {
        nodes: builder.nodes,
        outputs: last_of.into_iter().map(|at| id_of[at]).collect(),
    }
}

struct Builder {
    nodes: Vec<GraphNode>,
    ids: HashMap<Key, u32>,
}

impl Builder {
    fn add(
        &mut self,
        expr: &Expr,
        args: Vec<u32>,
        input_of: &dyn Fn(&Leaf) -> usize,
        fault: &mut dyn FnMut(String),
    ) -> u32 {
        match &expr.node().kind {
            Kind::Source(leaf) => {
                let input = input_of(leaf);
                let dimension = Some(leaf.source.dimension());
                let key = Key::Leaf(input, 0);
                self.intern(key, expr, GraphKind::Input(input), Vec::new(), || dimension)
            }
            Kind::Constant(value) => {
                if !value.raw().is_finite() {
                    fault(format!("a constant must be finite (got {value})"));
                }
                self.constant(*value, expr)
            }
            Kind::Op(op) => self.op(*op, expr, args, fault),
            Kind::Function(function) => {
                let key = Key::Function(Arc::as_ptr(function), args.clone());
                let dimensions: Vec<_> = args.iter().map(|&arg| self.dimension(arg)).collect();
                let kind = GraphKind::Function(Arc::clone(function));
                self.intern(key, expr, kind, args, || {
                    check_function(function, expr, &dimensions, fault)
                })
            }
        }
    }

    fn op(&mut self, op: Op, expr: &Expr, args: Vec<u32>, fault: &mut dyn FnMut(String)) -> u32 {
        let dimensions: Vec<_> = args.iter().map(|&arg| self.dimension(arg)).collect();
        let key = Key::op(op, &args);
        if let Some(&id) = self.ids.get(&key) {
            return id;
        }
        let dimension = check_op(op, expr, &dimensions, fault);
        let constants: Vec<Option<f64>> =
            args.iter().map(|&arg| self.constant_value(arg)).collect();
        let arg = |k: usize| constants.get(k).copied().flatten().unwrap_or(f64::NAN);
        let is_constant = constants.iter().all(Option::is_some);
        let value = op.value(arg(0), arg(1));
        let is_never_defined =
            (is_constant && !value.is_finite()) || (op == Op::Div && arg(1) == 0.0);
        if is_never_defined {
            // An operand that is not finite has been reported.
            if constants.iter().flatten().all(|c| c.is_finite()) {
                let why = if value.is_infinite() {
                    "too large"
                } else {
                    "not defined"
                };
                fault(format!("\"{}\" is {why}", expr.brief()));
            }
            return self.intern(key, expr, GraphKind::Op(op), args, || None);
        }
        if let (true, Some(dimension)) = (is_constant, dimension) {
            let id = self.constant(Quantity::new(value, dimension), expr);
            self.ids.insert(key, id);
            return id;
        }
        self.intern(key, expr, GraphKind::Op(op), args, || dimension)
    }

    fn constant(&mut self, value: Quantity, expr: &Expr) -> u32 {
        let kind = GraphKind::Constant(value.raw());
        let dimension = Some(value.dimension());
        self.intern(Key::constant(value), expr, kind, Vec::new(), || dimension)
    }

    fn intern(
        &mut self,
        key: Key,
        origin: &Expr,
        kind: GraphKind,
        args: Vec<u32>,
        dimension: impl FnOnce() -> Option<Dimension>,
    ) -> u32 {
        let id = self.nodes.len() as u32;
        match self.ids.entry(key) {
            Entry::Occupied(known) => return *known.get(),
            Entry::Vacant(free) => free.insert(id),
        };
        self.nodes.push(GraphNode {
            kind,
            args,
            dimension: dimension(),
            origin: origin.clone(),
        });
        id
    }

    fn dimension(&self, id: u32) -> Option<Dimension> {
        self.nodes[id as usize].dimension
    }

    fn constant_value(&self, id: u32) -> Option<f64> {
        match self.nodes[id as usize].kind {
            GraphKind::Constant(value) => Some(value),
            _ => None,
        }
    }
}

/// The dimension of an operation's result; `None` when it is at fault, or an operand was.
fn check_op(
    op: Op,
    expr: &Expr,
    dimensions: &[Option<Dimension>],
    fault: &mut dyn FnMut(String),
) -> Option<Dimension> {
    if let Op::Powi(n) = op
        && n.unsigned_abs() > Op::LARGEST_POWER.unsigned_abs()
    {
        let most = Op::LARGEST_POWER;
        fault(format!(
            "in \"{}\" the exponent must lie from -{most} to {most}",
            expr.brief()
        ));
        return None;
    }
    let a = dimensions.first().copied().flatten()?;
    let b = match dimensions.get(1) {
        Some(b) => (*b)?,
        None => a,
    };
    match op.dimension(a, b) {
        Ok(dimension) => Some(dimension),
        Err(misfit) => {
            fault(misfit_message(op, expr, misfit, a, b));
            None
        }
    }
}

fn misfit_message(op: Op, expr: &Expr, misfit: Misfit, a: Dimension, b: Dimension) -> String {
    let args = &expr.node().args;
    let name = op.row().name;
    match misfit {
        Misfit::NotAlike => {
            let what = match op {
                Op::Add => format!("add {b} to {a}"),
                Op::Sub => format!("subtract {b} from {a}"),
                _ => format!("take the {name} of {a} and {b}"),
            };
            let sides = match op {
                Op::Add | Op::Sub => [is_a(&args[1], b), is_a(&args[0], a)],
                _ => [is_a(&args[0], a), is_a(&args[1], b)],
            };
            let hint = hint(&args[0], a, b).or_else(|| hint(&args[1], b, a));
            format!(
                "cannot {what}: {}{}",
                sides.join(", "),
                hint.unwrap_or_default()
            )
        }
        Misfit::Wanted(at, wanted) => {
            let found = if at == 0 { a } else { b };
            let hint = hint(&args[at], found, wanted).unwrap_or_default();
            format!(
                "{name} needs {}: {}{hint}",
                article(wanted),
                is_a(&args[at], found)
            )
        }
        Misfit::OddPower => format!(
            "{name} needs even powers of length, angle and moisture content: {}",
            is_a(&args[0], a)
        ),
        Misfit::TooLarge => format!("in \"{}\" the power of a unit is too large", expr.brief()),
    }
}

/// A way out where a bare number stands for a quantity.
fn hint(arg: &Expr, found: Dimension, wanted: Dimension) -> Option<String> {
    let Kind::Constant(value) = &arg.node().kind else {
        return None;
    };
    if found != Dimension::NUMBER {
        return None;
    }
    let with_unit = Expr::constant(Quantity::new(value.raw(), wanted));
    Some(format!(
        "; a bare number has no unit: write \"{with_unit}\""
    ))
}

fn check_function(
    function: &Function,
    expr: &Expr,
    dimensions: &[Option<Dimension>],
    fault: &mut dyn FnMut(String),
) -> Option<Dimension> {
    let name = &function.name;
    let wanted = function.facts.arguments();
    if wanted.len() != dimensions.len() {
        fault(format!(
            "function \"{name}\" has {} but facts about {} were declared",
            plural(dimensions.len(), "argument"),
            wanted.len()
        ));
        return None;
    }
    if !Source::is_name(name) {
        fault(format!(
            "function {name:?}: a name is made of the letters a to z and A to Z, digits, \"_\" and \".\", and starts with a letter"
        ));
        return None;
    }
    let args = &expr.node().args;
    let mut all_fit = true;
    for (k, ((wanted, _), found)) in wanted.iter().zip(dimensions).enumerate() {
        if let Some(found) = found
            && found != wanted
        {
            fault(format!(
                "argument {} of function \"{name}\" needs {}: {}",
                k + 1,
                article(*wanted),
                is_a(&args[k], *found)
            ));
        }
        all_fit &= *found == Some(*wanted);
    }
    all_fit.then(|| function.facts.dimension())
}

/// "1 argument", "2 arguments".
fn plural(count: usize, what: &str) -> String {
    format!("{count} {what}{}", if count == 1 { "" } else { "s" })
}

/// "\"theta\" is an angle".
fn is_a(expr: &Expr, dimension: Dimension) -> String {
    format!("\"{}\" is {}", expr.brief(), article(dimension))
}

/// "an angle", "a length".
pub(crate) fn article(dimension: Dimension) -> String {
    let words = dimension.to_string();
    let article = if words.starts_with(['a', 'e', 'i', 'o', 'u']) {
        "an"
    } else {
        "a"
    };
    format!("{article} {words}")
}
