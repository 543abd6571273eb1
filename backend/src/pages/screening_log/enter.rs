//! Entering or correcting the lines of one quarter. What was sent in is counted by the
//! registry; a person counts what was performed and eligible, and why the rest was not sent.

use actix_web::{HttpResponse, get, post, web};
use maud::{Markup, Render, html};
use quietbeam_analysis::study::numerals::count;
use quietbeam_schema::ids::CentreCode;
use quietbeam_schema::period::Quarter;
use quietbeam_schema::vocabulary::{Coded, ExclusionReason, ProcedureGroup};
use std::collections::BTreeMap;

use super::{Log, begun};
use crate::access::Permit;
use crate::access::action::{ReadScreeningLog, WriteScreeningLog};
use crate::api::Problem;
use crate::api::brought::Part;
use crate::pages::components::{Control, FieldId, FieldRow, FormFoot, Lines, State, Word, error_summary};
use crate::pages::form::{Posted, unreadable};
use crate::pages::frame::{Frame, Page, Visit, see_other};
use crate::pages::trouble::{Trouble, Troubles};
use crate::registry::screening::{self, Counted};
use crate::registry::{IfMatch, RegistryError, Version};
use crate::store::{Conflict, ScreeningLine, ScreeningRow, Store, StoreError};

#[get("/screening-log/{centre}/{period}")]
pub(in crate::pages) async fn entry_page(
    _permit: Permit<WriteScreeningLog>,
    visit: Visit,
    place: Part<(CentreCode, String)>,
    store: web::Data<Store>,
) -> Result<HttpResponse, Problem> {
    let frame = visit.frame(&store).await?;
    let sheet = Sheet::read(&visit, place.0, &store).await?;
    Ok(frame.show(&sheet.page(&frame)))
}

#[post("/screening-log/{centre}/{period}")]
pub(in crate::pages) async fn enter(
    _permit: Permit<WriteScreeningLog>,
    visit: Visit,
    place: Part<(CentreCode, String)>,
    posted: Posted,
    store: web::Data<Store>,
) -> Result<HttpResponse, Problem> {
    let mut sheet = Sheet::read(&visit, place.0, &store).await?;
    let (centre, period) = (sheet.centre, sheet.quarter);
    let mut saved = 0;
    for group in ProcedureGroup::all() {
        let typed = Typed::read(&posted, *group)?;
        let line = ScreeningLine { centre, period, group: *group };
        if !sheet.is_new(&typed, line) {
            continue;
        }
        let counted = match typed.counted(posted.one("reason")) {
            Ok(counted) => counted,
            Err(troubles) => {
                sheet.refuse(*group, typed, troubles);
                continue;
            }
        };
        let read = typed.read.clone();
        let permit = visit.signed()?.permit::<WriteScreeningLog>()?;
        let work = store
            .write(permit, move |session| screening::record_counted(session, line, read.as_ref(), counted));
        match work.await {
            Ok(_) => saved += 1,
            Err(error) => {
                let troubles = troubles(error, *group)?;
                sheet.refuse(*group, typed, troubles);
            }
        }
    }
    if sheet.troubles.is_empty() {
        return Ok(see_other(&format!("/screening-log?saved={saved}#{period}")));
    }
    // What was in order stands there now.
    let mut now = Sheet::read(&visit, (centre, sheet.quarter.to_string()), &store).await?;
    (now.typed, now.troubles) = (sheet.typed, sheet.troubles);
    now.reason = posted.one("reason").to_owned();
    let frame = visit.frame(&store).await?;
    Ok(frame.refuse(&now.page(&frame)))
}

/// What must be mended in a line, each at its box.
fn troubles(error: RegistryError, group: ProcedureGroup) -> Result<Vec<Trouble>, Problem> {
    let at = |field: &str, sentence: String| vec![Trouble { field: box_id(group, field), sentence }];
    match error {
        RegistryError::Stale(_)
        | RegistryError::VersionNotNamed
        | RegistryError::Store(StoreError::Conflict(Conflict::StaleRevision { .. } | Conflict::Race)) => {
            let sentence = "Somebody else changed this line after you opened the page; it was not overwritten. Compare the two.";
            Ok(at(PERFORMED, sentence.to_owned()))
        }
        RegistryError::Field { field: "/reason", .. } => {
            let sentence = "A line that stands there is corrected: say why, in at least 3 characters, without names or dates.";
            Ok(vec![Trouble { field: FieldId::of("reason"), sentence: sentence.to_owned() }])
        }
        RegistryError::Field { field, sentence, .. } => Ok({
            // The sentence of the schema begins with the name of its field.
            let said = sentence.split_once(": ").map_or(sentence.as_str(), |(_, said)| said);
            let sentence = format!("{}: {said}.", group.label());
            match field {
                "/counts/eligible" | "/counts/submitted" => at(ELIGIBLE, sentence),
                "/counts/excluded" => at(ExclusionReason::Age.code(), sentence),
                _ => at(PERFORMED, sentence),
            }
        }),
        other => Err(other.into()),
    }
}

