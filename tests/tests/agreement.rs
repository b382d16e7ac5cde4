//! All propagations of one stack agree where theory says that they must.

use kerfwise_numeric::stream::Stream;
use kerfwise_stack::{Band, Exact, MonteCarlo, RootSumOfSquares, Stack, WorstCase};
use kerfwise_tests::{Term, any_terms, sources, stack, sum};
use proptest::prelude::*;
use proptest::test_runner::TestCaseResult;

const TRIALS: u64 = 40_960;

/// A band that cuts something off on both sides, from the exact quantiles where there are any.
fn cut(terms: &[Term], low: f64, high: f64) -> (Stack, Option<Exact>) {
    let wide = stack(terms, -1e9, 1e9);
    let exact = wide.outcome("y").and_then(|y| y.exact().ok());
    let (lower, upper) = match &exact {
        Some(e) => (e.quantile(low).value.raw(), e.quantile(high).value.raw()),
        None => (-0.1, 0.1),
    };
    // A limit that falls on an atom takes it in, however either of the two rounds it: by the sizes of what is added, not by
    // that of the sum, which may be 0.
    let size = |t: &Term| t.coefficient.abs() * t.distribution.variance().map_or(0.0, f64::sqrt);
    let largest = terms.iter().map(size).fold(0.0, f64::max);
    let hair = 1e-12 * lower.abs().max(upper.abs()).max(largest);
    let band = (lower - hair, upper.max(lower) + hair);
    (stack(terms, band.0, band.1), exact)
}

/// Monte Carlo lies within `SIGMAS` standard errors of a number known to `error`.
///
/// 5.5, because some thousands of comparisons are made in a run of this file and a normal deviate
/// lies beyond 5.5 standard errors 4 times in 10⁸.
const SIGMAS: f64 = 5.5;

fn near(what: &str, got: f64, expected: f64, error: f64, standard_error: f64) -> TestCaseResult {
    let allowed = SIGMAS * standard_error + error;
    prop_assert!(
        (got - expected).abs() <= allowed,
        "{what}: Monte Carlo {got}, expected {expected} ± {allowed}"
    );
    Ok(())
}

/// 100 for every day; `KERFWISE_AGREEMENT` asks for more.
fn cases() -> u32 {
    std::env::var("KERFWISE_AGREEMENT")
        .ok()
        .and_then(|n| n.parse().ok())
        .unwrap_or(100)
}

