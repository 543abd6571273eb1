//! Entering a case: as a form without script, on both stores.

use quietbeam_schema::access::{Role, Scope};
use quietbeam_schema::audit::Deed;
use quietbeam_tests::on_both_stores;
use quietbeam_tests::sample;
use quietbeam_tests::server::{Sends, Served};
use quietbeam_tests::visitor::{Visitor, form};
use serde_json::Value;

use crate::access::visitor_of;
use crate::assets::without_own_scripts;

/// A case as the form sends it.
pub(crate) fn fields_of(case: &Value) -> Vec<(String, String)> {
    let mut fields = Vec::new();
    put(&mut fields, "", case);
    fields
}

fn put(fields: &mut Vec<(String, String)>, before: &str, value: &Value) {
    for (key, value) in value.as_object().unwrap() {
        let name = format!("{before}{key}");
        match value {
            Value::Object(_) => put(fields, &format!("{name}-"), value),
            Value::Array(items) if key == "complications" => {
                fields.push(("complications-count".to_owned(), items.len().to_string()));
                for (at, item) in items.iter().enumerate() {
                    put(fields, &format!("complications-{at}-"), item);
                }
            }
            Value::Array(items) => {
                fields.extend(items.iter().map(|item| (name.clone(), item.as_str().unwrap().to_owned())));
            }
            Value::String(text) => fields.push((name, text.clone())),
            number => fields.push((name, number.to_string())),
        }
    }
}

/// A draft of the visitor's centre: its address.
pub(crate) fn begun(visitor: &Visitor<'_>, strategy: &str) -> String {
    let answer = visitor.post("/cases/new", &[("strategy_intended", strategy)]).expect(303);
    let location = answer.header("location").unwrap();
    location.split('#').next().unwrap().to_owned()
}

pub(crate) fn send(
    visitor: &Visitor<'_>,
    draft: &str,
    version: u32,
    ask: &str,
    case: &Value,
) -> quietbeam_tests::server::Answer {
    let mut fields = fields_of(case);
    fields.push(("version".to_owned(), version.to_string()));
    fields.push(("do".to_owned(), ask.to_owned()));
    let fields: Vec<(&str, &str)> =
        fields.iter().map(|(name, value)| (name.as_str(), value.as_str())).collect();
    visitor.post(draft, &fields)
}

