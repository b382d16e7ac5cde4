//! The `kerfwise` command.

mod args;
mod batch;
mod evidence;
mod explain;
mod improve;
mod judge;
mod learn;
mod new;
mod pair;
mod readings;
mod report;
mod run;
mod setting;
mod study;
mod testcut;
mod watch;

use std::io::Write as _;
use std::process::ExitCode;

fn main() -> ExitCode {
    let args = args::parse();
    match run::run(&args) {
        Ok(text) => match write_out(&text) {
            Ok(()) => ExitCode::SUCCESS,
            // A reader that has seen enough (`kerfwise | head`) is no failure.
            Err(error) if error.kind() == std::io::ErrorKind::BrokenPipe => ExitCode::SUCCESS,
            Err(error) => complain(&format!("cannot write the answer: {error}")),
        },
        Err(message) => complain(&message),
    }
}

fn write_out(text: &str) -> std::io::Result<()> {
    let mut out = std::io::stdout().lock();
    out.write_all(text.as_bytes())?;
    if !text.ends_with('\n') {
        out.write_all(b"\n")?;
    }
    out.flush()
}

/// Says on standard error what is wrong; exit code 2 as for a wrong option.
fn complain(message: &str) -> ExitCode {
    // Faults of files bring the word along, once for each.
    let word = if message.starts_with("error") || message.contains("error: ") {
        ""
    } else {
        "error: "
    };
    let _unheard = writeln!(std::io::stderr(), "{word}{}", message.trim_end());
    ExitCode::from(2)
}
