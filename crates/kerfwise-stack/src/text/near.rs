//! Names that a slip of the finger may have been meant for.

/// The known name nearest to a mistyped one: one slip away for short names, two for longer ones. Of several equally
/// near ones, the first.
pub(crate) fn nearest<'a>(name: &str, known: impl Iterator<Item = &'a str>) -> Option<&'a str> {
    // A name this long is no slip; the bound also keeps the work small.
    const LONGEST: usize = 64;
    let name: Vec<char> = name.chars().take(LONGEST + 1).collect();
    if name.len() > LONGEST {
        return None;
    }
    let most = if name.len() < 5 { 1 } else { 2 };
    known
        .map(|known| (distance(&name, known, most), known))
        .filter(|(distance, known)| *distance <= most && *distance < known.len())
        .min_by_key(|(distance, _)| *distance)
        .map(|(_, known)| known)
}

/// Characters added, left out, replaced or swapped with their neighbour (counted without regard to capitals).
fn distance(a: &[char], b: &str, most: usize) -> usize {
    let b: Vec<char> = b.chars().take(a.len() + most + 1).collect();
    if a.len().abs_diff(b.len()) > most {
        return usize::MAX;
    }
    let is_same = |x: char, y: char| x.eq_ignore_ascii_case(&y);
    let mut before_last = vec![0; b.len() + 1];
    let mut last: Vec<usize> = (0..=b.len()).collect();
    for i in 1..=a.len() {
        let mut row = vec![i; b.len() + 1];
        for j in 1..=b.len() {
            let change = usize::from(!is_same(a[i - 1], b[j - 1]));
            row[j] = (last[j] + 1).min(row[j - 1] + 1).min(last[j - 1] + change);
            let is_swap =
                i > 1 && j > 1 && is_same(a[i - 1], b[j - 2]) && is_same(a[i - 2], b[j - 1]);
            if is_swap {
                row[j] = row[j].min(before_last[j - 2] + 1);
            }
        }
        before_last = std::mem::replace(&mut last, row);
    }
    last[b.len()]
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn finds_slips_of_the_finger() {
        let known = ["kerf", "travel", "tenon.thickness", "seat"];
        let near = |name| nearest(name, known.iter().copied());
        assert_eq!(near("kerff"), Some("kerf"));
        assert_eq!(near("Kerf"), Some("kerf"));
        assert_eq!(near("kref"), Some("kerf"));
        assert_eq!(near("tenon.thicknes"), Some("tenon.thickness"));
        assert_eq!(near("tennon.thicknes"), Some("tenon.thickness"));
        assert_eq!(near("mortise"), None);
        assert_eq!(near(&"x".repeat(100_000)), None);
    }
}
