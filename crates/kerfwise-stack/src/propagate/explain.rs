//! The working of an outcome, written out as on a board.

use super::number::{decimals, fixed, shortest, significant};
use crate::{
    BudgetLine, Decline, Extreme, Outcome, RootSumOfSquares, RootSumOfSquaresAnswer, WorstCase,
};
use kerfwise_source::{Dimension, Quantity};
use std::f64::consts::PI;

/// Sentences are broken before this many characters.
const LONGEST_LINE: usize = 72;
/// Digits of a coefficient, and of a limit that somebody wrote.
const COEFFICIENT_DIGITS: usize = 6;
const LIMIT_DIGITS: usize = 9;
/// Boxes that the search for a worst case may split; enough for a few sources, and done in a blink.
const BOXES: usize = 2_000;

impl Outcome<'_> {
    /// The working, line by line: the algebra, the value at the estimates, sensitivity times standard uncertainty of
    /// each source, their squares, the sum and its root (JCGM 100, 5.1.2, with correlations 5.2.2); the worst case; with a
    /// band the chance that it fits; what was assumed, and reasons to doubt it. Values have two significant digits of
    /// their uncertainty, the working one more, limits all of theirs. Where the law of propagation declines, its reasons
    /// stand instead.
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
    ///   the root of that is u = 1.30 thou
    ///
    /// Worst case: sensitivity times half the limits, added
    ///   travel   1 x 2.40 thou = 2.40 thou
    ///   kerf    -1 x 1.00 thou = 1.00 thou
    ///   together 3.4 thou either side of 0.3750 in
    ///   so from 0.3716 in to 0.3784 in
    ///
    /// Chance of the band, 0.3724 in to 0.3776 in
    ///   the outcome is taken as normal
    ///   lower limit: (0.3724 in - 0.37500 in) / u = -2.00
    ///   upper limit: (0.3776 in - 0.37500 in) / u = 2.00
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
                // The first, the shape, stands with the chance.
                listed(
                    &mut board,
                    "Assumed",
                    answer.assumptions.get(1..).unwrap_or(&[]),
                );
                listed(&mut board, "Reasons to doubt this", &answer.doubts);
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
    let heading = format!("No {}, because", decline.propagation());
    listed(board, &heading, decline.reasons());
}

