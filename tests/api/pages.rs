//! The public pages: no script, no style but our own, nothing from elsewhere.

use quietbeam_tests::registry::{Engine, Registry};
use quietbeam_tests::server::{Sends, Served};

#[test]
fn pages_stand_alone_and_carry_the_caution() {
    let registry = Registry::new(Engine::Sqlite);
    let served = Served::new(&registry);
    for path in ["//", "//api/v1/", "//summaries"] {
        let answer = served.stranger().get(path).expect(200);
        assert!(answer.header("content-type").unwrap().starts_with("text/html"), "{path}");
        let policy = answer.header("content-security-policy").unwrap();
        assert!(policy.starts_with("default-src 'none'; style-src 'self'"), "{policy}");
        let page = answer.text();
        for foreign in ["<script", " style=", "<style", "http://", "onclick", "javascript:"] {
            assert!(!page.contains(foreign), "{path} holds {foreign}");
        }
        assert!(page.contains("lang=\"en\""), "{path}");
        assert!(page.contains("not for the care of an individual patient"), "{path}");
    }
}
