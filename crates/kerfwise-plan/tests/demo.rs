//! The data sets are good plans, and say what their READMEs say.

use kerfwise_plan::{Plan, demo};
use kerfwise_source::{Event, LengthUnits, TypeA};
use std::path::{Path, PathBuf};

fn datasets() -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR")).join("../../datasets")
}

#[track_caller]
fn read(path: &str) -> Plan {
    match Plan::from_path(&datasets().join(path)) {
        Ok(plan) => plan,
        Err(faults) => panic!("{faults}"),
    }
}

#[test]
fn the_demonstration_is_the_one_in_the_file() {
    let (inside, file) = (demo().unwrap(), read("plant-stands/plan.toml"));
    assert_eq!(inside.hash(), file.hash());
    assert_eq!(inside.source_text(), file.source_text());
    assert_eq!(inside.readings(), file.readings());
    assert_eq!(inside.warnings(), []);
    assert_eq!(inside.pieces(), Some(24));
    assert_eq!(inside.version(), 1);
    assert!(!inside.setting_was_given());
    assert_eq!(inside.setting_step(), Some(0.0005.inch()));
    let names: Vec<&str> = inside.stack().outcomes().map(|o| o.name()).collect();
    assert_eq!(names, ["fit", "face_step"]);
}

/// Kerf 0.126125 in, mortise 0.3745 in, and the slanting plunger takes a third of 0.5 in (1 - cos 2 deg) on
/// average: 0.50073 in, which is 1001.5 steps of the dial less a little.
#[test]
fn the_travel_is_what_the_pencil_gives() {
    let plan = demo().unwrap();
    let kerf = plan
        .readings()
        .iter()
        .find(|r| r.column == "kerf (in)")
        .unwrap();
    assert_eq!(kerf.count, 8);
    assert_eq!(plan.joint().unwrap().dialled(), 0.5005.inch());
    let unrounded = demo_with("dial_step = \"0.0005 in\"", "");
    let expected = 0.126_125 + 0.3745 + 0.000_102;
    // Because the mean of the cosine error is rounded to a microinch here.
    assert!((unrounded.joint().unwrap().dialled().to_inches() - expected).abs() < 1e-6);
    assert!(!unrounded.setting_was_given());
}

fn demo_with(from: &str, to: &str) -> Plan {
    let text = kerfwise_plan::DEMO_PLAN.replacen(from, to, 1);
    assert_ne!(text, kerfwise_plan::DEMO_PLAN, "{from:?} is in the plan");
    let folder = datasets().join("plant-stands");
    let beside = |path: &str| std::fs::read_to_string(folder.join(path));
    match Plan::parse("plan.toml", &text, &beside) {
        Ok(plan) => plan,
        Err(faults) => panic!("{faults}"),
    }
}

#[test]
fn another_travel_changes_the_travel_and_nothing_else() {
    let plan = demo().unwrap();
    let moved = plan.with_setting(0.501.inch()).unwrap();
    assert_eq!(moved.joint().unwrap().dialled(), 0.501.inch());
    assert_eq!(moved.hash(), plan.hash());
    let names = |plan: &Plan| -> Vec<String> {
        let sources = plan.stack().sources();
        sources.iter().map(|s| s.name().to_owned()).collect()
    };
    assert_eq!(names(&moved), names(&plan));
    let stated = demo_with("dial_step", "travel = \"0.501 in\"\ndial_step");
    assert!(stated.setting_was_given());
    assert_eq!(stated.joint().unwrap().dialled(), 0.501.inch());
    assert_ne!(stated.hash(), plan.hash());
    let refused = plan.with_setting((-0.1).inch()).unwrap_err();
    assert!(refused.to_string().contains("above 0"), "{refused}");
    let drawer = read("drawer/plan.toml");
    assert!(
        drawer
            .with_setting(0.5.inch())
            .unwrap_err()
            .to_string()
            .contains("no joint")
    );
}

#[test]
fn sources_are_what_the_plan_says() {
    let plan = demo().unwrap();
    let sources = plan.stack().sources();
    let find = |name: &str| *sources.iter().find(|s| s.name() == name).unwrap();
    let readings = [
        0.1265, 0.1260, 0.1255, 0.1265, 0.1260, 0.1270, 0.1255, 0.1260,
    ];
    let type_a = TypeA::from_readings(&readings).unwrap();
    assert_eq!(find("kerf").error(), &type_a.error_of_mean());
    // Whole numbers, so this is equality.
    let has = |name: &str, dof: f64| (find(name).degrees_of_freedom() - dof).abs() < f64::EPSILON;
    assert!(has("kerf", 7.0));
    assert_eq!(find("kerf").event(), &Event::blade());
    let where_from = find("kerf").provenance().to_string();
    assert_eq!(
        where_from,
        "measured (readings/kerf.csv, column \"kerf (in)\", 8 readings)"
    );
    assert!(has("mortise_spread", 9.0));
    assert_eq!(find("mortise_spread").estimate(), 0.inch().into());
    assert_eq!(find("seating.first").event(), &Event::cut());
    assert!(!find("seating.first").is_same(find("seating.second")));
    assert_eq!(
        find("caliper").bounds(),
        Some((-20.0 / 25_400.0, 20.0 / 25_400.0))
    );
    // Described, but the dial is read after locking.
    assert!(sources.iter().all(|s| s.name() != "lock_shift"));
    assert!(
        sources.iter().all(|s| s.bounds().is_some()),
        "the worst case needs limits"
    );
}

