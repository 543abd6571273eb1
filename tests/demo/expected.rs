//! What the scenario's own parameters promise, worked out a second time and
//! apart from the generator: the parameters are restated here, complexity is
//! integrated over instead of drawn.

/// One type of procedure: share, success, major, drained, image fluid, median
/// minutes of fluoroscopy, sd of their log, cross-over, recurrence.
pub(crate) struct Kind {
    pub(crate) code: &'static str,
    pub(crate) share: f64,
    pub(crate) success: f64,
    pub(crate) major: f64,
    pub(crate) drained: f64,
    pub(crate) image: f64,
    pub(crate) minutes: f64,
    pub(crate) log_sd: f64,
    pub(crate) recurrence: f64,
    /// Share at the centre for children.
    pub(crate) children: f64,
}

#[rustfmt::skip]
pub(crate) const KINDS: [Kind; 11] = [
    Kind { code: "avnrt", share: 0.16, success: 0.985, major: 0.004, drained: 0.0005, image: 0.02, minutes: 6.0, log_sd: 0.6, recurrence: 0.03, children: 0.38 },
    Kind { code: "avrt_ap", share: 0.09, success: 0.95, major: 0.008, drained: 0.002, image: 0.03, minutes: 10.0, log_sd: 0.7, recurrence: 0.06, children: 0.47 },
    Kind { code: "cti_afl", share: 0.14, success: 0.975, major: 0.005, drained: 0.001, image: 0.02, minutes: 7.0, log_sd: 0.6, recurrence: 0.06, children: 0.03 },
    Kind { code: "af_parox_first", share: 0.22, success: 0.99, major: 0.016, drained: 0.006, image: 0.20, minutes: 10.0, log_sd: 0.6, recurrence: 0.22, children: 0.0 },
    Kind { code: "af_redo", share: 0.07, success: 0.98, major: 0.016, drained: 0.006, image: 0.18, minutes: 10.0, log_sd: 0.6, recurrence: 0.30, children: 0.0 },
    Kind { code: "af_pers_first", share: 0.14, success: 0.975, major: 0.022, drained: 0.008, image: 0.30, minutes: 13.0, log_sd: 0.6, recurrence: 0.35, children: 0.0 },
    Kind { code: "focal_at", share: 0.04, success: 0.88, major: 0.010, drained: 0.003, image: 0.06, minutes: 10.0, log_sd: 0.7, recurrence: 0.10, children: 0.07 },
    Kind { code: "pvc", share: 0.07, success: 0.86, major: 0.012, drained: 0.005, image: 0.08, minutes: 8.0, log_sd: 0.8, recurrence: 0.15, children: 0.05 },
    Kind { code: "vt_endo", share: 0.04, success: 0.82, major: 0.040, drained: 0.012, image: 0.12, minutes: 15.0, log_sd: 0.8, recurrence: 0.30, children: 0.0 },
    Kind { code: "vt_epi", share: 0.01, success: 0.75, major: 0.080, drained: 0.030, image: 0.60, minutes: 25.0, log_sd: 0.7, recurrence: 0.35, children: 0.0 },
    Kind { code: "avn", share: 0.02, success: 0.99, major: 0.006, drained: 0.0005, image: 0.01, minutes: 3.0, log_sd: 0.6, recurrence: 0.0, children: 0.0 },
];

/// One centre: cases of 4,300, zero-fluoroscopy intended in the first and the
/// last quarter, echo by strategy, room rate, shifts of success and of major
/// harm, routine echo afterwards, lost at 30 days.
pub(crate) struct Centre {
    pub(crate) code: &'static str,
    pub(crate) cases: f64,
    zero: (f64, f64),
    echo: (f64, f64),
    pub(crate) rate: f64,
    success: f64,
    major: f64,
    routine: bool,
    pub(crate) lost: f64,
}

#[rustfmt::skip]
pub(crate) const CENTRES: [Centre; 7] = [
    Centre { code: "S01", cases: 1100.0, zero: (0.85, 0.92), echo: (0.98, 0.60), rate: 0.6, success: 0.10, major: -0.10, routine: true, lost: 0.03 },
    Centre { code: "S02", cases: 700.0, zero: (0.25, 0.65), echo: (0.90, 0.25), rate: 1.5, success: 0.0, major: 0.0, routine: false, lost: 0.03 },
    Centre { code: "S03", cases: 600.0, zero: (0.05, 0.15), echo: (0.80, 0.10), rate: 3.0, success: -0.05, major: 0.05, routine: false, lost: 0.03 },
    Centre { code: "S04", cases: 900.0, zero: (0.40, 0.60), echo: (0.97, 0.70), rate: 2.0, success: -0.05, major: 0.20, routine: true, lost: 0.03 },
    Centre { code: "S05", cases: 260.0, zero: (0.70, 0.80), echo: (0.15, 0.05), rate: 0.5, success: 0.05, major: -0.20, routine: false, lost: 0.03 },
    Centre { code: "S06", cases: 420.0, zero: (0.10, 0.55), echo: (0.75, 0.15), rate: 2.5, success: -0.20, major: 0.15, routine: false, lost: 0.03 },
    Centre { code: "S07", cases: 320.0, zero: (0.30, 0.50), echo: (0.90, 0.20), rate: 4.0, success: -0.10, major: 0.10, routine: false, lost: 0.12 },
];

