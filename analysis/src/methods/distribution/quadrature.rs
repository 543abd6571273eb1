//! Integrals of functions that are never negative, to a relative error.

/// Nodes of the Kronrod rule with 15 places on [−1, 1], from the outermost to the middle, its
/// weights, and the weights of the Gauss rule with 7 places, 0 where it has none
/// (Kronrod 1965; digits recomputed to 50 places from the Legendre and Stieltjes polynomials).
const RULE: [(f64, f64, f64); 8] = [
    (0.991_455_371_120_812_6, 0.022_935_322_010_529_224, 0.0),
    (0.949_107_912_342_758_5, 0.063_092_092_629_978_56, 0.129_484_966_168_869_7),
    (0.864_864_423_359_769_1, 0.104_790_010_322_250_19, 0.0),
    (0.741_531_185_599_394_5, 0.140_653_259_715_525_92, 0.279_705_391_489_276_64),
    (0.586_087_235_467_691_1, 0.169_004_726_639_267_9, 0.0),
    (0.405_845_151_377_397_2, 0.190_350_578_064_785_42, 0.381_830_050_505_118_9),
    (0.207_784_955_007_898_48, 0.204_432_940_075_298_89, 0.0),
    (0.0, 0.209_482_141_084_727_82, 0.417_959_183_673_469_4),
];

/// Panels after which even a singular end has been halved to nothing.
const MOST_PANELS: usize = 600;

/// Relative error asked of the whole integral.
const RELATIVE_ERROR: f64 = 1e-12;

struct Panel {
    from: f64,
    to: f64,
    integral: f64,
    error: f64,
}

impl Panel {
    fn over(f: &impl Fn(f64) -> f64, from: f64, to: f64) -> Self {
        let (middle, half) = (from + (to - from) / 2.0, (to - from) / 2.0);
        let (mut kronrod, mut gauss) = (0.0, 0.0);
        for (node, long, short) in RULE {
            let value =
                if node == 0.0 { f(middle) } else { f(middle - half * node) + f(middle + half * node) };
            kronrod += long * value;
            gauss += short * value;
        }
        Self { from, to, integral: half * kronrod, error: half * (kronrod - gauss).abs() }
    }
}

/// Integral over the panels between neighbouring `breaks`, which ascend. A kink of `f`
/// belongs on a break, and a peak needs breaks within some ten of its widths, or it passes
/// between the places unseen. The panel with the largest error is halved until the sum of the
/// errors no longer matters, at most so often that it always ends.
pub(crate) fn integral(f: impl Fn(f64) -> f64, breaks: &[f64]) -> f64 {
    let mut panels: Vec<Panel> = breaks.windows(2).map(|ends| Panel::over(&f, ends[0], ends[1])).collect();
    while panels.len() < MOST_PANELS {
        let (sum, error) =
            panels.iter().fold((0.0, 0.0), |(sum, error), p| (sum + p.integral, error + p.error));
        let worst = (0..panels.len()).max_by(|&i, &j| panels[i].error.total_cmp(&panels[j].error));
        let Some(worst) = worst.filter(|_| error > RELATIVE_ERROR * sum) else { break };
        let Panel { from, to, .. } = panels[worst];
        let middle = from + (to - from) / 2.0;
        panels[worst] = Panel::over(&f, from, middle);
        panels.push(Panel::over(&f, middle, to));
    }
    super::sum_from_small(&panels.iter().map(|panel| panel.integral).collect::<Vec<_>>())
}

#[cfg(test)]
mod tests {
    use super::*;

    fn check(f: impl Fn(f64) -> f64, breaks: &[f64], expected: f64) {
        let found = integral(f, breaks);
        assert!((found - expected).abs() <= 1e-11 * expected, "{found} instead of {expected}");
    }

    #[test]
    fn smooth_peaked_singular_and_empty() {
        check(|x| x.exp(), &[0.0, 1.0], 1.0_f64.exp() - 1.0);
        check(f64::sqrt, &[0.0, 1.0], 2.0 / 3.0);
        check(
            |x| (-x * x / 2e-8).exp(),
            &[-1.0, -1e-3, 0.0, 1e-3, 1.0],
            (2e-8 * std::f64::consts::PI).sqrt(),
        );
        check(|x| 1e-200 * (-x).exp(), &[0.0, 1.0, 700.0], 1e-200);
        check(|_| 0.0, &[0.0, 1.0], 0.0);
        check(|x| if x < 0.3 { 0.0 } else { 1.0 }, &[0.0, 0.3, 1.0], 0.7);
    }
}
