/// One value, no spread.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Point {
    pub(super) value: f64,
}

impl Point {
    /// The value.
    #[inline]
    #[must_use]
    pub fn value(&self) -> f64 {
        self.value
    }

}
