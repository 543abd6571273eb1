//! What the centres of the scenario get wrong, so that the registry can be seen
//! to catch it. The slips have their own stream of chance and leave the course
//! of every case as it was.

use super::case::{Case, DoseEntry};
use super::chance::Chance;
use super::network::Habits;
use quietbeam_schema::ids::CentreCode;
use quietbeam_schema::vocabulary::{AgeBand, ProcedureGroup, Sex};

/// A kind of seeded fault.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, PartialOrd, Ord)]
pub enum FaultKind {
    /// A number in gray beside the unit mGy.
    GrayAsMilligray,
    /// Dose boxes left blank where the beam was never on; zero follows from that.
    BlankForZero,
    /// Fluoroscopy time without any dose.
    TimeOnly,
    /// Minutes of fluoroscopy in the box for air kerma.
    MinutesAsDose,
    /// The same procedure entered twice; the row is the second one.
    Duplicate,
    /// A full date in the comment.
    DateInComment,
    /// A case code made from a hospital number.
    HospitalNumber,
    /// A cross-over entered afterwards as intended conventional.
    BackFilledCrossover,
    /// A patient who was pregnant, the only one, who must not show in any table.
    PregnantPatient,
    /// The console's unit of kerma-area product changed within the year; the row is the first one after.
    UnitSwitch,
    /// A quarter of more than 100 cases without a failure or a complication.
    QuarterWithoutEvents,
    /// Far fewer cases sent in than were eligible.
    LowSubmission,
}

/// The rule that refuses or queries a row, or what else shows the fault.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum ShownBy {
    /// The row is refused by this rule.
    Refusal(&'static str),
    /// The row is stored and this rule raises a data query.
    Query(&'static str),
    /// The row is stored without a question: only a look across rows or at the
    /// screening log shows the fault, or there is nothing to mend.
    Comparison,
}

/// Where a fault lies.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum FaultFile {
    /// The cases file.
    Cases,
    /// The screening log.
    ScreeningLog,
}

/// One fault that the scenario put in.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct SeededFault {
    /// What is wrong.
    pub kind: FaultKind,
    /// The centre that did it.
    pub centre: CentreCode,
    /// Where.
    pub file: FaultFile,
    /// The record of the file, 1 for the first after the header; `None` for the whole file.
    pub row: Option<usize>,
    /// What shows it.
    pub shown_by: ShownBy,
}

/// Above this many cases a quarter without any event is worth a question.
const MANY_CASES: usize = 100;
/// Of the cases with the beam on, those with minutes typed as dose.
const MINUTES_AS_DOSE: f64 = 0.01;

const DATED_COMMENTS: [&str; 2] = [
    "Came back with palpitations on 14.03.2026, nothing found.",
    "Anticoagulant stopped on 2 May 2025 by the family doctor.",
];

const COMMENTS: [&str; 4] = [
    "Long sheath exchanged once for better contact.",
    "Map repeated after the patient moved.",
    "Extra lesions at the ridge, then block.",
    "Second catheter was needed to reach the target; otherwise uneventful.",
];

/// Writes the slips into the cases of one centre. Cases entered twice are added at the end.
pub(super) fn seed(chance: &mut Chance, centre: &Habits, cases: &mut Vec<Case>, twice: usize) {
    for case in cases.iter_mut() {
        case.entry.dose = dose_entry(chance, centre, case);
        case.entry.back_filled = case.course.crossed_over && chance.happens(centre.slips.back_filled);
        case.entry.comment = chance.happens(0.03).then(|| COMMENTS[chance.between(0, 3) as usize]);
    }
    alternate_gray(cases);
    seed_single(chance, centre, cases);
    for _ in 0..twice {
        let copy = pick(chance, cases, Case::is_plain).map(|at| cases[at].clone());
        cases.extend(copy.map(|mut copy| {
            copy.entry.entered_before = true;
            copy
        }));
    }
}

fn dose_entry(chance: &mut Chance, centre: &Habits, case: &Case) -> DoseEntry {
    let Some(exposure) = &case.exposure else {
        let blank = chance.happens(centre.slips.blank_for_zero);
        return if blank { DoseEntry::BlankForZero } else { DoseEntry::AsShown };
    };
    let time_only = chance.happens(centre.slips.time_only);
    // A glimpse of the beam with a cine run keeps a likely rate even when a
    // thousandth of the dose is typed, so that no rule on rates would see it.
    let lasting = exposure.air_kerma_mgy / exposure.minutes < 40.0;
    let gray = chance.happens(centre.slips.gray_as_milligray) && lasting && case.harms.events.is_empty();
    let minutes = chance.happens(MINUTES_AS_DOSE);
    // A mistyped dose against which the product looks impossible would be
    // refused; this slip is the one that only a question can find.
    let field_cm2 = exposure.kap_gy_cm2() * 1000.0 / exposure.minutes;
    let plausible = exposure.minutes > 0.5 && (5.0..1_200.0).contains(&field_cm2);
    match (time_only, gray, minutes && plausible) {
        (true, _, _) => DoseEntry::TimeOnly,
        (false, true, _) => DoseEntry::GrayAsMilligray,
        (false, false, true) => DoseEntry::MinutesAsDose,
        (false, false, false) => DoseEntry::AsShown,
    }
}

/// Every other gray typed as milligray comes without the product that gives it away.
fn alternate_gray(cases: &mut [Case]) {
    let slips = cases.iter_mut().filter(|case| case.entry.dose == DoseEntry::GrayAsMilligray);
    for case in slips.skip(1).step_by(2) {
        case.entry.dose = DoseEntry::GrayAsMilligrayAlone;
    }
}

