//! Plans made at test time, with perturbed sources, against a computation of their own: the algebra
//! is worked out here by hand and the chance by a plain numerical inversion (Gil-Pelaez 1951) that
//! shares nothing with the library's but sine, exponential and Bessel's J0.

use kerfwise_plan::Plan;
use kerfwise_stack::{Batch, RootSumOfSquares};
use proptest::prelude::*;

/// What goes into a plan, in thou.
#[derive(Debug, Clone)]
struct Shop {
    travel: f64,
    kerf: f64,
    kerf_sd: f64,
    caliper: f64,
    mortise: f64,
    mortise_sd: f64,
    spread: f64,
    residual: f64,
    seating: f64,
    play: f64,
    change: f64,
    clearance: Option<f64>,
    band: f64,
    pieces: u32,
}

fn any_shop() -> impl Strategy<Value = Shop> {
    let setting = (
        -4.0..4.0_f64,
        120.0..130.0_f64,
        370.0..380.0_f64,
        proptest::option::of(0.0..4.0_f64),
    );
    let spreads = (
        0.2..1.0_f64,
        0.2..1.5_f64,
        0.2..1.0_f64,
        0.3..1.5_f64,
        0.2..1.5_f64,
    );
    let more = (
        0.2..1.5_f64,
        0.2..2.0_f64,
        0.1..1.0_f64,
        2.0..6.0_f64,
        2_u32..40,
    );
    (setting, spreads, more).prop_map(|((off, kerf, mortise, clearance), s, m)| Shop {
        travel: kerf + mortise - clearance.unwrap_or(0.0) + off,
        kerf,
        kerf_sd: s.0,
        caliper: s.1,
        mortise,
        mortise_sd: s.2,
        spread: s.3,
        residual: s.4,
        seating: m.0,
        play: m.1,
        change: m.2,
        clearance,
        band: m.3,
        pieces: m.4,
    })
}

impl Shop {
    fn plan(&self) -> String {
        let Self {
            travel,
            kerf,
            kerf_sd,
            caliper,
            mortise,
            mortise_sd,
            spread,
            ..
        } = self;
        let Self {
            residual,
            seating,
            play,
            change,
            band,
            pieces,
            ..
        } = self;
        let (mortise_key, clearance) = match self.clearance {
            Some(c) => (
                "width",
                format!(
                    "clearance = \"clearance\"\n[source.clearance]\nestimate = \"{c} thou\"\nassumed = \"test\"\n"
                ),
            ),
            None => ("at_feel", String::new()),
        };
        let source = |name: &str, estimate: f64, law: &str, size: f64, event: &str| {
            format!(
                "[source.{name}]\nestimate = \"{estimate} thou\"\n{law} = \"{size} thou\"\nevent = \"{event}\"\nassumed = \"test\"\n"
            )
        };
        let mut text = format!(
            "version = 1\ntitle = \"made by a test\"\n[batch]\npieces = {pieces}\n[joint]\nmethod = \"shifted\"\n\
             travel = \"{travel} thou\"\nkerf = {{ test_cut = \"kerf\", gauge = \"caliper\" }}\n\
             lock_down = {{ read = \"after locking\", residual = \"residual\" }}\n\
             mortise = {{ {mortise_key} = \"mortise\", errors = [\"spread\"] }}\n\
             seating = \"seating\"\nrunner_play = \"play\"\nkerf_change = \"change\"\n\
             fit_band = [\"-{band} thou\", \"{band} thou\"]\n{clearance}"
        );
        text += &source("kerf", *kerf, "normal", *kerf_sd, "blade");
        text += &source("caliper", 0.0, "rectangular", *caliper, "gauge");
        text += &source("mortise", *mortise, "normal", *mortise_sd, "mortise set-up");
        text += &source("spread", 0.0, "triangular", *spread, "piece");
        text += &source("residual", 0.0, "normal", *residual, "jig move");
        text += &source("seating", 0.0, "normal", *seating, "cut");
        text += &source("play", 0.0, "rectangular", *play, "cut");
        text += &source("change", 0.0, "arcsine", *change, "cut");
        text
    }

    /// Mean of the fit deviation, worked out by hand.
    fn mean(&self) -> f64 {
        self.travel - self.kerf - self.mortise + self.clearance.unwrap_or(0.0)
    }

