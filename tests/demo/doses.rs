//! Beam time, air kerma and field, read back from the files as a physicist would.

use crate::expected::{CENTRES, KINDS};
use crate::reading::{codes, forms, today};
use quietbeam::demo::{Drawn, FaultKind, Scenario};
use quietbeam_schema::case::{Beam, CaseRecord};
use quietbeam_schema::vocabulary::Coded;
use std::collections::BTreeSet;
use std::sync::LazyLock;

/// One case with the beam on, as the registry understood it.
struct Used {
    centre: &'static str,
    quarter: usize,
    drawn: Drawn,
    minutes: f64,
    air_kerma_mgy: f64,
    kap_gy_cm2: f64,
    bmi: f64,
    no_cine: bool,
}

/// The cases with a dose that was typed as the console showed it.
static USED: LazyLock<Vec<Used>> = LazyLock::new(|| {
    let mut used = Vec::new();
    for (centre, stated) in Scenario::generate(4, 8_600).centres.iter().zip(&CENTRES) {
        let mistyped = [FaultKind::GrayAsMilligray, FaultKind::MinutesAsDose, FaultKind::TimeOnly];
        let faults = centre.faults();
        let spoiled: BTreeSet<usize> = faults
            .iter()
            .filter(|fault| mistyped.contains(&fault.kind))
            .filter_map(|fault| fault.row)
            .collect();
        for ((row, form), drawn) in (1..).zip(forms(centre)).zip(centre.drawn()) {
            if let (false, Ok(checked)) = (spoiled.contains(&row), form.check(today())) {
                used.extend(read(stated.code, &checked.record, drawn));
            }
        }
    }
    used
});

fn read(centre: &'static str, case: &CaseRecord, drawn: Drawn) -> Option<Used> {
    let Beam::On(exposure) = case.beam() else { return None };
    Some(Used {
        centre,
        quarter: drawn.quarter,
        drawn,
        minutes: *case.fluoro_time_s().value()? / 60.0,
        air_kerma_mgy: *case.air_kerma_mgy().value()?,
        kap_gy_cm2: *case.kap_gy_cm2().value()?,
        bmi: case.patient().bmi.value()?.get(),
        no_cine: exposure.cine_runs.is(|runs| runs.get() == 0),
    })
}

/// Asserts that log-normal values have the stated median, which is their
/// geometric mean, within four standard errors, sd/√n on the log scale, and
/// half a per cent for what typing three digits or whole seconds rounds off.
#[track_caller]
fn assert_median(what: &str, values: Vec<f64>, stated: f64, log_sd: f64) {
    let count = values.len();
    assert!(count >= 30, "{what}: only {count} values");
    let mean = (values.iter().map(|value| value.ln()).sum::<f64>() / count as f64).exp();
    let band = 4.0 * log_sd / (count as f64).sqrt() + 0.005;
    assert!((mean / stated).ln().abs() < band, "{what}: geometric mean {mean} of {count}, {stated} stated");
}

#[test]
fn beam_time_has_the_stated_median_by_type_and_for_cross_overs() {
    let minutes =
        |of: &dyn Fn(&Used) -> bool| USED.iter().filter(|used| of(used)).map(|used| used.minutes).collect();
    for kind in &KINDS {
        let planned = |used: &Used| !used.drawn.crossed_over && used.drawn.kind.code() == kind.code;
        assert_median(kind.code, minutes(&planned), kind.minutes, kind.log_sd);
    }
    assert_median("cross-over", minutes(&|used| used.drawn.crossed_over), 1.2, 1.0);
}

#[test]
fn the_rate_of_a_room_shows_through_every_unit() {
    for centre in &CENTRES {
        // Without cine, air kerma over time is the rate of the room but for the
        // patient's size, 0.07 a unit of body mass index, and a log sd of 0.35.
        let rates = USED
            .iter()
            .filter(|used| used.centre == centre.code && used.no_cine)
            .map(|used| used.air_kerma_mgy / used.minutes / (0.07 * (used.bmi - 28.0)).exp());
        assert_median(centre.code, rates.collect(), centre.rate, 0.35);
    }
}

#[test]
fn the_field_is_90_square_centimetres_at_every_console_before_and_after_the_switch() {
    for centre in &CENTRES {
        for early in [true, false] {
            let fields = USED
                .iter()
                .filter(|used| used.centre == centre.code && (used.quarter < 4) == early)
                .map(|used| used.kap_gy_cm2 / (used.air_kerma_mgy / 1000.0));
            assert_median(centre.code, fields.collect(), 90.0, 0.35);
        }
    }
}

#[test]
fn the_unit_that_one_centre_types_changes_within_the_year() {
    let network = Scenario::generate(4, 4_300);
    let bellwater = &network.centres[1];
    let switch = bellwater.faults().into_iter().find(|fault| fault.kind == FaultKind::UnitSwitch).unwrap();
    let mut units = BTreeSet::new();
    let once = bellwater.case_rows() - 1;
    for (row, form) in (1..=once).zip(forms(bellwater)) {
        if form.case.given("kap").is_some_and(|kap| kap != "0" && kap != "nr") {
            units.insert((row >= switch.row.unwrap(), form.case.given("kap_unit").unwrap().to_owned()));
        }
    }
    assert_eq!(units, BTreeSet::from([(false, "cGycm2".to_owned()), (true, "Gy.cm2".to_owned())]));
    assert_eq!(codes(bellwater).len(), 700);
}

/// Dose is small but not gone where zero-fluoroscopy crossed over.
#[test]
fn a_cross_over_costs_a_small_part_of_a_conventional_dose() {
    let median = |crossed: bool| {
        let mut doses: Vec<f64> = USED
            .iter()
            .filter(|used| used.drawn.crossed_over == crossed)
            .map(|used| used.air_kerma_mgy)
            .collect();
        doses.sort_by(f64::total_cmp);
        doses[doses.len() / 2]
    };
    println!("air kerma, median: cross-over {:.2} mGy, conventional {:.1} mGy", median(true), median(false));
    // 1.2 min against 6 to 15 min at like rates, and cine on top of the latter.
    assert!(median(true) * 5.0 < median(false));
}
