//! Where the ticks of an axis stand and what is written at them.

use super::picture::{Anchor, Picture, SMALL};

/// As many as leave room between labels of six characters.
const TICKS: f64 = 7.0;

/// Numbers along a line, from `low` at the pixel `from` to `high` at the pixel `to`.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Axis {
    low: f64,
    high: f64,
    from: f64,
    to: f64,
}

impl Axis {
    /// An axis from `low` to `high`; around one number, where there is no more.
    pub(crate) fn new(low: f64, high: f64, from: f64, to: f64) -> Self {
        let is_point = high - low <= 1e-9 * low.abs().max(high.abs());
        let (low, high) = if is_point {
            (low - 0.5, high + 0.5)
        } else {
            (low, high)
        };
        Self {
            low,
            high,
            from,
            to,
        }
    }

    pub(crate) fn at(&self, x: f64) -> f64 {
        let share = ((x - self.low) / (self.high - self.low)).clamp(0.0, 1.0);
        self.from + share * (self.to - self.from)
    }

    /// Round numbers on the axis, some `wanted` of them.
    pub(crate) fn ticks(&self, wanted: f64) -> Vec<(f64, String)> {
        let (step, decimals) = step((self.high - self.low) / wanted);
        let slack = step * 1e-6;
        let (first, last) = (
            ((self.low - slack) / step).ceil() as i64,
            ((self.high + slack) / step).floor() as i64,
        );
        (first..=last)
            .map(|k| {
                let x = k as f64 * step;
                (x, format!("{x:.decimals$}").replace('-', "−"))
            })
            .collect()
    }

    /// The line at the height `y` with ticks and numbers below it, and `title` in the middle below them.
    pub(crate) fn draw_below(&self, picture: &mut Picture, y: f64, title: &str) {
        picture.line((self.from, y), (self.to, y), 1.0);
        for (x, label) in self.ticks(TICKS) {
            let at = self.at(x);
            picture.line((at, y), (at, y + 5.0), 1.0);
            picture.text((at, y + 19.0), Anchor::Middle, SMALL, &label);
        }
        let middle = f64::midpoint(self.from, self.to);
        picture.text((middle, y + 40.0), Anchor::Middle, SMALL, title);
    }

    /// The line at `x` with some `wanted` ticks and what `label` makes of their numbers to the left of it.
    pub(crate) fn draw_left(
        &self,
        picture: &mut Picture,
        x: f64,
        wanted: f64,
        label: impl Fn(&str) -> String,
    ) {
        picture.line((x, self.from), (x, self.to), 1.0);
        for (value, number) in self.ticks(wanted) {
            let at = self.at(value);
            picture.line((x - 5.0, at), (x, at), 1.0);
            picture.text((x - 9.0, at + 4.5), Anchor::End, SMALL, &label(&number));
        }
    }
}

/// 1, 2 or 5 times a power of ten, at least `least`; and the decimals that it needs.
fn step(least: f64) -> (f64, usize) {
    let mut power = 1.0;
    let mut exponent = 0_i32;
    while power < least && exponent < 12 {
        power *= 10.0;
        exponent += 1;
    }
    while power > least && exponent > -12 {
        power /= 10.0;
        exponent -= 1;
    }
    let decimals = |exponent: i32| usize::try_from(-exponent).unwrap_or(0);
    for factor in [1.0, 2.0, 5.0] {
        if power * factor >= least {
            return (power * factor, decimals(exponent));
        }
    }
    (power * 10.0, decimals(exponent + 1))
}

#[cfg(test)]
mod tests {
    use super::*;

    fn labels(low: f64, high: f64) -> Vec<String> {
        let axis = Axis::new(low, high, 0.0, 100.0);
        axis.ticks(TICKS).into_iter().map(|(_, l)| l).collect()
    }

    #[test]
    fn ticks_are_round_numbers_with_the_decimals_that_they_need() {
        assert_eq!(labels(-7.0, 7.0), ["−6", "−4", "−2", "0", "2", "4", "6"]);
        assert_eq!(labels(0.4905, 0.5105).first().unwrap(), "0.495");
        assert_eq!(labels(0.0, 70.0)[1], "10");
        assert_eq!(labels(-0.3, 0.3)[0], "−0.3");
        assert_eq!(labels(3.0, 3.0), ["2.6", "2.8", "3.0", "3.2", "3.4"]);
    }
}
