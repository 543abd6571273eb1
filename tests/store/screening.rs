//! The screening log: corrected with a reason, signed as it stands.

use quietbeam::access::Permit;
use quietbeam::access::action::{ReadScreeningLog, SignScreeningLog, WriteScreeningLog};
use quietbeam::store::{Conflict, Refused, ScreeningEntry, ScreeningLine, ScreeningRow, StoreError};
use quietbeam_schema::access::Role;
use quietbeam_schema::centre::{EnteredCounts, ScreeningCounts};
use quietbeam_schema::ids::CentreCode;
use quietbeam_schema::period::Quarter;
use quietbeam_schema::vocabulary::ProcedureGroup;
use quietbeam_tests::on_both_stores;
use quietbeam_tests::people::Desk;
use quietbeam_tests::registry::Registry;

fn line(centre: CentreCode) -> ScreeningLine {
    ScreeningLine { centre, period: Quarter::new(2025, 3).unwrap(), group: ProcedureGroup::AfFirst }
}

fn counts(performed: u32) -> ScreeningCounts {
    EnteredCounts { performed, eligible: performed, submitted: performed, ..EnteredCounts::default() }
        .try_into()
        .unwrap()
}

fn enter(
    registry: &Registry,
    centre: CentreCode,
    expected_revision: Option<i64>,
    reason: Option<&str>,
) -> Result<ScreeningRow, StoreError> {
    let reason = reason.map(|reason| reason.parse().unwrap());
    let performed = 40 + expected_revision.unwrap_or(0) as u32;
    let entry = ScreeningEntry { line: line(centre), expected_revision, counts: counts(performed), reason };
    let permit = Permit::<WriteScreeningLog>::for_operator("test");
    registry.store.write_blocking(permit, move |session| session.record_screening(entry))
}

fn sign(registry: &Registry, centre: CentreCode, expected_revision: i64) -> Result<ScreeningRow, StoreError> {
    let permit = Permit::<SignScreeningLog>::for_operator("test");
    registry
        .store
        .write_blocking(permit, move |session| session.sign_screening(line(centre), expected_revision))
}

on_both_stores! {
    fn a_correction_needs_a_reason_and_takes_the_signature_away(registry) {
        let centre = registry.centre("S07");
        enter(registry, centre, None, None).unwrap();
        assert!(matches!(enter(registry, centre, Some(1), None), Err(StoreError::Refused(Refused::ReasonRequired))));
        let signed = sign(registry, centre, 1).unwrap();
        assert_eq!((signed.revision, signed.signed_by.is_some()), (2, true));
        assert!(matches!(sign(registry, centre, 2), Err(StoreError::Refused(Refused::AlreadySigned))));
        let corrected = enter(registry, centre, Some(2), Some("one was counted twice")).unwrap();
        assert_eq!((corrected.revision, corrected.signed_by), (3, None));
        assert_eq!(registry.raw().count("screening_revision"), 3);
        assert_eq!(registry.raw().count("audit_event WHERE subject = 'screening_log'"), 3);
        for statement in ["DELETE FROM screening_revision", "UPDATE screening_revision SET counts = '{}'"] {
            assert!(registry.raw().run(statement).unwrap_err().contains("append-only"), "{statement}");
        }
    }

    fn a_stale_entry_or_signature_is_a_conflict(registry) {
        let centre = registry.centre("S07");
        enter(registry, centre, None, None).unwrap();
        enter(registry, centre, Some(1), Some("typing error")).unwrap();
        for stale in [enter(registry, centre, None, None), enter(registry, centre, Some(1), Some("typing error")), sign(registry, centre, 1)] {
            assert!(matches!(stale, Err(StoreError::Conflict(Conflict::StaleRevision { current: 2, .. }))));
        }
    }

    fn a_centre_sees_its_own_log(registry) {
        let (own, other) = (registry.centre("S07"), registry.centre("S08"));
        enter(registry, own, None, None).unwrap();
        enter(registry, other, None, None).unwrap();
        let desk = Desk::new(registry);
        let permit = desk.permit::<ReadScreeningLog>("lead", Role::CentreLead, &[own]);
        let lines: Vec<_> = registry
            .store
            .read_blocking(permit, |session| session.list_screening())
            .unwrap()
            .into_iter()
            .map(|row| row.line)
            .collect();
        assert_eq!(lines, [line(own)]);
    }
}