    /// Variance: every piece is clamped twice, and half of each kerf change is on the tenon's side.
    fn variance(&self) -> f64 {
        let sq = |x: f64| x * x;
        sq(self.kerf_sd)
            + sq(self.caliper) / 3.0
            + sq(self.mortise_sd)
            + sq(self.spread) / 6.0
            + sq(self.residual)
            + 2.0 * sq(self.seating)
            + 2.0 * sq(self.play) / 3.0
            + 2.0 * sq(self.change / 2.0) / 2.0
    }

    /// Characteristic function of the centred fit deviation (real, since every law is symmetric).
    fn characteristic(&self, t: f64) -> f64 {
        let sinc = |x: f64| {
            if x.abs() < 1e-8 {
                1.0
            } else {
                kerfwise_numeric::float::sin(x) / x
            }
        };
        let normal = self.kerf_sd * self.kerf_sd
            + self.mortise_sd * self.mortise_sd
            + self.residual * self.residual
            + 2.0 * self.seating * self.seating;
        let half = sinc(self.spread * t / 2.0);
        let play = sinc(self.play * t);
        let change = kerfwise_numeric::special::bessel_j0(self.change / 2.0 * t);
        kerfwise_numeric::float::exp(-normal * t * t / 2.0)
            * sinc(self.caliper * t)
            * half
            * half
            * play
            * play
            * change
            * change
    }

    /// P(fit deviation ≤ y) by Simpson's rule on Gil-Pelaez's integral.
    fn below(&self, y: f64) -> f64 {
        let z = y - self.mean();
        let sd = self.variance().sqrt();
        // exp(−σ_n²t²/2) with the normal part at least a fifth of the spread is under 1e-18 at the end.
        let (steps, end) = (20_000, 60.0 / sd);
        let h = end / f64::from(steps);
        let integrand = |t: f64| {
            if t == 0.0 {
                z
            } else {
                kerfwise_numeric::float::sin(t * z) / t * self.characteristic(t)
            }
        };
        let mut sum = integrand(0.0) + integrand(end);
        for i in 1..steps {
            sum += integrand(f64::from(i) * h) * if i % 2 == 1 { 4.0 } else { 2.0 };
        }
        0.5 + sum * h / 3.0 / std::f64::consts::PI
    }
}

proptest! {
    #![proptest_config(ProptestConfig { cases: 24, ..ProptestConfig::default() })]

    #[test]
    fn a_plan_gives_what_the_pencil_gives(shop in any_shop()) {
        let text = shop.plan();
        let plan = Plan::parse("test.toml", &text, &|_| Err(std::io::Error::other("no readings here")));
        let plan = plan.map_err(|faults| TestCaseError::fail(format!("{faults}\n{text}")))?;
        let fit = plan.stack().outcome("fit").expect("a joint has a fit");
        let rss = fit.root_sum_of_squares(RootSumOfSquares::new()).expect("all have a spread");
        prop_assert!((rss.estimate.raw() * 1000.0 - shop.mean()).abs() < 1e-9);
        let u = rss.standard_uncertainty.raw() * 1000.0;
        prop_assert!((u * u - shop.variance()).abs() < 1e-9 * shop.variance());

        let exact = fit.exact().expect("affine, and every law has a route");
        let chance = exact.chance(&fit.band().expect("a joint has a band"));
        // Simpson with 20,000 steps over at most some 60 standard deviations' worth of t: its own error
        // is under 1e-9, seen by halving the step.
        let (low, high) = (shop.below(-shop.band), shop.below(shop.band));
        prop_assert!((chance.value.below - low).abs() < 1e-9, "{} {low}", chance.value.below);
        prop_assert!((chance.value.inside - (high - low)).abs() < 1e-9);
        prop_assert!((chance.value.above - (1.0 - high)).abs() < 1e-9);

        // What is shared makes batches better than independence says, and no better than one piece.
        let batch = fit.batch(Batch::of(shop.pieces)).expect("affine");
        let slack = batch.all.error + 1e-12;
        prop_assert!(batch.all.value >= batch.if_independent - slack);
        prop_assert!(batch.all.value <= chance.value.inside + slack);
        prop_assert!(batch.all.value + batch.none.value <= 1.0 + slack);
    }
}
