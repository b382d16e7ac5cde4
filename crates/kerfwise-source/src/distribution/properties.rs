//! What holds for every law.

use super::strategy::{any_distribution, smooth_distribution, wild_distribution};
use super::{Distribution, reference};
use kerfwise_numeric::float;
use kerfwise_numeric::quadrature::integrate_adaptive;
use kerfwise_numeric::special::kolmogorov_sf;
use kerfwise_numeric::stream::Stream;
use proptest::prelude::*;
use proptest::strategy::ValueTree;
use proptest::test_runner::TestRunner;

/// How far x may be off because places are floating-point numbers: a few units in the last place of the largest
/// number that takes part.
fn slack(law: &Distribution, x: f64) -> f64 {
    let (lower, upper) = law.support();
    [lower, upper, law.quantile(0.5)]
        .into_iter()
        .filter(|end| end.is_finite())
        .fold(x.abs(), |largest, end| largest.max(end.abs()))
        * (16.0 * f64::EPSILON)
}

/// A probability anywhere, the far tails included.
fn probability() -> impl Strategy<Value = f64> {
    prop_oneof![
        2 => 1e-9..=0.999_999_f64,
        1 => (-290.0..-0.5_f64).prop_map(|exponent| float::powf(10.0, exponent)),
    ]
}

