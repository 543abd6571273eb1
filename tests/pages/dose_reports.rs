//! A dose report on the page of a draft and of a submitted case: its figures are offered beside
//! the fields, and nothing else of it stays anywhere.

use std::path::PathBuf;
use std::sync::OnceLock;

use quietbeam_schema::access::Role;
use quietbeam_tests::log::KeptLog;
use quietbeam_tests::on_both_stores;
use quietbeam_tests::sample;
use quietbeam_tests::server::{Answer, Sends, Served};
use quietbeam_tests::visitor::Visitor;
use serde_json::{Value, json};

use crate::access::visitor_of;
use crate::entry::{begun, fields_of, send};

/// What `make.py` plants in every report: a name, identifiers, dates, a person's birthday.
const PLANTED: [&str; 5] = ["PLANTED", "1.2.826.0.1.3680043.10.999", "20250817", "19500203", "GRIMALDI"];

pub(crate) fn file(name: &str) -> PathBuf {
    PathBuf::from(env!("CARGO_MANIFEST_DIR")).join("intake/dose_reports").join(name)
}

fn report(name: &str) -> Vec<u8> {
    std::fs::read(file(name)).unwrap()
}

/// Sends the form of a page with a file whose name is a person's.
fn read_report(visitor: &Visitor<'_>, path: &str, case: &Value, bytes: &[u8]) -> Answer {
    let fields = fields_of(case);
    let fields: Vec<(&str, &str)> =
        fields.iter().map(|(name, value)| (name.as_str(), value.as_str())).collect();
    visitor.post_file(path, &fields, ("report", "GRIMALDI_19500203.dcm", bytes))
}

fn with(case: Value, version: u32) -> Value {
    sample::with(case, json!({ "version": version, "do": "report" }))
}

/// The log of this test program, at its most talkative.
fn log() -> String {
    static KEPT: OnceLock<KeptLog> = OnceLock::new();
    let kept = KEPT.get_or_init(|| {
        let kept = KeptLog::default();
        tracing::subscriber::set_global_default(kept.subscriber()).expect("the only log");
        kept
    });
    kept.text()
}

