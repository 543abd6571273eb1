//! Writing a plan, and amending one: each choice with what it does, and what it costs in
//! cases before it is registered.

use actix_web::{HttpResponse, get, post, web};
use maud::{Markup, html};
use quietbeam_analysis::study::endpoint::Endpoint;
use quietbeam_analysis::study::plan::{EVERY_PLAN, costs};
use quietbeam_schema::ids::PlanId;
use quietbeam_schema::vocabulary::{
    AgeBand, CodeList, Coded, Covariate, Exclusion, MissingCovariate, NearZeroCases, PrimaryMethod,
    ProcedureGroup, ProcedureType, Sensitivity, SpendingFunction, Strata, SubgroupBy,
};

use super::typed::{Typed, TypedEndpoint, troubles};
use super::{cost, margin, name, page};
use crate::access::Permit;
use crate::access::action::RegisterPlan;
use crate::api::Problem;
use crate::api::brought::Part;
use crate::pages::components::{
    Choice, Choices, Control, FieldRow, FormFoot, Lines, Pick, Picker, Text, error_summary,
};
use crate::pages::form::Posted;
use crate::pages::frame::{Frame, Visit, see_other};
use crate::pages::trouble::Troubles;
use crate::registry::RegistryError;
use crate::registry::plans::{self, Prepared};
use crate::store::{Plan, Store};

#[get("/plans/new")]
pub(in crate::pages) async fn new_plan(
    _permit: Permit<RegisterPlan>,
    visit: Visit,
    store: web::Data<Store>,
) -> Result<HttpResponse, Problem> {
    let frame = visit.frame(&store).await?;
    let form = Form { frame: &frame, amends: None, typed: Typed::default(), found: Found::Nothing };
    Ok(frame.show(&page("Write a plan", form.draw())))
}

#[post("/plans/new")]
pub(in crate::pages) async fn register(
    permit: Permit<RegisterPlan>,
    visit: Visit,
    posted: Posted,
    store: web::Data<Store>,
) -> Result<HttpResponse, Problem> {
    taken(permit, &visit, &posted, None, &store).await
}

#[get("/plans/{id}/amend")]
pub(in crate::pages) async fn amendment(
    permit: Permit<RegisterPlan>,
    visit: Visit,
    id: Part<PlanId>,
    store: web::Data<Store>,
) -> Result<HttpResponse, Problem> {
    let kept = store.read(permit, move |session| session.find_plan(id.0)).await?;
    let typed = Typed::from(&plans::read(&kept)?);
    let frame = visit.frame(&store).await?;
    let title = format!("Amend plan {}", name(&kept));
    let form = Form { frame: &frame, amends: Some(&kept), typed, found: Found::Nothing };
    Ok(frame.show(&page(&title, form.draw())))
}

#[post("/plans/{id}/amend")]
pub(in crate::pages) async fn amend(
    permit: Permit<RegisterPlan>,
    visit: Visit,
    id: Part<PlanId>,
    posted: Posted,
    store: web::Data<Store>,
) -> Result<HttpResponse, Problem> {
    let kept = store.read(permit, move |session| session.find_plan(id.0)).await?;
    let again = visit.signed()?.permit()?;
    taken(again, &visit, &posted, Some(kept), &store).await
}

/// Checks what was typed; registers it when that was asked and nothing must be mended.
async fn taken(
    permit: Permit<RegisterPlan>,
    visit: &Visit,
    posted: &Posted,
    amends: Option<Plan>,
    store: &web::Data<Store>,
) -> Result<HttpResponse, Problem> {
    let typed = Typed::of(posted);
    let reader = store.get_ref().clone();
    let form = typed.form();
    let prepared = web::block(move || plans::prepare(&reader, permit, form)).await;
    let found = match prepared.map_err(|_| Problem::busy())? {
        Ok(prepared) if posted.one("do") == "register" => {
            let keep = visit.signed()?.permit::<RegisterPlan>()?;
            match kept(keep, prepared, amends.as_ref(), &typed.reason, store).await {
                Ok(plan) => return Ok(see_other(&format!("/plans/{}", plan.id))),
                Err(error) => Found::Troubles(mendable(error)?),
            }
        }
        Ok(prepared) => Found::Costs(Box::new(prepared)),
        Err(error) => Found::Troubles(mendable(error)?),
    };
    let frame = visit.frame(store).await?;
    let refused = matches!(found, Found::Troubles(_));
    let form = Form { frame: &frame, amends: amends.as_ref(), typed, found };
    let what = amends.as_ref().map_or("Write a plan".to_owned(), |plan| format!("Amend plan {}", name(plan)));
    if refused {
        return Ok(frame.refuse(&page(&format!("Must be mended: {}", what.to_lowercase()), form.draw())));
    }
    Ok(frame.show(&page(&what, form.draw())))
}

