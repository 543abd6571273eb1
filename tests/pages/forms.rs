//! Forms that come from elsewhere are refused, whatever they would do.

use quietbeam_schema::access::Role;
use quietbeam_tests::on_both_stores;
use quietbeam_tests::server::{Asked, Sends, Served};
use quietbeam_tests::visitor::{Visitor, form};

use crate::access::case_with_question;
use crate::routes::FORMS;

on_both_stores! {
    fn a_form_without_the_token_of_this_sign_in_does_nothing(registry) {
        let served = Served::new(registry);
        let code = case_with_question(&served);
        let centre = "S07".parse().unwrap();
        let visitor = Visitor::member(&served, "victim", Role::Coordinator, &[centre]);
        let other = Visitor::member(&served, "other", Role::Coordinator, &[centre]).form_token();
        let before = registry.audit().len();
        for route in FORMS.iter().filter(|route| route.template != "/sign-in") {
            let address = route.of(&code);
            for fields in [&[][..], &[("form_token", "")], &[("form_token", &other)]] {
                let page = visitor.submit(&address, fields).expect(403).text();
                assert!(page.contains("This form did not come from here"), "{page}");
            }
            let token = visitor.form_token();
            let sent = form(&address, &[("form_token", &token)]);
            for (name, value) in [
                ("sec-fetch-site", "cross-site"),
                ("sec-fetch-site", "same-site"),
                ("sec-fetch-site", "none"),
                ("origin", "https://elsewhere.example"),
                ("origin", "null"),
            ] {
                visitor.send(&sent.clone().header(name, value)).expect(403);
            }
        }
        assert_eq!(registry.audit().len(), before, "something was done");
        visitor.get("/desk").expect(200);
    }

    fn nobody_is_signed_in_from_elsewhere(registry) {
        let served = Served::new(registry);
        served.desk.member("lead", Role::Monitor, &[]);
        let fields = [("account", "lead"), ("password", quietbeam_tests::people::PASSWORD)];
        let sent = form("/sign-in", &fields).header("sec-fetch-site", "cross-site");
        let answer = Visitor::new(&served).send(&sent).expect(403);
        assert_eq!(answer.header("set-cookie"), None);
    }

    fn what_is_no_form_is_refused_too(registry) {
        let served = Served::new(registry);
        let code = case_with_question(&served);
        let visitor = Visitor::member(&served, "lead", Role::Coordinator, &["S07".parse().unwrap()]);
        let token = visitor.form_token();
        let address = format!("/cases/{code}");
        let plain = Asked::new("POST", address.clone()).bytes("text/plain", "answer=yes");
        visitor.send(&plain).expect(403);
        visitor.send(&plain.clone().header("x-form-token", token.clone())).expect(400);
        visitor.submit(&address, &[("form_token", &token), ("answer", "yes"), ("role", "administrator")]).expect(422);
        let large = "x".repeat(70 * 1024);
        visitor.submit(&address, &[("form_token", &token), ("answer", &large)]).expect(413);
    }
}
