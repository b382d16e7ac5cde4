use super::*;
use kerfwise_numeric::special::normal_quantile;
use kerfwise_numeric::stream::Stream;
use kerfwise_source::Source;
use kerfwise_stack::Band;

/// Standard deviations in thou.
struct Case {
    kept: f64,
    play: f64,
    cut: f64,
    piece: f64,
    mortise: f64,
    spread: f64,
    gauge: f64,
    band: f64,
}

impl Case {
    fn stack(&self) -> (Stack, Expr) {
        let source = |name: &str, sd: f64, event: Event| {
            let made = Source::new(name, 0.inch()).normal(sd.thou()).event(event);
            Expr::source(&made.build().unwrap())
        };
        let tenon = source("kept", self.kept, Event::blade())
            + source("play", self.play, Event::jig_move())
            + source("cut", self.cut, Event::cut())
            + source("piece", self.piece, Event::piece());
        let shown = &tenon + &source("gauge", self.gauge, Event::gauge());
        let fit = &tenon
            - &source("mortise", self.mortise, Event::mortise_set_up())
            - &source("spread", self.spread, Event::piece());
        let band = Band::within(self.band.thou()).unwrap();
        let stack = Stack::builder().outcome("fit", &fit, band).build().unwrap();
        (stack, shown)
    }
}

/// Offsets in thou, each with the minutes that it costs.
type Costing = &'static [(f64, f64)];

/// A batch of six, and a single piece whose loss is dear.
const CASES: [(Case, FirstCosts, Costing); 2] = [
    (
        Case {
            kept: 1.5,
            play: 0.7,
            cut: 1.0,
            piece: 0.4,
            mortise: 0.6,
            spread: 0.9,
            gauge: 0.5,
            band: 4.0,
        },
        FirstCosts {
            tight: 5.0,
            loose: 20.0,
            recut: 3.0,
            others: 5,
        },
        &[
            (0.0, 2.756_317_842_5),
            (1.0, 2.503_666_103_6),
            (2.0, 2.817_313_723_0),
            (4.0, 4.093_915_315_6),
        ],
    ),
    (
        Case {
            kept: 2.0,
            play: 0.3,
            cut: 0.8,
            piece: 0.5,
            mortise: 0.4,
            spread: 0.3,
            gauge: 0.6,
            band: 3.0,
        },
        FirstCosts {
            tight: 5.0,
            loose: 40.0,
            recut: 2.0,
            others: 0,
        },
        &[
            (0.0, 4.128_818_741_3),
            (2.0, 1.615_939_085_7),
            (3.0, 1.638_070_860_4),
            (5.0, 2.108_737_930_6),
        ],
    ),
];

struct FirstCosts {
    tight: f64,
    loose: f64,
    recut: f64,
    others: u32,
}

impl FirstCosts {
    fn options(&self) -> FirstCutOptions {
        let costs = Costs {
            tight: self.tight,
            loose: self.loose,
        };
        FirstCutOptions::new(costs)
            .recut(self.recut)
            .others(self.others)
    }
}

/// The costs of offsets, computed independently by quadrature over a grid of C, W and readings (numpy), which agrees with
/// itself on a grid half as fine to 1e-6.
#[test]
fn costs_are_those_of_direct_quadrature() {
    for (case, costs, wanted) in &CASES {
        let (stack, shown) = case.stack();
        let found = FirstCut::best(&stack, "fit", &shown, &costs.options()).unwrap();
        for (offset, cost) in *wanted {
            let at = |(x, _): &&(Length, f64)| (x.to_thou() - offset).abs() < 1e-9;
            let got = found.curve.iter().find(at).unwrap().1;
            assert!(
                (got - cost).abs() < found.error + 3e-6,
                "{offset}: {got} {cost} {}",
                found.error
            );
        }
        assert!(found.error < 2e-3 * found.cost, "{}", found.error);
        assert!(found.offset > 0.inch() && found.cost < found.without);
    }
}

