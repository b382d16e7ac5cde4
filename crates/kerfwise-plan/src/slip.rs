//! Slips of the pen among readings: a decimal point that moved, a minus sign, another unit.

/// Beyond this many times the others, or below this part of them, no reading of the same thing lies.
const FAR: f64 = 3.0;
/// At least half of the readings lie this close to their median, or they say nothing about one another.
const ALIKE: f64 = 0.1;
/// How near a factor has to be to the one that it is called by.
const ABOUT: f64 = 0.15;

/// What a factor is called: of the decimal point, of thou and inches, of millimetres and inches.
const CALLED: [(f64, &str); 8] = [
    (10.0, "ten times the others"),
    (100.0, "a hundred times the others"),
    (1000.0, "a thousand times the others"),
    (25.4, "25.4 times the others, as millimetres among inches"),
    (0.1, "a tenth of the others"),
    (0.01, "a hundredth of the others"),
    (0.001, "a thousandth of the others"),
    (
        1.0 / 25.4,
        "the others over 25.4, as inches among millimetres",
    ),
];

/// Each slip in words.
pub(crate) fn slips(raw: &[f64]) -> Vec<String> {
    let (middle, count) = (median(raw), raw.len());
    let off: Vec<f64> = raw.iter().map(|x| (x - middle).abs()).collect();
    // Of two readings nobody knows which one slipped.
    if count < 3 || middle.abs() <= 0.0 || median(&off) > ALIKE * middle.abs() {
        return Vec::new();
    }
    let factors = raw.iter().map(|x| x / middle).enumerate();
    factors
        .filter(|(_, factor)| *factor >= FAR || *factor <= 1.0 / FAR)
        .map(|(index, factor)| {
            let (number, words) = (index + 1, called(factor));
            format!("reading {number} of {count} is {words}")
        })
        .collect()
}

fn called(factor: f64) -> String {
    let is_about = |wanted: f64| (factor / wanted - 1.0).abs() <= ABOUT;
    let mut known = CALLED.iter();
    if let Some((_, words)) = known.find(|(wanted, _)| is_about(*wanted)) {
        return (*words).to_owned();
    }
    if factor <= 0.0 {
        return "not of the sign of the others".to_owned();
    }
    format!("{factor:.2} times the others")
}

/// The lower one of the two in the middle where there are two; 0 of none.
fn median(values: &[f64]) -> f64 {
    let mut sorted = values.to_vec();
    sorted.sort_by(f64::total_cmp);
    let middle = values.len().saturating_sub(1) / 2;
    sorted.get(middle).copied().unwrap_or_default()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_slip_is_named_with_its_factor() {
        for (raw, expected) in [
            (
                vec![0.3760, 0.3755, 3.765, 0.3758],
                "reading 3 of 4 is ten times the others",
            ),
            (
                vec![0.126, 0.0126, 0.1255],
                "reading 2 of 3 is a tenth of the others",
            ),
            (
                vec![0.125, 3.18, 0.126],
                "reading 2 of 3 is 25.4 times the others, as millimetres among inches",
            ),
            (
                vec![376.0, 0.376, 0.3755],
                "reading 1 of 3 is a thousand times the others",
            ),
            (
                vec![0.126, -0.126, 0.1255],
                "reading 2 of 3 is not of the sign of the others",
            ),
            (
                vec![0.126, 0.52, 0.126],
                "reading 2 of 3 is 4.13 times the others",
            ),
        ] {
            assert_eq!(slips(&raw), [expected], "{raw:?}");
        }
    }

    #[test]
    fn two_slips_are_both_named() {
        let raw = [0.3760, 3.76, 0.3755, 0.0376, 0.3758];
        assert_eq!(slips(&raw).len(), 2);
    }

    #[test]
    fn readings_that_differ_by_nature_are_left_in_peace() {
        // Small errors about nought, a wide spread, a single doubled reading among few.
        for raw in [
            vec![0.0001, -0.0003, 0.0002, 0.0012],
            vec![0.001, 0.002, 0.005, 0.009],
            vec![0.3760, 3.76],
            vec![0.0, 0.0, 1.0],
            vec![],
        ] {
            assert!(slips(&raw).is_empty(), "{raw:?}");
        }
    }
}
