//! Figures as SVG, drawn by ourselves. Each says in words what it shows and gives its
//! numbers as a table, so that nothing can be seen that cannot be read.

mod axis;
mod balance;
mod count_rows;
mod course;
mod curves;
mod denominator_bar;
mod digit_bars;
mod figure;
mod fill_rows;
mod flow;
mod forest;
mod hatch;
mod level_scale;
mod limit_rows;
mod log_grid;
mod margin_picture;
mod overlap;
mod pair_rows;
mod parts_bar;
mod quarter_rows;
mod recurrence;
mod rows;
mod share_rows;
mod squares;
mod strand;
mod sum_charts;
mod time_share;
mod two_part;

pub(crate) use axis::{Axis, LogAxis};
pub(crate) use balance::{BalancePlot, BalanceRow};
pub(crate) use count_rows::{CountRow, CountRows};
pub(crate) use course::Course;
pub(crate) use curves::{Curve, Curves, Tick, round_steps};
pub(crate) use denominator_bar::DenominatorBar;
pub(crate) use digit_bars::{DigitBars, DigitPanel};
pub(crate) use figure::{BESIDE_A_MARGIN, Drawings, Figure, Size, Svg};
pub(crate) use fill_rows::{FillRow, FillRows};
pub(crate) use flow::{Flow, FlowArm, FlowStep};
pub(crate) use forest::{Forest, ForestMark, ForestRow, Side};
pub(crate) use level_scale::LevelScale;
pub(crate) use limit_rows::{LimitRow, LimitRows};
pub(crate) use log_grid::{GridMark, LogGrid};
pub(crate) use margin_picture::{MarginLine, MarginPicture};
pub(crate) use overlap::OverlapPicture;
pub(crate) use pair_rows::{PairRow, PairRows};
pub(crate) use parts_bar::PartsBar;
pub(crate) use quarter_rows::{QuarterRow, QuarterRows};
pub(crate) use recurrence::{RecurrenceCurves, RecurrenceLine};
pub(crate) use share_rows::{ShareRow, ShareRows};
pub(crate) use squares::{Hundred, Squares};
pub(crate) use strand::{Place, Strand, Stretch};
pub(crate) use sum_charts::{SumChart, SumCharts};
pub(crate) use time_share::{Look, Series, TimeShare};
pub(crate) use two_part::{DoseRow, TwoPart};

/// A coordinate with at most two decimals.
pub(crate) fn number(value: f64) -> String {
    let text = format!("{value:.2}");
    let text = text.trim_end_matches('0').trim_end_matches('.');
    if text == "-0" { "0".to_owned() } else { text.to_owned() }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn coordinates_are_short() {
        for (value, expected) in [(0.0, "0"), (-0.001, "0"), (12.5, "12.5"), (2.71499, "2.71"), (-7.0, "-7")]
        {
            assert_eq!(number(value), expected);
        }
    }
}
