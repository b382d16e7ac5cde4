use super::law::Law;
use super::{Distribution, check};
use crate::Error;
use kerfwise_numeric::stream::Stream;

/// A mixture of laws.
#[derive(Debug, Clone, PartialEq)]
pub struct Mixture {
    parts: Vec<(f64, Distribution)>,
}

impl Mixture {
    /// Weights and what they weigh; none of the parts is itself a mixture, the weights are above 0 and add to 1.
    #[inline]
    #[must_use]
    pub fn parts(&self) -> &[(f64, Distribution)] {
        &self.parts
    }

    fn weighed(&self, f: impl Fn(&Distribution) -> f64) -> f64 {
        self.parts
            .iter()
            .map(|(weight, part)| weight * f(part))
            .sum()
    }

    fn least(&self, f: impl Fn(&Distribution) -> f64) -> f64 {
        self.parts
            .iter()
            .map(|(_, part)| f(part))
            .fold(f64::INFINITY, f64::min)
    }

    fn greatest(&self, f: impl Fn(&Distribution) -> f64) -> f64 {
        self.parts
            .iter()
            .map(|(_, part)| f(part))
            .fold(f64::NEG_INFINITY, f64::max)
    }

    /// Draws: the first word of each chooses the part, the second draws from it.
    ///
    /// Those of one part are drawn together.
    pub(super) fn fill(&self, stream: &mut Stream, out: &mut [f64]) {
        let mut up_to = Vec::with_capacity(self.parts.len());
        let mut total = 0.0;
        for (weight, _) in &self.parts {
            total += weight;
            up_to.push(total);
        }
        let mut words = [0.0; 1024];
        let mut chosen = [0; 512];
        let mut column = Vec::with_capacity(chosen.len());
        for draws in out.chunks_mut(chosen.len()) {
            let words = &mut words[..2 * draws.len()];
            stream.fill_open01(words);
            for (chosen, pair) in chosen.iter_mut().zip(words.as_chunks::<2>().0) {
                let part = up_to.partition_point(|up_to| *up_to < pair[0]);
                *chosen = part.min(self.parts.len() - 1);
            }
            for (index, (_, part)) in self.parts.iter().enumerate() {
                let of_part = chosen.iter().zip(words.as_chunks::<2>().0);
                let uniform = of_part.filter(|(chosen, _)| **chosen == index);
                column.clear();
                column.extend(uniform.map(|(_, pair)| pair[1]));
                part.draws(&mut column);
                let of_part = draws.iter_mut().zip(&chosen);
                let places = of_part.filter(|(_, chosen)| **chosen == index);
                for ((place, _), draw) in places.zip(&column) {
                    *place = *draw;
                }
            }
        }
    }
}

impl Distribution {
    /// A mixture: weights (which must add to 1 within 1e-9, and are scaled to do so) and what they weigh.
    ///
    /// Parts of weight 0 are left out; a mixture among the parts is replaced by its own parts; a mixture of points is
    /// a discrete law. Moments follow from the laws of total expectation and variance; quantiles are found by
    /// bisection to the last bit.
    ///
    /// # Errors
    /// When there is no part, a weight is negative or not finite, or the weights do not add to 1.
    ///
    /// # Examples
    /// ```
    /// use kerfwise_source::Distribution;
    ///
    /// // One piece in ten sits on a chip.
    /// let seating = Distribution::mixture(vec![
    ///     (0.9, Distribution::normal(0.0, 0.0005)?),
    ///     (0.1, Distribution::rectangular(0.002, 0.006)?),
    /// ])?;
    /// assert!((seating.mean().unwrap() - 0.0004).abs() < 1e-18);
    /// assert!((seating.sf(0.004) - 0.05).abs() < 1e-15);
    /// assert_eq!(seating.words_per_draw(), 2);
    /// # Ok::<(), kerfwise_source::Error>(())
    /// ```
    pub fn mixture(parts: Vec<(f64, Self)>) -> Result<Self, Error> {
        if parts.is_empty() {
            return Err(check::bad(
                Mixture::NAME,
                "there must be at least one part with its weight (got none)",
            ));
        }
        let total = check::weights(
            Mixture::NAME,
            "weight",
            parts.iter().map(|(weight, _)| *weight),
        )?;
        Mixture::of(parts, total)
    }
}

