//! Characteristic functions of laws without a short closed form.

use super::*;
use crate::propagate::exact::comb::{Comb, GROUP};
use crate::propagate::exact::measure::Measure;
use crate::propagate::exact::part::{Part, Shape};
use crate::propagate::exact::transform::characteristic;
use kerfwise_numeric::float;

fn laws() -> Vec<Distribution> {
    let mut laws = Vec::new();
    for p in [-1.0, -0.97, -0.3, 0.5, 1.0] {
        laws.push(Distribution::triangular(-1.0, p, 1.0));
    }
    for d in [0.01, 0.3, 0.8, 1.0] {
        laws.push(Distribution::curvilinear_trapezoid(-1.0, 1.0, d));
    }
    for s in [0.05, 0.3, 0.6, 1.0, 1.6] {
        laws.push(Distribution::lognormal(0.0, 0.0, s));
    }
    for (a, b) in [
        (0.6, 0.7),
        (0.6, 5.0),
        (1.0, 0.5),
        (1.3, 2.0),
        (4.9, 2.7),
        (40.0, 9.5),
        (2.0, 3.0),
        (1.0, 1.0),
        (0.05, 3.0),
    ] {
        laws.push(Distribution::beta(0.0, 1.0, a, b));
    }
    for (lo, hi) in [
        (-2.0, 0.2),
        (-0.1, 2.0),
        (-8.0, 7.0),
        (0.5, 3.0),
        (3.0, f64::INFINITY),
        (-f64::INFINITY, -1.0),
    ] {
        laws.push(Distribution::truncated_normal(0.0, 1.0, lo, hi));
    }
    for s in [0.05, 0.3, 1.0, 2.0] {
        laws.push(Distribution::two_piece_normal(0.0, 1.0, s));
    }
    laws.into_iter().map(Result::unwrap).collect()
}

/// Equal steps from next to zero.
fn comb(step: f64, groups: usize) -> Comb {
    let mut offsets = [0.0; GROUP];
    for (i, offset) in offsets.iter_mut().enumerate() {
        *offset = step * i as f64;
    }
    Comb {
        head: Vec::new(),
        starts: (0..groups)
            .map(|g| step * ((GROUP * g) as f64 + 0.5))
            .collect(),
        offsets,
    }
}

#[test]
fn far_and_near_agree_and_the_envelope_holds() {
    let mut missed = Vec::new();
    for law in laws() {
        for factor in [1.0, -0.01] {
            let (_, part) = Part::new(&law, factor).unwrap();
            let part = part.unwrap();
            let comb = comb(0.31 / part.scale, 36);
            let at: Vec<f64> = comb.nodes().collect();
            let highest = at[at.len() - 1];
            let (phi, error) = characteristic(&part, &comb, &at, highest);
            let label = format!("{law:?}").chars().take(90).collect::<String>();
            // Densities are trusted to 4e-15; the logarithm in the middle of a curvilinear triangle costs a digit.
            if error > 2e-14 {
                missed.push(format!("{label}: {error:e}"));
            }
            // Every node by the law itself.
            let (nodes, off) = match &part.shape {
                Shape::Smooth(_) => Measure::new(&part).nodes(highest),
                _ => continue,
            };
            for (i, t) in comb.nodes().enumerate().step_by(7) {
                let (mut re, mut im) = (0.0, 0.0);
                for (x, w) in &nodes {
                    let (sin, cos) = float::sin_cos(t * x);
                    re += w * cos;
                    im += w * sin;
                }
                let miss = float::hypot(re - phi.re[i], im - phi.im[i]);
                // Some hundred terms that add up to one.
                if miss > error + 1.1 * off + 5e-15 {
                    missed.push(format!("{label} at {t}: {miss:e} {error:e} {off:e}"));
                }
                let (log, fall) = part.envelope(t);
                let size = float::hypot(re, im);
                let bound = float::exp(log) * (1.0 + 1e-9) + off + 5e-15;
                if size > bound || fall < 0.0 {
                    missed.push(format!("{label} at {t}: {size:e} {log} {fall}"));
                }
            }
        }
    }
    assert!(
        missed.is_empty(),
        "{} misses:\n{}",
        missed.len(),
        missed.join("\n")
    );
}
