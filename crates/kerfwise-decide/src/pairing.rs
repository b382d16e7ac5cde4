//! Which tenon goes into which mortise, when both have been measured.
//!
//! Widths lie on a line, so a best matching need never cross: if a thinner tenon went into the wider of two mortises and
//! a thicker one into the narrower, swapping them keeps both clearances between the two that there were, and the sum of
//! their squares does not grow. So both lists are sorted, and a table of n · m cells finds the best. Proof:
//! `docs/decisions.md`.

use crate::Error;
use kerfwise_source::{Length, LengthUnits as _};

/// What a good pair is.
#[derive(Debug, Clone, PartialEq)]
pub struct PairingOptions {
    wanted: Length,
    least: Length,
    most: Length,
}

impl PairingOptions {
    /// The wanted total clearance, mortise less tenon; a pair fits within 0.005 in of it.
    #[must_use]
    pub fn wanted(clearance: Length) -> Self {
        Self {
            wanted: clearance,
            least: clearance - 5.0.thou(),
            most: clearance + 5.0.thou(),
        }
    }

    /// The clearances with which a pair still fits, both ends among them.
    #[must_use]
    pub fn between(mut self, least: Length, most: Length) -> Self {
        (self.least, self.most) = (least, most);
        self
    }

    fn check(&self) -> Result<(), Error> {
        let all = [self.wanted, self.least, self.most];
        if all.iter().any(|x| !x.to_inches().is_finite()) || self.least > self.most {
            return Err(Error::question(format!(
                "clearances must run from the least to the most (got {} to {}, {} wanted)",
                self.least, self.most, self.wanted
            )));
        }
        Ok(())
    }

    /// Refuses what is no clearance of tenons as thick as this.
    fn check_for(&self, tenon: f64) -> Result<(), Error> {
        let is_one = |x: &Length| x.to_inches().abs() <= tenon;
        match [self.wanted, self.least, self.most]
            .iter()
            .find(|x| !is_one(x))
        {
            Some(clearance) => Err(Error::question(format!(
                "a clearance of {clearance} is more than the tenons are thick (about {}); is its unit right?",
                tenon.inch()
            ))),
            None => Ok(()),
        }
    }
}

/// A tenon and a mortise, by their places in the lists.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Pair {
    /// Place of the tenon, from 0.
    pub tenon: usize,
    /// Place of the mortise, from 0.
    pub mortise: usize,
    /// Mortise less tenon.
    pub clearance: Length,
}

/// The best matching.
#[derive(Debug, Clone, PartialEq)]
pub struct Pairing {
    /// Pairs that fit, in the order of the tenons: as many as can be, and of all such matchings that with the least sum of
    /// squared deviations from the wanted clearance.
    pub fits: Vec<Pair>,
    /// Root mean square of the deviations of these from the wanted clearance; zero if there are none.
    pub rms_deviation: Length,
    /// Pairs made of what is left, to be reworked: together they are the least that has to be planed or shimmed to the
    /// wanted clearance. One that is too tight has a clearance below the wanted one.
    pub rework: Vec<Pair>,
    /// Tenons without a mortise, where there are more of them.
    pub spare_tenons: Vec<usize>,
    /// Mortises without a tenon.
    pub spare_mortises: Vec<usize>,
}

/// The most pieces on either side; the table then takes 100 MB.
const MOST: usize = 10_000;
/// So many times the middle one of its list, or a part of it, no width is.
const STRANGE: f64 = 5.0;
/// A hair more than the rounding of decimal numbers: a clearance on the limit fits.
const HAIR: f64 = 1e-10;

impl Pairing {
    /// The best matching of measured tenons and mortises.
    ///
    /// # Errors
    ///
    /// When a list is empty, holds more than 10,000 widths, or one that is not a length above 0 or not within a fifth and five
    /// times the middle one; when the clearances are not in order, or one is more than the tenons are thick; when not even half an inch brings the lists together (is one of them in other units?).
    ///
    /// ```
    /// use kerfwise_decide::{Pairing, PairingOptions};
    /// use kerfwise_source::LengthUnits;
    ///
    /// let tenons = [0.371.inch(), 0.375.inch()];
    /// let mortises = [0.378.inch(), 0.374.inch()];
    /// let options = PairingOptions::wanted(3.thou()).between(2.thou(), 5.thou());
    /// let best = Pairing::best(&tenons, &mortises, &options)?;
    /// assert_eq!(best.fits.len(), 2);
    /// assert_eq!((best.fits[0].mortise, best.fits[1].mortise), (1, 0)); // thin into narrow
    /// assert!(best.rms_deviation.to_thou() < 1e-9); // both have the wanted 3 thou
    /// # Ok::<(), Box<dyn std::error::Error>>(())
    /// ```
    pub fn best(
        tenons: &[Length],
        mortises: &[Length],
        options: &PairingOptions,
    ) -> Result<Self, Error> {
        options.check()?;
        let (tenons, mortises) = (sorted("tenons", tenons)?, sorted("mortises", mortises)?);
        options.check_for(tenons[tenons.len() / 2].1)?;
        check_units(&tenons, &mortises, options)?;
        let (least, most) = (
            options.least.to_inches() - HAIR,
            options.most.to_inches() + HAIR,
        );
        let wanted = options.wanted.to_inches();
        let squares = |clearance: f64| {
            let off = clearance - wanted;
            (least..=most).contains(&clearance).then_some(off * off)
        };
        let (mut fits, left_tenons, left_mortises) = matched(&tenons, &mortises, &squares);
        let deviation = |pair: &Pair| pair.clearance.to_inches() - wanted;
        let sum: f64 = fits.iter().map(|p| deviation(p) * deviation(p)).sum();
        let rms = (sum / fits.len().max(1) as f64).sqrt();
        let amount = |clearance: f64| Some((clearance - wanted).abs());
        let (mut rework, spare_tenons, spare_mortises) =
            matched(&left_tenons, &left_mortises, &amount);
        fits.sort_by_key(|pair| pair.tenon);
        rework.sort_by_key(|pair| pair.tenon);
        Ok(Self {
            fits,
            rms_deviation: rms.inch(),
            rework,
            spare_tenons: places(spare_tenons),
            spare_mortises: places(spare_mortises),
        })
    }
}