proptest! {
    #[test]
    fn chances_below_and_above_add_to_one(law in any_distribution(), p in probability()) {
        let x = law.quantile(p);
        // Two chances of a few roundings each.
        prop_assert!((law.cdf(x) + law.sf(x) - 1.0).abs() < 1e-13, "{} at {x}", law.cdf(x) + law.sf(x));
    }

    #[test]
    fn cdf_and_quantile_rise(law in any_distribution(), p in probability(), r in probability()) {
        let (p, r) = (p.min(r), p.max(r));
        let (x, y) = (law.quantile(p), law.quantile(r));
        // Solved quantiles stop within a rounding of each other.
        prop_assert!(x <= y || x - y <= slack(&law, x), "quantiles {x} and {y}");
        prop_assert!(law.cdf(x) <= law.cdf(y) * (1.0 + 1e-12));
        prop_assert!(law.sf(x) * (1.0 + 1e-12) >= law.sf(y));
    }

    #[test]
    fn quantile_is_where_the_cdf_reaches_p(law in any_distribution(), p in probability()) {
        // Relative, because the tails are; 1e-11 for chances that are steep functions of large arguments.
        let (low, high) = (p * (1.0 - 1e-11), p * (1.0 + 1e-11));
        let atoms = law.pdf(0.0).is_none();
        let x = law.quantile(p);
        // Student t with few degrees of freedom leaves the numbers there are.
        if x.abs() < 1e300 {
            let slack = slack(&law, x);
            prop_assert!(law.cdf(x + slack) >= low, "reaches {} only", law.cdf(x + slack));
            prop_assert!(law.cdf(x - slack) <= high || atoms, "was {} already", law.cdf(x - slack));
        }
        let x = law.quantile_upper(p);
        if x.abs() < 1e300 {
            let slack = slack(&law, x);
            prop_assert!(law.sf(x + slack) <= high, "falls to {} only", law.sf(x + slack));
            prop_assert!(law.sf(x - slack) >= low || atoms, "was {} already", law.sf(x - slack));
        }
    }

    #[test]
    fn an_atom_is_the_smallest_place_that_reaches_p(readings in proptest::collection::vec(-9..9_i32, 1..40), p in 0.0..=1.0_f64) {
        let readings: Vec<f64> = readings.into_iter().map(f64::from).collect();
        let weight = 1.0 / readings.len() as f64;
        let pairs: Vec<_> = readings.iter().map(|reading| (*reading, weight)).collect();
        for law in [Distribution::empirical(&readings)?, Distribution::discrete(&pairs)?] {
            let x = law.quantile(p);
            prop_assert!(law.cdf(x) >= p);
            prop_assert!(x == law.support().0 || law.cdf(x.next_down()) < p);
            let x = law.quantile_upper(p);
            prop_assert!(law.sf(x) <= p);
            prop_assert!(x == law.support().0 || law.sf(x.next_down()) > p);
        }
    }

    #[test]
    fn scaling_and_shifting_carries_the_chances_along(law in any_distribution(), p in 1e-6..=0.999_999_f64, factor in prop_oneof![-4.0..=-0.25_f64, 0.25..=4.0_f64], shift in -10.0..10.0_f64) {
        let moved = law.affine(factor, shift)?;
        let x = law.quantile(p);
        let (y, slack) = (factor * x + shift, slack(&law, x).max(slack(&law.affine(factor, shift)?, factor * x + shift)));
        let (below, above) = if factor > 0.0 { (law.cdf(x - slack), law.cdf(x + slack)) } else { (law.sf(x + slack), law.sf(x - slack)) };
        // The parameters are rounded once more, which is what the slack is for.
        prop_assert!(moved.cdf(y + 4.0 * slack) >= below - 1e-9 && moved.cdf(y - 4.0 * slack) <= above + 1e-9, "{} to {} against {below} to {above}", moved.cdf(y - slack), moved.cdf(y + slack));
        if let (Some(mean), Some(sd)) = (law.mean(), law.standard_deviation()) {
            let off = moved.mean().unwrap_or(f64::NAN) - (factor * mean + shift);
            prop_assert!(off.abs() <= 1e-12 * (mean.abs() + shift.abs() + sd), "mean is off by {off}");
            let ratio = moved.standard_deviation().unwrap_or(f64::NAN) / (factor.abs() * sd);
            prop_assert!(sd == 0.0 || (ratio - 1.0).abs() < 1e-9, "spread is off by {ratio}");
        }
    }

    #[test]
    fn the_same_law_compares_equal(law in any_distribution(), shift in -9.0..9.0_f64) {
        prop_assert_eq!(law.affine(1.0, 0.0)?, law.clone());
        prop_assert_eq!(law.affine(-1.0, 0.0)?.affine(-1.0, 0.0)?, law.clone());
        prop_assert_eq!(law.affine(0.0, shift)?, Distribution::point(shift)?);
        prop_assert_eq!(Distribution::mixture(vec![(1.0, law.clone())])?, law);
    }

    #[test]
    fn no_parameter_gives_nan(law in wild_distribution(), x in any::<f64>(), p in probability(), t in any::<f64>()) {
        let x = if x.is_nan() { 0.0 } else { x };
        let inside = law.quantile(p);
        prop_assert!(inside.is_finite());
        prop_assert!(law.quantile_upper(p).is_finite());
        for x in [x, inside, inside.next_up(), law.support().0, law.support().1] {
            prop_assert!((0.0..=1.0).contains(&law.cdf(x)), "cdf({x})");
            prop_assert!((0.0..=1.0).contains(&law.sf(x)), "sf({x})");
            prop_assert!(law.pdf(x).is_none_or(|density| density >= 0.0), "pdf({x})");
        }
        prop_assert!(law.mean().is_none_or(|mean| !mean.is_nan()));
        prop_assert!(law.variance().is_none_or(|variance| variance >= 0.0));
        for t in [t, 1.0, 1e-300] {
            prop_assert!(law.characteristic(t).is_none_or(|(re, im)| re.abs() <= 1.0 + 1e-14 && im.abs() <= 1.0 + 1e-14));
        }
        let mut draws = [f64::NAN; 3];
        law.fill(&mut Stream::new(1, 2, 3), &mut draws);
        prop_assert!(draws.iter().all(|draw| draw.is_finite()));
    }
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(48))]

    #[test]
    fn density_integrates_to_the_chance(law in smooth_distribution()) {
        // From quantile to quantile, so that no kink hides from the rule.
        for tenth in 1..9 {
            let (from, to) = (law.quantile(0.1 * f64::from(tenth)), law.quantile(0.1 * f64::from(tenth + 1)));
            if from < to {
                let integral = integrate_adaptive(|x| law.pdf(x).unwrap_or(f64::NAN), from, to, 1e-9, 1e-9);
                let want = law.cdf(to) - law.cdf(from);
                // A kink costs the rule some digits all the same.
                prop_assert!((integral.value - want).abs() < 1e-6, "{} against {want}", integral.value);
            }
        }
    }

    #[test]
    fn characteristic_function_is_the_mean_of_the_turns(law in any_distribution(), turns in -2.0..2.0_f64) {
        let reach = law.quantile(0.9) - law.quantile(0.1);
        let t = if reach > 0.0 { turns / reach } else { turns };
        if let Some((re, im)) = law.characteristic(t) {
            let n = 4000;
            let mut mean = (0.0, 0.0);
            let (mut variation, mut before) = (0.0, law.quantile(0.5 / f64::from(n)));
            for i in 0..n {
                let x = law.quantile((f64::from(i) + 0.5) / f64::from(n));
                let (sin, cos) = float::sin_cos(t * x);
                mean = (mean.0 + cos / f64::from(n), mean.1 + sin / f64::from(n));
                variation += (t * (x - before)).abs().min(2.0);
                before = x;
            }
            // Midpoints in probability: off by the variation of the turn over n, and the two halves of a cell in
            // either tail may hold anything.
            let allowed = (variation + 4.0) / f64::from(n);
            prop_assert!((re - mean.0).abs() < allowed && (im - mean.1).abs() < allowed, "{:?} against {mean:?}, {allowed}", (re, im));
        }
    }
}

