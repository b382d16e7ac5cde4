//! The `kerfwise` command.

mod args;
mod batch;
mod evidence;
mod examples;
mod explain;
mod files;
mod improve;
mod judge;
mod learn;
mod new;
mod pair;
mod progress;
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
    let args = match args::parse() {
        Ok(args) => args,
        Err(message) => return complain(&message),
    };
    progress::listen();
    // Questions have the terminal for themselves.
    let meter = (!args.asks()).then(progress::Meter::start);
    let answer = run::run(&args);
    drop(meter);
    match answer {
        Ok(text) => match write_out(&text) {
            Ok(()) => end(),
            // A reader that has seen enough (`kerfwise | head`) is no failure.
            Err(error) if error.kind() == std::io::ErrorKind::BrokenPipe => ExitCode::SUCCESS,
            Err(error) => complain(&format!("cannot write the answer: {error}")),
        },
        Err(message) => complain(&message),
    }
}

/// An answer whose trials were cut short is told as such, so that a script does not take it for a whole one.
fn end() -> ExitCode {
    match progress::cut_short() {
        None => ExitCode::SUCCESS,
        Some(note) => {
            let _unheard = writeln!(std::io::stderr(), "{note}");
            ExitCode::from(progress::INTERRUPTED)
        }
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
