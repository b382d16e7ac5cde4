//! The working of an outcome, written out as on a board.

use crate::{BudgetLine, Decline, Outcome, RootSumOfSquares, RootSumOfSquaresAnswer};
use kerfwise_source::{Dimension, Quantity};
use std::f64::consts::PI;

/// Sentences are broken before this many characters.
const LONGEST_LINE: usize = 72;

impl Outcome<'_> {
    /// The working, line by line: the algebra, the value at the estimates, sensitivity times standard uncertainty of
    /// each source, their squares, the sum and its root (JCGM 100, 5.1.2); for a plain sum the worst case; with a band
    /// the chance that it fits. Results have two significant digits of the uncertainty, the working one more. Where the
    /// law of propagation declines, its reasons stand instead.
    ///
    /// ```
    /// use kerfwise_source::{LengthUnits, Source};
    /// use kerfwise_stack::{Band, Expr, Stack};
    ///
    /// let travel = Source::new("travel", 0.5.inch()).normal(1.2.thou()).limits_at_sd(2.0).build()?;
    /// let kerf = Source::new("kerf", 0.125.inch()).normal(0.5.thou()).limits_at_sd(2.0).build()?;
    /// let tenon = Expr::source(&travel) - Expr::source(&kerf);
    /// let stack = Stack::builder()
    ///     .outcome("tenon", &tenon, Band::between(0.3724.inch(), 0.3776.inch())?)
    ///     .build()?;
    /// assert_eq!(
    ///     stack.outcome("tenon").unwrap().explain(),
    ///     "\
    /// tenon = travel - kerf
    ///
    /// At the estimates
    ///   travel  0.5000 in
    ///   kerf    0.12500 in
    ///   tenon   0.3750 in
    ///
    /// Sensitivity times standard uncertainty, squared
    ///   travel   1 x 1.20 thou  =  1.20 thou   1.44
    ///   kerf    -1 x 0.500 thou = -0.500 thou  0.250
    ///   the squares add up to 1.69 thou²
    ///   the root of that is u = 1.3 thou
    ///
    /// Worst case: sensitivity times half the limits, added
    ///   travel   1 x 2.40 thou = 2.40 thou
    ///   kerf    -1 x 1.00 thou = 1.00 thou
    ///   together 3.4 thou either side of 0.3750 in
    ///   so from 0.3716 in to 0.3784 in
    ///
    /// Chance of the band, 0.3724 in to 0.3776 in
    ///   the outcome is taken as normal
    ///   lower limit: (0.3724 in - 0.3750 in) / u = -2.00
    ///   upper limit: (0.3776 in - 0.3750 in) / u = 2.00
    ///   below 2.3 %, inside 95.4 %, above 2.3 %
    /// "
    /// );
    /// # Ok::<(), Box<dyn std::error::Error>>(())
    /// ```
    #[must_use]
    pub fn explain(&self) -> String {
        let mut board = format!("{} = {}\n", self.name(), self.expr());
        match self.root_sum_of_squares(RootSumOfSquares::new()) {
            Ok(answer) => {
                at_the_estimates(&mut board, *self, &answer);
                squares(&mut board, *self, &answer);
                worst_case(&mut board, *self);
                chance(&mut board, *self, &answer);
                doubts(&mut board, &answer);
            }
            Err(decline) => {
                declined(&mut board, &decline);
                worst_case(&mut board, *self);
            }
        }
        board
    }
}

fn section(board: &mut String, heading: &str) {
    board.push('\n');
    board.push_str(heading);
    board.push('\n');
}

fn line(board: &mut String, text: &str) {
    board.push_str("  ");
    board.push_str(text.trim_end());
    board.push('\n');
}

/// A sentence, broken between words.
fn sentence(board: &mut String, text: &str) {
    let mut left = String::new();
    for word in text.split_whitespace() {
        if !left.is_empty() && left.chars().count() + 1 + word.chars().count() > LONGEST_LINE {
            line(board, &left);
            left = "  ".to_owned();
        } else if !left.is_empty() {
            left.push(' ');
        }
        left.push_str(word);
    }
    line(board, &left);
}

fn declined(board: &mut String, decline: &Decline) {
    section(board, &format!("No {}, because", decline.propagation()));
    for reason in decline.reasons() {
        sentence(board, reason);
    }
}

