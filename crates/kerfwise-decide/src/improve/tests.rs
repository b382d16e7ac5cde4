use super::*;
use kerfwise_numeric::special::normal_interval;
use kerfwise_source::LengthUnits;
use kerfwise_stack::Expr;

fn source(name: &str, sd: f64) -> Source {
    Source::new(name, 0.inch())
        .normal(sd.thou())
        .build()
        .unwrap()
}

fn stack(sources: &[Source], half: f64) -> Stack {
    let sum = sources
        .iter()
        .map(Expr::source)
        .reduce(|a, b| a + b)
        .unwrap();
    Stack::builder()
        .outcome("fit", &sum, Band::within(half.thou()).unwrap())
        .build()
        .unwrap()
}

#[track_caller]
fn close(what: &str, got: f64, wanted: f64, tolerance: f64) {
    assert!(
        (got - wanted).abs() <= tolerance,
        "{what}: {got:e}, not {wanted:e}"
    );
}

/// Normal errors: the chance of ±h is that of ±h/√Σσ².
#[test]
fn normal_errors_have_closed_forms() {
    let sds = [1.0, 2.0, 2.5];
    let sources = [source("a", 1.0), source("b", 2.0), source("c", 2.5)];
    let improve = Improve::of(&stack(&sources, 5.0), "fit").unwrap();
    let chance = |factors: [f64; 3]| {
        let variance: f64 = sds.iter().zip(factors).map(|(s, f)| s * s * f * f).sum();
        let z = 5.0 / variance.sqrt();
        normal_interval(-z, z)
    };
    close("now", improve.now().value.inside, chance([1.0; 3]), 1e-13);
    let worth = improve.sources().unwrap();
    let names: Vec<&str> = worth.iter().map(|w| w.name.as_str()).collect();
    assert_eq!(names, ["c", "b", "a"]);
    close(
        "halved",
        worth[0].halved.value.inside,
        chance([1.0, 1.0, 0.5]),
        1e-13,
    );
    close(
        "removed",
        worth[1].removed.value.inside,
        chance([1.0, 0.0, 1.0]),
        1e-13,
    );
    // The whole may be scaled by what makes the wanted chance: the inverse of the same formula.
    let wanted = chance([0.7; 3]);
    let factor = improve.largest_of_all(wanted).unwrap().unwrap();
    // The chance is good to 1e-14 and its slope against the factor is about 0.3.
    close("all", factor, 0.7, 1e-12);
    let factor = improve
        .largest("b", chance([1.0, 1.3, 1.0]))
        .unwrap()
        .unwrap();
    close("more", factor, 1.3, 1e-12);
    // Without b, a and c alone make 93.7 %.
    assert_eq!(improve.largest("b", 0.94).unwrap(), None);
}

/// Rectangular errors of ±3 and ±1 thou in ±2: a triangle and a plateau, computed with a pencil.
#[test]
fn what_counts_is_the_chance_and_not_the_variance() {
    let wide = Source::new("wide", 0.inch())
        .rectangular(3.thou())
        .build()
        .unwrap();
    let narrow = Source::new("narrow", 0.inch())
        .rectangular(1.thou())
        .build()
        .unwrap();
    let improve = Improve::of(&stack(&[wide, narrow], 2.0), "fit").unwrap();
    // The plateau of the trapezoid, density 1/6 up to ±2, just fills the band: 4/6, with or without the narrow one.
    close("now", improve.now().value.inside, 2.0 / 3.0, 1e-13);
    let worth = improve.sources().unwrap();
    assert_eq!(worth[1].name, "narrow");
    close("narrow", worth[1].removed.value.inside, 2.0 / 3.0, 1e-13);
    // Halved, ±1.5 and ±1: the plateau ends at ±0.5, its density is 1/3, and beyond ±2 a triangle of 1/48 is left each.
    close("wide", worth[0].halved.value.inside, 23.0 / 24.0, 1e-13);
    close("gone", worth[0].removed.value.inside, 1.0, 1e-13);
    // Certain up to a factor where both limits together fill the band: ±1 and ±1.
    let factor = improve.largest("wide", 1.0 - 1e-9).unwrap().unwrap();
    assert!(factor > 1.0 / 3.0 && factor < 0.334, "{factor}");
    assert_eq!(improve.largest("narrow", 0.7).unwrap(), None);
}

