#![allow(clippy::unwrap_used, clippy::expect_used, clippy::panic)]

use super::*;
use crate::reported::MissingCode;
use std::collections::HashSet;

/// Checks every code of one list, and gives the list for checks across lists.
fn checked<C: Coded + FieldValue + serde::Serialize + std::fmt::Debug>() -> &'static CodeList {
    let list = C::LIST;
    assert_eq!(C::all().len(), list.codes.len(), "{}", list.name);
    assert!(is_lower_snake(list.name), "{}", list.name);
    for (position, (value, code)) in C::all().iter().zip(list.codes).enumerate() {
        let place = format!("{}.{}", list.name, code.code);
        assert_eq!(value.position(), position, "{place}");
        assert!(is_lower_snake(code.code), "{place}");
        assert!(!code.label.trim().is_empty() && !code.label.ends_with('.'), "{place}");
        assert!(is_sentence(code.definition), "{place}: {}", code.definition);
        // A missing code inside a list would be read as a reason for absence, never as a value.
        assert_eq!(MissingCode::from_code(code.code), None, "{place}");
        assert_eq!(C::parse(&value.text()), Ok(*value), "{place}");
        assert_eq!(C::parse(&format!(" {} ", code.code.to_uppercase())), Ok(*value), "{place}");
        assert_eq!(serde_json::to_value(value).unwrap(), serde_json::json!(code.code));
    }
    let codes: HashSet<_> = list.codes.iter().map(|code| code.code).collect();
    let labels: HashSet<_> = list.codes.iter().map(|code| code.label).collect();
    assert_eq!(codes.len(), list.codes.len(), "{}: a code stands twice", list.name);
    assert_eq!(labels.len(), list.codes.len(), "{}: a label stands twice", list.name);
    assert_eq!(C::parse("no_such_code"), Err(ValueProblem::NotInList(list)), "{}", list.name);
    assert_eq!(C::parse(""), Err(ValueProblem::NotInList(list)), "{}", list.name);
    list
}

fn is_lower_snake(text: &str) -> bool {
    !text.is_empty()
        && text.split('_').all(|part| {
            !part.is_empty() && part.bytes().all(|b| b.is_ascii_lowercase() || b.is_ascii_digit())
        })
}

/// Several words that begin with a capital or a digit and end with a full stop.
fn is_sentence(text: &str) -> bool {
    let begins = text.chars().next().is_some_and(|c| c.is_uppercase() || c.is_ascii_digit());
    begins && text.ends_with('.') && text.contains(' ') && !text.contains("  ")
}

macro_rules! every_list {
    ($($name:ident),+ $(,)?) => { vec![$(checked::<$name>()),+] };
}

// A list, one name a line.
#[allow(clippy::too_many_lines)]
fn every_list_checked() -> Vec<&'static CodeList> {
    every_list![
        YesNo,
        ConsentBasis,
        RecordState,
        ApprovalKind,
        Completeness,
        Exclusion,
        NearZeroCases,
        MarginScale,
        PrimaryMethod,
        Strata,
        SummaryTable,
        DisclosureProfile,
        ToldFirst,
        ProfileNumber,
        Covariate,
        MissingCovariate,
        Sensitivity,
        SpendingFunction,
        SubgroupBy,
        AgeBand,
        Sex,
        WeightBand,
        StructuralDisease,
        CongenitalDisease,
        DeviceInSitu,
        Anticoagulation,
        EgfrBand,
        PreproceduralImaging,
        ProcedureType,
        ProcedureGroup,
        Substrate,
        Urgency,
        Energy,
        AccessSite,
        TransseptalRoute,
        TransseptalGuidance,
        IceUse,
        EffusionLookBaseline,
        EffusionLookDuring,
        EffusionLookEnd,
        EffusionLook24h,
        MappingSystem,
        Anaesthesia,
        OperatorExperience,
        OperatorPriorZf,
        SecondOperator,
        Strategy,
        IntentDeclared,
        ZfDeclinedReason,
        FluoroUsed,
        FluoroReason,
        FluoroPhase,
        KermaPlanes,
        LeadWorn,
        BadgePosition,
        DoseSource,
        EndpointShown,
        DrugTest,
        AbortReason,
        AcuteSuccess,
        ComplicationKind,
        ComplicationClass,
        EventPhase,
        DetectedBy,
        EffusionBefore,
        Intervention,
        HarmTier,
        HarmRuling,
        Seriousness,
        Relatedness,
        EventOutcome,
        SurgicalGrade,
        FollowUpStatus,
        DeathCause,
        RhythmMonitoring,
        RecurrenceType,
        SkinCheck,
        CentreType,
        AnnualVolume,
        ExclusionReason,
    ]
}