fn doubts(board: &mut String, answer: &RootSumOfSquaresAnswer) {
    if !answer.doubts.is_empty() {
        section(board, "Reasons to doubt this");
        for doubt in &answer.doubts {
            sentence(board, doubt);
        }
    }
}

fn at_the_estimates(board: &mut String, outcome: Outcome<'_>, answer: &RootSumOfSquaresAnswer) {
    section(board, "At the estimates");
    let mut rows: Vec<[String; 2]> = answer
        .budget
        .iter()
        .map(|l| {
            [
                l.name.clone(),
                value(l.estimate, l.standard_uncertainty.raw()),
            ]
        })
        .collect();
    rows.push([
        outcome.name().to_owned(),
        value(answer.estimate, answer.standard_uncertainty.raw()),
    ]);
    table(board, &rows);
}

fn squares(board: &mut String, outcome: Outcome<'_>, answer: &RootSumOfSquaresAnswer) {
    section(board, "Sensitivity times standard uncertainty, squared");
    let unit = Unit::of_spread(outcome.dimension());
    let square = |x: f64| significant(x * unit.per_raw * (x * unit.per_raw), 3);
    let mut rows: Vec<[String; 4]> = answer
        .budget
        .iter()
        .map(|l| {
            [
                l.name.clone(),
                format!("{} x {}", sensitivity(l), spread(l.standard_uncertainty, 3)),
                spread(l.contribution, 3),
                square(l.contribution.raw()),
            ]
        })
        .collect();
    align_signs(&mut rows, 1);
    align_signs(&mut rows, 2);
    put_equals(&mut rows, 2);
    table(board, &rows);
    covariances(board, outcome, answer, &unit);
    let u = answer.standard_uncertainty;
    line(
        board,
        &format!(
            "the squares add up to {} {}",
            square(u.raw()),
            unit.squared()
        ),
    );
    line(board, &format!("the root of that is u = {}", spread(u, 2)));
}

/// Twice the product of each correlated pair.
fn covariances(
    board: &mut String,
    outcome: Outcome<'_>,
    answer: &RootSumOfSquaresAnswer,
    unit: &Unit,
) {
    let problem = &outcome.stack.problem;
    if problem.correlation.is_none() {
        return;
    }
    let index = |name: &str| problem.variables.iter().position(|v| v.name == name);
    for (k, b) in answer.budget.iter().enumerate() {
        for a in &answer.budget[..k] {
            let (Some(i), Some(j)) = (index(&a.name), index(&b.name)) else {
                continue;
            };
            let r = problem.correlation(i, j);
            if r.abs() > 0.0 {
                let of = |l: &BudgetLine| l.contribution.raw() * unit.per_raw;
                line(
                    board,
                    &format!(
                        "{} with {}: 2 x {} x {} x {} = {}",
                        a.name,
                        b.name,
                        shortest(r),
                        significant(of(a), 3),
                        significant(of(b), 3),
                        significant(2.0 * r * of(a) * of(b), 3)
                    ),
                );
            }
        }
    }
}

fn worst_case(board: &mut String, outcome: Outcome<'_>) {
    let problem = &outcome.stack.problem;
    let Ok(affine) = &problem.affine[outcome.index] else {
        section(board, "Worst case");
        sentence(
            board,
            "no plain sum, so its limits do not just add: ask for the worst case",
        );
        return;
    };
    let dimension = outcome.dimension();
    let (mut rows, mut middle, mut half) = (Vec::new(), affine.constant, 0.0);
    let mut without = Vec::new();
    for &(i, c) in &affine.terms {
        let variable = &problem.variables[i];
        let Some((from, to)) = variable.source.bounds() else {
            without.push(variable.name.as_str());
            continue;
        };
        let half_width = Quantity::new(0.5 * (to - from), variable.source.dimension());
        let part = Quantity::new(c.abs() * half_width.raw(), dimension);
        middle += c * (0.5 * from + 0.5 * to);
        half += part.raw();
        rows.push((
            part.raw(),
            [
                variable.name.clone(),
                format!(
                    "{} x {}",
                    coefficient(c, dimension, variable.source.dimension()),
                    spread(half_width, 3)
                ),
                spread(part, 3),
            ],
        ));
    }
    if !without.is_empty() {
        section(board, "Worst case");
        sentence(
            board,
            &format!("none, since without limits are {}", without.join(", ")),
        );
        return;
    }
    section(
        board,
        "Worst case: sensitivity times half the limits, added",
    );
    rows.sort_by(|a, b| b.0.total_cmp(&a.0));
    let mut rows: Vec<[String; 3]> = rows.into_iter().map(|(_, row)| row).collect();
    align_signs(&mut rows, 1);
    put_equals(&mut rows, 2);
    table(board, &rows);
    let show = |x: f64| value(Quantity::new(x, dimension), half);
    let together = spread(Quantity::new(half, dimension), 2);
    line(
        board,
        &format!("together {together} either side of {}", show(middle)),
    );
    line(
        board,
        &format!("so from {} to {}", show(middle - half), show(middle + half)),
    );
}

