//! Watching: what calls for a look today, each centre's harm among its limits and case by case, and
//! what looks unlike data from a ward. Strategies are not compared here.

use actix_web::{HttpResponse, get, web};
use maud::{Markup, html};
use quietbeam_analysis::study::numerals::{count, percent};
use quietbeam_analysis::study::watching::{CentreChart, Expectation, Signal, Watch};
use quietbeam_schema::ids::CentreCode;
use quietbeam_schema::vocabulary::Coded;

use super::components::{Cell, Column, Table, Word, case_code};
use super::frame::{Page, Visit, may};
use super::harm_charts;
use super::words::{capital, counted};
use crate::access::Permit;
use crate::access::action::{ReadJudgements, WatchSafety};
use crate::api::Problem;
use crate::registry::watching::watch;
use crate::store::Store;

/// Signals that stand open on the page; the older ones are folded away.
const OPEN: usize = 12;

#[get("/watching")]
pub(super) async fn watching(
    permit: Permit<WatchSafety>,
    visit: Visit,
    store: web::Data<Store>,
) -> Result<HttpResponse, Problem> {
    let frame = visit.frame(&store).await?;
    let watched = store.read(permit, watch).await?;
    let judged = may::<ReadJudgements>(visit.signed()?);
    let content = html! {
        div.title {
            div {
                h1 { "Watching" }
                p.quiet { "Harm as it comes in, beside what is expected. A signal asks for a look at the cases; it answers nothing." }
            }
            @if judged { a href="/adjudication/progress" { "How events were judged" } }
        }
        @if watched.centres.is_empty() { p { "There is no case yet." } } @else { (whole(&watched)) }
    };
    Ok(frame.show(&Page { title: "Watching".to_owned(), word: Some(Word::Watching), content }))
}

fn whole(watched: &Watch) -> Markup {
    let signals = watched.signals();
    let charts: Vec<&CentreChart> = watched.centres.iter().map(|centre| &centre.chart).collect();
    let (open, older) = signals.split_at(signals.len().min(OPEN));
    html! {
        p.lead { (capital(&said(watched, signals.len()))) }
        section.caution {
            h2 { "Read with care" }
            p {
                "Centres differ in more than their kinds of procedure, and rare harm comes in clusters by chance. "
                "A signal is no finding about a centre or a person. Strategies are not compared here: that is for a plan. "
                "Fluoroscopy stays available in every room. For research; local rules on reporting harm go before this page."
            }
        }
        h2 { "What calls for a look" }
        @if signals.is_empty() { p { "Nothing does." } } @else {
            (signal_table("The latest quarter first", open))
            @if !older.is_empty() {
                details.fold { summary { (capital(&counted(older.len(), "older signal", "older signals"))) } (signal_table("Older signals", older)) }
            }
        }
        h2 { "What looks unlike data from a ward" }
        @let checks: Vec<_> = watched.centres.iter().flat_map(|centre| centre.checks.iter().map(|check| (centre.chart.code, check))).collect();
        @if checks.is_empty() { p { "Nothing does." } } @else {
            ul.always { @for (centre, check) in checks { li { span.code { (centre) } ": " (check.sentence()) } } }
        }
        (harm_charts::limits(charts.clone(), "Each centre among its limits."))
        (harm_charts::sums(&charts, watched.false_signal_after, "Case by case."))
        (expected(&watched.expectation))
    }
}

/// How many things call for a look, in a sentence.
fn said(watched: &Watch, signals: usize) -> String {
    let cases: u64 = watched.centres.iter().map(|centre| u64::from(centre.chart.cases)).sum();
    let known: u64 = watched.centres.iter().map(|centre| u64::from(centre.chart.known)).sum();
    let calls = match signals {
        0 => "nothing calls".to_owned(),
        1 => "one signal calls".to_owned(),
        many => format!("{} call", counted(many, "signal", "signals")),
    };
    format!(
        "{calls} for a look, in {} cases of {}; 30 days are known of {}.",
        count(cases),
        counted(watched.centres.len(), "centre", "centres"),
        count(known)
    )
}

fn signal_table(caption: &str, signals: &[(CentreCode, Signal)]) -> Table<4> {
    let row = |(centre, signal): &(CentreCode, Signal)| {
        [
            Cell::text(centre.to_string()),
            Cell::text(signal.period.to_string()),
            Cell::shown(html! { a href={ "/cases/" (signal.case) } { (case_code(&signal.case)) } }),
            Cell::text(signal.rule.sentence()),
        ]
    };
    Table {
        caption: caption.to_owned(),
        columns: ["Centre", "Quarter", "Case", "Rule that fired"].map(Column::words),
        rows: signals.iter().map(row).collect(),
    }
}

fn expected(expectation: &Expectation) -> Markup {
    let rate = |rate: f64| percent(rate, 1);
    let rows = expectation.groups.iter().map(|line| {
        let said = line.own.map_or_else(|| format!("{}, that of all", rate(expectation.overall)), rate);
        [Cell::text(line.group.label()), Cell::text(said)]
    });
    let all = [Cell::text("All procedures"), Cell::text(rate(expectation.overall))];
    html! {
        h2 { "What is expected" }
        p {
            "Major complications or death within 30 days, by kind of procedure, from all cases of the network whose 30 days are "
            "known, rounded to half a per cent. A kind with few cases or few centres takes the rate of all."
        }
        (Table {
            caption: "Expected in 100 cases".to_owned(),
            columns: [Column::words("Procedure"), Column::numbers("Rate")],
            rows: rows.chain([all]).collect(),
        })
    }
}
