//! No label lies on another, every label lies on the page, and no picture is large.

use super::Density;
use super::picture::Picture;
use crate::{
    BudgetReport, ChanceReport, SettingReport, SettingRow, Style, Subject, ThreeChances, Unit,
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
            best_in: curve[best].setting_in,
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
