//! The command, run as a user runs it.

mod common;

use common::{complaint, kerfwise, printed, top};
use kerfwise_report::{
    Adjusted, AheadRow, BatchReport, BudgetReport, ChanceReport, CompareReport, FirstCutReport,
    ImproveReport, JobReport, JudgeReport, PairReport, SettingReport, TestCutAheadReport,
    TestCutReport,
};

const PLAN: &str = "datasets/plant-stands/plan.toml";
const TURNED: &str = "datasets/plant-stands/turned.toml";
const DRAWER: &str = "datasets/drawer/plan.toml";

#[test]
fn without_words_it_does_the_main_job_on_the_built_in_plan() {
    let text = printed(&[]);
    let file = printed(&["job", PLAN]);
    assert_eq!(text, file, "the built-in plan is the one in datasets");
    for word in [
        "Dial",
        "joints fit",
        "Batch of 24",
        "worst case",
        "exact",
        "Monte Carlo",
        "test cut on scrap",
    ] {
        assert!(text.contains(word), "no \"{word}\" in:\n{text}");
    }
}

#[test]
fn four_propagations_agree_on_the_plan() {
    let report: ChanceReport =
        serde_json::from_str(&printed(&["chance", PLAN, "--json"])).expect("the JSON reads back");
    assert_eq!(report.trials, Some(200_000), "default number of trials");
    let fit = &report.outcomes[0];
    let exact = fit.exact.answer().expect("the plan is affine");
    let trials = fit.monte_carlo.answer().expect("Monte Carlo always runs");
    let rss = fit.root_sum_of_squares.answer().expect("all have a spread");
    let worst = fit.worst_case.answer().expect("all have limits");
    let (e, m) = (exact.chance.expect("band"), trials.chance.expect("band"));
    let (bound, se) = (
        e.error.expect("a bound"),
        m.error.expect("a standard error"),
    );
    // Five standard errors of the trials.
    assert!(
        (e.inside - m.inside).abs() < 5.0 * se + bound,
        "{e:?} {m:?}"
    );
    let r = rss.chance.expect("band");
    assert_eq!(
        r.error, None,
        "how far the normal assumption is off is not known"
    );
    // The normal assumption is worth a point or two here, no more: the sources are many and alike.
    assert!((e.inside - r.inside).abs() < 0.02, "{e:?} {r:?}");
    assert!(worst.lower < exact.interval_95.0 && worst.upper > exact.interval_95.1);
    let batch = fit
        .batch
        .as_ref()
        .and_then(|b| b.answer())
        .expect("24 pieces");
    assert!(
        batch.all > batch.if_independent && batch.all < e.inside,
        "shared errors help a batch"
    );
}

#[test]
fn every_command_answers_in_text_and_json() {
    for command in ["job", "chance", "budget", "setting"] {
        let text = printed(&[command, PLAN]);
        assert!(
            text.contains("test cut on scrap"),
            "{command} leads to the saw, so it cautions"
        );
        let json: serde_json::Value =
            serde_json::from_str(&printed(&[command, PLAN, "--json"])).expect("JSON");
        assert_eq!(json["schema"], format!("kerfwise/{command}/1"));
    }
    let setting: SettingReport =
        serde_json::from_str(&printed(&["setting", PLAN, "--json"])).expect("the JSON reads back");
    assert!(setting.fine_in.0 <= setting.best_in && setting.best_in <= setting.fine_in.1);
    let budget: BudgetReport =
        serde_json::from_str(&printed(&["budget", PLAN, "--json"])).expect("the JSON reads back");
    let total = budget.outcomes[0].budget.answer().expect("a budget");
    let shares: f64 = total.rows.iter().map(|r| r.share).sum();
    assert!((shares - 1.0).abs() < 1e-12);
    let job: JobReport = serde_json::from_str(&printed(&["--json"])).expect("the JSON reads back");
    assert!(job.setting.is_some());
}

