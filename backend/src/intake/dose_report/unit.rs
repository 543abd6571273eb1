//! Units of a report, in the case-sensitive notation of UCUM.

use super::concept::Measured;

/// A factor to the unit that is kept (mGy, Gy·cm², s, 1) as two whole numbers,
/// so that a decimal figure stays exact.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) struct Factor {
    times: f64,
    per: f64,
}

impl Factor {
    pub(super) fn apply(self, value: f64) -> f64 {
        value * self.times / self.per
    }

    fn ten_to(power: i32) -> Self {
        if power < 0 {
            Self { times: 1.0, per: 10f64.powi(-power) }
        } else {
            Self { times: 10f64.powi(power), per: 1.0 }
        }
    }
}

/// The factor of a unit, if it is one of the wanted dimension and has one reading.
pub(super) fn factor(unit: &str, measured: Measured) -> Option<Factor> {
    match measured {
        // 1 Gy = 10³ mGy.
        Measured::Kerma => power_of("Gy", unit).map(|power| Factor::ten_to(power + 3)),
        Measured::KermaArea => {
            let (left, right) = unit.split_once('.')?;
            let pair = |kerma, area| Some((power_of("Gy", kerma)?, power_of("m", without_square(area)?)?));
            let (kerma, length) = pair(left, right).or_else(|| pair(right, left))?;
            // 1 Gy·m² = 10⁴ Gy·cm²; a prefix of a length is squared with it.
            Some(Factor::ten_to(kerma + 2 * length + 4))
        }
        Measured::Time => match unit {
            "min" => Some(Factor { times: 60.0, per: 1.0 }),
            "h" => Some(Factor { times: 3600.0, per: 1.0 }),
            _ => power_of("s", unit).map(Factor::ten_to),
        },
        // Curly brackets are annotations without meaning: {frames}.
        Measured::Count => {
            let annotated = unit.starts_with('{') && unit.ends_with('}') && unit.len() > 2;
            (unit == "1" || annotated).then_some(Factor::ten_to(0))
        }
    }
}

fn without_square(area: &str) -> Option<&str> {
    area.strip_suffix('2')
}

/// Power of ten of a prefixed unit.
fn power_of(base: &str, unit: &str) -> Option<i32> {
    Some(match unit.strip_suffix(base)? {
        "" => 0,
        "k" => 3,
        "h" => 2,
        "da" => 1,
        "d" => -1,
        "c" => -2,
        "m" => -3,
        "u" => -6,
        "n" => -9,
        _ => return None,
    })
}

#[cfg(test)]
mod tests {
    #![allow(clippy::unwrap_used)]
    use super::*;

    /// UCUM (version 2.1): units Gy, m, s, min, h; metric prefixes; `.` multiplies, a number
    /// after a unit is its power and takes the prefix with it.
    #[test]
    fn units_of_ucum_become_the_units_kept() {
        for (unit, measured, value, expected) in [
            ("Gy", Measured::Kerma, 0.0234, 23.4),
            ("mGy", Measured::Kerma, 23.4, 23.4),
            ("uGy", Measured::Kerma, 23_400.0, 23.4),
            ("cGy", Measured::Kerma, 2.34, 23.4),
            ("Gy.m2", Measured::KermaArea, 0.000_636_7, 6.367),
            ("uGy.m2", Measured::KermaArea, 636.7, 6.367),
            ("mGy.cm2", Measured::KermaArea, 6367.0, 6.367),
            ("dGy.cm2", Measured::KermaArea, 63.67, 6.367),
            ("cm2.Gy", Measured::KermaArea, 6.367, 6.367),
            ("Gy.dm2", Measured::KermaArea, 0.063_67, 6.367),
            ("s", Measured::Time, 90.0, 90.0),
            ("ms", Measured::Time, 90_000.0, 90.0),
            ("min", Measured::Time, 1.5, 90.0),
            ("1", Measured::Count, 31.0, 31.0),
            ("{frames}", Measured::Count, 31.0, 31.0),
        ] {
            let found = factor(unit, measured).unwrap().apply(value);
            assert!((found - expected).abs() <= 1e-12 * expected, "{value} {unit}: {found}, not {expected}");
        }
    }

    #[test]
    fn other_dimensions_and_ambiguous_units_are_no_units() {
        for (unit, measured) in [
            ("", Measured::Kerma),
            ("GY", Measured::Kerma),
            ("gy", Measured::Kerma),
            ("rad", Measured::Kerma),
            ("Sv", Measured::Kerma),
            ("Gy.m2", Measured::Kerma),
            ("min", Measured::Kerma),
            ("MGy", Measured::Kerma),
            ("Gy", Measured::KermaArea),
            ("Gy/m2", Measured::KermaArea),
            ("Gy.m", Measured::KermaArea),
            ("Gym2", Measured::KermaArea),
            ("Gy.cm2.s", Measured::KermaArea),
            ("m2.m2", Measured::KermaArea),
            ("Gy", Measured::Time),
            ("sec", Measured::Time),
            ("s", Measured::Count),
            ("{}", Measured::Count),
        ] {
            assert_eq!(factor(unit, measured), None, "{unit:?} was taken as {measured:?}");
        }
    }
}
