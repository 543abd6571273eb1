//! Cases taken out and taken in again: nothing changes, whatever the form of the file.

use std::io::{Cursor, Read};
use std::sync::Arc;

use proptest::prelude::*;
use proptest::test_runner::{Config, TestRunner};
use quietbeam::access::Permit;
use quietbeam::access::action::{ExportCases, ImportFiles, SubmitCase};
use quietbeam::demo::Scenario;
use quietbeam::export::Format;
use quietbeam::intake::{FileKind, Files, Source};
use quietbeam::registry::case_list::CaseSearch;
use quietbeam::registry::cases::submit;
use quietbeam::registry::exports::{Wanted, export_cases};
use quietbeam::registry::imports::{self, Outcome, Request, import};
use quietbeam_schema::case::CaseForm;
use quietbeam_schema::ids::CentreCode;
use quietbeam_tests::on_both_stores;
use quietbeam_tests::registry::{Engine, Registry};
use quietbeam_tests::sample;
use serde_json::json;

use crate::sheet::bytes;

const TABLES: [Format; 2] = [Format::Delimited, Format::Workbook];

fn take_in(registry: &Registry, centre: CentreCode, files: Files, wanted: imports::Wanted) -> Outcome {
    let permit = || Permit::<ImportFiles>::for_operator("test");
    let request = Request { centre, files, wanted, progress: Arc::new(|_| {}) };
    import(&registry.store, permit(), permit(), request).unwrap()
}

fn take_out(registry: &Registry, centre: CentreCode, format: Format) -> (Vec<u8>, u64) {
    let permit = || Permit::<ExportCases>::for_operator("test");
    let wanted = Wanted { centre, search: CaseSearch::default(), format };
    let mut written = export_cases(&registry.store, permit(), permit(), wanted).unwrap();
    let mut all = Vec::new();
    written.file.read_to_end(&mut all).unwrap();
    assert_eq!(written.length, all.len() as u64);
    (all, written.cases)
}

/// The tables in a file that was taken out.
fn files_of(format: Format, file: &[u8]) -> Files {
    match format {
        Format::Workbook => Files::of_workbook(file).unwrap(),
        _ => {
            let mut archive = zip::ZipArchive::new(Cursor::new(file)).unwrap();
            let mut files = Files::default();
            for kind in FileKind::ALL {
                let mut text = Vec::new();
                archive.by_name(&format!("{kind}.csv")).unwrap().read_to_end(&mut text).unwrap();
                files.put(kind, Source::Bytes(text.into()));
            }
            files
        }
    }
}

/// Takes a centre out and in again in both forms of tables; how many cases went round.
fn goes_round(registry: &Registry, centre: CentreCode) -> u64 {
    let mut went = 0;
    for format in TABLES {
        let (file, cases) = take_out(registry, centre, format);
        if cases > 0 {
            let outcome = take_in(registry, centre, files_of(format, &file), imports::Wanted::AllOrNothing);
            let lines: Vec<String> = outcome.report.problems.iter().map(ToString::to_string).collect();
            assert!(outcome.report.all_accepted(), "{format:?} {lines:#?}");
            let changes = &outcome.changes;
            assert_eq!((changes.new, changes.changed, changes.unchanged), (0, 0, cases), "{format:?}");
            assert!(!outcome.stored);
        }
        assert!(take_out(registry, centre, format).0 == file, "{format:?}: a second file differs");
        went = cases;
    }
    assert_eq!(take_out(registry, centre, Format::Json).0, take_out(registry, centre, Format::Json).0);
    went
}

/// Takes in what a centre of the invented network sends; faults and all that can be taken.
fn invented(registry: &Registry, seed: u64, cases: usize) -> Vec<CentreCode> {
    let network = Scenario::generate(seed, cases);
    let sent = network.centres.iter().filter(|centre| centre.case_rows() > 0).map(|invented| {
        let centre = registry.centre(invented.centre.code.to_string().as_str());
        let texts = invented.files(&registry.codes(centre, invented.case_rows()));
        let mut files = Files::default();
        for (kind, text) in
            FileKind::ALL.into_iter().zip([texts.cases, texts.complications, texts.follow_ups])
        {
            files.put(kind, bytes(text));
        }
        take_in(registry, centre, files, imports::Wanted::GoodRows);
        centre
    });
    sent.collect()
}

