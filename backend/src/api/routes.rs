//! All routes of the API in one list, from which its document is made too.

use actix_web::dev::ResourceDef;
use actix_web::{HttpRequest, HttpResponse, web};
use serde_json::Value;
use utoipa_actix_web::service_config::ServiceConfig;

use super::problem::Problem;
use super::{
    adjudication, approvals, audit, calculations, cases, centres, comparisons, cuts, dictionary,
    dose_reports, exports, import_jobs, imports, members, plans, queries, screening, sessions, summaries,
};

/// Adds every resource of the API. A longer path stands before a shorter one
/// that would take it for a parameter.
pub(crate) fn resources(config: &mut ServiceConfig<'_>) {
    config
        .service(sessions::sign_in)
        .service(sessions::refresh)
        .service(sessions::sign_out)
        .service(sessions::me)
        .service(sessions::change_password)
        .service(members::list)
        .service(members::create)
        .service(members::change_membership)
        .service(members::set_enabled)
        .service(members::read)
        .service(centres::list)
        .service(centres::create)
        .service(centres::rooms)
        .service(centres::record_room)
        .service(centres::issue_codes)
        .service(approvals::list_approvals)
        .service(approvals::record_approval)
        .service(approvals::withdraw_approval)
        .service(screening::record)
        .service(screening::sign)
        .service(screening::list)
        .service(centres::read)
        .service(centres::change);
    clinical(config);
}

fn clinical(config: &mut ServiceConfig<'_>) {
    config
        .service(cases::check)
        .service(cases::submit)
        .service(cases::list)
        .service(cases::history)
        .service(cases::record_follow_up)
        .service(cases::read)
        .service(cases::change)
        .service(dose_reports::create)
        .service(imports::create)
        .service(imports::list)
        .service(import_jobs::begin)
        .service(import_jobs::list)
        .service(import_jobs::answer)
        .service(import_jobs::keep)
        .service(import_jobs::drop_job)
        .service(import_jobs::read)
        .service(exports::cases)
        .service(queries::list)
        .service(queries::raise)
        .service(queries::answer)
        .service(queries::accept)
        .service(queries::take_back)
        .service(queries::reopen)
        .service(queries::read)
        .service(adjudication::list)
        .service(adjudication::judge)
        .service(adjudication::progress)
        .service(plans::amend)
        .service(plans::register)
        .service(plans::list)
        .service(plans::read)
        .service(comparisons::run)
        .service(comparisons::list)
        .service(cuts::take)
        .service(cuts::list)
        .service(exports::rows)
        .service(cuts::read)
        .service(comparisons::texts)
        .service(comparisons::write_text)
        .service(comparisons::read)
        .service(comparisons::report)
        .service(comparisons::recheck)
        .service(summaries::drafts)
        .service(summaries::draft)
        .service(summaries::approve)
        .service(summaries::publish)
        .service(summaries::withdraw)
        .service(summaries::read_draft)
        .service(summaries::list)
        .service(summaries::read)
        .service(dictionary::workbook)
        .service(dictionary::read)
        .service(calculations::list)
        .service(calculations::run)
        .service(audit::list);
}

/// Which paths there are, and which methods each takes.
pub(crate) struct Known(Vec<(ResourceDef, Vec<String>)>);

impl Known {
    /// Reads the paths from the API's document.
    pub(crate) fn of(document: &Value) -> Self {
        let paths = document["paths"].as_object().into_iter().flatten();
        Self(
            paths
                .map(|(path, item)| {
                    let methods = item.as_object().into_iter().flatten();
                    let methods = methods.map(|(method, _)| method.to_ascii_uppercase()).collect();
                    (ResourceDef::new(path.as_str()), methods)
                })
                .collect(),
        )
    }

    fn methods(&self, path: &str) -> Option<&[String]> {
        self.0.iter().find(|(known, _)| known.is_match(path)).map(|(_, methods)| methods.as_slice())
    }
}

/// Answers whatever no route took: the method is wrong, or there is nothing.
pub(crate) async fn not_here(request: HttpRequest, known: web::Data<Known>) -> Result<HttpResponse, Problem> {
    Err(match known.methods(request.path()) {
        Some(methods) => Problem::method(&methods.join(", ")),
        None => Problem::absent(),
    })
}
