//! Finding a calculation by its name.

use super::calculation::Calculation;
use super::catalogue;

/// A name that no calculation has.
#[derive(Clone, Debug, PartialEq, Eq, thiserror::Error)]
#[error("there is no such calculation; did you mean {nearest}?")]
pub struct UnknownMethod {
    /// The name that looks most like it.
    pub nearest: &'static str,
}

/// The calculation of this name; hyphens count as underscores.
///
/// # Errors
/// No calculation has the name.
pub fn find(name: &str) -> Result<&'static Calculation, UnknownMethod> {
    let wanted = name.trim().to_ascii_lowercase().replace('-', "_");
    let found = catalogue().iter().find(|calculation| calculation.name() == wanted);
    found.ok_or_else(|| {
        // Whoever types anything may type a great deal.
        let wanted: String = wanted.chars().take(60).collect();
        let names = catalogue().iter().map(Calculation::name);
        UnknownMethod { nearest: names.min_by_key(|name| distance(&wanted, name)).unwrap_or_default() }
    })
}

/// Letters to insert, delete or replace to turn one word into the other.
fn distance(one: &str, other: &str) -> usize {
    let other: Vec<char> = other.chars().collect();
    let mut row: Vec<usize> = (0..=other.len()).collect();
    for (above, letter) in one.chars().enumerate() {
        let mut corner = row[0];
        row[0] = above + 1;
        for (place, known) in other.iter().enumerate() {
            let replaced = corner + usize::from(letter != *known);
            corner = row[place + 1];
            row[place + 1] = replaced.min(corner + 1).min(row[place] + 1);
        }
    }
    row.last().copied().unwrap_or_default()
}

#[cfg(test)]
mod tests {
    #![allow(clippy::unwrap_used)]
    use super::*;

    #[test]
    fn the_nearest_name_is_offered() {
        let nearest = |name| find(name).err().map(|unknown| unknown.nearest);
        assert_eq!(nearest("wilsen"), Some("wilson"));
        assert_eq!(nearest("clopper_person"), Some("clopper_pearson"));
        assert_eq!(nearest("miettinen_nurminen_diference"), Some("miettinen_nurminen_difference"));
        assert_eq!(find(" Clopper-Pearson ").map(Calculation::name).ok(), Some("clopper_pearson"));
        assert!(find(&"x".repeat(100_000)).is_err());
    }

    #[test]
    fn distances() {
        for (one, other, expected) in [("", "abc", 3), ("kitten", "sitting", 3), ("same", "same", 0)] {
            assert_eq!(distance(one, other), expected);
            assert_eq!(distance(other, one), expected);
        }
    }
}
