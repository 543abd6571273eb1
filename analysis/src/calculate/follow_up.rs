//! Follow-up in whole days.

use super::answer::Each;
use super::calculation::{Calculation, Shape};
use super::column::Column;
use super::groups::{ByGroup, NAMED, OF_TWO, TwoGroups};
use super::input::Input;
use super::table::{Row, Table};
use super::trouble::Trouble;
use crate::methods::follow_up::{Curve, Ended, FollowUp};
use crate::methods::interval::{Arm, Confidence, NotEstimable};
use crate::methods::log_rank::{self, LogRankTest, log_rank_test};
use crate::methods::null_test::NullDifference;
use crate::methods::survival::{
    kaplan_meier_linear_interval, kaplan_meier_log_interval, kaplan_meier_log_log_interval, restricted_mean,
    restricted_mean_difference, survival_difference_interval, survival_difference_recovered_interval,
    survival_difference_test,
};
use std::collections::BTreeMap;

pub(super) fn family() -> Vec<Calculation> {
    let mut family = curves();
    family.extend(differences());
    family.extend(tests());
    family
}

fn curves() -> Vec<Calculation> {
    use Calculation as C;
    vec![
        C::new(
            "kaplan_meier_linear",
            "kaplan_meier1958",
            "Kaplan–Meier estimate of each group at a day, linear limits",
            |cases: CasesByGroup, day: Day, level: Confidence| {
                cases.each(|curve| kaplan_meier_linear_interval(curve, day.0, level))
            },
        ),
        C::new(
            "kaplan_meier_log",
            "kalbfleisch_prentice2002",
            "Kaplan–Meier estimate of each group at a day, log limits",
            |cases: CasesByGroup, day: Day, level: Confidence| {
                cases.each(|curve| kaplan_meier_log_interval(curve, day.0, level))
            },
        ),
        C::new(
            "kaplan_meier_log_log",
            "kalbfleisch_prentice2002",
            "Kaplan–Meier estimate of each group at a day, log–log limits",
            |cases: CasesByGroup, day: Day, level: Confidence| {
                cases.each(|curve| kaplan_meier_log_log_interval(curve, day.0, level))
            },
        ),
        C::new(
            "restricted_mean",
            "royston_parmar2013",
            "Mean days free of the event up to a day, of each group",
            |cases: CasesByGroup, day: Day| cases.each(|curve| restricted_mean(curve, day.0)),
        ),
    ]
}

fn differences() -> Vec<Calculation> {
    use Calculation as C;
    vec![
        C::new(
            "survival_difference",
            "klein2007",
            "Difference of Kaplan–Meier estimates at a day, linear limits",
            |cases: TwoCases, day: Day, level: Confidence| {
                let (first, second) = cases.curves()?;
                survival_difference_interval(&first, &second, day.0, level)
            },
        ),
        C::new(
            "survival_difference_recovered",
            "zou_donner2008",
            "Difference of Kaplan–Meier estimates at a day, recovered from log–log limits",
            |cases: TwoCases, day: Day, level: Confidence| {
                let (first, second) = cases.curves()?;
                survival_difference_recovered_interval(&first, &second, day.0, level)
            },
        ),
        C::new(
            "survival_difference_test",
            "klein2007",
            "Test of a difference of Kaplan–Meier estimates at a day",
            |cases: TwoCases, day: Day, null: NullDifference| {
                let (first, second) = cases.curves()?;
                survival_difference_test(&first, &second, day.0, null)
            },
        ),
        C::new(
            "restricted_mean_difference",
            "royston_parmar2013",
            "Difference of mean days free of the event up to a day",
            |cases: TwoCases, day: Day, level: Confidence| {
                let (first, second) = cases.curves()?;
                restricted_mean_difference(&first, &second, day.0, level)
            },
        ),
    ]
}

fn tests() -> Vec<Calculation> {
    use Calculation as C;
    vec![
        C::new("log_rank", "mantel1966", "Log-rank test of two groups", |cases: TwoCases| {
            log_rank_of(&[cases])
        }),
        C::new(
            "log_rank_stratified",
            "mantel1966",
            "Log-rank test of two groups over strata",
            |strata: CasesInStrata| log_rank_of(&strata.0),
        ),
    ]
}

