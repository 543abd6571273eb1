//! Published safety summaries, for everyone. The page shows what was published
//! and computes nothing from it.

use actix_web::http::StatusCode;
use actix_web::{HttpResponse, get, web};
use maud::{Markup, html};
use quietbeam_analysis::study::numerals::count as grouped;
use quietbeam_analysis::study::published::{OneOrAll, Published, PublishedPart};
use quietbeam_analysis::study::summary::{SafetySummary, SummaryLine};
use quietbeam_schema::ids::SummaryNumber;
use quietbeam_schema::vocabulary::{ProcedureGroup, Strategy};
use serde::Deserialize;

use super::components::{Cell, Column, Table, arm_shape, caution};
use super::frame::{Visit, answer as show};
use crate::access::Permit;
use crate::api::Problem;
use crate::store::{PublicBody, PublicSummary, Store};

/// What a summary says, as it was published.
#[derive(Deserialize)]
struct Said {
    data_cut_name: String,
    data_cut_hash: String,
    software: String,
    #[serde(flatten)]
    summary: SafetySummary,
}

/// What stands in the head of these pages for the public.
const PLACE: &str = "Safety summaries";

/// The index of published summaries.
#[get("/summaries")]
pub(super) async fn published_index(visit: Visit, store: web::Data<Store>) -> Result<HttpResponse, Problem> {
    let summaries = store.read(Permit::public(), |session| session.list_published()).await?;
    let content = html! {
        h1 { "Safety summaries" }
        p.lead { "Aggregate counts of ablation with and without X-ray in our network. Small counts are hidden, so that nobody can be recognised." }
        @if summaries.is_empty() {
            p { "Nothing has been published yet." }
        } @else {
            (index(&summaries))
        }
        (caution("Ask your own team what fits you."))
    };
    let named = ("Safety summaries", PLACE);
    Ok(show(StatusCode::OK, visit.draw_open(&store, named, content).await?))
}

fn index(summaries: &[PublicSummary]) -> Table<3> {
    let row = |summary: &PublicSummary| {
        let state = match &summary.body {
            PublicBody::InForce(_) => html! { "in force" },
            PublicBody::Withdrawn { reason, .. } => html! { "withdrawn: " (reason) },
        };
        let number = summary.number.0;
        [
            Cell::shown(html! { a href={ "/summaries/" (number) } { "Safety summary " (number) } }),
            Cell::text(day(summary)),
            Cell::shown(state),
        ]
    };
    Table {
        caption: "What has been published".to_owned(),
        columns: ["Summary", "Published", "State"].map(Column::words),
        rows: summaries.iter().map(row).collect(),
    }
}

/// One published summary.
#[get("/summaries/{number}")]
pub(super) async fn published(
    visit: Visit,
    number: web::Path<i64>,
    store: web::Data<Store>,
) -> Result<HttpResponse, Problem> {
    let number = SummaryNumber(*number);
    let found = store.read(Permit::public(), move |session| session.find_published(number)).await?;
    let title = format!("Safety summary {}", number.0);
    let (status, content) = match &found.body {
        PublicBody::InForce(content) => {
            let said: Said = serde_json::from_str(content).map_err(|error| {
                tracing::error!(%error, "a published summary cannot be shown");
                Problem::broken()
            })?;
            (StatusCode::OK, whole(&found, &said))
        }
        PublicBody::Withdrawn { at, reason, corrected_by } => {
            let content = html! {
                h1 { (title) " was withdrawn" }
                p.lead { (reason) }
                p { "Withdrawn " (at.to_string()[..10]) ". Its numbers are no longer to be relied on." }
                @if let Some(SummaryNumber(number)) = corrected_by {
                    p { "Corrected by " a href={ "/summaries/" (number) } { "safety summary " (number) } "." }
                }
                p { a href="/summaries" { "All safety summaries" } }
            };
            (StatusCode::GONE, content)
        }
    };
    Ok(show(status, visit.draw_open(&store, (&title, PLACE), content).await?))
}

/// The day of publication: the first ten characters of its time.
fn day(summary: &PublicSummary) -> String {
    summary.published_at.to_string()[..10].to_owned()
}

fn whole(summary: &PublicSummary, said: &Said) -> Markup {
    html! {
        p.small { "Safety summary " (summary.number.0) " · published " (day(summary)) }
        h1 { "How safe was ablation with and without " span.one-line { "X-ray" } " in our network?" }
        div.sides {
            div {
                (headline(said))
                (caution("Ask your own team what fits you."))
                (kinds_table(said))
                (groups_table(said))
                p.small { "Hatched: not shown, so that nobody can be recognised, directly or by subtraction." }
                h2 { "How to read the numbers" }
                @for note in &said.summary.notes { p { (note) } }
            }
            aside.margin { (margin(summary, said)) }
        }
    }
}

/// The arms of the question, in the order of the columns.
const ARMS: [(Strategy, &str); 2] =
    [(Strategy::Zero, "Zero-fluoroscopy"), (Strategy::Conventional, "Conventional")];

