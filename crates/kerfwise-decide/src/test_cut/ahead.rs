//! What to do for each reading, written down before the first test piece is cut.

use super::advice::Advice;
use super::evidence::focus;
use super::prior::{TestCut, length};
use crate::Error;
use kerfwise_source::{Length, Quantity};

/// One line of a card for the saw: what to do if the first test piece reads from here to there.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct ReadingAdvice {
    /// The least reading of this line, as the gauge shows it.
    pub from: Length,
    /// The greatest reading of this line.
    pub to: Length,
    /// Leave, or move by so much.
    pub advice: Advice,
    /// The chance of a joint then: the least among the readings of this line.
    pub inside: f64,
}

/// Readings rarer than this, on either side, are left off the card.
const RARE: f64 = 1e-3;
/// The most readings that a card may tell apart.
const MOST_READINGS: f64 = 1_000.0;

impl TestCut {
    /// The advice for every reading that the first test piece may show, neighbours with the same advice in one line,
    /// ascending.
    ///
    /// Readings beyond the first and the last line come once in 500 set-ups: such a piece is measured again, and then
    /// [`after_readings`](Self::after_readings) is asked.
    ///
    /// # Errors
    ///
    /// When this test cut was set up for pieces that are felt, or when the steps of the gauge (of the dial, for a gauge
    /// without steps) are so small that more than 1,000 readings are likely.
    ///
    /// ```
    /// use kerfwise_decide::{Advice, TestCut, TestCutOptions};
    /// use kerfwise_source::{Event, LengthUnits, Source};
    /// use kerfwise_stack::{Band, Expr, Stack};
    ///
    /// let set_up = Source::new("set_up", 0.inch()).normal(3.thou()).build()?;
    /// let piece = Source::new("piece", 0.inch()).normal(1.thou()).event(Event::piece()).build()?;
    /// let fit = Expr::source(&set_up) + Expr::source(&piece);
    /// let stack = Stack::builder().outcome("fit", &fit, Band::within(3.thou())?).build()?;
    /// let cut = TestCut::measured(&stack, "fit", &fit, &TestCutOptions::new().resolution(1.thou()).dial_step(1.thou()))?;
    /// let card = cut.advice_by_reading()?;
    /// // Nothing is redrawn by a move here, so nine tenths of a reading are undone: 1.8 and 5.4 thou, in whole thou.
    /// let line = |reading| card.iter().find(|line| line.from <= reading && reading <= line.to).unwrap();
    /// assert_eq!(line(2.thou()).advice, Advice::MoveBy((-2).thou()));
    /// assert_eq!(line(6.thou()).advice, Advice::MoveBy((-5).thou()));
    /// assert_eq!(line(0.inch()).advice, Advice::Leave);
    /// # Ok::<(), Box<dyn std::error::Error>>(())
    /// ```
    pub fn advice_by_reading(&self) -> Result<Vec<ReadingAdvice>, Error> {
        let step = if self.resolution > 0.0 {
            self.resolution
        } else {
            self.step
        };
        let Some(law) = &self.laws.shown else {
            return Ok(Vec::new());
        };
        let nearest = |at: Quantity| ((at.raw() + self.shown_location) / step).round();
        let (first, last) = (
            nearest(law.quantile(RARE).value),
            nearest(law.quantile(1.0 - RARE).value),
        );
        if last - first >= MOST_READINGS {
            return Err(Error::question(format!(
                "the likely readings lie {} steps of {} apart, too many for a card (at most {MOST_READINGS}); give the gauge \
                 the step that it shows",
                last - first,
                length(step)
            )));
        }
        let mut lines: Vec<ReadingAdvice> = Vec::new();
        let mut at = first;
        while at <= last {
            let line = self.advice_at(length(at * step))?;
            match lines.last_mut() {
                Some(before) if before.advice == line.advice => {
                    before.to = line.to;
                    before.inside = before.inside.min(line.inside);
                }
                _ => lines.push(line),
            }
            at += 1.0;
        }
        Ok(lines)
    }

    fn advice_at(&self, reading: Length) -> Result<ReadingAdvice, Error> {
        let seen = self.readings(&[reading])?;
        let [rules, _] = self.rules_for(focus(&seen, 8.0 * self.noise_sd))?;
        let beliefs = self.believe(&seen, &rules)?;
        let left = self.if_left(&beliefs.both).inside;
        let (x, moved) = self.best_move(&beliefs);
        let advice = Advice::better(left, moved, x);
        Ok(ReadingAdvice {
            from: reading,
            to: reading,
            advice,
            inside: left.max(moved),
        })
    }
}