#[test]
fn a_stack_that_is_no_joint() {
    let text = printed(&["chance", DRAWER]);
    assert!(text.contains("inside"), "{text}");
    let complaint = complaint(&["setting", DRAWER]);
    assert!(complaint.contains("nothing to set"), "{complaint}");
    assert!(printed(&["job", DRAWER]).contains("worst case"));
}

#[test]
fn a_joint_without_a_dial() {
    assert!(printed(&["job", TURNED]).contains("fit"));
    let text = printed(&["setting", TURNED]);
    assert!(
        text.contains("Set the jig with its face 0.5620 in from the tenon's side of the cut"),
        "{text}"
    );
    let report: SettingReport = serde_json::from_str(&printed(&["setting", TURNED, "--json"]))
        .expect("the JSON reads back");
    assert_eq!(report.what, Adjusted::Distance);
    // Half of stock and mortise together: (0.750 + the mean of the readings, 0.3745) / 2; its rounding, and that of the mean.
    assert!(
        (report.nominal_in - 0.56225).abs() < 1e-9,
        "{}",
        report.nominal_in
    );
    assert!(complaint(&["testcut", TURNED]).contains("no jig to move"));
    assert!(
        complaint(&[
            "setting",
            TURNED,
            "--first-cut",
            "--cost-tight",
            "5",
            "--cost-loose",
            "20"
        ])
        .contains("a jig that is moved by a dial")
    );
    let card = printed(&["card", TURNED]);
    // The plan's own setting, which is the best.
    assert!(
        card.contains("<span>Distance</span> <strong>0.5622 in</strong>"),
        "{card}"
    );
    assert!(card.contains("bring the jig nearer to the cut by half of it"));
    assert!(!card.contains("move the jig by"));
}

/// What the plans of the reference for other ways of cutting have to set.
#[test]
fn what_other_ways_have_to_set() {
    let reference =
        std::fs::read_to_string(top().join("docs/plan-file.md")).expect("the reference");
    let folder = tempfile::tempdir().expect("a temporary folder");
    let plan = |method: &str| {
        let mark = format!("method = \"{method}\"\n");
        let blocks = reference.split("```toml whole\n").skip(1);
        let mut texts = blocks.filter_map(|block| block.split("```").next());
        let text = texts
            .find(|text| text.contains(&mark))
            .expect("a plan of that method");
        let path = folder.path().join("plan.toml");
        std::fs::write(&path, text).expect("a file");
        path.display().to_string()
    };
    let told = complaint(&["judge", &plan("loose")]);
    assert!(
        told.contains("--outcome fit_rail or --outcome fit_leg"),
        "{told}"
    );
    let judged = printed(&["judge", &plan("loose"), "--outcome", "fit_leg"]);
    assert!(judged.contains("accept readings from"), "{judged}");
    let slip = printed(&["setting", &plan("loose")]);
    assert!(slip.contains("Plane the slip 0.3720 in thick"), "{slip}");
    assert!(slip.contains("both take the slip"), "{slip}");
    let pins = complaint(&["setting", &plan("by hand")]);
    assert!(pins.contains("set it to the chisel"), "{pins}");
    let card = printed(&["card", &plan("by hand")]);
    assert!(card.contains("Cut a test piece on scrap"), "{card}");
}

