use std::cmp::Ordering;
use std::fmt;
use std::hash::{Hash, Hasher};
use std::sync::Arc;

/// The event that redraws a source; events nest, and redrawing one redraws what is nested in it.
///
/// Moving the jig draws its travel anew, but neither the kerf of the blade nor the mortise:
/// sources that share an event move together, which is what makes the chance of a whole batch
/// differ from the chance of one joint to the power n.
///
/// Events are compared by their name and the names of all that they are nested in; so a plan may
/// name an event twice and mean the same one. A cheap handle.
///
/// ```
/// use kerfwise_source::Event;
///
/// let jig_move = Event::jig_move();
/// assert!(jig_move.is_redrawn_by(&Event::tenon_set_up()));
/// assert!(!Event::tenon_set_up().is_redrawn_by(&jig_move));
/// assert_eq!(jig_move.to_string(), "jig move (in tenon set-up)");
/// ```
#[derive(Clone)]
pub struct Event {
    name: Arc<str>,
    parent: Option<Arc<Self>>,
}

impl Event {
    /// An event of its own.
    ///
    /// ```
    /// use kerfwise_source::Event;
    /// assert_eq!(Event::new("glue-up").parent(), None);
    /// ```
    #[must_use]
    pub fn new(name: &str) -> Self {
        Self {
            name: name.into(),
            parent: None,
        }
    }

    /// An event nested in another: redrawing `parent` redraws this one.
    ///
    /// ```
    /// use kerfwise_source::Event;
    /// let sharpening = Event::nested("sharpening", &Event::blade());
    /// assert!(sharpening.is_redrawn_by(&Event::blade()));
    /// ```
    #[must_use]
    pub fn nested(name: &str, parent: &Self) -> Self {
        Self {
            name: name.into(),
            parent: Some(Arc::new(parent.clone())),
        }
    }

    /// "batch": drawn once for all the pieces (what a source has unless told otherwise).
    #[must_use]
    pub fn batch() -> Self {
        Self::new("batch")
    }

    /// "gauge": the calibration of a gauge.
    #[must_use]
    pub fn gauge() -> Self {
        Self::new("gauge")
    }

    /// "blade": another blade, another kerf.
    #[must_use]
    pub fn blade() -> Self {
        Self::new("blade")
    }

    /// "mortise set-up".
    #[must_use]
    pub fn mortise_set_up() -> Self {
        Self::new("mortise set-up")
    }

    /// "tenon set-up".
    #[must_use]
    pub fn tenon_set_up() -> Self {
        Self::new("tenon set-up")
    }

    /// "jig move" (travel, lock-down), nested in the tenon set-up.
    #[must_use]
    pub fn jig_move() -> Self {
        Self::nested("jig move", &Self::tenon_set_up())
    }

    /// "piece": every joint anew.
    #[must_use]
    pub fn piece() -> Self {
        Self::new("piece")
    }

    /// "end", nested in the piece.
    #[must_use]
    pub fn end() -> Self {
        Self::nested("end", &Self::piece())
    }

    /// "cut", nested in the end of a piece: every clamping anew.
    #[must_use]
    pub fn cut() -> Self {
        Self::nested("cut", &Self::end())
    }

    /// The name.
    #[must_use]
    pub fn name(&self) -> &str {
        &self.name
    }

    /// The event it is nested in.
    #[must_use]
    pub fn parent(&self) -> Option<&Self> {
        self.parent.as_deref()
    }

    /// Whether redrawing `other` redraws this one: the same event, or nested in it at any depth.
    ///
    /// ```
    /// use kerfwise_source::Event;
    /// assert!(Event::cut().is_redrawn_by(&Event::piece()));
    /// assert!(!Event::cut().is_redrawn_by(&Event::blade()));
    /// ```
    #[must_use]
    pub fn is_redrawn_by(&self, other: &Self) -> bool {
        self.outwards().any(|event| event == other)
    }

    /// This event, what it is nested in, and so on.
    pub(crate) fn outwards(&self) -> impl Iterator<Item = &Self> {
        std::iter::successors(Some(self), |event| event.parent())
    }

    fn names(&self) -> impl Iterator<Item = &str> {
        self.outwards().map(Self::name)
    }
}

// What would be derived below would call itself for every level of nesting, and a caller may nest
// without end; these walk instead.

impl PartialEq for Event {
    fn eq(&self, other: &Self) -> bool {
        self.names().eq(other.names())
    }
}

impl Eq for Event {}

impl PartialOrd for Event {
    fn partial_cmp(&self, other: &Self) -> Option<Ordering> {
        Some(self.cmp(other))
    }
}

/// By name, then by the name of what they are nested in, and so on.
impl Ord for Event {
    fn cmp(&self, other: &Self) -> Ordering {
        self.names().cmp(other.names())
    }
}

impl Hash for Event {
    fn hash<H: Hasher>(&self, state: &mut H) {
        self.names().for_each(|name| name.hash(state));
    }
}

impl Drop for Event {
    fn drop(&mut self) {
        let mut next = self.parent.take();
        while let Some(mut event) = next.and_then(Arc::into_inner) {
            next = event.parent.take();
        }
    }
}

impl fmt::Debug for Event {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "Event({self})")
    }
}

/// "piece", "jig move (in tenon set-up)", "cut (in end, in piece)".
impl fmt::Display for Event {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(&self.name)?;
        for (depth, name) in self.names().skip(1).enumerate() {
            f.write_str(if depth == 0 { " (in " } else { ", in " })?;
            f.write_str(name)?;
        }
        if self.parent.is_some() {
            f.write_str(")")?;
        }
        Ok(())
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use std::collections::BTreeSet;

    #[test]
    fn nesting_goes_to_any_depth_and_one_way() {
        let cut = Event::cut();
        for outer in [Event::cut(), Event::end(), Event::piece()] {
            assert!(cut.is_redrawn_by(&outer));
        }
        assert!(!Event::piece().is_redrawn_by(&cut));
        assert!(!cut.is_redrawn_by(&Event::batch()));
    }

    #[test]
    fn equality_is_of_the_name_and_of_all_it_is_nested_in() {
        assert_eq!(
            Event::nested("jig move", &Event::new("tenon set-up")),
            Event::jig_move()
        );
        assert_ne!(Event::new("jig move"), Event::jig_move());
        assert_ne!(
            Event::nested("jig move", &Event::mortise_set_up()),
            Event::jig_move()
        );
        let set: BTreeSet<Event> = [Event::jig_move(), Event::jig_move(), Event::piece()]
            .into_iter()
            .collect();
        assert_eq!(set.len(), 2);
    }

    #[test]
    fn prints_what_it_is_nested_in() {
        assert_eq!(Event::piece().to_string(), "piece");
        assert_eq!(Event::cut().to_string(), "cut (in end, in piece)");
    }

    // 200 000 levels would need some 20 MB of stack if any of these called itself.
    #[test]
    fn deep_nesting_does_not_exhaust_the_stack() {
        let mut deep = Event::new("0");
        for _ in 0..200_000 {
            deep = Event::nested("n", &deep);
        }
        let copy = deep.clone();
        assert_eq!(deep, copy);
        assert!(deep.to_string().starts_with("n (in n, in n"));
        drop(deep);
        drop(copy);
    }
}
