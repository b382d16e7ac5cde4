//! Learning from what was cut.

mod bias;
mod groups;

pub use bias::{Achieved, Bias};
pub use groups::Groups;

use crate::bisect::least;
use crate::components::{Cells, Component, Estimator, MeanSquare, OneWay, Term, combination, fit};
use crate::{Confidence, Error, Interval, Moments};
use kerfwise_numeric::sum::sum;
use kerfwise_source::{Dimension, Event, Quantity, Source, SourceBuilder};
use std::collections::BTreeMap;

/// One line of a log: what was read of a piece that was cut in a set-up.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct LogReading<'a> {
    /// Which set-up.
    pub set_up: &'a str,
    /// Which piece of that set-up; another set-up may use the same names.
    pub piece: &'a str,
    /// Thickness, width or fit deviation.
    pub reading: f64,
}

/// A log of set-ups, the pieces cut in each, and one or more readings of each piece.
///
/// ```text
/// reading = mean + set-up + piece + reading again
/// ```
///
/// It tells groups of sources from one another, not sources: all that is redrawn with the set-up is one spread, all that is
/// redrawn with the piece another ([`Log::groups`]).
///
/// ```
/// use kerfwise_gauge::{Confidence, Log, LogReading};
///
/// // Tenons in thou over 3/8 in: three set-ups, two pieces each.
/// let rows = [("mon", [1.0, 3.0]), ("tue", [4.0, 6.0]), ("wed", [7.0, 9.0])];
/// let rows = rows.map(|(set_up, [a, b])| {
///     [("1", a), ("2", b)].map(|(piece, reading)| LogReading { set_up, piece, reading })
/// });
/// let log = Log::new(rows.as_flattened())?;
/// assert_eq!((log.set_ups(), log.pieces(), log.mean()), (3, 6, 5.0));
/// let spreads = log.spreads(Confidence::default());
/// // Means 2, 5, 8: variance 9, of which 2/2 is from pieces; pieces ±1 of their set-up.
/// assert_eq!((spreads.set_up.variance, spreads.piece.variance), (8.0, 2.0));
/// assert!(spreads.repeat.is_none()); // nothing was read twice: the gauge is in the pieces' spread
/// # Ok::<(), kerfwise_gauge::Error>(())
/// ```
#[derive(Debug, Clone)]
pub struct Log {
    /// The means of the pieces, in groups by set-up.
    by_piece: OneWay,
    /// Within pieces; without degrees of freedom if each was read once.
    repeat: MeanSquare,
    /// Harmonic mean of the readings of a piece.
    repeats: f64,
    /// Of the estimates with repeats: set-up, piece, repeat.
    estimated: Option<(Estimator, [f64; 3])>,
    pieces: usize,
    most_pieces: usize,
}

/// The spreads that a log tells apart.
#[derive(Debug, Clone, Copy, PartialEq)]
#[non_exhaustive]
pub struct LogSpreads {
    /// How the variances were estimated.
    pub estimator: Estimator,
    /// All that is redrawn with the set-up.
    pub set_up: Component,
    /// All that is redrawn with the piece; if nothing was read twice, the gauge's repeatability is in it.
    pub piece: Component,
    /// One piece read again: the gauge; `None` if nothing was read twice.
    pub repeat: Option<Component>,
}

/// What the sources from a log are called and when they are redrawn.
#[derive(Debug, Clone)]
pub struct LogNames<'a> {
    /// Beginning of the three names: `tenon` makes `tenon.mean`, `tenon.set_up` and `tenon.piece`.
    pub name: &'a str,
    /// Dimension of the readings, which are numbers in its raw unit (inches for a length).
    pub dimension: Dimension,
    /// The event that redraws the set-up.
    pub set_up: Event,
    /// The event that redraws the piece.
    pub piece: Event,
    /// Limits of the two deviations for the worst case, in standard deviations; a normal law has none of its own.
    pub limits_at_sd: Option<f64>,
    /// Which readings: a file, a log, a date.
    pub readings: &'a str,
}

