use crate::Style;
use crate::evidence::{Column, p_value};
use crate::input;
use crate::table::wrap;
use serde::{Deserialize, Serialize};

/// A run on its charts, and what to do now. Numbers are in the unit of `column`.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[cfg_attr(test, derive(schemars::JsonSchema))]
pub struct WatchReport {
    /// "kerfwise/watch/1".
    pub schema: String,
    /// The readings.
    pub column: Column,
    /// How many readings are in a point of the charts: 1, or the size of the groups.
    pub group_size: u64,
    /// Mean and standard deviation of single readings while all is well.
    pub process: ProcessReport,
    /// Limits of single readings, or of means of groups, 3 of their standard deviations from the mean.
    pub limits: (f64, f64),
    /// The upper limit of the change from one reading to the next, or of the range of a group.
    pub range_limit: f64,
    /// The chart that tells a lasting change.
    pub chart: ChartReport,
    /// Every reading on the charts.
    pub points: Vec<WatchPoint>,
    /// What signalled, in order.
    pub signals: Vec<SignalReport>,
    /// When and how the run is likely to have changed, if it did.
    pub change: Option<ChangeReport>,
    /// The readings that the charts start from, if mean and standard deviation come from the run.
    #[serde(default)]
    pub baseline: Option<BaselineReport>,
    /// What to do now.
    pub advice: WatchAdvice,
    /// Words of caution.
    pub cautions: Vec<String>,
}

/// A process while all is well.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
#[cfg_attr(test, derive(schemars::JsonSchema))]
pub struct ProcessReport {
    /// Mean.
    pub mean: f64,
    /// Standard deviation of single readings.
    pub sd: f64,
    /// From how many readings or groups, the first of the run; 0 if it was given.
    pub from_first: u64,
}

/// The readings that the charts start from, looked at themselves.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
#[cfg_attr(test, derive(schemars::JsonSchema))]
pub struct BaselineReport {
    /// So many readings or groups from the beginning.
    pub first: u64,
    /// Whether their number was chosen because none was given.
    pub was_chosen: bool,
    /// At most so often steady ones would show as much of a step or a drift; `null` for too few to tell.
    pub p_value: Option<f64>,
    /// How they change themselves, if they do. Then the mean is the one before the change.
    pub changes: Option<ChangeReport>,
}

/// The chart that tells a lasting change.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
#[cfg_attr(test, derive(schemars::JsonSchema))]
#[serde(rename_all = "snake_case", tag = "kind")]
pub enum ChartReport {
    /// Cumulative sums.
    Cusum {
        /// Allowance k, in standard deviations.
        allowance: f64,
        /// Decision interval h, in standard deviations.
        decision: f64,
        /// A false alarm every so many readings, on average.
        false_alarm_every: f64,
        /// Readings until a lasting shift of one standard deviation is told, on average.
        tells_one_sd_after: f64,
    },
    /// Exponentially weighted moving averages.
    Ewma {
        /// Weight of the newest reading.
        weight: f64,
        /// Standard deviations of the average from the mean to a limit.
        limit: f64,
        /// A false alarm every so many readings, on average.
        false_alarm_every: f64,
        /// Readings until a lasting shift of one standard deviation is told, on average.
        tells_one_sd_after: f64,
    },
}

impl ChartReport {
    fn name(&self) -> &'static str {
        match self {
            Self::Cusum { .. } => "cumulative sums",
            Self::Ewma { .. } => "moving averages",
        }
    }

    fn run_lengths(&self) -> (f64, f64) {
        match *self {
            Self::Cusum {
                false_alarm_every,
                tells_one_sd_after,
                ..
            }
            | Self::Ewma {
                false_alarm_every,
                tells_one_sd_after,
                ..
            } => (false_alarm_every, tells_one_sd_after),
        }
    }
}

/// One reading, or group, on the charts.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
#[cfg_attr(test, derive(schemars::JsonSchema))]
pub struct WatchPoint {
    /// Which reading or group, counted from 1.
    pub reading: u64,
    /// What it says, or the mean of the group.
    pub value: f64,
    /// Change from the one before, without sign, or the range of the group.
    pub range: Option<f64>,
    /// The sum that rises with the mean and the one that rises when it falls, in standard deviations; `null` with averages.
    pub sums: Option<(f64, f64)>,
    /// The moving average and its limits; `null` with sums.
    pub average: Option<(f64, f64, f64)>,
}