on_both_stores! {
    fn a_case_is_begun_saved_opened_again_and_sent_in(registry) {
        let served = Served::new(registry);
        let centre = served.registry.centre("S07");
        let visitor = visitor_of(&served, Role::Coordinator, centre);
        for case in [sample::zero_fluoroscopy_case(), sample::conventional_case(), sample::case_with_tamponade()] {
            let draft = begun(&visitor, case["strategy_intended"].as_str().unwrap());
            assert!(visitor.get("/desk").expect(200).text().contains(&format!("href=\"{draft}#")));
            assert_eq!(send(&visitor, &draft, 1, "save", &case).expect(303).header("location"), Some(draft.as_str()));
            let page = visitor.get(&draft).expect(200).text();
            assert!(page.contains("name=\"bmi\" value=\"27.4\""), "{page}");
            let sent = send(&visitor, &draft, 2, "submit", &case).expect(303);
            let code = sent.header("location").unwrap().rsplit('/').next().unwrap().to_owned();
            let kept = served.sign_in("coordinator.S07").get(&format!("/cases/{code}")).expect(200).json();
            let direct = served.sign_in("coordinator.S07").post("/cases", &case).expect(201).json();
            let direct = served.sign_in("coordinator.S07").get(&format!("/cases/{}", direct["code"].as_str().unwrap()));
            assert_eq!(kept["record"], direct.expect(200).json()["record"]);
            visitor.get(&draft).expect(404);
        }
        assert!(!visitor.get("/desk").expect(200).text().contains("/drafts/"));
        let deeds: Vec<Deed> = registry.audit().into_iter().map(|row| row.event.deed).collect();
        for deed in [Deed::DraftBegun, Deed::DraftSubmitted] {
            assert_eq!(deeds.iter().filter(|known| **known == deed).count(), 3, "{deed:?}");
        }
    }

    fn what_must_be_mended_is_listed_with_the_way_to_its_field(registry) {
        let served = Served::new(registry);
        let visitor = visitor_of(&served, Role::CentreLead, served.registry.centre("S07"));
        let draft = begun(&visitor, "zero");
        let blank = serde_json::json!({ "strategy_intended": "zero" });
        let page = send(&visitor, &draft, 1, "submit", &blank).expect(422).text();
        assert!(page.contains("must be mended before this case can be submitted"));
        for field in ["period", "proc_primary", "fluoro_used"] {
            assert!(page.contains(&format!("href=\"#{field}\"")) && page.contains(&format!("id=\"{field}\"")), "{field}");
        }
        // A query does not stop the case.
        let unusual = sample::with(sample::zero_fluoroscopy_case(), serde_json::json!({ "bmi": 60 }));
        send(&visitor, &draft, 2, "submit", &unusual).expect(303);
    }

    fn a_name_in_a_box_is_shown_back_and_never_kept(registry) {
        let served = Served::new(registry);
        let visitor = visitor_of(&served, Role::Coordinator, served.registry.centre("S07"));
        let draft = begun(&visitor, "zero");
        let hostile = sample::with(sample::zero_fluoroscopy_case(), serde_json::json!({
            "bmi": "\"><script>alert(1)</script>", "period": "1950-04-12", "comment": "seen with Dr Grimaldi",
        }));
        let page = send(&visitor, &draft, 1, "save", &hostile).expect(422).text();
        let (page, _) = without_own_scripts(&page);
        assert!(page.contains("&lt;script&gt;") && !page.contains("<script"), "{page}");
        let kept = registry.raw().texts("SELECT entries FROM case_draft").join("");
        for planted in ["script", "1950", "Grimaldi"] {
            assert!(!kept.contains(planted), "{planted} in {kept}");
        }
        assert!(kept.contains("af_parox_first"));
    }

    fn two_editors_see_both_values_and_nothing_is_overwritten(registry) {
        let served = Served::new(registry);
        let centre = served.registry.centre("S07");
        let (one, other) = (visitor_of(&served, Role::Coordinator, centre), visitor_of(&served, Role::CentreLead, centre));
        let draft = begun(&one, "zero");
        let case = |bmi: f64| sample::with(sample::zero_fluoroscopy_case(), serde_json::json!({ "bmi": bmi }));
        send(&one, &draft, 1, "save", &case(27.4)).expect(303);
        let page = send(&other, &draft, 1, "save", &case(31.5)).expect(422).text();
        assert!(page.contains("name=\"merge-bmi\"") && !page.contains("name=\"merge-lvef\""), "{page}");
        assert!(one.get(&draft).expect(200).text().contains("value=\"27.4\""));
        let mut chosen = case(31.5);
        chosen["merge-bmi"] = Value::from("there");
        send(&other, &draft, 2, "save", &chosen).expect(303);
        assert!(one.get(&draft).expect(200).text().contains("value=\"27.4\""));
        chosen["merge-bmi"] = Value::from("here");
        send(&other, &draft, 3, "save", &chosen).expect(303);
        assert!(one.get(&draft).expect(200).text().contains("value=\"31.5\""));
    }

    /// What the page's script sends: an answer may be lost on its way and the same is sent again.
    fn the_same_save_again_is_no_conflict_and_another_one_is(registry) {
        let served = Served::new(registry);
        let visitor = visitor_of(&served, Role::Coordinator, served.registry.centre("S07"));
        let draft = begun(&visitor, "zero");
        let token = visitor.form_token();
        let save = |cookie: &str, version: &str, quarter: &str| {
            let fields = [("form_token", token.as_str()), ("version", version), ("period", quarter), ("strategy_intended", "zero")];
            let asked = form(&format!("/{draft}"), &fields).header("accept", "application/json");
            served.stranger().send(&asked.header("cookie", cookie).header("sec-fetch-site", "same-origin"))
        };
        let cookie = visitor.cookie();
        for _ in 0..2 {
            let saved = save(&cookie, "1", "2026Q3").expect(200).json();
            assert_eq!(saved["version"], 2);
            assert!(saved["page"].as_str().unwrap().contains("value=\"2026Q3\""), "{saved}");
        }
        save(&cookie, "1", "2026Q2").problem(412, "stale");
        assert!(visitor.get(&draft).expect(200).text().contains("value=\"2026Q3\""));
        save("quietbeam=none", "2", "2026Q2").problem(401, "signed_out");
    }

    fn complications_are_added_and_removed_without_script(registry) {
        let served = Served::new(registry);
        let visitor = visitor_of(&served, Role::Coordinator, served.registry.centre("S07"));
        let draft = begun(&visitor, "zero");
        let case = sample::case_with_tamponade();
        let added = send(&visitor, &draft, 1, "add", &case).expect(303);
        assert_eq!(added.header("location"), Some(format!("{draft}#complications-1-ae_code").as_str()));
        assert!(visitor.get(&draft).expect(200).text().contains("id=\"complications-1-ae_code\""));
        send(&visitor, &draft, 2, "remove-0", &case).expect(303);
        assert!(!visitor.get(&draft).expect(200).text().contains("complications-0-ae_code"));
        send(&visitor, &draft, 3, "discard", &case).expect(303);
        visitor.get(&draft).expect(404);
        assert!(registry.audit().iter().any(|row| row.event.deed == Deed::DraftDiscarded));
    }

    fn a_draft_is_its_centres_and_of_who_may_submit(registry) {
        let served = Served::new(registry);
        let visitor = visitor_of(&served, Role::Coordinator, served.registry.centre("S07"));
        let draft = begun(&visitor, "zero");
        let elsewhere = served.registry.centre("S08");
        let nobody = Visitor::new(&served);
        assert!(nobody.get(&draft).expect(303).header("location").unwrap().starts_with("/sign-in?to="));
        for role in Role::ALL {
            let stranger = visitor_of(&served, role, elsewhere);
            let expected = if role.scope(quietbeam_schema::access::Action::SubmitCase) == Scope::No { 403 } else { 404 };
            stranger.get(&draft).expect(expected);
            for ask in ["save", "submit", "discard"] {
                send(&stranger, &draft, 1, ask, &sample::zero_fluoroscopy_case()).expect(expected);
            }
            assert!(!stranger.get("/desk").expect(200).text().contains(&draft), "{role}");
        }
        visitor.submit(&draft, &[("do", "discard")]).expect(403);
        visitor.get(&draft).expect(200);
    }
}
