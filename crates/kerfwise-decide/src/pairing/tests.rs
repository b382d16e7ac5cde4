use super::*;
use kerfwise_numeric::stream::Stream;

/// Tenons, mortises; least, wanted and greatest clearance, all in 0.0001 in; most fits, least sum of squares.
type Case = (&'static [f64], &'static [f64], [f64; 3], usize, f64);

/// Integers, so exact: a general assignment solver, confirmed by mixed-integer programming (the first also by brute force),
/// computed independently with scipy.
const CASES: &[Case] = &[
    (
        &[
            4961.0, 5010.0, 4970.0, 4957.0, 4983.0, 4973.0, 4962.0, 4966.0,
        ],
        &[
            4980.0, 4986.0, 5016.0, 4984.0, 4989.0, 4965.0, 4992.0, 4977.0,
        ],
        [20.0, 30.0, 50.0],
        6,
        256.0,
    ),
    (
        &[
            4979.0, 4970.0, 4964.0, 4971.0, 4996.0, 4959.0, 4953.0, 4997.0, 5033.0, 5015.0, 4988.0,
            5000.0,
        ],
        &[
            4920.0, 4985.0, 5010.0, 4991.0, 4975.0, 4989.0, 4972.0, 5012.0, 5001.0, 4976.0, 4982.0,
            5007.0,
        ],
        [10.0, 25.0, 40.0],
        10,
        1093.0,
    ),
    (
        &[
            4983.0, 4997.0, 4972.0, 4968.0, 4958.0, 4980.0, 4970.0, 4954.0, 4984.0, 4988.0, 5003.0,
            4987.0, 5006.0, 4993.0, 4981.0, 4949.0, 4939.0, 4961.0, 4967.0, 4917.0,
        ],
        &[
            4962.0, 5012.0, 4952.0, 5004.0, 5010.0, 4956.0, 5016.0, 5014.0, 5030.0, 4981.0, 4974.0,
            4965.0, 4954.0, 5001.0, 5029.0, 4980.0, 5036.0, 4959.0, 4998.0, 4970.0,
        ],
        [10.0, 20.0, 40.0],
        18,
        970.0,
    ),
];

fn lengths(units: &[f64]) -> Vec<Length> {
    units.iter().map(|x| (x * 1e-4).inch()).collect()
}

fn options([least, wanted, most]: [f64; 3]) -> PairingOptions {
    let length = |x: f64| (x * 1e-4).inch();
    PairingOptions::wanted(length(wanted)).between(length(least), length(most))
}

/// In squares of 0.0001 in.
fn squares(pairing: &Pairing) -> f64 {
    let rms = pairing.rms_deviation.to_inches() * 1e4;
    rms * rms * pairing.fits.len() as f64
}

#[test]
fn most_fits_and_then_least_squares() {
    for (tenons, mortises, clearances, fits, sum) in CASES {
        let best =
            Pairing::best(&lengths(tenons), &lengths(mortises), &options(*clearances)).unwrap();
        assert_eq!(best.fits.len(), *fits);
        // Widths of half an inch are good to 1e-16; in squares of 0.0001 in that is 1e-9 of the sum.
        assert!(
            (squares(&best) - sum).abs() < 1e-6,
            "{} {sum}",
            squares(&best)
        );
        assert_eq!(best.rework.len(), tenons.len() - fits);
        is_a_matching(&best, tenons.len(), mortises.len());
    }
}

/// Each piece once.
#[track_caller]
fn is_a_matching(pairing: &Pairing, tenons: usize, mortises: usize) {
    let pairs = || pairing.fits.iter().chain(&pairing.rework);
    let mut t: Vec<usize> = pairs()
        .map(|p| p.tenon)
        .chain(pairing.spare_tenons.clone())
        .collect();
    let mut m: Vec<usize> = pairs()
        .map(|p| p.mortise)
        .chain(pairing.spare_mortises.clone())
        .collect();
    t.sort_unstable();
    m.sort_unstable();
    assert!(t.iter().copied().eq(0..tenons) && m.iter().copied().eq(0..mortises));
}

