//! A small network: two centres and whoever a test needs.

use quietbeam::intake::{FileKind, header};
use quietbeam_schema::access::Role;
use quietbeam_schema::ids::CentreCode;
use quietbeam_tests::sample;
use quietbeam_tests::server::{Answer, Asked, Sends, Served, SignedIn};
use serde_json::{Value, json};

/// The centre that the tests act from.
pub(crate) fn own(served: &Served<'_>) -> CentreCode {
    served.registry.centre("S07")
}

/// A coordinator of the own centre, which is created with it.
pub(crate) fn coordinator<'s>(served: &'s Served<'_>) -> SignedIn<'s> {
    let centre = own(served);
    served.member("coordinator.s07", Role::Coordinator, &[centre])
}

/// A coordinator of another centre, which is created with it.
pub(crate) fn other<'s>(served: &'s Served<'_>) -> SignedIn<'s> {
    let centre = served.registry.centre("S08");
    served.member("coordinator.s08", Role::Coordinator, &[centre])
}

/// A member of a central role.
pub(crate) fn central<'s>(served: &'s Served<'_>, role: Role) -> SignedIn<'s> {
    served.member(role.name(), role, &[])
}

/// Submits a case that can be taken.
pub(crate) fn submit(coordinator: &SignedIn<'_>, case: &Value) -> Answer {
    coordinator.post("/cases", case).expect(201)
}

/// Submits the typical case and says its code.
pub(crate) fn submitted(coordinator: &SignedIn<'_>) -> String {
    code(&submit(coordinator, &sample::zero_fluoroscopy_case()))
}

/// The code of a submitted case.
pub(crate) fn code(submitted: &Answer) -> String {
    text(&submitted.json(), "code")
}

/// The text in a field.
pub(crate) fn text(object: &Value, key: &str) -> String {
    object[key].as_str().unwrap_or_else(|| panic!("no text in {key}: {object}")).to_owned()
}

/// A change of a case that was read, with its reason.
pub(crate) fn change(case: &Value, reason: &str) -> Value {
    json!({ "case": case, "reason": reason })
}

/// The place and rule of the only thing to mend.
pub(crate) fn only_mend(problem: &Value) -> (String, String) {
    let mends = Answer::mends(problem);
    assert_eq!(mends.len(), 1, "{problem}");
    mends.into_iter().next().unwrap()
}

/// A step that needs no body.
pub(crate) fn step(person: &SignedIn<'_>, path: &str) -> Answer {
    person.send(&Asked::new("POST", path))
}

/// The statuses of requests sent at the same time, sorted.
pub(crate) fn at_once(number: usize, send: impl Fn(usize) -> u16 + Sync) -> Vec<u16> {
    let send = &send;
    let mut statuses: Vec<u16> = std::thread::scope(|scope| {
        let jobs: Vec<_> = (0..number).map(|each| scope.spawn(move || send(each))).collect();
        jobs.into_iter().map(|job| job.join().unwrap()).collect()
    });
    statuses.sort_unstable();
    statuses
}

/// A file with the full header and these rows.
pub(crate) fn sheet(kind: FileKind, rows: &[Value]) -> Vec<u8> {
    let columns = header(kind);
    let mut writer = csv::Writer::from_writer(Vec::new());
    writer.write_record(&columns).unwrap();
    for row in rows {
        writer.write_record(columns.iter().map(|column| cell(&row[column]))).unwrap();
    }
    writer.into_inner().unwrap()
}

fn cell(value: &Value) -> String {
    match value {
        Value::Null => String::new(),
        Value::String(text) => text.clone(),
        Value::Array(codes) => codes.iter().map(cell).collect::<Vec<_>>().join(";"),
        other => other.to_string(),
    }
}
