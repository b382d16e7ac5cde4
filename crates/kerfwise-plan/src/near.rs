//! "Did you mean ...?"

/// At most three of the known names that look like this one, the nearest first: for "did you mean ...?".
///
/// Capitals, spaces and the signs between words do not count. `seating.first` looks like `seating`.
///
/// ```
/// use kerfwise_plan::near;
///
/// assert_eq!(near("run out", ["kerf", "run-out", "range"]), ["run-out"]);
/// assert_eq!(near("kref", ["kerf", "run-out"]), ["kerf"]);
/// assert!(near("zigzag", ["kerf", "run-out"]).is_empty());
/// ```
pub fn near<'a>(name: &str, known: impl IntoIterator<Item = &'a str>) -> Vec<&'a str> {
    const LONGEST: usize = 64;
    let wanted = plain(name);
    if wanted.len() > LONGEST {
        return Vec::new();
    }
    let allowed = (wanted.len() / 3).clamp(1, 3);
    let mut found: Vec<(usize, &str)> = known
        .into_iter()
        .map(|candidate| (candidate, plain(candidate)))
        .filter(|(_, letters)| letters.len() <= LONGEST)
        .map(|(candidate, letters)| {
            let is_part = candidate
                .strip_prefix(name)
                .is_some_and(|rest| rest.starts_with('.'));
            let distance = if is_part { 1 } else { slips(&wanted, &letters) };
            (distance, candidate)
        })
        .filter(|(distance, _)| *distance <= allowed)
        .collect();
    found.sort();
    found.truncate(3);
    found.into_iter().map(|(_, candidate)| candidate).collect()
}

/// `did you mean "a" or "b"?`, or what there is to choose from when nothing is near.
pub(crate) fn suggestion<'a>(
    name: &str,
    known: impl IntoIterator<Item = &'a str> + Clone,
    otherwise: &str,
) -> String {
    const MOST: usize = 40;
    let found = near(name, known.clone());
    if !found.is_empty() {
        return format!("did you mean {}?", quoted(found, " or "));
    }
    let mut names: Vec<&str> = known.into_iter().collect();
    if names.is_empty() {
        return format!("{otherwise} none");
    }
    let more = names.len().saturating_sub(MOST);
    names.truncate(MOST);
    let list = quoted(names, ", ");
    if more > 0 {
        format!("{otherwise} {list} and {more} more")
    } else {
        format!("{otherwise} {list}")
    }
}

/// `"a", "b"`.
pub(crate) fn quoted<'a>(names: impl IntoIterator<Item = &'a str>, between: &str) -> String {
    let names: Vec<String> = names.into_iter().map(|name| format!("{name:?}")).collect();
    names.join(between)
}

/// Capitals, spaces and the signs between words do not count.
fn plain(name: &str) -> Vec<char> {
    name.chars()
        .filter(|c| !matches!(c, ' ' | '-' | '_'))
        .map(|c| c.to_ascii_lowercase())
        .collect()
}

/// How many letters must be added, left out, replaced or swapped with their neighbour.
fn slips(a: &[char], b: &[char]) -> usize {
    // Three rows of the usual table: the swap looks two rows back.
    let mut before = vec![0; b.len() + 1];
    let mut last: Vec<usize> = (0..=b.len()).collect();
    for (i, x) in a.iter().enumerate() {
        let mut row = vec![i + 1; b.len() + 1];
        for (j, y) in b.iter().enumerate() {
            let replaced = last[j] + usize::from(x != y);
            row[j + 1] = replaced.min(last[j + 1] + 1).min(row[j] + 1);
            if i > 0 && j > 0 && *x == b[j - 1] && a[i - 1] == *y {
                row[j + 1] = row[j + 1].min(before[j - 1] + 1);
            }
        }
        before = std::mem::replace(&mut last, row);
    }
    last[b.len()]
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn counts_slips_of_the_finger() {
        let count = |a: &str, b: &str| slips(&plain(a), &plain(b));
        assert_eq!(count("kerf", "kerf"), 0);
        assert_eq!(count("kref", "kerf"), 1);
        assert_eq!(count("seatting", "seating"), 1);
        assert_eq!(count("caliper", "calliper"), 1);
        assert_eq!(count("mortise", "mortice"), 1);
        assert_eq!(count("", "abc"), 3);
        assert_eq!(count("Jig-Move", "jig move"), 0);
    }

    #[test]
    fn names_the_near_or_all() {
        let known = ["normal", "rectangular", "triangular"];
        assert_eq!(
            suggestion("triangula", known, "known are"),
            "did you mean \"triangular\"?"
        );
        assert_eq!(near("triangle", known), Vec::<&str>::new());
        assert_eq!(
            suggestion("gauss", known, "known are"),
            "known are \"normal\", \"rectangular\", \"triangular\""
        );
        assert_eq!(suggestion("x", [], "there are"), "there are none");
        assert_eq!(near(&"x".repeat(100_000), known), Vec::<&str>::new());
    }
}