fn listed(board: &mut String, heading: &str, sentences: &[String]) {
    if !sentences.is_empty() {
        section(board, heading);
        for text in sentences {
            sentence(board, text);
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
    if !outcome.is_affine() {
        sentence(
            board,
            "(a sensitivity is the slope of the outcome at the estimates)",
        );
    }
    let unit = Unit::of_spread(outcome.dimension());
    let square = |x: f64| significant(x * unit.per_raw * (x * unit.per_raw), 3);
    let row = |l: &BudgetLine| {
        [
            l.name.clone(),
            format!("{} x {}", sensitivity(l), spread(l.standard_uncertainty, 3)),
            spread(l.contribution, 3),
            square(l.contribution.raw()),
        ]
    };
    let mut rows: Vec<[String; 4]> = answer.budget.iter().map(row).collect();
    align_signs(&mut rows, 1);
    align_signs(&mut rows, 2);
    put_equals(&mut rows, 2);
    table(board, &rows);
    let products = covariances(outcome, answer, &unit);
    for product in &products {
        line(board, product);
    }
    let what = if products.is_empty() {
        "the squares add up to"
    } else {
        "squares and products add up to"
    };
    let u = answer.standard_uncertainty;
    line(
        board,
        &format!("{what} {} {}", square(u.raw()), unit.squared()),
    );
    line(board, &format!("the root of that is u = {}", spread(u, 3)));
}

/// Twice the product of each correlated pair.
fn covariances(outcome: Outcome<'_>, answer: &RootSumOfSquaresAnswer, unit: &Unit) -> Vec<String> {
    let problem = &outcome.stack.problem;
    let named = |i: usize| {
        let name = &problem.variables[i].name;
        answer.budget.iter().find(|line| line.name == *name)
    };
    let part = |l: &BudgetLine| l.contribution.raw() * unit.per_raw;
    let mut products = Vec::new();
    for group in problem.correlated_groups() {
        let lines: Vec<(usize, &BudgetLine)> = group
            .into_iter()
            .filter_map(|i| Some((i, named(i)?)))
            .collect();
        for (k, &(j, b)) in lines.iter().enumerate() {
            for &(i, a) in &lines[..k] {
                let r = problem.correlation(i, j);
                if r.abs() > 0.0 {
                    products.push(format!(
                        "{} with {}: 2 x {} x {} x {} = {}",
                        a.name,
                        b.name,
                        in_brackets(&shortest(r, COEFFICIENT_DIGITS)),
                        in_brackets(&significant(part(a), 3)),
                        in_brackets(&significant(part(b), 3)),
                        significant(2.0 * r * part(a) * part(b), 3)
                    ));
                }
            }
        }
    }
    products
}

fn worst_case(board: &mut String, outcome: Outcome<'_>) {
    let problem = &outcome.stack.problem;
    let Ok(affine) = &problem.affine[outcome.index] else {
        return searched_worst_case(board, outcome);
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
        let c = coefficient(c, dimension, variable.source.dimension());
        let row = [
            variable.name.clone(),
            format!("{c} x {}", spread(half_width, 3)),
            spread(part, 3),
        ];
        rows.push((part.raw(), row));
    }
    if let [first, others @ ..] = &without[..] {
        section(board, "Worst case");
        let have = if others.is_empty() { "has" } else { "have" };
        return sentence(
            board,
            &format!("none: {} {have} no limits", and(first, others)),
        );
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

/// Of an outcome that is no plain sum.
fn searched_worst_case(board: &mut String, outcome: Outcome<'_>) {
    section(board, "Worst case");
    let range = match outcome.worst_case(WorstCase::new().boxes(BOXES)) {
        Ok(range) => range,
        Err(decline) => {
            for reason in decline.reasons() {
                sentence(board, &format!("none: {reason}"));
            }
            return;
        }
    };
    sentence(
        board,
        "no plain sum, so its limits do not just add: searched over all values within them",
    );
    let width = range.upper.bound.raw() - range.lower.bound.raw();
    for (name, end) in [("least", &range.lower), ("greatest", &range.upper)] {
        sentence(
            board,
            &format!("{name} {}, at {}", value(end.attained, width), place(end)),
        );
    }
    if !range.is_tight {
        let (lower, upper) = (range.lower.bound, range.upper.bound);
        let (lower, upper) = (value(lower, width), value(upper, width));
        sentence(
            board,
            &format!(
                "the search was ended early: it may go on, but never beyond {lower} and {upper}"
            ),
        );
    }
}

/// "depth = 1.49 in, tilt = 0.5 deg".
fn place(end: &Extreme) -> String {
    let show = |x: &Quantity| {
        let unit = Unit::of_value(x.dimension());
        unit.after(&shortest(x.raw() * unit.per_raw, COEFFICIENT_DIGITS))
    };
    let places: Vec<String> = end
        .at
        .iter()
        .map(|(name, x)| format!("{name} = {}", show(x)))
        .collect();
    places.join(", ")
}

/// "a", "a and b", "a, b and c".
fn and(first: &str, others: &[&str]) -> String {
    match others {
        [] => first.to_owned(),
        [middle @ .., last] => {
            let mut names = vec![first];
            names.extend(middle);
            format!("{} and {last}", names.join(", "))
        }
    }
}

fn chance(board: &mut String, outcome: Outcome<'_>, answer: &RootSumOfSquaresAnswer) {
    let (Some(band), Some(chance)) = (outcome.band(), answer.chance) else {
        return;
    };
    let u = answer.standard_uncertainty.raw();
    let unit = Unit::of_value(outcome.dimension());
    let show = |x: Quantity| unit.after(&shortest(x.raw() * unit.per_raw, LIMIT_DIGITS));
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
        let estimate = in_brackets(&with_digits(answer.estimate, u, 3));
        for (name, limit) in [("lower", band.lower()), ("upper", band.upper())] {
            if let Some(limit) = limit {
                let z = (limit.raw() - answer.estimate.raw()) / u;
                let (limit, z) = (show(limit), fixed(z, 2));
                line(
                    board,
                    &format!("{name} limit: ({limit} - {estimate}) / u = {z}"),
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
    with_digits(x, uncertainty, 2)
}

fn with_digits(x: Quantity, uncertainty: f64, digits: usize) -> String {
    let unit = Unit::of_value(x.dimension());
    let shown = x.raw() * unit.per_raw;
    unit.after(&if uncertainty > 0.0 {
        fixed(shown, decimals(uncertainty * unit.per_raw, digits))
    } else {
        shortest(shown, LIMIT_DIGITS)
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
    let number = shortest(c / below.per_raw * above.per_raw, COEFFICIENT_DIGITS);
    if outcome == source {
        return number;
    }
    let unit = match (above.name.as_str(), below.name.as_str()) {
        (above, "") => above.to_owned(),
        // Per something below the line is times that something.
        ("", below) if below.starts_with('/') => below[1..].replace('/', "·"),
        (above, below) if below.starts_with('/') => {
            format!("{above}·{}", below[1..].replace('/', "·"))
        }
        ("", below) => format!("1/{}", in_one(below)),
        (above, below) => format!("{above}/{}", in_one(below)),
    };
    format!("{number} {unit}").trim_end().to_owned()
}

/// A product of units in brackets, as a divisor needs it.
fn in_one(unit: &str) -> String {
    if unit.contains(['/', '·']) {
        format!("({unit})")
    } else {
        unit.to_owned()
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
  (a sensitivity is the slope of the outcome at the estimates)
  tilt   26.1798 thou/deg x 0.0500 deg = 1.31 thou    1.71
  seat   2 x 0.346 thou                = 0.693 thou   0.480
  depth  0.00349065 x 5.77 thou        = 0.0202 thou  0.000406
  depth with seat: 2 x 0.25 x 0.0202 x 0.693 = 0.00698
  squares and products add up to 2.20 thou²
  the root of that is u = 1.48 thou

Worst case
  none: source \"tilt\" has no limits: state limits, or say how many
    standard deviations to take for sources without

Chance of the band, at most 0.008 in
  the outcome is taken as normal
  upper limit: (0.008 in - 0.00524 in) / u = 1.86
  inside 96.9 %, above 3.1 %

Assumed
  the outcome is taken as straight in its sources about their estimates
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
            "Worst case\n  none: t has no limits\n",
            "  lower limit: (-0.3 - 0.5000) / u = -16.00\n",
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
             Worst case\n  none: c has no limits\n"
        );
    }

    #[test]
    fn a_search_takes_the_place_of_a_sum_that_there_is_not() {
        let depth = Source::new("depth", 1.5.inch())
            .rectangular(10.thou())
            .build()
            .unwrap();
        let tilt = Source::new("tilt", 0.degrees())
            .rectangular(1.degrees())
            .build()
            .unwrap();
        let lean = Expr::parse("depth * (1 - cos(tilt))", &[depth, tilt]).unwrap();
        let band = Band::at_most(0.1.thou()).unwrap();
        let text = explained(Stack::builder().outcome("lean", &lean, band));
        // 1.51 in x (1 - cos 1°) = 0.000 229 98 in.
        for expected in [
            "  least 0.00000 in, at depth = 1.49 in, tilt = 0 deg\n",
            "  greatest 0.00023 in, at depth = 1.51 in, tilt = ",
            "the first order sees no spread at the estimates",
        ] {
            assert!(text.contains(expected), "{expected}\nis not in\n{text}");
        }
        // No chance is told of a spread that the slopes do not see.
        assert!(!text.contains("Chance of the band"), "{text}");
    }

    #[test]
    fn products_of_units_are_written_as_one_multiplies_them() {
        let quantity = |text: &str| text.parse::<kerfwise_source::Quantity>().unwrap();
        let swelling = Source::new("swelling", quantity("0.002 /%MC"))
            .normal(quantity("0.0001 /%MC"))
            .build()
            .unwrap();
        let sources = [
            swelling,
            Source::new("change", quantity("2 %MC"))
                .normal(quantity("1 %MC"))
                .build()
                .unwrap(),
            Source::new("width", 12.inch()).build().unwrap(),
        ];
        let growth = Expr::parse("width * swelling * change", &sources).unwrap();
        let text = explained(Stack::builder().outcome_without_band("growth", &growth));
        // 12 in x 2 %MC = 24,000 thou·%MC, and 12 in x 0.002 /%MC = 24 thou/%MC.
        assert!(
            text.contains("swelling  24000 thou·%MC x 0.000100 /%MC = 2.40 thou"),
            "{text}"
        );
        assert!(text.contains("change    24 thou/%MC x 1.00 %MC"), "{text}");
    }

    #[test]
    fn limits_are_written_in_full_and_names_as_in_a_sentence() {
        let named = |name| {
            Source::new(name, 0.inch())
                .normal(20.thou())
                .build()
                .unwrap()
        };
        let [a, b, c] = ["a", "b", "c"].map(named);
        let sum = Expr::source(&a) + &b + &c;
        let text =
            explained(Stack::builder().outcome("gap", &sum, Band::within(0.0625.inch()).unwrap()));
        assert!(
            text.contains("Chance of the band, -0.0625 in to 0.0625 in"),
            "{text}"
        );
        assert!(
            text.contains("upper limit: (0.0625 in - 0.0000 in) / u = 1.80"),
            "{text}"
        );
        assert!(
            text.contains("  none: a, b and c have no limits\n"),
            "{text}"
        );
        let correlated = explained(
            Stack::builder()
                .outcome_without_band("gap", &(sum - 2.0 * Expr::source(&b)))
                .correlated(&a, &b, -0.5),
        );
        assert!(
            correlated.contains("  a with b: 2 x (-0.5) x 20.0 x (-20.0) = 400\n"),
            "{correlated}"
        );
    }
}
