//! The least whole number that will do.

/// The least number above `too_few` for which `is_enough`, which must hold for `enough` and, once it holds, go on to.
pub(crate) fn least(mut too_few: u64, mut enough: u64, is_enough: impl Fn(u64) -> bool) -> u64 {
    while enough.saturating_sub(too_few) > 1 {
        let middle = too_few + (enough - too_few) / 2;
        if is_enough(middle) {
            enough = middle;
        } else {
            too_few = middle;
        }
    }
    enough
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_least_of_those_that_do() {
        assert_eq!(least(0, 1000, |n| n * n >= 50), 8);
        assert_eq!(least(7, 8, |_| true), 8);
    }
}
