//! What several claims, missing outcomes and an unrecorded cause can do to a decision.

use super::answer::{Each, Key};
use super::calculation::{Calculation, Shape};
use super::cells::{Cells, Estimate, number};
use super::column::{Column, Output};
use super::input::Input;
use super::line::Cell;
use super::named::named;
use super::table::Table;
use super::trouble::{Shown, Trouble, Wrong};
use crate::methods::e_value::{EValue, RatioLimits, e_value_of_common_odds_ratio, e_value_of_risk_ratio};
use crate::methods::interval::{Confidence, Ratio};
use crate::methods::missing_outcomes::{
    DecisionRule, PartlySeen, PartlySeenArms, Scenario, ShownWith, best_case, tipping_border, worst_case,
};
use crate::methods::multiplicity::{fixed_sequence_adjusted, holm_adjusted};
use crate::methods::non_inferiority::Margin;
use crate::methods::sample::Probability;

pub(super) fn family() -> Vec<Calculation> {
    let mut family = claims();
    family.extend(missing());
    family.extend(unrecorded());
    family
}

fn claims() -> Vec<Calculation> {
    use Calculation as C;
    vec![
        C::new("holm", "holm1979", "Holm's adjusted p of each claim of a set", |claims: Claims| {
            claims.adjusted(holm_adjusted)
        }),
        C::new(
            "fixed_sequence",
            "maurer1995",
            "Adjusted p of claims tested in the order of their rows",
            |claims: Claims| claims.adjusted(fixed_sequence_adjusted),
        ),
    ]
}

fn missing() -> Vec<Calculation> {
    use Calculation as C;
    vec![
        C::new(
            "worst_case",
            "hollis2002, horowitz_manski2000",
            "Non-inferiority if every missing outcome spoke against it",
            |arms: PartlySeenArms, rule: Rule| worst_case(arms, rule.0),
        ),
        C::new(
            "best_case",
            "hollis2002, horowitz_manski2000",
            "Non-inferiority if every missing outcome spoke for it",
            |arms: PartlySeenArms, rule: Rule| best_case(arms, rule.0),
        ),
        C::new(
            "tipping_border",
            "yan_lee_li2009",
            "With how many missing events non-inferiority is shown",
            |arms: Listed, rule: Rule| border(arms.0, rule.0),
        ),
    ]
}

fn unrecorded() -> Vec<Calculation> {
    use Calculation as C;
    vec![
        C::new(
            "e_value_of_risk_ratio",
            "vanderweele_ding2017",
            "E-value of a risk ratio, or of an odds or hazard ratio of a rare outcome",
            e_value_of_risk_ratio,
        ),
        C::new(
            "e_value_of_common_odds_ratio",
            "vanderweele_ding2017",
            "E-value of an odds ratio of a common outcome",
            e_value_of_common_odds_ratio,
        ),
    ]
}

/// The p values of the claims of one set, in their order.
struct Claims(Vec<(String, Probability)>);

struct Claim;

impl Key for Claim {
    const COLUMN: Output = Output::new("claim", "the claim that the row is about");
}

impl Input for Claims {
    const SHAPE: Shape = Shape::Set;

    fn columns() -> Vec<Column> {
        vec![
            Column::value("claim", "the name of the claim, once in a set").optional(),
            Column::value("p", "its p value"),
        ]
    }

    fn read(table: &Table) -> Result<Self, Trouble> {
        named(table, "claim", |row| row.checked("p", Probability::new)).map(Self)
    }
}

impl Claims {
    fn adjusted(self, method: fn(&[Probability]) -> Vec<f64>) -> Each<Adjusted, Claim> {
        let (names, p): (Vec<String>, Vec<Probability>) = self.0.into_iter().unzip();
        Each::of(names.into_iter().zip(method(&p).into_iter().map(Adjusted)))
    }
}

struct Adjusted(f64);

impl Cells for Adjusted {
    const COLUMNS: &'static [Output] = &[Output::new("adjusted_p", "p for the claim among all of its set")];

    fn cells(&self) -> Vec<Cell> {
        Estimate(self.0).cells()
    }
}

impl Input for PartlySeenArms {
    fn columns() -> Vec<Column> {
        vec![
            Column::value("x1", "events of the first arm among known outcomes"),
            Column::value("seen1", "cases of the first arm whose outcome is known"),
            Column::value("missing1", "cases of the first arm whose outcome is missing"),
            Column::value("x2", "events of the second arm among known outcomes"),
            Column::value("seen2", "cases of the second arm whose outcome is known"),
            Column::value("missing2", "cases of the second arm whose outcome is missing"),
        ]
    }

    fn read(table: &Table) -> Result<Self, Trouble> {
        let row = table.first();
        let arm = |events: &str, seen: &str, missing: &str| {
            let arm = PartlySeen::new(row.whole(events)?, row.whole(seen)?, row.whole(missing)?);
            arm.map_err(|error| row.trouble(events, error.into()))
        };
        Ok(Self { first: arm("x1", "seen1", "missing1")?, second: arm("x2", "seen2", "missing2")? })
    }
}

