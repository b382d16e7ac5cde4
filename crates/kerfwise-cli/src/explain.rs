//! Terms, explained.

mod terms;

use kerfwise::plan::near;
use std::fmt::Write as _;
use terms::{TERMS, Term};

/// The explanation of a term, or the list of all.
pub(crate) fn run(words: &[String], width: usize) -> Result<String, String> {
    let word = words.join(" ");
    if word.is_empty() {
        return Ok(list(width));
    }
    let Some(term) = find(&word) else {
        return Err(unknown(&word));
    };
    let mut text = format!("{}\n\n", term.name);
    let is_of_plan = term.maker.contains("plant stands");
    let exact = format!("{} Source: {}.", term.exact, term.source);
    text.push_str(&wrapped(term.maker, width));
    text.push('\n');
    text.push_str(&wrapped(&exact, width));
    if is_of_plan {
        text.push('\n');
        let whose = "The numbers of the plant stands are those in the plan that is built in, not those of yours.";
        text.push_str(&wrapped(whose, width));
    }
    let also: Vec<&str> = term.also.to_vec();
    if !also.is_empty() {
        let _never = write!(
            text,
            "\n{}",
            wrapped(&format!("Also under: {}.", also.join(", ")), width)
        );
    }
    Ok(text)
}

/// Whether a word is explained.
pub(crate) fn knows(word: &str) -> bool {
    find(word).is_some()
}

fn find(word: &str) -> Option<&'static Term> {
    let wanted = plain(word);
    let is_it = |name: &str| plain(name) == wanted;
    // A term's own name goes before another's second one.
    let mut terms = TERMS.iter();
    terms
        .find(|term| is_it(term.name))
        .or_else(|| TERMS.iter().find(|term| term.also.iter().any(|n| is_it(n))))
}

/// Capitals, spaces and the signs between words do not count, nor the cut that a source belongs to.
fn plain(name: &str) -> String {
    let name = name.trim();
    let base = name
        .strip_suffix(".first")
        .or_else(|| name.strip_suffix(".second"))
        .unwrap_or(name);
    base.chars()
        .filter(|c| c.is_alphanumeric() || *c == '%')
        .flat_map(char::to_lowercase)
        .collect()
}

fn unknown(word: &str) -> String {
    let shown: String = word.chars().take(40).collect();
    let names = TERMS
        .iter()
        .flat_map(|term| std::iter::once(term.name).chain(term.also.iter().copied()));
    let near = near(word, names);
    let help = if near.is_empty() {
        "`kerfwise explain` lists the words".to_owned()
    } else {
        format!("did you mean {}?", near.join(" or "))
    };
    format!("\"{shown}\" is no word that is explained here; {help}")
}

fn list(width: usize) -> String {
    let mut names: Vec<&str> = TERMS.iter().map(|term| term.name).collect();
    names.sort_by_key(|name| name.to_lowercase());
    let mut text = wrapped(&format!("{}.", names.join(", ")), width);
    text.push_str("\nkerfwise explain WORD tells what one of them means; so it does for the head of a column.\n");
    text
}

