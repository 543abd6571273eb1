//! Dose reports made by an independent library (`dose_reports/make.py`, pydicom 3.0.2),
//! and files that were never meant to be read.

use crate::mutated::{change, changed};
use proptest::prelude::*;
use quietbeam::intake::dose_report::{DoseReport, DoseReportProblem, Note, Plane, read};
use quietbeam_tests::intake_laws;
use quietbeam_tests::log::KeptLog;
use std::path::PathBuf;
use std::time::{Duration, Instant};

fn bytes(name: &str) -> Vec<u8> {
    let path = PathBuf::from(env!("CARGO_MANIFEST_DIR")).join("intake/dose_reports").join(name);
    std::fs::read(&path).unwrap_or_else(|error| panic!("{}: {error}", path.display()))
}

fn report(name: &str) -> DoseReport {
    read(&bytes(name)).unwrap_or_else(|problem| panic!("{name}: {problem}"))
}

/// The offered fields as `name=value unit`.
fn offered(name: &str) -> Vec<String> {
    let offer = report(name).offer().unwrap_or_else(|problem| panic!("{name}: {problem}"));
    let line = |field: &quietbeam::intake::dose_report::OfferedField| {
        let unit = field.unit.map(|unit| format!(" {unit}")).unwrap_or_default();
        format!("{}={}{unit}", field.field, field.value)
    };
    offer.fields.iter().map(line).collect()
}

/// What `make.py` wrote: 0.0234 Gy, 0.0006367 Gy.m2, 252 s, 12.5 s, two cine runs.
const USUAL: [&str; 7] = [
    "air_kerma=23.4 mGy",
    "kap=6.367 Gy.cm2",
    "fluoro_time=252 s",
    "cine_time=12.5 s",
    "ak_planes=single",
    "cine_runs=2",
    "dose_source=structured_report",
];

#[test]
fn every_uncompressed_way_of_writing_gives_the_same_figures() {
    for name in ["single_plane.dcm", "implicit.dcm", "big_endian.dcm", "undefined_lengths.dcm"] {
        assert_eq!(offered(name), USUAL, "{name}");
        assert_eq!(report(name).notes, [], "{name}");
    }
}

#[test]
fn two_planes_are_added_for_the_product_and_marked_for_the_kerma() {
    let found = report("biplane.dcm");
    let planes: Vec<Plane> = found.planes.iter().map(|of| of.plane).collect();
    assert_eq!(planes, [Plane::A, Plane::B]);
    assert!(found.notes.contains(&Note::TwoPlanes));
    assert_eq!(
        offered("biplane.dcm"),
        ["air_kerma=25 mGy", "kap=6 Gy.cm2", "ak_planes=a_plus_b", "dose_source=structured_report"]
    );
}

#[test]
fn totals_that_disagree_are_told() {
    let notes = report("events_disagree.dcm").notes;
    assert_eq!(notes.len(), 2, "{notes:?}");
    assert!(notes.iter().all(|note| matches!(note, Note::EventsDisagree { .. })), "{notes:?}");
    assert!(notes[0].to_string().contains("23.4 mGy, but the single irradiations add up to 13.4 mGy"));
    let notes = report("parts_disagree.dcm").notes;
    assert!(matches!(notes[..], [Note::PartsDisagree { stated: 23.4, summed: 13.4, .. }]), "{notes:?}");
    let notes = report("other_reference_point.dcm").notes;
    assert_eq!(notes, [Note::OtherReferencePoint]);
}

#[test]
fn units_are_converted_and_what_is_missing_stays_missing() {
    assert_eq!(offered("other_units.dcm")[..3], USUAL[..3]);
    assert_eq!(
        offered("sparse.dcm"),
        ["air_kerma=23.4 mGy", "ak_planes=single", "dose_source=structured_report"]
    );
}

#[test]
fn concepts_are_matched_by_code_and_scheme_and_not_by_their_text() {
    assert_eq!(
        offered("misleading_meanings.dcm"),
        ["air_kerma=23.4 mGy", "ak_planes=single", "dose_source=structured_report"]
    );
}

