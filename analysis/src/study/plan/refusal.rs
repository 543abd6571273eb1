//! Why a plan cannot be carried out, with the mends.

use super::PlannedMargin;
use crate::study::endpoint::Endpoint;
use crate::study::numerals::percent;
use quietbeam_schema::vocabulary::{CodeList, Coded, MarginScale, ProcedureType};
use std::fmt;

/// Everything that must be mended, each with the JSON pointer of its place.
#[derive(Debug, Clone, PartialEq)]
pub struct PlanRefusal(pub Vec<(String, Trouble)>);

impl std::error::Error for PlanRefusal {}

impl fmt::Display for PlanRefusal {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        for (at, (pointer, trouble)) in self.0.iter().enumerate() {
            if at > 0 {
                f.write_str("\n")?;
            }
            write!(f, "{}: {trouble}", pointer.trim_start_matches('/').replace('/', "."))?;
        }
        Ok(())
    }
}

/// One thing to mend.
#[derive(Debug, Clone, PartialEq, thiserror::Error)]
pub enum Trouble {
    /// Too few words to tell a reader anything.
    #[error("has {}; write at least {least}", characters(*length))]
    TooShort {
        /// Characters given.
        length: usize,
        /// Fewest taken.
        least: usize,
    },
    /// Too many words.
    #[error("has {}; {most} at the most", characters(*length))]
    TooLong {
        /// Characters given.
        length: usize,
        /// Most taken.
        most: usize,
    },
    /// A line break or another character that is no text.
    #[error("has a line break or control character; write it as one line")]
    ControlCharacter,
    /// A code that its list does not have.
    #[error("\"{given}\" is not one of: {}", list.codes_joined())]
    UnknownCode {
        /// What was given, shortened.
        given: String,
        /// The list.
        list: &'static CodeList,
    },
    /// A list that must name something.
    #[error("names nothing, so nothing would be compared; name some of: {}", .0.codes_joined())]
    NothingNamed(&'static CodeList),
    /// A type beside the group that holds it.
    #[error("{} is compared with the whole of {} already; name the type or its group", .0.code(), .0.group().code())]
    InItsGroup(ProcedureType),
    /// A diagnostic study among what is compared.
    #[error("a diagnostic study is no ablation and has no arm; leave diag_only out")]
    NoAblation,
    /// Ages named in two ways.
    #[error(
        "age_bands say who is compared; leave the exclusion paediatric out and name the adult bands, or name no band"
    )]
    AgesNamedAndLeftOut,
    /// Something that the strategy itself brings about.
    #[error(
        "intracardiac echo is chosen together with the strategy and lies on the way to its effect; held constant it would take away a part of what is asked, so leave it out"
    )]
    OnTheWay,
    /// The centre named as a covariate.
    #[error("the centre stands in every model already; leave it out")]
    CentreIsAlwaysIn,
    /// A method without a model.
    #[error(
        "the method within_centres takes no covariates; leave them out or choose standardised or overlap_weighted"
    )]
    CovariatesUnused,
    /// A model without covariates.
    #[error(
        "names nothing, so differences in patients would stay in the estimate; name covariates, or choose the method within_centres"
    )]
    NoCovariates,
    /// A level that is none, or too low to claim anything with.
    #[error("is {0}; write a two-sided level from 0.9 to 0.999, such as 0.95")]
    Level(f64),
    /// No share.
    #[error("is {0}; write the least share of known outcomes in each arm from 0.5 to 1, such as 0.9")]
    LeastKnown(f64),
    /// No least share of the eligible, or none that is taken.
    #[error("{given}; write the least share of its eligible ablations that a centre must have sent in, from 0.5 to 1, such as 0.9", given = .0.map_or("is missing".to_owned(), |share| format!("is {share}")))]
    LeastCapture(Option<f64>),
    /// A least share that nothing asks for.
    #[error("stands for nothing unless low_capture is excluded; exclude it, or leave this out")]
    LeastCaptureUnused,
    /// Nothing to decide.
    #[error("a plan needs at least one endpoint with its margin")]
    NoEndpoint,
    /// No such endpoint.
    #[error("\"{0}\" is not one of: {names}", names = Endpoint::codes_joined())]
    UnknownEndpoint(String),
    /// The same endpoint again.
    #[error("{} stands in the plan twice; name it once", .0.code())]
    Twice(Endpoint),
    /// The margin lies on the side of benefit.
    #[error(
        "{} is worse when it is {side}; write worse_when = \"{side}\", or the margin would lie on the wrong side",
        side_of(*.0, *.1), side = .0.worse_when(*.1)
    )]
    WrongSide(Endpoint, MarginScale),
    /// Not a margin.
    #[error(
        "is {0}; write how much worse is still acceptable as a proportion above 0 and below 0.5, without a sign, such as 0.03 for 3 points"
    )]
    Margin(f64),
    /// Not a ratio margin.
    #[error(
        "is {0}; write how many times as often failure or harm may happen, above 1 and at most 5, such as 1.5"
    )]
    RatioMargin(f64),
    /// A margin at which all cases or more would fare badly.
    #[error("is {size}, but {0}; write a smaller margin, or check what is expected", size = .0.margin.size())]
    BeyondAll(BeyondAll),
    /// Not a proportion.
    #[error("is {0}; write the proportion expected in the conventional arm, between 0 and 1, such as 0.95")]
    Expected(f64),
    /// More blanking than anybody means.
    #[error("is {0}; write the days of blanking from 0 to 180, such as 60")]
    Blanking(u32),
    /// No last day after blanking, or one beyond what is recorded.
    #[error(
        "is {0}; write the last day on which a recurrence counts, 30 days or more after blanking and at the most 1500, such as 365"
    )]
    RecurrenceUntil(u32),
    /// No number of cases for the looks.
    #[error(
        "write with how many cases of each arm the last look comes, from 1; what is needed stands with the cost"
    )]
    CasesOfLooks,
    /// Not the shares of several looks.
    #[error(
        "write the share of the planned cases at each look, two to ten of them, each 0.01 or more above the one before and the last one 1, such as [0.5, 1.0]; for one look leave looks out"
    )]
    Fractions,
    /// A look that could decide nothing.
    #[error(
        "at a share of {0} so little would be spent that the look could decide nothing; look later, or choose another spending function"
    )]
    IdleLook(f64),
    /// No exponent, or none that is taken.
    #[error("{given}; write the exponent of the cases from 0.1 to 20, such as 2", given = .0.map_or("is missing".to_owned(), |exponent| format!("is {exponent}")))]
    Exponent(Option<f64>),
    /// An exponent where none belongs.
    #[error("only the spending function power_family has an exponent; leave it out")]
    ExponentUnused,
}

