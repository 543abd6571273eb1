//! Bodies, media types, methods and addresses that cannot be taken: each answer is a whole
//! problem, and none repeats what was sent.

use crate::network::{central, coordinator, only_mend};
use quietbeam_schema::access::Role;
use quietbeam_tests::server::{Answer, Asked, Sends, Served, SignedIn};
use quietbeam_tests::{on_both_stores, sample};
use serde_json::{Value, json};

const TYPE: &str = "application/json";

fn check(member: &SignedIn<'_>, bytes: impl Into<Vec<u8>>) -> Answer {
    member.send(&Asked::new("POST", "/cases/check").bytes(TYPE, bytes))
}

fn replaced(object: &Value, field: &str, value: &Value) -> Value {
    let mut object = object.clone();
    object[field] = value.clone();
    object
}

on_both_stores! {
    fn what_is_no_json_is_refused_with_its_place(registry) {
        let served = Served::new(registry);
        let member = coordinator(&served);
        for broken in [
            &b""[..],
            b"{",
            b"{\"sex\": }",
            b"{\"sex\": \"f\",}",
            b"{'sex': 'f'}",
            b"{\"bmi\": NaN}",
            b"{\"bmi\": 1} {}",
            b"\xef\xbb\xbf{}",
            b"{\"sex\": \"\xff\xfe\"}",
            b"{\"sex\": \"\\ud800\"}",
            b"{\"sex\": \"a\x00b\"}",
            b"{\"sex\": \"f\", \"sex\": \"m\"}",
            b"{\"follow_up\": {\"death\": \"no\", \"death\": \"yes\"}}",
        ] {
            let problem = check(&member, broken).problem(400, "broken_body");
            assert!(problem["detail"].as_str().unwrap().len() > 20, "{problem}");
        }
        let twice = check(&member, "{\"sex\": \"f\",\n \"sex\": \"m\"}").problem(400, "broken_body");
        assert!(twice["detail"].as_str().unwrap().contains("line 2"), "{twice}");
    }

    fn nesting_fields_and_size_have_limits(registry) {
        let served = Served::new(registry);
        let member = coordinator(&served);
        let nested = |depth: usize| format!("{}{}", "[".repeat(depth), "]".repeat(depth));
        check(&member, nested(16)).expect(200);
        check(&member, nested(17)).problem(400, "broken_body");
        check(&member, format!("{{\"a\":{}}}", nested(60))).problem(400, "broken_body");
        let fields: Vec<String> = (0..10_000).map(|n| format!("\"{n}\":1")).collect();
        check(&member, format!("{{{}}}", fields.join(","))).expect(413);
        let fields: Vec<String> = (0..2_001).map(|n| format!("\"{n}\":1")).collect();
        check(&member, format!("{{{}}}", fields.join(","))).problem(400, "broken_body");
        let padded = |length: usize| {
            let text = sample::zero_fluoroscopy_case().to_string();
            text.clone() + &" ".repeat(length - text.len())
        };
        assert_eq!(check(&member, padded(64 * 1024)).expect(200).json()["acceptable"], true);
        check(&member, padded(64 * 1024 + 1)).problem(413, "too_large");
        check(&member, padded(65 * 1024)).problem(413, "too_large");
        let long = format!("{{\"sex\": \"{}\"}}", "f".repeat(60_000));
        let answer = check(&member, long).expect(200);
        assert!(!answer.text().contains("ffff"), "{}", answer.text());
    }

    fn only_json_is_taken(registry) {
        let served = Served::new(registry);
        let member = coordinator(&served);
        let case = sample::zero_fluoroscopy_case().to_string();
        for kind in [
            "text/plain", "text/json", "application/xml", "application/x-www-form-urlencoded", "multipart/form-data; boundary=x",
            "application/json; charset=latin1", "application/jsonx", "*/*", "",
        ] {
            let asked = Asked::new("POST", "/cases/check").bytes(kind, case.as_bytes());
            member.send(&asked).problem(415, "unsupported_media_type");
        }
        for kind in ["application/json", "Application/JSON", "application/json; charset=utf-8", "application/json;charset=\"UTF-8\""] {
            member.send(&Asked::new("POST", "/cases/check").bytes(kind, case.as_bytes())).expect(200);
        }
        let packed = Asked::new("POST", "/cases/check").bytes(TYPE, case.as_bytes()).header("content-encoding", "gzip");
        member.send(&packed).problem(415, "unsupported_media_type");
        let head = format!("POST /api/v1/cases/check HTTP/1.1\r\nHost: x\r\nConnection: close\r\nAuthorization: Bearer {}\r\n", member.token);
        let untyped = served.raw(format!("{head}Content-Length: {}\r\n\r\n{case}", case.len()).as_bytes());
        assert!(untyped.starts_with("HTTP/1.1 415") && untyped.contains("unsupported_media_type"), "{untyped}");
    }

    fn the_answer_is_json_or_not_acceptable(registry) {
        let served = Served::new(registry);
        let member = coordinator(&served);
        for accept in ["application/xml", "text/html", "application/json;q=0", "image/*"] {
            member.send(&Asked::new("GET", "/me").header("accept", accept)).problem(406, "not_acceptable");
        }
        for accept in ["*/*", "application/*", "text/html, application/json;q=0.5", "application/problem+json"] {
            let answer = member.send(&Asked::new("GET", "/me").header("accept", accept)).expect(200);
            assert_eq!(answer.header("content-type"), Some("application/json"));
        }
    }

    fn a_wrong_method_is_told_the_right_ones(registry) {
        let served = Served::new(registry);
        let member = coordinator(&served);
        let code = "23456789AB";
        for (method, path, allowed) in [
            ("DELETE", "/cases".to_owned(), vec!["GET", "POST"]),
            ("PATCH", format!("/cases/{code}"), vec!["GET", "PUT"]),
            ("DELETE", format!("/cases/{code}"), vec!["GET", "PUT"]),
            ("PUT", "/dictionary".to_owned(), vec!["GET"]),
            ("GET", "/sessions".to_owned(), vec!["POST"]),
            ("DELETE", "/audit".to_owned(), vec!["GET"]),
            ("PUT", "/me".to_owned(), vec!["GET"]),
            ("GET", "/sessions/refresh".to_owned(), vec!["POST"]),
        ] {
            let answer = member.send(&Asked::new(method, path.clone()).json(&json!({}))).expect(405);
            let mut told: Vec<&str> = answer.header("allow").unwrap().split(", ").collect();
            told.sort_unstable();
            assert_eq!(told, allowed, "{method} {path}");
            answer.problem(405, "method_not_allowed");
        }
    }

    fn an_unknown_address_is_a_problem_too(registry) {
        let served = Served::new(registry);
        let member = coordinator(&served);
        for path in [
            "/nothing", "/cases/", "/cases/123", "/cases/1234567890", "/cases/23456789AB/nothing", "/centres/S7",
            "/queries/%00", "/cases/%ff", "/Cases",
            "//api/v2/cases", "//api", "//index.php", "//summaries/abc", "//summaries/1", "//.git/config", "/summaries/x", "/summaries/1",
        ] {
            member.get(path).problem(404, "not_found");
        }
        let administrator = central(&served, Role::Administrator);
        let investigator = central(&served, Role::Investigator);
        administrator.get("/members/1").problem(404, "not_found");
        investigator.get("/data-cuts/..%2f..%2fetc").problem(404, "not_found");
        investigator.get("/comparisons/latest").problem(404, "not_found");
        let deep = format!("/cases/{}", "A".repeat(4_000));
        member.get(&deep).problem(404, "not_found");
    }

    /// Other sites' scripts get nothing: no preflight is answered.
    fn no_other_site_is_let_in(registry) {
        let served = Served::new(registry);
        let member = coordinator(&served);
        let preflight = Asked::new("OPTIONS", "/cases")
            .header("origin", "https://elsewhere.test")
            .header("access-control-request-method", "POST");
        served.stranger().send(&preflight).problem(405, "method_not_allowed");
        // The harness holds every answer to having no Access-Control-Allow-Origin.
        member.send(&Asked::new("GET", "/me").header("origin", "https://elsewhere.test")).expect(200);
    }

    fn a_packed_answer_is_guarded_too(registry) {
        let served = Served::new(registry);
        let head = "GET /api/v1/dictionary HTTP/1.1\r\nHost: x\r\nConnection: close\r\nAccept-Encoding: gzip\r\n\r\n";
        let answer = served.raw(head.as_bytes()).to_ascii_lowercase();
        assert!(answer.contains("content-encoding: gzip"), "{}", &answer[..500]);
        assert!(answer.contains("x-content-type-options: nosniff"), "{}", &answer[..500]);
    }

    /// What is not even HTTP is shut out without a word about the inside.
    fn what_is_no_http_is_shut_out(registry) {
        let served = Served::new(registry);
        for garbage in [
            "GARBAGE\r\n\r\n".to_owned(),
            "GET /api/v1/me HTTP/1.1\r\nHost: x\r\nContent-Length: x\r\nConnection: close\r\n\r\n".to_owned(),
            "POST /api/v1/sessions HTTP/1.1\r\nHost: x\r\nContent-Length: 5\r\nTransfer-Encoding: chunked\r\nConnection: close\r\n\r\n0\r\n\r\n".to_owned(),
            format!("GET /api/v1/me HTTP/1.1\r\nHost: x\r\nX-Long: {}\r\nConnection: close\r\n\r\n", "x".repeat(300_000)),
        ] {
            let answer = served.raw(garbage.as_bytes());
            assert!(answer.is_empty() || answer.starts_with("HTTP/1.1 4"), "{answer}");
        }
        served.stranger().get("//livez").expect(200);
    }

    fn a_head_request_answers_like_get_without_a_body(registry) {
        let served = Served::new(registry);
        let member = coordinator(&served);
        for (path, status) in [("/me", 200), ("/dictionary", 200), ("/nothing", 404)] {
            let answer = member.send(&Asked::new("HEAD", path));
            assert_eq!(answer.text(), "", "{path}");
            answer.expect(status);
        }
    }

    fn nothing_that_was_sent_is_repeated(registry) {
        let served = Served::new(registry);
        let member = coordinator(&served);
        let administrator = central(&served, Role::Administrator);
        let canary = "Quetzal4711";
        let answers = [
            member.post("/cases", &json!({ "sex": canary, canary: 1 })).expect(422),
            member.post("/cases", &json!([canary])).expect(422),
            check(&member, format!("{{\"{canary}\": {canary}}}")).expect(400),
            member.get(&format!("/cases/{canary}")).expect(404),
            member.get(&format!("/cases?period={canary}&limit=0")).expect(400),
            member.get(&format!("/cases?cursor={canary}")).expect(400),
            served.stranger().post("/sessions", &json!({ "sign_in_name": canary, "password": canary })).expect(401),
            administrator.post("/members", &json!({ "sign_in_name": "x y", "printed_name": "X", "role": canary, "password": canary })).expect(422),
            administrator.post("/members", &json!({ "sign_in_name": "someone", "printed_name": "X", "role": "monitor", "password": canary })).expect(422),
            administrator.post("/centres", &json!({ "code": canary, "name": "X", "kind": "academic", "annual_volume": "200_499" })).expect(422),
            administrator.post("/centres", &json!({ "code": "S11", "name": "X", "kind": canary, "annual_volume": "200_499" })).expect(422),
        ];
        for answer in &answers[1..] {
            assert!(!answer.text().contains(canary), "{}", answer.text());
        }
        // Of a case, only the key of a field that is not known is named, never a value.
        let first = answers[0].json();
        for error in first["errors"].as_array().unwrap() {
            if error["pointer"] != format!("/{canary}") {
                assert!(!error.to_string().contains(canary), "{error}");
            }
        }
    }

    /// Each field that takes a value of one kind refuses the others, and says what it takes.
    fn a_value_of_another_kind_names_its_field(registry) {
        let served = Served::new(registry);
        let administrator = central(&served, Role::Administrator);
        let centre = json!({ "code": "S11", "name": "House", "kind": "academic", "annual_volume": "200_499" });
        for (field, value) in [
            ("code", json!(11)), ("code", json!("S1")), ("name", json!(["House"])), ("name", json!("")), ("name", json!(null)),
            ("region", json!(5)), ("kind", json!("castle")), ("annual_volume", json!(300)), ("colour", json!("blue")),
        ] {
            let problem = administrator.post("/centres", &replaced(&centre, field, &value));
            assert_eq!(only_mend(&problem.problem(422, "must_be_mended")).0, format!("/{field}"), "{value}");
        }
        let mut missing = centre;
        missing.as_object_mut().unwrap().remove("kind");
        let problem = administrator.post("/centres", &missing).problem(422, "must_be_mended");
        assert_eq!(only_mend(&problem), ("/kind".to_owned(), "required".to_owned()));
    }
}
