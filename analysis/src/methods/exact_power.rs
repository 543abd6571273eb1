//! Exact power and exact error rate of the tests that decide: every table that could be seen,
//! with its probability, instead of a normal approximation.

use super::counts::TwoArms;
use super::distribution::normal_upper_quantile;
use super::interval::NotEstimable;
use super::non_inferiority::Margin;
use super::null_test::{NullDifference, OneSidedTest};
use super::plan::{ArmSizes, OneSidedAlpha, Proportions};
use super::score::{farrington_manning_test, miettinen_nurminen_test, wald_difference_test};
use super::unconditional::{Region, table};

/// Statistics this near the critical value lie on it: the rounding of their last digits must
/// not decide whether a table counts.
const ON_THE_BORDER: f64 = 1e-12;

/// Most cases of an arm whose border is walked along.
const MOST_CASES: u32 = 1_000_000;

/// The tables that show non-inferiority with one test, margin, error rate and pair of sizes.
pub struct ShowingTables {
    region: Region,
    null: NullDifference,
}

/// Tables that show non-inferiority with the Farrington–Manning test.
///
/// Formula: all tables with z ≤ −z_α at δ = +margin (harm) or z ≥ z_α at δ = −margin
/// (benefit), a z within 1e-12 of the critical value included. One more event in the second
/// arm or one fewer in the first never raises z, so the border is walked along as a staircase.
/// Units: α one-sided.
/// Edges: more than a million cases in an arm are not enumerated.
/// Source: [farrington_manning1990].
/// Checked: tests/numbers/exact_power.csv.
pub fn farrington_manning_showing(
    margin: Margin,
    alpha: OneSidedAlpha,
    sizes: ArmSizes,
) -> Result<ShowingTables, NotEstimable> {
    along_the_border(margin, alpha, sizes, farrington_manning_test)
}

/// Tables that show non-inferiority with the Miettinen–Nurminen test.
///
/// Formula: as Farrington–Manning, with the Miettinen–Nurminen z.
/// Units: α one-sided.
/// Edges: more than a million cases in an arm are not enumerated.
/// Source: [miettinen_nurminen1985].
/// Checked: tests/numbers/exact_power.csv.
pub fn miettinen_nurminen_showing(
    margin: Margin,
    alpha: OneSidedAlpha,
    sizes: ArmSizes,
) -> Result<ShowingTables, NotEstimable> {
    along_the_border(margin, alpha, sizes, miettinen_nurminen_test)
}

/// Tables that show non-inferiority with the Wald test, to see what it would do.
///
/// Formula: as Farrington–Manning, with the unpooled z; every table is asked.
/// Units: α one-sided.
/// Edges: without any event (or with only events) in both arms z is infinite and the table
/// counts whatever its size, which is why the test is no basis of a decision; more than about
/// four million tables are not enumerated.
/// Source: [blackwelder1982].
/// Checked: tests/numbers/exact_power.csv.
pub fn wald_showing(
    margin: Margin,
    alpha: OneSidedAlpha,
    sizes: ArmSizes,
) -> Result<ShowingTables, NotEstimable> {
    let (arms, null) = (sizes.without_events(), margin.null_difference());
    let critical = normal_upper_quantile(alpha.alpha());
    let shows = |x1, x2| {
        let seen = table(arms, x1, x2);
        let infinite = (seen.difference() - null.difference()) * f64::INFINITY;
        beyond(margin, wald_difference_test(seen, null).map_or(infinite, |test| test.z), critical)
    };
    Ok(ShowingTables { region: Region::of(arms, shows)?, null })
}

/// Is z on the acceptable side of the critical value, or on it?
fn beyond(margin: Margin, z: f64, critical: f64) -> bool {
    match margin {
        Margin::Benefit(_) => z >= critical - ON_THE_BORDER,
        Margin::Harm(_) => z <= -critical + ON_THE_BORDER,
    }
}

type Test = fn(TwoArms, NullDifference) -> OneSidedTest<NullDifference>;

fn along_the_border(
    margin: Margin,
    alpha: OneSidedAlpha,
    sizes: ArmSizes,
    test: Test,
) -> Result<ShowingTables, NotEstimable> {
    let (n1, n2) = (sizes.first.get(), sizes.second.get());
    if n1.max(n2) > MOST_CASES {
        return Err(NotEstimable::TooManyTables { tables: (u64::from(n1) + 1) * (u64::from(n2) + 1) });
    }
    let (arms, null) = (sizes.without_events(), margin.null_difference());
    let critical = normal_upper_quantile(alpha.alpha());
    let shows = |seen: TwoArms| beyond(margin, test(seen, null).z, critical);
    let region = match margin {
        Margin::Harm(_) => Region::staircase(arms, |x1, x2| shows(table(arms, x1, x2))),
        // A success fewer is a failure more: the staircase of failures, turned round.
        Margin::Benefit(_) => {
            Region::staircase(arms, |y1, y2| shows(table(arms, n1 - y1, n2 - y2))).of_non_events()
        }
    };
    Ok(ShowingTables { region, null })
}

impl ShowingTables {
    /// Exact probability of showing non-inferiority.
    ///
    /// Formula: Σ b(x1; n1, p1) b(x2; n2, p2) over the tables, b the binomial probability.
    /// Units: a probability.
    /// Edges: it climbs in a saw-tooth with the number of cases.
    /// Source: [chan1998].
    /// Checked: tests/numbers/exact_power.csv.
    pub fn power(&self, proportions: Proportions) -> f64 {
        self.region.probability(proportions.first(), proportions.second())
    }

    /// Exact probability of showing non-inferiority where it is just not true: the second arm
    /// has its assumed proportion, the first lies on the margin.
    ///
    /// Formula: the power at p1 = p2 + δ.
    /// Units: a probability, to be compared with α.
    /// Edges: `None` where p2 + δ is no proportion, so that the null cannot be true.
    /// Source: [chan1998].
    /// Checked: tests/numbers/exact_power.csv.
    pub fn type_one_error(&self, proportions: Proportions) -> Option<f64> {
        let first = proportions.second() + self.null.difference();
        (0.0..=1.0).contains(&first).then(|| self.region.probability(first, proportions.second()))
    }

    /// The largest error rate for any proportion of the second arm.
    ///
    /// Formula: sup over p2 of the power at p1 = p2 + δ, on a grid of 2,001 places with its
    /// ten highest peaks climbed.
    /// Units: a probability, to be compared with α.
    /// Edges: the cost grows with the number of cases, two thousand times that of one power.
    /// Source: [chan1998].
    /// Checked: beside the error at single proportions in tests/numbers.
    pub fn worst_type_one_error(&self) -> f64 {
        let delta = self.null.difference();
        self.region.worst(delta, ((-delta).max(0.0), (1.0 - delta).min(1.0)))
    }
}
