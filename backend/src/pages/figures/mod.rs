//! Figures as SVG, drawn by ourselves. Each says in words what it shows, so that nothing can
//! be seen that cannot be read.

mod axis;
mod course;
mod denominator_bar;
mod parts_bar;
mod strand;

pub(crate) use axis::Axis;
pub(crate) use course::Course;
pub(crate) use denominator_bar::DenominatorBar;
pub(crate) use parts_bar::PartsBar;
pub(crate) use strand::{Place, Strand, Stretch};

/// A coordinate with at most two decimals.
pub(crate) fn number(value: f64) -> String {
    let text = format!("{value:.2}");
    let text = text.trim_end_matches('0').trim_end_matches('.');
    if text == "-0" { "0".to_owned() } else { text.to_owned() }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn coordinates_are_short() {
        for (value, expected) in [(0.0, "0"), (-0.001, "0"), (12.5, "12.5"), (2.71499, "2.71"), (-7.0, "-7")]
        {
            assert_eq!(number(value), expected);
        }
    }
}
