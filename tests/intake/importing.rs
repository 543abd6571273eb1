//! Files into the registry: all or nothing, once, with a receipt.

use std::sync::Arc;

use crate::sheet::{bytes, case, complication, follow_up, sheet, zero_case};
use quietbeam::access::Permit;
use quietbeam::access::action::{ImportFiles, ListQueries, ReadHistory, SubmitCase};
use quietbeam::intake::{FileKind, Files};
use quietbeam::registry::cases::submit;
use quietbeam::registry::imports::{Changes, Outcome, Request, Wanted, import};
use quietbeam::registry::{RegistryError, cases};
use quietbeam::store::{CaseHistory, PageRequest, QueryFilter, StoreError};
use quietbeam_schema::access::Role;
use quietbeam_schema::audit::Deed;
use quietbeam_schema::ids::{CaseCode, CentreCode};
use quietbeam_tests::on_both_stores;
use quietbeam_tests::people::Desk;
use quietbeam_tests::registry::Registry;
use serde_json::{Value, json};

fn files(rows: &[(FileKind, &[Value])]) -> Files {
    let mut files = Files::default();
    for (kind, rows) in rows {
        files.put(*kind, bytes(sheet(*kind, rows)));
    }
    files
}

fn cases_only(rows: &[Value]) -> Files {
    files(&[(FileKind::Cases, rows)])
}

fn request(centre: CentreCode, files: Files, wanted: Wanted) -> Request {
    Request { centre, files, wanted, progress: Arc::new(|_| {}) }
}

fn run(registry: &Registry, centre: CentreCode, files: Files, wanted: Wanted) -> Outcome {
    let permit = || Permit::<ImportFiles>::for_operator("test");
    import(&registry.store, permit(), permit(), request(centre, files, wanted)).unwrap()
}

fn history(registry: &Registry, code: CaseCode) -> CaseHistory {
    let permit = Permit::<ReadHistory>::for_operator("test");
    registry.store.read_blocking(permit, move |session| session.case_history(code)).unwrap()
}

/// The newest record of a case.
fn record(registry: &Registry, code: CaseCode) -> Value {
    let history = history(registry, code);
    serde_json::from_str(&history.revisions.last().unwrap().content.record).unwrap()
}

/// The open questions as rule and case.
fn queries(registry: &Registry) -> Vec<(String, CaseCode)> {
    let permit = Permit::<ListQueries>::for_operator("test");
    let filter = QueryFilter { state: Some("open".to_owned()), ..QueryFilter::default() };
    let page = registry
        .store
        .read_blocking(permit, move |session| session.list_queries(&filter, PageRequest::first()))
        .unwrap();
    page.rows.into_iter().map(|row| (format!("{:?}", row.query.origin), row.query.code)).collect()
}

/// What must never change when nothing is stored.
fn sizes(registry: &Registry) -> Vec<u64> {
    let tables = ["case_code", "case_revision", "data_query", "import_receipt", "audit_event"];
    tables.into_iter().map(|table| registry.raw().count(table)).collect()
}

fn lines(outcome: &Outcome) -> Vec<String> {
    outcome.report.problems.iter().map(ToString::to_string).collect()
}

/// A case with a complication announced.
fn affected(code: CaseCode) -> Value {
    zero_case(json!({ "case_code": code, "no_complication_confirmed": "no" }))
}