impl Mixture {
    /// The law of checked weights that add to `total`.
    fn of(parts: Vec<(f64, Distribution)>, total: f64) -> Result<Distribution, Error> {
        let mut flat = Vec::with_capacity(parts.len());
        for (weight, part) in parts {
            let weight = weight / total;
            match part {
                // Its own parts hold no mixture, since it was built here too.
                Distribution::Mixture(inner) => flat.extend(
                    inner
                        .parts
                        .into_iter()
                        .map(|(share, part)| (weight * share, part)),
                ),
                part => flat.push((weight, part)),
            }
        }
        flat.retain(|(weight, _)| *weight > 0.0);
        if flat.len() == 1 {
            return Ok(flat.swap_remove(0).1);
        }
        let points: Option<Vec<_>> = flat
            .iter()
            .map(|(weight, part)| match part {
                Distribution::Point(point) => Some((point.value(), *weight)),
                _ => None,
            })
            .collect();
        match points {
            Some(pairs) => Distribution::discrete(&pairs),
            None => Ok(Distribution::Mixture(Self { parts: flat })),
        }
    }
}

/// Place of a number in the order of all numbers, and back.
fn place(x: f64) -> i64 {
    let bits = x.to_bits() as i64;
    bits ^ ((bits >> 63) as u64 >> 1) as i64
}

fn at_place(place: i64) -> f64 {
    f64::from_bits((place ^ ((place >> 63) as u64 >> 1) as i64) as u64)
}

/// The least number from `lo` to `hi` at which a condition holds that goes on holding above; `hi` if none.
///
/// Bisection over the numbers there are, at most 64 steps: a jump of the cdf is found as surely as a root.
fn least_with(holds: impl Fn(f64) -> bool, lo: f64, hi: f64) -> f64 {
    if holds(lo) {
        return lo;
    }
    let (mut fails, mut works) = (place(lo), place(hi));
    while works.wrapping_sub(fails) != 1 && fails < works {
        let between = (fails & works) + ((fails ^ works) >> 1);
        if holds(at_place(between)) {
            works = between;
        } else {
            fails = between;
        }
    }
    at_place(works)
}

impl Law for Mixture {
    const NAME: &'static str = "mixture";

    fn mean(&self) -> Option<f64> {
        let terms = self.parts.iter();
        terms
            .map(|(weight, part)| Some(weight * part.mean()?))
            .sum()
    }

    fn standard_deviation(&self) -> Option<f64> {
        let mean = self.mean()?;
        let mut terms = Vec::with_capacity(self.parts.len());
        let mut largest = 0.0_f64;
        for (weight, part) in &self.parts {
            let (sd, off) = (part.standard_deviation()?, part.mean()? - mean);
            largest = largest.max(sd).max(off.abs());
            terms.push((weight, sd, off));
        }
        if largest == 0.0 || largest.is_infinite() {
            return Some(largest);
        }
        // In units of the largest term, so that no square overflows.
        let square: f64 = terms
            .iter()
            .map(|(weight, sd, off)| {
                let (sd, off) = (sd / largest, off / largest);
                *weight * (sd * sd + off * off)
            })
            .sum();
        Some(largest * square.sqrt())
    }

    fn support(&self) -> (f64, f64) {
        (
            self.least(|part| part.support().0),
            self.greatest(|part| part.support().1),
        )
    }

    fn centre_of_symmetry(&self) -> Option<f64> {
        let centre = self.parts[0].1.centre_of_symmetry()?;
        self.parts
            .iter()
            .all(|(_, part)| part.centre_of_symmetry() == Some(centre))
            .then_some(centre)
    }

    fn pdf(&self, x: f64) -> Option<f64> {
        let terms = self.parts.iter();
        terms
            .map(|(weight, part)| Some(weight * part.pdf(x)?))
            .sum()
    }

    fn cdf(&self, x: f64) -> f64 {
        self.weighed(|part| part.cdf(x))
    }

    fn sf(&self, x: f64) -> f64 {
        self.weighed(|part| part.sf(x))
    }

    fn quantile(&self, p: f64) -> f64 {
        let (lo, hi) = (
            self.least(|part| part.quantile(p)),
            self.greatest(|part| part.quantile(p)),
        );
        if p <= 0.5 {
            least_with(|x| self.cdf(x) >= p, lo, hi)
        } else {
            least_with(|x| self.sf(x) <= 1.0 - p, lo, hi)
        }
    }

    fn quantile_upper(&self, q: f64) -> f64 {
        let (lo, hi) = (
            self.least(|part| part.quantile_upper(q)),
            self.greatest(|part| part.quantile_upper(q)),
        );
        if q <= 0.5 {
            least_with(|x| self.sf(x) <= q, lo, hi)
        } else {
            least_with(|x| self.cdf(x) >= 1.0 - q, lo, hi)
        }
    }

    fn characteristic(&self, t: f64) -> Option<(f64, f64)> {
        let mut total = (0.0, 0.0);
        for (weight, part) in &self.parts {
            let (re, im) = part.characteristic(t)?;
            total = (total.0 + weight * re, total.1 + weight * im);
        }
        Some(total)
    }

