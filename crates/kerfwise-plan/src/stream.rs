use crate::Faults;
use crate::fault::Sink;
use crate::readings::{MOST_FAULTS, Place, Sheet};
use csv::{ReaderBuilder, StringRecord, Trim};
use kerfwise_source::Dimension;
use std::io::{self, BufRead, BufReader, Read};

/// A header, with the comments above it, may have so many bytes.
const LONGEST_HEADER: u64 = 1 << 20;

/// A column that streamed by.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct StreamedColumn {
    /// Its name, with the unit.
    pub name: String,
    /// What was read.
    pub dimension: Dimension,
}

/// Reads one column of a CSV file of any length and hands each reading on, in the raw unit of its dimension (inches for a
/// length), in constant memory.
///
/// The form, and what is read where no column is named, is that of [`read_readings`](crate::read_readings); the header is on
/// one line, and no line has more than 1 MiB.
///
/// # Errors
///
/// What [`read_readings`](crate::read_readings) finds, each with its line, and a file that cannot be read or is not UTF-8. Readings
/// before and between faults were handed on.
///
/// ```
/// use kerfwise_plan::stream_readings;
///
/// let file = "cut,kerf (thou)\n1,126\n2,\n3,127\n".as_bytes();
/// let (mut count, mut sum) = (0, 0.0);
/// stream_readings("kerf.csv", file, "kerf (thou)", |reading| {
///     count += 1;
///     sum += reading;
/// })?;
/// assert_eq!((count, sum), (2, 0.126 + 0.127));
///
/// let file = "kerf (in)\n0.126\nabout 1/8\n".as_bytes();
/// let faults = stream_readings("kerf.csv", file, "kerf (in)", |_| {}).unwrap_err();
/// assert_eq!(
///     faults.to_string(),
///     "kerf.csv:3:1: column \"kerf (in)\": \"about 1/8\" is not a number\n  \
///      help: a cell holds one number without its unit"
/// );
/// # Ok::<(), kerfwise_plan::Faults>(())
/// ```
pub fn stream_readings<'a>(
    name: &str,
    file: impl Read,
    column: impl Into<Option<&'a str>>,
    mut each: impl FnMut(f64),
) -> Result<StreamedColumn, Faults> {
    let mut file = BufReader::new(file);
    let failed = |error: &io::Error| Faults::of_file(name, format!("cannot read: {error}"), None);
    let (header, lines) = header(&mut file).map_err(|error| failed(&error))?;
    let mut sink = Sink::new(name, &header);
    let Some(cells) = Sheet::open(&header, &mut sink).and_then(|sheet| {
        let index = sheet.choose(column.into(), &mut sink)?;
        sheet.cells(index, &mut sink)
    }) else {
        return Err(sink.into_faults());
    };
    let mut reader = ReaderBuilder::new()
        .has_headers(false)
        .delimiter(cells.separator())
        .flexible(true)
        .trim(Trim::All)
        .from_reader(Lines::new(file, cells.separator()));
    let mut faults = Vec::new();
    let mut record = StringRecord::new();
    loop {
        match reader.read_record(&mut record) {
            Ok(false) => break,
            Ok(true) if record.len() == 1 && record.get(0) == Some(SKIPPED) => continue,
            Ok(true) => {}
            Err(error) => {
                let line = error.position().map_or(0, csv::Position::line);
                faults.push((
                    lines + line,
                    format!("cannot read the line: {error}"),
                    "save the file as UTF-8",
                ));
                break; // what follows cannot be trusted
            }
        }
        match cells.reading(&record) {
            Ok(None) => {}
            Ok(Some(reading)) => each(reading),
            Err((message, help)) => {
                let line = record.position().map_or(0, csv::Position::line);
                faults.push((lines + line, message, help));
                if faults.len() >= MOST_FAULTS {
                    break;
                }
            }
        }
    }
    if faults.is_empty() {
        Ok(StreamedColumn {
            name: cells.column().to_owned(),
            dimension: cells.dimension(),
        })
    } else {
        Err(Faults::of_lines(name, faults))
    }
}

/// What stands for a line that is blank or a comment; no text has such a line.
const SKIPPED: &str = "\0#";
/// A line of readings may have so many bytes.
const LONGEST_LINE: u64 = 1 << 20;

/// The lines of a file, those that are blank or comments cut down to a mark. The `csv` crate would skip them, and tell for what
/// follows the line before them.
struct Lines<R> {
    file: R,
    separator: u8,
    line: Vec<u8>,
    at: usize,
    place: Place,
}

impl<R: BufRead> Lines<R> {
    fn new(file: R, separator: u8) -> Self {
        Self {
            file,
            separator,
            line: Vec::new(),
            at: 0,
            place: Place::Start,
        }
    }

