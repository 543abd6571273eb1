//! Approvals of the centre that ended or run out, each leading to the approvals' page.

use maud::{Markup, html};
use quietbeam_schema::centre_approval::{Day, Standing, WARNING_DAYS};

use crate::pages::centres::{stands, stands_shown};
use crate::pages::components::{Age, Link, Mark, WorkGroup, WorkRow};
use crate::registry::approvals::CentreStanding;

/// Those that stand in the way or soon will.
pub(super) fn worrying(all: &[CentreStanding], today: Day) -> Vec<&CentreStanding> {
    let worries = |of: &&CentreStanding| is_blocking(of.standing) || of.standing.runs_out_in(today).is_some();
    all.iter().filter(worries).collect()
}

/// Whether no case is taken because of it.
pub(super) fn is_blocking(standing: Standing) -> bool {
    matches!(standing, Standing::Ended { .. } | Standing::Withdrawn | Standing::Begins { .. })
}

/// The group of approvals.
pub(super) fn approval_rows(all: &[CentreStanding], today: Day) -> WorkGroup {
    let worrying = worrying(all, today);
    WorkGroup {
        title: "Approvals",
        count: format!("{}, renewed by an administrator", worrying.len()),
        all: None,
        rows: worrying.iter().map(|of| row(of, today)).collect(),
    }
}

fn row(of: &CentreStanding, today: Day) -> WorkRow {
    let CentreStanding { centre, kind, standing } = *of;
    let says = stands(kind, standing, today);
    let left = standing.runs_out_in(today).unwrap_or(0).max(0);
    let (mark, age) = match (is_blocking(standing), standing) {
        (true, _) => (Mark::MustBeMended, Age::Overdue("no case is taken".to_owned())),
        (false, Standing::Holds { until }) => (
            Mark::Window { day: WARNING_DAYS - left, last: WARNING_DAYS },
            Age::Usual(format!("until {until}")),
        ),
        (false, _) => (Mark::Empty, Age::Usual(String::new())),
    };
    WorkRow {
        mark,
        about: html! { (centre) },
        verb_about: format!("{centre}, {says}"),
        sentence: html! { (says) },
        age,
        verb: Link::new(format!("/centres/{centre}/approvals"), "Show"),
    }
}

/// How the approvals stand, for the margin.
pub(super) fn approvals_in_margin(all: &[CentreStanding], today: Day) -> Markup {
    let several = all.iter().any(|of| Some(of.centre) != all.first().map(|first| first.centre));
    html! {
        section {
            h2 { "Approvals" }
            ul.plain {
                @for CentreStanding { centre, kind, standing } in all {
                    li {
                        a href={ "/centres/" (centre) "/approvals" } {
                            @if several { (centre) ": " }
                            (stands_shown(*kind, *standing, today))
                        }
                    }
                }
            }
        }
    }
}
