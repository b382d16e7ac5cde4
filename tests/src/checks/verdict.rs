use super::ask::{Answer, Asker};
use super::decimal::Decimal;
use super::table::{Case, Row};

/// Standard errors that a Monte Carlo value may be off by: seeds are fixed, and one deviate in 16,000
/// lies beyond four.
const STANDARD_ERRORS: f64 = 4.0;

/// Significant digits that must agree with a value computed at high precision.
const DIGITS: i32 = 12;

/// What the source says beside what we say.
#[derive(Debug, Clone)]
pub struct Verdict {
    /// The print, if there is one.
    pub printed: Option<Decimal>,
    /// The independent value, if there is one.
    pub value: Option<Decimal>,
    /// Ours.
    pub ours: Result<f64, String>,
    /// The greatest difference from the independent value, or without one from the print.
    pub tolerance: f64,
    /// What is wrong; nothing when all is well.
    pub faults: Vec<String>,
}

impl Verdict {
    /// What the check is against.
    #[must_use]
    pub fn expected(&self) -> f64 {
        let decimal = self.value.as_ref().or(self.printed.as_ref());
        decimal.map_or(f64::NAN, |d| d.value)
    }
}

/// Asks for the value of a row and holds it against the source.
pub fn judge(case: &Case, row: &Row, asker: &mut Asker<'_>) -> Verdict {
    let read = |text: &Option<String>| text.as_deref().map(Decimal::read).transpose();
    let (printed, value, mut faults) = match (read(&row.printed), read(&row.value)) {
        (Ok(printed), Ok(value)) => (printed, value, Vec::new()),
        (Err(fault), _) | (_, Err(fault)) => (None, None, vec![fault]),
    };
    faults.extend(faults_of(row));
    let answer = asker.answer(row);
    let ours = answer
        .as_ref()
        .map(|answer| answer.value * row.times.unwrap_or(1.0))
        .map_err(Clone::clone);
    let scatter = scatter(row);
    // What a run of trials may be off the true value it may be off the print as well.
    let own = row.trials.and(row.within).unwrap_or(0.0);
    let of_print = printed.as_ref().map_or(f64::NAN, |d| {
        d.half_unit + scatter + own + STANDARD_ERRORS * row.print_error.unwrap_or(0.0)
    });
    let of_value = value.as_ref().map_or(f64::NAN, |d| {
        let rule = d.half_unit_of(row.digits.unwrap_or(DIGITS));
        row.within.unwrap_or(rule) + scatter
    });
    let tolerance = if value.is_some() { of_value } else { of_print };
    match &ours {
        Err(why) => faults.push(why.clone()),
        Ok(x) => {
            if let Some(print) = printed.as_ref().filter(|_| row.misprint.is_none()) {
                faults.extend(off(*x, print, of_print, "printed"));
            }
            if let Some(value) = &value {
                faults.extend(off(*x, value, of_value, "expected"));
                faults.extend(out_of_bound(&answer, *x, value, row));
            }
        }
    }
    if case.rows.is_empty() {
        faults.push("a case without rows".to_owned());
    }
    Verdict {
        printed,
        value,
        ours,
        tolerance,
        faults,
    }
}

/// What a row must say and must not.
fn faults_of(row: &Row) -> Option<String> {
    if row.printed.is_none() && row.value.is_none() {
        return Some("a row needs printed or value".to_owned());
    }
    if row.misprint.is_some() && (row.printed.is_none() || row.value.is_none()) {
        return Some("a misprint needs what is printed and the value".to_owned());
    }
    if row.one_trial.is_some() != row.trials.is_some() {
        return Some("trials and one_trial go together".to_owned());
    }
    None
}

fn scatter(row: &Row) -> f64 {
    match (row.one_trial, row.trials) {
        (Some(one), Some(trials)) => STANDARD_ERRORS * one / (trials as f64).sqrt(),
        _ => 0.0,
    }
}

fn off(ours: f64, expected: &Decimal, tolerance: f64, word: &str) -> Option<String> {
    let difference = (ours - expected.value).abs();
    // Half a unit of the last digit has no exact binary form: its own rounding is no fault.
    let slack = 4.0 * f64::EPSILON * ours.abs().max(expected.value.abs());
    let is_far = difference.is_nan() || difference > tolerance + slack;
    is_far.then(|| {
        format!(
            "{word} {}, got {ours}, off by {difference:.3e}, tolerance {tolerance:.3e}",
            expected.text
        )
    })
}

/// A bound that the library itself states must hold; the digits of the independent value are its own error.
fn out_of_bound(
    answer: &Result<Answer, String>,
    ours: f64,
    expected: &Decimal,
    row: &Row,
) -> Option<String> {
    let bound = answer.as_ref().ok()?.bound?;
    let times = row.times.unwrap_or(1.0).abs();
    let own = expected.half_unit + f64::EPSILON * expected.value.abs() + row.within.unwrap_or(0.0);
    let difference = (ours - expected.value).abs();
    (difference > bound * times + own).then(|| {
        format!("off by {difference:.3e}, beyond the bound {bound:.3e} that is stated with it")
    })
}