/// Arms whose missing outcomes are few enough to be listed one by one.
struct Listed(PartlySeenArms);

impl Input for Listed {
    fn columns() -> Vec<Column> {
        PartlySeenArms::columns()
    }

    fn read(table: &Table) -> Result<Self, Trouble> {
        const MOST: u32 = 10_000;
        let (arms, row) = (PartlySeenArms::read(table)?, table.first());
        for (arm, column) in [(arms.first, "missing1"), (arms.second, "missing2")] {
            if arm.missing() > MOST {
                return Err(row.trouble(column, Wrong::TooMany(Shown::of(row.text(column)), MOST)));
            }
        }
        Ok(Self(arms))
    }
}

/// How non-inferiority is decided.
struct Rule(DecisionRule);

type Named = fn(Confidence, Margin) -> DecisionRule;

const RULE: &str = "miettinen_nurminen, mee or newcombe: the interval that decides";

impl Input for Rule {
    fn columns() -> Vec<Column> {
        let rule = vec![Column::parameter("rule", RULE)];
        [rule, Margin::columns(), Confidence::columns()].concat()
    }

    fn read(table: &Table) -> Result<Self, Trouble> {
        let words: [(&str, Named); 3] = [
            ("miettinen_nurminen", DecisionRule::miettinen_nurminen),
            ("mee", DecisionRule::mee),
            ("newcombe", DecisionRule::newcombe),
        ];
        let rule = table.parameter("rule")?.one_of("rule", RULE, &words)?;
        Ok(Self(rule(Confidence::read(table)?, Margin::read(table)?)))
    }
}

impl Cells for Scenario {
    const COLUMNS: &'static [Output] = &[
        Output::new("missing_events1", "missing outcomes of the first arm taken as events"),
        Output::new("missing_events2", "missing outcomes of the second arm taken as events"),
        Output::new("estimate", "difference of all cases"),
        Output::new("lower", "lower confidence limit"),
        Output::new("upper", "upper confidence limit"),
        Output::new("conclusion", "shown, not_shown or worse_beyond_margin"),
    ];

    fn cells(&self) -> Vec<Cell> {
        let mut cells = [self.missing_events_first, self.missing_events_second]
            .map(|events| number(f64::from(events)))
            .to_vec();
        cells.extend(self.interval.cells());
        cells.extend(self.conclusion.cells());
        cells
    }
}

struct MissingEvents;

impl Key for MissingEvents {
    const COLUMN: Output =
        Output::new("missing_events1", "missing outcomes of the first arm taken as events");
}

/// With how many missing events of the second arm non-inferiority is shown.
struct Border(ShownWith);

impl Cells for Border {
    const COLUMNS: &'static [Output] = &[
        Output::new("shown", "never, always, at_least or at_most"),
        Output::new("missing_events2", "so many missing outcomes of the second arm as events"),
    ];

    fn cells(&self) -> Vec<Cell> {
        let (word, events) = match self.0 {
            ShownWith::Never => ("never", None),
            ShownWith::Always => ("always", None),
            ShownWith::AtLeast(events) => ("at_least", Some(events)),
            ShownWith::AtMost(events) => ("at_most", Some(events)),
        };
        let events = events.map_or(Cell::Blank, |events| number(f64::from(events)));
        vec![Cell::Word(word.to_owned()), events]
    }
}

fn border(arms: PartlySeenArms, rule: DecisionRule) -> Each<Border, MissingEvents> {
    let rows = tipping_border(arms, rule).by_missing_events_first;
    Each::of(rows.into_iter().enumerate().map(|(events, shown)| (events.to_string(), Border(shown))))
}

impl Input for RatioLimits {
    fn columns() -> Vec<Column> {
        vec![
            Column::value("estimate", "the ratio"),
            Column::value("lower", "its lower limit"),
            Column::value("upper", "its upper limit, Inf without bound"),
        ]
    }

    fn read(table: &Table) -> Result<Self, Trouble> {
        let row = table.first();
        let ratio = |column| match row.text(column) {
            "Inf" => Ok(Ratio::Unbounded),
            _ => row.number(column).map(Ratio::Finite),
        };
        Self::new(ratio("estimate")?, row.number("lower")?, ratio("upper")?)
            .map_err(|error| row.trouble("estimate", error.into()))
    }
}

impl Cells for EValue {
    const COLUMNS: &'static [Output] = &[
        Output::new("e_value", "E-value of the ratio; Inf when nothing can explain it away"),
        Output::new("e_value_of_limit", "E-value of the limit nearer to 1"),
    ];

    fn cells(&self) -> Vec<Cell> {
        [self.estimate, self.limit].map(|value| number(value.or_infinity())).to_vec()
    }
}