    fn affine(&self, factor: f64, shift: f64) -> Result<Distribution, Error> {
        let parts: Result<Vec<_>, Error> = self
            .parts
            .iter()
            .map(|(weight, part)| Ok((*weight, part.affine(factor, shift)?)))
            .collect();
        Self::of(parts?, 1.0)
    }
}

#[cfg(test)]
mod tests {
    use super::super::{Distribution, reference};
    use super::{at_place, place};
    use crate::Error;

    fn chip() -> Result<Distribution, Error> {
        Distribution::mixture(vec![
            (0.75, Distribution::normal(0.0, 1.0)?),
            (0.25, Distribution::rectangular(2.0, 6.0)?),
        ])
    }

    #[test]
    fn moments_follow_from_the_parts() -> Result<(), Error> {
        // By hand: mean 1; variance 0.75·1 + 0.25·16/12 within, 0.75·1 + 0.25·9 between.
        reference::moments(&chip()?, Some(1.0), Some((13.0_f64 / 12.0 + 3.0).sqrt()));
        let heavy = Distribution::student_t(0.0, 1.0, 2.0)?;
        let law = Distribution::mixture(vec![(0.5, heavy), (0.5, Distribution::point(1.0)?)])?;
        assert_eq!(
            (law.mean(), law.variance(), law.pdf(0.0)),
            (Some(0.5), None, None)
        );
        Ok(())
    }

    #[test]
    fn tails_are_those_of_the_parts() -> Result<(), Error> {
        let law = chip()?;
        let part = Distribution::normal(0.0, 1.0)?;
        for x in [-37.0, -5.0, 7.0, 37.0] {
            let (lower, upper) = (0.75 * part.cdf(x), 0.75 * part.sf(x));
            assert!(x > 0.0 || (law.cdf(x) / lower - 1.0).abs() < 1e-15);
            assert!(x < 0.0 || (law.sf(x) / upper - 1.0).abs() < 1e-15);
        }
        // The normal alone reaches so far out: 0.75 P(Z > z) = q.
        let z = part.quantile_upper(1e-200 / 0.75);
        assert!((law.quantile_upper(1e-200) / z - 1.0).abs() < 1e-15);
        assert!((law.quantile(1e-200) / z + 1.0).abs() < 1e-15);
        Ok(())
    }

    #[test]
    fn quantile_finds_jumps_and_roots() -> Result<(), Error> {
        let law = Distribution::mixture(vec![
            (0.5, Distribution::rectangular(0.0, 1.0)?),
            (0.5, Distribution::point(0.5)?),
        ])?;
        // By hand: the cdf is x/2 below the point, and (x + 1)/2 from it on.
        assert_eq!(law.quantile(0.125), 0.25);
        assert_eq!((law.quantile(0.3), law.quantile(0.75)), (0.5, 0.5));
        assert_eq!(law.quantile(0.875), 0.75);
        assert_eq!(
            (law.quantile_upper(0.7), law.quantile_upper(0.125)),
            (0.5, 0.75)
        );
        assert_eq!(
            (law.support(), law.centre_of_symmetry()),
            ((0.0, 1.0), Some(0.5))
        );
        Ok(())
    }

    #[test]
    fn a_mixture_among_the_parts_is_flattened() -> Result<(), Error> {
        let nested = Distribution::mixture(vec![
            (0.5, chip()?),
            (0.5, Distribution::arcsine(0.0, 1.0)?),
        ])?;
        let flat = Distribution::mixture(vec![
            (0.375, Distribution::normal(0.0, 1.0)?),
            (0.125, Distribution::rectangular(2.0, 6.0)?),
            (0.5, Distribution::arcsine(0.0, 1.0)?),
            (0.0, Distribution::exponential(0.0, 1.0)?),
        ])?;
        assert_eq!(nested, flat);
        assert_eq!(flat.words_per_draw(), 2);
        let points = vec![
            (0.5, Distribution::point(1.0)?),
            (0.5, Distribution::point(2.0)?),
        ];
        assert_eq!(
            Distribution::mixture(points)?,
            Distribution::discrete(&[(1.0, 0.5), (2.0, 0.5)])?
        );
        Ok(())
    }

    #[test]
    fn places_keep_the_order_of_the_numbers() {
        let numbers = [
            f64::NEG_INFINITY,
            -1.0,
            -f64::MIN_POSITIVE,
            -0.0,
            0.0,
            5e-324,
            1.0,
            f64::MAX,
        ];
        for pair in numbers.windows(2) {
            assert!(place(pair[0]) < place(pair[1]));
        }
        assert!(
            numbers
                .iter()
                .all(|x| at_place(place(*x)).to_bits() == x.to_bits())
        );
    }
}