/// Every mark of the gauge from the first line to the last stands in one line, whatever rounding makes of the borders.
#[test]
fn lines_are_whole_marks_without_gaps() {
    let (case, costs, _) = &CASES[0];
    let (stack, shown) = case.stack();
    let step = 0.5;
    for middle in [0.0, 0.3712, 0.37125] {
        let shown = &shown + &Expr::constant(middle.inch());
        let options = costs.options();
        let found = FirstCut::best(&stack, "fit", &shown, &options).unwrap();
        assert!(found.lines.len() > 2);
        let marks = |at: Length| {
            let marks = at.to_thou() / step;
            // A mark is a whole number of steps, up to the rounding of one product.
            assert!((marks - marks.round()).abs() < 1e-9, "{at}");
            marks.round()
        };
        let mut next = marks(found.lines[0].from);
        for line in &found.lines {
            assert!((marks(line.from) - next).abs() < 0.5, "{line:?}");
            assert!(line.from <= line.to, "{line:?}");
            next = marks(line.to) + 1.0;
        }
    }
}

/// A shop that follows the lines pays what was forecast, and less than one that aims at the middle and never looks.
#[test]
fn a_simulated_shop_pays_what_was_forecast() {
    const SHOPS: u64 = 30_000;
    for (case, costs, _) in &CASES {
        let (stack, shown) = case.stack();
        let found = FirstCut::best(&stack, "fit", &shown, &costs.options()).unwrap();
        let (mut sum, mut squares, mut blind) = (0.0, 0.0, 0.0);
        for shop in 0..SHOPS {
            let mut stream = Stream::new(5, 1, shop);
            let mut draw = |sd: f64| {
                let mut u = [0.0];
                stream.fill_open01(&mut u);
                sd * normal_quantile(u[0])
            };
            let cost = |fit: f64| {
                if fit > case.band {
                    costs.tight
                } else if fit < -case.band {
                    costs.loose
                } else {
                    0.0
                }
            };
            let (kept, play, mortise) = (draw(case.kept), draw(case.play), draw(case.mortise));
            let (piece, gauge) = (draw(case.piece), draw(case.gauge));
            let first = kept + play + piece + draw(case.cut);
            let aimed = found.offset.to_thou();
            let reading = ((first + gauge) / 0.5).round() * 0.5 + aimed;
            // Beyond the last line as in the last line: once in a thousand shops.
            let line = found
                .lines
                .iter()
                .find(|l| reading <= l.to.to_thou() + 1e-6)
                .or(found.lines.last());
            let (moved, again) = match line.map(|l| (l.advice, l.recut)) {
                Some((Advice::MoveBy(x), again)) => (Some(x.to_thou()), again),
                _ => (None, false),
            };
            let at = aimed + moved.unwrap_or(0.0);
            let play_now = if moved.is_some() {
                draw(case.play)
            } else {
                play
            };
            let mut thickness = aimed + first;
            let mut total = 0.0;
            if again {
                thickness = thickness.min(at + kept + play_now + piece + draw(case.cut));
                total += costs.recut;
            }
            let spread = draw(case.spread);
            total += cost(thickness - mortise - spread);
            blind += cost(first - mortise - spread);
            for _ in 0..costs.others {
                let joint = draw(case.piece) - draw(case.spread) + draw(case.cut) - mortise;
                total += cost(at + kept + play_now + joint);
                blind += cost(kept + play + joint);
            }
            sum += total;
            squares += total * total;
        }
        let n = SHOPS as f64;
        let mean = sum / n;
        let error = ((squares / n - mean * mean) / n).sqrt();
        // Four standard errors: one honest run in sixteen thousand lies outside.
        assert!(
            (mean - found.cost).abs() < 4.0 * error + found.error,
            "{mean} {error} {}",
            found.cost
        );
        assert!(mean + 4.0 * error < blind / n, "{mean} {}", blind / n);
    }
}

#[test]
fn refuses_what_makes_no_sense() {
    let (case, costs, _) = &CASES[0];
    let (stack, shown) = case.stack();
    let says = |options: FirstCutOptions| {
        FirstCut::best(&stack, "fit", &shown, &options)
            .unwrap_err()
            .to_string()
    };
    let negative = Costs {
        tight: -1.0,
        loose: 2.0,
    };
    assert!(says(FirstCutOptions::new(negative)).contains("the cost of a tight joint"));
    assert!(says(costs.options().recut(-3.0)).contains("cutting a piece again"));
    assert!(says(costs.options().reach(0.inch())).contains("reach must be above 0"));
    assert!(says(costs.options().reach(1.inch())).contains("1 to 400 dial steps"));
    let exact = TestCutOptions::new().resolution(0.inch());
    assert!(says(costs.options().test_cut(exact)).contains("resolution of the gauge"));
}