/// Sources from a log, all measured.
#[derive(Debug, Clone)]
#[non_exhaustive]
pub struct LogSources {
    /// The mean, with a Student t error of as many degrees of freedom as there are set-ups less 1; drawn once for the batch.
    pub mean: Source,
    /// Deviation of a set-up: normal, mean 0, with the degrees of freedom of its spread.
    pub set_up: Source,
    /// Deviation of a piece within its set-up: likewise.
    pub piece: Source,
}

/// The restricted likelihood of more pieces than this would take too long.
const MOST_CELLS: usize = 400;

impl Log {
    /// From at least two set-ups, of which one has two pieces or more.
    ///
    /// # Errors
    ///
    /// [`ErrorKind::Readings`](crate::ErrorKind::Readings) for fewer than two set-ups, for set-ups of one piece each, and a reading
    /// that is not finite or beyond ±1e140.
    ///
    /// ```
    /// use kerfwise_gauge::{Log, LogReading};
    ///
    /// let row = |set_up, piece, reading| LogReading { set_up, piece, reading };
    /// let rows = [row("mon", "1", 1.0), row("mon", "1", 2.0), row("tue", "1", 3.0)];
    /// assert_eq!(
    ///     Log::new(&rows).unwrap_err().to_string(),
    ///     "every set-up has one piece: the spread of pieces cannot be told from that of set-ups; \
    ///      read at least 2 pieces of a set-up"
    /// );
    /// ```
    pub fn new(readings: &[LogReading<'_>]) -> Result<Self, Error> {
        let set_ups = by_set_up(readings)?;
        if set_ups.len() < 2 {
            return Err(Error::readings(format!(
                "a log needs at least 2 set-ups (got {})",
                set_ups.len()
            )));
        }
        if set_ups.iter().all(|pieces| pieces.len() == 1) {
            return Err(Error::readings(
                "every set-up has one piece: the spread of pieces cannot be told from that of set-ups; \
                 read at least 2 pieces of a set-up",
            ));
        }
        let means: Vec<Vec<f64>> = set_ups
            .iter()
            .map(|pieces| pieces.iter().filter_map(Moments::mean).collect())
            .collect();
        let pieces: Vec<&Moments> = set_ups.iter().flatten().collect();
        let count = |piece: &&Moments| piece.count() as f64;
        let inside = sum(pieces.iter().map(|piece| piece.sum_of_squares()));
        let freedom = sum(pieces.iter().map(|piece| count(piece) - 1.0));
        let repeats = pieces.len() as f64 / sum(pieces.iter().map(|piece| 1.0 / count(piece)));
        let mut log = Self {
            by_piece: OneWay::new(&means)?,
            repeat: MeanSquare::new(inside, freedom),
            repeats,
            estimated: None,
            pieces: pieces.len(),
            most_pieces: set_ups.iter().map(Vec::len).max().unwrap_or(0),
        };
        log.estimated = log.estimate(&set_ups);
        Ok(log)
    }

    /// How many set-ups.
    #[must_use]
    pub fn set_ups(&self) -> usize {
        self.by_piece.groups()
    }

    /// How many pieces.
    #[must_use]
    pub fn pieces(&self) -> usize {
        self.pieces
    }

    /// Mean of the set-ups' means of their pieces.
    #[must_use]
    pub fn mean(&self) -> f64 {
        self.by_piece.mean()
    }

    /// Standard uncertainty of the mean, from the spread of the set-ups (JCGM 100:2008, H.5.2).
    #[must_use]
    pub fn standard_error(&self) -> f64 {
        self.by_piece.standard_error()
    }

    /// Where the true mean lies; its degrees of freedom are the number of set-ups less 1.
    pub fn mean_interval(&self, confidence: Confidence) -> Interval {
        self.by_piece.mean_interval(confidence)
    }

    /// The spreads between set-ups and between pieces, and that of reading again.
    ///
    /// A log with each piece read as often, as many pieces in each set-up and no negative estimate is evaluated from its mean
    /// squares, any other by restricted likelihood; above 400 pieces with repeated readings, from the means of the pieces.
    #[must_use]
    pub fn spreads(&self, confidence: Confidence) -> LogSpreads {
        let mut set_up = self.by_piece.between_component(confidence);
        let Some((estimator, variances)) = self.estimated else {
            return LogSpreads {
                estimator: self.by_piece.estimator(),
                set_up,
                piece: self.by_piece.within_component(confidence),
                repeat: None,
            };
        };
        let [of_set_up, of_piece, of_repeat] = variances;
        set_up.variance = of_set_up;
        LogSpreads {
            estimator,
            set_up,
            piece: Component::of_terms(of_piece, &self.piece_terms(), confidence),
            repeat: Some(Component::of_square(of_repeat, &self.repeat, confidence)),
        }
    }

    /// How many set-ups, each with as many pieces as the fullest one here, would bring the upper end of the interval of the
    /// set-ups' standard deviation down to `ratio` times its estimate, if the spreads stay as they were found.
    ///
    /// # Errors
    ///
    /// [`ErrorKind::Parameter`](crate::ErrorKind::Parameter) for a ratio that is not above 1 or would take more than 100 000 set-ups;
    /// [`ErrorKind::Readings`](crate::ErrorKind::Readings) where no spread between set-ups was found.
    ///
    /// ```
    /// use kerfwise_gauge::{Confidence, Log, LogReading};
    ///
    /// let rows = [("mon", [1.0, 1.1]), ("tue", [4.0, 4.1]), ("wed", [7.0, 7.1])];
    /// let rows = rows.map(|(set_up, [a, b])| {
    ///     [("1", a), ("2", b)].map(|(piece, reading)| LogReading { set_up, piece, reading })
    /// });
    /// let log = Log::new(rows.as_flattened())?;
    /// // Three set-ups know their spread only to a factor of 6.3; it falls to 1.5 with 18 and to 1.25 with 49.
    /// assert_eq!(log.set_ups_for(1.5, Confidence::default())?, 18);
    /// assert_eq!(log.set_ups_for(1.25, Confidence::default())?, 49);
    /// # Ok::<(), kerfwise_gauge::Error>(())
    /// ```
    pub fn set_ups_for(&self, ratio: f64, confidence: Confidence) -> Result<u64, Error> {
        const MOST: u64 = 100_000;
        let variance = self.spreads(confidence).set_up.variance;
        if variance <= 0.0 {
            return Err(Error::readings(
                "no spread between set-ups was found, so there is no telling how many would sharpen it",
            ));
        }
        let upper = |set_ups: u64| {
            let freedom = set_ups as f64 - 1.0;
            let within = self.by_piece.within().mean_square();
            let size = self.most_pieces as f64;
            let square = |mean: f64, nu: f64| MeanSquare::new(mean * nu, nu);
            let terms = [
                Term::new(1.0 / size, square(size * variance + within, freedom)),
                Term::new(-1.0 / size, square(within, set_ups as f64 * (size - 1.0))),
            ];
            combination(&terms, confidence).upper
        };
        let is_enough = |set_ups| upper(set_ups) <= ratio * ratio * variance;
        if !(ratio > 1.0 && ratio.is_finite() && is_enough(MOST)) {
            return Err(Error::parameter(format!(
                "the upper end over the estimate must be above 1, such as 1.5 (got {ratio})"
            )));
        }
        Ok(least(1, MOST, is_enough))
    }

    /// Mean, set-up and piece as sources, ready for a plan.
    ///
    /// The two deviations take the spread that was found for the true one, and say with their degrees of freedom how well it
    /// is known. What the gauge adds is in none of them if pieces were read again, and in the piece's if they were not.
    ///
    /// # Errors
    ///
    /// [`ErrorKind::Source`](crate::ErrorKind::Source) for a name that no source can have, or limits that are not above 0.
    ///
    /// ```
    /// use kerfwise_gauge::{Log, LogNames, LogReading};
    /// use kerfwise_source::{Dimension, Event};
    ///
    /// let rows = [("mon", [0.371, 0.373]), ("tue", [0.374, 0.376]), ("wed", [0.377, 0.379])];
    /// let rows = rows.map(|(set_up, [a, b])| {
    ///     [("1", a), ("2", b)].map(|(piece, reading)| LogReading { set_up, piece, reading })
    /// });
    /// let sources = Log::new(rows.as_flattened())?.sources(&LogNames {
    ///     name: "tenon",
    ///     dimension: Dimension::LENGTH,
    ///     set_up: Event::tenon_set_up(),
    ///     piece: Event::piece(),
    ///     limits_at_sd: None,
    ///     readings: "tenons of march",
    /// })?;
    /// assert_eq!(sources.set_up.name(), "tenon.set_up");
    /// assert_eq!(sources.piece.provenance().to_string(), "measured (tenons of march)");
    /// let u = sources.piece.standard_uncertainty().unwrap().length().unwrap();
    /// assert!((u.to_thou() - 2.0_f64.sqrt()).abs() < 1e-9);
    /// # Ok::<(), kerfwise_gauge::Error>(())
    /// ```
    pub fn sources(&self, names: &LogNames<'_>) -> Result<LogSources, Error> {
        let spreads = self.spreads(Confidence::default());
        let quantity = |raw: f64| Quantity::new(raw, names.dimension);
        let start = |part: &str, estimate: f64| {
            let name = format!("{}.{part}", names.name);
            Source::new(&name, quantity(estimate)).measured(names.readings)
        };
        let deviation = |part: &str, component: &Component, event: &Event| {
            let builder = start(part, 0.0)
                .normal(quantity(component.standard_deviation()))
                .degrees_of_freedom(component.degrees_of_freedom)
                .event(event.clone());
            match names.limits_at_sd {
                Some(k) => builder.limits_at_sd(k),
                None => builder,
            }
        };
        let freedom = self.set_ups() as f64 - 1.0;
        let mean = start("mean", self.mean()).student_t(quantity(self.standard_error()), freedom);
        let build = |builder: SourceBuilder| builder.build().map_err(Error::source);
        Ok(LogSources {
            mean: build(mean)?,
            set_up: build(deviation("set_up", &spreads.set_up, &names.set_up))?,
            piece: build(deviation("piece", &spreads.piece, &names.piece))?,
        })
    }

    /// Which of a plan's sources this log can tell apart, and which measurement would tell more.
    ///
    /// `set_up` and `piece` are the events that the log's columns stand for.
    ///
    /// ```
    /// use kerfwise_gauge::{Log, LogReading};
    /// use kerfwise_source::{Event, LengthUnits, Source};
    ///
    /// let rows = [("mon", [1.0, 3.0]), ("tue", [4.0, 6.0])];
    /// let rows = rows.map(|(set_up, [a, b])| {
    ///     [("1", a), ("2", b)].map(|(piece, reading)| LogReading { set_up, piece, reading })
    /// });
    /// let log = Log::new(rows.as_flattened())?;
    /// let source = |name, event| Source::new(name, 0.inch()).rectangular(1.thou()).event(event).build();
    /// let plan = [
    ///     source("travel", Event::jig_move()),
    ///     source("stop", Event::tenon_set_up()),
    ///     source("seat", Event::cut()),
    ///     source("kerf", Event::blade()),
    /// ];
    /// let plan: Vec<Source> = plan.into_iter().collect::<Result<_, _>>().unwrap();
    /// let groups = log.groups(&plan, &Event::tenon_set_up(), &Event::piece());
    /// assert_eq!((groups.set_up, groups.piece), (vec!["travel".to_owned(), "stop".to_owned()], vec!["seat".to_owned()]));
    /// assert_eq!(groups.unseen, ["kerf"]);
    /// assert_eq!(
    ///     groups.advice[0],
    ///     "\"jig move\" several times in one tenon set-up, in a column of its own, tells \"travel\" from \"stop\""
    /// );
    /// # Ok::<(), kerfwise_gauge::Error>(())
    /// ```
    #[must_use]
    pub fn groups(&self, sources: &[Source], set_up: &Event, piece: &Event) -> Groups {
        let is_read_again = self.repeat.degrees_of_freedom > 0.0;
        Groups::new(sources, set_up, piece, is_read_again)
    }

    /// The mean squares of pieces' means less what reading adds to them.
    fn piece_terms(&self) -> [Term; 2] {
        [
            Term::new(1.0, self.by_piece.within()),
            Term::new(-1.0 / self.repeats, self.repeat),
        ]
    }

    fn estimate(&self, set_ups: &[Vec<Moments>]) -> Option<(Estimator, [f64; 3])> {
        if self.repeat.degrees_of_freedom <= 0.0 {
            return None;
        }
        let confidence = Confidence::default();
        let set_up = self.by_piece.between_component(confidence).variance;
        let piece: f64 = self.piece_terms().iter().map(Term::value).sum();
        let is_even = {
            let mut counts = set_ups.iter().flatten().map(Moments::count);
            let first = counts.next();
            counts.all(|count| Some(count) == first)
        };
        let by_means = self.by_piece.estimator();
        if is_even && piece >= 0.0 && by_means == Estimator::AnalysisOfVariance {
            return Some((by_means, [set_up, piece, self.repeat.mean_square()]));
        }
        let fitted = (self.pieces <= MOST_CELLS).then(|| fit(&cells(set_ups, &self.repeat)));
        let variances = match fitted {
            Some(Some(variances)) => [variances[0], variances[1], variances[2]],
            Some(None) => [0.0; 3], // nothing varies
            None => [set_up, piece.max(0.0), self.repeat.mean_square()],
        };
        Some((Estimator::RestrictedLikelihood, variances))
    }
}

/// Pieces as cells under their set-up.
fn cells(set_ups: &[Vec<Moments>], repeat: &MeanSquare) -> Cells {
    let pieces = || set_ups.iter().flatten();
    let of_set_up = set_ups.iter().enumerate();
    let levels = of_set_up.flat_map(|(i, pieces)| std::iter::repeat_n(i, pieces.len()));
    // Without what all have in common, so that squares do not cancel.
    let first = pieces().find_map(Moments::mean).unwrap_or(0.0);
    Cells {
        factors: vec![levels.collect()],
        has_cell_effect: true,
        means: pieces()
            .filter_map(Moments::mean)
            .map(|mean| mean - first)
            .collect(),
        counts: pieces().map(|piece| piece.count() as f64).collect(),
        squares: repeat.sum_of_squares,
        freedom: repeat.degrees_of_freedom,
    }
}

/// Readings by set-up and piece, both in order of their first reading.
fn by_set_up(readings: &[LogReading<'_>]) -> Result<Vec<Vec<Moments>>, Error> {
    let mut set_ups: Vec<Vec<Moments>> = Vec::new();
    let mut set_up_of = BTreeMap::new();
    let mut piece_of = BTreeMap::new();
    for (index, row) in readings.iter().enumerate() {
        let set_up = *set_up_of.entry(row.set_up).or_insert_with(|| {
            set_ups.push(Vec::new());
            set_ups.len() - 1
        });
        let pieces = &mut set_ups[set_up];
        let piece = *piece_of.entry((row.set_up, row.piece)).or_insert_with(|| {
            pieces.push(Moments::new());
            pieces.len() - 1
        });
        pieces[piece].add(row.reading).map_err(|_| {
            let (number, reading) = (index + 1, row.reading);
            Error::readings(format!(
                "reading {number} must be finite and within ±1e140 (got {reading:e})"
            ))
        })?;
    }
    Ok(set_ups)
}

#[cfg(test)]
#[expect(clippy::float_cmp, reason = "what is exact is compared exactly")]
mod tests;
