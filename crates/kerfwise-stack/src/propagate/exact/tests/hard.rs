//! Hard sums: heavy tails, spreads far apart, poles, laws without a closed characteristic function.
//!
//! Upper tails computed independently by one-dimensional conditioning, at 30 digits, with mpmath.

use super::*;

fn t(scale: f64, nu: f64) -> Distribution {
    Distribution::student_t(0.0, scale, nu).unwrap()
}
fn lognormal(log_sd: f64) -> Distribution {
    Distribution::lognormal(0.0, 0.0, log_sd).unwrap()
}
fn beta(a: f64, b: f64) -> Distribution {
    Distribution::beta(0.0, 1.0, a, b).unwrap()
}
fn cut_normal() -> Distribution {
    Distribution::truncated_normal(0.0, 1.0, -1.0, 2.0).unwrap()
}
/// One piece in fifty is chipped.
fn chip() -> Distribution {
    let chipped = Distribution::exponential(3.0, 1.0).unwrap();
    Distribution::mixture(vec![(0.98, normal(0.4)), (0.02, chipped)]).unwrap()
}

/// Places and upper tails there.
type Tails = &'static [(f64, f64)];

fn cases() -> Vec<(Vec<Distribution>, Tails)> {
    vec![
        (
            vec![t(1.0, 1.0), normal(0.025)],
            &[
                (0.5, 0.3524799870661775),
                (3.0, 0.10242235155536111),
                (12.7, 0.025012259774861254),
                (1000.0, 0.0003183097802795022),
                (1000000.0, 3.1830988618368477e-07),
            ],
        ),
        (
            vec![t(1.0, 2.0), rect(0.5), normal(0.3)],
            &[
                (0.7, 0.29460780115882546),
                (4.0, 0.029379771493800604),
                (50.0, 0.00019992160989892),
                (10000.0, 4.999999951e-09),
            ],
        ),
        (
            vec![t(1.0, 1.5), rect(0.5), normal(0.3)],
            &[
                (0.7, 0.304286064799101),
                (4.0, 0.04572306224136162),
                (50.0, 0.0010663539549622106),
                (10000.0, 3.770852413970024e-07),
            ],
        ),
        (
            vec![t(1.0, 4.0), rect(0.5), normal(0.3)],
            &[
                (0.7, 0.2781373830280093),
                (4.0, 0.008681727711612538),
                (50.0, 4.790538437909874e-07),
                (10000.0, 2.999999852000004e-16),
            ],
        ),
        (
            vec![arcsine(1.0), normal(0.01)],
            &[
                (0.9, 0.14339163264319071),
                (1.0, 0.01852171201819446),
                (1.02, 0.0005620490487844813),
                (-0.5, 0.6666789241435654),
            ],
        ),
        (
            vec![arcsine(1e4), rect(10.0), normal(1.0)],
            &[
                (9995.0, 0.00873247562457564),
                (3000.0, 0.4030132970952546),
                (10004.0, 0.0022284822053405735),
            ],
        ),
        (
            vec![lognormal(0.5), normal(0.3)],
            &[
                (0.2, 0.9596131876744446),
                (-1.0, 0.9999997400480418),
                (3.0, 0.01609603597902204),
                (20.0, 1.0586873184742753e-09),
            ],
        ),
        (
            vec![lognormal(0.5), rect(0.4), normal(0.3)],
            &[(0.2, 0.9382658313790992), (3.0, 0.017482235738442993)],
        ),
        (
            vec![exponential(1.0), rect(0.5)],
            &[
                (-0.3, 0.9812692469220181),
                (0.2, 0.8034146962085905),
                (1.0, 0.3834004995642036),
                (30.0, 9.752426799286155e-14),
            ],
        ),
        (
            vec![exponential(1.0), exponential(-0.5)],
            &[
                (-2.0, 0.9938947870370886),
                (0.5, 0.40435377314175563),
                (4.0, 0.012210425925822787),
            ],
        ),
        (
            vec![exponential(1.0), exponential(0.5)],
            &[
                (0.5, 0.8451818782538245),
                (4.0, 0.03629581514956585),
                (20.0, 4.122307240628762e-09),
            ],
        ),
        (
            vec![beta(2.0, 3.0), tri(0.25)],
            &[
                (-0.2, 0.999951975),
                (0.1, 0.912097975),
                (0.8, 0.043919775),
                (1.2, 9.75e-07),
            ],
        ),
        (
            vec![t(1.0, 4.0), t(2.0, 3.0)],
            &[
                (1.0, 0.35228619065635325),
                (10.0, 0.008909691283293506),
                (200.0, 1.1044726451634405e-06),
                (5000.0, 7.057489186126902e-11),
            ],
        ),
        (
            vec![exponential(1.0), arcsine(1.0)],
            &[
                (-0.9, 0.990831941761353),
                (0.3, 0.6927847533581853),
                (5.0, 0.008530684781643653),
            ],
        ),
        (
            vec![lognormal(0.5), t(0.5, 3.0)],
            &[(2.0, 0.15561459245943254), (40.0, 2.3497104889876295e-06)],
        ),
        (
            vec![
                Distribution::curvilinear_trapezoid(-1.0, 1.0, 0.2).unwrap(),
                normal(0.05),
            ],
            &[
                (0.7, 0.14522908369594587),
                (1.1, 0.006773869458257127),
                (-1.3, 0.9999923876797165),
            ],
        ),
        (
            vec![
                Distribution::two_piece_normal(0.0, 1.0, 2.0).unwrap(),
                rect(1.0),
            ],
            &[
                (-2.0, 0.9723555612431205),
                (0.5, 0.5399852423723304),
                (6.0, 0.002594208347609036),
            ],
        ),
        (
            vec![cut_normal(), cut_normal()],
            &[
                (-1.0, 0.9271953245424829),
                (1.0, 0.29713166296139565),
                (3.5, 0.0010380069915193126),
            ],
        ),
        (
            vec![chip(), rect(0.5), normal(0.3)],
            &[
                (0.5, 0.21132127311445503),
                (-1.0, 0.9593626750273871),
                (2.0, 0.02017519643174613),
                (6.0, 0.0010855178217015209),
            ],
        ),
        (
            vec![beta(0.7, 1.5), arcsine(0.3)],
            &[
                (-0.1, 0.8797233586803644),
                (0.3, 0.5066543815622724),
                (1.1, 0.0131597324986913),
            ],
        ),
    ]
}

