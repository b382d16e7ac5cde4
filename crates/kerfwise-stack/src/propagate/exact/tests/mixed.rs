//! The mixed stacks of the reference file, section 7.8: "own oracle, nested conditioning and characteristic-function
//! inversion at 32 digits". Inches.

use super::*;

struct Stack {
    id: &'static str,
    terms: &'static [(Kind, f64, f64, f64)],
    mean: f64,
    band: (f64, f64),
    /// Chances outside the band: below, above.
    outside: (f64, f64),
    sd: f64,
    /// Half-widths about the mean of 95 % and 99 %, where given.
    half_widths: Option<(f64, f64)>,
}

#[derive(Clone, Copy)]
enum Kind {
    Normal,
    Rectangular,
    Triangular,
    Arcsine,
    /// Scale and degrees of freedom.
    Student,
    /// Half-width and top ratio.
    Trapezoidal,
}

impl Kind {
    fn law(self, a: f64, b: f64) -> Distribution {
        match self {
            Self::Normal => Distribution::normal(0.0, a),
            Self::Rectangular => Distribution::rectangular(-a, a),
            Self::Triangular => Distribution::triangular(-a, 0.0, a),
            Self::Arcsine => Distribution::arcsine(-a, a),
            Self::Student => Distribution::student_t(0.0, a, b),
            Self::Trapezoidal => Distribution::trapezoidal(-a, a, b),
        }
        .unwrap()
    }
}