/// A fixed list of random laws: statistical tests must not be drawn anew at each run.
fn some_laws(count: usize) -> Vec<Distribution> {
    let mut runner = TestRunner::deterministic();
    (0..count)
        .map(|_| {
            any_distribution()
                .new_tree(&mut runner)
                .expect("the strategy filters nothing")
                .current()
        })
        .collect()
}

#[test]
fn draws_have_the_mean_of_the_law() {
    let mut draws = vec![0.0; 4000];
    for (index, law) in some_laws(200).iter().enumerate() {
        let (Some(mean), Some(sd)) = (law.mean(), law.standard_deviation()) else {
            continue;
        };
        law.fill(&mut Stream::new(42, index as u64, 0), &mut draws);
        let off = draws.iter().map(|draw| draw - mean).sum::<f64>() / draws.len() as f64;
        // Five standard errors, at seeds fixed for ever.
        assert!(
            off.abs() <= 5.0 * sd / (draws.len() as f64).sqrt() + 1e-13 * mean.abs(),
            "mean of {law:?} is off by {off}, sd {sd}"
        );
    }
}

#[test]
fn draws_follow_the_law() {
    let n = 5000;
    let mut draws = vec![0.0; n];
    for (index, law) in some_laws(200)
        .iter()
        .enumerate()
        .filter(|(_, law)| law.pdf(0.0).is_some())
    {
        law.fill(&mut Stream::new(43, index as u64, 0), &mut draws);
        draws.sort_by(f64::total_cmp);
        let distance = draws
            .iter()
            .enumerate()
            .fold(0.0_f64, |distance, (rank, draw)| {
                let chance = law.cdf(*draw);
                distance
                    .max(chance - rank as f64 / n as f64)
                    .max((rank + 1) as f64 / n as f64 - chance)
            });
        // Some 150 laws, so the least of their chances may well be 1/150; a wrong sampler is below 1e-12.
        let chance = kolmogorov_sf(distance, n);
        assert!(
            chance > 1e-4,
            "draws of {law:?} are {distance} off, chance {chance}"
        );
    }
}

/// Laws that draw from tables, and the closed forms beside them.
fn laws_of_every_kind() -> Result<Vec<Distribution>, crate::Error> {
    Ok(vec![
        Distribution::normal(0.0, 1.0)?,
        Distribution::student_t(0.0, 1.0, 4.0)?,
        Distribution::student_t(1.0, 0.5, 1.0)?,
        Distribution::exponential(0.0, -2.0)?,
        Distribution::lognormal(0.0, 0.0, 0.5)?,
        Distribution::beta(0.0, 1.0, 1.0, 0.5)?,
        Distribution::truncated_normal(0.0, 1.0, -0.5, 4.0)?,
        Distribution::two_piece_normal(0.0, 1.0, 3.0)?,
        Distribution::curvilinear_trapezoid(-1.0, 1.0, 0.3)?,
        Distribution::rectangular(-1.0, 1.0)?,
        Distribution::triangular(-1.0, 0.5, 1.0)?,
        Distribution::trapezoidal(-1.0, 1.0, 0.3)?,
        Distribution::arcsine(-1.0, 1.0)?,
        Distribution::mixture(vec![
            (0.9, Distribution::normal(0.0, 1.0)?),
            (0.1, Distribution::normal(0.0, 5.0)?),
        ])?,
    ])
}

