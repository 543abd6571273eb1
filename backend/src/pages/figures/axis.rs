//! A linear axis: where a value lies.

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

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn an_axis_runs_from_end_to_end() {
        let axis = Axis { values: (0.0, 50.0), pixels: (100.0, 0.0) };
        assert_eq!((axis.at(0.0), axis.at(50.0), axis.at(25.0)), (100.0, 0.0, 50.0));
        assert_eq!(Axis { values: (3.0, 3.0), pixels: (10.0, 90.0) }.at(3.0), 10.0);
    }
}
