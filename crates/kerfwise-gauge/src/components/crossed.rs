use super::{Cells, Component, Estimator, MeanSquare, Term, combination, fit};
use crate::{Confidence, Error, Interval, Moments};
use kerfwise_numeric::sum::sum;

/// One reading of a gauge study: who measured what.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct GaugeReading<'a> {
    /// Which part was measured.
    pub part: &'a str,
    /// Who measured it.
    pub person: &'a str,
    /// What was read.
    pub reading: f64,
}

/// What becomes of the interaction: that people differ more on some parts than on others.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
#[non_exhaustive]
pub enum Interaction {
    /// It is a component of its own, and part of reproducibility.
    Kept,
    /// It is counted as repeatability.
    Pooled,
    /// Pooled if its F test gives a p-value above 0.25, which is common practice (no source); else kept.
    #[default]
    Tested,
}

/// A gauge study in which every person measures every part, several times if it can be.
///
/// ```text
/// reading = mean + part + person + part × person + repeat
/// ```
///
/// ```
/// use kerfwise_gauge::{Confidence, GaugeReading, GaugeStudy, Interaction};
///
/// // Three parts, two people, two readings each, in thou.
/// let rows = [
///     ("a", "Ann", [1.0, 3.0]), ("b", "Ann", [11.0, 13.0]), ("c", "Ann", [21.0, 23.0]),
///     ("a", "Bo", [4.0, 6.0]), ("b", "Bo", [14.0, 16.0]), ("c", "Bo", [24.0, 26.0]),
/// ];
/// let rows = rows.map(|(part, person, two)| two.map(|reading| GaugeReading { part, person, reading }));
/// let study = GaugeStudy::new(rows.as_flattened())?;
/// // Part means 3.5, 13.5, 23.5 of 4 readings each; person means 12 and 15 of 6; repeats ±1.
/// assert!((study.part().sum_of_squares - 4.0 * 200.0).abs() < 1e-9);
/// assert!((study.person().sum_of_squares - 6.0 * 4.5).abs() < 1e-9);
/// assert!((study.repeat().sum_of_squares - 12.0).abs() < 1e-9);
/// let found = study.components(Interaction::Tested, Confidence::default());
/// assert!(found.pooled); // no interaction at all: 12 over 6 + 2 degrees of freedom
/// assert!((found.repeatability.variance - 1.5).abs() < 1e-9);
/// assert!((found.reproducibility.variance - (27.0 - 1.5) / 6.0).abs() < 1e-9);
/// # Ok::<(), kerfwise_gauge::Error>(())
/// ```
#[derive(Debug, Clone, PartialEq)]
pub struct GaugeStudy {
    parts: Vec<String>,
    people: Vec<String>,
    /// By part, then person: means less the first reading of all, and numbers of readings.
    means: Vec<f64>,
    counts: Vec<f64>,
    squares: Squares,
    is_balanced: bool,
}

#[derive(Debug, Clone, Copy, PartialEq)]
struct Squares {
    part: MeanSquare,
    person: MeanSquare,
    interaction: MeanSquare,
    repeat: MeanSquare,
}

/// More would take the restricted likelihood too long.
const MOST_CELLS: usize = 400;

