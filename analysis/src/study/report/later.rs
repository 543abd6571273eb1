//! What came later, and how long it took: recurrence after blanking, and procedure time.
//! Description: no verdict.

use super::{ReportCase, Seen};
use crate::methods::follow_up::{Curve, Ended, FollowUp};
use crate::methods::interval::{self, Confidence, Interval, NotEstimable};
use crate::methods::sample::Sample;
use crate::methods::shift::hodges_lehmann_interval;
use crate::methods::survival::{kaplan_meier_log_log_interval, survival_difference_interval};
use crate::study::arm::{Arm, ByArm};
use crate::study::dose::{Quartiles, quartiles};
use crate::study::estimate::{Estimate, reason_in_words};
use crate::study::numerals;
use crate::study::plan::RecurrenceWindow;
use crate::study::population::Population;
use serde::Serialize;

/// First documented recurrence after blanking, in ablations for atrial fibrillation. The curves
/// begin when blanking ends, with the cases followed until then and without an earlier
/// recurrence: of those with one only the first day is recorded, so nobody knows the rest.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Recurrence {
    /// Days of blanking.
    pub blanking_days: u32,
    /// The last day that the plan looks at.
    pub horizon: u32,
    /// Each arm, as intended.
    pub arms: ByArm<RecurrenceCurve>,
    /// The last day that both curves reach; absent where an arm has none.
    pub until: Option<u32>,
    /// Difference of freedom from recurrence at that day (zero-fluoroscopy − conventional).
    pub difference: Estimate<Interval>,
    /// The same in words.
    pub in_words: String,
}

/// Recurrence in one arm.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct RecurrenceCurve {
    /// Ablations for atrial fibrillation.
    pub cases: u32,
    /// Of these, not followed until blanking ended.
    pub not_followed: u32,
    /// Of these, recurred within blanking.
    pub early: u32,
    /// Cases with which the curve begins.
    pub followed: u32,
    /// Of these, died without a recurrence by the last day of the plan: their follow-up ends there.
    pub died: u32,
    /// The steps; beyond the day on which fewer than a tenth are followed nothing is drawn.
    pub steps: Vec<Step>,
    /// The last day drawn; absent without cases.
    pub until: Option<u32>,
    /// Freedom from recurrence on that day, log–log limits.
    pub free_at_end: Estimate<Interval>,
    /// Cases still followed at the quarters between the end of blanking and the last day of the plan.
    pub still_followed: [StillFollowed; 5],
}

/// From this day on, this share has had a recurrence.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct Step {
    /// Days from the procedure.
    pub day: u32,
    /// Share with a recurrence.
    pub recurred: f64,
}

/// Cases still followed on a day.
#[derive(Debug, Clone, Copy, Default, PartialEq, Eq, Serialize)]
pub struct StillFollowed {
    /// Days from the procedure.
    pub day: u32,
    /// Cases.
    pub cases: u32,
}

impl Recurrence {
    pub(super) fn new(seen: &Seen<'_>) -> Self {
        let (level, window) = (seen.plan.level(), seen.plan.recurrence());
        let arms = ByArm::from_fn(|arm| Followed::of(seen, arm));
        let curves = arms.map(|followed| Curve::of(&followed.days));
        let told = ByArm::from_fn(|arm| arms.of(arm).told(curves.of(arm), level));
        let until = told.zero_fluoroscopy.until.zip(told.conventional.until).map(|(one, two)| one.min(two));
        let difference = || {
            let first = curves.zero_fluoroscopy.as_ref().map_err(|why| *why)?;
            let no_cases = NotEstimable::EmptyArm { arm: interval::Arm::Second };
            let second = curves.conventional.as_ref().map_err(|_| no_cases)?;
            survival_difference_interval(first, second, until.ok_or(no_cases)?, level)
        };
        Self {
            blanking_days: window.blanking_days(),
            horizon: window.until_day(),
            difference: difference().into(),
            in_words: in_words(&told, window),
            arms: told,
            until,
        }
    }
}

/// The follow-up of one arm.
struct Followed {
    window: RecurrenceWindow,
    cases: u32,
    not_followed: u32,
    early: u32,
    died: u32,
    days: Vec<FollowUp>,
}

impl Followed {
    fn of(seen: &Seen<'_>, arm: Arm) -> Self {
        let window = seen.plan.recurrence();
        let mut followed = Self { window, cases: 0, not_followed: 0, early: 0, died: 0, days: Vec::new() };
        let own = seen
            .kept()
            .filter(|case| case.row.procedure.is_af() && Population::AsIntended.arm(&case.row) == Some(arm));
        own.for_each(|case| followed.add(case));
        followed
    }

    fn add(&mut self, case: &ReportCase) {
        self.cases += 1;
        let blanking = self.window.blanking_days();
        let later = case.course.later;
        let known = later.last_day.max(later.death_day).map(u32::from);
        match (later.recurrence_day.map(u32::from), known) {
            (Some(day), _) if day <= blanking => self.early += 1,
            (Some(days), _) => self.days.push(FollowUp { days, ended: Ended::Event }),
            (None, Some(days)) if days > blanking => {
                let until = self.window.until_day();
                self.died += u32::from(later.death_day.is_some_and(|day| u32::from(day) <= until));
                self.days.push(FollowUp { days, ended: Ended::Censored });
            }
            (None, _) => self.not_followed += 1,
        }
    }

