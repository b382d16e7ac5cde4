use crate::{Adjustment, Error};
use kerfwise_numeric::float;
use kerfwise_source::{Angle, Distribution, Event, Length, Source};
use kerfwise_stack::Expr;

/// How far the jig is moved between the two cuts, as read on a dial indicator.
#[derive(Debug, Clone)]
pub struct Travel {
    dialled: Length,
    set: Adjustment,
    reading: Expr,
    added: Option<Expr>,
}

impl Travel {
    /// What the dial is to show. This number is the setting and is known exactly; what the dial may be
    /// off by is added with the other methods.
    ///
    /// # Errors
    ///
    /// When the travel is not a finite length above 0.
    ///
    /// ```
    /// use kerfwise_joint::Travel;
    /// use kerfwise_source::LengthUnits;
    ///
    /// let travel = Travel::of(0.4995.inch())?;
    /// assert_eq!(travel.dialled().to_thou(), 499.5);
    /// assert!(Travel::of((-0.1).inch()).is_err());
    /// # Ok::<(), kerfwise_joint::Error>(())
    /// ```
    pub fn of(dialled: Length) -> Result<Self, Error> {
        if !(dialled.to_inches() > 0.0 && dialled.to_inches().is_finite()) {
            return Err(Error::recipe(format!(
                "travel must be above 0 (got {dialled})"
            )));
        }
        let setting = Source::new("travel", dialled)
            .event(Event::jig_move())
            .assumed("the setting: what the dial is made to show")
            .build()
            .map_err(Error::source)?;
        Ok(Self {
            dialled,
            reading: Expr::source(&setting),
            set: Adjustment::Travel(setting),
            added: None,
        })
    }

    /// The jig stays, and a spacer goes between it and the work for the second cut: the travel is the
    /// thickness of the spacer, with its error.
    ///
    /// [`ShiftedTenon::nominal_travel`](crate::ShiftedTenon::nominal_travel) tells how thick to make it. A chip
    /// between spacer and jig is an error of the seating.
    ///
    /// # Errors
    ///
    /// When the spacer is not a finite length above 0.
    ///
    /// ```
    /// use kerfwise_joint::{Kerf, Mortise, ShiftedTenon, Travel};
    /// use kerfwise_source::{LengthUnits, Source};
    ///
    /// let length = |name, x: f64| Source::new(name, x.inch()).rectangular(1.thou()).build();
    /// let (spacer, kerf, mortise) = (length("spacer", 0.5)?, length("kerf", 0.125)?, length("mortise", 0.375)?);
    /// let joint = ShiftedTenon::new(
    ///     Travel::by_spacer(&spacer)?,
    ///     Kerf::from_source(&kerf),
    ///     Mortise::at_feel(&mortise),
    /// );
    /// assert!(joint.stack()?.to_string().starts_with("fit = spacer - kerf - mortise\n"));
    /// # Ok::<(), Box<dyn std::error::Error>>(())
    /// ```
    pub fn by_spacer(spacer: &Source) -> Result<Self, Error> {
        let thickness = spacer.estimate().length();
        match thickness {
            Some(dialled) if dialled.to_inches() > 0.0 => Ok(Self {
                dialled,
                set: Adjustment::Spacer(spacer.clone()),
                reading: Expr::source(spacer),
                added: None,
            }),
            _ => Err(Error::recipe(format!(
                "spacer must be a length above 0 (got {})",
                spacer.estimate()
            ))),
        }
    }

    /// Adds an error of the reading: the indicator's limits of error, reading between the marks.
    #[must_use]
    pub fn with(mut self, error: &Source) -> Self {
        self.reading = self.reading + Expr::source(error);
        self
    }

    /// The plunger stands at an unknown angle to the way of the jig, within ±`limit`: the dial reads
    /// too much, and the jig moves short by reading · (1 − cos θ) (cosine error, JCGM 100, F.2.4.4).
    ///
    /// With θ rectangular within its limits, 1 − cos θ ≈ θ²/2 makes the shortfall beta distributed
    /// with shapes ½ and 1 between 0 and reading · (1 − cos limit); so it is one more additive source,
    /// `cosine`, and the stack stays affine. Angles up to 15° keep the approximation within 1 % of the
    /// shortfall; larger ones are refused. [`at_angle`](Self::at_angle) takes the cosine itself.
    ///
    /// # Errors
    ///
    /// When the limit is negative, not finite, or above 15°.
    ///
    /// ```
    /// use kerfwise_joint::Travel;
    /// use kerfwise_source::{AngleUnits, LengthUnits};
    ///
    /// let travel = Travel::of(0.5.inch())?.plunger_within(2.0.degrees())?;
    /// // 0.5 in · (1 − cos 2°) is 0.0003 in at the worst.
    /// # let _ = travel;
    /// assert!(Travel::of(0.5.inch())?.plunger_within(40.0.degrees()).is_err());
    /// # Ok::<(), kerfwise_joint::Error>(())
    /// ```
    pub fn plunger_within(mut self, limit: Angle) -> Result<Self, Error> {
        let angle = limit.to_radians();
        if !(0.0..=15.0_f64.to_radians()).contains(&angle) {
            return Err(Error::recipe(format!(
                "plunger angle limit must lie from 0 to 15 degrees (got {} degrees); set the \
                 indicator square to the jig, or give the angle as a source",
                limit.to_degrees()
            )));
        }
        // 1 − cos θ = 2 sin²(θ/2), without cancellation.
        let half_sine = float::sin(angle / 2.0);
        let most = self.dialled.to_inches() * 2.0 * half_sine * half_sine;
        let error = if most > 0.0 {
            Distribution::beta(-most, 0.0, 1.0, 0.5)
        } else {
            Distribution::point(0.0)
        };
        let cosine = Source::new("cosine", Length::default())
            .error(error.map_err(Error::source)?)
            .event(Event::jig_move())
            .assumed("plunger angle anywhere within its limits")
            .build()
            .map_err(Error::source)?;
        self.added = Some(match self.added {
            Some(added) => added + Expr::source(&cosine),
            None => Expr::source(&cosine),
        });
        Ok(self)
    }

    /// The plunger's angle to the way of the jig as a source: the jig moves by reading · cos θ. The
    /// stack is then not affine.
    #[must_use]
    pub fn at_angle(mut self, angle: &Source) -> Self {
        self.reading = self.reading * Expr::source(angle).cos();
        self
    }

    /// What the dial is to show.
    #[must_use]
    pub fn dialled(&self) -> Length {
        self.dialled
    }

    /// What is set: the dial, or the spacer.
    #[must_use]
    pub fn adjustment(&self) -> &Adjustment {
        &self.set
    }

    /// How far the jig really moves, as an expression.
    #[must_use]
    pub fn expr(&self) -> Expr {
        match &self.added {
            Some(added) => &self.reading + added,
            None => self.reading.clone(),
        }
    }
}
