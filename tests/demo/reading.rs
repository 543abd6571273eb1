//! Reads a centre's files as a registry would: row by row, joined by case code.

use quietbeam::demo::{DemoCentre, Network};
use quietbeam_schema::case::{CaseForm, Checked};
use quietbeam_schema::entries::Entries;
use quietbeam_schema::finding::Finding;
use quietbeam_schema::ids::CaseCode;
use quietbeam_schema::period::Quarter;
use std::collections::HashMap;

/// The quarter after the scenario's last.
pub(crate) fn today() -> Quarter {
    Quarter::new(2026, 4).unwrap()
}

/// Codes as a registry might issue them, one a row.
pub(crate) fn codes(centre: &DemoCentre) -> Vec<CaseCode> {
    let number: u128 = centre.centre.code.to_string()[1..].parse().unwrap();
    (0..centre.case_rows() as u128)
        .map(|row| CaseCode::from_random((number << 40 | row).to_be_bytes()))
        .collect()
}

/// The records of a file with the columns' names.
pub(crate) fn records(text: &str) -> Vec<Entries> {
    let mut reader = csv::Reader::from_reader(text.as_bytes());
    let header = reader.headers().unwrap().clone();
    let records = reader.records().map(|record| {
        let mut entries = Entries::default();
        for (key, cell) in header.iter().zip(record.unwrap().iter()) {
            entries.put(key, cell);
        }
        entries
    });
    records.collect()
}

/// The form of each row of the cases file, with what the other files add.
pub(crate) fn forms(centre: &DemoCentre) -> Vec<CaseForm> {
    let files = centre.files(&codes(centre));
    let mut by_code: HashMap<String, CaseForm> = HashMap::new();
    let without_code = |entries: &Entries| {
        let mut rest = Entries::default();
        entries.iter().filter(|(key, _)| *key != "case_code").for_each(|(key, text)| rest.put(key, text));
        rest
    };
    for entries in records(&files.complications) {
        let form = by_code.entry(entries.given("case_code").unwrap().to_owned()).or_default();
        form.complications.push(without_code(&entries));
    }
    for entries in records(&files.follow_ups) {
        let form = by_code.entry(entries.given("case_code").unwrap().to_owned()).or_default();
        assert!(form.follow_up.replace(without_code(&entries)).is_none(), "two follow-ups for one case");
    }
    let forms = records(&files.cases).into_iter().map(|case| {
        let mut form = by_code.remove(case.given("case_code").unwrap()).unwrap_or_default();
        form.case = case;
        form
    });
    let forms = forms.collect();
    assert!(by_code.is_empty(), "{} codes belong to no case", by_code.len());
    forms
}

/// What the check of one row of the cases file gave.
pub(crate) type Outcome = Result<Checked, Vec<Finding>>;

/// Every row of every centre, checked.
pub(crate) fn checked(network: &Network) -> Vec<(&DemoCentre, Vec<Outcome>)> {
    let check = |centre| forms(centre).iter().map(|form| form.check(today())).collect();
    network.centres.iter().map(|centre| (centre, check(centre))).collect()
}

/// What was found in a row, whether it was refused or not.
pub(crate) fn findings(outcome: &Outcome) -> &[Finding] {
    match outcome {
        Ok(checked) => &checked.queries,
        Err(findings) => findings,
    }
}
