//! Readings in CSV files. The only file that knows the `csv` crate.

use crate::Faults;
use crate::fault::Sink;
use crate::near::{quoted, suggestion};
use csv::{ReaderBuilder, StringRecord, Trim};
use kerfwise_source::{Dimension, Quantity};
use std::ops::Range;

/// One column of a CSV file: readings of one quantity, with its unit in the header.
#[derive(Debug, Clone, PartialEq)]
pub struct Readings {
    column: String,
    dimension: Dimension,
    raw: Vec<f64>,
}

impl Readings {
    /// The name of the column, with its unit: "kerf (in)".
    #[must_use]
    pub fn column(&self) -> &str {
        &self.column
    }

    /// What was read.
    #[must_use]
    pub fn dimension(&self) -> Dimension {
        self.dimension
    }

    /// The readings in the raw unit of the dimension (inches for lengths), in the order of the file.
    #[must_use]
    pub fn raw(&self) -> &[f64] {
        &self.raw
    }
}

/// Reads one column of a CSV text; `name` is how faults call the file.
///
/// The first line holds the names of the columns, each with its unit in parentheses ("(1)" for a pure
/// number). Lines that start with # are comments; blank cells are skipped.
///
/// # Errors
///
/// All that is wrong with the column, together: no such column, no unit, cells that are not numbers.
///
/// ```
/// use kerfwise_plan::read_readings;
///
/// let text = "# blade of the big saw\ncut,kerf (thou)\n1,126.4\n2,126.1\n";
/// let kerf = read_readings("kerf.csv", text, "kerf (thou)")?;
/// assert_eq!(kerf.raw(), [0.1264, 0.1261]);
///
/// let faults = read_readings("kerf.csv", "kerf (in)\n0.1264\nabout 1/8\n", "kerf (in)").unwrap_err();
/// assert_eq!(
///     faults.to_string(),
///     "kerf.csv:3:1: column \"kerf (in)\": \"about 1/8\" is not a number\n  \
///      help: a cell holds one number without its unit"
/// );
/// # Ok::<(), kerfwise_plan::Faults>(())
/// ```
pub fn read_readings(name: &str, text: &str, column: &str) -> Result<Readings, Faults> {
    let mut sink = Sink::new(name, text);
    let readings = read_column(text, column, &mut sink);
    match readings {
        Some(readings) if sink.is_empty() => Ok(readings),
        _ => Err(sink.into_faults()),
    }
}

fn read_column(text: &str, column: &str, sink: &mut Sink) -> Option<Readings> {
    let sheet = Sheet::open(text, sink)?;
    match sheet.find(Some(column)) {
        Ok(index) => sheet.read(index, sink),
        Err((message, help)) => {
            sink.at(&sheet.header_place(0), message).help(help);
            None
        }
    }
}

/// A CSV text whose header has been read.
#[derive(Debug)]
pub(crate) struct Sheet<'a> {
    text: &'a str,
    header_start: usize,
    headers: Vec<String>,
}

/// A larger file is hardly one of readings taken by hand.
const MOST_BYTES: usize = 16 << 20;
/// One bad column gives one fault per cell, but not more than this.
const MOST_FAULTS: usize = 20;

impl<'a> Sheet<'a> {
    pub(crate) fn open(text: &'a str, sink: &mut Sink) -> Option<Self> {
        if text.len() > MOST_BYTES {
            let got = text.len() >> 20;
            let most = MOST_BYTES >> 20;
            sink.whole_file(format!(
                "a file of readings may have {most} MiB (got {got} MiB)"
            ));
            return None;
        }
        let first = records(text).next();
        let Some((header_start, header)) = first else {
            sink.whole_file("there is no header line")
                .help("the first line names the columns, such as kerf (in)");
            return None;
        };
        let headers = header.iter().map(str::to_owned).collect();
        Some(Self {
            text,
            header_start,
            headers,
        })
    }

    /// The number of a column; where none is named and there is only one, that.
    pub(crate) fn find(&self, column: Option<&str>) -> Result<usize, (String, String)> {
        let names = || self.headers.iter().map(String::as_str);
        let Some(column) = column else {
            return match self.headers.len() {
                1 => Ok(0),
                n => Err((
                    format!("the readings have {n} columns, and none is named"),
                    format!("add column = with one of {}", quoted(names(), ", ")),
                )),
            };
        };
        let mut matching = names()
            .enumerate()
            .filter(|(_, name)| *name == column.trim());
        match (matching.next(), matching.next()) {
            (Some((index, _)), None) => Ok(index),
            (Some(_), Some(_)) => Err((
                format!("there are two columns {column:?}"),
                "give each column a name of its own".to_owned(),
            )),
            (None, _) => Err((
                format!("there is no column {column:?}"),
                self.near_column(column),
            )),
        }
    }

