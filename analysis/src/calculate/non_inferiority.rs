//! Non-inferiority: the interval decides, the p value of the same method stands beside it.

use super::arms::Strata;
use super::calculation::Calculation;
use super::cells::{Cells, number};
use super::column::Output;
use super::line::Cell;
use crate::methods::counts::TwoArms;
use crate::methods::difference::{newcombe_interval, wald_difference_interval};
use crate::methods::interval::{Confidence, Interval, NotEstimable, RatioInterval};
use crate::methods::non_inferiority::{Conclusion, Margin, decide};
use crate::methods::null_test::{NullDifference, NullRatio, OneSidedTest};
use crate::methods::ratio::{
    farrington_manning_ratio_test, katz_interval, koopman_interval, miettinen_nurminen_ratio_interval,
    miettinen_nurminen_ratio_test, wald_log_ratio_test,
};
use crate::methods::ratio_margin::{RatioMargin, decide_ratio};
use crate::methods::score::{
    farrington_manning_test, mee_interval, miettinen_nurminen_interval, miettinen_nurminen_test,
    wald_difference_test,
};
use crate::methods::stratified_score::{
    stratified_miettinen_nurminen_interval, stratified_miettinen_nurminen_test,
};

pub(super) fn family() -> Vec<Calculation> {
    let mut family = differences();
    family.extend(ratios());
    family
}

fn differences() -> Vec<Calculation> {
    use Calculation as C;
    vec![
        C::new(
            "newcombe_non_inferiority",
            "newcombe1998b",
            "Non-inferiority by the Newcombe interval of a difference",
            |arms: TwoArms, margin: Margin, level: Confidence| {
                Decided::difference(Ok(newcombe_interval(arms, level)), margin, None)
            },
        ),
        C::new(
            "miettinen_nurminen_non_inferiority",
            "miettinen_nurminen1985",
            "Non-inferiority by the Miettinen–Nurminen interval of a difference",
            |arms: TwoArms, margin: Margin, level: Confidence| {
                let test = miettinen_nurminen_test(arms, margin.null_difference());
                Decided::difference(Ok(miettinen_nurminen_interval(arms, level)), margin, Some(test))
            },
        ),
        C::new(
            "mee_non_inferiority",
            "mee1984",
            "Non-inferiority by the Mee interval of a difference, p of Farrington and Manning",
            |arms: TwoArms, margin: Margin, level: Confidence| {
                let test = farrington_manning_test(arms, margin.null_difference());
                Decided::difference(Ok(mee_interval(arms, level)), margin, Some(test))
            },
        ),
        C::new(
            "wald_non_inferiority",
            "blackwelder1982",
            "Non-inferiority by the Wald interval of a difference, for comparison with publications",
            |arms: TwoArms, margin: Margin, level: Confidence| {
                let test = wald_difference_test(arms, margin.null_difference()).ok();
                Decided::difference(Ok(wald_difference_interval(arms, level)), margin, test)
            },
        ),
        C::new(
            "stratified_miettinen_nurminen_non_inferiority",
            "miettinen_nurminen1985",
            "Non-inferiority by the Miettinen–Nurminen interval of a difference over strata",
            |strata: Strata, margin: Margin, level: Confidence| {
                let interval = stratified_miettinen_nurminen_interval(&strata.counts, level);
                let test = stratified_miettinen_nurminen_test(&strata.counts, margin.null_difference()).ok();
                Decided::difference(interval.map(|result| result.interval), margin, test)
            },
        ),
    ]
}

fn ratios() -> Vec<Calculation> {
    use Calculation as C;
    vec![
        C::new(
            "koopman_non_inferiority",
            "koopman1984",
            "Non-inferiority by the Koopman interval of a ratio, p of Farrington and Manning",
            |arms: TwoArms, margin: RatioMargin, level: Confidence| {
                let test = farrington_manning_ratio_test(arms, margin.null_ratio());
                Decided::ratio(Ok(koopman_interval(arms, level)), margin, Some(test))
            },
        ),
        C::new(
            "miettinen_nurminen_ratio_non_inferiority",
            "miettinen_nurminen1985",
            "Non-inferiority by the Miettinen–Nurminen interval of a ratio",
            |arms: TwoArms, margin: RatioMargin, level: Confidence| {
                let test = miettinen_nurminen_ratio_test(arms, margin.null_ratio());
                Decided::ratio(Ok(miettinen_nurminen_ratio_interval(arms, level)), margin, Some(test))
            },
        ),
        C::new(
            "katz_non_inferiority",
            "katz1978",
            "Non-inferiority by the Katz interval of a ratio",
            |arms: TwoArms, margin: RatioMargin, level: Confidence| {
                let test = wald_log_ratio_test(arms, margin.null_ratio()).ok();
                Decided::ratio(katz_interval(arms, level), margin, test)
            },
        ),
    ]
}

/// An interval, the one-sided p value and what the interval decides.
struct Decided<I> {
    interval: I,
    p: Option<f64>,
    conclusion: Conclusion,
}

impl Decided<Interval> {
    fn difference(
        interval: Result<Interval, NotEstimable>,
        margin: Margin,
        test: Option<OneSidedTest<NullDifference>>,
    ) -> Result<Self, NotEstimable> {
        let conclusion = decide(&interval, margin);
        let p = test.and_then(|test| margin.one_sided_p(&test));
        Ok(Self { interval: interval?, p, conclusion })
    }
}

impl Decided<RatioInterval> {
    fn ratio(
        interval: Result<RatioInterval, NotEstimable>,
        margin: RatioMargin,
        test: Option<OneSidedTest<NullRatio>>,
    ) -> Result<Self, NotEstimable> {
        let conclusion = decide_ratio(&interval, margin);
        let p = test.and_then(|test| margin.one_sided_p(&test));
        Ok(Self { interval: interval?, p, conclusion })
    }
}

impl<I: Cells> Cells for Decided<I> {
    const COLUMNS: &'static [Output] = &[
        Output::new("estimate", "point estimate"),
        Output::new("lower", "lower confidence limit"),
        Output::new("upper", "upper confidence limit; Inf without bound"),
        Output::new("p", "one-sided p at the margin; blank where the method has none"),
        Output::new("conclusion", "shown, not_shown or worse_beyond_margin, by the interval alone"),
    ];

    fn cells(&self) -> Vec<Cell> {
        let mut cells = self.interval.cells();
        cells.push(self.p.map_or(Cell::Blank, number));
        cells.extend(self.conclusion.cells());
        cells
    }

    fn remark(&self) -> Option<&'static str> {
        self.interval.remark()
    }
}
