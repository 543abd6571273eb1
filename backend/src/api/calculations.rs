//! The methods, for rows that a member brings. Nothing of the registry is read, nothing is stored.

use actix_web::{HttpResponse, get, post, web};
use quietbeam_analysis::calculate::{Calculation, Column, Need, Role, Shape, catalogue, find};
use quietbeam_schema::entries::StrictJson;
use serde::{Deserialize, Serialize};
use serde_json::Value;
use std::time::Duration;
use tokio::sync::Semaphore;
use utoipa::ToSchema;

use super::brought::{Body, Part};
use super::calculated::{Brought, calculated};
use super::problem::{NOT_FOUND, Problem};
use crate::access::Permit;
use crate::access::action::Calculate;

/// The most rows of one request; more go through the command line.
const MOST_ROWS: usize = 1_000;
/// The longest that rows are begun with; exact methods can take seconds a row.
const LONGEST: Duration = Duration::from_secs(10);

/// Calculations wait for each other, so that they never take the whole machine.
static TURNS: Semaphore = Semaphore::const_new(2);

/// A column that a calculation reads.
#[derive(Serialize, ToSchema)]
struct InputView {
    /// Its name.
    name: &'static str,
    /// What its values are.
    takes: &'static str,
    /// Whether it is one value for all rows of a set, and may stand under `with`.
    is_parameter: bool,
    /// Whether nothing can be calculated without it.
    is_required: bool,
    /// The value it has when it is absent.
    default: Option<&'static str>,
}

/// A column that a calculation writes.
#[derive(Serialize, ToSchema)]
struct OutputView {
    /// Its name.
    name: &'static str,
    /// What it tells.
    meaning: &'static str,
}

/// One calculation.
#[derive(Serialize, ToSchema)]
struct CalculationView {
    /// Its name in the address.
    name: &'static str,
    /// One line about it.
    summary: &'static str,
    /// Key of the published source.
    source: &'static str,
    /// Whether the rows of one `set_id` are calculated together, or each row by itself.
    takes_sets: bool,
    /// What it reads.
    inputs: Vec<InputView>,
    /// What it writes.
    outputs: Vec<OutputView>,
}

/// The calculations.
#[derive(Serialize, ToSchema)]
pub(super) struct CalculationsView {
    /// All, family by family.
    items: Vec<CalculationView>,
}

/// Rows to calculate with.
#[derive(Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub(super) struct RowsBody {
    /// The names of the columns, in the order of the values.
    columns: Vec<String>,
    /// The rows, at most 1,000: a number, text or null for each column. Rows of one set stand together.
    #[schema(value_type = Vec<Vec<Value>>)]
    rows: Vec<Vec<StrictJson>>,
    /// Parameters that hold for all rows, such as `{"level": 0.9}`.
    #[serde(default = "nothing")]
    #[schema(value_type = Option<Object>)]
    with: StrictJson,
}

fn nothing() -> StrictJson {
    StrictJson::Null
}

/// What came out.
#[derive(Serialize, ToSchema)]
pub(super) struct ResultsView {
    /// The names of the columns.
    columns: Vec<String>,
    /// The rows: numbers, text, null where there is nothing to say, "Inf" where there is no bound.
    /// Why something cannot be estimated stands in the column `reason`.
    #[schema(value_type = Vec<Vec<Value>>)]
    rows: Vec<Vec<Value>>,
}

impl CalculationView {
    fn of(calculation: &Calculation) -> Self {
        let input = |column: &Column| InputView {
            name: column.name,
            takes: column.takes,
            is_parameter: column.role == Role::Parameter,
            is_required: column.need == Need::Required,
            default: match column.need {
                Need::Default(value) => Some(value),
                Need::Required | Need::Optional => None,
            },
        };
        let outputs = calculation.outputs().iter();
        Self {
            name: calculation.name(),
            summary: calculation.summary(),
            source: calculation.source(),
            takes_sets: calculation.shape() == Shape::Set,
            inputs: calculation.inputs().iter().map(input).collect(),
            outputs: outputs
                .map(|output| OutputView { name: output.name, meaning: output.meaning })
                .collect(),
        }
    }
}

/// The methods that rows can be put through.
#[utoipa::path(tag = "Calculations", responses((status = 200, body = CalculationsView)))]
#[get("/calculations")]
pub(super) async fn list(_permit: Permit<Calculate>) -> HttpResponse {
    let items = catalogue().iter().map(CalculationView::of).collect();
    HttpResponse::Ok().json(CalculationsView { items })
}

/// Put rows through a method. Nothing is stored. In what must be mended, lines count the rows from 1.
#[utoipa::path(tag = "Calculations", params(("method" = String, Path)), request_body = RowsBody,
    responses((status = 200, body = ResultsView)))]
#[post("/calculations/{method}")]
pub(super) async fn run(
    _permit: Permit<Calculate>,
    method: Part<String>,
    body: Body<RowsBody>,
) -> Result<HttpResponse, Problem> {
    let calculation = find(&method.0).map_err(|unknown| {
        let detail = format!("There is no such calculation; did you mean \"{}\"?", unknown.nearest);
        Problem::new(&NOT_FOUND, detail)
    })?;
    let RowsBody { columns, rows, with } = body.value;
    if rows.len() > MOST_ROWS {
        let sentence = format!(
            "At most {MOST_ROWS} rows are taken at once; send them in parts, or use the command line."
        );
        return Err(Problem::field("/rows", "too_many_rows", sentence));
    }
    let turn = TURNS.acquire().await.map_err(|_| Problem::busy())?;
    let work = move || {
        let _turn = turn;
        calculated(calculation, Brought { columns, rows, with }, LONGEST)
    };
    let (columns, rows) = web::block(work).await.map_err(|_| Problem::busy())??;
    Ok(HttpResponse::Ok().json(ResultsView { columns, rows }))
}
