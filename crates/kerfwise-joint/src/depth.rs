use crate::{Cuts, Error, ErrorKind};
use kerfwise_source::{Length, Source};
use kerfwise_stack::{Band, Expr, Stack, StackBuilder};

/// How high the blade stands for the cheek cuts, as a joint of its own.
///
/// The rail stands on end on its support; the blade cuts as high as it stands.
///
/// ```text
/// overcut_first  = height + tips − support.first − shoulder
/// overcut_second = height + tips − support.second − shoulder
/// bottom_gap     = mortise depth − shoulder
/// ```
///
/// An overcut below zero is a blade too low: it leaves a step in the corner that holds the shoulder off by its
/// own height. Above zero the kerf runs past the shoulder line; a little is hidden inside the joint, more shows at
/// the edge. So the band is one-sided: from 0 to 0.005 in unless told otherwise (common practice, no source).
/// `height` is that of the blade as the height gauge transfers it from the shoulder line, `tips` by how much the
/// highest tooth stands above the tooth that was gauged, `shoulder` the distance from the end of the rail to the
/// shoulder line, and `support` how far the end stands off its support at each cut: a chip, or an end out of
/// square, which tells at one cut and not at the other. Source of the arithmetic: common practice, no source.
///
/// ```
/// use kerfwise_joint::{BladeHeight, Cuts};
/// use kerfwise_source::{LengthUnits, Source};
///
/// let length = |name, x: f64| Source::new(name, x.inch()).rectangular(1.thou()).build();
/// let (height, shoulder) = (length("height", 1.2525)?, length("shoulder", 1.25)?);
/// let support = Cuts::alike("support", |s| s.rectangular(0.5.thou()))?;
/// let stack = BladeHeight::new(&height, &shoulder).support(support).stack()?;
/// assert!(stack.to_string().starts_with(
///     "overcut_first = height - support.first - shoulder\n    from 0 in to 0.005 in\n\
///      overcut_second = height - support.second - shoulder\n    from 0 in to 0.005 in\n"
/// ));
/// // 2.5 thou in the middle of the band, off by 1 + 1 + 0.5 at the worst: never too low.
/// let worst = stack.outcome(BladeHeight::FIRST).unwrap().worst_case(Default::default())?;
/// assert!(worst.lower.bound.raw().abs() < 1e-12);
/// # Ok::<(), Box<dyn std::error::Error>>(())
/// ```
#[derive(Debug, Clone)]
pub struct BladeHeight {
    height: Expr,
    shoulder: Expr,
    tips: Option<Source>,
    support: Option<Cuts>,
    band: Option<Band>,
    mortise: Option<(Source, Band)>,
}

impl BladeHeight {
    /// The name of the outcome of the first cut.
    pub const FIRST: &'static str = "overcut_first";
    /// The name of the outcome of the second cut.
    pub const SECOND: &'static str = "overcut_second";
    /// The name of the outcome of the tenon's length against the depth of the mortise.
    pub const BOTTOM: &'static str = "bottom_gap";

    /// From the height of the blade and the distance from the end of the rail to the shoulder line.
    ///
    /// Add to each what it may be off by: `&height + &transfer`.
    #[must_use]
    pub fn new(height: impl Into<Expr>, shoulder: impl Into<Expr>) -> Self {
        Self {
            height: height.into(),
            shoulder: shoulder.into(),
            tips: None,
            support: None,
            band: None,
            mortise: None,
        }
    }

    /// By how much the highest tooth stands above the tooth that was gauged.
    #[must_use]
    pub fn tips(mut self, tips: &Source) -> Self {
        self.tips = Some(tips.clone());
        self
    }

    /// How far the end of the rail stands off its support at each cut.
    #[must_use]
    pub fn support(mut self, support: Cuts) -> Self {
        self.support = Some(support);
        self
    }

    /// What an overcut may be.
    #[must_use]
    pub fn band(mut self, band: Band) -> Self {
        self.band = Some(band);
        self
    }

    /// Watches the room between the end of the tenon and the bottom of the mortise as well: 1/16 to 1/8 in, for glue
    /// and a rough bottom (common practice, no source).
    #[must_use]
    pub fn mortise_depth(mut self, depth: &Source, band: Band) -> Self {
        self.mortise = Some((depth.clone(), band));
        self
    }

    /// The stack: outcomes `overcut_first` and `overcut_second`, and `bottom_gap` where asked for.
    ///
    /// # Errors
    ///
    /// When the stack is refused: two sources of one name, a band of the wrong dimension, ...
    pub fn stack(&self) -> Result<Stack, Error> {
        Ok(self
            .outcomes(Stack::builder())?
            .build()
            .map_err(ErrorKind::Stack)?)
    }

