//! The API's document (OpenAPI 3.1), made from the handlers and the dictionary,
//! and the page that shows it to people.

use maud::{Markup, html};
use quietbeam_schema::json_schema;
use serde_json::{Map, Value, json};
use utoipa::OpenApi;

use super::problem::{KINDS, ProblemBody};

/// What stands at the head of the document.
#[derive(OpenApi)]
#[openapi(
    info(
        title = "Quietbeam",
        description = "A research registry for catheter ablation without fluoroscopy. For research: not for the care of an individual patient. Sign in at POST /sessions and send the access token as \"Authorization: Bearer …\".",
        license(name = "MIT")
    ),
    components(schemas(ProblemBody<'static>))
)]
pub(crate) struct Head;

/// The document, ready to be sent.
pub(crate) struct Document(Value);

/// What can be read without signing in, as path and method.
pub const PUBLIC: [(&str, &str); 6] = [
    ("/api/v1/sessions", "post"),
    ("/api/v1/sessions/refresh", "post"),
    ("/api/v1/summaries", "get"),
    ("/api/v1/summaries/{number}", "get"),
    ("/api/v1/dictionary", "get"),
    ("/api/v1/dictionary/workbook", "get"),
];

impl Document {
    /// Completes what the handlers say with what holds for all of them.
    pub(crate) fn of(handlers: &utoipa::openapi::OpenApi) -> Self {
        let mut document = serde_json::to_value(handlers).unwrap_or_default();
        document["components"]["schemas"]["CaseForm"] = json_schema::case_form();
        document["components"]["schemas"]["FollowUpForm"] = json_schema::follow_up_form();
        document["components"]["securitySchemes"] =
            json!({ "access_token": { "type": "http", "scheme": "bearer", "bearerFormat": "JWT" } });
        document["security"] = json!([{ "access_token": [] }]);
        let paths = document["paths"].as_object_mut();
        for (path, item) in paths.into_iter().flatten() {
            for (method, operation) in item.as_object_mut().into_iter().flatten() {
                complete(path, method, operation);
            }
        }
        let case = json!({ "$ref": "#/components/schemas/CaseForm" });
        for path in ["/api/v1/cases", "/api/v1/cases/check"] {
            document["paths"][path]["post"]["requestBody"]["content"]["application/json"]["schema"] =
                case.clone();
        }
        document["components"]["schemas"]["ChangeBody"]["properties"]["case"] = case;
        document["components"]["schemas"]["FollowUpBody"]["properties"]["follow_up"] =
            json!({ "$ref": "#/components/schemas/FollowUpForm" });
        Self(document)
    }

    /// The document as JSON.
    pub(crate) fn json(&self) -> &Value {
        &self.0
    }

    /// The page.
    pub(crate) fn page(&self) -> Markup {
        let paths = self.0["paths"].as_object();
        let operations: Vec<Operation<'_>> = paths
            .into_iter()
            .flatten()
            .flat_map(|(path, item)| {
                item.as_object().into_iter().flatten().map(move |(method, what)| Operation {
                    path,
                    method,
                    what,
                })
            })
            .collect();
        let mut tags: Vec<&str> = Vec::new();
        for operation in &operations {
            if !tags.contains(&operation.tag()) {
                tags.push(operation.tag());
            }
        }
        let content = html! {
                h1 { "For programs" }
                p.lead { (self.0["info"]["description"].as_str().unwrap_or_default()) }
                p { a href="/api/v1/openapi.json" { "The same as OpenAPI 3.1" } }
                @for tag in tags {
                    h2 { (tag) }
                    table.requests {
                        thead { tr { th { "Request" } th { "What it does" } th { "Sign-in" } } }
                        tbody {
                            @for operation in operations.iter().filter(|operation| operation.tag() == tag) {
                                (operation.row())
                            }
                        }
                    }
                }
                (problem_table())
        };
        crate::pages::public_page("API", "For programs", &content)
    }
}

fn complete(path: &str, method: &str, operation: &mut Value) {
    if PUBLIC.contains(&(path, method)) {
        operation["security"] = json!([]);
    }
    let problem = json!({
        "description": "Anything else: what is wrong and how to mend it (RFC 9457).",
        "content": { "application/problem+json": { "schema": { "$ref": "#/components/schemas/Problem" } } },
    });
    name(operation);
    let responses = operation["responses"].as_object_mut();
    if let Some(responses) = responses {
        for response in responses.values_mut().filter_map(Value::as_object_mut) {
            described(response);
        }
        responses.insert("default".to_owned(), problem);
    }
    let needs_key = method == "post" && operation["responses"].get("201").is_some();
    if needs_key {
        header(operation, "Idempotency-Key", true, "Random; the same when the request is repeated.");
    }
    if method == "put" && path != "/api/v1/me/password" {
        let new_allowed =
            ["/rooms/", "/screening-log/", "/checklist/"].iter().any(|part| path.contains(part));
        header(operation, "If-Match", !new_allowed, "The ETag of what was read.");
    }
}

/// A handler's name is unique within its resource, an operation's within the document.
fn name(operation: &mut Value) {
    let resource = operation["tags"][0].as_str().unwrap_or_default();
    let resource = resource.to_ascii_lowercase().replace([' ', '-'], "_");
    let handler = operation["operationId"].as_str().unwrap_or_default();
    operation["operationId"] = Value::from(format!("{resource}_{handler}"));
}

fn described(response: &mut Map<String, Value>) {
    let missing = response.get("description").and_then(Value::as_str).is_none_or(str::is_empty);
    if missing {
        response.insert("description".to_owned(), Value::from("Done."));
    }
}

fn header(operation: &mut Value, name: &str, required: bool, description: &str) {
    let parameter = json!({
        "name": name, "in": "header", "required": required, "description": description,
        "schema": { "type": "string" },
    });
    match operation["parameters"].as_array_mut() {
        Some(parameters) => parameters.push(parameter),
        None => operation["parameters"] = json!([parameter]),
    }
}

struct Operation<'d> {
    path: &'d str,
    method: &'d str,
    what: &'d Value,
}

impl Operation<'_> {
    fn tag(&self) -> &str {
        self.what["tags"][0].as_str().unwrap_or_default()
    }

    fn row(&self) -> Markup {
        let public = self.what["security"].as_array().is_some_and(Vec::is_empty);
        let parameters = self.what["parameters"].as_array();
        html! {
            tr {
                td { code { (self.method.to_ascii_uppercase()) " " (self.path) } }
                td {
                    (self.what["summary"].as_str().unwrap_or_default())
                    @for parameter in parameters.into_iter().flatten().filter(|one| one["in"] != "path") {
                        br; span.note {
                            code { (parameter["name"].as_str().unwrap_or_default()) } " "
                            (parameter["description"].as_str().unwrap_or_default().replace('`', ""))
                        }
                    }
                }
                td { @if public { "not needed" } @else { "needed" } }
            }
        }
    }
}

fn problem_table() -> Markup {
    html! {
        h2 { "Problems" }
        table {
            thead { tr { th { "Status" } th { "Code" } th { "What it means" } } }
            tbody {
                @for kind in KINDS {
                    tr id=(kind.code) {
                        td { (kind.status) }
                        td { code { (kind.code) } }
                        td { (kind.title) }
                    }
                }
            }
        }
    }
}
