//! Readings in CSV files. The only file that knows the `csv` crate.

use crate::Faults;
use crate::fault::Sink;
use crate::near::{near, quoted, suggestion};
use crate::slip;
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

    /// Readings that look like slips of the pen, in words: where at least half lie within a tenth of the median, those that are
    /// three times the median or more, or a third of it or less, or of the other sign. They are not left out.
    ///
    /// ```
    /// use kerfwise_plan::read_readings;
    ///
    /// let kerf = read_readings("kerf.csv", "kerf (in)\n0.125\n0.126\n1.27\n0.1255\n", None)?;
    /// assert_eq!(kerf.slips(), ["reading 3 of 4 is ten times the others"]);
    /// # Ok::<(), kerfwise_plan::Faults>(())
    /// ```
    #[must_use]
    pub fn slips(&self) -> Vec<String> {
        slip::slips(&self.raw)
    }
}

/// Reads one column of a CSV text; `name` is how faults call the file.
///
/// Without a column, the only one whose name ends with a unit is read.
///
/// The first line holds the names of the columns, each with its unit in parentheses ("(1)" for a pure
/// number). Lines that start with # are comments; blank cells are skipped. Columns are separated by commas, or, where the
/// first line has semicolons and no comma, by semicolons; the decimal sign is then a comma or a point.
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
pub fn read_readings<'a>(
    name: &str,
    text: &str,
    column: impl Into<Option<&'a str>>,
) -> Result<Readings, Faults> {
    let mut sink = Sink::new(name, text);
    let readings = read_column(text, column.into(), &mut sink);
    match readings {
        Some(readings) if sink.is_empty() => Ok(readings),
        _ => Err(sink.into_faults()),
    }
}

/// The names of the columns of a CSV text that hold readings: those that end with a unit.
///
/// # Errors
///
/// When the text has no header line, or is too long.
///
/// ```
/// use kerfwise_plan::reading_columns;
///
/// let text = "leg,at feel (in),walls (in)\nA1,0.3740,0.3762\n";
/// assert_eq!(reading_columns("mortise.csv", text)?, ["at feel (in)", "walls (in)"]);
/// # Ok::<(), kerfwise_plan::Faults>(())
/// ```
pub fn reading_columns(name: &str, text: &str) -> Result<Vec<String>, Faults> {
    let mut sink = Sink::new(name, text);
    let Some(sheet) = Sheet::open(text, &mut sink) else {
        return Err(sink.into_faults());
    };
    let names = sheet.headers.into_iter();
    Ok(names.filter(|name| unit_of(name).is_some()).collect())
}

fn read_column(text: &str, column: Option<&str>, sink: &mut Sink) -> Option<Readings> {
    let sheet = Sheet::open(text, sink)?;
    let index = sheet.choose(column, sink)?;
    sheet.read(index, sink)
}

/// A CSV text whose header has been read.
#[derive(Debug)]
pub(crate) struct Sheet<'a> {
    text: &'a str,
    separator: char,
    header_start: usize,
    headers: Vec<String>,
}