on_both_stores! {
    fn the_invented_network_goes_round(registry) {
        let centres = invented(registry, 1, 80);
        let before = registry.raw().count("case_revision");
        let went: u64 = centres.iter().map(|centre| goes_round(registry, *centre)).sum();
        assert_eq!(went, before);
        assert!(before > 60, "{before}");
        assert_eq!(registry.raw().count("case_revision"), before);
        assert!(registry.raw().count("import_receipt") <= centres.len() as u64);
    }

    /// Words that a spreadsheet would run, or that a file could take for something else.
    fn hostile_words_go_round(registry) {
        let centre = registry.centre("S07");
        for text in HOSTILE {
            let case = sample::with(sample::zero_fluoroscopy_case(), json!({ "comment": text }));
            let form = CaseForm::from_json(serde_json::from_value(case).unwrap());
            let permit = Permit::<SubmitCase>::for_operator("test");
            registry.store.write_blocking(permit, move |session| submit(session, &form, Some(centre))).unwrap();
        }
        assert_eq!(goes_round(registry, centre), HOSTILE.len() as u64);
        let (file, _) = take_out(registry, centre, Format::Delimited);
        let Some(Source::Bytes(cases)) = files_of(Format::Delimited, &file).cases else { panic!("no cases") };
        let mut rows = csv::Reader::from_reader(&*cases);
        for cell in rows.records().flat_map(|row| row.unwrap().iter().map(str::to_owned).collect::<Vec<_>>()) {
            for part in cell.split([',', ';', '\t']) {
                let number = part.parse::<f64>().is_ok();
                assert!(number || !part.starts_with(['=', '+', '-', '@', '\t', '\r', '＝']), "{cell}");
            }
        }
        // What a spreadsheet shows as text is text there too.
        let (book, _) = take_out(registry, centre, Format::Workbook);
        let mut archive = zip::ZipArchive::new(Cursor::new(book)).unwrap();
        let mut sheet = String::new();
        archive.by_name("xl/worksheets/sheet1.xml").unwrap().read_to_string(&mut sheet).unwrap();
        assert!(!sheet.contains("<f>"), "a formula");
    }

    fn a_case_with_everything_goes_round(registry) {
        let centre = registry.centre("S07");
        for case in [
            sample::case_with_seen_effusion(),
            sample::with(sample::conventional_case(), json!({
                "fluoro_time": "7:30", "fluoro_time_unit": "min", "air_kerma": 0.0255, "air_kerma_unit": "Gy",
                "kap": 1e2, "kap_unit": "uGy.m2", "cine_time": 0.0000001, "cine_time_unit": "s",
            })),
        ] {
            let form = CaseForm::from_json(serde_json::from_value(case).unwrap());
            let permit = Permit::<SubmitCase>::for_operator("test");
            registry.store.write_blocking(permit, move |session| submit(session, &form, Some(centre))).unwrap();
        }
        assert_eq!(goes_round(registry, centre), 2);
    }
}

const HOSTILE: [&str; 24] = [
    "=1+1",
    "+cmd|' /C calc'!A0",
    "-2+3",
    "@SUM(A1:A9)",
    "'=1+1",
    "''=1",
    "'",
    "'quoted'",
    "a;=1+1",
    "a,=1,@b;-c",
    "＝1+1",
    "say \"=1\", twice",
    "\"",
    "\"\"\"=1",
    "Not done",
    "'not done",
    "asked and unknown",
    "calm; not done",
    "_x0041_ and _x000D_",
    "<b>&amp;</b> ]]>",
    "one\ttwo\nthree\r\nfour",
    "\u{2028}a\u{85a}é µ 心",
    "TRUE",
    "1e5",
];

/// Any network the generator can invent.
#[test]
fn any_invented_network_goes_round() {
    let config = Config { cases: 3, failure_persistence: None, ..Config::default() };
    TestRunner::new(config)
        .run(&(any::<u64>(), 7_usize..60), |(seed, cases)| {
            let registry = Registry::new(Engine::Sqlite);
            for centre in invented(&registry, seed, cases) {
                goes_round(&registry, centre);
            }
            Ok(())
        })
        .unwrap();
}
