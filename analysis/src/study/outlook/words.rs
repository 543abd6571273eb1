//! What the curves and the outlook say, in a sentence or two.

use super::accrual::{Ahead, Outlook};
use super::assumed::Assumed;
use super::curves::Curves;
use crate::study::decision::points;
use crate::study::numerals::{count, percent};

impl Curves {
    /// What the curve of the chance says.
    pub fn power_in_words(&self, assumed: Assumed) -> String {
        let what = assumed.endpoint().label().to_lowercase();
        let eighty = self.needed.iter().find(|one| one.chance == 0.8);
        let cases = |cases: Option<u32>| cases.map(|cases| format!("{} cases in each arm", count(cases)));
        match eighty.map(|one| (cases(one.alike), cases(one.worse))) {
            Some((Some(alike), Some(worse))) => format!(
                "To show with a chance of 80 % that {what} is less than {} worse takes {alike} if the arms are alike, and {worse} if zero-fluoroscopy is truly worse by a third of that.",
                points(assumed.margin_size())
            ),
            Some((Some(alike), None)) => format!(
                "To show with a chance of 80 % that {what} is less than {} worse takes {alike} if the arms are alike.",
                points(assumed.margin_size())
            ),
            _ => "No number of cases is enough for what is assumed.".to_owned(),
        }
    }

    /// What the curve of the width says.
    pub fn precision_in_words(&self) -> String {
        let at = |place: usize| self.precision.get(place);
        match (at(self.precision.len() / 4), self.precision.last()) {
            (Some(few), Some(many)) => format!(
                "With {} cases in each arm the interval reaches {:.2} points to either side of the difference on average, with {} cases {:.2}: half the width takes four times the cases.",
                count(few.each_arm),
                100.0 * few.half_width,
                count(many.each_arm),
                100.0 * many.half_width
            ),
            _ => "There is no interval for what is assumed.".to_owned(),
        }
    }
}

impl Outlook {
    /// By when the network could show it.
    pub fn in_words(&self) -> String {
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
            self.pooled_in_words()
        )
    }

    fn pooled_in_words(&self) -> String {
        match self.pooled {
            Some(pooled) => format!(
                "In both arms together the event was recorded in {} of the {} cases in which the outcome is known.",
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