on_both_stores! {
    fn the_figures_are_offered_and_only_what_is_taken_is_kept(registry) {
        log();
        let served = Served::new(registry);
        let visitor = visitor_of(&served, Role::Coordinator, served.registry.centre("S07"));
        let draft = begun(&visitor, "conventional");
        let blank = json!({ "air_kerma": "", "air_kerma_unit": "", "kap": "", "kap_unit": "", "fluoro_time": "nr" });
        let case = sample::with(sample::conventional_case(), blank);
        let answer = read_report(&visitor, &draft, &with(case.clone(), 1), &report("single_plane.dcm")).expect(200);
        let page = answer.text();
        // 23.4 mGy: the figure that make.py writes.
        assert!(page.contains("The report says <b>23.4\u{a0}mGy</b>") && page.contains("name=\"take-air_kerma\""), "{page}");
        assert!(page.contains("name=\"offered-air_kerma\" value=\"23.4\"") && page.contains("Totals, single plane"));
        // What was typed beside the file is saved with it; the offer itself is not.
        let kept = registry.raw().texts("SELECT entries FROM case_draft").concat();
        assert!(kept.contains("af_pers_first") || kept.contains("proc_primary"), "{kept}");
        assert!(!kept.contains("23.4"), "{kept}");
        let mut taking = sample::with(case.clone(), json!({
            "take-air_kerma": "yes", "offered-air_kerma": "23.4", "offered-air_kerma_unit": "mGy",
            "offered-kap": "6.367", "offered-kap_unit": "Gy.cm2",
        }));
        send(&visitor, &draft, 2, "save", &taking).expect(303);
        let page = visitor.get(&draft).expect(200).text();
        assert!(page.contains("name=\"air_kerma\" value=\"23.4\""), "{page}");
        assert!(page.contains("name=\"kap\" value=\"\""), "only what was ticked is taken");
        send(&visitor, &draft, 3, "take_all", &taking).expect(303);
        assert!(visitor.get(&draft).expect(200).text().contains("name=\"kap\" value=\"6.367\""));
        // A figure that no case could have is not taken from an offer either.
        taking["offered-kap"] = json!("Grimaldi");
        let page = send(&visitor, &draft, 4, "take_all", &taking).expect(422).text();
        assert!(page.contains("must be mended before it is kept"));
        assert_nothing_stays(registry, &[answer.text(), page]);
    }

    fn planes_stay_apart_and_notes_are_shown(registry) {
        let served = Served::new(registry);
        let visitor = visitor_of(&served, Role::Coordinator, served.registry.centre("S07"));
        let draft = begun(&visitor, "conventional");
        let page = read_report(&visitor, &draft, &with(sample::conventional_case(), 1), &report("biplane.dcm")).expect(200).text();
        for words in ["Totals, plane A", "Totals, plane B", "Two planes: kerma-area product is added", "not skin dose"] {
            assert!(page.contains(words), "{words}: {page}");
        }
        // Without a beam nothing can be taken, and the page says so.
        let unsaid = sample::with(sample::conventional_case(), json!({ "fluoro_used": "" }));
        let page = read_report(&visitor, &draft, &with(unsaid, 2), &report("biplane.dcm")).expect(200).text();
        assert!(page.contains("Say first that X-ray was used."), "{page}");
    }

    fn what_is_no_dose_report_gets_its_sentence_and_nothing_is_lost(registry) {
        log();
        let served = Served::new(registry);
        let visitor = visitor_of(&served, Role::CentreLead, served.registry.centre("S07"));
        let draft = begun(&visitor, "conventional");
        let whole = report("single_plane.dcm");
        let mut answers = Vec::new();
        for (version, (bytes, words)) in (1..).zip([
            (report("deflated.dcm"), "data set is compressed"),
            (report("compressed_image.dcm"), "transfer syntax for images"),
            (whole[..whole.len() - 40].to_vec(), "ends in the middle"),
            (report("document.dcm"), "not a structured report"),
            (report("other_report.dcm"), "not an X-ray radiation dose report"),
            (report("ct.dcm"), "dose report of a CT"),
            (report("image.dcm"), "is an image"),
            (vec![7; (16 << 20) + 1], "larger than 16 MB"),
            (b"air kerma 23.4 mGy".to_vec(), "not a DICOM file"),
            (Vec::new(), "Choose the file of the dose report first"),
        ]) {
            let page = read_report(&visitor, &draft, &with(sample::conventional_case(), version), &bytes).expect(422).text();
            assert!(page.contains("id=\"dose-report-message\"") && page.contains(words), "{words}: {page}");
            assert!(page.contains("name=\"bmi\" value="), "{words}");
            answers.push(page);
        }
        assert_nothing_stays(registry, &answers);
        // A form that brings a file is as little taken from elsewhere as any other.
        let asked = quietbeam_tests::server::Asked::new("POST", draft).files(&[("report", &whole)]);
        visitor.send(&asked.header("sec-fetch-site", "same-origin")).expect(403);
    }

    fn a_submitted_case_is_changed_with_a_reason(registry) {
        log();
        let served = Served::new(registry);
        let centre = served.registry.centre("S07");
        let visitor = visitor_of(&served, Role::Coordinator, centre);
        let sender = served.sign_in("coordinator.S07");
        let case = sample::with(sample::conventional_case(), json!({ "bmi": 60 }));
        let code = sender.post("/cases", &case).expect(201).json()["code"].as_str().unwrap().to_owned();
        let path = format!("/cases/{code}/change");
        assert!(visitor.get(&format!("/cases/{code}")).expect(200).text().contains(&format!("href=\"{path}\"")));
        assert!(visitor.get(&path).expect(200).text().contains("name=\"bmi\" value=\"60\""));
        let changed = |extra: Value| sample::with(sample::with(case.clone(), json!({ "revision": 1 })), extra);
        let post = |body: &Value| {
            let fields = fields_of(body);
            let fields: Vec<(&str, &str)> = fields.iter().map(|(name, value)| (name.as_str(), value.as_str())).collect();
            visitor.post(&path, &fields)
        };
        let answer = read_report(&visitor, &path, &changed(json!({ "do": "report", "reason": "Read again." })), &report("single_plane.dcm"));
        let page = answer.expect(200).text();
        assert!(page.contains("The report says <b>23.4\u{a0}mGy</b>") && page.contains("value=\"Read again.\""), "{page}");
        // Without a reason, with a name in it, or with what must be mended nothing is kept.
        for (extra, words) in [
            (json!({ "do": "change", "bmi": 30 }), "href=\"#reason\""),
            (json!({ "do": "change", "bmi": 30, "reason": "asked Dr Grimaldi" }), "href=\"#reason\""),
            (json!({ "do": "change", "bmi": 300, "reason": "Read again from the notes." }), "href=\"#bmi\""),
            (json!({ "do": "change", "bmi": 30, "revision": 7, "reason": "Read again from the notes." }), "Somebody else changed this case"),
        ] {
            let page = post(&changed(extra)).expect(422).text();
            assert!(page.contains(words), "{words}: {page}");
        }
        let taken = json!({
            "do": "change", "bmi": 30, "reason": "Read again from the dose report.", "take-air_kerma": "yes",
            "offered-air_kerma": "23.4", "offered-air_kerma_unit": "mGy",
        });
        post(&changed(taken)).expect(303);
        let stored = sender.get(&format!("/cases/{code}")).expect(200).json();
        assert_eq!((&stored["revision"], &stored["record"]["bmi"], &stored["record"]["air_kerma"]), (&json!(2), &json!(30), &json!(23.4)));
        // The question about the old value is settled by the rule.
        assert_eq!(sender.get("/queries").expect(200).json()["items"][0]["stage"]["state"], "closed");
        assert_nothing_stays(registry, &[page]);
        let stranger = visitor_of(&served, Role::Coordinator, served.registry.centre("S08"));
        read_report(&stranger, &path, &changed(json!({})), &report("single_plane.dcm")).expect(404);
        stranger.post(&path, &[("revision", "2"), ("do", "change"), ("reason", "Read again.")]).expect(404);
        visitor_of(&served, Role::Monitor, centre).post(&path, &[("do", "change")]).expect(403);
    }
}

fn assert_nothing_stays(registry: &quietbeam_tests::registry::Registry, answers: &[String]) {
    let (kept, said) = (registry.raw().everything(), log());
    assert!(
        kept.contains("S07") && said.contains("/drafts/") | said.contains("/cases/"),
        "the search itself finds nothing"
    );
    for planted in PLANTED {
        assert!(!answers.iter().any(|answer| answer.contains(planted)), "an answer holds {planted}");
        assert!(!kept.contains(planted), "the store holds {planted}");
        assert!(!said.contains(planted), "the log holds {planted}");
    }
}