/// The slips that occur once, each at its centre.
fn seed_single(chance: &mut Chance, centre: &Habits, cases: &mut [Case]) {
    match centre.code().to_string().as_str() {
        "S01" => {
            if let Some(at) = pick(chance, cases, may_be_pregnant) {
                cases[at].patient.pregnant = true;
            }
        }
        "S02" => date_comment(chance, cases, DATED_COMMENTS[0]),
        "S04" => hush_a_quarter(cases),
        "S06" => {
            if let Some(at) = pick(chance, cases, Case::is_plain) {
                cases[at].entry.hospital_number = true;
            }
        }
        "S07" => date_comment(chance, cases, DATED_COMMENTS[1]),
        _ => {}
    }
}

fn date_comment(chance: &mut Chance, cases: &mut [Case], comment: &'static str) {
    if let Some(at) = pick(chance, cases, Case::is_plain) {
        cases[at].entry.comment = Some(comment);
        cases[at].entry.comment_has_date = true;
    }
}

fn may_be_pregnant(case: &Case) -> bool {
    case.is_plain()
        && case.patient.sex == Sex::Female
        && matches!(case.patient.age, AgeBand::Y18To29 | AgeBand::Y30To39)
        && case.model.kind.group() == ProcedureGroup::Svt
        && !case.course.beam_on()
}

/// The first case that fits, from a place chosen by chance.
fn pick(chance: &mut Chance, cases: &[Case], fits: impl Fn(&Case) -> bool) -> Option<usize> {
    let start = chance.between(0, cases.len() as i64 - 1).max(0) as usize;
    (0..cases.len()).map(|step| (start + step) % cases.len()).find(|at| fits(&cases[*at]))
}

/// Leaves out the failures and complications of the quarter that has the fewest
/// of them, provided that nobody died in it.
fn hush_a_quarter(cases: &mut [Case]) {
    let bad = |case: &Case| usize::from(!case.course.success) + case.harms.events.len();
    let quarters = 0..super::network::QUARTERS;
    let chosen = quarters
        .filter(|quarter| {
            let of_quarter = || cases.iter().filter(|case| case.quarter == *quarter);
            of_quarter().count() > MANY_CASES && of_quarter().all(|case| case.harms.died_on_day.is_none())
        })
        .min_by_key(|quarter| cases.iter().filter(|case| case.quarter == *quarter).map(bad).sum::<usize>());
    for case in cases.iter_mut().filter(|case| Some(case.quarter) == chosen) {
        case.entry.hushed = true;
    }
}

/// The list of what was put in at one centre.
pub(super) fn manifest(centre: &Habits, cases: &[Case]) -> Vec<SeededFault> {
    let fault = |kind, file, row, shown_by| SeededFault { kind, centre: centre.code(), file, row, shown_by };
    let mut faults = Vec::new();
    for (at, case) in cases.iter().enumerate() {
        for (kind, shown_by) in of_case(case) {
            faults.push(fault(kind, FaultFile::Cases, Some(at + 1), shown_by));
        }
    }
    let after_switch = centre
        .area_unit_switch
        .and_then(|switch| cases.iter().position(|case| case.quarter >= switch && case.exposure.is_some()));
    if let Some(at) = after_switch {
        faults.push(fault(FaultKind::UnitSwitch, FaultFile::Cases, Some(at + 1), ShownBy::Comparison));
    }
    if let Some(at) = cases.iter().position(|case| case.entry.hushed) {
        faults.push(fault(
            FaultKind::QuarterWithoutEvents,
            FaultFile::Cases,
            Some(at + 1),
            ShownBy::Comparison,
        ));
    }
    if centre.slips.submitted < 0.9 {
        faults.push(fault(FaultKind::LowSubmission, FaultFile::ScreeningLog, None, ShownBy::Comparison));
    }
    faults
}

fn of_case(case: &Case) -> Vec<(FaultKind, ShownBy)> {
    use FaultKind as F;
    let entry = &case.entry;
    let mut faults = Vec::new();
    faults.extend(match entry.dose {
        DoseEntry::AsShown => None,
        DoseEntry::BlankForZero => Some((F::BlankForZero, ShownBy::Comparison)),
        DoseEntry::TimeOnly => Some((F::TimeOnly, ShownBy::Query("dose_not_recorded"))),
        DoseEntry::GrayAsMilligray => Some((F::GrayAsMilligray, ShownBy::Refusal("dose_area_impossible"))),
        DoseEntry::GrayAsMilligrayAlone => Some((F::GrayAsMilligray, ShownBy::Query("dose_rate_unusual"))),
        DoseEntry::MinutesAsDose => Some((F::MinutesAsDose, ShownBy::Query("minutes_as_dose"))),
    });
    let marks = [
        (entry.comment_has_date, F::DateInComment, ShownBy::Refusal("value")),
        (entry.hospital_number, F::HospitalNumber, ShownBy::Refusal("case_code")),
        (entry.back_filled, F::BackFilledCrossover, ShownBy::Query("strategy_declared_afterwards")),
        (entry.entered_before, F::Duplicate, ShownBy::Comparison),
        (case.patient.pregnant, F::PregnantPatient, ShownBy::Query("pregnancy_confirmed")),
    ];
    faults.extend(marks.into_iter().filter(|(there, ..)| *there).map(|(_, kind, shown_by)| (kind, shown_by)));
    faults
}
