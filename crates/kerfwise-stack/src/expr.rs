use crate::Error;
use kerfwise_source::{Event, Quantity, Source};
use std::sync::Arc;

/// An expression over sources: a cheap handle, combined with ordinary operators.
#[derive(Debug, Clone)]
pub struct Expr(pub(crate) Arc<Node>);

/// What a handle points to.
#[derive(Debug)]
pub(crate) struct Node {}

#[allow(unused_variables, reason = "skeleton")]
impl Expr {
    /// A source as an expression.
    pub fn source(source: &Source) -> Self {
        todo!()
    }
    /// A constant.
    pub fn constant(value: impl Into<Quantity>) -> Self {
        let _: Quantity = value.into();
        todo!()
    }
    /// The square, which an interval knows to be at least 0.
    pub fn square(&self) -> Self {
        todo!()
    }
    /// An integer power.
    pub fn powi(&self, n: i32) -> Self {
        todo!()
    }
    /// Square root.
    pub fn sqrt(&self) -> Self {
        todo!()
    }
    /// Absolute value.
    pub fn abs(&self) -> Self {
        todo!()
    }
    /// The lesser.
    pub fn min(&self, other: &Self) -> Self {
        todo!()
    }
    /// The greater.
    pub fn max(&self, other: &Self) -> Self {
        todo!()
    }
    /// e to the power.
    pub fn exp(&self) -> Self {
        todo!()
    }
    /// Natural logarithm.
    pub fn ln(&self) -> Self {
        todo!()
    }
    /// Sine of an angle.
    pub fn sin(&self) -> Self {
        todo!()
    }
    /// Cosine of an angle.
    pub fn cos(&self) -> Self {
        todo!()
    }
    /// Tangent of an angle.
    pub fn tan(&self) -> Self {
        todo!()
    }
    /// Angle with this sine.
    pub fn asin(&self) -> Self {
        todo!()
    }
    /// Angle with this cosine.
    pub fn acos(&self) -> Self {
        todo!()
    }
    /// Angle with this tangent.
    pub fn atan(&self) -> Self {
        todo!()
    }
    /// The same expression for another instance of an event: every source that `event` redraws is drawn anew.
    pub fn redraw(&self, event: &Event, instance: u32) -> Self {
        todo!()
    }
    /// Parses the algebra that `Display` prints, over named sources.
    pub fn parse(text: &str, sources: &[Source]) -> Result<Self, Error> {
        todo!()
    }
    /// Direct evaluation in raw units.
    pub fn evaluate(&self, value_of: &dyn Fn(&Source) -> f64) -> f64 {
        todo!()
    }
}
