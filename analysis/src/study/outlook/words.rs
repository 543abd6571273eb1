//! What the curves and the outlook say, in a sentence or two.

use super::accrual::{Ahead, Outlook};
use super::assumed::Assumed;
use super::curves::{Curves, Precision};
use crate::study::numerals::{count, percent};
use crate::study::plan::Alternative;

impl Assumed {
    /// What would be shown, as a part of a sentence.
    pub fn claim(self) -> String {
        let (what, verb) = self.margin.subject(self.endpoint);
        format!("{what} {verb} less than {}", self.margin.amount(self.endpoint))
    }

    /// The second truth of the curves, as a part of a sentence.
    pub fn worse_in_words(self) -> String {
        match self.worse {
            Alternative::Difference(_) => "zero-fluoroscopy is worse by a third of the margin".to_owned(),
            Alternative::Ratio(worse) => {
                let ratio = worse.proportions.first() / worse.proportions.second();
                format!("the ratio is {}, a third of the margin", factor(ratio))
            }
        }
    }

    /// What a ratio comes to and what a third of it is, where that is no matter of course.
    fn ratio_in_words(self) -> String {
        let Alternative::Ratio(alike) = self.alike else { return String::new() };
        let expected = alike.proportions.second();
        let trimmed = |share: f64| format!("{} %", (share * 1e4).round() / 1e2);
        format!(
            " by its logarithm. At the margin the expected {} with {} are {}",
            trimmed(expected),
            self.endpoint.unwanted_in_words(),
            trimmed(expected * self.margin.size())
        )
    }
}

impl Curves {
    /// What the curve of the chance says.
    pub fn power_in_words(&self, assumed: Assumed) -> String {
        let eighty = self.needed.iter().find(|one| one.chance == 0.8);
        let cases = |cases: Option<u32>| cases.map(|cases| format!("{} cases in each arm", count(cases)));
        let Some(alike) = eighty.and_then(|one| cases(one.alike)) else {
            return "No number of cases is enough for what is assumed.".to_owned();
        };
        let worse = eighty.and_then(|one| cases(one.worse)).map_or(String::new(), |worse| {
            format!(", and {worse} if {}{}", assumed.worse_in_words(), assumed.ratio_in_words())
        });
        format!(
            "To show with a chance of 80 % that {} takes {alike} if the arms are alike{worse}.",
            assumed.claim()
        )
    }
}

impl Precision {
    /// What the curve of the width says.
    pub fn in_words(&self) -> String {
        match self {
            Self::Difference(points) => few_and_many(points).map(|(few, many)| {
                format!(
                    "With {} cases in each arm the interval reaches {:.2} points to either side of the difference on average, with {} cases {:.2}: half the width takes four times the cases.",
                    count(few.each_arm),
                    100.0 * few.half_width,
                    count(many.each_arm),
                    100.0 * many.half_width
                )
            }),
            Self::Ratio(points) => few_and_many(points).map(|(few, many)| {
                let reach = few.reach.factor;
                format!(
                    "With {} cases in each arm the interval reaches a factor of {} to either side of the ratio on average, from {:.2} to {1} around 1, with {} cases {}: the square root of the factor takes four times the cases.",
                    count(few.each_arm),
                    factor(reach),
                    1.0 / reach,
                    count(many.each_arm),
                    factor(many.reach.factor)
                )
            }),
        }
        .unwrap_or_else(|| "There is no interval for what is assumed.".to_owned())
    }
}

/// A factor above 1 with as many decimals as tell it from 1: 2.39, 1.036, 1.0098.
pub fn factor(value: f64) -> String {
    let decimals = match value - 1.0 {
        beyond if beyond >= 0.1 => 2,
        beyond if beyond >= 0.01 => 3,
        _ => 4,
    };
    format!("{value:.decimals$}")
}

/// A point early on a curve, and its last.
fn few_and_many<P>(points: &[P]) -> Option<(&P, &P)> {
    points.get(points.len() / 4).zip(points.last())
}

impl Outlook {
    /// By when the network could show it.
    pub fn in_words(&self, assumed: Assumed) -> String {
        let last = self.ahead.last().map_or(String::new(), |end| end.quarter.to_string());
        let by = |quarter: Option<_>| match quarter {
            Some(quarter) => format!("by the end of {quarter}"),
            None => format!("not by the end of {last}"),
        };
        if self.pace_of == 0 {
            return "The network holds no case of a whole quarter in this scope, so it has no pace yet."
                .to_owned();
        }
        format!(
            "At today's pace the chance of showing it reaches 80 % {} with all cases, {} with those of later quarters alone, if the arms are alike. {}",
            by(self.enough),
            by(self.enough_fresh),
            self.pooled_in_words(assumed)
        )
    }

    fn pooled_in_words(&self, assumed: Assumed) -> String {
        match self.pooled {
            Some(pooled) => format!(
                "{} in both arms together: recorded in {} of the {} cases in which the outcome is known.",
                assumed.endpoint.label(),
                percent(f64::from(pooled.events) / f64::from(pooled.known), 0),
                count(pooled.known)
            ),
            None => "How frequent the event is in both arms together is not told: one arm is nearly all of the cases, so it would tell of that arm.".to_owned(),
        }
    }
}

impl Ahead {
    /// Cases of both arms by then, rounded.
    pub fn rounded(&self) -> (u32, u32) {
        (self.cases.zero_fluoroscopy.round() as u32, self.cases.conventional.round() as u32)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_factor_is_told_from_1() {
        for (value, expected) in [(2.387_8, "2.39"), (1.1, "1.10"), (1.036_4, "1.036"), (1.009_76, "1.0098")]
        {
            assert_eq!(factor(value), expected);
        }
    }
}
