use super::axis::Axis;
use super::picture::{Anchor, Fill, LARGE, Picture, SMALL, text_box};
use crate::budget::plain;
use crate::{OutcomeChances, Style, ThreeChances, Unit, number};
use kerfwise_stack::{Exact, Outcome};

const WIDTH: f64 = 520.0;
const HEIGHT: f64 = 283.0;
const LEFT: f64 = 24.0;
const RIGHT: f64 = 496.0;
const BOTTOM: f64 = 233.0;

/// The density of an outcome along its range, from the exact propagation.
#[derive(Debug, Clone, PartialEq)]
pub struct Density {
    /// Raw value and density per raw unit, ascending.
    points: Vec<(f64, f64)>,
}

impl Density {
    /// Some 200 points from well below to well above the band; none where the exact and the semi-exact
    /// propagation decline or the outcome has no density (a discrete one).
    ///
    /// ```
    /// use kerfwise_report::plot::Density;
    /// use kerfwise_source::{LengthUnits, Source};
    /// use kerfwise_stack::{Band, Expr, Stack};
    ///
    /// let kerf = Source::new("kerf", 0.125.inch()).normal(3.0.thou()).build()?;
    /// let band = Band::between(0.12.inch(), 0.13.inch())?;
    /// let stack = Stack::builder().outcome("kerf", &Expr::source(&kerf), band).build()?;
    /// assert!(Density::of(stack.outcome("kerf").unwrap()).is_some());
    /// # Ok::<(), Box<dyn std::error::Error>>(())
    /// ```
    #[must_use]
    pub fn of(outcome: Outcome<'_>) -> Option<Self> {
        const POINTS: u32 = 200;
        // Of an affine outcome this is the exact one.
        let exact = outcome.semi_exact().ok()?;
        let band = outcome.band()?;
        let (mut low, mut high) = tails(&exact);
        let limits = [band.lower(), band.upper()];
        for limit in limits.into_iter().flatten().map(|l| l.raw()) {
            (low, high) = (low.min(limit), high.max(limit));
        }
        let margin = 0.06 * (high - low);
        let step = (high - low + 2.0 * margin) / f64::from(POINTS);
        let density = |x: f64| {
            let at = kerfwise_source::Quantity::new(x, outcome.dimension());
            exact.pdf(at).map(|d| (x, d.value.max(0.0)))
        };
        let points: Option<Vec<_>> = (0..=POINTS)
            .map(|k| density(low - margin + f64::from(k) * step))
            .collect();
        let points = points.filter(|p| p.iter().all(|(_, d)| d.is_finite()))?;
        Some(Self { points })
    }

    /// The density, and the value between two points on the straight line.
    fn at(&self, x: f64) -> f64 {
        let next = self.points.partition_point(|(at, _)| *at < x);
        match (
            next.checked_sub(1).and_then(|k| self.points.get(k)),
            self.points.get(next),
        ) {
            (Some((x0, d0)), Some((x1, d1))) => d0 + (d1 - d0) * (x - x0) / (x1 - x0),
            (Some((_, d)), None) | (None, Some((_, d))) => *d,
            (None, None) => 0.0,
        }
    }

    /// The part from `low` to `high`, with points at both ends.
    pub(super) fn part(&self, low: f64, high: f64) -> Vec<(f64, f64)> {
        let inside = self.points.iter().filter(|(x, _)| *x > low && *x < high);
        let mut part = vec![(low, self.at(low))];
        part.extend(inside);
        part.push((high, self.at(high)));
        part
    }
}

/// Where all but one in a thousand lies, on each side one in two thousand.
fn tails(exact: &Exact) -> (f64, f64) {
    let at = |p: f64| exact.quantile(p).value.raw();
    (at(0.0005), at(0.9995))
}

impl OutcomeChances {
    /// The distribution of the outcome with its band and the three chances, as SVG.
    ///
    /// ```
    /// use kerfwise_report::{ChanceReport, Style, Subject, plot::Density};
    /// use kerfwise_source::{LengthUnits, Source};
    /// use kerfwise_stack::{Band, Expr, Stack};
    ///
    /// let kerf = Source::new("kerf", 0.0.inch()).normal(3.0.thou()).build()?;
    /// let band = Band::within(5.0.thou())?;
    /// let stack = Stack::builder().outcome("fit", &Expr::source(&kerf), band).build()?;
    /// let ways = stack.side_by_side(10_000);
    /// let report = ChanceReport::new(&Subject::titled("kerf"), &stack, &ways, &[]);
    /// let density = Density::of(stack.outcome("fit").unwrap()).unwrap();
    /// let svg = report.outcomes[0].to_svg(&density, &Style::default());
    /// assert!(svg.starts_with("<svg") && svg.contains("too tight 4.78 %"));
    /// # Ok::<(), Box<dyn std::error::Error>>(())
    /// ```
    #[must_use]
    pub fn to_svg(&self, density: &Density, style: &Style) -> String {
        self.picture(density, style).finish()
    }