#[test]
fn costs_of_a_setting() {
    let priced = ["setting", PLAN, "--cost-tight", "5", "--cost-loose", "20"];
    let text = printed(&priced);
    assert!(text.contains("and 20 for a loose one"), "{text}");
    let report: SettingReport =
        serde_json::from_str(&printed(&[&priced[..], &["--json"]].concat()))
            .expect("the JSON reads back");
    let cost = report.cost.expect("costs were given");
    // Loose joints cost more, so a thicker tenon is the cheaper aim; it can cost no more than the likeliest one.
    assert!(report.best_in > cost.likeliest_in && cost.best < cost.at_likeliest);
    let first = [
        "setting",
        PLAN,
        "--cost-tight",
        "8",
        "--cost-loose",
        "40",
        "--first-cut",
        "--recut",
        "2",
        "--others",
        "0",
    ];
    let text = printed(&first);
    assert!(
        text.contains("cut it again") && text.contains("keep it"),
        "{text}"
    );
    assert!(text.contains("test cut on scrap"), "{text}");
    let first: FirstCutReport = serde_json::from_str(&printed(&[&first[..], &["--json"]].concat()))
        .expect("the JSON reads back");
    assert!(first.offset_in > 0.0 && first.expected < first.without);
    assert!(complaint(&["setting", PLAN, "--first-cut"]).contains("--cost-tight"));
    let words = ["setting", PLAN, "--cost-tight", "-5", "--cost-loose", "20"];
    assert!(complaint(&words).contains("minutes are a number from 0 to 1000000"));
    assert!(complaint(&priced[..4]).contains("--cost-loose"));
}

#[test]
fn plans_side_by_side() {
    let text = printed(&["compare", PLAN, TURNED]);
    assert!(
        text.contains("1. Three ash") && text.contains("turned.toml"),
        "{text}"
    );
    let read = |words: &[&str]| -> CompareReport {
        serde_json::from_str(&printed(words)).expect("the JSON reads back")
    };
    let usual = read(&["compare", PLAN, TURNED, "--json"]);
    let fit = &usual.plans[1].outcomes[0];
    let by_hand = 5.0 * fit.chance.above + 14.0 * fit.chance.below;
    // Two products and a sum of numbers below 14.
    assert!((usual.plans[1].minutes.expect("it has a fit") - by_hand).abs() < 1e-13);
    let free = read(&["compare", TURNED, "--json", "--tight", "0", "--loose", "0"]);
    assert_eq!(free.plans[0].minutes, Some(0.0));
    assert!(complaint(&["compare", PLAN, "--tight", "nan"]).contains("0 to 1000000"));
    assert!(complaint(&["compare"]).contains("PLANS"));
}

#[test]
fn seed_and_threads() {
    let one = printed(&["chance", PLAN, "--seed", "7", "--threads", "1"]);
    let five = printed(&["chance", PLAN, "--seed", "7", "--threads", "5"]);
    assert_eq!(one, five, "threads change nothing");
    assert_ne!(
        one,
        printed(&["chance", PLAN, "--seed", "8"]),
        "another seed, other trials"
    );
}

#[test]
fn millimetres_on_request() {
    let text = printed(&["setting", PLAN, "--unit", "mm"]);
    assert!(text.contains(" mm") && !text.contains(" in:"), "{text}");
}

#[test]
fn a_card_is_one_page_that_stands_alone() {
    let folder = tempfile::tempdir().expect("a temporary folder");
    let path = folder.path().join("card.html");
    let said = printed(&["card", PLAN, "-o", path.to_str().expect("UTF-8")]);
    assert!(said.contains("card.html"), "{said}");
    let page = std::fs::read_to_string(&path).expect("the card was written");
    let is_same = page.trim_end() == printed(&["card", PLAN]).trim_end();
    assert!(is_same, "the file and the output differ");
    for word in [
        "<strong>0.5005 in</strong>",
        "reference face",
        "too loose 2.30 %",
        "leave it",
        "a gauge that shows steps of 0.0005 in",
        "test cut on scrap",
    ] {
        assert!(page.contains(word), "no \"{word}\" on the card");
    }
    // The one address is the name of the SVG language.
    let elsewhere = page.replace("http://www.w3.org/2000/svg", "");
    for word in ["<script", "http", "src=", "<link"] {
        assert!(!elsewhere.contains(word), "the card reaches out: {word}");
    }
    assert!(complaint(&["card", PLAN, "--json"]).contains("kerfwise job --json"));
    let nowhere = folder.path().join("no/such/folder/card.html");
    assert!(
        complaint(&["card", PLAN, "-o", nowhere.to_str().expect("UTF-8")]).contains("cannot write")
    );
}

