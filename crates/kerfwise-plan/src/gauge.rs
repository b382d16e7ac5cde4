use crate::joint::Method;
use crate::{Faults, Plan};
use kerfwise_source::{Event, Length, LengthUnits as _, Source};
use kerfwise_stack::Expr;

/// A gauge that reads how thick the tenons of a plan are, or an outcome of it.
///
/// Its error is either a source of the plan (the caliper that measured the mortise as well: then its error cancels, as it
/// does in the shop), or a caliper that measured nothing else.
#[derive(Debug, Clone)]
pub struct TenonGauge {
    error: Source,
    shown: Expr,
    is_of_plan: bool,
}

impl TenonGauge {
    /// The error of the gauge.
    #[must_use]
    pub fn error(&self) -> &Source {
        &self.error
    }

    /// What it shows of a piece, before rounding: the thickness of the tenon, or the outcome, less the gauge's error.
    #[must_use]
    pub fn shown(&self) -> &Expr {
        &self.shown
    }

    /// Whether its error is a source of the plan.
    #[must_use]
    pub fn is_of_plan(&self) -> bool {
        self.is_of_plan
    }
}

impl Plan {
    /// A gauge for the tenons of this plan: the named source; or else the gauge that measured both kerf and mortise, if
    /// there is one, since a shop with one caliper has that in hand at the test piece too; or else a digital caliper of its
    /// own, right within 0.02 mm (DIN 862, limit of error up to 100 mm).
    ///
    /// # Errors
    ///
    /// When the plan has no joint with a tenon to measure, or no source of that name.
    ///
    /// ```
    /// let plan = kerfwise_plan::demo()?;
    /// // The caliper that measured the mortise gauge as well: in the fit its error cancels.
    /// assert!(plan.tenon_gauge(Some("caliper"))?.is_of_plan());
    /// let own = plan.tenon_gauge(None)?;
    /// // What it shows is the tenon and one source more.
    /// let tenon = plan.joint().unwrap().tenon().thickness().sources().len();
    /// assert_eq!(own.shown().sources().len(), tenon + 1);
    /// # Ok::<(), kerfwise_plan::Faults>(())
    /// ```
    pub fn tenon_gauge(&self, source: Option<&str>) -> Result<TenonGauge, Faults> {
        let refused = |message: String| Faults::of_file(self.name(), message, None);
        let (tenon, mortises) = self.tenon_and_mortises().ok_or_else(|| {
            refused("this plan has no tenon to measure, since it has no [joint]".to_owned())
        })?;
        let of_plan = match source {
            Some(name) => Some(self.named_gauge(name).map_err(refused)?),
            None => tenon.sources().into_iter().find(|source| {
                let is_in = |mortise: &Expr| mortise.sources().iter().any(|s| s.is_same(source));
                is_gauge(source) && mortises.iter().any(is_in)
            }),
        };
        reading(tenon, of_plan).map_err(refused)
    }

    /// A gauge for an outcome that is measured itself, a gap with leaves for instance: the named source, or a caliper of its own.
    ///
    /// # Errors
    ///
    /// When the plan has no outcome, or no source, of that name.
    ///
    /// ```
    /// let plan = kerfwise_plan::demo()?;
    /// let gauge = plan.outcome_gauge("face_step", None)?;
    /// assert!(gauge.shown().to_string().ends_with("- test_caliper"));
    /// assert!(plan.outcome_gauge("gap", None).is_err());
    /// # Ok::<(), kerfwise_plan::Faults>(())
    /// ```
    pub fn outcome_gauge(&self, outcome: &str, source: Option<&str>) -> Result<TenonGauge, Faults> {
        let refused = |message: String| Faults::of_file(self.name(), message, None);
        let Some(found) = self.stack().outcome(outcome) else {
            let names: Vec<&str> = self.stack().outcomes().map(|o| o.name()).collect();
            return Err(refused(format!(
                "the plan has no outcome \"{outcome}\" (it has {})",
                names.join(", ")
            )));
        };
        let named = source.map(|name| self.named_gauge(name)).transpose();
        let gauge = named.and_then(|of_plan| reading(found.expr().clone(), of_plan));
        gauge.map_err(refused)
    }

    fn named_gauge(&self, name: &str) -> Result<Source, String> {
        let sources = self.stack().sources();
        if let Some(source) = sources.iter().find(|source| source.name() == name) {
            return Ok((*source).clone());
        }
        let gauges: Vec<&str> = sources
            .iter()
            .filter(|s| is_gauge(s))
            .map(|s| s.name())
            .collect();
        Err(format!(
            "the plan has no source \"{name}\" that could be the gauge (gauges of this plan: {})",
            gauges.join(", ")
        ))
    }

    /// How thick its tenons are, as an expression (a tenon with a slant in the middle of its cheeks); none where the plan has no
    /// joint.
    ///
    /// ```
    /// let plan = kerfwise_plan::demo()?;
    /// let tenon = plan.tenon().unwrap();
    /// assert!(tenon.to_string().starts_with("travel + "));
    /// # Ok::<(), kerfwise_plan::Faults>(())
    /// ```
    #[must_use]
    pub fn tenon(&self) -> Option<Expr> {
        self.tenon_and_mortises().map(|(tenon, _)| tenon)
    }

