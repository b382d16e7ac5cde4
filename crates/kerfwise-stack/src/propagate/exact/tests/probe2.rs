use super::*;
#[test]
fn law_costs() {
    let laws = [
        Distribution::normal(0.0, 1.0),
        Distribution::rectangular(-1.0, 1.0),
        Distribution::triangular(-1.0, 0.2, 1.0),
        Distribution::arcsine(-1.0, 1.0),
        Distribution::student_t(0.0, 1.0, 4.0),
        Distribution::student_t(0.0, 1.0, 4.3),
        Distribution::exponential(0.0, 1.0),
        Distribution::lognormal(0.0, 0.0, 0.5),
        Distribution::beta(0.0, 1.0, 2.3, 3.4),
        Distribution::beta(0.0, 1.0, 2.0, 3.0),
        Distribution::truncated_normal(0.0, 1.0, -1.0, 1.0),
        Distribution::two_piece_normal(0.0, 1.0, 2.0),
        Distribution::curvilinear_trapezoid(-1.0, 1.0, 0.2),
    ];
    for law in laws {
        let law = law.unwrap();
        let mut out = String::new();
        let xs: Vec<f64> = (1..1000)
            .map(|i| law.quantile(f64::from(i) / 1000.0))
            .collect();
        let mut time = |name: &str, f: &dyn Fn(f64) -> f64| {
            let mut best = f64::INFINITY;
            for _ in 0..5 {
                let t = std::time::Instant::now();
                let mut s = 0.0;
                for &x in &xs {
                    s += f(x);
                }
                std::hint::black_box(s);
                best = best.min(t.elapsed().as_nanos() as f64 / 999.0);
            }
            out += &format!(" {name} {best:.0}");
        };
        time("pdf", &|x| law.pdf(x).unwrap());
        time("cdf", &|x| law.cdf(x));
        time("cf", &|x| law.characteristic(x).map_or(0.0, |c| c.0));
        let ps = |x: f64| law.quantile(0.5 + 0.4 * (x / (1.0 + x.abs())));
        time("quantile", &ps);
        eprintln!("COST {}{out}", law.name());
    }
}
