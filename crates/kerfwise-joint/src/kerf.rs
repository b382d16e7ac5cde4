use crate::{Error, RunOut};
use kerfwise_source::{Distribution, Event, Length, LengthUnits, Source};
use kerfwise_stack::Expr;

/// The width that the blade takes away, with what is uncertain in how it was measured.
#[derive(Debug, Clone)]
pub struct Kerf(pub(crate) Expr);

/// Feeler leaves beside a pin in a saw cut.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Leaves {
    /// How many leaves lie in the largest stack that goes in.
    pub count: u32,
    /// The nominal thickness of that stack.
    pub goes: Length,
    /// The nominal thickness of the smallest stack that does not go in.
    pub does_not_go: Length,
}

/// A blade askew to the way of the jig.
#[derive(Debug, Clone)]
pub struct Heel {
    /// How much further from the way its back stands than its front, over the length below.
    pub heel: Source,
    /// The length over which the heel was measured.
    pub over: Length,
    /// The length of blade that is in the wood.
    pub engaged: Length,
}

impl Kerf {
    /// A kerf that one source describes.
    #[must_use]
    pub fn from_source(kerf: &Source) -> Self {
        Self(Expr::source(kerf))
    }

    /// From a test cut: what the readings of its width say, plus the error that the gauge has in all
    /// of them.
    ///
    /// The gauge's error is one source, drawn once: more readings with the same gauge do not make it
    /// smaller.
    #[must_use]
    pub fn from_test_cut(readings: &Source, gauge: &Source) -> Self {
        Self(Expr::source(readings) + Expr::source(gauge))
    }

    /// From a pin and a stack of feeler leaves in a saw cut.
    ///
    /// ```text
    /// kerf = pin + leaves + count · leaf_error + film
    /// ```
    ///
    /// The kerf lies between what goes and what does not go; with nothing more known, `leaves` is
    /// rectangular between the two (JCGM 100, 4.3.7). The leaves of one set share one error per leaf
    /// (`leaf_error`), which therefore counts `count` times and not √count times. `film` is air and
    /// oil between the leaves, if known; else leave it out.
    ///
    /// # Errors
    ///
    /// When there is no leaf, or when the stack that does not go is not thicker than the one that does.
    ///
    /// ```
    /// use kerfwise_joint::{Kerf, Leaves};
    /// use kerfwise_source::{LengthUnits, Source};
    ///
    /// let pin = Source::new("pin", 0.1.inch()).build()?;
    /// let leaf_error = Source::new("leaf_error", 0.0.inch()).rectangular(0.35.thou()).build()?;
    /// let leaves = Leaves { count: 2, goes: 25.0.thou(), does_not_go: 26.0.thou() };
    /// // The estimate is in the middle: 0.1 + 0.0255 in.
    /// let kerf = Kerf::from_pin_and_leaves(&pin, leaves, &leaf_error, None)?;
    /// # let _ = kerf;
    /// # Ok::<(), Box<dyn std::error::Error>>(())
    /// ```
    pub fn from_pin_and_leaves(
        pin: &Source,
        leaves: Leaves,
        leaf_error: &Source,
        film: Option<&Source>,
    ) -> Result<Self, Error> {
        let Leaves {
            count,
            goes,
            does_not_go,
        } = leaves;
        if count == 0 {
            return Err(Error::recipe(
                "kerf: a stack of leaves needs at least 1 leaf (got 0)",
            ));
        }
        let (low, high) = (goes.to_inches(), does_not_go.to_inches());
        if !(low > 0.0 && high.is_finite()) {
            return Err(Error::recipe(format!(
                "kerf: the stack that goes in must be thicker than 0 (got {goes})"
            )));
        }
        if high <= low {
            return Err(Error::recipe(format!(
                "kerf: the stack that does not go in ({does_not_go}) must be thicker than the one \
                 that does ({goes}); swap them"
            )));
        }
        let half = (high - low) / 2.0;
        let between = Distribution::rectangular(-half, half).map_err(Error::source)?;
        let stack = Source::new("leaves", (low + half).inch())
            .error(between)
            .event(Event::blade())
            .measured("the last stack of leaves that goes and the first that does not")
            .build()
            .map_err(Error::source)?;
        let mut kerf =
            Expr::source(pin) + Expr::source(&stack) + f64::from(count) * Expr::source(leaf_error);
        if let Some(film) = film {
            kerf = kerf + Expr::source(film);
        }
        Ok(Self(kerf))
    }

