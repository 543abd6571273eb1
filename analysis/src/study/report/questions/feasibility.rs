//! Can it be done: how often zero-fluoroscopy was tried, and how often it was carried through.
//! Of every ablation in the cut, also of those that the plan leaves out.

use super::super::prose::cases;
use super::super::treated::{BANDS, band_label};
use super::super::{ReportCase, Seen};
use crate::methods::interval::Confidence;
use crate::study::numerals;
use crate::study::population::is_ablation;
use crate::study::share::Share;
use quietbeam_schema::period::Quarter;
use quietbeam_schema::vocabulary::{
    Coded, CongenitalDisease, OperatorExperience, ProcedureGroup, ProcedureType, Strategy,
};
use serde::Serialize;
use std::collections::BTreeMap;

/// How often zero-fluoroscopy was intended and carried through.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Feasibility {
    /// Every ablation.
    pub all: Tried,
    /// By procedure group.
    pub by_group: Vec<Tried>,
    /// The usual exceptions.
    pub exceptions: Vec<Tried>,
    /// By quarter.
    pub by_quarter: Vec<Tried>,
    /// By the operator's earlier zero-fluoroscopy cases; only cases intended so have a place.
    pub by_earlier_cases: Vec<Tried>,
    /// By the operator's years of practice.
    pub by_experience: Vec<Tried>,
    /// The same in words.
    pub in_words: String,
}

/// One group of ablations.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Tried {
    /// Which.
    pub label: String,
    /// Intended without X-ray, of all.
    pub intended: Share,
    /// The beam never on, of those intended so.
    pub completed: Share,
    /// X-ray only for a suspected complication, of those intended so: an outcome of the case and no
    /// failure of guidance.
    pub for_a_complication: u32,
    /// The beam never on, of all.
    pub without_x_ray: Share,
}

/// Counts of one group.
#[derive(Debug, Clone, Copy, Default)]
struct Count {
    all: u32,
    intended: u32,
    completed: u32,
    for_a_complication: u32,
    dark: u32,
}

impl Count {
    fn add(&mut self, case: &ReportCase) {
        let dark = !case.row.beam_on();
        self.all += 1;
        self.dark += u32::from(dark);
        if case.row.intended == Strategy::Zero {
            self.intended += 1;
            self.completed += u32::from(dark);
            self.for_a_complication += u32::from(!dark && case.for_a_complication());
        }
    }

    fn told(self, label: String, level: Confidence) -> Tried {
        Tried {
            label,
            intended: Share::new(self.intended, self.all, level),
            completed: Share::new(self.completed, self.intended, level),
            for_a_complication: self.for_a_complication,
            without_x_ray: Share::new(self.dark, self.all, level),
        }
    }
}

/// Every count in one pass.
#[derive(Default)]
struct Counts {
    all: Count,
    by_group: BTreeMap<ProcedureGroup, Count>,
    exceptions: [Count; EXCEPTIONS.len()],
    by_quarter: BTreeMap<Quarter, Count>,
    by_earlier_cases: [Count; BANDS.len()],
    by_experience: BTreeMap<OperatorExperience, Count>,
}

/// A kind of case with the test that finds it.
type Exception = (&'static str, fn(&ReportCase) -> bool);

/// What is usually excepted from work without X-ray (common practice, no source).
const EXCEPTIONS: [Exception; 4] = [
    ("Epicardial access", |case| case.row.procedure == ProcedureType::VtEpicardial),
    ("Congenital heart disease", |case| {
        case.row.before.congenital.is_some_and(|found| found != CongenitalDisease::None)
    }),
    ("Implanted device", |case| case.course.device == Some(true)),
    ("Younger than 18", |case| case.row.paediatric()),
];

impl Feasibility {
    pub(in super::super) fn new(seen: &Seen<'_>) -> Self {
        let mut counts = Counts::default();
        let ablations = seen.all.iter().zip(&seen.ordinals).filter(|(case, _)| is_ablation(&case.row));
        ablations.for_each(|(case, ordinal)| counts.add(case, *ordinal));
        counts.told(seen.plan.level())
    }
}

impl Counts {
    fn add(&mut self, case: &ReportCase, ordinal: Option<u32>) {
        self.all.add(case);
        self.by_group.entry(case.row.procedure.group()).or_default().add(case);
        self.by_quarter.entry(case.row.period).or_default().add(case);
        if let Some(band) = case.course.experience {
            self.by_experience.entry(band).or_default().add(case);
        }
        if let Some(ordinal) = ordinal {
            self.by_earlier_cases[BANDS.partition_point(|first| *first <= ordinal) - 1].add(case);
        }
        for (count, (_, excepted)) in self.exceptions.iter_mut().zip(EXCEPTIONS) {
            if excepted(case) {
                count.add(case);
            }
        }
    }

    fn told(self, level: Confidence) -> Feasibility {
        let all = self.all.told("All ablations".to_owned(), level);
        let exceptions = self.exceptions.iter().zip(EXCEPTIONS);
        let bands = self.by_earlier_cases.iter().enumerate();
        Feasibility {
            in_words: in_words(&all),
            all,
            by_group: named(self.by_group, |group| group.label().to_owned(), level),
            exceptions: exceptions.map(|(count, (label, _))| count.told(label.to_owned(), level)).collect(),
            by_quarter: named(self.by_quarter, Quarter::to_string, level),
            by_earlier_cases: bands.map(|(band, count)| count.told(band_label(band), level)).collect(),
            by_experience: named(self.by_experience, |band| band.label().to_owned(), level),
        }
    }
}

fn named<K>(counts: BTreeMap<K, Count>, name: impl Fn(&K) -> String, level: Confidence) -> Vec<Tried> {
    counts.into_iter().map(|(key, count)| count.told(name(&key), level)).collect()
}

fn in_words(all: &Tried) -> String {
    if all.intended.count == 0 {
        return format!("Of {} none was intended without X-ray.", cases(all.intended.of));
    }
    format!(
        "{} of the cases intended without X-ray were carried through without it. Of all ablations {} had none.",
        numerals::share(all.completed.count, all.completed.of, 1),
        numerals::share(all.without_x_ray.count, all.without_x_ray.of, 1)
    )
}
