//! Questions and answers, on a terminal or from a pipe.

use std::io::{BufRead, Read as _, Write};

/// An answer is a line of a notebook, not a book.
const LONGEST: u64 = 64 << 10;

/// Who is asked, and where the questions are written.
pub(super) struct Dialog<'a> {
    input: &'a mut dyn BufRead,
    /// The questions.
    said: &'a mut dyn Write,
    /// On a terminal a bad answer is asked for again; in a pipe it ends the matter.
    is_terminal: bool,
    /// Nothing is asked: every default is taken.
    takes_defaults: bool,
    /// Lines read, remarks among them.
    lines: usize,
    /// The answers that were taken, each below its question, as [`Dialog::kept`] gives them.
    taken: String,
    answers: usize,
}

impl<'a> Dialog<'a> {
    pub(super) fn new(
        input: &'a mut dyn BufRead,
        said: &'a mut dyn Write,
        is_terminal: bool,
        takes_defaults: bool,
    ) -> Self {
        Self {
            input,
            said,
            is_terminal,
            takes_defaults,
            lines: 0,
            taken: String::new(),
            answers: 0,
        }
    }

    /// What was answered so far, and what else was to be read, in a form that can be read again: a line that begins with #
    /// is a remark. Nothing where nothing was answered.
    pub(super) fn kept(&mut self) -> Option<String> {
        if self.answers == 0 {
            return None;
        }
        let mut rest = String::new();
        if !self.is_terminal {
            // What is no text has no answer in it.
            let _unread = (&mut *self.input).take(LONGEST).read_to_string(&mut rest);
        }
        Some(std::mem::take(&mut self.taken) + &rest)
    }

    /// A remark beside the questions.
    pub(super) fn say(&mut self, words: &str) {
        if !self.takes_defaults {
            let _unheard = writeln!(self.said, "{words}");
        }
    }

    /// One question; an empty line takes the default.
    pub(super) fn ask<T>(
        &mut self,
        question: &str,
        default: &str,
        read: impl Fn(&str) -> Result<T, String>,
    ) -> Result<T, String> {
        self.prompt(question, question, default, read)
    }

    /// Asks by a prompt that may be shorter than the question.
    fn prompt<T>(
        &mut self,
        prompt: &str,
        question: &str,
        default: &str,
        read: impl Fn(&str) -> Result<T, String>,
    ) -> Result<T, String> {
        if self.takes_defaults {
            return read(default).map_err(|message| format!("{question} {message}"));
        }
        loop {
            let _unheard = write!(self.said, "{prompt} [{default}] ");
            let _unheard = self.said.flush();
            let asked = format!("# {} [{default}]\n", question.trim());
            let Some(answer) = self.line()? else {
                self.say("");
                self.taken.push_str(&asked);
                return Err(format!(
                    "the answers end before \"{question}\": an empty line takes its default, and --yes asks nothing and \
                     takes all defaults"
                ));
            };
            let words = if answer.is_empty() { default } else { &answer };
            let found = read(words);
            match &found {
                Err(message) if self.is_terminal => {
                    self.say(&format!("  {message}"));
                    continue;
                }
                Err(message) => {
                    let told = format!("{asked}# {message}\n{answer}\n");
                    self.taken.push_str(&told);
                }
                Ok(_) => self.taken.push_str(&format!("{asked}{answer}\n")),
            }
            return found.map_err(|message| {
                let (line, question) = (self.lines, question.trim());
                format!("line {line}, answer to \"{question}\": {message}")
            });
        }
    }

    /// What is typed in one line; nothing at the end of the input.
    fn line(&mut self) -> Result<Option<String>, String> {
        loop {
            let mut line = String::new();
            let length = (&mut *self.input)
                .take(LONGEST)
                .read_line(&mut line)
                .map_err(|error| format!("cannot read the answers: {error}"))?;
            if length == 0 {
                return Ok(None);
            }
            self.lines += 1;
            let answer = line.trim().to_owned();
            if self.is_terminal {
                self.answers += 1;
                return Ok(Some(answer));
            }
            if !answer.starts_with('#') {
                self.answers += 1;
                self.say(&answer);
                return Ok(Some(answer));
            }
        }
    }

    /// One of several: by its number, its name, or the beginning of its name. Gives its place in the list.
    pub(super) fn choose(
        &mut self,
        question: &str,
        of: &[(&str, &str)],
        default: usize,
    ) -> Result<usize, String> {
        self.choose_sound(question, of, default, |_| Ok(()))
    }