/// Lines of at most so many characters.
fn wrapped(words: &str, width: usize) -> String {
    let (mut text, mut column) = (String::new(), 0);
    for word in words.split_whitespace() {
        let length = word.chars().count();
        if column > 0 && column + 1 + length > width {
            text.push('\n');
            column = 0;
        }
        if column > 0 {
            text.push(' ');
            column += 1;
        }
        text.push_str(word);
        column += length;
    }
    text.push('\n');
    text
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::run::subject;
    use kerfwise_report::{BudgetReport, Style};
    use std::path::Path;

    #[test]
    fn every_term_is_found_by_each_of_its_names_and_has_two_paragraphs_and_a_source() {
        assert!(TERMS.len() >= 50, "{}", TERMS.len());
        for term in TERMS {
            for name in std::iter::once(&term.name).chain(term.also) {
                let found = find(name).expect("it is found");
                let owns = found.name == term.name || found.name == *name;
                assert!(owns, "{name} of {} leads to {}", term.name, found.name);
            }
            let text = run(&[term.name.to_owned()], 100).expect("it is explained");
            assert!(text.matches("\n\n").count() >= 2, "{text}");
            assert!(text.lines().all(|line| line.chars().count() <= 100));
            assert!(!term.source.is_empty() && term.maker.contains(char::is_numeric));
            assert!(term.maker.ends_with('.') && term.exact.ends_with('.'));
        }
    }

    #[test]
    fn no_name_stands_for_two_terms() {
        let mut names: Vec<String> = TERMS
            .iter()
            .flat_map(|term| std::iter::once(&term.name).chain(term.also))
            .map(|name| plain(name))
            .collect();
        names.sort();
        for pair in names.windows(2) {
            assert_ne!(pair[0], pair[1]);
        }
    }

    // The heads are read out of the code that prints them, so that a new one cannot be forgotten here.
    #[test]
    fn every_head_of_a_column_is_explained() {
        let folder = Path::new(env!("CARGO_MANIFEST_DIR")).join("../kerfwise-report/src");
        let mut heads = Vec::new();
        for entry in std::fs::read_dir(folder).expect("the reports' code is there") {
            let path = entry.expect("an entry").path();
            if path.extension().is_none_or(|ending| ending != "rs") {
                continue;
            }
            let text = std::fs::read_to_string(&path).expect("it is text");
            let text = text.split("mod tests").next().unwrap_or_default();
            for (at, _) in text.match_indices("\", Align::") {
                let start = text[..at].rfind('"').expect("a quotation mark") + 1;
                heads.push(text[start..at].to_owned());
            }
        }
        heads.retain(|head| !head.is_empty());
        assert!(heads.len() > 40, "{heads:?}");
        for head in heads {
            assert!(knows(&head), "the head {head:?} is not explained");
        }
    }

    // README holds the output of the main job, and a test of its own holds that right.
    #[test]
    fn numbers_of_the_plant_stands_are_those_of_the_main_job() {
        let readme = Path::new(env!("CARGO_MANIFEST_DIR")).join("../../README.md");
        let mut job = std::fs::read_to_string(readme).expect("README is there");
        let plan = kerfwise::plan::demo().expect("the plan is sound");
        let budget = BudgetReport::new(&subject(&plan), plan.stack());
        job.push_str(&budget.to_text(&Style::default()));
        // The ways side by side, of the trials that are run where nothing is said.
        let options = crate::args::Options {
            json: false,
            unit: None,
            trials: 200_000,
            seed: 1,
            threads: None,
        };
        let (found, _) = crate::run::main_job(&plan, &options).expect("an answer");
        job.push_str(&found.chance.to_text(&Style::default()));
        let mut count = 0;
        for term in TERMS {
            for number in term.seen {
                assert!(term.maker.contains(number), "{}: {number}", term.name);
                assert!(job.contains(number), "{}: {number}", term.name);
                count += 1;
            }
        }
        assert!(count > 50, "{count}");
    }

    #[test]
    fn words_that_are_printed_are_explained_and_whose_the_numbers_are() {
        for word in [
            "thou",
            "um",
            "strangers",
            "outlier",
            "p",
            "stack",
            "beta",
            "limits_at_sd",
            "fourth moment",
            "fit wanted",
            "learn",
            "jig move",
        ] {
            assert!(knows(word), "{word}");
        }
        let text = run(&["run-out".to_owned()], 200).expect("it is explained");
        assert_eq!(
            text.contains("plan that is built in"),
            text.contains("plant stands")
        );
        assert!(
            run(&["band".to_owned()], 200).is_ok_and(|text| text.contains("plan that is built in"))
        );
        assert!(run(&["thou".to_owned()], 200).is_ok_and(|text| !text.contains("built in")));
    }

    #[test]
    fn a_slip_of_the_finger_is_understood() {
        assert!(unknown("runnout").contains("run-out"));
        assert!(unknown("kref").contains("did you mean kerf"));
        assert!(unknown("zzzzz").contains("`kerfwise explain` lists"));
        assert!(knows("Seating.first") && knows("ROOT-SUM-OF-SQUARES") && knows("u"));
    }
}
