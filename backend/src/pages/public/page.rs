//! The page of one summary: the question, an answer in plain sentences, the tables, and in the margin
//! who took part, what is not known, how it was checked and how it is cited.

use maud::{Markup, html};
use quietbeam_analysis::study::numerals::count as grouped;
use quietbeam_analysis::study::published::{OneOrAll, Published as Count, PublishedPart};
use quietbeam_analysis::study::summary::{SafetySummary, SummaryLine};
use quietbeam_schema::vocabulary::{ProcedureGroup, Strategy};

use super::table::hatched;
use super::{Published, Said, cite, embed, squares};
use crate::config::Network;
use crate::pages::components::{arm_shape, caution, compared, named_table_in_blocks};
#[cfg(feature = "pdf")]
use crate::pages::on_paper::Document;

/// The page.
pub(super) fn whole(published: &Published, network: &Network) -> Markup {
    let (record, said) = (&published.record, &published.said);
    html! {
        p.small {
            (network.name) " · safety summary " (record.number.0) " · published " (published.day())
        }
        h1 { (unbroken(published.title())) }
        div.sides {
            div {
                (headline(said))
                @for paragraph in said.summary.design.paragraphs() { p { (paragraph) } }
                (caution("Ask your own team what fits you."))
                (outcomes(published))
                (groups_table(said))
                @for table in said.summary.chosen_tables() { (named_table_in_blocks(table)) }
                p.small { (hatched()) }
                @if let Some(figure) = squares::figure(&said.summary) { (figure) }
                (compared(&said.summary, named_table_in_blocks))
                h2 { "How to read the numbers" }
                @for note in &said.summary.notes { p { (note) } }
                (named_table_in_blocks(&said.summary.disclosure.table()))
            }
            aside.margin { (margin(published, network)) }
        }
    }
}

/// The page for paper.
#[cfg(feature = "pdf")]
pub(super) fn on_paper(published: &Published, network: &Network) -> Document {
    let number = published.record.number.0;
    Document {
        title: format!("Safety summary {number}"),
        foot: format!(
            "{} · safety summary {number} · {}",
            network.name,
            &published.record.content_hash[..16]
        ),
        content: whole(published, network),
        file: format!("safety-summary-{number}.pdf"),
    }
}

/// Keeps the word on one line; the type has no hyphen that does not break.
fn unbroken(text: &str) -> Markup {
    html! {
        @for (at, part) in text.split("X-ray").enumerate() {
            @if at > 0 { span.one-line { "X-ray" } }
            (part)
        }
    }
}