impl Centre {
    /// The share of a type of procedure here.
    pub(crate) fn share_of(&self, kind: &Kind) -> f64 {
        let tripled = |kind: &Kind| if kind.code.starts_with("vt_") { 3.0 } else { 1.0 } * kind.share;
        match self.code {
            "S05" => kind.children,
            "S04" => tripled(kind) / KINDS.iter().map(tripled).sum::<f64>(),
            _ => kind.share,
        }
    }

    /// The share of patients with congenital heart disease.
    fn congenital(&self) -> f64 {
        if self.code == "S05" { 0.08 } else { 0.01 }
    }

    /// How often fluid that only an image shows is found.
    fn found(&self, zero: bool) -> f64 {
        let echo = if zero { self.echo.0 } else { self.echo.1 };
        0.85 * echo + (1.0 - echo) * if self.routine { 0.70 } else { 0.04 }
    }
}

fn expit(x: f64) -> f64 {
    1.0 / (1.0 + (-x).exp())
}

fn logit(p: f64) -> f64 {
    (p / (1.0 - p)).ln()
}

/// What one arm of a network of 4,300 cases should hold. Zero-fluoroscopy
/// success is given at the two ends of learning, and it lies between them.
#[derive(Default, Clone, Copy)]
pub(crate) struct Arm {
    pub(crate) cases: f64,
    pub(crate) successes_after_learning: f64,
    pub(crate) successes_before_learning: f64,
    pub(crate) majors: f64,
    pub(crate) drained: f64,
    pub(crate) image_found: f64,
    pub(crate) echo: f64,
}

/// Both arms: zero-fluoroscopy first.
pub(crate) fn arms() -> [Arm; 2] {
    let mut arms = [Arm::default(); 2];
    for centre in &CENTRES {
        for kind in &KINDS {
            for quarter in 0..8 {
                let share = centre.zero.0 + (centre.zero.1 - centre.zero.0) * f64::from(quarter) / 7.0;
                for (congenital, how_many) in [(1.2, centre.congenital()), (0.0, 1.0 - centre.congenital())] {
                    add(&mut arms, centre, kind, (share, congenital, how_many * centre.cases / 8.0));
                }
            }
        }
    }
    arms
}

/// Adds the cases of one cell, integrating over complexity by the midpoint rule.
fn add(arms: &mut [Arm; 2], centre: &Centre, kind: &Kind, (share, congenital, cases): (f64, f64, f64)) {
    const STEPS: i32 = 240;
    const WIDTH: f64 = 12.0 / STEPS as f64;
    for step in 0..STEPS {
        let c = -6.0 + (f64::from(step) + 0.5) * WIDTH;
        let density = (-c * c / 2.0).exp() / (2.0 * std::f64::consts::PI).sqrt() * WIDTH;
        let zero = if kind.code == "vt_epi" { 0.0 } else { expit(logit(share) - 0.4 * c - congenital) };
        for (arm, intended, strategy) in [(0, zero, true), (1, 1.0 - zero, false)] {
            let here = cases * centre.share_of(kind) * density * intended;
            let success = |learning: f64| {
                let penalty = if strategy { 0.05 + 0.4 * learning } else { 0.0 };
                expit(logit(kind.success) + centre.success - 0.35 * c - penalty)
            };
            let odds = if strategy { 0.95_f64.ln() } else { 0.0 };
            let harm = |base: f64| expit(logit(base) + centre.major + 0.30 * c + odds);
            let arm = &mut arms[arm];
            arm.cases += here;
            arm.successes_after_learning += here * success(0.0);
            arm.successes_before_learning += here * success(1.0);
            arm.majors += here * harm(kind.major);
            arm.drained += here * harm(kind.drained);
            arm.image_found += here * kind.image * (1.0 - harm(kind.drained)) * centre.found(strategy);
            arm.echo += here * if strategy { centre.echo.0 } else { centre.echo.1 };
        }
    }
}