async fn kept(
    permit: Permit<RegisterPlan>,
    prepared: Prepared,
    amends: Option<&Plan>,
    reason: &str,
    store: &Store,
) -> Result<Plan, RegistryError> {
    let (amends, reason) = (amends.map(|plan| plan.id), reason.to_owned());
    store
        .write(permit, move |session| match amends {
            Some(id) => prepared.amend(session, id, &reason),
            // A button pressed twice registers one plan.
            None => match prepared.same(session)? {
                Some(plan) => Ok(plan),
                None => prepared.register(session),
            },
        })
        .await
}

/// What the investigator can mend; anything else goes on as it is.
fn mendable(error: RegistryError) -> Result<Troubles, Problem> {
    match error {
        RegistryError::Plan(refusal) => troubles(&refusal).ok_or_else(|| RegistryError::Plan(refusal).into()),
        RegistryError::Field { field: "/plan", sentence, .. } => {
            Ok(Troubles::with("title", crate::pages::words::sentence(sentence)))
        }
        RegistryError::Field { field: "/endpoints", sentence, .. } => {
            Ok(Troubles::with("endpoints-0-reason", crate::pages::words::sentence(sentence)))
        }
        other => Ok(Troubles::of(other)?),
    }
}

/// What the check found.
enum Found {
    /// Nothing was checked yet.
    Nothing,
    /// What must be mended.
    Troubles(Troubles),
    /// The plan can be registered, at these costs.
    Costs(Box<Prepared>),
}

struct Form<'f> {
    frame: &'f Frame,
    amends: Option<&'f Plan>,
    typed: Typed,
    found: Found,
}