#[test]
fn other_files_get_the_sentence_that_says_what_they_are() {
    for (name, words) in [
        ("deflated.dcm", "compressed (deflated)"),
        ("ct.dcm", "dose report of a CT"),
        ("mammography.dcm", "mammography unit"),
        ("image.dcm", "is an image"),
        ("compressed_image.dcm", "transfer syntax for images"),
        ("document.dcm", "not a structured report"),
        ("other_report.dcm", "not an X-ray radiation dose report"),
        ("no_totals.dcm", "no accumulated dose data"),
        ("conflicting.dcm", "several values that differ"),
        ("biplane_wrong_sum.dcm", "planes do not add up"),
        ("negative.dcm", "not a number of zero or more"),
        ("not_finite.dcm", "not a number of zero or more"),
        ("words.dcm", "not a number of zero or more"),
        ("two_numbers.dcm", "not a number of zero or more"),
        ("no_unit.dcm", "unit is missing or cannot be read as gray"),
        ("unit_of_another_scheme.dcm", "unit is missing or cannot be read as gray"),
        ("minutes_as_dose.dcm", "unit is missing or cannot be read as gray"),
    ] {
        let problem = read(&bytes(name)).expect_err(name).to_string();
        assert!(problem.contains(words), "{name}: {problem}");
        assert!(!problem.contains("PLANTED"), "{name}: {problem}");
    }
    let problem = report("enormous.dcm").offer().expect_err("999 Gy").to_string();
    assert!(problem.contains("beyond what the registry takes"), "{problem}");
    assert_eq!(read(b"air kerma 23.4"), Err(DoseReportProblem::NotDicom));
    assert_eq!(read(&vec![0; 100 << 20]), Err(DoseReportProblem::TooLarge));
}

#[test]
fn nothing_of_a_report_but_its_figures_comes_out() {
    for name in ["single_plane.dcm", "biplane.dcm", "events_disagree.dcm"] {
        let whole = String::from_utf8_lossy(&bytes(name)).into_owned();
        let planted = ["PLANTED", "1.2.826.0.1.3680043.10.999", "20250817", "19500203"];
        assert!(planted.iter().all(|secret| whole.contains(secret)), "{name} lost what was planted");
        let out = format!("{:?} {:?}", report(name), offered(name));
        assert!(planted.iter().all(|secret| !out.contains(secret)), "{name}: {out}");
    }
}

/// The library that takes the file apart writes a log of its own at the lowest level.
#[test]
fn nothing_planted_reaches_a_log_at_any_level() {
    let kept = KeptLog::default();
    tracing::subscriber::with_default(kept.subscriber(), || {
        tracing::trace!("the log is on");
        for name in ["single_plane.dcm", "implicit.dcm", "words.dcm", "image.dcm"] {
            let _ = read(&bytes(name));
            let _ = read(&bytes(name)[..1000.min(bytes(name).len())]);
        }
    });
    let log = kept.text();
    assert!(log.contains("the log is on"), "{log}");
    for planted in ["PLANTED", "1.2.826.0.1.3680043.10.999", "20250817", "19500203"] {
        assert!(!log.contains(planted), "the log holds {planted}: {log}");
    }
}

/// A file whose data set begins with `data`, in explicit little endian.
fn file_with(data: &[u8]) -> Vec<u8> {
    let syntax = b"\x02\x00\x10\x00UI\x14\x001.2.840.10008.1.2.1\x00";
    let mut file = vec![0; 128];
    file.extend(b"DICM\x02\x00\x00\x00UL\x04\x00");
    file.extend(u32::try_from(syntax.len()).unwrap().to_le_bytes());
    file.extend(syntax);
    file.extend(data);
    file
}

const SEQUENCE: &[u8] = b"\x40\x00\x30\xA7SQ\x00\x00\xFF\xFF\xFF\xFF";
const ENTRY: &[u8] = b"\xFE\xFF\x00\xE0\xFF\xFF\xFF\xFF";
const ENTRY_END: &[u8] = b"\xFE\xFF\x0D\xE0\x00\x00\x00\x00";
const SEQUENCE_END: &[u8] = b"\xFE\xFF\xDD\xE0\x00\x00\x00\x00";

