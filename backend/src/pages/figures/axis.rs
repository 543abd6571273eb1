//! Axes, linear and logarithmic: where a value lies.

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

/// An axis on which every tenfold step is as long as the next. What lies beyond its ends is
/// drawn at the end.
#[derive(Debug, Clone, Copy)]
pub(crate) struct LogAxis {
    /// First and last value, above 0.
    pub(crate) values: (f64, f64),
    /// Where they lie.
    pub(crate) pixels: (f64, f64),
}

impl LogAxis {
    /// Where a value lies.
    pub(crate) fn at(&self, value: f64) -> f64 {
        let (first, last) = self.values;
        let linear = Axis { values: (first.log10(), last.log10()), pixels: self.pixels };
        linear.at(value.clamp(first, last).log10())
    }

    /// The powers of ten on it.
    pub(crate) fn decades(&self) -> Vec<f64> {
        let power = |value: f64| (value.log10() + 1e-9).floor() as i32;
        let (first, last) = (power(self.values.0 * 0.999_999_99).max(-300), power(self.values.1));
        (first..=last).map(|power| 10_f64.powi(power)).filter(|at| *at >= self.values.0 * 0.999_999).collect()
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

    #[test]
    fn tenfold_steps_are_alike_and_nothing_leaves_the_axis() {
        let axis = LogAxis { values: (0.1, 1_000.0), pixels: (0.0, 400.0) };
        assert_eq!([0.1, 1.0, 10.0, 1_000.0].map(|value| axis.at(value).round()), [0.0, 100.0, 200.0, 400.0]);
        assert_eq!((axis.at(0.0), axis.at(1e9)), (0.0, 400.0));
        assert_eq!(axis.decades(), [0.1, 1.0, 10.0, 100.0, 1_000.0]);
    }
}