impl Said {
    fn line(&self, group: OneOrAll<ProcedureGroup>, strategy: Strategy) -> Option<&SummaryLine> {
        self.summary.line(group, OneOrAll::One(strategy))
    }

    /// All procedures of one arm.
    fn all(&self, strategy: Strategy) -> Option<&SummaryLine> {
        self.line(OneOrAll::All, strategy)
    }
}

/// Two plain sentences, made of numbers that are shown and of no other.
fn headline(said: &Said) -> Markup {
    let arm = |strategy| said.all(strategy).map(|line| (line.major.count, line.cases));
    html! {
        @match (arm(Strategy::Zero), arm(Strategy::Conventional)) {
            (Some((Published::Shown(with), Published::Shown(zero))), Some((Published::Shown(without), Published::Shown(conventional)))) => p.lead {
                "Major complications occurred in " (grouped(with)) " of " (grouped(zero)) " procedures in which no X-ray was planned, and in "
                (grouped(without)) " of " (grouped(conventional)) " in which it was. Patients in the two groups were not alike."
            },
            _ => p.lead { "The counts of major complications are too small to be published without risk to a patient." },
        }
        p {
            "Fluid around the heart is reported more often where ultrasound watches the heart all the time. "
            "Such findings stand apart from complications that did harm."
        }
    }
}

fn arm_head(strategy: Strategy, label: &str) -> Markup {
    html! {
        span.marked {
            (arm_shape(strategy))
            (label)
        }
    }
}

fn kinds_table(said: &Said) -> Markup {
    type Kind = (&'static str, fn(&SummaryLine) -> &PublishedPart, bool);
    let kinds: [Kind; 6] = [
        ("Any major complication", |line| &line.major, true),
        ("Effusion that had to be drained", |line| &line.drained_effusion, false),
        ("Minor complication", |line| &line.minor, false),
        ("Seen on imaging only, no treatment needed", |line| &line.imaging_only, false),
        ("Acute success", |line| &line.acute_success, true),
        ("No X-ray used at all", |line| &line.no_x_ray, false),
    ];
    html! {
        div.scroll tabindex="0" role="region" aria-label="Table of outcomes" { table {
            caption { "Outcomes within 30 days, all procedures together, by what was planned" }
            thead { tr {
                th scope="col" { "Kind" }
                @for (strategy, label) in ARMS {
                    th.number scope="col" {
                        (arm_head(strategy, label)) br;
                        span.small { @match said.all(strategy).map(|line| line.cases) {
                            Some(Published::Shown(cases)) => { (grouped(cases)) " cases" },
                            _ => "cases not shown",
                        } }
                    }
                }
            } }
            tbody {
                @for (label, part, strong) in kinds {
                    tr.total[strong] {
                        th scope="row" { (label) }
                        @for (strategy, _) in ARMS { (said.all(strategy).map_or_else(hidden, |line| part_cell(part(line)))) }
                    }
                }
            }
        } }
    }
}

fn groups_table(said: &Said) -> Markup {
    html! {
        div.scroll tabindex="0" role="region" aria-label="Table by kind of procedure" { table {
            caption { "Cases and major complications by kind of procedure" }
            thead {
                tr {
                    th scope="col" rowspan="2" { "Procedure" }
                    @for (strategy, label) in ARMS { th.number scope="colgroup" colspan="2" { (arm_head(strategy, label)) } }
                }
                tr { @for _ in ARMS { th.number scope="col" { "Cases" } th.number scope="col" { "Major" } } }
            }
            tbody {
                @for group in OneOrAll::each() {
                    tr.total[group == OneOrAll::All] {
                        th scope="row" { (group.label("All procedures")) }
                        @for (strategy, _) in ARMS {
                            @match said.line(group, strategy) {
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
    let SafetySummary { disclosure, first_year, last_year, centres, .. } = &said.summary;
    let years = match (first_year, last_year) {
        (Some(first), Some(last)) if first != last => format!("{first} to {last}"),
        (Some(year), _) => year.to_string(),
        _ => "none".to_owned(),
    };
    let all = said.summary.line(OneOrAll::All, OneOrAll::All);
    html! {
        section {
            h2 { "Who took part" }
            dl {
                dt { "Centres" } dd { (centres) }
                dt { "Procedures" } dd { (all.map_or_else(|| "not shown".to_owned(), |line| line.cases.to_string())) }
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
                "Profile " (disclosure.profile) ", threshold " (disclosure.threshold)
                ". Composed, approved and published by three different people."
            }
            @for rule in &disclosure.rules { p.small { (rule) } }
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

fn part_cell(part: &PublishedPart) -> Markup {
    match (part.count, part.percent()) {
        (Published::Shown(count), Some(percent)) if count > 0 => html! {
            td.number { (grouped(count)) " (" (percent) ")" }
        },
        (count, _) => cell(count),
    }
}

fn cell(count: Published) -> Markup {
    match count {
        Published::Shown(_) => html! { td.number { (count) } },
        Published::Hidden => hidden(),
    }
}

fn hidden() -> Markup {
    html! { td.not-shown { span { (Published::Hidden) } } }
}
