//! The tables, alike on both engines: text, 64-bit integers and floating-point numbers only,
//! so that one set of queries serves both and hashes are stable to the byte.

use diesel::{allow_tables_to_appear_in_same_query, table};

table! {
    member (id) {
        id -> Text,
        sign_in_name -> Text,
        printed_name -> Text,
        role -> Text,
        password_hash -> Text,
        auth_epoch -> BigInt,
        created_at -> Text,
        disabled_at -> Nullable<Text>,
        theme -> Text,
        single_keys -> Text,
    }
}

table! {
    member_centre (member, centre) {
        member -> Text,
        centre -> Text,
    }
}

table! {
    sign_in (id) {
        id -> Text,
        member -> Text,
        kind -> Text,
        auth_epoch -> BigInt,
        began_at -> Text,
        last_used_at -> Text,
        ends_at -> Text,
        ended_at -> Nullable<Text>,
    }
}

table! {
    refresh_token (token_hash) {
        token_hash -> Text,
        sign_in -> Text,
        issued_at -> Text,
        rotated_at -> Nullable<Text>,
    }
}

table! {
    idempotency (actor, route, key) {
        actor -> Text,
        route -> Text,
        key -> Text,
        fingerprint -> Text,
        status -> BigInt,
        body -> Text,
        at -> Text,
    }
}

table! {
    centre (code) {
        code -> Text,
        name -> Text,
        region -> Nullable<Text>,
        kind -> Text,
        annual_volume -> Text,
        zero_fluoroscopy_since -> Nullable<Text>,
        created_at -> Text,
    }
}

table! {
    room (centre, code) {
        centre -> Text,
        code -> Text,
        definition -> Text,
        recorded_at -> Text,
    }
}

table! {
    centre_approval (id) {
        id -> Text,
        centre -> Text,
        kind -> Text,
        reference -> Text,
        valid_from -> Text,
        valid_until -> Text,
        renews -> Nullable<Text>,
        actor -> Text,
        at -> Text,
    }
}

table! {
    approval_withdrawal (approval) {
        approval -> Text,
        reason -> Text,
        actor -> Text,
        at -> Text,
    }
}

table! {
    screening_revision (seq) {
        seq -> BigInt,
        centre -> Text,
        period -> Text,
        procedure_group -> Text,
        revision -> BigInt,
        superseded_by_seq -> Nullable<BigInt>,
        counts -> Text,
        signed_by -> Nullable<Text>,
        actor -> Text,
        at -> Text,
        reason -> Nullable<Text>,
    }
}

table! {
    case_code (code) {
        code -> Text,
        centre -> Text,
        actor -> Text,
        issued_at -> Text,
    }
}

table! {
    case_revision (seq) {
        seq -> BigInt,
        code -> Text,
        revision -> BigInt,
        centre -> Text,
        superseded_by_seq -> Nullable<BigInt>,
        actor -> Text,
        at -> Text,
        reason -> Nullable<Text>,
        form_version -> Text,
        record -> Text,
        record_hash -> Text,
        period -> Text,
        procedure_group -> Text,
        procedure -> Text,
        strategy_intended -> Text,
        fluoro_used -> Text,
        air_kerma_mgy -> Nullable<Double>,
        kap_gycm2 -> Nullable<Double>,
        fluoro_time_s -> Nullable<Double>,
    }
}

table! {
    case_draft (id) {
        id -> Text,
        centre -> Text,
        version -> BigInt,
        entries -> Text,
        begun_at -> Text,
        saved_by -> Text,
        saved_at -> Text,
    }
}

table! {
    data_query (seq) {
        seq -> BigInt,
        id -> Text,
        code -> Text,
        centre -> Text,
        field -> Nullable<Text>,
        rule -> Nullable<Text>,
        sentence -> Text,
        raised_by -> Text,
        raised_at -> Text,
        state -> Text,
        stage -> Text,
    }
}

table! {
    plan_look (plan_number, look) {
        plan_number -> BigInt,
        look -> BigInt,
        cut -> Text,
        information -> Double,
        spent -> Double,
    }
}

table! {
    report_text (comparison, item, version) {
        comparison -> Text,
        item -> BigInt,
        version -> BigInt,
        text -> Text,
        actor -> Text,
        at -> Text,
    }
}

table! {
    import_receipt (id) {
        id -> Text,
        centre -> Text,
        files_hash -> Text,
        actor -> Text,
        at -> Text,
        content -> Text,
    }
}

table! {
    import_job (id) {
        id -> Text,
        centre -> Text,
        stage -> Text,
        version -> BigInt,
        layout -> Text,
        files_hash -> Text,
        wanted -> Nullable<Text>,
        outcome -> Nullable<Text>,
        rows_all -> BigInt,
        rows_done -> BigInt,
        attempts -> BigInt,
        holder -> Nullable<Text>,
        held_until -> Nullable<Text>,
        actor -> Text,
        begun_at -> Text,
        ends_at -> Text,
    }
}

table! {
    import_job_file (job, kind) {
        job -> Text,
        kind -> Text,
        content -> Text,
    }
}

table! {
    audit_event (seq) {
        seq -> BigInt,
        at -> Text,
        actor -> Text,
        role -> Text,
        deed -> Text,
        subject -> Text,
        subject_id -> Text,
        centre -> Nullable<Text>,
        revision -> Nullable<BigInt>,
        before -> Nullable<Text>,
        after -> Nullable<Text>,
        reason -> Nullable<Text>,
        request_id -> Text,
    }
}

table! {
    judgement (seq) {
        seq -> BigInt,
        event -> Text,
        code -> Text,
        place -> BigInt,
        ruling -> Text,
        sentence -> Text,
        shown -> Text,
        actor -> Text,
        at -> Text,
    }
}

table! {
    data_cut (id) {
        id -> Text,
        name -> Text,
        boundary_seq -> BigInt,
        screening_boundary_seq -> BigInt,
        judgement_boundary_seq -> BigInt,
        cases -> BigInt,
        content_hash -> Text,
        actor -> Text,
        at -> Text,
    }
}

table! {
    analysis_plan (id) {
        id -> Text,
        number -> BigInt,
        version -> BigInt,
        title -> Text,
        content -> Text,
        content_hash -> Text,
        reason -> Nullable<Text>,
        cases_before -> BigInt,
        comparisons_before -> BigInt,
        opened_before -> BigInt,
        actor -> Text,
        at -> Text,
    }
}

table! {
    comparison (id) {
        id -> Text,
        cut -> Text,
        request -> Text,
        request_hash -> Text,
        result -> Text,
        result_hash -> Text,
        software_version -> Text,
        actor -> Text,
        at -> Text,
    }
}

table! {
    safety_summary (id) {
        id -> Text,
        number -> Nullable<BigInt>,
        cut -> Text,
        state -> Text,
        stage -> Text,
        content -> Text,
        content_hash -> Text,
        drafted_at -> Text,
        learnt -> Nullable<Text>,
    }
}

allow_tables_to_appear_in_same_query!(member, member_centre, sign_in, refresh_token);
diesel::joinable!(safety_summary -> data_cut (cut));
allow_tables_to_appear_in_same_query!(safety_summary, data_cut);
diesel::joinable!(approval_withdrawal -> centre_approval (approval));
allow_tables_to_appear_in_same_query!(approval_withdrawal, centre_approval);
allow_tables_to_appear_in_same_query!(case_code, case_revision);
allow_tables_to_appear_in_same_query!(case_revision, data_query);