on_both_stores! {
    fn a_dry_run_tells_everything_and_stores_nothing(registry) {
        let centre = registry.centre("S07");
        let before = sizes(registry);
        let outcome = run(registry, centre, cases_only(&[case(json!({})), zero_case(json!({}))]), Wanted::DryRun);
        assert_eq!((outcome.changes.new, outcome.stored, outcome.receipt), (2, false, None));
        assert_eq!(sizes(registry), before);
    }

    fn everything_is_stored_with_its_receipt(registry) {
        let centre = registry.centre("S07");
        let code = registry.codes(centre, 1)[0];
        let files = files(&[
            (FileKind::Cases, &[case(json!({})), affected(code), zero_case(json!({}))]),
            (FileKind::Complications, &[complication(code.as_str(), json!({}))]),
            (FileKind::FollowUps, &[follow_up(code.as_str(), json!({}))]),
        ]);
        let outcome = run(registry, centre, files, Wanted::AllOrNothing);
        assert!(outcome.stored && outcome.receipt.is_some(), "{:?}", lines(&outcome));
        assert_eq!(outcome.changes.new, 3);
        // The codes issued are those of the rows that had none.
        let rows: Vec<u64> = outcome.changes.codes.iter().map(|issued| issued.row).collect();
        assert_eq!(rows, [1, 3]);
        let first = record(registry, outcome.changes.codes[0].code);
        assert_eq!(first["strategy_intended"], "conventional");
        assert_eq!(record(registry, outcome.changes.codes[1].code)["strategy_intended"], "zero");
        let joined = record(registry, code);
        assert_eq!(joined["complications"][0]["ae_code"], "effusion");
        assert_eq!(joined["follow_up"]["fu30_day"], 33);
        let deeds: Vec<Deed> = registry.audit().into_iter().map(|row| row.event.deed).collect();
        assert_eq!(deeds.iter().filter(|deed| **deed == Deed::CaseSubmitted).count(), 3);
        assert_eq!(deeds.iter().filter(|deed| **deed == Deed::FilesImported).count(), 1);
    }

    fn the_same_files_again_change_nothing_and_give_the_codes_again(registry) {
        let centre = registry.centre("S07");
        let rows = [case(json!({})), zero_case(json!({}))];
        let first = run(registry, centre, cases_only(&rows), Wanted::AllOrNothing);
        let before = sizes(registry);
        for wanted in [Wanted::AllOrNothing, Wanted::GoodRows, Wanted::DryRun] {
            let again = run(registry, centre, cases_only(&rows), wanted);
            assert_eq!(again.already_imported, first.receipt);
            assert_eq!(again.changes, first.changes);
            assert!(!again.stored && again.receipt.is_none());
        }
        assert_eq!(sizes(registry), before);
        // Another centre with the same bytes is another import.
        let other = registry.centre("S08");
        assert!(run(registry, other, cases_only(&rows), Wanted::AllOrNothing).stored);
    }

    fn one_row_to_mend_keeps_everything_out(registry) {
        let centre = registry.centre("S07");
        let before = sizes(registry);
        let rows = [case(json!({})), case(json!({ "sex": "q" }))];
        let outcome = run(registry, centre, cases_only(&rows), Wanted::AllOrNothing);
        assert!(!outcome.stored);
        assert_eq!(lines(&outcome), ["refused: cases row 2 (line 3), sex: Sex is not a code of this list; use one of: f, m, x."]);
        assert_eq!(sizes(registry), before);
    }

    fn good_rows_are_taken_on_request(registry) {
        let centre = registry.centre("S07");
        let codes = registry.codes(centre, 1);
        let twice = || zero_case(json!({ "case_code": codes[0] }));
        let rows = [twice(), case(json!({})), case(json!({ "sex": "q" })), twice()];
        let outcome = run(registry, centre, cases_only(&rows), Wanted::GoodRows);
        assert!(outcome.stored);
        let counts = outcome.report.counts(FileKind::Cases);
        assert_eq!((counts.read, counts.accepted, counts.refused), (4, 1, 3));
        assert_eq!(outcome.changes.new, 1);
        assert_eq!(registry.raw().count("case_revision"), 1);
    }

    fn a_file_refused_whole_stores_nothing_even_of_good_rows(registry) {
        let centre = registry.centre("S07");
        let mut text = sheet(FileKind::Cases, &[case(json!({}))]);
        text.extend_from_slice(b"\x81\n");
        let mut files = Files::default();
        files.put(FileKind::Cases, bytes(text));
        let outcome = run(registry, centre, files, Wanted::GoodRows);
        assert!(outcome.report.refused_whole && !outcome.stored);
        assert_eq!(outcome.changes, Changes::default());
        assert_eq!(registry.raw().count("case_revision"), 0);
    }

    fn stored_cases_that_are_repeated_stay_as_they_are(registry) {
        let centre = registry.centre("S07");
        let codes = registry.codes(centre, 2);
        let first = case(json!({ "case_code": codes[0] }));
        assert!(run(registry, centre, cases_only(std::slice::from_ref(&first)), Wanted::AllOrNothing).stored);
        let again = [first, zero_case(json!({ "case_code": codes[1] }))];
        let outcome = run(registry, centre, cases_only(&again), Wanted::AllOrNothing);
        assert_eq!((outcome.changes.new, outcome.changes.changed, outcome.changes.unchanged), (1, 0, 1));
        assert_eq!(history(registry, codes[0]).revisions.len(), 1);
    }

    fn nothing_but_repeats_needs_no_receipt(registry) {
        let centre = registry.centre("S07");
        let code = registry.codes(centre, 1)[0];
        run(registry, centre, cases_only(&[case(json!({ "case_code": code }))]), Wanted::AllOrNothing);
        let before = sizes(registry);
        // The same rows in other bytes: a reason that is not needed.
        let rows = [case(json!({ "case_code": code, "change_reason": "sent once more" }))];
        let outcome = run(registry, centre, cases_only(&rows), Wanted::AllOrNothing);
        assert_eq!((outcome.changes.unchanged, outcome.stored), (1, false));
        assert_eq!(sizes(registry), before);
    }

    fn a_change_needs_its_reason_and_leaves_a_revision(registry) {
        let centre = registry.centre("S07");
        let code = registry.codes(centre, 1)[0];
        run(registry, centre, cases_only(&[case(json!({ "case_code": code }))]), Wanted::AllOrNothing);
        let silent = [case(json!({ "case_code": code, "bmi": 31.2 }))];
        let outcome = run(registry, centre, cases_only(&silent), Wanted::AllOrNothing);
        assert_eq!(
            lines(&outcome),
            ["refused: cases row 1 (line 2), change_reason: This row changes a case that is already stored; send it in the cases file with a change_reason of 3 to 500 characters, or send the stored values unchanged."]
        );
        assert_eq!(history(registry, code).revisions.len(), 1);

        let reasoned = [case(json!({ "case_code": code, "bmi": 31.2, "change_reason": "typing error in the chart" }))];
        let outcome = run(registry, centre, cases_only(&reasoned), Wanted::AllOrNothing);
        assert_eq!((outcome.stored, outcome.changes.changed), (true, 1));
        let history = history(registry, code);
        assert_eq!(history.revisions.len(), 2);
        assert_eq!(history.revisions[1].reason.as_deref(), Some("typing error in the chart"));
        let event = &history.trail.last().unwrap().event;
        assert_eq!((event.deed, event.revision), (Deed::CaseChanged, Some(2)));
        assert_eq!(event.before, Some(json!({ "bmi": 27.4 })));
        assert_eq!(event.after, Some(json!({ "bmi": 31.2 })));
    }

    fn a_code_that_was_not_issued_to_the_centre_is_refused_alike(registry) {
        let (own, other) = (registry.centre("S07"), registry.centre("S08"));
        let of_other = registry.codes(other, 2);
        run(registry, other, cases_only(&[case(json!({ "case_code": of_other[0] }))]), Wanted::AllOrNothing);
        let of_nobody = CaseCode::from_random([9; 16]);
        let sentence = "Case code was not issued to your centre; use a code from your centre's own sheet, or leave it blank and one is issued.";
        // Stored elsewhere, issued elsewhere, or to nobody: the answer is the same.
        for code in [of_other[0], of_other[1], of_nobody] {
            let outcome = run(registry, own, cases_only(&[case(json!({ "case_code": code }))]), Wanted::GoodRows);
            assert_eq!(lines(&outcome), [format!("refused: cases row 1 (line 2), case_code: {sentence}")]);
            let parts = files(&[(FileKind::FollowUps, &[follow_up(code.as_str(), json!({}))])]);
            let outcome = run(registry, own, parts, Wanted::GoodRows);
            assert_eq!(
                lines(&outcome),
                ["refused: follow_ups row 1 (line 2), case_code: A follow-up without a case: no case with this code is in the files or stored for your centre; correct the code, or send the case too."]
            );
        }
        assert_eq!(history(registry, of_other[0]).revisions.len(), 1);
    }

    fn parts_of_a_stored_case_make_a_revision(registry) {
        let centre = registry.centre("S07");
        let codes = registry.codes(centre, 2);
        run(registry, centre, cases_only(&[affected(codes[0]), affected(codes[1])]), Wanted::AllOrNothing);
        // Both cases announce a complication that is not listed yet.
        assert_eq!(queries(registry).len(), 2);

        let later = files(&[
            (FileKind::Complications, &[complication(codes[0].as_str(), json!({}))]),
            (FileKind::FollowUps, &[follow_up(codes[0].as_str(), json!({}))]),
        ]);
        let outcome = run(registry, centre, later, Wanted::AllOrNothing);
        assert_eq!((outcome.stored, outcome.changes.changed), (true, 1), "{:?}", lines(&outcome));
        assert!(!outcome.report.without_cases);
        let history = history(registry, codes[0]);
        assert_eq!(history.revisions.len(), 2);
        assert!(history.trail.iter().any(|row| row.event.deed == Deed::CaseChanged));
        assert_eq!(record(registry, codes[0])["complications"][0]["ae_code"], "effusion");
        // Its question is settled; the other's waits.
        let open: Vec<CaseCode> = queries(registry).into_iter().map(|(_, code)| code).collect();
        assert_eq!(open, [codes[1]]);

        let other_value = files(&[(FileKind::FollowUps, &[follow_up(codes[0].as_str(), json!({ "fu30_day": 29 }))])]);
        let outcome = run(registry, centre, other_value, Wanted::AllOrNothing);
        assert_eq!(outcome.report.problems[0].rule, "change_reason_required");
    }

    fn files_take_nothing_back_that_they_do_not_name(registry) {
        let centre = registry.centre("S07");
        let codes = registry.codes(centre, 2);
        let both = files(&[
            (FileKind::Cases, &[affected(codes[0]), affected(codes[1])]),
            (FileKind::Complications, &[
                complication(codes[0].as_str(), json!({})),
                complication(codes[1].as_str(), json!({})),
            ]),
            (FileKind::FollowUps, &[follow_up(codes[0].as_str(), json!({}))]),
        ]);
        run(registry, centre, both, Wanted::AllOrNothing);
        let reason = json!({ "bmi": 31.2, "change_reason": "typing error in the chart" });
        let corrected = files(&[
            (FileKind::Cases, &[quietbeam_tests::sample::with(affected(codes[0]), reason)]),
            (FileKind::Complications, &[complication(codes[1].as_str(), json!({}))]),
        ]);
        let outcome = run(registry, centre, corrected, Wanted::AllOrNothing);
        assert_eq!((outcome.changes.changed, outcome.changes.unchanged), (1, 1), "{:?}", lines(&outcome));
        let kept = record(registry, codes[0]);
        assert_eq!(kept["bmi"], 31.2);
        assert_eq!(kept["complications"][0]["ae_code"], "effusion");
        assert_eq!(kept["follow_up"]["fu30_day"], 33);
    }

    fn something_to_answer_raises_its_query_with_the_case(registry) {
        let centre = registry.centre("S07");
        let odd = case(json!({ "air_kerma": 9.0, "kap": 81.0 }));
        let outcome = run(registry, centre, cases_only(&[odd]), Wanted::AllOrNothing);
        assert_eq!((outcome.stored, outcome.changes.to_answer), (true, 1));
        let code = outcome.changes.codes[0].code;
        assert_eq!(queries(registry), [("Rule(\"minutes_as_dose\")".to_owned(), code)]);
    }

    fn a_file_is_judged_like_a_single_submission(registry) {
        let centre = registry.centre("S07");
        let odd = json!({ "strategy_intended": "zero", "zf_declined_reason": null, "kap_unit": "mGy/m2" });
        let outcome = run(registry, centre, cases_only(&[case(odd.clone())]), Wanted::DryRun);
        let strict = serde_json::from_value(case(odd)).unwrap();
        let form = quietbeam_schema::case::CaseForm::from_json(strict);
        let permit = Permit::<SubmitCase>::for_operator("test");
        let single = registry.store.write_blocking(permit, move |session| submit(session, &form, Some(centre)).map(|_| ()));
        let Err(RegistryError::Findings(findings)) = single else { panic!("it must be refused") };
        let told: Vec<_> = findings.iter().map(|found| (found.rule, found.sentence.clone())).collect();
        let read: Vec<_> = outcome.report.problems.iter().map(|p| (p.rule, p.sentence.clone())).collect();
        assert_eq!(read, told);
    }

    fn a_coordinator_cannot_import_for_another_centre(registry) {
        let (own, other) = (registry.centre("S07"), registry.centre("S08"));
        let desk = Desk::new(registry);
        desk.member("coordinator", Role::Coordinator, &[own]);
        let caller = desk.caller("coordinator");
        let permit = || caller.permit::<ImportFiles>().unwrap();
        let of = |centre| {
            let request = request(centre, cases_only(&[case(json!({}))]), Wanted::AllOrNothing);
            import(&registry.store, permit(), permit(), request)
        };
        assert!(matches!(of(other), Err(RegistryError::Store(StoreError::Absent("centre")))));
        assert_eq!(registry.raw().count("case_revision"), 0);
        assert!(of(own).unwrap().stored);
        assert!(caller.permit::<SubmitCase>().is_ok());
    }

    fn many_rows_are_stored_over_several_batches(registry) {
        let centre = registry.centre("S07");
        let rows: Vec<Value> = (0..1_203).map(|n| zero_case(json!({ "skin_to_skin_min": 60 + n % 200 }))).collect();
        let outcome = run(registry, centre, cases_only(&rows), Wanted::AllOrNothing);
        assert_eq!((outcome.changes.new, outcome.changes.codes.len()), (1_203, 1_203));
        let codes = &outcome.changes.codes;
        assert!(codes.iter().zip(1..).all(|(issued, row)| issued.row == row));
        for at in [0, 499, 500, 1_202_usize] {
            let minutes = record(registry, codes[at].code)["skin_to_skin_min"].clone();
            assert_eq!(minutes, rows[at]["skin_to_skin_min"], "row {at}");
        }
    }

    fn whoever_writes_between_the_readings_stops_the_import(registry) {
        let centre = registry.centre("S07");
        let code = registry.codes(centre, 1)[0];
        let store = registry.store.clone();
        let meddled = std::sync::Mutex::new(false);
        let other = case(json!({ "case_code": code, "bmi": 31.2 }));
        // After the rows were read for the first time, someone submits the same case.
        let progress = move |_| {
            let mut done = meddled.lock().unwrap();
            if !std::mem::replace(&mut *done, true) {
                let strict = serde_json::from_value(other.clone()).unwrap();
                let form = quietbeam_schema::case::CaseForm::from_json(strict);
                let permit = Permit::<SubmitCase>::for_operator("test");
                store
                    .write_blocking(permit, move |session| cases::submit(session, &form, Some(centre)).map(|_| ()))
                    .unwrap();
            }
        };
        let rows = [case(json!({ "case_code": code })), zero_case(json!({}))];
        let request = Request { progress: Arc::new(progress), ..request(centre, cases_only(&rows), Wanted::GoodRows) };
        let permit = || Permit::<ImportFiles>::for_operator("test");
        let outcome = import(&registry.store, permit(), permit(), request);
        let Err(RegistryError::Store(error)) = outcome else { panic!("it must be refused") };
        assert_eq!(error.to_string(), "somebody else changed the same at the same time; try again");
        assert_eq!(registry.raw().count("case_revision"), 1);
        assert_eq!(registry.raw().count("import_receipt"), 0);
    }
}