    /// Adds the outcomes to a stack, beside those of the fit.
    ///
    /// # Errors
    ///
    /// Never with a band of its own; the default band is built here.
    pub fn outcomes(&self, mut stack: StackBuilder) -> Result<StackBuilder, Error> {
        let band = match self.band {
            Some(band) => band,
            None => Band::between(Length::default(), Length::from_thou(5.0))
                .map_err(ErrorKind::Stack)?,
        };
        let mut top = self.height.clone();
        if let Some(tips) = &self.tips {
            top = top + tips;
        }
        let overcut = |off: Option<&Source>| match off {
            Some(off) => &top - off - &self.shoulder,
            None => &top - &self.shoulder,
        };
        let support = self.support.as_ref();
        stack = stack
            .outcome(Self::FIRST, &overcut(support.map(|s| &s.first)), band)
            .outcome(Self::SECOND, &overcut(support.map(|s| &s.second)), band);
        if let Some((depth, band)) = &self.mortise {
            stack = stack.outcome(Self::BOTTOM, &(depth - &self.shoulder), *band);
        }
        Ok(stack)
    }
}

/// The haunch of a tenon, which fills the groove of the stile beside the mortise.
///
/// ```text
/// haunch_end  = groove depth − haunch length
/// haunch_side = groove width − haunch thickness
/// ```
///
/// Its end must not bear, or it holds the shoulder off; about 1/32 in of room is common practice (no source). The side
/// is total clearance. Source of the arithmetic: common practice, no source.
///
/// ```
/// use kerfwise_joint::Haunch;
/// use kerfwise_source::{LengthUnits, Source};
/// use kerfwise_stack::Band;
///
/// let length = |name, x: f64| Source::new(name, x.inch()).rectangular(5.thou()).build();
/// let haunch = Haunch {
///     groove_depth: length("groove_depth", 0.375)?,
///     length: length("haunch", 0.34375)?,
///     groove_width: length("groove_width", 0.25)?,
///     thickness: length("thickness", 0.24)?,
///     end_band: Band::at_least(0.inch())?,
///     side_band: Band::between(0.inch(), 0.02.inch())?,
/// };
/// let stack = haunch.stack()?;
/// assert!(stack.to_string().starts_with("haunch_end = groove_depth - haunch\n    at least 0 in\n"));
/// // 3/8 − 11/32 = 1/32 in.
/// assert_eq!(stack.outcome(Haunch::END).unwrap().evaluate(&[])?, 0.03125.inch().into());
/// # Ok::<(), Box<dyn std::error::Error>>(())
/// ```
#[derive(Debug, Clone)]
pub struct Haunch {
    /// Depth of the groove.
    pub groove_depth: Source,
    /// Length of the haunch from the shoulder.
    pub length: Source,
    /// Width of the groove.
    pub groove_width: Source,
    /// Thickness of the haunch: that of the tenon.
    pub thickness: Source,
    /// What the room at the end may be.
    pub end_band: Band,
    /// What the total clearance at the sides may be.
    pub side_band: Band,
}

impl Haunch {
    /// The name of the outcome at the end.
    pub const END: &'static str = "haunch_end";
    /// The name of the outcome at the sides, both together.
    pub const SIDE: &'static str = "haunch_side";

    /// The stack: outcomes `haunch_end` and `haunch_side`.
    ///
    /// # Errors
    ///
    /// When the stack is refused: two sources of one name, a band of the wrong dimension, ...
    pub fn stack(&self) -> Result<Stack, Error> {
        let end = Expr::source(&self.groove_depth) - &self.length;
        let side = Expr::source(&self.groove_width) - &self.thickness;
        let stack = Stack::builder()
            .outcome(Self::END, &end, self.end_band)
            .outcome(Self::SIDE, &side, self.side_band);
        Ok(stack.build().map_err(ErrorKind::Stack)?)
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::testing::{derivative, length};
    use kerfwise_source::LengthUnits;

    #[test]
    fn a_low_blade_and_a_chip_under_the_end_are_the_same_to_a_shoulder() {
        let support = Cuts::alike("support", |s| s.rectangular(1.thou())).unwrap();
        let (height, transfer) = (length("height", 1.25.inch()), length("transfer", 0.thou()));
        let stack = BladeHeight::new(
            Expr::source(&height) + &transfer,
            length("shoulder", 1.25.inch()),
        )
        .tips(&length("tips", 1.thou()))
        .support(support)
        .mortise_depth(
            &length("depth", 1.3125.inch()),
            Band::at_least(0.inch()).unwrap(),
        )
        .stack()
        .unwrap();
        for (outcome, source, by_hand) in [
            ("overcut_first", "height", 1.0),
            ("overcut_first", "transfer", 1.0),
            ("overcut_first", "tips", 1.0),
            ("overcut_first", "support.first", -1.0),
            ("overcut_second", "support.second", -1.0),
            ("overcut_second", "shoulder", -1.0),
            ("bottom_gap", "depth", 1.0),
            ("bottom_gap", "shoulder", -1.0),
        ] {
            let expr = stack.outcome(outcome).unwrap().expr();
            // Exact: every source counts once.
            assert!(
                (derivative(expr, source) - by_hand).abs() < 1e-15,
                "{outcome} {source}"
            );
        }
        // The band is one-sided: 0 to 5 thou.
        assert_eq!(
            stack
                .outcome("overcut_first")
                .unwrap()
                .band()
                .unwrap()
                .raw(),
            (0.0, 0.005)
        );
    }
}
