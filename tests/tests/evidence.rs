//! From files of readings to sources and judgements.

use kerfwise::gauge::{
    Component, Confidence, GaugeReading, GaugeStudy, Interaction, Log, LogNames, LogReading,
    Moments,
};
use kerfwise::numeric::float::hypot;
use kerfwise::plan::{Faults, read_log, stream_readings};
use kerfwise::prelude::*;
use kerfwise::source::Provenance;
use proptest::prelude::*;
use std::path::Path;

fn file(name: &str) -> String {
    let folder = Path::new(env!("CARGO_MANIFEST_DIR")).join("../datasets/set-ups");
    std::fs::read_to_string(folder.join(name)).unwrap()
}

/// The truth stands in `datasets/set-ups/README.md`; the data are fixed, so that this holds or does not.
#[track_caller]
fn assert_holds(component: &Component, thou: f64) {
    let interval = component.standard_deviation_interval();
    assert!(
        interval.contains(thou / 1000.0),
        "{component:?} for {thou} thou"
    );
}

#[test]
fn the_log_of_set_ups_becomes_measured_sources_of_a_stack() {
    let text = file("tenons.csv");
    let found = read_log("tenons.csv", &text, &["set-up", "piece"], "tenon (in)").unwrap();
    let rows: Vec<LogReading<'_>> = found
        .rows()
        .iter()
        .map(|row| LogReading {
            set_up: &row.labels[0],
            piece: &row.labels[1],
            reading: row.raw,
        })
        .collect();
    let log = Log::new(&rows).unwrap();
    assert_eq!((log.set_ups(), log.pieces(), rows.len()), (8, 24, 48));
    let spreads = log.spreads(Confidence::default());
    assert_holds(&spreads.set_up, 1.5);
    assert_holds(&spreads.piece, 0.8);
    assert_holds(&spreads.repeat.unwrap(), 0.2);
    assert!(log.mean_interval(Confidence::default()).contains(0.3745));

    let sources = log
        .sources(&LogNames {
            name: "tenon",
            dimension: found.dimension(),
            set_up: Event::tenon_set_up(),
            piece: Event::piece(),
            limits_at_sd: Some(3.0),
            readings: "tenons.csv",
        })
        .unwrap();
    let all = [sources.mean, sources.set_up, sources.piece];
    for source in &all {
        assert!(
            matches!(source.provenance(), Provenance::Measured { .. }),
            "{source:?}"
        );
    }
    let [mean, set_up, piece] = all.each_ref().map(Expr::source);
    let fit = mean + set_up + piece - Expr::constant(0.3745.inch());
    let band = Band::within(5.thou()).unwrap();
    let stack = Stack::builder().outcome("fit", &fit, band).build().unwrap();
    let answer = stack
        .outcome("fit")
        .unwrap()
        .root_sum_of_squares(RootSumOfSquares::new())
        .unwrap();
    // The squares of all three, by hand.
    let square = |source: &Source| {
        let u = source.standard_uncertainty().unwrap().raw();
        u * u
    };
    let wanted: f64 = all.iter().map(square).sum::<f64>().sqrt();
    // Because three squares are added in another order.
    assert!((answer.standard_uncertainty.raw() / wanted - 1.0).abs() < 1e-12);
}

#[test]
fn the_study_of_the_caliper_judges_it_against_the_band() {
    let text = file("caliper-study.csv");
    let found = read_log(
        "caliper-study.csv",
        &text,
        &["part", "person"],
        "thickness (in)",
    )
    .unwrap();
    let rows: Vec<GaugeReading<'_>> = found
        .rows()
        .iter()
        .map(|row| GaugeReading {
            part: &row.labels[0],
            person: &row.labels[1],
            reading: row.raw,
        })
        .collect();
    let study = GaugeStudy::new(&rows).unwrap();
    assert_eq!((study.parts().len(), study.people().len()), (8, 3));
    let found = study.components(Interaction::Tested, Confidence::default());
    assert_holds(&found.part, 1.2);
    assert_holds(&found.reproducibility, 0.3);
    // The caliper's step of 0.5 thou adds its own, 0.5/√12, to the 0.4 of the hand.
    assert_holds(&found.repeatability, hypot(0.4, 0.5 / 12.0_f64.sqrt()));
    let (share, interval) = found.share_of_band(0.010).unwrap();
    assert!(
        interval.contains(share) && share > 0.2 && share < 0.6,
        "{share}"
    );
}

// Two roads to the same numbers: a column read whole and a column that streams by.
#[test]
fn a_column_streams_to_the_same_bits() {
    let text = file("tenons.csv");
    let mut moments = Moments::new();
    stream_readings("tenons.csv", text.as_bytes(), "tenon (in)", |reading| {
        moments.add(reading).unwrap();
    })
    .unwrap();
    let whole = kerfwise::plan::read_readings("tenons.csv", &text, "tenon (in)").unwrap();
    assert_eq!(Ok(moments), Moments::of(whole.raw()));
    assert_eq!(moments.count(), 48);
}

/// A line of a file, of pieces that are troublesome together.
fn line() -> impl Strategy<Value = String> {
    let piece = prop::sample::select(vec![
        "0.5",
        "1/4",
        "2",
        "x",
        "\"3\"",
        "\"",
        "\"\"",
        ",",
        ",",
        ";",
        "#",
        " ",
        "5\" blade",
    ]);
    let end = prop::sample::select(vec!["\n", "\n", "\r\n"]);
    (prop::collection::vec(piece, 0..6), end).prop_map(|(pieces, end)| pieces.concat() + end)
}

proptest! {
    // A text read whole, with words beside it, and a text that streams by: the same readings, or faults on the same lines.
    #[test]
    fn all_ways_to_read_a_column_agree(lines in prop::collection::vec(line(), 0..12), has_mark: bool) {
        let mark = if has_mark { "\u{feff}" } else { "" };
        let text = format!("{mark}# a comment\n\nno,a (in)\n{}", lines.concat());
        let whole = kerfwise::plan::read_readings("r.csv", &text, "a (in)");
        let mut streamed = Vec::new();
        let found = stream_readings("r.csv", text.as_bytes(), None, |x| streamed.push(x));
        // Of a record over several lines one names the line of the cell, the other that of the record.
        let has_quotes = text.contains('"');
        let told = |faults: &Faults| -> Vec<(usize, String)> {
            let line = |line: usize| if has_quotes { 0 } else { line };
            let faults = faults.faults().iter();
            let mut told: Vec<_> = faults.map(|f| (line(f.line), f.message.clone())).collect();
            told.sort();
            told
        };
        match (whole, found) {
            (Ok(whole), Ok(_)) => {
                prop_assert_eq!(whole.raw(), &streamed);
                let log = read_log("r.csv", &text, &[], "a (in)").unwrap();
                let raw: Vec<f64> = log.rows().iter().map(|row| row.raw).collect();
                prop_assert_eq!(raw, streamed);
            }
            (Err(whole), Err(found)) => prop_assert_eq!(told(&whole), told(&found)),
            (whole, found) => prop_assert!(false, "{whole:?} but {found:?}"),
        }
    }
}