#[test]
fn the_cheapest_offers_are_those_of_all_subsets() {
    let sources = [source("a", 1.0), source("b", 2.0), source("c", 2.5)];
    let improve = Improve::of(&stack(&sources, 5.0), "fit").unwrap();
    let offer = |source: &str, factor: f64, price: f64| Offer {
        source: source.to_owned(),
        factor,
        price,
    };
    let offers = [
        offer("a", 0.0, 1.0),
        offer("b", 0.5, 20.0),
        offer("c", 0.5, 25.0),
        offer("c", 0.0, 90.0),
    ];
    // √(1 + 4 + 6.25/4) = 2.56, 94.9 %; without a as well √5.56 = 2.36, 96.6 %; b and c halved √(1 + 1 + 1.5625) = 1.89: 99.2 %.
    let best = |wanted: f64| improve.cheapest(&offers, wanted).unwrap();
    assert_eq!(best(0.8).unwrap().offers, Vec::<usize>::new());
    assert_eq!(best(0.945).unwrap().offers, [2]);
    let both = best(0.96).unwrap();
    assert_eq!(
        (both.offers.as_slice(), both.price),
        ([0, 2].as_slice(), 26.0)
    );
    assert_eq!(best(0.99).unwrap().offers, [1, 2]);
    assert_eq!(best(0.999_999_9), None);
}

/// A band of one limit and an outcome far inside: a source may be as large as it takes.
#[test]
fn a_source_may_be_free() {
    let b = source("b", 1.0);
    let one_sided = Stack::builder()
        .outcome("fit", &Expr::source(&b), Band::at_most(1.thou()).unwrap())
        .build()
        .unwrap();
    let improve = Improve::of(&one_sided, "fit").unwrap();
    // Half of a centred error lies below, however large it is.
    assert_eq!(improve.largest("b", 0.5).unwrap(), Some(f64::INFINITY));
    let all = improve.sources().unwrap();
    close("known", all[0].removed.value.inside, 1.0, 0.0);
}

#[test]
fn refuses_what_makes_no_sense() {
    let improve = Improve::of(&stack(&[source("a", 1.0)], 2.0), "fit").unwrap();
    let says = |result: Result<Option<f64>, Error>| result.unwrap_err().to_string();
    assert!(says(improve.largest("z", 0.9)).contains("no uncertain source \"z\" (there are: a)"));
    for wanted in [0.0, 1.0, f64::NAN] {
        assert!(says(improve.largest("a", wanted)).contains("above 0 and below 1"));
    }
    let offer = |factor: f64, price: f64| Offer {
        source: "a".into(),
        factor,
        price,
    };
    let refused = |offers: &[Offer]| improve.cheapest(offers, 0.9).unwrap_err().to_string();
    assert!(refused(&[offer(1.5, 1.0)]).contains("factor"));
    assert!(refused(&[offer(f64::NAN, 1.0)]).contains("factor"));
    assert!(refused(&[offer(0.5, -1.0)]).contains("the cost of the offer"));
    assert!(refused(&vec![offer(0.5, 1.0); 13]).contains("at most 12"));
    let missing = Improve::of(&stack(&[source("a", 1.0)], 2.0), "gap").unwrap_err();
    assert_eq!(missing.to_string(), "the stack has no outcome \"gap\"");
}