/// Kind, its two numbers, sensitivity.
const STACKS: [Stack; 20] = [
    Stack {
        id: "stack-s01",
        terms: &[
            (Kind::Normal, 0.0012, 0.0, 1.0),
            (Kind::Rectangular, 0.002, 0.0, 1.0),
            (Kind::Triangular, 0.0015, 0.0, 1.0),
        ],
        mean: 0.0,
        band: (-0.005, 0.005),
        outside: (0.0014764706252460185, 0.0014764706252460185),
        sd: 0.0017743543426647715,
        half_widths: Some((0.0034275895336843276, 0.004396793254909551)),
    },
    Stack {
        id: "stack-s02",
        terms: &[
            (Kind::Normal, 0.001, 0.0, 1.0),
            (Kind::Rectangular, 0.0015, 0.0, 1.0),
            (Kind::Arcsine, 0.0025, 0.0, 1.0),
        ],
        mean: 0.0,
        band: (-0.005, 0.005),
        outside: (0.004899516528188775, 0.004899516528188775),
        sd: 0.002207940216581962,
        half_widths: Some((0.004079247531168647, 0.004990184312735147)),
    },
    Stack {
        id: "stack-s03",
        terms: &[
            (Kind::Normal, 0.0008, 0.0, 1.0),
            (Kind::Rectangular, 0.002, 0.0, 1.0),
            (Kind::Triangular, 0.0015, 0.0, 1.0),
            (Kind::Arcsine, 0.0012, 0.0, 1.0),
            (Kind::Student, 0.0005, 4.0, 1.0),
        ],
        mean: 0.0,
        band: (-0.005, 0.005),
        outside: (0.0030838600985619836, 0.0030838600985619836),
        sd: 0.0018890032645110313,
        half_widths: None,
    },
    Stack {
        id: "stack-s04",
        terms: &[
            (Kind::Rectangular, 0.0055, 0.0, 1.0),
            (Kind::Normal, 0.0004, 0.0, 1.0),
            (Kind::Triangular, 0.0005, 0.0, 1.0),
        ],
        mean: 0.0,
        band: (-0.005, 0.005),
        outside: (0.048179733436924194, 0.048179733436924194),
        sd: 0.003207023542164915,
        half_widths: Some((0.005333096976498545, 0.005854728734298739)),
    },
    Stack {
        id: "stack-s05",
        terms: &[
            (Kind::Arcsine, 0.0052, 0.0, 1.0),
            (Kind::Normal, 0.0003, 0.0, 1.0),
            (Kind::Rectangular, 0.0004, 0.0, 1.0),
        ],
        mean: 0.0,
        band: (-0.005, 0.005),
        outside: (0.08083170663432357, 0.08083170663432357),
        sd: 0.0036963946398258576,
        half_widths: Some((0.005419872214834827, 0.005759769205647382)),
    },
    Stack {
        id: "stack-s06",
        terms: &[
            (Kind::Normal, 0.00058, 0.0, 1.0),
            (Kind::Rectangular, 0.0012, 0.0, 1.0),
            (Kind::Triangular, 0.001, 0.0, 1.0),
        ],
        mean: 0.0,
        band: (-0.005, 0.005),
        outside: (3.6368986870526124e-10, 3.6368986870526124e-10),
        sd: 0.0009914971843967418,
        half_widths: None,
    },
    Stack {
        id: "stack-s07",
        terms: &[
            (Kind::Student, 0.0015, 4.0, 1.0),
            (Kind::Normal, 0.0005, 0.0, 1.0),
            (Kind::Rectangular, 0.001, 0.0, 1.0),
        ],
        mean: 0.0,
        band: (-0.005, 0.005),
        outside: (0.016634786118627794, 0.016634786118627794),
        sd: 0.002254624876411447,
        half_widths: None,
    },
    Stack {
        id: "stack-s08",
        terms: &[
            (Kind::Normal, 0.001, 0.0, 1.0),
            (Kind::Rectangular, 0.0015, 0.0, 1.0),
            (Kind::Arcsine, 0.001, 0.0, 1.0),
        ],
        mean: 0.0018,
        band: (-0.005, 0.005),
        outside: (1.1267114499200288e-07, 0.014778980874580041),
        sd: 0.0015,
        half_widths: None,
    },
    Stack {
        id: "stack-s09",
        terms: &[
            (Kind::Normal, 0.0007, 0.0, 1.0),
            (Kind::Rectangular, 0.001, 0.0, 1.0),
            (Kind::Triangular, 0.0012, 0.0, 1.0),
            (Kind::Arcsine, 0.0008, 0.0, 1.0),
            (Kind::Student, 0.0004, 4.0, 1.0),
            (Kind::Trapezoidal, 0.001, 0.5, 1.0),
        ],
        mean: -0.0007,
        band: (-0.005, 0.005),
        outside: (0.0011150814192955633, 0.00013873847549751643),
        sd: 0.0013826303434637426,
        half_widths: None,
    },
    Stack {
        id: "stack-s10",
        terms: &[
            (Kind::Normal, 1e-05, 0.0, 1.0),
            (Kind::Rectangular, 0.0045, 0.0, 1.0),
            (Kind::Triangular, 0.0002, 0.0, 1.0),
            (Kind::Arcsine, 3e-06, 0.0, 1.0),
        ],
        mean: 0.0008,
        band: (-0.005, 0.005),
        outside: (0.0, 0.03333333333333333),
        sd: 0.002599378996350218,
        half_widths: None,
    },
    Stack {
        id: "stack-s11",
        terms: &[
            (Kind::Rectangular, 0.002, 0.0, 1.0),
            (Kind::Triangular, 0.002, 0.0, 1.0),
            (Kind::Arcsine, 0.0015, 0.0, 1.0),
        ],
        mean: 0.0,
        band: (-0.005, 0.005),
        outside: (0.00015618580406160209, 0.00015618580406160209),
        sd: 0.0017677669529663688,
        half_widths: None,
    },
    Stack {
        id: "stack-s12",
        terms: &[
            (Kind::Rectangular, 0.003, 0.0, 1.0),
            (Kind::Rectangular, 0.001, 0.0, 1.0),
            (Kind::Rectangular, 0.0005, 0.0, 1.0),
            (Kind::Triangular, 0.0015, 0.0, 1.0),
        ],
        mean: 0.0,
        band: (-0.005, 0.005),
        outside: (0.00030864197530864197, 0.00030864197530864197),
        sd: 0.0019472202409246539,
        half_widths: Some((0.0035453233866767696, 0.004249422277242714)),
    },
    Stack {
        id: "stack-s13",
        terms: &[
            (Kind::Arcsine, 0.003, 0.0, 1.0),
            (Kind::Arcsine, 0.002, 0.0, 1.0),
            (Kind::Normal, 0.0005, 0.0, 1.0),
        ],
        mean: 0.0,
        band: (-0.005, 0.005),
        outside: (0.013417761696057698, 0.013417761696057698),
        sd: 0.002598076211353316,
        half_widths: None,
    },
    Stack {
        id: "stack-s14",
        terms: &[
            (Kind::Normal, 0.0012, 0.0, 1.0),
            (Kind::Rectangular, 0.002, 0.0, 1.0),
            (Kind::Triangular, 0.001, 0.0, 1.0),
            (Kind::Arcsine, 0.0006, 0.0, 1.0),
            (Kind::Student, 0.0004, 4.0, 1.0),
        ],
        mean: 0.001,
        band: (-0.002, 0.006),
        outside: (0.05234651362003009, 0.0027736956027370006),
        sd: 0.0018547236990991407,
        half_widths: None,
    },
    Stack {
        id: "stack-s15",
        terms: &[
            (Kind::Rectangular, 0.002, 0.0, 1.0),
            (Kind::Triangular, 0.0018, 0.0, 1.0),
            (Kind::Arcsine, 0.0013, 0.0, 1.0),
        ],
        mean: 0.0,
        band: (-0.005, 0.005),
        outside: (7.355691409611344e-07, 7.355691409611344e-07),
        sd: 0.0016487368902688305,
        half_widths: Some((0.003155181839074109, 0.003865125072751989)),
    },
    Stack {
        id: "stack-s16",
        terms: &[
            (Kind::Normal, 0.0006, 0.0, 1.0),
            (Kind::Rectangular, 0.0012, 0.0, -1.0),
            (Kind::Triangular, 0.002, 0.0, 0.5),
            (Kind::Arcsine, 0.0004, 0.0, 2.0),
        ],
        mean: 0.0,
        band: (-0.005, 0.005),
        outside: (9.945716542199032e-08, 9.945716542199032e-08),
        sd: 0.0011518101695447331,
        half_widths: Some((0.0022280380391255586, 0.002833146523194446)),
    },
    Stack {
        id: "stack-s17",
        terms: &[
            (Kind::Student, 0.0009, 9.0, 1.0),
            (Kind::Rectangular, 0.002, 0.0, 1.0),
            (Kind::Normal, 0.0006, 0.0, 1.0),
        ],
        mean: 0.0,
        band: (-0.005, 0.005),
        outside: (0.0011310226772774231, 0.0011310226772774231),
        sd: 0.0016537115542808259,
        half_widths: None,
    },
    Stack {
        id: "stack-s18",
        terms: &[
            (Kind::Trapezoidal, 0.003, 0.3333333333333333, 1.0),
            (Kind::Triangular, 0.001, 0.0, 1.0),
            (Kind::Normal, 0.0002, 0.0, 1.0),
        ],
        mean: 0.0012,
        band: (-0.005, 0.005),
        outside: (2.338670837915468e-36, 8.221057253356063e-05),
        sd: 0.0013686976778431873,
        half_widths: None,
    },
    Stack {
        id: "stack-s19",
        terms: &[
            (Kind::Normal, 0.0008, 0.0, 1.0),
            (Kind::Rectangular, 0.001, 0.0, 1.0),
            (Kind::Arcsine, 0.0005, 0.0, 1.0),
        ],
        mean: 0.0055,
        band: (-0.005, 0.005),
        outside: (6.15077209702781e-32, 0.6801663182207699),
        sd: 0.0010480139948174992,
        half_widths: None,
    },
    Stack {
        id: "stack-s20",
        terms: &[
            (Kind::Normal, 0.0005, 0.0, 1.0),
            (Kind::Student, 8e-05, 4.0, 1.0),
            (Kind::Rectangular, 0.0005, 0.0, 1.0),
        ],
        mean: 0.0,
        band: (-0.005, 0.005),
        outside: (2.2660832231276357e-07, 2.2660832231276357e-07),
        sd: 0.0005883309726109389,
        half_widths: None,
    },
];