/// tenon = 2 · distance − stock: a setting that is a thou further makes all tenons 2 thou thicker, and the gauge that measures
/// them sees it.
#[test]
fn what_is_set_without_a_dial() {
    let plan = read("plant-stands/turned.toml");
    assert!(plan.joint().is_none() && plan.setting_was_given());
    let further = plan.with_setting(0.5632.inch()).unwrap();
    let moved = |plan: &Plan| plan.stack().outcome("fit").unwrap().evaluate(&[]).unwrap();
    // Rounding of a few sums.
    assert!((moved(&further).raw() - moved(&plan).raw() - 0.002).abs() < 1e-15);
    let set = further.adjustment().unwrap();
    assert_eq!(set.source().estimate(), 0.5632.inch().into());
    let gauge = further.tenon_gauge(None).unwrap();
    let sees = |name: &str| {
        gauge
            .shown()
            .sources()
            .iter()
            .any(|s| s.is_same(set.source()) && s.name() == name)
    };
    assert!(sees("distance"));
    let back = further.with_setting(0.5622.inch()).unwrap();
    assert_eq!(moved(&back), moved(&plan));
    let told = plan.with_setting((-1.0).inch()).unwrap_err().to_string();
    assert!(
        told.contains("\"distance\" must be set above 0 (got -1 in)"),
        "{told}"
    );
    assert!(read("drawer/plan.toml").with_setting(1.inch()).is_err());
}

#[test]
fn the_drawer_is_in_the_general_form() {
    let plan = read("drawer/plan.toml");
    assert!(plan.joint().is_none());
    assert_eq!(plan.warnings(), []);
    assert_eq!(plan.readings().len(), 2);
    let gap = plan.stack().outcome("side_gap").unwrap();
    assert_eq!(gap.expr().to_string(), "opening - drawer - 2 * slip");
}

#[test]
fn outcomes_beside_a_joint_may_name_its_sources() {
    let plan = demo_with(
        "# --- how far",
        "[outcome.off]\nexpression = \"seating.second - seating.first + travel * 0\"\nband = [\"-1 thou\", \"1 thou\"]\n# --- how far",
    );
    let names: Vec<&str> = plan.stack().outcomes().map(|o| o.name()).collect();
    assert_eq!(names, ["fit", "face_step", "off"]);
    // The joint makes its travel anew, and the expression follows.
    let moved = plan.with_setting(0.5.inch()).unwrap();
    assert_eq!(moved.stack().outcomes().count(), 3);
}

#[test]
fn what_nothing_uses_is_a_warning() {
    let plan = demo_with(
        "# --- how far",
        "[source.idle]\nnormal = \"1 thou\"\nassumed = \"test\"\n# --- how far",
    );
    let [warning] = plan.warnings() else {
        panic!("one warning");
    };
    assert_eq!(warning.message, "nothing uses source \"idle\"");
    assert!(warning.line > 30);
}

#[test]
fn readings_that_are_all_alike_are_a_warning() {
    let text = "version = 1\ntitle = \"t\"\n[outcome.y]\nexpression = \"x\"\n[source.x]\nreadings = \"r.csv\"\nuse = \"mean\"\n";
    let warned = |readings: &str| {
        let plan = Plan::parse("plan.toml", text, &|_| Ok(readings.to_owned())).unwrap();
        plan.warnings().to_vec()
    };
    assert_eq!(warned("x (in)\n0.126\n0.127\n"), []);
    let alike = warned("x (in)\n0.126\n0.126\n");
    assert_eq!((alike.len(), alike[0].line), (1, 5));
    assert!(alike[0].message.contains("do not differ"), "{}", alike[0]);
}

#[test]
fn the_hash_knows_the_readings() {
    let text = "version = 1\ntitle = \"t\"\n[outcome.y]\nexpression = \"x\"\n[source.x]\nreadings = \"r.csv\"\nuse = \"mean\"\n";
    let hash = |readings: &str| {
        Plan::parse("plan.toml", text, &|_| Ok(readings.to_owned()))
            .unwrap()
            .hash()
    };
    assert_eq!(hash("x (in)\n1\n2\n"), hash("x (in)\n1\n2\n"));
    assert_ne!(hash("x (in)\n1\n2\n"), hash("x (in)\n1\n3\n"));
}
