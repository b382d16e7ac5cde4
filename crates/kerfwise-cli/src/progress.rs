//! How far a long run is, and how it is ended early.
//!
//! One line on standard error, on a terminal only, once something has taken half a second. It is a line
//! of text and no more, so it is written here rather than by a crate that brings five others.

use kerfwise::stack::Progress;
use std::fmt::Write as _;
use std::io::{IsTerminal as _, Write as _};
use std::ops::ControlFlow;
use std::sync::atomic::{AtomicBool, AtomicU64, Ordering};
use std::sync::mpsc::{RecvTimeoutError, Sender, channel};
use std::thread::JoinHandle;
use std::time::{Duration, Instant};

/// What is over sooner needs no word.
const PATIENCE: Duration = Duration::from_millis(500);
const BETWEEN: Duration = Duration::from_millis(100);
/// As the shell has it: ended by an interrupt.
pub(crate) const INTERRUPTED: u8 = 130;

/// Trials done and to do of the run that is on, and milliseconds at its beginning; 0 to do when none is on.
static DONE: AtomicU64 = AtomicU64::new(0);
static TO_DO: AtomicU64 = AtomicU64::new(0);
static SINCE: AtomicU64 = AtomicU64::new(0);
/// Which part of so many a long answer without trials is at; 0 of 0 where it has none.
static PART: AtomicU64 = AtomicU64::new(0);
static PARTS: AtomicU64 = AtomicU64::new(0);
/// Ctrl-C was pressed while trials ran.
static STOP: AtomicBool = AtomicBool::new(false);
/// Trials run, of trials wanted, when a run was cut short.
static CUT_AT: AtomicU64 = AtomicU64::new(0);
static CUT_OF: AtomicU64 = AtomicU64::new(0);

/// Ctrl-C ends trials with what is known so far; at any other time, and a second time, the program.
pub(crate) fn listen() {
    // Without a handler an interrupt ends the program, which is no worse than before.
    let _deaf = ctrlc::set_handler(|| {
        let is_running = TO_DO.load(Ordering::Relaxed) > 0;
        if !is_running || STOP.swap(true, Ordering::Relaxed) {
            let _unheard = std::io::stderr().write_all(b"\n");
            std::process::exit(i32::from(INTERRUPTED));
        }
    });
}

/// For the library: notes how far the trials are, and ends them when Ctrl-C was pressed.
pub(crate) fn of_trials(progress: Progress) -> ControlFlow<()> {
    if TO_DO.load(Ordering::Relaxed) == 0 {
        SINCE.store(now(), Ordering::Relaxed);
    }
    DONE.store(progress.done, Ordering::Relaxed);
    let is_over = progress.done >= progress.of;
    TO_DO.store(if is_over { 0 } else { progress.of }, Ordering::Relaxed);
    if is_over || !STOP.load(Ordering::Relaxed) {
        return ControlFlow::Continue(());
    }
    CUT_AT.store(progress.done, Ordering::Relaxed);
    CUT_OF.store(progress.of, Ordering::Relaxed);
    TO_DO.store(0, Ordering::Relaxed);
    ControlFlow::Break(())
}

/// Notes which of several parts of an answer begins.
pub(crate) fn part(part: u64, of: u64) {
    PART.store(part, Ordering::Relaxed);
    PARTS.store(of, Ordering::Relaxed);
}

/// What to say of an answer whose trials were cut short.
pub(crate) fn cut_short() -> Option<String> {
    let of = CUT_OF.load(Ordering::Relaxed);
    (of > 0).then(|| {
        let done = CUT_AT.load(Ordering::Relaxed);
        format!(
            "cut short by Ctrl-C after {} of {} trials; the answer is what these say",
            grouped(done),
            grouped(of)
        )
    })
}

/// Milliseconds since the first call.
fn now() -> u64 {
    static START: std::sync::OnceLock<Instant> = std::sync::OnceLock::new();
    let elapsed = START.get_or_init(Instant::now).elapsed();
    u64::try_from(elapsed.as_millis()).unwrap_or(u64::MAX)
}

/// Shows how far things are, until it is dropped.
pub(crate) struct Meter {
    drawing: Option<(Sender<()>, JoinHandle<()>)>,
}