fn chance(board: &mut String, outcome: Outcome<'_>, answer: &RootSumOfSquaresAnswer) {
    let (Some(band), Some(chance)) = (outcome.band(), answer.chance) else {
        return;
    };
    let u = answer.standard_uncertainty.raw();
    let show = |x: Quantity| value(x, u);
    let limits = match (band.lower(), band.upper()) {
        (Some(a), Some(b)) => format!("{} to {}", show(a), show(b)),
        (Some(a), None) => format!("at least {}", show(a)),
        (None, Some(b)) => format!("at most {}", show(b)),
        (None, None) => return,
    };
    section(board, &format!("Chance of the band, {limits}"));
    if u > 0.0 {
        if let Some(shape) = answer.assumptions.first() {
            sentence(board, shape);
        }
        for (name, limit) in [("lower", band.lower()), ("upper", band.upper())] {
            if let Some(limit) = limit {
                let z = (limit.raw() - answer.estimate.raw()) / u;
                let (limit, estimate) = (show(limit), in_brackets(&show(answer.estimate)));
                line(
                    board,
                    &format!("{name} limit: ({limit} - {estimate}) / u = {}", fixed(z, 2)),
                );
            }
        }
    }
    let parts = [
        band.lower().map(|_| ("below", chance.below)),
        Some(("inside", chance.inside)),
        band.upper().map(|_| ("above", chance.above)),
    ];
    let parts: Vec<(&str, f64)> = parts.into_iter().flatten().collect();
    line(board, &percentages(&parts));
}

fn in_brackets(text: &str) -> String {
    if text.starts_with('-') {
        format!("({text})")
    } else {
        text.to_owned()
    }
}

/// With so many decimals that the least of them shows two digits, unless it is next to nothing.
fn percentages(parts: &[(&str, f64)]) -> String {
    let least = parts
        .iter()
        .map(|&(_, p)| p)
        .filter(|&p| p > 1e-8)
        .fold(1.0, f64::min);
    let digits = decimals(100.0 * least, 2).clamp(1, 8);
    let said: Vec<String> = parts
        .iter()
        .map(|(name, p)| format!("{name} {} %", fixed(100.0 * p, digits)))
        .collect();
    said.join(", ")
}

/// A unit in which people write.
struct Unit {
    name: String,
    per_raw: f64,
}

impl Unit {
    /// For small differences: lengths in thou.
    fn of_spread(dimension: Dimension) -> Self {
        match dimension {
            Dimension::LENGTH => Self::new("thou", 1000.0),
            Dimension::ANGLE => Self::new("deg", 180.0 / PI),
            other => Self::new(&other.raw_unit(), 1.0),
        }
    }

    /// For values: lengths in inches.
    fn of_value(dimension: Dimension) -> Self {
        match dimension {
            Dimension::LENGTH => Self::new("in", 1.0),
            other => Self::of_spread(other),
        }
    }

    fn new(name: &str, per_raw: f64) -> Self {
        Self {
            name: name.to_owned(),
            per_raw,
        }
    }

    fn after(&self, number: &str) -> String {
        format!("{number} {}", self.name).trim_end().to_owned()
    }

    fn squared(&self) -> String {
        match self.name.as_str() {
            "" => String::new(),
            "thou" | "deg" => format!("{}²", self.name),
            other => format!("({other})²"),
        }
    }
}