/// The least cost of a perfect matching of a square table, by shortest augmenting paths with potentials (Kuhn 1955 in the
/// O(n³) form; from memory). It knows nothing of lines and orders.
fn assignment(cost: &[Vec<i64>]) -> i64 {
    let n = cost.len();
    let (mut u, mut v) = (vec![0_i64; n + 1], vec![0_i64; n + 1]);
    let mut row_of = vec![0_usize; n + 1];
    for i in 1..=n {
        row_of[0] = i;
        let mut j0 = 0;
        let mut least = vec![i64::MAX / 4; n + 1];
        let mut seen = vec![false; n + 1];
        let mut way = vec![0_usize; n + 1];
        while row_of[j0] != 0 {
            seen[j0] = true;
            let (i0, mut delta, mut j1) = (row_of[j0], i64::MAX / 4, 0);
            for j in 1..=n {
                if seen[j] {
                    continue;
                }
                let reduced = cost[i0 - 1][j - 1] - u[i0] - v[j];
                if reduced < least[j] {
                    (least[j], way[j]) = (reduced, j0);
                }
                if least[j] < delta {
                    (delta, j1) = (least[j], j);
                }
            }
            for j in 0..=n {
                if seen[j] {
                    u[row_of[j]] += delta;
                    v[j] -= delta;
                } else {
                    least[j] -= delta;
                }
            }
            j0 = j1;
        }
        while j0 != 0 {
            row_of[j0] = row_of[way[j0]];
            j0 = way[j0];
        }
    }
    (1..=n).map(|j| cost[row_of[j] - 1][j - 1]).sum()
}

/// Against the general solver: whole numbers, so both are exact.
#[test]
fn a_general_solver_finds_no_better() {
    const NO_FIT: i64 = 1 << 40;
    let mut stream = Stream::new(3, 1, 0);
    let mut draw = |n: usize, from: f64, width: f64| {
        let mut u = vec![0.0; n];
        stream.fill_open01(&mut u);
        u.iter()
            .map(|u| from + (width * u).floor())
            .collect::<Vec<f64>>()
    };
    for n in [1, 2, 3, 5, 8, 13, 40, 200] {
        for (width, band) in [(60.0, [10.0, 25.0, 40.0]), (400.0, [0.0, 15.0, 20.0])] {
            let (tenons, mortises) = (draw(n, 4950.0, width), draw(n, 4975.0, width));
            let cost: Vec<Vec<i64>> = tenons
                .iter()
                .map(|t| {
                    let each = mortises.iter().map(|m| {
                        let (c, off) = (m - t, m - t - band[1]);
                        if (band[0]..=band[2]).contains(&c) {
                            (off * off) as i64
                        } else {
                            NO_FIT
                        }
                    });
                    each.collect()
                })
                .collect();
            let total = assignment(&cost);
            let best =
                Pairing::best(&lengths(&tenons), &lengths(&mortises), &options(band)).unwrap();
            let ours = (n - best.fits.len()) as i64 * NO_FIT + squares(&best).round() as i64;
            assert_eq!(ours, total, "{n} {width}");
            is_a_matching(&best, n, n);
        }
    }
}

#[test]
fn what_is_left_is_paired_with_the_least_rework() {
    let tenons = lengths(&[5000.0, 5100.0, 5020.0]);
    let mortises = lengths(&[5030.0, 5060.0]);
    let best = Pairing::best(&tenons, &mortises, &options([20.0, 30.0, 40.0])).unwrap();
    // 5000 into 5030 and 5020 into 5060 fit; the thick one is over.
    assert_eq!(
        (best.fits.len(), best.spare_tenons.as_slice()),
        (2, [1].as_slice())
    );
    let best = Pairing::best(
        &tenons,
        &lengths(&[5030.0, 5090.0, 5110.0]),
        &options([20.0, 30.0, 40.0]),
    )
    .unwrap();
    // Left are 5100 and 5020 for 5090 and 5110: in order, 5020 is 40 too loose and 5100 is 20 too tight; crossed it would be 60 and 40.
    assert_eq!(best.fits.len(), 1);
    let off: Vec<f64> = best
        .rework
        .iter()
        .map(|p| (p.clearance.to_inches() * 1e4 - 30.0).round())
        .collect();
    assert_eq!(off, [-20.0, 40.0]);
}

#[test]
fn refuses_what_makes_no_sense() {
    let good = lengths(&[5000.0, 5010.0]);
    let plain = options([20.0, 30.0, 40.0]);
    let says = |t: &[Length], m: &[Length], o: &PairingOptions| {
        Pairing::best(t, m, o).unwrap_err().to_string()
    };
    assert!(says(&[], &good, &plain).contains("no tenons"));
    assert!(says(&good, &[], &plain).contains("no mortises"));
    assert!(
        says(&good, &lengths(&[5000.0, -1.0]), &plain)
            .contains("number 2 must be a length above 0")
    );
    assert!(says(&[f64::NAN.inch()], &good, &plain).contains("above 0"));
    assert!(says(&vec![0.5.inch(); 10_001], &good, &plain).contains("at most 10000"));
    assert!(
        says(&good, &good, &options([40.0, 30.0, 20.0])).contains("from the least to the most")
    );
    assert!(says(&good, &lengths(&[127_000.0]), &plain).contains("other units"));
}
