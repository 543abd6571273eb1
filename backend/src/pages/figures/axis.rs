//! A linear axis: where a value lies, and where its ticks stand.

/// A stretch of values on a stretch of pixels.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Axis {
    /// First and last value.
    pub(crate) values: (f64, f64),
    /// Where they lie.
    pub(crate) pixels: (f64, f64),
}

impl Axis {
    /// Where a value lies; an axis without length puts everything at its beginning.
    pub(crate) fn at(&self, value: f64) -> f64 {
        let (first, last) = self.values;
        let (from, to) = self.pixels;
        if last == first { from } else { from + (value - first) / (last - first) * (to - from) }
    }
}

/// Round values from 0 up to at least `highest`, a handful of them.
pub(crate) fn ticks(highest: f64) -> Vec<f64> {
    if !(highest.is_finite() && highest > 0.0) {
        return vec![0.0, 1.0];
    }
    let rough = highest / 4.0;
    let magnitude = 10_f64.powf(rough.log10().floor());
    let step = [1.0, 2.0, 5.0, 10.0]
        .into_iter()
        .map(|factor| factor * magnitude)
        .find(|step| *step >= rough * 0.999_999)
        .unwrap_or(10.0 * magnitude);
    let steps = (highest / step).ceil().max(1.0) as u32;
    (0..=steps).map(|at| f64::from(at) * step).collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn ticks_are_round_and_reach_the_highest() {
        assert_eq!(ticks(100.0), [0.0, 50.0, 100.0]);
        assert_eq!(ticks(7.0), [0.0, 2.0, 4.0, 6.0, 8.0]);
        assert_eq!(ticks(1.0), [0.0, 0.5, 1.0]);
        for odd in [0.0, -3.0, f64::NAN, f64::INFINITY] {
            assert_eq!(ticks(odd), [0.0, 1.0]);
        }
        for highest in [1e-9, 0.37, 12.0, 4_527.0, 1e12] {
            let found = ticks(highest);
            assert!(found.last().is_some_and(|last| *last >= highest), "{highest}");
            assert!((2..=7).contains(&found.len()), "{highest}: {found:?}");
        }
    }

    #[test]
    fn an_axis_runs_from_end_to_end() {
        let axis = Axis { values: (0.0, 50.0), pixels: (100.0, 0.0) };
        assert_eq!((axis.at(0.0), axis.at(50.0), axis.at(25.0)), (100.0, 0.0, 50.0));
        assert_eq!(Axis { values: (3.0, 3.0), pixels: (10.0, 90.0) }.at(3.0), 10.0);
    }
}