#[test]
fn what_is_odd_about_a_plan_is_told_beside_the_answer() {
    let folder = tempfile::tempdir().expect("a folder");
    let path = folder.path().join("plan.toml");
    let text = std::fs::read_to_string(top().join(DRAWER)).expect("it is there");
    let idle = "\n[source.idle]\nnormal = \"1 thou\"\nassumed = \"test\"\n";
    let readings = top().join("datasets/drawer/readings");
    let readings = readings.to_str().expect("a path").replace('\\', "/");
    let text = text.replace("readings/case.csv", &format!("{readings}/case.csv"));
    std::fs::write(&path, format!("{text}{idle}")).expect("it can be written");
    let output = kerfwise(&["chance", path.to_str().expect("a path")]);
    assert!(output.status.success());
    let told = String::from_utf8(output.stderr).expect("it is UTF-8");
    assert!(
        told.contains("warning: ") && told.contains("nothing uses source \"idle\""),
        "{told}"
    );
}

#[test]
fn bad_words_end_with_2_and_say_what_to_do() {
    assert!(complaint(&["chance", "no-such-plan.toml"]).contains("no-such-plan.toml"));
    assert!(complaint(&["guess"]).contains("guess"));
    assert!(complaint(&["chance", PLAN, "--trials", "0"]).contains("trials"));
    let folder = tempfile::tempdir().expect("a temporary folder");
    let path = folder.path().join("plan.toml");
    std::fs::write(
        &path,
        "version = 1\ntitle = \"x\"\n[source.a]\nnormal = \"0.4\"\n",
    )
    .expect("written");
    let before = std::fs::read(&path).expect("there");
    let text = complaint(&["chance", path.to_str().expect("UTF-8")]);
    assert!(text.contains("plan.toml"), "{text}");
    assert_eq!(
        std::fs::read(&path).expect("there"),
        before,
        "the user's file is as it was"
    );
}

fn test_cut(words: &[&str]) -> TestCutReport {
    let mut all = vec!["testcut", PLAN, "--json"];
    all.extend(words);
    let json = printed(&all);
    assert!(json.contains("kerfwise/testcut/1"));
    serde_json::from_str(&json).expect("the JSON reads back")
}

#[test]
fn test_pieces_tell_to_leave_the_jig_or_to_move_it() {
    // The plan expects 0.3743 in: nothing to mend.
    let left = test_cut(&["--measured", "0.3745in"]);
    assert!(!left.move_the_jig && left.leave.inside > left.moved.inside);
    // Two tight pieces: thinner tenons, and the gain is worth it.
    let moved = test_cut(&["--felt", "tight", "--felt", "tight"]);
    assert!(moved.move_the_jig && moved.best_move_in < 0.0, "{moved:?}");
    assert!(moved.moved.inside > moved.leave.inside + 0.05, "{moved:?}");
    assert!(moved.after.mean_in > moved.before.mean_in);
    assert!(moved.next_piece.then >= moved.next_piece.now);
    // In one mortise, the mortise may be at fault.
    let one = test_cut(&["--felt", "tight", "--felt", "tight", "--one-mortise"]);
    assert!(one.after.mean_in < moved.after.mean_in);
    // With the caliper of the mortise, its own error cancels and the reading tells more.
    let same = test_cut(&["--measured", "0.3765in", "--gauge", "wedge_caliper"]);
    let other = test_cut(&["--measured", "0.3765in"]);
    assert!(same.after.sd_in < other.after.sd_in);
    // What the dial showed shifts what is expected.
    let thick = test_cut(&["--measured", "0.3785in", "--dial", "0.5045in"]);
    assert!(
        thick.move_the_jig && thick.best_move_in < -0.003,
        "{thick:?}"
    );
    let priced = [
        "--cost-tight",
        "5",
        "--cost-loose",
        "20",
        "--cost-test",
        "4",
    ];
    let text = printed(&[&["testcut", PLAN, "--measured", "0.3795in"][..], &priced].concat());
    // Wherever a line ends.
    let words: Vec<&str> = text.split_whitespace().collect();
    assert!(
        words.join(" ").contains("In minutes: rework of 24 joints"),
        "{text}"
    );
    let text = printed(&["testcut", PLAN, "--measured", "0.3745in"]);
    assert!(!text.contains("In minutes"), "{text}");
    assert!(
        text.contains("Leave the jig as it is") && text.contains("test cut on scrap"),
        "{text}"
    );
}

