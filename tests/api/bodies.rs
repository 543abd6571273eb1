//! Broken, hostile and foreign requests: each gets a problem that names the mend, none a 500.

use crate::network::{coordinator, own, submit};
use quietbeam_tests::on_both_stores;
use quietbeam_tests::sample::{with, zero_fluoroscopy_case};
use quietbeam_tests::server::{Answer, Asked, Sends, Served, SignedIn};
use serde_json::json;

/// Sends any bytes as a new case.
fn send(member: &SignedIn<'_>, bytes: &[u8]) -> Answer {
    member.send(&Asked::new("POST", "/cases").new_key().bytes("application/json", bytes.to_vec()))
}

on_both_stores! {
    fn what_is_no_json_is_told_with_line_and_column(registry) {
        let served = Served::new(registry);
        let member = coordinator(&served);
        let check = |bytes: &[u8], part: &str| {
            let problem = send(&member, bytes).problem(400, "broken_body");
            let detail = problem["detail"].as_str().unwrap();
            assert!(detail.contains(part), "{detail}");
        };
        check(b"", "line");
        check(b"{", "line 1");
        check(b"{\"period\": }", "column 12");
        check(b"\xff\xfe{}", "UTF-8");
        check(b"{\"period\": \"\xc3\x28\"}", "UTF-8");
        check(br#"{"period": "\ud800"}"#, "line 1");
        check(br#"{"period": "2025Q3", "period": "2025Q2"}"#, "twice");
        check(br#"{"follow_up": {"death": "no", "death": "yes"}}"#, "twice");
        check("[".repeat(17).as_bytes(), "deep");
        let keys: Vec<String> = (0..2_500).map(|number| format!("\"k{number}\":1")).collect();
        check(format!("{{{}}}", keys.join(",")).as_bytes(), "fields");
    }

    fn unknown_and_identifying_fields_are_refused_by_name(registry) {
        let served = Served::new(registry);
        let member = coordinator(&served);
        for (field, rule) in [
            ("site_id", "unknown_field"),
            ("centre", "unknown_field"),
            ("created_at", "unknown_field"),
            ("revision", "unknown_field"),
            ("mrn", "identifier_field"),
            ("date_of_birth", "identifier_field"),
        ] {
            let case = with(zero_fluoroscopy_case(), json!({ field: "secret-value-4711" }));
            let problem = member.post("/cases", &case).problem(422, "must_be_mended");
            let mends = Answer::mends(&problem);
            assert!(mends.contains(&(format!("/{field}"), rule.to_owned())), "{problem}");
            assert!(!problem.to_string().contains("secret-value"), "{problem}");
        }
        let nested = with(zero_fluoroscopy_case(), json!({ "follow_up": { "mrn": "4711", "fu30_status": "pending" } }));
        let problem = member.post("/cases", &nested).problem(422, "must_be_mended");
        let mends = Answer::mends(&problem);
        assert!(mends.contains(&("/follow_up/mrn".to_owned(), "identifier_field".to_owned())), "{problem}");
    }

    /// PostgreSQL takes no NUL, and no database should see SQL in a value.
    fn hostile_text_is_refused_or_kept_as_it_is(registry) {
        let served = Served::new(registry);
        let member = coordinator(&served);
        for text in ["\u{0}", "a\u{0}b", "'; DROP TABLE case_revision; --", "\" OR 1=1", "\u{202e}", "{{7*7}}", "<script>"] {
            for field in ["period", "op_code", "sex", "consent_basis"] {
                let case = with(zero_fluoroscopy_case(), json!({ field: text }));
                let problem = member.post("/cases", &case).problem(422, "must_be_mended");
                assert!(Answer::mends(&problem).iter().any(|(pointer, _)| *pointer == format!("/{field}")), "{problem}");
            }
            let reason = json!({ "case": zero_fluoroscopy_case(), "reason": format!("{text} mistyped") });
            let saved = submit(&member, &zero_fluoroscopy_case());
            let path = format!("/cases/{}", saved.json()["code"].as_str().unwrap());
            let answer = member.put(&path, "\"r1\"", &reason);
            assert!(matches!(answer.status, 200 | 422), "{text:?}: {}", answer.text());
        }
        assert!(member.get("/cases?limit=1").expect(200).json()["items"].is_array());
    }

    fn a_body_of_more_than_64_kibibytes_is_refused(registry) {
        let served = Served::new(registry);
        let member = coordinator(&served);
        let body = |length: usize| format!("{{\"period\": \"{}\"}}", "x".repeat(length - 14)).into_bytes();
        send(&member, &body(64 * 1024)).problem(422, "must_be_mended");
        send(&member, &body(64 * 1024 + 1)).problem(413, "too_large");
    }

    fn only_json_is_taken_and_given(registry) {
        let served = Served::new(registry);
        let member = coordinator(&served);
        let case = zero_fluoroscopy_case().to_string().into_bytes();
        for media_type in ["text/plain", "application/xml", "application/x-www-form-urlencoded", "application/json; charset=latin1"] {
            let asked = Asked::new("POST", "/cases/check").bytes(media_type, case.clone());
            member.send(&asked).problem(415, "unsupported_media_type");
        }
        let packed = Asked::new("POST", "/cases/check").bytes("application/json", case.clone()).header("content-encoding", "gzip");
        member.send(&packed).problem(415, "unsupported_media_type");
        for media_type in ["application/json", "application/json; charset=utf-8", "Application/JSON;charset=\"UTF-8\""] {
            member.send(&Asked::new("POST", "/cases/check").bytes(media_type, case.clone())).expect(200);
        }
        let xml = Asked::new("GET", "/cases").header("accept", "application/xml");
        member.send(&xml).problem(406, "not_acceptable");
        let anything = Asked::new("GET", "/cases").header("accept", "text/html, */*;q=0.1");
        member.send(&anything).expect(200);
    }

    fn a_body_without_a_type_is_refused(registry) {
        let served = Served::new(registry);
        let member = coordinator(&served);
        let request = format!(
            "POST /api/v1/cases/check HTTP/1.1\r\nHost: x\r\nAuthorization: Bearer {}\r\nContent-Length: 2\r\nConnection: close\r\n\r\n{{}}",
            member.token
        );
        let answer = served.raw(request.as_bytes());
        assert!(answer.starts_with("HTTP/1.1 415 "), "{answer}");
        assert!(answer.contains("application/problem+json"), "{answer}");
    }

    fn wrong_addresses_and_methods_get_problems_too(registry) {
        let served = Served::new(registry);
        let member = coordinator(&served);
        for path in ["/nothing", "/cases/x/y/z", "//nothing", "//api/v2/cases", "/cases/", "/cases/%00", "/members/../cases"] {
            member.get(path).problem(404, "not_found");
        }
        for (method, path, allowed) in [
            ("DELETE", "/cases", "POST"),
            ("PATCH", "/cases/2222222222", "PUT"),
            ("PUT", "/sessions", "POST"),
            ("POST", "/dictionary", "GET"),
        ] {
            let answer = member.send(&Asked::new(method, path));
            let allow = answer.header("allow").unwrap_or_default().to_owned();
            assert!(allow.contains(allowed), "{method} {path}: {allow}");
            answer.problem(405, "method_not_allowed");
        }
    }

    fn parameters_are_held_to_what_is_known(registry) {
        let served = Served::new(registry);
        let member = coordinator(&served);
        for query in ["sort=id%3B+DROP+TABLE+case_revision", "limit=0", "limit=201", "limit=-1", "limit=x", "limit=1&limit=2", "centre=London", "order=asc"] {
            let answer = member.get(&format!("/cases?{query}"));
            let problem = answer.problem(400, "bad_query");
            assert!(!problem.to_string().contains("DROP"), "{problem}");
        }
    }

    /// HEAD is GET without a body; each answer carries the guarding headers.
    fn every_answer_is_guarded(registry) {
        let served = Served::new(registry);
        let member = coordinator(&served);
        let centre = own_of(&member);
        let code = submit(&member, &zero_fluoroscopy_case()).json()["code"].as_str().unwrap().to_owned();
        for asked in [
            Asked::new("GET", "/me"),
            Asked::new("HEAD", "/me"),
            Asked::new("GET", &format!("/cases/{code}")),
            Asked::new("GET", &format!("/centres/{centre}")),
            Asked::new("GET", "/nothing"),
            Asked::new("GET", "/dictionary"),
        ] {
            let answer = member.send(&asked);
            let header = |name: &str| answer.header(name).unwrap_or_default().to_owned();
            assert!(header("content-security-policy").starts_with("default-src 'none'"), "{answer:?}");
            assert_eq!(header("x-content-type-options"), "nosniff");
            assert_eq!(header("referrer-policy"), "no-referrer");
            assert_eq!(header("cache-control"), "no-store");
            assert_eq!(header("x-request-id").len(), 36);
        }
        let head = member.send(&Asked::new("HEAD", "/me")).expect(200);
        assert_eq!(head.text(), "");
    }

    fn whoever_trusts_no_forwarded_header_is_not_misled(registry) {
        let served = Served::new(registry);
        own(&served);
        let asked = Asked::new("GET", "/me").header("x-forwarded-for", "127.0.0.1").header("x-original-url", "/api/v1/dictionary");
        served.stranger().send(&asked).problem(401, "signed_out");
        let tunnelled = Asked::new("POST", "/me").header("x-http-method-override", "GET");
        served.stranger().send(&tunnelled).problem(405, "method_not_allowed");
    }
}

fn own_of(member: &SignedIn<'_>) -> String {
    member.get("/me").expect(200).json()["centres"][0].as_str().unwrap().to_owned()
}