#[test]
fn tails_hold_their_share_of_the_draws() -> Result<(), crate::Error> {
    let n = 1 << 20;
    let mut draws = vec![0.0; n];
    for (index, law) in laws_of_every_kind()?.iter().enumerate() {
        law.fill(&mut Stream::new(11, index as u64, 0), &mut draws);
        // Of either tail: within the table, and beyond its end at 2^-16 = 1.5e-5.
        for p in [0.01, 1e-3, 5e-5, 1.4e-5, 5e-6] {
            let (lower, upper) = (law.quantile(p), law.quantile_upper(p));
            let below = draws.iter().filter(|draw| **draw < lower).count() as f64;
            let above = draws.iter().filter(|draw| **draw > upper).count() as f64;
            let expected = p * n as f64;
            for count in [below, above] {
                // 140 counts at seeds fixed for ever: four and a half binomial standard deviations, one more for a Poisson tail.
                let allowed = 4.5 * expected.sqrt() + 1.0;
                assert!(
                    (count - expected).abs() <= allowed,
                    "{law:?}: {count} beyond {p}, not {expected}"
                );
            }
        }
    }
    Ok(())
}

#[test]
fn draws_do_not_depend_on_the_length_of_the_column() {
    for law in some_laws(100) {
        let mut whole = [0.0; 700];
        law.fill(&mut Stream::new(7, 1, 0), &mut whole);
        let mut pieces = [0.0; 700];
        let mut stream = Stream::new(7, 1, 0);
        for piece in pieces.chunks_mut(257) {
            law.fill(&mut stream, piece);
        }
        assert_eq!(whole, pieces, "{law:?}");
    }
}

#[test]
fn draws_are_quantiles() {
    for law in some_laws(400)
        .iter()
        .filter(|law| law.words_per_draw() == 1)
    {
        let (mut draws, mut uniform) = ([0.0; 2000], [0.0; 2000]);
        law.fill(&mut Stream::new(7, 1, 0), &mut draws);
        Stream::new(7, 1, 0).fill_open01(&mut uniform);
        let (median, spread) = (law.quantile(0.5), law.quantile(0.75) - law.quantile(0.25));
        for (draw, u) in draws.iter().zip(uniform) {
            let exact = law.quantile(u);
            // What is promised for the laws that draw from pieces of polynomials, and a few roundings.
            let near = (draw - exact).abs()
                <= 5e-11 * (exact - median).abs().max(spread) + slack(law, exact);
            assert!(near, "{law:?}: {draw} for {u}, not {exact}");
        }
    }
}

#[test]
fn nan_comes_only_from_nan() {
    for law in some_laws(60) {
        assert!(law.cdf(f64::NAN).is_nan() && law.sf(f64::NAN).is_nan());
        assert!(law.quantile(f64::NAN).is_nan() && law.quantile_upper(f64::NAN).is_nan());
        assert!(law.pdf(f64::NAN).is_none_or(f64::is_nan));
        assert_eq!(law.characteristic(f64::NAN), None);
        assert_eq!(
            (law.cdf(f64::NEG_INFINITY), law.cdf(f64::INFINITY)),
            (0.0, 1.0)
        );
        assert_eq!(
            (law.sf(f64::NEG_INFINITY), law.sf(f64::INFINITY)),
            (1.0, 0.0)
        );
        assert!(law.pdf(f64::INFINITY).is_none_or(|density| density == 0.0));
        assert_eq!((law.quantile(-1.0), law.quantile(2.0)), law.support());
        assert_eq!(
            (law.quantile_upper(2.0), law.quantile_upper(-1.0)),
            law.support()
        );
    }
}

