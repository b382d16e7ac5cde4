//! Plans in files. The only place of this crate that reads files.

use crate::{Faults, Plan};
use std::fs::File;
use std::io::{self, Read};
use std::path::Path;

/// Larger than any plan or file of readings that is accepted; the rest is not even read.
const MOST_BYTES: u64 = 32 << 20;

impl Plan {
    /// Reads a plan file, and the files of readings that it names beside it.
    ///
    /// # Errors
    ///
    /// All that is wrong with the files, found in one pass.
    ///
    /// ```
    /// let faults = kerfwise_plan::Plan::from_path("no/such/plan.toml".as_ref()).unwrap_err();
    /// assert_eq!(faults.to_string(), "no/such/plan.toml: cannot read the plan: there is no such file");
    /// ```
    pub fn from_path(path: &Path) -> Result<Self, Faults> {
        let name = path.display().to_string();
        let text = read_file(path).map_err(|error| {
            Faults::of_file(&name, format!("cannot read the plan: {error}"), None)
        })?;
        let folder = path.parent().unwrap_or(Path::new(""));
        let beside = |readings: &str| {
            let path = folder.join(readings);
            read_file(&path).map_err(|error| {
                let whole = std::path::absolute(&path).unwrap_or(path);
                let place = whole.display();
                io::Error::new(error.kind(), format!("{error} (looked for {place})"))
            })
        };
        Self::parse(&name, &text, &beside)
    }
}

fn read_file(path: &Path) -> io::Result<String> {
    let described = |error: io::Error| match error.kind() {
        io::ErrorKind::NotFound => io::Error::new(error.kind(), "there is no such file"),
        io::ErrorKind::InvalidData => io::Error::new(error.kind(), "it is not text in UTF-8"),
        _ => error,
    };
    // A pipe or a device might never end.
    if !std::fs::metadata(path).map_err(described)?.is_file() {
        return Err(io::Error::other("it is not a file"));
    }
    let mut text = String::new();
    let mut file = File::open(path).map_err(described)?.take(MOST_BYTES);
    file.read_to_string(&mut text).map_err(described)?;
    Ok(text)
}
