//! Expressions into text, with as few brackets as the parser needs to read the same expression.

use crate::expr::{Expr, Kind};
use crate::op::{Form, Op};
use kerfwise_source::{Dimension, Quantity};

/// How tightly a piece of text binds.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
enum Binding {
    Sum,
    Product,
    Sign,
    Power,
    Atom,
}

/// What may still be written, the next on top.
enum Todo<'a> {
    Text(&'static str),
    Owned(String),
    Expr(&'a Expr, Place),
}

/// Where an expression stands.
#[derive(Debug, Clone, Copy)]
struct Place {
    /// What binds less tightly gets brackets.
    at_least: Binding,
    /// A minus may stand here without brackets: at the start, after a bracket or a comma.
    is_leading: bool,
    /// Right of a `/`, where a unit would be taken for that of a fraction: `1 / (8 in)`.
    is_divisor: bool,
    /// Under a minus that is not part of a number: `-(2)`.
    is_negated: bool,
}

impl Place {
    const fn new(at_least: Binding, is_leading: bool) -> Self {
        Self {
            at_least,
            is_leading,
            is_divisor: false,
            is_negated: false,
        }
    }
}

/// The algebra; cut off with an ellipsis after so many characters.
pub(crate) fn print(expr: &Expr, longest: usize) -> String {
    let mut out = String::new();
    let mut length = 0;
    let mut todo = vec![Todo::Expr(expr, Place::new(Binding::Sum, true))];
    while let Some(next) = todo.pop() {
        let text = match &next {
            Todo::Text(text) => text,
            Todo::Owned(text) => text.as_str(),
            Todo::Expr(expr, place) => {
                expand(expr, *place, &mut todo);
                continue;
            }
        };
        for c in text.chars() {
            if length == longest {
                out.pop();
                out.push('…');
                return out;
            }
            out.push(c);
            length += 1;
        }
    }
    out
}

/// Puts the parts of an expression on the list, the last part first.
fn expand<'a>(expr: &'a Expr, place: Place, todo: &mut Vec<Todo<'a>>) {
    let node = expr.node();
    let op = match &node.kind {
        Kind::Source(leaf) => return todo.push(Todo::Owned(leaf.name())),
        Kind::Constant(value) => return todo.push(Todo::Owned(constant(*value, place))),
        Kind::Function(function) => {
            todo.push(Todo::Text(")"));
            push_list(&node.args, todo);
            todo.push(Todo::Text("("));
            return todo.push(Todo::Owned(function.name.clone()));
        }
        Kind::Op(op) => *op,
    };
    let binding = binding(op);
    let is_sign_inside = op == Op::Neg && !place.is_leading;
    let has_brackets = binding < place.at_least || is_sign_inside;
    let is_leading = place.is_leading || has_brackets;
    if has_brackets {
        todo.push(Todo::Text(")"));
    }
    match op.row().form {
        Form::Infix => {
            let (sign, right) = match op {
                Op::Add => (" + ", Binding::Product),
                Op::Sub => (" - ", Binding::Product),
                Op::Mul => (" * ", Binding::Sign),
                _ => (" / ", Binding::Sign),
            };
            let right = Place {
                is_divisor: op == Op::Div,
                ..Place::new(right, false)
            };
            todo.push(Todo::Expr(&node.args[1], right));
            todo.push(Todo::Text(sign));
            todo.push(Todo::Expr(&node.args[0], Place::new(binding, is_leading)));
        }
        Form::Prefix => {
            let inner = Place {
                is_negated: true,
                ..Place::new(Binding::Power, false)
            };
            todo.push(Todo::Expr(&node.args[0], inner));
            todo.push(Todo::Text("-"));
        }
        Form::Power => {
            if let Op::Powi(n) = op {
                todo.push(Todo::Owned(format!("^{n}")));
            }
            todo.push(Todo::Expr(&node.args[0], Place::new(Binding::Atom, false)));
        }
        Form::Call => {
            todo.push(Todo::Text(")"));
            push_list(&node.args, todo);
            todo.push(Todo::Text("("));
            todo.push(Todo::Text(op.row().name));
        }
    }
    if has_brackets {
        todo.push(Todo::Text("("));
    }
}

fn push_list<'a>(args: &'a [Expr], todo: &mut Vec<Todo<'a>>) {
    for (k, arg) in args.iter().enumerate().rev() {
        todo.push(Todo::Expr(arg, Place::new(Binding::Sum, true)));
        if k > 0 {
            todo.push(Todo::Text(", "));
        }
    }
}

fn binding(op: Op) -> Binding {
    match op.row().form {
        Form::Infix if matches!(op, Op::Add | Op::Sub) => Binding::Sum,
        Form::Infix => Binding::Product,
        Form::Prefix => Binding::Sign,
        Form::Power => Binding::Power,
        Form::Call => Binding::Atom,
    }
}

fn constant(value: Quantity, place: Place) -> String {
    let has_one_unit =
        [Dimension::LENGTH, Dimension::ANGLE, Dimension::MOISTURE].contains(&value.dimension());
    let has_no_unit = value.dimension() == Dimension::NUMBER;
    if !has_one_unit && !has_no_unit {
        return format!("[{value}]");
    }
    let is_negative = value.raw().is_sign_negative();
    let is_raised = place.at_least == Binding::Atom;
    let has_brackets = is_negative && !place.is_leading
        || place.is_negated
        || has_one_unit && (place.is_divisor || is_raised);
    if has_brackets {
        format!("({value})")
    } else {
        value.to_string()
    }
}
