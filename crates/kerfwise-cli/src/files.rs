//! Files that were named on the command line, and what is wrong with them in plain words.

use crate::run::show;
use kerfwise::plan::{Faults, Plan};
use std::fs::File;
use std::io::{Error, ErrorKind, Read as _, Write as _};
use std::path::Path;

/// A plan; one that is not there may be begun, and one that is not one is told from a file of readings.
pub(crate) fn plan(path: &Path) -> Result<Plan, String> {
    let name = path.display();
    if path.symlink_metadata().is_err() {
        return Err(format!(
            "{name}: there is no such plan; `kerfwise new {name}` begins one by asking"
        ));
    }
    if path
        .extension()
        .is_some_and(|ending| ending.eq_ignore_ascii_case("csv"))
    {
        return Err(format!(
            "{name}: a file of readings, where a plan is wanted; `kerfwise readings {name}` tells what they show"
        ));
    }
    let plan = Plan::from_path(path).map_err(|faults: Faults| show(&faults))?;
    for warning in plan.warnings() {
        let _unheard = writeln!(std::io::stderr(), "warning: {warning}");
    }
    Ok(plan)
}

/// The text of a file of readings.
pub(crate) fn text(path: &Path) -> Result<String, String> {
    let mut text = String::new();
    open(path)?
        .read_to_string(&mut text)
        .map_err(|error| told(path, &error))?;
    Ok(text)
}

/// A file of readings, to be read piece by piece.
pub(crate) fn open(path: &Path) -> Result<File, String> {
    if path.is_dir() {
        return Err(told(path, &Error::from(ErrorKind::IsADirectory)));
    }
    File::open(path).map_err(|error| told(path, &error))
}

/// What the system says, in plain words.
fn told(path: &Path, error: &Error) -> String {
    let what = match error.kind() {
        ErrorKind::NotFound => "there is no such file".to_owned(),
        ErrorKind::IsADirectory => "it is a folder, and a file is wanted".to_owned(),
        ErrorKind::PermissionDenied => "the system does not let this program at it".to_owned(),
        ErrorKind::InvalidData => "it is not text in UTF-8".to_owned(),
        _ => error.to_string(),
    };
    format!("{}: cannot read: {what}", path.display())
}