/// Both cuts of one error are one row: two errors of 1.5 thou that are mended together, and one of 2.
#[test]
fn errors_of_both_cuts_are_mended_together() {
    let sources = [
        source("seat.first", 1.5),
        source("seat.second", 1.5),
        source("kerf", 2.0),
        source("lone.first", 0.5),
    ];
    let improve = Improve::of(&stack(&sources, 5.0), "fit").unwrap();
    let chance = |variance: f64| {
        let z = 5.0 / variance.sqrt();
        normal_interval(-z, z)
    };
    let worth = improve.sources().unwrap();
    let names: Vec<&str> = worth.iter().map(|w| w.name.as_str()).collect();
    assert_eq!(names, ["seat", "kerf", "lone.first"]);
    assert_eq!(worth[0].sources.len(), 2);
    close("gone", worth[0].removed.value.inside, chance(4.25), 1e-13);
    close(
        "half",
        worth[0].halved.value.inside,
        chance(4.25 + 4.5 / 4.0),
        1e-13,
    );
    let factor = improve
        .largest("seat", chance(4.25 + 4.5 * 0.36))
        .unwrap()
        .unwrap();
    close("both", factor, 0.6, 1e-12);
    // One cut alone can still be asked for, and offered.
    let factor = improve
        .largest("seat.first", chance(6.5 + 2.25 * 0.25))
        .unwrap()
        .unwrap();
    close("one", factor, 0.5, 1e-12);
    let offer = |source: &str, price: f64| Offer {
        source: source.into(),
        factor: 0.0,
        price,
    };
    let offers = [offer("seat.first", 5.0), offer("seat", 8.0)];
    let best = improve.cheapest(&offers, chance(4.3)).unwrap().unwrap();
    assert_eq!(best.offers, [1]);
    close("offer", best.chance.value.inside, chance(4.25), 1e-13);
}

/// Normal errors: parts s∛w with Σ (s∛w)² = (h/z)².
#[test]
fn a_wanted_chance_is_shared_out_by_cube_roots_of_weights() {
    let sources = [
        source("a", 1.0),
        source("b", 2.0),
        source("c.first", 1.5),
        source("c.second", 1.5),
    ];
    let improve = Improve::of(&stack(&sources, 5.0), "fit").unwrap();
    let z = 2.5;
    let wanted = normal_interval(-z, z);
    let equal = improve.allocate(wanted, &[]).unwrap().unwrap();
    for part in &equal {
        close(
            &part.name,
            part.part.raw(),
            0.001 * (5.0 / z) / 3.0_f64.sqrt(),
            1e-14,
        );
    }
    close(
        "c",
        equal[2].factor,
        (5.0 / z) / 3.0_f64.sqrt() / 4.5_f64.sqrt(),
        1e-11,
    );
    // Weights 8, 1 and 27: parts as 2, 1 and 3.
    let dear = improve
        .allocate(wanted, &[("a", 8.0), ("c", 27.0)])
        .unwrap()
        .unwrap();
    for (part, root) in dear.iter().zip([2.0, 1.0, 3.0]) {
        close(
            &part.name,
            part.part.raw(),
            0.001 * (5.0 / z) * root / 14.0_f64.sqrt(),
            1e-14,
        );
    }
    // No other parts of the same variance cost less: moved from one to another, weight/part rises.
    let cost = |t: [f64; 3]| 8.0 / t[0] + 1.0 / t[1] + 27.0 / t[2];
    let t = [dear[0].part.raw(), dear[1].part.raw(), dear[2].part.raw()];
    for (i, j) in [(0, 1), (1, 2), (2, 0)] {
        let mut moved = t;
        moved[i] = (t[i] * t[i] + 1e-8).sqrt();
        moved[j] = (t[j] * t[j] - 1e-8).sqrt();
        assert!(cost(moved) > cost(t));
    }
    let refused = |weight: f64| {
        improve
            .allocate(wanted, &[("a", weight)])
            .unwrap_err()
            .to_string()
    };
    assert!(refused(0.0).contains("from 0.000001") && refused(f64::NAN).contains("from 0.000001"));
    assert!(improve.allocate(wanted, &[("z", 1.0)]).is_err());
}