impl GaugeStudy {
    /// From at least two parts and two people, every person having measured every part.
    ///
    /// # Errors
    ///
    /// [`ErrorKind::Readings`](crate::ErrorKind::Readings) for fewer than two parts or people, a part that somebody has not measured
    /// (which, and who), more than 400 combinations of part and person, and a reading that is not finite or beyond ±1e140.
    ///
    /// ```
    /// use kerfwise_gauge::{GaugeReading, GaugeStudy};
    ///
    /// let row = |part, person| GaugeReading { part, person, reading: 1.0 };
    /// let rows = [row("a", "Ann"), row("b", "Ann"), row("a", "Bo")];
    /// assert_eq!(
    ///     GaugeStudy::new(&rows).unwrap_err().to_string(),
    ///     "\"Bo\" has no reading of part \"b\": take one, or leave the part out"
    /// );
    /// ```
    pub fn new(readings: &[GaugeReading<'_>]) -> Result<Self, Error> {
        let parts = labels(readings.iter().map(|row| row.part));
        let people = labels(readings.iter().map(|row| row.person));
        check_size(parts.len(), people.len())?;
        let mut cells = vec![Moments::new(); parts.len() * people.len()];
        let place = |names: &[String], name: &str| names.iter().position(|n| n == name);
        for (index, row) in readings.iter().enumerate() {
            let (Some(part), Some(person)) = (place(&parts, row.part), place(&people, row.person))
            else {
                continue; // cannot be: both lists were made of these rows
            };
            cells[part * people.len() + person]
                .add(row.reading)
                .map_err(|_| {
                    let (number, reading) = (index + 1, row.reading);
                    Error::readings(format!(
                        "reading {number} must be finite and within ±1e140 (got {reading:e})"
                    ))
                })?;
        }
        if let Some(empty) = cells.iter().position(|cell| cell.count() == 0) {
            let (part, person) = (&parts[empty / people.len()], &people[empty % people.len()]);
            return Err(Error::readings(format!(
                "{person:?} has no reading of part {part:?}: take one, or leave the part out"
            )));
        }
        let first = readings[0].reading.into();
        let means: Vec<f64> = cells
            .iter()
            .map(|cell| (cell.wide_mean() - first).value())
            .collect();
        let counts: Vec<f64> = cells.iter().map(|cell| cell.count() as f64).collect();
        let inside = sum(cells.iter().map(Moments::sum_of_squares));
        let freedom = readings.len() as f64 - cells.len() as f64;
        let squares = squares(
            &means,
            harmonic(&counts),
            people.len(),
            MeanSquare::new(inside, freedom),
        );
        Ok(Self {
            is_balanced: cells.iter().all(|cell| cell.count() == cells[0].count()),
            parts,
            people,
            means,
            counts,
            squares,
        })
    }

    /// The parts, in order of their first reading.
    #[must_use]
    pub fn parts(&self) -> &[String] {
        &self.parts
    }

    /// The people, in order of their first reading.
    #[must_use]
    pub fn people(&self) -> &[String] {
        &self.people
    }

    /// Squares between parts. Where the numbers of readings differ, this and the next two are those of the plain means of
    /// each person's readings of each part, in units of a reading (harmonic mean of the numbers).
    #[must_use]
    pub fn part(&self) -> MeanSquare {
        self.squares.part
    }

    /// Squares between people.
    #[must_use]
    pub fn person(&self) -> MeanSquare {
        self.squares.person
    }

    /// Squares of the interaction.
    #[must_use]
    pub fn interaction(&self) -> MeanSquare {
        self.squares.interaction
    }

    /// Squares of repeated readings; without degrees of freedom if nothing was read twice.
    #[must_use]
    pub fn repeat(&self) -> MeanSquare {
        self.squares.repeat
    }

    /// How often no interaction would give as large an F; `None` if nothing was read twice.
    #[must_use]
    pub fn interaction_p_value(&self) -> Option<f64> {
        let repeat = &self.squares.repeat;
        (repeat.degrees_of_freedom > 0.0).then(|| self.squares.interaction.p_over(repeat))
    }

    /// The variances. Where nothing was read twice, the interaction cannot be told from repeatability and is always
    /// pooled.
    #[must_use]
    pub fn components(&self, interaction: Interaction, confidence: Confidence) -> GaugeComponents {
        let pooled = match (self.interaction_p_value(), interaction) {
            (None, _) | (_, Interaction::Pooled) => true,
            (_, Interaction::Kept) => false,
            (Some(p), Interaction::Tested) => p > 0.25,
        };
        let (p, o) = (self.parts.len() as f64, self.people.len() as f64);
        let model = Model::new((p, o, harmonic(&self.counts)), &self.squares, pooled);
        let of = |terms: &[Term]| terms.iter().map(Term::value).sum::<f64>();
        let simple = [&model.part, &model.person, &model.interaction].map(|terms| of(terms));
        let repeat = model.repeat.mean_square();
        let (estimator, [part, person, interaction, repeat]) =
            if self.is_balanced && simple.iter().all(|&variance| variance >= 0.0) {
                let [part, person, interaction] = simple;
                (
                    Estimator::AnalysisOfVariance,
                    [part, person, interaction, repeat],
                )
            } else {
                (
                    Estimator::RestrictedLikelihood,
                    self.restricted_likelihood(pooled),
                )
            };
        let component = |variance, terms: &[Term]| Component::of_terms(variance, terms, confidence);
        GaugeComponents {
            estimator,
            pooled,
            repeatability: Component::of_square(repeat, &model.repeat, confidence),
            reproducibility: component(person + interaction, &model.reproducibility),
            person: component(person, &model.person),
            interaction: (!pooled).then(|| component(interaction, &model.interaction)),
            gauge: component(person + interaction + repeat, &model.gauge),
            part: component(part, &model.part),
            total: component(part + person + interaction + repeat, &model.total),
        }
    }

    /// How many people, measuring these parts as often, would know the standard deviation of the gauge to within so many times
    /// itself: the upper end of its interval over the estimate, were the variances those of `found`. `None` where not even 100
    /// people would, or where no spread was found.
    ///
    /// ```
    /// use kerfwise_gauge::{Confidence, GaugeReading, GaugeStudy, Interaction};
    ///
    /// let rows = [
    ///     ("a", "Ann", [1.0, 3.0]), ("b", "Ann", [11.0, 13.0]), ("c", "Ann", [21.0, 23.0]),
    ///     ("a", "Bo", [4.0, 6.0]), ("b", "Bo", [14.0, 16.0]), ("c", "Bo", [24.0, 26.0]),
    /// ];
    /// let rows = rows.map(|(part, person, two)| two.map(|reading| GaugeReading { part, person, reading }));
    /// let study = GaugeStudy::new(rows.as_flattened())?;
    /// let found = study.components(Interaction::Tested, Confidence::default());
    /// // Two people know next to nothing of how people differ; so many would know it to within twice.
    /// assert_eq!(study.people_for(&found, 2.0, Confidence::default()), Some(8));
    /// # Ok::<(), kerfwise_gauge::Error>(())
    /// ```
    #[must_use]
    pub fn people_for(
        &self,
        found: &GaugeComponents,
        ratio: f64,
        confidence: Confidence,
    ) -> Option<u64> {
        const MOST: u32 = 100;
        let variance = found.gauge.variance;
        let (p, r) = (self.parts.len() as f64, harmonic(&self.counts));
        let of_cell = found.interaction.as_ref().map_or(0.0, |i| i.variance);
        let repeat = found.repeatability.variance;
        let is_enough = |people: u32| {
            let o = f64::from(people);
            let square = |mean: f64, freedom: f64| MeanSquare::new(mean * freedom, freedom);
            let inside = repeat + r * of_cell;
            let squares = Squares {
                part: square(inside + o * r * found.part.variance, p - 1.0),
                person: square(inside + p * r * found.person.variance, o - 1.0),
                interaction: square(inside, (p - 1.0) * (o - 1.0)),
                repeat: square(repeat, p * o * (r - 1.0)),
            };
            let gauge = Model::new((p, o, r), &squares, found.pooled).gauge;
            combination(&gauge, confidence).upper <= ratio * ratio * variance
        };
        let enough = (variance > 0.0).then(|| (2..=MOST).find(|&people| is_enough(people)));
        enough.flatten().map(u64::from)
    }

    /// Part, person, interaction, repeat.
    fn restricted_likelihood(&self, pooled: bool) -> [f64; 4] {
        let people = self.people.len();
        let cells = Cells {
            factors: vec![
                (0..self.means.len()).map(|i| i / people).collect(),
                (0..self.means.len()).map(|i| i % people).collect(),
            ],
            has_cell_effect: !pooled,
            means: self.means.clone(),
            counts: self.counts.clone(),
            squares: self.squares.repeat.sum_of_squares,
            freedom: self.squares.repeat.degrees_of_freedom,
        };
        match fit(&cells).as_deref() {
            Some([part, person, interaction, repeat]) => [*part, *person, *interaction, *repeat],
            Some([part, person, repeat]) => [*part, *person, 0.0, *repeat],
            _ => [0.0; 4],
        }
    }
}

fn check_size(parts: usize, people: usize) -> Result<(), Error> {
    if parts < 2 || people < 2 {
        return Err(Error::readings(format!(
            "a gauge study needs at least 2 parts and 2 people (got {parts} and {people}): \
             for one person, compare the parts as groups"
        )));
    }
    if parts * people > MOST_CELLS {
        return Err(Error::readings(format!(
            "a gauge study may have {MOST_CELLS} combinations of part and person (got {parts} × {people})"
        )));
    }
    Ok(())
}

/// Different names in order of their first appearance.
pub(crate) fn labels<'a>(names: impl Iterator<Item = &'a str>) -> Vec<String> {
    let mut found: Vec<String> = Vec::new();
    let mut known = std::collections::BTreeSet::new();
    for name in names {
        if known.insert(name) {
            found.push(name.to_owned());
        }
    }
    found
}

