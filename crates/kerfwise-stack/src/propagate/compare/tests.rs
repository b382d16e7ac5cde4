use super::*;
use crate::{Expr, Stack};
use kerfwise_source::{LengthUnits, Source, SourceBuilder};

fn built(source: SourceBuilder) -> Expr {
    Expr::source(&source.build().expect("a valid source"))
}

fn compared(expr: &Expr, half_width_in_thou: f64) -> (OutcomeSideBySide, String) {
    let band = Band::within(half_width_in_thou.thou()).expect("a valid band");
    let stack = Stack::builder()
        .outcome("fit", expr, band)
        .build()
        .expect("a valid stack");
    let mut sides = stack.side_by_side(MonteCarlo::new());
    let outcome = sides.outcomes.swap_remove(0);
    let text = outcome.differences.join("\n");
    (outcome, text)
}

#[test]
fn numbers_are_shown_as_people_write_them() {
    assert_eq!(shown(0.01234.inch().into(), 0.0017), "0.0123 in");
    assert_eq!(shown(0.01234.inch().into(), 12.0), "0 in");
    assert_eq!(shown(0.375.inch().into(), 0.0), "0.375 in");
    assert_eq!(percent(0.996_73), "99.67 %");
    assert_eq!(percent(0.5), "50.0 %");
    assert_eq!(percent(1.0), "100.0 %");
    assert_eq!(grouped(200_000), "200,000");
    assert_eq!(grouped(1_234), "1,234");
    assert_eq!(grouped(7), "7");
}

#[test]
fn many_bounded_errors_never_meet_at_their_limits() {
    let names = ["a", "b", "c", "d", "e", "f", "g", "h"];
    let sum = names.map(|name| built(Source::new(name, 0.inch()).rectangular(1.thou())));
    let sum = sum
        .into_iter()
        .reduce(|sum, term| sum + term)
        .expect("eight terms");
    let (sides, text) = compared(&sum, 5.0);
    // ±8 thou by hand; the exact chance of ±5 by trials of the sum: about 0.2 % are outside.
    assert!(
        text.contains("worst case goes from -0.0080 in to 0.0080 in: all errors at their limits at once, which 200,000 trials never saw"),
        "{text}"
    );
    assert!(
        text.contains("worst case says that the band can be missed"),
        "{text}"
    );
    assert!(text.contains("Monte Carlo agrees with exact"), "{text}");
    assert!(
        !text.contains("declines") && !text.contains("DISAGREE"),
        "{text}"
    );
    assert!(sides.exact.is_ok());
}

#[test]
fn a_rectangle_is_not_normal() {
    // One rectangle of ±6 thou, band ±5: 5/6 exactly; as a normal of sd 6/√3 thou, Φ(±5√3/6) = 85.11 %.
    let (_, text) = compared(
        &built(Source::new("seat", 0.inch()).rectangular(6.thou())),
        5.0,
    );
    assert!(
        text.contains(
            "root sum of squares assumes a normal outcome and finds a chance of 85.1 %; the exact chance is \
             83.3 %, 1.8 points lower: \"seat\" (rectangular, 100 % of the variance) has no tails"
        ),
        "{text}"
    );
    assert!(
        text.contains("the 95 % interval of root sum of squares is 19 % wider than the exact one"),
        "{text}"
    );
    assert!(
        text.contains("root sum of squares should be doubted"),
        "{text}"
    );
}

#[test]
fn a_disagreement_is_said_loudly_and_first() {
    let seat = built(Source::new("seat", 0.inch()).rectangular(6.thou()));
    let band = Band::within(5.thou()).expect("a valid band");
    let stack = Stack::builder()
        .outcome("fit", &seat, band)
        .build()
        .expect("a valid stack");
    let outcome = stack.outcome("fit").expect("its only outcome");
    let mut sides = stack.side_by_side(MonteCarlo::new());
    // No fault is at hand, so one is made: 5/6 with a standard error of 0.00083, moved by ten of them.
    if let Ok(answer) = &mut sides.monte_carlo {
        let chance = answer.outcomes[0].chance.as_mut().expect("it has a band");
        chance.inside = 5.0 / 6.0 + 0.0083;
    }
    let sentences =
        Comparison::new(outcome, 0.95, &sides.outcomes[0], &sides.monte_carlo).sentences();
    assert_eq!(
        sentences[0],
        "EXACT AND MONTE CARLO DISAGREE: the chance of the band differs by 10 standard errors of the trials, which \
         chance does not explain; trust neither"
    );
}

#[test]
fn the_best_propagation_that_answers_is_the_reference() {
    let saw = || built(Source::new("saw", 0.inch()).normal(2.thou()));
    let lever = |name: &str| built(Source::new(name, 1.0).rectangular(0.3));
    // Affine but for one factor: semi-exact answers, and nobody asks for points.
    let play = built(Source::new("play", 0.inch()).rectangular(3.thou()));
    let (sides, text) = compared(&(saw() + play * lever("a")), 5.0);
    assert_eq!(
        sides.distribution().map(Exact::propagation),
        Some(Propagation::SemiExact)
    );
    assert!(sides.quasi_monte_carlo.is_none());
    assert!(
        text.contains("exact declines: not affine in: a, play"),
        "{text}"
    );
    assert!(
        text.contains("Monte Carlo agrees with semi-exact"),
        "{text}"
    );
    // Three squares: points answer.
    let sum = || {
        let [a, b, c] = ["a", "b", "c"].map(|name| lever(name).square() * 1.thou());
        a + b + c
    };
    let (sides, text) = compared(&(saw() + sum()), 5.0);
    assert!(sides.distribution().is_none());
    let points = sides.quasi_monte_carlo.expect("asked").expect("answered");
    assert_eq!(points.integrated, ["saw"]);
    assert!(
        text.contains("semi-exact declines: with no two of"),
        "{text}"
    );
    assert!(
        text.contains("Monte Carlo agrees with quasi-Monte Carlo"),
        "{text}"
    );
    // Nothing to integrate out: trials alone.
    let (sides, text) = compared(&sum(), 5.0);
    assert!(sides.quasi_monte_carlo.expect("asked").is_err());
    assert!(
        text.contains("quasi-Monte Carlo declines: nothing smooth"),
        "{text}"
    );
}