    /// The same, where not each of them will do.
    pub(super) fn choose_sound(
        &mut self,
        question: &str,
        of: &[(&str, &str)],
        default: usize,
        check: impl Fn(usize) -> Result<(), String>,
    ) -> Result<usize, String> {
        let width = of.iter().map(|(name, _)| name.len()).max().unwrap_or(0);
        self.say(question);
        for (index, (name, meaning)) in of.iter().enumerate() {
            let number = index + 1;
            self.say(format!("  {number}  {name:width$}  {meaning}").trim_end());
        }
        let last = of.len();
        self.prompt("which?", question, &(default + 1).to_string(), |words| {
            let wanted = words.to_lowercase();
            let mut alike = (0..last).filter(|&index| of[index].0.starts_with(&wanted));
            let index = match (wanted.parse::<usize>(), alike.next(), alike.next()) {
                (Ok(number), ..) if (1..=last).contains(&number) => number - 1,
                (Err(_), Some(index), None) => index,
                _ => {
                    return Err(format!(
                        "type a number from 1 to {last}, or a name of the list (got \"{words}\")"
                    ));
                }
            };
            check(index).map(|()| index)
        })
    }

    pub(super) fn yes(&mut self, question: &str, default: bool) -> Result<bool, String> {
        let default = if default { "yes" } else { "no" };
        self.ask(question, default, |words| {
            match words.to_lowercase().as_str() {
                "y" | "yes" => Ok(true),
                "n" | "no" => Ok(false),
                _ => Err(format!("type yes or no (got \"{words}\")")),
            }
        })
    }

    /// A text that is not empty.
    pub(super) fn text(&mut self, question: &str, default: &str) -> Result<String, String> {
        self.ask(question, default, |words| Ok(words.to_owned()))
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn dialog<T>(
        typed: &str,
        is_terminal: bool,
        of: impl Fn(&mut Dialog<'_>) -> Result<T, String>,
    ) -> (Result<T, String>, String) {
        let (mut input, mut said) = (typed.as_bytes(), Vec::new());
        let found = of(&mut Dialog::new(&mut input, &mut said, is_terminal, false));
        (found, String::from_utf8_lossy(&said).into_owned())
    }

    #[test]
    fn an_empty_line_takes_the_default() {
        let (found, said) = dialog("\n", true, |d| d.yes("Locked?", true));
        assert_eq!(found, Ok(true));
        assert_eq!(said, "Locked? [yes] ");
    }

    #[test]
    fn answers_are_kept_in_a_form_that_is_read_again() {
        let ask = |d: &mut Dialog<'_>| {
            let title = d.text("About?", "joints")?;
            Ok((title, d.yes("Locked?", true)?))
        };
        let kept = |typed: &str, is_terminal| {
            let (mut input, mut said) = (typed.as_bytes(), Vec::new());
            let mut dialog = Dialog::new(&mut input, &mut said, is_terminal, false);
            let found: Result<_, String> = ask(&mut dialog);
            (found.is_ok(), dialog.kept())
        };
        let (is_whole, text) = kept("Stands\nperhaps\nthe rest\n", false);
        assert!(!is_whole);
        let text = text.unwrap();
        assert_eq!(
            text,
            "# About? [joints]\nStands\n# Locked? [yes]\n# type yes or no (got \"perhaps\")\nperhaps\nthe rest\n"
        );
        // Mended, it is read to the end.
        let (found, _) = dialog(&text.replace("\nperhaps", "\nno"), false, ask);
        assert_eq!(found, Ok(("Stands".to_owned(), false)));
        // On a terminal what was asked for again is not there twice.
        let (_, text) = kept("Stands\nperhaps\n", true);
        assert_eq!(
            text.unwrap(),
            "# About? [joints]\nStands\n# Locked? [yes]\n"
        );
        assert_eq!(kept("", false).1, None);
    }

    #[test]
    fn a_terminal_is_asked_again_and_a_pipe_is_not() {
        let ask = |d: &mut Dialog<'_>| d.yes("Locked?", true);
        let (found, said) = dialog("perhaps\nno\n", true, ask);
        assert_eq!(found, Ok(false));
        assert!(said.contains("type yes or no (got \"perhaps\")"), "{said}");
        let (found, _) = dialog("perhaps\nno\n", false, ask);
        assert_eq!(
            found.unwrap_err(),
            "line 1, answer to \"Locked?\": type yes or no (got \"perhaps\")"
        );
    }

    #[test]
    fn answers_that_end_early_are_told_and_not_made_up() {
        let (found, _) = dialog("", false, |d| d.text("Title?", "Stands"));
        let message = found.unwrap_err();
        assert!(
            message.starts_with("the answers end before \"Title?\""),
            "{message}"
        );
    }

    #[test]
    fn one_of_a_list_by_number_or_by_name() {
        let of = [("shifted", "moved over"), ("stacked cutter", "flat")];
        let choose = |typed: &str| dialog(typed, false, |d| d.choose("How?", &of, 0)).0;
        assert_eq!(choose("\n"), Ok(0));
        assert_eq!(choose("2\n"), Ok(1));
        assert_eq!(choose("Sta\n"), Ok(1));
        let (found, _) = dialog("3\n", false, |d| d.choose("How is it made?", &of, 0));
        assert!(
            found
                .unwrap_err()
                .starts_with("line 1, answer to \"How is it made?\": type")
        );
        for bad in ["3\n", "0\n", "s\n", "sawn\n", "-1\n"] {
            assert!(choose(bad).is_err(), "{bad}");
        }
    }
}
