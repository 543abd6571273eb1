//! Composing a summary from menus: a preview shows what the public will read and what could be
//! learnt from it, before anything is kept.

use actix_web::{HttpResponse, get, post, web};
use maud::{Markup, html};
use quietbeam_schema::ids::SummaryId;
use quietbeam_schema::summary_design::{DesignForm, DesignProblem};
use quietbeam_schema::vocabulary::{Coded, DisclosureProfile, SummaryTable};
use serde::Deserialize;

use super::{learnt, page};
use crate::access::Permit;
use crate::access::action::{DraftSummary, ReadDataCuts};
use crate::api::Problem;
use crate::api::brought::Query;
use crate::pages::components::{
    Choice, Choices, Control, FieldId, FieldRow, FormFoot, Lines, Pick, Picker, Text, error_summary,
};
use crate::pages::form::Posted;
use crate::pages::frame::{Frame, Visit, see_other};
use crate::pages::trouble::{Trouble, Troubles};
use crate::pages::words::sentence;
use crate::registry::RegistryError;
use crate::registry::published_comparison::{Offered, offered};
use crate::registry::summaries::{self, Composed};
use crate::store::{DataCut, Store, StoreError};

/// What the menus begin with.
#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
pub(in crate::pages) struct Like {
    /// A summary whose choices they take over.
    like: Option<SummaryId>,
}

/// The menus, with the newest cut chosen and perhaps the choices of another summary.
#[get("/releases/new")]
pub(in crate::pages) async fn begin(
    permit: Permit<DraftSummary>,
    visit: Visit,
    asked: Query<Like>,
    store: web::Data<Store>,
) -> Result<HttpResponse, Problem> {
    let (cuts, offered) = (cuts(&visit, &store).await?, comparisons(&visit, &store).await?);
    let mut typed = match asked.0.like {
        Some(like) => {
            let like = store.read(permit, move |session| session.find_summary(like)).await?;
            choices(summaries::said(&like)?.design.into())
        }
        None => Vec::new(),
    };
    typed.extend(cuts.first().map(|newest| ("cut".to_owned(), newest.id.to_string())));
    let draft = Draft { typed: Posted::of(typed), cuts, offered, found: Found::Nothing };
    let frame = visit.frame(&store).await?;
    Ok(frame.show(&page("Compose a summary", draft.draw(&frame))))
}

/// A design as the menus would send it.
fn choices(design: DesignForm) -> Vec<(String, String)> {
    let DesignForm { first_year, first_quarter, last_year, last_quarter, .. } = design;
    let DesignForm { tables, comparison, profile, profile_reason, question, text, .. } = design;
    let mut fields: Vec<(&str, String)> =
        tables.iter().map(|table| ("tables", table.code().to_owned())).collect();
    let ends = [("first", first_quarter, first_year), ("last", last_quarter, last_year)];
    let end = |quarter: Option<String>, year: Option<u16>| quarter.or(year.map(|year| year.to_string()));
    fields.extend(ends.into_iter().filter_map(|(name, quarter, year)| Some((name, end(quarter, year)?))));
    fields.extend(profile.map(|profile| ("profile", profile.code().to_owned())));
    let words = [
        ("comparison", comparison),
        ("profile_reason", profile_reason),
        ("question", question),
        ("text", text),
    ];
    fields.extend(words.into_iter().filter_map(|(name, words)| Some((name, words?))));
    fields.into_iter().map(|(name, value)| (name.to_owned(), value)).collect()
}

async fn cuts(visit: &Visit, store: &web::Data<Store>) -> Result<Vec<DataCut>, Problem> {
    let permit = visit.signed()?.permit::<ReadDataCuts>()?;
    Ok(store.read(permit, |session| session.list_cuts()).await?)
}

async fn comparisons(visit: &Visit, store: &web::Data<Store>) -> Result<Vec<Offered>, Problem> {
    let permit = visit.signed()?.permit::<DraftSummary>()?;
    Ok(store.read(permit, offered).await?)
}