#[test]
fn every_code_of_every_list_is_well_formed() {
    let lists = every_list_checked();
    let names: HashSet<_> = lists.iter().map(|list| list.name).collect();
    assert_eq!(names.len(), lists.len(), "a list's name stands twice");
}

#[test]
fn no_list_escapes_the_check_above() {
    let sources = [
        include_str!("adjudication.rs"),
        include_str!("common.rs"),
        include_str!("patient.rs"),
        include_str!("procedure.rs"),
        include_str!("guidance.rs"),
        include_str!("acute_result.rs"),
        include_str!("complication.rs"),
        include_str!("follow_up.rs"),
        include_str!("centre.rs"),
        include_str!("plan.rs"),
        include_str!("listing.rs"),
        include_str!("release.rs"),
    ];
    let declared: usize = sources.iter().map(|text| text.matches("code_list! {").count()).sum();
    assert_eq!(declared, every_list_checked().len());
}

#[test]
fn procedure_types_fall_into_their_groups() {
    let expected = [
        (ProcedureGroup::Svt, "avnrt avrt_ap focal_at"),
        (ProcedureGroup::Flutter, "cti_afl atyp_afl"),
        (ProcedureGroup::AfFirst, "af_parox_first af_pers_first af_lspers_first"),
        (ProcedureGroup::AfRedo, "af_redo"),
        (ProcedureGroup::Pvc, "pvc"),
        (ProcedureGroup::Vt, "vt_idio vt_endo vt_epi"),
        (ProcedureGroup::Other, "avn other_atrial diag_only other"),
    ];
    let mut seen = 0;
    for (group, codes) in expected {
        for code in codes.split(' ') {
            let procedure = ProcedureType::from_code(code).expect(code);
            assert_eq!(procedure.group(), group, "{code}");
            assert_eq!(procedure.is_af(), code.starts_with("af_"), "{code}");
            seen += 1;
        }
    }
    assert_eq!(seen, ProcedureType::all().len());
}

#[test]
fn the_beam_was_on_only_when_used() {
    let on: Vec<_> = FluoroUsed::all().iter().filter(|used| used.beam_on()).collect();
    assert_eq!(on, [&FluoroUsed::StandbyUsed, &FluoroUsed::PlannedUsed]);
}

#[test]
fn an_age_band_begins_where_its_code_says_and_adults_at_eighteen() {
    for band in AgeBand::all() {
        let (lower, _) = band.code().split_once('_').unwrap();
        assert_eq!(band.lower_years().to_string(), lower);
    }
    assert!(!AgeBand::Y12To17.is_adult());
    assert!(AgeBand::Y18To29.is_adult());
}

#[test]
fn complications_fall_into_their_classes() {
    let count = |class| ComplicationKind::all().iter().filter(|kind| kind.class() == class).count();
    assert_eq!(
        ComplicationClass::all().iter().map(|class| count(*class)).collect::<Vec<_>>(),
        [3, 6, 6, 3, 5, 5, 12]
    );
    assert_eq!(ComplicationKind::Tamponade.class(), ComplicationClass::Pericardial);
    assert_eq!(ComplicationKind::Dvt.class(), ComplicationClass::Vascular);
    assert_eq!(ComplicationKind::PulmonaryEmbolism.class(), ComplicationClass::Embolic);
    assert_eq!(ComplicationKind::AtrioOesophagealFistula.class(), ComplicationClass::NerveOrOesophagus);
}

#[test]
fn nothing_found_cannot_stand_beside_a_finding() {
    type Look = Codes<EffusionLookEnd>;
    assert_eq!(Look::parse("ICE; tte").unwrap().text(), "ice;tte");
    assert_eq!(Look::parse("ice;none"), Err(ValueProblem::NotAlone("none")));
    assert_eq!(Look::parse("none").unwrap().text(), "none");
}