    /// Often only the unit is missing in the name.
    fn near_column(&self, column: &str) -> String {
        let names = || self.headers.iter().map(String::as_str);
        let bare = |name: &str| name.split('(').next().unwrap_or_default().trim().to_owned();
        if let Some(same) = names().find(|name| bare(name) == bare(column)) {
            return format!("did you mean {same:?}?");
        }
        let looks_like_one = self.headers.len() == 1 && self.headers[0].contains([';', '\t']);
        if looks_like_one {
            return "columns are separated by commas".to_owned();
        }
        suggestion(column, names().collect::<Vec<_>>(), "the columns are")
    }

    /// Where the header of a column stands.
    fn header_place(&self, index: usize) -> Range<usize> {
        cell_place(self.text, self.header_start, index)
    }

    /// Reads a column.
    pub(crate) fn read(&self, index: usize, sink: &mut Sink) -> Option<Readings> {
        let column = &self.headers[index];
        let Some((unit, dimension)) = unit_of(column) else {
            let message = format!("column {column:?} does not end with a unit in parentheses");
            sink.at(&self.header_place(index), message)
                .help(format!("write \"{column} (in)\", or (1) for a pure number"));
            return None;
        };
        let mut raw = Vec::new();
        let mut faults = 0;
        for (start, record) in records(self.text).skip(1) {
            let problem = match record.get(index).unwrap_or_default() {
                _ if record.len() > self.headers.len() => Some(self.too_many_cells(&record)),
                "" => None,
                cell => match value(cell, unit, dimension) {
                    Some(value) => {
                        raw.push(value);
                        None
                    }
                    None => Some((
                        format!("column {column:?}: {:?} is not a number", shortened(cell)),
                        mend(cell),
                    )),
                },
            };
            if let Some((message, help)) = problem {
                faults += 1;
                if faults <= MOST_FAULTS {
                    let place = cell_place(self.text, start, index);
                    sink.at(&place, message).help(help);
                }
            }
        }
        (faults == 0).then(|| Readings {
            column: column.clone(),
            dimension,
            raw,
        })
    }

    fn too_many_cells(&self, record: &StringRecord) -> (String, &'static str) {
        let (cells, names) = (record.len(), self.headers.len());
        (
            format!("the line has {cells} cells, but the header names {names} columns"),
            "is there a decimal comma? the decimal sign is a point",
        )
    }
}

/// The records with the byte at which each begins; comments and blank lines are left out.
fn records(text: &str) -> impl Iterator<Item = (usize, StringRecord)> {
    let mark = text.len() - text.trim_start_matches('\u{feff}').len();
    let reader = ReaderBuilder::new()
        .has_headers(false)
        .flexible(true)
        .comment(Some(b'#'))
        .trim(Trim::All)
        .from_reader(&text.as_bytes()[mark..]);
    // The text is UTF-8 and lines may have any length, which leaves no error that could end this early.
    reader
        .into_records()
        .map_while(Result::ok)
        .map(move |record| {
            let from = record.position().map_or(0, csv::Position::byte);
            let from = usize::try_from(from).unwrap_or(usize::MAX);
            (first_record_after(text, mark + from), record)
        })
}

/// The reader says where it looked for a record; comments and blank lines may lie before it.
fn first_record_after(text: &str, from: usize) -> usize {
    let mut at = from.min(text.len());
    for line in text.get(at..).unwrap_or_default().split_inclusive('\n') {
        let is_blank = line.trim_end_matches(['\r', '\n']).is_empty();
        if !is_blank && !line.starts_with('#') {
            break;
        }
        at += line.len();
    }
    at
}

/// Where the cell of this number stands in the record that begins at `start`.
fn cell_place(text: &str, start: usize, index: usize) -> Range<usize> {
    let rest = text.get(start..).unwrap_or_default();
    let mut number = 0;
    let mut from = 0;
    let mut is_quoted = false;
    let mut end = rest.len();
    for (at, c) in rest.char_indices() {
        match c {
            '"' => is_quoted = !is_quoted,
            ',' | '\n' if !is_quoted => {
                if number == index || c == '\n' {
                    end = at;
                    break;
                }
                number += 1;
                from = at + 1;
            }
            _ => {}
        }
    }
    let cell = &rest[from..end];
    let left = cell.len() - cell.trim_start().len();
    let length = cell.trim().len();
    start + from + left..start + from + left + length
}

/// "kerf (in)" is in inches.
fn unit_of(column: &str) -> Option<(&str, Dimension)> {
    let (_, unit) = column.strip_suffix(')')?.rsplit_once('(')?;
    let unit = unit.trim();
    if unit == "1" {
        return Some(("", Dimension::NUMBER));
    }
    let one: Quantity = format!("1 {unit}").parse().ok()?;
    (one.dimension() != Dimension::NUMBER).then_some((unit, one.dimension()))
}