/// A signal.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(test, derive(schemars::JsonSchema))]
pub struct SignalReport {
    /// At which reading, counted from 1.
    pub reading: u64,
    /// By which rule, in words.
    pub rule: String,
    /// Whether it says that the run has changed for good, not only that one reading is odd.
    pub is_lasting: bool,
}

/// When and how a run changed.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
#[cfg_attr(test, derive(schemars::JsonSchema))]
pub struct ChangeReport {
    /// A step at once, or a steady drift.
    pub kind: ChangeKind,
    /// The first changed reading, counted from 1.
    pub began: u64,
    /// The step, or the change per reading.
    pub size: f64,
    /// Its standard uncertainty.
    pub standard_error: f64,
    /// Whether the other kind is much less likely.
    pub is_clear: bool,
}

/// How a run changed.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(test, derive(schemars::JsonSchema))]
#[serde(rename_all = "snake_case")]
pub enum ChangeKind {
    /// At once.
    Step,
    /// Steadily.
    Drift,
}

/// What to do now.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(test, derive(schemars::JsonSchema))]
#[serde(rename_all = "snake_case")]
pub enum WatchAdvice {
    /// Cut on.
    GoOn,
    /// Look at one reading.
    Look,
    /// The run has changed.
    Stop,
}

/// Rows of the chart that are drawn.
const MOST_ROWS: usize = 30;
/// Columns of the chart, from −4 to 4 standard deviations.
const COLUMNS: i32 = 41;

impl WatchReport {
    /// The name of this form.
    pub const SCHEMA: &'static str = "kerfwise/watch/1";

    /// As JSON, indented.
    #[must_use]
    pub fn to_json(&self) -> String {
        crate::chance::json(self)
    }

    /// As text: what to do now, the last readings as a chart, how far the charts can be trusted, cautions.
    #[must_use]
    pub fn to_text(&self, style: &Style) -> String {
        let mut text = self.column.heading(style);
        for words in [self.advice_in_words(style), self.signals_in_words()] {
            if !words.is_empty() {
                text.push('\n');
                text.push_str(&wrap(&words, "", style.width));
            }
        }
        text.push('\n');
        text.push_str(&self.drawn(style));
        text.push('\n');
        text.push_str(&wrap(&self.trust(style), "", style.width));
        text.push_str(&input::cautions(&self.cautions, style));
        text
    }