#[test]
fn before_the_first_test_piece_there_is_a_card() {
    let report: TestCutAheadReport =
        serde_json::from_str(&printed(&["testcut", PLAN, "--json"])).expect("the JSON reads back");
    let line = |reading: f64| {
        let is_there = |l: &&AheadRow| l.from_in <= reading + 1e-9 && reading <= l.to_in + 1e-9;
        *report.lines.iter().find(is_there).expect("no gap")
    };
    assert_eq!(line(0.3745).move_in, None);
    assert!(report.if_measured.then > report.if_measured.now);
    // The card says what asking would say.
    let asked = test_cut(&["--measured", "0.3780in"]);
    assert!(asked.move_the_jig);
    let on_card = line(0.378).move_in.expect("a move");
    assert!((on_card - asked.best_move_in).abs() < 1e-12);
    let costs = [
        "--cost-tight",
        "5",
        "--cost-loose",
        "20",
        "--cost-test",
        "3",
    ];
    let planned = [&["testcut", PLAN][..], &costs].concat();
    let text = printed(&planned);
    assert!(
        text.contains("How many test pieces are worth cutting"),
        "{text}"
    );
    let report: TestCutAheadReport =
        serde_json::from_str(&printed(&[&planned[..], &["--json"]].concat()))
            .expect("the JSON reads back");
    let plan = report.plan.expect("costs were given");
    // More pieces never tell less, up to what rounding to steps loses.
    assert!(
        plan.felt
            .windows(2)
            .all(|w| w[1].rework <= w[0].rework + 1e-3)
    );
    let text = printed(&["testcut", PLAN]);
    assert!(
        text.contains("leave it") && text.contains("test cut on scrap"),
        "{text}"
    );
    assert!(complaint(&["testcut", PLAN, "--resolution", "0.00001in"]).contains("for a card"));
}

#[test]
fn test_pieces_that_cannot_be_are_refused() {
    for (words, says) in [
        (vec!["--measured", "9.5in"], "is it in millimetres?"),
        (vec!["--measured", "0.3745"], "needs a unit"),
        (vec!["--measured", "0.45in"], "one in ten million"),
        (
            vec!["--measured", "0.3745in", "--gauge", "ruler"],
            "no source \"ruler\"",
        ),
        (
            vec!["--measured", "0.3745in", "--gauge", "caliper"],
            "an error of its own",
        ),
        (
            vec!["--measured", "0.3745in", "--resolution=-1mm"],
            "resolution",
        ),
        (vec!["--felt", "snug"], "snug"),
        (
            vec!["--felt", "tight", "--measured", "0.375in"],
            "either measured or felt",
        ),
    ] {
        let mut all = vec!["testcut", PLAN];
        all.extend(words);
        let complaint = complaint(&all);
        assert!(complaint.contains(says), "no \"{says}\" in: {complaint}");
    }
    assert!(complaint(&["testcut", DRAWER, "--felt", "tight"]).contains("no jig to move"));
}

