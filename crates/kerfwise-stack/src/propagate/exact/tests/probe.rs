use super::*;
fn time(name: &str, laws: &[(f64, Distribution)]) {
    let t = std::time::Instant::now();
    let sum = sum_for(0.0, laws, &[]);
    eprintln!("{name}: {} build {:?}", sum.route(), t.elapsed());
    for p in [0.5, 0.2, 0.001, 1e-9] {
        let t = std::time::Instant::now();
        let q = interval::place(&sum, Tail::AtMost, p);
        eprintln!("   p {p} {q:?} {:?}", t.elapsed());
        let t = std::time::Instant::now();
        let f = sum.tail(Tail::AtMost, sum.outward(q.value));
        eprintln!("   tail {f:?} {:?}", t.elapsed());
        let t = std::time::Instant::now();
        let f = sum.density(sum.outward(q.value));
        eprintln!("   density {f:?} {:?}", t.elapsed());
    }
}
#[test]
fn probe() {
    time(
        "one",
        &[
            (-1.14e-2, Distribution::normal(0.0, 1.0).unwrap()),
            (0.634, Distribution::trapezoidal(-1.0, 1.0, 0.23).unwrap()),
            (0.038, Distribution::student_t(0.0, 1.0, 1.0).unwrap()),
            (2.46e-3, Distribution::triangular(-1.0, 0.0, 1.0).unwrap()),
        ],
    );
    time(
        "two",
        &[
            (-2.12e-3, Distribution::triangular(-1.0, 0.0, 1.0).unwrap()),
            (8.22e-4, Distribution::rectangular(-1.0, 1.5).unwrap()),
            (0.0149, Distribution::student_t(0.0, 1.0, 2.0).unwrap()),
            (0.0102, Distribution::beta(-1.0, 1.0, 5.88, 4.96).unwrap()),
        ],
    );
}