const PERFORMED: &str = "performed";
const ELIGIBLE: &str = "eligible";

/// The boxes of a line: its own two numbers, and one a reason.
fn boxes() -> impl Iterator<Item = (&'static str, &'static str)> {
    let own = [(PERFORMED, "Performed"), (ELIGIBLE, "Eligible")];
    own.into_iter().chain(ExclusionReason::all().iter().map(|reason| (reason.code(), reason.label())))
}

fn box_id(group: ProcedureGroup, field: &str) -> FieldId {
    FieldId::of(&format!("{}-{field}", group.code()))
}

/// A line as it was typed, and the revision that was looked at.
struct Typed {
    group: ProcedureGroup,
    read: Option<IfMatch>,
    texts: BTreeMap<&'static str, String>,
}

impl Typed {
    fn read(posted: &Posted, group: ProcedureGroup) -> Result<Self, Problem> {
        let read = match posted.one(box_id(group, "read").as_str()) {
            "" => None,
            text => Some(IfMatch::parse(text).ok_or_else(unreadable)?),
        };
        let text = |field| posted.one(box_id(group, field).as_str()).trim().to_owned();
        Ok(Self { group, read, texts: boxes().map(|(field, _)| (field, text(field))).collect() })
    }

    /// What stands in a line already.
    fn of(row: &ScreeningRow) -> Self {
        let counts = &row.counts;
        let mut texts = BTreeMap::from([
            (PERFORMED, counts.performed().to_string()),
            (ELIGIBLE, counts.eligible().to_string()),
        ]);
        for reason in ExclusionReason::all() {
            let number = counts.excluded().get(reason).filter(|number| **number > 0);
            texts.insert(reason.code(), number.map_or_else(String::new, u32::to_string));
        }
        let read = IfMatch::parse(&Version::of_revision(row.revision).etag());
        Self { group: row.line.group, read, texts }
    }

    fn is_blank(&self) -> bool {
        self.texts.values().all(String::is_empty)
    }

    /// The numbers; the two own ones must be there, a reason without a number is none.
    fn counted(&self, reason: &str) -> Result<Counted, Vec<Trouble>> {
        let mut troubles = Vec::new();
        let mut numbers = BTreeMap::new();
        for (field, label) in boxes() {
            let text = self.texts.get(field).map_or("", String::as_str);
            let own = field == PERFORMED || field == ELIGIBLE;
            match text.parse::<u32>() {
                Ok(number) => drop(numbers.insert(field, number)),
                Err(_) if text.is_empty() && !own => {}
                Err(_) => troubles.push(Trouble {
                    field: box_id(self.group, field),
                    sentence: format!(
                        "{}, {}: write a whole number, 0 where there was none.",
                        self.group.label(),
                        label.to_lowercase()
                    ),
                }),
            }
        }
        if !troubles.is_empty() {
            return Err(troubles);
        }
        let number = |field: &str| numbers.get(field).copied().unwrap_or(0);
        let excluded = ExclusionReason::all().iter().map(|reason| (*reason, number(reason.code())));
        Ok(Counted {
            performed: number(PERFORMED),
            eligible: number(ELIGIBLE),
            excluded: excluded.filter(|(_, number)| *number > 0).collect(),
            reason: self.read.as_ref().map(|_| reason.to_owned()),
        })
    }
}

/// The lines of one quarter, as they stand and as they were typed.
struct Sheet {
    log: Log,
    centre: CentreCode,
    quarter: Quarter,
    typed: BTreeMap<ProcedureGroup, Typed>,
    troubles: Vec<Trouble>,
    reason: String,
}

impl Sheet {
    async fn read(
        visit: &Visit,
        (centre, period): (CentreCode, String),
        store: &Store,
    ) -> Result<Self, Problem> {
        let caller = visit.signed()?;
        let log = Log::read(caller.permit::<ReadScreeningLog>()?, caller, store).await?;
        let quarter = begun(&period, log.now)?;
        if !log.own.contains(&centre) {
            return Err(Problem::absent());
        }
        let (typed, troubles) = (BTreeMap::new(), Vec::new());
        Ok(Self { log, centre, quarter, typed, troubles, reason: String::new() })
    }