#[test]
fn a_batch_counts_what_its_pieces_share() {
    let report: BatchReport =
        serde_json::from_str(&printed(&["batch", PLAN, "--json"])).expect("the JSON reads back");
    let chances: ChanceReport =
        serde_json::from_str(&printed(&["chance", PLAN, "--json", "--trials", "10000"]))
            .expect("the JSON reads back");
    let batch = chances.outcomes[0]
        .batch
        .as_ref()
        .and_then(|b| b.answer())
        .expect("24 pieces");
    // Two ways to the same number: a rule over panels, and the expectation of the exact propagation. The heavy tail of the
    // kerf beyond ten standard deviations is left out by the first (1e-9), as its bound says.
    assert!(
        (report.fits[24] - batch.all).abs() < 1e-8,
        "{} {}",
        report.fits[24],
        batch.all
    );
    assert_eq!(report.pieces, 24);
    let text = printed(&[
        "batch",
        PLAN,
        "--assurance",
        "0.8",
        "--cost-loose",
        "20",
        "--cost-tight",
        "4",
    ]);
    assert!(
        text.contains("are expected to fit") && text.contains("minutes of rework"),
        "{text}"
    );
    assert!(text.contains("test cut on scrap"), "{text}");
    let running = [
        "batch",
        PLAN,
        "--measured",
        "0.3752in",
        "--measured",
        "0.3745in",
    ];
    let text = printed(&running);
    assert!(
        text.contains("After 2 pieces") && text.contains("22 joints that are left"),
        "{text}"
    );
    let report: BatchReport = serde_json::from_str(&printed(&[&running[..], &["--json"]].concat()))
        .expect("the JSON reads back");
    assert_eq!(report.pieces, 22);
    let text = printed(&["batch", PLAN, "--felt", "fits", "--pieces", "5"]);
    assert!(text.contains("4 joints that are left"), "{text}");
    let none_left = [&running[..], &["--pieces", "2"]].concat();
    assert!(complaint(&none_left).contains("nothing left to forecast"));
    assert!(complaint(&["batch", PLAN, "--assurance", "1.5"]).contains("assurance"));
    assert!(complaint(&["batch", PLAN, "--pieces", "1000000"]).contains("1 to 10000"));
    assert!(
        complaint(&["batch", PLAN, "--cost-loose", "-5", "--cost-tight", "1"])
            .contains("from 0 to")
    );
    assert!(complaint(&["batch", PLAN, "--outcome", "gap"]).contains("no outcome \"gap\""));
    assert!(complaint(&["batch", DRAWER]).contains("how many pieces?"));
    assert!(printed(&["batch", DRAWER, "--pieces", "6"]).contains("Of 6 joints"));
}

/// The loose tenon of docs/plan-file.md, written out.
fn loose_plan() -> String {
    let page = std::fs::read_to_string(top().join("docs/plan-file.md")).expect("the page is there");
    let from = page
        .find("title = \"Rail to leg, a loose tenon\"")
        .expect("its example");
    let plan = page[from..].split("```").next().expect("an end");
    let path = std::path::Path::new(env!("CARGO_TARGET_TMPDIR")).join("loose.toml");
    std::fs::write(&path, format!("version = 1\n{plan}")).expect("written");
    path.to_str().expect("UTF-8").to_owned()
}

#[test]
fn both_fits_of_a_loose_tenon_count() {
    let plan = loose_plan();
    let told = |words: &[&str]| -> BatchReport {
        let words = [&["batch", &plan, "--pieces", "12", "--json"], words].concat();
        serde_json::from_str(&printed(&words)).expect("the JSON reads back")
    };
    let both = told(&[]);
    assert_eq!(both.outcome, "fit_rail and fit_leg");
    let rail = told(&["--outcome", "fit_rail"]);
    // Fits within ±5 of 0.372 − (0.376 − 0.004): normal with 1 thou of slip and of mortise each. Two fits that share the slip
    // are likelier than the square of one (Jensen), and less likely than one.
    let (one, two) = (rail.one.inside, both.one.inside);
    assert!(one * one < two && two < one, "{one} {two}");
    assert!(both.fits[12] < rail.fits[12]);
    let named = told(&["--outcome", "fit_rail", "--outcome", "fit_leg"]);
    assert_eq!(both.fits, named.fits);
    // Computed by sums of steps; simulated batches say the same.
    assert!(both.error < 1e-10, "{:e}", both.error);
}