proptest! {
    #![proptest_config(ProptestConfig { cases: cases(), ..ProptestConfig::default() })]

    #[test]
    fn exact_and_monte_carlo_agree(terms in any_terms(30), seed in any::<u64>()) {
        let (stack, _) = cut(&terms, 0.15, 0.9);
        let y = stack.outcome("y").expect("it has one outcome");
        // Whatever the exact propagation declines is counted by the coverage test below.
        let Ok(exact) = y.exact() else { return Ok(()) };
        let band = y.band().expect("it has a band");
        let bounded = exact.chance(&band);
        // The loosest tolerance that any route may take is 1e-11 for each of the two tails.
        prop_assert!(bounded.error <= 3e-11, "{}: {bounded:?}", exact.route());
        let run = stack.monte_carlo(MonteCarlo::new().trials(TRIALS).seed(seed)).expect("affine stacks always run");
        let one = &run.outcomes[0];
        let (chance, se) = (one.chance.expect("band"), one.chance_error.expect("band"));
        near("below", chance.below, bounded.value.below, bounded.error, se.below)?;
        near("inside", chance.inside, bounded.value.inside, bounded.error, se.inside)?;
        near("above", chance.above, bounded.value.above, bounded.error, se.above)?;
        prop_assert!((chance.below + chance.inside + chance.above - 1.0).abs() < 1e-12);
        let total = bounded.value.below + bounded.value.inside + bounded.value.above;
        prop_assert!((total - 1.0).abs() <= 3.0 * bounded.error + 1e-15);
    }

    #[test]
    fn moments_agree(terms in any_terms(30)) {
        let stack = stack(&terms, -1.0, 1.0);
        let y = stack.outcome("y").expect("it has one outcome");
        let mean: f64 = terms.iter().map(|t| t.coefficient * t.distribution.mean().expect("nu > 2")).sum();
        let variance: f64 = terms.iter().map(|t| t.coefficient * t.coefficient * t.distribution.variance().expect("nu > 2")).sum();
        if let Ok(exact) = y.exact() {
            let sd = exact.standard_deviation().expect("all variances exist").raw();
            prop_assert!((sd * sd - variance).abs() <= 1e-12 * variance);
            prop_assert!((exact.mean().expect("all means exist").raw() - mean).abs() <= 1e-12 * variance.sqrt());
        }
        // A Student t counts with its scale in root sum of squares (JCGM 100); the others agree.
        let rss_variance: f64 = terms.iter().map(|t| match &t.distribution {
            kerfwise_source::Distribution::StudentT(t_law) => t.coefficient * t.coefficient * t_law.scale() * t_law.scale(),
            d => t.coefficient * t.coefficient * d.variance().expect("nu > 2"),
        }).sum();
        let rss = y.root_sum_of_squares(RootSumOfSquares::new()).expect("affine");
        let u = rss.standard_uncertainty.raw();
        prop_assert!((u * u - rss_variance).abs() <= 1e-12 * rss_variance);
        prop_assert!((rss.estimate.raw() - mean).abs() <= 1e-12 * variance.sqrt());
        let shares: f64 = rss.budget.iter().map(|b| b.share).sum();
        prop_assert!((shares - 1.0).abs() < 1e-12);
    }

    #[test]
    fn worst_case_encloses_every_trial_within_the_limits(terms in any_terms(12), seed in any::<u64>()) {
        let stack = stack(&terms, -1.0, 1.0);
        let y = stack.outcome("y").expect("it has one outcome");
        let worst = y.worst_case(WorstCase::new().unbounded_at_sd(2.0)).expect("bounded or given a number of sd");
        let (lower, upper) = (worst.lower.bound.raw(), worst.upper.bound.raw());
        // Trials drawn here, not by the library's Monte Carlo.
        let mut stream = Stream::new(seed, 0, 0);
        let mut u = [0.0; 1];
        for _ in 0..200 {
            let mut value = 0.0;
            for term in &terms {
                stream.fill_open01(&mut u);
                let d = &term.distribution;
                let (support_low, support_high) = d.support();
                let (mean, sd) = (d.mean().expect("nu > 2"), d.standard_deviation().expect("nu > 2"));
                let is_bounded = support_low.is_finite() && support_high.is_finite();
                let (low, high) = if is_bounded { (support_low, support_high) } else { (mean - 2.0 * sd, mean + 2.0 * sd) };
                value += term.coefficient * (low + (high - low) * u[0]);
            }
            let slack = 1e-12 * (upper - lower);
            prop_assert!(value >= lower - slack && value <= upper + slack, "{value} not in [{lower}, {upper}]");
        }
        prop_assert!(worst.is_tight);
    }

    #[test]
    fn order_of_sources_changes_no_bit(terms in any_terms(8), seed in any::<u64>()) {
        let all = sources(&terms);
        let band = Band::between(-0.1, 0.1).expect("in order");
        let build = |expr| Stack::builder().outcome("y", &expr, band).build().expect("valid");
        let forward = build(sum(&terms, &all));
        let mut pairs: Vec<_> = terms.iter().cloned().zip(all.iter().cloned()).collect();
        pairs.reverse();
        let (terms_back, sources_back): (Vec<_>, Vec<_>) = pairs.into_iter().unzip();
        let backward = build(sum(&terms_back, &sources_back));
        let options = MonteCarlo::new().trials(4_096).seed(seed);
        let (a, b) = (forward.monte_carlo(options.clone()).expect("runs"), backward.monte_carlo(options).expect("runs"));
        prop_assert_eq!(a.outcomes[0].chance, b.outcomes[0].chance);
        let exact = |stack: &Stack| stack.outcome("y").expect("one").exact().ok().map(|exact| exact.chance(&band));
        if let (Some(a), Some(b)) = (exact(&forward), exact(&backward)) {
            prop_assert!((a.value.inside - b.value.inside).abs() <= a.error + b.error);
        }
    }

    #[test]
    fn a_source_without_spread_changes_nothing(terms in any_terms(8)) {
        let (with, exact) = cut(&terms, 0.2, 0.8);
        let Some(exact) = exact else { return Ok(()) };
        let mut more = terms.clone();
        more.push(Term { coefficient: 1.5, distribution: kerfwise_source::Distribution::normal(0.0, 0.0).expect("zero spread is ordinary"), is_piece: false });
        let band = with.outcome("y").and_then(|y| y.band()).expect("band");
        let wider = stack(&more, -1.0, 1.0);
        let other = wider.outcome("y").expect("one").exact().expect("as before");
        let (a, b) = (exact.chance(&band), other.chance(&band));
        prop_assert!((a.value.inside - b.value.inside).abs() <= a.error + b.error);
    }

    #[test]
    fn splitting_a_normal_source_in_two_changes_nothing(
        terms in any_terms(8), sd in 1e-4..5e-3_f64, share in 0.05..0.95_f64, is_piece in any::<bool>(), seed in any::<u64>(),
    ) {
        let normal = |sd: f64| Term {
            coefficient: 1.0,
            distribution: kerfwise_source::Distribution::normal(0.0, sd).expect("above 0"),
            is_piece,
        };
        let (mut one, mut two) = (terms.clone(), terms);
        one.push(normal(sd));
        // Variances add: sd² = sd² share + sd² (1 − share).
        two.extend([normal(sd * share.sqrt()), normal(sd * (1.0 - share).sqrt())]);
        let (whole, exact) = cut(&one, 0.2, 0.8);
        let (lower, upper) = whole.outcome("y").and_then(|y| y.band()).expect("band").raw();
        let split = stack(&two, lower, upper);
        let band = Band::between(lower, upper).expect("in order");
        if let Some(exact) = exact {
            let other = split.outcome("y").expect("one").exact();
            prop_assert!(other.is_ok(), "a source more must not make it decline: {:?}", other.err());
            let (a, b) = (exact.chance(&band), other.expect("just checked").chance(&band));
            // The two standard deviations round to 1e-16 of themselves, and the chance with them.
            prop_assert!((a.value.inside - b.value.inside).abs() <= a.error + b.error + 1e-15, "{a:?} {b:?}");
        }
        let run = |stack: &Stack| {
            let run = stack.monte_carlo(MonteCarlo::new().trials(TRIALS).seed(seed)).expect("affine stacks always run");
            (run.outcomes[0].chance.expect("band").inside, run.outcomes[0].chance_error.expect("band").inside)
        };
        let ((a, se_a), (b, se_b)) = (run(&whole), run(&split));
        near("inside, split", b, a, 0.0, (se_a * se_a + se_b * se_b).sqrt())?;
    }

    #[test]
    fn a_wider_band_never_lowers_the_chance(terms in any_terms(12), more in 0.0..0.5_f64) {
        let (with, exact) = cut(&terms, 0.2, 0.8);
        let Some(exact) = exact else { return Ok(()) };
        let (lower, upper) = with.outcome("y").and_then(|y| y.band()).expect("band").raw();
        let step = more * (upper - lower);
        let narrow = exact.chance(&Band::between(lower, upper).expect("in order"));
        let wide = exact.chance(&Band::between(lower - step, upper + step).expect("in order"));
        prop_assert!(wide.value.inside >= narrow.value.inside - narrow.error - wide.error);
    }

    #[test]
    fn inch_and_millimetre_give_the_same_chance(terms in any_terms(8)) {
        let (with, exact) = cut(&terms, 0.2, 0.8);
        let Some(exact) = exact else { return Ok(()) };
        let (lower, upper) = with.outcome("y").and_then(|y| y.band()).expect("band").raw();
        let scaled: Vec<Term> = terms.iter().map(|t| Term {
            distribution: t.distribution.affine(25.4, 0.0).expect("a finite factor"), ..t.clone()
        }).collect();
        let big = stack(&scaled, lower * 25.4, upper * 25.4);
        let other = big.outcome("y").expect("one").exact();
        prop_assert!(other.is_ok(), "a change of unit must not make it decline: {:?}", other.err());
        let (a, b) = (exact.chance(&Band::between(lower, upper).expect("in order")),
                      other.expect("just checked").chance(&Band::between(lower * 25.4, upper * 25.4).expect("in order")));
        prop_assert!((a.value.inside - b.value.inside).abs() <= a.error + b.error + 1e-13, "{:?} {:?}", a, b);
    }
}

/// Most random stacks have an exact answer; the share that declines is printed by `--nocapture`.
#[test]
fn the_exact_propagation_answers_nearly_always() {
    use proptest::strategy::ValueTree as _;
    use proptest::test_runner::{Config, RngAlgorithm, TestRng, TestRunner};
    let rng = TestRng::from_seed(RngAlgorithm::ChaCha, &[7; 32]);
    let mut runner = TestRunner::new_with_rng(Config::default(), rng);
    let strategy = any_terms(30);
    let mut declined = Vec::new();
    const STACKS: usize = 150;
    for _ in 0..STACKS {
        let terms = strategy
            .new_tree(&mut runner)
            .expect("nothing is filtered")
            .current();
        let stack = stack(&terms, -1.0, 1.0);
        if let Err(decline) = stack.outcome("y").expect("one").exact() {
            declined.push(format!("{} sources: {decline}", terms.len()));
        }
    }
    // None of some thousand has; two in a hundred leave room for other numbers from the generator.
    assert!(
        declined.len() * 50 <= STACKS,
        "{} of {STACKS} declined:\n{}",
        declined.len(),
        declined.join("\n")
    );
}