/// Previews what was chosen; keeps it as a draft when that was asked.
#[post("/releases/new")]
pub(in crate::pages) async fn send(
    permit: Permit<DraftSummary>,
    visit: Visit,
    posted: Posted,
    store: web::Data<Store>,
) -> Result<HttpResponse, Problem> {
    let permits = [permit, visit.signed()?.permit()?];
    let found = match composed(permits, &posted, &store).await? {
        Ok(composed) if posted.one("do") == "keep" => {
            let keep = visit.signed()?.permit::<DraftSummary>()?;
            let kept = store.write(keep, move |session| session.draft_summary(&composed.new));
            let id: Result<SummaryId, StoreError> = kept.await;
            return Ok(see_other(&format!("/releases/{}", id?)));
        }
        Ok(composed) => Found::Preview(Box::new(composed)),
        Err(troubles) => Found::Troubles(troubles),
    };
    let refused = matches!(found, Found::Troubles(_));
    let (cuts, offered) = (cuts(&visit, &store).await?, comparisons(&visit, &store).await?);
    let draft = Draft { typed: posted, cuts, offered, found };
    let frame = visit.frame(&store).await?;
    if refused {
        return Ok(frame.refuse(&page("Must be mended: compose a summary", draft.draw(&frame))));
    }
    Ok(frame.show(&page("Compose a summary", draft.draw(&frame))))
}

async fn composed(
    permits: [Permit<DraftSummary>; 2],
    posted: &Posted,
    store: &web::Data<Store>,
) -> Result<Result<Composed, Troubles>, Problem> {
    let (Ok(cut), Some(design)) = (posted.one("cut").parse(), design(posted)) else {
        return Ok(Err(Troubles::with("cut", "Choose a data cut.")));
    };
    let reader = store.get_ref().clone();
    let made = web::block(move || summaries::compose(&reader, permits, cut, design)).await;
    match made.map_err(|_| Problem::busy())? {
        Ok(composed) => Ok(Ok(composed)),
        Err(RegistryError::Design(problems)) => {
            let trouble = |DesignProblem { field, why }: &DesignProblem| Trouble {
                field: FieldId::of(on_page(field)),
                sentence: sentence(why),
            };
            let rows = problems.iter().map(trouble).collect();
            Troubles::of_rows(rows).map(Err).ok_or_else(|| RegistryError::Design(problems).into())
        }
        Err(error @ RegistryError::Discloses(_)) => Ok(Err(Troubles::with("tables", sentence(error)))),
        Err(other) => Ok(Err(Troubles::of(other)?)),
    }
}