    pub(crate) fn point(&self) -> &'static str {
        if self.group_size > 1 {
            "group"
        } else {
            "reading"
        }
    }

    pub(crate) fn advice_in_words(&self, style: &Style) -> String {
        match (self.advice, &self.change) {
            (WatchAdvice::GoOn, _) => "Nothing signals: cut on, and leave the jig alone.".to_owned(),
            (WatchAdvice::Look, _) => "Look before you cut on: a point stands out, but the run has not changed. Clean the gauge, \
                 measure that piece again, and put the piece aside if the reading stands."
                .to_owned(),
            (WatchAdvice::Stop, Some(change)) => self.stop(change, style),
            (WatchAdvice::Stop, None) => "Stop: the run has changed.".to_owned(),
        }
    }

    fn stop(&self, change: &ChangeReport, style: &Style) -> String {
        let column = &self.column;
        let size = column.spread(change.size.abs(), style);
        let doubt = column.spread(change.standard_error, style);
        let (begun, point) = (change.began, self.point());
        let up = if change.size < 0.0 { "down" } else { "up" };
        let (how, per, cause) = match change.kind {
            ChangeKind::Step => ("a step", "", "slipped or was bumped"),
            ChangeKind::Drift => (
                "a drift",
                " from one to the next",
                "began to warm up or wear",
            ),
        };
        let doubtful = match (change.is_clear, change.kind) {
            (true, _) => "",
            (false, ChangeKind::Step) => " (it might be a drift: too few readings to tell)",
            (false, ChangeKind::Drift) => " (it might be a step: too few readings to tell)",
        };
        let own = self.baseline.and_then(|baseline| {
            let own = match (baseline.changes?.kind, baseline.changes?.size < 0.0) {
                (ChangeKind::Step, true) => "step down",
                (ChangeKind::Step, false) => "step up",
                (ChangeKind::Drift, true) => "drift downward",
                (ChangeKind::Drift, false) => "drift upward",
            };
            Some(format!(
                "The first {} {point}s, from which mean and limits were to come, {own} themselves. ",
                baseline.first
            ))
        });
        let own = own.unwrap_or_default();
        let so = format!("{how} {up} of {size} (± {doubt}){per}");
        if begun <= 1 {
            // Only a mean that was given can be left by the first reading.
            return format!(
                "Stop: {so} from the given mean, as early as the first {point}{doubtful}: the run was never at that mean. Look for \
                 what is set otherwise than when the mean was found."
            );
        }
        format!(
            "Stop: the run has changed, by {so} that is likely to have begun at {point} {begun}{doubtful}. {own}Look for what \
             {cause} there, and measure the pieces from there on again. When the cause is mended, make a test cut and begin a new \
             log."
        )
    }

    fn signals_in_words(&self) -> String {
        let point = self.point();
        let word = |signal: &SignalReport| format!("{point} {}: {}", signal.reading, signal.rule);
        match self.signals.len() {
            0 => String::new(),
            n if n > 8 => {
                let last: Vec<String> = self.signals[n - 8..].iter().map(word).collect();
                format!("Signals (the last 8 of {n}): {}.", last.join("; "))
            }
            _ => {
                let all: Vec<String> = self.signals.iter().map(word).collect();
                format!("Signals: {}.", all.join("; "))
            }
        }
    }

    /// Reading by reading downwards, | at the limits, : at the mean.
    fn drawn(&self, style: &Style) -> String {
        let from = self.points.len().saturating_sub(MOST_ROWS);
        let sd = (self.limits.1 - self.limits.0) / 6.0;
        let mut text = String::new();
        for point in &self.points[from..] {
            let z = (point.value - self.process.mean) / sd;
            let at = (5.0 * z).round().clamp(-20.0, 20.0) as i32 + COLUMNS / 2;
            let mark = |column: i32| match column - COLUMNS / 2 {
                _ if column == at => 'o',
                -15 | 15 => '|',
                0 => ':',
                _ => ' ',
            };
            let chart: String = (0..COLUMNS).map(mark).collect();
            let mine = self.signals.iter().any(|s| s.reading == point.reading);
            let (number, value) = (point.reading, self.column.value(point.value, style));
            let beside = if mine { "  signal" } else { "" };
            text.push_str(format!("  {number:>5}  {value:>12}  {chart}{beside}").trim_end());
            text.push('\n');
        }
        text
    }

    /// Where mean and standard deviation come from.
    fn origin(&self) -> String {
        let points = format!("{}s", self.point());
        let from = self.process.from_first;
        let Some(baseline) = self.baseline else {
            return match from {
                0 => "as given".to_owned(),
                _ => format!("from the first {from} {points}, which are taken for good ones"),
            };
        };
        let chosen = if baseline.was_chosen {
            " (--first takes another number)"
        } else {
            ""
        };
        match (baseline.changes, baseline.p_value) {
            (Some(_), _) => format!(
                "(the mean as it was before the change; the standard deviation by the changes between neighbours among the first \
                 {from} {points})"
            ),
            (None, Some(p)) => format!(
                "from the first {from} {points}{chosen}, which show no step and no drift of their own ({})",
                p_value(p)
            ),
            (None, None) => format!(
                "from the first {from} {points}{chosen}, too few to tell whether they change themselves"
            ),
        }
    }

    fn trust(&self, style: &Style) -> String {
        let column = &self.column;
        let ProcessReport {
            mean,
            sd,
            from_first,
        } = self.process;
        let points = format!("{}s", self.point());
        let origin = self.origin();
        let (every, after) = self.chart.run_lengths();
        let chart = self.chart.name();
        let mut words = format!(
            "Mean {} and standard deviation of a reading {} {origin}; limits of {points} {}. While nothing changes, {points} \
             signal falsely every 370 or so, {chart} every {every:.0}; a lasting shift of one standard deviation is told by \
             {chart} after about {after:.0}.",
            column.value(mean, style),
            column.spread(sd, style),
            column.values(self.limits, style),
        );
        if (1..100).contains(&from_first) {
            // Simulated: `a_baseline_of_twenty_brings_false_alarms` in kerfwise-gauge.
            let known = match self.chart {
                ChartReport::Cusum { .. } => 11,
                ChartReport::Ewma { .. } => 9,
            };
            words.push_str(&format!(
                " These counts take mean and standard deviation for known. From {from_first} {points} they are known badly: false alarms \
                 come more often (with 20, {chart} stop about one steady run of 40 in 5, not one in {known})."
            ));
        }
        words
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn report(advice: WatchAdvice) -> WatchReport {
        let point = |reading: u64, value| WatchPoint {
            reading,
            value,
            range: None,
            sums: Some((0.0, 0.0)),
            average: None,
        };
        WatchReport {
            schema: WatchReport::SCHEMA.into(),
            column: Column::new("run.csv", "tenon (in)", "in", 2),
            group_size: 1,
            process: ProcessReport {
                mean: 0.375,
                sd: 0.001,
                from_first: 20,
            },
            limits: (0.372, 0.378),
            range_limit: 0.0037,
            chart: ChartReport::Cusum {
                allowance: 0.5,
                decision: 4.77,
                false_alarm_every: 370.4,
                tells_one_sd_after: 9.93,
            },
            points: vec![point(1, 0.375), point(2, 0.379)],
            signals: vec![SignalReport {
                reading: 2,
                rule: "beyond the limits".into(),
                is_lasting: false,
            }],
            change: (advice == WatchAdvice::Stop).then_some(ChangeReport {
                kind: ChangeKind::Step,
                began: 2,
                size: 0.004,
                standard_error: 0.001,
                is_clear: false,
            }),
            baseline: Some(BaselineReport {
                first: 20,
                was_chosen: true,
                p_value: Some(0.4),
                changes: None,
            }),
            advice,
            cautions: crate::cautions::all(),
        }
    }

    #[test]
    fn the_chart_and_the_advice() {
        let text = report(WatchAdvice::Stop).to_text(&Style::default());
        assert!(
            text.contains("a step up of 4.0 thou (± 1.0 thou)"),
            "{text}"
        );
        assert!(text.contains("it might be a drift"), "{text}");
        assert!(text.contains("test cut on scrap"), "{text}");
        let rows: Vec<&str> = text.lines().filter(|line| line.contains('|')).collect();
        // The mean in the middle of its row; 4 standard deviations at the end, beyond the limit.
        assert_eq!(
            rows[0].trim_start(),
            "1      0.375 in       |              o              |"
        );
        assert_eq!(
            rows[1].trim_start(),
            "2      0.379 in       |              :              |    o  signal"
        );
        let look = report(WatchAdvice::Look).to_text(&Style::default());
        assert!(look.contains("put the piece aside"), "{look}");
        let go = report(WatchAdvice::GoOn).to_text(&Style::default());
        assert!(go.contains("cut on, and leave the jig alone"), "{go}");
    }

    #[test]
    fn a_baseline_that_changes_itself_is_told_and_which_way() {
        let mut stop = report(WatchAdvice::Stop);
        let drift = ChangeReport {
            kind: ChangeKind::Drift,
            began: 10,
            size: -0.0002,
            standard_error: 0.00001,
            is_clear: true,
        };
        stop.change = Some(drift);
        let baseline = stop.baseline.as_mut().unwrap();
        (baseline.changes, baseline.p_value) = (Some(drift), Some(1e-9));
        let words = |report: &WatchReport| {
            let text = report.to_text(&Style::default());
            text.split_whitespace().collect::<Vec<_>>().join(" ")
        };
        let text = words(&stop);
        for part in [
            "a drift down of 0.20 thou",
            "begun at reading 10",
            "The first 20 readings, from which mean and limits were to come, drift downward themselves",
            "the mean as it was before the change",
        ] {
            assert!(text.contains(part), "no \"{part}\" in {text}");
        }
        // A mean that was given can be wrong from the start; that is no change at reading 1.
        stop.baseline = None;
        stop.process.from_first = 0;
        stop.change.as_mut().unwrap().began = 1;
        let text = words(&stop);
        assert!(
            text.contains("was never at that mean") && !text.contains("begun at reading 1"),
            "{text}"
        );
    }

    #[test]
    fn reads_back_what_it_writes() {
        let written = report(WatchAdvice::Stop);
        let read: WatchReport = serde_json::from_str(&written.to_json()).unwrap();
        assert_eq!(read, written);
    }
}