/// What happened, all procedures together.
pub(super) fn outcomes(published: &Published) -> Markup {
    kinds_table(&published.said)
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

/// Plain sentences, made of numbers that are shown and of no other.
fn headline(said: &Said) -> Markup {
    let arm = |strategy| said.all(strategy).map(|line| (line.major.count, line.cases));
    let all = said.summary.line(OneOrAll::All, OneOrAll::All).map(|line| (line.major.count, line.cases));
    html! {
        @match (arm(Strategy::Zero), arm(Strategy::Conventional), all) {
            (Some((Count::Shown(with), Count::Shown(zero))), Some((Count::Shown(without), Count::Shown(conventional))), _) => p.lead {
                "Major complications occurred in " (grouped(with)) " of " (grouped(zero)) " procedures in which no X-ray was planned, and in "
                (grouped(without)) " of " (grouped(conventional)) " in which it was. Patients in the two groups were not alike."
            },
            (_, _, Some((Count::Shown(major), Count::Shown(cases)))) => p.lead {
                "Major complications occurred in " (grouped(major)) " of " (grouped(cases)) " procedures, with and without "
                span.one-line { "X-ray" } ". By what was planned the counts are too small to be published without risk to a patient."
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

/// Two numbers a row: it stays a table on a phone.
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
        div.scroll.two-numbers tabindex="0" role="region" aria-label="Table of outcomes" { table {
            caption { "Outcomes within 30 days, all procedures together, by what was planned" }
            thead { tr {
                th scope="col" { "Kind" }
                @for (strategy, label) in ARMS {
                    th.number scope="col" {
                        (arm_head(strategy, label)) br;
                        span.small { @match said.all(strategy).map(|line| line.cases) {
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
                        @for (strategy, arm) in ARMS { (part_cell(said.all(strategy).map(part), arm)) }
                    }
                }
            }
        } }
    }
}

/// Four numbers a row: blocks on a phone, where each names its column.
fn groups_table(said: &Said) -> Markup {
    html! {
        div.as-blocks { div.scroll tabindex="0" role="region" aria-label="Table by kind of procedure" { table {
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
                        @for (strategy, arm) in ARMS {
                            @let line = said.line(group, strategy);
                            (cell(line.map_or(Count::Hidden, |line| line.cases), &format!("{arm}, cases")))
                            (part_cell(line.map(|line| &line.major), &format!("{arm}, major complications")))
                        }
                    }
                }
            }
        } } }
    }
}

fn margin(published: &Published, network: &Network) -> Markup {
    let (record, said) = (&published.record, &published.said);
    let SafetySummary { disclosure, centres, .. } = &said.summary;
    let all = said.summary.line(OneOrAll::All, OneOrAll::All);
    let number = record.number.0;
    html! {
        section {
            h2 { "Who took part" }
            dl {
                dt { "Centres" } dd { (centres) }
                dt { "Procedures" } dd { (all.map_or_else(|| "not shown".to_owned(), |line| line.cases.to_string())) }
                dt { "Period" } dd { (said.summary.period_in_words()) }
            }
            @if let Some(capture) = said.summary.capture_in_words() {
                p { (capture) " Procedures that were not sent in may have gone otherwise." }
            }
        }
        section {
            h2 { "What we do not know" }
            p { "Late results beyond 30 days. Whether the same holds in centres that did not take part. What the choice of strategy itself did: the groups differ in more than the strategy." }
        }
        section {
            h2 { "How it was checked" }
            p {
                "Looked at " (seats(disclosure.coalition)) ", together with every summary before it: nobody can work out a count that is not shown. "
                "Composed, approved and published by three different people."
            }
            @if let Some(reason) = said.summary.design.profile().reason() {
                p { "It shows more than the standard rules would, because " (reason) ". Whoever approved it signed that." }
            }
            details.fold {
                summary { "The rules" }
                @for rule in &disclosure.rules { p.small { (rule) } }
            }
        }
        section.not-on-paper {
            h2 { "Take it with you" }
            p {
                @if cfg!(feature = "pdf") { a href={ "/summaries/" (number) "/summary.pdf" } { "PDF" } " · " }
                a href={ "/summaries/" (number) "/tables.csv" } { "tables as text" } " · "
                a href={ "/api/v1/summaries/" (number) } { "JSON" } " · "
                a href={ "/summaries/" (number) "/citation.json" } { "citation data" }
            }
            details.fold {
                summary { "Table to embed" }
                p.small { "For a page of your own; it needs no script:" }
                p.small { code { (embed::snippet(published, network)) } }
            }
        }
        section {
            h2 { "Cite as" }
            p { (cite::sentence(published, network)) }
        }
        section {
            h2 { "Where it comes from" }
            p.small { "Data cut “" (said.data_cut_name) "”, SHA-256 " code { (said.data_cut_hash) } ". " (said.software) ". Content SHA-256 " code { (record.content_hash) } "." }
        }
    }
}

/// From where it was looked at, by how many centres were taken to put together what they know.
fn seats(coalition: u32) -> &'static str {
    match coalition {
        0 => "from outside",
        1 => "from outside and from each centre",
        _ => "from outside, from each centre and from each pair of centres",
    }
}

/// A count with its share of the cases, where both are shown.
fn part_cell(part: Option<&PublishedPart>, column: &str) -> Markup {
    match part.map(|part| (part.count, part.percent())) {
        Some((Count::Shown(count), Some(percent))) if count > 0 => html! {
            td.number data-column=(column) { (grouped(count)) " (" (percent) ")" }
        },
        other => cell(other.map_or(Count::Hidden, |(count, _)| count), column),
    }
}

fn cell(count: Count, column: &str) -> Markup {
    match count {
        Count::Shown(_) => html! { td.number data-column=(column) { (count) } },
        Count::Hidden => html! { td.not-shown data-column=(column) { span { (count) } } },
    }
}
