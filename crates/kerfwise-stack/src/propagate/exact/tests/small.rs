//! Small tails, with relative accuracy.
//!
//! Tails computed independently with mpmath at 40 digits and more: sums of rectangles and a normal law by the repeated
//! integrals of the normal tail, with signs; averaged over the angle of an arcsine law, or over an exponential law.

use super::super::convolution::Convolution;
use super::super::form::Form;
use super::super::part::Part;
use super::super::powers::Powers;
use super::super::solved::Solved;
use super::super::tilt::Tilt;
use super::*;
use proptest::prelude::*;

/// Laws, places, and the chances beyond them.
type Case = (Vec<Distribution>, &'static [(f64, f64)]);

#[rustfmt::skip]
fn even() -> Vec<Case> {
    vec![
        (
            vec![normal(1.0), rect(1.0), rect(0.75), tri(1.0)],
            &[
                (5.9169921875, 9.986968849429018e-7),
                (8.4921875, 9.988889512883818e-13),
                (10.9140625, 1.00307361916244e-20),
                (15.1904296875, 1.0058355278169066e-40),
            ],
        ),
        (
            vec![arcsine(1.25), rect(0.5), normal(0.25)],
            &[
                (2.640625, 9.978519532057901e-7),
                (3.2890625, 1.0074394093465273e-12),
                (3.888671875, 1.0113602388183937e-20),
                (4.9453125, 1.0001667755122954e-40),
            ],
        ),
        // One rectangle dominates.
        (
            vec![rect(4.0), tri(0.5), normal(0.015625)],
            &[
                (4.4873046875, 9.91012988546956e-7),
                (4.560546875, 1.1108263407299451e-12),
                (4.6083984375, 9.63540971995858e-21),
                (4.6826171875, 8.280401762807142e-41),
            ],
        ),
    ]
}

/// Within the bound, which is itself a small part of the chance.
fn holds(got: Bounded<f64>, want: f64, part: f64, at: &dyn std::fmt::Debug) {
    let off = (got.value - want).abs();
    // because: the values are written with 16 digits
    assert!(
        off <= got.error + 2e-16 * want,
        "{at:?}: {got:?}, not {want:e}"
    );
    assert!(got.error <= part * want, "{at:?}: {got:?}, not {want:e}");
}

#[test]
fn tails_of_even_laws() {
    for (laws, tails) in even() {
        let sum = sum_of(&laws);
        for &(x, want) in tails {
            // because: some hundred nodes of a few dozen roundings each; at 1e-6 the inversion itself will do
            holds(sum.fine_tail(Tail::MoreThan, x), want, 1e-9, &(&laws, x));
            holds(sum.fine_tail(Tail::AtMost, -x), want, 1e-9, &(&laws, -x));
        }
        // All of them by tilting, in any unit and from any place.
        let terms: Vec<(f64, Distribution)> = laws.iter().map(|law| (0.25, law.clone())).collect();
        let moved = sum_for(3.0, &terms, &[]);
        for &(x, want) in tails.iter().filter(|(_, want)| *want < 1e-11) {
            // because: places about 3 are known to 4e-16, and a chance of 1e-40 falls by 2e-14 of itself over that
            holds(
                moved.fine_tail(Tail::AtLeast, 3.0 + 0.25 * x),
                want,
                1e-11,
                &(&laws, x),
            );
        }
    }
}

#[test]
fn tails_of_lopsided_laws() {
    let laws = [exponential(0.25), rect(0.5), normal(0.5)];
    let sum = sum_of(&laws);
    for (x, want) in [
        (4.0, 1.5079192623096436e-6),
        (7.0, 9.264976358024239e-12),
        (12.0, 1.9096539582149257e-20),
        (24.0, 2.7215702317119707e-41),
    ] {
        holds(sum.fine_tail(Tail::MoreThan, x), want, 1e-8, &x);
    }
    for (x, want) in [
        (-2.5, 1.0875599467488001e-6),
        (-4.0, 1.8782196213332334e-14),
        (-5.0, 1.0838238996624006e-21),
    ] {
        holds(sum.fine_tail(Tail::LessThan, x), want, 1e-8, &x);
    }
}

#[test]
fn tails_of_mixtures_and_many_rectangles() {
    let either = Distribution::mixture(vec![
        (0.75, normal(0.5)),
        (0.25, Distribution::normal(2.0, 0.25).unwrap()),
    ])
    .unwrap();
    let steps = Distribution::discrete(&[(-1.0, 0.5), (0.0, 0.25), (3.0, 0.25)]).unwrap();
    let sum = sum_of(&[either, steps, rect(0.5)]);
    for (x, want) in [
        (7.0, 2.459580861415494e-12),
        (8.0, 1.148242159438633e-21),
        (9.0, 1.6025363962823556e-30),
        (12.0, 2.248930382853797e-67),
    ] {
        holds(sum.fine_tail(Tail::MoreThan, x), want, 1e-10, &x);
    }
    let twelve: Vec<Distribution> = (1..=12).map(|k| rect(f64::from(k) / 8.0)).collect();
    let sum = sum_of(&twelve);
    assert_eq!(sum.route(), "characteristic function, wrapped sum");
    for (x, want) in [
        (6.5, 4.931279487884366e-5),
        (8.0, 4.9774417134017e-8),
        (9.25, 1.7847606326433955e-14),
        (9.71875, 6.342291924091107e-29),
    ] {
        holds(sum.fine_tail(Tail::MoreThan, x), want, 1e-9, &x);
    }
}

#[test]
fn laws_without_a_moment_generating_function_are_declined() {
    let parts = |laws: &[Distribution]| -> Vec<Part> {
        laws.iter()
            .filter_map(|law| Part::new(law, 1.0).unwrap().1)
            .collect()
    };
    let heavy = Distribution::student_t(0.0, 0.5, 4.0).unwrap();
    let chips = Distribution::mixture(vec![(0.5, normal(1.0)), (0.5, heavy.clone())]).unwrap();
    let skewed = Distribution::lognormal(0.0, 0.0, 0.5).unwrap();
    for law in [heavy, chips, skewed] {
        assert!(Tilt::of(&parts(&[normal(1.0), law.clone()])).is_none());
        // What is said then is a bound, and no digits that are not there.
        let sum = sum_of(&[normal(1.0), rect(1.0), law]);
        assert!(!sum.keeps_far_chances());
        let far = sum.fine_tail(Tail::LessThan, -40.0);
        assert!(far.value <= 1e-3 && far.value + far.error >= 0.0, "{far:?}");
    }
    // Nothing falls off in a sum of atoms and arcsine laws: there is no end to the integral.
    let tilt = Tilt::of(&parts(&[arcsine(1.0), arcsine(0.5)])).unwrap();
    assert!(tilt.tail(false, 1.4).is_none());
}

/// Near the end of an arcsine law a tilt would have to be ever sharper: it ends, and bounds hold.
#[test]
fn ends_of_arcsine_laws() {
    let alone = sum_of(&[arcsine(1.0)]);
    let narrow = sum_of(&[arcsine(1.0), normal(1e-7)]);
    let wide = sum_of(&[arcsine(1.0), rect(0.25), normal(1e-7)]);
    for k in 1..=16 {
        let d = kerfwise_numeric::float::powi(0.1, k);
        // P(A > 1 − d) = acos(1 − d)/π = 2 asin(√(d/2))/π.
        let want = 2.0 * kerfwise_numeric::float::asin((0.5 * d).sqrt()) / std::f64::consts::PI;
        let got = alone.fine_tail(Tail::MoreThan, 1.0 - d);
        // because: 1 − d is rounded by half a unit of 1e-16, over which the chance changes by its slope, at most by its root
        let rounded = 1.2e-16 / (std::f64::consts::PI * (2.0 * d - d * d).sqrt());
        assert!(
            (got.value - want).abs() <= got.error + rounded,
            "{k}: {got:?} {want:e}"
        );
        // A normal error of 1e-7 hides the end; beyond it next to nothing is left, and that is known.
        let beyond = narrow.fine_tail(Tail::MoreThan, 1.0 + 40e-7 + d);
        assert!(beyond.value - beyond.error <= 1e-300, "{k}: {beyond:?}");
        let beyond = wide.fine_tail(Tail::LessThan, -1.25 - 40e-7 - d);
        assert!(beyond.value - beyond.error <= 1e-300, "{k}: {beyond:?}");
        // Tilts of the parts as such come to an end as well.
        let parts: Vec<Part> = [arcsine(1.0), normal(d)]
            .iter()
            .filter_map(|law| Part::new(law, 1.0).unwrap().1)
            .collect();
        if let Some(chance) = Tilt::of(&parts).unwrap().tail(false, 1.0 + 3.0 * d) {
            // because: the arcsine law is at most 1, so the normal one must exceed three standard deviations
            assert!(chance.value - chance.error <= 1.35e-3, "{k}: {chance:?}");
        }
    }
}

#[test]
fn quantiles_of_small_chances() {
    let laws = [normal(1.0), rect(1.0), rect(0.75), tri(1.0)];
    let terms: Vec<Term<'_>> = laws
        .iter()
        .map(|law| Term {
            coefficient: 1.0,
            estimate: 0.0,
            error: law,
            is_second: false,
        })
        .collect();
    let form = Form::new(0.0, &terms, &[]).unwrap();
    let exact = Exact {
        sum: Sum::of(&form, 0, form.location(), &[]).unwrap(),
        dimension: Dimension::NUMBER,
        held: Vec::new(),
    };
    // The places at which the chances below are, of the first case above.
    for (p, x) in [
        (9.988889512883818e-13, -8.4921875),
        (1.00307361916244e-20, -10.9140625),
        (1.0058355278169066e-40, -15.1904296875),
    ] {
        let at = exact.quantile(p);
        let off = (at.value.raw() - x).abs();
        // because: the chance is known to 1e-12 of itself, and changes by ten times the relative change of the place
        assert!(off <= at.error + 1e-15 && at.error < 1e-11, "{p:e} {at:?}");
    }
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(40))]

    /// Truncated powers find the same chances in another way, with relative accuracy too.
    #[test]
    fn as_truncated_powers_find(
        halves in prop::collection::vec(0.05..1.0_f64, 5..10),
        half in 0.05..1.0_f64,
        far in 0.5..0.95_f64,
    ) {
        let mut laws: Vec<Distribution> = halves.iter().map(|h| rect(*h)).collect();
        laws.push(arcsine(half));
        let parts: Vec<Part> = laws.iter().filter_map(|law| Part::new(law, 1.0).unwrap().1).collect();
        let powers = Powers::new(0.0, halves.clone(), half);
        let x = far * (half + halves.iter().sum::<f64>());
        let one = powers.tail(Tail::MoreThan, x);
        let other = Tilt::of(&parts).unwrap().tail(false, x);
        if let Some(other) = other {
            prop_assert!((one.value - other.value).abs() <= one.error + other.error, "{:?} {:?}", one, other);
            prop_assert!(other.error <= 1e-9 * other.value || other.value > 1e-3, "{:?}", other);
        }
    }

    /// A convolution of positive terms, likewise.
    #[test]
    fn as_a_convolution_finds(
        halves in prop::collection::vec(0.05..1.0_f64, 1..5),
        sd in 0.02..2.0_f64,
        far in 1.0..9.0_f64,
    ) {
        let mut parts: Vec<Part> = halves.iter().filter_map(|h| Part::new(&rect(*h), 1.0).unwrap().1).collect();
        let law = Part::normal(sd).unwrap();
        parts.push(law.clone());
        let rest = Powers::new(0.0, halves.clone(), 0.0);
        let convolution = Convolution::new(law, Solved::Powers(Box::new(rest)));
        let x = far * (sd * sd + halves.iter().map(|h| h * h / 3.0).sum::<f64>()).sqrt();
        let one = convolution.tail(Tail::MoreThan, x);
        let other = Tilt::of(&parts).unwrap().tail(false, x);
        // because: a convolution takes a normal law to end where 1e-60 is left
        if let Some(other) = other && one.value > 1e-45 {
            prop_assert!((one.value - other.value).abs() <= one.error + other.error, "{:?} {:?}", one, other);
            prop_assert!(other.error <= 1e-9 * other.value || other.value > 1e-3, "{:?}", other);
        } else {
            prop_assert!(one.value > 1e-2 || one.value < 1e-45, "{:?}", one);
        }
    }
}