/// A number without a unit, taken in the unit of the column, in the raw unit.
fn value(cell: &str, unit: &str, dimension: Dimension) -> Option<f64> {
    cell.parse::<Quantity>().ok()?.number()?;
    let value: Quantity = format!("{cell} {unit}").trim().parse().ok()?;
    (value.dimension() == dimension).then_some(value.raw())
}

fn mend(cell: &str) -> &'static str {
    if cell.contains(',') && cell.replace(',', ".").parse::<f64>().is_ok() {
        "the decimal sign is a point"
    } else {
        "a cell holds one number without its unit"
    }
}

fn shortened(cell: &str) -> String {
    cell.chars().take(40).collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    fn faults(text: &str, column: &str) -> String {
        read_readings("r.csv", text, column)
            .unwrap_err()
            .to_string()
    }

    #[test]
    fn marks_comments_blanks_and_windows_line_ends_do_no_harm() {
        let text = "\u{feff}# taken on a dry day\r\n\r\nno , gap (thou) \r\n# a comment\r\n1, 2.5\r\n2,\r\n\r\n3,\"4\"\r\n";
        let gap = read_readings("r.csv", text, "gap (thou)").unwrap();
        assert_eq!(gap.raw(), [0.0025, 0.004]);
        assert_eq!(gap.dimension(), Dimension::LENGTH);
    }

    #[test]
    fn fractions_and_pure_numbers() {
        let text = "rule (in),ratio (1)\n1-1/2,0.5\n3/8,2\n";
        let rule = read_readings("r.csv", text, "rule (in)").unwrap();
        assert_eq!(rule.raw(), [1.5, 0.375]);
        let ratio = read_readings("r.csv", text, "ratio (1)").unwrap();
        assert_eq!(ratio.dimension(), Dimension::NUMBER);
        assert_eq!(ratio.raw(), [0.5, 2.0]);
    }

    #[test]
    fn every_bad_cell_is_named_with_its_place() {
        let text = "# x\nno,\"gap, at feel (in)\"\n\n# y\n1,\"0,125\"\n2, 0.125 in\n3,NaN\n4,inf\n";
        let expected = "\
r.csv:5:3: column \"gap, at feel (in)\": \"0,125\" is not a number
  help: the decimal sign is a point
r.csv:6:4: column \"gap, at feel (in)\": \"0.125 in\" is not a number
  help: a cell holds one number without its unit
r.csv:7:3: column \"gap, at feel (in)\": \"NaN\" is not a number
  help: a cell holds one number without its unit
r.csv:8:3: column \"gap, at feel (in)\": \"inf\" is not a number
  help: a cell holds one number without its unit";
        assert_eq!(faults(text, "gap, at feel (in)"), expected);
    }

    #[test]
    fn columns_are_found_by_their_whole_name() {
        let text = "cut,kerf (in)\n1,0.125\n";
        assert_eq!(
            faults(text, "kerf"),
            "r.csv:1:1: there is no column \"kerf\"\n  help: did you mean \"kerf (in)\"?"
        );
        assert_eq!(
            faults(text, "width (in)"),
            "r.csv:1:1: there is no column \"width (in)\"\n  help: the columns are \"cut\", \"kerf (in)\""
        );
        assert_eq!(
            faults(text, "cut"),
            "r.csv:1:1: column \"cut\" does not end with a unit in parentheses\n  \
             help: write \"cut (in)\", or (1) for a pure number"
        );
        assert_eq!(
            faults("a (in),a (in)\n", "a (in)"),
            "r.csv:1:1: there are two columns \"a (in)\"\n  help: give each column a name of its own"
        );
        assert_eq!(
            faults("cut;kerf (in)\n1;0.125\n", "kerf (in)"),
            "r.csv:1:1: there is no column \"kerf (in)\"\n  help: columns are separated by commas"
        );
    }

    #[test]
    fn a_decimal_comma_makes_a_cell_too_many() {
        assert_eq!(
            faults("kerf (in)\n0,125\n", "kerf (in)"),
            "r.csv:2:1: the line has 2 cells, but the header names 1 columns\n  \
             help: is there a decimal comma? the decimal sign is a point"
        );
    }

    #[test]
    fn an_empty_file_has_no_header() {
        for text in ["", "\n\n", "# only a comment\n"] {
            assert!(faults(text, "kerf (in)").starts_with("r.csv: there is no header line"));
        }
    }

    #[test]
    fn a_column_of_a_thousand_bad_cells_gives_twenty_faults() {
        let text = format!("kerf (in)\n{}", "x\n".repeat(1000));
        let faults = read_readings("r.csv", &text, "kerf (in)").unwrap_err();
        assert_eq!(faults.faults().len(), MOST_FAULTS);
    }
}
