//! The page `docs/checks.md`, and the counts.

use super::decimal::{Decimal, leading};
use super::table::{By, Case, Row};
use super::verdict::Verdict;
use std::collections::BTreeMap;
use std::fmt::Write;

const HEAD: &str = "\
# The record of outside checks

Each line is a value that a published document prints, or that was computed independently at high precision,
beside what Kerfwise says. `cargo test -p kerfwise-tests --test checks` recomputes all of them, and fails when one
is off by more than its tolerance or when this page is not what it would write now;
`KERFWISE_BLESS=1 cargo test -p kerfwise-tests --test checks` writes it. The inputs of every case are in
[tests/checks](../tests/checks), each as a plan file would have them.

How to read it:

- *printed* is what the document prints; the tolerance of such a line is half a unit of its last digit.
- *independent* is the value computed with other means (closed forms, quadrature at 25 digits and more; the scripts
  are beside the tables or the value stands in the document's own formula). It must agree to 12 significant digits, unless the line states
  the error of that computation or, with a reason, fewer digits. Where both columns are filled, both are checked.
- Monte Carlo lines may be off by four standard errors more; the standard error of one trial is computed from the
  exact distribution, not from the run, and divided by the square root of the trials.
- Where the library states a bound of its numerical error, the difference must lie within that bound too.
- *status*: published (read in the document), from memory (of the document; the arithmetic was repeated),
  recomputed (no print), common practice. Where a print is a misprint, the line says so, and the independent value is the check.
- JCGM 100 is the Guide to the expression of uncertainty in measurement (GUM), JCGM 101 its Supplement 1 on Monte
  Carlo, JCGM 102 its Supplement 2 on several outcomes, JCGM 106 the document on conformity.
";

/// The whole page.
#[must_use]
pub fn page(all: &[(&Case, Vec<(&Row, Verdict)>)]) -> String {
    let mut page = HEAD.to_owned();
    let lines: usize = all.iter().map(|(_, rows)| rows.len()).sum();
    let _ = writeln!(page, "\n{lines} lines from {} cases.\n", all.len());
    summary(&mut page, all);
    let mut source = "";
    for (case, rows) in sorted(all) {
        if case.source != source {
            source = &case.source;
            let _ = writeln!(page, "\n## {source}");
        }
        let _ = writeln!(page, "\n### {}: {}\n", case.clause, case.title);
        if let Some(note) = &case.note {
            let _ = writeln!(page, "{note}\n");
        }
        page.push_str(
            "| quantity | printed | independent | Kerfwise | tolerance | by | status |\n",
        );
        page.push_str("| --- | --- | --- | --- | --- | --- | --- |\n");
        for (row, verdict) in rows {
            line(&mut page, case, row, verdict);
        }
    }
    page
}

/// JCGM documents first, what we computed ourselves last, else by name; the order of the tables within.
fn sorted<'a, 'b>(
    all: &'b [(&'a Case, Vec<(&'a Row, Verdict)>)],
) -> Vec<&'b (&'a Case, Vec<(&'a Row, Verdict)>)> {
    let mut sorted: Vec<_> = all.iter().collect();
    sorted.sort_by_key(|(case, _)| place_of(&case.source));
    sorted
}

fn place_of(source: &str) -> (u8, &str) {
    let is_ours = ["closed form", "quadrature", "routes", "digits"]
        .iter()
        .any(|word| source.contains(word));
    let place = match () {
        () if source.starts_with("JCGM") => 0,
        () if source.starts_with("Common practice") => 2,
        () if is_ours => 3,
        () => 1,
    };
    (place, source)
}

fn summary(page: &mut String, all: &[(&Case, Vec<(&Row, Verdict)>)]) {
    page.push_str("| source | lines |\n| --- | --- |\n");
    for ((_, source), n) in by_source(all) {
        let _ = writeln!(page, "| {source} | {n} |");
    }
    page.push_str("\n| asked of | lines |\n| --- | --- |\n");
    let mut by: BTreeMap<By, usize> = BTreeMap::new();
    for row in all.iter().flat_map(|(_, rows)| rows) {
        *by.entry(row.0.by).or_default() += 1;
    }
    for (by, n) in by {
        let _ = writeln!(page, "| {} | {n} |", by.words());
    }
}

fn by_source<'a>(all: &[(&'a Case, Vec<(&Row, Verdict)>)]) -> BTreeMap<(u8, &'a str), usize> {
    let mut counts = BTreeMap::new();
    for (case, rows) in all {
        *counts.entry(place_of(&case.source)).or_default() += rows.len();
    }
    counts
}

