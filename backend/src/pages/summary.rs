//! Published safety summaries, for everyone. The page shows what was published
//! and computes nothing from it.

use actix_web::{HttpResponse, get, web};
use maud::{Markup, html};
use quietbeam_schema::ids::SummaryNumber;
use quietbeam_schema::vocabulary::{Coded, ProcedureGroup};
use serde::Deserialize;

use super::{answer, caution, page};
use crate::access::Permit;
use crate::api::Problem;
use crate::store::{PublicBody, PublicSummary, Store};

/// A count as published.
#[derive(Deserialize, Clone, Copy, PartialEq)]
#[serde(rename_all = "snake_case")]
enum Count {
    Shown(u64),
    Hidden(#[allow(dead_code)] bool),
}

#[derive(Deserialize)]
struct Part {
    count: Count,
    share_of_cases: Option<f64>,
}

#[derive(Deserialize)]
struct Line {
    procedure_group: String,
    strategy_intended: String,
    cases: Count,
    no_x_ray: Part,
    acute_success: Part,
    major: Part,
    minor: Part,
    imaging_only: Part,
    drained_effusion: Part,
}

#[derive(Deserialize)]
struct Rules {
    profile: String,
    threshold: u64,
}

/// What a summary says, as it was published.
#[derive(Deserialize)]
struct Said {
    data_cut_name: String,
    data_cut_hash: String,
    software: String,
    disclosure: Rules,
    first_year: Option<u16>,
    last_year: Option<u16>,
    centres: Count,
    lines: Vec<Line>,
    notes: Vec<String>,
}

/// The index of published summaries.
#[get("/summaries")]
pub(super) async fn published_index(store: web::Data<Store>) -> Result<HttpResponse, Problem> {
    let summaries = store.read(Permit::public(), |session| session.list_published()).await?;
    Ok(answer(page(
        "Safety summaries",
        "Safety summaries",
        &html! {
            h1 { "Safety summaries" }
            p.lead { "Aggregate counts of ablation with and without X-ray in our network. Small counts are hidden, so that nobody can be recognised." }
            @if summaries.is_empty() {
                p { "Nothing has been published yet." }
            } @else {
                table {
                    thead { tr { th { "Summary" } th { "Published" } th { "State" } } }
                    tbody {
                        @for summary in &summaries {
                            tr {
                                td { a href={ "/summaries/" (summary.number.0) } { "Safety summary " (summary.number.0) } }
                                td { (day(summary)) }
                                td { @match &summary.body {
                                    PublicBody::InForce(_) => "in force",
                                    PublicBody::Withdrawn { reason, .. } => { "withdrawn: " (reason) }
                                } }
                            }
                        }
                    }
                }
            }
            (caution())
        },
    )))
}

/// One published summary.
#[get("/summaries/{number}")]
pub(super) async fn published(
    number: web::Path<i64>,
    store: web::Data<Store>,
) -> Result<HttpResponse, Problem> {
    let number = SummaryNumber(*number);
    let found = store.read(Permit::public(), move |session| session.find_published(number)).await?;
    let title = format!("Safety summary {}", number.0);
    Ok(match &found.body {
        PublicBody::InForce(content) => {
            let said: Said = serde_json::from_str(content).map_err(|error| {
                tracing::error!(%error, "a published summary cannot be shown");
                Problem::broken()
            })?;
            answer(page(&title, "Safety summaries", &whole(&found, &said)))
        }
        PublicBody::Withdrawn { at, reason } => {
            let content = html! {
                h1 { (title) " was withdrawn" }
                p.lead { (reason) }
                p { "Withdrawn " (at.to_string()[..10]) ". Its numbers are no longer to be relied on." }
                p { a href="/summaries" { "All safety summaries" } }
            };
            HttpResponse::Gone()
                .insert_header((actix_web::http::header::CONTENT_TYPE, "text/html; charset=utf-8"))
                .body(page(&title, "Safety summaries", &content).into_string())
        }
    })
}

/// The day of publication: the first ten characters of its time.
fn day(summary: &PublicSummary) -> String {
    summary.published_at.to_string()[..10].to_owned()
}

fn whole(summary: &PublicSummary, said: &Said) -> Markup {
    html! {
        p.small { "Safety summary " (summary.number.0) " · published " (day(summary)) }
        h1 { "How safe was ablation with and without X-ray in our network?" }
        div.sides {
            div {
                (headline(said))
                (caution())
                (kinds_table(said))
                (groups_table(said))
                p.small { "Hatched: not shown, so that nobody can be recognised, directly or by subtraction." }
                h2 { "How to read the numbers" }
                @for note in &said.notes { p { (note) } }
            }
            aside { (margin(summary, said)) }
        }
    }
}

/// The arms of the question, in the order of the columns.
const ARMS: [(&str, &str); 2] = [("zero", "Zero-fluoroscopy"), ("conventional", "Conventional")];

impl Said {
    fn line(&self, group: &str, strategy: &str) -> Option<&Line> {
        self.lines.iter().find(|line| line.procedure_group == group && line.strategy_intended == strategy)
    }
}

/// Two plain sentences, made of numbers that are shown and of no other.
fn headline(said: &Said) -> Markup {
    let arm = |code: &str| said.line("all", code).map(|line| (line.cases, line.major.share_of_cases));
    let per_hundred = |share: f64| format!("{:.1}", 100.0 * share);
    html! {
        @match (arm("zero"), arm("conventional")) {
            (Some((Count::Shown(zero), Some(with))), Some((Count::Shown(conventional), Some(without)))) => p.lead {
                "Major complications occurred in " (per_hundred(with)) " of 100 procedures in which no X-ray was planned ("
                (grouped(zero)) " cases), and in " (per_hundred(without)) " of 100 in which it was ("
                (grouped(conventional)) " cases). Patients in the two groups were not alike."
            },
            _ => p.lead { "The counts of major complications are too small to be published without risk to a patient." },
        }
        p {
            "Fluid around the heart is reported more often where ultrasound watches the heart all the time. "
            "Such findings stand apart from complications that did harm."
        }
    }
}

fn arm_head(code: &str, label: &str) -> Markup {
    html! {
        span.group {
            @if code == "zero" {
                svg.ring viewBox="0 0 16 16" width="13" height="13" aria-hidden="true" {
                    circle cx="8" cy="8" r="6" fill="none" stroke="currentColor" stroke-width="2.4" {}
                }
            } @else {
                svg viewBox="0 0 16 16" width="13" height="13" aria-hidden="true" {
                    rect x="2" y="2" width="12" height="12" fill="currentColor" {}
                }
            }
            (label)
        }
    }
}

fn kinds_table(said: &Said) -> Markup {
    type Kind = (&'static str, fn(&Line) -> &Part, bool);
    let kinds: [Kind; 6] = [
        ("Any major complication", |line| &line.major, true),
        ("Effusion that had to be drained", |line| &line.drained_effusion, false),
        ("Minor complication", |line| &line.minor, false),
        ("Seen on imaging only, no treatment needed", |line| &line.imaging_only, false),
        ("Acute success", |line| &line.acute_success, true),
        ("No X-ray used at all", |line| &line.no_x_ray, false),
    ];
    html! {
        div.scroll { table {
            caption { "Outcomes within 30 days, all procedures together, by what was planned" }
            thead { tr {
                th scope="col" { "Kind" }
                @for (code, label) in ARMS {
                    th.number scope="col" {
                        (arm_head(code, label)) br;
                        span.small { @match said.line("all", code).map(|line| line.cases) {
                            Some(Count::Shown(cases)) => { (grouped(cases)) " cases" },
                            _ => "cases not shown",
                        } }
                    }
                }
            } }
            tbody {
                @for (label, part, strong) in kinds {
                    tr.total[strong] {
                        th scope="row" { (label) }
                        @for (code, _) in ARMS { (said.line("all", code).map_or_else(hidden, |line| part_cell(part(line)))) }
                    }
                }
            }
        } }
    }
}

fn groups_table(said: &Said) -> Markup {
    let groups = ProcedureGroup::all()
        .iter()
        .map(|group| (group.code(), group.label()))
        .chain([("all", "All procedures")]);
    html! {
        div.scroll { table {
            caption { "Cases and major complications by kind of procedure" }
            thead {
                tr {
                    th scope="col" rowspan="2" { "Procedure" }
                    @for (code, label) in ARMS { th.number scope="colgroup" colspan="2" { (arm_head(code, label)) } }
                }
                tr { @for _ in ARMS { th.number scope="col" { "Cases" } th.number scope="col" { "Major" } } }
            }
            tbody {
                @for (group, label) in groups {
                    tr.total[group == "all"] {
                        th scope="row" { (label) }
                        @for (code, _) in ARMS {
                            @match said.line(group, code) {
                                Some(line) => { (cell(line.cases)) (part_cell(&line.major)) }
                                None => { (hidden()) (hidden()) }
                            }
                        }
                    }
                }
            }
        } }
    }
}

fn margin(summary: &PublicSummary, said: &Said) -> Markup {
    let years = match (said.first_year, said.last_year) {
        (Some(first), Some(last)) if first != last => format!("{first} to {last}"),
        (Some(year), _) => year.to_string(),
        _ => "none".to_owned(),
    };
    let all = said.line("all", "all");
    html! {
        section {
            h2 { "Who took part" }
            dl {
                dt { "Centres" } dd { (words(said.centres)) }
                dt { "Procedures" } dd { (all.map_or_else(|| "not shown".to_owned(), |line| words(line.cases))) }
                dt { "Years" } dd { (years) }
            }
        }
        section {
            h2 { "What we do not know" }
            p { "Late results beyond 30 days. Whether the same holds in centres that did not take part. What the choice of strategy itself did: the groups differ in more than the strategy." }
        }
        section {
            h2 { "How it was checked" }
            p {
                "Profile " (said.disclosure.profile) ": counts below " (said.disclosure.threshold)
                " are not shown, nor is what would give them away. Composed, approved and published by three different people."
            }
        }
        section {
            h2 { "Take it with you" }
            p { a href={ "/api/v1/summaries/" (summary.number.0) } { "JSON" } }
        }
        section {
            h2 { "Where it comes from" }
            p.small { "Data cut “" (said.data_cut_name) "”, SHA-256 " (said.data_cut_hash) ". " (said.software) ". Content SHA-256 " (summary.content_hash) "." }
        }
    }
}

fn part_cell(part: &Part) -> Markup {
    match (part.count, part.share_of_cases) {
        (Count::Shown(count), Some(share)) if count > 0 => html! {
            td.number { (grouped(count)) " (" (percent(count, share)) " %)" }
        },
        (count, _) => cell(count),
    }
}

fn cell(count: Count) -> Markup {
    match count {
        Count::Shown(count) => html! { td.number { (grouped(count)) } },
        Count::Hidden(_) => hidden(),
    }
}

fn hidden() -> Markup {
    html! { td.hidden { span { "not shown" } } }
}

fn words(count: Count) -> String {
    match count {
        Count::Shown(count) => grouped(count),
        Count::Hidden(_) => "not shown".to_owned(),
    }
}

/// A share with no more digits than its count supports.
fn percent(count: u64, share: f64) -> String {
    if count < 50 { format!("{:.1}", 100.0 * share) } else { format!("{:.0}", 100.0 * share) }
}

/// Digits in groups of three.
fn grouped(number: u64) -> String {
    quietbeam_analysis::study::numerals::count(number)
}