/// A margin that leaves no room for what is expected; written as a part of a sentence.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct BeyondAll {
    /// The endpoint.
    pub endpoint: Endpoint,
    /// Its margin.
    pub margin: PlannedMargin,
    /// The proportion expected in the conventional arm.
    pub expected: f64,
}

impl fmt::Display for BeyondAll {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let more = match self.margin {
            PlannedMargin::Difference(_) => format!("{} more", self.margin.in_words()),
            PlannedMargin::Ratio(_) => format!("{} times as many", self.margin.in_short()),
        };
        write!(
            f,
            "{} with {} are expected already, and {more} would be all or more",
            percent(self.endpoint.unwanted_share(self.expected), 0),
            self.endpoint.unwanted_in_words()
        )
    }
}

pub(super) fn unknown(list: &'static CodeList, given: &str) -> Trouble {
    Trouble::UnknownCode { given: shortened(given), list }
}

/// As much of what was given as a sentence repeats.
pub(super) fn shortened(text: &str) -> String {
    text.chars().take(40).collect()
}

fn characters(length: usize) -> String {
    format!("{length} {}", if length == 1 { "character" } else { "characters" })
}

/// What lies on one side.
fn side_of(endpoint: Endpoint, scale: MarginScale) -> String {
    match scale {
        MarginScale::RiskDifference => endpoint.code().to_owned(),
        MarginScale::RiskRatio => format!("a ratio of {}", endpoint.unwanted_in_words()),
    }
}