/// The last lines of the run: how many rows from which source.
#[must_use]
pub fn counts(all: &[(&Case, Vec<(&Row, Verdict)>)]) -> String {
    let mut text = String::new();
    let mut total = 0;
    for ((_, source), n) in by_source(all) {
        let _ = writeln!(text, "{n:5}  {source}");
        total += n;
    }
    let _ = writeln!(text, "{total:5}  in all");
    text
}

fn line(page: &mut String, case: &Case, row: &Row, verdict: &Verdict) {
    let text = |decimal: &Option<Decimal>| decimal.as_ref().map_or_else(String::new, shortened);
    let ours = verdict
        .ours
        .as_ref()
        .map_or_else(|_| "declined".to_owned(), |x| shown(*x, verdict.tolerance));
    let mut remarks = vec![case.status_of(row).words().to_owned()];
    let extra = [
        ("", &row.note),
        ("misprint: ", &row.misprint),
        ("**wrong until mended**: ", &row.known_wrong),
    ];
    for (word, remark) in extra {
        if let Some(remark) = remark {
            remarks.push(format!("{word}{remark}"));
        }
    }
    let _ = writeln!(
        page,
        "| {} | {} | {} | {ours} | {} | {} | {} |",
        quantity(row),
        text(&verdict.printed),
        text(&verdict.value),
        tolerance(verdict.tolerance),
        how(row),
        remarks.join("; "),
    );
}

/// What is asked, in words.
pub(super) fn quantity(row: &Row) -> String {
    let mut words = row.ask.clone();
    if let Some(of) = &row.of {
        let _ = write!(words, " of {of}");
    }
    if let Some(with) = &row.with {
        let _ = write!(words, " with {with}");
    }
    if let [first, more @ ..] = row.at.all() {
        let _ = write!(words, " at {first}");
        for x in more {
            let _ = write!(words, ", {x}");
        }
    }
    if let Some(level) = row.level {
        let _ = write!(words, ", {} %", shown(100.0 * level, 1e-9));
    }
    if let Some(pieces) = row.pieces {
        let _ = write!(words, ", {pieces} pieces");
    }
    if let Some(times) = row.times {
        let _ = write!(words, ", × {times}");
    }
    if let Some(clause) = &row.clause {
        let _ = write!(words, " ({clause})");
    }
    words
}

/// Seventeen digits at most: the tables have more.
fn shortened(decimal: &Decimal) -> String {
    let (digits, exponent) = decimal
        .text
        .split_once('e')
        .map_or((decimal.text.as_str(), ""), |(d, e)| (d, e));
    let zeros = digits.len() - digits.trim_start_matches(['-', '0', '.']).len();
    let most = zeros + 18;
    if digits.len() <= most || !digits.contains('.') {
        return decimal.text.clone();
    }
    let tail = if exponent.is_empty() { "" } else { "e" };
    format!("{}...{tail}{exponent}", &digits[..most])
}

fn how(row: &Row) -> String {
    let mut how = row.by.words().to_owned();
    if row.second_order {
        how.push_str(", second order");
    }
    if let Some(trials) = row.trials {
        let _ = write!(how, ", {trials} trials");
    }
    if row.adaptive.is_some() {
        how.push_str(" at most, adaptive");
    }
    how
}

/// One digit more than the tolerance can tell.
fn shown(x: f64, tolerance: f64) -> String {
    if x == 0.0 {
        return "0".to_owned();
    }
    let last = if tolerance > 0.0 {
        leading(tolerance) - 1
    } else {
        leading(x) - 15
    };
    let significant = (leading(x) - last).clamp(0, 16);
    let digits = usize::try_from(significant).unwrap_or(16);
    let text = format!("{x:.digits$e}");
    if !(-5..15).contains(&leading(x)) {
        return text;
    }
    let decimals = usize::try_from(-last).unwrap_or(0);
    let most = usize::try_from(16 - leading(x)).unwrap_or(0);
    let mut plain = format!("{x:.*}", decimals.min(most));
    if plain.contains('.') {
        plain.truncate(plain.trim_end_matches('0').trim_end_matches('.').len());
    }
    plain
}

fn tolerance(x: f64) -> String {
    format!("{x:.1e}")
}