#[test]
fn few_readings_are_counted_in_two_ways() {
    let t = built(
        Source::new("mortise", 0.inch())
            .student_t(1.thou(), 4.0)
            .limits_at_sd(3.0),
    );
    let (_, text) = compared(&t, 5.0);
    // √(4/2) = 1.414 thou.
    assert!(
        text.contains(
            "source \"mortise\" is a Student t: root sum of squares counts its scale 0.0010 in with 4 degrees of \
             freedom, the others its whole distribution, whose standard deviation is 0.0014 in"
        ),
        "{text}"
    );
    assert!(
        text.contains("Monte Carlo: source \"mortise\" (Student t) has no fourth moment"),
        "{text}"
    );
}

#[test]
fn the_reason_given_is_one_that_explains() {
    // Rectangles narrow the outcome, but it is wider than root sum of squares finds: for the Student t, that is.
    let mortise = built(Source::new("mortise", 0.inch()).student_t(1.thou(), 3.0));
    let seat = built(Source::new("seat", 0.inch()).rectangular(2.thou()));
    let (_, text) = compared(&(mortise + seat), 9.0);
    let width = text
        .lines()
        .find(|line| line.contains("interval of root sum of squares"));
    let chance = text
        .lines()
        .find(|line| line.contains("assumes a Student t outcome"));
    for line in [width, chance] {
        let line = line.unwrap_or_else(|| panic!("{text}"));
        assert!(
            line.contains("\"mortise\" (Student t, 43 % of the variance) has long tails"),
            "{line}"
        );
        assert!(!line.contains("seat"), "{line}");
    }
}

#[test]
fn degrees_of_freedom_that_only_one_way_counts_are_told() {
    let seat = built(
        Source::new("seat", 0.inch())
            .normal(1.thou())
            .degrees_of_freedom(4.0),
    );
    let (_, text) = compared(&seat, 3.0);
    assert!(
        text.contains(
            "the spread of source \"seat\" is known with 4 degrees of freedom: root sum of squares counts them, the \
             others take the normal error as it stands"
        ),
        "{text}"
    );
    // P(|t| ≤ 3) for 4 degrees of freedom is 96.0 %, P(|z| ≤ 3) 99.73 %.
    assert!(
        text.contains(
            "assumes a Student t outcome and finds a chance of 96.0 %; the exact chance is 99.73 %, 3.7 points \
             higher: \"seat\" (normal, 100 % of the variance) is counted with its degrees of freedom"
        ),
        "{text}"
    );
}

#[test]
fn a_curve_that_hardly_bends_is_not_the_first_cause() {
    // 12 in · (1 + c·m) with a wide triangle for m: the product is all but straight.
    let swelling = built(Source::new("c", 0.003).normal(1e-5));
    let moisture = built(Source::new("m", 0.0).triangular(0.5));
    let (_, text) = compared(&(swelling * moisture * 12.inch()), 14.0);
    let line = text
        .lines()
        .find(|line| line.contains("assumes a normal outcome"))
        .unwrap_or_else(|| panic!("{text}"));
    assert!(
        line.ends_with(": \"m\" (triangular, 100 % of the variance) has no tails"),
        "{line}"
    );
}

#[test]
fn what_the_slopes_do_not_see_is_told_once() {
    let tilt = Source::new("tilt", kerfwise_source::Angle::from_degrees(0.0))
        .normal(kerfwise_source::Angle::from_degrees(0.5));
    let lean = (1.0 - built(tilt).cos()) * 10.inch();
    let (_, text) = compared(&lean, 1.0);
    assert!(
        text.contains("should be doubted: the first order sees no spread at the estimates"),
        "{text}"
    );
    assert!(!text.contains("100 % narrower"), "{text}");
    assert!(!text.contains("assumes a normal outcome"), "{text}");
}

#[test]
fn a_kink_is_explained() {
    // |x| for x in N(0, 3 thou): mean 3·√(2/π) = 2.4 thou above the outcome at the estimate.
    let (_, text) = compared(
        &built(Source::new("x", 0.inch()).normal(3.thou())).abs(),
        5.0,
    );
    assert!(text.contains("exact declines"), "{text}");
    assert!(text.contains("worst case declines"), "{text}");
    assert!(text.contains("the stack is not a plain sum"), "{text}");
    assert!(
        text.contains("is 0.0024 in above the outcome at the estimates, 0.0000 in"),
        "{text}"
    );
    assert!(text.contains("kink"), "{text}");
}

#[test]
fn limits_that_errors_go_beyond_are_told() {
    let (_, text) = compared(
        &built(
            Source::new("x", 0.inch())
                .normal(1.thou())
                .limits_at_sd(2.0),
        ),
        9.0,
    );
    assert!(
        text.contains("errors go beyond the limits stated for them"),
        "{text}"
    );
    assert!(
        text.contains("even the worst case lies in the band"),
        "{text}"
    );
    assert!(
        !text.contains("root sum of squares"),
        "a normal outcome is what it assumes: {text}"
    );
}
