//! Composing a summary from menus: a preview shows what the public will read and what could be
//! learnt from it, before anything is kept.

use actix_web::{HttpResponse, get, post, web};
use maud::{Markup, html};
use quietbeam_analysis::study::numerals::count as grouped;
use quietbeam_schema::ids::SummaryId;
use quietbeam_schema::summary_design::{DesignForm, DesignProblem};
use quietbeam_schema::vocabulary::{Code, Coded, DisclosureProfile, ProfileNumber, SummaryTable, ToldFirst};
use serde::Deserialize;
use std::collections::BTreeMap;

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
    let DesignForm { tables, comparison, told_first, profile, profile_numbers, profile_reason, .. } = design;
    let DesignForm { question, text, .. } = design;
    let mut fields: Vec<(&str, String)> =
        tables.iter().map(|table| ("tables", table.code().to_owned())).collect();
    let ends = [("first", first_quarter, first_year), ("last", last_quarter, last_year)];
    let end = |quarter: Option<String>, year: Option<u16>| quarter.or(year.map(|year| year.to_string()));
    fields.extend(ends.into_iter().filter_map(|(name, quarter, year)| Some((name, end(quarter, year)?))));
    fields.extend(told_first.map(|first| ("told_first", first.code().to_owned())));
    fields.extend(profile.map(|profile| ("profile", profile.code().to_owned())));
    let words = [
        ("comparison", comparison),
        ("profile_reason", profile_reason),
        ("question", question),
        ("text", text),
    ];
    fields.extend(words.into_iter().filter_map(|(name, words)| Some((name, words?))));
    let numbers = profile_numbers.into_iter().map(|(number, value)| (named(number), value.to_string()));
    fields.into_iter().map(|(name, value)| (name.to_owned(), value)).chain(numbers).collect()
}

/// The field in which a number of the profile is typed.
fn named(number: ProfileNumber) -> String {
    format!("profile_numbers-{}", number.code())
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
    let Ok(cut) = posted.one("cut").parse() else {
        return Ok(Err(Troubles::with("cut", "Choose a data cut.")));
    };
    let design = match design(posted) {
        Ok(design) => design,
        Err(troubles) => return Ok(Err(troubles)),
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

/// The design as it was chosen and typed.
fn design(posted: &Posted) -> Result<DesignForm, Troubles> {
    let text = |name: &str| Some(posted.one(name).to_owned()).filter(|text| !text.trim().is_empty());
    // What is no year is refused as a quarter.
    let end = |name: &str| match text(name) {
        Some(typed) => typed.trim().parse::<u16>().map_or((None, Some(typed)), |year| (Some(year), None)),
        None => (None, None),
    };
    let (first_year, first_quarter) = end("first");
    let (last_year, last_quarter) = end("last");
    let tables = posted.all("tables").map(SummaryTable::from_code).collect::<Option<_>>();
    Ok(DesignForm {
        first_year,
        first_quarter,
        last_year,
        last_quarter,
        tables: tables.ok_or_else(|| Troubles::with("tables", "Choose tables from the list."))?,
        comparison: text("comparison"),
        told_first: ToldFirst::from_code(posted.one("told_first")),
        profile: DisclosureProfile::from_code(posted.one("profile")),
        profile_numbers: numbers(posted)?,
        profile_reason: text("profile_reason"),
        question: text("question"),
        text: text("text"),
    })
}

/// The numbers of the profile that were typed, as far as each is one.
fn numbers(posted: &Posted) -> Result<BTreeMap<ProfileNumber, u32>, Troubles> {
    let (mut read, mut troubles) = (BTreeMap::new(), Vec::new());
    for number in ProfileNumber::all() {
        let name = named(*number);
        match posted.one(&name).trim() {
            "" => {}
            typed => match typed.parse() {
                Ok(value) => drop(read.insert(*number, value)),
                Err(_) => troubles.push(Trouble {
                    field: FieldId::of(&name),
                    sentence: format!(
                        "“{}” is a whole number; write it in digits alone, or leave it out.",
                        number.label()
                    ),
                }),
            },
        }
    }
    Troubles::of_rows(troubles).map_or(Ok(read), Err)
}

/// What each of some codes means.
fn definitions(codes: &[Code]) -> Markup {
    html! { @for code in codes { p.small { b { (code.label) ": " } (code.definition) } } }
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
                    @if composed.summary.shows_nothing() {
                        p { b { "No count above zero may be shown" } ", by these numbers and beside all that was published before. Lower numbers of the profile may show more; so will more cases." }
                    }
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
        let told_first = Control::Choice(Choice {
            name: "told_first",
            picks: ToldFirst::LIST.codes.iter().map(Pick::of).collect(),
            chosen: chosen("told_first").or(Some(ToldFirst::Tables.code())),
        });
        section(
            "1",
            "The numbers",
            html! {
                (self.row("cut", ("Data cut", ""), cut))
                (self.row("first", ("From", "a year or a quarter of the procedures, such as 2025Q3; may stay empty"), end("first")))
                (self.row("last", ("To", "a year or a quarter, itself included; may stay empty"), end("last")))
                (self.row("tables", ("Further tables", "beside procedure and strategy"), tables))
                (self.row("comparison", ("Comparison", "as planned, with a final report, on the same cut; may stay empty"), comparison))
                (FieldRow { note: Some(definitions(ToldFirst::LIST.codes)), ..self.row("told_first", ("Told first", "with a comparison, where not everything can be told"), told_first) })
                (self.profile())
            },
        )
    }

    /// How much may be shown, its numbers and the reason.
    fn profile(&self) -> Markup {
        let chosen = Some(self.typed.one("profile")).filter(|value| !value.is_empty());
        let profile = Control::Choice(Choice {
            name: "profile",
            picks: DisclosureProfile::LIST.codes.iter().map(Pick::of).collect(),
            chosen: chosen.or(Some(DisclosureProfile::Strict.code())),
        });
        let reason =
            Control::Lines(Lines { name: "profile_reason", value: self.typed.one("profile_reason") });
        let about_reason = html! { "Only where it shows more than the standard strict profile: two tiers, or a lower number." };
        let typed = ProfileNumber::all().iter().any(|number| !self.typed.one(&named(*number)).is_empty());
        html! {
            (FieldRow { note: Some(definitions(DisclosureProfile::LIST.codes)), ..self.row("profile", ("Profile", "how much may be shown"), profile) })
            details.fold.in-fields open[typed || matches!(self.found, Found::Troubles(_))] {
                summary { "Numbers of the profile" }
                p.small { "Empty: the standard one. A higher number shows less; a lower one shows more and needs the reason below. Each summary is checked by its own numbers, together with all before it: a later one with lower numbers may tell what this one hides." }
                @for number in ProfileNumber::all() { (self.number(*number)) }
            }
            (FieldRow { note: Some(about_reason), ..self.row("profile_reason", ("Why it shows more", "public; whoever approves signs it"), reason) })
        }
    }

    fn number(&self, number: ProfileNumber) -> Markup {
        let (name, range) = (named(number), number.range());
        let [least, standard, most] =
            [*range.start(), number.standard(), *range.end()].map(|of: u32| grouped(of));
        let second = format!("standard {standard}; from {least} to {most}");
        let typed = Control::Text(Text { name: &name, value: self.typed.one(&name), number_in: Some("") });
        let about = html! { (ProfileNumber::LIST.codes[number.position()].definition) };
        html! { (FieldRow { note: Some(about), ..self.row(&name, (number.label(), &second), typed) }) }
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