impl Stack {
    fn sum(&self) -> Sum {
        let terms: Vec<(f64, Distribution)> = self
            .terms
            .iter()
            .map(|&(kind, a, b, c)| (c, kind.law(a, b)))
            .collect();
        sum_for(self.mean, &terms, &[self.band.0, self.band.1])
    }
}

#[test]
fn chances() {
    for stack in &STACKS {
        let sum = stack.sum();
        let got = chance_between(&sum, stack.band.0, stack.band.1);
        let (below, above) = stack.outside;
        let label = format!("{} by {}: {got:?}", stack.id, sum.route());
        assert!(
            (got.value.below - below).abs() <= got.error,
            "{label} {below:e}"
        );
        assert!(
            (got.value.above - above).abs() <= got.error,
            "{label} {above:e}"
        );
        assert!(
            (got.value.inside - (1.0 - below - above)).abs() <= got.error,
            "{label}"
        );
        // The tolerance of the reference file for chances near one.
        assert!(got.error < 1e-13, "{label}");
    }
}

#[test]
fn moments_and_half_widths() {
    for stack in &STACKS {
        let sum = stack.sum();
        let sd = sum.standard_deviation().unwrap();
        // Printed with twelve digits and more.
        assert!((sd / stack.sd - 1.0).abs() < 1e-11, "{}: {sd}", stack.id);
        assert!(
            (sum.mean().unwrap() - stack.mean).abs() < 1e-18,
            "{}",
            stack.id
        );
        let Some((w95, w99)) = stack.half_widths else {
            continue;
        };
        for (level, want) in [(0.95, w95), (0.99, w99)] {
            let up = interval::place(&sum, Tail::MoreThan, 0.5 * (1.0 - level));
            let (x, error) = (sum.outward(up.value) - stack.mean, up.error * sum.unit());
            // Given to 15 digits.
            assert!(
                (x - want).abs() <= error + 1e-17,
                "{}: {x} {want} {error:e}",
                stack.id
            );
            assert!(error < 1e-12 * want.max(1e-3), "{}: {error:e}", stack.id);
            let (lo, hi) = interval::shortest(&sum, level);
            let (lo, hi) = (sum.outward(lo) - stack.mean, sum.outward(hi) - stack.mean);
            // Both are computed to about 1e-15 in; s05 has two peaks, and its shortest interval is not the symmetric one.
            let is_symmetric = (hi - want).abs() < 1e-13 && (lo + want).abs() < 1e-13;
            assert!(
                is_symmetric || hi - lo < 2.0 * want,
                "{}: {lo} {hi} {want}",
                stack.id
            );
        }
    }
}
