//! The few different values that many cases have.

/// Each value once, from the smallest on. Made for a few values among many cases that often repeat
/// the one before.
pub(crate) fn distinct<T: Ord>(values: impl IntoIterator<Item = T>) -> Vec<T> {
    let mut found: Vec<T> = Vec::new();
    let mut last = 0;
    for value in values {
        if found.get(last) == Some(&value) {
            continue;
        }
        last = found.binary_search(&value).unwrap_or_else(|place| {
            found.insert(place, value);
            place
        });
    }
    found
}

#[cfg(test)]
mod tests {
    use super::distinct;
    use proptest::prelude::*;

    proptest! {
        #[test]
        fn each_stands_once_and_in_order(values in prop::collection::vec(0_u8..9, 0..60)) {
            let expected: Vec<u8> = (0..9).filter(|value| values.contains(value)).collect();
            prop_assert_eq!(distinct(values), expected);
        }
    }
}