    /// What differs from tenon to tenon of one set-up: the sources of the tenon that each piece draws anew. Empty for a plan
    /// without a joint.
    ///
    /// ```
    /// let plan = kerfwise_plan::demo()?;
    /// assert!(plan.tenon_by_tenon().iter().any(|source| source.name() == "seating.first"));
    /// # Ok::<(), kerfwise_plan::Faults>(())
    /// ```
    #[must_use]
    pub fn tenon_by_tenon(&self) -> Vec<Source> {
        let tenon = self.tenon().map(|tenon| tenon.sources());
        let sources = tenon.unwrap_or_default().into_iter();
        sources
            .filter(|s| s.event().is_redrawn_by(&Event::piece()))
            .collect()
    }

    /// What differs from mortise to mortise: the sources of the fit that each piece draws anew and that are not in its
    /// tenon. Empty for a plan without a joint.
    ///
    /// ```
    /// let plan = kerfwise_plan::demo()?;
    /// let names: Vec<String> = plan.mortise_by_mortise().iter().map(|s| s.name().to_owned()).collect();
    /// assert_eq!(names, ["mortise_spread"]);
    /// # Ok::<(), kerfwise_plan::Faults>(())
    /// ```
    #[must_use]
    pub fn mortise_by_mortise(&self) -> Vec<Source> {
        let Some(tenon) = self.tenon() else {
            return Vec::new();
        };
        let mut known = tenon.sources();
        let mut found = Vec::new();
        for outcome in self
            .fits()
            .iter()
            .filter_map(|fit| self.stack().outcome(fit))
        {
            for source in outcome.expr().sources() {
                if known.iter().any(|known| known.is_same(&source)) {
                    continue;
                }
                if source.event().is_redrawn_by(&Event::piece()) {
                    found.push(source.clone());
                }
                known.push(source);
            }
        }
        found
    }

    /// The thickness of the tenon, and the width of the mortise; both of a loose tenon.
    fn tenon_and_mortises(&self) -> Option<(Expr, Vec<Expr>)> {
        if let Some(joint) = self.joint() {
            let tenon = joint.tenon().thickness().clone();
            return Some((tenon, vec![joint.mortise().expr().clone()]));
        }
        let (tenon, mortises) = match self.parts.method.as_ref()? {
            Method::Shifted(_) => return None,
            Method::Fitted(joint, _) => (
                joint.tenon().thickness().clone(),
                vec![joint.mortise().expr().clone()],
            ),
            Method::Loose(joint) => (
                Expr::source(joint.adjustment().source()),
                joint
                    .mortises()
                    .map(|mortise| mortise.expr().clone())
                    .into(),
            ),
        };
        let Some([written, now]) = &self.moved else {
            return Some((tenon, mortises));
        };
        let at_now = |expr: Expr| expr.with_source(written.source(), now.source());
        Some((at_now(tenon), mortises.into_iter().map(at_now).collect()))
    }
}

/// What a gauge with this error shows; without one, a caliper that measured nothing else.
fn reading(of: Expr, of_plan: Option<Source>) -> Result<TenonGauge, String> {
    let is_of_plan = of_plan.is_some();
    let error = match of_plan {
        Some(error) => error,
        None => own_caliper().map_err(|error| error.to_string())?,
    };
    Ok(TenonGauge {
        shown: of - Expr::source(&error),
        error,
        is_of_plan,
    })
}

fn is_gauge(source: &Source) -> bool {
    source.event().is_redrawn_by(&Event::gauge())
}

fn own_caliper() -> Result<Source, kerfwise_source::Error> {
    Source::new("test_caliper", Length::default())
        .rectangular(0.02.mm())
        .event(Event::gauge())
        .stated("DIN 862, digital caliper up to 100 mm: limit of error 20 um; a caliper of its own")
        .build()
}

#[cfg(test)]
mod tests {
    use crate::demo;

    #[test]
    fn says_which_gauges_there_are() {
        let error = demo().unwrap().tenon_gauge(Some("ruler")).unwrap_err();
        let words = error.to_string();
        assert!(
            words.contains("no source \"ruler\"") && words.contains("caliper"),
            "{words}"
        );
    }

    /// One caliper for all that was measured: it is what the test piece is measured with, so that its error counts the same
    /// in fit and reading.
    #[test]
    fn the_only_caliper_measures_the_test_piece_too() {
        let demo = demo().unwrap();
        let text = demo
            .source_text()
            .replace("\"wedge_caliper\"", "\"caliper\"");
        let read = |path: &str| {
            let name = path.rsplit('/').next().unwrap_or_default();
            let folder = concat!(
                env!("CARGO_MANIFEST_DIR"),
                "/../../datasets/plant-stands/readings/"
            );
            std::fs::read_to_string(format!("{folder}{name}"))
        };
        let plan = crate::Plan::parse("plan.toml", &text, &read).unwrap();
        let gauge = plan.tenon_gauge(None).unwrap();
        assert!(gauge.is_of_plan());
        assert_eq!(gauge.error().name(), "caliper");
    }
}
