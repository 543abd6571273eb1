//! Signing in and out with a browser.

use quietbeam_schema::access::Role;
use quietbeam_tests::on_both_stores;
use quietbeam_tests::people::PASSWORD;
use quietbeam_tests::server::{Asked, Sends, Served};
use quietbeam_tests::visitor::Visitor;

on_both_stores! {
    fn a_wrong_password_is_refused_on_the_page_and_says_how_to_mend_it(registry) {
        let served = Served::new(registry);
        served.desk.member("lead", Role::Monitor, &[]);
        let visitor = Visitor::new(&served);
        let wrong = visitor.sign_in("lead", "quiet rooms need no heavy apron", "/cases").expect(422);
        assert_eq!(wrong.header("set-cookie"), None);
        let wrong = wrong.text();
        for part in ["role=\"alert\"", "href=\"#account\"", "aria-invalid=\"true\"", "value=\"lead\"", "value=\"/cases\""] {
            assert!(wrong.contains(part), "{part} is missing in {wrong}");
        }
        assert!(!wrong.contains("heavy apron"), "the password comes back");
        // Nobody learns which names exist.
        let unknown = visitor.sign_in("nobody", PASSWORD, "/cases").expect(422).text();
        assert_eq!(unknown.replace("nobody", "lead"), wrong);
        visitor.get("/desk").expect(303);
    }

    fn signing_in_leads_back_to_the_place_and_nowhere_else(registry) {
        let served = Served::new(registry);
        served.desk.member("lead", Role::Monitor, &[]);
        for (to, expected) in [
            ("/cases?period=2026Q3", "/cases?period=2026Q3"),
            ("", "/desk"),
            ("//elsewhere.example/cases", "/desk"),
            ("https://elsewhere.example", "/desk"),
            ("/\\elsewhere.example", "/desk"),
        ] {
            let answer = Visitor::new(&served).sign_in("lead", PASSWORD, to).expect(303);
            assert_eq!(answer.header("location"), Some(expected), "{to}");
        }
    }

    fn a_sign_in_ends_by_itself_and_says_so(registry) {
        let served = Served::new(registry);
        let visitor = Visitor::member(&served, "lead", Role::Monitor, &[]);
        registry.hand.advance(29 * 60);
        visitor.get("/cases").expect(200);
        registry.hand.advance(31 * 60);
        let over = visitor.get("/cases").expect(303);
        let page = visitor.get(over.header("location").unwrap()).expect(200).text();
        assert!(page.contains("Your sign-in is over"), "{page}");
        let back = visitor.sign_in("lead", PASSWORD, "/cases").expect(303);
        assert_eq!(back.header("location"), Some("/cases"));
        visitor.get("/cases").expect(200);
    }

    fn signing_out_ends_it_on_the_server(registry) {
        let served = Served::new(registry);
        let visitor = Visitor::member(&served, "lead", Role::Monitor, &[]);
        let stolen = Visitor::new(&served);
        let copied = visitor.cookie();
        stolen.keep(&copied);
        stolen.get("/desk").expect(200);
        let out = visitor.post("/sign-out", &[]).expect(303);
        assert_eq!(out.header("location"), Some("/sign-in"));
        assert!(out.header("set-cookie").unwrap().contains("Max-Age=0"));
        stolen.get("/desk").expect(303);
    }

    /// A cookie opens pages and nothing of the API, and an access token the other way round.
    fn cookie_and_token_each_have_their_own_addresses(registry) {
        let served = Served::new(registry);
        let visitor = Visitor::member(&served, "lead", Role::Monitor, &[]);
        let cookie = visitor.cookie();
        served.stranger().send(&Asked::new("GET", "/me").header("cookie", cookie)).problem(401, "signed_out");
        let program = served.sign_in("lead");
        program.get("//desk").expect(303);
    }

    /// Whoever is disabled, or given another role, is out at the very next page.
    fn a_change_of_the_account_ends_it(registry) {
        use quietbeam::access::Permit;
        use quietbeam::access::action::ManageMembers;
        let served = Served::new(registry);
        let id = served.desk.member("lead", Role::Monitor, &[]);
        let visitor = Visitor::new(&served);
        visitor.sign_in("lead", PASSWORD, "").expect(303);
        visitor.get("/desk").expect(200);
        let permit = Permit::<ManageMembers>::for_operator("test");
        registry.store.write_blocking(permit, move |session| session.disable_member(id)).unwrap();
        visitor.get("/desk").expect(303);
    }
}
