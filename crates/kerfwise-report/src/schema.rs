//! The published forms of JSON, written from the types; and what was written once is still read.
//!
//! `KERFWISE_BLESS=1` writes docs/schema anew; read the difference before it is committed: within a version fields are only
//! added.

use crate::{
    BatchReport, BudgetReport, ChanceReport, CompareReport, FirstCutReport, ImproveReport,
    JobReport, JudgeReport, LearnReport, PairReport, ReadingsReport, SettingReport, StudyReport,
    TestCutAheadReport, TestCutReport, WatchReport,
};
use schemars::JsonSchema;
use schemars::generate::SchemaSettings;
use serde::de::DeserializeOwned;
use serde_json::{Value, json};
use std::path::{Path, PathBuf};

fn folder(name: &str) -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR")).join(name)
}

/// The form of a type as it is written, with the name that its first field holds.
fn schema<T: JsonSchema>(name: &str) -> Value {
    let generator = SchemaSettings::draft2020_12()
        .for_serialize()
        .into_generator();
    let mut schema = serde_json::to_value(generator.into_root_schema_for::<T>()).unwrap();
    schema["title"] = json!(name);
    schema["properties"]["schema"]["const"] = json!(name);
    schema
}

/// What stands in docs/schema is what the type says, and every file of this form that was ever kept is read.
fn check<T: JsonSchema + DeserializeOwned>(name: &str, kept: &[&str]) {
    let file = format!(
        "{}.json",
        name.trim_start_matches("kerfwise/").replace('/', "-")
    );
    let path = folder("../../docs/schema").join(file);
    let fresh = serde_json::to_string_pretty(&schema::<T>(name)).unwrap() + "\n";
    if std::env::var_os("KERFWISE_BLESS").is_some() {
        std::fs::create_dir_all(path.parent().unwrap()).unwrap();
        std::fs::write(&path, &fresh).unwrap();
    }
    let published = std::fs::read_to_string(&path).unwrap_or_default();
    assert!(
        published == fresh,
        "{} is not what the type says",
        path.display()
    );
    for file in kept {
        let text = std::fs::read_to_string(folder("tests/fixtures").join(file)).unwrap();
        let value: Value = serde_json::from_str(&text).unwrap();
        assert_eq!(value["schema"], name, "{file}");
        if let Err(fault) = serde_json::from_str::<T>(&text) {
            panic!("{file} is read no more: {fault}");
        }
    }
}

#[test]
fn published_forms_are_those_of_the_types_and_old_files_are_read() {
    check::<JobReport>("kerfwise/job/1", &["job-1.json"]);
    check::<ChanceReport>("kerfwise/chance/1", &["chance-1.json"]);
    check::<BudgetReport>("kerfwise/budget/1", &["budget-1.json"]);
    check::<SettingReport>(SettingReport::SCHEMA, &["setting-1.json"]);
    check::<FirstCutReport>(FirstCutReport::SCHEMA, &[]);
    check::<CompareReport>(CompareReport::SCHEMA, &["compare-1.json"]);
    let cuts = ["testcut-1.json", "testcut-felt-1.json"];
    check::<TestCutReport>(TestCutReport::SCHEMA, &cuts);
    check::<TestCutAheadReport>(TestCutAheadReport::SCHEMA, &["testcut-ahead-1.json"]);
    check::<BatchReport>(BatchReport::SCHEMA, &["batch-1.json"]);
    check::<JudgeReport>(JudgeReport::SCHEMA, &["judge-1.json"]);
    check::<ImproveReport>(ImproveReport::SCHEMA, &["improve-1.json"]);
    check::<PairReport>(PairReport::SCHEMA, &["pair-1.json"]);
    check::<ReadingsReport>(ReadingsReport::SCHEMA, &["readings-1.json"]);
    check::<StudyReport>(StudyReport::SCHEMA, &["gauge-1.json"]);
    check::<LearnReport>(LearnReport::SCHEMA, &["learn-1.json"]);
    check::<WatchReport>(WatchReport::SCHEMA, &["watch-1.json", "watch-ewma-1.json"]);
}