    /// The last day on which a tenth of the cases is followed, within the horizon.
    fn until(&self) -> Option<u32> {
        let mut days: Vec<u32> = self.days.iter().map(|case| case.days).collect();
        days.sort_unstable_by(|one, other| other.cmp(one));
        let tenth = days.len().div_ceil(10).checked_sub(1)?;
        days.get(tenth).map(|day| (*day).min(self.window.until_day()))
    }

    fn told(&self, curve: &Result<Curve, NotEstimable>, level: Confidence) -> RecurrenceCurve {
        let until = self.until();
        let steps = curve.iter().flat_map(Curve::event_days).filter(|step| Some(step.day) <= until);
        let free = || {
            let curve = curve.as_ref().map_err(|why| *why)?;
            kaplan_meier_log_log_interval(curve, until.unwrap_or(self.window.until_day()), level)
        };
        let still = |quarter: u32| {
            let (blanking, end) = (self.window.blanking_days(), self.window.until_day());
            let day = blanking + (end - blanking) * quarter / 4;
            StillFollowed { day, cases: self.days.iter().filter(|case| case.days >= day).count() as u32 }
        };
        RecurrenceCurve {
            cases: self.cases,
            not_followed: self.not_followed,
            early: self.early,
            followed: self.days.len() as u32,
            died: self.died,
            steps: steps.map(|step| Step { day: step.day, recurred: 1.0 - step.survival }).collect(),
            until,
            free_at_end: free().into(),
            still_followed: [0, 1, 2, 3, 4].map(still),
        }
    }
}

fn in_words(arms: &ByArm<RecurrenceCurve>, window: RecurrenceWindow) -> String {
    let blanking = window.blanking_days();
    let told = |arm: Arm| {
        let curve = arms.of(arm);
        let end = match (&curve.free_at_end, curve.until) {
            (Estimate::Estimated(free), Some(day)) => format!(
                "{} ({} interval {} to {}) had a recurrence by day {day}",
                numerals::percent(1.0 - free.estimate, 1),
                numerals::level(free.level.level()),
                numerals::percent(1.0 - free.upper, 1),
                numerals::percent(1.0 - free.lower, 1)
            ),
            (Estimate::CannotBeEstimated(why), _) => {
                format!("recurrence cannot be estimated, because {}", reason_in_words(*why))
            }
            (Estimate::Estimated(_), None) => "nobody was followed".to_owned(),
        };
        format!(
            "Of {} {} cases followed beyond day {blanking} {end}.",
            numerals::count(curve.followed),
            arm.name()
        )
    };
    let died = arms.map(|curve| numerals::count(curve.died));
    format!(
        "{} {} Died without one: {} and {}; follow-up ends there as elsewhere, so the curves show what would be seen if nobody died.",
        told(Arm::ZeroFluoroscopy),
        told(Arm::Conventional),
        died.zero_fluoroscopy,
        died.conventional
    )
}

/// Skin-to-skin time in minutes, as intended.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct ProcedureTime {
    /// Each arm.
    pub arms: ByArm<ArmTime>,
    /// The median of all differences between a zero-fluoroscopy and a conventional case.
    pub shift: Estimate<Interval>,
    /// The same in words.
    pub in_words: String,
}

/// Time in one arm.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct ArmTime {
    /// Cases that state it.
    pub cases: u32,
    /// Cases that do not.
    pub missing: u32,
    /// Quartiles; absent without cases.
    pub minutes: Option<Quartiles>,
}

impl ProcedureTime {
    pub(super) fn new(seen: &Seen<'_>) -> Self {
        let mut values = ByArm::<Vec<f64>>::default();
        let mut missing = ByArm::<u32>::default();
        for case in seen.kept() {
            let Some(arm) = Population::AsIntended.arm(&case.row) else { continue };
            match case.course.skin_to_skin_min {
                Some(minutes) => values.of_mut(arm).push(f64::from(minutes)),
                None => *missing.of_mut(arm) += 1,
            }
        }
        let samples = values.map(|values| Sample::new(values.clone()).ok());
        let arms = ByArm::from_fn(|arm| ArmTime {
            cases: values.of(arm).len() as u32,
            missing: *missing.of(arm),
            minutes: samples.of(arm).as_ref().and_then(quartiles),
        });
        let empty = |arm| NotEstimable::EmptyArm { arm };
        let shift = || {
            let first = samples.zero_fluoroscopy.as_ref().ok_or(empty(interval::Arm::First))?;
            let second = samples.conventional.as_ref().ok_or(empty(interval::Arm::Second))?;
            Ok(hodges_lehmann_interval(first, second, seen.plan.level()))
        };
        let median = |arm: &ArmTime| {
            arm.minutes.map_or("not stated".to_owned(), |minutes| {
                format!("{} min", numerals::measured(minutes.median))
            })
        };
        let in_words = format!(
            "The median time from first access to last sheath out was {} with zero-fluoroscopy and {} with conventional fluoroscopy intended.",
            median(&arms.zero_fluoroscopy),
            median(&arms.conventional)
        );
        Self { arms, shift: shift().into(), in_words }
    }
}
