//! No label lies on another, every label lies on the page, and no picture is large.

use super::Density;
use super::picture::Picture;
use crate::{
    BatchReport, BudgetReport, ChanceReport, CompareReport, GaugeCell, ImproveReport, ImproveRow,
    SettingReport, SettingRow, StudyReport, Style, Subject, TestCutReport, ThreeChances, Unit,
    WatchPoint, WatchReport,
};
use kerfwise_source::{LengthUnits, Source};
use kerfwise_stack::{Band, Expr, Stack};

const STYLES: [Style; 2] = [
    Style {
        unit: Unit::Inch,
        width: 100,
    },
    Style {
        unit: Unit::Millimetre,
        width: 100,
    },
];

/// A fit of `count` sources, each of its own size, in a band from `low` to `high` thou.
fn stack(count: u32, low: f64, high: f64) -> Stack {
    let sources = (0..count).map(|k| {
        let name = format!("a_rather_long_name_of_source_{k:02}");
        let spread = (0.2 + 0.1 * f64::from(k)).thou();
        Source::new(&name, 0.0.inch())
            .normal(spread)
            .build()
            .unwrap()
    });
    let fit = sources
        .map(|s| Expr::source(&s))
        .reduce(|sum, next| sum + next)
        .unwrap();
    let band = Band::between(low.thou(), high.thou()).unwrap();
    Stack::builder().outcome("fit", &fit, band).build().unwrap()
}

fn check(picture: &Picture, what: &str) {
    let (width, height) = picture.size();
    let texts = picture.texts();
    assert!(!texts.is_empty(), "{what}");
    for (i, text) in texts.iter().enumerate() {
        assert!(
            text.left >= 0.0 && text.right <= width && text.top >= 0.0 && text.bottom <= height,
            "{what}: label {i} leaves the page: {text:?} of {width} by {height}"
        );
        for (j, other) in texts.iter().enumerate().skip(i + 1) {
            assert!(
                !text.overlaps(other),
                "{what}: labels {i} and {j} meet: {text:?} {other:?}"
            );
        }
    }
    assert!(picture.finish().len() < 60_000, "{what}");
}

#[test]
fn distributions_in_wide_narrow_and_far_bands() {
    let bands = [
        (-5.0, 5.0),
        (-0.1, 0.1),
        (-40.0, 40.0),
        (2.0, 3.0),
        (-30.0, -29.0),
        (12.0, 60.0),
    ];
    for (low, high) in bands {
        for count in [1, 8, 30] {
            let stack = stack(count, low, high);
            let ways = stack.side_by_side(4_096);
            let report = ChanceReport::new(&Subject::titled("x"), &stack, &ways, &[]);
            let density = Density::of(stack.outcome("fit").unwrap()).unwrap();
            for style in STYLES {
                let picture = report.outcomes[0].picture(&density, &style);
                check(&picture, &format!("{count} sources, {low} to {high} thou"));
            }
        }
    }
}

#[test]
fn budgets_of_one_eight_thirty_and_forty_sources() {
    for count in [1, 8, 30, 40] {
        let report = BudgetReport::new(&Subject::titled("x"), &stack(count, -5.0, 5.0));
        for style in STYLES {
            let picture = report.outcomes[0].picture(&style).unwrap();
            check(&picture, &format!("{count} sources"));
        }
    }
}

#[test]
fn settings_with_the_best_at_an_end() {
    for best in [0_usize, 10, 20] {
        let curve: Vec<SettingRow> = (0..=20)
            .map(|k| {
                let off = (f64::from(k) - best as f64) / 20.0;
                SettingRow {
                    setting_in: 0.49 + 0.001 * f64::from(k),
                    below: off * off / 2.0,
                    inside: 1.0 - off * off,
                    above: off * off / 2.0,
                    cost: None,
                }
            })
            .collect();
        let report = SettingReport {
            schema: SettingReport::SCHEMA.into(),
            subject: Subject::titled("x"),
            what: crate::Adjusted::Distance,
            best_in: curve[best].setting_in,
            set_in: None,
            step_in: 0.001,
            nominal_in: 0.5,
            chance: ThreeChances {
                below: 0.0,
                inside: 1.0,
                above: 0.0,
                error: None,
            },
            by: "exact".into(),
            fine_in: (curve[best].setting_in, curve[best].setting_in),
            loss: 0.01,
            cost: None,
            curve,
            inputs: Vec::new(),
            cautions: Vec::new(),
        };
        for style in STYLES {
            check(&report.picture(&style), &format!("best at {best}"));
        }
    }
}

#[test]
fn fixes_of_one_eight_thirty_and_forty_sources() {
    let known = include_str!("../../tests/fixtures/improve-1.json");
    let report: ImproveReport = serde_json::from_str(known).unwrap();
    // Gains that are large, none, and less than none.
    for most in [0.5, 1e-4, 0.0, -0.1] {
        for count in [1, 8, 30, 40] {
            let row = |k: i32| ImproveRow {
                name: format!("a_rather_long_name_of_source_{k:02}"),
                halved: report.now.inside + most * 0.7 / f64::from(k + 1),
                removed: report.now.inside + most / f64::from(k + 1),
                may_be: None,
                is_free: false,
                share: None,
                indices: None,
            };
            let report = ImproveReport {
                rows: (0..count).map(row).collect(),
                ..report.clone()
            };
            check(&report.picture(), &format!("{count} sources, {most}"));
        }
    }
}