    /// From the width of the teeth and the run-out of the plate at the rim: `tooth + run_out`.
    ///
    /// A plate that wobbles brings its teeth to one side and half a turn later to the other, so the cut is
    /// wider than the teeth by the whole run-out (TIR). `tooth` is the width from the outermost corner on the
    /// left to the outermost on the right, over all teeth; add what is not known of it with
    /// [`with`](Self::with). Source: geometry. A measured test cut says more than all of this.
    ///
    /// ```
    /// use kerfwise_joint::{Kerf, RunOut};
    /// use kerfwise_source::{LengthUnits, Source};
    ///
    /// let tooth = Source::new("tooth", 0.123.inch()).rectangular(1.thou()).build()?;
    /// let plate = Source::new("plate", 2.thou()).rectangular(1.thou()).build()?;
    /// let kerf = Kerf::from_teeth(&tooth, &RunOut::of_plate(&plate));
    /// assert_eq!(kerf.expr().to_string(), "tooth + plate");
    /// # Ok::<(), Box<dyn std::error::Error>>(())
    /// ```
    #[must_use]
    pub fn from_teeth(tooth: &Source, run_out: &RunOut) -> Self {
        Self(tooth + run_out.expr())
    }

    /// Adds a further error of the kerf: tips that stand out, another feed rate.
    #[must_use]
    pub fn with(mut self, error: &Source) -> Self {
        self.0 = self.0 + error;
        self
    }

    /// A blade that is not parallel to the way of the jig: its back shaves what its front has left.
    ///
    /// ```text
    /// kerf + |heel| · engaged / over
    /// ```
    ///
    /// Either way of standing askew widens the cut, so the stack is not affine where the heel may be 0. Source:
    /// geometry.
    ///
    /// # Errors
    ///
    /// When one of the lengths is not above 0, or the engaged length is longer than that over which the heel
    /// was measured by more than twice.
    ///
    /// ```
    /// use kerfwise_joint::{Heel, Kerf};
    /// use kerfwise_source::{LengthUnits, Source};
    ///
    /// let cut = Source::new("cut", 0.125.inch()).build()?;
    /// let heel = Source::new("heel", 5.thou()).rectangular(1.thou()).build()?;
    /// let kerf = Kerf::from_source(&cut).heel(&Heel { heel, over: 10.inch(), engaged: 3.inch() })?;
    /// // 0.005 in over 10 in widens a cut of 3 in by 0.0015 in.
    /// assert_eq!(kerf.expr().to_string(), "cut + abs(heel) * 0.3");
    /// # Ok::<(), Box<dyn std::error::Error>>(())
    /// ```
    pub fn heel(mut self, askew: &Heel) -> Result<Self, Error> {
        let Heel {
            heel,
            over,
            engaged,
        } = askew;
        let share = *engaged / *over;
        if !(over.to_inches() > 0.0 && share > 0.0 && share <= 2.0) {
            return Err(Error::recipe(format!(
                "heel: the engaged length ({engaged}) must be above 0 and at most twice the length over which \
                 the heel was measured ({over})"
            )));
        }
        self.0 = self.0 + Expr::source(heel).abs() * share;
        Ok(self)
    }

    /// The kerf as an expression.
    #[must_use]
    pub fn expr(&self) -> &Expr {
        &self.0
    }
}