/// A value with the decimals that two digits of its uncertainty have.
fn value(x: Quantity, uncertainty: f64) -> String {
    let unit = Unit::of_value(x.dimension());
    let shown = x.raw() * unit.per_raw;
    unit.after(&if uncertainty > 0.0 {
        fixed(shown, decimals(uncertainty * unit.per_raw, 2))
    } else {
        shortest(shown)
    })
}

/// A small difference with so many significant digits.
fn spread(x: Quantity, digits: usize) -> String {
    let unit = Unit::of_spread(x.dimension());
    unit.after(&significant(x.raw() * unit.per_raw, digits))
}

fn sensitivity(line: &BudgetLine) -> String {
    coefficient(
        line.sensitivity.raw(),
        line.contribution.dimension(),
        line.standard_uncertainty.dimension(),
    )
}

/// A coefficient in the units in which differences of outcome and source are written.
fn coefficient(c: f64, outcome: Dimension, source: Dimension) -> String {
    let (above, below) = (Unit::of_spread(outcome), Unit::of_spread(source));
    let number = shortest(c / below.per_raw * above.per_raw);
    if outcome == source {
        number
    } else if below.name.is_empty() {
        above.after(&number)
    } else {
        let above = if above.name.is_empty() {
            "1"
        } else {
            &above.name
        };
        format!("{number} {above}/{}", below.name)
    }
}

/// Decimals that show so many significant digits.
fn decimals(x: f64, digits: usize) -> usize {
    // The exponent after rounding: 0.0996 has two digits as 0.10, so its exponent is -1.
    let text = format!("{:.*e}", digits.saturating_sub(1), x.abs());
    let exponent: i64 = text
        .split_once('e')
        .and_then(|(_, exponent)| exponent.parse().ok())
        .unwrap_or(0);
    let wanted = digits as i64 - 1 - exponent;
    usize::try_from(wanted.clamp(0, 12)).unwrap_or(0)
}

fn significant(x: f64, digits: usize) -> String {
    if x.abs() > 0.0 && !(1e-9..1e9).contains(&x.abs()) {
        return format!("{:.*e}", digits.saturating_sub(1), x);
    }
    if x.abs() > 0.0 {
        fixed(x, decimals(x, digits))
    } else {
        "0".to_owned()
    }
}

/// Up to six significant digits, without zeros at the end.
fn shortest(x: f64) -> String {
    let text = significant(x, 6);
    if text.contains('.') && !text.contains('e') {
        text.trim_end_matches('0').trim_end_matches('.').to_owned()
    } else {
        text
    }
}

/// With so many decimals, and no minus before a zero.
fn fixed(x: f64, decimals: usize) -> String {
    let text = format!("{x:.decimals$}");
    match text.strip_prefix('-') {
        Some(zero) if zero.chars().all(|c| c == '0' || c == '.') => zero.to_owned(),
        _ => text,
    }
}

/// Room for a minus in all texts of a column, where any of them has one.
fn align_signs<const N: usize>(rows: &mut [[String; N]], column: usize) {
    if rows.iter().any(|row| row[column].starts_with('-')) {
        for row in rows {
            if !row[column].starts_with('-') {
                row[column].insert(0, ' ');
            }
        }
    }
}

fn put_equals<const N: usize>(rows: &mut [[String; N]], column: usize) {
    for row in rows {
        row[column].insert_str(0, "= ");
    }
}

fn table<const N: usize>(board: &mut String, rows: &[[String; N]]) {
    let mut widths = [0; N];
    for row in rows {
        for (width, cell) in widths.iter_mut().zip(row) {
            *width = (*width).max(cell.chars().count());
        }
    }
    for row in rows {
        let mut text = String::new();
        for (cell, width) in row.iter().zip(widths) {
            let gap = if cell.starts_with("= ") { 1 } else { 2 };
            if !text.is_empty() {
                // Between columns two blanks, one before an equals sign.
                text.push_str(&" ".repeat(gap));
            }
            text.push_str(&format!("{cell:<width$}"));
        }
        line(board, &text);
    }
}

#[cfg(test)]
mod tests {
    use super::{fixed, shortest, significant};
    use crate::{Band, Expr, Stack, StackBuilder};
    use kerfwise_source::{AngleUnits, Distribution, LengthUnits, Source};

    fn explained(builder: StackBuilder) -> String {
        let stack = builder.build().unwrap();
        stack.outcomes().map(|outcome| outcome.explain()).collect()
    }

