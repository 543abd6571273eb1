//! Proportions near 0 and 1 without loss, and roots in them.

use super::root::{Point, root_between};

/// A proportion kept together with its complement, so that neither loses digits near 1.
#[derive(Clone, Copy)]
pub(crate) struct Share {
    pub(crate) x: f64,
    pub(crate) complement: f64,
}

impl Share {
    pub(crate) fn from_logit(t: f64) -> Self {
        Self { x: 1.0 / (1.0 + (-t).exp()), complement: 1.0 / (1.0 + t.exp()) }
    }

    pub(super) fn flipped(self) -> Self {
        Self { x: self.complement, complement: self.x }
    }

    /// x / (1 − x).
    pub(crate) fn odds(self) -> f64 {
        self.x / self.complement
    }
}

/// The proportion at which a rising function is 0.
pub(crate) fn rising_root_on_logits(centre: f64, stride: f64, f: impl Fn(Share) -> f64) -> Share {
    Share::from_logit(rising_root(centre, stride, |t| f(Share::from_logit(t))))
}

/// Beyond this no double has an exponential.
const EDGE: f64 = 745.0;

/// Root of a rising function of a logarithm, sought from `centre` with growing strides.
pub(crate) fn rising_root(centre: f64, stride: f64, f: impl Fn(f64) -> f64) -> f64 {
    let start = centre.clamp(-EDGE, EDGE);
    let here = Point { x: start, f: f(start) };
    if here.f == 0.0 {
        return start;
    }
    let direction = if here.f > 0.0 { -1.0 } else { 1.0 };
    let mut near = here;
    let mut reach = stride.clamp(1e-9, 1.0);
    loop {
        let x = (start + direction * reach).clamp(-EDGE, EDGE);
        let far = Point { x, f: f(x) };
        if far.f == 0.0 || far.f.signum() != here.f.signum() {
            return root_between(f, near, far);
        }
        if x.abs() >= EDGE {
            return x;
        }
        near = far;
        reach *= 2.0;
    }
}