#[test]
fn upper_tails() {
    let mut missed = Vec::new();
    for (laws, tails) in cases() {
        let names: Vec<&str> = laws.iter().map(Distribution::name).collect();
        let sum = sum_of(&laws);
        for &(y, want) in tails {
            let above = sum.tail(Tail::MoreThan, y);
            let below = sum.tail(Tail::AtMost, y);
            // The bound is what is tested, with half an ulp for the printed value itself.
            let printed = f64::EPSILON * want;
            let (off, other) = (above.value - want, below.value - (1.0 - want));
            if off.abs() > above.error + printed || other.abs() > below.error + f64::EPSILON {
                missed.push(format!(
                    "{} at {y} by {}: {above:?} is off by {off:e}, {below:?} by {other:e}",
                    names.join(" + "),
                    sum.route()
                ));
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

/// Atoms about which the rest has poles. Lower tails computed independently at 40 digits with mpmath, for these binary numbers.
#[test]
fn poles_about_atoms() {
    let tails = |atoms: &[(f64, f64)], half: f64, x: f64| {
        let sum = sum_of(&[Distribution::discrete(atoms).unwrap(), arcsine(half)]);
        sum.tail(Tail::AtMost, x)
    };
    let near = [(-0.3, 0.05), (0.0, 0.95)];
    for (x, expected) in [
        (-0.27525319011, 0.150_000_000_006_307_73),
        (0.28374517251, 0.899_999_999_999_408_8),
    ] {
        let got = tails(&near, 0.3, x);
        assert!((got.value - expected).abs() <= got.error, "{x}: {got:?}");
        assert!(got.error < 1e-14, "{x}: {got:?}");
    }
    // At a pole the last bit of the place moves the chance by 4e-9, and the bound says so.
    let ends = [(0.7, 0.5), (1.0, 0.5)];
    for (x, expected) in [
        (0.8, 0.5),
        (0.8_f64.next_down(), 0.499_999_996_250_181_5),
        (0.8_f64.next_down().next_down(), 0.499_999_991_615_150_9),
    ] {
        let got = tails(&ends, 0.1, x);
        assert!((got.value - expected).abs() <= got.error, "{x}: {got:?}");
        assert!(got.error < 2e-8, "{x}: {got:?}");
    }
}
