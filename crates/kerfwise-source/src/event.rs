use std::sync::Arc;
/// The event that redraws a source; events nest, and redrawing one redraws what is nested in it.
#[derive(Debug, Clone, PartialEq, Eq, Hash, PartialOrd, Ord)]
pub struct Event {
    name: Arc<str>,
    parent: Option<Arc<Event>>,
}
impl Event {
    /// An event of its own.
    pub fn new(name: &str) -> Self {
        Self {
            name: name.into(),
            parent: None,
        }
    }
    /// An event nested in another: redrawing `parent` redraws this one.
    pub fn nested(name: &str, parent: &Self) -> Self {
        Self {
            name: name.into(),
            parent: Some(Arc::new(parent.clone())),
        }
    }
    /// "batch": drawn once for all the pieces (what a source has unless told otherwise).
    pub fn batch() -> Self {
        Self::new("batch")
    }
    /// "gauge": the calibration of a gauge.
    pub fn gauge() -> Self {
        Self::new("gauge")
    }
    /// "blade".
    pub fn blade() -> Self {
        Self::new("blade")
    }
    /// "mortise set-up".
    pub fn mortise_set_up() -> Self {
        Self::new("mortise set-up")
    }
    /// "tenon set-up".
    pub fn tenon_set_up() -> Self {
        Self::new("tenon set-up")
    }
    /// "jig move", nested in the tenon set-up.
    pub fn jig_move() -> Self {
        Self::nested("jig move", &Self::tenon_set_up())
    }
    /// "piece": every joint anew.
    pub fn piece() -> Self {
        Self::new("piece")
    }
    /// "end", nested in the piece.
    pub fn end() -> Self {
        Self::nested("end", &Self::piece())
    }
    /// "cut", nested in the end of a piece: every clamping anew.
    pub fn cut() -> Self {
        Self::nested("cut", &Self::end())
    }
    /// The name.
    pub fn name(&self) -> &str {
        &self.name
    }
    /// The event it is nested in.
    pub fn parent(&self) -> Option<&Self> {
        self.parent.as_deref()
    }
    /// Whether redrawing `other` redraws this one: the same event, or nested in it at any depth.
    pub fn is_redrawn_by(&self, other: &Self) -> bool {
        let mut at = Some(self);
        while let Some(e) = at {
            if e == other {
                return true;
            }
            at = e.parent();
        }
        false
    }
}