/// A larger file is hardly one of readings taken by hand.
const MOST_BYTES: usize = 16 << 20;
/// One bad column gives one fault per cell, but not more than this.
pub(crate) const MOST_FAULTS: usize = 20;

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
        // Where the first line begins does not hang on what separates its cells.
        let header_start = records(text, ',').next().map(|(start, _)| start);
        let separator = separator(text.get(header_start.unwrap_or(0)..).unwrap_or_default());
        let first = records(text, separator).next();
        let Some((header_start, header)) = first else {
            sink.whole_file("there is no header line")
                .help("the first line names the columns, such as kerf (in)");
            return None;
        };
        let headers: Vec<String> = header.iter().map(str::to_owned).collect();
        if headers.len() == 1 && headers[0].contains('\t') {
            let at = cell_place(text, header_start, 0, separator);
            sink.at(&at, "tabs stand between the columns")
                .help("put commas or semicolons there: a spreadsheet does so when it saves as CSV");
            return None;
        }
        Some(Self {
            text,
            separator,
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

    /// The number of a column of readings; where none is named, of the only one that has a unit.
    pub(crate) fn choose(&self, column: Option<&str>, sink: &mut Sink) -> Option<usize> {
        let with_unit: Vec<usize> = (0..self.headers.len())
            .filter(|&index| unit_of(&self.headers[index]).is_some())
            .collect();
        let found = match (column, with_unit.as_slice()) {
            (Some(_), _) => self.find(column),
            (None, [index]) => Ok(*index),
            (None, []) => Err((
                "no column has a unit in its name".to_owned(),
                "write the unit in parentheses, such as kerf (in)".to_owned(),
            )),
            (None, several) => {
                let names = several.iter().map(|&index| self.headers[index].as_str());
                let (count, first) = (several.len(), &self.headers[several[0]]);
                Err((
                    format!("{count} columns have readings, and none is named"),
                    format!(
                        "name one of {}; on the command line as --column {first:?} (pair: --tenon-column, --mortise-column)",
                        quoted(names, ", ")
                    ),
                ))
            }
        };
        found
            .map_err(|(message, help)| {
                sink.at(&self.header_place(0), message).help(help);
            })
            .ok()
    }

    /// Often only the unit is missing in the name.
    fn near_column(&self, column: &str) -> String {
        let names = || self.headers.iter().map(String::as_str);
        let bare = |name: &str| name.split('(').next().unwrap_or_default().trim().to_owned();
        if let Some(same) = names().find(|name| bare(name) == bare(column)) {
            return if unit_of(same).is_some() {
                format!("did you mean {same:?}?")
            } else {
                format!(
                    "its first line calls it {same:?}, which ends with no unit; write {column:?} there"
                )
            };
        }
        // A slip of the finger before the unit.
        let wanted = bare(column);
        let alike = |name: &&str| !near(&wanted, [bare(name).as_str()]).is_empty();
        if let Some(alike) = names().find(alike) {
            return format!("did you mean {alike:?}?");
        }
        suggestion(column, names().collect::<Vec<_>>(), "the columns are")
    }

    /// Where the header of a column stands.
    pub(crate) fn header_place(&self, index: usize) -> Range<usize> {
        self.cell_place(self.header_start, index)
    }

    fn cell_place(&self, start: usize, index: usize) -> Range<usize> {
        cell_place(self.text, start, index, self.separator)
    }

    /// Reads a column.
    pub(crate) fn read(&self, index: usize, sink: &mut Sink) -> Option<Readings> {
        let rows = self.read_beside(index, &[], sink)?;
        Some(Readings {
            column: rows.column,
            dimension: rows.dimension,
            raw: rows.rows.into_iter().map(|(raw, _)| raw).collect(),
        })
    }

    /// Reads a column and, beside each reading, the words of other columns.
    pub(crate) fn read_beside(
        &self,
        index: usize,
        labels: &[usize],
        sink: &mut Sink,
    ) -> Option<Rows> {
        let cells = self.cells(index, sink)?;
        let mut rows = Vec::new();
        let mut faults = 0;
        for (start, record) in records(self.text, self.separator).skip(1) {
            let (at, message, help) = match cells.reading(&record) {
                Ok(None) => continue,
                Ok(Some(raw)) => match label_cells(&record, labels) {
                    Ok(words) => {
                        rows.push((raw, words));
                        continue;
                    }
                    Err(empty) => {
                        let column = &self.headers[empty];
                        let message = format!("column {column:?} is empty beside a reading");
                        (empty, message, "name it, or leave the reading out")
                    }
                },
                Err((message, help)) => (index, message, help),
            };
            faults += 1;
            if faults <= MOST_FAULTS {
                sink.at(&self.cell_place(start, at), message).help(help);
            }
        }
        let Cells {
            column, dimension, ..
        } = cells;
        (faults == 0).then_some(Rows {
            column,
            dimension,
            rows,
        })
    }

    /// How the cells of a column are read.
    pub(crate) fn cells(&self, index: usize, sink: &mut Sink) -> Option<Cells> {
        let column = &self.headers[index];
        let Some((unit, dimension)) = unit_of(column) else {
            let message = format!("column {column:?} does not end with a unit in parentheses");
            sink.at(&self.header_place(index), message)
                .help(format!("write \"{column} (in)\", or (1) for a pure number"));
            return None;
        };
        Some(Cells {
            index,
            columns: self.headers.len(),
            column: column.clone(),
            unit: unit.to_owned(),
            dimension,
            separator: self.separator,
        })
    }
}

/// A column of readings, known by its header.
#[derive(Debug)]
pub(crate) struct Cells {
    index: usize,
    columns: usize,
    column: String,
    unit: String,
    dimension: Dimension,
    separator: char,
}

impl Cells {
    pub(crate) fn dimension(&self) -> Dimension {
        self.dimension
    }

    pub(crate) fn column(&self) -> &str {
        &self.column
    }

    pub(crate) fn separator(&self) -> u8 {
        if self.separator == ';' { b';' } else { b',' }
    }

    /// The reading of a line in the raw unit, if it has one, or what is wrong and how to mend it.
    pub(crate) fn reading(
        &self,
        record: &StringRecord,
    ) -> Result<Option<f64>, (String, &'static str)> {
        let cell = record.get(self.index).unwrap_or_default();
        if record.len() > self.columns {
            let (cells, names) = (record.len(), self.columns);
            return Err((
                format!("the line has {cells} cells, but the header names {names} columns"),
                "is there a decimal comma? the decimal sign is a point",
            ));
        }
        if cell.is_empty() {
            return Ok(None);
        }
        let read = if self.separator == ';' && !cell.contains('.') {
            value(&cell.replacen(',', ".", 1), &self.unit, self.dimension)
        } else {
            value(cell, &self.unit, self.dimension)
        };
        read.map(Some).ok_or_else(|| {
            let (column, shown) = (&self.column, shortened(cell));
            (
                format!("column {column:?}: {shown:?} is not a number"),
                mend(cell),
            )
        })
    }
}

/// Readings with the words beside them.
#[derive(Debug)]
pub(crate) struct Rows {
    pub(crate) column: String,
    pub(crate) dimension: Dimension,
    pub(crate) rows: Vec<(f64, Vec<String>)>,
}

/// The words of these columns, or the first column that has none.
fn label_cells(record: &StringRecord, labels: &[usize]) -> Result<Vec<String>, usize> {
    let word = |&index: &usize| match record.get(index).unwrap_or_default() {
        "" => Err(index),
        word => Ok(word.to_owned()),
    };
    labels.iter().map(word).collect()
}

/// What separates the cells of a text that begins with its first line: semicolons where there are some and no comma, as
/// where the decimal sign is a comma.
fn separator(text: &str) -> char {
    let line = text.lines().next().unwrap_or_default();
    let mut is_quoted = false;
    let mut has = [false; 2];
    for c in line.chars() {
        match c {
            '"' => is_quoted = !is_quoted,
            ',' if !is_quoted => has[0] = true,
            ';' if !is_quoted => has[1] = true,
            _ => {}
        }
    }
    if has == [false, true] { ';' } else { ',' }
}

/// The records with the byte at which each begins; comments and blank lines are left out.
fn records(text: &str, separator: char) -> impl Iterator<Item = (usize, StringRecord)> {
    let mark = text.len() - text.trim_start_matches('\u{feff}').len();
    let reader = ReaderBuilder::new()
        .has_headers(false)
        .delimiter(if separator == ';' { b';' } else { b',' })
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

/// Where in a cell the text is; a quote counts only where a cell begins.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) enum Place {
    Start,
    Plain,
    Quoted,
    /// After a quote, which ends the quoted part unless another follows.
    Closed,
}

impl Place {
    pub(crate) fn after(self, byte: u8, separator: u8) -> Self {
        match (self, byte) {
            (Self::Quoted, b'"') => Self::Closed,
            (Self::Quoted, _) | (Self::Start | Self::Closed, b'"') => Self::Quoted,
            (_, b'\n') => Self::Start,
            (_, byte) if byte == separator => Self::Start,
            _ => Self::Plain,
        }
    }
}

/// Where the cell of this number stands in the record that begins at `start`.
fn cell_place(text: &str, start: usize, index: usize, separator: char) -> Range<usize> {
    let rest = text.get(start..).unwrap_or_default();
    let separator = if separator == ';' { b';' } else { b',' };
    let mut number = 0;
    let mut from = 0;
    let mut place = Place::Start;
    let mut end = rest.len();
    for (at, byte) in rest.bytes().enumerate() {
        if place != Place::Quoted && (byte == separator || byte == b'\n') {
            if number == index || byte == b'\n' {
                end = at;
                break;
            }
            number += 1;
            from = at + 1;
        }
        place = place.after(byte, separator);
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
    fn a_quote_within_a_cell_is_a_mark_of_inches() {
        let text = "blade,kerf (in)\n5\" one,x\n7\" one,y\n";
        let places: Vec<(usize, usize)> = read_readings("r.csv", text, "kerf (in)")
            .unwrap_err()
            .faults()
            .iter()
            .map(|fault| (fault.line, fault.column))
            .collect();
        assert_eq!(places, [(2, 8), (3, 8)]);
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
            faults("cut\tkerf (in)\n1\t0.125\n", "kerf (in)"),
            "r.csv:1:1: tabs stand between the columns\n  \
             help: put commas or semicolons there: a spreadsheet does so when it saves as CSV"
        );
    }

    #[test]
    fn without_a_name_the_only_column_with_a_unit_is_read() {
        let text = "cut,kerf (in),note\n1,0.125,dry\n";
        let kerf = read_readings("r.csv", text, None).unwrap();
        assert_eq!(
            (kerf.column(), kerf.raw()),
            ("kerf (in)", [0.125].as_slice())
        );
        let faults = |text| read_readings("r.csv", text, None).unwrap_err().to_string();
        assert_eq!(
            faults("a (in),b (mm)\n"),
            "r.csv:1:1: 2 columns have readings, and none is named\n  help: name one of \"a (in)\", \"b (mm)\"; \
             on the command line as --column \"a (in)\" (pair: --tenon-column, --mortise-column)"
        );
        assert_eq!(
            faults("a,b\n"),
            "r.csv:1:1: no column has a unit in its name\n  help: write the unit in parentheses, such as kerf (in)"
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
    fn semicolons_go_with_decimal_commas() {
        let text = "\u{feff}cut;\"kerf; all (mm)\"\r\n1;3,2\r\n2;3.3\r\n3;\r\n";
        let kerf = read_readings("r.csv", text, "kerf; all (mm)").unwrap();
        assert_eq!(kerf.raw(), [3.2 / 25.4, 3.3 / 25.4]);
        assert_eq!(
            faults("cut;kerf (mm)\n1;3,2,1\n2;1.234,5\n", "kerf (mm)"),
            "r.csv:2:3: column \"kerf (mm)\": \"3,2,1\" is not a number\n  help: a cell holds one number without its unit\n\
             r.csv:3:3: column \"kerf (mm)\": \"1.234,5\" is not a number\n  help: a cell holds one number without its unit"
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
