//! What is written stays written, whoever holds the database.

use quietbeam::access::Permit;
use quietbeam::access::action::ChangeCase;
use quietbeam::store::Change;
use quietbeam_tests::on_both_stores;
use quietbeam_tests::registry::{Engine, Registry, content};

fn refuses(registry: &Registry, statement: &str) {
    let error = registry.raw().run(statement).expect_err(statement);
    assert!(error.contains("append-only"), "{statement}: {error}");
}

on_both_stores! {
    fn audit_events_can_be_neither_changed_nor_deleted(registry) {
        registry.centre("S07");
        let before = registry.audit();
        refuses(registry, "UPDATE audit_event SET actor = 'nobody'");
        refuses(registry, "DELETE FROM audit_event");
        if registry.engine == Engine::Sqlite {
            refuses(registry, "UPDATE audit_event SET seq = seq + 1000");
        }
        match registry.engine {
            Engine::Postgres => refuses(registry, "TRUNCATE audit_event"),
            Engine::Sqlite => refuses(
                registry,
                "INSERT OR REPLACE INTO audit_event (seq, at, actor, role, deed, subject, subject_id, request_id)
                 VALUES (1, '', 'nobody', 'none', 'signed_in', 'member', '', '')",
            ),
        }
        assert_eq!(registry.audit(), before);
    }

    fn revisions_keep_everything_but_the_pointer_to_their_successor(registry) {
        let centre = registry.centre("S07");
        let code = registry.cases(centre, 1)[0];
        for column in ["code = '2222222222'", "revision = 9", "record = '{}'", "record_hash = ''", "at = ''",
            "actor = 'nobody'", "reason = 'x'", "period = ''", "air_kerma_mgy = 1e9", "kap_gycm2 = 1",
            "fluoro_time_s = 1", "form_version = '2'", "centre = 'S99'", "fluoro_used = ''",
            "strategy_intended = ''", "procedure = ''", "procedure_group = ''"] {
            refuses(registry, &format!("UPDATE case_revision SET {column}"));
            refuses(registry, &format!("UPDATE case_revision SET superseded_by_seq = 1, {column}"));
        }
        refuses(registry, "DELETE FROM case_revision");
        refuses(registry, "UPDATE case_revision SET superseded_by_seq = NULL");

        let change = Change { code, expected_revision: 1, content: content(2), reason: "typing error".parse().unwrap() };
        registry
            .store
            .write_blocking(Permit::<ChangeCase>::for_operator("test"), move |session| session.change_case(change))
            .unwrap();
        refuses(registry, "UPDATE case_revision SET superseded_by_seq = NULL");
        refuses(registry, "UPDATE case_revision SET superseded_by_seq = 1 WHERE revision = 1");
    }

    fn issued_codes_stay_issued(registry) {
        let centre = registry.centre("S07");
        registry.codes(centre, 3);
        refuses(registry, "DELETE FROM case_code");
        refuses(registry, "UPDATE case_code SET issued_at = ''");
    }
}
