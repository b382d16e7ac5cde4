//! Check values of batches.

use super::*;
use crate::{Band, Expr, Stack};
use kerfwise_source::{Dimension, Distribution, Source};

/// A set-up error that is shared, an error of each piece, a band of ±0.005.
struct Joints {
    id: &'static str,
    pieces: u32,
    /// Law of the shared error: standard deviation of a normal, half-width of others.
    set_up: (&'static str, f64),
    piece_sd: f64,
    mean: f64,
    one: f64,
    all: f64,
    none: f64,
    expected: f64,
    variance: f64,
    /// P(exactly k fit), where given.
    counts: &'static [f64],
}

/// Own oracles, reference file section 9.2: P(all) by two routes to 1e-20, sums of counts 1 to 1e-22.
const JOINTS: [Joints; 12] = [
    Joints {
        id: "joints-1",
        pieces: 8,
        set_up: ("normal", 0.0015),
        piece_sd: 0.001,
        mean: 0.0,
        one: 0.9944543326847559,
        all: 0.9718080493158301,
        none: 6.146978869487615e-05,
        expected: 7.955634661478047,
        variance: 0.10234528406482529,
        counts: &[
            6.146978869487615e-05,
            0.00013827772709222122,
            0.0002665008824514746,
            0.0004963203036379233,
            0.0009459770481879543,
            0.001954833304855668,
            0.004848049573280875,
            0.019480522055968875,
            0.9718080493158301,
        ],
    },
    Joints {
        id: "joints-2",
        pieces: 8,
        set_up: ("normal", 0.002),
        piece_sd: 0.002,
        mean: 0.0,
        one: 0.9229001282564583,
        all: 0.6444249883014339,
        none: 0.0006154503884524867,
        expected: 7.383201026051666,
        variance: 1.1870237619280024,
        counts: &[
            0.0006154503884524867,
            0.0018333852501334967,
            0.0041027705697052105,
            0.008315056385704008,
            0.016431898073701334,
            0.033469943730040135,
            0.07590583795727336,
            0.21490066934355603,
            0.6444249883014339,
        ],
    },
    Joints {
        id: "joints-3",
        pieces: 8,
        set_up: ("normal", 0.0),
        piece_sd: 0.0025,
        mean: 0.0,
        one: 0.9544997361036416,
        all: 0.6889798192301797,
        none: 1.8370091698213825e-11,
        expected: 7.635997888829133,
        variance: 0.34743991905376126,
        counts: &[
            1.8370091698213825e-11,
            3.0829267659782757e-09,
            2.2635659365395917e-07,
            9.496969485722708e-06,
            0.0002490330300213974,
            0.004179350906235748,
            0.04383699121144888,
            0.2627450791947381,
            0.6889798192301797,
        ],
    },
    Joints {
        id: "joints-4",
        pieces: 8,
        set_up: ("normal", 0.0025),
        piece_sd: 5e-05,
        mean: 0.0,
        one: 0.9544565390137446,
        all: 0.9513196466590954,
        none: 0.04252748718167648,
        expected: 7.635652312109957,
        variance: 2.7137651982185473,
        counts: &[
            0.04252748718167648,
            0.0011734514794650261,
            0.0007963560310745445,
            0.000682643714957025,
            0.0006588309315033191,
            0.0007011210483452124,
            0.0008431254942114328,
            0.001297337459671522,
            0.9513196466590954,
        ],
    },
    Joints {
        id: "joints-5",
        pieces: 4,
        set_up: ("normal", 0.001),
        piece_sd: 0.0015,
        mean: 0.0015,
        one: 0.973742436840959,
        all: 0.9087721534004692,
        none: 0.0001399261351286901,
        expected: 3.894969747363836,
        variance: 0.12532713034287649,
        counts: &[
            0.0001399261351286901,
            0.0014419313957450114,
            0.010498764839757242,
            0.07914722422889983,
            0.9087721534004692,
        ],
    },
    Joints {
        id: "joints-6",
        pieces: 12,
        set_up: ("normal", 0.002),
        piece_sd: 0.0005,
        mean: 0.001,
        one: 0.9720227948954456,
        all: 0.9373994419078239,
        none: 0.008926009486197959,
        expected: 11.664273538745348,
        variance: 2.733500571109269,
        counts: &[
            0.008926009486197959,
            0.003381641892073144,
            0.0027739497830938107,
            0.00261428248842855,
            0.002632720117880308,
            0.0027736680566894127,
            0.0030386348845555635,
            0.003468109087571054,
            0.0041631889420553495,
            0.0053740578835869855,
            0.007869229406593415,
            0.015585066063450614,
            0.9373994419078239,
        ],
    },
    Joints {
        id: "joints-7",
        pieces: 2,
        set_up: ("normal", 0.0012),
        piece_sd: 0.0018,
        mean: 0.0,
        one: 0.979180995093516,
        all: 0.9596012445464819,
        none: 0.0012392543594499858,
        expected: 1.958361990187032,
        variance: 0.04238279467068325,
        counts: &[
            0.0012392543594499858,
            0.03915950109406814,
            0.9596012445464819,
        ],
    },
    Joints {
        id: "joints-8",
        pieces: 24,
        set_up: ("normal", 0.003),
        piece_sd: 0.001,
        mean: 0.0,
        one: 0.886153701993342,
        all: 0.684142210248082,
        none: 0.022335189411096575,
        expected: 21.26768884784021,
        variance: 35.88647029295447,
        counts: &[],
    },
    Joints {
        id: "joints-9",
        pieces: 48,
        set_up: ("normal", 0.0008),
        piece_sd: 0.0008,
        mean: 0.0,
        one: 0.9999901032653747,
        all: 0.9995782153897719,
        none: 1.9318542072026287e-15,
        expected: 47.999524956737986,
        variance: 0.00065128682627767,
        counts: &[],
    },
    Joints {
        id: "joints-10",
        pieces: 8,
        set_up: ("normal", 0.0018),
        piece_sd: 0.0012,
        mean: -0.0022,
        one: 0.901782127194549,
        all: 0.711183250139431,
        none: 0.009812927888872782,
        expected: 7.214257017556392,
        variance: 2.682399275381027,
        counts: &[
            0.009812927888872782,
            0.011797077378950213,
            0.014872313096319305,
            0.019197444539542023,
            0.025640037493369246,
            0.03624237408422382,
            0.05689706879890863,
            0.11435750658038306,
            0.711183250139431,
        ],
    },
    Joints {
        id: "joints-11",
        pieces: 8,
        set_up: ("rect", 0.003),
        piece_sd: 0.001,
        mean: 0.0,
        one: 0.9971697657943901,
        all: 0.9782803843271438,
        none: 1.2363589237671236e-15,
        expected: 7.977358126355121,
        variance: 0.024031381315331248,
        counts: &[
            1.2363589237671236e-15,
            4.857051489017559e-13,
            8.521799247572485e-11,
            8.787331631993208e-09,
            5.897728676770941e-07,
            2.7000182194624865e-05,
            0.000866452710690967,
            0.020825564134066374,
            0.9782803843271438,
        ],
    },
    Joints {
        id: "joints-12",
        pieces: 8,
        set_up: ("arcsine", 0.002),
        piece_sd: 0.0012,
        mean: 0.0,
        one: 0.9977395324283577,
        all: 0.9821924586069278,
        none: 2.8697611185385454e-19,
        expected: 7.981916259426861,
        variance: 0.018314748301665865,
        counts: &[
            2.8697611185385454e-19,
            3.9284456283265994e-16,
            2.377215389361069e-13,
            8.337217959891428e-11,
            1.8653429168498143e-08,
            2.759057851533839e-06,
            0.0002706247693963476,
            0.017534138828784823,
            0.9821924586069278,
        ],
    },
];

/// A function of the chances with what it changes by when they are moved by their error, either way.
fn of(g: impl Fn(&Chance) -> f64) -> impl Fn(&Bounded<Chance>) -> Bounded<f64> {
    move |chance| {
        let Chance {
            below,
            inside,
            above,
        } = chance.value;
        let at = g(&chance.value);
        let outside = below + above;
        let share = if outside > 0.0 { below / outside } else { 0.5 };
        let error = [-chance.error, chance.error]
            .into_iter()
            .map(|off| {
                let off = off.clamp(-outside, inside);
                let moved = Chance {
                    below: below + share * off,
                    inside: inside - off,
                    above: above + (1.0 - share) * off,
                };
                (g(&moved) - at).abs()
            })
            .fold(0.0, f64::max);
        Bounded { value: at, error }
    }
}

fn inches(x: f64) -> Quantity {
    Quantity::new(x, Dimension::LENGTH)
}

fn error(name: &str, estimate: f64, law: Distribution, event: Event) -> Source {
    Source::new(name, inches(estimate))
        .error(law)
        .event(event)
        .build()
        .unwrap()
}

fn sum(sources: &[Source], band: Band) -> Stack {
    let total = sources
        .iter()
        .map(Expr::source)
        .reduce(|a, b| a + b)
        .unwrap();
    Stack::builder()
        .outcome("fit", &total, band)
        .build()
        .unwrap()
}

fn within(half_width: f64) -> Band {
    Band::within(inches(half_width)).unwrap()
}

impl Joints {
    fn stack(&self) -> Stack {
        let (law, size) = self.set_up;
        let law = match law {
            _ if size == 0.0 => Distribution::point(0.0),
            "normal" => Distribution::normal(0.0, size),
            "rect" => Distribution::rectangular(-size, size),
            _ => Distribution::arcsine(-size, size),
        };
        let piece = Distribution::normal(0.0, self.piece_sd).unwrap();
        sum(
            &[
                error("set_up", self.mean, law.unwrap(), Event::tenon_set_up()),
                error("piece", 0.0, piece, Event::piece()),
            ],
            within(0.005),
        )
    }
}

#[test]
fn joints_with_one_common_set_up() {
    for joints in &JOINTS {
        let stack = joints.stack();
        let fit = stack.outcome("fit").unwrap();
        let batch = fit.batch(Batch::of(joints.pieces)).unwrap();
        let close = |what: &str, got: Bounded<f64>, want: f64| {
            let label = format!("{} {what}: {got:?} {want}", joints.id);
            assert!((got.value - want).abs() <= got.error, "{label}");
            // Chances are given to 1e-13 in the reference file; bounds should not be much wider.
            assert!(got.error < 1e-12, "{label}");
        };
        let one = Bounded {
            value: batch.one.value.inside,
            error: batch.one.error,
        };
        close("one", one, joints.one);
        close("all", batch.all, joints.all);
        close("none", batch.none, joints.none);
        let n = f64::from(joints.pieces);
        let mixture = Mixture::of(fit, &Event::piece()).unwrap();
        let mean = mixture.mix(&of(|chance| n * chance.inside));
        assert!(
            (mean.value - joints.expected).abs() <= mean.error,
            "{} {mean:?}",
            joints.id
        );
        assert!(mean.error < 1e-10, "{} {mean:?}", joints.id);
        // Var = E[n p (1 - p)] + n² E[p²] - (n E p)².
        let square = mixture.mix(&of(|chance| {
            let p = chance.inside;
            n * p * (1.0 - p) + n * n * p * p
        }));
        let variance = square.value - mean.value * mean.value;
        // A difference of numbers up to 2304.
        assert!(
            (variance - joints.variance).abs() < 1e-10,
            "{} {variance}",
            joints.id
        );
        for (k, want) in joints.counts.iter().enumerate() {
            let k = k as f64;
            let count = mixture.mix(&of(|chance| {
                let p = chance.inside;
                choose(n, k) * float::powf(p, k) * float::powf(1.0 - p, n - k)
            }));
            close("count", count, *want);
        }
    }
}

fn choose(n: f64, k: f64) -> f64 {
    (0..k as u32)
        .map(|i| (n - f64::from(i)) / (k - f64::from(i)))
        .product()
}

/// The reference stack: inches, in the order shared, then each piece's own.
fn reference() -> Stack {
    let shared = Event::tenon_set_up;
    let piece = Event::piece;
    let normal = |sd| Distribution::normal(0.0, sd).unwrap();
    let rectangular = |a: f64| Distribution::rectangular(-a, a).unwrap();
    let t4 = Distribution::student_t(0.0, 4e-4, 4.0).unwrap();
    let drift = Distribution::normal(-3e-4, 3e-4).unwrap();
    let cosine = Distribution::rectangular(2.0833e-4 - 3.227e-4, 2.0833e-4 + 3.227e-4).unwrap();
    let feel = Distribution::triangular(-1e-3, 0.0, 1e-3).unwrap();
    let run_out = Distribution::arcsine(-1.2e-3, 1.2e-3).unwrap();
    sum(
        &[
            error("mortise", 0.0, t4, shared()),
            error("calibration", 0.0, normal(5e-4), shared()),
            error("drift", 0.0, drift, shared()),
            error("indicator", 0.0, rectangular(5e-4), shared()),
            error("cosine", 0.0, cosine, shared()),
            error("caliper", 0.0, rectangular(5e-4), piece()),
            error("wedge", 0.0, feel, piece()),
            error("kerf", 0.0, normal(4e-4), piece()),
            error("run_out", 0.0, run_out, piece()),
            error("saw", 0.0, normal(1e-3), piece()),
        ],
        within(0.005),
    )
}

#[test]
fn the_reference_batch_of_24() {
    let stack = reference();
    let batch = stack.outcome("fit").unwrap().batch(Batch::of(24)).unwrap();
    // Own oracle, quadrature on the set-up density with exact inner chances, prototype figures section 6.
    let want = 0.944_602_452_108_67;
    assert!(
        (batch.all.value - want).abs() <= batch.all.error + 5e-15,
        "{batch:?}"
    );
    assert!(batch.all.error < 1e-11, "{batch:?}");
    // Own oracle at 32 digits, same file.
    let one = 0.996_731_519_724_920_1;
    assert!(
        (batch.one.value.inside - one).abs() <= batch.one.error,
        "{batch:?}"
    );
    assert!((batch.if_independent - 0.9244).abs() < 5e-5, "{batch:?}");
}

#[test]
fn few_pieces_and_nothing_shared_or_nothing_else() {
    let stack = reference();
    let fit = stack.outcome("fit").unwrap();
    let none = fit.batch(Batch::of(0)).unwrap();
    let both = [none.all.value, none.none.value].map(f64::to_bits);
    assert_eq!(both, [1.0_f64.to_bits(); 2]);
    let one = fit.batch(Batch::of(1)).unwrap();
    assert_eq!(one.all.value.to_bits(), one.one.value.inside.to_bits());
    // The same by the quadrature over what is shared.
    let mixture = Mixture::of(fit, &Event::piece()).unwrap();
    let inside = mixture.mix(&of(|chance| chance.inside));
    assert!(
        (inside.value - one.all.value).abs() <= inside.error + one.one.error,
        "{inside:?}"
    );
    // Everything redrawn: independent. "tenon set-up" redraws nothing of a piece, "all" redraws all.
    let all = Event::new("all");
    let a = error(
        "a",
        0.0,
        Distribution::normal(0.0, 1e-3).unwrap(),
        all.clone(),
    );
    let alone = sum(&[a], within(0.002));
    let fit = alone.outcome("fit").unwrap();
    let apart = fit.batch(Batch::of(7).redrawn_by(all)).unwrap();
    assert!(
        (apart.all.value - apart.if_independent).abs() <= apart.all.error,
        "{apart:?}"
    );
    assert_eq!(apart.shared_standard_deviation, None);
    // Nothing redrawn: all pieces are alike.
    let alike = fit.batch(Batch::of(7)).unwrap();
    assert_eq!(alike.all.value.to_bits(), alike.one.value.inside.to_bits());
    assert_eq!(alike.piece_standard_deviation, None);
}

/// By sums of equal steps and by the quadrature that adapts, for stacks of many shapes: both are right to their bounds.
#[test]
fn equal_steps_agree_with_the_adaptive_quadrature() {
    let rectangular = |a: f64| Distribution::rectangular(-a, a).unwrap();
    let normal = |mean: f64, sd: f64| Distribution::normal(mean, sd).unwrap();
    let t = |scale: f64, nu: f64| Distribution::student_t(0.0, scale, nu).unwrap();
    let skew = || Distribution::two_piece_normal(0.0, 4e-4, 9e-4).unwrap();
    let both = Band::within(inches(0.005)).unwrap();
    let narrow = Band::within(inches(2e-6)).unwrap();
    let aside = Band::between(inches(0.001), inches(0.004)).unwrap();
    let above = Band::at_least(inches(-0.004)).unwrap();
    let below = Band::at_most(inches(0.004)).unwrap();
    let cases: [(Vec<Distribution>, Vec<Distribution>, Band, u32); 9] = [
        (
            vec![t(4e-4, 4.0), normal(0.0, 6e-4)],
            vec![normal(0.0, 1e-3), rectangular(1e-3)],
            both,
            24,
        ),
        (
            vec![t(4e-4, 4.0), normal(0.0, 6e-4)],
            vec![normal(0.0, 1e-3), rectangular(1e-3)],
            below,
            24,
        ),
        (
            vec![normal(1e-3, 6e-4), rectangular(5e-4)],
            vec![normal(0.0, 1e-3)],
            above,
            8,
        ),
        (
            vec![normal(0.0, 2e-3)],
            vec![normal(0.0, 3e-4), rectangular(3e-4)],
            aside,
            500,
        ),
        (
            vec![skew(), normal(0.0, 5e-4), rectangular(2e-4)],
            vec![skew(), normal(0.0, 7e-4), rectangular(3e-4)],
            both,
            3,
        ),
        (
            vec![normal(0.0, 1e-3), rectangular(5e-4)],
            vec![normal(0.0, 1e-3), rectangular(5e-4)],
            narrow,
            2,
        ),
        (
            vec![t(3e-4, 2.0), normal(0.0, 4e-4)],
            vec![normal(0.0, 3e-5), rectangular(5e-5)],
            aside,
            12,
        ),
        (
            vec![normal(0.0, 3e-5), rectangular(5e-5)],
            vec![normal(0.0, 1e-3), rectangular(1e-3)],
            both,
            48,
        ),
        (
            vec![normal(6e-3, 1e-3), rectangular(5e-5)],
            vec![normal(0.0, 1e-3), rectangular(1e-3)],
            both,
            48,
        ),
    ];
    for (i, (shared, own, band, n)) in cases.into_iter().enumerate() {
        let named = |of: &str, k: usize, law: Distribution, event| {
            error(&format!("{of}{k}"), 0.0, law, event)
        };
        let sources: Vec<Source> = shared
            .into_iter()
            .enumerate()
            .map(|(k, law)| named("shared", k, law, Event::tenon_set_up()))
            .chain(
                own.into_iter()
                    .enumerate()
                    .map(|(k, law)| named("own", k, law, Event::piece())),
            )
            .collect();
        let stack = sum(&sources, band);
        let mixture = Mixture::of(stack.outcome("fit").unwrap(), &Event::piece()).unwrap();
        let one = mixture.one();
        for f in [&|of: &_| all_fit(of, n) as _, &|of: &_| {
            none_fits(of, n) as _
        }] as [Of<'_>; 2]
        {
            let (quick, step) = FINENESS
                .iter()
                .filter_map(|fineness| Nodes::of(&mixture, one, *fineness))
                .map(|nodes| nodes.expect(f))
                .find(|(_, step)| *step < STEP_ERROR)
                .unwrap();
            let slow = mixture.mix(f);
            let label = format!("case {i}: {quick:?} {step:e} {slow:?}");
            assert!(
                (quick.value - slow.value).abs() <= quick.error + slow.error,
                "{label}"
            );
            // Chances of a piece are known to a few 1e-14, of which n come together.
            assert!(quick.error < 1e-13 * f64::from(n).max(5.0), "{label}");
        }
    }
}