/// Place and width of a piece.
type Piece = (usize, f64);

fn sorted(what: &str, widths: &[Length]) -> Result<Vec<Piece>, Error> {
    if widths.is_empty() {
        return Err(Error::observation(format!("there are no {what} to pair")));
    }
    if widths.len() > MOST {
        return Err(Error::observation(format!(
            "at most {MOST} {what} can be paired (got {})",
            widths.len()
        )));
    }
    let mut pieces = Vec::with_capacity(widths.len());
    for (place, width) in widths.iter().enumerate() {
        let inches = width.to_inches();
        if !(inches > 0.0 && inches.is_finite()) {
            return Err(Error::observation(format!(
                "{what}: number {} must be a length above 0 (got {width})",
                place + 1
            )));
        }
        pieces.push((place, inches));
    }
    pieces.sort_by(|a, b| a.1.total_cmp(&b.1).then(a.0.cmp(&b.0)));
    let middle = pieces[pieces.len() / 2].1;
    // The point one place on, or another unit.
    let is_strange = |width: f64| width > STRANGE * middle || width < middle / STRANGE;
    match pieces.iter().find(|(_, width)| is_strange(*width)) {
        Some((place, width)) => Err(Error::observation(format!(
            "{what}: number {} of {} does not go with the middle one of {}; is the point in its place, and the unit right?",
            place + 1,
            width.inch(),
            middle.inch()
        ))),
        None => Ok(pieces),
    }
}

/// Lists that lie half an inch apart in the middle are in different units, or of different jobs.
fn check_units(
    tenons: &[Piece],
    mortises: &[Piece],
    options: &PairingOptions,
) -> Result<(), Error> {
    let (t, m) = (tenons[tenons.len() / 2].1, mortises[mortises.len() / 2].1);
    if (m - t - options.wanted.to_inches()).abs() > 0.5 {
        return Err(Error::observation(format!(
            "tenons of about {} and mortises of about {} do not belong together; is one of the lists in other units?",
            t.inch(),
            m.inch()
        )));
    }
    Ok(())
}

fn places(pieces: Vec<Piece>) -> Vec<usize> {
    let mut places: Vec<usize> = pieces.into_iter().map(|(place, _)| place).collect();
    places.sort_unstable();
    places
}

/// How a cell of the table came about.
const NO_TENON: u8 = 0;
const NO_MORTISE: u8 = 1;
const PAIRED: u8 = 2;

/// Most pairs, then least cost, of all matchings of two ascending lists that do not cross; and what is left of each.
/// `cost` is that of a clearance, if the two may be paired at all.
fn matched(
    tenons: &[Piece],
    mortises: &[Piece],
    cost: &dyn Fn(f64) -> Option<f64>,
) -> (Vec<Pair>, Vec<Piece>, Vec<Piece>) {
    let columns = mortises.len() + 1;
    // Best with the first tenons and the first mortises: how many pairs, and what they cost. One row at a time.
    let mut row: Vec<(u32, f64)> = vec![(0, 0.0); columns];
    let mut how = vec![NO_MORTISE; tenons.len() * columns];
    for (i, (_, tenon)) in tenons.iter().enumerate() {
        let mut corner = row[0];
        let mut before = row[0];
        for (j, (_, mortise)) in mortises.iter().enumerate() {
            let above = row[j + 1];
            let (mut best, mut by) = (before, NO_MORTISE);
            if is_better(above, best) {
                (best, by) = (above, NO_TENON);
            }
            if let Some(cost) = cost(mortise - tenon) {
                let paired = (corner.0 + 1, corner.1 + cost);
                if is_better(paired, best) {
                    (best, by) = (paired, PAIRED);
                }
            }
            how[i * columns + j + 1] = by;
            row[j + 1] = best;
            (corner, before) = (above, best);
        }
    }
    let (mut pairs, mut left, mut over) = (Vec::new(), Vec::new(), Vec::new());
    let (mut i, mut j) = (tenons.len(), mortises.len());
    while i > 0 && j > 0 {
        match how[(i - 1) * columns + j] {
            PAIRED => {
                (i, j) = (i - 1, j - 1);
                let ((tenon, t), (mortise, m)) = (tenons[i], mortises[j]);
                pairs.push(Pair {
                    tenon,
                    mortise,
                    clearance: (m - t).inch(),
                });
            }
            NO_TENON => {
                i -= 1;
                left.push(tenons[i]);
            }
            _ => {
                j -= 1;
                over.push(mortises[j]);
            }
        }
    }
    left.extend(tenons[..i].iter().rev());
    over.extend(mortises[..j].iter().rev());
    left.reverse();
    over.reverse();
    (pairs, left, over)
}

fn is_better(a: (u32, f64), b: (u32, f64)) -> bool {
    a.0 > b.0 || (a.0 == b.0 && a.1 < b.1)
}

#[cfg(test)]
mod tests;