/// The field of the page in which a field of a design stands: an end of the period is one of them,
/// whether it is a year or a quarter.
fn on_page(field: &'static str) -> &'static str {
    match field {
        "/first_year" | "/first_quarter" => "/first",
        "/last_year" | "/last_quarter" => "/last",
        other => other,
    }
}

/// The design as it was chosen; nothing where a value is none of the menu's.
fn design(posted: &Posted) -> Option<DesignForm> {
    let text = |name: &str| Some(posted.one(name).to_owned()).filter(|text| !text.trim().is_empty());
    // What is no year is refused as a quarter.
    let end = |name: &str| match text(name) {
        Some(typed) => typed.trim().parse::<u16>().map_or((None, Some(typed)), |year| (Some(year), None)),
        None => (None, None),
    };
    let (first_year, first_quarter) = end("first");
    let (last_year, last_quarter) = end("last");
    Some(DesignForm {
        first_year,
        first_quarter,
        last_year,
        last_quarter,
        tables: posted.all("tables").map(SummaryTable::from_code).collect::<Option<_>>()?,
        comparison: text("comparison"),
        profile: DisclosureProfile::from_code(posted.one("profile")),
        profile_reason: text("profile_reason"),
        question: text("question"),
        text: text("text"),
    })
}

enum Found {
    Nothing,
    Troubles(Troubles),
    Preview(Box<Composed>),
}

struct Draft {
    typed: Posted,
    cuts: Vec<DataCut>,
    offered: Vec<Offered>,
    found: Found,
}

impl Draft {
    fn draw(&self, frame: &Frame) -> Markup {
        html! {
            div.title {
                div {
                    h1 { "Compose a summary" }
                    p.quiet { "Everything is chosen from a fixed menu, so that no two summaries can be subtracted from each other. Small counts are hidden before you see them." }
                }
                a href="/releases" { "All releases" }
            }
            @if let Found::Troubles(troubles) = &self.found { (error_summary(troubles, "this summary can be composed")) }
            form method="post" action="/releases/new" {
                (frame.token())
                // The first button is the one that the Enter key presses.
                button type="submit" name="do" value="preview" hidden {}
                (self.numbers())
                (self.words())
                (self.foot())
            }
            @if let Found::Preview(composed) = &self.found {
                section id="preview" {
                    h2 { "What the public will read" }
                    (super::one::as_published(&composed.summary))
                }
                (learnt::section(&composed.learnt))
            }
        }
    }

    fn row<'a>(&self, name: &str, (label, second): (&'a str, &'a str), control: Control<'a>) -> FieldRow<'a> {
        let troubles = match &self.found {
            Found::Troubles(troubles) => Some(troubles),
            Found::Nothing | Found::Preview(_) => None,
        };
        FieldRow::of_form(name, label, Some(second).filter(|second| !second.is_empty()), control, troubles)
    }

    fn numbers(&self) -> Markup {
        let ids: Vec<String> = self.cuts.iter().map(|cut| cut.id.to_string()).collect();
        let chosen = |name: &'static str| Some(self.typed.one(name)).filter(|value| !value.is_empty());
        let cut = Control::Picker(Picker {
            name: "cut",
            picks: ids.iter().zip(&self.cuts).map(|(id, cut)| Pick::plain(id, &cut.name)).collect(),
            chosen: chosen("cut"),
        });
        let end = |name| Control::Text(Text { name, value: self.typed.one(name), number_in: None });
        let tables = Control::Choices(Choices {
            name: "tables",
            picks: SummaryTable::LIST.codes.iter().map(Pick::of).collect(),
            chosen: self.typed.all("tables").collect(),
        });
        let named = |offered: &Offered| {
            let cut = self.cuts.iter().find(|cut| cut.id == offered.cut).map_or("", |cut| &cut.name);
            (offered.id.to_string(), format!("Plan {} on “{cut}”: {}", offered.plan, offered.title))
        };
        let offered: Vec<(String, String)> = self.offered.iter().map(named).collect();
        let comparison = Control::Picker(Picker {
            name: "comparison",
            picks: offered.iter().map(|(id, name)| Pick::plain(id, name)).collect(),
            chosen: chosen("comparison"),
        });
        let profile = Control::Choice(Choice {
            name: "profile",
            picks: DisclosureProfile::LIST.codes.iter().map(Pick::of).collect(),
            chosen: chosen("profile").or(Some(DisclosureProfile::Strict.code())),
        });
        let reason =
            Control::Lines(Lines { name: "profile_reason", value: self.typed.one("profile_reason") });
        let about = |code: &quietbeam_schema::vocabulary::Code| html! { p.small { b { (code.label) ": " } (code.definition) } };
        let profiles = html! { @for code in DisclosureProfile::LIST.codes { (about(code)) } };
        section(
            "1",
            "The numbers",
            html! {
                (self.row("cut", ("Data cut", ""), cut))
                (self.row("first", ("From", "a year or a quarter of the procedures, such as 2025Q3; may stay empty"), end("first")))
                (self.row("last", ("To", "a year or a quarter, itself included; may stay empty"), end("last")))
                (self.row("tables", ("Further tables", "beside procedure and strategy"), tables))
                (self.row("comparison", ("Comparison", "as planned, with a final report, on the same cut; may stay empty"), comparison))
                (FieldRow { note: Some(profiles), ..self.row("profile", ("Profile", "how much may be shown"), profile) })
                (self.row("profile_reason", ("Why two tiers", "public; whoever approves signs it"), reason))
            },
        )
    }

    fn words(&self) -> Markup {
        let question =
            Control::Text(Text { name: "question", value: self.typed.one("question"), number_in: None });
        let text = Control::Lines(Lines { name: "text", value: self.typed.one("text") });
        let note =
            html! { "No figure may stand in it: every number that the public reads has passed the check." };
        section(
            "2",
            "The words",
            html! {
                (self.row("question", ("Question", "the title; may stay empty"), question))
                (FieldRow { note: Some(note), ..self.row("text", ("In our own words", "a paragraph a line"), text) })
            },
        )
    }

    fn foot(&self) -> FormFoot<'static> {
        let button = |says: &'static str, value: &'static str| html! { button.button type="submit" name="do" value=(value) { (says) } };
        let aside = html! { "The check takes some seconds." };
        match self.found {
            Found::Preview(_) => FormFoot {
                next: None,
                send: "Keep as draft",
                does: Some("keep"),
                further: button("Preview again", "preview"),
                aside,
            },
            Found::Nothing | Found::Troubles(_) => FormFoot {
                next: None,
                send: "Preview",
                does: Some("preview"),
                further: button("Keep as draft", "keep"),
                aside,
            },
        }
    }
}

fn section(ordinal: &str, heading: &str, fields: Markup) -> Markup {
    html! {
        section.plan-section {
            div.section-head { span.ordinal aria-hidden="true" { (ordinal) } h2 { (heading) } }
            div.fields { (fields) }
        }
    }
}