#[test]
fn the_error_to_fix_is_the_one_that_buys_most() {
    let json = printed(&["improve", PLAN, "--wanted", "0.98", "--json"]);
    let report: ImproveReport = serde_json::from_str(&json).expect("the JSON reads back");
    assert!(report.rows.windows(2).all(|w| w[0].removed >= w[1].removed));
    let most = &report.rows[0];
    assert!(most.removed > most.halved && most.halved > report.now.inside);
    let all = report.aim.expect("an aim").all_may_be.expect("reachable");
    assert!(all > 0.5 && all < 1.0, "{all}");
    let text = printed(&[
        "improve",
        PLAN,
        "--wanted",
        "0.97",
        "--offer",
        "seating.first:0.5:20",
        "--offer",
        "seating.second:0.5:20",
        "--offer",
        "lock_residual:0.5:12",
    ]);
    assert!(text.contains("The cheapest way to 97.00 %"), "{text}");
    assert!(text.contains("test cut on scrap"), "{text}");
    let shared = [
        "improve",
        PLAN,
        "--wanted",
        "0.98",
        "--allocate",
        "--weight",
        "mortise:8",
    ];
    let text = printed(&shared);
    assert!(
        text.contains("shared out") && text.contains("seating "),
        "{text}"
    );
    for (words, says) in [
        (vec!["--wanted", "100%"], "above 0 and below 1"),
        (
            vec!["--wanted", "0.9", "--allocate", "--weight", "feel"],
            "SOURCE:WEIGHT",
        ),
        (
            vec!["--wanted", "0.9", "--allocate", "--weight", "feel:0"],
            "a number from 0.000001",
        ),
        (vec!["--offer", "a:0.5:1"], "--wanted"),
        (
            vec!["--wanted", "0.98", "--offer", "a:0.5"],
            "SOURCE:FACTOR:PRICE",
        ),
        (
            vec!["--wanted", "0.98", "--offer", "a:0.5:1"],
            "no uncertain source",
        ),
        (
            vec!["--wanted", "0.98", "--offer", "feel:0.5:-1"],
            "cost of the offer",
        ),
    ] {
        let mut all = vec!["improve", PLAN];
        all.extend(words);
        let complaint = complaint(&all);
        assert!(complaint.contains(says), "no \"{says}\" in: {complaint}");
    }
}

const MEASURED: [&str; 2] = [
    "datasets/plant-stands/measured/tenons.csv",
    "datasets/plant-stands/measured/mortises.csv",
];

#[test]
fn measured_tenons_find_their_mortises() {
    let [tenons, mortises] = MEASURED;
    let json = printed(&[
        "pair",
        tenons,
        mortises,
        "--clearance",
        "0.003in",
        "--least",
        "0.001in",
        "--most",
        "0.005in",
        "--json",
    ]);
    let report: PairReport = serde_json::from_str(&json).expect("the JSON reads back");
    assert_eq!(report.fits.len() + report.rework.len(), 24);
    assert!(report.fits.len() > report.fits_as_listed);
    assert!(
        report
            .fits
            .iter()
            .all(|p| p.clearance_in > 0.0009 && p.clearance_in < 0.0051)
    );
    let text = printed(&["pair", tenons, mortises, "--clearance", "0.003in"]);
    assert!(
        text.contains("pairs fit") && text.contains("test cut on scrap"),
        "{text}"
    );
    for (words, says) in [
        (vec![tenons, mortises], "--clearance"),
        (
            vec![tenons, "nowhere.csv", "--clearance", "0.003in"],
            "nowhere.csv",
        ),
        (vec![tenons, mortises, "--clearance", "3"], "needs a unit"),
        (
            vec![tenons, mortises, "--clearance", "3 in"],
            "is its unit right",
        ),
        (
            vec![
                tenons,
                mortises,
                "--clearance",
                "0.003in",
                "--least",
                "0.01in",
            ],
            "from the least to the most",
        ),
    ] {
        let mut all = vec!["pair"];
        all.extend(words);
        let complaint = complaint(&all);
        assert!(complaint.contains(says), "no \"{says}\" in: {complaint}");
    }
}