    fn next_line(&mut self) -> io::Result<()> {
        self.line.clear();
        self.at = 0;
        let mut file = (&mut self.file).take(LONGEST_LINE);
        file.read_until(b'\n', &mut self.line)?;
        if self.line.len() as u64 == LONGEST_LINE {
            return Err(io::Error::other("the line is longer than 1 MiB"));
        }
        let trimmed = self.line.trim_ascii();
        let is_skipped = trimmed.is_empty() || self.line.starts_with(b"#");
        if self.place == Place::Start && is_skipped && !self.line.is_empty() {
            self.line.clear();
            self.line.extend_from_slice(SKIPPED.as_bytes());
            self.line.push(b'\n');
        } else {
            let after = |place: Place, &byte: &u8| place.after(byte, self.separator);
            self.place = self.line.iter().fold(self.place, after);
            // The `csv` crate counts a line at its \n, which of \r\n it reads with the next record.
            if self.place == Place::Start && self.line.ends_with(b"\r\n") {
                self.line.truncate(self.line.len() - 2);
                self.line.push(b'\n');
            }
        }
        Ok(())
    }
}

impl<R: BufRead> Read for Lines<R> {
    fn read(&mut self, to: &mut [u8]) -> io::Result<usize> {
        if self.at == self.line.len() {
            self.next_line()?;
        }
        let left = &self.line[self.at..];
        let count = to.len().min(left.len());
        to[..count].copy_from_slice(&left[..count]);
        self.at += count;
        Ok(count)
    }
}

/// Reads on to the end of the header; returns it with all above it, and how many lines that is.
fn header(file: &mut impl BufRead) -> io::Result<(String, u64)> {
    let mut text = String::new();
    let mut lines = 0;
    let mut file = file.take(LONGEST_HEADER);
    loop {
        let from = text.len();
        if file.read_line(&mut text)? == 0 {
            break;
        }
        lines += 1;
        let line = text[from..].trim_start_matches('\u{feff}').trim_end();
        if !line.is_empty() && !line.starts_with('#') {
            break;
        }
    }
    Ok((text, lines))
}

#[cfg(test)]
mod tests {
    use super::*;

    /// A file that is made while it is read.
    struct Endless {
        rows: u64,
        made: Vec<u8>,
        at: usize,
    }

    impl Read for Endless {
        fn read(&mut self, to: &mut [u8]) -> io::Result<usize> {
            if self.at == self.made.len() && self.rows > 0 {
                self.rows -= 1;
                self.made = format!("{};0,{}\r\n", self.rows, 1 + self.rows % 9).into_bytes();
                self.at = 0;
            }
            let count = to.len().min(self.made.len() - self.at);
            to[..count].copy_from_slice(&self.made[self.at..self.at + count]);
            self.at += count;
            Ok(count)
        }
    }

    #[test]
    fn a_million_rows_stream_by() {
        let file = Endless {
            rows: 1_000_000,
            made: "\u{feff}# a long night\r\ncut;gap (in)\r\n".into(),
            at: 0,
        };
        let (mut count, mut largest) = (0, 0.0_f64);
        let column = stream_readings("long.csv", file, "gap (in)", |reading| {
            count += 1;
            largest = largest.max(reading);
        });
        assert_eq!(column.unwrap().dimension, Dimension::LENGTH);
        assert_eq!((count, largest), (1_000_000, 0.9));
    }

    #[test]
    fn faults_have_their_lines_and_readings_go_on() {
        let file = "# x\n\nno,gap (in)\r\n5\" blade,0.5\r\n# y\n2,x\n3,0.25,7\n\n \r\n4,1/4\n";
        let mut readings = Vec::new();
        let faults = stream_readings("r.csv", file.as_bytes(), "gap (in)", |x| readings.push(x))
            .unwrap_err();
        assert_eq!(
            faults.to_string(),
            "r.csv:6:1: column \"gap (in)\": \"x\" is not a number\n  help: a cell holds one number without its unit\n\
             r.csv:7:1: the line has 3 cells, but the header names 2 columns\n  \
             help: is there a decimal comma? the decimal sign is a point"
        );
        assert_eq!(readings, [0.5, 0.25]);
    }

    #[test]
    fn what_is_no_text_is_told() {
        let message = |file: &[u8]| {
            stream_readings("r.csv", file, "gap (in)", |_| {})
                .unwrap_err()
                .to_string()
        };
        assert!(message(b"gap (in)\n0.5\n\xff\n").starts_with("r.csv:3:1: cannot read the line: "));
        let long = [b"gap (in)\n".as_slice(), &vec![b'1'; 2 << 20]].concat();
        assert!(
            message(&long).contains("longer than 1 MiB"),
            "{}",
            message(&long)
        );
        assert!(message(b"\xff\n").starts_with("r.csv: cannot read: "));
        assert!(message(b"").starts_with("r.csv: there is no header line"));
        assert!(message(b"gap\n1\n").starts_with("r.csv:1:1: there is no column \"gap (in)\""));
        let many = format!("gap (in)\n{}", "x\n".repeat(100));
        let faults = stream_readings("r.csv", many.as_bytes(), "gap (in)", |_| {}).unwrap_err();
        assert_eq!(faults.faults().len(), MOST_FAULTS);
    }
}