impl Meter {
    pub(crate) fn start() -> Self {
        let start = now();
        let drawing = std::io::stderr().is_terminal().then(|| {
            let (end, ended) = channel::<()>();
            let thread = std::thread::spawn(move || {
                let mut wait = PATIENCE;
                let mut width = 0;
                while ended.recv_timeout(wait) == Err(RecvTimeoutError::Timeout) {
                    let line = line_now(start);
                    // What was longer before is painted over.
                    width = width.max(line.chars().count());
                    let _unheard = write!(std::io::stderr(), "\r{line:width$}");
                    wait = BETWEEN;
                }
                if width > 0 {
                    let _unheard = write!(std::io::stderr(), "\r{:width$}\r", "");
                }
            });
            (end, thread)
        });
        Self { drawing }
    }
}

impl Drop for Meter {
    fn drop(&mut self) {
        if let Some((end, thread)) = self.drawing.take() {
            drop(end);
            let _over = thread.join();
        }
    }
}

fn line_now(start: u64) -> String {
    let (done, of) = (DONE.load(Ordering::Relaxed), TO_DO.load(Ordering::Relaxed));
    let time = now();
    if of == 0 {
        let part = (PART.load(Ordering::Relaxed), PARTS.load(Ordering::Relaxed));
        return working(time.saturating_sub(start), part);
    }
    line(done, of, time.saturating_sub(SINCE.load(Ordering::Relaxed)))
}

fn working(milliseconds: u64, (part, parts): (u64, u64)) -> String {
    let part = match parts {
        0 => String::new(),
        _ => format!(", part {part} of {parts}"),
    };
    format!("working, {}{part} (Ctrl-C ends it)", seconds(milliseconds))
}

/// A bar, the rate and the time that is left.
fn line(done: u64, of: u64, milliseconds: u64) -> String {
    const WIDTH: u64 = 24;
    // Shares of whole numbers: no rounding up to a bar that is full too early.
    let share = |whole: u64| {
        let part = u128::from(whole) * u128::from(done) / u128::from(of.max(1));
        usize::try_from(part).unwrap_or(0)
    };
    let full = share(WIDTH);
    let mut text = format!(
        "[{}{}] {} %, {} of {} trials",
        "#".repeat(full),
        ".".repeat(WIDTH as usize - full.min(WIDTH as usize)),
        share(100),
        grouped(done),
        grouped(of)
    );
    if done > 0 && milliseconds > 0 {
        let rate = u128::from(done) * 1000 / u128::from(milliseconds);
        let rate = u64::try_from(rate).unwrap_or(u64::MAX);
        let left =
            u128::from(of.saturating_sub(done)) * u128::from(milliseconds) / u128::from(done);
        let left = u64::try_from(left).unwrap_or(u64::MAX);
        let _never = write!(text, ", {} a second, {} left", grouped(rate), seconds(left));
    }
    text
}

fn seconds(milliseconds: u64) -> String {
    let seconds = milliseconds.div_ceil(1000);
    match seconds {
        0..120 => format!("{seconds} s"),
        120..7200 => format!("{} min", seconds / 60),
        _ => format!("{} h", seconds / 3600),
    }
}

/// 1,234,567.
fn grouped(count: u64) -> String {
    let digits = count.to_string();
    let mut text = String::new();
    for (at, digit) in digits.chars().enumerate() {
        if at > 0 && (digits.len() - at).is_multiple_of(3) {
            text.push(',');
        }
        text.push(digit);
    }
    text
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_line_tells_share_rate_and_what_is_left() {
        // A quarter in two seconds: six more.
        assert_eq!(
            line(1_000_000, 4_000_000, 2_000),
            "[######..................] 25 %, 1,000,000 of 4,000,000 trials, 500,000 a second, 6 s left"
        );
        assert!(line(0, 10, 0).starts_with("[........................] 0 %, 0 of 10"));
        assert!(line(u64::MAX, u64::MAX, u64::MAX).contains("100 %"));
        assert!(line(1, u64::MAX, 1).contains("0 %"));
    }

    #[test]
    fn work_without_trials_tells_its_part() {
        assert_eq!(working(1_200, (0, 0)), "working, 2 s (Ctrl-C ends it)");
        assert_eq!(
            working(1_200, (2, 3)),
            "working, 2 s, part 2 of 3 (Ctrl-C ends it)"
        );
    }

    #[test]
    fn times_and_numbers_are_short() {
        assert_eq!(seconds(1), "1 s");
        assert_eq!(seconds(119_000), "119 s");
        assert_eq!(seconds(600_000), "10 min");
        assert_eq!(seconds(7_200_000), "2 h");
        assert_eq!(grouped(999), "999");
        assert_eq!(grouped(1_234_567), "1,234,567");
    }
}
