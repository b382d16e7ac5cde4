//! Random laws for property tests. Every value is valid as built: nothing is filtered away.
//!
//! The idea to copy: draw places and spreads, and let the sorted places be the ends; draw weights and divide by their
//! sum. [`any_distribution`] is of a size that one meets in a shop; [`wild_distribution`] goes to the ends of `f64`.

use super::Distribution;
use kerfwise_numeric::float;
use proptest::collection::vec;
use proptest::prelude::*;

/// A place of ordinary size.
fn place() -> BoxedStrategy<f64> {
    prop_oneof![4 => -10.0..10.0_f64, 1 => Just(0.0)].boxed()
}

/// A spread that floating point can tell beside any ordinary place.
fn spread() -> BoxedStrategy<f64> {
    power_of_ten(-2.0, 1.0)
}

/// A positive number whose logarithm is uniform.
fn power_of_ten(from: f64, to: f64) -> BoxedStrategy<f64> {
    (from..to)
        .prop_map(|exponent| float::powf(10.0, exponent))
        .boxed()
}

/// A number of either sign and any size that leaves room for a sum of two.
fn wild_place() -> BoxedStrategy<f64> {
    (power_of_ten(-300.0, 300.0), any::<bool>())
        .prop_map(|(size, negative)| if negative { -size } else { size })
        .boxed()
}

fn wild_spread() -> BoxedStrategy<f64> {
    let smallest = prop::sample::select(vec![0.0, 5e-324, 1e-310, f64::MIN_POSITIVE]);
    prop_oneof![9 => power_of_ten(-300.0, 300.0), 1 => smallest].boxed()
}

fn valid(law: Result<Distribution, crate::Error>) -> Distribution {
    law.expect("the strategy builds valid parameters")
}

/// Laws with a density, from one stock of places, spreads and shapes.
fn with_density(
    place: BoxedStrategy<f64>,
    spread: BoxedStrategy<f64>,
    shape: BoxedStrategy<f64>,
    log_sd: f64,
) -> BoxedStrategy<Distribution> {
    let three = || (place.clone(), spread.clone(), spread.clone());
    let shaped = || (place.clone(), spread.clone(), shape.clone(), shape.clone());
    let share = || 0.0..=1.0_f64;
    prop_oneof![
        three().prop_map(|(at, sd, _)| valid(Distribution::normal(at, sd))),
        three().prop_map(|(at, w, _)| valid(Distribution::rectangular(at, at + w))),
        three().prop_map(|(at, rise, fall)| valid(Distribution::triangular(
            at - rise,
            at,
            at + fall
        ))),
        (three(), share()).prop_map(|((at, w, _), top)| valid(Distribution::trapezoidal(
            at - w,
            at + w,
            top
        ))),
        (three(), share()).prop_map(|((at, w, _), share)| {
            let (lower, upper) = (at - w, at + w);
            valid(Distribution::curvilinear_trapezoid(
                lower,
                upper,
                share * (0.5 * (upper - lower)),
            ))
        }),
        three().prop_map(|(at, w, _)| valid(Distribution::arcsine(at - w, at + w))),
        shaped().prop_map(|(at, scale, dof, _)| valid(Distribution::student_t(at, scale, dof))),
        (three(), any::<bool>()).prop_map(|((at, excess, _), below)| {
            valid(Distribution::exponential(
                at,
                if below { -excess } else { excess },
            ))
        }),
        (place.clone(), -log_sd..log_sd, 0.0..log_sd, any::<bool>()).prop_map(
            |(at, log_mean, log_sd, mirrored)| {
                let law = valid(Distribution::lognormal(at, log_mean, log_sd));
                if mirrored {
                    valid(law.affine(-1.0, 0.0))
                } else {
                    law
                }
            }
        ),
        shaped().prop_map(|(at, w, a, b)| valid(Distribution::beta(at, at + w, a, b))),
        three()
            .prop_map(|(at, below, above)| valid(Distribution::two_piece_normal(at, below, above))),
        truncated(place.clone(), spread.clone()),
    ]
    .boxed()
}

/// A cut that begins up to 40 standard deviations from the mean, on either side, bounded or not.
fn truncated(place: BoxedStrategy<f64>, spread: BoxedStrategy<f64>) -> BoxedStrategy<Distribution> {
    (
        place,
        spread,
        -40.0..40.0_f64,
        power_of_ten(-3.0, 2.0),
        0..3,
    )
        .prop_map(|(mean, sd, from, width, open)| {
            let lower = mean + sd * from;
            let (lower, upper) = match open {
                0 => (f64::NEG_INFINITY, lower),
                1 => (lower, f64::INFINITY),
                _ => (lower, lower + sd * width),
            };
            valid(Distribution::truncated_normal(mean, sd, lower, upper))
        })
        .boxed()
}

/// Laws made of single values.
fn with_atoms(place: BoxedStrategy<f64>) -> BoxedStrategy<Distribution> {
    prop_oneof![
        place
            .clone()
            .prop_map(|value| valid(Distribution::point(value))),
        vec((place.clone(), 0.1..1.0_f64), 1..8).prop_map(|mut pairs| {
            let total: f64 = pairs.iter().map(|pair| pair.1).sum();
            for pair in &mut pairs {
                pair.1 /= total;
            }
            valid(Distribution::discrete(&pairs))
        }),
        vec(place, 1..12).prop_map(|readings| valid(Distribution::empirical(&readings))),
    ]
    .boxed()
}

fn with_mixtures(simple: BoxedStrategy<Distribution>) -> BoxedStrategy<Distribution> {
    let mixture = vec((0.1..1.0_f64, simple.clone()), 1..5).prop_map(|mut parts| {
        let total: f64 = parts.iter().map(|part| part.0).sum();
        for part in &mut parts {
            part.0 /= total;
        }
        valid(Distribution::mixture(parts))
    });
    prop_oneof![8 => simple, 1 => mixture].boxed()
}

/// A law with a density, of ordinary size.
pub(super) fn smooth_distribution() -> BoxedStrategy<Distribution> {
    with_density(place(), spread(), power_of_ten(-0.5, 2.0), 1.5)
}

/// Any law, of ordinary size.
pub(super) fn any_distribution() -> BoxedStrategy<Distribution> {
    let simple = prop_oneof![4 => smooth_distribution(), 1 => with_atoms(place())];
    with_mixtures(simple.boxed())
}

/// Any law, with parameters of any size.
pub(super) fn wild_distribution() -> BoxedStrategy<Distribution> {
    let smooth = with_density(wild_place(), wild_spread(), power_of_ten(-3.0, 6.0), 60.0);
    let simple = prop_oneof![4 => smooth, 1 => with_atoms(wild_place())];
    with_mixtures(simple.boxed())
}