fn harmonic(counts: &[f64]) -> f64 {
    counts.len() as f64 / sum(counts.iter().map(|n| 1.0 / n))
}

/// Of the cell means, each counting as `size` readings.
fn squares(means: &[f64], size: f64, people: usize, repeat: MeanSquare) -> Squares {
    let parts = means.len() / people;
    let (p, o) = (parts as f64, people as f64);
    let grand = sum(means.iter().copied()) / (p * o);
    let of_part = |i: usize| sum((0..people).map(|j| means[i * people + j])) / o - grand;
    let of_person = |j: usize| sum((0..parts).map(|i| means[i * people + j])) / p - grand;
    let part: Vec<f64> = (0..parts).map(of_part).collect();
    let person: Vec<f64> = (0..people).map(of_person).collect();
    let square = |values: &[f64]| sum(values.iter().map(|x| x * x));
    let rest: Vec<f64> = (0..means.len())
        .map(|at| means[at] - grand - part[at / people] - person[at % people])
        .collect();
    Squares {
        part: MeanSquare::new(size * o * square(&part), p - 1.0),
        person: MeanSquare::new(size * p * square(&person), o - 1.0),
        interaction: MeanSquare::new(size * square(&rest), (p - 1.0) * (o - 1.0)),
        repeat,
    }
}

