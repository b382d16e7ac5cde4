use crate::Faults;
use crate::fault::Sink;
use crate::readings::Sheet;
use kerfwise_source::Dimension;

/// Readings with words beside them, such as the set-up and the piece, or the part and who measured it.
#[derive(Debug, Clone, PartialEq)]
pub struct ReadingLog {
    column: String,
    dimension: Dimension,
    rows: Vec<LogRow>,
}

/// One reading of a [`ReadingLog`].
#[derive(Debug, Clone, PartialEq)]
pub struct LogRow {
    /// The reading in the raw unit of its dimension (inches for a length).
    pub raw: f64,
    /// The words of the columns that were asked for, in that order.
    pub labels: Vec<String>,
}

impl ReadingLog {
    /// The name of the column of readings, with its unit.
    #[must_use]
    pub fn column(&self) -> &str {
        &self.column
    }

    /// What was read.
    #[must_use]
    pub fn dimension(&self) -> Dimension {
        self.dimension
    }

    /// The readings, in the order of the file.
    #[must_use]
    pub fn rows(&self) -> &[LogRow] {
        &self.rows
    }
}

/// Reads a column of a CSV text and the words beside each reading; the form of the text, and what is read where no column is
/// named, is that of [`read_readings`](crate::read_readings). Lines without a reading are skipped.
///
/// # Errors
///
/// All that is wrong, together: no such columns, no unit, cells that are not numbers, and readings without their words.
///
/// ```
/// use kerfwise_plan::read_log;
///
/// let text = "set-up;piece;tenon (mm)\nmonday;1;9,52\nmonday;2;9,55\n";
/// let log = read_log("tenons.csv", text, &["set-up", "piece"], "tenon (mm)")?;
/// assert_eq!(log.rows()[1].labels, ["monday", "2"]);
/// assert_eq!(log.rows()[1].raw, 9.55 / 25.4);
///
/// let faults = read_log("t.csv", "set-up,fit (thou)\n,2\n", &["set-up"], "fit (thou)").unwrap_err();
/// assert_eq!(
///     faults.to_string(),
///     "t.csv:2:1: column \"set-up\" is empty beside a reading\n  help: name it, or leave the reading out"
/// );
/// # Ok::<(), kerfwise_plan::Faults>(())
/// ```
pub fn read_log<'a>(
    name: &str,
    text: &str,
    labels: &[&str],
    reading: impl Into<Option<&'a str>>,
) -> Result<ReadingLog, Faults> {
    let mut sink = Sink::new(name, text);
    match read(text, labels, reading.into(), &mut sink) {
        Some(log) if sink.is_empty() => Ok(log),
        _ => Err(sink.into_faults()),
    }
}

fn read(text: &str, labels: &[&str], reading: Option<&str>, sink: &mut Sink) -> Option<ReadingLog> {
    let sheet = Sheet::open(text, sink)?;
    let index = sheet.choose(reading, sink);
    let labels: Vec<Option<usize>> = labels
        .iter()
        .map(|label| sheet.choose(Some(label), sink))
        .collect();
    let labels: Vec<usize> = labels.into_iter().collect::<Option<_>>()?;
    let found = sheet.read_beside(index?, &labels, sink)?;
    let row = |(raw, labels)| LogRow { raw, labels };
    Some(ReadingLog {
        column: found.column,
        dimension: found.dimension,
        rows: found.rows.into_iter().map(row).collect(),
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn every_missing_column_is_named() {
        let faults = read_log(
            "t.csv",
            "day,fit (thou)\nmon,2\n",
            &["set-up", "piece"],
            "fit",
        )
        .unwrap_err();
        let expected = "\
t.csv:1:1: there is no column \"fit\"
  help: did you mean \"fit (thou)\"?
t.csv:1:1: there is no column \"set-up\"
  help: the columns are \"day\", \"fit (thou)\"
t.csv:1:1: there is no column \"piece\"
  help: the columns are \"day\", \"fit (thou)\"";
        assert_eq!(faults.to_string(), expected);
    }

    #[test]
    fn lines_without_a_reading_are_skipped() {
        let log = read_log(
            "t.csv",
            "a,fit (in)\n1,0.5\n2,\n,\n3,1/4\n",
            &["a"],
            "fit (in)",
        )
        .unwrap();
        let rows: Vec<(&str, f64)> = log
            .rows()
            .iter()
            .map(|row| (row.labels[0].as_str(), row.raw))
            .collect();
        assert_eq!(rows, [("1", 0.5), ("3", 0.25)]);
    }
}
