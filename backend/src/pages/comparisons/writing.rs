//! Writing into a report what only a person can say.

use actix_web::{HttpResponse, post, web};
use maud::{Markup, html};
use quietbeam_analysis::study::report::ByPerson;
use quietbeam_schema::ids::ComparisonId;
use std::collections::BTreeMap;

use super::page;
use super::report::{Extras, said};
use crate::access::Permit;
use crate::access::action::{ExportDeidentified, ReadComparisons, WriteReport};
use crate::api::Problem;
use crate::api::brought::Part;
use crate::api::comparisons::opened;
use crate::pages::components::{Control, FieldId, FieldRow, Lines, error_summary};
use crate::pages::form::Posted;
use crate::pages::frame::{Frame, Visit, may, see_other};
use crate::pages::trouble::{Trouble, Troubles};
use crate::pages::words::{moment, sentence};
use crate::registry::report_texts::{self, Texts};
use crate::registry::reports::{Found, Opened, Reports};
use crate::registry::{IfMatch, RegistryError};
use crate::store::Store;

/// The name of an item's field.
fn field(item: ByPerson) -> String {
    format!("item-{}", item.number())
}

/// The version of an item that the page showed.
fn read_field(item: ByPerson) -> String {
    format!("read-{}", item.number())
}

/// Keeps what was changed; the others stay as they are.
#[post("/comparisons/{id}")]
pub(in crate::pages) async fn write(
    permit: Permit<WriteReport>,
    visit: Visit,
    id: Part<ComparisonId>,
    posted: Posted,
    (store, reports): (web::Data<Store>, web::Data<Reports>),
) -> Result<HttpResponse, Problem> {
    let (id, sent) = (id.0, Sent::of(&posted));
    let typed = sent.clone();
    let kept = store.write(permit, move |session| {
        for (item, sent) in &sent.0 {
            // A text that nobody wrote and nobody writes is no text.
            if sent.read.is_none() && sent.text.trim().is_empty() {
                continue;
            }
            report_texts::write(session, (id, *item), sent.read.as_ref(), &sent.text)
                .map_err(|error| NotKept(*item, error))?;
        }
        Ok::<_, NotKept>(())
    });
    let troubles = match kept.await {
        Ok(()) => return Ok(see_other(&format!("/comparisons/{id}#checklist"))),
        Err(NotKept(item, error)) => mendable(item, error)?,
    };
    let look = visit.signed()?.permit::<ReadComparisons>()?;
    let opened = opened(look, visit.signed()?, id, (&store, reports)).await?;
    let frame = visit.frame(&store).await?;
    let form = form(&frame, &opened, (Some(&typed), Some(&troubles)));
    let before = error_summary(&troubles, "the texts are kept");
    let rows = may::<ExportDeidentified>(visit.signed()?);
    let (title, content) = said(&opened, Extras { rows, form, before });
    Ok(frame.refuse(&page(&format!("Must be mended: {title}"), content)))
}

/// An item with why its text was not kept.
struct NotKept(ByPerson, RegistryError);

impl From<crate::store::StoreError> for NotKept {
    fn from(error: crate::store::StoreError) -> Self {
        Self(ByPerson::Interests, error.into())
    }
}

fn mendable(item: ByPerson, error: RegistryError) -> Result<Troubles, Problem> {
    let said = match error {
        RegistryError::Field { sentence: why, .. } => sentence(why),
        RegistryError::Stale(_) | RegistryError::VersionNotNamed => {
            "Somebody wrote this since you read it. What stands there now is in the table above; put yours together with it and keep it again.".to_owned()
        }
        other => return Err(other.into()),
    };
    Ok(Trouble { field: FieldId::of(&field(item)), sentence: said }.into())
}

/// What was typed, and which version it was made from.
#[derive(Clone)]
struct Typed {
    text: String,
    read: Option<IfMatch>,
}

#[derive(Clone)]
pub(super) struct Sent(BTreeMap<ByPerson, Typed>);

impl Sent {
    fn of(posted: &Posted) -> Self {
        let typed = |item: ByPerson| {
            let read = posted.one(&read_field(item));
            let read = Some(read).filter(|version| !version.is_empty());
            let read = read.and_then(|version| IfMatch::parse(&format!("\"r{version}\"")));
            (item, Typed { text: posted.one(&field(item)).to_owned(), read })
        };
        Self(ByPerson::ALL.map(typed).into())
    }
}

/// The form under the checklist.
pub(super) fn form(
    frame: &Frame,
    opened: &Opened,
    (typed, troubles): (Option<&Sent>, Option<&Troubles>),
) -> Markup {
    if !matches!(opened.found, Found::Planned(..)) {
        return Markup::default();
    }
    html! {
        form #writing method="post" action={ "/comparisons/" (opened.kept.id) } {
            (frame.token())
            h3 { "Write what only a person can say" }
            div.fields {
                @for item in ByPerson::ALL {
                    (row(item, &opened.texts, typed, troubles))
                    @if let Some(kept) = opened.texts.kept.get(&item) {
                        input type="hidden" name=(read_field(item)) value=(kept.version);
                    }
                }
            }
            div.mends { button.button.main type="submit" { "Keep the texts" } }
            p.small { "Every version is kept with who wrote it and when. A blank takes back what stood there. Names of patients are refused." }
        }
    }
}

fn row(item: ByPerson, texts: &Texts, typed: Option<&Sent>, troubles: Option<&Troubles>) -> Markup {
    let kept = texts.kept.get(&item);
    let stands = kept.map_or("", |kept| kept.text.as_str());
    let value = typed.and_then(|sent| sent.0.get(&item)).map_or(stands, |typed| typed.text.as_str());
    let name = field(item);
    let label = format!("Item {}", item.number());
    let control = Control::Lines(Lines { name: &name, value });
    let needed = if item.is_blocking() {
        "Without it the report stays a draft."
    } else {
        "The report may do without it."
    };
    let note = html! { (needed) @if let Some(written) = written(item, texts) { " " (written) "." } };
    html! { (FieldRow { note: Some(note), ..FieldRow::of_form(&name, &label, Some(item.asks()), control, troubles) }) }
}

/// Who wrote an item, and when; `None` where nothing stands.
pub(super) fn written(item: ByPerson, texts: &Texts) -> Option<String> {
    let kept = texts.kept.get(&item)?;
    let did = if kept.text.is_empty() { "Taken back" } else { "Written" };
    Some(format!("{did} by {}, {}", texts.author(item)?, moment(kept.at)))
}