    pub(super) fn picture(&self, density: &Density, style: &Style) -> Picture {
        let (scale, unit) = self.scale(style.unit);
        let mut picture = self.empty(unit, style);
        let (Some((first, _)), Some((last, _))) = (density.points.first(), density.points.last())
        else {
            return picture;
        };
        let x = Axis::new(first * scale, last * scale, LEFT, RIGHT);
        let (low, high) = (self.lower.unwrap_or(*first), self.upper.unwrap_or(*last));
        self.name_the_parts(&mut picture, (x.at(low * scale), x.at(high * scale)));
        // Below the chances, with room for the limits of the band.
        let room = if self.limits_meet(&x, scale, style) {
            50.0
        } else {
            33.0
        };
        let top = picture.lowest() + room;
        let most = density.points.iter().fold(0.0_f64, |m, (_, d)| m.max(*d));
        let y = Axis::new(0.0, most * 1.05, BOTTOM, top);
        let on_page = |(value, d): (f64, f64)| (x.at(value * scale), y.at(d));
        let parts = [
            (*first, low, Fill::Rising),
            (low, high, Fill::Light),
            (high, *last, Fill::Falling),
        ];
        for (from, to, fill) in parts.into_iter().filter(|(from, to, _)| from < to) {
            let mut outline: Vec<_> = density.part(from, to).into_iter().map(on_page).collect();
            outline.push((x.at(to * scale), BOTTOM));
            outline.push((x.at(from * scale), BOTTOM));
            picture.area(&outline, fill);
        }
        let curve: Vec<_> = density.points.iter().copied().map(on_page).collect();
        picture.curve(&curve);
        for limit in [self.lower, self.upper].into_iter().flatten() {
            let at = x.at(limit * scale);
            picture.dashes((at, top - 10.0), (at, BOTTOM));
            let label = number::limit(limit, &self.unit, style.unit);
            let heights = [top - 15.0, top - 32.0];
            picture.text_where_free(at, &heights, Anchor::Middle, SMALL, &label);
        }
        let title = if self.is_fit() {
            format!("fit deviation, {unit} (loose to the left, tight to the right)")
        } else {
            format!("{}, {unit}", plain(&self.name))
        };
        x.draw_below(&mut picture, BOTTOM, title.trim_end_matches([',', ' ']));
        picture
    }

    /// Whether the two limits of the band stand too near to be named beside each other.
    fn limits_meet(&self, x: &Axis, scale: f64, style: &Style) -> bool {
        let label = |limit: f64| {
            let at = (x.at(limit * scale), 0.0);
            text_box(
                at,
                Anchor::Middle,
                SMALL,
                &number::limit(limit, &self.unit, style.unit),
            )
        };
        matches!((self.lower, self.upper), (Some(l), Some(u)) if label(l).overlaps(&label(u)))
    }

    fn empty(&self, unit: &str, style: &Style) -> Picture {
        let chance = self.best();
        let spoken = chance.map_or(String::new(), |c| {
            format!(
                " {} below the band, {} inside, {} above.",
                number::percent(c.below),
                number::percent(c.inside),
                number::percent(c.above)
            )
        });
        let name = plain(&self.name);
        let title = format!("Distribution of the {name}");
        let words = format!(
            "How often each value of the {name} (in {unit}) comes about, with its band {}.{spoken}",
            self.band(style.unit)
        );
        Picture::new(WIDTH, HEIGHT, &title, &words)
    }

    /// Raw units times this are what the axis shows.
    fn scale(&self, unit: Unit) -> (f64, &str) {
        match (self.unit.as_str(), unit) {
            ("in", Unit::Inch) => (1000.0, "thou"),
            ("in", Unit::Millimetre) => (25.4, "mm"),
            (raw, _) => (1.0, raw),
        }
    }

    fn name_the_parts(&self, picture: &mut Picture, (low, high): (f64, f64)) {
        let Some(ThreeChances {
            below,
            inside,
            above,
            ..
        }) = self.best()
        else {
            return;
        };
        let (loose, fits, tight) = self.words();
        let label = |word: &str, p: f64| format!("{word} {}", number::percent(p));
        let heights = [18.0, 38.0, 58.0];
        if self.lower.is_some() {
            let text = label(loose, below);
            picture.text_where_free(LEFT, &heights, Anchor::Start, LARGE, &text);
        }
        if self.upper.is_some() {
            let text = label(tight, above);
            picture.text_where_free(RIGHT, &heights, Anchor::End, LARGE, &text);
        }
        let middle = f64::midpoint(low, high).clamp(LEFT + 90.0, RIGHT - 90.0);
        let text = label(fits, inside);
        picture.text_where_free(middle, &heights, Anchor::Middle, LARGE, &text);
    }
}