impl Form<'_> {
    fn draw(&self) -> Markup {
        let (address, heading) = match self.amends {
            Some(plan) => (format!("/plans/{}/amend", plan.id), format!("Amend plan {}", name(plan))),
            None => ("/plans/new".to_owned(), "Write a plan".to_owned()),
        };
        html! {
            div.title {
                div {
                    h1 { (heading) }
                    p.quiet { "Fix the question before the data are looked at. A registered plan never changes; an amendment is a further version with its reason." }
                }
                a href="/plans" { "All plans" }
            }
            @match &self.found {
                Found::Troubles(troubles) => (error_summary(troubles, "this plan can be registered")),
                Found::Costs(prepared) => div.costs.lit { (cost::section(&costs(&prepared.plan), Some(&prepared.reach))) },
                Found::Nothing => {},
            }
            form method="post" action=(address) {
                (self.frame.token())
                // The first button is the one that the Enter key presses.
                button type="submit" name="do" value="check" hidden {}
                (self.question())
                (self.cases())
                @for (at, endpoint) in self.typed.endpoints.iter().enumerate() { (self.endpoint(at, endpoint)) }
                (self.estimate())
                (self.looks())
                @if self.amends.is_some() { (self.why()) }
                section.plan-fixed {
                    h2 { "What every plan here does" }
                    ul.always { @for sentence in EVERY_PLAN { li { (sentence) } } }
                }
                (self.foot())
            }
        }
    }

    fn troubles(&self) -> Option<&Troubles> {
        match &self.found {
            Found::Troubles(troubles) => Some(troubles),
            _ => None,
        }
    }

    fn row<'a>(
        &'a self,
        name: &str,
        (label, second): (&'a str, &'a str),
        control: Control<'a>,
        note: Option<Markup>,
    ) -> FieldRow<'a> {
        let second = Some(second).filter(|second| !second.is_empty());
        FieldRow { note, ..FieldRow::of_form(name, label, second, control, self.troubles()) }
    }

    fn question(&self) -> Markup {
        let title = Control::Text(Text { name: "title", value: &self.typed.title, number_in: None });
        let question = Control::Lines(Lines { name: "question", value: &self.typed.question });
        section(
            "1",
            "The question",
            html! {
                (self.row("title", ("Title", "a few words"), title, None))
                (self.row("question", ("Question", "one sentence"), question, Some(html! { "Every report prints it above its answer." })))
            },
        )
    }

    fn cases(&self) -> Markup {
        let groups = choices::<ProcedureGroup>("eligibility-procedure_groups", &self.typed.procedure_groups);
        let types = Control::Choices(Choices {
            name: "eligibility-procedures",
            picks: ablations().collect(),
            chosen: self.typed.procedures.iter().map(String::as_str).collect(),
        });
        let ages = choices::<AgeBand>("eligibility-age_bands", &self.typed.age_bands);
        let least = Control::Text(Text {
            name: "eligibility-least_capture",
            value: &self.typed.least_capture,
            number_in: Some("%"),
        });
        let near_zero = Control::Choice(Choice {
            name: "near_zero",
            picks: NearZeroCases::LIST.codes.iter().map(Pick::of).collect(),
            chosen: some(&self.typed.near_zero).or(Some(NearZeroCases::InNeitherArm.code())),
        });
        let exclude = choices::<Exclusion>("eligibility-exclude", &self.typed.exclude);
        section(
            "2",
            "Which cases",
            html! {
                (self.row("eligibility-procedure_groups", ("Procedures", "whole groups"), groups, Some(html! { "Cases of other groups are counted and left out." })))
                (self.row("eligibility-procedures", ("Single types", "of other groups"), types, Some(html! { "A type instead of its whole group makes the question sharper and costs cases: those of the other types answer nothing." })))
                (self.row("eligibility-age_bands", ("Ages", "all, unless some are chosen"), ages, Some(html! { "Choosing ages says for whom the answer holds and costs the cases of all others." })))
                (self.row("near_zero", ("Near-zero", "where a brief use was intended"), near_zero, Some(definitions(NearZeroCases::LIST))))
                (self.row("eligibility-exclude", ("Left out of them", ""), exclude, Some(definitions(Exclusion::LIST))))
                (self.row("eligibility-least_capture", ("Sent in", "of a centre's eligible ablations, at least"), least, Some(html! { "Only where centres that sent in too few are left out." })))
            },
        )
    }

    fn endpoint(&self, at: usize, typed: &TypedEndpoint) -> Markup {
        let id = |field: &str| format!("endpoints-{at}-{field}");
        let (endpoint, scale, margin) = (id("endpoint"), id("scale"), id("margin"));
        let (expected, reason, source) = (id("expected"), id("reason"), id("source"));
        let picks = Endpoint::ALL.iter().map(|one| Pick::plain(one.code(), one.label())).collect();
        let chosen = Some(typed.endpoint.as_str()).filter(|code| !code.is_empty());
        let per_cent = |name, value| Control::Text(Text { name, value, number_in: Some("%") });
        let order =
            if at == 0 { "tested first" } else { "tested only if the one before is shown; may stay empty" };
        section(
            ["3", "4", "5"][at],
            ["First endpoint", "Second endpoint", "Third endpoint"][at],
            html! {
                (self.row(&endpoint, ("Endpoint", order), Control::Picker(Picker { name: &endpoint, picks, chosen }), Some(meanings())))
                (margin::rows((&scale, &typed.scale), (&margin, &typed.margin), self.troubles()))
                (self.row(&expected, ("Expected", "in the conventional arm"), per_cent(&expected, &typed.expected), Some(html! { "For the number of cases only." })))
                (self.row(&reason, ("Why so much", "at least 20 characters"), Control::Lines(Lines { name: &reason, value: &typed.reason }), Some(html! { "A margin without a reason is refused." })))
                (self.row(&source, ("Source", "of the reason"), Control::Text(Text { name: &source, value: &typed.source, number_in: None }), None))
            },
        )
    }

    fn estimate(&self) -> Markup {
        let method = Control::Choice(Choice {
            name: "method",
            picks: PrimaryMethod::LIST.codes.iter().map(Pick::of).collect(),
            chosen: some(&self.typed.method),
        });
        let strata = Control::Choice(Choice {
            name: "strata",
            picks: Strata::LIST.codes.iter().map(Pick::of).collect(),
            chosen: some(&self.typed.strata).or(Some(Strata::Centres.code())),
        });
        let covariates = choices::<Covariate>("covariates", &self.typed.covariates);
        let missing = Control::Choice(Choice {
            name: "missing_covariates",
            picks: MissingCovariate::LIST.codes.iter().map(Pick::of).collect(),
            chosen: some(&self.typed.missing_covariates),
        });
        let sensitivity = choices::<Sensitivity>("sensitivity", &self.typed.sensitivity);
        let subgroups = choices::<SubgroupBy>("subgroups", &self.typed.subgroups);
        let number_in = |name, value, unit| Control::Text(Text { name, value, number_in: Some(unit) });
        let per_cent = |name, value| number_in(name, value, "%");
        let recurrence = &self.typed.recurrence;
        let blanking = number_in("recurrence-blanking_days", &recurrence.blanking_days, "d");
        let until = number_in("recurrence-until_day", &recurrence.until_day, "d");
        section(
            "6",
            "How it is estimated",
            html! {
                (self.row("method", ("Method", "what decides"), method, Some(definitions(PrimaryMethod::LIST))))
                (self.row("strata", ("Compared within", "without a model"), strata, Some(definitions(Strata::LIST))))
                (self.row("covariates", ("Held alike", "known before the procedure"), covariates, Some(html! { "The centre stands in every model. Intracardiac echo is chosen together with the strategy and is left out." })))
                (self.row("missing_covariates", ("Where one is missing", ""), missing, Some(definitions(MissingCovariate::LIST))))
                (self.row("level", ("Level", "of every interval, two-sided"), per_cent("level", &self.typed.level), None))
                (self.row("least_known", ("Outcome known in", "each arm, at least"), per_cent("least_known", &self.typed.least_known), Some(html! { "Below it nothing is concluded." })))
                (self.row("sensitivity", ("Beside it", "does one thing drive it?"), sensitivity, Some(definitions(Sensitivity::LIST))))
                (self.row("subgroups", ("Told apart by", "as planned"), subgroups, Some(html! { "The report tells all of them; those chosen here are marked as planned, the others as exploratory. No verdict hangs on any." })))
                (self.row("recurrence-blanking_days", ("Blanking", "recurrence does not count up to day"), blanking, Some(html! { "Blank: 60. Recurrence is described by curves, without a verdict." })))
                (self.row("recurrence-until_day", ("Followed until", "the curves end at day"), until, Some(html! { "Blank: 365." })))
            },
        )
    }

    fn looks(&self) -> Markup {
        let typed = &self.typed.looks;
        let number = |name, value, unit| Control::Text(Text { name, value, number_in: Some(unit) });
        let spending = Control::Choice(Choice {
            name: "looks-spending",
            picks: SpendingFunction::LIST.codes.iter().map(Pick::of).collect(),
            chosen: some(&typed.spending),
        });
        section(
            "7",
            "How often it is looked at",
            html! {
                (self.row("looks-fractions", ("Looks at", "of the planned cases; blank: one look"), number("looks-fractions", &typed.fractions, "%"), Some(html! { "50; 100 is one look half way and one at the end. Each look is a data cut; they share the level, so that looking often claims nothing more often." })))
                (self.row("looks-each_arm", ("Planned cases", "with the last look"), number("looks-each_arm", &typed.each_arm, "in each arm"), Some(html! { "Compared within centres: a cut counts as many as its cases are worth. See the cost." })))
                (self.row("looks-spending", ("Level spent", "how it is shared"), spending, Some(definitions(SpendingFunction::LIST))))
                (self.row("looks-exponent", ("Exponent", "with a power of the cases"), number("looks-exponent", &typed.exponent, ""), Some(html! { "1 spends in proportion to the cases; 3 much later." })))
            },
        )
    }

    fn why(&self) -> Markup {
        let reason = Control::Lines(Lines { name: "reason", value: &self.typed.reason });
        section(
            "8",
            "Why it is amended",
            html! {
                (self.row("reason", ("Reason", ""), reason, Some(html! { "Stands beside what was changed, for ever." })))
            },
        )
    }

    /// What is next stands filled: the check, and after it registering.
    fn foot(&self) -> Markup {
        let registers = if self.amends.is_some() { "Register the amendment" } else { "Register the plan" };
        let aside = html! { "Registered with its hash and time; never changed." };
        let button = |says: &'static str, value: &'static str| html! { button.button type="submit" name="do" value=(value) { (says) } };
        let foot = match &self.found {
            Found::Costs(_) => FormFoot {
                next: None,
                send: registers,
                does: Some("register"),
                further: button("Check again", "check"),
                aside,
            },
            Found::Nothing | Found::Troubles(_) => FormFoot {
                next: None,
                send: "Check and show the cost",
                does: Some("check"),
                further: button(registers, "register"),
                aside,
            },
        };
        html! { (foot) }
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

fn some(value: &str) -> Option<&str> {
    Some(value).filter(|value| !value.is_empty())
}

fn choices<'a, C: Coded>(name: &'a str, chosen: &'a [String]) -> Control<'a> {
    let picks = C::LIST.codes.iter().map(Pick::of).collect();
    Control::Choices(Choices { name, picks, chosen: chosen.iter().map(String::as_str).collect() })
}

/// Every procedure type but the study that is no ablation.
fn ablations() -> impl Iterator<Item = Pick<'static>> {
    let diagnostic = ProcedureType::DiagnosticOnly.code();
    ProcedureType::LIST.codes.iter().filter(move |code| code.code != diagnostic).map(Pick::of)
}

/// What each endpoint means and until when it counts, on demand.
fn meanings() -> Markup {
    html! {
        "Success is worse when it is lower, harm when it is higher: the registry knows the side."
        details {
            summary { "What each means" }
            dl.definitions { @for one in Endpoint::ALL { dt { (one.label()) } dd { (one.definition().in_words()) } } }
        }
    }
}

/// What each choice does, on demand.
pub(super) fn definitions(list: &'static CodeList) -> Markup {
    html! {
        details {
            summary { "What each does" }
            dl.definitions { @for code in list.codes { dt { (code.label) } dd { (code.definition) } } }
        }
    }
}