fn log_rank_of(strata: &[TwoCases]) -> Result<LogRankTest, NotEstimable> {
    let groups: Vec<log_rank::TwoGroups<'_>> = strata
        .iter()
        .map(|cases| log_rank::TwoGroups { first: &cases.0.first, second: &cases.0.second })
        .collect();
    log_rank_test(&groups)
}

pub(super) const TIME: Column = Column::value("time", "whole days until the event or the last contact");
const ENDED: &str = "1 with the event, 0 without";
pub(super) const STATUS: Column = Column::value("status", ENDED);

pub(super) fn case(row: Row<'_>) -> Result<FollowUp, Trouble> {
    let ended = row.one_of("status", ENDED, &[("1", Ended::Event), ("0", Ended::Censored)])?;
    Ok(FollowUp { days: row.whole("time")?, ended })
}

/// The day that an estimate is about.
struct Day(u32);

impl Input for Day {
    fn columns() -> Vec<Column> {
        vec![Column::parameter("day", "the whole day that the estimate is about, such as 365")]
    }

    fn read(table: &Table) -> Result<Self, Trouble> {
        table.parameter("day")?.whole("day").map(Self)
    }
}

/// Follow-up of two groups.
struct TwoCases(TwoGroups<FollowUp>);

impl TwoCases {
    fn curves(&self) -> Result<(Curve, Curve), NotEstimable> {
        let empty = |arm| move |_| NotEstimable::EmptyArm { arm };
        let first = Curve::of(&self.0.first).map_err(empty(Arm::First))?;
        Ok((first, Curve::of(&self.0.second).map_err(empty(Arm::Second))?))
    }
}

impl Input for TwoCases {
    const SHAPE: Shape = Shape::Set;

    fn columns() -> Vec<Column> {
        vec![OF_TWO, TIME, STATUS]
    }

    fn read(table: &Table) -> Result<Self, Trouble> {
        TwoGroups::read(table, case).map(Self)
    }
}

/// Follow-up of two groups in each stratum.
struct CasesInStrata(Vec<TwoCases>);

impl Input for CasesInStrata {
    const SHAPE: Shape = Shape::Set;

    fn columns() -> Vec<Column> {
        vec![Column::value("stratum", "the name of the stratum"), OF_TWO, TIME, STATUS]
    }

    fn read(table: &Table) -> Result<Self, Trouble> {
        let named =
            |row: Row<'_>| Ok((row.filled("stratum", "the name of the stratum")?.to_owned(), case(row)?));
        let all = TwoGroups::read(table, named)?;
        let mut strata: BTreeMap<String, TwoGroups<FollowUp>> = BTreeMap::new();
        let mut of = |stratum, case, first: bool| {
            let empty = || TwoGroups { first: Vec::new(), second: Vec::new() };
            let groups = strata.entry(stratum).or_insert_with(empty);
            if first { groups.first.push(case) } else { groups.second.push(case) }
        };
        all.first.into_iter().for_each(|(stratum, case)| of(stratum, case, true));
        all.second.into_iter().for_each(|(stratum, case)| of(stratum, case, false));
        Ok(Self(strata.into_values().map(TwoCases).collect()))
    }
}

/// Follow-up of each group.
struct CasesByGroup(ByGroup<FollowUp>);

impl Input for CasesByGroup {
    const SHAPE: Shape = Shape::Set;

    fn columns() -> Vec<Column> {
        vec![NAMED, TIME, STATUS]
    }

    fn read(table: &Table) -> Result<Self, Trouble> {
        ByGroup::read(table, case).map(Self)
    }
}

impl CasesByGroup {
    fn each<T>(self, answer: impl Fn(&Curve) -> Result<T, NotEstimable>) -> Each<Result<T, NotEstimable>> {
        let one =
            |(group, cases): (String, Vec<FollowUp>)| (group, Curve::of(&cases).and_then(|c| answer(&c)));
        Each::of(self.0.0.into_iter().map(one))
    }
}