#[test]
fn published_chances_and_quantiles_of_unit_laws() -> Result<(), crate::Error> {
    // JCGM 101:2008, 6.4 laws of half-width 1 (top ratio 0.4; d = 0.2), recomputed in closed form.
    let trapezoid = Distribution::trapezoidal(-1.0, 1.0, 0.4)?;
    let uncertain = Distribution::curvilinear_trapezoid(-1.0, 1.0, 0.2)?;
    let t4 = Distribution::student_t(0.0, 1.0, 4.0)?;
    for (law, x, want) in [
        (&trapezoid, -0.9, 0.005_952_380_952_380_95),
        (&trapezoid, 0.75, 0.962_797_619_047_619),
        (&uncertain, -0.9, 0.051_357_668_491_746_5),
        (&uncertain, 0.35, 0.677_390_984_797_322),
        (&uncertain, 0.99, 0.975_560_217_151_227),
        (&t4, -0.9, 0.209_502_759_604_042),
        (&t4, 0.99, 0.810_892_144_305_67),
    ] {
        // Half a unit of the fifteenth digit that is given.
        assert!(
            (law.cdf(x) - want).abs() < 6e-16 + 1e-15,
            "cdf({x}) of {law:?} is {}",
            law.cdf(x)
        );
    }
    // JCGM 101:2008, 6.4.3, example: 0.060 with uncertain limits, 0.058 with exact ones.
    let example = Distribution::curvilinear_trapezoid(9.9, 10.1, 0.05)?;
    reference::moments(
        &example,
        Some(10.0),
        Some((0.01_f64 / 3.0 + 0.0025 / 9.0).sqrt()),
    );
    Ok(())
}

#[test]
fn published_variances() -> Result<(), crate::Error> {
    // JCGM 101:2008, 6.4 (variances of the laws there), on the interval 1 to 5 with top ratio 1/2 and d = 1/2.
    for (law, variance) in [
        (Distribution::rectangular(1.0, 5.0)?, 16.0_f64 / 12.0),
        (
            Distribution::curvilinear_trapezoid(1.0, 5.0, 0.5)?,
            16.0 / 12.0 + 0.25 / 9.0,
        ),
        (
            Distribution::trapezoidal(1.0, 5.0, 0.5)?,
            16.0 * 1.25 / 24.0,
        ),
        (Distribution::triangular(1.0, 3.0, 5.0)?, 16.0 / 24.0),
        (Distribution::arcsine(1.0, 5.0)?, 16.0 / 8.0),
        (Distribution::student_t(3.0, 2.0, 5.0)?, 4.0 * 5.0 / 3.0),
        (Distribution::exponential(0.0, 3.0)?, 9.0),
    ] {
        reference::moments(&law, Some(3.0), Some(variance.sqrt()));
        assert_eq!(
            law.centre_of_symmetry().is_some(),
            law.name() != "exponential"
        );
    }
    Ok(())
}

#[test]
fn laws_that_say_the_same_are_the_same() -> Result<(), crate::Error> {
    let inf = f64::INFINITY;
    for (one, other) in [
        (
            Distribution::trapezoidal(0.0, 2.0, 1.0)?,
            Distribution::rectangular(0.0, 2.0)?,
        ),
        (
            Distribution::trapezoidal(0.0, 2.0, 0.0)?,
            Distribution::triangular(0.0, 1.0, 2.0)?,
        ),
        (
            Distribution::curvilinear_trapezoid(0.0, 2.0, 0.0)?,
            Distribution::rectangular(0.0, 2.0)?,
        ),
        (
            Distribution::beta(0.0, 2.0, 1.0, 1.0)?,
            Distribution::rectangular(0.0, 2.0)?,
        ),
        (
            Distribution::beta(0.0, 2.0, 0.5, 0.5)?,
            Distribution::arcsine(0.0, 2.0)?,
        ),
        (
            Distribution::student_t(1.0, 2.0, inf)?,
            Distribution::normal(1.0, 2.0)?,
        ),
        (
            Distribution::truncated_normal(1.0, 2.0, -inf, inf)?,
            Distribution::normal(1.0, 2.0)?,
        ),
        (
            Distribution::truncated_normal(0.0, 1e20, 1.0, 2.0)?,
            Distribution::rectangular(1.0, 2.0)?,
        ),
        (
            Distribution::two_piece_normal(1.0, 2.0, 2.0)?,
            Distribution::normal(1.0, 2.0)?,
        ),
    ] {
        assert_eq!(one, other);
    }
    Ok(())
}