    fn line(&self, group: ProcedureGroup) -> ScreeningLine {
        ScreeningLine { centre: self.centre, period: self.quarter, group }
    }

    fn held(&self, group: ProcedureGroup) -> u32 {
        self.log.cases.get(&self.line(group)).copied().unwrap_or(0)
    }

    /// Whether a line says something that does not stand there yet.
    fn is_new(&self, typed: &Typed, line: ScreeningLine) -> bool {
        match self.log.rows.get(&line) {
            None => !typed.is_blank(),
            Some(row) => {
                Typed::of(row).texts != typed.texts || row.counts.submitted() != self.held(line.group)
            }
        }
    }

    fn refuse(&mut self, group: ProcedureGroup, typed: Typed, troubles: Vec<Trouble>) {
        for trouble in troubles {
            // One reason serves every line, so it is asked for once.
            if !self.troubles.contains(&trouble) {
                self.troubles.push(trouble);
            }
        }
        self.typed.insert(group, typed);
    }

    fn page(&self, frame: &Frame) -> Page {
        let content = html! {
            @if let Some(troubles) = Troubles::of_rows(self.troubles.clone()) {
                (error_summary(&troubles, "every line is kept"))
            }
            div.title {
                div {
                    h1 { "Screening log, " (self.quarter) }
                    p.quiet { "Centre " (self.centre) ". Count every ablation once. A line that stays empty is not entered." }
                }
                a href={ "/screening-log#" (self.quarter) } { "The log" }
            }
            form.log-sheet method="post" action=(Log::address(self.centre, self.quarter, "")) {
                (frame.token())
                @for group in ProcedureGroup::all() { (self.group(*group)) }
                @if self.log.rows.keys().any(|line| line.centre == self.centre && line.period == self.quarter) {
                    div.fields { (self.why()) }
                }
                (FormFoot {
                    next: None,
                    send: "Save the lines",
                    does: None,
                    further: Markup::default(),
                    aside: html! { "The reasons add up to what was performed and not sent in." },
                })
            }
        };
        Page { title: format!("Screening log {}", self.quarter), word: Some(Word::ScreeningLog), content }
    }

    fn why(&self) -> Markup {
        let id = FieldId::of("reason");
        FieldRow {
            state: state(&self.troubles, &id),
            id,
            label: "Why lines are corrected",
            second: Some("only where one stood already"),
            control: Control::Lines(Lines { name: "reason", value: &self.reason }),
            note: Some(html! { "A correction makes the signature of its line void." }),
            help: None,
        }
        .render()
    }

    fn group(&self, group: ProcedureGroup) -> Markup {
        let row = self.log.rows.get(&self.line(group));
        let stands = row.map(Typed::of);
        let typed = self.typed.get(&group).or(stands.as_ref());
        let read = row.map(|row| Version::of_revision(row.revision).etag()).unwrap_or_default();
        let text = |field: &str| typed.and_then(|typed| typed.texts.get(field)).map_or("", String::as_str);
        html! {
            fieldset.sheet.log-group {
                legend.unseen { (group.label()) }
                input type="hidden" name=(box_id(group, "read")) value=(read);
                h2 { (group.label()) }
                div.boxes {
                    @for (at, (field, label)) in boxes().enumerate() {
                        (self.number_box(group, (field, label), text(field), at == 2))
                    }
                }
                p.small { "Sent in: " b { (count(self.held(group))) } ", counted by the registry." }
            }
        }
    }

    fn number_box(
        &self,
        group: ProcedureGroup,
        (field, label): (&str, &str),
        text: &str,
        begins: bool,
    ) -> Markup {
        let id = box_id(group, field);
        let said = self.troubles.iter().find(|trouble| trouble.field == id);
        let message = format!("{}-message", id.as_str());
        html! {
            div.box.begins[begins] {
                @if begins { span.small.why-not { "Not sent in, because" } }
                label.label for=(id) { (label) }
                input.input.number.short id=(id) name=(id) value=(text) inputmode="numeric" autocomplete="off"
                    aria-invalid=[said.map(|_| "true")] aria-describedby=[said.map(|_| &message)];
                @if let Some(trouble) = said {
                    p.message.hard id=(message) { b { "Must be mended." } " " (trouble.sentence) }
                }
            }
        }
    }
}

fn state(troubles: &[Trouble], id: &FieldId) -> State {
    match troubles.iter().find(|trouble| trouble.field == *id) {
        Some(trouble) => State::MustBeMended { sentence: trouble.sentence.clone() },
        None => State::Quiet,
    }
}