/// Each variance as a combination of mean squares (Burdick, Borror and Montgomery 2005, chapters 2 and 3).
struct Model {
    part: Vec<Term>,
    person: Vec<Term>,
    interaction: Vec<Term>,
    reproducibility: Vec<Term>,
    gauge: Vec<Term>,
    total: Vec<Term>,
    repeat: MeanSquare,
}

impl Model {
    /// Of so many parts, people and readings of each part by each.
    fn new((p, o, r): (f64, f64, f64), squares: &Squares, pooled: bool) -> Self {
        let &Squares {
            part,
            person,
            interaction,
            repeat,
        } = squares;
        // What part and person are compared with.
        let base = if pooled {
            interaction.pooled(&repeat)
        } else {
            interaction
        };
        let repeat = if pooled { base } else { repeat };
        let (of_part, of_person, of_cell) = (1.0 / (o * r), 1.0 / (p * r), 1.0 / r);
        let mut model = Self {
            part: vec![Term::new(of_part, part), Term::new(-of_part, base)],
            person: vec![Term::new(of_person, person), Term::new(-of_person, base)],
            interaction: Vec::new(),
            reproducibility: Vec::new(),
            gauge: vec![Term::new(of_person, person)],
            total: vec![Term::new(of_part, part), Term::new(of_person, person)],
            repeat,
        };
        if pooled {
            model.reproducibility.clone_from(&model.person);
            model.gauge.push(Term::new(1.0 - of_person, base));
            model.total.push(Term::new(1.0 - of_person - of_part, base));
        } else {
            model.interaction = vec![Term::new(of_cell, interaction), Term::new(-of_cell, repeat)];
            let share = of_cell - of_person;
            model.reproducibility = vec![
                Term::new(of_person, person),
                Term::new(share, interaction),
                Term::new(-of_cell, repeat),
            ];
            model.gauge.push(Term::new(share, interaction));
            model.gauge.push(Term::new(1.0 - of_cell, repeat));
            model.total.push(Term::new(share - of_part, interaction));
            model.total.push(Term::new(1.0 - of_cell, repeat));
        }
        model
    }
}

/// What a gauge study finds.
#[derive(Debug, Clone, PartialEq)]
#[non_exhaustive]
pub struct GaugeComponents {
    /// How the variances were estimated.
    pub estimator: Estimator,
    /// Whether the interaction was counted as repeatability.
    pub pooled: bool,
    /// One person reading one part again.
    pub repeatability: Component,
    /// Different people reading one part: person and, unless pooled, interaction.
    pub reproducibility: Component,
    /// Differences between people that are the same on all parts.
    pub person: Component,
    /// Differences between people that change from part to part; `None` if pooled.
    pub interaction: Option<Component>,
    /// The gauge as a whole: repeatability and reproducibility.
    pub gauge: Component,
    /// Differences between the parts.
    pub part: Component,
    /// One reading of any part by anybody.
    pub total: Component,
}

impl GaugeComponents {
    /// How many classes of parts the gauge can tell apart: √2 · part / gauge, both as standard deviations; common practice
    /// takes the whole part of it and wants 5. Infinite for a gauge without spread.
    #[must_use]
    pub fn distinct_classes(&self) -> f64 {
        if self.part.variance <= 0.0 {
            return 0.0;
        }
        (2.0 * self.part.variance / self.gauge.variance).sqrt()
    }

    /// Share of a fit band, or any other width between two limits, that six standard deviations of the gauge use up, with its
    /// interval.
    ///
    /// # Errors
    ///
    /// [`ErrorKind::Parameter`](crate::ErrorKind::Parameter) for a width that is not above 0 and finite.
    pub fn share_of_band(&self, width: f64) -> Result<(f64, Interval), Error> {
        if !(width > 0.0 && width.is_finite()) {
            return Err(Error::parameter(format!(
                "the width of a band must be above 0 and finite (got {width})"
            )));
        }
        let share = |sd: f64| 6.0 * sd / width;
        let gauge = &self.gauge;
        Ok((
            share(gauge.standard_deviation()),
            gauge.standard_deviation_interval().map(share),
        ))
    }
}

#[cfg(test)]
mod tests;