    #[test]
    fn a_curved_outcome_with_correlated_sources_and_one_limit() {
        let seat = Source::new("seat", 0.inch())
            .rectangular(0.6.thou())
            .build()
            .unwrap();
        let depth = Source::new("depth", 1.5.inch())
            .rectangular(10.thou())
            .build()
            .unwrap();
        let tilt = Source::new("tilt", 0.2.degrees())
            .normal(0.05.degrees())
            .build()
            .unwrap();
        let sources = [seat.clone(), depth.clone(), tilt];
        let step = Expr::parse("2 * seat + depth * sin(tilt)", &sources).unwrap();
        let text = explained(
            Stack::builder()
                .outcome("step", &step, Band::at_most(8.thou()).unwrap())
                .correlated(&seat, &depth, 0.25),
        );
        // Followed with a calculator: 1500 thou x cos 0.2° x pi/180 = 26.18 thou per degree, and so on.
        assert_eq!(
            text,
            "\
step = 2 * seat + depth * sin(tilt)

At the estimates
  tilt   0.200 deg
  seat   0.00000 in
  depth  1.5000 in
  step   0.0052 in

Sensitivity times standard uncertainty, squared
  tilt   26.1798 thou/deg x 0.0500 deg = 1.31 thou    1.71
  seat   2 x 0.346 thou                = 0.693 thou   0.480
  depth  0.00349065 x 5.77 thou        = 0.0202 thou  0.000406
  seat with depth: 2 x 0.25 x 0.693 x 0.0202 = 0.00698
  the squares add up to 2.20 thou²
  the root of that is u = 1.5 thou

Worst case
  no plain sum, so its limits do not just add: ask for the worst case

Chance of the band, at most 0.0080 in
  the outcome is taken as normal
  upper limit: (0.0080 in - 0.0052 in) / u = 1.86
  inside 96.9 %, above 3.1 %
"
        );
    }

    #[test]
    fn few_readings_and_a_negative_limit() {
        let t = Source::new("t", 1.0).student_t(0.1, 3.0).build().unwrap();
        let half = 0.5 * Expr::source(&t);
        let text = explained(Stack::builder().outcome("a", &half, Band::at_least(-0.3).unwrap()));
        for expected in [
            "  t  0.5 x 0.100 = 0.0500  0.00250\n",
            "Worst case\n  none, since without limits are t\n",
            "  lower limit: (-0.300 - 0.500) / u = -16.00\n",
            "Reasons to doubt this\n  source \"t\" makes 100 % of the variance",
        ] {
            assert!(text.contains(expected), "{expected}\nis not in\n{text}");
        }
    }

    #[test]
    fn nothing_uncertain_and_nothing_known() {
        let k = Source::new("k", 1.0).build().unwrap();
        let text = explained(Stack::builder().outcome(
            "d",
            &(Expr::source(&k) + 2.0),
            Band::at_least(3.5).unwrap(),
        ));
        assert!(text.contains("the root of that is u = 0\n"), "{text}");
        assert!(
            text.contains("Chance of the band, at least 3.5\n  below 100.0 %, inside 0.0 %\n"),
            "{text}"
        );

        let cauchy = Distribution::student_t(0.0, 1.0, 1.0).unwrap();
        let odd = Distribution::mixture(vec![
            (0.5, cauchy),
            (0.5, Distribution::normal(0.0, 1.0).unwrap()),
        ])
        .unwrap();
        let c = Source::new("c", 1.0).error(odd).build().unwrap();
        let text = explained(Stack::builder().outcome_without_band("e", &Expr::source(&c)));
        assert_eq!(
            text,
            "e = c\n\nNo root sum of squares, because\n  source \"c\" has no mean: its error is mixture\n\n\
             Worst case\n  none, since without limits are c\n"
        );
    }

    #[test]
    fn numbers_are_written_as_by_hand() {
        assert_eq!(significant(0.0996, 2), "0.10");
        assert_eq!(significant(1234.0, 2), "1234");
        assert_eq!(significant(-1.2e-11, 2), "-1.2e-11");
        assert_eq!(significant(0.0, 3), "0");
        assert_eq!(shortest(0.5), "0.5");
        assert_eq!(shortest(-1.0), "-1");
        assert_eq!(fixed(-0.0004, 2), "0.00");
    }
}