#[test]
fn crafted_files_are_refused_in_an_instant() {
    let nested = [SEQUENCE, ENTRY].concat().repeat(100_000);
    let lying = b"\x10\x00\x10\x00UN\x00\x00\xFE\xFF\xFF\xFF".repeat(500);
    let lying_sequence = b"\x40\x00\x30\xA7SQ\x00\x00\xFE\xFF\xFF\x7F".repeat(500);
    let entry = [ENTRY, ENTRY_END].concat();
    let wide = [SEQUENCE, &entry.repeat(900_000)[..], SEQUENCE_END].concat();
    for (what, data) in [
        ("100,000 levels", nested),
        ("values of four gigabytes", lying),
        ("sequences of two gigabytes", lying_sequence),
        ("900,000 items", wide),
        ("an end before its beginning", ENTRY_END.repeat(20)),
        ("a sequence's end before its beginning", SEQUENCE_END.repeat(20)),
        ("ends of the wrong kind", [SEQUENCE, ENTRY_END, ENTRY_END, ENTRY].concat()),
        ("an entry outside a sequence", ENTRY.repeat(20)),
        ("nothing", Vec::new()),
    ] {
        let begun = Instant::now();
        let found = read(&file_with(&data));
        assert!(found.is_err(), "{what}: {found:?}");
        assert!(begun.elapsed() < Duration::from_secs(5), "{what} took {:?}", begun.elapsed());
    }
}

/// Found by the fuzz target: the meta group was walked without a look at what is begun and ended.
#[test]
fn a_meta_group_of_anything_but_values_is_broken() {
    for inside in [[ENTRY_END, ENTRY].concat(), [SEQUENCE_END, ENTRY].concat(), SEQUENCE.to_vec()] {
        let mut file = vec![0; 128];
        file.extend(b"DICM\x02\x00\x00\x00UL\x04\x00");
        file.extend(u32::try_from(inside.len()).unwrap().to_le_bytes());
        file.extend(&inside);
        assert_eq!(read(&file), Err(DoseReportProblem::Broken), "{inside:?}");
    }
}

/// A container with many children for each of many containers would take a
/// quadratic walk minutes.
#[test]
fn many_irradiations_are_read_in_linear_time() {
    let one = bytes("single_plane.dcm");
    let event = one.windows(6).position(|window| window == b"113706").expect("an irradiation");
    assert!(event > 0);
    let name = |code: &str| {
        let mut coded = b"\x40\x00\x43\xA0SQ\x00\x00\xFF\xFF\xFF\xFF".to_vec();
        coded.extend(ENTRY);
        coded.extend(b"\x08\x00\x00\x01SH\x06\x00");
        coded.extend(code.as_bytes());
        coded.extend(b"\x08\x00\x02\x01SH\x04\x00DCM ");
        coded.extend(ENTRY_END);
        coded.extend(SEQUENCE_END);
        coded
    };
    let irradiation = [ENTRY, &name("113706"), ENTRY_END].concat();
    let totals = [ENTRY, &name("113702"), ENTRY_END].concat();
    let mut data = b"\x08\x00\x60\x00CS\x02\x00SR".to_vec();
    data.extend(name("113701"));
    data.extend(SEQUENCE);
    data.extend(totals);
    data.extend(irradiation.repeat(120_000));
    data.extend(SEQUENCE_END);
    let begun = Instant::now();
    assert_eq!(read(&file_with(&data)), Err(DoseReportProblem::NoTotals));
    assert!(begun.elapsed() < Duration::from_secs(20), "took {:?}", begun.elapsed());
}

#[test]
fn a_file_cut_anywhere_is_refused_and_never_read_in_part() {
    let whole = bytes("single_plane.dcm");
    for end in 0..whole.len() {
        let found = read(&whole[..end]);
        assert!(found.is_err(), "{end} of {} bytes gave {found:?}", whole.len());
    }
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(3000))]

    /// Whatever a few changed bytes do, there is an answer, and it keeps no text.
    #[test]
    fn changed_bytes_never_end_the_process(
        which in 0..5_usize, changes in prop::collection::vec(change(), 1..8),
    ) {
        let name = ["single_plane.dcm", "implicit.dcm", "undefined_lengths.dcm", "big_endian.dcm", "biplane.dcm"][which];
        let whole = bytes(name);
        // What stands before is told apart by the first look.
        let file = [whole[..132].to_vec(), changed(whole[132..].to_vec(), &changes)].concat();
        intake_laws::dose_report(&file);
        if let Ok(found) = read(&file) {
            let out = format!("{found:?} {:?}", found.offer());
            prop_assert!(!out.contains("PLANTED"), "{}", out);
        }
    }
}
