//! The dose report of an X-ray system, sent to the registry: its figures come back, and
//! nothing of it stays.

use crate::network::coordinator;
use quietbeam_tests::on_both_stores;
use quietbeam_tests::server::{Answer, Asked, Sends, Served, SignedIn};
use serde_json::json;
use std::path::PathBuf;

const DICOM: &str = "application/dicom";

fn report(name: &str) -> Vec<u8> {
    let folder = PathBuf::from(env!("CARGO_MANIFEST_DIR")).join("intake/dose_reports");
    std::fs::read(folder.join(name)).unwrap()
}

fn send(member: &SignedIn<'_>, kind: &str, bytes: Vec<u8>) -> Answer {
    member.send(&Asked::new("POST", "/dose-reports").bytes(kind, bytes))
}

on_both_stores! {
    fn the_figures_come_back_as_fields_of_the_case_and_nothing_stays(registry) {
        let served = Served::new(registry);
        let member = coordinator(&served);
        let answer = send(&member, DICOM, report("single_plane.dcm")).expect(200);
        let found = answer.json();
        assert_eq!(found["fields"][0], json!({ "field": "air_kerma", "value": "23.4", "unit": "mGy" }), "{found}");
        assert_eq!(found["fields"].as_array().unwrap().len(), 7, "{found}");
        assert_eq!(found["notes"], json!([]));
        let kept = registry.raw().everything();
        assert!(kept.contains("S07"), "the search itself finds nothing");
        for planted in ["PLANTED", "1.2.826.0.1.3680043.10.999", "20250817", "19500203"] {
            assert!(!answer.text().contains(planted), "the answer holds {planted}");
            assert!(!kept.contains(planted), "the store holds {planted}");
        }
    }

    fn what_is_no_dose_report_gets_its_sentence(registry) {
        let served = Served::new(registry);
        let member = coordinator(&served);
        for (bytes, words) in [
            (report("ct.dcm"), "dose report of a CT"),
            (report("image.dcm"), "is an image"),
            (report("conflicting.dcm"), "several values that differ"),
            (report("enormous.dcm"), "beyond what the registry takes"),
            (b"air kerma 23.4 mGy".to_vec(), "not a DICOM file"),
            (Vec::new(), "not a DICOM file"),
        ] {
            let problem = send(&member, DICOM, bytes).problem(422, "must_be_mended");
            assert!(problem["detail"].as_str().unwrap().contains(words), "{problem}");
        }
        send(&member, DICOM, vec![0; (16 << 20) + 1]).problem(413, "too_large");
        send(&member, "application/json", b"{}".to_vec()).problem(415, "unsupported_media_type");
    }
}