#[test]
fn batches_of_one_to_a_hundred_thousand() {
    let known = include_str!("../../tests/fixtures/batch-1.json");
    let report: BatchReport = serde_json::from_str(known).unwrap();
    for pieces in [1_u32, 2, 7, 24, 60, 400, 100_000] {
        for share in [0.0, 0.02, 0.5, 1.0] {
            // A hump about the count that fits on average, as wide as chance makes it; any height will do here.
            let n = f64::from(pieces);
            let (middle, width) = (n * share, (n * share * (1.0 - share)).sqrt().max(0.3));
            let hump = |k: u32| {
                let z = (f64::from(k) - middle) / width;
                1.0 / (1.0 + z * z * z * z * z * z)
            };
            let all: f64 = (0..=pieces).map(hump).sum();
            let fits: Vec<f64> = (0..=pieces).map(|k| hump(k) / all).collect();
            let report = BatchReport {
                pieces,
                expected: middle,
                if_independent: fits.clone(),
                fits,
                ..report.clone()
            };
            check(&report.picture(), &format!("{share} of {pieces}"));
        }
    }
}

#[test]
fn test_cuts_near_and_far_from_their_band() {
    let known = include_str!("../../tests/fixtures/testcut-1.json");
    let report: TestCutReport = serde_json::from_str(known).unwrap();
    let bands = [
        None,
        Some((Some(-0.005), Some(0.005))),
        Some((None, Some(0.1))),
    ];
    for (band_in, off) in bands.into_iter().zip([0.0, 0.0123, -0.2]) {
        let mut report = report.clone();
        report.band_in = band_in;
        report.best_move_in = -off;
        report.after.mean_in += off;
        report.after.interval_95_in.0 += off;
        report.after.interval_95_in.1 += off;
        report.leave.inside = 0.999_999_5;
        for style in STYLES {
            check(
                &report.picture(&style),
                &format!("{band_in:?}, off by {off}"),
            );
        }
    }
}

#[test]
fn runs_short_long_and_far_out() {
    let known = [
        include_str!("../../tests/fixtures/watch-1.json"),
        include_str!("../../tests/fixtures/watch-ewma-1.json"),
    ];
    for known in known {
        let report: WatchReport = serde_json::from_str(known).unwrap();
        for (count, step) in [(1, 0.0), (2, 0.0), (40, 0.001), (40, 0.5), (500, -0.02)] {
            let mut report = report.clone();
            let point = |k: usize| WatchPoint {
                reading: k as u64 + 1,
                value: 0.3745 + if k.is_multiple_of(3) { step } else { 0.0 },
                sums: report.points[0].sums.map(|_| (step.abs() * 2e3, 0.1)),
                ..report.points[k % report.points.len()]
            };
            let points: Vec<WatchPoint> = (0..count).map(point).collect();
            report.points = points;
            for style in STYLES {
                check(&report.picture(&style), &format!("{count} by {step}"));
            }
        }
    }
}

#[test]
fn studies_of_few_and_many_parts_and_people() {
    let known = include_str!("../../tests/fixtures/gauge-1.json");
    let report: StudyReport = serde_json::from_str(known).unwrap();
    // A report of before the readings were kept.
    assert!(report.picture(&STYLES[0]).is_none());
    for (parts, people, name) in [
        (1, 1, "a"),
        (10, 3, "part "),
        (60, 12, "a very long name of a part "),
    ] {
        let names = |count: i32, name: &str| (0..count).map(|k| format!("{name}{k}")).collect();
        let mut report = report.clone();
        report.parts = names(parts, name);
        report.people = names(people, "a person of a name that does not end ");
        let pairs = report.parts.iter().enumerate();
        let pairs = pairs.flat_map(|(k, part)| report.people.iter().map(move |p| (k, part, p)));
        let cells: Vec<GaugeCell> = pairs
            .map(|(k, part, person)| GaugeCell {
                part: part.clone(),
                person: person.clone(),
                readings: vec![0.375 + 0.001 * (k as f64); 3],
            })
            .collect();
        report.cells = cells;
        for style in STYLES {
            let picture = report.picture(&style).unwrap();
            check(&picture, &format!("{parts} parts, {people} people"));
        }
    }
}

#[test]
fn comparisons_of_one_to_fourteen_plans() {
    let known = include_str!("../../tests/fixtures/compare-1.json");
    let report: CompareReport = serde_json::from_str(known).unwrap();
    for count in [1, 2, 14] {
        let mut report = report.clone();
        let mut plan = report.plans[0].clone();
        plan.subject.title =
            "A title that goes on and on, and does not come to its end here".into();
        plan.minutes = Some(1234.5);
        plan.outcomes[0].name = "an_outcome_of_a_long_name".into();
        report.plans = vec![plan; count];
        check(&report.picture(), &format!("{count} plans"));
    }
}

/// The shaded part of the curve is as large as its chance: what is drawn is what is said.
#[test]
fn the_area_inside_the_band_is_the_chance() {
    let stack = stack(3, -0.4, 0.3);
    let outcome = stack.outcome("fit").unwrap();
    let density = Density::of(outcome).unwrap();
    let part = density.part(-0.0004, 0.0003);
    let area: f64 = part
        .windows(2)
        .map(|w| (w[1].0 - w[0].0) * f64::midpoint(w[0].1, w[1].1))
        .sum();
    let chance = outcome
        .exact()
        .unwrap()
        .chance(&outcome.band().unwrap())
        .value
        .inside;
    // The trapezium rule over steps of a thirtieth of a standard deviation is off by 1e-4.
    assert!((area - chance).abs() < 1e-4, "{area} {chance}");
}