/// A tenon whose cheeks lean is felt at its fattest spot, so its fit is not affine.
#[test]
fn leaning_cheeks_are_judged_by_trials() {
    let text = std::fs::read_to_string(top().join(TURNED)).expect("the plan");
    let lean = "slant = { length = \"1-1/4 in\", width = \"2 in\", lean = \"lean\" }\n\n[source.lean]\nnormal = \"0.1 deg\"\n\
                event = \"cut\"\nassumed = \"test\"\n\n[source.distance]";
    let (folder, name) = (top().join("datasets/plant-stands"), "face_step = { wall");
    assert!(text.contains(name));
    let text = text
        .replace("[source.distance]", lean)
        .replace("\"readings/", &format!("\"{}/readings/", folder.display()));
    let lines = text.lines().filter(|line| !line.starts_with(name));
    let text = lines.collect::<Vec<_>>().join("\n");
    // The key belongs to [joint], above the first source.
    let (joint, sources) = text.split_once("slant = ").expect("the key");
    let (slant, sources) = sources.split_once('\n').expect("a line");
    let text = joint.replacen(
        "stock = \"stock\"",
        &format!("stock = \"stock\"\nslant = {slant}"),
        1,
    ) + sources;
    let folder = tempfile::tempdir().expect("a temporary folder");
    let path = folder.path().join("leaning.toml");
    std::fs::write(&path, text).expect("a file");
    let text = printed(&[
        "judge",
        &path.display().to_string(),
        "--measured",
        "0.3745in",
    ]);
    assert!(
        text.contains("found by Monte Carlo; their standard error"),
        "{text}"
    );
}

#[test]
fn measured_tenons_are_judged() {
    let json = printed(&[
        "judge",
        PLAN,
        "--measured",
        "0.3745in",
        "--measured",
        "0.3825in",
        "--json",
    ]);
    let report: JudgeReport = serde_json::from_str(&json).expect("the JSON reads back");
    let chance = |i: usize| report.pieces[i].chance.inside;
    assert!(chance(0) > 0.97 && chance(1) < 0.2, "{:?}", report.pieces);
    let accept = report.accept.expect("some readings promise 95 %");
    let (lower, upper) = (
        accept.lower_in.expect("a limit"),
        accept.upper_in.expect("a limit"),
    );
    assert!(
        lower < 0.3745 && upper > 0.3745 && upper < 0.38,
        "{accept:?}"
    );
    // Whole steps of the gauge.
    assert!((lower / 0.0005 - (lower / 0.0005).round()).abs() < 1e-6);
    let text = printed(&["judge", PLAN, "--measured", "0.3745in"]);
    assert!(
        text.contains("keep it")
            && text.contains("consumer's risk")
            && text.contains("test cut on scrap"),
        "{text}"
    );
    assert!(
        printed(&[
            "judge",
            PLAN,
            "--measured",
            "0.3745in",
            "--assurance",
            "0.9999"
        ])
        .contains("No reading promises")
    );
    assert!(printed(&["judge", PLAN]).contains("accept readings from"));
    assert!(complaint(&["judge", PLAN, "--measured", "9.5in"]).contains("one in ten million"));
    assert!(
        complaint(&["judge", PLAN, "--measured", "0.375in", "--assurance", "2"])
            .contains("at most 1")
    );
    // Without a joint the gap itself is measured.
    let gap = printed(&["judge", DRAWER, "--measured", "0.03in"]);
    assert!(
        gap.contains("inside the band") && !gap.contains("too loose"),
        "{gap}"
    );
    assert!(complaint(&["judge", PLAN, "--outcome", "gap"]).contains("it has fit, face_step"));
    // tenon = 2 · distance − stock: what is measured is the tenon all the same.
    let turned = printed(&["judge", TURNED, "--measured", "0.377in"]);
    assert!(
        turned.contains("keep it") && !turned.contains("not affine"),
        "{turned}"
    );
}
